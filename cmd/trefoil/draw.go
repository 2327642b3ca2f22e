package main

import (
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"trefoil/lint/draw"
)

func drawCommand(out io.Writer) *cobra.Command {
	var (
		what     = oneOf{"diagram", []string{"diagram", "sections"}}
		to       string
		sheet    int
		today    day
		maxBytes limit
		opt      draw.Options
	)
	c := &cobra.Command{
		Use:   "draw [DIR]",
		Short: "Draw the single-line diagram, or the cross-sections of the routes",
		Long: `Draw lays out drawings of a design as SVG, on A3 sheets with title block, legend and
the findings that are marked on them. The single-line diagram shows every run with
cable, length and device, and every board and source with its ratings, the voltage
rise up to it and its prospective short-circuit currents. The cross-sections show
what lies in each route, to scale where all diameters are known.

One sheet goes to standard output, or to the file that --out names. Several go to
the directory that it names, a file each.

The drawings show what is written, not what is built. Local codes and the licensed
person responsible decide; this is an aid.`,
		Example: `  trefoil draw examples/bakery > bakery.svg
  trefoil draw --what sections --out drawings examples/cold-store
  trefoil draw --sheet 2 --revision "B, for approval" --out sheet-2.svg`,
		Args: cobra.MaximumNArgs(1),
		RunE: func(_ *cobra.Command, args []string) error {
			res, _, now, err := reviewed(args, maxBytes, today)
			if err != nil {
				return failed(err)
			}
			opt.Date, opt.Tool = now.Format(time.DateOnly), tool.Name+" "+tool.Version
			sheets := draw.Diagram(res.Review, res.Findings, opt)
			if what.value == "sections" {
				sheets = draw.Sections(res.Review, res.Findings, opt)
			}
			if sheet != 0 {
				if sheet < 1 || sheet > len(sheets) {
					return usage("--sheet is %d, and the drawing has the sheets 1 to %d", sheet, len(sheets))
				}
				sheets = sheets[sheet-1 : sheet]
			}
			return hand(out, sheets, to)
		},
	}
	withOneOf(c, &what, "what", "what is drawn")
	c.Flags().StringVar(&to, "out", "", "the *.svg file for one sheet, or the directory for several (default: standard output)")
	c.Flags().IntVar(&sheet, "sheet", 0, "this sheet alone (default: all)")
	c.Flags().StringVar(&opt.Revision, "revision", "", "what the title block says of the revision")
	c.Flags().BoolVar(&opt.Notes, "notes", false, "mark notes too, not errors and warnings alone")
	c.Flags().Var(&today, "today", "the day that the sheets bear and on which waivers are judged (default: the local date)")
	withMaxBytes(c, &maxBytes)
	return c
}

// hand gives sheets over where they were asked for.
func hand(out io.Writer, sheets []draw.Sheet, to string) error {
	if to == "" || strings.HasSuffix(to, ".svg") {
		if len(sheets) > 1 {
			return usage("the drawing has %d sheets; name a directory with --out, or one of them with --sheet", len(sheets))
		}
		return handOver(out, to, sheets[0].SVG)
	}
	if err := os.MkdirAll(to, 0o755); err != nil {
		return failed(fmt.Errorf("make the directory: %w", err))
	}
	for _, s := range sheets {
		if err := handOver(out, filepath.Join(to, s.Name+".svg"), s.SVG); err != nil {
			return err
		}
	}
	return nil
}
