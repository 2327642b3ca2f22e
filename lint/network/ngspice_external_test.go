//go:build external

package network

import (
	"context"
	"fmt"
	"math"
	"math/cmplx"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"
)

// appliance is a source or a load as its block states it, read by this test alone.
type appliance struct {
	node     int
	from, to int        // conductors; 3 is the neutral
	power    complex128 // VA that it gives at nominal voltage; less than zero for a load
	nominal  float64    // V between its conductors
	holds    bool       // its current, not its power
}

// conductors are what the phase words of a design stand for: the places that a current
// of the appliance goes to, from where it comes.
var conductors = map[string][][2]int{
	"3":  {{3, 0}, {3, 1}, {3, 2}},
	"L1": {{3, 0}}, "L2": {{3, 1}}, "L3": {{3, 2}},
	"L1-L2": {{1, 0}}, "L2-L3": {{2, 1}}, "L3-L1": {{0, 2}},
}

// plant is a random design in text with its appliances: what gives and what takes.
type plant struct {
	tree        *Tree
	z           []Impedance
	gives, eats []appliance
}

// drawPlant makes a random radial network: sources of every kind, some of which hold
// their current, loads and charging batteries of every kind, both signs of reactive
// power, and in most runs a neutral of another impedance.
func drawPlant(t *testing.T, rng *rand.Rand, boards, sources, loads int, longer complex128) plant {
	t.Helper()
	words := []string{"3", "3", "L1", "L1", "L2", "L3", "L1-L2", "L2-L3", "L3-L1"} // more on L1
	phased := func(word string) string {
		if word == "3" {
			return "phases = 3"
		}
		return fmt.Sprintf("phases = 1\n phase = %q", word)
	}
	var b strings.Builder
	type block struct {
		subject, word string
		power         complex128
		holds         bool
	}
	var gives, eats []block
	x := draw(func(n int) int { return rng.IntN(n) }, boards, 0)
	b.WriteString(strings.Split(x.text, rest)[1])
	for i := range sources {
		word, kva, pf := words[rng.IntN(len(words))], 0.5+4*rng.Float64(), 0.8+0.2*rng.Float64()
		q, holds, kind := math.Sqrt(1-pf*pf), rng.IntN(3) == 0, "inverter"
		more := fmt.Sprintf("rated_kva = %.17g\n power_factor = %.17g\n%s", kva, pf, phased(word))
		if rng.IntN(2) == 0 {
			more, q = more+"\n reactive = \"absorbs\"", -q
		}
		if holds {
			more += "\n holds = \"current\""
		}
		name := fmt.Sprintf("s%d", i)
		gives = append(gives, block{"source." + name, word, complex(1000*kva, 0) * complex(pf, q), holds})
		if rng.IntN(5) == 0 {
			kind = "battery"
			charge := 0.3 + 2*rng.Float64()
			more += fmt.Sprintf("\n charge_kva = %.17g", charge)
			eats = append(eats, block{"source." + name, word, complex(-1000*charge, 0), false})
		}
		fmt.Fprintf(&b, "source %q {\n kind = %q\n%s\n}\n%s", name, kind, more, run(name, "source."+name, fmt.Sprintf("board.n%d", rng.IntN(boards))))
	}
	for i := range loads {
		word, kva, pf := words[rng.IntN(len(words))], 0.3+2*rng.Float64(), 0.8+0.2*rng.Float64()
		at := fmt.Sprintf("n%d", rng.IntN(boards))
		b.WriteString(load(fmt.Sprintf("e%d", i), at, fmt.Sprintf("demand_kva = %.17g\n power_factor = %.17g\n%s", kva, pf, phased(word))))
		eats = append(eats, block{"board." + at, word, complex(-1000*kva, 0) * complex(pf, math.Sqrt(1-pf*pf)), false})
	}
	p := plant{tree: build(t, b.String())}
	p.z = randomZ(rng, p.tree)
	for i := range p.z {
		p.z[i].Ohm, p.z[i].NeutralOhm = longer*p.z[i].Ohm, longer*p.z[i].NeutralOhm
	}
	list := func(blocks []block) (list []appliance) {
		for _, k := range blocks {
			ways := conductors[k.word]
			for _, way := range ways {
				nominal := 400.0
				if way[0] == 3 {
					nominal /= math.Sqrt(3)
				}
				list = append(list, appliance{nodeOf(t, p.tree, k.subject), way[0], way[1], k.power / complex(float64(len(ways)), 0), nominal, k.holds})
			}
		}
		return list
	}
	p.gives, p.eats = list(gives), list(eats)
	return p
}

