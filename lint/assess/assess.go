// Package assess works out every figure of a run once: what each section may
// carry and why, impedance, rise, loss. Rules compare these figures, documents
// print them; nobody reckons them again.
//
// It stands between network and engine: Design + Tree + rating set -> Review.
package assess

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
	"sync"

	"trefoil/lint/design"
	"trefoil/lint/finding"
	"trefoil/lint/network"
	"trefoil/lint/source"
	"trefoil/lint/syntax"
	"trefoil/ratings"
	"trefoil/ratings/conductor"
	"trefoil/ratings/quantity"
)

// Review is an assessed design: everything that rules and documents read.
type Review struct {
	Design *design.Design
	Tree   *network.Tree
	Set    ratings.Set // nil when the design names none that is known
	Info   ratings.Info
	Runs   []Run // one a run, in the design's order
	Rises  *network.Rises
	Drops  *network.Rises // the trade's drop towards loads and charging batteries; all unknown where there are none

	Only *Scope // what rules look at; nil for everything

	Bars    []Bar            // of boards that sources feed
	faulted *network.Faulted // nil without a supply
	exact   *exact
	answers *answers
	known   *known // nil where nobody asked to keep it

	taken []bool // by node: it or something behind it takes current

	Shared map[*design.Route]*Shared
	Faults []finding.Finding // what came up while assessing, under the rule that tells it
	ofSet  int               // so many of them, the first ones, are about the choice of the set
	Took   []Taken           // reference conditions taken because the design states none
}

// Taken is a reference condition that the design does not state.
type Taken struct {
	What  string // "air 30 degC"
	Attr  string // air_c
	Route *design.Route
}

// Shared is what lies together in one route.
type Shared struct {
	Route    *design.Route
	Runs     []int // indices of the runs, each once, in text order
	Circuits int   // every leg of every run, and the circuits of other projects
	Others   int   // those of other projects
	Held     *Held // nil where the route states nothing to hold it against

	full  *ratings.Group // of all of them
	apart bool           // some of them are never loaded together with others
}

// Run is the assessment of one run.
type Run struct {
	Run     *design.Run
	Cable   *design.Cable
	Index   int
	Legs    int
	Segment *network.Segment

	Sections  []Section
	LengthM   quantity.Maybe
	CapacityA quantity.Maybe // of all legs, the worst section's
	Governing int            // index of the worst section, -1 when unknown
	LoadA     quantity.Maybe // the current to hold against the capacity: the design current, or the neutral's where harmonics make it the greater, or the demand where that is
	OnNeutral bool
	OnDemand  bool // LoadA is what loads and charging take, which is more than the sources give

	Impedance network.Impedance

	Gaps []Gap // why a figure cannot be had, where nothing else tells it
}

// Section is the assessment of one section of a run.
type Section struct {
	Section   *design.Section
	Route     *design.Route
	Shared    *Shared
	Group     *ratings.Group     // nil where it is not asked for
	Rating    *ratings.Rating    // nil where it cannot be had; others may share it, so it is only read
	Impedance *ratings.Impedance // likewise

	ConductorC quantity.Maybe // at design current
	images     bool           // worked out by the currents of the group

	*SectionDetail
}

// SectionDetail holds what few sections have. Those that have none of it share one that is
// empty: it is only read.
type SectionDetail struct {
	Left       []Left         // circuits left out of the group, and why
	NeutralZ   complex128     // of a neutral of another size, ohm/km of one leg
	NeutralA   quantity.Maybe // its capacity, of one leg
	NeutralGap *ratings.Gap   // why that cannot be had
}

var noDetail SectionDetail

// own gives a section a detail of its own.
func (s *Section) own() *SectionDetail {
	if s.SectionDetail == &noDetail {
		s.SectionDetail = new(SectionDetail)
	}
	return s.SectionDetail
}

// Left is a neighbour left out of a group.
type Left struct {
	Run int
	Why string
}

// Gap says why a figure of a run cannot be worked out.
type Gap struct {
	At           source.Range
	Reason, Next string
	Rating       bool // the capacity cannot be had; otherwise the impedance
}

// Sets chooses the rating set of a design; nil with a finding where there is none.
type Sets func(*design.Design) (ratings.Set, []finding.Finding)

