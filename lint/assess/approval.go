package assess

import (
	"trefoil/lint/design"
	"trefoil/ratings/quantity"
)

// KVA is the rating of a source: stated, else from its greatest current, sqrt3 U I for
// three phases, (U/sqrt3) I for one phase to neutral, U I between two lines.
func (v *Review) KVA(s *design.Source) quantity.Maybe {
	u := v.Tree.VoltageV
	switch {
	case s.RatedKVA.Known():
		return s.RatedKVA.Maybe()
	case s.RatedKVA.Origin == design.Faulty || !s.MaxCurrentA.Known() || !u.Known || !s.Phases.Known():
		return quantity.Maybe{}
	}
	word := v.Tree.PhaseOf(s)
	if s.Phases.Value == 3 {
		word = "3"
	}
	return quantity.Of(s.MaxCurrentA.Value * v.Tree.PerKVA(word) / 1000)
}

// TotalKVA sums the ratings of all sources; unknown where one is.
func (v *Review) TotalKVA() quantity.Maybe {
	sum := 0.0
	for _, s := range v.Design.Sources {
		kva := v.KVA(s)
		if !kva.Known {
			return quantity.Maybe{}
		}
		sum += kva.Value
	}
	return quantity.Maybe{Value: sum, Known: len(v.Design.Sources) > 0}
}
