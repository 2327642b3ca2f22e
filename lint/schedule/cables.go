package schedule

import (
	"fmt"
	"strings"

	"trefoil/lint/assess"
	"trefoil/lint/design"
	"trefoil/ratings/quantity"
)

// cable is a row of the cable schedule: a run, or one leg of it.
type cable struct {
	*assess.Run
	leg int // from 1; 0 for the run as a whole
}

func (c cable) tag() string {
	if c.leg == 0 {
		return c.Run.Run.Name
	}
	return leg(c.Run, c.leg)
}

// leg names one leg of a run.
func leg(a *assess.Run, n int) string {
	if a.Legs == 1 {
		return a.Run.Name
	}
	return fmt.Sprintf("%s leg %d of %d", a.Run.Name, n, a.Legs)
}

// lengthM is the length of a leg along its routes: its own where the design states it.
func lengthM(a *assess.Run, n int) quantity.Maybe {
	if l := a.Run.LegLengthsM; n > 0 && l.Known() && len(l.Values) == a.Legs {
		return quantity.Of(l.Values[n-1])
	}
	return a.LengthM
}

// device is the first protective device of a run, nil where it has none.
func device(a *assess.Run) *design.Device {
	if len(a.Run.Devices) == 0 {
		return nil
	}
	return &a.Run.Devices[0]
}

// ofDevice looks at the first device of a run; empty where it has none.
func ofDevice(look func(*design.Device) Cell) func(cable) Cell {
	return func(c cable) Cell {
		if d := device(c.Run); d != nil {
			return look(d)
		}
		return Cell{}
	}
}

// ofCable looks at the cable type of a run.
func ofCable(look func(*design.Cable) Cell) func(cable) Cell {
	return func(c cable) Cell {
		if c.Cable == nil {
			return Cell{State: Unknown}
		}
		return look(c.Cable)
	}
}

// worst looks at the section that decides the capacity; unknown where none does.
func worst(look func(*assess.Section) Cell) func(cable) Cell {
	return func(c cable) Cell {
		if c.Governing < 0 {
			return Cell{State: Unknown}
		}
		return look(&c.Sections[c.Governing])
	}
}

// along says something of each section, in order.
func along(look func(*assess.Section) string) func(cable) Cell {
	return func(c cable) Cell {
		var parts []string
		for k := range c.Sections {
			parts = append(parts, look(&c.Sections[k]))
		}
		return joined(parts)
	}
}

// method is how a section is laid, as the rating set has it.
func method(s *assess.Section) string {
	if s.Rating == nil {
		return ""
	}
	return s.Rating.Method
}

// setting says how a device is set to trip.
func setting(d *design.Device) Cell {
	var parts []string
	if d.Trip.Known() {
		parts = append(parts, "trip "+d.Trip.Value)
	}
	if d.FuseType.Known() && d.Kind.Value == "fuse" {
		parts = append(parts, d.FuseType.Value)
	}
	if d.InstantA.Known() {
		parts = append(parts, "instant "+quantity.Ampere.Print(d.InstantA.Value))
	}
	if d.ShortA.Known() {
		text := "short time " + quantity.Ampere.Print(d.ShortA.Value)
		if d.ShortS.Known() {
			text += ", " + quantity.Second.Print(d.ShortS.Value)
		}
		parts = append(parts, text)
	}
	if d.RCD.Known() && d.RCD.Value != "none" {
		text := "residual current type " + d.RCD.Value
		if d.RCDmA.Known() {
			text += ", " + quantity.MilliAmp.Print(d.RCDmA.Value)
		}
		parts = append(parts, text)
	}
	return joined(parts)
}

// how says how a section is laid.
func how(s *assess.Section) string {
	if s.Route == nil {
		return "unknown"
	}
	text := s.Route.Laid.Value
	if s.Route.Lid.Value {
		text += " with lid"
	}
	if s.Route.Vertical.Value {
		text += ", vertical"
	}
	return text
}

// factors says what the capacity in the table is multiplied by, and why.
func factors(s *assess.Section) Cell {
	var parts []string
	for _, f := range s.Rating.Factors {
		text := quantity.Ratio.Print(f.Value) + " " + f.Name
		if f.Why != "" {
			text += " (" + f.Why + ")"
		}
		parts = append(parts, text)
	}
	return joined(parts)
}

// size is the size of a run's conductors, and those of sections that have their own.
func size(a *assess.Run) Cell {
	if a.Run.Size.Zero() {
		return Cell{State: Unknown}
	}
	text := a.Run.Size.String()
	for k := range a.Sections {
		if own := a.Size(a.Sections[k].Section); own != a.Run.Size {
			text += fmt.Sprintf("; %s in section %d", own, k+1)
		}
	}
	return TextCell(text)
}

// cores says how many conductors of which kind make one leg.
func cores(a *assess.Run) Cell {
	switch k := a.Cable; {
	case k == nil || !k.Build.Known():
		return Cell{State: Unknown}
	case k.Build.Value == "single-core":
		return TextCell("single cores, " + k.Formation.Value)
	default:
		return word(k.Cores)
	}
}

