package design

import (
	"bytes"
	"sync"

	"trefoil/lint/source"
	"trefoil/lint/syntax"
)

// fileText is a file in pieces, and what each of them gave.
type fileText struct {
	*syntax.Text
	pieces []*piece

	mu    sync.Mutex
	spare map[string][]*block // while it is read: blocks of the text before, by their text
	own   map[uint32]*block   // while it is read: those that pieces gave on their own, by place
	segs  []seg               // where blocks of the text before went
}

// piece is what a piece of a text gave.
type piece struct {
	own     *found // on its own; nil where it is not read, or does not parse
	instead *found // what stands in its place where the file does not parse
}

func (p *piece) found() *found {
	if p.instead != nil {
		return p.instead
	}
	return p.own
}

// found is what came of a piece.
type found struct {
	blocks []*block
	faults []Fault // outside of blocks
}

// cutAgain cuts another text of a file. Pieces that are as they were are taken over, their
// blocks moved along, and blocks of the others are at hand by their text.
func (u *update) cutAgain(old *fileText, now []byte) *fileText {
	was := old.File.Bytes
	same := prefix(was, now)
	end, by := len(now)-suffix(was[same:], now[same:]), len(now)-len(was)
	old.File.Replace(now)
	t := &fileText{Text: old.Again(same, end, by), spare: map[string][]*block{}}
	t.pieces = make([]*piece, len(t.State))
	first, last := 0, 0 // so many pieces are taken over, from the beginning and from the end
	for first < min(len(t.pieces), len(old.pieces)) && t.Starts[first+1] <= same && t.Starts[first+1] == old.Starts[first+1] {
		t.take(old, first, first)
		first++
	}
	for last < min(len(t.pieces), len(old.pieces))-first {
		k, m := len(t.pieces)-1-last, len(old.pieces)-1-last
		if t.Starts[k] < end || t.Starts[k] != old.Starts[m]+by {
			break
		}
		t.take(old, k, m)
		last++
	}
	for m, p := range old.pieces {
		u.old = append(u.old, p.blocks()...)
		if m < first || m >= len(old.pieces)-last {
			continue
		}
		if p.own != nil {
			for _, b := range p.own.blocks {
				key := string(was[b.at.Start:b.at.End])
				t.spare[key] = append(t.spare[key], b)
			}
		}
	}
	for k, p := range t.pieces {
		if p == nil {
			t.pieces[k] = &piece{}
		} else {
			p.instead = nil
		}
	}
	if tail := t.pieces[len(t.pieces)-last:]; by != 0 && last > 0 {
		t.segs = append(t.segs, seg{uint32(old.Starts[len(old.pieces)-last]), uint32(len(was)), uint32(by)})
		syntax.Each(len(tail), func(i int) {
			if own := tail[i].own; own != nil {
				u.shift(own, uint32(by))
			}
		})
	}
	return t
}

// take takes over a piece.
func (t *fileText) take(old *fileText, k, m int) {
	t.pieces[k], t.State[k], t.Parts[k] = old.pieces[m], old.State[m], old.Parts[m]
}

func (p *piece) blocks() []*block {
	if c := p.found(); c != nil {
		return c.blocks
	}
	return nil
}

// take gives a block of the text before for one that reads the same.
func (u *update) take(t *fileText, at source.Range, instead bool) *block {
	t.mu.Lock()
	defer t.mu.Unlock()
	if instead {
		b := t.own[at.Start]
		if b == nil || b.at != at {
			return nil
		}
		return b
	}
	list := t.spare[string(at.File.Bytes[at.Start:at.End])]
	if len(list) == 0 {
		return nil
	}
	b := list[0]
	t.spare[at.Text()] = list[1:]
	t.segs = append(t.segs, seg{b.at.Start, b.at.End, at.Start - b.at.Start})
	u.move(b, at.Start-b.at.Start)
	return b
}

// shift moves all blocks of a part.
func (u *update) shift(p *found, by uint32) {
	move := func(r *source.Range) { r.Start, r.End = r.Start+by, r.End+by }
	for i := range p.faults {
		p.faults[i].Places(move)
	}
	for _, b := range p.blocks {
		u.move(b, by)
	}
}

// move moves a block to where it stands in the new text.
func (u *update) move(b *block, by uint32) {
	if by == 0 {
		return
	}
	b.move(by)
	switch b.kind {
	case "let":
		u.lets.Store(true)
	case "house_rule": // its expressions are kept, with their places
		b.stale = true
	}
}

// find reads a piece.
func (u *update) find(t *fileText, p syntax.Piece, instead bool) *found {
	r := &reader{file: p.File}
	r.strays(p)
	out := &found{blocks: make([]*block, 0, len(p.Body.Blocks))}
	kept := false
	for _, h := range p.Body.Blocks {
		at := r.whole(h)
		b := u.take(t, at, instead)
		if b == nil {
			b = &block{at: at, fresh: true, extra: nothing}
			b.begin(h, &u.spent)
			_, again := b.item.(*copies)
			kept = kept || again
		}
		out.blocks = append(out.blocks, b)
	}
	if !kept {
		p.Done()
	}
	out.faults = r.faults
	return out
}

// byPlace lists the blocks that pieces gave on their own.
func (t *fileText) byPlace() {
	t.own = map[uint32]*block{}
	for _, p := range t.pieces {
		if p.own != nil {
			for _, b := range p.own.blocks {
				t.own[b.at.Start] = b
			}
		}
	}
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
