//go:build external

package main

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// hookRepository makes a repository of this module as it stands here, with its hooks.
func hookRepository(t *testing.T) string {
	t.Helper()
	top, err := filepath.Abs("../..")
	if err != nil {
		t.Fatal(err)
	}
	dir := repository(t)
	list := gitHere(t, top, "ls-files", "-z", "--cached", "--others", "--exclude-standard")
	for name := range strings.SplitSeq(strings.TrimSuffix(list, "\x00"), "\x00") {
		text, err := os.ReadFile(filepath.Join(top, name))
		if err != nil {
			t.Fatal(err)
		}
		save(t, filepath.Join(dir, name), text)
	}
	gitHere(t, dir, "add", "-A")
	gitHere(t, dir, "commit", "-q", "-m", "the hooks")
	gitHere(t, dir, "tag", "v0")
	return dir
}

// TestExternalPreCommit tries the published hooks with the pre-commit of Debian: a commit
// is refused on an error and accepted after the fix, in a subfolder, with a foreign file
// beside it, in one call for many files, and where it only removes.
func TestExternalPreCommit(t *testing.T) {
	if _, err := exec.LookPath("pre-commit"); err != nil {
		t.Fatal("pre-commit is not installed: apt-get install pre-commit")
	}
	hooks := hookRepository(t)
	bin := t.TempDir()
	built(t, bin)
	modules, err := exec.Command("go", "env", "GOMODCACHE").Output()
	if err != nil {
		t.Fatal(err)
	}
	t.Setenv("GOMODCACHE", strings.TrimSpace(string(modules))) // no second download
	t.Setenv("PRE_COMMIT_HOME", t.TempDir())
	for _, hook := range []string{"trefoil-installed", "trefoil"} {
		t.Run(hook, func(t *testing.T) {
			if hook == "trefoil-installed" {
				t.Setenv("PATH", bin+string(os.PathListSeparator)+os.Getenv("PATH"))
			}
			dir := repository(t)
			save(t, filepath.Join(dir, ".pre-commit-config.yaml"), []byte("repos:\n- repo: file://"+hooks+"\n  rev: v0\n  hooks:\n  - id: "+hook+"\n"))
			if out, err := inDir(dir, "pre-commit", "install"); err != nil {
				t.Fatalf("%v\n%s", err, out)
			}
			try := func(what string, accepted bool, words string) {
				t.Helper()
				gitHere(t, dir, "add", "-A")
				out, err := inDir(dir, "git", "commit", "-q", "-m", what)
				if (err == nil) != accepted || !strings.Contains(out, words) {
					t.Errorf("%s: accepted %t, want %t with %q:\n%s", what, err == nil, accepted, words, out)
				}
			}
			good := append([]byte("# a design\n"), starter...)
			bad := bytes.Replace(good, []byte("max_current_a = 61"), []byte("max_current_a = 610"), 1)
			if bytes.Equal(good, bad) {
				t.Fatal("the starter has another current")
			}
			save(t, filepath.Join(dir, "sites/mill/site.hcl"), bad)
			try("an error", false, "run-overloaded")
			save(t, filepath.Join(dir, "sites/mill/site.hcl"), good)
			try("mended", true, "Passed")
			save(t, filepath.Join(dir, "tools/foreign.hcl"), []byte("service \"x\" {\n}\n"))
			try("a foreign file", true, "Passed")
			for _, n := range []string{"a b", "quo'te", "c"} { // one call for all of them
				for i := range 60 {
					save(t, filepath.Join(dir, "sites/mill", n+strings.Repeat("x", i)+".hcl"), []byte("# nothing\n"))
				}
			}
			try("many files", true, "Passed")
			gitHere(t, dir, "mv", "sites/mill/site.hcl", "sites/mill/all.hcl")
			try("another name", true, "Passed")
			// The cable lies in a file of its own, which is then removed.
			head, cable, _ := strings.Cut(string(good), "\ncable \"")
			cable, tail, _ := strings.Cut(cable, "\n}\n")
			save(t, filepath.Join(dir, "sites/mill/all.hcl"), []byte(head+"\n"+tail))
			save(t, filepath.Join(dir, "sites/mill/cables.hcl"), []byte("cable \""+cable+"\n}\n"))
			try("in two files", true, "Passed")
			gitHere(t, dir, "rm", "-q", "sites/mill/cables.hcl")
			try("only a removal", false, "unknown-reference")
			gitHere(t, dir, "reset", "-q", "--hard")
			gitHere(t, dir, "rm", "-q", "-r", "sites/mill")
			try("the design is gone", true, "Passed")
		})
	}
}

