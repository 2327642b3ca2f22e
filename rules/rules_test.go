package rules_test

import (
	"bytes"
	"flag"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"trefoil/lint/assess"
	"trefoil/lint/engine"
	"trefoil/lint/rulecheck"
	"trefoil/ratings/sets"
	"trefoil/rules"
)

var update = flag.Bool("update", false, "rewrite README.md from the rules")

func base(t *testing.T) []byte {
	t.Helper()
	text, ok := rules.Case("base", "base")
	if !ok {
		t.Fatal("the base design is missing")
	}
	return text
}

// TestCases runs every case of every rule against all rules.
func TestCases(t *testing.T) {
	under := base(t)
	paths, err := filepath.Glob("testdata/*/*.txtar")
	if err != nil || false {
		t.Fatalf("found %d cases, %v", len(paths), err)
	}
	for _, p := range paths {
		t.Run(strings.TrimSuffix(strings.TrimPrefix(filepath.ToSlash(p), "testdata/"), ".txtar"), func(t *testing.T) {
			text, err := os.ReadFile(p)
			if err != nil {
				t.Fatal(err)
			}
			files := rulecheck.Files(text, under)
			res := rulecheck.Check(files, rules.All(), assess.Named(sets.Find))
			for _, fault := range rulecheck.Compare(files, res.Findings, rulecheck.Besides(text)) {
				t.Error(fault)
			}
			for _, fault := range rulecheck.Fixes(text, files, res.Findings, rules.All(), assess.Named(sets.Find)) {
				t.Error(fault)
			}
		})
	}
}

// TestEveryRule looks that each rule is listed in order with a full page and cases.
func TestEveryRule(t *testing.T) {
	list := rules.All()
	name := regexp.MustCompile(`^[a-z]+(-[a-z]+)+$`)
	seen := map[string]bool{}
	for i, r := range list {
		if !name.MatchString(r.Name) || seen[r.Name] {
			t.Errorf("%q is no name or stands twice", r.Name)
		}
		seen[r.Name] = true
		if i > 0 && list[i-1].Name >= r.Name {
			t.Errorf("%s stands after %s", r.Name, list[i-1].Name)
		}
		if r.Summary == "" || r.Since == "" || r.Doc.Checks == "" || r.Doc.Why == "" || r.Doc.Blind == "" || r.Doc.Sources == "" {
			t.Errorf("%s has no full page", r.Name)
		}
		if (r.Clause == engine.Clause{}) {
			t.Errorf("%s says neither clause nor own judgement", r.Name)
		}
		if r.Check == nil && r.Name != "waiver-stale" {
			t.Errorf("%s checks nothing", r.Name)
		}
		for _, c := range []string{r.Doc.Bad, r.Doc.Good} {
			if _, ok := rules.Case(r.Name, c); !ok {
				t.Errorf("%s has no case %q", r.Name, c)
			}
		}
		text, _ := rules.Case(r.Name, r.Doc.Bad)
		if !bytes.Contains(text, []byte("finds: "+r.Name)) && !bytes.Contains(text, []byte("; "+r.Name)) {
			t.Errorf("%s: its bad case does not show it", r.Name)
		}
		text, _ = rules.Case(r.Name, r.Doc.Good)
		if bytes.Contains(text, []byte(r.Name+" `")) {
			t.Errorf("%s: its good case shows it", r.Name)
		}
	}
	dirs, err := fs.ReadDir(os.DirFS("testdata"), ".")
	if err != nil {
		t.Fatal(err)
	}
	for _, d := range dirs {
		if d.Name() != "base" && !seen[d.Name()] {
			t.Errorf("testdata/%s belongs to no rule in All", d.Name())
		}
	}
	files, _ := filepath.Glob("*.go")
	declared := regexp.MustCompile(`(?m)^var (\w+) = &engine\.Rule\{`)
	count := 0
	for _, f := range files {
		text, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		count += len(declared.FindAll(text, -1))
	}
	if count != len(list) {
		t.Errorf("%d rules are declared, All lists %d", count, len(list))
	}
}

// TestBaseHasNoFindings keeps the cases' ground clean.
func TestBaseHasNoFindings(t *testing.T) {
	files := rulecheck.Files(nil, base(t))
	res := rulecheck.Check(files, rules.All(), assess.Named(sets.Find))
	if len(res.Findings) > 0 || res.Runs != 1 || res.Assessed != 1 {
		t.Errorf("%d findings, %d runs, %d assessed: %v", len(res.Findings), res.Runs, res.Assessed, res.Findings)
	}
}

// TestReadme keeps README.md equal to what the rules say.
func TestReadme(t *testing.T) {
	want := rules.Readme()
	got, _ := os.ReadFile("README.md")
	if bytes.Equal(got, want) {
		return
	}
	if *update {
		if err := os.WriteFile("README.md", want, 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	t.Error("README.md is stale; renew it with: go test ./rules -run TestReadme -update")
}
