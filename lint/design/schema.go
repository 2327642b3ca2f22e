package design

import (
	"fmt"
	"reflect"
	"slices"
	"sort"
	"strings"
	"sync"

	"trefoil/lint/syntax"
	"trefoil/ratings/quantity"
)

// field describes one attribute of a block: where its value goes and what it may be.
type field[T any] struct {
	num   func(*T) *Num
	text  func(*T) *Text
	flag  func(*T) *Flag
	texts func(*T) *Texts
	pairs func(*T) *Pairs
	nums  func(*T) *Nums
	sheet func(*T) *Sheet
	link  func(*T) *Link
	links func(*T) *[]Link

	formula func(*T) *Formula

	required bool
	words    []string // the words that a text may be; any when empty
	kinds    []string // the kinds of block that a link may name
	low      float64  // bounds of a number, both included unless above is set
	high     float64
	above    bool  // the lower bound itself is not allowed
	whole    bool  // a whole number
	alone    bool  // nothing else of its block hangs on it, so long as it is one that can be
	date     bool  // a text that is a day, YYYY-MM-DD
	by       keyed // what the rows of a sheet go by
}

// nested describes a block inside a block.
type nested[T any] struct {
	decode func(*reader, *T, *syntax.Block)
	grow   func(*T, int) // makes room for so many of them; nil where none can move
	once   bool
	label  bool // has one label
}

// many describes inner blocks of a kind that may stand several times. Room for all of them
// is made first: values that hang on let come in later, so none may move.
func many[T, E any](s *schema[E], list func(*T) *[]E, begin func(*reader, *T, *E, *syntax.Block)) *nested[T] {
	room := new(rows[E])
	return &nested[T]{
		grow: func(o *T, n int) { *list(o) = room.cut(n) },
		decode: func(r *reader, o *T, b *syntax.Block) {
			all := list(o)
			*all = append(*all, *new(E))
			e := &(*all)[len(*all)-1]
			begin(r, o, e, b)
			decodeBody(r, s, e, b)
		},
	}
}

// rows gives room for the blocks that are many, cut from longer rows: what is kept lies together
// and not between what is dropped after reading.
type rows[E any] struct{ open sync.Pool }

// cut gives an empty list with room for n.
func (r *rows[E]) cut(n int) []E {
	const page = 8<<10 - 8 // bytes that are had without loss
	row, _ := r.open.Get().(*[]E)
	if row == nil || len(*row) < n {
		fresh := make([]E, max(n, page/int(reflect.TypeFor[E]().Size())))
		row = &fresh
	}
	list := (*row)[:0:n]
	*row = (*row)[n:]
	r.open.Put(row)
	return list
}

// one gives room for one.
func (r *rows[E]) one() *E { return &r.cut(1)[:1][0] }

// Where the blocks are that a large design has many of.
var (
	sourceRows rows[Source]
	routeRows  rows[Route]
	runRows    rows[Run]
)

// labelled is such a kind with a label.
func labelled[T any](n *nested[T]) *nested[T] { n.label = true; return n }

// schema describes a kind of block.
type schema[T any] struct {
	kind   string
	fields map[string]*field[T]
	blocks map[string]*nested[T]
	room   room[T] // nil where a block holds all its attributes itself

	once sync.Once
	must []string // the required fields, sorted
}

// room is where the attributes go that few blocks of a kind state. They lie apart, because a
// large design has hundreds of thousands of blocks.
type room[T any] interface {
	lend(o *T)   // gives a block room of its own, while it is read
	settle(o *T) // takes it back from a block that left it empty
}

// apart is such a room; at says where a block points to it.
type apart[T, D any] struct {
	at    func(*T) **D
	empty D         // what all blocks point to that state none of it: its defaults
	spare sync.Pool // rooms that were left empty
}

func (p *apart[T, D]) lend(o *T) {
	d, ok := p.spare.Get().(*D)
	if !ok {
		d = new(D)
	}
	*p.at(o) = d
}

// settle goes by what is there, and a value that is still waited for is there as Faulty.
func (p *apart[T, D]) settle(o *T) {
	if d := *p.at(o); reflect.ValueOf(d).Elem().IsZero() {
		*p.at(o) = &p.empty
		p.spare.Put(d)
	}
}

// required lists the fields that must be stated.
func (s *schema[T]) required() []string {
	s.once.Do(func() {
		for n, f := range s.fields {
			if f.required {
				s.must = append(s.must, n)
			}
		}
		sort.Strings(s.must)
	})
	return s.must
}

// most is the largest number that the program reckons with.
const most = 1e9

func num[T any](get func(*T) *Num, low, high float64) *field[T] {
	return &field[T]{num: get, low: low, high: high}
}

func positive[T any](get func(*T) *Num) *field[T] {
	return &field[T]{num: get, low: 0, high: most, above: true}
}

func counted[T any](get func(*T) *Num, low, high float64) *field[T] {
	return &field[T]{num: get, low: low, high: high, whole: true}
}

