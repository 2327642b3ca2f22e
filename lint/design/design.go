// Package design turns syntax trees into a typed Design. Every value keeps its
// byte range and whether it was stated, defaulted or never given; syntax trees
// are dropped as soon as their values are copied.
//
// Nothing is worked out here: who feeds whom is the matter of lint/network, what
// a cable may carry that of lint/assess.
package design

import (
	"fmt"
	"strings"

	"trefoil/lint/finding"
	"trefoil/lint/source"
	"trefoil/ratings/quantity"
)

// Origin says where a value comes from.
type Origin uint8

// A value is absent, written in the design, filled in by the language, or
// written but unusable (which is then already told).
const (
	Absent Origin = iota
	Stated
	Defaulted
	Faulty
)

// Num is a number with its place. Its unit is part of the attribute's name.
type Num struct {
	Value  float64
	At     source.Range
	Origin Origin
}

// Text is a text with its place.
type Text struct {
	Value  string
	At     source.Range
	Origin Origin
}

// Flag is true or false with its place.
type Flag struct {
	Value  bool
	At     source.Range
	Origin Origin
}

// Texts is a list of texts with its place.
type Texts struct {
	Values []string
	At     source.Range
	Origin Origin
}

// Pairs is a list of pairs of numbers with its place, as in a curve.
type Pairs struct {
	Values [][2]float64
	At     source.Range
	Origin Origin
}

// Nums is a list of numbers with its place.
type Nums struct {
	Values []float64
	At     source.Range
	Origin Origin
}

// Known says that the value can be used.
func (n Nums) Known() bool { return n.Origin == Stated || n.Origin == Defaulted }

// Known says that the value can be used.
func (p Pairs) Known() bool { return p.Origin == Stated || p.Origin == Defaulted }

// Known says that the value can be used.
func (n Num) Known() bool { return n.Origin == Stated || n.Origin == Defaulted }

// Known says that the value can be used.
func (t Text) Known() bool { return t.Origin == Stated || t.Origin == Defaulted }

// Known says that the value can be used.
func (f Flag) Known() bool { return f.Origin == Stated || f.Origin == Defaulted }

// Known says that the value can be used.
func (t Texts) Known() bool { return t.Origin == Stated || t.Origin == Defaulted }

// Maybe is the number without its place.
func (n Num) Maybe() quantity.Maybe { return quantity.Maybe{Value: n.Value, Known: n.Known()} }

// Link is a reference to another block, as written; the linker fills the target.
type Link struct {
	Kind, Name string // source, inv[east]
	At         source.Range
	Set        bool // names a whole set of copies
	Origin     Origin
}

// Subject is the name that findings use: "run.inv-1".
func (l Link) Subject() string {
	if l.Name == "" {
		return l.Kind
	}
	return l.Kind + "." + l.Name
}

// Names says that it is the subject of the block that is referred to.
func (l *Link) Names(subject string) bool {
	kind, name, _ := strings.Cut(subject, ".")
	return l.Kind == kind && l.Name == name
}

// Object is what every block has.
type Object struct {
	Kind, Name string
	At         source.Range // the block's first line
	Whole      source.Range // the whole block
	CopyOf     string       // name of the set this is a copy of, "" otherwise
}

// Subject is the name that findings use: "run.inv-1".
func (o *Object) Subject() string { return o.Kind + "." + o.Name }

// Alone says whether the text of a block is its own. That of a copy is the text of all
// copies of its set, so one of them cannot be changed alone; the error says so.
func (o *Object) Alone() error {
	if o.CopyOf == "" {
		return nil
	}
	return fmt.Errorf("%s shares its text with all copies of %s.%s, so it cannot be changed alone; change all of them alike, or give it a block of its own", o.Subject(), o.Kind, o.CopyOf)
}

