package document

import (
	"fmt"
	"strings"

	"trefoil/lint/assess"
	"trefoil/ratings"
	"trefoil/ratings/quantity"
)

// sheet collects the rows of one run's working.
type sheet struct {
	rows   []Row
	prefix string // of the keys
}

func (s *sheet) head(text string) { s.rows = append(s.rows, Row{Head: text}) }

// add adds a figure of calc; nothing where it has none.
func (s *sheet) add(key, name, how string, unit quantity.Unit, x *float64, ref string) {
	if x == nil {
		return
	}
	s.rows = append(s.rows, Row{Key: s.prefix + key, Name: name, How: how, Value: *x, Known: true, Shown: quantity.Unit{Decimals: unit.Decimals}.Print(*x), Unit: unit.Symbol, Ref: ref})
}

// figure adds a figure whose size is not known beforehand.
func (s *sheet) figure(key, name, how, unit string, x float64, ref string) {
	s.rows = append(s.rows, Row{Key: s.prefix + key, Name: name, How: how, Value: x, Known: true, Shown: quantity.Figure(x), Unit: unit, Ref: ref})
}

// marked is a reference with its status, where that is not a print.
func marked(ref, status string) string {
	if status == "" || status == string(ratings.Published) {
		return ref
	}
	return strings.TrimSpace(ref + " (" + status + ")")
}

// workings are the calculation sheets, one a run: the figures of calc in their order.
func (m *maker) workings() Part {
	p := Part{ID: "workings", Title: "Calculation sheets"}
	for i := range m.calc.Runs {
		a := &m.v.Runs[i]
		b := Block{ID: fmt.Sprintf("run-%d", i+1), Head: "Run " + a.Run.Name, Facts: m.runFacts(a)}
		for _, f := range m.told[a.Run.Subject()] {
			b.Findings = append(b.Findings, Finding{Severity: f.Severity.String(), Rule: f.Rule, Message: f.Message, Waived: f.Waiver})
		}
		b.Working = m.working(i)
		for _, why := range m.calc.Runs[i].NotAssessed {
			b.Text = append(b.Text, "Not checked: "+why+".")
		}
		p.Blocks = append(p.Blocks, b)
	}
	if len(p.Blocks) == 0 {
		p.Blocks = []Block{{Text: []string{"There is no run."}}}
	}
	return p
}

// runFacts say what a run is.
func (m *maker) runFacts(a *assess.Run) []Fact {
	made := sized(a)
	if k := a.Cable; k != nil {
		made += ": " + strings.Join([]string{k.Conductor.Value, k.Strands.Value, k.Insulation.Value, k.Build.Value}, ", ")
		if k.Build.Value == "single-core" {
			made += ", " + k.Formation.Value
		} else {
			made += " " + k.Cores.Value
		}
	}
	facts := []Fact{said("between", end(a.Run.From.Subject(), a.Run.From.Name)+" and "+end(a.Run.To.Subject(), a.Run.To.Name), ""), said("made of", made, "")}
	facts = stated(facts, "description", a.Run.Note, "")
	facts = stated(facts, "class", a.Run.Class, "")
	for k := range a.Run.Devices {
		d := &a.Run.Devices[k]
		note := ""
		if at := m.v.DeviceAt(a, d); at != "" {
			note = "at " + at
		}
		facts = append(facts, said("device", strings.TrimSpace(quantity.Ampere.Maybe(d.RatedA.Maybe())+" "+d.Kind.Value), note))
	}
	return append(facts, said("written at", a.Run.At.String(), ""))
}

func end(subject, name string) string {
	if name == "" {
		return "nothing that is declared"
	}
	return subject
}

