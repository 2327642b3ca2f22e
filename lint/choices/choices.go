// Package choices finds which cables and layings a run could have, and which of them is
// the best buy: every combination that is asked for is tried in the whole design, its
// neighbours included, and what the rules say of it is kept.
//
// It stands behind engine: Review + rules + costs -> choices, ranked.
package choices

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"time"

	"trefoil/lint/assess"
	"trefoil/lint/cost"
	"trefoil/lint/design"
	"trefoil/lint/engine"
	"trefoil/lint/finding"
	"trefoil/ratings/quantity"
)

// Cost is what a choice takes and costs; unknown where a price or a figure is missing.
type Cost struct {
	MetalKg          quantity.Maybe // of the conductors
	Material, Labour quantity.Maybe
	LossKWh          quantity.Maybe // in the first year
	Losses           quantity.Maybe // their present value over all years
	Total            quantity.Maybe // material and labour, and losses where the design values them
	Lacks            []string       // what has no price or is not counted
}

func (c *Cost) add(o *Cost) {
	for _, m := range []struct{ to, of *quantity.Maybe }{
		{&c.MetalKg, &o.MetalKg},
		{&c.Material, &o.Material},
		{&c.Labour, &o.Labour},
		{&c.LossKWh, &o.LossKWh},
		{&c.Losses, &o.Losses},
		{&c.Total, &o.Total},
	} {
		m.to.Value += m.of.Value
		m.to.Known = m.to.Known && m.of.Known
	}
	for _, l := range o.Lacks {
		if !slices.Contains(c.Lacks, l) {
			c.Lacks = append(c.Lacks, l)
		}
	}
}

// Pricer works out the cost of a run as it is assessed.
type Pricer func(*assess.Review, *assess.Run) Cost

// RoutePricer works out what a route costs as it is laid, apart from the cables.
type RoutePricer func(*assess.Review, *assess.Shared) quantity.Maybe

// Priced gives the costs of runs and routes by a design's own prices.
func Priced(b *cost.Book) (Pricer, RoutePricer) {
	run := func(v *assess.Review, a *assess.Run) Cost {
		r := b.Run(v, a)
		first := r.First()
		c := Cost{
			MetalKg:  quantity.Of(r.CopperKg.Value + r.AluminiumKg.Value),
			Material: r.Material.Maybe(), Labour: r.Labour.Maybe(), Total: first.Maybe(),
			LossKWh: r.LossKWh.Maybe(), Losses: r.LossWorth.Maybe(), Lacks: r.Lacks,
		}
		if b.Economy != nil {
			total := r.Totals.Total()
			c.Total = total.Maybe()
		}
		return c
	}
	route := func(v *assess.Review, shared *assess.Shared) quantity.Maybe {
		r := b.Route(v, shared)
		first := r.First()
		return first.Maybe()
	}
	return run, route
}

// Refusal is an error that stands against a choice.
type Refusal struct {
	Rule, Subject, Message string
	Over                   quantity.Maybe // the figure over its limit, 1.04 for 4 % too much
	Neighbour              bool           // it is told of another run, which the choice breaks
}

// Choice is one way of making a run.
type Choice struct {
	Rank     int // from 1 among those that pass, 0 otherwise
	Kind     Kind
	Size     quantity.Size
	Legs     int
	Laid     string         // of its routes in air; "" as they are drawn
	EarthMM2 quantity.Maybe // where the run states one
	Drawn    bool           // it is what the design says now

	CapacityA, LoadA, UtilisationPct, RisePct quantity.Maybe
	RiseAt                                    string // the source on the worst path through the run
	Cost                                      Cost
	Routes                                    quantity.Maybe // what its routes cost as they are laid, where that is chosen

	Refused []Refusal
	Warned  []string // rules that warn of it and not of what is drawn

	changes []assess.Change // one for each run that shares its text
}

// Passes says that no error stands against the choice.
func (c *Choice) Passes() bool { return len(c.Refused) == 0 }

