package design

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"trefoil/lint/source"
	"trefoil/ratings/quantity"
)

func read(t testing.TB, texts ...string) *Design {
	t.Helper()
	var files []*source.File
	for i, s := range texts {
		files = append(files, &source.File{Name: fmt.Sprintf("%c.hcl", 'a'+i), Bytes: []byte(s)})
	}
	return Read(".", files)
}

func clean(t *testing.T, texts ...string) *Design {
	t.Helper()
	d := read(t, texts...)
	for _, f := range d.Faults {
		t.Errorf("%s:%v: %s [%s] %s", f.At.File.Name, f.At.File.Position(f.At.Start), f.Message, f.Rule, f.Next)
	}
	return d
}

// site is a design of our own with one of everything.
const site = `
site "sawmill" {
  ratings      = "iec-60364-5-52:2009"
  stage        = "construction"
  voltage_v    = let.volts
  air_c        = -5 + 40
}
supply "street" {
  fault_ka = 12
}
board "msb" {
}
board "hall 2" {
  rated_a = 400
  terminals {
    materials = ["copper", "aluminium"]
    max_mm2   = 240
  }
}
`

const rest = `
let {
  volts   = 400
  spare_m = min(2, 5)
  length  = let.spare_m * 10
}
source "roof" {
  copies        = ["east", "west"]
  kind          = "inverter"
  rated_kva     = copy.key == "east" ? 60 : 50
  max_current_a = 90 + copy.number
  phases        = 3
  model         = "${upper(copy.key)}-${copy.number}"
}
route "tray" {
  laid = "perforated-tray"
  lid  = let.volts > 300
}
cable "al" {
  conductor  = "aluminium"
  insulation = "xlpe-90"
  build      = "multicore"
  cores      = "3c+n+e"
  data "50" {
    r_ohm_km = 0.822
    origin   = "sheet 12"
  }
}
run "roof" {
  copies   = ["east", "west"]
  from     = source.roof[copy.key]
  to       = board["hall 2"]
  cable    = cable.al
  size_mm2 = copy.key == "east" ? 50 : 35
  device {
    at      = board["hall 2"]
    kind    = "mccb"
    rated_a = ceil(source.roof[copy.key].max_current_a * 1.1)
  }
  section {
    route    = (route.tray)
    length_m = let.length + let.spare_m
  }
}
run "hall" {
  from     = board["hall 2"]
  to       = board.msb
  cable    = let.volts > 300 ? cable.al : cable.none
  size_awg = "4/0"
  earth_mm2 = run.mains.size_mm2 / 2
  section {
    route    = route.tray
    length_m = 30
  }
}
run "mains" {
  from       = supply.street
  to         = board.msb
  cable      = cable.al
  size_mm2   = 240
  parallel   = 2
  never_with = [run.hall, run.roof["east"]]
  never_with_reason = "made up"
  section {
    route    = route.tray
    length_m = 3
  }
}
waiver "voltage-rise" {
  on     = source.roof
  reason = null
}
`

