// Package report writes findings and assessments for people and for programs. It
// calculates nothing.
package report

import (
	"encoding/json"
	"fmt"
	"io"
	"unicode/utf8"

	"trefoil/lint/assess"
	"trefoil/lint/engine"
	"trefoil/lint/finding"
	"trefoil/lint/network"
	"trefoil/ratings"
	"trefoil/ratings/quantity"
)

// Version of the JSON documents. Keys are only ever added.
const Version = 1

// Tool names the program that wrote a document.
type Tool struct {
	Name    string `json:"name"`
	Version string `json:"version"`
}

// Summary counts a call's results.
type Summary struct {
	Runs     int `json:"runs"`
	Assessed int `json:"assessed"`
	Errors   int `json:"errors"`
	Warnings int `json:"warnings"`
	Notes    int `json:"notes"`
	Waived   int `json:"waived"`
}

// Summarise counts results together.
func Summarise(results ...*engine.Result) Summary {
	var s Summary
	for _, r := range results {
		s.Runs += r.Runs
		s.Assessed += r.Assessed
		for i := range r.Findings {
			switch f := &r.Findings[i]; {
			case f.Waived:
				s.Waived++
			case f.Severity == finding.Error:
				s.Errors++
			case f.Severity == finding.Warning:
				s.Warnings++
			default:
				s.Notes++
			}
		}
	}
	return s
}

type jsonPlace struct {
	File    string `json:"file"`
	Line    int    `json:"line"`
	Column  int    `json:"column"`
	Message string `json:"message"`
}

// jsonEdit puts a text in the place of a stretch of a file.
type jsonEdit struct {
	File      string `json:"file"`
	Line      int    `json:"line"`
	Column    int    `json:"column"`
	EndLine   int    `json:"end_line"`
	EndColumn int    `json:"end_column"`
	Text      string `json:"text"`
}

type jsonFix struct {
	Name    string     `json:"name"`
	Kind    string     `json:"kind"`
	Message string     `json:"message"`
	Edits   []jsonEdit `json:"edits"`
}

type jsonFinding struct {
	Rule      string             `json:"rule"`
	Severity  string             `json:"severity"`
	Message   string             `json:"message"`
	Next      string             `json:"next"`
	Subject   string             `json:"subject"`
	File      string             `json:"file"`
	Line      int                `json:"line"`
	Column    int                `json:"column"`
	EndLine   int                `json:"end_line"`
	EndColumn int                `json:"end_column"`
	Figures   map[string]float64 `json:"figures"`
	Related   []jsonPlace        `json:"related"`
	Waived    bool               `json:"waived"`
	Waiver    string             `json:"waiver,omitempty"`
	Memory    []string           `json:"memory,omitempty"`
	Fixes     []jsonFix          `json:"fixes,omitempty"`

	Fingerprint string `json:"fingerprint,omitempty"`
}

// Document is what check writes: one design, or several under designs.
type Document struct {
	Version  int              `json:"version"`
	Tool     Tool             `json:"tool"`
	Findings []jsonFinding    `json:"findings,omitzero"`
	Designs  []DesignDocument `json:"designs,omitempty"`
	Summary  Summary          `json:"summary"`
	Error    string           `json:"error,omitempty"`
}

// DesignDocument is one of several designs.
type DesignDocument struct {
	Version  int           `json:"version"`
	Tool     Tool          `json:"tool"`
	Design   string        `json:"design"`
	Findings []jsonFinding `json:"findings"`
	Summary  Summary       `json:"summary"`
}

// CheckDocument turns results into a document; asked is how many designs were named, those that could not be read included: where it
// is one, the document is that design's own.
func CheckDocument(tool Tool, results []*engine.Result, asked int, failure string) Document {
	d := Document{Version: Version, Tool: tool, Summary: Summarise(results...), Error: failure}
	if asked <= 1 {
		d.Findings = []jsonFinding{}
		for _, r := range results {
			d.Findings = convert(r)
		}
		return d
	}
	for _, r := range results {
		d.Designs = append(d.Designs, DesignDocument{Version, tool, r.Review.Design.Dir, convert(r), Summarise(r)})
	}
	return d
}

