package usertable

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"trefoil/ratings"
	"trefoil/ratings/quantity"
	"trefoil/ratings/table"
	"trefoil/ratings/thermal"
)

// Remark is a cell that looks wrong.
type Remark struct {
	File string
	Line int
	Text string
}

// What a cell may stray before it is remarked on.
const (
	straySmooth = 0.06 // from the line between its neighbours, both axes logarithmic
	strayModel  = 0.10 // from the thermal model, beyond what its whole column lies beside it
	ratioLow    = 0.68 // of aluminium to copper
	ratioHigh   = 0.88
)

// Judge looks at every capacity: rising with size, smooth, aluminium in its proportion
// to copper, enclosed below surface below free air, and near the thermal model. A
// remark is a place to look, not a verdict.
func Judge(u *Tables) []Remark {
	var list []Remark
	keys := make([]Column, 0, len(u.Capacity))
	for c := range u.Capacity {
		keys = append(keys, c)
	}
	slices.SortFunc(keys, func(a, b Column) int {
		return cmp.Or(cmp.Compare(u.Capacity[a].Table.Name, u.Capacity[b].Table.Name), cmp.Compare(u.Capacity[a].Column, u.Capacity[b].Column))
	})
	for _, c := range keys {
		s := u.Capacity[c]
		sizes := s.Keys()
		say := func(size float64, format string, args ...any) {
			list = append(list, Remark{s.Table.Name, lineOf(s.Table, size), fmt.Sprintf("column %s, %g mm2: ", s.Column, size) + fmt.Sprintf(format, args...)})
		}
		at := func(s *table.Series, size float64) (float64, bool) {
			cell, ok := s.Exact(size)
			return cell.Value, ok
		}
		value := make([]float64, len(sizes))
		for i, size := range sizes {
			value[i], _ = at(s, size)
			if i > 0 && value[i] <= value[i-1] {
				say(size, "%g A is not above the %g A of %g mm2", value[i], value[i-1], sizes[i-1])
			}
		}
		for i := 1; i+1 < len(sizes); i++ {
			share := math.Log(sizes[i]/sizes[i-1]) / math.Log(sizes[i+1]/sizes[i-1])
			want := value[i-1] * math.Pow(value[i+1]/value[i-1], share)
			if off := value[i]/want - 1; math.Abs(off) > straySmooth {
				say(sizes[i], "%g A lies %+.0f %% beside its neighbours, which would give about %.0f A", value[i], 100*off, want)
			}
		}
		if c.Conductor == "aluminium" {
			cu := c
			cu.Conductor = "copper"
			if o := u.Capacity[cu]; o != nil {
				for i, size := range sizes {
					if copper, ok := at(o, size); ok && (value[i]/copper < ratioLow || value[i]/copper > ratioHigh) {
						say(size, "%g A is %.2f of the %g A of copper; 0.74 to 0.82 is usual", value[i], value[i]/copper, copper)
					}
				}
			}
		}
		for _, above := range map[string][]string{"enclosed": {"surface", "free-air", "trefoil"}, "surface": {"free-air"}, "insulation": {"enclosed"}, "trefoil": {"flat-spaced"}, "buried-duct": {"buried"}}[c.Arrangement] {
			o := c
			o.Arrangement = above
			if better := u.Capacity[o]; better != nil {
				for i, size := range sizes {
					if v, ok := at(better, size); ok && value[i] >= v {
						say(size, "%g A is not below the %g A of %s", value[i], v, above)
					}
				}
			}
		}
		list = append(list, model(u, c, s, sizes, value)...)
	}
	slices.SortStableFunc(list, func(a, b Remark) int { return cmp.Or(cmp.Compare(a.File, b.File), cmp.Compare(a.Line, b.Line)) })
	return list
}

func lineOf(t *table.Table, size float64) int {
	for row := range t.Rows {
		if t.At(row, "size_mm2").Value == size {
			return t.Rows[row].Line
		}
	}
	return 1
}

