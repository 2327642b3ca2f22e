package report

import (
	"bufio"
	"fmt"
	"io"
	"slices"
	"strings"
	"unicode"

	"github.com/fatih/color"

	"trefoil/lint/engine"
	"trefoil/lint/finding"
	"trefoil/lint/source"
)

// Caution stands under every report for people.
const Caution = "This is an aid. Local codes and the licensed person responsible decide; trefoil explain says what each rule does not see."

// Options of the text form.
type Options struct {
	Show       finding.Severity // the least severity that is printed
	Provenance bool             // name the remembered figures that a finding rests on
}

var paint = map[finding.Severity]*color.Color{
	finding.Error:   color.New(color.FgRed, color.Bold),
	finding.Warning: color.New(color.FgYellow),
	finding.Note:    color.New(color.FgCyan),
}

var (
	dim  = color.New(color.Faint)
	bold = color.New(color.Bold)
)

// Clean makes control characters of a design's own words visible, so that a name
// cannot steer the terminal.
func Clean(s string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r == '\t':
			return ' '
		case steers(r):
			return '\ufffd'
		}
		return r
	}, s)
}

// steers says that a character is an order to a terminal, or turns or parts what is
// written: controls, separators of lines, and the marks of the direction of writing.
func steers(r rune) bool {
	return unicode.IsControl(r) || r == '\u061c' || r == '\u200e' || r == '\u200f' || r >= '\u2028' && r <= '\u202e' || r >= '\u2066' && r <= '\u2069'
}

func place(at source.Range) string {
	if at.File == nil {
		return "design"
	}
	return Clean(at.String())
}

// writeFindings writes findings in the common file:line:column form, then what to do next
// and what took part.
func writeFindings(b io.Writer, list []finding.Finding, opt Options) {
	for i := range list {
		f := &list[i]
		if f.Severity < opt.Show {
			continue
		}
		line := fmt.Sprintf(" %s [%s]", Clean(f.Message), f.Rule)
		if f.Waived {
			fmt.Fprintf(b, "%s\n", dim.Sprintf("%s: waived %s:%s", place(f.At), f.Severity, line))
			fmt.Fprintf(b, "%s\n", dim.Sprintf("    reason: %s", Clean(f.Waiver)))
			continue
		}
		fmt.Fprintf(b, "%s: %s%s\n", bold.Sprint(place(f.At)), paint[f.Severity].Sprint(f.Severity.String()+":"), line)
		if f.Next != "" {
			fmt.Fprintf(b, "    next: %s\n", Clean(f.Next))
		}
		for _, x := range f.Related {
			fmt.Fprintf(b, "%s\n", dim.Sprintf("    %s: %s", place(x.At), Clean(x.Message)))
		}
		if opt.Provenance {
			for _, m := range f.Memory {
				fmt.Fprintf(b, "%s\n", dim.Sprintf("    from memory: %s", Clean(m)))
			}
		}
	}
}

// WriteText writes findings for people, and how many there are.
func WriteText(w io.Writer, results []*engine.Result, opt Options) error {
	b := bufio.NewWriter(w)
	empty := true
	for _, r := range results {
		writeFindings(b, r.Findings, opt)
		empty = empty && !slices.ContainsFunc(r.Findings, func(f finding.Finding) bool { return f.Severity >= opt.Show })
	}
	s := Summarise(results...)
	if !empty {
		b.WriteString("\n")
	}
	designs := ""
	if len(results) > 1 {
		designs = fmt.Sprintf("%d designs, ", len(results))
	}
	fmt.Fprintf(b, "%s%s, %d assessed: %s", designs, many(s.Runs, "run"), s.Assessed, tally(s))
	if s.Waived > 0 {
		fmt.Fprintf(b, ", %d waived", s.Waived)
	}
	b.WriteString("\n")
	if rest, all := remembered(results); rest > 0 {
		fmt.Fprintf(b, "%s\n", dim.Sprintf("%d of %s on figures from memory; trefoil tables shows which, --provenance names them.", rest, rests(all)))
	}
	fmt.Fprintf(b, "%s\n", dim.Sprint(Caution))
	return b.Flush()
}

func rests(n int) string {
	return counted(n, "capacity rests", "capacities rest")
}

func many(n int, what string) string { return counted(n, what, what+"s") }

func counted(n int, one, several string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, several)
}

// remembered counts the capacities that rest on a figure from memory.
func remembered(results []*engine.Result) (rest, all int) {
	for _, r := range results {
		for i := range r.Review.Runs {
			a := &r.Review.Runs[i]
			if a.Governing < 0 {
				continue
			}
			all++
			if a.Sections[a.Governing].Rating.Remembered() {
				rest++
			}
		}
	}
	return rest, all
}
