package schedule

import (
	"math"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"trefoil/lint/assess"
	"trefoil/lint/finding"
	"trefoil/lint/generate"
	"trefoil/lint/trial"
	"trefoil/ratings/quantity"
	"trefoil/rules"
)

func reviewed(text string) (*assess.Review, Options) {
	res := trial.Check(text, rules.All())
	return res.Review, Options{Findings: res.Findings, TailM: 2, Spare: 10, DrumsM: []float64{500, 100}}
}

func kindOf(t *testing.T, name string) Kind {
	t.Helper()
	for _, k := range Kinds {
		if k.Name == name {
			return k
		}
	}
	t.Fatal(name)
	return Kind{}
}

// at gives the cell of a column in a row.
func at(t *testing.T, table Table, row int, column string) Cell {
	t.Helper()
	for i, c := range table.Columns {
		if c.Name == column {
			return table.Rows[row][i]
		}
	}
	t.Fatalf("%s have no column %q", table.Kind, column)
	return Cell{}
}

// A watermill of our own: two legs of single cores with a neutral and one separate earth
// conductor, and a multicore cable that steps down in size.
var mill = `site "mill" {
  ratings   = "iec-60364-5-52:2009"
  voltage_v = 400
}
supply "grid" {
  fault_ka = 10
}
board "hall" {
  rated_a = 400
}
source "wheel" {
  kind          = "generator"
  rated_kva     = 100
  max_current_a = 150
  phases        = 3
}
cable "single" {
  conductor  = "copper"
  insulation = "xlpe-90"
  build      = "single-core"
}
cable "multi" {
  conductor  = "copper"
  insulation = "xlpe-90"
  build      = "multicore"
  cores      = "4c+e"
}
route "bank" {
  laid           = "ladder"
  other_circuits = 0
}
` + trial.Feeder{
	Name: "feeder", From: "board.hall", To: "supply.grid", Cable: "single", SizeMM2: 70, NeutralMM2: 35, EarthMM2: 50, Legs: 2, Route: "bank", LengthM: 42,
	More: `leg_lengths_m = [40, 42]`,
}.String() + `run "wheel" {
  from     = source.wheel
  to       = board.hall
  cable    = cable.multi
  size_mm2 = 70
  device {
    at      = board.hall
    kind    = "mccb"
    rated_a = 160
  }
  section {
    route    = route.bank
    length_m = 20
  }
  section {
    route    = route.bank
    length_m = 10
  }
  section {
    route    = route.bank
    length_m = 5
    size_mm2 = 50
  }
}
`

// TestCuts: by hand. A leg of 40 m with 10 % and two tails of 2 m is 48 m, one of 42 m is
// 50.2 m, as for the earth conductor; the multicore is 30 m, 37 m to cut, and 5 m
// in 50 mm2, 9.5 m to cut.
func TestCuts(t *testing.T) {
	v, opt := reviewed(mill)
	table := kindOf(t, "cuts").Of(v, opt)
	want := []struct {
		cable, size, piece string
		lengthM, cutM      float64
	}{
		{"single", "70 mm2", "leg 1 L1", 40, 48},
		{"single", "70 mm2", "leg 1 L2", 40, 48},
		{"single", "70 mm2", "leg 1 L3", 40, 48},
		{"single", "70 mm2", "leg 2 L1", 42, 50.2},
		{"single", "70 mm2", "leg 2 L2", 42, 50.2},
		{"single", "70 mm2", "leg 2 L3", 42, 50.2},
		{"single", "35 mm2", "leg 1 N", 40, 48},
		{"single", "35 mm2", "leg 2 N", 42, 50.2},
		{"earth conductor, xlpe-90", "50 mm2", "earth", 42, 50.2},
		{"multi", "70 mm2", "leg 1, part 1", 30, 37},
		{"multi", "50 mm2", "leg 1, part 2", 5, 9.5},
	}
	if len(table.Rows) != len(want) {
		t.Fatalf("%d cuts, want %d", len(table.Rows), len(want))
	}
	for i, w := range want {
		if got := at(t, table, i, "cable").Text; got != w.cable {
			t.Errorf("row %d: cable %q, want %q", i, got, w.cable)
		}
		if got := at(t, table, i, "size").Text; got != w.size {
			t.Errorf("row %d: size %q, want %q", i, got, w.size)
		}
		if got := at(t, table, i, "piece").Text; got != w.piece {
			t.Errorf("row %d: piece %q, want %q", i, got, w.piece)
		}
		if l, c := at(t, table, i, "length_m").Value, at(t, table, i, "cut_m").Value; math.Abs(l-w.lengthM) > 1e-9 || math.Abs(c-w.cutM) > 1e-9 {
			t.Errorf("row %d: %g m, %g m to cut, want %g and %g", i, l, c, w.lengthM, w.cutM)
		}
	}
	// 3 x 48 + 3 x 50.2 = 294.6 m of 70 mm2: one drum of 500 m, or three of 100 m that hold
	// 98.2 m each; the latter buys 300 m.
	drums := kindOf(t, "drums").Of(v, opt)
	var single []int
	for i := range drums.Rows {
		if at(t, drums, i, "cable").Text == "single" && at(t, drums, i, "size").Text == "70 mm2" {
			single = append(single, i)
		}
	}
	if len(single) != 3 {
		t.Fatalf("%d drums of 70 mm2", len(single))
	}
	for _, i := range single {
		if m := at(t, drums, i, "drum_m").Value; m != 100 {
			t.Errorf("a drum of %g m", m)
		}
	}
}

