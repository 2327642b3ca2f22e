package draw

import (
	"cmp"
	"fmt"
	"strings"

	"trefoil/lint/assess"
	"trefoil/lint/design"
	"trefoil/lint/finding"
	"trefoil/lint/network"
	"trefoil/lint/scene"
	"trefoil/ratings/quantity"
)

// Measures of the diagram in mm. A row holds a run and what stands at its far end.
const (
	rowH    = 12.8
	rowMax  = 16 // where there is room
	runMin  = 66 // from one bar to the next
	runMax  = 84
	leafW   = 58 // a source with its words
	supplyW = 46
	supplyH = 36
	enterW  = 50 // where a board comes from on its sheet
	gapW    = 4  // between columns and panels
	maxRows = int(10*areaH) / int(10*rowH)
)

// way is what leads from a node away from the supply: a run, or a load that hangs on it.
type way struct {
	run   *assess.Run
	node  int
	taker *network.Taker
}

// panel is a part of the network that is drawn in one piece.
type panel struct {
	root     int
	fed      *assess.Run  // the run from the supply that is drawn at its head; nil where it comes from another sheet
	supply   int          // the node at its head, -1
	open     map[int]bool // the nodes whose ways are drawn in it
	opened   []int        // the same without the root, in order
	ways     []way        // of the root
	comb     bool         // the root's ways stand in columns, and nothing of them is opened
	columns  int
	rows     int
	part     int // of several with ways of the same board, from 1; 0 where it is the only one
	parts    int
	runW     float64
	pitch    float64 // from row to row
	x, y     float64 // on its sheet, in the area for drawing
	w, h     float64
	page     *page
	number   int // of its sheet
	from     *panel
	fromRun  *assess.Run
	levels   int
	topLevel bool // nothing leads to it
}

// diagram lays out the single-line diagram.
type diagram struct {
	*draft
	ways   [][]way // by node
	panels []*panel
	on     map[int]*panel // the panel that a node is drawn in as its root
}

// Diagram draws the single-line diagram of an assessed design. The numbers of the marks
// are the places of the findings in the list, from 1.
func Diagram(v *assess.Review, findings []finding.Finding, opt Options) []Sheet {
	d := &diagram{
		draft: &draft{v: v, opt: opt, kind: "diagram", title: "Single-line diagram", marks: newMarks(findings, opt)},
		ways:  make([][]way, len(v.Tree.Nodes)), on: map[int]*panel{},
	}
	d.gather()
	d.plan()
	d.place()
	for _, p := range d.panels {
		d.draw(p)
	}
	d.unlinked()
	return d.finish()
}

// gather finds what leads away from each node, in the order of the design.
func (d *diagram) gather() {
	t := d.v.Tree
	for i := range t.Segments {
		if s := &t.Segments[i]; s.Far >= 0 && t.Nodes[s.Far].Up == i {
			d.ways[s.Near] = append(d.ways[s.Near], way{run: &d.v.Runs[i], node: s.Far})
		}
	}
	for i := range t.Takers {
		if k := &t.Takers[i]; strings.HasPrefix(k.Subject, "load.") {
			d.ways[k.Node] = append(d.ways[k.Node], way{node: -1, taker: k})
		}
	}
}

// boards lists the nodes behind a node from which something leads on.
func (d *diagram) boards(node int) []int {
	var list []int
	for _, w := range d.ways[node] {
		if w.node >= 0 && len(d.ways[w.node]) > 0 {
			list = append(list, w.node)
		}
	}
	return list
}

// plan cuts the network into panels: from the supply on, the boards behind a board are
// opened together while they find room on one sheet; what does not is a panel of its own.
func (d *diagram) plan() {
	var queue []*panel
	for n := range d.v.Tree.Nodes {
		if d.v.Tree.Nodes[n].Up >= 0 {
			continue
		}
		p := &panel{root: n, supply: -1, topLevel: true}
		if d.v.Tree.Nodes[n].Supply != nil {
			p.supply = n
			if w := d.ways[n]; len(w) == 1 && w[0].node >= 0 && len(d.ways[w[0].node]) > 0 {
				p.root, p.fed = w[0].node, w[0].run
			}
		}
		queue = append(queue, p)
	}
	for len(queue) > 0 {
		p := queue[0]
		queue = queue[1:]
		queue = append(queue, d.size(p)...)
	}
}

// headW is the room left of a panel's first bar.
func (p *panel) headW() float64 {
	switch {
	case p.fed != nil:
		return supplyW + p.runW
	case p.supply >= 0:
		return supplyW
	case p.topLevel:
		return 3
	}
	return enterW
}

