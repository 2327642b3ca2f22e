package rules

import (
	"fmt"
	"slices"
	"strings"

	"trefoil/lint/assess"
	"trefoil/lint/design"
	"trefoil/lint/engine"
	"trefoil/lint/finding"
	"trefoil/lint/network"
	"trefoil/ratings/quantity"
)

// ownRuns calls do for each source with the run that ends at it.
func ownRuns(r *engine.Review, do func(*design.Source, *assess.Run)) {
	for n := range r.EachNode() {
		node := &r.Tree.Nodes[n]
		if node.Source != nil && node.Up >= 0 && r.Runs[node.Up].Segment.State == network.Fed {
			do(node.Source, &r.Runs[node.Up])
		}
	}
}

// DeviceAgainstMaker reports a protective device outside of what a source's maker allows.
var DeviceAgainstMaker = &engine.Rule{
	Name: "device-against-maker", Summary: "a protective device is outside of what the maker of the source allows", Severity: finding.Error,
	Clause: engine.Clause{Publication: "IEC 60364-1", Edition: "2005", Number: "clause 134.1.1, the maker's instructions; AS/NZS 3000 clause 1.7.1; NEC 110.3(B)"}, Since: "0.1.0", Check: deviceAgainstMaker,
	Doc: engine.Doc{
		Checks:  "The setting of each device on the run of a source against max_device_a and min_device_a of the source's terminals. Sources that do not state max_device_a are told once, as a note.",
		Why:     "Above it the parts behind the terminals are not protected, and the maker's warranty and approval fall.",
		Accepts: "the setting in percent of the maker's greatest device",
		Blind:   "The kind of device that the maker asks for.", Sources: "The source's data sheet; common practice.", Bad: "above-greatest", Good: "within",
	},
}

func deviceAgainstMaker(r *engine.Review) {
	var open finding.Names
	var first *design.Source
	ownRuns(r, func(s *design.Source, a *assess.Run) {
		if s.Terminals == nil || s.Terminals.MaxDeviceA.Origin == design.Absent {
			if len(a.Run.Devices) > 0 {
				open.Add(s.Name)
			}
			if first == nil && open.Len() > 0 {
				first = s
			}
		}
		if s.Terminals == nil {
			return
		}
		for k := range a.Run.Devices {
			d := &a.Run.Devices[k]
			if !d.RatedA.Known() || !d.Kind.Known() {
				continue
			}
			tell := func(limit design.Num, how, next string) {
				set, most := quantity.Ampere.Apart(d.RatedA.Value, limit.Value)
				f := r.At(d.RatedA.At, a.Run.Subject(), fmt.Sprintf("%s is set at %s, and the maker of source %q asks for %s %s", deviceName(a, d), set, s.Name, how, most), next)
				f.Figures = []finding.Figure{{Key: "device_a", Value: d.RatedA.Value}, {Key: "limit_a", Value: limit.Value}}
				f.Percent, f.HasPercent = 100*d.RatedA.Value/limit.Value, true
				f.Related = []finding.Related{{At: limit.At, Message: "the maker's limit"}}
				r.Find(f)
			}
			switch most, least := s.Terminals.MaxDeviceA, s.Terminals.MinDeviceA; {
			case most.Known() && !quantity.AtMost(d.RatedA.Value, most.Value):
				tell(most, "at most", "choose a smaller device, or give the source a device of its own in front of it")
			case least.Known() && !quantity.AtMost(least.Value, d.RatedA.Value):
				tell(least, "at least", "choose a larger device, then look at the capacity of the run")
			}
		}
	})
	if first != nil && !r.Design.Broken {
		f := r.At(first.At, first.Subject(), silent("source", open)+" not state max_device_a, so devices are not held against the maker's greatest", "take it from the data sheet, and add it to terminals")
		f.Severity = finding.Note
		r.Find(f)
	}
}

// DeviceShared reports sources that share one protective device.
var DeviceShared = &engine.Rule{
	Name: "device-shared", Summary: "several sources stand behind one protective device", Severity: finding.Error,
	Clause: engine.Clause{Publication: "IEC 60364-7-712", Edition: "2017", Number: "clause 712.433.101, overcurrent protection on the a.c. side; AS/NZS 4777.1:2016 clause 3.4.2 (numbers from memory)"}, Since: "0.1.0", Check: deviceShared,
	Doc: engine.Doc{
		Checks: "That a source has a device on its own run wherever the next device towards the supply stands for further sources too.",
		Why:    "A fault in one inverter then takes all of them off, and a device sized for their sum does not protect one of them.",
		Blind:  "Devices inside of an inverter.", Sources: "Common practice; makers' instructions.", Bad: "two-on-one", Good: "one-each",
	},
}

