package compare

import (
	"cmp"
	"math"
	"slices"

	"trefoil/lint/assess"
	"trefoil/lint/cost"
	"trefoil/lint/engine"
	"trefoil/ratings/quantity"
)

// figure is a figure of a run, or of the whole design, and where it is read.
type figure struct {
	Figure
	of    func(*assess.Review, *assess.Run) quantity.Maybe
	whole func(*reading) quantity.Maybe
}

// reading is a version with what it costs.
type reading struct {
	v    *assess.Review
	bill *cost.Bill
}

// money is the unit of prices; its symbol is the currency of the design.
var (
	kilogram = quantity.Unit{Symbol: "kg", Decimals: 0}
	money    = quantity.Unit{Symbol: "money", Decimals: 0}
)

// figures are those that effects are told of, in the order in which they are told.
var figures = []figure{
	{Figure{"circuits", "circuits in the group", quantity.Unit{}}, circuits, nil},
	{Figure{"capacity_a", "capacity", quantity.Ampere}, func(_ *assess.Review, a *assess.Run) quantity.Maybe { return a.CapacityA }, nil},
	{Figure{"design_current_a", "design current", quantity.Ampere}, func(_ *assess.Review, a *assess.Run) quantity.Maybe { return a.Segment.DesignCurrentA() }, nil},
	{Figure{"utilisation_percent", "utilisation", quantity.Percent}, func(_ *assess.Review, a *assess.Run) quantity.Maybe { return a.UtilisationPct() }, nil},
	{Figure{"conductor_c", "conductor temperature", quantity.Celsius}, func(_ *assess.Review, a *assess.Run) quantity.Maybe { return a.ConductorC() }, nil},
	{Figure{"path_rise_percent", "rise of the path", quantity.Percent}, func(v *assess.Review, a *assess.Run) quantity.Maybe { return v.Rises.Of(a.Index).PathPercent }, nil},
	{Figure{"path_drop_percent", "drop of the path", quantity.Percent}, drop, nil},
	{Figure{"fault_max_ka", "greatest fault", quantity.KiloAmp}, fault(func(f *assess.Fault) quantity.Maybe { return f.Near.MaxA }, 1e-3), nil},
	{Figure{"fault_min_ka", "least fault", quantity.KiloAmp}, fault(func(f *assess.Fault) quantity.Maybe { return f.Far.MinA }, 1e-3), nil},
	{Figure{"loop_ohm", "earth-fault loop", quantity.Ohm}, fault(func(f *assess.Fault) quantity.Maybe { return f.Far.LoopOhm }, 1), nil},
	{Figure{"loss_w", "loss", quantity.Watt}, func(_ *assess.Review, a *assess.Run) quantity.Maybe { return a.LossW() }, nil},
	{Figure{"copper_kg", "copper", kilogram}, nil, func(r *reading) quantity.Maybe { return r.bill.CopperKg.Maybe() }},
	{Figure{"aluminium_kg", "aluminium", kilogram}, nil, func(r *reading) quantity.Maybe { return r.bill.AluminiumKg.Maybe() }},
	{Figure{"first_cost", "material and labour", money}, nil, func(r *reading) quantity.Maybe { return r.priced(r.bill.First()) }},
	{Figure{"total_cost", "with losses over the years", money}, nil, func(r *reading) quantity.Maybe { return r.priced(r.bill.Total()) }},
}

// priced is a sum of money, where the design names prices.
func (r *reading) priced(s cost.Sum) quantity.Maybe {
	if r.bill.Book.Currency == "" {
		return quantity.Maybe{}
	}
	return s.Maybe()
}

// circuits are those of the group in the worst section.
func circuits(_ *assess.Review, a *assess.Run) quantity.Maybe {
	if a.Governing < 0 {
		return quantity.Maybe{}
	}
	return quantity.Of(float64(a.Sections[a.Governing].Group.Circuits))
}

// drop is that of the path to a run that something takes current through.
func drop(v *assess.Review, a *assess.Run) quantity.Maybe {
	if a.Segment.Takers == 0 {
		return quantity.Maybe{}
	}
	return v.Drops.Of(a.Index).PathPercent
}

// fault reads a figure of a run's faults, in the unit of its key.
func fault(of func(*assess.Fault) quantity.Maybe, unit float64) func(*assess.Review, *assess.Run) quantity.Maybe {
	return func(v *assess.Review, a *assess.Run) quantity.Maybe {
		f, ok := v.Fault(a)
		if !ok {
			return quantity.Maybe{}
		}
		m := of(&f)
		m.Value *= unit
		return m
	}
}

// measured holds the figures of all runs by their subjects, and those of the whole design
// under its site.
type measured struct {
	order    []string
	by       map[string][]quantity.Maybe // in the order of figures
	currency string
	whole    *reading // nil where there is no version
}

// measure reads the figures of a version, under the names that its runs have in the later
// one.
func measure(r *engine.Result, renamed func(string) string) measured {
	m := measured{by: map[string][]quantity.Maybe{}}
	if r == nil {
		return m
	}
	v := r.Review
	for i := range v.Runs {
		a := &v.Runs[i]
		subject := a.Run.Subject()
		if renamed != nil {
			subject = renamed(subject)
		}
		list := make([]quantity.Maybe, len(figures))
		for k := range figures {
			if figures[k].of != nil {
				list[k] = figures[k].of(v, a)
			}
		}
		m.by[subject] = list
		m.order = append(m.order, subject)
	}
	list := make([]quantity.Maybe, len(figures))
	m.whole = &reading{v, cost.Of(v)}
	for k := range figures {
		if figures[k].whole != nil {
			list[k] = figures[k].whole(m.whole)
		}
	}
	m.currency = m.whole.bill.Book.Currency
	m.by[wholeDesign] = list
	m.order = append(m.order, wholeDesign)
	return m
}

