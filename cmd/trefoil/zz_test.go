package main

import (
	"fmt"
	"runtime"
	"runtime/debug"
	"testing"
	"time"

	"trefoil/lint/assess"
	"trefoil/lint/design"
	"trefoil/lint/engine"
	"trefoil/lint/finding"
	"trefoil/lint/generate"
	"trefoil/lint/network"
	"trefoil/ratings/sets"
	"trefoil/rules"
)

func TestZZ(t *testing.T) {
	defer debug.SetGCPercent(debug.SetGCPercent(400))
	fs := files(generate.Design(10_000, 1))
	tm := func(n string, do func()) {
		best := time.Hour
		for range 5 {
			runtime.GC()
			b := time.Now()
			do()
			best = min(best, time.Since(b))
		}
		fmt.Println(n, best)
	}
	var d *design.Design
	tm("read", func() { d = design.Read("", fs) })
	tm("draft", func() { d = design.NewDraft("", fs, design.Library{}).Design })
	d = design.Read("", fs)
	tm("build", func() { network.Build(d) })
	var v *assess.Review
	tm("assess", func() { v = assess.Assess(d, assess.Named(sets.Find)) })
	var res *engine.Result
	tm("rules", func() { res = engine.Check(v, rules.All(), engine.Options{Today: time.Now()}) })
	fmt.Println(len(res.Findings))
	tm("rules1", func() { res = engine.Check(v, rules.All(), engine.Options{Today: time.Now(), Parallel: 1}) })
	tm("sort", func() { finding.Sort(res.Findings); finding.Identify(res.Findings) })
	for _, r := range rules.All() {
		best := time.Hour
		for range 3 {
			b := time.Now()
			engine.Check(v, []*engine.Rule{r}, engine.Options{Today: time.Now(), Parallel: 1})
			best = min(best, time.Since(b))
		}
		if best > 600*time.Microsecond {
			fmt.Println("   ", r.Name, r.Wide, best)
		}
	}
}
