package design

import (
	"errors"
	"fmt"
	"strings"
	"testing"

	"trefoil/lint/source"
	"trefoil/ratings/quantity"
)

const list = `price "a" {
  currency     = "EUR"
  date         = "2026-10-01"
  origin       = "made up"
  labour_per_h = let.hour
  height_factors = { 3.5 = 1.1, 6 = 1.25 }
  access_factors = { roof = 1.2 }
  cable "cu" {
    per_m = {
      16        = 6.5
      25        = let.hour / 6
      "4/0 AWG" = 40
    }
  }
  earth "copper" {
    per_m = { for s, p in let.bare : s => p * 2 }
  }
  lug "bimetal" {
    each = { 16 = 3 }
  }
  termination "copper" {
    hours = 0.25
  }
  gland {
    each  = { 25 = 4.5, 32.5 = 6 }
    hours = 0.2
  }
  laying "ladder" {
    per_m             = { 300 = 31 }
    lid_per_m         = 14
    fixing_each       = 3.2
    cable_hours_per_m = { 16 = 0.1 }
  }
}
let {
  hour = 60
  bare = { "16" = 1, "25" = 1.5 }
}
`

// TestPrice looks that a list is read as it is written, with let and expressions.
func TestPrice(t *testing.T) {
	d := read(t, list)
	for _, f := range d.Faults {
		t.Errorf("%s at %q: %s", f.Rule, f.At.Text(), f.Message)
	}
	p := d.Prices[0]
	if p.Currency.Value != "EUR" || p.Date.Value != "2026-10-01" || p.LabourPerH.Value != 60 {
		t.Errorf("%+v", p)
	}
	gauge, _ := quantity.AWG("4/0")
	rows := p.Cables[0].Price.Rows
	for i, want := range []struct {
		size  quantity.Size
		value float64
	}{{quantity.MM2(16), 6.5}, {quantity.MM2(25), 10}, {gauge, 40}} {
		if rows[i].Size != want.size || rows[i].Value.Value != want.value || rows[i].Value.Origin != Stated {
			t.Errorf("row %d: %+v", i, rows[i])
		}
	}
	if got := rows[0].Value.At.Text(); got != "16        = 6.5" {
		t.Errorf("the row stands at %q", got)
	}
	if bare := p.Earths[0].Price.Rows; len(bare) != 2 || bare[1].Size.MM2 != 25 || bare[1].Value.Value != 3 {
		t.Errorf("%+v", bare)
	}
	if h := p.HeightFactors.Rows; len(h) != 2 || h[0].From != 3.5 || h[1].Value.Value != 1.25 {
		t.Errorf("%+v", h)
	}
	if a := p.AccessFactors.Rows; len(a) != 1 || a[0].Name != "roof" {
		t.Errorf("%+v", a)
	}
	if w := p.Terminations[0].Hours.Rows; len(w) != 1 || !w[0].Every || w[0].Value.Value != 0.25 {
		t.Errorf("%+v", w)
	}
	if l := p.Layings[0]; l.PerM.Rows[0].From != 300 || !l.LidPerM.Rows[0].Every || l.FixingEach.Value != 3.2 {
		t.Errorf("%+v", l)
	}
}

func withEconomy(economy string) string {
	return "site \"s\" {\n ratings = \"x\"\n voltage_v = 400\n economy {\n" + economy + "\n }\n}\n"
}

const worth = " currency = \"EUR\"\n energy_per_kwh = 0.1\n energy_origin = \"o\"\n discount_percent = 5\n years = 20\n"

