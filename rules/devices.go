package rules

import (
	"fmt"

	"trefoil/lint/assess"
	"trefoil/lint/design"
	"trefoil/lint/engine"
	"trefoil/lint/finding"
	"trefoil/ratings"
)

// protection is what a device asks of the conductors behind it; false where its
// kind or rating is not usable, which is told where it is written.
func protection(d *design.Device) (ratings.Protection, bool) {
	if !d.Kind.Known() || !d.RatedA.Known() || d.FuseType.Origin == design.Faulty {
		return ratings.Protection{}, false
	}
	return ratings.Protection{Kind: d.Kind.Value, FuseType: d.FuseType.Value, RatedA: d.RatedA.Value}, true
}

// devices calls do for every device whose kind is known, with its place in its run.
func devices(r *engine.Review, do func(a *assess.Run, k int, d *design.Device)) {
	for a := range r.EachRun() {
		for k := range a.Run.Devices {
			if d := &a.Run.Devices[k]; d.Kind.Known() {
				do(a, k, d)
			}
		}
	}
}

// singleCore says that a run is of single-core cables.
func singleCore(a *assess.Run) bool {
	return a.Cable != nil && a.Cable.Build.Value == "single-core"
}

func deviceName(a *assess.Run, d *design.Device) string {
	return fmt.Sprintf("the %s of run %q", d.Kind.Value, a.Run.Name)
}

func deviceRelated(a *assess.Run) []finding.Related {
	list := []finding.Related{}
	if a.Run.SizeAt.Known() {
		list = append(list, finding.Related{At: a.Run.SizeAt, Message: "the size of the run"})
	}
	return list
}
