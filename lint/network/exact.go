package network

import (
	"errors"
	"fmt"
	"math"
	"math/cmplx"
)

// ExactOptions says how Exact solves.
type ExactOptions struct {
	SupplyV         float64 // line to line at the supply; 0 for nominal
	ConstantCurrent bool    // every source keeps its nominal current, whatever it states
	Demand          bool    // loads and charging in place of the sources
}

// Exact is the solved network.
type Exact struct {
	V          [][3]complex128 // phase to neutral at each node, volts
	Iterations int

	demand bool
}

// Exact solves the network in phasors, phase by phase with its neutral: each source
// keeps the active and reactive power that it has at nominal voltage and the current
// of rise, or that current where it holds it, the neutral's impedance is that of a phase
// where no other is given, and the neutral of the supply is the reference. Backward and forward sweeps over the tree are repeated until no
// voltage moves by more than 1e-12 of nominal.
//
// An error says that a current or an impedance is not known, that the tree is not
// whole, or that 200 sweeps do not settle.
func (t *Tree) Exact(z Impedances, opt ExactOptions) (Exact, error) {
	if !t.VoltageV.Known {
		return Exact{}, errors.New("the nominal voltage is not known")
	}
	if len(t.order) == 0 || t.Nodes[t.order[0]].Supply == nil {
		return Exact{}, errors.New("the design has no supply")
	}
	for i := range t.Nodes {
		if !t.Nodes[i].Reached && (t.Nodes[i].Source != nil || len(t.takersAt(i)) > 0) {
			return Exact{}, fmt.Errorf("%s has no path to the supply", t.Nodes[i].Subject)
		}
	}
	for i := range t.Segments {
		s := &t.Segments[i]
		if s.State != Fed || !z(i).Known || opt.Demand && !s.DemandA().Known || !opt.Demand && s.UnknownBecause != nil {
			return Exact{}, fmt.Errorf("run %q is not in the tree, or its current or impedance is not known", s.Run.Name)
		}
	}
	nominal := t.VoltageV.Value / math.Sqrt(3)
	at := nominal
	if opt.SupplyV > 0 {
		at = opt.SupplyV / math.Sqrt(3)
	}
	e := Exact{V: make([][3]complex128, len(t.Nodes)), demand: opt.Demand}
	for n := range e.V {
		for p := range 3 {
			e.V[n][p] = axis[p] * complex(at, 0)
		}
	}
	sources := make([]own, len(t.Nodes))
	for n := range t.Nodes {
		if s := t.Nodes[n].Source; s != nil && !opt.Demand {
			sources[n] = t.source(new(total), s)
		}
	}
	flow := make([][3]complex128, len(t.Nodes)) // towards the supply, out of each node
	for e.Iterations = 1; e.Iterations <= 200; e.Iterations++ {
		clear(flow)
		for k := len(t.order) - 1; k >= 0; k-- {
			n := t.order[k]
			if opt.Demand {
				for _, i := range t.takersAt(n) {
					k := &t.Takers[i]
					inject(&flow[n], own{phases(k.Word), -complex(k.A, 0) * k.factor, false}, e.V[n], nominal, false)
				}
			} else if s := t.Nodes[n].Source; s != nil {
				inject(&flow[n], sources[n], e.V[n], nominal, opt.ConstantCurrent)
			}
			if up := t.Nodes[n].Up; up >= 0 {
				into := &flow[t.Segments[up].Near]
				for p := range 3 {
					into[p] += flow[n][p]
				}
			}
		}
		moved := 0.0
		for _, n := range t.order {
			up := t.Nodes[n].Up
			if up < 0 {
				continue
			}
			i, z := flow[n], z(up)
			neutral := i[0] + i[1] + i[2]
			for p := range 3 {
				v := e.V[t.Segments[up].Near][p] + i[p]*z.Ohm + neutral*z.neutral()
				moved = max(moved, cmplx.Abs(v-e.V[n][p]))
				e.V[n][p] = v
			}
		}
		if !(moved >= 0) || moved > 100*nominal {
			break
		}
		if moved <= 1e-12*nominal {
			return e, nil
		}
	}
	return e, errors.New("the network does not settle: the impedances are too large for its sources")
}

// own is what one source injects at nominal voltage, and how.
type own struct {
	lines   []int
	current complex128 // along the voltage that it is connected to
	holds   bool       // its current, not its power, when the voltage moves
}

// inject adds the current of a source at the voltages v.
func inject(into *[3]complex128, o own, v [3]complex128, nominal float64, constant bool) {
	drive := func(u complex128, nominal float64) complex128 {
		if constant || o.holds {
			return o.current * u / complex(cmplx.Abs(u), 0)
		}
		power := cmplx.Conj(o.current) * complex(nominal, 0) // of the nominal voltage on the real axis
		return cmplx.Conj(power / u)
	}
	if len(o.lines) == 2 {
		a, b := o.lines[0], o.lines[1]
		i := drive(v[a]-v[b], nominal*math.Sqrt(3))
		into[a] += i
		into[b] -= i
		return
	}
	for _, p := range o.lines {
		into[p] += drive(v[p], nominal)
	}
}

// Rises gives the exact solution in the form of the trade's figures: for every run and
// path the change of the voltage's magnitude on each phase, and between lines, in
// percent of nominal; for a solution of the demand the drop.
func (t *Tree) Rises(e Exact) *Rises {
	u := t.VoltageV.Value
	at := func(n int) (m components) {
		for p := range 3 {
			m[p] = 100 * cmplx.Abs(e.V[n][p]) / (u / math.Sqrt(3))
		}
		for k, pair := range pairs {
			m[3+k] = 100 * cmplx.Abs(e.V[n][pair[0]]-e.V[n][pair[1]]) / u
		}
		return m
	}
	change := func(from, to components) (components, bool) {
		for k := range to {
			to[k] -= from[k]
			if e.demand {
				to[k] = -to[k]
			}
		}
		return to, true
	}
	base := at(t.order[0])
	return &Rises{
		tree: t,
		own:  func(run int) (components, bool) { return change(at(t.Segments[run].Near), at(t.Segments[run].Far)) },
		path: func(run int) (components, bool) { return change(base, at(t.Segments[run].Far)) },
		word: func(s *Segment) string {
			if e.demand {
				return s.TakePhases
			}
			return s.Phases()
		},
	}
}

// Unknown gives no figures.
func (t *Tree) Unknown() *Rises {
	none := func(int) (components, bool) { return components{}, false }
	return &Rises{tree: t, own: none, path: none}
}

// Unbalance is the negative sequence of the voltage at a node in percent of the
// positive: the complex voltage unbalance factor of IEC 61000-2-2 (definition from
// memory).
func (e Exact) Unbalance(node int) float64 {
	turn := cmplx.Rect(1, 2*math.Pi/3)
	v := e.V[node]
	positive := v[0] + turn*v[1] + turn*turn*v[2]
	negative := v[0] + turn*turn*v[1] + turn*v[2]
	return 100 * cmplx.Abs(negative) / cmplx.Abs(positive)
}
