package chart

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"trefoil/lint/scene"
	"trefoil/lint/trial"
	"trefoil/ratings/quantity"
)

// chain is a trunk of so many nodes, evenly spread, and branches of the percents given.
func chain(nodes int, each float64, branches ...float64) *Profile {
	p := &Profile{Name: "x", Trunk: []Point{{}}}
	at := Point{}
	for range nodes {
		at.M, at.Percent = at.M+each, at.Percent+0.01
		p.Nodes, p.Trunk = append(p.Nodes, at), append(p.Trunk, at)
	}
	for i, percent := range branches {
		p.Branches = append(p.Branches, Branch{Name: fmt.Sprint("inverter-", i), To: Point{at.M + 10 + float64(i), percent}})
	}
	return p
}

func limited(p *Profile, percent float64) *Profile {
	p.Limit, p.LimitText = quantity.Of(percent), "limit "+quantity.Percent.Print(percent)
	for i := range p.Branches {
		p.Branches[i].Over = p.Branches[i].To.Percent > percent
	}
	return p
}

// TestProfileClear: no text of a profile lies on another, on a line, or leaves it.
func TestProfileClear(t *testing.T) {
	long := chain(2, 30, 1.9)
	long.Branches[0].Name = strings.Repeat("wwwwwwww", 23)
	list := map[string]*Profile{
		"nothing":         chain(0, 0),
		"a trunk alone":   chain(3, 20),
		"no length":       limited(chain(1, 0, 0.5), 2),
		"just below":      limited(chain(2, 30, 1.2, 1.99, 1.5), 2),
		"just above":      limited(chain(2, 30, 1.2, 2.01, 1.5), 2),
		"far above":       limited(chain(2, 30, 1.2, 20), 2),
		"limit of nought": limited(chain(2, 30, 0.4), 0),
		"absorbs":         limited(chain(2, 30, -3, -9), 2),
		"far and low":     limited(chain(2, 1e5, -3, 1e-6), 1e-4),
		"small":           chain(2, 0.01, 1e-7),
		"sixty nodes":     limited(chain(60, 2, 1.5), 2),
		"two near ones":   chain(2, 0.5, 1.5),
		"long name":       limited(long, 2),
	}
	for percent := 1.0; percent < 3; percent += 0.05 {
		list[fmt.Sprintf("at %.2f", percent)] = limited(chain(3, 20, percent, percent/2), 2)
	}
	for what, p := range list {
		s := p.Scene()
		for _, f := range trial.Overlaps(s, scene.Box{W: s.WidthMM, H: s.HighMM}) {
			t.Errorf("%s: %s", what, f)
		}
		var limit, blank scene.Box
		for _, item := range s.Items {
			switch x := item.(type) {
			case scene.Line:
				if x.Class == scene.Limit {
					limit = x.Box()
				}
			case scene.Rect:
				blank = x.Box()
			}
		}
		if limit.H = 0.1; blank.Meets(limit) {
			t.Errorf("%s: the words at %v cover the limit at %v", what, blank, limit)
		}
	}
}

