// Package computed is the engine of rating sets that work out capacities by the
// thermal model instead of looking them up: what each way of laying is to the model,
// and each factor as the ratio of two runs of it. Reference conditions, grouping and
// impedance are the set's own.
package computed

import (
	"fmt"
	"math"
	"sync"

	"trefoil/ratings"
	"trefoil/ratings/conductor"
	"trefoil/ratings/quantity"
	"trefoil/ratings/thermal"
)

// Laid is a circuit laid alone, as far as the set's grouping needs it.
type Laid struct {
	Circuit ratings.Circuit
	Place   ratings.Place
	Group   ratings.Group
	Cable   *thermal.Cable
	Laying  thermal.Laying
	Alone   thermal.Result
	OuterM  float64        // width of the circuit or its duct, m
	Clear   quantity.Maybe // clear distance to the neighbours, m; unknown: touching
}

// Set is a computed rating set.
type Set struct {
	About  ratings.Info
	Ref    string // of a capacity under reference conditions
	Limit  func(insulation string) (float64, bool)
	Group  func(Laid) (ratings.Factor, *ratings.Gap)
	Lone   bool // Group has a say on one circuit alone too
	Z      func(ratings.Circuit, ratings.Place) (ratings.Impedance, *ratings.Gap)
	Fuse   func(ratings.Protection) (float64, ratings.Ref, *ratings.Gap)
	Tables []ratings.File

	cache sync.Map // question -> answer
}

type question struct {
	circuit ratings.Circuit
	place   ratings.Place
	limitC  float64
}

type answer struct {
	rating ratings.Rating
	laid   Laid
	gap    *ratings.Gap
}

// Info describes the set.
func (s *Set) Info() ratings.Info { return s.About }

// Files lists the set's table files.
func (s *Set) Files() []ratings.File { return s.Tables }

// Impedance of one leg laid so.
func (s *Set) Impedance(c ratings.Circuit, p ratings.Place) (ratings.Impedance, *ratings.Gap) {
	z, gap := s.Z(c, p)
	if gap != nil && !(c.ROhmKM.Known && c.XOhmKM.Known) {
		return z, gap
	}
	given := ratings.Ref{Text: c.DataOrigin, Status: ratings.Given}
	if c.ROhmKM.Known {
		z.ROhmKM, z.RRef = c.ROhmKM.Value, given
	}
	if c.XOhmKM.Known {
		z.XOhmKM, z.XRef = c.XOhmKM.Value, given
	}
	return z, nil
}

// NeedsA is the least capacity that a device protects.
func (s *Set) NeedsA(p ratings.Protection) (float64, ratings.Ref, *ratings.Gap) {
	switch p.Kind {
	case "mcb", "mccb":
		return p.RatedA, ratings.Ref{Text: "In <= Iz", Status: ratings.Published}, nil
	case "fuse":
		return s.Fuse(p)
	}
	return 0, ratings.Ref{}, &ratings.Gap{Reason: fmt.Sprintf("no rule for a device of kind %q", p.Kind), Next: `write kind = "mcb", "mccb" or "fuse"`}
}

// Rate answers for one section of one leg.
func (s *Set) Rate(c ratings.Circuit, p ratings.Place, g ratings.Group) (ratings.Rating, *ratings.Gap) {
	limit, ok := s.Limit(c.Insulation)
	if !ok {
		return ratings.Rating{}, &ratings.Gap{Reason: fmt.Sprintf("%s has no conductor temperature for insulation %s", s.About.Name, c.Insulation), Next: "choose another insulation"}
	}
	if c.ThirdPct > 15 {
		return ratings.Rating{}, &ratings.Gap{Reason: fmt.Sprintf("%s has no rule here for %s of third harmonic", s.About.Name, quantity.Percent.Print(c.ThirdPct)), Next: "use a set that has one"}
	}
	var notes []ratings.Note
	if lowest, ok := s.Limit(g.Insulation); ok && lowest < limit {
		limit = lowest
		c.CapacityA = quantity.Maybe{} // it is for the cable's own temperature
		notes = append(notes, ratings.Note{Kind: "insulation-rated-lower", Text: fmt.Sprintf("%s cables share it with %s and are rated at its %s", c.Insulation, g.Insulation, quantity.Celsius.Print(lowest))})
	}
	key := question{c, p, limit}
	key.circuit.ROhmKM, key.circuit.XOhmKM = quantity.Maybe{}, quantity.Maybe{}
	hit, ok := s.cache.Load(key)
	if !ok {
		hit = s.alone(c, p, limit)
		s.cache.Store(key, hit)
	}
	a := hit.(*answer)
	if a.gap != nil {
		return ratings.Rating{}, a.gap
	}
	r := a.rating
	r.Notes = append(notes, r.Notes...)
	if g.Circuits > 1 || s.Lone {
		f, gap := s.company(key, a.laid, g)
		if gap != nil {
			return r, gap
		}
		if g.Circuits > 1 || f.Value != 1 {
			r.Factors = append(r.Factors[:len(r.Factors):len(r.Factors)], f)
			r.CapacityA *= f.Value
		}
		if clear := a.laid.Clear; p.HeldBy == "" && p.SpacingMM.Known && a.laid.Laying.Where == thermal.FreeAir && g.Circuits > 1 && clear.Value > 2*max(g.OuterMM.Value, a.laid.Cable.OuterMM)/1000*(1+1e-9) {
			r.Notes = append(r.Notes, ratings.Note{Kind: "spacing-unheld", Text: "its circuits lie more than two diameters apart, but held_by does not say what keeps them so"})
		}
	}
	if p.ExtraFactor.Known {
		r.Factors = append(r.Factors[:len(r.Factors):len(r.Factors)], ratings.Factor{Name: "user", Value: p.ExtraFactor.Value, Ref: ratings.Ref{Text: p.ExtraFactorReason, Status: ratings.Given}})
		r.CapacityA *= p.ExtraFactor.Value
	}
	if !quantity.Finite(r.CapacityA) || r.CapacityA <= 0 {
		return r, &ratings.Gap{Reason: fmt.Sprintf("the capacity comes out as %g A", r.CapacityA)}
	}
	return r, nil
}

