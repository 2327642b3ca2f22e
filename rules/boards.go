package rules

import (
	"fmt"
	"strings"

	"trefoil/lint/assess"
	"trefoil/lint/design"
	"trefoil/lint/engine"
	"trefoil/lint/finding"
	"trefoil/ratings/quantity"
)

// BusbarOverloaded reports a bar rated for less than what can feed it together.
var BusbarOverloaded = &engine.Rule{
	Name: "busbar-overloaded", Summary: "a busbar is rated for less than what can feed it together", Severity: finding.Error,
	Clause: engine.Clause{Publication: "AS/NZS 3000", Edition: "2018", Number: "clause 2.9; BS 7671 regulations 536.4.202 and 551.7.2; NEC 705.12(B) and 705.28(B); IEC 61439-1 clause 5.3 (numbers from memory)"}, Wide: true, Since: "0.1.0", Check: busbarOverloaded,
	Doc: engine.Doc{
		Checks: "Each board that sources feed, or each portion of its bar where the design states portions, against its rated_a. " +
			"A bar with sources alone carries the sum of their design currents on the worst phase, without diversity, or what charging takes through it. " +
			"A bar that may hold loads carries the least device of the run towards the supply plus the least device of each run with sources behind it; under an NEC set 125 % of the sources' currents plus the supply device, against 120 % of the rating where sources_at is \"opposite-end\". " +
			"A bar holds loads where holds = \"loads\" says so, or a load or a demand stands at the board. Where loads stand only behind ways of it, it carries no more than the devices of those ways let through, or than the sources give. " +
			"Any other bar has sources alone; but for the first board behind the supply board-not-checked tells where loads would make it too much, until holds says what it is.",
		Why:     "Two supplies meet on the bar, and each is held by its own device alone: 63 A of the supply and 32 A of an inverter put 95 A on a bar for 80 A, and nothing trips.",
		Accepts: "what the bar may carry in percent of its rating",
		Blind:   "Where on the bar a device stands, unless portions say it; what a control of loads allows; heat in the enclosure; bars that no source feeds.",
		Sources: "Energy Safe Victoria, Supplementary supplies and switchboards (the device of the supply plus those of the sources, for every portion); NEC 705.12(B) as discussed in the trade; common practice.", Bad: "meets-the-supply", Good: "sources-alone",
	},
}

func busbarOverloaded(r *engine.Review) {
	for i := range r.Bars {
		b := &r.Bars[i]
		if !b.RatedA.Known() {
			continue
		}
		carries, holds := borne(b)
		if !over(b) {
			continue
		}
		got, most := quantity.Ampere.Apart(carries.Value, holds)
		f := r.At(b.RatedA.At, b.Board.Subject(), "", "choose a larger bar, or put the sources on a board of their own that is connected in front of it")
		allowed := "is rated for " + most
		if b.Loads && holds != b.RatedA.Value {
			allowed = fmt.Sprintf("is rated for %s, of which 120 %% is %s with sources at the opposite end,", quantity.Ampere.Print(b.RatedA.Value), most)
		}
		if b.Loads {
			f.Message = fmt.Sprintf("%s %s and may have to carry %s: %s; %s", barName(b), allowed, got, summands(b), b.Why)
			if b.Supply != nil {
				f.Related = append(f.Related, finding.Related{At: b.Supply.Device.At, Message: fmt.Sprintf("%s towards the supply, of run %q", quantity.Ampere.Print(b.Supply.Device.RatedA.Value), b.Supply.Run.Run.Name)})
			}
			for k := range b.Ways {
				if d := b.Ways[k].Device; d != nil && k < 8 {
					f.Related = append(f.Related, finding.Related{At: d.At, Message: fmt.Sprintf("%s of run %q", quantity.Ampere.Print(d.RatedA.Value), b.Ways[k].Run.Run.Name)})
				}
			}
		} else {
			f.Message = fmt.Sprintf("%s %s and carries %s: %s", barName(b), allowed, got, summands(b))
			f.Next = "choose a larger bar, or share the sources out over two boards"
			for k := range b.Ways {
				if k < 8 {
					f.Related = append(f.Related, finding.Related{At: b.Ways[k].Run.Run.At, Message: fmt.Sprintf("run %q brings %s", b.Ways[k].Run.Run.Name, quantity.Ampere.Maybe(b.Ways[k].Run.Segment.DesignCurrentA()))})
				}
			}
		}
		f.Figures = []finding.Figure{{Key: "bar_a", Value: carries.Value}, {Key: "limit_a", Value: holds}}
		f.Percent, f.HasPercent = 100*carries.Value/b.RatedA.Value, true
		f.Memory = memory(b.Ref)
		r.Find(f)
	}
}

