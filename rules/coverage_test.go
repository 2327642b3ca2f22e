package rules

import (
	"bytes"
	"flag"
	"os"
	"strings"
	"testing"
)

// TestCoverageNames looks that each rule named on the page exists, and that each item is
// answered by a rule or says why not.
func TestCoverageNames(t *testing.T) {
	known := map[string]bool{}
	for _, r := range All() {
		known[r.Name] = true
	}
	seen := map[string]bool{}
	for _, s := range checklist {
		for _, i := range s.items {
			if seen[i.id] || i.name == "" {
				t.Errorf("%s stands twice or has no name", i.id)
			}
			seen[i.id] = true
			if i.rules == "" && i.remark == "" {
				t.Errorf("%s has neither a rule nor a remark", i.id)
			}
			for _, r := range strings.Fields(i.rules) {
				if !known[r] {
					t.Errorf("%s names %q, which is no rule", i.id, r)
				}
			}
		}
	}
	for letter, last := range map[string]string{"A": "A9", "B": "B18", "C": "C8", "D": "D8", "E": "E8", "F": "F6", "G": "G11", "H": "H6", "I": "I9", "J": "J2"} {
		if !seen[last] {
			t.Errorf("items %s do not reach %s", letter, last)
		}
	}
	if len(seen) != 9+18+8+8+8+6+11+6+9+2 {
		t.Errorf("%d items", len(seen))
	}
}

// TestCoverage keeps COVERAGE.md equal to what the checklist says.
func TestCoverage(t *testing.T) {
	want := Coverage()
	got, _ := os.ReadFile("COVERAGE.md")
	if bytes.Equal(got, want) {
		return
	}
	if f := flag.Lookup("update"); f != nil && f.Value.String() == "true" { // declared beside TestReadme
		if err := os.WriteFile("COVERAGE.md", want, 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	t.Error("COVERAGE.md is stale; renew it with: go test ./rules -run TestCoverage -update")
}
