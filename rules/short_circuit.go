package rules

import (
	"fmt"
	"strings"

	"trefoil/lint/assess"
	"trefoil/lint/design"
	"trefoil/lint/engine"
	"trefoil/lint/finding"
	"trefoil/ratings"
	"trefoil/ratings/quantity"
)

// BreakingTooLow reports a device that cannot break the fault current where it stands.
var BreakingTooLow = &engine.Rule{
	Name: "breaking-too-low", Summary: "a protective device cannot break the fault current where it stands", Severity: finding.Error,
	Clause: engine.Clause{Publication: "IEC 60364-4-43", Edition: "2008", Number: "clause 434.5.1; BS 7671 regulation 434.5.1; AS/NZS 3000 clause 2.5.4; NEC 110.9"}, Since: "0.1.0", Check: breakingTooLow,
	Doc: engine.Doc{
		Checks:  "breaking_ka of each device against the greatest three-phase fault current at its board: the supply's, through the cold impedances of the path, and what all sources feed. backed_up_ka with backed_up_origin, the maker's table of the pair, takes its place where a device stands in front.",
		Why:     "A device asked to break more than it can bursts.",
		Accepts: "the fault current in percent of the breaking capacity",
		Blind:   "Whether the device in front is the one of the maker's table.", Sources: "IEC 60364-4-43 clause 434.5.1 (number from memory).", Bad: "near-transformer", Good: "strong-enough",
	},
}

func breakingTooLow(r *engine.Review) {
	devices(r, func(a *assess.Run, k int, d *design.Device) {
		if !d.BreakingKA.Known() {
			return
		}
		fault, ok := r.Fault(a)
		if !ok || !fault.At(k).MaxA.Known {
			return
		}
		here := fault.At(k)
		ka := here.MaxA.Value / 1000
		if quantity.AtMost(ka, d.BreakingKA.Value) {
			return
		}
		up, guarded := r.NextUp(a, d)
		without := ""
		if b := d.BackedUpKA; b.Known() && strings.TrimSpace(d.BackedUpOrigin.Value) != "" {
			switch {
			case !guarded:
				without = "; it is said to be backed up, and no device is stated in front of it"
			case quantity.AtMost(ka, b.Value):
				return
			default:
				without = fmt.Sprintf("; with the %s %s of run %q in front of it, %s", quantity.Ampere.Print(up.Device.RatedA.Value), up.Device.Kind.Value, up.Run.Run.Name, quantity.KiloAmp.Print(b.Value))
			}
		}
		got, most := quantity.KiloAmp.Apart(ka, d.BreakingKA.Value)
		f := r.At(d.BreakingKA.At, a.Run.Subject(), fmt.Sprintf("%s breaks %s, and up to %s flow at its board (%s of that from the sources)%s", deviceName(a, d), most, got, quantity.KiloAmp.Print(here.FeedA/1000), without),
			"choose a device that breaks more, or one in front of it that its maker names as back-up")
		f.Figures = []finding.Figure{{Key: "fault_max_ka", Value: ka}, {Key: "breaking_ka", Value: d.BreakingKA.Value}}
		f.Percent, f.HasPercent = 100*ka/d.BreakingKA.Value, true
		f.Related = supplyFault(r)
		r.Find(f)
	})
}

// supplyFault points at what the fault currents begin with.
func supplyFault(r *engine.Review) []finding.Related {
	s := r.Design.Supplies[0]
	if s.Transformer != nil {
		return []finding.Related{{At: s.Transformer.At, Message: "the transformer of the supply"}}
	}
	return []finding.Related{{At: firstAt(s.FaultKA.At, s.At), Message: "the fault level of the supply"}}
}

