// Package choices finds which cables and layings a run could have, and which of them is
// the best buy: every combination that is asked for is tried in the whole design, its
// neighbours included, and what the rules say of it is kept.
//
// It stands behind engine: Review + rules + costs -> choices, ranked.
package choices

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"time"

	"trefoil/lint/assess"
	"trefoil/lint/design"
	"trefoil/lint/engine"
	"trefoil/lint/finding"
	"trefoil/ratings/quantity"
)

// Cost is what a choice takes and costs; unknown where a price or a figure is missing.
type Cost struct {
	MetalKg                         quantity.Maybe // of the conductors
	Material, Labour, Losses, Total quantity.Maybe // Losses are those of the whole life, discounted
	LossKWh                         quantity.Maybe // a year
	Lacks                           []string       // what has no price
}

// Pricer works out the cost of a run as it is assessed.
type Pricer func(*assess.Review, *assess.Run) Cost

// RoutePricer works out what a route costs as it is laid, apart from the cables.
type RoutePricer func(*assess.Review, *assess.Shared) quantity.Maybe

// Refusal is an error that stands against a choice.
type Refusal struct {
	Rule, Subject, Message string
	Over                   quantity.Maybe // the figure over its limit, 1.04 for 4 % too much
}

// Choice is one way of making a run.
type Choice struct {
	Rank     int // from 1 among those that pass, 0 otherwise
	Kind     Kind
	Size     quantity.Size
	Legs     int
	Laid     string         // of its routes in air; "" as they are drawn
	EarthMM2 quantity.Maybe // where the run states one
	Drawn    bool           // it is what the design says now

	CapacityA, LoadA, UtilisationPct, RisePct quantity.Maybe
	RiseAt                                    string // the source on the worst path through the run
	Cost                                      Cost

	Refused []Refusal
	Warned  []string // rules that warn of it and not of what is drawn

	to design.Run
}

// Passes says that no error stands against the choice.
func (c *Choice) Passes() bool { return len(c.Refused) == 0 }

// Change is the choice as a change of a run.
func (c *Choice) Change(run int) assess.Change {
	return assess.Change{Run: run, To: c.to, Cable: c.Kind.Cable}
}

// Result is what may be chosen for one run.
type Result struct {
	Run      *assess.Run
	By       string   // how they are ranked: cost, loss or size
	Asked    string   // how that was asked for
	Choices  []Choice // those that pass in order of rank, then the others
	Passing  int
	Drawn    *Choice // nil where the run as drawn is not among them
	Standing []Refusal
	Counts   []Count // by which rules the others are refused
	Nearest  *Choice // where none passes, the one that lacks least
}

// Count is how many choices a rule refuses.
type Count struct {
	Rule string
	N    int
}

// Lister tries choices on one design.
type Lister struct {
	v          *assess.Review
	rules      []*engine.Rule
	single     []*engine.Rule // those of them that look at one run alone
	price      Pricer
	routePrice RoutePricer
	today      time.Time
	base       map[string]*finding.Finding // errors and warnings of the design as it is

	ownOf   int // the run of which ownList holds the subjects
	ownList map[string]bool
}

// NewLister prepares a design for choices. It checks it once as it is.
func NewLister(v *assess.Review, rules []*engine.Rule, price Pricer, routePrice RoutePricer, today time.Time) *Lister {
	l := &Lister{v: v, price: price, routePrice: routePrice, today: today, base: map[string]*finding.Finding{}}
	for _, r := range rules {
		if r.Wide || r.Check == nil {
			continue
		}
		l.rules = append(l.rules, r)
		if alone[r.Name] {
			l.single = append(l.single, r)
		}
	}
	found := engine.Check(v, l.rules, engine.Options{Today: today}).Findings
	for i := range found {
		if f := &found[i]; f.Severity > finding.Note && !f.Waived {
			l.base[f.Rule+" "+f.Subject] = f
		}
	}
	return l
}