func TestRead(t *testing.T) {
	d := clean(t, site, rest)
	if s := d.Site(); s.VoltageV.Value != 400 || s.VoltageV.Origin != Stated || s.AirC.Value != 35 || s.FrequencyHz.Value != 50 || s.FrequencyHz.Origin != Defaulted || s.SoilC.Origin != Absent {
		t.Errorf("site: %+v", s)
	}
	if got := d.Site().VoltageV.At.Text(); got != "voltage_v    = let.volts" {
		t.Errorf("the range of voltage_v holds %q", got)
	}
	var names []string
	for _, s := range d.Sources {
		names = append(names, fmt.Sprintf("%s %g kVA %g A %s", s.Name, s.RatedKVA.Value, s.MaxCurrentA.Value, s.Model.Value))
	}
	if got := strings.Join(names, "; "); got != "roof[east] 60 kVA 91 A EAST-1; roof[west] 50 kVA 92 A WEST-2" {
		t.Error(got)
	}
	east, _ := d.Find("run", "roof[east]").(*Run)
	switch {
	case east == nil:
		t.Fatal("run roof[east] is missing")
	case east.From.Name != "roof[east]", east.To.Name != "hall 2", east.Size != quantity.MM2(50), east.LengthM() != quantity.Of(22):
		t.Errorf("%+v", east)
	case east.Devices[0].RatedA.Value != 101: // 91 x 1.1 = 100.1
		t.Errorf("device %g", east.Devices[0].RatedA.Value)
	}
	hall, _ := d.Find("run", "hall").(*Run)
	if hall.Cable.Name != "al" || hall.Size.Trade != "4/0 AWG" || hall.EarthMM2.Value != 120 {
		t.Errorf("%+v", hall)
	}
	if c := d.CableOf(hall); c.Layout != (Cores{Live: 4, Earth: 1}) || c.Strands.Value != "stranded" || c.Data[0].ROhmKM.Value != 0.822 || c.Data[0].XOhmKM.Origin != Absent {
		t.Errorf("%+v", c)
	}
	if r := d.Route(hall.Sections[0].Route); !r.Lid.Value || r.Lid.Origin != Stated || r.Vertical.Origin != Defaulted || r.Tiers.Value != 1 {
		t.Errorf("%+v", r)
	}
	if w := d.Waivers[0]; !w.On.Set || w.Reason.Origin != Absent {
		t.Errorf("%+v", w)
	}
	if got := strings.Join(d.Copies(d.Waivers[0].On), " "); got != "source.roof[east] source.roof[west]" {
		t.Error(got)
	}
	for _, c := range d.Lets {
		if !c.Used {
			t.Errorf("let.%s counts as unused", c.Name)
		}
	}
}

// TestOrder reads the same blocks in another order of files.
func TestOrder(t *testing.T) {
	a, b := clean(t, site, rest), clean(t, rest, site)
	if len(a.Runs) != len(b.Runs) || a.Runs[0].Size != b.Runs[0].Size || a.Site().VoltageV.Value != b.Site().VoltageV.Value {
		t.Error("the order of files matters")
	}
}