// size decides the form of a panel, and gives the panels of what it leaves out.
func (d *diagram) size(p *panel) (next []*panel) {
	p.ways, p.open = d.ways[p.root], map[int]bool{p.root: true}
	rows := len(p.ways)
	if p.root != p.supply {
		rows++
	}
	p.runW = runMin
	deep := int((areaW - p.headW() - leafW) / runMin)
	levels := map[int]int{p.root: 1}
	p.levels = 1
	var closed []int
	if rows > maxRows {
		p.comb = true
		closed = d.boards(p.root)
	} else {
		for frontier := []int{p.root}; len(frontier) > 0; frontier = frontier[1:] {
			at := frontier[0]
			subs := d.boards(at)
			more := 0
			for _, s := range subs {
				more += len(d.ways[s])
			}
			if len(subs) == 0 {
				continue
			}
			if rows+more > maxRows || levels[at] >= deep {
				closed = append(closed, subs...)
				continue
			}
			rows += more
			for _, s := range subs {
				p.open[s], levels[s] = true, levels[at]+1
				p.opened = append(p.opened, s)
				p.levels = max(p.levels, levels[s])
			}
			frontier = append(frontier, subs...)
		}
		p.comb = p.supply < 0 && p.levels == 1 && len(p.ways) > 0
	}
	panels := []*panel{p}
	if p.comb {
		panels = p.combs()
	} else {
		rest := areaW - p.headW() - leafW
		if p.fed != nil {
			rest = (areaW - supplyW - leafW) * float64(p.levels) / float64(p.levels+1)
		}
		p.runW = min(runMax, rest/float64(p.levels))
		p.rows = rows
		if p.pitch = rowH; p.topLevel {
			p.pitch = min(rowMax, areaH/float64(max(rows, 1)))
		}
		p.w, p.h = p.headW()+float64(p.levels)*p.runW+leafW, float64(rows)*p.pitch
		if p.supply >= 0 {
			p.h = max(p.h, supplyH)
		}
	}
	for _, q := range panels {
		d.panels = append(d.panels, q)
		d.on[q.root] = cmp.Or(d.on[q.root], q)
	}
	for _, n := range closed {
		run := &d.v.Runs[d.v.Tree.Nodes[n].Up]
		next = append(next, &panel{root: n, supply: -1, from: d.holder(panels, n), fromRun: run})
	}
	return next
}

// holder is the panel on which the way to a node is drawn.
func (d *diagram) holder(panels []*panel, node int) *panel {
	for _, q := range panels {
		if !q.comb {
			return q
		}
		for _, w := range q.ways {
			if w.node == node {
				return q
			}
		}
	}
	return panels[0]
}

// top is the height of what stands above the columns of a comb.
func (p *panel) top() float64 {
	if p.supply >= 0 {
		return supplyH
	}
	return rowH + 4
}

// combs spreads the ways of a board over columns, and over several panels where they do
// not fit into one.
func (p *panel) combs() []*panel {
	const columns = int((areaW + gapW) / (runMin + leafW + gapW))
	down := int((areaH - p.top()) / rowH)
	n := len(p.ways)
	parts := max(1, (n+columns*down-1)/(columns*down))
	var list []*panel
	for k := range parts {
		q := *p
		q.ways = p.ways[n*k/parts : n*(k+1)/parts]
		if parts > 1 {
			q.part, q.parts = k+1, parts
		}
		if k > 0 {
			q.supply, q.fed = -1, nil
			q.from = list[0]
		}
		q.columns = (len(q.ways) + down - 1) / down
		q.rows = (len(q.ways) + q.columns - 1) / q.columns
		if q.pitch = rowH; float64(q.rows) > 0.6*float64(down) { // nothing else finds room beside it
			q.pitch = min(rowMax, (areaH-q.top())/float64(q.rows))
			q.runW = min(runMax, (areaW+gapW)/float64(q.columns)-leafW-gapW)
		}
		q.w = float64(q.columns)*(q.runW+leafW+gapW) - gapW
		q.h = q.top() + float64(q.rows)*q.pitch
		list = append(list, &q)
	}
	return list
}

