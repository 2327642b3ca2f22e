// Package fix makes new text of edits: fixes of findings are checked, merged and applied
// to the bytes that were read, and blocks of HCL are changed by bytes, never printed anew
// from a tree.
//
// text -> syntax -> ... -> rules -> findings -> fix -> text. It knows nothing of designs;
// who applies fixes reads and checks what came out.
package fix

import (
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"slices"

	"trefoil/lint/align"
	"trefoil/lint/finding"
	"trefoil/lint/source"
)

// Proposal is a fix with what it is for.
type Proposal struct {
	Rule    string
	Subject string
	At      source.Range // of the finding
	finding.Fix
}

// Refusal is a fix that is not made, and why.
type Refusal struct {
	Proposal
	Reason string
}

// Outcome is what came of a list of fixes.
type Outcome struct {
	Files   []*source.File // all files, those that changed with their new text
	Made    []Proposal
	Waiting []Proposal // they overlap with one that is made, and have to be looked at again afterwards
	Refused []Refusal
}

// Apply makes fixes, each whole or not at all, in the order given. Edits that stand in
// several fixes alike are made once; of two that overlap the first counts and the second
// waits. A file that was in its canonical form is so again afterwards.
func Apply(files []*source.File, fixes []Proposal) Outcome {
	var out Outcome
	edits := map[*source.File][]finding.Edit{}
	for _, p := range fixes {
		if why := refuse(files, p.Edits); why != "" {
			out.Refused = append(out.Refused, Refusal{p, why})
			continue
		}
		fresh := make([]finding.Edit, 0, len(p.Edits))
		waits := false
		for _, e := range p.Edits {
			switch known := edits[e.At.File]; {
			case slices.Contains(known, e):
			case slices.ContainsFunc(known, func(o finding.Edit) bool { return overlap(o.At, e.At) || o.At == e.At }):
				waits = true
			default:
				fresh = append(fresh, e)
			}
		}
		if waits {
			out.Waiting = append(out.Waiting, p)
			continue
		}
		for _, e := range fresh {
			edits[e.At.File] = append(edits[e.At.File], e)
		}
		out.Made = append(out.Made, p)
	}
	for _, f := range files {
		if list := edits[f]; len(list) > 0 {
			f = &source.File{Name: f.Name, Bytes: rewrite(f, list)}
		}
		out.Files = append(out.Files, f)
	}
	return out
}

// refuse says why edits cannot be made, "" when they can.
func refuse(files []*source.File, edits []finding.Edit) string {
	changes := false
	for i, e := range edits {
		f := e.At.File
		switch {
		case f != nil && f.Library:
			return fmt.Sprintf("%s belongs to a library that other designs use too; change it there", f.Name)
		case !slices.Contains(files, f) || e.At.Start > e.At.End || int(e.At.End) > len(f.Bytes):
			return "it lies outside of the text that was read"
		}
		for _, o := range edits[:i] {
			if o.At.File == f && overlap(o.At, e.At) {
				return "its own edits overlap"
			}
		}
		changes = changes || e.At.Text() != e.Text
	}
	if !changes {
		return "it changes nothing"
	}
	return ""
}

// overlap says that two stretches of a file share a byte, or that one is a place inside of
// the other. Those that only touch do not.
func overlap(a, b source.Range) bool {
	return a.File == b.File && a.Start < b.End && b.Start < a.End
}

// rewrite puts the edits of one file into its text. Several at one place stand in the order
// given.
func rewrite(f *source.File, edits []finding.Edit) []byte {
	slices.SortStableFunc(edits, func(a, b finding.Edit) int {
		return cmp.Or(cmp.Compare(a.At.Start, b.At.Start), cmp.Compare(a.At.End, b.At.End))
	})
	var b bytes.Buffer
	at := uint32(0)
	for _, e := range edits {
		b.Write(f.Bytes[at:e.At.Start])
		b.WriteString(e.Text)
		at = e.At.End
	}
	b.Write(f.Bytes[at:])
	return aligned(f, b.Bytes())
}

// aligned brings new text of a file into its canonical form, if the old one was in it.
func aligned(f *source.File, text []byte) []byte {
	if was, faults := align.Text(f); len(faults) > 0 || !bytes.Equal(was, f.Bytes) {
		return text
	}
	now, faults := align.Text(&source.File{Name: f.Name, Bytes: text})
	if len(faults) > 0 {
		return text
	}
	return now
}

// maxTurns bounds how often a design is looked at again: one fix may bring out the next.
const maxTurns = 10

// Look is what a design offers when it is read: its files, and what can be mended in them.
type Look struct {
	Files     []*source.File
	Proposals []Proposal
	Refused   []Refusal
}

// Settled is what came of fixes that were made until no more was found.
type Settled struct {
	Was     []*source.File // as they were read first
	Files   []*source.File // the same, with their new text
	Turns   []Outcome      // one for each time that fixes were made
	Refused []Refusal      // at the last look
}

// Waited counts the fixes that had to wait for a later turn.
func (s *Settled) Waited() int {
	n := 0
	for _, t := range s.Turns {
		n += len(t.Waiting)
	}
	return n
}

// Changed lists the files whose text is another now, as they were and as they are.
func (s *Settled) Changed() (was, now []*source.File) {
	for i, f := range s.Was {
		if !bytes.Equal(f.Bytes, s.Files[i].Bytes) {
			was, now = append(was, f), append(now, s.Files[i])
		}
	}
	return was, now
}

// Settle makes what look proposes and has it look at the outcome again, until nothing is
// proposed that can be made. Look is handed the texts that lie over the files, by name; none
// the first time.
func Settle(look func(texts map[string][]byte) (Look, error)) (Settled, error) {
	var s Settled
	var texts map[string][]byte
	for {
		l, err := look(texts)
		if err != nil {
			return s, err
		}
		if s.Was == nil {
			s.Was = l.Files
		}
		out := Apply(l.Files, l.Proposals)
		s.Files, s.Refused = out.Files, append(l.Refused, out.Refused...)
		if len(out.Made) == 0 {
			return s, nil
		}
		if len(s.Turns) == maxTurns {
			return s, errors.New("the fixes do not come to an end: each turn brings out others")
		}
		s.Turns = append(s.Turns, out)
		texts = make(map[string][]byte, len(s.Files))
		for _, f := range s.Files {
			texts[f.Name] = f.Bytes
		}
	}
}