func text[T any](get func(*T) *Text) *field[T] { return &field[T]{text: get} }

func word[T any](get func(*T) *Text, words ...string) *field[T] {
	return &field[T]{text: get, words: words}
}

func flag[T any](get func(*T) *Flag) *field[T] { return &field[T]{flag: get} }

func (f *field[T]) must() *field[T] { f.required = true; return f }

// The words of the language.
// The words of a cable and of a laying.
var (
	Conductors  = []string{"copper", "aluminium"}
	Strandings  = []string{"solid", "stranded", "flexible"}
	Insulations = []string{"pvc-70", "pvc-75", "pvc-90", "xlpe-90", "epr-90", "xlpe-110"}
	Builds      = []string{"multicore", "single-core"}
	Layings     = []string{"conduit-in-insulation", "conduit", "trunking", "perforated-tray", "solid-tray", "ladder", "basket", "clipped", "standoff", "free-air", "buried", "buried-duct"}
)

var (
	phaseWords   = []string{"L1", "L2", "L3", "L1-L2", "L2-L3", "L3-L1"}
	allKinds     = []string{"site", "supply", "source", "board", "load", "route", "cable", "run", "waiver", "house_rule", "approved", "price", "let"}
	waivable     = []string{"site", "supply", "source", "board", "load", "route", "cable", "run", "approved", "price"}
	classes      = []string{"service-mains", "consumer-mains", "submain", "source-circuit"}
	nodeKinds    = []string{"supply", "board", "source"}
	lengthOrigin = []string{"measured", "scaled", "estimated"}
	boardHolds   = []string{"sources", "loads"}
)

var limitSchema = &schema[Limit]{kind: "limit", fields: map[string]*field[Limit]{
	"rise_percent": {num: func(o *Limit) *Num { return &o.RisePercent }, above: true, high: 100},
	"drop_percent": {num: func(o *Limit) *Num { return &o.DropPercent }, above: true, high: 100},
	"origin":       text(func(o *Limit) *Text { return &o.Origin }),
}}

var siteSchema = &schema[Site]{kind: "site", fields: map[string]*field[Site]{
	"note":                       text(func(o *Site) *Text { return &o.Note }),
	"ratings":                    text(func(o *Site) *Text { return &o.Ratings }).must(),
	"stage":                      word(func(o *Site) *Text { return &o.Stage }, "concept", "approval", "construction", "as-built"),
	"voltage_v":                  {num: func(o *Site) *Num { return &o.VoltageV }, above: true, high: 1000, required: true},
	"frequency_hz":               num(func(o *Site) *Num { return &o.FrequencyHz }, 10, 400),
	"air_c":                      num(func(o *Site) *Num { return &o.AirC }, -60, 150),
	"soil_c":                     num(func(o *Site) *Num { return &o.SoilC }, -60, 100),
	"soil_km_w":                  {num: func(o *Site) *Num { return &o.SoilKmW }, above: true, high: 10},
	"depth_m":                    {num: func(o *Site) *Num { return &o.DepthM }, above: true, high: 20},
	"rise_limit_percent":         {num: func(o *Site) *Num { return &o.RiseLimitPercent }, above: true, high: 100},
	"rise_limit_origin":          text(func(o *Site) *Text { return &o.RiseLimitOrigin }),
	"drop_limit_percent":         {num: func(o *Site) *Num { return &o.DropLimitPercent }, above: true, high: 100},
	"drop_limit_origin":          text(func(o *Site) *Text { return &o.DropLimitOrigin }),
	"rise_at":                    word(func(o *Site) *Text { return &o.RiseAt }, "rated", "max"),
	"sun_adds_c":                 num(func(o *Site) *Num { return &o.SunAddsC }, 0, 60),
	"light_neighbours_percent":   num(func(o *Site) *Num { return &o.LightNeighboursPercent }, 0, 100),
	"utilisation_target_percent": {num: func(o *Site) *Num { return &o.UtilisationTargetPercent }, above: true, high: 100},
	"edition_reason":             text(func(o *Site) *Text { return &o.EditionReason }),
	"capacity_tables":            text(func(o *Site) *Text { return &o.CapacityTables }),
	"library":                    {texts: func(o *Site) *Texts { return &o.Library }},
	"rise_method":                word(func(o *Site) *Text { return &o.RiseMethod }, "trade", "exact"),
	"rise_supply":                word(func(o *Site) *Text { return &o.RiseSupply }, "nominal", "max"),
	"voltage_factor_max":         num(func(o *Site) *Num { return &o.VoltageFactorMax }, 0.5, 1.5),
	"voltage_factor_min":         num(func(o *Site) *Num { return &o.VoltageFactorMin }, 0.5, 1.5),
	"unbalance_limit_percent":    {num: func(o *Site) *Num { return &o.UnbalanceLimitPercent }, above: true, high: 100},
	"unbalance_limit_origin":     text(func(o *Site) *Text { return &o.UnbalanceLimitOrigin }),
	"fill_limit_percent":         num(func(o *Site) *Num { return &o.FillLimitPercent }, 1, 100),
	"fill_limit_origin":          text(func(o *Site) *Text { return &o.FillLimitOrigin }),
	"leg_tolerance_percent":      num(func(o *Site) *Num { return &o.LegTolerancePercent }, 0, 100),
	"leg_min_mm2":                num(func(o *Site) *Num { return &o.LegMinMM2 }, 0, 5000),
	"leg_min_origin":             text(func(o *Site) *Text { return &o.LegMinOrigin }),
	"sun_adds_origin":            text(func(o *Site) *Text { return &o.SunAddsOrigin }),
	"voltage_factor_origin":      text(func(o *Site) *Text { return &o.VoltageFactorOrigin }),
	"export_set_kva":             num(func(o *Site) *Num { return &o.ExportSetKVA }, 0, most),
	"built_tolerance_percent":    num(func(o *Site) *Num { return &o.BuiltTolerancePercent }, 0, 100),
	"phase_difference_limit_kva": num(func(o *Site) *Num { return &o.PhaseDifferenceLimitKVA }, 0, 1e6),
	"price_days":                 counted(func(o *Site) *Num { return &o.PriceDays }, 1, 36500),
}, blocks: map[string]*nested[Site]{"economy": economyOf, "threshold": thresholds, "limit": labelled(many(limitSchema, func(o *Site) *[]Limit { return &o.Limits }, func(r *reader, o *Site, l *Limit, b *syntax.Block) {
	l.At, l.Class = r.header(b), b.Labels[0].Name
	if !slices.Contains(classes, l.Class) {
		r.fault("value-impossible", r.label(b, 0), fmt.Sprintf("%q is no class of segment; it must be one of %s", l.Class, strings.Join(classes, ", ")), suggest(l.Class, classes))
		r.mend(r.label(b, 0), l.Class, classes)
	}
	for i := range o.Limits[:len(o.Limits)-1] {
		if o.Limits[i].Class == l.Class {
			r.fault("name-taken", r.label(b, 0), fmt.Sprintf("a limit of %s is given twice", l.Class), "keep one of the two blocks")
		}
	}
}))}}

