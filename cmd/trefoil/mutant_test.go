package main

import (
	"bytes"
	"flag"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/txtar"

	"trefoil/lint/assess"
	"trefoil/lint/design"
	"trefoil/lint/engine"
	"trefoil/lint/house"
	"trefoil/lint/report"
	"trefoil/lint/source"
	"trefoil/ratings/sets"
	"trefoil/rules"
)

var mutants = flag.Int("mutants", 2000, "how many mutants of real designs TestMutants checks")

// TestMutants checks designs with what goes wrong in editing: lines gone, swapped or twice,
// figures and words put in each other's place, blocks moved, text cut off. Nothing panics,
// no rule fails inside, every place lies in its file, and two checks say the same. The seed
// of a mutant that fails is its number.
//
//	go test ./cmd/trefoil -run TestMutants -mutants 100000
func TestMutants(t *testing.T) {
	if testing.Short() {
		*mutants = min(*mutants, 200)
	}
	var designs [][]byte
	for _, dir := range []string{"bakery", "cold-store", "cold-store-late", "creamery"} {
		designs = append(designs, joined(t, filepath.Join("../../examples", dir)))
	}
	cases, err := filepath.Glob("../../rules/testdata/*/*.txtar")
	if err != nil || len(cases) == 0 {
		t.Fatal("no cases", err)
	}
	base, err := os.ReadFile("../../rules/testdata/base/base.txtar")
	if err != nil {
		t.Fatal(err)
	}
	for i := 0; i < len(cases); i += 5 {
		text, err := os.ReadFile(cases[i])
		if err != nil {
			t.Fatal(err)
		}
		var all []byte
		for _, f := range append(txtar.Parse(text).Files, txtar.Parse(base).Files...) {
			if strings.HasSuffix(f.Name, ".hcl") && !bytes.Contains(all, f.Data) {
				all = append(all, f.Data...)
			}
		}
		designs = append(designs, all)
	}
	next := make(chan int)
	var wg sync.WaitGroup
	for range runtime.GOMAXPROCS(0) {
		wg.Go(func() {
			for n := range next {
				rng := rand.New(rand.NewPCG(uint64(n), 0))
				text := designs[rng.IntN(len(designs))]
				for range 1 + rng.IntN(3) {
					text = mutate(rng, text, designs)
				}
				if what := wrong(text); what != "" {
					t.Errorf("mutant %d: %s", n, what)
				}
			}
		})
	}
	for n := range *mutants {
		next <- n
	}
	close(next)
	wg.Wait()
}

// joined is the text of a design's files, one behind the other.
func joined(t *testing.T, dir string) []byte {
	t.Helper()
	names, err := hcl(dir)
	if err != nil || len(names) == 0 {
		t.Fatal(dir, err)
	}
	var all []byte
	for _, n := range names {
		text, err := os.ReadFile(n)
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, text...)
	}
	return all
}

// patience is far more than any of these designs needs.
const patience = 30 * time.Second

// wrong checks a text twice and says what is not as it should be.
func wrong(text []byte) string {
	done := make(chan string, 1)
	go func() { done <- twice(text) }()
	select {
	case what := <-done:
		return what
	case <-time.After(patience):
		return fmt.Sprintf("no end after %s:\n%s", patience, text)
	}
}

