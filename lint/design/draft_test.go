package design

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"testing"

	"trefoil/lint/source"
)

// TestPlaces: the ranges that are listed by name are those that are found by reflection.
func TestPlaces(t *testing.T) {
	fill := func(o any) any {
		var all func(v reflect.Value)
		all = func(v reflect.Value) {
			switch v.Kind() {
			case reflect.Struct:
				if v.Type() == rangeType {
					return
				}
				for i := range v.NumField() {
					if v.Type().Field(i).IsExported() {
						all(v.Field(i))
					}
				}
			case reflect.Slice:
				if v.Type().Elem().Kind() == reflect.Struct || v.Type().Elem().Kind() == reflect.Pointer {
					v.Set(reflect.MakeSlice(v.Type(), 2, 2))
					all(v.Index(0))
					all(v.Index(1))
				}
			case reflect.Pointer:
				if v.Type().Elem() != reflect.TypeFor[source.File]() {
					v.Set(reflect.New(v.Type().Elem()))
					all(v.Elem())
				}
			}
		}
		all(reflect.ValueOf(o).Elem())
		return o
	}
	for _, o := range []any{&Run{}, &Source{}, &Board{}, &Route{}} {
		o = fill(o)
		var named, found []*source.Range
		places(o, func(r *source.Range) { named = append(named, r) })
		everyPlace(reflect.ValueOf(o), func(r *source.Range) { found = append(found, r) })
		if len(named) != len(found) {
			t.Errorf("%T: %d places by name, %d by reflection", o, len(named), len(found))
		}
		for _, r := range found {
			if !slices.Contains(named, r) {
				t.Errorf("%T: a place is not listed", o)
			}
		}
	}
}

const draftText = `site "s" {
  ratings   = "iec-60364-5-52:2009"
  voltage_v = 400
}
supply "grid" {
  fault_ka = 10
}
source "a" {
  kind      = "inverter"
  rated_kva = 50
  phases    = 3
}
# of a
run "a" {
  from     = source.a
  to       = supply.grid
  cable    = cable.cu
  size_mm2 = 50
}
cable "cu" {
  conductor  = "copper"
  insulation = "xlpe-90"
  build      = "multicore"
  cores      = "4c+e"
}
`

