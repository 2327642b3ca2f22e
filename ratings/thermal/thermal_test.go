package thermal

import (
	"math"
	"testing"

	"trefoil/ratings"
	"trefoil/ratings/quantity"
)

func cable(t testing.TB, build string, size float64) *Cable {
	t.Helper()
	c := ratings.Circuit{Conductor: "copper", Strands: "stranded", Insulation: "xlpe-90", Build: build, Formation: "trefoil", Size: quantity.MM2(size), Loaded: 3, Cores: 3}
	k, missing := NewCable(c)
	if missing != nil {
		t.Fatal(missing)
	}
	return k
}

func near(t testing.TB, what string, got, want, tolerance float64) {
	t.Helper()
	if math.IsNaN(got) || math.Abs(got-want) > tolerance {
		t.Errorf("%s is %.6g, want %.6g within %g", what, got, want, tolerance)
	}
}

// TestByHand: relations worked by hand.
func TestByHand(t *testing.T) {
	// One cable of 25 mm in free air: h = 0.21/0.025^0.6 + 3.94 = 5.861; at a surface rise of
	// 45 K, T4 = 1/(pi 0.025 5.861 45^0.25) = 0.839 K.m/W.
	s := load().air["single"]
	h := s.z/math.Pow(0.025, s.g) + s.e
	near(t, "h", h, 5.861, 0.001)
	near(t, "T4", 1/(math.Pi*0.025*h*math.Pow(45, 0.25)), 0.839, 0.001)
	// A balance of surface temperature: heat = a X^1.25, rise = X + heat t.
	x, ok := surfaceRise(60, 0, 0.46, 0.8)
	if !ok {
		t.Fatal("no balance")
	}
	near(t, "balance", x+0.46*math.Pow(x, 1.25)*0.8, 60, 1e-9)
	// One cable at u = 2 0.7/0.025 = 56: T4 = rho/(2 pi) ln(u + sqrt(u^2-1)).
	t4, missing := isothermal(Laying{SoilKmW: 2.5, DepthM: 0.7}, 0.025)
	if missing != nil {
		t.Fatal(missing)
	}
	near(t, "T4 in the ground", t4, 2.5/(2*math.Pi)*math.Log(56+math.Sqrt(56*56-1)), 1e-12)
	// Trefoil at u = 50: rho (ln 100 + 2 ln 50)/(2 pi) = 1.978 rho; three flat at u = 100:
	// 2.375 rho by the formula, 2.309 rho by images.
	near(t, "trefoil", (math.Log(100)+2*math.Log(50))/(2*math.Pi), 1.978, 0.001)
	near(t, "flat", 0.475*math.Log(200)-0.142, 2.375, 0.001)
	near(t, "flat by images", (math.Log(200)+2*math.Log(math.Sqrt(1+100*100)))/(2*math.Pi), 2.309, 0.001)
	// Mutual heating at 0.2 m, both at 0.7 m: rho/(2 pi) ln(sqrt(0.2^2 + 1.4^2)/0.2).
	near(t, "mutual", mutual(Laying{SoilKmW: 1, DepthM: 0.7}, 0.7, 0.2), math.Log(math.Sqrt(0.04+1.96)/0.2)/(2*math.Pi), 1e-12)
}

var layings = map[string]Laying{
	"free air": {Where: FreeAir, Arrangement: "single", AmbientC: 40},
	"wall":     {Where: FreeAir, Arrangement: "wall-single", AmbientC: 40},
	"conduit":  {Where: Enclosed, AmbientC: 40},
	"buried":   {Where: Buried, Arrangement: "single", AmbientC: 25, SoilKmW: 1.2, DepthM: 0.5},
	"duct":     {Where: BuriedDuct, AmbientC: 25, SoilKmW: 1.2, DepthM: 0.5},
	"sun":      {Where: FreeAir, Arrangement: "single", AmbientC: 40, Sun: true},
}

// TestInverse: at the permissible current the conductor is at its limit, without
// current at ambient; a balance of the heat holds.
func TestInverse(t *testing.T) {
	for name, l := range layings {
		for _, size := range []float64{2.5, 35, 240} {
			k := cable(t, "multicore", size)
			r, missing := Rate(k, l)
			if missing != nil {
				t.Fatal(name, missing)
			}
			temp, missing := TemperatureC(k, l, r.CurrentA)
			if missing != nil {
				t.Fatal(name, missing)
			}
			near(t, name, temp, 90, 1e-6)
			near(t, name+" heat", r.LossWM, 3*r.CurrentA*r.CurrentA*r.ROhmM, 1e-9)
			if !l.Sun {
				cold, missing := TemperatureC(k, l, 0)
				if missing != nil {
					t.Fatal(name, missing)
				}
				near(t, name+" cold", cold, l.AmbientC, 1e-3)
			}
		}
	}
}

// TestOrder: an enclosure carries less than a wall, a wall less than free air, sun takes
// some; hotter, deeper and drier carry less; larger carries more.
func TestOrder(t *testing.T) {
	rate := func(size float64, l Laying) float64 {
		r, missing := Rate(cable(t, "multicore", size), l)
		if missing != nil {
			t.Fatal(missing)
		}
		return r.CurrentA
	}
	for _, size := range []float64{4, 35, 120, 300} {
		if a, b, c := rate(size, layings["conduit"]), rate(size, layings["wall"]), rate(size, layings["free air"]); a >= b || b >= c {
			t.Errorf("%g mm2: conduit %.0f, wall %.0f, free air %.0f", size, a, b, c)
		}
		if rate(size, layings["sun"]) >= rate(size, layings["free air"]) || rate(size, layings["duct"]) >= rate(size, layings["buried"]) {
			t.Errorf("%g mm2: sun or duct", size)
		}
		for _, change := range []func(*Laying){func(l *Laying) { l.AmbientC += 5 }, func(l *Laying) { l.DepthM += 0.3 }, func(l *Laying) { l.SoilKmW += 0.5 }} {
			l := layings["buried"]
			before := rate(size, l)
			change(&l)
			if rate(size, l) >= before {
				t.Errorf("%g mm2: %+v carries no less", size, l)
			}
		}
	}
}