// To is the run as it would be, and Changes the same for each run that shares its text.
func (c *Choice) To() *design.Run { return &c.changes[0].To }

// Changes gives the choice as changes of runs.
func (c *Choice) Changes() []assess.Change { return c.changes }

// earth sets the earth conductor of every run of it.
func (c *Choice) earth(mm2 float64) {
	for i := range c.changes {
		e := &c.changes[i].To.EarthMM2
		*e = design.Num{Value: mm2, At: e.At, Origin: design.Stated}
	}
}

// Result is what may be chosen for one run, or for a set of copies, which share their text.
type Result struct {
	Run      *assess.Run   // the first of them
	Copies   []*assess.Run // the others
	By       string        // how they are ranked: cost, loss or size
	Asked    string        // how that was asked for
	Choices  []Choice      // those that pass in order of rank, then the others
	Passing  int
	Drawn    *Choice // nil where the run as drawn is not among them
	Standing []Refusal
	Counts   []Count // by which rules the others are refused
	Nearest  *Choice // where none passes, the one that lacks least

	EconomicMM2 quantity.Maybe // of one leg of what is drawn, at which cable and losses together cost least
	EconomicWhy string         // why it is not known
}

// Count is how many choices a rule refuses.
type Count struct {
	Rule string
	N    int
}

// Lister tries choices on one design.
type Lister struct {
	v          *assess.Review
	rules      []*engine.Rule
	single     []*engine.Rule // those of them that look at one run alone
	price      Pricer
	routePrice RoutePricer
	today      time.Time
	base       map[string]*finding.Finding // errors and warnings of the design as it is

	// Economic gives the section of a run at which its cable and its losses together cost
	// least, and why it is not known; nil where nobody asks.
	Economic func(*assess.Review, *assess.Run) (quantity.Maybe, string)

	copies  map[string][]int
	ownOf   int // the first of the runs of which ownList holds the subjects
	ownList map[string]bool
}

// NewLister prepares a design for choices. It checks it once as it is.
func NewLister(v *assess.Review, rules []*engine.Rule, price Pricer, routePrice RoutePricer, today time.Time) *Lister {
	l := &Lister{v: v, price: price, routePrice: routePrice, today: today, base: map[string]*finding.Finding{}}
	for _, r := range rules {
		if r.Wide || r.Check == nil {
			continue
		}
		l.rules = append(l.rules, r)
		if alone[r.Name] {
			l.single = append(l.single, r)
		}
	}
	found := engine.Check(v, l.rules, engine.Options{Today: today}).Findings
	for i := range found {
		if f := &found[i]; f.Severity > finding.Note && !f.Waived {
			l.base[f.Rule+" "+f.Subject] = f
		}
	}
	return l
}

// group lists the runs that share the text of one, itself included.
func (l *Lister) group(run int) []int {
	of := l.v.Runs[run].Run.CopyOf
	if of == "" {
		return []int{run}
	}
	if list := l.copies[of]; list != nil {
		return list
	}
	var list []int
	for i := range l.v.Runs {
		if l.v.Runs[i].Run.CopyOf == of {
			list = append(list, i)
		}
	}
	if l.copies == nil {
		l.copies = map[string][]int{}
	}
	l.copies[of] = list
	return list
}

// choose makes a choice for runs that share their text.
func (l *Lister) choose(runs []int, k Kind, size quantity.Size, legs int) Choice {
	a := &l.v.Runs[runs[0]]
	c := Choice{Kind: k, Size: size, Legs: legs, Drawn: k.Cable == a.Cable && size == a.Run.Size && legs == a.Legs}
	for _, i := range runs {
		b := &l.v.Runs[i]
		change := assess.Change{Run: i, To: *b.Run, Cable: k.Cable}
		if !c.Drawn {
			change.To = variant(b.Run, b.Cable, k, size, legs)
		}
		c.changes = append(c.changes, change)
	}
	return c
}

