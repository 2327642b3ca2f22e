package design

import (
	"fmt"
	"strings"
	"testing"

	"trefoil/lint/source"
)

// TestCopiesTogether: of the sets of copies that are too many together the later ones are
// refused, always the same, however the pieces of a text are read.
func TestCopiesTogether(t *testing.T) {
	var b strings.Builder
	for i := range 7 {
		fmt.Fprintf(&b, "board \"m%d\" {\n  # %s\n  copies = 9000\n}\n", i, strings.Repeat("x", 20000))
	}
	for range 3 {
		d := Read(".", []*source.File{{Name: "site.hcl", Bytes: []byte(b.String())}})
		var refused []string
		for _, f := range d.Faults {
			if strings.Contains(f.Message, "more than 50000 copies") {
				refused = append(refused, f.Subject)
			}
		}
		if got := strings.Join(refused, " "); got != "board.m5 board.m6" || len(d.Boards) != 5*9000 {
			t.Fatalf("refused are %s, %d boards", got, len(d.Boards))
		}
	}
}

// TestFaultsOfAPiece: of one piece of text a thousand faults are told, and how many more.
func TestFaultsOfAPiece(t *testing.T) {
	d := Read(".", []*source.File{{Name: "site.hcl", Bytes: []byte("board \"a\" {\n" + strings.Repeat("  z {}\n", 1500) + "}\n")}})
	told := 0
	for _, f := range d.Faults {
		if strings.Contains(f.Message, "500 more faults around here are not told") {
			told++
		}
	}
	if len(d.Faults) > maxFaults+3 || told != 1 {
		t.Errorf("%d faults, %d times told that there are more", len(d.Faults), told)
	}
}

// TestCount: waivers, house rules and constants beyond the most do not count, which is told.
func TestCount(t *testing.T) {
	for _, c := range []struct {
		block, want string
		most        int
		count       func(*Design) int
	}{
		{"waiver \"x\" {\n}\n", "10001 waivers, and those beyond 10000 do not count", maxWaivers, func(d *Design) int { return len(d.Waivers) }},
		{"house_rule \"x-NUMBER\" {\n}\n", "501 house rules, and those beyond 500 do not count", maxHouse, func(d *Design) int { return len(d.House) }},
		{"let {\n  a_NUMBER = 1\n}\n", "20001 constants, and those beyond 20000 do not count", maxLets, func(d *Design) int { return len(d.Lets) }},
	} {
		for _, over := range []int{0, 1} {
			var b strings.Builder
			for i := range c.most + over {
				b.WriteString(strings.ReplaceAll(c.block, "NUMBER", fmt.Sprint(i)))
			}
			d := Read(".", []*source.File{{Name: "site.hcl", Bytes: []byte(b.String())}})
			told := 0
			for _, f := range d.Faults {
				if strings.Contains(f.Message, c.want) && f.At.File != nil {
					told++
				}
			}
			if told != over || c.count(d) != c.most {
				t.Errorf("%d more than %d: %d count, told %d times", over, c.most, c.count(d), told)
			}
		}
	}
}

// TestRefused: a design that is refused as a whole can still be followed.
func TestRefused(t *testing.T) {
	text := strings.Repeat("board \"b\" {\n  rated_a = length([for i in range(1000) : i])\n}\n", 9000)
	d := NewDraft(".", []*source.File{{Name: "site.hcl", Bytes: []byte(text)}}, Library{})
	if len(d.Faults) != 1 || !d.Broken || !strings.Contains(d.Faults[0].Message, "take more than 2000000 steps") {
		t.Errorf("%d faults: %+v", len(d.Faults), d.Faults)
	}
}

// TestTogether: of the sections in one route so many are read, and of the first beyond is told.
func TestTogether(t *testing.T) {
	for _, n := range []int{maxTogether, maxTogether + 3} {
		var b strings.Builder
		b.WriteString("route \"r\" {\n}\n")
		for i := range n {
			fmt.Fprintf(&b, "run \"r%d\" {\n  section {\n    route = route.r\n  }\n}\n", i)
		}
		d := Read(".", []*source.File{{Name: "site.hcl", Bytes: []byte(b.String())}})
		told, known := 0, 0
		for _, f := range d.Faults {
			if strings.Contains(f.Message, `route "r" holds more than 500 sections`) && f.Subject == fmt.Sprintf("run.r%d", maxTogether) {
				told++
			}
		}
		for _, r := range d.Runs {
			if r.Sections[0].Route.Name == "r" {
				known++
			}
		}
		if told != min(1, n-maxTogether) || known != maxTogether {
			t.Errorf("%d sections: told %d times, %d known", n, told, known)
		}
	}
}

// TestFull: an edit by which there is more of something than counts, or no longer, is not
// followed, so that the design is read as a whole.
func TestFull(t *testing.T) {
	runs := func(n int) string {
		var b strings.Builder
		b.WriteString("supply \"g\" {\n  fault_ka = 9\n}\nboard \"b\" {\n}\nroute \"r\" {\n  laid = \"ladder\"\n}\n")
		b.WriteString("cable \"c\" {\n  conductor  = \"copper\"\n  insulation = \"xlpe-90\"\n  build      = \"multicore\"\n  cores      = \"4c+e\"\n}\n")
		for i := range n {
			fmt.Fprintf(&b, "run \"r%d\" {\n  from     = board.b\n  to       = supply.g\n  cable    = cable.c\n  size_mm2 = 16\n  section {\n    route    = route.r\n    length_m = 1\n  }\n}\n", i)
		}
		return b.String()
	}
	waivers := func(n int) string { return strings.Repeat("waiver \"x\" {\n}\n", n) }
	for _, c := range []struct {
		was, now string
		follows  bool
	}{
		{runs(maxTogether - 1), runs(maxTogether), true},
		{runs(maxTogether), runs(maxTogether + 1), false},
		{runs(maxTogether + 1), runs(maxTogether), false},
		{waivers(maxWaivers), waivers(maxWaivers + 1), false},
		{waivers(maxWaivers + 1), waivers(maxWaivers), false},
	} {
		const site = "site \"s\" {\n  ratings   = \"iec-60364-5-52:2009\"\n  voltage_v = 400\n}\n"
		d := NewDraft(".", []*source.File{{Name: "site.hcl", Bytes: []byte(site + c.was)}}, Library{})
		if _, followed := d.Update([]*source.File{{Name: "site.hcl", Bytes: []byte(site + c.now)}}); followed != c.follows {
			t.Errorf("%.20q, %d to %d bytes: followed %t", c.was, len(c.was), len(c.now), followed)
		}
	}
}
