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

// Impedances gives the impedance of each run.
type Impedances func(run int) Impedance

// Rise is the voltage rise of a run and of the path from the supply to its far end.
type Rise struct {
	V, Percent         quantity.Maybe // of the run
	PathV, PathPercent quantity.Maybe // of the path
}

// components are percent by phase, then between lines: L1, L2, L3, L1-L2, L2-L3, L3-L1.
type components [6]float64

// Rises gives the change of voltage over every run and along the path to it. What a run
// adds is worked out when it is asked for, from the impedances as they are then.
type Rises struct {
	tree  *Tree
	own   func(run int) (components, bool)
	path  func(run int) (components, bool)
	word  func(*Segment) string // the phases that count
	paths []components          // what path gives of the trade's figures; NaN where it is not known
}

// Of gives the figures of a run.
func (r *Rises) Of(run int) (rise Rise) {
	own, known := r.own(run)
	if !known {
		return Rise{}
	}
	word := r.word(&r.tree.Segments[run])
	nominal := Nominal(word, r.tree.VoltageV.Value)
	percent := view(word, own)
	rise.Percent, rise.V = quantity.Of(percent), quantity.Of(percent/100*nominal)
	if path, known := r.path(run); known {
		percent = view(word, path)
		rise.PathPercent, rise.PathV = quantity.Of(percent), quantity.Of(percent/100*nominal)
	}
	return rise
}

// Share is the rise of one segment on a path.
type Share struct {
	Segment    int
	V, Percent float64
}

var pairs = [3][2]int{{0, 1}, {1, 2}, {2, 0}}

// pairAxes are the directions of the voltages between them.
var pairAxes = [3]complex128{pairAxis(0, 1), pairAxis(1, 2), pairAxis(2, 0)}

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
func (t *Tree) Rise(z Impedances) *Rises {
	return t.change(z, rising)
}

func rising(s *Segment) ([3]complex128, complex128, string, bool) {
	return s.RiseA, s.NeutralA(), s.Phases(), s.UnknownBecause == nil
}

// carried gives what a segment carries: by phase, in the neutral, the phases that count,
// and whether it is known.
type carried func(*Segment) ([3]complex128, complex128, string, bool)

// change adds up the change of voltage over every run and path.
func (t *Tree) change(z Impedances, by carried) *Rises {
	r := &Rises{
		tree: t,
		own:  func(run int) (components, bool) { return t.ownRise(run, z(run), by) },
		word: func(s *Segment) string { _, _, word, _ := by(s); return word },
	}
	r.path = func(run int) (components, bool) {
		if r.paths == nil || math.IsNaN(r.paths[run][0]) {
			return components{}, false
		}
		return r.paths[run], true
	}
	if !t.VoltageV.Known {
		return r
	}
	r.paths = make([]components, len(t.Segments))
	for i := range r.paths {
		r.paths[i][0] = math.NaN()
	}
	for _, n := range t.order {
		if i := t.Nodes[n].Up; i >= 0 && t.Nodes[n].Reached {
			r.sum(i)
		}
	}
	return r
}

// ownRise is the change of voltage over one run.
func (t *Tree) ownRise(run int, z Impedance, by carried) (own components, known bool) {
	s := &t.Segments[run]
	current, neutral, _, known := by(s)
	if s.State != Fed || !z.Known || !known || !t.VoltageV.Known {
		return own, false
	}
	u := t.VoltageV.Value
	var drop [3]complex128
	for p := range 3 {
		drop[p] = current[p]*z.Ohm + neutral*z.neutral()
		own[p] = 100 * component(drop[p], axis[p]) / (u / math.Sqrt(3))
	}
	for k, pair := range pairs {
		own[3+k] = 100 * component(drop[pair[0]]-drop[pair[1]], pairAxes[k]) / u
	}
	return own, true
}

// sum adds a run to the path that leads to it.
func (r *Rises) sum(run int) {
	own, known := r.own(run)
	up := r.tree.Nodes[r.tree.Segments[run].Near].Up
	if known && up >= 0 {
		var before components
		before, known = r.path(up)
		for k := range own {
			own[k] += before[k]
		}
	}
	if !known {
		own[0] = math.NaN()
	}
	r.paths[run] = own
}

