package rules

import (
	"fmt"
	"slices"
	"strings"

	"trefoil/lint/assess"
	"trefoil/lint/design"
	"trefoil/lint/engine"
	"trefoil/lint/finding"
	"trefoil/ratings"
	"trefoil/ratings/quantity"
)

// held calls do for each route whose content was worked out, in text order.
func held(r *engine.Review, do func(*design.Route, *assess.Shared, *assess.Held)) {
	for route := range r.EachRoute() {
		if s := r.Shared[route]; s != nil && s.Held != nil {
			do(route, s, s.Held)
		}
	}
}

// members points at the runs of a route, a few of them, with what they put into it.
func members(r *engine.Review, h *assess.Held, only int) []finding.Related {
	var list []finding.Related
	more := 0
	for i := range h.Pieces {
		p := &h.Pieces[i]
		if p.Run < 0 || !p.OuterMM.Known || only >= 0 && p.Run != only {
			continue
		}
		if len(list) == 6 {
			more++
			continue
		}
		what := count(p.Count, "cable", "cables")
		if p.Earth {
			what = count(p.Count, "earth conductor", "earth conductors")
		}
		weight := ""
		if p.KgM.Known {
			weight = ", " + quantity.KilogramM.Print(p.KgM.Value)
		}
		list = append(list, finding.Related{At: r.Runs[p.Run].Run.At, Message: fmt.Sprintf("run %q: %s of %s%s", r.Runs[p.Run].Run.Name, what, quantity.Milli.Print(p.OuterMM.Value), weight)})
	}
	if more > 0 {
		list[len(list)-1].Message += fmt.Sprintf(", and %d more", more)
	}
	return list
}

// ConduitOverfilled reports conduits, ducts and trunking that hold too much.
var ConduitOverfilled = &engine.Rule{
	Name: "conduit-overfilled", Summary: "a conduit, duct or trunking is filled beyond its limit", Severity: finding.Warning,
	Clause: engine.Clause{Publication: "IEC 60364-5-52", Edition: "2009", Number: "clause 522.8, drawing in without damage; AS/NZS 3000 Appendix C6; NEC 300.17 and chapter 9 Table 1"}, Since: "0.1.0", Check: conduitOverfilled,
	Doc: engine.Doc{
		Checks: "The areas of all cables that the runs put into a conduit, duct or trunking, by their outer diameters, over its inner area, against fill_limit_percent of the route or the site. Without one, from memory: NEC 53, 31 and 40 % for one, two, and three cables and more, 20 % of a wireway; AS/NZS 50, 33 and 40 %; else 40 % of a conduit or duct and 45 % of trunking, common practice. " +
			"A conduit holds all of its route; a buried duct one leg, one core (ducts = \"per-core\"), or all (\"shared\", over duct_count). An error under NEC, and where the design states the limit.",
		Why:     "Conduits are sized for the first circuit, and a later one is drawn into it: the sheath is torn, or it does not go in.",
		Accepts: "the fill in percent of the inner area",
		Blind:   "Number and angle of bends, length of the pull, nipples of 600 mm, for which NEC allows 60 %. An earth conductor by itself counts as a sheathed single core. How cables are shared out over several ducts: the mean is judged.",
		Sources: "NEC chapter 9 Table 1, 376.22 and AS/NZS 3000 Appendix C6, all from memory; diameters by IEC 60502-1 or the maker.", Bad: "one-more-circuit", Good: "fits",
	},
}

