package assess

import (
	"trefoil/lint/network"
	"trefoil/ratings"
	"trefoil/ratings/conductor"
	"trefoil/ratings/quantity"
)

// Heater is a rating set that works out conductor temperatures of a group in the
// ground from the actual current of each circuit.
type Heater interface {
	Temperatures(group []ratings.Loaded) ([]float64, *ratings.Gap)
}

// The ways in which a conductor temperature is worked out.
const (
	ByImages = "IEC 60287-2-1 clause 4.2.3, the group's actual currents"
	bySquare = "ambient plus (limit less ambient) x (current / capacity)^2"
)

// heat works out the conductor temperature of every section at design current. In the
// ground, where the set can, all circuits of the route heat each other with their own
// currents, and circuits of other projects with that of the run that is looked at;
// elsewhere the rise goes with the square of the share of the capacity.
func (v *Review) heat() {
	if v.Set == nil {
		return
	}
	for i := range v.Runs {
		v.heatAlone(&v.Runs[i])
	}
	if h, ok := v.Set.(Heater); ok {
		for _, shared := range v.Shared {
			v.heatGround(h, shared)
		}
	}
}

// heatAlone works out the temperatures of a run from the share of its capacities.
func (v *Review) heatAlone(a *Run) {
	if !a.LoadA.Known || !usable(a) {
		return
	}
	for k := range a.Sections {
		s := &a.Sections[k]
		if s.Rating == nil {
			continue
		}
		limit, ok := a.LimitC(s)
		if !ok {
			continue
		}
		share := a.LoadA.Value / float64(a.Legs) / s.Rating.CapacityA
		ambient := v.ambient(s)
		s.ConductorC, s.images = quantity.Of(ambient+(limit-ambient)*share*share), false
	}
}

// LimitC is what the insulation of a section that has a rating allows, degC.
func (a *Run) LimitC(s *Section) (limit float64, ok bool) {
	limit, ok = conductor.TemperatureC(a.Cable.Insulation.Value)
	if low, known := conductor.TemperatureC(s.Group.Insulation); known && low < limit {
		limit = low
	}
	if s.Impedance != nil && s.Impedance.ConductorC > 0 && s.Impedance.ConductorC < limit {
		limit = s.Impedance.ConductorC
	}
	return limit, ok
}

// HeatRef says how the temperature of a section was worked out.
func (s *Section) HeatRef() string {
	switch {
	case !s.ConductorC.Known:
		return ""
	case s.images:
		return ByImages
	}
	return bySquare
}

// ConductorC is the temperature of the hottest section at design current, where that of
// every one is known.
func (a *Run) ConductorC() (hottest quantity.Maybe) {
	for k := range a.Sections {
		t := a.Sections[k].ConductorC
		if !t.Known {
			return quantity.Maybe{}
		}
		if t.Value > hottest.Or(t.Value-1) {
			hottest = t
		}
	}
	return hottest
}

// ambient is the temperature around a section, degC.
func (v *Review) ambient(s *Section) float64 {
	p := v.place(s.Route)
	if p.Laid == "buried" || p.Laid == "buried-duct" {
		return p.SoilC.Or(v.Info.SoilC)
	}
	t := p.AirC.Or(v.Info.AirC)
	if p.Sun {
		t += p.SunAddsC.Or(20)
	}
	return t
}

// heatGround lets the circuits of a route in the ground heat each other.
func (v *Review) heatGround(h Heater, shared *Shared) {
	if laid := shared.Route.Laid.Value; laid != "buried" && laid != "buried-duct" || shared.Circuits > 60 || !placed(shared.Route) {
		return
	}
	p := v.place(shared.Route)
	var group []ratings.Loaded
	at := map[int]int{} // run -> its first member
	for _, i := range shared.Runs {
		a := &v.Runs[i]
		if !usable(a) || !a.Segment.DesignCurrentA().Known {
			return
		}
		at[i] = len(group)
		for range a.Legs {
			group = append(group, ratings.Loaded{Circuit: v.circuit(a, a.sizeIn(shared)), Place: p, CurrentA: a.Segment.DesignCurrentA().Value / float64(a.Legs)})
		}
	}
	for _, i := range shared.Runs {
		a := &v.Runs[i]
		whole := group
		for range shared.Others {
			whole = append(whole[:len(whole):len(whole)], group[at[i]])
		}
		t, gap := h.Temperatures(whole)
		if gap != nil {
			continue
		}
		hottest := t[at[i]]
		for leg := range a.Legs {
			hottest = max(hottest, t[at[i]+leg])
		}
		for k := range a.Sections {
			if s := &a.Sections[k]; s.Shared == shared && s.Rating != nil {
				s.ConductorC, s.images = quantity.Of(hottest), true
			}
		}
		if shared.Others == 0 { // every other run has the same answer in the same list
			for _, j := range shared.Runs {
				b := &v.Runs[j]
				hot := t[at[j]]
				for leg := range b.Legs {
					hot = max(hot, t[at[j]+leg])
				}
				for k := range b.Sections {
					if s := &b.Sections[k]; s.Shared == shared && s.Rating != nil {
						s.ConductorC, s.images = quantity.Of(hot), true
					}
				}
			}
			return
		}
	}
}

// warmth gives the resistance and reactance of one leg with conductors at the temperatures of
// the design current, and the resistance at their limit, ohm.
func (a *Run) warmth() (r, x, full float64, known bool) {
	if !a.Impedance.Known || a.Cable == nil {
		return 0, 0, 0, false
	}
	alpha, ok := conductor.Alpha(a.Cable.Conductor.Value)
	if !ok {
		return 0, 0, 0, false
	}
	for k := range a.Sections {
		s := &a.Sections[k]
		if !s.ConductorC.Known || s.Impedance.ConductorC == 0 {
			return 0, 0, 0, false
		}
		length := s.Section.LengthM.Value / 1000
		share := (1 + alpha*(s.ConductorC.Value-20)) / (1 + alpha*(s.Impedance.ConductorC-20))
		r += s.Impedance.ROhmKM * share * length
		full += s.Impedance.ROhmKM * length
		x += s.Impedance.XOhmKM * length
	}
	return r, x, full, true
}

// warm is a run's impedance with resistances at the temperatures of the design current.
func (a *Run) warm() network.Impedance {
	r, x, full, known := a.warmth()
	if !known {
		return network.Impedance{}
	}
	z := a.Impedance
	z.Ohm = complex(r, x) / complex(float64(a.Legs), 0)
	if z.HasNeutral && full > 0 {
		z.NeutralOhm = complex(real(z.NeutralOhm)*r/full, imag(z.NeutralOhm))
	}
	return z
}

// WarmLossW is LossW with resistances at the temperatures of the design current.
func (a *Run) WarmLossW() quantity.Maybe {
	r, _, full, known := a.warmth()
	loss := a.LossW()
	if !known || !loss.Known || full <= 0 {
		return quantity.Maybe{}
	}
	return quantity.Of(loss.Value * r / full)
}
