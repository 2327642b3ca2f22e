package report

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"time"

	"trefoil/lint/design"
	"trefoil/lint/engine"
	"trefoil/lint/network"
	"trefoil/lint/source"
)

// Record is the evidence of a check: what was read, by which program and tables, and all
// that came of it. Two records of the same texts are the same, bit by bit.
type Record struct {
	Version int             `json:"version"`
	Tool    Tool            `json:"tool"`
	Today   string          `json:"today"` // on which waivers were judged
	Designs json.RawMessage `json:"designs"`
	Digest  string          `json:"digest"` // SHA-256 over tool, day and designs as they stand here
}

// RecordedDesign is one design of a record.
type RecordedDesign struct {
	Design   string          `json:"design"`
	Inputs   []jsonInput     `json:"inputs"`
	Ratings  *jsonBasis      `json:"ratings,omitempty"`
	Tables   []jsonTableText `json:"tables"`
	Findings []jsonFinding   `json:"findings"`
	Margins  []jsonMargin    `json:"margins"`
	Waivers  []jsonWaiver    `json:"waivers"`
	Summary  Summary         `json:"summary"`
}

type jsonInput struct {
	File   string `json:"file"`
	Bytes  int    `json:"bytes"`
	SHA256 string `json:"sha256"`
}

type jsonTableText struct {
	Name     string `json:"name"`
	Title    string `json:"title"`
	Standard string `json:"standard"`
	SHA256   string `json:"sha256"`
}

type jsonMargin struct {
	Run             string `json:"run"`
	DesignCurrentA  figure `json:"design_current_a,omitempty"`
	CapacityA       figure `json:"capacity_a,omitempty"`
	UtilisationPct  figure `json:"utilisation_percent,omitempty"`
	PathRisePercent figure `json:"path_rise_percent,omitempty"`
	PathDropPercent figure `json:"path_drop_percent,omitempty"`
	FaultMaxKA      figure `json:"fault_max_ka,omitempty"`
	LoopOhm         figure `json:"loop_ohm,omitempty"`
}

type jsonWaiver struct {
	Rule       string `json:"rule"`
	On         string `json:"on"`
	Reason     string `json:"reason"`
	ApprovedBy string `json:"approved_by,omitempty"`
	Until      string `json:"until,omitempty"`
	Accepts    figure `json:"accepts,omitempty"`
}

// NewRecord makes the record of a call.
func NewRecord(tool Tool, today time.Time, results []*engine.Result) (*Record, error) {
	r := &Record{Version: Version, Tool: tool, Today: today.Format(time.DateOnly)}
	list := []RecordedDesign{}
	for _, x := range results {
		list = append(list, recorded(x))
	}
	var b bytes.Buffer
	if err := WriteJSON(&b, list); err != nil {
		return nil, err
	}
	r.Designs = bytes.TrimSpace(b.Bytes())
	r.Digest = r.digest()
	return r, nil
}

func (r *Record) digest() string {
	return hash(fmt.Appendf(nil, "%d %q %q %q %s", r.Version, r.Tool.Name, r.Tool.Version, r.Today, r.Designs))
}

func hash(text []byte) string {
	sum := sha256.Sum256(text)
	return hex.EncodeToString(sum[:])
}

func recorded(r *engine.Result) RecordedDesign {
	v := r.Review
	d := RecordedDesign{
		Design: v.Design.Dir, Inputs: []jsonInput{}, Tables: []jsonTableText{}, Findings: convert(r), Margins: []jsonMargin{}, Waivers: []jsonWaiver{}, Summary: Summarise(r),
	}
	files := slices.Clone(v.Design.Files)
	v.Design.Each(func(o *design.Object, _ any) {
		if o.At.File != nil && o.At.File.Library && !slices.Contains(files, o.At.File) {
			files = append(files, o.At.File)
		}
	})
	slices.SortStableFunc(files, func(a, b *source.File) int { return strings.Compare(a.Name, b.Name) })
	for _, f := range files {
		d.Inputs = append(d.Inputs, jsonInput{f.Name, len(f.Bytes), hash(f.Bytes)})
	}
	if v.Set != nil {
		d.Ratings = &jsonBasis{v.Info.Name, v.Info.Title, v.Info.SupersededBy, v.Info.SupersededFrom}
		for _, f := range v.Set.Files() {
			d.Tables = append(d.Tables, jsonTableText{f.Name, f.Title, f.Standard, hash([]byte(f.Text))})
		}
	}
	for i := range v.Runs {
		j := calcRun(v, &v.Runs[i], network.Rise{})
		d.Margins = append(d.Margins, jsonMargin{"run." + j.Run, j.DesignCurrentA, j.CapacityA, j.UtilisationPct, j.PathRisePercent, j.PathDropPercent, j.FaultMaxKA, j.LoopOhm})
	}
	for _, w := range v.Design.Waivers {
		d.Waivers = append(d.Waivers, jsonWaiver{w.Name, w.On.Subject(), w.Reason.Value, w.ApprovedBy.Value, w.Until.Value, maybe(w.Accepts.Maybe())})
	}
	return d
}