func conduitOverfilled(r *engine.Review) {
	held(r, func(route *design.Route, _ *assess.Shared, h *assess.Held) {
		worst := -1
		over := 0
		for i := range h.Fills {
			f := &h.Fills[i]
			if quantity.AtMost(f.Percent, f.LimitPercent) {
				continue
			}
			over++
			if worst < 0 || f.Percent/f.LimitPercent > h.Fills[worst].Percent/h.Fills[worst].LimitPercent {
				worst = i
			}
		}
		if worst < 0 {
			return
		}
		w := &h.Fills[worst]
		what := fmt.Sprintf("route %q", route.Name)
		if w.Run >= 0 {
			what = fmt.Sprintf("the duct of run %q on route %q", r.Runs[w.Run].Run.Name, route.Name)
			if route.Ducts.Value == "per-core" {
				what = fmt.Sprintf("a duct of run %q on route %q", r.Runs[w.Run].Run.Name, route.Name)
			}
		}
		got, limit := quantity.Percent.Apart(w.Percent, w.LimitPercent)
		ref := w.LimitRef
		if w.Memory {
			ref += ", from memory"
		}
		by := count(w.Count, "cable", "cables")
		if w.Ducts > 1 {
			by += fmt.Sprintf(" in %d ducts", w.Ducts)
		}
		f := r.At(firstAt(bore(route).At, route.At), route.Subject(),
			fmt.Sprintf("%s is filled to %s by %s, above the limit of %s (%s): %s of cable in %s", what, got, by, limit, ref, quantity.SquareMM.Print(w.AreaMM2), quantity.SquareMM.Print(w.InsideMM2)),
			"choose a larger bore, lay a second one, or move a circuit to another route")
		if over > 1 {
			f.Message += fmt.Sprintf("; %d more are over theirs", over-1)
		}
		if w.Memory {
			f.Memory = []string{w.LimitRef}
		}
		if w.Mandatory {
			f.Severity = finding.Error
		}
		f.Figures = []finding.Figure{{Key: "fill_percent", Value: w.Percent}, {Key: "limit_percent", Value: w.LimitPercent}}
		f.Percent, f.HasPercent = w.Percent, true
		f.Related = members(r, h, w.Run)
		r.Find(f)
	})
}

// Jamming of three cables alike, bore over diameter: NEC chapter 9 Table 1, informational
// note, from memory.
const (
	jamFrom = 2.8
	jamTo   = 3.2
)

// CablesJam reports three like cables that may wedge in a conduit.
var CablesJam = &engine.Rule{
	Name: "cables-jam", Summary: "three cables alike may wedge in the bends of a conduit or duct", Severity: finding.Warning,
	Clause: engine.Clause{Publication: "NEC", Edition: "2023", Number: "chapter 9 Table 1, informational note on the jam ratio (from memory); IEC 60364-5-52 clause 522.8"}, Since: "0.1.0", Check: cablesJam,
	Doc: engine.Doc{
		Checks: "Where three cables of one diameter, to 5 %, lie alone in a conduit or duct: that its bore is not between 2.8 and 3.2 of their diameters.",
		Why:    "In a bend the middle one slips between the other two, and they wedge against the wall, although the fill is within its limit: at 30 to 38 % they do.",
		Blind:  "Whether the conduit has bends; cables laid up into one before they are drawn in, which do not wedge; four cables and more.", Sources: "NEC chapter 9 Table 1, from memory.", Bad: "three-cables", Good: "wider-bore",
	},
}

func cablesJam(r *engine.Review) {
	held(r, func(route *design.Route, _ *assess.Shared, h *assess.Held) {
		var runs []string
		var first *assess.Fill
		for i := range h.Fills {
			f := &h.Fills[i]
			ratio := f.JamRatio()
			if !ratio.Known || quantity.AtMost(ratio.Value, jamFrom) || quantity.AtMost(jamTo, ratio.Value) {
				continue
			}
			if first == nil {
				first = f
			}
			if f.Run >= 0 {
				runs = append(runs, r.Runs[f.Run].Run.Name)
			}
		}
		if first == nil {
			return
		}
		ratio := first.JamRatio().Value
		whose := ""
		if len(runs) > 0 {
			whose = fmt.Sprintf(" (%s%s)", plural(len(runs), "run ", "runs "), finding.Few(runs))
		}
		f := r.At(bore(route).At, route.Subject(), fmt.Sprintf("three cables of %s on route %q%s may wedge in its bends: the bore of %s is %s of their diameters, between %g and %g (NEC chapter 9 Table 1, from memory)", quantity.Milli.Print(first.MostMM), route.Name, whose, quantity.Milli.Print(first.BoreMM), quantity.Ratio.Print(ratio), jamFrom, jamTo),
			"choose another bore, or have the cables laid up before they are drawn in")
		f.Figures = []finding.Figure{{Key: "jam_ratio", Value: ratio}}
		f.Memory = []string{"NEC chapter 9 Table 1"}
		f.Related = members(r, h, first.Run)
		r.Find(f)
	})
}