// WithstandExceeded reports conductors that a short circuit overheats before it is cleared.
var WithstandExceeded = &engine.Rule{
	Name: "withstand-exceeded", Summary: "a short circuit overheats the conductors before it is cleared", Severity: finding.Error,
	Clause: engine.Clause{Publication: "IEC 60364-4-43", Edition: "2008", Number: "clause 434.5.2, I2t <= k2S2; BS 7671 regulation 434.5.2; AS/NZS 3008.1.1 section 5"}, Since: "0.1.0", Check: withstandExceeded,
	Doc: engine.Doc{
		Checks:  "For each run the heat of the greatest fault at its near end, of the least fault at its far end, and of those between that a short-time delay or a maker's curve lets last longer, until the device in front of it clears them, against k2 S2 of one leg. Above 0.1 s by current and time, below by the device's let_through. A fault that a device above the run's capacity is not certain to clear within 5 s counts as exceeding it.",
		Why:     "A small conductor behind a large device melts before the device has moved; and a weak fault at the end of a long run lasts.",
		Accepts: "the heat in percent of what the conductor withstands",
		Blind:   "What the sources feed from behind, which lasts milliseconds. Standard bands of devices are from memory; a maker's curve takes their place.", Sources: "k by IEC 60364-4-43 Table 43A, from memory, agreeing with the formula of IEC 60949.", Bad: "small-tail", Good: "withstands",
	},
}

func withstandExceeded(r *engine.Review) {
	var w assess.Withstand
	for a := range r.EachRun() {
		fault, ok := r.Fault(a)
		if !ok {
			continue
		}
		w = fault.Withstand()
		if !w.HoldA2s.Known {
			continue
		}
		for _, c := range []struct {
			h    *assess.Heat
			what string
		}{{&w.AtNear, "the greatest fault at the near end"}, {&w.AtFar, "the least fault at the far end"}, {&w.Between, "a fault on the way"}} {
			if c.h.Late {
				r.Find(late(r, a, fault.Guard(), c.h, c.what))
				break
			}
			if !c.h.A2s.Known || quantity.AtMost(c.h.A2s.Value, w.HoldA2s.Value) {
				continue
			}
			lasts := "cleared within 0.1 s by the let-through that the maker gives"
			if c.h.Seconds.Known {
				lasts = fmt.Sprintf("for up to %s", quantity.Second.Print(c.h.Seconds.Value))
			}
			g := fault.Guard()
			came, holds := quantity.MegaA2s.Apart(c.h.A2s.Value/1e6, w.HoldA2s.Value/1e6)
			f := r.At(a.Run.SizeAt, a.Run.Subject(), fmt.Sprintf("%s of run %q, %s %s, brings %s to a conductor that withstands %s (k %s, %s)", c.what, a.Run.Name, quantity.KiloAmp.Print(c.h.CurrentA.Value/1000), lasts,
				came, holds, quantity.Ratio.Print(w.K), a.Least()),
				"choose a larger conductor, or a device in front of it that clears faster")
			f.Figures = []finding.Figure{{Key: "fault_ka", Value: c.h.CurrentA.Value / 1000}, {Key: "heat_a2s", Value: c.h.A2s.Value}, {Key: "withstand_a2s", Value: w.HoldA2s.Value}}
			f.Percent, f.HasPercent = 100*c.h.A2s.Value/w.HoldA2s.Value, true
			f.Related = append([]finding.Related{{At: g.Device.At, Message: fmt.Sprintf("the device in front of it, %s of run %q", quantity.Ampere.Print(g.Device.RatedA.Value), g.Run.Run.Name)}}, supplyFault(r)...)
			f.Memory = memory(w.KRef, c.h.Ref)
			r.Find(f)
			break
		}
	}
}

// late tells a fault that the device in front of a run is not certain to clear within 5 s.
func late(r *engine.Review, a *assess.Run, g *assess.Guard, h *assess.Heat, what string) finding.Finding {
	d := g.Device
	f := r.At(a.Run.SizeAt, a.Run.Subject(), fmt.Sprintf("%s of run %q, %s, is not certain to be cleared within 5 s by the %s %s of run %q, which is above the capacity of %s and does not guard it against overload either", what, a.Run.Name,
		quantity.KiloAmp.Print(h.CurrentA.Value/1000), quantity.Ampere.Print(d.RatedA.Value), d.Kind.Value, g.Run.Run.Name, quantity.Ampere.Maybe(a.CapacityA)),
		sooner(g, "put a device of its own in front of the run"))
	f.Figures = []finding.Figure{{Key: "fault_ka", Value: h.CurrentA.Value / 1000}, {Key: "device_a", Value: d.RatedA.Value}, {Key: "capacity_a", Value: a.CapacityA.Value}}
	f.Related = append([]finding.Related{{At: d.At, Message: "the device in front of it"}}, supplyFault(r)...)
	f.Memory = memory(h.Ref)
	return f
}

