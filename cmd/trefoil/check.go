package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"path/filepath"
	"slices"
	"syscall"
	"time"

	"github.com/spf13/cobra"

	"trefoil/lint/compare"
	"trefoil/lint/design"
	"trefoil/lint/engine"
	"trefoil/lint/finding"
	"trefoil/lint/house"
	"trefoil/lint/report"
	"trefoil/lint/session"
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

// checking is one call of check.
type checking struct {
	how      format
	level    severity
	show     severity
	today    day
	maxBytes limit
	opt      report.Options
	cases    bool   // the cases of house rules instead
	staged   bool   // the designs that a commit touches
	watch    bool   // again at each save
	since    string // a revision; what it had is left out
	record   string // the file to write a record to
	verify   string // the record to hold what is found against

	live map[string]*session.Session // by directory, of designs that are watched
}

func checkCommand(out io.Writer) *cobra.Command {
	k := checking{level: severity{finding.Error}, show: severity{finding.Note}}
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

--since REV leaves out what the git revision REV had as well. --staged, for a hook, checks
the designs of the files named and of those staged for a commit, deleted ones too, and
passes by what belongs to no design. --watch checks again at each save.

--record FILE writes down what was read, found and worked out, by which tables, with a
digest; --verify FILE says whether all of that still holds.

--format: text; json; sarif, of the standard 2.1.0; junit, one test case a rule; line, one
line a finding and nothing else.

Exit code: 0 nothing at or above --level, 1 findings, or a record that does not hold, 2
wrong usage, 3 a design could not be read. Findings that a waiver of the design accepts do
not count.

Local codes and the licensed person responsible decide; this is an aid.`,
		Example: `  trefoil check                           the design in this directory
  trefoil check examples/cold-store
  trefoil check --level warning site-a site-b
  trefoil check --since main ./...
  trefoil check --format json ./...`,
		RunE: func(c *cobra.Command, args []string) error {
			if k.today.IsZero() {
				k.today.Time = time.Now()
			}
			errs := c.ErrOrStderr()
			switch {
			case k.verify != "":
				if len(args) > 0 {
					return usage("a record names its designs; leave out %s", args[0])
				}
				return k.hold(out)
			case k.watch:
				ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
				defer stop()
				return k.follow(ctx, out, errs, args)
			}
			return k.once(out, errs, args)
		},
	}
	withFormat(c, &k.how, "sarif", "junit", "line")
	f := c.Flags()
	f.Var(&k.level, "level", "findings from this severity on make the exit code 1")
	f.Var(&k.show, "show", "the least severity that the text and line forms print")
	f.Var(&k.today, "today", "the day on which waivers are judged (default: the local date)")
	withMaxBytes(c, &k.maxBytes)
	f.BoolVar(&k.cases, "house-cases", false, "run the cases of the design's own rules instead, house_cases/RULE/bad and .../good")
	f.BoolVar(&k.opt.Provenance, "provenance", false, "name the remembered figures that a finding rests on")
	f.StringVar(&k.since, "since", "", "leave out what this git `REV` had as well")
	f.BoolVar(&k.staged, "staged", false, "for a hook: the designs of the files named and of those staged for a commit")
	f.BoolVar(&k.watch, "watch", false, "check again at each save, until interrupted")
	f.StringVar(&k.record, "record", "", "write the evidence of the check to `FILE`")
	f.StringVar(&k.verify, "verify", "", "say whether the record in `FILE` still holds")
	for _, pair := range [][]string{{"watch", "record", "verify", "house-cases"}, {"since", "record", "verify", "house-cases"}, {"watch", "staged"}, {"verify", "staged"}} {
		c.MarkFlagsMutuallyExclusive(pair...)
	}
	return c
}

// outcome is what came of a check of some designs.
type outcome struct {
	results []*engine.Result
	rules   []*engine.Rule // that were run, each once
	asked   int            // designs
	faults  []error        // those that could not be read
	notes   []string       // what to say beside the findings
}

func (o *outcome) failure() string {
	if err := errors.Join(o.faults...); err != nil {
		return err.Error()
	}
	return ""
}

// once checks, writes what came of it, and gives the exit code.
func (k *checking) once(out, errs io.Writer, args []string) error {
	o := k.work(out, args)
	for _, n := range o.notes {
		fmt.Fprintln(errs, report.Clean("trefoil: "+n))
	}
	if err := k.write(out, o); err != nil {
		return failed(err)
	}
	if k.record != "" && len(o.faults) == 0 {
		if err := k.note(o.results); err != nil {
			return failed(err)
		}
	}
	return k.code(o)
}

// work checks the designs that are named.
func (k *checking) work(out io.Writer, args []string) *outcome {
	o := &outcome{}
	var dirs []string
	if k.staged {
		dirs = k.touched(o, args)
	} else {
		dirs, o.faults = directories(args, k.maxBytes)
	}
	o.asked = len(dirs) + len(o.faults)
	for _, dir := range dirs {
		r, list, err := k.design(out, dir)
		if err == nil && k.since != "" {
			err = k.leave(o, dir, r)
		}
		if err != nil {
			o.faults = append(o.faults, err)
			continue
		}
		o.results = append(o.results, r)
		for _, rule := range list {
			if !slices.ContainsFunc(o.rules, func(x *engine.Rule) bool { return x.Name == rule.Name }) {
				o.rules = append(o.rules, rule)
			}
		}
	}
	return o
}

// design checks one design, or runs the cases of its own rules.
func (k *checking) design(out io.Writer, dir string) (*engine.Result, []*engine.Rule, error) {
	if k.cases {
		if k.how.String() != "text" {
			out = nil
		}
		r, err := houseCases(out, dir, k.maxBytes)
		return r, nil, err
	}
	if k.live != nil {
		return k.again(dir)
	}
	v, err := load(dir, k.maxBytes)
	if err != nil {
		return nil, nil, err
	}
	list := house.Join(v, rules.All())
	return engine.Check(v, list, engine.Options{Today: k.today.Time}), list, nil
}

// leave takes out of a result what a revision had as well.
func (k *checking) leave(o *outcome, dir string, r *engine.Result) error {
	rev, err := openRevision(dir, k.since)
	if err != nil {
		return err
	}
	defer rev.Close()
	was, err := edition{loader{rev, k.maxBytes}, dir, rev.String(), rev}.side(engine.Options{Today: k.today.Time})
	if err != nil {
		return err
	}
	if was.Broken() {
		o.notes = append(o.notes, fmt.Sprintf("%s: the design could not be read whole at %s, so what it had is known in part", filepath.ToSlash(dir), was.Name))
	}
	c := compare.Compare(was, compare.Side{Name: "the working tree", Result: r}, nil)
	all := len(r.Findings)
	r.Findings = c.Fresh()
	if n := all - len(r.Findings); n > 0 {
		o.notes = append(o.notes, fmt.Sprintf("%s: findings left out because %s had them as well: %d", filepath.ToSlash(dir), was.Name, n))
	}
	return nil
}

// write writes what came of a check in the form that was asked for.
func (k *checking) write(out io.Writer, o *outcome) error {
	switch k.how.String() {
	case "json":
		return report.WriteJSON(out, report.CheckDocument(tool, o.results, o.asked, o.failure()))
	case "sarif":
		return report.WriteSARIF(out, tool, o.results, o.rules, o.failure())
	case "junit":
		return report.WriteJUnit(out, tool, o.results, o.rules, k.level.Severity, o.failure())
	case "line":
		return report.WriteLines(out, o.results, k.show.Severity)
	}
	if len(o.results) == 0 {
		return nil
	}
	k.opt.Show = k.show.Severity
	return report.WriteText(out, o.results, k.opt)
}

// code is the exit code of what came of a check.
func (k *checking) code(o *outcome) error {
	if err := errors.Join(o.faults...); err != nil {
		return failed(err)
	}
	for _, r := range o.results {
		for i := range r.Findings {
			if f := &r.Findings[i]; !f.Waived && f.Severity >= k.level.Severity {
				return &exit{code: exitFindings}
			}
		}
	}
	return nil
}

// note writes the record of a check.
func (k *checking) note(results []*engine.Result) error {
	r, err := report.NewRecord(tool, k.today.Time, results)
	if err != nil {
		return err
	}
	var b bytes.Buffer
	if err := r.Write(&b); err != nil {
		return err
	}
	return saveNew(k.record, b.Bytes())
}

// maxRecord bounds the record that is read.
const maxRecord = 1 << 30

// hold checks the designs of a record again and says what is not as it was.
func (k *checking) hold(out io.Writer) error {
	info, err := os.Stat(k.verify)
	if err != nil {
		return failed(fmt.Errorf("read the record: %w", err))
	}
	text, err := bounded(disk{}, k.verify, info.Size(), maxRecord)
	if err != nil {
		return failed(fmt.Errorf("read the record: %w", err))
	}
	was, designs, err := report.ReadRecord(text)
	if err != nil {
		return failed(fmt.Errorf("read the record %s: %w", k.verify, err))
	}
	if k.today.Time, err = time.Parse(time.DateOnly, was.Today); err != nil {
		return failed(fmt.Errorf("read the record %s: %w", k.verify, err))
	}
	var results []*engine.Result
	for i := range designs {
		dir := filepath.FromSlash(designs[i].Design)
		if (disk{}).Beyond(filepath.Dir(k.verify), dir) {
			return failed(fmt.Errorf("the record %s names the design %s, which lies outside of the repository that the record lies in", k.verify, designs[i].Design))
		}
		r, _, err := k.design(nil, dir)
		if err != nil {
			return failed(fmt.Errorf("check what %s was made of: %w; run it where the record was made", k.verify, err))
		}
		results = append(results, r)
	}
	now, err := report.NewRecord(tool, k.today.Time, results)
	if err != nil {
		return failed(err)
	}
	held, err := report.Hold(was, now)
	if err != nil {
		return failed(err)
	}
	if err := held.Write(out, k.verify, k.how.json); err != nil {
		return failed(err)
	}
	if len(held.Departures) > 0 {
		return &exit{code: exitFindings}
	}
	return nil
}
