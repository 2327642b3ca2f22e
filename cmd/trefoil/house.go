package main

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"os"
	"path"
	"path/filepath"
	"slices"

	"trefoil/lint/assess"
	"trefoil/lint/design"
	"trefoil/lint/engine"
	"trefoil/lint/finding"
	"trefoil/lint/house"
	"trefoil/lint/report"
	"trefoil/lint/source"
	"trefoil/rules"
)

// caseDirectory holds the cases of house rules, beside the file of the rule:
// house_cases/RULE/bad and house_cases/RULE/good, each a small design.
const caseDirectory = "house_cases"

// library reads the shared directories that a site names.
func (l loader) library(dir string, site *design.Site) (design.Library, error) {
	var lib design.Library
	lost := func(message, next string) {
		lib.Lost = append(lib.Lost, design.Fault{Rule: "value-impossible", Severity: finding.Error, At: site.Library.At, Subject: site.Subject(), Message: message, Next: next})
	}
	seen := []string{dir}
	held := int64(0)
	if n := len(site.Library.Values); n > maxLibraries {
		lost(fmt.Sprintf("library names %d directories; at most %d are read", n, maxLibraries), "bring together what belongs together")
		return lib, nil
	}
	for _, named := range site.Library.Values {
		at := filepath.Join(dir, filepath.FromSlash(named))
		info, err := l.Stat(at)
		switch {
		case errors.Is(err, errOutside):
			lost(fmt.Sprintf("library names %q: %v", named, err), "bring the library into the repository, or compare on a design that does without")
			continue
		case err != nil || !info.IsDir():
			lost(fmt.Sprintf("library names %q, and %s is no directory", named, filepath.ToSlash(at)), "correct the path, which is seen from the design's directory")
			continue
		case l.Beyond(dir, at):
			lost(fmt.Sprintf("library names %q, which lies outside of the repository that the design lies in", named), "bring the library into the repository, as a copy or a submodule")
			continue
		case slices.ContainsFunc(seen, func(o string) bool { return l.Same(o, at) }):
			continue
		}
		seen = append(seen, at)
		names, err := l.hcl(at)
		if err != nil {
			return lib, fmt.Errorf("read a library: %w", err)
		}
		if len(lib.Files)+len(names) > maxFiles {
			return lib, fmt.Errorf("the libraries of %s hold more than %d files together, which is the most that is read", filepath.ToSlash(dir), maxFiles)
		}
		if len(names) == 0 {
			lost(fmt.Sprintf("library names %q, which holds no *.hcl file", named), "correct the path, which is seen from the design's directory")
		}
		for _, n := range names {
			if link, err := l.Lstat(n); err == nil && link.Mode()&os.ModeSymlink != 0 {
				lost(fmt.Sprintf("%s is a symbolic link; of a library only files of its own are read", filepath.ToSlash(n)), "put the file itself there, or name its directory in library")
				continue
			}
			f, err := l.readFile(n)
			if err == nil {
				err = l.together(&held, filepath.ToSlash(at), f)
			}
			if err != nil {
				return lib, err
			}
			f.Library = true
			lib.Files = append(lib.Files, f)
		}
	}
	return lib, nil
}

// caseFailed is the name under which a case is told that does not show what it should.
const caseFailed = "house-case-failed"