var transformerSchema = &schema[Transformer]{kind: "transformer", fields: map[string]*field[Transformer]{
	"rated_kva":         {num: func(o *Transformer) *Num { return &o.RatedKVA }, above: true, high: 1e6, required: true},
	"impedance_percent": {num: func(o *Transformer) *Num { return &o.ImpedancePercent }, above: true, high: 100, required: true},
	"load_loss_w":       num(func(o *Transformer) *Num { return &o.LoadLossW }, 0, most),
	"upstream_mva":      {num: func(o *Transformer) *Num { return &o.UpstreamMVA }, above: true, high: 1e6},
	"upstream_x_over_r": num(func(o *Transformer) *Num { return &o.UpstreamXOverR }, 0, 1000),
	"count":             counted(func(o *Transformer) *Num { return &o.Count }, 1, 100),
}}

var supplySchema = &schema[Supply]{kind: "supply", blocks: map[string]*nested[Supply]{"transformer": {once: true, decode: func(r *reader, o *Supply, b *syntax.Block) {
	o.Transformer = &Transformer{At: r.header(b)}
	decodeBody(r, transformerSchema, o.Transformer, b)
}}}, fields: map[string]*field[Supply]{
	"note":           text(func(o *Supply) *Text { return &o.Note }),
	"fault_ka":       {num: func(o *Supply) *Num { return &o.FaultKA }, above: true, high: 1000},
	"fault_min_ka":   {num: func(o *Supply) *Num { return &o.FaultMinKA }, above: true, high: 1000},
	"earth_loop_ohm": {num: func(o *Supply) *Num { return &o.EarthLoopOhm }, above: true, high: 10000},
	"x_over_r":       num(func(o *Supply) *Num { return &o.XOverR }, 0, 100),
	"max_v":          {num: func(o *Supply) *Num { return &o.MaxV }, above: true, high: 2000},
	"earthing":       word(func(o *Supply) *Text { return &o.Earthing }, "tn-s", "tn-c-s", "men", "tt", "it"),
	"origin":         text(func(o *Supply) *Text { return &o.Origin }),
}}

