package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"strings"
	"time"

	"github.com/fsnotify/fsnotify"

	"trefoil/lint/report"
)

// settle is how long a save is given to come to an end: an editor writes in several steps.
const settle = 20 * time.Millisecond

// follow checks, and checks again whenever a file of the designs, of their libraries or of
// their tables is saved, until it is told to end. What comes of a check ends with the time
// that it took.
func (k *checking) follow(ctx context.Context, out, errs io.Writer, args []string) error {
	watcher, err := fsnotify.NewWatcher()
	if err != nil {
		return failed(fmt.Errorf("watch the files: %w", err))
	}
	defer watcher.Close()
	watched := map[string]bool{}
	look := func() {
		for _, dir := range k.places(args) {
			if !watched[dir] && watcher.Add(dir) == nil {
				watched[dir] = true
			}
		}
	}
	look()
	again := time.NewTimer(0)
	defer again.Stop()
	for {
		select {
		case <-ctx.Done():
			return nil
		case err := <-watcher.Errors:
			if err != nil && !errors.Is(err, fsnotify.ErrEventOverflow) {
				return failed(fmt.Errorf("watch the files: %w", err))
			}
			again.Reset(settle)
		case e := <-watcher.Events:
			if !e.Has(fsnotify.Chmod) && (strings.HasSuffix(e.Name, ".hcl") || strings.HasSuffix(e.Name, ".csv")) {
				again.Reset(settle)
			}
		case <-again.C:
			begin := time.Now()
			var b bytes.Buffer
			err := k.once(&b, errs, args)
			if e := (*exit)(nil); errors.As(err, &e) && e.err != nil {
				fmt.Fprintln(errs, report.Clean("trefoil: "+e.Error()))
			}
			if k.how.String() == "text" {
				fmt.Fprintf(&b, "checked in %d ms; waiting for a save\n\n", time.Since(begin).Milliseconds())
			}
			if _, err := out.Write(b.Bytes()); err != nil {
				return failed(fmt.Errorf("write the output: %w", err))
			}
			if f, is := out.(interface{ Flush() error }); is {
				if err := f.Flush(); err != nil {
					return failed(fmt.Errorf("write the output: %w", err))
				}
			}
			if look(); len(watched) == 0 {
				return err // nothing there that could be saved
			}
		}
	}
}

// places lists the directories that the designs named are read from.
func (k *checking) places(args []string) []string {
	dirs, _ := directories(args, k.maxBytes)
	list := dirs
	for _, dir := range dirs {
		d, err := read(dir, k.maxBytes)
		if err != nil || d.Site() == nil {
			continue
		}
		s := d.Site()
		more := s.Library.Values
		for _, t := range []string{s.Ratings.Value, s.CapacityTables.Value} {
			if strings.HasPrefix(t, "./") {
				more = append(more, t)
			}
		}
		for _, m := range more {
			list = append(list, filepath.Join(dir, filepath.FromSlash(m)))
		}
	}
	return list
}
