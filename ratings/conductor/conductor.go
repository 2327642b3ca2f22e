// Package conductor gives what follows from a conductor and its cable alone:
// resistance at working temperature, diameters, mass.
//
// Resistance is the greatest d.c. resistance of IEC 60228 at 20 degC, carried to
// the working temperature, with skin and proximity effect of IEC 60287-1-1.
package conductor

import (
	_ "embed"
	"fmt"
	"math"
	"sync"

	"trefoil/ratings"
	"trefoil/ratings/quantity"
	"trefoil/ratings/table"
)

//go:embed class-1.csv
var class1Text []byte

//go:embed class-2.csv
var class2Text []byte

//go:embed class-5.csv
var class5Text []byte

//go:embed diameter.csv
var diameterText []byte

//go:embed insulation.csv
var insulationText []byte

// tables are the table files of this package, read once.
type tables struct {
	files      []*table.Table
	resistance map[[2]string]*table.Series // material, strands
	diameter   map[string]*table.Series    // strands, and "fictitious"
	insulation map[string]*table.Series
}

var load = sync.OnceValue(func() *tables {
	t := &tables{resistance: map[[2]string]*table.Series{}, diameter: map[string]*table.Series{}, insulation: map[string]*table.Series{}}
	read := func(name string, text []byte) *table.Table {
		f := table.Must(name, text)
		t.files = append(t.files, f)
		return f
	}
	series := func(f *table.Table, column string) *table.Series {
		s, err := f.Series("size_mm2", column, f.Ref(), nil)
		if err != nil {
			panic(err)
		}
		return s
	}
	one, two, five := read("class-1.csv", class1Text), read("class-2.csv", class2Text), read("class-5.csv", class5Text)
	t.resistance[[2]string{"copper", "solid"}] = series(one, "copper")
	t.resistance[[2]string{"aluminium", "solid"}] = series(one, "aluminium")
	t.resistance[[2]string{"copper", "stranded"}] = series(two, "copper")
	t.resistance[[2]string{"aluminium", "stranded"}] = series(two, "aluminium")
	t.resistance[[2]string{"copper", "flexible"}] = series(five, "copper")
	d := read("diameter.csv", diameterText)
	for _, c := range []string{"stranded", "flexible", "fictitious"} {
		t.diameter[c] = series(d, c)
	}
	i := read("insulation.csv", insulationText)
	for _, c := range []string{"xlpe", "pvc", "epr"} {
		t.insulation[c] = series(i, c)
	}
	return t
})

// Files lists the table files of this package.
func Files() []ratings.File {
	var list []ratings.File
	for _, t := range load().files {
		list = append(list, t.File())
	}
	return list
}

// TemperatureC is the working temperature that an insulation allows its conductor, degC.
func TemperatureC(insulation string) (float64, bool) {
	switch insulation {
	case "pvc-70":
		return 70, true
	case "pvc-75":
		return 75, true
	case "pvc-90", "xlpe-90", "epr-90":
		return 90, true
	case "xlpe-110":
		return 110, true
	}
	return 0, false
}

// Temperature coefficients of resistance at 20 degC, 1/K, IEC 60287-1-1 Table 1:
// published in Shahin Wire and Cable, electrical parameters, and in the Industrial
// Power Engineering and Applications Handbook, p. 970.
var alpha = map[string]float64{"copper": 3.93e-3, "aluminium": 4.03e-3}

// Alpha is the temperature coefficient of resistance at 20 degC, 1/K.
func Alpha(material string) (float64, bool) { a, ok := alpha[material]; return a, ok }

