package rules

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"trefoil/lint/design"
	"trefoil/lint/engine"
	"trefoil/lint/finding"
	"trefoil/lint/source"
	"trefoil/ratings/methods"
	"trefoil/ratings/quantity"
)

// FactorUnexplained warns of a figure that takes the place of a standard's and says not why.
var FactorUnexplained = &engine.Rule{
	Name: "factor-unexplained", Summary: "a figure takes the place of a standard's and does not say where it is from", Severity: finding.Warning,
	Clause: engine.Clause{Own: "a figure that nobody can trace is nobody's"}, Wide: true, Since: "0.1.0", Check: factorUnexplained,
	Doc: engine.Doc{
		Checks: "That what overrides a table says why: sun_adds_c below the 20 degC that are taken otherwise has sun_adds_origin; voltage_factor_max below 1.05 and voltage_factor_min above 0.95 have voltage_factor_origin; each data block of a cable that gives resistance, reactance or capacity has origin; and that depth_factor_origin, extra_factor_reason and factor_origin are more than blanks. " +
			"A depth_factor, extra_factor, ambient_factor or row_factor without any is an error of value-missing.",
		Why:   "A factor is turned until the design passes, and the next reader takes it for the standard's.",
		Blind: "Whether the reason is a good one; conditions such as air_c, which a note of the block may explain.", Sources: "Common practice.", Bad: "no-origin", Good: "origins",
	},
}

func factorUnexplained(r *engine.Review) {
	tell := func(at source.Range, subject, what, attr string) {
		r.Find(r.At(at, subject, what, "say in "+attr+" where it is from"))
	}
	blank := func(t design.Text) bool { return t.Origin != design.Faulty && strings.TrimSpace(t.Value) == "" }
	spaces := func(f design.Num, t design.Text) bool { return f.Known() && t.Origin == design.Stated && blank(t) }
	if s := r.Design.Site(); s != nil {
		if s.SunAddsC.Origin == design.Stated && s.SunAddsC.Value < methods.SunAddsC && blank(s.SunAddsOrigin) {
			tell(s.SunAddsC.At, s.Subject(), fmt.Sprintf("the sun is taken to add %s, and nobody says why", quantity.Celsius.Print(s.SunAddsC.Value)), "sun_adds_origin")
		}
		for _, f := range []struct {
			name   string
			num    design.Num
			kinder bool
		}{{"voltage_factor_max", s.VoltageFactorMax, s.VoltageFactorMax.Value < design.UsualFactorMax}, {"voltage_factor_min", s.VoltageFactorMin, s.VoltageFactorMin.Value > design.UsualFactorMin}} {
			if f.num.Origin == design.Stated && f.kinder && blank(s.VoltageFactorOrigin) {
				tell(f.num.At, s.Subject(), fmt.Sprintf("%s is %s, and nobody says why", f.name, quantity.Ratio.Print(f.num.Value)), "voltage_factor_origin")
			}
		}
	}
	for route := range r.EachRoute() {
		if route.SunAddsC.Origin == design.Stated && route.SunAddsC.Value < methods.SunAddsC && blank(route.SunAddsOrigin) {
			tell(route.SunAddsC.At, route.Subject(), fmt.Sprintf("the sun is taken to add %s to route %q, and nobody says why", quantity.Celsius.Print(route.SunAddsC.Value), route.Name), "sun_adds_origin")
		}
		if spaces(route.DepthFactor, route.DepthFactorOrigin) {
			tell(route.DepthFactorOrigin.At, route.Subject(), fmt.Sprintf("depth_factor of route %q is %s, and its origin is blank", route.Name, quantity.Ratio.Print(route.DepthFactor.Value)), "depth_factor_origin")
		}
		if spaces(route.ExtraFactor, route.ExtraFactorReason) {
			tell(route.ExtraFactorReason.At, route.Subject(), fmt.Sprintf("extra_factor of route %q is %s, and its reason is blank", route.Name, quantity.Ratio.Print(route.ExtraFactor.Value)), "extra_factor_reason")
		}
	}
	for _, c := range r.Design.Cables {
		for i := range c.Data {
			if data := &c.Data[i]; blank(data.Origin) && (data.ROhmKM.Known() || data.XOhmKM.Known() || data.CapacityA.Known()) {
				tell(data.At, c.Subject(), fmt.Sprintf("the data of %s of cable %q take the place of a table, and nobody says where they are from", data.Size, c.Name), "origin")
			}
		}
	}
	for _, run := range r.Design.Runs {
		for i := range run.Devices {
			d := &run.Devices[i]
			if spaces(d.AmbientFactor, d.FactorOrigin) || spaces(d.RowFactor, d.FactorOrigin) {
				tell(d.FactorOrigin.At, run.Subject(), fmt.Sprintf("a factor of a device of run %q has a blank origin", run.Name), "factor_origin")
			}
		}
	}
}

