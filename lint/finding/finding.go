// Package finding defines what a review tells: a finding at a place in the text.
package finding

import (
	"cmp"
	"slices"

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

	// Percent is the figure that a waiver's accepts is held against; HasPercent says there is one.
	Percent    float64
	HasPercent bool

	Waived bool
	Waiver string // why it is waived: reason and who approved it

	Fingerprint string // by which it is known again in another version of the design
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
