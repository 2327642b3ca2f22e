package rules

import (
	"fmt"
	"strings"

	"trefoil/lint/assess"
	"trefoil/lint/design"
	"trefoil/lint/engine"
	"trefoil/lint/finding"
	"trefoil/ratings/quantity"
)

// singlesOn lists the runs of single cores on a route.
func singlesOn(r *engine.Review, shared *assess.Shared) (list finding.Names) {
	for _, i := range shared.Runs {
		if singleCore(&r.Runs[i]) {
			list.Add(r.Runs[i].Run.Name)
		}
	}
	return list
}

// CoreEncircled reports single cores with iron round one of them alone.
var CoreEncircled = &engine.Rule{
	Name: "core-encircled", Summary: "iron closes round single cores one by one", Severity: finding.Error,
	Clause: engine.Clause{Publication: "IEC 60364-5-52", Edition: "2009", Number: "clause 521.5; BS 7671 regulation 521.5.1; AS/NZS 3000 clause 3.9.10; NEC 300.20"}, Since: "0.1.0", Check: coreEncircled,
	Doc: engine.Doc{
		Checks: "Single-core cables with armour = \"steel-wire\"; runs of single cores on a route that states encircled = true, steel saddles or cleats that close round one core; and ducts = \"per-core\" with material = \"steel\".",
		Why:    "Iron round one core carries its whole field: it heats, and the reactance of the run rises. Steel ladder and tray are fine, and a steel pipe round all cores of a circuit too.",
		Blind:  "Gland plates, which core-in-steel looks at; what is not stated: fixings and the metal of ducts.", Sources: "Makers' laying instructions: cleats of timber, plastic or metal that is not magnetic; common practice.", Bad: "steel-saddles", Good: "plastic-cleats",
	},
}

func coreEncircled(r *engine.Review) {
	told := map[*design.Cable]bool{}
	for a := range r.EachRun() {
		c := a.Cable
		if c == nil || told[c] || c.Build.Value != "single-core" || c.Armour.Value != "steel-wire" {
			continue
		}
		told[c] = true
		f := r.At(c.Armour.At, c.Subject(), fmt.Sprintf("cable %q has steel wires round one core", c.Name), "choose aluminium wires, or no armour")
		f.Related = []finding.Related{{At: a.Run.At, Message: fmt.Sprintf("run %q is of it", a.Run.Name)}}
		r.Find(f)
	}
	for route := range r.EachRoute() {
		shared := r.Shared[route]
		if shared == nil {
			continue
		}
		list := singlesOn(r, shared)
		if list.Len() == 0 {
			continue
		}
		on := plural(list.Len(), "run ", "runs ") + list.String()
		switch {
		case route.Encircled.Known() && route.Encircled.Value:
			r.Find(r.At(route.Encircled.At, route.Subject(), fmt.Sprintf("iron closes round the single cores of %s one by one on route %q", on, route.Name), "fix all cores of a circuit together, or with cleats that are not magnetic"))
		case route.Laid.Value == "buried-duct" && route.Ducts.Value == "per-core" && route.Material.Value == "steel":
			f := r.At(route.Ducts.At, route.Subject(), fmt.Sprintf("each single core of %s lies in a steel duct of its own on route %q", on, route.Name), "lay all cores of a circuit in one duct, or choose ducts of plastic")
			f.Related = []finding.Related{{At: route.Material.At, Message: "the metal of the ducts"}}
			r.Find(f)
		}
	}
}

