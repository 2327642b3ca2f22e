package document

import (
	"fmt"
	"strings"

	"trefoil/lint/assess"
	"trefoil/lint/chart"
	"trefoil/lint/design"
	"trefoil/lint/network"
	"trefoil/lint/report"
	"trefoil/lint/schedule"
	"trefoil/ratings/quantity"
)

// riser is a source with the rise on its path.
type riser struct {
	node   int
	source *design.Source
	total  network.Share
	shares []network.Share // the last one is that of its own run
}

// rise is the statement of voltage rise: for sources that share a path, that path once,
// then a row for each of them, and their profile.
func (m *maker) rise() Part {
	v := m.v
	p := Part{ID: "rise", Title: "Voltage rise"}
	groups := map[string][]riser{}
	var keys, unknown []string
	for n := range v.Tree.Nodes {
		s := v.Tree.Nodes[n].Source
		if s == nil {
			continue
		}
		total, shares, known := v.Verdict().Source(n)
		if !known {
			unknown = append(unknown, s.Name)
			continue
		}
		key := ""
		for _, x := range shares[:len(shares)-1] {
			key += fmt.Sprintf("%d:%.12g ", x.Segment, x.Percent)
		}
		if groups[key] == nil {
			keys = append(keys, key)
		}
		groups[key] = append(groups[key], riser{n, s, total, shares})
	}
	p.Blocks = append(p.Blocks, Block{Head: "Statement", Facts: m.riseFacts()})
	if len(unknown) > 0 {
		p.Blocks = append(p.Blocks, Block{Text: []string{"It could not be worked out for: " + strings.Join(unknown, ", ") + "."}})
	}
	if len(keys) == 0 && len(unknown) == 0 {
		p.Blocks = append(p.Blocks, Block{Text: []string{"The design has no source."}})
	}
	for i, key := range keys {
		p.Blocks = append(p.Blocks, m.pathBlocks(i+1, groups[key])...)
	}
	p.Blocks = append(p.Blocks, Block{Head: "Signed", Boxes: []string{"prepared by", "checked by", "licence", "date"}})
	return p
}

func (m *maker) riseFacts() []Fact {
	v, s := m.v, m.site
	facts := []Fact{}
	if len(v.Design.Supplies) > 0 {
		facts = append(facts, said("point of supply", v.Design.Supplies[0].Name, v.Design.Supplies[0].Origin.Value))
		if n := v.Design.Supplies[0].MaxV; n.Origin != design.Absent {
			facts = append(facts, fact("its greatest voltage", quantity.Volt, n.Maybe(), "not in the figures below unless said so"))
		}
	}
	facts = append(facts, fact("nominal voltage", quantity.Volt, v.Tree.VoltageV, "percent refers to it; line to neutral for one phase"))
	if s == nil {
		return facts
	}
	if s.RiseLimitPercent.Origin != design.Absent {
		facts = append(facts, fact("limit", quantity.Percent, s.RiseLimitPercent.Maybe(), s.RiseLimitOrigin.Value))
	} else {
		facts = append(facts, said("limit", "none is given", "the rise is held against nothing"))
	}
	current := "at their rated current"
	if s.RiseAt.Value == "max" {
		current = "at their greatest continuous current"
	}
	facts = append(facts, said("currents", "all sources together "+current, "no diversity, loads taken as none; P and Q summed as phasors"))
	if v.ByExact() {
		text := "exact: phasors of each phase and the neutral, constant power"
		if s.RiseSupply.Value == "max" {
			text += ", at the greatest voltage of the supply"
		}
		facts = append(facts, said("method", text, ""))
	} else {
		facts = append(facts, said("method", "R and X of each segment: sqrt3 I (R cos phi + X sin phi) where it is balanced", "IEC 60364-5-52 Annex G"))
	}
	return append(facts, said("conductors", "at the operating limit of their insulation", ""))
}

// sized is what a run is made of: "2 x 300 mm2 cu-1c".
func sized(a *assess.Run) string {
	text := a.Run.Size.String()
	if a.Legs > 1 {
		text = fmt.Sprintf("%d x %s", a.Legs, text)
	}
	if a.Cable != nil {
		text += " " + a.Cable.Name
	}
	return text
}

// number is a column of figures.
func number(name, head string, unit quantity.Unit) schedule.Column {
	return schedule.Column{Name: name, Head: head, Type: schedule.Number, Unit: unit}
}

func known(x float64) schedule.Cell { return schedule.FigureCell(quantity.Of(x)) }

