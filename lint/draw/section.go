package draw

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"trefoil/lint/assess"
	"trefoil/lint/design"
	"trefoil/lint/finding"
	"trefoil/lint/report"
	"trefoil/lint/scene"
	"trefoil/ratings/quantity"
)

// Measures of the cross-sections on paper, mm.
const (
	blockW   = (areaW - 8) / 2 // two beside each other
	pictureW = 92
	pictureH = 62
	wordsW   = blockW - pictureW - 6
	lineH    = 4.1
)

// scales are those of ISO 5455 that a cross-section may take.
var scales = []float64{1, 2, 5, 10, 20, 50, 100, 200, 500}

// Sections draws the cross-section of every route of an assessed design in which a run
// lies: its cables to scale, where all their diameters are known.
func Sections(v *assess.Review, findings []finding.Finding, opt Options) []Sheet {
	d := &draft{v: v, opt: opt, kind: "sections", title: "Cross-sections", marks: newMarks(findings, opt)}
	x, y := 0.0, 0.0
	var p *page
	for _, r := range v.Design.Routes {
		shared := v.Shared[r]
		if shared == nil {
			continue
		}
		c := d.cut(shared)
		high := c.high()
		switch {
		case p != nil && y+high <= areaH:
		case p != nil && x == 0:
			x, y = blockW+8, 0
		default:
			p = d.sheet("")
			x, y = 0, 0
		}
		p.what = strings.TrimPrefix(p.what+", "+name(r.Name), ", ")
		d.section(p, c, left+pad+x, margin+pad+y)
		y += high + 6
	}
	if p == nil {
		p = d.sheet("nothing: no run lies in a route")
		p.Say(scene.Text{At: scene.Point{X: left + 20, Y: margin + 20}, Size: nameMM, Text: "No run lies in a route that could be drawn."}, areaW)
	}
	return d.finish()
}

// disc is a cable in a cross-section, mm as built; y upwards.
type disc struct {
	x, y, r float64
	key     int // which run, from 1; 0 for other projects
	earth   bool
}

// unit is what stays together: the cables of one leg, or of a circuit of another project.
type unit struct {
	discs []disc
	w, h  float64
}

// cross is a route's cross-section, mm as built.
type cross struct {
	shared *assess.Shared
	pieces []assess.Piece
	units  []unit
	discs  []disc
	lines  []scene.Line   // supports, walls, ground
	rings  []scene.Circle // conduits, ducts
	wide   quantity.Maybe // the width to be dimensioned, from 0
	loose  bool           // not to scale
	why    []string       // why, and what else is to be told of the picture
	scale  float64
	box    scene.Box
	facts  []string
}

// cut works out where the cables of a route lie.
func (d *draft) cut(shared *assess.Shared) *cross {
	c := &cross{shared: shared, pieces: d.v.Lie(shared)}
	r := shared.Route
	for i := range c.pieces {
		p := &c.pieces[i]
		if p.OuterMM.Known || p.Gap == nil {
			continue
		}
		if p.Count == 0 && p.Gap.Reason != "" { // it is open whether there is one
			c.why = append(c.why, report.Clean(p.Gap.Reason)+": none is drawn")
			continue
		}
		c.loose = true
		who := "circuits of other projects"
		if p.Run >= 0 {
			who = "run " + name(d.v.Runs[p.Run].Run.Name)
		}
		reason := cmp.Or(p.Gap.Reason, "see what is found about it")
		c.why = append(c.why, "not to scale: a diameter of "+who+" is not known ("+report.Clean(reason)+")")
	}
	if c.why = slices.Compact(c.why); len(c.why) > 2 {
		c.why = append(c.why[:2], fmt.Sprintf("and %d more that are not known", len(c.why)-2))
	}
	d.bundle(c)
	n := 0
	for _, u := range c.units {
		n += len(u.discs)
	}
	if n > 400 {
		c.why = append(c.why, fmt.Sprintf("%d cables are too many to be drawn", n))
		c.units = nil
	}
	switch {
	case !r.Laid.Known():
	case assess.Open(r):
		c.tray(r)
	case r.Laid.Value == "trunking":
		c.trunking(r)
	case r.Laid.Value == "buried-duct":
		c.bank(r)
	case assess.Encloses(r):
		c.conduit(r)
	case r.Laid.Value == "buried":
		c.trench(r)
	default:
		c.wall(r)
	}
	c.bound()
	c.facts = d.routeFacts(c)
	return c
}

