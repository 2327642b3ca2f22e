package main

import (
	"bytes"
	"fmt"
	"runtime"
	"runtime/debug"
	"slices"
	"strings"
	"testing"
	"time"

	"trefoil/lint/assess"
	"trefoil/lint/generate"
	"trefoil/lint/session"
	"trefoil/lint/source"
	"trefoil/ratings/sets"
	"trefoil/rules"
)

// edits are kinds of edit of a generated design: which text is put in the place of which, in
// how many files at once, and the way that a session goes then.
var edits = []struct {
	name, old, now string
	files          int
	way            session.Way
}{
	{"size", "cable    = cable.cu\n  size_mm2 = 50\n", "cable    = cable.cu\n  size_mm2 = 70\n", 1, session.Followed},
	{"device", "kind        = \"mccb\"\n    rated_a     = 80\n", "kind        = \"mccb\"\n    rated_a     = 100\n", 1, session.Followed},
	{"route", "sun             = true\n", "sun             = false\n", 1, session.Followed},
	{"comment", "# way 17 of its board\n", "# way 17 of its board,\n# with a remark\n", 1, session.Moved},
	{"inside", "max_current_a = 50\n", "max_current_a = 50 # by its sheet\n", 1, session.Moved},
	{"waiver", "# way 17 of its board\n", "waiver \"run-overloaded\" {\n  on     = run.mains\n  reason = \"made up\"\n}\n# way 17 of its board\n", 1, session.Moved},
	{"house-rule", "# way 17 of its board\n", "house_rule \"made-up\" {\n  each    = \"site\"\n  must    = site.voltage_v == 400\n  message = \"no\"\n}\n# way 17 of its board\n", 1, session.Moved},
	{"constant", "spare_m = 2\n", "spare_m = 2\n  other_m = 3\n", 1, session.Moved},
	{"library", "cores      = \"3c\"\n", "cores      = \"4c\"\n", 1, session.Followed},
	{"files", "cable    = cable.cu\n  size_mm2 = 50\n", "cable    = cable.cu\n  size_mm2 = 70\n", 3, session.Followed},
	{"source", "max_current_a = 50\n", "max_current_a = 51\n", 1, session.Assessed},
	{"cable", "cores      = \"4c+e\"\n", "cores      = \"4c\"\n", 1, session.Assessed},
	{"site", "air_c              = 35\n", "air_c              = 36\n", 1, session.Assessed},
	{"let", "spare_m = 2\n", "spare_m = 3\n", 1, session.Assessed},
	{"name", "\nroute \"duct-", "\nroute \"way-", 1, session.Assessed},
	{"block", "# way 17 of its board\n", "route \"more\" {\n  laid           = \"ladder\"\n  other_circuits = 0\n}\n# way 17 of its board\n", 1, session.Assessed},
	{"less", "  laid            = \"perforated-tray\"\n", "}\nroute \"less\" {\n  laid = \"ladder\"\n", 1, session.Assessed},
	{"broken", "fault_ka = 20\n}", "fault_ka = 20\n", 1, session.Assessed},
	{"quote", "kind          = \"inverter\"\n", "kind          = \"inverter\n", 1, session.Assessed},
}

// place finds a text in a file, from its middle on where it is the only one.
func place(f *source.File, alone bool, text string) int {
	if alone {
		from := len(f.Bytes) / 2
		if at := bytes.Index(f.Bytes[from:], []byte(text)); at >= 0 {
			return from + at
		}
	}
	return bytes.Index(f.Bytes, []byte(text))
}

// editing opens a session of a generated design with a library, and gives its files before
// and after an edit.
func editing(t testing.TB, texts [][]byte, old, now string, many int) (s *session.Session, before, after []*source.File) {
	t.Helper()
	before = append(files(texts...), &source.File{Name: "library/spare.hcl", Library: true, Bytes: []byte("cable \"spare\" {\n  conductor  = \"copper\"\n  insulation = \"xlpe-90\"\n  build      = \"multicore\"\n  cores      = \"3c\"\n}\n")})
	after = slices.Clone(before)
	done := 0
	for k := range before {
		i := (len(before)/2 + k) % len(before)
		f := before[i]
		if at := place(f, len(texts) == 1, old); at >= 0 && done < many {
			after[i] = &source.File{Name: f.Name, Library: f.Library, Bytes: bytes.Join([][]byte{f.Bytes[:at], []byte(now), f.Bytes[at+len(old):]}, nil)}
			done++
		}
	}
	if done == 0 {
		t.Fatal("nothing to edit")
	}
	copies := make([]*source.File, len(before)) // those that it is given are the session's
	for i, f := range before {
		copies[i] = &source.File{Name: f.Name, Library: f.Library, Bytes: f.Bytes}
	}
	s, err := session.Open(copies, session.Setting{Sets: assess.Named(sets.Find), Rules: rules.All(), Today: time.Date(2027, 3, 1, 0, 0, 0, 0, time.UTC)})
	if err != nil {
		t.Fatal(err)
	}
	return s, before, after
}

