package thermal

import (
	"fmt"
	"math"
	"os"
	"regexp"
	"sort"
	"testing"

	"trefoil/ratings"
	"trefoil/ratings/iec60364"
	"trefoil/ratings/quantity"
	"trefoil/ratings/table"
)

func open(t testing.TB, name string) *table.Table {
	t.Helper()
	text, err := iec60364.Read(name)
	if err != nil {
		t.Fatal(err)
	}
	tab, err := table.Parse(name, text)
	if err != nil {
		t.Fatal(err)
	}
	return tab
}

// deviation is the model against one printed cell.
type deviation struct {
	what string
	off  float64
}

// deviations holds the model against every capacity of IEC 60364-5-52:2009 that it
// covers, copper from 1.5 mm2 and aluminium from 16 mm2, under that standard's
// reference conditions: 30 degC air, 20 degC soil, 2.5 K.m/W, 0.7 m.
func deviations(t testing.TB) map[string][]deviation {
	air := func(a string) Laying { return Laying{Where: FreeAir, Arrangement: a, AmbientC: 30} }
	enclosed := Laying{Where: Enclosed, AmbientC: 30}
	ducts := Laying{Where: BuriedDuct, AmbientC: 20, SoilKmW: 2.5, DepthM: 0.7}
	direct := Laying{Where: Buried, Arrangement: "trefoil", AmbientC: 20, SoilKmW: 2.5, DepthM: 0.7}
	by := map[string][]deviation{}
	compare := func(file, column, method, ins, material, build string, loaded int, l Laying) {
		tab := open(t, file)
		for row := range tab.Rows {
			m := material
			if tab.Has("conductor") {
				m = tab.At(row, "conductor").Text
			}
			size, cell := tab.At(row, "size_mm2").Value, tab.At(row, column)
			if !cell.Number() || m == "aluminium" && size < 16 {
				continue
			}
			formation := "trefoil"
			switch column {
			case "F3_flat":
				formation = "flat"
			case "G3_horizontal", "G3_vertical":
				formation = "flat-spaced"
			}
			c := ratings.Circuit{Conductor: m, Strands: "stranded", Insulation: ins, Build: build, Formation: formation, Size: quantity.MM2(size), Loaded: loaded, Cores: loaded}
			k, missing := NewCable(c)
			if missing != nil {
				t.Errorf("%s %s %g mm2: %v", file, column, size, missing)
				continue
			}
			r, missing := Rate(k, l)
			if missing != nil {
				t.Errorf("%s %s %g mm2: %v", file, column, size, missing)
				continue
			}
			by[method] = append(by[method], deviation{fmt.Sprintf("%s %s %s %g mm2: %.1f A, printed %g A", file, column, m, size, r.CurrentA, cell.Value), 100 * (r.CurrentA/cell.Value - 1)})
		}
	}
	for file, x := range map[string]struct {
		ins    string
		loaded int
	}{"b52-02.csv": {"pvc-70", 2}, "b52-03.csv": {"xlpe-90", 2}, "b52-04.csv": {"pvc-70", 3}, "b52-05.csv": {"xlpe-90", 3}} {
		compare(file, "B1", "B1", x.ins, "", "single-core", x.loaded, enclosed)
		compare(file, "B2", "B2", x.ins, "", "multicore", x.loaded, enclosed)
		compare(file, "C", "C", x.ins, "", "multicore", x.loaded, air("wall-single"))
		compare(file, "D1", "D1", x.ins, "", "multicore", x.loaded, ducts)
		compare(file, "D2", "D2", x.ins, "", "multicore", x.loaded, direct)
	}
	for file, x := range map[string]struct{ ins, material string }{"b52-10.csv": {"pvc-70", "copper"}, "b52-11.csv": {"pvc-70", "aluminium"}, "b52-12.csv": {"xlpe-90", "copper"}, "b52-13.csv": {"xlpe-90", "aluminium"}} {
		compare(file, "E2", "E", x.ins, x.material, "multicore", 2, air("single"))
		compare(file, "E3", "E", x.ins, x.material, "multicore", 3, air("single"))
		compare(file, "F2", "F", x.ins, x.material, "single-core", 2, air("two-touching"))
		compare(file, "F3_trefoil", "F", x.ins, x.material, "single-core", 3, air("trefoil"))
		compare(file, "F3_flat", "F", x.ins, x.material, "single-core", 3, air("flat"))
		compare(file, "G3_horizontal", "G", x.ins, x.material, "single-core", 3, air("single"))
		compare(file, "G3_vertical", "G", x.ins, x.material, "single-core", 3, air("spaced-vertical"))
	}
	return by
}