func terminalFields() *schema[Terminals] {
	return &schema[Terminals]{kind: "terminals", fields: map[string]*field[Terminals]{
		"materials":           {texts: func(o *Terminals) *Texts { return &o.Materials }, words: []string{"copper", "aluminium"}},
		"min_mm2":             num(func(o *Terminals) *Num { return &o.MinMM2 }, 0, 5000),
		"max_mm2":             {num: func(o *Terminals) *Num { return &o.MaxMM2 }, above: true, high: 5000},
		"max_device_a":        positive(func(o *Terminals) *Num { return &o.MaxDeviceA }),
		"min_device_a":        positive(func(o *Terminals) *Num { return &o.MinDeviceA }),
		"max_c":               num(func(o *Terminals) *Num { return &o.MaxC }, 20, 250),
		"space_mm":            positive(func(o *Terminals) *Num { return &o.SpaceMM }),
		"conductors_per_pole": counted(func(o *Terminals) *Num { return &o.ConductorsPerPole }, 1, 50),
		"finest_strand":       word(func(o *Terminals) *Text { return &o.FinestStrand }, "solid", "stranded", "flexible"),
		"stud_mm":             positive(func(o *Terminals) *Num { return &o.StudMM }),
		"gland_min_mm":        positive(func(o *Terminals) *Num { return &o.GlandMinMM }),
		"gland_max_mm":        positive(func(o *Terminals) *Num { return &o.GlandMaxMM }),
	}}
}

var terminalSchema = terminalFields()

// terminalsOf reads a terminals block into the place that get names.
func terminalsOf[T any](get func(*T) **Terminals) *nested[T] {
	return &nested[T]{once: true, decode: func(r *reader, o *T, b *syntax.Block) {
		t := &Terminals{At: r.header(b)}
		*get(o) = t
		decodeBody(r, terminalSchema, t, b)
	}}
}

var sourceSchema = &schema[Source]{
	room: &apart[Source, SourceDetail]{
		at:    func(o *Source) **SourceDetail { return &o.SourceDetail },
		empty: SourceDetail{Reactive: Text{Value: "delivers", Origin: Defaulted}, Holds: Text{Value: "power", Origin: Defaulted}},
	},
	kind: "source", fields: map[string]*field[Source]{
		"note":                   text(func(o *Source) *Text { return &o.Note }),
		"kind":                   {text: func(o *Source) *Text { return &o.SourceKind }, words: []string{"inverter", "battery", "generator"}, required: true},
		"rated_kva":              {num: func(o *Source) *Num { return &o.RatedKVA }, above: true, high: 1e6, alone: true},
		"max_current_a":          {num: func(o *Source) *Num { return &o.MaxCurrentA }, above: true, high: 1e6, alone: true},
		"power_factor":           {num: func(o *Source) *Num { return &o.PowerFactor }, high: 1},
		"reactive":               word(func(o *Source) *Text { return &o.Reactive }, "delivers", "absorbs"),
		"phases":                 counted(func(o *Source) *Num { return &o.Phases }, 1, 3).must(),
		"phase":                  word(func(o *Source) *Text { return &o.Phase }, phaseWords...),
		"needs_neutral":          flag(func(o *Source) *Flag { return &o.NeedsNeutral }),
		"third_harmonic_percent": num(func(o *Source) *Num { return &o.ThirdHarmonicPercent }, 0, 100),
		"model":                  text(func(o *Source) *Text { return &o.Model }),
		"max_v":                  {num: func(o *Source) *Num { return &o.MaxV }, above: true, high: 2000},
		"fault_a":                num(func(o *Source) *Num { return &o.FaultA }, 0, 1e6),
		"charge_a":               num(func(o *Source) *Num { return &o.ChargeA }, 0, 1e6),
		"charge_kva":             num(func(o *Source) *Num { return &o.ChargeKVA }, 0, 1e6),
		"holds":                  word(func(o *Source) *Text { return &o.Holds }, "power", "current"),
		"rcd":                    word(func(o *Source) *Text { return &o.RCD }, "none", "a", "f", "b"),
		"rcd_ma":                 positive(func(o *Source) *Num { return &o.RCDmA }),
	},
	blocks: map[string]*nested[Source]{
		"terminals": terminalsOf(func(o *Source) **Terminals { return &o.Terminals }),
		"isolator":  switchOf(func(o *Source) **Switch { return &o.Isolator }),
	},
}

var boardSchema = &schema[Board]{
	kind: "board", fields: map[string]*field[Board]{
		"note":                text(func(o *Board) *Text { return &o.Note }),
		"rated_a":             positive(func(o *Board) *Num { return &o.RatedA }),
		"rated_short_time_ka": {num: func(o *Board) *Num { return &o.RatedShortTimeKA }, above: true, high: 1000},
		"diversity":           {num: func(o *Board) *Num { return &o.Diversity }, above: true, high: 1},
		"inside_c":            num(func(o *Board) *Num { return &o.InsideC }, -60, 150),
		"demand_a":            num(func(o *Board) *Num { return &o.DemandA }, 0, 1e6),
		"demand_power_factor": {num: func(o *Board) *Num { return &o.DemandPowerFactor }, high: 1},

		"rated_conditional_ka": {num: func(o *Board) *Num { return &o.RatedConditionalKA }, above: true, high: 1000},
		"holds":                word(func(o *Board) *Text { return &o.Holds }, boardHolds...),
		"sources_at":           word(func(o *Board) *Text { return &o.SourcesAt }, "any", "opposite-end"),
		"gland_plate":          word(func(o *Board) *Text { return &o.GlandPlate }, "steel", "stainless-steel", "aluminium", "brass", "plastic"),
		"entry":                word(func(o *Board) *Text { return &o.Entry }, "one-hole", "hole-per-core", "slotted"),
	},
	blocks: map[string]*nested[Board]{
		"terminals":   terminalsOf(func(o *Board) **Terminals { return &o.Terminals }),
		"main_switch": switchOf(func(o *Board) **Switch { return &o.MainSwitch }),
		"portion": {label: true, decode: func(r *reader, o *Board, b *syntax.Block) {
			p := &Portion{At: r.header(b), Name: b.Labels[0].Name}
			for _, other := range o.Portions {
				if other.Name == p.Name {
					r.fault("name-taken", r.label(b, 0), fmt.Sprintf("portion %q is given twice", p.Name), "give one of the two another name")
				}
			}
			o.Portions = append(o.Portions, p)
			decodeBody(r, portionSchema, p, b)
		}},
	},
}

