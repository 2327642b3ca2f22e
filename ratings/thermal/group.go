package thermal

import (
	"math"

	"trefoil/ratings"
	"trefoil/ratings/quantity"
)

// mutual is the thermal resistance by which the ground carries heat of one circuit to the place
// of another at an axial distance a, both at depth L: rho/(2 pi) ln(d'/d) with
// d' = sqrt(a^2 + (2L)^2), IEC 60287-2-1 clause 4.2.3.
func mutual(l Laying, other float64, a float64) float64 {
	d2 := a * a
	dl := l.DepthM - other
	d2 += dl * dl
	s := l.DepthM + other
	return l.SoilKmW / (4 * math.Pi) * math.Log((a*a+s*s)/d2)
}

// RateRow gives the current of each of n equal circuits in a row in the ground, axes
// a metres apart, all loaded alike: that of the hottest one, in the middle.
func RateRow(k *Cable, l Laying, n int, a float64) (Result, *ratings.Gap) {
	if n == 1 {
		return Rate(k, l)
	}
	if l.Where != Buried && l.Where != BuriedDuct {
		return Result{}, gap("", "a row of circuits is reckoned in the ground only")
	}
	if !(a > 0) || !(l.DepthM > 0) || !(l.SoilKmW > 0) {
		return Result{}, gap("", "circuits %g m apart at %g m in %g K.m/W cannot be", a, l.DepthM, l.SoilKmW)
	}
	extra := 0.0 // K.m/W, for the heat of one whole circuit
	middle := (n - 1) / 2
	for i := range n {
		if i != middle {
			extra += mutual(l, l.DepthM, a*math.Abs(float64(i-middle)))
		}
	}
	// The heat of a circuit is that of its cables; each neighbour adds its own share,
	// so the rise of the ground stands in the balance like a part of T4.
	alone, missing := Rate(k, l)
	if missing != nil {
		return Result{}, missing
	}
	low, high := 0.0, alone.CurrentA
	for range 60 {
		mid := (low + high) / 2
		heat := float64(k.Cables) * float64(k.InCable) * mid * mid * alone.ROhmM
		there := l
		there.RiseC = heat * extra
		if r, miss := rate(k, there, k.LimitC); miss != nil || r.CurrentA < mid {
			high = mid
		} else {
			low = mid
		}
	}
	there := l
	there.RiseC = float64(k.Cables) * float64(k.InCable) * low * low * alone.ROhmM * extra
	r, missing := rate(k, there, k.LimitC)
	if missing != nil {
		return Result{}, missing
	}
	r.Steps = append(r.Steps, step("dT", "rise of the ground by the other circuits", "K", there.RiseC, "IEC 60287-2-1 clause 4.2.3"))
	return r, nil
}

// Member is one circuit of an unequal group in the ground.
type Member struct {
	Cable    *Cable
	Laying   Laying
	XM       float64 // axis along the trench, m
	CurrentA float64 // in each conductor
}

// Temperatures gives the conductor temperature of each circuit of an unequal group in
// the ground at its actual current, by superposition of images; the losses follow
// the temperatures, and both are repeated until they settle.
func Temperatures(group []Member) ([]float64, *ratings.Gap) {
	t := make([]float64, len(group))
	heat := make([]float64, len(group)) // W/m of each whole circuit
	for i, m := range group {
		if m.Laying.Where != Buried && m.Laying.Where != BuriedDuct {
			return nil, gap("", "a group of circuits is reckoned in the ground only")
		}
		t[i] = m.Laying.AmbientC
		for j := range i {
			if group[j].XM == m.XM && group[j].Laying.DepthM == m.Laying.DepthM {
				return nil, gap("", "two circuits of the group lie in one place")
			}
		}
	}
	for range 500 {
		for i, m := range group {
			heat[i] = float64(m.Cable.Cables) * float64(m.Cable.InCable) * m.CurrentA * m.CurrentA * dcOhmKM(m.Cable, t[i]) / 1000
		}
		moved := 0.0
		for i, m := range group {
			there := m.Laying
			for j, o := range group {
				if j != i {
					there.RiseC += heat[j] * mutual(m.Laying, o.Laying.DepthM, math.Abs(m.XM-o.XM))
				}
			}
			next, missing := warmer(m.Cable, there, m.CurrentA, t[i])
			if missing != nil {
				return nil, missing
			}
			moved = math.Max(moved, math.Abs(next-t[i]))
			t[i] = next
		}
		if moved < 1e-6 {
			return t, nil
		}
	}
	return nil, gap("", "the temperatures of the group do not settle")
}

// warmer is one step towards the conductor temperature at a current: the thermal
// resistance that the model has near the last temperature, times the heat.
func warmer(k *Cable, l Laying, currentA, last float64) (float64, *ratings.Gap) {
	ambient := l.AmbientC + l.RiseC
	at := math.Max(last, ambient+1)
	r, missing := rate(k, l, at)
	if missing != nil {
		return 0, missing
	}
	next := ambient + (at-ambient)*currentA*currentA/(r.CurrentA*r.CurrentA)
	if !(next <= 400) {
		return 0, gap("", "%s would heat the conductor beyond 400 degC", quantity.Ampere.Print(currentA))
	}
	return next, nil
}

// airGroup is a row of IEC 60287-2-2 Table 1, from memory: the ratio of heat
// dissipation alone to that in the group, and the clearance from which neighbours may
// be neglected, in diameters.
type airGroup struct{ ratio, neglect float64 }

var airGroups = map[string]map[int]airGroup{
	"single":  {2: {1.41, 0.5}, 3: {1.65, 0.75}},
	"trefoil": {2: {1.2, 1.0}, 3: {1.25, 1.5}},
}

// AirFactor is the factor of n circuits side by side in free air, clear diameters
// apart, against one alone, IEC 60287-2-2: for two and three multicore cables or
// trefoils; more are not in its table.
func AirFactor(alone Result, k *Cable, l Laying, n int, clear float64) (float64, *ratings.Gap) {
	if n == 1 {
		return 1, nil
	}
	row, ok := airGroups[l.Arrangement][n]
	if !ok || k.Cables > 1 && l.Arrangement == "single" {
		return 0, gap("split the group, or lay a table of group factors over the set", "IEC 60287-2-2 has no row for %d circuits of this arrangement side by side in free air", n)
	}
	if clear >= row.neglect {
		return 1, nil
	}
	x := (alone.SurfaceC - l.AmbientC) / (k.LimitC - l.AmbientC)
	if !(x > 0) || x >= 1 {
		return 0, gap("", "the surface of the cable comes out %g of the way to its conductor", x)
	}
	r := 1.0
	for range 200 {
		r = row.ratio * math.Pow((1-x)/r+x, 0.25)
	}
	return 1 / math.Sqrt(1-x+x*r), nil
}
