// Package thermal works out current ratings from first principles, after IEC
// 60287-1-1 and IEC 60287-2-1: alternating current at low voltage, continuous load,
// cables without screen or armour. The relations and most constants are from memory
// of those standards; what can be held against print is held in tests.
//
// Choices that the standard leaves open are fields of Laying with a documented
// default. There is no factor to fit results.
package thermal

import (
	_ "embed"
	"fmt"
	"math"
	"sync"

	"trefoil/ratings"
	"trefoil/ratings/conductor"
	"trefoil/ratings/quantity"
	"trefoil/ratings/table"
)

// Surroundings of a cable.
type Surroundings uint8

// A cable lies in free air, in an enclosure in air, direct in the ground, or in a duct in the ground.
const (
	FreeAir Surroundings = iota
	Enclosed
	Buried
	BuriedDuct
)

// Laying is how one circuit is laid, alone.
type Laying struct {
	Where       Surroundings
	Arrangement string  // in free air: a row of the dissipation table; single-core in the ground: trefoil | flat | flat-spaced | two-touching
	AmbientC    float64 // of the air or the soil
	Sun         bool    // in air
	SoilKmW     float64 // in the ground
	DepthM      float64 // from the ground to the axis of the cable, duct or group

	DuctInsideMM, DuctOutsideMM quantity.Maybe // unknown: the least conduit or duct of the table whose bore is 1.5 diameters of the cable or group
	RiseC                       float64        // added to the ambient by other circuits
}

// Constants of the model that are choices or remembered figures.
const (
	insolation    = 1000.0 // W/m2, IEC 60287-1-1, where no local figure is known (from memory)
	absorption    = 0.6    // of a PVC sheath, IEC 60287-1-1 Table 4 (from memory)
	fillerKmW     = 6.0    // fillers of multicore cables, IEC 60287-2-1 Table 1: 6 to 13; the extruded filling of low-voltage cables, not fibrous polypropylene (10)
	ductWallKmW   = 6.0    // PVC, IEC 60287-2-1 Table 1 (from memory; one print has 7)
	boreOverOuter = 1.5    // least bore of a duct over the diameter of what lies in it: laying instructions of Nexans Germany
)

// Thermal resistivities of insulation and sheath, K.m/W, IEC 60287-2-1 Table 1, as
// printed in A. Rifaldi, Disipacion del calor de los cables aislados, Universidad
// Nacional de La Plata.
func resistivity(insulation string) (float64, bool) {
	switch insulation {
	case "xlpe-90", "xlpe-110", "epr-90":
		return 3.5, true
	case "pvc-70", "pvc-75", "pvc-90":
		return 5, true
	}
	return 0, false
}

const sheathKmW = 5.0 // PVC, to 35 kV

//go:embed dissipation.csv
var dissipationText []byte

//go:embed duct.csv
var ductText []byte

//go:embed geometric.csv
var geometricText []byte

//go:embed conduit.csv
var conduitText []byte

//go:embed group-diameter.csv
var groupText []byte

type surface struct{ z, e, g float64 }

type constants struct {
	files     []*table.Table
	air       map[string]surface
	duct      struct{ u, v, y float64 }
	geometric *table.Table
	conduits  [][2]float64 // inside, outside; rising
	group     map[int]float64
}

var load = sync.OnceValue(func() *constants {
	c := &constants{air: map[string]surface{}, group: map[int]float64{}}
	read := func(name string, text []byte) *table.Table {
		t := table.Must(name, text)
		c.files = append(c.files, t)
		return t
	}
	d := read("dissipation.csv", dissipationText)
	for i := range d.Rows {
		c.air[d.At(i, "arrangement").Text] = surface{d.At(i, "Z").Value, d.At(i, "E").Value, d.At(i, "g").Value}
	}
	u := read("duct.csv", ductText)
	for i := range u.Rows {
		if u.At(i, "duct").Text == "plastic" {
			c.duct.u, c.duct.v, c.duct.y = u.At(i, "U").Value, u.At(i, "V").Value, u.At(i, "Y").Value
		}
	}
	c.geometric = read("geometric.csv", geometricText)
	k := read("conduit.csv", conduitText)
	for i := range k.Rows {
		c.conduits = append(c.conduits, [2]float64{k.At(i, "inside").Value, k.At(i, "outside").Value})
	}
	g := read("group-diameter.csv", groupText)
	for i := range g.Rows {
		c.group[int(g.At(i, "cables").Value)] = g.At(i, "diameters").Value
	}
	return c
})

