package network

import (
	"fmt"
	"math"
	"math/cmplx"
	"math/rand/v2"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"trefoil/lint/design"
	"trefoil/lint/source"
)

func read(t testing.TB, text string) *design.Design {
	t.Helper()
	d := design.Read(".", []*source.File{{Name: "site.hcl", Bytes: []byte(text)}})
	return d
}

const head = "site \"s\" {\n ratings = \"x\"\n voltage_v = 400\n%s}\nsupply \"g\" {\n fault_ka = 9\n}\nboard \"m\" {\n}\nboard \"b\" {\n}\n"

func site(more string) string { return fmt.Sprintf(head, more) }

func src(name, more string) string {
	return fmt.Sprintf("source %q {\n kind = \"inverter\"\n%s\n}\n", name, more)
}

func run(name, from, to string) string {
	return fmt.Sprintf("run %q {\n from = %s\n to = %s\n cable = cable.c\n size_mm2 = 50\n section {\n route = route.r\n length_m = 1\n }\n}\n", name, from, to)
}

const rest = "cable \"c\" {\n conductor = \"copper\"\n insulation = \"xlpe-90\"\n build = \"multicore\"\n cores = \"4c+e\"\n}\nroute \"r\" {\n laid = \"ladder\"\n}\n"

// same gives every run the impedance z, ohm.
func same(t *Tree, z complex128) []Impedance {
	list := make([]Impedance, len(t.Segments))
	for i := range list {
		list[i] = Impedance{Ohm: z, Known: true}
	}
	return list
}

// each gives the impedances of a list, one a run.
func each(z []Impedance) Impedances { return func(run int) Impedance { return z[run] } }

func (r *Rises) all() []Rise {
	list := make([]Rise, len(r.tree.Segments))
	for i := range list {
		list[i] = r.Of(i)
	}
	return list
}

func (t *Tree) rise(z []Impedance) []Rise { return t.Rise(each(z)).all() }
func (t *Tree) drop(z []Impedance) []Rise { return t.Drop(each(z)).all() }
func (t *Tree) rises(e Exact) []Rise      { return t.Rises(e).all() }

func (t *Tree) exact(z []Impedance, opt ExactOptions) (Exact, error) { return t.Exact(each(z), opt) }

// levels are those of all nodes.
func (t *Tree) levels(branches []Branch, c FaultCase) []Level {
	f := t.Faulted(func(run int) Branch { return branches[run] }, c)
	list := make([]Level, len(t.Nodes))
	for n := range list {
		list[n] = f.Level(n)
	}
	return list
}

func segment(t testing.TB, tree *Tree, name string) (*Segment, int) {
	t.Helper()
	for i := range tree.Segments {
		if tree.Segments[i].Run.Name == name {
			return &tree.Segments[i], i
		}
	}
	t.Fatalf("no run %s", name)
	return nil, 0
}

// tester is a plain test or a property.
type tester interface {
	Helper()
	Errorf(string, ...any)
}

func near(t tester, what string, got, want float64) {
	t.Helper()
	if math.IsNaN(got) || math.Abs(got-want) > 1e-9*math.Max(1, math.Abs(want)) {
		t.Errorf("%s is %.12g, want %.12g", what, got, want)
	}
}

// TestThreePhase by hand: 60 kVA at 400 V is 60000/(sqrt3 400) = 86.6025 A; over
// 0.822 ohm/km x 46 m = 0.037812 ohm it rises by sqrt3 x 86.6025 x 0.037812 = 5.6718 V,
// 1.41795 % of 400 V. Heat uses the 91 A of the data sheet.
func TestThreePhase(t *testing.T) {
	tree := Build(read(t, site("")+src("a", "rated_kva = 60\n max_current_a = 91\n phases = 3")+run("a", "source.a", "board.m")+run("m", "board.m", "supply.g")+"board \"b2\" {\n}\n"+rest))
	s, i := segment(t, tree, "a")
	near(t, "design current", s.DesignCurrentA().Value, 91)
	near(t, "rise current", s.RiseMaxA(), 60000/(math.Sqrt(3)*400))
	near(t, "neutral", cmplx.Abs(s.NeutralA()), 0)
	r := tree.rise(same(tree, 0.037812))
	near(t, "rise", r[i].V.Value, 5.6718)
	near(t, "rise percent", r[i].Percent.Value, 1.41795)
	near(t, "path", r[i].PathPercent.Value, 2*1.41795)
	if s.Loaded != 3 || s.Phases() != "3" || tree.Nodes[s.Near].Subject != "board.m" {
		t.Errorf("%+v", s)
	}
}

