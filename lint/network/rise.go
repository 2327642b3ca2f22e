package network

import (
	"maps"
	"math"
	"math/cmplx"
	"slices"

	"trefoil/lint/design"
	"trefoil/ratings/quantity"
)

// Impedance is the series impedance of a run, ohm per conductor, all legs in
// parallel; unknown where it could not be worked out.
type Impedance struct {
	Ohm        complex128
	NeutralOhm complex128 // of the neutral conductor, where it differs
	HasNeutral bool
	Known      bool
}

// neutral is the impedance of the neutral conductor.
func (z *Impedance) neutral() complex128 {
	if z.HasNeutral {
		return z.NeutralOhm
	}
	return z.Ohm
}

// Rise is the voltage rise of a run and of the path from the supply to its far end.
type Rise struct {
	V, Percent         quantity.Maybe // of the run
	PathV, PathPercent quantity.Maybe // of the path

	own, path [6]float64 // percent by phase, then between lines: L1, L2, L3, L1-L2, L2-L3, L3-L1
	known     bool       // own is
	reach     bool       // path is
}

// Share is the rise of one segment on a path.
type Share struct {
	Segment    int
	V, Percent float64
}

var pairs = [3][2]int{{0, 1}, {1, 2}, {2, 0}}

// Rise works out the trade's figure for every run and path: the rise of phase p is
// the component of (Ip Zp + In Zn) along phase p's nominal voltage, currents at 120
// degrees, In their sum, the neutral like the phase; between two lines the component
// of the difference along their voltage. For balanced three phases that is
// sqrt3 I (R cos phi + X sin phi) line to line, IEC 60364-5-52 Annex G. Percent is
// of nominal, and percentages add along a path. z holds one impedance a run.
//
// Currents are those at nominal voltage. At the raised voltage they are smaller, so
// the figure lies above the exact one: at unity power factor by up to 1.5 times its own
// square and 0.05 % of nominal for what unbalance turns (2 %: at most 0.11 % of nominal),
// which a test holds against Exact.
func (t *Tree) Rise(z []Impedance) []Rise {
	return t.change(z, rising)
}

func rising(s *Segment) ([3]complex128, complex128, string, bool) {
	return s.RiseA, s.NeutralA, s.Phases, s.UnknownBecause == nil
}

// carried gives what a segment carries: by phase, in the neutral, the phases that count,
// and whether it is known.
type carried func(*Segment) ([3]complex128, complex128, string, bool)

// change adds up the change of voltage over every run and path.
func (t *Tree) change(z []Impedance, by carried) []Rise {
	rises := make([]Rise, len(t.Segments))
	if !t.VoltageV.Known {
		return rises
	}
	for _, n := range t.order {
		if i := t.Nodes[n].Up; i >= 0 && t.Nodes[n].Reached {
			t.ownRise(&rises[i], i, &z[i], by)
			t.pathRise(rises, i, by)
		}
	}
	return rises
}

// ownRise is the change of voltage over one run.
func (t *Tree) ownRise(r *Rise, i int, z *Impedance, by carried) {
	s := &t.Segments[i]
	current, neutral, _, known := by(s)
	*r = Rise{known: s.State == Fed && z.Known && known}
	if !r.known {
		return
	}
	u := t.VoltageV.Value
	var drop [3]complex128
	for p := range 3 {
		drop[p] = current[p]*z.Ohm + neutral*z.neutral()
		r.own[p] = 100 * component(drop[p], axis[p]) / (u / math.Sqrt(3))
	}
	for k, pair := range pairs {
		a, b := pair[0], pair[1]
		r.own[3+k] = 100 * component(drop[a]-drop[b], pairAxis(a, b)) / u
	}
}

// pathRise adds a run to the path that leads to it.
func (t *Tree) pathRise(rises []Rise, i int, by carried) {
	s, r := &t.Segments[i], &rises[i]
	if !r.known {
		return
	}
	r.path, r.reach = r.own, true
	if up := t.Nodes[s.Near].Up; up >= 0 {
		r.reach = rises[up].reach
		for k := range r.path {
			r.path[k] += rises[up].path[k]
		}
	}
	_, _, word, _ := by(s)
	r.show(word, t.VoltageV.Value)
}

// SetRise brings the rises up to date with the impedances of some runs; what was there
// before comes back by undo. SetDrop does the same for drops.
func (t *Tree) SetRise(rises []Rise, runs []int, z func(run int) Impedance) (undo func()) {
	return t.reset(rises, runs, z, rising)
}

// SetDrop is SetRise for the drop.
func (t *Tree) SetDrop(drops []Rise, runs []int, z func(run int) Impedance) (undo func()) {
	return t.reset(drops, runs, z, dropping)
}

func (t *Tree) reset(rises []Rise, runs []int, z func(run int) Impedance, by carried) (undo func()) {
	if !t.VoltageV.Known {
		return func() {}
	}
	nodes := t.Below(runs)
	was := make([]Rise, len(nodes))
	for k, n := range nodes {
		was[k] = rises[t.Nodes[n].Up]
	}
	for _, i := range runs {
		if far := t.Segments[i].Far; far >= 0 && t.Nodes[far].Up == i && t.Nodes[far].Reached {
			of := z(i)
			t.ownRise(&rises[i], i, &of, by)
		}
	}
	for _, n := range nodes {
		r := &rises[t.Nodes[n].Up]
		*r = Rise{own: r.own, known: r.known}
		t.pathRise(rises, t.Nodes[n].Up, by)
	}
	return func() {
		for k, n := range nodes {
			rises[t.Nodes[n].Up] = was[k]
		}
	}
}

