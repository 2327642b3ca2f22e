package rules

import (
	"fmt"
	"strings"

	"trefoil/lint/engine"
	"trefoil/lint/finding"
)

// RunNotAssessed reports a run for which a figure cannot be worked out.
var RunNotAssessed = &engine.Rule{
	Name: "run-not-assessed", Summary: "a figure of a run cannot be worked out", Severity: finding.Error,
	Clause: engine.Clause{Own: "no finding must never mean that nobody looked"}, Since: "0.1.0", Check: runNotAssessed,
	Doc: engine.Doc{
		Checks: "That capacity and impedance of every run can be looked up in the rating set, and that the set has a rule for each of its devices: size, way of laying, temperature, soil, depth and number of circuits lie inside the tables.",
		Why:    "Outside of its tables a set says nothing. Neither does this program: it does not extend, clamp or guess.",
		Blind:  "Runs that another finding already stops: a missing value, an unknown reference, a loop.", Sources: "The rating set that the site names.", Bad: "size-not-in-table", Good: "in-table",
	},
}

func runNotAssessed(r *engine.Review) {
	for a := range r.EachRun() {
		var reasons []string
		next := ""
		at := a.Run.SizeAt
		for _, g := range a.Gaps {
			reasons = append(reasons, g.Reason)
			if next == "" {
				next = g.Next
			}
		}
		if r.Set != nil {
			for k := range a.Run.Devices {
				if p, ok := protection(&a.Run.Devices[k]); ok {
					if _, _, gap := r.Set.NeedsA(p); gap != nil {
						if len(reasons) == 0 {
							at, next = a.Run.Devices[k].At, gap.Next
						}
						reasons = append(reasons, gap.Reason)
					}
				}
			}
		}
		if len(reasons) == 0 {
			continue
		}
		if !at.Known() {
			at = a.Run.At
		}
		also := ""
		if !a.Impedance.Known {
			also = "; neither can the rise of what lies behind it"
		}
		f := r.At(at, a.Run.Subject(), fmt.Sprintf("run %q cannot be assessed: %s%s", a.Run.Name, strings.Join(reasons, "; "), also), next)
		if a.LoadA.Known {
			f.Figures = []finding.Figure{{Key: "design_current_a", Value: a.Segment.DesignCurrentA().Value}}
		}
		for k := range a.Sections {
			if s := &a.Sections[k]; s.Route != nil && s.Rating == nil {
				f.Related = append(f.Related, finding.Related{At: s.Section.At, Message: fmt.Sprintf("section %d, on route %q", k+1, s.Route.Name)})
			}
		}
		r.Find(f)
	}
}