// DCOhmKM is the greatest d.c. resistance at 20 degC, ohm/km, of IEC 60228 by class.
func DCOhmKM(material, strands string, size quantity.Size) (float64, ratings.Ref, *ratings.Gap) {
	s := load().resistance[[2]string{material, strands}]
	if s == nil {
		return 0, ratings.Ref{}, &ratings.Gap{
			Reason: fmt.Sprintf("IEC 60228 has no %s %s conductors", strands, material),
			Next:   "choose copper, or another class of strands",
		}
	}
	c, ok := s.Exact(size.MM2)
	if !ok {
		return 0, ratings.Ref{}, absent(s, size)
	}
	return c.Value, ratings.Ref{Text: s.Ref, Status: c.Status}, nil
}

// absent says that a series has no such size, and names the nearest.
func absent(s *table.Series, size quantity.Size) *ratings.Gap {
	below, above := s.Near(size.MM2)
	near := ""
	switch {
	case math.IsNaN(below):
		near = fmt.Sprintf("the least is %s", quantity.MM2(above))
	case math.IsNaN(above):
		near = fmt.Sprintf("the largest is %s", quantity.MM2(below))
	default:
		near = fmt.Sprintf("%s and %s are the nearest", quantity.MM2(below), quantity.MM2(above))
	}
	return &ratings.Gap{Reason: fmt.Sprintf("%s has no %s for this conductor", s.Ref, size), Next: near}
}

// ResistanceOhmKM is the a.c. resistance of one conductor at a temperature, ohm/km:
// r20 (1 + alpha (t - 20)) (1 + ys + yp), IEC 60287-1-1 clause 2.1, from memory.
// Where the construction of the cable is not known, the conductor's diameter
// follows from its area, at a fill of 0.9 where it is stranded.
func ResistanceOhmKM(c ratings.Circuit, tempC float64) (float64, ratings.Ref, *ratings.Gap) {
	r20, ref, gap := DCOhmKM(c.Conductor, c.Strands, c.Size)
	if gap != nil {
		return 0, ref, gap
	}
	dc := DCAt(c.Conductor, r20, tempC)
	ys, yp := Effects(c, dc)
	return dc * (1 + ys + yp), ref, nil
}

// DCAt carries a d.c. resistance from 20 degC to a temperature.
func DCAt(material string, r20, tempC float64) float64 {
	return r20 * (1 + alpha[material]*(tempC-20))
}

// Effects are skin effect ys and proximity effect yp of a conductor whose d.c.
// resistance at its temperature is rOhmKM; IEC 60287-1-1 clauses 2.1.2 to 2.1.4,
// from memory. ks and kp are 1, as for extruded cables; the published resistances of
// AS/NZS 3008.1.1 Table 35 bear that out for aluminium too (0.2 %; the 0.8 that is
// remembered for stranded aluminium would fall 1.2 % short at 400 mm2).
// s is the distance of axes: dc + 2 ti in a multicore cable, the cable diameter for
// touching single-core cables, twice that for spaced ones.
func Effects(c ratings.Circuit, rOhmKM float64) (ys, yp float64) {
	f := c.FrequencyHz
	if f == 0 {
		f = 50
	}
	d, ok := diameterMM(c)
	if !ok || rOhmKM <= 0 {
		return 0, 0
	}
	x2 := 8 * math.Pi * f * 1e-7 / (rOhmKM / 1000)
	ys = bessel(math.Sqrt(x2))
	s := d + 2*insulationMM(c)
	if c.Build == "single-core" {
		built, gap := Construct(c)
		if gap == nil {
			s = built.OuterMM
		}
		if c.Formation == "flat-spaced" {
			s *= 2
		}
	}
	fp, q := bessel(math.Sqrt(x2)), (d/s)*(d/s)
	if c.Loaded == 2 {
		return ys, 2.9 * fp * q
	}
	return ys, fp * q * (0.312*q + 1.18/(fp+0.27))
}

// bessel is the function of IEC 60287-1-1 clause 2.1.2 (2006 amendment), from memory.
func bessel(x float64) float64 {
	switch {
	case x <= 2.8:
		x4 := x * x * x * x
		return x4 / (192 + 0.8*x4)
	case x <= 3.8:
		return -0.136 - 0.0177*x + 0.0563*x*x
	}
	return 0.354*x - 0.733
}

