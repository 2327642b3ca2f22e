// Package rules holds what a review looks at: one file a rule, its cases in
// testdata/<rule>/. A rule compares and explains figures that lint/assess has
// worked out; it does no arithmetic of its own beyond a ratio to print.
package rules

import (
	"embed"

	"trefoil/lint/engine"
	"trefoil/lint/finding"
)

//go:embed testdata
var cases embed.FS

// Case gives the text of a rule's case, a txtar archive: prose, then the design
// with its expected findings as comments.
func Case(rule, name string) ([]byte, bool) {
	text, err := cases.ReadFile("testdata/" + rule + "/" + name + ".txtar")
	return text, err == nil
}

// All lists the rules in order of name.
func All() []*engine.Rule {
	return []*engine.Rule{
		ApprovalExpired,
		ApprovalNotChecked,
		AsBuiltDiffers,
		AsBuiltUnrecorded,
		BendTooTight,
		BlockUnused,
		BoardDiversityLow,
		BoardNotChecked,
		BoardWithstandExceeded,
		BreakingNotChecked,
		BreakingTooLow,
		BrokenText,
		BusbarOverloaded,
		CablesJam,
		CapacityComputed,
		ChargeAssumed,
		ConditionsAssumed,
		ConductorOverheated,
		ConductorsApart,
		ConduitOverfilled,
		ContainmentNotChecked,
		CoreEncircled,
		CoreInSteel,
		DeviceAboveCapacity,
		DeviceAgainstMaker,
		DeviceAtWrongEnd,
		DeviceBelowCurrent,
		DeviceDerated,
		DeviceHeatUnstated,
		DeviceMissing,
		DeviceShared,
		DisconnectionLate,
		DisconnectionNotChecked,
		DropLimitMissing,
		EarthCoreMissing,
		EarthNotChecked,
		EarthTooSmall,
		EditionNotApproved,
		EditionSuperseded,
		EquipmentNotApproved,
		ExportAboveApproved,
		FactorUnexplained,
		FireSealMissing,
		FreeAirRatedLower,
		HiddenUnguarded,
		InsulationRatedLower,
		LegOverloaded,
		LegTooSmall,
		LegUnprotected,
		LegsUnequal,
		LegsUngrouped,
		LengthEstimated,
		LengthUnlikely,
		MarginThin,
		MixedSizes,
		NameTaken,
		NetworkShape,
		NeutralMissing,
		NeutralTooSmall,
		OtherCircuitsUnstated,
		PhaseUnbalance,
		PhaseUnstated,
		PriceMissing,
		PriceOutdated,
		RCDNotChecked,
		RCDUnsuited,
		RiseLimitMissing,
		RiseLimitUnfounded,
		RiseNotExact,
		RunNotAssessed,
		RunOverloaded,
		SelectivityLost,
		ServicesMixed,
		ShareExceeded,
		SheathInSun,
		SizeBelowLeast,
		SpacingUnheld,
		SpacingUnstated,
		StandoffUnstated,
		StrandsTooFine,
		SunAssumed,
		SwitchBelowCurrent,
		TerminalMetalUnsuited,
		TerminalOverheated,
		TerminalSizeUnsuited,
		TerminalsNotChecked,
		ThresholdUnmet,
		TransformerOverfed,
		TrayOverloaded,
		TrayTooNarrow,
		UnknownReference,
		UnknownWord,
		ValueImpossible,
		ValueMissing,
		VoltageAboveWindow,
		VoltageDrop,
		VoltageRise,
		VoltageUnbalance,
		WaiverStale,
		WindowNotChecked,
		WithstandExceeded,
		WithstandNotChecked,
	}
}

// told makes a check that passes on what reading, the network or the assessment
// has already found under a name.
func told(name string) func(*engine.Review) {
	return func(r *engine.Review) {
		for _, list := range [][]finding.Finding{r.Design.Faults, r.Tree.Faults, r.Faults} {
			for _, f := range list {
				if f.Rule == name {
					r.Find(f)
				}
			}
		}
	}
}

// noted makes a check that tells a rating's notes of one kind, once a route.
func noted(kind string) func(*engine.Review) {
	return func(r *engine.Review) {
		type key struct {
			subject, text string
		}
		seen := map[key]bool{}
		for a := range r.EachRun() {
			for k := range a.Sections {
				s := &a.Sections[k]
				if s.Route == nil || s.Rating == nil {
					continue
				}
				for _, n := range s.Rating.Notes {
					if n.Kind != kind || seen[key{s.Route.Name, n.Text}] {
						continue
					}
					seen[key{s.Route.Name, n.Text}] = true
					r.Find(r.At(s.Route.At, s.Route.Subject(), `route "`+s.Route.Name+`": `+n.Text, ""))
				}
			}
		}
	}
}
