package main

import (
	"cmp"
	"errors"
	"io"
	"path/filepath"

	"github.com/spf13/cobra"

	"trefoil/lint/design"
	"trefoil/lint/finding"
	"trefoil/lint/report"
	"trefoil/ratings"
	"trefoil/ratings/sets"
	"trefoil/ratings/table"
	"trefoil/ratings/usertable"
)

func tablesCommand(out io.Writer) *cobra.Command {
	var (
		how   format
		check string
		blank string
	)
	c := &cobra.Command{
		Use:   "tables [SET [FILE]]",
		Short: "Show the rating sets, their tables, and where each figure comes from",
		Long: `Tables lists the rating sets with their reference conditions and how many of their
figures were read in a print, are from memory, or are computed. With SET it lists
that set's tables and sources; with FILE it prints one table, where * marks a figure
from memory and ~ a computed one.

Your own tables, typed from a bought standard or a maker's sheet, are used by
ratings = "./DIR" or capacity_tables = "./DIR" in the site. --blank SET writes an
empty form for them, --check DIR looks for cells that look mistyped: order, smoothness,
aluminium to copper, one arrangement below the other, and the thermal model.`,
		Example: `  trefoil tables
  trefoil tables iec-60364-5-52:2009
  trefoil tables iec-60364-5-52:2009 b52-05.csv
  trefoil tables --blank as-nzs-3008.1.1:2017 > tables/t14.csv
  trefoil tables --check tables`,
		Args: cobra.MaximumNArgs(2),
		ValidArgsFunction: func(_ *cobra.Command, args []string, _ string) ([]string, cobra.ShellCompDirective) {
			var names []string
			for _, s := range sets.All() {
				switch {
				case len(args) == 0:
					names = append(names, s.Info().Name)
				case len(args) == 1 && args[0] == s.Info().Name:
					for _, f := range s.Files() {
						names = append(names, f.Name)
					}
				}
			}
			return names, cobra.ShellCompDirectiveNoFileComp
		},
		RunE: func(_ *cobra.Command, args []string) error {
			switch {
			case check != "":
				return checkTables(out, check, how)
			case blank != "":
				set, err := sets.Find(blank)
				if err != nil {
					return usage("no rating set is named %q; %v", blank, err)
				}
				_, err = out.Write(usertable.Blank(set.Info()))
				return err
			}
			list := sets.All()
			if len(args) > 0 {
				set, err := sets.Find(args[0])
				if err != nil {
					return usage("no rating set is named %q; %v", args[0], err)
				}
				list = []ratings.Set{set}
			}
			if len(args) < 2 {
				return report.WriteTables(out, list, len(args) > 0, how.json)
			}
			var names []string
			for _, f := range list[0].Files() {
				if f.Name == args[1] {
					return report.WriteTable(out, f, how.json)
				}
				names = append(names, f.Name)
			}
			return usage("%s has no table file %q; %s", args[0], args[1], cmp.Or(design.Nearest(args[1], names), "trefoil tables "+args[0]+" lists them"))
		},
	}
	withFormat(c, &how)
	c.Flags().StringVar(&check, "check", "", "look through a directory of your own tables")
	c.Flags().StringVar(&blank, "blank", "", "write an empty form for a set")
	return c
}

// checkTables tells what is wrong, and what looks wrong, in a directory of tables.
func checkTables(out io.Writer, dir string, how format) error {
	texts, err := readTables(disk{}, dir, ".")
	if err != nil {
		return failed(err)
	}
	u, faults := usertable.Parse(texts)
	d := report.TableCheck{Version: report.Version, Tool: tool, Tables: len(texts), Columns: len(u.Capacity), Remarks: []report.TableRemark{}}
	for _, f := range faults {
		r := report.TableRemark{Severity: finding.Error.String(), File: filepath.ToSlash(dir), Message: f.Error()}
		if in := (*table.Error)(nil); errors.As(f, &in) {
			r.File, r.Line, r.Message = filepath.ToSlash(filepath.Join(dir, in.File)), in.Line, in.What
		}
		d.Remarks = append(d.Remarks, r)
	}
	for _, r := range usertable.Judge(u) {
		d.Remarks = append(d.Remarks, report.TableRemark{Severity: finding.Warning.String(), File: filepath.ToSlash(filepath.Join(dir, r.File)), Line: r.Line, Message: r.Text})
	}
	if err := d.Write(out, how.json); err != nil {
		return failed(err)
	}
	if len(d.Remarks) > 0 {
		return &exit{code: exitFindings}
	}
	return nil
}
