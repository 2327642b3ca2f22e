package network

import (
	"fmt"
	"math"
	"math/cmplx"
	"math/rand/v2"
	"strings"
	"testing"
)

const (
	lineV    = 400.0
	neutralV = 230.94010767585030580 // 400/sqrt3
)

// solve is Exact where it has to settle.
func solve(t testing.TB, tree *Tree, z []Impedance, opt ExactOptions) Exact {
	t.Helper()
	e, err := tree.exact(z, opt)
	if err != nil {
		t.Fatal(err)
	}
	return e
}

// polarOf is the voltage of phase p of a balanced system.
func polarOf(v float64, p int) complex128 { return cmplx.Rect(v, -2*math.Pi/3*float64(p)) }

// TestExactIdle: with no sources every voltage is the supply's, nominal or stated, and
// nothing rises; loads change that only where they are asked for.
func TestExactIdle(t *testing.T) {
	tree := build(t, board("m", ""), board("b", ""), run("m", "board.m", "supply.g"), run("b", "board.b", "board.m"), load("l", "b", "demand_a = 100"))
	z := same(tree, 0.1+0.05i)
	for _, supply := range []float64{0, 400, 253 * math.Sqrt(3), 380} {
		e := solve(t, tree, z, ExactOptions{SupplyV: supply})
		want := supply
		if supply == 0 {
			want = lineV
		}
		for n := range tree.Nodes {
			for p := range 3 {
				near(t, "voltage", cmplx.Abs(e.V[n][p]-polarOf(want/math.Sqrt(3), p)), 0)
			}
			near(t, "unbalance", e.Unbalance(n), 0)
		}
		for _, r := range tree.rises(e) {
			near(t, "rise", r.PathV.Value, 0)
			if !r.PathV.Known {
				t.Error("the rise is not known")
			}
		}
	}
	if e := solve(t, tree, z, ExactOptions{Demand: true}); !(cmplx.Abs(e.V[tree.Segments[1].Far][0]) < neutralV-1) {
		t.Error("the load draws nothing")
	}
}

// TestExactThreePhase: 60 kVA at unity power factor at the end of two runs, 0.1 and 0.15
// ohm. P/3 = 20 kW a phase: V = U0 + R P/(3V), so V (V - U0) = R P/3 and
// V = (U0 + sqrt(U0^2 + 4 R P/3))/2. Between the runs the current P/(3V) has risen by
// 0.1 P/(3V). At a supply of 420 V, U0 is 420/sqrt3 and the power the same.
func TestExactThreePhase(t *testing.T) {
	tree := build(t, board("m", ""), run("m", "board.m", "supply.g"), src("a", "rated_kva = 60\n phases = 3"), run("a", "source.a", "board.m"))
	_, m := segment(t, tree, "m")
	_, a := segment(t, tree, "a")
	z := make([]Impedance, 2)
	z[m] = Impedance{Ohm: 0.1, NeutralOhm: 7, HasNeutral: true, Known: true} // the neutral carries nothing
	z[a] = Impedance{Ohm: 0.15, Known: true}
	for _, supply := range []float64{0, 420} {
		e := solve(t, tree, z, ExactOptions{SupplyV: supply})
		u0 := supply / math.Sqrt(3)
		if supply == 0 {
			u0 = neutralV
		}
		v := (u0 + math.Sqrt(u0*u0+4*0.25*20000)) / 2
		for p := range 3 {
			near(t, "at the source", cmplx.Abs(e.V[tree.Segments[a].Far][p]-polarOf(v, p)), 0)
			near(t, "between", cmplx.Abs(e.V[tree.Segments[m].Far][p]-polarOf(u0+0.1*20000/v, p)), 0)
		}
		r := tree.rises(e)
		near(t, "rise of the path", r[a].PathPercent.Value, 100*(v-u0)/neutralV)
		near(t, "rise, V line to line", r[a].PathV.Value, math.Sqrt(3)*(v-u0))
		near(t, "rise of the last run", r[a].Percent.Value, 100*0.15*20000/v/neutralV)
		near(t, "unbalance", e.Unbalance(tree.Segments[a].Far), 0)
	}
}