// TestDrums: whatever the cuts, each lies on exactly one drum, none holds more than it is
// long, a drum is the shortest that will do, and what is cut off sums up to the cuts.
func TestDrums(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		lengths := slices.Sorted(slices.Values(rapid.SliceOfN(rapid.Float64Range(20, 1000), 1, 4).Draw(t, "drums")))
		cutsM := rapid.SliceOfN(rapid.Float64Range(1, 1200), 1, 40).Draw(t, "cuts")
		cuts := make([]cut, len(cutsM))
		of := make([]int, len(cutsM))
		sum := 0.0
		for i, m := range cutsM {
			cuts[i].cutM, of[i] = quantity.Of(m), i
			sum += m
		}
		seen := map[int]bool{}
		used := 0.0
		for _, d := range cheapest(kind{}, cuts, of, lengths) {
			held := 0.0
			for _, i := range d.cuts {
				if seen[i] {
					t.Fatalf("cut %d lies on two drums", i)
				}
				seen[i] = true
				held += cutsM[i]
			}
			used += held
			longest := lengths[len(lengths)-1]
			switch {
			case math.Abs(held-d.usedM) > 1e-9*held:
				t.Fatalf("%g m are cut and %g m are told", held, d.usedM)
			case d.own:
				if len(d.cuts) != 1 || quantity.AtMost(held, longest) || d.lengthM != held {
					t.Fatalf("a length of its own: %+v of %v", d, lengths)
				}
			case !quantity.AtMost(held, d.lengthM) || !slices.Contains(lengths, d.lengthM):
				t.Fatalf("%g m are cut from %g m", held, d.lengthM)
			}
			for _, m := range lengths {
				if !d.own && m < d.lengthM && quantity.AtMost(held, m) {
					t.Fatalf("%g m would do for %g m, and %g m are bought", m, held, d.lengthM)
				}
			}
		}
		if len(seen) != len(cuts) || math.Abs(used-sum) > 1e-9*sum {
			t.Fatalf("%d of %d cuts, %g of %g m", len(seen), len(cuts), used, sum)
		}
	})
}

// TestUnknown: what cannot be had is said, and nothing is taken for 0.
func TestUnknown(t *testing.T) {
	text := strings.NewReplacer(`size_mm2    = 70`, `size_mm2 = 71`, "  neutral_mm2 = 35\n", "", "  rated_kva     = 100\n", "", "  max_current_a = 150\n", "").Replace(mill)
	v, opt := reviewed(text)
	cables := kindOf(t, "cables").Of(v, opt)
	for _, column := range []string{"capacity_a", "design_current_a", "rise_percent", "utilisation_percent", "loss_w", "factors"} {
		if c := at(t, cables, 0, column); c.State != Unknown || c.Print(Column{Type: Number}) != "unknown" {
			t.Errorf("%s: %+v", column, c)
		}
	}
	if c := at(t, cables, 0, "device_a"); c.State != Empty {
		t.Errorf("a run without a device: %+v", c)
	}
	ends := kindOf(t, "terminations").Of(v, opt)
	if c := at(t, ends, 0, "conductors"); c.State != Unknown { // whether there is a neutral is not stated
		t.Errorf("conductors: %+v", c)
	}
	if !strings.Contains(strings.Join(cables.Basis, "\n"), "stand open") {
		t.Errorf("%q", cables.Basis)
	}
}

// TestWays: the device stands at the board that names it, the run is seen from both.
func TestWays(t *testing.T) {
	v, opt := reviewed(mill)
	ways := kindOf(t, "ways").Of(v, opt)
	if len(ways.Rows) != 2 || at(t, ways, 0, "leads").Text != "towards the supply" || at(t, ways, 1, "leads").Text != "to sources" || at(t, ways, 1, "device_a").Value != 160 || at(t, ways, 0, "device_a").State != Empty {
		t.Errorf("%+v", ways.Rows)
	}
	boards := kindOf(t, "boards").Of(v, opt)
	if got := at(t, boards, 0, "ways").Value; got != 2 {
		t.Errorf("%g ways", got)
	}
}