// bore is the size of the opening that a route states.
func bore(route *design.Route) design.Num {
	if route.Laid.Value == "trunking" {
		return route.WidthMM
	}
	return route.DuctInsideMM
}

// TrayTooNarrow reports cables that do not lie in the layers that their rating takes.
var TrayTooNarrow = &engine.Rule{
	Name: "tray-too-narrow", Summary: "the cables of a tray do not lie in the layers that their rating takes", Severity: finding.Warning,
	Clause: engine.Clause{Publication: "IEC 60364-5-52", Edition: "2009", Number: "clause 523.5 and Table B.52.20, factors for one layer; AS/NZS 3008.1.1 Table 24; NEC 392.22"}, Since: "0.1.0", Check: trayTooNarrow,
	Doc: engine.Doc{
		Checks: "For trays, ladders and baskets with width_mm, the sum of the diameters of all legs with their clear distances against the width, times tiers and layers, less spare_percent. Three single cores in trefoil take two diameters; flat-spaced ones keep a diameter clear. " +
			"And that several layers are rated as such: layers above 1 goes with spacing = \"bunched\".",
		Why:     "The last cables end up upon the others; a factor for one layer is then too high, and the cables below run hot.",
		Accepts: "the width that is needed in percent of the width that is there",
		Blind:   "How cables are shared out over several tiers; height; the NEC's own sums for trays of single conductors.", Sources: "Common practice; diameters by IEC 60502-1 or the maker.", Bad: "one-more-cable", Good: "side-by-side",
	},
}

func trayTooNarrow(r *engine.Review) {
	for route := range r.EachRoute() {
		shared := r.Shared[route]
		if shared == nil || !assess.Open(route) || !route.Spacing.Known() {
			continue
		}
		if route.Layers.Value > 1 && route.Spacing.Value != "bunched" {
			f := r.At(route.Layers.At, route.Subject(), fmt.Sprintf("route %q holds %d layers, and spacing = %q rates them as one", route.Name, int(route.Layers.Value), route.Spacing.Value), `write spacing = "bunched", then look at the capacities; or lay one layer`)
			r.Find(f)
			continue
		}
		h := shared.Held
		if h == nil || !h.RoomMM.Known || heaped(route) || quantity.AtMost(h.WidthMM, h.RoomMM.Value) {
			continue
		}
		room := h.RoomMM.Value
		need, there := quantity.Milli.Apart(h.WidthMM, room)
		of := ""
		if room != route.WidthMM.Value {
			of = fmt.Sprintf(" (%s wide", quantity.Milli.Print(route.WidthMM.Value))
			if n := int(route.Tiers.Value); n > 1 {
				of += fmt.Sprintf(", %d tiers", n)
			}
			if n := int(route.Layers.Value); n > 1 {
				of += fmt.Sprintf(", %d layers", n)
			}
			if n := route.SparePercent.Value; n > 0 {
				of += fmt.Sprintf(", %s kept free", quantity.Percent.Print(n))
			}
			of += ")"
		}
		f := r.At(route.WidthMM.At, route.Subject(), fmt.Sprintf("the cables on route %q take %s side by side, and it has room for %s%s: the rating for %s does not hold", route.Name, need, there, of, layers(int(route.Layers.Value))),
			`choose a wider tray or a second one, or write spacing = "bunched" with the layers that there are`)
		f.Figures = []finding.Figure{{Key: "width_mm", Value: h.WidthMM}, {Key: "limit_mm", Value: room}}
		f.Percent, f.HasPercent = 100*h.WidthMM/room, true
		f.Related = members(r, h, -1)
		r.Find(f)
	}
}

