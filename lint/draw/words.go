package draw

import (
	"fmt"
	"strings"
	"unicode"

	"trefoil/lint/assess"
	"trefoil/lint/design"
	"trefoil/lint/network"
	"trefoil/lint/report"
	"trefoil/ratings/quantity"
)

// name makes a name of the design safe to print: one that runs from right to left is set
// apart, so that it does not turn the words beside it.
func name(s string) string {
	s = report.Clean(s)
	if strings.ContainsFunc(s, func(r rune) bool {
		return unicode.In(r, unicode.Hebrew, unicode.Arabic, unicode.Syriac, unicode.Thaana, unicode.Nko)
	}) {
		return "\u2068" + s + "\u2069"
	}
	return s
}

// subject is the name in "run.inv-1".
func subject(s string) string {
	_, n, ok := strings.Cut(s, ".")
	if !ok {
		return name(s)
	}
	return name(n)
}

// pretty sets units as a drawing has them.
func pretty(s string) string {
	return strings.NewReplacer("mm2", "mm²", "degC", "°C").Replace(s)
}

func size(s quantity.Size) string { return pretty(s.String()) }

func many(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}

var metals = map[string]string{"copper": "Cu", "aluminium": "Al"}

// cable says what a run is made of: "2 legs of 300 mm² Cu XLPE-90, single-core, E 150 mm²".
func cable(a *assess.Run) string {
	if a.Run.Size.Zero() {
		return "size unknown"
	}
	s := size(a.Run.Size)
	for k := range a.Sections {
		if other := a.Size(a.Sections[k].Section); other != a.Run.Size {
			s += " and " + size(other)
			break
		}
	}
	if a.Legs > 1 {
		s = fmt.Sprintf("%d legs of %s", a.Legs, s)
	}
	if c := a.Cable; c != nil {
		s += " " + metals[c.Conductor.Value] + " " + strings.ToUpper(c.Insulation.Value)
		if c.Build.Value == "single-core" {
			s += ", single-core"
		} else if c.Cores.Known() {
			s += ", " + report.Clean(c.Cores.Value)
		}
	}
	if n := a.Run.NeutralMM2; n.Known() && n.Value > 0 {
		s += ", N " + size(quantity.MM2(n.Value))
	}
	if e := a.Run.EarthMM2; e.Known() && e.Value > 0 {
		s += ", E " + size(quantity.MM2(e.Value))
	}
	return s
}

// device says what a device is: "160 A mccb, 36 kA".
func device(d *design.Device) string {
	s := "rating unknown"
	if d.RatedA.Known() {
		s = quantity.Ampere.Print(d.RatedA.Value)
	}
	s += " " + d.Kind.Value
	if d.Kind.Value == "fuse" && d.FuseType.Known() {
		s += " " + map[string]string{"gg": "gG", "bs3036": "BS 3036"}[d.FuseType.Value]
	}
	if d.Trip.Known() {
		s += " " + strings.ToUpper(d.Trip.Value)
	}
	if d.BreakingKA.Known() {
		s += ", " + quantity.KiloAmp.Print(d.BreakingKA.Value)
	}
	if d.RCD.Known() && d.RCD.Value != "none" {
		s += ", RCD " + strings.ToUpper(d.RCD.Value)
		if d.RCDmA.Known() {
			s += " " + quantity.MilliAmp.Print(d.RCDmA.Value)
		}
	}
	return s
}

// isolator says what a switch is.
func isolator(s *design.Switch, what string) string {
	switch {
	case s.Kind.Value == "none":
		return "no " + what
	case s.Kind.Value == "built-in":
		return what + " built in"
	}
	w := strings.TrimSpace(s.Kind.Value)
	if w == "" {
		w = what
	}
	if s.RatedA.Known() {
		return quantity.Ampere.Print(s.RatedA.Value) + " " + w
	}
	return w
}

// kilo prints a current in kA, a question mark where it is not known.
func kilo(m quantity.Maybe) string {
	if !m.Known {
		return "?"
	}
	return quantity.KiloAmp.Print(m.Value / 1000)
}

// level says the prospective currents at a node, greatest and least.
func level(l network.Level) string {
	if !l.MaxA.Known && !l.MinA.Known {
		return "Ik unknown"
	}
	if !l.MinA.Known {
		return "Ik " + strings.TrimSuffix(kilo(l.MaxA), " kA") + " / ? kA"
	}
	return "Ik " + strings.TrimSuffix(kilo(l.MaxA), " kA") + " / " + kilo(l.MinA)
}

