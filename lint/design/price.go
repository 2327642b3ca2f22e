package design

import (
	"fmt"
	"path"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"trefoil/lint/finding"
	"trefoil/lint/source"
	"trefoil/lint/syntax"
)

// Price is one dated list of prices and labour times, of one origin and in one currency.
type Price struct {
	Object
	Note                         Text
	Currency                     Text // three letters of ISO 4217
	Date, Origin                 Text
	LabourPerH                   Num
	HeightFactors, AccessFactors Sheet // on labour along a route: from a height in m on; by name
	Cables, Earths, Lugs, Tails  []Priced
	Terminations                 []Priced // the time for one conductor, by its metal
	Gland                        *Priced
	Layings                      []Laying
}

// Priced is one thing with its price by size, or its time.
type Priced struct {
	At           source.Range
	Name         string // cable type, metal, kind of lug
	Price, Hours Sheet
}

// Laying is what one way of laying costs, and how long it takes.
type Laying struct {
	At                   source.Range
	Laid                 string
	PerM, HoursPerM      Sheet // the tray, conduit or trench itself, by its width or bore in mm
	LidPerM, LidHours    Sheet
	DuctPerM, DuctHours  Sheet // each duct in a trench
	FixingEach, FixHours Num   // each support or standoff
	CableHours           Sheet // each cable, per metre, by its size
}

// Economy is what losses are valued by.
type Economy struct {
	At                                     source.Range
	Currency                               Text
	EnergyPerKWh                           Num
	EnergyOrigin                           Text
	DiscountPercent, Years                 Num
	LoadGrowthPercent, EnergyGrowthPercent Num
	LoadProfile                            Text // a CSV file of the design's directory
	CapacityFactor, LossFactor, PeakShare  Num
	FactorsOrigin                          Text
}

var lugKinds = []string{"bimetal", "copper", "aluminium", "ferrule"}

// thing is a kind of block of a price list that prices one thing by its conductor size.
type thing struct {
	*schema[Priced]
	attr  string
	hours bool     // it is a time
	words []string // that its label may be; any where there are none
	list  func(*Price) *[]Priced
	sheet func(*Priced) *Sheet
}

func thingOf(kind, attr string, hours bool, words []string, list func(*Price) *[]Priced) *thing {
	t := &thing{attr: attr, hours: hours, words: words, list: list, sheet: func(o *Priced) *Sheet { return &o.Price }}
	if hours {
		t.sheet = func(o *Priced) *Sheet { return &o.Hours }
	}
	t.schema = &schema[Priced]{kind: kind, fields: map[string]*field[Priced]{attr: sheet(t.sheet, bySize)}}
	return t
}

// things lists them.
var things = []*thing{
	thingOf("cable", "per_m", false, nil, func(o *Price) *[]Priced { return &o.Cables }),
	thingOf("earth", "per_m", false, Conductors, func(o *Price) *[]Priced { return &o.Earths }),
	thingOf("lug", "each", false, lugKinds, func(o *Price) *[]Priced { return &o.Lugs }),
	thingOf("tail", "each", false, Conductors, func(o *Price) *[]Priced { return &o.Tails }),
	thingOf("termination", "hours", true, Conductors, func(o *Price) *[]Priced { return &o.Terminations }),
}

// read reads its blocks, each named by its label.
func (t *thing) read() *nested[Price] {
	return labelled(many(t.schema, t.list, func(r *reader, o *Price, e *Priced, b *syntax.Block) {
		e.At, e.Name = r.header(b), b.Labels[0].Name
		all := *t.list(o)
		r.once(t.kind, b, t.words, slices.ContainsFunc(all[:len(all)-1], func(x Priced) bool { return x.Name == e.Name }))
	}))
}

// once tells an inner block whose label is none of some words, or stands already.
func (r *reader) once(kind string, b *syntax.Block, words []string, taken bool) {
	label := b.Labels[0].Name
	if words != nil && !slices.Contains(words, label) {
		r.fault("value-impossible", r.label(b, 0), fmt.Sprintf("%s is of %s; it must be one of %s", kind, quoted(label), strings.Join(words, ", ")), suggest(label, words))
		r.mend(r.label(b, 0), label, words)
	}
	if taken {
		r.fault("name-taken", r.label(b, 0), fmt.Sprintf("%s %s is given twice", kind, quoted(label)), "keep one of the two blocks")
	}
}

func quoted(s string) string { return strconv.Quote(shorten(s)) }

