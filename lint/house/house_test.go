package house

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/zclconf/go-cty/cty"

	"trefoil/lint/assess"
	"trefoil/lint/design"
	"trefoil/lint/engine"
	"trefoil/lint/finding"
	"trefoil/lint/source"
	"trefoil/ratings/sets"
)

// An invented design: two runs, 40 kVA at 400 V, which is 57.735 A.
const plant = `
site "s" {
  ratings   = "iec-60364-5-52:2009"
  voltage_v = 400
  air_c     = 30
  limit "submain" {
    rise_percent = 1
  }
}
supply "grid" {
  fault_ka = 10
}
board "main" {
  terminals {
    max_mm2 = 95
  }
}
source "wheel" {
  kind      = "generator"
  rated_kva = 40
  phases    = 3
}
load "mill" {
  at       = board.main
  demand_a = 20
}
cable "al" {
  conductor  = "aluminium"
  insulation = "xlpe-90"
  build      = "multicore"
  cores      = "4c"
  data "25" {
    outer_mm = 24
  }
}
route "bank" {
  laid           = "ladder"
  other_circuits = 0
}
run "ramp" {
  from     = source.wheel
  to       = board.main
  cable    = cable.al
  size_mm2 = 25
  section {
    route    = route.bank
    length_m = 12
  }
  ends {
    at  = board.main
    lug = "bimetal"
  }
}
run "mains" {
  from      = supply.grid
  to        = board.main
  cable     = cable.al
  size_mm2  = 95
  earth_mm2 = 25
  device {
    at      = board.main
    kind    = "mccb"
    rated_a = 160
  }
  section {
    route    = route.bank
    length_m = 5
  }
}
let {
  least = 35
}
`

func review(text string) *assess.Review {
	return assess.Assess(design.Read(".", []*source.File{{Name: "a.hcl", Bytes: []byte(plant + text)}}), assess.Named(sets.Find))
}

// checked runs the design's own rules alone, and adds the faults of its text.
func checked(text string) []finding.Finding {
	v := review(text)
	list := engine.Check(v, Join(v, nil), engine.Options{Today: time.Date(2027, 3, 1, 0, 0, 0, 0, time.UTC)}).Findings
	return slices.Concat(v.Design.Faults, v.Faults, list)
}

func rule(each, when, must string) string {
	if when != "" {
		when = "  when = " + when + "\n"
	}
	return fmt.Sprintf("house_rule \"r\" {\n  each = %q\n%s  must = %s\n  message = \"not kept\"\n}\n", each, when, must)
}

