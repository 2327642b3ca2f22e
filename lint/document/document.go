// Package document sets a reviewed design out as the report that leaves the office: what
// was found, what it rests on, the schedules, the rise to each source, the working of each
// run. Of builds it once, free of any format; HTML and other writers print it.
//
// It stands after report: text -> design -> assessment -> rules -> findings -> schedules ->
// document -> writers. It calculates nothing: its figures are those of calc, of the
// assessment and of the schedules, unrounded until they are printed.
package document

import (
	"time"

	"trefoil/lint/engine"
	"trefoil/lint/report"
	"trefoil/lint/scene"
	"trefoil/lint/schedule"
)

// Input is what a report is made of.
type Input struct {
	Tool     report.Tool
	Result   *engine.Result
	Rules    []*engine.Rule // those that were run
	Today    time.Time
	Revision *Revision // nil where the design is in no repository
	Schedule schedule.Options
	Drawings []Drawing // single-line diagram and cross-sections
}

// Revision is the state of the design's text in its repository.
type Revision struct {
	Commit  string // abbreviated
	Day     string // YYYY-MM-DD
	Subject string
	By      string
	Changed bool // files differ from the commit
}

// String is the revision in a few words.
func (r *Revision) String() string {
	if r == nil {
		return ""
	}
	text := "revision " + r.Commit + " of " + r.Day
	if r.Changed {
		text += ", changed since"
	}
	return text
}

// Drawing is one sheet of a drawing.
type Drawing struct {
	Name  string
	Scene *scene.Scene
}

// Document is a report.
type Document struct {
	Tool     report.Tool
	Stamp    report.Stamp
	Title    string
	Standing string // how many errors stand open, "" where none does
	Verdict  string // in a sentence
	Parts    []Part
}

// Part is a chapter.
type Part struct {
	ID, Title string
	Wide      bool // wants the larger paper, on its side
	Blocks    []Block
}

// Block is a piece of a part: a head, then whichever of the others it has.
type Block struct {
	ID, Head string
	Text     []string
	Notes    []string // in small print: what a table rests on
	Facts    []Fact
	Findings []Finding
	Chart    *Chart
	Working  []Row
	Table    *schedule.Table
	Drawing  *Drawing
	Boxes    []string // to be filled in by hand
}

// Fact is a named value, with a word on it.
type Fact struct {
	schedule.Column
	schedule.Cell
	Note string
}

// Finding is one finding as the report tells it.
type Finding struct {
	Severity string // error, warning, note
	Rule     string
	Subject  string
	Place    string
	Message  string
	Next     string
	Waived   string // why it is waived, "" where it is not
	Related  []string
	Memory   []string
}

// Row is a row of a run's working. Its key is the path in calc's JSON.
type Row struct {
	Head  string // a row that only heads those below it
	Key   string
	Name  string
	How   string // formula, or what led to it
	Value float64
	Known bool
	Shown string // the value as printed
	Unit  string
	Ref   string // clause or table, with its status where that is not a print
}

// Chart is a chart in the text.
type Chart struct {
	Scene *scene.Scene
	Key   []string // what its numbers stand for
}
