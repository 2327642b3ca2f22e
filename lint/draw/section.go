package draw

import (
	"trefoil/lint/assess"
	"trefoil/lint/finding"
)

// Sections draws the cross-sections of the routes of an assessed design.
func Sections(v *assess.Review, findings []finding.Finding, opt Options) []Sheet {
	d := &draft{v: v, opt: opt, kind: "sections", title: "Cross-sections of routes", marks: newMarks(findings, opt)}
	d.sheet("")
	return d.finish()
}
