package rules

import (
	"fmt"

	"trefoil/lint/engine"
	"trefoil/lint/finding"
	"trefoil/ratings/quantity"
)

// VoltageRise reports a source that raises the voltage beyond the limit.
var VoltageRise = &engine.Rule{
	Name: "voltage-rise", Summary: "voltage rise from the point of supply to a source is above the limit", Severity: finding.Error,
	Clause: engine.Clause{Publication: "AS/NZS 4777.1", Edition: "2016", Number: "clause 3.3.3, 2 %; elsewhere the limit of the network, stated in the design"}, Since: "0.1.0", Check: voltageRise,
	Doc: engine.Doc{
		Checks:  "For each source the sum over every segment between it and the point of supply: current of all sources behind the segment, resistance at working temperature, reactance, power factor; against rise_limit_percent of the site.",
		Why:     "A source that raises its own voltage too far cuts out on sunny days, and neighbours on the network are disturbed.",
		Accepts: "the rise in percent of nominal",
		Blind:   "Loads, which are taken as zero; the network in front of the point of supply; the voltage there. The figure is the trade's formula, which overstates the exact one a little.",
		Sources: "IEC 60364-5-52:2009 Annex G; NT WorkSafe, technical update on voltage rise (2 % from the point of supply to the inverter).", Bad: "long-submain", Good: "below-limit",
	},
}

// maxShares bounds the runs of a path that a finding lists; no path is so long but one that
// was made to fill the memory.
const maxShares = 100

func voltageRise(r *engine.Review) {
	site := r.Design.Site()
	if site == nil || !site.RiseLimitPercent.Known() {
		return
	}
	limit := site.RiseLimitPercent.Value
	for n := range r.EachNode() {
		source := r.Tree.Nodes[n].Source
		if source == nil {
			continue
		}
		total, known := r.Verdict().AtSource(n)
		if !known || quantity.AtMost(total.Percent, limit) {
			continue
		}
		_, shares, _ := r.Verdict().Source(n)
		rise, most := quantity.Percent.Apart(total.Percent, limit)
		origin := ""
		if site.RiseLimitOrigin.Known() {
			origin = " (" + site.RiseLimitOrigin.Value + ")"
		}
		largest := shares[0]
		var related []finding.Related
		for _, s := range shares {
			if s.Percent > largest.Percent {
				largest = s
			}
			if len(related) == maxShares {
				continue
			}
			a := &r.Runs[s.Segment]
			related = append(related, finding.Related{At: a.Run.At, Message: fmt.Sprintf("run %q adds %s (%s): %s of %s, %s, %s from %s",
				a.Run.Name, quantity.Percent.Print(s.Percent), quantity.Volt.Print(s.V), quantity.Metre.Maybe(a.LengthM), legs(a.Legs, a.Run.Size),
				quantity.OhmPerKM.Maybe(a.ROhmKM()), quantity.Ampere.Print(a.Segment.RiseMaxA()), sources(a.Segment.Sources))})
		}
		if n := len(shares) - len(related); n > 0 {
			related = append(related, finding.Related{At: source.At, Message: fmt.Sprintf("%d more runs of the path add the rest", n)})
		}
		related = append(related, finding.Related{At: site.RiseLimitPercent.At, Message: "the limit"})
		worst := &r.Runs[largest.Segment]
		f := r.At(source.At, source.Subject(), fmt.Sprintf("source %q raises the voltage by %s (%s), above the limit of %s%s; run %q alone adds %s",
			source.Name, rise, quantity.Volt.Print(total.V), most, origin, worst.Run.Name, quantity.Percent.Print(largest.Percent)),
			fmt.Sprintf("choose a larger conductor for run %q first, shorten the path, or agree another limit with the network", worst.Run.Name))
		f.Figures = []finding.Figure{{Key: "path_rise_percent", Value: total.Percent}, {Key: "path_rise_v", Value: total.V}, {Key: "limit_percent", Value: limit}}
		f.Percent, f.HasPercent = total.Percent, true
		f.Related = related
		r.Find(f)
	}
}

func legs(n int, size quantity.Size) string {
	if n > 1 {
		return fmt.Sprintf("%d x %s", n, size)
	}
	return size.String()
}

func sources(n int) string {
	if n == 1 {
		return "1 source"
	}
	return fmt.Sprintf("%d sources", n)
}