type company struct {
	question
	group ratings.Group
}

type companyAnswer struct {
	factor ratings.Factor
	gap    *ratings.Gap
}

// company is the grouping factor, worked out once for each question.
func (s *Set) company(q question, l Laid, g ratings.Group) (ratings.Factor, *ratings.Gap) {
	key := company{q, g}
	hit, ok := s.cache.Load(key)
	if !ok {
		l.Group = g
		f, gap := s.Group(l)
		hit = &companyAnswer{f, gap}
		s.cache.Store(key, hit)
	}
	a := hit.(*companyAnswer)
	return a.factor, a.gap
}

// alone works out a circuit by itself: under reference conditions, then with one
// condition after the other; each factor is the ratio of two runs of the model.
func (s *Set) alone(c ratings.Circuit, p ratings.Place, limit float64) *answer {
	fail := func(g *ratings.Gap) *answer { return &answer{gap: g} }
	k, gap := thermal.NewCable(c)
	if gap != nil {
		return fail(gap)
	}
	k.LimitC = limit
	l, method, gap := laying(k, p)
	if gap != nil {
		return fail(gap)
	}
	r := ratings.Rating{Basis: "computed", Method: method, Ref: ratings.Ref{Text: s.Ref, Status: ratings.Computed}}
	l.DuctInsideMM, l.DuctOutsideMM = p.DuctInsideMM, p.DuctOutsideMM
	below := l.Where == thermal.Buried || l.Where == thermal.BuriedDuct
	l.AmbientC = s.About.AirC
	if below {
		l.AmbientC, l.SoilKmW, l.DepthM = s.About.SoilC, s.About.SoilKmW, s.About.DepthM
	}
	base, gap := thermal.Rate(k, l)
	if gap != nil {
		return fail(gap)
	}
	r.TabulatedA, r.CapacityA = base.CurrentA, base.CurrentA
	now := base
	change := func(name, why string, set func()) *ratings.Gap {
		set()
		next, gap := thermal.Rate(k, l)
		if gap != nil {
			return gap
		}
		f := next.CurrentA / now.CurrentA
		if f != 1 {
			r.Factors = append(r.Factors, ratings.Factor{Name: name, Value: f, Ref: ratings.Ref{Text: "IEC 60287-2-1, ratio of the computed currents", Status: ratings.Computed}, Why: why})
		}
		now = next
		return nil
	}
	if below {
		if v := p.SoilC.Or(s.About.SoilC); gap == nil && v != l.AmbientC {
			gap = change("ambient-soil", quantity.Celsius.Print(v), func() { l.AmbientC = v })
		}
		if v := p.SoilKmW.Or(s.About.SoilKmW); gap == nil && v != l.SoilKmW {
			gap = change("soil-resistivity", quantity.SoilKMW.Print(v), func() { l.SoilKmW = v })
		}
		if v := p.DepthM.Or(s.About.DepthM); gap == nil && v != l.DepthM {
			gap = change("depth", quantity.Metre.Print(v), func() { l.DepthM = v })
		}
	} else {
		air, why := p.AirC.Or(s.About.AirC), ""
		why = quantity.Celsius.Print(air)
		if p.Sun && p.SunAddsC.Known {
			air += p.SunAddsC.Value
			why += fmt.Sprintf(" and %s for the sun", quantity.Celsius.Print(p.SunAddsC.Value))
		}
		if air != l.AmbientC {
			gap = change("ambient-air", why, func() { l.AmbientC = air })
		}
		if p.Sun && !p.SunAddsC.Known && gap == nil {
			gap = change("sun", "1000 W/m2 on the cable", func() { l.Sun = true })
		}
	}
	if gap != nil {
		return fail(gap)
	}
	r.CapacityA = now.CurrentA
	r.Steps = now.Steps
	if c.CapacityA.Known {
		r.Basis, r.TabulatedA, r.Ref = "user-table", c.CapacityA.Value, ratings.Ref{Text: c.DataOrigin, Status: ratings.Given}
		r.CapacityA = c.CapacityA.Value * now.CurrentA / base.CurrentA
	}
	if p.Laid == "standoff" && !p.StandoffMM.Known {
		r.Notes = append(r.Notes, ratings.Note{Kind: "standoff-unstated", Text: "standoff_mm is not stated; it is taken as enough for free air"})
	}
	laid := Laid{Circuit: c, Place: p, Cable: k, Laying: l, Alone: now, OuterM: width(k, l, p)}
	if p.Spacing == "spaced" {
		laid.Clear = quantity.Of(k.OuterMM / 1000)
		if p.SpacingMM.Known {
			laid.Clear = quantity.Of(p.SpacingMM.Value / 1000)
		} else {
			r.Notes = append(r.Notes, ratings.Note{Kind: "spacing-unstated", Text: "it is spaced without spacing_mm; one diameter clear is taken"})
		}
	}
	return &answer{rating: r, laid: laid}
}