// borne is what a bar has to carry, and what it may.
func borne(b *assess.Bar) (quantity.Maybe, float64) {
	if b.Loads {
		return b.MostA, b.HoldsA.Value
	}
	return b.SumA, b.RatedA.Value
}

// over says that a bar is told as overloaded.
func over(b *assess.Bar) bool {
	carries, holds := borne(b)
	return b.RatedA.Known() && carries.Known && !quantity.AtMost(carries.Value, holds)
}

func barName(b *assess.Bar) string {
	if b.Portion != nil {
		return fmt.Sprintf("portion %q of board %q", b.Portion.Name, b.Board.Name)
	}
	return fmt.Sprintf("the bar of board %q", b.Board.Name)
}

// summands says in words what a bar's current is made of.
func summands(b *assess.Bar) string {
	var names finding.Names
	devices := 0.0
	for k := range b.Ways {
		names.Add(b.Ways[k].Run.Run.Name)
		if d := b.Ways[k].Device; d != nil {
			devices += d.RatedA.Value
		}
	}
	runs := plural(names.Len(), "run ", "runs ") + names.String()
	switch {
	case b.Loads && b.Bounded:
		return "the devices towards the loads let that much through"
	case b.Loads:
	case b.Charged:
		return "what charging takes through it"
	case b.Times != 1:
		return fmt.Sprintf("%s times all sources behind it at once, by %s", quantity.Ratio.Print(b.Times), runs)
	default:
		return "all sources behind it at once, by " + runs
	}
	var parts []string
	if b.Supply != nil {
		parts = append(parts, fmt.Sprintf("%s through run %q from the supply", quantity.Ampere.Print(b.Supply.Device.RatedA.Value), b.Supply.Run.Run.Name))
	}
	switch {
	case names.Len() == 0:
	case b.Times != 1:
		parts = append(parts, fmt.Sprintf("%s from sources, %s times their current, by %s", quantity.Ampere.Print(b.FromA), quantity.Ratio.Print(b.Times), runs))
	default:
		parts = append(parts, fmt.Sprintf("%s through the %s of %s", quantity.Ampere.Print(devices), plural(names.Len(), "device", "devices"), runs))
	}
	return strings.Join(parts, " and ")
}

// BoardDiversityLow reports a board whose diversity leaves a way less than its source gives.
var BoardDiversityLow = &engine.Rule{
	Name: "board-diversity-low", Summary: "the rated diversity of a board leaves a way less than its sources give", Severity: finding.Error,
	Clause: engine.Clause{Publication: "IEC 61439-1", Edition: "2020", Number: "clauses 5.4 and 10.10, rated diversity factor; IEC 61439-2 Table 101 (numbers from memory)"}, Wide: true, Since: "0.1.0", Check: boardDiversityLow,
	Doc: engine.Doc{
		Checks:  "For each board that states diversity below 1: the rating of the device of each way with sources behind it, times diversity, against the design current of that way. One finding a board, at the way that lacks most.",
		Why:     "Diversity is what all ways carry together, for hours, as part of their rating. Loads take turns; on a clear day sources do not. Ten ways of a distribution board made for 0.6 may run 60 % each.",
		Accepts: "the current of that way in percent of what diversity leaves it",
		Blind:   "Ways that the maker rates above their device; the heat of a hot room, which device-derated looks at.", Sources: "Common practice; the maker's declaration.", Bad: "ten-ways", Good: "declared-one",
	},
}

