package report

import (
	"trefoil/lint/compare"
	"trefoil/lint/finding"
	"trefoil/lint/source"
)

type jsonSide struct {
	Name   string `json:"name"`
	Design bool   `json:"design"`
	Whole  bool   `json:"whole"` // its text could be read whole
	Absent string `json:"absent,omitempty"`
}

type jsonAt struct {
	File   string `json:"file"`
	Line   int    `json:"line"`
	Column int    `json:"column"`
}

func at(r source.Range) *jsonAt {
	if r.File == nil {
		return nil
	}
	p := r.File.Position(r.Start)
	return &jsonAt{r.File.Name, p.Line, p.Column}
}

type jsonProperty struct {
	Part     string   `json:"part,omitempty"`
	Name     string   `json:"name,omitempty"`
	Was      string   `json:"was,omitempty"` // as HCL writes it; absent where it was not stated
	Now      string   `json:"now,omitempty"`
	WasAt    *jsonAt  `json:"was_at,omitempty"`
	At       *jsonAt  `json:"at,omitempty"`
	Subjects []string `json:"subjects"`
	Unusable bool     `json:"unusable,omitempty"`
}

type jsonChange struct {
	Edit       int            `json:"edit"` // counted from 1
	Change     string         `json:"change"`
	Subject    string         `json:"subject"`
	Subjects   []string       `json:"subjects,omitempty"` // where several blocks changed alike
	Was        string         `json:"was,omitempty"`
	At         *jsonAt        `json:"at,omitempty"`
	WasAt      *jsonAt        `json:"was_at,omitempty"`
	Added      []string       `json:"added,omitempty"`
	Removed    []string       `json:"removed,omitempty"`
	Properties []jsonProperty `json:"properties,omitempty"`
}

type jsonCause struct {
	Edits []int `json:"edits"`
	Any   bool  `json:"any,omitempty"`
}

func causeOf(c compare.Cause) jsonCause {
	j := jsonCause{Edits: []int{}, Any: c.Any}
	for _, e := range c.Edits {
		j.Edits = append(j.Edits, e+1)
	}
	return j
}

type jsonMove struct {
	Subject string `json:"subject"`
	Was     figure `json:"was,omitempty"`
	Now     figure `json:"now,omitempty"`
}

type jsonEffect struct {
	Figure string     `json:"figure"` // the key of calc
	Moves  []jsonMove `json:"moves"`
	Cause  jsonCause  `json:"cause"`
}

type jsonVerdict struct {
	Status string       `json:"status"`
	Now    *jsonFinding `json:"now,omitempty"`
	Was    *jsonFinding `json:"was,omitempty"`
	Cause  jsonCause    `json:"cause"`
}

type jsonTotal struct {
	Figure string `json:"figure"`
	Was    figure `json:"was,omitempty"`
	Now    figure `json:"now,omitempty"`
	Run    string `json:"run,omitempty"`
}

// ComparisonDocument is what compare writes.
type ComparisonDocument struct {
	Version  int           `json:"version"`
	Tool     Tool          `json:"tool"`
	Was      jsonSide      `json:"was"`
	Now      jsonSide      `json:"now"`
	Edits    []jsonChange  `json:"edits"`
	Effects  []jsonEffect  `json:"effects"`
	Verdicts []jsonVerdict `json:"verdicts"`
	Totals   []jsonTotal   `json:"totals"`
	Same     int           `json:"same"`
	Blocking int           `json:"blocking"` // verdicts that make the exit code 1
	Untraced string        `json:"untraced,omitempty"`
}

// NewComparisonDocument turns a comparison into a document; level is that of the exit code.
func NewComparisonDocument(tool Tool, c *compare.Comparison, level finding.Severity) ComparisonDocument {
	d := ComparisonDocument{
		Version: Version, Tool: tool, Was: sideOf(&c.Was), Now: sideOf(&c.Now), Same: c.Same, Blocking: c.Blocks(level), Untraced: c.Untraced,
		Edits: []jsonChange{}, Effects: []jsonEffect{}, Verdicts: []jsonVerdict{}, Totals: []jsonTotal{},
	}
	for i := range c.Edits {
		e := &c.Edits[i]
		j := jsonChange{Edit: i + 1, Change: e.Change.String(), Subject: e.Subject, Subjects: e.Subjects, Was: e.Was, At: at(e.At), WasAt: at(e.WasAt), Added: e.Added, Removed: e.Removed}
		for _, p := range e.Properties {
			j.Properties = append(j.Properties, jsonProperty{p.Part, p.Name, p.Was, p.Now, at(p.WasAt), at(p.At), append([]string{}, p.Subjects...), p.Unusable})
		}
		d.Edits = append(d.Edits, j)
	}
	for i := range c.Effects {
		e := &c.Effects[i]
		j := jsonEffect{Figure: e.Figure.Key, Cause: causeOf(e.Cause), Moves: []jsonMove{}}
		for k := range e.Moves {
			m := &e.Moves[k]
			j.Moves = append(j.Moves, jsonMove{m.Subject, maybe(m.Was), maybe(m.Now)})
		}
		d.Effects = append(d.Effects, j)
	}
	for i := range c.Verdicts {
		v := &c.Verdicts[i]
		j := jsonVerdict{Status: v.Status.String(), Cause: causeOf(v.Cause)}
		if v.Now != nil {
			j.Now = new(convertFinding(v.Now))
		}
		if v.Was != nil {
			j.Was = new(convertFinding(v.Was))
		}
		d.Verdicts = append(d.Verdicts, j)
	}
	for i := range c.Totals {
		t := &c.Totals[i]
		d.Totals = append(d.Totals, jsonTotal{t.Key, maybe(t.Was), maybe(t.Now), t.Whose})
	}
	return d
}

func sideOf(s *compare.Side) jsonSide {
	return jsonSide{Name: s.Name, Design: s.Result != nil, Whole: s.Result != nil && !s.Broken(), Absent: s.Absent}
}
