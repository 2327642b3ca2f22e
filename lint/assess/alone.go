package assess

import (
	"trefoil/lint/design"
	"trefoil/ratings"
	"trefoil/ratings/quantity"
)

// Alone works out a run as it might be instead, in the best company that it can have: its
// neighbours have as few legs as legs says, none of them is smaller, larger, cooler or
// thicker than itself, and where lightly loaded ones are left out, all of them are. No
// choice for the neighbours lets it carry more or lose less, so what fails here fails in
// the design. laid gives each route as it is taken to be laid.
//
// Nothing of the review is changed, and faults are left out.
func (v *Review) Alone(c Change, legs func(run int) int, laid func(*design.Route) *design.Route) Run {
	was := &v.Runs[c.Run]
	cable := was.Cable
	if c.Cable != nil {
		cable = c.Cable
	}
	a := new(Run)
	run := c.To
	v.begin(a, c.Run, &run, cable, make([]Section, len(run.Sections)))
	for k := range min(len(a.Sections), len(was.Sections)) {
		s := &a.Sections[k]
		if s.Shared = was.Sections[k].Shared; was.Sections[k].Route != nil {
			s.Route = laid(was.Sections[k].Route)
		}
	}
	light := lightPercent(v.Design) > 0
	v.rateAmong(a, func(s *Section) {
		size := a.Size(s.Section)
		g := ratings.Group{
			Circuits: s.Shared.Others + a.Legs, Conductors: 3*s.Shared.Others + a.Legs*a.Segment.Loaded,
			Smallest: size, Largest: size, Insulation: a.Cable.Insulation.Value,
		}
		if s.Route.Spacing.Value == "spaced" {
			g.OuterMM = v.outerMM(a, size)
			g.OuterUnknown = !g.OuterMM.Known
		}
		for _, i := range s.Shared.Runs {
			b := &v.Runs[i]
			if i == c.Run || light || s.Shared.apart && v.never(a, b) {
				continue
			}
			n := legs(i)
			g.Circuits += n
			g.Conductors += n * b.Segment.Loaded
		}
		s.Group = v.answers.group(g)
	})
	v.amidOthers(a)
	v.total(a)
	if v.Set != nil {
		v.heatAlone(a)
		if _, ok := v.Set.(Heater); ok {
			v.coolest(a)
		}
	}
	return *a
}

// amidOthers rates sections anew that have no rating among circuits of their own size: among
// those of other sizes a set may have a rule.
func (v *Review) amidOthers(a *Run) {
	gaps := a.Gaps
	for k := range a.Sections {
		s := &a.Sections[k]
		if s.Rating != nil || s.Shared == nil || s.Group == nil || s.Group.Circuits < 2 || v.Set == nil || !usable(a) || !placed(s.Route) {
			continue
		}
		g := *s.Group
		g.Smallest, g.Largest = quantity.MM2(1.5), quantity.MM2(630)
		s.Group = v.answers.group(g)
		a.Gaps = nil
		c, p := v.laid(a, s)
		if v.rateSection(a, s, c, p); s.Rating != nil {
			gaps = nil
		}
	}
	a.Gaps = gaps
}

// coolest takes sections in the ground, whose neighbours may heat less than the group's
// rating says, as warm as the ground.
func (v *Review) coolest(a *Run) {
	for k := range a.Sections {
		s := &a.Sections[k]
		if s.ConductorC.Known && s.Route != nil && (s.Route.Laid.Value == "buried" || s.Route.Laid.Value == "buried-duct") {
			s.ConductorC = quantity.Of(v.ambient(s))
		}
	}
}
