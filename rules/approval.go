package rules

import (
	"fmt"
	"strings"
	"time"

	"trefoil/lint/design"
	"trefoil/lint/engine"
	"trefoil/lint/finding"
	"trefoil/lint/source"
	"trefoil/ratings/quantity"
)

// ThresholdUnmet reports a total of sources above a threshold whose demand is not met.
var ThresholdUnmet = &engine.Rule{
	Name: "threshold-unmet", Summary: "the sources sum to more than a threshold, and what it asks for is not provided", Severity: finding.Error,
	Clause: engine.Clause{Own: "thresholds are the network's; the design states them with origin and date"}, Wide: true, Since: "0.1.0", Check: thresholdUnmet,
	Doc: engine.Doc{
		Checks:  "The sum of the kVA of all sources of the design, old ones and batteries included, against above_kva of each threshold block of the site. Above it provided = true has to say that what it asks for is there. A source without rated_kva counts by its greatest current.",
		Why:     "Each stage is judged by itself, and 99 kVA on top of 120 kVA slips past a threshold of 200 kVA; the relay that it asks for is then missing at the witness test.",
		Accepts: "the sum in percent of the threshold",
		Blind:   "Thresholds that the design does not state; sources at the same point of supply that it does not hold; whether the figures are still in force: as_of says of when they are. A waiver on the site covers all thresholds.", Sources: "The design: each threshold has its origin and date.", Bad: "relay-not-provided", Good: "relay-provided",
	},
}

func thresholdUnmet(r *engine.Review) {
	site := r.Design.Site()
	total := r.TotalKVA()
	if site == nil || !total.Known {
		return
	}
	for _, t := range site.Thresholds {
		if !t.AboveKVA.Known() || t.Provided.Origin == design.Faulty || t.Provided.Value || quantity.AtMost(total.Value, t.AboveKVA.Value) {
			continue
		}
		got, most := quantity.KVA.Apart(total.Value, t.AboveKVA.Value)
		says := "nobody says that it is provided"
		if t.Provided.Known() {
			says = "it is not provided"
		}
		f := r.At(firstAt(t.Provided.At, t.At), site.Subject(), fmt.Sprintf("the sources sum to %s, above %s of threshold %q, which asks for %s, and %s%s", got, most, t.Name, t.Asks.Value, says, dated(t)),
			"provide it and state provided = true, or ask the network")
		f.Figures = []finding.Figure{{Key: "total_kva", Value: total.Value}, {Key: "limit_kva", Value: t.AboveKVA.Value}}
		if t.AboveKVA.Value > 0 {
			f.Percent, f.HasPercent = 100*total.Value/t.AboveKVA.Value, true
		}
		r.Find(f)
	}
}

// dated says where a threshold is from.
func dated(t *design.Threshold) string {
	if !t.Origin.Known() || !t.AsOf.Known() {
		return ""
	}
	return fmt.Sprintf(" (%s, as of %s)", t.Origin.Value, t.AsOf.Value)
}

// ExportAboveApproved reports more export than an approval allows.
var ExportAboveApproved = &engine.Rule{
	Name: "export-above-approved", Summary: "more can be exported than an approval allows", Severity: finding.Error,
	Clause: engine.Clause{Publication: "AS/NZS 4777.1", Edition: "2016", Number: "clause 3.4.8, export limits; NEC 705.13 (numbers from memory); the connection agreement"}, Wide: true, Since: "0.1.0", Check: exportAboveApproved,
	Doc: engine.Doc{
		Checks:  "export_limit_kva of each approved block against export_set_kva of the site, what the control is set at; without one, against the sum of all sources.",
		Why:     "The form says 100 kVA and the control is set at 150: found when the network's meter does.",
		Accepts: "the export in percent of the limit",
		Blind:   "What loads take, which holds export down while they run; whether the control works, and where its current transformers sit. Cables are held against full output whatever the control does.", Sources: "The design: the approval has its origin.", Bad: "set-higher", Good: "set-as-approved",
	},
}

func exportAboveApproved(r *engine.Review) {
	site := r.Design.Site()
	if site == nil {
		return
	}
	total := r.TotalKVA()
	for _, a := range r.Design.Approvals {
		limit := a.ExportLimitKVA
		if !limit.Known() || site.ExportSetKVA.Origin == design.Faulty {
			continue
		}
		at, export, what, next := site.ExportSetKVA.At, site.ExportSetKVA.Maybe(), "the control of the export is set at", "set it as approved, or have the greater export approved"
		if !export.Known {
			at, export, what, next = limit.At, total, "nothing limits the export, and the sources sum to", "limit the export and state export_set_kva, or have the greater export approved"
		}
		if !export.Known || quantity.AtMost(export.Value, limit.Value) {
			continue
		}
		got, most := quantity.KVA.Apart(export.Value, limit.Value)
		f := r.At(at, a.Subject(), fmt.Sprintf("%s %s; %q allows %s (%s)", what, got, a.Name, most, a.Origin.Value), next)
		f.Figures = []finding.Figure{{Key: "export_kva", Value: export.Value}, {Key: "limit_kva", Value: limit.Value}}
		if limit.Value > 0 {
			f.Percent, f.HasPercent = 100*export.Value/limit.Value, true
		}
		f.Related = []finding.Related{{At: limit.At, Message: "the limit"}}
		r.Find(f)
	}
}

