package design

import (
	"reflect"
	"testing"

	"trefoil/lint/source"
)

// TestRooms: blocks that state no rare attribute share one empty room which nothing is written
// to, and the others have one each, whenever their value comes to be known.
func TestRooms(t *testing.T) {
	const text = `
let {
  limit = 3
  none  = null
}

source "plain" { phases = 3 }
source "late" { fault_a = let.limit * 10 }
source "null" { fault_a = null }
source "null-late" { fault_a = let.none }
source "other" { fault_a = source.late.fault_a + 1 }
source "set" {
  copies = 2
  max_v  = 400 + copy.number
}

run "plain" {}
run "legs" { leg_device_a = 20 }
run "never" { never_with = [run.plain] }

route "plain" {}
route "deep" { depth_m = let.limit }
`
	d := Read(".", []*source.File{{Name: "site.hcl", Bytes: []byte(text)}})
	room := func(name string) *SourceDetail {
		s, ok := d.Find("source", name).(*Source)
		if !ok {
			t.Fatalf("no source %q", name)
		}
		return s.SourceDetail
	}
	empty := room("plain")
	if room("null") != empty {
		t.Error("a source whose rare attribute is null has a room of its own")
	}
	for name, want := range map[string]float64{"late": 30, "other": 31} {
		if r := room(name); r == empty || r.FaultA.Value != want {
			t.Errorf("source %q: %+v", name, r.FaultA)
		}
	}
	if a := room("null-late").FaultA; a.Origin != Absent {
		t.Errorf("a null that comes late: %+v", a)
	}
	if a, b := room("set[1]"), room("set[2]"); a == b || a.MaxV.Value != 401 || b.MaxV.Value != 402 {
		t.Errorf("copies: %+v and %+v", a.MaxV, b.MaxV)
	}
	if r := d.Runs[1]; r.LegDeviceA.Value != 20 || d.Runs[0].LegDeviceA.Origin != Absent || len(d.Runs[2].NeverWith) != 1 || len(d.Runs[0].NeverWith) != 0 {
		t.Errorf("runs: %+v", r.LegDeviceA)
	}
	if d.Routes[1].DepthM.Value != 3 || d.Routes[0].DepthM.Origin != Absent {
		t.Errorf("routes: %+v", d.Routes[1].DepthM)
	}
	if want := (SourceDetail{Reactive: Text{Value: "delivers", Origin: Defaulted}, Holds: Text{Value: "power", Origin: Defaulted}}); !reflect.DeepEqual(*empty, want) {
		t.Errorf("the empty room holds %+v besides what is taken where nothing is stated", *empty)
	}
	for _, r := range []any{*d.Runs[0].RunDetail, *d.Routes[0].RouteDetail} {
		if !reflect.ValueOf(r).IsZero() {
			t.Errorf("the empty room holds %+v", r)
		}
	}
}
