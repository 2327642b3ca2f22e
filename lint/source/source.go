// Package source holds the text that was read: bytes, byte ranges, and the one
// place that turns a byte offset into line and column.
//
// It is the first room of lint: text -> syntax -> design -> network -> assess ->
// engine -> report. Nothing here opens files.
package source

import (
	"bytes"
	"fmt"
	"sort"
	"sync"
	"unicode/utf8"
)

// File is one text as it was read. Name is the path as findings print it.
type File struct {
	Name    string
	Bytes   []byte
	Library bool // of a shared directory that the design names

	once  sync.Once
	marks []uint32 // offset of the first byte of every stride-th line, from the first on
	lines int
}

// stride is how many lines lie between two marks: one at each line would take a quarter of
// the text.
const stride = 32

// Range is a stretch of bytes in a file: Start included, End not. The zero
// value names no place.
type Range struct {
	File       *File
	Start, End uint32
}

// Known says that the range names a place.
func (r Range) Known() bool { return r.File != nil }

// Text is the text of the range.
func (r Range) Text() string {
	if r.File == nil || int(r.End) > len(r.File.Bytes) || r.Start > r.End {
		return ""
	}
	return string(r.File.Bytes[r.Start:r.End])
}

// String is the place where the range begins, "site.hcl:14:3"; "" where it names none.
func (r Range) String() string {
	if r.File == nil {
		return ""
	}
	p := r.File.Position(r.Start)
	return fmt.Sprintf("%s:%d:%d", r.File.Name, p.Line, p.Column)
}

// Before orders ranges by file name, then offset.
func (r Range) Before(o Range) bool {
	if r.File != o.File {
		return r.name() < o.name()
	}
	if r.Start != o.Start {
		return r.Start < o.Start
	}
	return r.End < o.End
}

func (r Range) name() string {
	if r.File == nil {
		return ""
	}
	return r.File.Name
}

// FirstLine is the range cut at the end of its first line.
func (r Range) FirstLine() Range {
	text := r.File.Bytes[r.Start:r.End]
	if i := bytes.IndexByte(text, '\n'); i >= 0 {
		r.End = r.Start + uint32(i)
		if i > 0 && text[i-1] == '\r' {
			r.End--
		}
	}
	return r
}

// Position is a line and column, both counted from 1. Columns count characters
// (Unicode code points), which is what people see in most editors.
type Position struct {
	Line, Column int
}

// Position of a byte offset. An offset past the end counts as the end.
func (f *File) Position(offset uint32) Position {
	offset = min(offset, uint32(len(f.Bytes)))
	line, start := f.lineAt(offset)
	return Position{
		Line:   line,
		Column: utf8.RuneCount(trimMark(f.Bytes, start, offset)) + 1,
	}
}

// lineAt gives the line of a byte, counted from 1, and the offset of its first byte.
func (f *File) lineAt(offset uint32) (line int, start uint32) {
	f.index()
	k := sort.Search(len(f.marks), func(i int) bool { return f.marks[i] > offset }) - 1
	between := f.Bytes[f.marks[k]:offset]
	return k*stride + bytes.Count(between, newline) + 1, f.marks[k] + uint32(bytes.LastIndexByte(between, '\n')+1)
}

var newline = []byte{'\n'}

// Replace gives the file another text. Ranges of the text before are good no longer,
// unless whoever holds them moves them along.
func (f *File) Replace(text []byte) {
	f.Bytes, f.marks, f.once = text, nil, sync.Once{}
}

// Line gives the text of a line counted from 1, without its end.
func (f *File) Line(n int) string {
	f.index()
	if n < 1 || n > f.lines {
		return ""
	}
	start := f.marks[(n-1)/stride]
	for range (n - 1) % stride {
		start += uint32(bytes.IndexByte(f.Bytes[start:], '\n') + 1)
	}
	end := uint32(len(f.Bytes))
	if i := bytes.IndexByte(f.Bytes[start:], '\n'); i >= 0 {
		end = start + uint32(i)
	}
	return string(bytes.TrimSuffix(trimMark(f.Bytes, start, end), []byte("\r")))
}

// UTF16 is the column of a byte offset in UTF-16 code units from 0, as editors count.
func (f *File) UTF16(offset uint32) int {
	offset = min(offset, uint32(len(f.Bytes)))
	_, start := f.lineAt(offset)
	n := 0
	for _, r := range string(trimMark(f.Bytes, start, offset)) {
		if n++; r > 0xFFFF {
			n++
		}
	}
	return n
}

func (f *File) index() {
	f.once.Do(func() {
		f.lines = bytes.Count(f.Bytes, newline) + 1
		f.marks = make([]uint32, 0, (f.lines+stride-1)/stride)
		at := 0
		for line := range f.lines {
			if line%stride == 0 {
				f.marks = append(f.marks, uint32(at))
			}
			at += bytes.IndexByte(f.Bytes[at:], '\n') + 1
		}
	})
}

// trimMark cuts bytes from..to and leaves out a byte-order mark at the start of the file.
func trimMark(b []byte, from, to uint32) []byte {
	cut := b[from:max(from, to)]
	if from == 0 {
		cut = bytes.TrimPrefix(cut, []byte("\xef\xbb\xbf"))
	}
	return cut
}
