package main

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"github.com/spf13/cobra"

	"trefoil/lint/compare"
	"trefoil/lint/engine"
	"trefoil/lint/finding"
	"trefoil/lint/house"
	"trefoil/lint/report"
	"trefoil/lint/source"
	"trefoil/rules"
)

func compareCommand(out io.Writer) *cobra.Command {
	var (
		how      format
		level    = severity{finding.Error}
		show     = severity{finding.Note}
		today    day
		maxBytes limit
		untraced bool
	)
	c := &cobra.Command{
		Use:   "compare [DIR] [BASE [HEAD]]",
		Short: "Show what an edit did to the installation",
		Long: `Compare holds two versions of a design against each other: DIR as it lies on the disk
against the git revision BASE, which is HEAD where none is named; two revisions BASE and
HEAD; or two directories. It tells by block what was edited, then what follows from it:
figures of other runs that moved - capacity, circuits in the group, utilisation, rise and
drop of the path, faults, loop, loss - and findings that are new, worse, waived, better or
cleared. Moved lines and renamed files are no edits; a block that says the same under
another name is told as renamed.

What follows is traced to the edit: each edit is taken back by itself in the later version,
the design is worked out again, and what is another figure then hangs on that edit. Where
it takes several edits back, any one of them is enough for it. --no-trace leaves that out.

A name that is a directory is DIR, and any other a revision; refs/heads/NAME names a branch
that is called like a directory. Revisions are read by the git program, which is not asked
to run anything, to write or to use the network.

Exit code: 0 no finding at or above --level is new, raised to it, or no longer waived; 1
some are; 2 wrong usage; 3 a version could not be read. What was found before does not
count; of a version whose text is broken or that holds no design, nothing was found before.

Local codes and the licensed person responsible decide; this is an aid.`,
		Example: `  trefoil compare                          what is not committed yet, in this directory
  trefoil compare site-a main              this working tree against main
  trefoil compare site-a v1 v2             two revisions
  trefoil compare examples/cold-store examples/cold-store-late
  trefoil compare --format markdown main   a comment for a review`,
		Args: cobra.MaximumNArgs(3),
		RunE: func(_ *cobra.Command, args []string) error {
			pair, err := sides(args, maxBytes)
			if err != nil {
				return err
			}
			defer pair.close()
			if today.IsZero() {
				today.Time = time.Now()
			}
			done, err := pair.compare(engine.Options{Today: today.Time}, !untraced)
			if err != nil {
				return failed(err)
			}
			switch how.String() {
			case "json":
				err = report.WriteJSON(out, report.NewComparisonDocument(tool, done, level.Severity))
			case "markdown":
				err = report.WriteComparisonMarkdown(out, done, show.Severity, level.Severity)
			default:
				err = report.WriteComparison(out, done, show.Severity)
			}
			if err != nil {
				return failed(err)
			}
			if done.Blocks(level.Severity) > 0 {
				return &exit{code: exitFindings}
			}
			return nil
		},
	}
	withFormat(c, &how, "markdown")
	c.Flags().Var(&level, "level", "new findings from this severity on make the exit code 1")
	c.Flags().Var(&show, "show", "the least severity of findings that text and Markdown print")
	c.Flags().Var(&today, "today", "the day on which waivers are judged (default: the local date)")
	c.Flags().BoolVar(&untraced, "no-trace", false, "do not look for the edit that something follows from")
	withMaxBytes(c, &maxBytes)
	return c
}

// edition is one side of a comparison: a directory of a store.
type edition struct {
	loader
	dir  string
	name string // what people call it
	rev  *revision
}

// editions are the two sides, the earlier first.
type editions [2]edition

// close ends what reads revisions.
func (p *editions) close() {
	for i := range p {
		if p[i].rev != nil {
			_ = p[i].rev.Close()
		}
	}
}

// sides reads the arguments of a comparison: [DIR] [BASE [HEAD]], or two directories.
func sides(args []string, maxBytes limit) (*editions, error) {
	isDir := func(name string) bool {
		info, err := os.Stat(name)
		return err == nil && info.IsDir()
	}
	onDisk := func(dir, name string) edition {
		return edition{loader{disk{}, maxBytes}, dir, name, nil}
	}
	if len(args) == 2 && isDir(args[0]) && isDir(args[1]) {
		one, two := relative(filepath.Clean(args[0])), relative(filepath.Clean(args[1]))
		return &editions{onDisk(one, filepath.ToSlash(one)), onDisk(two, filepath.ToSlash(two))}, nil
	}
	dir := "."
	if len(args) == 3 || len(args) > 0 && isDir(args[0]) {
		dir, args = relative(filepath.Clean(args[0])), args[1:]
	}
	for _, a := range args {
		if isDir(a) && len(args) == 2 {
			return nil, usage("%s is a directory, and that stands before the revisions; refs/heads/%s names a branch", a, a)
		}
	}
	if len(args) == 0 {
		args = []string{"HEAD"}
	}
	p := &editions{1: onDisk(dir, "the working tree")}
	for i, name := range args {
		r, err := openRevision(dir, name)
		if err != nil {
			p.close()
			return nil, failed(err)
		}
		p[i] = edition{loader{r, maxBytes}, dir, r.String(), r}
	}
	return p, nil
}

// compare checks both sides and holds them against each other.
func (p *editions) compare(opt engine.Options, trace bool) (*compare.Comparison, error) {
	var two [2]compare.Side
	for i := range p {
		var err error
		if two[i], err = p[i].side(opt); err != nil {
			return nil, fmt.Errorf("%s: %w", p[i].name, err)
		}
	}
	if two[0].Result == nil && two[1].Result == nil {
		return nil, fmt.Errorf("neither %s nor %s holds a design here: %s", two[0].Name, two[1].Name, two[1].Absent)
	}
	var again compare.Again
	if trace {
		again = func(texts map[*source.File][]byte) (*engine.Result, error) { return p[1].again(texts, opt) }
	}
	return compare.Compare(two[0], two[1], again), nil
}

// side checks one edition; that it holds no design is no error.
func (e edition) side(opt engine.Options) (compare.Side, error) {
	s := compare.Side{Name: e.name}
	r, err := e.check(e.dir, opt)
	_, gone := e.Stat(e.dir)
	switch {
	case err == nil:
		s.Result = r
	case errors.Is(gone, fs.ErrNotExist), errors.Is(err, errNoFile), errors.Is(err, errNoSite):
		s.Absent = err.Error()
	default:
		return s, err
	}
	return s, nil
}

// check loads a design and runs all rules, those of the house too.
func (l loader) check(dir string, opt engine.Options) (*engine.Result, error) {
	v, err := l.load(dir)
	if err != nil {
		return nil, err
	}
	return engine.Check(v, house.Join(v, rules.All()), opt), nil
}

// again checks a design with other texts in the place of some files.
func (e *edition) again(texts map[*source.File][]byte, opt engine.Options) (*engine.Result, error) {
	named := make(map[string][]byte, len(texts))
	for f, text := range texts {
		named[filepath.FromSlash(f.Name)] = text
	}
	s, err := lay(e.store, named)
	if err != nil {
		return nil, err
	}
	return loader{s, e.maxBytes}.check(e.dir, opt)
}
