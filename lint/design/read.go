package design

import (
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"
	"sync/atomic"

	"github.com/zclconf/go-cty/cty"

	"trefoil/lint/finding"
	"trefoil/lint/source"
	"trefoil/lint/syntax"
	"trefoil/ratings/quantity"
)

// The voltage factors of prospective fault currents that are taken where none is stated
// (IEC 60909-0 Table 1, from memory).
const (
	UsualFactorMax = 1.05
	UsualFactorMin = 0.95
)

// maxCopies bounds the copies of one block, maxMade those of a design and maxCopied all that
// stands in them, maxBlocks the blocks that are written in it outside of others.
const (
	maxCopies = 10_000
	maxMade   = 50_000
	maxCopied = 3_000_000
	maxBlocks = 250_000
)

// maxWaivers, maxHouse and maxLets bound the waivers, house rules and constants that count.
const (
	maxWaivers = 10_000
	maxHouse   = 500
	maxLets    = 20_000
)

// maxSuggested bounds the references to nothing for which a near name is looked for: among
// those in values, and among the others.
const maxSuggested = 50

// chunk is what one piece of text gave.
type chunk struct {
	readers []*reader
	items   []any // objects in text order; *copies where a block has to be copied
	lets    []letAttr
}

// all gives the items of a chunk, which a piece that is left out does not have.
func (c *chunk) all() []any {
	if c == nil {
		return nil
	}
	return c.items
}

// copies is a block that stands for several.
type copies struct {
	file  *source.File
	block *syntax.Block
	keys  []cty.Value
	made  []any

	readers []*reader
}

// finish works out what hangs on let, and makes the copies.
func (c *chunk) finish(env *environment) {
	for _, r := range c.readers {
		r.settle(env)
	}
	for _, item := range c.items {
		if k, is := item.(*copies); is {
			k.make(env)
		}
	}
}

// settle works out what hangs on let.
func (r *reader) settle(env *environment) {
	r.env = env
	for _, do := range r.later {
		do(env)
	}
	r.later = nil
}

// Read decodes the files of one directory as one design, in the order given.
// It never fails: what is wrong with the text is in Faults, and what could be
// read is usable.
func Read(dir string, files []*source.File) *Design { return ReadWith(dir, files, Library{}) }

// Library is what the shared directories hold that a design names: their files, each
// marked as such, and why some could not be had.
type Library struct {
	Files []*source.File
	Lost  []Fault
}

// ReadWith decodes a design together with its library.
func ReadWith(dir string, files []*source.File, library Library) *Design {
	d := &Design{Dir: dir, Files: files}
	var chunks []*chunk
	var blocks, spent atomic.Int64
	d.Faults = syntax.Read(slices.Concat(files, library.Files),
		func(n int) { chunks = make([]*chunk, n) },
		func(i int, p syntax.Piece) {
			chunks[i] = nil
			if blocks.Add(int64(len(p.Body.Blocks))) <= maxBlocks {
				chunks[i] = decodePiece(p, &spent)
			}
		})
	d.Faults = append(d.Faults, library.Lost...)
	if blocks.Load() > maxBlocks { // which of them were read is chance, so none counts
		chunks = nil
		d.refuse(fmt.Sprintf("the design holds more than %d blocks, which is the most that is read", maxBlocks), "check it in parts, each a design of its own")
	}
	d.Broken = len(d.Faults) > 0

	first := &reader{spent: &spent}
	var lets []letAttr
	for _, c := range chunks {
		if c != nil {
			lets = append(lets, c.lets...)
		}
	}
	env, constants := first.constants(lets)
	var made, copied int
	for _, c := range chunks {
		for _, item := range c.all() {
			if k, is := item.(*copies); is {
				k.count(env, &made, &copied)
			}
		}
	}
	syntax.Each(len(chunks), func(i int) {
		if c := chunks[i]; c != nil {
			c.finish(env)
		}
	})
	var last []*dependent
	readers := []*reader{first}
	for _, c := range chunks {
		if c == nil {
			continue
		}
		readers = append(readers, c.readers...)
		for _, item := range c.items {
			if k, is := item.(*copies); is {
				readers = append(readers, k.readers...)
				for _, o := range k.made {
					d.add(o)
				}
				continue
			}
			d.add(item)
		}
	}
	for _, r := range readers {
		last = append(last, r.last...)
	}
	d.enter()
	d.dependents(last, env)
	if spent.Load() > maxSpent { // which of them were worked out is chance, so none counts
		d = &Design{Dir: dir, Files: files}
		d.refuse(fmt.Sprintf("the expressions of the design take more than %d steps together, which is the most that is worked out", maxSpent), "write figures in the place of long expressions in blocks of which there are many")
		return d
	}
	used := map[string]bool{}
	for _, r := range readers {
		d.Faults = append(d.Faults, r.told()...)
		for name := range r.used {
			used[name] = true
		}
	}
	for i := range constants {
		constants[i].Used = used[constants[i].Name]
	}
	d.Lets = constants
	broken := d.Broken
	d.complete()
	d.holdPrices()
	if !broken {
		d.Faults = append(d.Faults, d.whole...)
	}
	d.whole = nil
	if !d.Broken {
		d.connect()
	}
	d.tidy()
	return d
}

