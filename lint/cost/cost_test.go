package cost_test

import (
	"math"
	"slices"
	"strings"
	"testing"

	"trefoil/lint/assess"
	"trefoil/lint/cost"
	"trefoil/lint/design"
	"trefoil/lint/source"
	"trefoil/ratings/economy"
	"trefoil/ratings/quantity"
	"trefoil/ratings/sets"
)

func read(t testing.TB, text string) *assess.Review {
	t.Helper()
	d := design.Read(".", []*source.File{{Name: "site.hcl", Bytes: []byte(text)}})
	for _, f := range d.Faults {
		t.Errorf("%v: %s", f.At.File.Position(f.At.Start), f.Message)
	}
	return assess.Assess(d, assess.Named(sets.Find))
}

func readFaulty(text string) *assess.Review {
	return assess.Assess(design.Read(".", []*source.File{{Name: "site.hcl", Bytes: []byte(text)}}), assess.Named(sets.Find))
}

func near(t testing.TB, what string, got, want float64) {
	t.Helper()
	if !(math.Abs(got-want) <= 1e-9*math.Max(1, math.Abs(want))) {
		t.Errorf("%s is %.12g, want %.12g", what, got, want)
	}
}

// The yard of a saw mill; everything here is made up.
const yard = `
site "saw-mill" {
  ratings   = "iec-60364-5-52:2009"
  voltage_v = 400
  air_c     = 30
  ECONOMY
}
supply "pole" {
  fault_ka = 10
}
board "main" {
}
source "inv" {
  kind      = "inverter"
  rated_kva = 60
  phases    = 3
}
cable "cu" {
  conductor  = "copper"
  insulation = "xlpe-90"
  build      = "multicore"
  cores      = "4c+e"
  data "35" {
    r_ohm_km = 0.5
    outer_mm = 30
    kg_m     = 2
    origin   = "made up"
  }
}
cable "al" {
  conductor  = "aluminium"
  insulation = "xlpe-90"
  build      = "single-core"
  data "240" {
    outer_mm = 28
    kg_m     = 1
    origin   = "made up"
  }
}
route "shed" {
  laid          = "ladder"
  lid           = true
  width_mm      = 250
  span_m        = 1.5
  work_height_m = 4
  access        = "roof"
}
route "ground" {
  laid           = "buried-duct"
  duct_inside_mm = 90
}
run "inv" {
  from      = source.inv
  to        = board.main
  cable     = cable.cu
  size_mm2  = 35
  earth_mm2 = 16
  section {
    route    = route.shed
    length_m = 30
  }
  ends {
    at  = source.inv
    lug = "ferrule"
  }
}
run "mains" {
  from            = supply.pole
  to              = board.main
  cable           = cable.al
  size_mm2        = 240
  neutral_mm2     = 240
  earth_mm2       = 70
  earth_conductor = "copper"
  parallel        = 2
  leg_lengths_m   = [20, 19]
  section {
    route    = route.ground
    length_m = 20
  }
  ends {
    at   = board.main
    lug  = "aluminium"
    tail = "none"
  }
}
`

const prices = `
price "demo" {
  currency       = "EUR"
  date           = "2026-10-01"
  origin         = "made up"
  labour_per_h   = 50
  height_factors = { 3.5 = 1.1, 6 = 1.25 }
  access_factors = { roof = 1.2 }
  cable "cu" {
    per_m = { 35 = 10, 50 = 14 }
  }
  cable "al" {
    per_m = { 240 = 6 }
  }
  earth "copper" {
    per_m = { 70 = 7 }
  }
  lug "ferrule" {
    each = { 16 = 0.2, 35 = 0.3 }
  }
  lug "copper" {
    each = { 16 = 1, 35 = 2, 70 = 4 }
  }
  lug "bimetal" {
    each = { 240 = 12 }
  }
  lug "aluminium" {
    each = { 240 = 9 }
  }
  gland {
    each  = { 20 = 3, 28 = 4, 32 = 5 }
    hours = 0.5
  }
  termination "copper" {
    hours = { 16 = 0.1, 35 = 0.2, 70 = 0.3 }
  }
  termination "aluminium" {
    hours = 0.4
  }
  laying "ladder" {
    per_m             = { 150 = 15, 300 = 20, 450 = 30 }
    hours_per_m       = 0.3
    lid_per_m         = 8
    lid_hours_per_m   = 0.1
    fixing_each       = 5
    fixing_hours      = 0.25
    cable_hours_per_m = { 35 = 0.15 }
  }
  laying "buried-duct" {
    per_m             = 40
    hours_per_m       = 0.5
    duct_per_m        = { 75 = 3, 100 = 4.5 }
    duct_hours_per_m  = 0.05
    cable_hours_per_m = { 70 = 0.05, 240 = 0.1 }
  }
}
`

