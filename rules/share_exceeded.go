package rules

import (
	"fmt"

	"trefoil/lint/assess"
	"trefoil/lint/design"
	"trefoil/lint/engine"
	"trefoil/lint/finding"
	"trefoil/lint/network"
	"trefoil/lint/source"
	"trefoil/ratings/quantity"
)

// ShareExceeded reports segments of a class that take more of a path than their class may.
var ShareExceeded = &engine.Rule{
	Name: "share-exceeded", Summary: "segments of a class take more rise or drop than their class may", Severity: finding.Error,
	Clause: engine.Clause{Publication: "NSW Service and Installation Rules", Number: "clause 8.6.13, service mains at most 1 %; elsewhere the limit that the design states"}, Since: "0.1.0", Check: shareExceeded,
	Doc: engine.Doc{
		Checks:  "For each limit block of the site, the rise and the drop over all segments of its class (class of the run) on one path, against rise_percent and drop_percent.",
		Why:     "Networks grant their own service mains a share of the whole, and a whole within its limit can still spend too much there.",
		Accepts: "the rise or drop of the class in percent of nominal",
		Blind:   "A run that does not state its class.", Sources: "Essential Energy on NSW Rules clause 8.6.13, as published by it.", Bad: "mains-too-long", Good: "within-share",
	},
}

func shareExceeded(r *engine.Review) {
	site := r.Design.Site()
	if site == nil {
		return
	}
	for i := range site.Limits {
		l := &site.Limits[i]
		used := r.Only != nil
		for a := range r.EachRun() {
			if !a.Run.Class.Known() || a.Run.Class.Value != l.Class {
				continue
			}
			used = true
			overShare(r, a, l, l.RisePercent, r.Verdict(), a.Segment.Phases(), "raises", "rise_percent")
			overShare(r, a, l, l.DropPercent, r.Drops, a.Segment.TakePhases, "drops", "drop_percent")
		}
		if !used && !r.Design.Broken {
			f := r.At(l.At, site.Subject(), fmt.Sprintf("a limit is given for %s, and no run is of that class", l.Class), fmt.Sprintf("write class = %q in the runs it is meant for", l.Class))
			f.Severity = finding.Note
			r.Find(f)
		}
	}
}

// overShare tells a run at which its class goes beyond the limit.
func overShare(r *engine.Review, a *assess.Run, l *design.Limit, limit design.Num, by *network.Rises, word, verb, key string) {
	if !limit.Known() || a.Segment.State != network.Fed {
		return
	}
	_, shares, known := by.Shares(a.Segment.Far, word)
	if !known {
		return
	}
	sum, before := 0.0, 0.0
	var related []finding.Related
	for _, s := range shares {
		if run := &r.Runs[s.Segment]; run.Run.Class.Known() && run.Run.Class.Value == l.Class {
			before, sum = sum, sum+s.Percent
			if run != a {
				related = append(related, finding.Related{At: run.Run.At, Message: fmt.Sprintf("run %q, of the same class, takes %s", run.Run.Name, quantity.Percent.Print(s.Percent))})
			}
		}
	}
	if quantity.AtMost(sum, limit.Value) || !quantity.AtMost(before, limit.Value) {
		return // within the limit, or told at the run in front of it
	}
	got, most := quantity.Percent.Apart(sum, limit.Value)
	what := "raises the voltage by"
	if verb == "drops" {
		what = "lowers the voltage towards loads by"
	}
	f := r.At(a.Run.Class.At, a.Run.Subject(), fmt.Sprintf("run %q of class %s %s %s, above the %s of its class%s", a.Run.Name, l.Class, what, got, most, inBrackets(l.Origin.Value)),
		"choose a larger conductor, or agree another share")
	f.Figures = []finding.Figure{{Key: key, Value: sum}, {Key: "limit_percent", Value: limit.Value}}
	f.Percent, f.HasPercent = sum, true
	f.Related = append(related, finding.Related{At: limit.At, Message: "the limit"})
	r.Find(f)
}

