package compare

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"testing"

	"trefoil/lint/assess"
	"trefoil/lint/design"
	"trefoil/lint/engine"
	"trefoil/lint/finding"
	"trefoil/lint/source"
	"trefoil/ratings/sets"
)

// overloaded stands for the rules: a run above its capacity.
var overloaded = &engine.Rule{Name: "too-hot", Severity: finding.Error, Check: func(r *engine.Review) {
	for i := range r.Runs {
		if u := r.Runs[i].UtilisationPct(); u.Known && u.Value > 100 {
			f := r.At(r.Runs[i].Run.SizeAt, r.Runs[i].Run.Subject(), fmt.Sprintf("loaded to %g", u.Value), "")
			f.Percent, f.HasPercent = u.Value, true
			r.Find(f)
		}
	}
}}

func check(texts map[string]string) *engine.Result {
	var files []*source.File
	for _, name := range slices.Sorted(maps.Keys(texts)) {
		files = append(files, &source.File{Name: name, Bytes: []byte(texts[name])})
	}
	return engine.Check(assess.Assess(design.Read(".", files), assess.Named(sets.Find)), []*engine.Rule{overloaded}, engine.Options{})
}

// held compares two designs of one file each, or of the files that others names.
func held(t *testing.T, was, now string) *Comparison {
	t.Helper()
	texts := map[string]string{"a.hcl": now}
	again := func(other map[*source.File][]byte) (*engine.Result, error) {
		all := maps.Clone(texts)
		for f, text := range other {
			all[f.Name] = string(text)
		}
		return check(all), nil
	}
	c := Compare(Side{Name: "was", Result: check(map[string]string{"old-name.hcl": was})}, Side{Name: "now", Result: check(texts)}, again)
	for _, e := range c.Effects {
		if len(e.Moves) == 0 {
			t.Errorf("%s moved of nobody", e.Figure.Label)
		}
	}
	return c
}

const plant = `
site "mill" {
  ratings   = "iec-60364-5-52:2009"
  voltage_v = 400
}
supply "grid" {
  fault_ka = 10
}
board "b" {
}
let {
  amps = 70
}
cable "cu" {
  conductor  = "copper"
  insulation = "xlpe-90"
  build      = "multicore"
  cores      = "4c+e"
}
route "tray" {
  laid = "perforated-tray"
}
route "other" {
  laid = "clipped"
}
run "mains" {
  from     = board.b
  to       = supply.grid
  cable    = cable.cu
  size_mm2 = 300
  section {
    route    = route.other
    length_m = 10
  }
}
source "inv" {
  copies        = 2
  kind          = "inverter"
  phases        = 3
  max_current_a = let.amps
}
run "inv" {
  copies   = 2
  from     = source.inv[copy.key]
  to       = board.b
  cable    = cable.cu
  size_mm2 = 16
  section {
    route    = route.tray
    length_m = 20
  }
}
`

// edit replaces a text that must be there.
func edit(t *testing.T, text string, pairs ...string) string {
	t.Helper()
	for i := 0; i < len(pairs); i += 2 {
		if !strings.Contains(text, pairs[i]) {
			t.Fatalf("%q is not in the text", pairs[i])
		}
		text = strings.Replace(text, pairs[i], pairs[i+1], 1)
	}
	return text
}

// told puts a comparison's edits in short lines.
func told(c *Comparison) (lines []string) {
	for _, e := range c.Edits {
		s := e.Change.String() + " " + e.Subject
		if e.Was != "" {
			s += " was " + e.Was
		}
		for _, l := range [][]string{e.Subjects, e.Added, e.Removed} {
			if len(l) > 0 {
				s += fmt.Sprint(" ", l)
			}
		}
		for _, p := range e.Properties {
			s += fmt.Sprintf("; %s|%s %s>%s %v", p.Part, p.Name, p.Was, p.Now, p.Subjects)
		}
		lines = append(lines, s)
	}
	return lines
}