// EquipmentNotApproved reports sources that are not those of the approval.
var EquipmentNotApproved = &engine.Rule{
	Name: "equipment-not-approved", Summary: "a source is not what was approved", Severity: finding.Error,
	Clause: engine.Clause{Own: "the connection agreement names the equipment"}, Wide: true, Since: "0.1.0", Check: equipmentNotApproved,
	Doc: engine.Doc{
		Checks: "The model of each source against the equipment blocks of all approved blocks together: that the model is among them, that no more of it are drawn than count allows, and that its rated_kva is the one approved; and the sum of all sources against total_kva where each approved block states it.",
		Why:    "A substitute from stock is fitted, and the form is not amended: the network may take the site off.",
		Blind:  "Firmware and settings. Sources without model, which approval-not-checked tells.", Sources: "The design: the list is kept in it, with its origin.", Bad: "substitute", Good: "as-approved",
	},
}

// used is what a design draws of one model.
type used struct {
	model   string
	first   *design.Source
	sources []string
}

// models lists the models of a design's sources in text order.
func models(r *engine.Review) []*used {
	var list []*used
	by := map[string]*used{}
	for _, s := range r.Design.Sources {
		if !s.Model.Known() {
			continue
		}
		u := by[s.Model.Value]
		if u == nil {
			u = &used{model: s.Model.Value, first: s}
			by[s.Model.Value] = u
			list = append(list, u)
		}
		u.sources = append(u.sources, s.Name)
	}
	return list
}

// listed gives the equipment blocks of a model, and the names of all models.
func listed(r *engine.Review, model string) (list []*design.Equipment, names []string) {
	for _, a := range r.Design.Approvals {
		for _, e := range a.Equipment {
			names = append(names, e.Model)
			if e.Model == model {
				list = append(list, e)
			}
		}
	}
	return list, names
}

func equipmentNotApproved(r *engine.Review) {
	if r.Design.Broken || len(r.Design.Approvals) == 0 {
		return
	}
	for _, u := range models(r) {
		list, names := listed(r, u.model)
		if len(names) == 0 {
			break
		}
		who := plural(len(u.sources), "source ", "sources ") + finding.Few(u.sources)
		if len(list) == 0 {
			next := "have it approved and add an equipment block"
			if near := design.Nearest(u.model, names); near != "" {
				next += "; " + near
			}
			r.Find(r.At(u.first.Model.At, u.first.Subject(), fmt.Sprintf("model %q of %s is on no approved list", u.model, who), next))
			continue
		}
		count, counted := 0.0, true
		var related []finding.Related
		for _, e := range list {
			counted = counted && e.Count.Known()
			count += e.Count.Value
			related = append(related, finding.Related{At: e.At, Message: "as approved"})
		}
		if n := float64(len(u.sources)); counted && n > count {
			f := r.At(u.first.Model.At, u.first.Subject(), fmt.Sprintf("%g of model %q are drawn (%s), and %g are approved", n, u.model, finding.Few(u.sources), count), "have the further ones approved, or take them out")
			f.Figures = []finding.Figure{{Key: "count", Value: n}, {Key: "limit", Value: count}}
			f.Related = related
			r.Find(f)
		}
		for _, s := range r.Design.Sources {
			if s.Model.Value != u.model || !s.RatedKVA.Known() {
				continue
			}
			fits, asked := false, 0.0
			for _, e := range list {
				fits = fits || !e.RatedKVA.Known() || e.RatedKVA.Value == s.RatedKVA.Value
				asked = e.RatedKVA.Value
			}
			if !fits {
				f := r.At(s.RatedKVA.At, s.Subject(), fmt.Sprintf("source %q is rated %s, and its model %q is approved with %s", s.Name, quantity.KVA.Print(s.RatedKVA.Value), u.model, quantity.KVA.Print(asked)), "take the approved rating, or have this one approved")
				f.Related = related
				r.Find(f)
				break
			}
		}
	}
	sum, last := 0.0, r.Design.Approvals[len(r.Design.Approvals)-1]
	for _, a := range r.Design.Approvals {
		if !a.TotalKVA.Known() {
			return
		}
		sum += a.TotalKVA.Value
	}
	if total := r.TotalKVA(); total.Known && !quantity.AtMost(total.Value, sum) {
		got, most := quantity.KVA.Apart(total.Value, sum)
		f := r.At(last.TotalKVA.At, last.Subject(), fmt.Sprintf("the sources sum to %s, and %s are approved (%s)", got, most, last.Origin.Value), "have the sum approved, or take sources out")
		f.Figures = []finding.Figure{{Key: "total_kva", Value: total.Value}, {Key: "limit_kva", Value: sum}}
		r.Find(f)
	}
}

