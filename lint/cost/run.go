package cost

import (
	"cmp"
	"fmt"
	"math"

	"trefoil/lint/assess"
	"trefoil/lint/design"
	"trefoil/ratings/conductor"
	"trefoil/ratings/quantity"
)

// Kind is a kind of item.
type Kind uint8

// Material first, then labour.
const (
	Cable Kind = iota
	Earth
	Lug
	Tail
	Gland
	Support // the tray, conduit or trench itself
	Lid
	Duct
	Fixing
	LayCable
	Terminate
	FitGland
	BuildSupport
	LayLid
	LayDuct
	Fix
)

// Labour says that the item is counted in hours.
func (k Kind) Labour() bool { return k >= LayCable }

// What names a kind.
func (k Kind) What() string {
	return [...]string{
		"cable", "earth conductor", "lug", "tail", "gland", "support", "lid", "duct", "fixing",
		"laying of cable", "termination", "fitting of glands", "work on supports", "work on lids", "laying of ducts", "work on fixings",
	}[k]
}

// Unit is what the quantity is counted in.
func (k Kind) Unit() string {
	switch {
	case k.Labour():
		return "h"
	case k == Lug || k == Tail || k == Gland || k == Fixing:
		return "each"
	}
	return "m"
}

// Item is one line of a bill: a quantity, and its cost where it has a price.
type Item struct {
	Kind     Kind
	Name     string        // cable type, metal, kind of lug, way of laying
	Size     quantity.Size // of a conductor; zero where it has none
	MM       float64       // width, bore or diameter, 0 where it has none
	Quantity quantity.Maybe
	Price    quantity.Maybe // of one unit
	Cost     quantity.Maybe
	List     *design.Price // where the price stands; nil where there is none
	Lack     string        // why there is no quantity or no price
	Unpriced bool          // no list says what it costs, or how long it takes
}

// SizeText is the size as it is read: "35 mm2", "300 mm", "" where there is none.
func (i *Item) SizeText() string {
	switch {
	case !i.Size.Zero():
		return i.Size.String()
	case i.MM > 0:
		return quantity.Milli.Print(i.MM)
	}
	return ""
}

// Sum is a sum, and how many of its parts are not known.
type Sum struct {
	Value float64
	Lacks int
}

// Maybe is the sum, unknown where a part is.
func (s Sum) Maybe() quantity.Maybe { return quantity.Maybe{Value: s.Value, Known: s.Lacks == 0} }

func (s *Sum) add(m quantity.Maybe) {
	if !m.Known {
		s.Lacks++
		return
	}
	s.Value += m.Value
}

func (s *Sum) merge(o Sum) { s.Value, s.Lacks = s.Value+o.Value, s.Lacks+o.Lacks }

// Totals is what items and losses come to.
type Totals struct {
	Material, Labour, Hours Sum
	CopperKg, AluminiumKg   Sum // of conductors, by nominal area
	LossKWh, LossCost       Sum // of the first year
	LossWorth               Sum // present value of all years
}

// First is what is paid to have it: material and labour.
func (t *Totals) First() Sum { s := t.Material; s.merge(t.Labour); return s }

// Total is First and the present value of the losses.
func (t *Totals) Total() Sum { s := t.First(); s.merge(t.LossWorth); return s }

func (t *Totals) merge(o *Totals) {
	t.Material.merge(o.Material)
	t.Labour.merge(o.Labour)
	t.Hours.merge(o.Hours)
	t.CopperKg.merge(o.CopperKg)
	t.AluminiumKg.merge(o.AluminiumKg)
	t.LossKWh.merge(o.LossKWh)
	t.LossCost.merge(o.LossCost)
	t.LossWorth.merge(o.LossWorth)
}

// Run is what one run needs and costs, without the supports of its routes.
type Run struct {
	Run   *design.Run
	Items []Item
	Totals
	CableM  Sum // of cables and single cores, the earth conductor by itself included
	CableKg Sum
	LossW   quantity.Maybe // at rated output
	BestMM2 quantity.Maybe // EconomicMM2; of a whole bill only
	Lacks   []string       // what is not counted or has no price, each once
	Assumed bool           // kinds of lugs are taken by the metal of the conductor
}

func (r *Run) lack(why string) {
	for _, l := range r.Lacks {
		if l == why {
			return
		}
	}
	r.Lacks = append(r.Lacks, why)
}

