package main

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/txtar"

	"trefoil/lint/document"
	"trefoil/lint/engine"
	"trefoil/lint/report"
	"trefoil/lint/schedule"
	"trefoil/lint/source"
	"trefoil/rules"
)

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
