package network

import (
	"fmt"
	"math"
	"math/cmplx"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"trefoil/lint/design"
	"trefoil/lint/source"
)

// grid is a site of 400 V and its point of supply.
const grid = "site \"s\" {\n ratings = \"x\"\n voltage_v = 400\n}\nsupply \"g\" {\n fault_ka = 9\n}\n"

func board(name, more string) string { return fmt.Sprintf("board %q {\n%s\n}\n", name, more) }

func load(name, at, more string) string {
	return fmt.Sprintf("load %q {\n at = board.%s\n%s\n}\n", name, at, more)
}

func battery(name, more string) string {
	return fmt.Sprintf("source %q {\n kind = \"battery\"\n%s\n}\n", name, more)
}

// build reads a design of the grid and the parts and builds its network, in which
// nothing may be wrong.
func build(t testing.TB, parts ...string) *Tree {
	t.Helper()
	d := read(t, grid+strings.Join(parts, "")+rest)
	tree := Build(d)
	for _, f := range append(append(d.Faults[:0:0], d.Faults...), tree.Faults...) {
		t.Fatalf("%s: %s", f.Subject, f.Message)
	}
	return tree
}

// power is what currents take at nominal voltages, VA: the sum of U conj(I).
func power(i [3]complex128) complex128 {
	return complex(400/math.Sqrt(3), 0) * (cmplx.Conj(i[0]) +
		cmplx.Conj(i[1])*cmplx.Rect(1, -2*math.Pi/3) + cmplx.Conj(i[2])*cmplx.Rect(1, 2*math.Pi/3))
}

