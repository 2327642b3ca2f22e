// Package table reads table files: one file per table and edition, a head of
// "# key: value" lines, then comma-separated figures. A figure carries its status
// in its own cell: 146 is read in a print, 146* is from memory, 146~ is computed.
// An empty cell holds nothing; it is not 0.
package table

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"trefoil/ratings"
)

// Cell is one figure.
type Cell struct {
	Value  float64
	Status ratings.Status
	Text   string // as written, for cells that are words
	Filled bool
}

// Row is one line of a table.
type Row struct {
	Line  int
	Cells []Cell
}

// Table is one table file, read.
type Table struct {
	Name     string // of the file
	Title    string
	Standard string // publication and edition: "IEC 60364-5-52:2009"
	Number   string // "Table B.52.14"
	Head     map[string][]string
	Columns  []string
	Rows     []Row
	Text     string

	column map[string]int
}

// Error is a fault in a table file.
type Error struct {
	File string
	Line int
	What string
}

func (e *Error) Error() string { return fmt.Sprintf("%s:%d: %s", e.File, e.Line, e.What) }

// limits of a table file, named when it goes beyond them
const (
	maxRows    = 20000
	maxColumns = 200
)

// Parse reads a table file. Errors say file and line.
func Parse(name string, text []byte) (*Table, error) {
	t := &Table{Name: name, Text: string(text), Head: map[string][]string{}, column: map[string]int{}}
	sums := map[string]float64{}
	sumLine := map[string]int{}
	seen := map[string]int{}
	fail := func(line int, format string, args ...any) (*Table, error) {
		return nil, &Error{name, line, fmt.Sprintf(format, args...)}
	}
	for i, line := range strings.Split(strings.TrimPrefix(string(text), "\ufeff"), "\n") {
		n := i + 1
		line = strings.TrimRight(line, "\r \t")
		switch {
		case line == "":
			continue
		case strings.HasPrefix(line, "#"):
			key, value, ok := strings.Cut(strings.TrimSpace(line[1:]), ":")
			if !ok {
				return fail(n, "a head line is written # key: value")
			}
			key, value = strings.TrimSpace(key), strings.TrimSpace(value)
			if key == "checksum" {
				for _, part := range strings.Fields(value) {
					column, sum, ok := strings.Cut(part, "=")
					v, err := strconv.ParseFloat(sum, 64)
					if !ok || err != nil {
						return fail(n, "checksum %q is written column=sum", part)
					}
					sums[column], sumLine[column] = v, n
				}
				continue
			}
			key, _, _ = strings.Cut(key, "[")
			t.Head[key] = append(t.Head[key], value)
		case t.Columns == nil:
			t.Columns = strings.Split(line, ",")
			if len(t.Columns) > maxColumns {
				return fail(n, "a table may have at most %d columns", maxColumns)
			}
			for k, c := range t.Columns {
				c = strings.TrimSpace(c)
				t.Columns[k] = c
				if c == "" {
					return fail(n, "column %d has no name", k+1)
				}
				if _, twice := t.column[c]; twice {
					return fail(n, "column %q stands twice", c)
				}
				t.column[c] = k
			}
		default:
			if len(t.Rows) >= maxRows {
				return fail(n, "a table may have at most %d rows", maxRows)
			}
			parts := strings.Split(line, ",")
			if len(parts) != len(t.Columns) {
				return fail(n, "the row has %d cells and the table %d columns; is a decimal comma among them?", len(parts), len(t.Columns))
			}
			row := Row{Line: n, Cells: make([]Cell, len(parts))}
			for k, p := range parts {
				row.Cells[k] = cell(strings.TrimSpace(p))
			}
			if first, twice := seen[line]; twice {
				return fail(n, "the row stands already in line %d", first)
			}
			seen[line] = n
			t.Rows = append(t.Rows, row)
		}
	}
	if t.Columns == nil || len(t.Rows) == 0 {
		return fail(1, "the file holds no table: a line of column names, then rows")
	}
	t.Title, t.Standard, t.Number = t.first("title"), t.first("standard"), t.first("number")
	if t.Title == "" || t.Standard == "" {
		return fail(1, "the head does not say title and standard")
	}
	for c, want := range sums {
		k, ok := t.column[c]
		if !ok {
			return fail(sumLine[c], "checksum names column %q, which is not there", c)
		}
		got := 0.0
		for _, r := range t.Rows {
			if r.Cells[k].Filled {
				got += r.Cells[k].Value
			}
		}
		if math.Abs(got-want) > 1e-6*math.Max(1, math.Abs(want)) {
			return fail(sumLine[c], "column %q adds up to %.10g, its checksum is %.10g", c, got, want)
		}
	}
	return t, nil
}

// Must is Parse for the files that come with the program, which a test reads whole.
func Must(name string, text []byte) *Table {
	t, err := Parse(name, text)
	if err != nil {
		panic(err)
	}
	return t
}

