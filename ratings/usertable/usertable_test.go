package usertable

import (
	"errors"
	"math"
	"strings"
	"testing"

	"trefoil/ratings"
	"trefoil/ratings/asnzs3008"
	"trefoil/ratings/iec60364"
	"trefoil/ratings/quantity"
	"trefoil/ratings/table"
)

// typed holds figures of IEC 60364-5-52:2009 Tables B.52.5, B.52.12 and B.52.13 (columns
// B2, C, E) as a user would type them, under that standard's conditions.
const typed = `# title: typed
# standard: my copy
# number: Table 9
# source: page 1
# kind: capacity
# reference: air_c=30 soil_c=20 soil_km_w=2.5 depth_m=0.7
# insulation: xlpe-90
# build: multicore
# loaded: 3
# columns: c2=enclosed/copper/stranded c3=surface/copper/stranded c4=free-air/copper/stranded c5=free-air/aluminium/stranded
size_mm2,c2,c3,c4,c5
16,80,96,100,77
25,105,119,127,97
35,128,147,158,120
50,154,179,192,146
70,194,229,246,187
95,233,278,298,227
120,268,322,346,263
150,300,371,399,304
185,340,424,456,347
240,398,500,538,409
`

func parse(t testing.TB, text string) *Tables {
	t.Helper()
	u, faults := Parse(map[string][]byte{"t9.csv": []byte(text)})
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	return u
}

func circuit() ratings.Circuit {
	return ratings.Circuit{Conductor: "copper", Strands: "stranded", Insulation: "xlpe-90", Build: "multicore", Armour: "none", Formation: "trefoil", Size: quantity.MM2(35), Loaded: 3, Cores: 4}
}

func place(laid string) ratings.Place {
	return ratings.Place{Laid: laid, Spacing: "touching", Tiers: 1, AirC: quantity.Of(40)}
}

// TestLayer: the user's capacity with the factors of the set below; what the table
// does not have, the set answers.
func TestLayer(t *testing.T) {
	text := strings.Replace(typed, "35,128,147,158,120", "35,129,148,160,121", 1)
	set, err := Layer(iec60364.Set(), parse(t, text))
	if err != nil {
		t.Fatal(err)
	}
	for laid, want := range map[string]float64{"conduit": 129 * 0.91 * 0.70, "clipped": 148 * 0.91 * 0.79, "ladder": 160 * 0.91 * 0.82} {
		r, gap := set.Rate(circuit(), place(laid), ratings.Group{Circuits: 3})
		if gap != nil || math.Abs(r.CapacityA-want) > 1e-9 || r.Basis != "user-table" || !strings.HasPrefix(r.Ref.Text, "my copy Table 9 column ") {
			t.Errorf("%s: %+v %v, want %g", laid, r, gap, want)
		}
	}
	c := circuit()
	c.Size = quantity.MM2(300)
	if r, gap := set.Rate(c, place("ladder"), ratings.Group{Circuits: 1}); gap != nil || r.Basis != "table" || r.TabulatedA != 621 {
		t.Errorf("%+v %v", r, gap)
	}
	if n := len(set.Files()) - len(iec60364.Set().Files()); n != 1 {
		t.Errorf("%d files more", n)
	}
	// Factors of another standard's conditions do not fit.
	if _, err := Layer(asnzs3008.Australia(), parse(t, typed)); err == nil || !strings.Contains(err.Error(), "reference conditions") {
		t.Error(err)
	}
	// Editions do not mix.
	if _, err := Layer(iec60364.Set(), parse(t, strings.Replace(typed, "my copy", "IEC 60364-5-52:2001", 1))); err == nil || !strings.Contains(err.Error(), "editions do not mix") {
		t.Error(err)
	}
	// Over a computed set, ambient by the model, grouping by its own table; insulation too.
	au := strings.NewReplacer("air_c=30 soil_c=20 soil_km_w=2.5 depth_m=0.7", "air_c=40 soil_c=25 soil_km_w=1.2 depth_m=0.5", "c2=enclosed", "c2=insulation").Replace(typed)
	set, err = Layer(asnzs3008.Australia(), parse(t, au))
	if err != nil {
		t.Fatal(err)
	}
	for laid, want := range map[string]float64{"conduit-in-insulation": 128, "clipped": 147} {
		if r, gap := set.Rate(circuit(), place(laid), ratings.Group{Circuits: 1}); gap != nil || math.Abs(r.CapacityA-want) > 1e-9 || r.Basis != "user-table" {
			t.Errorf("%s: %+v %v", laid, r, gap)
		}
	}
}

