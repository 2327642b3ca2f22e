package main

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"trefoil/lint/assess"
	"trefoil/lint/design"
	"trefoil/lint/engine"
	"trefoil/lint/finding"
	"trefoil/lint/fix"
	"trefoil/lint/house"
	"trefoil/lint/report"
	"trefoil/lint/syntax"
	"trefoil/rules"
)

func amendCommand(out io.Writer) *cobra.Command {
	var (
		how   format
		write bool
		a     amendment
	)
	c := &cobra.Command{
		Use:   "amend [DIR]",
		Short: "Mend in the text of a design what can be mended there",
		Long: `Amend makes the fixes that findings offer, as edits of the text: comments and all
other lines stay as they are, and a file in canonical form stays in it. Plain, it makes
the neutral ones, which say the same design in other words, such as a misspelt word with
one near name. Fixes that alter the design are made where their rule is asked for by
--rule; look at each of them. A fix that would alter one copy of a set alone is refused,
for all copies share one text.

--choose RUN=N writes a choice that trefoil choices lists, and --cheapest the cheapest ones
for all runs together; the options that say what may be chosen are those of choices, and
have to be the same for N to mean the same.

Without --write it shows what would change, as a unified diff, and exits with 1 when
something would. The design is checked again with the new text, in turns, until nothing is
left to mend; where a new error comes up, nothing is written. A word mended can bring out
errors that it hid: --reveal writes all the same, as long as no fix alters the design. A
file that changed meanwhile is not overwritten, and of several files all are saved or none.

Exit code: 0 nothing to amend, or all written; 1 changes are shown, a fix is refused or new
errors come up; 2 wrong usage; 3 the design could not be read or written.

Local codes and the licensed person responsible decide; this is an aid.`,
		Example: `  trefoil amend examples/bakery
  trefoil amend --write
  trefoil amend --choose hall-north=1 examples/cold-store
  trefoil amend --cheapest --write my-site
  trefoil amend --rule block-unused --rule length-unlikely my-site`,
		Args: cobra.MaximumNArgs(1),
		RunE: func(_ *cobra.Command, args []string) error {
			dirs, faults := directories(args, a.maxBytes)
			if len(faults) > 0 {
				return failed(faults[0])
			}
			if len(dirs) != 1 {
				return usage("amend works on one design, here are %d", len(dirs))
			}
			if a.today.IsZero() {
				a.today.Time = time.Now()
			}
			a.dir = dirs[0]
			done, err := a.work()
			if err != nil {
				return err
			}
			if write && len(done.New)+len(done.Broken) == 0 {
				if err := a.save(done); err != nil {
					return failed(err)
				}
			}
			if how.json {
				err = report.WriteJSON(out, report.NewAmendDocument(tool, done))
			} else {
				err = report.WriteAmend(out, done)
			}
			if err != nil {
				return failed(err)
			}
			if len(done.Diffs) > 0 && !done.Written || len(done.Settled.Refused)+len(done.Broken) > 0 {
				return &exit{code: exitFindings}
			}
			return nil
		},
	}
	withFormat(c, &how)
	c.Flags().BoolVar(&write, "write", false, "save the files instead of showing what would change")
	c.Flags().StringArrayVar(&a.rules, "rule", nil, "make fixes of this `RULE` that alter the design, too; may stand several times")
	c.Flags().BoolVar(&a.reveal, "reveal", false, "write even where mended words bring out errors that they hid")
	c.Flags().StringArrayVar(&a.order.picks, "choose", nil, "write choice number N of a run, as trefoil choices ranks it: `RUN=N`; may stand several times")
	c.Flags().BoolVar(&a.order.cheapest, "cheapest", false, "write the cheapest choices for all runs together that pass everything")
	c.Flags().StringVar(&a.order.board, "board", "", "write the cheapest for the runs that end at this `BOARD`")
	withAsked(c, &a.order.may)
	c.Flags().Var(&a.today, "today", "the day on which waivers are judged (default: the local date)")
	withMaxBytes(c, &a.maxBytes)
	_ = c.RegisterFlagCompletionFunc("rule", func(_ *cobra.Command, args []string, _ string) ([]string, cobra.ShellCompDirective) {
		return ruleWords(strings.Join(args, ""), a.maxBytes), cobra.ShellCompDirectiveNoFileComp
	})
	return c
}

// amendment is what amend is asked for.
type amendment struct {
	dir      string
	maxBytes limit
	today    day
	rules    []string // whose fixes may alter the design
	reveal   bool
	order    order
}