var portionSchema = &schema[Portion]{kind: "portion", fields: map[string]*field[Portion]{
	"rated_a":    positive(func(o *Portion) *Num { return &o.RatedA }).must(),
	"runs":       {links: func(o *Portion) *[]Link { return &o.Runs }, kinds: []string{"run"}},
	"holds":      word(func(o *Portion) *Text { return &o.Holds }, boardHolds...),
	"sources_at": word(func(o *Portion) *Text { return &o.SourcesAt }, "any", "opposite-end"),
}}

var switchSchema = &schema[Switch]{kind: "switch", fields: map[string]*field[Switch]{
	"kind":    word(func(o *Switch) *Text { return &o.Kind }, "switch-disconnector", "breaker", "built-in", "none").must(),
	"rated_a": positive(func(o *Switch) *Num { return &o.RatedA }),
	"reason":  text(func(o *Switch) *Text { return &o.Reason }),
}}

// switchOf reads an isolator or main_switch block into the place that get names.
func switchOf[T any](get func(*T) **Switch) *nested[T] {
	return &nested[T]{once: true, decode: func(r *reader, o *T, b *syntax.Block) {
		s := &Switch{At: r.header(b)}
		*get(o) = s
		decodeBody(r, switchSchema, s, b)
	}}
}

var loadSchema = &schema[Load]{kind: "load", fields: map[string]*field[Load]{
	"note":         text(func(o *Load) *Text { return &o.Note }),
	"at":           {link: func(o *Load) *Link { return &o.Where }, kinds: []string{"board"}, required: true},
	"demand_a":     num(func(o *Load) *Num { return &o.DemandA }, 0, 1e6),
	"demand_kva":   num(func(o *Load) *Num { return &o.DemandKVA }, 0, 1e6),
	"power_factor": {num: func(o *Load) *Num { return &o.PowerFactor }, high: 1},
	"phases":       counted(func(o *Load) *Num { return &o.Phases }, 1, 3),
	"phase":        word(func(o *Load) *Text { return &o.Phase }, phaseWords...),
}}

