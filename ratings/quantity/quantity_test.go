package quantity

import (
	"math"
	"testing"
)

func TestApart(t *testing.T) {
	for _, c := range []struct {
		a, b float64
		x, y string
	}{
		{91, 69.4376, "91 A", "69.4 A"},
		{100.01, 100, "100.01 A", "100 A"},
		{100, 100, "100 A", "100 A"},
		{2.00001, 2, "2.00001 A", "2 A"},
	} {
		if x, y := Ampere.Apart(c.a, c.b); x != c.x || y != c.y {
			t.Errorf("%v and %v print as %s and %s", c.a, c.b, x, y)
		}
	}
	for v, want := range map[float64]string{0: "0 A", 12: "12 A", 12.34: "12.3 A", 0.0001: "0.0001 A", -0.0001: "-0.0001 A", 0.004: "0.004 A", 1e6: "1000000 A"} {
		if got := Ampere.Print(v); got != want {
			t.Errorf("%v prints as %s, want %s", v, got, want)
		}
	}
}

func TestAtMost(t *testing.T) {
	if !AtMost(0.1+0.2, 0.3) || !AtMost(100, 100) || AtMost(100.000001, 100) || AtMost(1e-9, 0) {
		t.Error("the limit itself is met, and no more")
	}
}

// TestTradeSizes: metric areas of NEC Chapter 9 Table 8 (read to its two or three
// figures) and of ASTM B258.
func TestTradeSizes(t *testing.T) {
	for gauge, want := range map[string]float64{"14": 2.08, "12": 3.31, "10": 5.261, "8": 8.367, "6": 13.30, "4": 21.15, "2": 33.62, "1": 42.41, "1/0": 53.49, "2/0": 67.43, "3/0": 85.01, "4/0": 107.2} {
		s, err := AWG(gauge)
		if err != nil || math.Abs(s.MM2/want-1) > 0.001 || s.Trade != gauge+" AWG" {
			t.Errorf("%s: %+v %v, want %g mm2", gauge, s, err, want)
		}
	}
	for kcmil, want := range map[float64]float64{250: 126.7, 300: 152, 500: 253.4, 1000: 506.7} {
		if s, err := Kcmil(kcmil); err != nil || math.Abs(s.MM2/want-1) > 0.001 {
			t.Errorf("%g kcmil: %+v %v", kcmil, s, err)
		}
	}
	for _, bad := range []string{"", "0", "5/0", "0/0", "41", "x", "1.5"} {
		if s, err := AWG(bad); err == nil {
			t.Errorf("%q is %v", bad, s)
		}
	}
	for label, want := range map[string]string{"50": "50 mm2", "2.5 mm2": "2.5 mm2", " 4/0 AWG": "4/0 AWG", "250 kcmil": "250 kcmil"} {
		if s, err := ParseSize(label); err != nil || s.String() != want {
			t.Errorf("%q: %v %v", label, s, err)
		}
	}
	for _, bad := range []string{"", "big", "-5", "0", "1e9", "NaN", "x kcmil"} {
		if s, err := ParseSize(bad); err == nil {
			t.Errorf("%q is %v", bad, s)
		}
	}
}
