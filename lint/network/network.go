// Package network finds out who feeds whom: the tree rooted at the supply, the
// current of every run, and the voltage rise along every path.
//
// It stands between design and assess. All sources run at full output together,
// without diversity, and for the rise loads are taken as zero; for the drop it is the
// other way about: all stated loads and all charging, and no source.
package network

import (
	"fmt"
	"math"
	"math/cmplx"
	"strings"

	"trefoil/lint/design"
	"trefoil/lint/finding"
	"trefoil/lint/source"
	"trefoil/lint/syntax"
	"trefoil/ratings/quantity"
)

// State says what is known of a run's place in the network.
type State uint8

// A run is in the tree, part of a loop, without path to the supply, or has an end
// that names nothing (which unknown-reference tells).
const (
	Fed State = iota
	OnLoop
	Stranded
	Loose
)

// Node is the supply, a board or a source.
type Node struct {
	Subject string
	Supply  *design.Supply
	Board   *design.Board
	Source  *design.Source
	Up      int // segment towards the supply, -1 at the supply and where there is none
	Reached bool

	from, to int32 // of the order: the nodes that it feeds, so far as they are reached
}

// At is the place of its block.
func (n *Node) At() source.Range {
	switch {
	case n.Supply != nil:
		return n.Supply.At
	case n.Board != nil:
		return n.Board.At
	}
	return n.Source.At
}

// Segment is a run in the network.
type Segment struct {
	Run            *design.Run
	Near, Far      int // nodes; Near is nearer the supply; -1 where an end names nothing
	HeatA          [3]float64
	RiseA          [3]complex128  // phasors towards the supply, at the current that rise uses
	ThirdPct       float64        // third harmonic in the current, percent
	UnknownBecause *design.Source // a source behind it without a known current
	Sources        int            // behind it
	State          State
	Loaded         int  // loaded conductors, 2 or 3
	phases         word // what the circuit carries; three where it is mixed

	*SegmentDetail
}

// SegmentDetail holds what few segments have. Those that have none of it share one: it is
// only read.
type SegmentDetail struct {
	SingleA    [3]float64    // of sources between one phase and neutral, for heat
	Takers     int           // loads, boards with a demand and charging batteries behind it
	TakePhases string        // as Phases
	DropA      [3]complex128 // phasors towards the loads

	demandA float64 // what they take, the worst phase, all legs
	unsure  bool    // one of them has no known current
}

// idle is the detail of a segment that nothing takes current through.
var idle = SegmentDetail{TakePhases: "3"}

// Phases says what the circuit carries: "3", "L1", "L1-L2"; "3" where it is mixed.
func (s *Segment) Phases() string { return words[s.phases] }

// DesignCurrentA is the current for heat of the worst phase, all legs.
func (s *Segment) DesignCurrentA() quantity.Maybe {
	if s.State != Fed || s.UnknownBecause != nil {
		return quantity.Maybe{}
	}
	return quantity.Of(max(s.HeatA[0], s.HeatA[1], s.HeatA[2]))
}

// DemandA is what loads and charging take, the worst phase, all legs.
func (s *Segment) DemandA() quantity.Maybe {
	return quantity.Maybe{Value: s.demandA, Known: s.State == Fed && !s.unsure}
}

// NeutralA is the sum of RiseA.
func (s *Segment) NeutralA() complex128 { return s.RiseA[0] + s.RiseA[1] + s.RiseA[2] }

// DropNeutralA is the sum of DropA.
func (s *Segment) DropNeutralA() complex128 { return s.DropA[0] + s.DropA[1] + s.DropA[2] }

// Taker is something that takes current: a load, a board's demand, a charging battery.
type Taker struct {
	Node    int
	Subject string
	At      source.Range
	Word    string // the phases that it is on
	A       float64
	Charge  bool
	Assumed bool // charging at the rating of the source, because no charge is stated

	factor complex128 // power factor and its sine, lagging
}

// RiseMaxA is the greatest phase current that rise uses.
func (s *Segment) RiseMaxA() float64 {
	return max(cmplx.Abs(s.RiseA[0]), cmplx.Abs(s.RiseA[1]), cmplx.Abs(s.RiseA[2]))
}

