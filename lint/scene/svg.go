package scene

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"strconv"
	"strings"
)

// SVG writes the sheet as one SVG document: it asks for nothing outside of itself, follows
// the reader's light or dark setting, and prints light.
func (s *Scene) SVG() []byte {
	return s.write(` xmlns="http://www.w3.org/2000/svg"`, "<style>"+CSS()+"</style>\n")
}

// Part writes the sheet as a part of an HTML page, whose style sheet holds CSS once for
// all of them.
func (s *Scene) Part() []byte { return s.write("", "") }

func (s *Scene) write(space, style string) []byte {
	var b bytes.Buffer
	fmt.Fprintf(&b, `<svg%s class="drawing" role="img" aria-labelledby="%s-title %s-desc" width="%smm" height="%smm" viewBox="0 0 %s %s">`,
		space, s.Name, s.Name, mm(s.WidthMM), mm(s.HighMM), mm(s.WidthMM), mm(s.HighMM))
	fmt.Fprintf(&b, "\n<title id=\"%s-title\">%s</title>\n<desc id=\"%s-desc\">%s</desc>\n%s", s.Name, escape(s.Title), s.Name, escape(s.Desc), style)
	fmt.Fprintf(&b, "<rect class=\"d-page\" width=\"%s\" height=\"%s\"/>\n", mm(s.WidthMM), mm(s.HighMM))
	joined := Class("") // of the path that is open
	for _, item := range s.Items {
		l, ok := item.(Line)
		if !ok || l.Closed || l.Class != joined {
			if joined != "" {
				b.WriteString("\"/>\n")
			}
			joined = ""
		}
		switch x := item.(type) {
		case Line:
			switch {
			case l.Closed:
				fmt.Fprintf(&b, `<polygon class="d-%s" points="`, x.Class)
				for i, p := range x.Points {
					if i > 0 {
						b.WriteByte(' ')
					}
					b.WriteString(mm(p.X) + "," + mm(p.Y))
				}
				b.WriteString("\"/>\n")
				continue
			case joined == "":
				fmt.Fprintf(&b, `<path class="d-%s" d="`, x.Class)
				joined = x.Class
			}
			for i, p := range x.Points {
				b.WriteString("ML"[min(i, 1):min(i, 1)+1] + mm(p.X) + "," + mm(p.Y))
			}
		case Rect:
			fmt.Fprintf(&b, `<rect class="d-%s" x="%s" y="%s" width="%s" height="%s"`, x.Class, mm(x.At.X), mm(x.At.Y), mm(x.At.W), mm(x.At.H))
			if x.Round > 0 {
				fmt.Fprintf(&b, ` rx="%s"`, mm(x.Round))
			}
			b.WriteString("/>\n")
		case Circle:
			fmt.Fprintf(&b, "<circle class=\"d-%s\" cx=\"%s\" cy=\"%s\" r=\"%s\"/>\n", x.Class, mm(x.Centre.X), mm(x.Centre.Y), mm(x.R))
		case Text:
			var class []string
			if x.Colour != Ink {
				class = append(class, "d-t-"+string(x.Colour))
			}
			if x.Bold {
				class = append(class, "d-b")
			}
			switch x.Anchor {
			case Middle:
				class = append(class, "d-m")
			case End:
				class = append(class, "d-e")
			}
			b.WriteString("<text")
			if len(class) > 0 {
				fmt.Fprintf(&b, ` class="%s"`, strings.Join(class, " "))
			}
			fmt.Fprintf(&b, ` x="%s" y="%s"`, mm(x.At.X), mm(x.At.Y))
			if x.Size != usual {
				fmt.Fprintf(&b, ` font-size="%s"`, mm(x.Size))
			}
			b.WriteByte('>')
			if x.Full != "" {
				fmt.Fprintf(&b, "<title>%s</title>", escape(x.Full))
			}
			b.WriteString(escape(x.Text) + "</text>\n")
		}
	}
	if joined != "" {
		b.WriteString("\"/>\n")
	}
	b.WriteString("</svg>\n")
	return b.Bytes()
}

// usual is the size of text where none is written, mm.
const usual = 2.3

// CSS is the style sheet, bound to the class of the sheet so that it stays within it.
func CSS() string {
	var b strings.Builder
	colours := func(of map[Role]string) string {
		var list []string
		for _, r := range roles {
			list = append(list, fmt.Sprintf("--d-%s:%s", r, of[r]))
		}
		return strings.Join(list, ";")
	}
	fmt.Fprintf(&b, ".drawing{%s;font-size:%spx;font-family:'DejaVu Sans','Liberation Sans',Arial,Helvetica,sans-serif}", colours(Light), mm(usual))
	fmt.Fprintf(&b, "@media screen and (prefers-color-scheme:dark){.drawing{%s}}", colours(Dark))
	b.WriteString(".drawing .d-page{fill:var(--d-paper)}.drawing .d-b{font-weight:bold}.drawing .d-m{text-anchor:middle}.drawing .d-e{text-anchor:end}.drawing text{white-space:pre;fill:var(--d-ink)}")
	for _, r := range roles[1:] {
		fmt.Fprintf(&b, ".drawing text.d-t-%s{fill:var(--d-%s)}", r, r)
	}
	paint := func(r Role) string {
		if r == None {
			return "none"
		}
		return "var(--d-" + string(r) + ")"
	}
	for _, c := range classes {
		s := Styles[c]
		fmt.Fprintf(&b, ".drawing .d-%s{fill:%s;stroke:%s", c, paint(s.Fill), paint(s.Stroke))
		if s.WidthMM > 0 {
			fmt.Fprintf(&b, ";stroke-width:%s", mm(s.WidthMM))
		}
		if s.DashMM[0] > 0 {
			fmt.Fprintf(&b, ";stroke-dasharray:%s %s", mm(s.DashMM[0]), mm(s.DashMM[1]))
		}
		b.WriteByte('}')
	}
	return b.String()
}

// mm prints a length in mm to a hundredth.
func mm(x float64) string {
	s := strconv.FormatFloat(x, 'f', 2, 64)
	s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	if s == "-0" {
		return "0"
	}
	return s
}

// escape makes a text safe in XML; what XML cannot hold becomes a replacement character.
func escape(s string) string {
	var b strings.Builder
	_ = xml.EscapeText(&b, []byte(s)) // a strings.Builder takes everything
	return b.String()
}