// working lists the figures of a run with how they come about.
func (m *maker) working(i int) []Row {
	r, a := &m.calc.Runs[i], &m.v.Runs[i]
	s := &sheet{}
	s.head("Current")
	s.add("design_current_a", "design current Ib", "greatest continuous currents of "+plural(a.Segment.Sources, "source", "sources")+" behind it, the worst phase", quantity.Ampere, r.DesignCurrentA, "")
	s.add("demand_a", "demand", "all loads and charging behind it", quantity.Ampere, r.DemandA, "")
	s.add("device_a", "device In", "rating, or the setting where it is adjustable", quantity.Ampere, r.DeviceA, "stated")
	s.add("leg_share_percent", "share of the shortest leg", "by the lengths of the legs", quantity.Percent, r.LegSharePercent, "")
	s.add("leg_current_a", "current of that leg", "share x current", quantity.Ampere, r.LegCurrentA, "")
	for k := range r.Sections {
		x, sec := &r.Sections[k], &a.Sections[k]
		s.prefix = ""
		s.head(fmt.Sprintf("Section %d: route %s%s", k+1, x.Route, laid(sec)))
		s.prefix = fmt.Sprintf("sections.%d.", k)
		s.add("length_m", "length", "", quantity.Metre, x.LengthM, sec.Section.LengthFrom.Value)
		s.add("size_mm2", "size in this section", "", quantity.SquareMM, x.SizeMM2, "stated")
		if x.TabulatedA != nil {
			s.add("tabulated_a", "tabulated capacity of a leg", "method "+x.Method, quantity.Ampere, x.TabulatedA, marked(x.Ref, x.From))
		}
		for f := range x.Factors {
			y := &x.Factors[f]
			how := y.Why
			if y.Name == "grouping" || y.Name == "mixed-sizes" {
				if n := m.v.Neighbours(a, sec); n != "" {
					how = strings.TrimPrefix(how+"; with "+n, "; ")
				}
			}
			s.add(fmt.Sprintf("factors.%d.value", f), "x "+y.Name, how, quantity.Ratio, &y.Value, marked(y.Ref, y.From))
		}
		s.add("capacity_a", "= capacity of a leg", "tabulated capacity x factors", quantity.Ampere, x.CapacityA, "")
		for q := range x.Steps {
			y := &x.Steps[q]
			s.figure(fmt.Sprintf("steps.%d.value", q), y.Symbol, y.Meaning, y.Unit, y.Value, marked(y.Ref, y.From))
		}
		s.add("conductor_c", "conductor at design current", sec.HeatRef(), quantity.Celsius, x.ConductorC, "")
		s.add("fill_percent", "fill", "areas of the cables over that of the bore", quantity.Percent, x.FillPercent, "")
		s.add("fill_limit_percent", "fill allowed", "", quantity.Percent, x.FillLimitPercent, "")
		s.add("width_mm", "cables of the route side by side", "", quantity.Milli, x.WidthMM, "")
		s.add("room_mm", "room for them", "", quantity.Milli, x.RoomMM, "")
		s.add("kg_m", "mass on the route", "", quantity.KilogramM, x.KgM, "")
		s.add("limit_kg_m", "mass allowed", "", quantity.KilogramM, x.MayKgM, "stated")
		if sec.Rating != nil {
			for _, n := range sec.Rating.Notes {
				s.rows = append(s.rows, Row{Name: "note", How: n.Text})
			}
		}
	}
	s.prefix = ""
	s.head("Capacity")
	how := "capacity of a leg x legs"
	if len(r.Sections) > 1 && a.Governing >= 0 {
		how += fmt.Sprintf(", section %d is the worst", r.GoverningSection)
	}
	s.add("capacity_a", "capacity Iz", how, quantity.Ampere, r.CapacityA, "")
	s.add("utilisation_percent", "loaded to", "current / Iz", quantity.Percent, r.UtilisationPct, "")
	s.add("continuous_limit_a", "continuous duty", "the greatest design current", quantity.Ampere, r.ContinuousA, marked(a.ContinuousRef().Text, string(a.ContinuousRef().Status)))
	s.add("conductor_c", "conductor at design current", "the hottest section", quantity.Celsius, r.ConductorC, "")
	s.head("Voltage")
	s.add("r_ohm_km", "R of a leg", "", quantity.OhmPerKM, r.ROhmKM, r.ZRef)
	s.add("x_ohm_km", "X of a leg", "", quantity.OhmPerKM, r.XOhmKM, "")
	formula := "sqrt3 I (R cos phi + X sin phi) L; unbalanced: worst phase and neutral"
	s.add("rise_v", "rise", formula, quantity.Volt, r.RiseV, "IEC 60364-5-52 Annex G")
	s.add("rise_percent", "rise", "of nominal", quantity.Percent, r.RisePercent, "")
	s.add("path_rise_v", "rise from the supply", "percentages of the segments added", quantity.Volt, r.PathRiseV, "")
	s.add("path_rise_percent", "rise from the supply", "", quantity.Percent, r.PathRisePercent, "")
	s.add("exact_rise_percent", "exact rise", "phasor solution, constant power", quantity.Percent, r.ExactRisePercent, "")
	s.add("exact_path_rise_percent", "exact rise from the supply", "phasor solution, constant power", quantity.Percent, r.ExactPathPercent, "")
	s.add("rise_percent_at_conductor_c", "rise at that conductor temperature", "R at design current instead of at the limit", quantity.Percent, r.WarmRisePercent, "")
	s.add("path_rise_percent_at_conductor_c", "the same from the supply", "", quantity.Percent, r.WarmPathPercent, "")
	s.add("drop_v", "drop", "the same for the demand", quantity.Volt, r.DropV, "IEC 60364-5-52 Annex G")
	s.add("drop_percent", "drop", "of nominal", quantity.Percent, r.DropPercent, "")
	s.add("path_drop_v", "drop from the supply", "", quantity.Volt, r.PathDropV, "")
	s.add("path_drop_percent", "drop from the supply", "", quantity.Percent, r.PathDropPercent, "")
	s.add("loss_w", "loss", "I2 R of all legs, phases and neutral, at design current", quantity.Watt, r.LossW, "")
	s.add("loss_w_at_conductor_c", "loss at that conductor temperature", "", quantity.Watt, r.WarmLossW, "")
	if len(r.FaultSteps) > 0 {
		s.head("Faults")
	}
	for q := range r.FaultSteps {
		y := &r.FaultSteps[q]
		s.figure(fmt.Sprintf("fault_steps.%d.value", q), y.Symbol, y.Meaning, y.Unit, y.Value, marked(y.Ref, y.From))
	}
	return tidy(s.rows)
}

func laid(s *assess.Section) string {
	if s.Route == nil {
		return ", which is not declared"
	}
	text := ", " + s.Route.Laid.Value
	if s.Route.Lid.Value {
		text += " with lid"
	}
	return text
}

// tidy drops heads with nothing below them.
func tidy(rows []Row) (out []Row) {
	for i, r := range rows {
		if r.Head != "" && (i+1 == len(rows) || rows[i+1].Head != "") {
			continue
		}
		out = append(out, r)
	}
	return out
}
