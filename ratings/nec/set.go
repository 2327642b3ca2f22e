// Package nec is the rating set of the NEC:2023: ampacities of Table 310.16, ambient
// and adjustment factors of 310.15, terminal temperatures of 110.14(C), the 125 % of
// 690.8 and 705.28 for inverter output, and the impedances of Chapter 9 Table 9.
package nec

import (
	"embed"
	"fmt"
	"math"
	"strconv"
	"sync"

	"trefoil/ratings"
	"trefoil/ratings/methods"
	"trefoil/ratings/quantity"
	"trefoil/ratings/table"
)

//go:embed *.csv
var files embed.FS

// Read gives a table file of this package.
func Read(name string) ([]byte, error) { return files.ReadFile(name) }

// Set is the rating set "nec:2023".
var Set = sync.OnceValue(func() ratings.Set {
	s, err := build()
	if err != nil {
		panic(err) // the files come with the program, and a test reads them all
	}
	return s
})

type set struct {
	ampacity map[string][]table.Cell // trade size -> copper 60 75 90, aluminium 60 75 90
	r, x     map[string]table.Cell   // "4/0 AWG/copper" -> ohm per 1000 ft
	ambient  map[string]*table.Series
	adjust   *table.Series
	listing  []ratings.File
}

// perKM turns ohm per 1000 ft into ohm/km.
const perKM = 1000 / 304.8

func build() (*set, error) {
	l := methods.NewLibrary(Read)
	s := &set{ampacity: map[string][]table.Cell{}, r: map[string]table.Cell{}, x: map[string]table.Cell{}, ambient: map[string]*table.Series{}}
	t := l.Table("310-16.csv")
	for i := range t.Rows {
		size := t.At(i, "size").Text + " " + t.At(i, "unit").Text
		for _, c := range []string{"copper_60", "copper_75", "copper_90", "aluminium_60", "aluminium_75", "aluminium_90"} {
			s.ampacity[size] = append(s.ampacity[size], t.At(i, c))
		}
	}
	for _, c := range []string{"60", "75", "90"} {
		s.ambient[c] = l.Column("310-15-b-1.csv", "ambient_c", c, "")
	}
	s.adjust = l.Column("310-15-c-1.csv", "conductors", "percent", "")
	z := l.Table("ch9-9.csv")
	for i := range z.Rows {
		size := z.At(i, "size").Text + " " + z.At(i, "unit").Text
		s.x[size] = z.At(i, "x")
		for _, m := range []string{"copper", "aluminium"} {
			s.r[size+"/"+m] = z.At(i, m)
		}
	}
	l.Table("ch9-8.csv")
	l.Table("250-122.csv")
	s.listing = l.Listing()
	return s, l.Err()
}

func (s *set) Info() ratings.Info {
	return ratings.Info{
		Name:   "nec:2023",
		Family: "nec",
		Title:  "NEC:2023, Article 310, and Chapter 9 Table 9",
		Scope:  "copper and aluminium in AWG and kcmil by Table 310.16: raceways, covered trays, direct buried; open trays and free air by the same table, on the safe side",
		AirC:   30, SoilC: 30, SoilKmW: 0.9, DepthM: 0.9,
		ContinuousShare: 1.25, ContinuousRef: "NEC:2023 690.8(B) and 705.28(B)",
	}
}

func (s *set) Files() []ratings.File { return s.listing }

// column is the temperature column of an insulation.
func column(insulation string) (string, bool) {
	switch insulation {
	case "pvc-70":
		return "60", true // the next column on the safe side
	case "pvc-75":
		return "75", true
	case "pvc-90", "xlpe-90", "epr-90":
		return "90", true
	}
	return "", false
}

var columns = map[string]int{"60": 0, "75": 1, "90": 2}

