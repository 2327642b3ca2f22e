package draw

import (
	"math"

	"trefoil/lint/scene"
)

// symbol is one kind of symbol, drawn by the practice of IEC 60617 (from memory).
type symbol uint8

const (
	breaker symbol = iota
	fuse
	switchDisconnector
	residual // a breaker with a residual-current device
	inverter
	battery
	generator
	grid
	transformer
	earth
	busbar
	load
	reference
	notes // how many symbols there are
)

// symbols holds the word, the width and the height of each symbol, in mm at full size.
// The wire enters at the left, in the middle of the height unless the axis says otherwise.
var symbols = [notes]struct {
	word       string
	wide, high float64
	axis       float64 // of the wire, from the top
}{
	breaker:            {"circuit-breaker", 8, 4.2, 3},
	fuse:               {"fuse", 8, 2.2, 1.1},
	switchDisconnector: {"switch-disconnector", 8, 4.2, 3},
	residual:           {"circuit-breaker with residual-current device", 11, 4.2, 3},
	inverter:           {"inverter", 9, 9, 4.5},
	battery:            {"battery inverter", 12, 9, 4.5},
	generator:          {"generator", 9, 9, 4.5},
	grid:               {"network", 9, 9, 4.5},
	transformer:        {"transformer", 13, 8, 4},
	earth:              {"earth", 5, 6, 0},
	busbar:             {"busbar of a board", 2, 9, 4.5},
	load:               {"load", 8, 3, 1.5},
	reference:          {"continued elsewhere", 16, 6.4, 3.2},
}

// symbol draws a symbol whose wire enters at x, y, and keeps its room. It gives its width.
func (p *page) symbol(kind symbol, x, y, scale float64) float64 {
	p.used[kind] = true
	of := symbols[kind]
	n := len(p.Items)
	p.shape(kind)
	for i := n; i < len(p.Items); i++ { // scaled about the place where the wire enters
		grow := func(q scene.Point) scene.Point { return scene.Point{X: x + q.X*scale, Y: y + q.Y*scale} }
		switch s := p.Items[i].(type) {
		case scene.Line:
			for k := range s.Points {
				s.Points[k] = grow(s.Points[k])
			}
		case scene.Circle:
			s.Centre, s.R = grow(s.Centre), s.R*scale
			p.Items[i] = s
		case scene.Rect:
			at := grow(scene.Point{X: s.At.X, Y: s.At.Y})
			s.At = scene.Box{X: at.X, Y: at.Y, W: s.At.W * scale, H: s.At.H * scale}
			p.Items[i] = s
		case scene.Text:
			s.At, s.Size = grow(s.At), s.Size*scale
			p.Items[i] = s
		}
	}
	box := scene.Box{X: x, Y: y - of.axis*scale, W: of.wide * scale, H: of.high * scale}
	if kind == earth {
		box.X -= box.W / 2
	}
	p.Keep(box)
	return of.wide * scale
}