// TestProfilePlaces: a point stands where its figures say, by two marks on each axis: with
// 0 m and 50 m, 0 % and 1 % as labelled, all else lies in proportion.
func TestProfilePlaces(t *testing.T) {
	p := limited(chain(2, 35, 0.3, 1.7, 2.4), 2)
	s := p.Scene()
	label := func(text string, a scene.Anchor) scene.Point {
		for _, item := range s.Items {
			if x, ok := item.(scene.Text); ok && x.Text == text && x.Anchor == a {
				return scene.Point{X: x.At.X, Y: x.At.Y - middle}
			}
		}
		t.Fatal(text)
		return scene.Point{}
	}
	x0, x20 := label("0", scene.Middle).X, label("20", scene.Middle).X
	y0, y1 := label("0", scene.End).Y, label("1", scene.End).Y
	near := func(what string, at scene.Point, m, percent float64) {
		if math.Abs(at.X-(x0+m/20*(x20-x0))) > 1e-9 || math.Abs(at.Y-(y0+percent*(y1-y0))) > 1e-9 {
			t.Errorf("%s of %g m, %g %% stands at %v", what, m, percent, at)
		}
	}
	if y := label(p.LimitText, scene.Start).Y; math.Abs(y-(y0+2*(y1-y0))) > 1e-9 {
		t.Errorf("the limit stands at %g", y)
	}
	var dots []scene.Circle
	for _, item := range s.Items {
		switch x := item.(type) {
		case scene.Circle:
			dots = append(dots, x)
		case scene.Line:
			if x.Class == scene.Trace {
				for i, q := range x.Points {
					near("the trunk", q, p.Trunk[i].M, p.Trunk[i].Percent)
				}
			}
		}
	}
	if len(dots) != 3 {
		t.Fatalf("%d dots", len(dots))
	}
	for i, d := range dots {
		near("a source", d.Centre, p.Branches[i].To.M, p.Branches[i].To.Percent)
		if (d.Class == scene.OfError) != (p.Branches[i].To.Percent > 2) {
			t.Errorf("a source of %g %% is drawn as %s", p.Branches[i].To.Percent, d.Class)
		}
	}
	label("inverter-2", scene.End)
	label("2.4 %, over", scene.Start)
}

// TestNumbers: nodes that stand close share a number, and each has one.
func TestNumbers(t *testing.T) {
	said := func(p *Profile) (list []string) {
		for _, item := range p.Scene().Items {
			if x, ok := item.(scene.Text); ok && x.Anchor == scene.Middle && x.Colour == scene.Ink {
				list = append(list, x.Text)
			}
		}
		return list
	}
	if got := said(chain(3, 30, 1)); !slices.Equal(got, []string{"1", "2", "3"}) {
		t.Errorf("far apart: %q", got)
	}
	if got := said(chain(3, 0.1, 1)); !slices.Equal(got, []string{"1-3"}) {
		t.Errorf("close: %q", got)
	}
}

// TestBars: no text lies on another, and a bar is as long as its percent, to the end of
// the scale.
func TestBars(t *testing.T) {
	for _, most := range []float64{20, 100, 103, 250, 1100, 1e6} {
		b := Bars{Name: "x", Most: most, Rows: []Bar{
			{strings.Repeat("wwwwwwww", 23), most, "overloaded, waived"}, {"half", 50, ""}, {"quarter", 25, ""}, {"nothing", 0, ""}, {"beyond the scale", 3 * max(100, most), ""},
		}}
		s := b.Scene()
		for _, f := range trial.Overlaps(s, scene.Box{W: s.WidthMM, H: s.HighMM}) {
			t.Errorf("%g: %s", most, f)
		}
		var bars []scene.Rect
		for _, item := range s.Items {
			if r, ok := item.(scene.Rect); ok {
				bars = append(bars, r)
			}
		}
		if len(bars) != 5 {
			t.Fatalf("%d bars", len(bars))
		}
		if half, quarter := bars[1].At.W, bars[2].At.W; half > 1 && math.Abs(half-2*quarter) > 1e-9 {
			t.Errorf("%g: 50 %% is %g long, 25 %% %g", most, half, quarter)
		}
		if want := bars[1].At.W * most / 50; half(most) && math.Abs(bars[0].At.W-want) > 1e-9 {
			t.Errorf("%g: the longest is %g, want %g", most, bars[0].At.W, want)
		}
	}
}

// half says that 50 % is long enough on the scale to be compared.
func half(most float64) bool { return most < 1e4 }

// TestTicks: they cover the range, rise, and are round.
func TestTicks(t *testing.T) {
	for _, c := range []struct{ low, high float64 }{{0, 2.4}, {0, 0}, {-3, 7}, {0, 1e-6}, {0, 12345}, {-1, -0.5}} {
		list := ticks(c.low, c.high, 6)
		if len(list) < 2 || len(list) > 9 || list[0] > c.low || list[len(list)-1] < c.high {
			t.Errorf("%v: %v", c, list)
		}
	}
}
