package draw

import (
	"flag"
	"fmt"
	"math"
	"os"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"trefoil/lint/scene"
	"trefoil/lint/trial"
)

var update = flag.Bool("update", false, "rewrite the recorded sheets")

// TestSettle: how large a pipe must be for circles alike, in radii of one, follows from
// their centres: two lie on its diameter, three on an equilateral triangle, seven are one
// with six about it.
func TestSettle(t *testing.T) {
	for _, c := range []struct {
		n    int
		pipe float64
	}{{1, 1}, {2, 2}, {3, 1 + 2/math.Sqrt(3)}, {7, 3}} {
		discs := make([]disc, c.n)
		for i := range discs {
			discs[i].r = 10
		}
		placed, all := settle(discs, round{10*c.pipe + 1e-7})
		if !all {
			t.Errorf("%d do not go into a pipe of %.4f radii", c.n, c.pipe)
		}
		apart(t, placed)
		for _, q := range placed {
			if math.Hypot(q.x, q.y)+q.r > 10*c.pipe+1e-5 {
				t.Errorf("a disc at %g, %g sticks out", q.x, q.y)
			}
		}
		if _, all := settle(discs, round{9.95 * c.pipe}); all {
			t.Errorf("%d go into a pipe that is too small", c.n)
		}
	}
	// In a box, a row fills the floor before anything lies upon it.
	placed, all := settle([]disc{{r: 5}, {r: 5}, {r: 5}, {r: 5}}, box{30})
	high := 0
	for _, q := range placed {
		if q.y > 5+1e-6 {
			high++
		}
	}
	if !all || high != 1 {
		t.Errorf("%d of four lie upon three: %v", high, placed)
	}
	apart(t, placed)
}

func apart(t *testing.T, list []disc) {
	t.Helper()
	for i, a := range list {
		for _, b := range list[:i] {
			if math.Hypot(a.x-b.x, a.y-b.y) < a.r+b.r-1e-5 {
				t.Errorf("discs at %g, %g and %g, %g overlap", a.x, a.y, b.x, b.y)
			}
		}
	}
}

// laid is a site with one route laid as stated and runs of known diameter in it.
func laid(route, cable string, runs int) string {
	var b strings.Builder
	b.WriteString(head + "cable \"known\" {\n  conductor = \"copper\"\n  insulation = \"xlpe-90\"\n" + cable + "  data \"50\" {\n    outer_mm = 30\n  }\n}\nroute \"it\" {\n" + route + "}\nboard \"main\" {\n}\n" + leg("mains", "supply.grid", "board.main"))
	for i := range runs {
		b.WriteString(inverterBlock(plain(i), "  phases = 3\n"))
		fmt.Fprintf(&b, "run %q {\n  from = source.%s\n  to = board.main\n  cable = cable.known\n  size_mm2 = 50\n  neutral_mm2 = 0\n  earth_mm2 = 0\n  section {\n    route = route.it\n    length_m = 5\n  }\n}\n", plain(i), plain(i))
	}
	return b.String()
}

const four, ones = "  build = \"multicore\"\n  cores = \"4c+e\"\n", "  build = \"single-core\"\n  formation = \"trefoil\"\n"

// TestToScale: a cable of 30 mm is 30 mm wide by the scale that the sheet states, and the
// clear distance and the width are as the route has them.
func TestToScale(t *testing.T) {
	v := trial.Review(laid("  laid = \"ladder\"\n  width_mm = 400\n  spacing = \"spaced\"\n  spacing_mm = 20\n  other_circuits = 1\n  other_outer_mm = 40\n", four, 3))
	s := Sections(v, nil, Options{})[0].Scene
	scale := 0.0
	var cables, others []scene.Circle
	for _, item := range s.Items {
		switch x := item.(type) {
		case scene.Text:
			if strings.HasPrefix(x.Text, "route it") {
				if _, err := fmt.Sscanf(x.Text, "route it, 1 : %g", &scale); err != nil {
					t.Fatal(x.Text)
				}
			}
		case scene.Circle:
			if x.Centre.Y < footY && x.Class == scene.Body && scale > 0 {
				cables = append(cables, x)
			}
			if x.Centre.Y < footY && x.Class == scene.Other {
				others = append(others, x)
			}
		}
	}
	if len(cables) != 3 || len(others) != 1 || scale == 0 {
		t.Fatalf("%d cables, %d others, scale %g", len(cables), len(others), scale)
	}
	if !near(cables[0].R*scale, 15) || !near(others[0].R*scale, 20) {
		t.Errorf("radii %g and %g", cables[0].R*scale, others[0].R*scale)
	}
	if d := (cables[1].Centre.X - cables[0].Centre.X) * scale; !near(d, 50) {
		t.Errorf("%g mm from centre to centre, want 30 and 20 clear", d)
	}
	wide := 0.0
	for _, item := range s.Items {
		if l, ok := item.(scene.Line); ok && l.Class == scene.Ground {
			wide = max(wide, l.Box().W)
		}
	}
	if !near(wide*scale, 400) {
		t.Errorf("the ladder is %g mm wide, want 400", wide*scale)
	}
}

