package cost

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"trefoil/lint/assess"
	"trefoil/lint/design"
	"trefoil/ratings/quantity"
)

// Route is what one route needs and costs: its supports, lids, ducts and fixings.
type Route struct {
	Route   *design.Route
	LengthM quantity.Maybe
	Assumed bool // the length is that of its longest run
	Items   []Item
	Totals
	Lacks []string
}

// Bill is what a whole design needs and costs.
type Bill struct {
	Book   *Book
	Runs   []Run
	Routes []Route
	Items  []Item // of all of them, like with like
	Totals
	CableKg Sum
	Lacks   []string // each once
	Notes   []string // how it is counted, and what is assumed
}

// bare says that a way of laying has a support of its own only where a list prices one.
func bare(laid string) bool { return laid == "clipped" || laid == "standoff" || laid == "free-air" }

// Route counts one route and prices it. What is there already costs nothing.
func (b *Book) Route(v *assess.Review, shared *assess.Shared) Route {
	route := shared.Route
	r := Route{Route: route}
	r.LengthM, r.Assumed = v.RouteLengthM(shared)
	if route.Existing.Value || !route.Laid.Known() {
		if !route.Laid.Known() || route.Existing.Origin == design.Faulty {
			r.lack(fmt.Sprintf("how route %q is laid is not known", route.Name))
			r.Material.Lacks++
			r.Labour.Lacks++
			r.Hours.Lacks++
		}
		return r
	}
	l := b.layings[route.Laid.Value]
	if l == nil {
		l = &laying{}
	}
	factor, why := b.factor(route)
	add := func(kind, labour Kind, mm, count quantity.Maybe, price, hours *tariff, gap string) {
		item := Item{Kind: kind, Name: route.Laid.Value, MM: mm.Value, Quantity: count}
		if !count.Known {
			item.Lack = gap
		}
		_, e, ok := price.least(mm)
		item = item.priced(e, ok, b.noPrice(&item))
		if count.Known && !ok && !mm.Known && price.stepped() {
			item.Lack, item.Unpriced = fmt.Sprintf("route %q states no width or bore to price its %s by", route.Name, kind.What()), false
		}
		_, h, ok := hours.least(mm)
		work := b.work(Item{Kind: labour, Name: route.Laid.Value, MM: mm.Value}, count, h, ok, factor, cmp.Or(gap, why))
		if count.Known && !ok && !mm.Known && hours.stepped() {
			work.Lack, work.Unpriced = fmt.Sprintf("route %q states no width or bore to find the hours of its %s by", route.Name, kind.What()), false
		}
		r.Items = put(put(r.Items, item), work)
	}
	gap := ""
	metres := r.LengthM
	if metres.Known {
		metres.Value *= max(1, route.Tiers.Value)
	} else {
		gap = fmt.Sprintf("the length of route %q is not known", route.Name)
	}
	width := route.WidthMM.Maybe()
	if assess.Encloses(route) && route.Laid.Value != "trunking" {
		width = route.DuctInsideMM.Maybe()
	}
	trench := route.Laid.Value == "buried" || route.Laid.Value == "buried-duct"
	support := width
	if trench {
		support = quantity.Maybe{}
	}
	if !bare(route.Laid.Value) || !l.perM.empty() || !l.hoursPerM.empty() {
		add(Support, BuildSupport, support, metres, &l.perM, &l.hoursPerM, gap)
	}
	if route.Lid.Value && assess.Open(route) {
		add(Lid, LayLid, support, metres, &l.lid, &l.lidH, gap)
	}
	if route.Laid.Value == "buried-duct" {
		ducts := r.LengthM
		ducts.Value *= float64(v.DuctsOf(shared))
		add(Duct, LayDuct, width, ducts, &l.duct, &l.ductH, gap)
	}
	priced := !l.fixing.empty() || !l.fixH.empty()
	switch {
	case trench || !priced && !route.SpanM.Known() && (!bare(route.Laid.Value) || route.Laid.Value == "free-air"):
	case !route.SpanM.Known():
		add(Fixing, Fix, quantity.Maybe{}, quantity.Maybe{}, &l.fixing, &l.fixH, fmt.Sprintf("route %q does not state span_m, so that its fixings are not counted", route.Name))
	default:
		count := r.LengthM
		count.Value = (math.Ceil(count.Value/route.SpanM.Value*(1-1e-9)) + 1) * max(1, route.Tiers.Value)
		add(Fixing, Fix, quantity.Maybe{}, count, &l.fixing, &l.fixH, gap)
	}
	for i := range r.Items {
		it := &r.Items[i]
		if it.Lack != "" {
			r.lack(it.Lack)
		}
		r.Totals.item(it)
	}
	return r
}

