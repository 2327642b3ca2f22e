// Package asnzs3008 is the rating set of AS/NZS 3008.1.1:2017. The standard's printed
// capacities are not at hand, so capacities are computed after IEC 60287 under its
// reference conditions; resistances of multicore cables are its published ones, and
// its grouping factors and reactances are from memory and marked so.
package asnzs3008

import (
	"embed"
	"fmt"
	"math"
	"strconv"
	"sync"

	"trefoil/ratings"
	"trefoil/ratings/computed"
	"trefoil/ratings/conductor"
	"trefoil/ratings/methods"
	"trefoil/ratings/quantity"
	"trefoil/ratings/table"
	"trefoil/ratings/thermal"
)

//go:embed *.csv
var files embed.FS

// Read gives a table file of this package.
func Read(name string) ([]byte, error) { return files.ReadFile(name) }

// Australia is the set "as-nzs-3008.1.1:2017": 40 degC air, 25 degC soil.
var Australia = sync.OnceValue(func() ratings.Set { return set("as-nzs-3008.1.1:2017", "Australia", 40, 25) })

// NewZealand is the set "as-nzs-3008.1.1:2017-nz": 30 degC air, 15 degC soil.
var NewZealand = sync.OnceValue(func() ratings.Set { return set("as-nzs-3008.1.1:2017-nz", "New Zealand", 30, 15) })

func set(name, country string, airC, soilC float64) ratings.Set {
	t, err := open()
	if err != nil {
		panic(err) // the files come with the program, and a test reads them all
	}
	return &computed.Set{
		About: ratings.Info{
			Name:   name,
			Family: "as-nzs",
			Title:  "AS/NZS 3008.1.1:2017, conditions of " + country + "; capacities computed, not the printed tables",
			Scope:  "unarmoured cables of 0.6/1 kV: capacities computed after IEC 60287, grouping in air by Tables 22 to 24 (from memory), in the ground by Tables 25 (from memory) or computed; not in thermal insulation",
			AirC:   airC, SoilC: soilC, SoilKmW: 1.2, DepthM: 0.5,
			SupersededBy: "AS/NZS 3008.1.1:2025", SupersededFrom: "mandatory in Australia from 19 June 2026",
			SupersededRef: "GSES, AS/NZS 3008 updates for solar cable design, gses.com.au/asnzs-3008-updates-for-solar-cable-design; it renumbers the tables",
		},
		Ref:    "conditions of AS/NZS 3008.1.1:2017, computed after IEC 60287, not the printed table",
		Limit:  limit,
		Group:  t.group,
		Lone:   true,
		Z:      t.impedance,
		Fuse:   Fuse,
		Tables: append(t.listing, append(thermal.Files(), conductor.Files()...)...),
	}
}

// limit is the conductor temperature that the standard uses: V-75 and V-90 at 75 degC
// (from memory), X-90 at 90 degC, X-HF-110 at 110 degC.
func limit(insulation string) (float64, bool) {
	switch insulation {
	case "pvc-90":
		return 75, true
	}
	return conductor.TemperatureC(insulation)
}

type tables struct {
	enclosed, surface, apart *table.Series
	trays                    map[methods.TrayKey]*table.Series
	direct1, direct2         map[string]*table.Series
	r, x                     map[string]*table.Series
	listing                  []ratings.File
}

var open = sync.OnceValues(func() (*tables, error) {
	l := methods.NewLibrary(Read)
	plain := func(string) string { return "" }
	t := &tables{trays: map[methods.TrayKey]*table.Series{}}
	t.enclosed = l.Column("t22.csv", "circuits", "enclosed", "enclosed or bunched")
	t.surface = l.Column("t22.csv", "circuits", "surface_touching", "on a surface, touching")
	t.apart = l.Column("t22.csv", "circuits", "surface_spaced", "on a surface, spaced")
	l.TrayRows(t.trays, "t23.csv")
	l.TrayRows(t.trays, "t24.csv")
	t.direct1 = l.Columns("t25-1.csv", "circuits", plain, "touching_trefoil", "touching_flat", "clear_150", "clear_300", "clear_450", "clear_600")
	t.direct2 = l.Columns("t25-2.csv", "circuits", plain, "touching", "clear_150", "clear_300", "clear_450", "clear_600")
	t.x = l.Columns("t30.csv", "size_mm2", plain, "trefoil_pvc", "trefoil_xlpe", "flat_pvc", "flat_xlpe", "multicore_pvc", "multicore_xlpe")
	t.r = l.Columns("t35.csv", "size_mm2", plain, "copper_75", "copper_90", "aluminium_75", "aluminium_90")
	for _, f := range []string{"t52.csv", "as-nzs-3000-t5-1.csv"} {
		l.Table(f)
	}
	t.listing = l.Listing()
	return t, l.Err()
})

