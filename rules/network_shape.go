package rules

import (
	"trefoil/lint/engine"
	"trefoil/lint/finding"
)

// NetworkShape reports what keeps the network from being a tree rooted at the supply.
var NetworkShape = &engine.Rule{
	Name: "network-shape", Summary: "the network is not a tree rooted at the supply: a loop, an orphan, a second supply", Severity: finding.Error,
	Clause: engine.Clause{Own: "currents and rises are summed along one path from each source to the point of supply"}, Wide: true, Since: "0.1.0", Check: told("network-shape"),
	Doc: engine.Doc{
		Checks:  "That every source and board has one path to the supply, that no run closes a loop, and that there is one supply.",
		Why:     "With two paths the current in each depends on impedances, and with none there is no circuit; either way the sums would be wrong.",
		Blind:   "Runs that are open in normal service: model the network as it is loaded.",
		Sources: "Common practice: radial low-voltage distribution.", Bad: "loop", Good: "tree",
	},
}
