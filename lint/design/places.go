package design

import (
	"reflect"

	"trefoil/lint/source"
)

// The places of the kinds of block that are many, each by name: to look for them by
// reflection takes thirty times as long. A test holds them against that.

func (o *Object) places(see func(*source.Range)) {
	for _, at := range [...]*source.Range{
		&o.At, &o.Whole,
	} {
		see(at)
	}
}

func (r *Run) places(see func(*source.Range)) {
	r.Object.places(see)
	for _, at := range [...]*source.Range{
		&r.Note.At, &r.From.At, &r.To.At, &r.Cable.At, &r.SizeMM2.At, &r.SizeKcmil.At, &r.SizeAWG.At, &r.SizeAt, &r.EarthMM2.At, &r.EarthConductor.At,
		&r.EarthBy.At, &r.EarthROhmKM.At, &r.NeutralMM2.At, &r.DisconnectionS.At, &r.Class.At, &r.Parallel.At, &r.LegLengthsM.At,
		&r.LegsGrouped.At, &r.LegDeviceA.At, &r.LegDeviceKind.At, &r.NeverWithReason.At, &r.NeverWithAt,
	} {
		see(at)
	}
	for i := range r.Devices {
		r.Devices[i].places(see)
	}
	for i := range r.Sections {
		r.Sections[i].places(see)
	}
	for i := range r.Ends {
		r.Ends[i].places(see)
	}
	for i := range r.NeverWith {
		see(&r.NeverWith[i].At)
	}
	if r.Built != nil {
		everyPlace(reflect.ValueOf(r.Built), see)
	}
}

func (d *Device) places(see func(*source.Range)) {
	for _, at := range [...]*source.Range{
		&d.At, &d.Board.At, &d.Kind.At, &d.RatedA.At, &d.BreakingKA.At, &d.FuseType.At, &d.FullRated.At, &d.Trip.At, &d.InstantA.At, &d.ShortA.At,
		&d.ShortS.At, &d.Curve.At, &d.LetThrough.At, &d.AmbientFactor.At, &d.RowFactor.At, &d.FactorOrigin.At, &d.RCD.At, &d.RCDmA.At,
		&d.SelectiveToKA.At, &d.BackedUpKA.At, &d.BackedUpOrigin.At,
	} {
		see(at)
	}
	if d.Terminals != nil {
		d.Terminals.places(see)
	}
}

func (s *Section) places(see func(*source.Range)) {
	for _, at := range [...]*source.Range{
		&s.At, &s.Route.At, &s.LengthM.At, &s.LengthFrom.At, &s.SizeMM2.At,
	} {
		see(at)
	}
}

func (e *End) places(see func(*source.Range)) {
	for _, at := range [...]*source.Range{
		&e.At, &e.Where.At, &e.Lug.At, &e.Tail.At, &e.StudMM.At,
	} {
		see(at)
	}
}

func (t *Terminals) places(see func(*source.Range)) {
	for _, at := range [...]*source.Range{
		&t.At, &t.Materials.At, &t.MinMM2.At, &t.MaxMM2.At, &t.MinDeviceA.At, &t.MaxDeviceA.At, &t.MaxC.At, &t.ConductorsPerPole.At,
		&t.FinestStrand.At, &t.StudMM.At, &t.GlandMinMM.At, &t.GlandMaxMM.At, &t.SpaceMM.At,
	} {
		see(at)
	}
}

func (s *Source) places(see func(*source.Range)) {
	s.Object.places(see)
	for _, at := range [...]*source.Range{
		&s.Note.At, &s.SourceKind.At, &s.RatedKVA.At, &s.MaxCurrentA.At, &s.PowerFactor.At, &s.Reactive.At, &s.Phases.At, &s.Phase.At, &s.NeedsNeutral.At,
		&s.ThirdHarmonicPercent.At, &s.Model.At, &s.MaxV.At, &s.FaultA.At, &s.ChargeA.At, &s.ChargeKVA.At, &s.Holds.At, &s.RCD.At, &s.RCDmA.At,
	} {
		see(at)
	}
	if s.Terminals != nil {
		s.Terminals.places(see)
	}
	if s.Isolator != nil {
		everyPlace(reflect.ValueOf(s.Isolator), see)
	}
}

func (b *Board) places(see func(*source.Range)) {
	b.Object.places(see)
	for _, at := range [...]*source.Range{
		&b.Note.At, &b.RatedA.At, &b.RatedShortTimeKA.At, &b.Diversity.At, &b.InsideC.At, &b.DemandA.At, &b.DemandPowerFactor.At, &b.RatedConditionalKA.At,
		&b.Holds.At, &b.SourcesAt.At, &b.GlandPlate.At, &b.Entry.At,
	} {
		see(at)
	}
	if b.Terminals != nil {
		b.Terminals.places(see)
	}
	if b.MainSwitch != nil {
		everyPlace(reflect.ValueOf(b.MainSwitch), see)
	}
	if b.Portions != nil {
		everyPlace(reflect.ValueOf(b.Portions), see)
	}
}

func (r *Route) places(see func(*source.Range)) {
	r.Object.places(see)
	for _, at := range [...]*source.Range{
		&r.Note.At, &r.Laid.At, &r.Lid.At, &r.Spacing.At, &r.SpacingMM.At, &r.Tiers.At, &r.Vertical.At, &r.AirC.At, &r.SoilC.At, &r.SoilKmW.At, &r.DepthM.At,
		&r.Sun.At, &r.SunAddsC.At, &r.SunAddsOrigin.At, &r.OtherCircuits.At, &r.Ducts.At, &r.DuctCount.At, &r.HeldBy.At, &r.StandoffMM.At,
		&r.DepthFactor.At, &r.DepthFactorOrigin.At, &r.ExtraFactor.At, &r.ExtraFactorReason.At, &r.DuctInsideMM.At, &r.DuctOutsideMM.At,
		&r.WidthMM.At, &r.Hidden.At, &r.Guarded.At, &r.HeightMM.At, &r.SparePercent.At, &r.Layers.At, &r.FillLimitPercent.At,
		&r.FillLimitOrigin.At, &r.OtherOuterMM.At, &r.OtherKgM.At, &r.SpanM.At, &r.LoadKgM.At, &r.LoadSpanM.At, &r.AddedKgM.At, &r.LoadOrigin.At,
		&r.BendMM.At, &r.Material.At, &r.Encircled.At, &r.Together.At, &r.AlsoHolds.At, &r.Barrier.At, &r.FireBarriers.At, &r.FireSeals.At,
		&r.LengthM.At, &r.WorkHeightM.At, &r.Access.At, &r.Existing.At,
	} {
		see(at)
	}
}

// places shows every range of an object.
func places(o any, see func(*source.Range)) {
	switch o := o.(type) {
	case *Run:
		o.places(see)
	case *Source:
		o.places(see)
	case *Board:
		o.places(see)
	case *Route:
		o.places(see)
	default:
		everyPlace(reflect.ValueOf(o), see)
	}
}

// everyPlace looks for them by reflection.
func everyPlace(v reflect.Value, see func(*source.Range)) {
	switch {
	case v.Type() == rangeType:
		see(v.Addr().Interface().(*source.Range))
	case v.Kind() == reflect.Struct:
		for i := range v.NumField() {
			if v.Type().Field(i).IsExported() {
				everyPlace(v.Field(i), see)
			}
		}
	case v.Kind() == reflect.Slice:
		for i := range v.Len() {
			everyPlace(v.Index(i), see)
		}
	case v.Kind() == reflect.Pointer && !v.IsNil():
		everyPlace(v.Elem(), see)
	}
}
