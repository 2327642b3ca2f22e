package rules

import (
	"fmt"
	"strings"

	"trefoil/lint/assess"
	"trefoil/lint/engine"
	"trefoil/lint/finding"
	"trefoil/lint/source"
	"trefoil/ratings"
	"trefoil/ratings/quantity"
)

// RunOverloaded reports a run asked to carry more than it is rated for.
var RunOverloaded = &engine.Rule{
	Name: "run-overloaded", Summary: "design current is above the capacity of the run", Severity: finding.Error,
	Clause: engine.Clause{Publication: "IEC 60364-5-52", Edition: "2009", Number: "clause 523.1; BS 7671:2018, regulation 523.1"}, Since: "0.1.0", Check: runOverloaded,
	Doc: engine.Doc{
		Checks:  "The sum of the greatest continuous currents of all sources behind the run, without diversity, on its worst phase, or what loads and charging take where that is more, against the capacity of its worst section: tabulated value times every factor, times the legs. Under a set that has a rule for continuous duty, also against that.",
		Why:     "A cable above its capacity ages fast, and its neighbours with it. Sources run for hours at full output, together.",
		Accepts: "the design current in percent of the capacity",
		Blind:   "Terminations, the time for which a current lasts, and damage already done.",
		Sources: "The rating set that the site names; each factor says its table.", Bad: "neighbour-added", Good: "large-enough",
	},
}

func runOverloaded(r *engine.Review) {
	for a := range r.EachRun() {
		if !a.LoadA.Known || !a.CapacityA.Known {
			continue // what is unknown is told once, by run-not-assessed
		}
		s := &a.Sections[a.Governing]
		if quantity.AtMost(a.LoadA.Value, a.CapacityA.Value) {
			continuous(r, a, s)
			continue
		}
		load, capacity := quantity.Ampere.Apart(a.LoadA.Value, a.CapacityA.Value)
		what := "carries " + load
		if a.OnNeutral {
			what = "carries " + load + " of third harmonic in its neutral"
		}
		if a.OnDemand {
			what = "carries " + load + " to loads and charging"
		}
		f := r.At(a.Run.SizeAt, a.Run.Subject(), fmt.Sprintf("run %q %s but is rated for %s%s: %s", a.Run.Name, what, capacity, where(a, s), working(r.Review, a, s)), advice(s))
		f.Figures = []finding.Figure{{Key: "design_current_a", Value: a.Segment.DesignCurrentA().Value}, {Key: "capacity_a", Value: a.CapacityA.Value}}
		if a.OnDemand {
			f.Figures = append(f.Figures, finding.Figure{Key: "demand_a", Value: a.LoadA.Value})
		}
		f.Percent, f.HasPercent = 100*a.LoadA.Value/a.CapacityA.Value, true
		f.Related = because(r.Review, a, s)
		f.Memory = remembered(s)
		r.Find(f)
	}
}

// continuous tells a run that carries more than a rule for continuous duty allows.
func continuous(r *engine.Review, a *assess.Run, s *assess.Section) {
	most := a.Continuous()
	if !most.Known || quantity.AtMost(a.LoadA.Value, most.Value) {
		return
	}
	load, limit := quantity.Ampere.Apart(a.LoadA.Value, most.Value)
	f := r.At(a.Run.SizeAt, a.Run.Subject(), fmt.Sprintf("run %q carries %s without pause, and may carry %s (%s)", a.Run.Name, load, limit, a.ContinuousRef().Text), "choose a larger conductor, or terminals for a higher temperature")
	f.Figures = []finding.Figure{{Key: "design_current_a", Value: a.Segment.DesignCurrentA().Value}, {Key: "capacity_a", Value: a.CapacityA.Value}, {Key: "continuous_limit_a", Value: most.Value}}
	f.Percent, f.HasPercent = 100*a.LoadA.Value/most.Value, true
	f.Related = []finding.Related{{At: s.Section.At, Message: "the worst section"}}
	r.Find(f)
}

