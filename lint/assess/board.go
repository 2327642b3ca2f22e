package assess

import (
	"fmt"
	"iter"
	"slices"

	"trefoil/lint/design"
	"trefoil/lint/finding"
	"trefoil/lint/network"
	"trefoil/ratings"
	"trefoil/ratings/quantity"
)

// Bar is a board's busbar, or one portion of it, against what can feed it together.
type Bar struct {
	Board   *design.Board
	Portion *design.Portion // nil for the whole bar
	Node    int
	RatedA  design.Num

	Loads   bool   // it may hold loads, or feed some: current of sources and supply may meet on it
	Bounded bool   // the devices of the ways to loads let no more through than MostA
	Open    bool   // it is the first board behind the supply, and nobody says whether it does
	Why     string // what says so
	Supply  *Guard // the device on the run towards the supply that lets the least through; nil where none is stated
	Ways    []Way  // runs with sources behind them
	Charged bool   // SumA is what loads or charging take through it, which is more than the sources give

	SumA   quantity.Maybe // what it carries where it holds sources alone
	MostA  quantity.Maybe // what it may carry where it holds or feeds loads
	MeetA  quantity.Maybe // what all that can feed it may bring, whatever loads take
	FromA  float64        // of it what the sources bring by their currents
	HoldsA quantity.Maybe // what it may carry by its rating where it holds loads: 1.2 times the rating where the code allows that
	Times  float64        // what the sources' currents are taken times, by the code of the rating set
	Ref    ratings.Ref

	Gap *ratings.Gap // why SumA or MostA cannot be had; without a reason where that is told elsewhere
}

// Way is a run that brings current of sources to a bar.
type Way struct {
	Run    *Run
	Device *design.Device // the one that lets the least through, nil where none is stated
}

// A bar under the NEC: 125 % of the sources' currents, and 120 % of the rating where
// sources and supply feed it from opposite ends (705.12(B)(1) and (2), from memory).
const (
	necSources  = 1.25
	necOpposite = 1.2
)

var (
	necRef = ratings.Ref{Text: "NEC:2023 705.12(B)", Status: ratings.Memory}
	barRef = ratings.Ref{Text: "supply device and source devices together"}
)

// bars works out the bars of all boards that sources feed.
func (v *Review) bars() {
	own := make([]string, len(v.Tree.Nodes)) // what takes current at a node
	for _, t := range v.Tree.Takers {
		if !t.Charge && own[t.Node] == "" {
			own[t.Node] = t.Subject + " takes current from it"
		}
	}
	v.taken = make([]bool, len(v.Tree.Nodes))
	for n := range v.Tree.Nodes {
		if b := v.Tree.Nodes[n].Board; b != nil && b.Holds.Value == "loads" && b.Holds.Known() {
			own[n] = "it is stated to hold loads"
		}
		for at := n; own[n] != "" && at >= 0 && !v.taken[at]; {
			v.taken[at] = true
			up := v.Tree.Nodes[at].Up
			if up < 0 {
				break
			}
			at = v.Tree.Segments[up].Near
		}
	}
	runs := map[string]*Run{} // by name, for the portions that name some
	if slices.ContainsFunc(v.Design.Boards, func(b *design.Board) bool { return len(b.Portions) > 0 }) {
		for i := range v.Runs {
			runs[v.Runs[i].Run.Name] = &v.Runs[i]
		}
	}
	for n := range v.Tree.Nodes {
		node := &v.Tree.Nodes[n]
		if node.Board == nil || !node.Reached || node.Up < 0 || v.Runs[node.Up].Segment.State != network.Fed {
			continue
		}
		up := &v.Runs[node.Up]
		if up.Segment.Sources == 0 {
			continue
		}
		if len(node.Board.Portions) == 0 {
			v.Bars = append(v.Bars, v.bar(n, nil, own[n]))
			continue
		}
		for _, p := range node.Board.Portions {
			v.strangers(n, p, runs)
			v.Bars = append(v.Bars, v.bar(n, p, own[n]))
		}
	}
}

