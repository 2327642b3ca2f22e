// Package scene holds a drawing as lines, shapes and texts with positions in mm, so that
// the same drawing goes to SVG and to PDF.
//
// It stands between the rooms that lay drawings out and the writers, knows nothing of
// designs, and calculates nothing but the room that text takes.
package scene

import (
	"math"
	"strings"
)

// Role is what a colour is for; each medium has its own colours for them.
type Role string

// The roles of colours.
const (
	None  Role = ""
	Paper Role = "paper"
	Ink   Role = "ink"
	Dim   Role = "dim"   // text and lines of less weight
	Faint Role = "faint" // helping lines
	Tint  Role = "tint"  // a quiet fill
	Error Role = "error"
	Warn  Role = "warn"
	Info  Role = "info"
)

// Colours of a medium, as hexadecimal RGB.
var (
	Light = map[Role]string{
		Paper: "#ffffff", Ink: "#14202c", Dim: "#46535f", Faint: "#b4bfc9", Tint: "#e9eef3",
		Error: "#a8071a", Warn: "#7a4b00", Info: "#0b5394",
	}
	Dark = map[Role]string{
		Paper: "#11161c", Ink: "#e8edf2", Dim: "#b0bbc6", Faint: "#4d5a66", Tint: "#222c36",
		Error: "#ff9189", Warn: "#ffc46b", Info: "#86c5ff",
	}
	roles = []Role{Paper, Ink, Dim, Faint, Tint, Error, Warn, Info}
)

// Class is the name of a style.
type Class string

// Style is how a shape is drawn.
type Style struct {
	Stroke, Fill Role
	WidthMM      float64
	DashMM       [2]float64 // drawn and left out; none where 0
}

// The styles of drawings.
const (
	Wire    Class = "wire"    // a conductor
	Bar     Class = "bar"     // a busbar
	Thin    Class = "thin"    // parts of symbols, dimension lines
	Solid   Class = "solid"   // filled parts of symbols
	Body    Class = "body"    // outlines of symbols and cables
	Other   Class = "other"   // outlines of what is not of this design
	Frame   Class = "frame"   // the sheet's border
	Cell    Class = "cell"    // boxes of the title block
	Rule    Class = "rule"    // helping lines
	Dashed  Class = "dashed"  // what is not stated
	Ground  Class = "ground"  // surfaces, trays
	Ghost   Class = "ghost"   // a quiet fill
	IsError Class = "iserror" // marks
	IsWarn  Class = "iswarn"
	IsInfo  Class = "isinfo"
	OfError Class = "oferror" // filled parts of marks
	OfWarn  Class = "ofwarn"
	OfInfo  Class = "ofinfo"
	Trace   Class = "trace" // a figure over a length
	Spur    Class = "spur"  // from it to one of many places
	Over    Class = "over"  // the same, above a limit
	Limit   Class = "limit"
	Blank   Class = "blank" // keeps words clear of the lines behind them
)

// Styles holds the style of every class.
var Styles = map[Class]Style{
	Wire: {Stroke: Ink, WidthMM: 0.35}, Bar: {Stroke: Ink, WidthMM: 1.3},
	Thin: {Stroke: Ink, WidthMM: 0.2}, Solid: {Fill: Ink},
	Body: {Stroke: Ink, Fill: Paper, WidthMM: 0.3}, Other: {Stroke: Dim, Fill: Paper, WidthMM: 0.2, DashMM: [2]float64{1, 0.6}},
	Frame: {Stroke: Ink, WidthMM: 0.6}, Cell: {Stroke: Ink, WidthMM: 0.25}, Rule: {Stroke: Faint, WidthMM: 0.2},
	Dashed: {Stroke: Ink, WidthMM: 0.25, DashMM: [2]float64{1.4, 0.8}}, Ground: {Stroke: Ink, WidthMM: 0.5}, Ghost: {Fill: Tint},
	IsError: {Stroke: Error, Fill: Paper, WidthMM: 0.3}, IsWarn: {Stroke: Warn, Fill: Paper, WidthMM: 0.3}, IsInfo: {Stroke: Info, Fill: Paper, WidthMM: 0.3},
	OfError: {Fill: Error}, OfWarn: {Fill: Warn}, OfInfo: {Fill: Info},
	Trace: {Stroke: Info, WidthMM: 0.5}, Spur: {Stroke: Info, WidthMM: 0.25}, Over: {Stroke: Error, WidthMM: 0.25},
	Limit: {Stroke: Error, WidthMM: 0.35, DashMM: [2]float64{1.8, 1.1}}, Blank: {Fill: Paper},
}

// classes lists the styles in a fixed order.
var classes = []Class{Wire, Bar, Thin, Solid, Body, Other, Frame, Cell, Rule, Dashed, Ground, Ghost, IsError, IsWarn, IsInfo, OfError, OfWarn, OfInfo, Trace, Spur, Over, Limit, Blank}

// Point is a place in mm from the upper left corner, y downwards.
type Point struct{ X, Y float64 }

// Box is a rectangle in mm.
type Box struct{ X, Y, W, H float64 }

// Meets says that two boxes overlap by more than a hair.
func (b Box) Meets(c Box) bool {
	const hair = 0.01
	return b.X+hair < c.X+c.W && c.X+hair < b.X+b.W && b.Y+hair < c.Y+c.H && c.Y+hair < b.Y+b.H
}

