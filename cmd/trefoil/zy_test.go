package main

import (
	"testing"

	"trefoil/lint/assess"
	"trefoil/lint/design"
	"trefoil/lint/generate"
	"trefoil/ratings/sets"
)

func BenchmarkZY(b *testing.B) {
	fs := files(generate.Design(10_000, 1))
	d := design.Read("", fs)
	b.ReportAllocs()
	for b.Loop() {
		assess.Assess(d, assess.Named(sets.Find))
	}
}
