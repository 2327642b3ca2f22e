// Package economy holds the formulas of lifetime cost: how much energy is lost in a
// year, what it is worth over the years, and which conductor then costs least.
//
// It is a room of formulas in ratings and knows no design; lint/cost asks it. All follow
// IEC 60287-3-2 (from memory); their tests hold them against published
// examples of Kelvin's law, against sums year by year, and against integration.
package economy

import (
	"errors"
	"fmt"
	"math"

	"trefoil/ratings/quantity"
)

// YearHours are the hours of a year of 365 days.
const YearHours = 8760

// Factors say how the output of a year goes: Capacity is the mean share of the rated
// output, Loss the mean of its square, the loss load factor. Losses go with the square
// of the current, so that a year's loss is the loss at rated output x Loss x 8760 h.
type Factors struct{ Capacity, Loss float64 }

// FactorsOf works out the factors of shares of rated output at equal steps of time.
func FactorsOf(shares []float64) (Factors, error) {
	if len(shares) == 0 {
		return Factors{}, errors.New("a load profile without any hour")
	}
	var f Factors
	for _, s := range shares {
		if !(s >= 0 && s <= 1) {
			return Factors{}, fmt.Errorf("a share of %v of rated output; it is from 0 to 1", s)
		}
		f.Capacity += s
		f.Loss += s * s
	}
	n := float64(len(shares))
	return Factors{Capacity: f.Capacity / n, Loss: f.Loss / n}, nil
}

// HalfSine are the factors of an output that each day goes as the upper half of a sine
// for so many hours, with its peak at a share of rated output, and is 0 else. The mean
// of sin over its half wave is 2/pi, that of its square 1/2:
//
//	Capacity = 2/pi x peak x hours/24        Loss = 1/2 x peak^2 x hours/24
func HalfSine(hours, peak float64) Factors {
	return Factors{Capacity: 2 / math.Pi * peak * hours / 24, Loss: peak * peak / 2 * hours / 24}
}

// LossKWh is the energy lost in the first year, kWh: lossW is lost at rated output.
func (f Factors) LossKWh(lossW float64) float64 { return lossW * f.Loss * YearHours / 1000 }

// Worth is what a loss is valued by. Money is in any one currency.
type Worth struct {
	EnergyPerKWh    float64
	DemandPerWYear  float64 // for each W of loss at rated output, a year; usually 0 behind a meter
	Years           int
	DiscountPct     float64
	LoadGrowthPct   float64 // of the current, a year
	EnergyGrowthPct float64 // of the value of energy, a year
}

// Series is Q, the sum of a geometric series over the years:
//
//	Q = 1 + r + ... + r^(N-1) = (1 - r^N) / (1 - r)
//	r = (1 + a/100)^2 (1 + b/100) / (1 + i/100)
//
// with a the growth of the load, b that of the price of energy, i the discount rate, all
// in percent a year, N in years. IEC 60287-3-2, from memory.
func (w Worth) Series() float64 {
	growth := 1 + w.LoadGrowthPct/100
	r := growth * growth * (1 + w.EnergyGrowthPct/100) / (1 + w.DiscountPct/100)
	if math.Abs(r-1) < 1e-9 { // there the quotient loses its digits
		return float64(w.Years)
	}
	return (1 - math.Pow(r, float64(w.Years))) / (1 - r)
}

// Present is the present value of a cost that is 1 in the first year and grows with load
// and price: Q / (1 + i/100). Each year is paid at its end.
func (w Worth) Present() float64 { return w.Series() / (1 + w.DiscountPct/100) }

// PerW is F for one conductor, the present value of 1 W lost at rated output for tau
// hours a year: F = (tau P + D) Q / (1 + i/100). The standard multiplies by the number of
// phases and circuits; here the loss is that of all conductors. IEC 60287-3-2, from
// memory.
func (w Worth) PerW(hours float64) float64 {
	return (hours*w.EnergyPerKWh/1000 + w.DemandPerWYear) * w.Present()
}

// Total is the cost over the years: CT = CI + I^2 R L F, what is bought and laid and the
// present value of what is lost. lossW is I^2 R L at rated output, all conductors; perW
// is F. IEC 60287-3-2, from memory.
func Total(first, lossW, perW float64) float64 { return first + lossW*perW }

// SectionMM2 is the conductor of least total cost where a metre of it costs so much more
// for each mm2 and its loss goes with 1/S:
//
//	S = I sqrt(F rho / A)
//
// I in A, F in money per W of one conductor, rho in ohm mm2/m at the mean temperature of
// the conductor with all effects, A in money per m and mm2. It is Kelvin's law: there the
// two parts that hang on S are equal. IEC 60287-3-2, from memory.
func SectionMM2(currentA, perW, ohmMM2M, perMMM2 float64) (float64, error) {
	if !(currentA >= 0 && perW >= 0 && ohmMM2M > 0 && perMMM2 > 0) {
		return 0, fmt.Errorf("no economic section for %v A, %v per W, %v ohm mm2/m and %v per m and mm2", currentA, perW, ohmMM2M, perMMM2)
	}
	s := currentA * math.Sqrt(perW*ohmMM2M/perMMM2)
	if !quantity.Finite(s) {
		return 0, fmt.Errorf("the economic section for %v A goes beyond all numbers", currentA)
	}
	return s, nil
}

// Alternative is one of two conductors that may be laid along the same way.
type Alternative struct {
	First float64 // what it costs bought and laid
	Ohm   float64 // the resistance of one conductor over its length, or of all one after the other
}

// ChangeA is the current at which two conductors cost the same over the years; above it
// the one with less resistance costs less:
//
//	I = sqrt((CI2 - CI1) / (F (R1 - R2)))
//
// It is the upper end of the economic range of the one and the lower end of the next. It
// is 0 where the better conductor is no dearer. IEC 60287-3-2, from memory.
func ChangeA(a, b Alternative, perW float64) (float64, error) {
	if b.Ohm > a.Ohm {
		a, b = b, a
	}
	switch {
	case !(a.Ohm > b.Ohm && b.Ohm >= 0):
		return 0, fmt.Errorf("two conductors of the same resistance, %v ohm", a.Ohm)
	case !(perW > 0):
		return 0, fmt.Errorf("a loss that is worth %v per W has no current at which it pays", perW)
	case b.First <= a.First:
		return 0, nil
	}
	x := math.Sqrt((b.First - a.First) / (perW * (a.Ohm - b.Ohm)))
	if !quantity.Finite(x) {
		return 0, errors.New("the current at which the costs are the same goes beyond all numbers")
	}
	return x, nil
}

// PerMM2 is A, what a metre of cable costs more for each mm2: the slope of the straight
// line of least squares through the prices of several sizes. IEC 60287-3-2 takes the cost
// of a cable as such a line (from memory).
func PerMM2(mm2, cost []float64) (float64, error) {
	n := float64(len(mm2))
	if len(mm2) < 2 || len(mm2) != len(cost) {
		return 0, fmt.Errorf("%d sizes and %d prices make no line", len(mm2), len(cost))
	}
	var x, y float64
	for i := range mm2 {
		x, y = x+mm2[i]/n, y+cost[i]/n
	}
	var xx, xy float64
	for i := range mm2 {
		xx += (mm2[i] - x) * (mm2[i] - x)
		xy += (mm2[i] - x) * (cost[i] - y)
	}
	slope := xy / xx
	if !quantity.Finite(slope) {
		return 0, errors.New("prices of one size alone make no line")
	}
	return slope, nil
}
