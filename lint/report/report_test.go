package report

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"trefoil/lint/assess"
	"trefoil/lint/design"
	"trefoil/lint/engine"
	"trefoil/lint/finding"
	"trefoil/lint/source"
	"trefoil/ratings/sets"
)

func result(t *testing.T) *engine.Result {
	t.Helper()
	f := &source.File{Name: "site.hcl", Bytes: []byte("site \"ü\" {\n  ratings = \"iec-60364-5-52:2009\"\n}\n")}
	v := assess.Assess(design.Read("a", []*source.File{f}), assess.Named(sets.Find))
	res := engine.Check(v, nil, engine.Options{Today: time.Unix(0, 0)})
	res.Findings = []finding.Finding{
		{Rule: "r-one", Severity: finding.Error, At: source.Range{File: f, Start: 5, End: 9}, Message: "bad \x1b[31m\u202ename", Next: "mend it", Subject: "site.ü", Figures: []finding.Figure{{Key: "a_a", Value: 1.0 / 3}, {Key: "nan", Value: math.NaN()}}, Related: []finding.Related{{At: source.Range{File: f, Start: 14, End: 20}, Message: "here"}}, Memory: []string{"Table X"}, Fixes: []finding.Fix{{Name: "right-word", Message: "write it right", Edits: []finding.Edit{{At: source.Range{File: f, Start: 6, End: 8}, Text: "u"}}}}},
		{Rule: "r-two", Severity: finding.Error, At: source.Range{File: f}, Message: "waived one", Subject: "site.ü", Waived: true, Waiver: "why (who)"},
	}
	return res
}

// TestJSON holds the document against the agreed keys, in their order.
func TestJSON(t *testing.T) {
	var b bytes.Buffer
	if err := WriteJSON(&b, CheckDocument(Tool{"trefoil", "1"}, []*engine.Result{result(t)}, 1, "")); err != nil {
		t.Fatal(err)
	}
	want := `{"version":1,"tool":{"name":"trefoil","version":"1"},"findings":[{"rule":"r-one","severity":"error","message":"bad \u001b[31m\u202ename","next":"mend it","subject":"site.ü","file":"site.hcl","line":1,"column":6,"end_line":1,"end_column":9,"figures":{"a_a":0.3333333333333333},"related":[{"file":"site.hcl","line":2,"column":3,"message":"here"}],"waived":false,"memory":["Table X"],"fixes":[{"name":"right-word","kind":"neutral","message":"write it right","edits":[{"file":"site.hcl","line":1,"column":7,"end_line":1,"end_column":8,"text":"u"}]}]},{"rule":"r-two","severity":"error","message":"waived one","next":"","subject":"site.ü","file":"site.hcl","line":1,"column":1,"end_line":1,"end_column":1,"figures":{},"related":[],"waived":true,"waiver":"why (who)"}],"summary":{"runs":0,"assessed":0,"errors":1,"warnings":0,"notes":0,"waived":1}}` + "\n"
	if b.String() != want {
		t.Errorf("got\n%swant\n%s", b.String(), want)
	}
	b.Reset()
	if err := WriteJSON(&b, CheckDocument(Tool{"trefoil", "1"}, []*engine.Result{result(t), result(t)}, 2, "lost")); err != nil {
		t.Fatal(err)
	}
	var v struct {
		Designs []struct{ Findings []any }
		Error   string
		Summary Summary
	}
	if err := json.Unmarshal(b.Bytes(), &v); err != nil || len(v.Designs) != 2 || len(v.Designs[1].Findings) != 2 || v.Error != "lost" || v.Summary.Waived != 2 || strings.Contains(b.String()[:60], `"findings"`) {
		t.Errorf("%s %v", b.String(), err)
	}
}

// TestText: strangers' words cannot steer a terminal; waived findings say why.
func TestText(t *testing.T) {
	var b bytes.Buffer
	if err := WriteText(&b, []*engine.Result{result(t)}, Options{Provenance: true}); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"site.hcl:1:6: error: bad \ufffd[31m\ufffdname [r-one]\n", "    next: mend it\n", "    site.hcl:2:3: here\n", "    from memory: Table X\n", "waived error: waived one [r-two]\n    reason: why (who)\n", "0 runs, 0 assessed: 1 error, 0 warnings, 0 notes, 1 waived\n", Caution} {
		if !strings.Contains(b.String(), want) {
			t.Errorf("%q is missing in\n%s", want, b.String())
		}
	}
	b.Reset()
	if err := WriteText(&b, []*engine.Result{result(t)}, Options{Show: finding.Error + 1}); err != nil || strings.Contains(b.String(), "r-one") {
		t.Errorf("%s %v", b.String(), err)
	}
}