// Within says that a box lies in another one.
func (b Box) Within(c Box) bool {
	const hair = 0.01
	return b.X >= c.X-hair && b.Y >= c.Y-hair && b.X+b.W <= c.X+c.W+hair && b.Y+b.H <= c.Y+c.H+hair
}

// Anchor says which end of a text stands at its place.
type Anchor uint8

// A text begins, is centred or ends at its place.
const (
	Start Anchor = iota
	Middle
	End
)

// Item is a part of a scene.
type Item interface{ Box() Box }

// Line is an open or closed train of straight lines.
type Line struct {
	Class  Class
	Points []Point
	Closed bool
}

// Box bounds the line.
func (l Line) Box() Box {
	lo, hi := Point{math.Inf(1), math.Inf(1)}, Point{math.Inf(-1), math.Inf(-1)}
	for _, p := range l.Points {
		lo, hi = Point{min(lo.X, p.X), min(lo.Y, p.Y)}, Point{max(hi.X, p.X), max(hi.Y, p.Y)}
	}
	return Box{lo.X, lo.Y, hi.X - lo.X, hi.Y - lo.Y}
}

// Rect is a rectangle with its sides along the sheet's.
type Rect struct {
	Class Class
	At    Box
	Round float64 // radius of its corners
}

// Box bounds the rectangle.
func (r Rect) Box() Box { return r.At }

// Circle is a circle.
type Circle struct {
	Class  Class
	Centre Point
	R      float64
}

// Box bounds the circle.
func (c Circle) Box() Box { return Box{c.Centre.X - c.R, c.Centre.Y - c.R, 2 * c.R, 2 * c.R} }

// Text is one line of text on a baseline.
type Text struct {
	At     Point
	Size   float64 // mm
	Bold   bool
	Colour Role
	Anchor Anchor
	Text   string
	Full   string // where Text is shortened
	Inside bool   // it stands in a symbol of its own
}

// Box bounds the text, as measured by the document's faces.
func (t Text) Box() Box {
	w := Measure(t.Text, t.Size, t.Bold)
	x := t.At.X
	switch t.Anchor {
	case Middle:
		x -= w / 2
	case End:
		x -= w
	}
	return Box{x, t.At.Y - Ascent*t.Size, w, (Ascent + Descent) * t.Size}
}

// Scene is one sheet.
type Scene struct {
	Name            string // for files and anchors: letters, digits and hyphens
	Title, Desc     string // for those who do not see it
	WidthMM, HighMM float64
	Items           []Item
	Symbols         []Box // the room that symbols and marks take, for which lines and texts make way
}

// Add puts items on the sheet.
func (s *Scene) Add(items ...Item) { s.Items = append(s.Items, items...) }

// Keep notes the room of a symbol.
func (s *Scene) Keep(b Box) { s.Symbols = append(s.Symbols, b) }

// Path draws lines through points given as x, y, x, y.
func (s *Scene) Path(c Class, xy ...float64) {
	l := Line{Class: c}
	for i := 0; i+1 < len(xy); i += 2 {
		l.Points = append(l.Points, Point{xy[i], xy[i+1]})
	}
	s.Add(l)
}

// Shape is a closed Path.
func (s *Scene) Shape(c Class, xy ...float64) {
	s.Path(c, xy...)
	l := s.Items[len(s.Items)-1].(Line)
	l.Closed = true
	s.Items[len(s.Items)-1] = l
}

// Say sets words and figures: smaller by up to a fifth where they are wider than so many
// mm, and cut after a whole word where that is not enough, so that no figure loses a part.
func (s *Scene) Say(t Text, widthMM float64) float64 {
	if w := Measure(t.Text, t.Size, t.Bold); w > widthMM {
		t.Size = max(0.8*t.Size, 0.999*t.Size*widthMM/w)
		t.Full = t.Text
		t.Text = Cut(t.Text, t.Size, t.Bold, widthMM)
		if t.Text == t.Full {
			t.Full = ""
		}
	}
	return s.Write(t, widthMM)
}

// Write sets a name, shortened in its middle to so many mm where it is wider; it gives the
// width taken.
func (s *Scene) Write(t Text, widthMM float64) float64 {
	if strings.TrimSpace(t.Text) == "" {
		return 0
	}
	if t.Colour == None {
		t.Colour = Ink
	}
	if short := Fit(t.Text, t.Size, t.Bold, widthMM); short != t.Text {
		if t.Full == "" {
			t.Full = t.Text
		}
		t.Text = short
	}
	s.Add(t)
	return t.Box().W
}

// Shift moves everything that was added after the first n items and m symbols.
func (s *Scene) Shift(n, m int, dx, dy float64) {
	move := func(p Point) Point { return Point{p.X + dx, p.Y + dy} }
	for i := n; i < len(s.Items); i++ {
		switch x := s.Items[i].(type) {
		case Line:
			for k := range x.Points {
				x.Points[k] = move(x.Points[k])
			}
		case Rect:
			x.At.X, x.At.Y = x.At.X+dx, x.At.Y+dy
			s.Items[i] = x
		case Circle:
			x.Centre = move(x.Centre)
			s.Items[i] = x
		case Text:
			x.At = move(x.At)
			s.Items[i] = x
		}
	}
	for i := m; i < len(s.Symbols); i++ {
		s.Symbols[i].X, s.Symbols[i].Y = s.Symbols[i].X+dx, s.Symbols[i].Y+dy
	}
}
