package design

import (
	"fmt"
	"strings"
	"testing"

	"trefoil/lint/source"
)

// TestCopiesTogether: of the sets of copies that are too many together the later ones are
// refused, always the same, however the pieces of a text are read.
func TestCopiesTogether(t *testing.T) {
	var b strings.Builder
	for i := range 7 {
		fmt.Fprintf(&b, "board \"m%d\" {\n  # %s\n  copies = 9000\n}\n", i, strings.Repeat("x", 20000))
	}
	for range 3 {
		d := Read(".", []*source.File{{Name: "site.hcl", Bytes: []byte(b.String())}})
		var refused []string
		for _, f := range d.Faults {
			if strings.Contains(f.Message, "more than 50000 copies") {
				refused = append(refused, f.Subject)
			}
		}
		if got := strings.Join(refused, " "); got != "board.m5 board.m6" || len(d.Boards) != 5*9000 {
			t.Fatalf("refused are %s, %d boards", got, len(d.Boards))
		}
	}
}

// TestFaultsOfAPiece: of one piece of text a thousand faults are told, and how many more.
func TestFaultsOfAPiece(t *testing.T) {
	d := Read(".", []*source.File{{Name: "site.hcl", Bytes: []byte("board \"a\" {\n" + strings.Repeat("  z {}\n", 1500) + "}\n")}})
	told := 0
	for _, f := range d.Faults {
		if strings.Contains(f.Message, "500 more faults around here are not told") {
			told++
		}
	}
	if len(d.Faults) > maxFaults+3 || told != 1 {
		t.Errorf("%d faults, %d times told that there are more", len(d.Faults), told)
	}
}
