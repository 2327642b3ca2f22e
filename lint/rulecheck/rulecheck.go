// Package rulecheck runs rules on their cases. A case is a txtar archive: prose on
// top says what it shows, then the design's files. A line that a finding points at
// says so in a comment,
//
//	size_mm2 = 16 # finds: run-overloaded `carries 91 A but is rated for`
//
// several being parted by "; ". A finding without its comment fails, and so does a
// comment without its finding. An archive without site.hcl is laid over the base
// design, which alone has no findings. Findings that are beside the point of a case
// are named in a line of its prose,
//
//	Besides: withstand-not-checked, length-estimated.
//
// and each of these rules must have some.
//
// Each fix of a finding is made by itself and must mend it, if it is neutral. What a file
// looks like after the fixes of one name stands in the archive as fixed/NAME/FILE, where a
// case is about them.
package rulecheck

import (
	"fmt"
	"path"
	"regexp"
	"slices"
	"sort"
	"strings"
	"time"

	"github.com/rogpeppe/go-internal/txtar"

	"trefoil/lint/assess"
	"trefoil/lint/design"
	"trefoil/lint/engine"
	"trefoil/lint/finding"
	"trefoil/lint/fix"
	"trefoil/lint/source"
)

// Day is the "today" of every case.
var Day = time.Date(2027, time.March, 1, 0, 0, 0, 0, time.UTC)

// Files gives the files of a case, laid over the base where it has no site.hcl.
func Files(text, base []byte) []*source.File {
	var files []*source.File
	whole := false
	for _, f := range txtar.Parse(text).Files {
		if path.Ext(f.Name) != ".hcl" || strings.Contains(f.Name, "/") {
			continue
		}
		whole = whole || f.Name == "site.hcl"
		files = append(files, &source.File{Name: f.Name, Bytes: f.Data})
	}
	if !whole {
		for _, f := range txtar.Parse(base).Files {
			files = append(files, &source.File{Name: f.Name, Bytes: f.Data})
		}
	}
	sort.Slice(files, func(i, j int) bool { return files[i].Name < files[j].Name })
	return files
}

// Check runs the rules over files.
func Check(files []*source.File, rules []*engine.Rule, sets assess.Sets) *engine.Result {
	return engine.Check(assess.Assess(design.Read(".", files), sets), rules, engine.Options{Today: Day})
}

var (
	comment = regexp.MustCompile("# finds: (.*)$")
	claim   = regexp.MustCompile("([a-z-]+) `([^`]*)`")
	besides = regexp.MustCompile(`(?m)^Besides: ([a-z, -]+)\.$`)
)

// Besides lists the rules whose findings are beside the point of a case.
func Besides(text []byte) []string {
	m := besides.FindSubmatch(txtar.Parse(text).Comment)
	if m == nil {
		return nil
	}
	return strings.Split(string(m[1]), ", ")
}

// Fixes makes the fixes of the findings of a case, and lists what is wrong with them.
func Fixes(text []byte, files []*source.File, found []finding.Finding, rules []*engine.Rule, sets assess.Sets) []string {
	var faults []string
	byName := map[string][]fix.Proposal{}
	for i := range found {
		f := &found[i]
		names := map[string]bool{}
		for _, x := range f.Fixes {
			what := fmt.Sprintf("fix %q of %s on %s", x.Name, f.Rule, f.Subject)
			if x.Name == "" || x.Message == "" || names[x.Name] || (len(x.Edits) == 0) != (x.Kind == finding.Advice) {
				faults = append(faults, what+" has no name of its own, no message, or edits that do not go with its kind")
			}
			names[x.Name] = true
			if x.Kind == finding.Advice {
				continue
			}
			p := fix.Proposal{Rule: f.Rule, Subject: f.Subject, At: f.At, Fix: x}
			byName[x.Name] = append(byName[x.Name], p)
			out := fix.Apply(files, []fix.Proposal{p})
			if len(out.Refused) > 0 {
				faults = append(faults, what+" cannot be made: "+out.Refused[0].Reason)
				continue
			}
			after := Check(out.Files, rules, sets)
			if after.Review.Design.Broken {
				faults = append(faults, what+" breaks the text")
			}
			if x.Kind == finding.Neutral && slices.ContainsFunc(after.Findings, func(o finding.Finding) bool {
				return o.Rule == f.Rule && o.Subject == f.Subject && o.Message == f.Message
			}) {
				faults = append(faults, what+" does not mend it")
			}
		}
	}
	for _, want := range txtar.Parse(text).Files {
		rest, is := strings.CutPrefix(want.Name, "fixed/")
		if !is {
			continue
		}
		name, file, _ := strings.Cut(rest, "/")
		got := ""
		for _, f := range fix.Apply(files, byName[name]).Files {
			if f.Name == file {
				got = string(f.Bytes)
			}
		}
		if len(byName[name]) == 0 || got != string(want.Data) {
			faults = append(faults, fmt.Sprintf("%s is not what %d fixes make:\n%s", want.Name, len(byName[name]), got))
		}
	}
	return faults
}