// TestAnswers holds the answers of rules: subject and severity of what they find, in
// order; a note on the rule itself is what cannot be assessed.
func TestAnswers(t *testing.T) {
	for _, x := range []struct{ each, when, must, want string }{
		{"run", "", `run.size_mm2 >= 95`, "warning run.ramp"},
		{"run", "", `run.size_mm2 >= 25`, ""},
		{"run", "", `run.size_mm2 > 25`, "warning run.ramp"},
		{"run", `run.name == "ramp"`, `run.size_mm2 > 95`, "warning run.ramp"},
		{"run", `run.cable.conductor == "copper"`, `run.size_mm2 > 400`, ""},
		{"run", "", `run.earth_mm2 >= 16`, "note house_rule.r"},
		{"run", "", `run.earth_mm2 >= 35`, "warning run.mains, note house_rule.r"},
		{"run", `stated(run.earth_mm2)`, `run.earth_mm2 >= 16`, ""},
		{"run", "", `stated(run.earth_mm2)`, "warning run.ramp"},
		{"run", "", `stated(run.loop_ohm)`, "warning run.mains, warning run.ramp"}, // the supply states no earthing
		{"run", `run.earth_mm2 > 10`, `run.size_mm2 > 10`, ""},                     // kept, whatever the earth conductor
		{"run", `run.earth_mm2 > 10`, `run.size_mm2 > 100`, "warning run.mains, note house_rule.r"},
		{"run", "", `!stated(run.earth_mm2) || run.earth_mm2 >= 25`, ""},
		{"run", "", `stated(run.earth_mm2) ? run.earth_mm2 >= 25 : true`, ""},
		{"run", "", `run.design_current_a <= 57.736`, ""},
		{"run", "", `run.design_current_a <= 57.734`, "warning run.mains, warning run.ramp"},
		{"run", "", `run.from.kind == "source" || run.class == "consumer-mains"`, "note house_rule.r"},
		{"run", "", `length(run.devices) > 0`, "warning run.ramp"},
		{"run", "", `run.device_a >= run.design_current_a`, "note house_rule.r"},
		{"run", "", `!contains(run.sections[*].route.laid, "ladder")`, "warning run.mains, warning run.ramp"},
		{"run", "", `!contains([for s in run.sections : s.length_m <= 5], false)`, "warning run.ramp"},
		{"run", "", `!contains(run.sections[*].route.spacing_mm, 0)`, "note house_rule.r"},
		{"run", "", `run.sections[0].circuits == 2`, ""},
		{"run", "", `run.sections[1].circuits == 2`, "error house_rule.r"},
		{"run", "", `10 / (run.legs - 1) > 0`, "error house_rule.r"},
		{"run", "", `run.size_mm2 % (run.legs - 1) == 0`, "error house_rule.r"},
		{"run", "", `[for s in run.sections : 1 / (run.legs - 1)] != []`, "error house_rule.r"},
		{"run", "", `(run.legs == 1 ? 1 : 10 / (run.legs - 1)) > 0`, ""},
		{"run", "", `contains(run.ends[*].lug, "bimetal")`, "warning run.mains"},
		{"run", "", `upper(run.name) == "RAMP" || run.size_mm2 > let.least`, ""},
		{"source", "", `source.path_rise_percent > 0 && source.run == "ramp"`, ""},
		{"source", "", `source.terminals.max_mm2 >= 25`, "note house_rule.r"},
		{"source", "", `stated(source.model)`, "warning source.wheel"},
		{"board", "", `board.fault_max_ka < 10 && board.terminals.max_mm2 == 95 && board.run == "mains"`, ""},
		{"board", "", `board.rated_a >= 100`, "note house_rule.r"},
		{"supply", "", `supply.fault_ka == 10 && stated(supply.fault_max_ka)`, ""},
		{"supply", "", `supply.transformer.rated_kva > 100`, "note house_rule.r"},
		{"site", "", `site.limits[0].class == "submain" && site.frequency_hz == 50`, ""},
		{"site", "", `length(site.thresholds) > 0`, "warning site.s"},
		{"site", "", `site.voltage_v == 230`, "warning site.s"},
		{"route", "", `route.circuits == 2 && join(", ", route.runs) == "ramp, mains"`, ""},
		{"cable", "", `cable.data[0].size == "25 mm2" && length(cable.runs) == 2`, ""},
		{"board", "", `length(board.portions) == 0 && board.main_switch.rated_a > 3`, "note house_rule.r"},
		{"source", "", `stated(source.isolator)`, "warning source.wheel"},
		{"run", `stated(run.built)`, `run.built.length_m <= run.length_m`, ""},
		{"run", "", `!stated(run.leg_lengths_m) || max(run.leg_lengths_m...) < 100`, ""},
		{"load", "", `load.at.name == "main" && load.demand_a < 20`, "warning load.mill"},
	} {
		t.Run(x.must, func(t *testing.T) {
			var got []string
			for _, f := range checked(rule(x.each, x.when, x.must)) {
				if f.Rule != "r" {
					t.Errorf("%s: %s", f.Rule, f.Message)
					continue
				}
				got = append(got, f.Severity.String()+" "+f.Subject)
			}
			slices.SortFunc(got, func(a, b string) int {
				order := func(s string) string { return map[byte]string{'e': "0", 'w': "1", 'n': "2"}[s[0]] + s }
				return strings.Compare(order(a), order(b))
			})
			if s := strings.Join(got, ", "); s != x.want {
				t.Errorf("got %q, want %q", s, x.want)
			}
		})
	}
}