// current is what an appliance gives at a voltage between its conductors.
func (a appliance) current(u complex128) complex128 {
	if a.holds {
		return cmplx.Conj(a.power) / complex(a.nominal, 0) * u / complex(cmplx.Abs(u), 0)
	}
	return cmplx.Conj(a.power / u)
}

// feed is a current in a circuit between two conductors of a node.
type feed struct {
	node, from, to int // conductor 3 is the neutral
	current        complex128
}

// spice solves the network of four conductors with ngspice at 50 Hz: R and L of every
// conductor of every run, the supply's voltages, and the currents given.
func spice(t *testing.T, tree *Tree, z []Impedance, nominal float64, feeds []feed) [][3]complex128 {
	t.Helper()
	var b strings.Builder
	b.WriteString("network\n")
	node := func(n, c int) string {
		if tree.Nodes[n].Supply != nil && c == 3 {
			return "0"
		}
		return fmt.Sprintf("n%d_%d", n, c)
	}
	polar := func(c complex128) string {
		return fmt.Sprintf("ac %.17g %.17g", cmplx.Abs(c), cmplx.Phase(c)*180/math.Pi)
	}
	for p := range 3 {
		fmt.Fprintf(&b, "vs%d %s 0 %s\n", p, node(0, p), polar(axis[p]*complex(nominal, 0)))
	}
	for i := range tree.Segments {
		s := &tree.Segments[i]
		for c := range 4 {
			k, ohm := fmt.Sprintf("%d_%d", i, c), ohmOf(z[i], c)
			fmt.Fprintf(&b, "r%s %s a%s %.17g\nl%s a%s %s %.17g\n", k, node(s.Far, c), k, real(ohm), k, k, node(s.Near, c), imag(ohm)/(2*math.Pi*50))
		}
	}
	for i, f := range feeds {
		fmt.Fprintf(&b, "i%d %s %s %s\n", i, node(f.node, f.from), node(f.node, f.to), polar(f.current))
	}
	b.WriteString(".control\nset numdgt=15\nset wr_singlescale\nac lin 1 50 50\nwrdata net.out")
	for n := range tree.Nodes {
		for c := range 4 {
			if name := node(n, c); name != "0" {
				fmt.Fprintf(&b, " %s", name)
			}
		}
	}
	b.WriteString("\n.endc\n.end\n")
	next := ngspice(t, b.String())
	v := make([][3]complex128, len(tree.Nodes))
	for n := range tree.Nodes {
		var c4 [4]complex128
		for c := range 4 {
			if node(n, c) != "0" {
				re := next()
				c4[c] = complex(re, next())
			}
		}
		for p := range 3 {
			v[n][p] = c4[p] - c4[3]
		}
	}
	return v
}

// ohmOf is the impedance of a conductor of a run.
func ohmOf(z Impedance, conductor int) complex128 {
	if conductor == 3 && z.HasNeutral {
		return z.NeutralOhm
	}
	return z.Ohm
}

// ngspice runs a deck that writes net.out and gives its figures one by one, without the scale.
func ngspice(t *testing.T, deck string) func() float64 {
	t.Helper()
	dir := t.TempDir()
	file := filepath.Join(dir, "net.cir")
	if err := os.WriteFile(file, []byte(deck), 0o600); err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithTimeout(t.Context(), 120*time.Second)
	defer cancel()
	cmd := exec.CommandContext(ctx, "ngspice", "-b", file)
	cmd.Dir = dir
	log, err := cmd.CombinedOutput()
	text, e := os.ReadFile(filepath.Join(dir, "net.out"))
	if e != nil {
		t.Fatalf("ngspice: %v %v\n%.3000s", err, e, log)
	}
	fields := strings.Fields(string(text))[1:]
	return func() float64 {
		t.Helper()
		if len(fields) == 0 {
			t.Fatal("ngspice wrote too few figures")
		}
		v, err := strconv.ParseFloat(fields[0], 64)
		if err != nil {
			t.Fatal(err)
		}
		fields = fields[1:]
		return v
	}
}