var glandSchema = &schema[Priced]{kind: "gland", fields: map[string]*field[Priced]{
	"each":  sheet(func(o *Priced) *Sheet { return &o.Price }, byLength),
	"hours": sheet(func(o *Priced) *Sheet { return &o.Hours }, byLength),
}}

var layingSchema = &schema[Laying]{kind: "laying", fields: map[string]*field[Laying]{
	"per_m":             sheet(func(o *Laying) *Sheet { return &o.PerM }, byLength),
	"hours_per_m":       sheet(func(o *Laying) *Sheet { return &o.HoursPerM }, byLength),
	"lid_per_m":         sheet(func(o *Laying) *Sheet { return &o.LidPerM }, byLength),
	"lid_hours_per_m":   sheet(func(o *Laying) *Sheet { return &o.LidHours }, byLength),
	"duct_per_m":        sheet(func(o *Laying) *Sheet { return &o.DuctPerM }, byLength),
	"duct_hours_per_m":  sheet(func(o *Laying) *Sheet { return &o.DuctHours }, byLength),
	"fixing_each":       num(func(o *Laying) *Num { return &o.FixingEach }, 0, most),
	"fixing_hours":      num(func(o *Laying) *Num { return &o.FixHours }, 0, most),
	"cable_hours_per_m": sheet(func(o *Laying) *Sheet { return &o.CableHours }, bySize),
}}

var priceSchema = &schema[Price]{kind: "price", fields: map[string]*field[Price]{
	"note":           text(func(o *Price) *Text { return &o.Note }),
	"currency":       text(func(o *Price) *Text { return &o.Currency }).must(),
	"date":           {text: func(o *Price) *Text { return &o.Date }, date: true, required: true},
	"origin":         text(func(o *Price) *Text { return &o.Origin }).must(),
	"labour_per_h":   num(func(o *Price) *Num { return &o.LabourPerH }, 0, most),
	"height_factors": sheet(func(o *Price) *Sheet { return &o.HeightFactors }, byLength),
	"access_factors": sheet(func(o *Price) *Sheet { return &o.AccessFactors }, byName),
}, blocks: priceBlocks()}

// priceBlocks lists the blocks of a price list.
func priceBlocks() map[string]*nested[Price] {
	blocks := map[string]*nested[Price]{
		"gland": {once: true, decode: func(r *reader, o *Price, b *syntax.Block) {
			o.Gland = &Priced{At: r.header(b)}
			decodeBody(r, glandSchema, o.Gland, b)
		}},
		"laying": labelled(many(layingSchema, func(o *Price) *[]Laying { return &o.Layings }, func(r *reader, o *Price, l *Laying, b *syntax.Block) {
			l.At, l.Laid = r.header(b), b.Labels[0].Name
			r.once("laying", b, Layings, slices.ContainsFunc(o.Layings[:len(o.Layings)-1], func(x Laying) bool { return x.Laid == l.Laid }))
		})),
	}
	for _, t := range things {
		blocks[t.kind] = t.read()
	}
	return blocks
}

var economySchema = &schema[Economy]{kind: "economy", fields: map[string]*field[Economy]{
	"currency":              text(func(o *Economy) *Text { return &o.Currency }).must(),
	"energy_per_kwh":        num(func(o *Economy) *Num { return &o.EnergyPerKWh }, 0, most).must(),
	"energy_origin":         text(func(o *Economy) *Text { return &o.EnergyOrigin }).must(),
	"discount_percent":      num(func(o *Economy) *Num { return &o.DiscountPercent }, 0, 100).must(),
	"years":                 counted(func(o *Economy) *Num { return &o.Years }, 1, 100).must(),
	"load_growth_percent":   num(func(o *Economy) *Num { return &o.LoadGrowthPercent }, -20, 20),
	"energy_growth_percent": num(func(o *Economy) *Num { return &o.EnergyGrowthPercent }, -20, 20),
	"load_profile":          text(func(o *Economy) *Text { return &o.LoadProfile }),
	"capacity_factor":       {num: func(o *Economy) *Num { return &o.CapacityFactor }, above: true, high: 1},
	"loss_factor":           {num: func(o *Economy) *Num { return &o.LossFactor }, above: true, high: 1},
	"peak_share":            {num: func(o *Economy) *Num { return &o.PeakShare }, above: true, high: 1},
	"factors_origin":        text(func(o *Economy) *Text { return &o.FactorsOrigin }),
}}

