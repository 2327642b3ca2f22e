// Package methods says how the tables of IEC 60364-5-52 and of national standards
// built like it are used: which reference method a laying is, which column, which
// factors, and where the tables end. What a standard prints is data of its own
// package; nothing here holds a figure of a table.
package methods

import (
	"fmt"
	"math"

	"trefoil/ratings"
	"trefoil/ratings/conductor"
	"trefoil/ratings/quantity"
	"trefoil/ratings/table"
)

// Key finds a column of capacities.
type Key struct {
	Material string // copper | aluminium
	Ins      string // pvc | xlpe: the columns for 70 and 90 degC
	Build    string // multicore | single-core
	Armoured bool
	Method   string // A1 A2 B1 B2 C D1 D2 E F F_flat F_trefoil G_horizontal G_vertical
	Loaded   int
}

// TrayKey finds a row of the tray and ladder tables.
type TrayKey struct {
	Support     string // perforated | perforated-vertical | ladder
	Arrangement string // touching | spaced | flat-touching | trefoil-spaced-2d
	Trays       int
}

// Tables are the tables of one standard, prepared for look-up.
type Tables struct {
	About    ratings.Info
	Standard string // "IEC 60364-5-52:2009"
	Capacity map[Key]*table.Series
	Air      map[string]*table.Series // by Ins
	Soil     map[string]*table.Series // by Ins
	SoilR    map[string]*table.Series // ducts | direct
	Item     map[int]*table.Series    // 1, 2, 4, 5
	Direct   map[string]*table.Series // touching | one_diameter | clear_125 ...
	DuctsA   map[string]*table.Series // touching | clear_250 ...; multicore, or one circuit a duct
	DuctsB   map[string]*table.Series // one core a duct
	Trays    map[TrayKey]*table.Series
	TraysRef map[string]string // multicore | single-core: "Table B.52.20"

	Harmonic ratings.Ref                // of the factors for third harmonics
	Missing  func(Key) string           // why a column is not there
	Name     func(method string) string // how the standard calls the method
	Z        func(ratings.Circuit, ratings.Place, string) (ratings.Impedance, *ratings.Gap)
	Fuse     func(ratings.Protection) (float64, ratings.Ref, *ratings.Gap)
	Listing  []ratings.File
}

// Info describes the set.
func (t *Tables) Info() ratings.Info { return t.About }

// Files lists the set's table files.
func (t *Tables) Files() []ratings.File { return t.Listing }

// Impedance of one leg laid so.
func (t *Tables) Impedance(c ratings.Circuit, p ratings.Place) (ratings.Impedance, *ratings.Gap) {
	method, gap := t.method(c, p)
	if gap != nil {
		return ratings.Impedance{}, gap
	}
	z, gap := t.Z(c, p, method)
	if gap != nil && !(c.ROhmKM.Known && c.XOhmKM.Known) {
		return z, gap
	}
	given := ratings.Ref{Text: c.DataOrigin, Status: ratings.Given}
	if c.ROhmKM.Known {
		z.ROhmKM, z.RRef = c.ROhmKM.Value, given
	}
	if c.XOhmKM.Known {
		z.XOhmKM, z.XRef = c.XOhmKM.Value, given
	}
	return z, nil
}

// NeedsA is the least capacity that a device protects against overload: its
// setting for a breaker (I2 = 1.45 In), the standard's own rule for a fuse.
func (t *Tables) NeedsA(p ratings.Protection) (float64, ratings.Ref, *ratings.Gap) {
	switch p.Kind {
	case "mcb", "mccb":
		return p.RatedA, ratings.Ref{Text: "In <= Iz", Status: ratings.Published}, nil
	case "fuse":
		return t.Fuse(p)
	}
	return 0, ratings.Ref{}, gap("no rule for a device of kind %q", p.Kind)("write kind = \"mcb\", \"mccb\" or \"fuse\"")
}

func gap(format string, args ...any) func(next string) *ratings.Gap {
	return func(next string) *ratings.Gap {
		return &ratings.Gap{Reason: fmt.Sprintf(format, args...), Next: next}
	}
}

// tray says that a lid on this laying makes an enclosure.
func tray(laid string) bool {
	switch laid {
	case "perforated-tray", "solid-tray", "ladder", "basket":
		return true
	}
	return false
}

// Enclosed says that the cables lie in an enclosure in air.
func Enclosed(p ratings.Place) bool {
	switch p.Laid {
	case "conduit", "conduit-in-insulation", "trunking":
		return true
	}
	return p.Lid && tray(p.Laid)
}

func ground(p ratings.Place) bool { return p.Laid == "buried" || p.Laid == "buried-duct" }

