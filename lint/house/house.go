// Package house turns a design's own rules, house_rule blocks, into rules of the
// engine. An expression of such a rule sees one block at a time: its attributes, and
// the figures of the assessment under the names that calc gives them.
package house

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"github.com/zclconf/go-cty/cty"
	"github.com/zclconf/go-cty/cty/convert"

	"trefoil/lint/assess"
	"trefoil/lint/design"
	"trefoil/lint/engine"
	"trefoil/lint/finding"
	"trefoil/lint/source"
)

// What the house rules of a design may take together, as it is counted for the expressions of
// the design itself: some for each run, which is enough for forty plain rules, and some more.
// blockSteps is what it takes to make a block known to a rule.
const (
	stepsEach  = 1000
	stepsMore  = 10_000_000
	blockSteps = 20
)

// Join gives the rules handed in and the design's own ones, in order of name. What is
// wrong with a rule of the design is added to the faults of the review.
func Join(v *assess.Review, rules []*engine.Rule) []*engine.Rule {
	if len(v.Design.House) == 0 {
		return rules
	}
	list := slices.Clone(rules)
	spent, most := 0, stepsMore+stepsEach*len(v.Runs)
	for _, h := range v.Design.House {
		faults := Faults(h, rules)
		if len(faults) == 0 && Usable(h) {
			n := len(blocks(v, h.Each.Value))
			if spent += n * (blockSteps + h.When.Steps() + h.Must.Steps()); spent > most {
				faults = []design.Fault{{
					Rule: "value-impossible", Severity: finding.Error, At: h.At, Subject: h.Subject(),
					Message: fmt.Sprintf("house rule %q is not run: for %d blocks it and those before it take more than %d steps", h.Name, n, most), Next: "work out in a constant what is the same for each block, or check the design in parts",
				}}
			}
		}
		v.Faults = append(v.Faults, faults...)
		rule := Rule(h)
		if len(faults) > 0 || !Usable(h) {
			rule.Check, rule.Idle = nil, true
		}
		if !slices.ContainsFunc(rules, func(r *engine.Rule) bool { return r.Name == h.Name }) {
			list = append(list, rule)
		}
	}
	slices.SortStableFunc(list, func(a, b *engine.Rule) int { return cmp.Compare(a.Name, b.Name) })
	return list
}

// Usable says that nothing of a rule is missing or faulty, which is told where it is read.
func Usable(h *design.HouseRule) bool {
	return h.Name != "" && h.Each.Known() && h.Must.Known() && h.Message.Known() && h.When.Origin != design.Faulty && h.Severity.Known()
}

// Faults looks at a rule before it is run: its name among those of the rules handed in,
// and the types of its expressions.
func Faults(h *design.HouseRule, rules []*engine.Rule) (faults []design.Fault) {
	tell := func(rule string, at source.Range, message, next string) {
		faults = append(faults, design.Fault{Rule: rule, Severity: finding.Error, At: at, Subject: h.Subject(), Message: message, Next: next})
	}
	if h.Name == "internal-fault" || slices.ContainsFunc(rules, func(r *engine.Rule) bool { return r.Name == h.Name }) {
		tell("name-taken", h.At, fmt.Sprintf("house rule %q has the name of a built-in rule", h.Name), "give it another name; a waiver could mean either")
	}
	if !h.Each.Known() {
		return faults
	}
	kind := cty.Object(kindType(h.Each.Value))
	check := func(f *design.Formula, attr string, fits func(cty.Type) bool, what, next string) {
		if !f.Known() {
			return
		}
		t, wrong := f.Check(h.Each.Value, kind)
		faults = append(faults, wrong...)
		if len(wrong) == 0 && t != cty.DynamicPseudoType && !fits(t) {
			tell("value-impossible", f.At, fmt.Sprintf("%s gives a %s; it must be %s", attr, t.FriendlyName(), what), next)
		}
	}
	truth := func(t cty.Type) bool { return t == cty.Bool }
	check(&h.When, "when", truth, "true or false", "")
	check(&h.Must, "must", truth, "true or false", fmt.Sprintf("write a comparison, as in must = %s.%s", h.Each.Value, comparison[h.Each.Value]))
	check(&h.Message, "message", cty.Type.IsPrimitiveType, "a text", `write message = "..."`)
	if attrs, all := h.Must.Names(h.Each.Value); h.Must.Known() && len(faults) == 0 && len(attrs) == 0 && !all {
		tell("value-impossible", h.Must.At, fmt.Sprintf("must names nothing of the %s, so it says the same of each", h.Each.Value), fmt.Sprintf("write a comparison, as in must = %s.%s", h.Each.Value, comparison[h.Each.Value]))
	}
	return faults
}