// List tries every combination for one run.
func (l *Lister) List(run int, q Ask) (*Result, error) {
	a := &l.v.Runs[run]
	switch {
	case a.Cable == nil || a.Run.Size.Zero():
		return nil, fmt.Errorf("run %q states no usable cable or size, which its choices are compared with; trefoil check tells why", a.Run.Name)
	case l.v.Set == nil:
		return nil, fmt.Errorf("the design names no rating set that could be used; trefoil check tells why")
	}
	kinds := q.kinds(l.v.Design, a)
	if len(kinds) == 0 {
		return nil, fmt.Errorf("no cable fits what is asked for")
	}
	sizes := q.Sizes
	if len(sizes) == 0 {
		sizes = Sizes(a.Run.Size)
	}
	res := &Result{Run: a, Asked: cmp.Or(q.By, "cost")}
	drawn := Choice{Kind: Kind{a.Cable, true}, Size: a.Run.Size, Legs: a.Legs, Drawn: true, to: *a.Run}
	res.Choices = append(res.Choices, l.try(run, drawn))
	for _, laid := range append([]string{""}, q.Laid...) {
		for _, k := range kinds {
			for _, legs := range q.legs(a) {
				for _, size := range sizes {
					if laid == "" && k.Cable == a.Cable && legs == a.Legs && size == a.Run.Size {
						continue
					}
					c := Choice{Kind: k, Size: size, Legs: legs, Laid: laid, to: variant(a.Run, a.Cable, k, size, legs)}
					res.Choices = append(res.Choices, l.try(run, c))
				}
			}
		}
	}
	res.stand()
	res.rank()
	return res, nil
}

// layings are the run's routes in air, laid otherwise.
func (l *Lister) layings(run int, laid string) (list []assess.Laying) {
	if laid == "" {
		return nil
	}
	for k := range l.v.Runs[run].Sections {
		r := l.v.Runs[run].Sections[k].Route
		if r == nil || InGround(r.Laid.Value) || slices.ContainsFunc(list, func(o assess.Laying) bool { return o.Route == r }) {
			continue
		}
		list = append(list, assess.Laying{Route: r, To: Laid(r, laid)})
	}
	return list
}

// InGround says that a laying is in the ground, where no other one can take its place.
func InGround(laid string) bool { return laid == "buried" || laid == "buried-duct" }

// Laid is a route laid otherwise. A lid stays on trays alone.
func Laid(r *design.Route, laid string) design.Route {
	to := *r
	to.Laid = design.Text{Value: laid, At: r.Laid.At, Origin: design.Stated}
	switch laid {
	case "perforated-tray", "solid-tray", "ladder", "basket":
	default:
		to.Lid.Value = false
	}
	return to
}

// try tries one choice in the design, and puts the design back.
func (l *Lister) try(run int, c Choice) Choice {
	layings, drawnSize := l.layings(run, c.Laid), l.v.Runs[run].Run.Size
	trial := l.v.Try([]assess.Change{c.Change(run)}, layings)
	a := &l.v.Runs[run]
	if mm2, ok := earthFor(a); ok && !c.Drawn && mm2 != a.Run.EarthMM2.Value && (c.Size != drawnSize || a.Run.EarthMM2.Value < mm2) {
		trial.Undo()
		c.to.EarthMM2 = design.Num{Value: mm2, At: c.to.EarthMM2.At, Origin: design.Stated}
		trial = l.v.Try([]assess.Change{c.Change(run)}, layings)
	}
	defer trial.Undo()
	l.measure(run, &c)
	l.v.Only = &trial.Scope
	found := engine.Part(l.v, l.rules, l.today)
	l.v.Only = nil
	own := l.own(run)
	for i := range found {
		f := &found[i]
		was := l.base[f.Rule+" "+f.Subject]
		switch {
		case f.Waived:
		case f.Severity == finding.Warning:
			if was == nil && !slices.Contains(c.Warned, f.Rule) {
				c.Warned = append(c.Warned, f.Rule)
			}
		case was != nil && !own[f.Subject] && (!f.HasPercent || quantity.AtMost(f.Percent, was.Percent)):
			// it was there before, and is no worse
		default:
			c.Refused = append(c.Refused, refusal(f))
		}
	}
	return c
}

// measure takes the figures of a choice from the design that is under its trial.
func (l *Lister) measure(run int, c *Choice) {
	a := &l.v.Runs[run]
	c.EarthMM2 = a.Run.EarthMM2.Maybe()
	c.CapacityA, c.LoadA, c.UtilisationPct = a.CapacityA, a.LoadA, a.UtilisationPct()
	c.RisePct, c.RiseAt = l.worstRise(run)
	if l.price != nil {
		c.Cost = l.price(l.v, a)
	}
}

// own are the subjects for which a choice of a run has to answer: the run, its routes, and
// what lies behind it.
func (l *Lister) own(run int) map[string]bool {
	if l.ownOf == run && l.ownList != nil {
		return l.ownList
	}
	a := &l.v.Runs[run]
	list := map[string]bool{a.Run.Subject(): true}
	for k := range a.Sections {
		if r := a.Sections[k].Route; r != nil {
			list[r.Subject()] = true
		}
	}
	for _, n := range l.v.Tree.Below([]int{run}) {
		list[l.v.Tree.Nodes[n].Subject] = true
	}
	l.ownOf, l.ownList = run, list
	return list
}

