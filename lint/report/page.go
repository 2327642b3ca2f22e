package report

import (
	"fmt"
	"io"
	"strings"

	"trefoil/lint/engine"
)

// Example is a rule's case as a page shows it.
type Example struct {
	Prose    string
	Files    []ExampleFile
	Findings *engine.Result
}

// ExampleFile is a file of an example.
type ExampleFile struct{ Name, Text string }

// WritePage writes a rule's page with its bad and good example.
func WritePage(w io.Writer, r *engine.Rule, bad, good Example) error {
	var b strings.Builder
	fmt.Fprintf(&b, "%s: %s\n\n", bold.Sprint(Clean(r.Name)), Clean(r.Summary))
	item := func(name, text string) {
		if text != "" {
			fmt.Fprintf(&b, "%s\n%s\n\n", bold.Sprint(name), wrap(Clean(text), 96, "  "))
		}
	}
	item("checks", r.Doc.Checks)
	item("why", r.Doc.Why)
	since := ""
	if r.Since != "" {
		since = ", since " + r.Since
	}
	item("severity", r.Severity.String()+since)
	item("clause", r.Clause.String())
	switch {
	case r.Text:
		item("waiver", "none; it is about the text itself")
	case r.Doc.Accepts != "":
		item("waiver", "accepts is held against "+r.Doc.Accepts)
	case r.Name != "waiver-stale":
		item("waiver", "on the subject that the finding names; accepts has nothing to be held against")
	}
	item("does not see", r.Doc.Blind)
	item("sources", r.Doc.Sources)
	for _, e := range []struct {
		name string
		Example
	}{{"bad", bad}, {"good", good}} {
		if len(e.Files) == 0 { // a rule of the house without cases
			continue
		}
		fmt.Fprintf(&b, "%s\n", bold.Sprint(e.name))
		if prose := wrap(Clean(strings.Join(strings.Fields(e.Prose), " ")), 96, "  "); strings.TrimSpace(prose) != "" {
			b.WriteString(prose + "\n")
		}
		b.WriteString("\n")
		for _, f := range e.Files {
			for _, line := range strings.Split(strings.TrimRight(f.Text, "\n"), "\n") {
				fmt.Fprintf(&b, "    %s\n", strings.TrimRight(Clean(line), " "))
			}
			b.WriteString("\n")
		}
		for i := range e.Findings.Findings {
			f := &e.Findings.Findings[i]
			if f.Rule != r.Name {
				continue
			}
			fmt.Fprintf(&b, "    %s: %s %s [%s]\n", place(f.At), paint[f.Severity].Sprint(f.Severity.String()+":"), Clean(f.Message), f.Rule)
			if f.Next != "" {
				fmt.Fprintf(&b, "        next: %s\n", Clean(f.Next))
			}
			b.WriteString("\n")
		}
	}
	fmt.Fprintf(&b, "%s\n", dim.Sprint(Caution))
	_, err := io.WriteString(w, b.String())
	return err
}

// wrap breaks a text into lines of at most so many characters.
func wrap(s string, width int, indent string) string {
	var lines []string
	line := ""
	for _, word := range strings.Fields(s) {
		if line != "" && len([]rune(line))+1+len([]rune(word)) > width {
			lines = append(lines, indent+line)
			line = ""
		}
		if line != "" {
			line += " "
		}
		line += word
	}
	return strings.Join(append(lines, indent+line), "\n")
}
