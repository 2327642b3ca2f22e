package assess

import (
	"cmp"
	"fmt"
	"math"

	"trefoil/lint/design"
	"trefoil/lint/finding"
	"trefoil/lint/network"
	"trefoil/ratings"
	"trefoil/ratings/conductor"
	"trefoil/ratings/protection"
	"trefoil/ratings/quantity"
)

// Fault is what short circuits and earth faults on a run come to, and what clears them. What
// they do to its conductors is worked out when it is asked for.
type Fault struct {
	Near, Far network.Level // at the end nearer the supply, and at the other

	v     *Review
	run   *Run
	guard Guard
}

// Guard is the device that clears a fault fed by the supply; nil where none is stated.
func (f *Fault) Guard() *Guard { return f.guard.stated() }

// Withstand is what the phase conductors of a run withstand, and what comes.
type Withstand struct {
	K       float64 // of one conductor, A s^0.5/mm2; 0 where it cannot be had
	KRef    ratings.Ref
	HoldA2s quantity.Maybe // k2 S2 of one leg

	AtNear, AtFar Heat
	Between       Heat // of a fault on the way that heats them more; unknown where none does
}

// Guard is a device that clears faults on a run.
type Guard struct {
	Run    *Run
	Device *design.Device
}

// stated is the guard where there is one.
func (g *Guard) stated() *Guard {
	if g.Device == nil {
		return nil
	}
	return g
}

// clears is the behaviour in time of the device in front of a run, or why there is none.
type clears struct {
	protection.Device
	gap *ratings.Gap
}

// acts is its behaviour in time; a Gap where no device is stated, or a setting of it cannot
// be, which is told where it is written.
func (g *Guard) acts() (c clears) {
	if g.Device == nil {
		c.gap = noDevice
		return c
	}
	if c.Device = acts(g.Device); len(c.Check()) > 0 {
		c.gap = noSuchSetting
	}
	return c
}

// Own says that the device belongs to the run itself.
func (g *Guard) Own(a *Run) bool { return g.Run == a }

// Heat is what a fault heats a conductor with until it is cleared.
type Heat struct {
	CurrentA quantity.Maybe
	Seconds  quantity.Maybe // unknown where the current is cleared within 0.1 s
	A2s      quantity.Maybe
	Ref      ratings.Ref
	Unstated bool // cleared within 0.1 s, and what is let through until then is not stated
	Covered  bool // cleared within 0.1 s, so that the greatest current is the case that counts
	Late     bool // not certain to be cleared within 5 s, behind a device too large to guard against overload
	Gap      *ratings.Gap
}

// Disconnect is the clearing of an earth fault at the far end.
type Disconnect struct {
	LimitS  quantity.Maybe
	LimitBy ratings.Ref
	TakesS  quantity.Maybe
	Ref     ratings.Ref
	InLeg   bool           // the worst place lies in one of several legs, not at the end
	LoopA   quantity.Maybe // least current of an earth fault, at the worst place
	LoopOhm quantity.Maybe // the loop there
	NeedsA  quantity.Maybe // the current that the device wants for LimitS
	MostOhm quantity.Maybe // the loop that gives it
	ByRCD   bool
	TouchV  quantity.Maybe // TT: loop times residual current
	Gap     *ratings.Gap
}

// Earth is the size of an earth conductor against what it has to be.
type Earth struct {
	MM2      quantity.Maybe // as drawn, of one leg or, where it is separate, of the run
	TableMM2 quantity.Maybe
	TableRef ratings.Ref
	HeatMM2  quantity.Maybe // by the adiabatic equation
	HeatRef  ratings.Ref
	Least    bool         // HeatMM2 is the least for a conductor that is no part of a cable
	Gap      *ratings.Gap // why the table cannot be applied
	HeatGap  *ratings.Gap
}

// TouchV is the touch voltage that a TT system may leave, V (IEC 60364-4-41 clause
// 411.5.3, from memory).
const TouchV = 50

// residualS is the time within which a residual-current device clears its rated
// residual current, s (IEC 61008-1, from memory).
const residualS = 0.3

// faults sums up what fault levels come from.
func (v *Review) faults() {
	site := v.Design.Site()
	if site == nil || len(v.Design.Supplies) == 0 {
		return
	}
	branch := func(run int) network.Branch { return v.branch(&v.Runs[run]) }
	v.faulted = v.Tree.Faulted(branch, v.faultCase(site, v.Design.Supplies[0]))
}

