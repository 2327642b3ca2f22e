package draw

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"strings"
	"testing"

	"trefoil/lint/assess"
	"trefoil/lint/finding"
	"trefoil/lint/generate"
	"trefoil/lint/report"
	"trefoil/lint/scene"
	"trefoil/lint/schedule"
	"trefoil/lint/trial"
	"trefoil/ratings/quantity"
)

// told makes findings about every subject that a sheet may mark, some of them waived.
func told(v *assess.Review) []finding.Finding {
	var list []finding.Finding
	add := func(subject string) {
		n := len(list)
		f := finding.Finding{Rule: "voltage-rise", Severity: finding.Severity(n % 3), Subject: subject, Waived: n%7 == 0}
		f.Message = fmt.Sprintf("%s does not hold: %s", subject, strings.Repeat("it is far above what is allowed, ", n%9))
		for range 1 + n%5 {
			list = append(list, f)
		}
	}
	for i := range v.Tree.Nodes {
		add(v.Tree.Nodes[i].Subject)
	}
	for i := range v.Runs {
		add(v.Runs[i].Run.Subject())
	}
	for _, r := range v.Design.Routes {
		add(r.Subject())
	}
	return list
}

const head = `
site "quarry" {
  ratings            = "iec-60364-5-52:2009"
  voltage_v          = 400
  rise_limit_percent = 2
}
supply "grid" {
  fault_ka       = 20
  fault_min_ka   = 9
  earth_loop_ohm = 0.02
  earthing       = "tn-s"
  max_v          = 430
}
cable "cu" {
  conductor  = "copper"
  insulation = "xlpe-90"
  build      = "multicore"
  cores      = "4c+e"
}
cable "one" {
  conductor  = "aluminium"
  insulation = "xlpe-90"
  build      = "single-core"
  formation  = "trefoil"
}
route "tray" {
  laid = "perforated-tray"
}
`

func leg(name, from, to string) string {
	return fmt.Sprintf(`
run %q {
  from     = %s
  to       = %s
  cable    = cable.cu
  size_mm2 = 35
  earth_mm2 = 16
  device {
    kind    = "mccb"
    rated_a = 80
    breaking_ka = 25
  }
  section {
    route    = route.tray
    length_m = 12.5
  }
}
`, name, from, to)
}

func inverterBlock(name, more string) string {
	return fmt.Sprintf("source %q {\n  kind = \"inverter\"\n  rated_kva = 30\n  max_current_a = 46\n%s}\n", name, more)
}

// chain is so many boards one behind the other, with a source at each.
func chain(n int) string {
	var b strings.Builder
	b.WriteString(head)
	before := "supply.grid"
	for i := range n {
		board := fmt.Sprintf("b%d", i)
		fmt.Fprintf(&b, "board %q {\n  rated_a = 400\n}\n", board)
		b.WriteString(leg("to-"+board, before, "board."+board))
		before = "board." + board
		b.WriteString(inverterBlock(fmt.Sprintf("i%d", i), "  phases = 3\n"))
		b.WriteString(leg(fmt.Sprintf("i%d", i), fmt.Sprintf("source.i%d", i), before))
	}
	return b.String()
}

// wide is one board with so many sources that have names of a kind.
func wide(n int, name func(int) string, more string) string {
	var b strings.Builder
	b.WriteString(head + "board \"main\" {\n  rated_a = 4000\n  rated_short_time_ka = 50\n}\n" + leg("mains", "supply.grid", "board.main"))
	for i := range n {
		b.WriteString(inverterBlock(name(i), more))
		b.WriteString(leg(name(i), fmt.Sprintf("source[%q]", name(i)), "board.main"))
	}
	return b.String()
}

func plain(i int) string { return fmt.Sprintf("inv-%d", i) }

// outfit is a site with everything that has a symbol, and parts that hang on nothing.
var outfit = head + `
board "main" {
  rated_a = 1000
  main_switch {
    kind    = "switch-disconnector"
    rated_a = 1000
  }
}
board "spare" {
  rated_a = 100
}
board "lost" {
  rated_a = 100
}
source "battery" {
  kind      = "battery"
  rated_kva = 50
  phases    = 3
  isolator {
    kind    = "switch-disconnector"
    rated_a = 100
  }
}
source "diesel" {
  kind      = "generator"
  rated_kva = 80
  phases    = 3
  model     = "a model with a rather long designation, mark four"
}
source "lone" {
  kind      = "inverter"
  rated_kva = 5
  phases    = 1
  phase     = "L2"
}
load "cold room" {
  at       = board.main
  demand_a = 60
}
` + trial.Feeder{
	Name: "mains", From: "supply.grid", To: "board.main", Cable: "one", SizeMM2: 240, NeutralMM2: 120, EarthMM2: 120, Legs: 3, Route: "tray", LengthM: 20,
	More: `device {
    at      = board.main
    kind    = "fuse"
    rated_a = 630
  }`,
}.String() + `run "battery" {
  from     = source.battery
  to       = board.main
  cable    = cable.cu
  size_mm2 = 35
  device {
    at      = board.main
    kind    = "mcb"
    trip    = "c"
    rated_a = 80
    rcd     = "b"
    rcd_ma  = 300
  }
  device {
    at      = source.battery
    kind    = "mccb"
    rated_a = 100
  }
  section {
    route    = route.tray
    length_m = 20
  }
}
` + "\n"

