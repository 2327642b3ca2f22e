package assess

import "trefoil/lint/network"

// known are figures that many rules ask for and that are worked out from others at each
// question. Whoever has the rules run over a review again and again may keep them.
type known struct {
	levels []network.Level // by node
	ends   [][2]End        // by run
	count  []uint8         // of its ends
	faults []Fault         // by run; empty where there is none
}

// Know keeps what rules ask for, until the review changes.
func (v *Review) Know() {
	v.known = nil
	k := &known{levels: make([]network.Level, len(v.Tree.Nodes)), ends: make([][2]End, len(v.Runs)), count: make([]uint8, len(v.Runs))}
	if v.faulted != nil {
		for n := range k.levels {
			k.levels[n] = v.Level(n)
		}
	}
	k.faults = make([]Fault, len(v.Runs))
	v.parallel(func(a *Run) {
		k.count[a.Index] = uint8(len(v.Ends(a, k.ends[a.Index][:0])))
		k.faults[a.Index], _ = v.Fault(a)
	})
	v.known = k
}

// holds says that something is known of a run, which one that is only tried is not.
func (k *known) holds(v *Review, a *Run) bool {
	return k != nil && a.Index < len(v.Runs) && &v.Runs[a.Index] == a
}

// faultOf gives the fault of a run where that is known.
func (k *known) faultOf(v *Review, a *Run) *Fault {
	if !k.holds(v, a) {
		return nil
	}
	return &k.faults[a.Index]
}

// endsOf gives the ends of a run that are known.
func (k *known) endsOf(v *Review, a *Run) ([]End, bool) {
	if !k.holds(v, a) {
		return nil, false
	}
	return k.ends[a.Index][:k.count[a.Index]], true
}
