// Package chart draws the charts of a report as scenes: how the voltage rises along a path,
// and how far runs are loaded.
//
// It stands before document: ... -> assessment -> findings -> chart -> document -> writers,
// which print one and the same scene as SVG and as PDF. It is given figures and calculates
// nothing but where they stand.
package chart

import (
	"cmp"
	"math"
	"slices"
	"strconv"

	"trefoil/lint/scene"
	"trefoil/ratings/quantity"
)

// Measures in mm. The width is what A4 leaves between its margins.
const (
	Width   = 178.0
	size    = 2.6 // of text
	middle  = 0.9 // from the middle of a line of text to its baseline
	beside  = 2.0 // between text and what it belongs to
	dot     = 0.9 // radius
	tall    = (scene.Ascent + scene.Descent) * size
	profile = 80.0
)

// Profile is the voltage along a path: percent over metres from the point of supply.
type Profile struct {
	Name        string // as of a scene
	Title, Desc string
	Nodes       []Point // on the trunk, numbered from 1
	Trunk       []Point // one at least
	Branches    []Branch
	Limit       quantity.Maybe
	LimitText   string
}

// Point is a place in a profile.
type Point struct{ M, Percent float64 }

// Branch leads from the end of the trunk to a source.
type Branch struct {
	Name string
	To   Point
	Over bool // a finding says that it is above the limit
}

// Scene draws the profile.
func (p *Profile) Scene() *scene.Scene {
	const left, top, foot = 15.0, 9.0, profile - 12
	s := canvas{&scene.Scene{Name: p.Name, Title: p.Title, Desc: p.Desc, WidthMM: Width, HighMM: profile}}
	right := Width - 5
	if p.Limit.Known {
		right = Width - min(40, scene.Measure(p.LimitText, size, true)+2*beside)
	}
	low, high, far := 0.0, p.Limit.Or(0), 0.0
	see := func(q Point) { low, high, far = min(low, q.Percent), max(high, q.Percent), max(far, q.M) }
	for _, q := range p.Trunk {
		see(q)
	}
	for _, b := range p.Branches {
		see(b.To)
	}
	ys, xs := ticks(low, high, 6), ticks(0, far, 8)
	most, step := high, ys[1]-ys[0]
	low, high, far = ys[0], ys[len(ys)-1], max(far, xs[1])*1.02
	at := func(q Point) scene.Point {
		return scene.Point{X: left + q.M/far*(right-left), Y: top + (high-q.Percent)/(high-low)*(foot-top)}
	}
	for at(Point{Percent: most}).Y < top+6 { // room for the words above the highest point
		high += step
		ys = append(ys, high)
	}

	limit := math.Inf(-1)
	if p.Limit.Known {
		limit = at(Point{Percent: p.Limit.Value}).Y
	}
	for _, y := range ys {
		h := at(Point{Percent: y}).Y
		if math.Abs(h-limit) > 0.1 { // a broken line shows where nothing lies below it
			s.Path(scene.Rule, left, h, right, h)
		}
		s.word(left-beside, h+middle, left-3, scene.End, scene.Dim, quantity.Unit{Decimals: 3}.Print(y))
	}
	s.word(left-beside, top-4, left-3, scene.End, scene.Dim, "%")
	zero := at(Point{}).Y
	s.Path(scene.Thin, left, zero, right, zero)
	for _, x := range xs {
		if w := at(Point{M: x}).X; w <= right {
			s.Path(scene.Thin, w, foot, w, foot+1)
			s.word(w, foot+4.2, 18, scene.Middle, scene.Dim, quantity.Unit{Decimals: 3}.Print(x))
		}
	}
	s.word(right, foot+9, Width/2, scene.End, scene.Dim, "m from the point of supply")
	var nodes []float64
	for _, q := range p.Nodes {
		x := at(q).X
		s.Path(scene.Rule, x, top, x, foot)
		nodes = append(nodes, x)
	}
	s.numbers(nodes, left-1, top-beside)
	if p.Limit.Known {
		s.Path(scene.Limit, left, limit, right, limit)
		s.Say(scene.Text{At: scene.Point{X: right + beside, Y: limit + middle}, Size: size, Bold: true, Colour: scene.Error, Text: p.LimitText}, Width-right-beside)
	}

	from := at(p.Trunk[len(p.Trunk)-1])
	for _, over := range []bool{true, false} { // a line to a source within the limit stays seen on a longer one
		for _, b := range p.Branches {
			if to := at(b.To); b.Over == over {
				s.Path(b.class(scene.Spur, scene.Over), from.X, from.Y, to.X, to.Y)
			}
		}
	}
	trunk := scene.Line{Class: scene.Trace}
	for _, q := range p.Trunk {
		trunk.Points = append(trunk.Points, at(q))
	}
	s.Add(trunk)
	if len(p.Branches) == 0 {
		return s.Scene
	}
	for _, b := range p.Branches {
		s.Add(scene.Circle{Class: b.class(scene.IsInfo, scene.OfError), Centre: at(b.To), R: dot})
	}
	worst := slices.MaxFunc(p.Branches, func(a, b Branch) int { return cmp.Compare(a.To.Percent, b.To.Percent) })
	label := quantity.Percent.Print(worst.To.Percent)
	if worst.Over {
		label += ", over"
	}
	s.greatest(worst.Name, label, worst.colour(), at(worst.To), left, right, limit)
	return s.Scene
}

// class and colour tell a branch over the limit from one within it.
func (b Branch) class(within, over scene.Class) scene.Class {
	if b.Over {
		return over
	}
	return within
}

