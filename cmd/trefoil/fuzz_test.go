package main

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/txtar"

	"trefoil/lint/compare"
	"trefoil/lint/document"
	"trefoil/lint/engine"
	"trefoil/lint/finding"
	"trefoil/lint/report"
	"trefoil/lint/schedule"
	"trefoil/lint/source"
	"trefoil/rules"
)

// FuzzCompare holds any two texts against each other: nothing panics, two runs say the same
// in every form, what is caused is caused by an edit that there is, and a text is the same
// as itself.
func FuzzCompare(f *testing.F) {
	paths, _ := filepath.Glob("../../rules/testdata/*/*.txtar")
	var last []byte
	for i, p := range paths {
		if i%5 != 0 { // it takes two designs, and many more times to work them out
			continue
		}
		text, err := os.ReadFile(p)
		if err != nil {
			f.Fatal(err)
		}
		all := []byte{}
		for _, x := range txtar.Parse(text).Files {
			all = append(all, x.Data...)
		}
		f.Add(last, all)
		last = all
	}
	f.Add(starter, bytes.Replace(starter, []byte("copies"), []byte("# copies"), 1))
	write := func(t *testing.T, was, now []byte) ([]byte, *compare.Comparison) {
		one := func(name string, text []byte) *engine.Result { return check([]*source.File{{Name: name, Bytes: text}}) }
		again := func(texts map[*source.File][]byte) (*engine.Result, error) {
			for _, text := range texts {
				return one("now.hcl", text), nil
			}
			return one("now.hcl", now), nil
		}
		c := compare.Compare(compare.Side{Name: "was", Result: one("was.hcl", was)}, compare.Side{Name: "now", Result: one("now.hcl", now)}, again)
		var b bytes.Buffer
		for _, err := range []error{
			report.WriteJSON(&b, report.NewComparisonDocument(tool, c, finding.Error)),
			report.WriteComparison(&b, c, finding.Note),
			report.WriteComparisonMarkdown(&b, c, finding.Note, finding.Error),
		} {
			if err != nil {
				t.Fatal(err)
			}
		}
		return b.Bytes(), c
	}
	f.Fuzz(func(t *testing.T, was, now []byte) {
		a, c := write(t, was, now)
		if b, _ := write(t, was, now); !bytes.Equal(a, b) {
			t.Error("two runs differ")
		}
		for _, e := range c.Effects {
			for _, i := range e.Cause.Edits {
				if i < 0 || i >= len(c.Edits) {
					t.Errorf("%s hangs on edit %d of %d", e.Figure.Key, i, len(c.Edits))
				}
			}
		}
		for i := range c.Edits {
			for _, at := range []source.Range{c.Edits[i].At, c.Edits[i].WasAt} {
				if at.File != nil && (int(at.End) > len(at.File.Bytes) || at.Start > at.End) {
					t.Errorf("%+v lies outside of its file", at)
				}
			}
		}
		if _, same := write(t, now, now); len(same.Edits)+len(same.Effects)+len(same.Verdicts) > 0 {
			t.Errorf("a text differs from itself: %d edits, %d effects, %d verdicts", len(same.Edits), len(same.Effects), len(same.Verdicts))
		}
	})
}