func convert(r *engine.Result) []jsonFinding {
	list := make([]jsonFinding, 0, len(r.Findings))
	for i := range r.Findings {
		list = append(list, convertFinding(&r.Findings[i]))
	}
	return list
}

func convertFinding(f *finding.Finding) jsonFinding {
	j := jsonFinding{
		Rule: f.Rule, Severity: f.Severity.String(), Message: f.Message, Next: f.Next, Subject: f.Subject,
		Figures: map[string]float64{}, Related: []jsonPlace{}, Waived: f.Waived, Waiver: f.Waiver, Memory: f.Memory, Fingerprint: f.Fingerprint,
	}
	if f.At.File != nil {
		from, to := f.At.File.Position(f.At.Start), f.At.File.Position(f.At.End)
		j.File, j.Line, j.Column, j.EndLine, j.EndColumn = f.At.File.Name, from.Line, from.Column, to.Line, to.Column
	}
	for _, x := range f.Figures {
		if quantity.Finite(x.Value) {
			j.Figures[x.Key] = x.Value
		}
	}
	for _, x := range f.Related {
		p := jsonPlace{Message: x.Message}
		if x.At.File != nil {
			from := x.At.File.Position(x.At.Start)
			p.File, p.Line, p.Column = x.At.File.Name, from.Line, from.Column
		}
		j.Related = append(j.Related, p)
	}
	for k := range f.Fixes {
		j.Fixes = append(j.Fixes, fixOf(&f.Fixes[k]))
	}
	return j
}

func fixOf(x *finding.Fix) jsonFix {
	j := jsonFix{Name: x.Name, Kind: x.Kind.String(), Message: x.Message, Edits: []jsonEdit{}}
	for _, e := range x.Edits {
		from, to := e.At.File.Position(e.At.Start), e.At.File.Position(e.At.End)
		j.Edits = append(j.Edits, jsonEdit{e.At.File.Name, from.Line, from.Column, to.Line, to.Column, e.Text})
	}
	return j
}

// Failure is what a call writes that could not be understood.
type Failure struct {
	Version int    `json:"version"`
	Tool    Tool   `json:"tool"`
	Error   string `json:"error"`
}

// WriteJSON writes any document, one value on one line.
func WriteJSON(w io.Writer, v any) error {
	e := json.NewEncoder(escaper{w})
	e.SetEscapeHTML(false)
	return e.Encode(v)
}

// escaper writes a JSON document with every character escaped that could steer a terminal.
// Such characters stand in texts alone, and mean the same there. Each call brings whole ones.
type escaper struct{ to io.Writer }

func (e escaper) Write(p []byte) (int, error) {
	out, done := p, 0
	for i := 0; i < len(p); {
		if p[i] < 0x7f {
			i++
			continue
		}
		r, n := utf8.DecodeRune(p[i:])
		if steers(r) {
			if done == 0 {
				out = nil
			}
			out = fmt.Appendf(append(out, p[done:i]...), `\u%04x`, r)
			done = i + n
		}
		i += n
	}
	if done > 0 {
		out = append(out, p[done:]...)
	}
	if _, err := e.to.Write(out); err != nil {
		return 0, err
	}
	return len(p), nil
}

type figure = *float64

func maybe(m quantity.Maybe) figure {
	if !m.Known || !quantity.Finite(m.Value) {
		return nil
	}
	return &m.Value
}

// kilo is a figure in thousands.
func kilo(m quantity.Maybe) figure {
	return maybe(quantity.Maybe{Value: m.Value / 1000, Known: m.Known})
}

type jsonFactor struct {
	Name  string  `json:"name"`
	Value float64 `json:"value"`
	Ref   string  `json:"ref"`
	Why   string  `json:"why,omitempty"`
	From  string  `json:"status,omitempty"`
}