// Named chooses by name alone; find's error says which names there are.
func Named(find func(name string) (ratings.Set, error)) Sets {
	return func(d *design.Design) (ratings.Set, []finding.Finding) {
		site := d.Site()
		if site == nil || !site.Ratings.Known() {
			return nil, nil
		}
		set, err := find(site.Ratings.Value)
		if err != nil {
			return nil, []finding.Finding{{
				Rule: "value-impossible", Severity: finding.Error, At: site.Ratings.At, Subject: site.Subject(),
				Message: fmt.Sprintf("ratings is %q, which names no rating set", site.Ratings.Value), Next: err.Error(),
			}}
		}
		return set, nil
	}
}

// Assess works out a design.
func Assess(d *design.Design, sets Sets) *Review { return work(d, sets, nil) }

// Again assesses a design anew after an edit. What the rating set has answered before, it is
// not asked again.
func Again(was *Review, sets Sets) *Review {
	v := work(was.Design, sets, was.answers)
	was.known.forget()
	v.known, was.known = was.known, nil
	return v
}

func work(d *design.Design, sets Sets, known *answers) *Review {
	v := &Review{Design: d, Tree: network.Build(d), Runs: make([]Run, len(d.Runs)), Shared: map[*design.Route]*Shared{}}
	if v.Set, v.Faults = sets(d); v.Set != nil {
		v.Info = v.Set.Info()
	}
	if v.answers = known; known == nil || known.set != v.Set || known.many(len(d.Runs)) {
		v.answers = &answers{set: v.Set}
	}
	v.ofSet = len(v.Faults)
	v.share()
	v.parallel(v.rate)
	if light := lightPercent(d); light > 0 {
		for _, shared := range v.Shared {
			v.lighten(shared, light, func(int) bool { return true })
		}
	}
	v.parallel(v.total)
	v.Rises, v.Drops, v.exact = v.Tree.Rise(v.impedance), v.Tree.Unknown(), new(exact)
	if len(v.Tree.Takers) > 0 {
		v.Drops = v.Tree.Drop(v.impedance)
	}
	syntax.Together( // none of these reads what another one writes
		v.heat,
		func() {
			v.faults()
			v.settings()
			v.bars()
		},
		func() {
			for _, shared := range v.Shared {
				v.contain(shared)
			}
			v.take()
		},
	)
	return v
}

// impedance is that of a run.
func (v *Review) impedance(run int) network.Impedance { return v.Runs[run].Impedance }

// exact is the solution for phasors, which is worked out when it is asked for.
type exact struct {
	once     sync.Once
	solution network.Exact // phasors at every node, all sources running
	rises    *network.Rises
	unsolved string // why there is none
}

// solved gives the exact solution at the supply's nominal or greatest voltage.
func (v *Review) solved() *exact {
	e := v.exact
	e.once.Do(func() {
		e.rises = v.Tree.Unknown()
		if e.solution, e.unsolved = v.solve(); e.unsolved == "" {
			e.rises = v.Tree.Rises(e.solution)
		}
	})
	return e
}

func (v *Review) solve() (_ network.Exact, why string) {
	site := v.Design.Site()
	if site == nil || len(v.Design.Supplies) == 0 {
		return network.Exact{}, "the design has no site or no supply"
	}
	opt := network.ExactOptions{}
	if site.RiseSupply.Value == "max" {
		max := v.Design.Supplies[0].MaxV
		if !max.Known() {
			return network.Exact{}, "the supply does not state max_v, and rise_supply asks for it"
		}
		opt.SupplyV = max.Value
	}
	e, err := v.Tree.Exact(v.impedance, opt)
	if err != nil {
		return network.Exact{}, err.Error()
	}
	return e, ""
}

// Unsolved says why the exact solution cannot be had, "" where it can.
func (v *Review) Unsolved() string { return v.solved().unsolved }

// Unbalance is the negative sequence of the exact voltage at a node in percent of the positive.
func (v *Review) Unbalance(node int) float64 { return v.solved().solution.Unbalance(node) }

// Exact gives the exact figures in the form of Rises, unknown where there is no solution.
func (v *Review) Exact() *network.Rises { return v.solved().rises }

// Warm gives the rises with resistances at the temperatures of the design currents.
func (v *Review) Warm() *network.Rises {
	return v.Tree.Rise(func(run int) network.Impedance { return v.Runs[run].warm() })
}

// ByExact says that the design wants the exact figures as the verdict on rise.
func (v *Review) ByExact() bool {
	site := v.Design.Site()
	return site != nil && site.RiseMethod.Value == "exact"
}

// Verdict is the rise that limits are held against: the trade's figure, or the exact
// one where the design asks for it.
func (v *Review) Verdict() *network.Rises {
	if v.ByExact() {
		return v.Exact()
	}
	return v.Rises
}