// refuse tells that a design passes a limit as a whole, so that nothing of it is read.
func (d *Design) refuse(message, next string) {
	at := source.Range{}
	if len(d.Files) > 0 {
		at = source.Range{File: d.Files[0], End: uint32(len(d.Files[0].Bytes))}.FirstLine()
	}
	d.Faults = append(d.Faults, Fault{Rule: syntax.BrokenText, Severity: finding.Error, At: at, Message: message, Next: next})
	d.Broken = true
}

func decodePiece(p syntax.Piece, spent *atomic.Int64) *chunk {
	r := &reader{file: p.File, spent: spent}
	c := &chunk{readers: []*reader{r}}
	r.strays(p)
	c.items = make([]any, 0, len(p.Body.Blocks))
	kept := false
	for _, b := range p.Body.Blocks {
		item, lets := r.top(b)
		c.lets = append(c.lets, lets...)
		if item != nil {
			c.items = append(c.items, item)
		}
		_, again := item.(*copies)
		kept = kept || again
	}
	if !kept {
		p.Done()
	}
	return c
}

// strays tells attributes that stand outside of a block.
func (r *reader) strays(p syntax.Piece) {
	for i := range p.Body.Attributes {
		a := &p.Body.Attributes[i]
		r.fault("unknown-word", a.NameRange(), fmt.Sprintf("attribute %q stands outside of a block", a.Name), "attributes stand in blocks: site, source, run and so on")
	}
}

// top reads a block that stands in no other: an object, *copies where it has to be copied, or
// constants.
func (r *reader) top(b *syntax.Block) (item any, lets []letAttr) {
	r.subject = "" // not that of the block before
	switch {
	case r.foreign(b):
	case b.Type == "let":
		if len(b.Labels) > 0 {
			r.fault("unknown-word", r.label(b, 0), "let has no name", "write let {")
		}
		for i := range b.Attributes {
			at := b.Attributes[i].Range()
			lets = append(lets, letAttr{name: b.Attributes[i].Name, file: r.file, at: at, cut: at, expr: b.Attributes[i].Expr.Tree()})
			if len(b.Attributes) == 1 && len(b.Blocks) == 0 {
				lets[len(lets)-1].cut = r.whole(b)
			}
		}
		for _, inner := range b.Blocks {
			r.fault("unknown-word", r.first(inner), "let holds no blocks", "write NAME = value")
		}
	case b.Attribute("copies") != nil && mayCopy(b.Type):
		item = &copies{file: r.file, block: b}
	default:
		item = r.block(b)
	}
	return item, lets
}

// count works out the keys of the copies, and adds to those made in the design and to the
// attributes and blocks that stand in them.
func (k *copies) count(env *environment, made, copied *int) {
	r := &reader{file: k.file, env: env, spent: env.spent, subject: k.block.Type}
	k.readers = []*reader{r}
	if len(k.block.Labels) > 0 {
		r.subject += "." + k.block.Labels[0].Name
	}
	expr := k.block.Attribute("copies").Expr.Tree()
	at := r.rng(expr.Range())
	refuse := func(why string) {
		r.fault("value-impossible", at, "copies "+why, `write copies = 3 or copies = ["east", "west"]`)
	}
	v, ok := r.evaluate(expr, env)
	if !ok {
		return
	}
	var keys []cty.Value
	if n, is := keyText(v); is && v.Type() == cty.Number {
		x, _ := v.AsBigFloat().Float64()
		if x < 1 || x > maxCopies {
			refuse(fmt.Sprintf("is %s; it must be from 1 to %d", n, maxCopies))
			return
		}
		for i := range int(x) {
			keys = append(keys, cty.StringVal(strconv.Itoa(i+1)))
		}
	} else {
		list, is := texts(v)
		if !is || len(list) == 0 {
			refuse("is neither a whole number nor a list of texts")
			return
		}
		seen := map[string]bool{}
		for _, s := range list {
			why := refuseName(s)
			switch {
			case why != "":
				refuse(fmt.Sprintf("holds the key %q, which %s", s, why))
				return
			case seen[s]:
				refuse(fmt.Sprintf("holds the key %q twice", s))
				return
			}
			seen[s] = true
			keys = append(keys, cty.StringVal(s))
		}
	}
	if *made+len(keys) > maxMade {
		refuse(fmt.Sprintf("makes more than %d copies in this design", maxMade))
		return
	}
	inside := len(keys) * held(&k.block.Body)
	if *copied+inside > maxCopied {
		refuse(fmt.Sprintf("makes more than %d attributes and blocks in this design", maxCopied))
		return
	}
	*made += len(keys)
	*copied += inside
	k.keys = keys
}

