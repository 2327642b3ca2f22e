package document

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"trefoil/lint/assess"
	"trefoil/lint/chart"
	"trefoil/lint/cost"
	"trefoil/lint/design"
	"trefoil/lint/engine"
	"trefoil/lint/finding"
	"trefoil/lint/report"
	"trefoil/lint/schedule"
	"trefoil/ratings/quantity"
)

// maker holds what the parts are built from.
type maker struct {
	Input
	v    *assess.Review
	site *design.Site // nil where the design has none
	calc report.CalcDocument
	told map[string][]*finding.Finding // by subject
}

// Of builds the report of a design.
func Of(in Input) *Document {
	v := in.Result.Review
	m := &maker{Input: in, v: v, site: v.Design.Site(), told: map[string][]*finding.Finding{}}
	runs := make([]int, len(v.Runs))
	for i := range runs {
		runs[i] = i
	}
	m.calc = report.NewCalcDocument(in.Tool, v, runs, "")
	for i := range in.Result.Findings {
		f := &in.Result.Findings[i]
		m.told[f.Subject] = append(m.told[f.Subject], f)
	}
	m.Schedule.Findings = in.Result.Findings
	d := &Document{Tool: in.Tool, Title: v.Design.Dir, Standing: schedule.Standing(in.Result.Findings)}
	if m.site != nil {
		d.Title = m.site.Name
	}
	d.Stamp = report.Stamp{Design: d.Title, Day: in.Today.Format("2006-01-02"), Revision: in.Revision.String()}
	d.Verdict = m.verdict(d.Standing)
	d.Parts = append(d.Parts, m.summary(), m.basis(), m.findings())
	d.Parts = append(d.Parts, m.drawings()...)
	d.Parts = append(d.Parts, m.rise(), m.loading())
	d.Parts = append(d.Parts, m.schedules()...)
	d.Parts = append(d.Parts, m.quantities())
	d.Parts = append(d.Parts, m.workings(), m.waivers(), m.checks())
	return d
}

// verdict says in a sentence how the design stands.
func (m *maker) verdict(standing string) string {
	left := m.Result.Runs - m.Result.Assessed
	switch {
	case m.Result.Runs == 0:
		return "There is no run to assess; nothing is shown to hold."
	case standing != "":
		return standing + ". Do not buy or build from this design."
	case left > 0:
		return fmt.Sprintf("No error stands open, but %d of %d runs could not be assessed.", left, m.Result.Runs)
	}
	return "No error stands open in what is checked."
}

// fact is a figure of the report's own parts.
func fact(head string, unit quantity.Unit, x quantity.Maybe, note string) Fact {
	return Fact{Column: schedule.Column{Head: head, Type: schedule.Number, Unit: unit}, Cell: schedule.FigureCell(x), Note: note}
}

func counted(head string, n int, note string) Fact {
	f := fact(head, quantity.Unit{}, quantity.Of(float64(n)), note)
	f.Type = schedule.Whole
	return f
}

func said(head, text, note string) Fact {
	return Fact{Column: schedule.Column{Head: head}, Cell: schedule.Cell{State: schedule.Known, Text: text}, Note: note}
}

// stated is a text of the design where there is one.
func stated(list []Fact, head string, t design.Text, note string) []Fact {
	if t.Value == "" {
		return list
	}
	return append(list, said(head, t.Value, note))
}

