package scene

import (
	_ "embed"
	"encoding/binary"
	"strings"
	"sync"
	"unicode"
)

// Regular and Bold are the two faces of a document: a PDF embeds them, and text is
// measured by them. They are among the widest of the faces that a browser takes for
// sans-serif, so that text set in another one stays within its room.
var (
	//go:embed fonts/DejaVuSans.ttf
	Regular []byte
	//go:embed fonts/DejaVuSans-Bold.ttf
	Bold []byte
)

// Ascent and Descent bound a line of text above and below its baseline, in times its size.
const (
	Ascent  = 0.93
	Descent = 0.24
)

// face holds the advance of each character below U+10000, in em; negative where the face
// has none.
type face []float32

var regular, bold = sync.OnceValue(func() face { return widths(Regular) }), sync.OnceValue(func() face { return widths(Bold) })

// widths reads the advances of a TrueType face: the character map of format 4 (cmap),
// the advances (hmtx) and the units of an em (head), as ISO/IEC 14496-22 lays them out.
func widths(font []byte) face {
	be := binary.BigEndian
	tables := map[string][]byte{}
	for i := range int(be.Uint16(font[4:])) {
		e := font[12+16*i:]
		at, n := be.Uint32(e[8:]), be.Uint32(e[12:])
		tables[string(e[:4])] = font[at : at+n]
	}
	em := float64(be.Uint16(tables["head"][18:]))
	metrics := int(be.Uint16(tables["hhea"][34:]))
	advance := func(glyph int) float64 {
		return float64(be.Uint16(tables["hmtx"][4*min(glyph, metrics-1):])) / em
	}
	f := make(face, 1<<16)
	for i := range f {
		f[i] = -1
	}
	cmap := tables["cmap"]
	for i := range int(be.Uint16(cmap[2:])) {
		sub := cmap[be.Uint32(cmap[8+8*i:]):]
		if be.Uint16(sub) != 4 {
			continue
		}
		n := int(be.Uint16(sub[6:])) // twice the number of segments
		for s := 0; s < n; s += 2 {
			last, first := int(be.Uint16(sub[14+s:])), int(be.Uint16(sub[16+n+s:]))
			delta, offset := int(be.Uint16(sub[16+2*n+s:])), int(be.Uint16(sub[16+3*n+s:]))
			for c := first; c <= last && c != 0xffff; c++ {
				glyph := c + delta
				if offset != 0 {
					if glyph = int(be.Uint16(sub[16+3*n+s+offset+2*(c-first):])); glyph != 0 {
						glyph += delta
					}
				}
				if glyph &= 0xffff; glyph != 0 {
					f[c] = float32(advance(glyph))
					if joined(rune(c)) {
						f[c] = 0
					}
				}
			}
		}
	}
	return f
}

// Has says that the faces can show a character; what they cannot, a PDF prints as a box.
func Has(r rune) bool { return r >= 0 && r < 1<<16 && regular()[r] >= 0 }

// joined says that a character takes no room of its own.
func joined(r rune) bool { return unicode.In(r, unicode.Mn, unicode.Me, unicode.Cf) }

// Measure is the width of a line of text in mm, its size in mm. What the faces do not
// hold counts with the width that another face may give it at most: characters of East
// Asia and signs one em and a third, others one em.
func Measure(s string, sizeMM float64, heavy bool) float64 {
	f := regular()
	if heavy {
		f = bold()
	}
	sum := 0.0
	for _, r := range s {
		switch {
		case r < 1<<16 && f[r] >= 0:
			sum += float64(f[r])
		case joined(r):
		case r >= 0x1100 && !unicode.IsLetter(r), r >= 0x1f000:
			sum += 4.0 / 3
		default:
			sum++
		}
	}
	return sum * sizeMM
}

// Fit shortens a text in its middle until it is no wider than so many mm. Beginning and
// end stay, for names often differ in their last characters.
func Fit(s string, sizeMM float64, heavy bool, widthMM float64) string {
	if Measure(s, sizeMM, heavy) <= widthMM {
		return s
	}
	room := widthMM - Measure("…", sizeMM, heavy)
	parts := clusters(s)
	head, tail := 0, len(parts)
	used := 0.0
	for head < tail {
		front := head <= len(parts)-tail || head < 3
		next := parts[tail-1]
		if front {
			next = parts[head]
		}
		if used += Measure(next, sizeMM, heavy); used > room {
			break
		}
		if front {
			head++
		} else {
			tail--
		}
	}
	return strings.TrimRight(strings.Join(parts[:head], ""), " ") + "…" + strings.TrimLeft(strings.Join(parts[tail:], ""), " ")
}

// Cut shortens a text after a whole word.
func Cut(s string, sizeMM float64, heavy bool, widthMM float64) string {
	short := s
	for Measure(short, sizeMM, heavy) > widthMM {
		i := strings.LastIndexByte(strings.TrimSuffix(short, "…"), ' ')
		if i < 0 {
			return Fit(short, sizeMM, heavy, widthMM)
		}
		short = strings.TrimRight(short[:i], " ,;:") + "…"
	}
	return short
}

// clusters cuts a text where it may be shortened: never between a character and what is
// joined to it.
func clusters(s string) []string {
	var list []string
	join := false
	for _, r := range s {
		if n := len(list); n > 0 && (join || r == '\u200d' || unicode.In(r, unicode.Mn, unicode.Me, unicode.Variation_Selector)) {
			list[n-1] += string(r)
		} else {
			list = append(list, string(r))
		}
		join = r == '\u200d'
	}
	return list
}

// Wrap breaks a text into lines no wider than so many mm; a word that is wider is shortened.
func Wrap(s string, sizeMM float64, heavy bool, widthMM float64) []string {
	var lines []string
	line := ""
	for word := range strings.FieldsSeq(s) {
		word = Fit(word, sizeMM, heavy, widthMM)
		if line == "" {
			line = word
			continue
		}
		if Measure(line+" "+word, sizeMM, heavy) <= widthMM {
			line += " " + word
			continue
		}
		lines = append(lines, line)
		line = word
	}
	if line != "" {
		lines = append(lines, line)
	}
	return lines
}
