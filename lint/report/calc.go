package report

import (
	"fmt"
	"io"
	"strings"

	"trefoil/lint/assess"
	"trefoil/lint/design"
	"trefoil/lint/network"
	"trefoil/ratings"
	"trefoil/ratings/quantity"
)

// WriteCalc writes the working of runs, step by step, for people.
func WriteCalc(w io.Writer, v *assess.Review, runs []int) error {
	var b strings.Builder
	site := v.Design.Site()
	if site != nil && v.Set != nil {
		fmt.Fprintf(&b, "%s by %s\nreference conditions: air %s, soil %s, %s, depth %s\n", Clean(site.Name), v.Info.Title,
			quantity.Celsius.Print(v.Info.AirC), quantity.Celsius.Print(v.Info.SoilC), quantity.SoilKMW.Print(v.Info.SoilKmW), quantity.Metre.Print(v.Info.DepthM))
	}
	if v.Set != nil && v.Info.SupersededBy != "" {
		fmt.Fprintf(&b, "superseded by %s, %s\n", v.Info.SupersededBy, v.Info.SupersededFrom)
	}
	warm := v.Warm()
	for _, i := range runs {
		b.WriteString("\n")
		working(&b, v, &v.Runs[i], warm.Of(i))
	}
	fmt.Fprintf(&b, "\n%s\n", dim.Sprint(Caution))
	_, err := io.WriteString(w, b.String())
	return err
}

func mark(s ratings.Status) string {
	if s == ratings.Published || s == "" {
		return ""
	}
	return " (" + string(s) + ")"
}

func working(b *strings.Builder, v *assess.Review, a *assess.Run, warm network.Rise) {
	row := func(name, format string, args ...any) {
		fmt.Fprintf(b, "  %-16s %s\n", name, Clean(fmt.Sprintf(format, args...)))
	}
	fmt.Fprintf(b, "%s\n", bold.Sprint(Clean("run "+a.Run.Name)))
	row("between", "%s and %s", linkName(a.Run.From), linkName(a.Run.To))
	if c := a.Cable; c != nil {
		what := fmt.Sprintf("%s, %s, %s", c.Conductor.Value, c.Strands.Value, c.Insulation.Value)
		if c.Build.Value == "multicore" {
			what += ", multicore " + c.Cores.Value
		} else {
			what += ", single-core " + c.Formation.Value
		}
		if a.Legs > 1 {
			what += fmt.Sprintf(", %d legs", a.Legs)
		}
		row("cable", "%s, %s: %s", a.Run.Size, c.Name, what)
	}
	if a.Segment.DesignCurrentA().Known {
		row("design current", "%s from %s", quantity.Ampere.Print(a.Segment.DesignCurrentA().Value), many(a.Segment.Sources, "source"))
		if a.OnNeutral {
			row("neutral current", "%s of third harmonic is held against the capacity", quantity.Ampere.Maybe(a.LoadA))
		}
	} else {
		row("design current", "cannot be worked out%s", why(a))
	}
	for k := range a.Sections {
		section(b, row, v, a, k)
	}
	if a.CapacityA.Known {
		text := quantity.Ampere.Print(a.CapacityA.Value)
		if len(a.Sections) > 1 {
			text += fmt.Sprintf(", by section %d", a.Governing+1)
		}
		if u := a.UtilisationPct(); u.Known {
			text += fmt.Sprintf("; loaded to %s", quantity.Percent.Print(u.Value))
		}
		row("capacity", "%s", text)
	} else {
		row("capacity", "cannot be worked out%s", why(a))
	}
	if s, ok := a.Sharing(); ok {
		row("legs", "%s to %s; the shortest takes %s of the current%s", quantity.Metre.Print(s.ShortestM), quantity.Metre.Print(s.LongestM), quantity.Percent.Print(100*s.Share), legOf(s))
	}
	if a.Continuous().Known {
		row("continuous duty", "at most %s (%s)%s", quantity.Ampere.Print(a.Continuous().Value), a.ContinuousRef().Text, mark(a.ContinuousRef().Status))
	}
	for k := range a.Run.Devices {
		d := &a.Run.Devices[k]
		if !d.Kind.Known() || !d.RatedA.Known() || v.Set == nil {
			continue
		}
		needs, ref, gap := v.Set.NeedsA(ratings.Protection{Kind: d.Kind.Value, FuseType: d.FuseType.Value, RatedA: d.RatedA.Value})
		if gap != nil {
			row("device", "%s %s: %s", quantity.Ampere.Print(d.RatedA.Value), d.Kind.Value, gap.Reason)
			continue
		}
		row("device", "%s %s needs a capacity of %s (%s)%s", quantity.Ampere.Print(d.RatedA.Value), d.Kind.Value, quantity.Ampere.Print(needs), ref.Text, mark(ref.Status))
	}
	if a.ROhmKM().Known {
		row("impedance", "r %s, x %s of one leg (%s)", quantity.OhmPerKM.Print(a.ROhmKM().Value), quantity.OhmPerKM.Print(a.XOhmKM().Value), impedanceRefs(a))
	} else {
		row("impedance", "cannot be worked out%s", why(a))
	}
	rise := v.Rises.Of(a.Index)
	if rise.Percent.Known {
		row("voltage rise", "%s, %s over %s at %s", quantity.Volt.Print(rise.V.Value), quantity.Percent.Print(rise.Percent.Value), quantity.Metre.Maybe(a.LengthM), quantity.Ampere.Print(a.Segment.RiseMaxA()))
	} else {
		row("voltage rise", "cannot be worked out%s", why(a))
	}
	if rise.PathPercent.Known {
		row("path", "%s, %s from the point of supply", quantity.Volt.Print(rise.PathV.Value), quantity.Percent.Print(rise.PathPercent.Value))
	}
	if exact := v.Exact().Of(a.Index); exact.Percent.Known {
		row("exact", "%s over the run, %s from the point of supply, by the phasor solution%s", quantity.Percent.Print(exact.Percent.Value), quantity.Percent.Print(exact.PathPercent.Value), verdict(v))
	}
	if drop := v.Drops.Of(a.Index); a.Segment.Takers > 0 && drop.Percent.Known {
		row("voltage drop", "%s, %s at %s towards %s", quantity.Volt.Print(drop.V.Value), quantity.Percent.Print(drop.Percent.Value), quantity.Ampere.Maybe(a.Segment.DemandA()), plural(a.Segment.Takers, "load or battery", "loads and batteries"))
		if drop.PathPercent.Known {
			row("path", "%s, %s from the point of supply", quantity.Volt.Print(drop.PathV.Value), quantity.Percent.Print(drop.PathPercent.Value))
		}
	}
	if a.LossW().Known {
		row("loss", "%s at design current", quantity.Watt.Print(a.LossW().Value))
	}
	if loss := a.WarmLossW(); warm.Percent.Known && loss.Known {
		row("at conductor", "rise %s, loss %s with resistances at the temperature of the design current, not the limit", quantity.Percent.Print(warm.Percent.Value), quantity.Watt.Print(loss.Value))
	}
	faults(b, row, v, a)
	for _, g := range a.Gaps {
		row("not assessed", "%s", g.Reason)
	}
}