// TestTakers: the current and the power of everything that takes current. By hand, with
// U = 400 V: three phases S = sqrt3 U I, one phase to neutral S = U/sqrt3 I, between two
// lines S = U I; active power S cos phi, reactive power S sin phi, lagging.
//
//	32 A three-phase        sqrt3 x 400 x 32       = 22170.25 VA
//	20 kVA three-phase      20000/(sqrt3 x 400)    = 28.867513 A; 0.8: 16 kW, 12 kvar
//	4.6 kVA on L2           4600/230.940108        = 19.918584 A; 0.6: 2.76 kW, 3.68 kvar
//	10 A on L3              230.940108 x 10        = 2309.40108 VA
//	8 kVA on L1-L2          8000/400               = 20 A; 0.8: 6.4 kW, 4.8 kvar
//	12 A on L3-L1           400 x 12               = 4800 VA
//	63 A of a board, 0.8    sqrt3 x 400 x 63 = 43647.68 VA; 34918.15 W, 26188.61 var
//	25 A charging           sqrt3 x 400 x 25       = 17320.508 VA
//	10 kVA charging         10000/(sqrt3 x 400)    = 14.433757 A
//	3 kVA charging on L1    3000/230.940108        = 12.990381 A
//	2 kVA charging on L2-L3 2000/400               = 5 A
//	15 kVA rating           15000/(sqrt3 x 400)    = 21.650635 A
//	33 A rating             sqrt3 x 400 x 33       = 22863.07 VA
func TestTakers(t *testing.T) {
	feeder := run("m", "board.m", "supply.g")
	m := board("m", "")
	charger := run("a", "source.a", "board.m")
	for name, c := range map[string]struct {
		text, word      string
		a, p, q         float64
		charge, assumed bool
	}{
		"three-phase A":       {m + load("l", "m", "demand_a = 32"), "3", 32, 22170.2503, 0, false, false},
		"three-phase kVA":     {m + load("l", "m", "demand_kva = 20\n power_factor = 0.8\n phases = 3"), "3", 28.8675135, 16000, 12000, false, false},
		"one-phase kVA":       {m + load("l", "m", "demand_kva = 4.6\n power_factor = 0.6\n phases = 1\n phase = \"L2\""), "L2", 19.9185843, 2760, 3680, false, false},
		"one-phase A":         {m + load("l", "m", "demand_a = 10\n phases = 1\n phase = \"L3\""), "L3", 10, 2309.40108, 0, false, false},
		"between lines kVA":   {m + load("l", "m", "demand_kva = 8\n power_factor = 0.8\n phases = 1\n phase = \"L1-L2\""), "L1-L2", 20, 6400, 4800, false, false},
		"between lines A":     {m + load("l", "m", "demand_a = 12\n phases = 1\n phase = \"L3-L1\""), "L3-L1", 12, 4800, 0, false, false},
		"board":               {board("m", "demand_a = 63\n demand_power_factor = 0.8"), "3", 63, 34918.1442, 26188.6082, false, false},
		"charge A":            {m + charger + battery("a", "rated_kva = 40\n phases = 3\n charge_a = 25"), "3", 25, 17320.5081, 0, true, false},
		"charge kVA":          {m + charger + battery("a", "rated_kva = 40\n phases = 3\n charge_kva = 10"), "3", 14.4337567, 10000, 0, true, false},
		"charge one-phase":    {m + charger + battery("a", "rated_kva = 5\n phases = 1\n phase = \"L1\"\n charge_kva = 3"), "L1", 12.9903811, 3000, 0, true, false},
		"charge between":      {m + charger + battery("a", "rated_kva = 5\n phases = 1\n phase = \"L2-L3\"\n charge_kva = 2"), "L2-L3", 5, 2000, 0, true, false},
		"rating kVA":          {m + charger + battery("a", "rated_kva = 15\n phases = 3"), "3", 21.6506351, 15000, 0, true, true},
		"rating A":            {m + charger + battery("a", "max_current_a = 33\n phases = 3"), "3", 33, 22863.0707, 0, true, true},
		"rating, not maximum": {m + charger + battery("a", "rated_kva = 15\n max_current_a = 33\n phases = 3"), "3", 21.6506351, 15000, 0, true, true},
		"inverter that charges": {
			m + charger + src("a", "rated_kva = 40\n phases = 3\n charge_a = 25"), "3", 25, 17320.5081, 0, true, false,
		},
	} {
		t.Run(name, func(t *testing.T) {
			tree := build(t, c.text+feeder)
			if len(tree.Takers) != 1 {
				t.Fatalf("%d takers, want 1", len(tree.Takers))
			}
			k, s := tree.Takers[0], tree.Segments[len(tree.Segments)-1]
			about(t, "current", k.A, c.a, 1e-8)
			about(t, "demand of the run", s.DemandA().Value, c.a, 1e-8)
			got := power(s.DropA)
			about(t, "active power", real(got), c.p, 1e-8)
			about(t, "reactive power", imag(got)+1, c.q+1, 1e-8)
			if k.Word != c.word || k.Charge != c.charge || k.Assumed != c.assumed || !s.DemandA().Known || s.Takers != 1 || s.TakePhases != c.word {
				t.Errorf("%+v %+v", k, s)
			}
		})
	}
}

// about compares with a tolerance relative to the expected value.
func about(t tester, what string, got, want, relative float64) {
	t.Helper()
	if !(math.Abs(got-want) <= relative*math.Abs(want)) {
		t.Errorf("%s is %.12g, want %.12g", what, got, want)
	}
}

// TestTakesNothing: no load, no drop, whatever the sources give; a demand or charge of
// zero is none.
func TestTakesNothing(t *testing.T) {
	for name, text := range map[string]string{
		"no sources":         board("m", ""),
		"inverter":           board("m", "") + src("a", "rated_kva = 60\n phases = 3") + run("a", "source.a", "board.m"),
		"generator":          board("m", "") + strings.Replace(src("a", "rated_kva = 60\n phases = 3"), "inverter", "generator", 1) + run("a", "source.a", "board.m"),
		"charge of zero":     board("m", "") + battery("a", "rated_kva = 60\n phases = 3\n charge_a = 0") + run("a", "source.a", "board.m"),
		"charge of zero kVA": board("m", "") + battery("a", "rated_kva = 60\n phases = 3\n charge_kva = 0") + run("a", "source.a", "board.m"),
		"demand of zero":     board("m", "demand_a = 0"),
	} {
		tree := build(t, text+run("m", "board.m", "supply.g"))
		if len(tree.Takers) > 0 {
			t.Errorf("%s: %+v", name, tree.Takers)
		}
		for i, r := range tree.drop(same(tree, 0.1+0.05i)) {
			s := tree.Segments[i]
			if !s.DemandA().Known || s.DemandA().Value != 0 || s.Takers != 0 || !r.PathPercent.Known || r.PathPercent.Value != 0 || r.V.Value != 0 {
				t.Errorf("%s: demand %v, drop %v %v", name, s.DemandA(), r.PathPercent, r.V)
			}
		}
	}
}