// houseCases runs the cases of a design's house rules: the bad one must be found, the
// good one must not. It writes one line a case, and gives what is not so.
func houseCases(out io.Writer, dir string, maxBytes limit) (*engine.Result, error) {
	v, err := load(dir, maxBytes)
	if err != nil {
		return nil, err
	}
	d := v.Design
	res := engine.Check(v, nil, engine.Options{}) // counts alone
	if len(d.House) == 0 && out != nil {
		fmt.Fprintf(out, "%s: no house_rule block\n", report.Clean(filepath.ToSlash(dir)))
	}
	tell := func(severity finding.Severity, at source.Range, subject, message, next string) {
		res.Findings = append(res.Findings, finding.Finding{Rule: caseFailed, Severity: severity, At: at, Subject: subject, Message: message, Next: next})
	}
	var names []string
	roots := []string{path.Join(filepath.ToSlash(dir), caseDirectory)}
	for _, h := range d.House {
		names = append(names, h.Name)
		root := path.Join(path.Dir(h.At.File.Name), caseDirectory)
		if !slices.Contains(roots, root) {
			roots = append(roots, root)
		}
		if !house.Usable(h) || len(house.Faults(h, rules.All())) > 0 {
			tell(finding.Error, h.At, h.Subject(), fmt.Sprintf("house rule %q cannot be run", h.Name), "trefoil check tells why")
			continue
		}
		for _, which := range []string{"bad", "good"} {
			at := path.Join(root, h.Name, which)
			if info, err := os.Stat(filepath.FromSlash(at)); err != nil || !info.IsDir() {
				tell(finding.Note, h.At, h.Subject(), fmt.Sprintf("house rule %q has no %s case", h.Name, which), "write a small design in "+at)
				continue
			}
			if (disk{}).Beyond(dir, filepath.FromSlash(at)) {
				tell(finding.Error, h.At, h.Subject(), fmt.Sprintf("the %s case of house rule %q lies outside of the repository that the design lies in", which, h.Name), "put the case itself in "+at)
				continue
			}
			said, next, err := houseCase(h, at, which == "bad", maxBytes)
			if err != nil {
				return nil, err
			}
			if next != "" {
				tell(finding.Error, h.At, h.Subject(), fmt.Sprintf("the %s case of house rule %q %s", which, h.Name, said), next)
				continue
			}
			if out != nil {
				fmt.Fprintf(out, "%s: %s\n", report.Clean(at), report.Clean(said))
			}
		}
	}
	for _, root := range roots {
		entries, err := os.ReadDir(filepath.FromSlash(root))
		if err != nil && !errors.Is(err, os.ErrNotExist) {
			return nil, fmt.Errorf("read the cases of house rules: %w", err)
		}
		for _, e := range entries {
			if e.IsDir() && !slices.Contains(names, e.Name()) {
				site := d.Site()
				tell(finding.Error, site.At, site.Subject(), fmt.Sprintf("%s belongs to no house rule", path.Join(root, e.Name())), cmp.Or(design.Nearest(e.Name(), names), "rename the directory after its rule, or remove it"))
			}
		}
	}
	finding.Sort(res.Findings)
	return res, nil
}

// houseCase runs one rule over one case. It says what came of it; a next step where that
// is not what the case should show.
func houseCase(h *design.HouseRule, dir string, bad bool, maxBytes limit) (said, next string, err error) {
	d, err := read(filepath.FromSlash(dir), maxBytes)
	if err != nil {
		return "", "", err
	}
	at := func(r source.Range) string {
		return fmt.Sprintf("%s:%d", r.File.Name, r.File.Position(r.Start).Line)
	}
	for _, f := range d.Faults {
		return fmt.Sprintf("has a fault of its own at %s: %s", at(f.At), f.Message), "mend the case", nil
	}
	v := assess.Assess(d, choose)
	found := engine.Check(v, []*engine.Rule{house.Rule(h)}, engine.Options{}).Findings
	if i := slices.IndexFunc(found, func(f finding.Finding) bool { return f.Subject == h.Subject() }); i >= 0 {
		return "cannot be assessed: " + found[i].Message, "state in " + dir + " what the rule needs", nil
	}
	switch {
	case bad && len(found) == 0:
		return "is not found", "correct the rule, or " + dir, nil
	case bad:
		return fmt.Sprintf("found at %s: %s", at(found[0].At), found[0].Message), "", nil
	case len(found) > 0:
		return fmt.Sprintf("is found at %s: %s", at(found[0].At), found[0].Message), "correct the rule, or " + dir, nil
	}
	return "nothing found", "", nil
}

// houseRules gives the house rules of the design in a directory. Where none is named, the
// current one counts if it holds a design.
func houseRules(dir string, maxBytes limit) ([]*design.HouseRule, error) {
	d, err := read(cmp.Or(dir, "."), maxBytes)
	switch {
	case err == nil:
		return d.House, nil
	case dir == "":
		return nil, nil
	}
	return nil, err
}

// housePage writes the page of a house rule, with its cases where it has some.
func housePage(out io.Writer, h *design.HouseRule, maxBytes limit) error {
	rule := house.Rule(h)
	shown := map[string]report.Example{}
	for _, which := range []string{"bad", "good"} {
		dir := filepath.Join(filepath.FromSlash(path.Dir(h.At.File.Name)), caseDirectory, h.Name, which)
		names, err := hcl(dir)
		if err != nil || len(names) == 0 || !house.Usable(h) || len(house.Faults(h, rules.All())) > 0 {
			continue
		}
		v, err := load(dir, maxBytes)
		if err != nil {
			return err
		}
		e := report.Example{Findings: engine.Check(v, []*engine.Rule{rule}, engine.Options{})}
		for _, f := range v.Design.Files {
			e.Files = append(e.Files, report.ExampleFile{Name: f.Name, Text: string(f.Bytes)})
		}
		shown[which] = e
	}
	return report.WritePage(out, rule, shown["bad"], shown["good"])
}