// where names the worst section when a run has several.
func where(a *assess.Run, s *assess.Section) string {
	if len(a.Sections) == 1 {
		return fmt.Sprintf(" on route %q", s.Route.Name)
	}
	return fmt.Sprintf(" in section %d, on route %q", a.Governing+1, s.Route.Name)
}

// working is the capacity of a section in one line.
func working(v *assess.Review, a *assess.Run, s *assess.Section) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s by %s", quantity.Ampere.Print(s.Rating.TabulatedA), s.Rating.Ref.Text)
	for _, f := range s.Rating.Factors {
		if f.Value == 1 {
			continue
		}
		fmt.Fprintf(&b, ", x %s %s", quantity.Ratio.Print(f.Value), f.Name)
		why := f.Why
		if f.Name == "grouping" || f.Name == "mixed-sizes" {
			if n := v.Neighbours(a, s); n != "" {
				why += "; with " + n
			}
		}
		if why != "" {
			fmt.Fprintf(&b, " (%s)", why)
		}
	}
	if a.Legs > 1 {
		fmt.Fprintf(&b, ", x %d legs", a.Legs)
	}
	return b.String()
}

// because points at the lines that took part in a section's capacity.
func because(v *assess.Review, a *assess.Run, s *assess.Section) []finding.Related {
	list := []finding.Related{{At: s.Section.At, Message: "the worst section"}}
	route := s.Route
	list = append(list, finding.Related{At: route.At, Message: fmt.Sprintf("route %q: method %s, %s", route.Name, s.Rating.Method, count(s.Group.Circuits, "loaded circuit", "loaded circuits"))})
	if route.Lid.Value {
		list = append(list, finding.Related{At: route.Lid.At, Message: "the lid makes the route an enclosure"})
	}
	if route.Sun.Value {
		list = append(list, finding.Related{At: route.Sun.At, Message: "it lies in the sun"})
	}
	if route.AirC.Known() {
		list = append(list, finding.Related{At: route.AirC.At, Message: "its ambient temperature"})
	}
	shown := map[source.Range][]string{} // copies of one block stand in one place
	var order []source.Range
	for _, b := range v.Company(a, s) {
		if shown[b.Run.At] == nil {
			order = append(order, b.Run.At)
		}
		shown[b.Run.At] = append(shown[b.Run.At], b.Run.Name)
	}
	for i, at := range order {
		if i == 8 {
			list = append(list, finding.Related{At: route.At, Message: fmt.Sprintf("and %d more", len(order)-8)})
			break
		}
		list = append(list, finding.Related{At: at, Message: short(shown[at]) + " shares the route"})
	}
	return list
}

// short names a few runs.
func short(names []string) string {
	if len(names) > 6 {
		names = append(names[:5:5], fmt.Sprintf("%d more", len(names)-5))
	}
	if len(names) == 1 {
		return fmt.Sprintf("run %q", names[0])
	}
	return "each of " + strings.Join(names, ", ")
}

// advice is the next step, by the factor that costs most.
func advice(s *assess.Section) string {
	worst := ratings.Factor{Value: 1}
	for _, f := range s.Rating.Factors {
		if f.Value < worst.Value {
			worst = f
		}
	}
	tail := ""
	if s.Route.Lid.Value {
		tail = ", take off the lid"
	}
	switch worst.Name {
	case "grouping", "mixed-sizes":
		tail += ", split the group over two routes, or hold the circuits apart"
	case "ambient-air":
		if s.Route.Sun.Value {
			tail += ", or shade the route"
		} else {
			tail += ", or move it to a cooler route"
		}
	case "depth", "soil-resistivity", "ambient-soil":
		tail += ", or lay it where the ground is better"
	}
	return "choose a larger conductor" + tail
}

// remembered lists the figures of a section that are from memory.
func remembered(s *assess.Section) []string {
	var list []string
	if s.Rating.Ref.Status == ratings.Memory {
		list = append(list, s.Rating.Ref.Text)
	}
	for _, f := range s.Rating.Factors {
		if f.Ref.Status == ratings.Memory {
			list = append(list, f.Ref.Text)
		}
	}
	return list
}