type jsonSection struct {
	Route      string       `json:"route"`
	LengthM    figure       `json:"length_m,omitempty"`
	SizeMM2    figure       `json:"size_mm2,omitempty"` // where it is not the run's
	TabulatedA figure       `json:"tabulated_a,omitempty"`
	Basis      string       `json:"basis,omitempty"`
	Method     string       `json:"method,omitempty"`
	Ref        string       `json:"ref,omitempty"`
	From       string       `json:"status,omitempty"`
	Circuits   int          `json:"circuits"`
	Neighbours []string     `json:"neighbours,omitempty"`
	Factors    []jsonFactor `json:"factors"`
	CapacityA  figure       `json:"capacity_a,omitempty"`
	ConductorC figure       `json:"conductor_c,omitempty"`
	Steps      []jsonStep   `json:"steps,omitempty"`

	FillPercent      figure `json:"fill_percent,omitempty"`
	FillLimitPercent figure `json:"fill_limit_percent,omitempty"`
	WidthMM          figure `json:"width_mm,omitempty"` // of all cables of the route side by side
	RoomMM           figure `json:"room_mm,omitempty"`
	KgM              figure `json:"kg_m,omitempty"` // of all cables of the route
	MayKgM           figure `json:"limit_kg_m,omitempty"`
}

type jsonStep struct {
	Symbol  string  `json:"symbol"`
	Meaning string  `json:"meaning"`
	Value   float64 `json:"value"`
	Unit    string  `json:"unit"`
	Ref     string  `json:"ref"`
	From    string  `json:"status,omitempty"`
}

func step(x ratings.Step) jsonStep {
	return jsonStep{x.Symbol, x.Meaning, x.Value, x.Unit, x.Ref.Text, string(x.Ref.Status)}
}

type jsonRun struct {
	Run              string        `json:"run"`
	Legs             int           `json:"legs"`
	DesignCurrentA   figure        `json:"design_current_a,omitempty"`
	DeviceA          figure        `json:"device_a,omitempty"`
	Sections         []jsonSection `json:"sections"`
	CapacityA        figure        `json:"capacity_a,omitempty"`
	ContinuousA      figure        `json:"continuous_limit_a,omitempty"`
	GoverningSection int           `json:"governing_section,omitempty"`
	UtilisationPct   figure        `json:"utilisation_percent,omitempty"`
	ROhmKM           figure        `json:"r_ohm_km,omitempty"`
	XOhmKM           figure        `json:"x_ohm_km,omitempty"`
	ZRef             string        `json:"impedance_ref,omitempty"`
	RiseV            figure        `json:"rise_v,omitempty"`
	RisePercent      figure        `json:"rise_percent,omitempty"`
	PathRiseV        figure        `json:"path_rise_v,omitempty"`
	PathRisePercent  figure        `json:"path_rise_percent,omitempty"`
	DemandA          figure        `json:"demand_a,omitempty"`
	DropV            figure        `json:"drop_v,omitempty"`
	DropPercent      figure        `json:"drop_percent,omitempty"`
	PathDropV        figure        `json:"path_drop_v,omitempty"`
	PathDropPercent  figure        `json:"path_drop_percent,omitempty"`
	ExactRisePercent figure        `json:"exact_rise_percent,omitempty"`
	ExactPathPercent figure        `json:"exact_path_rise_percent,omitempty"`
	FaultMaxKA       figure        `json:"fault_max_ka,omitempty"`
	FaultMinKA       figure        `json:"fault_min_ka,omitempty"`
	EarthFaultMinKA  figure        `json:"earth_fault_min_ka,omitempty"`
	LoopOhm          figure        `json:"loop_ohm,omitempty"`
	FaultSteps       []jsonStep    `json:"fault_steps,omitempty"`
	LossW            figure        `json:"loss_w,omitempty"`
	ConductorC       figure        `json:"conductor_c,omitempty"`
	WarmRisePercent  figure        `json:"rise_percent_at_conductor_c,omitempty"`
	WarmPathPercent  figure        `json:"path_rise_percent_at_conductor_c,omitempty"`
	WarmLossW        figure        `json:"loss_w_at_conductor_c,omitempty"`
	LegSharePercent  figure        `json:"leg_share_percent,omitempty"` // of the shortest leg
	LegCurrentA      figure        `json:"leg_current_a,omitempty"`
	NotAssessed      []string      `json:"not_assessed,omitempty"`
}