// pathBlocks are the common path of some sources, the sources, and their profile.
func (m *maker) pathBlocks(n int, list []riser) []Block {
	v := m.v
	common := list[0].shares[:len(list[0].shares)-1]
	end := v.Tree.Nodes[v.Tree.Segments[list[0].shares[len(common)].Segment].Near].Subject
	of := plural(len(list), "source", "sources")
	head := Block{ID: fmt.Sprintf("path-%d", n), Head: fmt.Sprintf("%s behind %s", of, end)}

	path := schedule.Table{Kind: "path", Title: "Path from the point of supply to " + end, Columns: []schedule.Column{
		text("run", "run"), text("class", "class"), text("made_of", "made of"), number("length_m", "length", quantity.Metre),
		number("current_a", "current", quantity.Ampere), number("r_ohm_km", "R of a leg", quantity.OhmPerKM), number("x_ohm_km", "X of a leg", quantity.OhmPerKM),
		number("rise_v", "rise", quantity.Volt), number("rise_percent", "rise", quantity.Percent),
	}}
	for _, s := range common {
		a := &v.Runs[s.Segment]
		path.Rows = append(path.Rows, []schedule.Cell{
			schedule.TextCell(a.Run.Name), schedule.TextCell(a.Run.Class.Value), schedule.TextCell(sized(a)), schedule.FigureCell(a.LengthM), known(a.Segment.RiseMaxA()),
			schedule.FigureCell(a.ROhmKM()), schedule.FigureCell(a.XOhmKM()), known(s.V), known(s.Percent),
		})
	}
	sources := schedule.Table{Kind: "sources", Title: "Each source, from " + end + " on and in all", Columns: []schedule.Column{
		text("source", "source"), number("rated_kva", "rating", quantity.KVA), number("power_factor", "power factor", quantity.Ratio), text("phases", "phases"),
		text("run", "run"), text("made_of", "made of"), number("length_m", "length", quantity.Metre), number("current_a", "current", quantity.Ampere),
		number("rise_v", "rise", quantity.Volt), number("rise_percent", "rise", quantity.Percent),
		number("path_rise_v", "in all", quantity.Volt), number("path_rise_percent", "in all", quantity.Percent), text("verdict", "limit"),
	}}
	for _, r := range list {
		own := r.shares[len(common)]
		a := &v.Runs[own.Segment]
		sources.Rows = append(sources.Rows, []schedule.Cell{
			schedule.TextCell(r.source.Name), schedule.FigureCell(v.KVA(r.source)), schedule.FigureCell(r.source.PowerFactor.Maybe()), schedule.TextCell(a.Segment.Phases()),
			schedule.TextCell(a.Run.Name), schedule.TextCell(sized(a)), schedule.FigureCell(a.LengthM), known(a.Segment.RiseMaxA()),
			known(own.V), known(own.Percent), known(r.total.V), known(r.total.Percent), schedule.TextCell(m.held(r.source)),
		})
	}
	blocks := []Block{head}
	if len(common) > 0 {
		path = filled(path)
		blocks = append(blocks, Block{Table: &path})
	}
	blocks = append(blocks, Block{Table: &sources})
	if c := m.profile(head.ID, end, common, list); c != nil {
		blocks = append(blocks, Block{Chart: c})
	}
	return blocks
}

// held says how a source stands to the limit, by what was found.
func (m *maker) held(s *design.Source) string {
	for _, f := range m.told[s.Subject()] {
		switch {
		case f.Rule != "voltage-rise":
		case f.Waived:
			return "over, waived"
		default:
			return "over"
		}
	}
	if m.site == nil || !m.site.RiseLimitPercent.Known() {
		return "none given"
	}
	return "within"
}

// profile is the voltage along the common path and on to each source. The lengths and
// shares of the segments are put one after the other; a length that is not known leaves
// nothing to draw.
func (m *maker) profile(id, end string, common []network.Share, list []riser) *Chart {
	v := m.v
	plot := chart.Profile{Name: id + "-profile", Title: report.Clean("Voltage rise on the way to " + end + " and its sources")}
	var key []string
	at := chart.Point{}
	plot.Trunk = append(plot.Trunk, at)
	node := func(n int) string { return v.Tree.Nodes[n].Subject }
	for _, s := range common {
		a := &v.Runs[s.Segment]
		if !a.LengthM.Known {
			return nil
		}
		at.M, at.Percent = at.M+a.LengthM.Value, at.Percent+s.Percent
		plot.Trunk = append(plot.Trunk, at)
		plot.Nodes = append(plot.Nodes, at)
		key = append(key, fmt.Sprintf("%d %s", len(plot.Nodes), node(a.Segment.Far)))
	}
	worst := list[0]
	for _, r := range list {
		a := &v.Runs[r.shares[len(common)].Segment]
		if !a.LengthM.Known {
			return nil
		}
		held := m.held(r.source)
		plot.Branches = append(plot.Branches, chart.Branch{Name: report.Clean(r.source.Name), To: chart.Point{M: at.M + a.LengthM.Value, Percent: r.total.Percent}, Over: strings.HasPrefix(held, "over")})
		if r.total.Percent > worst.total.Percent {
			worst = r
		}
	}
	plot.Desc = fmt.Sprintf("%s over %s; the greatest is %s at source %s", plural(len(list), "source", "sources"),
		quantity.Metre.Print(at.M)+" of common path", quantity.Percent.Print(worst.total.Percent), report.Clean(worst.source.Name))
	if m.site != nil && m.site.RiseLimitPercent.Known() {
		plot.Limit = m.site.RiseLimitPercent.Maybe()
		plot.LimitText = "limit " + quantity.Percent.Print(plot.Limit.Value)
		plot.Desc += ", the limit " + quantity.Percent.Print(plot.Limit.Value)
	}
	plot.Desc += "."
	return &Chart{plot.Scene(), key}
}

func plural(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}
