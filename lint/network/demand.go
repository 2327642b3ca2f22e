package network

import (
	"math"

	"trefoil/lint/design"
	"trefoil/ratings/quantity"
)

// demand lists what takes current: loads, the demand of boards, and batteries while
// they charge. A battery that does not state its charge takes its rating.
func (t *Tree) demand(d *design.Design, at map[any]int) {
	add := func(k Taker) {
		if t.takes == nil {
			t.takes = make([][]int, len(t.Nodes))
		}
		t.takes[k.Node] = append(t.takes[k.Node], len(t.Takers))
		t.Takers = append(t.Takers, k)
	}
	worst := t.worstPhase(d)
	for _, l := range d.Loads {
		n, ok := at[d.Find(l.Where.Kind, l.Where.Name)]
		if !ok || t.Nodes[n].Supply != nil || l.Where.Origin != design.Stated {
			continue // told where it is written
		}
		k := Taker{Node: n, Subject: l.Subject(), At: l.At, A: math.NaN(), factor: lagging(l.PowerFactor)}
		switch {
		case !l.Phases.Known() || l.Phase.Origin == design.Faulty:
		case l.Phases.Value == 3:
			k.Word = "3"
		case l.Phase.Known():
			k.Word = l.Phase.Value
		default:
			k.Word = worst
			t.Loose = append(t.Loose, l)
		}
		k.A = t.amperes(l.DemandA, l.DemandKVA, k.Word)
		add(k)
	}
	for i := range t.Nodes {
		n := &t.Nodes[i]
		if b := n.Board; b != nil && b.DemandA.Origin != design.Absent && !(b.DemandA.Known() && b.DemandA.Value == 0) {
			add(Taker{Node: i, Subject: b.Subject(), At: b.DemandA.At, Word: "3", A: t.amperes(b.DemandA, design.Num{}, "3"), factor: lagging(b.DemandPowerFactor)})
		}
		s := n.Source
		if s == nil || !charges(s) {
			continue
		}
		k := Taker{Node: i, Subject: s.Subject(), At: s.At, Word: t.PhaseOf(s), Charge: true, factor: 1}
		k.A, k.Assumed = t.charge(s)
		if k.A != 0 {
			add(k)
		}
	}
}

// charges says that a source takes current too.
func charges(s *design.Source) bool { return s.SourceKind.Value == "battery" || !silent(s) }

// silent says that a source does not state at what it charges.
func silent(s *design.Source) bool {
	return s.ChargeA.Origin == design.Absent && s.ChargeKVA.Origin == design.Absent
}

// charge is the current at which a source charges, its rated one, assumed, where it states
// none; NaN where it cannot be had.
func (t *Tree) charge(s *design.Source) (amperes float64, assumed bool) {
	word := t.PhaseOf(s)
	if !silent(s) {
		return t.amperes(s.ChargeA, s.ChargeKVA, word), false
	}
	if _, rated := t.currents(s, word); word != "" {
		return rated.Or(math.NaN()), true
	}
	return math.NaN(), true
}

// lagging is the power factor as a complex factor of a current that lags.
func lagging(pf design.Num) complex128 {
	if !pf.Known() {
		return complex(math.NaN(), 0)
	}
	return complex(pf.Value, -math.Sqrt(max(0, 1-pf.Value*pf.Value)))
}

// amperes is a current in each line, stated or from an apparent power; NaN where
// neither can be had.
func (t *Tree) amperes(a, kva design.Num, word string) float64 {
	switch {
	case word == "":
		return math.NaN()
	case a.Known():
		return a.Value
	case a.Origin == design.Absent && kva.Known() && t.VoltageV.Known:
		return kva.Value * 1000 / t.PerKVA(word)
	}
	return math.NaN()
}

// PerKVA is the voltage by which an apparent power is divided for the current of a line.
func (t *Tree) PerKVA(word string) float64 {
	switch len(phases(word)) {
	case 3:
		return t.VoltageV.Value * math.Sqrt(3)
	case 1:
		return t.VoltageV.Value / math.Sqrt(3)
	}
	return t.VoltageV.Value
}

