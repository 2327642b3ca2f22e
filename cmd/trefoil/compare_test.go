package main

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// step is one commit of the story: a text of a file replaced, or appended where old is "".
type step struct {
	name     string
	edits    [][3]string // file, old, new
	blocking bool        // the comparison finds something new at error
}

// story is what happens to the creamery.
var story = []step{
	{"circuit-added", [][3]string{
		{"roof.hcl", "", `
board "chiller" {
  rated_a             = 100
  rated_short_time_ka = 10
  holds               = "loads"
}

load "chiller" {
  at       = board.chiller
  demand_a = 60
}

run "chiller" {
  from      = board.main
  to        = board.chiller
  cable     = cable.cu-4c
  size_mm2  = 35
  earth_mm2 = 16
  device {
    at          = board.main
    kind        = "mccb"
    rated_a     = 80
    instant_a   = 640
    breaking_ka = 25
    let_through = [[10, 4e5], [25, 7e5]]
  }
  section {
    route       = route.roof-tray
    length_m    = 30
    length_from = "measured"
  }
}
`},
	}, false},
	{"a-lid", [][3]string{{"roof.hcl", "  air_c          = 40\n", "  lid            = true # against the gulls\n  air_c          = 40\n"}}, true},
	{"inverter-swapped", [][3]string{
		{"roof.hcl", "rated_kva     = 50\n  max_current_a = 76\n", "rated_kva     = 60\n  max_current_a = 91\n"},
	}, true},
	{"route-moved", [][3]string{
		{"roof.hcl", "  section {\n    route       = route.roof-tray\n    length_m    = 30\n", "  section {\n    route       = route.wall\n    length_m    = 42\n"},
		{"roof.hcl", "board \"chiller\" {", "route \"wall\" {\n  laid           = \"clipped\"\n  span_m         = 0.4\n  other_circuits = 0\n}\n\nboard \"chiller\" {"},
	}, false},
	{"a-fix", [][3]string{
		{"roof.hcl", "  lid            = true # against the gulls\n", ""},
		{"roof.hcl", "  cable     = cable.cu-4c\n  size_mm2  = 35\n  earth_mm2 = 16\n  device {\n    at          = board.generation\n    kind        = \"mccb\"\n    rated_a     = 80\n    instant_a   = 640\n", "  cable     = cable.cu-4c\n  size_mm2  = 50\n  earth_mm2 = 25\n  device {\n    at          = board.generation\n    kind        = \"mccb\"\n    rated_a     = 100\n    instant_a   = 800\n"},
	}, false},
}

// TestStory makes the commits of the story in a repository of its own and keeps what
// compare tells of each: examples/creamery/review.
func TestStory(t *testing.T) {
	t.Setenv("NO_COLOR", "1")
	recordings, err := filepath.Abs("../../examples/creamery")
	if err != nil {
		t.Fatal(err)
	}
	dir := repository(t)
	for _, name := range []string{"site.hcl", "roof.hcl", "prices.hcl"} {
		text, err := os.ReadFile(filepath.Join(recordings, name))
		if err != nil {
			t.Fatal(err)
		}
		save(t, filepath.Join(dir, "creamery", name), text)
	}
	day := func(n int) {
		for _, v := range []string{"GIT_AUTHOR_DATE", "GIT_COMMITTER_DATE"} {
			t.Setenv(v, fmt.Sprintf("2027-02-%02dT09:00:00Z", n))
		}
	}
	day(1)
	commit(t, dir, "", "the design as approved")
	if err := os.MkdirAll(filepath.Join(recordings, "review"), 0o755); err != nil {
		t.Fatal(err)
	}
	t.Chdir(dir)
	for i, s := range story {
		for _, e := range s.edits {
			name := filepath.Join("creamery", e[0])
			text, err := os.ReadFile(name)
			if err != nil {
				t.Fatal(err)
			}
			now := strings.Replace(string(text), e[1], e[2], 1)
			if e[1] == "" {
				now = string(text) + e[2]
			}
			if now == string(text) {
				t.Fatalf("%s: %q is not in %s", s.name, e[1], e[0])
			}
			save(t, name, []byte(now))
		}
		// What is not committed yet, against the last commit.
		told := map[string][]byte{}
		for _, form := range []string{"text", "markdown"} {
			var out, errs bytes.Buffer
			code := run([]string{"compare", "--today", "2027-03-01", "--format", form, "creamery"}, &out, &errs)
			if want := map[bool]int{true: 1, false: 0}[s.blocking]; code != want || errs.Len() > 0 {
				t.Fatalf("%s: exit %d, want %d: %s\n%s", s.name, code, want, errs.String(), out.String())
			}
			told[form] = out.Bytes()
		}
		diff := gitHere(t, dir, "-c", "core.abbrev=7", "diff", "-U1", "--no-color", "--no-ext-diff")
		day(2 + i)
		commit(t, dir, "", s.name)
		// The same of two revisions, but for what the sides are called.
		var out, errs bytes.Buffer
		run([]string{"compare", "--today", "2027-03-01", "creamery", "HEAD~1", "HEAD"}, &out, &errs)
		_, one, _ := bytes.Cut(told["text"], []byte("\n"))
		_, two, _ := bytes.Cut(out.Bytes(), []byte("\n"))
		if !bytes.Equal(one, two) {
			t.Errorf("%s: two revisions give\n%s%s", s.name, out.String(), errs.String())
		}
		base := filepath.Join(recordings, "review", fmt.Sprintf("%d-%s", i+1, s.name))
		recorded(t, base+".txt", append([]byte(diff+"\n$ trefoil compare creamery\n"), told["text"]...))
		recorded(t, base+".md", told["markdown"])
	}
	var out, errs bytes.Buffer
	if code := run([]string{"check", "--level", "error", "creamery"}, &out, &errs); code != 0 {
		t.Errorf("the story does not end well: %s", out.String())
	}
}

