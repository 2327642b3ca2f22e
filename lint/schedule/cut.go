package schedule

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"trefoil/lint/assess"
	"trefoil/ratings/quantity"
)

// cut is one piece to be cut from a drum.
type cut struct {
	kind             // what is on the drum
	run, what string // which run; leg, core
	lengthM   quantity.Maybe
	cutM      quantity.Maybe // with tails and spare
	drum      string         // "" where its length is not known
}

// kind is what can be cut from one drum.
type kind struct {
	name, metal string
	size        quantity.Size
}

func (k kind) String() string { return strings.TrimSpace(k.name + " " + k.size.String()) }

// drum is one drum with what is cut from it.
type drum struct {
	kind
	number  int
	lengthM float64
	usedM   float64
	own     bool // no drum is so long: a length to order
	cuts    []int
}

// plan lists all cuts and the drums they come from.
//
// A cut is as long as its routes, with the spare in percent of that, and a tail at each
// end. The longest cut is taken first, from the first drum that still holds it, and in the
// end each drum is the shortest that will do (first fit by falling length: at most 11/9 of
// the fewest drums and one more, Johnson 1973, from memory). That is tried with each length
// of drum as the longest, and the plan that buys the fewest metres is kept.
func (l *list) plan() (cuts []cut, drums []drum) {
	for i := range l.Runs {
		cuts = append(cuts, l.cuts(&l.Runs[i])...)
	}
	of := map[kind][]int{}
	var kinds []kind
	for i := range cuts {
		c := &cuts[i]
		if c.lengthM.Known && !c.size.Zero() {
			c.cutM = quantity.Of(c.lengthM.Value*(1+l.opt.Spare/100) + 2*l.opt.TailM)
			if of[c.kind] == nil {
				kinds = append(kinds, c.kind)
			}
			of[c.kind] = append(of[c.kind], i)
		}
	}
	slices.SortFunc(kinds, func(a, b kind) int {
		return cmp.Or(cmp.Compare(a.name, b.name), cmp.Compare(a.metal, b.metal), cmp.Compare(a.size.MM2, b.size.MM2), cmp.Compare(a.size.Trade, b.size.Trade))
	})
	for _, k := range kinds {
		drums = append(drums, cheapest(k, cuts, of[k], slices.Sorted(slices.Values(l.opt.DrumsM)))...)
	}
	for _, d := range drums {
		for _, i := range d.cuts {
			cuts[i].drum = fmt.Sprintf("%s, drum %d", d.kind, d.number)
		}
	}
	return cuts, drums
}

// cheapest shares the cuts of one kind out over drums so that the fewest metres are
// bought, and of such plans the one with the fewest drums.
func cheapest(k kind, cuts []cut, of []int, lengths []float64) (best []drum) {
	of = slices.Clone(of)
	slices.SortStableFunc(of, func(a, b int) int { return cmp.Compare(cuts[b].cutM.Value, cuts[a].cutM.Value) })
	least := 0.0
	for n := len(lengths); n > 0; n-- {
		if n < len(lengths) && !quantity.AtMost(cuts[of[0]].cutM.Value, lengths[n-1]) {
			break // what a longer drum holds is not ordered by the metre
		}
		plan := pack(k, cuts, of, lengths[:n])
		bought := 0.0
		for _, d := range plan {
			bought += d.lengthM
		}
		if best == nil || bought < least || bought == least && len(plan) < len(best) {
			best, least = plan, bought
		}
	}
	return best
}

// pack shares cuts, the longest first, out over drums of some lengths.
func pack(k kind, cuts []cut, of []int, lengths []float64) (drums []drum) {
	longest := lengths[len(lengths)-1]
	least := cuts[of[len(of)-1]].cutM.Value
	var open []int // drums on which the shortest cut still fits
	for _, i := range of {
		m := cuts[i].cutM.Value
		if !quantity.AtMost(m, longest) {
			drums = append(drums, drum{kind: k, lengthM: m, usedM: m, own: true, cuts: []int{i}})
			continue
		}
		at := slices.IndexFunc(open, func(d int) bool { return quantity.AtMost(drums[d].usedM+m, longest) })
		if at < 0 {
			at = len(open)
			open = append(open, len(drums))
			drums = append(drums, drum{kind: k})
		}
		d := &drums[open[at]]
		d.usedM += m
		d.cuts = append(d.cuts, i)
		if !quantity.AtMost(d.usedM+least, longest) {
			open = slices.Delete(open, at, at+1)
		}
	}
	for i := range drums {
		d := &drums[i]
		d.number = i + 1
		for _, m := range lengths {
			if !d.own && quantity.AtMost(d.usedM, m) {
				d.lengthM = m
				break
			}
		}
	}
	return drums
}

// stretch is a part of a run in one size.
type stretch struct {
	size    quantity.Size
	lengthM quantity.Maybe
}