// TestDemandSum by hand, in A a phase, board m in front of board b:
//
//	at b   three-phase 50 (0.7)   50     50     50
//	       L1 20                  20
//	       L1-L2 16               16     16
//	       board b itself 30      30     30     30
//	       battery charging 10    10     10     10
//	       together              126    106     90
//	at m   three-phase 100 (0.8) 100    100    100
//	       L3 40                                40
//	       together              226    206    230
//
// The worst phase counts; neither diversity nor power factor makes it less.
func TestDemandSum(t *testing.T) {
	tree := build(t,
		board("m", "diversity = 0.5"), board("b", "diversity = 0.5\n demand_a = 30"), run("m", "board.m", "supply.g"), run("b", "board.b", "board.m"),
		load("1", "b", "demand_a = 50\n power_factor = 0.7"), load("2", "b", "demand_a = 20\n phases = 1\n phase = \"L1\""), load("3", "b", "demand_a = 16\n phases = 1\n phase = \"L1-L2\""),
		battery("c", "rated_kva = 60\n phases = 3\n charge_a = 10"), run("c", "source.c", "board.b"),
		load("4", "m", "demand_a = 100\n power_factor = 0.8"), load("5", "m", "demand_a = 40\n phases = 1\n phase = \"L3\""))
	for name, want := range map[string]struct {
		a      float64
		takers int
	}{"c": {10, 1}, "b": {126, 5}, "m": {230, 7}} {
		s, _ := segment(t, tree, name)
		near(t, "demand of "+name, s.DemandA().Value, want.a)
		if s.Takers != want.takers || s.TakePhases != "3" || s.Loaded != 3 {
			t.Errorf("%s: %d takers on %s, %d loaded", name, s.Takers, s.TakePhases, s.Loaded)
		}
	}
}

// TestDropByHand: the trade's formula, R and X of the run, Rn and Xn of another neutral.
//
//	three-phase 100 A at 0.8: sqrt3 x 100 x (0.1 x 0.8 + 0.05 x 0.6) = 19.052559 V, 4.7631397 % of 400 V
//	L2 50 A at 0.6: 2 x 50 x (0.1 x 0.6 + 0.05 x 0.8) = 10 V, 4.3301270 % of 230.940108 V
//	the same, neutral 0.3 + 0.2j: 50 x (0.1 x 0.6 + 0.05 x 0.8 + 0.3 x 0.6 + 0.2 x 0.8) = 22 V, 9.5262794 %
//	L3-L1 25 A at 0.8: 2 x 25 x (0.1 x 0.8 + 0.05 x 0.6) = 5.5 V, 1.375 % of 400 V; no neutral
//	three-phase, another neutral: nothing returns by it
//	charging 40 A: sqrt3 x 40 x 0.1 = 6.9282032 V, 1.7320508 %; the power factor of the source is that of its output
func TestDropByHand(t *testing.T) {
	apart := Impedance{Ohm: 0.1 + 0.05i, NeutralOhm: 0.3 + 0.2i, HasNeutral: true, Known: true}
	alike := Impedance{Ohm: 0.1 + 0.05i, Known: true}
	for name, c := range map[string]struct {
		text       string
		z          Impedance
		v, percent float64
		loaded     int
	}{
		"three-phase":               {load("l", "m", "demand_a = 100\n power_factor = 0.8"), alike, 19.0525589, 4.76313972, 3},
		"three-phase, neutral":      {load("l", "m", "demand_a = 100\n power_factor = 0.8"), apart, 19.0525589, 4.76313972, 3},
		"one-phase":                 {load("l", "m", "demand_a = 50\n power_factor = 0.6\n phases = 1\n phase = \"L2\""), alike, 10, 4.33012702, 2},
		"one-phase, neutral":        {load("l", "m", "demand_a = 50\n power_factor = 0.6\n phases = 1\n phase = \"L2\""), apart, 22, 9.52627944, 2},
		"between lines":             {load("l", "m", "demand_a = 25\n power_factor = 0.8\n phases = 1\n phase = \"L3-L1\""), alike, 5.5, 1.375, 2},
		"between lines and neutral": {load("l", "m", "demand_a = 25\n power_factor = 0.8\n phases = 1\n phase = \"L3-L1\""), apart, 5.5, 1.375, 2},
		"charging":                  {battery("a", "max_current_a = 90\n power_factor = 0.8\n phases = 3\n charge_a = 40") + run("a", "source.a", "board.m"), alike, 6.92820323, 1.73205081, 3},
	} {
		t.Run(name, func(t *testing.T) {
			tree := build(t, board("m", ""), run("m", "board.m", "supply.g"), c.text)
			z := make([]Impedance, len(tree.Segments))
			for i := range z {
				z[i].Known = true
			}
			s, i := segment(t, tree, "m")
			z[i] = c.z
			r := tree.drop(z)[i]
			about(t, "drop", r.V.Value, c.v, 1e-8)
			about(t, "percent", r.Percent.Value, c.percent, 1e-8)
			about(t, "path", r.PathPercent.Value, c.percent, 1e-8)
			if s.Loaded != c.loaded {
				t.Errorf("%d loaded conductors, want %d", s.Loaded, c.loaded)
			}
		})
	}
}

