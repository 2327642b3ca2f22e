package rules

import (
	"fmt"
	"strconv"
	"strings"

	"trefoil/lint/design"
	"trefoil/lint/engine"
	"trefoil/lint/finding"
	"trefoil/lint/fix"
	"trefoil/lint/source"
	"trefoil/ratings/quantity"
)

// strict says that the design is at a stage at which nothing may be left open.
func strict(r *engine.Review) bool {
	site := r.Design.Site()
	return site != nil && (site.Stage.Value == "construction" || site.Stage.Value == "as-built")
}

// BlockUnused notes a route, cable or constant that nothing refers to.
var BlockUnused = &engine.Rule{
	Name: "block-unused", Summary: "a route, cable or constant is declared and not used", Severity: finding.Note,
	Clause: engine.Clause{Own: "left-overs mislead the next reader"}, Wide: true, Since: "0.1.0", Check: blockUnused,
	Doc: engine.Doc{
		Checks: "That each route and cable type is named by a run, and each constant by an expression.",
		Why:    "A route without runs is often a run that lies in the wrong route.",
		Blind:  "Boards and sources; network-shape looks at those. Cable types of a library, which others may use.", Sources: "Common practice.", Bad: "route-left-over", Good: "all-used",
	},
}

func blockUnused(r *engine.Review) {
	if r.Design.Broken {
		return
	}
	cables := map[string]bool{}
	faulty := false // a misspelt reference may mean any of them
	for a := range r.EachRun() {
		run := a.Run
		cables[run.Cable.Name] = true
		faulty = faulty || run.Cable.Origin == design.Faulty
		for k := range run.Sections {
			faulty = faulty || run.Sections[k].Route.Origin == design.Faulty
		}
	}
	if faulty {
		return
	}
	tell := func(o *design.Object) {
		f := r.At(o.At, o.Subject(), fmt.Sprintf("%s %q is not used by any run", o.Kind, o.Name), "remove it, or use it")
		f.Fixes = remove(o.Kind+" "+o.Name, o.Whole)
		r.Find(f)
	}
	for route := range r.EachRoute() {
		if r.Shared[route] == nil {
			tell(&route.Object)
		}
	}
	for _, c := range r.Design.Cables {
		if !cables[c.Name] && !c.At.File.Library {
			tell(&c.Object)
		}
	}
	for _, c := range r.Design.Lets {
		if !c.Used {
			f := r.At(c.At, "let."+c.Name, fmt.Sprintf("let.%s is not used", c.Name), "remove it, or use it")
			f.Fixes = remove("let."+c.Name, c.Cut)
			r.Find(f)
		}
	}
}

// remove is the fix that takes a block or a constant out. It alters the design: what stands
// there and is not used may be what was forgotten elsewhere.
func remove(what string, at source.Range) []finding.Fix {
	return []finding.Fix{{Name: "remove", Kind: finding.Design, Message: what + " goes", Edits: fix.Cut(at)}}
}

// OtherCircuitsUnstated notes a route that does not say what lies in it already.
var OtherCircuitsUnstated = &engine.Rule{
	Name: "other-circuits-unstated", Summary: "a route does not state the circuits of other projects", Severity: finding.Note,
	Clause: engine.Clause{Publication: "IEC 60364-5-52", Edition: "2009", Number: "clause 523.5, which counts every loaded circuit of the group"}, Wide: true, Since: "0.1.0", Check: otherCircuitsUnstated,
	Doc: engine.Doc{
		Checks: "That each used route states other_circuits, 0 included. From stage construction on this is an error.",
		Why:    "Grouping counts what lies there already. Taking 0 for granted is how a tray comes to be overloaded.",
		Blind:  "Whether the number is right: go and look.", Sources: "Common practice.", Bad: "unstated", Good: "stated",
	},
}

func otherCircuitsUnstated(r *engine.Review) {
	for route := range r.EachRoute() {
		if r.Shared[route] == nil || route.OtherCircuits.Origin != design.Absent {
			continue
		}
		f := r.At(route.At, route.Subject(), fmt.Sprintf("route %q does not say how many circuits of other projects lie in it; 0 is taken", route.Name), "look on site and add other_circuits, 0 included")
		if strict(r) {
			f.Severity = finding.Error
		}
		r.Find(f)
	}
}