// TestExactPowerFactor: constant power S on an impedance Z. V - Z conj(S/V) = U0 makes
// |V|^2 - Z conj(S) = U0 conj(V) with Z conj(S) = a + jb; the squared magnitude of both
// sides is a quadratic in |V|^2: |V|^4 - (2a + U0^2) |V|^2 + a^2 + b^2 = 0. For loads S
// is negative. For one phase Z is the phase's and the neutral's together.
func TestExactPowerFactor(t *testing.T) {
	const z, zn = 0.12 + 0.07i, 0.2 + 0.03i
	for name, c := range map[string]struct {
		text   string
		s, z   complex128
		demand bool
	}{
		"delivers": {src("a", "rated_kva = 60\n phases = 3\n power_factor = 0.8") + run("a", "source.a", "supply.g"), 16000 + 12000i, z, false},
		"absorbs":  {src("a", "rated_kva = 60\n phases = 3\n power_factor = 0.8\n reactive = \"absorbs\"") + run("a", "source.a", "supply.g"), 16000 - 12000i, z, false},
		"one-phase": {
			src("a", "rated_kva = 10\n phases = 1\n phase = \"L1\"\n power_factor = 0.6") + run("a", "source.a", "supply.g"), 6000 + 8000i, z + zn, false,
		},
		"one-phase absorbs": {
			src("a", "rated_kva = 10\n phases = 1\n phase = \"L1\"\n power_factor = 0.6\n reactive = \"absorbs\"") + run("a", "source.a", "supply.g"), 6000 - 8000i, z + zn, false,
		},
		"load": {board("m", "") + run("m", "board.m", "supply.g") + load("l", "m", "demand_kva = 60\n power_factor = 0.8"), -16000 - 12000i, z, true},
		"one-phase load": {
			board("m", "") + run("m", "board.m", "supply.g") + load("l", "m", "demand_kva = 5\n power_factor = 0.6\n phases = 1\n phase = \"L1\""), -3000 - 4000i, z + zn, true,
		},
		"charging": {battery("a", "rated_kva = 90\n power_factor = 0.8\n phases = 3\n charge_kva = 45") + run("a", "source.a", "supply.g"), -15000, z, true},
	} {
		t.Run(name, func(t *testing.T) {
			tree := build(t, c.text)
			e := solve(t, tree, []Impedance{{Ohm: z, NeutralOhm: zn, HasNeutral: true, Known: true}}, ExactOptions{Demand: c.demand})
			zs := c.z * cmplx.Conj(c.s)
			half := real(zs) + neutralV*neutralV/2
			want := math.Sqrt(half + math.Sqrt(half*half-real(zs)*real(zs)-imag(zs)*imag(zs)))
			v := e.V[tree.Segments[0].Far][0]
			near(t, "voltage", cmplx.Abs(v), want)
			near(t, "its own current's", cmplx.Abs(v-c.z*cmplx.Conj(c.s/v)-complex(neutralV, 0)), 0)
			sign := 1.0
			if c.demand {
				sign = -1 // a drop
			}
			near(t, "change", tree.rises(e)[0].Percent.Value, sign*100*(want/neutralV-1))
		})
	}
}

