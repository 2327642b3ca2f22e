// Package bs7671 is the rating set of BS 7671:2018, Appendix 4.
//
// Its capacities and factors follow the harmonised tables; it has single-core
// columns of its own for method C, and gives impedance as mV/A/m.
package bs7671

import (
	"embed"
	"fmt"
	"math"
	"strconv"
	"sync"

	"trefoil/ratings"
	"trefoil/ratings/conductor"
	"trefoil/ratings/methods"
	"trefoil/ratings/table"
)

//go:embed *.csv
var files embed.FS

// Read gives a table file of this package.
func Read(name string) ([]byte, error) { return files.ReadFile(name) }

// Set is the rating set "bs-7671:2018".
var Set = sync.OnceValue(func() ratings.Set {
	t, err := build()
	if err != nil {
		panic(err) // the files come with the program, and a test reads them all
	}
	return t
})

// kind is a sort of cable with a capacity and a voltage-drop table.
type kind struct {
	material, ins, build string
	armoured             bool
}

type pair struct {
	capacity, drop string
	columns        []column
}

type column struct {
	name    string
	methods []string // reference methods of IEC that the column stands for
	loaded  int
}

var (
	singleColumns = []column{
		{"A2", []string{"A1"}, 2},
		{"A3", []string{"A1"}, 3},
		{"B2", []string{"B1"}, 2},
		{"B3", []string{"B1"}, 3},
		{"C2", []string{"C"}, 2},
		{"C3", []string{"C"}, 3},
		{"F2", []string{"F"}, 2},
		{"F3_flat", []string{"F_flat"}, 3},
		{"F3_trefoil", []string{"F_trefoil"}, 3},
		{"G3_horizontal", []string{"G_horizontal"}, 3},
		{"G3_vertical", []string{"G_vertical"}, 3},
	}
	multiColumns = []column{
		{"A2", []string{"A2"}, 2},
		{"A3", []string{"A2"}, 3},
		{"B2", []string{"B2"}, 2},
		{"B3", []string{"B2"}, 3},
		{"C2", []string{"C"}, 2},
		{"C3", []string{"C"}, 3},
		{"E2", []string{"E"}, 2},
		{"E3", []string{"E"}, 3},
	}
	armouredColumns = []column{
		{"C2", []string{"C"}, 2},
		{"C3", []string{"C"}, 3},
		{"E2", []string{"E"}, 2},
		{"E3", []string{"E"}, 3},
		{"D2", []string{"D1", "D2"}, 2},
		{"D3", []string{"D1", "D2"}, 3},
	}
)

var cables = map[kind]pair{
	{"copper", "pvc", "single-core", false}:   {"4d1a.csv", "4d1b.csv", singleColumns},
	{"copper", "xlpe", "single-core", false}:  {"4e1a.csv", "4e1b.csv", singleColumns},
	{"copper", "pvc", "multicore", false}:     {"4d2a.csv", "4d2b.csv", multiColumns},
	{"copper", "xlpe", "multicore", false}:    {"4e2a.csv", "4e2b.csv", multiColumns},
	{"aluminium", "pvc", "multicore", false}:  {"4h2a.csv", "4h2b-4h4b.csv", multiColumns},
	{"aluminium", "xlpe", "multicore", false}: {"4j2a.csv", "4j2b-4j4b.csv", multiColumns},
	{"copper", "pvc", "multicore", true}:      {"4d4a.csv", "4d4b.csv", armouredColumns},
	{"copper", "xlpe", "multicore", true}:     {"4e4a.csv", "4e4b.csv", armouredColumns},
	{"aluminium", "pvc", "multicore", true}:   {"4h4a.csv", "4h2b-4h4b.csv", armouredColumns},
	{"aluminium", "xlpe", "multicore", true}:  {"4j4a.csv", "4j2b-4j4b.csv", armouredColumns},
}

// drops holds r and x of one voltage-drop column.
type drops struct{ r, x *table.Series }