// TestPlace looks where a finding points.
func TestPlace(t *testing.T) {
	for _, x := range []struct{ must, at string }{
		{`run.size_mm2 >= 95`, "size_mm2 = 25"},
		{`run.size_mm2 >= run.design_current_a`, "size_mm2 = 25"},
		{`run.cable.conductor == "copper" || run.name == "mains"`, "cable    = cable.al"},
		{`run.capacity_a > 100`, `run "ramp" {`},
		{`run.parallel > 1 || run.name == "mains"`, `run "ramp" {`}, // not written
		{`run.size_mm2 > 50 && run.cable.conductor == "copper" || run.name == "mains"`, `run "ramp" {`},
	} {
		var got []string
		for _, f := range checked(rule("run", "", x.must)) {
			if f.Subject == "run.ramp" {
				got = append(got, f.At.Text())
				if len(f.Related) != 1 || !strings.HasPrefix(f.Related[0].At.Text(), "must = ") {
					t.Errorf("%s: related to %v", x.must, f.Related)
				}
			}
		}
		if len(got) != 1 || got[0] != x.at {
			t.Errorf("%s: at %q, want %q", x.must, got, x.at)
		}
	}
}

// TestTypes holds that what an expression sees of a block is what it was checked against.
func TestTypes(t *testing.T) {
	v := review("")
	for _, kind := range design.HouseKinds {
		list := blocks(v, kind)
		if len(list) == 0 {
			t.Errorf("the design has no %s", kind)
		}
		for _, b := range list {
			got, want := object(v, b, nil, true).Type(), cty.Object(kindType(kind))
			for n, w := range want.AttributeTypes() {
				if !got.HasAttribute(n) || !got.AttributeType(n).Equals(w) {
					t.Errorf("%s of %s is not a %s", n, b.Subject(), w.FriendlyName())
				}
			}
			if len(got.AttributeTypes()) != len(want.AttributeTypes()) {
				t.Errorf("%s has %d attributes, want %d", b.Subject(), len(got.AttributeTypes()), len(want.AttributeTypes()))
			}
		}
	}
	for _, n := range []string{"size_mm2", "design_current_a", "device_a", "capacity_a", "utilisation_percent", "rise_percent", "path_rise_percent", "fault_max_ka", "loop_ohm", "loss_w", "legs", "length_m"} {
		if kindType("run")[n] != cty.Number {
			t.Errorf("run.%s is no number", n)
		}
	}
}

// TestFigures looks that figures come with the finding, and that a text shows them short.
func TestFigures(t *testing.T) {
	list := checked(`house_rule "r" {
  each    = "run"
  when    = run.name == "ramp"
  must    = run.design_current_a < 50 || run.size_mm2 > 25
  message = "it is ${run.design_current_a / 3} of ${run.legs}: ${format("%.1f", run.design_current_a)}"
}
`)
	if len(list) != 1 {
		t.Fatalf("found %v", list)
	}
	// 40000 / (sqrt3 x 400) = 57.7350 A, a third of it 19.2450
	if want := "it is 19.245 of 1: 57.7"; list[0].Message != want {
		t.Errorf("message %q, want %q", list[0].Message, want)
	}
	if f := list[0].Figures; len(f) != 2 || f[0].Key != "design_current_a" || f[0].Value < 57.735 || f[0].Value > 57.7351 || f[1] != (finding.Figure{Key: "size_mm2", Value: 25}) {
		t.Errorf("figures %v", f)
	}
}

// TestMessageUnknown looks that a finding is told although its text cannot be had.
func TestMessageUnknown(t *testing.T) {
	list := checked(strings.Replace(rule("run", "", "run.size_mm2 > 25"), `"not kept"`, `"earth ${run.earth_mm2}"`, 1))
	if len(list) != 1 || list[0].Message != `run "ramp" does not keep run.size_mm2 > 25` {
		t.Errorf("found %v", list)
	}
}

