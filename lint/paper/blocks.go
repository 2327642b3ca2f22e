package paper

import (
	"fmt"
	"strings"

	"trefoil/lint/document"
	"trefoil/lint/scene"
	"trefoil/lint/schedule"
)

// piece is a text in a column of its own.
type piece struct {
	text   string
	x, w   float64
	bold   bool
	colour scene.Role
	right  bool // set to the right
}

// row prints pieces side by side, each broken within its column.
func (p *press) row(pieces []piece, size, after float64) {
	lines := make([][]string, len(pieces))
	most := 0
	for i, c := range pieces {
		if c.text != "" {
			lines[i] = scene.Wrap(clean(c.text), size, c.bold, c.w)
			most = max(most, len(lines[i]))
		}
	}
	step := size * leading
	p.need(float64(min(most, 12)) * step)
	for k := range most {
		p.need(step)
		for i, c := range pieces {
			if k >= len(lines[i]) {
				continue
			}
			t := scene.Text{At: scene.Point{X: c.x, Y: p.y + size}, Size: size, Bold: c.bold, Colour: c.colour, Text: lines[i][k]}
			if c.right {
				t.At.X, t.Anchor = c.x+c.w, scene.End
			}
			p.text(t, 0)
		}
		p.y += step
	}
	p.y += after
}

// facts prints named values.
func (p *press) facts(list []document.Fact) {
	wide := min(p.w-2*marginX, 190)
	for _, f := range list {
		value, colour := f.Cell.Print(f.Column), scene.Ink
		switch f.State {
		case schedule.Unknown:
			colour = scene.Warn
		case schedule.Known:
			if f.Type != schedule.Text {
				value = f.Unit.Print(f.Value)
			}
		}
		head := piece{f.Head, marginX, 44, false, scene.Dim, false}
		if long := scene.Measure(value, bodyMM, true) > 48; long {
			p.row([]piece{head, {value, marginX + 47, wide - 47, true, colour, false}}, bodyMM, 0)
			p.row([]piece{{f.Note, marginX + 47, wide - 47, false, scene.Dim, false}}, smallMM, 0)
		} else {
			p.row([]piece{head, {value, marginX + 47, 49, true, colour, false}, {f.Note, marginX + 98, wide - 98, false, scene.Dim, false}}, bodyMM, 0)
		}
		p.rule(p.y + 0.4)
		p.y += 1.2
	}
	if len(list) > 0 {
		p.y += 2
	}
}

// look is how a severity is shown.
var look = map[string]struct {
	colour scene.Role
	class  scene.Class
}{
	"error": {scene.Error, scene.OfError}, "warning": {scene.Warn, scene.OfWarn}, "note": {scene.Info, scene.OfInfo},
}

// finding prints one finding, its parts kept together.
func (p *press) finding(f *document.Finding) {
	wide := p.w - 2*marginX - 5
	x := marginX + 5.0
	as := look[f.Severity]
	p.need(14)
	if y := p.y + bodyMM - 1.1; f.Severity == "error" {
		p.line(scene.Line{Class: as.class, Closed: true, Points: []scene.Point{{X: marginX + 1.5, Y: y - 1.2}, {X: marginX + 2.8, Y: y + 1}, {X: marginX + 0.2, Y: y + 1}}})
	} else if f.Severity == "warning" {
		p.line(scene.Line{Class: as.class, Closed: true, Points: []scene.Point{{X: marginX + 1.5, Y: y - 1.3}, {X: marginX + 2.8, Y: y}, {X: marginX + 1.5, Y: y + 1.3}, {X: marginX + 0.2, Y: y}}})
	} else {
		p.Circle(marginX+1.5, y, 1, p.pen(as.class))
	}
	head := f.Severity
	if f.Waived != "" {
		head = "waived " + head
	}
	if f.Subject != "" {
		head += "  " + f.Subject
	}
	p.lines(head, x, wide, bodyMM, true, as.colour)
	p.lines(f.Message, x, wide, bodyMM, false, scene.Ink)
	if f.Next != "" {
		p.lines("next: "+f.Next, x, wide, smallMM, false, scene.Ink)
	}
	if f.Waived != "" {
		p.lines("waived: "+f.Waived, x, wide, smallMM, false, scene.Ink)
	}
	p.lines(strings.TrimPrefix(f.Place+", "+f.Rule, ", "), x, wide, tinyMM, false, scene.Dim)
	for _, r := range f.Related {
		p.lines(r, x+4, wide-4, tinyMM, false, scene.Dim)
	}
	for _, m := range f.Memory {
		p.lines("from memory: "+m, x+4, wide-4, tinyMM, false, scene.Dim)
	}
	p.y += 2.4
}

// Sizes that a table may be set in, and the room between its columns.
var tableMM = []float64{2.5, 2.2, 1.95}

const between = 2.4

