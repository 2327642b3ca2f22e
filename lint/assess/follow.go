package assess

import (
	"trefoil/lint/design"
	"trefoil/lint/finding"
)

// Follow brings the figures up to date with an edit of the text, for good. Swaps that it
// follows are applied; it is false, with nothing changed, where an edit may move more than
// what hangs on some runs, cables and routes, so that the design has to be assessed anew.
func (v *Review) Follow(e *design.Edit) bool {
	changes, layings, cables, ok := v.followed(e.Swaps)
	if !ok {
		return false
	}
	v.known = nil
	v.move(e)
	if len(e.Swaps) == 0 {
		return true
	}
	for _, s := range cables {
		s.Apply()
	}
	for _, l := range layings {
		if shared := v.Shared[l.Route]; shared != nil {
			shared.Others = others(&l.To)
		}
	}
	if v.answers.many(len(v.Runs)) {
		v.answers = &answers{set: v.Set}
	}
	v.Try(changes, layings)
	v.Took = nil
	v.take()
	v.Faults = v.Faults[:v.ofSet]
	v.settings()
	v.Bars = nil
	v.bars()
	return true
}

// followed sorts the swaps of an edit by what they are to a trial.
func (v *Review) followed(swaps []design.Swap) (changes []Change, layings []Laying, cables []design.Swap, ok bool) {
	at := map[*design.Run]int{}
	for _, s := range swaps {
		if _, is := s.Is.(*design.Run); is {
			for i, r := range v.Design.Runs {
				at[r] = i
			}
			break
		}
	}
	for _, s := range swaps {
		switch to := s.To.(type) {
		case *design.Run:
			was := s.Is.(*design.Run)
			i, is := at[was]
			if !is || !v.stays(&v.Runs[i], to) {
				return nil, nil, nil, false
			}
			changes = append(changes, Change{Run: i, To: *to, Cable: v.Design.CableOf(to)})
		case *design.Route:
			layings = append(layings, Laying{Route: s.Is.(*design.Route), To: *to})
		case *design.Cable:
			cables = append(cables, s)
		default:
			return nil, nil, nil, false
		}
	}
	limit := max(8, len(v.Runs)/20)
	changed := map[int]bool{}
	for _, c := range changes {
		changed[c.Run] = true
	}
	for _, s := range cables {
		for i := range v.Runs {
			a := &v.Runs[i]
			if a.Cable != s.Is {
				continue
			}
			if a.Segment.Sources == 0 || len(changes) > limit { // which conductors are loaded may hang on the cable
				return nil, nil, nil, false
			}
			if !changed[i] {
				changed[i] = true
				changes = append(changes, Change{Run: i, To: *a.Run})
			}
		}
	}
	touched := len(changes)
	for _, l := range layings {
		if shared := v.Shared[l.Route]; shared != nil {
			touched += len(shared.Runs)
		}
	}
	return changes, layings, cables, touched <= limit
}

// stays says that a run has its place in the network and in its routes as before.
func (v *Review) stays(a *Run, to *design.Run) bool {
	was := a.Run
	same := func(a, b design.Link) bool {
		return a.Kind == b.Kind && a.Name == b.Name && a.Set == b.Set && a.Origin == b.Origin
	}
	if !same(was.From, to.From) || !same(was.To, to.To) || len(was.Sections) != len(to.Sections) || len(was.NeverWith)+len(to.NeverWith) > 0 {
		return false
	}
	for i := range was.Sections {
		if !same(was.Sections[i].Route, to.Sections[i].Route) {
			return false
		}
	}
	return same(was.Cable, to.Cable) && a.Cable != nil || v.Design.CableOf(to) != nil && a.Cable != nil && a.Segment.Sources > 0
}

// move takes every range that the review holds to where it is in the text after an edit.
func (v *Review) move(e *design.Edit) {
	told := func(list []finding.Finding) {
		for i := range list {
			list[i].Places(e.Move)
		}
	}
	told(v.Faults)
	told(v.Tree.Faults)
	for i := range v.Runs {
		a := &v.Runs[i]
		for k := range a.Gaps {
			e.Move(&a.Gaps[k].At)
		}
	}
	for i := range v.Bars {
		e.Move(&v.Bars[i].RatedA.At)
	}
	for i := range v.Tree.Takers {
		e.Move(&v.Tree.Takers[i].At)
	}
}
