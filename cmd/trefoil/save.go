package main

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/signal"
	"path/filepath"
	"strings"
	"syscall"
	"time"

	"github.com/rogpeppe/go-internal/diff"

	"trefoil/lint/report"
)

// unified is the change of a file as a unified diff, safe to print. Where every line ended
// in \r\n and still does, that is left out.
func unified(name string, was, text []byte, how string) string {
	crlf := func(text []byte) bool {
		return bytes.Contains(text, []byte("\r\n")) && bytes.Count(text, []byte("\n")) == bytes.Count(text, []byte("\r\n"))
	}
	if crlf(was) && crlf(text) {
		was, text = bytes.ReplaceAll(was, []byte("\r\n"), []byte("\n")), bytes.ReplaceAll(text, []byte("\r\n"), []byte("\n"))
	}
	var b strings.Builder
	for line := range strings.Lines(string(diff.Diff(name, was, name+" ("+how+")", text))) {
		b.WriteString(report.Clean(strings.TrimSuffix(line, "\n")) + "\n")
	}
	return b.String()
}

// saved is a file to be saved: its name, the text that was read, and the new one.
type saved struct {
	name      string
	was, text []byte
}

// temporary begins the names of files that are not complete yet.
const temporary = ".trefoil-"

// leftOver is the age from which on such a file is one of a call that was killed.
const leftOver = time.Hour

// saveAll saves files whole or not at all: each is written beside its place first, and none
// takes its place unless all are there and none of the old ones changed meanwhile. A signal
// to end is heeded before the first takes its place, or else after the last.
func saveAll(list []saved) error {
	stop := heldBack()
	defer signal.Stop(stop)
	var parts []part
	defer func() {
		for _, p := range parts {
			os.Remove(p.temp) // is gone where it took its place
		}
	}()
	for _, f := range list {
		p, err := prepare(f)
		if err != nil {
			return fmt.Errorf("save %s: %w; nothing was written", f.name, err)
		}
		parts = append(parts, p)
	}
	for _, p := range parts {
		if now, err := os.ReadFile(p.target); err != nil || !bytes.Equal(now, p.was) {
			return fmt.Errorf("save %s: the file changed while it was worked on; nothing was written", p.name)
		}
	}
	if len(stop) > 0 {
		return errInterrupted
	}
	for i, p := range parts {
		if err := os.Rename(p.temp, p.target); err != nil {
			return errors.Join(fmt.Errorf("save %s: %w", p.name, err), restore(parts[:i]))
		}
	}
	for _, p := range parts {
		if dir, err := os.Open(filepath.Dir(p.target)); err == nil {
			_ = dir.Sync() // not every system can; the file itself is safe
			dir.Close()
		}
	}
	return nil
}

// errInterrupted says that a signal to end came before anything took its place.
var errInterrupted = errors.New("save: interrupted; nothing was written")

// heldBack holds back the signals to end while files are saved, and gives the first of them.
func heldBack() chan os.Signal {
	stop := make(chan os.Signal, 1)
	signal.Notify(stop, os.Interrupt, syscall.SIGTERM, syscall.SIGHUP)
	return stop
}

// part is a file that is complete beside its place.
type part struct {
	saved
	target, temp string // target: with links followed
}

// prepare writes the new text of a file beside it, with its mode.
func prepare(f saved) (part, error) {
	p := part{saved: f}
	var err error
	if p.target, err = filepath.EvalSymlinks(f.name); err != nil {
		return p, err
	}
	info, err := os.Stat(p.target)
	if err != nil {
		return p, err
	}
	if info.Mode().Perm()&0o200 == 0 {
		return p, fs.ErrPermission
	}
	p.temp, err = stage(p.target, f.text, info.Mode().Perm())
	return p, err
}

// stage writes a text beside its place, whole, and gives the name of that file.
func stage(target string, text []byte, mode fs.FileMode) (string, error) {
	sweep(filepath.Dir(target))
	temp, err := os.CreateTemp(filepath.Dir(target), temporary+"*")
	if err != nil {
		return "", err
	}
	_, err = temp.Write(text)
	if err == nil {
		err = temp.Chmod(mode)
	}
	if err == nil {
		err = temp.Sync()
	}
	if e := temp.Close(); err == nil {
		err = e
	}
	if err != nil {
		os.Remove(temp.Name())
	}
	return temp.Name(), err
}

// saveNew saves a document whole or not at all; it takes the place of an earlier one.
func saveNew(name string, text []byte) error {
	target, mode := name, fs.FileMode(0o644)
	info, err := os.Stat(name)
	switch {
	case strings.HasSuffix(name, ".hcl"):
		return fmt.Errorf("save %s: that is the name of a design file; name another one", name)
	case err == nil && !info.Mode().IsRegular():
		return fmt.Errorf("save %s: it is no regular file; name another one", name)
	case err == nil:
		mode = info.Mode().Perm()
		if target, err = filepath.EvalSymlinks(name); err != nil {
			return fmt.Errorf("save: %w", err)
		}
	}
	stop := heldBack()
	defer signal.Stop(stop)
	temp, err := stage(target, text, mode)
	if err == nil && len(stop) > 0 {
		err = errInterrupted
	}
	if err == nil {
		err = os.Rename(temp, target)
	}
	if err != nil {
		os.Remove(temp) // is not there where it was not written
		if errors.Is(err, errInterrupted) {
			return err
		}
		return fmt.Errorf("save %s: %w; nothing was written", name, err)
	}
	return nil
}

// restore puts the old texts of files back that were saved already.
func restore(parts []part) error {
	if len(parts) == 0 {
		return errors.New("nothing was written")
	}
	for _, p := range parts {
		back, err := prepare(saved{p.target, p.text, p.was})
		if err == nil {
			err = os.Rename(back.temp, p.target)
		}
		if err != nil {
			return fmt.Errorf("%s is written, and its old text could not be put back: %w", p.name, err)
		}
	}
	return errors.New("what was written is put back")
}

// sweep removes what a call that was killed left in a directory.
func sweep(dir string) {
	names, _ := filepath.Glob(filepath.Join(dir, temporary+"*"))
	for _, n := range names {
		if info, err := os.Lstat(n); err == nil && info.Mode().IsRegular() && time.Since(info.ModTime()) > leftOver {
			os.Remove(n)
		}
	}
}