func (m *maker) summary() Part {
	v, s := m.v, report.Summarise(m.Result)
	facts := []Fact{}
	if m.site != nil {
		facts = stated(facts, "stage", m.site.Stage, "")
		facts = stated(facts, "description", m.site.Note, "")
	}
	facts = append(facts,
		counted("runs", s.Runs, fmt.Sprintf("%d of them assessed", s.Assessed)),
		counted("sources", len(v.Design.Sources), ""),
		fact("all sources together", quantity.KVA, v.TotalKVA(), ""),
		counted("errors that stand open", s.Errors, ""),
		counted("warnings", s.Warnings, ""),
		counted("notes", s.Notes, ""),
		counted("waived", s.Waived, "accepted, see the register of waivers"),
	)
	if a := m.most(func(a *assess.Run) quantity.Maybe { return a.UtilisationPct() }); a != nil {
		facts = append(facts, fact("most loaded", quantity.Percent, a.UtilisationPct(), "run "+a.Run.Name+", of its capacity"))
	}
	if a := m.most(func(a *assess.Run) quantity.Maybe { return v.Verdict().Of(a.Index).PathPercent }); a != nil {
		note := "to the far end of run " + a.Run.Name
		if m.site != nil && m.site.RiseLimitPercent.Known() {
			note += ", limit " + quantity.Percent.Print(m.site.RiseLimitPercent.Value)
		}
		facts = append(facts, fact("greatest rise", quantity.Percent, v.Verdict().Of(a.Index).PathPercent, note))
	}
	if a := m.most(func(a *assess.Run) quantity.Maybe { return a.ConductorC() }); a != nil {
		facts = append(facts, fact("hottest conductor", quantity.Celsius, a.ConductorC(), "run "+a.Run.Name+", at design current"))
	}
	if r := m.Revision; r != nil {
		note := r.Subject
		if r.By != "" {
			note += " (" + r.By + ")"
		}
		facts = append(facts, said("revision", r.Commit+" of "+r.Day, note))
		if r.Changed {
			facts = append(facts, said("since then", "changed", "the text differs from that revision"))
		}
	}
	return Part{ID: "summary", Title: "Summary", Blocks: []Block{
		{Facts: facts},
		{Head: "Cautions", Text: []string{
			report.Caution,
			"Not checked: torque and workmanship of terminations; warning signs, and the place of isolators; pulling tension; direct current; harmonics beyond the third; starting currents; running as an island; selectivity beyond settings and makers' figures; IT systems; armour or tray as earth conductor; arc flash; fire and mechanical protection; whether what is built is what is written, beyond what the design records. The list of checks at the end says what each of them does not see.",
			"Figures are printed rounded; the full ones stand in the file behind them and in the JSON of trefoil calc.",
		}},
	}}
}

// most finds the run with the greatest known figure.
func (m *maker) most(figure func(*assess.Run) quantity.Maybe) (worst *assess.Run) {
	best := quantity.Maybe{}
	for i := range m.v.Runs {
		if x := figure(&m.v.Runs[i]); x.Known && (!best.Known || x.Value > best.Value) {
			worst, best = &m.v.Runs[i], x
		}
	}
	return worst
}

func (m *maker) basis() Part {
	v := m.v
	p := Part{ID: "basis", Title: "Basis"}
	var set []Fact
	if v.Set != nil {
		set = append(set,
			said("rating set", v.Info.Name, v.Info.Title),
			said("reference conditions", strings.Join([]string{"air " + quantity.Celsius.Print(v.Info.AirC), "soil " + quantity.Celsius.Print(v.Info.SoilC), quantity.SoilKMW.Print(v.Info.SoilKmW), "depth " + quantity.Metre.Print(v.Info.DepthM)}, ", "), "of the set"))
		if v.Info.SupersededBy != "" {
			set = append(set, said("superseded by", v.Info.SupersededBy, v.Info.SupersededFrom))
		}
	} else {
		set = append(set, said("rating set", "none that is known", "so no capacity is worked out"))
	}
	if s := m.site; s != nil {
		set = stated(set, "edition kept", s.EditionReason, "")
		set = stated(set, "own capacity tables", s.CapacityTables, "")
		for _, x := range []struct {
			head string
			unit quantity.Unit
			n    design.Num
			note string
		}{
			{"nominal voltage", quantity.Volt, s.VoltageV, "line to line"},
			{"air", quantity.Celsius, s.AirC, "where a route states none"},
			{"soil", quantity.Celsius, s.SoilC, "where a route states none"},
			{"soil resistivity", quantity.SoilKMW, s.SoilKmW, "where a route states none"},
			{"depth", quantity.Metre, s.DepthM, "where a route states none"},
			{"limit of voltage rise", quantity.Percent, s.RiseLimitPercent, s.RiseLimitOrigin.Value},
			{"limit of voltage drop", quantity.Percent, s.DropLimitPercent, s.DropLimitOrigin.Value},
		} {
			if x.n.Origin != design.Absent {
				set = append(set, fact(x.head, x.unit, x.n.Maybe(), x.note))
			}
		}
	}
	for _, t := range v.Took {
		set = append(set, said("taken", t.What, "the design does not state "+t.Attr))
	}
	p.Blocks = append(p.Blocks, Block{Head: "Ratings and conditions", Facts: set})

	if len(v.Design.Supplies) > 0 {
		p.Blocks = append(p.Blocks, Block{Head: "Point of supply", Facts: supply(v.Design.Supplies[0])})
	}
	f := m.calc.Figures
	p.Blocks = append(p.Blocks, Block{
		Head: "Where the figures come from",
		Text: []string{"Tabulated capacities, factors, resistances and reactances, counted once for each section that uses them. A figure from memory was not read in a print by whoever entered it: hold it against the standard before anything is built on it."},
		Facts: []Fact{
			counted("read in a print", f.Published, ""),
			counted("from memory", f.Memory, ""),
			counted("computed", f.Computed, "by a formula of the set"),
			counted("given in the design", f.Given, "makers' figures and your own"),
			counted("your own tables", f.UserTable, ""),
		},
	})
	if why := v.Unsolved(); why != "" {
		p.Blocks = append(p.Blocks, Block{Head: "Exact solution", Text: []string{"It could not be had: " + why + "."}})
	}
	return p
}

