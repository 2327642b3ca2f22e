package main

import (
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"trefoil/lint/design"
	"trefoil/lint/report"
)

func schemaCommand(out io.Writer) *cobra.Command {
	return &cobra.Command{
		Use:   "schema [DOCUMENT]",
		Short: "Show the JSON Schema of what commands write",
		Long: `Schema prints the JSON Schema (draft 2020-12) of a document that a command writes with
--format json, or of a record of check. Without a name it lists them. Under one version
keys are only ever added, so a reader passes by those that it does not know.`,
		Example: `  trefoil schema
  trefoil schema check > check.schema.json`,
		Args:      cobra.MaximumNArgs(1),
		ValidArgs: report.Documents(),
		RunE: func(_ *cobra.Command, args []string) error {
			if len(args) == 0 {
				fmt.Fprintln(out, strings.Join(report.Documents(), "\n"))
				return nil
			}
			text, err := report.Schema(args[0])
			if err != nil {
				return usage("%v; %s", err, design.Nearest(args[0], report.Documents()))
			}
			_, err = out.Write(text)
			return err
		},
	}
}