func (b Branch) colour() scene.Role {
	if b.Over {
		return scene.Error
	}
	return scene.Ink
}

// greatest names the highest point, above it, for nothing stands higher but the limit: where
// the words would lie on its line, they go above that too.
func (c canvas) greatest(name, label string, colour scene.Role, of scene.Point, left, right, limit float64) {
	name = scene.Fit(name, size, false, 40)
	names, labels := scene.Measure(name, size, false), scene.Measure(label, size, true)
	x := max(left+1, min(of.X-(names+labels)/2, right-names-labels-2))
	room := scene.Box{X: x, Y: of.Y - dot - 0.6 - tall, W: names + labels + 2, H: tall}
	if room.Y-0.3 < limit && limit < room.Y+room.H+0.3 {
		room.Y = limit - 0.5 - tall
	}
	base := room.Y + scene.Ascent*size
	c.Add(scene.Rect{Class: scene.Blank, At: room})
	c.word(x+0.5+names, base, 40, scene.End, colour, name)
	c.Write(scene.Text{At: scene.Point{X: x + 1.5 + names, Y: base}, Size: size, Bold: true, Colour: colour, Text: label}, Width)
}

// Bars shows how far runs are loaded.
type Bars struct {
	Name        string // as of a scene
	Title, Desc string
	Most        float64 // percent at the end of the scale, alike for all charts of a report
	Rows        []Bar
}

// Bar is one run.
type Bar struct {
	Name    string
	Percent float64
	Word    string // "overloaded" where a finding says so
}

// Scene draws the bars.
func (b *Bars) Scene() *scene.Scene {
	const row, names, words, top = 4.8, 52.0, 46.0, 6.0
	foot := top + row*float64(len(b.Rows))
	s := canvas{&scene.Scene{Name: b.Name, Title: b.Title, Desc: b.Desc, WidthMM: Width, HighMM: foot + 2}}
	most := max(100, b.Most)
	x := func(percent float64) float64 {
		return names + max(0, min(percent, most))/most*(Width-names-words)
	}
	hundred := scene.Text{At: scene.Point{X: x(100), Y: top - beside}, Size: size, Anchor: scene.Middle, Text: quantity.Percent.Print(100)}
	for _, v := range ticks(0, most, 5) {
		if v == 100 || v > most {
			continue
		}
		t := scene.Text{At: scene.Point{X: x(v), Y: top - beside}, Size: size, Anchor: scene.Middle, Colour: scene.Dim, Text: quantity.Percent.Print(v)}
		if t.Box().Meets(hundred.Box()) {
			continue
		}
		s.Path(scene.Rule, x(v), top-1, x(v), foot+1)
		s.Write(t, Width)
	}
	for i, r := range b.Rows {
		y := top + row*float64(i)
		class, colour, label := scene.OfInfo, scene.Ink, quantity.Percent.Print(r.Percent)
		if r.Word != "" {
			class, colour, label = scene.OfError, scene.Error, label+", "+r.Word
		}
		s.Add(scene.Rect{Class: class, At: scene.Box{X: names, Y: y + 0.9, W: max(0.2, x(r.Percent)-names), H: row - 1.8}})
		s.word(names-beside, y+row/2+middle, names-beside, scene.End, scene.Ink, r.Name)
		s.Say(scene.Text{At: scene.Point{X: Width - words + beside, Y: y + row/2 + middle}, Size: size, Colour: colour, Text: label}, words-beside)
	}
	s.Path(scene.Limit, x(100), top-1, x(100), foot+1)
	s.Write(hundred, Width)
	return s.Scene
}

// canvas is a scene in the making.
type canvas struct{ *scene.Scene }

// word sets a text in the usual size, shortened to so many mm.
func (c canvas) word(x, y, room float64, a scene.Anchor, colour scene.Role, text string) {
	c.Write(scene.Text{At: scene.Point{X: x, Y: y}, Size: size, Anchor: a, Colour: colour, Text: text}, room)
}

// numbers tells places from 1 on, from left to right; those too close for a number each
// have one for all: 2-4.
func (c canvas) numbers(at []float64, left, y float64) {
	var labels []scene.Text
	var first []int // place of each label, from 0
	label := func(from, to int) scene.Text {
		t := scene.Text{At: scene.Point{X: (at[from] + at[to]) / 2, Y: y}, Size: size, Anchor: scene.Middle, Text: strconv.Itoa(from + 1)}
		if to > from {
			t.Text += "-" + strconv.Itoa(to+1)
		}
		t.At.X = max(t.At.X, left+t.Box().W/2)
		return t
	}
	for i := range at {
		first, labels = append(first, i), append(labels, label(i, i))
		for n := len(labels); n > 1; n = len(labels) {
			if a, b := labels[n-2].Box(), labels[n-1].Box(); a.X+a.W+0.8 <= b.X {
				break
			}
			first, labels = first[:n-1], labels[:n-1]
			labels[n-2] = label(first[n-2], i)
		}
	}
	for _, t := range labels {
		c.Write(t, Width)
	}
}

// ticks are round values that cover a range, in so many steps or fewer, and one more
// where the range begins below nought.
func ticks(low, high float64, steps int) (list []float64) {
	if !(high > low) {
		high = low + 1
	}
	step := math.Pow(10, math.Floor(math.Log10((high-low)/float64(steps))))
	for _, k := range []float64{1, 2, 5, 10} {
		if (high-low)/(step*k) <= float64(steps) {
			step *= k
			break
		}
	}
	for i := math.Floor(low/step + 1e-9); i <= math.Ceil(high/step-1e-9); i++ {
		list = append(list, i*step)
	}
	return list
}