func designs() map[string]string {
	long := strings.Repeat("the-inverter-behind-the-third-compressor-of-the-", 4)
	return map[string]string{
		"one source":      string(generate.Design(1, 1)),
		"five sources":    string(generate.Design(5, 1)),
		"forty sources":   string(generate.Design(40, 1)),
		"three hundred":   string(generate.Design(300, 1)),
		"deep chain":      chain(30),
		"wide board":      wide(140, plain, "  phases = 3\n"),
		"eighteen":        wide(16, plain, "  phases = 3\n"),
		"single phase":    wide(9, plain, "  phases = 1\n  phase = \"L3\"\n"),
		"very long names": wide(20, func(i int) string { return long + fmt.Sprint(i) }, "  phases = 3\n"),
		"markup":          wide(5, func(i int) string { return fmt.Sprintf("<b>&amp;\"%d\"]]>", i) }, "  phases = 3\n"),
		"right to left":   wide(5, func(i int) string { return fmt.Sprintf("שלום עולם %d مرحبا", i) }, "  phases = 3\n"),
		"east and signs": wide(5, func(i int) string {
			return fmt.Sprintf("太陽光発電所の屋根の上⚡️👷🏽‍♀️👷🏽‍♀️👷🏽‍♀️ %d", i)
		}, "  phases = 3\n"),
		"every symbol": outfit + leg("diesel", "source.diesel", "board.main") + leg("lone", "source.lone", "board.main") + leg("spare", "board.spare", "board.main") +
			leg("loop", "board.spare", "board.main") + leg("nowhere", "board.none", "board.main"),
		"many at the supply": strings.Replace(wide(0, plain, ""), leg("mains", "supply.grid", "board.main"), "", 1) + leg("a", "board.main", "supply.grid") + inverterBlock("x", "  phases = 3\n") + leg("b", "source.x", "supply.grid"),
		"no run":             head,
		"nothing":            "",
		"broken":             head + "run \"x\" {\n  from = \n",
	}
}

// TestNoOverlap holds every sheet against what a reader needs: texts, symbols and lines
// keep clear of each other and lie on the sheet.
func TestNoOverlap(t *testing.T) {
	for what, text := range designs() {
		t.Run(what, func(t *testing.T) {
			v := trial.Review(text)
			for _, opt := range []Options{{}, {Date: "2027-03-01", Revision: "B, for approval " + strings.Repeat("and more ", 20), Tool: "trefoil", Notes: true}} {
				for _, s := range append(Diagram(v, told(v), opt), Sections(v, told(v), opt)...) {
					clear(t, s.Scene)
				}
			}
		})
	}
}

// clear tells what overlaps on a sheet.
func clear(t *testing.T, s *scene.Scene) {
	t.Helper()
	faults := trial.Overlaps(s, scene.Box{X: left - 0.5, Y: margin - 0.5, W: fieldW + 1, H: sheetH - 2*margin + 1})
	for _, item := range s.Items {
		if x, ok := item.(scene.Text); ok && (strings.HasPrefix(x.Full, "rise ") || strings.HasPrefix(x.Full, "Ik ") || strings.Contains(x.Text, "…") && strings.HasSuffix(x.Full, " m")) {
			faults = append(faults, fmt.Sprintf("a figure is cut: %q", x.Text))
		}
	}
	for _, f := range faults[:min(len(faults), 5)] {
		t.Errorf("%s: %s", s.Name, f)
	}
}

// TestComplete looks for every source, board and run on the sheets, once or more.
func TestComplete(t *testing.T) {
	for what, text := range designs() {
		v := trial.Review(text)
		seen := map[string]bool{}
		for _, s := range Diagram(v, told(v), Options{}) {
			for _, item := range s.Scene.Items {
				if x, ok := item.(scene.Text); ok {
					seen[x.Text], seen[x.Full] = true, true
				}
			}
		}
		all := fmt.Sprint(seen)
		for i := range v.Tree.Nodes {
			if n := subject(v.Tree.Nodes[i].Subject); !seen[n] && !seen["supply "+n] {
				t.Errorf("%s: %s is not drawn", what, v.Tree.Nodes[i].Subject)
			}
		}
		for i := range v.Runs {
			if n := name(v.Runs[i].Run.Name); !seen[n] && !strings.Contains(all, n) {
				t.Errorf("%s: run %s is neither drawn nor told", what, n)
			}
		}
	}
}

