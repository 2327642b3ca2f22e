package rules

import (
	"trefoil/lint/engine"
	"trefoil/lint/finding"
)

var language = engine.Clause{Own: "the design language"}

// BrokenText reports text that is not HCL.
var BrokenText = &engine.Rule{
	Name: "broken-text", Summary: "the text is not HCL, or goes beyond the limits of this program", Severity: finding.Error, Text: true,
	Clause: engine.Clause{Publication: "HCL native syntax specification", Number: "hashicorp/hcl v2"}, Wide: true, Since: "0.1.0", Check: told("broken-text"),
	Doc: engine.Doc{
		Checks: "That every file parses: brackets closed, expressions whole, attributes given once, UTF-8, and not nested beyond the limits of the program.",
		Why:    "A block that is not read cannot be checked, and neither can its neighbours. While a file is broken, missing references, the network and all figures are left alone, so that one slip does not make a hundred findings.",
		Blind:  "What stands behind an unclosed bracket.", Sources: "The parser's own message, in its words.", Bad: "brace-missing", Good: "whole",
	},
}

// UnknownWord reports a block, attribute or function that the language does not have.
var UnknownWord = &engine.Rule{
	Name: "unknown-word", Summary: "a block, attribute or function that the language does not have", Severity: finding.Error, Text: true,
	Clause: language, Wide: true, Since: "0.1.0", Check: told("unknown-word"),
	Doc: engine.Doc{
		Checks: "That every block, attribute and function is a word of the design language, and that a library brings cables and house rules alone. The block stays usable without it.",
		Why:    "A misspelt attribute would otherwise silently do nothing: a lid that is not there, a temperature that does not count.",
		Blind:  "A right word in the wrong place with a fitting value.", Sources: "The design language.", Bad: "attribute-misspelt", Good: "known",
	},
}

// ValueMissing reports a block that lacks what it must state.
var ValueMissing = &engine.Rule{
	Name: "value-missing", Summary: "a block does not state something it must", Severity: finding.Error, Text: true,
	Clause: language, Wide: true, Since: "0.1.0", Check: told("value-missing"),
	Doc: engine.Doc{
		Checks: "That each block states its required attributes, and that a factor of the designer's own and circuits that are never loaded together come with their reason.",
		Why:    "What is not stated is not guessed: without a size, a length or a laying nothing can be assessed.",
		Blind:  "Optional facts; the checks that need them say so.", Sources: "The design language.", Bad: "length-missing", Good: "complete",
	},
}

// ValueImpossible reports a value that cannot be.
var ValueImpossible = &engine.Rule{
	Name: "value-impossible", Summary: "a value of the wrong type, outside of what can be, or not one of the words", Severity: finding.Error, Text: true,
	Clause: language, Wide: true, Since: "0.1.0", Check: told("value-impossible"),
	Doc: engine.Doc{
		Checks: "Type, bounds and wording of every value: no negative length, no power factor above 1, no unknown way of laying, no division by zero, no constants in a circle, no rating set or library that does not exist, no house rule whose must is neither true nor false.",
		Why:    "A figure that cannot be would give a verdict that means nothing.",
		Blind:  "A wrong value that could be right; length-unlikely looks for one sort of those.", Sources: "The design language.", Bad: "negative-length", Good: "possible",
	},
}

// NameTaken reports a second block of the same kind and name.
var NameTaken = &engine.Rule{
	Name: "name-taken", Summary: "two blocks of one kind share a name", Severity: finding.Error, Text: true,
	Clause: language, Wide: true, Since: "0.1.0", Check: told("name-taken"),
	Doc: engine.Doc{
		Checks: "That a name stands once among blocks of its kind, a constant once in all let blocks, that a design has one site, and that no house rule has the name of a built-in one.",
		Why:    "A reference to a name that stands twice could mean either. The first one counts, the second is left out.",
		Blind:  "Two names for one thing.", Sources: "The design language.", Bad: "run-twice", Good: "names-apart",
	},
}

// UnknownReference reports a reference to a block or constant that is not there.
var UnknownReference = &engine.Rule{
	Name: "unknown-reference", Summary: "a reference names nothing that is declared", Severity: finding.Error, Text: true,
	Clause: language, Wide: true, Since: "0.1.0", Check: told("unknown-reference"),
	Doc: engine.Doc{
		Checks: "That every reference to a source, board, route, cable, run or constant names one that is declared, and every attribute in the expressions of a house rule one that its blocks have; it suggests near names.",
		Why:    "A run that hangs on a missing board is not in the network; what follows from that is not told again.",
		Blind:  "A reference to the wrong block of the right kind.", Sources: "The design language.", Bad: "board-misspelt", Good: "declared",
	},
}