var routeSchema = &schema[Route]{kind: "route", room: &apart[Route, RouteDetail]{at: func(o *Route) **RouteDetail { return &o.RouteDetail }}, fields: map[string]*field[Route]{
	"note":                text(func(o *Route) *Text { return &o.Note }),
	"laid":                word(func(o *Route) *Text { return &o.Laid }, Layings...).must(),
	"lid":                 flag(func(o *Route) *Flag { return &o.Lid }),
	"spacing":             word(func(o *Route) *Text { return &o.Spacing }, "touching", "spaced", "bunched"),
	"spacing_mm":          num(func(o *Route) *Num { return &o.SpacingMM }, 0, 100000),
	"tiers":               counted(func(o *Route) *Num { return &o.Tiers }, 1, 100),
	"vertical":            flag(func(o *Route) *Flag { return &o.Vertical }),
	"air_c":               num(func(o *Route) *Num { return &o.AirC }, -60, 150),
	"soil_c":              num(func(o *Route) *Num { return &o.SoilC }, -60, 100),
	"soil_km_w":           {num: func(o *Route) *Num { return &o.SoilKmW }, above: true, high: 10},
	"depth_m":             {num: func(o *Route) *Num { return &o.DepthM }, above: true, high: 20},
	"sun":                 flag(func(o *Route) *Flag { return &o.Sun }),
	"sun_adds_origin":     text(func(o *Route) *Text { return &o.SunAddsOrigin }),
	"sun_adds_c":          num(func(o *Route) *Num { return &o.SunAddsC }, 0, 60),
	"other_circuits":      counted(func(o *Route) *Num { return &o.OtherCircuits }, 0, 10000),
	"ducts":               word(func(o *Route) *Text { return &o.Ducts }, "per-circuit", "per-core", "shared"),
	"duct_count":          counted(func(o *Route) *Num { return &o.DuctCount }, 1, 1000),
	"held_by":             text(func(o *Route) *Text { return &o.HeldBy }),
	"hidden":              flag(func(o *Route) *Flag { return &o.Hidden }),
	"guarded":             flag(func(o *Route) *Flag { return &o.Guarded }),
	"standoff_mm":         num(func(o *Route) *Num { return &o.StandoffMM }, 0, 100000),
	"depth_factor":        {num: func(o *Route) *Num { return &o.DepthFactor }, above: true, high: 1},
	"depth_factor_origin": text(func(o *Route) *Text { return &o.DepthFactorOrigin }),
	"extra_factor":        {num: func(o *Route) *Num { return &o.ExtraFactor }, above: true, high: 2},
	"extra_factor_reason": text(func(o *Route) *Text { return &o.ExtraFactorReason }),
	"duct_inside_mm":      num(func(o *Route) *Num { return &o.DuctInsideMM }, 1, most),
	"duct_outside_mm":     positive(func(o *Route) *Num { return &o.DuctOutsideMM }),
	"width_mm":            num(func(o *Route) *Num { return &o.WidthMM }, 1, most),
	"height_mm":           num(func(o *Route) *Num { return &o.HeightMM }, 1, most),
	"spare_percent":       num(func(o *Route) *Num { return &o.SparePercent }, 0, 99),
	"layers":              counted(func(o *Route) *Num { return &o.Layers }, 1, 20),
	"fill_limit_percent":  num(func(o *Route) *Num { return &o.FillLimitPercent }, 1, 100),
	"fill_limit_origin":   text(func(o *Route) *Text { return &o.FillLimitOrigin }),
	"other_outer_mm":      {num: func(o *Route) *Num { return &o.OtherOuterMM }, above: true, high: 500},
	"other_kg_m":          num(func(o *Route) *Num { return &o.OtherKgM }, 0, 1000),
	"span_m":              num(func(o *Route) *Num { return &o.SpanM }, 0.01, 100),
	"load_kg_m":           num(func(o *Route) *Num { return &o.LoadKgM }, 0.01, 10000),
	"load_span_m":         num(func(o *Route) *Num { return &o.LoadSpanM }, 0.01, 100),
	"added_kg_m":          num(func(o *Route) *Num { return &o.AddedKgM }, 0, 10000),
	"load_origin":         text(func(o *Route) *Text { return &o.LoadOrigin }),
	"bend_mm":             num(func(o *Route) *Num { return &o.BendMM }, 1, most),
	"material":            word(func(o *Route) *Text { return &o.Material }, "steel", "other-metal", "plastic", "other"),
	"encircled":           flag(func(o *Route) *Flag { return &o.Encircled }),
	"together":            flag(func(o *Route) *Flag { return &o.Together }),
	"also_holds":          {texts: func(o *Route) *Texts { return &o.AlsoHolds }, words: []string{"dc", "communication", "elv", "gas", "water"}},
	"barrier":             flag(func(o *Route) *Flag { return &o.Barrier }),
	"fire_barriers":       counted(func(o *Route) *Num { return &o.FireBarriers }, 0, 10000),
	"fire_seals":          counted(func(o *Route) *Num { return &o.FireSeals }, 0, 10000),
	"length_m":            {num: func(o *Route) *Num { return &o.LengthM }, above: true, high: 1e6},
	"work_height_m":       num(func(o *Route) *Num { return &o.WorkHeightM }, 0, 1000),
	"access":              text(func(o *Route) *Text { return &o.Access }),
	"existing":            flag(func(o *Route) *Flag { return &o.Existing }),
}}

var dataSchema = &schema[CableData]{kind: "data", fields: map[string]*field[CableData]{
	"r_ohm_km":      {num: func(o *CableData) *Num { return &o.ROhmKM }, above: true, high: 1e6},
	"x_ohm_km":      num(func(o *CableData) *Num { return &o.XOhmKM }, 0, 1e6),
	"outer_mm":      {num: func(o *CableData) *Num { return &o.OuterMM }, above: true, high: 500},
	"kg_m":          {num: func(o *CableData) *Num { return &o.KgM }, above: true, high: 1000},
	"capacity_a":    positive(func(o *CableData) *Num { return &o.CapacityA }),
	"conductor_mm":  {num: func(o *CableData) *Num { return &o.ConductorMM }, above: true, high: 500},
	"insulation_mm": {num: func(o *CableData) *Num { return &o.InsulationMM }, above: true, high: 100},
	"sheath_mm":     {num: func(o *CableData) *Num { return &o.SheathMM }, above: true, high: 100},
	"origin":        text(func(o *CableData) *Text { return &o.Origin }),
}}