func (l *list) massKgM(a *assess.Run) Cell {
	sum := 0.0
	for _, p := range l.Bodies(a, a.Run.Size) {
		if p.MassGap != nil {
			return Cell{State: Unknown}
		}
		if p.Run >= 0 {
			sum += float64(p.Count) * p.KgM.Value
		}
	}
	return of(sum)
}

// drop is a figure of the voltage drop, empty where a run leads to nothing that takes current.
func (l *list) drop(a *assess.Run, figure quantity.Maybe) Cell {
	if a.Segment.Takers == 0 {
		return Cell{}
	}
	return FigureCell(figure)
}

// fault is a figure of a run's faults.
func (l *list) fault(look func(*assess.Fault) Cell) func(cable) Cell {
	return func(c cable) Cell {
		f, ok := l.Fault(c.Run)
		if !ok {
			return Cell{State: Unknown}
		}
		return look(&f)
	}
}

// end says what of an end of a run is stated.
func (l *list) end(a *assess.Run, at design.Link, look func(*assess.End) string) string {
	for _, e := range l.Ends(a, nil) {
		if e.Subject == at.Subject() {
			return look(&e)
		}
	}
	return ""
}

func lug(e *assess.End) string {
	text := e.Lug
	if e.Ends != nil && e.Ends.StudMM.Known() {
		text += " for a stud of " + quantity.Milli.Print(e.Ends.StudMM.Value)
	}
	if e.Tail != "" {
		text += ", tail " + e.Tail
	}
	return strings.TrimPrefix(text, ", ")
}

func (l *list) rows() []cable {
	var rows []cable
	for i := range l.Runs {
		a := &l.Runs[i]
		if !l.opt.Legs || a.Legs == 1 {
			rows = append(rows, cable{a, 0})
			continue
		}
		for n := range a.Legs {
			rows = append(rows, cable{a, n + 1})
		}
	}
	return rows
}