// assessed reads and assesses one text.
func assessed(text string) *assess.Review {
	return assess.Assess(design.Read(".", []*source.File{{Name: "site.hcl", Bytes: []byte(text)}}), assess.Named(sets.Find))
}

const mill = `site "mill" {
  ratings   = "iec-60364-5-52:2009"
  voltage_v = 400
  air_c     = 30
}
supply "grid" {
  fault_ka = 10
}
source "a" {
  kind          = "inverter"
  rated_kva     = 20
  max_current_a = 30
  phases        = 3
}
cable "cu" {
  conductor  = "copper"
  insulation = "xlpe-90"
  build      = "multicore"
  cores      = "4c+e"
}
route "wall" {
  laid           = "ladder"
  other_circuits = 0
}
run "a" {
  from     = source.a
  to       = supply.grid
  cable    = cable.cu
  size_mm2 = 16
  device {
    kind    = "mcb"
    rated_a = 32
  }
  section {
    route    = route.wall
    length_m = 10
  }
}
`

// keys lists the keys of a JSON object in the order in which they stand, those of the
// objects inside it left out.
func keys(t *testing.T, text []byte) []string {
	t.Helper()
	d := json.NewDecoder(bytes.NewReader(text))
	if _, err := d.Token(); err != nil {
		t.Fatal(err)
	}
	var list []string
	for d.More() {
		k, err := d.Token()
		if err != nil {
			t.Fatal(err)
		}
		list = append(list, k.(string))
		var inner json.RawMessage
		if err := d.Decode(&inner); err != nil {
			t.Fatal(err)
		}
	}
	return list
}

// inOrder says that the agreed keys stand in got in their order; others may stand between.
func inOrder(t *testing.T, what string, got []string, agreed ...string) {
	t.Helper()
	rest := agreed
	for _, k := range got {
		if len(rest) > 0 && k == rest[0] {
			rest = rest[1:]
		}
	}
	if len(rest) > 0 {
		t.Errorf("%s: %q is missing or out of order in %q", what, rest[0], got)
	}
}

// calc writes the document of every run and takes it apart.
func calc(t *testing.T, text string) (document []byte, runs, sections []json.RawMessage) {
	t.Helper()
	v := assessed(text)
	all := make([]int, len(v.Runs))
	for i := range all {
		all[i] = i
	}
	var b bytes.Buffer
	if err := WriteJSON(&b, NewCalcDocument(Tool{"trefoil", "1"}, v, all, "")); err != nil {
		t.Fatal(err)
	}
	var d struct{ Runs []json.RawMessage }
	if err := json.Unmarshal(b.Bytes(), &d); err != nil || len(d.Runs) != 1 {
		t.Fatalf("%v %s", err, b.Bytes())
	}
	var r struct{ Sections []json.RawMessage }
	if err := json.Unmarshal(d.Runs[0], &r); err != nil || len(r.Sections) != 1 {
		t.Fatalf("%v %s", err, d.Runs[0])
	}
	return b.Bytes(), d.Runs, r.Sections
}

// TestCalcKeys holds the document of calc against the agreed keys, in their order.
func TestCalcKeys(t *testing.T) {
	document, runs, sections := calc(t, mill)
	inOrder(t, "document", keys(t, document), "version", "runs")
	inOrder(t, "run", keys(t, runs[0]), "run", "legs", "design_current_a", "device_a", "sections", "capacity_a", "governing_section",
		"r_ohm_km", "x_ohm_km", "rise_v", "rise_percent", "path_rise_v", "path_rise_percent", "loss_w")
	inOrder(t, "section", keys(t, sections[0]), "route", "length_m", "tabulated_a", "basis", "method", "ref", "circuits", "factors", "capacity_a")
}

