package main

import (
	"errors"
	"fmt"
	"io/fs"
	"path"
	"path/filepath"
	"strings"

	"trefoil/lint/assess"
	"trefoil/lint/design"
	"trefoil/lint/finding"
	"trefoil/lint/source"
	"trefoil/ratings"
	"trefoil/ratings/sets"
	"trefoil/ratings/table"
	"trefoil/ratings/usertable"
)

// choose finds the rating set of a design on the disk.
func choose(d *design.Design) (ratings.Set, []finding.Finding) {
	return loader{store: disk{}}.choose(d)
}

// choose finds the rating set of a design: one of the program's, or the user's own
// tables in a directory of the design, and lays capacity_tables over it.
func (l loader) choose(d *design.Design) (ratings.Set, []finding.Finding) {
	site := d.Site()
	if site == nil || !site.Ratings.Known() {
		return nil, nil
	}
	var set ratings.Set
	if own := site.Ratings.Value; strings.HasPrefix(own, "./") {
		u, faults := l.userTables(d, site.Ratings)
		if len(faults) > 0 {
			return nil, faults
		}
		var err error
		if set, err = usertable.NewSet(own, u.tables); err != nil {
			return nil, u.findings(site.Ratings, site, err)
		}
	} else {
		var faults []finding.Finding
		if set, faults = assess.Named(sets.Find)(d); set == nil {
			return nil, faults
		}
	}
	if !site.CapacityTables.Known() {
		return set, nil
	}
	u, faults := l.userTables(d, site.CapacityTables)
	if len(faults) > 0 {
		return nil, faults
	}
	over, err := usertable.Layer(set, u.tables)
	if err != nil {
		return nil, u.findings(site.CapacityTables, site, err)
	}
	return over, nil
}

// userFiles are the table files of one directory, read.
type userFiles struct {
	tables *usertable.Tables
	texts  map[string]*source.File
}

// userTables reads the tables of a directory that an attribute of the site names. It
// lies inside the design's own directory, links followed.
func (l loader) userTables(d *design.Design, named design.Text) (*userFiles, []finding.Finding) {
	site := d.Site()
	u := &userFiles{texts: map[string]*source.File{}}
	texts, err := readTables(l.store, filepath.FromSlash(d.Dir), named.Value)
	if err != nil {
		return nil, u.findings(named, site, err)
	}
	for name, text := range texts {
		full := path.Join(filepath.ToSlash(d.Dir), named.Value, name)
		u.texts[name] = &source.File{Name: full, Bytes: text}
	}
	var faults []error
	if u.tables, faults = usertable.Parse(texts); len(faults) > 0 {
		return nil, u.findings(named, site, errors.Join(faults...))
	}
	return u, nil
}

// readTables reads the *.csv files of a directory below dir, and nothing outside of it.
func readTables(s store, dir, below string) (map[string][]byte, error) {
	below = path.Clean(below)
	if !fs.ValidPath(below) {
		return nil, fmt.Errorf("%s is no directory inside of the design's own", below)
	}
	root, err := s.Within(dir)
	if err != nil {
		return nil, fmt.Errorf("open the directory: %w", err)
	}
	defer root.Close()
	entries, err := root.ReadDir(below)
	if err != nil {
		return nil, fmt.Errorf("read the tables: %w", err)
	}
	texts := map[string][]byte{}
	for _, e := range entries {
		if !strings.HasSuffix(e.Name(), ".csv") {
			continue
		}
		if len(texts) == usertable.MaxFiles {
			return nil, fmt.Errorf("%s holds more than %d tables", below, usertable.MaxFiles)
		}
		text, err := readWithin(root, path.Join(below, e.Name()), usertable.MaxBytes)
		if err != nil {
			return nil, fmt.Errorf("read a table: %w", err)
		}
		texts[e.Name()] = text
	}
	if len(texts) == 0 {
		return nil, fmt.Errorf("%s holds no *.csv table; trefoil tables --blank SET writes a form", below)
	}
	return texts, nil
}

// findings places faults of tables: at the line of the table where they name one, else
// at the attribute.
func (u *userFiles) findings(named design.Text, site *design.Site, err error) []finding.Finding {
	list := []error{err}
	if many, ok := err.(interface{ Unwrap() []error }); ok {
		list = many.Unwrap()
	}
	var out []finding.Finding
	for _, e := range list {
		f := finding.Finding{Rule: "value-impossible", Severity: finding.Error, At: named.At, Subject: site.Subject(), Message: e.Error(), Next: "trefoil tables --check DIR looks through a directory of tables"}
		if in := (*table.Error)(nil); errors.As(e, &in) && u.texts[in.File] != nil {
			f.At, f.Message = line(u.texts[in.File], in.Line), in.What
			f.Related = []finding.Related{{At: named.At, Message: "the tables are named here"}}
		}
		out = append(out, f)
	}
	return out
}

// line is the range of a line.
func line(f *source.File, n int) source.Range {
	at := 0
	for range n - 1 {
		i := strings.IndexByte(string(f.Bytes[at:]), '\n')
		if i < 0 {
			break
		}
		at += i + 1
	}
	return source.Range{File: f, Start: uint32(at), End: uint32(len(f.Bytes))}.FirstLine()
}