// held counts what stands in a block, at any depth.
func held(b *syntax.Body) int {
	n := len(b.Attributes) + len(b.Blocks)
	for _, inner := range b.Blocks {
		n += held(&inner.Body)
	}
	return n
}

// make reads the block once for each copy.
func (k *copies) make(env *environment) {
	seen := map[spot]*reader{}
	for i, key := range k.keys {
		one := &reader{file: k.file, env: env, spent: env.spent, seen: seen, second: i > 0, copy: map[string]cty.Value{"key": key, "number": cty.NumberIntVal(int64(i + 1))}}
		if o := one.block(k.block); o != nil {
			k.made = append(k.made, o)
		}
		one.settle(env)
		k.readers = append(k.readers, one)
	}
}

func (d *Design) add(o any) {
	switch o := o.(type) {
	case *Site:
		d.Sites = append(d.Sites, o)
	case *Supply:
		d.Supplies = append(d.Supplies, o)
	case *Source:
		d.Sources = append(d.Sources, o)
	case *Board:
		d.Boards = append(d.Boards, o)
	case *Load:
		d.Loads = append(d.Loads, o)
	case *Route:
		d.Routes = append(d.Routes, o)
	case *Cable:
		d.Cables = append(d.Cables, o)
	case *Run:
		d.Runs = append(d.Runs, o)
	case *Waiver:
		d.Waivers = append(d.Waivers, o)
	case *Approved:
		d.Approvals = append(d.Approvals, o)
	case *Price:
		d.Prices = append(d.Prices, o)
	case *HouseRule:
		d.House = append(d.House, o)
	}
}

// enter makes the index; a block whose name is taken is told and left out.
func (d *Design) enter() {
	d.index = index{}
	d.sets = map[name]bool{}
	d.Supplies = enter(d, d.Supplies, func(o *Supply) *Object { return &o.Object })
	d.Sources = enter(d, d.Sources, func(o *Source) *Object { return &o.Object })
	d.Boards = enter(d, d.Boards, func(o *Board) *Object { return &o.Object })
	d.Loads = enter(d, d.Loads, func(o *Load) *Object { return &o.Object })
	d.Routes = enter(d, d.Routes, func(o *Route) *Object { return &o.Object })
	d.Cables = enter(d, d.Cables, func(o *Cable) *Object { return &o.Object })
	d.Runs = enter(d, d.Runs, func(o *Run) *Object { return &o.Object })
	d.Approvals = enter(d, d.Approvals, func(o *Approved) *Object { return &o.Object })
	d.Prices = enter(d, d.Prices, func(o *Price) *Object { return &o.Object })
	d.House = enter(d, d.House, func(o *HouseRule) *Object { return &o.Object })
	d.Waivers = heeded(d, d.Waivers, maxWaivers, "waivers")
	d.House = heeded(d, d.House, maxHouse, "house rules")
	for i, s := range d.Sites {
		if i > 0 {
			d.taken(&s.Object, &d.Sites[0].Object, "a design has one site block, this is a second")
		}
	}
}

// heeded is the part of a list that counts; that it is too long is told at the first that
// does not.
func heeded[T any](d *Design, list []T, most int, what string) []T {
	if len(list) <= most {
		return list
	}
	first := object(list[most])
	d.tell("value-impossible", first.At, first.Subject(), fmt.Sprintf("the design has %d %s, and those beyond %d do not count", len(list), what, most), "bring together what says the same")
	return list[:most]
}

func enter[T any](d *Design, list []*T, object func(*T) *Object) []*T {
	if len(list) == 0 {
		return list
	}
	kept := list[:0]
	byName := make(map[string]any, len(list))
	d.index[object(list[0]).Kind] = byName
	for _, o := range list {
		b := object(o)
		if first, taken := byName[b.Name]; taken {
			one, two := object(first.(*T)), b
			if two.At.File.Library && !one.At.File.Library { // told in the design, which is where it can be mended
				one, two = two, one
			}
			d.taken(two, one, fmt.Sprintf("a %s named %q stands already in %s", b.Kind, b.Name, one.At.File.Name))
			continue
		}
		byName[b.Name] = o
		if b.CopyOf != "" {
			d.sets[name{b.Kind, b.CopyOf}] = true
		}
		kept = append(kept, o)
	}
	for _, o := range kept {
		if b := object(o); b.CopyOf == "" && d.sets[name{b.Kind, b.Name}] {
			d.Faults = append(d.Faults, Fault{Rule: "name-taken", Severity: finding.Error, At: b.At, Subject: b.Subject(), Message: fmt.Sprintf("%s is also the name of a set of copies", b.Subject()), Next: "give one of the two another name"})
		}
	}
	clear(list[len(kept):])
	return kept
}