// sooner advises how a device could clear earlier, or another remedy.
func sooner(g *assess.Guard, or string) string {
	switch g.Device.Kind.Value {
	case "fuse":
		return "choose a smaller fuse; else " + or
	case "mcb":
		return "choose a trip that acts earlier; else " + or
	}
	return "set a lower instantaneous trip; else " + or
}

// memory lists the references that are remembered.
func memory(refs ...ratings.Ref) []string {
	var list []string
	for _, ref := range refs {
		if ref.Status == ratings.Memory {
			list = append(list, ref.Text)
		}
	}
	return list
}

// DisconnectionLate reports an earth fault that is not cleared in time.
var DisconnectionLate = &engine.Rule{
	Name: "disconnection-late", Summary: "an earth fault at the far end of a run is not cleared in time", Severity: finding.Error,
	Clause: engine.Clause{Publication: "IEC 60364-4-41", Edition: "2005", Number: "clauses 411.3.2, 411.4.4 and 411.5.3; BS 7671 regulation 411.4; AS/NZS 3000 clause 5.7 (numbers from memory)"}, Since: "0.1.0", Check: disconnectionLate,
	Doc: engine.Doc{
		Checks:  "For each run the earth-fault loop at its far end, hot, and the current it lets flow at the voltage factor for least faults, against the current that clears the device in front of it within disconnection_s, or within the standard's time for the earthing system. In a TT system with a residual-current device: loop times rated residual current at most 50 V.",
		Why:     "Until it is cleared every metal case at the end of that run is live.",
		Accepts: "the loop in percent of the greatest that clears in time",
		Blind:   "IT systems; extra bonding, which may take the place of disconnection; faults while a source runs in island.", Sources: "IEC 60364-4-41 Table 41.1, from memory; trip bands of devices from memory unless the design gives a curve.", Bad: "long-run", Good: "in-time",
	},
}

func disconnectionLate(r *engine.Review) {
	for a := range r.EachRun() {
		fault, ok := r.Fault(a)
		if !ok {
			continue
		}
		d := fault.Disconnect()
		if d.Gap != nil || !d.LimitS.Known {
			continue
		}
		loop, g := d.LoopOhm, fault.Guard()
		where := fmt.Sprintf("at the end of run %q", a.Run.Name)
		if d.InLeg {
			where = fmt.Sprintf("in one leg of run %q", a.Run.Name)
		}
		device := fmt.Sprintf("the %s %s of run %q", quantity.Ampere.Print(g.Device.RatedA.Value), g.Device.Kind.Value, g.Run.Run.Name)
		if g.Own(a) {
			device = fmt.Sprintf("its %s %s", quantity.Ampere.Print(g.Device.RatedA.Value), g.Device.Kind.Value)
		}
		message := ""
		percent := 0.0
		switch {
		case d.TouchV.Known && !quantity.AtMost(d.TouchV.Value, assess.TouchV):
			got, most := quantity.Volt.Apart(d.TouchV.Value, assess.TouchV)
			message = fmt.Sprintf("the earth loop of %s %s and the residual current of %s leave %s to touch, above %s", quantity.Ohm.Print(loop.Value), where, quantity.MilliAmp.Print(g.Device.RCDmA.Value), got, most)
			percent = 100 * d.TouchV.Value / assess.TouchV
		case d.TakesS.Known && !quantity.AtMost(d.TakesS.Value, d.LimitS.Value):
			message = fmt.Sprintf("an earth fault %s draws %s, and %s wants %s to clear it within %s: loop %s, at most %s", where,
				quantity.Ampere.Print(d.LoopA.Value), device, quantity.Ampere.Maybe(d.NeedsA), quantity.Second.Print(d.LimitS.Value), quantity.Ohm.Print(loop.Value), quantity.Ohm.Maybe(d.MostOhm))
			if d.MostOhm.Known {
				percent = 100 * loop.Value / d.MostOhm.Value
			}
		default:
			continue
		}
		f := r.At(g.Device.At, a.Run.Subject(), message, sooner(g, "choose a larger earth conductor, or add a residual-current device"))
		f.Figures = []finding.Figure{{Key: "loop_ohm", Value: loop.Value}, {Key: "earth_fault_min_ka", Value: d.LoopA.Value / 1000}, {Key: "limit_s", Value: d.LimitS.Value}}
		f.Percent, f.HasPercent = percent, percent > 0
		f.Related = []finding.Related{{At: firstAt(a.Run.EarthMM2.At, a.Run.At), Message: "the earth conductor of the run"}, {At: r.Design.Supplies[0].EarthLoopOhm.At, Message: "the loop at the supply"}}
		f.Memory = memory(d.LimitBy, d.Ref)
		r.Find(f)
	}
}