func (r *Route) lack(why string) {
	if !slices.Contains(r.Lacks, why) {
		r.Lacks = append(r.Lacks, why)
	}
}

// Of counts a whole design and prices it.
func Of(v *assess.Review) *Bill {
	b := &Bill{Book: NewBook(v.Design)}
	assumedLugs, assumedLengths := false, false
	type key struct {
		kind Kind
		name string
		size quantity.Size
		mm   float64
		list *design.Price
		lack string
	}
	at := map[key]int{}
	told := map[string]bool{}
	take := func(items []Item, lacks []string, t *Totals) {
		for _, i := range items {
			if i.Kind.Labour() && len(b.Book.Lists) == 0 {
				continue // its hours stand in price lists, and there is none
			}
			k := key{i.Kind, i.Name, i.Size, i.MM, i.List, i.Lack}
			n, has := at[k]
			if !has {
				at[k] = len(b.Items)
				b.Items = append(b.Items, i)
				continue
			}
			b.Items[n].Quantity.Value += i.Quantity.Value
			b.Items[n].Cost.Value += i.Cost.Value
		}
		for _, l := range lacks {
			if !told[l] {
				told[l] = true
				b.Lacks = append(b.Lacks, l)
			}
		}
		b.Totals.merge(t)
	}
	for i := range v.Runs {
		r := b.Book.Run(v, &v.Runs[i])
		r.BestMM2, _ = b.Book.EconomicMM2(v, &v.Runs[i])
		take(r.Items, r.Lacks, &r.Totals)
		b.CableKg.merge(r.CableKg)
		assumedLugs = assumedLugs || r.Assumed
		b.Runs = append(b.Runs, r)
	}
	for _, route := range v.Design.Routes {
		shared := v.Shared[route]
		if shared == nil {
			continue // nothing lies in it, which is told elsewhere
		}
		r := b.Book.Route(v, shared)
		take(r.Items, r.Lacks, &r.Totals)
		assumedLengths = assumedLengths || r.Assumed && len(r.Items) > 0
		b.Routes = append(b.Routes, r)
	}
	slices.SortStableFunc(b.Items, func(x, y Item) int {
		return cmp.Or(cmp.Compare(x.Kind, y.Kind), cmp.Compare(x.Name, y.Name), cmp.Compare(x.Size.MM2, y.Size.MM2), cmp.Compare(x.MM, y.MM))
	})
	b.notes(assumedLugs, assumedLengths)
	return b
}

// notes say how it is counted.
func (b *Bill) notes(lugs, lengths bool) {
	k := b.Book
	b.Notes = append(b.Notes,
		"lengths are as drawn: nothing is added for waste, drums and tails at the ends",
		"every core is connected at both ends, and every sheathed cable has a gland at both",
		"devices, boards and what circuits of other projects need are not counted")
	if lugs {
		b.Notes = append(b.Notes, "where ends do not state a lug, copper has copper lugs and aluminium bimetal ones")
	}
	if lengths {
		b.Notes = append(b.Notes, "a route that does not state length_m is as long as the longest run lies in it")
	}
	if !k.heights.empty() {
		b.Notes = append(b.Notes, "a route that does not state work_height_m is worked on from the floor")
	}
	b.Notes = append(b.Notes,
		"output: "+k.OutputBy,
		"losses are those of the sources at the current of the voltage rise, resistances at the limit of the insulation, every source and battery by the one profile; loads are not counted")
	if e := k.Economy; e != nil && k.PerW.Known {
		b.Notes = append(b.Notes, fmt.Sprintf("energy at %g %s/kWh (%s), %g years at %s", e.EnergyPerKWh.Value, e.Currency.Value, e.EnergyOrigin.Value, e.Years.Value, quantity.Percent.Print(e.DiscountPercent.Value)))
	}
}
