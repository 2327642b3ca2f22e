package assess

import (
	"fmt"
	"math"

	"trefoil/lint/design"
	"trefoil/ratings"
	"trefoil/ratings/conductor"
	"trefoil/ratings/quantity"
)

// Held is what lies in a route as bodies that take room and weigh. A gap without a
// reason hangs on a value that is told where it is written.
type Held struct {
	Pieces    []Piece
	WidthMM   float64        // of all of them side by side in one layer, of what is known
	RoomMM    quantity.Maybe // for that, on all tiers and in all layers; unknown where the route is no tray or states too little
	WidthGaps []ratings.Gap
	KgM       float64        // of what is known, with what the route adds
	MayKgM    quantity.Maybe // what all tiers may carry
	Computed  bool           // some masses are worked out from construction data
	MassGaps  []ratings.Gap
	Fills     []Fill
	FillGaps  []ratings.Gap
}

// Piece is one kind of cable in a route.
type Piece struct {
	Run     int // -1 for circuits of other projects
	Earth   bool
	Neutral bool // a single core of its own
	Count   int
	Size    quantity.Size // of its conductors; zero for circuits of other projects
	Metal   string
	OuterMM quantity.Maybe // of one
	KgM     quantity.Maybe // of one
	Built   bool           // KgM is worked out from its construction
	Gap     *ratings.Gap   // why there is no diameter
	MassGap *ratings.Gap
}

// Fill is how full one conduit, duct or trunking is.
type Fill struct {
	Run          int  // whose own duct it is, -1 for other projects and where all share it
	Whole        bool // all of the route share it
	Partial      bool // some of what lies in it is not known
	Count        int  // cables in it
	Ducts        int  // over which they are shared out
	AreaMM2      float64
	InsideMM2    float64
	Percent      float64
	LimitPercent float64
	LimitRef     string
	Memory       bool // the limit is from memory
	Mandatory    bool // it is a limit of the code, or of the design

	LeastMM, MostMM float64 // diameters of the cables in it
	BoreMM          float64 // 0 of trunking
}

// JamRatio is the bore over the diameter of three cables alike, to 5 %, that lie in it
// alone; unknown where they are not three, not alike, or not all known.
func (f *Fill) JamRatio() quantity.Maybe {
	if f.BoreMM <= 0 || f.Partial || f.Count != 3 || f.Ducts != 1 || f.MostMM > 1.05*f.LeastMM {
		return quantity.Maybe{}
	}
	return quantity.Of(f.BoreMM / ((f.LeastMM + f.MostMM) / 2))
}

// lay puts count cables of a piece into it.
func (f *Fill) lay(p *Piece, count int) {
	d := p.OuterMM.Value
	f.Count += count
	f.AreaMM2 += float64(count) * math.Pi / 4 * d * d
	if f.MostMM == 0 || d < f.LeastMM {
		f.LeastMM = d
	}
	f.MostMM = max(f.MostMM, d)
}

// contain works out what lies in a route that closes round its cables or states
// something to hold it against.
func (v *Review) contain(shared *Shared) {
	r := shared.Route
	stated := Encloses(r)
	for _, n := range []design.Num{r.WidthMM, r.LoadKgM, r.LoadSpanM, r.BendMM} {
		stated = stated || n.Origin != design.Absent
	}
	if shared.Held = nil; stated {
		shared.Held = v.contents(shared)
	}
}

// contents works out what lies in one route.
func (v *Review) contents(shared *Shared) *Held {
	h := &Held{}
	r := shared.Route
	for _, i := range shared.Runs {
		v.pieces(h, &v.Runs[i], v.Runs[i].sizeIn(shared))
	}
	if shared.Others > 0 {
		p := Piece{Run: -1, Count: shared.Others, OuterMM: r.OtherOuterMM.Maybe(), KgM: r.OtherKgM.Maybe()}
		if !p.OuterMM.Known {
			p.Gap = &ratings.Gap{Reason: "circuits of other projects state no other_outer_mm", Next: "add other_outer_mm, the diameter of one such circuit"}
		}
		if !p.KgM.Known {
			p.MassGap = &ratings.Gap{Reason: "circuits of other projects state no other_kg_m", Next: "add other_kg_m, the mass of one such circuit"}
		}
		h.Pieces = append(h.Pieces, p)
	}
	if r.OtherCircuits.Origin == design.Faulty {
		h.Pieces = append(h.Pieces, Piece{Run: -1, Gap: &ratings.Gap{}, MassGap: &ratings.Gap{}})
	}
	v.width(h, shared)
	v.mass(h, r)
	v.fill(h, shared)
	return h
}

