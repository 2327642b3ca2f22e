package design

import (
	"bytes"
	"maps"
	"reflect"
	"slices"
	"sort"

	"trefoil/lint/source"
	"trefoil/lint/syntax"
)

// Draft is a design that follows edits of its text: what an edit does not touch is moved
// along, and what it touches is decoded anew.
type Draft struct {
	*Design

	env    *environment
	blocks map[*source.File][]*block // in text order
	uses   map[string]int            // of each constant: the blocks and constants that name it
	hangs  []*block                  // those with values that hang on other blocks
}

// block is a top-level block of the text, and what came of it.
type block struct {
	at     source.Range // from its first word to its closing brace
	kind   string
	labels []string
	made   []any // objects, several where it has copies; none for let and what is not known
	copied bool
	used   []string // constants

	item   any // while reading: an object or *copies
	reader *reader
}

// NewDraft decodes a design together with its library, as ReadWith does.
func NewDraft(dir string, files []*source.File, library Library) *Draft {
	d, chunks, env := readKept(dir, files, library, true)
	t := &Draft{Design: d, env: env, blocks: map[*source.File][]*block{}, uses: map[string]int{}}
	for _, c := range chunks {
		if c == nil {
			continue
		}
		for _, b := range c.blocks {
			b.settle()
			t.blocks[b.at.File] = append(t.blocks[b.at.File], b)
			t.count(b, 1)
		}
	}
	for _, c := range d.Lets { // what other constants name
		if c.Used && t.uses[c.Name] == 0 {
			t.uses[c.Name] = 1
		}
	}
	for _, f := range files {
		for _, b := range t.blocks[f] {
			if b.reader != nil {
				t.hangs = append(t.hangs, b)
				b.reader = nil
			}
		}
	}
	return t
}

// labels are the words of a block's labels.
func labels(b *syntax.Block) []string {
	var list []string
	for _, l := range b.Labels {
		list = append(list, l.Name)
	}
	return list
}

// settle keeps of a block that was read what following edits takes; its reader stays with
// those that hang on other blocks.
func (b *block) settle() {
	readers := []*reader{b.reader}
	switch item := b.item.(type) {
	case nil:
	case *copies:
		b.made, b.copied = item.made, true
		readers = append(readers, item.readers...)
	default:
		b.made = []any{item}
	}
	b.item, b.reader, b.used = nil, nil, nil
	used := map[string]bool{}
	for _, r := range readers {
		maps.Copy(used, r.used)
		if len(r.last) > 0 {
			b.reader = r
		}
	}
	for name := range used {
		b.used = append(b.used, name)
	}
}

func (t *Draft) count(b *block, by int) {
	for _, name := range b.used {
		t.uses[name] += by
	}
}

// Edit is what another text of a file did to the objects of a design. All of them are where
// they belong in the new text. Those that say something else are in Swaps, and say it only
// when their swaps are applied.
type Edit struct {
	Swaps []Swap

	file     *source.File
	from, to uint32         // of the text before: the stretch that was read anew
	by       uint32         // what lies behind it is moved by so much, modulo 2^32
	kept     []source.Range // blocks of the stretch whose text is as it was, by place of the text before
	keptBy   []uint32
	moved    map[source.Range]source.Range // places in the others
}

// Swap is an object that says something else after an edit: Is of the design, and To, which
// it shall be. Both are pointers of one type, as *Run.
type Swap struct{ Is, To any }

// Apply makes the object say it.
func (s Swap) Apply() { reflect.ValueOf(s.Is).Elem().Set(reflect.ValueOf(s.To).Elem()) }

// Move takes a range of the text before to the text that is there now.
func (e *Edit) Move(r *source.Range) {
	switch {
	case len(e.moved) > 0 && e.stands(r):
	case r.File != e.file || r.Start < e.from:
	case r.Start >= e.to:
		r.Start, r.End = r.Start+e.by, r.End+e.by
	default:
		for i, b := range e.kept {
			if r.Start >= b.Start && r.End <= b.End {
				r.Start, r.End = r.Start+e.keptBy[i], r.End+e.keptBy[i]
				return
			}
		}
	}
}

// stands moves a range of a block that was decoded anew.
func (e *Edit) stands(r *source.Range) bool {
	now, is := e.moved[*r]
	if is {
		*r = now
	}
	return is
}

// again is a block that is decoded anew.
type again struct {
	block *block
	now   *syntax.Block
	next  *block // what came of it
}

