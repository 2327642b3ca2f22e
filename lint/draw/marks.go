package draw

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"trefoil/lint/finding"
	"trefoil/lint/report"
	"trefoil/lint/scene"
)

// marks are the findings that the sheets mark. The number of a finding is its place in
// the whole list, from 1, so that other documents of the same list can use it too.
type marks struct {
	list    []finding.Finding
	subject map[string][]int // places in the list
	placed  map[int]bool
}

func newMarks(list []finding.Finding, opt Options) marks {
	m := marks{list: list, subject: map[string][]int{}, placed: map[int]bool{}}
	for i := range list {
		if list[i].Severity > finding.Note || opt.Notes {
			m.subject[list[i].Subject] = append(m.subject[list[i].Subject], i)
		}
	}
	return m
}

// word of a finding as a mark has it.
func word(f *finding.Finding) string {
	if f.Waived {
		return "waived"
	}
	return f.Severity.String()
}

// look is how marks of a finding are drawn.
func look(f *finding.Finding) (colour scene.Role, box, fill scene.Class) {
	switch {
	case f.Waived, f.Severity == finding.Note:
		return scene.Info, scene.IsInfo, scene.OfInfo
	case f.Severity == finding.Error:
		return scene.Error, scene.IsError, scene.OfError
	}
	return scene.Warn, scene.IsWarn, scene.OfWarn
}

const badgeH = 3.6

// tag is what the mark of a subject says, with the worst of its findings; nil where
// there is none.
func (d *draft) tag(subject string) (worst *finding.Finding, text string, wide float64) {
	of := slices.Clone(d.marks.subject[subject])
	if len(of) == 0 {
		return nil, "", 0
	}
	weight := func(i int) int {
		f := &d.marks.list[i]
		if f.Waived {
			return -1
		}
		return int(f.Severity)
	}
	slices.SortStableFunc(of, func(a, b int) int { return weight(b) - weight(a) })
	worst = &d.marks.list[of[0]]
	text = word(worst)
	for k, i := range of {
		switch {
		case k < 3:
			text += " " + strconv.Itoa(i+1)
		case k == 3:
			text += fmt.Sprintf(" +%d", len(of)-3)
		}
	}
	return worst, text, 4.4 + scene.Measure(text, smallMM, true) + 1
}

// badge marks what is found about a subject: a sign, the word of the worst and the
// numbers. Its right end stands at x, its middle at y; it gives its width, 0 for none.
func (d *draft) badge(p *page, subject string, x, y float64) float64 {
	worst, text, w := d.tag(subject)
	if worst == nil {
		return 0
	}
	for _, i := range d.marks.subject[subject] {
		d.marks.placed[i] = true
		p.marked = append(p.marked, i)
	}
	colour, box, _ := look(worst)
	at := scene.Box{X: x - w, Y: y - badgeH/2, W: w, H: badgeH}
	p.Add(scene.Rect{Class: box, At: at, Round: 0.8})
	p.sign(worst, at.X+2.4, y)
	p.Write(scene.Text{At: scene.Point{X: at.X + 4.4, Y: y + 0.8}, Size: smallMM, Bold: true, Colour: colour, Text: text, Inside: true}, w)
	p.Keep(at)
	return w
}

// named writes the name of a subject, its baseline at y, and marks what is found about it
// beside the name; both together are no wider than w.
func (d *draft) named(p *page, subject, text string, x, y, w float64) {
	_, _, tag := d.tag(subject)
	if tag > 0 {
		w -= tag + 1.5
	}
	taken := p.Write(scene.Text{At: scene.Point{X: x, Y: y}, Size: nameMM, Bold: true, Text: text}, w)
	if tag > 0 {
		d.badge(p, subject, x+taken+1.5+tag, y-1)
	}
}

// sign draws the sign of a severity: a triangle for an error, a diamond for a warning, a
// disc for a note, a ring for what is waived.
func (p *page) sign(f *finding.Finding, x, y float64) {
	_, ring, fill := look(f)
	switch {
	case f.Waived:
		p.Add(scene.Circle{Class: ring, Centre: scene.Point{X: x, Y: y}, R: 0.9})
	case f.Severity == finding.Error:
		p.Shape(fill, x, y-1.2, x+1.2, y+0.9, x-1.2, y+0.9)
	case f.Severity == finding.Warning:
		p.Shape(fill, x, y-1.2, x+1.1, y, x, y+1.2, x-1.1, y)
	default:
		p.Add(scene.Circle{Class: fill, Centre: scene.Point{X: x, Y: y}, R: 0.9})
	}
}

// entry is one finding in a list, in lines of text; without a finding it is a remark.
type entry struct {
	of    *finding.Finding
	at    int // its place in the list
	head  string
	full  string
	tail  string // what stays where the text is shortened
	lines []string
	cut   bool
}

const entryMM = smallMM * 1.32 // a line of a list

func (d *draft) entry(i int, wide float64) entry {
	f := &d.marks.list[i]
	e := entry{of: f, at: i, head: fmt.Sprintf("%d %s", i+1, word(f)), full: pretty(report.Clean(f.Message)), tail: "[" + f.Rule + "]"}
	return e.set(wide)
}

// headMM is the room for number and word.
const headMM = 20

// set breaks the entry into at most two lines.
func (e entry) set(wide float64) entry {
	if e.head != "" {
		wide -= headMM
	}
	e.lines = scene.Wrap(strings.TrimSpace(e.full+" "+e.tail), smallMM, false, wide)
	if e.cut = len(e.lines) > 2; e.cut {
		tail := " " + e.tail
		e.lines = []string{e.lines[0], scene.Cut(e.lines[1]+"…", smallMM, false, wide-scene.Measure(tail, smallMM, false)) + tail}
	}
	return e
}

// write sets entries into a column and gives those that it has no room for.
func (p *page) write(list []entry, x, y, wide, high float64) []entry {
	end := y + high
	for k, e := range list {
		if y+float64(len(e.lines))*entryMM > end {
			return list[k:]
		}
		at := x
		if e.of != nil {
			colour, _, _ := look(e.of)
			p.sign(e.of, x+1.3, y+1.3)
			p.Say(scene.Text{At: scene.Point{X: x + 3.4, Y: y + smallMM}, Size: smallMM, Bold: true, Colour: colour, Text: e.head}, headMM-4)
			at += headMM
		}
		for _, l := range e.lines {
			t := scene.Text{At: scene.Point{X: at, Y: y + smallMM}, Size: smallMM, Colour: scene.Ink, Text: l}
			if e.cut {
				t.Full = e.full
			}
			p.Add(t)
			y += entryMM
		}
	}
	return nil
}