func supply(s *design.Supply) []Fact {
	facts := []Fact{said("supply", s.Name, s.Note.Value)}
	facts = stated(facts, "earthing", s.Earthing, "")
	for _, x := range []struct {
		head string
		unit quantity.Unit
		n    design.Num
	}{
		{"greatest fault current", quantity.KiloAmp, s.FaultKA},
		{"least fault current", quantity.KiloAmp, s.FaultMinKA},
		{"earth-fault loop", quantity.Ohm, s.EarthLoopOhm},
		{"X/R", quantity.Ratio, s.XOverR},
		{"greatest voltage", quantity.Volt, s.MaxV},
	} {
		if x.n.Origin != design.Absent {
			facts = append(facts, fact(x.head, x.unit, x.n.Maybe(), ""))
		}
	}
	if t := s.Transformer; t != nil {
		facts = append(facts, fact("transformer", quantity.KVA, t.RatedKVA.Maybe(), "impedance "+quantity.Percent.Maybe(t.ImpedancePercent.Maybe())))
	}
	return stated(facts, "by", s.Origin, "")
}

func (m *maker) findings() Part {
	p := Part{ID: "findings", Title: "Findings"}
	groups := []struct {
		head string
		in   func(*finding.Finding) bool
	}{
		{"Errors", func(f *finding.Finding) bool { return !f.Waived && f.Severity == finding.Error }},
		{"Warnings", func(f *finding.Finding) bool { return !f.Waived && f.Severity == finding.Warning }},
		{"Notes", func(f *finding.Finding) bool { return !f.Waived && f.Severity == finding.Note }},
		{"Waived", func(f *finding.Finding) bool { return f.Waived }},
	}
	for _, g := range groups {
		b := Block{Head: g.head}
		for i := range m.Result.Findings {
			f := &m.Result.Findings[i]
			if !g.in(f) {
				continue
			}
			t := Finding{Severity: f.Severity.String(), Rule: f.Rule, Subject: f.Subject, Place: f.At.String(), Message: f.Message, Next: f.Next, Waived: f.Waiver, Memory: f.Memory}
			for _, r := range f.Related {
				t.Related = append(t.Related, strings.TrimPrefix(r.At.String()+": "+r.Message, ": "))
			}
			b.Findings = append(b.Findings, t)
		}
		if len(b.Findings) > 0 {
			b.Head = fmt.Sprintf("%s (%d)", g.head, len(b.Findings))
			p.Blocks = append(p.Blocks, b)
		}
	}
	if len(p.Blocks) == 0 {
		p.Blocks = []Block{{Text: []string{"Nothing is found."}}}
	}
	return p
}

