package choices

import (
	"cmp"
	"container/heap"
	"errors"
	"fmt"
	"maps"
	"math"
	"slices"

	"trefoil/lint/assess"
	"trefoil/lint/design"
	"trefoil/lint/engine"
	"trefoil/lint/finding"
	"trefoil/lint/network"
	"trefoil/ratings/quantity"
)

// alone names the rules whose verdict on a run hangs on the run alone once its company is
// given: what they say of a run in its best company holds in every company.
var alone = map[string]bool{
	"run-not-assessed": true, "run-overloaded": true, "device-above-capacity": true,
	"terminal-size-unsuited": true, "terminal-metal-unsuited": true, "strands-too-fine": true,
	"size-below-least": true, "leg-too-small": true, "neutral-missing": true,
}

// Limits of a search. They are counts of work, not of time, so that the same design gives
// the same answer on every machine.
const (
	exactRuns  = 8        // up to so many runs are searched to the end
	mostNodes  = 20000    // parts of the choices that an exact search looks at
	mostTrials = 12000    // single changes that a bounded search tries
	mostPoints = 4000     // steps of cost over rise that are kept for what lies behind a board
	slack      = 1 - 1e-9 // of a bound, for binary fractions
)

// Plan is the cheapest set of choices for many runs together.
type Plan struct {
	By       string // cost or metal: what is made small
	Runs     []Pick
	Routes   []Laying
	From, To quantity.Maybe // the sum over the runs, and the routes that may be laid otherwise, as drawn and as chosen
	Bound    quantity.Maybe // nothing that passes comes to less
	Exact    bool           // searched to the end
	Method   string
	Stopped  string // why the search ended
	Passes   bool
	Refused  []Refusal     // errors that are left
	Standing []Refusal     // errors that no choice moves
	Partial  []*assess.Run // of which a part of the cost is not known; the sums are without it
	Stuck    []*assess.Run // for which no choice passes even in the best company; they stay as drawn
	Tried    int           // changes of the design that were tried
}

// Pick is what one run is to be.
type Pick struct {
	Run     *assess.Run
	Was, Is Choice
	Changed bool
}

// Laying is how one route is to be laid.
type Laying struct {
	Route   *design.Route
	Was, Is string
}

// Gap is by how much the plan may be dearer than the cheapest that passes, as a share.
func (p *Plan) Gap() quantity.Maybe {
	if !p.To.Known || !p.Bound.Known || p.Bound.Value <= 0 {
		return quantity.Maybe{}
	}
	return quantity.Of(max(0, p.To.Value/p.Bound.Value-1))
}

// option is one choice of one run for the search.
type option struct {
	choice Choice
	cost   float64 // in the best company, no more than in any
	rise   float64 // percent that the run adds to what lies behind it
	priced bool    // the whole cost is known
}

// search is one whole-design search.
type search struct {
	l        *Lister
	q        Ask
	by       string
	runs     []int           // those that may change
	at       map[int]int     // run -> place in runs
	subjects map[string]int  // the same by subject
	options  [][]option      // of each, cheapest first
	fixed    map[int]float64 // rise of runs that stay
	drawn    []int           // the option that is drawn, of each
	comp     network.Component
	limit    float64 // of rise, percent; infinite where none bounds it
	routes   []*design.Route
	layings  []string // "" for the one drawn
	tried    int
	members  [][]int         // of each run, the places of the runs that share its text, its own included
	stuck    []int           // runs for which nothing passes
	partial  []int           // runs of which no option has a whole price
	stand    map[string]bool // errors that no choice moves
	left     map[string]bool // errors, by rule and subject, that are put up with while the rest is made cheaper
}

// Plan searches the cheapest choices for the runs of a list taken together, that pass
// everything. Where that is asked for, it also chooses how routes in air are laid.
//
// What one run may be at the least, in the best company, and the rise of every path
// against its limit give a bound below which nothing passes, by dynamic programming over
// the tree. Up to 8 runs the choices are divided until the cheapest that passes is found;
// for more, what the bound points to is mended where rules refuse it, then made cheaper run
// by run for as long as everything passes.
func (l *Lister) Plan(runs []int, q Ask) (*Plan, error) {
	s, err := l.prepare(runs, q)
	if err != nil {
		return nil, err
	}
	p := &Plan{}
	var best *state
	if s.small() {
		best = s.exact(p)
	} else {
		best = s.bounded(p)
	}
	s.fill(p, best)
	return p, nil
}

// prepare works out what a search chooses from.
func (l *Lister) prepare(runs []int, q Ask) (*search, error) {
	if l.v.Set == nil {
		return nil, errors.New("the design names no rating set that could be used; trefoil check tells why")
	}
	s := &search{l: l, q: q, at: map[int]int{}, subjects: map[string]int{}, layings: append([]string{""}, q.Laid...)}
	for _, i := range runs {
		if a := &l.v.Runs[i]; a.Cable != nil && usable(a.Cable) && !a.Run.Size.Zero() {
			s.at[i] = len(s.runs)
			s.subjects[a.Run.Subject()] = len(s.runs)
			s.runs = append(s.runs, i)
		}
	}
	if len(s.runs) == 0 {
		return nil, errors.New("no run states a usable cable and size; trefoil check tells why")
	}
	for _, i := range s.runs {
		var list []int
		for _, j := range l.group(i) {
			if k, ok := s.at[j]; ok {
				list = append(list, k)
			}
		}
		s.members = append(s.members, list)
	}
	if len(q.Laid) > 0 {
		s.routes = l.inAir(s.runs)
	}
	s.limits()
	s.offer()
	s.standing()
	return s, nil
}