var cableSchema = &schema[Cable]{
	kind: "cable", fields: map[string]*field[Cable]{
		"note":        text(func(o *Cable) *Text { return &o.Note }),
		"conductor":   word(func(o *Cable) *Text { return &o.Conductor }, Conductors...).must(),
		"strands":     word(func(o *Cable) *Text { return &o.Strands }, Strandings...),
		"insulation":  word(func(o *Cable) *Text { return &o.Insulation }, Insulations...).must(),
		"build":       word(func(o *Cable) *Text { return &o.Build }, Builds...).must(),
		"cores":       text(func(o *Cable) *Text { return &o.Cores }),
		"armour":      word(func(o *Cable) *Text { return &o.Armour }, "none", "steel-wire", "aluminium-wire"),
		"bend_factor": {num: func(o *Cable) *Num { return &o.BendFactor }, above: true, high: 100},
		"bend_origin": text(func(o *Cable) *Text { return &o.BendOrigin }),
		"uv_proof":    flag(func(o *Cable) *Flag { return &o.UVProof }),
		"formation":   word(func(o *Cable) *Text { return &o.Formation }, "trefoil", "flat", "flat-spaced"),
	},
	blocks: map[string]*nested[Cable]{"data": labelled(many(dataSchema, func(o *Cable) *[]CableData { return &o.Data }, func(r *reader, o *Cable, data *CableData, b *syntax.Block) {
		data.At = r.header(b)
		size, err := quantity.ParseSize(b.Labels[0].Name)
		if err != nil {
			r.fault("value-impossible", r.label(b, 0), err.Error(), `write data "50" for 50 mm2, data "4/0 AWG" or data "250 kcmil"`)
		}
		for i := range o.Data[:len(o.Data)-1] {
			if err == nil && o.Data[i].Size == size {
				r.fault("name-taken", r.label(b, 0), "data for "+size.String()+" are given twice", "keep one of the two blocks")
			}
		}
		data.Size = size
	}))},
}

var deviceSchema = &schema[Device]{
	room: &apart[Device, DeviceDetail]{at: func(o *Device) **DeviceDetail { return &o.DeviceDetail }},
	kind: "device", fields: map[string]*field[Device]{
		"at":               {link: func(o *Device) *Link { return &o.Board }, kinds: nodeKinds},
		"kind":             word(func(o *Device) *Text { return &o.Kind }, "mcb", "mccb", "fuse").must(),
		"rated_a":          positive(func(o *Device) *Num { return &o.RatedA }).must(),
		"breaking_ka":      {num: func(o *Device) *Num { return &o.BreakingKA }, above: true, high: 1000},
		"backed_up_ka":     {num: func(o *Device) *Num { return &o.BackedUpKA }, above: true, high: 1000},
		"backed_up_origin": text(func(o *Device) *Text { return &o.BackedUpOrigin }),
		"full_rated":       flag(func(o *Device) *Flag { return &o.FullRated }),
		"fuse_type":        word(func(o *Device) *Text { return &o.FuseType }, "gg", "bs3036"),

		"trip":            word(func(o *Device) *Text { return &o.Trip }, "b", "c", "d"),
		"instant_a":       positive(func(o *Device) *Num { return &o.InstantA }),
		"short_a":         positive(func(o *Device) *Num { return &o.ShortA }),
		"short_s":         {num: func(o *Device) *Num { return &o.ShortS }, above: true, high: 60},
		"curve":           {pairs: func(o *Device) *Pairs { return &o.Curve }},
		"let_through":     {pairs: func(o *Device) *Pairs { return &o.LetThrough }},
		"ambient_factor":  {num: func(o *Device) *Num { return &o.AmbientFactor }, above: true, high: 2},
		"row_factor":      {num: func(o *Device) *Num { return &o.RowFactor }, above: true, high: 1},
		"factor_origin":   text(func(o *Device) *Text { return &o.FactorOrigin }),
		"rcd":             word(func(o *Device) *Text { return &o.RCD }, "none", "ac", "a", "f", "b"),
		"rcd_ma":          positive(func(o *Device) *Num { return &o.RCDmA }),
		"selective_to_ka": {num: func(o *Device) *Num { return &o.SelectiveToKA }, above: true, high: 1000},
	},
	blocks: map[string]*nested[Device]{"terminals": terminalsOf(func(o *Device) **Terminals { return &o.Terminals })},
}

var sectionSchema = &schema[Section]{kind: "section", fields: map[string]*field[Section]{
	"route":       {link: func(o *Section) *Link { return &o.Route }, kinds: []string{"route"}, required: true},
	"length_m":    {num: func(o *Section) *Num { return &o.LengthM }, above: true, high: 1e6, required: true, alone: true},
	"length_from": word(func(o *Section) *Text { return &o.LengthFrom }, lengthOrigin...),
	"size_mm2":    {num: func(o *Section) *Num { return &o.SizeMM2 }, above: true, high: 5000},
}}

var endSchema = &schema[End]{kind: "ends", fields: map[string]*field[End]{
	"at":          {link: func(o *End) *Link { return &o.Where }, kinds: nodeKinds, required: true},
	"lug":         word(func(o *End) *Text { return &o.Lug }, "bimetal", "copper", "aluminium", "ferrule", "none"),
	"tail":        word(func(o *End) *Text { return &o.Tail }, "none", "copper", "aluminium"),
	"lug_stud_mm": positive(func(o *End) *Num { return &o.StudMM }),
}}

