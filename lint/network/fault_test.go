package network

import (
	"fmt"
	"math"
	"math/cmplx"
	"testing"

	"pgregory.net/rapid"

	"trefoil/ratings/quantity"
)

// angled is an origin whose angle is known.
func angled(ohm, ratio float64) Origin {
	return Origin{Ohm: quantity.Of(ohm), XOverR: quantity.Of(ratio)}
}

// twoRuns is supply g - run m - board m - run b - board b.
func twoRuns(t testing.TB, more string) *Tree {
	t.Helper()
	return build(t, board("m", ""), board("b", ""), run("m", "board.m", "supply.g"), run("b", "board.b", "board.m"), more)
}

// branchesOf puts the branches of runs, by name, in the order of the tree's segments.
func branchesOf(t testing.TB, tree *Tree, by map[string]Branch) []Branch {
	t.Helper()
	list := make([]Branch, len(tree.Segments))
	for name, b := range by {
		_, i := segment(t, tree, name)
		list[i] = b
	}
	return list
}

// zeros are sources that feed nothing.
func zeros(tree *Tree) []quantity.Maybe {
	list := make([]quantity.Maybe, len(tree.Nodes))
	for i := range list {
		list[i] = quantity.Of(0)
	}
	return list
}

// handCase is what the calculations by hand below start from.
func handCase(t testing.TB, tree *Tree) ([]Branch, FaultCase) {
	branches := branchesOf(t, tree, map[string]Branch{
		"m": {Cold: 0.02 + 0.009i, Hot: 0.024 + 0.009i, EarthCold: 0.03 + 0.009i, EarthHot: 0.036 + 0.009i, NeutralHot: 0.03 + 0.009i, Known: true, HasEarth: true, HasNeutral: true},
		"b": {Cold: 0.032 + 0.01i, Hot: 0.04 + 0.01i, EarthCold: 0.05 + 0.01i, EarthHot: 0.06 + 0.01i, NeutralHot: 0.05 + 0.01i, Known: true, HasEarth: true, HasNeutral: true},
	})
	return branches, FaultCase{
		Max: angled(0.01, 0.75), Min: angled(0.02, 0.75), Loop: angled(0.05, 0.75), // cos 0.8, sin 0.6
		FactorMax: 1.05, FactorMin: 0.95, Feed: zeros(tree),
	}
}