// worstPhase is the phase that carries the greatest stated single-phase load or charge.
func (t *Tree) worstPhase(d *design.Design) string {
	var stated [3]float64
	for _, l := range d.Loads {
		if l.Phases.Known() && l.Phases.Value == 1 && l.Phase.Known() {
			if p := phases(l.Phase.Value); len(p) == 1 {
				if a := t.amperes(l.DemandA, l.DemandKVA, l.Phase.Value); a > 0 {
					stated[p[0]] += a
				}
			}
		}
	}
	for i := range t.Nodes {
		s := t.Nodes[i].Source
		if s == nil || !charges(s) {
			continue
		}
		if p := phases(t.PhaseOf(s)); len(p) == 1 {
			if a, _ := t.charge(s); a > 0 {
				stated[p[0]] += a
			}
		}
	}
	worst := 0
	for p := range stated {
		if stated[p] > stated[worst] {
			worst = p
		}
	}
	return words[worst+1]
}

// takersAt lists what takes current at a node.
func (t *Tree) takersAt(n int) []int {
	if t.takes == nil {
		return nil
	}
	return t.takes[n]
}

// taken adds what a node takes to what lies behind it.
func (t *Tree) taken(b *total, n int) {
	for _, i := range t.takersAt(n) {
		k := &t.Takers[i]
		b.takers++
		if !quantity.Finite(k.A) || !quantity.Finite(real(k.factor)) {
			b.unsure = true
			continue
		}
		for j, w := range words {
			if w == k.Word {
				b.takeWords |= 1 << j
			}
		}
		lines := phases(k.Word)
		i := complex(k.A, 0) * k.factor
		for _, p := range lines {
			b.take[p] += k.A
		}
		if len(lines) == 2 {
			u := pairAxis(lines[0], lines[1])
			b.drop[lines[0]] += i * u
			b.drop[lines[1]] -= i * u
			continue
		}
		for _, p := range lines {
			b.drop[p] += i * axis[p]
		}
	}
}

// Drop works out the voltage drop from the supply to everything that takes current,
// with no source running: the same trade's figure as Rise, for currents the other way.
func (t *Tree) Drop(z Impedances) *Rises {
	return t.change(z, dropping)
}

func dropping(s *Segment) ([3]complex128, complex128, string, bool) {
	return s.DropA, s.DropNeutralA(), s.TakePhases, s.DemandA().Known
}

// PhaseKVA sums the rated power of the single-phase sources on each phase, kVA; one
// between two lines counts half on each. It is known where every one of them states
// its power and its phase.
func (t *Tree) PhaseKVA() (sum [3]float64, sources int, known bool) {
	known = len(t.Unphased) == 0
	for i := range t.Nodes {
		s := t.Nodes[i].Source
		if s == nil || t.PhaseOf(s) == "3" {
			continue
		}
		sources++
		lines := phases(t.PhaseOf(s))
		_, rated := t.currents(s, t.PhaseOf(s))
		if t.PhaseOf(s) == "" || !rated.Known || !t.VoltageV.Known {
			known = false
			continue
		}
		kva := rated.Value * t.PerKVA(t.PhaseOf(s)) / 1000
		for _, p := range lines {
			sum[p] += kva / float64(len(lines))
		}
	}
	return sum, sources, known
}

// FeedShare is what a source feeds into a fault where it states nothing, in times its
// rated current: inverters give 1.0 to 1.2 times for some milliseconds and then shut
// down (common practice).
const FeedShare = 1.2

// FeedA is the current that a source feeds into a fault: fault_a, else FeedShare times
// its rated current.
func (t *Tree) FeedA(s *design.Source) quantity.Maybe {
	if s.FaultA.Origin != design.Absent {
		return s.FaultA.Maybe()
	}
	_, rated := t.currents(s, t.PhaseOf(s))
	if t.PhaseOf(s) == "" || !rated.Known {
		return quantity.Maybe{}
	}
	return quantity.Of(FeedShare * rated.Value)
}
