package fix

import (
	"errors"
	"fmt"
	"testing"

	"trefoil/lint/finding"
	"trefoil/lint/source"
)

func proposal(name string, f *source.File, edits ...any) Proposal {
	p := Proposal{Fix: finding.Fix{Name: name}}
	for i := 0; i < len(edits); i += 3 {
		p.Edits = append(p.Edits, edit(f, edits[i].(int), edits[i+1].(int), edits[i+2].(string)))
	}
	return p
}

func TestApply(t *testing.T) {
	f := &source.File{Name: "a.hcl", Bytes: []byte("0123456789")}
	other := &source.File{Name: "b.hcl", Bytes: []byte("0123456789")}
	shared := &source.File{Name: "c.hcl", Bytes: []byte("0123456789"), Library: true}
	for _, c := range []struct {
		name                   string
		fixes                  []Proposal
		want                   string
		made, waiting, refused int
	}{
		{"in any order", []Proposal{proposal("b", f, 6, 7, "B"), proposal("a", f, 1, 3, "a")}, "0a345B789", 2, 0, 0},
		{"alike, once", []Proposal{proposal("a", f, 1, 3, "a"), proposal("b", f, 1, 3, "a")}, "0a3456789", 2, 0, 0},
		{"one alike, one of its own", []Proposal{proposal("a", f, 1, 3, "a"), proposal("b", f, 1, 3, "a", 5, 6, "")}, "0a346789", 2, 0, 0},
		{"the first of two that overlap", []Proposal{proposal("a", f, 1, 3, "a"), proposal("b", f, 2, 4, "b")}, "0a3456789", 1, 1, 0},
		{"the same place, other words", []Proposal{proposal("a", f, 1, 3, "a"), proposal("b", f, 1, 3, "b")}, "0a3456789", 1, 1, 0},
		{"whole or not at all", []Proposal{proposal("a", f, 1, 3, "a"), proposal("b", f, 8, 9, "b", 2, 3, "b")}, "0a3456789", 1, 1, 0},
		{"those that touch", []Proposal{proposal("a", f, 1, 3, "a"), proposal("b", f, 3, 4, "b"), proposal("c", f, 1, 1, "c"), proposal("d", f, 4, 4, "d")}, "0cabd456789", 4, 0, 0},
		{"two put in at one place by one", []Proposal{proposal("a", f, 5, 5, "a", 5, 5, "b")}, "01234ab56789", 1, 0, 0},
		{"two put in at one place by two", []Proposal{proposal("a", f, 5, 5, "a"), proposal("b", f, 5, 5, "b")}, "01234a56789", 1, 1, 0},
		{"inside of what goes", []Proposal{proposal("a", f, 3, 7, ""), proposal("b", f, 5, 5, "b")}, "012789", 1, 1, 0},
		{"past the end", []Proposal{proposal("a", f, 9, 11, "a")}, "0123456789", 0, 0, 1},
		{"from behind", []Proposal{proposal("a", f, 5, 4, "a")}, "0123456789", 0, 0, 1},
		{"a file that was not read", []Proposal{proposal("a", other, 1, 2, "a")}, "0123456789", 0, 0, 1},
		{"no file", []Proposal{proposal("a", nil, 0, 0, "a")}, "0123456789", 0, 0, 1},
		{"a library", []Proposal{proposal("a", shared, 1, 2, "a")}, "0123456789", 0, 0, 1},
		{"against itself", []Proposal{proposal("a", f, 1, 4, "a", 2, 5, "b")}, "0123456789", 0, 0, 1},
		{"nothing", []Proposal{proposal("a", f, 1, 2, "1"), proposal("b", f)}, "0123456789", 0, 0, 2},
	} {
		out := Apply([]*source.File{f, shared}, c.fixes)
		if got := string(out.Files[0].Bytes); got != c.want || len(out.Made) != c.made || len(out.Waiting) != c.waiting || len(out.Refused) != c.refused {
			t.Errorf("%s: got %q, %d made, %d waiting, refused %v", c.name, got, len(out.Made), len(out.Waiting), out.Refused)
		}
		if string(f.Bytes) != "0123456789" {
			t.Fatalf("%s: the text that was read is changed", c.name)
		}
	}
}

// TestSettle: what overlaps is made in a later turn, and fixes without an end are told.
func TestSettle(t *testing.T) {
	read := func(texts map[string][]byte) *source.File {
		f := &source.File{Name: "a.hcl", Bytes: []byte("ab")}
		if text, laid := texts[f.Name]; laid {
			f.Bytes = text
		}
		return f
	}
	s, err := Settle(func(texts map[string][]byte) (Look, error) {
		f := read(texts)
		l := Look{Files: []*source.File{f}}
		if f.Bytes[0] == 'a' {
			l.Proposals = append(l.Proposals, proposal("up", f, 0, 2, "Ab"))
		}
		if f.Bytes[1] == 'b' {
			l.Proposals = append(l.Proposals, proposal("up", f, 1, 2, "B"))
		}
		return l, nil
	})
	was, now := s.Changed()
	if err != nil || len(s.Turns) != 2 || s.Waited() != 1 || len(was) != 1 || string(was[0].Bytes) != "ab" || string(now[0].Bytes) != "AB" {
		t.Errorf("%q, %d turns, %d waited, %v", s.Files[0].Bytes, len(s.Turns), s.Waited(), err)
	}
	n := 0
	s, err = Settle(func(texts map[string][]byte) (Look, error) {
		n++
		f := read(texts)
		return Look{Files: []*source.File{f}, Proposals: []Proposal{proposal("more", f, 0, 1, fmt.Sprint(n%10))}}, nil
	})
	if err == nil || len(s.Turns) != maxTurns {
		t.Errorf("%d turns, %v", len(s.Turns), err)
	}
	lost := errors.New("lost")
	if _, err = Settle(func(map[string][]byte) (Look, error) { return Look{}, lost }); !errors.Is(err, lost) {
		t.Error(err)
	}
}
