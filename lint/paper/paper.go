// Package paper prints a report as PDF: pages of A4, wide tables and drawings on A3, with
// bookmarks, and on every page that it is an aid and how many errors stand open.
//
// It stands last, beside HTML: ... -> document -> writers. It prints what the document
// holds and calculates nothing but where it stands on the page. Equal documents give equal
// bytes.
package paper

import (
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"time"

	"github.com/go-pdf/fpdf"

	"trefoil/lint/document"
	"trefoil/lint/scene"
)

// Measures in mm.
const (
	marginX, marginTop, marginFoot = 16, 20, 17
	bodyMM, smallMM, tinyMM        = 3.1, 2.6, 2.2
	leading                        = 1.42 // from line to line, in times the size
)

// press prints one report.
type press struct {
	*fpdf.Fpdf
	d      *document.Document
	w, h   float64 // of the page
	y      float64 // where the next line begins
	starts []int   // the page on which each part begins, as far as known
	pages  int     // of the whole, 0 while not known
	bare   bool    // a sheet of a drawing, which has a frame of its own
	colour scene.Role
	size   float64
	heavy  bool
	class  scene.Class
}

// Write prints a report.
func Write(w io.Writer, d *document.Document) error {
	first := newPress(d) // finds out on which page things stand
	first.report()
	p := newPress(d)
	p.starts, p.pages = first.starts, first.PageNo()
	p.report()
	return p.Output(w)
}

func newPress(d *document.Document) *press {
	p := &press{Fpdf: fpdf.New("P", "mm", "A4", ""), d: d}
	p.SetAutoPageBreak(false, 0)
	p.SetCatalogSort(true)
	day, err := time.Parse(time.DateOnly, d.Stamp.Day)
	if err != nil {
		day = time.Unix(0, 0).UTC()
	}
	p.SetCreationDate(day)
	p.SetModificationDate(day)
	p.SetProducer(d.Tool.Name+" "+d.Tool.Version, true)
	p.SetTitle(visual(clean(d.Title))+": cabling report", true)
	p.SetLang("en")
	p.AddUTF8FontFromBytes("body", "", scene.Regular)
	p.AddUTF8FontFromBytes("body", "B", scene.Bold)
	return p
}

// sheet begins a page; a wide one is A3 on its side.
func (p *press) sheet(wide bool) {
	size := fpdf.SizeType{Wd: 210, Ht: 297}
	way := "P"
	if wide {
		size, way = fpdf.SizeType{Wd: 297, Ht: 420}, "L"
	}
	p.AddPageFormat(way, size)
	p.w, p.h = p.GetPageSize()
	p.y = marginTop
	p.colour, p.size, p.class = "", 0, "" // a page begins with none of them set
	if p.bare {
		return
	}
	head := p.d.Title
	if p.d.Stamp.Revision != "" {
		head += ", " + p.d.Stamp.Revision
	}
	if s := p.d.Standing; s != "" {
		p.text(scene.Text{At: scene.Point{X: p.w - marginX, Y: 12}, Size: tinyMM, Bold: true, Anchor: scene.End, Colour: scene.Error, Text: s}, p.w/3)
	}
	p.text(scene.Text{At: scene.Point{X: marginX, Y: 12}, Size: tinyMM, Colour: scene.Dim, Text: head}, p.w/2)
	p.rule(13.6)
	p.rule(p.h - 12.4)
	p.text(scene.Text{At: scene.Point{X: marginX, Y: p.h - 9}, Size: tinyMM, Colour: scene.Dim, Text: "An aid. Local codes and the licensed person responsible decide. " + p.d.Stamp.Day}, p.w-60)
	number := strconv.Itoa(p.PageNo())
	if p.pages > 0 {
		number += " / " + strconv.Itoa(p.pages)
	}
	p.text(scene.Text{At: scene.Point{X: p.w - marginX, Y: p.h - 9}, Size: tinyMM, Anchor: scene.End, Colour: scene.Dim, Text: number}, 40)
}

func (p *press) rule(y float64) {
	p.line(scene.Line{Class: scene.Rule, Points: []scene.Point{{X: marginX, Y: y}, {X: p.w - marginX, Y: y}}})
}

// need begins a new page where so many mm have no room on this one.
func (p *press) need(high float64) bool {
	if p.y+high <= p.h-marginFoot {
		return false
	}
	p.sheet(p.w > 300)
	return true
}

// ink sets the colour of text, and stroke and fill those of shapes.
func rgb(r scene.Role) (red, green, blue int) {
	n, _ := strconv.ParseUint(scene.Light[r][1:], 16, 32)
	return int(n >> 16), int(n >> 8 & 255), int(n & 255)
}