// place puts the panels on sheets, in order: below each other, then beside each other,
// then on the next sheet.
func (d *diagram) place() {
	const apart = 8
	x, y, wide := 0.0, 0.0, 0.0 // of the column that is filled
	for i, p := range d.panels {
		switch {
		case i > 0 && y+p.h <= areaH && x+p.w <= areaW:
		case i > 0 && x+wide+apart+p.w <= areaW:
			x, y, wide = x+wide+apart, 0, 0
		default:
			d.sheet("")
			x, y, wide = 0, 0, 0
		}
		p.page, p.number = d.page[len(d.page)-1], len(d.page)
		p.page.what = strings.TrimPrefix(p.page.what+", "+d.called(p), ", ")
		p.x, p.y = x, y
		y += p.h + apart
		wide = max(wide, p.w)
	}
	if len(d.panels) == 0 {
		p := d.sheet("nothing: the design has no supply, board or source")
		p.Say(scene.Text{At: scene.Point{X: left + 20, Y: margin + 20}, Size: nameMM, Text: "The design has no supply, board or source that could be drawn."}, areaW)
	}
}

// called names a panel.
func (d *diagram) called(p *panel) string {
	s := subject(d.v.Tree.Nodes[p.root].Subject)
	if !p.comb {
		for _, n := range p.opened {
			s += ", " + subject(d.v.Tree.Nodes[n].Subject)
		}
	}
	if p.parts > 1 {
		s += fmt.Sprintf(" (part %d of %d)", p.part, p.parts)
	}
	return s
}

// draw draws a panel on its sheet.
func (d *diagram) draw(p *panel) {
	x, y := left+pad+p.x, margin+pad+p.y
	if p.comb {
		d.columns(p, x, y)
		return
	}
	row, bar := y+p.pitch/2, x+p.headW()
	switch {
	case p.supply >= 0:
		d.supplyAt(p, x, row)
		if p.fed != nil {
			d.run(p.page, p.fed, x+supplyW, row, p.runW)
		}
	case !p.topLevel:
		d.enter(p, x, row)
		p.page.Path(scene.Wire, x+symbols[reference].wide, row, bar, row)
		words := x + symbols[reference].wide + 1.5
		p.page.Write(scene.Text{At: scene.Point{X: words, Y: row - 1.3}, Size: detailMM, Bold: true, Text: name(p.fromRun.Run.Name)}, bar-words-3)
		p.page.Write(scene.Text{At: scene.Point{X: words, Y: row + 3.6}, Size: detailMM, Colour: scene.Dim, Text: "from " + subject(d.v.Tree.Nodes[p.fromRun.Segment.Near].Subject)}, bar-words-3)
	}
	d.tree(p, p.root, bar, 0)
}

// tree draws a node with what lies behind it, its bar at x; it gives the row after.
func (d *diagram) tree(p *panel, node int, x float64, row int) int {
	y := func(row int) float64 { return margin + pad + p.y + p.pitch*(float64(row)+0.5) }
	first := row
	if node != p.supply {
		d.words(p.page, node, x+3, y(row), leafW-4, "")
		row++
	}
	last := first
	for _, w := range d.ways[node] {
		last = row
		at := x
		if w.run != nil {
			d.run(p.page, w.run, x, y(row), p.runW)
			at += p.runW
		}
		if w.node >= 0 && p.open[w.node] {
			row = d.tree(p, w.node, at, row)
		} else {
			d.leaf(p, w, at, y(row))
			row++
		}
	}
	if node != p.supply || len(d.ways[node]) > 1 {
		p.page.used[busbar] = true
		p.page.Path(scene.Bar, x, y(first)-4.5, x, y(last)+4.5)
	}
	return row
}

// columns draws a board whose ways stand in columns below one bar.
func (d *diagram) columns(p *panel, x, y float64) {
	down := x + symbols[reference].wide + 2 // where the run comes down to the bar
	row, bar := y+rowH/2, y+p.top()-2
	switch {
	case p.supply >= 0:
		d.supplyAt(p, x, row)
		down = x + supplyW + 3
		if p.fed != nil {
			d.run(p.page, p.fed, x+supplyW, row, runMin)
			down = x + supplyW + runMin
		} else {
			p.page.Path(scene.Wire, x+supplyW, row, down, row)
		}
	case p.topLevel:
		down = x + 1
	default:
		d.enter(p, x, row)
		p.page.Path(scene.Wire, x+symbols[reference].wide, row, down, row)
	}
	if p.fed != nil || p.supply < 0 {
		from := ""
		if p.part > 1 {
			from = "continued"
		}
		d.words(p.page, p.root, down+2, row, p.w-(down+2-x), from)
	}
	if p.supply >= 0 || !p.topLevel {
		p.page.Path(scene.Wire, down, row, down, bar)
	}
	p.page.used[busbar] = true
	pitch := p.runW + leafW + gapW
	p.page.Path(scene.Bar, x+1-scene.Styles[scene.Bar].WidthMM/2, bar, max(down, x+1+float64(p.columns-1)*pitch), bar)
	for c := range p.columns {
		cx := x + 1 + float64(c)*pitch
		ways := p.ways[c*p.rows : min(len(p.ways), (c+1)*p.rows)]
		end := bar
		for k, w := range ways {
			end = y + p.top() + p.pitch*(float64(k)+0.5)
			at := cx
			if w.run != nil {
				d.run(p.page, w.run, cx, end, p.runW-1)
				at += p.runW - 1
			}
			d.leaf(p, w, at, end)
		}
		p.page.Path(scene.Bar, cx, bar, cx, end+4.5)
	}
}

