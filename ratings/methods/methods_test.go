package methods_test

import (
	"math"
	"strings"
	"testing"

	"trefoil/ratings"
	"trefoil/ratings/bs7671"
	"trefoil/ratings/iec60364"
	"trefoil/ratings/quantity"
)

// cu is copper XLPE, 35 mm2, of four cores; its diameter is 24.7 mm by construction.
func cu() ratings.Circuit {
	return ratings.Circuit{Conductor: "copper", Strands: "stranded", Insulation: "xlpe-90", Build: "multicore", Armour: "none", Formation: "trefoil", Size: quantity.MM2(35), Loaded: 3, Cores: 4, FrequencyHz: 50}
}

// ones is the same of single cores; one is 11.5 mm thick.
func ones() ratings.Circuit {
	c := cu()
	c.Build, c.Cores = "single-core", 1
	return c
}

func group(n int) ratings.Group {
	return ratings.Group{Circuits: n, Smallest: quantity.MM2(35), Largest: quantity.MM2(35), Insulation: "xlpe-90", OuterMM: quantity.Of(25)}
}

func laid(s string) ratings.Place {
	return ratings.Place{Laid: s, Spacing: "touching", Tiers: 1, Ducts: "per-circuit", DuctCount: 1}
}

type trial struct {
	c      ratings.Circuit
	p      ratings.Place
	g      ratings.Group
	want   []float64 // the tabulated value and the factors; empty where it cannot be assessed
	method string
	says   string // in the gap or a note
}

func with[T any](v T, change func(*T)) T { change(&v); return v }

