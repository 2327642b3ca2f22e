//go:build external && linux

package main

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"
)

// open is a temporary directory that others may enter too.
func open(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	for d := dir; d != os.TempDir() && d != "/"; d = filepath.Dir(d) {
		if err := os.Chmod(d, 0o755); err != nil {
			t.Fatal(err)
		}
	}
	return dir
}

// called runs the program in a directory and gives its exit code and what it says.
func called(t *testing.T, c *exec.Cmd) (code int, said string) {
	t.Helper()
	var out bytes.Buffer
	if c.Stdout == nil {
		c.Stdout = &out
	}
	c.Stderr = &out
	err := c.Run()
	if exit := (*exec.ExitError)(nil); err != nil && !errors.As(err, &exit) {
		t.Fatal(err)
	}
	if strings.Contains(out.String(), "goroutine ") {
		t.Fatalf("%v panics:\n%s", c.Args, out.String())
	}
	return c.ProcessState.ExitCode(), out.String()
}

// crooked is a design of several files that amend and align have something to do in.
func crooked() map[string]string {
	texts := map[string]string{"site.hcl": string(starter)}
	for i := range 6 {
		texts[fmt.Sprintf("route-%d.hcl", i)] = fmt.Sprintf("# %s\nroute \"r%d\" {\n  laid = \"ladder\"\n  lidd   = true\n}\n", strings.Repeat("kept ", 400), i)
	}
	return texts
}