// put adds to an item, or begins it.
func put(items []Item, i Item) []Item {
	for k := range items {
		if o := &items[k]; o.Kind == i.Kind && o.Name == i.Name && o.Size == i.Size && o.MM == i.MM && o.List == i.List && o.Lack == i.Lack {
			o.Quantity.Value += i.Quantity.Value
			o.Cost.Value += i.Cost.Value
			return items
		}
	}
	return append(items, i)
}

// priced completes an item by its price; lack says that there is none.
func (i Item) priced(e entry, ok bool, lack func() string) Item {
	switch {
	case !i.Quantity.Known:
	case !ok:
		i.Lack, i.Unpriced = lack(), true
	default:
		i.List, i.Price = e.list, quantity.Of(e.value)
		i.Cost = quantity.Of(e.value * i.Quantity.Value)
	}
	return i
}

// noPrice says what has none.
func (b *Book) noPrice(i *Item) func() string {
	return func() string {
		if len(b.Lists) == 0 {
			return b.lists
		}
		return fmt.Sprintf("no price for %s %s", i.text(), b.lists)
	}
}

// text names an item: "cable.al-4c 95 mm2", "copper lug 16 mm2".
func (i *Item) text() string {
	name := i.Kind.What()
	switch {
	case i.Kind == Cable:
		name = "cable." + i.Name
	case i.Name != "":
		name = i.Name + " " + name
	}
	if s := i.SizeText(); s != "" {
		name += " " + s
	}
	return name
}

// work is an item of labour: so many pieces or metres, of so many hours each.
func (b *Book) work(i Item, count quantity.Maybe, each entry, ok bool, factor float64, why string) Item {
	switch {
	case !count.Known: // the quantity is told where it is counted
		i.Lack = why
		return i
	case !ok && len(b.Lists) == 0:
		i.Lack, i.Unpriced = b.lists, true
		return i
	case !ok:
		i.Lack, i.Unpriced = fmt.Sprintf("no hours for %s %s", i.text(), b.lists), true
		return i
	case math.IsNaN(factor):
		i.Lack, i.Unpriced = why, true
		return i
	}
	i.Quantity = quantity.Of(count.Value * each.value * factor)
	e, ok := b.rate.bySize(quantity.Size{})
	return i.priced(e, ok, func() string { return "no labour_per_h " + b.lists })
}

// Run counts one run as it is assessed, and prices it. It makes no maps, so that many
// variants of a run can be asked for.
func (b *Book) Run(v *assess.Review, a *assess.Run) Run {
	r := Run{Run: a.Run, Items: make([]Item, 0, 16)}
	if !a.Usable() {
		r.uncounted(fmt.Sprintf("the cable or the size of run %q is not known", a.Run.Name))
		return r
	}
	lie := bodies{v: v, a: a}
	b.along(&r, &lie)
	b.atEnds(&r, &lie)
	for i := range r.Items {
		it := &r.Items[i]
		if it.Lack != "" {
			r.lack(it.Lack)
		}
		r.Totals.item(it)
	}
	b.lost(&r, a)
	return r
}

// bodies are the cables of a run in one size, kept while the size stays.
type bodies struct {
	v    *assess.Review
	a    *assess.Run
	of   quantity.Size
	list []assess.Piece
}

func (b *bodies) in(size quantity.Size) []assess.Piece {
	if b.list == nil || size != b.of {
		b.of, b.list = size, b.v.Bodies(b.a, size)
	}
	return b.list
}

// uncounted is a run of which nothing is known.
func (r *Run) uncounted(why string) {
	r.lack(why)
	for _, s := range []*Sum{&r.Material, &r.Labour, &r.Hours, &r.CopperKg, &r.AluminiumKg, &r.LossKWh, &r.LossCost, &r.LossWorth, &r.CableM, &r.CableKg} {
		s.Lacks++
	}
}

// item adds an item to what it belongs to.
func (t *Totals) item(i *Item) {
	if i.Kind.Labour() {
		t.Labour.add(i.Cost)
		t.Hours.add(i.Quantity)
		return
	}
	t.Material.add(i.Cost)
}

// lost works out what a run loses, and what that is worth.
func (b *Book) lost(r *Run, a *assess.Run) {
	r.LossW = LossW(a)
	var kwh, cost, worth quantity.Maybe
	switch {
	case !r.LossW.Known:
		r.lack(fmt.Sprintf("the loss of run %q is not known: its current or its resistance is not", a.Run.Name))
	case !b.Factors.Known:
		r.lack("losses are not worked out: " + b.OutputBy)
	default:
		kwh = quantity.Of(b.Output.LossKWh(r.LossW.Value))
		if b.PerKWh.Known {
			cost = quantity.Of(kwh.Value * b.PerKWh.Value)
		}
		if b.PerW.Known {
			worth = quantity.Of(r.LossW.Value * b.PerW.Value)
		}
		if !b.PerW.Known {
			r.lack("losses have no value: the site has no economy block, or it does not say enough")
		}
	}
	r.LossKWh.add(kwh)
	r.LossCost.add(cost)
	r.LossWorth.add(worth)
}

