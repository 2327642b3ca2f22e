package document

import (
	"bytes"
	"encoding/json"
	"encoding/xml"
	"fmt"
	"html"
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"trefoil/lint/draw"
	"trefoil/lint/generate"
	"trefoil/lint/report"
	"trefoil/lint/schedule"
	"trefoil/lint/trial"
	"trefoil/rules"
)

func input(text string) Input {
	return Input{
		Tool: report.Tool{Name: "trefoil", Version: "1"}, Result: trial.Check(text, rules.All()), Rules: rules.All(), Today: trial.Today,
		Schedule: schedule.Options{TailM: 2, Spare: 3, DrumsM: []float64{500}},
	}
}

// drawn is the input of a report with its drawings.
func drawn(text string) Input {
	in := input(text)
	v, opt := in.Result.Review, draw.Options{Date: "2027-03-01", Tool: "trefoil 1"}
	for _, s := range append(draw.Diagram(v, in.Result.Findings, opt), draw.Sections(v, in.Result.Findings, opt)...) {
		in.Drawings = append(in.Drawings, Drawing{s.Name, s.Scene})
	}
	return in
}

func written(t testing.TB, in Input) string {
	t.Helper()
	var b bytes.Buffer
	if err := HTML(&b, Of(in)); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// A sawmill of our own: single-phase and three-phase sources, a battery, a waiver, errors.
var sawmill = `site "sawmill" {
  ratings            = "iec-60364-5-52:2009"
  voltage_v          = 400
  air_c              = 40
  rise_limit_percent = 1.0
  rise_limit_origin  = "letter of the network, made up"
}
supply "kiosk" {
  fault_ka       = 14
  fault_min_ka   = 8
  earth_loop_ohm = 0.04
  earthing       = "tn-s"
  x_over_r       = 2
}
board "hall" {
  rated_a = 250
}
source "roof" {
  kind          = "inverter"
  rated_kva     = 50
  max_current_a = 76
  phases        = 3
}
source "office" {
  kind          = "inverter"
  rated_kva     = 5
  max_current_a = 23
  phases        = 1
  phase         = "L2"
}
source "cells" {
  kind          = "battery"
  rated_kva     = 30
  max_current_a = 45
  charge_kva    = 20
  phases        = 3
}
cable "five" {
  conductor  = "copper"
  insulation = "xlpe-90"
  build      = "multicore"
  cores      = "4c+e"
}
cable "ones" {
  conductor  = "aluminium"
  insulation = "xlpe-90"
  build      = "single-core"
}
route "wall" {
  laid           = "perforated-tray"
  other_circuits = 1
  sun            = true
  width_mm       = 300
}
route "pipe" {
  laid           = "conduit"
  other_circuits = 0
  duct_inside_mm = 90
}
` + trial.Feeder{
	Name: "mains", From: "supply.kiosk", To: "board.hall", Cable: "ones", SizeMM2: 95, NeutralMM2: 95, EarthMM2: 50, Legs: 2, Route: "wall", LengthM: 30,
	More: `leg_lengths_m = [29, 30]
  device {
    at          = supply.kiosk
    kind        = "mccb"
    rated_a     = 250
    instant_a   = 1500
    breaking_ka = 25
  }`,
}.String() + `run "roof" {
  from      = source.roof
  to        = board.hall
  cable     = cable.five
  size_mm2  = 16
  earth_mm2 = 16
  device {
    at      = board.hall
    kind    = "mccb"
    rated_a = 80
  }
  section {
    route    = route.wall
    length_m = 42
  }
  section {
    route    = route.pipe
    length_m = 6
  }
}
run "office" {
  from      = source.office
  to        = board.hall
  cable     = cable.five
  size_mm2  = 6
  earth_mm2 = 6
  device {
    at      = board.hall
    kind    = "mcb"
    trip    = "c"
    rated_a = 32
  }
  section {
    route    = route.pipe
    length_m = 20
  }
}
run "cells" {
  from      = source.cells
  to        = board.hall
  cable     = cable.five
  size_mm2  = 16
  earth_mm2 = 16
  section {
    route    = route.wall
    length_m = 12
  }
}
waiver "voltage-rise" {
  on          = source.roof
  reason      = "the network accepts 3 % until the tap is changed"
  approved_by = "J.K."
  until       = "2027-06-30"
}
waiver "run-overloaded" {
  on     = run.cells
  reason = "no longer needed"
}
`

var (
	sheets  = regexp.MustCompile(`(?s)<article class="run" id="run-(\d+)">.*?</article>`)
	shown   = regexp.MustCompile(`<tr><td>(?:[^<]|</?bdi>)*<td>(?:<data value=([^>]+)>)?([^<]+)<`)
	anyData = regexp.MustCompile(`<data value=([^>]+)>([^<]*)</data>`)
)

// leaves lists the numbers of a JSON value by path.
func leaves(path string, v any, into map[string]float64) {
	switch x := v.(type) {
	case float64:
		into[path] = x
	case map[string]any:
		for k, e := range x {
			leaves(strings.TrimPrefix(path+"."+k, "."), e, into)
		}
	case []any:
		for i, e := range x {
			leaves(fmt.Sprintf("%s.%d", path, i), e, into)
		}
	}
}

// closeTo says that a figure as printed is that figure rounded: within half of its last digit.
func closeTo(printed string, x float64) bool {
	got, err := strconv.ParseFloat(printed, 64)
	if err != nil {
		return false
	}
	step := 1.0
	if strings.Contains(printed, "e") { // a small figure, of three digits
		step = 0.01 * math.Abs(x)
	} else if i := strings.IndexByte(printed, '.'); i >= 0 {
		step = math.Pow(10, -float64(len(printed)-i-1))
	}
	return math.Abs(got-x) <= 0.5*step*(1+1e-9)
}

// TestFigures: every number of calc's JSON stands on the run's sheet, under its own name,
// in full, and as printed is that number rounded; and no sheet has a number of its own.
func TestFigures(t *testing.T) {
	for name, text := range map[string]string{
		"sawmill": sawmill, "generated": string(generate.Design(60, 5)), "computed": strings.Replace(sawmill, "iec-60364-5-52:2009", "iec-60287", 1),
		"nec": strings.Replace(sawmill, "iec-60364-5-52:2009", "nec:2023", 1), "exact": strings.Replace(sawmill, "air_c              = 40", "rise_method = \"exact\"", 1),
	} {
		t.Run(name, func(t *testing.T) {
			in := input(text)
			v := in.Result.Review
			all := make([]int, len(v.Runs))
			for i := range all {
				all[i] = i
			}
			var b bytes.Buffer
			if err := report.WriteJSON(&b, report.NewCalcDocument(in.Tool, v, all, "")); err != nil {
				t.Fatal(err)
			}
			var calc struct{ Runs []map[string]any }
			if err := json.Unmarshal(b.Bytes(), &calc); err != nil {
				t.Fatal(err)
			}
			d := Of(in)
			var blocks []Block
			for _, p := range d.Parts {
				if p.ID == "workings" {
					blocks = p.Blocks
				}
			}
			page := written(t, in)
			found := sheets.FindAllString(page, -1)
			if len(found) != len(calc.Runs) || len(blocks) != len(found) || len(found) == 0 {
				t.Fatalf("%d sheets of %d runs", len(found), len(calc.Runs))
			}
			compared := 0
			for i, sheet := range found {
				run := calc.Runs[i]["run"]
				want, rows := map[string]float64{}, shown.FindAllStringSubmatch(sheet, -1)
				leaves("", calc.Runs[i], want)
				steps := map[float64]bool{}
				for _, r := range blocks[i].Working {
					if !r.Known {
						continue
					}
					if len(rows) == 0 {
						t.Fatalf("%v: %s is not in the page", run, r.Key)
					}
					if x, is := want[r.Key]; !is || r.Value != x {
						t.Errorf("%v: %s is %v, calc has %v (%v)", run, r.Key, r.Value, x, is)
					}
					full, printed := rows[0][1], html.UnescapeString(rows[0][2])
					if full == "" {
						full = printed
					}
					if got, err := strconv.ParseFloat(full, 64); err != nil || got != r.Value || !closeTo(printed, r.Value) {
						t.Errorf("%v: %s is %v, and the page has %q for it", run, r.Key, r.Value, rows[0][0])
					}
					rows = rows[1:]
					compared++
					steps[r.Value] = true
					delete(want, r.Key)
				}
				if len(rows) > 0 {
					t.Errorf("%v: the page has figures of its own: %q", run, rows)
				}
				// counts stand in words; the four fault figures are steps as well
				for key, x := range want {
					last := key[strings.LastIndexByte(key, '.')+1:]
					switch {
					case last == "legs", last == "circuits", last == "governing_section":
					case strings.HasPrefix(key, "fault_") || key == "earth_fault_min_ka" || key == "loop_ohm":
						if !steps[x] {
							t.Errorf("%v: no step is %s, %v", run, key, x)
						}
					default:
						t.Errorf("%v: %s, %v, does not stand on the sheet", run, key, x)
					}
				}
			}
			if compared < 8*len(found) {
				t.Errorf("%d figures compared", compared)
			}
			// everywhere else what is printed is the figure beside it, rounded
			for _, m := range anyData.FindAllStringSubmatch(page, -1) {
				x, err := strconv.ParseFloat(m[1], 64)
				if number, _, _ := strings.Cut(html.UnescapeString(m[2]), " "); err != nil || !closeTo(number, x) {
					t.Errorf("%s is printed for %s", m[2], m[1])
				}
			}
		})
	}
}

// TestStatement: the rise of a source is that of the assessment, its own segment's and the
// whole, phase by phase; the words come from the findings.
func TestStatement(t *testing.T) {
	in := input(sawmill)
	v := in.Result.Review
	rows := map[string][]schedule.Cell{}
	var columns []schedule.Column
	for _, p := range Of(in).Parts {
		if p.ID != "rise" {
			continue
		}
		for _, b := range p.Blocks {
			if b.Table != nil && b.Table.Kind == "sources" {
				columns = b.Table.Columns
				for _, r := range b.Table.Rows {
					rows[r[0].Text] = r
				}
			}
		}
	}
	at := func(source, column string) schedule.Cell {
		for i, c := range columns {
			if c.Name == column {
				return rows[source][i]
			}
		}
		t.Fatal(column)
		return schedule.Cell{}
	}
	for n := range v.Tree.Nodes {
		s := v.Tree.Nodes[n].Source
		if s == nil {
			continue
		}
		total, shares, known := v.Verdict().Source(n)
		own := shares[len(shares)-1]
		if !known || at(s.Name, "path_rise_percent").Value != total.Percent || at(s.Name, "path_rise_v").Value != total.V || at(s.Name, "rise_percent").Value != own.Percent {
			t.Errorf("%s: %+v", s.Name, rows[s.Name])
		}
	}
	for source, want := range map[string]string{"roof": "over, waived", "office": "over", "cells": "within"} {
		if got := at(source, "verdict").Text; got != want {
			t.Errorf("%s: %q, want %q", source, got, want)
		}
	}
}

// TestPage: what the report has to have, whatever the design.
func TestPage(t *testing.T) {
	in := input(sawmill)
	in.Revision = &Revision{Commit: "abc1234", Day: "2027-02-27", Subject: "a larger <main>", By: "A & B", Changed: true}
	page := written(t, in)
	if again := written(t, in); again != page {
		t.Error("not the same twice")
	}
	errors := strings.Count(page, `<div class="f error"><p><span class="mark"`)
	if errors == 0 {
		t.Error("no error is marked")
	}
	for _, want := range []string{
		"stand open. Do not buy or build from this design.", `@top-right { content: "`, "size: A4", "size: A3 landscape", "revision abc1234 of 2027-02-27, changed since", "a larger &lt;main&gt; (A &amp; B)",
		html.EscapeString(report.Caution), "the network accepts 3 % until the tap is changed", "accepts 1 finding<", "accepts 0 findings; nothing is found that this waiver of run-overloaded on run.cells covers", "J.K.", "from memory", "prefers-color-scheme: dark",
		`<html lang="en">`, "does not see",
	} {
		if !strings.Contains(page, want) {
			t.Errorf("%q is missing", want)
		}
	}
	for _, part := range []string{"summary", "basis", "findings", "rise", "loading", "cables", "boards", "routes", "terminations", "drums", "workings", "waivers", "checks"} {
		if !strings.Contains(page, `<section id="`+part+`"`) || !strings.Contains(page, `href="#`+part+`"`) {
			t.Errorf("there is no part %s, or no way to it", part)
		}
	}
	if m := regexp.MustCompile(`(?i)<script|\son[a-z]+=|src=|url\(|@import|https?://`).FindString(page); m != "" {
		t.Errorf("%q stands in it", m)
	}
}

// TestStanding: where errors stand open, every printed page and every part says so, and
// where none does, nothing says that one would.
func TestStanding(t *testing.T) {
	whole := input(`site "x" {
  ratings = "iec-60364-5-52:2009"
  voltage_v = 400
}
`)
	whole.Result.Findings = nil
	if page := written(t, whole); strings.Contains(page, `@top-right { content: "`) || strings.Contains(page, `class="again"`) || !strings.Contains(page, "There is no run to assess; nothing is shown to hold.") {
		t.Error("an empty design")
	}
	page := written(t, input(sawmill))
	parts := strings.Count(page, "<section ")
	if got := strings.Count(page, `<p class="again">`); got != parts || got == 0 {
		t.Errorf("%d of %d parts say that errors stand open", got, parts)
	}
}

// TestNames: no word of a design becomes markup, style or script, and what runs from right
// to left is kept apart.
func TestNames(t *testing.T) {
	long := strings.Repeat("very-long-name-", 12)
	text := strings.NewReplacer(
		`site "sawmill"`, `site "</title><script>alert(1)</script>\" } body { display: none } /*"`,
		`run "roof"`, `run "<img src=x onerror=alert(1)>"`, `board "hall"`, `board "`+long+`"`, "board.hall", `board["`+long+`"]`,
		`source "office"`, `source "\u05de\u05e9\u05e8\u05d3 5 & </svg>"`, "source.office", `source["\u05de\u05e9\u05e8\u05d3 5 & </svg>"]`,
		`route "pipe"`, `route "a\u202eb"`, "route.pipe", `route["a\u202eb"]`, `cable "five"`, `cable "{{.}}"`, "cable.five", `cable["{{.}}"]`,
	).Replace(sawmill)
	in := input(text)
	if len(in.Result.Review.Runs) != 4 || len(in.Result.Review.Design.Faults) > 0 {
		t.Fatalf("%+v", in.Result.Review.Design.Faults)
	}
	in.Revision = &Revision{Commit: "abc", Day: "2027-01-01", Subject: `</style><script>`, By: `"`}
	page := written(t, in)
	for _, bad := range []string{"<script", "<img", "\x1b", "\u202e", "</title><script", "ZgotmplZ"} {
		if strings.Contains(page, bad) {
			t.Errorf("%q stands in it", bad)
		}
	}
	for _, want := range []string{"&lt;img src=x onerror=alert(1)&gt;", "<bdi>\u05de\u05e9\u05e8\u05d3</bdi> 5 &amp; &lt;/svg&gt;", "{{.}}", long} {
		if !strings.Contains(page, want) {
			t.Errorf("%q is missing", want)
		}
	}
	_, rest, _ := strings.Cut(page, "<style>")
	style, _, _ := strings.Cut(rest, "</style>")
	if strings.Count(page, "</style>") != 1 || strings.Contains(style, "display: none } /*") || strings.Count(style, "{") != strings.Count(style, "}") {
		t.Error("a name steps out of its string in the style")
	}
	wellFormed(t, page)
}

// wellFormed reads every drawing of a page as XML.
func wellFormed(t *testing.T, page string) {
	t.Helper()
	drawings := regexp.MustCompile(`(?s)<svg.*?</svg>`).FindAllString(page, -1)
	if len(drawings) == 0 {
		t.Error("no drawing")
	}
	for _, s := range drawings {
		if err := xml.Unmarshal([]byte(s), new(struct{})); err != nil {
			t.Errorf("%v in %.200s", err, s)
		}
		for _, want := range []string{`role="img"`, "aria-labelledby=", "<title id=", "<desc id="} {
			if !strings.Contains(s, want) {
				t.Errorf("%s is missing in %.200s", want, s)
			}
		}
		if strings.Contains(s, "NaN") || strings.Contains(s, "Inf") {
			t.Errorf("a place that is none in %s", s)
		}
	}
}

// TestBroken: designs with faults give a report that says so, never a panic.
func TestBroken(t *testing.T) {
	for name, text := range map[string]string{
		"empty":         "",
		"site alone":    "site \"x\" {\n ratings = \"iec-60364-5-52:2009\"\n voltage_v = 400\n}\n",
		"no supply":     strings.Replace(sawmill, `supply "kiosk" {`, `board "kiosk" {`, 1),
		"no cable":      strings.ReplaceAll(sawmill, "cable.five", "cable.gone"),
		"no route":      strings.ReplaceAll(sawmill, "route.wall", "route.gone"),
		"no set":        strings.Replace(sawmill, "iec-60364-5-52:2009", "nothing", 1),
		"no limit":      strings.Replace(sawmill, "rise_limit_percent = 1.0", "", 1),
		"no voltage":    strings.Replace(sawmill, "voltage_v          = 400", "", 1),
		"a broken text": sawmill + "run \"",
		"bad length":    strings.Replace(sawmill, "length_m = 42", "length_m = -1", 1),
		"absorbs":       strings.ReplaceAll(sawmill, "phases        = 3", "phases = 3\n power_factor = 0.1\n reactive = \"absorbs\""),
	} {
		t.Run(name, func(t *testing.T) {
			page := written(t, input(text))
			if strings.Contains(page, "ZgotmplZ") || strings.Contains(page, "NaN") || strings.Contains(page, "%!") {
				t.Errorf("%.300s", page)
			}
			if name != "site alone" && name != "empty" && name != "absorbs" && name != "no limit" && !strings.Contains(page, "stand open") && !strings.Contains(page, "stands open") {
				t.Error("it does not say that errors stand open")
			}
		})
	}
}

// TestSize holds the weight of a large report with its drawings against its bound of 10 MB.
func TestSize(t *testing.T) {
	page := written(t, drawn(string(generate.Design(1000, 1))))
	if len(page) > 10e6 {
		t.Errorf("%d bytes", len(page))
	}
}

func BenchmarkReport1000(b *testing.B) {
	text := string(generate.Design(1000, 1))
	size := 0
	for b.Loop() {
		size = len(written(b, drawn(text)))
	}
	b.ReportMetric(float64(size)/1e6, "MB")
}
