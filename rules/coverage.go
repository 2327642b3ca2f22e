package rules

import (
	"bytes"
	"fmt"
	"strings"
)

// item is one thing that a careful designer of such cabling looks at.
type item struct {
	id, name string
	rules    string // names of the rules that answer it, parted by blanks
	remark   string // how, or why it is no matter for this program, or what is not answered yet
}

// notYet marks what no rule answers, or not whole.
const notYet = "not yet"

type subject struct {
	title string
	items []item
}

// checklist is what the trade looks at, and where it is answered. A number is ours.
var checklist = []subject{
	{"Currents and protective devices", []item{
		{"A1", "current that a source gives", "run-overloaded device-below-current voltage-rise phase-unstated", "worked out once: the greatest for heat, the rated for rise, all sources together, no diversity"},
		{"A2", "continuous duty", "run-overloaded device-below-current", "125 % under `nec:2023`, unless `full_rated`; elsewhere `utilisation_target_percent`"},
		{"A3", "heat around devices", "device-derated device-heat-unstated", ""},
		{"A4", "overload: device between current and capacity", "device-below-current device-above-capacity device-missing device-at-wrong-end leg-unprotected", ""},
		{"A5", "fuses by their conventional current", "device-above-capacity", ""},
		{"A6", "device that the maker of the source asks for", "device-against-maker device-shared", ""},
		{"A7", "breaking capacity", "breaking-too-low breaking-not-checked", "`backed_up_ka` by the maker's table of a pair"},
		{"A8", "selectivity", "selectivity-lost", "settings and the maker's figure"},
		{"A9", "what sources feed into a fault", "breaking-too-low board-withstand-exceeded", "added in full to the greatest current, never counted on to clear a fault"},
	}},
	{"Capacity and grouping", []item{
		{"B1", "table column for the real cable and laying", "run-overloaded run-not-assessed free-air-rated-lower capacity-computed", "chosen from `laid`, lid and build, never by hand"},
		{"B2", "ambient temperature", "run-overloaded conditions-assumed", "each set with its own reference"},
		{"B3", "sun on a route", "run-overloaded sun-assumed", ""},
		{"B4", "thermal insulation", "run-overloaded", "`conduit-in-insulation`; " + notYet + ": short lengths through insulation, other than by `extra_factor`"},
		{"B5", "in the ground: depth, soil, ducts", "run-overloaded conductor-overheated conditions-assumed", ""},
		{"B6", "circuits in the group", "run-overloaded other-circuits-unstated", "counted from shared routes"},
		{"B7", "lightly loaded neighbours", "run-overloaded", "counted, unless `light_neighbours_percent` is stated; tested in the full group"},
		{"B8", "spacing that lasts", "spacing-unheld spacing-unstated", ""},
		{"B9", "very different sizes in a group", "run-overloaded mixed-sizes", ""},
		{"B10", "lids and covers", "run-overloaded", "a lid makes an enclosure"},
		{"B11", "the worst section counts", "run-overloaded", notYet + ": exemptions of short lengths; every section counts whole"},
		{"B12", "parallel legs", "legs-unequal leg-overloaded leg-unprotected leg-too-small legs-ungrouped", ""},
		{"B13", "how single cores lie", "core-encircled core-in-steel legs-ungrouped", notYet + ": armour bonded at both ends, cleats against fault forces"},
		{"B14", "harmonics", "run-overloaded neutral-too-small", "the third harmonic"},
		{"B15", "neutral: there, and large enough", "neutral-missing neutral-too-small", ""},
		{"B16", "temperature at terminals", "terminal-overheated run-overloaded", ""},
		{"B17", "insulations of different temperature in a group", "insulation-rated-lower", ""},
		{"B18", "edition and table of each figure", "edition-superseded", "`calc` names table and column of each figure; factors of two sets cannot mix"},
	}},
	{"Voltage", []item{
		{"C1", "rise along the whole path to each source", "voltage-rise rise-limit-missing rise-limit-unfounded rise-not-exact", ""},
		{"C2", "share of service mains and other classes", "share-exceeded", ""},
		{"C3", "current of all sources in shared segments", "voltage-rise", "no load is taken off; an export limit does not count"},
		{"C4", "single-phase sources on three phases", "voltage-rise phase-unstated", ""},
		{"C5", "highest supply voltage plus rise", "voltage-above-window window-not-checked", ""},
		{"C6", "drop towards loads and charging", "voltage-drop drop-limit-missing charge-assumed", ""},
		{"C7", "resistance at temperature, reactance as laid", "voltage-rise voltage-drop", "at the insulation's limit; `calc` gives the figures at the conductor's own temperature too"},
		{"C8", "balance of phases", "phase-unbalance voltage-unbalance phase-unstated", ""},
	}},
	{"Faults, shock, earthing", []item{
		{"D1", "prospective currents, greatest and least", "breaking-too-low withstand-exceeded disconnection-late", "at every node; cold with all sources, hot without"},
		{"D2", "conductors withstand a short circuit", "withstand-exceeded withstand-not-checked", "one leg of several too"},
		{"D3", "earth faults cleared in time", "disconnection-late disconnection-not-checked", ""},
		{"D4", "size of earth conductors", "earth-too-small earth-not-checked earth-core-missing", ""},
		{"D5", "earth path beside parallel legs or by the tray", "earth-too-small", notYet + ": tray or armour as the earth conductor"},
		{"D6", "residual-current devices: need and type", "rcd-unsuited rcd-not-checked hidden-unguarded", "by the maker's advice; `hidden` of a route"},
		{"D7", "protection while running as an island", "", "no matter here: an island is a network of its own, and a design has one, rooted at its point of supply; README says so"},
		{"D8", "bonding of array frames", "", "no matter here: the direct-current side"},
	}},
	{"Boards and switching", []item{
		{"E1", "all that can feed a bar together", "busbar-overloaded board-not-checked", ""},
		{"E2", "all ways at full current", "board-diversity-low board-not-checked", ""},
		{"E3", "main switches and labels", "switch-below-current", notYet + ": labels"},
		{"E4", "isolator at the source", "switch-below-current", notYet + ": whether one has to be there, and its place"},
		{"E5", "interface protection", "threshold-unmet", "a threshold that asks for it, and whether it is provided; not its settings"},
		{"E6", "fault rating of boards", "board-withstand-exceeded board-not-checked", ""},
		{"E7", "single cores through a plate", "core-in-steel", ""},
		{"E8", "room at terminals", "terminal-size-unsuited", "`conductors_per_pole` and `space_mm`"},
	}},
	{"Conductors and terminations", []item{
		{"F1", "aluminium at terminals", "terminal-metal-unsuited terminals-not-checked", ""},
		{"F2", "size and diameter that terminal and gland take", "terminal-size-unsuited terminals-not-checked", ""},
		{"F3", "fine strands", "strands-too-fine", ""},
		{"F4", "least sizes", "size-below-least leg-too-small", ""},
		{"F5", "torque, and a second look at it", "", "no matter here: a record of work on site"},
		{"F6", "all cores there", "neutral-missing earth-core-missing", ""},
	}},
	{"Containment", []item{
		{"G1", "conductors of a circuit together", "conductors-apart core-encircled", ""},
		{"G2", "bends", "bend-too-tight containment-not-checked", ""},
		{"G3", "width and layers of trays", "tray-too-narrow containment-not-checked", ""},
		{"G4", "fill of conduits and ducts", "conduit-overfilled cables-jam containment-not-checked", ""},
		{"G5", "weight and span", "tray-overloaded containment-not-checked", ""},
		{"G6", "sun on sheaths", "sheath-in-sun", notYet + ": entries and water"},
		{"G7", "clearance over the roof", "standoff-unstated", notYet + ": drainage, expansion joints"},
		{"G8", "protection against blows and edges", "", "no matter here: what may hit a cable is seen on site, not in the text of a design"},
		{"G9", "fire barriers", "fire-seal-missing", notYet + ": sheaths by what a building code asks"},
		{"G10", "other services beside", "services-mixed", ""},
		{"G11", "pulling tension", "", "no matter here: how a cable is drawn in is not in the text of a design; `cables-jam` looks at what can be drawn in"},
	}},
	{"Approvals", []item{
		{"H1", "thresholds of the network", "threshold-unmet approval-not-checked", "figures of the design, with origin and day"},
		{"H2", "one export limit everywhere", "export-above-approved approval-not-checked", "cables are held against full output whatever the control does"},
		{"H3", "equipment as approved", "equipment-not-approved approval-not-checked", ""},
		{"H4", "last day of an approval", "approval-expired approval-not-checked", ""},
		{"H5", "transformer and feeder", "transformer-overfed", notYet + ": what the network's feeder takes"},
		{"H6", "registers and certificates", "", "no matter here: papers of the place, made from the finished design"},
	}},
	{"Quality of the data", []item{
		{"I1", "where lengths are from", "length-estimated", ""},
		{"I2", "what lies in a route already", "other-circuits-unstated", ""},
		{"I3", "ends that hang loose", "network-shape block-unused unknown-reference", ""},
		{"I4", "loops and second feeds", "network-shape", ""},
		{"I5", "editions out of date", "edition-superseded edition-not-approved", ""},
		{"I6", "units", "length-unlikely value-impossible", "the unit is part of each name"},
		{"I7", "thin margins", "margin-thin", ""},
		{"I8", "laid otherwise than designed", "as-built-differs as-built-unrecorded", ""},
		{"I9", "figures of one's own without a reason", "factor-unexplained value-missing", ""},
	}},
	{"Cost", []item{
		{"J1", "prices of a known day and origin, in one currency", "price-outdated value-missing value-impossible", "each `price` block states them"},
		{"J2", "everything counted", "price-missing", "no price is a gap of the sum, never 0; " + notYet + ": waste, devices and boards"},
	}},
}

