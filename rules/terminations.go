package rules

import (
	"fmt"
	"slices"
	"strings"

	"trefoil/lint/assess"
	"trefoil/lint/design"
	"trefoil/lint/engine"
	"trefoil/lint/finding"
	"trefoil/ratings/quantity"
)

// ended calls do for each end of each run whose cable is known.
func ended(r *engine.Review, do func(*assess.Run, *assess.End)) {
	var list []assess.End
	for a := range r.EachRun() {
		if a.Cable == nil || !a.Cable.Conductor.Known() {
			continue
		}
		list = r.Ends(a, list[:0])
		for k := range list {
			do(a, &list[k])
		}
	}
}

// TerminalMetalUnsuited reports a conductor at a terminal or lug that is not made for its metal.
var TerminalMetalUnsuited = &engine.Rule{
	Name: "terminal-metal-unsuited", Summary: "a conductor's metal does not suit the terminal or lug it ends in", Severity: finding.Error,
	Clause: engine.Clause{Publication: "IEC 60364-5-52", Edition: "2009", Number: "clause 526.2; BS 7671 regulation 526.2; AS/NZS 3000 clause 3.7.2; NEC 110.14(A) and (B)"}, Since: "0.1.0", Check: terminalMetalUnsuited,
	Doc: engine.Doc{
		Checks: "materials of the terminals at both ends of a run against its conductor: aluminium at a terminal for copper alone needs a bimetal lug or a copper tail. And the lug against the conductor: a copper lug is not pressed on aluminium, nor an aluminium one on copper.",
		Why:    "Aluminium oxidises within minutes and creeps under pressure; in a terminal for copper it works loose, and heats.",
		Blind:  "The work itself: brushing, compound, torque. Terminals of the network at the point of supply.", Sources: "IEC 60364-5-52 clause 526.2; makers' instructions; common practice.", Bad: "aluminium-on-copper", Good: "bimetal-lug",
	},
}

func terminalMetalUnsuited(r *engine.Review) {
	ended(r, func(a *assess.Run, e *assess.End) {
		metal := a.Cable.Conductor.Value
		at := e.At
		if e.Ends != nil && e.Ends.Lug.Known() {
			at = e.Ends.Lug.At
		}
		tell := func(message, next string) {
			f := r.At(at, a.Run.Subject(), message, next)
			f.Related = []finding.Related{{At: firstAt(a.Cable.Conductor.At, a.Cable.At), Message: "the conductor"}}
			if e.Terminals != nil && e.Terminals.Materials.Known() {
				f.Related = append(f.Related, finding.Related{At: e.Terminals.Materials.At, Message: "what the terminals are for"})
			}
			r.Find(f)
		}
		if (e.Lug == "copper" || e.Lug == "aluminium") && e.Lug != metal && e.Tail == "" {
			tell(fmt.Sprintf("run %q ends at %s in a lug of %s on a conductor of %s", a.Run.Name, e.Subject, e.Lug, metal), "choose a lug of the conductor's metal, or a bimetal one")
			return
		}
		if e.Terminals == nil || !e.Terminals.Materials.Known() {
			return // told once by terminals-not-checked
		}
		meets := metal
		switch {
		case e.Tail != "":
			meets = e.Tail
		case e.Lug == "bimetal":
			meets = "copper"
		}
		if slices.Contains(e.Terminals.Materials.Values, meets) {
			return
		}
		next := "choose a bimetal lug or a copper tail, or a terminal for aluminium"
		if metal == "copper" {
			next = "choose a terminal for copper"
		}
		tell(fmt.Sprintf("run %q brings %s to %s, whose terminals are for %s alone", a.Run.Name, meets, e.Owner, strings.Join(e.Terminals.Materials.Values, " and ")), next)
	})
}

