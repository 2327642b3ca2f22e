package rules

import (
	"trefoil/lint/engine"
	"trefoil/lint/finding"
)

// WaiverStale warns of a waiver that does not hold. The engine finds it, after all other rules have run.
var WaiverStale = &engine.Rule{
	Name: "waiver-stale", Summary: "a waiver is expired, unused, exceeded, without reason, or names no rule", Severity: finding.Warning,
	Clause: engine.Clause{Own: "a departure stands only while its reason does"}, Wide: true, Since: "0.1.0",
	Doc: engine.Doc{
		Checks: "That each waiver names a rule, gives a reason, has not passed its last day, covers a finding that is there, and that the finding's figure is not worse than what it accepts.",
		Why:    "An old waiver hides the next fault.",
		Blind:  "Whether who approved it may approve it.", Sources: "Common practice.", Bad: "expired", Good: "in-force",
	},
}
