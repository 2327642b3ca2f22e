package protection

import (
	"fmt"
	"math"
	"strings"
	"sync"

	"trefoil/ratings"
	"trefoil/ratings/asnzs3008"
	"trefoil/ratings/conductor"
	"trefoil/ratings/iec60364"
	"trefoil/ratings/nec"
	"trefoil/ratings/quantity"
	"trefoil/ratings/table"
)

// KCase is a conductor as a short circuit finds it.
type KCase struct {
	Conductor  string // copper | aluminium
	Insulation string // as in a ratings.Circuit
	SizeMM2    float64
	Use        string // live | core, of a cable at its working temperature | separate, at that of its surroundings
}

// KFormula is k = c sqrt(ln((b + final)/(b + initial))) in A s^0.5/mm2, with c 226 and
// b 234.5 degC for copper, 148 and 228 degC for aluminium: IEC 60949 clause 3 and IEC
// 60364-5-54 Annex A (from memory).
func KFormula(metal string, initialC, finalC float64) (float64, bool) {
	c, b := 226.0, 234.5
	switch metal {
	case "copper":
	case "aluminium":
		c, b = 148, 228
	default:
		return 0, false
	}
	if !(initialC > -b) || !(finalC > initialC) || math.IsInf(finalC, 1) {
		return 0, false
	}
	return c * math.Sqrt(math.Log((b+finalC)/(b+initialC))), true
}

var tables = sync.OnceValue(func() map[string]*table.Table {
	all := map[string]*table.Table{}
	for name, read := range map[string]func(string) ([]byte, error){
		"k-live.csv": iec60364.Read, "k-protective.csv": iec60364.Read, "t52.csv": asnzs3008.Read, "as-nzs-3000-t5-1.csv": asnzs3008.Read, "250-122.csv": nec.Read,
	} {
		text, err := read(name)
		if err != nil {
			panic(err)
		}
		all[name] = table.Must(name, text)
	}
	return all
})

// temperatures are those at the beginning and at the end of a short circuit, degC: PVC
// may reach 160, and 140 above 300 mm2, XLPE and EPR 250 (IEC 60364-4-43 Table 43A,
// from memory); a separate conductor begins at 30, under AS/NZS at 40.
func temperatures(family string, c KCase) (initial, final float64, ok bool) {
	initial, ok = conductor.TemperatureC(c.Insulation)
	if !ok {
		return 0, 0, false
	}
	if c.Use == "separate" {
		initial = 30
		if family == "as-nzs" {
			initial = 40
		}
	}
	final = 250
	if strings.HasPrefix(c.Insulation, "pvc") {
		final = 160
		if c.SizeMM2 > 300 {
			final = 140
		}
	}
	return initial, final, true
}

// K is the factor of k2 S2 = I2t, A s^0.5/mm2: of the family's table where it has the
// temperatures, else by the formula. family is iec, bs, as-nzs or nec.
func K(family string, c KCase) (float64, ratings.Ref, *ratings.Gap) {
	initial, final, ok := temperatures(family, c)
	if !ok {
		return 0, ratings.Ref{}, &ratings.Gap{Reason: fmt.Sprintf("the temperatures of insulation %q in a short circuit are not known", c.Insulation)}
	}
	name := "k-live.csv"
	switch {
	case family == "as-nzs":
		name = "t52.csv"
	case c.Use != "live":
		name = "k-protective.csv"
	}
	t := tables()[name]
	for i := range t.Rows {
		if x := t.At(i, c.Conductor); t.At(i, "initial_c").Value == initial && t.At(i, "final_c").Value == final && x.Number() {
			return x.Value, ratings.Ref{Text: t.Ref(), Status: x.Status}, nil
		}
	}
	k, ok := KFormula(c.Conductor, initial, final)
	if !ok {
		return 0, ratings.Ref{}, &ratings.Gap{Reason: fmt.Sprintf("no k is at hand for a conductor of %s", c.Conductor)}
	}
	return k, ratings.Ref{Text: fmt.Sprintf("k from %g to %g degC by the formula of IEC 60949", initial, final), Status: ratings.Computed}, nil
}

// Adiabatic is the least area that withstands a current for a time: sqrt(I2t)/k, mm2.
func Adiabatic(currentA, seconds, k float64) float64 { return currentA * math.Sqrt(seconds) / k }

// SeparateEarthMin is the least earth conductor that is no part of a cable and not guarded
// against harm: 4 mm2 of copper, 16 of aluminium (IEC 60364-5-54 clause 543.1.3, from
// memory; BS 7671 regulation 543.1.1 for copper). Other families have no such figure here.
func SeparateEarthMin(family, metal string) (float64, ratings.Ref) {
	if family != "iec" && family != "bs" {
		return 0, ratings.Ref{}
	}
	ref := ratings.Ref{Text: "IEC 60364-5-54:2011 clause 543.1.3, no part of a cable", Status: ratings.Memory}
	if metal == "aluminium" {
		return 16, ref
	}
	return 4, ref
}

