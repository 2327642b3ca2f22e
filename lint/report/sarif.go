package report

import (
	"fmt"
	"io"
	"net/url"
	"path"
	"strings"

	"trefoil/lint/engine"
	"trefoil/lint/finding"
	"trefoil/lint/source"
	"trefoil/ratings/quantity"
)

// SARIF 2.1.0 (OASIS), as far as findings need it. Names are those of the standard.
type sarifLog struct {
	Schema  string     `json:"$schema"`
	Version string     `json:"version"`
	Runs    []sarifRun `json:"runs"`
}

type sarifRun struct {
	Tool        sarifTool         `json:"tool"`
	Invocations []sarifInvocation `json:"invocations"`
	ColumnKind  string            `json:"columnKind"`
	Results     []sarifResult     `json:"results"`
}

type sarifTool struct {
	Driver sarifDriver `json:"driver"`
}

type sarifDriver struct {
	Name            string      `json:"name"`
	SemanticVersion string      `json:"semanticVersion"`
	Rules           []sarifRule `json:"rules"`
}

type sarifText struct {
	Text string `json:"text"`
}

type sarifRule struct {
	ID      string     `json:"id"`
	Short   *sarifText `json:"shortDescription,omitempty"`
	Full    *sarifText `json:"fullDescription,omitempty"`
	Help    *sarifText `json:"help,omitempty"`
	Default *struct {
		Level string `json:"level"`
	} `json:"defaultConfiguration,omitempty"`
}

type sarifInvocation struct {
	Successful    bool                `json:"executionSuccessful"`
	Notifications []sarifNotification `json:"toolExecutionNotifications,omitempty"`
}

type sarifNotification struct {
	Level   string    `json:"level"`
	Message sarifText `json:"message"`
}

type sarifResult struct {
	RuleID       string             `json:"ruleId"`
	RuleIndex    int                `json:"ruleIndex"`
	Level        string             `json:"level"`
	Message      sarifText          `json:"message"`
	Locations    []sarifLocation    `json:"locations,omitempty"`
	Related      []sarifLocation    `json:"relatedLocations,omitempty"`
	Fingerprints map[string]string  `json:"partialFingerprints,omitempty"`
	Suppressions []sarifSuppression `json:"suppressions,omitempty"`
	Fixes        []sarifFix         `json:"fixes,omitempty"`
	Properties   map[string]any     `json:"properties,omitempty"`
}

type sarifLocation struct {
	ID       int            `json:"id,omitempty"`
	Physical *sarifPhysical `json:"physicalLocation,omitempty"`
	Logical  []sarifLogical `json:"logicalLocations,omitempty"`
	Message  *sarifText     `json:"message,omitempty"`
}

type sarifPhysical struct {
	Artifact sarifArtifact `json:"artifactLocation"`
	Region   sarifRegion   `json:"region"`
}

type sarifArtifact struct {
	URI string `json:"uri"`
}

type sarifRegion struct {
	StartLine   int `json:"startLine"`
	StartColumn int `json:"startColumn"`
	EndLine     int `json:"endLine"`
	EndColumn   int `json:"endColumn"`
}

type sarifLogical struct {
	Name string `json:"fullyQualifiedName"`
}

type sarifSuppression struct {
	Kind          string `json:"kind"`
	Justification string `json:"justification,omitempty"`
}

type sarifFix struct {
	Description sarifText      `json:"description"`
	Changes     []sarifChanges `json:"artifactChanges"`
}

type sarifChanges struct {
	Artifact     sarifArtifact      `json:"artifactLocation"`
	Replacements []sarifReplacement `json:"replacements"`
}

type sarifReplacement struct {
	Deleted  sarifRegion `json:"deletedRegion"`
	Inserted *sarifText  `json:"insertedContent,omitempty"`
}

// fingerprintKey names the way in which our fingerprints are made.
const fingerprintKey = "trefoilFinding/v1"