// comparison is an example for each kind.
var comparison = map[string]string{
	"run": "size_mm2 >= 16", "source": "power_factor == 1", "board": "rated_a >= 250", "route": "circuits <= 12",
	"cable": `conductor == "copper"`, "supply": "fault_ka <= 25", "site": "rise_limit_percent <= 2", "load": "demand_a <= 63",
}

// Rule makes a rule of the engine, which may also be run over another design.
func Rule(h *design.HouseRule) *engine.Rule {
	severity, _ := finding.ParseSeverity(h.Severity.Value)
	place := ""
	if h.At.File != nil {
		place = fmt.Sprintf("%s:%d", h.At.File.Name, h.At.File.Position(h.At.Start).Line)
	}
	checks := fmt.Sprintf("For each %s: %s.", h.Each.Value, h.Must.Text())
	if h.When.Known() {
		checks = fmt.Sprintf("For each %s with %s: %s.", h.Each.Value, h.When.Text(), h.Must.Text())
	}
	return &engine.Rule{
		Name: h.Name, Summary: cmp.Or(h.Note.Value, fmt.Sprintf("a %s does not keep a rule of the house", h.Each.Value)), Severity: severity,
		Clause: engine.Clause{Own: cmp.Or(h.Source.Value, "a rule of the house")},
		Doc: engine.Doc{
			Checks: checks, Why: h.Why.Value, Sources: place,
			Blind: "What its expressions do not name. Where something is unknown that they name, the block is not assessed, and a note says so.",
		},
		Check: func(r *engine.Review) { (&runner{r: r, h: h}).check() },
	}
}

type runner struct {
	r *engine.Review
	h *design.HouseRule

	told map[source.Range]bool
	open []open
}

// open is a block that cannot be assessed.
type open struct {
	block
	lacks []string
}

func (x *runner) check() {
	d, h := x.r.Design, x.h
	if d.Broken {
		return
	}
	kind := h.Each.Value
	var attrs []string
	all := false
	for _, f := range []*design.Formula{&h.When, &h.Must, &h.Message} {
		if f.Known() {
			list, whole := f.Names(kind)
			attrs, all = append(attrs, list...), all || whole
		}
	}
	slices.Sort(attrs)
	attrs = slices.Compact(attrs)
	faulty := map[string]bool{} // blocks whose text is told to be wrong
	for i := range d.Faults {
		faulty[d.Faults[i].Subject] = true
	}
	for _, b := range blocks(x.r.Review, kind) {
		o := object(x.r.Review, b, attrs, all)
		when := cty.True
		if h.When.Known() {
			if when = x.work(&h.When, b, o); when == cty.NilVal || when.IsKnown() && when.False() {
				continue
			}
		}
		must := x.work(&h.Must, b, o)
		switch {
		case must == cty.NilVal || must.IsKnown() && must.True():
		case !when.IsKnown() || !must.IsKnown():
			if !faulty[b.Subject()] {
				var lacks []string
				if !when.IsKnown() {
					lacks = h.When.Unknown(kind, o)
				}
				if !must.IsKnown() {
					lacks = append(lacks, h.Must.Unknown(kind, o)...)
				}
				x.open = append(x.open, open{b, lacks})
			}
		default:
			x.find(b, o)
		}
	}
	if x.r.Only == nil {
		x.tellOpen()
	}
}

