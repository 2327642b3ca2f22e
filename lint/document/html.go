package document

import (
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"trefoil/lint/report"
	"trefoil/lint/scene"
	"trefoil/lint/schedule"
)

//go:embed report.html
var page string

//go:embed report.css
var style string

var pages = template.Must(template.New("report").Funcs(template.FuncMap{
	"words": words, "clean": report.Clean, "cell": cell, "rows": rows, "working": working,
	"drawn": func(s *scene.Scene) template.HTML { return template.HTML(s.Part()) }, // of our own writer, which escapes its words
	"inc":   func(i int) int { return i + 1 },
	"long":  func(f Fact) longFact { return longFact{f, len(f.Text) > 28} },
	"titled": func(t *schedule.Table, part string) titled {
		x := titled{Table: *t, Caption: t.Title}
		if t.Title == part {
			x.Caption = "" // the part's head says it
		}
		return x
	},
	"mark": func(severity string) string {
		return map[string]string{"error": "▲", "warning": "◆"}[severity] + map[string]string{"note": "●"}[severity]
	},
}).Parse(page))

// longFact is a fact whose value wants a line of its own.
type longFact struct {
	Fact
	Long bool
}

type titled struct {
	schedule.Table
	Caption string
}

// HTML writes the report as one file: no script, and nothing fetched from elsewhere.
// Equal documents give equal bytes.
func HTML(w io.Writer, d *Document) error {
	return pages.Execute(w, struct {
		*Document
		Style   template.CSS
		Page    template.CSS
		Open    bool
		Caution string
	}{d, template.CSS(style + scene.CSS() + "\n"), template.CSS(running(d)), d.Standing != "", report.Caution})
}

// running is the head and foot of printed pages: whose report, of what state, and that
// errors stand open.
func running(d *Document) string {
	head := d.Title
	if d.Stamp.Revision != "" {
		head += ", " + d.Stamp.Revision
	}
	box := func(at, text, more string) string {
		return fmt.Sprintf("@%s { content: %s; font: 7.5pt sans-serif; color: #545f63; %s } ", at, text, more)
	}
	standing := ""
	if d.Standing != "" {
		standing = box("top-right", quoted(d.Standing), "color: #9c1c1c; font-weight: bold; width: 34%;")
	}
	boxes := box("top-left", quoted(shorten(head, 90)), "width: 62%;") + standing +
		box("bottom-left", quoted("An aid. Local codes and the licensed person responsible decide. "+d.Stamp.Day), "width: 78%;") +
		box("bottom-right", `counter(page) " / " counter(pages)`, "")
	return "@page { size: A4; margin: 17mm 14mm 15mm 16mm; " + boxes + "}\n@page wide { size: A3 landscape; margin: 17mm 14mm 15mm 16mm; }\n@page sheet { size: A3 landscape; margin: 0; @top-left { content: none } @top-right { content: none } @bottom-left { content: none } @bottom-right { content: none } }\n"
}

// quoted is a string of CSS: whatever is no letter or digit is written by its number.
func quoted(s string) string {
	var b strings.Builder
	b.WriteByte('"')
	for _, r := range report.Clean(s) {
		if unicode.IsLetter(r) || unicode.IsDigit(r) || r == ' ' || r == '.' || r == ',' {
			b.WriteRune(r)
		} else {
			fmt.Fprintf(&b, `\%06x`, r)
		}
	}
	return b.String() + `"`
}

// shorten cuts a text to so many characters.
func shorten(s string, most int) string {
	if utf8.RuneCountInString(s) <= most {
		return s
	}
	return string([]rune(s)[:most-1]) + "…"
}

// words is a text of the design, harmless: control characters visible, markup escaped,
// words that run from right to left kept apart from what stands beside them.
func words(s string) template.HTML {
	s = report.Clean(s)
	if len(s) == utf8.RuneCountInString(s) {
		return template.HTML(template.HTMLEscapeString(s))
	}
	var b strings.Builder
	for s != "" {
		from := strings.IndexFunc(s, leftwards)
		if from < 0 {
			break
		}
		to := from
		for i, r := range s[from:] {
			if leftwards(r) || unicode.Is(unicode.Mn, r) {
				to = from + i + utf8.RuneLen(r)
			} else if r != ' ' && r != '-' {
				break
			}
		}
		b.WriteString(template.HTMLEscapeString(s[:from]) + "<bdi>" + template.HTMLEscapeString(s[from:to]) + "</bdi>")
		s = s[to:]
	}
	b.WriteString(template.HTMLEscapeString(s))
	return template.HTML(b.String())
}

// leftwards says that a letter is written from right to left.
func leftwards(r rune) bool {
	return r >= 0x590 && unicode.In(r, unicode.Hebrew, unicode.Arabic, unicode.Syriac, unicode.Thaana, unicode.Nko)
}

// cell prints a value, its full figure beside it for programs.
func cell(c schedule.Cell, in schedule.Column, unit bool) template.HTML {
	switch {
	case c.State == schedule.Empty:
		return ""
	case c.State == schedule.Unknown:
		return "<span class=unknown>unknown</span>"
	case in.Type == schedule.Text:
		return words(c.Text)
	}
	shown := c.Print(in)
	if unit {
		shown = in.Unit.Print(c.Value)
	}
	return figure(shown, c.Value)
}

// figure is a figure as printed; where that is rounded, the full one is with it.
func figure(shown string, x float64) template.HTML {
	full := strconv.FormatFloat(x, 'g', -1, 64)
	number, _, _ := strings.Cut(shown, " ")
	if got, err := strconv.ParseFloat(number, 64); err == nil && got == x {
		return template.HTML(template.HTMLEscapeString(shown))
	}
	return template.HTML("<data value=" + full + ">" + template.HTMLEscapeString(shown) + "</data>")
}

// rows are the cells of a table; the first column heads its row. As in working, ends of
// rows and cells are left out.
func rows(t schedule.Table) template.HTML {
	var b strings.Builder
	for _, row := range t.Rows {
		b.WriteString("<tr>")
		for i, c := range row {
			tag := "td"
			if i == 0 {
				tag = "th scope=row"
			}
			if t.Columns[i].Type != schedule.Text {
				tag += " class=n"
			}
			b.WriteString("<" + tag + ">")
			b.WriteString(string(cell(c, t.Columns[i], false)))
		}
		b.WriteString("\n")
	}
	return template.HTML(b.String())
}

// working are the rows of a calculation sheet. They are most of a large report, so that
// the ends of rows and cells, which HTML does not ask for, are left out.
func working(list []Row) template.HTML {
	var b strings.Builder
	for _, r := range list {
		switch {
		case r.Head != "":
			fmt.Fprintf(&b, "<tr class=part><th scope=rowgroup colspan=5>%s\n", words(r.Head))
			continue
		case r.Known:
			fmt.Fprintf(&b, "<tr><td>%s<td>%s", words(r.Name), figure(r.Shown, r.Value))
		default:
			fmt.Fprintf(&b, "<tr><td>%s<td>", words(r.Name))
		}
		rest := fmt.Sprintf("<td>%s<td>%s<td>%s", words(r.Unit), words(r.How), words(r.Ref))
		for strings.HasSuffix(rest, "<td>") {
			rest = strings.TrimSuffix(rest, "<td>")
		}
		b.WriteString(rest + "\n")
	}
	return template.HTML(b.String())
}
