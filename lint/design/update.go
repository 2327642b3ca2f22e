package design

import (
	"bytes"
	"reflect"
	"slices"
	"sort"
	"sync/atomic"

	"github.com/zclconf/go-cty/cty"

	"trefoil/lint/source"
	"trefoil/lint/syntax"
)

// Edit is what another text did to the objects of a design. All of them are where they belong
// in the new text. Those that say something else are in Swaps, and say it only when their
// swaps are applied.
type Edit struct {
	Swaps []Swap
	Shape bool // blocks came or went, or stand in another order; the text is broken, or so no longer; or so many values are others that they were put in place

	segs  map[*source.File][]seg        // by place in the text before, where blocks went
	moved map[source.Range]source.Range // places in blocks that were read anew
}

// seg is a stretch of the text before that was moved, by modulo 2^32.
type seg struct{ from, to, by uint32 }

// Swap is an object that says something else after an edit: Is of the design, and To, which
// it shall be. Both are pointers of one type, as *Run.
type Swap struct{ Is, To any }

// Apply makes the object say it.
func (s Swap) Apply() { reflect.ValueOf(s.Is).Elem().Set(reflect.ValueOf(s.To).Elem()) }

// Move takes a range of the text before to the text that is there now.
func (e *Edit) Move(r *source.Range) {
	if len(e.moved) > 0 {
		if now, is := e.moved[*r]; is {
			*r = now
			return
		}
	}
	list := e.segs[r.File]
	i := sort.Search(len(list), func(i int) bool { return list[i].to >= r.End })
	if i < len(list) && list[i].from <= r.Start {
		r.Start, r.End = r.Start+list[i].by, r.End+list[i].by
	}
}

// update is a draft on its way to another text.
type update struct {
	*Draft
	e *Edit

	lets  atomic.Bool  // constants are read anew
	old   []*block     // that counted in files that are other now
	read  []*block     // read anew
	back  []*block     // that count again as they are
	other []*block     // with values that were put in place
	ready int          // so many of read are settled
	gone  map[name]any // objects that are gone or read anew, if their names stood for them
	aside map[any]bool // objects of blocks that stand by
	was   lists
	first bool // nothing was read before
	all   bool // values that name what is not there are so many that all of them are worked out again
}

// lists are the blocks of a design that its assessment hangs on.
type lists struct {
	sites    []*Site
	supplies []*Supply
	sources  []*Source
	boards   []*Board
	loads    []*Load
	routes   []*Route
	cables   []*Cable
	runs     []*Run
}

func (d *Design) lists() lists {
	return lists{d.Sites, d.Supplies, d.Sources, d.Boards, d.Loads, d.Routes, d.Cables, d.Runs}
}

func (a *lists) equal(b lists) bool {
	return slices.Equal(a.sites, b.sites) && slices.Equal(a.supplies, b.supplies) && slices.Equal(a.sources, b.sources) && slices.Equal(a.boards, b.boards) &&
		slices.Equal(a.loads, b.loads) && slices.Equal(a.routes, b.routes) && slices.Equal(a.cables, b.cables) && slices.Equal(a.runs, b.runs)
}

// Update gives the files of a design as they are now, those of its library behind its own.
// It is false where the edit is none that can be followed; the draft is good for nothing
// then, and the design has to be read from scratch.
func (t *Draft) Update(files []*source.File) (*Edit, bool) {
	if t.closed {
		return nil, false
	}
	t.closed = true
	u := &update{Draft: t, e: &Edit{segs: map[*source.File][]seg{}, moved: map[source.Range]source.Range{}}, gone: map[name]any{}, aside: map[any]bool{}, was: t.Design.lists(), first: len(t.texts) == 0, all: t.unnamed() >= maxSuggested}
	changed := u.open(files)
	u.parse(changed)
	u.count(changed)
	if !u.small() || !u.constants() || !u.hanging() || !u.link() || u.full() {
		return nil, false
	}
	for _, c := range changed {
		slices.SortFunc(c.segs, func(a, b seg) int { return int(a.from) - int(b.from) })
		u.e.segs[c.File], c.segs, c.spare, c.own = c.segs, nil, nil, nil
	}
	if !u.tell() {
		return nil, false
	}
	t.closed = false
	return u.e, true
}