func deviceShared(r *engine.Review) {
	if r.Design.Broken {
		return
	}
	ownRuns(r, func(s *design.Source, a *assess.Run) {
		for i := a.Index; ; {
			up := &r.Runs[i]
			if len(up.Run.Devices) > 0 {
				if i != a.Index && up.Segment.Sources > 1 {
					f := r.At(a.Run.At, a.Run.Subject(), fmt.Sprintf("source %q has no device of its own: the next one, on run %q, stands for %s", s.Name, up.Run.Name, sources(up.Segment.Sources)), "add a device block to the run of the source")
					f.Related = []finding.Related{{At: up.Run.Devices[0].At, Message: "the shared device"}}
					r.Find(f)
				}
				return
			}
			i = r.Tree.Nodes[up.Segment.Near].Up
			if i < 0 {
				return // device-missing tells it
			}
		}
	})
}

// DeviceDerated reports a device that heat leaves less than the design current.
var DeviceDerated = &engine.Rule{
	Name: "device-derated", Summary: "heat leaves a protective device less than the design current", Severity: finding.Error,
	Clause: engine.Clause{Publication: "IEC 61439-1", Edition: "2020", Number: "clause 10.10, temperature rise; the maker's factors"}, Since: "0.1.0", Check: deviceDerated,
	Doc: engine.Doc{
		Checks:  "The setting of each device times ambient_factor and row_factor against the design current of its run.",
		Why:     "Generation runs all ways at full output together; nine breakers in a row may carry three quarters of what one carries, and trip on clear days.",
		Accepts: "the design current in percent of what is left of the setting",
		Blind:   "A board whose devices state no factor: device-heat-unstated tells it.", Sources: "A maker's instructions, factor 0.77 for nine breakers side by side, as published by it; common practice.", Bad: "row-of-breakers", Good: "larger-frame",
	},
}

func deviceDerated(r *engine.Review) {
	devices(r, func(a *assess.Run, _ int, d *design.Device) {
		if !a.Segment.DesignCurrentA().Known || !d.RatedA.Known() || !d.AmbientFactor.Known() && !d.RowFactor.Known() {
			return
		}
		current := max(a.Segment.DesignCurrentA().Value, a.Segment.DemandA().Or(0))
		left := d.RatedA.Value * d.AmbientFactor.Maybe().Or(1) * d.RowFactor.Maybe().Or(1)
		if quantity.AtMost(current, left) || !quantity.AtMost(current, d.RatedA.Value) {
			return // carried, or told by device-below-current
		}
		got, most := quantity.Ampere.Apart(current, left)
		f := r.At(d.RatedA.At, a.Run.Subject(), fmt.Sprintf("%s of %s carries %s in its place%s, and the run carries %s", deviceName(a, d), quantity.Ampere.Print(d.RatedA.Value), most, factors(d), got),
			"choose a larger frame, space the devices, or cool the enclosure; then look at the capacity of the run")
		f.Figures = []finding.Figure{{Key: "design_current_a", Value: current}, {Key: "device_a", Value: left}}
		f.Percent, f.HasPercent = 100*current/left, true
		r.Find(f)
	})
}

func factors(d *design.Device) string {
	var list []string
	if d.AmbientFactor.Known() {
		list = append(list, "x "+quantity.Ratio.Print(d.AmbientFactor.Value)+" for the heat around it")
	}
	if d.RowFactor.Known() {
		list = append(list, "x "+quantity.Ratio.Print(d.RowFactor.Value)+" for its neighbours")
	}
	return " (" + strings.Join(list, ", ") + inOrigin(d.FactorOrigin) + ")"
}

func inOrigin(t design.Text) string {
	if t.Value == "" {
		return ""
	}
	return "; " + t.Value
}

// Temperatures at which devices are rated, degC; from memory.
const (
	mcbC  = 30 // IEC 60898-1
	mccbC = 40 // IEC 60947-2
)