// group is the factor for the company a circuit lies in.
func (t *tables) group(l computed.Laid) (ratings.Factor, *ratings.Gap) {
	n := l.Group.Circuits
	why := fmt.Sprintf("%d circuits", n)
	clear := quantity.Maybe{}
	if l.Clear.Known && !l.Group.OuterUnknown {
		clear = quantity.Of(1000 * l.Clear.Value / math.Max(l.Group.OuterMM.Value, l.Cable.OuterMM))
	}
	if n <= 1 {
		return t.alone(l)
	}
	below := l.Laying.Where == thermal.Buried || l.Laying.Where == thermal.BuriedDuct
	if !below && l.Laying.Where == thermal.FreeAir && clear.Known && clear.Value > 2*(1+1e-9) && l.Place.HeldBy != "" {
		return ratings.Factor{
			Name: "grouping", Value: 1, Ref: ratings.Ref{Text: "AS/NZS 3008.1.1:2017 clause 3.5.2, more than two diameters clear", Status: ratings.Memory},
			Why: "held by " + l.Place.HeldBy,
		}, nil
	}
	look := func(s *table.Series, how string) (ratings.Factor, *ratings.Gap) {
		cell, _, ok := s.Up(float64(n))
		if !ok {
			last, _ := s.Last()
			return ratings.Factor{}, &ratings.Gap{Reason: fmt.Sprintf("%s ends at %g circuits, and %d share the route", s.Ref, last, n), Next: "split the group over two routes"}
		}
		return ratings.Factor{Name: "grouping", Value: cell.Value, Ref: ratings.Ref{Text: s.Ref, Status: cell.Status}, Why: why + how}, nil
	}
	single := l.Circuit.Build == "single-core"
	tiers := max(l.Place.Tiers, 1)
	switch {
	case l.Laying.Where == thermal.BuriedDuct:
		return computed.InGround(l)
	case l.Laying.Where == thermal.Buried:
		return t.groupDirect(l, look)
	case l.Laying.Where == thermal.Enclosed || l.Place.Spacing == "bunched":
		return look(t.enclosed, ", enclosed or bunched")
	case l.Laying.Arrangement == "wall-single" || l.Laying.Arrangement == "wall-trefoil":
		if clear.Known && clear.Value >= 1-1e-9 {
			return look(t.apart, ", spaced")
		}
		return look(t.surface, ", touching")
	}
	support, arrangement := methods.Support(l.Place), "touching"
	switch {
	case single && (l.Circuit.Formation == "flat-spaced" || l.Cable.Cables == 2):
		return ratings.Factor{}, &ratings.Gap{Reason: "AS/NZS 3008.1.1:2017 Table 23 has no row for groups of this formation at hand", Next: "lay the circuits in trefoil or flat touching, or hold them more than two diameters apart"}
	case single && l.Circuit.Formation == "flat":
		arrangement = "flat-touching"
	case single && clear.Known && clear.Value >= 2-1e-9:
		arrangement = "trefoil-spaced-2d"
	case single:
		return ratings.Factor{}, &ratings.Gap{Reason: "AS/NZS 3008.1.1:2017 Table 23 has no row for trefoil groups closer than two diameters at hand", Next: "hold the groups two diameters apart and state spacing and spacing_mm"}
	case clear.Known && clear.Value >= 1-1e-9:
		arrangement = "spaced"
	}
	key, s, gap := t.row(support, arrangement, tiers)
	if gap != nil {
		return ratings.Factor{}, gap
	}
	if last, _ := s.Last(); arrangement == "spaced" && float64(n) > last {
		key.Arrangement = "touching"
		s = t.trays[key]
	}
	return look(s, ", "+arrangement)
}

// row finds the rows of Tables 23 and 24 for so many trays above each other, or the next
// number of trays that they have.
func (t *tables) row(support, arrangement string, tiers int) (methods.TrayKey, *table.Series, *ratings.Gap) {
	for _, trays := range []int{1, 2, 3} {
		key := methods.TrayKey{Support: support, Arrangement: arrangement, Trays: trays}
		if s := t.trays[key]; trays >= tiers && s != nil {
			return key, s, nil
		}
	}
	return methods.TrayKey{}, nil, &ratings.Gap{Reason: fmt.Sprintf("AS/NZS 3008.1.1:2017 Tables 23 and 24 have no row for %d trays above each other, %s, %s", tiers, support, arrangement), Next: "state each tray as a route of its own"}
}

