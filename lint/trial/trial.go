// Package trial is for the tests of other rooms: it reviews a text as the command does, and
// looks at a scene as its reader does. The project's program does not use it.
package trial

import (
	"fmt"
	"math"
	"strings"
	"time"

	"trefoil/lint/assess"
	"trefoil/lint/design"
	"trefoil/lint/engine"
	"trefoil/lint/scene"
	"trefoil/lint/source"
	"trefoil/ratings/sets"
)

// Today is the day on which waivers are judged.
var Today = time.Date(2027, 3, 1, 0, 0, 0, 0, time.UTC)

// Review assesses a design of one file.
func Review(text string) *assess.Review {
	return assess.Assess(design.Read(".", []*source.File{{Name: "site.hcl", Bytes: []byte(text)}}), assess.Named(sets.Find))
}

// Check runs rules on it too.
func Check(text string, rules []*engine.Rule) *engine.Result {
	return engine.Check(Review(text), rules, engine.Options{Today: Today})
}

// Overlaps tells what a reader of a scene stumbles on: what leaves the page, texts that lie
// on each other or on symbols, symbols on each other, and lines through texts. Lines that
// are no conductor's, and slanting ones, are not looked at; a text on a blank is clear of
// what is drawn before that.
func Overlaps(s *scene.Scene, page scene.Box) (faults []string) {
	tell := func(format string, args ...any) { faults = append(faults, fmt.Sprintf(format, args...)) }
	type said struct {
		scene.Text
		from int // lines drawn before this one are covered
	}
	var texts []said
	for i, item := range s.Items {
		b := item.Box()
		if !b.Within(page) || math.IsNaN(b.X+b.Y+b.W+b.H) {
			tell("%#v leaves the sheet", item)
		}
		x, ok := item.(scene.Text)
		if !ok {
			continue
		}
		if strings.TrimSpace(x.Text) == "" {
			tell("an empty text at %v", x.At)
		}
		for _, o := range texts {
			if o.Box().Meets(b) {
				tell("texts %q and %q overlap", o.Text.Text, x.Text)
			}
		}
		t := said{x, 0}
		for k, under := range s.Items[:i] {
			if r, ok := under.(scene.Rect); ok && r.Class == scene.Blank && b.Within(r.At) {
				t.from = k
			}
		}
		texts = append(texts, t)
	}
	for i, k := range s.Symbols {
		for _, o := range s.Symbols[:i] {
			if o.Meets(k) {
				tell("symbols at %v and %v overlap", o, k)
			}
		}
		for _, x := range texts {
			if !x.Inside && x.Box().Meets(k) {
				tell("text %q lies on the symbol at %v", x.Text.Text, k)
			}
		}
	}
	for n, item := range s.Items {
		l, ok := item.(scene.Line)
		if !ok || l.Class == scene.Thin || l.Class == scene.Solid { // parts of symbols, whose room is kept
			continue
		}
		half := scene.Styles[l.Class].WidthMM / 2
		for i := 1; i < len(l.Points); i++ {
			a, b := l.Points[i-1], l.Points[i]
			if a.X != b.X && a.Y != b.Y {
				continue // blades, within the room of their symbol
			}
			room := scene.Box{X: min(a.X, b.X) - half, Y: min(a.Y, b.Y) - half, W: math.Abs(a.X-b.X) + 2*half, H: math.Abs(a.Y-b.Y) + 2*half}
			for _, x := range texts {
				if !x.Inside && n >= x.from && x.Box().Meets(room) {
					tell("a %s from %v to %v goes through %q", l.Class, a, b, x.Text.Text)
				}
			}
		}
	}
	return faults
}

// Feeder is a run of legs of single cores with a neutral and an earth conductor, over one
// route.
type Feeder struct {
	Name, From, To, Cable         string
	SizeMM2, NeutralMM2, EarthMM2 float64
	Legs                          int
	Route                         string
	LengthM                       float64
	More                          string // what else its block says
}

// String writes it as a block of a design.
func (f Feeder) String() string {
	return fmt.Sprintf(`run %q {
  from        = %s
  to          = %s
  cable       = cable.%s
  size_mm2    = %g
  neutral_mm2 = %g
  earth_mm2   = %g
  parallel    = %d
  %s
  section {
    route    = route.%s
    length_m = %g
  }
}
`, f.Name, f.From, f.To, f.Cable, f.SizeMM2, f.NeutralMM2, f.EarthMM2, f.Legs, f.More, f.Route, f.LengthM)
}
