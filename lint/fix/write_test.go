package fix

import (
	"strings"
	"testing"

	"github.com/hashicorp/hcl/v2"
	"github.com/hashicorp/hcl/v2/hclsyntax"

	"trefoil/lint/finding"
	"trefoil/lint/source"
	"trefoil/lint/syntax"
)

// blocks gives the top-level blocks of a text as ranges from first word to closing brace.
func blocks(t *testing.T, f *source.File) []source.Range {
	t.Helper()
	file, diags := hclsyntax.ParseConfig(f.Bytes, f.Name, hcl.InitialPos)
	if diags.HasErrors() {
		t.Fatal(diags)
	}
	var list []source.Range
	for _, b := range file.Body.(*hclsyntax.Body).Blocks {
		at := syntax.Range(f, b.Range())
		at.End = uint32(b.CloseBraceRange.End.Byte)
		list = append(list, at)
	}
	return list
}

// made applies edits to a file as they are, without bringing it in order.
func made(f *source.File, edits []finding.Edit) string {
	out := Apply([]*source.File{f}, []Proposal{{Fix: finding.Fix{Edits: edits}}})
	if len(out.Refused) > 0 {
		return "refused: " + out.Refused[0].Reason
	}
	return string(out.Files[0].Bytes)
}

// TestBlock changes the first block of a text. The texts are not in canonical form unless
// the name says so, so what is not touched stands as it was to the byte.
func TestBlock(t *testing.T) {
	for _, c := range []struct {
		name, text, want string
		change           func(b *Block)
	}{
		{"a value in front of a comment", "run \"a\"  {\n  size_mm2 = 50 # by Joe\n}\n", "run \"a\"  {\n  size_mm2 = 70 # by Joe\n}\n", func(b *Block) { b.Set("size_mm2", "70") }},
		{"a value that an expression gives", "run \"a\"  {\n  size_mm2 = (let.s + 1)\n}\n", "run \"a\"  {\n  size_mm2 = 70\n}\n", func(b *Block) { b.Set("size_mm2", "70") }},
		{"a text in rows", "run \"a\"  {\n  note = <<E\n  x\n  E\n  size_mm2 = 1\n}\n", "run \"a\"  {\n  note = \"y\"\n  size_mm2 = 1\n}\n", func(b *Block) { b.Set("note", `"y"`) }},
		{"a new attribute under its neighbours", "run \"a\"  {\n  from     = x # c\n  size_mm2 = 50\n\n  section {\n    size_mm2 = 4\n  }\n}\n", "run \"a\"  {\n  from     = x # c\n  size_mm2 = 50\n  parallel = 2\n\n  section {\n    size_mm2 = 4\n  }\n}\n", func(b *Block) { b.Set("parallel", "2") }},
		{"two new ones of different length", "run \"a\"  {\n  to = x /* c */ // d\n}\n", "run \"a\"  {\n  to = x /* c */ // d\n  parallel  = 2\n  earth_mm2 = 16\n}\n", func(b *Block) { b.Set("parallel", "2"); b.Set("earth_mm2", "16") }},
		{"a new attribute behind a text in rows", "run \"a\"  {\n  note = <<E\n  } x\n  E\n}\n", "run \"a\"  {\n  note = <<E\n  } x\n  E\n  to   = y\n}\n", func(b *Block) { b.Set("to", "y") }},
		{"a new attribute where only blocks are", "run \"a\"  { # c\n  section {\n  }\n}\n", "run \"a\"  { # c\n  to = y\n  section {\n  }\n}\n", func(b *Block) { b.Set("to", "y") }},
		{"tabs", "run \"a\"  {\n\tfrom = x\n}\n", "run \"a\"  {\n\tfrom = x\n\tto   = y\n}\n", func(b *Block) { b.Set("to", "y") }},
		{"canonical text stays so", "run \"a\" {\n  to = x # c\n  id = 1 # d\n}\n", "run \"a\" {\n  to       = x  # c\n  id       = 12 # d\n  parallel = 2\n}\n", func(b *Block) { b.Set("parallel", "2"); b.Set("id", "12") }},
		{"one row, opened up", "supply \"g\"  { fault_ka = 1 }\n", "supply \"g\"  {\n  fault_ka = 1\n  max_v    = 430\n}\n", func(b *Block) { b.Set("max_v", "430") }},
		{"one row, without blanks, with a comment", "supply \"g\" {fault_ka=1/* c */}\n", "supply \"g\" {\n  fault_ka=2/* c */\n  max_v   = 430\n}\n", func(b *Block) { b.Set("fault_ka", "2"); b.Set("max_v", "430") }},
		{"one row that holds nothing", "supply  \"g\" { }\n", "supply  \"g\" {\n  max_v = 430\n}\n", func(b *Block) { b.Set("max_v", "430") }},
		{"one row that gets a block", "supply  \"g\" {}\n", "supply  \"g\" {\n  transformer {\n    rated_kva = 1\n  }\n}\n", func(b *Block) { b.Add("transformer {\n  rated_kva = 1\n}") }},
		{"a block behind the others", "run  \"a\" {\n  section {\n  }\n  /* x\n */ }\n", "run  \"a\" {\n  section {\n  }\n  ends {\n    at = x\n  }\n  /* x\n */ }\n", func(b *Block) { b.Add("ends {\n  at = x\n}") }},
		{"an attribute and a block at one place", "run  \"a\" {\n  to = x\n}\n", "run  \"a\" {\n  to = x\n  id = 1\n  ends {}\n}\n", func(b *Block) { b.Add("ends {}"); b.Set("id", "1") }},
		{"an attribute taken out", "run  \"a\" {\n  to = x\n  id = 1\n}\n", "run  \"a\" {\n  id = 1\n}\n", func(b *Block) { b.Remove("to") }},
		{"its comment stays", "run  \"a\" {\n  to = x # why\n  id = 1\n}\n", "run  \"a\" {\n  # why\n  id = 1\n}\n", func(b *Block) { b.Remove("to") }},
		{"comments inside stay", "run  \"a\" {\n  to = [ # why\n    1, // not\n  ] /* last */\n  id = 1\n}\n", "run  \"a\" {\n  # why\n  // not\n  /* last */\n  id = 1\n}\n", func(b *Block) { b.Remove("to") }},
		{"the only one of a row", "run  \"a\" { to = x }\n", "run  \"a\" { }\n", func(b *Block) { b.Remove("to") }},
		{"the only one of a row, with a comment inside", "run  \"a\" { to = [1, # c\n2] }\n", "run  \"a\" { # c\n }\n", func(b *Block) { b.Remove("to") }},
		{"what is not there", "run  \"a\" {\n}\n", "refused: it changes nothing", func(b *Block) { b.Remove("to") }},
		{"out and another in", "run  \"a\" {\n  id = 1\n  to = x\n}\n", "run  \"a\" {\n  id = 1\n  by = y\n}\n", func(b *Block) { b.Remove("to"); b.Set("by", "y") }},
	} {
		for _, form := range []string{"plain", "crlf"} {
			t.Run(c.name+"/"+form, func(t *testing.T) {
				text, want := c.text, c.want
				if form == "crlf" {
					if strings.HasPrefix(c.name, "canonical") {
						t.Skip("other line ends are not canonical")
					}
					text = "\xef\xbb\xbf" + strings.ReplaceAll(text, "\n", "\r\n")
					if !strings.HasPrefix(want, "refused") {
						want = "\xef\xbb\xbf" + strings.ReplaceAll(want, "\n", "\r\n")
					}
				}
				f := &source.File{Name: "a.hcl", Bytes: []byte(text)}
				b := Open(blocks(t, f)[0])
				c.change(b)
				edits, err := b.Edits()
				if err != nil {
					t.Fatal(err)
				}
				if got := made(f, edits); got != want {
					t.Errorf("got\n%q, want\n%q", got, want)
				}
			})
		}
	}
}