func cables(l *list) Table {
	rise := func(c cable) int { return c.Index }
	t := build(l.rows(), []col[cable]{
		words("cable", "cable", func(c cable) Cell { return TextCell(c.tag()) }).usual(),
		words("class", "class", func(c cable) Cell { return word(c.Run.Run.Class) }),
		words("note", "description", func(c cable) Cell { return word(c.Run.Run.Note) }),
		words("from", "from", func(c cable) Cell { return subject(c.Run.Run.From) }).usual(),
		words("to", "to", func(c cable) Cell { return subject(c.Run.Run.To) }).usual(),
		words("phases", "phases", func(c cable) Cell { return TextCell(c.Segment.Phases()) }),
		number("design_current_a", "design current", quantity.Ampere, func(c cable) Cell { return FigureCell(c.Segment.DesignCurrentA()) }).usual(),
		words("device", "device", ofDevice(func(d *design.Device) Cell { return word(d.Kind) })).usual(),
		number("device_a", "rating", quantity.Ampere, ofDevice(func(d *design.Device) Cell { return FigureCell(d.RatedA.Maybe()) })).usual(),
		words("device_at", "device at", func(c cable) Cell {
			if d := device(c.Run); d != nil {
				return known(l.DeviceAt(c.Run, d))
			}
			return Cell{}
		}),
		words("setting", "setting", ofDevice(setting)),
		number("breaking_ka", "breaking capacity", quantity.KiloAmp, ofDevice(func(d *design.Device) Cell { return stated(d.BreakingKA) })),
		words("type", "type", func(c cable) Cell {
			if c.Cable == nil {
				return Cell{State: Unknown}
			}
			return TextCell(c.Cable.Name)
		}).usual(),
		words("conductor", "conductor", ofCable(func(k *design.Cable) Cell { return word(k.Conductor) })).usual(),
		words("strands", "strands", ofCable(func(k *design.Cable) Cell { return word(k.Strands) })),
		words("insulation", "insulation", ofCable(func(k *design.Cable) Cell { return word(k.Insulation) })),
		words("armour", "armour", ofCable(func(k *design.Cable) Cell { return word(k.Armour) })),
		words("cores", "cores", func(c cable) Cell { return cores(c.Run) }).usual(),
		words("size", "size", func(c cable) Cell { return size(c.Run) }).usual(),
		number("neutral_mm2", "neutral", quantity.SquareMM, func(c cable) Cell { return stated(c.Run.Run.NeutralMM2) }),
		number("earth_mm2", "earth", quantity.SquareMM, func(c cable) Cell { return stated(c.Run.Run.EarthMM2) }).usual(),
		words("earth_by", "earth by", func(c cable) Cell { return word(c.Run.Run.EarthBy) }),
		count("legs", "legs", func(c cable) Cell { return of(float64(c.Legs)) }).usual(),
		number("outer_mm", "diameter of one cable", quantity.Milli, func(c cable) Cell { return FigureCell(l.OuterMM(c.Run, c.Run.Run.Size)) }),
		number("kg_m", "mass of all legs", quantity.KilogramM, func(c cable) Cell { return l.massKgM(c.Run) }),
		number("bend_factor", "least bend, diameters", quantity.Ratio, ofCable(func(k *design.Cable) Cell { return stated(k.BendFactor) })),
		number("length_m", "length", quantity.Metre, func(c cable) Cell { return FigureCell(lengthM(c.Run, c.leg)) }).usual(),
		words("length_from", "lengths", along(func(s *assess.Section) string { return s.Section.LengthFrom.Value })),
		words("routes", "routes", along(func(s *assess.Section) string { return s.Section.Route.Name })).usual(),
		words("laid", "laid", along(how)),
		words("methods", "method", along(method)),
		count("governing_section", "worst section", func(c cable) Cell {
			if c.Governing < 0 {
				return Cell{State: Unknown}
			}
			return of(float64(c.Governing + 1))
		}),
		number("tabulated_a", "tabulated capacity of a leg", quantity.Ampere, worst(func(s *assess.Section) Cell { return of(s.Rating.TabulatedA) })),
		count("circuits", "circuits", worst(func(s *assess.Section) Cell { return of(float64(s.Group.Circuits)) })),
		words("factors", "factors", worst(factors)),
		number("derating", "all factors together", quantity.Ratio, worst(func(s *assess.Section) Cell { return FigureCell(s.Rating.Derating()) })),
		words("sun", "sun", worst(func(s *assess.Section) Cell { return yes(s.Route.Sun) })),
		number("capacity_a", "capacity", quantity.Ampere, func(c cable) Cell { return FigureCell(c.CapacityA) }).usual(),
		number("utilisation_percent", "loaded to", quantity.Percent, func(c cable) Cell { return FigureCell(c.UtilisationPct()) }).usual(),
		number("rise_v", "rise", quantity.Volt, func(c cable) Cell { return FigureCell(l.Rises.Of(rise(c)).V) }),
		number("rise_percent", "rise", quantity.Percent, func(c cable) Cell { return FigureCell(l.Rises.Of(rise(c)).Percent) }).usual(),
		number("path_rise_v", "rise from the supply", quantity.Volt, func(c cable) Cell { return FigureCell(l.Rises.Of(rise(c)).PathV) }),
		number("path_rise_percent", "rise from the supply", quantity.Percent, func(c cable) Cell { return FigureCell(l.Rises.Of(rise(c)).PathPercent) }).usual(),
		number("drop_percent", "drop", quantity.Percent, func(c cable) Cell { return l.drop(c.Run, l.Drops.Of(rise(c)).Percent) }),
		number("path_drop_percent", "drop from the supply", quantity.Percent, func(c cable) Cell { return l.drop(c.Run, l.Drops.Of(rise(c)).PathPercent) }),
		number("loss_w", "loss", quantity.Watt, func(c cable) Cell { return FigureCell(c.LossW()) }),
		number("fault_max_ka", "greatest fault, near end", quantity.KiloAmp, l.fault(func(f *assess.Fault) Cell { return kilo(f.Near.MaxA) })),
		number("fault_min_ka", "least fault, far end", quantity.KiloAmp, l.fault(func(f *assess.Fault) Cell { return kilo(f.Far.MinA) })),
		number("loop_ohm", "earth loop", quantity.Ohm, l.fault(func(f *assess.Fault) Cell { return FigureCell(f.Far.LoopOhm) })),
		number("loop_limit_ohm", "loop allowed", quantity.Ohm, l.fault(func(f *assess.Fault) Cell { return FigureCell(f.Disconnect().MostOhm) })),
		words("lug_from", "lug at from", func(c cable) Cell { return TextCell(l.end(c.Run, c.Run.Run.From, lug)) }),
		words("lug_to", "lug at to", func(c cable) Cell { return TextCell(l.end(c.Run, c.Run.Run.To, lug)) }),
		words("label", "label", func(c cable) Cell { return TextCell(c.tag()) }),
		words("findings", "findings", func(c cable) Cell { return joined(l.told[c.Run.Run.Subject()]) }),
		words("waived", "waived", func(c cable) Cell { return joined(l.waived[c.Run.Run.Subject()]) }),
		words("at", "written at", func(c cable) Cell { return TextCell(c.Run.Run.At.String()) }),
		words("drawn_in", "drawn in on", func(cable) Cell { return Cell{} }),
		words("tested", "tested by", func(cable) Cell { return Cell{} }),
	})
	t.Basis = append(t.Basis,
		"design current: all sources at full output together; capacity, current, mass and loss: of all legs; rise and drop: percent of nominal, from the point of supply where it says so",
		"length: along the routes, without tails")
	if l.opt.Legs {
		t.Basis = append(t.Basis, "a row for each leg; its electrical figures are those of the whole run")
	}
	for _, taken := range l.Took {
		t.Basis = append(t.Basis, "taken, because it is not stated: "+taken.What)
	}
	memory := 0
	for i := range l.Runs {
		if a := &l.Runs[i]; a.Governing >= 0 && a.Sections[a.Governing].Rating.Remembered() {
			memory++
		}
	}
	if memory > 0 {
		t.Basis = append(t.Basis, fmt.Sprintf("capacities that rest on figures from memory: %d of %d", memory, len(l.Runs)))
	}
	return t
}
