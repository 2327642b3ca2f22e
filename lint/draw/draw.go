// Package draw lays out the drawings of an assessed design: its single-line diagram and
// the cross-sections of its routes, on sheets with title block, legend and the findings
// that are marked on them.
//
// It stands behind the assessment and the findings, among the writers: every figure comes
// from the assessment and is only printed. The sheets are scenes, which go to SVG here and
// to PDF elsewhere.
package draw

import (
	"fmt"
	"strings"

	"trefoil/lint/assess"
	"trefoil/lint/scene"
	"trefoil/lint/schedule"
)

// Options of drawings.
type Options struct {
	Date     string // as the title block prints it
	Revision string
	Tool     string // name and version of the program
	Notes    bool   // mark notes too, not errors and warnings alone
}

// Sheet is one sheet of a drawing.
type Sheet struct {
	Name              string // for file names: "diagram-1"
	SVG               []byte
	WidthMM, HeightMM float64
	Scene             *scene.Scene
}

// A3, the long side across, with the margins of ISO 5457: 20 mm for binding, else 10 mm.
const (
	sheetW, sheetH = 420, 297
	left, margin   = 20, 10
	fieldW         = sheetW - left - margin
	stripH         = 52 // legend, findings and title block at the foot
	fieldH         = sheetH - 2*margin - stripH
	pad            = 3 // between the frame and what is drawn
	areaW, areaH   = fieldW - 2*pad, fieldH - 2*pad
)

// Sizes of text in mm.
const (
	nameMM   = 2.8
	detailMM = 2.3
	smallMM  = 2.1
)

// draft is what the sheets of one drawing share.
type draft struct {
	v     *assess.Review
	opt   Options
	kind  string // "diagram", "sections"
	title string
	marks marks
	page  []*page
	rest  []entry // what the lists on the sheets have no room for
}

// page is a sheet in the making.
type page struct {
	*scene.Scene
	what    string // what is on it, for the title block
	marked  []int  // findings marked on it
	entries []entry
	used    map[symbol]bool
	words   bool // nothing is drawn on it
}

func (d *draft) sheet(what string) *page {
	n := len(d.page) + 1
	p := &page{Scene: &scene.Scene{Name: fmt.Sprintf("%s-%d", d.kind, n), WidthMM: sheetW, HighMM: sheetH}, what: what, used: map[symbol]bool{}}
	d.page = append(d.page, p)
	return p
}

// finish draws the foot of every sheet and turns the sheets into documents.
func (d *draft) finish() []Sheet {
	for _, p := range d.page {
		d.list(p)
	}
	d.remainder()
	var sheets []Sheet
	for i, p := range d.page {
		d.frame(p, i+1)
		p.Title = fmt.Sprintf("%s, %s, sheet %d of %d", d.title, d.siteName(), i+1, len(d.page))
		p.Desc = strings.TrimSpace(p.what + ". " + schedule.Standing(d.marks.list))
		sheets = append(sheets, Sheet{Name: p.Name, SVG: p.SVG(), WidthMM: sheetW, HeightMM: sheetH, Scene: p.Scene})
	}
	return sheets
}

func (d *draft) siteName() string {
	if s := d.v.Design.Site(); s != nil {
		return name(s.Name)
	}
	return "a design without site"
}