// Files lists the table files of the model.
func Files() []ratings.File {
	var list []ratings.File
	for _, t := range load().files {
		list = append(list, t.File())
	}
	return list
}

// Cable is a circuit's cable as the model sees it.
type Cable struct {
	conductor.Construction
	Circuit  ratings.Circuit
	InCable  int     // loaded conductors in one cable
	Cables   int     // cables of the circuit
	LimitC   float64 // greatest conductor temperature
	T1, T3   float64 // K.m/W: insulation, a conductor; sheath, a cable
	SheathMM float64
}

func gap(next, format string, args ...any) *ratings.Gap {
	return &ratings.Gap{Reason: fmt.Sprintf(format, args...), Next: next}
}

// NewCable builds the cable of a circuit: its construction and what lies inside it.
func NewCable(c ratings.Circuit) (*Cable, *ratings.Gap) {
	limit, ok := conductor.TemperatureC(c.Insulation)
	rhoI, also := resistivity(c.Insulation)
	if !ok || !also {
		return nil, gap("", "the thermal model knows no insulation %q", c.Insulation)
	}
	if c.Loaded != 2 && c.Loaded != 3 {
		return nil, gap("", "the thermal model has no cable with %d loaded conductors", c.Loaded)
	}
	if c.Armour != "" && c.Armour != "none" {
		return nil, gap("choose a cable without armour, or lay a table of your own over the set", "the thermal model does not cover armoured cables")
	}
	b, missing := conductor.Construct(c)
	if missing != nil {
		return nil, missing
	}
	k := &Cable{Construction: b, Circuit: c, InCable: 1, Cables: c.Loaded, LimitC: limit}
	d, ti := b.ConductorMM, b.InsulationMM
	if d <= 0 || ti <= 0 || b.OuterMM <= d+2*ti {
		return nil, gap("correct conductor_mm, insulation_mm and outer_mm in the data of the cable", "a cable of %s over a conductor of %s with %s of insulation cannot be", quantity.Milli.Print(b.OuterMM), quantity.Milli.Print(d), quantity.Milli.Print(ti))
	}
	sheath := b.SheathMM
	if c.Build == "multicore" {
		k.InCable, k.Cables = c.Loaded, 1
		g, ok := geometricFactor(ti/d, c.Cores, c.Loaded)
		if !ok {
			return nil, gap("", "no geometric factor for a cable of %d cores with %d loaded, insulation %.3g of the conductor's diameter", c.Cores, c.Loaded, ti/d)
		}
		k.T1 = rhoI*g/(2*math.Pi) + 0.031*(fillerKmW-rhoI)*math.Exp(0.67*ti/d)
	} else {
		k.T1 = rhoI / (2 * math.Pi) * math.Log(1+2*ti/d)
	}
	under := b.OuterMM - 2*sheath
	if sheath <= 0 || under <= 0 {
		return nil, gap("correct sheath_mm and outer_mm in the data of the cable", "a sheath of %s cannot lie on a cable of %s", quantity.Milli.Print(sheath), quantity.Milli.Print(b.OuterMM))
	}
	k.SheathMM = sheath
	k.T3 = sheathKmW / (2 * math.Pi) * math.Log(1+2*sheath/under)
	if !quantity.Finite(k.T1) || !quantity.Finite(k.T3) || k.T1 <= 0 || k.T3 <= 0 {
		return nil, gap("", "the thermal resistances of the cable come out as %g and %g K.m/W", k.T1, k.T3)
	}
	return k, nil
}

// geometricFactor interpolates G between rows on a logarithmic scale. A cable
// with an earth core counts the cores that are laid up.
func geometricFactor(x float64, cores, loaded int) (float64, bool) {
	column := fmt.Sprintf("%d_%d", max(cores, loaded), loaded)
	if cores >= 3 && loaded == 2 {
		column = "2_2" // the earth core of a two-core cable carries no heat
	}
	t := load().geometric
	if !t.Has(column) {
		return 0, false
	}
	for i := 1; i < len(t.Rows); i++ {
		a, b := t.At(i-1, "ti_over_dc").Value, t.At(i, "ti_over_dc").Value
		if x < a || x > b {
			continue
		}
		share := math.Log(x/a) / math.Log(b/a)
		return t.At(i-1, column).Value + share*(t.At(i, column).Value-t.At(i-1, column).Value), true
	}
	return 0, false
}