func boardDiversityLow(r *engine.Review) {
	for n := range r.EachNode() {
		b := r.Tree.Nodes[n].Board
		if b == nil || !b.Diversity.Known() || b.Diversity.Value >= 1 {
			continue
		}
		var worst *assess.Run
		var at *design.Device
		var more []string
		share := 0.0
		for way := range r.Ways(n) {
			d := r.AtBoard(way, n)
			if d == nil || way.Segment.Sources == 0 || !way.Segment.DesignCurrentA().Known {
				continue
			}
			left := d.RatedA.Value * b.Diversity.Value
			if quantity.AtMost(way.Segment.DesignCurrentA().Value, left) {
				continue
			}
			more = append(more, way.Run.Name)
			if s := way.Segment.DesignCurrentA().Value / left; s > share {
				worst, at, share = way, d, s
			}
		}
		if worst == nil {
			continue
		}
		left := at.RatedA.Value * b.Diversity.Value
		got, most := quantity.Ampere.Apart(worst.Segment.DesignCurrentA().Value, left)
		f := r.At(b.Diversity.At, b.Subject(), fmt.Sprintf("the diversity of board %q, %s, leaves %s of the %s way of run %q, which carries %s for hours", b.Name, quantity.Ratio.Print(b.Diversity.Value), most, quantity.Ampere.Print(at.RatedA.Value), worst.Run.Name, got),
			"order the board for a diversity of 1, or choose larger ways")
		if len(more) > 1 {
			f.Message += fmt.Sprintf("; %d ways have too little: %s", len(more), finding.Few(more))
		}
		f.Related = []finding.Related{{At: at.At, Message: fmt.Sprintf("the device of run %q", worst.Run.Name)}}
		f.Figures = []finding.Figure{{Key: "design_current_a", Value: worst.Segment.DesignCurrentA().Value}, {Key: "limit_a", Value: left}}
		f.Percent, f.HasPercent = 100*share, true
		r.Find(f)
	}
}

// BoardWithstandExceeded reports a board where more fault current may flow than it withstands.
var BoardWithstandExceeded = &engine.Rule{
	Name: "board-withstand-exceeded", Summary: "more fault current may flow at a board than it withstands", Severity: finding.Error,
	Clause: engine.Clause{Publication: "IEC 61439-1", Edition: "2020", Number: "clause 9.3, short-circuit withstand; AS/NZS 3000 clause 2.5.5; NEC 110.10 (numbers from memory)"}, Since: "0.1.0", Check: boardWithstandExceeded,
	Doc: engine.Doc{
		Checks:  "The greatest prospective fault current at each board, with what all sources feed, against rated_short_time_ka, or rated_conditional_ka where that is more and a device stands in front of the board.",
		Why:     "Bars that are not braced for the current bend into each other, and the board burns from a fault that a device behind it would have cleared.",
		Accepts: "the fault current in percent of what the board withstands",
		Blind:   "How long the fault lasts against the time of the rating; whether the device in front is the one that the maker names for rated_conditional_ka; the peak.", Sources: "Common practice; the fault level is that of breaking-too-low.", Bad: "ten-ka-board", Good: "braced",
	},
}

func boardWithstandExceeded(r *engine.Review) {
	for n := range r.EachNode() {
		b := r.Tree.Nodes[n].Board
		if b == nil || !r.Level(n).MaxA.Known {
			continue
		}
		holds := b.RatedShortTimeKA
		if b.RatedConditionalKA.Known() && r.Protected(n) && (!holds.Known() || b.RatedConditionalKA.Value > holds.Value) {
			holds = b.RatedConditionalKA
		}
		ka := r.Level(n).MaxA.Value / 1000
		if !holds.Known() || quantity.AtMost(ka, holds.Value) {
			continue
		}
		got, most := quantity.KiloAmp.Apart(ka, holds.Value)
		f := r.At(holds.At, b.Subject(), fmt.Sprintf("board %q withstands %s, and up to %s may flow there%s", b.Name, most, got, sourcesPart(r.Level(n).FeedA)), "order it for the fault level, or put a device that limits the current in front and state rated_conditional_ka by the maker")
		f.Figures = []finding.Figure{{Key: "fault_max_ka", Value: ka}, {Key: "limit_ka", Value: holds.Value}}
		f.Percent, f.HasPercent = 100*ka/holds.Value, true
		f.Related = supplyFault(r)
		r.Find(f)
	}
}