// Ways goes through the runs that lead from a node away from the supply.
func (v *Review) Ways(node int) iter.Seq[*Run] {
	return func(yield func(*Run) bool) {
		for _, n := range v.Tree.Ways(node) {
			if a := &v.Runs[v.Tree.Nodes[n].Up]; a.Segment.State == network.Fed && !yield(a) {
				return
			}
		}
	}
}

func (v *Review) bar(node int, p *design.Portion, own string) Bar {
	n := &v.Tree.Nodes[node]
	up := &v.Runs[n.Up]
	b := Bar{Board: n.Board, Portion: p, Node: node, RatedA: n.Board.RatedA, Times: 1, Ref: barRef}
	holds, at := n.Board.Holds, n.Board.SourcesAt
	on := func(*Run) bool { return true }
	if p != nil {
		b.RatedA = p.RatedA
		if p.Holds.Origin != design.Absent {
			holds, own = p.Holds, ""
			if holds.Value == "loads" {
				own = "it is stated to hold loads"
			}
		}
		if p.SourcesAt.Origin != design.Absent {
			at = p.SourcesAt
		}
		named := map[string]bool{}
		for _, l := range p.Runs {
			named[l.Name] = true
			if l.Origin != design.Stated {
				b.Gap = &ratings.Gap{}
			}
		}
		if len(p.Runs) == 0 {
			b.Gap = &ratings.Gap{Reason: "it names no runs", Next: "state runs, those that can feed it"}
		}
		on = func(r *Run) bool { return named[r.Run.Name] }
	}
	var phase [3]float64
	var fed []*Run // that lead to loads
	for way := range v.Ways(node) {
		if !on(way) {
			continue
		}
		if way.Segment.Sources == 0 || v.taken[way.Segment.Far] {
			fed = append(fed, way)
		}
		if way.Segment.Sources == 0 {
			continue
		}
		b.Ways = append(b.Ways, Way{Run: way, Device: least(way)})
		for k := range phase {
			phase[k] += way.Segment.HeatA[k]
		}
		if !way.Segment.DesignCurrentA().Known {
			b.Gap = &ratings.Gap{} // told where the source is written
		}
	}
	switch {
	case holds.Origin == design.Faulty:
		b.Gap = &ratings.Gap{}
	case holds.Known() && holds.Value == "sources" && own != "":
		v.Faults = append(v.Faults, finding.Finding{
			Rule: "value-impossible", Severity: finding.Error, At: holds.At, Subject: n.Board.Subject(),
			Message: fmt.Sprintf("board %q is stated to hold sources alone, and %s", n.Board.Name, own), Next: `write holds = "loads"`,
		})
		b.Gap = &ratings.Gap{}
	case own != "":
		b.Loads, b.Why = true, own
	case len(fed) > 0:
		b.Loads, b.Why = true, fmt.Sprintf("run %q leads to loads", fed[0].Run.Name)
	}
	b.Open = holds.Origin == design.Absent && own == "" && v.Tree.Nodes[up.Segment.Near].Supply != nil // the first board is seldom for sources alone
	if b.Gap != nil {
		return b
	}
	sum := max(phase[0], phase[1], phase[2])
	if v.Info.Family == "nec" {
		b.Times, b.Ref = necSources, necRef
		sum *= necSources
	}
	b.FromA = sum
	if taken := up.Segment.DemandA().Or(0); on(up) && taken > sum {
		sum, b.Charged = taken, true
	}
	b.SumA = quantity.Of(sum)
	if b.RatedA.Known() {
		b.HoldsA = quantity.Of(b.RatedA.Value)
		if v.Info.Family == "nec" && at.Value == "opposite-end" {
			b.HoldsA = quantity.Of(necOpposite * b.RatedA.Value)
		}
	}
	if b.Loads || b.Open {
		b.most(up, on(up), v.Info.Family == "nec")
	}
	if b.Loads && own == "" {
		b.bound(fed, v.Info.Family == "nec")
	}
	return b
}

