//go:build unix && !race

package main

import (
	"flag"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"syscall"
	"testing"
	"time"

	"trefoil/lint/assess"
	"trefoil/lint/design"
	"trefoil/lint/engine"
	"trefoil/lint/generate"
	"trefoil/ratings/sets"
	"trefoil/rules"
)

var (
	speed     = flag.Bool("speed", false, "report time and memory of fresh processes over generated designs")
	speedSeed = flag.Uint64("speed-seed", 1, "seed of the designs of -speed")
)

// perFile is how many runs a file of a design of many files holds.
const perFile = 250

// TestSpeed reports, when it is asked for, what a check takes from the start of the process
// to its end: the least of several times, and the most memory.
//
//	go test ./cmd/trefoil -run TestSpeed -speed -v
func TestSpeed(t *testing.T) {
	if !*speed {
		t.Skip("reports only with -speed")
	}
	program := built(t, t.TempDir())
	for _, size := range []struct{ runs, times int }{{1000, 9}, {10_000, 5}, {100_000, 1}} {
		one := [][]byte{generate.Design(size.runs, *speedSeed)}
		for _, texts := range [][][]byte{one, generate.Files(size.runs, *speedSeed, perFile)} {
			dir := laidOut(t, texts)
			check := measure(t, size.times, func() *exec.Cmd { return exec.Command(program, "check", dir) })
			t.Logf("%6d runs in %3d files: %v", size.runs, len(texts), check)
			if len(texts) > 1 || size.runs > 10_000 {
				continue
			}
			for _, way := range ways {
				floor := measure(t, size.times, func() *exec.Cmd {
					c := exec.Command(os.Args[0], "-test.run", "^TestParseOnly$")
					c.Env = append(os.Environ(), parseOnly+"="+filepath.Join(dir, "0000.hcl"), "WAY="+way)
					return c
				})
				t.Logf("       %s: %v; a check takes %.2f times its time", way, floor, check.wall.Seconds()/floor.wall.Seconds())
			}
		}
	}
}

// BenchmarkGrowth measures fresh processes over a design of 100,000 runs against those over one
// of 10,000.
func BenchmarkGrowth(b *testing.B) {
	program := built(b, b.TempDir())
	var least [2]time.Duration
	for i, runs := range []int{10_000, 100_000} {
		dir := laidOut(b, [][]byte{generate.Design(runs, *speedSeed)})
		least[i] = time.Hour
		b.Run(fmt.Sprint(runs), func(b *testing.B) {
			var peak int64
			for b.Loop() {
				m := measure(b, 1, func() *exec.Cmd { return exec.Command(program, "check", dir) })
				least[i], peak = min(least[i], m.wall), max(peak, m.peak)
			}
			b.ReportMetric(float64(peak)/1e6, "MB")
			if i > 0 {
				b.ReportMetric(float64(least[1])/float64(least[0]), "x-tenth")
			}
		})
	}
}

// laidOut puts texts into files of a directory of their own.
func laidOut(t testing.TB, texts [][]byte) string {
	t.Helper()
	dir := t.TempDir()
	for i, text := range texts {
		if err := os.WriteFile(filepath.Join(dir, fmt.Sprintf("%04d.hcl", i)), text, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	return dir
}

// parseOnly names, in the environment, the file that TestParseOnly parses.
const parseOnly = "TREFOIL_PARSE_ONLY"

// TestParseOnly is the process that TestSpeed holds a check against: it parses one file in
// one of the ways, drops what comes of it, and does nothing else.
func TestParseOnly(t *testing.T) {
	name := os.Getenv(parseOnly)
	if name == "" {
		t.Skip("it is run by TestSpeed")
	}
	text, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	way := slices.Index(ways, os.Getenv("WAY"))
	if way > 0 {
		pace()
	}
	if err := parseBy(text, way); err != nil {
		t.Fatal(err)
	}
}

// measured is what a process took: the least of several times, and the most memory.
type measured struct {
	wall, cpu time.Duration
	peak      int64
}

func (m measured) String() string {
	return fmt.Sprintf("%6.2f s, %6.2f s of processor, %5d MB", m.wall.Seconds(), m.cpu.Seconds(), m.peak/1e6)
}

func measure(t testing.TB, times int, command func() *exec.Cmd) measured {
	t.Helper()
	m := measured{wall: time.Hour, cpu: time.Hour}
	for range times {
		c := command()
		start := time.Now()
		err := c.Run()
		took := time.Since(start)
		if c.ProcessState == nil || c.ProcessState.ExitCode() < 0 || c.ProcessState.ExitCode() > exitFindings {
			t.Fatalf("%v: %v", c.Args, err)
		}
		m.wall, m.cpu = min(m.wall, took), min(m.cpu, c.ProcessState.UserTime()+c.ProcessState.SystemTime())
		m.peak = max(m.peak, resident(c.ProcessState))
	}
	return m
}

// resident is the most memory that a process had, bytes.
func resident(p *os.ProcessState) int64 {
	use, ok := p.SysUsage().(*syscall.Rusage)
	if !ok {
		return 0
	}
	if runtime.GOOS == "darwin" {
		return int64(use.Maxrss)
	}
	return int64(use.Maxrss) << 10
}

// TestKept gates what a check allocates and keeps a run, by counts and never by the clock.
// A change that goes past a bound says so in its message, and why it is worth it.
func TestKept(t *testing.T) {
	const runs = 2000
	text := generate.Design(runs, 1)
	check(files(text)) // tables are read once
	var before, after runtime.MemStats
	var d *design.Design
	var v *assess.Review
	var res *engine.Result
	for _, stage := range []struct {
		name             string
		drop, do         func()
		allocs, kept, of float64 // most a run: allocations, bytes kept, bytes allocated
	}{
		{"design", func() { d = nil }, func() { d = design.Read(".", files(text)) }, 20, 1750, 2600},
		{"assess", func() { v = nil }, func() { v = assess.Assess(d, assess.Named(sets.Find)) }, 5, 870, 1250},
		{"engine", func() { res = nil }, func() {
			res = engine.Check(v, rules.All(), engine.Options{Today: time.Date(2027, 3, 1, 0, 0, 0, 0, time.UTC)})
		}, 19, 200, 850},
	} {
		allocs, kept, allocated := math.Inf(1), math.Inf(1), math.Inf(1)
		for range 3 { // the least counts: what other tests left running allocates too
			stage.drop()
			runtime.GC()
			runtime.ReadMemStats(&before)
			stage.do()
			runtime.ReadMemStats(&after)
			allocs = min(allocs, float64(after.Mallocs-before.Mallocs)/runs)
			allocated = min(allocated, float64(after.TotalAlloc-before.TotalAlloc)/runs)
			runtime.GC()
			runtime.ReadMemStats(&after)
			kept = min(kept, (float64(after.HeapAlloc)-float64(before.HeapAlloc))/runs)
		}
		t.Logf("%s: %.1f allocations, %.0f bytes kept, %.0f allocated a run", stage.name, allocs, kept, allocated)
		if allocs > stage.allocs || kept > stage.kept || allocated > stage.of {
			t.Errorf("%s: %.1f allocations (at most %g), %.0f bytes kept (at most %g), %.0f allocated (at most %g) a run", stage.name, allocs, stage.allocs, kept, stage.kept, allocated, stage.of)
		}
	}
	runtime.KeepAlive(res)
}
