package main

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"syscall"
	"testing"
	"time"
)

// put writes files of a fresh directory, by name and text.
func put(t *testing.T, texts map[string]string) string {
	t.Helper()
	dir := t.TempDir()
	for name, text := range texts {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o640); err != nil {
			t.Fatal(err)
		}
	}
	return dir
}

// holds compares a directory with what it should hold, by name and text.
func holds(t *testing.T, dir string, texts map[string]string) {
	t.Helper()
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	if len(entries) != len(texts) {
		t.Errorf("%s holds %v", dir, entries)
	}
	for name, want := range texts {
		if got, err := os.ReadFile(filepath.Join(dir, name)); err != nil || string(got) != want {
			t.Errorf("%s holds %.60q, want %.60q, %v", name, got, want, err)
		}
	}
}

func TestSave(t *testing.T) {
	dir := put(t, map[string]string{"a.hcl": "one", "b.hcl": "two"})
	a, b := filepath.Join(dir, "a.hcl"), filepath.Join(dir, "b.hcl")
	list := []saved{{a, []byte("one"), []byte("1")}, {b, []byte("two"), []byte("2")}}

	// One of two that changed meanwhile keeps the other from being written.
	if err := os.WriteFile(b, []byte("too"), 0o640); err != nil {
		t.Fatal(err)
	}
	if err := saveAll(list); err == nil || !strings.Contains(err.Error(), "b.hcl: the file changed while it was worked on; nothing was written") {
		t.Error(err)
	}
	holds(t, dir, map[string]string{"a.hcl": "one", "b.hcl": "too"})

	// So does one that is gone.
	if err := os.Remove(b); err != nil {
		t.Fatal(err)
	}
	if err := saveAll(list); err == nil {
		t.Error("a file that is gone is written")
	}
	holds(t, dir, map[string]string{"a.hcl": "one"})

	// Together they are written, with the mode that they had; what a call left that was
	// killed long ago goes, what another call is writing stays.
	if err := os.WriteFile(b, []byte("two"), 0o600); err != nil {
		t.Fatal(err)
	}
	for name, age := range map[string]time.Duration{temporary + "old": 2 * leftOver, temporary + "young": 0} {
		if err := os.WriteFile(filepath.Join(dir, name), nil, 0o600); err != nil {
			t.Fatal(err)
		}
		if err := os.Chtimes(filepath.Join(dir, name), time.Time{}, time.Now().Add(-age)); err != nil {
			t.Fatal(err)
		}
	}
	if err := saveAll(list); err != nil {
		t.Error(err)
	}
	holds(t, dir, map[string]string{"a.hcl": "1", "b.hcl": "2", temporary + "young": ""})
	if info, err := os.Stat(b); err != nil || runtime.GOOS != "windows" && info.Mode().Perm() != 0o600 {
		t.Error(info.Mode(), err)
	}
}

// TestRestore: where one of several cannot take its place, those before it are put back.
func TestRestore(t *testing.T) {
	dir := put(t, map[string]string{"a.hcl": "1"})
	a := filepath.Join(dir, "a.hcl")
	err := restore([]part{{saved: saved{a, []byte("one"), []byte("1")}, target: a}})
	if err == nil || err.Error() != "what was written is put back" {
		t.Error(err)
	}
	holds(t, dir, map[string]string{"a.hcl": "one"})
}

// TestKilled ends the program at any time while it writes: each file holds the old text or
// the new one, whole. After a plain signal nothing lies beside them.
func TestKilled(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("no signals")
	}
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	was := append(bytes.Clone(starter), []byte("\n"+strings.Repeat("# a long remark that is kept\n", 20000))...)
	rough := bytes.Replace(was, []byte(" = "), []byte("  = "), 1)
	for _, signal := range []os.Signal{syscall.SIGTERM, syscall.SIGKILL} {
		for i := range 15 {
			dir := put(t, map[string]string{"site.hcl": string(rough)})
			c := exec.Command(self, "align", "--write", dir)
			c.Args[0] = "trefoil"
			if err := c.Start(); err != nil {
				t.Fatal(err)
			}
			time.Sleep(time.Duration(rand.IntN(200)) * time.Millisecond)
			_ = c.Process.Signal(signal)
			_ = c.Wait() // it may have come to its end before
			got, err := os.ReadFile(filepath.Join(dir, "site.hcl"))
			if err != nil || !bytes.Equal(got, rough) && !bytes.Equal(got, was) {
				t.Fatalf("%v, turn %d: %d bytes of neither text, %v", signal, i, len(got), err)
			}
			if names, _ := filepath.Glob(filepath.Join(dir, temporary+"*")); signal == syscall.SIGTERM && len(names) > 0 {
				t.Errorf("left over: %v", fmt.Sprint(names))
			}
		}
	}
}
