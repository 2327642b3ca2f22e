// Package cost counts what a design needs and works out what it costs: cables, lugs,
// glands, supports, labour, and what is lost over the years. It stands beside the engine:
// an assessed design -> quantities and money -> writers and the search for the best buy.
//
// What has no price keeps its quantity, and a sum says how many of its parts are missing.
package cost

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"trefoil/lint/assess"
	"trefoil/lint/design"
	"trefoil/ratings/economy"
	"trefoil/ratings/quantity"
)

// The day of the half-sine that is taken where the site says nothing of its output: 12 h
// long, its peak at 0.6 of rated output. That is a year of 1673 h at rated output, as a
// fixed array gives in a sunny place (common practice).
const (
	UsualDayH      = 12
	UsualPeakShare = 0.6
)

// Book holds the prices of a design, ready to be asked for many runs.
type Book struct {
	Currency string // "" where there is neither a price list nor an economy
	Lists    []*design.Price
	Factors  quantity.Maybe  // the loss factor, unknown where the profile is
	Output   economy.Factors // how the output goes over the year
	OutputBy string          // where that comes from
	Assumed  bool            // nobody stated it
	Economy  *design.Economy // nil where not stated
	PerKWh   quantity.Maybe  // value of energy
	PerW     quantity.Maybe  // present value of 1 W lost at rated output

	site    *design.Site
	lists   string // how a message names the lists
	named   map[string]*design.Cable
	cables  map[string]*tariff
	earths  map[string]*tariff
	lugs    map[string]*tariff
	tails   map[string]*tariff
	ends    map[string]*tariff
	layings map[string]*laying
	glands  tariff
	glandH  tariff
	heights tariff
	access  tariff
	rate    tariff
}

// laying is what one way of laying costs.
type laying struct {
	perM, hoursPerM, lid, lidH, duct, ductH, fixing, fixH, cableH tariff
}

// entry is one figure of a list.
type entry struct {
	value float64
	list  *design.Price
}

// tariff is a sheet, ready to be looked up: that of the design's own lists, then that of
// its library's.
type tariff [2]struct {
	size  map[quantity.Size]entry
	name  map[string]entry
	steps []step // by From
	every entry  // for every size, where its list is set
}

type step struct {
	from float64
	entry
}

func (t *tariff) add(p *design.Price, rows []design.Row) {
	level := &t[0]
	if p.At.File.Library {
		level = &t[1]
	}
	for i := range rows {
		r := &rows[i]
		e := entry{r.Value.Value, p}
		switch {
		case !r.Value.Known(): // told where it is written
		case r.Every:
			level.every = e
		case !r.Size.Zero():
			if level.size == nil {
				level.size = map[quantity.Size]entry{}
			}
			level.size[r.Size] = e
		default:
			if level.name == nil {
				level.name = map[string]entry{}
			}
			level.name[r.Name] = e
			level.steps = append(level.steps, step{r.From, e})
		}
	}
	slices.SortFunc(level.steps, func(a, b step) int { return cmp.Compare(a.from, b.from) })
}

// find looks in the design's own lists, then in those of its library.
func (t *tariff) find(in func(level int) (entry, bool)) (entry, bool) {
	if t == nil {
		return entry{}, false
	}
	for level := range t {
		if e, ok := in(level); ok {
			return e, true
		}
		if e := t[level].every; e.list != nil {
			return e, true
		}
	}
	return entry{}, false
}

// bySize gives the figure of a conductor size.
func (t *tariff) bySize(s quantity.Size) (entry, bool) {
	return t.find(func(level int) (entry, bool) { e, ok := t[level].size[s]; return e, ok })
}

// byName gives the figure of a name.
func (t *tariff) byName(n string) (entry, bool) {
	return t.find(func(level int) (entry, bool) { e, ok := t[level].name[n]; return e, ok })
}

// least gives the first row whose key is not below mm, and that key; 0 where one figure is
// for all.
func (t *tariff) least(mm quantity.Maybe) (from float64, e entry, ok bool) {
	e, ok = t.find(func(level int) (entry, bool) {
		for _, s := range t[level].steps {
			if mm.Known && quantity.AtMost(mm.Value, s.from) {
				from = s.from
				return s.entry, true
			}
		}
		return entry{}, false
	})
	return from, e, ok
}

// last gives the last row whose key is not above x.
func (t *tariff) last(x float64) (entry, bool) {
	return t.find(func(level int) (e entry, ok bool) {
		for _, s := range t[level].steps {
			if quantity.AtMost(s.from, x) {
				e, ok = s.entry, true
			}
		}
		return e, ok
	})
}