// TestLevelsByHand: U = 400 V, so c U/sqrt3 is 242.487113 V at 1.05 and 219.393102 V at
// 0.95. Impedances in ohm, each line the supply, then run m, then run b added:
//
//	greatest  0.008+0.006j   0.028+0.015j   0.060+0.025j   |Z| 0.01, 0.0317647603, 0.065
//	          242.487113/|Z| = 24248.7113 A, 7633.84047 A, 3730.57097 A
//	least     0.016+0.012j   0.040+0.021j   0.080+0.031j   |Z| 0.02, 0.0451774280, 0.0857962703
//	          line to line sqrt3/2 x 219.393102/|Z| = 9500 A, 4205.64004 A, 2214.54848 A
//	neutral   0.040+0.030j   0.094+0.048j   0.184+0.068j   |Z| 0.05, 0.105546198, 0.196163197
//	          line to neutral 219.393102/|Z| = 4387.86205 A, 2078.64523 A, 1118.42132 A: the least
//	          with earth and neutral apart 0.016+0.012j, 0.070+0.030j, 0.160+0.050j
//	          |Z| 0.02, 0.0761577311, 0.167630546: 10969.6551 A at the supply, so line to line 9500 A,
//	          then 2880.77257 A and 1308.78952 A
//	earth hot 0.040+0.030j   0.100+0.048j   0.200+0.068j   |Z| 0.05, 0.110923397, 0.211243935
//	          219.393102/|Z| = 4387.86205 A, 1977.8794 A, 1038.57705 A
//	     cold 0.040+0.030j   0.090+0.048j   0.172+0.068j   |Z| 0.05, 0.102, 0.184954048
//	          242.487113/|Z| = 4849.74226 A, 2377.32464 A, 1311.0668 A
func TestLevelsByHand(t *testing.T) {
	tree := twoRuns(t, "")
	branches, c := handCase(t, tree)
	type want struct{ most, least, neutral, apart, earthLeast, earthMost float64 }
	wants := map[string]want{
		"supply.g": {0.01, 0.02, 0.05, 0.02, 0.05, 0.05},
		"board.m":  {0.0317647603, 0.0451774280, 0.105546198, 0.0761577311, 0.110923397, 0.102},
		"board.b":  {0.065, 0.0857962703, 0.196163197, 0.167630546, 0.211243935, 0.184954048},
	}
	amps := map[string][6]float64{ // greatest, line to line, line to neutral, apart, earth least, earth greatest
		"supply.g": {24248.7113, 9500, 4387.86205, 10969.6551, 4387.86205, 4849.74226},
		"board.m":  {7633.84047, 4205.64004, 2078.64523, 2880.77257, 1977.8794, 2377.32464},
		"board.b":  {3730.57097, 2214.54848, 1118.42132, 1308.78952, 1038.57705, 1311.0668},
	}
	for _, apart := range []bool{false, true} {
		c.Apart = apart
		for n, l := range tree.levels(branches, c) {
			subject := tree.Nodes[n].Subject
			w, a := wants[subject], amps[subject]
			about(t, subject+" greatest", l.MaxA.Value, 242.487113/w.most, 1e-8)
			about(t, subject+" greatest, A", l.MaxA.Value, a[0], 1e-8)
			least := min(a[1], a[2])
			if apart {
				least = min(a[1], a[3])
			}
			about(t, subject+" least, A", l.MinA.Value, least, 1e-8)
			about(t, subject+" impedance", l.HotOhm.Value, w.least, 1e-8)
			about(t, subject+" loop", l.LoopOhm.Value, w.earthLeast, 1e-8)
			about(t, subject+" earth least, A", l.EarthMinA.Value, a[4], 1e-8)
			about(t, subject+" earth greatest, A", l.EarthMaxA.Value, a[5], 1e-8)
			near(t, "fed", l.FeedA, 0)
			if !l.MaxA.Known || !l.MinA.Known || !l.HotOhm.Known || !l.LoopOhm.Known || !l.EarthMinA.Known || !l.EarthMaxA.Known {
				t.Errorf("%s: %+v", subject, l)
			}
		}
	}
}

// TestLevelsWithoutNeutral: where the path has no neutral the least fault is line to
// line, sqrt3/2 x 219.393102/0.0857962703 = 2214.54848 A (see TestLevelsByHand); in
// front of the run without one, line to neutral remains.
func TestLevelsWithoutNeutral(t *testing.T) {
	tree := twoRuns(t, "")
	branches, c := handCase(t, tree)
	_, b := segment(t, tree, "b")
	branches[b].HasNeutral = false
	levels := tree.levels(branches, c)
	about(t, "line to line", levels[nodeOf(t, tree, "board.b")].MinA.Value, 2214.54848, 1e-8)
	about(t, "line to neutral", levels[nodeOf(t, tree, "board.m")].MinA.Value, 2078.64523, 1e-8)
	_, m := segment(t, tree, "m")
	branches[m].HasNeutral, branches[b].HasNeutral = false, true
	about(t, "behind a run without", tree.levels(branches, c)[nodeOf(t, tree, "board.b")].MinA.Value, 2214.54848, 1e-8)
}