// small says that the search can be to the end.
func (s *search) small() bool {
	combined := 1.0
	for range s.routes {
		combined *= float64(len(s.layings))
	}
	return len(s.runs) <= exactRuns && combined <= 64
}

// limits finds the component of the rise that counts, and its limit. Where phasors are the
// verdict, which lie below the trade's figure, the bound leaves the rise out.
func (s *search) limits() {
	s.limit = math.Inf(1)
	v := s.l.v
	site := v.Design.Site()
	comp, ok := v.Rises.WorstComponent()
	if site == nil || !site.RiseLimitPercent.Known() || v.ByExact() || !ok {
		return
	}
	s.comp, s.limit = comp, site.RiseLimitPercent.Value
}

// offer works out the options of every run.
func (s *search) offer() {
	v := s.l.v
	legs := map[int]int{}
	for _, i := range s.runs {
		legs[i] = slices.Min(s.legsOf(i))
	}
	least := func(i int) int {
		if n, ok := legs[i]; ok {
			return n
		}
		return v.Runs[i].Legs
	}
	for _, s.by = range []string{"cost", "metal"} {
		s.options, s.drawn, s.stuck, s.partial = nil, nil, nil, nil
		priced := false
		for _, i := range s.runs {
			list, drawn := s.optionsOf(i, least)
			s.options, s.drawn = append(s.options, list), append(s.drawn, drawn)
			if len(list) == 0 {
				s.hopeless(i)
			}
			if !s.whole(i) {
				s.partial = append(s.partial, i)
			} else {
				priced = true
			}
		}
		if priced {
			break
		}
	}
	s.fixed = map[int]float64{}
	for i := range v.Runs {
		if _, ok := s.at[i]; !ok {
			s.fixed[i], _ = v.Tree.OwnRise(i, v.Runs[i].Impedance, s.comp)
		}
	}
}

// whole says that what a run comes to as it is drawn is known.
func (s *search) whole(i int) bool {
	if s.l.price == nil {
		return false
	}
	c := s.l.price(s.l.v, &s.l.v.Runs[i])
	_, ok := s.money(&c)
	return ok
}

// hopeless leaves a run as it is drawn, because no choice for it passes even in the best
// company.
func (s *search) hopeless(i int) {
	a := &s.l.v.Runs[i]
	o := option{choice: s.l.choose([]int{i}, Kind{a.Cable, true}, a.Run.Size, a.Legs)}
	if s.l.price != nil {
		cost := s.l.price(s.l.v, a)
		o.cost, _ = s.money(&cost)
	}
	o.rise, _ = s.l.v.Tree.OwnRise(i, a.Impedance, s.comp)
	last := len(s.options) - 1
	s.options[last], s.drawn[last] = []option{o}, 0
	s.stuck = append(s.stuck, i)
}

func (s *search) legsOf(i int) []int {
	a := &s.l.v.Runs[i]
	if len(s.q.Legs) == 0 || a.Run.LegLengthsM.Known() {
		return []int{a.Legs}
	}
	return s.q.Legs
}

// kindsOf are the cables of a run: its own, unless more is asked for.
func (s *search) kindsOf(i int) []Kind {
	a := &s.l.v.Runs[i]
	if len(s.q.Conductors)+len(s.q.Strands)+len(s.q.Builds)+len(s.q.Insulations) == 0 {
		return []Kind{{a.Cable, true}}
	}
	return s.q.kinds(s.l.v.Design, a)
}

// money is what the search makes small, of a cost.
func (s *search) money(c *Cost) (float64, bool) {
	m := c.Total
	if s.by == "metal" {
		m = c.MetalKg
	}
	return m.Value, m.Known
}

// optionsOf lists what a run may be, cheapest first, without what fails in the best company,
// and gives the place of the drawn one, -1 where it fails. Where some have a price, or lack
// no more of it than what is drawn, the others are left out, but for the drawn one.
func (s *search) optionsOf(i int, least func(int) int) (list []option, drawn int) {
	v, a := s.l.v, &s.l.v.Runs[i]
	sizes := s.q.Sizes
	if len(sizes) == 0 {
		sizes = Sizes(a.Run.Size)
	}
	if !slices.Contains(sizes, a.Run.Size) {
		sizes = append([]quantity.Size{a.Run.Size}, sizes...)
	}
	var lacks []string // of the drawn one
	if s.l.price != nil {
		lacks = s.l.price(v, a).Lacks
	}
	add := func(c Choice) {
		best := option{cost: math.Inf(1), rise: math.Inf(1), priced: true}
		for _, laid := range s.layings {
			seen := v.Alone(c.changes[0], least, func(r *design.Route) *design.Route {
				if laid == "" || !slices.Contains(s.routes, r) {
					return r
				}
				to := Laid(r, laid)
				return &to
			})
			if !s.l.aloneOf(i, seen) {
				continue
			}
			rise, known := v.Tree.OwnRise(i, seen.Impedance, s.comp)
			cost := Cost{}
			if s.l.price != nil {
				cost = s.l.price(v, &seen)
			}
			money, has := s.money(&cost)
			best.priced = best.priced && (has || !slices.ContainsFunc(cost.Lacks, func(l string) bool { return !slices.Contains(lacks, l) }))
			if known {
				best.rise = min(best.rise, rise)
			} else {
				best.rise = 0
			}
			best.cost = min(best.cost, money)
		}
		if math.IsInf(best.cost, 1) {
			return
		}
		best.choice = c
		list = append(list, best)
	}
	for _, k := range s.kindsOf(i) {
		for _, legs := range s.legsOf(i) {
			for _, size := range sizes {
				c := s.l.choose([]int{i}, k, size, legs)
				if !c.Drawn {
					s.l.earth(s.l.group(i), &c)
				}
				add(c)
			}
		}
	}
	if slices.ContainsFunc(list, func(o option) bool { return o.priced }) {
		list = slices.DeleteFunc(list, func(o option) bool { return !o.priced && !o.choice.Drawn })
	}
	slices.SortStableFunc(list, func(a, b option) int {
		return cmp.Or(cmp.Compare(a.cost, b.cost), cmp.Compare(a.choice.Size.MM2*float64(a.choice.Legs), b.choice.Size.MM2*float64(b.choice.Legs)))
	})
	return list, slices.IndexFunc(list, func(o option) bool { return o.choice.Drawn })
}

