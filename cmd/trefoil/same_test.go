package main

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"trefoil/lint/document"
	"trefoil/lint/engine"
	"trefoil/lint/generate"
	"trefoil/lint/house"
	"trefoil/lint/report"
	"trefoil/rules"
)

// TestSameBytes: one text gives one output, whatever the order in which its files are named,
// the number of processors, and however many checks go on at once. The copies of the last
// file are more than a design may have, so that one set of them is refused, always the same.
func TestSameBytes(t *testing.T) {
	dir := t.TempDir()
	var names []string
	for i, text := range generate.Files(120, 3, 17) {
		name := filepath.Join(dir, fmt.Sprintf("f%02d.hcl", i))
		save(t, name, bytes.ReplaceAll(text, []byte("size_mm2 = 10\n"), []byte("size_mm2 = 10\n  oddword = let.nothing\n")))
		names = append(names, name)
	}
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(0))
	named := func(args ...string) string { // one call after the other, for colour is a setting of the process
		var out, complaint bytes.Buffer
		run(args, &out, &complaint)
		return out.String() + complaint.String()
	}
	once := func() string {
		v, err := load(dir, 1<<30)
		if err != nil {
			return err.Error()
		}
		res := engine.Check(v, house.Join(v, rules.All()), engine.Options{Today: time.Date(2027, 3, 1, 0, 0, 0, 0, time.UTC)})
		var b bytes.Buffer
		in := document.Input{Tool: tool, Result: res, Rules: rules.All(), Today: time.Date(2027, 3, 1, 0, 0, 0, 0, time.UTC)}
		if err := errors.Join(report.WriteJSON(&b, report.CheckDocument(tool, []*engine.Result{res}, 1, "")), document.HTML(&b, document.Of(in))); err != nil {
			return err.Error()
		}
		return b.String()
	}
	runtime.GOMAXPROCS(1)
	want, printed := once(), named("check", "--today", "2027-03-01", dir)
	for _, n := range []int{2, 8} {
		runtime.GOMAXPROCS(n)
		got := make([]string, 2)
		var wg sync.WaitGroup
		for i := range got {
			wg.Go(func() { got[i] = once() })
		}
		wg.Wait()
		for i := range got {
			if got[i] != want {
				t.Errorf("check %d of two on %d processors writes another text", i, n)
			}
		}
		slices.Reverse(names)
		if named(append([]string{"check", "--today", "2027-03-01"}, names...)...) != printed {
			t.Errorf("on %d processors, the files named in another order, another text is printed", n)
		}
	}
}

// TestSameOutputs: whatever a command writes of one text has the same bytes, by processes on
// one, two and eight processors, of which two run at the same time, and of files that came to
// the disk in another order.
func TestSameOutputs(t *testing.T) {
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	here, there := t.TempDir(), t.TempDir()
	texts := generate.Files(24, 3, 5)
	texts[0] = append(texts[0], "route \"odd\" {\n  laid = \"ladder\"\n  lidd = true\n}\n"...)
	for i := range texts {
		k := len(texts) - 1 - i
		save(t, filepath.Join(here, "site", fmt.Sprintf("f%d.hcl", i)), texts[i])
		save(t, filepath.Join(there, "site", fmt.Sprintf("f%d.hcl", k)), texts[k])
		save(t, filepath.Join(here, "was", fmt.Sprintf("f%d.hcl", i)), bytes.ReplaceAll(texts[i], []byte("size_mm2 = 10\n"), []byte("size_mm2 = 16\n")))
		save(t, filepath.Join(there, "was", fmt.Sprintf("f%d.hcl", k)), bytes.ReplaceAll(texts[k], []byte("size_mm2 = 10\n"), []byte("size_mm2 = 16\n")))
	}
	for _, args := range [][]string{
		{"check", "site"},
		{"check", "--format", "sarif", "site"},
		{"check", "--format", "junit", "site"},
		{"check", "--record", "FILE", "site"},
		{"calc", "--format", "json", "site"},
		{"choices", "--top", "9", "--legs", "1-2", "site", "hall-00000"},
		{"choices", "--all", "--format", "json", "site"},
		{"choices", "--bill", "site"},
		{"compare", "was", "site"},
		{"compare", "--format", "json", "was", "site"},
		{"compare", "--format", "markdown", "was", "site"},
		{"schedule", "--kind", "all", "--out", "FILE.xlsx", "site"},
		{"draw", "--sheet", "1", "site"},
		{"draw", "--what", "sections", "--sheet", "1", "site"},
		{"report", "site"},
		{"report", "--pdf", "FILE", "site"},
		{"amend", "--format", "json", "site"},
		{"amend", "--cheapest", "site"},
	} {
		once := func(dir, processors string) string {
			call := slices.Clone(args)
			file := filepath.Join(t.TempDir(), "out")
			for i := range call {
				call[i] = strings.Replace(call[i], "FILE", file, 1)
			}
			if call[0] != "calc" {
				call = slices.Insert(call, 1, "--today", "2027-03-01")
			}
			c := exec.Command(self, call...)
			c.Args[0], c.Dir = "trefoil", dir
			c.Env = append(os.Environ(), "GOMAXPROCS="+processors, "NO_COLOR=1")
			out, err := c.CombinedOutput()
			if exit := (*exec.ExitError)(nil); err != nil && (!errors.As(err, &exit) || exit.ExitCode() > exitFindings) {
				return fmt.Sprintf("%v %v: %s", call, err, out)
			}
			for _, name := range []string{file, file + ".xlsx"} {
				if text, err := os.ReadFile(name); err == nil {
					return string(text) // what is printed names the file
				}
			}
			return string(out)
		}
		want := once(here, "1")
		if len(want) < 100 {
			t.Errorf("%v: %s", args, want)
		}
		got := make([]string, 2)
		var wg sync.WaitGroup
		wg.Go(func() { got[0] = once(here, "2") })
		wg.Go(func() { got[1] = once(there, "8") })
		wg.Wait()
		for i := range got {
			if got[i] != want {
				t.Errorf("%v: another output, %d bytes and %d", args, len(got[i]), len(want))
			}
		}
	}
}

