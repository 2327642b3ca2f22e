package assess

import (
	"slices"

	"trefoil/lint/design"
	"trefoil/lint/network"
)

// Change is a run as it might be instead. It keeps its ends and its sections' routes.
type Change struct {
	Run   int
	To    design.Run
	Cable *design.Cable // nil for the cable that it has
}

// Laying is a route as it might be laid instead.
type Laying struct {
	Route *design.Route
	To    design.Route
}

// Trial is a change that an assessed design is under: figures, rules and writers see the
// changed design until it is undone. Only what hangs on the change is worked out anew.
type Trial struct {
	Scope Scope

	undo []func()
}

// Undo puts everything back as it was. Trials are undone in reverse order.
func (t *Trial) Undo() {
	for _, undo := range slices.Backward(t.undo) {
		undo()
	}
	t.undo = nil
}

func (t *Trial) later(undo func()) { t.undo = append(t.undo, undo) }

// Try changes runs and layings in place, and works out what hangs on them: the runs
// themselves, their neighbours on every route, rise, drop and faults behind them.
//
// What the change of a cable cannot move is left alone: who feeds whom, currents, bars,
// settings of devices, and what is told of the text. Nothing else may use the review
// meanwhile.
func (v *Review) Try(changes []Change, layings []Laying) *Trial {
	v.known.forget()
	t := &Trial{Scope: Scope{Routes: map[*design.Route]bool{}}}
	touched := map[int]bool{} // runs to be rated anew
	var routes []*Shared
	share := func(shared *Shared) {
		if shared == nil || t.Scope.Routes[shared.Route] {
			return
		}
		t.Scope.Routes[shared.Route] = true
		routes = append(routes, shared)
		for _, i := range shared.Runs {
			touched[i] = true
		}
	}
	for k := range layings {
		l := &layings[k]
		was := *l.Route
		t.later(func() { *l.Route = was })
		*l.Route = l.To
		share(v.Shared[l.Route])
	}
	changed := map[int]*design.Cable{}
	for k := range changes {
		c := &changes[k]
		run := v.Runs[c.Run].Run
		was := *run
		t.later(func() { *run = was })
		*run = c.To
		changed[c.Run] = c.Cable
		touched[c.Run] = true
		for s := range v.Runs[c.Run].Sections {
			share(v.Runs[c.Run].Sections[s].Shared)
		}
	}
	for i := range touched {
		t.Scope.Runs = append(t.Scope.Runs, i)
	}
	slices.Sort(t.Scope.Runs)
	rated := slices.Clone(t.Scope.Runs)
	before := make([]network.Impedance, len(rated))
	for k, i := range rated {
		a := &v.Runs[i]
		was, cable := *a, a.Cable
		before[k] = a.Impedance
		t.later(func() { *a = was })
		if c := changed[i]; c != nil {
			cable = c
		}
		v.begin(a, i, a.Run, cable, make([]Section, len(a.Run.Sections)))
		for s := range min(len(a.Sections), len(was.Sections)) {
			a.Sections[s].Route, a.Sections[s].Shared = was.Sections[s].Route, was.Sections[s].Shared
		}
	}
	for _, shared := range routes {
		was := *shared
		t.later(func() { *shared = was })
		shared.Circuits = shared.Others
		for _, i := range shared.Runs {
			shared.Circuits += v.Runs[i].Legs
		}
		shared.full = v.gather(shared, func(int) bool { return true })
	}
	v.again(t, changed, rated, routes, before)
	return t
}

// again works out the runs rated and what hangs on them, in the order of Assess.
func (v *Review) again(t *Trial, changed map[int]*design.Cable, rated []int, routes []*Shared, before []network.Impedance) {
	for _, i := range rated {
		v.rate(&v.Runs[i])
	}
	all := slices.Clone(routes) // every route that a run rated anew lies in
	for _, i := range rated {
		for k := range v.Runs[i].Sections {
			if s := v.Runs[i].Sections[k].Shared; s != nil && !slices.Contains(all, s) {
				all = append(all, s)
			}
		}
	}
	if light := lightPercent(v.Design); light > 0 {
		for _, shared := range all {
			v.lighten(shared, light, func(i int) bool { return slices.Contains(rated, i) })
		}
	}
	var moved []int // runs of another impedance
	for k, i := range rated {
		v.total(&v.Runs[i])
		if v.Runs[i].Impedance != before[k] {
			moved = append(moved, i)
		}
	}
	t.later(v.Rises.Follow(moved))
	t.later(v.Drops.Follow(moved))
	if len(moved) > 0 {
		was := v.exact
		t.later(func() { v.exact = was })
		v.exact = new(exact)
	}
	if v.Set != nil {
		for _, i := range rated {
			v.heatAlone(&v.Runs[i])
		}
		if h, ok := v.Set.(Heater); ok {
			for _, shared := range all {
				v.heatGround(h, shared)
			}
		}
	}
	for i := range changed { // another cable may have a neutral or an earth of its own
		if !slices.Contains(moved, i) {
			moved = append(moved, i)
		}
	}
	slices.Sort(moved)
	behind := v.Tree.Below(moved)
	if v.faulted != nil {
		t.later(v.faulted.Follow(moved))
	}
	for _, n := range behind {
		t.Scope.Nodes = append(t.Scope.Nodes, n)
		i := v.Tree.Nodes[n].Up
		if _, done := slices.BinarySearch(rated, i); !done {
			t.Scope.Runs = append(t.Scope.Runs, i)
		}
	}
	for _, i := range rated {
		s := v.Runs[i].Segment
		for _, n := range []int{s.Near, s.Far} {
			if n >= 0 {
				t.Scope.Nodes = append(t.Scope.Nodes, n)
			}
		}
	}
	slices.Sort(t.Scope.Runs)
	slices.Sort(t.Scope.Nodes)
	t.Scope.Nodes = slices.Compact(t.Scope.Nodes)
	for _, shared := range routes {
		v.contain(shared)
	}
}