// onSheet says on which sheet a panel stands, as seen from another.
func onSheet(p, from *panel) string {
	if p.number == from.number {
		return "this sheet"
	}
	return fmt.Sprintf("sheet %d", p.number)
}

// enter draws where a panel comes from: the sheet, the board and the run.
func (d *diagram) enter(p *panel, x, y float64) {
	p.page.symbol(reference, x, y, 1)
	p.page.Say(scene.Text{At: scene.Point{X: x + 7.2, Y: y + 0.8}, Size: smallMM, Bold: true, Anchor: scene.Middle, Text: onSheet(p.from, p), Inside: true}, 12)
}

// supplyAt draws the point of supply in the room left of x + supplyW, its wire at y.
func (d *diagram) supplyAt(p *panel, x, y float64) {
	n := &d.v.Tree.Nodes[p.supply]
	right := x + supplyW - 7
	p.page.Path(scene.Wire, right, y, x+supplyW, y)
	if e := n.Supply.Earthing; e.Known() && e.Value != "it" { // the neutral, on the low-voltage side
		p.page.symbol(earth, x+supplyW-3.5, y, 1)
	}
	if n.Supply.Transformer != nil {
		w := symbols[transformer].wide
		p.page.symbol(transformer, right-w, y, 1)
		right -= w
		p.page.Path(scene.Wire, right-3, y, right, y)
		right -= 3
	}
	p.page.symbol(grid, right-symbols[grid].wide, y, 1)
	heading, lines := d.supply(p.supply)
	ty := y + 9.5
	d.named(p.page, n.Subject, heading, x, ty, supplyW-2)
	for _, l := range lines {
		ty += 3.2
		p.page.Say(scene.Text{At: scene.Point{X: x, Y: ty}, Size: detailMM, Text: l}, supplyW-1)
	}
}

// run draws a run from x on, its wire at y: devices at the ends, name, length and marks
// above, cable and devices in words below.
func (d *diagram) run(p *page, a *assess.Run, x, y, w float64) {
	from, to := x, x+w
	var near, far []string
	atFar := func(kind symbol) {
		if to-from > 30 { // else the words alone say it
			to -= symbols[kind].wide + 1
			p.symbol(kind, to, y, 1)
			p.Path(scene.Wire, to+symbols[kind].wide, y, to+symbols[kind].wide+1, y)
		}
	}
	sw, what := switchAt(d.v.Tree.Nodes[a.Segment.Far])
	switch {
	case sw == nil:
	case sw.Kind.Value == "switch-disconnector":
		atFar(switchDisconnector)
	case sw.Kind.Value == "breaker":
		atFar(breaker)
	default: // told beside the node
		sw = nil
	}
	for k := range a.Run.Devices {
		dev := &a.Run.Devices[k]
		kind := breaker
		switch {
		case dev.Kind.Value == "fuse":
			kind = fuse
		case dev.RCD.Known() && dev.RCD.Value != "none":
			kind = residual
		}
		if d.v.DeviceAt(a, dev) == d.v.Tree.Nodes[a.Segment.Far].Subject {
			atFar(kind)
			far = append(far, device(dev))
			continue
		}
		if to-from > 30 {
			p.Path(scene.Wire, from, y, from+1.5, y)
			from += 1.5 + p.symbol(kind, from+1.5, y, 1)
		}
		near = append(near, device(dev))
	}
	if sw != nil {
		far = append(far, isolator(sw, what))
	}
	p.Path(scene.Wire, from, y, to, y)
	length := quantity.Metre.Maybe(a.LengthM)
	if !a.LengthM.Known {
		length = "length unknown"
	}
	right := to - 1.5
	right -= p.Say(scene.Text{At: scene.Point{X: right, Y: y - 1.3}, Size: detailMM, Anchor: scene.End, Text: length}, 22)
	if b := d.badge(p, a.Run.Subject(), right-1.5, y-2.6); b > 0 {
		right -= b + 1.5
	}
	p.Write(scene.Text{At: scene.Point{X: max(from+1.2, x+2), Y: y - 1.3}, Size: nameMM, Bold: true, Text: name(a.Run.Name)}, right-from-3.5)
	p.Say(scene.Text{At: scene.Point{X: x + 2, Y: y + 3.6}, Size: detailMM, Text: cable(a)}, w-4)
	taken := p.Say(scene.Text{At: scene.Point{X: x + w - 2, Y: y + 6.6}, Size: detailMM, Colour: scene.Dim, Anchor: scene.End, Text: strings.Join(far, "; ")}, w/2-3)
	words := strings.Join(near, "; ")
	if len(a.Run.Devices) == 0 {
		words = "no device stated"
	}
	p.Say(scene.Text{At: scene.Point{X: x + 2, Y: y + 6.6}, Size: detailMM, Colour: scene.Dim, Text: words}, w-5-taken)
}

