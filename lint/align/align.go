// Package align brings the text of a design into its canonical form: HCL's own
// spacing, line ends of one kind, no blanks at line ends, one line end at the end.
// Comments and meaning stay.
package align

import (
	"bytes"
	"slices"

	"github.com/hashicorp/hcl/v2"
	"github.com/hashicorp/hcl/v2/hclsyntax"
	"github.com/hashicorp/hcl/v2/hclwrite"

	"trefoil/lint/finding"
	"trefoil/lint/source"
	"trefoil/lint/syntax"
)

// Text gives the canonical form of a file, or what is broken in it; a broken file
// has none.
func Text(f *source.File) ([]byte, []finding.Finding) {
	faults := syntax.Read([]*source.File{f}, func(int) {}, func(_ int, p syntax.Piece) { p.Done() })
	if len(faults) > 0 {
		return nil, faults
	}
	text := bytes.TrimPrefix(f.Bytes, []byte("\xef\xbb\xbf"))
	plain := text
	for bytes.Contains(plain, []byte("\r\n")) {
		plain = bytes.ReplaceAll(plain, []byte("\r\n"), []byte("\n"))
	}
	if !same(text, plain) { // a line end of the other kind stands inside a text
		plain = text
	}
	// Formatting once can move what a second time would move again.
	for range 5 {
		next := hclwrite.Format(plain)
		if bytes.Equal(next, plain) {
			break
		}
		if !same(plain, next) { // blanks that hold words apart, as in 0 .5, which is no number
			plain = text
			break
		}
		plain = next
	}
	full := bytes.TrimRight(plain, "\r\n \t")
	whole := append(bytes.Clone(full), '\n')
	if !same(plain, whole) { // the end of a text in lines, which keeps the blanks behind it
		blanks, _, _ := bytes.Cut(plain[len(full):], []byte("\n"))
		whole = append(append(bytes.Clone(full), blanks...), '\n')
	}
	if len(bytes.TrimSpace(whole)) == 0 {
		whole = nil
	}
	return whole, nil
}

var start = hcl.Pos{Line: 1, Column: 1}

// same says that two texts hold the same words in the same order.
func same(a, b []byte) bool {
	words := func(text []byte) hclsyntax.Tokens {
		tokens, _ := hclsyntax.LexConfig(text, "", start)
		return slices.DeleteFunc(tokens, func(t hclsyntax.Token) bool {
			return t.Type == hclsyntax.TokenNewline || t.Type == hclsyntax.TokenComment
		})
	}
	return slices.EqualFunc(words(a), words(b), func(x, y hclsyntax.Token) bool {
		return x.Type == y.Type && bytes.Equal(x.Bytes, y.Bytes)
	})
}