// economyOf reads the economy block of a site.
var economyOf = &nested[Site]{once: true, decode: func(r *reader, o *Site, b *syntax.Block) {
	o.Economy = &Economy{At: r.header(b)}
	decodeBody(r, economySchema, o.Economy, b)
}}

var currencyWord = regexp.MustCompile(`^[A-Z]{3}$`)

// currencyText tells a currency that is no code, so that "EUR" and "euro" are not two.
func (d *Design) currencyText(t *Text, subject string) {
	if t.Known() && !currencyWord.MatchString(t.Value) {
		d.tell("value-impossible", t.At, subject, fmt.Sprintf("currency is %s; it must be three capital letters", quoted(t.Value)), `write the code of ISO 4217: currency = "EUR"`)
		t.Origin = Faulty
	}
}

// completePrices tells what price lists and economy lack.
func (d *Design) completePrices() {
	for _, p := range d.Prices {
		d.missing(&p.Object, missing(priceSchema, p))
		d.currencyText(&p.Currency, p.Subject())
		d.blank(p.Origin, "origin", p.Subject())
		p.sheets(func(of, attr string, at source.Range, s *Sheet, _ keyed, must bool) {
			if must && s.Origin == Absent {
				d.lacks(at, p.Subject(), fmt.Sprintf("%s of price %q does not state %s", of, p.Name, attr), "add "+attr)
			}
		})
	}
	for _, s := range d.Sites {
		if s.Economy != nil {
			d.completeEconomy(s, s.Economy)
		}
	}
}

// holdPrices tells where price lists and economy contradict each other. Lists of the design
// come before those of its library.
func (d *Design) holdPrices() {
	slices.SortStableFunc(d.Prices, func(a, b *Price) int {
		switch {
		case a.At.File.Library == b.At.File.Library:
			return 0
		case b.At.File.Library:
			return -1
		}
		return 1
	})
	type money struct {
		currency     *Text
		who, subject string
	}
	var in []money
	for _, p := range d.Prices {
		in = append(in, money{&p.Currency, fmt.Sprintf("price %q", p.Name), p.Subject()})
	}
	for _, s := range d.Sites {
		if e := s.Economy; e != nil {
			in = append(in, money{&e.Currency, "the economy of the site", s.Subject()})
		}
	}
	var first *money
	for i := range in {
		m := &in[i]
		switch {
		case !m.currency.Known():
		case first == nil:
			first = m
		case m.currency.Value != first.currency.Value:
			d.Faults = append(d.Faults, Fault{
				Rule: "value-impossible", Severity: finding.Error, At: m.currency.At, Subject: m.subject,
				Message: fmt.Sprintf("%s is in %s, and %s in %s; a design is reckoned in one currency", m.who, m.currency.Value, first.who, first.currency.Value),
				Next:    "convert one of the two, and say in its origin at which rate",
				Related: []finding.Related{{At: first.currency.At, Message: "the other currency"}},
			})
		}
	}
	d.pricedTwice()
}

// pricedTwice tells what two lists of the design, or two of its library, price both.
func (d *Design) pricedTwice() {
	type entry struct {
		library       bool
		of, attr, key string
	}
	seen := map[entry]*Price{}
	at := map[entry]source.Range{}
	look := func(p *Price, of, attr, key string, where source.Range) {
		e := entry{p.At.File.Library, of, attr, key}
		first := seen[e]
		switch {
		case first == nil:
			seen[e], at[e] = p, where
		case first != p: // within one list it is told where it is read
			d.Faults = append(d.Faults, Fault{
				Rule: "name-taken", Severity: finding.Error, At: where, Subject: p.Subject(),
				Message: strings.Join(strings.Fields(fmt.Sprintf("%s %s %s stands in price %q and in price %q", of, attr, key, first.Name, p.Name)), " "),
				Next:    "keep one of the two; a list of the design goes before one of its library",
				Related: []finding.Related{{At: at[e], Message: "the first one"}},
			})
		}
	}
	for _, p := range d.Prices {
		if p.LabourPerH.Known() {
			look(p, "", "labour_per_h", "", p.LabourPerH.At)
		}
		for i := range p.Layings {
			l := &p.Layings[i]
			if l.FixingEach.Known() {
				look(p, `laying "`+l.Laid+`"`, "fixing_each", "", l.FixingEach.At)
			}
			if l.FixHours.Known() {
				look(p, `laying "`+l.Laid+`"`, "fixing_hours", "", l.FixHours.At)
			}
		}
		p.sheets(func(of, attr string, _ source.Range, s *Sheet, by keyed, _ bool) {
			for i := range s.Rows {
				row, key := &s.Rows[i], s.Rows[i].Name
				switch {
				case row.Every:
					key = "for every size"
				case by == bySize:
					key = row.Size.String()
				}
				look(p, of, attr, key, row.Value.At)
			}
		})
	}
}