// TestLegs: with legs, the metres of the schedule are the metres of cable.
func TestLegs(t *testing.T) {
	v, opt := reviewed(mill)
	opt.Legs = true
	cables := kindOf(t, "cables").Of(v, opt)
	if len(cables.Rows) != 3 || at(t, cables, 0, "length_m").Value != 40 || at(t, cables, 1, "length_m").Value != 42 || at(t, cables, 1, "cable").Text != "feeder leg 2 of 2" || at(t, cables, 2, "cable").Text != "wheel" {
		t.Errorf("%+v", cables.Rows)
	}
}

func TestPick(t *testing.T) {
	v, opt := reviewed(mill)
	all := kindOf(t, "cables").Of(v, opt)
	some, err := all.Pick([]string{"length_m", " cable "})
	if err != nil || len(some.Columns) != 2 || some.Rows[1][1].Text != "wheel" || some.Rows[1][0].Value != 35 {
		t.Errorf("%v %+v", err, some)
	}
	if _, err := all.Pick([]string{"lenght_m"}); err == nil || !strings.Contains(err.Error(), `did you mean "length_m"`) {
		t.Errorf("%v", err)
	}
	if whole, err := all.Pick([]string{"all"}); err != nil || len(whole.Columns) != len(all.Columns) {
		t.Errorf("%v", err)
	}
	names := map[string]bool{}
	for _, k := range Kinds {
		table := k.Of(v, opt)
		clear(names)
		for _, c := range table.Columns {
			if names[c.Name] || c.Name == "all" || c.Name == "usual" {
				t.Errorf("%s: column %q stands twice", k.Name, c.Name)
			}
			names[c.Name] = true
		}
		for _, row := range table.Rows {
			if len(row) != len(table.Columns) {
				t.Errorf("%s: a row of %d cells", k.Name, len(row))
			}
		}
	}
}

// TestBroken: designs with faults give tables, never a panic.
func TestBroken(t *testing.T) {
	for name, text := range map[string]string{
		"empty":          "",
		"site alone":     "site \"x\" {\n ratings = \"iec-60364-5-52:2009\"\n voltage_v = 400\n}\n",
		"no supply":      strings.Replace(mill, `supply "grid" {`, `board "grid" {`, 1),
		"no cable":       strings.ReplaceAll(mill, "cable.multi", "cable.gone"),
		"no route":       strings.ReplaceAll(mill, "route.bank", "route.gone"),
		"no set":         strings.Replace(mill, "iec-60364-5-52:2009", "nothing", 1),
		"no end":         strings.ReplaceAll(mill, "source.wheel", "source.gone"),
		"a loop":         mill + "run \"again\" {\n from = board.hall\n to = supply.grid\n cable = cable.multi\n size_mm2 = 50\n section {\n route = route.bank\n length_m = 3\n }\n}\n",
		"a broken text":  mill + "run \"",
		"bad length":     strings.Replace(mill, "length_m = 20", "length_m = -1", 1),
		"no sections":    mill + "run \"bare\" {\n from = board.hall\n to = board.hall\n}\n",
		"cores unknown":  strings.Replace(mill, `cores      = "4c+e"`, `cores = "many"`, 1),
		"parallel wrong": strings.Replace(mill, "parallel    = 2", "parallel = 0.5", 1),
	} {
		v, opt := reviewed(text)
		for _, k := range Kinds {
			for _, legs := range []bool{false, true} {
				opt.Legs = legs
				table := k.Of(v, opt)
				for _, row := range table.Rows {
					for i, c := range row {
						if c.State == Known && table.Columns[i].Type != Text && !quantity.Finite(c.Value) {
							t.Errorf("%s, %s: %s is %g", name, k.Name, table.Columns[i].Name, c.Value)
						}
					}
				}
			}
		}
	}
}

func TestStanding(t *testing.T) {
	errors := []finding.Finding{{Severity: finding.Error}, {Severity: finding.Error, Waived: true}, {Severity: finding.Warning}}
	if got := Standing(errors); got != "1 error stands open" {
		t.Error(got)
	}
	if got := Standing(errors[1:]); got != "" {
		t.Error(got)
	}
}

func BenchmarkAll1000(b *testing.B) {
	v, opt := reviewed(string(generate.Design(1000, 1)))
	for b.Loop() {
		for _, k := range Kinds {
			k.Of(v, opt)
		}
	}
}