// TestRate: expected values are cells of IEC 60364-5-52:2009 Annex B, named beside
// each; capacities are their product.
func TestRate(t *testing.T) {
	set := iec60364.Set()
	for name, x := range map[string]trial{
		// Tables B.52.5 (columns 2 to 8) and B.52.12 (columns 3, 5 to 8), 35 mm2 copper XLPE, three loaded
		"conduit in insulation, multicore":   {cu(), laid("conduit-in-insulation"), group(1), []float64{109}, "A2", ""},
		"conduit in insulation, single-core": {ones(), laid("conduit-in-insulation"), group(1), []float64{117}, "A1", ""},
		"conduit, multicore":                 {cu(), laid("conduit"), group(1), []float64{128}, "B2", ""},
		"conduit, single-core":               {ones(), laid("conduit"), group(1), []float64{144}, "B1", ""},
		"trunking":                           {cu(), laid("trunking"), group(1), []float64{128}, "B2", ""},
		"tray with lid":                      {cu(), with(laid("perforated-tray"), func(p *ratings.Place) { p.Lid = true }), group(1), []float64{128}, "B2", ""},
		"ladder with lid, single-core":       {ones(), with(laid("ladder"), func(p *ratings.Place) { p.Lid = true }), group(1), []float64{144}, "B1", ""},
		"clipped":                            {cu(), laid("clipped"), group(1), []float64{147}, "C", ""},
		"solid tray":                         {ones(), laid("solid-tray"), group(1), []float64{147}, "C", ""},
		"perforated tray":                    {cu(), laid("perforated-tray"), group(1), []float64{158}, "E", ""},
		"ladder, trefoil":                    {ones(), laid("ladder"), group(1), []float64{169}, "F", ""},
		"ladder, flat":                       {with(ones(), func(c *ratings.Circuit) { c.Formation = "flat" }), laid("ladder"), group(1), []float64{176}, "F", ""},
		"basket, flat spaced":                {with(ones(), func(c *ratings.Circuit) { c.Formation = "flat-spaced" }), laid("basket"), group(1), []float64{226}, "G", ""},
		"riser, flat spaced":                 {with(ones(), func(c *ratings.Circuit) { c.Formation = "flat-spaced" }), with(laid("ladder"), func(p *ratings.Place) { p.Vertical = true }), group(1), []float64{201}, "G", ""},
		"buried":                             {cu(), laid("buried"), group(1), []float64{129}, "D2", ""},
		"buried duct":                        {cu(), laid("buried-duct"), group(1), []float64{115}, "D1", ""},
		// two loaded: Tables B.52.3 and B.52.12 column 4
		"one phase, conduit":     {with(cu(), func(c *ratings.Circuit) { c.Loaded = 2 }), laid("conduit"), group(1), []float64{146}, "B2", ""},
		"one phase, two singles": {with(ones(), func(c *ratings.Circuit) { c.Loaded = 2; c.Formation = "flat-spaced" }), laid("ladder"), group(1), []float64{200}, "F", ""},
		// aluminium and PVC: B.52.13 column 3, B.52.4 column 6
		"aluminium": {with(cu(), func(c *ratings.Circuit) { c.Conductor = "aluminium" }), laid("ladder"), group(1), []float64{120}, "E", ""},
		"PVC":       {with(cu(), func(c *ratings.Circuit) { c.Insulation = "pvc-70" }), laid("clipped"), with(group(1), func(g *ratings.Group) { g.Insulation = "pvc-70" }), []float64{119}, "C", ""},
		"pvc-75":    {with(cu(), func(c *ratings.Circuit) { c.Insulation = "pvc-75" }), laid("clipped"), with(group(1), func(g *ratings.Group) { g.Insulation = "pvc-75" }), []float64{119}, "C", "rated in the columns of pvc-70"},
		"armoured":  {with(cu(), func(c *ratings.Circuit) { c.Armour = "steel-wire" }), laid("buried"), group(1), []float64{129}, "D2", ""},

		// standoff: free air from 0.3 diameters of a multicore cable (24.7 mm) and 0.5 of a single-core one (11.5 mm)
		"standoff unstated":        {cu(), laid("standoff"), group(1), []float64{158}, "E", "standoff_mm is not stated"},
		"standoff 7.5 mm":          {cu(), with(laid("standoff"), func(p *ratings.Place) { p.StandoffMM = quantity.Of(7.5) }), group(1), []float64{158}, "E", ""},
		"standoff 7 mm":            {cu(), with(laid("standoff"), func(p *ratings.Place) { p.StandoffMM = quantity.Of(7) }), group(1), []float64{147}, "C", ""},
		"standoff 5.7 mm, singles": {ones(), with(laid("standoff"), func(p *ratings.Place) { p.StandoffMM = quantity.Of(5.7) }), group(1), []float64{147}, "C", ""},
		"standoff 6 mm, singles":   {ones(), with(laid("standoff"), func(p *ratings.Place) { p.StandoffMM = quantity.Of(6) }), group(1), []float64{169}, "F", ""},
		"standoff 7 mm, grouped":   {cu(), with(laid("standoff"), func(p *ratings.Place) { p.StandoffMM = quantity.Of(7) }), group(3), []float64{147, 0.79}, "C", ""}, // B.52.17 item 2

		// ambient: B.52.14, the next row on the safe side
		"air 40":                {cu(), with(laid("ladder"), func(p *ratings.Place) { p.AirC = quantity.Of(40) }), group(1), []float64{158, 0.91}, "E", ""},
		"air 42 takes 45":       {cu(), with(laid("ladder"), func(p *ratings.Place) { p.AirC = quantity.Of(42) }), group(1), []float64{158, 0.87}, "E", ""},
		"air 5 takes 10":        {cu(), with(laid("ladder"), func(p *ratings.Place) { p.AirC = quantity.Of(5) }), group(1), []float64{158, 1.15}, "E", ""},
		"air 80":                {cu(), with(laid("ladder"), func(p *ratings.Place) { p.AirC = quantity.Of(80) }), group(1), []float64{158, 0.41}, "E", ""},
		"air 81":                {cu(), with(laid("ladder"), func(p *ratings.Place) { p.AirC = quantity.Of(81) }), group(1), nil, "", "Table B.52.14 ends at 80"},
		"sun on 50 is 70":       {cu(), with(laid("ladder"), func(p *ratings.Place) { p.AirC, p.Sun = quantity.Of(50), true }), group(1), []float64{158, 0.58}, "E", "20 degC are added"},
		"sun of 15 on 40 is 55": {cu(), with(laid("ladder"), func(p *ratings.Place) { p.AirC, p.Sun, p.SunAddsC = quantity.Of(40), true, quantity.Of(15) }), group(1), []float64{158, 0.76}, "E", ""},
		"sun below ground":      {cu(), with(laid("buried"), func(p *ratings.Place) { p.Sun = true }), group(1), []float64{129}, "D2", ""},

		// ground: B.52.15, B.52.16, depth
		"soil 25, 1.5 K.m/W":     {cu(), with(laid("buried-duct"), func(p *ratings.Place) { p.SoilC, p.SoilKmW = quantity.Of(25), quantity.Of(1.5) }), group(1), []float64{115, 0.96, 1.10}, "D1", ""},
		"direct, 1.2 takes 1.5":  {cu(), with(laid("buried"), func(p *ratings.Place) { p.SoilKmW = quantity.Of(1.2) }), group(1), []float64{129, 1.28}, "D2", ""},
		"3.1 K.m/W":              {cu(), with(laid("buried"), func(p *ratings.Place) { p.SoilKmW = quantity.Of(3.1) }), group(1), nil, "", "Table B.52.16 ends at 3"},
		"0.5 m needs no factor":  {cu(), with(laid("buried"), func(p *ratings.Place) { p.DepthM = quantity.Of(0.5) }), group(1), []float64{129}, "D2", ""},
		"0.7 m needs no factor":  {cu(), with(laid("buried"), func(p *ratings.Place) { p.DepthM = quantity.Of(0.7) }), group(1), []float64{129}, "D2", ""},
		"1 m without a factor":   {cu(), with(laid("buried"), func(p *ratings.Place) { p.DepthM = quantity.Of(1) }), group(1), nil, "", "no factor below 0.7 m"},
		"1 m with a factor":      {cu(), with(laid("buried"), func(p *ratings.Place) { p.DepthM, p.DepthFactor = quantity.Of(1), quantity.Of(0.96) }), group(1), []float64{129, 0.96}, "D2", ""},
		"an extra factor":        {cu(), with(laid("ladder"), func(p *ratings.Place) { p.ExtraFactor = quantity.Of(0.9) }), group(1), []float64{158, 0.9}, "E", ""},
		"a maker's own capacity": {with(cu(), func(c *ratings.Circuit) { c.CapacityA = quantity.Of(150); c.Size = quantity.MM2(33) }), laid("ladder"), group(1), []float64{150}, "E", ""},

		// enclosed and bunched: B.52.17 item 1
		"three in a conduit":       {cu(), laid("conduit"), group(3), []float64{128, 0.70}, "B2", ""},
		"ten in a trunking":        {cu(), laid("trunking"), group(10), []float64{128, 0.45}, "B2", ""},
		"twenty-one in a trunking": {cu(), laid("trunking"), group(21), nil, "", "Table B.52.17 item 1 ends at 20"},
		"bunched on a ladder":      {cu(), with(laid("ladder"), func(p *ratings.Place) { p.Spacing = "bunched" }), group(3), []float64{158, 0.70}, "E", ""},
		"bunched, flat spaced":     {with(ones(), func(c *ratings.Circuit) { c.Formation = "flat-spaced" }), with(laid("ladder"), func(p *ratings.Place) { p.Spacing = "bunched" }), group(2), nil, "", "cannot be bunched"},
		// on a wall: item 2, no further reduction past nine
		"three on a wall":     {cu(), laid("clipped"), group(3), []float64{147, 0.79}, "C", ""},
		"fifteen on a wall":   {cu(), laid("clipped"), group(15), []float64{147, 0.70}, "C", ""},
		"two tiers on a wall": {cu(), with(laid("solid-tray"), func(p *ratings.Place) { p.Tiers = 2 }), group(2), nil, "", "2 trays"},
		// trays and ladders, multicore: B.52.20
		"three on a tray":                 {cu(), laid("perforated-tray"), group(3), []float64{158, 0.82}, "E", ""},
		"five on a tray take six":         {cu(), laid("perforated-tray"), group(5), []float64{158, 0.76}, "E", ""},
		"nine on a tray":                  {cu(), laid("perforated-tray"), group(9), []float64{158, 0.73}, "E", ""},
		"ten on a tray":                   {cu(), laid("perforated-tray"), group(10), nil, "", "Table B.52.20 ends at 9"},
		"four on a vertical tray":         {cu(), with(laid("perforated-tray"), func(p *ratings.Place) { p.Vertical = true }), group(4), []float64{158, 0.78}, "E", ""},
		"three on a ladder":               {cu(), laid("ladder"), group(3), []float64{158, 0.82}, "E", ""},
		"three on a vertical ladder":      {cu(), with(laid("ladder"), func(p *ratings.Place) { p.Vertical = true }), group(3), []float64{158, 0.82}, "E", ""},
		"three on each of two trays":      {cu(), with(laid("perforated-tray"), func(p *ratings.Place) { p.Tiers = 2 }), group(3), []float64{158, 0.80}, "E", ""},
		"three on each of four ladders":   {cu(), with(laid("ladder"), func(p *ratings.Place) { p.Tiers = 4 }), group(3), []float64{158, 0.76}, "E", ""}, // the row of six
		"three on each of seven ladders":  {cu(), with(laid("ladder"), func(p *ratings.Place) { p.Tiers = 7 }), group(3), nil, "", "7 trays"},
		"spaced, distance unstated":       {cu(), with(laid("perforated-tray"), func(p *ratings.Place) { p.Spacing = "spaced" }), group(3), []float64{158, 0.98}, "E", "one diameter clear is taken"},
		"spaced by a diameter":            {cu(), with(laid("perforated-tray"), func(p *ratings.Place) { p.Spacing, p.SpacingMM = "spaced", quantity.Of(25) }), group(3), []float64{158, 0.98}, "E", ""},
		"spaced by less":                  {cu(), with(laid("perforated-tray"), func(p *ratings.Place) { p.Spacing, p.SpacingMM = "spaced", quantity.Of(24) }), group(3), []float64{158, 0.82}, "E", "touching is taken"},
		"seven spaced take touching":      {cu(), with(laid("perforated-tray"), func(p *ratings.Place) { p.Spacing, p.SpacingMM = "spaced", quantity.Of(25) }), group(7), []float64{158, 0.73}, "E", ""},
		"far apart and held":              {cu(), with(laid("perforated-tray"), func(p *ratings.Place) { p.Spacing, p.SpacingMM, p.HeldBy = "spaced", quantity.Of(51), "cleats" }), group(7), []float64{158, 1}, "E", ""},
		"two diameters are not more":      {cu(), with(laid("perforated-tray"), func(p *ratings.Place) { p.Spacing, p.SpacingMM, p.HeldBy = "spaced", quantity.Of(50), "cleats" }), group(3), []float64{158, 0.98}, "E", ""},
		"far apart and not held":          {cu(), with(laid("perforated-tray"), func(p *ratings.Place) { p.Spacing, p.SpacingMM = "spaced", quantity.Of(51) }), group(3), []float64{158, 0.98}, "E", "held_by"},
		"on a wall, far apart and held":   {cu(), with(laid("clipped"), func(p *ratings.Place) { p.Spacing, p.SpacingMM, p.HeldBy = "spaced", quantity.Of(51), "cleats" }), group(7), []float64{147, 1}, "C", ""},
		"in a trunking spacing is nought": {cu(), with(laid("trunking"), func(p *ratings.Place) { p.Spacing, p.SpacingMM, p.HeldBy = "spaced", quantity.Of(51), "cleats" }), group(3), []float64{128, 0.70}, "B2", ""},
		// single-core: B.52.21 flat and trefoil two diameters apart, else items 4 and 5
		"flat alone on a tray":             {with(ones(), func(c *ratings.Circuit) { c.Formation = "flat" }), laid("perforated-tray"), group(1), []float64{176, 0.98}, "F", ""},
		"three flat on a tray":             {with(ones(), func(c *ratings.Circuit) { c.Formation = "flat" }), laid("perforated-tray"), group(3), []float64{176, 0.87}, "F", ""},
		"four flat on a tray":              {with(ones(), func(c *ratings.Circuit) { c.Formation = "flat" }), laid("perforated-tray"), group(4), nil, "", "Table B.52.21 ends at 3"},
		"two flat on a ladder":             {with(ones(), func(c *ratings.Circuit) { c.Formation = "flat" }), laid("ladder"), group(2), []float64{176, 0.97}, "F", ""},
		"three trefoils on a tray":         {ones(), laid("perforated-tray"), group(3), []float64{169, 0.82}, "F", ""},  // item 4
		"twelve trefoils on a tray":        {ones(), laid("perforated-tray"), group(12), []float64{169, 0.72}, "F", ""}, // no further reduction
		"three trefoils on a ladder":       {ones(), laid("ladder"), group(4), []float64{169, 0.80}, "F", ""},           // item 5
		"trefoils two diameters apart":     {ones(), with(laid("perforated-tray"), func(p *ratings.Place) { p.Spacing, p.SpacingMM = "spaced", quantity.Of(24) }), with(group(3), func(g *ratings.Group) { g.OuterMM = quantity.Of(12) }), []float64{169, 0.96}, "F", ""},
		"trefoils one diameter apart":      {ones(), with(laid("perforated-tray"), func(p *ratings.Place) { p.Spacing, p.SpacingMM = "spaced", quantity.Of(12) }), with(group(3), func(g *ratings.Group) { g.OuterMM = quantity.Of(12) }), []float64{169, 0.82}, "F", ""},
		"trefoils on two tiers":            {ones(), with(laid("ladder"), func(p *ratings.Place) { p.Tiers = 2 }), group(2), nil, "", "2 trays"},
		"two flat spaced circuits":         {with(ones(), func(c *ratings.Circuit) { c.Formation = "flat-spaced" }), laid("ladder"), group(2), nil, "", "laid flat one diameter apart"},
		"two singles of one phase, groups": {with(ones(), func(c *ratings.Circuit) { c.Loaded = 2 }), laid("ladder"), group(3), []float64{200, 0.82}, "F", ""}, // item 5
		// ground: B.52.18 and B.52.19
		"three direct, touching":        {cu(), laid("buried"), group(3), []float64{129, 0.65}, "D2", ""},
		"three direct, a diameter":      {cu(), with(laid("buried"), func(p *ratings.Place) { p.Spacing, p.SpacingMM = "spaced", quantity.Of(30) }), group(3), []float64{129, 0.70}, "D2", ""},
		"three direct, 130 mm":          {cu(), with(laid("buried"), func(p *ratings.Place) { p.Spacing, p.SpacingMM = "spaced", quantity.Of(130) }), group(3), []float64{129, 0.75}, "D2", ""},
		"three direct, 600 mm and held": {cu(), with(laid("buried"), func(p *ratings.Place) { p.Spacing, p.SpacingMM, p.HeldBy = "spaced", quantity.Of(600), "spacers" }), group(3), []float64{129, 0.85}, "D2", ""},
		"ten direct take twelve":        {cu(), laid("buried"), group(10), []float64{129, 0.36}, "D2", ""},
		"bunched direct":                {cu(), with(laid("buried"), func(p *ratings.Place) { p.Spacing = "bunched" }), group(2), nil, "", "bunched"},
		"three in ducts":                {cu(), laid("buried-duct"), group(3), []float64{115, 0.75}, "D1", ""},
		"three in ducts, 250 mm":        {cu(), with(laid("buried-duct"), func(p *ratings.Place) { p.Spacing, p.SpacingMM = "spaced", quantity.Of(250) }), group(3), []float64{115, 0.85}, "D1", ""},
		"three, a core a duct":          {ones(), with(laid("buried-duct"), func(p *ratings.Place) { p.Ducts = "per-core" }), group(3), []float64{115, 0.70}, "D1", ""},
		"a core a duct, multicore":      {cu(), with(laid("buried-duct"), func(p *ratings.Place) { p.Ducts = "per-core" }), group(3), nil, "", "single-core"},
		"three in one duct":             {cu(), with(laid("buried-duct"), func(p *ratings.Place) { p.Ducts = "shared" }), group(3), []float64{115, 0.70}, "D1", ""},
		"five in two ducts":             {cu(), with(laid("buried-duct"), func(p *ratings.Place) { p.Ducts, p.DuctCount = "shared", 2 }), group(5), []float64{115, 0.70, 0.85}, "D1", ""}, // three in one, two ducts
		"twenty-one ducts":              {cu(), laid("buried-duct"), group(21), nil, "", "ends at 20"},

		// different sizes: more than three adjacent ones
		"16 to 35 is alike":         {cu(), laid("trunking"), with(group(2), func(g *ratings.Group) { g.Smallest = quantity.MM2(16) }), []float64{128, 0.80}, "B2", ""},
		"10 to 35 in an enclosure":  {cu(), laid("trunking"), with(group(2), func(g *ratings.Group) { g.Smallest = quantity.MM2(10) }), []float64{128, 1 / math.Sqrt2}, "B2", ""},
		"10 to 35 in a shared duct": {cu(), with(laid("buried-duct"), func(p *ratings.Place) { p.Ducts = "shared" }), with(group(4), func(g *ratings.Group) { g.Smallest = quantity.MM2(10) }), []float64{115, 0.5}, "D1", ""},
		"10 to 35 on a tray":        {cu(), laid("perforated-tray"), with(group(2), func(g *ratings.Group) { g.Smallest = quantity.MM2(10) }), []float64{158, 0.88}, "E", "smaller cables run hotter"},
		// different insulation: the lowest column, with its ambient factor; B.52.10 column 3, B.52.14
		"beside PVC":               {cu(), with(laid("ladder"), func(p *ratings.Place) { p.AirC = quantity.Of(40) }), with(group(2), func(g *ratings.Group) { g.Insulation = "pvc-70" }), []float64{126, 0.87, 0.87}, "E", "rated as that"},
		"beside PVC, far and held": {cu(), with(laid("ladder"), func(p *ratings.Place) { p.Spacing, p.SpacingMM, p.HeldBy = "spaced", quantity.Of(60), "cleats" }), with(group(2), func(g *ratings.Group) { g.Insulation = "pvc-70" }), []float64{158, 1}, "E", ""},
		// Annex E
		"third harmonic 15 %": {with(cu(), func(c *ratings.Circuit) { c.ThirdPct = 15 }), laid("ladder"), group(1), []float64{158}, "E", ""},
		"third harmonic 20 %": {with(cu(), func(c *ratings.Circuit) { c.ThirdPct = 20 }), laid("ladder"), group(1), []float64{158, 0.86}, "E", ""},
		"third harmonic 40 %": {with(cu(), func(c *ratings.Circuit) { c.ThirdPct = 40 }), laid("ladder"), group(1), []float64{158, 0.86}, "E", ""},
		"third harmonic 50 %": {with(cu(), func(c *ratings.Circuit) { c.ThirdPct = 50 }), laid("ladder"), group(1), []float64{158}, "E", ""},

		// not in the tables
		"45 mm2":             {with(cu(), func(c *ratings.Circuit) { c.Size = quantity.MM2(45) }), laid("ladder"), group(1), nil, "", "no figure for 45 mm2"},
		"10 mm2 single-core": {with(ones(), func(c *ratings.Circuit) { c.Size = quantity.MM2(10) }), laid("ladder"), group(1), nil, "", "least size is 25 mm2"},
		"400 mm2 multicore":  {with(cu(), func(c *ratings.Circuit) { c.Size = quantity.MM2(400) }), laid("ladder"), group(1), nil, "", "largest size is 300 mm2"},
		"110 degC":           {with(cu(), func(c *ratings.Circuit) { c.Insulation = "xlpe-110" }), laid("ladder"), with(group(1), func(g *ratings.Group) { g.Insulation = "" }), nil, "", "no column for insulation"},
		"four loaded":        {with(cu(), func(c *ratings.Circuit) { c.Loaded = 4 }), laid("ladder"), group(1), nil, "", "4 loaded"},
		"unknown laying":     {cu(), laid("roof"), group(1), nil, "", "roof"},
		"unknown formation":  {with(ones(), func(c *ratings.Circuit) { c.Formation = "star" }), laid("ladder"), group(1), nil, "", "star"},
		"unknown insulation": {with(cu(), func(c *ratings.Circuit) { c.Insulation = "silk" }), laid("ladder"), group(1), nil, "", "silk"},
		"a size in AWG":      {with(cu(), func(c *ratings.Circuit) { c.Size = quantity.Size{MM2: 35, Trade: "2 AWG"} }), laid("ladder"), group(1), nil, "", "2 AWG"},
	} {
		t.Run(name, func(t *testing.T) {
			r, gap := set.Rate(x.c, x.p, x.g)
			if x.want == nil {
				if gap == nil || !strings.Contains(gap.Reason+gap.Next, x.says) {
					t.Fatalf("got %+v, %v", r, gap)
				}
				return
			}
			if gap != nil {
				t.Fatal(gap)
			}
			want := 1.0
			for _, w := range x.want {
				want *= w
			}
			if math.Abs(r.CapacityA-want) > 1e-9*want || r.TabulatedA != x.want[0] || r.Method != x.method || len(r.Factors) != len(x.want)-1 {
				t.Errorf("got %g A by %s: %g A and %+v, want %g A by %s", r.CapacityA, r.Method, r.TabulatedA, r.Factors, want, x.method)
			}
			notes := ""
			for _, n := range r.Notes {
				notes += n.Text + "\n"
			}
			if !strings.Contains(notes, x.says) || x.says == "" && notes != "" {
				t.Errorf("notes are %q, want %q", notes, x.says)
			}
			if r.OnNeutral != (x.c.ThirdPct > 33) {
				t.Errorf("judged on the neutral: %v", r.OnNeutral)
			}
		})
	}
}

