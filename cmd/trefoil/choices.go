package main

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/fatih/color"
	"github.com/spf13/cobra"

	"trefoil/lint/assess"
	"trefoil/lint/choices"
	"trefoil/lint/cost"
	"trefoil/lint/design"
	"trefoil/lint/engine"
	"trefoil/lint/finding"
	"trefoil/lint/fix"
	"trefoil/lint/report"
	"trefoil/lint/source"
	"trefoil/ratings/quantity"
)

// some is the value of an option that names some words of a list, parted by commas.
type some struct {
	values, words []string
}

func (o *some) String() string { return strings.Join(o.values, ",") }
func (o *some) Type() string   { return strings.Join(o.words, ",") }

func (o *some) Set(s string) error {
	for _, w := range strings.Split(s, ",") {
		w = strings.TrimSpace(w)
		if !slices.Contains(o.words, w) {
			return errors.New(strings.TrimSuffix(fmt.Sprintf("%q is none of %s; %s", w, strings.Join(o.words, ", "), design.Nearest(w, o.words)), "; "))
		}
		if !slices.Contains(o.values, w) {
			o.values = append(o.values, w)
		}
	}
	return nil
}

// sizes is the value of --sizes.
type sizes []quantity.Size

func (o *sizes) Type() string { return "SIZE,SIZE" }

func (o *sizes) String() string {
	var list []string
	for _, s := range *o {
		list = append(list, s.String())
	}
	return strings.Join(list, ",")
}

func (o *sizes) Set(s string) error {
	for _, w := range strings.Split(s, ",") {
		size, err := quantity.ParseSize(w)
		if err != nil {
			return fmt.Errorf("%w; write 35,50 for mm2, or \"4/0 AWG\", \"250 kcmil\"", err)
		}
		if !slices.Contains(*o, size) {
			*o = append(*o, size)
		}
	}
	return nil
}

// mostLegs is the greatest number of legs that may be asked for.
const mostLegs = 24

// legs is the value of --legs: numbers, and ranges such as 1-4.
type legs []int

func (o *legs) Type() string { return "N,N-N" }

func (o *legs) String() string {
	var list []string
	for _, n := range *o {
		list = append(list, strconv.Itoa(n))
	}
	return strings.Join(list, ",")
}

func (o *legs) Set(s string) error {
	for _, w := range strings.Split(s, ",") {
		low, high, ranged := strings.Cut(strings.TrimSpace(w), "-")
		from, err := strconv.Atoi(low)
		to := from
		if ranged && err == nil {
			to, err = strconv.Atoi(high)
		}
		if err != nil || from < 1 || to < from || to > mostLegs {
			return fmt.Errorf("%q is no number of legs from 1 to %d, nor a range such as 1-4", w, mostLegs)
		}
		for n := from; n <= to; n++ {
			if !slices.Contains(*o, n) {
				*o = append(*o, n)
			}
		}
	}
	return nil
}

// asked are the options that say what may be chosen.
type asked struct {
	conductors, strands, builds, insulations, laid some
	sizes                                          sizes
	legs                                           legs
	by                                             oneOf
}

func withAsked(c *cobra.Command, a *asked) {
	a.conductors.words = design.Conductors
	a.strands.words = design.Strandings
	a.builds.words = design.Builds
	a.insulations.words = design.Insulations
	a.laid.words = slices.DeleteFunc(slices.Clone(design.Layings), choices.InGround)
	a.by = oneOf{"cost", []string{"cost", "loss", "size"}}
	add := func(o *some, name, what string) {
		c.Flags().Var(o, name, what)
		_ = c.RegisterFlagCompletionFunc(name, cobra.FixedCompletions(o.words, cobra.ShellCompDirectiveNoFileComp))
	}
	add(&a.conductors, "conductor", "metals to choose from")
	add(&a.strands, "strands", "strandings to choose from")
	add(&a.builds, "build", "builds to choose from")
	add(&a.insulations, "insulation", "insulations to choose from")
	c.Flags().Var(&a.sizes, "sizes", "sizes to choose from (default: the standard ones)")
	c.Flags().Var(&a.legs, "legs", "numbers of legs to choose from")
	add(&a.laid, "laid", "also lay the routes in air so")
	withOneOf(c, &a.by, "by", "what ranks first")
}

func (a *asked) ask() choices.Ask {
	return choices.Ask{
		Conductors: a.conductors.values, Strands: a.strands.values, Builds: a.builds.values, Insulations: a.insulations.values,
		Sizes: a.sizes, Legs: a.legs, Laid: a.laid.values, By: a.by.value,
	}
}

