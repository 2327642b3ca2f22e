package assess

import (
	"slices"

	"trefoil/lint/design"
	"trefoil/ratings/quantity"
)

// Sharing is how parallel legs of different lengths share the current of their run.
type Sharing struct {
	ShortestM, LongestM float64
	SpreadPercent       float64        // longest over shortest, less one
	Share               float64        // of the shortest leg, of 1
	WorstA              quantity.Maybe // what it carries of the run's load
	LegA                quantity.Maybe // what one leg may carry
}

// Sharing works out how the legs of a run share its current; false where their lengths
// are not stated. Legs are of one cable along one way, so that their impedances go with
// their lengths, and the share of a leg with its inverse.
func (a *Run) Sharing() (Sharing, bool) {
	list := a.Run.LegLengthsM
	if !list.Known() || a.Legs < 2 || len(list.Values) != a.Legs {
		return Sharing{}, false
	}
	s := Sharing{ShortestM: slices.Min(list.Values), LongestM: slices.Max(list.Values)}
	s.SpreadPercent = 100 * (s.LongestM/s.ShortestM - 1)
	sum := 0.0
	for _, l := range list.Values {
		sum += s.ShortestM / l
	}
	s.Share = 1 / sum
	if a.LoadA.Known {
		s.WorstA = quantity.Of(a.LoadA.Value * s.Share)
	}
	if a.CapacityA.Known {
		s.LegA = quantity.Of(a.CapacityA.Value / float64(a.Legs))
	}
	return s, true
}

// LegLeast is the least size that may be laid in parallel, mm2: the site's, else that of
// the family of the set; false where there is none.
func (v *Review) LegLeast() (mm2 float64, ref string, memory, ok bool) {
	if s := v.Design.Site(); s != nil && s.LegMinMM2.Origin != design.Absent {
		return s.LegMinMM2.Value, s.LegMinOrigin.Value, false, s.LegMinMM2.Known()
	}
	switch v.Info.Family {
	case "nec":
		least, err := quantity.AWG("1/0")
		return least.MM2, "NEC 310.10(G), 1/0 AWG", true, err == nil
	case "as-nzs":
		return 4, "AS/NZS 3000 clause 3.4.3", true, true
	}
	return 0, "", false, false
}
