package main

import (
	"bufio"
	"bytes"
	"errors"
	"io"
	"io/fs"
	"os/exec"
	"path"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"trefoil/lint/design"
	"trefoil/lint/source"
	"trefoil/rules"
)

// deaf takes what is written to it.
type deaf struct{ io.Writer }

func (deaf) Close() error { return nil }

// FuzzRevision reads any answers of git, and looks for any name in them: nothing outside of
// the repository comes of it, whatever its links say, a directory lists what can be found in
// it, and no answer takes more memory than it has bytes.
func FuzzRevision(f *testing.F) {
	id := strings.Repeat("a", 40)
	tree := "100644 blob " + id + "\ta/site.hcl\x00120000 blob " + id + "\ta/l.hcl\x00120000 blob " + id + "\tb\x00160000 commit " + id + "\tsub\x00"
	f.Add([]byte(tree), "a/site.hcl", []byte(id+" blob 5\na = 1\n"))
	f.Add([]byte(tree), "a/l.hcl", []byte(id+" blob 9\n../../../x\n"))
	f.Add([]byte(tree), "b/x", []byte(id+" blob 4\n/etc\n"))
	f.Add([]byte(tree), "b", []byte(id+" blob 1\nb\n"))
	f.Add([]byte(tree), "sub/x", []byte(id+" missing\n"))
	f.Add([]byte(tree), "a/site.hcl", []byte(id+" blob 9223372036854775807\n"))
	f.Add([]byte(tree), "a/site.hcl", []byte(id+" blob 99999999999\nabc"))
	f.Add([]byte("100644 blob "+id+"\t../../etc/passwd\x00100644 blob "+id+"\t/etc/x.hcl\x00040000 tree "+id+"\t\x00"), "../etc/passwd", []byte(id+" blob -1\n"))
	top, err := filepath.Abs(f.TempDir())
	if err != nil {
		f.Fatal(err)
	}
	f.Fuzz(func(t *testing.T, tree []byte, name string, answers []byte) {
		if len(tree) > 1<<14 || len(answers) > 1<<16 {
			t.Skip()
		}
		r := &revision{name: "HEAD", commit: strings.Repeat("a", 40), top: top}
		if err := r.read(tree); err != nil {
			return
		}
		// each program answers from the start again
		again := func() {
			r.sizes = &objects{ask: "--batch-check", command: &exec.Cmd{}, to: deaf{io.Discard}, from: bufio.NewReader(bytes.NewReader(answers))}
			r.contents = &objects{ask: "--batch", command: &exec.Cmd{}, to: deaf{io.Discard}, from: bufio.NewReader(bytes.NewReader(answers))}
		}
		again()
		up := func(at string) bool { return at == ".." || strings.HasPrefix(at, "../") }
		if at, err := r.resolve(path.Clean(name), true); err == nil && up(at) && !up(path.Clean(name)) { // which is refused before
			t.Errorf("%q leads to %q", name, at)
		}
		full := filepath.Join(top, filepath.FromSlash(name))
		again()
		if _, err := r.Stat(full); err == nil {
			if near, err := filepath.Rel(top, full); err != nil || near == ".." || strings.HasPrefix(near, ".."+string(filepath.Separator)) {
				t.Errorf("%q is found", name)
			}
		}
		again()
		_, _ = r.Lstat(full)
		again()
		if in, err := r.Open(full); err == nil {
			text, err := io.ReadAll(in)
			if err != nil || len(text) > len(answers) {
				t.Errorf("%d bytes of answers of %d, %v", len(text), len(answers), err)
			}
		}
		again()
		entries, err := r.ReadDir(full)
		for _, e := range entries {
			if err != nil {
				t.Fatal(err)
			}
			if _, err := r.Lstat(filepath.Join(full, e.Name())); errors.Is(err, fs.ErrNotExist) && e.Name() == path.Base(path.Clean("/"+e.Name())) {
				again()
				if at, e1 := r.within(full); e1 == nil {
					if at, e1 = r.resolve(at, true); e1 == nil && fs.ValidPath(at) && fs.ValidPath(e.Name()) {
						t.Errorf("%q is listed in %q and not there", e.Name(), name)
					}
				}
			}
		}
		again()
		if in, err := r.Within(full); err == nil {
			for _, n := range []string{"../x", "l.hcl", name} {
				again()
				_, _ = in.Stat(n)
			}
		}
	})
}

// option is the value of a flag.
type option interface {
	Set(string) error
	String() string
}

// FuzzOptions gives any text to each option that has a form of its own, and to --choose: it is
// refused in words, or says the same when it is written out and read again; and edits of a
// choice lie in the text.
func FuzzOptions(f *testing.F) {
	for _, s := range []string{"roof=1", "run.roof=2", "roof=0", "=1", "roof=", "a=b=1", "roof=99999999999999999999", "35,50", "4/0 AWG,250 kcmil", "1-4,2", "24", "1-99", "2027-02-30", "copper,aluminium", "1e309", "0x10", " 5", "NaN", "-1", "100,250", "\x00"} {
		f.Add(s)
	}
	res := check([]*source.File{{Name: "site.hcl", Bytes: starter}})
	shop := openShop(res.Review, rules.All(), time.Date(2027, 3, 1, 0, 0, 0, 0, time.UTC))
	small := func() asked {
		var a asked
		_ = a.sizes.Set("25")
		a.by = oneOf{"cost", []string{"cost", "loss", "size"}}
		return a
	}
	f.Fuzz(func(t *testing.T, s string) {
		for _, fresh := range []func() option{
			func() option { return &sizes{} },
			func() option { return &legs{} },
			func() option { return &metres{} },
			func() option { return &between{low: 0, high: 100, unit: "M"} },
			func() option { return &day{} },
			func() option { return new(limit) },
			func() option { return &severity{} },
			func() option { return &some{words: design.Conductors} },
			func() option { return &format{oneOf: oneOf{value: "text", words: []string{"text", "json"}}} },
		} {
			one, two := fresh(), fresh()
			if err := one.Set(s); err != nil {
				if strings.TrimSpace(err.Error()) == "" {
					t.Errorf("%T refuses %q without words", one, s)
				}
				continue
			}
			if err := two.Set(one.String()); err != nil || two.String() != one.String() {
				t.Errorf("%T: %q is written out as %q, and that as %q, %v", one, s, one.String(), two.String(), err)
			}
		}
		o := order{picks: []string{s}, may: small()}
		list, err := o.fixes(shop)
		if err != nil {
			if strings.TrimSpace(err.Error()) == "" {
				t.Errorf("%q is refused without words", s)
			}
			return
		}
		for _, p := range list {
			for _, e := range p.Edits {
				if e.At.File == nil || int(e.At.End) > len(e.At.File.Bytes) || e.At.Start > e.At.End {
					t.Errorf("%q edits outside of the text: %+v", s, e)
				}
			}
		}
	})
}
