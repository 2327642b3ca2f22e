package main

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/txtar"

	"trefoil/lint/engine"
	"trefoil/lint/report"
	"trefoil/rules"
)

// repository makes an empty repository; what gitHere runs in it ends the test on an error.
func repository(t testing.TB) (dir string) {
	t.Helper()
	if _, err := exec.LookPath("git"); err != nil {
		t.Skip("git is not installed")
	}
	dir = t.TempDir()
	t.Setenv("GIT_CONFIG_GLOBAL", os.DevNull)
	t.Setenv("GIT_CONFIG_NOSYSTEM", "1")
	gitHere(t, dir, "init", "-q", "-b", "trunk")
	gitHere(t, dir, "config", "user.name", "A. Wirer")
	gitHere(t, dir, "config", "user.email", "wirer@example.org")
	gitHere(t, dir, "config", "commit.gpgsign", "false")
	return dir
}

func gitHere(t testing.TB, dir string, args ...string) string {
	t.Helper()
	c := exec.Command("git", append([]string{"-C", dir}, args...)...)
	out, err := c.CombinedOutput()
	if err != nil {
		t.Fatalf("git %s: %v\n%s", strings.Join(args, " "), err, out)
	}
	return string(out)
}

// commit writes the files of an archive over a repository and commits all of it.
func commit(t testing.TB, dir, archive, message string) {
	t.Helper()
	for _, f := range txtar.Parse([]byte(archive)).Files {
		save(t, filepath.Join(dir, f.Name), f.Data)
	}
	gitHere(t, dir, "add", "-A")
	gitHere(t, dir, "commit", "-q", "--allow-empty", "-m", message)
}