// EarthMin is the least earth conductor by the family's table, mm2: for phases of an
// area and metal, an earth conductor of a metal, and behind a device (of which NEC
// 250.122 alone asks).
func EarthMin(family string, phaseMM2 float64, phaseMetal, earthMetal string, deviceA quantity.Maybe) (float64, ratings.Ref, *ratings.Gap) {
	switch family {
	case "as-nzs":
		return australian(phaseMM2, phaseMetal, earthMetal)
	case "nec":
		return american(earthMetal, deviceA)
	}
	ref := ratings.Ref{Text: "IEC 60364-5-54:2011 Table 54.2", Status: ratings.Memory}
	if family == "bs" {
		ref.Text = "BS 7671:2018 Table 54.7"
	}
	s := phaseMM2
	switch {
	case phaseMM2 > 35:
		s = phaseMM2 / 2
	case phaseMM2 > 16:
		s = 16
	}
	if phaseMetal != earthMetal { // k1 S / k2, clause 543.1.2, with the ratio of the metals
		a, okA := KFormula(phaseMetal, 90, 250)
		b, okB := KFormula(earthMetal, 90, 250)
		if !okA || !okB {
			return 0, ref, &ratings.Gap{Reason: fmt.Sprintf("no table is at hand for an earth conductor of %s beside phases of %s", earthMetal, phaseMetal)}
		}
		s *= a / b
		ref.Text += ", times the ratio of k"
	}
	return s, ref, nil
}

// australian is AS/NZS 3000 Table 5.1: copper earths, by the next active size at or above;
// past 630 mm2 a quarter of the active.
func australian(phaseMM2 float64, phaseMetal, earthMetal string) (float64, ratings.Ref, *ratings.Gap) {
	t := tables()["as-nzs-3000-t5-1.csv"]
	ref := ratings.Ref{Text: t.Ref(), Status: ratings.Published}
	if earthMetal != "copper" {
		return 0, ref, &ratings.Gap{Reason: fmt.Sprintf("%s gives copper earth conductors alone, and this one is of %s", t.Ref(), earthMetal), Next: "the heat of its faults decides, or choose copper"}
	}
	column := phaseMetal + "_active"
	for i := range t.Rows {
		if x := t.At(i, column); quantity.AtMost(phaseMM2, t.At(i, "active_mm2").Value) && x.Number() {
			ref.Status = x.Status
			return x.Value, ref, nil
		}
	}
	ref.Text += ", above 630 mm2 a quarter of the active"
	return phaseMM2 / 4, ref, nil
}

// american is NEC Table 250.122: by the device, the next rating at or above.
func american(earthMetal string, deviceA quantity.Maybe) (float64, ratings.Ref, *ratings.Gap) {
	t := tables()["250-122.csv"]
	ref := ratings.Ref{Text: t.Ref(), Status: ratings.Published}
	if !deviceA.Known {
		return 0, ref, &ratings.Gap{Reason: t.Ref() + " goes by the device, and none is stated in front of it", Next: "add a device block"}
	}
	if !t.Has(earthMetal) {
		return 0, ref, &ratings.Gap{Reason: fmt.Sprintf("%s has no column for %s", t.Ref(), earthMetal)}
	}
	for i := range t.Rows {
		x := t.At(i, earthMetal)
		if !quantity.AtMost(deviceA.Value, t.At(i, "device_a").Value) || !x.Filled {
			continue
		}
		size, err := quantity.ParseSize(x.Text + " " + t.At(i, earthMetal+"_unit").Text)
		if err != nil {
			return 0, ref, &ratings.Gap{Reason: fmt.Sprintf("%s: %v", t.Ref(), err)}
		}
		ref.Status = x.Status
		ref.Text += ", " + size.String()
		return size.MM2, ref, nil
	}
	return 0, ref, &ratings.Gap{Reason: fmt.Sprintf("%s ends below a device of %s", t.Ref(), quantity.Ampere.Print(deviceA.Value))}
}

// DisconnectionS is the longest time to clear an earth fault, s, in a TN or TT system,
// of a final circuit or another, by the voltage to earth: IEC 60364-4-41 Table 41.1 and
// clauses 411.3.2.3 and 411.3.2.4; BS 7671 and AS/NZS 3000 give the same at 230 V. All
// from memory.
func DisconnectionS(family, system string, final bool, earthV float64) (float64, ratings.Ref, *ratings.Gap) {
	ref := ratings.Ref{Text: "IEC 60364-4-41:2005 Table 41.1", Status: ratings.Memory}
	switch family {
	case "bs":
		ref.Text = "BS 7671:2018 Table 41.1"
	case "as-nzs":
		ref.Text = "AS/NZS 3000:2018 clause 1.5.5.3"
	case "nec":
		return 0, ratings.Ref{}, &ratings.Gap{Reason: "the NEC gives no time to clear an earth fault", Next: "add disconnection_s to the runs where a time is wanted"}
	}
	tt := system == "tt"
	if !final {
		ref.Text = strings.Replace(ref.Text, "Table 41.1", "clause 411.3.2", 1)
		if tt {
			return 1, ref, nil
		}
		return 5, ref, nil
	}
	rows := []struct{ upTo, tn, tt float64 }{{120, 0.8, 0.3}, {230, 0.4, 0.2}, {400, 0.2, 0.07}, {math.Inf(1), 0.1, 0.04}}
	for _, row := range rows {
		if earthV <= row.upTo*(1+0.005) { // 400 V / sqrt3 is 230.9 V and stands for 230
			if tt {
				return row.tt, ref, nil
			}
			return row.tn, ref, nil
		}
	}
	return 0, ref, &ratings.Gap{Reason: "the voltage to earth is not known"}
}