func lightPercent(d *design.Design) float64 {
	if s := d.Site(); s != nil && s.LightNeighboursPercent.Known() {
		return s.LightNeighboursPercent.Value
	}
	return 0
}

// share finds out which runs lie in each route.
func (v *Review) share() {
	v.batches(func(from, to int) {
		find := v.Design.Finder()
		sections := 0
		for _, run := range v.Design.Runs[from:to] {
			sections += len(run.Sections)
		}
		room := make([]Section, sections)
		for i := from; i < to; i++ {
			a, run := &v.Runs[i], v.Design.Runs[i]
			cable, _ := find.Find(&run.Cable).(*design.Cable)
			n := len(run.Sections)
			v.begin(a, i, run, cable, room[:n:n])
			room = room[n:]
			for k := range a.Sections {
				s := &a.Sections[k]
				s.Route, _ = find.Find(&s.Section.Route).(*design.Route)
			}
		}
	})
	var shared *Shared
	for i := range v.Runs {
		a := &v.Runs[i]
		for k := range a.Sections {
			s := &a.Sections[k]
			if s.Route == nil {
				continue
			}
			if shared == nil || shared.Route != s.Route {
				shared = v.Shared[s.Route]
			}
			if shared == nil {
				shared = &Shared{Route: s.Route, Others: others(s.Route)}
				shared.Circuits = shared.Others
				v.Shared[s.Route] = shared
			}
			s.Shared = shared
			if n := len(shared.Runs); n == 0 || shared.Runs[n-1] != i {
				shared.Runs = append(shared.Runs, i)
				shared.Circuits += a.Legs
				shared.apart = shared.apart || len(a.Run.NeverWith) > 0
			}
		}
	}
	for _, shared := range v.Shared {
		shared.full = v.gather(shared, func(int) bool { return true })
	}
}

// others counts the circuits of other projects in a route.
func others(r *design.Route) int {
	if !r.OtherCircuits.Known() {
		return 0
	}
	return int(r.OtherCircuits.Value)
}

// begin sets up a run of which nothing is worked out yet, with room for its sections.
func (v *Review) begin(a *Run, i int, run *design.Run, cable *design.Cable, room []Section) {
	*a = Run{Run: run, Cable: cable, Index: i, Legs: run.Legs(), Segment: &v.Tree.Segments[i], Governing: -1, LengthM: run.LengthM(), Sections: room}
	for k := range run.Sections {
		a.Sections[k] = Section{Section: &run.Sections[k], SectionDetail: &noDetail}
	}
}

// parallel runs do for every run, on all processors.
func (v *Review) parallel(do func(*Run)) {
	v.batches(func(from, to int) {
		for i := from; i < to; i++ {
			do(&v.Runs[i])
		}
	})
}

// batches hands out the indices of all runs, so many at a time, on all processors.
func (v *Review) batches(do func(from, to int)) {
	const batch = 256
	syntax.Each((len(v.Runs)+batch-1)/batch, func(k int) { do(k*batch, min(len(v.Runs), (k+1)*batch)) })
}

// never says whether two runs are stated never to be loaded together.
func (v *Review) never(a, b *Run) bool {
	return names(a.Run, b.Run.Name) || names(b.Run, a.Run.Name)
}

func names(r *design.Run, other string) bool {
	if len(r.NeverWith) == 0 || strings.TrimSpace(r.NeverWithReason.Value) == "" {
		return false
	}
	return slices.ContainsFunc(r.NeverWith, func(l design.Link) bool { return l.Origin == design.Stated && l.Name == other })
}

// group is the company of a section: everything in its route, without those that
// are never loaded together with it and those that leave names.
func (v *Review) group(a *Run, s *Section, leave map[int]bool, why string) {
	if len(s.Left) > 0 {
		s.own().Left = nil
	}
	if !s.Shared.apart && len(leave) == 0 {
		s.Group = s.Shared.full
		return
	}
	leaveOut := func(i int, why string) bool {
		s.own().Left = append(s.Left, Left{i, why})
		return false
	}
	s.Group = v.gather(s.Shared, func(i int) bool {
		switch b := &v.Runs[i]; {
		case b == a:
			return true
		case s.Shared.apart && v.never(a, b):
			return leaveOut(i, "never loaded together")
		case leave[i]:
			return leaveOut(i, why)
		}
		return true
	})
}

