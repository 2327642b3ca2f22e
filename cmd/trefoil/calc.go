package main

import (
	"cmp"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"trefoil/lint/assess"
	"trefoil/lint/design"
	"trefoil/lint/report"
)

func calcCommand(out io.Writer) *cobra.Command {
	var how format
	var maxBytes limit
	c := &cobra.Command{
		Use:   "calc [DIR] [RUN]",
		Short: "Show the working of one run or all runs",
		Long: `Calc shows how each figure of a run comes about: design current, for each section the
tabulated value with its table and column, every factor with its reason and
reference, the neighbours in the group, the worst section, impedance, voltage rise
of the run and of the path from the point of supply, and loss.

It answers for every run that can be worked out: exit code 0, or 3 when none can.`,
		Example: `  trefoil calc                               every run of this directory's design
  trefoil calc examples/cold-store generation
  trefoil calc examples/bakery "inv[left]"
  trefoil calc --format json examples/bakery`,
		Args: cobra.MaximumNArgs(2),
		RunE: func(_ *cobra.Command, args []string) error {
			dir, name, err := dirAndRun(args)
			if err != nil {
				return calcFailed(out, how, err)
			}
			v, err := load(dir, maxBytes)
			if err != nil {
				return calcFailed(out, how, err)
			}
			runs, err := pick(v, strings.TrimPrefix(name, "run."))
			if err != nil {
				return calcFailed(out, how, err)
			}
			worked := false
			for _, i := range runs {
				a := &v.Runs[i]
				worked = worked || a.CapacityA.Known || a.ROhmKM().Known
			}
			failure := ""
			if !worked {
				failure = "nothing of it could be worked out; trefoil check tells why"
			}
			if how.json {
				err = report.WriteJSON(out, report.NewCalcDocument(tool, v, runs, failure))
			} else {
				err = report.WriteCalc(out, v, runs)
			}
			if err != nil {
				return failed(err)
			}
			if failure != "" {
				return failed(fmt.Errorf("%s: %s", dir, failure))
			}
			return nil
		},
	}
	withFormat(c, &how)
	withMaxBytes(c, &maxBytes)
	return c
}

// calcFailed writes the document that JSON readers expect in any case.
func calcFailed(out io.Writer, how format, err error) error {
	if how.json {
		if e := report.WriteJSON(out, report.CalcDocument{Version: report.Version, Tool: tool, Error: err.Error()}.Empty()); e != nil {
			return failed(e)
		}
	}
	return failed(err)
}

// pick gives the runs of a name; all of them where none is given, every copy where
// it is the name of a set.
func pick(v *assess.Review, name string) ([]int, error) {
	var list []int
	var names []string
	for i := range v.Runs {
		r := v.Runs[i].Run
		if name == "" || r.Name == name || r.CopyOf == name {
			list = append(list, i)
		}
		names = append(names, r.Name)
	}
	if len(list) == 0 {
		if name == "" {
			return nil, fmt.Errorf("the design has no run that could be read")
		}
		return nil, fmt.Errorf("run %q is not in the design; %s", name, cmp.Or(design.Nearest(name, names), "trefoil calc without a name shows all runs"))
	}
	return list, nil
}