// TestPowerFactor by hand: at 0.8 delivering vars R cos + X sin, absorbing R cos - X sin.
func TestPowerFactor(t *testing.T) {
	for reactive, want := range map[string]float64{"delivers": 100 * (0.1*0.8 + 0.05*0.6), "absorbs": 100 * (0.1*0.8 - 0.05*0.6)} {
		tree := Build(read(t, site("")+src("a", "max_current_a = 100\n phases = 3\n power_factor = 0.8\n reactive = \""+reactive+"\"")+run("a", "source.a", "supply.g")+rest))
		r := tree.rise(same(tree, 0.1+0.05i))
		near(t, reactive, r[0].V.Value, math.Sqrt(3)*want)
	}
}

// TestOnePhase by hand: to neutral 2 I R against U/sqrt3; between lines 2 I R against U.
func TestOnePhase(t *testing.T) {
	u0 := 400 / math.Sqrt(3)
	for phase, c := range map[string]struct{ amps, v, percent float64 }{
		"L2":    {10000 / u0, 2 * 10000 / u0 * 0.05, 100 * 2 * 10000 / u0 * 0.05 / u0},
		"L3-L1": {25, 2 * 25 * 0.05, 100 * 2 * 25 * 0.05 / 400},
	} {
		tree := Build(read(t, site("")+src("a", "rated_kva = 10\n phases = 1\n phase = \""+phase+"\"")+run("a", "source.a", "supply.g")+rest))
		s := &tree.Segments[0]
		near(t, phase+" current", s.DesignCurrentA().Value, c.amps)
		r := tree.rise(same(tree, 0.05))
		near(t, phase+" rise", r[0].V.Value, c.v)
		near(t, phase+" percent", r[0].Percent.Value, c.percent)
		if s.Loaded != 2 || s.Phases() != phase {
			t.Errorf("%+v", s)
		}
	}
}

// TestUnbalanced by hand: 30 A on L1 and 10 A on L2 over 0.1 ohm. The neutral carries
// 30 - 10 cos 60 along L1, so L1 rises by (30 + 25) x 0.1 = 5.5 V; L2 by (10 - 5) x 0.1 +
// ... = (10 + 10 - 15) x 0.1 = 0.5 V; heat counts the worst phase.
func TestUnbalanced(t *testing.T) {
	text := site("") + src("a", "max_current_a = 30\n phases = 1\n phase = \"L1\"") + src("c", "max_current_a = 10\n phases = 1\n phase = \"L2\"") +
		run("a", "source.a", "board.m") + run("c", "source.c", "board.m") + run("m", "board.m", "supply.g") + rest
	tree := Build(read(t, text))
	s, i := segment(t, tree, "m")
	near(t, "design current", s.DesignCurrentA().Value, 30)
	near(t, "neutral", cmplx.Abs(s.NeutralA()), math.Sqrt(30*30+10*10-30*10))
	z := same(tree, 0)
	z[i].Ohm = 0.1
	r := tree.Rise(each(z))
	u0 := 400 / math.Sqrt(3)
	own, _ := r.own(i)
	near(t, "L1", own[0], 100*5.5/u0)
	near(t, "L2", own[1], 100*0.5/u0)
	near(t, "worst", r.Of(i).Percent.Value, 100*5.5/u0)
	for n := range tree.Nodes {
		if x := tree.Nodes[n].Source; x != nil {
			total, shares, known := r.Source(n)
			want := map[string]float64{"a": 5.5, "c": 0.5}[x.Name]
			near(t, "at "+x.Name, total.V, want)
			if !known || len(shares) != 2 {
				t.Errorf("%s: %v %v", x.Name, shares, known)
			}
		}
	}
}

// TestCurrents: what is not stated follows from the other; rise_at; unphased sources.
func TestCurrents(t *testing.T) {
	tree := Build(read(t, site(" rise_at = \"max\"\n")+src("a", "rated_kva = 60\n max_current_a = 91\n phases = 3")+run("a", "source.a", "supply.g")+rest))
	near(t, "rise at max", tree.Segments[0].RiseMaxA(), 91)
	tree = Build(read(t, site("")+src("a", "max_current_a = 91\n phases = 3")+run("a", "source.a", "supply.g")+rest))
	near(t, "rise from max", tree.Segments[0].RiseMaxA(), 91)
	tree = Build(read(t, site("")+src("a", "max_current_a = 10\n phases = 1")+src("c", "max_current_a = 20\n phases = 1\n phase = \"L3\"")+run("a", "source.a", "board.m")+run("c", "source.c", "board.m")+run("m", "board.m", "supply.g")+rest))
	s, _ := segment(t, tree, "m")
	if len(tree.Unphased) != 1 || s.HeatA != [3]float64{0, 0, 30} {
		t.Errorf("%v %v", tree.Unphased, s.HeatA)
	}
	tree = Build(read(t, site("")+src("a", "phases = 3")+src("c", "max_current_a = 20\n phases = 3")+run("a", "source.a", "board.m")+run("c", "source.c", "board.m")+run("m", "board.m", "supply.g")+rest))
	s, i := segment(t, tree, "m")
	c, k := segment(t, tree, "c")
	r := tree.rise(same(tree, 0.1))
	if s.DesignCurrentA().Known || s.UnknownBecause == nil || r[i].Percent.Known || !c.DesignCurrentA().Known || !r[k].Percent.Known || r[k].PathPercent.Known {
		t.Error("what hangs on an unknown current must stay unknown, and nothing else")
	}
}

