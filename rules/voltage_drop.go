package rules

import (
	"fmt"

	"trefoil/lint/engine"
	"trefoil/lint/finding"
	"trefoil/lint/network"
	"trefoil/ratings/quantity"
)

// VoltageDrop warns of a load or a charging battery at which the voltage drops beyond the limit.
var VoltageDrop = &engine.Rule{
	Name: "voltage-drop", Summary: "voltage drop from the point of supply to a load or a charging battery is above the limit", Severity: finding.Warning,
	Clause: engine.Clause{Publication: "IEC 60364-5-52", Edition: "2009", Number: "clause 525 and Annex G; AS/NZS 3000 clause 3.6; BS 7671 section 525"}, Since: "0.1.0", Check: voltageDrop,
	Doc: engine.Doc{
		Checks:  "For each load, each board with demand_a and each battery while it charges, the sum over every segment between it and the point of supply with all of them drawing together and no source running; against drop_limit_percent of the site.",
		Why:     "A battery site carries current both ways, and a cable chosen for the rise of its inverter can be too long for its charging.",
		Accepts: "the drop in percent of nominal",
		Blind:   "Starting currents; the network in front of the point of supply. Loads that nobody wrote down.",
		Sources: "IEC 60364-5-52:2009 Annex G for the formula; 5 % by AS/NZS 3000 clause 3.6 is common practice as a limit.", Bad: "long-feeder", Good: "below-limit",
	},
}

func voltageDrop(r *engine.Review) {
	site := r.Design.Site()
	if site == nil || !site.DropLimitPercent.Known() {
		return
	}
	limit := site.DropLimitPercent.Value
	for i := range r.Tree.Takers {
		k := &r.Tree.Takers[i]
		if !r.Only.Reaches(k.Node) {
			continue
		}
		total, shares, known := r.Drops.Shares(k.Node, k.Word)
		if !known || quantity.AtMost(total.Percent, limit) {
			continue
		}
		drop, most := quantity.Percent.Apart(total.Percent, limit)
		related, worst := shareList(r, shares, "takes", func(s *network.Segment) string {
			return fmt.Sprintf("%s to %s", quantity.Ampere.Maybe(s.DemandA()), count(s.Takers, "load", "loads"))
		})
		related = append(related, finding.Related{At: site.DropLimitPercent.At, Message: "the limit"})
		what := "at " + k.Subject
		if k.Charge {
			what = "while " + k.Subject + " charges"
		}
		f := r.At(k.At, k.Subject, fmt.Sprintf("the voltage drops by %s (%s) %s, above the limit of %s%s; run %q alone takes %s",
			drop, quantity.Volt.Print(total.V), what, most, inBrackets(site.DropLimitOrigin.Value), r.Runs[worst.Segment].Run.Name, quantity.Percent.Print(worst.Percent)),
			fmt.Sprintf("choose a larger conductor for run %q first, shorten the path, or draw less at a time", r.Runs[worst.Segment].Run.Name))
		f.Figures = []finding.Figure{{Key: "path_drop_percent", Value: total.Percent}, {Key: "path_drop_v", Value: total.V}, {Key: "limit_percent", Value: limit}}
		f.Percent, f.HasPercent = total.Percent, true
		f.Related = related
		r.Find(f)
	}
}

// shareList names every segment of a path with its share, and gives the greatest.
func shareList(r *engine.Review, shares []network.Share, verb string, current func(*network.Segment) string) ([]finding.Related, network.Share) {
	worst := shares[0]
	var related []finding.Related
	for _, s := range shares {
		if s.Percent > worst.Percent {
			worst = s
		}
		if len(related) == maxShares {
			continue
		}
		a := &r.Runs[s.Segment]
		related = append(related, finding.Related{At: a.Run.At, Message: fmt.Sprintf("run %q %s %s (%s): %s of %s, %s, %s",
			a.Run.Name, verb, quantity.Percent.Print(s.Percent), quantity.Volt.Print(s.V), quantity.Metre.Maybe(a.LengthM), legs(a.Legs, a.Run.Size),
			quantity.OhmPerKM.Maybe(a.ROhmKM()), current(a.Segment))})
	}
	if n := len(shares) - len(related); n > 0 {
		related = append(related, finding.Related{At: r.Runs[worst.Segment].Run.At, Message: fmt.Sprintf("%s more of the path, and the greatest share is here", count(n, "run", "runs"))})
	}
	return related, worst
}

func inBrackets(s string) string {
	if s == "" {
		return ""
	}
	return " (" + s + ")"
}

func count(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

// DropLimitMissing notes that a drop is worked out and held against nothing.
var DropLimitMissing = &engine.Rule{
	Name: "drop-limit-missing", Summary: "loads or charging are stated, and no limit of voltage drop", Severity: finding.Note,
	Clause: engine.Clause{Publication: "IEC 60364-5-52", Edition: "2009", Number: "clause 525"}, Wide: true, Since: "0.1.0", Check: dropLimitMissing,
	Doc: engine.Doc{
		Checks: "That a design with loads or batteries states drop_limit_percent.",
		Why:    "Without a limit the drop is worked out and nobody is told when it is too great.",
		Blind:  "Whether the limit is the right one.", Sources: "Common practice.", Bad: "no-limit", Good: "limit",
	},
}

func dropLimitMissing(r *engine.Review) {
	site := r.Design.Site()
	if site == nil || len(r.Tree.Takers) == 0 || site.DropLimitPercent.Origin != 0 || r.Design.Broken {
		return
	}
	r.Find(r.At(site.At, site.Subject(), fmt.Sprintf("no limit of voltage drop is given, so the drop to %s is worked out but held against nothing", count(len(r.Tree.Takers), "load or battery", "loads and batteries")),
		"add drop_limit_percent and drop_limit_origin"))
}

// ChargeAssumed notes batteries that are taken to charge at their rating.
var ChargeAssumed = &engine.Rule{
	Name: "charge-assumed", Summary: "a battery does not state at what it charges; its rating is taken", Severity: finding.Note,
	Clause: engine.Clause{Own: "most battery inverters charge at what they deliver, and the drop counts that"}, Wide: true, Since: "0.1.0", Check: chargeAssumed,
	Doc: engine.Doc{
		Checks: "That each source of kind battery states charge_a or charge_kva, 0 included.",
		Why:    "The drop towards a charging battery, and the load of the runs in front of it, hang on that current.",
		Blind:  "Whether loads and charging coincide.", Sources: "Common practice.", Bad: "charge-unstated", Good: "charge-stated",
	},
}

func chargeAssumed(r *engine.Review) {
	var names finding.Names
	var first *network.Taker
	for i := range r.Tree.Takers {
		if k := &r.Tree.Takers[i]; k.Assumed {
			names.Add(k.Subject)
			if first == nil {
				first = k
			}
		}
	}
	if first == nil || r.Design.Broken {
		return
	}
	does, its := "does", "its rating is"
	if names.Len() > 1 {
		does, its = "do", "their ratings are"
	}
	r.Find(r.At(first.At, first.Subject, fmt.Sprintf("%s %s not state the charging current; %s taken for the drop", names, does, its), "add charge_a or charge_kva, 0 included"))
}