// worstRise is the greatest rise from the supply to a source by way of a run, percent.
func (l *Lister) worstRise(run int) (worst quantity.Maybe, at string) {
	for _, n := range l.v.Tree.Below([]int{run}) {
		source := l.v.Tree.Nodes[n].Source
		if source == nil {
			continue
		}
		total, _, known := l.v.Tree.SourceRise(l.v.Verdict(), n)
		if !known {
			return quantity.Maybe{}, source.Name
		}
		if total.Percent > worst.Or(math.Inf(-1)) {
			worst, at = quantity.Of(total.Percent), source.Name
		}
	}
	return worst, at
}

// refusal keeps what matters of a finding. The figure over its limit is that of the
// finding: percent of a limit of its own, else of the limit that it names.
func refusal(f *finding.Finding) Refusal {
	r := Refusal{Rule: f.Rule, Subject: f.Subject, Message: f.Message}
	if !f.HasPercent {
		return r
	}
	r.Over = quantity.Of(f.Percent / 100)
	for _, x := range f.Figures {
		if x.Key == "limit_percent" && x.Value > 0 {
			r.Over = quantity.Of(f.Percent / x.Value)
		}
	}
	return r
}

// stand takes the errors out of the choices that stand against every one of them in the
// same words: no choice of this run moves them.
func (res *Result) stand() {
	if len(res.Choices) < 2 {
		return
	}
	for _, r := range slices.Clone(res.Choices[0].Refused) {
		same := func(o Refusal) bool { return o.Rule == r.Rule && o.Subject == r.Subject && o.Message == r.Message }
		if slices.ContainsFunc(res.Choices, func(c Choice) bool { return !slices.ContainsFunc(c.Refused, same) }) {
			continue
		}
		res.Standing = append(res.Standing, r)
		for i := range res.Choices {
			res.Choices[i].Refused = slices.DeleteFunc(res.Choices[i].Refused, same)
		}
	}
}

// key is the figure by which a choice is ranked; unknown ones come last.
func (c *Choice) key(by string) float64 {
	m := quantity.Maybe{}
	switch by {
	case "cost":
		m = c.Cost.Total
	case "loss":
		m = c.Cost.LossKWh
	case "metal":
		m = c.Cost.MetalKg
	case "size":
		m = quantity.Of(c.Size.MM2 * float64(c.Legs))
	}
	return m.Or(math.Inf(1))
}

// rank sorts the choices: those that pass first, by what is asked for, then by the metal in
// them. Without a single price of what passes, cost gives way to metal.
func (res *Result) rank() {
	res.By = res.Asked
	if res.By == "cost" && !slices.ContainsFunc(res.Choices, func(c Choice) bool { return c.Passes() && c.Cost.Total.Known }) {
		res.By = "metal"
	}
	slices.SortStableFunc(res.Choices, func(a, b Choice) int {
		if a.Passes() != b.Passes() {
			if a.Passes() {
				return -1
			}
			return 1
		}
		return cmp.Or(cmp.Compare(a.key(res.By), b.key(res.By)), cmp.Compare(a.key("metal"), b.key("metal")), cmp.Compare(a.key("size"), b.key("size")), cmp.Compare(a.Legs, b.Legs))
	})
	counts := map[string]int{}
	for i := range res.Choices {
		c := &res.Choices[i]
		if c.Drawn {
			res.Drawn = c
		}
		if c.Passes() {
			res.Passing++
			c.Rank = res.Passing
			continue
		}
		if !c.Drawn {
			counts[c.Refused[0].Rule]++
		}
		if res.Nearest == nil || c.lack().before(res.Nearest.lack()) {
			res.Nearest = c
		}
	}
	if res.Passing > 0 {
		res.Nearest = nil
	}
	for rule, n := range counts {
		res.Counts = append(res.Counts, Count{rule, n})
	}
	slices.SortFunc(res.Counts, func(a, b Count) int { return cmp.Or(cmp.Compare(b.N, a.N), cmp.Compare(a.Rule, b.Rule)) })
}

// lack is how far a choice is from passing: by errors without a figure, then by the greatest
// figure over its limit, then by all errors.
type lack struct {
	blunt, all int
	over       float64
}

func (c *Choice) lack() lack {
	k := lack{all: len(c.Refused)}
	for _, r := range c.Refused {
		if !r.Over.Known {
			k.blunt++
		}
		k.over = max(k.over, r.Over.Value)
	}
	return k
}

func (k lack) before(o lack) bool {
	return cmp.Or(cmp.Compare(k.blunt, o.blunt), cmp.Compare(k.over, o.over), cmp.Compare(k.all, o.all)) < 0
}