func sourcesPart(feedA float64) string {
	if feedA <= 0 {
		return ""
	}
	return fmt.Sprintf(", %s of it from the sources", quantity.KiloAmp.Print(feedA/1000))
}

// CoreInSteel reports single cores that enter a board through steel one by one.
var CoreInSteel = &engine.Rule{
	Name: "core-in-steel", Summary: "single cores enter a board through steel, one core a hole", Severity: finding.Error,
	Clause: engine.Clause{Publication: "IEC 60364-5-52", Edition: "2009", Number: "clause 521.5.1; BS 7671 regulation 521.5.1; AS/NZS 3000 clause 3.9.10; NEC 300.20"}, Since: "0.1.0", Check: coreInSteel,
	Doc: engine.Doc{
		Checks: "For each board with gland_plate = \"steel\" and entry = \"hole-per-core\": that no run of single-core cable ends at it. A plate that is not magnetic, one hole for all cores and slots between the holes pass.",
		Why:    "Iron round one core is a transformer with a shorted turn: the plate and the gland run hot at a few hundred ampere, and take the insulation with them.",
		Blind:  "Locknuts, saddles and cleats of steel; steel pipes; which stainless steel is magnetic; a slotted plate that is no longer strong enough.", Sources: "IEC 60364-5-52 clause 521.5.1; makers' laying instructions; common practice.", Bad: "hole-per-core", Good: "brass-plate",
	},
}

func coreInSteel(r *engine.Review) {
	for n := range r.EachNode() {
		b := r.Tree.Nodes[n].Board
		if b == nil || b.GlandPlate.Value != "steel" || b.Entry.Value != "hole-per-core" {
			continue
		}
		list := singles(r, n)
		if list.Len() == 0 {
			continue
		}
		f := r.At(b.Entry.At, b.Subject(), fmt.Sprintf("the single cores of %s enter board %q through a steel plate, one core a hole", plural(list.Len(), "run ", "runs ")+list.String(), b.Name), "fit a plate of aluminium, brass or plastic, or bring all cores of a circuit through one hole")
		f.Related = []finding.Related{{At: b.GlandPlate.At, Message: "the plate"}}
		r.Find(f)
	}
}

// singles lists the runs of single-core cable that end at a node.
func singles(r *engine.Review, n int) (list finding.Names) {
	add := func(a *assess.Run) {
		if singleCore(a) {
			list.Add(a.Run.Name)
		}
	}
	if up := r.Tree.Nodes[n].Up; up >= 0 {
		add(&r.Runs[up])
	}
	for way := range r.Ways(n) {
		add(way)
	}
	return list
}

// SwitchBelowCurrent reports an isolator or main switch rated below what flows through it.
var SwitchBelowCurrent = &engine.Rule{
	Name: "switch-below-current", Summary: "an isolator or main switch is rated below what flows through it", Severity: finding.Error,
	Clause: engine.Clause{Publication: "IEC 60364-5-53", Edition: "2019", Number: "clauses 537.2 and 537.3; AS/NZS 3000 clause 2.3; AS/NZS 4777.1 clause 3.4.3; NEC 690.15 and 705.20 (numbers from memory)"}, Since: "0.1.0", Check: switchBelowCurrent,
	Doc: engine.Doc{
		Checks:  "rated_a of each isolator block of a source against the design current of its run, and of each main_switch block of a board against what flows between the board and the supply, charging and stated demands included.",
		Why:     "A switch in full sun that carries more than its rating for hours fails at its contacts, and it is the one that has to open.",
		Accepts: "the current in percent of the rating",
		Blind:   "What sun and enclosure leave of the rating: state it as the maker gives it for the place; utilisation category; whether it can be locked and is in sight.", Sources: "Common practice.", Bad: "small-isolator", Good: "isolator-fits",
	},
}