// drawings is a part for the sheets, where there are any.
func (m *maker) drawings() []Part {
	if len(m.Drawings) == 0 {
		return nil
	}
	p := Part{ID: "drawings", Title: "Drawings", Wide: true}
	for i := range m.Drawings {
		p.Blocks = append(p.Blocks, Block{Head: m.Drawings[i].Name, Drawing: &m.Drawings[i]})
	}
	return []Part{p}
}

// barsEach is how many runs one figure of the loading shows.
const barsEach = 30

// loading shows how far each run is loaded, the most loaded first.
func (m *maker) loading() Part {
	p := Part{ID: "loading", Title: "Loading of the runs"}
	var rows []chart.Bar
	unknown := 0
	for i := range m.v.Runs {
		a := &m.v.Runs[i]
		u := a.UtilisationPct()
		if !u.Known {
			unknown++
			continue
		}
		word := ""
		for _, f := range m.told[a.Run.Subject()] {
			if f.Rule == "run-overloaded" {
				word = "overloaded"
				if f.Waived {
					word = "overloaded, waived"
				}
			}
		}
		rows = append(rows, chart.Bar{Name: report.Clean(a.Run.Name), Percent: u.Value, Word: word})
	}
	slices.SortStableFunc(rows, func(a, b chart.Bar) int { return cmp.Compare(b.Percent, a.Percent) })
	text := "Load in percent of capacity, the most loaded first."
	if unknown > 0 {
		text += fmt.Sprintf(" Not shown, because it is not known: %d.", unknown)
	}
	p.Blocks = append(p.Blocks, Block{Text: []string{text}})
	n, most := 0, 100.0
	if len(rows) > 0 {
		most = max(most, rows[0].Percent)
	}
	for chunk := range slices.Chunk(rows, barsEach) {
		bars := chart.Bars{
			Name:  fmt.Sprintf("loading-%d", n/barsEach+1),
			Title: fmt.Sprintf("Runs %d to %d of %d by their load", n+1, n+len(chunk), len(rows)),
			Desc:  fmt.Sprintf("Bars from %s to %s of capacity.", quantity.Percent.Print(chunk[0].Percent), quantity.Percent.Print(chunk[len(chunk)-1].Percent)),
			Most:  most,
			Rows:  chunk,
		}
		p.Blocks = append(p.Blocks, Block{Chart: &Chart{Scene: bars.Scene()}})
		n += len(chunk)
	}
	return p
}

// inReport are the schedules that the report holds; the others are the command's.
var inReport = []string{"cables", "boards", "routes", "terminations", "drums"}

func (m *maker) schedules() (parts []Part) {
	for _, k := range schedule.Kinds {
		if !slices.Contains(inReport, k.Name) {
			continue
		}
		t := k.Of(m.v, m.Schedule)
		t, err := t.Pick([]string{"usual"})
		if err != nil {
			panic(err) // usual is always there
		}
		p := Part{ID: k.Name, Title: k.Title, Wide: true}
		if len(t.Rows) == 0 {
			p.Blocks = []Block{{Text: []string{"There is nothing to list."}}}
		} else {
			t = filled(t)
			if schedule.Standing(m.Schedule.Findings) != "" {
				t.Basis = t.Basis[1:] // every page of the report says it
			}
			p.Blocks = []Block{{Notes: t.Basis, Table: &t}}
		}
		parts = append(parts, p)
	}
	return parts
}

// filled leaves out the columns in which no row has anything.
func filled(t schedule.Table) schedule.Table {
	var names []string
	for i, c := range t.Columns {
		if slices.ContainsFunc(t.Rows, func(row []schedule.Cell) bool { return row[i].State != schedule.Empty }) {
			names = append(names, c.Name)
		}
	}
	if out, err := t.Pick(names); err == nil {
		return out
	}
	return t
}

