package methods

import (
	"fmt"
	"math"

	"trefoil/ratings"
	"trefoil/ratings/quantity"
	"trefoil/ratings/table"
)

// adjacent is how many neighbouring standard sizes a group may span before it
// counts as mixed, IEC 60364-5-52 clause B.52.5 (from memory).
const adjacent = 3

// sizes is the series of IEC 60228.
var sizes = []float64{0.5, 0.75, 1, 1.5, 2.5, 4, 6, 10, 16, 25, 35, 50, 70, 95, 120, 150, 185, 240, 300, 400, 500, 630, 800, 1000}

// mixed says that a group spans more standard sizes than the tables are made for.
func mixed(g ratings.Group) bool {
	if g.Smallest.Zero() || g.Largest.Zero() {
		return false
	}
	n := 0
	for _, s := range sizes {
		if s >= g.Smallest.MM2*(1-1e-9) && s <= g.Largest.MM2*(1+1e-9) {
			n++
		}
	}
	return n > adjacent
}

func count(n int) string {
	if n == 1 {
		return "1 circuit"
	}
	return fmt.Sprintf("%d circuits", n)
}

// spacing is how far the circuits of a group lie apart, as the tables see it.
type spacing struct {
	apart  bool           // at least one diameter clear, or stated as spaced without a distance
	clear  quantity.Maybe // mm
	outer  quantity.Maybe // largest diameter of the group, mm
	exempt bool           // more than two diameters clear and held so
}

// wide says that the circuits lie at least so many diameters apart.
func (s spacing) wide(diameters float64) bool {
	return s.clear.Known && s.outer.Known && s.clear.Value >= diameters*s.outer.Value*(1-1e-9)
}

func (t *Tables) spacing(r *ratings.Rating, c ratings.Circuit, p ratings.Place, g ratings.Group) spacing {
	s := spacing{clear: p.SpacingMM, outer: g.OuterMM}
	switch {
	case g.OuterUnknown:
		s.outer = quantity.Maybe{}
	case !s.outer.Known:
		s.outer = outerMM(c)
	}
	if p.Spacing != "spaced" || g.Circuits < 2 {
		return s
	}
	note := func(kind, format string, args ...any) {
		r.Notes = append(r.Notes, ratings.Note{Kind: kind, Text: fmt.Sprintf(format, args...)})
	}
	switch {
	case p.Laid == "buried-duct":
	case !s.clear.Known:
		s.apart = true
		note("spacing-unstated", "it is spaced without spacing_mm; one diameter clear is taken")
	case !s.outer.Known:
		note("spacing-unstated", "the diameter of its cables is not known, so spacing_mm cannot be judged and touching is taken; state outer_mm in the data of the cables")
	case !s.wide(1):
		note("spacing-unstated", "spacing_mm is %s, less than the diameter of %s; touching is taken", quantity.Milli.Print(s.clear.Value), quantity.Milli.Print(s.outer.Value))
	default:
		s.apart = true
		if !ground(p) && s.clear.Value > 2*s.outer.Value*(1+1e-9) {
			if s.exempt = p.HeldBy != ""; !s.exempt {
				note("spacing-unheld", "its circuits lie more than two diameters apart, but held_by does not say what keeps them so; a grouping factor is applied")
			}
		}
	}
	return s
}