// EarthTooSmall reports an earth conductor below table and adiabatic equation.
var EarthTooSmall = &engine.Rule{
	Name: "earth-too-small", Summary: "an earth conductor is smaller than table and adiabatic equation ask", Severity: finding.Error,
	Clause: engine.Clause{Publication: "IEC 60364-5-54", Edition: "2011", Number: "clause 543.1, Table 54.2; BS 7671 Table 54.7; AS/NZS 3000 clause 5.3.3 and Table 5.1; NEC 250.122"}, Since: "0.1.0", Check: earthTooSmall,
	Doc: engine.Doc{
		Checks:  "earth_mm2 of each run against the table of the set's family, or, where it is smaller, against the square root of I2t over k for the faults at both ends. In multicore cables the earth core of one leg by its own phases; a separate conductor by the sum of the legs. Below the table and with a heat that cannot be worked out it is a warning.",
		Why:     "An earth conductor that melts on the first fault leaves everything behind it live.",
		Accepts: "the area that is asked for in percent of the area drawn",
		Blind:   "Armour and trays as earth conductors; joints; corrosion; phases that are larger than their current asks, with which NEC 250.122(B) wants a larger earth.", Sources: "AS/NZS 3000:2007 Table 5.1, read in a print; IEC 60364-5-54 Table 54.2 and k from memory.", Bad: "thin-earth", Good: "by-table",
	},
}

func earthTooSmall(r *engine.Review) {
	for a := range r.EachRun() {
		if !a.Run.EarthMM2.Known() {
			continue
		}
		fault, ok := r.Fault(a)
		if !ok {
			continue
		}
		e := fault.Earth()
		if !e.MM2.Known {
			continue
		}
		asked, by := e.TableMM2, "by "+e.TableRef.Text
		refs := []ratings.Ref{e.TableRef}
		switch {
		case !asked.Known && !e.HeatMM2.Known:
			continue // told by earth-not-checked
		case !asked.Known, e.HeatMM2.Known && e.HeatMM2.Value < asked.Value:
			asked, by = e.HeatMM2, "by the heat of its faults"
			if e.Least {
				by = "by " + e.HeatRef.Text
			}
			refs = []ratings.Ref{e.HeatRef}
		case !e.HeatMM2.Known && e.HeatGap != nil:
			by += "; the heat of its faults cannot be worked out: " + e.HeatGap.Reason
		}
		if quantity.AtMost(asked.Value, e.MM2.Value) {
			continue
		}
		got, most := quantity.SquareMM.Apart(e.MM2.Value, asked.Value)
		f := r.At(a.Run.EarthMM2.At, a.Run.Subject(), fmt.Sprintf("the earth conductor of run %q has %s and needs %s %s", a.Run.Name, got, most, by), "choose a larger earth conductor")
		f.Figures = []finding.Figure{{Key: "earth_mm2", Value: e.MM2.Value}, {Key: "earth_min_mm2", Value: asked.Value}}
		if e.MM2.Value > 0 {
			f.Percent, f.HasPercent = 100*asked.Value/e.MM2.Value, true
		}
		f.Memory = memory(refs...)
		if !e.HeatMM2.Known {
			f.Severity = finding.Warning // the equation may still let it pass
		}
		r.Find(f)
	}
}

// DeviceAtWrongEnd warns of a run whose only devices stand at the end away from the supply.
var DeviceAtWrongEnd = &engine.Rule{
	Name: "device-at-wrong-end", Summary: "the devices of a run stand only at the end away from the supply", Severity: finding.Warning,
	Clause: engine.Clause{Publication: "IEC 60364-4-43", Edition: "2008", Number: "clauses 433.2 and 434.2, place of the device (numbers from memory)"}, Since: "0.1.0", Check: deviceAtWrongEnd,
	Doc: engine.Doc{
		Checks: "That a run which does not begin at the point of supply has a device at the end nearer the supply, unless it has none at all.",
		Why:    "The strong fault current comes from the supply, and a device behind the fault does not see it; an overload from loads at the far board comes the same way.",
		Blind:  "Devices of the network in front of the point of supply; clauses that allow a short unprotected length.", Sources: "Common practice.", Bad: "at-inverter", Good: "at-board",
	},
}

