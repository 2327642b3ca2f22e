package main

import (
	"cmp"
	"fmt"
	"io"
	"regexp"
	"slices"
	"strings"

	"github.com/rogpeppe/go-internal/txtar"
	"github.com/spf13/cobra"

	"trefoil/lint/assess"
	"trefoil/lint/design"
	"trefoil/lint/engine"
	"trefoil/lint/house"
	"trefoil/lint/report"
	"trefoil/lint/rulecheck"
	"trefoil/ratings/sets"
	"trefoil/rules"
)

func explainCommand(out io.Writer) *cobra.Command {
	var (
		dir      string
		maxBytes limit
	)
	c := &cobra.Command{
		Use:   "explain [RULE]",
		Short: "Say what a rule looks at, why, and what it does not see",
		Long: `Explain prints a rule's page: what it checks and why, its clause, how it can be waived,
what it does not see, its sources, and a bad and a good example with the finding as
check tells it. Without RULE it lists all rules. House rules of the design in --design,
or in the current directory, are among them.`,
		Example: `  trefoil explain
  trefoil explain run-overloaded
  trefoil explain --design my-site no-small-aluminium`,
		Args: cobra.MaximumNArgs(1),
		ValidArgsFunction: func(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
			return ruleWords(dir, maxBytes), cobra.ShellCompDirectiveNoFileComp
		},
		RunE: func(_ *cobra.Command, args []string) error {
			own, err := houseRules(dir, maxBytes)
			if err != nil {
				return failed(err)
			}
			all := slices.Clone(rules.All())
			for _, h := range own {
				all = append(all, house.Rule(h))
			}
			if len(args) == 0 {
				for _, r := range all {
					fmt.Fprintf(out, "%-24s %-8s %s\n", report.Clean(r.Name), r.Severity, report.Clean(r.Summary))
				}
				return nil
			}
			var names []string
			for i, r := range all {
				names = append(names, r.Name)
				if r.Name != args[0] {
					continue
				}
				if known := len(rules.All()); i >= known {
					if err := housePage(out, own[i-known], maxBytes); err != nil {
						return failed(err)
					}
					return nil
				}
				bad, err := example(r, r.Doc.Bad)
				if err != nil {
					return failed(err)
				}
				good, err := example(r, r.Doc.Good)
				if err != nil {
					return failed(err)
				}
				return report.WritePage(out, r, bad, good)
			}
			return usage("no rule is named %q; %s", args[0], cmp.Or(design.Nearest(args[0], names), "trefoil explain lists them"))
		},
	}
	c.Flags().StringVar(&dir, "design", "", "the design whose house rules are explained too (default: the current directory, if it holds one)")
	withMaxBytes(c, &maxBytes)
	return c
}

// What a case says to the test that runs it, and not to a reader.
var (
	besides = regexp.MustCompile(`(?m)^Besides: .*\n?`)
	claims  = regexp.MustCompile(`(?m) *# finds: .*$`)
)

// example runs a rule's case, so that the finding on its page is a real one.
func example(r *engine.Rule, name string) (report.Example, error) {
	text, ok := rules.Case(r.Name, name)
	base, also := rules.Case("base", "base")
	if !ok || !also {
		return report.Example{}, fmt.Errorf("the case %s of rule %s is missing", name, r.Name)
	}
	archive := txtar.Parse(text)
	e := report.Example{
		Prose:    besides.ReplaceAllString(string(archive.Comment), ""),
		Findings: rulecheck.Check(rulecheck.Files(text, base), rules.All(), assess.Named(sets.Find)),
	}
	for _, f := range archive.Files {
		if strings.HasSuffix(f.Name, ".hcl") {
			e.Files = append(e.Files, report.ExampleFile{Name: f.Name, Text: claims.ReplaceAllString(string(f.Data), "")})
		}
	}
	return e, nil
}

// ruleWords lists the rules for completion, those of the design in a directory included.
func ruleWords(dir string, maxBytes limit) []string {
	var names []string
	for _, r := range rules.All() {
		names = append(names, r.Name+"\t"+r.Summary)
	}
	own, _ := houseRules(dir, maxBytes)
	for _, h := range own {
		names = append(names, h.Name+"\t"+house.Rule(h).Summary)
	}
	return names
}