// TestExactCurrent: a source that holds its current I at an angle phi to its own voltage
// on an impedance Z. Along that voltage V - w has the magnitude of the supply's U0, where
// w = Z I e^(j phi): V = Re w + sqrt(U0^2 - (Im w)^2). 60 kVA at 400 V hold
// 60000/(sqrt3 x 400) A whatever the supply's voltage; phi is negative where vars are
// delivered. ConstantCurrent does the same to every source.
func TestExactCurrent(t *testing.T) {
	const z, zn = 0.12 + 0.07i, 0.2 + 0.03i
	for name, c := range map[string]struct {
		text   string
		i, z   complex128
		supply float64
		opt    bool
	}{
		"three-phase":        {"rated_kva = 60\n phases = 3\n holds = \"current\"", 86.6025403784439, z, 0, false},
		"at 420 V":           {"rated_kva = 60\n phases = 3\n holds = \"current\"", 86.6025403784439, z, 420, false},
		"delivers":           {"max_current_a = 50\n phases = 3\n power_factor = 0.8\n holds = \"current\"", 40 - 30i, z, 380, false},
		"absorbs":            {"max_current_a = 50\n phases = 3\n power_factor = 0.8\n reactive = \"absorbs\"\n holds = \"current\"", 40 + 30i, z, 0, false},
		"one-phase":          {"max_current_a = 50\n phases = 1\n phase = \"L1\"\n power_factor = 0.6\n holds = \"current\"", 30 - 40i, z + zn, 0, false},
		"by the option":      {"max_current_a = 50\n phases = 3\n power_factor = 0.8", 40 - 30i, z, 0, true},
		"said and by option": {"max_current_a = 50\n phases = 3\n power_factor = 0.8\n holds = \"power\"", 40 - 30i, z, 0, true},
	} {
		t.Run(name, func(t *testing.T) {
			tree := build(t, src("a", c.text)+run("a", "source.a", "supply.g"))
			e := solve(t, tree, []Impedance{{Ohm: z, NeutralOhm: zn, HasNeutral: true, Known: true}}, ExactOptions{SupplyV: c.supply, ConstantCurrent: c.opt})
			u0 := c.supply / math.Sqrt(3)
			if c.supply == 0 {
				u0 = neutralV
			}
			w := c.z * c.i
			near(t, "voltage", cmplx.Abs(e.V[tree.Segments[0].Far][0]), real(w)+math.Sqrt(u0*u0-imag(w)*imag(w)))
		})
	}
}

// TestExactBetweenLines: 20 kW between L1 and L2 on 0.2 ohm a line. The loop of both
// lines has 2 R and the supply's 400 V: V (V - 400) = 2 R P. L3 and the neutral carry
// nothing, so L3 stays, and so does the middle of L1 and L2.
func TestExactBetweenLines(t *testing.T) {
	tree := build(t, src("a", "rated_kva = 20\n phases = 1\n phase = \"L1-L2\"")+run("a", "source.a", "supply.g"))
	e := solve(t, tree, []Impedance{{Ohm: 0.2, NeutralOhm: 5, HasNeutral: true, Known: true}}, ExactOptions{})
	v := e.V[tree.Segments[0].Far]
	want := (lineV + math.Sqrt(lineV*lineV+4*2*0.2*20000)) / 2
	near(t, "L1-L2", cmplx.Abs(v[0]-v[1]), want)
	near(t, "L3", cmplx.Abs(v[2]-polarOf(neutralV, 2)), 0)
	near(t, "middle", cmplx.Abs(v[0]+v[1]-polarOf(neutralV, 0)-polarOf(neutralV, 1)), 0)
	near(t, "rise", tree.rises(e)[0].V.Value, want-lineV)
}

// TestExactNeutral: 10 kW on L1 through 0.2 ohm, back by a neutral of 0.5 ohm:
// V (V - U0) = (0.2 + 0.5) P with V from L1 to the neutral there. The neutral is lifted
// by 0.5 P/V, which L2 and L3 see the other way: V2 = U0 at -120 degrees + 0.5 P/V.
// Where no neutral is given it is as the phase: V (V - U0) = 0.4 P.
func TestExactNeutral(t *testing.T) {
	tree := build(t, src("a", "rated_kva = 10\n phases = 1\n phase = \"L1\"")+run("a", "source.a", "supply.g"))
	for back, z := range map[float64]Impedance{
		0.5: {Ohm: 0.2, NeutralOhm: 0.5, HasNeutral: true, Known: true},
		0:   {Ohm: 0.2, NeutralOhm: 0, HasNeutral: true, Known: true},
		0.2: {Ohm: 0.2, NeutralOhm: 9, Known: true},
	} {
		e := solve(t, tree, []Impedance{z}, ExactOptions{})
		v := e.V[tree.Segments[0].Far]
		want := (neutralV + math.Sqrt(neutralV*neutralV+4*(0.2+back)*10000)) / 2
		near(t, "L1", cmplx.Abs(v[0]-complex(want, 0)), 0)
		for p := 1; p < 3; p++ {
			near(t, "beside", cmplx.Abs(v[p]-polarOf(neutralV, p)-complex(back*10000/want, 0)), 0)
		}
	}
}