// grouping adds the factor for the company that a circuit lies in.
func (t *Tables) grouping(r *ratings.Rating, c ratings.Circuit, p ratings.Place, g ratings.Group, method string, s spacing) *ratings.Gap {
	n := max(g.Circuits, 1)
	switch p.Laid {
	case "buried":
		return t.groupDirect(r, p, s, n)
	case "buried-duct":
		return t.groupDucts(r, c, p, g, n)
	}
	in := Enclosed(p)
	tiers := max(p.Tiers, 1)
	if !in && s.exempt {
		r.Factors = append(r.Factors, ratings.Factor{
			Name: "grouping", Value: 1, Ref: ratings.Ref{Text: t.Standard + ", clear by more than two diameters", Status: ratings.Published},
			Why: fmt.Sprintf("more than two diameters clear, held by %s", p.HeldBy),
		})
		return nil
	}
	if in && mixed(g) && n > 1 {
		r.Factors = append(r.Factors, ratings.Factor{
			Name: "mixed-sizes", Value: 1 / math.Sqrt(float64(n)), Ref: ratings.Ref{Text: t.Standard + " 1/sqrt(n) for groups of different sizes", Status: ratings.Memory},
			Why: fmt.Sprintf("%s from %s to %s", count(n), g.Smallest, g.Largest),
		})
		return nil
	}
	if mixed(g) && n > 1 {
		r.Notes = append(r.Notes, ratings.Note{Kind: "mixed-sizes", Text: fmt.Sprintf("its sizes run from %s to %s, for which the table's factor is not made; the smaller cables run hotter than it says", g.Smallest, g.Largest)})
	}
	item := 0
	switch {
	case in:
		item = 1
	case p.Spacing == "bunched":
		if method == "G_horizontal" || method == "G_vertical" {
			return gap("cables laid one diameter apart cannot be bunched")("change spacing or formation")
		}
		item = 1
	case method == "C":
		item = 2
	case method == "E":
		return t.groupTrays(r, "multicore", Support(p), arrangement(s), tiers, n)
	case method == "F_flat":
		return t.groupTrays(r, "single-core", Support(p), "flat-touching", tiers, n)
	case method == "F_trefoil" && n > 1 && s.wide(2) && p.Spacing == "spaced" && t.reaches(TrayKey{Support(p), "trefoil-spaced-2d", tiers}, n):
		return t.groupTrays(r, "single-core", Support(p), "trefoil-spaced-2d", tiers, n)
	case method == "G_horizontal" || method == "G_vertical":
		if n == 1 && tiers == 1 {
			return nil
		}
		return gap("no table gives a factor for groups of circuits laid flat one diameter apart, and %s share the route", count(n))("hold the circuits more than two diameters apart and state spacing_mm and held_by, or lay them in trefoil")
	default:
		item = 5
		if p.Laid == "perforated-tray" {
			item = 4
		}
	}
	if tiers > 1 {
		return gap("%s has no factor for %d trays above each other with this arrangement", t.Standard, tiers)("state each tray as a route of its own with what lies in it")
	}
	if n == 1 {
		return nil
	}
	f, miss := t.item(item, n)
	if miss != nil {
		return miss
	}
	f.Why = count(n)
	if p.Spacing == "bunched" && !in {
		f.Why += ", bunched"
	}
	r.Factors = append(r.Factors, f)
	return nil
}

// item looks up the general grouping table; items 2 to 5 have no further
// reduction past their last row.
func (t *Tables) item(item, n int) (ratings.Factor, *ratings.Gap) {
	s := t.Item[item]
	if s == nil {
		return stepped(nil, "groups of this arrangement", float64(n), "", "")
	}
	if last, cell := s.Last(); float64(n) > last && item > 1 {
		return ratings.Factor{Name: "grouping", Value: cell.Value, Ref: ratings.Ref{Text: s.Ref, Status: cell.Status}}, nil
	}
	return stepped(s, "grouping", float64(n), "", " circuits")
}

// Support is what the tables of trays and ladders call a laying in air.
func Support(p ratings.Place) string {
	if p.Laid != "perforated-tray" {
		return "ladder"
	}
	if p.Vertical {
		return "perforated-vertical"
	}
	return "perforated"
}

func arrangement(s spacing) string {
	if s.apart {
		return "spaced"
	}
	return "touching"
}

// groupTrays looks up the tables of trays and ladders: the next number of trays
// and of circuits on the safe side; a spaced row that ends too early gives way to
// the touching one.
func (t *Tables) groupTrays(r *ratings.Rating, build, support, arrangement string, tiers, n int) *ratings.Gap {
	s := t.trays(support, arrangement, tiers)
	if arrangement == "spaced" {
		if s != nil {
			if last, _ := s.Last(); float64(n) > last {
				s = nil
			}
		}
		if s == nil {
			return t.groupTrays(r, build, support, "touching", tiers, n)
		}
	}
	if s == nil && n == 1 && tiers == 1 && len(t.Trays) == 0 {
		return nil // a set without such a table: one circuit alone needs none
	}
	if s == nil {
		return gap("%s has no row for %d trays above each other, %s, %s", t.TraysRef[build], tiers, support, arrangement)("state each tray as a route of its own with what lies in it")
	}
	if last, _ := s.Last(); float64(n) > last {
		return gap("%s ends at %g for %s, %s, and %s share the route", s.Ref, last, support, arrangement, count(n))("split the group over two routes, or hold the circuits more than two diameters apart")
	}
	cell, _, _ := s.Up(float64(n))
	if cell.Value != 1 {
		why := count(n)
		if tiers > 1 {
			why += fmt.Sprintf(" on each of %d trays", tiers)
		}
		r.Factors = append(r.Factors, ratings.Factor{Name: "grouping", Value: cell.Value, Ref: ratings.Ref{Text: s.Ref, Status: cell.Status}, Why: why + ", " + arrangement})
	}
	return nil
}

