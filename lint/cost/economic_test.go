package cost_test

import (
	"math"
	"strings"
	"testing"

	"trefoil/lint/cost"
	"trefoil/ratings/quantity"
)

// TestEconomicMM2 is worked by hand from TestRun: the cable costs (14 - 10)/(50 - 35) more for
// each mm2; 30 m of 35 mm2 lose 337.5 W, worth F = 0.1 x 8760 x 0.1/1000 x (1 - 1.05^-20)/0.05 each:
// S = sqrt(F x 337.5 x 35 / 30 / (4/15)).
func TestEconomicMM2(t *testing.T) {
	v := read(t, text(worth, prices))
	b := cost.NewBook(v.Design)
	f := 0.1 * 8760 * 0.1 / 1000 * (1 - math.Pow(1.05, -20)) / 0.05
	got, why := b.EconomicMM2(v, &v.Runs[0])
	if !got.Known {
		t.Fatal(why)
	}
	near(t, "section", got.Value, math.Sqrt(f*337.5*35/30/(4.0/15)))
	for what, c := range map[string]struct{ text, says string }{
		"one price":  {strings.Replace(text(worth, prices), ", 50 = 14", "", 1), "make no line"},
		"no price":   {strings.Replace(text(worth, prices), "cable \"cu\" {\n    per_m", "cable \"cu2\" {\n    per_m", 1), "make no line"},
		"no worth":   {text("", prices), "no value"},
		"no current": {strings.Replace(text(worth, prices), "source.inv", "board.main", 1), "loss of the run"},
	} {
		v := readFaulty(c.text)
		if got, why := cost.NewBook(v.Design).EconomicMM2(v, &v.Runs[0]); got.Known || !strings.Contains(why, c.says) {
			t.Errorf("%s: %v, %q", what, got, why)
		}
	}
}

// TestChange looks that at the share of the current which is said both ways cost the same.
func TestChange(t *testing.T) {
	v := read(t, text(worth, strings.NewReplacer("35 = 2, 70", "35 = 2, 50 = 2.5, 70", "35 = 0.2, 70", "35 = 0.2, 50 = 0.2, 70", "35 = 0.3", "35 = 0.3, 50 = 0.4", "{ 35 = 0.15 }", "{ 35 = 0.15, 50 = 0.18 }").Replace(prices)))
	b := cost.NewBook(v.Design)
	one := b.Run(v, &v.Runs[0])
	run, a := *v.Runs[0].Run, v.Runs[0]
	run.Size = quantity.MM2(50)
	a.Run = &run
	a.Impedance.Ohm *= 0.7
	two := b.Run(v, &a)
	share := b.Change(&one, &two)
	if !share.Known {
		t.Fatalf("%q %q", one.Lacks, two.Lacks)
	}
	at := func(r *cost.Run) float64 { s := r.First(); return s.Value + share.Value*share.Value*r.LossWorth.Value }
	near(t, "both", at(&one), at(&two))
	two.Material.Lacks = 1
	if b.Change(&one, &two).Known {
		t.Error("a price is missing")
	}
}