const worth = `economy {
    currency        = "EUR"
    energy_per_kwh  = 0.1
    energy_origin   = "made up"
    discount_percent = 5
    years           = 20
    capacity_factor = 0.2
    loss_factor     = 0.1
    factors_origin  = "made up"
  }`

func text(economy, more string) string { return strings.Replace(yard, "ECONOMY", economy, 1) + more }

func item(t *testing.T, list []cost.Item, kind cost.Kind, name, size string) cost.Item {
	t.Helper()
	for _, i := range list {
		if i.Kind == kind && i.Name == name && i.SizeText() == size {
			return i
		}
	}
	t.Errorf("no %s %s %s", kind.What(), name, size)
	return cost.Item{}
}

// TestRun is worked by hand. Run inv, 30 m of 4c+e 35 mm2 with an earth core of 16 mm2:
//
//	cable       30 m x 10                                               = 300
//	ferrules    at the inverter 4 x 35 mm2 at 0.3, 1 x 16 mm2 at 0.2    = 1.4
//	lugs        at the board 4 x 35 mm2 at 2, 1 x 16 mm2 at 1           = 9
//	glands      2 of 30 mm, so those up to 32 mm, at 5                  = 10
//	material                                                            = 320.4
//	laying      30 m x 0.15 h x 1.1 (4 m high) x 1.2 (roof)             = 5.94 h
//	connecting  8 x 0.2 + 2 x 0.1                                       = 1.8 h
//	glands      2 x 0.5                                                 = 1 h
//	labour      8.74 h x 50                                             = 437
//	copper      30 m x (4 x 35 + 16) mm2 x 8.89 kg/dm3                  = 41.6052 kg
//	loss        3 x (60 kVA/(sqrt3 x 400 V))^2 x 0.5 ohm/km x 30 m = 3 x 7500 x 0.015 = 337.5 W
//	a year      337.5 W x 0.1 x 8760 h = 295.65 kWh, at 0.1             = 29.565
//	20 years    x (1 - 1.05^-20) / 0.05                                 = 368.4453...
func TestRun(t *testing.T) {
	v := read(t, text(worth, prices))
	b := cost.NewBook(v.Design)
	r := b.Run(v, &v.Runs[0])
	if len(r.Lacks) > 0 {
		t.Errorf("lacks %q", r.Lacks)
	}
	for _, c := range []struct {
		kind       cost.Kind
		name, size string
		many, cost float64
	}{
		{cost.Cable, "cu", "35 mm2", 30, 300},
		{cost.Lug, "ferrule", "35 mm2", 4, 1.2},
		{cost.Lug, "ferrule", "16 mm2", 1, 0.2},
		{cost.Lug, "copper", "35 mm2", 4, 8},
		{cost.Lug, "copper", "16 mm2", 1, 1},
		{cost.Gland, "", "32 mm", 2, 10},
		{cost.LayCable, "ladder", "35 mm2", 5.94, 297},
		{cost.Terminate, "copper", "35 mm2", 1.6, 80},
		{cost.Terminate, "copper", "16 mm2", 0.2, 10},
		{cost.FitGland, "", "", 1, 50},
	} {
		i := item(t, r.Items, c.kind, c.name, c.size)
		near(t, c.kind.What()+" "+c.name+" "+c.size, i.Quantity.Value, c.many)
		near(t, "cost of "+c.kind.What()+" "+c.name+" "+c.size, i.Cost.Value, c.cost)
	}
	if len(r.Items) != 10 {
		t.Errorf("%d items", len(r.Items))
	}
	near(t, "material", r.Material.Value, 320.4)
	near(t, "hours", r.Hours.Value, 8.74)
	near(t, "labour", r.Labour.Value, 437)
	near(t, "copper", r.CopperKg.Value, 41.6052)
	near(t, "aluminium", r.AluminiumKg.Value, 0)
	near(t, "mass", r.CableKg.Value, 60)
	near(t, "loss at rated output", r.LossW.Value, 337.5)
	near(t, "loss of a year", r.LossKWh.Value, 295.65)
	near(t, "its cost", r.LossCost.Value, 29.565)
	near(t, "its worth", r.LossWorth.Value, 29.565*(1-math.Pow(1.05, -20))/0.05)
	first, total := r.First(), r.Total()
	near(t, "first cost", first.Value, 757.4)
	near(t, "total", total.Value, 757.4+29.565*(1-math.Pow(1.05, -20))/0.05)
	for what, sum := range map[string]cost.Sum{"total": total, "hours": r.Hours, "copper": r.CopperKg, "aluminium": r.AluminiumKg, "mass": r.CableKg, "metres": r.CableM, "loss": r.LossKWh, "its cost": r.LossCost} {
		if sum.Lacks != 0 || !sum.Maybe().Known {
			t.Errorf("%s lacks %d", what, sum.Lacks)
		}
	}
}