// soonDays is how long before its end an approval is told.
const soonDays = 30

// ApprovalExpired reports an approval or a listing that has ended or ends soon.
var ApprovalExpired = &engine.Rule{
	Name: "approval-expired", Summary: "an approval, or the listing of a model, has ended or ends soon", Severity: finding.Error,
	Clause: engine.Clause{Own: "the connection agreement says until when it holds"}, Wide: true, Since: "0.1.0", Check: approvalExpired,
	Doc: engine.Doc{
		Checks: "until of each approved block and of the equipment of the design's sources, the last day included, against today (or --today). Within 30 days of the end it is a warning. At stage as-built, when the site is connected, it is not asked.",
		Why:    "The programme slips, and the offer ends before the site is connected: everything is applied for anew, under newer rules.",
		Blind:  "How long the work will still take; approvals that do not state until, which approval-not-checked tells.", Sources: "The design: the approval has its origin.", Bad: "ended", Good: "runs-on",
	},
}

func approvalExpired(r *engine.Review) {
	site := r.Design.Site()
	if site == nil || site.Stage.Value == "as-built" || r.Today.IsZero() {
		return
	}
	today := r.Day()
	look := func(until design.Text, at source.Range, subject, what string) {
		day, err := time.Parse(time.DateOnly, until.Value)
		if !until.Known() || err != nil {
			return
		}
		left := int(day.Sub(today).Hours() / 24)
		switch {
		case left < 0:
			r.Find(r.At(at, subject, fmt.Sprintf("%s ended on %s", what, until.Value), "have it renewed, and state the new day"))
		case left <= soonDays:
			f := r.At(at, subject, fmt.Sprintf("%s ends on %s, in %d %s", what, until.Value, left, plural(left, "day", "days")), "connect before that day, or have it renewed")
			f.Severity = finding.Warning
			r.Find(f)
		}
	}
	for _, a := range r.Design.Approvals {
		look(a.Until, a.Until.At, a.Subject(), fmt.Sprintf("approval %q", a.Name))
		for _, u := range models(r) {
			for _, e := range a.Equipment {
				if e.Model == u.model {
					look(e.Until, e.Until.At, a.Subject(), fmt.Sprintf("the listing of model %q", e.Model))
				}
			}
		}
	}
}

// EditionNotApproved warns that a design follows another rating set than the one submitted.
var EditionNotApproved = &engine.Rule{
	Name: "edition-not-approved", Summary: "the design follows another rating set than the approval", Severity: finding.Warning,
	Clause: engine.Clause{Own: "an approval rests on the editions that were submitted"}, Wide: true, Since: "0.1.0", Check: editionNotApproved,
	Doc: engine.Doc{
		Checks: "ratings of the site against ratings of each approved block that states it.",
		Why:    "A changed edition moves capacities and factors under a design that was approved with others.",
		Blind:  "Editions of standards other than that of the rating set.", Sources: "The design.", Bad: "newer-set", Good: "same-set",
	},
}

func editionNotApproved(r *engine.Review) {
	site := r.Design.Site()
	if site == nil || !site.Ratings.Known() {
		return
	}
	for _, a := range r.Design.Approvals {
		if a.Ratings.Known() && a.Ratings.Value != site.Ratings.Value {
			f := r.At(site.Ratings.At, a.Subject(), fmt.Sprintf("the design follows %s, and %q was given for %s (%s)", site.Ratings.Value, a.Name, a.Ratings.Value, a.Origin.Value), "go back to that set, or submit the design anew")
			f.Related = []finding.Related{{At: a.Ratings.At, Message: "as submitted"}}
			r.Find(f)
		}
	}
}

// ApprovalNotChecked notes what approvals lack to be checked.
var ApprovalNotChecked = &engine.Rule{
	Name: "approval-not-checked", Summary: "a design is not held against its approval whole for want of a fact", Severity: finding.Note,
	Clause: engine.Clause{Own: "what nobody looked at must be known"}, Wide: true, Since: "0.1.0", Check: approvalNotChecked,
	Doc: engine.Doc{
		Checks: "As soon as the design states an approved block, a threshold or export_set_kva, and from stage construction on: that an approved block stands there with until, total_kva, ratings and equipment, that each source states model where equipment is listed, that the site states a threshold, and that an approval states export_limit_kva where export_set_kva is stated. Told once.",
		Why:    "No finding must not mean that nobody looked.",
		Blind:  "Registers and certificates.", Sources: "Common practice.", Bad: "in-part", Good: "whole",
	},
}