// Level gives the prospective fault currents at a node.
func (v *Review) Level(node int) network.Level {
	if l := v.known.level(node); l != nil {
		return *l
	}
	return v.faulted.Level(node)
}

// faultCase reads what is known of the network behind the point of supply.
func (v *Review) faultCase(site *design.Site, s *design.Supply) network.FaultCase {
	c := network.FaultCase{FactorMax: site.VoltageFactorMax.Value, FactorMin: site.VoltageFactorMin.Value, Feed: make([]quantity.Maybe, len(v.Tree.Nodes))}
	u := v.Tree.VoltageV.Value
	ohm := func(ka design.Num, factor float64) quantity.Maybe {
		if !ka.Known() {
			return quantity.Maybe{}
		}
		return quantity.Of(factor * u / math.Sqrt(3) / (ka.Value * 1000))
	}
	c.Max = network.Origin{Ohm: ohm(s.FaultKA, c.FactorMax), XOverR: s.XOverR.Maybe()}
	c.Min = network.Origin{Ohm: ohm(s.FaultMinKA, c.FactorMin), XOverR: s.XOverR.Maybe()}
	c.Loop = network.Origin{Ohm: s.EarthLoopOhm.Maybe()}
	c.Apart = s.Earthing.Value == "tt" || s.Earthing.Value == "it"
	if t := s.Transformer; t != nil && t.RatedKVA.Known() && t.ImpedancePercent.Known() && t.Count.Known() {
		c.Max = transformer(t, u, c.FactorMax)
	}
	if !site.VoltageFactorMax.Known() || !site.VoltageFactorMin.Known() {
		c.Max, c.Min, c.Loop = network.Origin{}, network.Origin{}, network.Origin{}
	}
	for n := range v.Tree.Nodes {
		if s := v.Tree.Nodes[n].Source; s != nil {
			c.Feed[n] = v.Tree.FeedA(s)
		} else {
			c.Feed[n] = quantity.Of(0)
		}
	}
	return c
}

// transformer is the impedance of a transformer and the network above it, ohm at the
// low voltage: uk U2/S, its resistance from the load loss, and c U2/Sk above it with
// reactance ten times the resistance where nothing else is stated (IEC 60909-0 clauses
// 4.1 and 4.2, from memory).
func transformer(t *design.Transformer, u, factor float64) network.Origin {
	base := u * u / (t.RatedKVA.Value * 1000)
	z := t.ImpedancePercent.Value / 100 * base
	upstream := complex(0, 0)
	if t.UpstreamMVA.Known() {
		ratio := t.UpstreamXOverR.Maybe().Or(10)
		r := factor * u * u / (t.UpstreamMVA.Value * 1e6) / math.Hypot(1, ratio)
		upstream = complex(r, r*ratio)
	}
	count := t.Count.Value
	if !t.LoadLossW.Known() {
		// the angle is not known: the sum of the magnitudes is the most, that of the parts apart the least
		return network.Origin{Ohm: quantity.Of(math.Hypot(z/count, abs(upstream)))}
	}
	r := min(t.LoadLossW.Value/(t.RatedKVA.Value*1000)*base, z)
	x := math.Sqrt(z*z - r*r)
	whole := complex(r/count, x/count) + upstream
	ratio := math.Inf(1)
	if real(whole) > 0 {
		ratio = imag(whole) / real(whole)
	}
	return network.Origin{Ohm: quantity.Of(abs(whole)), XOverR: quantity.Of(min(ratio, 1e6))}
}