// spicePower lets ngspice find the voltages by itself, by Newton's method on the
// direct-current circuit of the real and the imaginary parts: each conductor is
// I = (g + jb) U, each appliance a source that makes its current from its own voltage.
// Only the supply's voltages are given.
func spicePower(t *testing.T, tree *Tree, z []Impedance, supply float64, list []appliance) [][3]complex128 {
	t.Helper()
	var b strings.Builder
	b.WriteString("network\n.options reltol=1e-11 vntol=1e-9 abstol=1e-9 itl1=500\n")
	node := func(n, c int, part string) string {
		if tree.Nodes[n].Supply != nil && c == 3 {
			return "0"
		}
		return fmt.Sprintf("%s%d_%d", part, n, c)
	}
	for p := range 3 {
		u := polarOf(supply, p)
		fmt.Fprintf(&b, "vr%d %s 0 %.17g\nvi%d %s 0 %.17g\n", p, node(0, p, "r"), real(u), p, node(0, p, "i"), imag(u))
	}
	b.WriteString(".nodeset")
	for n := 1; n < len(tree.Nodes); n++ {
		for p := range 3 {
			u := polarOf(supply, p)
			fmt.Fprintf(&b, "\n+ v(%s)=%.17g v(%s)=%.17g", node(n, p, "r"), real(u), node(n, p, "i"), imag(u))
		}
	}
	b.WriteString("\n")
	for i := range tree.Segments {
		s := &tree.Segments[i]
		for c := range 4 {
			k, y := fmt.Sprintf("%d_%d", i, c), 1/ohmOf(z[i], c)
			fr, nr, fi, ni := node(s.Far, c, "r"), node(s.Near, c, "r"), node(s.Far, c, "i"), node(s.Near, c, "i")
			fmt.Fprintf(&b, "rr%s %s %s %.17g\nri%s %s %s %.17g\n", k, fr, nr, 1/real(y), k, fi, ni, 1/real(y))
			fmt.Fprintf(&b, "gr%s %s %s %s %s %.17g\ngi%s %s %s %s %s %.17g\n", k, fr, nr, fi, ni, -imag(y), k, fi, ni, fr, nr, imag(y))
		}
	}
	// conj(S/u) = (P - jQ) u/|u|^2, or /(nominal |u|) where the current is held.
	for k, a := range list {
		between := func(part string) string {
			if name := node(a.node, a.from, part); name != "0" {
				return fmt.Sprintf("v(%s,%s)", node(a.node, a.to, part), name)
			}
			return fmt.Sprintf("v(%s)", node(a.node, a.to, part))
		}
		ur, ui := between("r"), between("i")
		by := fmt.Sprintf("(%s*%s+%s*%s)", ur, ur, ui, ui)
		if a.holds {
			by = fmt.Sprintf("(%.17g*sqrt%s)", a.nominal, by)
		}
		p, q := real(a.power), imag(a.power)
		fmt.Fprintf(&b, "br%d %s %s i=((%.17g)*%s+(%.17g)*%s)/%s\n", k, node(a.node, a.from, "r"), node(a.node, a.to, "r"), p, ur, q, ui, by)
		fmt.Fprintf(&b, "bi%d %s %s i=((%.17g)*%s-(%.17g)*%s)/%s\n", k, node(a.node, a.from, "i"), node(a.node, a.to, "i"), p, ui, q, ur, by)
	}
	b.WriteString(".control\nset numdgt=15\nset wr_singlescale\nop\nwrdata net.out")
	for n := range tree.Nodes {
		for c := range 4 {
			if name := node(n, c, "r"); name != "0" {
				fmt.Fprintf(&b, " %s %s", name, node(n, c, "i"))
			}
		}
	}
	b.WriteString("\n.endc\n.end\n")
	next := ngspice(t, b.String())
	v := make([][3]complex128, len(tree.Nodes))
	for n := range tree.Nodes {
		var c4 [4]complex128
		for c := range 4 {
			if node(n, c, "r") != "0" {
				re := next()
				c4[c] = complex(re, next())
			}
		}
		for p := range 3 {
			v[n][p] = c4[p] - c4[3]
		}
	}
	return v
}