func (d *Design) taken(o, first *Object, message string) {
	d.Faults = append(d.Faults, Fault{
		Rule: "name-taken", Severity: finding.Error, At: o.At, Subject: o.Subject(), Message: message,
		Next:    "give one of the two another name, or remove it",
		Related: []finding.Related{{At: first.At, Message: "the first one"}},
	})
}

func (d *Design) tell(rule string, at source.Range, subject, message, next string) {
	d.Faults = append(d.Faults, Fault{Rule: rule, Severity: finding.Error, At: at, Subject: subject, Message: message, Next: next})
}

// ifWhole tells what counts only where the whole text could be read.
func (d *Design) ifWhole(rule string, at source.Range, subject, message, next string) {
	d.whole = append(d.whole, Fault{Rule: rule, Severity: finding.Error, At: at, Subject: subject, Message: message, Next: next})
}

// lacks tells what is not stated, which may stand in what could not be read.
func (d *Design) lacks(at source.Range, subject, message, next string) {
	d.ifWhole("value-missing", at, subject, message, next)
}

// crossed tells limits of terminals of which the least is above the greatest.
func (d *Design) crossed(o *Object, t *Terminals) {
	if t == nil {
		return
	}
	for _, x := range []struct {
		least, most string
		min         Num
		max         *Num
	}{
		{"min_mm2", "max_mm2", t.MinMM2, &t.MaxMM2},
		{"min_device_a", "max_device_a", t.MinDeviceA, &t.MaxDeviceA},
		{"gland_min_mm", "gland_max_mm", t.GlandMinMM, &t.GlandMaxMM},
	} {
		if x.min.Known() && x.max.Known() && x.min.Value > x.max.Value {
			d.tell("value-impossible", x.max.At, o.Subject(), fmt.Sprintf("%s is %s and %s is %s, so that nothing fits between them", x.least, quantity.Ratio.Print(x.min.Value), x.most, quantity.Ratio.Print(x.max.Value)), "take both from the data sheet")
		}
	}
}