// TestShape: each fault of the network is told once, at its place.
func TestShape(t *testing.T) {
	base := site("") + src("a", "max_current_a = 10\n phases = 3")
	whole := run("a", "source.a", "board.b") + run("b", "board.b", "board.m") + run("m", "board.m", "supply.g")
	for name, c := range map[string]struct {
		text string
		want []string // subject and a word of the message
	}{
		"tree":             {base + whole, nil},
		"loop of two":      {base + whole + run("b2", "board.m", "board.b"), []string{"run.b2 loop"}},
		"loop of three":    {base + whole + run("x", "board.b", "supply.g"), []string{"run.x together with b, m"}},
		"own loop":         {base + whole + run("x", "board.b", "board.b"), []string{"run.x begins and ends"}},
		"source fed twice": {base + whole + run("x", "source.a", "board.m"), []string{"run.x loop"}},
		"orphan board":     {base + whole + "board \"o\" {\n}\n", []string{"board.o reached by no run"}},
		"orphan source":    {base + whole + src("o", "max_current_a = 1\n phases = 3"), []string{"source.o no path"}},
		"stranded part":    {base + run("a", "source.a", "board.b") + run("m", "board.m", "supply.g"), []string{"board.b and with it a"}},
		"loose":            {base + run("a", "source.a", "board.b") + run("b", "board.b", "board.q") + run("m", "board.m", "supply.g"), nil},
		"second supply":    {base + whole + "supply \"h\" {\n fault_ka = 1\n}\n", []string{"supply.h second"}},
		"two loops":        {base + whole + run("x", "board.b", "supply.g") + run("y", "board.b", "board.m"), []string{"run.x loop", "run.y loop"}},
	} {
		t.Run(name, func(t *testing.T) {
			tree := Build(read(t, c.text+rest))
			var got []string
			for _, f := range tree.Faults {
				got = append(got, f.Subject+": "+f.Message)
			}
			if len(got) != len(c.want) {
				t.Fatalf("got %q, want %q", got, c.want)
			}
			for i, w := range c.want {
				subject, words, _ := strings.Cut(w, " ")
				if !strings.HasPrefix(got[i], subject+": ") || !strings.Contains(got[i], words) {
					t.Errorf("got %q, want %q", got[i], w)
				}
			}
		})
	}
	tree := Build(read(t, "site \"s\" {\n ratings = \"x\"\n voltage_v = 400\n}\nboard \"m\" {\n}\n"+rest))
	if len(tree.Faults) != 1 || tree.Faults[0].Subject != "site.s" {
		t.Errorf("no supply: %v", tree.Faults)
	}
}

// TestLoopStaysUnknown: on a loop nothing is known, behind it currents are.
func TestLoopStaysUnknown(t *testing.T) {
	tree := Build(read(t, site("")+src("a", "max_current_a = 10\n phases = 3")+run("a", "source.a", "board.b")+run("b", "board.b", "board.m")+run("m", "board.m", "supply.g")+run("b2", "board.b", "board.m")+rest))
	r := tree.rise(same(tree, 0.1))
	for name, want := range map[string][3]bool{"a": {true, true, false}, "b": {false, false, false}, "b2": {false, false, false}, "m": {true, true, true}} {
		s, i := segment(t, tree, name)
		if got := [3]bool{s.DesignCurrentA().Known, r[i].Percent.Known, r[i].PathPercent.Known}; got != want {
			t.Errorf("%s: current, rise, path known %v, want %v", name, got, want)
		}
	}
}