// alone is the factor that Tables 23 and 24 have for one circuit on a tray or ladder; 1
// where they have none.
func (t *tables) alone(l computed.Laid) (ratings.Factor, *ratings.Gap) {
	one := ratings.Factor{Name: "grouping", Value: 1}
	switch l.Place.Laid {
	case "perforated-tray", "ladder", "basket":
	default:
		return one, nil
	}
	arrangement := "touching"
	switch {
	case l.Laying.Where != thermal.FreeAir || l.Circuit.Build == "single-core" && (l.Cable.Cables == 2 || l.Circuit.Formation == "flat-spaced"):
		return one, nil
	case l.Circuit.Build == "single-core" && l.Circuit.Formation == "flat":
		arrangement = "flat-touching"
	case l.Circuit.Build == "single-core":
		arrangement = "trefoil-spaced-2d"
	}
	_, s, gap := t.row(methods.Support(l.Place), arrangement, l.Place.Tiers)
	switch {
	case gap != nil && l.Place.Tiers > 1:
		return one, gap
	case gap != nil:
		return one, nil
	}
	if cell, _, ok := s.Up(1); ok && cell.Number() {
		return ratings.Factor{Name: "grouping", Value: cell.Value, Ref: ratings.Ref{Text: s.Ref, Status: cell.Status}, Why: fmt.Sprintf("1 circuit on each of %d trays, %s", max(l.Place.Tiers, 1), arrangement)}, nil
	}
	return one, nil
}

func (t *tables) groupDirect(l computed.Laid, look func(*table.Series, string) (ratings.Factor, *ratings.Gap)) (ratings.Factor, *ratings.Gap) {
	if l.Place.Spacing == "bunched" {
		return ratings.Factor{}, &ratings.Gap{Reason: "no table gives a factor for cables bunched direct in the ground", Next: "lay them side by side"}
	}
	columns, column := t.direct2, "touching"
	if l.Circuit.Build == "single-core" {
		columns, column = t.direct1, "touching_trefoil"
		if l.Circuit.Formation == "flat" {
			column = "touching_flat"
		}
	}
	for _, mm := range []int{150, 300, 450, 600} { // the tables' columns are spacings of axes
		if l.Clear.Known && 1000*(l.Clear.Value+l.OuterM) >= float64(mm)-1e-9 {
			column = "clear_" + strconv.Itoa(mm)
		}
	}
	return look(columns[column], ", direct in the ground, "+column)
}

// impedance: resistances of circular multicore conductors are published (Table 35 at
// 75 and 90 degC), reactances from memory (Table 30); what these do not have follows
// from IEC 60228 and IEC 60287-1-1 and from geometry.
func (t *tables) impedance(c ratings.Circuit, _ ratings.Place) (ratings.Impedance, *ratings.Gap) {
	temp, ok := limit(c.Insulation)
	if !ok {
		return ratings.Impedance{}, &ratings.Gap{Reason: fmt.Sprintf("the working temperature of insulation %q is not known", c.Insulation)}
	}
	z := ratings.Impedance{ConductorC: temp}
	if s := t.r[c.Conductor+"_"+strconv.Itoa(int(temp))]; s != nil && c.Build == "multicore" && c.Strands != "flexible" {
		if cell, ok := s.Exact(c.Size.MM2); ok {
			z.ROhmKM, z.RRef = cell.Value, ratings.Ref{Text: s.Ref, Status: cell.Status}
		}
	}
	if z.ROhmKM == 0 {
		r, ref, gap := conductor.ResistanceOhmKM(c, temp)
		if gap != nil {
			return z, gap
		}
		z.ROhmKM, z.RRef = r, ref
	}
	ins := "xlpe"
	if c.Insulation == "pvc-70" || c.Insulation == "pvc-75" || c.Insulation == "pvc-90" {
		ins = "pvc"
	}
	build := "multicore"
	if c.Build == "single-core" {
		build = c.Formation
		if c.Loaded == 2 && c.Formation == "flat" {
			build = "trefoil" // two touching lie like two of a trefoil
		}
	}
	if s := t.x[build+"_"+ins]; s != nil && c.Strands != "flexible" && (c.FrequencyHz == 0 || c.FrequencyHz == 50) {
		if cell, ok := s.Exact(c.Size.MM2); ok {
			z.XOhmKM, z.XRef = cell.Value, ratings.Ref{Text: s.Ref, Status: cell.Status}
			return z, nil
		}
	}
	x, gap := computed.ReactanceOhmKM(c)
	if gap != nil {
		return z, gap
	}
	z.XOhmKM, z.XRef = x, ratings.Ref{Text: "computed from geometry", Status: ratings.Computed}
	return z, nil
}

// Fuse is the capacity that a fuse needs: its rating may be at most 0.9 of the
// capacity, AS/NZS 3000:2018 clause 2.5.3.1, as cited in the training handbook G107A,
// cable selection, scribd.com/document/494833744.
func Fuse(p ratings.Protection) (float64, ratings.Ref, *ratings.Gap) {
	if p.FuseType != "" && p.FuseType != "gg" {
		return 0, ratings.Ref{}, &ratings.Gap{Reason: fmt.Sprintf("AS/NZS 3000 has no rule here for a fuse of type %q", p.FuseType), Next: `write fuse_type = "gg"`}
	}
	return p.RatedA / 0.9, ratings.Ref{Text: "AS/NZS 3000:2018 clause 2.5.3.1: In <= 0.9 Iz", Status: ratings.Published}, nil
}
