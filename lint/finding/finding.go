// Package finding defines what a review tells: a finding at a place in the text.
package finding

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"trefoil/lint/source"
)

// Severity orders findings.
type Severity uint8

// Note informs, Warning asks for attention, Error must be mended or waived.
const (
	Note Severity = iota
	Warning
	Error
)

// String is the word of the severity: note, warning or error.
func (s Severity) String() string {
	switch s {
	case Error:
		return "error"
	case Warning:
		return "warning"
	}
	return "note"
}

// ParseSeverity reads the word of a severity.
func ParseSeverity(word string) (Severity, bool) {
	for _, s := range []Severity{Note, Warning, Error} {
		if s.String() == word {
			return s, true
		}
	}
	return Note, false
}

// Related is another place that took part in the finding.
type Related struct {
	At      source.Range
	Message string
}

// Figure is one number of a finding, under the key that calc uses for it.
type Figure struct {
	Key   string
	Value float64
}

// Kind says what a fix does to the design.
type Kind uint8

// Neutral says the same in other words, Design has another installation built, Advice is
// a text for people, without edits.
const (
	Neutral Kind = iota
	Design
	Advice
)

// String is the word of the kind: neutral, design or advice.
func (k Kind) String() string {
	switch k {
	case Design:
		return "design"
	case Advice:
		return "advice"
	}
	return "neutral"
}

// Edit puts a text in the place of a stretch of a file as it was read. A stretch of no
// length is a place to insert at.
type Edit struct {
	At   source.Range
	Text string
}

// Fix is one way to mend a finding. Its edits belong together: all are made or none.
type Fix struct {
	Name    string // of its own among the fixes of a rule, as in "right-word"
	Kind    Kind
	Message string // what it changes; lower case, no full stop
	Edits   []Edit
}

// Finding is one thing to tell about a design.
type Finding struct {
	Rule     string
	Severity Severity
	At       source.Range // the attribute to change where it is written, else the block's first line
	Message  string       // what, where, by how much; lower case, no full stop
	Next     string       // what to do next
	Subject  string       // "run.inv-1"
	Figures  []Figure
	Related  []Related
	Memory   []string // references of remembered figures on which the finding rests
	Fixes    []Fix    // ways to mend it; the first is the one that is made

	// Percent is the figure that a waiver's accepts is held against; HasPercent says there is one.
	Percent    float64
	HasPercent bool

	Waived bool
	Waiver string // why it is waived: reason and who approved it

	Fingerprint string // by which it is known again in another version of the design
}

// Places shows each range of a finding, to be moved with its text.
func (f *Finding) Places(see func(*source.Range)) {
	see(&f.At)
	for i := range f.Related {
		see(&f.Related[i].At)
	}
	for i := range f.Fixes {
		for k := range f.Fixes[i].Edits {
			see(&f.Fixes[i].Edits[k].At)
		}
	}
}

// Sort orders findings by file, offset, rule, subject and message.
func Sort(list []Finding) {
	slices.SortStableFunc(list, func(a, b Finding) int {
		switch {
		case a.At.Before(b.At):
			return -1
		case b.At.Before(a.At):
			return 1
		}
		return cmp.Or(cmp.Compare(a.Rule, b.Rule), cmp.Compare(a.Subject, b.Subject), cmp.Compare(a.Message, b.Message))
	})
}

// Names are names for a message: the first of them and how many there are, so that the many
// that are only counted need no room.
type Names struct {
	first []string
	count int
	last  string // that AddSorted was given
}

// told is how many names stand in a message at most; of more, the last one gives way to how
// many are left out.
const told = 6

// Add puts a name behind the others.
func (n *Names) Add(name string) {
	if n.count++; n.count <= told {
		n.first = append(n.first, name)
	}
}

// AddSorted puts a name where the alphabet has it. The same name several times running counts
// once.
func (n *Names) AddSorted(name string) {
	if n.count > 0 && n.last == name {
		return
	}
	n.last = name
	n.count++
	at, _ := slices.BinarySearch(n.first, name)
	if at == told {
		return
	}
	n.first = slices.Insert(n.first[:min(len(n.first), told-1)], at, name)
}

// Full says that further names are only counted, so that no text need be made for them.
func (n Names) Full() bool { return n.count >= told }

// Len is how many names there are.
func (n Names) Len() int { return n.count }

// String lists a few of the names, and counts the rest where there are many.
func (n Names) String() string {
	if n.count > told {
		return strings.Join(n.first[:told-1], ", ") + fmt.Sprintf(" and %d more", n.count-told+1)
	}
	return strings.Join(n.first, ", ")
}

// Few lists some names for a message, and counts the rest where there are many.
func Few(names []string) string {
	return Names{first: names[:min(len(names), told)], count: len(names)}.String()
}