// TestSingleCores is worked by hand. Run mains, two legs of 20 and 19 m, four cores of
// 240 mm2 each, and one earth of 70 mm2 copper of 20 m:
//
//	cores       4 x 39 m x 6                                            = 936
//	earth       20 m x 7                                                = 140
//	lugs        at the pole 8 bimetal at 12 (not stated), at the board 8 aluminium at 9 = 168
//	earth lugs  2 copper of 70 mm2 at 4                                 = 8
//	glands      2 x 8 of 28 mm at 4                                     = 64
//	hours       156 m x 0.1 + 20 m x 0.05 + 16 x 0.4 + 2 x 0.3 + 16 x 0.5 = 31.6
//	aluminium   156 m x 240 mm2 x 2.70 kg/dm3                           = 101.088 kg
//	copper      20 m x 70 mm2 x 8.89 kg/dm3                             = 12.446 kg
func TestSingleCores(t *testing.T) {
	v := read(t, text(worth, prices))
	r := cost.NewBook(v.Design).Run(v, &v.Runs[1])
	if len(r.Lacks) > 0 {
		t.Errorf("lacks %q", r.Lacks)
	}
	near(t, "cores", item(t, r.Items, cost.Cable, "al", "240 mm2").Quantity.Value, 156)
	near(t, "earth", item(t, r.Items, cost.Earth, "copper", "70 mm2").Quantity.Value, 20)
	near(t, "bimetal", item(t, r.Items, cost.Lug, "bimetal", "240 mm2").Quantity.Value, 8)
	near(t, "aluminium lugs", item(t, r.Items, cost.Lug, "aluminium", "240 mm2").Quantity.Value, 8)
	near(t, "earth lugs", item(t, r.Items, cost.Lug, "copper", "70 mm2").Quantity.Value, 2)
	near(t, "glands", item(t, r.Items, cost.Gland, "", "28 mm").Quantity.Value, 16)
	near(t, "material", r.Material.Value, 936+140+168+8+64)
	near(t, "hours", r.Hours.Value, 31.6)
	near(t, "aluminium", r.AluminiumKg.Value, 101.088)
	near(t, "copper", r.CopperKg.Value, 12.446)
	near(t, "cables", r.CableM.Value, 176)
	if !r.Assumed {
		t.Error("nobody stated the lugs at the pole")
	}
	// The loss of both legs in parallel: a quarter of the square, twice.
	a := &v.Runs[1]
	near(t, "loss", r.LossW.Value, 3*7500/2*a.ROhmKM().Value*20/1000)
}

