package syntax

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"sort"
	"strings"
	"sync"
	"testing"

	"github.com/hashicorp/hcl/v2"
	"github.com/hashicorp/hcl/v2/hclsyntax"

	"trefoil/lint/finding"
	"trefoil/lint/source"
)

// read gives every attribute and block of a text with its byte range, in order.
func read(name, text string) ([]string, []finding.Finding) {
	var mu sync.Mutex
	pieces := map[int][]string{}
	faults := Read([]*source.File{{Name: name, Bytes: []byte(text)}}, func(int) {}, func(i int, p Piece) {
		list := walk(p.Body)
		mu.Lock()
		pieces[i] = list
		mu.Unlock()
	})
	var order []int
	for i := range pieces {
		order = append(order, i)
	}
	sort.Ints(order)
	var all []string
	for _, i := range order {
		all = append(all, pieces[i]...)
	}
	return all, faults
}

// walk lists the attributes and blocks of a body with their byte ranges, in order.
func walk(b Body) []string {
	type item struct {
		at   uint32
		text string
	}
	var items []item
	var body func(Body)
	body = func(b Body) {
		for i := range b.Attributes {
			a := &b.Attributes[i]
			items = append(items, item{a.Start, fmt.Sprintf("%s %d-%d expr %d-%d", a.Name, a.Start, a.End, a.Expr.Range().Start, a.Expr.Range().End)})
		}
		for _, k := range b.Blocks {
			items = append(items, item{k.Start, fmt.Sprintf("%s %v %d-%d", k.Type, k.Labels, k.Start, k.End)})
			body(k.Body)
		}
	}
	body(b)
	sort.Slice(items, func(i, j int) bool { return items[i].at < items[j].at })
	list := make([]string, len(items))
	for i := range items {
		list[i] = items[i].text
	}
	return list
}

// whole lists the same of a text as the parser has it, read at once.
func whole(t testing.TB, text string) []string {
	t.Helper()
	file, diags := hclsyntax.ParseConfig([]byte(text), "a.hcl", hcl.InitialPos)
	if diags.HasErrors() {
		t.Fatal(diags)
	}
	return walk(fromTree(&source.File{Name: "a.hcl", Bytes: []byte(text)}, file.Body.(*hclsyntax.Body)))
}

func long(runs int, end string) string {
	var b strings.Builder
	for i := range runs {
		fmt.Fprintf(&b, "# über run %d%srun \"r%d\" {%s  from = source.s%d%s  length_m = 12.5 * 2%s  section {%s    route = route.a%s  }%s}%s%s", i, end, i, end, i, end, end, end, end, end, end, end)
	}
	return b.String()
}

// TestPiecesEqualWhole holds the pieces of a long text against one parse of it.
func TestPiecesEqualWhole(t *testing.T) {
	for _, end := range []string{"\n", "\r\n"} {
		text := long(500, end)
		if n := len(cut([]byte(text), []int{0}, nil)); n < 3 {
			t.Fatalf("the text is cut into %d pieces only", n)
		}
		got, faults := read("a.hcl", text)
		if len(faults) > 0 {
			t.Fatal(faults)
		}
		want := whole(t, text)
		if strings.Join(got, "\n") != strings.Join(want, "\n") {
			t.Errorf("pieces and whole differ (line end %q)", end)
		}
	}
}

// TestCutAgain: a text that is cut again after an edit is cut as if it had been new.
func TestCutAgain(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 0))
	text := []byte(long(400, "\n"))
	kept := 0
	for n := range 3000 {
		f := &source.File{Bytes: text}
		was := Cut(f)
		from := rng.IntN(len(text) + 1)
		if n%3 == 0 { // at the border of a piece
			from = max(0, min(len(text), was.Starts[rng.IntN(len(was.Starts))]+rng.IntN(91)-45))
		}
		to := min(len(text), from+[]int{0, 0, 1, 2, 40, 9000}[rng.IntN(6)])
		with := []string{"", "x", "\n", "}\n", "\n}\n", "\r", long(3, "\r\n"), long(60, "\n")}[rng.IntN(8)]
		now := slices.Concat(text[:from], []byte(with), text[to:])
		f.Replace(now)
		got, want := was.Again(from, from+len(with), len(now)-len(text)), Cut(f)
		if !slices.Equal(got.Starts, want.Starts) || len(got.State) != len(want.State) || len(got.Parts) != len(want.Parts) {
			t.Fatalf("%d: %d to %d, %q: %v, and %v anew", n, from, to, with, got.Starts, want.Starts)
		}
		for i := range want.Starts {
			if slices.Contains(was.Starts, want.Starts[i]) {
				kept++
			}
		}
		if len(now) < 300_000 {
			text = now
		}
	}
	if kept == 0 {
		t.Error("no piece stayed where it was")
	}
}