// complete fills in defaults and tells what is missing.
func (d *Design) complete() {
	for _, s := range d.Sites {
		d.missing(&s.Object, missing(siteSchema, s))
		setText(&s.Stage, "approval")
		setNum(&s.FrequencyHz, 50)
		setText(&s.RiseAt, "rated")
		setText(&s.RiseMethod, "trade")
		setNum(&s.VoltageFactorMax, UsualFactorMax)
		setNum(&s.VoltageFactorMin, UsualFactorMin)
		setText(&s.RiseSupply, "nominal")
		setNum(&s.LegTolerancePercent, 3)
		setNum(&s.PriceDays, 365)
		d.unfounded(&s.Object, s.FillLimitPercent, s.FillLimitOrigin, "fill_limit_percent", "fill_limit_origin", "say where the limit comes from")
		d.unfounded(&s.Object, s.LegMinMM2, s.LegMinOrigin, "leg_min_mm2", "leg_min_origin", "say where the limit comes from")
	}
	for _, s := range d.Supplies {
		lack := missing(supplySchema, s)
		if s.FaultKA.Origin == Absent && s.Transformer == nil {
			lack = append(lack, "fault_ka or a transformer block")
		}
		d.missing(&s.Object, lack)
		if t := s.Transformer; t != nil {
			if s.FaultKA.Origin != Absent {
				d.tell("value-impossible", t.At, s.Subject(), "the fault level is given twice, by fault_ka and by a transformer", "keep one of the two")
			}
			if lack := missing(transformerSchema, t); len(lack) > 0 {
				d.lacks(t.At, s.Subject(), fmt.Sprintf("the transformer of supply %q does not state %s", s.Name, and(lack)), "add "+and(lack))
			}
			setNum(&t.Count, 1)
		}
	}
	for _, b := range d.Boards {
		d.crossed(&b.Object, b.Terminals)
		d.switched(&b.Object, "main_switch", b.MainSwitch)
		for _, p := range b.Portions {
			if lack := missing(portionSchema, p); len(lack) > 0 {
				d.lacks(p.At, b.Subject(), fmt.Sprintf("portion %q of board %q does not state %s", p.Name, b.Name, and(lack)), "add "+and(lack))
			}
		}
		setNum(&b.DemandPowerFactor, 1)
	}
	for _, l := range d.Loads {
		lack := missing(loadSchema, l)
		if l.DemandA.Origin == Absent && l.DemandKVA.Origin == Absent {
			lack = append(lack, "demand_a or demand_kva")
		}
		d.missing(&l.Object, lack)
		setNum(&l.PowerFactor, 1)
		setNum(&l.Phases, 3)
		d.onPhases(&l.Object, &l.Phases, &l.Phase)
	}
	for _, s := range d.Sources {
		d.crossed(&s.Object, s.Terminals)
		lack := missing(sourceSchema, s)
		if s.RatedKVA.Origin == Absent && s.MaxCurrentA.Origin == Absent {
			lack = append(lack, "rated_kva or max_current_a")
		}
		d.missing(&s.Object, lack)
		setNum(&s.PowerFactor, 1)
		setText(&s.Reactive, "delivers")
		setText(&s.Holds, "power")
		d.switched(&s.Object, "isolator", s.Isolator)
		d.onPhases(&s.Object, &s.Phases, &s.Phase)
	}
	for _, r := range d.Routes {
		d.missing(&r.Object, missing(routeSchema, r))
		setFlag(&r.Lid)
		setFlag(&r.Sun)
		setFlag(&r.Vertical)
		setNum(&r.Tiers, 1)
		setText(&r.Spacing, "touching")
		setText(&r.Ducts, "per-circuit")
		setNum(&r.DuctCount, 1)
		setFlag(&r.Existing)
		if r.Lid.Value && r.Laid.Known() {
			switch r.Laid.Value {
			case "clipped", "standoff", "free-air", "buried", "buried-duct", "conduit", "conduit-in-insulation":
				d.tell("value-impossible", r.Lid.At, r.Subject(), fmt.Sprintf("a lid lies on a tray, ladder, basket or trunking, not on laid = %q", r.Laid.Value), "remove lid, or change laid")
			}
		}
		setNum(&r.Layers, 1)
		d.unfounded(&r.Object, r.FillLimitPercent, r.FillLimitOrigin, "fill_limit_percent", "fill_limit_origin", "say where the limit comes from")
		d.unfounded(&r.Object, r.DepthFactor, r.DepthFactorOrigin, "depth_factor", "depth_factor_origin", "say where the factor comes from")
		d.unfounded(&r.Object, r.ExtraFactor, r.ExtraFactorReason, "extra_factor", "extra_factor_reason", "say why the factor applies")
	}
	for _, c := range d.Cables {
		lack := missing(cableSchema, c)
		if c.Build.Value == "multicore" && c.Cores.Origin == Absent {
			lack = append(lack, "cores")
		}
		d.missing(&c.Object, lack)
		setText(&c.Strands, "stranded")
		setText(&c.Armour, "none")
		setText(&c.Formation, "trefoil")
		d.unfounded(&c.Object, c.BendFactor, c.BendOrigin, "bend_factor", "bend_origin", "say where the factor comes from")
		c.Layout = Cores{Live: 1}
		if c.Cores.Known() {
			layout, ok := parseCores(c.Cores.Value)
			if !ok {
				d.tell("value-impossible", c.Cores.At, c.Subject(), fmt.Sprintf("cores is %q, which is no core count", c.Cores.Value), `write "4c+e", "3c+n+e", "3c", "2c+e" and so on`)
				c.Cores.Origin = Faulty
			} else {
				c.Layout = layout
			}
		}
	}
	for _, r := range d.Runs {
		for i := range r.Devices {
			d.crossed(&r.Object, r.Devices[i].Terminals)
		}
		lack := missing(runSchema, r)
		given := 0
		for _, f := range []struct {
			origin Origin
			at     source.Range
		}{{r.SizeMM2.Origin, r.SizeMM2.At}, {r.SizeKcmil.Origin, r.SizeKcmil.At}, {r.SizeAWG.Origin, r.SizeAWG.At}} {
			if f.origin != Absent {
				given++
				if given == 2 {
					d.tell("value-impossible", f.at, r.Subject(), "the size is given twice", "keep one of size_mm2, size_awg, size_kcmil")
				}
			}
		}
		r.Size, r.SizeAt = d.size(&r.Object, r.SizeMM2, r.SizeKcmil, r.SizeAWG)
		if given == 0 {
			lack = append(lack, "size_mm2")
		}
		if len(r.Sections) == 0 {
			lack = append(lack, "a section block")
		}
		d.missing(&r.Object, lack)
		d.built(r)
		setNum(&r.Parallel, 1)
		d.unfounded(&r.Object, r.LegDeviceA, r.LegDeviceKind, "leg_device_a", "leg_device_kind", `add leg_device_kind = "mcb", "mccb" or "fuse"`)
		if list := &r.LegLengthsM; list.Known() && r.Parallel.Known() {
			if n := len(list.Values); n != r.Legs() {
				d.tell("value-impossible", list.At, r.Subject(), fmt.Sprintf("leg_lengths_m holds %d lengths, and parallel is %d", n, r.Legs()), "give one length for each leg")
				list.Origin = Faulty
			} else if whole, longest := r.LengthM(), slices.Max(list.Values); whole.Known && !quantity.AtMost(longest, whole.Value) {
				d.tell("value-impossible", list.At, r.Subject(), fmt.Sprintf("leg_lengths_m holds a leg of %s, and the sections sum up to %s", quantity.Metre.Print(longest), quantity.Metre.Print(whole.Value)), "give the sections the length of the longest leg")
				list.Origin = Faulty
			}
		}
		for i := range r.Sections {
			d.missingIn(r, "section", r.Sections[i].At, missing(sectionSchema, &r.Sections[i]))
		}
		for i := range r.Devices {
			device := &r.Devices[i]
			d.missingIn(r, "device", device.At, missing(deviceSchema, device))
			if device.BackedUpKA.Known() && strings.TrimSpace(device.BackedUpOrigin.Value) == "" && device.BackedUpOrigin.Origin != Faulty {
				d.tell("value-missing", device.BackedUpKA.At, r.Subject(), "backed_up_ka is given without backed_up_origin", "name the maker's table of the pair")
			}
			for _, f := range []*Num{&device.AmbientFactor, &device.RowFactor} {
				if f.Known() && device.FactorOrigin.Origin == Absent {
					d.tell("value-missing", f.At, r.Subject(), "a factor of a device is given without factor_origin", "say where the factor comes from")
					break
				}
			}
		}
		for i := range r.Ends {
			d.missingIn(r, "ends", r.Ends[i].At, missing(endSchema, &r.Ends[i]))
		}
		if len(r.NeverWith) > 0 {
			r.NeverWithAt = r.NeverWith[0].At
			if strings.TrimSpace(r.NeverWithReason.Value) == "" && r.NeverWithReason.Origin != Faulty {
				d.tell("value-missing", r.NeverWithAt, r.Subject(), "never_with is given without never_with_reason, so it does not count", "say why these circuits are never loaded together")
			}
		}
	}
	for _, w := range d.Waivers {
		d.missing(&w.Object, missing(waiverSchema, w))
	}
	d.completeApproved()
	d.completePrices()
	d.completeHouse()
}