// gather sums up the runs of a route that counts names.
func (v *Review) gather(shared *Shared, counts func(run int) bool) *ratings.Group {
	g := ratings.Group{Circuits: shared.Others, Conductors: 3 * shared.Others}
	for _, i := range shared.Runs {
		if !counts(i) {
			continue
		}
		b := &v.Runs[i]
		g.Circuits += b.Legs
		g.Conductors += b.Legs * b.Segment.Loaded
		if b.Cable == nil {
			continue
		}
		if size := b.sizeIn(shared); !size.Zero() {
			if g.Smallest.Zero() || size.MM2 < g.Smallest.MM2 {
				g.Smallest = size
			}
			if size.MM2 > g.Largest.MM2 {
				g.Largest = size
			}
		}
		if cooler(b.Cable.Insulation, g.Insulation) {
			g.Insulation = b.Cable.Insulation.Value
		}
		if shared.Route.Spacing.Value == "spaced" {
			switch outer := v.outerMM(b, b.sizeIn(shared)); {
			case !outer.Known:
				g.OuterUnknown = true
			case outer.Value > g.OuterMM.Value:
				g.OuterMM = outer
			}
		}
	}
	return v.answers.group(g)
}

// cooler says whether an insulation works at a lower temperature than the lowest so far.
func cooler(ins design.Text, lowest string) bool {
	if !ins.Known() {
		return false
	}
	if lowest == "" {
		return true
	}
	a, okA := conductor.TemperatureC(ins.Value)
	b, okB := conductor.TemperatureC(lowest)
	return okA && okB && a < b
}

// outerMM is the diameter of one cable of a run: stated, or from construction data.
func (v *Review) outerMM(a *Run, size quantity.Size) quantity.Maybe {
	c := v.circuit(a, size)
	if c.OuterMM.Known {
		return c.OuterMM
	}
	built, gap := conductor.Construct(c)
	if gap != nil {
		return quantity.Maybe{}
	}
	return quantity.Of(built.OuterMM)
}

// Size is the size of the conductors in a section: its own, else the run's.
func (a *Run) Size(s *design.Section) quantity.Size {
	if s.SizeMM2.Known() {
		return quantity.MM2(s.SizeMM2.Value)
	}
	return a.Run.Size
}

// sizeIn is the largest size of a run in a route.
func (a *Run) sizeIn(shared *Shared) quantity.Size {
	largest := quantity.Size{}
	for k := range a.Sections {
		if s := &a.Sections[k]; s.Shared == shared {
			if size := a.Size(s.Section); size.MM2 > largest.MM2 {
				largest = size
			}
		}
	}
	return largest
}

// Least is the smallest size of a run along its sections.
func (a *Run) Least() quantity.Size {
	least := a.Run.Size
	for k := range a.Sections {
		if size := a.Size(a.Sections[k].Section); size.MM2 < least.MM2 {
			least = size
		}
	}
	return least
}

// circuit is what a rating set needs to know of one leg of a run, of a size.
func (v *Review) circuit(a *Run, of quantity.Size) ratings.Circuit {
	k := a.Cable
	c := ratings.Circuit{
		Conductor: k.Conductor.Value, Strands: k.Strands.Value, Insulation: k.Insulation.Value, Build: k.Build.Value,
		Armour: k.Armour.Value, Formation: k.Formation.Value, Size: of,
		Loaded: a.Segment.Loaded, Cores: k.Layout.Total(), ThirdPct: a.Segment.ThirdPct, FrequencyHz: 50,
	}
	if s := v.Design.Site(); s != nil && s.FrequencyHz.Known() {
		c.FrequencyHz = s.FrequencyHz.Value
	}
	for _, end := range a.Run.Ends {
		if t := v.terminals(end.Where); t != nil && t.MaxC.Known() && t.MaxC.Value < c.TerminalC.Or(math.Inf(1)) {
			c.TerminalC = t.MaxC.Maybe()
		}
	}
	if data := k.Sized(of); data != nil {
		c.ROhmKM, c.XOhmKM = data.ROhmKM.Maybe(), data.XOhmKM.Maybe()
		c.OuterMM, c.ConductorMM = data.OuterMM.Maybe(), data.ConductorMM.Maybe()
		c.InsulationMM, c.SheathMM = data.InsulationMM.Maybe(), data.SheathMM.Maybe()
		c.CapacityA = data.CapacityA.Maybe()
		c.DataOrigin = cmp.Or(data.Origin.Value, fmt.Sprintf("data of cable %q, origin not stated", k.Name))
	}
	return c
}