// CalcDocument is what calc writes.
type CalcDocument struct {
	Version int        `json:"version"`
	Tool    Tool       `json:"tool"`
	Ratings *jsonBasis `json:"ratings,omitempty"`
	Figures Provenance `json:"figures"`
	Runs    []jsonRun  `json:"runs"`
	Error   string     `json:"error,omitempty"`
}

// jsonBasis is the rating set that the figures rest on.
type jsonBasis struct {
	Name           string `json:"name"`
	Title          string `json:"title"`
	SupersededBy   string `json:"superseded_by,omitempty"`
	SupersededFrom string `json:"superseded_from,omitempty"`
}

// Provenance counts the figures that capacities and impedances rest on: tabulated
// capacities, factors, resistances and reactances, once for each section that uses them.
type Provenance struct {
	Published int `json:"read_in_a_print"`
	Memory    int `json:"from_memory"`
	Computed  int `json:"computed"`
	Given     int `json:"given_in_the_design"`
	UserTable int `json:"user_table"`
}

func (p *Provenance) count(s ratings.Status) {
	switch s {
	case ratings.Memory:
		p.Memory++
	case ratings.Computed:
		p.Computed++
	case ratings.Given:
		p.Given++
	default:
		p.Published++
	}
}

// add counts what a section rests on.
func (p *Provenance) add(s *assess.Section) {
	if s.Rating != nil {
		if s.Rating.Basis == "user-table" {
			p.UserTable++
		} else {
			p.count(s.Rating.Ref.Status)
		}
		for _, f := range s.Rating.Factors {
			p.count(f.Ref.Status)
		}
	}
	if s.Impedance != nil {
		p.count(s.Impedance.RRef.Status)
		p.count(s.Impedance.XRef.Status)
	}
}

// NewCalcDocument turns the assessments of the runs named into a document.
func NewCalcDocument(tool Tool, v *assess.Review, runs []int, failure string) CalcDocument {
	d := CalcDocument{Version: Version, Tool: tool, Runs: []jsonRun{}, Error: failure}
	if v.Set != nil {
		d.Ratings = &jsonBasis{v.Info.Name, v.Info.Title, v.Info.SupersededBy, v.Info.SupersededFrom}
	}
	warm := v.Warm()
	for _, i := range runs {
		d.Runs = append(d.Runs, calcRun(v, &v.Runs[i], warm.Of(i)))
		for k := range v.Runs[i].Sections {
			d.Figures.add(&v.Runs[i].Sections[k])
		}
	}
	return d
}

