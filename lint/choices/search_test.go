package choices

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"trefoil/lint/assess"
	"trefoil/lint/design"
	"trefoil/lint/engine"
	"trefoil/lint/finding"
	"trefoil/lint/source"
	"trefoil/ratings/quantity"
	"trefoil/ratings/sets"
	"trefoil/rules"
)

var today = time.Date(2026, 7, 1, 0, 0, 0, 0, time.UTC)

func files(text string) []*source.File {
	return []*source.File{{Name: "site.hcl", Bytes: []byte(text)}}
}

func assessed(text string) *assess.Review {
	return assess.Assess(design.Read("", files(text)), assess.Named(sets.Find))
}

// made up: area and length cost money, a leg more, and loss by the resistance.
func price(v *assess.Review, a *assess.Run) Cost {
	rate := 0.09
	if a.Cable.Conductor.Value == "aluminium" {
		rate = 0.04
	}
	area := a.Run.Size.MM2 * float64(a.Legs)
	m := (3+rate*area)*a.LengthM.Value + 20*float64(a.Legs)
	c := Cost{MetalKg: quantity.Of(area * a.LengthM.Value * 0.0089), Material: quantity.Of(m), LossKWh: quantity.Of(a.WarmLossW().Value * 2)}
	c.Losses = quantity.Of(a.WarmLossW().Value * 0.4)
	c.Total = quantity.Of(m + c.Losses.Value)
	return c
}

// site writes a design of so many runs: a main, boards behind it, sources on shared
// trays; single-phase ones too, where asked for.
func site(rng *rand.Rand, runs int, single bool) string {
	var b strings.Builder
	limit := []float64{0.6, 0.9, 1.2, 2, 3}[rng.IntN(5)]
	set := []string{"iec-60364-5-52:2009", "bs-7671:2018", "iec-60287"}[rng.IntN(3)]
	fmt.Fprintf(&b, "site \"s\" {\n  ratings = %q\n  voltage_v = 400\n  air_c = %d\n  rise_limit_percent = %g\n}\n", set, []int{25, 30, 40}[rng.IntN(3)], limit)
	b.WriteString("supply \"grid\" {\n  fault_ka = 16\n  fault_min_ka = 9\n  earth_loop_ohm = 0.02\n  earthing = \"tn-s\"\n  x_over_r = 1\n}\n")
	b.WriteString("cable \"cu\" {\n  conductor = \"copper\"\n  insulation = \"xlpe-90\"\n  build = \"multicore\"\n  cores = \"4c+e\"\n}\n")
	boards := 1 + rng.IntN(2)
	trays := 1 + rng.IntN(2)
	for t := range trays {
		laid := []string{"perforated-tray", "ladder", "trunking", "clipped"}[rng.IntN(4)]
		fmt.Fprintf(&b, "route \"tray-%d\" {\n  laid = %q\n  other_circuits = %d\n}\n", t, laid, rng.IntN(2))
	}
	b.WriteString("route \"mains\" {\n  laid = \"ladder\"\n  other_circuits = 0\n}\n")
	run := func(name, from, to, route string, size int, device, length float64) {
		fmt.Fprintf(&b, "run %q {\n  from = %s\n  to = %s\n  cable = cable.cu\n  size_mm2 = %d\n", name, from, to, size)
		if rng.IntN(2) == 0 {
			fmt.Fprintf(&b, "  earth_mm2 = %d\n", size)
		}
		if device > 0 {
			fmt.Fprintf(&b, "  device {\n    kind = \"mccb\"\n    rated_a = %g\n    breaking_ka = 25\n    instant_a = %g\n  }\n", device, 8*device)
		}
		fmt.Fprintf(&b, "  section {\n    route = route.%s\n    length_m = %g\n  }\n}\n", route, length)
	}
	left := runs - boards
	b.WriteString("board \"b0\" {\n  rated_a = 2000\n}\n")
	current := make([]float64, boards)
	type leaf struct {
		name  string
		board int
		a     float64
	}
	var leaves []leaf
	for i := range left {
		l := leaf{fmt.Sprintf("inv-%d", i), rng.IntN(boards), float64(20 + rng.IntN(70))}
		phases := "phases = 3"
		if single && rng.IntN(2) == 0 {
			phases = fmt.Sprintf("phases = 1\n  phase = \"L%d\"", 1+rng.IntN(3))
		}
		fmt.Fprintf(&b, "source %q {\n  kind = \"inverter\"\n  max_current_a = %g\n  %s\n}\n", l.name, l.a, phases)
		current[l.board] += l.a
		leaves = append(leaves, l)
	}
	if boards == 2 {
		b.WriteString("board \"b1\" {\n  rated_a = 1000\n}\n")
		run("sub", "board.b1", "board.b0", "tray-0", 240, 0, float64(10+rng.IntN(40)))
		current[0] += current[1]
	}
	run("main", "board.b0", "supply.grid", "mains", 400, 0, float64(3+rng.IntN(25)))
	for _, l := range leaves {
		device := 0.0
		if rng.IntN(3) > 0 {
			device = math.Ceil(l.a/5)*5 + 10
		}
		run(l.name, "source."+l.name, fmt.Sprintf("board.b%d", l.board), fmt.Sprintf("tray-%d", rng.IntN(trays)), 70, device, float64(5+rng.IntN(60)))
	}
	return b.String()
}