// TestDraft: what edits do to a draft: which objects say something else, and whether blocks
// come or go. That all else is right is the matter of the test of whole sessions.
func TestDraft(t *testing.T) {
	for _, c := range []struct {
		name, old, now string
		follows, shape bool
		swaps          string
	}{
		{"a number", "size_mm2 = 50", "size_mm2 = 70", true, false, "run.a"},
		{"a comment before a block", "# of a\n", "# of a,\n# and more\n", true, false, ""},
		{"a comment in a block", "rated_kva = 50\n", "rated_kva = 50 # by its sheet\n", true, false, ""},
		{"the same in other words", "rated_kva = 50\n", "rated_kva = 25 * 2\n", true, false, ""},
		{"two blocks", "phases    = 3\n}\n# of a\nrun \"a\" {\n", "phases    = 1\n}\nrun \"a\" {\n note = \"x\"\n", true, false, "source.a run.a"},
		{"an unknown word", "size_mm2 = 50", "size_mm = 50", true, false, "run.a"},
		{"an unknown name", "cable.cu", "cable.cuu", true, false, "run.a"},
		{"a new name", `source "a"`, `source "b"`, true, true, ""},
		{"a block less", "supply \"grid\" {\n  fault_ka = 10\n}\n", "", true, true, ""},
		{"a block more", "# of a\n", "board \"x\" {\n  rated_a = 1\n}\n", true, true, ""},
		{"a block twice", "# of a\n", "source \"a\" {\n  kind = \"battery\"\n}\n", true, false, ""},
		{"a comment that is open", "# of a\n", "/* of a\n", true, true, ""},
		{"a brace less", "phases    = 3\n}\n", "phases    = 3\n", true, true, ""},
		{"an attribute on top", "# of a\n", "colour = 1\n", true, false, ""},
		{"a word before a block", "# of a\nrun", "a run", true, true, ""},
		{"copies", "kind      = \"inverter\"\n", "kind      = \"inverter\"\n  copies = 2\n", true, true, ""},
		{"a constant that nothing names", "# of a\n", "let {\n  x = 1\n}\n", true, false, ""},
		{"nothing behind the last block", "cores      = \"4c+e\"\n}\n", "cores      = \"4c+e\"\n}", true, false, ""},
		{"a comment behind a brace that is not at its end", "phases    = 3\n}\n# of a", "phases    = 3\n} /* a\n# of a", true, true, ""},
		{"a library", "voltage_v = 400\n", "voltage_v = 400\n library = [\"x\"]\n", false, false, ""},
		{"a circle", "rated_kva = 50\n", "rated_kva = source.a.rated_kva\n", true, false, "source.a"},
	} {
		t.Run(c.name, func(t *testing.T) {
			f := &source.File{Name: "a.hcl", Bytes: []byte(draftText)}
			d := NewDraft("", []*source.File{f}, Library{})
			if len(d.Faults) > 1 { // the run has no section
				t.Fatal(d.Faults)
			}
			now := bytes.Replace(f.Bytes, []byte(c.old), []byte(c.now), 1)
			if bytes.Equal(now, f.Bytes) {
				t.Fatal("no edit")
			}
			e, ok := d.Update([]*source.File{{Name: f.Name, Bytes: now}})
			if ok != c.follows {
				t.Fatalf("followed: %t", ok)
			}
			if !ok {
				if _, ok := d.Update([]*source.File{{Name: f.Name, Bytes: []byte(draftText)}}); ok {
					t.Error("it follows again what it has lost")
				}
				return
			}
			if e.Shape != c.shape {
				t.Errorf("blocks came or went: %t", e.Shape)
			}
			var subjects []byte
			for i, s := range e.Swaps {
				if i > 0 {
					subjects = append(subjects, ' ')
				}
				subjects = append(subjects, object(s.Is).Subject()...)
			}
			if string(subjects) != c.swaps {
				t.Errorf("swapped: %s", subjects)
			}
		})
	}
}

// FuzzDraft: whatever is put in the place of a stretch of a text, a draft that follows has
// all places where a fresh reading has them.
func FuzzDraft(f *testing.F) {
	names, err := filepath.Glob("../../examples/cold-store/*.hcl")
	if err != nil || len(names) == 0 {
		f.Fatal(err)
	}
	var whole []byte
	for _, n := range names {
		text, err := os.ReadFile(n)
		if err != nil {
			f.Fatal(err)
		}
		whole = append(whole, text...)
	}
	f.Add(uint16(20), uint16(0), "x")
	f.Add(uint16(2000), uint16(3), "/*")
	f.Add(uint16(900), uint16(1), "\n}\n")
	f.Add(uint16(500), uint16(0), "# a\n")
	f.Fuzz(func(t *testing.T, at, drop uint16, put string) {
		from := int(at) % len(whole)
		to := min(from+int(drop), len(whole))
		now := slices.Concat(whole[:from], []byte(put), whole[to:])
		file := &source.File{Name: "a.hcl", Bytes: whole}
		d := NewDraft("", []*source.File{file}, Library{})
		e, ok := d.Update([]*source.File{{Name: file.Name, Bytes: now}})
		if !ok {
			return
		}
		for _, s := range e.Swaps {
			s.Apply()
		}
		fresh := Read("", []*source.File{{Name: "a.hcl", Bytes: now}})
		got, want := spots(d.Design), spots(fresh)
		if !slices.Equal(got, want) {
			t.Errorf("%d places, and %d from scratch", len(got), len(want))
		}
		if len(d.Faults) != len(fresh.Faults) {
			t.Errorf("%v, and %v from scratch", d.Faults, fresh.Faults)
		}
	})
}

// spots lists all places of a design.
func spots(d *Design) (list []string) {
	see := func(r *source.Range) {
		if r.File != nil {
			list = append(list, fmt.Sprint(r.Start, "-", r.End))
		}
	}
	for _, l := range []any{d.Sites, d.Supplies, d.Sources, d.Boards, d.Routes, d.Cables, d.Runs, d.Loads, d.Waivers, d.Approvals} {
		everyPlace(reflect.ValueOf(l), see)
	}
	return list
}