// aloneOf says that a run, as it might be, fails none of the rules that look at it alone.
func (l *Lister) aloneOf(i int, seen assess.Run) bool {
	was := l.v.Runs[i]
	l.v.Runs[i] = seen
	l.v.Only = &assess.Scope{Runs: []int{i}}
	defer func() { l.v.Runs[i], l.v.Only = was, nil }()
	for _, f := range engine.Part(l.v, l.single, l.today) {
		if f.Severity == finding.Error && !f.Waived && f.Subject == was.Run.Subject() {
			return false
		}
	}
	return true
}

// earth gives a choice the earth conductor that the runs that share its text need where they
// lie, their neighbours as they are drawn.
func (l *Lister) earth(runs []int, c *Choice) {
	run := l.v.Runs[runs[0]].Run
	if !run.EarthMM2.Known() || run.EarthMM2.Value == 0 || c.Size == run.Size {
		return
	}
	all := l.choose(runs, c.Kind, c.Size, c.Legs)
	trial := l.v.Try(all.changes, nil)
	mm2, ok := l.earthFor(runs)
	trial.Undo()
	if ok {
		c.earth(mm2)
	}
}

// like is the option of run k that is the same choice as option o of run from; -1 where it
// has none.
func (s *search) like(from, o, k int) int {
	if k == from {
		return o
	}
	c := &s.options[from][o].choice
	return slices.IndexFunc(s.options[k], func(x option) bool {
		return x.choice.Kind.Cable.Name == c.Kind.Cable.Name && x.choice.Size == c.Size && x.choice.Legs == c.Legs
	})
}

// alike gives option o of run k, and the same to the runs that share its text: their places
// and options. nil where one of them cannot have it.
func (s *search) alike(k, o int) map[int]int {
	set := map[int]int{}
	for _, m := range s.members[k] {
		if set[m] = s.like(k, o, m); set[m] < 0 {
			return nil
		}
	}
	return set
}

// changes gives the choices of a set as changes of runs.
func (s *search) changes(set map[int]int) (list []assess.Change) {
	for k, o := range set {
		list = append(list, s.options[k][o].choice.changes[0])
	}
	slices.SortFunc(list, func(a, b assess.Change) int { return cmp.Compare(a.Run, b.Run) })
	return list
}

// put puts a set into a state.
func (st *state) put(set map[int]int) {
	for k, o := range set {
		st.pick[k] = o
	}
}

// torn is a run whose copies have other choices than itself in a state; -1 where none is.
func (s *search) torn(st *state) int {
	for k := range s.runs {
		for _, m := range s.members[k] {
			if s.like(k, st.pick[k], m) != st.pick[m] {
				return k
			}
		}
	}
	return -1
}

// unite gives copies one choice: the dearest of what they have that all of them can have.
func (s *search) unite(st *state) {
	for k := range s.runs {
		if s.members[k][0] != k || len(s.members[k]) == 1 {
			continue
		}
		var best map[int]int
		dearest := math.Inf(-1)
		for _, m := range s.members[k] {
			if set := s.alike(m, st.pick[m]); set != nil && s.options[m][st.pick[m]].cost > dearest {
				best, dearest = set, s.options[m][st.pick[m]].cost
			}
		}
		if best == nil {
			for o := range slices.Backward(s.options[k]) {
				if best = s.alike(k, o); best != nil {
					break
				}
			}
		}
		st.put(best)
	}
}

// state is one set of choices: the option of each run, the laying of each route.
type state struct {
	pick []int
	laid []int
}

// try puts a state into the design.
func (s *search) try(st *state) *assess.Trial {
	s.tried++
	var changes []assess.Change
	for k, i := range s.runs {
		if st.pick[k] != s.drawn[k] {
			c := s.options[k][st.pick[k]].choice.changes[0]
			if c.To.Size == s.l.v.Runs[i].Run.Size && c.Cable == s.l.v.Runs[i].Cable && c.To.Parallel.Value == s.l.v.Runs[i].Run.Parallel.Value && c.To.EarthMM2.Value == s.l.v.Runs[i].Run.EarthMM2.Value {
				continue
			}
			changes = append(changes, c)
		}
	}
	var layings []assess.Laying
	for k, r := range s.routes {
		if to := s.layings[st.laid[k]]; to != "" && to != r.Laid.Value {
			layings = append(layings, assess.Laying{Route: r, To: Laid(r, to)})
		}
	}
	return s.l.v.Try(changes, layings)
}