// LengthEstimated notes lengths that nobody measured, by stage.
var LengthEstimated = &engine.Rule{
	Name: "length-estimated", Summary: "a length is estimated, or not measured when it has to be", Severity: finding.Note,
	Clause: engine.Clause{Own: "rise, loss and purchase hang on lengths"}, Wide: true, Since: "0.1.0", Check: lengthEstimated,
	Doc: engine.Doc{
		Checks: "length_from of each section, by the stage of the site. \"estimated\" is a note, and an error from stage construction on. From there on a section that does not say where its length is from is a warning, once a run. At stage as-built a length that is scaled from a drawing is a warning too: what lies there can be measured.",
		Why:    "Voltage rise goes with length; an estimate is good enough to talk about, not to build.",
		Blind:  "Before stage construction: a length that does not say where it is from. A measure that is wrong.", Sources: "Common practice.", Bad: "estimated", Good: "measured",
	},
}

func lengthEstimated(r *engine.Review) {
	site := r.Design.Site()
	built := site != nil && site.Stage.Value == "as-built"
	for a := range r.EachRun() {
		run := a.Run
		var silent []string
		var first source.Range
		for k := range run.Sections {
			s := &run.Sections[k]
			switch from := s.LengthFrom; {
			case from.Origin == design.Absent && strict(r):
				if len(silent) == 0 {
					first = firstAt(s.LengthM.At, s.At)
				}
				silent = append(silent, fmt.Sprint(k+1))
			case !from.Known():
			case from.Value == "estimated":
				f := r.At(from.At, run.Subject(), fmt.Sprintf("section %d of run %q has an estimated length", k+1, run.Name), "measure it on site or scale it from a drawing")
				if strict(r) {
					f.Severity = finding.Error
				}
				r.Find(f)
			case from.Value == "scaled" && built:
				f := r.At(from.At, run.Subject(), fmt.Sprintf("section %d of run %q has a length scaled from a drawing, and the design is as-built", k+1, run.Name), "measure it on site")
				f.Severity = finding.Warning
				r.Find(f)
			}
		}
		if len(silent) > 0 {
			f := r.At(first, run.Subject(), fmt.Sprintf("%s %s of run %q %s not say where the length is from, and the stage is %s", plural(len(silent), "section", "sections"), finding.Few(silent), run.Name, plural(len(silent), "does", "do"), site.Stage.Value), `add length_from = "measured" or "scaled"`)
			f.Severity = finding.Warning
			r.Find(f)
		}
	}
}

// Lengths at which a unit is likely to be mistaken.
const (
	longM  = 2000 // longer sections are hardly ever low voltage
	shortM = 0.2  // shorter ones are no section of a route
)

// LengthUnlikely warns of a length that looks like another unit.
var LengthUnlikely = &engine.Rule{
	Name: "length-unlikely", Summary: "a length looks like another unit", Severity: finding.Warning,
	Clause: engine.Clause{Own: "sections of low-voltage runs are from 0.2 m to 2 km long"}, Wide: true, Since: "0.1.0", Check: lengthUnlikely,
	Doc: engine.Doc{
		Checks: "That each section is from 0.2 m to 2000 m long.",
		Why:    "34000 is 34 m in millimetres, and 0.034 is 34 m in kilometres.",
		Blind:  "A wrong length within those bounds.", Sources: "Common practice.", Bad: "millimetres", Good: "metres",
	},
}

func lengthUnlikely(r *engine.Review) {
	for a := range r.EachRun() {
		run := a.Run
		for k := range run.Sections {
			l := run.Sections[k].LengthM
			if !l.Known() {
				continue
			}
			unit, metres := "", 0.0
			switch {
			case l.Value > longM:
				unit, metres = "millimetres", l.Value/1000
			case l.Value < shortM:
				unit, metres = "kilometres", l.Value*1000
			default:
				continue
			}
			f := r.At(l.At, run.Subject(), fmt.Sprintf("section %d of run %q is %s long; is that %s?", k+1, run.Name, quantity.Metre.Print(l.Value), unit), "write length_m in metres")
			f.Fixes = figure(l, "from-"+unit, unit+" become metres", metres)
			r.Find(f)
		}
	}
}