// DeviceHeatUnstated notes a hot or full board whose devices state no factor for it.
var DeviceHeatUnstated = &engine.Rule{
	Name: "device-heat-unstated", Summary: "a board is hot or full, and its devices state no factor for that", Severity: finding.Note,
	Clause: engine.Clause{Publication: "IEC 60898-1", Edition: "2015", Number: "reference temperature 30 degC; IEC 60947-2: 40 degC (both from memory)"}, Wide: true, Since: "0.1.0", Check: deviceHeatUnstated,
	Doc: engine.Doc{
		Checks: "For each board whose inside_c is above the temperature at which its devices are rated, and for each board with two or more miniature breakers of sources, that the devices state ambient_factor and row_factor.",
		Why:    "What a breaker carries in a hot, full box is the maker's to say; without it the box is not checked.",
		Blind:  "Where in the board a device stands.", Sources: "Common practice; temperatures from memory.", Bad: "hot-board", Good: "factors-stated",
	},
}

func deviceHeatUnstated(r *engine.Review) {
	type open struct{ hot, row []string }
	found := map[string]*open{}
	for a := range r.EachRun() {
		for k := range a.Run.Devices {
			d := &a.Run.Devices[k]
			b, _ := r.Design.Find(d.Board.Kind, d.Board.Name).(*design.Board)
			if b == nil || !d.Kind.Known() {
				continue
			}
			o := found[b.Name]
			if o == nil {
				o = &open{}
				found[b.Name] = o
			}
			at := 0.0
			switch d.Kind.Value {
			case "mcb":
				at = mcbC
				if d.RowFactor.Origin == design.Absent && a.Segment.Sources > 0 {
					o.row = append(o.row, a.Run.Name)
				}
			case "mccb":
				at = mccbC
			default:
				continue
			}
			if b.InsideC.Known() && b.InsideC.Value > at && d.AmbientFactor.Origin == design.Absent {
				o.hot = append(o.hot, a.Run.Name)
			}
		}
	}
	for _, b := range r.Design.Boards {
		o := found[b.Name]
		if o == nil {
			continue
		}
		if len(o.hot) > 0 {
			r.Find(r.At(b.InsideC.At, b.Subject(), fmt.Sprintf("board %q is %s inside, above what its devices are rated at, and those of %s state no ambient_factor", b.Name, quantity.Celsius.Print(b.InsideC.Value), finding.Few(o.hot)), "take the factor from the maker's sheet and add ambient_factor and factor_origin"))
		}
		if len(o.row) > 1 {
			r.Find(r.At(b.At, b.Subject(), fmt.Sprintf("board %q holds %d miniature breakers that run at full output together, and those of %s state no row_factor", b.Name, len(o.row), finding.Few(o.row)), "take the factor for breakers side by side from the maker's sheet and add row_factor and factor_origin; 1 where they are spaced"))
		}
	}
}

// NeutralTooSmall reports a neutral that cannot carry what may come to it.
var NeutralTooSmall = &engine.Rule{
	Name: "neutral-too-small", Summary: "a neutral is too small for what it may have to carry", Severity: finding.Error,
	Clause: engine.Clause{Publication: "IEC 60364-5-52", Edition: "2009", Number: "clause 524.2; BS 7671 regulation 524.2; AS/NZS 3000 clause 3.5.2"}, Since: "0.1.0", Check: neutralTooSmall,
	Doc: engine.Doc{
		Checks:  "For runs that state neutral_mm2, the capacity of that conductor against the single-phase sources of one phase running alone, and against three times the third harmonic.",
		Why:     "When the units on two phases stop, the neutral carries the whole current of the third.",
		Accepts: "the current of the neutral in percent of its capacity",
		Blind:   "Single-phase loads; overload detection in the neutral.", Sources: "AS/NZS 3000:2007 clause 3.5.2 as discussed in the trade; IEC 60364-5-52 clause 524.2.", Bad: "half-neutral", Good: "full-neutral",
	},
}

func neutralTooSmall(r *engine.Review) {
	for a := range r.EachRun() {
		needs := a.NeutralA()
		may, gap := a.NeutralCapacityA()
		if gap != nil && a.CapacityA.Known && needs > 0 {
			f := r.At(a.Run.NeutralMM2.At, a.Run.Subject(), fmt.Sprintf("the neutral of run %q cannot be assessed: %s", a.Run.Name, gap.Reason), gap.Next)
			f.Severity = finding.Note
			r.Find(f)
		}
		if !may.Known || !a.Segment.DesignCurrentA().Known || quantity.AtMost(needs, may.Value) {
			continue
		}
		got, most := quantity.Ampere.Apart(needs, may.Value)
		f := r.At(a.Run.NeutralMM2.At, a.Run.Subject(), fmt.Sprintf("the neutral of run %q may have to carry %s and is rated for %s", a.Run.Name, got, most), "make the neutral as large as the phases")
		f.Figures = []finding.Figure{{Key: "neutral_a", Value: needs}, {Key: "neutral_capacity_a", Value: may.Value}}
		f.Percent, f.HasPercent = 100*needs/may.Value, true
		r.Find(f)
	}
}