// TestNewSet: tables alone; what they do not hold cannot be assessed.
func TestNewSet(t *testing.T) {
	u, faults := Parse(map[string][]byte{"t9.csv": []byte(typed), "air.csv": []byte("# title: a\n# standard: my copy\n# number: Table 3\n# source: p\n# kind: air\nair_c,xlpe\n30,1\n40,0.91\n")})
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	set, err := NewSet("./mine", u)
	if err != nil {
		t.Fatal(err)
	}
	r, gap := set.Rate(circuit(), place("ladder"), ratings.Group{Circuits: 1})
	if gap != nil || math.Abs(r.CapacityA-158*0.91) > 1e-9 {
		t.Errorf("%+v %v", r, gap)
	}
	for name, x := range map[string]struct {
		p ratings.Place
		n int
	}{"no grouping": {place("conduit"), 3}, "no trays": {place("ladder"), 3}, "no column": {place("buried"), 1}, "hotter": {ratings.Place{Laid: "ladder", Spacing: "touching", AirC: quantity.Of(50)}, 1}} {
		if r, gap := set.Rate(circuit(), x.p, ratings.Group{Circuits: x.n}); gap == nil || gap.Reason == "" {
			t.Errorf("%s: %+v", name, r)
		}
	}
	if z, gap := set.Impedance(circuit(), place("ladder")); gap != nil || z.XOhmKM != 0.08 {
		t.Errorf("%+v %v", z, gap)
	}
}

// TestFaults: each says file and line.
func TestFaults(t *testing.T) {
	for name, c := range map[string]struct{ old, new, want string }{
		"kind":         {"# kind: capacity", "# kind: capacities", "t9.csv:1: kind is"},
		"reference":    {" depth_m=0.7", "", "t9.csv:1: reference does not state"},
		"word":         {"air_c=30", "air=30", "t9.csv:1: reference holds"},
		"insulation":   {"xlpe-90", "X-90", "t9.csv:1: insulation is"},
		"build":        {"# build: multicore", "# build: four", "t9.csv:1: build is"},
		"loaded":       {"# loaded: 3", "# loaded: 4", "t9.csv:1: loaded is"},
		"arrangement":  {"c2=enclosed", "c2=boxed", "t9.csv:1: column c2 is for"},
		"conductor":    {"c3=surface/copper", "c3=surface/gold", "t9.csv:1: column c3 is for conductor"},
		"same column":  {"c3=surface", "c3=enclosed", "t9.csv:1: column c3 is for what"},
		"no column":    {"c5=free", "c9=free", "t9.csv:1: columns holds"},
		"a word":       {"50,154,", "50,15x4,", "t9.csv:15: column c2 holds"},
		"zero":         {"50,154,", "50,0,", "t9.csv:15: column c2 holds"},
		"unit":         {"50,154,", "50,154000,", "t9.csv:15: column c2 holds"},
		"order":        {"50,154,", "20,154,", "t9.csv:15: size_mm2 is 20 after 35"},
		"comma":        {"50,154,", "50,154,5,", "t9.csv:15: the row has 6 cells"},
		"size unnamed": {"size_mm2,", "size,", "t9.csv:1: there is no column size_mm2"},
	} {
		_, faults := Parse(map[string][]byte{"t9.csv": []byte(strings.Replace(typed, c.old, c.new, 1))})
		if err := errors.Join(faults...); err == nil || !strings.HasPrefix(err.Error(), c.want) {
			t.Errorf("%s: %v, want %s", name, err, c.want)
		}
	}
	if _, faults := Parse(map[string][]byte{"a.csv": []byte(typed), "b.csv": []byte(strings.Replace(typed, "air_c=30", "air_c=40", 1))}); len(faults) == 0 {
		t.Error("two reference conditions")
	}
	if _, faults := Parse(nil); len(faults) == 0 {
		t.Error("no table at all")
	}
}

// TestJudge: a table as printed gives nothing to look at; each slip of the finger does.
func TestJudge(t *testing.T) {
	if list := Judge(parse(t, typed)); len(list) > 0 {
		t.Errorf("%v", list)
	}
	for name, c := range map[string]struct {
		old, new, says string
		line           int
	}{
		"digits swapped":  {"95,233,", "95,323,", "not below", 17},
		"digit lost":      {"120,268,322,346", "120,268,322,34", "is not above", 18},
		"columns swapped": {"50,154,179,", "50,179,154,", "not below", 15},
		"slightly off":    {"70,194,229,246", "70,194,229,264", "beside its neighbours", 16},
		"aluminium":       {"185,340,424,456,347", "185,340,424,456,447", "of copper", 20},
	} {
		hit := false
		list := Judge(parse(t, strings.Replace(typed, c.old, c.new, 1)))
		for _, r := range list {
			hit = hit || r.Line == c.line && strings.Contains(r.Text, c.says)
		}
		if !hit {
			t.Errorf("%s: %v", name, list)
		}
	}
}