// TestLongChain: boards in a row are followed up to the most, and of those beyond the first
// run is told; a hundred thousand neither overflow nor take long.
func TestLongChain(t *testing.T) {
	for _, n := range []int{maxDeep - 1, maxDeep, 100_000} {
		var b strings.Builder
		b.WriteString("site \"s\" {\n ratings = \"x\"\n voltage_v = 400\n}\nsupply \"g\" {\n fault_ka = 9\n}\n" + src("a", "max_current_a = 1\n phases = 3") + rest)
		for i := range n {
			fmt.Fprintf(&b, "board \"n%d\" {\n}\n", i)
			to := "supply.g"
			if i > 0 {
				to = fmt.Sprintf("board.n%d", i-1)
			}
			b.WriteString(run(fmt.Sprintf("r%d", i), fmt.Sprintf("board.n%d", i), to))
		}
		b.WriteString(run("a", "source.a", fmt.Sprintf("board.n%d", n-1)))
		tree := Build(read(t, b.String()))
		r := tree.rise(same(tree, 1e-6))
		_, i := segment(t, tree, "a")
		if n >= maxDeep { // the run of the source is one more
			first := "run.a"
			if n > maxDeep {
				first = fmt.Sprintf("run.r%d", maxDeep)
			}
			if len(tree.Faults) != 1 || tree.Faults[0].Subject != first || !strings.Contains(tree.Faults[0].Message, "more than 1000 runs") || r[i].PathPercent.Known {
				t.Errorf("%d boards: %v", n, tree.Faults)
			}
			continue
		}
		if len(tree.Faults) > 0 || !r[i].PathPercent.Known {
			t.Fatal(tree.Faults)
		}
		near(t, "path", r[i].PathV.Value, math.Sqrt(3)*1e-6*float64(n+1))
	}
}

// network is a random tree of boards with sources of every kind.
type random struct {
	text   string
	blocks []string
}

func draw(next func(n int) int, boards, sources int) random {
	var blocks []string
	blocks = append(blocks, "site \"s\" {\n ratings = \"x\"\n voltage_v = 400\n}\n", "supply \"g\" {\n fault_ka = 9\n}\n", rest)
	for i := range boards {
		blocks = append(blocks, fmt.Sprintf("board \"n%d\" {\n}\n", i))
		to := "supply.g"
		if i > 0 {
			to = fmt.Sprintf("board.n%d", next(i))
		}
		a, b := fmt.Sprintf("board.n%d", i), to
		if next(2) == 0 {
			a, b = b, a
		}
		blocks = append(blocks, run(fmt.Sprintf("n%d", i), a, b))
	}
	for i := range sources {
		kind := []string{"phases = 3", "phases = 1\n phase = \"L1\"", "phases = 1\n phase = \"L2\"", "phases = 1\n phase = \"L3\"", "phases = 1\n phase = \"L2-L3\""}[next(5)]
		reactive := []string{"delivers", "absorbs"}[next(2)]
		blocks = append(blocks, src(fmt.Sprintf("s%d", i), fmt.Sprintf("rated_kva = %g\n power_factor = %g\n reactive = %q\n%s", 0.5+float64(next(40))/10, 0.8+float64(next(21))/100, reactive, kind)))
		blocks = append(blocks, run(fmt.Sprintf("s%d", i), fmt.Sprintf("source.s%d", i), fmt.Sprintf("board.n%d", next(boards))))
	}
	return random{strings.Join(blocks, ""), blocks}
}

// TestProperties of random trees.
func TestProperties(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		x := draw(func(n int) int { return rapid.IntRange(0, n-1).Draw(rt, "n") }, rapid.IntRange(1, 8).Draw(rt, "boards"), rapid.IntRange(1, 10).Draw(rt, "sources"))
		d := design.Read(".", []*source.File{{Name: "a.hcl", Bytes: []byte(x.text)}})
		tree := Build(d)
		if len(d.Faults)+len(tree.Faults) > 0 {
			rt.Fatal(d.Faults, tree.Faults)
		}
		z := make([]Impedance, len(tree.Segments))
		for i := range z {
			z[i] = Impedance{Ohm: complex(rapid.Float64Range(0.001, 0.1).Draw(rt, "r"), rapid.Float64Range(0, 0.05).Draw(rt, "x")), Known: true}
		}
		one := tree.rise(z)
		// The run at the supply carries the sum of all sources, phase by phase.
		var sum [3]float64
		for n := range tree.Nodes {
			if s := tree.Nodes[n].Source; s != nil {
				heat, _ := tree.currents(s, tree.PhaseOf(s))
				for _, p := range phases(tree.PhaseOf(s)) {
					sum[p] += heat.Value
				}
			}
		}
		top := 0
		for i := range tree.Segments {
			if tree.Nodes[tree.Segments[i].Near].Supply != nil {
				top = i
			}
		}
		for p := range 3 {
			near(rt, "sum at the supply", tree.Segments[top].HeatA[p], sum[p])
		}
		// Twice the length, twice the rise.
		for i := range z {
			z[i].Ohm *= 2
		}
		for i, r := range tree.rise(z) {
			near(rt, "twice the rise", r.Percent.Value, 2*one[i].Percent.Value)
			near(rt, "twice the path", r.PathPercent.Value, 2*one[i].PathPercent.Value)
		}
		// Another order of blocks, the same figures.
		perm := rapid.Permutation(x.blocks).Draw(rt, "order")
		other := Build(design.Read(".", []*source.File{{Name: "a.hcl", Bytes: []byte(strings.Join(perm, ""))}}))
		at := map[string]int{}
		for i := range other.Segments {
			at[other.Segments[i].Run.Name] = i
		}
		zo := make([]Impedance, len(z))
		for i := range z {
			zo[at[tree.Segments[i].Run.Name]] = Impedance{Ohm: z[i].Ohm / 2, Known: true}
		}
		ro := other.rise(zo)
		for i := range tree.Segments {
			near(rt, "in another order", ro[at[tree.Segments[i].Run.Name]].PathPercent.Value, one[i].PathPercent.Value)
		}
	})
}