// TestRoutes is worked by hand. The ladder of 30 m, 250 mm wide and so bought 300 wide:
// 30 x 20, lid 30 x 8, 30/1.5 + 1 = 21 fixings at 5; hours 30 x 0.3 + 30 x 0.1 + 21 x 0.25 = 17.25
// x 1.1 x 1.2. The trench of 20 m: 20 x 40, and two ducts of 90 mm, bought 100: 40 m x 4.5; hours
// 20 x 0.5 + 40 x 0.05 = 12.
func TestRoutes(t *testing.T) {
	v := read(t, text(worth, prices))
	b := cost.Of(v)
	if len(b.Lacks) > 0 {
		t.Errorf("lacks %q", b.Lacks)
	}
	shed, ground := b.Routes[0], b.Routes[1]
	near(t, "ladder", item(t, shed.Items, cost.Support, "ladder", "250 mm").Cost.Value, 600)
	near(t, "lid", item(t, shed.Items, cost.Lid, "ladder", "250 mm").Cost.Value, 240)
	near(t, "fixings", item(t, shed.Items, cost.Fixing, "ladder", "").Cost.Value, 105)
	near(t, "hours", shed.Hours.Value, 17.25*1.32)
	near(t, "trench", item(t, ground.Items, cost.Support, "buried-duct", "").Cost.Value, 800)
	near(t, "ducts", item(t, ground.Items, cost.Duct, "buried-duct", "90 mm").Cost.Value, 180)
	near(t, "hours", ground.Hours.Value, 12)
	near(t, "material", b.Material.Value, 320.4+1316+945+980)
	near(t, "hours of all", b.Hours.Value, 8.74+31.6+17.25*1.32+12)
	near(t, "labour of all", b.Labour.Value, 50*b.Hours.Value)
	near(t, "glands of all", item(t, b.Items, cost.FitGland, "", "").Quantity.Value, 9)
	sum := 0.0
	for _, i := range b.Items {
		sum += i.Cost.Value
	}
	near(t, "the lines", sum, b.First().Value)
}

// TestRouteFacts looks at lengths that are stated, tiers, and what is there already.
func TestRouteFacts(t *testing.T) {
	v := read(t, strings.Replace(text("", prices), "width_mm      = 250", "width_mm = 250\n  length_m = 37\n  tiers = 2", 1))
	r := cost.Of(v).Routes[0]
	near(t, "ladder", item(t, r.Items, cost.Support, "ladder", "250 mm").Quantity.Value, 74)
	near(t, "fixings", item(t, r.Items, cost.Fixing, "ladder", "").Quantity.Value, 2*26)
	if r.Assumed {
		t.Error("the length is stated")
	}
	v = read(t, strings.Replace(text("", prices), "width_mm      = 250", "existing = true", 1))
	if r := cost.Of(v).Routes[0]; len(r.Items) > 0 || r.First().Lacks > 0 {
		t.Errorf("%+v", r)
	}
	// Clipped cables have no support of their own, and a conduit is bought by its bore.
	v = read(t, strings.Replace(strings.Replace(text("", prices), `laid          = "ladder"`, `laid = "clipped"`, 1), "lid           = true", "", 1))
	if r := cost.Of(v).Routes[0]; len(r.Items) != 2 || r.Items[0].Kind != cost.Fixing || r.Items[0].Quantity.Value != 21 {
		t.Errorf("%+v", r.Items)
	}
	v = read(t, strings.Replace(strings.Replace(text("", prices+"price \"more\" {\n  currency = \"EUR\"\n  date = \"2026-10-01\"\n  origin = \"made up\"\n  laying \"conduit\" {\n    per_m = { 40 = 3, 63 = 5 }\n  }\n}\n"), `laid          = "ladder"`, `laid = "conduit"`+"\n  duct_inside_mm = 50", 1), "lid           = true", "", 1))
	near(t, "conduit", item(t, cost.Of(v).Routes[0].Items, cost.Support, "conduit", "50 mm").Price.Value, 5)
}