// text prints one line, shortened to so many mm.
func (p *press) text(t scene.Text, wide float64) {
	t.Text = clean(t.Text)
	if wide > 0 {
		t.Text = scene.Fit(t.Text, t.Size, t.Bold, wide)
	}
	if t.Text == "" {
		return
	}
	if t.Colour == scene.None {
		t.Colour = scene.Ink
	}
	if t.Colour != p.colour {
		p.SetTextColor(rgb(t.Colour))
		p.colour = t.Colour
	}
	if t.Size != p.size || t.Bold != p.heavy {
		style := ""
		if t.Bold {
			style = "B"
		}
		p.SetFont("body", style, t.Size*72/25.4)
		p.size, p.heavy = t.Size, t.Bold
	}
	x := t.Box().X
	if t.Anchor != scene.Start { // by what is printed, for forms may differ in width
		if w := p.GetStringWidth(visual(t.Text)); t.Anchor == scene.End {
			x = t.At.X - w
		} else {
			x = t.At.X - w/2
		}
	}
	p.Text(x, t.At.Y, visual(t.Text))
}

// pen sets the style of shapes, and says how a shape of it is drawn: D, F or both.
func (p *press) pen(c scene.Class) string {
	s := scene.Styles[c]
	if c != p.class {
		if s.Stroke != scene.None {
			p.SetDrawColor(rgb(s.Stroke))
			p.SetLineWidth(s.WidthMM)
			if s.DashMM[0] > 0 {
				p.SetDashPattern([]float64{s.DashMM[0], s.DashMM[1]}, 0)
			} else {
				p.SetDashPattern([]float64{}, 0)
			}
		}
		if s.Fill != scene.None {
			p.SetFillColor(rgb(s.Fill))
		}
		p.class = c
	}
	switch {
	case s.Fill == scene.None:
		return "D"
	case s.Stroke == scene.None:
		return "F"
	}
	return "DF"
}

func (p *press) line(l scene.Line) {
	how := p.pen(l.Class)
	if l.Closed {
		points := make([]fpdf.PointType, len(l.Points))
		for i, q := range l.Points {
			points[i] = fpdf.PointType{X: q.X, Y: q.Y}
		}
		p.Polygon(points, how)
		return
	}
	for i, q := range l.Points {
		if i == 0 {
			p.MoveTo(q.X, q.Y)
		} else {
			p.LineTo(q.X, q.Y)
		}
	}
	p.DrawPath("D")
}

// scene prints a scene with its corner at x, y.
func (p *press) scene(s *scene.Scene, x, y float64) {
	p.TransformBegin()
	p.TransformTranslate(x, y)
	p.colour, p.size, p.class = "", 0, ""
	for _, item := range s.Items {
		switch q := item.(type) {
		case scene.Line:
			p.line(q)
		case scene.Rect:
			how := p.pen(q.Class)
			if q.Round > 0 {
				p.RoundedRect(q.At.X, q.At.Y, q.At.W, q.At.H, q.Round, "1234", how)
			} else {
				p.Rect(q.At.X, q.At.Y, q.At.W, q.At.H, how)
			}
		case scene.Circle:
			p.Circle(q.Centre.X, q.Centre.Y, q.R, p.pen(q.Class))
		case scene.Text:
			p.text(q, 0)
		}
	}
	p.TransformEnd()
	p.colour, p.size, p.class = "", 0, ""
}

// report prints the whole.
func (p *press) report() {
	p.cover()
	for i := range p.d.Parts {
		p.part(i)
	}
}

// lines prints a text over so many mm, and goes on below it.
func (p *press) lines(s string, x, wide, size float64, heavy bool, colour scene.Role) {
	for _, l := range scene.Wrap(clean(s), size, heavy, wide) {
		p.need(size * leading)
		p.text(scene.Text{At: scene.Point{X: x, Y: p.y + size}, Size: size, Bold: heavy, Colour: colour, Text: l}, 0)
		p.y += size * leading
	}
}

// cover is the first page: what it is, how it stands, what is in it.
func (p *press) cover() {
	p.sheet(false)
	wide := p.w - 2*marginX
	p.Bookmark("Cover", 0, 0)
	p.y = 44
	p.lines("AC cabling of on-site generation: report", marginX, wide, 3.6, false, scene.Dim)
	p.y += 3
	p.lines(p.d.Title, marginX, wide, 9, true, scene.Ink)
	p.y += 4
	state := p.d.Stamp.Day
	if p.d.Stamp.Revision != "" {
		state += ", " + p.d.Stamp.Revision
	}
	p.lines(state, marginX, wide, 3.6, false, scene.Ink)
	p.lines("made with "+p.d.Tool.Name+" "+p.d.Tool.Version, marginX, wide, bodyMM, false, scene.Dim)
	p.y += 8
	class, colour := scene.Cell, scene.Ink
	if p.d.Standing != "" {
		class, colour = scene.IsError, scene.Error
	}
	words := scene.Wrap(clean(p.d.Verdict), 4.2, true, wide-10)
	high := float64(len(words))*4.2*leading + 7
	how := p.pen(class)
	p.Rect(marginX, p.y, wide, high, how)
	at := p.y + 3.5
	for _, l := range words {
		p.text(scene.Text{At: scene.Point{X: marginX + 5, Y: at + 4.2}, Size: 4.2, Bold: true, Colour: colour, Text: l}, 0)
		at += 4.2 * leading
	}
	p.y += high + 12
	p.lines("Contents", marginX, wide, 4.4, true, scene.Ink)
	p.y += 2
	for i := range p.d.Parts {
		base := p.y + bodyMM
		p.text(scene.Text{At: scene.Point{X: marginX, Y: base}, Size: bodyMM, Text: fmt.Sprintf("%d  %s", i+1, p.d.Parts[i].Title)}, wide-20)
		page := ""
		if i < len(p.starts) && p.pages > 0 {
			page = strconv.Itoa(p.starts[i])
			link := p.AddLink()
			p.SetLink(link, 0, p.starts[i])
			p.Link(marginX, p.y-0.5, wide, bodyMM*leading, link)
		}
		p.text(scene.Text{At: scene.Point{X: p.w - marginX, Y: base}, Size: bodyMM, Anchor: scene.End, Text: page}, 20)
		p.y += bodyMM * 1.7
	}
	p.y += 8
	for _, b := range []string{"checked: name, date, signature", "approved: name, date, signature"} {
		p.y += 14
		p.pen(scene.Thin)
		p.line(scene.Line{Class: scene.Thin, Points: []scene.Point{{X: marginX, Y: p.y}, {X: marginX + wide*0.62, Y: p.y}}})
		p.text(scene.Text{At: scene.Point{X: marginX, Y: p.y + 3.4}, Size: tinyMM, Colour: scene.Dim, Text: b}, wide)
		p.y += 3
	}
}

