// Package compare holds two versions of a design against each other: what was edited, which
// figures moved with it, and which verdicts are new, gone, worse or better.
//
// It stands between engine and report: two checked designs -> one comparison. What causes
// what is not guessed: each edit is taken back by itself in the later version, that is
// worked out anew, and what is another figure or verdict then hangs on the edit.
package compare

import (
	"trefoil/lint/engine"
	"trefoil/lint/finding"
	"trefoil/lint/source"
	"trefoil/lint/syntax"
	"trefoil/ratings/quantity"
)

// Side is one version of a design.
type Side struct {
	Name   string         // what people call it: "HEAD (1a2b3c4d5e)", "the working tree"
	Result *engine.Result // nil where there is no design
	Absent string         // why there is none
}

// Broken says that the text of this side could not be read whole.
func (s *Side) Broken() bool { return s.Result != nil && s.Result.Review.Design.Broken }

// Change says what became of a block.
type Change uint8

// A block is new, gone, says something else, has another name, or says something else
// though its own text is as it was.
const (
	Added Change = iota
	Removed
	Changed
	Renamed
	Follows
)

// String is the word of the change.
func (c Change) String() string {
	return [...]string{"added", "removed", "changed", "renamed", "follows"}[c]
}

// Edit is the change of one block of the text, with all copies made of it, or the same
// change of several blocks of a kind.
type Edit struct {
	Change     Change
	Subject    string       // "route.roof-north"; the set where it makes copies
	Subjects   []string     // all of them, of several blocks
	Was        string       // the subject's earlier name where it is another
	At, WasAt  source.Range // the first line of the block; unknown on the side that lacks it
	Added      []string     // blocks that are new
	Removed    []string     // and gone
	Properties []Property

	index map[said]int // of Properties
	back  []patch      // what takes it back in the later text; nil where that cannot be
}

// Property is an attribute that says something else.
type Property struct {
	Part      string // "section route.yard"; "" of the block itself
	Name      string // "" of a part that is new or gone as a whole
	Was, Now  string // as HCL writes it; "" where it is not stated
	WasAt, At source.Range
	Subjects  []string // the blocks that it changed in, with their new names
	Unusable  bool     // the new value is written and cannot be used
}

// Figure is a figure of a run that effects are told of. Its key is that of calc.
type Figure struct {
	Key, Label string
	Unit       quantity.Unit
}

// Move is a figure of one run that moved.
type Move struct {
	Subject  string
	Was, Now quantity.Maybe
}

// Share is the move in percent of what it was; false where that is not known or was 0.
func (m *Move) Share() (float64, bool) {
	if !m.Was.Known || !m.Now.Known || m.Was.Value == 0 {
		return 0, false
	}
	return 100 * (m.Now.Value - m.Was.Value) / m.Was.Value, true
}

// Cause says which edits something hangs on: indices of Edits. Each of them taken back makes
// it another; where Any is set only all of them do, for any one is enough for it. Without
// edits it is not known.
type Cause struct {
	Edits []int
	Any   bool
}

// Effect is a figure that moved, in one direction and by one cause, of some runs.
type Effect struct {
	Figure *Figure
	Moves  []Move // the greatest first
	Cause  Cause
}

// Status says what became of a finding.
type Status uint8

// A finding is new, its severity or figure got worse, its waiver is gone; it is waived now,
// got better, or is gone. The first three are for the worse.
const (
	New Status = iota
	Worsened
	Unwaived
	Waived
	Bettered
	Cleared
)

// String is the word of the status.
func (s Status) String() string {
	return [...]string{"new", "worsened", "no longer waived", "waived now", "bettered", "cleared"}[s]
}

// Verdict is what became of a finding.
type Verdict struct {
	Status Status
	Now    *finding.Finding // nil where it is gone
	Was    *finding.Finding // nil where it is new
	Cause  Cause
}

// Finding is the finding as it stands, or stood.
func (v *Verdict) Finding() *finding.Finding {
	if v.Now != nil {
		return v.Now
	}
	return v.Was
}

// Blocks says that the verdict is one that a change should be stopped for at a level: new,
// or raised to it, or no longer waived.
func (v *Verdict) Blocks(level finding.Severity) bool {
	switch {
	case v.Now == nil || v.Now.Waived || v.Now.Severity < level:
		return false
	case v.Status == New || v.Status == Unwaived:
		return true
	}
	return v.Status == Worsened && v.Was.Severity < level
}

// Total is a sum over the design.
type Total struct {
	Key, Label string
	Unit       quantity.Unit
	Was, Now   quantity.Maybe
	Whose      string // the run that is the worst, of a margin
}

// Comparison is what came of it.
type Comparison struct {
	Was, Now Side
	Edits    []Edit
	Effects  []Effect
	Verdicts []Verdict
	Same     int // findings that stand as they stood
	Totals   []Total
	Untraced string // why causes were not looked for, "" where they were
}

// Blocks counts the verdicts that a change should be stopped for.
func (c *Comparison) Blocks(level finding.Severity) int {
	n := 0
	for i := range c.Verdicts {
		if c.Verdicts[i].Blocks(level) {
			n++
		}
	}
	return n
}

// Fresh lists the findings of the later version that are new, raised, or no longer waived.
func (c *Comparison) Fresh() []finding.Finding {
	var list []finding.Finding
	fresh := map[*finding.Finding]bool{}
	for i := range c.Verdicts {
		if v := &c.Verdicts[i]; v.Status == New || v.Status == Unwaived || v.Status == Waived && v.Was == nil || v.Status == Worsened && v.Now.Severity > v.Was.Severity {
			fresh[v.Now] = true
		}
	}
	for i := range c.Now.findings() {
		if f := &c.Now.Result.Findings[i]; fresh[f] {
			list = append(list, *f)
		}
	}
	return list
}

// Again works the later version out anew with other texts in the place of some of its
// files.
type Again func(texts map[*source.File][]byte) (*engine.Result, error)

// Compare holds two versions against each other. again may be nil: then causes are not
// looked for.
func Compare(was, now Side, again Again) *Comparison {
	c := &Comparison{Was: was, Now: now}
	p := match(was.design(), now.design())
	c.Edits = append(p.edits(), tables(was.Result, now.Result)...)
	var before, after measured
	syntax.Together(func() { before = measure(was.Result, p.renamed) }, func() { after = measure(now.Result, nil) })
	moves := moved(before, after)
	c.Verdicts, c.Same = verdicts(was.findings(), now.findings(), p.renamed)
	c.Totals = totals(before, after)
	t := tracer{c: c, again: again, before: before, after: after, was: was.findings(), renamed: p.renamed}
	t.trace(moves)
	return c
}