// bundle arranges the cables of each leg.
func (d *draft) bundle(c *cross) {
	keys := map[int]int{}
	for k, i := range c.shared.Runs {
		keys[i] = k + 1
	}
	radius := func(p *assess.Piece) float64 {
		if c.loose || !p.OuterMM.Known {
			return 15
		}
		return p.OuterMM.Value / 2
	}
	for i := 0; i < len(c.pieces); {
		run := c.pieces[i].Run
		var of []*assess.Piece
		for ; i < len(c.pieces) && c.pieces[i].Run == run; i++ {
			of = append(of, &c.pieces[i])
		}
		if run < 0 {
			for range of[0].Count {
				r := radius(of[0])
				c.units = append(c.units, unit{[]disc{{x: r, y: r, r: r}}, 2 * r, 2 * r})
			}
			continue
		}
		a := &d.v.Runs[run]
		for leg := range a.Legs {
			var u unit
			for k, p := range of {
				n := p.Count / a.Legs
				if p.Earth || p.Count < a.Legs {
					n = 0
					if leg == a.Legs-1 {
						n = p.Count
					}
				}
				formation := ""
				if k == 0 && a.Cable != nil && a.Cable.Build.Value == "single-core" {
					formation = a.Cable.Formation.Value
				}
				u.lay(n, radius(p), formation, disc{key: keys[run], earth: p.Earth})
			}
			if len(u.discs) > 0 {
				c.units = append(c.units, u)
			}
		}
	}
}

// lay puts n cables of a kind beside what the unit holds.
func (u *unit) lay(n int, r float64, formation string, like disc) {
	put := func(x, y float64) {
		q := like
		q.x, q.y, q.r = u.w+x, y, r
		u.discs = append(u.discs, q)
	}
	switch {
	case n == 0:
		return
	case formation == "trefoil" && n == 3:
		put(r, r)
		put(3*r, r)
		put(2*r, r+math.Sqrt(3)*r)
		u.w, u.h = u.w+4*r, max(u.h, 2*r+math.Sqrt(3)*r)
		return
	}
	pitch := 2 * r
	if formation == "flat-spaced" {
		pitch = 4 * r
	}
	for k := range n {
		put(r+pitch*float64(k), r)
	}
	u.w, u.h = u.w+2*r+pitch*float64(n-1), max(u.h, 2*r)
}

// row lays units side by side from x on; it gives where they end and how high they stand.
func (c *cross) row(units []unit, x, y, gap float64) (end, high float64) {
	for k, u := range units {
		if k > 0 {
			x += gap
		}
		for _, q := range u.discs {
			q.x, q.y = q.x+x, q.y+y
			c.discs = append(c.discs, q)
		}
		x += u.w
		high = max(high, u.h)
	}
	return x, high
}

// gap is the clear distance between circuits, mm.
func (c *cross) gap(r *design.Route) float64 {
	if r.Spacing.Value != "spaced" {
		return 0
	}
	if r.SpacingMM.Known() && r.SpacingMM.Value > 0 {
		return r.SpacingMM.Value
	}
	c.why = append(c.why, "spacing_mm is not stated, so the distance is not to scale")
	return 30
}

// line draws a part of the support, given as x, y, x, y in mm as built.
func (c *cross) line(class scene.Class, xy ...float64) {
	l := scene.Line{Class: class}
	for i := 0; i+1 < len(xy); i += 2 {
		l.Points = append(l.Points, scene.Point{X: xy[i], Y: xy[i+1]})
	}
	c.lines = append(c.lines, l)
}

// share cuts units into n parts alike.
func share(units []unit, n int) [][]unit {
	var parts [][]unit
	for k := range n {
		parts = append(parts, units[len(units)*k/n:len(units)*(k+1)/n])
	}
	return parts
}