// rise says how far the voltage rises from the point of supply to a node.
func (d *draft) rise(node int) string {
	v := d.v
	n := &v.Tree.Nodes[node]
	if n.Supply != nil && n.Up < 0 {
		return ""
	}
	if n.Source != nil {
		if total, _, known := v.Verdict().Source(node); known {
			return "rise " + quantity.Percent.Print(total.Percent)
		}
		return "rise unknown"
	}
	if n.Up < 0 {
		return "rise unknown"
	}
	return "rise " + quantity.Percent.Maybe(v.Verdict().Of(n.Up).PathPercent)
}

// node is what is written beside a node: its name, its ratings, its rise and fault level.
func (d *draft) node(n int) (heading string, lines []string) {
	v := d.v
	at := &v.Tree.Nodes[n]
	var facts []string
	add := func(known bool, text string) {
		if known {
			facts = append(facts, pretty(text))
		}
	}
	heading = subject(at.Subject)
	switch {
	case at.Source != nil:
		s := at.Source
		add(s.RatedKVA.Known(), quantity.KVA.Print(s.RatedKVA.Value))
		add(s.MaxCurrentA.Known(), quantity.Ampere.Print(s.MaxCurrentA.Value))
		if s.Phases.Value == 1 {
			add(true, strings.TrimSpace("1-phase "+s.Phase.Value))
		}
		add(s.Model.Known(), report.Clean(s.Model.Value))
		add(s.Isolator != nil && (s.Isolator.Kind.Value == "none" || s.Isolator.Kind.Value == "built-in"), "isolator")
		if k := len(facts) - 1; k >= 0 && facts[k] == "isolator" {
			facts[k] = isolator(s.Isolator, "isolator")
		}
	case at.Board != nil:
		b := at.Board
		if add(b.RatedA.Known(), quantity.Ampere.Print(b.RatedA.Value)); !b.RatedA.Known() {
			add(true, "rating not stated")
		}
		add(b.RatedShortTimeKA.Known(), "Icw "+quantity.KiloAmp.Print(b.RatedShortTimeKA.Value))
		add(b.RatedConditionalKA.Known(), "Icc "+quantity.KiloAmp.Print(b.RatedConditionalKA.Value))
		add(b.Diversity.Origin == design.Stated, "RDF "+quantity.Ratio.Print(b.Diversity.Value))
		add(b.DemandA.Known() && b.DemandA.Value > 0, "demand "+quantity.Ampere.Print(b.DemandA.Value))
		for _, p := range b.Portions {
			add(p.RatedA.Known(), "portion "+name(p.Name)+" "+quantity.Ampere.Print(p.RatedA.Value))
		}
		if m := b.MainSwitch; m != nil && (m.Kind.Value == "none" || m.Kind.Value == "built-in") {
			add(true, isolator(m, "main switch"))
		}
	}
	return heading, []string{strings.Join(facts, ", "), strings.TrimPrefix(d.rise(n)+", "+level(v.Level(n)), ", ")}
}

// supply is what is written beside the point of supply.
func (d *draft) supply(n int) (heading string, lines []string) {
	v := d.v
	s := v.Tree.Nodes[n].Supply
	heading = "supply " + subject(s.Subject())
	add := func(known bool, text string) {
		if known {
			lines = append(lines, pretty(text))
		}
	}
	if site := v.Design.Site(); site != nil {
		add(site.VoltageV.Known(), quantity.Volt.Print(site.VoltageV.Value)+", "+quantity.Ratio.Print(site.FrequencyHz.Value)+" Hz")
	}
	add(s.MaxV.Known(), "at most "+quantity.Volt.Print(s.MaxV.Value))
	add(true, level(v.Level(n)))
	add(s.Earthing.Known(), "earthing "+strings.ToUpper(s.Earthing.Value))
	if t := s.Transformer; t != nil {
		add(t.RatedKVA.Known(), "transformer "+quantity.KVA.Print(t.RatedKVA.Value))
		add(t.ImpedancePercent.Known(), "uk "+quantity.Percent.Print(t.ImpedancePercent.Value))
	}
	return heading, lines
}