// terminals of a source or board that an end names.
func (v *Review) terminals(l design.Link) *design.Terminals {
	switch o := v.Design.Find(l.Kind, l.Name).(type) {
	case *design.Source:
		return o.Terminals
	case *design.Board:
		return o.Terminals
	}
	return nil
}

// place is how a section is laid.
func (v *Review) place(r *design.Route) ratings.Place {
	p := ratings.Place{
		Laid: r.Laid.Value, Lid: r.Lid.Value, Spacing: r.Spacing.Value, SpacingMM: r.SpacingMM.Maybe(),
		Tiers: int(r.Tiers.Value), Vertical: r.Vertical.Value, HeldBy: r.HeldBy.Value, StandoffMM: r.StandoffMM.Maybe(),
		AirC: r.AirC.Maybe(), SoilC: r.SoilC.Maybe(), SoilKmW: r.SoilKmW.Maybe(), DepthM: r.DepthM.Maybe(),
		Sun: r.Sun.Value, SunAddsC: r.SunAddsC.Maybe(), Ducts: r.Ducts.Value, DuctCount: int(r.DuctCount.Value),
		DepthFactor: r.DepthFactor.Maybe(), DepthFactorOrigin: r.DepthFactorOrigin.Value,
		ExtraFactor: r.ExtraFactor.Maybe(), ExtraFactorReason: r.ExtraFactorReason.Value,
		DuctInsideMM: r.DuctInsideMM.Maybe(), DuctOutsideMM: r.DuctOutsideMM.Maybe(),
	}
	if s := v.Design.Site(); s != nil {
		or(&p.AirC, s.AirC)
		or(&p.SoilC, s.SoilC)
		or(&p.SoilKmW, s.SoilKmW)
		or(&p.DepthM, s.DepthM)
		or(&p.SunAddsC, s.SunAddsC)
	}
	if !p.SpacingMM.Known || p.SpacingMM.Value == 0 {
		p.SpacingMM = quantity.Maybe{} // 0 is what the language writes for "not stated"
	}
	if p.DepthFactorOrigin == "" {
		p.DepthFactor = quantity.Maybe{}
	}
	if p.ExtraFactorReason == "" {
		p.ExtraFactor = quantity.Maybe{}
	}
	return p
}

func or(m *quantity.Maybe, n design.Num) {
	if !m.Known {
		*m = n.Maybe()
	}
}

// usable says that the run's cable, size and sections can be looked up; what is
// not usable is told where it is written.
func usable(a *Run) bool {
	k := a.Cable
	return k != nil && !a.Run.Size.Zero() &&
		k.Conductor.Known() && k.Insulation.Known() && k.Build.Known() && k.Strands.Known() && k.Armour.Known() && k.Formation.Known() &&
		k.Cores.Origin != design.Faulty && (k.Build.Value != "multicore" || k.Cores.Known())
}

// Usable says that the cable, size and sections of a run can be looked up.
func (a *Run) Usable() bool { return usable(a) }

// placed says that a route can be looked up.
func placed(r *design.Route) bool {
	if r == nil || !r.Laid.Known() {
		return false
	}
	for _, n := range []design.Num{r.Tiers, r.SpacingMM, r.AirC, r.SoilC, r.SoilKmW, r.DepthM, r.SunAddsC, r.OtherCircuits, r.DuctCount, r.StandoffMM, r.DepthFactor, r.ExtraFactor} {
		if n.Origin == design.Faulty {
			return false
		}
	}
	return r.Lid.Known() && r.Spacing.Known() && r.Vertical.Known() && r.Sun.Known() && r.Ducts.Known()
}

// rate works out capacity and impedance of every section of a run among its neighbours.
func (v *Review) rate(a *Run) {
	v.rateAmong(a, func(s *Section) { v.group(a, s, nil, "") })
}