// each goes through the blocks that count, in text order.
func (t *Draft) each(do func(*block)) {
	for _, x := range t.texts {
		for _, p := range x.pieces {
			for _, b := range p.blocks() {
				do(b)
			}
		}
	}
}

// open finds the texts of files; those that are other than before are cut into pieces anew.
func (u *update) open(files []*source.File) (changed []*fileText) {
	type key struct {
		name    string
		library bool
	}
	known := map[key]*fileText{}
	for _, t := range u.texts {
		known[key{t.File.Name, t.File.Library}] = t
	}
	u.texts, u.files, u.Files = nil, nil, nil
	for _, f := range files {
		k := key{f.Name, f.Library}
		t := known[k]
		switch {
		case t == nil:
			t = &fileText{Text: syntax.Cut(f)}
			for range t.State {
				t.pieces = append(t.pieces, &piece{})
			}
			changed = append(changed, t)
		case !bytes.Equal(t.File.Bytes, f.Bytes):
			t = u.cutAgain(t, f.Bytes)
			changed = append(changed, t)
		}
		delete(known, k)
		u.texts, u.files = append(u.texts, t), append(u.files, t.File)
		if !f.Library {
			u.Files = append(u.Files, t.File)
		}
	}
	for _, t := range known {
		for _, p := range t.pieces {
			u.old = append(u.old, p.blocks()...)
		}
	}
	return changed
}

// parse reads the pieces that are not read yet.
func (u *update) parse(changed []*fileText) {
	texts := make([]*syntax.Text, len(changed))
	for i, t := range changed {
		texts[i] = t.Text
	}
	syntax.Parse(texts, func(i, k int, p syntax.Piece, instead bool) {
		t := changed[i]
		switch {
		case !instead:
			t.pieces[k].own = u.find(t, p, false)
			return
		case t.own == nil:
			t.byPlace()
		}
		t.pieces[k].instead = u.find(t, p, true)
	})
}

// small says that the text holds no more than is read.
func (u *update) small() bool {
	parts, blocks := 0, 0
	for _, t := range u.texts {
		for k, p := range t.pieces {
			parts += t.Parts[k]
			blocks += len(p.blocks())
		}
	}
	return parts <= syntax.MaxParts && blocks <= maxBlocks
}

// full says that there is more of something than counts, or was.
func (u *update) full() bool {
	if u.tight || len(u.Waivers) >= maxWaivers || len(u.House) >= maxHouse {
		return true
	}
	routes := map[string]int{} // in which runs lie that were read
	for _, list := range [][]*block{u.read, u.back} {
		for _, b := range list {
			for _, o := range b.made {
				if r, is := o.(*Run); is {
					for i := range r.Sections {
						routes[r.Sections[i].Route.Name] = 0
					}
				}
			}
		}
	}
	if len(routes) == 0 {
		return false
	}
	for _, r := range u.Runs {
		for i := range r.Sections {
			at := r.Sections[i].Route.Name
			if n, is := routes[at]; is {
				if routes[at] = n + 1; n == maxTogether {
					return true
				}
			}
		}
	}
	return false
}

// count finds out which blocks count now.
func (u *update) count(changed []*fileText) {
	for _, t := range changed {
		for _, p := range t.pieces {
			for _, b := range p.blocks() {
				b.seen = true
			}
		}
	}
	for _, b := range u.old {
		if !b.seen {
			b.placed = false
			u.drop(b)
		}
	}
	for _, t := range changed {
		for _, p := range t.pieces {
			for _, b := range p.blocks() {
				back := !b.placed
				b.seen, b.placed = false, true
				switch {
				case b.fresh:
					u.read = append(u.read, b)
				case back && b.extra != nothing: // others may be other now than when it counted last
					b.fresh, b.extra = true, nothing
					u.read = append(u.read, b)
				case b.stale:
					u.again(b)
				case back:
					u.back = append(u.back, b)
				}
				if b.kind == "let" && (b.fresh || back) {
					u.lets.Store(true)
				}
			}
		}
		for _, p := range t.pieces {
			if p.instead == nil || p.own == nil {
				continue
			}
			for _, b := range p.own.blocks {
				switch {
				case b.placed:
				case b.fresh:
					b.extra = nothing // it is read again when it counts, for it may have moved then
				default:
					for _, o := range b.made {
						u.aside[o] = true
					}
				}
			}
		}
	}
}