// piece is the body of one cable.
func (v *Review) piece(a *Run, c ratings.Circuit, data *design.CableData, count int) Piece {
	p := Piece{Run: a.Index, Count: count, Size: c.Size, Metal: c.Conductor}
	if built, gap := conductor.Construct(c); gap != nil {
		p.Gap = gap
	} else {
		p.OuterMM = quantity.Of(built.OuterMM)
	}
	if data != nil && data.KgM.Known() {
		p.KgM = data.KgM.Maybe()
		return p
	}
	earth := 0.0
	if a.Run.EarthBy.Value != "separate" {
		earth = a.Run.EarthMM2.Maybe().Or(0)
	}
	if kg, gap := conductor.MassKgM(c, a.Cable.Layout.Earth, earth); gap != nil {
		p.MassGap = gap
	} else {
		p.KgM, p.Built = quantity.Of(kg), true
	}
	return p
}

// pieces lists the cables of a run: one a leg, or its single cores, and an earth
// conductor that lies by itself, which one serves all legs. That is taken as a sheathed
// single core of the run's insulation. own is the run's size on the route.
func (v *Review) pieces(h *Held, a *Run, own quantity.Size) {
	if !usable(a) {
		h.Pieces = append(h.Pieces, Piece{
			Run: a.Index, Count: a.Legs, Gap: &ratings.Gap{}, MassGap: &ratings.Gap{},
		})
		return
	}
	c := v.circuit(a, own)
	if a.Cable.Build.Value != "single-core" {
		h.Pieces = append(h.Pieces, v.piece(a, c, a.Cable.Sized(own), a.Legs))
	} else {
		lines, neutral := 3, 0
		switch len(a.Segment.Phases()) {
		case 2: // one phase and neutral
			lines, neutral = 1, 1
		case 5: // between two lines
			lines = 2
		}
		h.Pieces = append(h.Pieces, v.piece(a, c, a.Cable.Sized(own), lines*a.Legs))
		size := own
		switch n := a.Run.NeutralMM2; {
		case n.Known() && n.Value == 0:
			neutral = 0
		case n.Known():
			neutral, size = 1, quantity.MM2(n.Value)
			if a.PhaseSized(n.Value) {
				size = own
			}
		case n.Origin == design.Faulty:
			h.Pieces = append(h.Pieces, Piece{Run: a.Index, Neutral: true, Gap: &ratings.Gap{}, MassGap: &ratings.Gap{}})
		case neutral == 0:
			g := &ratings.Gap{Reason: "whether a neutral lies beside the single cores is not stated", Next: "add neutral_mm2, 0 where there is none"}
			h.Pieces = append(h.Pieces, Piece{Run: a.Index, Neutral: true, Gap: g, MassGap: g})
		}
		if neutral > 0 {
			p := v.piece(a, v.circuit(a, size), a.Cable.Sized(size), a.Legs)
			p.Neutral = true
			h.Pieces = append(h.Pieces, p)
		}
	}
	if !v.earthApart(a) || v.neutralIsEarth(a) {
		return
	}
	switch e := a.Run.EarthMM2; {
	case e.Known() && e.Value == 0:
	case e.Known():
		ce := ratings.Circuit{
			Conductor: a.Cable.Conductor.Value, Strands: a.Cable.Strands.Value, Insulation: a.Cable.Insulation.Value,
			Build: "single-core", Size: quantity.MM2(e.Value), Cores: 1,
		}
		if m := a.Run.EarthConductor; m.Known() {
			ce.Conductor = m.Value
		}
		p := v.piece(a, ce, nil, 1)
		p.Earth = true
		h.Pieces = append(h.Pieces, p)
	case a.Run.EarthROhmKM.Known(): // a strip or a structure
	case e.Origin == design.Faulty:
		h.Pieces = append(h.Pieces, Piece{Run: a.Index, Earth: true, Gap: &ratings.Gap{}, MassGap: &ratings.Gap{}})
	default:
		g := &ratings.Gap{Reason: "whether an earth conductor lies beside the cable is not stated", Next: "add earth_mm2, 0 where there is none"}
		h.Pieces = append(h.Pieces, Piece{Run: a.Index, Earth: true, Gap: g, MassGap: g})
	}
}

// Bodies lists the cables of a run, in a size of its own, as they lie side by side: one a
// leg, or single cores, and an earth conductor by itself. What is not stated is a piece
// with a gap and without count.
func (v *Review) Bodies(a *Run, own quantity.Size) []Piece {
	h := &Held{}
	v.pieces(h, a, own)
	return h.Pieces
}

