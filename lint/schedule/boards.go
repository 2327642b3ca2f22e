package schedule

import (
	"strings"

	"trefoil/lint/assess"
	"trefoil/lint/design"
	"trefoil/lint/network"
	"trefoil/ratings/quantity"
)

// board is a board with its node in the network.
type board struct {
	*design.Board
	node int
}

func (l *list) boards() []board {
	var rows []board
	for n := range l.Tree.Nodes {
		if b := l.Tree.Nodes[n].Board; b != nil {
			rows = append(rows, board{b, n})
		}
	}
	return rows
}

// at gives the runs that begin or end at each block, in text order.
func (l *list) at() map[string][]*assess.Run {
	at := map[string][]*assess.Run{}
	for i := range l.Runs {
		a := &l.Runs[i]
		for k, end := range []design.Link{a.Run.From, a.Run.To} {
			if end.Origin == design.Stated && (k == 0 || end.Subject() != a.Run.From.Subject()) {
				at[end.Subject()] = append(at[end.Subject()], a)
			}
		}
	}
	return at
}

// switched says what a switch is.
func switched(s *design.Switch) Cell {
	if s == nil {
		return Cell{}
	}
	text := s.Kind.Value
	if s.RatedA.Known() {
		text += ", " + quantity.Ampere.Print(s.RatedA.Value)
	}
	if s.Reason.Known() {
		text += ": " + s.Reason.Value
	}
	return TextCell(text)
}

func boards(l *list) Table {
	at := l.at()
	level := func(look func(network.Level) quantity.Maybe) func(board) Cell {
		return func(b board) Cell { return FigureCell(look(l.Level(b.node))) }
	}
	t := build(l.boards(), []col[board]{
		words("board", "board", func(b board) Cell { return TextCell(b.Name) }).usual(),
		words("note", "description", func(b board) Cell { return word(b.Note) }),
		number("rated_a", "rating", quantity.Ampere, func(b board) Cell { return stated(b.RatedA) }).usual(),
		words("portions", "portions", func(b board) Cell {
			var parts []string
			for _, p := range b.Portions {
				parts = append(parts, p.Name+" "+quantity.Ampere.Maybe(p.RatedA.Maybe()))
			}
			return joined(parts)
		}),
		number("rated_short_time_ka", "short time", quantity.KiloAmp, func(b board) Cell { return stated(b.RatedShortTimeKA) }).usual(),
		number("rated_conditional_ka", "conditional", quantity.KiloAmp, func(b board) Cell { return stated(b.RatedConditionalKA) }),
		number("diversity", "diversity declared", quantity.Ratio, func(b board) Cell { return stated(b.Diversity) }).usual(),
		words("holds", "holds", func(b board) Cell { return word(b.Holds) }),
		number("inside_c", "air inside", quantity.Celsius, func(b board) Cell { return stated(b.InsideC) }),
		words("main_switch", "main switch", func(b board) Cell { return switched(b.MainSwitch) }).usual(),
		words("gland_plate", "gland plate", func(b board) Cell { return word(b.GlandPlate) }).usual(),
		words("entry", "entry", func(b board) Cell { return word(b.Entry) }),
		count("ways", "ways", func(b board) Cell { return of(float64(len(at[b.Subject()]))) }).usual(),
		number("fault_max_ka", "greatest fault", quantity.KiloAmp, level(func(f network.Level) quantity.Maybe { return thousands(f.MaxA) })).usual(),
		number("fault_min_ka", "least fault", quantity.KiloAmp, level(func(f network.Level) quantity.Maybe { return thousands(f.MinA) })).usual(),
		number("loop_ohm", "earth loop", quantity.Ohm, level(func(f network.Level) quantity.Maybe { return f.LoopOhm })),
		number("path_rise_percent", "rise from the supply", quantity.Percent, func(b board) Cell {
			switch n := &l.Tree.Nodes[b.node]; {
			case n.Up >= 0:
				return FigureCell(l.Rises.Of(n.Up).PathPercent)
			default:
				return Cell{State: Unknown}
			}
		}).usual(),
		words("findings", "findings", func(b board) Cell { return joined(l.told[b.Subject()]) }),
		words("waived", "waived", func(b board) Cell { return joined(l.waived[b.Subject()]) }),
		words("written_at", "written at", func(b board) Cell { return TextCell(b.At.String()) }),
	})
	t.Basis = []string{"rise: of the runs that lead to the board, all sources at full output; faults: at the bar"}
	return t
}

// way is a run seen from one of its boards.
type way struct {
	board string
	*assess.Run
	device int // index of the device that stands there, -1 where none does
}

func ways(l *list) Table {
	at := l.at()
	var rows []way
	for _, b := range l.boards() {
		for _, a := range at[b.Subject()] {
			w := way{b.Subject(), a, -1}
			for k := range a.Run.Devices {
				if l.DeviceAt(a, &a.Run.Devices[k]) == w.board {
					w.device = k
					break
				}
			}
			rows = append(rows, w)
		}
	}
	here := func(look func(*design.Device) Cell) func(way) Cell {
		return func(w way) Cell {
			if w.device < 0 {
				return Cell{}
			}
			return look(&w.Run.Run.Devices[w.device])
		}
	}
	return build(rows, []col[way]{
		words("board", "board", func(w way) Cell { return TextCell(strings.TrimPrefix(w.board, "board.")) }).usual(),
		words("run", "run", func(w way) Cell { return TextCell(w.Run.Run.Name) }).usual(),
		words("leads", "leads", func(w way) Cell {
			s := w.Segment
			switch {
			case s.State != network.Fed:
				return Cell{State: Unknown}
			case l.Tree.Nodes[s.Far].Subject == w.board:
				return TextCell("towards the supply")
			case s.Sources > 0:
				return TextCell("to sources")
			}
			return TextCell("to loads")
		}).usual(),
		words("other_end", "other end", func(w way) Cell {
			if w.Run.Run.From.Subject() == w.board {
				return subject(w.Run.Run.To)
			}
			return subject(w.Run.Run.From)
		}).usual(),
		number("design_current_a", "design current", quantity.Ampere, func(w way) Cell { return FigureCell(w.Segment.DesignCurrentA()) }).usual(),
		words("device", "device", here(func(d *design.Device) Cell { return word(d.Kind) })).usual(),
		number("device_a", "rating", quantity.Ampere, here(func(d *design.Device) Cell { return FigureCell(d.RatedA.Maybe()) })).usual(),
		words("setting", "setting", here(setting)).usual(),
		number("breaking_ka", "breaking capacity", quantity.KiloAmp, here(func(d *design.Device) Cell { return stated(d.BreakingKA) })).usual(),
		number("device_fault_ka", "greatest fault there", quantity.KiloAmp, func(w way) Cell {
			if w.device < 0 {
				return Cell{}
			}
			f, ok := l.Fault(w.Run)
			if !ok {
				return Cell{State: Unknown}
			}
			return kilo(f.At(w.device).MaxA)
		}).usual(),
		words("type", "type", func(w way) Cell { return subjectName(w.Run.Run.Cable) }),
		words("size", "size", func(w way) Cell { return size(w.Run) }).usual(),
		count("legs", "legs", func(w way) Cell { return of(float64(w.Legs)) }).usual(),
	})
}

// subjectName is the name alone of what a link names.
func subjectName(l design.Link) Cell {
	if l.Origin != design.Stated {
		return Cell{State: Unknown}
	}
	return known(l.Name)
}