// rateAmong does so in the company that group puts into each section.
func (v *Review) rateAmong(a *Run, group func(*Section)) {
	if v.Set == nil || !usable(a) {
		return
	}
	c := v.answers.circuit(v.circuit(a, a.Run.Size))
	for k := range a.Sections {
		s := &a.Sections[k]
		if !placed(s.Route) {
			continue
		}
		if s.Section.SizeMM2.Origin == design.Faulty {
			continue
		}
		if own := a.Size(s.Section); own != c.Size {
			c = v.answers.circuit(v.circuit(a, own))
		}
		group(s)
		p := v.answers.place(v.place(s.Route))
		v.rateSection(a, s, c, p)
		z, gap := v.answers.impedance(c, p)
		if gap != nil {
			a.gap(s, gap, false)
			continue
		}
		if a.ownNeutral() {
			n := *c
			n.Size, n.ROhmKM, n.XOhmKM = quantity.MM2(a.Run.NeutralMM2.Value), quantity.Maybe{}, quantity.Maybe{}
			n.ConductorMM, n.InsulationMM = quantity.Maybe{}, quantity.Maybe{}
			n.CapacityA, n.OuterMM = quantity.Maybe{}, quantity.Maybe{}
			of := v.answers.circuit(n)
			if rating, gap := v.answers.rate(of, p, s.Group); gap == nil {
				s.own().NeutralA = quantity.Of(rating.CapacityA)
			} else {
				s.own().NeutralGap = gap
			}
			neutral, gap := v.answers.impedance(of, p)
			if gap != nil {
				a.gap(s, &ratings.Gap{Reason: "the neutral: " + gap.Reason, Next: gap.Next}, false)
				continue
			}
			s.own().NeutralZ = complex(neutral.ROhmKM, neutral.XOhmKM)
		}
		s.Impedance = z
	}
}

// ownNeutral says that a run states a neutral of another size than its phases.
func (a *Run) ownNeutral() bool {
	n := a.Run.NeutralMM2
	return n.Known() && n.Value > 0 && !a.PhaseSized(n.Value)
}

// PhaseSized says that an area is that of the run's phases. A size in AWG or kcmil has no
// round area, so there a hundredth more or less is the same.
func (a *Run) PhaseSized(mm2 float64) bool {
	of := a.Run.Size
	return mm2 == of.MM2 || of.Trade != "" && math.Abs(mm2-of.MM2) <= of.MM2/100
}

func (v *Review) rateSection(a *Run, s *Section, c *ratings.Circuit, p *ratings.Place) {
	rating, gap := v.answers.rate(c, p, s.Group)
	if gap != nil {
		a.gap(s, gap, true)
	}
	s.Rating = rating
}

// laid gives the circuit and the place of a section.
func (v *Review) laid(a *Run, s *Section) (*ratings.Circuit, *ratings.Place) {
	return v.answers.circuit(v.circuit(a, a.Size(s.Section))), v.answers.place(v.place(s.Route))
}

// gap keeps a reason once.
func (a *Run) gap(s *Section, g *ratings.Gap, rating bool) {
	for i := range a.Gaps {
		if a.Gaps[i].Reason == g.Reason {
			a.Gaps[i].Rating = a.Gaps[i].Rating || rating
			return
		}
	}
	at := a.Run.SizeAt
	if !at.Known() {
		at = a.Run.At
	}
	a.Gaps = append(a.Gaps, Gap{At: at, Reason: g.Reason, Next: g.Next, Rating: rating})
}

// lighten leaves lightly loaded neighbours out of the groups of the others on a route:
// those that carry at most the stated share of their own rating in the full group. The
// test is made once, on full groups, which is the safe side of repeating it. wanted says
// which runs are rated anew.
func (v *Review) lighten(shared *Shared, percent float64, wanted func(run int) bool) {
	var light map[int]bool
	for _, i := range shared.Runs {
		a := &v.Runs[i]
		current := a.Segment.DesignCurrentA()
		for k := range a.Sections {
			s := &a.Sections[k]
			if s.Shared != shared || !current.Known || s.Group == nil {
				continue
			}
			alone := Section{Shared: s.Shared, SectionDetail: &noDetail} // in the full group, whatever is left out of it
			v.group(a, &alone, nil, "")
			c, p := v.laid(a, s)
			if full, gap := v.answers.rate(c, p, alone.Group); gap == nil && quantity.AtMost(current.Value/float64(a.Legs), full.CapacityA*percent/100) {
				if light == nil {
					light = map[int]bool{}
				}
				light[i] = true
			}
		}
	}
	if light == nil {
		return
	}
	why := fmt.Sprintf("carries at most %s of its grouped rating", quantity.Percent.Print(percent))
	for _, i := range shared.Runs {
		if light[i] || !wanted(i) {
			continue
		}
		a := &v.Runs[i]
		for k := range a.Sections {
			if s := &a.Sections[k]; s.Shared == shared && s.Rating != nil {
				v.group(a, s, light, why)
				c, p := v.laid(a, s)
				v.rateSection(a, s, c, p)
			}
		}
	}
}