// TestGroups: equal circuits by images agree with superposition; the middle is the
// hottest; unequal currents by hand.
func TestGroups(t *testing.T) {
	k := cable(t, "multicore", 95)
	l := layings["buried"]
	row, missing := RateRow(k, l, 3, 0.2)
	if missing != nil {
		t.Fatal(missing)
	}
	var group []Member
	for i := range 3 {
		group = append(group, Member{k, l, 0.2 * float64(i), row.CurrentA})
	}
	temps, missing := Temperatures(group)
	if missing != nil {
		t.Fatal(missing)
	}
	near(t, "middle", temps[1], 89.5, 0.5) // the row takes its neighbours at the limit, they are a little cooler
	if temps[0] >= temps[1] || math.Abs(temps[0]-temps[2]) > 1e-3 {
		t.Errorf("%v", temps)
	}
	// One loaded cable warms an idle one by its heat times the mutual resistance.
	alone, missing := TemperatureC(k, l, 200)
	if missing != nil {
		t.Fatal(missing)
	}
	temps, missing = Temperatures([]Member{{k, l, 0, 200}, {k, l, 0.3, 0}})
	if missing != nil {
		t.Fatal(missing)
	}
	heat := 3 * 200 * 200 * dcOhmKM(k, alone) / 1000
	near(t, "the idle one", temps[1], l.AmbientC+heat*mutual(l, 0.5, 0.3), 1e-3)
	near(t, "the loaded one", temps[0], alone, 1e-3)
	if _, missing := Temperatures([]Member{{k, l, 0, 1}, {k, l, 0, 1}}); missing == nil {
		t.Error("two circuits lie in one place")
	}
	// IEC 60287-2-2: two and three multicore cables of 35 mm2 side by side, 0.88 and 0.83;
	// IEC 60364-5-52 Table B.52.20, ladder, prints 0.87 and 0.82.
	c := cable(t, "multicore", 35)
	free := Laying{Where: FreeAir, Arrangement: "single", AmbientC: 30}
	r, _ := Rate(c, free)
	for n, printed := range map[int]float64{2: 0.87, 3: 0.82} {
		f, missing := AirFactor(r, c, free, n, 0)
		if missing != nil {
			t.Fatal(missing)
		}
		near(t, "side by side", f, printed, 0.02)
	}
	if f, missing := AirFactor(r, c, free, 3, 0.75); missing != nil || f != 1 {
		t.Error(f, missing)
	}
	if _, missing := AirFactor(r, c, free, 4, 0); missing == nil {
		t.Error("four side by side have a factor")
	}
}

// TestGaps: what cannot be is said.
func TestGaps(t *testing.T) {
	k := cable(t, "multicore", 35)
	for name, l := range map[string]Laying{
		"hotter than the limit": {Where: FreeAir, Arrangement: "single", AmbientC: 90},
		"no such row":           {Where: FreeAir, Arrangement: "roof", AmbientC: 30},
		"depth 0":               {Where: Buried, AmbientC: 20, SoilKmW: 1, DepthM: 0},
		"above ground":          {Where: Buried, AmbientC: 20, SoilKmW: 1, DepthM: 0.001},
		"resistivity 0":         {Where: Buried, AmbientC: 20, SoilKmW: 0, DepthM: 0.5},
		"not a number":          {Where: Buried, AmbientC: 20, SoilKmW: math.NaN(), DepthM: 0.5},
		"duct too small":        {Where: BuriedDuct, AmbientC: 20, SoilKmW: 1, DepthM: 0.5, DuctInsideMM: quantity.Of(10)},
		"duct inside out":       {Where: BuriedDuct, AmbientC: 20, SoilKmW: 1, DepthM: 0.5, DuctInsideMM: quantity.Of(60), DuctOutsideMM: quantity.Of(50)},
		"sun alone":             {Where: FreeAir, Arrangement: "single", AmbientC: 89.9, Sun: true},
	} {
		if r, missing := Rate(k, l); missing == nil || missing.Reason == "" {
			t.Errorf("%s: %+v", name, r)
		}
	}
	for name, change := range map[string]func(*ratings.Circuit){
		"armour":               func(c *ratings.Circuit) { c.Armour = "steel-wire" },
		"thin cable":           func(c *ratings.Circuit) { c.OuterMM = quantity.Of(5) },
		"thick sheath":         func(c *ratings.Circuit) { c.SheathMM, c.OuterMM = quantity.Of(20), quantity.Of(24) },
		"thick insulation":     func(c *ratings.Circuit) { c.InsulationMM = quantity.Of(30) },
		"loaded":               func(c *ratings.Circuit) { c.Loaded = 5 },
		"insulation":           func(c *ratings.Circuit) { c.Insulation = "silk" },
		"no construction data": func(c *ratings.Circuit) { c.Size = quantity.MM2(42) },
	} {
		c := k.Circuit
		change(&c)
		if x, missing := NewCable(c); missing == nil || missing.Reason == "" {
			t.Errorf("%s: %+v", name, x)
		}
	}
}

func BenchmarkRate(b *testing.B) {
	k := cable(b, "multicore", 95)
	for b.Loop() {
		if _, missing := Rate(k, layings["free air"]); missing != nil {
			b.Fatal(missing)
		}
	}
}
