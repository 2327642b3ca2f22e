// Package ratings answers one question: what may this circuit, laid so and among
// these neighbours, carry, what is its impedance, and why.
//
// The question (Circuit, Place, Group) and the answer (Rating, Impedance, Gap) are
// defined here; each rating set lives in a folder of its own beside its table
// files and implements Set. Nothing here knows of designs, files or findings.
package ratings

import (
	"slices"

	"trefoil/ratings/quantity"
)

// Circuit is one circuit, or one leg of parallel conductors: the cable or the
// single-core cables that carry one set of phase conductors.
type Circuit struct {
	Conductor   string // copper | aluminium
	Strands     string // solid | stranded | flexible
	Insulation  string // pvc-70 | pvc-75 | pvc-90 | xlpe-90 | epr-90 | xlpe-110
	Build       string // multicore | single-core
	Armour      string // none | steel-wire | aluminium-wire
	Formation   string // trefoil | flat | flat-spaced; of single-core cables
	Size        quantity.Size
	Loaded      int     // loaded conductors of the circuit: 2 or 3
	Cores       int     // all cores in one cable, earth included; 1 for single-core
	ThirdPct    float64 // third harmonic in the line current, percent
	FrequencyHz float64

	// Construction of one cable where the maker's data are given (mm).
	ConductorMM, InsulationMM, SheathMM, OuterMM quantity.Maybe

	// The maker's own figures at working temperature, ohm/km of one conductor.
	ROhmKM, XOhmKM quantity.Maybe
	TerminalC      quantity.Maybe // the lowest of its terminals, where stated
	CapacityA      quantity.Maybe // of one leg at the set's reference conditions, in place of the table
	DataOrigin     string
}

// Place is how and where a section is laid.
type Place struct {
	Laid       string // see the words of the design language
	Lid        bool
	Spacing    string         // touching | spaced | bunched; between neighbouring circuits
	SpacingMM  quantity.Maybe // clear distance, with spaced
	Tiers      int
	Vertical   bool
	HeldBy     string // what keeps the spacing; empty when not stated
	StandoffMM quantity.Maybe

	AirC, SoilC, SoilKmW, DepthM quantity.Maybe // unknown: the set's reference condition
	Sun                          bool
	SunAddsC                     quantity.Maybe // unknown: the set's own practice

	Ducts     string // per-circuit | per-core | shared
	DuctCount int    // ducts side by side, with shared; 1 when not stated

	DepthFactor       quantity.Maybe // the designer's own, with its origin
	DepthFactorOrigin string
	ExtraFactor       quantity.Maybe // the designer's own further factor, with its reason
	ExtraFactorReason string

	// Choices that the thermal model leaves open; unknown: the documented default.
	DuctInsideMM, DuctOutsideMM quantity.Maybe
}

// Group is the company in which a section of a circuit is laid.
type Group struct {
	Circuits          int            // loaded circuits: this one, all its legs, neighbours, and those of other projects
	Smallest, Largest quantity.Size  // among the circuits of the design
	Insulation        string         // the insulation of lowest temperature in the group
	OuterMM           quantity.Maybe // largest cable diameter among the circuits of the design
	OuterUnknown      bool           // the diameter of some of them cannot be had, so that no distance can be judged by it
	Conductors        int            // loaded conductors of all circuits
}

// Status tells where a figure comes from.
type Status string

// A figure was read in a print, is remembered, was worked out, or was given in the design.
const (
	Published Status = "published"
	Memory    Status = "from memory"
	Computed  Status = "computed"
	Given     Status = "given in the design"
)

// Ref names the cell or formula that gave a figure.
type Ref struct {
	Text   string // "IEC 60364-5-52:2009 Table B.52.13 column 3"
	Status Status
}

// Factor is one multiplier on the tabulated capacity.
type Factor struct {
	Name  string // ambient-air | ambient-soil | soil-resistivity | depth | grouping | mixed-sizes | sun | harmonics | user
	Value float64
	Ref   Ref
	Why   string // the input that led to it, for people: "50 degC", "3 circuits, touching"
}

// Note is a decision that the designer should know of; Kind is the name of the rule that tells it.
type Note struct {
	Kind string
	Text string
}

// Step is one intermediate of a computed rating.
type Step struct {
	Symbol, Meaning, Unit string
	Value                 float64
	Ref                   Ref
}

// Rating is the answer for one section.
type Rating struct {
	Basis      string  // table | computed | user-table
	Method     string  // reference method of installation, "E"; or the arrangement in words
	TabulatedA float64 // of one leg, under the set's reference conditions
	Ref        Ref
	Factors    []Factor
	CapacityA  float64 // of one leg in its place
	OnNeutral  bool    // the design current to compare is that of the neutral (harmonics)
	Notes      []Note
	Steps      []Step

	ContinuousA   quantity.Maybe // the greatest design current of one leg by a rule for continuous duty, whatever the capacity
	ContinuousRef Ref
}

// Derating is what all factors together leave of the tabulated capacity.
func (r *Rating) Derating() quantity.Maybe {
	return quantity.Maybe{Value: r.CapacityA / r.TabulatedA, Known: r.TabulatedA > 0}
}

// Remembered says that the tabulated capacity or a factor of it is from memory.
func (r *Rating) Remembered() bool {
	return r.Ref.Status == Memory || slices.ContainsFunc(r.Factors, func(f Factor) bool { return f.Ref.Status == Memory })
}

// Impedance of one leg, per conductor, at working temperature.
type Impedance struct {
	ROhmKM, XOhmKM float64
	RRef, XRef     Ref
	ConductorC     float64
	Notes          []Note
}

// Gap says why there is no answer. A set never guesses.
type Gap struct {
	Reason string // lower case, one clause, names the table: "Table B.52.20 ends at 9 cables, and 12 share the route"
	Next   string // what the designer can do
}

// Error makes a Gap usable where an error is wanted.
func (g *Gap) Error() string { return g.Reason }

// Info describes a set.
type Info struct {
	Name           string // "iec-60364-5-52:2009"
	Title          string // "IEC 60364-5-52:2009, Annex B"
	Family         string // iec | bs | as-nzs | nec: whose rules of protection go with it
	Scope          string // one sentence: what it rates and what not
	AirC           float64
	SoilC          float64
	SoilKmW        float64
	DepthM         float64
	SupersededBy   string // the edition in force, "" when this one is
	SupersededFrom string // the day, and where; "mandatory in Australia from 19 June 2026"
	SupersededRef  string

	ContinuousShare float64 // devices carry so many times the design current, 0 or 1 where the set has no such rule
	ContinuousRef   string
}

// Protection asks which capacity a protective device needs of the conductors behind it.
type Protection struct {
	Kind     string // mcb | mccb | fuse
	FuseType string // gg | bs3036; of a fuse
	RatedA   float64
}

// Set is one rating set.
type Set interface {
	Info() Info
	// Rate answers for one section of one leg, or says why it cannot.
	Rate(Circuit, Place, Group) (Rating, *Gap)
	// Impedance of one leg laid so.
	Impedance(Circuit, Place) (Impedance, *Gap)
	// NeedsA is the least capacity that the device protects against overload, and the rule that says so.
	NeedsA(Protection) (float64, Ref, *Gap)
	// Files lists the set's table files for "tables".
	Files() []File
}

// File is one table file, read.
type File struct {
	Name, Title, Standard, Conditions string
	Sources                           []string
	Published, Memory, Computed       int    // figures by status
	Text                              string // the file as it is stored
}

// Loaded is one circuit of a group with its actual current.
type Loaded struct {
	Circuit  Circuit
	Place    Place
	CurrentA float64 // in each conductor
}