// drop takes what a block gave out of the design.
func (u *update) drop(b *block) {
	for _, o := range b.made {
		if key, is := keyOf(o); is && u.entered(o) {
			u.gone[key] = o
		}
	}
	for _, word := range b.used {
		u.uses[word]--
	}
	u.copies(b, -1)
	delete(u.hangs, b)
	delete(u.astray, b)
	if b.kind == "let" {
		u.lets.Store(true)
	}
}

// again has a block read anew.
func (u *update) again(b *block) {
	if b.fresh {
		return
	}
	u.drop(b)
	b.fresh, b.extra = true, nothing
	u.read = append(u.read, b)
}

// keyOf is the name that an object is known by; waivers have none.
func keyOf(o any) (name, bool) {
	b := object(o)
	switch b.Kind {
	case "waiver":
		return name{}, false
	case "site":
		return name{kind: b.Kind}, true
	}
	return name{b.Kind, b.Name}, true
}

// entered says that an object is the one that its name stands for.
func (t *Draft) entered(o any) bool {
	switch b := object(o); b.Kind {
	case "site":
		return o == any(t.Site())
	case "waiver":
		return true
	default:
		return t.index.of(name{b.Kind, b.Name}) == o
	}
}

// constants works out the constants where one of them may be another, and has the blocks
// read anew that name one which is.
func (u *update) constants() bool {
	if !u.lets.Load() {
		return u.settle()
	}
	var blocks []*block
	u.each(func(b *block) {
		if b.kind == "let" {
			u.again(b)
			blocks = append(blocks, b)
		}
	})
	if !u.begin() {
		return false
	}
	var attrs []letAttr
	for _, b := range blocks {
		attrs = append(attrs, b.lets...)
	}
	first := &reader{spent: &u.spent}
	env, list := first.constants(attrs)
	u.Lets, u.letTold, u.letUses = list, first.told(), first.used
	was, now := u.env.values(), env.values()
	other := map[string]bool{}
	came := false
	for word, v := range now {
		before, is := was[word]
		came = came || !is
		if !is || !before.RawEquals(v) {
			other[word] = true
		}
	}
	for word := range was {
		if _, is := now[word]; !is {
			other[word], came = true, true
		}
	}
	if len(other) == 0 {
		return u.settle()
	}
	u.env = env
	var hanging []*block
	u.each(func(b *block) {
		if b.kind == "house_rule" || slices.ContainsFunc(b.used, func(word string) bool { return other[word] }) || came && b.lost {
			hanging = append(hanging, b)
		}
	})
	many := len(hanging) > len(u.Runs)/20
	for _, b := range hanging {
		if !many || !u.inPlace(b) {
			u.again(b)
		}
	}
	return u.settle()
}

// inPlace works out the figures of a block again, where nothing else of it hangs on constants.
func (u *update) inPlace(b *block) bool {
	if b.fresh || b.stale || b.lost || len(b.figures) == 0 {
		return false
	}
	values := make([]float64, len(b.figures))
	for i := range b.figures {
		f := &b.figures[i]
		x, ok := f.expr.Figure(func(reference []byte) (syntax.Decimal, bool) {
			_, d, known := u.env.figure(reference)
			return d, known
		})
		if !ok || f.refuse(x) != "" {
			return false
		}
		values[i] = x
	}
	for i, x := range values {
		b.figures[i].num.Value = x
	}
	u.spent.Add(int64(len(values)))
	u.other = append(u.other, b)
	return true
}

// values are those of the constants.
func (env *environment) values() map[string]cty.Value { return env.ctx.Variables["let"].AsValueMap() }

// begin reads the blocks whose text is not read yet.
func (u *update) begin() bool {
	var bad atomic.Bool
	syntax.Each(len(u.read), func(i int) {
		b := u.read[i]
		if b.readers != nil {
			return
		}
		list, ok := syntax.Stretch(b.at.File, int(b.at.Start), int(b.at.End))
		if !ok || len(list) != 1 {
			bad.Store(true) // as where it could be read only in part
			return
		}
		b.begin(list[0], &u.spent)
	})
	return !bad.Load()
}