// everything tries every combination of options and layings, each assessed from the text
// anew, and gives the least cost of those that pass. Copies of a set have one option.
func everything(t *testing.T, text string, q Ask) (least float64, passing, all int) {
	t.Helper()
	v := assessed(text)
	l := NewLister(v, rules.All(), price, routePrice, today)
	options := make([][]Choice, len(v.Runs))
	var free []int // runs that choose for themselves and their copies
	for i := range v.Runs {
		a := &v.Runs[i]
		if l.group(i)[0] == i {
			free = append(free, i)
		}
		legs := q.Legs
		if len(legs) == 0 {
			legs = []int{a.Legs}
		}
		sizes := q.Sizes
		if !slices.Contains(sizes, a.Run.Size) {
			sizes = append([]quantity.Size{a.Run.Size}, sizes...)
		}
		for _, n := range legs {
			for _, size := range sizes {
				c := l.choose([]int{i}, Kind{a.Cable, true}, size, n)
				if !c.Drawn {
					l.earth(l.group(i), &c)
				}
				options[i] = append(options[i], c)
			}
		}
	}
	layings := append([]string{""}, q.Laid...)
	counts := make([]int, len(free)) // of each choice: runs, then routes
	for k, i := range free {
		counts[k] = len(options[i])
	}
	if len(q.Laid) > 0 {
		for range v.Design.Routes {
			counts = append(counts, len(layings))
		}
	}
	least = math.Inf(1)
	pick := make([]int, len(counts))
	for {
		all++
		d := design.Read("", files(text))
		for k, i := range free {
			for _, j := range l.group(i) {
				*d.Runs[j] = *options[j][pick[k]].To()
			}
		}
		for k, r := range d.Routes {
			if k+len(free) < len(pick) && layings[pick[k+len(free)]] != "" {
				*r = Laid(r, layings[pick[k+len(free)]])
			}
		}
		w := assess.Assess(d, assess.Named(sets.Find))
		ok := true
		for _, f := range engine.Part(w, l.rules, today) {
			ok = ok && (f.Severity != finding.Error || f.Waived)
		}
		if ok {
			passing++
			sum := 0.0
			for i := range w.Runs {
				c := price(w, &w.Runs[i])
				sum += c.Total.Value
			}
			for _, r := range d.Routes {
				if len(q.Laid) > 0 {
					sum += routePrice(w, w.Shared[r]).Value
				}
			}
			least = min(least, sum)
		}
		k := 0
		for ; k < len(pick); k++ {
			if pick[k]++; pick[k] < counts[k] {
				break
			}
			pick[k] = 0
		}
		if k == len(pick) {
			return least, passing, all
		}
	}
}

// made up: a tray costs more than a clip.
func routePrice(_ *assess.Review, shared *assess.Shared) quantity.Maybe {
	if shared == nil {
		return quantity.Of(0)
	}
	each := map[string]float64{"perforated-tray": 900, "ladder": 700, "trunking": 500, "clipped": 120}
	return quantity.Of(each[shared.Route.Laid.Value])
}

// copies writes a design with a set of copies of unlike lengths.
func copies(rng *rand.Rand) string {
	text := fmt.Sprintf("site \"s\" {\n  ratings = \"iec-60364-5-52:2009\"\n  voltage_v = 400\n  rise_limit_percent = %g\n}\n", []float64{0.5, 0.8, 1.5}[rng.IntN(3)])
	text += "supply \"g\" {\n  fault_ka = 9\n}\nboard \"b\" {\n  rated_a = 400\n}\n"
	text += "cable \"cu\" {\n  conductor = \"copper\"\n  insulation = \"xlpe-90\"\n  build = \"multicore\"\n  cores = \"4c\"\n}\n"
	text += fmt.Sprintf("source \"inv\" {\n  copies = 3\n  kind = \"inverter\"\n  max_current_a = %d\n  phases = 3\n}\n", 30+rng.IntN(40))
	text += "route \"r\" {\n  laid = \"trunking\"\n  other_circuits = 0\n}\nroute \"m\" {\n  laid = \"ladder\"\n  other_circuits = 0\n}\n"
	text += fmt.Sprintf("run \"inv\" {\n  copies = 3\n  from = source.inv[copy.key]\n  to = board.b\n  cable = cable.cu\n  size_mm2 = 70\n  section {\n    route = route.r\n    length_m = %d * copy.number\n  }\n}\n", 3+rng.IntN(12))
	return text + "run \"m\" {\n  from = board.b\n  to = supply.g\n  cable = cable.cu\n  size_mm2 = 185\n  section {\n    route = route.m\n    length_m = 9\n  }\n}\n"
}