// Site holds what is common to the design.
type Site struct {
	Object
	Note                               Text
	Ratings, Stage                     Text
	VoltageV, FrequencyHz              Num
	AirC, SoilC, SoilKmW, DepthM       Num
	RiseLimitPercent, DropLimitPercent Num
	RiseLimitOrigin, DropLimitOrigin   Text
	RiseAt                             Text // rated | max
	SunAddsC                           Num
	LightNeighboursPercent             Num
	UtilisationTargetPercent           Num
	EditionReason                      Text
	Library                            Texts // directories with shared cables and house rules
	CapacityTables                     Text
	RiseMethod, RiseSupply             Text // trade | exact; nominal | max: the supply's voltage of the exact solution
	VoltageFactorMax, VoltageFactorMin Num  // of prospective fault currents
	UnbalanceLimitPercent              Num  // negative sequence of the voltage
	PhaseDifferenceLimitKVA            Num  // between the phases' single-phase sources
	UnbalanceLimitOrigin               Text
	FillLimitPercent                   Num // of conduits, ducts and trunking
	FillLimitOrigin                    Text
	LegTolerancePercent                Num // between the lengths of parallel legs
	LegMinMM2                          Num // least size that may be laid in parallel
	LegMinOrigin                       Text
	Limits                             []Limit
	Thresholds                         []*Threshold
	ExportSetKVA                       Num // what the control that limits the export is set at
	SunAddsOrigin                      Text
	VoltageFactorOrigin                Text
	BuiltTolerancePercent              Num // of a length as laid against the designed one
	PriceDays                          Num // after which a price list is old
	Economy                            *Economy
}

// Limit bounds what the segments of one class may take of a path.
type Limit struct {
	At                       source.Range
	Class                    string // service-mains | consumer-mains | submain | source-circuit
	RisePercent, DropPercent Num
	Origin                   Text
}

// Supply is the point of supply.
type Supply struct {
	Object
	Note                                            Text
	FaultKA, FaultMinKA, EarthLoopOhm, XOverR, MaxV Num
	Earthing, Origin                                Text
	Transformer                                     *Transformer
}

// Transformer is the one that feeds the point of supply, where no fault level is given.
type Transformer struct {
	At                            source.Range
	RatedKVA, ImpedancePercent    Num
	LoadLossW, UpstreamMVA, Count Num // UpstreamMVA: fault level on its high-voltage side; Count: in parallel
	UpstreamXOverR                Num
}

// Terminals are the maker's limits of a source, board or device.
type Terminals struct {
	At                             source.Range
	Materials                      Texts
	MinMM2, MaxMM2                 Num
	MinDeviceA, MaxDeviceA         Num
	MaxC, ConductorsPerPole        Num
	FinestStrand                   Text
	StudMM, GlandMinMM, GlandMaxMM Num
	SpaceMM                        Num // from the gland plate to the terminals
}

// Source is an inverter, battery inverter or generator.
type Source struct {
	Object
	SourceKind                         Text
	RatedKVA, MaxCurrentA, PowerFactor Num
	Phases                             Num // 1 or 3

	*SourceDetail
}

// SourceDetail holds the attributes that few sources state, as RunDetail does.
type SourceDetail struct {
	Note                 Text
	Reactive             Text // delivers | absorbs
	Phase                Text // L1 | L2 | L3 | L1-L2 | L2-L3 | L3-L1
	Holds                Text // power | current, when the voltage moves
	NeedsNeutral         Flag
	ThirdHarmonicPercent Num
	Model                Text
	MaxV                 Num  // the highest voltage at which it stays on, line to line; to neutral for one phase
	FaultA               Num  // what it feeds into a fault
	ChargeA, ChargeKVA   Num  // of a battery inverter
	RCD                  Text // the maker's advice: none | a | f | b
	RCDmA                Num
	Terminals            *Terminals
	Isolator             *Switch
}

// Board is a switchboard.
type Board struct {
	Object
	Note                                Text
	RatedA, RatedShortTimeKA, Diversity Num
	InsideC                             Num // air inside the enclosure
	DemandA, DemandPowerFactor          Num // of its loads, three-phase
	Terminals                           *Terminals
	RatedConditionalKA                  Num  // with the device in front that its maker names
	Holds                               Text // sources | loads: loads as well
	SourcesAt                           Text // any | opposite-end of the bar, seen from the supply
	GlandPlate, Entry                   Text
	MainSwitch                          *Switch
	Portions                            []*Portion
}

