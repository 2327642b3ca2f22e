package cost

import (
	"cmp"
	"slices"

	"trefoil/lint/assess"
	"trefoil/ratings/economy"
	"trefoil/ratings/quantity"
)

// EconomicMM2 is the section at which the cables of a run and the worth of its losses
// together cost least, mm2, by the linear cost of its cable type; why says what is lacking
// where it is unknown. Lugs, glands and labour are left out, for they go in steps with the
// size: to rank real sizes, compare their totals.
func (b *Book) EconomicMM2(v *assess.Review, a *assess.Run) (mm2 quantity.Maybe, why string) {
	loss := LossW(a)
	switch {
	case !a.Usable() || !a.LengthM.Known || !loss.Known:
		return mm2, "the loss of the run is not known"
	case !b.PerW.Known:
		return mm2, "a loss has no value: the site has no economy block, or it does not say enough"
	}
	_, price := b.cable(a.Cable)
	sizes, costs := price.line()
	perMM2, err := economy.PerMM2(sizes, costs)
	if err != nil {
		return mm2, "the prices of its cable make no line: " + err.Error()
	}
	cables := 0.0 // that grow with the size: not the earth conductor by itself
	for _, p := range v.Bodies(a, a.Run.Size) {
		if !p.Earth {
			cables += float64(p.Count)
		}
	}
	// What is lost goes with 1/S: loss x S is that of 1 mm2, here of one cable and metre.
	ofOne := loss.Value * a.Run.Size.MM2 / (cables * a.LengthM.Value)
	x, err := economy.SectionMM2(1, b.PerW.Value, ofOne, perMM2)
	if err != nil {
		return mm2, err.Error()
	}
	return quantity.Of(x), ""
}

// line lists the sizes that a tariff prices, and their prices, in order of size.
func (t *tariff) line() (mm2, cost []float64) {
	if t == nil {
		return nil, nil
	}
	type point struct{ mm2, cost float64 }
	var list []point
	for size, e := range t[1].size {
		if own, ok := t[0].size[size]; ok {
			e = own
		}
		list = append(list, point{size.MM2, e.value})
	}
	for size, e := range t[0].size {
		if _, ok := t[1].size[size]; !ok {
			list = append(list, point{size.MM2, e.value})
		}
	}
	slices.SortFunc(list, func(a, b point) int { return cmp.Or(cmp.Compare(a.mm2, b.mm2), cmp.Compare(a.cost, b.cost)) })
	for _, p := range list {
		mm2, cost = append(mm2, p.mm2), append(cost, p.cost)
	}
	return mm2, cost
}

// Change is the share of its present current at which two ways of making a run cost the
// same over the years; with more, the one that loses less costs less. Unknown where a
// cost or a loss is, or where they lose the same.
func (b *Book) Change(one, two *Run) quantity.Maybe {
	first, second := one.First().Maybe(), two.First().Maybe()
	if !first.Known || !second.Known || !one.LossW.Known || !two.LossW.Known || !b.PerW.Known {
		return quantity.Maybe{}
	}
	share, err := economy.ChangeA(economy.Alternative{First: first.Value, Ohm: one.LossW.Value}, economy.Alternative{First: second.Value, Ohm: two.LossW.Value}, b.PerW.Value)
	return quantity.Maybe{Value: share, Known: err == nil}
}
