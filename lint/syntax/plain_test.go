package syntax

import (
	"reflect"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/hashicorp/hcl/v2"
	"github.com/hashicorp/hcl/v2/hclsyntax"
	"github.com/zclconf/go-cty/cty"

	"trefoil/lint/source"
)

// alike holds expressions of the parser against each other by all that they hold; of a
// place the byte counts.
var alike = cmp.Options{
	cmp.Exporter(func(reflect.Type) bool { return true }),
	cmp.Comparer(func(a, b hcl.Pos) bool { return a.Byte == b.Byte }),
	cmp.Comparer(func(a, b *hclsyntax.Operation) bool { return a == b }),
	cmp.Comparer(func(a, b cty.Value) bool { return a.RawEquals(b) }),
}

// compare holds what was read here against what the parser has, part by part.
func compare(t *testing.T, got, want *Body) {
	t.Helper()
	if len(got.Attributes) != len(want.Attributes) || len(got.Blocks) != len(want.Blocks) {
		t.Fatalf("%d attributes and %d blocks, the parser has %d and %d", len(got.Attributes), len(got.Blocks), len(want.Attributes), len(want.Blocks))
	}
	for i := range got.Attributes {
		a, b := &got.Attributes[i], &want.Attributes[i]
		if a.Name != b.Name || a.Range() != b.Range() || a.NameRange() != b.NameRange() || a.Expr.Range() != b.Expr.Range() {
			t.Errorf("%s %v %v, the parser has %s %v %v", a.Name, a.Range(), a.Expr.Range(), b.Name, b.Range(), b.Expr.Range())
		}
		if d := cmp.Diff(b.Expr.Tree(), a.Expr.Tree(), alike); d != "" {
			t.Errorf("%s = %s: trees differ, - parser, + here:\n%s", a.Name, a.Expr.Range().Text(), d)
		}
		x, is := a.Expr.Number()
		y, was := b.Expr.Number()
		if x != y || is != was {
			t.Errorf("%s is the number %v %v, the parser has %v %v", a.Expr.Range().Text(), x, is, y, was)
		}
		s, is := a.Expr.Text([]string{"tray"})
		u, was := b.Expr.Text(nil)
		if s != u || is != was {
			t.Errorf("%s is the text %q %v, the parser has %q %v", a.Expr.Range().Text(), s, is, u, was)
		}
		f, is := a.Expr.Flag()
		g, was := b.Expr.Flag()
		if f != g || is != was {
			t.Errorf("%s is the flag %v %v, the parser has %v %v", a.Expr.Range().Text(), f, is, g, was)
		}
		if kind, name, ok := a.Expr.Reference(); ok {
			steps, is := b.Expr.Tree().(*hclsyntax.ScopeTraversalExpr)
			if !is || len(steps.Traversal) != 2 || steps.Traversal.RootName() != kind || steps.Traversal[1].(hcl.TraverseAttr).Name != name {
				t.Errorf("%s is %s of %s, the parser has %#v", a.Expr.Range().Text(), name, kind, b.Expr.Tree())
			}
		}
	}
	for i, a := range got.Blocks {
		b := want.Blocks[i]
		if a.Type != b.Type || a.Start != b.Start || a.End != b.End || !reflect.DeepEqual(a.Labels, b.Labels) {
			t.Errorf("block %s %v %d-%d, the parser has %s %v %d-%d", a.Type, a.Labels, a.Start, a.End, b.Type, b.Labels, b.Start, b.End)
		}
		compare(t, &a.Body, &b.Body)
	}
}