// TestDropUnbalanced by hand: 40 A on L1 and 20 A on L2 over 0.1 ohm and a neutral of
// 0.2 ohm. The neutral carries along L1 40 - 20/2 = 30 A, along L2 20 - 40/2 = 0, along
// L3 -(40 + 20)/2 = -30 A. So L1 drops by 40 x 0.1 + 30 x 0.2 = 10 V, L2 by 2 V, and L3
// rises by 6 V; L1-L2 drops by the component of (ZI1 - ZI2) along it:
// 0.1 x (40 + 20) x cos 30 = 5.1961524 V.
func TestDropUnbalanced(t *testing.T) {
	tree := build(t, board("m", ""), run("m", "board.m", "supply.g"),
		load("1", "m", "demand_a = 40\n phases = 1\n phase = \"L1\""), load("2", "m", "demand_a = 20\n phases = 1\n phase = \"L2\""))
	z := []Impedance{{Ohm: 0.1, NeutralOhm: 0.2, HasNeutral: true, Known: true}}
	r := tree.Drop(each(z))
	_, i := segment(t, tree, "m")
	for word, want := range map[string]float64{"L1": 10, "L2": 2, "L3": -6, "L1-L2": 5.19615242, "3": 10 * math.Sqrt(3)} {
		total, _, known := r.Shares(tree.Segments[i].Far, word)
		about(t, word, total.V, want, 1e-8)
		if !known {
			t.Errorf("%s is not known", word)
		}
	}
	near(t, "neutral", cmplx.Abs(tree.Segments[i].DropNeutralA()), math.Sqrt(40*40+20*20-40*20))
	near(t, "the worst phase", r.Of(i).Percent.Value, 100*10/(400/math.Sqrt(3)))
}

// TestLooseLoads: a load that does not state its phase is on the one with most stated
// load - L3 with 12 A, not L1 with 8 + 3 A - and is listed.
func TestLooseLoads(t *testing.T) {
	one := func(name, phase string, a int) string {
		return load(name, "m", fmt.Sprintf("demand_a = %d\n phases = 1\n phase = %q", a, phase))
	}
	tree := build(t, board("m", ""), run("m", "board.m", "supply.g"), one("1", "L1", 8), one("2", "L1", 3), one("3", "L3", 12), load("x", "m", "demand_a = 5\n phases = 1"))
	s, _ := segment(t, tree, "m")
	near(t, "demand", s.DemandA().Value, 17)
	if len(tree.Loose) != 1 || tree.Loose[0].Name != "x" || tree.Takers[3].Word != "L3" {
		t.Errorf("%v %+v", tree.Loose, tree.Takers)
	}
}

