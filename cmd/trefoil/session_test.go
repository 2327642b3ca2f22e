package main

import (
	"bytes"
	"fmt"
	"runtime/debug"
	"testing"
	"time"

	"trefoil/lint/assess"
	"trefoil/lint/generate"
	"trefoil/lint/session"
	"trefoil/ratings/sets"
	"trefoil/rules"
)

// edits are kinds of edit of a generated design: which text is put in the place of which,
// and back again.
var edits = []struct {
	name      string
	one, two  string
	wholeRead bool
	way       session.Way
}{
	{"size", "cable    = cable.cu\n  size_mm2 = 50\n", "cable    = cable.cu\n  size_mm2 = 70\n", false, session.Followed},
	{"device", "kind        = \"mccb\"\n    rated_a     = 80\n", "kind        = \"mccb\"\n    rated_a     = 100\n", false, session.Followed},
	{"route", "sun             = true\n", "sun             = false\n", false, session.Followed},
	{"comment", "# way 17 of its board\n", "# way 17 of its board,\n# with a remark\n", false, session.Moved},
	{"inside", "max_current_a = 50\n", "max_current_a = 50 # by its sheet\n", false, session.Moved},
	{"source", "max_current_a = 50\n", "max_current_a = 51\n", false, session.Assessed},
	{"cable", "cores      = \"4c+e\"\n", "cores      = \"4c\"\n", false, session.Assessed},
	{"site", "air_c              = 35\n", "air_c              = 36\n", false, session.Assessed},
	{"let", "spare_m = 2\n", "spare_m = 3\n", true, session.Read},
	{"name", "\nsource \"inv-005003\"", "\nsource \"inv-x\"", true, session.Read},
	{"broken", "\nsource \"inv-005003\" {", "\nsource \"inv-005003\" ", true, session.Read},
}

// BenchmarkEdit measures a check after an edit in the middle of a design of 10,000 runs, in
// one file and in 40, against a check from scratch in the same run.
func BenchmarkEdit(b *testing.B) {
	for _, form := range []struct {
		name  string
		texts [][]byte
	}{{"1-file", [][]byte{generate.Design(10_000, 1)}}, {"40-files", generate.Files(10_000, 1, 250)}} {
		for _, e := range edits {
			b.Run(form.name+"/"+e.name, func(b *testing.B) {
				defer debug.SetGCPercent(debug.SetGCPercent(400)) // as main does
				s, err := session.Open(files(form.texts...), session.Setting{Sets: assess.Named(sets.Find), Rules: rules.All(), Today: time.Date(2027, 3, 1, 0, 0, 0, 0, time.UTC)})
				if err != nil {
					b.Fatal(err)
				}
				list := s.Files()
				name, at := "", -1
				for k := range list { // from the middle on
					f := list[(len(list)/2+k)%len(list)]
					from := 0
					if len(list) == 1 {
						from = len(f.Bytes) / 2
					}
					if at = bytes.Index(f.Bytes[from:], []byte(e.one)); at >= 0 {
						name, at = f.Name, at+from
						break
					}
					if at = bytes.Index(f.Bytes, []byte(e.one)); at >= 0 {
						name = f.Name
						break
					}
				}
				if at < 0 {
					b.Fatal("nothing to edit")
				}
				var text []byte
				for _, f := range list {
					if f.Name == name {
						text = f.Bytes
					}
				}
				other := bytes.Join([][]byte{text[:at], []byte(e.two), text[at+len(e.one):]}, nil)
				whole := time.Now()
				check(files(form.texts...))
				wholeTook := time.Since(whole)
				b.ReportAllocs()
				n := 0
				for b.Loop() {
					n++
					next := other
					if n%2 == 0 {
						next = text
					}
					if _, err := s.Change(name, next); err != nil {
						b.Fatal(err)
					}
				}
				if s.Way() != e.way {
					b.Errorf("it went the way %q", s.Way())
				}
				b.ReportMetric(float64(b.Elapsed().Milliseconds())/float64(n), "ms/edit")
				b.ReportMetric(float64(wholeTook.Milliseconds()), "ms-scratch")
			})
		}
	}
}

var _ = fmt.Sprint