func approvalNotChecked(r *engine.Review) {
	site := r.Design.Site()
	if site == nil || r.Design.Broken || len(r.Design.Sources) == 0 ||
		len(r.Design.Approvals) == 0 && len(site.Thresholds) == 0 && site.ExportSetKVA.Origin == design.Absent && !strict(r) {
		return
	}
	var parts, next []string
	add := func(what, do string) {
		parts, next = append(parts, what), append(next, do)
	}
	export, equipment := false, false
	for _, a := range r.Design.Approvals {
		var lack []string
		for _, x := range []struct {
			absent bool
			word   string
		}{
			{a.Until.Origin == design.Absent, "until"},
			{a.TotalKVA.Origin == design.Absent, "total_kva"},
			{a.Ratings.Origin == design.Absent, "ratings"},
			{len(a.Equipment) == 0, "equipment"},
		} {
			if x.absent {
				lack = append(lack, x.word)
			}
		}
		if len(lack) > 0 {
			add(fmt.Sprintf("%q does not state %s", a.Name, strings.Join(lack, ", ")), "add them to the approved block")
		}
		export = export || a.ExportLimitKVA.Origin != design.Absent
		equipment = equipment || len(a.Equipment) > 0
	}
	if len(r.Design.Approvals) == 0 {
		add("no approval is stated", `add approved "NAME" { origin = ... }`)
	}
	var nameless finding.Names
	for _, s := range r.Design.Sources {
		if s.Model.Origin == design.Absent {
			nameless.Add(s.Name)
		}
	}
	if equipment && nameless.Len() > 0 {
		add(fmt.Sprintf("%s %s no model", plural(nameless.Len(), "source ", "sources ")+nameless.String(), plural(nameless.Len(), "states", "state")), "add model from the data sheet")
	}
	if len(site.Thresholds) == 0 {
		add("no threshold of the network is stated", "take them from the network's rules and add threshold blocks to site")
	}
	if site.ExportSetKVA.Origin != design.Absent && !export && len(r.Design.Approvals) > 0 {
		add("export_set_kva is stated, and no approval states export_limit_kva", "add export_limit_kva to the approved block")
	}
	if len(parts) == 0 {
		return
	}
	r.Find(r.At(site.At, site.Subject(), "the design is not held against its approval whole: "+strings.Join(parts, "; "), once(next, 4)))
}

// TransformerOverfed warns of sources that sum to more than the supply's transformer is rated for.
var TransformerOverfed = &engine.Rule{
	Name: "transformer-overfed", Summary: "the sources sum to more than the transformer of the supply is rated for", Severity: finding.Warning,
	Clause: engine.Clause{Publication: "IEC 60076-1", Edition: "2011", Number: "clause 5.1, rated power (number from memory)"}, Wide: true, Since: "0.1.0", Check: transformerOverfed,
	Doc: engine.Doc{
		Checks:  "The sum of the kVA of all sources against rated_kva of the transformer block of the supply, times count.",
		Why:     "The transformer was chosen for a load that takes turns; the sources give their sum for hours, on the hottest days.",
		Accepts: "the sum in percent of the rating",
		Blind:   "Transformers that the design states by fault_ka alone; loads, which take off from the sum while they run; unbalance; other sites behind the same transformer; what the network answers.", Sources: "Common practice.", Bad: "small-transformer", Good: "large-enough",
	},
}

func transformerOverfed(r *engine.Review) {
	total := r.TotalKVA()
	if len(r.Design.Supplies) == 0 || r.Design.Supplies[0].Transformer == nil || !total.Known {
		return
	}
	supply := r.Design.Supplies[0]
	t := supply.Transformer
	if !t.RatedKVA.Known() || !t.Count.Known() {
		return
	}
	rated := t.RatedKVA.Value * t.Count.Value
	if quantity.AtMost(total.Value, rated) {
		return
	}
	got, most := quantity.KVA.Apart(total.Value, rated)
	f := r.At(t.RatedKVA.At, supply.Subject(), fmt.Sprintf("the sources sum to %s, above the %s of the transformer", got, most), "ask its owner, choose a larger one, or hold the sources down")
	f.Figures = []finding.Figure{{Key: "total_kva", Value: total.Value}, {Key: "limit_kva", Value: rated}}
	f.Percent, f.HasPercent = 100*total.Value/rated, true
	r.Find(f)
}
