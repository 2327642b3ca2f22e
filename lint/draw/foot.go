package draw

import (
	"cmp"
	"fmt"
	"slices"

	"trefoil/lint/finding"
	"trefoil/lint/report"
	"trefoil/lint/scene"
	"trefoil/lint/schedule"
)

// The parts of the foot, from the left.
const (
	legendW  = 104
	titleW   = 124
	findingW = fieldW - legendW - titleW
	footY    = sheetH - margin - stripH
)

// list chooses what stands in the list of findings of a sheet; what it has no room for
// goes to sheets of its own.
func (d *draft) list(p *page) {
	slices.Sort(p.marked)
	for _, i := range slices.Compact(p.marked) {
		p.entries = append(p.entries, d.entry(i, findingW-6))
	}
	if p == d.page[0] {
		for i := range d.marks.list {
			if f := &d.marks.list[i]; !d.marks.placed[i] && d.kind == "diagram" && (f.Severity > finding.Note || d.opt.Notes) {
				p.entries = append(p.entries, d.entry(i, findingW-6))
			}
		}
	}
	high := float64(stripH - 9)
	room := int(high / entryMM)
	n, lines := 0, 0
	for n < len(p.entries) && lines+len(p.entries[n].lines) <= room {
		lines += len(p.entries[n].lines)
		n++
	}
	if n == len(p.entries) {
		return
	}
	for n > 0 && lines > room-1 { // room for the line that tells where the rest is
		n--
		lines -= len(p.entries[n].lines)
	}
	rest := p.entries[n:]
	p.entries = append(p.entries[:n:n], entry{full: more(len(rest))}.set(findingW-6))
	d.rest = append(d.rest, rest...)
}

func more(n int) string { return fmt.Sprintf("%d more on the sheets of findings at the end", n) }

// remainder draws sheets that list what the lists of the others had no room for.
func (d *draft) remainder() {
	const columns, gap = 3, 6
	wide := (float64(areaW) - (columns-1)*gap) / columns
	list := d.rest
	for i := range list {
		if list[i].of == nil {
			list[i] = list[i].set(wide)
		} else {
			list[i] = d.entry(list[i].at, wide)
		}
	}
	for len(list) > 0 {
		p := d.sheet("findings, continued")
		p.words = true
		p.Say(scene.Text{At: scene.Point{X: left + pad, Y: margin + pad + nameMM}, Size: nameMM, Bold: true, Text: "Findings, continued from the other sheets"}, areaW)
		for c := range columns {
			list = p.write(list, left+pad+float64(c)*(wide+gap), margin+pad+8, wide, areaH-8)
		}
	}
}

// frame draws border, legend, findings and title block.
func (d *draft) frame(p *page, n int) {
	p.Add(scene.Rect{Class: scene.Frame, At: scene.Box{X: left, Y: margin, W: fieldW, H: sheetH - 2*margin}})
	p.Path(scene.Frame, left, footY, left+fieldW, footY)
	x := float64(left)
	if !p.words {
		p.legend(x+3, footY+2, legendW-6, stripH-13)
	}
	for i, l := range scene.Wrap(d.reading(), smallMM, false, legendW-6) {
		p.Say(scene.Text{At: scene.Point{X: x + 3, Y: footY + stripH - 7.6 + float64(i)*entryMM}, Size: smallMM, Colour: scene.Dim, Text: l}, legendW-6)
	}
	x += legendW
	p.Path(scene.Cell, x, footY, x, footY+stripH)
	p.Say(scene.Text{At: scene.Point{X: x + 3, Y: footY + 2 + smallMM}, Size: smallMM, Bold: true, Colour: scene.Dim, Text: d.findingsHead(p)}, findingW-6)
	p.write(p.entries, x+3, footY+6.5, findingW-6, stripH-8)
	x += findingW
	p.Path(scene.Cell, x, footY, x, footY+stripH)
	d.titleBlock(p, x, footY, n)
}