// errors lists what refuses the design as it is under a trial; nil for the whole of it.
func (s *search) errors(scope *assess.Scope) (list []Refusal) {
	found := s.l.told(scope)
	for i := range found {
		f := &found[i]
		if f.Severity == finding.Error && !f.Waived && !s.stand[f.Rule+" "+f.Subject+" "+f.Message] {
			list = append(list, refusal(f))
		}
	}
	return list
}

// sum is what the runs and routes come to under a trial.
func (s *search) sum() float64 {
	total := 0.0
	for _, i := range s.runs {
		total += s.costOf(i)
	}
	for _, r := range s.routes {
		total += s.routeCost(r)
	}
	return total
}

func (s *search) costOf(i int) float64 {
	if s.l.price == nil {
		return 0
	}
	c := s.l.price(s.l.v, &s.l.v.Runs[i])
	m, _ := s.money(&c)
	return m
}

func (s *search) routeCost(r *design.Route) float64 {
	if s.l.routePrice == nil || s.by != "cost" {
		return 0
	}
	return s.l.routePrice(s.l.v, s.l.v.Shared[r]).Value
}

// leastRoute is the least that a route comes to in any of its layings.
func (s *search) leastRoute(k int) float64 {
	least := math.Inf(1)
	st := &state{pick: slices.Clone(s.drawn), laid: make([]int, len(s.routes))}
	for j := range st.pick {
		st.pick[j] = max(0, st.pick[j])
	}
	for n := range s.layings {
		var to []assess.Laying
		if w := s.layings[n]; w != "" && w != s.routes[k].Laid.Value {
			to = []assess.Laying{{Route: s.routes[k], To: Laid(s.routes[k], w)}}
		}
		trial := s.l.v.Try(nil, to)
		least = min(least, s.routeCost(s.routes[k]))
		trial.Undo()
	}
	return least
}

// standing finds the errors that no choice moves: those of the design as drawn that stay
// in the same words when each run on its own is given its dearest and its cheapest option.
func (s *search) standing() {
	s.stand = map[string]bool{}
	left := map[string]bool{}
	told := map[string][]string{} // the same by subject
	for key, f := range s.l.base {
		if f.Severity == finding.Error && !f.Waived {
			left[key+" "+f.Message] = true
			told[f.Subject] = append(told[f.Subject], key+" "+f.Message)
		}
	}
	if len(left) == 0 {
		return
	}
	look := func(changes []assess.Change, layings []assess.Laying) {
		trial := s.l.v.Try(changes, layings)
		s.tried++
		now := map[string]bool{}
		for _, f := range s.l.told(&trial.Scope) {
			now[f.Rule+" "+f.Subject+" "+f.Message] = true
		}
		cleared := func(subject string) {
			for _, key := range told[subject] {
				if !now[key] {
					delete(left, key)
				}
			}
		}
		for _, j := range trial.Scope.Runs {
			cleared(s.l.v.Runs[j].Run.Subject())
		}
		for _, n := range trial.Scope.Nodes {
			cleared(s.l.v.Tree.Nodes[n].Subject)
		}
		for r := range trial.Scope.Routes {
			cleared(r.Subject())
		}
		trial.Undo()
	}
	for k := range s.runs {
		for _, o := range []int{0, len(s.options[k]) / 2, len(s.options[k]) - 1} {
			if c := &s.options[k][o].choice; !c.Drawn {
				look(c.changes, nil)
			}
		}
	}
	for _, r := range s.routes {
		for _, laid := range s.layings {
			if laid != "" && laid != r.Laid.Value {
				look(nil, []assess.Laying{{Route: r, To: Laid(r, laid)}})
			}
		}
	}
	s.stand = left
}

// relaxed finds the cheapest options of those allowed that keep the rise of every path
// within its limit, each run in its best company, and what they come to: nothing that
// passes comes to less.
func (s *search) relaxed(allowed [][]int) (pick []int, cost float64) {
	d := &dp{s: s, allowed: allowed, behind: make(map[int]steps), pick: make([]int, len(s.runs))}
	t := s.l.v.Tree
	order := t.Order()
	for _, n := range slices.Backward(order) {
		d.behind[n] = d.node(n)
	}
	total := 0.0
	for _, n := range order {
		if t.Nodes[n].Up < 0 || !t.Nodes[n].Reached {
			total += d.behind[n].at(s.limit)
			d.choose(n, s.limit)
		}
	}
	for k, i := range s.runs { // runs out of the tree
		if seg := &t.Segments[i]; seg.State != network.Fed {
			d.pick[k] = allowed[k][0]
			total += s.options[k][allowed[k][0]].cost
		}
	}
	return d.pick, total
}

// steps is a cost that falls in steps as the rise that is left grows.
type steps []step

type step struct{ rise, cost float64 }

// at is the least cost with so much rise left; infinite where nothing fits.
func (f steps) at(rise float64) float64 {
	k := len(f)
	for lo, hi := 0, len(f); lo < hi; {
		mid := (lo + hi) / 2
		if quantity.AtMost(f[mid].rise, rise) {
			lo = mid + 1
		} else {
			hi = mid
		}
		k = lo
	}
	if k == 0 {
		return math.Inf(1)
	}
	return f[k-1].cost
}