// TestDemandUnknown: what hangs on a demand that cannot be read stays unknown on its
// whole path, and nothing beside it does.
func TestDemandUnknown(t *testing.T) {
	for name, text := range map[string]string{
		"current below zero":    load("x", "b", "demand_a = -1"),
		"power below zero":      load("x", "b", "demand_kva = -1"),
		"no demand":             load("x", "b", ""),
		"power factor above 1":  load("x", "b", "demand_a = 5\n power_factor = 1.2"),
		"two phases":            load("x", "b", "demand_a = 5\n phases = 2"),
		"no such phase":         load("x", "b", "demand_a = 5\n phases = 1\n phase = \"L4\""),
		"faulty A beside kVA":   load("x", "b", "demand_a = -1\n demand_kva = 5"),
		"charge below zero":     battery("x", "rated_kva = 10\n phases = 3\n charge_a = -1") + run("x", "source.x", "board.b"),
		"charge kVA below zero": battery("x", "rated_kva = 10\n phases = 3\n charge_kva = -1") + run("x", "source.x", "board.b"),
		"no rating":             battery("x", "phases = 3") + run("x", "source.x", "board.b"),
		"two phases, charging":  battery("x", "rated_kva = 10\n phases = 2\n charge_a = 5") + run("x", "source.x", "board.b"),
	} {
		t.Run(name, func(t *testing.T) {
			d := read(t, grid+board("m", "")+board("c", "")+board("b", "")+board("d", "")+run("m", "board.m", "supply.g")+
				run("c", "board.c", "board.m")+run("b", "board.b", "board.m")+run("d", "board.d", "board.m")+load("y", "c", "demand_a = 7")+load("z", "d", "demand_a = 7")+text+rest)
			if len(d.Faults) == 0 {
				t.Fatal("the design has no fault")
			}
			tree := Build(d)
			r := tree.drop(same(tree, 0.1))
			for name, want := range map[string][3]bool{"m": {false, false, false}, "b": {false, false, false}, "c": {true, true, false}, "d": {true, true, false}} {
				s, i := segment(t, tree, name)
				if got := [3]bool{s.DemandA().Known, r[i].Percent.Known, r[i].PathPercent.Known}; got != want {
					t.Errorf("%s: demand, drop, path known %v, want %v", name, got, want)
				}
			}
			if _, err := tree.exact(same(tree, 0.1), ExactOptions{Demand: true}); err == nil || !strings.Contains(err.Error(), "not known") {
				t.Errorf("the exact drop: %v", err)
			}
		})
	}
	for name, text := range map[string]string{"demand": "demand_a = -1", "power factor": "demand_a = 5\n demand_power_factor = 2"} {
		tree := Build(read(t, grid+board("m", text)+run("m", "board.m", "supply.g")+rest))
		if tree.Segments[0].DemandA().Known || tree.drop(same(tree, 0.1))[0].Percent.Known {
			t.Errorf("faulty %s of a board: its drop is known", name)
		}
	}
}

// eater is a load that a property knows of.
type eater struct {
	text  string
	amps  [3]float64
	board int
}

// drawEaters makes loads of every kind on random boards of draw.
func drawEaters(next func(n int) int, boards, count int) []eater {
	kinds := []struct {
		text  string
		lines [3]float64
		per   float64 // V by which an apparent power is divided for the current in a line
	}{
		{"phases = 3", [3]float64{1, 1, 1}, 400 * math.Sqrt(3)},
		{"phases = 1\n phase = \"L1\"", [3]float64{1, 0, 0}, 400 / math.Sqrt(3)},
		{"phases = 1\n phase = \"L2\"", [3]float64{0, 1, 0}, 400 / math.Sqrt(3)},
		{"phases = 1\n phase = \"L3\"", [3]float64{0, 0, 1}, 400 / math.Sqrt(3)},
		{"phases = 1\n phase = \"L1-L2\"", [3]float64{1, 1, 0}, 400},
		{"phases = 1\n phase = \"L2-L3\"", [3]float64{0, 1, 1}, 400},
		{"phases = 1\n phase = \"L3-L1\"", [3]float64{1, 0, 1}, 400},
	}
	var list []eater
	for i := range count {
		k := kinds[next(len(kinds))]
		e := eater{board: next(boards)}
		a := float64(1 + next(40))
		how := fmt.Sprintf("demand_a = %g", a)
		if next(2) == 0 {
			how, a = fmt.Sprintf("demand_kva = %g", a/10), a/10*1000/k.per
		}
		e.text = load(fmt.Sprintf("e%d", i), fmt.Sprintf("n%d", e.board), fmt.Sprintf("%s\n power_factor = %g\n%s", how, 0.8+float64(next(21))/100, k.text))
		for p := range 3 {
			e.amps[p] = a * k.lines[p]
		}
		list = append(list, e)
	}
	return list
}

