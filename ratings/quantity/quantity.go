// Package quantity prints, compares and labels the quantities of the trade.
//
// It is the first room of ratings and imports nothing of the project. A bare
// float elsewhere carries its unit in its name (designCurrentA, lengthM); this
// package is the only place where a figure is rounded, and only to be printed.
package quantity

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// Maybe is a figure that may not be known. The zero value is unknown.
type Maybe struct {
	Value float64
	Known bool
}

// Of is a known figure.
func Of(v float64) Maybe { return Maybe{Value: v, Known: true} }

// Or gives the figure, or v where it is unknown.
func (m Maybe) Or(v float64) float64 {
	if m.Known {
		return m.Value
	}
	return v
}

// Size is the label of a conductor's nominal cross-section. It is looked up in
// tables, not multiplied. MM2 is the nominal area in mm2; Trade holds the label
// of a size that is not metric ("4/0 AWG", "250 kcmil") and is empty otherwise.
type Size struct {
	MM2   float64
	Trade string
}

// MM2 is the metric size of so many square millimetres.
func MM2(v float64) Size { return Size{MM2: v} }

// Zero says that no size is given.
func (s Size) Zero() bool { return s.MM2 == 0 && s.Trade == "" }

// String prints "50 mm2" or the trade label.
func (s Size) String() string {
	if s.Trade != "" {
		return s.Trade
	}
	return trim(strconv.FormatFloat(s.MM2, 'f', 3, 64)) + " mm2"
}

// AtMost says whether x meets the limit; the limit itself is met. The relative
// 1e-9 is for binary fractions only and never engineering margin.
func AtMost(x, limit float64) bool {
	return x <= limit+1e-9*math.Abs(limit)
}

// Finite says that x is neither infinite nor not-a-number.
func Finite(x float64) bool { return !math.IsInf(x, 0) && !math.IsNaN(x) }

// Unit pairs a printed unit with the decimals that are usual for it.
type Unit struct {
	Symbol   string
	Decimals int
}

// The units that are printed.
var (
	Ampere    = Unit{"A", 1}
	Volt      = Unit{"V", 2}
	Percent   = Unit{"%", 2}
	MilliAmp  = Unit{"mA", 0}
	Metre     = Unit{"m", 1}
	Milli     = Unit{"mm", 1}
	Celsius   = Unit{"degC", 0}
	Watt      = Unit{"W", 0}
	KVA       = Unit{"kVA", 1}
	KiloAmp   = Unit{"kA", 2}
	OhmPerKM  = Unit{"ohm/km", 4}
	Ohm       = Unit{"ohm", 4}
	Second    = Unit{"s", 2}
	MegaA2s   = Unit{"x 10^6 A2s", 3}
	SquareMM  = Unit{"mm2", 1}
	Ratio     = Unit{"", 3}
	SoilKMW   = Unit{"K.m/W", 2}
	KilogramM = Unit{"kg/m", 2}
	Kilogram  = Unit{"kg", 1}
	Hour      = Unit{"h", 2}
	KWh       = Unit{"kWh", 0}
)

// Print gives the figure rounded for reading, trailing zeros dropped, with its unit.
func (u Unit) Print(x float64) string { return u.join(u.number(x, u.Decimals)) }

// Column gives the figure for a column that names the unit in its head: as many decimals
// as are usual, zeros kept, so that the points stand below each other.
func (u Unit) Column(x float64) string {
	s := strconv.FormatFloat(x, 'f', u.Decimals, 64)
	if x != 0 && strings.Trim(s, "-0.") == "" { // a small figure is not nothing
		return strconv.FormatFloat(x, 'g', 3, 64)
	}
	return s
}

// Money prints an amount with its two decimals, as accounts have it.
func Money(x float64) string { return strconv.FormatFloat(x, 'f', 2, 64) }

// Maybe prints the figure, or "unknown".
func (u Unit) Maybe(m Maybe) string {
	if !m.Known {
		return "unknown"
	}
	return u.Print(m.Value)
}