func build() (*methods.Tables, error) {
	l := methods.NewLibrary(Read)
	t := &methods.Tables{
		Standard: "BS 7671:2018",
		About: ratings.Info{
			Name:   "bs-7671:2018",
			Family: "bs",
			Title:  "BS 7671:2018, Appendix 4: current-carrying capacity and voltage drop",
			Scope:  "thermoplastic (70 degC) and thermosetting (90 degC) cables, single-core copper and multicore copper and aluminium; in the ground armoured multicore only",
			AirC:   30, SoilC: 20, SoilKmW: 2.5, DepthM: 0.7,
		},
		Capacity: map[methods.Key]*table.Series{},
		Trays:    map[methods.TrayKey]*table.Series{},
		TraysRef: map[string]string{"multicore": "BS 7671:2018 Table 4C4", "single-core": "BS 7671:2018 Table 4C5"},
		Harmonic: ratings.Ref{Text: "BS 7671:2018 Table 4Aa", Status: ratings.Memory},
		Name:     name,
		Missing:  missing,
		Fuse:     Fuse,
	}
	z := map[kind]map[string]drops{}
	for _, k := range []kind{ // in the order of the tables
		{"copper", "pvc", "single-core", false},
		{"copper", "pvc", "multicore", false},
		{"copper", "pvc", "multicore", true},
		{"copper", "xlpe", "single-core", false},
		{"copper", "xlpe", "multicore", false},
		{"copper", "xlpe", "multicore", true},
		{"aluminium", "pvc", "multicore", false},
		{"aluminium", "pvc", "multicore", true},
		{"aluminium", "xlpe", "multicore", false},
		{"aluminium", "xlpe", "multicore", true},
	} {
		p := cables[k]
		for i, c := range p.columns {
			s := l.Column(p.capacity, "size_mm2", c.name, "column "+strconv.Itoa(i+2))
			for _, m := range c.methods {
				t.Capacity[methods.Key{Material: k.material, Ins: k.ins, Build: k.build, Armoured: k.armoured, Method: m, Loaded: c.loaded}] = s
			}
		}
		names := []string{"1ph", "3ph"}
		if k.build == "single-core" {
			names = []string{"1ph_AB", "1ph_CF_touching", "1ph_CF_spaced", "3ph_AB", "3ph_trefoil", "3ph_flat_touching", "3ph_flat_spaced"}
		}
		z[k] = map[string]drops{}
		for _, n := range names {
			z[k][n] = drops{l.Column(p.drop, "size_mm2", n+"_r", ""), l.Column(p.drop, "size_mm2", n+"_x", "")}
		}
	}
	t.Z = func(c ratings.Circuit, _ ratings.Place, method string) (ratings.Impedance, *ratings.Gap) {
		return impedance(z, c, method)
	}
	plain := func(string) string { return "" }
	t.Air = l.Columns("4b1.csv", "air_c", plain, "pvc", "xlpe")
	t.Soil = l.Columns("4b2.csv", "soil_c", plain, "pvc", "xlpe")
	t.SoilR = l.Columns("4b3.csv", "soil_km_w", plain, "ducts", "direct")
	t.Item = map[int]*table.Series{}
	for i, row := range map[int]string{1: "bunched", 2: "single layer on wall or floor", 4: "single layer on perforated tray", 5: "single layer on ladder or cleats"} {
		t.Item[i] = l.Column("4c1.csv", "circuits", fmt.Sprintf("item%d", i), row)
	}
	t.Direct = l.Columns("4c2.csv", "circuits", plain, "touching", "one_diameter", "clear_125", "clear_250", "clear_500")
	t.DuctsA = l.Columns("4c3-multicore.csv", "circuits", plain, "touching", "clear_250", "clear_500", "clear_1000")
	t.DuctsB = l.Columns("4c3-single-core.csv", "circuits", plain, "touching", "clear_250", "clear_500", "clear_1000")
	l.TrayRows(t.Trays, "4c4.csv")
	l.TrayRows(t.Trays, "4c5.csv")
	t.Listing = l.Listing()
	return t, l.Err()
}

// name is the letter that the standard gives a method.
func name(method string) string { return method[:1] }