// branch is a run as a fault sees it: hot at the operating limit of its conductors,
// cold at 20 degC, its reactance that of the phases throughout.
func (v *Review) branch(a *Run) network.Branch {
	if !a.Impedance.Known || a.Cable == nil || !a.LengthM.Known {
		return network.Branch{}
	}
	alpha, ok := conductor.Alpha(a.Cable.Conductor.Value)
	if !ok {
		return network.Branch{}
	}
	cold, km := 0.0, a.LengthM.Value/1000
	for k := range a.Sections {
		s := &a.Sections[k]
		hot := s.Impedance.ConductorC
		if hot == 0 {
			hot, _ = conductor.TemperatureC(a.Cable.Insulation.Value)
		}
		cold += s.Impedance.ROhmKM * s.Section.LengthM.Value / 1000 / (1 + alpha*(hot-20))
	}
	legs := float64(a.Legs)
	z := a.Impedance.Ohm
	b := network.Branch{Hot: z, Cold: complex(cold/legs, imag(z)), NeutralHot: z, Legs: a.Legs, Known: true}
	if a.Impedance.HasNeutral {
		b.NeutralHot = a.Impedance.NeutralOhm
	}
	b.HasNeutral = true // the least fault is that to a neutral, so one is taken where the design does not say
	if has, known := a.HasNeutral(); known {
		b.HasNeutral = has
	}
	hotC, ok := conductor.TemperatureC(a.Cable.Insulation.Value)
	if !ok {
		return b
	}
	earthLegs := legs
	xOhmKM := a.XOhmKM()
	if b.EarthApart = v.earthApart(a) && !v.neutralIsEarth(a); b.EarthApart {
		earthLegs = 1
	}
	metal := cmp.Or(a.Run.EarthConductor.Value, a.Cable.Conductor.Value)
	earthAlpha, _ := conductor.Alpha(metal)
	switch {
	case a.Run.EarthROhmKM.Known():
		r := a.Run.EarthROhmKM.Value * km
		b.EarthHot = complex(r/earthLegs, xOhmKM.Value*km/earthLegs)
		b.EarthCold = complex(r/(1+earthAlpha*(hotC-20))/earthLegs, imag(b.EarthHot))
		b.HasEarth = true
	case a.Run.EarthMM2.Known() && a.Run.EarthMM2.Value > 0 && a.Run.EarthBy.Value != "armour":
		r20, _, gap := conductor.DCOhmKM(metal, a.Cable.Strands.Value, quantity.MM2(a.Run.EarthMM2.Value))
		if gap != nil {
			return b
		}
		x := xOhmKM.Value * km / earthLegs
		b.EarthHot = complex(conductor.DCAt(metal, r20, hotC)*km/earthLegs, x)
		b.EarthCold = complex(r20*km/earthLegs, x)
		b.HasEarth = true
	case v.neutralIsEarth(a):
		b.EarthHot, b.EarthCold, b.HasEarth = b.NeutralHot, b.Cold, true
		if a.Impedance.HasNeutral {
			b.EarthCold = complex(real(b.NeutralHot)*cold/legs/real(z), imag(b.NeutralHot))
		}
	}
	return b
}

// earthApart says that one earth conductor serves all legs of a run.
func (v *Review) earthApart(a *Run) bool {
	switch a.Run.EarthBy.Value {
	case "separate":
		return true
	case "core", "armour":
		return false
	}
	return a.Cable.Build.Value != "multicore" || a.Cable.Layout.Earth == 0
}

// neutralIsEarth says that an earth fault returns by the neutral: in a run from the
// supply without an earth conductor, where neutral and earth are one up to there.
func (v *Review) neutralIsEarth(a *Run) bool {
	if a.Segment.Near < 0 || v.Tree.Nodes[a.Segment.Near].Supply == nil || a.Cable.Layout.Earth > 0 {
		return false
	}
	if a.Run.EarthMM2.Known() && a.Run.EarthMM2.Value > 0 {
		return false
	}
	switch v.Design.Supplies[0].Earthing.Value {
	case "men", "tn-c-s":
		return true
	}
	return false
}

// acts reads a device for its behaviour in time.
func acts(d *design.Device) protection.Device {
	p := protection.Device{
		Kind: d.Kind.Value, FuseType: cmp.Or(d.FuseType.Value, "gg"), Trip: d.Trip.Value, RatedA: d.RatedA.Value,
		InstantA: d.InstantA.Maybe(), ShortA: d.ShortA.Maybe(), ShortS: d.ShortS.Maybe(),
	}
	for _, x := range d.Curve.Values {
		p.Points = append(p.Points, protection.Point{CurrentA: x[0], Seconds: x[1]})
	}
	for _, x := range d.LetThrough.Values {
		p.LetThrough = append(p.LetThrough, protection.Energy{KA: x[0], A2s: x[1]})
	}
	return p
}