// plainTexts are read here, and oddTexts by the parser or not at all.
var (
	plainTexts = []string{
		"", "\n", "# only a comment", "run \"r\" {\n}\n", "run \"r\" {}", "a {\r\n  b = 1 # one\r\n}\r\n", "a b \"c d\" {\n}\n",
		"a {\n  x = 12.50 // half\n  y = \"50 % of $5\"\n  z = true\n  n = null\n  m = false\n}\n", "leg { route = route.roof }\n", "a { b = [1, 2] }",
		"a {\n  x = source.inv.rated_a * 1.25\n  y = [route.a, route.b]\n  z = {\n    \"70\" = 1 # a\n    95 = 2\n  }\n}\n",
		"a {\n  x = \"${let.a}-${f(\"}\")}\"\n  y = -5\n  z = site\n  w = a.b.c-d\n  v = b[\"c d\"].e\n  u = \"a\\\"b\"\n}\n",
		"run \"Süd\" {\n  note = \"Dach über Halle\"\n}\n", "a {\n  b = (1 +\n    2)\n  c = 1e3\n  d = 007\n  e = 1.5 \t\n}", "a {\n  b = \"$${x} %%{y} $$ %\"\n}\n",
		"a {\n  b {\n    c = 1\n  }\n  d = 2\n  b {\n    c = 3\n  }\n}\n", "a {\n  b = c ? [for x in y : x if x > 1] : \"no\"\n}\n", "a = 1\nb {\n}\nc = 2\n",
		"a {\n  b = 1 + let.c*2/3 - x-y.z # sum\n  c = 2-a\n  d = a.b -1\n  e = 1 -2\n  f = a/2 // half\n  g = a * -1\n  h = true + 1\n  i = a.b +\t007.50\n}\n", "a { b = let.c + 1 }\n",
	}
	oddTexts = []string{
		"a {\n  b = 1\n  b = 2\n}\n", "a {\n  b = <<E\nx\nE\n}\n", "a /* x */ {\n}\n", "a {\n  b = \n}\n", "a {\n  b = 1 2\n}\n", "a {\n  b = 1, c = 2\n}\n", "a {\n", "}", "a { b = 1\n}\n",
		"a {\n b == 1\n}\n", "a\n{\n}\n", "a {\n  b = \"x\n}\n", "a {\n} b {\n}\n", "a {\n  b = [1\n}\n", "a {\n  b = 1.\n}\n", "a {\n  b = 1x\n}\n", "\xef\xbb\xbfa {\n}\n", "a = 1\ra = 2\n", "ä {\n}\n", "a { b = 1 } c {}", "a {\n  b = 1 +\n}\n", "a {\n  b = c + /* x */ 1\n}\n", "a {\n  b = c + 1 2\n}\n",
	}
)

// TestPlain: what is read here is what the parser reads, in every part.
func TestPlain(t *testing.T) {
	for _, text := range append(plainTexts, long(5, "\n"), long(5, "\r\n")) {
		f := &source.File{Name: "a.hcl", Bytes: []byte(text)}
		got, _, ok := readPlain(f, 0, len(text), new(room))
		want, good := parsed(f, 0, len(text))
		if !ok || !good {
			t.Errorf("%q is not read: %v, by the parser %v", text, ok, good)
			continue
		}
		compare(t, &got, &want)
	}
	for _, text := range oddTexts {
		if _, _, ok := readPlain(&source.File{Name: "a.hcl", Bytes: []byte(text)}, 0, len(text), new(room)); ok {
			t.Errorf("%q is taken for plain", text)
		}
	}
}

// TestPlainInside: a stretch is read with the places of its file.
func TestPlainInside(t *testing.T) {
	head, text := "a \"x\" {\n}\n", long(2, "\n")
	f := &source.File{Name: "a.hcl", Bytes: []byte(head + text + head)}
	got, _, ok := readPlain(f, len(head), len(head)+len(text), new(room))
	tree, diags := parse(f, len(head), len(head)+len(text))
	if !ok || len(diags) > 0 {
		t.Fatal(ok, diags)
	}
	want := fromTree(f, tree)
	compare(t, &got, &want)
}

// FuzzPlain: whatever is taken for plain, the parser takes too, and reads it the same.
func FuzzPlain(f *testing.F) {
	for _, text := range append(append(plainTexts, oddTexts...), long(2, "\n")) {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		file := &source.File{Name: "a.hcl", Bytes: []byte(text)}
		got, _, ok := readPlain(file, 0, len(text), new(room))
		if !ok {
			return
		}
		if _, fault, bad := guard(file, 0, len(text)); bad && !strings.Contains(fault.Message, "operators") { // counted by expression, and not by line
			t.Fatal(fault.Message)
		}
		want, good := parsed(file, 0, len(text))
		if !good {
			t.Fatalf("%q is taken for plain, and the parser refuses it", text)
		}
		compare(t, &got, &want)
	})
}
