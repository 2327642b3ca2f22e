package design

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"trefoil/lint/source"
)

// Fact is an attribute that a block states, or that the language fills in.
type Fact struct {
	Name   string
	Value  string       // as HCL writes it, constants and expressions worked out; "" where it is not usable
	At     source.Range // where it is written
	Origin Origin
	Links  []Link // what it names, of a reference
	List   bool   // it is a list of references
}

// Part is a block or a block inside of it, with what it states.
type Part struct {
	Kind  string // "" of the block itself, else section, device terminals
	Key   string // what tells it from others of its kind: the route of a section
	At    source.Range
	Facts []Fact // in order of name
}

// Each calls do for every block of the design but let, kind after kind in text order. The
// block is a *Run, *Route and so on.
func (d *Design) Each(do func(o *Object, block any)) {
	each(d.Sites, func(o *Site) { do(&o.Object, o) })
	each(d.Supplies, func(o *Supply) { do(&o.Object, o) })
	each(d.Cables, func(o *Cable) { do(&o.Object, o) })
	each(d.Routes, func(o *Route) { do(&o.Object, o) })
	each(d.Boards, func(o *Board) { do(&o.Object, o) })
	each(d.Sources, func(o *Source) { do(&o.Object, o) })
	each(d.Loads, func(o *Load) { do(&o.Object, o) })
	each(d.Runs, func(o *Run) { do(&o.Object, o) })
	each(d.Prices, func(o *Price) { do(&o.Object, o) })
	each(d.Approvals, func(o *Approved) { do(&o.Object, o) })
	each(d.House, func(o *HouseRule) { do(&o.Object, o) })
	each(d.Waivers, func(o *Waiver) { do(&o.Object, o) })
}

func each[T any](list []T, do func(T)) {
	for _, o := range list {
		do(o)
	}
}

// Parts lists what a block states: the block itself first, then the blocks inside of it.
func Parts(block any) []Part {
	var p parts
	switch o := block.(type) {
	case *Site:
		part(&p, "", "", o.At, siteSchema, o)
		for i := range o.Limits {
			part(&p, "limit", o.Limits[i].Class, o.Limits[i].At, limitSchema, &o.Limits[i])
		}
		for _, t := range o.Thresholds {
			part(&p, "threshold", t.Name, t.At, thresholdSchema, t)
		}
		if e := o.Economy; e != nil {
			part(&p, "economy", "", e.At, economySchema, e)
		}
	case *Supply:
		part(&p, "", "", o.At, supplySchema, o)
		if t := o.Transformer; t != nil {
			part(&p, "transformer", "", t.At, transformerSchema, t)
		}
	case *Source:
		part(&p, "", "", o.At, sourceSchema, o)
		p.terminals("terminals", "", o.Terminals)
		p.isolates("isolator", o.Isolator)
	case *Board:
		part(&p, "", "", o.At, boardSchema, o)
		p.terminals("terminals", "", o.Terminals)
		p.isolates("main_switch", o.MainSwitch)
		for _, x := range o.Portions {
			part(&p, "portion", x.Name, x.At, portionSchema, x)
		}
	case *Load:
		part(&p, "", "", o.At, loadSchema, o)
	case *Route:
		part(&p, "", "", o.At, routeSchema, o)
	case *Cable:
		part(&p, "", "", o.At, cableSchema, o)
		for i := range o.Data {
			part(&p, "data", o.Data[i].Size.String(), o.Data[i].At, dataSchema, &o.Data[i])
		}
	case *Run:
		part(&p, "", "", o.At, runSchema, o)
		for i := range o.Devices {
			x := &o.Devices[i]
			part(&p, "device", x.Board.Subject(), x.At, deviceSchema, x)
			p.terminals("device terminals", x.Board.Subject(), x.Terminals)
		}
		for i := range o.Sections {
			part(&p, "section", o.Sections[i].Route.Subject(), o.Sections[i].At, sectionSchema, &o.Sections[i])
		}
		for i := range o.Ends {
			part(&p, "ends", o.Ends[i].Where.Subject(), o.Ends[i].At, endSchema, &o.Ends[i])
		}
		if o.Built != nil {
			part(&p, "built", "", o.Built.At, builtSchema, o.Built)
		}
	case *Approved:
		part(&p, "", "", o.At, approvedSchema, o)
		for _, e := range o.Equipment {
			part(&p, "equipment", e.Model, e.At, equipmentSchema, e)
		}
	case *Price:
		part(&p, "", "", o.At, priceSchema, o)
		for _, t := range things {
			list := *t.list(o)
			for i := range list {
				part(&p, t.kind, list[i].Name, list[i].At, t.schema, &list[i])
			}
		}
		if o.Gland != nil {
			part(&p, "gland", "", o.Gland.At, glandSchema, o.Gland)
		}
		for i := range o.Layings {
			part(&p, "laying", o.Layings[i].Laid, o.Layings[i].At, layingSchema, &o.Layings[i])
		}
	case *HouseRule:
		part(&p, "", "", o.At, houseSchema, o)
	case *Waiver:
		part(&p, "", "", o.At, waiverSchema, o)
	}
	return p.list
}

