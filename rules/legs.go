package rules

import (
	"fmt"
	"slices"

	"trefoil/lint/assess"
	"trefoil/lint/design"
	"trefoil/lint/engine"
	"trefoil/lint/finding"
	"trefoil/ratings"
	"trefoil/ratings/quantity"
)

// uneven gives the sharing of a run whose legs differ by more than the site tolerates.
func uneven(r *engine.Review, a *assess.Run) (s assess.Sharing, tolerance float64, ok bool) {
	site := r.Design.Site()
	if site == nil || !site.LegTolerancePercent.Known() {
		return s, 0, false
	}
	tolerance = site.LegTolerancePercent.Value
	s, ok = a.Sharing()
	return s, tolerance, ok && !quantity.AtMost(s.SpreadPercent, tolerance)
}

// wholeOver says that the run as a whole carries more than it may, which run-overloaded tells.
func wholeOver(a *assess.Run) bool {
	return a.LoadA.Known && a.CapacityA.Known && !quantity.AtMost(a.LoadA.Value, a.CapacityA.Value)
}

// LegsUnequal reports parallel legs whose lengths differ by more than the tolerance.
var LegsUnequal = &engine.Rule{
	Name: "legs-unequal", Summary: "parallel legs differ in length by more than the tolerance", Severity: finding.Warning,
	Clause: engine.Clause{Publication: "IEC 60364-4-43", Edition: "2008", Number: "clause 433.4.1, equal sharing asks for about the same length; IEC 60364-5-52 clause 523.7; AS/NZS 3000 clause 3.4.3; NEC 310.10(G)(2)"}, Since: "0.1.0", Check: legsUnequal,
	Doc: engine.Doc{
		Checks:  "leg_lengths_m of a run: the longest leg over the shortest, less one, against leg_tolerance_percent of the site, 3 % where it is not stated (common practice is 3 to 5 %). Legs are of one cable, one size and one way by the language; without leg_lengths_m they are of one length.",
		Why:     "Current goes the short way: a leg shorter by a tenth carries about a tenth more than its share.",
		Accepts: "the difference in percent of the shortest leg",
		Blind:   "Whether the legs are built as they are drawn; resistance of joints and lugs. Rise, drop and faults are worked out with all legs as long as the sections, which is the longest.",
		Sources: "Tolerance from common practice; sharing by impedance.", Bad: "one-short-leg", Good: "alike",
	},
}

func legsUnequal(r *engine.Review) {
	for a := range r.EachRun() {
		s, tolerance, ok := uneven(r, a)
		if !ok {
			continue
		}
		got, limit := quantity.Percent.Apart(s.SpreadPercent, tolerance)
		f := r.At(a.Run.LegLengthsM.At, a.Run.Subject(), fmt.Sprintf("the legs of run %q are %s to %s long, a difference of %s, above the tolerance of %s: the shortest carries %s of the current and not %s", a.Run.Name,
			quantity.Metre.Print(s.ShortestM), quantity.Metre.Print(s.LongestM), got, limit, quantity.Percent.Print(100*s.Share), quantity.Percent.Print(100/float64(a.Legs))),
			"cut all legs to one length, or give each its own overload protection")
		f.Figures = []finding.Figure{{Key: "spread_percent", Value: s.SpreadPercent}, {Key: "limit_percent", Value: tolerance}}
		f.Percent, f.HasPercent = s.SpreadPercent, true
		r.Find(f)
	}
}