// Component of a rise: a phase, L1 to L3, or a voltage between two lines, L1-L2, L2-L3, L3-L1.
type Component int

// WorstComponent is the one in which the source with the greatest rise has it; false where
// no rise of a source is known.
func (t *Tree) WorstComponent(rises []Rise) (Component, bool) {
	worst, at := math.Inf(-1), -1
	for n := range t.Nodes {
		s := t.Nodes[n].Source
		up := t.Nodes[n].Up
		if s == nil || up < 0 || !rises[up].reach {
			continue
		}
		first, last := 0, 2
		if i := index(t.phase[s]); i >= 0 {
			first, last = i, i
		}
		for k := first; k <= last; k++ {
			if rises[up].path[k] > worst {
				worst, at = rises[up].path[k], k
			}
		}
	}
	return Component(at), at >= 0
}

// Bound says that the rise at a source is held against limits in a component.
func (t *Tree) Bound(s *design.Source, c Component) bool {
	i := index(t.phase[s])
	return i == int(c) || i < 0 && c < 3
}

// OwnRise is what a run of an impedance adds to the rise behind it, percent of nominal.
func (t *Tree) OwnRise(run int, z Impedance, c Component) (percent float64, known bool) {
	if !t.VoltageV.Known {
		return 0, false
	}
	var r Rise
	t.ownRise(&r, run, &z, rising)
	return r.own[c], r.known
}

// Order lists the nodes, each after the one that feeds it.
func (t *Tree) Order() []int { return t.order }

// Ways lists the nodes that a node feeds.
func (t *Tree) Ways(node int) []int { return t.ways[node] }

// Below lists the nodes behind some runs, each once and after the one that feeds it.
func (t *Tree) Below(runs []int) []int {
	top := make([]int, 0, len(runs))
	for _, i := range runs {
		if far := t.Segments[i].Far; far >= 0 && t.Nodes[far].Up == i && t.Nodes[far].Reached {
			top = append(top, far)
		}
	}
	list := t.outermost(top)
	for from := 0; from < len(list); from++ {
		list = append(list, t.ways[list[from]]...)
	}
	return list
}

// outermost leaves out nodes that lie behind another one of the list, and doubles.
func (t *Tree) outermost(list []int) []int {
	in := map[int]bool{}
	for _, n := range list {
		in[n] = true
	}
	var out []int
	for n := range maps.Keys(in) {
		inside := false
		for up := t.Nodes[n].Up; up >= 0 && !inside; {
			near := t.Segments[up].Near
			inside, up = in[near], t.Nodes[near].Up
		}
		if !inside {
			out = append(out, n)
		}
	}
	slices.Sort(out)
	return out
}

// show fills the figures of the phases that count.
func (r *Rise) show(word string, lineV float64) {
	own, path := view(word, r.own), view(word, r.path)
	nominal := Nominal(word, lineV)
	r.Percent, r.V = quantity.Of(own), quantity.Of(own/100*nominal)
	if r.reach {
		r.PathPercent, r.PathV = quantity.Of(path), quantity.Of(path/100*nominal)
	}
}

// component is the component of v along a direction.
func component(v, direction complex128) float64 { return real(v * cmplx.Conj(direction)) }

// index of the figure that a phase word looks at; -1 for three phases.
func index(word string) int {
	for i, w := range words[1:] {
		if w == word {
			return i
		}
	}
	return -1
}

// view picks the figure of the phases that count: their own, or for three phases the worst.
func view(word string, by [6]float64) float64 {
	if i := index(word); i >= 0 {
		return by[i]
	}
	return max(by[0], by[1], by[2])
}

// Nominal is the voltage that percentages of a phase word refer to: line to line
// for three phases and between lines, line to neutral for one phase.
func Nominal(word string, lineV float64) float64 {
	switch word {
	case "L1", "L2", "L3":
		return lineV / math.Sqrt(3)
	}
	return lineV
}

// Path lists the segments from the supply to a node, in that order.
func (t *Tree) Path(node int) []int {
	var list []int
	for up := t.Nodes[node].Up; up >= 0; up = t.Nodes[t.Segments[up].Near].Up {
		list = append(list, up)
	}
	slices.Reverse(list)
	return list
}

// SourceRise gives the rise at a source and each segment's share of it, on the
// phase that the source is on; for a three-phase source on its worst phase.
func (t *Tree) SourceRise(rises []Rise, node int) (total Share, shares []Share, known bool) {
	if t.Nodes[node].Source == nil {
		return Share{}, nil, false
	}
	return t.Shares(rises, node, t.phase[t.Nodes[node].Source])
}

// Shares gives the rise or drop at a node on the phases of a word, and each segment's
// share of it; for three phases on the worst.
func (t *Tree) Shares(rises []Rise, node int, word string) (total Share, shares []Share, known bool) {
	n := &t.Nodes[node]
	if !n.Reached || n.Up < 0 || !rises[n.Up].reach {
		return Share{}, nil, false
	}
	i := index(word)
	if i < 0 {
		i = 0
		for p := range 3 {
			if rises[n.Up].path[p] > rises[n.Up].path[i] {
				i = p
			}
		}
	}
	nominal := Nominal(word, t.VoltageV.Value)
	total = Share{Segment: n.Up, Percent: rises[n.Up].path[i], V: rises[n.Up].path[i] / 100 * nominal}
	for _, s := range t.Path(node) {
		shares = append(shares, Share{Segment: s, Percent: rises[s].own[i], V: rises[s].own[i] / 100 * nominal})
	}
	return total, shares, true
}