// Follow brings the paths up to date where the impedances of some runs are others now; what
// was there before comes back by undo.
func (r *Rises) Follow(runs []int) (undo func()) {
	if r.paths == nil {
		return func() {}
	}
	nodes := r.tree.Below(runs)
	was := make([]components, len(nodes))
	for k, n := range nodes {
		up := r.tree.Nodes[n].Up
		was[k] = r.paths[up]
		r.sum(up)
	}
	return func() {
		for k, n := range nodes {
			r.paths[r.tree.Nodes[n].Up] = was[k]
		}
	}
}

// Component of a rise: a phase, L1 to L3, or a voltage between two lines, L1-L2, L2-L3, L3-L1.
type Component int

// WorstComponent is the one in which the source with the greatest rise has it; false where
// no rise of a source is known.
func (r *Rises) WorstComponent() (Component, bool) {
	t := r.tree
	worst, at := math.Inf(-1), -1
	for n := range t.Nodes {
		s := t.Nodes[n].Source
		if s == nil || t.Nodes[n].Up < 0 {
			continue
		}
		path, known := r.path(t.Nodes[n].Up)
		if !known {
			continue
		}
		first, last := 0, 2
		if i := index(t.PhaseOf(s)); i >= 0 {
			first, last = i, i
		}
		for k := first; k <= last; k++ {
			if path[k] > worst {
				worst, at = path[k], k
			}
		}
	}
	return Component(at), at >= 0
}

// Bound says that the rise at a source is held against limits in a component.
func (t *Tree) Bound(s *design.Source, c Component) bool {
	i := index(t.PhaseOf(s))
	return i == int(c) || i < 0 && c < 3
}

// OwnRise is what a run of an impedance adds to the rise behind it, percent of nominal.
func (t *Tree) OwnRise(run int, z Impedance, c Component) (percent float64, known bool) {
	own, known := t.ownRise(run, z, rising)
	return own[c], known
}

// Order lists the nodes, each after the one that feeds it.
func (t *Tree) Order() []int { return t.order }

// Ways lists the nodes that a node feeds.
func (t *Tree) Ways(node int) []int { return t.order[t.Nodes[node].from:t.Nodes[node].to] }

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
		list = append(list, t.Ways(list[from])...)
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
func view(word string, by components) float64 {
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

// Source gives the rise at a source and each segment's share of it, on the
// phase that the source is on; for a three-phase source on its worst phase.
func (r *Rises) Source(node int) (total Share, shares []Share, known bool) {
	s := r.tree.Nodes[node].Source
	if s == nil {
		return Share{}, nil, false
	}
	return r.Shares(node, r.tree.PhaseOf(s))
}

// AtSource is the rise at a source, as Source gives it.
func (r *Rises) AtSource(node int) (total Share, known bool) {
	s := r.tree.Nodes[node].Source
	if s == nil {
		return Share{}, false
	}
	total, _, known = r.total(node, r.tree.PhaseOf(s))
	return total, known
}

// Shares gives the rise or drop at a node on the phases of a word, and each segment's
// share of it; for three phases on the worst.
func (r *Rises) Shares(node int, word string) (total Share, shares []Share, known bool) {
	total, by, known := r.total(node, word)
	if !known {
		return Share{}, nil, false
	}
	for _, s := range r.tree.Path(node) {
		own, _ := r.own(s)
		shares = append(shares, r.share(s, own, by, word))
	}
	return total, shares, true
}

// total is the rise or drop at a node, and the component that it is.
func (r *Rises) total(node int, word string) (total Share, by int, known bool) {
	n := &r.tree.Nodes[node]
	if !n.Reached || n.Up < 0 {
		return Share{}, 0, false
	}
	path, known := r.path(n.Up)
	if !known {
		return Share{}, 0, false
	}
	if by = index(word); by < 0 {
		by = 0
		for p := range 3 {
			if path[p] > path[by] {
				by = p
			}
		}
	}
	return r.share(n.Up, path, by, word), by, true
}

func (r *Rises) share(segment int, of components, by int, word string) Share {
	return Share{Segment: segment, Percent: of[by], V: of[by] / 100 * Nominal(word, r.tree.VoltageV.Value)}
}
