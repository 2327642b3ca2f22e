package design

import (
	"slices"
	"sync/atomic"

	"trefoil/lint/source"
	"trefoil/lint/syntax"
)

// Draft is a design that follows edits of its text: pieces of the text that an edit does not
// touch are not read again, and blocks that read as before are moved along. What blocks are
// to each other is found out anew.
type Draft struct {
	*Design

	lost  []Fault        // why parts of the library could not be had
	files []*source.File // of the design, then those of its library
	texts []*fileText    // of each

	env      *environment
	letTold  []Fault         // of the constants
	letUses  map[string]bool // constants that other constants name
	uses     map[string]int  // of each constant: the blocks that name it
	hangs    map[*block]bool // those with values that hang on other blocks
	astray   map[*block]bool // those that name constants or blocks that are not there
	copied   int             // copies of blocks
	inside   int             // attributes and blocks that stand in them
	taken    []Fault         // names that are given twice
	unlinked []Fault         // references that name nothing
	spent    atomic.Int64    // steps of expressions, since the design was read as a whole
	closed   bool            // edits cannot be followed
}

// block is a top-level block of the text, and what came of it.
type block struct {
	at   source.Range // from its first word to its closing brace
	kind string
	made []any // objects, several where it has copies; none for let and what is not known

	*extra
	fresh  bool // it was read in this update
	stale  bool // it has to be read anew
	placed bool // it counts; else it stands by while its file does not parse
	seen   bool // while it is found out which blocks count
}

// extra is what few blocks have, and what they have while they are read.
type extra struct {
	faults  []Fault
	held    [][]Fault // of each object: what is told of it as a whole
	whole   [][]Fault // the same, which counts only where the whole text could be read
	lets    []letAttr
	used    []string // constants that it names
	figures []figure // where that is all that hangs on constants
	needs   []name   // blocks on which its values hang
	inside  int      // attributes and blocks that stand in its copies
	lost    bool     // it names something that is not there
	circle  bool     // one of its values hangs on itself

	item    any // an object or *copies
	readers []*reader
}

var nothing = &extra{}

// NewDraft decodes a design together with its library, as ReadWith does.
func NewDraft(dir string, files []*source.File, library Library) *Draft {
	t := &Draft{Design: &Design{Dir: dir, index: index{}}, lost: library.Lost}
	t.uses, t.hangs, t.astray = map[string]int{}, map[*block]bool{}, map[*block]bool{}
	t.env, _ = (&reader{spent: &t.spent}).constants(nil)
	t.files = slices.Concat(files, library.Files)
	if _, ok := t.Update(t.files); !ok {
		t.Design, t.closed = ReadWith(dir, files, library), true
	}
	return t
}

// Lacks says that a part of the library could not be had.
func (t *Draft) Lacks() bool { return len(t.lost) > 0 }

// Texts lists the files, those of the library behind the design's own.
func (t *Draft) Texts() []*source.File { return t.files }

// begin reads a block, up to what hangs on constants.
func (b *block) begin(h *syntax.Block, spent *atomic.Int64) {
	r := &reader{file: b.at.File, spent: spent, kept: true}
	b.kind, b.made = h.Type, nil
	b.extra = &extra{readers: []*reader{r}}
	b.item, b.lets = r.top(h)
}

// settle works out what hangs on constants, and makes the copies.
func (b *block) settle(env *environment) {
	switch item := b.item.(type) {
	case nil:
	case *copies:
		made := 0
		item.count(env, &made, &b.inside)
		item.make(env)
		b.made = item.made
		b.readers = append(b.readers, item.readers...)
	default:
		r := b.readers[0]
		r.settle(env)
		b.made = []any{item}
		if !r.mixed {
			b.figures = r.figures
		}
	}
	b.item = nil
	for _, r := range b.readers {
		for word := range r.used {
			if !slices.Contains(b.used, word) {
				b.used = append(b.used, word)
			}
		}
	}
}

// last lists the values of a block that hang on other blocks.
func (b *block) last() (list []*dependent) {
	for _, r := range b.readers {
		list = append(list, r.last...)
	}
	return list
}

// end keeps what its readers told, and lets go of them.
func (b *block) end() {
	for _, r := range b.readers {
		b.faults = append(b.faults, r.told()...)
		b.needs = append(b.needs, r.needs...)
		b.lost, b.circle = b.lost || r.lost, b.circle || r.circle
	}
	b.readers = nil
}

// complete fills in the defaults of its objects, and keeps what is told of each as a whole.
// It is false where a site names a library that cannot be.
func (b *block) complete() bool {
	for i, o := range b.made {
		var d Design
		d.add(o)
		d.complete()
		if d.Broken {
			return false
		}
		if len(d.Faults)+len(d.whole) > 0 {
			if b.held == nil {
				b.held, b.whole = make([][]Fault, len(b.made)), make([][]Fault, len(b.made))
			}
			b.held[i], b.whole[i] = d.Faults, d.whole
		}
	}
	return true
}

// tidy lets go of the room of a block that needs none.
func (b *block) tidy() {
	r := b.extra
	if len(r.faults)+len(r.held)+len(r.lets)+len(r.used)+len(r.needs)+r.inside == 0 && !r.lost {
		b.extra = nothing
	}
}

// move takes a block by so many bytes, modulo 2^32.
func (b *block) move(by uint32) {
	move := func(r *source.Range) {
		if r.File != nil {
			r.Start, r.End = r.Start+by, r.End+by
		}
	}
	move(&b.at)
	for _, o := range b.made {
		places(o, move)
	}
	told := func(list []Fault) {
		for i := range list {
			list[i].Places(move)
		}
	}
	for i := range b.figures {
		b.figures[i].expr.Move(by)
	}
	told(b.faults)
	for i := range b.held {
		told(b.held[i])
		told(b.whole[i])
	}
}
