package assess_test

import (
	"math"
	"testing"

	"trefoil/lint/assess"
	"trefoil/lint/design"
	"trefoil/lint/source"
	"trefoil/ratings/sets"
)

const together = `
site "s" {
  ratings   = "iec-60364-5-52:2009"
  voltage_v = 400
}
supply "grid" {
  fault_ka = 10
}
board "b" {
}
source "i" {
  kind          = "inverter"
  phases        = 3
  max_current_a = 300
}
cable "one" {
  conductor  = "copper"
  insulation = "xlpe-90"
  build      = "single-core"
  data "95" {
    outer_mm = 20
    kg_m     = 1
  }
}
cable "four" {
  conductor  = "copper"
  insulation = "xlpe-90"
  build      = "multicore"
  cores      = "4c+e"
  data "95" {
    outer_mm = 40
    kg_m     = 5
  }
}
route "tray" {
  laid           = "ladder"
  width_mm       = 300
  spacing        = "spaced"
  spacing_mm     = 10
  added_kg_m     = 2
  other_circuits = 1
  other_outer_mm = 25
  other_kg_m     = 1.5
}
run "feed" {
  from        = supply.grid
  to          = board.b
  cable       = cable.one
  size_mm2    = 95
  neutral_mm2 = 95
  earth_mm2   = 0
  parallel    = 2
  section {
    route    = route.tray
    length_m = 40
  }
}
run "i" {
  from          = source.i
  to            = board.b
  cable         = cable.four
  size_mm2      = 95
  parallel      = 3
  leg_lengths_m = [20, 25, 25]
  section {
    route    = route.tray
    length_m = 25
  }
}
`

func assessed(t *testing.T, text string) *assess.Review {
	t.Helper()
	d := design.Read(".", []*source.File{{Name: "a.hcl", Bytes: []byte(text)}})
	for _, f := range d.Faults {
		t.Fatal(f.Message)
	}
	return assess.Assess(d, assess.Named(sets.Find))
}

// TestContents: by hand. Width: each of the 2 legs of single cores 2 x 20 in trefoil and
// a neutral of 20, 120 in all; 3 cables of 40, 120; one of 25; between 6 circuits five
// times 10: 315 mm. Mass: 8 x 1 + 3 x 5 + 1.5 + 2 = 26.5 kg/m.
func TestContents(t *testing.T) {
	v := assessed(t, together)
	h := v.Shared[v.Design.Routes[0]].Held
	if h == nil || len(h.WidthGaps)+len(h.MassGaps) > 0 {
		t.Fatalf("%+v", h)
	}
	if math.Abs(h.WidthMM-315) > 1e-9 || math.Abs(h.KgM-26.5) > 1e-9 || h.Computed {
		t.Errorf("%g mm, %g kg/m, computed %v", h.WidthMM, h.KgM, h.Computed)
	}
}

// TestSharing: legs of 20, 25 and 25 m share by 1/20 : 1/25 : 1/25, which is 5 : 4 : 4,
// so that the short one takes 5/13 of 300 A, 115.38 A, and the longest is a quarter longer.
func TestSharing(t *testing.T) {
	v := assessed(t, together)
	s, ok := v.Runs[1].Sharing()
	if !ok || math.Abs(s.Share-5.0/13) > 1e-12 || math.Abs(s.SpreadPercent-25) > 1e-9 || math.Abs(s.WorstA.Value-115.3846) > 1e-4 {
		t.Errorf("%+v %v", s, ok)
	}
	if _, ok := v.Runs[0].Sharing(); ok {
		t.Error("legs without lengths of their own are equal")
	}
}