// built reads the size of what was laid.
func (d *Design) built(r *Run) {
	b := r.Built
	if b == nil {
		return
	}
	b.Size, b.SizeAt = d.size(&r.Object, b.SizeMM2, b.SizeKcmil, b.SizeAWG)
}

// size is that of whichever of the three is stated; zero where none is usable.
func (d *Design) size(o *Object, mm2, kcmil Num, awg Text) (size quantity.Size, at source.Range) {
	var err error
	switch {
	case mm2.Known():
		return quantity.MM2(mm2.Value), mm2.At
	case kcmil.Known():
		at = kcmil.At
		size, err = quantity.Kcmil(kcmil.Value)
	case awg.Known():
		at = awg.At
		size, err = quantity.AWG(awg.Value)
	}
	if err != nil {
		d.tell("value-impossible", at, o.Subject(), err.Error(), "")
	}
	return size, at
}

// unfounded tells a figure that is given without the text that has to go with it.
func (d *Design) unfounded(o *Object, n Num, with Text, name, lacks, next string) {
	if n.Known() && with.Origin == Absent {
		d.tell("value-missing", n.At, o.Subject(), name+" is given without "+lacks, next)
	}
}

// switched tells an isolator or main switch that says too little.
func (d *Design) switched(o *Object, block string, s *Switch) {
	if s == nil {
		return
	}
	lack := missing(switchSchema, s)
	switch {
	case !s.Kind.Known():
	case s.Kind.Value == "none" && strings.TrimSpace(s.Reason.Value) == "" && s.Reason.Origin != Faulty:
		lack = append(lack, "reason, why there is none")
	case s.Kind.Value == "none" && s.RatedA.Origin != Absent:
		d.ifWhole("value-impossible", s.RatedA.At, o.Subject(), fmt.Sprintf("%s is of kind none and has a rating", block), "remove rated_a, or name the kind")
	}
	if len(lack) > 0 {
		d.lacks(s.At, o.Subject(), fmt.Sprintf("the %s of %s %q does not state %s", block, o.Kind, o.Name, and(lack)), "add "+and(lack))
	}
}

// onPhases tells phases that do not fit together.
func (d *Design) onPhases(o *Object, phases *Num, phase *Text) {
	if phases.Known() && phases.Value == 2 {
		d.tell("value-impossible", phases.At, o.Subject(), "phases is 2; it must be 1 or 3", fmt.Sprintf(`a %s between two lines is phases = 1 with phase = "L1-L2"`, o.Kind))
		phases.Origin = Faulty
	}
	if phases.Known() && phases.Value == 3 && phase.Known() {
		d.tell("value-impossible", phase.At, o.Subject(), fmt.Sprintf("a %s of three phases has no phase of its own", o.Kind), "remove phase, or write phases = 1")
	}
}

