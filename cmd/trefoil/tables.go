package main

import (
	"io"

	"github.com/spf13/cobra"

	"trefoil/lint/design"
	"trefoil/lint/report"
	"trefoil/ratings"
	"trefoil/ratings/sets"
)

func tablesCommand(out io.Writer) *cobra.Command {
	var how format
	c := &cobra.Command{
		Use:   "tables [SET [FILE]]",
		Short: "Show the rating sets, their tables, and where each figure comes from",
		Long: `Tables lists the rating sets with their reference conditions and how many of their
figures were read in a print, are from memory, or are computed. With SET it lists
that set's tables and sources; with FILE it prints one table, where * marks a figure
from memory and ~ a computed one.`,
		Example: `  trefoil tables
  trefoil tables iec-60364-5-52:2009
  trefoil tables iec-60364-5-52:2009 b52-05.csv`,
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
			return usage("%s has no table file %q; %s", args[0], args[1], design.Nearest(args[1], names))
		},
	}
	withFormat(c, &how)
	return c
}