// TestFaults reads one fault at a time: the rule, the text it points at, and words
// of message and next step.
func TestFaults(t *testing.T) {
	for name, c := range map[string]struct{ text, rule, at, says string }{
		"unknown block":        {`boards "x" {` + "\n}", "unknown-word", "boards", `did you mean "board"`},
		"unknown attribute":    {"route \"x\" {\n laid = \"ladder\"\n lidd = true\n}", "unknown-word", "lidd", `did you mean "lid"`},
		"attribute outside":    {"volts = 3", "unknown-word", "volts", "outside of a block"},
		"attribute as block":   {"route \"x\" {\n laid = \"ladder\"\n sun {\n }\n}", "unknown-word", "sun", "write sun ="},
		"block as attribute":   {"run \"x\" {\n device = 3\n}", "unknown-word", "device", "write device {"},
		"function":             {"let {\n a = sqroot(2)\n}", "unknown-word", "sqroot", "no function"},
		"let with a name":      {"let \"x\" {\n}", "unknown-word", `"x"`, "no name"},
		"no name":              {"board {\n}", "value-missing", "board {", "no name"},
		"two names":            {"board \"a\" \"b\" {\n}", "unknown-word", `"b"`, "one name"},
		"bracket in a name":    {"board \"a[1]\" {\n}", "value-impossible", `"a[1]"`, "bracket"},
		"number as text":       {"board \"a\" {\n rated_a = \"400\"\n}", "value-impossible", `"400"`, "without quotes"},
		"text as number":       {"supply \"a\" {\n fault_ka = 3\n origin = 4\n}", "value-impossible", "4", "in quotes"},
		"flag":                 {"route \"a\" {\n laid = \"ladder\"\n sun = \"yes\"\n}", "value-impossible", `"yes"`, "true or false"},
		"list":                 {"board \"a\" {\n terminals {\n materials = \"copper\"\n }\n}", "value-impossible", `"copper"`, "list of texts"},
		"word in list":         {"board \"a\" {\n terminals {\n materials = [\"cupper\"]\n }\n}", "value-impossible", `["cupper"]`, "copper"},
		"zero":                 {"board \"a\" {\n rated_a = 0\n}", "value-impossible", "0", "above 0"},
		"negative":             {"board \"a\" {\n rated_a = -3\n}", "value-impossible", "-3", "above 0"},
		"huge":                 {"board \"a\" {\n rated_a = 1e300\n}", "value-impossible", "1e300", "at most"},
		"infinite":             {"board \"a\" {\n rated_a = 1 / 0\n}", "value-impossible", "1 / 0", "finite"},
		"power":                {"board \"a\" {\n rated_a = pow(10, 1e9)\n}", "value-impossible", "pow(", "at most"},
		"range":                {"let {\n a = range(1e9)\n}", "value-impossible", "range(", "at most"},
		"width":                {"let {\n a = format(\"%99999d\", 1)\n}", "value-impossible", "format(", "three digits"},
		"not whole":            {"route \"a\" {\n laid = \"ladder\"\n tiers = 1.5\n}", "value-impossible", "1.5", "whole number"},
		"laying":               {"route \"a\" {\n laid = \"laddder\"\n}", "value-impossible", `"laddder"`, `did you mean "ladder"`},
		"day":                  {"waiver \"x\" {\n on = site\n until = \"2027-13-01\"\n}", "value-impossible", `"2027-13-01"`, "YYYY-MM-DD"},
		"phases":               {"source \"a\" {\n kind = \"inverter\"\n rated_kva = 5\n phases = 2\n}", "value-impossible", "2", "1 or 3"},
		"phase of three":       {"source \"a\" {\n kind = \"inverter\"\n rated_kva = 5\n phases = 3\n phase = \"L1\"\n}", "value-impossible", `"L1"`, "no phase of its own"},
		"cores":                {"cable \"a\" {\n conductor = \"copper\"\n insulation = \"pvc-70\"\n build = \"multicore\"\n cores = \"four\"\n}", "value-impossible", `"four"`, "core count"},
		"cores missing":        {"cable \"a\" {\n conductor = \"copper\"\n insulation = \"pvc-70\"\n build = \"multicore\"\n}", "value-missing", `cable "a" {`, "cores"},
		"data":                 {"cable \"a\" {\n conductor = \"copper\"\n insulation = \"pvc-70\"\n build = \"single-core\"\n data \"big\" {\n }\n}", "value-impossible", `"big"`, "no"},
		"gauge":                {"run \"a\" {\n size_awg = \"5/0\"\n}", "value-impossible", `"5/0"`, "AWG"},
		"reference as text":    {"run \"a\" {\n from = \"source.x\"\n}", "value-impossible", `"source.x"`, "no reference"},
		"reference to a cable": {"run \"a\" {\n from = cable.x\n}", "value-impossible", "cable.x", "stands where"},
		"reference to nothing": {"run \"a\" {\n from = sourze.x\n}", "unknown-reference", "sourze.x", `did you mean "source"`},
		"reference with steps": {"run \"a\" {\n from = source.x.y.z\n}", "value-impossible", "source.x.y.z", "no reference"},
		"let":                  {"board \"a\" {\n rated_a = let.amps\n}", "unknown-reference", "let.amps", "not given"},
		"copy":                 {"board \"a\" {\n rated_a = copy.number\n}", "unknown-reference", "copy.number", "copies"},
		"variable":             {"board \"a\" {\n rated_a = amps\n}", "unknown-reference", "amps", "not known"},
		"let circle":           {"let {\n a = let.b\n b = let.a\n}", "value-impossible", "a = let.b", "circle"},
		"let self":             {"let {\n a = let.a\n}", "value-impossible", "a = let.a", "circle"},
		"let twice":            {"let {\n a = 1\n}\nlet {\n a = 2\n}", "name-taken", "a = 2", "twice"},
		"block circle":         {"board \"a\" {\n rated_a = board.b.rated_a\n}\nboard \"b\" {\n rated_a = board.a.rated_a\n}", "value-impossible", "board.b.rated_a", "circle"},
		"block attribute":      {"board \"a\" {\n rated_a = board.a.colour\n}", "unknown-reference", "board.a.colour", "no plain attribute"},
		"block in expression":  {"board \"a\" {\n rated_a = board.c.rated_a\n}", "unknown-reference", "board.c.rated_a", "not declared"},
		"block unstated":       {"board \"a\" {\n rated_a = board.b.rated_a\n}\nboard \"b\" {\n}", "value-impossible", "board.b.rated_a", "does not state"},
		"copies none":          {"board \"a\" {\n copies = 0\n}", "value-impossible", "0", "from 1"},
		"copies many":          {"board \"a\" {\n copies = 1e8\n}", "value-impossible", "1e8", "10000"},
		"copies twice":         {"board \"a\" {\n copies = [\"x\", \"x\"]\n}", "value-impossible", `["x", "x"]`, "twice"},
		"copies wrong":         {"board \"a\" {\n copies = true\n}", "value-impossible", "true", "neither"},
		"site copies":          {"site \"a\" {\n copies = 2\n ratings = \"x\"\n voltage_v = 400\n}", "unknown-word", "copies", "no attribute"},
		"second site":          {"site \"a\" {\n ratings = \"x\"\n voltage_v = 400\n}\nsite \"b\" {\n ratings = \"x\"\n voltage_v = 400\n}", "name-taken", `site "b" {`, "second"},
		"same name":            {"board \"a\" {\n}\nboard \"a\" {\n}", "name-taken", `board "a" {`, "stands already"},
		"set and name":         {"board \"a\" {\n copies = 2\n}\nboard \"a\" {\n}", "name-taken", `board "a" {`, "set of copies"},
		"two terminals":        {"board \"a\" {\n terminals {\n }\n terminals {\n }\n}", "name-taken", "terminals {", "second"},
		"depth factor":         {"route \"a\" {\n laid = \"buried\"\n depth_factor = 0.9\n}", "value-missing", "0.9", "depth_factor_origin"},
	} {
		t.Run(name, func(t *testing.T) {
			d := read(t, c.text)
			for _, f := range d.Faults {
				if f.Rule == c.rule && (f.At.Text() == c.at || strings.HasSuffix(f.At.Text(), " = "+c.at)) && strings.Contains(f.Message+" / "+f.Next, c.says) {
					return
				}
			}
			for _, f := range d.Faults {
				t.Errorf("got %s at %q: %s / %s", f.Rule, f.At.Text(), f.Message, f.Next)
			}
		})
	}
}

