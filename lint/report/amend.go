package report

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"trefoil/lint/engine"
	"trefoil/lint/finding"
	"trefoil/lint/fix"
)

// Amended is what came of the fixes of one design.
type Amended struct {
	Design        string
	Settled       fix.Settled
	Diffs         []Diff            // of the files that changed
	New           []finding.Finding // errors that were not there before: nothing is written then
	Broken        []finding.Finding // text that does not parse: nothing is looked at then
	Unasked       []string          // rules that have fixes which alter the design and were not asked for
	Before, After Summary
	Written       bool
}

// Diff is the change of one file as a unified diff.
type Diff struct {
	File string `json:"file"`
	Text string `json:"diff"`
}

type jsonMade struct {
	Rule    string `json:"rule"`
	Subject string `json:"subject"`
	File    string `json:"file"`
	Line    int    `json:"line"`
	Column  int    `json:"column"`
	Turn    int    `json:"turn,omitempty"`   // from 1; places are those of the text of that turn
	Reason  string `json:"reason,omitempty"` // why it is refused
	jsonFix
}

// AmendDocument is what amend writes.
type AmendDocument struct {
	Version   int           `json:"version"`
	Tool      Tool          `json:"tool"`
	Design    string        `json:"design"`
	Written   bool          `json:"written"`
	Fixes     []jsonMade    `json:"fixes"`
	Waited    int           `json:"waited"`
	Refused   []jsonMade    `json:"refused"`
	Unasked   []string      `json:"unasked"`
	NewErrors []jsonFinding `json:"new_errors"`
	Broken    []jsonFinding `json:"broken"`
	Files     []Diff        `json:"files"`
	Before    Summary       `json:"before"`
	After     Summary       `json:"after"`
}

// NewAmendDocument turns what came of fixes into a document.
func NewAmendDocument(tool Tool, a *Amended) AmendDocument {
	d := AmendDocument{
		Version: Version, Tool: tool, Design: a.Design, Written: a.Written, Waited: a.Settled.Waited(), Before: a.Before, After: a.After,
		Fixes: []jsonMade{}, Refused: []jsonMade{}, Unasked: append([]string{}, a.Unasked...), Files: append([]Diff{}, a.Diffs...),
		NewErrors: convert(&engine.Result{Findings: a.New}), Broken: convert(&engine.Result{Findings: a.Broken}),
	}
	for i, t := range a.Settled.Turns {
		for k := range t.Made {
			j := madeOf(&t.Made[k])
			j.Turn = i + 1
			d.Fixes = append(d.Fixes, j)
		}
	}
	for i := range a.Settled.Refused {
		j := madeOf(&a.Settled.Refused[i].Proposal)
		j.Reason = a.Settled.Refused[i].Reason
		d.Refused = append(d.Refused, j)
	}
	return d
}

func madeOf(p *fix.Proposal) jsonMade {
	j := jsonMade{Rule: p.Rule, Subject: p.Subject, jsonFix: fixOf(&p.Fix)}
	if p.At.File != nil {
		at := p.At.File.Position(p.At.Start)
		j.File, j.Line, j.Column = p.At.File.Name, at.Line, at.Column
	}
	return j
}

// WriteAmend writes for people what came of fixes: each fix, what changes in the files, and
// what that does to the findings.
func WriteAmend(w io.Writer, a *Amended) error {
	var b strings.Builder
	made := 0
	for _, t := range a.Settled.Turns {
		for i, p := range t.Made {
			if i > 0 && p.Rule == t.Made[i-1].Rule && slices.Equal(p.Edits, t.Made[i-1].Edits) {
				continue // of a copy, which shares the text
			}
			what := "fix:"
			if p.Kind == finding.Design {
				what = "design fix:"
			}
			fmt.Fprintf(&b, "%s: %s %s [%s]\n", bold.Sprint(place(p.At)), paint[finding.Note].Sprint(what), Clean(p.Message), p.Rule)
			made++
		}
	}
	for _, r := range a.Settled.Refused {
		fmt.Fprintf(&b, "%s: %s %s [%s]\n    because: %s\n", bold.Sprint(place(r.At)), paint[finding.Warning].Sprint("not fixed:"), Clean(r.Message), r.Rule, Clean(r.Reason))
	}
	for _, d := range a.Diffs {
		b.WriteString(d.Text)
	}
	writeFindings(&b, a.Broken, Options{})
	if len(a.New) > 0 {
		b.WriteString("these errors would be new:\n")
		writeFindings(&b, a.New, Options{})
	}
	if b.Len() > 0 {
		b.WriteString("\n")
	}
	if made == 0 {
		b.WriteString("nothing is amended")
	} else {
		fmt.Fprintf(&b, "%s in %s", counted(made, "fix", "fixes"), many(len(a.Diffs), "file"))
		if n := a.Settled.Waited(); n > 0 {
			fmt.Fprintf(&b, "; %d overlapped with others and waited for the next turn", n)
		}
		fmt.Fprintf(&b, "; %s instead of %s", tally(a.After), tally(a.Before))
	}
	switch {
	case made == 0:
		b.WriteString("\n")
	case a.Written:
		b.WriteString("; written\n")
	case len(a.New) > 0:
		b.WriteString("; nothing is written\n")
	default:
		b.WriteString("; nothing is written yet, --write saves it\n")
	}
	if len(a.Unasked) > 0 {
		fmt.Fprintf(&b, "fixes that alter the design are made where their rule is named: --rule %s\n", strings.Join(a.Unasked, " --rule "))
	}
	fmt.Fprintf(&b, "%s\n", dim.Sprint(Caution))
	_, err := io.WriteString(w, b.String())
	return err
}

// tally counts findings in words.
func tally(s Summary) string {
	return fmt.Sprintf("%s, %s, %s", many(s.Errors, "error"), many(s.Warnings, "warning"), many(s.Notes, "note"))
}