// fall keeps the steps at which the cost falls, and no more than mostPoints of them, each
// standing for those before it at their least rise.
func fall(f steps) steps {
	slices.SortFunc(f, func(a, b step) int { return cmp.Or(cmp.Compare(a.rise, b.rise), cmp.Compare(a.cost, b.cost)) })
	var out steps
	for _, p := range f {
		if len(out) == 0 || p.cost < out[len(out)-1].cost {
			out = append(out, p)
		}
	}
	if len(out) <= mostPoints {
		return out
	}
	every := (len(out) + mostPoints - 1) / mostPoints
	var thin steps
	for k := 0; k < len(out); k += every {
		last := min(k+every, len(out)) - 1
		thin = append(thin, step{out[k].rise, out[last].cost})
	}
	return thin
}

// plus adds two costs over the same rise.
func plus(f, g steps) steps {
	if len(f) == 0 || len(g) == 0 {
		return nil
	}
	var out steps
	for i, j := 0, 0; ; {
		rise := max(f[i].rise, g[j].rise)
		out = append(out, step{rise, f[i].cost + g[j].cost})
		nextF, nextG := math.Inf(1), math.Inf(1)
		if i+1 < len(f) {
			nextF = f[i+1].rise
		}
		if j+1 < len(g) {
			nextG = g[j+1].rise
		}
		switch {
		case math.IsInf(nextF, 1) && math.IsInf(nextG, 1):
			return fall(out)
		case nextF <= nextG:
			i++
		default:
			j++
		}
	}
}

// dp is the dynamic programme over the tree.
type dp struct {
	s       *search
	allowed [][]int
	behind  map[int]steps
	pick    []int
}

// node is the cost of everything behind a node over the rise that is left there.
func (d *dp) node(n int) steps {
	t := d.s.l.v.Tree
	f := steps{{math.Inf(-1), 0}}
	if src := t.Nodes[n].Source; src != nil && t.Bound(src, d.s.comp) {
		f = steps{{0, 0}}
	}
	for _, far := range t.Ways(n) {
		f = plus(f, d.way(t.Nodes[far].Up, far))
	}
	return f
}

// way is the same for one run and everything behind it.
func (d *dp) way(i, far int) steps {
	k, ok := d.s.at[i]
	behind := d.behind[far]
	if !ok {
		return shift(nil, behind, d.s.fixed[i], 0)
	}
	var f steps
	for _, o := range d.allowed[k] {
		f = shift(f, behind, d.s.options[k][o].rise, d.s.options[k][o].cost)
	}
	return fall(f)
}

func shift(to, f steps, rise, cost float64) steps {
	for _, p := range f {
		to = append(to, step{p.rise + rise, p.cost + cost})
	}
	return to
}

// choose goes down from a node with the rise that is left there, and picks options.
func (d *dp) choose(n int, left float64) {
	t := d.s.l.v.Tree
	for _, far := range t.Ways(n) {
		i := t.Nodes[far].Up
		k, ok := d.s.at[i]
		if !ok {
			d.choose(far, left-d.s.fixed[i])
			continue
		}
		best, cost := d.allowed[k][len(d.allowed[k])-1], math.Inf(1)
		for _, o := range d.allowed[k] {
			x := &d.s.options[k][o]
			if c := x.cost + d.behind[far].at(left-x.rise); c < cost {
				best, cost = o, c
			}
		}
		if math.IsInf(cost, 1) { // nothing fits: what adds least
			for _, o := range d.allowed[k] {
				if d.s.options[k][o].rise < d.s.options[k][best].rise {
					best = o
				}
			}
		}
		d.pick[k] = best
		d.choose(far, left-d.s.options[k][best].rise)
	}
}

// branch is a part of all choices, of which nothing comes to less than bound.
type branch struct {
	allowed [][]int
	laid    [][]int
	pick    []int
	bound   float64
	order   int
}

type branches []*branch

func (b branches) Len() int { return len(b) }
func (b branches) Less(i, j int) bool {
	return cmp.Or(cmp.Compare(b[i].bound, b[j].bound), cmp.Compare(b[i].order, b[j].order)) < 0
}
func (b branches) Swap(i, j int) { b[i], b[j] = b[j], b[i] }
func (b *branches) Push(x any)   { *b = append(*b, x.(*branch)) }
func (b *branches) Pop() any {
	old := *b
	x := old[len(old)-1]
	*b = old[:len(old)-1]
	return x
}

