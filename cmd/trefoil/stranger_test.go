package main

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	"trefoil/lint/report"
)

// armed names a program in every setting of a repository by which git starts one, which
// writes down that it was started, and a file that waits for ever where git would read one.
func armed(t *testing.T, dir string) (mark string) {
	t.Helper()
	mark = filepath.Join(t.TempDir(), "started")
	program := filepath.Join(t.TempDir(), "program")
	save(t, program, fmt.Appendf(nil, "#!/bin/sh\necho \"$0 $*\" >>'%s'\ncat\n", mark))
	if err := os.Chmod(program, 0o755); err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{
		"core.fsmonitor", "core.pager", "core.editor", "core.sshCommand", "core.gitProxy", "core.alternateRefsCommand", "core.askPass",
		"gpg.program", "gpg.ssh.program", "diff.external", "diff.x.textconv", "diff.x.command", "filter.x.clean", "filter.x.smudge", "filter.x.process",
		"pager.log", "pager.diff", "pager.status", "pager.ls-tree", "pager.cat-file", "sequence.editor", "interactive.diffFilter", "credential.helper",
		"merge.x.driver", "uploadpack.packObjectsHook", "alias.log", "alias.ls-tree", "alias.rev-parse",
	} {
		value := program
		if strings.HasPrefix(name, "alias.") || name == "credential.helper" {
			value = "!" + program
		}
		gitHere(t, dir, "config", name, value)
	}
	for name, value := range map[string]string{"log.showSignature": "true", "filter.x.required": "true", "status.submoduleSummary": "true", "diff.submodule": "log"} {
		gitHere(t, dir, "config", name, value)
	}
	inside := strings.TrimSpace(gitHere(t, dir, "rev-parse", "--absolute-git-dir"))
	for _, hook := range []string{"post-index-change", "reference-transaction", "fsmonitor-watchman", "query-watchman", "post-checkout", "pre-commit"} {
		save(t, filepath.Join(inside, "hooks", hook), []byte("#!/bin/sh\nexec "+program+"\n"))
		if err := os.Chmod(filepath.Join(inside, "hooks", hook), 0o755); err != nil {
			t.Fatal(err)
		}
	}
	return mark
}

// started gives what was written down by a program of the repository.
func started(t *testing.T, mark string) string {
	t.Helper()
	text, err := os.ReadFile(mark)
	if err != nil && !os.IsNotExist(err) {
		t.Fatal(err)
	}
	return string(text)
}

// TestStranger: a repository of somebody else's, which names programs wherever git takes one,
// starts none of them, whatever reads it. That the trap works shows a plain git status.
func TestStranger(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("the traps are programs of a shell")
	}
	dir := repository(t)
	commit(t, dir, "-- mill/site.hcl --\n"+string(starter), "mill")
	commit(t, dir, "-- .gitattributes --\n*.hcl filter=x diff=x merge=x\n-- mill/site.hcl --\n"+string(starter)+"# more\n", "more")
	mark := armed(t, dir)
	longer := append(bytes.Clone(starter), "# less\n"...) // as long as before, so that git would have to look inside
	save(t, filepath.Join(dir, "mill/site.hcl"), longer)
	t.Chdir(dir)
	out := filepath.Join(t.TempDir(), "report.html")
	for _, args := range [][]string{
		{"check", "--since", "HEAD~1", "mill"},
		{"check", "--staged", "mill/site.hcl"},
		{"check", "./..."},
		{"compare", "mill", "HEAD~1", "HEAD"},
		{"compare", "mill"},
		{"compare", "--format", "markdown", "mill", "HEAD~1"},
		{"report", "--out", out, "mill"},
		{"amend", "mill"},
		{"draw", "mill"},
		{"explain", "--design", "mill", "run-overloaded"},
	} {
		var said, complaint bytes.Buffer
		if code := run(args, &said, &complaint); code > 1 {
			t.Errorf("%v: exit code %d, %s", args, code, complaint.String())
		}
		if s := started(t, mark); s != "" {
			t.Errorf("%v starts %s", args, s)
			_ = os.Remove(mark)
		}
	}
	text, err := os.ReadFile(out)
	if err != nil || !bytes.Contains(text, []byte("more")) {
		t.Errorf("the report does not name the last commit, %v", err)
	}
	_, _ = exec.Command("git", "-C", dir, "status").CombinedOutput()
	if started(t, mark) == "" {
		t.Error("the trap does not work, so nothing is shown")
	}
}