// TestOneFaultOnce counts: a fault in a block of many copies is told once, and a
// faulty value is not missing as well.
func TestOneFaultOnce(t *testing.T) {
	for text, want := range map[string]int{
		"board \"a\" {\n copies = 500\n rated_aa = 3\n}":       1,
		"board \"a\" {\n copies = 500\n rated_a = -3\n}":       1,
		"source \"a\" {\n copies = 9\n kind = \"inverter\"\n}": 1,
		"run \"a\" {\n from = board.x\n to = board.x\n cable = cable.x\n size_mm2 = 50\n section {\n route = route.x\n length_m = -1\n }\n}": 5,
		"let {\n a = let.b\n b = let.c\n c = let.a\n}\nboard \"x\" {\n rated_a = let.a\n}":                                                   1,
	} {
		d := read(t, text)
		if len(d.Faults) != want {
			t.Errorf("%q gives %d faults, want %d:", text, len(d.Faults), want)
			for _, f := range d.Faults {
				t.Errorf("  %s: %s", f.Rule, f.Message)
			}
		}
	}
}

func TestCores(t *testing.T) {
	for s, want := range map[string]Cores{
		"4c+e": {4, 1}, "3c+n+e": {4, 1}, "2C+E": {2, 1}, "5c": {5, 0}, "3c + 3e": {3, 3}, "1c": {1, 0},
	} {
		if got, ok := parseCores(s); !ok || got != want {
			t.Errorf("%q: got %v %v", s, got, ok)
		}
	}
	for _, s := range []string{"", "c", "6c", "0c", "4", "4c+x", "4c+e+e+e", "44c", "5c+n"} {
		if got, ok := parseCores(s); ok {
			t.Errorf("%q: got %v", s, got)
		}
	}
}