// Write writes the record as one document that people can read too.
func (r *Record) Write(w io.Writer) error {
	var b bytes.Buffer
	if err := WriteJSON(&b, r); err != nil {
		return err
	}
	var out bytes.Buffer
	if err := json.Indent(&out, b.Bytes(), "", " "); err != nil {
		return err
	}
	_, err := out.WriteTo(w)
	return err
}

// Held says whether a record still holds.
type Held struct {
	Version    int      `json:"version"`
	Tool       Tool     `json:"tool"`
	Recorded   Tool     `json:"recorded_by"`
	Today      string   `json:"today"`
	Holds      bool     `json:"holds"`
	Departures []string `json:"departures"`
}

// Hold holds what came of the designs of a record now against it. Another version of the
// program is no departure by itself.
func Hold(was, now *Record) (*Held, error) {
	var two [2][]RecordedDesign
	for i, r := range []*Record{was, now} {
		if err := json.Unmarshal(r.Designs, &two[i]); err != nil {
			return nil, fmt.Errorf("read a record: %w", err)
		}
	}
	h := &Held{Version: Version, Tool: now.Tool, Recorded: was.Tool, Today: was.Today, Departures: append([]string{}, departures(two[0], two[1])...)}
	h.Holds = len(h.Departures) == 0
	return h, nil
}

// Write says it for people, or as JSON.
func (h *Held) Write(w io.Writer, name string, asJSON bool) error {
	if asJSON {
		return WriteJSON(w, h)
	}
	var b strings.Builder
	for _, d := range h.Departures {
		b.WriteString(Clean(d) + "\n")
	}
	verdict := "holds"
	if !h.Holds {
		verdict = fmt.Sprintf("does not hold: %s", many(len(h.Departures), "departure"))
	}
	by := ""
	if h.Recorded != h.Tool {
		by = fmt.Sprintf(" (made by %s %s, this is %s)", h.Recorded.Name, h.Recorded.Version, h.Tool.Version)
	}
	fmt.Fprintf(&b, "%s\n", Clean(fmt.Sprintf("the record %s of %s %s%s", name, h.Today, verdict, by)))
	fmt.Fprintf(&b, "%s\n", dim.Sprint(Caution))
	_, err := io.WriteString(w, b.String())
	return err
}

// ReadRecord reads a record and holds it against its own digest.
func ReadRecord(text []byte) (*Record, []RecordedDesign, error) {
	var r Record
	if err := json.Unmarshal(text, &r); err != nil {
		return nil, nil, fmt.Errorf("it is no record: %w", err)
	}
	if r.Version != Version || r.Digest == "" {
		return nil, nil, errors.New("it is no record of this version of the form")
	}
	var b bytes.Buffer
	if err := json.Compact(&b, r.Designs); err != nil {
		return nil, nil, fmt.Errorf("it is no record: %w", err)
	}
	r.Designs = b.Bytes()
	if r.digest() != r.Digest {
		return nil, nil, errors.New("its digest is not that of its content: it was altered after it was made")
	}
	if _, err := time.Parse(time.DateOnly, r.Today); err != nil {
		return nil, nil, errors.New("it names no day")
	}
	var list []RecordedDesign
	if err := json.Unmarshal(r.Designs, &list); err != nil {
		return nil, nil, fmt.Errorf("it is no record: %w", err)
	}
	return &r, list, nil
}