// outerMM is the diameter of one cable of the circuit.
func outerMM(c ratings.Circuit) quantity.Maybe {
	built, gap := conductor.Construct(c)
	if gap != nil {
		return quantity.Maybe{}
	}
	return quantity.Of(built.OuterMM)
}

// TooClose says that a standoff is too small to count as free air: below 0.3
// diameters of a multicore cable, 0.5 of a single-core one.
func TooClose(c ratings.Circuit, p ratings.Place) bool {
	if p.Laid != "standoff" || !p.StandoffMM.Known {
		return false
	}
	share := 0.3
	if c.Build == "single-core" {
		share = 0.5
	}
	outer := outerMM(c)
	return !outer.Known || p.StandoffMM.Value < share*outer.Value*(1-1e-9)
}

// method is the reference method of a laying, IEC 60364-5-52 Table A.52.3.
func (t *Tables) method(c ratings.Circuit, p ratings.Place) (string, *ratings.Gap) {
	single := c.Build == "single-core"
	pick := func(one, many string) (string, *ratings.Gap) {
		if single {
			return one, nil
		}
		return many, nil
	}
	switch {
	case p.Laid == "conduit-in-insulation":
		return pick("A1", "A2")
	case Enclosed(p):
		return pick("B1", "B2")
	case p.Laid == "clipped", p.Laid == "solid-tray", TooClose(c, p):
		return "C", nil
	case p.Laid == "buried":
		return "D2", nil
	case p.Laid == "buried-duct":
		return "D1", nil
	}
	switch p.Laid {
	case "perforated-tray", "ladder", "basket", "standoff", "free-air":
	default:
		return "", gap("no reference method for laid = %q", p.Laid)("")
	}
	if !single {
		return "E", nil
	}
	if c.Loaded == 2 {
		return "F", nil
	}
	switch c.Formation {
	case "trefoil":
		return "F_trefoil", nil
	case "flat":
		return "F_flat", nil
	case "flat-spaced":
		if p.Vertical {
			return "G_vertical", nil
		}
		return "G_horizontal", nil
	}
	return "", gap("no column for formation = %q", c.Formation)("")
}

// Cooler says that an insulation works at a lower temperature than another.
func Cooler(insulation, than string) bool {
	a, okA := conductor.TemperatureC(insulation)
	b, okB := conductor.TemperatureC(than)
	return okA && okB && a < b
}

// columns names the insulation columns that a cable is rated in.
func columns(c ratings.Circuit, g ratings.Group) (ins string, notes []ratings.Note, missing *ratings.Gap) {
	rated := c.Insulation
	own, ok := conductor.TemperatureC(c.Insulation)
	if !ok {
		return "", nil, gap("insulation %q is not known", c.Insulation)("")
	}
	if lowest, ok := conductor.TemperatureC(g.Insulation); ok && lowest < own {
		rated = g.Insulation
		notes = append(notes, ratings.Note{Kind: "insulation-rated-lower", Text: fmt.Sprintf("%s cables share it with %s and are rated as that", c.Insulation, rated)})
	}
	switch rated {
	case "pvc-70":
		return "pvc", notes, nil
	case "pvc-75":
		return "pvc", append(notes, ratings.Note{Kind: "insulation-rated-lower", Text: "pvc-75 cables are rated in the columns of pvc-70"}), nil
	case "xlpe-90", "epr-90":
		return "xlpe", notes, nil
	}
	return "", nil, gap("there is no column for insulation %s", rated)("choose pvc-70, pvc-75, xlpe-90 or epr-90, or another rating set")
}