// TerminalSizeUnsuited reports conductors outside of what a terminal takes.
var TerminalSizeUnsuited = &engine.Rule{
	Name: "terminal-size-unsuited", Summary: "a conductor, lug or cable is outside of what a terminal or gland takes", Severity: finding.Error,
	Clause: engine.Clause{Publication: "IEC 60364-1", Edition: "2005", Number: "clause 134.1.1, the maker's instructions; BS 7671 regulation 134.1.1; AS/NZS 3000 clause 1.7.1; NEC 110.3(B)"}, Since: "0.1.0", Check: terminalSizeUnsuited,
	Doc: engine.Doc{
		Checks:  "At both ends: the size of the conductors there (the first or last section's) against min_mm2 and max_mm2, the legs against conductors_per_pole, the hole of the lug against stud_mm, for a multicore cable its diameter against the range of the gland; and space_mm, from the gland plate to the terminals, against the least bend of one core: bend_factor of a single-core cable, else 8 diameters as bend-too-tight has it.",
		Why:     "A cable enlarged for voltage rise is the one that does not fit the inverter, and that is found on the roof.",
		Accepts: "what is brought in percent of what is taken",
		Blind:   "A tail of another size; glands of single cores; the width of lugs.", Sources: "Data sheets; common practice.", Bad: "too-large", Good: "step-down",
	},
}

func terminalSizeUnsuited(r *engine.Review) {
	ended(r, func(a *assess.Run, e *assess.End) {
		t := e.Terminals
		if t == nil {
			return
		}
		tell := func(limit design.Num, got float64, key, message, next string) {
			f := r.At(e.At, a.Run.Subject(), message, next)
			f.Figures = []finding.Figure{{Key: key, Value: got}, {Key: "limit", Value: limit.Value}}
			if limit.Value > 0 {
				f.Percent, f.HasPercent = 100*got/limit.Value, true
			}
			f.Related = []finding.Related{{At: limit.At, Message: "what " + e.Owner + " takes"}}
			r.Find(f)
		}
		if s := e.Size; e.Tail == "" && !s.Zero() {
			switch {
			case t.MaxMM2.Known() && !quantity.AtMost(s.MM2, t.MaxMM2.Value):
				tell(t.MaxMM2, s.MM2, "size_mm2", fmt.Sprintf("run %q brings %s to %s, which takes at most %s", a.Run.Name, s, e.Owner, quantity.SquareMM.Print(t.MaxMM2.Value)), "end in a section of a smaller size (size_mm2 of the section), in a tail, or in parallel legs")
			case t.MinMM2.Known() && !quantity.AtMost(t.MinMM2.Value, s.MM2):
				tell(t.MinMM2, s.MM2, "size_mm2", fmt.Sprintf("run %q brings %s to %s, which takes at least %s", a.Run.Name, s, e.Owner, quantity.SquareMM.Print(t.MinMM2.Value)), "choose a larger conductor, or a pin lug that the maker allows")
			}
		}
		if n := t.ConductorsPerPole; n.Known() && float64(a.Legs) > n.Value {
			tell(n, float64(a.Legs), "legs", fmt.Sprintf("run %q brings %d conductors a pole to %s, which takes %s", a.Run.Name, a.Legs, e.Owner, quantity.Ratio.Print(n.Value)), "extend the bars, choose a larger frame, or fewer and larger conductors")
		}
		if e.Ends != nil && e.Ends.StudMM.Known() && t.StudMM.Known() && e.Ends.StudMM.Value != t.StudMM.Value {
			tell(t.StudMM, e.Ends.StudMM.Value, "lug_stud_mm", fmt.Sprintf("the lug of run %q has a hole for a stud of %s, and %s has one of %s", a.Run.Name, quantity.Milli.Print(e.Ends.StudMM.Value), e.Owner, quantity.Milli.Print(t.StudMM.Value)), "choose the lug for the stud")
		}
		if core := r.CoreMM(a, e.Size); core.Known && t.SpaceMM.Known() && e.Tail == "" {
			k := float64(bendSingle)
			if a.Cable.Build.Value == "single-core" && a.Cable.BendFactor.Known() {
				k = a.Cable.BendFactor.Value
			}
			if need := k * core.Value; !quantity.AtMost(need, t.SpaceMM.Value) {
				got, there := quantity.Milli.Apart(need, t.SpaceMM.Value)
				tell(t.SpaceMM, need, "bend_mm", fmt.Sprintf("the cores of run %q, %s thick, want %s to bend (%g diameters), and %s leaves them %s", a.Run.Name, quantity.Milli.Print(core.Value), got, k, e.Owner, there), "choose a deeper box, smaller cores in parallel, or a tail")
			}
		}
		if a.Cable.Build.Value != "multicore" {
			return
		}
		outer := r.OuterMM(a, e.Size)
		switch {
		case !outer.Known:
		case t.GlandMaxMM.Known() && !quantity.AtMost(outer.Value, t.GlandMaxMM.Value):
			tell(t.GlandMaxMM, outer.Value, "outer_mm", fmt.Sprintf("the cable of run %q is %s thick, and the gland of %s takes at most %s", a.Run.Name, quantity.Milli.Print(outer.Value), e.Owner, quantity.Milli.Print(t.GlandMaxMM.Value)), "choose another gland plate, or end in a smaller cable")
		case t.GlandMinMM.Known() && !quantity.AtMost(t.GlandMinMM.Value, outer.Value):
			tell(t.GlandMinMM, outer.Value, "outer_mm", fmt.Sprintf("the cable of run %q is %s thick, and the gland of %s takes at least %s", a.Run.Name, quantity.Milli.Print(outer.Value), e.Owner, quantity.Milli.Print(t.GlandMinMM.Value)), "choose a smaller gland")
		}
	})
}