// LegOverloaded reports a leg that carries more than one leg may.
var LegOverloaded = &engine.Rule{
	Name: "leg-overloaded", Summary: "the shortest of unequal legs carries more than one leg may", Severity: finding.Error,
	Clause: engine.Clause{Publication: "IEC 60364-4-43", Edition: "2008", Number: "clause 433.4.2, unequal sharing: each conductor by itself; BS 7671 regulation 433.4.2; AS/NZS 3000 clause 3.4.3"}, Since: "0.1.0", Check: legOverloaded,
	Doc: engine.Doc{
		Checks:  "For runs whose leg_lengths_m differ by more than leg_tolerance_percent, the share of the shortest leg by the impedances, which go with the lengths, times the current of the run, against the capacity of one leg.",
		Why:     "The run as a whole has room to spare, and one of its cables has not.",
		Accepts: "the current of the leg in percent of its capacity",
		Blind:   "Mutual reactance of single cores, which moves current between legs of equal length too; joints and lugs. A run told by run-overloaded is not told again here.",
		Sources: "Current division by impedance, worked by hand in the cases.", Bad: "short-leg", Good: "room-left",
	},
}

func legOverloaded(r *engine.Review) {
	for a := range r.EachRun() {
		s, _, ok := uneven(r, a)
		if !ok || wholeOver(a) || !s.WorstA.Known || !s.LegA.Known || quantity.AtMost(s.WorstA.Value, s.LegA.Value) {
			continue
		}
		got, most := quantity.Ampere.Apart(s.WorstA.Value, s.LegA.Value)
		f := r.At(a.Run.LegLengthsM.At, a.Run.Subject(), fmt.Sprintf("the shortest leg of run %q, %s, carries %s of its %s and is rated for %s%s", a.Run.Name,
			quantity.Metre.Print(s.ShortestM), got, quantity.Ampere.Print(a.LoadA.Value), most, where(a, &a.Sections[a.Governing])),
			"cut all legs to one length, or choose a larger conductor")
		f.Figures = []finding.Figure{{Key: "leg_current_a", Value: s.WorstA.Value}, {Key: "leg_capacity_a", Value: s.LegA.Value}}
		f.Percent, f.HasPercent = 100*s.WorstA.Value/s.LegA.Value, true
		f.Related = deviceRelated(a)
		r.Find(f)
	}
}

// LegUnprotected reports a device that lets one of unequal legs be overloaded.
var LegUnprotected = &engine.Rule{
	Name: "leg-unprotected", Summary: "a leg of a run is not protected against overload", Severity: finding.Error,
	Clause: engine.Clause{Publication: "IEC 60364-4-43", Edition: "2008", Number: "clause 433.4.2, overload protection of each conductor where sharing is unequal; BS 7671 regulation 433.4.2"}, Since: "0.1.0", Check: legUnprotected,
	Doc: engine.Doc{
		Checks:  "For runs whose leg_lengths_m differ by more than leg_tolerance_percent, the capacity that each device of the run asks for, times the share of the shortest leg, against the capacity of one leg. Where leg_device_a states a device in each leg, that device instead, of equal legs too: the capacity that it asks for against that of one leg, and its rating against the current of the shortest leg.",
		Why:     "The device sees the sum; the short leg is overloaded long before.",
		Accepts: "the capacity that the device needs of the leg in percent of what it has",
		Blind:   "Short-circuit protection of the legs, fed from both ends in a fault of one. A run told by device-above-capacity or leg-overloaded is not told again here.",
		Sources: "As leg-overloaded.", Bad: "one-device", Good: "set-lower",
	},
}

func legUnprotected(r *engine.Review) {
	if r.Set == nil {
		return
	}
	for a := range r.EachRun() {
		if a.Run.LegDeviceA.Origin != design.Absent {
			legDevice(r, a)
			continue
		}
		s, _, ok := uneven(r, a)
		if !ok || wholeOver(a) || !s.LegA.Known || s.WorstA.Known && !quantity.AtMost(s.WorstA.Value, s.LegA.Value) {
			continue
		}
		for k := range a.Run.Devices {
			d := &a.Run.Devices[k]
			p, ok := protection(d)
			if !ok {
				continue
			}
			needs, _, gap := r.Set.NeedsA(p)
			if gap != nil || !quantity.AtMost(needs, a.CapacityA.Value) || quantity.AtMost(needs*s.Share, s.LegA.Value) {
				continue
			}
			got, most := quantity.Ampere.Apart(needs*s.Share, s.LegA.Value)
			f := r.At(d.RatedA.At, a.Run.Subject(), fmt.Sprintf("%s, set at %s, asks for %s in the shortest leg, which takes %s of the current and is rated for %s", deviceName(a, d),
				quantity.Ampere.Print(d.RatedA.Value), got, quantity.Percent.Print(100*s.Share), most),
				"cut all legs to one length, set the device lower, or give each leg a device of its own")
			f.Figures = []finding.Figure{{Key: "device_a", Value: needs * s.Share}, {Key: "leg_capacity_a", Value: s.LegA.Value}}
			f.Percent, f.HasPercent = 100*needs*s.Share/s.LegA.Value, true
			f.Related = []finding.Related{{At: a.Run.LegLengthsM.At, Message: "the lengths of the legs"}}
			r.Find(f)
		}
	}
}

