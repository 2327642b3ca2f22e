package paper

import (
	"slices"
	"strings"
	"unicode"

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

// turned orders a line whose base runs from left to right; what is set apart by marks of
// direction is ordered by itself, from the side of its first letter.
func turned(s string) string {
	var b strings.Builder
	for s != "" {
		before, rest, apart := strings.Cut(s, "\u2068")
		b.WriteString(ordered(joined(before), false))
		if !apart {
			break
		}
		inner, after, _ := strings.Cut(rest, "\u2069")
		first := strings.IndexFunc(inner, unicode.IsLetter)
		b.WriteString(ordered(joined(inner), first >= 0 && strings.IndexFunc(inner[first:], leftwards) == 0))
		s = after
	}
	return b.String()
}

// mirrored are the signs that are turned with their words.
var mirrored = map[rune]rune{'(': ')', ')': '(', '[': ']', ']': '[', '<': '>', '>': '<', '{': '}', '}': '{', '«': '»', '»': '«'}

// ordered puts a line into the order on paper, by what the Unicode Standard, Annex 9, asks
// of letters, digits and what stands between them; it knows no embeddings.
func ordered(s string, fromRight bool) string {
	line := []rune(s)
	const neutral, rightwards, right, digit = 0, 'L', 'R', 'D'
	base := rune(rightwards)
	if fromRight {
		base = right
	}
	kind := make([]rune, len(line))
	strong := base
	for i, r := range line {
		switch {
		case leftwards(r) || r >= 0xfe80 && r <= 0xfefc:
			kind[i], strong = right, right
		case unicode.IsDigit(r) && strong == right:
			kind[i] = digit
			if i > 1 && kind[i-2] == digit && strings.ContainsRune(".,:", line[i-1]) {
				kind[i-1] = digit
			}
		case unicode.IsDigit(r) || unicode.IsLetter(r):
			kind[i], strong = rightwards, rightwards
		case i > 0 && unicode.In(r, unicode.Mn, unicode.Me):
			kind[i] = kind[i-1]
		}
	}
	side := func(k rune) rune {
		if k == digit {
			return right
		}
		return k
	}
	for i := 0; i < len(line); i++ {
		if kind[i] != neutral {
			continue
		}
		end := i
		for end < len(line) && kind[end] == neutral {
			end++
		}
		before, after := base, base
		if i > 0 {
			before = side(kind[i-1])
		}
		if end < len(line) {
			after = side(kind[end])
		}
		if before != after {
			before = base
		}
		for ; i < end; i++ {
			kind[i] = before
		}
		i--
	}
	level := make([]int, len(line))
	for i, k := range kind {
		switch {
		case k == right:
			level[i] = 1
			if m, ok := mirrored[line[i]]; ok {
				line[i] = m
			}
		case k == digit || fromRight:
			level[i] = 2
		}
	}
	for _, least := range []int{2, 1} {
		for i := 0; i < len(line); i++ {
			end := i
			for end < len(line) && level[end] >= least {
				end++
			}
			slices.Reverse(line[i:end])
			slices.Reverse(level[i:end])
			i = max(i, end-1)
		}
	}
	for i := 1; i < len(line); i++ { // what is joined to a letter stands behind it again
		for k := i; k > 0 && level[k] == 1 && unicode.Is(unicode.Mn, line[k-1]) && !unicode.Is(unicode.Mn, line[k]); k-- {
			line[k-1], line[k] = line[k], line[k-1]
		}
	}
	return string(line)
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