// Tree is the network of a design.
type Tree struct {
	Nodes    []Node
	Segments []Segment // one a run, in the design's order
	Faults   []finding.Finding
	Unphased []*design.Source // single-phase sources that do not state their phase
	VoltageV quantity.Maybe   // nominal, line to line
	Takers   []Taker
	Loose    []*design.Load // loads that do not state their phase

	order   []int   // nodes, each after the one that feeds it, the supply first
	assumed string  // the phase of single-phase sources that do not state theirs
	atMax   bool    // rise uses the greatest current
	takes   [][]int // by node, its takers; nil where nothing takes current
}

// axis is the direction of a phase's nominal voltage.
var axis = [3]complex128{1, cmplx.Rect(1, -2*math.Pi/3), cmplx.Rect(1, 2*math.Pi/3)}

// lines are the phases, in the order in which words name them.
var lines = [4]int{0, 1, 2, 0}

// phases lists the phases that a word names.
func phases(word string) []int {
	switch word {
	case "L1":
		return lines[0:1]
	case "L2":
		return lines[1:2]
	case "L3":
		return lines[2:3]
	case "L1-L2":
		return lines[0:2]
	case "L2-L3":
		return lines[1:3]
	case "L3-L1":
		return lines[2:4]
	}
	return lines[0:3]
}

// Build finds the tree and sums currents. It never fails: what is wrong with the
// shape is in Faults, and what hangs on it stays unknown.
func Build(d *design.Design) *Tree {
	nodes := len(d.Supplies) + len(d.Boards) + len(d.Sources)
	t := &Tree{Segments: make([]Segment, len(d.Runs)), Nodes: make([]Node, 0, nodes), order: make([]int, 0, nodes)}
	if s := d.Site(); s != nil {
		t.VoltageV = s.VoltageV.Maybe()
	}
	at := make(map[any]int, nodes)
	add := func(n Node, block any) {
		n.Up = -1
		at[block] = len(t.Nodes)
		t.Nodes = append(t.Nodes, n)
	}
	for _, s := range d.Supplies {
		add(Node{Subject: s.Subject(), Supply: s}, s)
	}
	for _, b := range d.Boards {
		add(Node{Subject: b.Subject(), Board: b}, b)
	}
	for _, s := range d.Sources {
		add(Node{Subject: s.Subject(), Source: s}, s)
	}
	const batch = 512 // runs whose ends are looked up at a time
	syntax.Each((len(d.Runs)+batch-1)/batch, func(k int) {
		blocks := d.Finder()
		find := func(l *design.Link) int {
			if l.Origin != design.Stated {
				return -1
			}
			if n, ok := at[blocks.Find(l)]; ok {
				return n
			}
			return -1
		}
		for i := k * batch; i < min(len(d.Runs), (k+1)*batch); i++ {
			r := d.Runs[i]
			t.Segments[i] = Segment{Run: r, Near: find(&r.From), Far: find(&r.To), Loaded: 3, SegmentDetail: &idle}
		}
	})

	// Runs join nodes in text order; one that joins what is joined closes a loop.
	root := make([]int, len(t.Nodes))
	for i := range root {
		root[i] = i
	}
	top := func(n int) int {
		for root[n] != n {
			root[n] = root[root[n]]
			n = root[n]
		}
		return n
	}
	loose := map[int]bool{} // nodes at the other end of a run that names nothing
	var closing []int
	for i := range t.Segments {
		s := &t.Segments[i]
		if s.Near < 0 || s.Far < 0 {
			s.State = Loose
			for _, n := range []int{s.Near, s.Far} {
				if n >= 0 {
					loose[n] = true
				}
			}
			s.Near, s.Far = -1, -1
			continue
		}
		a, b := top(s.Near), top(s.Far)
		if a == b {
			s.State = OnLoop
			closing = append(closing, i)
			continue
		}
		root[a] = b
	}
	t.walk(d)
	if !d.Broken {
		t.loops(closing)
		t.orphans(d, top, loose)
	}
	t.sum(d, at)
	return t
}

