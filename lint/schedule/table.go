// Package schedule lists an assessed design as the tables that are bought, drawn in and
// connected from: cables, boards, routes, labels, terminations, cuts and drums.
//
// It stands after assess and finding: text -> design -> assessment -> rules -> findings ->
// schedules -> writers. Every figure of a run is the assessment's own; what is worked out
// here is only how cables are cut from drums (cut.go).
package schedule

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"trefoil/lint/assess"
	"trefoil/lint/design"
	"trefoil/lint/finding"
	"trefoil/ratings/quantity"
)

// Type is what the cells of a column hold.
type Type uint8

// Texts, numbers with a unit, whole numbers.
const (
	Text Type = iota
	Number
	Whole
)

// Column is one column of a table.
type Column struct {
	Name  string // as options and JSON write it, the unit included: "length_m"
	Head  string // as people read it, without the unit: "length"
	Type  Type
	Unit  quantity.Unit
	Usual bool // shown where no columns are chosen and there is little room
	Mixed bool // figures of several units: zeros at their end are left out
}

// Heading is the head of the column with its unit.
func (c Column) Heading() string {
	if c.Unit.Symbol == "" {
		return c.Head
	}
	return c.Head + ", " + c.Unit.Symbol
}

// State says what is in a cell.
type State uint8

// Nothing belongs in the cell; its value is known; there is one, and it is not known.
const (
	Empty State = iota
	Known
	Unknown
)

// Cell is one cell; figures are not rounded.
type Cell struct {
	State State
	Text  string
	Value float64
}

// Print gives a cell as people read it.
func (c Cell) Print(in Column) string {
	switch {
	case c.State == Empty:
		return ""
	case c.State == Unknown:
		return "unknown"
	case in.Type == Text:
		return c.Text
	case in.Mixed:
		return quantity.Unit{Decimals: in.Unit.Decimals}.Print(c.Value)
	}
	return in.Unit.Column(c.Value)
}

// Table is a table with what it rests on.
type Table struct {
	Kind    string // cables, boards ...
	Title   string
	Basis   []string
	Columns []Column
	Rows    [][]Cell
}

// Options of a schedule. Lengths to be cut, drums and spare are taken as stated here.
type Options struct {
	Findings []finding.Finding
	Legs     bool    // a row for each parallel leg
	TailM    float64 // at each end of a cut, beyond the route
	Spare    float64 // percent of the route length
	DrumsM   []float64
}

// Kind is one kind of schedule.
type Kind struct {
	Name, Title string
	build       func(*list) Table
}

// Kinds are the schedules there are.
var Kinds = []Kind{
	{"cables", "Cable schedule", cables},
	{"boards", "Board schedule", boards},
	{"ways", "Ways of the boards", ways},
	{"routes", "Route schedule", routes},
	{"labels", "Label schedule", labels},
	{"terminations", "Terminations, lugs and glands", terminations},
	{"cuts", "Cutting list", cuts},
	{"drums", "Drum list", drums},
}

// Of builds the schedule of a kind.
func (k Kind) Of(v *assess.Review, opt Options) Table {
	l := &list{Review: v, opt: opt, told: map[string][]string{}, waived: map[string][]string{}}
	for i := range opt.Findings {
		f := &opt.Findings[i]
		at := l.told
		if f.Waived {
			at = l.waived
		}
		if f.Severity > finding.Note && !slices.Contains(at[f.Subject], f.Rule) {
			at[f.Subject] = append(at[f.Subject], f.Rule)
		}
	}
	t := k.build(l)
	t.Kind, t.Title = k.Name, k.Title
	t.Basis = append(l.basis(), t.Basis...)
	return t
}

// Standing says how many errors stand open, "" where none does.
func Standing(findings []finding.Finding) string {
	n := 0
	for i := range findings {
		if f := &findings[i]; f.Severity == finding.Error && !f.Waived {
			n++
		}
	}
	switch n {
	case 0:
		return ""
	case 1:
		return "1 error stands open"
	}
	return fmt.Sprintf("%d errors stand open", n)
}

