// Package iec60287 is the rating set that computes capacities from first principles
// after IEC 60287, with the reference conditions of IEC 60364-5-52.
package iec60287

import (
	"fmt"
	"sync"

	"trefoil/ratings"
	"trefoil/ratings/computed"
	"trefoil/ratings/conductor"
	"trefoil/ratings/iec60364"
	"trefoil/ratings/thermal"
)

// Set is the rating set "iec-60287".
var Set = sync.OnceValue(func() ratings.Set {
	return &computed.Set{
		About: ratings.Info{
			Name:   "iec-60287",
			Family: "iec",
			Title:  "computed after IEC 60287-1-1, 60287-2-1 and 60287-2-2",
			Scope:  "unarmoured cables of 0.6/1 kV in free air, on a surface, in conduit, and in the ground; groups in the ground by mutual heating, in free air up to three side by side; not several circuits in one enclosure",
			AirC:   30, SoilC: 20, SoilKmW: 2.5, DepthM: 0.7,
		},
		Ref:    "IEC 60287-1-1 clause 1.4.1, computed",
		Limit:  conductor.TemperatureC,
		Group:  group,
		Z:      impedance,
		Fuse:   iec60364.Fuse,
		Tables: append(thermal.Files(), conductor.Files()...),
	}
})

func group(l computed.Laid) (ratings.Factor, *ratings.Gap) {
	n := l.Group.Circuits
	switch {
	case l.Laying.Where == thermal.Buried || l.Laying.Where == thermal.BuriedDuct:
		return computed.InGround(l)
	case l.Laying.Where == thermal.Enclosed, l.Place.Spacing == "bunched":
		return ratings.Factor{}, &ratings.Gap{
			Reason: fmt.Sprintf("IEC 60287 has no relation for %d circuits in one enclosure or bunch", n),
			Next:   "use a table set for enclosures, or give each circuit its own",
		}
	case l.Place.Tiers > 1:
		return ratings.Factor{}, &ratings.Gap{Reason: "the thermal model here has no trays above each other", Next: "state each tray as a route of its own, 300 mm and more apart"}
	}
	f, gap := thermal.AirFactor(l.Alone, l.Cable, l.Laying, n, 1000*l.Clear.Or(0)/l.Cable.OuterMM)
	if gap != nil {
		return ratings.Factor{}, gap
	}
	return ratings.Factor{Name: "grouping", Value: f, Ref: ratings.Ref{Text: "IEC 60287-2-2 Table 1", Status: ratings.Memory}, Why: fmt.Sprintf("%d circuits side by side", n)}, nil
}

func impedance(c ratings.Circuit, _ ratings.Place) (ratings.Impedance, *ratings.Gap) {
	temp, ok := conductor.TemperatureC(c.Insulation)
	if !ok {
		return ratings.Impedance{}, &ratings.Gap{Reason: fmt.Sprintf("the working temperature of insulation %q is not known", c.Insulation)}
	}
	z := ratings.Impedance{ConductorC: temp}
	r, ref, gap := conductor.ResistanceOhmKM(c, temp)
	if gap != nil {
		return z, gap
	}
	x, gap := computed.ReactanceOhmKM(c)
	if gap != nil {
		return z, gap
	}
	z.ROhmKM, z.RRef = r, ref
	z.XOhmKM, z.XRef = x, ratings.Ref{Text: "computed from geometry", Status: ratings.Computed}
	return z, nil
}