// Edit gives a file of the design another text. It is false, with nothing changed, where the
// edit is none that can be followed: blocks come, go or change their names, a constant, a
// price list or a rule of the house is touched, or the text is broken.
func (t *Draft) Edit(f *source.File, text []byte) (*Edit, bool) {
	was := f.Bytes
	list := t.blocks[f]
	if t.Broken || t.suggested >= maxSuggested || f.Library || !slices.Contains(t.Files, f) {
		return nil, false
	}
	s, ok := stretch(list, was, text)
	if !ok {
		return nil, false
	}
	f.Replace(text)
	e, ok := t.edit(f, list, s, was)
	if !ok {
		f.Replace(was)
	}
	return e, ok
}

// span is the stretch of a text that an edit touches: whole blocks from first up to last,
// and what lies between them.
type span struct {
	first, last int
	from, to    int // of the text before
	by          int // to is moved by so much
}

// stretch finds the blocks that an edit touches. The stretch begins behind the line on which
// the block before it ends, and ends where the next block begins.
func stretch(list []*block, was, now []byte) (s span, ok bool) {
	same := prefix(was, now)
	tail := suffix(was[same:], now[same:])
	end := len(was) - tail
	s = span{to: len(was), by: len(now) - len(was), last: len(list)}
	s.first = sort.Search(len(list), func(i int) bool { return lineAfter(was, int(list[i].at.End)) > same })
	if s.first > 0 {
		at := int(list[s.first-1].at.End)
		s.from = lineAfter(was, at)
		rest := bytes.TrimSpace(was[at:s.from])
		if len(rest) > 0 && rest[0] != '#' && !bytes.HasPrefix(rest, []byte("//")) {
			return s, false
		}
	}
	s.last = s.first + sort.Search(len(list)-s.first, func(i int) bool { return int(list[s.first+i].at.Start) > end })
	if s.last < len(list) {
		s.to = int(list[s.last].at.Start)
		line := now[:s.to+s.by]
		line = line[bytes.LastIndexByte(line, '\n')+1:]
		if len(bytes.TrimSpace(line)) > 0 {
			return s, false
		}
	}
	return s, s.from <= s.to && s.from <= s.to+s.by
}

func lineAfter(text []byte, at int) int {
	if i := bytes.IndexByte(text[at:], '\n'); i >= 0 {
		return at + i + 1
	}
	return len(text)
}

// prefix counts the bytes that two texts have in common at the beginning.
func prefix(a, b []byte) int {
	const step = 4 << 10
	n := 0
	for n+step <= min(len(a), len(b)) && bytes.Equal(a[n:n+step], b[n:n+step]) {
		n += step
	}
	for n < min(len(a), len(b)) && a[n] == b[n] {
		n++
	}
	return n
}

// suffix counts those at the end.
func suffix(a, b []byte) int {
	const step = 4 << 10
	n := 0
	for n+step <= min(len(a), len(b)) && bytes.Equal(a[len(a)-n-step:len(a)-n], b[len(b)-n-step:len(b)-n]) {
		n += step
	}
	for n < min(len(a), len(b)) && a[len(a)-1-n] == b[len(b)-1-n] {
		n++
	}
	return n
}

