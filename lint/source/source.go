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
	lines []uint32 // offset of the first byte of every line
}

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
	f.index()
	offset = min(offset, uint32(len(f.Bytes)))
	line := sort.Search(len(f.lines), func(i int) bool { return f.lines[i] > offset }) - 1
	return Position{
		Line:   line + 1,
		Column: utf8.RuneCount(trimMark(f.Bytes, f.lines[line], offset)) + 1,
	}
}

// Replace gives the file another text. Ranges of the text before are good no longer,
// unless whoever holds them moves them along.
func (f *File) Replace(text []byte) {
	f.Bytes, f.lines, f.once = text, nil, sync.Once{}
}

// Line gives the text of a line counted from 1, without its end.
func (f *File) Line(n int) string {
	f.index()
	if n < 1 || n > len(f.lines) {
		return ""
	}
	end := uint32(len(f.Bytes))
	if n < len(f.lines) {
		end = f.lines[n] - 1
	}
	return string(bytes.TrimSuffix(trimMark(f.Bytes, f.lines[n-1], end), []byte("\r")))
}

// UTF16 is the column of a byte offset in UTF-16 code units from 0, as editors count.
func (f *File) UTF16(offset uint32) int {
	f.index()
	offset = min(offset, uint32(len(f.Bytes)))
	line := sort.Search(len(f.lines), func(i int) bool { return f.lines[i] > offset }) - 1
	n := 0
	for _, r := range string(trimMark(f.Bytes, f.lines[line], offset)) {
		if n++; r > 0xFFFF {
			n++
		}
	}
	return n
}

func (f *File) index() {
	f.once.Do(func() {
		f.lines = make([]uint32, 1, bytes.Count(f.Bytes, []byte("\n"))+1)
		for at := 0; ; {
			i := bytes.IndexByte(f.Bytes[at:], '\n')
			if i < 0 {
				return
			}
			at += i + 1
			f.lines = append(f.lines, uint32(at))
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