// settle reads what is to be read anew, up to what hangs on other blocks.
func (u *update) settle() bool {
	if !u.begin() {
		return false
	}
	list := u.read[u.ready:]
	syntax.Each(len(list), func(i int) { list[i].settle(u.env) })
	u.ready = len(u.read)
	for _, b := range list {
		for _, word := range b.used {
			u.uses[word]++
		}
		u.copies(b, 1)
	}
	return u.copied <= maxMade && u.inside <= maxCopied
}

// copies counts the copies that a block makes.
func (u *update) copies(b *block, times int) {
	if b.inside > 0 {
		u.copied += times * len(b.made)
		u.inside += times * b.inside
	}
}

// hanging has the blocks read anew with values that hang on others which are.
func (u *update) hanging() bool {
	changed := map[name]bool{}
	if len(u.hangs) > 0 {
		for _, b := range u.other {
			for _, o := range b.made {
				if key, is := keyOf(o); is {
					changed[key] = true
				}
			}
		}
	}
	for from := 0; ; {
		for ; from < len(u.read); from++ {
			for _, o := range u.read[from].made {
				if key, is := keyOf(o); is {
					changed[key] = true
				}
			}
		}
		if len(u.hangs)+len(u.astray) == 0 {
			return true
		}
		for key := range u.gone {
			changed[key] = true
		}
		names := u.names()
		var list []*block
		for b := range u.hangs {
			if slices.ContainsFunc(b.needs, func(n name) bool { return changed[n] }) {
				list = append(list, b)
			}
		}
		if names || u.all {
			for b := range u.astray {
				list = append(list, b)
			}
		}
		if len(list) == 0 {
			return true
		}
		for _, b := range list {
			u.again(b)
		}
		if !u.settle() {
			return false
		}
	}
}

// names says that names come or go.
func (u *update) names() bool {
	if len(u.back) > 0 {
		return true
	}
	made := map[name]bool{}
	for _, b := range u.read {
		for _, o := range b.made {
			key, is := keyOf(o)
			if !is {
				continue
			}
			if _, was := u.gone[key]; !was {
				return true
			}
			made[key] = true
		}
	}
	return len(made) != len(u.gone)
}

// link finds out what blocks are to each other.
func (u *update) link() bool {
	names := u.names()
	broken := len(u.lost) > 0
	for _, t := range u.texts {
		broken = broken || len(t.Faults) > 0
	}
	flip := broken != u.Broken
	u.Broken, u.e.Shape = broken, flip || len(u.other) > 0
	if len(u.read)+len(u.back)+len(u.gone)+len(u.old) > 0 {
		u.enter()
		u.list()
	}
	if !u.values() || !u.attached() {
		return false
	}
	u.connectAgain(names || flip || len(u.loose) > 0)
	if u.transfer() {
		u.list()
	}
	u.e.Shape = u.e.Shape || !u.was.equal(u.Design.lists())
	return true
}

// enter brings the index up to date.
func (u *update) enter() {
	plain := len(u.taken)+len(u.sets) == 0
	add := func(b *block) {
		for _, o := range b.made {
			key, is := keyOf(o)
			if !is || key.kind == "site" {
				continue
			}
			if u.index.of(key) != nil || object(o).CopyOf != "" {
				plain = false
				return
			}
			u.index.put(key, o)
		}
	}
	if plain {
		for key := range u.gone {
			u.index.drop(key)
		}
		for _, list := range [][]*block{u.read, u.back} {
			for _, b := range list {
				if plain {
					add(b)
				}
			}
		}
	}
	sites := 0
	u.each(func(b *block) {
		if b.kind == "site" {
			sites += len(b.made)
		}
	})
	if plain && sites < 2 {
		return
	}
	var d Design
	u.each(func(b *block) {
		for _, o := range b.made {
			d.add(o)
		}
	})
	d.enter()
	u.index, u.sets, u.taken = d.index, d.sets, d.Faults
}