// TestCalcUnknown: a figure that cannot be worked out is absent, neither 0 nor null,
// and what can be worked out without it stays.
func TestCalcUnknown(t *testing.T) {
	gone := func(list []string, keys ...string) {
		t.Helper()
		for _, k := range keys {
			if slices.Contains(list, k) {
				t.Errorf("%q stands in %q", k, list)
			}
		}
	}
	// 17 mm2 is no size of IEC 60228, Table 2: no capacity and no resistance
	document, runs, sections := calc(t, strings.Replace(mill, "size_mm2 = 16", "size_mm2 = 17", 1))
	gone(keys(t, runs[0]), "capacity_a", "governing_section", "r_ohm_km", "rise_v", "rise_percent", "path_rise_v", "path_rise_percent", "loss_w")
	gone(keys(t, sections[0]), "tabulated_a", "capacity_a", "basis", "method", "ref")
	inOrder(t, "run", keys(t, runs[0]), "run", "legs", "design_current_a", "device_a", "sections", "not_assessed")
	inOrder(t, "section", keys(t, sections[0]), "route", "length_m", "circuits", "factors")
	if bytes.Contains(document, []byte("null")) {
		t.Errorf("%s", document)
	}
	// without a current: capacity and resistance only
	_, runs, _ = calc(t, strings.NewReplacer("  rated_kva     = 20\n", "", "  max_current_a = 30\n", "").Replace(mill))
	gone(keys(t, runs[0]), "design_current_a", "rise_v", "rise_percent", "path_rise_v", "path_rise_percent", "loss_w")
	inOrder(t, "run", keys(t, runs[0]), "run", "device_a", "capacity_a", "r_ohm_km", "x_ohm_km")
	// without a device
	_, runs, _ = calc(t, strings.Replace(mill, "    rated_a = 32\n", "", 1))
	gone(keys(t, runs[0]), "device_a")
}

// TestColumns: both writers count characters, not bytes, and a byte-order mark is none.
func TestColumns(t *testing.T) {
	for name, c := range map[string]struct {
		text       string
		start, end uint32
		line       int
		from, to   int
	}{
		"plain":            {"abc def\n", 4, 7, 1, 5, 8},
		"two bytes":        {"äöü def\n", 7, 10, 1, 5, 8},
		"four bytes":       {"🌞🌞🌞 def\n", 13, 16, 1, 5, 8},
		"joined accent":    {"e\u0301 def\n", 4, 7, 1, 4, 7}, // a letter and a combining accent are two code points
		"mark":             {"\ufeffabc def\n", 7, 10, 1, 5, 8},
		"other line ends":  {"ä\r\nö def\r\n", 7, 10, 2, 3, 6},
		"end of the file":  {"ä\nö", 5, 5, 2, 2, 2},
		"inside the third": {"🌞\n\n  ü = 1\n", 8, 10, 3, 3, 4},
	} {
		t.Run(name, func(t *testing.T) {
			f := &source.File{Name: "ü.hcl", Bytes: []byte(c.text)}
			res := result(t)
			res.Findings = []finding.Finding{{Rule: "r", Severity: finding.Error, Message: "m", At: source.Range{File: f, Start: c.start, End: c.end}, Related: []finding.Related{{At: source.Range{File: f, Start: c.start, End: c.end}, Message: "here"}}}}
			x := CheckDocument(Tool{}, []*engine.Result{res}, 1, "").Findings[0]
			if x.Line != c.line || x.Column != c.from || x.EndLine != c.line || x.EndColumn != c.to || x.Related[0].Column != c.from {
				t.Errorf("JSON: %d:%d to %d:%d, want %d:%d to %d", x.Line, x.Column, x.EndLine, x.EndColumn, c.line, c.from, c.to)
			}
			var b bytes.Buffer
			if err := WriteText(&b, []*engine.Result{res}, Options{}); err != nil {
				t.Fatal(err)
			}
			if want := fmt.Sprintf("ü.hcl:%d:%d: error: m [r]\n", c.line, c.from); !strings.HasPrefix(b.String(), want) {
				t.Errorf("text: %q, want %q", b.String(), want)
			}
		})
	}
}

// TestCalcText: the working cannot steer a terminal either.
func TestCalcText(t *testing.T) {
	text := strings.NewReplacer(`site "mill"`, `site "mill\u001b[31m"`, `run "a"`, `run "a\u001b[2J\u202e"`, `route "wall"`, `route "wall\u0007"`, "route.wall", `route["wall\u0007"]`).Replace(mill)
	v := assessed(text)
	if len(v.Runs) != 1 {
		t.Fatal(v.Design.Faults)
	}
	var b bytes.Buffer
	if err := WriteCalc(&b, v, []int{0}); err != nil {
		t.Fatal(err)
	}
	if strings.ContainsAny(b.String(), "\x1b\x07\u202e") {
		t.Errorf("a control character stands in %q", b.String())
	}
}