// Portion is a part of a board's bar that is rated by itself.
type Portion struct {
	At        source.Range
	Name      string
	RatedA    Num
	Runs      []Link // those that can feed it
	Holds     Text   // as of the board, where not stated
	SourcesAt Text
}

// Switch is the isolator of a source, or the main switch of a board.
type Switch struct {
	At     source.Range
	Kind   Text // switch-disconnector | breaker | built-in | none
	RatedA Num
	Reason Text // why there is none
}

// Load is something that takes current from a board.
type Load struct {
	Object
	Note                            Text
	Where                           Link
	DemandA, DemandKVA, PowerFactor Num
	Phases                          Num  // 1 or 3
	Phase                           Text // L1 | L2 | L3 | L1-L2 | L2-L3 | L3-L1
}

// Route is one tray, conduit, trunking, duct bank or trench: all its runs share it.
type Route struct {
	Object
	Laid          Text
	Lid           Flag
	Spacing       Text
	Tiers         Num
	Vertical      Flag
	Sun           Flag
	SunAddsC      Num
	SunAddsOrigin Text
	OtherCircuits Num
	Ducts         Text
	DuctCount     Num
	Layers        Num  // of cables one upon the other
	Existing      Flag // it is there already, and is not built

	*RouteDetail
}

// RouteDetail holds the attributes that few routes state, as RunDetail does.
type RouteDetail struct {
	Note                         Text
	SpacingMM                    Num
	AirC, SoilC, SoilKmW, DepthM Num
	HeldBy                       Text
	StandoffMM                   Num
	DepthFactor                  Num
	DepthFactorOrigin            Text
	ExtraFactor                  Num
	ExtraFactorReason            Text
	DuctInsideMM, DuctOutsideMM  Num
	WidthMM                      Num
	Hidden, Guarded              Flag // hidden close below a surface; guarded there against nails and drills
	HeightMM                     Num  // of trunking, inside
	SparePercent                 Num  // of the width, to be kept free
	FillLimitPercent             Num
	FillLimitOrigin              Text
	OtherOuterMM, OtherKgM       Num // of each circuit of other projects
	SpanM, LoadKgM, LoadSpanM    Num // between supports; what the maker allows, and up to which span
	AddedKgM                     Num // lid, covers, snow
	LoadOrigin                   Text
	BendMM                       Num   // least inside radius of its bends
	Material                     Text  // of the conduit, duct, trunking or tray: steel | other-metal | plastic | other
	Encircled                    Flag  // ferrous metal closes round single cores one by one
	Together                     Flag  // all conductors of a circuit lie in it together
	AlsoHolds                    Texts // other services: dc | communication | elv | gas | water
	Barrier                      Flag  // between them
	FireBarriers, FireSeals      Num
	LengthM                      Num  // of the route itself, where it is not that of its longest run
	WorkHeightM                  Num  // above the floor that one works from
	Access                       Text // names a factor on labour in a price list
}

// Cable is a cable type.
type Cable struct {
	Object
	Note                                  Text
	Conductor, Strands, Insulation, Build Text
	Cores                                 Text
	Layout                                Cores // Cores, read
	Armour, Formation                     Text
	BendFactor                            Num // least inside bend radius, in diameters
	BendOrigin                            Text
	UVProof                               Flag
	Data                                  []CableData
}

// Cores is a core count as the trade writes it, "4c+e", read.
type Cores struct {
	Live  int // phase and neutral cores
	Earth int // earth cores
}

// Total is the number of cores in the cable.
func (c Cores) Total() int { return c.Live + c.Earth }

// Sized gives the maker's own figures for a size, nil where there are none.
func (c *Cable) Sized(size quantity.Size) *CableData {
	for i := range c.Data {
		if c.Data[i].Size == size {
			return &c.Data[i]
		}
	}
	return nil
}

// CableData are a maker's own figures for one size.
type CableData struct {
	At                                      source.Range
	Size                                    quantity.Size
	ROhmKM, XOhmKM, OuterMM, KgM, CapacityA Num
	ConductorMM, InsulationMM, SheathMM     Num
	Origin                                  Text
}

