package main

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os/exec"
	"path/filepath"
	"runtime"
	"testing"
	"time"

	hcllib "github.com/hashicorp/hcl/v2"
	"github.com/hashicorp/hcl/v2/hclsyntax"

	"trefoil/lint/assess"
	"trefoil/lint/choices"
	"trefoil/lint/design"
	"trefoil/lint/engine"
	"trefoil/lint/generate"
	"trefoil/lint/report"
	"trefoil/lint/source"
	"trefoil/lint/syntax"
	"trefoil/ratings/quantity"
	"trefoil/ratings/sets"
	"trefoil/rules"
)

func files(texts ...[]byte) []*source.File {
	var list []*source.File
	for i, t := range texts {
		list = append(list, &source.File{Name: fmt.Sprintf("%04d.hcl", i), Bytes: t})
	}
	return list
}

func check(f []*source.File) *engine.Result {
	return engine.Check(assess.Assess(design.Read(".", f), assess.Named(sets.Find)), rules.All(), engine.Options{Today: time.Date(2027, 3, 1, 0, 0, 0, 0, time.UTC)})
}

// TestGenerated: a generated design is whole, and equal seeds give equal results.
func TestGenerated(t *testing.T) {
	a, b := check(files(generate.Design(500, 7))), check(files(generate.Files(500, 7, 90)...))
	if a.Runs != 514 || a.Assessed != a.Runs || len(a.Findings) != len(b.Findings) || len(a.Review.Design.Faults) > 0 {
		t.Errorf("%d runs, %d assessed, %d and %d findings", a.Runs, a.Assessed, len(a.Findings), len(b.Findings))
	}
	rules := map[string]int{}
	for _, f := range a.Findings {
		rules[f.Rule]++
	}
	if rules["run-overloaded"] == 0 || rules["voltage-rise"] == 0 || rules["run-not-assessed"] > 0 {
		t.Errorf("%v", rules)
	}
}

// ways are what a check is held against: the parser on the whole file, the parser on the
// pieces of it by as many goroutines as there are processors, and the reading of a check.
var ways = []string{"stock parser, whole file", "stock parser, in pieces ", "reading alone           "}

// parseBy parses a text in one of the ways.
func parseBy(text []byte, way int) error {
	switch way {
	case 0:
		if _, diags := hclsyntax.ParseConfig(text, "", hcllib.InitialPos); diags.HasErrors() {
			return diags
		}
	case 1:
		var pieces [][]byte
		for len(text) > 0 { // at least as long as those of a check, ending behind a brace on a line of its own
			end := len(text)
			if i := bytes.Index(text[min(4<<10, end):], []byte("\n}\n")); i >= 0 {
				end = min(4<<10, end) + i + 3
			}
			pieces, text = append(pieces, text[:end]), text[end:]
		}
		broken := make([]error, len(pieces))
		syntax.Each(len(pieces), func(i int) {
			if _, diags := hclsyntax.ParseConfig(pieces[i], "", hcllib.InitialPos); diags.HasErrors() {
				broken[i] = diags
			}
		})
		return errors.Join(broken...)
	default:
		if faults := syntax.Read(files(text), func(int) {}, func(int, syntax.Piece) {}); len(faults) > 0 {
			return errors.New(faults[0].Message)
		}
	}
	return nil
}

// benchmark measures a whole check of one file against the ways to parse it, in the same run.
func benchmark(b *testing.B, runs int) {
	pace()
	text := generate.Design(runs, 1)
	b.SetBytes(int64(len(text)))
	b.ReportAllocs()
	least := make([]time.Duration, len(ways)+1)
	for b.Loop() {
		for i := range least {
			runtime.GC()
			at := time.Now()
			if i < len(ways) {
				if err := parseBy(text, i); err != nil {
					b.Fatal(err)
				}
			} else {
				whole(b, text)
			}
			if took := time.Since(at); least[i] == 0 || took < least[i] {
				least[i] = took
			}
		}
	}
	for i, unit := range []string{"x-stock-parser", "x-stock-in-pieces", "x-reading"} {
		b.ReportMetric(float64(least[len(ways)])/float64(least[i]), unit)
	}
}

// built builds the program into a directory.
func built(t testing.TB, dir string) string {
	t.Helper()
	program := filepath.Join(dir, "trefoil")
	if out, err := exec.Command("go", "build", "-o", program, ".").CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	return program
}

// whole is a check with its result written.
func whole(t testing.TB, text []byte) {
	t.Helper()
	if err := report.WriteJSON(io.Discard, report.CheckDocument(tool, []*engine.Result{check(files(text))}, 1, "")); err != nil {
		t.Fatal(err)
	}
}

func BenchmarkCheck100(b *testing.B)   { benchmark(b, 100) }
func BenchmarkCheck10000(b *testing.B) { benchmark(b, 10_000) }

// BenchmarkComputedSet10000 measures a design under a computed set against the same
// under a table set, in the same run.
func BenchmarkComputedSet10000(b *testing.B) {
	pace()
	text := generate.Design(10_000, 1)
	other := bytes.Replace(text, []byte("iec-60364-5-52:2009"), []byte("as-nzs-3008.1.1:2017"), 1)
	var tables, computed time.Duration
	for b.Loop() {
		at := time.Now()
		check(files(text))
		tables += time.Since(at)
		at = time.Now()
		check(files(other))
		computed += time.Since(at)
	}
	b.ReportMetric(float64(computed)/float64(tables), "x-table-set")
}

// BenchmarkChoices lists the choices of one run in a design of 10,000 after it is loaded:
// of a source's own run, and of a feeder with 40 sources behind it.
func BenchmarkChoices(b *testing.B) {
	res := check(files(generate.Design(10000, 1)))
	for _, name := range []string{"inv-005000", "hall-00100"} {
		b.Run(name, func(b *testing.B) {
			run := runNamed(b, res.Review, name)
			b.ReportAllocs()
			n := 0
			for b.Loop() {
				list, err := choices.NewLister(res.Review, rules.All(), nil, nil, time.Time{}).List(run, choices.Ask{})
				if err != nil {
					b.Fatal(err)
				}
				n = len(list.Choices)
			}
			b.ReportMetric(float64(n), "choices")
		})
	}
}

// BenchmarkPlan searches the cheapest sizes for all runs of a design of 500, by metal.
func BenchmarkPlan(b *testing.B) {
	res := check(files(generate.Design(500, 1)))
	var all []int
	for i := range res.Review.Runs {
		all = append(all, i)
	}
	price := func(_ *assess.Review, a *assess.Run) choices.Cost {
		return choices.Cost{MetalKg: quantity.Of(a.Run.Size.MM2 * float64(a.Legs) * a.LengthM.Value)}
	}
	for _, legs := range [][]int{nil, {1, 2, 3, 4}} {
		b.Run(fmt.Sprintf("%d", len(legs)), func(b *testing.B) {
			for b.Loop() {
				p, err := choices.NewLister(res.Review, rules.All(), price, nil, time.Time{}).Plan(all, choices.Ask{Legs: legs})
				if err != nil {
					b.Fatal(err)
				}
				b.ReportMetric(float64(p.Tried), "tried")
				b.ReportMetric(100*p.Gap().Value, "gap-%")
				if !p.Passes {
					b.Log(p.Stopped, len(p.Refused), p.Refused[:min(3, len(p.Refused))])
				}
			}
		})
	}
}

func runNamed(t testing.TB, v *assess.Review, name string) int {
	t.Helper()
	for i := range v.Runs {
		if v.Runs[i].Run.Name == name {
			return i
		}
	}
	t.Fatalf("no run %q", name)
	return 0
}
