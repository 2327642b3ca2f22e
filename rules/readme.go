package rules

import (
	"bytes"
	"fmt"
)

// Readme is the text of this folder's README.md, written from the rules.
func Readme() []byte {
	var b bytes.Buffer
	b.WriteString("# Rules\n\nWritten from the rules themselves; `go test ./rules -run TestReadme -update` renews it.\n" +
		"`trefoil explain RULE` prints a rule's page with its bad and good example.\n\n" +
		"| rule | severity | what it finds |\n| --- | --- | --- |\n")
	for _, r := range All() {
		fmt.Fprintf(&b, "| [%s](#%s) | %s | %s |\n", r.Name, r.Name, r.Severity, r.Summary)
	}
	for _, r := range All() {
		fmt.Fprintf(&b, "\n## %s\n\n%s. Severity: %s. Since %s.\n\n", r.Name, upper(r.Summary), r.Severity, r.Since)
		fmt.Fprintf(&b, "- Checks: %s\n- Why: %s\n- Clause: %s\n", r.Doc.Checks, r.Doc.Why, r.Clause)
		switch {
		case r.Text:
			b.WriteString("- Waiver: none; it is about the text itself.\n")
		case r.Doc.Accepts != "":
			fmt.Fprintf(&b, "- Waiver: `accepts` is held against %s.\n", r.Doc.Accepts)
		}
		fmt.Fprintf(&b, "- Does not see: %s\n- Sources: %s\n- Cases: `testdata/%s/%s.txtar` (bad), `testdata/%s/%s.txtar` (good)\n",
			r.Doc.Blind, r.Doc.Sources, r.Name, r.Doc.Bad, r.Name, r.Doc.Good)
	}
	return b.Bytes()
}

func upper(s string) string {
	if s == "" || s[0] < 'a' || s[0] > 'z' {
		return s
	}
	return string(s[0]-'a'+'A') + s[1:]
}