// List tries every combination for one run. Copies of a set share their text, so that they
// are tried together, and the figures are those of the one that is worst off.
func (l *Lister) List(run int, q Ask) (*Result, error) {
	a := &l.v.Runs[run]
	switch {
	case a.Cable == nil || a.Run.Size.Zero():
		return nil, fmt.Errorf("run %q states no usable cable or size, which its choices are compared with; trefoil check tells why", a.Run.Name)
	case l.v.Set == nil:
		return nil, fmt.Errorf("the design names no rating set that could be used; trefoil check tells why")
	}
	kinds := q.kinds(l.v.Design, a)
	if len(kinds) == 0 {
		return nil, fmt.Errorf("no cable fits what is asked for")
	}
	sizes := q.Sizes
	if len(sizes) == 0 {
		sizes = Sizes(a.Run.Size)
	}
	runs := l.group(run)
	res := &Result{Run: &l.v.Runs[runs[0]], Asked: cmp.Or(q.By, "cost")}
	for _, i := range runs[1:] {
		res.Copies = append(res.Copies, &l.v.Runs[i])
	}
	if l.Economic != nil {
		res.EconomicMM2, res.EconomicWhy = l.Economic(l.v, res.Run)
	}
	res.Choices = append(res.Choices, l.try(runs, l.choose(runs, Kind{a.Cable, true}, a.Run.Size, a.Legs)))
	for _, laid := range append([]string{""}, q.Laid...) {
		for _, k := range kinds {
			for _, legs := range q.legs(a) {
				for _, size := range sizes {
					c := l.choose(runs, k, size, legs)
					if c.Laid = laid; c.Drawn && laid == "" {
						continue
					}
					c.Drawn = false
					res.Choices = append(res.Choices, l.try(runs, c))
				}
			}
		}
	}
	res.stand()
	res.rank()
	return res, nil
}

// inAir lists the routes of some runs that are not in the ground, each once.
func (l *Lister) inAir(runs []int) (list []*design.Route) {
	for _, i := range runs {
		for k := range l.v.Runs[i].Sections {
			if r := l.v.Runs[i].Sections[k].Route; r != nil && !InGround(r.Laid.Value) && !slices.Contains(list, r) {
				list = append(list, r)
			}
		}
	}
	return list
}

// layings are the routes in air of some runs, laid otherwise.
func (l *Lister) layings(runs []int, laid string) (list []assess.Laying) {
	if laid == "" {
		return nil
	}
	for _, r := range l.inAir(runs) {
		list = append(list, assess.Laying{Route: r, To: Laid(r, laid)})
	}
	return list
}

// told is what the rules tell of a part of the design as it is now; nil for the whole.
func (l *Lister) told(scope *assess.Scope) []finding.Finding {
	l.v.Only = scope
	defer func() { l.v.Only = nil }()
	return engine.Part(l.v, l.rules, l.today)
}

// InGround says that a laying is in the ground, where no other one can take its place.
func InGround(laid string) bool { return laid == "buried" || laid == "buried-duct" }

// Laid is a route laid otherwise. A lid stays on trays alone.
func Laid(r *design.Route, laid string) design.Route {
	to := *r
	to.Laid = design.Text{Value: laid, At: r.Laid.At, Origin: design.Stated}
	switch laid {
	case "perforated-tray", "solid-tray", "ladder", "basket":
	default:
		to.Lid.Value = false
	}
	return to
}