func (t *Draft) edit(f *source.File, list []*block, s span, was []byte) (*Edit, bool) {
	e := &Edit{file: f, from: uint32(s.from), to: uint32(s.to), by: uint32(s.by), moved: map[source.Range]source.Range{}}
	now, ok := syntax.Stretch(f, s.from, s.to+s.by)
	if !ok || len(now) != s.last-s.first {
		return nil, false
	}
	r := &reader{file: f}
	var redo []*again
	var kept []*block // in the stretch, of the same text
	at := map[*block]source.Range{}
	for i, b := range list[s.first:s.last] {
		whole := r.whole(now[i])
		if b.kind != now[i].Type || !slices.Equal(b.labels, labels(now[i])) {
			return nil, false
		}
		at[b] = whole
		switch {
		case bytes.Equal(was[b.at.Start:b.at.End], f.Bytes[whole.Start:whole.End]):
			kept = append(kept, b)
		case !t.follows(b, now[i]):
			return nil, false
		default:
			redo = append(redo, &again{block: b, now: now[i]})
		}
	}
	moved := slices.Concat(kept, list[s.last:])
	for _, b := range list[s.last:] {
		at[b] = source.Range{File: f, Start: b.at.Start + e.by, End: b.at.End + e.by}
	}
	for _, b := range moved { // expressions of these are kept, with their places
		if b.kind == "house_rule" && at[b] != b.at || len(redo) > 0 && slices.Contains(t.hangs, b) {
			redo = append(redo, &again{block: b})
		}
	}
	if len(redo) > 0 {
		for _, b := range t.hangs {
			if !slices.ContainsFunc(redo, func(a *again) bool { return a.block == b }) {
				redo = append(redo, &again{block: b})
			}
		}
	}
	for _, a := range redo {
		if a.now != nil {
			continue
		}
		whole, is := at[a.block]
		if !is {
			whole = a.block.at
		}
		one, ok := syntax.Stretch(whole.File, int(whole.Start), int(whole.End))
		if !ok || len(one) != 1 || whole.File.Library {
			return nil, false
		}
		a.now = one[0]
	}
	faults, ok := t.decode(e, redo)
	if !ok || !t.told(e, list, s, redo) {
		return nil, false
	}
	for _, a := range redo { // from here on nothing is refused
		t.compare(e, a)
		t.count(a.block, -1)
		t.count(a.next, 1)
		a.block.used = a.next.used
	}
	again := map[*block]bool{}
	for _, a := range redo {
		again[a.block] = true
		if whole, is := at[a.block]; is {
			a.block.at = whole
		}
	}
	for _, b := range moved {
		by := at[b].Start - b.at.Start
		if again[b] || by == 0 {
			continue
		}
		if b.at.Start < e.to {
			e.kept, e.keptBy = append(e.kept, b.at), append(e.keptBy, by)
		}
		for _, o := range b.made {
			places(o, func(r *source.Range) {
				if r.File != nil {
					r.Start, r.End = r.Start+by, r.End+by
				}
			})
		}
		b.at = at[b]
	}
	for i := range t.Faults {
		t.Faults[i].Places(e.Move)
	}
	t.Faults = append(t.Faults, faults...)
	t.tidy()
	for i := range t.Lets {
		c := &t.Lets[i]
		c.Used = t.uses[c.Name] > 0
		e.Move(&c.At)
		e.Move(&c.Cut)
	}
	return e, true
}

// follows says that a change of a block's text can be followed.
func (t *Draft) follows(b *block, now *syntax.Block) bool {
	switch b.kind {
	case "run", "source", "board", "route", "cable", "load", "supply", "waiver", "approved":
	case "site": // what other files hang on is read by others
		s := b.made[0].(*Site)
		if s != t.Site() || s.Library.Origin != Absent || now.Attribute("library") != nil || s.Economy != nil {
			return false
		}
		for _, inner := range now.Blocks {
			if inner.Type == "economy" {
				return false
			}
		}
	default:
		return false
	}
	if len(b.made) == 0 || b.copied != (mayCopy(b.kind) && now.Attribute("copies") != nil) {
		return false
	}
	return true
}

// entered says that an object is the one that its name stands for.
func (t *Draft) entered(o any) bool {
	b := object(o)
	switch b.Kind {
	case "site":
		return o == any(t.Site())
	case "waiver":
		return true
	}
	return t.index[name{b.Kind, b.Name}] == o
}

// decode reads blocks anew, and gives what is told of them.
func (t *Draft) decode(e *Edit, redo []*again) ([]Fault, bool) {
	if len(redo) == 0 {
		return nil, true
	}
	if len(t.hangs) > 0 && len(t.Faults) > 0 {
		return nil, false // what is faulty by being held against other values does not look as it did when they were read
	}
	part := &Design{index: t.index, sets: t.sets}
	var readers []*reader
	t.env.spent.Store(0)
	for _, a := range redo {
		file := a.block.at.File
		a.next = &block{kind: a.block.kind, reader: &reader{file: file, env: t.env, spent: t.env.spent}}
		if a.block.copied {
			k := &copies{file: file, block: a.now}
			var made, copied int
			k.count(t.env, &made, &copied)
			k.make(t.env)
			if len(k.made) != len(a.block.made) {
				return nil, false
			}
			a.next.item = k
			readers = append(readers, k.readers...)
		} else if o := a.next.reader.block(a.now); o != nil {
			a.next.reader.settle(t.env)
			a.next.item = o
			readers = append(readers, a.next.reader)
		}
		a.next.settle()
		if len(a.next.made) != len(a.block.made) || (a.next.reader != nil) != slices.Contains(t.hangs, a.block) {
			return nil, false
		}
		for i, o := range a.next.made {
			if object(o).Name != object(a.block.made[i]).Name || !t.entered(a.block.made[i]) {
				return nil, false
			}
			part.add(o)
		}
	}
	if len(part.House) > 0 && part.Sites != nil {
		return nil, false
	}
	var last []*dependent
	for _, r := range readers {
		last = append(last, r.last...)
	}
	if len(last) > 0 {
		index := maps.Clone(t.index)
		for _, a := range redo {
			for _, o := range a.next.made {
				if b := object(o); b.Kind != "waiver" && b.Kind != "site" {
					index[name{b.Kind, b.Name}] = o
				}
			}
		}
		whole := &Design{index: index, sets: t.sets, Sites: t.Sites}
		if len(part.Sites) > 0 {
			whole.Sites = part.Sites
		}
		whole.dependents(last, t.env)
	}
	for _, r := range readers {
		part.Faults = append(part.Faults, r.told()...)
	}
	part.complete()
	part.connect()
	part.names = nil
	return part.Faults, !part.Broken && part.suggested == 0 && t.env.spent.Load() <= maxSpent
}