// Rate answers for one section of one leg.
func (t *Tables) Rate(c ratings.Circuit, p ratings.Place, g ratings.Group) (ratings.Rating, *ratings.Gap) {
	r := ratings.Rating{Basis: "table"}
	if c.Loaded != 2 && c.Loaded != 3 {
		return r, gap("no column for %d loaded conductors", c.Loaded)("")
	}
	method, miss := t.method(c, p)
	if miss != nil {
		return r, miss
	}
	r.Method = t.Name(method)
	apart := t.spacing(&r, c, p, g)
	if apart.exempt && !Enclosed(p) {
		g.Insulation = "" // its neighbours do not heat it
	}
	ins, notes, miss := columns(c, g)
	if miss != nil {
		return r, miss
	}
	if Cooler(g.Insulation, c.Insulation) {
		c.CapacityA = quantity.Maybe{} // it is for the cable's own temperature
	}
	r.Notes = append(r.Notes, notes...)
	if p.Laid == "standoff" && !p.StandoffMM.Known {
		r.Notes = append(r.Notes, ratings.Note{Kind: "standoff-unstated", Text: "standoff_mm is not stated; it is taken as enough for free air"})
	}
	if miss := t.tabulated(&r, c, method, ins); miss != nil {
		return r, miss
	}
	if ground(p) {
		miss = t.inGround(&r, p, ins)
	} else {
		miss = t.inAir(&r, p, ins)
	}
	if miss == nil {
		miss = t.grouping(&r, c, p, g, method, apart)
	}
	if miss != nil {
		return r, miss
	}
	t.harmonics(&r, c)
	if p.ExtraFactor.Known {
		r.Factors = append(r.Factors, ratings.Factor{Name: "user", Value: p.ExtraFactor.Value, Ref: ratings.Ref{Text: p.ExtraFactorReason, Status: ratings.Given}})
	}
	r.CapacityA = r.TabulatedA
	for _, f := range r.Factors {
		r.CapacityA *= f.Value
	}
	if !quantity.Finite(r.CapacityA) || r.CapacityA <= 0 {
		return r, gap("the capacity comes out as %g A", r.CapacityA)("")
	}
	return r, nil
}

func (t *Tables) tabulated(r *ratings.Rating, c ratings.Circuit, method, ins string) *ratings.Gap {
	if c.CapacityA.Known {
		r.Basis, r.TabulatedA, r.Ref = "user-table", c.CapacityA.Value, ratings.Ref{Text: c.DataOrigin, Status: ratings.Given}
		return nil
	}
	key := Key{c.Conductor, ins, c.Build, c.Armour != "none" && c.Armour != "", method, c.Loaded}
	s := t.Capacity[key]
	if s == nil {
		return &ratings.Gap{Reason: t.Missing(key), Next: "choose another cable or way of laying, or another rating set"}
	}
	cell, ok := s.Exact(c.Size.MM2)
	if !ok || c.Size.Trade != "" {
		below, above := s.Near(c.Size.MM2)
		near := fmt.Sprintf("its nearest sizes are %s and %s", quantity.MM2(below), quantity.MM2(above))
		if math.IsNaN(below) {
			near = fmt.Sprintf("its least size is %s", quantity.MM2(above))
		} else if math.IsNaN(above) {
			near = fmt.Sprintf("its largest size is %s", quantity.MM2(below))
		}
		return gap("%s has no figure for %s; %s", s.Ref, c.Size, near)("choose a size of the table")
	}
	r.TabulatedA, r.Ref = cell.Value, ratings.Ref{Text: s.Ref, Status: cell.Status}
	return nil
}

// stepped looks up a factor at the key or the next row on the safe side.
func stepped(s *table.Series, name string, key float64, why, unit string) (ratings.Factor, *ratings.Gap) {
	if s == nil {
		return ratings.Factor{}, gap("the set has no table for %s", name)("use another rating set, or add the table")
	}
	cell, _, ok := s.Up(key)
	if !ok {
		last, _ := s.Last()
		return ratings.Factor{}, gap("%s ends at %g%s, and here it is %g", s.Ref, last, unit, key)("stay within the table, or use another rating set")
	}
	return ratings.Factor{Name: name, Value: cell.Value, Ref: ratings.Ref{Text: s.Ref, Status: cell.Status}, Why: why}, nil
}

func (t *Tables) inAir(r *ratings.Rating, p ratings.Place, ins string) *ratings.Gap {
	air := p.AirC.Or(t.About.AirC)
	why := quantity.Celsius.Print(air)
	if p.Sun {
		adds := p.SunAddsC.Or(SunAddsC)
		if !p.SunAddsC.Known {
			r.Notes = append(r.Notes, ratings.Note{Kind: "sun-assumed", Text: fmt.Sprintf("it lies in the sun, for which %s are added to the ambient temperature", quantity.Celsius.Print(adds))})
		}
		why += fmt.Sprintf(" and %s for the sun", quantity.Celsius.Print(adds))
		air += adds
	}
	if air == t.About.AirC {
		return nil
	}
	f, miss := stepped(t.Air[ins], "ambient-air", air, why, " degC")
	if miss != nil {
		return miss
	}
	r.Factors = append(r.Factors, f)
	return nil
}

// SunAddsC is what sun adds to the ambient temperature where neither the set nor
// the design says otherwise: practice after AS/NZS 3008.1.1 clause 3.5.8.
const SunAddsC = 20