// ConductorsApart reports routes on which the conductors of a circuit lie apart.
var ConductorsApart = &engine.Rule{
	Name: "conductors-apart", Summary: "the conductors of a circuit do not lie together", Severity: finding.Error,
	Clause: engine.Clause{Publication: "IEC 60364-5-52", Edition: "2009", Number: "clauses 521.5.2 and 521.8.1; BS 7671 regulations 521.5.2 and 521.8.1; AS/NZS 3000 clause 3.9.10; NEC 300.3(B)"}, Since: "0.1.0", Check: conductorsApart,
	Doc: engine.Doc{
		Checks: "Routes that state together = false: phases, neutral or earth conductor of a circuit in different pipes, holes or trays.",
		Why:    "The loop between conductors that lie apart raises reactance and fault-loop impedance, and iron between them heats.",
		Blind:  "Routes that do not state it: all conductors of a run are taken to lie in its sections together.", Sources: "Common practice.", Bad: "spare-hole", Good: "together",
	},
}

func conductorsApart(r *engine.Review) {
	for route := range r.EachRoute() {
		shared := r.Shared[route]
		if shared == nil || !route.Together.Known() || route.Together.Value || route.Ducts.Value == "per-core" {
			continue
		}
		metal := ""
		if route.Material.Value == "steel" {
			metal = ", and it is of steel"
		}
		var list []string
		for _, i := range shared.Runs {
			list = append(list, r.Runs[i].Run.Name)
		}
		r.Find(r.At(route.Together.At, route.Subject(), fmt.Sprintf("conductors of one circuit lie apart on route %q%s: %s", route.Name, metal, plural(len(list), "run ", "runs ")+finding.Few(list)), "bring phases, neutral and earth conductor of a circuit into one pipe, hole or tray"))
	}
}

var services = map[string]string{
	"dc": "direct current", "communication": "communication", "elv": "extra-low voltage", "gas": "gas", "water": "water",
}

// ServicesMixed reports other services in a route without a barrier.
var ServicesMixed = &engine.Rule{
	Name: "services-mixed", Summary: "other services lie with the cables, and nothing is between them", Severity: finding.Warning,
	Clause: engine.Clause{Publication: "IEC 60364-5-52", Edition: "2009", Number: "clause 528; BS 7671 section 528; AS/NZS 3000 clause 3.9.8; AS/NZS 5033 for direct current; NEC 690.31(B)"}, Since: "0.1.0", Check: servicesMixed,
	Doc: engine.Doc{
		Checks: "also_holds of a route, the other services in it, dc, communication, elv, gas, water, against barrier = true.",
		Why:    "RS-485 tied to single cores gives faults that nobody finds; direct current in the same pipe stays live when the alternating current is off.",
		Blind:  "Routes that do not state also_holds; the distance between services; insulation of the other cables for the highest voltage, which also serves: waive with that as the reason.", Sources: "Common practice.", Bad: "data-in-tray", Good: "barrier",
	},
}

func servicesMixed(r *engine.Review) {
	for route := range r.EachRoute() {
		if r.Shared[route] == nil || !route.AlsoHolds.Known() || len(route.AlsoHolds.Values) == 0 || route.Barrier.Value || route.Barrier.Origin == design.Faulty {
			continue
		}
		var list []string
		for _, s := range route.AlsoHolds.Values {
			list = append(list, services[s])
		}
		r.Find(r.At(route.AlsoHolds.At, route.Subject(), fmt.Sprintf("route %q also holds %s, and no barrier is stated", route.Name, strings.Join(list, ", ")), "part them, or fit a barrier and add barrier = true"))
	}
}

// SheathInSun reports cables that lie in the sun and are not made for it.
var SheathInSun = &engine.Rule{
	Name: "sheath-in-sun", Summary: "a cable lies open in the sun, and its sheath does not bear that", Severity: finding.Error,
	Clause: engine.Clause{Publication: "IEC 60364-5-52", Edition: "2009", Number: "clause 522.11; BS 7671 regulation 522.11.1; AS/NZS 3000 clause 3.3.2.11; NEC 310.10(D)"}, Since: "0.1.0", Check: sheathInSun,
	Doc: engine.Doc{
		Checks: "Cables on routes with sun = true that are open, without lid, conduit or trunking: that uv_proof of the cable type is not false. Where it is not stated, a note tells it once.",
		Why:    "A sheath that is not made for it cracks within years, and XLPE cores without cover sooner.",
		Blind:  "Conduit that is not made for the sun; cores stripped outside of a gland; routes outdoors in the shade.", Sources: "Makers' laying instructions; common practice.", Bad: "indoor-cable", Good: "proof",
	},
}

