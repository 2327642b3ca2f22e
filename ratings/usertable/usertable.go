// Package usertable reads the user's own rating tables, typed from a bought standard or
// a maker's data sheet, lays them over a rating set, or makes a set of them alone.
//
// A capacity table is a table file (see package table) of kind capacity. Its head says
// for which cable it is and its columns line what each column is:
//
//	# title:      three-core cables, X-90
//	# standard:   AS/NZS 3008.1.1:2017
//	# number:     Table 14
//	# kind:       capacity
//	# reference:  air_c=40 soil_c=25 soil_km_w=1.2 depth_m=0.5
//	# insulation: xlpe-90
//	# build:      multicore
//	# loaded:     3
//	# columns:    c2=free-air/copper/stranded c4=free-air/aluminium/stranded c5=surface/copper/stranded
//	size_mm2,c2,c4,c5
//
// The arrangements are insulation, enclosed, surface, free-air, trefoil, flat,
// flat-spaced, pair, sun, buried, buried-duct. Other kinds, for a set of its own, are
// air, soil, soil-resistivity, grouping, direct, ducts-circuit, ducts-core, trays.
package usertable

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"trefoil/ratings"
	"trefoil/ratings/conductor"
	"trefoil/ratings/iec60364"
	"trefoil/ratings/methods"
	"trefoil/ratings/quantity"
	"trefoil/ratings/table"
)

// Arrangements are the ways of laying that a capacity column may be for.
var Arrangements = []string{"insulation", "enclosed", "surface", "free-air", "trefoil", "flat", "flat-spaced", "pair", "sun", "buried", "buried-duct"}

// Column is what a column of a capacity table is for.
type Column struct {
	Insulation, Build               string
	Loaded                          int
	Arrangement, Conductor, Strands string
}

// Tables are the user's tables of one directory.
type Tables struct {
	Capacity  map[Column]*table.Series
	Reference ratings.Info // its conditions
	Other     map[string]*table.Table
	Files     []*table.Table
}

// limits of a directory of tables
const (
	MaxFiles = 200
	MaxBytes = 4 << 20
)

func fault(t *table.Table, format string, args ...any) error {
	return &table.Error{File: t.Name, Line: 1, What: fmt.Sprintf(format, args...)}
}

// Parse reads the files of a directory. It goes on after a fault and gives all of
// them; each says file and line.
func Parse(files map[string][]byte) (*Tables, []error) {
	u := &Tables{Capacity: map[Column]*table.Series{}, Other: map[string]*table.Table{}}
	var faults []error
	names := make([]string, 0, len(files))
	for n := range files {
		names = append(names, n)
	}
	slices.Sort(names)
	have := false
	for _, n := range names {
		t, err := table.Parse(n, files[n])
		if err != nil {
			faults = append(faults, err)
			continue
		}
		u.Files = append(u.Files, t)
		switch kind := head(t, "kind"); kind {
		case "capacity":
			ref, err := reference(t)
			if err == nil && have && ref != u.Reference {
				err = fault(t, "its reference conditions differ from those of %s", u.Files[0].Name)
			}
			if err == nil {
				u.Reference, have = ref, true
				err = u.capacity(t)
			}
			if err != nil {
				faults = append(faults, err)
			}
		case "air", "soil", "soil-resistivity", "grouping", "direct", "ducts-circuit", "ducts-core", "trays":
			if first := u.Other[kind]; first != nil {
				faults = append(faults, fault(t, "a table of kind %s stands already in %s", kind, first.Name))
			}
			u.Other[kind] = t
			if err := bounded(t); err != nil {
				faults = append(faults, err)
			}
		default:
			faults = append(faults, fault(t, "kind is %q; it must be capacity, air, soil, soil-resistivity, grouping, direct, ducts-circuit, ducts-core or trays", kind))
		}
	}
	if len(faults) == 0 && len(u.Capacity) == 0 {
		faults = append(faults, errors.New("the directory holds no table of kind capacity"))
	}
	return u, faults
}

// bounded looks that every factor of a table is above 0 and at most 2.
func bounded(t *table.Table) error {
	for row := range t.Rows {
		for _, name := range t.Columns {
			switch name {
			case "air_c", "soil_c", "soil_km_w", "circuits", "trays", "support", "arrangement":
				continue
			}
			if cell := t.At(row, name); cell.Filled && (!cell.Number() || !(cell.Value > 0) || cell.Value > 2) {
				return &table.Error{File: t.Name, Line: t.Rows[row].Line, What: fmt.Sprintf("column %s holds %q, which is no factor; one lies above 0 and is at most 2", name, cell.Text)}
			}
		}
	}
	return nil
}