// StrandsTooFine warns of a fine-stranded conductor at a terminal that is not for it.
var StrandsTooFine = &engine.Rule{
	Name: "strands-too-fine", Summary: "fine strands end bare in a terminal that is not made for them", Severity: finding.Warning,
	Clause: engine.Clause{Publication: "IEC 60364-5-52", Edition: "2009", Number: "clause 526.9, fine-wire conductors (number from memory); BS 7671 regulation 526.9; NEC 110.14"}, Since: "0.1.0", Check: strandsTooFine,
	Doc: engine.Doc{
		Checks: "strands of the cable against finest_strand of the terminals at both ends, unless a ferrule or lug is stated.",
		Why:    "Fine wires spread under a screw, break, and heat.",
		Blind:  "Whether lug and die are listed for the class of strands.", Sources: "Makers' instructions; common practice.", Bad: "bare-flexible", Good: "ferrule",
	},
}

var strandWords = []string{"solid", "stranded", "flexible"}

func strandsTooFine(r *engine.Review) {
	ended(r, func(a *assess.Run, e *assess.End) {
		if e.Terminals == nil || !e.Terminals.FinestStrand.Known() || !a.Cable.Strands.Known() || e.Tail != "" || e.Lug != "" && e.Lug != "none" {
			return
		}
		if slices.Index(strandWords, a.Cable.Strands.Value) <= slices.Index(strandWords, e.Terminals.FinestStrand.Value) {
			return
		}
		f := r.At(e.At, a.Run.Subject(), fmt.Sprintf("run %q brings %s conductors to %s, whose terminals take %s ones at the finest", a.Run.Name, a.Cable.Strands.Value, e.Owner, e.Terminals.FinestStrand.Value), `state the ferrule or lug: lug = "ferrule" in an ends block`)
		f.Related = []finding.Related{{At: e.Terminals.FinestStrand.At, Message: "what the terminals take"}}
		r.Find(f)
	})
}

// TerminalOverheated reports conductors that are hotter than the terminal they end in may be.
var TerminalOverheated = &engine.Rule{
	Name: "terminal-overheated", Summary: "conductors run hotter than the terminals they end in may become", Severity: finding.Error,
	Clause: engine.Clause{Publication: "BS 7671", Edition: "2018", Number: "regulation 512.1.5; IEC 60364-5-52 clause 523.1; AS/NZS 3000 clause 3.4.1 (numbers from memory)"}, Since: "0.1.0", Check: terminalOverheated,
	Doc: engine.Doc{
		Checks:  "The conductor temperature at design current, of the hottest section, against max_c of the terminals at both ends. Under nec:2023 the capacity itself is limited by the terminals instead.",
		Why:     "A conductor for 90 degC may carry what heats it to 90 degC, and most terminals are made for 75 or less.",
		Accepts: "the temperature in percent of the terminals', in degC",
		Blind:   "Terminals that do not state max_c; heat of the device itself.", Sources: "Conductor temperature as calc shows it: with the square of the load, or by IEC 60287-2-1 in the ground.", Bad: "hot-cable", Good: "cool-cable",
	},
}

