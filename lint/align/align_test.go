package align

import (
	"bytes"
	"slices"
	"strings"
	"testing"

	"github.com/hashicorp/hcl/v2"
	"github.com/hashicorp/hcl/v2/hclsyntax"

	"trefoil/lint/source"
	"trefoil/lint/syntax"
)

func text(s string) ([]byte, bool) {
	out, faults := Text(&source.File{Name: "a.hcl", Bytes: []byte(s)})
	return out, len(faults) == 0
}

func TestText(t *testing.T) {
	for name, c := range map[string]struct{ in, want string }{
		"spacing":    {"a \"b\" {\nx=1\n  longer   = 2 # why\n}", "a \"b\" {\n  x      = 1\n  longer = 2 # why\n}\n"},
		"line ends":  {"\xef\xbb\xbfa {\r\n  x = 1\r\n}\r\n\r\n\r\n", "a {\n  x = 1\n}\n"},
		"comments":   {"# one\n// two\n/* three */\na {\n}\n", "# one\n// two\n/* three */\na {\n}\n"},
		"empty":      {"", ""},
		"blank":      {"\n\n", ""},
		"in a quote": {"a {\n  x = \"  two  blanks  \"\n}\n", "a {\n  x = \"  two  blanks  \"\n}\n"},
	} {
		got, ok := text(c.in)
		if !ok || string(got) != c.want {
			t.Errorf("%s: got %q, want %q", name, got, c.want)
		}
	}
	if _, ok := text("a {\n"); ok {
		t.Error("a broken text has a canonical form")
	}
}

// words gives the tokens of a text but its line ends and comments.
func words(text []byte) (list []string) {
	tokens, _ := hclsyntax.LexConfig(text, "", hcl.InitialPos)
	for _, t := range tokens {
		if t.Type != hclsyntax.TokenNewline && t.Type != hclsyntax.TokenComment {
			list = append(list, t.Type.String()+" "+string(t.Bytes))
		}
	}
	return list
}

// comments gives the comments of a text, with line ends of one kind.
func comments(text []byte) []string {
	list := syntax.Comments(source.Range{File: &source.File{Bytes: text}, End: uint32(len(text))})
	for i := range list {
		list[i] = strings.TrimSpace(strings.ReplaceAll(list[i], "\r\n", "\n"))
	}
	return list
}

// FuzzAlign: twice is once, words and comments stay.
func FuzzAlign(f *testing.F) {
	for _, s := range []string{"a \"b\" {\nx=1\n y = [1,\n2] # c\n}\n", "a {\r\n x = <<E\r\n  t\r\nE\r\n}\r\n", "# x\n", "A=0 .0", "x=<<E\nt\nE \n", "A=<<MR\nMR \n ", "Y=<<E\r\nE\t\t", "a{b{c{}}}", "a {\n x = \"${y ? 1 : 2}\"\n}\n"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		once, ok := text(s)
		if !ok {
			return
		}
		twice, ok := text(string(once))
		if !ok || !bytes.Equal(once, twice) {
			t.Errorf("twice differs:\n%q\n%q", once, twice)
		}
		plain := bytes.TrimPrefix([]byte(s), []byte("\xef\xbb\xbf"))
		if a, b := words(plain), words(once); !slices.Equal(a, b) {
			t.Errorf("words differ:\n%q\n%q", a, b)
		}
		if a, b := comments(plain), comments(once); !slices.Equal(a, b) {
			t.Errorf("comments differ:\n%q\n%q", a, b)
		}
	})
}
