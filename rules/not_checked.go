package rules

import (
	"fmt"
	"slices"
	"strings"

	"trefoil/lint/assess"
	"trefoil/lint/design"
	"trefoil/lint/engine"
	"trefoil/lint/finding"
	"trefoil/lint/network"
	"trefoil/ratings"
)

// open collects, by reason, what a check could not be made of: runs, routes.
type open struct {
	kind    string
	reasons []reason // few
}

type reason struct {
	why, next string
	names     finding.Names
}

func (o *open) add(gap *ratings.Gap, name string) {
	if gap == nil {
		return
	}
	i := slices.IndexFunc(o.reasons, func(r reason) bool { return r.why == gap.Reason })
	if i < 0 {
		i = len(o.reasons)
		o.reasons = append(o.reasons, reason{why: gap.Reason, next: gap.Next})
	}
	o.reasons[i].names.AddSorted(name)
}

// words says each reason with the names it holds for; where those are all of them, that.
func (o *open) words(all int) []string {
	var parts []string
	for i := range o.reasons {
		r := &o.reasons[i]
		on := "every " + o.kind
		if r.names.Len() != all {
			on = plural(r.names.Len(), o.kind+" ", o.kind+"s ") + r.names.String()
		}
		parts = append(parts, fmt.Sprintf("%s (%s)", r.why, on))
	}
	return parts
}

// next says what to do about each reason.
func (o *open) next() []string {
	var list []string
	for _, r := range o.reasons {
		list = append(list, r.next)
	}
	return list
}

// tell makes one finding of all of them: what is not checked, why, on which runs.
func (o *open) tell(r *engine.Review, what string) {
	if len(o.reasons) == 0 || r.Design.Broken {
		return
	}
	supply := r.Design.Supplies[0]
	parts := o.words(len(r.Runs))
	if len(parts) > 4 {
		parts = append(parts[:4:4], fmt.Sprintf("%d more reasons, which trefoil calc shows", len(parts)-4))
	}
	r.Find(r.At(supply.At, supply.Subject(), what+": "+strings.Join(parts, "; "), once(o.next(), 4)))
}

// faulted calls do for each run whose faults were worked out.
func faulted(r *engine.Review, do func(*assess.Run, *assess.Fault)) {
	var f assess.Fault
	for a := range r.EachRun() {
		ok := false
		if f, ok = r.Fault(a); ok {
			do(a, &f)
		}
	}
}

// BreakingNotChecked notes devices whose breaking capacity cannot be checked.
var BreakingNotChecked = &engine.Rule{
	Name: "breaking-not-checked", Summary: "a device's breaking capacity is not checked for want of a figure", Severity: finding.Note,
	Clause: engine.Clause{Own: "what nobody looked at must be known"}, Wide: true, Since: "0.1.0", Check: breakingNotChecked,
	Doc: engine.Doc{
		Checks: "That each device states breaking_ka, and that the fault current where it stands can be worked out. Told once.",
		Why:    "No finding must not mean that nobody looked.",
		Blind:  "Nothing beyond that.", Sources: "Common practice.", Bad: "unstated", Good: "stated",
	},
}

func breakingNotChecked(r *engine.Review) {
	o := open{kind: "run"}
	faulted(r, func(a *assess.Run, f *assess.Fault) {
		for k := range a.Run.Devices {
			switch d := &a.Run.Devices[k]; {
			case !d.Kind.Known():
			case d.BreakingKA.Origin == design.Absent:
				o.add(&ratings.Gap{Reason: "a device does not state breaking_ka", Next: "add breaking_ka"}, a.Run.Name)
			case d.BreakingKA.Known() && !f.At(k).MaxA.Known:
				o.add(&ratings.Gap{Reason: "the fault current at a device is not known", Next: "mend what is told of the path, and of the currents of the sources"}, a.Run.Name)
			}
		}
	})
	o.tell(r, "breaking capacities are not checked")
}

