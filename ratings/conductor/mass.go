package conductor

import (
	"fmt"
	"math"

	"trefoil/ratings"
)

// Densities in kg/dm3, all from memory: copper and aluminium as drawn, XLPE, EPR and
// PVC as compounded for cables, and the fillers between laid-up cores (polypropylene).
var density = map[string]float64{"copper": 8.89, "aluminium": 2.70, "xlpe": 0.92, "epr": 1.35, "pvc": 1.40, "sheath": 1.40, "filler": 0.91}

// MetalKgM is the mass of the metal of one metre of conductor, kg/m, of its nominal area;
// false for a metal that is not known.
func MetalKgM(metal string, mm2 float64) (float64, bool) {
	d, known := density[metal]
	return mm2 * d / 1000, known
}

// MassKgM is the mass of one metre of a cable without armour, kg/m, from its
// construction: conductors of their nominal area, insulation and sheath (taken as PVC)
// as rings, and fillers in what is left inside of the sheath. earthMM2 is the area of
// each of earths cores, 0 for that of the others; their insulation is taken as that of
// the others. Two published masses bear it out within 2 % (mass_test.go).
func MassKgM(c ratings.Circuit, earths int, earthMM2 float64) (float64, *ratings.Gap) {
	if c.Armour != "" && c.Armour != "none" {
		return 0, &ratings.Gap{Reason: "the mass of an armoured cable is not worked out", Next: "state kg_m in a data block of the cable"}
	}
	b, gap := Construct(c)
	if gap == nil && (b.ConductorMM <= 0 || b.InsulationMM <= 0) {
		gap = &ratings.Gap{Reason: fmt.Sprintf("no construction data for %s of %s", c.Insulation, c.Size), Next: "state kg_m in a data block of the cable"}
	}
	if gap != nil {
		return 0, &ratings.Gap{Reason: gap.Reason, Next: "state kg_m in a data block of the cable"}
	}
	cores := max(c.Cores, 1)
	if c.Build == "single-core" {
		cores, earths = 1, 0
	}
	if earthMM2 <= 0 {
		earthMM2 = c.Size.MM2
	}
	metal := float64(cores-earths)*c.Size.MM2 + float64(earths)*earthMM2
	core := b.ConductorMM + 2*b.InsulationMM
	insulation := float64(cores) * math.Pi * (b.ConductorMM + b.InsulationMM) * b.InsulationMM
	sheath := math.Pi * (b.OuterMM - b.SheathMM) * b.SheathMM
	inside := b.OuterMM - 2*b.SheathMM
	filler := math.Max(0, math.Pi/4*(inside*inside-float64(cores)*core*core))
	if cores == 1 {
		filler = 0 // what is left there is the tolerance of a stated diameter
	}
	return (metal*density[c.Conductor] + insulation*density[insulant(c.Insulation)] + sheath*density["sheath"] + filler*density["filler"]) / 1000, nil
}