// work gives true, false or unknown; NilVal where the expression has no value, which is told.
func (x *runner) work(f *design.Formula, b block, o cty.Value) cty.Value {
	v, faults := f.Work(b.Kind, o)
	if len(faults) > 0 {
		x.stuck(&faults[0], b)
		return cty.NilVal
	}
	switch {
	case !v.IsKnown():
		return cty.UnknownVal(cty.Bool)
	case v.IsNull() || v.Type() != cty.Bool:
		x.stuck(&design.Fault{At: f.At, Message: "the expression is neither true nor false"}, b)
		return cty.NilVal
	}
	return v
}

// stuck tells once where an expression has no value.
func (x *runner) stuck(f *design.Fault, b block) {
	if x.told[f.At] {
		return
	}
	if x.told == nil {
		x.told = map[source.Range]bool{}
	}
	x.told[f.At] = true
	out := x.r.At(f.At, x.h.Subject(), fmt.Sprintf("house rule %q has no value for %s %q: %s", x.h.Name, b.Kind, b.Name, f.Message), cmp.Or(f.Next, "narrow it with when, so that such blocks are left out"))
	out.Severity = finding.Error
	out.Related = []finding.Related{{At: b.At, Message: fmt.Sprintf("%s %q", b.Kind, b.Name)}}
	x.r.Find(out)
}

func (x *runner) find(b block, o cty.Value) {
	if x.r.Full() {
		x.r.Find(finding.Finding{})
		return
	}
	h := x.h
	f := x.r.At(b.At, b.Subject(), x.message(b, o), h.Next.Value)
	f.Related = []finding.Related{{At: h.Must.At, Message: fmt.Sprintf("house rule %q", h.Name)}}
	attrs, _ := h.Must.Names(b.Kind)
	written := 0
	for _, n := range attrs {
		if _, at, exists := design.Value(b.of, n); exists && at.Known() {
			if written++; written == 1 {
				f.At = at
			}
		}
		if v := o.GetAttr(n); v.IsKnown() && !v.IsNull() && v.Type() == cty.Number {
			x, _ := v.AsBigFloat().Float64()
			f.Figures = append(f.Figures, finding.Figure{Key: n, Value: x})
		}
	}
	if written != 1 {
		f.At = b.At
	}
	x.r.Find(f)
}

// message is the rule's own text; where that cannot be had, the expression that does
// not hold.
func (x *runner) message(b block, o cty.Value) string {
	if v, faults := x.h.Message.Work(b.Kind, o); len(faults) == 0 && v.IsKnown() && !v.IsNull() {
		if s, err := convert.Convert(v, cty.String); err == nil && strings.TrimSpace(s.AsString()) != "" {
			return strings.Join(strings.Fields(s.AsString()), " ")
		}
	}
	return fmt.Sprintf("%s %q does not keep %s", b.Kind, b.Name, x.h.Must.Text())
}

// tellOpen notes once what could not be assessed, and what is missing.
func (x *runner) tellOpen() {
	if len(x.open) == 0 {
		return
	}
	h := x.h
	var names, lacks []string
	for _, o := range x.open {
		names = append(names, o.Name)
		for _, l := range o.lacks {
			if !slices.Contains(lacks, l) {
				lacks = append(lacks, l)
			}
		}
	}
	what := "what it needs"
	switch {
	case len(lacks) > 0:
		what = finding.Few(lacks)
	case slices.ContainsFunc(x.r.Design.Faults, func(f design.Fault) bool { return strings.HasPrefix(f.Subject, "let.") }):
		return // it hangs on a constant, which is told
	}
	be := "is"
	if len(lacks) > 1 {
		be = "are"
	}
	kind := h.Each.Value
	if len(names) > 1 {
		kind = plural(kind)
	}
	f := x.r.At(h.At, h.Subject(), fmt.Sprintf("house rule %q cannot be assessed for %s %s: %s %s not stated or could not be worked out", h.Name, kind, finding.Few(names), what, be),
		"state it, or narrow the rule with when")
	f.Severity = finding.Note
	for _, o := range x.open[:min(len(x.open), 5)] {
		f.Related = append(f.Related, finding.Related{At: o.At, Message: fmt.Sprintf("%s %q", o.Kind, o.Name)})
	}
	x.r.Find(f)
}

func plural(kind string) string {
	if kind == "supply" {
		return "supplies"
	}
	return kind + "s"
}