// TestLacks takes prices and facts away one by one: the quantity stays, the sum says how
// much is missing, and the text says what.
func TestLacks(t *testing.T) {
	for name, c := range map[string]struct {
		from, to string // in the list or the yard
		run      int
		says     string
		unpriced bool
		more     int // sums that lack something which is no item
	}{
		"cable":       {"35 = 10, 50", "50", 0, "no price for cable.cu 35 mm2 in price.demo", true, 0},
		"lug":         {"each = { 16 = 1, 35 = 2, 70", "each = { 16 = 1, 70", 0, "no price for copper lug 35 mm2 in price.demo", true, 0},
		"gland":       {"32 = 5", "29 = 5", 0, "no price for gland 30 mm in price.demo", true, 0},
		"hours":       {"cable_hours_per_m = { 35 = 0.15 }", "", 0, "no hours for ladder laying of cable 35 mm2 in price.demo", true, 0},
		"termination": {"{ 16 = 0.1, 35", "{ 35", 0, "no hours for copper termination 16 mm2 in price.demo", true, 0},
		"rate":        {"labour_per_h   = 50", "", 0, "no labour_per_h in price.demo", true, 0},
		"access":      {`access        = "roof"`, `access = "crane"`, 0, `no access factor "crane" in price.demo`, true, 0},
		"earth":       {"per_m = { 70 = 7 }", "per_m = { 95 = 7 }", 1, "no price for copper earth conductor 70 mm2 in price.demo", true, 0},
		"neutral":     {"neutral_mm2     = 240", "", 1, `run "mains": whether a neutral lies beside the single cores is not stated`, false, 1},
		"tail":        {`tail = "none"`, `tail = "copper"`, 1, "no price for copper tail 240 mm2 in price.demo", true, 0},
	} {
		t.Run(name, func(t *testing.T) {
			whole := text(worth, prices)
			if !strings.Contains(whole, c.from) {
				t.Fatalf("%q is not in the design", c.from)
			}
			v := read(t, strings.Replace(whole, c.from, c.to, 1))
			r := cost.NewBook(v.Design).Run(v, &v.Runs[c.run])
			if !slices.Equal(r.Lacks, []string{c.says}) {
				t.Errorf("lacks %q", r.Lacks)
			}
			n := 0
			for _, i := range r.Items {
				if i.Lack == "" {
					continue
				}
				n++
				if i.Cost.Known || i.Cost.Value != 0 || i.Unpriced != c.unpriced {
					t.Errorf("%+v", i)
				}
				if !i.Kind.Labour() && c.unpriced && !i.Quantity.Known {
					t.Errorf("%s has lost its quantity", i.Kind.What())
				}
			}
			total := r.Total()
			if n == 0 || total.Lacks != n+c.more || total.Maybe().Known || total.Value <= 0 {
				t.Errorf("%d items lack, the sum says %d", n, total.Lacks)
			}
		})
	}
}

// TestNoPrices looks that a design without any list still has its quantities.
func TestNoPrices(t *testing.T) {
	v := read(t, text("", ""))
	b := cost.Of(v)
	near(t, "cable", item(t, b.Items, cost.Cable, "cu", "35 mm2").Quantity.Value, 30)
	if b.Material.Value != 0 || b.Material.Lacks == 0 || b.Total().Maybe().Known {
		t.Errorf("%+v", b.Material)
	}
	if !slices.Contains(b.Lacks, "the design has no price list") {
		t.Errorf("%q", b.Lacks)
	}
	for _, i := range b.Items {
		if i.Kind.Labour() || i.Cost.Known {
			t.Errorf("%+v", i)
		}
	}
	// A loss is known without its worth, by the half-sine, and says that it is assumed:
	// 337.5 W x 0.5 x 0.6^2 x 12/24 x 8760 h = 266.085 kWh.
	if k := b.Book; !k.Assumed || !strings.HasPrefix(k.OutputBy, "assumed:") {
		t.Errorf("%q", k.OutputBy)
	}
	near(t, "loss", b.Runs[0].LossKWh.Value, 266.085)
	if b.Runs[0].LossCost.Lacks != 1 || b.Runs[0].LossWorth.Lacks != 1 {
		t.Errorf("%+v", b.Runs[0].Totals)
	}
}

// TestUnusable looks that what cannot be counted is said and is no nothing.
func TestUnusable(t *testing.T) {
	v := readFaulty(strings.Replace(text(worth, prices), "size_mm2  = 35", "", 1))
	r := cost.NewBook(v.Design).Run(v, &v.Runs[0])
	if len(r.Lacks) != 1 || r.Total().Maybe().Known || r.CopperKg.Maybe().Known || r.CableM.Maybe().Known {
		t.Errorf("%+v", r)
	}
	v = readFaulty(strings.Replace(text(worth, prices), "length_m = 30", "length_m = -30", 1))
	b := cost.Of(v)
	r = b.Runs[0]
	if r.Material.Maybe().Known || r.CableM.Maybe().Known || r.LossKWh.Maybe().Known || b.Routes[0].Material.Maybe().Known {
		t.Errorf("%+v", r.Totals)
	}
	near(t, "glands are counted all the same", item(t, r.Items, cost.Gland, "", "32 mm").Quantity.Value, 2)
}