// tray lays cables on trays, ladders and baskets, tier by tier, in their layers.
func (c *cross) tray(r *design.Route) {
	gap := c.gap(r)
	tiers := max(1, min(20, int(r.Tiers.Value)))
	layers := max(1, min(20, int(r.Layers.Value)))
	if tiers > 1 {
		c.why = append(c.why, "which circuit lies on which tier is not stated; the tiers are drawn closer than they stand")
	}
	wide := 0.0
	parts := share(c.units, tiers)
	for t := range tiers {
		for _, layer := range share(parts[t], layers) {
			w := gap * float64(max(0, len(layer)-1))
			for _, u := range layer {
				w += u.w
			}
			wide = max(wide, w)
		}
	}
	width := wide
	switch {
	case r.WidthMM.Known():
		width = r.WidthMM.Value
		c.wide = quantity.Of(width)
		if wide > width*(1+1e-9) && r.Spacing.Value != "bunched" {
			c.why = append(c.why, "side by side the cables are wider than the support")
		}
	default:
		c.why = append(c.why, "width_mm is not stated: drawn as wide as what lies in it")
	}
	y := 0.0
	for t := tiers - 1; t >= 0; t-- {
		top := y
		if r.Spacing.Value == "bunched" {
			var heap []disc
			for _, u := range parts[t] {
				heap = append(heap, u.discs...)
			}
			if !r.WidthMM.Known() {
				width = max(wide/2, 60)
			}
			if at, ok := settle(heap, box{width}); ok {
				for _, q := range at {
					q.y += y
					top = max(top, q.y+q.r)
					c.discs = append(c.discs, q)
				}
			} else {
				_, h := c.row(parts[t], 0, y, 0)
				top = y + h
			}
		} else {
			for _, layer := range share(parts[t], layers) {
				_, h := c.row(layer, 0, top, gap)
				top += h
			}
		}
		side := max(40, 0.15*width)
		c.line(scene.Ground, 0, y+side, 0, y, width, y, width, y+side)
		if r.Lid.Value {
			c.line(scene.Ground, -0.02*width, max(y+side, top+5), 1.02*width, max(y+side, top+5))
		}
		y = max(top, y+side) + 50
	}
}

// trunking heaps cables in a box.
func (c *cross) trunking(r *design.Route) {
	w, h := r.WidthMM.Maybe(), r.HeightMM.Maybe()
	if !w.Known || !h.Known {
		side := math.Sqrt(2.5 * c.area())
		w, h = quantity.Of(max(side, 2*c.widest())), quantity.Of(max(side, 2*c.widest()))
		c.why = append(c.why, "the trunking's width_mm and height_mm are not both stated: its size is not to scale")
	} else {
		c.wide = w
	}
	c.heap(c.discsOf(c.units), box{w.Value}, 0, 0)
	c.line(scene.Ground, 0, 0, w.Value, 0, w.Value, h.Value, 0, h.Value, 0, 0)
}

// conduit heaps cables in a pipe.
func (c *cross) conduit(r *design.Route) {
	bore := r.DuctInsideMM.Maybe()
	if !bore.Known {
		bore = quantity.Of(max(math.Sqrt(2.5*c.area()*4/math.Pi), 2*c.widest()))
		c.why = append(c.why, "duct_inside_mm is not stated: the bore is not to scale")
	}
	c.pipe(c.discsOf(c.units), bore.Value, outside(r, bore.Value), bore.Value/2, bore.Value/2)
}

// outside is the outer diameter of a pipe as it is drawn.
func outside(r *design.Route, bore float64) float64 {
	if r.DuctOutsideMM.Known() && r.DuctOutsideMM.Value > bore {
		return r.DuctOutsideMM.Value
	}
	return bore * 1.06
}

// pipe draws a pipe about a centre with cables heaped in it.
func (c *cross) pipe(discs []disc, bore, outer, x, y float64) {
	c.rings = append(c.rings, scene.Circle{Class: scene.Ground, Centre: scene.Point{X: x, Y: y}, R: outer / 2}, scene.Circle{Class: scene.Thin, Centre: scene.Point{X: x, Y: y}, R: bore / 2})
	c.heap(discs, round{bore / 2}, x, y)
}