func setNum(n *Num, v float64) {
	if n.Origin == Absent {
		n.Value, n.Origin = v, Defaulted
	}
}

func setText(t *Text, v string) {
	if t.Origin == Absent {
		t.Value, t.Origin = v, Defaulted
	}
}

func setFlag(f *Flag) {
	if f.Origin == Absent {
		f.Origin = Defaulted
	}
}

// missing lists the required attributes that a block does not state.
func missing[T any](s *schema[T], o *T) []string {
	var lack []string
	for _, n := range s.required() {
		f := s.fields[n]
		absent := false
		switch {
		case f.num != nil:
			absent = f.num(o).Origin == Absent
		case f.text != nil:
			absent = f.text(o).Origin == Absent
		case f.link != nil:
			absent = f.link(o).Origin == Absent
		case f.formula != nil:
			absent = f.formula(o).Origin == Absent
		}
		if absent {
			lack = append(lack, n)
		}
	}
	return lack
}

func (d *Design) missing(o *Object, lack []string) {
	if len(lack) > 0 {
		d.lacks(o.At, o.Subject(), fmt.Sprintf("%s %q does not state %s", o.Kind, o.Name, and(lack)), "add "+and(lack))
	}
}

func (d *Design) missingIn(r *Run, kind string, at source.Range, lack []string) {
	if len(lack) > 0 {
		d.lacks(at, r.Subject(), fmt.Sprintf("a %s of run %q does not state %s", kind, r.Name, and(lack)), "add "+and(lack))
	}
}

func and(list []string) string {
	if len(list) < 2 {
		return strings.Join(list, "")
	}
	return strings.Join(list[:len(list)-1], ", ") + " and " + list[len(list)-1]
}

// parseCores reads a core count: "4c+e", "3c+n+e", "3c", "5c", "3c+3e".
func parseCores(s string) (Cores, bool) {
	parts := strings.Split(strings.ToLower(strings.ReplaceAll(s, " ", "")), "+")
	count, ok := strings.CutSuffix(parts[0], "c")
	if !ok || len(count) != 1 || count[0] < '1' || count[0] > '5' {
		return Cores{}, false
	}
	c := Cores{Live: int(count[0] - '0')}
	for _, p := range parts[1:] {
		switch p {
		case "n":
			c.Live++
		case "e":
			c.Earth++
		case "2e", "3e":
			c.Earth += int(p[0] - '0')
		default:
			return Cores{}, false
		}
	}
	return c, c.Live <= 5 && len(parts) <= 3
}

// connect tells the references that name nothing.
func (d *Design) connect() {
	r, find := &reader{}, d.Finder()
	check := func(o *Object, l *Link) {
		switch {
		case l.Origin != Stated || l.Kind == "site":
			return
		case o.Kind == "waiver" && d.sets[name{l.Kind, l.Name}]:
			l.Set = true
			return
		}
		if to := find.Find(l); to != nil {
			o := object(to)
			l.Kind, l.Name = o.Kind, o.Name // texts that are there once
			return
		}
		if !l.Set { // of a set it is told already
			r.subject = o.Subject()
			d.unknownTarget(r, *l, l.At)
			l.Origin = Faulty
		}
	}
	connectAll(d, r, d.Runs, check)
	connectAll(d, r, d.Loads, check)
	connectAll(d, r, d.Boards, check)
	connectAll(d, r, d.Waivers, check)
	d.Faults = append(d.Faults, r.told()...)
	d.crowded()
}

// maxTogether bounds the sections of runs in one route: each is held against all others.
const maxTogether = 500

// crowded tells routes in which too many sections lie; those beyond lie in none.
func (d *Design) crowded() {
	together := map[string]int{}
	for _, run := range d.Runs {
		for i := range run.Sections {
			l := &run.Sections[i].Route
			if l.Origin != Stated {
				continue
			}
			if together[l.Name]++; together[l.Name] <= maxTogether {
				continue
			}
			if together[l.Name] == maxTogether+1 {
				d.tell("value-impossible", l.At, run.Subject(), fmt.Sprintf("route %q holds more than %d sections of runs, and those beyond are not worked out", l.Name, maxTogether), "write it as the trays, layers or conduits that it is made of")
			}
			d.tight = true
			*l = Link{At: l.At, Origin: Faulty}
		}
	}
}

// referrer is a block that refers to others.
type referrer interface {
	links(see func(*Object, *Link))
}

func connectAll[T referrer](d *Design, r *reader, list []T, check func(*Object, *Link)) {
	for _, o := range list {
		before := len(r.faults)
		if o.links(check); len(r.faults) > before {
			d.loose = append(d.loose, o)
		}
	}
}

