package network

import (
	"math"
	"math/cmplx"

	"trefoil/ratings/quantity"
)

// Origin is what a fault sees of the network behind the point of supply: ohm to
// neutral, or of a loop, as a magnitude, with the ratio of reactance to resistance
// where it is known.
type Origin struct {
	Ohm    quantity.Maybe
	XOverR quantity.Maybe
}

// least is the least impedance that the origin can have together with a path: where
// the angle is not known, the angle furthest from the path's.
func (o Origin) least(path complex128) float64 {
	if o.XOverR.Known {
		return cmplx.Abs(o.at(math.Atan(o.XOverR.Value)) + path)
	}
	return min(cmplx.Abs(o.at(0)+path), cmplx.Abs(o.at(math.Pi/2)+path))
}

// most is the greatest: where the angle is not known, that of the path.
func (o Origin) most(path complex128) float64 {
	if o.XOverR.Known {
		return cmplx.Abs(o.at(math.Atan(o.XOverR.Value)) + path)
	}
	return o.Ohm.Value + cmplx.Abs(path)
}

func (o Origin) at(angle float64) complex128 { return cmplx.Rect(o.Ohm.Value, angle) }

// Branch is a run as a fault sees it: ohm of one conductor, all legs in parallel, cold
// (at 20 degC) and hot (at its operating limit).
type Branch struct {
	Cold, Hot           complex128 // of a phase
	EarthCold, EarthHot complex128 // of what an earth fault returns by
	NeutralHot          complex128
	Legs                int // in parallel
	Known               bool
	HasEarth            bool
	EarthApart          bool // one earth conductor serves all legs
	HasNeutral          bool
}

// FaultCase is what fault levels hang on besides the runs.
type FaultCase struct {
	Max, Min, Loop       Origin // strongest and weakest supply, earth-fault loop there
	Apart                bool   // earth and neutral have nothing in common: line to neutral goes by Min
	FactorMax, FactorMin float64
	Feed                 []quantity.Maybe // A that the source at each node feeds into a fault; 0 without a source
}

// Level is the prospective fault current at a node; what cannot be had is unknown.
type Level struct {
	MaxA      quantity.Maybe // three-phase, cold, every source feeding
	FeedA     float64        // the sources' part of it; 0 where it is not known
	MinA      quantity.Maybe // the least of line to line and, where there is a neutral, line to neutral, hot, no source feeding
	LoopOhm   quantity.Maybe // earth-fault loop, hot
	EarthMinA quantity.Maybe // earth fault, hot
	EarthMaxA quantity.Maybe // earth fault, cold, every source feeding

	// The same least currents for a fault anywhere in one leg of the run that ends here,
	// its ends joined to the other legs: from three legs on they are below those at the end.
	// Where one earth conductor serves all legs, its whole length is counted.
	LegMinA, LegEarthMinA quantity.Maybe
	HotOhm                quantity.Maybe // of a phase, supply and path, hot
}

// inLeg is the impedance of a run with a fault at the worst place in one of its legs, in
// times that of all legs in parallel. At the share x of the length the fault sees x of
// its own leg, in parallel with the rest of it behind the n - 1 others: with z of one leg
// z x (1 - x + 1/(n-1)) / (1 + 1/(n-1)), greatest at x = n/(2(n-1)), where it is z/4 of
// n/(n-1), or n^2/(4(n-1)) of z/n. For two legs that is the far end itself.
func inLeg(legs int) complex128 {
	if legs < 3 {
		return 1
	}
	n := float64(legs)
	return complex(n*n/(4*(n-1)), 0)
}

// Faulted gives the fault levels of every node, and follows a change of some runs.
type Faulted struct {
	tree   *Tree
	branch func(run int) Branch
	c      FaultCase
	paths  []faultPath // nil where nothing can be worked out
	feed   float64
	fed    bool
}

// faultPath is what a fault at a node sees of the runs between it and the supply.
type faultPath struct {
	cold, hot, earthCold, earthHot, neutral complex128
	known, earth, hasNeutral                bool
	legs                                    int32 // of the last run
}