// TestBS: cells of BS 7671:2018 Tables 4E1A (column 7), 4C1 and 4B1.
func TestBS(t *testing.T) {
	r, gap := bs7671.Set().Rate(ones(), with(laid("clipped"), func(p *ratings.Place) { p.AirC = quantity.Of(25) }), group(2))
	if gap != nil || math.Abs(r.CapacityA-161*1.02*0.85) > 1e-9 || r.Ref.Text != "BS 7671:2018 Table 4E1A column 7" || r.Ref.Status != ratings.Published || r.Method != "C" {
		t.Errorf("%+v %v", r, gap)
	}
}

// TestMonotone: hotter, more circuits and smaller sizes never carry more.
func TestMonotone(t *testing.T) {
	for _, set := range []ratings.Set{iec60364.Set(), bs7671.Set()} {
		for _, l := range []string{"conduit", "trunking", "clipped", "perforated-tray", "ladder", "buried", "buried-duct"} {
			for _, c := range []ratings.Circuit{cu(), ones()} {
				last := math.Inf(1)
				for air := -10.0; air < 100; air += 3 {
					r, gap := set.Rate(c, with(laid(l), func(p *ratings.Place) { p.AirC, p.SoilC = quantity.Of(air), quantity.Of(air) }), group(2))
					if gap == nil && r.CapacityA > last*(1+1e-12) {
						t.Errorf("%s %s %s carries more at %g degC", set.Info().Name, c.Build, l, air)
					}
					if gap == nil {
						last = r.CapacityA
					}
				}
				last = math.Inf(1)
				for n := 1; n < 25; n++ {
					r, gap := set.Rate(c, laid(l), group(n))
					if gap == nil && r.CapacityA > last*(1+1e-12) {
						t.Errorf("%s %s %s carries more with %d circuits", set.Info().Name, c.Build, l, n)
					}
					if gap == nil {
						last = r.CapacityA
					}
				}
				last = 0
				for _, size := range []float64{1.5, 2.5, 4, 6, 10, 16, 25, 35, 50, 70, 95, 120, 150, 185, 240, 300, 400, 500, 630} {
					r, gap := set.Rate(with(c, func(c *ratings.Circuit) { c.Size = quantity.MM2(size) }), laid(l), group(1))
					if gap == nil && r.CapacityA <= last {
						t.Errorf("%s %s %s carries less at %g mm2", set.Info().Name, c.Build, l, size)
					}
					if gap == nil {
						last = r.CapacityA
					}
				}
			}
		}
	}
}