// Result is the rating of one circuit with its intermediates.
type Result struct {
	CurrentA float64 // of one conductor
	ROhmM    float64 // a.c., at the conductor's temperature
	T4       float64 // K.m/W, outside of the cable, for the heat of one cable
	SurfaceC float64 // of the cable
	LossWM   float64 // of one cable
	Steps    []ratings.Step
}

func step(symbol, meaning, unit string, value float64, clause string) ratings.Step {
	return ratings.Step{Symbol: symbol, Meaning: meaning, Unit: unit, Value: value, Ref: ratings.Ref{Text: clause, Status: ratings.Computed}}
}

// Rate gives the greatest current of a circuit laid alone, A in each conductor, at
// which its conductor keeps to its limit.
func Rate(k *Cable, l Laying) (Result, *ratings.Gap) { return rate(k, l, k.LimitC) }

// rate is Rate for any conductor temperature.
func rate(k *Cable, l Laying, tempC float64) (Result, *ratings.Gap) {
	ambient := l.AmbientC + l.RiseC
	rise := tempC - ambient
	if !quantity.Finite(rise) || rise <= 0 {
		return Result{}, gap("lower the ambient temperature", "the surroundings are at %s, and the conductor may reach %s", quantity.Celsius.Print(ambient), quantity.Celsius.Print(tempC))
	}
	ohmKM, _, missing := conductor.ResistanceOhmKM(k.Circuit, tempC)
	if missing != nil {
		return Result{}, missing
	}
	r := Result{ROhmM: ohmKM / 1000}
	n := float64(k.InCable)
	inside := k.T1 + n*k.T3
	var sunRise float64 // what sun takes of the permissible rise
	switch l.Where {
	case FreeAir:
		s, ok := load().air[l.Arrangement]
		if !ok {
			return Result{}, gap("", "the dissipation table has no row for %q", l.Arrangement)
		}
		de := k.OuterMM / 1000
		h := s.z/math.Pow(de, s.g) + s.e
		sun := 0.0
		if l.Sun {
			sun = absorption * insolation * de // W/m
		}
		x, ok := surfaceRise(rise, sun, math.Pi*de*h, k.T1/n+k.T3)
		if !ok {
			return Result{}, gap("shade the route, or lower the ambient temperature", "in the sun alone the cable would pass its limit")
		}
		r.T4 = 1 / (math.Pi * de * h * math.Pow(x, 0.25))
		sunRise = sun * r.T4
		r.Steps = append(r.Steps, step("h", "heat dissipation coefficient", "W/(m2.K^1.25)", h, "IEC 60287-2-1 clause 4.2.1.1"))
	case Enclosed, BuriedDuct:
		t4, steps, missing := inDuct(k, l, rise, inside)
		if missing != nil {
			return Result{}, missing
		}
		r.T4, r.Steps = t4, append(r.Steps, steps...)
	case Buried:
		t4, missing := inGround(k, l)
		if missing != nil {
			return Result{}, missing
		}
		r.T4 = t4
	}
	heat := (rise - sunRise) / (r.ROhmM * (inside + n*r.T4))
	if !(heat > 0) || !quantity.Finite(heat) {
		return Result{}, gap("", "no current is left for this laying")
	}
	r.CurrentA = math.Sqrt(heat)
	r.LossWM = n * heat * r.ROhmM
	r.SurfaceC = tempC - heat*r.ROhmM*inside
	ys, yp := conductor.Effects(k.Circuit, dcOhmKM(k, tempC))
	r.Steps = append([]ratings.Step{
		step("R", "a.c. resistance at conductor temperature", "ohm/km", ohmKM, "IEC 60287-1-1 clause 2.1"),
		step("ys", "skin effect", "", ys, "IEC 60287-1-1 clause 2.1.2"),
		step("yp", "proximity effect", "", yp, "IEC 60287-1-1 clause 2.1.4"),
		step("De", "diameter of the cable", "mm", k.OuterMM, "IEC 60502-1"),
		step("T1", "thermal resistance of the insulation", "K.m/W", k.T1, "IEC 60287-2-1 clause 4.1.2"),
		step("T3", "thermal resistance of the sheath", "K.m/W", k.T3, "IEC 60287-2-1 clause 4.1.4"),
	}, r.Steps...)
	r.Steps = append(r.Steps,
		step("T4", "thermal resistance outside of the cable", "K.m/W", r.T4, "IEC 60287-2-1 clause 4.2"),
		step("ts", "surface temperature of the cable", "degC", r.SurfaceC, "IEC 60287-1-1 clause 1.4"),
		step("W", "losses of one cable", "W/m", r.LossWM, "IEC 60287-1-1 clause 1.4"),
		step("I", "current of one conductor", "A", r.CurrentA, "IEC 60287-1-1 clause 1.4.1"))
	return r, nil
}