// exact divides the choices, always that part of which the bound is least, until the
// cheapest that passes is found.
func (s *search) exact(p *Plan) *state {
	p.Method = fmt.Sprintf("all choices for %d runs, divided until no part can hold a cheaper one", len(s.runs))
	routes := 0.0
	for k := range s.routes {
		routes += s.leastRoute(k)
	}
	root := &branch{allowed: s.starts()[0]}
	for range s.routes {
		all := make([]int, len(s.layings))
		for o := range all {
			all[o] = o
		}
		root.laid = append(root.laid, all)
	}
	var queue branches
	push := func(b *branch) {
		var cost float64
		b.pick, cost = s.relaxed(b.allowed)
		if b.bound = max(b.bound, cost+routes); !math.IsInf(b.bound, 1) {
			b.order = queue.Len()
			heap.Push(&queue, b)
		}
	}
	push(root)
	if queue.Len() > 0 {
		p.Bound = quantity.Of(queue[0].bound)
	}
	var best *state
	least := math.Inf(1)
	for nodes := 0; queue.Len() > 0; nodes++ {
		if b := queue[0]; b.bound*slack >= least {
			break
		}
		if nodes == mostNodes {
			p.Stopped = fmt.Sprintf("%d parts of the choices were looked at, the most that a search takes", mostNodes)
			p.Bound = quantity.Of(min(queue[0].bound, least))
			return s.orMend(best)
		}
		b := heap.Pop(&queue).(*branch)
		p.Bound = quantity.Of(b.bound)
		st := &state{pick: b.pick}
		for k := range s.routes {
			st.laid = append(st.laid, b.laid[k][0])
		}
		if at := s.torn(st); at >= 0 {
			s.part(b, at, push)
			continue
		}
		trial := s.try(st)
		wrong := s.errors(nil)
		cost := s.sum()
		trial.Undo()
		if len(wrong) == 0 && cost < least {
			best, least = st, cost
		}
		if len(wrong) == 0 && cost <= b.bound/slack {
			continue // nothing in this part is cheaper
		}
		s.divide(b, wrong, push)
	}
	p.Exact = true
	p.Stopped = "no other choice that passes is cheaper"
	if best == nil {
		p.Stopped = "every choice was looked at, and none passes"
		return s.orMend(nil)
	}
	p.Bound = quantity.Of(least)
	return best
}

// divide parts a branch at a run or a route that is not yet settled, at one of those that
// are told to be wrong where there is one.
func (s *search) divide(b *branch, wrong []Refusal, push func(*branch)) {
	at, score := -1, -1
	for k, i := range s.runs {
		if len(b.allowed[k]) < 2 {
			continue
		}
		points := 0
		for _, r := range wrong {
			switch {
			case r.Subject == s.l.v.Runs[i].Run.Subject():
				points += 4
			case s.l.own([]int{i})[r.Subject]:
				points += 2
			}
		}
		if points > score {
			at, score = k, points
		}
	}
	if at < 0 || score <= 0 {
		for k := range s.routes {
			if len(b.laid[k]) > 1 {
				for _, o := range b.laid[k] {
					child := &branch{allowed: b.allowed, laid: slices.Clone(b.laid), bound: b.bound}
					child.laid[k] = []int{o}
					push(child)
				}
				return
			}
		}
	}
	if at < 0 {
		return
	}
	s.part(b, at, push)
}

// part parts a branch by what a run, and its copies, have in it: that alone, and everything
// else.
func (s *search) part(b *branch, at int, push func(*branch)) {
	one := &branch{allowed: slices.Clone(b.allowed), laid: b.laid, bound: b.bound}
	others := &branch{allowed: slices.Clone(b.allowed), laid: b.laid, bound: b.bound}
	hasOne, hasOthers := true, true
	for _, m := range s.members[at] {
		is := s.like(at, b.pick[at], m)
		one.allowed[m] = []int{is}
		hasOne = hasOne && slices.Contains(b.allowed[m], is)
		others.allowed[m] = slices.DeleteFunc(slices.Clone(b.allowed[m]), func(o int) bool { return o == is })
		hasOthers = hasOthers && len(others.allowed[m]) > 0
	}
	if hasOne {
		push(one)
	}
	if hasOthers {
		push(others)
	}
}

// orMend gives the best state, or where there is none the nearest one that can be had.
func (s *search) orMend(best *state) *state {
	if best != nil {
		return best
	}
	pick, _ := s.relaxed(s.starts()[0])
	st := &state{pick: pick, laid: make([]int, len(s.routes))}
	s.unite(st)
	s.mend(st)
	return st
}

// bounded starts from what the bound points to, mends what rules refuse, and makes it
// cheaper while everything passes. Where legs may vary it also starts from equal numbers of
// legs throughout, because what is cheap for one run crowds its neighbours.
func (s *search) bounded(p *Plan) *state {
	p.Method = fmt.Sprintf("for %d runs: what the bound points to, mended where rules refuse it, then made cheaper run by run", len(s.runs))
	var st *state
	least, passes := math.Inf(1), false
	for n, allowed := range s.starts() {
		pick, cost := s.relaxed(allowed)
		if n == 0 {
			for k := range s.routes {
				cost += s.leastRoute(k)
			}
			p.Bound = quantity.Of(cost)
		}
		from := &state{pick: pick, laid: make([]int, len(s.routes))}
		s.unite(from)
		ok := s.mend(from)
		trial := s.try(from)
		sum := s.sum()
		trial.Undo()
		if st == nil || ok && (!passes || sum < least) {
			st, least, passes = from, sum, ok
		}
	}
	if !passes {
		if own := s.asDrawn(); own != nil {
			st, passes = own, true
		}
	}
	p.Stopped = "no single change that passes makes it cheaper"
	if !passes {
		p.Stopped = "what is refused could not be mended by other choices; nothing else that passes makes it cheaper"
		trial := s.try(st)
		s.left = map[string]bool{}
		for _, r := range s.errors(nil) {
			s.left[r.Rule+" "+r.Subject] = true
		}
		trial.Undo()
	}
	if !s.improve(st) {
		p.Stopped = fmt.Sprintf("%d changes were tried, the most that a search takes", mostTrials)
	}
	return st
}

