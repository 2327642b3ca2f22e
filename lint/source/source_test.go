package source

import "testing"

func TestPosition(t *testing.T) {
	f := &File{Name: "a.hcl", Bytes: []byte("\xef\xbb\xbfcafé = 1\r\n\n  grüße🙂 = 2")}
	at := func(sub string) uint32 {
		for i := range f.Bytes {
			if string(f.Bytes[i:min(len(f.Bytes), i+len(sub))]) == sub {
				return uint32(i)
			}
		}
		t.Fatalf("%q is not there", sub)
		return 0
	}
	for _, c := range []struct {
		sub          string
		line, column int
		utf16        int
	}{
		{"caf", 1, 1, 0},   // a byte-order mark is no character
		{"= 1", 1, 6, 5},   // é is one character
		{"gr", 3, 3, 2},    // the empty line counts
		{"= 2", 3, 10, 10}, // the emoji is one character, two units for an editor
	} {
		o := at(c.sub)
		if p := f.Position(o); p.Line != c.line || p.Column != c.column {
			t.Errorf("%q: got %d:%d, want %d:%d", c.sub, p.Line, p.Column, c.line, c.column)
		}
		if u := f.UTF16(o); u != c.utf16 {
			t.Errorf("%q: got UTF-16 column %d, want %d", c.sub, u, c.utf16)
		}
	}
	if got := f.Line(1); got != "café = 1" {
		t.Errorf("line 1 is %q", got)
	}
	if got := f.Line(4); got != "" {
		t.Errorf("line 4 is %q", got)
	}
	if p := f.Position(1 << 30); p.Line != 3 {
		t.Errorf("past the end is line %d", p.Line)
	}
}

func TestFirstLine(t *testing.T) {
	f := &File{Name: "a.hcl", Bytes: []byte("run \"x\" {\r\n}\n")}
	if got := (Range{File: f, Start: 0, End: 12}).FirstLine().Text(); got != `run "x" {` {
		t.Errorf("got %q", got)
	}
}