func diameterMM(c ratings.Circuit) (float64, bool) {
	if c.ConductorMM.Known {
		return c.ConductorMM.Value, c.ConductorMM.Value > 0
	}
	if s := load().diameter[c.Strands]; s != nil {
		if cell, ok := s.Exact(c.Size.MM2); ok {
			return cell.Value, true
		}
	}
	if c.Size.MM2 <= 0 {
		return 0, false
	}
	fill := 0.9
	if c.Strands == "solid" {
		fill = 1
	}
	return math.Sqrt(4 * c.Size.MM2 / fill / math.Pi), true
}

// material of an insulation, as the thickness table has it.
func insulant(insulation string) string {
	switch insulation {
	case "xlpe-90", "xlpe-110":
		return "xlpe"
	case "epr-90":
		return "epr"
	case "pvc-70", "pvc-75", "pvc-90":
		return "pvc"
	}
	return ""
}

func insulationMM(c ratings.Circuit) float64 {
	if c.InsulationMM.Known {
		return c.InsulationMM.Value
	}
	if s := load().insulation[insulant(c.Insulation)]; s != nil {
		if cell, ok := s.Exact(c.Size.MM2); ok {
			return cell.Value
		}
	}
	return 0
}

// Construction of one cable, mm.
type Construction struct {
	ConductorMM, InsulationMM, SheathMM, OuterMM float64
	Stated                                       bool // the outer diameter is the maker's
	Status                                       ratings.Status
}

// Laying-up factors of IEC 60502-1 Annex A, Table A.2, by number of cores.
var layup = map[int]float64{1: 1, 2: 2, 3: 2.16, 4: 2.42, 5: 2.7}

// Construct works out the construction of one cable of 0.6/1 kV without armour
// after IEC 60502-1: conductor and insulation from tables, cores laid up by the
// factors of Annex A, sheath 0.035 D + 1.0 mm rounded to 0.1 mm and at least
// 1.4 mm (single-core) or 1.8 mm (multicore), D by the fictitious diameters; the
// sheath formula is from memory. Figures of the circuit take the place of any of
// these. An armoured cable's diameter must be stated.
func Construct(c ratings.Circuit) (Construction, *ratings.Gap) {
	b := Construction{Status: ratings.Computed}
	if c.OuterMM.Known {
		b.OuterMM, b.Stated, b.Status = c.OuterMM.Value, true, ratings.Given
	}
	d, ok := diameterMM(c)
	ti := insulationMM(c)
	cores := c.Cores
	if c.Build == "single-core" {
		cores = 1
	}
	lay, layOK := layup[cores]
	if !ok || ti <= 0 || !layOK {
		if b.Stated {
			return b, nil
		}
		return b, &ratings.Gap{Reason: fmt.Sprintf("no construction data for %s of %s with %d cores", c.Insulation, c.Size, cores), Next: "state outer_mm in a data block of the cable"}
	}
	b.ConductorMM, b.InsulationMM = d, ti
	fictitious := d
	if cell, ok := load().diameter["fictitious"].Exact(c.Size.MM2); ok {
		fictitious = cell.Value
	}
	least := 1.8
	if cores == 1 {
		least = 1.4
	}
	b.SheathMM = math.Max(least, math.Round((0.035*lay*(fictitious+2*ti)+1)*10)/10)
	if c.SheathMM.Known {
		b.SheathMM = c.SheathMM.Value
	}
	if b.Stated {
		return b, nil
	}
	if c.Armour != "" && c.Armour != "none" {
		return b, &ratings.Gap{Reason: "the diameter of an armoured cable is not worked out", Next: "state outer_mm in a data block of the cable"}
	}
	b.OuterMM = lay*(d+2*ti) + 2*b.SheathMM
	return b, nil
}