func sheathInSun(r *engine.Review) {
	seen := map[*design.Cable]bool{}
	var open []string
	var first *design.Cable
	for a := range r.EachRun() {
		c := a.Cable
		if c == nil || seen[c] {
			continue
		}
		for k := range a.Sections {
			route := a.Sections[k].Route
			if route == nil || !route.Sun.Value || route.Lid.Value || assess.Encloses(route) || route.Laid.Value == "buried" {
				continue
			}
			seen[c] = true
			switch {
			case c.UVProof.Known() && !c.UVProof.Value:
				f := r.At(c.UVProof.At, c.Subject(), fmt.Sprintf("cable %q does not bear the sun, and run %q lies in it on route %q", c.Name, a.Run.Name, route.Name), "choose a cable with a sheath that bears it, or a lid, conduit or shade")
				f.Related = []finding.Related{{At: route.Sun.At, Message: fmt.Sprintf("route %q", route.Name)}}
				r.Find(f)
			case c.UVProof.Origin == design.Absent:
				open = append(open, c.Name)
				if first == nil {
					first = c
				}
			}
			break
		}
	}
	if first == nil || r.Design.Broken {
		return
	}
	f := r.At(first.At, first.Subject(), fmt.Sprintf("%s open in the sun, and whether %s sheath bears that is not stated", plural(len(open), "cable "+finding.Few(open)+" lies", "cables "+finding.Few(open)+" lie"), plural(len(open), "its", "their")), "take it from the cable's sheet, and add uv_proof")
	f.Severity = finding.Note
	r.Find(f)
}

// FireSealMissing reports fire barriers that a route passes without a seal for each.
var FireSealMissing = &engine.Rule{
	Name: "fire-seal-missing", Summary: "a route passes more fire barriers than it has seals", Severity: finding.Error,
	Clause: engine.Clause{Publication: "IEC 60364-5-52", Edition: "2009", Number: "clause 527.2; BS 7671 regulation 527.2; AS/NZS 3000 clause 3.9.9; NEC 300.21"}, Since: "0.1.0", Check: fireSealMissing,
	Doc: engine.Doc{
		Checks:  "fire_barriers of a route, the walls and floors with a fire rating that it passes, against fire_seals, those of which the seal is listed. Seals that are not stated count as none.",
		Why:     "A seal is broken for a late cable and not made again, and the next fire finds the hole.",
		Accepts: "the barriers in percent of the seals",
		Blind:   "Routes that state no barriers; rating and state of a seal.", Sources: "Common practice.", Bad: "one-open", Good: "all-sealed",
	},
}

func fireSealMissing(r *engine.Review) {
	for route := range r.EachRoute() {
		n := route.FireBarriers
		if r.Shared[route] == nil || !n.Known() || n.Value == 0 || route.FireSeals.Origin == design.Faulty || quantity.AtMost(n.Value, route.FireSeals.Value) {
			continue
		}
		at, sealed := route.FireSeals.At, count(int(route.FireSeals.Value), "is sealed", "are sealed")
		if !route.FireSeals.Known() {
			at, sealed = n.At, "fire_seals is not stated"
		}
		f := r.At(at, route.Subject(), fmt.Sprintf("route %q passes %s, and %s", route.Name, count(int(n.Value), "fire barrier", "fire barriers"), sealed), "seal each passage, list it, and add it to fire_seals")
		f.Figures = []finding.Figure{{Key: "fire_barriers", Value: n.Value}, {Key: "fire_seals", Value: route.FireSeals.Value}}
		if route.FireSeals.Value > 0 {
			f.Percent, f.HasPercent = 100*n.Value/route.FireSeals.Value, true
		}
		r.Find(f)
	}
}