// departures says what is not as it was recorded: inputs and tables first, then what came
// of them. Nothing means that the record holds.
func departures(was, now []RecordedDesign) []string {
	var list []string
	tell := func(format string, args ...any) { list = append(list, fmt.Sprintf(format, args...)) }
	for i := range was {
		w := &was[i]
		k := slices.IndexFunc(now, func(d RecordedDesign) bool { return d.Design == w.Design })
		if k < 0 {
			tell("%s: the design is not there", w.Design)
			continue
		}
		n := &now[k]
		differ(w.Inputs, n.Inputs, func(x *jsonInput) string { return x.File }, func(a, b *jsonInput) string {
			if a.SHA256 == b.SHA256 {
				return ""
			}
			return "it is another text"
		}, tell)
		differ(w.Tables, n.Tables, func(x *jsonTableText) string { return "table " + x.Name }, func(a, b *jsonTableText) string {
			if a.SHA256 == b.SHA256 {
				return ""
			}
			return "it holds something else"
		}, tell)
		if w.Ratings != nil && n.Ratings != nil && *w.Ratings != *n.Ratings {
			tell("%s: rating set %s, recorded with %s", w.Design, n.Ratings.Title, w.Ratings.Title)
		}
		differ(w.Findings, n.Findings, func(x *jsonFinding) string {
			return x.Severity + " " + x.Rule + " of " + x.Subject + " " + x.Fingerprint
		}, func(a, b *jsonFinding) string {
			if a.Message == b.Message && a.Waived == b.Waived {
				return ""
			}
			return fmt.Sprintf("%s, recorded as: %s", b.Message, a.Message)
		}, tell)
		differ(w.Margins, n.Margins, func(x *jsonMargin) string { return x.Run }, (*jsonMargin).departs, tell)
		differ(w.Waivers, n.Waivers, func(x *jsonWaiver) string { return "waiver of " + x.Rule + " on " + x.On }, func(a, b *jsonWaiver) string {
			if a.Reason == b.Reason && a.ApprovedBy == b.ApprovedBy && a.Until == b.Until && same(a.Accepts, b.Accepts) {
				return ""
			}
			return "it says something else"
		}, tell)
	}
	return list
}

// differ compares two lists by name.
func differ[T any](was, now []T, name func(*T) string, how func(a, b *T) string, tell func(string, ...any)) {
	left := map[string][]*T{}
	for i := range now {
		n := name(&now[i])
		left[n] = append(left[n], &now[i])
	}
	for i := range was {
		n := name(&was[i])
		if len(left[n]) == 0 {
			tell("%s: not there any more", n)
			continue
		}
		if why := how(&was[i], left[n][0]); why != "" {
			tell("%s: %s", n, why)
		}
		left[n] = left[n][1:]
	}
	for i := range now {
		n := name(&now[i])
		if len(left[n]) > 0 && left[n][0] == &now[i] {
			tell("%s: not recorded", n)
			left[n] = left[n][1:]
		}
	}
}

// departs says which margins of a run are others, but for binary fractions.
func (a *jsonMargin) departs(b *jsonMargin) string {
	var list []string
	for _, x := range []struct {
		what     string
		was, now figure
	}{
		{"design current", a.DesignCurrentA, b.DesignCurrentA},
		{"capacity", a.CapacityA, b.CapacityA},
		{"utilisation", a.UtilisationPct, b.UtilisationPct},
		{"rise", a.PathRisePercent, b.PathRisePercent},
		{"drop", a.PathDropPercent, b.PathDropPercent},
		{"fault", a.FaultMaxKA, b.FaultMaxKA},
		{"loop", a.LoopOhm, b.LoopOhm},
	} {
		if !same(x.was, x.now) {
			list = append(list, fmt.Sprintf("%s %s, recorded %s", x.what, printed(x.now), printed(x.was)))
		}
	}
	return strings.Join(list, "; ")
}

func same(a, b figure) bool {
	if a == nil || b == nil {
		return a == b
	}
	return math.Abs(*a-*b) <= 1e-9*max(math.Abs(*a), math.Abs(*b))
}

func printed(f figure) string {
	if f == nil {
		return "unknown"
	}
	return fmt.Sprintf("%.6g", *f)
}