// TestExactBalanced: three equal one-phase sources are one three-phase source, whatever
// the neutral: no current in it and no unbalance.
func TestExactBalanced(t *testing.T) {
	single := ""
	for p := 1; p <= 3; p++ {
		single += src(fmt.Sprint(p), fmt.Sprintf("rated_kva = 10\n power_factor = 0.9\n phases = 1\n phase = \"L%d\"", p)) + run(fmt.Sprint(p), fmt.Sprintf("source.%d", p), "board.m")
	}
	three := src("a", "rated_kva = 30\n power_factor = 0.9\n phases = 3") + run("a", "source.a", "board.m")
	var at [2]complex128
	for k, text := range []string{single, three} {
		tree := build(t, board("m", "")+run("m", "board.m", "supply.g")+text)
		z := make([]Impedance, len(tree.Segments))
		for i := range z {
			z[i].Known = true
		}
		s, i := segment(t, tree, "m")
		z[i] = Impedance{Ohm: 0.1 + 0.05i, NeutralOhm: 3 + 1i, HasNeutral: true, Known: true}
		e := solve(t, tree, z, ExactOptions{})
		_, neutral := currentsIn(tree, e, z, i)
		if !(cmplx.Abs(neutral) < 1e-9) || !(e.Unbalance(s.Far) < 1e-9) {
			t.Errorf("neutral %v A, unbalance %g %%", neutral, e.Unbalance(s.Far))
		}
		at[k] = e.V[s.Far][0]
	}
	near(t, "three of one and one of three", cmplx.Abs(at[0]-at[1]), 0)
}

// currentsIn works out the currents of a run from the voltages at its ends, which are
// to the neutral: the sum over phases of the difference is In (Z + 3 Zn).
func currentsIn(tree *Tree, e Exact, z []Impedance, i int) (phase [3]complex128, neutral complex128) {
	s := &tree.Segments[i]
	var d [3]complex128
	for p := range 3 {
		d[p] = e.V[s.Far][p] - e.V[s.Near][p]
	}
	zn := z[i].Ohm
	if z[i].HasNeutral {
		zn = z[i].NeutralOhm
	}
	neutral = (d[0] + d[1] + d[2]) / (z[i].Ohm + 3*zn)
	for p := range 3 {
		phase[p] = (d[p] - neutral*zn) / z[i].Ohm
	}
	return phase, neutral
}

// randomZ gives every run an impedance and most a neutral of another.
func randomZ(rng *rand.Rand, tree *Tree) []Impedance {
	z := make([]Impedance, len(tree.Segments))
	for i := range z {
		z[i] = Impedance{Ohm: complex(0.0002+0.004*rng.Float64(), 0.0001+0.001*rng.Float64()), Known: true}
		if rng.IntN(4) > 0 {
			z[i].HasNeutral, z[i].NeutralOhm = true, complex(0.0002+0.008*rng.Float64(), 0.0001+0.001*rng.Float64())
		}
	}
	return z
}