func TestBlank(t *testing.T) {
	for _, s := range []ratings.Set{iec60364.Set(), asnzs3008.Australia()} {
		tab, err := table.Parse("blank.csv", Blank(s.Info()))
		if err != nil || len(tab.Rows) < 15 {
			t.Error(err)
		}
		filled := strings.Replace(string(Blank(s.Info())), "\n16,,,,", "\n16,10,20,30,", 1)
		if u, faults := Parse(map[string][]byte{"blank.csv": []byte(filled)}); len(faults) == 0 {
			t.Errorf("columns without a figure are taken: %v", u.Capacity)
		}
	}
}

func FuzzParse(f *testing.F) {
	f.Add([]byte(typed))
	f.Fuzz(func(t *testing.T, text []byte) {
		u, _ := Parse(map[string][]byte{"t.csv": text})
		Judge(u)
		if set, err := NewSet("./x", u); err == nil {
			if r, gap := set.Rate(circuit(), place("ladder"), ratings.Group{Circuits: 2}); gap == nil && !(r.CapacityA > 0) {
				t.Errorf("%+v", r)
			}
		}
	})
}

// more holds what lies beside the cable in question: another insulation and flexible
// strands. Figures are made up so that each column is told apart.
const more = `# title: beside
# standard: my copy
# number: Table 10
# source: page 2
# kind: capacity
# reference: air_c=30 soil_c=20 soil_km_w=2.5 depth_m=0.7
# insulation: pvc-70
# build: multicore
# loaded: 3
# columns: c2=free-air/copper/stranded c3=free-air/copper/flexible
size_mm2,c2,c3
35,126,120
`

const flexible = `# title: flexible
# standard: my copy
# number: Table 11
# source: page 3
# kind: capacity
# reference: air_c=30 soil_c=20 soil_km_w=2.5 depth_m=0.7
# insulation: xlpe-90
# build: multicore
# loaded: 3
# columns: c2=free-air/copper/flexible
size_mm2,c2
35,150
`

// TestAlone: a set of the user's tables takes the very column of insulation and strands,
// every time, and says what it does not hold.
func TestAlone(t *testing.T) {
	for range 20 {
		u, faults := Parse(map[string][]byte{"a.csv": []byte(typed), "b.csv": []byte(more), "c.csv": []byte(flexible)})
		if len(faults) > 0 {
			t.Fatal(faults)
		}
		set, err := NewSet("./tables", u)
		if err != nil {
			t.Fatal(err)
		}
		for name, x := range map[string]struct {
			change func(*ratings.Circuit, *ratings.Place, *ratings.Group)
			want   float64
		}{
			"stranded xlpe":    {func(*ratings.Circuit, *ratings.Place, *ratings.Group) {}, 158},
			"flexible xlpe":    {func(c *ratings.Circuit, _ *ratings.Place, _ *ratings.Group) { c.Strands = "flexible" }, 150},
			"stranded pvc":     {func(c *ratings.Circuit, _ *ratings.Place, _ *ratings.Group) { c.Insulation = "pvc-70" }, 126},
			"cooler neighbour": {func(_ *ratings.Circuit, _ *ratings.Place, g *ratings.Group) { g.Insulation = "pvc-70" }, 126},
			"too near the wall": {func(_ *ratings.Circuit, p *ratings.Place, _ *ratings.Group) {
				p.Laid, p.StandoffMM = "standoff", quantity.Of(1)
			}, 147},
			"far enough from the wall": {func(_ *ratings.Circuit, p *ratings.Place, _ *ratings.Group) {
				p.Laid, p.StandoffMM = "standoff", quantity.Of(20)
			}, 158},
			"a lid makes no enclosure of a standoff": {func(_ *ratings.Circuit, p *ratings.Place, _ *ratings.Group) { p.Laid, p.Lid = "standoff", true }, 158},
			"no column for EPR":                      {func(c *ratings.Circuit, _ *ratings.Place, _ *ratings.Group) { c.Insulation = "epr-90" }, 0},
			"no column for a duct":                   {func(_ *ratings.Circuit, p *ratings.Place, _ *ratings.Group) { p.Laid = "buried-duct" }, 0},
		} {
			c, p, g := circuit(), place("ladder"), ratings.Group{Circuits: 1, Conductors: 3}
			p.AirC = quantity.Of(30)
			x.change(&c, &p, &g)
			got, gap := set.Rate(c, p, g)
			switch {
			case x.want == 0:
				if gap == nil || !strings.Contains(gap.Reason, "have no figure for 35 mm2") {
					t.Errorf("%s: %v, %v", name, got, gap)
				}
			case gap != nil || got.CapacityA != x.want || got.Basis != "user-table":
				t.Errorf("%s: %g A by %s, %v; want %g A", name, got.CapacityA, got.Basis, gap, x.want)
			}
		}
	}
}

