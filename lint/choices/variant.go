package choices

import (
	"fmt"
	"slices"
	"strings"

	"trefoil/lint/assess"
	"trefoil/lint/design"
	"trefoil/ratings/quantity"
)

// Ask says what may be chosen. An empty list stands for what the design offers: its cable
// blocks, the standard sizes, up to four legs, the laying that is drawn.
type Ask struct {
	Conductors, Strands, Builds, Insulations []string
	Sizes                                    []quantity.Size
	Legs                                     []int
	Laid                                     []string
	By                                       string // cost | loss | size
}

// Kind is a kind of cable to choose from.
type Kind struct {
	Cable    *design.Cable
	Declared bool // a cable block of the design declares it
}

// metric lists the nominal sizes of IEC 60228:2004 table 2 from 1.5 to 630 mm2.
var metric = []float64{1.5, 2.5, 4, 6, 10, 16, 25, 35, 50, 70, 95, 120, 150, 185, 240, 300, 400, 500, 630}

// Trade sizes of NEC chapter 9 table 8.
var (
	awg   = []string{"14", "12", "10", "8", "6", "4", "3", "2", "1", "1/0", "2/0", "3/0", "4/0"}
	kcmil = []float64{250, 300, 350, 400, 500, 600, 750, 1000}
)

// Sizes lists the standard sizes of the kind that a size belongs to: metric or trade ones.
func Sizes(like quantity.Size) (list []quantity.Size) {
	if like.Trade == "" {
		for _, s := range metric {
			list = append(list, quantity.MM2(s))
		}
		return list
	}
	add := func(s quantity.Size, err error) {
		if err == nil {
			list = append(list, s)
		}
	}
	for _, s := range awg {
		add(quantity.AWG(s))
	}
	for _, s := range kcmil {
		add(quantity.Kcmil(s))
	}
	return list
}

// kinds lists the kinds of cable that a run may be of: every cable of the design that fits
// what is asked for, and where that names something no cable block declares, the cable of
// the run made over.
func (q *Ask) kinds(d *design.Design, a *assess.Run) (list []Kind) {
	has := func(words []string, word string) bool { return len(words) == 0 || slices.Contains(words, word) }
	for _, c := range d.Cables {
		if usable(c) && has(q.Conductors, c.Conductor.Value) && has(q.Strands, c.Strands.Value) && has(q.Builds, c.Build.Value) && has(q.Insulations, c.Insulation.Value) {
			list = append(list, Kind{c, true})
		}
	}
	if a.Cable == nil || !usable(a.Cable) || len(q.Conductors)+len(q.Strands)+len(q.Builds)+len(q.Insulations) == 0 {
		return list
	}
	own := func(words []string, word string) []string {
		if len(words) == 0 {
			return []string{word}
		}
		return words
	}
	c := a.Cable
	for _, conductor := range own(q.Conductors, c.Conductor.Value) {
		for _, strands := range own(q.Strands, c.Strands.Value) {
			for _, build := range own(q.Builds, c.Build.Value) {
				for _, insulation := range own(q.Insulations, c.Insulation.Value) {
					if !slices.ContainsFunc(list, func(k Kind) bool {
						return k.Cable.Conductor.Value == conductor && k.Cable.Strands.Value == strands && k.Cable.Build.Value == build && k.Cable.Insulation.Value == insulation
					}) {
						list = append(list, Kind{madeOver(d, a, conductor, strands, build, insulation), false})
					}
				}
			}
		}
	}
	return list
}

func usable(c *design.Cable) bool {
	return c.Conductor.Known() && c.Strands.Known() && c.Build.Known() && c.Insulation.Known() && c.Armour.Known() && c.Cores.Origin != design.Faulty && (c.Build.Value != "multicore" || c.Cores.Known())
}

// madeOver is the cable of a run with other properties, under a name of its own. A maker's
// figures do not carry over.
func madeOver(d *design.Design, a *assess.Run, conductor, strands, build, insulation string) *design.Cable {
	c := *a.Cable
	set := func(t *design.Text, word string) { *t = design.Text{Value: word, At: t.At, Origin: design.Stated} }
	set(&c.Conductor, conductor)
	set(&c.Strands, strands)
	set(&c.Build, build)
	set(&c.Insulation, insulation)
	c.Data = nil
	if build != a.Cable.Build.Value {
		c.Cores, c.Layout = design.Text{At: c.Cores.At}, design.Cores{}
		if build == "multicore" {
			c.Layout = cores(a)
			c.Cores = design.Text{Value: fmt.Sprintf("%dc", c.Layout.Live), At: c.Cores.At, Origin: design.Stated}
			if c.Layout.Earth > 0 {
				c.Cores.Value += "+e"
			}
		}
	}
	name := conductor + "-" + strands + "-" + insulation
	if c.Cores.Known() {
		name += "-" + strings.ReplaceAll(c.Cores.Value, "+", "")
	} else {
		name += "-1c"
	}
	if c.Armour.Value != "none" {
		name += "-armoured"
	}
	c.Name = name
	for n := 2; d.Find("cable", c.Name) != nil; n++ {
		c.Name = fmt.Sprintf("%s-%d", name, n)
	}
	return &c
}