// NeutralMissing reports a run without the neutral that its sources need.
var NeutralMissing = &engine.Rule{
	Name: "neutral-missing", Summary: "a run has no neutral, and a source behind it needs one", Severity: finding.Error,
	Clause: engine.Clause{Publication: "IEC 60364-1", Edition: "2005", Number: "clause 134.1.1, the maker's instructions"}, Since: "0.1.0", Check: neutralMissing,
	Doc: engine.Doc{
		Checks: "That every run between the supply and a source with needs_neutral = true, or one between a phase and neutral, has a neutral: a live core for it, or neutral_mm2. Sources that do not state needs_neutral are told once, as a note.",
		Why:    "It cannot be commissioned, and the cable is in the ground.",
		Blind:  "Single-core runs that do not state neutral_mm2.", Sources: "Common practice; makers' instructions.", Bad: "three-cores", Good: "four-cores",
	},
}

func neutralMissing(r *engine.Review) {
	var open finding.Names
	var first *design.Source
	for s := range r.EachSource() {
		if s.NeedsNeutral.Origin == design.Absent && len(r.Tree.PhaseOf(s)) != 2 {
			if first == nil {
				first = s
			}
			open.Add(s.Name)
		}
	}
	if first != nil && !r.Design.Broken && len(r.Design.Supplies) > 0 {
		f := r.At(first.At, first.Subject(), silent("source", open)+" not state needs_neutral, so it is not checked whether the runs have one", "take it from the data sheet, and add needs_neutral")
		f.Severity = finding.Note
		r.Find(f)
	}
	needs := map[int]*design.Source{} // run -> a source behind it that needs a neutral
	for n := range r.EachNode() {
		s := r.Tree.Nodes[n].Source
		if s == nil || !(s.NeedsNeutral.Known() && s.NeedsNeutral.Value) && len(r.Tree.PhaseOf(s)) != 2 {
			continue
		}
		for _, i := range r.Tree.Path(n) {
			if needs[i] == nil {
				needs[i] = s
			}
		}
	}
	for a := range r.EachRun() {
		s := needs[a.Index]
		if s == nil || a.Segment.State != network.Fed {
			continue
		}
		if has, known := a.HasNeutral(); known && !has {
			at := a.Run.At
			if a.Run.NeutralMM2.Known() {
				at = a.Run.NeutralMM2.At
			} else if a.Run.Cable.At.Known() {
				at = a.Run.Cable.At
			}
			f := r.At(at, a.Run.Subject(), fmt.Sprintf("run %q has no neutral, and source %q needs one", a.Run.Name, s.Name), "choose a cable with a neutral core, or state neutral_mm2")
			f.Related = []finding.Related{{At: s.At, Message: "the source"}}
			r.Find(f)
		}
	}
}

// RCDUnsuited reports a residual-current device that does not suit its source.
var RCDUnsuited = &engine.Rule{
	Name: "rcd-unsuited", Summary: "a residual-current device does not suit the source behind it", Severity: finding.Error,
	Clause: engine.Clause{Publication: "IEC 60364-7-712", Edition: "2017", Number: "clause 712.531.3 (number from memory); BS 7671 regulation 712.530.3; AS/NZS 4777.1:2016 clause 3.4.5"}, Wide: true, Since: "0.1.0", Check: rcdUnsuited,
	Doc: engine.Doc{
		Checks: "rcd and rcd_ma of the devices on a source's run against the maker's advice, rcd and rcd_ma of the source: the type at least that of the advice (ac, a, f, b in rising order), the rated residual current not below it, none where the maker advises none.",
		Why:    "Direct current from an inverter blinds a device of the wrong type, and leakage of a large inverter trips a sensitive one.",
		Blind:  "Whether a residual-current device is needed at all; backup outputs.", Sources: "The source's data sheet; common practice.", Bad: "type-too-plain", Good: "as-advised",
	},
}

var rcdTypes = []string{"none", "ac", "a", "f", "b"}