// links are the segments that join at each node, in text order.
type links struct {
	from []int // of each node, in all; and where the last one ends
	all  []int
}

func (l *links) of(node int) []int { return l.all[l.from[node]:l.from[node+1]] }

// links finds the segments that are part of the tree, or of a piece without a supply.
func (t *Tree) links() *links {
	l := &links{from: make([]int, len(t.Nodes)+2)}
	each := func(do func(node, segment int)) {
		for i := range t.Segments {
			if s := &t.Segments[i]; s.State == Fed {
				do(s.Near, i)
				do(s.Far, i)
			}
		}
	}
	each(func(node, _ int) { l.from[node+2]++ })
	for n := range t.Nodes {
		l.from[n+2] += l.from[n+1]
	}
	l.all = make([]int, l.from[len(t.Nodes)+1])
	each(func(node, segment int) {
		l.all[l.from[node+1]] = segment
		l.from[node+1]++
	})
	return l
}

// maxDeep bounds the runs between a node and the supply: what is worked out for each path
// grows with its length.
const maxDeep = 1000

// walk turns segments so that Near is nearer the supply, and orders the nodes.
// What has no path to the supply is walked too, from its first board, so that
// every node stands once in the order; what lies too far from it counts as having none.
func (t *Tree) walk(d *design.Design) {
	links := t.links()
	seen := make([]bool, len(t.Nodes))
	deep := make([]int, len(t.Nodes))
	far := -1 // the first run that leads too far
	for start := range t.Nodes {
		if seen[start] {
			continue
		}
		seen[start] = true
		fed := len(d.Supplies) > 0 && start == 0
		from := len(t.order)
		t.order = append(t.order, start)
		for ; from < len(t.order); from++ {
			n := t.order[from]
			t.Nodes[n].Reached = fed && deep[n] <= maxDeep
			t.Nodes[n].from = int32(len(t.order))
			for _, i := range links.of(n) {
				s := &t.Segments[i]
				if i == t.Nodes[n].Up {
					continue
				}
				if s.Near != n {
					s.Near, s.Far = s.Far, s.Near
				}
				if deep[s.Far] = deep[n] + 1; !fed || deep[s.Far] > maxDeep {
					s.State = Stranded
				}
				if fed && far < 0 && deep[s.Far] > maxDeep {
					far = i
				}
				t.Nodes[s.Far].Up = i
				seen[s.Far] = true
				t.order = append(t.order, s.Far)
			}
			if t.Nodes[n].to = t.Nodes[n].from; fed && deep[n] < maxDeep {
				t.Nodes[n].to = int32(len(t.order))
			}
		}
	}
	if far >= 0 {
		r := t.Segments[far].Run
		t.Faults = append(t.Faults, finding.Finding{
			Rule: "network-shape", Severity: finding.Error, At: r.At, Subject: r.Subject(),
			Message: fmt.Sprintf("run %q is more than %d runs from the supply, and what lies so far is not worked out", r.Name, maxDeep),
			Next:    "connect the boards side by side, or check the far end as a design of its own",
		})
	}
}