// Device is a protective device of a run.
type Device struct {
	At         source.Range
	Board      Link
	Kind       Text // mcb | mccb | fuse
	RatedA     Num  // the setting, where adjustable
	BreakingKA Num
	InstantA   Num // instantaneous pick-up of an mccb

	*DeviceDetail
}

// DeviceDetail holds the attributes that few devices state, as RunDetail does.
type DeviceDetail struct {
	FuseType                 Text // gg | bs3036
	FullRated                Flag // listed for its full rating without pause
	Trip                     Text // b | c | d, of an mcb
	ShortA                   Num  // short-time pick-up, with its total clearing time
	ShortS                   Num
	Curve                    Pairs // maker's points: current A, longest clearing time s
	LetThrough               Pairs // maker's points: prospective current kA, A2s
	AmbientFactor, RowFactor Num   // what heat leaves of its rating
	FactorOrigin             Text
	RCD                      Text // none | ac | a | f | b
	RCDmA                    Num
	SelectiveToKA            Num // with the next device towards the supply, by the maker
	Terminals                *Terminals
	BackedUpKA               Num // what it breaks with the next device towards the supply, by the maker
	BackedUpOrigin           Text
}

// Section is a stretch of a run along one route.
type Section struct {
	At         source.Range
	Route      Link
	LengthM    Num
	LengthFrom Text // measured | scaled | estimated
	SizeMM2    Num  // where it differs from the run's, as in a step down near a terminal
}

// End is a termination of a run.
type End struct {
	At     source.Range
	Where  Link
	Lug    Text // bimetal | copper | aluminium | ferrule | none
	Tail   Text // material of a tail, "" for none
	StudMM Num  // the hole of the lug
}

// Run is a circuit between two nodes: one cable, or several legs of it, along its sections.
type Run struct {
	Object
	Note     Text
	From, To Link
	Cable    Link
	SizeMM2  Num
	Size     quantity.Size // from whichever of SizeMM2, SizeKcmil and SizeAWG is stated; zero where none is usable
	SizeAt   source.Range
	EarthMM2 Num
	Parallel Num
	Devices  []Device
	Sections []Section
	Ends     []End

	*RunDetail
}

// RunDetail holds the attributes that few runs state. Those that state none share one
// that is empty, and a copy of a run shares that of the run: it is only read.
type RunDetail struct {
	SizeKcmil       Num
	SizeAWG         Text
	NeutralMM2      Num  // where it differs from the phases
	EarthConductor  Text // copper | aluminium; that of the cable where not stated
	EarthBy         Text // core | separate | armour
	EarthROhmKM     Num  // of the whole earth conductor of one leg, in place of its size
	DisconnectionS  Num  // the longest time to clear an earth fault
	Class           Text // service-mains | consumer-mains | submain | source-circuit
	LegLengthsM     Nums // one a leg, where they differ
	LegsGrouped     Flag // each leg of single cores holds one core of every phase
	LegDeviceA      Num  // of an overload device in each leg
	LegDeviceKind   Text // mcb | mccb | fuse
	NeverWith       []Link
	NeverWithReason Text
	NeverWithAt     source.Range
	Built           *Built
}

// Built is what was laid, beside what was designed.
type Built struct {
	At        source.Range
	LengthM   Num // of the whole run
	SizeMM2   Num
	SizeKcmil Num
	SizeAWG   Text
	Size      quantity.Size // from whichever of the three is stated
	SizeAt    source.Range
	Parallel  Num
	DeviceA   Num  // the setting found
	By        Text // who measured, or the sheet
}

// Legs is the number of parallel legs, 1 where it is not usable.
func (r *Run) Legs() int {
	if !r.Parallel.Known() || r.Parallel.Value < 1 {
		return 1
	}
	return int(r.Parallel.Value)
}