// FuzzCheck runs the whole check over any text: nothing panics, every place lies
// inside its file, two runs say the same, and the JSON is one document.
func FuzzCheck(f *testing.F) {
	seed(f)
	write := func(t *testing.T, text []byte) ([]byte, *engine.Result) {
		res := check([]*source.File{{Name: "site.hcl", Bytes: text}})
		var b bytes.Buffer
		if err := report.WriteJSON(&b, report.CheckDocument(tool, []*engine.Result{res}, 1, "")); err != nil {
			t.Fatal(err)
		}
		if err := report.WriteText(&b, []*engine.Result{res}, report.Options{Provenance: true}); err != nil {
			t.Fatal(err)
		}
		all := make([]int, len(res.Review.Runs))
		for i := range all {
			all[i] = i
		}
		if err := report.WriteCalc(&b, res.Review, all); err != nil {
			t.Fatal(err)
		}
		if err := report.WriteJSON(&b, report.NewCalcDocument(tool, res.Review, all, "")); err != nil {
			t.Fatal(err)
		}
		return b.Bytes(), res
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		a, res := write(t, text)
		b, _ := write(t, text)
		if !bytes.Equal(a, b) {
			t.Error("two runs differ")
		}
		var v map[string]any
		if err := json.NewDecoder(bytes.NewReader(a)).Decode(&v); err != nil {
			t.Error(err)
		}
		for _, x := range res.Findings {
			if x.Rule == "internal-fault" || x.Message == "" {
				t.Errorf("%+v", x)
			}
			places := []source.Range{x.At}
			for _, r := range x.Related {
				places = append(places, r.At)
			}
			for _, p := range places {
				if p.File == nil || int(p.End) > len(text) || p.Start > p.End {
					t.Errorf("%s lies outside of the file: %+v", x.Rule, p)
				}
			}
		}
	})
}

// FuzzDocuments writes every document of any text: nothing panics, the report's words
// stay words, and two runs say the same.
func FuzzDocuments(f *testing.F) {
	seed(f)
	write := func(t *testing.T, text []byte) []byte {
		res := check([]*source.File{{Name: "site.hcl", Bytes: text}})
		in := document.Input{Tool: tool, Result: res, Rules: rules.All(), Today: time.Date(2027, 3, 1, 0, 0, 0, 0, time.UTC), Schedule: schedule.Options{TailM: 2, Spare: 3, DrumsM: []float64{100, 500}}}
		in.Drawings = drawings(in)
		var b bytes.Buffer
		if err := document.HTML(&b, document.Of(in)); err != nil {
			t.Fatal(err)
		}
		if bytes.Contains(b.Bytes(), []byte("<script")) || bytes.Contains(b.Bytes(), []byte("ZgotmplZ")) {
			t.Error("a word of the design became markup")
		}
		var tables []schedule.Table
		for _, k := range schedule.Kinds {
			tables = append(tables, k.Of(res.Review, in.Schedule))
		}
		for _, err := range []error{report.WriteSchedule(&b, tables), report.WriteScheduleMarkdown(&b, tables), report.WriteScheduleCSV(&b, tables[0]), report.WriteScheduleXLSX(&b, tables, report.Stamp{}, "")} {
			if err != nil {
				t.Fatal(err)
			}
		}
		if err := report.WriteJSON(&b, report.NewScheduleDocument(tool, tables, "")); err != nil {
			t.Fatal(err)
		}
		return b.Bytes()
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		if a, b := write(t, text), write(t, text); !bytes.Equal(a, b) {
			t.Error("two runs differ")
		}
	})
}

// seed gives a fuzz target the cases of the rules and the examples to begin with.
func seed(f *testing.F) {
	paths, _ := filepath.Glob("../../rules/testdata/*/*.txtar")
	for _, p := range paths {
		text, err := os.ReadFile(p)
		if err != nil {
			f.Fatal(err)
		}
		all := []byte{}
		for _, x := range txtar.Parse(text).Files {
			all = append(all, x.Data...)
		}
		f.Add(all)
	}
	dirs, _ := filepath.Glob("../../examples/*")
	for _, dir := range dirs {
		names, err := hcl(dir)
		if err != nil || len(names) == 0 {
			f.Fatal(dir, err)
		}
		all := []byte{}
		for _, n := range names {
			text, err := os.ReadFile(n)
			if err != nil {
				f.Fatal(err)
			}
			all = append(all, text...)
		}
		f.Add(all)
	}
	if len(paths) == 0 || len(dirs) == 0 {
		f.Fatal("no cases or no examples to begin with")
	}
	f.Add(starter)
	f.Add([]byte("site \"x\" {\n ratings = 0..0\n}\n"))
}
