package rules

import (
	"fmt"

	"trefoil/lint/engine"
	"trefoil/lint/finding"
)

// DeviceMissing notes a run without a protective device.
var DeviceMissing = &engine.Rule{
	Name: "device-missing", Summary: "no protective device is stated on a run", Severity: finding.Note,
	Clause: engine.Clause{Publication: "IEC 60364-4-43", Edition: "2008", Number: "clause 433.2"}, Wide: true, Since: "0.1.0", Check: deviceMissing,
	Doc: engine.Doc{
		Checks: "That each run states a device.",
		Why:    "Without one, overload protection of the run is not checked, and that must be known to whoever reads that nothing was found.",
		Blind:  "A device of the network in front of the point of supply.", Sources: "Common practice.", Bad: "without", Good: "with",
	},
}

func deviceMissing(r *engine.Review) {
	if r.Design.Broken {
		return
	}
	for a := range r.EachRun() {
		run := a.Run
		if len(run.Devices) == 0 {
			r.Find(r.At(run.At, run.Subject(), fmt.Sprintf("run %q states no protective device, so its overload protection is not checked", run.Name), "add a device block"))
		}
	}
}