// TestUnknownAngle: where x_over_r of an origin is not known, the greatest current is
// the greatest of all angles from 0 to 90 degrees, and the least current the least of
// them, within what a sweep in steps of 0.25 degrees can tell (1 - cos 0.125 degrees is
// 2.4e-6 of an impedance).
func TestUnknownAngle(t *testing.T) {
	tree := twoRuns(t, "")
	rapid.Check(t, func(rt *rapid.T) {
		draw := func(name string) complex128 {
			return complex(rapid.Float64Range(0, 0.1).Draw(rt, name), rapid.Float64Range(0, 0.1).Draw(rt, name))
		}
		branches := make([]Branch, 2)
		for i := range branches {
			branches[i] = Branch{Cold: draw("cold"), Hot: draw("hot"), EarthCold: draw("earth cold"), EarthHot: draw("earth hot"), NeutralHot: draw("neutral"), Known: true, HasEarth: true, HasNeutral: true}
		}
		ohm := func(name string) Origin {
			return Origin{Ohm: quantity.Of(rapid.Float64Range(0.001, 0.5).Draw(rt, name))}
		}
		c := FaultCase{Max: ohm("max"), Min: ohm("min"), Loop: ohm("loop"), Apart: rapid.Bool().Draw(rt, "apart"), FactorMax: 1.1, FactorMin: 0.9, Feed: zeros(tree)}
		got := tree.levels(branches, c)
		swept := make([]Level, len(got))
		for step := 0; step <= 360; step++ {
			turned := c
			ratio := quantity.Of(math.Tan(float64(step) / 4 * math.Pi / 180))
			turned.Max.XOverR, turned.Min.XOverR, turned.Loop.XOverR = ratio, ratio, ratio
			for n, l := range tree.levels(branches, turned) {
				s := &swept[n]
				if step == 0 {
					*s = l
				}
				s.MaxA.Value, s.EarthMaxA.Value = max(s.MaxA.Value, l.MaxA.Value), max(s.EarthMaxA.Value, l.EarthMaxA.Value)
				s.MinA.Value, s.EarthMinA.Value = min(s.MinA.Value, l.MinA.Value), min(s.EarthMinA.Value, l.EarthMinA.Value)
				s.HotOhm.Value, s.LoopOhm.Value = max(s.HotOhm.Value, l.HotOhm.Value), max(s.LoopOhm.Value, l.LoopOhm.Value)
			}
		}
		for n := range got {
			for what, pair := range map[string][2]float64{ // ours, then the sweep's: first not below, with those that are greatest
				"greatest":       {got[n].MaxA.Value, swept[n].MaxA.Value},
				"earth greatest": {got[n].EarthMaxA.Value, swept[n].EarthMaxA.Value},
				"impedance":      {got[n].HotOhm.Value, swept[n].HotOhm.Value},
				"loop":           {got[n].LoopOhm.Value, swept[n].LoopOhm.Value},
				"least":          {1 / got[n].MinA.Value, 1 / swept[n].MinA.Value},
				"earth least":    {1 / got[n].EarthMinA.Value, 1 / swept[n].EarthMinA.Value},
			} {
				if !(pair[0] >= pair[1]*(1-1e-12)) || !(pair[0] <= pair[1]*(1+5e-6)) {
					rt.Errorf("%s at %s: %.12g, the sweep gives %.12g", what, tree.Nodes[n].Subject, pair[0], pair[1])
				}
			}
		}
	})
}

// TestFeed: what one source feeds into a fault. 60 kVA at 400 V are 60000/(sqrt3 x 400)
// = 86.6025404 A; 1.2 times that (common practice) is 103.923048 A; 6 kVA on L2 are
// 6000/230.940108 = 25.9807621 A, times 1.2 31.1769145 A; 8 kVA between two lines are
// 8000/400 = 20 A, times 1.2 24 A.
func TestFeed(t *testing.T) {
	for name, c := range map[string]struct {
		text  string
		a     float64
		known bool
	}{
		"stated":             {"rated_kva = 60\n phases = 3\n fault_a = 150", 150, true},
		"stated as none":     {"rated_kva = 60\n phases = 3\n fault_a = 0", 0, true},
		"stated, no rating":  {"phases = 3\n fault_a = 150", 150, true},
		"three-phase":        {"rated_kva = 60\n phases = 3", 103.923048, true},
		"rated, not maximum": {"rated_kva = 60\n max_current_a = 91\n phases = 3", 103.923048, true},
		"maximum alone":      {"max_current_a = 91\n phases = 3", 109.2, true},
		"one-phase":          {"rated_kva = 6\n phases = 1\n phase = \"L2\"", 31.1769145, true},
		"between lines":      {"rated_kva = 8\n phases = 1\n phase = \"L3-L1\"", 24, true},
		"no rating":          {"phases = 3", 0, false},
		"faulty rating":      {"rated_kva = -60\n phases = 3", 0, false},
		"faulty feed":        {"rated_kva = 60\n phases = 3\n fault_a = -1", 0, false},
		"faulty phases":      {"rated_kva = 60\n phases = 2", 0, false},
	} {
		tree := Build(read(t, grid+board("m", "")+run("m", "board.m", "supply.g")+src("a", c.text)+run("a", "source.a", "board.m")+rest))
		got := tree.FeedA(tree.Nodes[nodeOf(t, tree, "source.a")].Source)
		if got.Known != c.known {
			t.Errorf("%s: known %v, want %v", name, got.Known, c.known)
		} else if c.known {
			about(t, name, got.Value, c.a, 1e-8)
		}
	}
}

