package report

import (
	"fmt"
	"io"
	"strings"

	"trefoil/lint/compare"
	"trefoil/lint/finding"
	"trefoil/lint/source"
)

// What a review comment shows of a list; the rest is counted.
const (
	mostEdits    = 40
	openEdits    = 12 // those beyond are folded
	mostEffects  = 60
	mostFindings = 60
)

// markup makes a text harmless in Markdown and in HTML inside of it: characters that mean
// something there become entities, and a space of no width keeps a name from calling
// somebody, a number from becoming a reference and an address from becoming a link.
func markup(s string) string {
	var b strings.Builder
	for _, r := range Clean(s) {
		switch {
		case strings.ContainsRune("@#/", r):
			fmt.Fprintf(&b, "&#%d;&#8203;", r)
		case strings.ContainsRune("\\`*_[]<>&|~$", r):
			fmt.Fprintf(&b, "&#%d;", r)
		default:
			b.WriteRune(r)
		}
	}
	return strings.ReplaceAll(b.String(), "www.", "www&#46;")
}

// code is a name or a value in code type, where nobody is called and no number refers, but
// where an address of mail would still become a link.
func code(s string) string {
	plain := strings.ReplaceAll(markup(s), "&#8203;", "")
	return "<code>" + strings.ReplaceAll(plain, "&#64;", "&#8203;&#64;") + "</code>"
}

// WriteComparisonMarkdown writes a comparison as a comment for a review: what blocks first,
// then each edit with what follows from it, the rest folded.
func WriteComparisonMarkdown(w io.Writer, c *compare.Comparison, show, level finding.Severity) error {
	var b strings.Builder
	line := func(format string, args ...any) { fmt.Fprintf(&b, format+"\n", args...) }
	line("### trefoil: %s", verdictTally(c, show))
	line("")
	line("%s against %s: %s; %s as before.", markup(c.Now.Name), markup(c.Was.Name), many(len(c.Edits), "edit"), many(c.Same, "finding"))
	for _, s := range caveats(c) {
		line("")
		line("**Note:** %s", markup(s))
	}
	if n := c.Blocks(level); n > 0 {
		line("")
		line("**%s at or above %s.**", counted(n, "finding is new", "findings are new"), level)
		var groups []verdictGroup
		for i := range c.Verdicts {
			if v := &c.Verdicts[i]; v.Blocks(level) {
				groups = join(groups, v)
			}
		}
		for _, g := range groups[:min(len(groups), mostFindings)] {
			f := g[0].Now
			line("- %s: **%s** %s %s%s", code(place(f.At)), f.Severity, markup(f.Message), code(f.Rule), by(g[0].Cause))
			if f.Next != "" {
				line("  next: %s", markup(f.Next))
			}
			if len(g) > 1 {
				line("  The same of %s", names(g[1:].subjects(), code))
			}
		}
	}
	if len(c.Edits) > 0 {
		line("")
		line("#### Edits")
		line("")
	}
	for i := range c.Edits {
		if i == openEdits {
			line("")
			line("<details><summary>%s</summary>", many(len(c.Edits)-i, "more edit"))
			line("")
		}
		if i == mostEdits {
			line("- and %d more", len(c.Edits)-i)
			break
		}
		e := &c.Edits[i]
		line("%d. %s (%s)", i+1, editWords(e, code), code(placeOf(editPlace(e))))
	}
	if len(c.Edits) > openEdits {
		line("")
		line("</details>")
	}
	if list := consequences(c, show); len(list) > 0 {
		line("")
		line("#### What follows")
		line("")
		rows := 0
		for i := range list {
			x := &list[i]
			if rows > mostEffects {
				line("- and what hangs on %d more", len(list)-i)
				break
			}
			line("- %s", consequenceHead(c, x, code))
			for _, e := range x.effects {
				line("  - %s of %s", e.Figure.Label, effectWords(e, code))
			}
			for _, g := range x.verdicts {
				line("  - %s", groupWords(g, code))
			}
			rows += 1 + len(x.effects) + len(x.verdicts)
		}
	}
	details(&b, c, show)
	line("")
	line("<sub>%s</sub>", markup(Caution))
	_, err := io.WriteString(w, b.String())
	return err
}

// details folds all verdicts and the sums.
func details(b *strings.Builder, c *compare.Comparison, show finding.Severity) {
	var rows []string
	for i := range c.Verdicts {
		v := &c.Verdicts[i]
		if f := v.Finding(); f.Severity >= show {
			rows = append(rows, fmt.Sprintf("| %s | %s | %s | %s | %s |", became(v), f.Severity, code(f.Rule), code(place(f.At)), markup(f.Message)))
		}
	}
	table := func(title, head string, rows []string) {
		if len(rows) == 0 {
			return
		}
		fmt.Fprintf(b, "\n<details><summary>%s</summary>\n\n%s\n", title, head)
		for i, r := range rows {
			if i == mostFindings {
				fmt.Fprintf(b, "\nand %d more\n", len(rows)-i)
				break
			}
			fmt.Fprintf(b, "%s\n", r)
		}
		b.WriteString("\n</details>\n")
	}
	table("All findings that moved", "| | severity | rule | place | message |\n| --- | --- | --- | --- | --- |", rows)
	rows = nil
	for i := range c.Totals {
		t := &c.Totals[i]
		rows = append(rows, fmt.Sprintf("| %s | %s |", t.Label, totalWords(t, code)))
	}
	table("Sums and margins", "| | |\n| --- | --- |", rows)
}

func by(c compare.Cause) string {
	if len(c.Edits) == 0 {
		return ""
	}
	return " (by " + causeWords(c) + ")"
}

// placeOf is a place without its column, which a reader of a comment has no use for.
func placeOf(at source.Range) string {
	if at.File == nil {
		return "design"
	}
	return fmt.Sprintf("%s:%d", at.File.Name, at.File.Position(at.Start).Line)
}