// figure is the fix that writes another number in the place of one that is written out;
// there is none for the value of an expression.
func figure(n design.Num, name, message string, x float64) []finding.Fix {
	text, _, _ := strings.Cut(n.At.Text(), "=")
	at := n.At
	at.Start += uint32(len(text)) + 1
	for at.Start < at.End && (at.File.Bytes[at.Start] == ' ' || at.File.Bytes[at.Start] == '\t') {
		at.Start++
	}
	if written, err := strconv.ParseFloat(at.Text(), 64); err != nil || written != n.Value {
		return nil
	}
	return []finding.Fix{{Name: name, Kind: finding.Design, Message: message, Edits: []finding.Edit{{At: at, Text: fix.Number(x)}}}}
}

// MarginThin notes a run loaded above the project's own target.
var MarginThin = &engine.Rule{
	Name: "margin-thin", Summary: "a run is loaded above the project's target", Severity: finding.Note,
	Clause: engine.Clause{Own: "the target is the project's"}, Since: "0.1.0", Check: marginThin,
	Doc: engine.Doc{
		Checks:  "The load of each run in percent of its capacity against utilisation_target_percent of the site, where that is stated.",
		Why:     "A run at 99 % has no room for the circuit that comes next year.",
		Accepts: "the load in percent of the capacity",
		Blind:   "Runs that are overloaded; run-overloaded tells those.", Sources: "Common practice.", Bad: "above-target", Good: "below-target",
	},
}

func marginThin(r *engine.Review) {
	site := r.Design.Site()
	if site == nil || !site.UtilisationTargetPercent.Known() {
		return
	}
	target := site.UtilisationTargetPercent.Value
	for a := range r.EachRun() {
		if !a.LoadA.Known || !a.CapacityA.Known || !quantity.AtMost(a.LoadA.Value, a.CapacityA.Value) {
			continue
		}
		share := 100 * a.LoadA.Value / a.CapacityA.Value
		if quantity.AtMost(share, target) {
			continue
		}
		got, want := quantity.Percent.Apart(share, target)
		f := r.At(a.Run.SizeAt, a.Run.Subject(), fmt.Sprintf("run %q is loaded to %s of its capacity; the project's target is %s", a.Run.Name, got, want), "choose a larger conductor, or leave it and know it")
		f.Figures = []finding.Figure{{Key: "design_current_a", Value: a.Segment.DesignCurrentA().Value}, {Key: "capacity_a", Value: a.CapacityA.Value}}
		f.Percent, f.HasPercent = share, true
		r.Find(f)
	}
}

// ConditionsAssumed notes once which reference conditions are taken.
var ConditionsAssumed = &engine.Rule{
	Name: "conditions-assumed", Summary: "reference conditions of the rating set are taken because the design states none", Severity: finding.Note,
	Clause: engine.Clause{Own: "a condition that nobody stated is nobody's decision"}, Wide: true, Since: "0.1.0", Check: conditionsAssumed,
	Doc: engine.Doc{
		Checks: "That the site or each route states air_c, and for buried routes soil_c, soil_km_w and depth_m.",
		Why:    "The set's reference conditions are those of a laboratory, not of a roof.",
		Blind:  "Whether a stated condition is true.", Sources: "The rating set that the site names.", Bad: "air-unstated", Good: "stated",
	},
}

func conditionsAssumed(r *engine.Review) {
	site := r.Design.Site()
	if site == nil || len(r.Took) == 0 || r.Design.Broken {
		return
	}
	var list []string
	var attrs []string
	f := r.At(site.At, site.Subject(), "", "")
	for _, t := range r.Took {
		list = append(list, t.What)
		attrs = append(attrs, t.Attr)
		f.Related = append(f.Related, finding.Related{At: t.Route.At, Message: fmt.Sprintf("route %q takes %s", t.Route.Name, t.What)})
	}
	f.Message = fmt.Sprintf("not stated, so the reference conditions of %s are taken: %s", r.Info.Name, strings.Join(list, ", "))
	f.Next = "state " + strings.Join(attrs, ", ") + " in site or on the routes"
	r.Find(f)
}