// usableDevice says that nothing of a device is unreadable.
func usableDevice(d *design.Device) bool {
	for _, o := range []design.Origin{d.Kind.Origin, d.RatedA.Origin, d.FuseType.Origin, d.Trip.Origin, d.InstantA.Origin, d.ShortA.Origin, d.ShortS.Origin, d.Curve.Origin, d.LetThrough.Origin} {
		if o == design.Faulty {
			return false
		}
	}
	return d.Kind.Known() && d.RatedA.Known()
}

// settings tells settings of devices that cannot be.
func (v *Review) settings() {
	for i := range v.Runs {
		run := v.Runs[i].Run
		for k := range run.Devices {
			d := &run.Devices[k]
			if !usableDevice(d) {
				continue
			}
			for _, what := range acts(d).Check() {
				at := d.At
				for _, n := range []struct {
					name string
					at   design.Num
				}{{"instant_a", d.InstantA}, {"short_a", d.ShortA}, {"short_s", d.ShortS}} {
					if n.name == what.Setting && n.at.Known() {
						at = n.at.At
					}
				}
				switch {
				case what.Setting == "trip" && d.Trip.Known():
					at = d.Trip.At
				case what.Setting == "curve" && d.Curve.Known():
					at = d.Curve.At
				case what.Setting == "let_through" && d.LetThrough.Known():
					at = d.LetThrough.At
				}
				v.Faults = append(v.Faults, finding.Finding{Rule: "value-impossible", Severity: finding.Error, At: at, Subject: run.Subject(), Message: what.Reason, Next: what.Next})
			}
		}
	}
}

// deviceNode is the node at which a device stands: as stated, else the end of its run
// that is nearer the supply. -1 where it cannot be told.
func (v *Review) deviceNode(a *Run, d *design.Device) int {
	s := a.Segment
	if s.State != network.Fed {
		return -1
	}
	if d.Board.Origin == design.Stated {
		for _, n := range []int{s.Near, s.Far} {
			if d.Board.Names(v.Tree.Nodes[n].Subject) {
				return n
			}
		}
		return -1
	}
	return s.Near
}

// DeviceAt names the block at which a device of a run stands, "" where it cannot be told.
func (v *Review) DeviceAt(a *Run, d *design.Device) string {
	if n := v.deviceNode(a, d); n >= 0 {
		return v.Tree.Nodes[n].Subject
	}
	return ""
}

// guard is the device that clears a fault on a run, and guardAt the one that clears a
// fault at a node: the nearest towards the supply.
func (v *Review) guard(a *Run) Guard {
	for k := range a.Run.Devices {
		if d := &a.Run.Devices[k]; usableDevice(d) && v.deviceNode(a, d) == a.Segment.Near {
			return Guard{a, d}
		}
	}
	return v.guardAt(a.Segment.Near)
}

func (v *Review) guardAt(node int) Guard {
	const farthest = 1000 // runs; no network is so deep, and to the end of a chain it would be slow
	for n := 0; n < farthest && node >= 0 && v.Tree.Nodes[node].Up >= 0; n++ {
		a := &v.Runs[v.Tree.Nodes[node].Up]
		if a.Segment.State != network.Fed {
			return Guard{}
		}
		for _, end := range []int{a.Segment.Far, a.Segment.Near} {
			for k := range a.Run.Devices {
				if d := &a.Run.Devices[k]; usableDevice(d) && v.deviceNode(a, d) == end {
					return Guard{a, d}
				}
			}
		}
		node = a.Segment.Near
	}
	return Guard{}
}

// NextUp is the device in front of a device of a run, towards the supply; false where none is
// stated.
func (v *Review) NextUp(a *Run, d *design.Device) (g Guard, ok bool) {
	switch v.deviceNode(a, d) {
	case -1:
	case a.Segment.Far:
		g = v.guard(a)
	default:
		g = v.guardAt(a.Segment.Near)
	}
	return g, g.Device != nil
}

// Fault gives the faults on a run; false where it is not in the tree, or the design has no supply.
func (v *Review) Fault(a *Run) (_ Fault, ok bool) {
	if f := v.known.faultOf(v, a); f != nil {
		return *f, f.run != nil
	}
	s := a.Segment
	if s.State != network.Fed || v.faulted == nil {
		return Fault{}, false
	}
	return Fault{Near: v.Level(s.Near), Far: v.Level(s.Far), v: v, run: a, guard: v.guard(a)}, true
}

// At gives the prospective fault currents at a device of the run, unknown where it cannot be
// told where that stands.
func (f *Fault) At(device int) network.Level {
	if n := f.v.deviceNode(f.run, &f.run.Run.Devices[device]); n >= 0 {
		return f.v.Level(n)
	}
	return network.Level{}
}