func cell(s string) Cell {
	c := Cell{Text: s, Status: ratings.Published, Filled: s != ""}
	switch {
	case strings.HasSuffix(s, "*"):
		c.Status, s = ratings.Memory, s[:len(s)-1]
	case strings.HasSuffix(s, "~"):
		c.Status, s = ratings.Computed, s[:len(s)-1]
	}
	if v, err := strconv.ParseFloat(s, 64); err == nil && !math.IsInf(v, 0) && !math.IsNaN(v) {
		c.Value = v
	} else {
		c.Value = math.NaN() // a word
	}
	return c
}

// Number says that the cell holds a figure.
func (c Cell) Number() bool { return c.Filled && !math.IsNaN(c.Value) }

func (t *Table) first(key string) string {
	if v := t.Head[key]; len(v) > 0 {
		return v[0]
	}
	return ""
}

// Has says that the table has a column.
func (t *Table) Has(column string) bool { _, ok := t.column[column]; return ok }

// At gives the cell of a row and column; an empty one where there is no such column.
func (t *Table) At(row int, column string) Cell {
	k, ok := t.column[column]
	if !ok || row < 0 || row >= len(t.Rows) {
		return Cell{}
	}
	return t.Rows[row].Cells[k]
}

// Ref names the table: "IEC 60364-5-52:2009 Table B.52.14".
func (t *Table) Ref() string { return strings.TrimSpace(t.Standard + " " + t.Number) }

// File describes the table for a list of what a set holds.
func (t *Table) File() ratings.File {
	f := ratings.File{Name: t.Name, Title: t.Title, Standard: t.Ref(), Conditions: t.first("conditions"), Sources: t.Head["source"], Text: t.Text}
	keys := strings.Fields(t.first("keys"))
	if len(keys) == 0 {
		keys = t.Columns[:1]
	}
	for _, r := range t.Rows {
		for k, c := range r.Cells {
			if !c.Number() || slices.Contains(keys, t.Columns[k]) {
				continue
			}
			switch c.Status {
			case ratings.Memory:
				f.Memory++
			case ratings.Computed:
				f.Computed++
			default:
				f.Published++
			}
		}
	}
	return f
}

// Series is one column against the first, prepared for look-up: figures in rising
// order of the key.
type Series struct {
	Table  *Table
	Column string
	Ref    string // "IEC 60364-5-52:2009 Table B.52.13 column 3"
	keys   []float64
	cells  []Cell
}

// Series prepares a column. Rows without a figure in it are left out. Rows must
// satisfy keep, where it is given. Keys must rise.
func (t *Table) Series(key, column, ref string, keep func(row int) bool) (*Series, error) {
	s := &Series{Table: t, Column: column, Ref: ref}
	for i := range t.Rows {
		k, c := t.At(i, key), t.At(i, column)
		if keep != nil && !keep(i) || !c.Number() {
			continue
		}
		if !k.Number() {
			return nil, &Error{t.Name, t.Rows[i].Line, fmt.Sprintf("%s is %q, which is no number", key, k.Text)}
		}
		if n := len(s.keys); n > 0 && k.Value <= s.keys[n-1] {
			return nil, &Error{t.Name, t.Rows[i].Line, fmt.Sprintf("%s is %g after %g; rows rise", key, k.Value, s.keys[n-1])}
		}
		s.keys = append(s.keys, k.Value)
		s.cells = append(s.cells, c)
	}
	if len(s.keys) == 0 {
		return nil, &Error{t.Name, 1, fmt.Sprintf("column %q holds no figure", column)}
	}
	return s, nil
}

// Exact gives the figure at a key.
func (s *Series) Exact(key float64) (Cell, bool) {
	i, ok := slices.BinarySearch(s.keys, key)
	if !ok {
		return Cell{}, false
	}
	return s.cells[i], true
}

// Up gives the figure at the key or at the next key above it, and that key; false
// past the last row.
func (s *Series) Up(key float64) (Cell, float64, bool) {
	i, _ := slices.BinarySearchFunc(s.keys, key, func(k, want float64) int {
		switch {
		case k < want-1e-9*math.Abs(want):
			return -1
		case k > want:
			return 1
		}
		return 0
	})
	if i == len(s.keys) {
		return Cell{}, 0, false
	}
	return s.cells[i], s.keys[i], true
}

// Last is the last key and its figure.
func (s *Series) Last() (float64, Cell) { return s.keys[len(s.keys)-1], s.cells[len(s.cells)-1] }

// Near gives the keys below and above one that is not in the table; NaN where there is none.
func (s *Series) Near(key float64) (below, above float64) {
	i, _ := slices.BinarySearch(s.keys, key)
	below, above = math.NaN(), math.NaN()
	if i > 0 {
		below = s.keys[i-1]
	}
	if i < len(s.keys) {
		above = s.keys[i]
	}
	return below, above
}

// Keys lists the keys.
func (s *Series) Keys() []float64 { return slices.Clone(s.keys) }