func TestBlockRefuses(t *testing.T) {
	f := &source.File{Name: "a.hcl", Bytes: []byte("run \"a\" {\n  legs = [1, # Joe's\n  2]\n  section {\n    id = 1\n  }\n}\nrun \"b\" {\n}\n")}
	all := blocks(t, f)
	b := Open(all[0])
	b.Set("legs", "[1, 2]")
	if _, err := b.Edits(); err == nil || !strings.Contains(err.Error(), "holds a comment") {
		t.Error(err)
	}
	for name, at := range map[string]source.Range{"nothing": {}, "two blocks": {File: f, End: all[1].End}, "half a block": {File: f, End: all[0].End - 3}, "past the end": {File: f, End: 1 << 30}} {
		b := Open(at)
		b.Set("x", "1")
		b.Remove("legs")
		b.Add("y {}")
		if _, err := b.Edits(); err == nil {
			t.Errorf("%s is opened", name)
		}
	}
	inner := Open(all[0]).Inner(source.Range{File: f, Start: uint32(strings.Index(string(f.Bytes), "section"))})
	inner.Set("id", "2")
	edits, err := inner.Edits()
	if err != nil || len(edits) != 1 || edits[0].At.Text() != "1" {
		t.Error(edits, err)
	}
	if _, err := Open(all[0]).Inner(all[0]).Edits(); err == nil {
		t.Error("a block lies inside of itself")
	}
}