// model holds a column against the thermal model: a column as a whole may lie beside
// it, a single cell hardly.
func model(u *Tables, c Column, s *table.Series, sizes, value []float64) []Remark {
	l := thermal.Laying{Where: thermal.FreeAir, AmbientC: u.Reference.AirC, Arrangement: "single"}
	switch c.Arrangement {
	case "enclosed":
		l.Where = thermal.Enclosed
	case "surface":
		l.Arrangement = "wall-single"
		if c.Build == "single-core" {
			l.Arrangement = "wall-trefoil"
		}
	case "trefoil", "flat":
		l.Arrangement = c.Arrangement
	case "pair":
		l.Arrangement = "two-touching"
	case "sun":
		l.Sun = true
	case "buried", "buried-duct":
		l = thermal.Laying{Where: thermal.Buried, AmbientC: u.Reference.SoilC, SoilKmW: u.Reference.SoilKmW, DepthM: u.Reference.DepthM, Arrangement: "trefoil"}
		if c.Arrangement == "buried-duct" {
			l.Where = thermal.BuriedDuct
		}
	case "insulation":
		return nil
	}
	ratio := make([]float64, 0, len(sizes))
	at := make([]int, 0, len(sizes))
	for i, size := range sizes {
		cores := c.Loaded + 1
		if c.Build == "single-core" {
			cores = 1
		}
		k, gap := thermal.NewCable(ratings.Circuit{Conductor: c.Conductor, Strands: c.Strands, Insulation: c.Insulation, Build: c.Build, Formation: "trefoil", Size: quantity.MM2(size), Loaded: c.Loaded, Cores: cores})
		if gap != nil {
			continue
		}
		r, gap := thermal.Rate(k, l)
		if gap != nil {
			continue
		}
		ratio, at = append(ratio, value[i]/r.CurrentA), append(at, i)
	}
	if len(ratio) < 3 {
		return nil
	}
	sorted := slices.Clone(ratio)
	slices.Sort(sorted)
	median := sorted[len(sorted)/2]
	var list []Remark
	for k, r := range ratio {
		if off := r/median - 1; math.Abs(off) > strayModel {
			i := at[k]
			list = append(list, Remark{s.Table.Name, lineOf(s.Table, sizes[i]), fmt.Sprintf("column %s, %g mm2: %g A is %+.0f %% from the thermal model, its column as a whole %+.0f %%", s.Column, sizes[i], value[i], 100*(r-1), 100*(median-1))})
		}
	}
	if math.Abs(median-1) > 0.2 {
		list = append(list, Remark{s.Table.Name, 1, fmt.Sprintf("column %s lies %+.0f %% beside the thermal model as a whole; is it the arrangement that the head says, under those conditions?", s.Column, 100*(median-1))})
	}
	return list
}

// Blank writes an empty capacity form for a set: one table, the columns that its
// standard prints, sizes to fill in.
func Blank(i ratings.Info) []byte {
	columns := "c2=insulation/copper/stranded c3=enclosed/copper/stranded c4=surface/copper/stranded c5=free-air/copper/stranded c6=buried-duct/copper/stranded c7=buried/copper/stranded"
	number, note := "Table ...", "the column numbers are yours to set: cN stands for printed column N"
	if strings.HasPrefix(i.Name, "as-nzs-3008.1.") {
		// Columns 2 to 13 of Tables 10 to 15, from memory: check each against your print.
		columns = "c2=free-air/copper/stranded c3=free-air/copper/flexible c4=free-air/aluminium/stranded c5=surface/copper/stranded c6=surface/copper/flexible c7=surface/aluminium/stranded c8=sun/copper/stranded c9=sun/copper/flexible c10=sun/aluminium/stranded c11=enclosed/copper/stranded c12=enclosed/copper/flexible c13=enclosed/aluminium/stranded"
		number, note = "Table 14", "which printed column is which is from memory (Tables 10 to 15, three-core and four-core at 90 degC is Table 14): check each head against your print; columns for insulation and the ground follow from 14 on"
	}
	standard, _, _ := strings.Cut(i.Title, ",")
	head := fmt.Sprintf(`# title:      capacities typed from a bought copy
# standard:   %s
# number:     %s
# source:     your copy: publication, edition, page
# kind:       capacity
# reference:  air_c=%g soil_c=%g soil_km_w=%g depth_m=%g
# insulation: xlpe-90
# build:      multicore
# loaded:     3
# note:       %s
# columns:    %s
size_mm2`, standard, number, i.AirC, i.SoilC, i.SoilKmW, i.DepthM, note, columns)
	n := 0
	for _, part := range strings.Fields(columns) {
		name, _, _ := strings.Cut(part, "=")
		head += "," + name
		n++
	}
	head += "\n"
	for _, size := range []float64{1.5, 2.5, 4, 6, 10, 16, 25, 35, 50, 70, 95, 120, 150, 185, 240, 300, 400} {
		head += fmt.Sprintf("%g", size)
		for range n {
			head += ","
		}
		head += "\n"
	}
	return []byte(head)
}