// compared runs compare in a directory and gives its exit code and what it wrote.
func compared(t *testing.T, args ...string) (code int, out, errs string) {
	t.Helper()
	var o, e bytes.Buffer
	code = run(append([]string{"compare", "--today", "2027-03-01"}, args...), &o, &e)
	return code, o.String(), e.String()
}

// TestCompareFaults goes through versions that cannot be compared, or only in part.
func TestCompareFaults(t *testing.T) {
	t.Setenv("NO_COLOR", "1")
	dir := repository(t)
	commit(t, dir, "-- note.txt --\nnothing yet\n", "nothing")
	gitHere(t, dir, "tag", "nothing")
	commit(t, dir, "-- mill/site.hcl --\n"+string(starter), "good")
	gitHere(t, dir, "tag", "good")
	commit(t, dir, "-- mill/extra.hcl --\nboard \"x\" {\n", "broken")
	gitHere(t, dir, "tag", "broken")
	save(t, filepath.Join(dir, "mill/extra.hcl"), []byte("\x00\x01\xff\xfe binary"))
	commit(t, dir, "", "binary")
	gitHere(t, dir, "tag", "binary")
	save(t, filepath.Join(dir, "mill/extra.hcl"), bytes.Repeat([]byte("# long\n"), 1000))
	commit(t, dir, "", "long")
	gitHere(t, dir, "tag", "long")
	gitHere(t, dir, "rm", "-q", "-r", "mill/extra.hcl")
	commit(t, dir, "", "mended")
	t.Chdir(dir)
	for _, c := range []struct {
		name string
		args []string
		code int
		out  string // of it, or of the errors
	}{
		{"the same", []string{"mill"}, 0, "No block says anything else."},
		{"a base without the design", []string{"mill", "nothing"}, 0, "nothing"},
		{"a head without the design", []string{"mill", "good", "nothing"}, 0, "holds no design here"},
		{"neither side", []string{"mill", "nothing", "nothing"}, 3, "neither nothing"},
		{"a broken base", []string{"mill", "broken"}, 0, "broken (" + strings.TrimSpace(gitHere(t, dir, "rev-parse", "--short=10", "broken")) + ") cannot be read whole (mill/extra.hcl:"},
		{"a broken head", []string{"mill", "good", "broken"}, 1, "new error:"},
		{"a binary file", []string{"mill", "binary"}, 0, "cannot be read whole (mill/extra.hcl:1:1"},
		{"a file too long", []string{"--max-bytes", "5000", "mill", "long"}, 3, "it holds 7000 bytes, and --max-bytes allows 5000"},
		{"an unknown revision", []string{"mill", "trunc"}, 3, `git finds no revision "trunc" here`},
		{"an option for a revision", []string{"mill", "--", "--upload-pack=x"}, 3, "names no revision"},
		{"a directory behind", []string{"good", "mill"}, 2, "mill is a directory, and that stands before the revisions"},
		{"a directory that is gone", []string{"gone", "good", "HEAD"}, 3, "neither good"},
		{"four names", []string{"mill", "good", "HEAD", "x"}, 2, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			code, out, errs := compared(t, c.args...)
			if code != c.code || !strings.Contains(out+errs, c.out) {
				t.Errorf("exit %d, want %d with %q:\n%s%s", code, c.code, c.out, out, errs)
			}
			for _, form := range []string{"json", "markdown"} {
				again, _, errs := compared(t, append([]string{"--format", form}, c.args...)...)
				if again != code {
					t.Errorf("%s: exit %d, and %d as text: %s", form, again, code, errs)
				}
			}
		})
	}
	t.Chdir(t.TempDir())
	if code, _, errs := compared(t); code != 3 || !strings.Contains(errs, "not a git repository") {
		t.Errorf("exit %d: %s", code, errs)
	}
}