// TestLacks looks at what a note says is missing, and that a faulty constant is told alone.
func TestLacks(t *testing.T) {
	list := checked(rule("run", "", "run.earth_mm2 > 3 && !contains([for s in run.sections : s.length_m > 100], true) && run.loop_ohm < 1 && run.size_mm2 > 1"))
	if len(list) != 1 || !strings.Contains(list[0].Message, "for runs ramp, mains: run.earth_mm2, run.loop_ohm are not stated or could not be worked out") {
		t.Errorf("found %v", list)
	}
	list = checked(rule("run", "", "!contains([for s in run.sections : s.route.spacing_mm > 1], false)"))
	if len(list) != 1 || !strings.Contains(list[0].Message, ": [for s in run.sections : s.route.spacing_mm > 1] is not stated") {
		t.Errorf("found %v", list)
	}
	list = checked(rule("run", "", "run.size_mm2 > let.bad") + "let {\n  bad = 1 + \"x\"\n}\n")
	if len(list) != 1 || list[0].Subject != "let.bad" {
		t.Errorf("found %v", list)
	}
}

// TestJoin looks at order, names that are taken, and rules that cannot be run.
func TestJoin(t *testing.T) {
	v := review(rule("run", "", "run.size_mm2 > 3") + strings.Replace(rule("run", "", "run.size_mm > 3"), `"r"`, `"b-wrong"`, 1) + strings.Replace(rule("run", "", "run.size_mm2 > 3"), `"r"`, `"z-built-in"`, 1) +
		"waiver \"b-wrong\" {\n  on = run.ramp\n  reason = \"x\"\n}\n")
	list := Join(v, []*engine.Rule{{Name: "a-built-in"}, {Name: "waiver-stale"}, {Name: "z-built-in"}})
	var names []string
	for _, r := range list {
		names = append(names, r.Name)
		if r.Idle != (r.Name == "b-wrong") {
			t.Errorf("%s: idle %v", r.Name, r.Idle)
		}
	}
	if got := strings.Join(names, " "); got != "a-built-in b-wrong r waiver-stale z-built-in" {
		t.Errorf("joined to %s", got)
	}
	var faults []string
	for _, f := range v.Faults {
		faults = append(faults, f.Rule)
	}
	slices.Sort(faults)
	if got := strings.Join(faults, " "); got != "name-taken unknown-reference" {
		t.Errorf("faults %s", got)
	}
	if res := engine.Check(v, list, engine.Options{}); len(res.Findings) != 0 {
		t.Errorf("found %v", res.Findings)
	}
}

// TestBroken looks that nothing is said of a design that could not be read whole.
func TestBroken(t *testing.T) {
	for _, f := range checked(rule("run", "", "run.size_mm2 > 1000") + "run \"open\" {\n") {
		if f.Rule != "broken-text" {
			t.Errorf("%s: %s", f.Rule, f.Message)
		}
	}
}

// FuzzExpressions wants any text of expressions to end, without a fault of the program.
func FuzzExpressions(f *testing.F) {
	for _, s := range []string{
		`run.size_mm2 >= 25`, `run`, `run.sections[*].route.laid`, `[for s in run.sections : s.length_m / 0]`, `run[0]`, `run.x.y`, `!run.legs`, `-run.name`,
		`stated(run.ends) ? run.size_mm2 : run.name`, `run["size_mm2"] > 2`, `"${run.legs}" == 1`, `{ run = run.legs }.run > 1`, `run.sections.*.length_m[0] > 1`,
		`pow(run.legs, 9999999999)`, `null`, `run.legs % 0 == 0`, `let.least > run.legs`, `run.factors`, `run.sections[run.legs].length_m > 1`, `1 / run.earth_mm2 > 2`,
		`<<X
${run.legs}
X
`,
	} {
		f.Add(s, s)
	}
	f.Fuzz(func(t *testing.T, must, message string) {
		v := review("house_rule \"r\" {\n each = \"run\"\n must = " + must + "\n message = " + message + "\n}\n")
		for _, x := range engine.Check(v, Join(v, nil), engine.Options{}).Findings {
			if x.Rule == "internal-fault" {
				t.Errorf("%s", x.Message)
			}
			if x.Message == "" || x.At.File == nil || int(x.At.End) > len(x.At.File.Bytes) || x.At.Start > x.At.End {
				t.Errorf("finding %q at %d to %d", x.Message, x.At.Start, x.At.End)
			}
		}
	})
}