func dcOhmKM(k *Cable, tempC float64) float64 {
	r20, _, _ := conductor.DCOhmKM(k.Circuit.Conductor, k.Circuit.Strands, k.Circuit.Size)
	return conductor.DCAt(k.Circuit.Conductor, r20, tempC)
}

// surfaceRise solves for the rise X of a surface above the air, K:
// heat + sun = a X^(5/4) and rise = X + heat t, with a = pi D h and t the thermal
// resistance inside for the heat of the whole cable. False where sun alone is too much.
func surfaceRise(rise, sun, a, t float64) (float64, bool) {
	if a*math.Pow(rise, 1.25) <= sun {
		return 0, false
	}
	low, high := 0.0, rise
	for range 80 { // the balance rises with X: bisection cannot fail
		x := (low + high) / 2
		if heat := a*math.Pow(x, 1.25) - sun; x+heat*t > rise {
			high = x
		} else {
			low = x
		}
	}
	x := (low + high) / 2
	return x, x > 0
}

// Duct is the least conduit or duct of the table whose bore holds a diameter 1.5 times.
func ductFor(k *Cable, l Laying) (inside, outside, diameters float64, missing *ratings.Gap) {
	diameters, ok := load().group[k.Cables]
	if !ok {
		return 0, 0, 0, gap("", "no equivalent diameter for %d cables in one duct", k.Cables)
	}
	need := boreOverOuter * diameters * k.OuterMM
	for _, d := range load().conduits {
		if d[0] >= need {
			inside, outside = d[0], d[1]
			break
		}
	}
	if l.DuctInsideMM.Known {
		inside, outside = l.DuctInsideMM.Value, l.DuctInsideMM.Value*1.11
	}
	if l.DuctOutsideMM.Known {
		outside = l.DuctOutsideMM.Value
	}
	switch {
	case inside == 0:
		return 0, 0, 0, gap("state duct_inside_mm and duct_outside_mm on the route", "no conduit of the table has a bore of %s", quantity.Milli.Print(need))
	case inside < diameters*k.OuterMM*(1-1e-9):
		return 0, 0, 0, gap("choose a larger duct", "a duct of %s bore does not hold a bundle of %s", quantity.Milli.Print(inside), quantity.Milli.Print(diameters*k.OuterMM))
	case outside <= inside:
		return 0, 0, 0, gap("correct duct_outside_mm", "a duct of %s bore is only %s wide outside", quantity.Milli.Print(inside), quantity.Milli.Print(outside))
	}
	return inside, outside, diameters, nil
}

// inDuct works out T4a + T4b + T4c of a circuit in a duct or conduit, for the heat of
// one cable: all cables of the circuit heat the duct.
func inDuct(k *Cable, l Laying, rise, inside float64) (float64, []ratings.Step, *ratings.Gap) {
	bore, outer, diameters, missing := ductFor(k, l)
	if missing != nil {
		return 0, nil, missing
	}
	n, cables := float64(k.InCable), float64(k.Cables)
	t4b := ductWallKmW / (2 * math.Pi) * math.Log(outer/bore)
	c := load().duct
	de := diameters * k.OuterMM
	do := outer / 1000
	var t4c, a float64
	if l.Where == BuriedDuct {
		t4c, missing = isothermal(l, do)
		if missing != nil {
			return 0, nil, missing
		}
	} else {
		s := load().air["single"]
		a = math.Pi * do * (s.z/math.Pow(do, s.g) + s.e)
	}
	t4a := c.u / (1 + 0.1*(c.v+c.y*40)*de)
	sun := 0.0
	if l.Sun && l.Where == Enclosed {
		sun = absorption * insolation * do
	}
	for range 60 { // the mean temperature in the duct moves T4a a little
		// the heat of all cables crosses T4a (per cable bundle), T4b, T4c
		t := inside/(n*cables) + t4a + t4b
		var x, total float64
		if l.Where == Enclosed {
			var ok bool
			if x, ok = surfaceRise(rise, sun, a, t); !ok {
				return 0, nil, gap("shade the route, or lower the ambient temperature", "in the sun alone the conduit would pass the cable's limit")
			}
			total = a*math.Pow(x, 1.25) - sun
			t4c = x / total
		} else {
			total = rise / (t + t4c)
			x = total * t4c
		}
		mean := l.AmbientC + l.RiseC + x + total*t4b + total*t4a/2
		next := c.u / (1 + 0.1*(c.v+c.y*mean)*de)
		if math.Abs(next-t4a) < 1e-12 {
			break
		}
		t4a = next
	}
	steps := []ratings.Step{
		step("Dd", "bore of the duct", "mm", bore, "AS/NZS 2053.2 sizes, or as stated"),
		step("T4a", "thermal resistance from cable to duct", "K.m/W", t4a, "IEC 60287-2-1 clause 4.2.6.2"),
		step("T4b", "thermal resistance of the duct wall", "K.m/W", t4b, "IEC 60287-2-1 clause 4.2.6.3"),
		step("T4c", "thermal resistance outside of the duct", "K.m/W", t4c, "IEC 60287-2-1 clause 4.2.6.4"),
	}
	return cables * (t4a + t4b + t4c), steps, nil
}

