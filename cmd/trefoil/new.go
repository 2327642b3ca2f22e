package main

import (
	_ "embed"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"trefoil/lint/report"
)

//go:embed starter.hcl
var starter []byte

func newCommand(out io.Writer) *cobra.Command {
	return &cobra.Command{
		Use:   "new DIR",
		Short: "Write a commented design to begin with",
		Long: `New writes DIR/site.hcl: a small design that passes, with a comment at each line that
needs your own figures. It never overwrites: a directory that holds *.hcl files is
left as it is.`,
		Example: `  trefoil new my-site
  trefoil check my-site`,
		Args: cobra.ExactArgs(1),
		RunE: func(_ *cobra.Command, args []string) error {
			dir := args[0]
			if err := os.MkdirAll(dir, 0o755); err != nil {
				return failed(fmt.Errorf("make the directory: %w", err))
			}
			names, err := hcl(dir)
			if err != nil {
				return failed(fmt.Errorf("look into the directory: %w", err))
			}
			if len(names) > 0 {
				return failed(fmt.Errorf("%s holds %s already; name another directory", dir, filepath.Base(names[0])))
			}
			name := filepath.Join(dir, "site.hcl")
			f, err := os.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
			if err != nil {
				return failed(fmt.Errorf("write the design: %w", err))
			}
			_, err = f.Write(starter)
			if e := f.Close(); err == nil {
				err = e
			}
			if err != nil {
				os.Remove(name) // a part of it is no design
				return failed(fmt.Errorf("write the design: %w", err))
			}
			fmt.Fprintf(out, "%s is written; its figures are made up, so put in your own.\nNext: trefoil check %s\n", report.Clean(filepath.ToSlash(name)), report.Clean(dir))
			return nil
		},
	}
}