func texts(list []eater) string {
	var b strings.Builder
	for _, e := range list {
		b.WriteString(e.text)
	}
	return b.String()
}

// TestDemandProperties of random trees.
func TestDemandProperties(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		next := func(n int) int { return rapid.IntRange(0, n-1).Draw(rt, "n") }
		boards := rapid.IntRange(1, 8).Draw(rt, "boards")
		x := draw(next, boards, rapid.IntRange(0, 4).Draw(rt, "sources"))
		eaters := drawEaters(next, boards, rapid.IntRange(1, 10).Draw(rt, "loads"))
		from := func(text string) *Tree {
			d := design.Read(".", []*source.File{{Name: "a.hcl", Bytes: []byte(text)}})
			tree := Build(d)
			if len(d.Faults)+len(tree.Faults) > 0 {
				rt.Fatal(d.Faults, tree.Faults)
			}
			return tree
		}
		tree := from(x.text + texts(eaters))
		z := make([]Impedance, len(tree.Segments))
		for i := range z {
			z[i] = Impedance{
				Ohm:        complex(rapid.Float64Range(0.001, 0.1).Draw(rt, "r"), rapid.Float64Range(0, 0.05).Draw(rt, "x")),
				NeutralOhm: complex(rapid.Float64Range(0.001, 0.1).Draw(rt, "rn"), rapid.Float64Range(0, 0.05).Draw(rt, "xn")),
				HasNeutral: rapid.Bool().Draw(rt, "neutral"), Known: true,
			}
		}
		drop := tree.drop(z)

		// Every run carries the plain sum of what hangs behind it, the worst phase.
		for i := range tree.Segments {
			var sum [3]float64
			for _, e := range eaters {
				for _, s := range tree.Path(nodeOf(rt, tree, fmt.Sprintf("board.n%d", e.board))) {
					if s == i {
						for p := range 3 {
							sum[p] += e.amps[p]
						}
					}
				}
			}
			near(rt, "demand", tree.Segments[i].DemandA().Value, max(sum[0], sum[1], sum[2]))
		}

		// The shares of a path add to its total.
		for n := range tree.Nodes {
			if tree.Nodes[n].Up < 0 {
				continue
			}
			for _, word := range words {
				total, shares, known := tree.Drop(each(z)).Shares(n, word)
				v, percent := 0.0, 0.0
				for _, s := range shares {
					v, percent = v+s.V, percent+s.Percent
				}
				near(rt, "shares, V", v, total.V)
				near(rt, "shares, percent", percent, total.Percent)
				if !known || len(shares) != len(tree.Path(n)) {
					rt.Errorf("%d shares of %d runs", len(shares), len(tree.Path(n)))
				}
			}
		}

		// Twice the length of every run, twice the drop.
		for i := range z {
			z[i].Ohm, z[i].NeutralOhm = 2*z[i].Ohm, 2*z[i].NeutralOhm
		}
		for i, r := range tree.drop(z) {
			near(rt, "twice the drop", r.V.Value, 2*drop[i].V.Value)
			near(rt, "twice the path", r.PathPercent.Value, 2*drop[i].PathPercent.Value)
		}
		for i := range z {
			z[i].Ohm, z[i].NeutralOhm = z[i].Ohm/2, z[i].NeutralOhm/2
		}

		// The drop of all loads is that of some and that of the others, phase by phase.
		cut := rapid.IntRange(0, len(eaters)).Draw(rt, "cut")
		some, others := from(x.text+texts(eaters[:cut])).Drop(each(z)), from(x.text+texts(eaters[cut:])).Drop(each(z))
		for i := range drop {
			whole, _ := tree.Drop(each(z)).path(i)
			one, _ := some.path(i)
			other, _ := others.path(i)
			for k := range whole {
				near(rt, "parts of the drop", one[k]+other[k], whole[k])
			}
		}

		// Another order of blocks, the same figures.
		blocks := append([]string{}, x.blocks...)
		for _, e := range eaters {
			blocks = append(blocks, e.text)
		}
		other := from(strings.Join(rapid.Permutation(blocks).Draw(rt, "order"), ""))
		at, zo := map[string]int{}, make([]Impedance, len(z))
		for i := range other.Segments {
			at[other.Segments[i].Run.Name] = i
		}
		for i := range z {
			zo[at[tree.Segments[i].Run.Name]] = z[i]
		}
		again := other.drop(zo)
		for i := range tree.Segments {
			o := at[tree.Segments[i].Run.Name]
			near(rt, "path in another order", again[o].PathPercent.Value, drop[i].PathPercent.Value)
			near(rt, "demand in another order", other.Segments[o].DemandA().Value, tree.Segments[i].DemandA().Value)
		}
	})
}

