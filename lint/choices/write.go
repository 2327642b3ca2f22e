package choices

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"trefoil/lint/design"
	"trefoil/lint/finding"
	"trefoil/lint/fix"
	"trefoil/lint/source"
	"trefoil/ratings/quantity"
)

// String is "2 x 50 mm2 of al-4c".
func (c *Choice) String() string { return c.SizeText() + " of " + c.Kind.Cable.Name }

// SizeText is "2 x 50 mm2".
func (c *Choice) SizeText() string {
	if c.Legs > 1 {
		return fmt.Sprintf("%d x %s", c.Legs, c.Size)
	}
	return c.Size.String()
}

// Fix writes a choice into the text of its run, or of the set that shares it: what differs
// from what is drawn, and a cable block where none declares the cable. The way in which
// routes are laid is written by FixRoute.
func (l *Lister) Fix(c *Choice) (finding.Fix, error) {
	a := &l.v.Runs[c.changes[0].Run]
	run, to := a.Run, c.To()
	f := finding.Fix{Name: "choice", Kind: finding.Design, Message: fmt.Sprintf("run %q: %s instead of %s of %s", run.Name, c, legsOf(a.Legs, a.Run.Size), a.Cable.Name)}
	if run.CopyOf != "" {
		if len(c.changes) != len(l.group(c.changes[0].Run)) {
			return f, run.Alone()
		}
		f.Message = fmt.Sprintf("the copies of run %q: %s instead of %s of %s", run.CopyOf, c, legsOf(a.Legs, a.Run.Size), a.Cable.Name)
	}
	b := fix.Open(run.Whole)
	if c.Size != run.Size {
		for _, x := range []struct {
			name string
			is   bool
			text string
		}{
			{"size_mm2", to.SizeMM2.Known(), fix.Number(to.SizeMM2.Value)},
			{"size_kcmil", to.SizeKcmil.Known(), fix.Number(to.SizeKcmil.Value)},
			{"size_awg", to.SizeAWG.Known(), fix.Quote(to.SizeAWG.Value)},
		} {
			if x.is {
				b.Set(x.name, x.text)
			} else {
				b.Remove(x.name)
			}
		}
	}
	if c.Legs != a.Legs {
		b.Set("parallel", fix.Number(float64(c.Legs)))
	}
	if c.Kind.Cable.Name != run.Cable.Name {
		b.Set("cable", fix.Reference("cable", c.Kind.Cable.Name))
	}
	for _, x := range []struct {
		name    string
		was, is design.Num
	}{{"earth_mm2", run.EarthMM2, to.EarthMM2}, {"neutral_mm2", run.NeutralMM2, to.NeutralMM2}} {
		if x.is.Known() && (!x.was.Known() || x.is.Value != x.was.Value) {
			b.Set(x.name, fix.Number(math.Round(x.is.Value*100)/100)) // of an area in AWG or kcmil two decimals are enough
		}
	}
	edits, err := b.Edits()
	if err != nil {
		return f, err
	}
	for i := range to.Ends {
		if to.Ends[i].Lug.Value == run.Ends[i].Lug.Value {
			continue
		}
		inner := fix.Open(run.Whole).Inner(run.Ends[i].At)
		inner.Set("lug", fix.Quote(to.Ends[i].Lug.Value))
		more, err := inner.Edits()
		if err != nil {
			return f, err
		}
		edits = append(edits, more...)
	}
	if !c.Kind.Declared {
		edits = append(edits, fix.Append(run.At.File, block(c.Kind.Cable))...)
		f.Message += ", with a cable block for it"
	}
	f.Edits = edits
	return f, nil
}

// FixRoute writes how a route is laid.
func FixRoute(r *design.Route, laid string) (finding.Fix, error) {
	f := finding.Fix{Name: "choice", Kind: finding.Design, Message: fmt.Sprintf("route %q: laid %s instead of %s", r.Name, laid, r.Laid.Value)}
	if err := r.Alone(); err != nil {
		return f, err
	}
	b := fix.Open(r.Whole)
	b.Set("laid", fix.Quote(laid))
	if to := Laid(r, laid); to.Lid.Value != r.Lid.Value {
		b.Set("lid", "false")
	}
	var err error
	f.Edits, err = b.Edits()
	return f, err
}

// FixLaid writes how the routes in air of a choice are laid, where that is chosen.
func (l *Lister) FixLaid(c *Choice) (list []finding.Fix, err error) {
	var runs []int
	for _, x := range c.changes {
		runs = append(runs, x.Run)
	}
	for _, x := range l.layings(runs, c.Laid) {
		if x.Route.Laid.Value == c.Laid {
			continue
		}
		f, err := FixRoute(x.Route, c.Laid)
		if err != nil {
			return nil, err
		}
		list = append(list, f)
	}
	return list, nil
}

// Written is a fix with what it is for.
type Written struct {
	Subject string
	At      source.Range
	finding.Fix
}

// Fixes writes a plan: one fix a run or set that changes, and one a route.
func (l *Lister) Fixes(p *Plan) (list []Written, err error) {
	done := map[string]bool{}
	declared := map[string]bool{}
	for i := range p.Runs {
		x := &p.Runs[i]
		if of := x.Run.Run.CopyOf; !x.Changed || of != "" && done[of] {
			continue
		} else if of != "" {
			done[of] = true
		}
		c := x.Is
		c.changes = nil
		for _, j := range l.group(x.Run.Index) {
			k := slices.IndexFunc(p.Runs, func(o Pick) bool { return o.Run.Index == j })
			if k < 0 {
				break // only a part of the set is chosen for, which Fix refuses
			}
			c.changes = append(c.changes, p.Runs[k].Is.changes...)
		}
		if len(c.changes) == 0 {
			c.changes = x.Is.changes
		}
		c.Kind.Declared = c.Kind.Declared || declared[c.Kind.Cable.Name]
		declared[c.Kind.Cable.Name] = true
		f, err := l.Fix(&c)
		if err != nil {
			return nil, err
		}
		list = append(list, Written{x.Run.Run.Subject(), x.Run.Run.SizeAt, f})
	}
	for _, r := range p.Routes {
		if r.Is == r.Was {
			continue
		}
		f, err := FixRoute(r.Route, r.Is)
		if err != nil {
			return nil, err
		}
		list = append(list, Written{r.Route.Subject(), r.Route.Laid.At, f})
	}
	return list, nil
}

// block writes a cable as a block.
func block(c *design.Cable) string {
	var b strings.Builder
	fmt.Fprintf(&b, "cable %s {\n", fix.Quote(c.Name))
	for _, x := range []struct {
		name string
		text design.Text
		skip string // what the language takes where nothing is written
	}{
		{"conductor ", c.Conductor, ""},
		{"strands   ", c.Strands, "stranded"},
		{"insulation", c.Insulation, ""},
		{"build     ", c.Build, ""},
		{"cores     ", c.Cores, ""},
		{"armour    ", c.Armour, "none"},
		{"formation ", c.Formation, "trefoil"},
	} {
		if x.text.Known() && x.text.Value != x.skip && (strings.TrimSpace(x.name) != "formation" || c.Build.Value == "single-core") {
			fmt.Fprintf(&b, "  %s = %s\n", x.name, fix.Quote(x.text.Value))
		}
	}
	b.WriteString("}\n")
	return b.String()
}

func legsOf(n int, size quantity.Size) string {
	if n > 1 {
		return fmt.Sprintf("%d x %s", n, size)
	}
	return size.String()
}