// AsBuiltDiffers reports a run that was laid otherwise than it is designed.
var AsBuiltDiffers = &engine.Rule{
	Name: "as-built-differs", Summary: "a run was laid otherwise than it is designed", Severity: finding.Error,
	Clause: engine.Clause{Publication: "IEC 60364-6", Edition: "2016", Number: "clause 6.4.2, inspection against the design (number from memory)"}, Since: "0.1.0", Check: asBuiltDiffers,
	Doc: engine.Doc{
		Checks:  "The built block of each run against the run: the length as laid against the sum of its sections, beyond built_tolerance_percent of the site either way; size, legs and the setting of a device, which must be equal. An error at stage as-built, before that a warning.",
		Why:     "Rise, loop and drop were worked out for other metres than those in the ground, and the sheet that is handed over says the old ones.",
		Accepts: "the difference of the length in percent of the designed one",
		Blind:   "Routes, cable types, terminations and sections of another size as laid; runs without a built block, which as-built-unrecorded tells.", Sources: "Common practice.", Bad: "longer", Good: "as-designed",
	},
}

func asBuiltDiffers(r *engine.Review) {
	site := r.Design.Site()
	if site == nil {
		return
	}
	for a := range r.EachRun() {
		run, b := a.Run, a.Run.Built
		if b == nil {
			continue
		}
		tell := func(at source.Range, message, next string, related source.Range) *finding.Finding {
			f := r.At(at, run.Subject(), message+inOrigin(b.By), next)
			if site.Stage.Value != "as-built" {
				f.Severity = finding.Warning
			}
			f.Related = []finding.Related{{At: related, Message: "as designed"}}
			return &f
		}
		if tolerance := site.BuiltTolerancePercent; b.LengthM.Known() && a.LengthM.Known && tolerance.Known() {
			differs := 100 * math.Abs(b.LengthM.Value/a.LengthM.Value-1)
			if !quantity.AtMost(differs, tolerance.Value) {
				laid, drawn := quantity.Metre.Apart(b.LengthM.Value, a.LengthM.Value)
				got, most := quantity.Percent.Apart(differs, tolerance.Value)
				way := "more"
				if b.LengthM.Value < a.LengthM.Value {
					way = "less"
				}
				f := tell(b.LengthM.At, fmt.Sprintf("run %q was laid %s long and is designed for %s, %s %s, beyond the tolerance of %s", run.Name, laid, drawn, got, way, most), "write the measured lengths into its sections, and look at rise and loop again", run.Sections[0].LengthM.At)
				f.Figures = []finding.Figure{{Key: "built_m", Value: b.LengthM.Value}, {Key: "length_m", Value: a.LengthM.Value}, {Key: "limit_percent", Value: tolerance.Value}}
				f.Percent, f.HasPercent = differs, true
				r.Find(*f)
			}
		}
		if !b.Size.Zero() && !run.Size.Zero() && b.Size != run.Size {
			r.Find(*tell(b.SizeAt, fmt.Sprintf("run %q was laid with %s and is designed with %s", run.Name, b.Size, run.Size), "write what was laid into the run, and look at what is found then", run.SizeAt))
		}
		if b.Parallel.Known() && run.Parallel.Known() && b.Parallel.Value != run.Parallel.Value {
			r.Find(*tell(b.Parallel.At, fmt.Sprintf("run %q was laid with %s and is designed with %s", run.Name, countLegs(b.Parallel.Value), countLegs(run.Parallel.Value)), "write what was laid into the run, and look at what is found then", firstAt(run.Parallel.At, run.At)))
		}
		if b.DeviceA.Known() && len(run.Devices) > 0 && !slices.ContainsFunc(run.Devices, func(d design.Device) bool { return !d.RatedA.Known() || d.RatedA.Value == b.DeviceA.Value }) {
			d := &run.Devices[0]
			r.Find(*tell(b.DeviceA.At, fmt.Sprintf("the device of run %q is set at %s and designed for %s", run.Name, quantity.Ampere.Print(b.DeviceA.Value), quantity.Ampere.Print(d.RatedA.Value)), "set it as designed, or write the setting into the run and look at what is found then", d.RatedA.At))
		}
	}
}