// TestFeedIsAdded: 40 A and 25 A of two sources come on top of the greatest current at
// every node, 3730.57097 A at board b (see TestLevelsByHand), and change no least one.
// A source without a path to the supply feeds nothing.
func TestFeedIsAdded(t *testing.T) {
	text := grid + board("m", "") + board("b", "") + run("m", "board.m", "supply.g") + run("b", "board.b", "board.m") +
		src("a", "max_current_a = 9\n phases = 3") + run("a", "source.a", "board.b") + src("c", "max_current_a = 9\n phases = 3") + run("c", "source.c", "board.m") +
		src("far", "max_current_a = 9\n phases = 3") + rest
	tree := Build(read(t, text))
	branches, c := handCase(t, tree)
	for _, name := range []string{"a", "c"} {
		_, i := segment(t, tree, name)
		branches[i] = Branch{Known: true, HasEarth: true, HasNeutral: true}
	}
	alone := tree.levels(branches, c)
	c.Feed[nodeOf(t, tree, "source.a")] = quantity.Of(40)
	c.Feed[nodeOf(t, tree, "source.c")] = quantity.Of(25)
	far := nodeOf(t, tree, "source.far")
	c.Feed[far] = quantity.Of(1000)
	fed := tree.levels(branches, c)
	about(t, "board.b", fed[nodeOf(t, tree, "board.b")].MaxA.Value, 3730.57097+65, 1e-8)
	for n := range fed {
		if n == far {
			if fed[n] != (Level{}) {
				t.Errorf("a source without a path has a level: %+v", fed[n])
			}
			continue
		}
		near(t, "with the sources", fed[n].MaxA.Value, alone[n].MaxA.Value+65)
		near(t, "their part", fed[n].FeedA, 65)
		near(t, "least", fed[n].MinA.Value, alone[n].MinA.Value)
		near(t, "earth least", fed[n].EarthMinA.Value, alone[n].EarthMinA.Value)
	}
	c.Feed[far] = quantity.Maybe{}
	if l := tree.levels(branches, c)[0]; !l.MaxA.Known {
		t.Error("a source without a path makes the level unknown")
	}
	c.Feed[nodeOf(t, tree, "source.c")] = quantity.Maybe{}
	for n, l := range tree.levels(branches, c) {
		if l.MaxA.Known || n != far && (!l.MinA.Known || !l.EarthMinA.Known) {
			t.Errorf("one feed is not known, at %s: %+v", tree.Nodes[n].Subject, l)
		}
	}
}