func FuzzRate(f *testing.F) {
	f.Add("copper", "xlpe-90", "multicore", "trefoil", "ladder", "spaced", 35.0, 40.0, 30.0, 3, 1, 3, true, false)
	f.Add("aluminium", "pvc-70", "single-core", "flat", "buried-duct", "touching", 50.0, 20.0, 1.5, 9, 2, 2, false, true)
	f.Fuzz(func(t *testing.T, conductor, insulation, build, formation, where, spacing string, size, air, mm float64, circuits, tiers, loaded int, sun, lid bool) {
		c := ratings.Circuit{Conductor: conductor, Strands: "stranded", Insulation: insulation, Build: build, Formation: formation, Size: quantity.MM2(size), Loaded: loaded, Cores: 4, ThirdPct: mm}
		p := ratings.Place{Laid: where, Spacing: spacing, SpacingMM: quantity.Of(mm), StandoffMM: quantity.Of(mm), Tiers: tiers, AirC: quantity.Of(air), SoilC: quantity.Of(air), SoilKmW: quantity.Of(mm), Sun: sun, Lid: lid, Vertical: sun, Ducts: spacing}
		for _, set := range []ratings.Set{iec60364.Set(), bs7671.Set()} {
			r, gap := set.Rate(c, p, ratings.Group{Circuits: circuits, Smallest: quantity.MM2(mm), Largest: quantity.MM2(size), Insulation: insulation, OuterMM: quantity.Of(mm)})
			if gap == nil && (!quantity.Finite(r.CapacityA) || r.CapacityA <= 0 || r.Ref.Text == "") {
				t.Errorf("%+v", r)
			}
			if gap != nil && gap.Reason == "" {
				t.Error("a gap without reason")
			}
			if z, gap := set.Impedance(c, p); gap == nil && (!quantity.Finite(z.ROhmKM) || z.ROhmKM <= 0) {
				t.Errorf("%+v", z)
			}
		}
	})
}