// heap settles cables in a container whose origin lies at x, y.
func (c *cross) heap(discs []disc, in container, x, y float64) {
	at, ok := settle(discs, in)
	if !ok {
		c.why = append(c.why, "not all cables go in as they are drawn")
	}
	for _, q := range at {
		q.x, q.y = q.x+x, q.y+y
		c.discs = append(c.discs, q)
	}
}

func (c *cross) discsOf(units []unit) (list []disc) {
	for _, u := range units {
		list = append(list, u.discs...)
	}
	return list
}

// area of all cables, and the diameter of the widest.
func (c *cross) area() (sum float64) {
	for _, q := range c.discsOf(c.units) {
		sum += math.Pi * q.r * q.r
	}
	return sum
}

func (c *cross) widest() (w float64) {
	for _, q := range c.discsOf(c.units) {
		w = max(w, 2*q.r)
	}
	return w
}

// bank draws ducts in the ground.
func (c *cross) bank(r *design.Route) {
	var loads [][]disc
	switch r.Ducts.Value {
	case "shared":
		for _, part := range share(c.units, max(1, min(100, int(r.DuctCount.Value)))) {
			loads = append(loads, c.discsOf(part))
		}
	case "per-core":
		for _, q := range c.discsOf(c.units) {
			loads = append(loads, []disc{q})
		}
	default:
		for _, u := range c.units {
			loads = append(loads, u.discs)
		}
	}
	bore := r.DuctInsideMM.Maybe()
	if !bore.Known {
		c.why = append(c.why, "duct_inside_mm is not stated: the ducts are not to scale")
		for _, l := range loads {
			sum := 0.0
			for _, q := range l {
				sum += q.r * q.r
				bore.Value = max(bore.Value, 3*q.r)
			}
			bore.Value = max(bore.Value, 2*math.Sqrt(2.5*sum))
		}
	}
	outer, gap := outside(r, bore.Value), 0.0
	if r.Spacing.Value == "spaced" {
		gap = c.gap(r)
	}
	const perRow = 12
	if len(loads) > perRow {
		c.why = append(c.why, fmt.Sprintf("how the ducts lie to each other is not stated: drawn %d in a row", perRow))
	}
	for k, l := range loads {
		c.pipe(l, bore.Value, outer, outer/2+float64(k%perRow)*(outer+gap), -outer/2-float64(k/perRow)*(outer+gap))
	}
	c.ground(r, outer+gap)
}

// trench lays cables in the ground, side by side.
func (c *cross) trench(r *design.Route) {
	_, h := c.row(c.units, 0, 0, c.gap(r))
	for i := range c.discs {
		c.discs[i].y -= h
	}
	c.ground(r, max(h, 40))
}

// ground draws the surface above what is buried, closer than it is.
func (c *cross) ground(r *design.Route, size float64) {
	end := 0.0
	for _, q := range c.discs {
		end = max(end, q.x+q.r)
	}
	for _, q := range c.rings {
		end = max(end, q.Centre.X+q.R)
	}
	y := max(60, 1.2*size)
	c.line(scene.Ground, -0.3*size, y, end+0.3*size, y)
	c.hatch(-0.3*size, end+0.3*size, y, -1)
	c.why = append(c.why, "the surface is drawn closer than it is")
}

// hatch marks the side of a surface that is solid.
func (c *cross) hatch(from, to, y, side float64) {
	step := (to - from) / 24
	for k := range 24 {
		x := from + step*(float64(k)+0.5)
		c.line(scene.Thin, x, y, x-step*0.6, y+side*step*0.6)
	}
}

// wall lays cables on a surface, off it, or free in air.
func (c *cross) wall(r *design.Route) {
	y := 0.0
	switch r.Laid.Value {
	case "standoff":
		if y = r.StandoffMM.Value; !r.StandoffMM.Known() {
			y = 30
			c.why = append(c.why, "standoff_mm is not stated: the distance from the surface is not to scale")
		}
	case "free-air":
		c.row(c.units, 0, 0, c.gap(r))
		return
	}
	end, _ := c.row(c.units, 0, y, c.gap(r))
	c.line(scene.Ground, -0.05*end, 0, 1.05*end, 0)
	c.hatch(-0.05*end, 1.05*end, 0, -1)
}

