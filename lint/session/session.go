// Package session keeps an assessed design and follows edits of its text, so that what
// watches a design or serves an editor need not work everything out at each of them.
//
// It stands over the whole line text -> design -> network -> assessment -> rules ->
// findings. Of an edit it decodes the blocks that it touches, works out what hangs on them,
// and runs all rules over the outcome: a finding is never kept. What cannot be followed so
// is worked out anew, from the stage on at which it cannot. The findings are those of a
// check from scratch either way.
package session

import (
	"bytes"
	"cmp"
	"slices"
	"time"

	"trefoil/lint/assess"
	"trefoil/lint/design"
	"trefoil/lint/engine"
	"trefoil/lint/house"
	"trefoil/lint/source"
)

// Way says how much of a check a session had to do.
type Way uint8

// Same text: nothing. Moved: no object says anything else, and all places are moved along.
// Followed: what hangs on some runs, routes and cables is worked out. Assessed: all figures
// are. Read: the text is read from scratch.
const (
	Same Way = iota
	Moved
	Followed
	Assessed
	Read
)

// String is the word of a way.
func (w Way) String() string {
	return [...]string{"same", "moved", "followed", "assessed", "read"}[w]
}

// Setting is what a check hangs on besides the text.
type Setting struct {
	// Read decodes files, with whatever they name besides; design.NewDraft of the files alone
	// where it is nil.
	Read  func(files []*source.File) (*design.Draft, error)
	Sets  assess.Sets
	Rules []*engine.Rule // those of the design itself come to them
	Today time.Time
}

// Session is a design under edits. It is for one caller at a time.
type Session struct {
	setting Setting
	files   []*source.File // in order of name, those of the library behind
	draft   *design.Draft
	review  *assess.Review
	faults  int            // of the review, before the rules of the design add theirs
	rules   []*engine.Rule // that were run
	result  *engine.Result
	way     Way
}

// Open reads and checks a design. Its files are the session's from then on.
func Open(files []*source.File, setting Setting) (*Session, error) {
	s := &Session{setting: setting, files: ordered(files)}
	if s.setting.Read == nil {
		s.setting.Read = func(files []*source.File) (*design.Draft, error) {
			own := slices.IndexFunc(files, func(f *source.File) bool { return f.Library })
			if own < 0 {
				own = len(files)
			}
			return design.NewDraft("", files[:own], design.Library{Files: files[own:]}), nil
		}
	}
	if err := s.read(); err != nil {
		return nil, err
	}
	return s, nil
}

// Result is that of the last check. It holds until the next change: ranges then name the
// places of the next text.
func (s *Session) Result() *engine.Result { return s.result }

// Way says how the last result came about.
func (s *Session) Way() Way { return s.way }

// Rules lists the rules that were run for it, those of the design itself included.
func (s *Session) Rules() []*engine.Rule { return s.rules }

// Files lists the files in order of name, those of the library behind them.
func (s *Session) Files() []*source.File { return s.files }

// Lacks says that a part of the library could not be had, which may be there the next time.
func (s *Session) Lacks() bool { return s.draft.Lacks() }

// Change gives a file another text, nil to take it away, and checks the design again. A
// name that is not there yet is that of a new file. Where the design cannot be read then,
// the error says why, and the next change tries again.
func (s *Session) Change(name string, text []byte) (*engine.Result, error) {
	files := slices.DeleteFunc(slices.Clone(s.files), func(f *source.File) bool { return f.Name == name && !f.Library })
	if text != nil {
		files = append(files, &source.File{Name: name, Bytes: text})
	}
	return s.Update(files)
}

// Update gives all files as they are now, in any order, those of the library among them, and
// checks the design again where one of them is another. They are the session's from then on.
func (s *Session) Update(files []*source.File) (*engine.Result, error) {
	files = ordered(files)
	if s.result != nil && slices.EqualFunc(files, s.files, func(a, b *source.File) bool {
		return a.Name == b.Name && a.Library == b.Library && bytes.Equal(a.Bytes, b.Bytes)
	}) {
		s.way = Same
		return s.result, nil
	}
	if s.result != nil && s.follow(files) {
		s.files = s.draft.Texts()
		return s.result, nil
	}
	s.files = files
	if err := s.read(); err != nil {
		return nil, err
	}
	return s.result, nil
}

func ordered(files []*source.File) []*source.File {
	return slices.SortedStableFunc(slices.Values(files), func(a, b *source.File) int {
		switch {
		case a.Library && b.Library:
			return 0
		case a.Library:
			return 1
		case b.Library:
			return -1
		}
		return cmp.Compare(a.Name, b.Name)
	})
}

// read does the whole of a check.
func (s *Session) read() error {
	s.draft, s.review, s.result = nil, nil, nil
	s.way = Read
	draft, err := s.setting.Read(s.files)
	if err != nil {
		return err
	}
	s.draft, s.files = draft, draft.Texts()
	s.review = assess.Assess(draft.Design, s.setting.Sets)
	s.faults = len(s.review.Faults)
	s.check()
	return nil
}

// follow does what an edit takes; false where it cannot be followed, so that the design has
// to be read.
func (s *Session) follow(files []*source.File) bool {
	e, ok := s.draft.Update(files)
	if !ok || s.draft.Site() == nil && !s.draft.Broken {
		return false
	}
	s.review.Faults = s.review.Faults[:s.faults]
	switch {
	case e.Shape || !s.review.Follow(e):
		for _, swap := range e.Swaps {
			swap.Apply()
		}
		s.way = Assessed
		s.review = assess.Again(s.review, s.setting.Sets)
		s.faults = len(s.review.Faults)
	case len(e.Swaps) == 0:
		s.way = Moved
	default:
		s.way = Followed
		s.faults = len(s.review.Faults)
	}
	s.check()
	return true
}

func (s *Session) check() {
	s.review.Know()
	s.rules = house.Join(s.review, s.setting.Rules)
	s.result = engine.Check(s.review, s.rules, engine.Options{Today: s.setting.Today})
}
