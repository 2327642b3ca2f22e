package engine

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"trefoil/lint/assess"
	"trefoil/lint/design"
	"trefoil/lint/finding"
	"trefoil/lint/source"
	"trefoil/ratings/sets"
)

// TestTooManyFindings: of one rule so many findings are told, and how many more there are,
// which no waiver covers; a waiver of what is not told is not called idle.
func TestTooManyFindings(t *testing.T) {
	text := "waiver \"broad\" {\n  on     = board.b\n  reason = \"x\"\n}\nboard \"b\" {\n}\n"
	v := assess.Assess(design.Read(".", []*source.File{{Name: "site.hcl", Bytes: []byte(text)}}), assess.Named(sets.Find))
	for _, c := range []struct{ found, told int }{{maxFound, maxFound}, {maxFound + 1, maxFound + 1}, {3 * maxFound, maxFound + 1}} {
		broad := &Rule{Name: "broad", Severity: finding.Note, Check: func(r *Review) {
			for i := range c.found {
				if r.Full() != (i >= maxFound) {
					t.Errorf("full after %d", i)
				}
				r.Find(r.At(source.Range{}, fmt.Sprintf("run.r%d", i), "a finding", ""))
			}
		}}
		res := Check(v, []*Rule{broad, {Name: waiverStale, Severity: finding.Warning}}, Options{Today: time.Now()})
		more, stale := 0, 0
		for _, f := range res.Findings {
			switch {
			case strings.Contains(f.Message, "more findings of broad are not told"):
				more++
				if f.Severity != finding.Error || f.Waived || !strings.HasPrefix(f.Message, fmt.Sprintf("%d ", c.found-maxFound)) {
					t.Errorf("%+v", f)
				}
			case f.Rule == waiverStale:
				stale++
			}
		}
		over := min(1, max(0, c.found-maxFound))
		if len(res.Findings)-stale != c.told || more != over || stale != 1-over {
			t.Errorf("%d found: %d told, %d times that there are more, %d of the waiver", c.found, len(res.Findings), more, stale)
		}
	}
	if n := most(580); n*580 > maxShared || n < 500 {
		t.Errorf("%d of each of 580 rules", n)
	}
}