// loops marks every run on a loop and tells each loop at the run that closes it.
func (t *Tree) loops(closing []int) {
	if len(closing) == 0 {
		return
	}
	depth := make([]int, len(t.Nodes))
	hop := make([]int, len(t.Nodes)) // the highest node reached over runs that are on a loop already
	for _, n := range t.order {
		hop[n] = n
		if up := t.Nodes[n].Up; up >= 0 {
			depth[n] = depth[t.Segments[up].Near] + 1
		}
	}
	rise := func(n int) int {
		for hop[n] != n {
			hop[n] = hop[hop[n]]
			n = hop[n]
		}
		return n
	}
	for _, i := range closing {
		s := &t.Segments[i]
		var on []int
		a, b := rise(s.Near), rise(s.Far)
		for a != b {
			if depth[a] < depth[b] {
				a, b = b, a
			}
			up := t.Nodes[a].Up
			t.Segments[up].State = OnLoop
			on = append(on, up)
			hop[a] = t.Segments[up].Near
			a = rise(a)
		}
		f := finding.Finding{
			Rule: "network-shape", Severity: finding.Error, At: s.Run.At, Subject: s.Run.Subject(),
			Message: fmt.Sprintf("run %q closes a loop between %s and %s%s", s.Run.Name, t.Nodes[s.Near].Subject, t.Nodes[s.Far].Subject, t.along(on)),
			Next:    "open the loop: take out the run that is not closed in service, or write parallel legs as one run with parallel = 2",
		}
		if s.Near == s.Far {
			f.Message = fmt.Sprintf("run %q begins and ends at %s, which is a loop", s.Run.Name, t.Nodes[s.Near].Subject)
			f.Next = "correct from or to"
		}
		for k, o := range on {
			if k < 8 {
				f.Related = append(f.Related, finding.Related{At: t.Segments[o].Run.At, Message: fmt.Sprintf("run %q is part of the loop", t.Segments[o].Run.Name)})
			}
		}
		t.Faults = append(t.Faults, f)
	}
}

func (t *Tree) along(on []int) string {
	if len(on) == 0 {
		return ", which other runs join already"
	}
	var list []string
	for k, i := range on {
		if k == 5 {
			list = append(list, fmt.Sprintf("%d more", len(on)-5))
			break
		}
		list = append(list, t.Segments[i].Run.Name)
	}
	return ", together with " + strings.Join(list, ", ")
}

// orphans tells what has no path to the supply, once for each part of the network
// that hangs together, and supplies beyond the first.
func (t *Tree) orphans(d *design.Design, top func(int) int, loose map[int]bool) {
	if len(d.Supplies) == 0 {
		if s := d.Site(); s != nil {
			t.Faults = append(t.Faults, finding.Finding{
				Rule: "network-shape", Severity: finding.Error, At: s.At, Subject: s.Subject(),
				Message: "the design has no supply, so nothing has a path to the point of supply",
				Next:    "add supply \"NAME\" { fault_ka = ... }",
			})
		}
		return
	}
	for _, s := range d.Supplies[1:] {
		t.Faults = append(t.Faults, finding.Finding{
			Rule: "network-shape", Severity: finding.Error, At: s.At, Subject: s.Subject(),
			Message: fmt.Sprintf("supply %q is a second point of supply; a network has one, and %q is it", s.Name, d.Supplies[0].Name),
			Next:    "check each supply as a design of its own",
			Related: []finding.Related{{At: d.Supplies[0].At, Message: "the first one"}},
		})
	}
	told := map[int]bool{}
	parts := map[int][]int{}
	var order []int
	fed := top(0)
	for n := range t.Nodes {
		part := top(n)
		if t.Nodes[n].Reached || part == fed { // what is joined and too far is told
			continue
		}
		if parts[part] == nil {
			order = append(order, part)
		}
		parts[part] = append(parts[part], n)
		told[part] = told[part] || loose[n] || t.Nodes[n].Supply != nil
	}
	for _, part := range order {
		if told[part] {
			continue
		}
		nodes := parts[part] // boards stand before sources
		first := &t.Nodes[nodes[0]]
		kind, name, _ := strings.Cut(first.Subject, ".")
		f := finding.Finding{Rule: "network-shape", Severity: finding.Error, At: first.At(), Subject: first.Subject}
		switch {
		case len(nodes) == 1 && first.Board != nil:
			f.Message = fmt.Sprintf("board %q is reached by no run", name)
			f.Next = "add a run to it, or remove it"
		case len(nodes) == 1:
			f.Message = fmt.Sprintf("source %q has no path to the supply: no run begins or ends at it", name)
			f.Next = "add a run from it, or remove it"
		default:
			var sources []string
			for _, n := range nodes {
				if t.Nodes[n].Source != nil {
					sources = append(sources, t.Nodes[n].Source.Name)
					if len(f.Related) < 8 {
						f.Related = append(f.Related, finding.Related{At: t.Nodes[n].At(), Message: fmt.Sprintf("source %q hangs on it", t.Nodes[n].Source.Name)})
					}
				}
			}
			if len(sources) > 6 {
				sources = append(sources[:5], fmt.Sprintf("%d more", len(sources)-5))
			}
			f.Message = fmt.Sprintf("%s %q has no path to the supply", kind, name)
			if len(sources) > 0 {
				f.Message += ", and with it " + strings.Join(sources, ", ")
			}
			f.Next = "add the run that leads on towards the supply"
		}
		t.Faults = append(t.Faults, f)
	}
}

