package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/fsnotify/fsnotify"

	"trefoil/lint/design"
	"trefoil/lint/engine"
	"trefoil/lint/report"
	"trefoil/lint/session"
	"trefoil/lint/source"
	"trefoil/rules"
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
	if k.since == "" { // what is left out for a revision is found by figures that a session does without
		k.live = map[string]*session.Session{}
	}
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
			clear(k.live)
			again.Reset(settle)
		case e := <-watcher.Events:
			if !e.Has(fsnotify.Chmod) && (strings.HasSuffix(e.Name, ".hcl") || strings.HasSuffix(e.Name, ".csv")) {
				k.forget(e.Name)
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

// forget ends the sessions of designs that may have read what was saved besides text: a table,
// a profile.
func (k *checking) forget(name string) {
	if !strings.HasSuffix(name, ".hcl") {
		clear(k.live)
	}
}

// again checks a design that is watched: what was edited since it was checked last, and what
// hangs on that.
func (k *checking) again(dir string) (*engine.Result, []*engine.Rule, error) {
	l := loader{disk{}, k.maxBytes}
	s := k.live[dir]
	delete(k.live, dir) // until it is checked
	files, err := l.files(dir)
	if err != nil {
		return nil, nil, err
	}
	if s != nil {
		if site := s.Result().Review.Design.Site(); site != nil && site.Library.Known() {
			lib, err := l.library(dir, site)
			if err != nil {
				return nil, nil, err
			}
			if files = append(files, lib.Files...); len(lib.Lost) > 0 {
				s = nil
			}
		}
	}
	read := func(files []*source.File) (t *design.Draft, err error) {
		files = slices.DeleteFunc(slices.Clone(files), func(f *source.File) bool { return f.Library })
		_, err = l.decode(dir, func(lib design.Library) *design.Design {
			t = design.NewDraft(filepath.ToSlash(dir), files, lib)
			return t.Design
		})
		return t, err
	}
	if s != nil {
		_, err = s.Update(files)
	} else {
		s, err = session.Open(files, session.Setting{Read: read, Sets: l.choose, Rules: rules.All(), Today: k.today.Time})
	}
	if err != nil {
		return nil, nil, err
	}
	if !s.Lacks() {
		k.live[dir] = s
	}
	return s.Result(), s.Rules(), nil
}

// places lists the directories that the designs named are read from.
func (k *checking) places(args []string) []string {
	dirs, _ := directories(args, k.maxBytes)
	list := dirs
	for _, dir := range dirs {
		d, err := (*design.Design)(nil), error(nil)
		if s := k.live[dir]; s != nil {
			d = s.Result().Review.Design
		} else {
			d, err = read(dir, k.maxBytes)
		}
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
