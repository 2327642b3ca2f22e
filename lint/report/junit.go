package report

import (
	"bufio"
	"encoding/xml"
	"fmt"
	"io"
	"strings"

	"trefoil/lint/engine"
	"trefoil/lint/finding"
)

type junitSuites struct {
	XMLName  xml.Name     `xml:"testsuites"`
	Name     string       `xml:"name,attr"`
	Tests    int          `xml:"tests,attr"`
	Failures int          `xml:"failures,attr"`
	Errors   int          `xml:"errors,attr"`
	Suites   []junitSuite `xml:"testsuite"`
}

type junitSuite struct {
	Name     string      `xml:"name,attr"`
	Tests    int         `xml:"tests,attr"`
	Failures int         `xml:"failures,attr"`
	Errors   int         `xml:"errors,attr"`
	Cases    []junitCase `xml:"testcase"`
}

type junitCase struct {
	Class   string     `xml:"classname,attr"`
	Name    string     `xml:"name,attr"`
	File    string     `xml:"file,attr,omitempty"`
	Line    int        `xml:"line,attr,omitempty"`
	Failure *junitFail `xml:"failure,omitempty"`
	Error   *junitFail `xml:"error,omitempty"`
	Out     string     `xml:"system-out,omitempty"`
}

type junitFail struct {
	Message string `xml:"message,attr"`
	Type    string `xml:"type,attr"`
	Text    string `xml:",chardata"`
}

// WriteJUnit writes one test suite a design and one test case a rule, which fails where the
// rule finds something at or above a level. What lies below it, or is waived, is its output.
func WriteJUnit(w io.Writer, tool Tool, results []*engine.Result, rules []*engine.Rule, level finding.Severity, failure string) error {
	all := junitSuites{Name: tool.Name}
	for _, r := range results {
		s := junitSuite{Name: Clean(r.Review.Design.Dir)}
		for _, name := range ruleNames(r, rules) {
			c := junitCase{Class: s.Name, Name: name}
			var failed, told []string
			for i := range r.Findings {
				f := &r.Findings[i]
				if f.Rule != name {
					continue
				}
				if f.Waived || f.Severity < level {
					told = append(told, Line(f))
					continue
				}
				if failed = append(failed, Line(f)); f.Next != "" {
					failed = append(failed, "    next: "+Clean(f.Next))
				}
				if c.Failure == nil {
					c.Failure = &junitFail{Message: Clean(f.Message), Type: f.Severity.String()}
					if f.At.File != nil {
						c.File, c.Line = Clean(f.At.File.Name), f.At.File.Position(f.At.Start).Line
					}
				}
			}
			if c.Failure != nil {
				c.Failure.Text = strings.Join(failed, "\n")
				s.Failures++
			}
			c.Out = strings.Join(told, "\n")
			s.Cases = append(s.Cases, c)
		}
		s.Tests = len(s.Cases)
		all.add(s)
	}
	if failure != "" {
		c := junitCase{Class: tool.Name, Name: "read the designs", Error: &junitFail{Message: Clean(strings.SplitN(failure, "\n", 2)[0]), Type: "error", Text: cleanLines(failure)}}
		all.add(junitSuite{Name: tool.Name, Tests: 1, Errors: 1, Cases: []junitCase{c}})
	}
	if _, err := io.WriteString(w, xml.Header); err != nil {
		return err
	}
	e := xml.NewEncoder(w)
	e.Indent("", " ")
	if err := e.Encode(all); err != nil {
		return err
	}
	_, err := io.WriteString(w, "\n")
	return err
}

// cleanLines is Clean of each line of a text.
func cleanLines(s string) string {
	var b strings.Builder
	for line := range strings.Lines(s) {
		text, end := strings.CutSuffix(line, "\n")
		b.WriteString(Clean(text))
		if end {
			b.WriteByte('\n')
		}
	}
	return b.String()
}

func (all *junitSuites) add(s junitSuite) {
	all.Suites = append(all.Suites, s)
	all.Tests += s.Tests
	all.Failures += s.Failures
	all.Errors += s.Errors
}

// ruleNames lists the rules that were run, and those that findings name besides.
func ruleNames(r *engine.Result, rules []*engine.Rule) []string {
	var names []string
	seen := map[string]bool{}
	add := func(name string) {
		if !seen[name] {
			seen[name] = true
			names = append(names, name)
		}
	}
	for _, x := range rules {
		add(x.Name)
	}
	for i := range r.Findings {
		add(r.Findings[i].Rule)
	}
	return names
}

// Line is a finding in the common form of one line, file:line:column: severity: message [rule].
func Line(f *finding.Finding) string {
	severity := f.Severity.String()
	if f.Waived {
		severity = "waived " + severity
	}
	return fmt.Sprintf("%s: %s: %s [%s]", place(f.At), severity, Clean(f.Message), f.Rule)
}

// WriteLines writes one line a finding and nothing else, for editors and other filters.
// Waived findings are left out.
func WriteLines(w io.Writer, results []*engine.Result, show finding.Severity) error {
	b := bufio.NewWriter(w)
	for _, r := range results {
		for i := range r.Findings {
			if f := &r.Findings[i]; !f.Waived && f.Severity >= show {
				b.WriteString(Line(f) + "\n")
			}
		}
	}
	return b.Flush()
}
