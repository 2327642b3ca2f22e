package cost_test

import (
	"testing"

	"trefoil/lint/assess"
	"trefoil/lint/cost"
	"trefoil/lint/design"
	"trefoil/lint/generate"
	"trefoil/lint/source"
	"trefoil/ratings/sets"
)

// BenchmarkOf is the bill of 10,000 runs.
func BenchmarkOf(b *testing.B) {
	text := append(generate.Design(10000, 1), prices...)
	v := assess.Assess(design.Read(".", []*source.File{{Name: "site.hcl", Bytes: text}}), assess.Named(sets.Find))
	b.ReportAllocs()
	for b.Loop() {
		cost.Of(v)
	}
}