// sheets visits the sheets of a list, with the block that each stands in.
func (p *Price) sheets(visit func(of, attr string, at source.Range, s *Sheet, by keyed, must bool)) {
	visit("", "height_factors", p.At, &p.HeightFactors, byLength, false)
	visit("", "access_factors", p.At, &p.AccessFactors, byName, false)
	for _, t := range things {
		list := *t.list(p)
		for i := range list {
			visit(t.kind+" "+strconv.Quote(list[i].Name), t.attr, list[i].At, t.sheet(&list[i]), bySize, true)
		}
	}
	if g := p.Gland; g != nil {
		visit("gland", "each", g.At, &g.Price, byLength, false)
		visit("gland", "hours", g.At, &g.Hours, byLength, false)
	}
	for i := range p.Layings {
		l := &p.Layings[i]
		of := "laying " + strconv.Quote(l.Laid)
		for attr, f := range layingSchema.fields {
			if f.sheet != nil {
				visit(of, attr, l.At, f.sheet(l), f.by, false)
			}
		}
	}
}

// completeEconomy tells what an economy block lacks, and factors that cannot be.
func (d *Design) completeEconomy(s *Site, e *Economy) {
	if lack := missing(economySchema, e); len(lack) > 0 {
		d.lacks(e.At, s.Subject(), "the economy of the site does not state "+and(lack), "add "+and(lack))
	}
	d.currencyText(&e.Currency, s.Subject())
	d.blank(e.EnergyOrigin, "energy_origin", s.Subject())
	cf, lf := e.CapacityFactor, e.LossFactor
	d.unfounded(&s.Object, cf, e.FactorsOrigin, "capacity_factor", "factors_origin", "say where the factors come from")
	switch {
	case cf.Origin != Absent && lf.Origin == Absent:
		d.tell("value-missing", cf.At, s.Subject(), "capacity_factor is given without loss_factor", "add loss_factor, the mean of the squared share of rated output")
	case lf.Origin != Absent && cf.Origin == Absent:
		d.tell("value-missing", lf.At, s.Subject(), "loss_factor is given without capacity_factor", "add capacity_factor, the mean share of rated output")
	case cf.Known() && lf.Known() && (lf.Value > cf.Value*(1+1e-9) || lf.Value < cf.Value*cf.Value*(1-1e-9)):
		d.tell("value-impossible", lf.At, s.Subject(), fmt.Sprintf("loss_factor is %g; with capacity_factor %g it lies from %.4g to %g", lf.Value, cf.Value, cf.Value*cf.Value, cf.Value), "loss_factor is the mean of the squared share, capacity_factor that of the share itself")
		e.LossFactor.Origin = Faulty
	}
	given := 0
	for _, f := range []struct {
		origin Origin
		at     source.Range
	}{{e.LoadProfile.Origin, e.LoadProfile.At}, {max(cf.Origin, lf.Origin), firstKnown(cf.At, lf.At)}, {e.PeakShare.Origin, e.PeakShare.At}} {
		if f.origin == Absent {
			continue
		}
		if given++; given == 2 {
			d.tell("value-impossible", f.at, s.Subject(), "how the output goes over the year is given twice", "keep one of load_profile, capacity_factor with loss_factor, and peak_share")
		}
	}
	if p := &e.LoadProfile; p.Known() {
		if clean := path.Clean(p.Value); path.IsAbs(clean) || clean == ".." || strings.HasPrefix(clean, "../") || strings.ContainsAny(p.Value, ":\\\x00") || path.Ext(clean) != ".csv" {
			d.tell("value-impossible", p.At, s.Subject(), fmt.Sprintf("load_profile is %s, which names no CSV file inside of the design's directory", quoted(p.Value)), `write load_profile = "profile.csv"`)
			p.Origin = Faulty
		}
	}
}

func firstKnown(a, b source.Range) source.Range {
	if a.Known() {
		return a
	}
	return b
}

// blank tells a text that has to say something and does not.
func (d *Design) blank(t Text, attr, subject string) {
	if t.Origin == Stated && strings.TrimSpace(t.Value) == "" {
		d.tell("value-missing", t.At, subject, attr+" is empty", "say where the figures come from")
	}
}