// Coverage is the text of this folder's COVERAGE.md, written from the checklist and
// the rules.
func Coverage() []byte {
	var b bytes.Buffer
	answered, part, open, beside := 0, 0, 0, 0
	named := map[string]bool{}
	var body strings.Builder
	for _, s := range checklist {
		fmt.Fprintf(&body, "\n## %s\n\n| | item | rules | remark |\n| --- | --- | --- | --- |\n", s.title)
		for _, i := range s.items {
			var links []string
			for _, r := range strings.Fields(i.rules) {
				named[r] = true
				links = append(links, fmt.Sprintf("[%s](README.md#%s)", r, r))
			}
			switch not := strings.Contains(i.remark, notYet); {
			case len(links) == 0 && not:
				open++
			case len(links) == 0:
				beside++
			case not:
				part++
			default:
				answered++
			}
			fmt.Fprintf(&body, "| %s | %s | %s | %s |\n", i.id, i.name, strings.Join(links, ", "), i.remark)
		}
	}
	fmt.Fprintf(&b, "# What is looked at, and what is not\n\nWritten from the rules; `go test ./rules -run TestCoverage -update` renews it. Each line is one thing that a careful\ndesigner of such cabling looks at: %d are answered, %d in part, %d not yet, %d are no matter for this program.\n",
		answered, part, open, beside)
	b.WriteString(body.String())
	b.WriteString("\n## Rules beside these\n\nThey look at the text, at what is assumed, and at waivers.\n\n| rule | what it finds |\n| --- | --- |\n")
	for _, r := range All() {
		if !named[r.Name] {
			fmt.Fprintf(&b, "| [%s](README.md#%s) | %s |\n", r.Name, r.Name, r.Summary)
		}
	}
	b.WriteString("\nA firm's own rules stand in its designs, as `house_rule` blocks.\n")
	return b.Bytes()
}