// Apart prints two figures with as many decimals as it takes to tell them apart,
// so that nobody reads "2.0 % is above 2.0 %". Equal figures print alike.
func (u Unit) Apart(a, b float64) (string, string) {
	d := u.Decimals
	for ; d < 12; d++ {
		if u.number(a, d) != u.number(b, d) {
			break
		}
		if a == b {
			d = u.Decimals
			break
		}
	}
	return u.join(u.number(a, d)), u.join(u.number(b, d))
}

func (u Unit) number(x float64, decimals int) string {
	s := trim(strconv.FormatFloat(x, 'f', decimals, 64))
	if (s == "0" || s == "-0") && x != 0 { // a small figure is not nothing
		return strconv.FormatFloat(x, 'g', 3, 64)
	}
	return s
}

func (u Unit) join(s string) string {
	if u.Symbol == "" {
		return s
	}
	return s + " " + u.Symbol
}

func trim(s string) string {
	if strings.Contains(s, ".") {
		s = strings.TrimRight(s, "0")
		s = strings.TrimSuffix(s, ".")
	}
	return s
}

// ParseSize reads a size label: "50" or "50 mm2", "4/0 AWG", "10 AWG", "250 kcmil".
func ParseSize(label string) (Size, error) {
	s := strings.TrimSpace(label)
	switch {
	case strings.HasSuffix(s, "AWG"):
		return AWG(strings.TrimSpace(strings.TrimSuffix(s, "AWG")))
	case strings.HasSuffix(s, "kcmil"):
		v, err := strconv.ParseFloat(strings.TrimSpace(strings.TrimSuffix(s, "kcmil")), 64)
		if err != nil {
			return Size{}, fmt.Errorf("%q is not a size in kcmil", label)
		}
		return Kcmil(v)
	}
	v, err := strconv.ParseFloat(strings.TrimSpace(strings.TrimSuffix(s, "mm2")), 64)
	if err != nil || !(v >= 0.1) || v > 5000 { // IEC 60228 begins at 0.5 mm2
		return Size{}, fmt.Errorf("%q is not a conductor size", label)
	}
	return MM2(v), nil
}

// AWG is the size of an American wire gauge number, "14" to "1" and "1/0" to "4/0".
// The diameter is 0.127 mm x 92^((36-n)/39), n = 0 for 1/0, -1 for 2/0 and so on
// (ASTM B258).
func AWG(gauge string) (Size, error) {
	n := math.NaN()
	if aught, ok := strings.CutSuffix(gauge, "/0"); ok {
		if v, err := strconv.Atoi(aught); err == nil && v >= 1 && v <= 4 {
			n = float64(1 - v)
		}
	} else if v, err := strconv.Atoi(gauge); err == nil && v >= 1 && v <= 40 {
		n = float64(v)
	}
	if math.IsNaN(n) {
		return Size{}, fmt.Errorf(`%q is not an AWG number; "14" to "1" and "1/0" to "4/0" are`, gauge)
	}
	d := 0.127 * math.Pow(92, (36-n)/39)
	return Size{MM2: math.Pi / 4 * d * d, Trade: gauge + " AWG"}, nil
}

// Kcmil is the size of an area in thousands of circular mils; a circular mil is
// the area of a circle of 0.001 inch, the inch being 25.4 mm exactly.
func Kcmil(v float64) (Size, error) {
	if !(v >= 1 && v <= 5000) {
		return Size{}, fmt.Errorf("%v is not a size in kcmil; 250 to 2000 are usual", v)
	}
	return Size{MM2: v * 1000 * math.Pi / 4 * 0.0254 * 0.0254, Trade: trim(strconv.FormatFloat(v, 'f', 3, 64)) + " kcmil"}, nil
}

// Figure prints a figure whose size is not known beforehand: four digits that count.
func Figure(x float64) string {
	if x == 0 || !Finite(x) {
		return strconv.FormatFloat(x, 'g', -1, 64)
	}
	decimals := 3 - int(math.Floor(math.Log10(math.Abs(x))))
	return strconv.FormatFloat(x, 'f', min(max(decimals, 0), 12), 64)
}