// total is what lies behind a node.
type total struct {
	heat    [3]float64
	rise    [3]complex128
	third   float64 // sum of current times third harmonic percent
	weight  float64
	sources int
	words   uint8 // which phase words occur, a bit each
	unknown *design.Source

	single    [3]float64
	take      [3]float64
	drop      [3]complex128
	takers    int
	takeWords uint8
	unsure    bool // a taker behind it without a known current
}

// word is an index of words.
type word uint8

var words = []string{"3", "L1", "L2", "L3", "L1-L2", "L2-L3", "L3-L1"}

// sum adds up currents from the ends towards the supply.
func (t *Tree) sum(d *design.Design, at map[any]int) {
	t.assign(d)
	t.demand(d, at)
	t.atMax = d.Site() != nil && d.Site().RiseAt.Value == "max"
	place := make([]int32, len(t.Nodes)) // in the list of sums, from 1 on; 0 where nothing lies behind a node
	sums := int32(0)
	for n := range t.Nodes {
		if up := t.Nodes[n].Up; up >= 0 && place[t.Segments[up].Near] == 0 {
			sums++
			place[t.Segments[up].Near] = sums
		}
	}
	behind, alone := make([]total, sums), new(total)
	for k := len(t.order) - 1; k >= 0; k-- {
		n := t.order[k]
		b := alone
		if k := place[n]; k > 0 {
			b = &behind[k-1]
		} else {
			*b = total{}
		}
		if s := t.Nodes[n].Source; s != nil {
			t.source(b, s)
		}
		t.taken(b, n)
		up := t.Nodes[n].Up
		if up < 0 {
			continue
		}
		t.segment(&t.Segments[up], b, d)
		into := &behind[place[t.Segments[up].Near]-1]
		for p := range 3 {
			into.heat[p] += b.heat[p]
			into.rise[p] += b.rise[p]
			into.single[p] += b.single[p]
			into.take[p] += b.take[p]
			into.drop[p] += b.drop[p]
		}
		into.takers += b.takers
		into.takeWords |= b.takeWords
		into.unsure = into.unsure || b.unsure
		into.third += b.third
		into.weight += b.weight
		into.sources += b.sources
		into.words |= b.words
		if into.unknown == nil {
			into.unknown = b.unknown
		}
	}
	for i := range t.Segments {
		if s := &t.Segments[i]; s.State != Fed {
			if s.Sources == 0 {
				byCores(s, d)
			}
		}
	}
}

// assign gives every single-phase source without a stated phase the phase that
// carries the greatest stated single-phase current of the design: the worst case.
func (t *Tree) assign(d *design.Design) {
	var stated [3]float64
	for _, s := range d.Sources {
		if s.Phases.Known() && s.Phases.Value == 1 && s.Phase.Known() {
			if p := phases(s.Phase.Value); len(p) == 1 {
				heat, _ := t.currents(s, s.Phase.Value)
				stated[p[0]] += heat.Or(0)
			}
		}
	}
	worst := 0
	for p := range stated {
		if stated[p] > stated[worst] {
			worst = p
		}
	}
	t.assumed = words[worst+1]
	for _, s := range d.Sources {
		if s.Phases.Known() && s.Phases.Value != 3 && s.Phase.Origin == design.Absent {
			t.Unphased = append(t.Unphased, s)
		}
	}
}