func FuzzRead(f *testing.F) {
	f.Add(site, rest)
	f.Add("board \"a\" {\n copies = 3\n rated_a = board.a[\"1\"].rated_a\n}", "")
	f.Fuzz(func(t *testing.T, a, b string) {
		d, again := read(t, a, b), read(t, a, b)
		if len(d.Faults) != len(again.Faults) || len(d.Runs) != len(again.Runs) {
			t.Fatal("two readings differ")
		}
		for i, x := range d.Faults {
			if x.At.File == nil || int(x.At.End) > len(x.At.File.Bytes) || x.Message == "" || x.Message != again.Faults[i].Message {
				t.Errorf("%+v", x)
			}
		}
	})
}

// TestOutOfBounds: expressions that would take long or have no value are told at once.
func TestOutOfBounds(t *testing.T) {
	long := "[" + strings.Repeat("1,", 3000) + "1]"
	for name, c := range map[string]struct{ let, says string }{
		"for in for":    {"a = [for x in range(1000): [for y in range(1000): x * y]]", "for stands inside of a for"},
		"doubling":      {"a = range(1000)\n b = concat(let.a, let.a)\n c = concat(let.b, let.b)\n d = concat(let.c, let.c)", "elements"},
		"long list":     {"a = " + long, "elements"},
		"doubling text": {"a = \"" + strings.Repeat("x", 9000) + "\"\n b = \"${let.a}${let.a}\"", "bytes of text"},
		"rest by 0":     {"a = 50 % 0", "division by 0"},
		"logarithm":     {"a = log(-1, 10)", "no value for these arguments"},
		"root":          {"a = pow(-8, 0.5)", "no value for these arguments"},
		"whole":         {"a = int(1 / 0)", "no value"},
	} {
		d := read(t, "let {\n "+c.let+"\n}\nboard \"a\" {\n rated_a = 400\n}")
		found := false
		for _, f := range d.Faults {
			found = found || f.Rule == "value-impossible" && strings.Contains(f.Message, c.says)
			if strings.Contains(f.Message, "goroutine") || strings.Contains(f.Message, "panic") {
				t.Errorf("%s: %s", name, f.Message)
			}
		}
		if !found {
			t.Errorf("%s: %v", name, d.Faults)
		}
	}
}

// TestProduct: the pure functions include those of sets.
func TestProduct(t *testing.T) {
	d := read(t, "let {\n a = length(setproduct([1, 2], [3, 4, 5]))\n}\nboard \"a\" {\n rated_a = let.a\n}")
	if len(d.Faults) > 0 || d.Boards[0].RatedA.Value != 6 {
		t.Errorf("%v, %+v", d.Faults, d.Boards[0].RatedA)
	}
}

// TestNoGuess: a word that is no slip of the pen is not compared with everything.
func TestNoGuess(t *testing.T) {
	if got := Nearest(strings.Repeat("x", 100_000), []string{"board"}); got != "" {
		t.Errorf("got %q", got)
	}
}