func (s *set) cell(c ratings.Circuit, col string) (table.Cell, ratings.Ref, *ratings.Gap) {
	ref := "NEC:2023 Table 310.16, " + c.Conductor + " " + col + " degC"
	row, ok := s.ampacity[c.Size.Trade]
	if !ok {
		next := "state size_awg or size_kcmil"
		if c.Size.Trade != "" {
			next = "choose 14 AWG to 4/0 AWG or 250 to 2000 kcmil as the table has them"
		}
		return table.Cell{}, ratings.Ref{}, &ratings.Gap{Reason: fmt.Sprintf("NEC:2023 Table 310.16 has no %s", c.Size), Next: next}
	}
	k := columns[col]
	switch c.Conductor {
	case "copper":
	case "aluminium":
		k += 3
	default:
		return table.Cell{}, ratings.Ref{}, &ratings.Gap{Reason: fmt.Sprintf("NEC:2023 Table 310.16 has no conductor of %q", c.Conductor)}
	}
	if !row[k].Number() {
		return table.Cell{}, ratings.Ref{}, &ratings.Gap{Reason: fmt.Sprintf("%s has no figure for %s", ref, c.Size), Next: "choose a larger size or copper"}
	}
	return row[k], ratings.Ref{Text: ref, Status: row[k].Status}, nil
}

// Adjustment is the factor for so many current-carrying conductors together, Table
// 310.15(C)(1): 1 to three, 0.80 to six, 0.70 to nine and so on.
func Adjustment(conductors int) (float64, ratings.Ref) {
	s := Set().(*set)
	cell, _, ok := s.adjust.Up(float64(max(conductors, 1)))
	if !ok {
		_, cell = s.adjust.Last()
	}
	return cell.Value / 100, ratings.Ref{Text: s.adjust.Ref, Status: cell.Status}
}

// rooftopC is what sun adds to a raceway or cable less than 23 mm above a roof,
// 310.15(B)(2): 33 degC; none from there on.
const (
	rooftopC  = 33
	rooftopMM = 23
)