func (t *Tables) inGround(r *ratings.Rating, p ratings.Place, ins string) *ratings.Gap {
	if c := p.SoilC.Or(t.About.SoilC); c != t.About.SoilC {
		f, miss := stepped(t.Soil[ins], "ambient-soil", c, quantity.Celsius.Print(c), " degC")
		if miss != nil {
			return miss
		}
		r.Factors = append(r.Factors, f)
	}
	if k := p.SoilKmW.Or(t.About.SoilKmW); k != t.About.SoilKmW {
		which := "direct"
		if p.Laid == "buried-duct" {
			which = "ducts"
		}
		f, miss := stepped(t.SoilR[which], "soil-resistivity", k, quantity.SoilKMW.Print(k), " K.m/W")
		if miss != nil {
			return miss
		}
		r.Factors = append(r.Factors, f)
	}
	if d := p.DepthM.Or(t.About.DepthM); !quantity.AtMost(d, t.About.DepthM) {
		if !p.DepthFactor.Known {
			return gap("the depth is %s, and %s has no factor below %s", quantity.Metre.Print(d), t.Standard, quantity.Metre.Print(t.About.DepthM))("lay it higher, or state depth_factor and depth_factor_origin on the route")
		}
		r.Factors = append(r.Factors, ratings.Factor{Name: "depth", Value: p.DepthFactor.Value, Ref: ratings.Ref{Text: p.DepthFactorOrigin, Status: ratings.Given}, Why: quantity.Metre.Print(d)})
	}
	return nil
}

// harmonics applies Annex E: up to 15 % of third harmonic nothing, to 33 % 0.86 on
// the line current, to 45 % 0.86 on the neutral current, above that the neutral
// current alone.
func (t *Tables) harmonics(r *ratings.Rating, c ratings.Circuit) {
	if c.Loaded != 3 || c.ThirdPct <= 15 {
		return
	}
	r.OnNeutral = c.ThirdPct > 33
	if c.ThirdPct <= 45 {
		r.Factors = append(r.Factors, ratings.Factor{Name: "harmonics", Value: 0.86, Ref: t.Harmonic, Why: quantity.Percent.Print(c.ThirdPct) + " third harmonic"})
	}
}

// Library reads the table files of a standard and prepares columns. The first
// fault is kept; the files come with the program, so a test meets it first.
type Library struct {
	read func(name string) ([]byte, error)
	list []ratings.File
	open map[string]*table.Table
	err  error
}

// NewLibrary makes a library of files that read gives.
func NewLibrary(read func(name string) ([]byte, error)) *Library {
	return &Library{read: read, open: map[string]*table.Table{}}
}

// Err is the first fault met.
func (l *Library) Err() error { return l.err }

// Listing describes the files read so far, in that order.
func (l *Library) Listing() []ratings.File { return l.list }

// Table reads a file once.
func (l *Library) Table(name string) *table.Table {
	if t := l.open[name]; t != nil {
		return t
	}
	text, err := l.read(name)
	if err != nil {
		l.fail(err)
		return &table.Table{}
	}
	t, err := table.Parse(name, text)
	if err != nil {
		l.fail(err)
		return &table.Table{}
	}
	l.open[name] = t
	l.list = append(l.list, t.File())
	return t
}

func (l *Library) fail(err error) {
	if l.err == nil {
		l.err = err
	}
}

// Column prepares a column by the size or the first key; label is added to the
// table's name in references. Rows are those whose other keys have the words given.
func (l *Library) Column(file, key, column, label string, words ...string) *table.Series {
	t := l.Table(file)
	ref := t.Ref()
	if label != "" {
		ref += " " + label
	}
	s, err := t.Series(key, column, ref, func(row int) bool {
		for i := 0; i+1 < len(words); i += 2 {
			if t.At(row, words[i]).Text != words[i+1] {
				return false
			}
		}
		return true
	})
	if err != nil {
		l.fail(err)
		return &table.Series{}
	}
	return s
}

// Columns prepares one series for each named column.
func (l *Library) Columns(file, key string, label func(column string) string, columns ...string) map[string]*table.Series {
	m := map[string]*table.Series{}
	for _, c := range columns {
		m[c] = l.Column(file, key, c, label(c))
	}
	return m
}

// TrayRows prepares the rows of a table of trays and ladders.
func (l *Library) TrayRows(into map[TrayKey]*table.Series, file string) {
	t := l.Table(file)
	for i := range t.Rows {
		trays := int(t.At(i, "trays").Value)
		k := TrayKey{t.At(i, "support").Text, t.At(i, "arrangement").Text, trays}
		if into[k] == nil {
			into[k] = l.Column(file, "circuits", "factor", "", "support", k.Support, "arrangement", k.Arrangement, "trays", t.At(i, "trays").Text)
		}
	}
}