// TestPriceFaults looks that each mistake is told once, at its place.
func TestPriceFaults(t *testing.T) {
	in := func(text string) string {
		return "price \"a\" {\n currency = \"EUR\"\n date = \"2026-10-01\"\n origin = \"o\"\n" + text + "\n}\n"
	}
	for name, c := range map[string]struct{ text, rule, at, says string }{
		"currency missing":     {"price \"a\" {\n date = \"2026-10-01\"\n origin = \"o\"\n}", "value-missing", `price "a" {`, "currency"},
		"date missing":         {"price \"a\" {\n currency = \"EUR\"\n origin = \"o\"\n}", "value-missing", `price "a" {`, "date"},
		"origin missing":       {"price \"a\" {\n currency = \"EUR\"\n date = \"2026-10-01\"\n}", "value-missing", `price "a" {`, "origin"},
		"origin blank":         {"price \"a\" {\n currency = \"EUR\"\n date = \"2026-10-01\"\n origin = \" \"\n}", "value-missing", `" "`, "empty"},
		"currency sign":        {"price \"a\" {\n currency = \"€\"\n date = \"2026-10-01\"\n origin = \"o\"\n}", "value-impossible", `"€"`, "ISO 4217"},
		"no day":               {"price \"a\" {\n currency = \"EUR\"\n date = \"1.10.2026\"\n origin = \"o\"\n}", "value-impossible", `"1.10.2026"`, "YYYY-MM-DD"},
		"two currencies":       {in("") + "price \"b\" {\n currency = \"USD\"\n date = \"2026-10-01\"\n origin = \"o\"\n}", "value-impossible", `"USD"`, `price "b" is in USD, and price "a" in EUR`},
		"currency of energy":   {in("") + withEconomy(strings.Replace(worth, "EUR", "AUD", 1)), "value-impossible", `"AUD"`, `the economy of the site is in AUD, and price "a" in EUR`},
		"negative rate":        {in(" labour_per_h = -3"), "value-impossible", "-3", "at least 0"},
		"negative":             {in(" lug \"copper\" {\n each = { 16 = -1 }\n }"), "value-impossible", "16 = -1", "at least 0"},
		"negative by let":      {in(" lug \"copper\" {\n each = { 16 = let.x }\n }") + "let {\n x = -4\n}", "value-impossible", "16 = let.x", "is -4"},
		"negative for all":     {in(" lug \"copper\" {\n each = -2\n }"), "value-impossible", "-2", "at least 0"},
		"a size twice":         {in(" cable \"c\" {\n per_m = { 16 = 1, \"16 mm2\" = 2 }\n }"), "name-taken", `"16 mm2"`, "twice"},
		"no size":              {in(" cable \"c\" {\n per_m = { big = 1 }\n }"), "value-impossible", "big", "no"},
		"no price":             {in(" cable \"c\" {\n per_m = { 16 = \"dear\" }\n }"), "value-impossible", `16 = "dear"`, "must be a number"},
		"a row of null":        {in(" cable \"c\" {\n per_m = { 16 = (true ? null : \"x\") }\n }"), "value-impossible", "16 = (true ? null : \"x\")", "is null"},
		"nested":               {in(" cable \"c\" {\n per_m = { 16 = { 2 = 3 } }\n }"), "value-impossible", "16 = { 2 = 3 }", "must be a number"},
		"no rows":              {in(" cable \"c\" {\n per_m = {}\n }"), "value-impossible", "per_m = {}", "a row for each size"},
		"a list":               {in(" cable \"c\" {\n per_m = [1, 2]\n }"), "value-impossible", "[1, 2]", "a row for each size"},
		"names need rows":      {in(" access_factors = 1.2"), "value-impossible", "1.2", "roof = 1.2"},
		"division as a key":    {in(" cable \"c\" {\n per_m = { 4/0 = 1 }\n }"), "value-impossible", "4/0", ""},
		"key by let":           {in(" cable \"c\" {\n per_m = { (let.x) = 1 }\n }") + "let {\n x = 16\n}", "value-impossible", "(let.x)", "write it out"},
		"per_m missing":        {in(" cable \"c\" {\n }"), "value-missing", `cable "c" {`, "per_m"},
		"cable twice":          {in(" cable \"c\" {\n per_m = 1\n }\n cable \"c\" {\n per_m = 2\n }"), "name-taken", `"c"`, "twice"},
		"no lug":               {in(" lug \"tin\" {\n each = 1\n }"), "value-impossible", `"tin"`, "bimetal, copper"},
		"no laying":            {in(" laying \"ladderr\" {\n }"), "value-impossible", `"ladderr"`, `did you mean "ladder"`},
		"no metal":             {in(" termination \"iron\" {\n hours = 1\n }"), "value-impossible", `"iron"`, "copper"},
		"two glands":           {in(" gland {\n }\n gland {\n }"), "name-taken", "gland {", "second"},
		"in two lists":         {in(" lug \"copper\" {\n each = { 16 = 1 }\n }") + strings.Replace(in(" lug \"copper\" {\n each = { 16 = 1 }\n }"), `"a"`, `"b"`, 1), "name-taken", "16 = 1", `stands in price "a" and in price "b"`},
		"two rates":            {in(" labour_per_h = 50") + strings.Replace(in(" labour_per_h = 60"), `"a"`, `"b"`, 1), "name-taken", "60", "labour_per_h stands in"},
		"energy lacks":         {withEconomy(" energy_per_kwh = 0.1"), "value-missing", "economy {", "currency, discount_percent, energy_origin and years"},
		"half of the factors":  {withEconomy(worth + " capacity_factor = 0.2\n factors_origin = \"o\""), "value-missing", "0.2", "loss_factor"},
		"factors unfounded":    {withEconomy(worth + " capacity_factor = 0.2\n loss_factor = 0.1"), "value-missing", "0.2", "factors_origin"},
		"loss above capacity":  {withEconomy(worth + " capacity_factor = 0.2\n loss_factor = 0.21\n factors_origin = \"o\""), "value-impossible", "0.21", "lies from"},
		"loss below square":    {withEconomy(worth + " capacity_factor = 0.2\n loss_factor = 0.03\n factors_origin = \"o\""), "value-impossible", "0.03", "0.04"},
		"profile and factors":  {withEconomy(worth + " load_profile = \"p.csv\"\n peak_share = 0.6"), "value-impossible", "0.6", "twice"},
		"profile elsewhere":    {withEconomy(worth + " load_profile = \"../p.csv\""), "value-impossible", `"../p.csv"`, "no CSV file inside"},
		"profile by root":      {withEconomy(worth + " load_profile = \"/p.csv\""), "value-impossible", `"/p.csv"`, "no CSV file inside"},
		"two economies":        {strings.Replace(withEconomy(worth), "\n }\n}", "\n }\n economy {\n }\n}", 1), "name-taken", "economy {", "second"},
		"attribute of a sheet": {in(" labour_per_h = price.a.access_factors"), "unknown-reference", "price.a.access_factors", "no plain attribute"},
	} {
		t.Run(name, func(t *testing.T) {
			d := read(t, c.text)
			hits, others := 0, 0
			for _, f := range d.Faults {
				if f.Rule == c.rule && (f.At.Text() == c.at || strings.HasSuffix(f.At.Text(), " = "+c.at)) && strings.Contains(f.Message+" / "+f.Next, c.says) {
					hits++
				} else if !strings.HasPrefix(f.At.Text(), `price "b"`) {
					others++
				}
			}
			if hits != 1 || others > 0 {
				for _, f := range d.Faults {
					t.Errorf("got %s at %q: %s / %s", f.Rule, f.At.Text(), f.Message, f.Next)
				}
				t.Errorf("%d hits", hits)
			}
		})
	}
}