// Withstand works out what the phase conductors of one leg withstand, and what comes.
func (f *Fault) Withstand() (w Withstand) {
	v, a := f.v, f.run
	if !usable(a) {
		return w
	}
	least := a.Least().MM2
	k, ref, gap := v.answers.k(v.Info.Family, protection.KCase{Conductor: a.Cable.Conductor.Value, Insulation: a.Cable.Insulation.Value, SizeMM2: least, Use: "live"})
	if gap != nil {
		w.AtNear.Gap, w.AtFar.Gap = gap, gap
		return w
	}
	w.K, w.KRef = k, ref
	w.HoldA2s = quantity.Of(k * k * least * least)
	device := f.guard.acts()
	w.AtNear = heat(&device, f.Near.MaxA, v.unknownLevel(true))
	w.AtFar = heat(&device, f.Far.LegMinA, v.unknownLevel(false))
	// A device that guards the conductors against overload clears such a fault before they
	// are hot, by a curve that is not at hand; a larger one does not.
	for _, h := range []*Heat{&w.AtNear, &w.AtFar} {
		if h.Late && a.CapacityA.Known && f.Guard().Device.RatedA.Value > a.CapacityA.Value {
			h.Gap = nil
		} else {
			h.Late = false
		}
	}
	w.Between = between(&device, f.Far.LegMinA, f.Near.MaxA)
	if w.AtFar.Gap != nil && w.AtFar.Unstated {
		w.AtFar = Heat{CurrentA: w.AtFar.CurrentA, Covered: true}
	}
	return w
}

// between is the greatest heat of a fault with a current between two; unknown where the
// ends are the worst.
func between(device *clears, low, high quantity.Maybe) (worst Heat) {
	if device.gap != nil || !low.Known || !high.Known {
		return worst
	}
	for _, a := range device.Worst(low.Value, high.Value) {
		if h := heat(device, quantity.Of(a), nil); h.A2s.Known && h.A2s.Value > worst.A2s.Value {
			worst = h
		}
	}
	return worst
}

// unknownLevel says why a fault current is not known.
func (v *Review) unknownLevel(greatest bool) *ratings.Gap {
	switch s := v.Design.Supplies[0]; {
	case greatest:
		return noGreatest
	case !s.FaultMinKA.Known():
		return noLeastStated
	case !s.EarthLoopOhm.Known() && s.Earthing.Value != "tt" && s.Earthing.Value != "it":
		return noLoopStated
	}
	return noLeast
}

const (
	leastUnknown = "the least fault current is not known: "
	pathUnknown  = "an impedance on the path or the current of a source is not known"
)

// Gaps that many runs share.
var (
	noDevice      = &ratings.Gap{Reason: "no device is stated in front of it", Next: "add a device block; at = supply.NAME stands for the network's own"}
	noSuchSetting = &ratings.Gap{Reason: "a setting of the device in front of it cannot be", Next: "mend what is told of it"}
	noGreatest    = &ratings.Gap{Reason: "the greatest fault current is not known: " + pathUnknown}
	noLeast       = &ratings.Gap{Reason: leastUnknown + pathUnknown}
	noLeastStated = &ratings.Gap{Reason: leastUnknown + "the supply does not state fault_min_ka"}
	noLoopStated  = &ratings.Gap{Reason: leastUnknown + "the supply does not state earth_loop_ohm, by which a fault to neutral returns"}
	noNear        = &ratings.Gap{Reason: "the greatest fault current is not known"}
	noFarEarth    = &ratings.Gap{Reason: "the earth fault current at the far end is not known"}
	noEarthing    = &ratings.Gap{Reason: "the supply does not state earthing", Next: "add earthing"}
	noIT          = &ratings.Gap{Reason: "the first fault of an IT system is not assessed, and neither is the second", Next: "have it assessed by hand"}
	noLoop        = &ratings.Gap{Reason: "the supply does not state earth_loop_ohm", Next: "ask the network, or measure it"}
	noReturn      = &ratings.Gap{Reason: "what an earth fault returns by is not known on every run of the path", Next: "add earth_mm2 to the runs, or earth_r_ohm_km"}
	noArmour      = &ratings.Gap{Reason: "the armour as earth conductor is not assessed", Next: "hold its area against the table by hand"}
	noEarthSize   = &ratings.Gap{Reason: "the run does not state earth_mm2", Next: "add earth_mm2"}
)

