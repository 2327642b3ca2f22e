package main

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/fatih/color"
	"github.com/spf13/cobra"

	"trefoil/lint/assess"
	"trefoil/lint/design"
	"trefoil/lint/engine"
	"trefoil/lint/house"
	"trefoil/lint/report"
	"trefoil/lint/schedule"
	"trefoil/ratings/quantity"
	"trefoil/rules"
)

// oneOf is the value of an option that is one of some words.
type oneOf struct {
	value string
	words []string
}

func (o *oneOf) String() string { return o.value }
func (o *oneOf) Type() string   { return strings.Join(o.words, "|") }

func (o *oneOf) Set(s string) error {
	if !slices.Contains(o.words, s) {
		return errors.New(strings.TrimSuffix("it is one of "+strings.Join(o.words, ", ")+"; "+design.Nearest(s, o.words), "; "))
	}
	o.value = s
	return nil
}

// withOneOf adds such an option and the completion of its words.
func withOneOf(c *cobra.Command, o *oneOf, name, what string) {
	c.Flags().Var(o, name, what)
	_ = c.RegisterFlagCompletionFunc(name, cobra.FixedCompletions(o.words, cobra.ShellCompDirectiveNoFileComp))
}

// metres is the value of an option that is a list of lengths.
type metres []float64

func (m *metres) Type() string { return "M,M" }

func (m *metres) String() string {
	var parts []string
	for _, x := range *m {
		parts = append(parts, quantity.Ratio.Print(x))
	}
	return strings.Join(parts, ",")
}

func (m *metres) Set(s string) error {
	*m = nil
	for _, part := range strings.Split(s, ",") {
		var x between
		x.low, x.high = 1, 1e5
		if err := x.Set(strings.TrimSpace(part)); err != nil {
			return err
		}
		*m = append(*m, x.value)
	}
	return nil
}

// between is the value of an option that is a number within bounds.
type between struct {
	value, low, high float64
	unit             string
}

func (b *between) Type() string   { return b.unit }
func (b *between) String() string { return quantity.Ratio.Print(b.value) }

func (b *between) Set(s string) error {
	var x float64
	if _, err := fmt.Sscanf(s+"\n", "%g\n", &x); err != nil || !(x >= b.low && x <= b.high) {
		return fmt.Errorf("%q is no number from %g to %g", s, b.low, b.high)
	}
	b.value = x
	return nil
}

// withCuts adds the options of what is cut from drums.
func withCuts(c *cobra.Command) func(*schedule.Options) {
	tail := between{2, 0, 100, "M"}
	spare := between{3, 0, 100, "PERCENT"}
	drums := metres{100, 250, 500, 1000}
	c.Flags().Var(&tail, "tail", "cable at each end of a cut, beyond its routes")
	c.Flags().Var(&spare, "spare", "spare, of the length along the routes")
	c.Flags().Var(&drums, "drums", "lengths of the drums there are")
	return func(o *schedule.Options) { o.TailM, o.Spare, o.DrumsM = tail.value, spare.value, drums }
}

// reviewed is a design with what the rules find in it.
func reviewed(args []string, maxBytes limit, today day) (*engine.Result, []*engine.Rule, time.Time, error) {
	dir, now := ".", today.Time
	if len(args) > 0 {
		dir = args[0]
	}
	if now.IsZero() {
		now = time.Now()
	}
	v, err := load(relative(filepath.Clean(dir)), maxBytes)
	if err != nil {
		return nil, nil, now, err
	}
	all := house.Join(v, rules.All())
	return engine.Check(v, all, engine.Options{Today: now}), all, now, nil
}

// stampOf is what stands on every page of a design's documents.
func stampOf(v *assess.Review, now time.Time) report.Stamp {
	s := report.Stamp{Design: v.Design.Dir, Day: now.Format(time.DateOnly)}
	if site := v.Design.Site(); site != nil {
		s.Design = site.Name
	}
	return s
}

