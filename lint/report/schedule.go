package report

import (
	"encoding/csv"
	"fmt"
	"io"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"trefoil/lint/schedule"
	"trefoil/lint/xlsx"
)

// Stamp is what stands on every page of a document besides its contents.
type Stamp struct {
	Design   string // its name
	Day      string // on which it was written, YYYY-MM-DD
	Revision string // of the text, "" where it is not known
}

// WriteSchedule writes tables for people, one after the other.
func WriteSchedule(w io.Writer, tables []schedule.Table) error {
	var b strings.Builder
	for _, t := range tables {
		fmt.Fprintf(&b, "%s\n", bold.Sprint(Clean(t.Title)))
		for _, line := range t.Basis {
			fmt.Fprintf(&b, "%s\n", dim.Sprint(Clean(line)))
		}
		b.WriteString("\n")
		head, lines := aligned(t)
		fmt.Fprintf(&b, "%s\n", bold.Sprint(head))
		for _, line := range lines {
			fmt.Fprintf(&b, "%s\n", line)
		}
		if len(t.Rows) == 0 {
			b.WriteString("nothing to list\n")
		}
		b.WriteString("\n")
	}
	fmt.Fprintf(&b, "%s\n", dim.Sprint(Caution))
	_, err := io.WriteString(w, b.String())
	return err
}

// aligned gives the head and the rows of a table with their columns below each other.
func aligned(t schedule.Table) (head string, rows []string) {
	cells, right := make([][]string, 1, len(t.Rows)+1), make([]bool, len(t.Columns))
	for i, c := range t.Columns {
		cells[0], right[i] = append(cells[0], c.Heading()), c.Type != schedule.Text
	}
	for _, row := range t.Rows {
		line := make([]string, len(row))
		for i, c := range row {
			line[i] = c.Print(t.Columns[i])
		}
		cells = append(cells, line)
	}
	lines := grid(cells, right)
	return lines[0], lines[1:]
}

// grid gives rows of cells in columns that stand below each other; those of figures stand
// to the right.
func grid(rows [][]string, right []bool) (lines []string) {
	widths := make([]int, len(right))
	for _, row := range rows {
		for i := range row {
			row[i] = Clean(row[i])
			widths[i] = max(widths[i], displayWidth(row[i]))
		}
	}
	for _, row := range rows {
		var l strings.Builder
		for i, s := range row {
			pad := strings.Repeat(" ", widths[i]-displayWidth(s))
			if right[i] {
				l.WriteString(pad + s + "  ")
			} else {
				l.WriteString(s + pad + "  ")
			}
		}
		lines = append(lines, strings.TrimRight(l.String(), " "))
	}
	return lines
}

// writeGrid writes such rows, the first as their head.
func writeGrid(b *strings.Builder, rows [][]string, right []bool) {
	for n, line := range grid(rows, right) {
		if n == 0 {
			line = bold.Sprint(line)
		}
		fmt.Fprintf(b, "%s\n", line)
	}
}

// displayWidth is how many columns of a terminal a text takes: marks none, wide
// characters two.
func displayWidth(s string) int {
	if len(s) == utf8.RuneCountInString(s) {
		return len(s)
	}
	n := 0
	for _, r := range s {
		switch {
		case unicode.In(r, unicode.Mn, unicode.Me, unicode.Cf):
		case r >= 0x1100 && unicode.In(r, unicode.Han, unicode.Hangul, unicode.Hiragana, unicode.Katakana), r >= 0xff01 && r <= 0xff60, r >= 0x1f300 && r <= 0x1faff:
			n += 2
		default:
			n++
		}
	}
	return n
}

// WriteScheduleCSV writes one table for programs and spreadsheets: the names of the
// columns, then full figures. A text that a spreadsheet would take for a formula gets a '
// in front; a figure that is not known is the word unknown.
func WriteScheduleCSV(w io.Writer, t schedule.Table) error {
	c := csv.NewWriter(w)
	line := make([]string, len(t.Columns))
	for i, col := range t.Columns {
		line[i] = col.Name
	}
	if err := c.Write(line); err != nil {
		return err
	}
	for _, row := range t.Rows {
		for i, x := range row {
			line[i] = harmless(x.Print(t.Columns[i]))
			if x.State == schedule.Known && t.Columns[i].Type != schedule.Text {
				line[i] = strconv.FormatFloat(x.Value, 'g', -1, 64)
			}
		}
		if err := c.Write(line); err != nil {
			return err
		}
	}
	c.Flush()
	return c.Error()
}