// try tries one choice in the design, and puts the design back.
func (l *Lister) try(runs []int, c Choice) Choice {
	layings, was := l.layings(runs, c.Laid), l.v.Runs[runs[0]].Run
	size, earth := was.Size, was.EarthMM2.Value
	trial := l.v.Try(c.changes, layings)
	if mm2, ok := l.earthFor(runs); ok && !c.Drawn && mm2 != earth && (c.Size != size || earth < mm2) {
		trial.Undo()
		c.earth(mm2)
		trial = l.v.Try(c.changes, layings)
	}
	defer trial.Undo()
	l.measure(runs, &c)
	if l.routePrice != nil && len(layings) > 0 {
		for _, x := range layings {
			m := l.routePrice(l.v, l.v.Shared[x.Route])
			c.Routes.Value += m.Value
			c.Routes.Known = m.Known && (c.Routes.Known || x.Route == layings[0].Route)
		}
	}
	found := l.told(&trial.Scope)
	own := l.own(runs)
	for i := range found {
		f := &found[i]
		was := l.base[f.Rule+" "+f.Subject]
		switch {
		case f.Waived:
		case f.Severity == finding.Warning:
			if was == nil && !slices.Contains(c.Warned, f.Rule) {
				c.Warned = append(c.Warned, f.Rule)
			}
		case was != nil && !own[f.Subject] && (!f.HasPercent || quantity.AtMost(f.Percent, was.Percent)):
			// it was there before, and is no worse
		default:
			r := refusal(f)
			r.Neighbour = !own[f.Subject]
			c.Refused = append(c.Refused, r)
		}
	}
	return c
}

// measure takes the figures of a choice from the design that is under its trial: of several
// runs the capacity of the one that uses most of it, the greatest rise, and all costs.
func (l *Lister) measure(runs []int, c *Choice) {
	c.Cost = Cost{}
	for n, i := range runs {
		a := &l.v.Runs[i]
		if u := a.UtilisationPct(); n == 0 || !u.Known || c.UtilisationPct.Known && u.Value > c.UtilisationPct.Value {
			c.CapacityA, c.LoadA, c.UtilisationPct = a.CapacityA, a.LoadA, u
		}
		if l.price != nil {
			cost := l.price(l.v, a)
			if n == 0 {
				c.Cost = cost
			} else {
				c.Cost.add(&cost)
			}
		}
	}
	c.EarthMM2 = l.v.Runs[runs[0]].Run.EarthMM2.Maybe()
	c.RisePct, c.RiseAt = l.worstRise(runs)
}

// earthFor is the earth conductor that the greediest of some runs needs.
func (l *Lister) earthFor(runs []int) (mm2 float64, ok bool) {
	for _, i := range runs {
		one, known := earthFor(l.v, &l.v.Runs[i])
		if !known {
			return 0, false
		}
		mm2, ok = max(mm2, one), true
	}
	return mm2, ok
}

// own are the subjects for which a choice for some runs has to answer: the runs, their
// routes, and what lies behind them.
func (l *Lister) own(runs []int) map[string]bool {
	if l.ownList != nil && l.ownOf == runs[0] {
		return l.ownList
	}
	list := map[string]bool{}
	for _, i := range runs {
		a := &l.v.Runs[i]
		list[a.Run.Subject()] = true
		for k := range a.Sections {
			if r := a.Sections[k].Route; r != nil {
				list[r.Subject()] = true
			}
		}
	}
	for _, n := range l.v.Tree.Below(runs) {
		list[l.v.Tree.Nodes[n].Subject] = true
	}
	l.ownOf, l.ownList = runs[0], list
	return list
}

// worstRise is the greatest rise from the supply to a source by way of some runs, percent.
func (l *Lister) worstRise(runs []int) (worst quantity.Maybe, at string) {
	for _, n := range l.v.Tree.Below(runs) {
		source := l.v.Tree.Nodes[n].Source
		if source == nil {
			continue
		}
		total, known := l.v.Verdict().AtSource(n)
		if !known {
			return quantity.Maybe{}, source.Name
		}
		if total.Percent > worst.Or(math.Inf(-1)) {
			worst, at = quantity.Of(total.Percent), source.Name
		}
	}
	return worst, at
}