// along counts cables, metal and the labour of laying, section by section.
func (b *Book) along(r *Run, lie *bodies) {
	a := lie.a
	legs := 1.0 // what legs of stated lengths have of the length drawn, on average
	if list := a.Run.LegLengthsM; list.Known() && a.LengthM.Known && len(list.Values) == a.Legs {
		sum := 0.0
		for _, l := range list.Values {
			sum += l
		}
		legs = sum / (float64(a.Legs) * a.LengthM.Value)
	}
	name, price := b.cable(a.Cable)
	for k := range a.Sections {
		s := &a.Sections[k]
		list := lie.in(a.Size(s.Section))
		for i := range list {
			b.body(r, a, s, &list[i], name, price, legs)
		}
	}
}

// body counts one kind of cable of a section.
func (b *Book) body(r *Run, a *assess.Run, s *assess.Section, p *assess.Piece, name string, price *tariff, legs float64) {
	if p.Count == 0 {
		why := "what lies beside the cable is not known"
		if p.Gap != nil && p.Gap.Reason != "" {
			why = fmt.Sprintf("run %q: %s", a.Run.Name, p.Gap.Reason)
		}
		kind, metal := Cable, a.Cable.Conductor.Value
		if p.Earth {
			kind = Earth
			if m := a.Run.EarthConductor; m.Known() {
				metal = m.Value
			}
			name = metal
		}
		r.Items = put(r.Items, Item{Kind: kind, Name: name, Lack: why})
		for _, s := range []*Sum{&r.CableM, &r.CableKg, r.metal(metal), &r.Labour, &r.Hours} {
			s.Lacks++
		}
		return
	}
	item := Item{Kind: Cable, Name: name, Size: p.Size}
	if p.Earth {
		legs, item.Kind, item.Name = 1, Earth, p.Metal
		price = b.earths[p.Metal]
	}
	if l := s.Section.LengthM; l.Known() {
		item.Quantity = quantity.Of(l.Value * legs * float64(p.Count))
	} else {
		item.Lack = fmt.Sprintf("the length of a section of run %q is not known", a.Run.Name)
	}
	m := item.Quantity
	r.CableM.add(m)
	e, ok := price.bySize(p.Size)
	r.Items = put(r.Items, item.priced(e, ok, b.noPrice(&item)))
	switch {
	case !m.Known, !p.KgM.Known:
		r.CableKg.Lacks++
	default:
		r.CableKg.Value += m.Value * p.KgM.Value
	}
	b.metal(r, a, p, m)
	if s.Route == nil || !s.Route.Laid.Known() {
		r.lack(fmt.Sprintf("how a section of run %q is laid is not known", a.Run.Name))
		r.Labour.Lacks++
		r.Hours.Lacks++
		return
	}
	work := Item{Kind: LayCable, Name: s.Route.Laid.Value, Size: p.Size}
	var hours entry
	if l := b.layings[work.Name]; l != nil {
		hours, ok = l.cableH.bySize(p.Size)
	} else {
		ok = false
	}
	factor, why := b.factor(s.Route)
	r.Items = put(r.Items, b.work(work, m, hours, ok, factor, cmp.Or(why, item.Lack)))
}

// metal is the mass that a metal adds to.
func (r *Run) metal(name string) *Sum {
	if name == "aluminium" {
		return &r.AluminiumKg
	}
	return &r.CopperKg
}

// metal adds the mass of the conductors of one kind of cable.
func (b *Book) metal(r *Run, a *assess.Run, p *assess.Piece, m quantity.Maybe) {
	if !m.Known {
		r.CopperKg.Lacks++
		r.AluminiumKg.Lacks++
		return
	}
	for _, c := range cores(a, p) {
		if c.count == 0 {
			continue
		}
		kg, ok := conductor.MetalKgM(c.metal, c.size.MM2)
		sum := r.metal(c.metal)
		if !ok {
			sum.Lacks++
			continue
		}
		sum.Value += kg * float64(c.count) * m.Value
	}
}

// core is the conductors of one kind in a cable.
type core struct {
	count int
	size  quantity.Size
	metal string
	earth bool
}