// most is what a bar may carry where current of the supply and of sources meet on it.
func (b *Bar) most(up *Run, fed, nec bool) {
	sum := 0.0
	if fed {
		d := least(up)
		if d == nil {
			b.Gap = &ratings.Gap{Reason: fmt.Sprintf("run %q, towards the supply, states no device", up.Run.Name), Next: "add its device"}
			return
		}
		b.Supply = &Guard{up, d}
		sum = d.RatedA.Value
	}
	if nec {
		b.MeetA = quantity.Of(sum + b.FromA)
		b.MostA = b.MeetA
		return
	}
	for _, w := range b.Ways {
		if w.Device == nil {
			b.Gap = &ratings.Gap{Reason: fmt.Sprintf("run %q states no device", w.Run.Run.Name), Next: "add its device"}
			return
		}
		sum += w.Device.RatedA.Value
	}
	b.MeetA = quantity.Of(sum)
	b.MostA = b.MeetA
}

// bound takes into account that loads which stand behind ways alone take no more than
// the devices of those ways let through: at no point does the bar carry more than they,
// or than the sources. The NEC counts the devices of the sources as well (705.12(B)(3),
// from memory).
func (b *Bar) bound(fed []*Run, nec bool) {
	if b.Gap != nil {
		return
	}
	sum := 0.0
	for _, way := range fed {
		d := least(way)
		if d == nil {
			return
		}
		sum += d.RatedA.Value
	}
	if nec {
		for _, w := range b.Ways {
			if w.Device == nil {
				return
			}
			if !slices.Contains(fed, w.Run) {
				sum += w.Device.RatedA.Value
			}
		}
		if b.RatedA.Known() && quantity.AtMost(sum, b.RatedA.Value) && sum < b.MostA.Value {
			b.MostA, b.Bounded = quantity.Of(sum), true
		}
		return
	}
	if sum = max(sum, b.SumA.Value); sum < b.MostA.Value {
		b.MostA, b.Bounded = quantity.Of(sum), true
	}
}

// least is the device of a run that lets the least through, nil where none is usable.
func least(a *Run) *design.Device {
	var least *design.Device
	for k := range a.Run.Devices {
		if d := &a.Run.Devices[k]; usableDevice(d) && (least == nil || d.RatedA.Value < least.RatedA.Value) {
			least = d
		}
	}
	return least
}

// strangers tells runs of a portion that do not end at its board.
func (v *Review) strangers(node int, p *design.Portion, runs map[string]*Run) {
	n := &v.Tree.Nodes[node]
	for _, l := range p.Runs {
		run := runs[l.Name]
		if l.Origin != design.Stated || run == nil || run.Segment.Near < 0 || run.Segment.Near == node || run.Segment.Far == node {
			continue
		}
		v.Faults = append(v.Faults, finding.Finding{
			Rule: "value-impossible", Severity: finding.Error, At: l.At, Subject: n.Board.Subject(),
			Message: fmt.Sprintf("run %q does not end at board %q, so it is on no portion of its bar", l.Name, n.Board.Name), Next: "name the runs that end at the board",
		})
	}
}

// Unportioned lists the runs with sources behind them that no portion of a board names.
func (v *Review) Unportioned(node int) []*Run {
	b := v.Tree.Nodes[node].Board
	if b == nil || len(b.Portions) == 0 {
		return nil
	}
	named := map[string]bool{}
	for _, p := range b.Portions {
		for _, l := range p.Runs {
			named[l.Name] = true
		}
	}
	var list []*Run
	for way := range v.Ways(node) {
		if way.Segment.Sources > 0 && !named[way.Run.Name] {
			list = append(list, way)
		}
	}
	return list
}

// AtBoard is the device of a way at its board; nil where none is stated there.
func (v *Review) AtBoard(way *Run, node int) *design.Device {
	for k := range way.Run.Devices {
		if d := &way.Run.Devices[k]; usableDevice(d) && v.deviceNode(way, d) == node {
			return d
		}
	}
	return nil
}

// Protected says that a device stands in front of a node.
func (v *Review) Protected(node int) bool { return v.guardAt(node).Device != nil }
