package design

import (
	"bytes"
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"

	"trefoil/lint/source"
)

// inside says that a fault lies in one of some files and has words.
func inside(t *testing.T, f *Fault, files []*source.File) {
	t.Helper()
	places := []source.Range{f.At}
	for _, r := range f.Related {
		places = append(places, r.At)
	}
	for _, p := range places {
		if p.File == nil || !slices.Contains(files, p.File) || int(p.End) > len(p.File.Bytes) || p.Start > p.End {
			t.Errorf("%s %q lies outside: %d to %d", f.Rule, f.Message, p.Start, p.End)
		}
	}
	if f.Message == "" {
		t.Errorf("%s says nothing", f.Rule)
	}
}

// FuzzProfile reads any text as a load profile: it is one of whole days with shares from 0 to
// 1, one for each line that is no comment and no heading, or a fault says at a place why not.
func FuzzProfile(f *testing.F) {
	day := strings.Repeat("0.5\n", 24)
	f.Add([]byte(day))
	f.Add([]byte("\ufeffhour,share\r\n" + strings.ReplaceAll(day, "0.5", "1,0.25") + "\r\n# end"))
	f.Add([]byte(strings.Repeat("1\n", 8785)))
	f.Add([]byte(day + "NaN\n+Inf\n0x1p-2\n1e-400\n-0\n1_0\n"))
	text := []byte("site \"s\" {\n  ratings   = \"iec-60364-5-52:2009\"\n  voltage_v = 400\n  economy {\n    load_profile = \"p.csv\"\n  }\n}\n")
	f.Fuzz(func(t *testing.T, profile []byte) {
		site, file := &source.File{Name: "site.hcl", Bytes: text}, &source.File{Name: "p.csv", Bytes: profile}
		d := Read(".", []*source.File{site})
		before := len(d.Faults)
		d.ReadProfile(func(string) (*source.File, error) { return file, nil })
		for i := range d.Faults {
			inside(t, &d.Faults[i], []*source.File{site, file})
		}
		if (d.Profile == nil) == (len(d.Faults) == before) {
			t.Fatalf("a profile %v, and %d faults more", d.Profile != nil, len(d.Faults)-before)
		}
		if d.Profile == nil {
			return
		}
		lines := 0
		for line := range bytes.Lines(profile) {
			if line = bytes.TrimSpace(bytes.TrimPrefix(line, []byte("\ufeff"))); len(line) > 0 && line[0] != '#' {
				lines++
			}
		}
		n := len(d.Profile.Shares)
		if n == 0 || n%24 != 0 || n > 8784 || n != lines && n != lines-1 {
			t.Errorf("%d hours of %d lines", n, lines)
		}
		for _, x := range d.Profile.Shares {
			if !(x >= 0 && x <= 1) {
				t.Errorf("a share of %g", x)
			}
		}
	})
}

// FuzzLibrary reads any text as the library of any design: only what a library may bring comes
// of it, each fault lies in a file, two readings say the same, and the design is none other
// for a library that could not be had.
func FuzzLibrary(f *testing.F) {
	design := "site \"s\" {\n  ratings   = \"iec-60364-5-52:2009\"\n  voltage_v = 400\n  library   = [\"../l\"]\n}\nrun \"r\" {\n  cable = cable.c\n}\n"
	f.Add([]byte(design), []byte("cable \"c\" {\n  conductor = \"copper\"\n}\nhouse_rule \"h\" {\n  each = \"run\"\n  must = run.size_mm2 > 1\n  message = \"x\"\n}\nprice \"p\" {\n  currency = \"EUR\"\n}\n"))
	f.Add([]byte(design+"cable \"c\" {\n}\nlet {\n  a = 1\n}\n"), []byte("run \"c\" {\n}\nlet {\n  a = 2\n}\ncable \"c\" {\n  copies = 2\n  note = let.a\n}\n"))
	f.Add([]byte(""), []byte("site \"x\" {\n  library = [\"/etc\", \"a\\\\b\", \"\"]\n}\n"))
	f.Fuzz(func(t *testing.T, text, shared []byte) {
		var said []string
		for range 2 {
			own, lib := &source.File{Name: "d/site.hcl", Bytes: text}, &source.File{Name: "l/l.hcl", Bytes: shared, Library: true}
			d := ReadWith("d", []*source.File{own}, Library{Files: []*source.File{lib}})
			d.ReadProfile(func(string) (*source.File, error) { return nil, errors.New("none") })
			d.Each(func(o *Object, _ any) {
				if o.At.File == lib && !slices.Contains(libraryKinds, o.Kind) {
					t.Errorf("a library brings %s", o.Subject())
				}
			})
			var b strings.Builder
			for i := range d.Faults {
				inside(t, &d.Faults[i], []*source.File{own, lib})
				fmt.Fprintf(&b, "%s %s %s\n", d.Faults[i].At, d.Faults[i].Rule, d.Faults[i].Message)
			}
			said = append(said, b.String())
		}
		if said[0] != said[1] {
			t.Errorf("first\n%s\nthen\n%s", said[0], said[1])
		}
	})
}