// stepped says that some list has it by width, bore or diameter.
func (t *tariff) stepped() bool { return len(t[0].steps)+len(t[1].steps) > 0 }

// empty says that no list has any row of it.
func (t *tariff) empty() bool {
	for i := range t {
		if l := &t[i]; len(l.size)+len(l.name) > 0 || l.every.list != nil {
			return false
		}
	}
	return true
}

// NewBook reads the price lists and the economy of a design.
func NewBook(d *design.Design) *Book {
	b := &Book{
		Lists: d.Prices, site: d.Site(), lists: "the design has no price list",
		named: map[string]*design.Cable{}, cables: map[string]*tariff{}, earths: map[string]*tariff{}, lugs: map[string]*tariff{},
		tails: map[string]*tariff{}, ends: map[string]*tariff{}, layings: map[string]*laying{},
	}
	for _, c := range d.Cables {
		b.named[c.Name] = c
	}
	var names []string
	for _, p := range d.Prices {
		names = append(names, p.Subject())
		if b.Currency == "" && p.Currency.Known() {
			b.Currency = p.Currency.Value
		}
		b.read(p)
	}
	if len(names) > 0 {
		b.lists = "in " + strings.Join(names, " or ")
	}
	b.output(d)
	return b
}

func (b *Book) read(p *design.Price) {
	things := func(in map[string]*tariff, list []design.Priced, sheet func(*design.Priced) *design.Sheet) {
		for i := range list {
			t := in[list[i].Name]
			if t == nil {
				t = &tariff{}
				in[list[i].Name] = t
			}
			t.add(p, sheet(&list[i]).Rows)
		}
	}
	price := func(o *design.Priced) *design.Sheet { return &o.Price }
	things(b.cables, p.Cables, price)
	things(b.earths, p.Earths, price)
	things(b.lugs, p.Lugs, price)
	things(b.tails, p.Tails, price)
	things(b.ends, p.Terminations, func(o *design.Priced) *design.Sheet { return &o.Hours })
	if g := p.Gland; g != nil {
		b.glands.add(p, g.Price.Rows)
		b.glandH.add(p, g.Hours.Rows)
	}
	one := func(n design.Num) []design.Row { return []design.Row{{Every: true, Value: n}} }
	for i := range p.Layings {
		from := &p.Layings[i]
		l := b.layings[from.Laid]
		if l == nil {
			l = &laying{}
			b.layings[from.Laid] = l
		}
		l.perM.add(p, from.PerM.Rows)
		l.hoursPerM.add(p, from.HoursPerM.Rows)
		l.lid.add(p, from.LidPerM.Rows)
		l.lidH.add(p, from.LidHours.Rows)
		l.duct.add(p, from.DuctPerM.Rows)
		l.ductH.add(p, from.DuctHours.Rows)
		l.fixing.add(p, one(from.FixingEach))
		l.fixH.add(p, one(from.FixHours))
		l.cableH.add(p, from.CableHours.Rows)
	}
	b.heights.add(p, p.HeightFactors.Rows)
	b.access.add(p, p.AccessFactors.Rows)
	b.rate.add(p, one(p.LabourPerH))
}