// list lists the objects of the design.
func (u *update) list() {
	d := u.Design
	d.Sites, d.Supplies, d.Loads, d.Waivers, d.Approvals, d.Prices, d.House = nil, nil, nil, nil, nil, nil, nil
	d.Sources, d.Boards, d.Routes = make([]*Source, 0, len(d.Sources)), make([]*Board, 0, len(d.Boards)), make([]*Route, 0, len(d.Routes))
	d.Cables, d.Runs = make([]*Cable, 0, len(d.Cables)), make([]*Run, 0, len(d.Runs))
	u.each(func(b *block) {
		for _, o := range b.made {
			if len(u.taken) == 0 || object(o).Kind == "site" || u.entered(o) {
				d.add(o)
			}
		}
	})
}

// values works out the values that hang on other blocks, and completes what was read.
func (u *update) values() bool {
	var last []*dependent
	order := map[*source.File]int{}
	for i, t := range u.texts {
		order[t.File] = i
	}
	slices.SortFunc(u.read, func(a, b *block) int {
		if a.at.File != b.at.File {
			return order[a.at.File] - order[b.at.File]
		}
		return int(a.at.Start) - int(b.at.Start)
	})
	hanging := map[*block]bool{}
	for _, b := range u.read {
		if list := b.last(); len(list) > 0 {
			last = append(last, list...)
			hanging[b] = true
		}
	}
	if len(hanging) > 0 && len(u.taken) > 0 && !u.first {
		return false // which of two blocks of a name counts
	}
	u.suggested, u.Faults = 0, nil
	u.dependents(last, u.env)
	if u.spent.Load() > maxSpent {
		return false
	}
	var bad atomic.Bool
	syntax.Each(len(u.read), func(i int) {
		b := u.read[i]
		b.end()
		if !b.complete() {
			bad.Store(true)
		}
	})
	if bad.Load() {
		return false
	}
	for b := range hanging {
		if !u.first && slices.ContainsFunc(b.needs, func(n name) bool { return refused(u.index.of(n)) }) {
			return false // it is no longer what it was when values that hang on it were worked out
		}
	}
	for _, b := range u.read {
		if b.lost {
			u.astray[b] = true
		}
		if hanging[b] {
			u.hangs[b] = true
		}
		b.tidy()
		b.fresh, b.stale = false, false
	}
	return u.first || u.all || u.unnamed() < maxSuggested
}

// unnamed counts what blocks name in their values that is not there: of many, those for which
// a near name was looked for hang on the others.
func (t *Draft) unnamed() (n int) {
	for b := range t.astray {
		for i := range b.faults {
			if b.faults[i].Rule == "unknown-reference" {
				n++
			}
		}
	}
	return n
}

// refused says that a value of a block was found to be faulty when it was completed.
func refused(o any) bool {
	switch o := o.(type) {
	case *Source:
		return o.Phases.Origin == Faulty
	case *Load:
		return o.Phases.Origin == Faulty
	case *Cable:
		return o.Cores.Origin == Faulty
	}
	return false
}

// attached says that what is read besides the text is what it was: a library and a profile.
func (u *update) attached() bool {
	var was, now *Site
	if len(u.was.sites) > 0 {
		was = u.was.sites[0]
	}
	if len(u.Sites) > 0 {
		now = u.Sites[0]
	}
	if u.first || was == now {
		return true
	}
	for _, s := range []**Site{&was, &now} {
		if *s == nil {
			*s = &Site{}
		}
	}
	profile := func(s *Site) Text {
		if s.Economy == nil {
			return Text{}
		}
		return s.Economy.LoadProfile
	}
	a, b := profile(was), profile(now)
	return len(u.lost)+len(u.profiled) == 0 && was.Library.Origin == now.Library.Origin && slices.Equal(was.Library.Values, now.Library.Values) && a.Origin == b.Origin && a.Value == b.Value
}

