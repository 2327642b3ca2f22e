package source

import (
	"strings"
	"testing"
)

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

// TestLines: places and texts of a file with many lines, against those that it is split into.
func TestLines(t *testing.T) {
	var text strings.Builder
	for i := range 300 {
		text.WriteString(strings.Repeat("é", i%7) + strings.Repeat("\n", i%3))
	}
	f := &File{Name: "a.hcl", Bytes: []byte(text.String())}
	all := strings.Split(text.String(), "\n")
	offset := 0
	for i, line := range all {
		if got := f.Line(i + 1); got != line {
			t.Errorf("line %d is %q, want %q", i+1, got, line)
		}
		for column := range []rune(line + ".") {
			if p := f.Position(uint32(offset + 2*column)); p.Line != i+1 || p.Column != column+1 {
				t.Errorf("byte %d: %v, want %d:%d", offset+2*column, p, i+1, column+1)
			}
		}
		offset += len(line) + 1
	}
	if len(all) < 3*stride || f.Line(len(all)+1) != "" || f.Line(0) != "" {
		t.Errorf("%d lines, and one that is not there has a text", len(all))
	}
}

func TestFirstLine(t *testing.T) {
	f := &File{Name: "a.hcl", Bytes: []byte("run \"x\" {\r\n}\n")}
	if got := (Range{File: f, Start: 0, End: 12}).FirstLine().Text(); got != `run "x" {` {
		t.Errorf("got %q", got)
	}
}