// width sums what lies side by side: each cable its diameter, single cores in trefoil
// two diameters for three of them, flat-spaced one clear between, and the clear distance
// between circuits where they are spaced.
func (v *Review) width(h *Held, shared *Shared) {
	r := shared.Route
	for i := range h.Pieces {
		p := &h.Pieces[i]
		if p.Gap != nil {
			h.WidthGaps = append(h.WidthGaps, *p.Gap)
			continue
		}
		n := float64(p.Count)
		if p.Run >= 0 && !p.Earth {
			a := &v.Runs[p.Run]
			legs := float64(a.Legs)
			each := n / legs
			if a.Cable.Build.Value == "single-core" {
				switch {
				case a.Cable.Formation.Value == "flat-spaced":
					each = 2*each - 1
				case a.Cable.Formation.Value == "trefoil" && each == 3:
					each = 2
				}
			}
			n = each * legs
		}
		h.WidthMM += n * p.OuterMM.Value
	}
	if Open(r) && r.WidthMM.Known() && r.Tiers.Known() && r.Layers.Known() && r.SparePercent.Origin != design.Faulty {
		h.RoomMM = quantity.Of(r.WidthMM.Value * r.Tiers.Value * r.Layers.Value * (1 - r.SparePercent.Value/100))
	}
	if r.Spacing.Value != "spaced" || shared.Circuits < 2 {
		return
	}
	if r.SpacingMM.Origin == design.Faulty {
		h.WidthGaps = append(h.WidthGaps, ratings.Gap{})
		return
	}
	if !r.SpacingMM.Known() || r.SpacingMM.Value == 0 {
		h.WidthGaps = append(h.WidthGaps, ratings.Gap{Reason: "the circuits are spaced and spacing_mm is not stated", Next: "add spacing_mm"})
		return
	}
	tiers := max(1, int(r.Tiers.Value))
	h.WidthMM += float64(max(0, shared.Circuits-tiers)) * r.SpacingMM.Value
}

// mass sums what the supports carry.
func (v *Review) mass(h *Held, r *design.Route) {
	if r.LoadKgM.Known() && r.Tiers.Known() {
		h.MayKgM = quantity.Of(r.LoadKgM.Value * r.Tiers.Value)
	}
	h.KgM = r.AddedKgM.Maybe().Or(0) * max(1, r.Tiers.Value)
	for i := range h.Pieces {
		p := &h.Pieces[i]
		if p.MassGap != nil {
			h.MassGaps = append(h.MassGaps, *p.MassGap)
			continue
		}
		h.KgM += float64(p.Count) * p.KgM.Value
		h.Computed = h.Computed || p.Built
	}
}

// Fill is the fill of the conduit, duct or trunking that a run lies in; nil where it is
// not known.
func (h *Held) Fill(run int) *Fill {
	for i := range h.Fills {
		if f := &h.Fills[i]; !f.Partial && (f.Whole || f.Run == run) {
			return f
		}
	}
	return nil
}

// Encloses says that a route closes round its cables, so that they must go in.
func Encloses(r *design.Route) bool {
	switch r.Laid.Value {
	case "conduit", "conduit-in-insulation", "trunking", "buried-duct":
		return true
	}
	return false
}

// Open says that a route is a tray of some kind, on which cables lie in layers.
func Open(r *design.Route) bool {
	switch r.Laid.Value {
	case "perforated-tray", "solid-tray", "ladder", "basket":
		return true
	}
	return false
}

