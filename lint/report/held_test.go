package report_test

import (
	"bytes"
	"math"
	"strings"
	"testing"

	"trefoil/lint/assess"
	"trefoil/lint/design"
	"trefoil/lint/report"
	"trefoil/lint/source"
	"trefoil/ratings/sets"
)

const heldText = `
site "works" {
  ratings   = "iec-60364-5-52:2009"
  voltage_v = 400
}
supply "street" {
  fault_ka = 12
}
source "inv" {
  kind          = "inverter"
  max_current_a = 220
  phases        = 3
}
cable "four" {
  conductor  = "copper"
  insulation = "xlpe-90"
  build      = "multicore"
  cores      = "4c+e"
}
route "tray" {
  laid           = "ladder"
  other_circuits = 0
  width_mm       = 100
  load_kg_m      = 20
}
route "pipe" {
  laid           = "conduit"
  other_circuits = 0
  duct_inside_mm = 120
}
run "inv" {
  from          = source.inv
  to            = supply.street
  cable         = cable.four
  size_mm2      = 95
  earth_mm2     = 50
  parallel      = 2
  leg_lengths_m = [38, 42]
  section {
    route    = route.tray
    length_m = 32
  }
  section {
    route    = route.pipe
    length_m = 10
  }
}
`

// TestHeld: calc shows what the routes hold and how the legs share, in text and JSON.
// By hand: cores of 11.4 + 2 x 1.1 = 13.6 mm, laid up x 2.7 = 36.72 mm, sheath 0.035 x
// 2.7 x 13.2 + 1 = 2.247, so 2.2 mm: 41.12 mm, two of them 82.24 mm. Two areas of
// 1328.0 mm2 in 11309.7 mm2 are 23.48 %. Mass: 430 x 8.89 = 3822.7 g, insulation 5 x
// 43.197 x 0.92 = 198.7 g, sheath 268.99 x 1.40 = 376.6 g, fillers (1059.0 - 726.3) x
// 0.91 = 302.7 g: 4.7007 kg/m, two 9.401. The leg of 38 m takes 42 / 80 of 220 A, 115.5 A;
// 233 A x 0.8 = 186.4 A is what a leg carries in the conduit.
func TestHeld(t *testing.T) {
	d := design.Read(".", []*source.File{{Name: "a.hcl", Bytes: []byte(heldText)}})
	v := assess.Assess(d, assess.Named(sets.Find))
	var out bytes.Buffer
	if err := report.WriteCalc(&out, v, []int{0}); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{
		"all cables of the route take 82.2 mm side by side, with room for 100 mm",
		"the route carries 9.4 kg/m (computed) and may carry 20 kg/m",
		"fills its conduit to 23.48 %, limit 40 %: common practice (from memory)",
		"38 m to 42 m; the shortest takes 52.5 % of the current, 115.5 A of the 186.4 A that a leg may carry",
	} {
		if !strings.Contains(out.String(), want) {
			t.Errorf("%q is not in:\n%s", want, out.String())
		}
	}
	run := report.NewCalcDocument(report.Tool{}, v, []int{0}, "").Runs[0]
	for name, c := range map[string]struct {
		got  *float64
		want float64
	}{
		"width_mm": {run.Sections[0].WidthMM, 82.24}, "room_mm": {run.Sections[0].RoomMM, 100},
		"kg_m": {run.Sections[0].KgM, 9.401}, "limit_kg_m": {run.Sections[0].MayKgM, 20},
		"fill_percent": {run.Sections[1].FillPercent, 23.484}, "fill_limit_percent": {run.Sections[1].FillLimitPercent, 40},
		"leg_share_percent": {run.LegSharePercent, 52.5}, "leg_current_a": {run.LegCurrentA, 115.5},
	} {
		if c.got == nil || math.Abs(*c.got-c.want) > 1e-3 {
			t.Errorf("%s: %v, want %g", name, c.got, c.want)
		}
	}
	if run.Sections[0].FillPercent != nil || run.Sections[1].WidthMM != nil {
		t.Error("a tray has no fill, and a conduit no width")
	}
}