func head(t *table.Table, key string) string {
	if v := t.Head[key]; len(v) > 0 {
		return v[0]
	}
	return ""
}

// reference reads "air_c=40 soil_c=25 soil_km_w=1.2 depth_m=0.5".
func reference(t *table.Table) (ratings.Info, error) {
	var i ratings.Info
	into := map[string]*float64{"air_c": &i.AirC, "soil_c": &i.SoilC, "soil_km_w": &i.SoilKmW, "depth_m": &i.DepthM}
	for _, part := range strings.Fields(head(t, "reference")) {
		key, text, ok := strings.Cut(part, "=")
		v, err := strconv.ParseFloat(text, 64)
		p := into[key]
		if !ok || err != nil || p == nil || !quantity.Finite(v) {
			return i, fault(t, "reference holds %q; write reference: air_c=40 soil_c=25 soil_km_w=1.2 depth_m=0.5", part)
		}
		*p = v
		delete(into, key)
	}
	if len(into) > 0 {
		return i, fault(t, "reference does not state all of air_c, soil_c, soil_km_w and depth_m")
	}
	return i, nil
}

func (u *Tables) capacity(t *table.Table) error {
	c := Column{Insulation: head(t, "insulation"), Build: head(t, "build")}
	if _, ok := conductor.TemperatureC(c.Insulation); !ok {
		return fault(t, "insulation is %q; write pvc-75, xlpe-90 and so on", c.Insulation)
	}
	if c.Build != "multicore" && c.Build != "single-core" {
		return fault(t, "build is %q; it must be multicore or single-core", c.Build)
	}
	var err error
	if c.Loaded, err = strconv.Atoi(head(t, "loaded")); err != nil || c.Loaded != 2 && c.Loaded != 3 {
		return fault(t, "loaded is %q; it must be 2 or 3", head(t, "loaded"))
	}
	if !t.Has("size_mm2") {
		return fault(t, "there is no column size_mm2")
	}
	parts := strings.Fields(head(t, "columns"))
	if len(parts) == 0 {
		return fault(t, "columns does not say what the columns are; write columns: c5=surface/copper/stranded")
	}
	for _, part := range parts {
		name, text, ok := strings.Cut(part, "=")
		words := strings.Split(text, "/")
		if !ok || len(words) != 3 || !t.Has(name) {
			return fault(t, "columns holds %q; write NAME=ARRANGEMENT/CONDUCTOR/STRANDS for a column that is there", part)
		}
		k := c
		k.Arrangement, k.Conductor, k.Strands = words[0], words[1], words[2]
		switch {
		case !slices.Contains(Arrangements, k.Arrangement):
			return fault(t, "column %s is for %q; it must be one of %s", name, k.Arrangement, strings.Join(Arrangements, ", "))
		case k.Conductor != "copper" && k.Conductor != "aluminium":
			return fault(t, "column %s is for conductor %q", name, k.Conductor)
		case k.Strands != "stranded" && k.Strands != "flexible" && k.Strands != "solid":
			return fault(t, "column %s is for strands %q", name, k.Strands)
		case u.Capacity[k] != nil:
			return fault(t, "column %s is for what a column of %s is for already", name, u.Capacity[k].Table.Name)
		}
		for row := range t.Rows {
			if cell := t.At(row, name); cell.Filled && (!cell.Number() || cell.Value <= 0 || cell.Value > 10000) {
				return &table.Error{File: t.Name, Line: t.Rows[row].Line, What: fmt.Sprintf("column %s holds %q, which is no current in A", name, cell.Text)}
			}
		}
		label := strings.TrimPrefix(name, "c")
		s, err := t.Series("size_mm2", name, t.Ref()+" column "+label+" (your table)", nil)
		if err != nil {
			return err
		}
		u.Capacity[k] = s
	}
	return nil
}