// apart is the greatest difference of any voltage at any node, relative to its size.
func apart(a, b [][3]complex128) float64 {
	most := 0.0
	for n := range a {
		for p := range 3 {
			d := cmplx.Abs(a[n][p]-b[n][p]) / cmplx.Abs(b[n][p])
			if !(d <= most) {
				most = d
			}
		}
	}
	return most
}

// sizes of the networks; nodes are the supply, the boards and the sources. Small ones
// have longer runs, so that voltages move by some percent in all of them.
var sizes = []struct {
	boards, sources, loads int
	longer                 complex128
}{{1, 3, 2, 40}, {2, 3, 4, 40}, {3, 6, 5, 25}, {8, 20, 15, 6}, {20, 60, 40, 5}, {40, 150, 100, 2}, {60, 439, 250, 1}}

// TestExternalNgspicePower holds Exact against ngspice, which finds all voltages from the
// powers and held currents that the blocks state: random unbalanced networks of 5 to
// 500 nodes, sources and loads, the supply at nominal voltage, below and above it. Every
// voltage at every node agrees within 1e-6 of itself.
func TestExternalNgspicePower(t *testing.T) {
	for k, size := range sizes {
		for _, supply := range []float64{400, 376, 433} {
			t.Run(fmt.Sprintf("%d nodes at %g V", 1+size.boards+size.sources, supply), func(t *testing.T) {
				p := drawPlant(t, rand.New(rand.NewPCG(uint64(supply), uint64(k))), size.boards, size.sources, size.loads, size.longer)
				for what, c := range map[string]struct {
					list   []appliance
					demand bool
				}{"sources": {p.gives, false}, "loads": {p.eats, true}} {
					e := solve(t, p.tree, p.z, ExactOptions{SupplyV: supply, Demand: c.demand})
					off := apart(e.V, spicePower(t, p.tree, p.z, supply/math.Sqrt(3), c.list))
					moved := 0.0
					for n := range e.V {
						for f := range 3 {
							moved = max(moved, math.Abs(cmplx.Abs(e.V[n][f])*math.Sqrt(3)/supply-1))
						}
					}
					t.Logf("%s: largest difference %.3g, where a voltage moves by up to %.3g; %d sweeps", what, off, moved, e.Iterations)
					if !(moved > 2e-3) {
						t.Errorf("%s: no voltage moves by more than %.3g", what, moved)
					}
					if !(off < 1e-6) {
						t.Errorf("%s: a voltage of ngspice differs by %.3g of itself", what, off)
					}
				}
			})
		}
	}
}