// told drops what was told of blocks that are decoded anew. It is false where something is
// told between blocks, or hangs on the text of others.
func (t *Draft) told(e *Edit, list []*block, s span, redo []*again) bool {
	if len(t.Faults) == 0 {
		return true
	}
	within := func(at source.Range, b *block) bool {
		return at.File == b.at.File && at.Start >= b.at.Start && at.Start < b.at.End
	}
	gone := make([]bool, len(t.Faults))
	for i := range t.Faults {
		f := &t.Faults[i]
		if f.At.File == e.file && f.At.Start >= e.from && f.At.Start < e.to &&
			!slices.ContainsFunc(list[s.first:s.last], func(b *block) bool { return within(f.At, b) }) {
			return false
		}
		for _, a := range redo {
			if within(f.At, a.block) {
				gone[i] = true
				if f.Rule == "name-taken" {
					return false
				}
			}
		}
	}
	kept := t.Faults[:0:0]
	for i := range t.Faults {
		if !gone[i] {
			kept = append(kept, t.Faults[i])
		}
	}
	t.Faults = kept
	return true
}

// compare finds out whether what was decoded anew says the same as before. If so, the object
// takes the places of the new one, and a swap is asked for otherwise.
func (t *Draft) compare(e *Edit, a *again) {
	for i, was := range a.block.made {
		now := a.next.made[i]
		old, neu := object(was), object(now)
		if a.block.kind == "house_rule" || a.block.kind == "waiver" || a.block.kind == "approved" {
			e.moved[old.At], e.moved[old.Whole] = neu.At, neu.Whole
			Swap{was, now}.Apply() // nothing keeps a part of these
			continue
		}
		if !alike(reflect.ValueOf(was).Elem(), reflect.ValueOf(now).Elem()) {
			e.moved[old.At], e.moved[old.Whole] = neu.At, neu.Whole
			e.Swaps = append(e.Swaps, Swap{was, now})
			continue
		}
		var to []source.Range
		places(now, func(r *source.Range) { to = append(to, *r) })
		places(was, func(r *source.Range) {
			if r.File != nil {
				e.moved[*r] = to[0]
				*r = to[0]
			}
			to = to[1:]
		})
	}
}

// object is what every block has, of an object of any kind.
func object(o any) *Object {
	switch o := o.(type) {
	case *Site:
		return &o.Object
	case *Supply:
		return &o.Object
	case *Source:
		return &o.Object
	case *Board:
		return &o.Object
	case *Load:
		return &o.Object
	case *Route:
		return &o.Object
	case *Cable:
		return &o.Object
	case *Run:
		return &o.Object
	case *Waiver:
		return &o.Object
	case *Approved:
		return &o.Object
	case *Price:
		return &o.Object
	case *HouseRule:
		return &o.Object
	}
	return nil
}

var rangeType = reflect.TypeFor[source.Range]()

// alike says that two objects say the same, wherever they stand.
func alike(a, b reflect.Value) bool {
	if a.Type() == rangeType {
		return a.Field(0).IsNil() == b.Field(0).IsNil()
	}
	switch a.Kind() {
	case reflect.Struct:
		for i := range a.NumField() {
			if !alike(a.Field(i), b.Field(i)) {
				return false
			}
		}
		return true
	case reflect.Slice:
		if a.Len() != b.Len() {
			return false
		}
		for i := range a.Len() {
			if !alike(a.Index(i), b.Index(i)) {
				return false
			}
		}
		return true
	case reflect.Array:
		for i := range a.Len() {
			if !alike(a.Index(i), b.Index(i)) {
				return false
			}
		}
		return true
	case reflect.Pointer:
		if a.IsNil() || b.IsNil() {
			return a.IsNil() == b.IsNil()
		}
		return alike(a.Elem(), b.Elem())
	}
	return a.Equal(b)
}