// TestLibrary looks at what a shared directory may bring, and whose name counts.
func TestLibrary(t *testing.T) {
	site := &source.File{Name: "d/site.hcl", Bytes: []byte("site \"s\" {\n  ratings = \"x\"\n  voltage_v = 400\n  library = [\"../c\"]\n}\n" +
		"cable \"own\" {\n  conductor = \"copper\"\n  insulation = \"xlpe-90\"\n  build = \"single-core\"\n}\n")}
	cable := func(name string) string {
		return "cable \"" + name + "\" {\n  conductor = \"aluminium\"\n  insulation = \"xlpe-90\"\n  build = \"single-core\"\n}\n"
	}
	lib := Library{Files: []*source.File{{Name: "c/a.hcl", Library: true, Bytes: []byte(cable("shared") + cable("own") + "let {\n  x = 1\n}\nbord \"b\" {\n}\nhouse_rule \"r\" {\n  each = \"run\"\n  must = run.size_mm2 > let.y\n  message = \"m\"\n}\n")}}}
	d := ReadWith("d", []*source.File{site}, lib)
	var got []string
	for _, f := range d.Faults {
		p := f.At.File.Position(f.At.Start)
		got = append(got, fmt.Sprintf("%s:%d %s", f.At.File.Name, p.Line, f.Rule))
	}
	want := "c/a.hcl:11 unknown-word, c/a.hcl:14 unknown-word, c/a.hcl:18 unknown-reference, d/site.hcl:6 name-taken"
	if s := strings.Join(got, ", "); s != want {
		t.Errorf("faults %s, want %s", s, want)
	}
	if len(d.Cables) != 2 || d.Cables[0].Conductor.Value != "copper" || len(d.House) != 1 || len(d.Files) != 1 {
		t.Errorf("%d cables, %d rules, %d files", len(d.Cables), len(d.House), len(d.Files))
	}
	lib = Library{Lost: []Fault{{Rule: "value-impossible", At: d.Site().Library.At}}}
	if d = ReadWith("d", []*source.File{site}, lib); !d.Broken || len(d.Faults) != 1 {
		t.Errorf("broken %v, %d faults", d.Broken, len(d.Faults))
	}
	for _, dir := range []string{"/etc", `..\c`, "c:/x", " ", "a\x00"} {
		if refuseLibrary(dir) == "" {
			t.Errorf("%q is taken as a library", dir)
		}
	}
	for _, dir := range []string{"../c", ".", "c/d", "../../shared cables"} {
		if why := refuseLibrary(dir); why != "" {
			t.Errorf("%q %s", dir, why)
		}
	}
}

// TestTextBounded looks that calls inside of calls cannot double a text without end.
func TestTextBounded(t *testing.T) {
	for _, expr := range []string{
		strings.Repeat("replace(", 60) + `"m"` + strings.Repeat(`, "m", "mm")`, 60),
		strings.Repeat(`join("mm", split("m", `, 40) + `"amam"` + strings.Repeat("))", 40),
		`indent(9000, "a\nb\nb")`,
		`indent(99999999, "a\nb")`,
	} {
		d := read(t, "let {\n  a = "+expr+"\n}\n")
		if len(d.Faults) != 1 || d.Faults[0].Rule != "value-impossible" || !strings.Contains(d.Faults[0].Message, "at most") {
			t.Errorf("%.40s: %v", expr, d.Faults)
		}
	}
	for _, expr := range []string{`replace("a b", " ", "")`, `replace("abc", "", "-")`, `join(", ", ["a", "b"], ["c"])`, `indent(4, "a\nb")`, `join("", [])`} {
		if d := read(t, "let {\n  a = "+expr+"\n}\n"); len(d.Faults) != 0 {
			t.Errorf("%s: %v", expr, d.Faults)
		}
	}
}