// TestEdits: what counts as an edit, and of which block.
func TestEdits(t *testing.T) {
	blocks := strings.SplitAfter(plant, "\n}\n")
	slices.Reverse(blocks)
	for _, c := range []struct {
		name string
		now  string
		want []string
	}{
		{"nothing", plant, nil},
		{"lines moved and spaced", "# note\n\n" + strings.ReplaceAll(strings.Join(blocks, "\n"), " = ", "    = "), nil},
		{"an attribute", edit(t, plant, "size_mm2 = 300", "size_mm2 = 240"), []string{"changed run.mains; |size_mm2 300>240 [run.mains]"}},
		{"an attribute stated", edit(t, plant, `laid = "clipped"`, "laid = \"clipped\"\n  air_c = 40\n  lid = false"), []string{"changed route.other; |air_c >40 [route.other]"}},
		{"of all copies", edit(t, plant, "size_mm2 = 16", "size_mm2 = 25"), []string{"changed run.inv; |size_mm2 16>25 [run.inv[1] run.inv[2]]"}},
		{"of two blocks", edit(t, plant, `laid = "perforated-tray"`, "laid = \"perforated-tray\"\n  air_c = 40", `laid = "clipped"`, "laid = \"clipped\"\n  air_c = 40"), []string{"changed route.tray [route.tray route.other]; |air_c >40 [route.tray route.other]"}},
		{"by copy", edit(t, plant, "length_m = 20", "length_m = 19 + copy.number"), []string{"changed run.inv; section|length_m 20>21 [run.inv[2]]"}},
		{"more copies", edit(t, plant, "copies        = 2", "copies        = 3"), []string{"changed source.inv [source.inv[3]]"}},
		{"fewer copies", edit(t, plant, "copies   = 2", "copies   = 1"), []string{"changed run.inv [run.inv[2]]"}},
		{"a constant", edit(t, plant, "amps = 70", "amps = 75"), []string{"changed let.amps; |amps 70>75 [let.amps]", "follows source.inv; |max_current_a 70>75 [source.inv[1] source.inv[2]]"}},
		{"another name", strings.ReplaceAll(plant, "board.b\n", "board.hall\n") + "# and\n", nil},
		{"a section more", edit(t, plant, "    length_m = 10\n  }", "    length_m = 10\n  }\n  section {\n    route    = route.tray\n    length_m = 5\n  }"), []string{"changed run.mains; section route.tray| >length_m = 5, route = route.tray [run.mains]"}},
		{"another route", edit(t, plant, "route    = route.tray", "route    = route.other"), []string{"changed run.inv; section|route route.tray>route.other [run.inv[1] run.inv[2]]"}},
		{"added and gone", edit(t, plant, `cable "cu"`, "board \"new\" {\n  rated_a = 1\n}\ncable \"cu\"", "route \"other\" {\n  laid = \"clipped\"\n}", ""), nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			now := c.now
			switch c.name {
			case "another name":
				now = edit(t, now, `board "b"`, `board "hall"`)
				c.want = []string{"renamed board.hall was board.b"}
			case "added and gone":
				c.want = []string{"added board.new [board.new]; | >rated_a = 1 [board.new]", "follows run.mains; section|route route.other> [run.mains]", `removed route.other [route.other]; | laid = "clipped"> [route.other]`}
			}
			got := told(held(t, plant, now))
			if !slices.Equal(got, c.want) {
				t.Errorf("got\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(c.want, "\n"))
			}
		})
	}
}