// wholeDesign is the subject of what is counted of the design as a whole.
const wholeDesign = "design"

// other says that two figures differ by more than binary fractions do, or that one of them
// is not known.
func other(a, b quantity.Maybe) bool {
	if !a.Known || !b.Known {
		return a.Known != b.Known
	}
	return math.Abs(a.Value-b.Value) > 1e-9*max(math.Abs(a.Value), math.Abs(b.Value))
}

// move is a figure that moved, by its index.
type move struct {
	figure int
	Move
	cause Cause
}

// moved lists what differs of the runs that both versions have.
func moved(before, after measured) []move {
	var list []move
	for _, subject := range after.order {
		was, is := before.by[subject]
		if !is {
			continue
		}
		for k, now := range after.by[subject] {
			if figures[k].Unit == money && before.currency != after.currency {
				continue // no two sums of money
			}
			if other(was[k], now) {
				list = append(list, move{figure: k, Move: Move{subject, was[k], now}})
			}
		}
	}
	return list
}

// direction is 1 where a figure grew, -1 where it shrank, 2 and -2 where it came to be known
// or ceased to be.
func (m *Move) direction() int {
	switch {
	case !m.Was.Known:
		return 2
	case !m.Now.Known:
		return -2
	case m.Now.Value > m.Was.Value:
		return 1
	}
	return -1
}

// effects puts moves of one figure, direction and cause together.
func effects(moves []move, currency string) []Effect {
	type key struct {
		figure, direction int
		cause             string
	}
	index := map[key]int{}
	var list []Effect
	for i := range moves {
		m := &moves[i]
		k := key{m.figure, m.direction(), m.cause.key()}
		at, is := index[k]
		if !is {
			at = len(list)
			index[k] = at
			f := figures[m.figure].Figure
			if f.Unit == money {
				f.Unit.Symbol = currency
			}
			list = append(list, Effect{Figure: &f, Cause: m.cause})
		}
		list[at].Moves = append(list[at].Moves, m.Move)
	}
	for i := range list {
		slices.SortStableFunc(list[i].Moves, func(a, b Move) int {
			x, _ := a.Share()
			y, _ := b.Share()
			return cmp.Compare(math.Abs(y), math.Abs(x))
		})
	}
	slices.SortStableFunc(list, func(a, b Effect) int {
		return cmp.Or(slices.Compare(a.Cause.Edits, b.Cause.Edits), cmp.Compare(rank(a.Figure), rank(b.Figure)))
	})
	return list
}

// rank is the place of a figure in the order of figures.
func rank(f *Figure) int {
	return slices.IndexFunc(figures, func(x figure) bool { return x.Key == f.Key })
}

// totals are the sums and margins of both versions.
func totals(was, now measured) []Total {
	list := []Total{
		{Key: "length_m", Label: "length of cable", Unit: quantity.Metre},
		{Key: "loss_w", Label: "loss at design current", Unit: quantity.Watt},
		{Key: "utilisation_percent", Label: "greatest utilisation", Unit: quantity.Percent},
		{Key: "path_rise_percent", Label: "greatest rise", Unit: quantity.Percent},
	}
	sums := len(list)
	for i := range figures {
		if figures[i].whole != nil {
			list = append(list, Total{Key: figures[i].Key, Label: figures[i].Label, Unit: figures[i].Unit})
		}
	}
	fill := func(m measured, into func(*Total) *quantity.Maybe, whose bool) (currency string) {
		if m.whole == nil {
			return ""
		}
		v := m.whole.v
		length, loss := quantity.Maybe{Known: true}, quantity.Maybe{Known: true}
		var use, rise quantity.Maybe
		for i := range v.Runs {
			a := &v.Runs[i]
			length = add(length, a.LengthM, float64(a.Legs))
			loss = add(loss, a.LossW(), 1)
			if greater(&use, a.UtilisationPct()) && whose {
				list[2].Whose = a.Run.Subject()
			}
			if greater(&rise, v.Verdict().Of(i).PathPercent) && whose {
				list[3].Whose = a.Run.Subject()
			}
		}
		for i, m := range []quantity.Maybe{length, loss, use, rise} {
			*into(&list[i]) = m
		}
		at := sums
		for i := range figures {
			if figures[i].whole != nil {
				*into(&list[at]) = m.by[wholeDesign][i]
				at++
			}
		}
		return m.currency
	}
	before := fill(was, func(t *Total) *quantity.Maybe { return &t.Was }, false)
	after := fill(now, func(t *Total) *quantity.Maybe { return &t.Now }, true)
	for i := range list {
		if t := &list[i]; t.Unit == money {
			if t.Unit.Symbol = after; before != after {
				t.Was = quantity.Maybe{}
			}
		}
	}
	return slices.DeleteFunc(list, func(t Total) bool { // there is nothing of it, or no price
		nothing := t.Was.Known && t.Now.Known && t.Was.Value == 0 && t.Now.Value == 0
		return nothing || t.Unit.Symbol == "" && !t.Was.Known && !t.Now.Known
	})
}

// add adds times x; what is not known leaves the sum unknown.
func add(sum, x quantity.Maybe, times float64) quantity.Maybe {
	return quantity.Maybe{Value: sum.Value + times*x.Value, Known: sum.Known && x.Known}
}

// greater takes x where it is known and above what there is.
func greater(most *quantity.Maybe, x quantity.Maybe) bool {
	if !x.Known || most.Known && x.Value <= most.Value {
		return false
	}
	*most = x
	return true
}