// width of a circuit as its neighbour sees it, m.
func width(k *thermal.Cable, l thermal.Laying, p ratings.Place) float64 {
	de := k.OuterMM / 1000
	switch {
	case l.Where == thermal.BuriedDuct:
		return thermal.DuctOuterM(k, l)
	case k.Cables == 1:
		return de
	case l.Arrangement == "trefoil" || l.Arrangement == "two-touching":
		return 2 * de
	case l.Arrangement == "flat-spaced":
		return 5 * de
	}
	return 3 * de
}

// laying turns a place into the model's terms.
func laying(k *thermal.Cable, p ratings.Place) (thermal.Laying, string, *ratings.Gap) {
	single := k.Circuit.Build == "single-core"
	gap := func(format string, args ...any) (thermal.Laying, string, *ratings.Gap) {
		return thermal.Laying{}, "", &ratings.Gap{Reason: fmt.Sprintf(format, args...), Next: "lay a table of your own over the set, or choose another way of laying"}
	}
	surface := p.Laid == "clipped" || p.Laid == "solid-tray" && !p.Lid
	if p.Laid == "standoff" && p.StandoffMM.Known {
		share := 0.3
		if single {
			share = 0.5
		}
		surface = p.StandoffMM.Value < share*k.OuterMM*(1-1e-9)
	}
	switch p.Laid {
	case "conduit-in-insulation":
		if !k.Circuit.CapacityA.Known {
			return gap("the thermal model has no wall filled with insulation")
		}
		// a given capacity stands; only its ambient temperature is reckoned
		return thermal.Laying{Where: thermal.Enclosed}, "in thermal insulation", nil
	case "conduit", "trunking":
		return thermal.Laying{Where: thermal.Enclosed}, "enclosed in air", nil
	case "buried":
		l := thermal.Laying{Where: thermal.Buried, Arrangement: "single"}
		if single {
			l.Arrangement = k.Circuit.Formation
			if k.Cables == 2 {
				l.Arrangement = "two-touching"
			}
		}
		return l, "direct in the ground", nil
	case "buried-duct":
		if p.Ducts == "per-core" {
			return gap("the thermal model here has no circuit with one core a duct")
		}
		return thermal.Laying{Where: thermal.BuriedDuct}, "in a duct in the ground", nil
	case "perforated-tray", "ladder", "basket", "solid-tray":
		if p.Lid {
			return thermal.Laying{Where: thermal.Enclosed}, "enclosed in air", nil
		}
	case "clipped", "standoff", "free-air":
	default:
		return gap("the thermal model has no laying %q", p.Laid)
	}
	if surface {
		switch {
		case !single, k.Circuit.Formation == "flat-spaced":
			return thermal.Laying{Where: thermal.FreeAir, Arrangement: "wall-single"}, "on a surface", nil
		case k.Cables == 3 && k.Circuit.Formation == "trefoil":
			return thermal.Laying{Where: thermal.FreeAir, Arrangement: "wall-trefoil"}, "on a surface, trefoil", nil
		}
		return gap("IEC 60287-2-1 has no row for single-core cables touching each other on a surface, unless in trefoil")
	}
	a := "single"
	if single {
		switch {
		case k.Cables == 2:
			a = "two-touching"
		case k.Circuit.Formation == "trefoil":
			a = "trefoil"
		case k.Circuit.Formation == "flat":
			a = "flat"
		case k.Circuit.Formation != "flat-spaced":
			return gap("the thermal model has no formation %q", k.Circuit.Formation)
		}
		if p.Vertical {
			switch a {
			case "two-touching", "flat":
				a += "-vertical"
			case "single":
				a = "spaced-vertical"
			}
		}
	}
	return thermal.Laying{Where: thermal.FreeAir, Arrangement: a}, "free air, " + words(a), nil
}

