package main

import (
	"errors"
	"io"
	"time"

	"github.com/spf13/cobra"

	"trefoil/lint/design"
	"trefoil/lint/engine"
	"trefoil/lint/finding"
	"trefoil/lint/house"
	"trefoil/lint/report"
	"trefoil/rules"
)

// severity is the value of --level and --show.
type severity struct{ finding.Severity }

func (s *severity) Type() string { return "error|warning|note" }

func (s *severity) Set(word string) error {
	v, ok := finding.ParseSeverity(word)
	if !ok {
		return errors.New("it is error, warning or note; " + design.Nearest(word, []string{"error", "warning", "note"}))
	}
	s.Severity = v
	return nil
}

// day is the value of --today.
type day struct{ time.Time }

func (d *day) Type() string { return "YYYY-MM-DD" }

func (d *day) String() string {
	if d.IsZero() {
		return ""
	}
	return d.Format(time.DateOnly)
}

func (d *day) Set(s string) error {
	t, err := time.Parse(time.DateOnly, s)
	if err != nil {
		return errors.New("it is a day, as in 2027-06-30")
	}
	d.Time = t
	return nil
}

func checkCommand(out io.Writer) *cobra.Command {
	var (
		how      format
		level    = severity{finding.Error}
		show     = severity{finding.Note}
		today    day
		maxBytes limit
		opt      report.Options
		cases    bool
	)
	c := &cobra.Command{
		Use:   "check [DIR|FILE ...]",
		Short: "Find what is wrong in designs",
		Long: `Check reads each design - all *.hcl files of a directory - works out what every run
may carry and how far the voltage rises, and tells what does not hold, with file,
line and column. Given files, it checks the whole design that each belongs to. A
name that ends in /... stands for every design below it. The rules that a design states
itself, house_rule blocks of its own and of its library, are run with the others; with
--house-cases their cases are run instead: in house_cases/RULE/bad, a small design beside
the rule's file, it must find something, and in house_cases/RULE/good nothing.

Exit code: 0 nothing at or above --level, 1 findings, 2 wrong usage, 3 a design
could not be read. Findings that a waiver of the design accepts do not count.

Local codes and the licensed person responsible decide; this is an aid.`,
		Example: `  trefoil check                           the design in this directory
  trefoil check examples/cold-store
  trefoil check --level warning site-a site-b
  trefoil check --format json ./...`,
		RunE: func(_ *cobra.Command, args []string) error {
			now := today.Time
			if now.IsZero() {
				now = time.Now()
			}
			var results []*engine.Result
			dirs, faults := directories(args, maxBytes)
			asked := len(dirs) + len(faults)
			for _, dir := range dirs {
				if cases {
					lines := out
					if how.json {
						lines = nil
					}
					r, err := houseCases(lines, dir, maxBytes)
					if err != nil {
						faults = append(faults, err)
						continue
					}
					results = append(results, r)
					continue
				}
				v, err := load(dir, maxBytes)
				if err != nil {
					faults = append(faults, err)
					continue
				}
				results = append(results, engine.Check(v, house.Join(v, rules.All()), engine.Options{Today: now}))
			}
			failure := errors.Join(faults...)
			if how.json {
				text := ""
				if failure != nil {
					text = failure.Error()
				}
				if err := report.WriteJSON(out, report.CheckDocument(tool, results, asked, text)); err != nil {
					return failed(err)
				}
			} else if len(results) > 0 {
				opt.Show = show.Severity
				if err := report.WriteText(out, results, opt); err != nil {
					return failed(err)
				}
			}
			if failure != nil {
				return failed(failure)
			}
			for _, r := range results {
				for i := range r.Findings {
					if f := &r.Findings[i]; !f.Waived && f.Severity >= level.Severity {
						return &exit{code: exitFindings}
					}
				}
			}
			return nil
		},
	}
	withFormat(c, &how)
	c.Flags().Var(&level, "level", "findings from this severity on make the exit code 1")
	c.Flags().Var(&show, "show", "the least severity that the text form prints")
	c.Flags().Var(&today, "today", "the day on which waivers are judged (default: the local date)")
	withMaxBytes(c, &maxBytes)
	c.Flags().BoolVar(&cases, "house-cases", false, "run the cases of the design's own rules instead, house_cases/RULE/bad and .../good")
	c.Flags().BoolVar(&opt.Provenance, "provenance", false, "name the remembered figures that a finding rests on")
	return c
}