// TestLaterValues: values that hang on let, or on other blocks, come to every one of
// several inner blocks, references too.
func TestLaterValues(t *testing.T) {
	d := read(t, `let {
  a  = 11
  up = true
}
site "s" {
  ratings   = "x"
  voltage_v = 400
  limit "submain" {
    rise_percent = let.a / 11
  }
  limit "service-mains" {
    rise_percent = let.a / 22
  }
}
supply "g" {
  fault_ka = let.a
}
board "b" {
  rated_a = 400
}
route "r" {
  laid = "ladder"
}
route "q" {
  laid = "ladder"
}
cable "c" {
  conductor  = "copper"
  insulation = "xlpe-90"
  build      = "multicore"
  cores      = "4c"
  data "35" {
    r_ohm_km = let.a / 10
  }
  data "50" {
    r_ohm_km = let.a / 20
  }
  data "70" {
    r_ohm_km = board.b.rated_a / 1000
  }
}
run "m" {
  from     = supply.g
  to       = board.b
  cable    = cable.c
  size_mm2 = 35
  device {
    kind    = "mccb"
    rated_a = let.a + 1
  }
  device {
    at      = let.up ? board.b : supply.g
    kind    = "mccb"
    rated_a = board.b.rated_a / 4
  }
  device {
    kind    = "mccb"
    rated_a = let.a + 3
  }
  section {
    route    = let.up ? route.r : route.q
    length_m = let.a
  }
  section {
    route    = let.up ? route.q : route.r
    length_m = let.a + 1
  }
  section {
    route    = route.r
    length_m = let.a + 2
  }
  ends {
    at          = supply.g
    lug_stud_mm = let.a
  }
  ends {
    at          = let.up ? board.b : supply.g
    lug_stud_mm = let.a + 1
  }
}
`)
	if len(d.Faults) > 0 {
		t.Fatal(d.Faults)
	}
	m := d.Runs[0]
	var got []float64
	for _, x := range m.Sections {
		got = append(got, x.LengthM.Value)
	}
	for _, x := range m.Devices {
		got = append(got, x.RatedA.Value)
	}
	for _, x := range m.Ends {
		got = append(got, x.StudMM.Value)
	}
	for _, x := range d.Cables[0].Data {
		got = append(got, x.ROhmKM.Value)
	}
	for _, x := range d.Site().Limits {
		got = append(got, x.RisePercent.Value)
	}
	want := []float64{11, 12, 13, 12, 100, 14, 11, 12, 1.1, 0.55, 0.4, 1, 0.5}
	if !slices.Equal(got, want) {
		t.Errorf("got %v, want %v", got, want)
	}
	if m.Sections[0].Route.Name != "r" || m.Sections[1].Route.Name != "q" || m.Devices[1].Board.Name != "b" || m.Ends[1].Where.Name != "b" {
		t.Errorf("links: %+v %+v %+v %+v", m.Sections[0].Route, m.Sections[1].Route, m.Devices[1].Board, m.Ends[1].Where)
	}
}

// TestConstantBesideBlock: a constant that stands in a value beside an attribute of a block is
// used, and one that is not given is told by its name.
func TestConstantBesideBlock(t *testing.T) {
	text := "let {\n  margin = 1.25\n}\nsource \"i\" {\n  kind = \"inverter\"\n  rated_kva = 20\n  max_current_a = 29\n}\n" +
		"run \"i\" {\n  device {\n    kind = \"mccb\"\n    rated_a = source.i.max_current_a * let.margin\n  }\n}\n"
	d := read(t, text)
	if len(d.Lets) != 1 || !d.Lets[0].Used || d.Runs[0].Devices[0].RatedA.Value != 36.25 {
		t.Errorf("%+v, %+v", d.Lets, d.Runs[0].Devices)
	}
	d = read(t, strings.Replace(text, "* let.margin", "* let.magrin", 1))
	if !slices.ContainsFunc(d.Faults, func(f Fault) bool {
		return f.Rule == "unknown-reference" && f.Message == "let.magrin is not given" && f.Next == `did you mean "margin"?` && f.Subject == "run.i"
	}) {
		t.Errorf("%+v", d.Faults)
	}
}