func countLegs(n float64) string {
	if n == 1 {
		return "1 leg"
	}
	return fmt.Sprintf("%g legs", n)
}

// AsBuiltUnrecorded warns of runs without record of what was laid.
var AsBuiltUnrecorded = &engine.Rule{
	Name: "as-built-unrecorded", Summary: "the design is as-built, and runs do not say what was laid", Severity: finding.Warning,
	Clause: engine.Clause{Own: "a record that nobody wrote is the design under another name"}, Wide: true, Since: "0.1.0", Check: asBuiltUnrecorded,
	Doc: engine.Doc{
		Checks: "At stage as-built: that each run has a built block with a length and a size, and a device_a where the run has a device; and, at any stage, that the site states built_tolerance_percent where a length as laid is given. Told once.",
		Why:    "What is handed over is read for thirty years as what lies in the wall.",
		Blind:  "Whether somebody measured.", Sources: "Common practice.", Bad: "nothing-recorded", Good: "recorded",
	},
}

func asBuiltUnrecorded(r *engine.Review) {
	site := r.Design.Site()
	if site == nil || r.Design.Broken {
		return
	}
	done := site.Stage.Value == "as-built"
	var none, length, size, device finding.Names
	var parts, next []string
	measured := false
	for _, run := range r.Design.Runs {
		b := run.Built
		switch {
		case b == nil:
			none.Add(run.Name)
			continue
		case b.LengthM.Origin == design.Absent:
			length.Add(run.Name)
		default:
			measured = true
		}
		if b.SizeMM2.Origin == design.Absent && b.SizeKcmil.Origin == design.Absent && b.SizeAWG.Origin == design.Absent {
			size.Add(run.Name)
		}
		if b.DeviceA.Origin == design.Absent && len(run.Devices) > 0 {
			device.Add(run.Name)
		}
	}
	if done {
		for _, x := range []struct {
			names        finding.Names
			what, advice string
		}{
			{none, "no built block", "add built { length_m, size_mm2, device_a } as found on site"},
			{length, "no length as laid", "add length_m to built"},
			{size, "no size as laid", "add the size to built"},
			{device, "no setting of a device as found", "add device_a to built"},
		} {
			if n := x.names.Len(); n > 0 {
				parts = append(parts, fmt.Sprintf("%s (%s%s)", x.what, plural(n, "run ", "runs "), x.names))
				next = append(next, x.advice)
			}
		}
	}
	if measured && site.BuiltTolerancePercent.Origin == design.Absent {
		parts = append(parts, "lengths as laid are held against nothing, for the site states no built_tolerance_percent")
		next = append(next, "add built_tolerance_percent")
	}
	if len(parts) > 0 {
		r.Find(r.At(firstAt(site.Stage.At, site.At), site.Subject(), "what was laid is not known whole: "+strings.Join(parts, "; "), once(next, 4)))
	}
}