// bound finds the extent of the picture and the scale that it fits in.
func (c *cross) bound() {
	lo, hi := scene.Point{X: math.Inf(1), Y: math.Inf(1)}, scene.Point{X: math.Inf(-1), Y: math.Inf(-1)}
	in := func(x, y, r float64) {
		lo, hi = scene.Point{X: min(lo.X, x-r), Y: min(lo.Y, y-r)}, scene.Point{X: max(hi.X, x+r), Y: max(hi.Y, y+r)}
	}
	for _, q := range c.discs {
		in(q.x, q.y, q.r)
	}
	for _, q := range c.rings {
		in(q.Centre.X, q.Centre.Y, q.R)
	}
	for _, l := range c.lines {
		for _, q := range l.Points {
			in(q.X, q.Y, 0)
		}
	}
	if lo.X > hi.X {
		return
	}
	c.box = scene.Box{X: lo.X, Y: lo.Y, W: hi.X - lo.X, H: hi.Y - lo.Y}
	c.scale = scales[len(scales)-1]
	for _, s := range slices.Backward(scales) {
		if c.loose && s < 3 {
			break
		}
		if c.box.W/s <= pictureW && c.box.H/s <= pictureH {
			c.scale = s
		}
	}
	if c.box.W/c.scale > pictureW || c.box.H/c.scale > pictureH {
		c.discs, c.lines, c.rings, c.box = nil, nil, nil, scene.Box{}
		c.why = append(c.why, "it is too large to be drawn")
	}
}

// routeFacts are the words above a cross-section.
func (d *draft) routeFacts(c *cross) []string {
	r := c.shared.Route
	first := r.Laid.Value
	add := func(known bool, text string) {
		if known {
			first += ", " + pretty(text)
		}
	}
	add(r.Lid.Value, "with lid")
	add(r.WidthMM.Known(), quantity.Milli.Print(r.WidthMM.Value)+" wide")
	add(r.Vertical.Value, "vertical")
	add(r.Sun.Value, "in the sun")
	switch {
	case r.Spacing.Value == "spaced" && r.SpacingMM.Known():
		add(true, quantity.Milli.Print(r.SpacingMM.Value)+" clear between circuits")
	default:
		add(r.Spacing.Known(), r.Spacing.Value)
	}
	add(r.HeldBy.Known(), "held by "+report.Clean(r.HeldBy.Value))
	add(r.Tiers.Known() && r.Tiers.Value > 1, quantity.Ratio.Print(r.Tiers.Value)+" tiers, 300 mm apart")
	add(r.StandoffMM.Known() && r.Laid.Value == "standoff", quantity.Milli.Print(r.StandoffMM.Value)+" off the surface")
	add(r.DuctInsideMM.Known() && assess.Encloses(r), "bore "+quantity.Milli.Print(r.DuctInsideMM.Value))
	add(r.DepthM.Known() && (r.Laid.Value == "buried" || r.Laid.Value == "buried-duct"), "depth "+quantity.Metre.Print(r.DepthM.Value))
	add(r.AlsoHolds.Known() && len(r.AlsoHolds.Values) > 0, "also holds "+report.Clean(strings.Join(r.AlsoHolds.Values, ", ")))
	return []string{strings.TrimPrefix(first, ", "), d.governing(c)}
}

// governing says how many circuits count and the factor of the run that is loaded most.
func (d *draft) governing(c *cross) string {
	circuits := many(c.shared.Circuits, "circuit")
	if c.shared.Others > 0 {
		circuits += fmt.Sprintf(", %d of them of other projects", c.shared.Others)
	}
	var worst *assess.Run
	var at *assess.Section
	for _, i := range c.shared.Runs {
		a := &d.v.Runs[i]
		for k := range a.Sections {
			s := &a.Sections[k]
			if s.Shared != c.shared || s.Rating == nil {
				continue
			}
			if use := a.UtilisationPct(); worst == nil || use.Or(0) > worst.UtilisationPct().Or(0) {
				worst, at = a, s
			}
			break
		}
	}
	if worst == nil {
		return circuits + "; the group is not assessed"
	}
	text := circuits + "; "
	for _, f := range at.Rating.Factors {
		if f.Name == "grouping" || f.Name == "mixed-sizes" {
			text += fmt.Sprintf("%s factor %s for run %s (%s, %s)", f.Name, quantity.Ratio.Print(f.Value), name(worst.Run.Name), f.Why, f.Ref.Text)
			if f.Ref.Status != "" && f.Ref.Status != "published" {
				text += " " + string(f.Ref.Status)
			}
			return pretty(text) + used(worst)
		}
	}
	return pretty(text) + "no factor for the group of run " + name(worst.Run.Name) + used(worst)
}