// WriteSARIF writes findings for programs that read SARIF 2.1.0: columns count code
// points, waivers are suppressions, notes of rules are their help. rules are those that
// were run, failure says what could not be read.
func WriteSARIF(w io.Writer, tool Tool, results []*engine.Result, rules []*engine.Rule, failure string) error {
	run := sarifRun{
		Tool: sarifTool{sarifDriver{Name: tool.Name, SemanticVersion: tool.Version, Rules: []sarifRule{}}}, ColumnKind: "unicodeCodePoints",
		Invocations: []sarifInvocation{{Successful: failure == ""}}, Results: []sarifResult{},
	}
	if failure != "" {
		run.Invocations[0].Notifications = []sarifNotification{{"error", sarifText{failure}}}
	}
	index := map[string]int{}
	add := func(r sarifRule) int {
		i, is := index[r.ID]
		if !is {
			i = len(run.Tool.Driver.Rules)
			index[r.ID] = i
			run.Tool.Driver.Rules = append(run.Tool.Driver.Rules, r)
		}
		return i
	}
	for _, r := range rules {
		add(ruleOf(r))
	}
	for _, r := range results {
		for i := range r.Findings {
			f := &r.Findings[i]
			s := resultOf(f)
			s.RuleIndex = add(sarifRule{ID: f.Rule})
			run.Results = append(run.Results, s)
		}
	}
	return WriteJSON(w, sarifLog{
		Schema:  "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json",
		Version: "2.1.0", Runs: []sarifRun{run},
	})
}

func ruleOf(r *engine.Rule) sarifRule {
	s := sarifRule{ID: r.Name, Short: said(r.Summary), Full: said(r.Doc.Checks)}
	s.Default = &struct {
		Level string `json:"level"`
	}{r.Severity.String()}
	help := []string{r.Doc.Why, r.Clause.String()}
	if r.Doc.Blind != "" {
		help = append(help, "It does not see: "+r.Doc.Blind)
	}
	s.Help = said(strings.Join(append(help, Caution), "\n\n"))
	return s
}

func said(text string) *sarifText {
	if text = strings.TrimSpace(text); text == "" {
		return nil
	}
	return &sarifText{text}
}

func resultOf(f *finding.Finding) sarifResult {
	s := sarifResult{RuleID: f.Rule, Level: f.Severity.String(), Message: sarifText{f.Message}}
	if f.Next != "" {
		s.Message.Text += "\nnext: " + f.Next
	}
	at := sarifLocation{Physical: physical(f.At)}
	if f.Subject != "" {
		at.Logical = []sarifLogical{{f.Subject}}
	}
	if at.Physical != nil || at.Logical != nil {
		s.Locations = []sarifLocation{at}
	}
	for i, x := range f.Related {
		s.Related = append(s.Related, sarifLocation{ID: i + 1, Physical: physical(x.At), Message: said(x.Message)})
	}
	if f.Fingerprint != "" {
		s.Fingerprints = map[string]string{fingerprintKey: f.Fingerprint}
	}
	if f.Waived {
		s.Suppressions = []sarifSuppression{{"inSource", f.Waiver}}
	}
	for i := range f.Fixes {
		if x := fixes(&f.Fixes[i]); len(x.Changes) > 0 {
			s.Fixes = append(s.Fixes, x)
		}
	}
	for _, x := range f.Figures {
		if quantity.Finite(x.Value) {
			if s.Properties == nil {
				s.Properties = map[string]any{}
			}
			s.Properties[x.Key] = x.Value
		}
	}
	return s
}

func physical(at source.Range) *sarifPhysical {
	if at.File == nil {
		return nil
	}
	return &sarifPhysical{artifact(at.File), region(at)}
}

func artifact(f *source.File) sarifArtifact {
	u := url.URL{Path: f.Name}
	if path.IsAbs(f.Name) {
		u.Scheme = "file"
	}
	return sarifArtifact{u.String()}
}

func region(at source.Range) sarifRegion {
	from, to := at.File.Position(at.Start), at.File.Position(at.End)
	return sarifRegion{from.Line, from.Column, to.Line, to.Column}
}

func fixes(x *finding.Fix) sarifFix {
	s := sarifFix{Description: sarifText{fmt.Sprintf("%s (%s)", x.Message, x.Kind)}}
	for _, e := range x.Edits {
		a := artifact(e.At.File)
		if n := len(s.Changes); n == 0 || s.Changes[n-1].Artifact != a {
			s.Changes = append(s.Changes, sarifChanges{Artifact: a})
		}
		c := &s.Changes[len(s.Changes)-1]
		r := sarifReplacement{Deleted: region(e.At)}
		if e.Text != "" {
			r.Inserted = &sarifText{e.Text}
		}
		c.Replacements = append(c.Replacements, r)
	}
	return s
}