func rcdOrder(word string) int {
	for i, w := range rcdTypes {
		if w == word {
			return i
		}
	}
	return -1
}

func rcdUnsuited(r *engine.Review) {
	ownRuns(r, func(s *design.Source, a *assess.Run) {
		for k := range a.Run.Devices {
			d := &a.Run.Devices[k]
			if !d.RCD.Known() || d.RCD.Value == "none" || !d.Kind.Known() {
				continue
			}
			tell := func(message, next string, at design.Num) {
				place := d.RCD.At
				if at.Known() {
					place = at.At
				}
				f := r.At(place, a.Run.Subject(), message, next)
				f.Related = []finding.Related{{At: firstAt(s.RCD.At, s.At), Message: "the maker's advice"}}
				r.Find(f)
			}
			switch {
			case s.RCD.Known() && s.RCD.Value == "none":
				tell(fmt.Sprintf("%s has a residual-current device, and the maker of source %q advises none", deviceName(a, d), s.Name), "remove it, or find out why it is there", design.Num{})
			case s.RCD.Known() && rcdOrder(d.RCD.Value) < rcdOrder(s.RCD.Value):
				tell(fmt.Sprintf("%s has a residual-current device of type %s, and the maker of source %q asks for type %s", deviceName(a, d), strings.ToUpper(d.RCD.Value), s.Name, strings.ToUpper(s.RCD.Value)), "choose the type that the maker asks for", design.Num{})
			}
			if s.RCDmA.Known() && d.RCDmA.Known() && d.RCDmA.Value < s.RCDmA.Value {
				tell(fmt.Sprintf("%s trips at %s of residual current, and the maker of source %q asks for at least %s", deviceName(a, d), quantity.MilliAmp.Print(d.RCDmA.Value), s.Name, quantity.MilliAmp.Print(s.RCDmA.Value)), "choose a less sensitive one, or none", d.RCDmA)
			}
		}
	})
}

// HiddenUnguarded warns of a cable hidden close below a surface without guard or residual current device.
var HiddenUnguarded = &engine.Rule{
	Name: "hidden-unguarded", Summary: "a cable is hidden close below a surface, neither guarded nor behind a residual-current device of 30 mA", Severity: finding.Warning,
	Clause: engine.Clause{Publication: "BS 7671", Edition: "2018", Number: "regulations 522.6.202 and 522.6.203, less than 50 mm; AS/NZS 3000 clauses 2.6 and 3.9.4 (numbers from memory); IEC 60364-5-52 clause 522.6"}, Since: "0.1.0", Check: hiddenUnguarded,
	Doc: engine.Doc{
		Checks: "For each route with hidden = true, less than 50 mm below the surface of a wall or ceiling: guarded = true, by metal or otherwise against nails and drills, or on every run in it a device with rcd_ma of at most 30.",
		Why:    "Somebody hangs a picture there.",
		Blind:  "Routes that do not state hidden; zones that a local code calls safe, for which guarded may be stated. Whether the circuit of an inverter comes under the rule is disputed in Australia: a waiver with the authority's answer.", Sources: "Certifying bodies' notes on concealed wiring; the figure of 30 mA from memory.", Bad: "in-a-wall", Good: "in-steel",
	},
}

// guardMA is the residual current that takes the place of a guard, mA; from memory.
const guardMA = 30

func hiddenUnguarded(r *engine.Review) {
	for route := range r.EachRoute() {
		shared := r.Shared[route]
		if shared == nil || !route.Hidden.Value || !route.Hidden.Known() || route.Guarded.Value {
			continue
		}
		var bare []string
		for _, i := range shared.Runs {
			run := r.Runs[i].Run
			held := func(d design.Device) bool {
				return d.RCD.Known() && d.RCD.Value != "none" && d.RCDmA.Known() && quantity.AtMost(d.RCDmA.Value, guardMA)
			}
			if !slices.ContainsFunc(run.Devices, held) {
				bare = append(bare, run.Name)
			}
		}
		if len(bare) > 0 {
			r.Find(r.At(route.Hidden.At, route.Subject(), fmt.Sprintf("route %q is hidden close below a surface, is not guarded, and no residual-current device of %s stands on %s", route.Name, quantity.MilliAmp.Print(guardMA), plural(len(bare), "run ", "runs ")+finding.Few(bare)),
				"guard it with metal and state guarded = true, lay it deeper, or state the device"))
		}
	}
}
