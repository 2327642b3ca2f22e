package rules

import (
	"fmt"

	"trefoil/lint/assess"
	"trefoil/lint/engine"
	"trefoil/lint/finding"
	"trefoil/ratings/quantity"
)

// ConductorOverheated reports a conductor in the ground that its group's actual currents heat beyond its limit.
var ConductorOverheated = &engine.Rule{
	Name: "conductor-overheated", Summary: "the actual currents of a group in the ground heat a conductor beyond its limit", Severity: finding.Error,
	Clause: engine.Clause{Publication: "IEC 60287-2-1", Edition: "2015", Number: "clause 4.2.3, unequally loaded cables"}, Since: "0.1.0", Check: conductorOverheated,
	Doc: engine.Doc{
		Checks:  "Under a computed rating set, the temperature of each conductor in the ground with every circuit of its route at its own design current, against the limit of its insulation.",
		Why:     "A factor for equal circuits does not see a small cable between large ones.",
		Accepts: "the temperature in percent of the limit, both in degC",
		Blind:   "Routes with more than 60 circuits; circuits of other projects, which are taken to be like the run that is looked at; drying out of the soil. A run told by run-overloaded is not told again here.",
		Sources: "IEC 60287-2-1, from memory.", Bad: "between-large", Good: "enough-room",
	},
}

func conductorOverheated(r *engine.Review) {
	for a := range r.EachRun() {
		if a.LoadA.Known && a.CapacityA.Known && !quantity.AtMost(a.LoadA.Value, a.CapacityA.Value) {
			continue
		}
		for k := range a.Sections {
			s := &a.Sections[k]
			if !s.ConductorC.Known || s.HeatRef() != assess.ByImages {
				continue
			}
			most, _ := a.LimitC(s)
			if quantity.AtMost(s.ConductorC.Value, most) {
				continue
			}
			hot, limit := quantity.Celsius.Apart(s.ConductorC.Value, most)
			f := r.At(a.Run.SizeAt, a.Run.Subject(), fmt.Sprintf("the conductors of run %q reach %s on route %q with every circuit of it at its own current, and may reach %s (with %s)", a.Run.Name, hot, s.Route.Name, limit, r.Neighbours(a, s)),
				"choose a larger conductor, or lay the circuits further apart")
			f.Figures = []finding.Figure{{Key: "design_current_a", Value: a.Segment.DesignCurrentA().Value}, {Key: "conductor_c", Value: s.ConductorC.Value}}
			f.Percent, f.HasPercent = 100*s.ConductorC.Value/most, true
			f.Related = because(r.Review, a, s)
			r.Find(f)
			break
		}
	}
}