// quantities is the bill of the design.
func (m *maker) quantities() Part {
	p := Part{ID: "quantities", Title: "Quantities and cost"}
	b := cost.Of(m.v)
	t := report.BillTable(b)
	if len(t.Rows) == 0 {
		p.Blocks = []Block{{Text: []string{"There is nothing to count."}}}
		return p
	}
	var sums []Fact
	for _, l := range report.BillLines(b) {
		sums = append(sums, said(l.What, l.Text(), ""))
	}
	p.Blocks = []Block{{Head: "Sums", Facts: sums}, {Head: "Items", Notes: t.Basis, Table: &t}}
	return p
}

// text is a column of the report's own tables.
func text(name, head string) schedule.Column { return schedule.Column{Name: name, Head: head} }

func (m *maker) waivers() Part {
	p := Part{ID: "waivers", Title: "Register of waivers"}
	t := schedule.Table{Kind: "waivers", Columns: []schedule.Column{
		text("rule", "rule"), text("on", "on"), text("reason", "reason"), text("approved_by", "approved by"), text("until", "until"),
		{Name: "accepts", Head: "accepts", Type: schedule.Number, Unit: quantity.Percent},
		text("state", "state"), text("at", "written at"),
	}}
	for _, w := range m.v.Design.Waivers {
		accepts := schedule.Cell{}
		if w.Accepts.Known() {
			accepts = known(w.Accepts.Value)
		}
		t.Rows = append(t.Rows, []schedule.Cell{schedule.TextCell(w.Name), schedule.TextCell(w.On.Subject()), schedule.TextCell(w.Reason.Value), schedule.TextCell(w.ApprovedBy.Value), schedule.TextCell(w.Until.Value), accepts, schedule.TextCell(m.standing(w)), schedule.TextCell(w.At.String())})
	}
	if len(t.Rows) == 0 {
		p.Blocks = []Block{{Text: []string{"The design waives nothing."}}}
		return p
	}
	p.Blocks = []Block{{Table: &t}}
	return p
}

// standing says what a waiver accepts, and what is told of it.
func (m *maker) standing(w *design.Waiver) string {
	subjects := []string{w.On.Subject()}
	if w.On.Set {
		subjects = m.v.Design.Copies(w.On)
	}
	if w.On.Kind == "site" && m.site != nil {
		subjects = []string{m.site.Subject()}
	}
	accepted := 0
	for _, s := range subjects {
		for _, f := range m.told[s] {
			if f.Waived && f.Rule == w.Name {
				accepted++
			}
		}
	}
	parts := []string{"accepts " + plural(accepted, "finding", "findings")}
	for _, f := range m.told[w.Subject()] {
		if f.At.File == w.Whole.File && f.At.Start >= w.Whole.Start && f.At.Start < w.Whole.End {
			parts = append(parts, f.Message)
		}
	}
	return strings.Join(parts, "; ")
}

// checks lists what was looked at: every rule, what it found, and what it does not see.
func (m *maker) checks() Part {
	p := Part{ID: "checks", Title: "What was checked, and what each check does not see"}
	found, waived := map[string]int{}, map[string]int{}
	for i := range m.Result.Findings {
		if f := &m.Result.Findings[i]; f.Waived {
			waived[f.Rule]++
		} else {
			found[f.Rule]++
		}
	}
	t := schedule.Table{Kind: "checks", Columns: []schedule.Column{
		text("rule", "rule"), text("summary", "finds that"), text("clause", "clause"),
		{Name: "found", Head: "found", Type: schedule.Whole},
		{Name: "waived", Head: "waived", Type: schedule.Whole},
		text("blind", "does not see"),
	}}
	whole := func(n int) schedule.Cell { return known(float64(n)) }
	for _, r := range m.Rules {
		t.Rows = append(t.Rows, []schedule.Cell{schedule.TextCell(r.Name), schedule.TextCell(r.Summary), schedule.TextCell(clause(r)), whole(found[r.Name]), whole(waived[r.Name]), schedule.TextCell(r.Doc.Blind)})
	}
	p.Blocks = []Block{{Text: []string{"0 says that a rule found nothing, not that all is known: what could not be assessed is a finding too, or stands with the working of the run."}, Table: &t}}
	return p
}

func clause(r *engine.Rule) string {
	if r.Idle {
		return "not run: " + r.Clause.String()
	}
	return r.Clause.String()
}