// cores is what one cable in the place of a run's single cores has to hold: its phases, a
// neutral where one lies beside them, an earth where one does.
func cores(a *assess.Run) design.Cores {
	l := design.Cores{Live: 3}
	switch len(a.Segment.Phases()) {
	case 2: // one phase and neutral
		l.Live = 2
	case 5: // between two lines
		l.Live = 2
		if a.Run.NeutralMM2.Known() && a.Run.NeutralMM2.Value > 0 {
			l.Live = 3
		}
	default:
		if a.Run.NeutralMM2.Known() && a.Run.NeutralMM2.Value > 0 {
			l.Live = 4
		}
	}
	if a.Run.EarthMM2.Known() && a.Run.EarthMM2.Value > 0 {
		l.Earth = 1
	}
	return l
}

// legs lists the numbers of legs of a run.
func (q *Ask) legs(a *assess.Run) []int {
	if a.Run.LegLengthsM.Known() {
		return []int{a.Legs} // their lengths are those of so many
	}
	if len(q.Legs) > 0 {
		return q.Legs
	}
	var list []int
	for n := 1; n <= max(4, a.Legs+1); n++ {
		list = append(list, n)
	}
	return list
}

// variant is a run of another cable, size and number of legs. A neutral of the phases' size
// follows it, another one keeps its share of it; the earth follows by earthFor. Lugs of the
// one metal give way to those of the other.
func variant(run *design.Run, was *design.Cable, k Kind, size quantity.Size, legs int) design.Run {
	to := *run
	detail := *run.RunDetail // what is written to it is this run's alone
	to.RunDetail = &detail
	set := func(n *design.Num, v float64) { *n = design.Num{Value: v, At: n.At, Origin: design.Stated} }
	to.Cable.Name = k.Cable.Name
	to.SizeMM2.Origin, to.SizeKcmil.Origin, to.SizeAWG.Origin = design.Absent, design.Absent, design.Absent
	switch label, isAWG := strings.CutSuffix(size.Trade, " AWG"); {
	case isAWG:
		to.SizeAWG = design.Text{Value: label, At: run.SizeAt, Origin: design.Stated}
	case size.Trade != "":
		var v float64
		_, _ = fmt.Sscanf(size.Trade, "%g", &v)
		to.SizeKcmil = design.Num{Value: v, At: run.SizeAt, Origin: design.Stated}
	default:
		to.SizeMM2 = design.Num{Value: size.MM2, At: run.SizeAt, Origin: design.Stated}
	}
	to.Size = size
	set(&to.Parallel, float64(legs))
	if n := run.NeutralMM2; n.Known() && n.Value > 0 && run.Size.MM2 > 0 && size != run.Size {
		set(&to.NeutralMM2, size.MM2)
		if phases := (&assess.Run{Run: run}); !phases.PhaseSized(n.Value) {
			set(&to.NeutralMM2, standard(n.Value/run.Size.MM2*size.MM2))
		}
	}
	if was != nil && was.Build.Value == "multicore" && k.Cable.Build.Value == "single-core" && run.NeutralMM2.Origin == design.Absent {
		neutral := 0.0
		if was.Layout.Live == 4 || was.Layout.Live == 2 {
			neutral = size.MM2
		}
		set(&to.NeutralMM2, neutral)
	}
	if was != nil && was.Conductor.Value != k.Cable.Conductor.Value {
		to.Ends = slices.Clone(run.Ends)
		for i := range to.Ends {
			lug := &to.Ends[i].Lug
			switch {
			case !lug.Known() || lug.Value == "none":
			case k.Cable.Conductor.Value == "aluminium" && (lug.Value == "copper" || lug.Value == "ferrule"):
				lug.Value = "bimetal"
			case k.Cable.Conductor.Value == "copper" && lug.Value != "ferrule":
				lug.Value = "copper"
			}
		}
	}
	return to
}

// standard is the least standard metric size that is not below one.
func standard(mm2 float64) float64 {
	for _, s := range metric {
		if quantity.AtMost(mm2, s) {
			return s
		}
	}
	return mm2
}

// earthFor is the standard size of the earth conductor that the assessed run needs: by the
// set's table and by heat, whichever is the greater; unknown where the run states none or
// neither can be had.
func earthFor(v *assess.Review, a *assess.Run) (mm2 float64, ok bool) {
	fault, ok := v.Fault(a)
	if !ok || !a.Run.EarthMM2.Known() || a.Run.EarthMM2.Value == 0 {
		return 0, false
	}
	e := fault.Earth()
	if !e.TableMM2.Known && !e.HeatMM2.Known {
		return 0, false
	}
	return standard(max(e.TableMM2.Or(0), e.HeatMM2.Or(0))), true
}
