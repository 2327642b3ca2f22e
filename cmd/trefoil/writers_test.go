package main

import (
	"bytes"
	"fmt"
	"io"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"trefoil/lint/choices"
	"trefoil/lint/compare"
	"trefoil/lint/cost"
	"trefoil/lint/document"
	"trefoil/lint/draw"
	"trefoil/lint/engine"
	"trefoil/lint/finding"
	"trefoil/lint/fix"
	"trefoil/lint/paper"
	"trefoil/lint/report"
	"trefoil/lint/schedule"
	"trefoil/lint/source"
	"trefoil/ratings/quantity"
	"trefoil/rules"
)

// output is one output: what writes it and what looks at it.
type output struct {
	name  string
	write func(io.Writer) error
	look  func(*testing.T, []byte)
	dirty bool // characters that steer are looked for inside of its parts alone
}

// outputs are all forms in which a design is written.
func outputs(files []*source.File, today time.Time) []output {
	res := check(files)
	v, all := res.Review, rules.All()
	one := []*engine.Result{res}
	runs := make([]int, len(v.Runs))
	for i := range runs {
		runs[i] = i
	}
	inJSON := func(doc any) func(io.Writer) error {
		return func(w io.Writer) error { return report.WriteJSON(w, doc) }
	}
	in := document.Input{Tool: tool, Result: res, Rules: all, Today: today, Schedule: schedule.Options{TailM: 2, Spare: 3, DrumsM: []float64{100, 500}, Findings: res.Findings}}
	in.Revision = &document.Revision{Commit: "0123abc", Day: "2027-02-28", Subject: files[0].Name, By: files[0].Name}
	in.Drawings = drawings(in)
	doc := document.Of(in)
	bill := cost.Of(v)
	was := compare.Side{Name: files[0].Name, Result: check([]*source.File{{Name: "was.hcl", Bytes: starter}})}
	c := compare.Compare(was, compare.Side{Name: "now", Result: res}, nil)
	record := func(w io.Writer) error {
		r, err := report.NewRecord(tool, today, one)
		if err != nil {
			return err
		}
		return r.Write(w)
	}
	amended := &report.Amended{Design: files[0].Name, New: res.Findings, Broken: res.Findings, Before: report.Summarise(res), After: report.Summarise(res)}
	amended.Settled.Was = v.Design.Files
	for i := range res.Findings {
		f := &res.Findings[i]
		amended.Settled.Refused = append(amended.Settled.Refused, fix.Refusal{Proposal: fix.Proposal{Rule: f.Rule, Subject: f.Subject, At: f.At}, Reason: f.Message})
	}
	for _, f := range files {
		amended.Diffs = append(amended.Diffs, report.Diff{File: f.Name, Text: unified(f.Name, nil, f.Bytes, "amended")})
	}
	list := []output{
		{"text", func(w io.Writer) error { return report.WriteText(w, one, report.Options{Provenance: true}) }, plain, false},
		{"line", func(w io.Writer) error { return report.WriteLines(w, one, finding.Note) }, plain, false},
		{"json", inJSON(report.CheckDocument(tool, one, 1, files[0].Name)), jsonText, false},
		{"sarif", func(w io.Writer) error { return report.WriteSARIF(w, tool, one, all, files[0].Name) }, jsonText, false},
		{"junit", func(w io.Writer) error { return report.WriteJUnit(w, tool, one, all, finding.Error, files[0].Name) }, wellFormed, false},
		{"record", record, jsonText, false},
		{"calc", func(w io.Writer) error { return report.WriteCalc(w, v, runs) }, plain, false},
		{"calc json", inJSON(report.NewCalcDocument(tool, v, runs, files[0].Name)), jsonText, false},
		{"bill", func(w io.Writer) error { return report.WriteBill(w, bill) }, plain, false},
		{"bill csv", func(w io.Writer) error { return report.WriteBillCSV(w, bill) }, cells, false},
		{"bill json", inJSON(report.NewBillDocument(tool, bill)), jsonText, false},
		{"comparison", func(w io.Writer) error { return report.WriteComparison(w, c, finding.Note) }, plain, false},
		{"comparison json", inJSON(report.NewComparisonDocument(tool, c, finding.Error)), jsonText, false},
		{"comparison markdown", func(w io.Writer) error { return report.WriteComparisonMarkdown(w, c, finding.Note, finding.Error) }, marked, false},
		{"amended", func(w io.Writer) error { return report.WriteAmend(w, amended) }, plain, false},
		{"amended json", inJSON(report.NewAmendDocument(tool, amended)), jsonText, false},
		{"page", func(w io.Writer) error { return document.HTML(w, doc) }, page, false},
		{"paper", func(w io.Writer) error { return paper.Write(w, doc) }, pdf, true},
	}
	var tables []schedule.Table
	for _, k := range schedule.Kinds {
		t := k.Of(v, in.Schedule)
		tables = append(tables, t)
		list = append(list, output{k.Name + " csv", func(w io.Writer) error { return report.WriteScheduleCSV(w, t) }, cells, false})
	}
	stamp := report.Stamp{Design: files[0].Name, Day: "2027-03-01", Revision: files[0].Name}
	list = append(list,
		output{"schedules", func(w io.Writer) error { return report.WriteSchedule(w, tables) }, plain, false},
		output{"schedules markdown", func(w io.Writer) error { return report.WriteScheduleMarkdown(w, tables) }, marked, false},
		output{"schedules json", inJSON(report.NewScheduleDocument(tool, tables, files[0].Name)), jsonText, false},
		output{"schedules xlsx", func(w io.Writer) error { return report.WriteScheduleXLSX(w, tables, stamp, files[0].Name) }, book, true},
	)
	opt := draw.Options{Date: "2027-03-01", Tool: "trefoil", Revision: files[0].Name}
	for _, s := range append(draw.Diagram(v, res.Findings, opt), draw.Sections(v, res.Findings, opt)...) {
		list = append(list, output{s.Name, func(w io.Writer) error { _, err := w.Write(s.SVG); return err }, wellFormed, false})
	}
	if len(runs) > 0 {
		shop := openShop(v, all, today)
		r, err := shop.lister.List(0, choices.Ask{Sizes: []quantity.Size{quantity.MM2(25)}})
		if err == nil {
			results := []*choices.Result{r}
			currency := shop.book.Currency
			list = append(list,
				output{"choices", func(w io.Writer) error {
					return report.WriteChoices(w, results, report.ChoicesOptions{Top: 5, Refused: true, Currency: currency})
				}, plain, false},
				output{"choices csv", func(w io.Writer) error { return report.WriteChoicesCSV(w, results, currency) }, cells, false},
				output{"choices json", inJSON(report.NewChoicesDocument(tool, results, currency)), jsonText, false},
			)
		}
	}
	return list
}