func choicesCommand(out io.Writer) *cobra.Command {
	var (
		may      asked
		all      bool
		bill     bool
		board    string
		form     = oneOf{"text", []string{"text", "csv", "json"}}
		today    day
		maxBytes limit
		opt      = report.ChoicesOptions{Top: 10}
	)
	c := &cobra.Command{
		Use:   "choices [DIR] [RUN]",
		Short: "Find which cables a run could have, what each costs, and the cheapest for all",
		Long: `Choices tries every combination of cable, size and number of legs for a run - and of
laying, where --laid names some - in the whole design, its neighbours included, and
ranks those that pass every rule by what they cost over their life, lose, or measure.
What does not pass is told by the rule that refuses it.

The cables are the design's own cable blocks; --conductor, --strands, --build and
--insulation narrow them, or make the run's cable over where no block declares one so. A
choice of another size brings the earth conductor that it needs, and a neutral of its
phases' size. The copies of a set share their text, and are chosen together.

--all chooses for all runs together, --board NAME for the runs that end at a board: the
cheapest that passes everything, shared routes and path limits taken together, of other
sizes, and of the cables, legs and layings that the options name. Up to 8 runs it is the
least; for more, how far from the least it can be is told. trefoil amend --cheapest writes
it into the design.

--bill counts and prices what the design needs as it is drawn. Prices are the design's own
price blocks; what has no price is counted and not in the sum.

Exit code: 0 something passes, 1 nothing does, 2 wrong usage, 3 a design could not be read.

Local codes and the licensed person responsible decide; this is an aid.`,
		Example: `  trefoil choices examples/cold-store inv-3
  trefoil choices --laid ladder,standoff --legs 1-3 examples/cold-store generation
  trefoil choices --all examples/cold-store
  trefoil choices --bill examples/cold-store`,
		Args: cobra.MaximumNArgs(2),
	}
	c.RunE = func(_ *cobra.Command, args []string) error {
		if form.value != "text" {
			color.NoColor = true
		}
		dir, name, err := dirAndRun(args)
		switch {
		case err != nil:
			return failed(err)
		case bill && (all || board != "" || name != ""), all && (board != "" || name != ""), board != "" && name != "":
			return usage("choices takes one of RUN, --all, --board and --bill")
		case !bill && !all && board == "" && name == "":
			return usage("choices wants a RUN, --all, --board NAME or --bill")
		}
		s, err := newShop(dir, maxBytes, today)
		if err != nil {
			return failed(err)
		}
		if bill {
			if err := writeBill(out, s.v, form.value); err != nil {
				return failed(err)
			}
			return nil
		}
		opt.Currency = s.book.Currency
		passes := false
		if name != "" {
			results, e := s.list(name, may.ask())
			if e != nil {
				return failed(e)
			}
			passes = !slices.ContainsFunc(results, func(r *choices.Result) bool { return r.Passing == 0 })
			switch form.value {
			case "csv":
				err = report.WriteChoicesCSV(out, results, opt.Currency)
			case "json":
				err = report.WriteJSON(out, report.NewChoicesDocument(tool, results, opt.Currency))
			default:
				err = report.WriteChoices(out, results, opt)
			}
		} else {
			p, e := s.plan(board, may.ask())
			if e != nil {
				return failed(e)
			}
			passes = p.Passes
			switch form.value {
			case "csv":
				err = report.WritePlanCSV(out, p, opt.Currency)
			case "json":
				err = report.WriteJSON(out, report.NewPlanDocument(tool, p, opt.Currency))
			default:
				err = report.WritePlan(out, p, opt.Currency)
			}
		}
		if err != nil {
			return failed(err)
		}
		if !passes {
			return &exit{code: exitFindings}
		}
		return nil
	}
	withAsked(c, &may)
	c.Flags().BoolVar(&all, "all", false, "choose for all runs together")
	c.Flags().StringVar(&board, "board", "", "choose for the runs that end at this `BOARD` together")
	c.Flags().BoolVar(&bill, "bill", false, "count and price what is drawn instead")
	c.Flags().IntVar(&opt.Top, "top", opt.Top, "so many of the choices that pass are printed")
	c.Flags().BoolVar(&opt.Refused, "refused", false, "print those that do not pass, too")
	withOneOf(c, &form, "format", "how to write the result")
	c.Flags().Var(&today, "today", "the day on which waivers are judged (default: the local date)")
	withMaxBytes(c, &maxBytes)
	return c
}