func words(arrangement string) string {
	switch arrangement {
	case "single":
		return "clear of others"
	case "two-touching":
		return "two touching"
	case "flat":
		return "flat touching"
	case "two-touching-vertical":
		return "two touching, one above the other"
	case "flat-vertical":
		return "flat touching, one above the other"
	case "spaced-vertical":
		return "spaced, one above the other"
	}
	return arrangement
}

// InGround is the factor for n equal circuits in a row in the ground, by images.
func InGround(l Laid) (ratings.Factor, *ratings.Gap) {
	n := l.Group.Circuits
	if l.Place.Ducts == "shared" && l.Laying.Where == thermal.BuriedDuct {
		return ratings.Factor{}, &ratings.Gap{Reason: "the thermal model has no duct shared by several circuits", Next: "give each circuit its duct, or lay a table over the set"}
	}
	if l.Place.Spacing == "bunched" {
		return ratings.Factor{}, &ratings.Gap{Reason: "the thermal model has no circuits bunched in the ground", Next: "lay them side by side"}
	}
	a := l.OuterM + l.Clear.Or(0)
	row, gap := thermal.RateRow(l.Cable, l.Laying, n, a)
	if gap != nil {
		return ratings.Factor{}, gap
	}
	return ratings.Factor{
		Name: "grouping", Value: row.CurrentA / l.Alone.CurrentA,
		Ref: ratings.Ref{Text: "IEC 60287-2-1 clause 4.2.3, mutual heating of equal circuits", Status: ratings.Computed},
		Why: fmt.Sprintf("%d circuits, axes %s apart", n, quantity.Milli.Print(1000*a)),
	}, nil
}

// ReactanceOhmKM of one conductor from geometry: 2 pi f (0.2 ln(2 s/dc) + 0.05) mH/km,
// round conductors, s the distance of axes, for three flat ones the geometric mean of
// all three distances.
func ReactanceOhmKM(c ratings.Circuit) (float64, *ratings.Gap) {
	b, gap := conductor.Construct(c)
	if gap != nil {
		return 0, gap
	}
	if b.ConductorMM <= 0 {
		return 0, &ratings.Gap{Reason: "the diameter of the conductor is not known", Next: "state x_ohm_km in a data block of the cable"}
	}
	s := b.ConductorMM + 2*b.InsulationMM
	if c.Build == "single-core" {
		s = b.OuterMM
		if c.Loaded == 3 {
			switch c.Formation {
			case "flat":
				s *= math.Cbrt(2)
			case "flat-spaced":
				s *= 2 * math.Cbrt(2)
			}
		} else if c.Formation == "flat-spaced" {
			s *= 2
		}
	}
	f := c.FrequencyHz
	if f == 0 {
		f = 50
	}
	return 2 * math.Pi * f * (0.2*math.Log(2*s/b.ConductorMM) + 0.05) / 1000, nil
}

// Temperatures gives the conductor temperature of each circuit of a group in the
// ground, side by side in the order given, at its actual current: mutual heating of
// unequal circuits by images, IEC 60287-2-1 clause 4.2.3.
func (s *Set) Temperatures(group []ratings.Loaded) ([]float64, *ratings.Gap) {
	members := make([]thermal.Member, len(group))
	x := 0.0
	for i, m := range group {
		k, gap := thermal.NewCable(m.Circuit)
		if gap != nil {
			return nil, gap
		}
		l, _, gap := laying(k, m.Place)
		if gap != nil {
			return nil, gap
		}
		l.AmbientC, l.SoilKmW, l.DepthM = m.Place.SoilC.Or(s.About.SoilC), m.Place.SoilKmW.Or(s.About.SoilKmW), m.Place.DepthM.Or(s.About.DepthM)
		l.DuctInsideMM, l.DuctOutsideMM = m.Place.DuctInsideMM, m.Place.DuctOutsideMM
		w := width(k, l, m.Place)
		x += w / 2
		members[i] = thermal.Member{Cable: k, Laying: l, XM: x, CurrentA: m.CurrentA}
		x += w / 2
		if m.Place.Spacing == "spaced" {
			x += m.Place.SpacingMM.Or(k.OuterMM) / 1000
		}
	}
	return thermal.Temperatures(members)
}