// shifting is a disk on which a file is another by the time it is read.
type shifting struct {
	disk
	said int64 // its size when it is looked at
	text string
}

func (s shifting) Stat(name string) (fs.FileInfo, error) {
	return fact{name: filepath.Base(name), size: s.said}, nil
}

func (s shifting) Open(string) (io.ReadCloser, error) {
	if s.text == "" {
		return nil, fs.ErrNotExist
	}
	return io.NopCloser(strings.NewReader(s.text)), nil
}

// TestShifting: what is there when a file is read counts, and no more than is allowed; that
// it is gone is told.
func TestShifting(t *testing.T) {
	for _, c := range []struct {
		said       int64
		text, want string
	}{
		{5, "let {\n}\n", ""},
		{100, "a", ""},
		{5, strings.Repeat("x", 101), "--max-bytes allows 100"},
		{5, strings.Repeat("x", 1<<20), "--max-bytes allows 100"},
		{1 << 40, "a", "--max-bytes allows 100"},
		{5, "", "file does not exist"},
	} {
		f, err := loader{shifting{said: c.said, text: c.text}, 100}.readFile("site.hcl")
		switch {
		case c.want == "" && (err != nil || string(f.Bytes) != c.text):
			t.Errorf("%.20q: %v", c.text, err)
		case c.want != "" && (err == nil || !strings.Contains(err.Error(), c.want)):
			t.Errorf("%.20q: %v", c.text, err)
		}
	}
}

// full is a place that takes so many bytes and no more.
type full struct{ left int }

func (f *full) Write(p []byte) (int, error) {
	n := min(len(p), f.left)
	f.left -= n
	if n < len(p) {
		return n, errors.New("no space left on device")
	}
	return n, nil
}

// TestFull: an output that is cut off is no success, whatever was asked for.
func TestFull(t *testing.T) {
	for _, args := range [][]string{{"check"}, {"check", "--format", "json"}, {"calc"}, {"schedule"}, {"schedule", "--format", "csv"}, {"draw"}, {"report"}, {"choices", "--bill"}} {
		for _, room := range []int{0, 100} {
			var complaint bytes.Buffer
			code := run(append(slices.Clone(args), "../../examples/bakery"), &full{room}, &complaint)
			if code != exitFailed || !strings.Contains(complaint.String(), "no space left") {
				t.Errorf("%v with room for %d bytes: exit code %d, %s", args, room, code, complaint.String())
			}
		}
	}
}

// TestTooMany: a directory of very many files, and a design of very many blocks.
func TestTooMany(t *testing.T) {
	dir := t.TempDir()
	for i := range maxFiles + 1 {
		if err := os.WriteFile(filepath.Join(dir, fmt.Sprintf("f%d.hcl", i)), nil, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := load(dir, 1<<20); err == nil || !strings.Contains(err.Error(), "a design has at most 10000") {
		t.Error(err)
	}
	dir = put(t, map[string]string{"site.hcl": strings.Repeat("board \"a\" {\n}\n", 250_001)})
	v, err := load(dir, 1<<30)
	if err != nil || len(v.Design.Faults) == 0 || !strings.Contains(v.Design.Faults[0].Message, "more than 250000 blocks") {
		t.Error(err)
	}
}