// TestExactBalance: in random networks at any voltage of the supply what all sources
// give, as their data sheets say, is what the supply takes and what the runs lose,
// watts and vars, to 1e-9; and at every board the currents of the runs, worked out from
// the voltages, add to zero.
func TestExactBalance(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 8))
	for range 60 {
		x := draw(func(n int) int { return rng.IntN(n) }, 1+rng.IntN(8), 1+rng.IntN(20))
		tree := build(t, strings.Split(x.text, rest)[1])
		z := randomZ(rng, tree)
		supply := 380 + 60*rng.Float64()
		e := solve(t, tree, z, ExactOptions{SupplyV: supply})
		given, taken, lost := complex(0, 0), complex(0, 0), complex(0, 0)
		for n := range tree.Nodes {
			if s := tree.Nodes[n].Source; s != nil {
				q := math.Sqrt(1 - s.PowerFactor.Value*s.PowerFactor.Value)
				if s.Reactive.Value == "absorbs" {
					q = -q
				}
				given += complex(1000*s.RatedKVA.Value, 0) * complex(s.PowerFactor.Value, q)
			}
		}
		sum := make([][3]complex128, len(tree.Nodes))
		greatest := 0.0
		for i := range tree.Segments {
			phase, neutral := currentsIn(tree, e, z, i)
			zn := z[i].Ohm
			if z[i].HasNeutral {
				zn = z[i].NeutralOhm
			}
			lost += complex(real(neutral*cmplx.Conj(neutral)), 0) * zn
			for p := range 3 {
				lost += complex(real(phase[p]*cmplx.Conj(phase[p])), 0) * z[i].Ohm
				sum[tree.Segments[i].Near][p] += phase[p]
				sum[tree.Segments[i].Far][p] -= phase[p]
				greatest = max(greatest, cmplx.Abs(phase[p]))
			}
		}
		for n := range tree.Nodes {
			for p := range 3 {
				switch {
				case tree.Nodes[n].Supply != nil:
					near(t, "voltage of the supply", cmplx.Abs(e.V[n][p]-polarOf(supply/math.Sqrt(3), p)), 0)
					taken += e.V[n][p] * cmplx.Conj(sum[n][p])
				case tree.Nodes[n].Board != nil && cmplx.Abs(sum[n][p]) > 1e-8*greatest:
					t.Errorf("%s: %g A too many", tree.Nodes[n].Subject, cmplx.Abs(sum[n][p]))
				}
			}
		}
		if off := cmplx.Abs(given-taken-lost) / cmplx.Abs(given); !(off < 1e-9) {
			t.Errorf("%d runs: given %.9g, taken %.9g, lost %.9g VA: off by %.3g", len(z), given, taken, lost, off)
		}
		if !(real(lost) > 0) {
			t.Errorf("the runs lose %g W", real(lost))
		}
	}
}

// TestExactLimits: a power that no voltage can carry is refused with an error; one well
// within is solved. A load P on R has V (U0 - V) = R P, at most U0^2/4: P = U0^2/(4R) a
// phase. A source at unity power factor on X has |V|^4 - U0^2 |V|^2 + (XP)^2 = 0 (see
// TestExactPowerFactor), which has a root only up to P = U0^2/(2X). The neutral carries
// nothing and is given no impedance: near the limit one as large as a phase's makes the
// sweeps swing.
func TestExactLimits(t *testing.T) {
	for _, share := range []float64{0.5, 0.9, 1.02, 1.5, 100} {
		kva := share * 3 * neutralV * neutralV / (4 * 0.5) / 1000
		drops := build(t, board("m", ""), run("m", "board.m", "supply.g"), load("l", "m", fmt.Sprintf("demand_kva = %.17g", kva)))
		e, err := drops.exact([]Impedance{{Ohm: 0.5, HasNeutral: true, Known: true}}, ExactOptions{Demand: true})
		if (err == nil) != (share < 1) {
			t.Errorf("a load of %g of what can be: error %v", share, err)
		}
		if err == nil {
			near(t, "voltage of the load", cmplx.Abs(e.V[drops.Segments[0].Far][0]), neutralV*(1+math.Sqrt(1-share))/2)
		}
		kva = share * 3 * neutralV * neutralV / (2 * 0.5) / 1000
		rises := build(t, src("a", fmt.Sprintf("rated_kva = %.17g\n phases = 3", kva)), run("a", "source.a", "supply.g"))
		e, err = rises.exact([]Impedance{{Ohm: 0.5i, HasNeutral: true, Known: true}}, ExactOptions{})
		if (err == nil) != (share < 1) {
			t.Errorf("a source of %g of what can be: error %v", share, err)
		}
		if err == nil {
			near(t, "voltage of the source", cmplx.Abs(e.V[rises.Segments[0].Far][0]), neutralV*math.Sqrt((1+math.Sqrt(1-share*share))/2))
		}
	}
}