// Compare holds findings against the comments of the files and lists what differs,
// but for those of the rules that are beside the point.
func Compare(files []*source.File, found []finding.Finding, besides []string) []string {
	type place struct {
		file string
		line int
	}
	var faults []string
	got := map[place][]finding.Finding{}
	seen := map[string]bool{}
	for _, f := range found {
		if f.At.File == nil {
			faults = append(faults, fmt.Sprintf("%s points nowhere: %s", f.Rule, f.Message))
			continue
		}
		if int(f.At.End) > len(f.At.File.Bytes) || f.At.Start > f.At.End {
			faults = append(faults, fmt.Sprintf("%s points outside of %s", f.Rule, f.At.File.Name))
			continue
		}
		for _, r := range f.Related {
			if r.At.File == nil || int(r.At.End) > len(r.At.File.Bytes) || r.At.Start > r.At.End {
				faults = append(faults, fmt.Sprintf("%s has a related place outside of its file: %s", f.Rule, r.Message))
			}
		}
		if slices.Contains(besides, f.Rule) {
			seen[f.Rule] = true
			continue
		}
		p := place{f.At.File.Name, f.At.File.Position(f.At.Start).Line}
		got[p] = append(got[p], f)
	}
	for _, rule := range besides {
		if !seen[rule] {
			faults = append(faults, fmt.Sprintf("%s is named as beside the point and finds nothing", rule))
		}
	}
	for _, file := range files {
		for i, line := range strings.Split(string(file.Bytes), "\n") {
			p := place{file.Name, i + 1}
			if m := comment.FindStringSubmatch(line); m != nil {
				claims := claim.FindAllStringSubmatch(m[1], -1)
				if len(claims) == 0 {
					faults = append(faults, fmt.Sprintf("%s:%d: %q claims nothing", file.Name, i+1, m[1]))
				}
				for _, c := range claims {
					re, err := regexp.Compile(c[2])
					if err != nil {
						faults = append(faults, fmt.Sprintf("%s:%d: %v", file.Name, i+1, err))
						continue
					}
					hit := -1
					for k, f := range got[p] {
						if f.Rule == c[1] && re.MatchString(f.Message) {
							hit = k
							break
						}
					}
					if hit < 0 {
						faults = append(faults, fmt.Sprintf("%s:%d: %s `%s` is not found", file.Name, i+1, c[1], c[2]))
						continue
					}
					got[p] = append(got[p][:hit], got[p][hit+1:]...)
				}
			}
			for _, f := range got[p] {
				faults = append(faults, fmt.Sprintf("%s:%d: not expected: %s: %s [%s]", file.Name, i+1, f.Severity, f.Message, f.Rule))
			}
			delete(got, p)
		}
	}
	for p, list := range got {
		for _, f := range list {
			faults = append(faults, fmt.Sprintf("%s:%d: not expected: %s: %s [%s]", p.file, p.line, f.Severity, f.Message, f.Rule))
		}
	}
	return faults
}