func section(b *strings.Builder, row func(string, string, ...any), v *assess.Review, a *assess.Run, k int) {
	s := &a.Sections[k]
	route := "its route is not known"
	if s.Route != nil {
		route = fmt.Sprintf("route %s, %s", s.Route.Name, s.Route.Laid.Value)
		if s.Route.Lid.Value {
			route += " with lid"
		}
	}
	if s.Section.SizeMM2.Known() {
		route += ", of " + a.Size(s.Section).String()
	}
	row(fmt.Sprintf("section %d", k+1), "%s, %s", quantity.Metre.Maybe(s.Section.LengthM.Maybe()), route)
	if s.Rating == nil {
		return
	}
	fmt.Fprintf(b, "    %9s  method %s, %s%s\n", quantity.Ampere.Print(s.Rating.TabulatedA), s.Rating.Method, Clean(s.Rating.Ref.Text), mark(s.Rating.Ref.Status))
	for _, f := range s.Rating.Factors {
		text := f.Name
		if f.Why != "" {
			text += ", " + f.Why
		}
		if f.Name == "grouping" || f.Name == "mixed-sizes" {
			if n := v.Neighbours(a, s); n != "" {
				text += ", with " + n
			}
		}
		fmt.Fprintf(b, "  x %9s  %s: %s%s\n", quantity.Ratio.Print(f.Value), Clean(text), Clean(f.Ref.Text), mark(f.Ref.Status))
	}
	for _, l := range s.Left {
		fmt.Fprintf(b, "    %9s  %s does not count: %s\n", "", Clean(v.Runs[l.Run].Run.Name), l.Why)
	}
	fmt.Fprintf(b, "  = %9s  each leg\n", quantity.Ampere.Print(s.Rating.CapacityA))
	for _, x := range s.Rating.Steps {
		value := strings.TrimSpace(fmt.Sprintf("%.4g %s", x.Value, x.Unit))
		fmt.Fprintf(b, "    %9s  %s = %s: %s (%s)\n", "", x.Symbol, value, x.Meaning, x.Ref.Text)
	}
	if s.ConductorC.Known {
		fmt.Fprintf(b, "    %9s  conductor at %s under design current: %s\n", "", quantity.Celsius.Print(s.ConductorC.Value), s.HeatRef())
	}
	for _, n := range s.Rating.Notes {
		fmt.Fprintf(b, "    %9s  note: %s\n", "", Clean(n.Text))
	}
	held(b, a, s)
}