// TestExternalNgspice holds both kinds of figures against ngspice with R and L at 50 Hz.
// Exact: fed with the currents that the powers make of Exact's voltages, ngspice gives
// back those voltages, each within 1e-6 of itself. Rise and Drop: fed with the currents
// at nominal voltage, the component of ngspice's voltage along each phase, and between
// two lines along theirs, is the trade's figure, within 1e-6 of nominal.
func TestExternalNgspice(t *testing.T) {
	for k, size := range sizes {
		t.Run(fmt.Sprintf("%d nodes", 1+size.boards+size.sources), func(t *testing.T) {
			p := drawPlant(t, rand.New(rand.NewPCG(5, uint64(k))), size.boards, size.sources, size.loads, size.longer)
			flat := make([][3]complex128, len(p.tree.Nodes))
			for n := range flat {
				flat[n] = [3]complex128{polarOf(neutralV, 0), polarOf(neutralV, 1), polarOf(neutralV, 2)}
			}
			for what, c := range map[string]struct {
				list   []appliance
				trade  *Rises
				demand bool
				sign   float64
			}{"sources": {p.gives, p.tree.Rise(each(p.z)), false, 1}, "loads": {p.eats, p.tree.Drop(each(p.z)), true, -1}} {
				e := solve(t, p.tree, p.z, ExactOptions{SupplyV: 410, Demand: c.demand})
				exact := apart(e.V, spice(t, p.tree, p.z, 410/math.Sqrt(3), feedsAt(c.list, e.V)))
				trade, most := 0.0, 0.0
				for n, v := range spice(t, p.tree, p.z, neutralV, feedsAt(c.list, flat)) {
					up := p.tree.Nodes[n].Up
					if up < 0 {
						continue
					}
					path, _ := c.trade.path(up)
					for f := range 3 {
						g := (f + 1) % 3
						along := real(v[f]*cmplx.Conj(polarOf(1, f)))/neutralV - 1
						between := real((v[f]-v[g])*cmplx.Conj((polarOf(1, f)-polarOf(1, g))/complex(math.Sqrt(3), 0)))/400 - 1
						trade = max(trade, math.Abs(c.sign*along-path[f]/100), math.Abs(c.sign*between-path[3+f]/100))
						most = max(most, math.Abs(along))
					}
				}
				t.Logf("%s: largest difference of Exact %.3g, of the trade's formula %.3g of nominal, where the voltage moves by up to %.3g", what, exact, trade, most)
				if !(exact < 1e-6) || !(trade < 1e-6) {
					t.Errorf("%s: ngspice differs by %.3g and %.3g", what, exact, trade)
				}
				if !(most > 2e-3) {
					t.Errorf("%s: no voltage moves by more than %.3g of nominal", what, most)
				}
			}
		})
	}
}

// feedsAt are the currents of appliances at the voltages v.
func feedsAt(list []appliance, v [][3]complex128) []feed {
	var feeds []feed
	for _, a := range list {
		u := v[a.node][a.to]
		if a.from < 3 {
			u -= v[a.node][a.from]
		}
		feeds = append(feeds, feed{a.node, a.from, a.to, a.current(u)})
	}
	return feeds
}

// faultOhm is what a bolted fault is in the circuit.
const faultOhm = 1e-9

// spiceFaults makes each fault of each node in a circuit of five conductors - three
// phases, neutral and earth - and gives the magnitudes of the currents in it: three
// phases, line to line, line to neutral, line to earth. The supply has its impedance in
// each phase, and between its star point and the neutral and the earth what back holds.
func spiceFaults(t *testing.T, tree *Tree, runs [][3]complex128, u0 float64, supply, back complex128, separate bool) [][4]float64 {
	t.Helper()
	var b strings.Builder
	b.WriteString("faults\n")
	const omega = 2 * math.Pi * 50
	number := 0
	join := func(from, to string, z complex128) {
		number++
		fmt.Fprintf(&b, "r%d %s x%d %.17g\n", number, from, number, max(real(z), 1e-12))
		if imag(z) > 0 {
			fmt.Fprintf(&b, "l%d x%d %s %.17g\n", number, number, to, imag(z)/omega)
		} else {
			fmt.Fprintf(&b, "v%dz x%d %s 0\n", number, number, to)
		}
	}
	// Each fault of each node is a circuit of its own.
	var probes []string
	for n := range tree.Nodes {
		for kind := range 4 {
			name := func(node, c int) string { return fmt.Sprintf("f%d_%d_n%d_%d", n, kind, node, c) }
			for p := range 3 {
				in := fmt.Sprintf("f%d_%d_e%d", n, kind, p)
				fmt.Fprintf(&b, "v%s %s 0 ac %.17g %.17g\n", in, in, u0, -120*float64(p))
				join(in, name(0, p), supply)
			}
			// Neutral and earth leave the star point by what the loop has beyond a phase.
			if separate {
				join(name(0, 3), "0", 0)
			} else {
				join(name(0, 3), "0", back)
			}
			join(name(0, 4), "0", back)
			for _, i := range tree.Path(n) {
				s := &tree.Segments[i]
				for c := range 5 {
					join(name(s.Near, c), name(s.Far, c), runs[i][max(0, c-2)])
				}
			}
			probe := fmt.Sprintf("vp%d_%d", n, kind)
			probes = append(probes, "i("+probe+")")
			fault := func(to string) {
				fmt.Fprintf(&b, "%s %s %sx 0\nr%s %sx %s %g\n", probe, name(n, 0), probe, probe, probe, to, faultOhm)
			}
			switch kind {
			case 0:
				fault(probe + "s") // the three meet in a point
				for p := 1; p < 3; p++ {
					fmt.Fprintf(&b, "r%sq%d %s %ss %g\n", probe, p, name(n, p), probe, faultOhm)
				}
			case 1:
				fault(name(n, 1))
			case 2:
				fault(name(n, 3))
			case 3:
				fault(name(n, 4))
			}
		}
	}
	b.WriteString(".control\nset numdgt=15\nset wr_singlescale\nac lin 1 50 50\nwrdata net.out " + strings.Join(probes, " ") + "\n.endc\n.end\n")
	next := ngspice(t, b.String())
	amps := make([][4]float64, len(tree.Nodes))
	for n := range amps {
		for kind := range 4 {
			re := next()
			amps[n][kind] = cmplx.Abs(complex(re, next()))
		}
	}
	return amps
}