func every(v *assess.Review) []int {
	list := make([]int, len(v.Runs))
	for i := range list {
		list[i] = i
	}
	return list
}

func mm2(sizes ...float64) (list []quantity.Size) {
	for _, s := range sizes {
		list = append(list, quantity.MM2(s))
	}
	return list
}

// Up to eight runs the plan is as cheap as the cheapest of all combinations, each of which
// is assessed from the text anew, and its bound is that figure.
func TestExactAgainstEverything(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 1))
	found, none := 0, 0
	designs := 36
	if testing.Short() {
		designs = 8
	}
	for n := range designs {
		runs := 3 + n%6
		q := Ask{Sizes: mm2(16, 35, 150, 300)} // and what is drawn
		switch {
		case runs >= 7:
			q.Sizes = mm2([]float64{25, 95, 240}[rng.IntN(3)])
		case runs == 6:
			q.Sizes = mm2(16, 120)
		case runs == 5:
			q.Sizes = mm2(35, 120)
		case runs == 4 && n%2 == 0:
			q.Sizes, q.Legs = mm2(25), []int{1, 2}
		case runs == 3 && n%2 == 0:
			q.Sizes, q.Laid = mm2(35, 120), []string{"clipped", "ladder"}
		}
		text := site(rng, runs, n%3 == 0)
		if n >= 30 {
			text, q = copies(rng), Ask{Sizes: mm2(16, 25, 35, 95, 240)}
		}
		least, passing, all := everything(t, text, q)
		v := assessed(text)
		p, err := NewLister(v, rules.All(), price, routePrice, today).Plan(every(v), q)
		if passing == 0 {
			none++
			if err == nil && p.Passes {
				t.Errorf("%d: a plan passes where no combination does", n)
			}
			continue
		}
		found++
		switch {
		case err != nil:
			t.Errorf("%d: %v, and %d of %d combinations pass", n, err, passing, all)
		case !p.Passes || math.Abs(p.To.Value-least) > 1e-6*least:
			t.Errorf("%d: the plan comes to %v (%t), and the cheapest of %d that pass to %v", n, p.To, p.Passes, passing, least)
		case !p.Exact || math.Abs(p.Bound.Value-least) > 1e-6*least:
			t.Errorf("%d: exact %t, bound %v", n, p.Exact, p.Bound)
		}
	}
	if !testing.Short() && (found < 15 || none == 0) {
		t.Errorf("%d designs with an answer, %d without", found, none)
	}
}

// For more runs than that, what is left of the gap to the bound is told; it holds the
// cheapest of all combinations between bound and plan.
func TestBoundedAgainstEverything(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 1))
	same, found := 0, 0
	designs := 14
	if testing.Short() {
		designs = 4
	}
	for n := range designs {
		q := Ask{Sizes: mm2(16, 35, 150)}
		text := site(rng, 3+n%2, n%3 == 0)
		least, passing, _ := everything(t, text, q)
		if passing == 0 {
			continue
		}
		v := assessed(text)
		l := NewLister(v, rules.All(), price, routePrice, today)
		s, err := l.prepare(every(v), q)
		if err != nil {
			t.Fatal(err)
		}
		p := &Plan{}
		s.fill(p, s.bounded(p))
		if !p.Passes {
			continue // told as such
		}
		found++
		if p.Bound.Value > least*(1+1e-9) || p.To.Value < least*(1-1e-9) {
			t.Errorf("%d: bound %v, cheapest %v, plan %v", n, p.Bound, least, p.To)
		}
		if p.To.Value <= least*(1+1e-9) {
			same++
		}
	}
	if !testing.Short() && found < 6 || same < found*2/3 {
		t.Errorf("%d plans that pass, %d of them the cheapest", found, same)
	}
}

// Trying single cores writes a neutral into the run that is tried, and into no other one: runs
// that state nothing rare share what they do not state.
func TestNothingIsLeft(t *testing.T) {
	v := assessed(copies(rand.New(rand.NewPCG(1, 1))))
	l := NewLister(v, rules.All(), price, nil, today)
	for i := range v.Runs {
		if _, err := l.List(i, Ask{Builds: []string{"single-core"}, Sizes: mm2(50, 95)}); err != nil {
			t.Fatal(err)
		}
	}
	for i := range v.Runs {
		if n := v.Runs[i].Run.NeutralMM2; n.Origin != design.Absent || n.Value != 0 {
			t.Errorf("run %s states a neutral of %v now", v.Runs[i].Run.Name, n)
		}
	}
}