// held says how full a section's route is, and what it carries.
func held(b *strings.Builder, a *assess.Run, s *assess.Section) {
	if s.Shared == nil || s.Shared.Held == nil {
		return
	}
	h := s.Shared.Held
	if f := h.Fill(a.Index); f != nil {
		memory := ""
		if f.Memory {
			memory = " (from memory)"
		}
		fmt.Fprintf(b, "    %9s  fills its %s to %s, limit %s: %s%s\n", "", enclosure(s.Route.Laid.Value), quantity.Percent.Print(f.Percent), quantity.Percent.Print(f.LimitPercent), Clean(f.LimitRef), memory)
	}
	if h.RoomMM.Known && len(h.WidthGaps) == 0 {
		fmt.Fprintf(b, "    %9s  all cables of the route take %s side by side, with room for %s\n", "", quantity.Milli.Print(h.WidthMM), quantity.Milli.Print(h.RoomMM.Value))
	}
	if h.MayKgM.Known && len(h.MassGaps) == 0 {
		computed := ""
		if h.Computed {
			computed = " (computed)"
		}
		fmt.Fprintf(b, "    %9s  the route carries %s%s and may carry %s\n", "", quantity.KilogramM.Print(h.KgM), computed, quantity.KilogramM.Print(h.MayKgM.Value))
	}
}

func enclosure(laid string) string {
	switch laid {
	case "trunking":
		return laid
	case "buried-duct":
		return "duct"
	}
	return "conduit"
}

// legOf says what the shortest leg carries of what it may.
func legOf(s assess.Sharing) string {
	if !s.WorstA.Known || !s.LegA.Known {
		return ""
	}
	return fmt.Sprintf(", %s of the %s that a leg may carry", quantity.Ampere.Print(s.WorstA.Value), quantity.Ampere.Print(s.LegA.Value))
}

func linkName(l design.Link) string {
	if l.Name == "" {
		return "nothing that is declared"
	}
	return l.Subject()
}

// why names the reason for a missing figure where one is known.
func why(a *assess.Run) string {
	switch {
	case len(a.Gaps) > 0:
		return ""
	case a.Segment.UnknownBecause != nil:
		return fmt.Sprintf(": source %s states no usable current", a.Segment.UnknownBecause.Name)
	}
	return "; check tells why"
}

func impedanceRefs(a *assess.Run) string {
	for k := range a.Sections {
		if s := &a.Sections[k]; s.Impedance != nil {
			z := s.Impedance
			text := fmt.Sprintf("%s%s; %s%s", z.RRef.Text, mark(z.RRef.Status), z.XRef.Text, mark(z.XRef.Status))
			if z.RRef.Status != ratings.Given && z.ConductorC > 0 {
				text += ", at " + quantity.Celsius.Print(z.ConductorC)
			}
			return text
		}
	}
	return ""
}

// verdict says which of the two figures of rise is held against limits.
func verdict(v *assess.Review) string {
	if v.ByExact() {
		return "; the limit is held against this"
	}
	return ""
}

// faults writes the working of short circuits and earth faults.
func faults(b *strings.Builder, row func(string, string, ...any), v *assess.Review, a *assess.Run) {
	f, ok := v.Fault(a)
	if !ok {
		return
	}
	if g := f.Guard(); g != nil {
		where := "its own"
		if !g.Own(a) {
			where = fmt.Sprintf("of run %s", g.Run.Run.Name)
		}
		row("cleared by", "%s %s, %s", quantity.Ampere.Print(g.Device.RatedA.Value), g.Device.Kind.Value, where)
	}
	for _, x := range f.Steps() {
		ref := ""
		if x.Ref.Text != "" {
			ref = ": " + x.Ref.Text + mark(x.Ref.Status)
		}
		fmt.Fprintf(b, "%s\n", Clean(fmt.Sprintf("  %11s  %-12s %-11s %s%s", x.Symbol, quantity.Figure(x.Value), x.Unit, x.Meaning, ref)))
	}
	for _, g := range f.Gaps() {
		row("not checked", "%s", g)
	}
}

func plural(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}