// total sums up a run from its sections.
func (v *Review) total(a *Run) {
	legs := float64(a.Legs)
	known := len(a.Sections) > 0
	for k := range a.Sections {
		s := &a.Sections[k]
		if s.Rating == nil {
			known = false
		} else if a.Governing < 0 || s.Rating.CapacityA < a.Sections[a.Governing].Rating.CapacityA {
			a.Governing = k
		}
	}
	if known {
		s := &a.Sections[a.Governing]
		a.CapacityA = quantity.Of(s.Rating.CapacityA * legs)
		a.OnNeutral = s.Rating.OnNeutral
	} else {
		a.Governing = -1
	}
	current := a.Segment.DesignCurrentA()
	a.LoadA = current
	if demand := a.Segment.DemandA(); !demand.Known {
		a.LoadA = quantity.Maybe{}
	} else if current.Known && demand.Value > current.Value {
		a.LoadA, a.OnDemand = demand, true
	}
	if a.OnNeutral && current.Known {
		neutral := 3 * a.Segment.ThirdPct / 100 * current.Value
		a.OnNeutral = neutral >= a.LoadA.Value || !a.OnDemand
		if a.OnNeutral {
			a.LoadA.Value, a.OnDemand = neutral, false
		}
	}
	z, ok := a.along()
	if !ok {
		return
	}
	a.Impedance = network.Impedance{Ohm: complex(z.r, z.x) / complex(legs, 0), Known: true}
	if a.ownNeutral() {
		a.Impedance.NeutralOhm, a.Impedance.HasNeutral = z.neutral/complex(legs, 0), true
	}
}

// ohms is the impedance of one leg of a run, whole.
type ohms struct {
	r, x    float64
	neutral complex128 // of a neutral of another size
}

// along sums up the impedance of the sections; false where that of one is not known.
func (a *Run) along() (z ohms, known bool) {
	if len(a.Sections) == 0 || !a.LengthM.Known {
		return ohms{}, false
	}
	for k := range a.Sections {
		s := &a.Sections[k]
		if s.Impedance == nil {
			return ohms{}, false
		}
		z.r += s.Impedance.ROhmKM * s.Section.LengthM.Value / 1000
		z.x += s.Impedance.XOhmKM * s.Section.LengthM.Value / 1000
		z.neutral += s.NeutralZ * complex(s.Section.LengthM.Value/1000, 0)
	}
	return z, true
}

// ROhmKM is the resistance of one leg, mean over the length.
func (a *Run) ROhmKM() quantity.Maybe {
	z, known := a.along()
	return a.perKM(z.r, known)
}

// XOhmKM is its reactance.
func (a *Run) XOhmKM() quantity.Maybe {
	z, known := a.along()
	return a.perKM(z.x, known)
}

func (a *Run) perKM(ohm float64, known bool) quantity.Maybe {
	if !known {
		return quantity.Maybe{}
	}
	return quantity.Of(ohm / (a.LengthM.Value / 1000))
}

// LossW is what is lost at design current, all legs and conductors.
func (a *Run) LossW() quantity.Maybe {
	z, known := a.along()
	current := a.Segment.DesignCurrentA()
	if !known || !current.Known {
		return quantity.Maybe{}
	}
	rn := z.r
	if a.ownNeutral() {
		rn = real(z.neutral)
	}
	squares := 0.0
	peak := 0.0
	for p, heat := range a.Segment.HeatA {
		squares += heat * heat
		peak = math.Max(peak, abs(a.Segment.RiseA[p]))
	}
	if peak > 0 { // the neutral, at the same share of the phase current
		neutral := abs(a.Segment.NeutralA()) * current.Value / peak
		squares += neutral * neutral * rn / z.r
	}
	return quantity.Of(squares * z.r / float64(a.Legs))
}

// Continuous is the greatest design current of all legs by a rule for continuous duty.
func (a *Run) Continuous() quantity.Maybe {
	if a.Governing < 0 || !a.Sections[a.Governing].Rating.ContinuousA.Known {
		return quantity.Maybe{}
	}
	return quantity.Of(a.Sections[a.Governing].Rating.ContinuousA.Value * float64(a.Legs))
}

// ContinuousRef is that rule.
func (a *Run) ContinuousRef() ratings.Ref {
	if !a.Continuous().Known {
		return ratings.Ref{}
	}
	return a.Sections[a.Governing].Rating.ContinuousRef
}

// NeutralA is the worst current of the neutral: single-phase sources of one phase alone, or
// third harmonics.
func (a *Run) NeutralA() float64 {
	s := a.Segment
	return max(s.SingleA[0], s.SingleA[1], s.SingleA[2], 3*s.ThirdPct/100*s.DesignCurrentA().Or(0))
}