func twice(text []byte) (what string) {
	defer func() {
		if p := recover(); p != nil {
			what = fmt.Sprintf("panic: %v:\n%s", p, text)
		}
	}()
	var first []byte
	for range 2 {
		v := assess.Assess(design.Read(".", []*source.File{{Name: "site.hcl", Bytes: text}}), assess.Named(sets.Find))
		res := engine.Check(v, house.Join(v, rules.All()), engine.Options{Today: time.Date(2027, 3, 1, 0, 0, 0, 0, time.UTC)})
		var b bytes.Buffer
		if err := report.WriteJSON(&b, report.CheckDocument(tool, []*engine.Result{res}, 1, "")); err != nil {
			return err.Error()
		}
		if first != nil && !bytes.Equal(first, b.Bytes()) {
			return fmt.Sprintf("two checks differ:\n%s", text)
		}
		first = b.Bytes()
		for _, f := range res.Findings {
			if f.Rule == "internal-fault" || f.Message == "" {
				return fmt.Sprintf("%s %q:\n%s", f.Rule, f.Message, text)
			}
			places := []source.Range{f.At}
			for _, r := range f.Related {
				places = append(places, r.At)
			}
			for _, x := range f.Fixes {
				for _, e := range x.Edits {
					places = append(places, e.At)
				}
			}
			for _, p := range places {
				if p.File == nil || int(p.End) > len(p.File.Bytes) || p.Start > p.End {
					return fmt.Sprintf("%s lies outside of its file, %d to %d:\n%s", f.Rule, p.Start, p.End, text)
				}
			}
		}
	}
	return ""
}

// mutate makes one change.
func mutate(rng *rand.Rand, text []byte, others [][]byte) []byte {
	lines := bytes.SplitAfter(text, []byte("\n"))
	line := func() int { return rng.IntN(len(lines)) }
	// blocks begin in the first column and end at a brace there
	block := func() (from, to int) {
		from = line()
		for from > 0 && (len(lines[from]) < 2 || lines[from][0] < 'a' || lines[from][0] > 'z') {
			from--
		}
		for to = from; to < len(lines)-1 && lines[to][0] != '}'; {
			to++
		}
		return from, to + 1
	}
	part := func(from, to int) []byte { return bytes.Join(lines[from:to], nil) }
	switch rng.IntN(12) {
	case 0: // a line gone
		i := line()
		return append(part(0, i), part(i+1, len(lines))...)
	case 1: // a line twice
		i := line()
		return append(part(0, i+1), part(i, len(lines))...)
	case 2: // two lines swapped
		i, k := line(), line()
		lines[i], lines[k] = lines[k], lines[i]
		return part(0, len(lines))
	case 3: // a block twice
		from, to := block()
		return append(append(part(0, to), part(from, to)...), part(to, len(lines))...)
	case 4: // a block gone
		from, to := block()
		return append(part(0, from), part(to, len(lines))...)
	case 5: // a block at the end
		from, to := block()
		return append(append(part(0, from), part(to, len(lines))...), part(from, to)...)
	case 6: // a block of another design
		all := bytes.SplitAfter(others[rng.IntN(len(others))], []byte("\n}\n"))
		return append(bytes.Clone(text), all[rng.IntN(len(all))]...)
	case 7: // cut off
		return bytes.Clone(text[:rng.IntN(len(text)+1)])
	case 8: // a byte changed
		out := bytes.Clone(text)
		if len(out) > 0 {
			signs := "{}[]\"=.,\n 09-ez#$%\x00\xff"
			out[rng.IntN(len(out))] = signs[rng.IntN(len(signs))]
		}
		return out
	case 9: // the values of two attributes swapped
		i, k := line(), line()
		a, b, is := bytes.Cut(lines[i], []byte("="))
		c, d, also := bytes.Cut(lines[k], []byte("="))
		if is && also && i != k {
			lines[i], lines[k] = fmt.Appendf(nil, "%s=%s", a, d), fmt.Appendf(nil, "%s=%s", c, b)
		}
		return part(0, len(lines))
	}
	// a figure or a name in the place of another
	i := line()
	if a, _, is := bytes.Cut(lines[i], []byte("=")); is {
		odd := []string{"0", "-1", "1e308", "1e-308", "1e99999", "null", "true", "\"\"", "[]", "{}", "[[]]", "source.x", "board.main", "site", "let.x", "copy.key", "1/0", "0/0", "-0", "2000000", "0.1", "[1, \"a\"]", "\"${1}\"", "supply.grid", "run.x[1]", "1 % 0", "range(9)", "\"x\"[0]", "[for a in [1]: a]"}
		lines[i] = fmt.Appendf(nil, "%s= %s\n", a, odd[rng.IntN(len(odd))])
	}
	return part(0, len(lines))
}