// heat is what a current heats a conductor with until a device clears it.
func heat(device *clears, current quantity.Maybe, unknown *ratings.Gap) Heat {
	h := Heat{CurrentA: current}
	switch {
	case !current.Known:
		h.Gap = unknown
		return h
	case device.gap != nil:
		h.Gap = device.gap
		return h
	}
	c, gap := device.Clear(current.Value)
	if gap != nil {
		h.Gap = gap
		return h
	}
	if c.S > adiabaticS {
		h.Seconds, h.Ref, h.Late = quantity.Of(c.S), c.Ref, true
		h.Gap = &ratings.Gap{Reason: fmt.Sprintf("a fault too small for the instantaneous trip of its device is not certain to be cleared within %s", quantity.Second.Print(adiabaticS)), Next: "add curve, from the maker's sheet, or set a lower trip"}
		return h
	}
	if !c.Under {
		h.Seconds, h.A2s, h.Ref = quantity.Of(c.S), quantity.Of(current.Value*current.Value*c.S), c.Ref
		return h
	}
	a2s, ref, gap := device.LetThroughA2s(current.Value)
	if gap != nil {
		h.Gap, h.Unstated = gap, true
		return h
	}
	h.A2s, h.Ref = quantity.Of(a2s), ref
	return h
}

// Disconnect works out how long an earth fault at the far end lasts, and may last.
func (f *Fault) Disconnect() (d Disconnect) {
	v, a := f.v, f.run
	supply := v.Design.Supplies[0]
	switch {
	case !supply.Earthing.Known():
		d.Gap = noEarthing
		return d
	case supply.Earthing.Value == "it":
		d.Gap = noIT
		return d
	}
	device := f.guard.acts()
	switch {
	case device.gap != nil:
		d.Gap = device.gap
		return d
	case !supply.EarthLoopOhm.Known():
		d.Gap = noLoop
		return d
	case !f.Far.EarthMinA.Known:
		d.Gap = noReturn
		return d
	}
	u0 := v.Tree.VoltageV.Value / math.Sqrt(3)
	final := v.Tree.Nodes[a.Segment.Far].Source != nil && f.Guard().Own(a) && f.Guard().Device.RatedA.Value <= finalA
	system := "tn"
	if supply.Earthing.Value == "tt" {
		system = "tt"
	}
	if a.Run.DisconnectionS.Known() {
		d.LimitS, d.LimitBy = a.Run.DisconnectionS.Maybe(), ratings.Ref{Text: "stated for the run", Status: ratings.Given}
	} else {
		s, ref, no := protection.DisconnectionS(v.Info.Family, system, final, u0)
		if no != nil {
			d.Gap = no
			return d
		}
		d.LimitS, d.LimitBy = quantity.Of(s), ref
	}
	current := f.Far.LegEarthMinA.Value
	d.InLeg = current < f.Far.EarthMinA.Value*(1-1e-9)
	d.LoopA, d.LoopOhm = quantity.Of(current), quantity.Of(v.Design.Site().VoltageFactorMin.Value*u0/current)
	if rcd := f.Guard().Device; rcd.RCD.Known() && rcd.RCD.Value != "none" && rcd.RCDmA.Known() {
		d.ByRCD = true
		d.TakesS, d.Ref = quantity.Of(residualS), ratings.Ref{Text: "IEC 61008-1, at the rated residual current", Status: ratings.Memory}
		if current >= 5*rcd.RCDmA.Value/1000 {
			d.TakesS = quantity.Of(0.04)
			d.Ref.Text = "IEC 61008-1, at five times the rated residual current"
		}
		d.NeedsA = quantity.Of(rcd.RCDmA.Value / 1000)
		if !quantity.AtMost(d.NeedsA.Value, current) {
			d.TakesS, d.Ref.Text = quantity.Of(math.MaxFloat64), "below the rated residual current"
		}
		if system == "tt" {
			d.TouchV = quantity.Of(d.LoopOhm.Value * rcd.RCDmA.Value / 1000)
		}
		return d
	}
	if needs, _, no := device.NeedsA(d.LimitS.Value); no == nil {
		d.NeedsA = quantity.Of(needs)
		d.MostOhm = quantity.Of(v.Design.Site().VoltageFactorMin.Value * u0 / needs)
	}
	c, no := device.Clear(current)
	switch {
	case no == nil:
		d.TakesS, d.Ref = quantity.Of(c.S), c.Ref
	case d.NeedsA.Known && !quantity.AtMost(d.NeedsA.Value, current):
		d.TakesS, d.Ref = quantity.Of(math.MaxFloat64), ratings.Ref{Text: no.Reason}
	default:
		d.Gap = no
	}
	return d
}