func TestCut(t *testing.T) {
	for name, c := range map[string]struct{ text, want string }{
		"with a blank row":             {"a  {\n}\n\nb {\n x = 1\n}\n\nc {\n}\n", "a  {\n}\n\nc {\n}\n"},
		"the last":                     {"a  {\n}\n\nb {\n}\n", "a  {\n}\n"},
		"the last, without a line end": {"a  {\n}\n\nb {\n}", "a  {\n}\n"},
		"the only one":                 {"b  {\n}\n", ""},
		"comments stay":                {"a  {\n}\n\n# top\nb { # one\n  x = 1 # two\n} # three\n\nc {\n}\n", "a  {\n}\n\n# top\n# one\n# two\n# three\n\nc {\n}\n"},
		"a hash in a text is none":     {"a  {\n}\nb {\n  x = \"# ${y}\"\n}\n", "a  {\n}\n"},
	} {
		f := &source.File{Name: "a.hcl", Bytes: []byte(c.text)}
		for _, at := range blocks(t, f) {
			if f.Bytes[at.Start] == 'b' {
				if got := made(f, Cut(at)); got != c.want {
					t.Errorf("%s: got %q, want %q", name, got, c.want)
				}
			}
		}
	}
}

func TestAppend(t *testing.T) {
	for text, want := range map[string]string{
		"":                       "c {\n}\n",
		"\xef\xbb\xbf":           "\xef\xbb\xbfc {\n}\n",
		"a  {\n}":                "a  {\n}\n\nc {\n}\n",
		"a  {\n}\n":              "a  {\n}\n\nc {\n}\n",
		"a  {\n}\n# x\n\n":       "a  {\n}\n# x\n\nc {\n}\n",
		"a  {\r\n}\r\n":          "a  {\r\n}\r\n\r\nc {\r\n}\r\n",
		"a  {\n}\n/* x\ny */":    "a  {\n}\n/* x\ny */\n\nc {\n}\n",
		"a  {\n}\n# no line end": "a  {\n}\n# no line end\n\nc {\n}\n",
	} {
		f := &source.File{Name: "a.hcl", Bytes: []byte(text)}
		if got := made(f, Append(f, "c {\n}")); got != want {
			t.Errorf("%q: got %q, want %q", text, got, want)
		}
	}
}

func TestWords(t *testing.T) {
	for got, want := range map[string]string{
		Number(70): "70", Number(2.5): "2.5", Number(1e6): "1000000", Number(0.1): "0.1",
		Quote("a \"b\" ${c}"):                 `"a \"b\" $${c}"`,
		Reference("cable", "cu-5c"):           "cable.cu-5c",
		Reference("board", "roof 1"):          `board["roof 1"]`,
		Reference("source", "inv[east side]"): `source.inv["east side"]`,
	} {
		if got != want {
			t.Errorf("got %s, want %s", got, want)
		}
	}
}
