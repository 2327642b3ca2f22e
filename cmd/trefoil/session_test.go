package main

import (
	"bytes"
	"runtime/debug"
	"testing"
	"time"

	"trefoil/lint/assess"
	"trefoil/lint/generate"
	"trefoil/lint/session"
	"trefoil/lint/source"
	"trefoil/ratings/sets"
	"trefoil/rules"
)

// edits are kinds of edit of a generated design: which text is put in the place of which,
// and the way that a session goes then.
var edits = []struct {
	name, old, now string
	way            session.Way
}{
	{"size", "cable    = cable.cu\n  size_mm2 = 50\n", "cable    = cable.cu\n  size_mm2 = 70\n", session.Followed},
	{"device", "kind        = \"mccb\"\n    rated_a     = 80\n", "kind        = \"mccb\"\n    rated_a     = 100\n", session.Followed},
	{"route", "sun             = true\n", "sun             = false\n", session.Followed},
	{"comment", "# way 17 of its board\n", "# way 17 of its board,\n# with a remark\n", session.Moved},
	{"inside", "max_current_a = 50\n", "max_current_a = 50 # by its sheet\n", session.Moved},
	{"source", "max_current_a = 50\n", "max_current_a = 51\n", session.Assessed},
	{"cable", "cores      = \"4c+e\"\n", "cores      = \"4c\"\n", session.Assessed},
	{"site", "air_c              = 35\n", "air_c              = 36\n", session.Assessed},
	{"let", "spare_m = 2\n", "spare_m = 3\n", session.Read},
	{"name", "\nroute \"duct-", "\nroute \"way-", session.Read},
	{"broken", "fault_ka = 20\n}", "fault_ka = 20\n", session.Read},
}

// place finds a text in files, from the middle of all of them on.
func place(list []*source.File, text string) (*source.File, int) {
	for k := range list {
		f, from := list[(len(list)/2+k)%len(list)], 0
		if len(list) == 1 {
			from = len(f.Bytes) / 2
		}
		for _, from := range []int{from, 0} {
			if at := bytes.Index(f.Bytes[from:], []byte(text)); at >= 0 {
				return f, from + at
			}
		}
	}
	return nil, 0
}

// editing opens a session of a generated design, with one edit of it.
func editing(t testing.TB, texts [][]byte, old, now string) (s *session.Session, name string, before, after []byte) {
	t.Helper()
	s, err := session.Open(files(texts...), session.Setting{Sets: assess.Named(sets.Find), Rules: rules.All(), Today: time.Date(2027, 3, 1, 0, 0, 0, 0, time.UTC)})
	if err != nil {
		t.Fatal(err)
	}
	f, at := place(s.Files(), old)
	if f == nil {
		t.Fatal("nothing to edit")
	}
	return s, f.Name, f.Bytes, bytes.Join([][]byte{f.Bytes[:at], []byte(now), f.Bytes[at+len(old):]}, nil)
}

// TestWays: each kind of edit takes no more than it has to.
func TestWays(t *testing.T) {
	for _, e := range edits {
		s, name, _, after := editing(t, generate.Files(400, 1, 100), e.old, e.now)
		if _, err := s.Change(name, after); err != nil {
			t.Fatal(err)
		}
		if s.Way() != e.way {
			t.Errorf("%s: it went the way %q", e.name, s.Way())
		}
	}
}

// BenchmarkEdit measures a check after an edit in the middle of a design of 10,000 runs, in
// one file and in 40, against a check from scratch in the same run.
func BenchmarkEdit(b *testing.B) {
	defer debug.SetGCPercent(debug.SetGCPercent(400)) // as main does
	for _, form := range []struct {
		name  string
		texts [][]byte
	}{{"1-file", [][]byte{generate.Design(10_000, 1)}}, {"40-files", generate.Files(10_000, 1, 250)}} {
		var scratch time.Duration
		for range 3 {
			begin := time.Now()
			check(files(form.texts...))
			if took := time.Since(begin); scratch == 0 || took < scratch {
				scratch = took
			}
		}
		for _, e := range edits {
			b.Run(form.name+"/"+e.name, func(b *testing.B) {
				s, name, before, after := editing(b, form.texts, e.old, e.now)
				b.ReportAllocs()
				for n := 0; b.Loop(); n++ {
					text := after
					if n%2 == 1 {
						text = before
					}
					if _, err := s.Change(name, text); err != nil {
						b.Fatal(err)
					}
				}
				b.ReportMetric(float64(b.Elapsed())/float64(b.N)/float64(scratch), "x-scratch")
			})
		}
	}
}
