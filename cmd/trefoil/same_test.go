package main

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
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
