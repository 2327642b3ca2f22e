package rules_test

import (
	"bytes"
	"fmt"
	"maps"
	"math/rand/v2"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"trefoil/lint/assess"
	"trefoil/lint/design"
	"trefoil/lint/engine"
	"trefoil/lint/finding"
	"trefoil/lint/generate"
	"trefoil/lint/house"
	"trefoil/lint/report"
	"trefoil/lint/rulecheck"
	"trefoil/lint/source"
	"trefoil/ratings/quantity"
	"trefoil/ratings/sets"
	"trefoil/rules"
)

// texts gives designs of every kind: the examples, the cases of all rules, a generated one.
func texts(t *testing.T) map[string][]*source.File {
	t.Helper()
	all := map[string][]*source.File{}
	under := base(t)
	cases, err := filepath.Glob("testdata/*/*.txtar")
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range cases {
		text, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		all[name] = rulecheck.Files(text, under)
	}
	for _, name := range []string{"bakery", "cold-store", "cold-store-late"} {
		parts, err := filepath.Glob("../examples/" + name + "/*.hcl")
		if err != nil || len(parts) == 0 {
			t.Fatal(name, err)
		}
		for _, p := range parts {
			text, err := os.ReadFile(p)
			if err != nil {
				t.Fatal(err)
			}
			all[name] = append(all[name], &source.File{Name: p, Bytes: text})
		}
	}
	all["generated"] = []*source.File{{Name: "g.hcl", Bytes: generate.Design(120, 7)}}
	return all
}

// variant draws a change of one run: size, legs, or another cable of the design.
func variant(rng *rand.Rand, d *design.Design) (run int, to design.Run, ok bool) {
	if len(d.Runs) == 0 {
		return 0, design.Run{}, false
	}
	run = rng.IntN(len(d.Runs))
	to = *d.Runs[run]
	if to.Size.Zero() || d.CableOf(&to) == nil {
		return 0, to, false
	}
	size := []float64{6, 16, 25, 35, 50, 70, 95, 120, 150, 185, 240, 300, 400, 630}[rng.IntN(14)]
	to.SizeMM2.Value, to.SizeMM2.Origin, to.Size = size, design.Stated, quantity.MM2(size)
	to.Parallel.Value, to.Parallel.Origin = float64(1+rng.IntN(4)), design.Stated
	if rng.IntN(2) == 0 {
		to.Cable.Name = d.Cables[rng.IntN(len(d.Cables))].Name
	}
	return run, to, true
}