type parts struct{ list []Part }

func (p *parts) terminals(kind, key string, t *Terminals) {
	if t != nil {
		part(p, kind, key, t.At, terminalSchema, t)
	}
}

func (p *parts) isolates(kind string, s *Switch) {
	if s != nil {
		part(p, kind, "", s.At, switchSchema, s)
	}
}

func part[T any](p *parts, kind, key string, at source.Range, s *schema[T], o *T) {
	p.list = append(p.list, Part{Kind: kind, Key: key, At: at, Facts: facts(s, o)})
}

// facts lists the attributes of a block that are not absent.
func facts[T any](s *schema[T], o *T) []Fact {
	var list []Fact
	for name, f := range s.fields {
		x := Fact{Name: name}
		switch {
		case f.num != nil:
			n := f.num(o)
			x.take(n.Origin, n.At, func() string { return numberText(n.Value) })
		case f.text != nil:
			t := f.text(o)
			x.take(t.Origin, t.At, func() string { return strconv.Quote(t.Value) })
		case f.flag != nil:
			b := f.flag(o)
			x.take(b.Origin, b.At, func() string { return strconv.FormatBool(b.Value) })
		case f.texts != nil:
			t := f.texts(o)
			x.take(t.Origin, t.At, func() string { return listText(t.Values, strconv.Quote) })
		case f.nums != nil:
			n := f.nums(o)
			x.take(n.Origin, n.At, func() string { return listText(n.Values, numberText) })
		case f.pairs != nil:
			n := f.pairs(o)
			x.take(n.Origin, n.At, func() string {
				return listText(n.Values, func(pair [2]float64) string { return listText(pair[:], numberText) })
			})
		case f.sheet != nil:
			rows := f.sheet(o)
			x.take(rows.Origin, rows.At, rows.text)
		case f.formula != nil:
			e := f.formula(o)
			x.take(e.Origin, e.At, e.Text)
		case f.link != nil:
			l := f.link(o)
			x.take(l.Origin, l.At, l.Subject)
			x.Links = []Link{*l}
		case f.links != nil:
			x.Links, x.List = *f.links(o), true
			for _, l := range x.Links {
				x.take(l.Origin, l.At, func() string {
					return listText(x.Links, func(l Link) string { return l.Subject() })
				})
			}
		}
		if x.Origin != Absent {
			list = append(list, x)
		}
	}
	slices.SortFunc(list, func(a, b Fact) int { return strings.Compare(a.Name, b.Name) })
	return list
}

func (x *Fact) take(origin Origin, at source.Range, text func() string) {
	x.Origin, x.At = origin, at
	if origin == Stated || origin == Defaulted {
		x.Value = text()
	}
}

func numberText(x float64) string { return fmt.Sprintf("%.10g", x) }

func listText[T any](list []T, text func(T) string) string {
	all := make([]string, len(list))
	for i, x := range list {
		all[i] = text(x)
	}
	return "[" + strings.Join(all, ", ") + "]"
}
