// Package iec60364 is the rating set of IEC 60364-5-52:2009, Annex B, with the
// harmonic factors of its Annex E and the reactance of its Annex G.
package iec60364

import (
	"embed"
	"fmt"
	"strconv"
	"sync"

	"trefoil/ratings"
	"trefoil/ratings/conductor"
	"trefoil/ratings/methods"
	"trefoil/ratings/quantity"
	"trefoil/ratings/table"
)

//go:embed *.csv
var files embed.FS

// Read gives a table file of this package.
func Read(name string) ([]byte, error) { return files.ReadFile(name) }

// Set is the rating set "iec-60364-5-52:2009".
var Set = sync.OnceValue(func() ratings.Set {
	t, err := build()
	if err != nil {
		panic(err) // the files come with the program, and a test reads them all
	}
	return t
})

// capacities lists the capacity tables: file, insulation, and loaded conductors
// (0 where the columns say it) or material (where the table is for one).
var flush = []struct {
	file, ins string
	loaded    int
}{
	{"b52-02.csv", "pvc", 2},
	{"b52-03.csv", "xlpe", 2},
	{"b52-04.csv", "pvc", 3},
	{"b52-05.csv", "xlpe", 3},
}

var free = []struct{ file, ins, material string }{
	{"b52-10.csv", "pvc", "copper"},
	{"b52-11.csv", "pvc", "aluminium"},
	{"b52-12.csv", "xlpe", "copper"},
	{"b52-13.csv", "xlpe", "aluminium"},
}

func build() (*methods.Tables, error) {
	l := methods.NewLibrary(Read)
	t := &methods.Tables{
		Standard: "IEC 60364-5-52:2009",
		About: ratings.Info{
			Name:   "iec-60364-5-52:2009",
			Family: "iec",
			Title:  "IEC 60364-5-52:2009, Annex B: current-carrying capacities",
			Scope:  "PVC (70 degC) and XLPE or EPR (90 degC) cables, copper and aluminium, reference methods A1 to G; not mineral-insulated ones",
			AirC:   30, SoilC: 20, SoilKmW: 2.5, DepthM: 0.7,
		},
		Capacity: map[methods.Key]*table.Series{},
		Trays:    map[methods.TrayKey]*table.Series{},
		TraysRef: map[string]string{"multicore": "IEC 60364-5-52:2009 Table B.52.20", "single-core": "IEC 60364-5-52:2009 Table B.52.21"},
		Harmonic: ratings.Ref{Text: "IEC 60364-5-52:2009 Table E.52.1", Status: ratings.Memory},
		Name:     MethodName,
		Missing:  missing,
		Z:        Impedance,
		Fuse:     Fuse,
	}
	for _, f := range flush {
		for i, method := range []string{"A1", "A2", "B1", "B2", "C", "D1", "D2"} {
			for _, material := range []string{"copper", "aluminium"} {
				s := l.Column(f.file, "size_mm2", method, "column "+strconv.Itoa(i+2), "conductor", material)
				for _, armoured := range []bool{false, true} {
					if method != "A2" && method != "B2" {
						t.Capacity[methods.Key{Material: material, Ins: f.ins, Build: "single-core", Armoured: armoured, Method: method, Loaded: f.loaded}] = s
					}
					if method != "A1" && method != "B1" {
						t.Capacity[methods.Key{Material: material, Ins: f.ins, Build: "multicore", Armoured: armoured, Method: method, Loaded: f.loaded}] = s
					}
				}
			}
		}
	}
	for _, f := range free {
		for i, c := range []struct {
			column, build, method string
			loaded                int
		}{
			{"E2", "multicore", "E", 2},
			{"E3", "multicore", "E", 3},
			{"F2", "single-core", "F", 2},
			{"F3_trefoil", "single-core", "F_trefoil", 3},
			{"F3_flat", "single-core", "F_flat", 3},
			{"G3_horizontal", "single-core", "G_horizontal", 3},
			{"G3_vertical", "single-core", "G_vertical", 3},
		} {
			s := l.Column(f.file, "size_mm2", c.column, "column "+strconv.Itoa(i+2))
			for _, armoured := range []bool{false, true} {
				t.Capacity[methods.Key{Material: f.material, Ins: f.ins, Build: c.build, Armoured: armoured, Method: c.method, Loaded: c.loaded}] = s
			}
		}
	}
	plain := func(string) string { return "" }
	t.Air = l.Columns("b52-14.csv", "air_c", plain, "pvc", "xlpe")
	t.Soil = l.Columns("b52-15.csv", "soil_c", plain, "pvc", "xlpe")
	t.SoilR = l.Columns("b52-16.csv", "soil_km_w", plain, "ducts", "direct")
	t.Item = map[int]*table.Series{}
	for _, i := range []int{1, 2, 4, 5} {
		t.Item[i] = l.Column("b52-17.csv", "circuits", fmt.Sprintf("item%d", i), fmt.Sprintf("item %d", i))
	}
	t.Direct = l.Columns("b52-18.csv", "circuits", plain, "touching", "one_diameter", "clear_125", "clear_250", "clear_500")
	t.DuctsA = l.Columns("b52-19a.csv", "circuits", plain, "touching", "clear_250", "clear_500", "clear_1000")
	t.DuctsB = l.Columns("b52-19b.csv", "circuits", plain, "touching", "clear_250", "clear_500", "clear_1000")
	l.TrayRows(t.Trays, "b52-20.csv")
	l.TrayRows(t.Trays, "b52-21.csv")
	for _, f := range []string{"e52-1.csv", "annex-d.csv", "k-live.csv", "k-protective.csv"} {
		l.Table(f)
	}
	t.Listing = append(l.Listing(), conductor.Files()...)
	return t, l.Err()
}