// NeutralCapacityA is what a neutral of another size than the phases may carry, of all legs,
// or why that cannot be had.
func (a *Run) NeutralCapacityA() (least quantity.Maybe, gap *ratings.Gap) {
	if !a.ownNeutral() {
		return quantity.Maybe{}, nil
	}
	known := true
	for k := range a.Sections {
		s := &a.Sections[k]
		if s.NeutralGap != nil {
			gap = s.NeutralGap
		}
		if known = known && s.NeutralA.Known; !known {
			least = quantity.Maybe{}
		} else if whole := s.NeutralA.Value * float64(a.Legs); whole < least.Or(whole+1) {
			least = quantity.Of(whole)
		}
	}
	return least, gap
}

// HasNeutral says whether the cable of a run has a neutral conductor; known where the
// design says enough.
func (a *Run) HasNeutral() (has, known bool) {
	switch n := a.Run.NeutralMM2; {
	case n.Known():
		return n.Value > 0, true
	case n.Origin == design.Faulty || a.Cable == nil || !a.Cable.Build.Known():
		return false, false
	case a.Cable.Build.Value == "single-core":
		return false, false // how many cores are drawn is not stated
	case !a.Cable.Cores.Known():
		return false, false
	case len(a.Segment.Phases()) == 2: // one phase and neutral
		return a.Cable.Layout.Live >= 2, true
	}
	return a.Cable.Layout.Live >= 4, true
}

func abs(c complex128) float64 { return math.Hypot(real(c), imag(c)) }

// take lists the reference conditions of the set that the design does not state.
func (v *Review) take() {
	if v.Set == nil {
		return
	}
	seen := map[string]bool{}
	add := func(attr, what string, r *design.Route) {
		if !seen[attr] {
			seen[attr] = true
			v.Took = append(v.Took, Taken{What: what, Attr: attr, Route: r})
		}
	}
	for _, r := range v.Design.Routes {
		if v.Shared[r] == nil || !r.Laid.Known() {
			continue
		}
		p := v.place(r)
		if r.Laid.Value != "buried" && r.Laid.Value != "buried-duct" {
			if !p.AirC.Known && r.AirC.Origin == design.Absent {
				add("air_c", "air "+quantity.Celsius.Print(v.Info.AirC), r)
			}
			continue
		}
		if !p.SoilC.Known && r.SoilC.Origin == design.Absent {
			add("soil_c", "soil "+quantity.Celsius.Print(v.Info.SoilC), r)
		}
		if !p.SoilKmW.Known && r.SoilKmW.Origin == design.Absent {
			add("soil_km_w", "soil resistivity "+quantity.SoilKMW.Print(v.Info.SoilKmW), r)
		}
		if !p.DepthM.Known && r.DepthM.Origin == design.Absent {
			add("depth_m", "depth "+quantity.Metre.Print(v.Info.DepthM), r)
		}
	}
}

// UtilisationPct is the load in percent of the capacity.
func (a *Run) UtilisationPct() quantity.Maybe {
	if !a.LoadA.Known || !a.CapacityA.Known {
		return quantity.Maybe{}
	}
	return quantity.Of(100 * a.LoadA.Value / a.CapacityA.Value)
}

// Company lists the other runs that count in a section's group.
func (v *Review) Company(a *Run, s *Section) []*Run {
	var list []*Run
	left := map[int]bool{}
	for _, l := range s.Left {
		left[l.Run] = true
	}
	for _, i := range s.Shared.Runs {
		if b := &v.Runs[i]; b != a && !left[i] {
			list = append(list, b)
		}
	}
	return list
}

// Neighbours says shortly what shares a section: the other runs, the circuits of
// other projects, the run's own legs.
func (v *Review) Neighbours(a *Run, s *Section) string {
	var list []string
	for _, b := range v.Company(a, s) {
		n := b.Run.Name
		if b.Legs > 1 {
			n = fmt.Sprintf("%s (%d legs)", n, b.Legs)
		}
		list = append(list, n)
	}
	if len(list) > 6 {
		list = append(list[:5:5], fmt.Sprintf("%d more", len(list)-5))
	}
	if s.Shared.Others > 0 {
		list = append(list, fmt.Sprintf("%d of other projects", s.Shared.Others))
	}
	if a.Legs > 1 {
		list = append(list, fmt.Sprintf("its own %d legs", a.Legs))
	}
	return strings.Join(list, ", ")
}