func switchBelowCurrent(r *engine.Review) {
	look := func(o *design.Object, what string, s *design.Switch, a *assess.Run) {
		if s == nil || !s.RatedA.Known() || !s.Kind.Known() || s.Kind.Value == "none" || !a.Segment.DesignCurrentA().Known {
			return
		}
		current := max(a.Segment.DesignCurrentA().Value, a.Segment.DemandA().Or(0))
		if quantity.AtMost(current, s.RatedA.Value) {
			return
		}
		got, most := quantity.Ampere.Apart(current, s.RatedA.Value)
		f := r.At(s.RatedA.At, o.Subject(), fmt.Sprintf("the %s of %s %q is rated for %s, and %s flow through it", what, o.Kind, o.Name, most, got), "choose a larger one")
		f.Figures = []finding.Figure{{Key: "design_current_a", Value: current}, {Key: "limit_a", Value: s.RatedA.Value}}
		f.Percent, f.HasPercent = 100*current/s.RatedA.Value, true
		r.Find(f)
	}
	ownRuns(r, func(s *design.Source, a *assess.Run) { look(&s.Object, "isolator", s.Isolator, a) })
	for n := range r.EachNode() {
		if node := &r.Tree.Nodes[n]; node.Board != nil && node.Up >= 0 {
			look(&node.Board.Object, "main switch", node.Board.MainSwitch, &r.Runs[node.Up])
		}
	}
}

// BoardNotChecked notes what boards lack to be checked.
var BoardNotChecked = &engine.Rule{
	Name: "board-not-checked", Summary: "a board or an isolator is not checked whole for want of a fact", Severity: finding.Note,
	Clause: engine.Clause{Own: "what nobody looked at must be known"}, Wide: true, Since: "0.1.0", Check: boardNotChecked,
	Doc: engine.Doc{
		Checks: "That each board that sources feed states rated_a, that what can feed it is known, and that it says whether it holds loads where that decides; that a board with two or more ways from sources states diversity; that each board states rated_short_time_ka; that a board which single cores enter states gland_plate or entry, as far as they decide; that isolators and main switches have a rating. " +
			"Sources without an isolator block, and boards of sources without a main_switch block, are named as soon as one is stated in the design, and from stage construction on. Told once.",
		Why:   "A board is ordered by these figures, and it cannot be changed when it stands.",
		Blind: "Labels; the space for bends and lugs.", Sources: "Common practice.", Bad: "unstated", Good: "stated",
	},
}