func deviceAtWrongEnd(r *engine.Review) {
	for a := range r.EachRun() {
		if len(a.Run.Devices) == 0 {
			continue
		}
		d := &a.Run.Devices[0]
		if d.Board.Origin != design.Stated || !d.Kind.Known() || !d.RatedA.Known() {
			continue
		}
		fault, ok := r.Fault(a)
		if !ok || fault.Guard() != nil && fault.Guard().Own(a) || r.Tree.Nodes[a.Segment.Near].Supply != nil {
			continue
		}
		what := "and nothing in front of it is stated"
		if g := fault.Guard(); g != nil {
			what = fmt.Sprintf("so that the %s %s of run %q has to clear its faults", quantity.Ampere.Print(g.Device.RatedA.Value), g.Device.Kind.Value, g.Run.Run.Name)
		}
		r.Find(r.At(d.Board.At, a.Run.Subject(), fmt.Sprintf("%s stands at %s, away from the supply, %s", deviceName(a, d), d.Board.Subject(), what), fmt.Sprintf("put a device at %s", r.Tree.Nodes[a.Segment.Near].Subject)))
	}
}

// SelectivityLost warns of a device that does not trip before the one in front of it.
var SelectivityLost = &engine.Rule{
	Name: "selectivity-lost", Summary: "a device may not trip before the one in front of it", Severity: finding.Warning,
	Clause: engine.Clause{Publication: "IEC 60364-5-53", Edition: "2019", Number: "clause 536; AS/NZS 3000 clause 2.5.7 (numbers from memory)"}, Since: "0.1.0", Check: selectivityLost,
	Doc: engine.Doc{
		Checks:  "That each device is set below the next one towards the supply; and, where selective_to_ka is given from the maker's table for the pair, that the fault current at the device does not go beyond it.",
		Why:     "One fault in one inverter otherwise takes the whole array, or the whole site, off.",
		Accepts: "the fault current in percent of selective_to_ka",
		Blind:   "Pairs without maker's data, beyond their settings.", Sources: "Common practice.", Bad: "same-setting", Good: "graded",
	},
}

func selectivityLost(r *engine.Review) {
	devices(r, func(a *assess.Run, k int, d *design.Device) {
		up, guarded := r.NextUp(a, d)
		if !guarded || !d.RatedA.Known() || up.Device == d {
			return
		}
		related := func() []finding.Related {
			return []finding.Related{{At: up.Device.At, Message: fmt.Sprintf("the next device towards the supply, of run %q", up.Run.Run.Name)}}
		}
		fault, ok := r.Fault(a)
		if !ok {
			return
		}
		if quantity.AtMost(up.Device.RatedA.Value, d.RatedA.Value) {
			if up.Own(a) {
				return
			}
			f := r.At(d.RatedA.At, a.Run.Subject(), fmt.Sprintf("%s is set at %s, and the next one towards the supply, of run %q, at %s", deviceName(a, d), quantity.Ampere.Print(d.RatedA.Value), up.Run.Run.Name, quantity.Ampere.Print(up.Device.RatedA.Value)), "grade the settings")
			f.Figures = []finding.Figure{{Key: "device_a", Value: d.RatedA.Value}, {Key: "next_device_a", Value: up.Device.RatedA.Value}}
			f.Related = related()
			r.Find(f)
			return
		}
		if at := fault.At(k).MaxA; d.SelectiveToKA.Known() && at.Known && !quantity.AtMost(at.Value/1000, d.SelectiveToKA.Value) {
			got, most := quantity.KiloAmp.Apart(at.Value/1000, d.SelectiveToKA.Value)
			f := r.At(d.SelectiveToKA.At, a.Run.Subject(), fmt.Sprintf("%s is selective with that of run %q up to %s, and up to %s flow there", deviceName(a, d), up.Run.Run.Name, most, got), "choose a pair that is selective further, or a short-time delay in front")
			f.Figures = []finding.Figure{{Key: "fault_max_ka", Value: at.Value / 1000}, {Key: "selective_to_ka", Value: d.SelectiveToKA.Value}}
			f.Percent, f.HasPercent = 100*at.Value/1000/d.SelectiveToKA.Value, true
			f.Related = related()
			r.Find(f)
		}
	})
}