func near(a, b float64) bool { return math.Abs(a-b) < 1e-6*math.Abs(b) }

// TestNotToScale: what is not known is said, and nothing is drawn as if it were.
func TestNotToScale(t *testing.T) {
	for _, c := range []struct{ route, want string }{
		{"  laid = \"ladder\"\n  width_mm = 300\n  other_circuits = 2\n", "not to scale: a diameter of circuits of other projects is not known"},
		{"  laid = \"ladder\"\n", "width_mm is not stated"},
		{"  laid = \"conduit\"\n", "duct_inside_mm is not stated"},
		{"  laid = \"conduit\"\n  duct_inside_mm = 35\n", "not all cables go in"},
		{"  laid = \"trunking\"\n  width_mm = 100\n", "height_mm are not both stated"},
		{"  laid = \"standoff\"\n", "standoff_mm is not stated"},
		{"  laid = \"ladder\"\n  spacing = \"spaced\"\n", "spacing_mm is not stated"},
		{"  laid = \"ladder\"\n  width_mm = 40\n", "wider than the support"},
		{"  laid = \"ladder\"\n  tiers = 2\n", "which circuit lies on which tier is not stated"},
		{"  laid = \"buried\"\n", "the surface is drawn closer than it is"},
	} {
		v := trial.Review(laid(c.route, four, 3))
		said := ""
		for _, item := range Sections(v, nil, Options{})[0].Scene.Items {
			if x, ok := item.(scene.Text); ok {
				said += x.Text + " "
			}
		}
		if !strings.Contains(said, c.want) {
			t.Errorf("%s: %q is not said in %q", c.route, c.want, said)
		}
	}
}

// TestEveryLaying draws every way of laying, in small and large numbers; nothing overlaps.
func TestEveryLaying(t *testing.T) {
	for _, way := range []string{"conduit-in-insulation", "conduit", "trunking", "perforated-tray", "solid-tray", "ladder", "basket", "clipped", "standoff", "free-air", "buried", "buried-duct"} {
		for _, more := range []string{"", "  lid = true\n  width_mm = 150\n", "  spacing = \"spaced\"\n  spacing_mm = 60\n  tiers = 3\n  other_circuits = 4\n  other_outer_mm = 25\n", "  spacing = \"bunched\"\n", "  ducts = \"per-core\"\n  duct_inside_mm = 120\n  depth_m = 0.8\n", "  ducts = \"shared\"\n  duct_count = 3\n"} {
			for _, cable := range []string{four, ones, strings.Replace(ones, "trefoil", "flat-spaced", 1)} {
				for _, n := range []int{1, 5, 70} {
					v := trial.Review(laid("  laid = \""+way+"\"\n"+more, cable, n))
					for _, s := range Sections(v, told(v), Options{}) {
						clear(t, s.Scene)
					}
				}
			}
		}
	}
}

// TestRecorded keeps one sheet of each kind as it is drawn; testdata is looked at when it changes.
func TestRecorded(t *testing.T) {
	v := trial.Review(outfit)
	opt := Options{Date: "2027-03-01", Revision: "A", Tool: "trefoil"}
	for _, s := range []Sheet{Diagram(v, v.Tree.Faults, opt)[0], Sections(v, nil, opt)[0]} {
		name := "testdata/" + s.Name + ".svg"
		if *update {
			if err := os.WriteFile(name, s.SVG, 0o644); err != nil {
				t.Fatal(err)
			}
		}
		want, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		if d := cmp.Diff(string(want), string(s.SVG)); d != "" {
			t.Errorf("%s differs (renew with: go test ./lint/draw -run TestRecorded -update):\n%s", name, d)
		}
	}
}
