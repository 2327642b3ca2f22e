package rules

import (
	"fmt"

	"trefoil/lint/engine"
	"trefoil/lint/finding"
	"trefoil/ratings/quantity"
)

// DeviceAboveCapacity reports a protective device that does not protect its run against overload.
var DeviceAboveCapacity = &engine.Rule{
	Name: "device-above-capacity", Summary: "a protective device does not protect the run against overload", Severity: finding.Error,
	Clause: engine.Clause{Publication: "IEC 60364-4-43", Edition: "2008", Number: "clause 433.1, In <= Iz and I2 <= 1.45 Iz; BS 7671 433.1.1; AS/NZS 3000 clause 2.5.3.1"}, Since: "0.1.0", Check: deviceAboveCapacity,
	Doc: engine.Doc{
		Checks:  "A breaker's setting against the capacity of the run; a fuse by the rule of the set for its conventional current (1.45).",
		Why:     "An overload between capacity and setting is never cleared, and the cable burns at its worst section.",
		Accepts: "the capacity that the device needs in percent of the capacity of the run",
		Blind:   "Whether the device is at the end from which an overload can come. A run told by run-overloaded is not told again here.",
		Sources: "IEC 60364-4-43 clause 433.1; conventional currents of gG fuses by IEC 60269-1, from memory.", Bad: "set-too-high", Good: "coordinated",
	},
}

func deviceAboveCapacity(r *engine.Review) {
	if r.Set == nil {
		return
	}
	for a := range r.EachRun() {
		if !a.CapacityA.Known {
			continue
		}
		s := &a.Sections[a.Governing]
		for k := range a.Run.Devices {
			d := &a.Run.Devices[k]
			p, ok := protection(d)
			if !ok {
				continue
			}
			needs, ref, gap := r.Set.NeedsA(p)
			if gap != nil || quantity.AtMost(needs, a.CapacityA.Value) {
				continue // a device that the set has no rule for is told by run-not-assessed
			}
			need, capacity := quantity.Ampere.Apart(needs, a.CapacityA.Value)
			message := fmt.Sprintf("%s is set at %s, and the run is rated for %s%s", deviceName(a, d), need, capacity, where(a, s))
			if needs != p.RatedA {
				message = fmt.Sprintf("%s of %s needs a capacity of %s (%s), and the run is rated for %s%s", deviceName(a, d), quantity.Ampere.Print(p.RatedA), need, ref.Text, capacity, where(a, s))
			}
			f := r.At(d.RatedA.At, a.Run.Subject(), message+": "+working(r.Review, a, s), "set it lower, or "+advice(s))
			f.Figures = []finding.Figure{{Key: "device_a", Value: p.RatedA}, {Key: "capacity_a", Value: a.CapacityA.Value}}
			f.Percent, f.HasPercent = 100*needs/a.CapacityA.Value, true
			f.Related = append(deviceRelated(a), because(r.Review, a, s)...)
			f.Memory = remembered(s)
			r.Find(f)
		}
	}
}