func (d *draft) findingsHead(p *page) string {
	if len(p.entries) == 0 {
		if d.opt.Notes {
			return "Findings on this sheet: none"
		}
		return "Errors and warnings on this sheet: none"
	}
	if d.opt.Notes {
		return "Findings on this sheet"
	}
	return "Errors and warnings on this sheet; trefoil check has them whole, with notes"
}

// reading says how the figures are to be read.
func (d *draft) reading() string {
	if d.kind == "sections" {
		return "Cables are drawn in the order of the design, not as they will be pulled; the supports themselves are not to scale."
	}
	return "rise: from the point of supply, all sources at full output. Ik: greatest / least prospective short-circuit current; ?: not known."
}

// titleBlock draws the title block: x, y is its upper left corner.
func (d *draft) titleBlock(p *page, x, y float64, n int) {
	const wide = float64(titleW)
	cell := func(cx, cy, w, h float64, label, text string, bold bool, size float64) {
		p.Add(scene.Rect{Class: scene.Cell, At: scene.Box{X: x + cx, Y: y + cy, W: w, H: h}})
		if label != "" {
			p.Say(scene.Text{At: scene.Point{X: x + cx + 1.2, Y: y + cy + 2.4}, Size: 1.9, Colour: scene.Dim, Text: label}, w-2.4)
		}
		p.Say(scene.Text{At: scene.Point{X: x + cx + 1.2, Y: y + cy + h - 1.5}, Size: size, Bold: bold, Text: text}, w-2.4)
	}
	site := d.v.Design.Site()
	stage, set := "not known", "none that is known"
	if site != nil && site.Stage.Known() {
		stage = site.Stage.Value
	}
	if d.v.Set != nil {
		set = d.v.Info.Title
		if d.v.Info.SupersededBy != "" {
			set += "; superseded by " + d.v.Info.SupersededBy
		}
	}
	cell(0, 0, 84, 9.5, "design", d.siteName(), true, 3.4)
	cell(84, 0, 40, 9.5, "drawing", d.title, true, 2.9)
	cell(0, 9.5, 84, 7.5, "on this sheet", p.what, false, detailMM)
	cell(84, 9.5, 40, 7.5, "sheet", fmt.Sprintf("%d of %d", n, len(d.page)), true, detailMM)
	cell(0, 17, 84, 7.5, "rating set and edition", set, false, detailMM)
	cell(84, 17, 40, 7.5, "stage", stage, false, detailMM)
	cell(0, 24.5, 30, 7.5, "date", cmp.Or(report.Clean(d.opt.Date), "not given"), false, detailMM)
	cell(30, 24.5, 54, 7.5, "revision", cmp.Or(name(d.opt.Revision), "not given"), false, detailMM)
	cell(84, 24.5, 40, 7.5, "made with", report.Clean(d.opt.Tool), false, detailMM)
	cell(0, 32, wide/2, 7.5, "checked: name, date", "", false, detailMM)
	cell(wide/2, 32, wide/2, 7.5, "approved: name, date", "", false, detailMM)
	cy := y + 42.3
	if open := schedule.Standing(d.marks.list); open != "" {
		p.Say(scene.Text{At: scene.Point{X: x + 1.2, Y: cy}, Size: nameMM, Bold: true, Colour: scene.Error, Text: open + "."}, wide-2.4)
	} else {
		p.Say(scene.Text{At: scene.Point{X: x + 1.2, Y: cy}, Size: nameMM, Text: "No error stands open. What is not checked, no finding tells."}, wide-2.4)
	}
	for i, l := range scene.Wrap(report.Caution, smallMM, false, wide-2.4) {
		p.Say(scene.Text{At: scene.Point{X: x + 1.2, Y: cy + 3.6 + float64(i)*entryMM}, Size: smallMM, Colour: scene.Dim, Text: l}, wide-2.4)
	}
}