// shape draws a symbol about the origin.
func (p *page) shape(kind symbol) {
	contact := func() { // hinge at the right, open blade
		p.Path(scene.Wire, 0, 0, 2, 0)
		p.Path(scene.Wire, 6, 0, 8, 0)
		p.Path(scene.Wire, 6, 0, 2.4, -2.5)
	}
	sine := func(x, y, wide float64) {
		l := scene.Line{Class: scene.Thin}
		for k := range 17 {
			t := float64(k) / 16
			l.Points = append(l.Points, scene.Point{X: x + wide*t, Y: y - 0.8*math.Sin(2*math.Pi*t)})
		}
		p.Add(l)
	}
	converter := func() {
		p.Add(scene.Rect{Class: scene.Body, At: scene.Box{X: 0, Y: -4.5, W: 9, H: 9}})
		p.Path(scene.Thin, 0, 4.5, 9, -4.5)
		sine(1, -2.2, 3.2)
		p.Path(scene.Thin, 4.8, 2.1, 8, 2.1)
		for k := range 3 {
			x := 4.8 + 1.2*float64(k)
			p.Path(scene.Thin, x, 2.9, x+0.8, 2.9)
		}
	}
	switch kind {
	case breaker, residual:
		contact()
		p.Path(scene.Wire, 1.2, -0.8, 2.8, 0.8)
		p.Path(scene.Wire, 1.2, 0.8, 2.8, -0.8)
		if kind == residual {
			p.Path(scene.Wire, 8, 0, 11, 0)
			p.Add(scene.Circle{Class: scene.Thin, Centre: scene.Point{X: 9.3, Y: 0}, R: 1})
			p.Path(scene.Dashed, 9.3, -1, 9.3, -2.6, 4.2, -2.6, 4.2, -1.3)
		}
	case switchDisconnector:
		contact()
		p.Path(scene.Wire, 2, -1.1, 2, 1.1)
		p.Add(scene.Circle{Class: scene.Thin, Centre: scene.Point{X: 2.7, Y: 0}, R: 0.6})
	case fuse:
		p.Add(scene.Rect{Class: scene.Body, At: scene.Box{X: 1.5, Y: -1.1, W: 5, H: 2.2}})
		p.Path(scene.Wire, 0, 0, 8, 0)
	case inverter:
		converter()
	case battery:
		converter()
		p.Path(scene.Thin, 9, 0, 10.3, 0)
		p.Path(scene.Wire, 10.3, -2.4, 10.3, 2.4)
		p.Path(scene.Bar, 11.3, -1, 11.3, 1)
	case generator:
		p.Add(scene.Circle{Class: scene.Body, Centre: scene.Point{X: 4.5, Y: 0}, R: 4.5})
		p.Say(scene.Text{At: scene.Point{X: 4.5, Y: 0.2}, Size: 3.6, Bold: true, Anchor: scene.Middle, Text: "G", Inside: true}, 9)
		sine(2.9, 2.2, 3.2)
	case grid:
		p.Add(scene.Rect{Class: scene.Body, At: scene.Box{X: 0, Y: -4.5, W: 9, H: 9}})
		for _, k := range []float64{3, 6, 9} {
			p.Path(scene.Thin, 0, k-4.5, k, -4.5)
			p.Path(scene.Thin, 9-k, 4.5, 9, 4.5-k)
			p.Path(scene.Thin, 0, 4.5-k, k, 4.5)
			p.Path(scene.Thin, 9-k, -4.5, 9, k-4.5)
		}
	case transformer:
		p.Add(scene.Circle{Class: scene.Body, Centre: scene.Point{X: 4, Y: 0}, R: 4})
		p.Add(scene.Circle{Class: scene.Body, Centre: scene.Point{X: 9, Y: 0}, R: 4})
		l := scene.Line{Class: scene.Wire} // the part of the first that the second covers
		for k := range 13 {
			t := -0.9 + 1.8*float64(k)/12
			l.Points = append(l.Points, scene.Point{X: 4 + 4*math.Cos(t), Y: 4 * math.Sin(t)})
		}
		p.Add(l)
	case earth:
		p.Path(scene.Wire, 0, 0, 0, 3)
		for k, half := range []float64{2.5, 1.6, 0.7} {
			y := 3 + 1.2*float64(k)
			p.Path(scene.Wire, -half, y, half, y)
		}
	case busbar:
		p.Path(scene.Bar, 1, -4.5, 1, 4.5)
	case load:
		p.Path(scene.Wire, 0, 0, 6, 0)
		p.Shape(scene.Solid, 5.4, -1.5, 8, 0, 5.4, 1.5)
	case reference:
		p.Shape(scene.Body, 0, -3.2, 13.4, -3.2, 16, 0, 13.4, 3.2, 0, 3.2)
	}
}

// legend draws the symbols that the sheet uses, with their words.
func (p *page) legend(x, y, wide, high float64) {
	const pitch, scale = 4.9, 0.5
	p.Say(scene.Text{At: scene.Point{X: x, Y: y + smallMM}, Size: smallMM, Bold: true, Colour: scene.Dim, Text: "Symbols"}, wide)
	if len(p.used) == 0 {
		for k, what := range []string{"a cable, with the number of its run", "its earth conductor that lies by itself", "a circuit of another project"} {
			at := scene.Point{X: x + 3, Y: y + 7.5 + 7*float64(k)}
			p.cable(disc{key: []int{1, 1, 0}[k], earth: k == 1}, at, 2.6)
			p.Say(scene.Text{At: scene.Point{X: x + 11, Y: at.Y + 0.8}, Size: smallMM, Text: what}, wide-12)
		}
		return
	}
	col, row, rows := 0, 0, int((high-5)/pitch)
	for kind := range notes {
		if !p.used[kind] {
			continue
		}
		of := symbols[kind]
		cx, cy := x+float64(col)*wide/2, y+7+float64(row)*pitch
		sx, sy := cx, cy
		if kind == earth {
			sx, sy = cx+of.wide*scale/2, cy-of.high*scale/2
		} else {
			sy = cy - of.high*scale/2 + of.axis*scale
		}
		p.symbol(kind, sx, sy, scale)
		p.Say(scene.Text{At: scene.Point{X: cx + 11, Y: cy + 0.8}, Size: smallMM, Text: of.word}, wide/2-12)
		if row++; row == rows {
			row, col = 0, col+1
		}
	}
}