func terminalOverheated(r *engine.Review) {
	if r.Info.Family == "nec" {
		return
	}
	ended(r, func(a *assess.Run, e *assess.End) {
		if e.Terminals == nil || !e.Terminals.MaxC.Known() || !a.ConductorC().Known || e.Tail != "" || quantity.AtMost(a.ConductorC().Value, e.Terminals.MaxC.Value) {
			return
		}
		if wholeOver(a) {
			return // run-overloaded tells it
		}
		got, most := quantity.Celsius.Apart(a.ConductorC().Value, e.Terminals.MaxC.Value)
		f := r.At(firstAt(a.Run.SizeAt, a.Run.At), a.Run.Subject(), fmt.Sprintf("the conductors of run %q reach %s at design current, and the terminals of %s may reach %s", a.Run.Name, got, e.Owner, most), "choose a larger conductor, or a larger one for the last metres")
		f.Figures = []finding.Figure{{Key: "conductor_c", Value: a.ConductorC().Value}, {Key: "limit_c", Value: e.Terminals.MaxC.Value}}
		f.Percent, f.HasPercent = 100*a.ConductorC().Value/e.Terminals.MaxC.Value, true
		f.Related = []finding.Related{{At: e.Terminals.MaxC.At, Message: "the terminals"}}
		r.Find(f)
	})
}

// SizeBelowLeast warns of conductors below the least size for fixed wiring.
var SizeBelowLeast = &engine.Rule{
	Name: "size-below-least", Summary: "conductors are smaller than the least for fixed wiring", Severity: finding.Warning,
	Clause: engine.Clause{Publication: "IEC 60364-5-52", Edition: "2009", Number: "Table 52.2; BS 7671 Table 52.3; AS/NZS 3000 Table 3.3 (from memory)"}, Since: "0.1.0", Check: sizeBelowLeast,
	Doc: engine.Doc{
		Checks:  "The smallest section of each run: copper at least 1.5 mm2; aluminium at least 10 mm2, under AS/NZS 16 mm2.",
		Why:     "Thin aluminium breaks at the terminal.",
		Accepts: "the least size in percent of the size drawn",
		Blind:   "Where a local code asks for more.", Sources: "From memory.", Bad: "thin-aluminium", Good: "copper",
	},
}

func sizeBelowLeast(r *engine.Review) {
	for a := range r.EachRun() {
		if a.Cable == nil || !a.Cable.Conductor.Known() || a.Run.Size.Zero() || r.Info.Family == "nec" {
			continue
		}
		least := 1.5
		if a.Cable.Conductor.Value == "aluminium" {
			least = 10
			if r.Info.Family == "as-nzs" {
				least = 16
			}
		}
		size := a.Least()
		if quantity.AtMost(least, size.MM2) {
			continue
		}
		f := r.At(a.Run.SizeAt, a.Run.Subject(), fmt.Sprintf("run %q has %s of %s, and fixed wiring asks for at least %s", a.Run.Name, size, a.Cable.Conductor.Value, quantity.SquareMM.Print(least)), "choose a larger conductor, or copper")
		f.Figures = []finding.Figure{{Key: "size_mm2", Value: size.MM2}, {Key: "least_mm2", Value: least}}
		f.Percent, f.HasPercent = 100*least/size.MM2, true
		f.Memory = []string{"least sizes of IEC 60364-5-52 Table 52.2 and AS/NZS 3000 Table 3.3"}
		r.Find(f)
	}
}

// EarthCoreMissing reports an earth conductor that is said to be a core of a cable without one.
var EarthCoreMissing = &engine.Rule{
	Name: "earth-core-missing", Summary: "the earth conductor is said to be a core, and the cable has none", Severity: finding.Error,
	Clause: engine.Clause{Publication: "IEC 60364-5-54", Edition: "2011", Number: "clause 543.2.1"}, Since: "0.1.0", Check: earthCoreMissing,
	Doc: engine.Doc{
		Checks: "That a cable whose run has earth_by = core has an earth core in its core count.",
		Why:    "A cable without the core that everything is reckoned with is found out when it is cut.",
		Blind:  "Runs that do not state earth_by: an earth_mm2 beside a cable without an earth core is then a conductor of its own.", Sources: "Common practice.", Bad: "four-cores", Good: "four-and-earth",
	},
}

func earthCoreMissing(r *engine.Review) {
	for a := range r.EachRun() {
		if a.Cable == nil || a.Run.EarthBy.Value != "core" || !a.Cable.Build.Known() {
			continue
		}
		if a.Cable.Build.Value == "multicore" && (!a.Cable.Cores.Known() || a.Cable.Layout.Earth > 0) {
			continue
		}
		f := r.At(a.Run.EarthBy.At, a.Run.Subject(), fmt.Sprintf("the earth conductor of run %q is to be a core, and cable %q has no earth core", a.Run.Name, a.Cable.Name), `choose a cable with an earth core, or earth_by = "separate"`)
		f.Related = []finding.Related{{At: firstAt(a.Cable.Cores.At, a.Cable.At), Message: "the cores"}}
		r.Find(f)
	}
}