// TestExactRefuses: what is not known or not in the tree gives an error, not a figure.
func TestExactRefuses(t *testing.T) {
	whole := board("m", "") + run("m", "board.m", "supply.g") + src("a", "max_current_a = 10\n phases = 3") + run("a", "source.a", "board.m")
	for name, text := range map[string]string{
		"unknown current": grid + whole + src("c", "phases = 3") + run("c", "source.c", "board.m"),
		"loop":            grid + whole + board("b", "") + run("b", "board.b", "board.m") + run("b2", "board.b", "board.m"),
		"stranded":        grid + whole + board("b", "") + board("c", "") + run("b", "board.b", "board.c"),
		"loose":           grid + whole + run("b", "board.m", "board.nowhere"),
		"no voltage":      "site \"s\" {\n ratings = \"x\"\n}\nsupply \"g\" {\n fault_ka = 9\n}\n" + whole,
		"no supply":       "site \"s\" {\n ratings = \"x\"\n voltage_v = 400\n}\n" + whole,
	} {
		tree := Build(read(t, text+rest))
		if _, err := tree.exact(same(tree, 0.01), ExactOptions{}); err == nil {
			t.Errorf("%s: no error", name)
		}
	}
	tree := build(t, whole)
	for i := range tree.Segments {
		z := same(tree, 0.01)
		z[i].Known = false
		if _, err := tree.exact(z, ExactOptions{}); err == nil {
			t.Errorf("run %s has no impedance: no error", tree.Segments[i].Run.Name)
		}
	}
}

// unbalanceByLines is the unbalance from the magnitudes between lines alone, percent:
// beta = (sum of |U|^4)/(sum of |U|^2)^2, sqrt((1 - sqrt(3 - 6 beta))/(1 + sqrt(3 - 6 beta)))
// (CIGRE; also IEC 61000-4-30 clause 5.7; from memory).
func unbalanceByLines(v [3]complex128) float64 {
	two, four := 0.0, 0.0
	for p := range 3 {
		u := cmplx.Abs(v[p] - v[(p+1)%3])
		two, four = two+u*u, four+u*u*u*u
	}
	root := math.Sqrt(max(0, 3-6*four/(two*two)))
	return 100 * math.Sqrt(max(0, (1-root)/(1+root)))
}

// TestUnbalance by hand: one phase lower by d makes a positive sequence of (3 - d)/3 and
// a negative one of d/3: 0.06 gives 0.06/2.94 = 2.04081633 %; a phase that is missing
// gives 1/2. By the definition: voltages built up from given positive, negative and zero
// sequences (Fortescue) give back the quotient, whatever the zero sequence. By lines: the
// formula that needs magnitudes only, on solved networks.
func TestUnbalance(t *testing.T) {
	at := func(v [3]complex128) float64 { return Exact{V: [][3]complex128{v}}.Unbalance(0) }
	for p := range 3 {
		v := [3]complex128{polarOf(230, 0), polarOf(230, 1), polarOf(230, 2)}
		v[p] *= 0.94
		about(t, "one phase low", at(v), 2.04081633, 1e-8)
		v[p] = 0
		near(t, "one phase missing", at(v), 50)
	}
	rng := rand.New(rand.NewPCG(9, 10))
	for range 200 {
		component := func(most float64) complex128 {
			return cmplx.Rect(most*rng.Float64(), 2*math.Pi*rng.Float64())
		}
		positive, negative, zero := 230+component(20), component(20), component(50)
		var v [3]complex128
		for p := range 3 {
			v[p] = positive*polarOf(1, p) + negative*polarOf(1, -p) + zero
		}
		near(t, "by components", at(v), 100*cmplx.Abs(negative)/cmplx.Abs(positive))
	}
	most := 0.0
	for range 20 {
		x := draw(func(n int) int { return rng.IntN(n) }, 1+rng.IntN(6), 1+rng.IntN(12))
		tree := build(t, strings.Split(x.text, rest)[1])
		z := randomZ(rng, tree)
		for i := range z {
			z[i].Ohm, z[i].NeutralOhm = 10*z[i].Ohm, 10*z[i].NeutralOhm
		}
		e := solve(t, tree, z, ExactOptions{})
		for n := range tree.Nodes {
			got, want := e.Unbalance(n), unbalanceByLines(e.V[n])
			most = max(most, want)
			if !(math.Abs(got-want) < 1e-4) { // small magnitudes' differences leave the root few digits
				t.Errorf("%s: %.9g %%, by lines %.9g %%", tree.Nodes[n].Subject, got, want)
			}
		}
	}
	if most < 0.2 {
		t.Errorf("no network is unbalanced by more than %g %%", most)
	}
}