// fill works out how full conduits, ducts and trunking are.
func (v *Review) fill(h *Held, shared *Shared) {
	r := shared.Route
	if !Encloses(r) {
		return
	}
	inside := 0.0
	switch {
	case r.Laid.Value == "trunking":
		if !r.WidthMM.Known() || !r.HeightMM.Known() {
			h.FillGaps = append(h.FillGaps, ratings.Gap{Reason: "width_mm and height_mm of the trunking are not stated", Next: "add width_mm and height_mm, both inside"})
			return
		}
		inside = r.WidthMM.Value * r.HeightMM.Value
	case !r.DuctInsideMM.Known():
		h.FillGaps = append(h.FillGaps, ratings.Gap{Reason: "duct_inside_mm is not stated", Next: "add duct_inside_mm, the bore of one conduit or duct"})
		return
	default:
		inside = math.Pi / 4 * r.DuctInsideMM.Value * r.DuctInsideMM.Value
	}
	bore := 0.0
	if r.Laid.Value != "trunking" {
		bore = r.DuctInsideMM.Value
	}
	for i := range h.Pieces {
		if g := h.Pieces[i].Gap; g != nil {
			h.FillGaps = append(h.FillGaps, *g)
		}
	}
	add := func(f Fill) {
		if f.Count == 0 {
			return
		}
		f.Percent = 100 * f.AreaMM2 / f.InsideMM2
		v.limit(&f, r)
		h.Fills = append(h.Fills, f)
	}
	if r.Laid.Value != "buried-duct" || r.Ducts.Value == "shared" {
		whole := Fill{Run: -1, Whole: true, Partial: len(h.FillGaps) > 0, InsideMM2: inside, Ducts: 1, BoreMM: bore}
		for i := range h.Pieces {
			if p := &h.Pieces[i]; p.Gap == nil {
				whole.lay(p, p.Count)
			}
		}
		if n := max(1, int(r.DuctCount.Value)); r.Laid.Value == "buried-duct" && n > 1 {
			whole.InsideMM2 *= float64(n)
			whole.Ducts = n
		}
		add(whole)
		return
	}
	for i := 0; i < len(h.Pieces); {
		own := Fill{Run: h.Pieces[i].Run, InsideMM2: inside, Ducts: 1, BoreMM: bore}
		for ; i < len(h.Pieces) && h.Pieces[i].Run == own.Run; i++ {
			p := &h.Pieces[i]
			if p.Gap != nil {
				own.Partial = true
				continue
			}
			switch each := 1; {
			case r.Ducts.Value == "per-core":
				if p.OuterMM.Value > own.MostMM {
					own.Count, own.AreaMM2, own.MostMM = 0, 0, 0
					own.lay(p, 1)
				}
			default:
				if own.Run >= 0 && !p.Earth {
					each = p.Count / v.Runs[own.Run].Legs
				}
				own.lay(p, each)
			}
		}
		add(own)
	}
}

// limit is how full it may be: the route's limit, else the site's, else that of the
// family of the set. All of the last are from memory.
func (v *Review) limit(f *Fill, r *design.Route) {
	if r.FillLimitPercent.Known() {
		f.LimitPercent, f.LimitRef, f.Mandatory = r.FillLimitPercent.Value, r.FillLimitOrigin.Value, true
		return
	}
	if s := v.Design.Site(); s != nil && s.FillLimitPercent.Known() {
		f.LimitPercent, f.LimitRef, f.Mandatory = s.FillLimitPercent.Value, s.FillLimitOrigin.Value, true
		return
	}
	f.Memory = true
	n := (f.Count + f.Ducts - 1) / f.Ducts
	by := func(one, two, more float64) float64 { return []float64{one, two, more}[min(n, 3)-1] }
	trunking := r.Laid.Value == "trunking"
	switch {
	case v.Info.Family == "nec" && trunking:
		f.LimitPercent, f.LimitRef, f.Mandatory = 20, "NEC 376.22(A)", true
	case v.Info.Family == "nec":
		f.LimitPercent, f.LimitRef, f.Mandatory = by(53, 31, 40), fmt.Sprintf("NEC chapter 9 Table 1, %s", cables(n)), true
	case v.Info.Family == "as-nzs" && !trunking:
		f.LimitPercent, f.LimitRef = by(50, 33, 40), fmt.Sprintf("AS/NZS 3000 Appendix C6, %s", cables(n))
	case trunking:
		f.LimitPercent, f.LimitRef = 45, "common practice for trunking"
	default:
		f.LimitPercent, f.LimitRef = 40, "common practice"
	}
}

func cables(n int) string {
	switch n {
	case 1:
		return "1 cable"
	case 2:
		return "2 cables"
	}
	return "3 cables and more"
}

// RouteLengthM is the length of a route: stated, else that of the run that lies longest
// in it, which is then assumed.
func (v *Review) RouteLengthM(shared *Shared) (length quantity.Maybe, assumed bool) {
	if n := shared.Route.LengthM; n.Origin != design.Absent {
		return n.Maybe(), false
	}
	longest := 0.0
	for _, i := range shared.Runs {
		sum := 0.0
		for k := range v.Runs[i].Sections {
			s := &v.Runs[i].Sections[k]
			if s.Shared != shared {
				continue
			}
			if !s.Section.LengthM.Known() {
				return quantity.Maybe{}, true
			}
			sum += s.Section.LengthM.Value
		}
		longest = max(longest, sum)
	}
	return quantity.Of(longest), true
}

// DuctsOf is the number of ducts that the runs of a duct bank lie in, without those of
// other projects.
func (v *Review) DuctsOf(shared *Shared) int {
	if shared.Route.Ducts.Value == "shared" {
		return max(1, int(shared.Route.DuctCount.Value))
	}
	n := 0
	for _, i := range shared.Runs {
		a := &v.Runs[i]
		if shared.Route.Ducts.Value == "per-circuit" {
			n += a.Legs
			continue
		}
		for _, p := range v.Bodies(a, a.sizeIn(shared)) {
			n += p.Count
		}
	}
	return n
}
