package rules

import (
	"fmt"

	"trefoil/lint/engine"
	"trefoil/lint/finding"
	"trefoil/ratings/quantity"
)

// DeviceBelowCurrent reports a protective device set below the design current.
var DeviceBelowCurrent = &engine.Rule{
	Name: "device-below-current", Summary: "a protective device is set below the design current", Severity: finding.Error,
	Clause: engine.Clause{Publication: "IEC 60364-4-43", Edition: "2008", Number: "clause 433.1, Ib <= In; BS 7671 433.1.1; AS/NZS 3000 clause 2.5.3.1"}, Since: "0.1.0", Check: deviceBelowCurrent,
	Doc: engine.Doc{
		Checks: "The setting of each device of a run against the run's design current, or its demand where that is more, times 1.25 under a set that asks it of devices not rated for full duty (full_rated = true).",
		Why:    "It trips on clear days: sources hold their full current for hours.",
		Blind:  "The heat of the enclosure and of neighbouring devices, which lower what a device carries.", Sources: "IEC 60364-4-43 clause 433.1.", Bad: "set-too-low", Good: "set-above",
	},
}

func deviceBelowCurrent(r *engine.Review) {
	for a := range r.EachRun() {
		if !a.Segment.DesignCurrentA().Known {
			continue
		}
		current := max(a.Segment.DesignCurrentA().Value, a.Segment.DemandA().Or(0))
		for k := range a.Run.Devices {
			d := &a.Run.Devices[k]
			p, ok := protection(d)
			needs, times := current, ""
			if share := r.Info.ContinuousShare; share > 1 && !d.FullRated.Value {
				needs *= share
				times = fmt.Sprintf(" times %s, %s", quantity.Ratio.Print(share), r.Info.ContinuousRef)
			}
			if !ok || quantity.AtMost(needs, p.RatedA) {
				continue
			}
			set, load := quantity.Ampere.Apart(p.RatedA, current)
			f := r.At(d.RatedA.At, a.Run.Subject(), fmt.Sprintf("%s is set at %s, and the run carries %s%s", deviceName(a, d), set, load, times),
				"set it at or above the design current, then look at the capacity of the run")
			f.Figures = []finding.Figure{{Key: "design_current_a", Value: current}, {Key: "device_a", Value: p.RatedA}}
			f.Percent, f.HasPercent = 100*needs/p.RatedA, true
			r.Find(f)
		}
	}
}