// dirAndRun reads the names that a command was given: a directory, a run, or both.
func dirAndRun(args []string) (dir, run string, err error) {
	switch len(args) {
	case 2:
		return args[0], args[1], nil
	case 1:
		if info, err := os.Stat(args[0]); err == nil && info.IsDir() {
			return args[0], "", nil
		}
		if strings.ContainsAny(args[0], `/\`) {
			return "", "", fmt.Errorf("find the design: %s is no directory", args[0])
		}
		return ".", args[0], nil
	}
	return ".", "", nil
}

// shop is a design from which to choose.
type shop struct {
	v      *assess.Review
	book   *cost.Book
	lister *choices.Lister
}

func newShop(dir string, maxBytes limit, today day) (*shop, error) {
	res, all, now, err := reviewed([]string{dir}, maxBytes, today)
	if err != nil {
		return nil, err
	}
	return openShop(res.Review, all, now), nil
}

func openShop(v *assess.Review, all []*engine.Rule, now time.Time) *shop {
	s := &shop{v: v, book: cost.NewBook(v.Design)}
	run, route := choices.Priced(s.book)
	s.lister = choices.NewLister(v, all, run, route, now)
	s.lister.Economic = s.book.EconomicMM2
	return s
}

// list finds the choices of a run, or of the runs of a set, which count as one.
func (s *shop) list(name string, ask choices.Ask) ([]*choices.Result, error) {
	runs, err := pick(s.v, strings.TrimPrefix(name, "run."))
	if err != nil {
		return nil, err
	}
	res, err := s.lister.List(runs[0], ask)
	if err != nil {
		return nil, err
	}
	return []*choices.Result{res}, nil
}

// plan finds the cheapest choices for all runs, or for those of a board.
func (s *shop) plan(board string, ask choices.Ask) (*choices.Plan, error) {
	board = strings.TrimPrefix(board, "board.")
	var runs []int
	for i := range s.v.Runs {
		r := s.v.Runs[i].Run
		ends := func(l design.Link) bool { return l.Kind == "board" && l.Name == board }
		if board == "" || ends(r.From) || ends(r.To) {
			runs = append(runs, i)
		}
	}
	if len(runs) == 0 && board != "" {
		var names []string
		for _, b := range s.v.Design.Boards {
			names = append(names, b.Name)
		}
		return nil, fmt.Errorf("no run ends at board %q; %s", board, cmp.Or(design.Nearest(board, names), "trefoil schedule --kind boards lists the boards"))
	}
	if len(runs) == 0 {
		return nil, errors.New("the design has no run that could be read")
	}
	return s.lister.Plan(runs, ask)
}

// order is what amend is asked to choose.
type order struct {
	picks    []string // RUN=N
	cheapest bool
	board    string
	may      asked
}

func (o *order) any() bool { return len(o.picks) > 0 || o.cheapest || o.board != "" }

// fixes gives the choices of an order as fixes of the text.
func (o *order) fixes(s *shop) (list []fix.Proposal, err error) {
	add := func(subject string, at source.Range, f finding.Fix) {
		list = append(list, fix.Proposal{Rule: "choices", Subject: subject, At: at, Fix: f})
	}
	for _, p := range o.picks {
		at := strings.LastIndexByte(p, '=')
		if at < 0 {
			return nil, usage("--choose is %q; write RUN=N, with the number that trefoil choices gives", p)
		}
		n, err := strconv.Atoi(p[at+1:])
		if err != nil || n < 1 {
			return nil, usage("--choose is %q; behind = stands the number that trefoil choices gives", p)
		}
		results, err := s.list(p[:at], o.may.ask())
		if err != nil {
			return nil, failed(err)
		}
		res := results[0]
		if n > res.Passing {
			return nil, failed(fmt.Errorf("run %q has %s that pass, so there is no number %d; trefoil choices lists them, with the same options", p[:at], countOf(res.Passing, "choice", "choices"), n))
		}
		c := &res.Choices[n-1]
		if c.Drawn {
			continue
		}
		f, err := s.lister.Fix(c)
		if err != nil {
			return nil, failed(err)
		}
		add(res.Run.Run.Subject(), res.Run.Run.SizeAt, f)
		laid, err := s.lister.FixLaid(c)
		if err != nil {
			return nil, failed(err)
		}
		for _, f := range laid {
			add(res.Run.Run.Subject(), res.Run.Run.At, f)
		}
	}
	if !o.cheapest && o.board == "" {
		return list, nil
	}
	p, err := s.plan(o.board, o.may.ask())
	if err != nil {
		return nil, failed(err)
	}
	if !p.Passes {
		return nil, failed(errors.New("no set of choices was found that passes everything; trefoil choices --all tells what stands against it"))
	}
	fixes, err := s.lister.Fixes(p)
	if err != nil {
		return nil, failed(err)
	}
	for _, f := range fixes {
		add(f.Subject, f.At, f.Fix)
	}
	return list, nil
}

func countOf(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}