func missing(k methods.Key) string {
	switch {
	case k.Build == "single-core" && k.Armoured:
		return "armoured single-core cables stand in BS 7671:2018 Tables 4D3A, 4E3A, 4H3A and 4J3A, which are not at hand"
	case k.Build == "single-core" && k.Material == "aluminium":
		return "single-core aluminium cables stand in BS 7671:2018 Tables 4H1A and 4J1A, which are not at hand"
	case k.Method == "D1" || k.Method == "D2":
		return "BS 7671:2018 rates only armoured multicore cables in the ground (Tables 4D4A, 4E4A, 4H4A, 4J4A)"
	case k.Armoured:
		return fmt.Sprintf("the tables of armoured cables in BS 7671:2018 have no column for method %s", name(k.Method))
	}
	return fmt.Sprintf("BS 7671:2018 Appendix 4 has no column for a %s %s cable by method %s with %d loaded conductors", k.Build, k.Material, name(k.Method), k.Loaded)
}

// impedance turns mV/A/m into ohm/km of one conductor: over sqrt3 for three
// phases, over 2 for one. Where the table prints r only, x is negligible and 0.
func impedance(z map[kind]map[string]drops, c ratings.Circuit, method string) (ratings.Impedance, *ratings.Gap) {
	temp, _ := conductor.TemperatureC(c.Insulation)
	ins := "pvc"
	switch c.Insulation {
	case "pvc-70", "pvc-75":
	case "xlpe-90", "epr-90":
		ins = "xlpe"
	default:
		return ratings.Impedance{}, &ratings.Gap{Reason: fmt.Sprintf("BS 7671:2018 has no voltage-drop table for insulation %s", c.Insulation), Next: "state r_ohm_km and x_ohm_km in a data block of the cable"}
	}
	k := kind{c.Conductor, ins, c.Build, c.Armour != "none" && c.Armour != ""}
	columns := z[k]
	if columns == nil {
		return ratings.Impedance{}, &ratings.Gap{
			Reason: missing(methods.Key{Material: c.Conductor, Build: c.Build, Armoured: k.armoured, Method: method}),
			Next:   "choose another cable, or another rating set",
		}
	}
	column, divisor := "3ph", math.Sqrt(3)
	if c.Loaded == 2 {
		column, divisor = "1ph", 2
	}
	if c.Build == "single-core" {
		switch {
		case method == "A1" || method == "B1":
			column += "_AB"
		case c.Loaded == 2 && c.Formation == "flat-spaced":
			column += "_CF_spaced"
		case c.Loaded == 2:
			column += "_CF_touching"
		case c.Formation == "flat":
			column += "_flat_touching"
		case c.Formation == "flat-spaced":
			column += "_flat_spaced"
		default:
			column += "_trefoil"
		}
	}
	d := columns[column]
	r, ok := d.r.Exact(c.Size.MM2)
	if !ok || c.Size.Trade != "" {
		return ratings.Impedance{}, &ratings.Gap{Reason: fmt.Sprintf("%s has no voltage drop for %s in column %s", d.r.Table.Ref(), c.Size, column), Next: "state r_ohm_km and x_ohm_km in a data block of the cable"}
	}
	out := ratings.Impedance{ROhmKM: r.Value / divisor, ConductorC: temp, RRef: ratings.Ref{Text: d.r.Ref, Status: r.Status}, XRef: ratings.Ref{Text: d.r.Ref + ", x negligible", Status: r.Status}}
	if x, ok := d.x.Exact(c.Size.MM2); ok {
		out.XOhmKM, out.XRef = x.Value/divisor, ratings.Ref{Text: d.x.Ref, Status: x.Status}
	}
	return out, nil
}

// Fuse is the capacity that a fuse needs: a gG fuse to BS 88 meets the rule of
// regulation 433.1 at In <= Iz, a rewirable one to BS 3036 at In <= 0.725 Iz
// (from memory).
func Fuse(p ratings.Protection) (float64, ratings.Ref, *ratings.Gap) {
	switch p.FuseType {
	case "", "gg":
		return p.RatedA, ratings.Ref{Text: "BS 7671:2018 regulation 433.1.202, BS 88: In <= Iz", Status: ratings.Memory}, nil
	case "bs3036":
		return p.RatedA / 0.725, ratings.Ref{Text: "BS 7671:2018 regulation 433.1.202, BS 3036: In <= 0.725 Iz", Status: ratings.Memory}, nil
	}
	return 0, ratings.Ref{}, &ratings.Gap{Reason: fmt.Sprintf("BS 7671:2018 has no rule for a fuse of type %q here", p.FuseType), Next: "write fuse_type = \"gg\" or \"bs3036\""}
}