// TestCompareInHook: the variables of a hook that runs the program do not lead it astray.
func TestCompareInHook(t *testing.T) {
	dir, other := repository(t), repository(t)
	commit(t, dir, "-- mill/site.hcl --\n"+string(starter), "good")
	commit(t, other, "-- x --\n", "another repository")
	t.Chdir(dir)
	t.Setenv("GIT_DIR", filepath.Join(other, ".git"))
	t.Setenv("GIT_WORK_TREE", other)
	t.Setenv("GIT_INDEX_FILE", filepath.Join(other, "no-index"))
	if code, out, errs := compared(t, "mill"); code != 0 || !strings.Contains(out, "No block says anything else") {
		t.Errorf("exit %d: %s%s", code, out, errs)
	}
}

// TestCompareWorktree: a linked worktree and a subfolder of it are as good as the clone.
func TestCompareWorktree(t *testing.T) {
	dir := repository(t)
	commit(t, dir, "-- sites/mill/site.hcl --\n"+string(starter), "good")
	tree := filepath.Join(t.TempDir(), "tree")
	gitHere(t, dir, "worktree", "add", "-q", tree, "HEAD")
	name := filepath.Join(tree, "sites/mill/site.hcl")
	text, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	save(t, name, bytes.Replace(text, []byte("air_c              = 40"), []byte("air_c              = 35"), 1))
	for _, at := range []string{".", "sites", "sites/mill"} {
		t.Chdir(filepath.Join(tree, at))
		site, err := filepath.Rel(at, "sites/mill")
		if err != nil {
			t.Fatal(err)
		}
		if code, out, errs := compared(t, site, "HEAD"); code > 1 || strings.Contains(out, "No block") || !strings.Contains(out, "->") {
			t.Errorf("%s: exit %d: %s%s", at, code, out, errs)
		}
	}
}

// TestCompareTables: a table of the user's own that changed is an edit, and what no edit of
// the text accounts for hangs on it.
func TestCompareTables(t *testing.T) {
	t.Setenv("NO_COLOR", "1")
	dir := repository(t)
	ownTable(t, filepath.Join(dir, "sites/mill/tables/own"))
	commit(t, dir, millText, "mill")
	t.Chdir(dir)
	name := "sites/mill/tables/own/own.csv"
	text, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	save(t, name, bytes.Replace(text, []byte(",77,"), []byte(",66,"), 1))
	_, out, errs := compared(t, "sites/mill")
	for _, want := range []string{"table own.csv: line ", "16,70,71,77,80,81,82 -> 16,70,71,66,80,81,82", "by 1: table own.csv", "inv: 77 A -> 66 A"} {
		if !strings.Contains(out, want) {
			t.Errorf("%q is not told:\n%s%s", want, out, errs)
		}
	}
	site, err := os.ReadFile("sites/mill/site.hcl")
	if err != nil {
		t.Fatal(err)
	}
	save(t, "sites/mill/site.hcl", bytes.Replace(site, []byte("max_current_a = 40"), []byte("max_current_a = 45"), 1))
	_, out, errs = compared(t, "sites/mill")
	for _, want := range []string{"by 1: source inv: max_current_a 40 -> 45", "by 1 and 2\n     utilisation", "by 2: table own.csv", "inv: 77 A -> 66 A"} {
		if !strings.Contains(out, want) {
			t.Errorf("%q is not told:\n%s%s", want, out, errs)
		}
	}
}

// TestCompareOddNames: directories, files, branches and blocks of odd names come through,
// and none of them breaks a line of the output.
func TestCompareOddNames(t *testing.T) {
	t.Setenv("NO_COLOR", "1")
	top := repository(t)
	site := "sites/odd \"dir\" 'x' | <b> ü"
	file := filepath.Join(top, site, "new\nline | <i>.hcl")
	save(t, filepath.Join(top, site, "site.hcl"), starter)
	save(t, file, []byte("board \"a | <b> `c`\" {\n  rated_a = 100\n  note = \"one\\ntwo\"\n}\n"))
	commit(t, top, "", "odd\nnames")
	gitHere(t, top, "checkout", "-q", "-b", "feature/\"odd\"|<b>")
	save(t, file, []byte("board \"a | <b> `c`\" {\n  rated_a = 125\n  note = \"one\\nthree | four\"\n}\n"))
	commit(t, top, "", "more")
	t.Chdir(top)
	code, out, errs := compared(t, site, "trunk", "feature/\"odd\"|<b>")
	if code > 1 || !strings.Contains(out, `board "a | <b> `+"`c`"+`": note "one\ntwo" -> "one\nthree | four"; rated_a 100 -> 125`) {
		t.Errorf("exit %d: %s%s", code, out, errs)
	}
	if !strings.Contains(out, "new\ufffdline | <i>.hcl:1:1: board") {
		t.Errorf("the name of the file breaks a line:\n%s", out)
	}
	code, out, errs = compared(t, "--format", "markdown", site, "trunk")
	if code > 1 || strings.Contains(out, "<b>") || strings.Contains(out, "<i>") || strings.Contains(out, "new\nline") {
		t.Errorf("exit %d: %s%s", code, out, errs)
	}
}