// refusal keeps what matters of a finding. The figure over its limit is that of the
// finding: percent of a limit of its own, else of the limit that it names.
func refusal(f *finding.Finding) Refusal {
	r := Refusal{Rule: f.Rule, Subject: f.Subject, Message: f.Message}
	if !f.HasPercent {
		return r
	}
	r.Over = quantity.Of(f.Percent / 100)
	for _, x := range f.Figures {
		if x.Key == "limit_percent" && x.Value > 0 {
			r.Over = quantity.Of(f.Percent / x.Value)
		}
	}
	return r
}

// stand takes the errors out of the choices that stand against every one of them in the
// same words: no choice of this run moves them.
func (res *Result) stand() {
	if len(res.Choices) < 2 {
		return
	}
	for _, r := range slices.Clone(res.Choices[0].Refused) {
		same := func(o Refusal) bool { return o.Rule == r.Rule && o.Subject == r.Subject && o.Message == r.Message }
		if slices.ContainsFunc(res.Choices, func(c Choice) bool { return !slices.ContainsFunc(c.Refused, same) }) {
			continue
		}
		res.Standing = append(res.Standing, r)
		for i := range res.Choices {
			res.Choices[i].Refused = slices.DeleteFunc(res.Choices[i].Refused, same)
		}
	}
}

// key is the figure by which a choice is ranked; unknown ones come last.
func (c *Choice) key(by string) float64 {
	m := quantity.Maybe{}
	switch by {
	case "cost":
		m = c.Cost.Total
		m.Value += c.Routes.Value
	case "loss":
		m = c.Cost.LossKWh
	case "metal":
		m = c.Cost.MetalKg
	case "size":
		m = quantity.Of(c.Size.MM2 * float64(c.Legs))
	}
	return m.Or(math.Inf(1))
}

// rank sorts the choices: those that pass first, by what is asked for, then by the metal in
// them. Without a single price of what passes, cost gives way to metal.
func (res *Result) rank() {
	res.By = res.Asked
	if res.By == "cost" && !slices.ContainsFunc(res.Choices, func(c Choice) bool { return c.Passes() && c.Cost.Total.Known }) {
		res.By = "metal"
	}
	slices.SortStableFunc(res.Choices, func(a, b Choice) int {
		if a.Passes() != b.Passes() {
			if a.Passes() {
				return -1
			}
			return 1
		}
		return cmp.Or(cmp.Compare(a.key(res.By), b.key(res.By)), cmp.Compare(a.key("metal"), b.key("metal")), cmp.Compare(a.key("size"), b.key("size")), cmp.Compare(a.Legs, b.Legs))
	})
	counts := map[string]int{}
	for i := range res.Choices {
		c := &res.Choices[i]
		if c.Drawn {
			res.Drawn = c
		}
		if c.Passes() {
			res.Passing++
			c.Rank = res.Passing
			continue
		}
		if !c.Drawn {
			counts[c.Refused[0].Rule]++
		}
		if res.Nearest == nil || c.lack().before(res.Nearest.lack()) {
			res.Nearest = c
		}
	}
	if res.Passing > 0 {
		res.Nearest = nil
	}
	for rule, n := range counts {
		res.Counts = append(res.Counts, Count{rule, n})
	}
	slices.SortFunc(res.Counts, func(a, b Count) int { return cmp.Or(cmp.Compare(b.N, a.N), cmp.Compare(a.Rule, b.Rule)) })
}

// lack is how far a choice is from passing: by errors without a figure, then by the greatest
// figure over its limit, then by all errors.
type lack struct {
	blunt, all int
	over       float64
}

func (c *Choice) lack() lack {
	k := lack{all: len(c.Refused)}
	for _, r := range c.Refused {
		if !r.Over.Known {
			k.blunt++
		}
		k.over = max(k.over, r.Over.Value)
	}
	return k
}

func (k lack) before(o lack) bool {
	return cmp.Or(cmp.Compare(k.blunt, o.blunt), cmp.Compare(k.over, o.over), cmp.Compare(k.all, o.all)) < 0
}