// TestLevelsUnknown: a level is known only where all it hangs on is.
func TestLevelsUnknown(t *testing.T) {
	type known struct{ most, least, earth bool }
	all := known{true, true, true}
	for name, c := range map[string]struct {
		change func(b map[string]*Branch, c *FaultCase)
		want   [4]known // at the supply, boards m and b behind it, board o beside them
	}{
		"nothing":           {func(map[string]*Branch, *FaultCase) {}, [4]known{all, all, all, all}},
		"first run":         {func(b map[string]*Branch, _ *FaultCase) { b["m"].Known = false }, [4]known{all, {}, {}, all}},
		"second run":        {func(b map[string]*Branch, _ *FaultCase) { b["b"].Known = false }, [4]known{all, all, {}, all}},
		"earth of first":    {func(b map[string]*Branch, _ *FaultCase) { b["m"].HasEarth = false }, [4]known{all, {true, true, false}, {true, true, false}, all}},
		"earth of second":   {func(b map[string]*Branch, _ *FaultCase) { b["b"].HasEarth = false }, [4]known{all, all, {true, true, false}, all}},
		"strongest supply":  {func(_ map[string]*Branch, c *FaultCase) { c.Max = Origin{} }, [4]known{{false, true, true}, {false, true, true}, {false, true, true}, {false, true, true}}},
		"weakest supply":    {func(_ map[string]*Branch, c *FaultCase) { c.Min = Origin{} }, [4]known{{true, false, true}, {true, false, true}, {true, false, true}, {true, false, true}}},
		"loop":              {func(_ map[string]*Branch, c *FaultCase) { c.Loop = Origin{} }, [4]known{{true, false, false}, {true, false, false}, {true, false, false}, {true, false, false}}},
		"loop, TT":          {func(_ map[string]*Branch, c *FaultCase) { c.Loop, c.Apart = Origin{}, true }, [4]known{{true, true, false}, {true, true, false}, {true, true, false}, {true, true, false}}},
		"feed of one board": {func(_ map[string]*Branch, c *FaultCase) { c.Feed[1] = quantity.Maybe{} }, [4]known{{false, true, true}, {false, true, true}, {false, true, true}, {false, true, true}}},
	} {
		t.Run(name, func(t *testing.T) {
			tree := twoRuns(t, board("o", "")+run("o", "board.o", "supply.g"))
			branches, fc := handCase(t, tree)
			by := map[string]*Branch{}
			for i := range tree.Segments {
				by[tree.Segments[i].Run.Name] = &branches[i]
			}
			*by["o"] = *by["m"]
			c.change(by, &fc)
			levels := tree.levels(branches, fc)
			for k, subject := range []string{"supply.g", "board.m", "board.b", "board.o"} {
				l := levels[nodeOf(t, tree, subject)]
				if got := (known{l.MaxA.Known, l.MinA.Known, l.EarthMinA.Known}); got != c.want[k] || l.LoopOhm.Known != got.earth || l.LegEarthMinA.Known != got.earth || l.LegMinA.Known != got.least || l.EarthMaxA.Known != (got.earth && name != "feed of one board") || l.HotOhm.Known != (got.least || name == "loop") {
					t.Errorf("%s: %+v, want %+v", subject, l, c.want[k])
				}
			}
		})
	}
	for name, text := range map[string]string{
		"no supply":  "site \"s\" {\n ratings = \"x\"\n voltage_v = 400\n}\n" + board("m", "") + board("b", "") + run("b", "board.b", "board.m"),
		"no voltage": "site \"s\" {\n ratings = \"x\"\n}\nsupply \"g\" {\n fault_ka = 9\n}\n" + board("b", "") + run("b", "board.b", "supply.g"),
		"loop": grid + board("m", "") + board("b", "") + run("m", "board.m", "supply.g") + run("b", "board.b", "board.m") +
			run("b2", "board.b", "board.m"),
	} {
		tree := Build(read(t, text+rest))
		branches := make([]Branch, len(tree.Segments))
		for i := range branches {
			branches[i] = Branch{Cold: 0.1, Hot: 0.1, EarthCold: 0.1, EarthHot: 0.1, NeutralHot: 0.1, Known: true, HasEarth: true, HasNeutral: true}
		}
		c := FaultCase{Max: angled(0.1, 1), Min: angled(0.1, 1), Loop: angled(0.1, 1), FactorMax: 1, FactorMin: 1, Feed: zeros(tree)}
		if l := tree.levels(branches, c)[nodeOf(t, tree, "board.b")]; l != (Level{}) {
			t.Errorf("%s: %+v", name, l)
		}
	}
}

