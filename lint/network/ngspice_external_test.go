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
			k := fmt.Sprintf("%d_%d", i, c)
			fmt.Fprintf(&b, "r%s %s a%s %.17g\nl%s a%s %s %.17g\n", k, node(s.Far, c), k, real(z[i].Ohm), k, k, node(s.Near, c), imag(z[i].Ohm)/(2*math.Pi*50))
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
	dir := t.TempDir()
	file := filepath.Join(dir, "net.cir")
	if err := os.WriteFile(file, []byte(b.String()), 0o600); err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithTimeout(t.Context(), 60*time.Second)
	defer cancel()
	cmd := exec.CommandContext(ctx, "ngspice", "-b", file)
	cmd.Dir = dir
	log, err := cmd.CombinedOutput()
	text, e := os.ReadFile(filepath.Join(dir, "net.out"))
	if e != nil {
		t.Fatalf("ngspice: %v %v\n%s", err, e, log)
	}
	fields := strings.Fields(string(text))[1:] // the scale first
	next := func() float64 {
		v, err := strconv.ParseFloat(fields[0], 64)
		if err != nil {
			t.Fatal(err)
		}
		fields = fields[1:]
		return v
	}
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

// feeds are the currents of all sources at the voltages v: constant power, or, with
// nominal voltages, the currents of the trade's formula.
func feedsAt(tree *Tree, v [][3]complex128, nominal float64) []feed {
	var list []feed
	for n := range tree.Nodes {
		o := tree.own[n]
		if len(o.lines) == 2 {
			a, c := o.lines[0], o.lines[1]
			power := cmplx.Conj(o.current) * complex(nominal*math.Sqrt(3), 0)
			list = append(list, feed{n, c, a, cmplx.Conj(power / (v[n][a] - v[n][c]))})
			continue
		}
		for _, p := range o.lines {
			power := cmplx.Conj(o.current) * complex(nominal, 0)
			list = append(list, feed{n, 3, p, cmplx.Conj(power / v[n][p])})
		}
	}
	return list
}

// TestExternalNgspice holds the network against ngspice on random unbalanced networks
// of up to 500 nodes. Exact: fed with the currents that constant power makes of its
// voltages, ngspice gives back those voltages, within 1e-6 of nominal. Rise: fed with
// the currents at nominal voltage, the component of ngspice's voltage along each
// phase is the trade's figure, within 1e-6 of nominal.
func TestExternalNgspice(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	for _, size := range []struct{ boards, sources int }{{1, 1}, {1, 3}, {3, 6}, {8, 20}, {20, 60}, {40, 150}, {60, 439}} {
		t.Run(fmt.Sprintf("%d nodes", 1+size.boards+size.sources), func(t *testing.T) {
			d := read(t, draw(func(n int) int { return rng.IntN(n) }, size.boards, size.sources).text)
			tree := Build(d)
			z := make([]Impedance, len(tree.Segments))
			for i := range z {
				z[i] = Impedance{Ohm: complex(0.0002+0.004*rng.Float64(), 0.0001+0.001*rng.Float64()), Known: true}
			}
			nominal := 400 / math.Sqrt(3)
			e, err := tree.Exact(z, ExactOptions{})
			if err != nil {
				t.Fatal(err)
			}
			exact := 0.0
			for n, v := range spice(t, tree, z, nominal, feedsAt(tree, e.V, nominal)) {
				for p := range 3 {
					exact = math.Max(exact, cmplx.Abs(v[p]-e.V[n][p])/nominal)
				}
			}
			flat := make([][3]complex128, len(tree.Nodes))
			for n := range flat {
				for p := range 3 {
					flat[n][p] = axis[p] * complex(nominal, 0)
				}
			}
			trade := 0.0
			rises := tree.Rise(z)
			for n, v := range spice(t, tree, z, nominal, feedsAt(tree, flat, nominal)) {
				if up := tree.Nodes[n].Up; up >= 0 {
					for p := range 3 {
						trade = math.Max(trade, math.Abs(component(v[p], axis[p])/nominal-1-rises[up].path[p]/100))
					}
				}
			}
			t.Logf("largest difference of Exact %.3g, of Rise %.3g of nominal; %d sweeps", exact, trade, e.Iterations)
			if !(exact < 1e-6) || !(trade < 1e-6) {
				t.Errorf("ngspice differs by %.3g and %.3g of nominal", exact, trade)
			}
		})
	}
}
