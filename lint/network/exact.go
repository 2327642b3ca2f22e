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
	ConstantCurrent bool    // sources keep their nominal current instead of their power
}

// Exact is the solved network.
type Exact struct {
	V          [][3]complex128 // phase to neutral at each node, volts
	Iterations int
}

// Exact solves the network in phasors, phase by phase with its neutral: each source
// keeps the active and reactive power that it has at nominal voltage and the current
// of rise, the neutral's impedance is that of a phase, and the neutral of the supply
// is the reference. Backward and forward sweeps over the tree are repeated until no
// voltage moves by more than 1e-12 of nominal. z holds one impedance a run.
//
// An error says that a current or an impedance is not known, that the tree is not
// whole, or that 200 sweeps do not settle.
func (t *Tree) Exact(z []Impedance, opt ExactOptions) (Exact, error) {
	if !t.VoltageV.Known {
		return Exact{}, errors.New("the nominal voltage is not known")
	}
	for i := range t.Segments {
		s := &t.Segments[i]
		if s.State != Fed || s.UnknownBecause != nil || !z[i].Known {
			return Exact{}, fmt.Errorf("run %q is not in the tree, or its current or impedance is not known", s.Run.Name)
		}
	}
	nominal := t.VoltageV.Value / math.Sqrt(3)
	at := nominal
	if opt.SupplyV > 0 {
		at = opt.SupplyV / math.Sqrt(3)
	}
	e := Exact{V: make([][3]complex128, len(t.Nodes))}
	for n := range e.V {
		for p := range 3 {
			e.V[n][p] = axis[p] * complex(at, 0)
		}
	}
	flow := make([][3]complex128, len(t.Nodes)) // towards the supply, out of each node
	for e.Iterations = 1; e.Iterations <= 200; e.Iterations++ {
		clear(flow)
		for k := len(t.order) - 1; k >= 0; k-- {
			n := t.order[k]
			if s := t.Nodes[n].Source; s != nil {
				inject(&flow[n], t.own[n], e.V[n], nominal, opt.ConstantCurrent)
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
			i := flow[n]
			neutral := i[0] + i[1] + i[2]
			for p := range 3 {
				v := e.V[t.Segments[up].Near][p] + (i[p]+neutral)*z[up].Ohm
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
}

// inject adds the current of a source at the voltages v.
func inject(into *[3]complex128, o own, v [3]complex128, nominal float64, constant bool) {
	drive := func(u complex128, nominal float64) complex128 {
		if constant {
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