func (r *Run) links(see func(*Object, *Link)) {
	see(&r.Object, &r.From)
	see(&r.Object, &r.To)
	see(&r.Object, &r.Cable)
	for i := range r.Sections {
		see(&r.Object, &r.Sections[i].Route)
	}
	for i := range r.Devices {
		see(&r.Object, &r.Devices[i].Board)
	}
	for i := range r.Ends {
		see(&r.Object, &r.Ends[i].Where)
	}
	for i := range r.NeverWith {
		see(&r.Object, &r.NeverWith[i])
	}
}

func (l *Load) links(see func(*Object, *Link)) { see(&l.Object, &l.Where) }

func (b *Board) links(see func(*Object, *Link)) {
	for i := range b.Portions {
		for k := range b.Portions[i].Runs {
			see(&b.Object, &b.Portions[i].Runs[k])
		}
	}
}

func (w *Waiver) links(see func(*Object, *Link)) { see(&w.Object, &w.On) }

// unknownTarget tells a reference to a block that is not there, with near names
// for the first few of them.
func (d *Design) unknownTarget(r *reader, l Link, at source.Range) {
	next, fixes := "", []finding.Fix(nil)
	if d.sets[name{l.Kind, l.Name}] {
		next = fmt.Sprintf(`%s is a set of copies: write %s["KEY"] or %s[copy.key]`, l.Subject(), l.Subject(), l.Subject())
	} else if d.suggested < maxSuggested {
		d.suggested++
		near, done := d.near[name{l.Kind, l.Name}]
		if !done {
			near = suggest(l.Name, d.namesOf(l.Kind))
			if d.near == nil {
				d.near = map[name]string{}
			}
			d.near[name{l.Kind, l.Name}] = near
		}
		next, fixes = near, rightName(at, l, d.namesOf(l.Kind))
		if next == "" {
			next = fmt.Sprintf("declare %s %q, or correct the name", l.Kind, l.Name)
		}
	}
	r.fault("unknown-reference", at, fmt.Sprintf("%s %q is not declared", l.Kind, l.Name), next)
	r.offer(fixes)
}

// firstBroken says where each file is first broken: what is read behind that may be in the
// wrong block.
func firstBroken(faults []Fault) map[*source.File]uint32 {
	first := map[*source.File]uint32{}
	for _, f := range faults {
		if f.Rule == syntax.BrokenText {
			if at, has := first[f.At.File]; !has || f.At.Start < at {
				first[f.At.File] = f.At.Start
			}
		}
	}
	return first
}

// namesOf lists the names of a kind, sorted.
func (d *Design) namesOf(kind string) []string {
	list, done := d.names[kind]
	if !done {
		list = slices.Sorted(maps.Keys(d.index[kind]))
		if d.names == nil {
			d.names = map[string][]string{}
		}
		d.names[kind] = list
	}
	return list
}

// tidy sorts the faults and drops those that copies of one block repeat.
func (d *Design) tidy() {
	broken := firstBroken(d.Faults)
	d.Faults = slices.DeleteFunc(d.Faults, func(f Fault) bool {
		at, has := broken[f.At.File]
		return has && f.Rule != syntax.BrokenText && f.At.Start >= at
	})
	finding.Sort(d.Faults)
	d.Faults = slices.CompactFunc(d.Faults, func(a, b Fault) bool {
		return a.At == b.At && a.Rule == b.Rule && (a.Message == b.Message || a.Subject != b.Subject)
	})
	d.names, d.near = nil, nil
}

// objects calls see with each block that may have copies, in text order of its kind.
func (d *Design) objects(see func(*Object)) {
	for _, o := range d.Sources {
		see(&o.Object)
	}
	for _, o := range d.Boards {
		see(&o.Object)
	}
	for _, o := range d.Loads {
		see(&o.Object)
	}
	for _, o := range d.Routes {
		see(&o.Object)
	}
	for _, o := range d.Cables {
		see(&o.Object)
	}
	for _, o := range d.Runs {
		see(&o.Object)
	}
}

// Copies lists the subjects of the copies in a set, in text order.
func (d *Design) Copies(set Link) []string {
	var list []string
	d.objects(func(o *Object) {
		if o.Kind == set.Kind && o.CopyOf == set.Name {
			list = append(list, o.Subject())
		}
	})
	return list
}

// Siblings lists the subjects of all blocks that share their text with one, itself
// included: the copies of a set. A block that is no copy has none.
func (d *Design) Siblings(subject string) []string {
	kind, object, _ := strings.Cut(subject, ".")
	set, _, copied := strings.Cut(object, "[") // no other name holds a bracket
	if !copied {
		return nil
	}
	return d.Copies(Link{Kind: kind, Name: set})
}

// Nearest suggests the nearest of some known words, or lists them where they are few.
func Nearest(word string, known []string) string { return suggest(word, known) }
