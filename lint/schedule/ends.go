package schedule

import (
	"trefoil/lint/assess"
	"trefoil/lint/design"
	"trefoil/ratings/quantity"
)

// label is one text to be engraved or printed, and where it goes.
type label struct {
	what, text, second string
	at                 []string
	note               string
}

func labels(l *list) Table {
	var rows []label
	name := func(link design.Link) string {
		if link.Origin != design.Stated {
			return "unknown"
		}
		return link.Subject()
	}
	for _, b := range l.Design.Boards {
		rows = append(rows, label{what: "board", text: b.Name, second: b.Note.Value, at: []string{b.Subject()}})
	}
	for _, s := range l.Design.Sources {
		rows = append(rows, label{what: s.SourceKind.Value, text: s.Name, second: s.Model.Value, at: []string{s.Subject()}})
		if s.Isolator != nil && s.Isolator.Kind.Value != "none" && s.Isolator.Kind.Value != "built-in" {
			rows = append(rows, label{what: "isolator", text: s.Name + " isolator", at: []string{s.Subject()}})
		}
	}
	for i := range l.Runs {
		a := &l.Runs[i]
		for k := range a.Run.Devices {
			d := &a.Run.Devices[k]
			rows = append(rows, label{
				what: "device", text: a.Run.Name, second: quantity.Ampere.Maybe(d.RatedA.Maybe()) + " " + d.Kind.Value,
				at: []string{known(l.DeviceAt(a, d)).Print(Column{})},
			})
		}
		sized := size(a).Print(Column{})
		if c := cores(a).Print(Column{}); c != "" {
			sized += ", " + c
		}
		for n := range a.Legs {
			rows = append(rows, label{
				what: "cable", text: leg(a, n+1), second: name(a.Run.From) + " - " + name(a.Run.To),
				at: []string{name(a.Run.From), name(a.Run.To)}, note: sized,
			})
		}
	}
	t := build(rows, []col[label]{
		words("kind", "of", func(r label) Cell { return known(r.what) }).usual(),
		words("text", "text", func(r label) Cell { return TextCell(r.text) }).usual(),
		words("second", "second line", func(r label) Cell { return TextCell(r.second) }).usual(),
		words("places", "at", func(r label) Cell { return joined(r.at) }).usual(),
		words("cable", "cable", func(r label) Cell { return TextCell(r.note) }),
		count("count", "labels", func(r label) Cell { return of(float64(len(r.at))) }).usual(),
	})
	t.Basis = []string{"texts are the names of the design; warning signs that a code or a network asks for are not among them"}
	return t
}

// termination is one end of a run; End is nil where nothing is known of what is there.
type termination struct {
	*assess.Run
	at  design.Link
	end *assess.End
}

// conductors counts what one end of a run brings: cables, and conductors in them.
func (l *list) conductors(a *assess.Run, size quantity.Size) (cables, conductors Cell) {
	n, m := 0, 0
	for _, p := range l.Bodies(a, size) {
		if p.Size.Zero() { // not stated, or not usable
			return Cell{State: Unknown}, Cell{State: Unknown}
		}
		n += p.Count
		if a.Cable.Build.Value == "multicore" && !p.Earth {
			m += p.Count * a.Cable.Layout.Total()
		} else {
			m += p.Count
		}
	}
	return of(float64(n)), of(float64(m))
}

func terminations(l *list) Table {
	var rows []termination
	for i := range l.Runs {
		a := &l.Runs[i]
		for _, at := range []design.Link{a.Run.From, a.Run.To} {
			t := termination{Run: a, at: at}
			for _, e := range l.Ends(a, nil) {
				if e.Subject == at.Subject() {
					t.end = &e
				}
			}
			rows = append(rows, t)
		}
	}
	sized := func(t termination) quantity.Size {
		if t.end != nil {
			return t.end.Size
		}
		return t.Run.Run.Size
	}
	ends := func(look func(*assess.End) Cell) func(termination) Cell {
		return func(t termination) Cell {
			if t.end == nil {
				return Cell{}
			}
			return look(t.end)
		}
	}
	terminals := func(look func(*design.Terminals) Cell) func(termination) Cell {
		return ends(func(e *assess.End) Cell {
			if e.Terminals == nil {
				return Cell{}
			}
			return look(e.Terminals)
		})
	}
	of := func(look func(*design.Cable) Cell) func(termination) Cell {
		return func(t termination) Cell { return ofCable(look)(cable{t.Run, 0}) }
	}
	t := build(rows, []col[termination]{
		words("run", "run", func(t termination) Cell { return TextCell(t.Run.Run.Name) }).usual(),
		words("end", "at", func(t termination) Cell { return subject(t.at) }).usual(),
		words("terminals_of", "terminals of", ends(func(e *assess.End) Cell { return TextCell(e.Owner) })),
		words("conductor", "conductor", of(func(k *design.Cable) Cell { return word(k.Conductor) })).usual(),
		words("strands", "strands", of(func(k *design.Cable) Cell { return word(k.Strands) })).usual(),
		words("size", "size", func(t termination) Cell {
			if s := sized(t); !s.Zero() {
				return TextCell(s.String())
			}
			return Cell{State: Unknown}
		}).usual(),
		number("earth_mm2", "earth", quantity.SquareMM, func(t termination) Cell { return stated(t.Run.Run.EarthMM2) }).usual(),
		count("legs", "legs", func(t termination) Cell { return FigureCell(quantity.Of(float64(t.Legs))) }).usual(),
		count("conductors", "conductors", func(t termination) Cell { _, n := l.conductors(t.Run, sized(t)); return n }).usual(),
		words("lug", "lug", ends(func(e *assess.End) Cell { return TextCell(e.Lug) })).usual(),
		words("tail", "tail", ends(func(e *assess.End) Cell { return TextCell(e.Tail) })),
		number("lug_stud_mm", "hole of the lug", quantity.Milli, ends(func(e *assess.End) Cell {
			if e.Ends == nil {
				return Cell{}
			}
			return stated(e.Ends.StudMM)
		})).usual(),
		number("stud_mm", "stud", quantity.Milli, terminals(func(t *design.Terminals) Cell { return stated(t.StudMM) })).usual(),
		words("materials", "terminals take", terminals(func(t *design.Terminals) Cell { return joined(t.Materials.Values) })),
		number("min_mm2", "least", quantity.SquareMM, terminals(func(t *design.Terminals) Cell { return stated(t.MinMM2) })),
		number("max_mm2", "greatest", quantity.SquareMM, terminals(func(t *design.Terminals) Cell { return stated(t.MaxMM2) })),
		count("cables", "glands", func(t termination) Cell { n, _ := l.conductors(t.Run, sized(t)); return n }).usual(),
		number("outer_mm", "diameter of one cable", quantity.Milli, func(t termination) Cell { return FigureCell(l.OuterMM(t.Run, sized(t))) }).usual(),
		number("gland_min_mm", "gland from", quantity.Milli, terminals(func(t *design.Terminals) Cell { return stated(t.GlandMinMM) })).usual(),
		number("gland_max_mm", "gland to", quantity.Milli, terminals(func(t *design.Terminals) Cell { return stated(t.GlandMaxMM) })).usual(),
		words("findings", "findings", func(t termination) Cell { return joined(l.told[t.Run.Run.Subject()]) }),
	})
	t.Basis = []string{
		"glands: one a cable, single cores and separate earth conductors included; unknown where the design does not say which there are",
		"torque, and the kind of a lug or gland where none is named, are the maker's; they are not in the design",
	}
	return t
}