// TestLevelProperties of random trees: along a path no current rises and no impedance
// falls; the least is not above the greatest; the earth fault likewise; without sources
// the greatest is that of the definition with the impedances of the path added up here.
func TestLevelProperties(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		next := func(n int) int { return rapid.IntRange(0, n-1).Draw(rt, "n") }
		x := draw(next, rapid.IntRange(1, 8).Draw(rt, "boards"), rapid.IntRange(0, 6).Draw(rt, "sources"))
		tree := Build(read(t, x.text))
		neutral := rapid.Bool().Draw(rt, "neutral")
		branches := make([]Branch, len(tree.Segments))
		for i := range branches {
			cold := func(what string) complex128 {
				return complex(rapid.Float64Range(0.0001, 0.1).Draw(rt, what), rapid.Float64Range(0, 0.05).Draw(rt, what))
			}
			warm := func(z complex128) complex128 { return complex(1.28*real(z), imag(z)) }
			b := Branch{Cold: cold("phase"), EarthCold: cold("earth"), NeutralHot: cold("neutral"), Known: true, HasEarth: true, HasNeutral: neutral}
			b.Hot, b.EarthHot = warm(b.Cold), warm(b.EarthCold)
			branches[i] = b
		}
		ratio := quantity.Maybe{Value: rapid.Float64Range(0, 20).Draw(rt, "x over r"), Known: rapid.Bool().Draw(rt, "angle")}
		ohm := rapid.Float64Range(0.001, 0.3).Draw(rt, "ohm")
		c := FaultCase{
			Max: Origin{quantity.Of(ohm), ratio}, Min: Origin{quantity.Of(ohm * rapid.Float64Range(1, 4).Draw(rt, "weaker")), ratio},
			Loop: Origin{Ohm: quantity.Of(rapid.Float64Range(0.001, 50).Draw(rt, "loop"))}, Apart: rapid.Bool().Draw(rt, "apart"),
			FactorMax: 1.05, FactorMin: 0.95, Feed: make([]quantity.Maybe, len(tree.Nodes)),
		}
		feed := 0.0
		for n := range c.Feed {
			if tree.Nodes[n].Source != nil {
				c.Feed[n].Value = rapid.Float64Range(0, 500).Draw(rt, "feed")
			}
			c.Feed[n].Known = true
			feed += c.Feed[n].Value
		}
		levels := tree.levels(branches, c)
		for n, l := range levels {
			if !l.MaxA.Known || !l.MinA.Known || !l.EarthMinA.Known || !l.EarthMaxA.Known {
				rt.Fatalf("unknown at %s: %+v", tree.Nodes[n].Subject, l)
			}
			if l.MinA.Value > l.MaxA.Value || l.EarthMinA.Value > l.EarthMaxA.Value || l.MinA.Value <= 0 || l.EarthMinA.Value <= 0 {
				rt.Errorf("at %s the least is above the greatest: %+v", tree.Nodes[n].Subject, l)
			}
			if ratio.Known {
				z := complex(ohm, 0) * (complex(1, ratio.Value) / complex(math.Hypot(1, ratio.Value), 0))
				for _, s := range tree.Path(n) {
					z += branches[s].Cold
				}
				near(rt, "greatest", l.MaxA.Value, 1.05*400/(math.Sqrt(3)*cmplx.Abs(z))+feed)
			}
			up := tree.Nodes[n].Up
			if up < 0 {
				continue
			}
			at := levels[tree.Segments[up].Near]
			for what, pair := range map[string][2]float64{
				"greatest": {at.MaxA.Value, l.MaxA.Value}, "earth least": {at.EarthMinA.Value, l.EarthMinA.Value}, "earth greatest": {at.EarthMaxA.Value, l.EarthMaxA.Value},
				"least": {at.MinA.Value, l.MinA.Value}, "impedance": {l.HotOhm.Value, at.HotOhm.Value}, "loop": {l.LoopOhm.Value, at.LoopOhm.Value},
			} {
				if what == "least" && !neutral && tree.Nodes[tree.Segments[up].Near].Supply != nil {
					continue // at the supply there is a neutral to fall on, behind it none
				}
				if pair[1] > pair[0]*(1+1e-12) {
					rt.Errorf("%s grows along %s: %.12g, then %.12g", what, tree.Segments[up].Run.Name, pair[0], pair[1])
				}
			}
		}
	})
}

// TestApart by hand: TT, 20 ohm of earth electrodes in the loop, a run of 0.1 ohm hot.
// Earth and neutral apart, a fault of line to neutral goes by the supply and the neutral:
// 219.393102/|0.216+0.012j| = 219.393102/0.216333077 = 1014.14497 A, less than line to
// line, sqrt3/2 x 219.393102/|0.116+0.012j| = 190/0.116619038 = 1629.23656 A. An earth fault
// goes by the electrodes: 219.393102/20.2 = 10.8610446 A; taken as one, the neutral would too.
func TestApart(t *testing.T) {
	tree := build(t, board("m", ""), run("m", "board.m", "supply.g"))
	branches := []Branch{{Cold: 0.1, Hot: 0.1, EarthCold: 0.1, EarthHot: 0.1, NeutralHot: 0.1, Known: true, HasEarth: true, HasNeutral: true}}
	c := FaultCase{Max: angled(0.01, 0.75), Min: angled(0.02, 0.75), Loop: angled(20, 0), FactorMax: 1.05, FactorMin: 0.95, Feed: zeros(tree)}
	m := nodeOf(t, tree, "board.m")
	l := tree.levels(branches, c)[m]
	about(t, "line to neutral by the loop", l.MinA.Value, 10.8610446, 1e-8)
	c.Apart = true
	l = tree.levels(branches, c)[m]
	about(t, "line to neutral", l.MinA.Value, 1014.14497, 1e-8)
	about(t, "earth", l.EarthMinA.Value, 10.8610446, 1e-8)
	branches[0].HasNeutral = false
	about(t, "line to line", tree.levels(branches, c)[m].MinA.Value, 1629.23656, 1e-8)
}