// starts lists the options from which to start: all of them, then those of one number of
// legs each.
func (s *search) starts() [][][]int {
	pick := func(fits func(*option) bool) [][]int {
		var allowed [][]int
		for k := range s.runs {
			var list, every []int
			for o := range s.options[k] {
				every = append(every, o)
				if fits(&s.options[k][o]) {
					list = append(list, o)
				}
			}
			if len(list) == 0 {
				list = every
			}
			allowed = append(allowed, list)
		}
		return allowed
	}
	list := [][][]int{pick(func(*option) bool { return true })}
	var legs []int
	for k := range s.runs {
		for o := range s.options[k] {
			if n := s.options[k][o].choice.Legs; !slices.Contains(legs, n) {
				legs = append(legs, n)
			}
		}
	}
	if len(s.q.Legs) == 0 {
		return list
	}
	slices.Sort(legs)
	for _, n := range legs[:min(4, len(legs))] {
		list = append(list, pick(func(o *option) bool { return o.choice.Legs == n }))
	}
	return list
}

// asDrawn is the design as it is, where it passes.
func (s *search) asDrawn() *state {
	if slices.Contains(s.drawn, -1) || len(s.errors(nil)) > 0 {
		return nil
	}
	return &state{pick: slices.Clone(s.drawn), laid: make([]int, len(s.routes))}
}

// mend changes options until no rule refuses the state, by the cheapest step each time.
func (s *search) mend(st *state) bool {
	from := s.tried
	for range 200 {
		trial := s.try(st)
		wrong := s.errors(nil)
		moved := false
		done := map[int]bool{} // runs changed in this turn
		for _, r := range wrong {
			if s.tried-from > mostTrials/4 {
				break
			}
			if k, ok := s.answering(r); ok {
				if len(s.options[k]) > 1 && !done[s.runs[k]] && s.mendRun(st, k, r) {
					moved, done[s.runs[k]] = true, true
				}
				continue
			}
			if k, o := s.cheapestOnPath(st, r, done); k >= 0 {
				st.put(s.alike(k, o))
				moved, done[s.runs[k]] = true, true
			}
		}
		trial.Undo()
		if len(wrong) == 0 {
			return true
		}
		if !moved {
			return false
		}
	}
	return false
}

// answering is the run that an error is told of, where it may change.
func (s *search) answering(r Refusal) (int, bool) {
	k, ok := s.subjects[r.Subject]
	return k, ok
}

// mendRun gives a run the cheapest other option with which its error is gone, under the
// trial of the state.
func (s *search) mendRun(st *state, k int, r Refusal) bool {
	for o := range s.options[k] {
		if o == st.pick[k] {
			continue
		}
		set := s.alike(k, o)
		if set == nil {
			continue
		}
		trial := s.l.v.Try(s.changes(set), nil)
		s.tried++
		still := slices.ContainsFunc(s.errors(&trial.Scope), func(x Refusal) bool { return x.Subject == r.Subject })
		trial.Undo()
		if !still {
			st.put(set)
			return true
		}
	}
	return false
}

// cheapestOnPath is the option of a run between the supply and a node that costs least for
// the rise that it takes away; -1 where nothing helps, or a run on the path has changed
// already.
func (s *search) cheapestOnPath(st *state, r Refusal, done map[int]bool) (run, option int) {
	t := s.l.v.Tree
	node := slices.IndexFunc(t.Nodes, func(n network.Node) bool { return n.Subject == r.Subject })
	run, option = -1, -1
	if node < 0 {
		return run, option
	}
	best := math.Inf(1)
	for _, i := range t.Path(node) {
		k, ok := s.at[i]
		if done[i] {
			return -1, -1
		}
		if !ok {
			continue
		}
		now := &s.options[k][st.pick[k]]
		for o := range s.options[k] {
			x := &s.options[k][o]
			if x.rise < now.rise && s.alike(k, o) != nil {
				if price := (x.cost - now.cost) / (now.rise - x.rise); price < best {
					best, run, option = price, k, o
				}
			}
		}
	}
	return run, option
}

// improve makes a state that passes cheaper, one run or one route at a time; false where
// the work is cut short.
func (s *search) improve(st *state) bool {
	from := s.tried
	held := []*assess.Trial{s.try(st)} // what is accepted stays in the design
	defer func() {
		for _, t := range slices.Backward(held) {
			t.Undo()
		}
	}()
	for {
		better := false
		for k := range s.runs {
			if s.tried-from > mostTrials {
				return false
			}
			if t := s.cheaper(st, k); t != nil {
				held, better = append(held, t), true
			}
		}
		for k := range s.routes {
			if s.tried-from > mostTrials {
				return false
			}
			if t := s.relaid(st, k); t != nil {
				held, better = append(held, t...), true
			}
		}
		if !better {
			return true
		}
	}
}

// cheaper gives a run the cheapest option that passes and costs less than what it has.
func (s *search) cheaper(st *state, k int) *assess.Trial {
	i := s.runs[k]
	for o := range s.options[k] {
		if o == st.pick[k] || s.options[k][o].cost >= s.costOf(i)*slack {
			continue
		}
		set := s.alike(k, o)
		if set == nil {
			continue
		}
		if t := s.accept(s.changes(set)); t != nil {
			st.put(set)
			return t
		}
	}
	return nil
}