// VoltageAboveWindow reports a source at whose terminals the voltage leaves its window.
var VoltageAboveWindow = &engine.Rule{
	Name: "voltage-above-window", Summary: "the supply's greatest voltage plus the rise is above what a source stays on at", Severity: finding.Error,
	Clause: engine.Clause{Publication: "IEC 60038", Edition: "2009", Number: "clause 3.1 for the supply; the source's data sheet for the limit"}, Since: "0.1.0", Check: voltageAboveWindow,
	Doc: engine.Doc{
		Checks:  "max_v of the supply plus the rise along the path of each source, against max_v of the source.",
		Why:     "A rise within its limit still cuts the source out when the network is at the top of its band, and then nobody finds a fault.",
		Accepts: "the voltage in percent of nominal",
		Blind:   "How often the supply is at its greatest voltage; settings that reduce power before the limit.", Sources: "AS 60038 and Victoria's distribution code, 253 V, as published by the regulator; common practice.", Bad: "high-supply", Good: "inside",
	},
}

func voltageAboveWindow(r *engine.Review) {
	if len(r.Design.Supplies) == 0 || !r.Tree.VoltageV.Known {
		return
	}
	supply := r.Design.Supplies[0]
	if !supply.MaxV.Known() {
		return
	}
	for n := range r.EachNode() {
		s := r.Tree.Nodes[n].Source
		if s == nil || !s.MaxV.Known() {
			continue
		}
		total, known := r.Verdict().AtSource(n)
		if !known {
			continue
		}
		nominal := network.Nominal(r.Tree.PhaseOf(s), r.Tree.VoltageV.Value)
		base := supply.MaxV.Value * nominal / r.Tree.VoltageV.Value
		v := base + total.V
		if quantity.AtMost(v, s.MaxV.Value) {
			continue
		}
		got, most := quantity.Volt.Apart(v, s.MaxV.Value)
		f := r.At(s.MaxV.At, s.Subject(), fmt.Sprintf("source %q sees up to %s, the supply's %s and a rise of %s, and stays on up to %s", s.Name, got, quantity.Volt.Print(base), quantity.Volt.Print(total.V), most),
			"ask the network for a lower tap, or choose larger conductors on the path")
		f.Figures = []finding.Figure{{Key: "voltage_v", Value: v}, {Key: "limit_v", Value: s.MaxV.Value}, {Key: "path_rise_v", Value: total.V}}
		f.Percent, f.HasPercent = 100*v/nominal, true
		f.Related = []finding.Related{{At: supply.MaxV.At, Message: "the supply's greatest voltage"}}
		r.Find(f)
	}
}

// PhaseUnbalance reports single-phase sources that load the phases unequally.
var PhaseUnbalance = &engine.Rule{
	Name: "phase-unbalance", Summary: "single-phase sources load the phases too unequally", Severity: finding.Error,
	Clause: engine.Clause{Publication: "AS/NZS 4777.1", Edition: "2016", Number: "clause 3.4.4, phase balance; elsewhere the limit of the network"}, Wide: true, Since: "0.1.0", Check: phaseUnbalance,
	Doc: engine.Doc{
		Checks:  "The difference between the phases of the rated power of single-phase sources against phase_difference_limit_kva. Without a limit the difference is told as a note.",
		Why:     "Unequal phases load the neutral and unbalance the voltage of everybody on the transformer.",
		Accepts: "the difference in percent of the limit",
		Blind:   "What single-phase loads add; sources that the network counts elsewhere.", Sources: "SEANZ guide to AS/NZS 4777.1:2016, 5 kW between phases; the limit is an input.", Bad: "all-on-one", Good: "spread",
	},
}