// TestRenamed: a block under another name, and all that refers to it, is no other block:
// no figure moves, and a finding stands as it stood. Its set of copies is renamed too.
func TestRenamed(t *testing.T) {
	hot := edit(t, plant, "amps = 70", "amps = 100")
	now := edit(t, hot, `source "inv"`, `source "pv"`, "source.inv[", "source.pv[", `run "inv"`, `run "pv"`, `cable "cu"`, `cable "copper four"`)
	now = strings.ReplaceAll(now, "cable.cu", `cable["copper four"]`)
	c := held(t, hot, now)
	want := []string{"renamed cable.copper four was cable.cu", "renamed source.pv was source.inv", "renamed run.pv was run.inv"}
	if got := told(c); !slices.Equal(got, want) {
		t.Errorf("%q", got)
	}
	if len(c.Effects)+len(c.Verdicts) > 0 || c.Same != 2 {
		t.Errorf("%d effects, %d verdicts, %d the same", len(c.Effects), len(c.Verdicts), c.Same)
	}
}

// TestCauses: a figure hangs on the edit that is taken back, on several, or on any of them.
func TestCauses(t *testing.T) {
	of := func(c *Comparison, figure, subject string) string {
		for _, e := range c.Effects {
			if e.Figure.Key == figure && slices.ContainsFunc(e.Moves, func(m Move) bool { return m.Subject == subject }) {
				var list []string
				for _, i := range e.Cause.Edits {
					list = append(list, c.Edits[i].Subject)
				}
				return fmt.Sprintf("%v%t", list, e.Cause.Any)
			}
		}
		return "unmoved"
	}
	circuit := func(n int) string {
		return fmt.Sprintf("source \"more-%d\" {\n  kind = \"inverter\"\n  phases = 3\n  max_current_a = 10\n}\nrun \"more-%d\" {\n  from = source.more-%d\n  to = board.b\n  cable = cable.cu\n  size_mm2 = 16\n  section {\n    route = route.tray\n    length_m = 5\n  }\n}\n", n, n, n)
	}
	now := edit(t, plant, `laid = "perforated-tray"`, "laid = \"perforated-tray\"\n  lid = true", `laid = "clipped"`, "laid = \"clipped\"\n  width_mm = 100", "length_m = 10", "length_m = 30")
	c := held(t, plant, now+circuit(1))
	for _, x := range [][3]string{
		{"capacity_a", "run.inv[1]", "[route.tray run.more-1]false"},
		{"path_rise_percent", "run.inv[2]", "[run.mains source.more-1 run.more-1]false"},
		{"path_rise_percent", "run.mains", "[run.mains source.more-1 run.more-1]false"},
		{"capacity_a", "run.mains", "unmoved"},
		{"loss_w", "run.inv[1]", "unmoved"},
	} {
		if got := of(c, x[0], x[1]); got != x[2] {
			t.Errorf("%s of %s: %s, want %s", x[0], x[1], got, x[2])
		}
	}
	if n := c.Blocks(finding.Error); n != 2 { // 100 A x 1.0 in the lidded tray
		t.Errorf("%d findings block: %+v", n, c.Verdicts)
	}
	// A run that another route takes too hot by two edits, either being enough.
	c = held(t, plant, edit(t, plant, "amps = 70", "amps = 120", "size_mm2 = 16", "size_mm2 = 4"))
	for _, v := range c.Verdicts {
		if v.Status != New || !v.Cause.Any || len(v.Cause.Edits) != 2 {
			t.Errorf("%v %+v", v.Status, v.Cause)
		}
	}
	if len(c.Verdicts) != 2 {
		t.Errorf("%d verdicts", len(c.Verdicts))
	}
}