// heaped says that cables lie in a heap whose layers are not stated.
func heaped(route *design.Route) bool {
	return route.Spacing.Value == "bunched" && route.Layers.Origin != design.Stated
}

func layers(n int) string {
	if n == 1 {
		return "one layer"
	}
	return fmt.Sprintf("%d layers", n)
}

// TrayOverloaded reports supports that carry more than their maker allows.
var TrayOverloaded = &engine.Rule{
	Name: "tray-overloaded", Summary: "the cables of a route weigh more than it may carry at its span", Severity: finding.Error,
	Clause: engine.Clause{Publication: "IEC 61537", Edition: "2006", Number: "clause 10, safe working load at the declared span (number from memory); NEMA VE 1; the maker's table"}, Since: "0.1.0", Check: trayOverloaded,
	Doc: engine.Doc{
		Checks:  "The mass of all cables on a route, with added_kg_m for lid, covers and snow, against load_kg_m, both for each tier; and span_m between its supports against load_span_m, the span that the maker gives the load for. A mass is kg_m of the cable's data, else worked out from its construction.",
		Why:     "Supports are left out on site, or three feeders are added years later; a tray bends until it tips its cables off.",
		Accepts: "the mass in percent of the load that is allowed; for a span, the span in percent",
		Blind:   "How cables are shared out over several tiers; concentrated loads, wind, people on the tray, fixings; the mass of the tray itself where the maker's figure includes it.",
		Sources: "NEMA VE 2 as quoted by makers: a tray is no walkway. Densities from memory; the masses of two published cables agree within 2 %.", Bad: "too-heavy", Good: "carried",
	},
}

func trayOverloaded(r *engine.Review) {
	held(r, func(route *design.Route, _ *assess.Shared, h *assess.Held) {
		origin := inOrigin(route.LoadOrigin)
		if span, most := route.SpanM, route.LoadSpanM; span.Known() && most.Known() && !quantity.AtMost(span.Value, most.Value) {
			got, limit := quantity.Metre.Apart(span.Value, most.Value)
			f := r.At(span.At, route.Subject(), fmt.Sprintf("route %q has supports every %s, and its load is given up to %s%s", route.Name, got, limit, origin), "add supports, or take load_kg_m for that span from the maker's table")
			f.Figures = []finding.Figure{{Key: "span_m", Value: span.Value}, {Key: "limit_m", Value: most.Value}}
			f.Percent, f.HasPercent = 100*span.Value/most.Value, true
			f.Related = []finding.Related{{At: most.At, Message: "the span of the maker's figure"}}
			r.Find(f)
		}
		if most := h.MayKgM; most.Known && !quantity.AtMost(h.KgM, most.Value) {
			tiers := route.Tiers.Value
			got, limit := quantity.KilogramM.Apart(h.KgM, most.Value)
			var how []string
			if route.AddedKgM.Known() && route.AddedKgM.Value > 0 {
				how = append(how, quantity.KilogramM.Print(route.AddedKgM.Value*tiers)+" of it added")
			}
			if h.Computed {
				how = append(how, "masses worked out from construction data")
			}
			if len(h.MassGaps) > 0 {
				how = append(how, "some masses are not known")
			}
			why := ""
			if len(how) > 0 {
				why = " (" + strings.Join(how, ", ") + ")"
			}
			at := ""
			if tiers > 1 {
				at = fmt.Sprintf(" on %d tiers", int(tiers))
			}
			if route.SpanM.Known() {
				at += " at a span of " + quantity.Metre.Print(route.SpanM.Value)
			}
			f := r.At(route.LoadKgM.At, route.Subject(), fmt.Sprintf("route %q carries %s%s, and may carry %s%s%s", route.Name, got, why, limit, at, origin), "add supports, choose a stronger tray, or split the cables over two routes")
			f.Figures = []finding.Figure{{Key: "kg_m", Value: h.KgM}, {Key: "limit_kg_m", Value: most.Value}}
			f.Percent, f.HasPercent = 100*h.KgM/most.Value, true
			f.Related = members(r, h, -1)
			r.Find(f)
		}
	})
}