// PhaseOf is the phase word of a source: "3", "L1", "L1-L2"; "" where it is not known.
func (t *Tree) PhaseOf(s *design.Source) string {
	switch {
	case !s.Phases.Known() || s.Phase.Origin == design.Faulty:
		return ""
	case s.Phases.Value == 3:
		return "3"
	case s.Phase.Known():
		return s.Phase.Value
	}
	return t.assumed
}

// currents gives the current of a source for heat and its rated current, A in each
// line it uses: from the data sheet, else from rated_kva = sqrt3 U I for three
// phases, (U/sqrt3) I for one phase to neutral, U I between two lines.
func (t *Tree) currents(s *design.Source, word string) (heat, rated quantity.Maybe) {
	if s.RatedKVA.Known() && t.VoltageV.Known {
		rated = quantity.Of(s.RatedKVA.Value * 1000 / t.PerKVA(word))
	}
	heat = rated
	if s.MaxCurrentA.Known() {
		heat = s.MaxCurrentA.Maybe()
		if s.RatedKVA.Origin == design.Absent {
			rated = heat
		}
	} else if s.MaxCurrentA.Origin == design.Faulty {
		heat = quantity.Maybe{}
	}
	return heat, rated
}

// source adds what one source gives to what lies behind its node.
func (t *Tree) source(b *total, s *design.Source) own {
	b.sources++
	word := t.PhaseOf(s)
	if word == "" {
		b.unknown = s
		return own{}
	}
	heat, rated := t.currents(s, word)
	if t.atMax {
		rated = heat
	}
	if !heat.Known || !rated.Known || !s.PowerFactor.Known() || !s.Reactive.Known() {
		b.unknown = s
		return own{}
	}
	for i, w := range words {
		if w == word {
			b.words |= 1 << i
		}
	}
	lines := phases(word)
	for _, p := range lines {
		b.heat[p] += heat.Value
		if len(lines) == 1 {
			b.single[p] += heat.Value
		}
	}
	b.third += heat.Value * s.ThirdHarmonicPercent.Value
	b.weight += heat.Value
	pf := s.PowerFactor.Value
	reactive := -math.Sqrt(max(0, 1-pf*pf))
	if s.Reactive.Value == "absorbs" {
		reactive = -reactive
	}
	i := complex(rated.Value*pf, rated.Value*reactive)
	constant := s.Holds.Value == "current"
	if len(lines) == 2 {
		u := pairAxis(lines[0], lines[1])
		b.rise[lines[0]] += i * u
		b.rise[lines[1]] -= i * u
		return own{lines, i, constant}
	}
	for _, p := range lines {
		b.rise[p] += i * axis[p]
	}
	return own{lines, i, constant}
}

// pairAxis is the direction of the voltage between two lines.
func pairAxis(a, b int) complex128 {
	u := axis[a] - axis[b]
	return u / complex(cmplx.Abs(u), 0)
}

func (t *Tree) segment(s *Segment, b *total, d *design.Design) {
	s.Sources, s.UnknownBecause = b.sources, b.unknown
	s.HeatA, s.RiseA = b.heat, b.rise
	if b.weight > 0 {
		s.ThirdPct = b.third / b.weight
	}
	if b.takers > 0 || b.single != [3]float64{} {
		s.SegmentDetail = &SegmentDetail{SingleA: b.single, Takers: b.takers, TakePhases: "3", DropA: b.drop, demandA: max(b.take[0], b.take[1], b.take[2]), unsure: b.unsure}
	}
	for i, w := range words {
		if b.words == 1<<i {
			s.phases = word(i)
		}
		if b.takeWords == 1<<i {
			s.TakePhases = w
		}
	}
	switch {
	case b.sources == 0 && b.takers == 0:
		byCores(s, d)
	case b.sources == 0 && s.TakePhases != "3", b.takers == 0 && s.Phases() != "3", s.Phases() != "3" && s.Phases() == s.TakePhases:
		s.Loaded = 2
	}
}

// byCores takes a run that nothing feeds as what its cable is made for.
func byCores(s *Segment, d *design.Design) {
	if c := d.CableOf(s.Run); c != nil && c.Layout.Live == 2 {
		s.Loaded = 2
	}
}
