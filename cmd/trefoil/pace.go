package main

import (
	"os"
	"runtime"
	"runtime/debug"
	"runtime/metrics"
)

// quietBytes is the heap up to which it is collected seldom. Reading makes much garbage and
// a run of the program is short, but fresh memory costs time as well.
const quietBytes = 100 << 20

// The bounds of the garbage that may gather before it is collected, percent of what is in use.
const (
	leastGarbage = 100
	mostGarbage  = 400
)

// pace sets after every collection when the next one is due, by what is in use. What the
// user sets stays.
func pace() {
	if os.Getenv("GOMEMLIMIT") == "" {
		debug.SetMemoryLimit(2 << 30) // above that it is collected more often
	}
	if os.Getenv("GOGC") != "" {
		return
	}
	debug.SetGCPercent(mostGarbage)
	type mark [1]*int // dies with the next collection
	live := []metrics.Sample{{Name: "/gc/heap/live:bytes"}}
	var again func(*mark)
	again = func(*mark) {
		metrics.Read(live)
		debug.SetGCPercent(garbage(live[0].Value.Uint64()))
		runtime.SetFinalizer(new(mark), again)
	}
	runtime.SetFinalizer(new(mark), again)
}

// garbage is how much may gather beside what is in use, percent of it.
func garbage(live uint64) int {
	if live >= quietBytes {
		return leastGarbage
	}
	return int(min(max((quietBytes-live)*100/max(live, 1), leastGarbage), mostGarbage))
}