// TestVariant asks for a run as the search for a better buy does: a copy of it with another
// size and cable type.
func TestVariant(t *testing.T) {
	v := read(t, text(worth, prices))
	b := cost.NewBook(v.Design)
	run, a := *v.Runs[0].Run, v.Runs[0]
	run.SizeMM2.Value, run.Size = 50, quantity.MM2(50)
	a.Run = &run
	r := b.Run(v, &a)
	near(t, "cable", item(t, r.Items, cost.Cable, "cu", "50 mm2").Cost.Value, 30*14)

	other := *a.Cable // a copy of the declared type: the same thing to buy
	other.Name = "trial"
	a.Cable = &other
	r = b.Run(v, &a)
	near(t, "a type like it", item(t, r.Items, cost.Cable, "cu", "50 mm2").Cost.Value, 30*14)

	other.Conductor.Value = "aluminium"
	other.Name = "cu"
	r = b.Run(v, &a)
	i := item(t, r.Items, cost.Cable, "aluminium stranded xlpe-90 multicore 4c+e", "50 mm2")
	if i.Cost.Known || i.Quantity.Value != 30 || !i.Unpriced {
		t.Errorf("%+v", i)
	}
	a.Legs = 3
	run.Parallel.Value = 3
	r = b.Run(v, &a)
	near(t, "three legs", r.CableM.Value, 90)
}

// TestOutput looks where the factors come from.
func TestOutput(t *testing.T) {
	with := func(lines string) string {
		cut := strings.Index(worth, "    capacity_factor")
		return worth[:cut] + lines + "\n  }"
	}
	v := read(t, text(with("    peak_share = 0.8"), ""))
	b := cost.NewBook(v.Design)
	if b.Assumed || b.Output != economy.HalfSine(12, 0.8) {
		t.Errorf("%+v", b)
	}
	v = read(t, text(with(`    load_profile = "p.csv"`), ""))
	if b := cost.NewBook(v.Design); b.Factors.Known || b.PerW.Known || b.OutputBy != "load_profile could not be read" {
		t.Errorf("%+v", b)
	}
	v.Design.ReadProfile(func(string) (*source.File, error) {
		return &source.File{Name: "p.csv", Bytes: []byte(strings.Repeat("1\n0\n", 12))}, nil
	})
	b = cost.NewBook(v.Design)
	near(t, "loss factor", b.Factors.Value, 0.5)
	near(t, "worth", b.PerW.Value, 0.5*8760*0.1/1000*(1-math.Pow(1.05, -20))/0.05)
}

// TestLibraryPrices looks that the design's own list goes before that of its library.
func TestLibraryPrices(t *testing.T) {
	list := func(price string) string {
		return "price \"p\" {\n  currency = \"EUR\"\n  date = \"2026-10-01\"\n  origin = \"made up\"\n  cable \"cu\" {\n    per_m = " + price + "\n  }\n}\n"
	}
	shared := strings.Replace(list("{ 35 = 9, 50 = 13 }"), `"p"`, `"shared"`, 1)
	d := design.ReadWith(".", []*source.File{{Name: "site.hcl", Bytes: []byte(text("", list("{ 35 = 8 }")))}}, design.Library{Files: []*source.File{{Name: "../c/p.hcl", Library: true, Bytes: []byte(shared)}}})
	for _, f := range d.Faults {
		t.Error(f.Message)
	}
	v := assess.Assess(d, assess.Named(sets.Find))
	b := cost.NewBook(d)
	near(t, "own", b.Run(v, &v.Runs[0]).Items[0].Price.Value, 8)
	v.Runs[0].Run.Size, v.Runs[0].Run.SizeMM2.Value = quantity.MM2(50), 50
	near(t, "shared", b.Run(v, &v.Runs[0]).Items[0].Price.Value, 13)
}

// BenchmarkRun is one variant.
func BenchmarkRun(b *testing.B) {
	v := read(b, text(worth, prices))
	book := cost.NewBook(v.Design)
	b.ReportAllocs()
	for b.Loop() {
		book.Run(v, &v.Runs[0])
	}
}