// A page is made of these tags alone, with these attributes; anything else would be a word
// of the design.
var (
	pageTag  = regexp.MustCompile(`^<(/?)([a-zA-Z][a-zA-Z0-9]*)((?:\s+[a-zA-Z:-]+(?:="[^"<>]*"|=[^\s"'<>=]+)?)*)\s*/?>|^<!doctype html>`)
	pageTags = strings.Fields(`html head meta title style body main header footer nav section article div p span small strong b em i sub sup code pre br hr
		h1 h2 h3 h4 h5 table caption colgroup col thead tbody tfoot tr th td ul ol li dl dt dd details summary a figure figcaption time abbr mark data bdi wbr
		svg g path rect circle ellipse line polyline polygon text tspan defs clipPath pattern marker use symbol desc title`)
	pageStyle = regexp.MustCompile(`(?s)<style>.*?</style>`)
	pageAttr  = regexp.MustCompile(`\s([a-zA-Z:-]+)(?:="([^"<>]*)"|=([^\s"'<>=]+))?`)
)

func page(t *testing.T, out []byte) {
	t.Helper()
	markup(t, out)
	text := pageStyle.ReplaceAll(out, nil)
	for i := bytes.IndexByte(text, '<'); i >= 0; {
		m := pageTag.FindSubmatch(text[i:])
		if m == nil {
			t.Fatalf("no tag of a page: %.80q", text[i:])
		}
		if name := string(m[2]); name != "" && !slices.Contains(pageTags, name) {
			t.Errorf("a tag %q: %.80q", name, m[0])
		}
		for _, a := range pageAttr.FindAllSubmatch(m[3], -1) {
			switch name := strings.ToLower(string(a[1])); {
			case strings.HasPrefix(name, "on"), name == "srcdoc", name == "action", name == "formaction":
				t.Errorf("%q acts", m[0])
			case (name == "href" || name == "src" || name == "xlink:href") && !bytes.HasPrefix(append(a[2], a[3]...), []byte("#")):
				t.Errorf("%q leads away", m[0])
			}
		}
		next := bytes.IndexByte(text[i+1:], '<')
		if next < 0 {
			break
		}
		i += 1 + next
	}
}

