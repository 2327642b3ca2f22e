package assess

import "trefoil/lint/network"

// known are figures that many rules ask for and that are worked out from others at each
// question. Whoever has the rules run over a design again and again may keep them.
type known struct {
	valid  bool
	levels []network.Level // by node
	ends   [][2]End        // by run
	count  []uint8         // of its ends
	faults []Fault         // by run; empty where there is none
}

// Know keeps what rules ask for, until the review changes.
func (v *Review) Know() {
	k := v.known
	if k == nil {
		k = &known{}
	}
	k.valid = false
	k.levels = room(k.levels, len(v.Tree.Nodes))
	k.ends, k.count, k.faults = room(k.ends, len(v.Runs)), room(k.count, len(v.Runs)), room(k.faults, len(v.Runs))
	if v.faulted != nil {
		for n := range k.levels {
			k.levels[n] = v.Level(n)
		}
	}
	v.parallel(func(a *Run) {
		k.count[a.Index] = uint8(len(v.Ends(a, k.ends[a.Index][:0])))
		k.faults[a.Index], _ = v.Fault(a)
	})
	k.valid = true
	v.known = k
}

// room gives a list of so many empty elements, in the place of one that is used no longer.
func room[T any](list []T, n int) []T {
	if cap(list) < n {
		return make([]T, n, n+n/8)
	}
	list = list[:n]
	clear(list)
	return list
}

// forget lets go of what is known, for it may be so no longer.
func (k *known) forget() {
	if k != nil {
		k.valid = false
	}
}

// level gives the level at a node where it is known, nil elsewhere.
func (k *known) level(node int) *network.Level {
	if k == nil || !k.valid {
		return nil
	}
	return &k.levels[node]
}

// holds says that something is known of a run, which one that is only tried is not.
func (k *known) holds(v *Review, a *Run) bool {
	return k != nil && k.valid && a.Index < len(v.Runs) && &v.Runs[a.Index] == a
}

// faultOf gives the fault of a run where that is known, nil elsewhere.
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