func calcRun(v *assess.Review, a *assess.Run, warm network.Rise) jsonRun {
	rise, exact := v.Rises.Of(a.Index), v.Exact().Of(a.Index)
	j := jsonRun{
		Run: a.Run.Name, Legs: a.Legs, DesignCurrentA: maybe(a.Segment.DesignCurrentA()), Sections: []jsonSection{},
		CapacityA: maybe(a.CapacityA), GoverningSection: a.Governing + 1, ContinuousA: maybe(a.Continuous()), UtilisationPct: maybe(a.UtilisationPct()),
		ROhmKM: maybe(a.ROhmKM()), XOhmKM: maybe(a.XOhmKM()),
		RiseV: maybe(rise.V), RisePercent: maybe(rise.Percent), PathRiseV: maybe(rise.PathV), PathRisePercent: maybe(rise.PathPercent),
		LossW: maybe(a.LossW()), ConductorC: maybe(a.ConductorC()), WarmLossW: maybe(a.WarmLossW()),
		ExactRisePercent: maybe(exact.Percent), ExactPathPercent: maybe(exact.PathPercent),
		WarmRisePercent: maybe(warm.Percent), WarmPathPercent: maybe(warm.PathPercent),
	}
	if s, ok := a.Sharing(); ok {
		j.LegSharePercent, j.LegCurrentA = maybe(quantity.Of(100*s.Share)), maybe(s.WorstA)
	}
	if a.Segment.Takers > 0 {
		drop := v.Drops.Of(a.Index)
		j.DemandA, j.DropV, j.DropPercent, j.PathDropV, j.PathDropPercent = maybe(a.Segment.DemandA()), maybe(drop.V), maybe(drop.Percent), maybe(drop.PathV), maybe(drop.PathPercent)
	}
	if a.ROhmKM().Known {
		j.ZRef = impedanceRefs(a)
	}
	if f, ok := v.Fault(a); ok {
		j.FaultMaxKA, j.FaultMinKA, j.EarthFaultMinKA, j.LoopOhm = kilo(f.Near.MaxA), kilo(f.Far.MinA), kilo(f.Far.EarthMinA), maybe(f.Far.LoopOhm)
		for _, x := range f.Steps() {
			j.FaultSteps = append(j.FaultSteps, step(x))
		}
		j.NotAssessed = append(j.NotAssessed, f.Gaps()...)
	}
	for k := range a.Run.Devices {
		if d := &a.Run.Devices[k]; d.RatedA.Known() {
			j.DeviceA = maybe(d.RatedA.Maybe())
			break
		}
	}
	for k := range a.Sections {
		s := &a.Sections[k]
		out := jsonSection{Route: s.Section.Route.Name, LengthM: maybe(s.Section.LengthM.Maybe()), SizeMM2: maybe(s.Section.SizeMM2.Maybe()), Factors: []jsonFactor{}}
		if s.Shared != nil {
			if out.Circuits = s.Shared.Circuits; s.Group != nil { // its cable can be looked up
				out.Circuits = s.Group.Circuits
			}
			for _, b := range v.Company(a, s) {
				out.Neighbours = append(out.Neighbours, b.Run.Name)
			}
		}
		if s.Rating != nil {
			out.Basis, out.Method, out.Ref, out.From = s.Rating.Basis, s.Rating.Method, s.Rating.Ref.Text, string(s.Rating.Ref.Status)
			out.TabulatedA, out.CapacityA = maybe(quantity.Of(s.Rating.TabulatedA)), maybe(quantity.Of(s.Rating.CapacityA))
			out.ConductorC = maybe(s.ConductorC)
			for _, x := range s.Rating.Steps {
				out.Steps = append(out.Steps, step(x))
			}
			for _, f := range s.Rating.Factors {
				out.Factors = append(out.Factors, jsonFactor{f.Name, f.Value, f.Ref.Text, f.Why, string(f.Ref.Status)})
			}
		}
		if s.Shared != nil && s.Shared.Held != nil {
			h := s.Shared.Held
			if f := h.Fill(a.Index); f != nil {
				out.FillPercent, out.FillLimitPercent = maybe(quantity.Of(f.Percent)), maybe(quantity.Of(f.LimitPercent))
			}
			if h.RoomMM.Known && len(h.WidthGaps) == 0 {
				out.WidthMM, out.RoomMM = maybe(quantity.Of(h.WidthMM)), maybe(h.RoomMM)
			}
			if h.MayKgM.Known && len(h.MassGaps) == 0 {
				out.KgM, out.MayKgM = maybe(quantity.Of(h.KgM)), maybe(h.MayKgM)
			}
		}
		j.Sections = append(j.Sections, out)
	}
	for _, g := range a.Gaps {
		j.NotAssessed = append(j.NotAssessed, g.Reason)
	}
	return j
}

// Empty is a document without runs, for a reader that expects the list.
func (d CalcDocument) Empty() CalcDocument {
	d.Runs = []jsonRun{}
	return d
}
