package rules

import (
	"trefoil/lint/engine"
	"trefoil/lint/finding"
)

// SunAssumed notes how sun is reckoned where the set has no factor for it.
var SunAssumed = &engine.Rule{
	Name: "sun-assumed", Summary: "sun is reckoned as a higher ambient temperature", Severity: finding.Note,
	Clause: engine.Clause{Publication: "AS/NZS 3008.1.1", Edition: "2017", Number: "clause 3.5.8, 20 degC, as practice for sets without a sun factor"}, Since: "0.1.0", Check: noted("sun-assumed"),
	Doc: engine.Doc{
		Checks: "Whether a route in the sun states sun_adds_c.",
		Why:    "Sets that have no factor for sun leave it to the designer; 20 degC is added unless the design says otherwise.",
		Blind:  "Roof colour, wind, the height above the roof.", Sources: "AS/NZS 3008.1.1 clause 3.5.8 as quoted in trade forums; electricalforum.co.nz id=1385076168.", Bad: "default", Good: "stated",
	},
}

// StandoffUnstated notes a standoff without its height.
var StandoffUnstated = &engine.Rule{
	Name: "standoff-unstated", Summary: "a route held off its surface does not say how far", Severity: finding.Note,
	Clause: engine.Clause{Publication: "IEC 60364-5-52", Edition: "2009", Number: "Table A.52.3, methods E and F: 0.3 or 0.5 cable diameters"}, Since: "0.1.0", Check: noted("standoff-unstated"),
	Doc: engine.Doc{
		Checks: "That a route with laid = \"standoff\" states standoff_mm.",
		Why:    "Closer than 0.3 diameters (multicore) or 0.5 diameters (single-core) a cable is rated as clipped.",
		Blind:  "Whether it is built so.", Sources: "IEC 60364-5-52:2009 Table A.52.3, from memory.", Bad: "unstated", Good: "stated",
	},
}

// SpacingUnheld notes a spacing that nothing holds.
var SpacingUnheld = &engine.Rule{
	Name: "spacing-unheld", Summary: "circuits are spaced, and nothing is stated that holds them so", Severity: finding.Note,
	Clause: engine.Clause{Publication: "IEC 60364-5-52", Edition: "2009", Number: "Table B.52.17, note on clearances above two diameters"}, Since: "0.1.0", Check: noted("spacing-unheld"),
	Doc: engine.Doc{
		Checks: "That a route whose circuits lie more than two diameters apart states held_by.",
		Why:    "Spaced on paper and heaped on site is the usual fate; the grouping factor is left out only where something holds the cables.",
		Blind:  "Whether it is built so.", Sources: "Common practice.", Bad: "unheld", Good: "held",
	},
}

// SpacingUnstated notes how a spacing that is not fully stated, or is too small, is read.
var SpacingUnstated = &engine.Rule{
	Name: "spacing-unstated", Summary: "circuits are spaced, and the clear distance is not stated or too small for the spaced row", Severity: finding.Note,
	Clause: engine.Clause{Publication: "IEC 60364-5-52", Edition: "2009", Number: "Tables B.52.18 to B.52.21"}, Since: "0.1.0", Check: noted("spacing-unstated"),
	Doc: engine.Doc{
		Checks: "That a route with spacing = \"spaced\" states spacing_mm, and that it is what the table's row asks for.",
		Why:    "Tables give their factors for one or two diameters, or for fixed distances in the ground.",
		Blind:  "Whether it is built so.", Sources: "IEC 60364-5-52:2009 Tables B.52.18 to B.52.21.", Bad: "unstated", Good: "stated",
	},
}

// MixedSizes notes a group of very different sizes on an open support.
var MixedSizes = &engine.Rule{
	Name: "mixed-sizes", Summary: "a group on an open support holds very different sizes", Severity: finding.Note,
	Clause: engine.Clause{Publication: "IEC 60364-5-52", Edition: "2009", Number: "clause B.52.5: more than three adjacent standard sizes"}, Since: "0.1.0", Check: noted("mixed-sizes"),
	Doc: engine.Doc{
		Checks: "Whether the sizes of a group on a tray, ladder or wall lie within three adjacent standard sizes.",
		Why:    "Group factors are made for like cables; beside large ones a small cable runs hotter than its factor says. In an enclosure 1/sqrt(n) is taken instead.",
		Blind:  "Sizes of circuits of other projects.", Sources: "IEC 60364-5-52:2009 clause B.52.5, from memory; BS 7671 Appendix 4.", Bad: "far-apart", Good: "alike",
	},
}

// InsulationRatedLower notes a cable rated in the columns of a cooler insulation.
var InsulationRatedLower = &engine.Rule{
	Name: "insulation-rated-lower", Summary: "a cable is rated in the columns of a cooler insulation", Severity: finding.Note,
	Clause: engine.Clause{Publication: "IEC 60364-5-52", Edition: "2009", Number: "clause 523.5: the lowest temperature of the group counts"}, Since: "0.1.0", Check: noted("insulation-rated-lower"),
	Doc: engine.Doc{
		Checks: "Whether a cable lies in a group with one of lower working temperature, or has an insulation for which the set has no column of its own (pvc-75 is rated as pvc-70).",
		Why:    "A hot cable heats its cooler neighbour beyond what that may bear.",
		Blind:  "The insulation of circuits of other projects.", Sources: "IEC 60364-5-52:2009 clause 523.5, from memory.", Bad: "mixed-group", Good: "one-kind",
	},
}

// FreeAirRatedLower notes an open laying that is rated as if it were enclosed.
var FreeAirRatedLower = &engine.Rule{
	Name: "free-air-rated-lower", Summary: "an open laying is rated by a table for raceways, on the safe side", Severity: finding.Note,
	Clause: engine.Clause{Publication: "NEC", Edition: "2023", Number: "310.16; 392.80 for trays"}, Since: "0.1.0", Check: noted("free-air-rated-lower"),
	Doc: engine.Doc{
		Checks: "Whether a route lies open under a set that has no table for free air.",
		Why:    "Cables held in free air carry more than the table for raceways says; what is bought may be larger than it need be.",
		Blind:  "How much more.", Sources: "NEC:2023 Table 310.16.", Bad: "open-tray", Good: "raceway",
	},
}