func document(t *testing.T, v *assess.Review) string {
	t.Helper()
	var all []int
	for i := range v.Runs {
		all = append(all, i)
	}
	var b bytes.Buffer
	if err := report.WriteJSON(&b, report.NewCalcDocument(report.Tool{}, v, all, "")); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// exact matches the phasor figures, which a trial leaves unknown where no verdict hangs on
// them.
var exact = regexp.MustCompile(`"exact_[a-z_]+":[^,}]+,?`)

func key(f *finding.Finding) string {
	return fmt.Sprint(f.Rule, "|", f.Subject, "|", f.Message, "|", f.Waived)
}

// A trial shows the same figures and the same findings as reading and assessing the
// changed design from scratch, and leaves nothing behind.
func TestTrial(t *testing.T) {
	today := time.Date(2026, 7, 1, 0, 0, 0, 0, time.UTC)
	sets := assess.Named(sets.Find)
	rng := rand.New(rand.NewPCG(23, 0))
	trials, moved, better := 0, 0, 0
	all := texts(t)
	for _, name := range slices.Sorted(maps.Keys(all)) {
		files := all[name]
		v := assess.Assess(design.Read("", files), sets)
		joined := house.Join(v, rules.All())
		var narrow []*engine.Rule
		for _, r := range joined {
			if !r.Wide && r.Check != nil {
				narrow = append(narrow, r)
			}
		}
		before := document(t, v)
		told := map[string]bool{}
		for _, f := range engine.Check(v, narrow, engine.Options{Today: today}).Findings {
			told[key(&f)] = true
		}
		for range 6 {
			run, to, ok := variant(rng, v.Design)
			if !ok {
				continue
			}
			trials++
			var route *design.Route
			var laid design.Route
			if rng.IntN(3) == 0 && len(v.Design.Routes) > 0 {
				k := rng.IntN(len(v.Design.Routes))
				route = v.Design.Routes[k]
				laid = *route
				laid.Laid.Value, laid.Laid.Origin = []string{"ladder", "clipped", "conduit", "trunking", "free-air"}[rng.IntN(5)], design.Stated
			}

			fresh := design.Read("", files)
			*fresh.Runs[run] = to
			var layings []assess.Laying
			if route != nil {
				for k, r := range v.Design.Routes {
					if r == route {
						*fresh.Routes[k] = laid
					}
				}
				layings = []assess.Laying{{Route: route, To: laid}}
			}
			whole := assess.Assess(fresh, sets)

			best := v.Alone(assess.Change{Run: run, To: to, Cable: v.Design.CableOf(&to)}, func(i int) int { return v.Runs[i].Legs }, func(r *design.Route) *design.Route {
				if r == route {
					return &laid
				}
				return r
			})
			trial := v.Try([]assess.Change{{Run: run, To: to, Cable: v.Design.CableOf(&to)}}, layings)
			if got, want := document(t, v), document(t, whole); exact.ReplaceAllString(got, "") != exact.ReplaceAllString(want, "") {
				t.Fatalf("%s, run %s as %v: figures differ\n%s", name, to.Name, to.Size, firstDifference(got, want))
			} else if got != before {
				moved++
			}
			if is := v.Runs[run].CapacityA; is.Known && (!best.CapacityA.Known || is.Value > best.CapacityA.Value*(1+1e-9)) {
				t.Errorf("%s, run %s as %v: carries %v among its neighbours, and %v in the best company %v", name, to.Name, to.Size, is, best.CapacityA, best.Gaps)
			} else if is.Known && is.Value < best.CapacityA.Value*(1-1e-9) {
				better++
			}
			if is := v.Runs[run].Impedance; is != best.Impedance {
				t.Errorf("%s, run %s as %v: impedance %v, and %v in the best company", name, to.Name, to.Size, is, best.Impedance)
			}
			if is := v.Runs[run].WarmLossW(); is.Known && is.Value < best.WarmLossW().Or(is.Value+1)*(1-1e-9) {
				t.Errorf("%s, run %s as %v: loses %v, and %v in the best company", name, to.Name, to.Size, is, best.WarmLossW())
			}
			v.Only = &trial.Scope
			part := map[string]bool{}
			for _, f := range engine.Part(v, joined, today) {
				part[key(&f)] = true
			}
			v.Only = nil
			full := map[string]bool{}
			for _, f := range engine.Check(whole, narrow, engine.Options{Today: today}).Findings {
				if f.Severity == finding.Note {
					continue
				}
				full[key(&f)] = true
				if !part[key(&f)] && !told[key(&f)] {
					t.Errorf("%s, run %s as %v: the trial does not tell %s", name, to.Name, to.Size, key(&f))
				}
			}
			for _, f := range engine.Part(whole, joined, today) {
				full[key(&f)] = true
			}
			for k := range part {
				if !full[k] {
					t.Errorf("%s, run %s as %v: the trial alone tells %s", name, to.Name, to.Size, k)
				}
			}
			trial.Undo()
			if document(t, v) != before {
				t.Fatalf("%s, run %s: something is left of a trial\n%s", name, to.Name, firstDifference(document(t, v), before))
			}
		}
	}
	if trials < 500 || moved < trials/2 || better == 0 {
		t.Errorf("%d trials, %d of which moved a figure; %d runs carry more in better company", trials, moved, better)
	}
}

func firstDifference(got, want string) string {
	a, b := strings.Split(got, ","), strings.Split(want, ",")
	for i := range min(len(a), len(b)) {
		if a[i] != b[i] {
			return fmt.Sprintf("line %d:\n got %.2000s\nwant %.2000s", i, strings.Join(a[max(0, i-3):min(len(a), i+4)], ","), strings.Join(b[max(0, i-3):min(len(b), i+4)], ","))
		}
	}
	return "lengths differ"
}