// LengthM is the length of all sections; unknown where one is.
func (r *Run) LengthM() quantity.Maybe {
	sum := 0.0
	for i := range r.Sections {
		if !r.Sections[i].LengthM.Known() {
			return quantity.Maybe{}
		}
		sum += r.Sections[i].LengthM.Value
	}
	return quantity.Maybe{Value: sum, Known: len(r.Sections) > 0}
}

// Waiver accepts one finding for a stated reason.
type Waiver struct {
	Object     // Name is the rule
	Note       Text
	On         Link // what the finding is about
	Reason     Text
	ApprovedBy Text
	Until      Text // last day, included, YYYY-MM-DD
	Accepts    Num  // percent
}

// HouseRule is a rule of the firm's own, said in expressions about one kind of block.
type HouseRule struct {
	Object
	Note                        Text
	Each                        Text
	When, Must, Message         Formula
	Severity, Next, Why, Source Text
}

// Constant is one name of a let block.
type Constant struct {
	Name string
	At   source.Range
	Cut  source.Range // what goes with it: itself, or the whole block that holds it alone
	Used bool
}

// Fault is something wrong with the text itself, found while reading; the rule
// of its name tells it.
type Fault = finding.Finding

// Design is one directory's text, decoded.
type Design struct {
	Dir       string
	Files     []*source.File
	Sites     []*Site
	Supplies  []*Supply
	Sources   []*Source
	Boards    []*Board
	Routes    []*Route
	Cables    []*Cable
	Runs      []*Run
	Loads     []*Load
	Waivers   []*Waiver
	Approvals []*Approved
	Prices    []*Price
	Profile   *Profile // nil where none is named, or none could be read
	Lets      []Constant
	House     []*HouseRule
	Faults    []Fault
	Broken    bool // the text could not be read whole: what hangs on missing blocks is not judged

	index     index
	sets      map[name]bool       // names of sets of copies
	names     map[string][]string // names by kind, sorted, while suggestions are made
	near      map[name]string     // what is suggested for a name that is not there, meanwhile
	suggested int
	tight     bool // a route holds more sections than are read

	whole    []Fault    // that count only where the whole text could be read, while reading
	profiled []Fault    // of the load profile
	loose    []referrer // blocks with references that name nothing
}

type name struct{ kind, name string }

// index holds blocks by kind and name.
type index map[string]map[string]any

func (x index) of(n name) any { return x[n.kind][n.name] }

func (x index) put(n name, block any) {
	if x[n.kind] == nil {
		x[n.kind] = map[string]any{}
	}
	x[n.kind][n.name] = block
}

func (x index) drop(n name) { delete(x[n.kind], n.name) }

// Site is the first site block, nil where there is none.
func (d *Design) Site() *Site {
	if len(d.Sites) == 0 {
		return nil
	}
	return d.Sites[0]
}

// Find gives the block of a kind and name: a *Source, *Board, *Route and so on; nil where there is none.
func (d *Design) Find(kind, object string) any { return d.index.of(name{kind, object}) }

// Finder finds blocks as Design.Find does, the quicker as one of a kind is asked for again and
// again. It is for one caller at a time, while no block comes or goes.
type Finder struct {
	of   *Design
	last [4]struct {
		key   name
		block any
	}
}

// Finder gives one that has found nothing yet.
func (d *Design) Finder() *Finder { return &Finder{of: d} }

// Find gives the block of a link; nil where there is none.
func (f *Finder) Find(l *Link) any {
	last := &f.last[0]
	switch l.Kind {
	case "board":
		last = &f.last[1]
	case "route":
		last = &f.last[2]
	case "cable":
		last = &f.last[3]
	}
	if key := (name{l.Kind, l.Name}); last.key != key {
		last.key, last.block = key, f.of.index.of(key)
	}
	return last.block
}

// Route gives the route of a link, nil where there is none.
func (d *Design) Route(l Link) *Route { r, _ := d.index.of(name{l.Kind, l.Name}).(*Route); return r }

// CableOf gives the cable type of a run, nil where there is none.
func (d *Design) CableOf(r *Run) *Cable {
	c, _ := d.index.of(name{r.Cable.Kind, r.Cable.Name}).(*Cable)
	return c
}