// reaches says that a row of the tables of trays and ladders goes as far as n circuits.
func (t *Tables) reaches(k TrayKey, n int) bool {
	s := t.trays(k.Support, k.Arrangement, k.Trays)
	if s == nil {
		return false
	}
	last, _ := s.Last()
	return float64(n) <= last
}

// Exempt says that a circuit lies in air more than two diameters from its neighbours
// and is held so: neither their number nor their insulation counts.
func Exempt(c ratings.Circuit, p ratings.Place, g ratings.Group) bool {
	return new(Tables).spacing(&ratings.Rating{}, c, p, g).exempt && !Enclosed(p)
}

func (t *Tables) trays(support, arrangement string, tiers int) *table.Series {
	for _, trays := range []int{1, 2, 3, 6} {
		if trays < tiers {
			continue
		}
		if s := t.Trays[TrayKey{support, arrangement, trays}]; s != nil {
			return s
		}
	}
	return nil
}

func (t *Tables) groupDirect(r *ratings.Rating, p ratings.Place, s spacing, n int) *ratings.Gap {
	if n == 1 {
		return nil
	}
	if p.Spacing == "bunched" {
		return gap("no table gives a factor for cables bunched direct in the ground")("lay them side by side, touching or spaced")
	}
	column := "touching"
	if s.apart {
		column = "one_diameter"
	}
	if p.Spacing == "spaced" {
		for _, step := range []struct {
			mm   float64
			name string
		}{{125, "clear_125"}, {250, "clear_250"}, {500, "clear_500"}} {
			if s.clear.Known && s.clear.Value >= step.mm*(1-1e-9) {
				column = step.name
			}
		}
	}
	f, miss := stepped(t.Direct[column], "grouping", float64(n), count(n)+", "+words(column), " circuits")
	if miss != nil {
		return miss
	}
	r.Factors = append(r.Factors, f)
	return nil
}

func words(column string) string {
	switch column {
	case "one_diameter":
		return "one diameter apart"
	case "clear_125", "clear_250", "clear_500", "clear_1000":
		return column[len("clear_"):] + " mm clear"
	}
	return column
}

func (t *Tables) groupDucts(r *ratings.Rating, c ratings.Circuit, p ratings.Place, g ratings.Group, n int) *ratings.Gap {
	column := "touching"
	if p.Spacing == "spaced" {
		for _, step := range []struct {
			mm   float64
			name string
		}{{250, "clear_250"}, {500, "clear_500"}, {1000, "clear_1000"}} {
			if p.SpacingMM.Known && p.SpacingMM.Value >= step.mm*(1-1e-9) {
				column = step.name
			}
		}
		if column == "touching" && n > 1 {
			r.Notes = append(r.Notes, ratings.Note{Kind: "spacing-unstated", Text: "its ducts are spaced by less than 250 mm or by a distance that is not stated; touching is taken"})
		}
	}
	series, ducts := t.DuctsA, n
	switch p.Ducts {
	case "per-core":
		if c.Build != "single-core" {
			return gap("ducts = \"per-core\" is for single-core cables")("write ducts = \"per-circuit\"")
		}
		series = t.DuctsB
	case "shared":
		ducts = max(p.DuctCount, 1)
		inside := (n + ducts - 1) / ducts
		switch {
		case inside > 1 && mixed(g):
			r.Factors = append(r.Factors, ratings.Factor{
				Name: "mixed-sizes", Value: 1 / math.Sqrt(float64(inside)), Ref: ratings.Ref{Text: t.Standard + " 1/sqrt(n) for groups of different sizes", Status: ratings.Memory},
				Why: fmt.Sprintf("%s in one duct, from %s to %s", count(inside), g.Smallest, g.Largest),
			})
		case inside > 1:
			f, miss := t.item(1, inside)
			if miss != nil {
				return miss
			}
			f.Why = count(inside) + " in one duct"
			r.Factors = append(r.Factors, f)
		}
	}
	if ducts == 1 {
		return nil
	}
	why := fmt.Sprintf("%s in ducts, %s", count(n), words(column))
	if p.Ducts == "shared" {
		why = fmt.Sprintf("%d ducts, %s", ducts, words(column))
	}
	f, miss := stepped(series[column], "grouping", float64(ducts), why, " circuits")
	if miss != nil {
		return miss
	}
	r.Factors = append(r.Factors, f)
	return nil
}