// Rate answers for one section of one leg.
func (s *set) Rate(c ratings.Circuit, p ratings.Place, g ratings.Group) (ratings.Rating, *ratings.Gap) {
	r := ratings.Rating{Basis: "table", Method: "raceway, cable or earth"}
	col, ok := column(c.Insulation)
	if !ok {
		return r, &ratings.Gap{Reason: fmt.Sprintf("NEC:2023 Table 310.16 has no column for insulation %s", c.Insulation), Next: "choose pvc-75, pvc-90, xlpe-90 or epr-90"}
	}
	if c.Loaded != 2 && c.Loaded != 3 {
		return r, &ratings.Gap{Reason: fmt.Sprintf("no circuit has %d loaded conductors", c.Loaded)}
	}
	if c.ThirdPct > 15 {
		return r, &ratings.Gap{Reason: "the neutral counts as a loaded conductor at this share of third harmonic, 310.15(E), which is not worked out here", Next: "use another rating set for this run"}
	}
	below := p.Laid == "buried" || p.Laid == "buried-duct"
	switch p.Laid {
	case "conduit", "trunking", "buried", "buried-duct":
	case "perforated-tray", "solid-tray", "ladder", "basket", "clipped", "standoff", "free-air":
		if !p.Lid {
			r.Notes = append(r.Notes, ratings.Note{Kind: "free-air-rated-lower", Text: "it lies open and is rated by Table 310.16 all the same, which is on the safe side; lay a table for free air over the set to use more"})
		}
	default:
		return r, &ratings.Gap{Reason: fmt.Sprintf("NEC:2023 Table 310.16 does not cover laid = %q", p.Laid), Next: "lay a table of your own over the set"}
	}
	if below {
		if k := p.SoilKmW.Or(0.9); !quantity.AtMost(k, 0.9) {
			return r, &ratings.Gap{Reason: fmt.Sprintf("NEC:2023 Table 310.16 is for soil of 0.9 K.m/W (from memory), and here it is %g", k), Next: "use a set with soil factors, or state capacity_a of the cable"}
		}
		if d := p.DepthM.Or(0.9); !quantity.AtMost(d, 0.9) && !p.DepthFactor.Known {
			return r, &ratings.Gap{Reason: fmt.Sprintf("NEC:2023 has no factor here for a depth of %s", quantity.Metre.Print(d)), Next: "state depth_factor and depth_factor_origin on the route"}
		}
	}
	cell, ref, gap := s.cell(c, col)
	switch {
	case c.CapacityA.Known:
		r.Basis, r.TabulatedA, r.Ref = "user-table", c.CapacityA.Value, ratings.Ref{Text: c.DataOrigin, Status: ratings.Given}
	case gap != nil:
		return r, gap
	default:
		r.TabulatedA, r.Ref = cell.Value, ref
	}
	r.CapacityA = r.TabulatedA
	add := func(f ratings.Factor) {
		r.Factors = append(r.Factors, f)
		r.CapacityA *= f.Value
	}
	name, temp, why := "ambient-air", p.AirC.Or(30), ""
	if below {
		name, temp = "ambient-soil", p.SoilC.Or(30)
	}
	why = quantity.Celsius.Print(temp)
	if p.Sun && !below {
		adds := p.SunAddsC.Or(rooftopC)
		if !p.SunAddsC.Known {
			if p.StandoffMM.Known && p.StandoffMM.Value >= rooftopMM {
				adds = 0
			} else {
				r.Notes = append(r.Notes, ratings.Note{Kind: "sun-assumed", Text: "it lies in the sun, and standoff_mm does not say that it is 23 mm or more above the roof; 33 degC are added, 310.15(B)(2)"})
			}
		}
		if adds > 0 {
			temp += adds
			why += fmt.Sprintf(" and %s for the sun", quantity.Celsius.Print(adds))
		}
	}
	if temp != 30 {
		k := s.ambient[col]
		f, _, ok := k.Up(temp)
		if !ok {
			last, _ := k.Last()
			return r, &ratings.Gap{Reason: fmt.Sprintf("%s ends at %g degC for %s degC conductors, and here it is %g", k.Ref, last, col, temp), Next: "shade or cool the route"}
		}
		add(ratings.Factor{Name: name, Value: f.Value, Ref: ratings.Ref{Text: k.Ref, Status: f.Status}, Why: why})
	}
	n := max(g.Conductors, c.Loaded)
	if g.Conductors == 0 {
		n = max(g.Circuits, 1) * c.Loaded
	}
	exempt := !below && methods.Exempt(c, p, g)
	if k, ref := Adjustment(n); k != 1 && !exempt {
		add(ratings.Factor{Name: "grouping", Value: k, Ref: ref, Why: fmt.Sprintf("%d current-carrying conductors", n)})
	}
	if p.DepthFactor.Known && below {
		add(ratings.Factor{Name: "depth", Value: p.DepthFactor.Value, Ref: ratings.Ref{Text: p.DepthFactorOrigin, Status: ratings.Given}})
	}
	if p.ExtraFactor.Known {
		add(ratings.Factor{Name: "user", Value: p.ExtraFactor.Value, Ref: ratings.Ref{Text: p.ExtraFactorReason, Status: ratings.Given}})
	}
	if c.CapacityA.Known {
		return r, nil
	}
	s.terminals(&r, c, col)
	return r, nil
}