func BenchmarkRate(b *testing.B) {
	set, c, p, g := iec60364.Set(), cu(), with(laid("perforated-tray"), func(p *ratings.Place) { p.AirC, p.Sun, p.SunAddsC = quantity.Of(40), true, quantity.Of(20) }), group(4)
	b.ReportAllocs()
	for b.Loop() {
		if _, gap := set.Rate(c, p, g); gap != nil {
			b.Fatal(gap)
		}
	}
}

// TestUnknownDiameter: where the diameter of a cable of the group cannot be had, no
// distance counts, and touching is taken: 0.82 for three circuits on a perforated tray,
// IEC 60364-5-52:2009 Table B.52.20.
func TestUnknownDiameter(t *testing.T) {
	p := with(laid("perforated-tray"), func(p *ratings.Place) {
		p.Spacing, p.SpacingMM, p.HeldBy = "spaced", quantity.Of(200), "cleats"
	})
	g := group(3)
	g.OuterUnknown = true
	r, gap := iec60364.Set().Rate(cu(), p, g)
	if gap != nil || math.Abs(r.CapacityA-158*0.82) > 1e-9 {
		t.Errorf("%g A, %v", r.CapacityA, gap)
	}
}

// TestTrefoilGroups: the row for trefoil groups two diameters apart ends at three
// circuits (Table B.52.21); four take item 4 of Table B.52.17, 0.77, as touching ones do.
func TestTrefoilGroups(t *testing.T) {
	p := with(laid("perforated-tray"), func(p *ratings.Place) { p.Spacing, p.SpacingMM = "spaced", quantity.Of(60) })
	r, gap := iec60364.Set().Rate(ones(), p, group(4))
	if gap != nil || math.Abs(r.CapacityA/r.TabulatedA-0.77) > 1e-9 {
		t.Errorf("%g of %g A, %v", r.CapacityA, r.TabulatedA, gap)
	}
}

// TestMakersCapacity: a capacity that the maker gives for 90 degC is not used beside a
// cable of 70 degC.
func TestMakersCapacity(t *testing.T) {
	c := cu()
	c.CapacityA, c.DataOrigin = quantity.Of(500), "maker"
	g := group(2)
	g.Insulation = "pvc-70"
	r, gap := iec60364.Set().Rate(c, laid("perforated-tray"), g)
	if gap != nil || r.Basis != "table" || r.TabulatedA != 126 { // Table B.52.10 column 3
		t.Errorf("%g A by %s, %v", r.TabulatedA, r.Basis, gap)
	}
}