var (
	pdfStart = regexp.MustCompile(`startxref\n(\d+)\n%%EOF\n?$`)
	pdfEntry = regexp.MustCompile(`(?m)^(\d{10}) 00000 n`)
)

// pdf looks whether each object lies where the table at the end says.
func pdf(t *testing.T, out []byte) {
	t.Helper()
	m := pdfStart.FindSubmatch(out)
	if !bytes.HasPrefix(out, []byte("%PDF-")) || m == nil {
		t.Fatalf("no PDF: %.40q ... %.40q", out, out[max(0, len(out)-40):])
	}
	at, err := strconv.Atoi(string(m[1]))
	if err != nil || at >= len(out) || !bytes.HasPrefix(out[at:], []byte("xref\n")) {
		t.Fatalf("no table of objects at %d", at)
	}
	for i, e := range pdfEntry.FindAllSubmatch(out[at:], -1) {
		at, err := strconv.Atoi(string(e[1]))
		if err != nil || at >= len(out) || !bytes.HasPrefix(out[at:], fmt.Appendf(nil, "%d 0 obj", i+1)) {
			t.Errorf("object %d does not lie at %d", i+1, at)
		}
	}
}

// FuzzWriters lays any name and text into a design, in any place that takes one, as the name
// of a file and of a revision too, with any text behind it, and reads each output by a reader
// of its form: it is well-formed, and nothing of it steers, is markup, a link, or a formula.
func FuzzWriters(f *testing.F) {
	f.Add("a", "b", "")
	f.Add(markupWord, orderWord, "")
	f.Add("a\\", "\"'`<&>\x00\u0000]]>", "run \"x\" {\n}\n")
	f.Add("=1+1", "+cmd\t-@", "board \"=2\" {\n  note = \"\\t=1\"\n}\n")
	f.Add("\U0001f469\u200d\U0001f692e\u0301", "\u0644\u0648\u062d\u0629 3 (1)", string(starter))
	f.Add("\ufffe\uffff\ud7ff", "\v\f\x7f\u0080\xff", "a = 1")
	today := time.Date(2027, 3, 1, 0, 0, 0, 0, time.UTC)
	f.Fuzz(func(t *testing.T, name, words, more string) {
		if len(name) > 500 || len(words) > 5000 || len(more) > 5000 {
			t.Skip()
		}
		design := strings.NewReplacer("NAME", hclText(name), "TEXT", hclText(words)).Replace(everywhere)
		for _, o := range outputs([]*source.File{{Name: name + ".hcl", Bytes: []byte(design)}, {Name: "more.hcl", Bytes: []byte(more)}}, today) {
			var b bytes.Buffer
			if err := o.write(&b); err != nil {
				t.Fatalf("%s: %v", o.name, err)
			}
			out := b.Bytes()
			if text := apart.ReplaceAll(out, []byte("$1")); !o.dirty {
				if what, bad := steers(text); bad {
					t.Errorf("%s: %s", o.name, what)
				}
			}
			o.look(t, out)
			if t.Failed() {
				t.Fatalf("in %s", o.name)
			}
		}
	})
}