// TestPriceLibrary looks that a list of the design goes before one of its library, and
// that both may price the same.
func TestPriceLibrary(t *testing.T) {
	one := "price \"%s\" {\n currency = \"EUR\"\n date = \"2026-10-01\"\n origin = \"o\"\n lug \"copper\" {\n each = { 16 = 1 }\n }\n}\n"
	lib := Library{Files: []*source.File{{Name: "a/a.hcl", Library: true, Bytes: fmt.Appendf(nil, one, "shared")}}}
	d := ReadWith("d", []*source.File{{Name: "d/z.hcl", Bytes: fmt.Appendf(nil, one, "own")}}, lib)
	if len(d.Faults) != 0 || len(d.Prices) != 2 || d.Prices[0].Name != "own" {
		t.Errorf("%d faults, %d lists", len(d.Faults), len(d.Prices))
	}
}

// TestProfile reads profiles, good and bad.
func TestProfile(t *testing.T) {
	day := strings.Repeat("0.5\n", 24)
	for name, c := range map[string]struct {
		text  string
		hours int
		at    string
		says  string
	}{
		"a day":        {day, 24, "", ""},
		"with heading": {"# from the yard\r\nhour,share\r\n" + strings.ReplaceAll(day, "0.5\n", "7, 0.5\r\n"), 24, "", ""},
		"byte mark":    {"\ufeff" + day, 24, "", ""},
		"half a day":   {strings.Repeat("0.5\n", 12), 0, `"p.csv"`, "12 hours"},
		"empty":        {"", 0, `"p.csv"`, "0 hours"},
		"percent":      {"0.1\n42\n" + day, 0, "42", "from 0 to 1"},
		"negative":     {"-0.1\n" + day, 0, "-0.1", "from 0 to 1"},
		"not a number": {"NaN\n" + day, 0, "NaN", "from 0 to 1"},
		"words":        {"0.1\nhigh\n" + day, 0, "high", "no number"},
		"two headings": {"hour\nshare\n" + day, 0, "share", "no number"},
		"two years":    {strings.Repeat(day, 2*365), 0, "0.5", "leap year"},
	} {
		t.Run(name, func(t *testing.T) {
			d := read(t, withEconomy(worth+" load_profile = \"p.csv\""))
			if len(d.Faults) > 0 {
				t.Fatal(d.Faults[0].Message)
			}
			d.ReadProfile(func(name string) (*source.File, error) {
				return &source.File{Name: "d/" + name, Bytes: []byte(c.text)}, nil
			})
			switch {
			case c.says == "" && (d.Profile == nil || len(d.Profile.Shares) != c.hours || len(d.Faults) > 0):
				t.Errorf("%+v, %v", d.Profile, d.Faults)
			case c.says != "" && (d.Profile != nil || len(d.Faults) != 1):
				t.Errorf("%d faults", len(d.Faults))
			case c.says != "":
				if f := d.Faults[0]; !strings.Contains(f.Message, c.says) || !strings.HasSuffix(f.At.Text(), c.at) {
					t.Errorf("at %q: %s", f.At.Text(), f.Message)
				}
			}
		})
	}
	d := read(t, withEconomy(worth+" load_profile = \"p.csv\""))
	d.ReadProfile(func(string) (*source.File, error) { return nil, errors.New("p.csv is not there") })
	if len(d.Faults) != 1 || d.Faults[0].Message != "p.csv is not there" || d.Site().Economy.LoadProfile.Known() {
		t.Errorf("%v", d.Faults)
	}
}