func save(t testing.TB, name string, text []byte) {
	t.Helper()
	if err := os.MkdirAll(filepath.Dir(name), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(name, text, 0o644); err != nil {
		t.Fatal(err)
	}
}

const millText = `-- sites/mill/site.hcl --
site "mill" {
  ratings   = "iec-60364-5-52:2009"
  voltage_v = 400
  library   = ["../../catalogue"]
  capacity_tables = "./tables/own"
}
supply "grid" {
  fault_ka = 10
}
source "inv" {
  kind          = "inverter"
  phases        = 3
  max_current_a = 40
}
-- sites/mill/runs.hcl --
run "inv" {
  from     = source.inv
  to       = supply.grid
  cable    = cable.al-4c
  size_mm2 = 16
  section {
    route    = route.wall
    length_m = 12
  }
}
route "wall" {
  laid = "clipped"
}
-- catalogue/cables.hcl --
cable "al-4c" {
  conductor  = "copper"
  insulation = "xlpe-90"
  build      = "multicore"
  cores      = "4c+e"
}
`

// printed is the JSON of a check, which holds every place and figure.
func printed(t testing.TB, l loader, dir string) string {
	t.Helper()
	v, err := l.load(dir)
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := report.WriteJSON(&b, report.CheckDocument(tool, []*engine.Result{engine.Check(v, rules.All(), engine.Options{})}, 1, "")); err != nil {
		t.Fatal(err)
	}
	runs := make([]int, len(v.Runs))
	for i := range runs {
		runs[i] = i
	}
	if err := report.WriteJSON(&b, report.NewCalcDocument(tool, v, runs, "")); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// ownTable writes a table of the user's own into a design; its figures are made up.
func ownTable(t testing.TB, dir string) {
	t.Helper()
	var out, errs bytes.Buffer
	if code := run([]string{"tables", "--blank", "iec-60364-5-52:2009"}, &out, &errs); code != 0 {
		t.Fatal(errs.String())
	}
	form, _, _ := strings.Cut(out.String(), "\n1.5,")
	save(t, filepath.Join(dir, "own.csv"), []byte(form+"\n16,70,71,77,80,81,82\n"))
}

// TestRevision reads a design at a revision as from the disk: its library outside of its
// directory and its own tables too. What was edited since is not seen.
func TestRevision(t *testing.T) {
	dir := repository(t)
	ownTable(t, filepath.Join(dir, "sites/mill/tables/own"))
	commit(t, dir, millText, "mill")
	for _, from := range []string{".", "sites/mill", "sites"} {
		t.Run(from, func(t *testing.T) {
			t.Chdir(filepath.Join(dir, from))
			site, err := filepath.Rel(from, "sites/mill")
			if err != nil {
				t.Fatal(err)
			}
			want := printed(t, loader{disk{}, 1 << 20}, site)
			r, err := openRevision(site, "HEAD")
			if err != nil {
				t.Fatal(err)
			}
			defer func() {
				if err := r.Close(); err != nil {
					t.Error(err)
				}
			}()
			if got := printed(t, loader{r, 1 << 20}, site); got != want {
				t.Errorf("the revision gives\n%s\nthe disk\n%s", got, want)
			}
			if !strings.Contains(want, `"tabulated_a":77,"basis":"user-table"`) {
				t.Error("its own table is not read")
			}
			save(t, filepath.Join(dir, "sites/mill/runs.hcl"), []byte("broken {"))
			defer gitHere(t, dir, "checkout", "-q", ".")
			if got := printed(t, loader{r, 1 << 20}, site); got != want {
				t.Error("the revision moved with the disk")
			}
		})
	}
}

// TestRevisionFaults goes through what a revision cannot give.
func TestRevisionFaults(t *testing.T) {
	dir := repository(t)
	commit(t, dir, millText, "mill")
	shallow := filepath.Join(t.TempDir(), "shallow")
	commit(t, dir, "-- note.txt --\nmore\n", "a second commit")
	gitHere(t, dir, "clone", "-q", "--depth", "1", "file://"+dir, shallow)
	plain := t.TempDir()
	for _, c := range []struct{ dir, rev, want string }{
		{dir, "trunc", `git finds no revision "trunc"`},
		{dir, "--output=/tmp/x", `"--output=/tmp/x" names no revision`},
		{dir, "", `"" names no revision`},
		{dir, "HEAD..HEAD", `git finds no revision "HEAD..HEAD"`},
		{dir, "HEAD:note.txt", `git finds no revision`},
		{shallow, "HEAD~1", "this clone is shallow"},
		{plain, "HEAD", "not a git repository"},
	} {
		r, err := openRevision(c.dir, c.rev)
		if err == nil {
			r.Close()
			t.Errorf("%s is found", c.rev)
		} else if !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %s", c.rev, err, c.want)
		}
	}
	r, err := openRevision(shallow, "HEAD")
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	if _, err := (loader{r, 1 << 20}).load(filepath.Join(shallow, "sites/mill")); err != nil {
		t.Error(err)
	}
	if _, err := (loader{r, 100}).load(filepath.Join(shallow, "sites/mill")); err == nil || !strings.Contains(err.Error(), "--max-bytes allows 100") {
		t.Error(err)
	}
	if _, err := r.Stat(filepath.Join(plain, "x.hcl")); !errors.Is(err, errOutside) {
		t.Error(err)
	}
	if _, err := r.ReadDir(filepath.Join(shallow, "sites/gone")); !errors.Is(err, fs.ErrNotExist) {
		t.Error(err)
	}
}

// TestRevisionLinks: links count in a revision as on the disk, and none leads out.
func TestRevisionLinks(t *testing.T) {
	dir := repository(t)
	for link, to := range map[string]string{
		"a/site.hcl": "../shared/one.txt", "b": "shared", "loop": "loop", "away": "/etc", "up": "../..", "shared/inside.hcl": "one.txt", "shared/out.csv": "../a/x",
	} {
		name := filepath.Join(dir, link)
		if err := os.MkdirAll(filepath.Dir(name), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.Symlink(to, name); err != nil {
			t.Skip(err)
		}
	}
	commit(t, dir, "-- shared/one.txt --\none\n-- a/x --\nx\n-- name \"with\" 'odd' | <b>.hcl --\nodd\n", "links")
	t.Chdir(dir)
	r, err := openRevision(".", "HEAD")
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	for _, name := range []string{"a/site.hcl", "b/one.txt", "b/inside.hcl", "b", "loop", "away", "up", "a/gone", "loop/x", `name "with" 'odd' | <b>.hcl`} {
		onDisk, e1 := disk{}.Stat(name)
		there, e2 := r.Stat(name)
		outside := name == "away" || name == "up"
		switch {
		case outside && !errors.Is(e2, errOutside):
			t.Errorf("%s: %v", name, e2)
		case !outside && (e1 == nil) != (e2 == nil):
			t.Errorf("%s: %v on the disk, %v in the revision", name, e1, e2)
		case e1 == nil && e2 == nil && (onDisk.IsDir() != there.IsDir() || !there.IsDir() && onDisk.Size() != there.Size()):
			t.Errorf("%s: %+v", name, there)
		}
		one, e1 := disk{}.Lstat(name)
		two, e2 := r.Lstat(name)
		if (e1 == nil) != (e2 == nil) || e1 == nil && one.Mode().Type() != two.Mode().Type() {
			t.Errorf("%s: %v and %v, %v and %v", name, one, e1, two, e2)
		}
	}
	if !r.Same("b", "shared") || r.Same("a", "shared") {
		t.Error("one directory under two names is not seen as one")
	}
	for _, s := range []store{disk{}, r} {
		in, err := s.Within("shared")
		if err != nil {
			t.Fatal(err)
		}
		if text, err := bounded(in, "inside.hcl", 4, 4); err != nil || string(text) != "one\n" {
			t.Errorf("%T: %q %v", s, text, err)
		}
		if _, err := in.Stat("out.csv"); err == nil {
			t.Errorf("%T: a link leads out", s)
		}
		in.Close()
	}
}

// TestLaid lays unsaved texts over the disk: one in place of a file, one as a new file.
func TestLaid(t *testing.T) {
	dir := t.TempDir()
	t.Chdir(dir)
	for _, f := range txtar.Parse([]byte(millText)).Files {
		save(t, f.Name, bytes.ReplaceAll(f.Data, []byte("  capacity_tables = \"./tables/own\"\n"), nil))
	}
	runs, err := os.ReadFile("sites/mill/runs.hcl")
	if err != nil {
		t.Fatal(err)
	}
	wider := bytes.Replace(runs, []byte("= 16"), []byte("= 25"), 1)
	board := []byte("board \"new\" {\n}\n")
	for _, name := range []string{"sites/mill/runs.hcl", filepath.Join(dir, "sites/mill/runs.hcl")} {
		s, err := lay(disk{}, map[string][]byte{name: wider, "sites/mill/a new.hcl": board})
		if err != nil {
			t.Fatal(err)
		}
		d, err := (loader{s, 1 << 20}).read("sites/mill")
		if err != nil {
			t.Fatal(err)
		}
		if d.Runs[0].SizeMM2.Value != 25 || len(d.Boards) != 1 || d.Boards[0].At.File.Name != "sites/mill/a new.hcl" {
			t.Errorf("%v, %d boards", d.Runs[0].SizeMM2, len(d.Boards))
		}
		if _, err := (loader{s, 30}).read("sites/mill"); err == nil {
			t.Error("an unsaved text has no limit")
		}
	}
	if now, err := os.ReadFile("sites/mill/runs.hcl"); err != nil || !bytes.Equal(now, runs) {
		t.Error("the disk was written to")
	}
	gone := fmt.Sprint(os.Remove("sites/mill/runs.hcl"))
	if d, err := read("sites/mill", 1<<20); err != nil || len(d.Runs) != 0 {
		t.Error(gone, err)
	}
}

// TestCallsOfGit: the git program is called four times a revision at most, however many
// files there are, and never with what could be an option.
func TestCallsOfGit(t *testing.T) {
	dir := repository(t)
	for i := range 60 {
		save(t, filepath.Join(dir, "mill", fmt.Sprintf("%02d.hcl", i)), fmt.Appendf(nil, "route \"r%d\" {\n  laid = \"clipped\"\n}\n", i))
	}
	commit(t, dir, "-- mill/site.hcl --\n"+string(starter), "many files")
	gitHere(t, dir, "tag", "one")
	commit(t, dir, "-- mill/00.hcl --\n", "one less")
	real, err := exec.LookPath("git")
	if err != nil {
		t.Fatal(err)
	}
	bin, log := t.TempDir(), filepath.Join(t.TempDir(), "log")
	save(t, filepath.Join(bin, "git"), fmt.Appendf(nil, "#!/bin/sh\necho \"$@\" >>'%s'\nexec '%s' \"$@\"\n", log, real))
	if err := os.Chmod(filepath.Join(bin, "git"), 0o755); err != nil {
		t.Fatal(err)
	}
	t.Setenv("PATH", bin+string(os.PathListSeparator)+os.Getenv("PATH"))
	t.Chdir(dir)
	if code, out, errs := compared(t, "mill", "one", "HEAD"); code > 1 || !strings.Contains(out, "route r0 is gone") {
		t.Fatalf("exit %d: %s%s", code, out, errs)
	}
	calls, err := os.ReadFile(log)
	if err != nil {
		t.Fatal(err)
	}
	if n := bytes.Count(calls, []byte("\n")); n > 8 {
		t.Errorf("%d calls:\n%s", n, calls)
	}
}

// TestPartialClone: a clone without the contents of an old revision says so, and the
// network is not asked for them.
func TestPartialClone(t *testing.T) {
	dir := repository(t)
	commit(t, dir, "-- mill/site.hcl --\n"+string(starter), "first")
	commit(t, dir, "-- mill/site.hcl --\n"+string(bytes.Replace(starter, []byte("length_m"), []byte("length_m "), 1)), "second")
	gitHere(t, dir, "config", "uploadpack.allowFilter", "true")
	clone := filepath.Join(t.TempDir(), "clone")
	gitHere(t, dir, "clone", "-q", "--filter=blob:none", "file://"+dir, clone)
	t.Chdir(clone)
	if code, out, errs := compared(t, "mill", "HEAD~1", "HEAD"); code != 3 || !strings.Contains(errs, "this clone does not hold its content") {
		t.Errorf("exit %d: %s%s", code, out, errs)
	}
	if code, out, errs := compared(t, "mill", "HEAD"); code != 0 {
		t.Errorf("exit %d: %s%s", code, out, errs)
	}
}