// cuts lists the pieces of one run: one a cable or single core, and stretch of one size.
func (l *list) cuts(a *assess.Run) (list []cut) {
	if a.Cable == nil || len(a.Sections) == 0 {
		return []cut{{run: a.Run.Name}}
	}
	var parts []stretch
	for k := range a.Sections {
		s := a.Sections[k].Section
		length := s.LengthM.Maybe()
		if n := len(parts); n > 0 && parts[n-1].size == a.Size(s) {
			sum := &parts[n-1].lengthM
			sum.Value, sum.Known = sum.Value+length.Value, sum.Known && length.Known
			continue
		}
		parts = append(parts, stretch{a.Size(s), length})
	}
	for k, part := range parts {
		where := ""
		if len(parts) > 1 {
			where = fmt.Sprintf(", part %d", k+1)
		}
		phases := phaseNames(a.Segment.Phases())
		for _, piece := range l.Bodies(a, part.size) {
			c := cut{kind: kind{a.Cable.Name, piece.Metal, piece.Size}, run: a.Run.Name, lengthM: part.lengthM}
			if piece.Earth {
				c.name, c.what = "earth conductor, "+known(a.Cable.Insulation.Value).Print(Column{}), "earth"+where
				list = append(list, c)
				continue
			}
			each := piece.Count / a.Legs
			if each == 0 { // not stated, or not usable
				c.what = "neutral" + where
				list = append(list, c)
				continue
			}
			for n := range piece.Count {
				core := ""
				switch {
				case a.Cable.Build.Value != "single-core":
				case piece.Neutral:
					core = " N"
				case n%each < len(phases):
					core = " " + phases[n%each]
				}
				c.what = fmt.Sprintf("leg %d%s%s", n/each+1, core, where)
				if len(parts) == 1 {
					c.lengthM = lengthM(a, n/each+1)
				}
				list = append(list, c)
			}
		}
	}
	return list
}

// phaseNames are the phases of a circuit by its word.
func phaseNames(word string) []string {
	if word == "3" {
		return []string{"L1", "L2", "L3"}
	}
	return strings.Split(word, "-")
}

// means says how lengths were worked out.
func (l *list) means() []string {
	var lengths []string
	for _, m := range slices.Sorted(slices.Values(l.opt.DrumsM)) {
		lengths = append(lengths, quantity.Metre.Print(m))
	}
	return []string{
		fmt.Sprintf("a cut is as long as its routes with %s of spare, and %s of tail at each end, joints between sizes included", quantity.Percent.Print(l.opt.Spare), quantity.Metre.Print(l.opt.TailM)),
		"drums of " + strings.Join(lengths, ", ") + "; the longest cut first, each from the first drum that still holds it, so that the fewest metres are bought",
	}
}

func cuts(l *list) Table {
	list, _ := l.plan()
	t := build(list, []col[cut]{
		words("cable", "cable", func(c cut) Cell { return known(c.name) }).usual(),
		words("conductor", "conductor", func(c cut) Cell { return known(c.metal) }),
		words("size", "size", func(c cut) Cell {
			if c.size.Zero() {
				return Cell{State: Unknown}
			}
			return TextCell(c.size.String())
		}).usual(),
		words("run", "run", func(c cut) Cell { return TextCell(c.run) }).usual(),
		words("piece", "piece", func(c cut) Cell { return TextCell(c.what) }).usual(),
		number("length_m", "along the routes", quantity.Metre, func(c cut) Cell { return FigureCell(c.lengthM) }).usual(),
		number("cut_m", "to cut", quantity.Metre, func(c cut) Cell { return FigureCell(c.cutM) }).usual(),
		words("drum", "drum", func(c cut) Cell { return known(c.drum) }).usual(),
	})
	t.Basis = l.means()
	return t
}

func drums(l *list) Table {
	list, drums := l.plan()
	t := build(drums, []col[drum]{
		words("cable", "cable", func(d drum) Cell { return known(d.name) }).usual(),
		words("conductor", "conductor", func(d drum) Cell { return known(d.metal) }).usual(),
		words("size", "size", func(d drum) Cell { return TextCell(d.size.String()) }).usual(),
		count("drum", "drum", func(d drum) Cell { return of(float64(d.number)) }).usual(),
		number("drum_m", "length", quantity.Metre, func(d drum) Cell { return of(d.lengthM) }).usual(),
		count("cuts", "cuts", func(d drum) Cell { return of(float64(len(d.cuts))) }).usual(),
		number("used_m", "cut off", quantity.Metre, func(d drum) Cell { return of(d.usedM) }).usual(),
		number("left_m", "left over", quantity.Metre, func(d drum) Cell { return of(max(0, d.lengthM-d.usedM)) }).usual(),
		words("order", "order", func(d drum) Cell {
			if d.own {
				return TextCell("no drum is so long; order this length")
			}
			return Cell{}
		}).usual(),
		words("holds", "for", func(d drum) Cell {
			var parts []string
			for _, i := range d.cuts {
				parts = append(parts, list[i].run+" "+list[i].what)
			}
			return joined(parts)
		}).usual(),
	})
	bought, used, lost := 0.0, 0.0, 0
	for _, d := range drums {
		bought, used = bought+d.lengthM, used+d.usedM
	}
	for i := range list {
		if list[i].drum == "" {
			lost++
		}
	}
	t.Basis = append(t.Basis, l.means()...)
	t.Basis = append(t.Basis, fmt.Sprintf("drums: %d, of %s in all; cut off %s, left over %s", len(drums), quantity.Metre.Print(bought), quantity.Metre.Print(used), quantity.Metre.Print(bought-used)))
	if lost > 0 {
		t.Basis = append(t.Basis, fmt.Sprintf("pieces that are on no drum, for their length or size is not known: %d", lost))
	}
	return t
}
