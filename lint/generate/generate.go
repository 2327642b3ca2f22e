// Package generate writes designs of any size, for benchmarks and tests. The text is
// made up but written the way large sites are: boards of inverters, shared trays,
// several cables, a comment and an expression a run. Equal seeds give equal bytes.
package generate

import (
	"bytes"
	"fmt"
	"math/rand/v2"
)

// perBoard is how many sources a board has, perTray how many of them share a tray, mostLegs
// how many legs the mains have at most.
const (
	perBoard = 40
	perTray  = 4
	mostLegs = 100
)

// Design writes a design with so many runs from sources, as one text; the feeders of
// the boards come on top.
func Design(runs int, seed uint64) []byte {
	var b bytes.Buffer
	for _, f := range Files(runs, seed, runs+1) {
		b.Write(f)
	}
	return b.Bytes()
}

// Files writes the same design as several texts of perFile runs each.
func Files(runs int, seed uint64, perFile int) [][]byte {
	rng := rand.New(rand.NewPCG(seed, 0))
	boards := (runs + perBoard - 1) / perBoard
	var b bytes.Buffer
	fmt.Fprintf(&b, `# made up, seed %d
site "field" {
  ratings            = "iec-60364-5-52:2009"
  voltage_v          = 400
  air_c              = 35
  rise_limit_percent = 2.0
  rise_limit_origin  = "made up"
}

let {
  spare_m = 2
}

supply "grid" {
  fault_ka = 20
}

board "main" {
  rated_a = 6300
}

cable "cu" {
  conductor  = "copper"
  insulation = "xlpe-90"
  build      = "multicore"
  cores      = "4c+e"
}

cable "al" {
  conductor  = "aluminium"
  insulation = "xlpe-90"
  build      = "multicore"
  cores      = "4c+e"
}

cable "feeder" {
  conductor  = "copper"
  insulation = "xlpe-90"
  build      = "single-core"
  formation  = "trefoil"
}

route "mains" {
  laid           = "ladder"
  other_circuits = 0
}

run "mains" {
  from     = supply.grid
  to       = board.main
  cable    = cable.feeder
  size_mm2 = 630
  parallel = %d
  device {
    kind    = "mccb"
    rated_a = 6300
  }
  section {
    route    = route.mains
    length_m = %.4g
  }
}
`, seed, min(mostLegs, 1+runs/15), min(1, 15*float64(mostLegs)/float64(runs))) // so that the mains take as much of the rise in a design of any size
	var files [][]byte
	for i := range boards {
		fmt.Fprintf(&b, `
board "hall-%05d" {
  rated_a = 1600
}

route "duct-%05d" {
  laid           = "ladder"
  other_circuits = 0
}

run "hall-%05d" {
  from     = board.hall-%05d
  to       = board.main
  cable    = cable.feeder
  size_mm2 = 630
  parallel = 4
  device {
    kind    = "mccb"
    rated_a = 2000
  }
  section {
    route    = route.duct-%05d
    length_m = %d
  }
}
`, i, i, i, i, i, 20+rng.IntN(40))
	}
	for i := range runs {
		if i%perTray == 0 {
			fmt.Fprintf(&b, `
route "tray-%06d" {
  laid            = "perforated-tray"
  sun             = %t
  sun_adds_c      = 15
  sun_adds_origin = "made up"
  other_circuits  = %d
}
`, i/perTray, rng.IntN(2) == 0, rng.IntN(3))
		}
		cable, size := "cu", []int{35, 50, 70}[rng.IntN(3)]
		if rng.IntN(3) == 0 {
			cable, size = "al", []int{70, 95}[rng.IntN(2)]
		}
		if rng.IntN(30) == 0 { // a mistake
			cable, size = "cu", 10
		}
		fmt.Fprintf(&b, `
source "inv-%06d" {
  kind          = "inverter"
  rated_kva     = %d
  max_current_a = %d
  phases        = 3
}

# way %d of its board
run "inv-%06d" {
  from     = source.inv-%06d
  to       = board.hall-%05d
  cable    = cable.%s
  size_mm2 = %d
  device {
    at          = board.hall-%05d
    kind        = "mccb"
    rated_a     = %d
  }
  section {
    route       = route.tray-%06d
    length_m    = %d + let.spare_m
    length_from = "scaled"
  }
}
`, i, 30+rng.IntN(16), 46+rng.IntN(24), i%perBoard+1, i, i, i/perBoard, cable, size, i/perBoard, []int{80, 80, 80, 100}[rng.IntN(4)], i/perTray, 8+rng.IntN(60))
		if (i+1)%perFile == 0 {
			files = append(files, bytes.Clone(b.Bytes()))
			b.Reset()
		}
	}
	if b.Len() > 0 {
		files = append(files, bytes.Clone(b.Bytes()))
	}
	return files
}
