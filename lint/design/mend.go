package design

import (
	"fmt"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"github.com/agext/levenshtein"
	"github.com/hashicorp/hcl/v2/hclsyntax"
	"github.com/zclconf/go-cty/cty"

	"trefoil/lint/finding"
	"trefoil/lint/fix"
	"trefoil/lint/source"
	"trefoil/lint/syntax"
)

// Sure gives the one candidate that a misspelt word stands for, "" where that is open.
// It is meant to be put in without asking, so it is far stricter than a suggestion: the
// words differ in hyphens or case alone, or else in one of the parts that hyphens and the
// like hold together, and there by one letter (two in a long part), by the order of the
// letters or by a doubled one.
// Digits and short parts tell things apart, as units and the numbers of boards do, and are
// never taken for a slip.
func Sure(word string, candidates []string) string {
	if len(word) > 200 || len(candidates) > 2000 {
		return ""
	}
	right := ""
	for _, c := range candidates {
		if c == word || !slip(word, c) {
			continue
		}
		if right != "" && right != c {
			return ""
		}
		right = c
	}
	return right
}

func slip(word, right string) bool {
	a, b := portions(word), portions(right)
	switch {
	case !slices.Equal(counts(word), counts(right)):
		return false
	case strings.Join(a, "") == strings.Join(b, ""):
		return true
	case len(a) != len(b):
		return false
	}
	differ := 0
	for i := range a {
		if a[i] == b[i] {
			continue
		}
		differ++
		x, y := utf8.RuneCountInString(a[i]), utf8.RuneCountInString(b[i])
		most := 1
		if min(x, y) >= 8 {
			most = 2
		}
		near := min(x, y) >= 4 && levenshtein.Distance(a[i], b[i], nil) <= most
		if !near && !(min(x, y) >= 3 && (swapped(a[i], b[i]) || squeezed(a[i]) == squeezed(b[i]))) {
			return false
		}
	}
	return differ == 1
}

// squeezed is a word without its doubled letters.
func squeezed(word string) string { return string(slices.Compact([]rune(word))) }

// portions are the stretches of letters and digits of a word, in small letters.
func portions(word string) []string { return strings.FieldsFunc(strings.ToLower(word), between) }

func between(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) }

// counts are the whole numbers in a word: inv-1-1 has two, inv-11 has one.
func counts(word string) []string {
	return strings.FieldsFunc(word, func(r rune) bool { return !unicode.IsDigit(r) })
}

// RightWord is the fix that puts another phrase in the place of one in a stretch of text;
// none where the phrase does not stand there just once, as a whole.
func RightWord(at source.Range, phrase, right string) []finding.Fix {
	if right == "" || phrase == "" {
		return nil
	}
	text, found := at.Text(), -1
	for from := 0; from < len(text); {
		i := strings.Index(text[from:], phrase)
		if i < 0 {
			break
		}
		i += from
		before, _ := utf8.DecodeLastRuneInString(text[:i])
		after, _ := utf8.DecodeRuneInString(text[i+len(phrase):])
		from = i + len(phrase)
		if ofWord(before) || ofWord(after) {
			continue
		}
		if found >= 0 {
			return nil
		}
		found = i
	}
	if found < 0 {
		return nil
	}
	start := at.Start + uint32(found)
	return []finding.Fix{{
		Name: "right-word", Message: fmt.Sprintf("%s becomes %s", phrase, right),
		Edits: []finding.Edit{{At: source.Range{File: at.File, Start: start, End: start + uint32(len(phrase))}, Text: right}},
	}}
}

func ofWord(r rune) bool {
	return r == '_' || r == '-' || r != utf8.RuneError && !between(r)
}

// mend gives the fault told last the fix of a misspelt word that stands in a stretch.
func (r *reader) mend(at source.Range, word string, candidates []string) {
	r.offer(RightWord(at, word, Sure(word, candidates)))
}