// adiabaticS is the longest time for which I2t = k2S2 holds, s (IEC 60364-4-43 clause
// 434.5.2, from memory).
const adiabaticS = 5

// finalA is the greatest rating of a circuit that counts as final, A (IEC 60364-4-41
// clause 411.3.2.2, from memory).
const finalA = 32

// Earth holds the earth conductor against table and adiabatic equation.
func (f *Fault) Earth() (e Earth) {
	v, a := f.v, f.run
	if !usable(a) || v.neutralIsEarth(a) {
		return e
	}
	switch n := a.Run.EarthMM2; {
	case a.Run.EarthBy.Value == "armour":
		e.Gap = noArmour
		return e
	case !n.Known():
		e.Gap = noEarthSize
		return e
	}
	e.MM2 = a.Run.EarthMM2.Maybe()
	metal := cmp.Or(a.Run.EarthConductor.Value, a.Cable.Conductor.Value)
	phase := a.Run.Size.MM2
	if v.earthApart(a) {
		phase *= float64(a.Legs)
	}
	rated := quantity.Maybe{}
	if f.Guard() != nil {
		rated = f.Guard().Device.RatedA.Maybe()
	}
	mm2, ref, gap := protection.EarthMin(v.Info.Family, phase, a.Cable.Conductor.Value, metal, rated)
	if gap != nil {
		e.Gap = gap
	} else {
		e.TableMM2, e.TableRef = quantity.Of(mm2), ref
	}
	least, by := 0.0, ratings.Ref{}
	if v.earthApart(a) {
		least, by = protection.SeparateEarthMin(v.Info.Family, metal)
	}
	if e.TableMM2.Known && e.TableMM2.Value < least {
		e.TableMM2.Value, e.TableRef = least, by
	}
	use := "separate"
	if !v.earthApart(a) {
		use = "core"
	}
	k, kref, gap := v.answers.k(v.Info.Family, protection.KCase{Conductor: metal, Insulation: a.Cable.Insulation.Value, SizeMM2: a.Run.EarthMM2.Value, Use: use})
	if gap != nil {
		e.HeatGap = gap
		return e
	}
	worst := 0.0
	device := f.guard.acts()
	near := heat(&device, f.Near.MaxA, noNear)
	far := heat(&device, f.Far.LegEarthMinA, noFarEarth)
	for _, h := range []Heat{near, far} {
		if h.Unstated && h.CurrentA == far.CurrentA {
			continue // the greatest current is the case that counts
		}
		if h.Gap != nil {
			e.HeatGap = h.Gap
			return e
		}
		worst = max(worst, h.A2s.Value)
	}
	worst = max(worst, between(&device, f.Far.LegEarthMinA, f.Near.MaxA).A2s.Value)
	e.HeatMM2, e.HeatRef = quantity.Of(math.Sqrt(worst)/k), kref
	if e.HeatMM2.Value < least {
		e.HeatMM2.Value, e.HeatRef, e.Least = least, by, true
	}
	return e
}