// switchAt is the main switch of a board or the isolator of a source, and what it is.
func switchAt(n network.Node) (*design.Switch, string) {
	switch {
	case n.Board != nil:
		return n.Board.MainSwitch, "main switch"
	case n.Source != nil:
		return n.Source.Isolator, "isolator"
	}
	return nil, ""
}

// leaf draws what stands at the end of a way: a source, a load, a board from which
// nothing leads on, or the sheet on which the board is drawn.
func (d *diagram) leaf(here *panel, w way, x, y float64) {
	p := here.page
	if w.taker != nil {
		p.symbol(load, x, y, 1)
		d.named(p, w.taker.Subject, "load "+subject(w.taker.Subject), x+10, y+0.3, leafW-11)
		words := "demand unknown"
		if quantity.Finite(w.taker.A) {
			words = "demand " + quantity.Ampere.Print(w.taker.A)
		}
		p.Say(scene.Text{At: scene.Point{X: x + 10, Y: y + 3.6}, Size: detailMM, Text: words}, leafW-11)
		return
	}
	at := x
	switch n := &d.v.Tree.Nodes[w.node]; {
	case n.Source != nil && len(d.ways[w.node]) == 0:
		kind := inverter
		switch n.Source.SourceKind.Value {
		case "battery":
			kind = battery
		case "generator":
			kind = generator
		}
		p.symbol(kind, x, y, 1)
		at += symbols[battery].wide + 1
	case len(d.ways[w.node]) == 0:
		p.symbol(busbar, x-1, y, 1)
		at += 3
	default:
		p.symbol(reference, x, y, 1)
		p.Say(scene.Text{At: scene.Point{X: x + 7.2, Y: y + 0.8}, Size: smallMM, Bold: true, Anchor: scene.Middle, Text: onSheet(d.on[w.node], here), Inside: true}, 12)
		at += symbols[reference].wide + 1.5
		if behind := w.run.Segment; behind.Sources > 0 {
			words := many(behind.Sources, "source")
			if behind.DesignCurrentA().Known {
				words += ", " + quantity.Ampere.Print(behind.DesignCurrentA().Value)
			}
			p.Say(scene.Text{At: scene.Point{X: at, Y: y + 4.6}, Size: detailMM, Colour: scene.Dim, Text: words}, leafW-(at-x)-1)
		}
		d.named(p, n.Subject, subject(n.Subject), at, y-2.3, leafW-(at-x)-1)
		_, lines := d.node(w.node)
		p.Say(scene.Text{At: scene.Point{X: at, Y: y + 1.2}, Size: detailMM, Text: lines[1]}, leafW-(at-x)-1)
		return
	}
	d.words(p, w.node, at, y, leafW-(at-x)-1, "")
}

// words writes what is known of a node, right of x in three lines about y.
func (d *diagram) words(p *page, node int, x, y, w float64, also string) {
	heading, lines := d.node(node)
	if also != "" {
		heading += ", " + also
	}
	d.named(p, d.v.Tree.Nodes[node].Subject, heading, x, y-2.3, w)
	for k, l := range lines {
		p.Say(scene.Text{At: scene.Point{X: x, Y: y + 1.2 + 3.4*float64(k)}, Size: detailMM, Text: l}, w)
	}
}

// unlinked tells the runs that are not drawn.
func (d *diagram) unlinked() {
	var list []string
	t := d.v.Tree
	for i := range t.Segments {
		if s := &t.Segments[i]; s.State == network.Loose || s.Far >= 0 && t.Nodes[s.Far].Up != i {
			list = append(list, name(s.Run.Name))
		}
	}
	if len(list) == 0 {
		return
	}
	e := entry{full: "Not drawn, because they close a loop or an end names nothing: " + strings.Join(list, ", ")}
	p := d.page[0]
	p.entries = append(p.entries, e.set(findingW-6))
}