// TestWays: each kind of edit takes no more than it has to, and so does taking it back.
func TestWays(t *testing.T) {
	for _, e := range edits {
		s, before, after := editing(t, generate.Files(400, 1, 100), e.old, e.now, e.files)
		for _, files := range [][]*source.File{after, before} {
			if _, err := s.Update(slices.Clone(files)); err != nil {
				t.Fatal(err)
			}
			if s.Way() != e.way {
				t.Errorf("%s: it went the way %q", e.name, s.Way())
			}
		}
	}
}

// TestLong: however many edits a session has seen, it keeps no more than after the first ones.
func TestLong(t *testing.T) {
	texts := generate.Files(40, 1, 20)
	s, before, _ := editing(t, texts, "# way", "# way", 1)
	objects := func() uint64 {
		runtime.GC()
		runtime.GC()
		var m runtime.MemStats
		runtime.ReadMemStats(&m)
		return m.HeapObjects
	}
	steps := 2000
	if testing.Short() {
		steps = 400
	}
	var first uint64
	for n := range steps {
		if n == steps/4 {
			first = objects()
		}
		e := edits[n%len(edits)]
		files := slices.Clone(before)
		for i, f := range files {
			if at := place(f, false, e.old); at >= 0 {
				now := strings.NewReplacer("more", fmt.Sprint("more-", n), "less", fmt.Sprint("less-", n), "way-", fmt.Sprint("way-", n, "-"), "70", fmt.Sprint(70+n%7*5), "36", fmt.Sprint(20+float64(n)/100)).Replace(e.now)
				files[i] = &source.File{Name: f.Name, Library: f.Library, Bytes: bytes.Replace(f.Bytes, []byte(e.old), []byte(now), 1)}
				break
			}
		}
		if n%50 == 0 { // a file comes and goes
			files = slices.Insert(files, 0, &source.File{Name: fmt.Sprint("a", n, ".hcl"), Bytes: []byte(fmt.Sprintf("board %q {}\n", fmt.Sprint("b", n)))})
		}
		if _, err := s.Update(files); err != nil {
			t.Fatal(err)
		}
	}
	if last := objects(); last > first+first/10 {
		t.Errorf("%d objects after %d edits, and %d after %d", last, steps, first, steps/4)
	}
}

// BenchmarkEdit measures a check after an edit in the middle of a design of 10,000 runs, in
// one file and in 40, against a check from scratch in the same run: the time that passes, and
// that of the processors, which says more on a machine that others work on.
func BenchmarkEdit(b *testing.B) {
	defer debug.SetGCPercent(debug.SetGCPercent(400)) // as main does
	for _, form := range []struct {
		name  string
		texts [][]byte
	}{{"1-file", [][]byte{generate.Design(10_000, 1)}}, {"40-files", generate.Files(10_000, 1, 250)}} {
		scratch, work := time.Hour, time.Hour
		for range 3 {
			begin, used := time.Now(), processor(b)
			check(files(form.texts...))
			scratch, work = min(scratch, time.Since(begin)), min(work, processor(b)-used)
		}
		for _, e := range edits {
			b.Run(form.name+"/"+e.name, func(b *testing.B) {
				s, before, after := editing(b, form.texts, e.old, e.now, e.files)
				b.ReportAllocs()
				used := processor(b)
				for n := 0; b.Loop(); n++ {
					files := after
					if n%2 == 1 {
						files = before
					}
					if _, err := s.Update(slices.Clone(files)); err != nil {
						b.Fatal(err)
					}
				}
				used = processor(b) - used
				b.ReportMetric(float64(b.Elapsed())/float64(b.N)/float64(scratch), "x-scratch")
				b.ReportMetric(float64(used)/float64(b.N)/1e6, "cpu-ms/op")
				b.ReportMetric(float64(used)/float64(b.N)/float64(work), "x-cpu")
			})
		}
	}
}