// part prints a chapter, from a new page on.
func (p *press) part(i int) {
	part := &p.d.Parts[i]
	drawn := len(part.Blocks) > 0 && part.Blocks[0].Drawing != nil
	if !drawn {
		p.sheet(part.Wide)
	}
	mark := func() {
		if p.pages == 0 {
			p.starts = append(p.starts, p.PageNo())
		}
		p.Bookmark(visual(clean(part.Title)), 0, 0)
	}
	if !drawn {
		mark()
		p.lines(fmt.Sprintf("%d  %s", i+1, part.Title), marginX, p.w-2*marginX, 5.4, true, scene.Ink)
		p.y += 3
	}
	for k := range part.Blocks {
		b := &part.Blocks[k]
		if b.Drawing != nil && b.Drawing.Scene != nil {
			p.bare = true
			p.sheet(true)
			p.bare = false
			if k == 0 {
				mark()
			}
			p.Bookmark(visual(clean(b.Drawing.Scene.Title)), 1, 0)
			p.scene(b.Drawing.Scene, 0, 0)
			continue
		}
		p.block(b, part)
	}
}

// block prints a piece of a chapter.
func (p *press) block(b *document.Block, part *document.Part) {
	wide := p.w - 2*marginX
	if b.Head != "" {
		p.need(26)
		if len(part.Blocks) > 1 {
			p.Bookmark(visual(clean(b.Head)), 1, p.y-2)
		}
		p.y += 2
		p.lines(b.Head, marginX, wide, 3.9, true, scene.Ink)
		p.y += 1.2
	}
	for _, t := range b.Text {
		p.lines(t, marginX, min(wide, 178), bodyMM, false, scene.Ink)
		p.y += 1.4
	}
	notes := b.Notes
	if b.Table != nil && len(notes) == 0 {
		notes = b.Table.Basis
	}
	for _, t := range notes {
		p.lines(t, marginX, wide, tinyMM, false, scene.Dim)
	}
	p.facts(b.Facts)
	for i := range b.Findings {
		p.finding(&b.Findings[i])
	}
	p.chart(b.Chart)
	if b.Table != nil {
		p.table(b.Table, b.Table.Title != part.Title)
	}
	p.working(b.Working)
	p.boxes(b.Boxes)
}

// chart prints a chart in the text, and tells its numbers.
func (p *press) chart(c *document.Chart) {
	if c == nil {
		return
	}
	p.need(c.Scene.HighMM + 8)
	p.lines(c.Scene.Title, marginX, p.w-2*marginX, smallMM, true, scene.Ink)
	p.scene(c.Scene, marginX, p.y)
	p.y += c.Scene.HighMM + 3
	if len(c.Key) > 0 {
		p.lines(strings.Join(c.Key, "; "), marginX, p.w-2*marginX, tinyMM, false, scene.Dim)
		p.y += 2
	}
}

// boxes prints lines to be filled in by hand.
func (p *press) boxes(list []string) {
	if len(list) == 0 {
		return
	}
	const each = 54.0
	x := float64(marginX)
	p.need(22)
	p.y += 14
	for _, b := range list {
		if x+each > p.w-marginX {
			x = marginX
			p.y += 16
			p.need(8)
		}
		p.line(scene.Line{Class: scene.Thin, Points: []scene.Point{{X: x, Y: p.y}, {X: x + each - 6, Y: p.y}}})
		p.text(scene.Text{At: scene.Point{X: x, Y: p.y + 3.2}, Size: tinyMM, Colour: scene.Dim, Text: b}, each-6)
		x += each
	}
	p.y += 8
}

// round up to a hair, so that what is measured twice alike has room.
func roomy(x float64) float64 { return math.Ceil(x*100) / 100 }