// Least bend radius in outer diameters, as one maker publishes it for low-voltage cables
// (fireproof-cables.com, Technical-Information/2.htm).
const (
	bendSingle   = 8
	bendMulti    = 6
	bendArmoured = 10
)

// BendTooTight reports a route whose bends are too tight for a cable in it.
var BendTooTight = &engine.Rule{
	Name: "bend-too-tight", Summary: "the bends of a route are too tight for a cable in it", Severity: finding.Warning,
	Clause: engine.Clause{Publication: "IEC 60364-5-52", Edition: "2009", Number: "clause 522.8.3; BS 7671 regulation 522.8.3; AS/NZS 3000 clause 3.9.6"}, Since: "0.1.0", Check: bendTooTight,
	Doc: engine.Doc{
		Checks:  "bend_mm of a route, the least inside radius of its bends and fittings, against the outer diameter of each of its cables times bend_factor of the cable type; without one, 8 for single cores, 6 for multicore and 10 for armoured cables, as one maker publishes.",
		Why:     "A 300 mm elbow is what the wholesaler has on the shelf; a cable of 240 mm2 does not follow it without harm.",
		Accepts: "the radius that is needed in percent of the radius that is there",
		Blind:   "Bends behind a gland or in a board; routes that do not state bend_mm; temperature of installing; circuits of other projects.",
		Sources: "Factors: fireproof-cables.com, Technical-Information/2.htm; the cable's own sheet takes their place.", Bad: "shelf-elbow", Good: "wide-elbow",
	},
}

// bendFactor is how many diameters a cable asks for, and where that comes from.
func bendFactor(c *design.Cable) (k float64, ref string) {
	switch {
	case c.BendFactor.Known():
		return c.BendFactor.Value, c.BendOrigin.Value
	case c.Armour.Value != "none":
		k = bendArmoured
	case c.Build.Value == "single-core":
		k = bendSingle
	default:
		k = bendMulti
	}
	return k, "one maker's figure, as common practice"
}

func bendTooTight(r *engine.Review) {
	held(r, func(route *design.Route, _ *assess.Shared, h *assess.Held) {
		if !route.BendMM.Known() {
			return
		}
		worst, need := -1, 0.0
		for i := range h.Pieces {
			p := &h.Pieces[i]
			if p.Run < 0 || p.Earth || !p.OuterMM.Known || r.Runs[p.Run].Cable.BendFactor.Origin == design.Faulty {
				continue
			}
			if k, _ := bendFactor(r.Runs[p.Run].Cable); k*p.OuterMM.Value > need {
				worst, need = i, k*p.OuterMM.Value
			}
		}
		if worst < 0 || quantity.AtMost(need, route.BendMM.Value) {
			return
		}
		p := &h.Pieces[worst]
		a := &r.Runs[p.Run]
		k, ref := bendFactor(a.Cable)
		least, there := quantity.Milli.Apart(need, route.BendMM.Value)
		f := r.At(route.BendMM.At, route.Subject(), fmt.Sprintf("route %q bends to %s, and the cable of run %q, %s thick, asks for %s: %g diameters (%s)", route.Name, there, a.Run.Name, quantity.Milli.Print(p.OuterMM.Value), least, k, ref),
			"choose a wider fitting, single cores, or a pull box")
		f.Figures = []finding.Figure{{Key: "bend_mm", Value: route.BendMM.Value}, {Key: "limit_mm", Value: need}}
		f.Percent, f.HasPercent = 100*need/route.BendMM.Value, true
		f.Related = []finding.Related{{At: a.Run.At, Message: fmt.Sprintf("run %q", a.Run.Name)}}
		r.Find(f)
	})
}