// accept tries a change, and leaves it in the design where it passes and costs less.
func (s *search) accept(changes []assess.Change) *assess.Trial {
	touched := map[int]bool{}
	for _, c := range changes {
		for _, x := range s.l.v.Runs[c.Run].Sections {
			if x.Shared != nil {
				for _, j := range x.Shared.Runs {
					touched[j] = true
				}
			}
		}
		touched[c.Run] = true
	}
	sum := func() float64 {
		total := 0.0
		for _, i := range slices.Sorted(maps.Keys(touched)) {
			if _, ok := s.at[i]; ok {
				total += s.costOf(i)
			}
		}
		return total
	}
	before := sum()
	trial := s.l.v.Try(changes, nil)
	s.tried++
	if sum() < before*slack && s.passes(&trial.Scope) {
		return trial
	}
	trial.Undo()
	return nil
}

// passes says that a scope shows no error but those that are put up with.
func (s *search) passes(scope *assess.Scope) bool {
	return !slices.ContainsFunc(s.errors(scope), func(r Refusal) bool { return !s.left[r.Rule+" "+r.Subject] })
}

// relaid lays a route otherwise and chooses its runs anew, where that passes and the whole
// costs less.
func (s *search) relaid(st *state, k int) []*assess.Trial {
	r := s.routes[k]
	shared := s.l.v.Shared[r]
	if shared == nil {
		return nil
	}
	for n, laid := range s.layings {
		if n == st.laid[k] || laid == "" { // as it is, or where it came from
			continue
		}
		before := s.sum()
		pick := slices.Clone(st.pick)
		held := []*assess.Trial{s.l.v.Try(nil, []assess.Laying{{Route: r, To: Laid(r, laid)}})}
		s.tried++
		scope := held[0].Scope
		for _, i := range shared.Runs {
			at, ok := s.at[i]
			if !ok {
				continue
			}
			for o := range s.options[at] {
				set := s.alike(at, o)
				if set == nil {
					continue
				}
				t := s.l.v.Try(s.changes(set), nil)
				s.tried++
				if !slices.ContainsFunc(s.errors(&t.Scope), func(x Refusal) bool { return x.Subject == s.l.v.Runs[i].Run.Subject() || s.l.own([]int{i})[x.Subject] }) {
					held = append(held, t)
					(&state{pick: pick}).put(set)
					scope = join(scope, t.Scope)
					break
				}
				t.Undo()
			}
		}
		if s.sum() < before*slack && s.passes(&scope) {
			copy(st.pick, pick)
			st.laid[k] = n
			return held
		}
		for _, t := range slices.Backward(held) {
			t.Undo()
		}
	}
	return nil
}

// join is both scopes together.
func join(a, b assess.Scope) assess.Scope {
	merge := func(x, y []int) []int {
		list := append(slices.Clone(x), y...)
		slices.Sort(list)
		return slices.Compact(list)
	}
	routes := map[*design.Route]bool{}
	for _, m := range []map[*design.Route]bool{a.Routes, b.Routes} {
		for r := range m {
			routes[r] = true
		}
	}
	return assess.Scope{Runs: merge(a.Runs, b.Runs), Nodes: merge(a.Nodes, b.Nodes), Routes: routes}
}

// fill writes the plan of a state.
func (s *search) fill(p *Plan, st *state) {
	p.By, p.Tried = s.by, s.tried
	for _, i := range s.runs {
		a := &s.l.v.Runs[i]
		c := s.l.choose([]int{i}, Kind{a.Cable, true}, a.Run.Size, a.Legs)
		s.l.measure([]int{i}, &c)
		p.Runs = append(p.Runs, Pick{Run: a, Was: c})
	}
	for key := range s.stand {
		for _, f := range s.l.base {
			if f.Rule+" "+f.Subject+" "+f.Message == key {
				p.Standing = append(p.Standing, refusal(f))
			}
		}
	}
	slices.SortFunc(p.Standing, func(a, b Refusal) int {
		return cmp.Or(cmp.Compare(a.Rule, b.Rule), cmp.Compare(a.Subject, b.Subject))
	})
	for _, i := range s.stuck {
		p.Stuck = append(p.Stuck, &s.l.v.Runs[i])
	}
	for _, i := range s.partial {
		p.Partial = append(p.Partial, &s.l.v.Runs[i])
	}
	p.From = s.known(s.sum())
	for k, r := range s.routes {
		is := cmp.Or(s.layings[st.laid[k]], r.Laid.Value)
		p.Routes = append(p.Routes, Laying{Route: r, Was: r.Laid.Value, Is: is})
	}
	trial := s.try(st)
	defer trial.Undo()
	for k, i := range s.runs {
		c := s.options[k][st.pick[k]].choice
		s.l.measure([]int{i}, &c)
		x := &p.Runs[k]
		x.Is = c
		x.Changed = c.Kind.Cable != x.Was.Kind.Cable || c.Size != x.Was.Size || c.Legs != x.Was.Legs || c.EarthMM2 != x.Was.EarthMM2
	}
	p.Refused = s.errors(nil)
	p.Passes = len(p.Refused)+len(p.Stuck) == 0
	p.To = s.known(s.sum())
	if p.Bound.Known && !quantity.Finite(p.Bound.Value) {
		p.Bound = quantity.Maybe{}
	}
}

// known is a sum over runs and routes, where they can be priced at all.
func (s *search) known(sum float64) quantity.Maybe {
	if s.l.price == nil {
		return quantity.Maybe{}
	}
	return quantity.Of(sum)
}