// MethodName is the letter of a reference method.
func MethodName(method string) string {
	if i := len(method); i > 2 {
		return method[:1] // F_trefoil, G_vertical
	}
	return method
}

func missing(k methods.Key) string {
	return fmt.Sprintf("IEC 60364-5-52:2009 Annex B has no column for a %s %s cable by method %s with %d loaded conductors", k.Build, k.Material, MethodName(k.Method), k.Loaded)
}

// reactanceOhmKM is the value of Annex G where nothing better is known: 0.08 ohm/km.
const reactanceOhmKM = 0.08

// Impedance of one leg: r of IEC 60228 at working temperature, x of Annex G.
func Impedance(c ratings.Circuit, _ ratings.Place, _ string) (ratings.Impedance, *ratings.Gap) {
	temp, ok := conductor.TemperatureC(c.Insulation)
	if !ok {
		return ratings.Impedance{}, &ratings.Gap{Reason: fmt.Sprintf("the working temperature of insulation %q is not known", c.Insulation)}
	}
	z := ratings.Impedance{ConductorC: temp, XOhmKM: reactanceOhmKM, XRef: ratings.Ref{Text: "IEC 60364-5-52:2009 Annex G, 0.08 ohm/km", Status: ratings.Memory}}
	r, ref, gap := conductor.ResistanceOhmKM(c, temp)
	if gap != nil {
		return z, gap
	}
	z.ROhmKM, z.RRef = r, ref
	return z, nil
}

// Fuse is the capacity that a gG fuse of IEC 60269 needs: its conventional current
// (1.6 In from 16 A, 1.9 In above 4 A, 2.1 In to 4 A; from memory) may be at most
// 1.45 times the capacity, IEC 60364-4-43 clause 433.1.
func Fuse(p ratings.Protection) (float64, ratings.Ref, *ratings.Gap) {
	if p.FuseType != "" && p.FuseType != "gg" {
		return 0, ratings.Ref{}, &ratings.Gap{Reason: fmt.Sprintf("IEC 60364-4-43 has no conventional current for a fuse of type %q here", p.FuseType), Next: "write fuse_type = \"gg\""}
	}
	share := 1.6
	switch {
	case p.RatedA <= 4:
		share = 2.1
	case p.RatedA < 16:
		share = 1.9
	}
	return p.RatedA * share / 1.45, ratings.Ref{Text: fmt.Sprintf("IEC 60364-4-43 clause 433.1, gG: %s In <= 1.45 Iz", quantity.Ratio.Print(share)), Status: ratings.Memory}, nil
}