// Pick keeps the columns of some names, in that order: "usual" and "all" stand for
// themselves.
func (t Table) Pick(names []string) (Table, error) {
	var at []int
	for _, n := range names {
		n = strings.TrimSpace(n)
		i := slices.IndexFunc(t.Columns, func(c Column) bool { return c.Name == n })
		if i >= 0 {
			at = append(at, i)
			continue
		}
		if n != "usual" && n != "all" {
			all := []string{"usual", "all"}
			for _, c := range t.Columns {
				all = append(all, c.Name)
			}
			return t, fmt.Errorf("%s have no column %q; %s", t.Kind, n, cmp.Or(design.Nearest(n, all), "there are "+strings.Join(all, ", ")))
		}
		for i, c := range t.Columns {
			if n == "all" || c.Usual {
				at = append(at, i)
			}
		}
	}
	out := t
	out.Columns, out.Rows = make([]Column, len(at)), make([][]Cell, len(t.Rows))
	for k, i := range at {
		out.Columns[k] = t.Columns[i]
	}
	for r := range t.Rows {
		out.Rows[r] = make([]Cell, len(at))
		for k, i := range at {
			out.Rows[r][k] = t.Rows[r][i]
		}
	}
	return out, nil
}

// list is what the builders of tables share.
type list struct {
	*assess.Review
	opt          Options
	told, waived map[string][]string // names of rules by subject, of warnings and errors
}

// basis is what every table rests on.
func (l *list) basis() []string {
	var b []string
	if s := Standing(l.opt.Findings); s != "" {
		b = append(b, s+": do not buy or build from this")
	}
	if s := l.Design.Site(); s != nil {
		line := "design " + s.Name
		if s.Stage.Known() {
			line += ", stage " + s.Stage.Value
		}
		if l.Set != nil {
			line += "; ratings by " + l.Info.Title
		}
		b = append(b, line)
	}
	return b
}

// col is a column with what stands in it for a row.
type col[R any] struct {
	Column
	cell func(R) Cell
}

func build[R any](rows []R, cols []col[R]) Table {
	t := Table{Rows: make([][]Cell, len(rows))}
	for _, c := range cols {
		t.Columns = append(t.Columns, c.Column)
	}
	for i, r := range rows {
		t.Rows[i] = make([]Cell, len(cols))
		for k, c := range cols {
			t.Rows[i][k] = c.cell(r)
		}
	}
	return t
}

func words[R any](name, head string, cell func(R) Cell) col[R] {
	return col[R]{Column{Name: name, Head: head}, cell}
}

func number[R any](name, head string, unit quantity.Unit, cell func(R) Cell) col[R] {
	return col[R]{Column{Name: name, Head: head, Type: Number, Unit: unit}, cell}
}

func count[R any](name, head string, cell func(R) Cell) col[R] {
	return col[R]{Column{Name: name, Head: head, Type: Whole}, cell}
}

func (c col[R]) usual() col[R] { c.Usual = true; return c }

// TextCell is a text, empty where there is none.
func TextCell(s string) Cell {
	if s == "" {
		return Cell{}
	}
	return Cell{State: Known, Text: s}
}

// known is a text, unknown where there is none.
func known(s string) Cell {
	if s == "" {
		return Cell{State: Unknown}
	}
	return TextCell(s)
}

func of(x float64) Cell { return FigureCell(quantity.Of(x)) }

// FigureCell is a figure, or says that it is not known.
func FigureCell(m quantity.Maybe) Cell {
	if !m.Known || !quantity.Finite(m.Value) {
		return Cell{State: Unknown}
	}
	return Cell{State: Known, Value: m.Value}
}

// kilo is a figure in thousands.
func kilo(m quantity.Maybe) Cell { return FigureCell(thousands(m)) }

func thousands(m quantity.Maybe) quantity.Maybe {
	return quantity.Maybe{Value: m.Value / 1000, Known: m.Known}
}

// stated is a number of the design, empty where it is not stated.
func stated(n design.Num) Cell {
	if n.Origin == design.Absent {
		return Cell{}
	}
	return FigureCell(n.Maybe())
}

// word is a text of the design, empty where it is not stated.
func word(t design.Text) Cell {
	if t.Origin == design.Faulty {
		return Cell{State: Unknown}
	}
	return TextCell(t.Value)
}

// yes is a flag of the design, empty where it is not stated.
func yes(f design.Flag) Cell {
	switch {
	case f.Origin == design.Absent:
		return Cell{}
	case f.Origin == design.Faulty:
		return Cell{State: Unknown}
	case f.Value:
		return TextCell("yes")
	}
	return TextCell("no")
}

// subject is what a link names.
func subject(l design.Link) Cell {
	if l.Origin != design.Stated || l.Name == "" {
		return Cell{State: Unknown}
	}
	return TextCell(l.Subject())
}

// joined is a list; what is not stated of one of its parts is a dash.
func joined(parts []string) Cell {
	if strings.Join(parts, "") == "" {
		return Cell{}
	}
	shown := make([]string, len(parts))
	for i, p := range parts {
		shown[i] = cmp.Or(p, "-")
	}
	return TextCell(strings.Join(shown, "; "))
}
