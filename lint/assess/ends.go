package assess

import (
	"trefoil/lint/design"
	"trefoil/lint/source"
	"trefoil/ratings/conductor"
	"trefoil/ratings/quantity"
)

// End is one end of a run: what it is connected to, and how.
type End struct {
	Subject   string            // source.inv-1, board.gen
	Node      int               // of the tree; -1 where it is not in it
	At        source.Range      // where the connection is written: the ends block, else the run's from or to
	Ends      *design.End       // as written; nil where it is not
	Terminals *design.Terminals // of the device that stands there, else of the board or source; nil where not stated
	Owner     string            // whose terminals: "the mccb", "board.gen"; of whom they are wanted where not stated
	OwnerAt   source.Range
	Size      quantity.Size // of the conductors there
	Tail      string        // material of a tail, "" for none
	Lug       string        // "" where not stated
}

// Ends adds to a list what a run is connected to, from and to. At the point of supply the
// terminals are the network's, and nothing is said of them.
func (v *Review) Ends(a *Run, list []End) []End {
	if ends, known := v.known.endsOf(v, a); known {
		return append(list, ends...)
	}
	n := len(a.Run.Sections)
	if n == 0 || a.Cable == nil {
		return list
	}
	for _, x := range [2]struct {
		at      *design.Link
		section *design.Section
	}{{&a.Run.From, &a.Run.Sections[0]}, {&a.Run.To, &a.Run.Sections[n-1]}} {
		if e, ok := v.end(a, x.at, x.section); ok {
			list = append(list, e)
		}
	}
	return list
}

func (v *Review) end(a *Run, at *design.Link, section *design.Section) (_ End, ok bool) {
	if at.Origin != design.Stated {
		return End{}, false
	}
	e := End{At: at.At, Size: a.Size(section)}
	source, board := v.connected(a, at, &e)
	e.Owner = e.Subject
	switch {
	case source != nil:
		e.Terminals, e.OwnerAt = source.Terminals, source.At
	case board != nil:
		e.Terminals, e.OwnerAt = board.Terminals, board.At
		for k := range a.Run.Devices {
			if d := &a.Run.Devices[k]; d.Board.Origin == design.Stated && d.Board.Names(e.Subject) && (d.Terminals != nil || e.Terminals == nil) {
				e.Terminals, e.OwnerAt, e.Owner = d.Terminals, d.At, "the "+d.Kind.Value
			}
		}
	default:
		return End{}, false
	}
	for k := range a.Run.Ends {
		if x := &a.Run.Ends[k]; x.Where.Origin == design.Stated && x.Where.Names(e.Subject) {
			e.Ends, e.At = x, x.At
			e.Lug = x.Lug.Value
			if e.Tail = x.Tail.Value; e.Tail == "none" {
				e.Tail = ""
			}
		}
	}
	return e, true
}

// connected gives what a link to an end of a run names, and tells the end where it is. Where
// the network holds it, no text is made anew.
func (v *Review) connected(a *Run, at *design.Link, e *End) (*design.Source, *design.Board) {
	for _, n := range [2]int{a.Segment.Near, a.Segment.Far} {
		if n >= 0 && at.Names(v.Tree.Nodes[n].Subject) {
			node := &v.Tree.Nodes[n]
			e.Subject, e.Node = node.Subject, n
			return node.Source, node.Board
		}
	}
	e.Subject, e.Node = at.Subject(), -1
	source, _ := v.Design.Find(at.Kind, at.Name).(*design.Source)
	board, _ := v.Design.Find(at.Kind, at.Name).(*design.Board)
	return source, board
}

// CoreMM is the diameter of one insulated core of a run in a size, as it comes to a
// terminal: of a single-core cable the whole.
func (v *Review) CoreMM(a *Run, size quantity.Size) quantity.Maybe {
	if a.Cable == nil || a.Cable.Build.Value == "single-core" {
		return v.OuterMM(a, size)
	}
	built, gap := conductor.Construct(v.circuit(a, size))
	if gap != nil || built.ConductorMM <= 0 {
		return quantity.Maybe{}
	}
	return quantity.Of(built.ConductorMM + 2*built.InsulationMM)
}

// OuterMM is the diameter of one cable of a run in a size: stated, or from construction
// data.
func (v *Review) OuterMM(a *Run, size quantity.Size) quantity.Maybe {
	if a.Cable == nil || size.Zero() {
		return quantity.Maybe{}
	}
	return v.outerMM(a, size)
}
