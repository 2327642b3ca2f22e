package main

import (
	"math"
	"os"
	"runtime"
	"runtime/debug"
	"runtime/metrics"
)

// Reading makes much garbage and a run of the program is short, so it is collected seldom:
// each time all that is in use is looked at. But fresh memory costs time as well, and others
// need some too.
const (
	quietBytes  = 250 << 20 // up to which the heap grows at first
	mostBytes   = 420 << 20 // to which it grows at most, with what lies between, unless more is in use
	mostGarbage = 400       // that gathers beside what is in use, percent of it
	usual       = 150       // the same, once quietBytes are in use
)

// pace sets after every collection when the next one is due, by what is in use. What the
// user sets stays.
func pace() {
	limited, set := os.Getenv("GOMEMLIMIT") != "", os.Getenv("GOGC") != ""
	if set {
		return
	}
	debug.SetGCPercent(mostGarbage)
	type mark [1]*int // dies with the next collection
	live := []metrics.Sample{{Name: "/gc/heap/live:bytes"}}
	var again func(*mark)
	again = func(*mark) {
		metrics.Read(live)
		percent, limit := due(live[0].Value.Uint64())
		debug.SetGCPercent(percent)
		if !limited {
			debug.SetMemoryLimit(limit)
		}
		runtime.SetFinalizer(new(mark), again)
	}
	runtime.SetFinalizer(new(mark), again)
}

// due is how much garbage may gather beside what is in use, percent of it, and what all
// memory together may come to.
func due(live uint64) (percent int, limit int64) {
	quiet := (quietBytes - min(live, quietBytes)) * 100 / max(live, 1)
	return int(min(max(quiet, usual), mostGarbage)), int64(min(max(mostBytes, live+live/3), math.MaxInt64))
}