// arrangement is what a place is to the columns of a capacity table; empty where no
// column can be for it.
func arrangement(c ratings.Circuit, p ratings.Place) string {
	single := c.Build == "single-core"
	switch p.Laid {
	case "conduit-in-insulation":
		return "insulation"
	case "conduit", "trunking":
		return "enclosed"
	case "clipped":
		return "surface"
	case "buried", "buried-duct":
		return p.Laid
	}
	switch {
	case methods.Enclosed(p):
		return "enclosed"
	case p.Laid == "solid-tray", methods.TooClose(c, p):
		return "surface"
	case single && c.Loaded == 3 && c.Formation == "flat-spaced" && p.Vertical:
		return "" // the columns are for a horizontal row
	case !single:
		return "free-air"
	case c.Loaded == 2:
		return "pair"
	}
	return c.Formation
}

// lowered says that a circuit is rated in the columns of a cooler neighbour.
func lowered(c ratings.Circuit, p ratings.Place, g ratings.Group) bool {
	return methods.Cooler(g.Insulation, c.Insulation) && !methods.Exempt(c, p, g)
}

// ask puts the question to a set with the user's figure in it, in the columns of the
// coolest insulation of the group; false where the tables have none. A column with the
// sun in it takes the place of the set's own rule for that.
func (u *Tables) ask(set ratings.Set, c ratings.Circuit, p ratings.Place, g ratings.Group) (ratings.Rating, *ratings.Gap, bool) {
	var notes []ratings.Note
	if lowered(c, p, g) {
		notes = []ratings.Note{{Kind: "insulation-rated-lower", Text: fmt.Sprintf("%s cables share it with %s and are rated as that", c.Insulation, g.Insulation)}}
		c.Insulation = g.Insulation
	}
	a := arrangement(c, p)
	var cell table.Cell
	var s *table.Series
	if p.Sun && (a == "free-air" || a == "surface") {
		if cell, s = u.find(c, "sun"); s != nil {
			p.Sun = false
		}
	}
	if s == nil {
		cell, s = u.find(c, a)
	}
	if s == nil {
		return ratings.Rating{}, nil, false
	}
	c.CapacityA, c.DataOrigin = quantity.Of(cell.Value), s.Ref
	r, gap := set.Rate(c, p, g)
	r.Notes = append(r.Notes[:len(r.Notes):len(r.Notes)], notes...)
	return r, gap, true
}

// find looks a capacity up; a column for stranded serves solid conductors too.
func (u *Tables) find(c ratings.Circuit, a string) (table.Cell, *table.Series) {
	for _, strands := range []string{c.Strands, "stranded"} {
		if strands == "stranded" && c.Strands == "flexible" {
			break
		}
		if s := u.Capacity[Column{c.Insulation, c.Build, c.Loaded, a, c.Conductor, strands}]; s != nil {
			if cell, ok := s.Exact(c.Size.MM2); ok && c.Size.Trade == "" {
				return cell, s
			}
		}
	}
	return table.Cell{}, nil
}

// layered is a rating set with the user's capacities laid over it.
type layered struct {
	ratings.Set
	tables *Tables
}

// Layer lays capacities over a set. Their reference conditions must be the set's.
func Layer(base ratings.Set, u *Tables) (ratings.Set, error) {
	i := base.Info()
	if r := u.Reference; r.AirC != i.AirC || r.SoilC != i.SoilC || r.SoilKmW != i.SoilKmW || r.DepthM != i.DepthM {
		return nil, fault(u.Files[0], "its reference conditions are air_c=%g soil_c=%g soil_km_w=%g depth_m=%g, those of %s are air_c=%g soil_c=%g soil_km_w=%g depth_m=%g; factors of one do not fit capacities of the other",
			r.AirC, r.SoilC, r.SoilKmW, r.DepthM, i.Name, i.AirC, i.SoilC, i.SoilKmW, i.DepthM)
	}
	for _, t := range u.Files {
		if name, edition := publication(t.Standard); name != "" {
			if mine, other := publication(i.Title); name == mine && edition != other {
				return nil, fault(t, "it is typed from %s:%s, and the set is that of %s:%s; editions do not mix", name, edition, mine, other)
			}
		}
	}
	return &layered{base, u}, nil
}

// publication parts "AS/NZS 3008.1.1:2017, clause 3" into name and edition.
func publication(s string) (name, edition string) {
	name, rest, ok := strings.Cut(s, ":")
	if !ok || len(rest) < 4 {
		return "", ""
	}
	return strings.TrimSpace(name), rest[:4]
}