// legDevice looks at the device that each leg of a run has.
func legDevice(r *engine.Review, a *assess.Run) {
	rated := a.Run.LegDeviceA
	if !rated.Known() || !a.Run.LegDeviceKind.Known() || !a.CapacityA.Known || wholeOver(a) {
		return
	}
	share := 1 / float64(a.Legs)
	if s, _, ok := uneven(r, a); ok {
		share = s.Share
	}
	leg := a.CapacityA.Value / float64(a.Legs)
	tell := func(got, limit float64, message, next string) {
		f := r.At(rated.At, a.Run.Subject(), message, next)
		f.Figures = []finding.Figure{{Key: "device_a", Value: rated.Value}, {Key: "leg_capacity_a", Value: leg}}
		f.Percent, f.HasPercent = 100*got/limit, true
		r.Find(f)
	}
	needs, _, gap := r.Set.NeedsA(ratings.Protection{Kind: a.Run.LegDeviceKind.Value, FuseType: "gg", RatedA: rated.Value})
	switch {
	case gap != nil:
		f := r.At(rated.At, a.Run.Subject(), fmt.Sprintf("the device in each leg of run %q cannot be assessed: %s", a.Run.Name, gap.Reason), gap.Next)
		f.Severity = finding.Note
		r.Find(f)
	case !quantity.AtMost(needs, leg):
		got, most := quantity.Ampere.Apart(needs, leg)
		tell(needs, leg, fmt.Sprintf("the %s of %s in each leg of run %q asks for a capacity of %s, and a leg is rated for %s", a.Run.LegDeviceKind.Value, quantity.Ampere.Print(rated.Value), a.Run.Name, got, most), "choose a smaller device, or a larger conductor")
	case a.LoadA.Known && !quantity.AtMost(a.LoadA.Value*share, rated.Value):
		got, most := quantity.Ampere.Apart(a.LoadA.Value*share, rated.Value)
		tell(a.LoadA.Value*share, rated.Value, fmt.Sprintf("the shortest leg of run %q carries %s, and the %s in it is rated at %s", a.Run.Name, got, a.Run.LegDeviceKind.Value, most), "cut all legs to one length, or choose a larger device and look at the capacity of a leg")
	}
}

// LegTooSmall reports conductors in parallel below the least size for that.
var LegTooSmall = &engine.Rule{
	Name: "leg-too-small", Summary: "conductors in parallel are below the least size for that", Severity: finding.Error,
	Clause: engine.Clause{Publication: "NEC", Edition: "2023", Number: "310.10(G)(1), 1/0 AWG; AS/NZS 3000 clause 3.4.3, 4 mm2 (from memory)"}, Since: "0.1.0", Check: legTooSmall,
	Doc: engine.Doc{
		Checks: "The size of runs of two legs or more against leg_min_mm2 of the site; without it 1/0 AWG (53.5 mm2) under NEC and 4 mm2 under AS/NZS, both from memory. IEC 60364 and BS 7671 give none.",
		Why:    "Small conductors in parallel leave one to carry all when the other works loose.",
		Blind:  "The exceptions of the code, for instance of control conductors.", Sources: "NEC 310.10(G) and AS/NZS 3000 clause 3.4.3, from memory.", Bad: "four-awg", Good: "one-aught",
	},
}