// output finds how the output goes over the year, and what a loss is worth.
func (b *Book) output(d *design.Design) {
	var e *design.Economy
	if b.site != nil {
		e = b.site.Economy
	}
	b.Economy = e
	switch {
	case e != nil && d.Profile != nil:
		f, err := economy.FactorsOf(d.Profile.Shares)
		if err != nil { // the profile was read with the same bounds
			b.OutputBy = err.Error()
			return
		}
		b.Output, b.OutputBy = f, fmt.Sprintf("load_profile %s, %d hours", e.LoadProfile.Value, len(d.Profile.Shares))
	case e != nil && e.LoadProfile.Origin != design.Absent:
		b.OutputBy = "load_profile could not be read"
		return
	case e != nil && (e.CapacityFactor.Origin != design.Absent || e.LossFactor.Origin != design.Absent):
		if !e.CapacityFactor.Known() || !e.LossFactor.Known() {
			b.OutputBy = "capacity_factor and loss_factor are not both known"
			return
		}
		b.Output, b.OutputBy = economy.Factors{Capacity: e.CapacityFactor.Value, Loss: e.LossFactor.Value}, fmt.Sprintf("capacity factor %g, loss factor %g (%s)", e.CapacityFactor.Value, e.LossFactor.Value, e.FactorsOrigin.Value)
	case e != nil && e.PeakShare.Known():
		b.Output = economy.HalfSine(UsualDayH, e.PeakShare.Value)
		b.OutputBy = fmt.Sprintf("a half-sine of %d h a day with its peak at %g of rated output, as stated", UsualDayH, e.PeakShare.Value)
	default:
		b.Output, b.Assumed = economy.HalfSine(UsualDayH, UsualPeakShare), true
		b.OutputBy = fmt.Sprintf("assumed: a half-sine of %d h a day with its peak at %g of rated output, %.0f h a year at rated output", UsualDayH, UsualPeakShare, b.Output.Capacity*economy.YearHours)
	}
	b.Factors = quantity.Of(b.Output.Loss)
	if e == nil {
		return
	}
	b.Currency = cmp.Or(b.Currency, e.Currency.Value)
	b.PerKWh = e.EnergyPerKWh.Maybe()
	if !b.PerKWh.Known || !e.Years.Known() || !e.DiscountPercent.Known() || e.LoadGrowthPercent.Origin == design.Faulty || e.EnergyGrowthPercent.Origin == design.Faulty {
		return
	}
	w := economy.Worth{
		EnergyPerKWh: e.EnergyPerKWh.Value, Years: int(e.Years.Value), DiscountPct: e.DiscountPercent.Value,
		LoadGrowthPct: e.LoadGrowthPercent.Value, EnergyGrowthPct: e.EnergyGrowthPercent.Value,
	}
	b.PerW = quantity.Of(w.PerW(b.Output.Loss * economy.YearHours))
}

// cable gives the price of a cable type by size. A type that is tried out counts as the
// one of the design that it is like in everything.
func (b *Book) cable(c *design.Cable) (name string, t *tariff) {
	own := b.named[c.Name]
	if own != c && (own == nil || !alike(own, c)) {
		own = nil
		for _, o := range b.named {
			if alike(o, c) && (own == nil || o.Name < own.Name) {
				own = o
			}
		}
	}
	if own == nil {
		return strings.Join(slices.DeleteFunc([]string{c.Conductor.Value, c.Strands.Value, c.Insulation.Value, c.Build.Value, c.Cores.Value}, func(s string) bool { return s == "" }), " "), nil
	}
	if t = b.cables[own.Name]; t == nil && own.CopyOf != "" {
		t = b.cables[own.CopyOf]
	}
	return own.Name, t
}

// alike says that two cable types are the same thing to buy.
func alike(a, b *design.Cable) bool {
	return a.Conductor.Value == b.Conductor.Value && a.Strands.Value == b.Strands.Value && a.Insulation.Value == b.Insulation.Value &&
		a.Build.Value == b.Build.Value && a.Layout == b.Layout && a.Armour.Value == b.Armour.Value
}

// factor is what height and access make of the labour along a route. Of a route that does
// not state its height nothing is added.
func (b *Book) factor(r *design.Route) (float64, string) {
	f := 1.0
	switch r.WorkHeightM.Origin {
	case design.Stated:
		if e, ok := b.heights.last(r.WorkHeightM.Value); ok {
			f = e.value
		}
	case design.Faulty:
		return math.NaN(), fmt.Sprintf("work_height_m of route %q is not known", r.Name)
	}
	switch r.Access.Origin {
	case design.Stated:
		e, ok := b.access.byName(r.Access.Value)
		if !ok {
			return math.NaN(), fmt.Sprintf("no access factor %q %s", r.Access.Value, b.lists)
		}
		f *= e.value
	case design.Faulty:
		return math.NaN(), fmt.Sprintf("access of route %q is not known", r.Name)
	}
	return f, ""
}

// LossW is what a run loses at the current that the rise is reckoned at, all legs and
// conductors, W: the resistances at the limit of the insulation, so that it is on the
// high side. Unknown where current or resistance is.
func LossW(a *assess.Run) quantity.Maybe {
	s := a.Segment
	if !s.DesignCurrentA().Known || !a.Impedance.Known {
		return quantity.Maybe{}
	}
	square := func(c complex128) float64 { return real(c)*real(c) + imag(c)*imag(c) }
	r := real(a.Impedance.Ohm)
	rn := r
	if a.Impedance.HasNeutral {
		rn = real(a.Impedance.NeutralOhm)
	}
	return quantity.Of((square(s.RiseA[0])+square(s.RiseA[1])+square(s.RiseA[2]))*r + square(s.NeutralA())*rn)
}