// Rate answers from the user's table where it has the cable and laying, with the
// factors of the set below; otherwise the set answers.
func (l *layered) Rate(c ratings.Circuit, p ratings.Place, g ratings.Group) (ratings.Rating, *ratings.Gap) {
	if c.CapacityA.Known {
		return l.Set.Rate(c, p, g)
	}
	if r, gap, has := l.tables.ask(l.Set, c, p, g); has {
		return r, gap
	}
	return l.Set.Rate(c, p, g)
}

// Files lists the user's tables before those of the set.
func (l *layered) Files() []ratings.File {
	var list []ratings.File
	for _, t := range l.tables.Files {
		list = append(list, t.File())
	}
	return append(list, l.Set.Files()...)
}

// alone is a set of the user's tables alone.
type alone struct {
	*methods.Tables
	tables *Tables
}

// Rate answers from the user's tables, or says what they do not hold.
func (o *alone) Rate(c ratings.Circuit, p ratings.Place, g ratings.Group) (ratings.Rating, *ratings.Gap) {
	if c.CapacityA.Known && !lowered(c, p, g) {
		return o.Tables.Rate(c, p, g)
	}
	if r, gap, has := o.tables.ask(o.Tables, c, p, g); has {
		return r, gap
	}
	what := arrangement(c, p)
	if what == "" {
		what = "laid so"
	}
	return ratings.Rating{}, &ratings.Gap{
		Reason: fmt.Sprintf("the tables in %s have no figure for %s of %s %s, %s, %s, %d loaded conductors", o.Standard, c.Size, c.Strands, c.Conductor, c.Insulation, what, c.Loaded),
		Next:   "add the column or the row, or choose another cable or way of laying",
	}
}

// NewSet makes a rating set of the user's tables alone, used as IEC 60364-5-52 is:
// resistances of IEC 60228, reactance 0.08 ohm/km, fuses by IEC 60364-4-43. What it
// has no table for cannot be assessed.
func NewSet(name string, u *Tables) (ratings.Set, error) {
	t := &methods.Tables{
		Standard: name, About: u.Reference, Trays: map[methods.TrayKey]*table.Series{},
		TraysRef: map[string]string{"multicore": "the table of trays", "single-core": "the table of trays"},
		Harmonic: ratings.Ref{Text: "IEC 60364-5-52:2009 Table E.52.1", Status: ratings.Memory},
		Name:     iec60364.MethodName, Z: iec60364.Impedance, Fuse: iec60364.Fuse, Item: map[int]*table.Series{},
	}
	t.About.Name, t.About.Title, t.About.Scope, t.About.Family = name, "your own tables in "+name, "what those tables hold", "iec"
	var first error
	columns := func(kind, key string, names ...string) map[string]*table.Series {
		out := map[string]*table.Series{}
		f := u.Other[kind]
		if f == nil {
			return out
		}
		for _, n := range names {
			if !f.Has(n) {
				continue
			}
			s, err := f.Series(key, n, f.Ref(), nil)
			if err != nil && first == nil {
				first = err
			}
			if err == nil {
				out[n] = s
			}
		}
		if len(out) == 0 && first == nil {
			first = fault(f, "a table of kind %s has the columns %s and %s", kind, key, strings.Join(names, ", "))
		}
		return out
	}
	t.Air = columns("air", "air_c", "pvc", "xlpe")
	t.Soil = columns("soil", "soil_c", "pvc", "xlpe")
	t.SoilR = columns("soil-resistivity", "soil_km_w", "ducts", "direct")
	for i, n := range map[int]string{1: "enclosed", 2: "surface", 4: "perforated", 5: "ladder"} {
		if s := columns("grouping", "circuits", "enclosed", "surface", "perforated", "ladder")[n]; s != nil {
			t.Item[i] = s
		}
	}
	t.Direct = columns("direct", "circuits", "touching", "one_diameter", "clear_125", "clear_250", "clear_500")
	t.DuctsA = columns("ducts-circuit", "circuits", "touching", "clear_250", "clear_500", "clear_1000")
	t.DuctsB = columns("ducts-core", "circuits", "touching", "clear_250", "clear_500", "clear_1000")
	if f := u.Other["trays"]; f != nil {
		l := methods.NewLibrary(func(string) ([]byte, error) { return []byte(f.Text), nil })
		l.TrayRows(t.Trays, f.Name)
		if first == nil {
			first = l.Err()
		}
	}
	for _, f := range u.Files {
		t.Listing = append(t.Listing, f.File())
	}
	return &alone{t, u}, first
}