func legTooSmall(r *engine.Review) {
	least, ref, memory, ok := r.LegLeast()
	if !ok {
		return
	}
	origin := ref
	if memory {
		origin += ", from memory"
	}
	for a := range r.EachRun() {
		if a.Legs < 2 || a.Run.Size.Zero() || quantity.AtMost(least, a.Least().MM2) {
			continue
		}
		f := r.At(firstAt(a.Run.SizeAt, a.Run.At), a.Run.Subject(), fmt.Sprintf("run %q has %d legs of %s, and the least size in parallel is %s (%s)", a.Run.Name, a.Legs, a.Least(), quantity.SquareMM.Print(least), origin), "choose one larger conductor")
		f.Figures = []finding.Figure{{Key: "size_mm2", Value: a.Least().MM2}, {Key: "limit_mm2", Value: least}}
		f.Related = []finding.Related{{At: firstAt(a.Run.Parallel.At, a.Run.At), Message: "the legs"}}
		if memory {
			f.Memory = []string{ref}
		}
		r.Find(f)
	}
}

// LegsUngrouped reports parallel single cores that do not lie in groups of all phases.
var LegsUngrouped = &engine.Rule{
	Name: "legs-ungrouped", Summary: "parallel single cores do not lie in groups of all phases", Severity: finding.Warning,
	Clause: engine.Clause{Publication: "IEC 60364-5-52", Edition: "2009", Number: "clause 521.8 and Annex H, arrangements in parallel; BS 7671 Appendix 10; NEC 300.3(B)(1)"}, Since: "0.1.0", Check: legsUngrouped,
	Doc: engine.Doc{
		Checks: "Runs of several legs of single cores: that legs_grouped is not false, which says that the cores of one phase lie together. A formation stated as trefoil says that each leg is a group of all phases; where neither is stated, and some of the run lies open, a note tells it once.",
		Why:    "Cores of one phase side by side share their current badly, up to twice between inner and outer ones, and raise the reactance of the run.",
		Blind:  "Cores drawn at random into one conduit; the order of phases within flat groups, and how badly the current is then shared.", Sources: "IEC 60364-5-52 Annex H, from memory.", Bad: "by-phase", Good: "in-groups",
	},
}

// openLaid says that some of a run lies where its cores can be laid in order: not in a
// conduit or trunking, nor in a duct for each leg.
func openLaid(a *assess.Run) bool {
	return slices.ContainsFunc(a.Sections, func(s assess.Section) bool { return s.Route != nil && !assess.Encloses(s.Route) })
}

func legsUngrouped(r *engine.Review) {
	var open finding.Names
	var first *assess.Run
	for a := range r.EachRun() {
		if a.Legs < 2 || !singleCore(a) {
			continue
		}
		switch grouped := a.Run.LegsGrouped; {
		case grouped.Known() && !grouped.Value:
			f := r.At(grouped.At, a.Run.Subject(), fmt.Sprintf("the cores of the %d legs of run %q lie by phase, and not one of every phase in each leg", a.Legs, a.Run.Name), "lay each leg as a group of all phases, in trefoil or with the phases in mirrored order")
			f.Related = []finding.Related{{At: firstAt(a.Run.Parallel.At, a.Run.At), Message: "the legs"}}
			r.Find(f)
		case grouped.Origin == design.Absent && openLaid(a) && (a.Cable.Formation.Origin != design.Stated || a.Cable.Formation.Value != "trefoil"):
			open.Add(a.Run.Name)
			if first == nil {
				first = a
			}
		}
	}
	if first == nil || r.Design.Broken {
		return
	}
	f := r.At(first.Run.At, first.Run.Subject(), fmt.Sprintf("whether each leg of %s holds one core of every phase is not stated", plural(open.Len(), "run ", "runs ")+open.String()), "add legs_grouped, or state the formation of the cable")
	f.Severity = finding.Note
	r.Find(f)
}