// table prints a table: as wide as it needs, else smaller, else in several pieces that
// each begin with the first column.
func (p *press) table(t *schedule.Table, titled bool) {
	if titled && t.Title != "" {
		p.need(24)
		p.lines(t.Title, marginX, p.w-2*marginX, bodyMM, true, scene.Ink)
	}
	for _, b := range t.Basis {
		p.lines(b, marginX, p.w-2*marginX, tinyMM, false, scene.Dim)
	}
	if len(t.Columns) == 0 {
		return
	}
	p.y += 1
	room := p.w - 2*marginX
	size := tableMM[0]
	var least, most []float64
	for _, size = range tableMM {
		least, most = extent(t, size)
		if sum(least)+between*float64(len(least)-1) <= room {
			break
		}
	}
	for from := 1; ; {
		part := []int{0}
		used := least[0]
		to := from
		for to < len(t.Columns) && used+between+least[to] <= room {
			used += between + least[to]
			part = append(part, to)
			to++
		}
		if to == from && to < len(t.Columns) { // wider than the page by itself
			part = append(part, to)
			used += between + least[to]
			to++
		}
		p.columns(t, part, spread(part, least, most, room-between*float64(len(part)-1)), size)
		if from = to; from >= len(t.Columns) {
			break
		}
		p.need(24)
		p.lines("continued with further columns", marginX, room, tinyMM, false, scene.Dim)
		p.y += 1
	}
	p.y += 2
}

func sum(list []float64) (s float64) {
	for _, x := range list {
		s += x
	}
	return s
}

// extent is the width that each column wants at least, its longest word or figure, and at
// most, its longest line.
func extent(t *schedule.Table, size float64) (least, most []float64) {
	const widest = 46 // of a word of a name, in mm; what is longer is shortened
	for c, col := range t.Columns {
		lo, hi := 0.0, 0.0
		see := func(s string, bold bool) {
			for word := range strings.FieldsSeq(s) {
				lo = max(lo, scene.Measure(word, size, bold))
			}
			if !bold {
				hi = max(hi, scene.Measure(s, size, bold))
			}
		}
		see(col.Heading(), true)
		for _, row := range t.Rows {
			see(row[c].Print(col), c == 0)
			if c == 0 {
				hi = max(hi, scene.Measure(row[c].Print(col), size, true))
			}
		}
		lo = roomy(min(lo, widest))
		least, most = append(least, lo), append(most, max(lo, roomy(hi)))
	}
	return least, most
}

// spread shares the room that is left among the columns that want more.
func spread(part []int, least, most []float64, room float64) []float64 {
	widths := make([]float64, len(part))
	want := 0.0
	for i, c := range part {
		widths[i] = least[c]
		room -= least[c]
		want += most[c] - least[c]
	}
	if want > 0 && room > 0 {
		share := min(1, room/want)
		for i, c := range part {
			widths[i] += (most[c] - least[c]) * share
		}
	}
	return widths
}

// columns prints some columns of a table, the heads again on every page.
func (p *press) columns(t *schedule.Table, part []int, widths []float64, size float64) {
	at := make([]float64, len(part))
	x := float64(marginX)
	for i := range part {
		at[i] = x
		x += widths[i] + between
	}
	cells := func(text func(c int) string, bold func(i int) bool, colour func(c int) scene.Role) []piece {
		pieces := make([]piece, len(part))
		for i, c := range part {
			pieces[i] = piece{text(c), at[i], widths[i] + 0.01, bold(i), colour(c), t.Columns[c].Type != schedule.Text}
		}
		return pieces
	}
	head := func() {
		p.row(cells(func(c int) string { return t.Columns[c].Heading() }, func(int) bool { return true }, func(int) scene.Role { return scene.Dim }), size, 0.4)
		p.line(scene.Line{Class: scene.Thin, Points: []scene.Point{{X: marginX, Y: p.y}, {X: x - between, Y: p.y}}})
		p.y += 0.8
	}
	p.need(20)
	head()
	for _, row := range t.Rows {
		pieces := cells(func(c int) string { return row[c].Print(t.Columns[c]) }, func(i int) bool { return part[i] == 0 },
			func(c int) scene.Role {
				if row[c].State == schedule.Unknown {
					return scene.Warn
				}
				return scene.Ink
			})
		most := 1
		for _, c := range pieces {
			most = max(most, len(scene.Wrap(clean(c.text), size, c.bold, c.w)))
		}
		if p.need(float64(min(most, 12))*size*leading + 1) {
			head()
		}
		p.row(pieces, size, 0.3)
		p.line(scene.Line{Class: scene.Rule, Points: []scene.Point{{X: marginX, Y: p.y}, {X: x - between, Y: p.y}}})
		p.y += 0.5
	}
	p.y += 2
}

// working prints the rows of a calculation sheet.
func (p *press) working(list []document.Row) {
	if len(list) == 0 {
		return
	}
	wide := p.w - 2*marginX
	const size = 2.45
	for i, r := range list {
		if r.Head != "" {
			p.need(14)
			p.y += 1.6
			p.lines(r.Head, marginX, wide, size, true, scene.Info)
			p.rule(p.y)
			p.y += 0.6
			continue
		}
		value := ""
		if r.Known {
			value = r.Shown
		}
		p.row([]piece{
			{r.Name, marginX, 41, false, scene.Ink, false},
			{value, marginX + 42, 17, true, scene.Ink, true},
			{r.Unit, marginX + 60, 16, false, scene.Ink, false},
			{r.How, marginX + 78, 58, false, scene.Dim, false},
			{r.Ref, marginX + 138, wide - 138, false, scene.Dim, false},
		}, size, 0.25)
		if i+1 < len(list) && list[i+1].Head == "" {
			p.rule(p.y)
			p.y += 0.35
		}
	}
	p.y += 3
}

// nodes tells the numbers of a profile.
func (p *press) nodes(of *document.Plot) {
	var list []string
	for i, n := range of.Nodes {
		list = append(list, fmt.Sprintf("%d %s", i+1, n.Name))
	}
	if len(list) > 0 {
		p.lines(strings.Join(list, "    "), marginX, p.w-2*marginX, tinyMM, false, scene.Dim)
	}
	p.y += 2
}