// cores lists the conductors of one cable: of a multicore its phases, a neutral of
// another size, and its earth cores, which are of the size of the others where the run
// does not state another.
func cores(a *assess.Run, p *assess.Piece) [3]core {
	if p.Earth || a.Cable.Build.Value == "single-core" {
		return [3]core{{1, p.Size, p.Metal, p.Earth}}
	}
	live, earth := a.Cable.Layout.Live, a.Cable.Layout.Earth
	list := [3]core{{live, p.Size, p.Metal, false}}
	if n := a.Run.NeutralMM2; n.Known() && n.Value > 0 && !a.PhaseSized(n.Value) && live > 1 {
		list[0].count--
		list[1] = core{1, quantity.MM2(n.Value), p.Metal, false}
	}
	if earth > 0 {
		list[2] = core{earth, p.Size, p.Metal, true}
		if e := a.Run.EarthMM2; e.Known() && e.Value > 0 && a.Run.EarthBy.Value != "separate" {
			list[2].size = quantity.MM2(e.Value)
			if e.Value == p.Size.MM2 {
				list[2].size = p.Size
			}
			if metal := a.Run.EarthConductor; metal.Known() {
				list[2].metal = metal.Value
			}
		}
	}
	return list
}

// usualLug is the kind of lug that is taken where none is stated.
func usualLug(metal string) string {
	if metal == "aluminium" {
		return "bimetal"
	}
	return metal
}

// atEnds counts lugs, tails and glands, and the labour there.
func (b *Book) atEnds(r *Run, lie *bodies) {
	a := lie.a
	n := len(a.Sections)
	if n == 0 {
		r.lack(fmt.Sprintf("run %q has no section", a.Run.Name))
		r.Material.Lacks++
		return
	}
	for i, at := range []design.Link{a.Run.From, a.Run.To} {
		section := a.Sections[0].Section
		if i == 1 {
			section = a.Sections[n-1].Section
		}
		var end *design.End
		for k := range a.Run.Ends {
			if e := &a.Run.Ends[k]; e.Where.Origin == design.Stated && e.Where.Subject() == at.Subject() {
				end = e
			}
		}
		list := lie.in(a.Size(section))
		for k := range list {
			p := &list[k]
			if p.Count == 0 {
				continue // told along the run
			}
			for _, c := range cores(a, p) {
				b.connect(r, a, end, c, p.Count)
			}
			if !p.Earth {
				b.gland(r, p)
			}
		}
	}
}

// connect counts what it takes to connect some conductors at one end.
func (b *Book) connect(r *Run, a *assess.Run, end *design.End, c core, cables int) {
	if c.count == 0 {
		return
	}
	count := quantity.Of(float64(c.count * cables))
	kind, tail := "", ""
	if end != nil && c.metal == a.Cable.Conductor.Value {
		kind, tail = end.Lug.Value, end.Tail.Value
	}
	if kind == "" {
		kind, r.Assumed = usualLug(c.metal), true
	}
	joints := count
	if tail != "" && tail != "none" {
		joints.Value *= 2
		item := Item{Kind: Tail, Name: tail, Size: c.size, Quantity: count}
		e, ok := b.tails[tail].bySize(c.size)
		r.Items = put(r.Items, item.priced(e, ok, b.noPrice(&item)))
	}
	if kind != "none" {
		item := Item{Kind: Lug, Name: kind, Size: c.size, Quantity: count}
		e, ok := b.lugs[kind].bySize(c.size)
		r.Items = put(r.Items, item.priced(e, ok, b.noPrice(&item)))
	}
	hours, ok := b.ends[c.metal].bySize(c.size)
	r.Items = put(r.Items, b.work(Item{Kind: Terminate, Name: c.metal, Size: c.size}, joints, hours, ok, 1, ""))
}

// gland counts the glands of some cables at one end.
func (b *Book) gland(r *Run, p *assess.Piece) {
	item := Item{Kind: Gland, Quantity: quantity.Of(float64(p.Count))}
	if !p.OuterMM.Known {
		item.Lack = "the diameter of a cable of " + p.Size.String() + " is not known, so that its gland has no size"
		work := Item{Kind: FitGland, Lack: item.Lack}
		r.Items = put(put(r.Items, item), work)
		return
	}
	from, e, ok := b.glands.least(p.OuterMM)
	item.MM = p.OuterMM.Value
	if ok {
		item.MM = from
	}
	r.Items = put(r.Items, item.priced(e, ok, b.noPrice(&item)))
	_, hours, ok := b.glandH.least(p.OuterMM)
	r.Items = put(r.Items, b.work(Item{Kind: FitGland}, item.Quantity, hours, ok, 1, ""))
}
