package paper

import (
	"fmt"
	"math"

	"trefoil/lint/document"
	"trefoil/lint/scene"
	"trefoil/ratings/quantity"
)

// The size of a figure in the text, mm.
const (
	figureW, figureH                 = 178, 78
	axisL, axisR, axisTop, axisUnder = 12, 6, 8, 11
)

// ticks are round values that cover a range, at most so many steps.
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

// profile draws how the voltage rises along a path.
func profile(of *document.Plot) *scene.Scene {
	s := &scene.Scene{Title: of.Title, Desc: of.Desc, WidthMM: figureW, HighMM: figureH}
	low, high, far := 0.0, of.Limit.Or(0), 0.0
	see := func(q document.Point) {
		low, high, far = min(low, q.Percent), max(high, q.Percent), max(far, q.M)
	}
	for _, q := range of.Trunk {
		see(q)
	}
	for _, b := range of.Branches {
		see(b.To)
	}
	ys, xs := ticks(low, high*1.05, 6), ticks(0, far, 8)
	low, high, far = ys[0], ys[len(ys)-1], xs[len(xs)-1]
	at := func(q document.Point) scene.Point {
		return scene.Point{X: axisL + q.M/far*(figureW-axisL-axisR), Y: axisTop + (high-q.Percent)/(high-low)*(figureH-axisTop-axisUnder)}
	}
	line := func(c scene.Class, points ...document.Point) {
		l := scene.Line{Class: c}
		for _, q := range points {
			l.Points = append(l.Points, at(q))
		}
		s.Add(l)
	}
	word := func(x, y float64, a scene.Anchor, colour scene.Role, text string) {
		s.Write(scene.Text{At: scene.Point{X: x, Y: y}, Size: tinyMM, Anchor: a, Colour: colour, Text: text}, figureW)
	}
	for _, y := range ys {
		line(scene.Rule, document.Point{M: 0, Percent: y}, document.Point{M: far, Percent: y})
		word(axisL-1.5, at(document.Point{Percent: y}).Y+0.8, scene.End, scene.Dim, quantity.Unit{Decimals: 3}.Print(y))
	}
	for _, x := range xs {
		word(at(document.Point{M: x}).X, figureH-axisUnder+3.6, scene.Middle, scene.Dim, quantity.Unit{Decimals: 3}.Print(x))
	}
	word(axisL-1.5, axisTop-3.5, scene.End, scene.Dim, "%")
	word(figureW-axisR, figureH-1.5, scene.End, scene.Dim, "m from the point of supply")
	last := math.Inf(-1)
	for i, n := range of.Nodes {
		x := at(n.Point).X
		s.Path(scene.Rule, x, axisTop, x, figureH-axisUnder)
		if x-last >= 5 {
			word(x, axisTop-1.5, scene.Middle, scene.Ink, fmt.Sprint(i+1))
			last = x
		}
	}
	if of.Limit.Known {
		y := at(document.Point{Percent: of.Limit.Value}).Y
		s.Path(scene.IsError, axisL, y, figureW-axisR, y)
		word(axisL+1.5, y-1, scene.Start, scene.Error, of.LimitText)
	}
	from := of.Trunk[len(of.Trunk)-1]
	worst := -1
	for i, b := range of.Branches {
		class := scene.Thin
		if b.Over {
			class = scene.IsError
		}
		line(class, from, b.To)
		if worst < 0 || b.To.Percent > of.Branches[worst].To.Percent {
			worst = i
		}
	}
	line(scene.Ground, of.Trunk...)
	for _, b := range of.Branches {
		class := scene.Body
		if b.Over {
			class = scene.OfError
		}
		s.Add(scene.Circle{Class: class, Centre: at(b.To), R: 0.9})
	}
	if worst >= 0 {
		b := of.Branches[worst]
		q, text, colour := at(b.To), quantity.Percent.Print(b.To.Percent), scene.Ink
		if b.Over {
			text, colour = text+", over", scene.Error
		}
		word(max(q.X-2, axisL+40), max(q.Y-1.8, axisTop+2), scene.End, colour, text)
	}
	return s
}

// loading draws how far runs are loaded.
func loading(of *document.Bars) *scene.Scene {
	const row, names, words, top = 4.6, 52.0, 44.0, 5.0
	s := &scene.Scene{Title: of.Title, Desc: of.Desc, WidthMM: figureW, HighMM: top + row*float64(len(of.Rows)) + 2}
	high := 100.0
	for _, r := range of.Rows {
		if quantity.Finite(r.Percent) {
			high = max(high, r.Percent)
		}
	}
	x := func(percent float64) float64 { return names + min(percent, high)/high*(figureW-names-words) }
	for _, v := range []float64{0, 50, 100} {
		class := scene.Rule
		if v == 100 {
			class = scene.IsError
		}
		s.Path(class, x(v), top-1, x(v), s.HighMM-1)
		s.Write(scene.Text{At: scene.Point{X: x(v), Y: top - 2}, Size: tinyMM, Anchor: scene.Middle, Colour: scene.Dim, Text: quantity.Percent.Print(v)}, 20)
	}
	for i, r := range of.Rows {
		y := top + row*float64(i)
		class, colour, label := scene.OfInfo, scene.Ink, quantity.Percent.Print(r.Percent)
		if r.Word != "" {
			class, colour, label = scene.OfError, scene.Error, label+", "+r.Word
		}
		s.Add(scene.Rect{Class: class, At: scene.Box{X: names, Y: y + 0.9, W: max(0.2, x(r.Percent)-names), H: row - 1.8}})
		s.Write(scene.Text{At: scene.Point{X: names - 2, Y: y + row/2 + 0.8}, Size: tinyMM, Anchor: scene.End, Text: clean(r.Name)}, names-2)
		s.Write(scene.Text{At: scene.Point{X: figureW - words + 2, Y: y + row/2 + 0.8}, Size: tinyMM, Colour: colour, Text: label}, words-2)
	}
	return s
}