func used(a *assess.Run) string {
	use := a.UtilisationPct()
	if !use.Known {
		return ""
	}
	return ", which is loaded to " + quantity.Percent.Print(use.Value)
}

// rows are the lines of the table beside the picture.
func (c *cross) rows() int { return min(len(c.shared.Runs), maxRowsOfTable) }

const maxRowsOfTable = 30

// words gives the lines under the heading, and those under the picture.
func (c *cross) words() (above, below []string) {
	for _, f := range c.facts {
		above = append(above, scene.Wrap(f, detailMM, false, blockW)...)
	}
	for _, w := range c.why {
		below = append(below, scene.Wrap(w, smallMM, false, pictureW)...)
	}
	return above, below
}

// high is the height of the block on paper.
func (c *cross) high() float64 {
	above, below := c.words()
	picture := 3.0
	if c.scale > 0 {
		picture = c.box.H/c.scale + 6
	}
	if c.wide.Known {
		picture += 5
	}
	table := float64(c.rows()+1) * lineH
	if len(c.shared.Runs) > maxRowsOfTable {
		table += lineH
	}
	return 6 + float64(len(above))*3.2 + 3 + max(picture+float64(len(below))*entryMM+2, table)
}

// section draws one block, x, y its upper left corner.
func (d *draft) section(p *page, c *cross, x, y float64) {
	r := c.shared.Route
	heading := "route " + name(r.Name)
	if c.scale > 0 {
		if c.loose {
			heading += ", not to scale"
		} else {
			heading += fmt.Sprintf(", 1 : %.0f", c.scale)
		}
	}
	d.named(p, r.Subject(), heading, x, y+3.2, blockW)
	above, below := c.words()
	ty := y + 6
	for _, l := range above {
		p.Say(scene.Text{At: scene.Point{X: x, Y: ty + detailMM}, Size: detailMM, Colour: scene.Dim, Text: l}, blockW)
		ty += 3.2
	}
	ty += 3
	d.table(p, c, x+pictureW+6, ty)
	if c.scale > 0 {
		c.picture(p, x, ty+1)
		ty += c.box.H/c.scale + 6
	}
	if c.wide.Known {
		c.dimension(p, x, ty-2)
		ty += 5
	}
	for _, l := range below {
		p.Say(scene.Text{At: scene.Point{X: x, Y: ty + smallMM}, Size: smallMM, Colour: scene.Dim, Text: l}, pictureW)
		ty += entryMM
	}
}

// at maps a place as built to the paper.
func (c *cross) at(x, y, px, py float64) scene.Point {
	off := (pictureW - c.box.W/c.scale) / 2
	return scene.Point{X: px + off + (x-c.box.X)/c.scale, Y: py + (c.box.Y+c.box.H-y)/c.scale}
}

func (c *cross) picture(p *page, x, y float64) {
	for _, l := range c.lines {
		out := scene.Line{Class: l.Class}
		for _, q := range l.Points {
			out.Points = append(out.Points, c.at(q.X, q.Y, x, y))
		}
		p.Add(out)
	}
	for _, q := range c.rings {
		p.Add(scene.Circle{Class: q.Class, Centre: c.at(q.Centre.X, q.Centre.Y, x, y), R: q.R / c.scale})
	}
	for _, q := range c.discs {
		p.cable(q, c.at(q.x, q.y, x, y), q.r/c.scale)
	}
}