// TestVerdicts goes through what can become of a finding.
func TestVerdicts(t *testing.T) {
	f := func(subject string, severity finding.Severity, percent float64, waived bool) finding.Finding {
		return finding.Finding{Rule: "r", Subject: subject, Severity: severity, Percent: percent, HasPercent: percent > 0, Waived: waived}
	}
	e, w := finding.Error, finding.Warning
	was := []finding.Finding{f("a", e, 110, false), f("b", e, 110, false), f("c", e, 110, false), f("d", e, 0, true), f("e", e, 0, false), f("f", w, 0, false), f("g", e, 0, false), f("same", e, 100, false)}
	now := []finding.Finding{f("a", e, 120, false), f("b", e, 105, false), f("c", e, 110, true), f("d", e, 0, false), f("f", e, 0, false), f("g", w, 0, false), f("new", w, 0, false), f("same", e, 100*(1+1e-12), false), f("accepted", e, 0, true)}
	list, same := verdicts(was, now, func(s string) string { return s })
	got := map[string]string{}
	for i := range list {
		got[list[i].Finding().Subject] = fmt.Sprint(list[i].Status, list[i].Blocks(e), list[i].Blocks(w))
	}
	want := map[string]string{
		"a": "worsened false false", "b": "bettered false false", "c": "waived now false false", "d": "no longer waived true true", "e": "cleared false false",
		"f": "worsened true false", "g": "bettered false false", "new": "new false true", "accepted": "waived now false false",
	}
	if !maps.Equal(got, want) || same != 1 {
		t.Errorf("%d the same, %v", same, got)
	}
}

// TestBudget: a change that is too large to be traced says so, and compares all the same.
func TestBudget(t *testing.T) {
	var was, now strings.Builder
	for i := range 1300 {
		fmt.Fprintf(&was, "route \"r%d\" {\n  laid = \"clipped\"\n}\n", i)
		fmt.Fprintf(&now, "route \"r%d\" {\n  laid = \"ladder\"\n  width_mm = %d\n}\n", i, 100+i)
	}
	c := held(t, plant+was.String(), edit(t, plant, "size_mm2 = 16", "size_mm2 = 25")+now.String())
	if len(c.Edits) != 1301 || c.Untraced == "" || len(c.Effects) == 0 || len(c.Effects[0].Cause.Edits) > 0 {
		t.Errorf("%d edits, %q, %d effects", len(c.Edits), c.Untraced, len(c.Effects))
	}
}

// TestMoney: what an edit costs, in the currency of the design; two currencies are no sum.
func TestMoney(t *testing.T) {
	price := `
price "list" {
  currency = "EUR"
  date     = "2027-01-01"
  origin   = "made up"
  cable "cu" {
    per_m = { 16 = 10, 25 = 15, 300 = 100 }
  }
}
`
	text := edit(t, plant, "size_mm2 = 16", "size_mm2 = 16\n  earth_mm2 = 16", "size_mm2 = 300", "size_mm2 = 300\n  earth_mm2 = 150") + price
	for _, f := range check(map[string]string{"a.hcl": text}).Review.Design.Faults {
		t.Fatal(f.Message)
	}
	c := held(t, text, edit(t, text, "size_mm2 = 16", "size_mm2 = 25"))
	seen := false
	for _, e := range c.Effects {
		if e.Figure.Key == "copper_kg" { // 2 x 20 m of 4 cores with 9 mm2 more: 40 m x 4 x 9e-6 m2 x 8890 kg/m3 = 12.8 kg
			seen = true
			if d := e.Moves[0].Now.Value - e.Moves[0].Was.Value; d < 12.7 || d > 12.9 || !e.Moves[0].Now.Known {
				t.Errorf("copper grows by %g kg", d)
			}
		}
	}
	if !seen {
		t.Error("copper does not move")
	}
	c = held(t, text, edit(t, text, "EUR", "GBP", "size_mm2 = 16", "size_mm2 = 25"))
	for _, x := range c.Totals {
		if x.Unit.Symbol == "GBP" && x.Was.Known {
			t.Errorf("%s was %g in another currency", x.Label, x.Was.Value)
		}
	}
}

// TestManyCopies: a set of very many copies is compared in time that grows with it alone.
func TestManyCopies(t *testing.T) {
	many := edit(t, plant, "copies        = 2", "copies        = 10000", "copies   = 2", "copies   = 10000")
	c := held(t, edit(t, many, "length_m = 20", "length_m = 20 + copy.number"), edit(t, many, "length_m = 20", "length_m = 20.5 + copy.number"))
	if len(c.Edits) != 1 || len(c.Edits[0].Properties) != 10000 {
		t.Errorf("%d edits", len(c.Edits))
	}
}