// read gives the texts of a directory by name.
func readAll(t *testing.T, dir string) map[string]string {
	t.Helper()
	texts := map[string]string{}
	err := filepath.WalkDir(dir, func(name string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() {
			return err
		}
		text, err := os.ReadFile(name)
		near, _ := filepath.Rel(dir, name)
		texts[near] = string(text)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return texts
}

// TestExternalFullDisk: on a disk without room nothing that was there is lost, nothing is left
// over, and it is told and is no success.
func TestExternalFullDisk(t *testing.T) {
	bin := built(t, open(t))
	for _, call := range [][]string{
		{"amend", "--write", "."},
		{"align", "--write", "."},
		{"check", "--record", "old.json", "."},
		{"report", "--out", "old.html", "."},
		{"report", "--pdf", "old.pdf", "."},
		{"schedule", "--kind", "all", "--out", "old.xlsx", "."},
		{"draw", "--out", "old.svg", "."},
		{"draw", "--what", "sections", "--out", "sheets", "."},
		{"new", "fresh"},
	} {
		t.Run(strings.Join(call, " "), func(t *testing.T) {
			dir := t.TempDir()
			if err := syscall.Mount("tmpfs", dir, "tmpfs", 0, "size=256k,mode=755"); err != nil {
				t.Skipf("no small disk can be had here: %v", err)
			}
			defer func() {
				if err := syscall.Unmount(dir, 0); err != nil {
					t.Error(err)
				}
			}()
			for name, text := range crooked() {
				save(t, filepath.Join(dir, name), []byte(text))
			}
			for _, name := range []string{"old.json", "old.html", "old.pdf", "old.xlsx", "old.svg"} {
				save(t, filepath.Join(dir, name), []byte("the old one\n"))
			}
			fill, err := os.Create(filepath.Join(dir, "filler"))
			if err != nil {
				t.Fatal(err)
			}
			for err == nil { // up to the last byte
				_, err = fill.Write(make([]byte, 512))
			}
			fill.Close()
			before := readAll(t, dir)
			c := exec.Command(bin, call...)
			c.Dir = dir
			code, said := called(t, c)
			if code != exitFailed || !strings.Contains(said, "no space left on device") {
				t.Errorf("exit code %d: %s", code, said)
			}
			after := readAll(t, dir)
			for name, text := range before {
				if after[name] != text {
					t.Errorf("%s was %d bytes and is %d", name, len(text), len(after[name]))
				}
			}
			for name := range after {
				if _, had := before[name]; !had {
					t.Errorf("%s is left over", name)
				}
			}
		})
	}
}

// TestExternalNobody runs the program as a user who may not read a file, or not write.
func TestExternalNobody(t *testing.T) {
	if os.Getuid() != 0 {
		t.Skip("only root can become somebody else")
	}
	bin := built(t, open(t))
	as := func(dir string, args ...string) *exec.Cmd {
		c := exec.Command(bin, args...)
		c.Dir = dir
		c.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: 65534, Gid: 65534}}
		return c
	}
	dir := open(t)
	for name, text := range crooked() {
		save(t, filepath.Join(dir, name), []byte(text))
	}
	before := readAll(t, dir)
	if code, said := called(t, as(dir, "check", ".")); code > exitFindings {
		t.Fatalf("what may be read is not: exit code %d, %s", code, said)
	}
	for _, call := range [][]string{
		{"amend", "--write", "."}, {"align", "--write", "."}, {"check", "--record", "r.json", "."}, {"report", "--out", "r.html", "."}, {"schedule", "--out", "s.csv", "."}, {"draw", "--out", "d.svg", "."}, {"draw", "--what", "sections", "--out", "sheets", "."}, {"new", "fresh"},
	} {
		if code, said := called(t, as(dir, call...)); code != exitFailed || !strings.Contains(said, "permission denied") {
			t.Errorf("%v in a directory that may not be written to: exit code %d, %s", call, code, said)
		}
	}
	// A file that may not be written, in a directory that may: it is not replaced.
	loose := open(t)
	for name, text := range crooked() {
		save(t, filepath.Join(loose, name), []byte(text))
	}
	for _, e := range []string{loose, filepath.Join(loose, "route-1.hcl")} {
		if err := os.Chown(e, 65534, 65534); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.Chmod(filepath.Join(loose, "route-1.hcl"), 0o444); err != nil {
		t.Fatal(err)
	}
	if code, said := called(t, as(loose, "amend", "--write", ".")); code != exitFailed || !strings.Contains(said, "permission denied") {
		t.Errorf("a file that may not be written: exit code %d, %s", code, said)
	}
	for _, where := range []string{dir, loose} {
		after := readAll(t, where)
		if len(after) != len(before) {
			t.Errorf("%s holds %d files, and held %d", where, len(after), len(before))
		}
		for name, text := range before {
			if after[name] != text {
				t.Errorf("%s is another", name)
			}
		}
	}
	if err := os.Chmod(filepath.Join(dir, "route-3.hcl"), 0); err != nil {
		t.Fatal(err)
	}
	for _, call := range [][]string{{"check", "."}, {"calc", "."}, {"check", "--format", "json", "."}, {"report", "."}, {"amend", "."}, {"align", "."}, {"schedule", "."}, {"compare", ".", "."}} {
		if code, said := called(t, as(dir, call...)); code != exitFailed || !strings.Contains(said, "route-3.hcl: permission denied") {
			t.Errorf("%v of a file that may not be read: exit code %d, %s", call, code, said)
		}
	}
	if err := os.Chmod(dir, 0o711); err != nil {
		t.Fatal(err)
	}
	if code, said := called(t, as(dir, "check", ".")); code != exitFailed || !strings.Contains(said, "permission denied") {
		t.Errorf("a directory that may not be listed: exit code %d, %s", code, said)
	}
}

// TestExternalStandardOutput: for every command a standard output that takes nothing is told
// and is no success, and one whose reader goes away ends it quietly.
func TestExternalStandardOutput(t *testing.T) {
	bin := built(t, open(t))
	dir := "../../examples/cold-store"
	for _, call := range [][]string{
		{"check", dir},
		{"check", "--format", "json", dir},
		{"check", "--format", "sarif", dir},
		{"check", "--format", "junit", dir},
		{"check", "--format", "line", dir},
		{"check", "--provenance", dir},
		{"calc", dir},
		{"calc", "--format", "json", dir},
		{"choices", "--bill", dir},
		{"choices", "--bill", "--format", "csv", dir},
		{"choices", dir, "battery"},
		{"choices", "--format", "json", dir, "battery"},
		{"compare", dir, "../../examples/cold-store-late"},
		{"compare", "--format", "json", dir, "../../examples/cold-store-late"},
		{"compare", "--format", "markdown", dir, "../../examples/cold-store-late"},
		{"schedule", "--kind", "all", dir},
		{"schedule", "--format", "csv", dir},
		{"schedule", "--format", "markdown", dir},
		{"schedule", "--format", "json", dir},
		{"draw", "--sheet", "1", dir},
		{"report", dir},
		{"explain", "run-overloaded"},
		{"explain"},
		{"tables"},
		{"tables", "bs-7671:2018"},
		{"tables", "--blank", "bs-7671:2018"},
		{"align", dir},
		{"amend", dir},
		{"schema", "check"},
		{"help"},
		{"check", "--help"},
		{"--version"},
	} {
		full, err := os.OpenFile("/dev/full", os.O_WRONLY, 0)
		if err != nil {
			t.Fatal(err)
		}
		plain := exec.Command(bin, call...)
		var text bytes.Buffer
		plain.Stdout = &text
		_, _ = called(t, plain)
		c := exec.Command(bin, call...)
		c.Stdout = full
		code, said := called(t, c)
		full.Close()
		if text.Len() > 0 && (code != exitFailed || !strings.Contains(said, "no space left on device")) {
			t.Errorf("%v to a full device: exit code %d, %s", call, code, said)
		}
		r, w, err := os.Pipe()
		if err != nil {
			t.Fatal(err)
		}
		r.Close()
		c = exec.Command(bin, call...)
		c.Stdout = w
		code, said = called(t, c)
		w.Close()
		if text.Len() > 0 && code == 0 { // a signal ends it, or it is told
			t.Errorf("%v to a pipe that nobody reads: exit code %d, %s", call, code, said)
		}
	}
}

// TestExternalSignals ends amend at many moments while it writes several files. After a plain
// signal all files are old or all are new, and nothing lies beside them; after a kill each
// file is wholly old or wholly new, and what is left over has a name of its own.
func TestExternalSignals(t *testing.T) {
	bin := built(t, open(t))
	lay := func() string {
		dir := t.TempDir()
		for name, text := range crooked() {
			save(t, filepath.Join(dir, name), []byte(text))
		}
		return dir
	}
	was := crooked()
	whole := lay()
	begin := time.Now()
	if code, said := called(t, exec.Command(bin, "amend", "--write", whole)); code != 0 {
		t.Fatalf("exit code %d, %s", code, said)
	}
	took := time.Since(begin)
	now := readAll(t, whole)
	differ := 0
	for name := range was {
		if was[name] != now[name] {
			differ++
		}
	}
	if differ < 6 {
		t.Fatalf("amend changes %d files", differ)
	}
	outcomes := map[string]int{}
	for _, signal := range []syscall.Signal{syscall.SIGINT, syscall.SIGTERM, syscall.SIGHUP, syscall.SIGKILL} {
		for range 25 {
			dir := lay()
			c := exec.Command(bin, "amend", "--write", dir)
			if err := c.Start(); err != nil {
				t.Fatal(err)
			}
			time.Sleep(time.Duration(rand.Int64N(int64(took) * 5 / 4)))
			_ = c.Process.Signal(signal)
			_ = c.Wait()
			after := readAll(t, dir)
			old, fresh := 0, 0
			for name, text := range after {
				switch {
				case was[name] != now[name] && text == was[name]:
					old++
				case was[name] != now[name] && text == now[name]:
					fresh++
				case text == was[name] && was[name] != "":
				case strings.HasPrefix(name, temporary) && signal == syscall.SIGKILL:
				default:
					t.Errorf("%v: %s holds %d bytes that are neither the old text nor the new one", signal, name, len(text))
				}
			}
			if old+fresh != differ || signal != syscall.SIGKILL && old > 0 && fresh > 0 {
				t.Errorf("%v: %d files are old and %d new", signal, old, fresh)
			}
			switch {
			case fresh == 0:
				outcomes["old"]++
			case old == 0:
				outcomes["new"]++
			default:
				outcomes["mixed"]++
			}
			// The next call ends the work, whatever lies there.
			if code, said := called(t, exec.Command(bin, "amend", "--write", dir)); code != 0 {
				t.Errorf("%v, and then exit code %d, %s", signal, code, said)
			}
			for name, text := range now {
				if got, err := os.ReadFile(filepath.Join(dir, name)); err != nil || string(got) != text {
					t.Errorf("%v, and then %s is another", signal, name)
				}
			}
		}
	}
	for range 20 { // a document
		dir := lay()
		save(t, filepath.Join(dir, "old.html"), []byte("the old one\n"))
		c := exec.Command(bin, "report", "--out", filepath.Join(dir, "old.html"), dir)
		if err := c.Start(); err != nil {
			t.Fatal(err)
		}
		time.Sleep(time.Duration(rand.Int64N(int64(took) * 2)))
		_ = c.Process.Signal(syscall.SIGTERM)
		_ = c.Wait()
		after := readAll(t, dir)
		if text := after["old.html"]; text != "the old one\n" && !strings.HasSuffix(text, "</html>\n") || len(after) != len(was)+1 {
			t.Errorf("a report holds %d bytes, in a directory of %d files", len(text), len(after))
		}
	}
	t.Logf("%v", outcomes)
	if outcomes["old"] == 0 || outcomes["new"] == 0 {
		t.Errorf("the moments are badly chosen: %v", outcomes)
	}
}

// TestExternalUnderHands saves a file again and again while the program reads and amends it:
// no text of the other's is lost, other than by one that was made of it.
func TestExternalUnderHands(t *testing.T) {
	bin := built(t, open(t))
	dir := t.TempDir()
	save(t, filepath.Join(dir, "site.hcl"), starter)
	name := filepath.Join(dir, "r.hcl")
	text := func(n int, word string) string {
		return fmt.Sprintf("# %06d\nroute \"r\" {\n  laid = \"ladder\"\n  %s = true\n}\n%s", n, word, strings.Repeat("# kept\n", 3000))
	}
	save(t, name, []byte(text(0, "lidd")))
	stop, done := make(chan struct{}), make(chan int)
	go func() {
		n := 0
		for {
			select {
			case <-stop:
				done <- n
				return
			case <-time.After(2 * time.Millisecond):
			}
			n++
			if n%2 == 0 { // whole, by a name of its own, as editors do
				_ = os.WriteFile(name+"~", []byte(text(n, "lidd")), 0o644)
				_ = os.Rename(name+"~", name)
			} else { // in place
				_ = os.WriteFile(name, []byte(text(n, "lidd")), 0o644)
			}
		}
	}()
	codes := map[int]int{}
	for range 40 {
		code, said := called(t, exec.Command(bin, "amend", "--write", dir))
		codes[code]++
		if code != 0 && code != exitFindings && !strings.Contains(said, "changed while it was worked on; nothing was written") && !strings.Contains(said, "read a design file") {
			t.Errorf("exit code %d: %s", code, said)
		}
		if code, said := called(t, exec.Command(bin, "check", "--format", "json", dir)); code > exitFindings {
			t.Errorf("check: exit code %d: %s", code, said)
		}
	}
	close(stop)
	last := <-done
	got, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	n := 0
	if _, err := fmt.Sscanf(string(got), "# %d\n", &n); err != nil || n > last || string(got) != text(n, "lidd") && string(got) != text(n, "lid") && string(got) != strings.Replace(text(n, "lid"), "lid = ", "lid  = ", 1) {
		t.Errorf("the file holds a text that nobody wrote: %.80q, %v", got, err)
	}
	if names, _ := filepath.Glob(filepath.Join(dir, temporary+"*")); len(names) > 0 {
		t.Errorf("left over: %v", names)
	}
	if codes[exitFailed] == 0 {
		t.Errorf("the other was never quicker: %v", codes)
	}
}
