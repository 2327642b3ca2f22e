package thermal

import (
	"fmt"
	"math"
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

// TestAgainstIEC keeps the distance of the model from the printed tables.
func TestAgainstIEC(t *testing.T) {
	by := deviations(t)
	for _, m := range []string{"B1", "B2", "C", "D1", "D2", "E", "F", "G"} {
		median, worst := spread(by[m])
		t.Logf("%-3s n %3d median %+.1f %% worst %+.1f %% (%s)", m, len(by[m]), median, worst.off, worst.what)
	}
}