func inDir(dir, name string, args ...string) (string, error) {
	c := exec.Command(name, args...)
	c.Dir = dir
	out, err := c.CombinedOutput()
	return string(out), err
}

// rendered is what a call writes, as GitHub's own renderer of Markdown shows it.
func rendered(t *testing.T, args ...string) string {
	t.Helper()
	var out, errs bytes.Buffer
	if code := run(args, &out, &errs); code > 1 {
		t.Fatal(errs.String())
	}
	c := exec.Command("cmark-gfm", "--unsafe", "-e", "table", "-e", "autolink", "-e", "strikethrough")
	c.Stdin = &out
	page, err := c.Output()
	if err != nil {
		t.Fatal(err)
	}
	return string(page)
}

// TestExternalMarkdown renders the comment of a design whose names hold markup with the
// renderer of GitHub's own Markdown: nothing of them becomes markup, a link or a table cell.
func TestExternalMarkdown(t *testing.T) {
	if _, err := exec.LookPath("cmark-gfm"); err != nil {
		t.Fatal("cmark-gfm is not installed: apt-get install cmark-gfm")
	}
	harmless := func(t *testing.T, html string) {
		t.Helper()
		for _, bad := range []string{"<script", "<img", "<a ", "<i>", "<b>", "<em>", "<del>"} {
			if strings.Contains(html, bad) {
				t.Errorf("%s stands in the page:\n%s", bad, html)
			}
		}
	}
	dir := oddDesign(t)
	worse := filepath.Join(t.TempDir(), "![x](http://example.org) `|` www.example.org")
	for _, n := range []string{"site.hcl", "odd name ü#?%20'\"|<i>.hcl"} {
		text, err := os.ReadFile(filepath.Join(dir, n))
		if err != nil {
			t.Fatal(err)
		}
		text = bytes.ReplaceAll(text, []byte("max_current_a = 400"), []byte("max_current_a = 410"))
		text = bytes.ReplaceAll(text, []byte("second | line"), []byte("![img](http://example.org/x) <script>alert(1)</script> **b** https://example.org ftp://example.org/y a.b@example.org mailto:a@example.org @everyone #12 </code></details>"))
		text = bytes.ReplaceAll(text, []byte("unused\\\"board"), []byte("new *board* | `cell` <b>"))
		save(t, filepath.Join(worse, n), text)
	}
	html := rendered(t, "compare", "--format", "markdown", dir, worse)
	harmless(t, html)
	outside := regexp.MustCompile(`(?s)<code>.*?</code>`).ReplaceAllString(html, "") // in code type they call nobody
	if strings.Contains(outside, "@everyone") || strings.Contains(outside, "#12") {
		t.Errorf("somebody is called:\n%s", outside)
	}
	if strings.Count(html, "<details>") != strings.Count(html, "</details>") || strings.Count(html, "<code>") != strings.Count(html, "</code>") {
		t.Errorf("tags are not closed:\n%s", html)
	}
	for _, row := range strings.Split(html, "<tr>")[1:] {
		if n := strings.Count(row, "<td>") + strings.Count(row, "<th>"); n != 5 && n != 2 {
			t.Errorf("a row of %d cells: %s", n, row)
		}
	}
	for _, want := range []string{"new *board* | `cell` &lt;b&gt;", "&lt;script&gt;", "@everyone"} {
		if !strings.Contains(html, want) {
			t.Errorf("%q is not in the page:\n%s", want, html)
		}
	}
	hostile := hostileDesign(t, true)
	html = rendered(t, "schedule", "--format", "markdown", "--kind", "all", hostile)
	harmless(t, html)
	if !strings.Contains(html, "x.example") {
		t.Error("the names are not in the schedules")
	}
	harmless(t, rendered(t, "compare", "--format", "markdown", hostile, dir))
}