// TestCutInside has lines of a lone brace inside a here-document and a comment,
// where a piece alone does not parse.
func TestCutInside(t *testing.T) {
	filler := long(400, "\n")
	for _, trap := range []string{"run \"x\" {\n  note = <<END\n}\nEND\n}\n", "/*\n}\n*/\nrun \"y\" {\n}\n"} {
		text := filler + trap + filler
		got, faults := read("a.hcl", text)
		if len(faults) > 0 {
			t.Fatal(faults)
		}
		if want := whole(t, text); strings.Join(got, "\n") != strings.Join(want, "\n") {
			t.Errorf("pieces and whole differ after %q", trap)
		}
	}
}

func TestBroken(t *testing.T) {
	deep := func(open, shut string) string {
		return "a \"b\" {\n  c = " + strings.Repeat(open, 100000) + "1" + strings.Repeat(shut, 100000) + "\n}\n"
	}
	for name, c := range map[string]struct{ text, want string }{
		"nesting":        {deep("[", "]"), "200 deep"},
		"parentheses":    {deep("(", ")"), "200 deep"},
		"blocks":         {strings.Repeat("a {\n", 100000), "200 deep"},
		"templates":      {deep(`"${`, `}"`), "200 deep"},
		"unary":          {"a \"b\" {\n  c = " + strings.Repeat("!", 100000) + "true\n}\n", "1000 operators"},
		"sum":            {"a \"b\" {\n  c = 1" + strings.Repeat("+1", 100000) + "\n}\n", "1000 operators"},
		"conditionals":   {"a \"b\" {\n  c = " + strings.Repeat("true ? 1 : ", 100000) + "2\n}\n", "1000 operators"},
		"steps":          {"a \"b\" {\n  c = x" + strings.Repeat(".y", 100000) + "\n}\n", "1000 operators"},
		"not UTF-8":      {"a \"b\" {\n  c = \"\xff\"\n}\n", "not UTF-8"},
		"NUL":            {"a \"b\" {\n\x00}\n", "NUL"},
		"unclosed brace": {"a \"b\" {\n  c = 1\n", ""},
		"unclosed quote": {"a \"b\" {\n  c = \"x\n}\n", ""},
		"stray":          {"}\n", ""},
		"repeated":       {"a \"b\" {\n  c = 1\n  c = 2\n}\n", "redefined"},
	} {
		t.Run(name, func(t *testing.T) {
			_, faults := read("a.hcl", c.text)
			if len(faults) == 0 || len(faults) > 5 {
				t.Fatalf("%d faults", len(faults))
			}
			f := faults[0]
			if f.Rule != BrokenText || !strings.Contains(f.Message, c.want) || !f.At.Known() || int(f.At.End) > len(c.text) {
				t.Errorf("got %+v", f)
			}
		})
	}
}

func TestUnbalancedInComments(t *testing.T) {
	text := strings.Repeat("# :( [ {\n// ((\n/* {{{ */\n", 500) + "a \"b\" {\n  c = \"" + strings.Repeat("(", 500) + "\"\n}\n"
	if _, faults := read("a.hcl", text); len(faults) > 0 {
		t.Error(faults)
	}
}

func FuzzRead(f *testing.F) {
	for _, s := range []string{"", long(3, "\n"), "a \"b\" {\n", "a = <<E\n}\nE\n", "\xef\xbb\xbfa {\r\n}\r\n", "a {\n x = \"${b[\"c\"]}\"\n}\n"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		a, fa := read("a.hcl", text)
		b, fb := read("a.hcl", text)
		if strings.Join(a, "\n") != strings.Join(b, "\n") || len(fa) != len(fb) {
			t.Error("two readings differ")
		}
		for _, x := range fa {
			if int(x.At.End) > len(text) || x.At.Start > x.At.End || x.Message == "" {
				t.Errorf("a fault outside of the text: %+v", x)
			}
		}
	})
}