func spread(list []deviation) (median float64, worst deviation) {
	sorted := append([]deviation(nil), list...)
	sort.Slice(sorted, func(i, j int) bool { return sorted[i].off < sorted[j].off })
	for _, d := range sorted {
		if math.Abs(d.off) > math.Abs(worst.off) {
			worst = d
		}
	}
	return sorted[len(sorted)/2].off, worst
}

// TestAgainstIEC keeps the distance of the model from the printed tables: per method
// the median and the worst share. B1 and B2, single conductors and cables in conduit,
// are reported and not bounded closely: the printed columns for XLPE lie 5 to 20 %
// beside any conduit model, because they are the PVC columns carried over by a ratio.
func TestAgainstIEC(t *testing.T) {
	by := deviations(t)
	readme, err := os.ReadFile("../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	for _, m := range []struct {
		method        string
		cells         int
		median, worst float64
	}{
		{"B1", 100, 5, 20},
		{"B2", 100, 7, 20},
		{"C", 100, 3, 10},
		{"D1", 100, 5, 10},
		{"D2", 100, 3, 10},
		{"E", 100, 3, 10},
		{"F", 150, 3, 6},
		{"G", 100, 3, 6},
	} {
		median, worst := spread(by[m.method])
		t.Logf("%-3s n %3d median %+.1f %% worst %+.1f %% (%s)", m.method, len(by[m.method]), median, worst.off, worst.what)
		if len(by[m.method]) < m.cells || math.Abs(median) > m.median || math.Abs(worst.off) > m.worst {
			t.Errorf("method %s: %d cells, median %+.2f %%, worst %+.2f %%", m.method, len(by[m.method]), median, worst.off)
		}
		if row := fmt.Sprintf("| %d | %+.1f | %+.1f |\n", len(by[m.method]), median, worst.off); !regexp.MustCompile(`(?m)^\| ` + m.method + `, .* ` + regexp.QuoteMeta(row)).Match(readme) {
			t.Errorf("README does not say of method %s: %s", m.method, row)
		}
	}
}

// TestAgainstMaker reports the model against capacities that Gulf Cable publishes for
// 3- and 4-core XLPE cables, unarmoured in air at 30 degC
// (gulfcable.com/Ar/Product_Subdetails?key=360 and key=365): within 16 %, their steps.
func TestAgainstMaker(t *testing.T) {
	var list []deviation
	for material, cells := range map[string]map[float64]float64{
		"copper":    {2.5: 33, 4: 41, 6: 54, 10: 71, 16: 101, 25: 128, 35: 157, 50: 192, 70: 244, 95: 300, 120: 351, 150: 403, 185: 465, 240: 554, 300: 639},
		"aluminium": {16: 77, 25: 96, 35: 118, 50: 144, 70: 183, 95: 226, 120: 264, 150: 301, 185: 350, 240: 417, 300: 482},
	} {
		for size, printed := range cells {
			k, missing := NewCable(ratings.Circuit{Conductor: material, Strands: "stranded", Insulation: "xlpe-90", Build: "multicore", Size: quantity.MM2(size), Loaded: 3, Cores: 4})
			if missing != nil {
				t.Fatal(missing)
			}
			r, missing := Rate(k, Laying{Where: FreeAir, Arrangement: "single", AmbientC: 30})
			if missing != nil {
				t.Fatal(missing)
			}
			list = append(list, deviation{fmt.Sprintf("%s %g mm2: %.1f A, printed %g A", material, size, r.CurrentA, printed), 100 * (r.CurrentA/printed - 1)})
		}
	}
	median, worst := spread(list)
	t.Logf("n %d median %+.1f %% worst %+.1f %% (%s)", len(list), median, worst.off, worst.what)
	if math.Abs(median) > 5 || math.Abs(worst.off) > 16 {
		t.Errorf("median %+.2f %%, worst %s", median, worst.what)
	}
}