// WriteScheduleMarkdown writes tables in Markdown.
func WriteScheduleMarkdown(w io.Writer, tables []schedule.Table) error {
	var b strings.Builder
	for _, t := range tables {
		fmt.Fprintf(&b, "## %s\n\n", markdown(t.Title))
		for _, line := range t.Basis {
			fmt.Fprintf(&b, "- %s\n", markdown(line))
		}
		b.WriteString("\n|")
		for _, c := range t.Columns {
			fmt.Fprintf(&b, " %s |", markdown(c.Heading()))
		}
		b.WriteString("\n|")
		for _, c := range t.Columns {
			if c.Type == schedule.Text {
				b.WriteString(" --- |")
			} else {
				b.WriteString(" ---: |")
			}
		}
		b.WriteString("\n")
		for _, row := range t.Rows {
			b.WriteString("|")
			for i, c := range row {
				fmt.Fprintf(&b, " %s |", markdown(c.Print(t.Columns[i])))
			}
			b.WriteString("\n")
		}
		b.WriteString("\n")
	}
	fmt.Fprintf(&b, "%s\n", Caution)
	_, err := io.WriteString(w, b.String())
	return err
}

// markdownMarks makes a text harmless in Markdown. A space of no width keeps an address from
// becoming a link, for which an escape alone is not enough: renderers look for addresses in
// what the escapes stand for.
var markdownMarks = strings.NewReplacer(
	`\`, `\\`, "`", "\\`", "*", `\*`, "_", `\_`, "[", `\[`, "]", `\]`, "<", "&lt;", ">", "&gt;", "|", `\|`, "~", `\~`, "&", "&amp;", "#", `\#`, "!", `\!`, "$", `\$`,
	"://", ":&#8203;//", "www.", "www&#8203;.", "@", "@&#8203;",
)

func markdown(s string) string { return markdownMarks.Replace(Clean(s)) }

// WriteScheduleXLSX writes tables as a workbook, a sheet each.
func WriteScheduleXLSX(w io.Writer, tables []schedule.Table, stamp Stamp, standing string) error {
	var sheets []xlsx.Sheet
	for _, t := range tables {
		header := Clean(strings.Join(nonEmpty(stamp.Design, t.Title, stamp.Revision, standing), "  |  "))
		s := xlsx.Sheet{Name: t.Kind, Header: header, Footer: Clean(strings.Join(nonEmpty(stamp.Day, Caution), "  |  "))}
		s.Notes = append(s.Notes, t.Title)
		for _, line := range append(t.Basis, Caution) {
			s.Notes = append(s.Notes, Clean(line))
		}
		for _, c := range t.Columns {
			s.Columns = append(s.Columns, xlsx.Column{Head: c.Heading(), Decimals: c.Unit.Decimals})
		}
		for _, row := range t.Rows {
			cells := make([]xlsx.Cell, len(row))
			for i, c := range row {
				if c.State == schedule.Known && t.Columns[i].Type != schedule.Text {
					cells[i] = xlsx.Cell{Number: c.Value, IsNumber: true}
				} else {
					cells[i] = xlsx.Cell{Text: Clean(c.Print(t.Columns[i]))}
				}
			}
			s.Rows = append(s.Rows, cells)
		}
		sheets = append(sheets, s)
	}
	return xlsx.Write(w, sheets)
}

func nonEmpty(list ...string) (out []string) {
	for _, s := range list {
		if s != "" {
			out = append(out, s)
		}
	}
	return out
}

// ScheduleDocument is what schedule writes for programs. A figure that is not known, or
// that there is none of, is absent.
type ScheduleDocument struct {
	Version   int            `json:"version"`
	Tool      Tool           `json:"tool"`
	Standing  string         `json:"standing,omitempty"` // how many errors stand open
	Schedules []jsonSchedule `json:"schedules"`
	Error     string         `json:"error,omitempty"`
}

type jsonSchedule struct {
	Kind    string           `json:"kind"`
	Title   string           `json:"title"`
	Basis   []string         `json:"basis"`
	Columns []jsonColumn     `json:"columns"`
	Rows    []map[string]any `json:"rows"`
}

type jsonColumn struct {
	Name string `json:"name"`
	Head string `json:"head"`
	Unit string `json:"unit,omitempty"`
	Type string `json:"type"` // text | number | whole
}

// NewScheduleDocument turns tables into a document.
func NewScheduleDocument(tool Tool, tables []schedule.Table, standing string) ScheduleDocument {
	d := ScheduleDocument{Version: Version, Tool: tool, Standing: standing, Schedules: []jsonSchedule{}}
	for _, t := range tables {
		j := jsonSchedule{Kind: t.Kind, Title: t.Title, Basis: t.Basis, Rows: []map[string]any{}}
		for _, c := range t.Columns {
			j.Columns = append(j.Columns, jsonColumn{c.Name, c.Head, c.Unit.Symbol, []string{"text", "number", "whole"}[c.Type]})
		}
		for _, row := range t.Rows {
			m := map[string]any{}
			for i, c := range row {
				switch {
				case c.State != schedule.Known:
				case t.Columns[i].Type == schedule.Text:
					m[t.Columns[i].Name] = c.Text
				default:
					m[t.Columns[i].Name] = c.Value
				}
			}
			j.Rows = append(j.Rows, m)
		}
		d.Schedules = append(d.Schedules, j)
	}
	return d
}

// Empty is a document without tables, for a reader that expects the list.
func (d ScheduleDocument) Empty() ScheduleDocument {
	d.Schedules = []jsonSchedule{}
	return d
}
