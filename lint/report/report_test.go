package report

import (
	"bytes"
	"encoding/json"
	"math"
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
		{Rule: "r-one", Severity: finding.Error, At: source.Range{File: f, Start: 5, End: 9}, Message: "bad \x1b[31m\u202ename", Next: "mend it", Subject: "site.ü", Figures: []finding.Figure{{Key: "a_a", Value: 1.0 / 3}, {Key: "nan", Value: math.NaN()}}, Related: []finding.Related{{At: source.Range{File: f, Start: 14, End: 20}, Message: "here"}}, Memory: []string{"Table X"}},
		{Rule: "r-two", Severity: finding.Error, At: source.Range{File: f}, Message: "waived one", Subject: "site.ü", Waived: true, Waiver: "why (who)"},
	}
	return res
}

// TestJSON holds the document against the agreed keys, in their order.
func TestJSON(t *testing.T) {
	var b bytes.Buffer
	if err := WriteJSON(&b, CheckDocument(Tool{"trefoil", "1"}, []*engine.Result{result(t)}, "")); err != nil {
		t.Fatal(err)
	}
	want := `{"version":1,"tool":{"name":"trefoil","version":"1"},"findings":[{"rule":"r-one","severity":"error","message":"bad \u001b[31m` + "\u202e" + `name","next":"mend it","subject":"site.ü","file":"site.hcl","line":1,"column":6,"end_line":1,"end_column":9,"figures":{"a_a":0.3333333333333333},"related":[{"file":"site.hcl","line":2,"column":3,"message":"here"}],"waived":false,"memory":["Table X"]},{"rule":"r-two","severity":"error","message":"waived one","next":"","subject":"site.ü","file":"site.hcl","line":1,"column":1,"end_line":1,"end_column":1,"figures":{},"related":[],"waived":true,"waiver":"why (who)"}],"summary":{"runs":0,"assessed":0,"errors":1,"warnings":0,"notes":0,"waived":1}}` + "\n"
	if b.String() != want {
		t.Errorf("got\n%swant\n%s", b.String(), want)
	}
	b.Reset()
	if err := WriteJSON(&b, CheckDocument(Tool{"trefoil", "1"}, []*engine.Result{result(t), result(t)}, "lost")); err != nil {
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
