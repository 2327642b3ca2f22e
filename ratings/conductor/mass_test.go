package conductor_test

import (
	"math"
	"testing"

	"trefoil/ratings"
	"trefoil/ratings/conductor"
	"trefoil/ratings/quantity"
)

// TestMassKgM holds the computed mass against a maker's sheet of PVC-insulated copper
// cables of AS/NZS 5000.1, four cores and an earth of 16 mm2: 35 mm2, 27.7 mm, 1.93 kg/m;
// 25 mm2, 26.9 mm, 1.54 kg/m (caledoniancable.com, Unarmored4E). The insulation is that
// of IEC 60502-1, close to but not the sheet's own.
func TestMassKgM(t *testing.T) {
	for _, c := range []struct{ size, outer, want float64 }{{35, 27.7, 1.93}, {25, 26.9, 1.54}} {
		got, gap := conductor.MassKgM(ratings.Circuit{
			Conductor: "copper", Strands: "stranded", Insulation: "pvc-75", Build: "multicore",
			Size: quantity.MM2(c.size), Cores: 5, OuterMM: quantity.Of(c.outer),
		}, 1, 16)
		if gap != nil {
			t.Fatal(gap.Reason)
		}
		if math.Abs(got/c.want-1) > 0.02 {
			t.Errorf("%g mm2: %.3f kg/m, the maker says %.2f", c.size, got, c.want)
		}
	}
}

// TestMassKgM_single_core: 95 mm2 aluminium with XLPE, by hand. Conductor 11.4 mm,
// insulation 1.1, sheath max(1.4, 0.035 (11.0 + 2.2) + 1 = 1.462, rounded 1.5):
// outer 13.6 + 3.0 = 16.6 mm. Metal 95 x 2.70 = 256.5 g; insulation pi 12.5 x 1.1 x 0.92
// = 39.74 g; sheath pi 15.1 x 1.5 x 1.40 = 99.62 g: 0.3959 kg/m.
func TestMassKgM_single_core(t *testing.T) {
	got, gap := conductor.MassKgM(ratings.Circuit{
		Conductor: "aluminium", Strands: "stranded", Insulation: "xlpe-90", Build: "single-core", Size: quantity.MM2(95),
	}, 0, 0)
	if gap != nil || math.Abs(got-0.3959) > 0.0001 {
		t.Errorf("%.4f kg/m, %v", got, gap)
	}
}

// TestMassKgM_armoured is not worked out.
func TestMassKgM_armoured(t *testing.T) {
	_, gap := conductor.MassKgM(ratings.Circuit{
		Conductor: "copper", Strands: "stranded", Insulation: "xlpe-90", Build: "multicore", Armour: "steel-wire",
		Size: quantity.MM2(95), Cores: 4, OuterMM: quantity.Of(45),
	}, 0, 0)
	if gap == nil {
		t.Error("armour has no construction data, and a mass was made of it")
	}
}

// TestMetalKgM: 100 m of 50 mm2 are 5 dm3: 44.45 kg of copper of 8.89 kg/dm3 (IEC 60028,
// from memory), 13.5 kg of aluminium of 2.70 (IEC 60889, from memory).
func TestMetalKgM(t *testing.T) {
	for metal, want := range map[string]float64{"copper": 44.45, "aluminium": 13.5} {
		if got, ok := conductor.MetalKgM(metal, 50); !ok || math.Abs(100*got-want) > 1e-9 {
			t.Errorf("%s: %v", metal, got)
		}
	}
	if _, ok := conductor.MetalKgM("iron", 50); ok {
		t.Error("iron is known")
	}
}
