package paper

import (
	"strings"
	"unicode"

	"golang.org/x/text/unicode/bidi"

	"trefoil/lint/report"
	"trefoil/lint/scene"
)

// visual puts a line of text into the order in which its signs stand on paper, for a PDF
// knows no other: what runs from right to left is turned, Arabic letters take the form of
// their place, and what the faces cannot show becomes a replacement sign.
func visual(s string) string {
	plain := true
	for _, r := range s {
		if r > 0x7e || r < 0x20 {
			plain = false
			break
		}
	}
	if plain {
		return s
	}
	if strings.ContainsFunc(s, leftwards) {
		s = turned(s)
	}
	var b strings.Builder
	for _, r := range s {
		switch {
		case unicode.Is(unicode.Cf, r):
		case scene.Has(r):
			b.WriteRune(r)
		case unicode.IsSpace(r):
			b.WriteByte(' ')
		case unicode.In(r, unicode.Mn, unicode.Me):
		default:
			b.WriteRune('\ufffd')
		}
	}
	return b.String()
}

// clean makes words of the design safe to print; the marks that keep a name apart from the
// words beside it stay.
func clean(s string) string {
	return strings.Map(func(r rune) rune {
		if r == '\u2068' || r == '\u2069' {
			return r
		}
		for _, c := range report.Clean(string(r)) {
			return c
		}
		return r
	}, s)
}

func leftwards(r rune) bool {
	return r >= 0x590 && unicode.In(r, unicode.Hebrew, unicode.Arabic, unicode.Syriac, unicode.Thaana, unicode.Nko)
}

// turned orders a line whose base runs from left to right.
func turned(s string) string {
	var p bidi.Paragraph
	if _, err := p.SetString(joined(s), bidi.DefaultDirection(bidi.LeftToRight)); err != nil {
		return s
	}
	order, err := p.Order()
	if err != nil {
		return s
	}
	var b strings.Builder
	for i := range order.NumRuns() {
		run := order.Run(i)
		if run.Direction() == bidi.RightToLeft {
			b.WriteString(bidi.ReverseString(run.String()))
		} else {
			b.WriteString(run.String())
		}
	}
	return b.String()
}

// arabic gives the first of the forms of a letter - alone, at the end, at the beginning, in
// the middle - and whether it joins what follows it (Unicode, Arabic Presentation Forms-B).
var arabic = func() map[rune]struct {
	form rune
	both bool
} {
	m := map[rune]struct {
		form rune
		both bool
	}{}
	form := rune(0xfe80)
	for r := rune(0x621); r <= 0x64a; r++ {
		switch {
		case r > 0x63a && r < 0x641: // no letters of this block
			continue
		case r == 0x621: // hamza stands alone
			form++
			continue
		}
		both := !strings.ContainsRune("آأؤإاةدذرزوى", r)
		m[r] = struct {
			form rune
			both bool
		}{form, both}
		if both {
			form += 4
		} else {
			form += 2
		}
	}
	return m
}()

// joined gives Arabic letters the form of their place in the word; lam and alef become one.
func joined(s string) string {
	in := []rune(s)
	out := make([]rune, 0, len(in))
	mark := func(r rune) bool { return unicode.Is(unicode.Mn, r) }
	before := false // the letter before joins this one
	for i := 0; i < len(in); i++ {
		r := in[i]
		a, ok := arabic[r]
		if !ok {
			if !mark(r) {
				before = false
			}
			out = append(out, r)
			continue
		}
		if r == 'ل' && i+1 < len(in) {
			if k := strings.IndexRune("آأإا", in[i+1]); k >= 0 { // letters of two bytes
				r = 0xfef5 + rune(k)
				if before {
					r++
				}
				out, before = append(out, r), false
				i++
				continue
			}
		}
		next := i + 1
		for next < len(in) && mark(in[next]) {
			next++
		}
		after := false
		if next < len(in) {
			_, after = arabic[in[next]]
		}
		form := a.form
		switch {
		case before && after && a.both:
			form += 3
		case after && a.both:
			form += 2
		case before:
			form++
		}
		out = append(out, form)
		before = a.both
	}
	return string(out)
}