func nodeOf(t interface {
	Helper()
	Fatalf(string, ...any)
}, tree *Tree, subject string,
) int {
	t.Helper()
	for n := range tree.Nodes {
		if tree.Nodes[n].Subject == subject {
			return n
		}
	}
	t.Fatalf("no node %s", subject)
	return -1
}

// TestFaultyPhases: what hangs on a phase that cannot be read stays unknown, for charge and
// for the current of the source; and a load without a phase joins the phase on which a
// battery charges: 87 A and 9 A on L2, 5 A on L1.
func TestFaultyPhases(t *testing.T) {
	for name, text := range map[string]string{
		"two phases, rating":    "rated_kva = 10\n phases = 2",
		"no such phase, rating": "rated_kva = 10\n phases = 1\n phase = \"L4\"",
		"no such phase, charge": "rated_kva = 10\n phases = 1\n phase = \"L4\"\n charge_a = 4",
	} {
		tree := Build(read(t, grid+board("m", "")+run("m", "board.m", "supply.g")+battery("x", text)+run("x", "source.x", "board.m")+rest))
		if s, _ := segment(t, tree, "m"); s.DemandA().Known || s.DesignCurrentA().Known {
			t.Errorf("%s: demand %+v, design current %+v", name, s.DemandA(), s.DesignCurrentA())
		}
	}
	tree := Build(read(t, grid+board("m", "")+run("m", "board.m", "supply.g")+battery("x", "rated_kva = 20\n phases = 1\n phase = \"L2\"\n charge_a = 87")+run("x", "source.x", "board.m")+
		"load \"a\" {\n at = board.m\n demand_a = 5\n phases = 1\n phase = \"L1\"\n}\nload \"b\" {\n at = board.m\n demand_a = 9\n phases = 1\n}\n"+rest))
	s, _ := segment(t, tree, "m")
	near(t, "demand", s.DemandA().Value, 96)
}

// TestNoSupply: without a supply, or with a source that nothing joins, there is no exact
// solution, and an error says so.
func TestNoSupply(t *testing.T) {
	if _, err := Build(read(t, "site \"s\" {\n ratings = \"x\"\n voltage_v = 400\n}\n")).exact(nil, ExactOptions{}); err == nil {
		t.Error("a design without a supply is solved")
	}
	tree := Build(read(t, grid+board("m", "")+run("m", "board.m", "supply.g")+src("x", "rated_kva = 10\n phases = 3")+rest))
	if _, err := tree.exact(same(tree, 0.1), ExactOptions{}); err == nil || !strings.Contains(err.Error(), "source.x has no path") {
		t.Errorf("a source without a path: %v", err)
	}
}