func scheduleCommand(out io.Writer) *cobra.Command {
	var (
		maxBytes limit
		today    day
		columns  []string
		file     string
		opt      schedule.Options
		kinds    = oneOf{value: "cables"}
		how      = oneOf{"text", []string{"text", "csv", "markdown", "xlsx", "json"}}
	)
	for _, k := range schedule.Kinds {
		kinds.words = append(kinds.words, k.Name)
	}
	kinds.words = append(kinds.words, "all")
	c := &cobra.Command{
		Use:   "schedule [DIR]",
		Short: "List cables, boards, routes, labels, terminations and drums",
		Long: `Schedule lists what is bought, drawn in and connected: cables, boards, ways, routes,
labels, terminations (lugs and glands), cuts and drums. Its figures are those of calc,
in csv, xlsx and json in full; "unknown" stands where one could not be worked out, and
nothing where there is none.

Text and Markdown show the usual columns, the other formats all; --columns a,b chooses,
"usual" and "all" stand for themselves, and a wrong name lists those there are. A text
that a spreadsheet would take for a formula has a ' in front in csv. Cut lengths follow
from --tail, --spare and --drums, which are common practice and yours to set.

How many errors stand open is said on every table, and on standard error for csv: do
not buy or build from such a design. Exit code: 0 when it is written, whatever is found;
3 when it could not be. Local codes and the licensed person responsible decide; this is
an aid.`,
		Example: `  trefoil schedule examples/cold-store
  trefoil schedule --columns cable,from,to,size,length_m,drawn_in,tested
  trefoil schedule --kind all --out cold-store.xlsx examples/cold-store
  trefoil schedule --kind drums --drums 500,1000 --spare 5 examples/cold-store`,
		Args: cobra.MaximumNArgs(1),
	}
	cutting := withCuts(c)
	c.RunE = func(_ *cobra.Command, args []string) error {
		if !c.Flags().Changed("format") {
			for suffix, f := range map[string]string{".csv": "csv", ".md": "markdown", ".xlsx": "xlsx", ".json": "json"} {
				if strings.HasSuffix(file, suffix) {
					how.value = f
				}
			}
		}
		if how.value == "xlsx" && file == "" {
			return usage("a workbook is no text: name a file with --out")
		}
		if how.value == "csv" && kinds.value == "all" {
			return usage("csv holds one table: name a --kind, or take xlsx")
		}
		if kinds.value == "all" && len(columns) > 0 {
			return usage("--columns are those of one table: name a --kind")
		}
		if file != "" || how.value == "json" {
			color.NoColor = true
		}
		res, _, now, err := reviewed(args, maxBytes, today)
		if err != nil {
			if how.value == "json" {
				if e := report.WriteJSON(out, report.ScheduleDocument{Version: report.Version, Tool: tool, Error: err.Error()}.Empty()); e != nil {
					return failed(e)
				}
			}
			return failed(err)
		}
		opt.Findings = res.Findings
		cutting(&opt)
		if len(columns) == 0 {
			columns = []string{"all"}
			if how.value == "text" || how.value == "markdown" {
				columns = []string{"usual"}
			}
		}
		var tables []schedule.Table
		for _, k := range schedule.Kinds {
			if k.Name != kinds.value && kinds.value != "all" {
				continue
			}
			t, err := k.Of(res.Review, opt).Pick(columns)
			if err != nil {
				return usage("%v", err)
			}
			tables = append(tables, t)
		}
		standing := schedule.Standing(res.Findings)
		var b bytes.Buffer
		switch how.value {
		case "csv":
			err = report.WriteScheduleCSV(&b, tables[0])
		case "markdown":
			err = report.WriteScheduleMarkdown(&b, tables)
		case "xlsx":
			err = report.WriteScheduleXLSX(&b, tables, stampOf(res.Review, now), standing)
		case "json":
			err = report.WriteJSON(&b, report.NewScheduleDocument(tool, tables, standing))
		default:
			err = report.WriteSchedule(&b, tables)
		}
		if err != nil {
			return failed(fmt.Errorf("write the schedule: %w", err))
		}
		if standing != "" && how.value == "csv" {
			fmt.Fprintf(c.ErrOrStderr(), "trefoil: %s in this design: do not buy or build from it\n", standing)
		}
		return handOver(out, file, b.Bytes())
	}
	withOneOf(c, &kinds, "kind", "which schedule")
	withOneOf(c, &how, "format", "how to write it (default: by the ending of --out, else text)")
	c.Flags().StringSliceVar(&columns, "columns", nil, "the columns, in their order; usual and all stand for themselves")
	c.Flags().BoolVar(&opt.Legs, "legs", false, "a row of the cable schedule for each parallel leg")
	c.Flags().StringVar(&file, "out", "", "write to this file instead of standard output")
	c.Flags().Var(&today, "today", "the day on which waivers are judged (default: the local date)")
	withMaxBytes(c, &maxBytes)
	return c
}

// handOver writes a document to a file, or to standard output where none is named.
func handOver(out io.Writer, file string, text []byte) error {
	if file == "" {
		if _, err := out.Write(text); err != nil {
			return failed(err)
		}
		return nil
	}
	if err := saveNew(file, text); err != nil {
		return failed(err)
	}
	fmt.Fprintf(out, "%s is written\n", report.Clean(filepath.ToSlash(file)))
	return nil
}