// ContainmentNotChecked notes routes whose fill, width, weight or bends cannot be checked.
var ContainmentNotChecked = &engine.Rule{
	Name: "containment-not-checked", Summary: "fill, width, weight, bends or iron of a route are not checked for want of a fact", Severity: finding.Note,
	Clause: engine.Clause{Own: "what nobody looked at must be known"}, Wide: true, Since: "0.1.0", Check: containmentNotChecked,
	Doc: engine.Doc{
		Checks: "That the fill of each conduit, duct and trunking can be worked out: its bore, the diameter of every cable in it, other_outer_mm of circuits of other projects. That ducts of single cores, one each, state their material. On a route that states width_mm, load_kg_m or bend_mm, the same for width, mass and bends. Told once a design.",
		Why:    "No finding must not mean that nobody looked.",
		Blind:  "Trays that state neither width, load nor bends: nothing is held against them.", Sources: "Common practice.", Bad: "no-bore", Good: "bore-stated",
	},
}

func containmentNotChecked(r *engine.Review) {
	if r.Design.Broken {
		return
	}
	o := open{kind: "route"}
	var first *design.Route
	add := func(what string, route *design.Route, g ratings.Gap) {
		if g.Reason == "" {
			return // told where it is written
		}
		o.add(&ratings.Gap{Reason: what + ": " + g.Reason, Next: g.Next}, route.Name)
		if first == nil {
			first = route
		}
	}
	held(r, func(route *design.Route, shared *assess.Shared, h *assess.Held) {
		if route.Laid.Value == "buried-duct" && route.Ducts.Value == "per-core" && route.Material.Origin == design.Absent && singlesOn(r, shared).Len() > 0 {
			add("iron", route, ratings.Gap{Reason: "the material of ducts with one core each is not stated", Next: "add material"})
		}
		full := slices.ContainsFunc(h.Fills, func(f assess.Fill) bool { return !quantity.AtMost(f.Percent, f.LimitPercent) })
		if !full && route.DuctInsideMM.Origin != design.Faulty && route.WidthMM.Origin != design.Faulty && route.HeightMM.Origin != design.Faulty {
			for _, g := range h.FillGaps {
				add("fill", route, g)
			}
		}
		if route.WidthMM.Known() && assess.Open(route) {
			if heaped(route) {
				add("width", route, ratings.Gap{Reason: `spacing is "bunched" and layers is not stated`, Next: "add layers"})
			} else {
				for _, g := range h.WidthGaps {
					add("width", route, g)
				}
			}
		}
		if route.LoadKgM.Known() {
			for _, g := range h.MassGaps {
				add("weight", route, g)
			}
			if route.SpanM.Origin == design.Absent {
				add("weight", route, ratings.Gap{Reason: "load_kg_m is given and span_m is not", Next: "add span_m, the distance of the supports"})
			}
		}
		if route.BendMM.Known() {
			for i := range h.Pieces {
				if p := &h.Pieces[i]; p.Run >= 0 && !p.Earth && p.Gap != nil {
					add("bends", route, *p.Gap)
				}
			}
		}
	})
	if first == nil {
		return
	}
	parts := o.words(0)
	if len(parts) > 4 {
		parts = append(parts[:4:4], fmt.Sprintf("%d more reasons", len(parts)-4))
	}
	r.Find(r.At(first.At, first.Subject(), "containment is not checked whole: "+strings.Join(parts, "; "), once(o.next(), 4)))
}
