package generate

import (
	"bytes"
	"testing"

	"trefoil/lint/design"
	"trefoil/lint/source"
)

// TestBytes: equal seeds give equal bytes, other seeds others, and the files laid end
// to end are the one text.
func TestBytes(t *testing.T) {
	a := Design(130, 3)
	if !bytes.Equal(a, Design(130, 3)) {
		t.Error("one seed gives two texts")
	}
	if bytes.Equal(a, Design(130, 4)) {
		t.Error("two seeds give one text")
	}
	for _, perFile := range []int{1, 7, 130, 1000} {
		files := Files(130, 3, perFile)
		if want := (130 + perFile - 1) / perFile; len(files) != want {
			t.Errorf("%d files of %d runs each, want %d", len(files), perFile, want)
		}
		if !bytes.Equal(a, bytes.Join(files, nil)) {
			t.Errorf("files of %d runs each hold another text", perFile)
		}
	}
}

// TestWhole reads designs at and around the size of a board: every run is there, and
// nothing is broken or unknown.
func TestWhole(t *testing.T) {
	for _, runs := range []int{1, perBoard - 1, perBoard, perBoard + 1, 500} {
		d := design.Read(".", []*source.File{{Name: "site.hcl", Bytes: Design(runs, 1)}})
		boards := (runs + perBoard - 1) / perBoard
		if len(d.Faults) > 0 || len(d.Runs) != runs+boards+1 || len(d.Sources) != runs || len(d.Boards) != boards+1 {
			t.Errorf("%d runs asked for: %d runs, %d sources, %d boards, faults %v", runs, len(d.Runs), len(d.Sources), len(d.Boards), d.Faults)
		}
	}
}
