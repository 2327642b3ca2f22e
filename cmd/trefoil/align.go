package main

import (
	"bytes"
	"fmt"
	"io"
	"os"
	"strings"

	"github.com/spf13/cobra"

	"trefoil/lint/align"
	"trefoil/lint/report"
)

func alignCommand(out io.Writer) *cobra.Command {
	var write bool
	var maxBytes limit
	c := &cobra.Command{
		Use:   "align [DIR|FILE ...]",
		Short: "Bring the text of a design into its canonical form",
		Long: `Align sets spacing and line ends the way HCL is usually written; comments and meaning
stay. Without --write it shows what would change and exits with 1 when something
would. Files that are broken are told and left alone.`,
		Example: `  trefoil align
  trefoil align --write examples/bakery
  trefoil align site.hcl`,
		RunE: func(_ *cobra.Command, args []string) error {
			names, err := named(args)
			if err != nil {
				return failed(err)
			}
			changed, broken := false, false
			for _, n := range names {
				f, err := readFile(n, maxBytes)
				if err != nil {
					return failed(err)
				}
				text, faults := align.Text(f)
				for _, x := range faults {
					p := f.Position(x.At.Start)
					fmt.Fprintln(out, report.Clean(fmt.Sprintf("%s:%d:%d: error: %s [%s]", f.Name, p.Line, p.Column, x.Message, x.Rule)))
					broken = true
				}
				if len(faults) > 0 || bytes.Equal(text, f.Bytes) {
					continue
				}
				if !write {
					changed = true
					if _, err := io.WriteString(out, unified(f.Name, f.Bytes, text, "aligned")); err != nil {
						return failed(err)
					}
					continue
				}
				if err := saveAll([]saved{{n, f.Bytes, text}}); err != nil {
					return failed(err)
				}
				fmt.Fprintf(out, "%s: aligned\n", report.Clean(f.Name))
			}
			if changed || broken {
				return &exit{code: exitFindings}
			}
			return nil
		},
	}
	c.Flags().BoolVar(&write, "write", false, "save the files instead of showing what would change")
	withMaxBytes(c, &maxBytes)
	return c
}

// named lists the files that were named, and those of directories.
func named(args []string) ([]string, error) {
	if len(args) == 0 {
		args = []string{"."}
	}
	var list []string
	for _, a := range args {
		info, err := os.Stat(a)
		switch {
		case err != nil:
			return nil, fmt.Errorf("find the design: %w", err)
		case !info.IsDir():
			if !strings.HasSuffix(a, ".hcl") {
				return nil, fmt.Errorf("%s is neither a directory nor an *.hcl file", a)
			}
			list = append(list, a)
		default:
			names, err := hcl(a)
			if err != nil {
				return nil, fmt.Errorf("read the design: %w", err)
			}
			if len(names) == 0 {
				return nil, fmt.Errorf("%s holds no *.hcl file", a)
			}
			list = append(list, names...)
		}
	}
	return list, nil
}
