package assess

import "trefoil/lint/network"

// known are figures that many rules ask for and that are worked out from others at each
// question. Whoever has the rules run over a review again and again may keep them.
type known struct {
	levels []network.Level // by node
	ends   [][2]End        // by run
	count  []uint8         // of its ends
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
	v.parallel(func(a *Run) {
		k.count[a.Index] = uint8(len(v.Ends(a, k.ends[a.Index][:0])))
	})
	v.known = k
}

// endsOf gives the ends of a run that are known.
func (k *known) endsOf(v *Review, a *Run) ([]End, bool) {
	if k == nil || a.Index >= len(v.Runs) || &v.Runs[a.Index] != a {
		return nil, false
	}
	return k.ends[a.Index][:k.count[a.Index]], true
}