// offer gives the fault told last some fixes.
func (r *reader) offer(fixes []finding.Fix) {
	if r.mute {
		return
	}
	f := &r.faults[len(r.faults)-1]
	f.Fixes = append(f.Fixes, fixes...)
}

// relate names a place that the fault told last hangs on.
func (r *reader) relate(at source.Range, message string) {
	if r.mute {
		return
	}
	r.faults[len(r.faults)-1].Related = []finding.Related{{At: at, Message: message}}
}

// sureField is the attribute that a word in a block stands for, "" where that is open, or
// where the attribute is stated or another word stands for it too.
func sureField[T any](s *schema[T], body *syntax.Body, word string) string {
	names := fieldNames(s)
	right := Sure(word, names)
	if s.fields[right] == nil || body.Attribute(right) != nil {
		return ""
	}
	for i := range body.Attributes {
		other := body.Attributes[i].Name
		if other != word && s.fields[other] == nil && Sure(other, names) == right {
			return ""
		}
	}
	return right
}

// sureBlock is the inner block that a word stands for, "" where that is open, or where it
// may stand once and does.
func sureBlock[T any](s *schema[T], body *syntax.Body, word string) string {
	names := fieldNames(s)
	right := Sure(word, names)
	if n := s.blocks[right]; n == nil || n.once && slices.ContainsFunc(body.Blocks, func(o *syntax.Block) bool {
		return o.Type == right || o.Type != word && Sure(o.Type, names) == right
	}) {
		return ""
	}
	return right
}

// rightWords mends the words of a text, or of the texts of a list, that may not stand there.
func (r *reader) rightWords(expr hclsyntax.Expression, words []string) {
	list := []hclsyntax.Expression{expr}
	if tuple, is := expr.(*hclsyntax.TupleConsExpr); is {
		list = tuple.Exprs
	}
	var one finding.Fix
	for _, e := range list {
		v, diags := e.Value(nil)
		if diags.HasErrors() || v.IsNull() || v.Type() != cty.String || slices.Contains(words, v.AsString()) {
			continue
		}
		fixes := RightWord(r.rng(e.Range()), v.AsString(), Sure(v.AsString(), words))
		if len(fixes) == 0 {
			return
		}
		if one.Name == "" {
			one = fixes[0]
			continue
		}
		one.Message += ", " + fixes[0].Message
		one.Edits = append(one.Edits, fixes[0].Edits...)
	}
	if one.Name != "" {
		r.offer([]finding.Fix{one})
	}
}

// unquoted takes the quotes off a number, or off true and false, where one belongs.
func (r *reader) unquoted(expr hclsyntax.Expression, v cty.Value) {
	at := r.rng(expr.Range())
	if v.Type() != cty.String || at.Text() != `"`+v.AsString()+`"` {
		return
	}
	bare := v.AsString()
	if bare != "true" && bare != "false" {
		n, err := cty.ParseNumberVal(bare)
		if err != nil || n.AsBigFloat().IsInf() || fix.Number(asFloat(n)) != bare {
			return
		}
	}
	r.offer([]finding.Fix{{Name: "quotes-off", Message: fmt.Sprintf("%q becomes %s", bare, bare), Edits: []finding.Edit{{At: at, Text: bare}}}})
}

func asFloat(n cty.Value) float64 { x, _ := n.AsBigFloat().Float64(); return x }

// rightName mends the name in a reference to a block.
func rightName(at source.Range, l Link, names []string) []finding.Fix {
	right := Sure(l.Name, names)
	if right == "" {
		return nil
	}
	base, key, copied := strings.Cut(strings.TrimSuffix(l.Name, "]"), "[")
	for _, phrase := range []string{l.Kind + "." + base, l.Kind + "[" + fix.Quote(base) + "]"} {
		if copied {
			phrase += "[" + fix.Quote(key) + "]"
		}
		if fixes := RightWord(at, phrase, fix.Reference(l.Kind, right)); fixes != nil {
			return fixes
		}
	}
	return nil
}