// EditionSuperseded warns that the rating set is not the edition in force.
var EditionSuperseded = &engine.Rule{
	Name: "edition-superseded", Summary: "the rating set follows a superseded edition", Severity: finding.Warning,
	Clause: engine.Clause{Own: "which edition counts is for the law of the place"}, Wide: true, Since: "0.1.0", Check: editionSuperseded,
	Doc: engine.Doc{
		Checks: "Whether a newer edition of the publication behind the rating set is known, unless the site states edition_reason.",
		Why:    "Tables and their numbers change between editions.",
		Blind:  "Editions that came after this program was made.", Sources: "Named with each set; see tables.", Bad: "old-edition", Good: "reason-stated",
	},
}

func editionSuperseded(r *engine.Review) {
	site := r.Design.Site()
	if site == nil || r.Set == nil || r.Info.SupersededBy == "" || strings.TrimSpace(site.EditionReason.Value) != "" {
		return
	}
	r.Find(r.At(site.Ratings.At, site.Subject(), fmt.Sprintf("%s is superseded by %s, %s (%s)", r.Info.Name, r.Info.SupersededBy, r.Info.SupersededFrom, r.Info.SupersededRef), "say in edition_reason why this edition counts, or change the set"))
}

// PhaseUnstated warns of a single-phase source that does not say its phase.
var PhaseUnstated = &engine.Rule{
	Name: "phase-unstated", Summary: "a single-phase source or load does not say its phase", Severity: finding.Warning,
	Clause: engine.Clause{Own: "phases must be known to be summed"}, Wide: true, Since: "0.1.0", Check: phaseUnstated,
	Doc: engine.Doc{
		Checks: "That each source or load with phases = 1 states its phase.",
		Why:    "Where phases are not stated, all such are counted on one phase, which is the worst there is and rarely what will be built.",
		Blind:  "Whether it will be connected so.", Sources: "Common practice.", Bad: "unstated", Good: "stated",
	},
}

func phaseUnstated(r *engine.Review) {
	for _, s := range r.Tree.Unphased {
		r.Find(r.At(s.At, s.Subject(), fmt.Sprintf("source %q has one phase and does not say which; it is counted on the most loaded one", s.Name), `add phase = "L1", "L2" or "L3"`))
	}
	for _, l := range r.Tree.Loose {
		r.Find(r.At(l.At, l.Subject(), fmt.Sprintf("load %q has one phase and does not say which; it is counted on the most loaded one", l.Name), `add phase = "L1", "L2" or "L3"`))
	}
}

// CapacityComputed notes once that capacities are computed and not a standard's printed ones.
var CapacityComputed = &engine.Rule{
	Name: "capacity-computed", Summary: "capacities are computed, not those of a printed table", Severity: finding.Note,
	Clause: engine.Clause{Publication: "IEC 60287-1-1", Edition: "2006", Number: "clause 1.4.1"}, Wide: true, Since: "0.1.0", Check: capacityComputed,
	Doc: engine.Doc{
		Checks: "Whether the rating set works out capacities by the thermal model.",
		Why:    "A printed table may lie a few per cent beside an honest computation, and where a standard's table is law, the table counts.",
		Blind:  "How far the printed table lies from it.", Sources: "The rating set that the site names; README says how far the model lies from tables that are at hand.", Bad: "computed", Good: "table",
	},
}

func capacityComputed(r *engine.Review) {
	site := r.Design.Site()
	if site == nil {
		return
	}
	n := 0
	for i := range r.Runs {
		for k := range r.Runs[i].Sections {
			if s := &r.Runs[i].Sections[k]; s.Rating != nil && s.Rating.Basis == "computed" {
				n++
			}
		}
	}
	if n > 0 {
		r.Find(r.At(site.At, site.Subject(), fmt.Sprintf("%s gives computed capacities, not those of a printed table: %d sections rest on the thermal model", r.Info.Name, n), "where the printed table counts, lay it over the set with capacity_tables"))
	}
}