// WithstandNotChecked notes runs whose short-circuit withstand cannot be checked.
var WithstandNotChecked = &engine.Rule{
	Name: "withstand-not-checked", Summary: "short-circuit withstand is not checked for want of a figure", Severity: finding.Note,
	Clause: engine.Clause{Own: "what nobody looked at must be known"}, Wide: true, Since: "0.1.0", Check: withstandNotChecked,
	Doc: engine.Doc{
		Checks: "That the heat of the greatest and the least fault of each run could be worked out. Told once, with the reasons: no device in front, no trip or setting, no let_through below 0.1 s, no fault_min_ka.",
		Why:    "No finding must not mean that nobody looked.",
		Blind:  "Nothing beyond that.", Sources: "Common practice.", Bad: "no-let-through", Good: "let-through-given",
	},
}

func withstandNotChecked(r *engine.Review) {
	o := open{kind: "run"}
	faulted(r, func(a *assess.Run, f *assess.Fault) {
		w := f.Withstand()
		o.add(w.AtNear.Gap, a.Run.Name)
		if w.AtNear.Gap == nil || w.AtFar.Gap != nil && w.AtFar.Gap.Reason != w.AtNear.Gap.Reason {
			o.add(w.AtFar.Gap, a.Run.Name)
		}
	})
	o.tell(r, "short-circuit withstand is not checked whole")
}

// DisconnectionNotChecked notes runs whose earth faults cannot be checked.
var DisconnectionNotChecked = &engine.Rule{
	Name: "disconnection-not-checked", Summary: "clearing of earth faults is not checked for want of a figure", Severity: finding.Note,
	Clause: engine.Clause{Own: "what nobody looked at must be known"}, Wide: true, Since: "0.1.0", Check: disconnectionNotChecked,
	Doc: engine.Doc{
		Checks: "That the time to clear an earth fault at the end of each run could be worked out. Told once, with the reasons: earthing, earth_loop_ohm or earth_mm2 not stated, no device in front, no trip or setting.",
		Why:    "No finding must not mean that nobody looked.",
		Blind:  "Nothing beyond that.", Sources: "Common practice.", Bad: "no-loop", Good: "loop-given",
	},
}

func disconnectionNotChecked(r *engine.Review) {
	o := open{kind: "run"}
	faulted(r, func(a *assess.Run, f *assess.Fault) { o.add(f.Disconnect().Gap, a.Run.Name) })
	o.tell(r, "clearing of earth faults is not checked")
}

// EarthNotChecked notes runs whose earth conductor cannot be checked.
var EarthNotChecked = &engine.Rule{
	Name: "earth-not-checked", Summary: "the size of an earth conductor is not checked for want of a figure", Severity: finding.Note,
	Clause: engine.Clause{Own: "what nobody looked at must be known"}, Wide: true, Since: "0.1.0", Check: earthNotChecked,
	Doc: engine.Doc{
		Checks: "That the earth conductor of each run is stated and the table, or else the heat of its faults, could be applied. Told once.",
		Why:    "No finding must not mean that nobody looked.",
		Blind:  "Nothing beyond that.", Sources: "Common practice.", Bad: "unstated", Good: "stated",
	},
}

func earthNotChecked(r *engine.Review) {
	o := open{kind: "run"}
	faulted(r, func(a *assess.Run, f *assess.Fault) {
		if e := f.Earth(); !e.HeatMM2.Known {
			o.add(e.Gap, a.Run.Name)
		}
	})
	o.tell(r, "earth conductors are not checked")
}

// WindowNotChecked notes sources whose voltage window cannot be checked.
var WindowNotChecked = &engine.Rule{
	Name: "window-not-checked", Summary: "the voltage window of a source is not checked for want of a figure", Severity: finding.Note,
	Clause: engine.Clause{Own: "what nobody looked at must be known"}, Wide: true, Since: "0.1.0", Check: windowNotChecked,
	Doc: engine.Doc{
		Checks: "That the supply states max_v, its greatest voltage, and each source max_v, at which it leaves. Told once.",
		Why:    "A rise within its limit on top of a high supply still cuts sources out.",
		Blind:  "Nothing beyond that.", Sources: "Common practice.", Bad: "unstated", Good: "stated",
	},
}

