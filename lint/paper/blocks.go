package paper

import (
	"cmp"
	"slices"
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
	low    bool // its last line stands beside that of the tallest, not its first
}

// row prints pieces side by side, each broken within its column.
func (p *press) row(pieces []piece, size, after float64) {
	lines, sizes := make([][]string, len(pieces)), make([]float64, len(pieces))
	most := 0
	for i, c := range pieces {
		if c.text != "" {
			sizes[i] = size
			if w := scene.Measure(c.text, size, c.bold); c.right && w > c.w && !c.low { // a figure stays whole
				sizes[i] *= 0.999 * c.w / w
			}
			lines[i] = scene.Wrap(clean(c.text), sizes[i], c.bold, c.w)
			most = max(most, len(lines[i]))
		}
	}
	step := size * leading
	p.need(float64(min(most, 12)) * step)
	for k := range most {
		p.need(step)
		for i, c := range pieces {
			at := k
			if c.low {
				at -= most - len(lines[i])
			}
			if at < 0 || at >= len(lines[i]) {
				continue
			}
			t := scene.Text{At: scene.Point{X: c.x, Y: p.y + size}, Size: sizes[i], Bold: c.bold, Colour: c.colour, Text: lines[i][at]}
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
		head := piece{text: f.Head, x: marginX, w: 44, colour: scene.Dim}
		if long := scene.Measure(value, bodyMM, true) > 48; long {
			p.row([]piece{head, {text: value, x: marginX + 47, w: wide - 47, bold: true, colour: colour}}, bodyMM, 0)
			p.row([]piece{{text: f.Note, x: marginX + 47, w: wide - 47, colour: scene.Dim}}, smallMM, 0)
		} else {
			p.row([]piece{head, {text: value, x: marginX + 47, w: 49, bold: true, colour: colour}, {text: f.Note, x: marginX + 98, w: wide - 98, colour: scene.Dim}}, bodyMM, 0)
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
			hi = max(hi, scene.Measure(s, size, bold))
		}
		see(col.Heading(), true)
		hi = min(hi, 24) // of a head; more than that is broken
		for _, row := range t.Rows {
			see(row[c].Print(col), c == 0)
		}
		lo = roomy(min(lo, widest))
		least, most = append(least, lo), append(most, max(lo, roomy(hi)))
	}
	return least, most
}

// spread shares the room that is left among the columns that want more, those that want
// least first.
func spread(part []int, least, most []float64, room float64) []float64 {
	widths := make([]float64, len(part))
	order := make([]int, len(part))
	for i, c := range part {
		widths[i], order[i] = least[c], i
		room -= least[c]
	}
	want := func(i int) float64 { return most[part[i]] - least[part[i]] }
	slices.SortStableFunc(order, func(i, k int) int { return cmp.Compare(want(i), want(k)) })
	for k, i := range order {
		more := min(want(i), max(0, room)/float64(len(order)-k))
		widths[i] += more
		room -= more
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
	cell := func(i int) piece {
		return piece{x: at[i], w: widths[i] + 0.01, right: t.Columns[part[i]].Type != schedule.Text}
	}
	head := func() {
		pieces := make([]piece, len(part))
		for i, c := range part {
			pieces[i] = cell(i)
			pieces[i].text, pieces[i].bold, pieces[i].colour, pieces[i].low = t.Columns[c].Heading(), true, scene.Dim, true
		}
		p.row(pieces, size, 0.4)
		p.line(scene.Line{Class: scene.Thin, Points: []scene.Point{{X: marginX, Y: p.y}, {X: x - between, Y: p.y}}})
		p.y += 0.8
	}
	p.need(20)
	head()
	for _, row := range t.Rows {
		pieces := make([]piece, len(part))
		for i, c := range part {
			pieces[i] = cell(i)
			pieces[i].text, pieces[i].bold = row[c].Print(t.Columns[c]), c == 0
			if row[c].State == schedule.Unknown {
				pieces[i].colour = scene.Warn
			}
		}
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
			{text: r.Name, x: marginX, w: 40},
			{text: value, x: marginX + 41, w: 18.5, bold: true, right: true},
			{text: r.Unit, x: marginX + 60, w: 16},
			{text: r.How, x: marginX + 78, w: 58, colour: scene.Dim},
			{text: r.Ref, x: marginX + 138, w: wide - 138, colour: scene.Dim},
		}, size, 0.25)
		if i+1 < len(list) && list[i+1].Head == "" {
			p.rule(p.y)
			p.y += 0.35
		}
	}
	p.y += 3
}