// TerminalsNotChecked notes terminals whose facts are missing.
var TerminalsNotChecked = &engine.Rule{
	Name: "terminals-not-checked", Summary: "terminals are not checked for want of facts", Severity: finding.Note,
	Clause: engine.Clause{Own: "what nobody looked at must be known"}, Wide: true, Since: "0.1.0", Check: terminalsNotChecked,
	Doc: engine.Doc{
		Checks: "Where aluminium ends, that the terminals state their materials and the run how it ends (lug or tail); and that the terminals of sources state min_mm2 and max_mm2. Told once.",
		Why:    "A terminal that nobody asked about is not one that suits.",
		Blind:  "Temperature, strands, studs and glands: what is not stated of them is not looked at.", Sources: "Common practice.", Bad: "aluminium-unstated", Good: "stated",
	},
}

func terminalsNotChecked(r *engine.Review) {
	if r.Design.Broken {
		return
	}
	var metal, lugs, sizes silentEnds
	var first *assess.End
	mark := func(e *assess.End) {
		if first == nil {
			kept := *e
			first = &kept
		}
	}
	ended(r, func(a *assess.Run, e *assess.End) {
		t := e.Terminals
		if a.Cable.Conductor.Value == "aluminium" {
			if t == nil || t.Materials.Origin == design.Absent {
				mark(e)
				if strings.HasPrefix(e.Owner, "the ") {
					metal.of(a, e.Owner, func() string { return e.Owner + " of run " + a.Run.Name })
				} else {
					metal.at(r, e)
				}
			}
			if e.Lug == "" && e.Tail == "" && (e.Ends == nil || e.Ends.Lug.Origin == design.Absent) {
				mark(e)
				lugs.of(a, e.Subject, func() string { return a.Run.Name + " at " + e.Subject })
			}
		}
		if strings.HasPrefix(e.Subject, "source.") && (t == nil || t.MinMM2.Origin == design.Absent || t.MaxMM2.Origin == design.Absent) {
			mark(e)
			sizes.at(r, e)
		}
	})
	if first == nil {
		return
	}
	var parts, next []string
	if n := metal.Len(); n > 0 {
		parts, next = append(parts, "where aluminium ends, "+metal.String()+plural(n, " does", " do")+" not state materials"), append(next, "add terminals { materials = ... }")
	}
	if lugs.Len() > 0 {
		parts, next = append(parts, "how aluminium ends is not stated of "+lugs.String()), append(next, "add ends { at = ... lug = ... }")
	}
	if n := sizes.Len(); n > 0 {
		parts, next = append(parts, sizes.String()+plural(n, " does", " do")+" not state min_mm2 and max_mm2"), append(next, "take the range from the data sheet, and add it to terminals")
	}
	r.Find(r.At(first.OwnerAt, first.Subject, "terminals are not checked whole: "+strings.Join(parts, "; "), strings.Join(next, "; ")))
}

// silentEnds counts, each once, those of whose ends a fact is not stated.
type silentEnds struct {
	finding.Names
	nodes  []bool          // of the tree, those that are counted
	others map[string]bool // what is not in the tree

	run  *assess.Run // the last one, and what was told of it
	told string
}

// at counts the block at which a run ends.
func (s *silentEnds) at(r *engine.Review, e *assess.End) {
	if e.Node < 0 {
		if s.others[e.Subject] {
			return
		}
		if s.others == nil {
			s.others = map[string]bool{}
		}
		s.others[e.Subject] = true
	} else {
		if s.nodes == nil {
			s.nodes = make([]bool, len(r.Tree.Nodes))
		}
		if s.nodes[e.Node] {
			return
		}
		s.nodes[e.Node] = true
	}
	s.Add(e.Subject)
}

// of counts what belongs to one end of a run alone.
func (s *silentEnds) of(a *assess.Run, what string, name func() string) {
	if s.run == a && s.told == what {
		return
	}
	s.run, s.told = a, what
	if s.Full() {
		s.Add("")
		return
	}
	s.Add(name())
}