// TestCoolerNeighbour: a capacity typed or given for 90 degC is not used beside a cable
// of 70 degC; the set's own column for 70 degC is, 126 A by IEC 60364-5-52:2009 Table
// B.52.10 column 3, times 0.88 for two circuits by Table B.52.20.
func TestCoolerNeighbour(t *testing.T) {
	set, err := Layer(iec60364.Set(), parse(t, typed))
	if err != nil {
		t.Fatal(err)
	}
	p := place("perforated-tray")
	p.AirC = quantity.Of(30)
	g := ratings.Group{Circuits: 2, Conductors: 6, Insulation: "pvc-70", Smallest: quantity.MM2(35), Largest: quantity.MM2(35)}
	c := circuit()
	given := c
	given.CapacityA, given.DataOrigin = quantity.Of(170), "maker"
	for _, x := range []ratings.Circuit{c, given} {
		r, gap := set.Rate(x, p, g)
		if gap != nil || math.Abs(r.CapacityA-126*0.88) > 1e-9 || r.Basis != "table" {
			t.Errorf("%g A by %s, %v", r.CapacityA, r.Basis, gap)
		}
	}
	// held three diameters apart it keeps its own column, and needs no factor
	p.Spacing, p.SpacingMM, p.HeldBy = "spaced", quantity.Of(80), "cleats"
	g.OuterMM = quantity.Of(25)
	if r, gap := set.Rate(c, p, g); gap != nil || r.CapacityA != 158 {
		t.Errorf("held apart: %g A, %v", r.CapacityA, gap)
	}
}

// TestFactorBounds: a factor that cannot be is told at its line.
func TestFactorBounds(t *testing.T) {
	for _, bad := range []string{"-0.8", "0", "80", "x"} {
		text := "# title: groups\n# standard: my copy\n# number: Table 1\n# source: page 1\n# kind: grouping\ncircuits,enclosed\n1,1\n2," + bad + "\n"
		_, faults := Parse(map[string][]byte{"a.csv": []byte(typed), "g.csv": []byte(text)})
		at := (*table.Error)(nil)
		if len(faults) != 1 || !errors.As(faults[0], &at) || at.Line != 8 && bad != "x" {
			t.Errorf("%s: %v", bad, faults)
		}
	}
}

// TestMakersFigureBesideCooler: in a set of the user's tables alone the maker's capacity of a
// warmer cable gives way to the column of its cooler neighbour, 126 A, or to a gap that says
// what is not there.
func TestMakersFigureBesideCooler(t *testing.T) {
	c, p, g := circuit(), place("ladder"), ratings.Group{Circuits: 1, Conductors: 3, Insulation: "pvc-70"}
	p.AirC = quantity.Of(30)
	c.CapacityA, c.DataOrigin = quantity.Of(500), "maker"
	for _, x := range []struct {
		files map[string][]byte
		want  float64
	}{
		{map[string][]byte{"a.csv": []byte(typed), "b.csv": []byte(more)}, 126},
		{map[string][]byte{"a.csv": []byte(typed)}, 0},
	} {
		u, faults := Parse(x.files)
		if len(faults) > 0 {
			t.Fatal(faults)
		}
		set, err := NewSet("./tables", u)
		if err != nil {
			t.Fatal(err)
		}
		got, gap := set.Rate(c, p, g)
		switch {
		case x.want == 0:
			if gap == nil || !strings.Contains(gap.Reason, "have no figure for 35 mm2") {
				t.Errorf("%+v, %v", got, gap)
			}
		case gap != nil || got.CapacityA != x.want:
			t.Errorf("%g A, %v; want %g A", got.CapacityA, gap, x.want)
		}
	}
}