// cable draws one cable: with the number of its run, or hatched where it is of another project.
func (p *page) cable(q disc, centre scene.Point, r float64) {
	if q.key == 0 {
		p.Add(scene.Circle{Class: scene.Other, Centre: centre, R: r})
		for t := -r + 0.6; t < r; t += 1.1 { // chords at 45 degrees
			h := math.Sqrt(max(0, r*r-t*t))
			s := math.Sqrt2 / 2
			p.Path(scene.Thin, centre.X+s*(t-h), centre.Y+s*(t+h), centre.X+s*(t+h), centre.Y+s*(t-h))
		}
		return
	}
	p.Add(scene.Circle{Class: scene.Body, Centre: centre, R: r})
	text := fmt.Sprint(q.key)
	if q.earth {
		text += "E"
	}
	if size := min(detailMM, 1.7*r/max(1.4, scene.Measure(text, 1, true)/0.7)); size >= 1.1 {
		p.Add(scene.Text{At: scene.Point{X: centre.X, Y: centre.Y + 0.36*size}, Size: size, Bold: true, Colour: scene.Ink, Anchor: scene.Middle, Text: text, Inside: true})
	}
}

// dimension draws the width below the picture.
func (c *cross) dimension(p *page, x, y float64) {
	a, b := c.at(0, 0, x, 0).X, c.at(c.wide.Value, 0, x, 0).X
	p.Path(scene.Thin, a, y-1.2, a, y+1.2)
	p.Path(scene.Thin, b, y-1.2, b, y+1.2)
	p.Path(scene.Thin, a, y, b, y)
	p.Shape(scene.Solid, a, y, a+1.8, y-0.5, a+1.8, y+0.5)
	p.Shape(scene.Solid, b, y, b-1.8, y-0.5, b-1.8, y+0.5)
	p.Say(scene.Text{At: scene.Point{X: (a + b) / 2, Y: y + 3.4}, Size: detailMM, Anchor: scene.Middle, Text: quantity.Milli.Print(c.wide.Value)}, pictureW)
}

// table lists the runs of the route by the numbers in the picture.
func (d *draft) table(p *page, c *cross, x, y float64) {
	for k := range c.rows() {
		i := c.shared.Runs[k]
		a := &d.v.Runs[i]
		base := y + lineH*float64(k) + 2.8
		b := d.badge(p, a.Run.Subject(), x+wordsW, base-0.8)
		p.Say(scene.Text{At: scene.Point{X: x + 6, Y: base}, Size: detailMM, Bold: true, Anchor: scene.End, Text: fmt.Sprint(k + 1)}, 7)
		room := wordsW - 8 - b
		if b > 0 {
			room--
		}
		w := p.Write(scene.Text{At: scene.Point{X: x + 8, Y: base}, Size: detailMM, Bold: true, Text: name(a.Run.Name)}, room*0.5)
		p.Say(scene.Text{At: scene.Point{X: x + 8 + w + 1.5, Y: base}, Size: detailMM, Text: d.made(c, a)}, room-w-1.5)
	}
	base := y + lineH*float64(c.rows()) + 2.8
	if more := len(c.shared.Runs) - c.rows(); more > 0 {
		p.Say(scene.Text{At: scene.Point{X: x + 8, Y: base}, Size: detailMM, Text: many(more, "further run")}, wordsW-8)
		base += lineH
	}
	if c.shared.Others > 0 {
		text := many(c.shared.Others, "circuit") + " of other projects, hatched"
		if n := c.shared.Route.OtherOuterMM; n.Known() {
			text += ", " + quantity.Milli.Print(n.Value)
		}
		p.Say(scene.Text{At: scene.Point{X: x + 8, Y: base}, Size: detailMM, Colour: scene.Dim, Text: text}, wordsW-8)
	}
}

// made says what lies in a route of a run, with the diameters.
func (d *draft) made(c *cross, a *assess.Run) string {
	var list []string
	for i := range c.pieces {
		q := &c.pieces[i]
		if q.Run != a.Index || q.Count == 0 {
			continue
		}
		text := "diameter unknown"
		if q.OuterMM.Known {
			text = fmt.Sprintf("%d x %s", q.Count, quantity.Milli.Print(q.OuterMM.Value))
		}
		if q.Earth {
			text += " earth"
		}
		list = append(list, text)
	}
	s := size(a.Run.Size)
	if a.Cable != nil {
		s += " " + metals[a.Cable.Conductor.Value]
	}
	return s + ": " + strings.Join(list, ", ")
}