var runSchema = &schema[Run]{
	room: &apart[Run, RunDetail]{at: func(o *Run) **RunDetail { return &o.RunDetail }},
	kind: "run", fields: map[string]*field[Run]{
		"note":              text(func(o *Run) *Text { return &o.Note }),
		"from":              {link: func(o *Run) *Link { return &o.From }, kinds: nodeKinds, required: true},
		"to":                {link: func(o *Run) *Link { return &o.To }, kinds: nodeKinds, required: true},
		"cable":             {link: func(o *Run) *Link { return &o.Cable }, kinds: []string{"cable"}, required: true},
		"size_mm2":          {num: func(o *Run) *Num { return &o.SizeMM2 }, above: true, high: 5000},
		"size_kcmil":        {num: func(o *Run) *Num { return &o.SizeKcmil }, low: 1, high: 5000},
		"size_awg":          text(func(o *Run) *Text { return &o.SizeAWG }),
		"earth_mm2":         {num: func(o *Run) *Num { return &o.EarthMM2 }, low: 0, high: 5000},
		"earth_conductor":   word(func(o *Run) *Text { return &o.EarthConductor }, "copper", "aluminium"),
		"earth_by":          word(func(o *Run) *Text { return &o.EarthBy }, "core", "separate", "armour"),
		"earth_r_ohm_km":    {num: func(o *Run) *Num { return &o.EarthROhmKM }, above: true, high: 1e6},
		"neutral_mm2":       {num: func(o *Run) *Num { return &o.NeutralMM2 }, low: 0, high: 5000},
		"disconnection_s":   {num: func(o *Run) *Num { return &o.DisconnectionS }, above: true, high: 60},
		"class":             word(func(o *Run) *Text { return &o.Class }, classes...),
		"parallel":          counted(func(o *Run) *Num { return &o.Parallel }, 1, 100),
		"never_with":        {links: func(o *Run) *[]Link { return &o.NeverWith }, kinds: []string{"run"}},
		"leg_lengths_m":     {nums: func(o *Run) *Nums { return &o.LegLengthsM }, low: 0.01, high: 1e6},
		"legs_grouped":      flag(func(o *Run) *Flag { return &o.LegsGrouped }),
		"leg_device_a":      num(func(o *Run) *Num { return &o.LegDeviceA }, 0.1, 1e6),
		"leg_device_kind":   word(func(o *Run) *Text { return &o.LegDeviceKind }, "mcb", "mccb", "fuse"),
		"never_with_reason": text(func(o *Run) *Text { return &o.NeverWithReason }),
	},
	blocks: map[string]*nested[Run]{
		"device":  many(deviceSchema, func(o *Run) *[]Device { return &o.Devices }, func(r *reader, _ *Run, e *Device, b *syntax.Block) { e.At = r.header(b) }),
		"section": many(sectionSchema, func(o *Run) *[]Section { return &o.Sections }, func(r *reader, _ *Run, e *Section, b *syntax.Block) { e.At = r.header(b) }),
		"ends":    many(endSchema, func(o *Run) *[]End { return &o.Ends }, func(r *reader, _ *Run, e *End, b *syntax.Block) { e.At = r.header(b) }),
		"built": {once: true, decode: func(r *reader, o *Run, b *syntax.Block) {
			o.Built = &Built{At: r.header(b)}
			decodeBody(r, builtSchema, o.Built, b)
		}},
	},
}

var builtSchema = &schema[Built]{kind: "built", fields: map[string]*field[Built]{
	"length_m":   {num: func(o *Built) *Num { return &o.LengthM }, above: true, high: 1e6},
	"size_mm2":   {num: func(o *Built) *Num { return &o.SizeMM2 }, above: true, high: 5000},
	"size_kcmil": {num: func(o *Built) *Num { return &o.SizeKcmil }, low: 1, high: 5000},
	"size_awg":   text(func(o *Built) *Text { return &o.SizeAWG }),
	"parallel":   counted(func(o *Built) *Num { return &o.Parallel }, 1, 100),
	"device_a":   positive(func(o *Built) *Num { return &o.DeviceA }),
	"by":         text(func(o *Built) *Text { return &o.By }),
}}

var waiverSchema = &schema[Waiver]{kind: "waiver", fields: map[string]*field[Waiver]{
	"note":        text(func(o *Waiver) *Text { return &o.Note }),
	"on":          {link: func(o *Waiver) *Link { return &o.On }, kinds: waivable, required: true},
	"reason":      text(func(o *Waiver) *Text { return &o.Reason }),
	"approved_by": text(func(o *Waiver) *Text { return &o.ApprovedBy }),
	"until":       {text: func(o *Waiver) *Text { return &o.Until }, date: true},
	"accepts":     num(func(o *Waiver) *Num { return &o.Accepts }, 0, most),
}}