// terminals caps the ampacity by the terminals, 110.14(C): 60 degC up to 100 A or 1
// AWG, 75 degC above, unless the design states more (from memory); and keeps the
// continuous current to the unadjusted ampacity over 1.25.
func (s *set) terminals(r *ratings.Rating, c ratings.Circuit, col string) {
	limit := "60"
	if area, err := quantity.AWG("1"); err == nil && c.Size.MM2 > area.MM2*(1+1e-9) {
		limit = "75"
	}
	why := "terminals taken for " + limit + " degC"
	if c.TerminalC.Known {
		limit, why = "60", fmt.Sprintf("terminals stated for %s", quantity.Celsius.Print(c.TerminalC.Value))
		for _, t := range []int{75, 90} {
			if c.TerminalC.Value >= float64(t) {
				limit = strconv.Itoa(t)
			}
		}
	}
	if columns[limit] > columns[col] {
		limit = col
	}
	cell, ref, gap := s.cell(c, limit)
	if gap != nil {
		return
	}
	ref.Text += ", 110.14(C)"
	r.ContinuousA, r.ContinuousRef = quantity.Of(cell.Value/1.25), ratings.Ref{Text: ref.Text + ", over 1.25", Status: cell.Status}
	if cell.Value < r.CapacityA {
		r.Factors = append(r.Factors, ratings.Factor{Name: "terminal-temperature", Value: cell.Value / r.CapacityA, Ref: ref, Why: why})
		r.CapacityA = cell.Value
	}
}

// Impedance of one leg in PVC conduit: Chapter 9 Table 9, 75 degC, 60 Hz; reactance in
// proportion to the frequency.
func (s *set) Impedance(c ratings.Circuit, _ ratings.Place) (ratings.Impedance, *ratings.Gap) {
	z := ratings.Impedance{ConductorC: 75}
	r, x := s.r[c.Size.Trade+"/"+c.Conductor], s.x[c.Size.Trade]
	given := ratings.Ref{Text: c.DataOrigin, Status: ratings.Given}
	if (!r.Number() && !c.ROhmKM.Known) || (!x.Number() && !c.XOhmKM.Known) {
		return z, &ratings.Gap{Reason: fmt.Sprintf("NEC:2023 Chapter 9 Table 9 has no %s %s", c.Conductor, c.Size), Next: "state size_awg or size_kcmil, or r_ohm_km and x_ohm_km in a data block of the cable"}
	}
	f := c.FrequencyHz
	if f == 0 {
		f = 60
	}
	ref := ratings.Ref{Text: "NEC:2023 Chapter 9 Table 9", Status: ratings.Published}
	z.ROhmKM, z.RRef = r.Value*perKM, ref
	z.XOhmKM, z.XRef = x.Value*perKM*f/60, ref
	if c.ROhmKM.Known {
		z.ROhmKM, z.RRef = c.ROhmKM.Value, given
	}
	if c.XOhmKM.Known {
		z.XOhmKM, z.XRef = c.XOhmKM.Value, given
	}
	return z, nil
}

// standard ratings of overcurrent devices, 240.6(A), from memory, A.
var standard = []float64{15, 20, 25, 30, 35, 40, 45, 50, 60, 70, 80, 90, 100, 110, 125, 150, 175, 200, 225, 250, 300, 350, 400, 450, 500, 600, 700, 800}

// NeedsA is the least ampacity that a device protects: up to 800 A the next standard
// rating above the ampacity is allowed, 240.4(B) (from memory), so it must be above
// the standard rating before; beyond 800 A it must be the rating itself.
func (s *set) NeedsA(p ratings.Protection) (float64, ratings.Ref, *ratings.Gap) {
	switch p.Kind {
	case "mcb", "mccb", "fuse":
	default:
		return 0, ratings.Ref{}, &ratings.Gap{Reason: fmt.Sprintf("no rule for a device of kind %q", p.Kind), Next: `write kind = "mcb", "mccb" or "fuse"`}
	}
	if p.RatedA > 800 {
		return p.RatedA, ratings.Ref{Text: "NEC:2023 240.4(C)", Status: ratings.Memory}, nil
	}
	for i, v := range standard {
		if math.Abs(v-p.RatedA) < 1e-9 && i > 0 {
			return standard[i-1] * (1 + 1e-6), ratings.Ref{Text: "NEC:2023 240.4(B), above the standard rating before", Status: ratings.Memory}, nil
		}
	}
	return p.RatedA, ratings.Ref{Text: "NEC:2023 240.4", Status: ratings.Memory}, nil
}