// Steps lists the working of a run's faults for calc and documents.
func (f *Fault) Steps() (steps []ratings.Step) {
	v, a, w, d, e := f.v, f.run, f.Withstand(), f.Disconnect(), f.Earth()
	add := func(symbol, meaning, unit string, value quantity.Maybe, ref ratings.Ref) {
		if value.Known && quantity.Finite(value.Value) && value.Value < math.MaxFloat64 {
			steps = append(steps, ratings.Step{Symbol: symbol, Meaning: meaning, Unit: unit, Value: value.Value, Ref: ref})
		}
	}
	kilo := func(m quantity.Maybe) quantity.Maybe { return quantity.Maybe{Value: m.Value / 1000, Known: m.Known} }
	voltage := ratings.Ref{Text: fmt.Sprintf("c U / (sqrt3 |Z|), c = %s; IEC 60909-0 clause 4", quantity.Ratio.Print(v.Design.Site().VoltageFactorMax.Value)), Status: ratings.Memory}
	least := ratings.Ref{Text: fmt.Sprintf("least of line to line and line to neutral, c = %s, conductors at their limit; IEC 60909-0 clause 4", quantity.Ratio.Print(v.Design.Site().VoltageFactorMin.Value)), Status: ratings.Memory}
	add("Ik max", "three-phase fault at the near end, cold, with what the sources feed", "kA", kilo(f.Near.MaxA), voltage)
	if f.Near.MaxA.Known {
		add("Ik feed", "the sources' part of it", "kA", quantity.Of(f.Near.FeedA/1000), ratings.Ref{Text: "fault_a, else 1.2 times the rated current, common practice"})
	}
	add("Ik max far", "three-phase fault at the far end", "kA", kilo(f.Far.MaxA), voltage)
	add("Ik min", "least short circuit at the far end, hot", "kA", kilo(f.Far.MinA), least)
	if a.Legs > 2 {
		add("Ik min leg", "the same for a fault at the worst place in one leg", "kA", kilo(f.Far.LegMinA), least)
		add("Ief min leg", "earth fault at the worst place in one leg", "kA", kilo(f.Far.LegEarthMinA), ratings.Ref{})
	}
	add("Zs", "earth-fault loop at the far end, hot", "ohm", f.Far.LoopOhm, ratings.Ref{Text: "supply, phase and return added"})
	add("Ief min", "earth fault at the far end, hot", "kA", kilo(f.Far.EarthMinA), ratings.Ref{Text: fmt.Sprintf("c U0 / Zs, c = %s", quantity.Ratio.Print(v.Design.Site().VoltageFactorMin.Value))})
	add("Ief max", "earth fault at the far end, cold, with what the sources feed", "kA", kilo(f.Far.EarthMaxA), voltage)
	add("k", "of the phase conductor", "A s^0.5/mm2", quantity.Maybe{Value: w.K, Known: w.K > 0}, w.KRef)
	add("k2S2", "heat that one leg withstands", "A2s", w.HoldA2s, ratings.Ref{Text: "IEC 60364-4-43 clause 434.5.2", Status: ratings.Memory})
	add("I2t near", "heat of the greatest fault until it is cleared", "A2s", w.AtNear.A2s, w.AtNear.Ref)
	add("I2t far", "heat of the least fault until it is cleared", "A2s", w.AtFar.A2s, w.AtFar.Ref)
	add("I between", "fault on the way that heats them more", "kA", kilo(w.Between.CurrentA), w.Between.Ref)
	add("I2t between", "its heat until it is cleared", "A2s", w.Between.A2s, w.Between.Ref)
	add("t far", "time to clear the least fault", "s", w.AtFar.Seconds, w.AtFar.Ref)
	add("t earth", "time to clear an earth fault at the far end", "s", d.TakesS, d.Ref)
	add("t limit", "time allowed for that", "s", d.LimitS, d.LimitBy)
	add("Ia", "current that clears it in that time", "A", d.NeedsA, ratings.Ref{})
	add("Zs max", "loop that gives that current", "ohm", d.MostOhm, ratings.Ref{Text: "c U0 / Ia"})
	add("Ut", "touch voltage, loop times residual current", "V", d.TouchV, ratings.Ref{Text: "IEC 60364-4-41 clause 411.5.3", Status: ratings.Memory})
	add("S earth", "earth conductor by the table", "mm2", e.TableMM2, e.TableRef)
	add("S heat", "earth conductor by sqrt(I2t)/k", "mm2", e.HeatMM2, e.HeatRef)
	return steps
}

// Gaps says in words what could not be checked of a run's faults.
func (f *Fault) Gaps() []string {
	w, d, e := f.Withstand(), f.Disconnect(), f.Earth()
	var list []string
	for _, g := range []struct {
		what string
		gap  *ratings.Gap
	}{
		{"withstand at the near end", w.AtNear.Gap},
		{"withstand at the far end", w.AtFar.Gap},
		{"clearing of an earth fault", d.Gap},
		{"earth conductor by the table", e.Gap},
		{"earth conductor by heat", e.HeatGap},
	} {
		if g.gap != nil {
			list = append(list, g.what+": "+g.gap.Reason)
		}
	}
	return list
}