// TestLegs: a fault in one of several legs. At the share x of the length the current
// comes by x of the leg, and by the rest of it behind the other legs: z x in parallel with
// z (1 - x) + z/(n - 1), z being n times that of all legs. A sweep over x finds the worst place
// within 1e-6; there the least current of the leg is that of the sweep, for
// line to line (no neutral) and line to neutral, and not above that at the far end, with
// which up to two legs agree. An earth conductor in each leg does as the phase; one for all
// legs is counted whole, so the current is not above the sweep's and not below half of it.
func TestLegs(t *testing.T) {
	tree := build(t, board("m", ""), run("m", "board.m", "supply.g"))
	m := nodeOf(t, tree, "board.m")
	const hot, back, earth = 0.03 + 0.01i, 0.05 + 0.02i, 0.08 + 0.01i
	for legs := 1; legs <= 8; legs++ {
		n := complex(float64(legs), 0)
		at := func(z, x complex128) complex128 { // of all legs z
			z *= n
			if legs == 1 {
				return z * x
			}
			one, other := z*x, z*(1-x)+z/(n-1)
			return one * other / (one + other)
		}
		for _, neutral := range []bool{false, true} {
			c := FaultCase{Max: angled(0.01, 0.75), Min: angled(0.02, 0.75), Loop: angled(0.05, 0.75), FactorMax: 1.05, FactorMin: 0.95, Feed: zeros(tree)}
			b := Branch{Cold: hot, Hot: hot, EarthCold: earth, EarthHot: earth, NeutralHot: back, Legs: legs, Known: true, HasEarth: true, HasNeutral: neutral}
			l := tree.levels([]Branch{b}, c)[m]
			b.EarthApart = true
			apart := tree.levels([]Branch{b}, c)[m]
			least, earthLeast, apartLeast := math.Inf(1), math.Inf(1), math.Inf(1)
			for k := 1; k <= 2000; k++ {
				x := complex(float64(k)/2000, 0)
				least = min(least, math.Sqrt(3)/2*219.393102292/cmplx.Abs(0.016+0.012i+at(hot, x)))
				if neutral {
					least = min(least, 219.393102292/cmplx.Abs(0.04+0.03i+at(hot, x)+at(back, x)))
				}
				earthLeast = min(earthLeast, 219.393102292/cmplx.Abs(0.04+0.03i+at(hot, x)+at(earth, x)))
				apartLeast = min(apartLeast, 219.393102292/cmplx.Abs(0.04+0.03i+at(hot, x)+earth*x))
			}
			about(t, fmt.Sprintf("%d legs, neutral %v", legs, neutral), l.LegMinA.Value, least, 1e-6)
			about(t, fmt.Sprintf("%d legs, earth", legs), l.LegEarthMinA.Value, earthLeast, 1e-6)
			if a := apart.LegEarthMinA.Value; !(a <= apartLeast*(1+1e-9)) || !(a >= apartLeast/2) {
				t.Errorf("%d legs and one earth conductor: %g A, the sweep gives %g A", legs, a, apartLeast)
			}
			for what, pair := range map[string][2]quantity.Maybe{"least": {l.LegMinA, l.MinA}, "earth": {l.LegEarthMinA, l.EarthMinA}, "one earth": {apart.LegEarthMinA, apart.EarthMinA}} {
				if !pair[0].Known || pair[0].Value > pair[1].Value*(1+1e-12) || legs < 3 && pair[0] != pair[1] {
					t.Errorf("%d legs, %s: %v A in a leg, %v A at the far end", legs, what, pair[0], pair[1])
				}
			}
		}
	}
}