// isothermal is the thermal resistance of the ground around a cylinder of diameter d, m.
func isothermal(l Laying, d float64) (float64, *ratings.Gap) {
	switch {
	case !(l.SoilKmW > 0) || !quantity.Finite(l.SoilKmW):
		return 0, gap("state soil_km_w above 0", "a soil of %g K.m/W cannot be", l.SoilKmW)
	case !(l.DepthM > 0) || 2*l.DepthM <= d:
		return 0, gap("state depth_m to the axis", "a cylinder of %s does not lie below ground at %s", quantity.Milli.Print(d*1000), quantity.Metre.Print(l.DepthM))
	}
	u := 2 * l.DepthM / d
	return l.SoilKmW / (2 * math.Pi) * math.Log(u+math.Sqrt(u*u-1)), nil
}

// inGround is T4 of a cable of a circuit direct in the ground, IEC 60287-2-1 clauses 4.2.2 to 4.2.4.
func inGround(k *Cable, l Laying) (float64, *ratings.Gap) {
	de := k.OuterMM / 1000
	own, missing := isothermal(l, de)
	if missing != nil || k.Cables == 1 {
		return own, missing
	}
	u := 2 * l.DepthM / de
	rho := l.SoilKmW
	switch {
	case u < 5:
		return 0, gap("state depth_m to the axis of the group", "a group of cables does not lie below ground at %s", quantity.Metre.Print(l.DepthM))
	case k.Cables == 2:
		return rho / math.Pi * (math.Log(2*u) - 0.295), nil
	case l.Arrangement == "trefoil":
		return rho / (2 * math.Pi) * (math.Log(2*u) + 2*math.Log(u)), nil
	case l.Arrangement == "flat":
		return rho * (0.475*math.Log(2*u) - 0.142), nil
	case l.Arrangement == "flat-spaced": // axes two diameters apart; the middle cable
		return own + 2*rho/(2*math.Pi)*math.Log(math.Sqrt(1+math.Pow(2*l.DepthM/(2*de), 2))), nil
	}
	return 0, gap("", "no thermal resistance for %q in the ground", l.Arrangement)
}

// TemperatureC is the conductor temperature at a current, A in each conductor;
// found by bisection between ambient and 400 degC, an error beyond.
func TemperatureC(k *Cable, l Laying, currentA float64) (float64, *ratings.Gap) {
	low, high := l.AmbientC+l.RiseC, 400.0
	if !(currentA >= 0) || low >= high {
		return 0, gap("", "no temperature follows from %g A at %g degC", currentA, low)
	}
	if r, missing := rate(k, l, high); missing != nil || r.CurrentA < currentA {
		return 0, gap("", "%s would heat the conductor beyond %g degC", quantity.Ampere.Print(currentA), high)
	}
	for range 60 {
		mid := (low + high) / 2
		if r, missing := rate(k, l, mid); missing != nil || r.CurrentA < currentA {
			low = mid
		} else {
			high = mid
		}
	}
	return (low + high) / 2, nil
}

// DuctOuterM is the outside diameter of a circuit's duct, m; 0 where it has none.
func DuctOuterM(k *Cable, l Laying) float64 {
	_, outside, _, missing := ductFor(k, l)
	if missing != nil {
		return 0
	}
	return outside / 1000
}