func phaseUnbalance(r *engine.Review) {
	site := r.Design.Site()
	sum, sources, known := r.Tree.PhaseKVA()
	if site == nil || sources == 0 || !known {
		return
	}
	difference := max(sum[0], sum[1], sum[2]) - min(sum[0], sum[1], sum[2])
	spread := fmt.Sprintf("L1 %s, L2 %s, L3 %s", quantity.KVA.Print(sum[0]), quantity.KVA.Print(sum[1]), quantity.KVA.Print(sum[2]))
	limit := site.PhaseDifferenceLimitKVA
	if limit.Origin == design.Absent {
		if difference > 0 && !r.Design.Broken {
			f := r.At(site.At, site.Subject(), fmt.Sprintf("the single-phase sources differ by %s between the phases (%s), and no limit is stated", quantity.KVA.Print(difference), spread), "ask the network, and add phase_difference_limit_kva")
			f.Severity = finding.Note
			f.Figures = []finding.Figure{{Key: "difference_kva", Value: difference}}
			r.Find(f)
		}
		return
	}
	if !limit.Known() || quantity.AtMost(difference, limit.Value) {
		return
	}
	got, most := quantity.KVA.Apart(difference, limit.Value)
	f := r.At(limit.At, site.Subject(), fmt.Sprintf("the single-phase sources differ by %s between the phases, above the limit of %s%s: %s", got, most, inBrackets(site.UnbalanceLimitOrigin.Value), spread), "move sources to the lighter phases")
	f.Figures = []finding.Figure{{Key: "difference_kva", Value: difference}, {Key: "limit_kva", Value: limit.Value}}
	if limit.Value > 0 {
		f.Percent, f.HasPercent = 100*difference/limit.Value, true
	}
	r.Find(f)
}

// VoltageUnbalance reports a node whose voltage is unbalanced beyond the limit.
var VoltageUnbalance = &engine.Rule{
	Name: "voltage-unbalance", Summary: "unequal phases unbalance the voltage beyond the limit", Severity: finding.Error,
	Clause: engine.Clause{Publication: "IEC 61000-2-2", Edition: "2002", Number: "clause 4.6, 2 % negative sequence (from memory); the limit is an input"}, Since: "0.1.0", Check: voltageUnbalance,
	Doc: engine.Doc{
		Checks:  "The negative sequence of the voltage at every board and source, from the exact solution with all sources running, against unbalance_limit_percent.",
		Why:     "Three-phase motors heat up on a few per cent of unbalance.",
		Accepts: "the negative sequence in percent of the positive",
		Blind:   "Unbalance that the network brings along; loads.", Sources: "IEC 61000-2-2, from memory.", Bad: "unbalanced", Good: "balanced",
	},
}

func voltageUnbalance(r *engine.Review) {
	site := r.Design.Site()
	if site == nil || !site.UnbalanceLimitPercent.Known() {
		return
	}
	if why := r.Unsolved(); why != "" {
		f := r.At(site.UnbalanceLimitPercent.At, site.Subject(), "voltage unbalance cannot be worked out: "+why, "mend what is told elsewhere first")
		f.Severity = finding.Note
		r.Find(f)
		return
	}
	worst, at := 0.0, 0
	for n := range r.EachNode() {
		if u := r.Unbalance(n); r.Tree.Nodes[n].Reached && u > worst {
			worst, at = u, n
		}
	}
	if quantity.AtMost(worst, site.UnbalanceLimitPercent.Value) {
		return
	}
	got, most := quantity.Percent.Apart(worst, site.UnbalanceLimitPercent.Value)
	node := &r.Tree.Nodes[at]
	f := r.At(node.At(), node.Subject, fmt.Sprintf("the voltage at %s is unbalanced by %s, above the limit of %s%s", node.Subject, got, most, inBrackets(site.UnbalanceLimitOrigin.Value)), "spread the single-phase sources over the phases, or shorten the path")
	f.Figures = []finding.Figure{{Key: "unbalance_percent", Value: worst}, {Key: "limit_percent", Value: site.UnbalanceLimitPercent.Value}}
	f.Percent, f.HasPercent = worst, true
	f.Related = []finding.Related{{At: site.UnbalanceLimitPercent.At, Message: "the limit"}}
	r.Find(f)
}

// firstAt is the place of a value where it is written, else another.
func firstAt(at, other source.Range) source.Range {
	if at.Known() {
		return at
	}
	return other
}