// TestStrangerBare: a repository without a working tree, which lies among the files that
// somebody sends, is not taken for one.
func TestStrangerBare(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("the traps are programs of a shell")
	}
	dir := repository(t)
	commit(t, dir, "-- mill/site.hcl --\n"+string(starter), "mill")
	gitHere(t, dir, "clone", "-q", "--bare", dir, filepath.Join(dir, "trap"))
	trap := filepath.Join(dir, "trap")
	save(t, filepath.Join(trap, "site.hcl"), starter)
	save(t, filepath.Join(trap, ".gitattributes"), []byte("* filter=x\n"))
	mark := armed(t, trap)
	for name, value := range map[string]string{"core.bare": "false", "core.worktree": trap} {
		gitHere(t, dir, "--git-dir", trap, "config", name, value)
	}
	t.Chdir(dir)
	for _, args := range [][]string{{"compare", "trap"}, {"check", "--since", "HEAD", "trap"}, {"report", "--out", filepath.Join(t.TempDir(), "r.html"), "trap"}} {
		var said, complaint bytes.Buffer
		run(args, &said, &complaint)
		if s := started(t, mark); s != "" {
			t.Errorf("%v starts %s", args, s)
			_ = os.Remove(mark)
		}
	}
	_, _ = exec.Command("git", "-C", trap, "status").CombinedOutput()
	if started(t, mark) == "" {
		t.Error("the trap does not work, so nothing is shown")
	}
}

// TestChanged: what differs from the last commit is seen without git looking into a file, and
// what does not is not, whatever the ends of its lines.
func TestChanged(t *testing.T) {
	for _, format := range []string{"sha1", "sha256"} {
		dir := repository(t)
		if format == "sha256" {
			dir = filepath.Join(dir, "longer")
			if out, err := exec.Command("git", "init", "-q", "--object-format=sha256", dir).CombinedOutput(); err != nil {
				t.Skipf("%s", out)
			}
			gitHere(t, dir, "config", "user.name", "A. Wirer")
			gitHere(t, dir, "config", "user.email", "wirer@example.org")
		}
		commit(t, dir, "-- mill/site.hcl --\n"+string(starter)+"-- mill/tables/a.csv --\n1\n-- mill/note.txt --\nx\n-- .gitignore --\nignored.hcl\n-- other/site.hcl --\nx\n", "mill")
		mill := filepath.Join(dir, "mill")
		for _, c := range []struct {
			name string
			do   func() error
			want bool
		}{
			{"nothing", func() error { return nil }, false},
			{"another file", func() error { return os.WriteFile(filepath.Join(mill, "note.txt"), []byte("y"), 0o600) }, false},
			{"another directory", func() error { return os.WriteFile(filepath.Join(dir, "other/site.hcl"), []byte("y"), 0o600) }, false},
			{"ignored", func() error { return os.WriteFile(filepath.Join(mill, "ignored.hcl"), []byte("y"), 0o600) }, false},
			{"line ends", func() error {
				return os.WriteFile(filepath.Join(mill, "site.hcl"), bytes.ReplaceAll(starter, []byte("\n"), []byte("\r\n")), 0o600)
			}, false},
			{"a file", func() error {
				return os.WriteFile(filepath.Join(mill, "site.hcl"), append(bytes.Clone(starter), '\n'), 0o600)
			}, true},
			{"a table", func() error { return os.WriteFile(filepath.Join(mill, "tables/a.csv"), []byte("2\n"), 0o600) }, true},
			{"a new file", func() error { return os.WriteFile(filepath.Join(mill, "b.hcl"), nil, 0o600) }, true},
			{"gone", func() error { return os.Remove(filepath.Join(mill, "site.hcl")) }, true},
			{"a link to the same text", func() error {
				return errors.Join(os.Rename(filepath.Join(mill, "site.hcl"), filepath.Join(mill, "s.txt")), os.Symlink("s.txt", filepath.Join(mill, "site.hcl")))
			}, false},
			{"staged", func() error {
				err := os.WriteFile(filepath.Join(mill, "c.hcl"), nil, 0o600)
				gitHere(t, dir, "add", "-A")
				return err
			}, true},
		} {
			if err := c.do(); err != nil {
				t.Fatal(err)
			}
			r := lastCommit(mill)
			if r == nil || r.Subject != "mill" || r.Changed != c.want {
				t.Errorf("%s, %s: %+v, want changed %t", format, c.name, r, c.want)
			}
			gitHere(t, dir, "reset", "-q", "--hard")
			gitHere(t, dir, "clean", "-q", "-f", "-d")
		}
	}
}

// TestRevisionNames: no name of a revision is an option, a range, or anything but a commit.
func TestRevisionNames(t *testing.T) {
	dir := repository(t)
	commit(t, dir, "-- mill/site.hcl --\n"+string(starter), "mill")
	t.Chdir(dir)
	for _, name := range []string{"", "-", "--", "--all", "-n1", "--output=x", "--upload-pack=touch x", "^HEAD", "HEAD^@", "HEAD..", "HEAD...HEAD", "@{-9}", ":mill/site.hcl", "HEAD:mill", "HEAD\x00", "HEAD\n", "HEAD\r", "HEAD ", " HEAD", "\xff\xfe", "HEAD^{tree}", "HEAD;touch x", "$(touch x)", "`touch x`", "refs/*", "[", strings.Repeat("a", 100_000), "ext::sh -c touch% x", "file:///etc", "\u202eHEAD", "\x1b[31m"} {
		if r, err := openRevision("mill", name); err == nil {
			r.Close()
			t.Errorf("%.60q is a revision", name)
		} else if report.Clean(err.Error()) == "" {
			t.Errorf("%.60q is refused without words", name)
		}
		for _, args := range [][]string{{"compare", "mill", "--", name}, {"check", "--since=" + name, "mill"}} {
			if name == "" && args[0] == "check" { // none is asked for
				continue
			}
			var said, complaint bytes.Buffer
			if code := run(args, &said, &complaint); code < 2 && name != "" {
				t.Errorf("%.80q: exit code %d", args, code)
			}
			if what, bad := steers(append(said.Bytes(), complaint.Bytes()...)); bad {
				t.Errorf("%.80q: %s", args, what)
			}
		}
	}
	entries, err := os.ReadDir(dir)
	if err != nil || len(entries) != 2 {
		t.Errorf("%v, %v", entries, err)
	}
}

