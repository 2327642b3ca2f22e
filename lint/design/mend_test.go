package design

import (
	"testing"

	"trefoil/lint/source"
)

// TestSure: a slip of the pen is mended, another thing of a like name is not. All is our
// own judgement.
func TestSure(t *testing.T) {
	for _, c := range []struct {
		word       string
		candidates []string
		want       string
	}{
		{"siez_mm2", []string{"size_mm2", "earth_mm2"}, "size_mm2"},
		{"lenght_m", []string{"length_m"}, "length_m"},
		{"Perforated_Tray", []string{"perforated-tray", "solid-tray"}, "perforated-tray"},
		{"GB1", []string{"GB-1", "GB-2"}, "GB-1"},
		{"lidd", []string{"lid", "laid"}, "lid"},
		{"transfromer", []string{"transformer"}, "transformer"},
		{"utilization_target_percent", []string{"utilisation_target_percent"}, "utilisation_target_percent"},

		{"length_mm", []string{"length_m"}, ""}, // another unit
		{"rated_kvar", []string{"rated_kva"}, ""},
		{"air_k", []string{"air_c"}, ""},
		{"inv-9", []string{"inv-1"}, ""}, // another one of several
		{"inv-11", []string{"inv-1-1"}, ""},
		{"pvc-80", []string{"pvc-70"}, ""},
		{"msb-b", []string{"msb-a"}, ""},
		{"hall-north", []string{"hall-south"}, ""},
		{"upper", []string{"lower"}, ""},
		{"ti", []string{"tt", "it"}, ""},
		{"mim_mm2", []string{"min_mm2", "max_mm2"}, ""},
		{"batery", []string{"battery", "batterie"}, "battery"},
		{"roof", []string{"roofs", "rooft"}, ""}, // two that are as near
		{"size_mm2", []string{"size_mm2"}, ""},   // it is right
		{"", []string{"lid"}, ""},
		{"board", nil, ""},
	} {
		if got := Sure(c.word, c.candidates); got != c.want {
			t.Errorf("%q of %q: got %q, want %q", c.word, c.candidates, got, c.want)
		}
	}
}

func TestRightWord(t *testing.T) {
	for _, c := range []struct{ text, phrase, want string }{
		{"from = board.gne", "board.gne", "from = X"},
		{"from = board.gne-2", "board.gne", ""},
		{"from = aboard.gne", "board.gne", ""},
		{"[a.gne, b.gne]", "gne", ""},
		{"gne-1, gne, größe", "gne", "gne-1, X, größe"},
		{"nothing", "gne", ""},
		{"x", "", ""},
	} {
		f := &source.File{Name: "a.hcl", Bytes: []byte(c.text)}
		fixes := RightWord(source.Range{File: f, End: uint32(len(f.Bytes))}, c.phrase, "X")
		got := ""
		for _, x := range fixes {
			at := x.Edits[0].At
			got = c.text[:at.Start] + x.Edits[0].Text + c.text[at.End:]
		}
		if got != c.want {
			t.Errorf("%q in %q: got %q, want %q", c.phrase, c.text, got, c.want)
		}
	}
}