// connectAgain tells the references that name nothing: of all blocks, or of those that were
// read anew.
func (u *update) connectAgain(all bool) {
	part := u.Design
	if all {
		for _, x := range u.loose {
			x.links(func(_ *Object, l *Link) {
				if l.Origin == Faulty && l.Kind != "" {
					l.Origin = Stated
				}
			})
		}
		for _, w := range u.Waivers {
			w.On.Set = false
		}
		u.loose, u.unlinked = nil, nil
	} else {
		part = &Design{index: u.index, sets: u.sets, suggested: u.suggested}
		for _, b := range u.read {
			for _, o := range b.made {
				if u.entered(o) {
					part.add(o)
				}
			}
		}
	}
	if u.Broken {
		return
	}
	part.Faults = nil
	part.connect()
	u.unlinked = append(u.unlinked, part.Faults...)
	if part != u.Design {
		u.loose, u.suggested = append(u.loose, part.loose...), part.suggested
	}
}

// transfer finds out which objects that were read anew say the same as before. If so, the
// object that was there takes the places of the new one, and a swap is asked for otherwise.
// It says whether any object stays.
func (u *update) transfer() bool {
	type pair struct {
		block *block
		i     int
		was   any
		same  bool
	}
	var list []pair
	for _, b := range u.read {
		switch b.kind {
		case "waiver", "approved", "price", "house_rule":
			continue // nothing keeps a part of these
		}
		for i, o := range b.made {
			key, _ := keyOf(o)
			if was := u.gone[key]; was != nil && !u.aside[was] && u.entered(o) {
				list = append(list, pair{b, i, was, false})
			}
		}
	}
	syntax.Each(len(list), func(i int) {
		p := &list[i]
		p.same = alike(reflect.ValueOf(p.was).Elem(), reflect.ValueOf(p.block.made[p.i]).Elem())
	})
	to := map[any]any{}
	for _, p := range list {
		now := p.block.made[p.i]
		if p.block.extra != nothing {
			p.block.figures = nil // they are those of the object that was read
		}
		old, neu := object(p.was), object(now)
		to[now] = p.was
		p.block.made[p.i] = p.was
		if key, _ := keyOf(now); key.kind != "site" {
			u.index.put(key, p.was)
		}
		if !p.same {
			u.e.moved[old.At], u.e.moved[old.Whole] = neu.At, neu.Whole
			u.e.Swaps = append(u.e.Swaps, Swap{p.was, now})
			continue
		}
		var at []source.Range
		places(now, func(r *source.Range) { at = append(at, *r) })
		places(p.was, func(r *source.Range) {
			if r.File != nil {
				u.e.moved[*r] = at[0]
				*r = at[0]
			}
			at = at[1:]
		})
	}
	for i, x := range u.loose {
		if was, is := to[x]; is {
			u.loose[i] = was.(referrer)
		}
	}
	return len(list) > 0
}

// tell gathers the faults. It is false where there are so many that what is told of each
// hangs on the others, or where values hang on each other in a circle.
func (u *update) tell() bool {
	for i := range u.profiled {
		u.profiled[i].Places(u.e.Move)
	}
	for i := range u.lost {
		u.lost[i].Places(u.e.Move)
	}
	faults := slices.Concat(u.lost, u.letTold, u.taken, u.unlinked, u.profiled)
	for _, t := range u.texts {
		faults = append(faults, t.Faults...)
		counts := firstBroken(t.Faults)
		for _, p := range t.pieces {
			if p.found() == nil {
				continue
			}
			from := len(faults)
			faults = append(faults, p.found().faults...)
			for _, b := range p.found().blocks {
				if b.extra == nothing {
					continue
				}
				faults = append(faults, b.faults...)
				if b.circle {
					return false
				}
				for i := range b.held {
					if len(u.taken) == 0 || object(b.made[i]).Kind == "site" || u.entered(b.made[i]) {
						faults = append(faults, b.held[i]...)
						if !u.Broken {
							faults = append(faults, b.whole[i]...)
						}
					}
				}
			}
			at, torn := counts[t.File]
			if here := faults[from:]; len(here) >= maxNear && slices.ContainsFunc(here, func(f Fault) bool { return !torn || f.At.Start < at }) {
				return false
			}
		}
	}
	u.Faults = faults
	u.holdPrices()
	u.Design.tidy()
	for i := range u.Lets {
		c := &u.Lets[i]
		c.Used = u.uses[c.Name] > 0 || u.letUses[c.Name]
	}
	return true
}