// TestExactByHand: 10 kW on L1 through 0.2 ohm and back: V (V - U0) = 2 R P.
func TestExactByHand(t *testing.T) {
	tree := Build(read(t, site("")+src("a", "rated_kva = 10\n phases = 1\n phase = \"L1\"")+run("a", "source.a", "supply.g")+rest))
	e, err := tree.exact(same(tree, 0.2), ExactOptions{})
	if err != nil {
		t.Fatal(err)
	}
	u0 := 400 / math.Sqrt(3)
	near(t, "V", real(e.V[tree.Segments[0].Far][0]), (u0+math.Sqrt(u0*u0+4*2*0.2*10000))/2)
	if _, err := tree.exact(same(tree, 0.2-200i), ExactOptions{}); err == nil {
		t.Error("a network that cannot be solved is solved")
	}
	if _, err := tree.exact(make([]Impedance, 1), ExactOptions{}); err == nil {
		t.Error("an unknown impedance is taken")
	}
}

// TestTradeFormula bounds the trade's figure against the exact one on random
// networks: with unity power factor and a rise of up to 5 % it lies above, by at most
// the square of the rise (2 % of rise: 0.04 % of nominal).
func TestTradeFormula(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	compared := 0
	for range 60 {
		x := draw(func(n int) int { return rng.IntN(n) }, 1+rng.IntN(6), 1+rng.IntN(8))
		x.text = strings.ReplaceAll(x.text, "power_factor", "power_factor = 1 #")
		tree := Build(read(t, x.text))
		z := make([]Impedance, len(tree.Segments))
		for i := range z {
			z[i] = Impedance{Ohm: complex(0.002+0.05*rng.Float64(), 0), Known: true}
		}
		e, err := tree.exact(z, ExactOptions{})
		if err != nil {
			t.Fatal(err)
		}
		u0 := 400 / math.Sqrt(3)
		for n := range tree.Nodes {
			s := tree.Nodes[n].Source
			if s == nil || len(phases(tree.PhaseOf(s))) == 2 {
				continue
			}
			total, _, _ := tree.Rise(each(z)).Source(n)
			exact := math.Inf(-1)
			for _, p := range phases(tree.PhaseOf(s)) {
				exact = math.Max(exact, 100*(cmplx.Abs(e.V[n][p])/u0-1))
			}
			over := total.Percent - exact
			if total.Percent < 5 && total.Percent > 0.2 {
				compared++
				if over > total.Percent*total.Percent/100*1.5+0.05 || over < -0.05 {
					t.Errorf("the trade's figure is %.4f %%, the exact one %.4f %%", total.Percent, exact)
				}
			}
		}
	}
	if compared < 50 {
		t.Errorf("only %d sources were compared", compared)
	}
}

func benchmark(b *testing.B, sources int) {
	rng := rand.New(rand.NewPCG(3, 4))
	d := read(b, draw(func(n int) int { return rng.IntN(n) }, 1+sources/20, sources).text)
	b.ReportAllocs()
	for b.Loop() {
		tree := Build(d)
		tree.rise(same(tree, 0.01+0.001i))
	}
}

func BenchmarkNetwork100(b *testing.B)   { benchmark(b, 100) }
func BenchmarkNetwork10000(b *testing.B) { benchmark(b, 10_000) }