// TestWellFormed reads the SVG as XML: nothing that a name holds may become markup, and
// nothing may be asked for from outside.
func TestWellFormed(t *testing.T) {
	for what, text := range designs() {
		v := trial.Review(text)
		for _, s := range append(Diagram(v, told(v), Options{Revision: "<script>alert(1)</script>"}), Sections(v, told(v), Options{})...) {
			d := xml.NewDecoder(bytes.NewReader(s.SVG))
			for {
				token, err := d.Token()
				if errors.Is(err, io.EOF) {
					break
				}
				if err != nil {
					t.Fatalf("%s, %s: %v", what, s.Name, err)
				}
				e, ok := token.(xml.StartElement)
				if !ok {
					continue
				}
				switch e.Name.Local {
				case "svg", "title", "desc", "style", "rect", "path", "polygon", "circle", "text":
				default:
					t.Errorf("%s: <%s> in %s", what, e.Name.Local, s.Name)
				}
				for _, a := range e.Attr {
					if a.Name.Local == "href" || strings.HasPrefix(a.Name.Local, "on") {
						t.Errorf("%s: %s in %s", what, a.Name.Local, s.Name)
					}
				}
			}
			if strings.Contains(string(s.SVG), "url(") || strings.Contains(string(s.SVG), "@import") {
				t.Errorf("%s asks for something outside of itself", s.Name)
			}
		}
	}
}

func TestSameTwice(t *testing.T) {
	text := string(generate.Design(60, 3))
	one, two := trial.Review(text), trial.Review(text)
	a, b := append(Diagram(one, told(one), Options{}), Sections(one, told(one), Options{})...), append(Diagram(two, told(two), Options{}), Sections(two, told(two), Options{})...)
	if len(a) != len(b) {
		t.Fatal(len(a), len(b))
	}
	for i := range a {
		if !bytes.Equal(a[i].SVG, b[i].SVG) {
			t.Errorf("%s differs", a[i].Name)
		}
	}
}

// TestFigures finds on the diagram the figures that calc gives for each run.
func TestFigures(t *testing.T) {
	v := trial.Review(wide(6, plain, "  phases = 3\n"))
	var all []string
	for _, s := range Diagram(v, nil, Options{}) {
		for _, item := range s.Scene.Items {
			if x, ok := item.(scene.Text); ok {
				all = append(all, x.Text)
			}
		}
	}
	sheet := strings.Join(all, "\n")
	runs := make([]int, len(v.Runs))
	for i := range runs {
		runs[i] = i
	}
	c := report.NewCalcDocument(report.Tool{}, v, runs, "")
	if len(c.Runs) != 7 {
		t.Fatal(len(c.Runs))
	}
	for _, r := range c.Runs {
		if r.PathRisePercent == nil || r.FaultMinKA == nil {
			t.Fatalf("calc has no figures for %s", r.Run)
		}
		words := []string{"rise " + quantity.Percent.Print(*r.PathRisePercent), "/ " + quantity.KiloAmp.Print(*r.FaultMinKA)}
		for _, s := range r.Sections {
			words = append(words, quantity.Metre.Print(*s.LengthM))
		}
		words = append(words, quantity.Ampere.Print(*r.DeviceA))
		for _, w := range words {
			if !strings.Contains(sheet, w) {
				t.Errorf("run %s: %q is not on the diagram", r.Run, w)
			}
		}
	}
}

// TestMarks holds that every error and warning is listed with its number, and that the
// sheets tell how many errors stand open.
func TestMarks(t *testing.T) {
	v := trial.Review(string(generate.Design(60, 1)))
	list := told(v)
	sheets := Diagram(v, list, Options{})
	heads := map[string]bool{}
	for _, s := range sheets {
		open := false
		for _, item := range s.Scene.Items {
			if x, ok := item.(scene.Text); ok {
				heads[x.Text] = true
				open = open || x.Text == schedule.Standing(list)+"."
			}
		}
		if !open {
			t.Errorf("%s does not tell that errors stand open", s.Name)
		}
	}
	for i := range list {
		if f := &list[i]; f.Severity > finding.Note && !heads[fmt.Sprintf("%d %s", i+1, word(f))] {
			t.Errorf("finding %d (%s) is not listed", i+1, f.Subject)
		}
	}
}

func BenchmarkDiagram(b *testing.B) {
	for _, n := range []int{5, 300, 5000} {
		v := trial.Review(string(generate.Design(n, 1)))
		list := told(v)
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				Diagram(v, list, Options{})
			}
		})
	}
}

// FuzzName lays sheets out with any name: nothing overlaps, and the SVG stays well formed.
func FuzzName(f *testing.F) {
	for _, n := range []string{"a", "שלום 1", "<b>&", strings.Repeat("w", 300), "👷🏽‍♀️", "a\u0301\u0301", " ", "\u202e", "\x00", "مرحبا (1)"} {
		f.Add(n, uint8(len(n)))
	}
	f.Fuzz(func(t *testing.T, n string, many uint8) {
		v := trial.Review(wide(int(many), plain, "  phases = 3\n"))
		for i := range v.Runs {
			v.Runs[i].Run.Name += n
		}
		for i := range v.Tree.Nodes {
			v.Tree.Nodes[i].Subject += n
		}
		for _, r := range v.Design.Routes {
			r.Name += n
		}
		for _, s := range append(Diagram(v, told(v), Options{Revision: n}), Sections(v, told(v), Options{Date: n})...) {
			clear(t, s.Scene)
			if err := xml.Unmarshal(s.SVG, new(struct{})); err != nil {
				t.Error(err)
			}
		}
	})
}