func boardNotChecked(r *engine.Review) {
	if len(r.Design.Supplies) == 0 || r.Design.Broken {
		return
	}
	var parts, next []string
	tell := func(names finding.Names, one, many, cure string) {
		n := names.Len()
		if n == 0 {
			return
		}
		parts = append(parts, plural(n, "board ", "boards ")+names.String()+" "+plural(n, one, many))
		next = append(next, cure)
	}
	var rated, diversity, short, level, plate finding.Names
	for i := range r.Bars {
		b := &r.Bars[i]
		switch {
		case b.RatedA.Origin == design.Absent:
			rated.Add(b.Board.Name)
		case !b.RatedA.Known():
		case b.Gap != nil && !over(b):
			if b.Gap.Reason == "" {
				continue
			}
			parts = append(parts, fmt.Sprintf("what may feed %s is not known: %s", barName(b), b.Gap.Reason))
			if b.Open {
				parts[len(parts)-1] += ", and whether it holds loads is not stated"
			}
			next = append(next, b.Gap.Next)
		case b.Open && b.MeetA.Known && !quantity.AtMost(b.MeetA.Value, b.HoldsA.Value) && !over(b):
			got, most := quantity.Ampere.Apart(b.MeetA.Value, b.HoldsA.Value)
			parts = append(parts, fmt.Sprintf("whether %s holds loads of its own is not stated; with them it may have to carry %s, above %s", barName(b), got, most))
			next = append(next, `state holds = "sources" or "loads"`)
		}
	}
	for n := range r.EachNode() {
		node := &r.Tree.Nodes[n]
		b := node.Board
		if b == nil || !node.Reached {
			continue
		}
		ways := 0
		for way := range r.Ways(n) {
			if way.Segment.Sources > 0 {
				ways++
				if b.Diversity.Known() && b.Diversity.Value < 1 && r.AtBoard(way, n) == nil {
					parts = append(parts, fmt.Sprintf("run %q states no device at board %q, whose diversity is below 1", way.Run.Name, b.Name))
					next = append(next, "add the device")
				}
			}
		}
		if ways > 1 && b.Diversity.Origin == design.Absent {
			diversity.Add(b.Name)
		}
		if b.RatedShortTimeKA.Origin == design.Absent && b.RatedConditionalKA.Origin == design.Absent {
			short.Add(b.Name)
		} else if !r.Level(n).MaxA.Known {
			level.Add(b.Name)
		} else if b.RatedShortTimeKA.Origin == design.Absent && !r.Protected(n) {
			parts = append(parts, fmt.Sprintf("board %q states rated_conditional_ka, and no device stands in front of it", b.Name))
			next = append(next, "add the device that the maker names")
		}
		decided := b.GlandPlate.Known() && b.GlandPlate.Value != "steel" || b.Entry.Known() && b.Entry.Value != "hole-per-core" || b.GlandPlate.Known() && b.Entry.Known()
		if !decided && b.GlandPlate.Origin != design.Faulty && b.Entry.Origin != design.Faulty && singles(r, n).Len() > 0 {
			plate.Add(b.Name)
		}
		for _, way := range r.Unportioned(n) {
			parts = append(parts, fmt.Sprintf("no portion of board %q names run %q", b.Name, way.Run.Name))
			next = append(next, "add it to a portion")
		}
	}
	tell(rated, "does not state rated_a", "do not state rated_a", "add rated_a of the bar")
	tell(diversity, "does not state diversity, and its ways run at full output together", "do not state diversity, and their ways run at full output together", "ask the maker for the rated diversity, and order 1")
	tell(short, "does not state rated_short_time_ka", "do not state rated_short_time_ka", "add rated_short_time_ka")
	tell(level, "cannot be held against a fault current, which is not known", "cannot be held against a fault current, which is not known", "mend what is told of the path")
	tell(plate, "takes single cores and does not state gland_plate and entry", "take single cores and do not state gland_plate and entry", "add gland_plate and entry")
	parts, next = switches(r, parts, next)
	if len(parts) == 0 {
		return
	}
	if len(parts) > 6 {
		parts = append(parts[:6:6], fmt.Sprintf("%d more reasons", len(parts)-6))
	}
	supply := r.Design.Supplies[0]
	r.Find(r.At(supply.At, supply.Subject(), "boards are not checked whole: "+strings.Join(parts, "; "), once(next, 4)))
}

// once joins the first few of some texts, each once.
func once(list []string, most int) string {
	var kept []string
	seen := map[string]bool{}
	for _, s := range list {
		if s != "" && !seen[s] && len(kept) < most {
			seen[s] = true
			kept = append(kept, s)
		}
	}
	return strings.Join(kept, "; ")
}

// switches adds what isolators and main switches do not say.
func switches(r *engine.Review, parts, next []string) ([]string, []string) {
	var lack, bare, without finding.Names
	any := strict(r)
	look := func(o *design.Object, s *design.Switch, list *finding.Names) {
		switch {
		case s == nil:
			list.Add(o.Name)
		case s.RatedA.Origin == design.Absent && (s.Kind.Value == "switch-disconnector" || s.Kind.Value == "breaker"):
			bare.Add(o.Name)
			any = true
		default:
			any = true
		}
	}
	ownRuns(r, func(s *design.Source, _ *assess.Run) { look(&s.Object, s.Isolator, &lack) })
	for n := range r.EachNode() {
		if node := &r.Tree.Nodes[n]; node.Board != nil && node.Up >= 0 && r.Runs[node.Up].Segment.Sources > 0 {
			look(&node.Board.Object, node.Board.MainSwitch, &without)
		}
	}
	if !any {
		return parts, next
	}
	for _, x := range []struct {
		names         finding.Names
		one, many, do string
	}{
		{lack, "source %s states no isolator", "sources %s state no isolator", "add an isolator block, kind none with a reason where there is none"},
		{without, "board %s states no main_switch", "boards %s state no main_switch", "add a main_switch block, kind none with a reason where there is none"},
		{bare, "the switch of %s states no rated_a", "the switches of %s state no rated_a", "add rated_a"},
	} {
		if n := x.names.Len(); n > 0 {
			parts = append(parts, fmt.Sprintf(plural(n, x.one, x.many), x.names))
			next = append(next, x.do)
		}
	}
	return parts, next
}