// Faulted works out the fault levels of every node from the supply through every run:
// three-phase c U / (sqrt3 |Z|), line to line sqrt3/2 of it, line to neutral and to
// earth c U / (sqrt3 |loop|) - the voltage source at the point of fault of IEC 60909-0
// clause 4 (from memory), with the impedances of the path added as complex numbers.
// What sources feed is added in full at every node, which is the safe side; for the
// least currents they are left out.
func (t *Tree) Faulted(branch func(run int) Branch, c FaultCase) *Faulted {
	f := &Faulted{tree: t, branch: branch, c: c, fed: true}
	if !t.VoltageV.Known || len(t.order) == 0 || t.Nodes[t.order[0]].Supply == nil {
		return f
	}
	for n := range t.Nodes {
		if t.Nodes[n].Reached {
			f.feed += c.Feed[n].Value
			f.fed = f.fed && c.Feed[n].Known
		}
	}
	f.c.Feed = nil // summed up
	f.paths = make([]faultPath, len(t.Nodes))
	for _, n := range t.order {
		f.extend(n)
	}
	return f
}

// Follow brings the paths up to date where the branches of some runs are others now. What
// was there before comes back by undo.
func (f *Faulted) Follow(runs []int) (undo func()) {
	if f.paths == nil {
		return func() {}
	}
	nodes := f.tree.Below(runs)
	paths := make([]faultPath, len(nodes))
	for k, n := range nodes {
		paths[k] = f.paths[n]
		f.extend(n)
	}
	return func() {
		for k, n := range nodes {
			f.paths[n] = paths[k]
		}
	}
}

// extend works out the path to a node from that to the node that feeds it.
func (f *Faulted) extend(n int) {
	t, p := f.tree, &f.paths[n]
	*p = faultPath{}
	up := t.Nodes[n].Up
	switch {
	case !t.Nodes[n].Reached:
		return
	case up < 0:
		*p = faultPath{known: true, earth: true, hasNeutral: true}
		return
	}
	b, near := f.branch(up), &f.paths[t.Segments[up].Near]
	if !near.known || !b.Known || t.Segments[up].State != Fed {
		return
	}
	*p = faultPath{
		near.cold + b.Cold, near.hot + b.Hot, near.earthCold + b.EarthCold, near.earthHot + b.EarthHot, near.neutral + b.NeutralHot,
		true, near.earth && b.HasEarth, near.hasNeutral && b.HasNeutral, int32(b.Legs),
	}
}

// Level gives the levels at a node.
func (f *Faulted) Level(n int) (l Level) {
	if f == nil || f.paths == nil || !f.paths[n].known {
		return Level{}
	}
	t, c, p := f.tree, &f.c, &f.paths[n]
	u0 := t.VoltageV.Value / math.Sqrt(3)
	leg := *p // with the fault at the worst place in one leg
	if p.legs > 2 {
		b := f.branch(t.Nodes[n].Up)
		more := inLeg(b.Legs) - 1
		leg.hot, leg.neutral = p.hot+more*b.Hot, p.neutral+more*b.NeutralHot
		if !b.EarthApart {
			leg.earthHot += more * b.EarthHot
		}
	}
	if f.fed {
		l.FeedA = f.feed
	}
	if c.Max.Ohm.Known && f.fed {
		l.MaxA = quantity.Of(c.FactorMax*u0/c.Max.least(p.cold) + f.feed)
	}
	if c.Min.Ohm.Known {
		l.HotOhm = quantity.Of(c.Min.most(p.hot))
		l.MinA, l.LegMinA = c.least(u0, p.hot, p.neutral, p.hasNeutral), c.least(u0, leg.hot, leg.neutral, p.hasNeutral)
	}
	if c.Loop.Ohm.Known && p.earth {
		l.LoopOhm = quantity.Of(c.Loop.most(p.hot + p.earthHot))
		l.EarthMinA = quantity.Of(c.FactorMin * u0 / l.LoopOhm.Value)
		l.LegEarthMinA = quantity.Of(c.FactorMin * u0 / c.Loop.most(leg.hot+leg.earthHot))
		if f.fed {
			l.EarthMaxA = quantity.Of(c.FactorMax*u0/c.Loop.least(p.cold+p.earthCold) + f.feed)
		}
	}
	return l
}

// least is the least short-circuit current behind a path: line to line, or line to neutral
// where there is one. Unknown where there is one and its loop is not known.
func (c FaultCase) least(u0 float64, hot, neutral complex128, hasNeutral bool) quantity.Maybe {
	least := math.Sqrt(3) / 2 * c.FactorMin * u0 / c.Min.most(hot)
	if !hasNeutral {
		return quantity.Of(least)
	}
	loop := c.Loop
	if c.Apart {
		loop = c.Min
	}
	if !loop.Ohm.Known {
		return quantity.Maybe{}
	}
	return quantity.Of(min(least, c.FactorMin*u0/loop.most(hot+neutral)))
}