// TestBeyond: of a design in a repository no library, link, case or record leads out of it;
// without a repository the user's own layout counts.
func TestBeyond(t *testing.T) {
	const secret = "open-sesame"
	site := strings.Replace(string(starter), "site \"", "# a design\nsite \"", 1)
	named := func(library string) string {
		return strings.Replace(site, "  ratings ", "  library = [\""+library+"\"]\n  ratings ", 1)
	}
	for _, repo := range []bool{true, false} {
		t.Run(fmt.Sprintf("repository %t", repo), func(t *testing.T) {
			away := t.TempDir()
			save(t, filepath.Join(away, "c.hcl"), []byte("acl \""+secret+"\" {\n  policy = \""+secret+"\"\n}\n"))
			dir := t.TempDir()
			if repo {
				dir = repository(t)
			}
			out, err := filepath.Rel(filepath.Join(dir, "mill"), away)
			if err != nil {
				t.Fatal(err)
			}
			save(t, filepath.Join(dir, "mill/site.hcl"), []byte(named(filepath.ToSlash(out))))
			save(t, filepath.Join(dir, "near/site.hcl"), []byte(named("../shared")))
			save(t, filepath.Join(dir, "shared/c.hcl"), []byte("cable \"shared\" {\n  conductor = \"copper\"\n  insulation = \"xlpe-90\"\n  build = \"multicore\"\n  cores = \"4c+e\"\n}\n"))
			save(t, filepath.Join(dir, "linked/site.hcl"), []byte(named("../shortcut")))
			save(t, filepath.Join(dir, "file/site.hcl"), []byte(site))
			save(t, filepath.Join(dir, "case/site.hcl"), []byte(site+"house_rule \"x\" {\n  each    = \"run\"\n  must    = run.size_mm2 > 1\n  message = \"x\"\n}\n"))
			if err := os.MkdirAll(filepath.Join(dir, "case/house_cases/x"), 0o755); err != nil {
				t.Fatal(err)
			}
			for link, to := range map[string]string{"shortcut": away, "file/more.hcl": filepath.Join(away, "c.hcl"), "case/house_cases/x/bad": away} {
				if err := os.Symlink(to, filepath.Join(dir, link)); err != nil {
					t.Skip(err)
				}
			}
			t.Chdir(dir)
			for _, args := range [][]string{{"check", "mill"}, {"check", "linked"}, {"check", "file"}, {"align", "file"}, {"check", "--house-cases", "case"}, {"explain", "--design", "case", "x"}} {
				var said, complaint bytes.Buffer
				run(args, &said, &complaint)
				all := said.String() + complaint.String()
				if shown := strings.Contains(all, secret); shown && repo {
					t.Errorf("%v shows what lies outside:\n%s", args, all)
				}
				if repo && args[0] != "explain" && !strings.Contains(all, "out of the repository") && !strings.Contains(all, "outside of the repository") {
					t.Errorf("%v does not tell:\n%s", args, all)
				}
			}
			var said, complaint bytes.Buffer
			if run([]string{"check", "near"}, &said, &complaint); strings.Contains(said.String(), "library names") {
				t.Errorf("a library inside is refused:\n%s%s", said.String(), complaint.String())
			}
			if !repo {
				return
			}
			// a record that names a design outside
			save(t, filepath.Join(away, "design/site.hcl"), []byte(site))
			t.Chdir(away)
			if code := run([]string{"check", "--record", filepath.Join(dir, "evidence.json"), "design"}, &said, &complaint); code > 1 {
				t.Fatal(complaint.String())
			}
			t.Chdir(dir)
			far, err := filepath.Rel(dir, away)
			if err != nil {
				t.Fatal(err)
			}
			t.Chdir(dir)
			if code := run([]string{"check", "--record", "far.json", filepath.Join(far, "design")}, &said, &complaint); code > 1 {
				t.Fatal(complaint.String())
			}
			complaint.Reset()
			if code := run([]string{"check", "--verify", "far.json"}, &said, &complaint); code != exitFailed || !strings.Contains(complaint.String(), "outside of the repository") {
				t.Errorf("a record leads out: exit code %d, %s", code, complaint.String())
			}
		})
	}
}