// work makes the fixes in memory and checks what came out. Nothing is written.
func (a *amendment) work() (*report.Amended, error) {
	done := &report.Amended{Design: filepath.ToSlash(a.dir)}
	var before, after *engine.Result
	var err error
	done.Settled, err = fix.Settle(func(texts map[string][]byte) (fix.Look, error) {
		s, err := lay(disk{}, texts)
		if err != nil {
			return fix.Look{}, failed(err)
		}
		v, err := loader{s, a.maxBytes}.load(a.dir)
		if err != nil {
			return fix.Look{}, failed(err)
		}
		all := house.Join(v, rules.All())
		after = engine.Check(v, all, engine.Options{Today: a.today.Time})
		look := fix.Look{Files: v.Design.Files}
		if before == nil {
			before = after
			if a.order.any() {
				chosen, err := a.order.fixes(openShop(v, all, a.today.Time))
				if err != nil {
					return fix.Look{}, err
				}
				look.Proposals = chosen
			}
			if err := known(a.rules, all); err != nil {
				return fix.Look{}, err
			}
		}
		if !v.Design.Broken { // where a bracket is open, the words behind it may be others
			var mend []fix.Proposal
			mend, look.Refused, done.Unasked = proposals(after, a.rules)
			look.Proposals = append(look.Proposals, mend...)
		}
		return look, nil
	})
	if told := (*exit)(nil); err != nil && !errors.As(err, &told) {
		err = failed(err)
	}
	if err != nil {
		return nil, err
	}
	done.Before, done.After = report.Summarise(before), report.Summarise(after)
	was, now := done.Settled.Changed()
	for i := range was {
		done.Diffs = append(done.Diffs, report.Diff{File: was[i].Name, Text: unified(was[i].Name, was[i].Bytes, now[i].Bytes, "amended")})
	}
	if before.Review.Design.Broken {
		done.Broken = slices.DeleteFunc(slices.Clone(before.Findings), func(f finding.Finding) bool { return f.Rule != syntax.BrokenText })
	} else if !a.reveal || alters(&done.Settled) {
		done.New = newErrors(before.Findings, after.Findings)
	}
	return done, nil
}

// save writes the files that changed.
func (a *amendment) save(done *report.Amended) error {
	was, now := done.Settled.Changed()
	if len(was) == 0 {
		return nil
	}
	var list []saved
	for i := range was {
		list = append(list, saved{filepath.FromSlash(was[i].Name), was[i].Bytes, now[i].Bytes})
	}
	if err := saveAll(list); err != nil {
		return err
	}
	done.Written = true
	return nil
}

// known refuses the name of a rule that is not there.
func known(names []string, all []*engine.Rule) error {
	var list []string
	for _, r := range all {
		list = append(list, r.Name)
	}
	for _, n := range names {
		if !slices.Contains(list, n) {
			return usage("no rule is named %q; %s", n, cmp.Or(design.Nearest(n, list), "trefoil explain lists them"))
		}
	}
	return nil
}

// proposals picks the fixes that are made: of each finding that is not waived the first
// that is neutral, or that its rule is asked for. unasked are the rules that have others.
func proposals(res *engine.Result, asked []string) (list []fix.Proposal, refused []fix.Refusal, unasked []string) {
	var found []fix.Proposal
	for i := range res.Findings {
		f := &res.Findings[i]
		if f.Waived {
			continue
		}
		for _, x := range f.Fixes {
			alters := x.Kind == finding.Design && !slices.Contains(asked, f.Rule)
			if alters && !slices.Contains(unasked, f.Rule) {
				unasked = append(unasked, f.Rule)
			}
			if !alters && len(x.Edits) > 0 {
				found = append(found, fix.Proposal{Rule: f.Rule, Subject: f.Subject, At: f.At, Fix: x})
				break
			}
		}
	}
	slices.Sort(unasked)
	lacking := unlike(res.Review, found)
	for _, p := range found {
		if p.Kind == finding.Design {
			if lack := lacking[change{p.Rule, p.Edits[0]}]; lack != "" {
				refused = append(refused, fix.Refusal{Proposal: p, Reason: fmt.Sprintf("its text is that of all copies of the set, and %s does not ask for the same", lack)})
				continue
			}
		}
		list = append(list, p)
	}
	return list, refused, unasked
}

// change is one edit that a rule asks for.
type change struct {
	rule string
	finding.Edit
}

// unlike gives for each change of a text that several copies share a copy that does not ask
// for it, "" where all do.
func unlike(v *assess.Review, all []fix.Proposal) map[change]string {
	asks := map[change]map[string]bool{}
	for _, p := range all {
		k := change{p.Rule, p.Edits[0]}
		if asks[k] == nil {
			asks[k] = map[string]bool{}
		}
		asks[k][p.Subject] = true
	}
	lacking := map[change]string{}
	for _, p := range all {
		k := change{p.Rule, p.Edits[0]}
		if _, looked := lacking[k]; looked { // the text is that of one set
			continue
		}
		lacking[k] = ""
		for _, subject := range v.Design.Siblings(p.Subject) {
			if !asks[k][subject] {
				lacking[k] = subject
				break
			}
		}
	}
	return lacking
}

// alters says that one of the fixes made alters the design.
func alters(s *fix.Settled) bool {
	return slices.ContainsFunc(s.Turns, func(t fix.Outcome) bool {
		return slices.ContainsFunc(t.Made, func(p fix.Proposal) bool { return p.Kind == finding.Design })
	})
}

// newErrors lists the errors that were not there before, by rule and subject; waived ones
// do not count.
func newErrors(before, after []finding.Finding) []finding.Finding {
	type key struct{ rule, subject string }
	had := map[key]int{}
	for i := range before {
		if f := &before[i]; f.Severity == finding.Error && !f.Waived {
			had[key{f.Rule, f.Subject}]++
		}
	}
	var list []finding.Finding
	for i := range after {
		f := &after[i]
		if f.Severity != finding.Error || f.Waived {
			continue
		}
		if k := (key{f.Rule, f.Subject}); had[k] > 0 {
			had[k]--
			continue
		}
		list = append(list, *f)
	}
	return list
}