// TestExternalNgspiceFaults holds fault levels against ngspice, which puts each fault at
// each node of random networks, cold at the greatest voltage and hot at the least, with
// earth and neutral as one and apart: within 1e-6, which a bolted fault of 1e-9 ohm
// and reactances beside resistances allow.
func TestExternalNgspiceFaults(t *testing.T) {
	rng := rand.New(rand.NewPCG(11, 12))
	for _, size := range []struct{ boards, sources int }{{1, 1}, {2, 3}, {4, 6}, {8, 12}} {
		for _, separate := range []bool{false, true} {
			t.Run(fmt.Sprintf("%d nodes, apart %v", 1+size.boards+size.sources, separate), func(t *testing.T) {
				tree := build(t, strings.Split(draw(func(n int) int { return rng.IntN(n) }, size.boards, size.sources).text, rest)[1])
				some := func(most float64) complex128 { return complex(most*(0.05+rng.Float64()), most*rng.Float64()) }
				branches := make([]Branch, len(tree.Segments))
				cold, hot := make([][3]complex128, len(branches)), make([][3]complex128, len(branches))
				for i := range branches {
					branches[i] = Branch{Cold: some(0.03), Hot: some(0.04), EarthCold: some(0.05), EarthHot: some(0.07), NeutralHot: some(0.04), Known: true, HasEarth: true, HasNeutral: true}
					b := branches[i]
					cold[i], hot[i] = [3]complex128{b.Cold, b.NeutralHot, b.EarthCold}, [3]complex128{b.Hot, b.NeutralHot, b.EarthHot}
				}
				origin := func(z complex128) Origin { return angled(cmplx.Abs(z), imag(z)/real(z)) }
				strong, weak, back := some(0.01), some(0.03), some(0.02)
				c := FaultCase{Max: origin(strong), Min: origin(weak), Apart: separate, FactorMax: 1.05, FactorMin: 0.95, Feed: zeros(tree)}
				c.Loop = origin(weak + back)
				least := tree.levels(branches, c)
				byWeak := spiceFaults(t, tree, hot, 0.95*neutralV, weak, back, separate)
				c.Loop = origin(strong + back)
				greatest := tree.levels(branches, c)
				byStrong := spiceFaults(t, tree, cold, 1.05*neutralV, strong, back, separate)
				for n := range tree.Nodes {
					at := tree.Nodes[n].Subject
					about(t, at+" greatest", greatest[n].MaxA.Value, byStrong[n][0], 1e-6)
					about(t, at+" earth greatest", greatest[n].EarthMaxA.Value, byStrong[n][3], 1e-6)
					about(t, at+" least", least[n].MinA.Value, min(byWeak[n][1], byWeak[n][2]), 1e-6)
					about(t, at+" earth least", least[n].EarthMinA.Value, byWeak[n][3], 1e-6)
					about(t, at+" impedance", least[n].HotOhm.Value, 0.95*neutralV/byWeak[n][0], 1e-6)
				}
			})
		}
	}
}