func windowNotChecked(r *engine.Review) {
	if len(r.Design.Supplies) == 0 || len(r.Design.Sources) == 0 || r.Design.Broken {
		return
	}
	supply := r.Design.Supplies[0]
	var parts []string
	if supply.MaxV.Origin == design.Absent {
		parts = append(parts, fmt.Sprintf("supply %q does not state max_v", supply.Name))
	}
	var lack finding.Names
	for _, s := range r.Design.Sources {
		if s.MaxV.Origin == design.Absent {
			lack.Add(s.Name)
		}
	}
	if lack.Len() > 0 {
		parts = append(parts, silent("source", lack)+" not state max_v")
	}
	if len(parts) == 0 {
		return
	}
	r.Find(r.At(supply.At, supply.Subject(), "the voltage window is not checked: "+strings.Join(parts, "; "), "ask the network for its greatest voltage, take the source's from its data sheet, and add max_v"))
}

// silent begins a sentence on what some blocks do not state: "sources a, b do".
func silent(kind string, names finding.Names) string {
	return plural(names.Len(), kind+" ", kind+"s ") + names.String() + plural(names.Len(), " does", " do")
}

func plural(n int, one, many string) string {
	if n == 1 {
		return one
	}
	return many
}

// RCDNotChecked notes sources whose need of a residual-current device is open.
var RCDNotChecked = &engine.Rule{
	Name: "rcd-not-checked", Summary: "whether a residual-current device suits a source is not checked for want of a fact", Severity: finding.Note,
	Clause: engine.Clause{Own: "what nobody looked at must be known"}, Wide: true, Since: "0.1.0", Check: rcdNotChecked,
	Doc: engine.Doc{
		Checks: "That each source states rcd, its maker's advice, and, where that is a type, a device on its run states rcd. Told once.",
		Why:    "Type and sensitivity hang on the direct current that the source can leak; its maker knows.",
		Blind:  "Whether the place of the cable asks for one: hidden-unguarded looks at routes that state hidden.", Sources: "Common practice.", Bad: "unstated", Good: "stated",
	},
}

func rcdNotChecked(r *engine.Review) {
	if len(r.Design.Supplies) == 0 || r.Design.Broken {
		return
	}
	var open, without finding.Names
	ownRuns(r, func(s *design.Source, a *assess.Run) {
		switch {
		case s.RCD.Origin == design.Absent:
			open.Add(s.Name)
		case s.RCD.Known() && s.RCD.Value != "none" && !slices.ContainsFunc(a.Run.Devices, func(d design.Device) bool { return d.RCD.Origin != design.Absent }):
			without.Add(s.Name)
		}
	})
	var parts []string
	if open.Len() > 0 {
		parts = append(parts, silent("source", open)+" not state the maker's advice")
	}
	if without.Len() > 0 {
		parts = append(parts, fmt.Sprintf("no device on the run of %s states rcd", without))
	}
	if len(parts) == 0 {
		return
	}
	supply := r.Design.Supplies[0]
	r.Find(r.At(supply.At, supply.Subject(), "the need and type of residual-current devices are not checked: "+strings.Join(parts, "; "), `add rcd = "none", "a", "f" or "b" to the source by its data sheet, and rcd to the device`))
}

// RiseNotExact reports that the exact figures are asked for and cannot be had.
var RiseNotExact = &engine.Rule{
	Name: "rise-not-exact", Summary: "the exact voltage rise is asked for and cannot be worked out", Severity: finding.Error,
	Clause: engine.Clause{Own: "a limit that nothing is held against must be known"}, Wide: true, Since: "0.1.0", Check: riseNotExact,
	Doc: engine.Doc{
		Checks: "That the exact solution settles where rise_method is exact, and that the supply states max_v where rise_supply asks for it.",
		Why:    "Without it no rise is held against the limit.",
		Blind:  "Runs that are told elsewhere: while one of them is not in the tree, or its impedance is not known, this stays silent.", Sources: "Common practice.", Bad: "no-greatest-voltage", Good: "solved",
	},
}

func riseNotExact(r *engine.Review) {
	if !r.ByExact() || r.Unsolved() == "" || len(r.Design.Supplies) == 0 || len(r.Design.Faults)+len(r.Tree.Faults)+len(r.Faults) > 0 {
		return
	}
	for a := range r.EachRun() {
		if a.Segment.State != network.Fed || !a.Impedance.Known {
			return
		}
	}
	site := r.Design.Site()
	r.Find(r.At(site.RiseMethod.At, site.Subject(), "the exact voltage rise cannot be worked out: "+r.Unsolved(), "add what is missing, or leave rise_method at trade"))
}
