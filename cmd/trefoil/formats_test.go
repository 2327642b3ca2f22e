package main

import (
	"bytes"
	"encoding/json"
	"encoding/xml"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"unicode/utf16"
	"unicode/utf8"

	"github.com/rogpeppe/go-internal/txtar"
	"github.com/santhosh-tekuri/jsonschema/v6"

	"trefoil/lint/report"
)

// odd is a design whose names, files and texts hold what markup and formats trip over; the
// accent and the sign of two code units stand in front of a fault on one line.
const odd = `-- site.hcl --
site "a <b>&amp; | ` + "`x`" + ` \"q\" @all #1 é 🧀" {
  ratings   = "iec-60364-5-52:2009"
  voltage_v = 400
  rise_limit_percent = 0.01
}
supply "grid" {
  fault_ka = 10
}
-- odd name ü#?%20'"|<i>.hcl --
source "in|v ]]> <script>" {
  note = "é 🧀 first line\nsecond | line"
  kind = "inverter"
  phases = 3
  max_current_a = 400
}
board "unused\"board" {
}
route "r" {
  laid = "clipped"
  widht_mm = 100
}
cable "cu" {
  conductor  = "copper"
  insulation = "xlpe-90"
  build      = "multicore"
  cores      = "4c+e"
}
run "r|<i>" {
  /* é 🧀 */ size_mm2 = 16
  from = source["in|v ]]> <script>"]
  to   = supply.grid
  cable = cable.cu
  section {
    route    = route.r
    length_m = 200
  }
}
waiver "voltage-rise" {
  on     = source["in|v ]]> <script>"]
  reason = "see <letter> | \"7\""
}
`

// oddDesign writes it and gives its directory.
func oddDesign(t *testing.T) string {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "odd dir & co")
	for _, f := range txtar.Parse([]byte(strings.ReplaceAll(odd, "odd name ü#?%20'\"|<i>.hcl", "ODD"))).Files {
		save(t, filepath.Join(dir, strings.ReplaceAll(f.Name, "ODD", "odd name ü#?%20'\"|<i>.hcl")), f.Data)
	}
	return dir
}

// written runs the program and gives its standard output.
func written(t *testing.T, args ...string) []byte {
	t.Helper()
	var out, errs bytes.Buffer
	if code := run(args, &out, &errs); code > 1 {
		t.Fatalf("%s: exit %d: %s", strings.Join(args, " "), code, errs.String())
	}
	return out.Bytes()
}

// schema reads a JSON Schema.
func schema(t *testing.T, text []byte) *jsonschema.Schema {
	t.Helper()
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	c := jsonschema.NewCompiler()
	if err := c.AddResource("file:///schema.json", doc); err != nil {
		t.Fatal(err)
	}
	s, err := c.Compile("file:///schema.json")
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func valid(t *testing.T, s *jsonschema.Schema, text []byte) error {
	t.Helper()
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(text))
	if err != nil {
		t.Fatalf("%v\n%s", err, text)
	}
	return s.Validate(doc)
}

// TestSARIF holds the output for every example, and for a design of odd names, against the
// schema of OASIS for SARIF 2.1.0 (errata 01).
func TestSARIF(t *testing.T) {
	text, err := os.ReadFile("../../lint/report/testdata/sarif-schema-2.1.0.json")
	if err != nil {
		t.Fatal(err)
	}
	s := schema(t, text)
	dirs, err := filepath.Glob("../../examples/*")
	if err != nil || len(dirs) < 3 {
		t.Fatal(dirs, err)
	}
	broken := t.TempDir()
	save(t, filepath.Join(broken, "site.hcl"), []byte("site \"x\" {\n  voltage_v =\n"))
	for _, dir := range append(dirs, oddDesign(t), broken) {
		out := written(t, "check", "--format", "sarif", "--today", "2027-03-01", dir)
		if err := valid(t, s, out); err != nil {
			t.Errorf("%s: %v", dir, err)
		}
		if bad := bytes.Replace(out, []byte(`"startLine":`), []byte(`"startLine":-`), 1); !bytes.Equal(bad, out) && valid(t, s, bad) == nil {
			t.Errorf("%s: a line below 0 is valid", dir)
		}
	}
	var failure, errs bytes.Buffer
	if code := run([]string{"check", "--format", "sarif", t.TempDir()}, &failure, &errs); code != 3 {
		t.Errorf("exit %d", code)
	}
	if err := valid(t, s, failure.Bytes()); err != nil || !strings.Contains(failure.String(), `"executionSuccessful":false`) {
		t.Errorf("%v: %s", err, failure.String())
	}
}

// sarifOf is what the tests look at of a SARIF file.
type sarifOf struct {
	Runs []struct {
		ColumnKind string
		Tool       struct {
			Driver struct{ Rules []struct{ ID string } }
		}
		Results []struct {
			RuleID              string
			RuleIndex           int
			Level               string
			Locations           []struct{ PhysicalLocation sarifPlace }
			RelatedLocations    []struct{ PhysicalLocation sarifPlace }
			PartialFingerprints map[string]string
			Suppressions        []struct{ Kind, Justification string }
			Fixes               []struct {
				ArtifactChanges []struct {
					Replacements []struct{ InsertedContent struct{ Text string } }
				}
			}
		}
	}
}

type sarifPlace struct {
	ArtifactLocation struct{ URI string }
	Region           struct{ StartLine, StartColumn, EndLine, EndColumn int }
}

// TestSARIFContent: rules by index, columns in code points, related places, fingerprints,
// waivers as suppressions, fixes, and a file name that is a proper URI.
func TestSARIFContent(t *testing.T) {
	dir := oddDesign(t)
	t.Chdir(filepath.Dir(dir))
	var log sarifOf
	if err := json.Unmarshal(written(t, "check", "--format", "sarif", "odd dir & co"), &log); err != nil {
		t.Fatal(err)
	}
	run := log.Runs[0]
	seen := map[string]bool{}
	for _, r := range run.Results {
		seen[r.RuleID] = true
		if run.Tool.Driver.Rules[r.RuleIndex].ID != r.RuleID {
			t.Errorf("%s has the index of %s", r.RuleID, run.Tool.Driver.Rules[r.RuleIndex].ID)
		}
		if len(r.PartialFingerprints) != 1 {
			t.Errorf("%s has no fingerprint", r.RuleID)
		}
		at := r.Locations[0].PhysicalLocation
		switch r.RuleID {
		case "run-overloaded":
			// "  /* é 🧀 */ size_mm2": 11 code points stand in front, 12 code units, 15 bytes.
			line := "  /* é 🧀 */ "
			if n := utf8.RuneCountInString(line); at.Region.StartColumn != n+1 || n == len(utf16.Encode([]rune(line))) {
				t.Errorf("column %d, want %d", at.Region.StartColumn, n+1)
			}
			if want := "odd%20dir%20&%20co/odd%20name%20%C3%BC%23%3F%2520%27%22%7C%3Ci%3E.hcl"; strings.ReplaceAll(at.ArtifactLocation.URI, "'", "%27") != want {
				t.Errorf("URI %s, want %s", at.ArtifactLocation.URI, want)
			}
			if len(r.RelatedLocations) == 0 || r.Level != "error" {
				t.Errorf("%+v", r)
			}
		case "voltage-rise":
			if len(r.Suppressions) != 1 || r.Suppressions[0].Kind != "inSource" || r.Suppressions[0].Justification != `see <letter> | "7"` {
				t.Errorf("%+v", r.Suppressions)
			}
		case "unknown-word":
			if len(r.Fixes) != 1 || r.Fixes[0].ArtifactChanges[0].Replacements[0].InsertedContent.Text != "width_mm" {
				t.Errorf("%+v", r.Fixes)
			}
		}
	}
	if run.ColumnKind != "unicodeCodePoints" || !seen["run-overloaded"] || !seen["voltage-rise"] || !seen["unknown-word"] {
		t.Errorf("%s %v", run.ColumnKind, seen)
	}
}

// TestJUnit: one suite a design, one case a rule, failed where it finds something at the
// level; names that XML cannot hold as they are come through.
func TestJUnit(t *testing.T) {
	dir := oddDesign(t)
	for _, level := range []string{"error", "note"} {
		out := written(t, "check", "--format", "junit", "--level", level, dir, "../../examples/bakery")
		var doc struct {
			Tests    int `xml:"tests,attr"`
			Failures int `xml:"failures,attr"`
			Suites   []struct {
				Name     string `xml:"name,attr"`
				Tests    int    `xml:"tests,attr"`
				Failures int    `xml:"failures,attr"`
				Cases    []struct {
					Name    string `xml:"name,attr"`
					Failure *struct {
						Message string `xml:"message,attr"`
						Text    string `xml:",chardata"`
					} `xml:"failure"`
					Out string `xml:"system-out"`
				} `xml:"testcase"`
			} `xml:"testsuite"`
		}
		d := xml.NewDecoder(bytes.NewReader(out))
		if err := d.Decode(&doc); err != nil {
			t.Fatalf("%v\n%s", err, out)
		}
		tests, failures := 0, 0
		lines := map[string]bool{} // the findings that are told
		for _, s := range doc.Suites {
			n := 0
			for _, c := range s.Cases {
				if c.Failure != nil {
					n++
				}
				told := c.Out
				if c.Failure != nil {
					told += "\n" + c.Failure.Text
				}
				for l := range strings.Lines(told) {
					if !strings.HasPrefix(l, "    next: ") && strings.TrimSpace(l) != "" {
						lines[strings.TrimSpace(l)] = true
					}
				}
			}
			if s.Tests != len(s.Cases) || s.Failures != n {
				t.Errorf("%s counts %d and %d, and has %d and %d", s.Name, s.Tests, s.Failures, len(s.Cases), n)
			}
			tests, failures = tests+s.Tests, failures+s.Failures
		}
		if doc.Tests != tests || doc.Failures != failures || len(doc.Suites) != 2 || failures == 0 {
			t.Errorf("%d suites, %d tests, %d failures", len(doc.Suites), doc.Tests, doc.Failures)
		}
		want := 0
		for l := range strings.Lines(string(written(t, "check", "--format", "line", dir, "../../examples/bakery"))) {
			want++
			if !lines[strings.TrimSpace(l)] {
				t.Errorf("%s is not told", l)
			}
		}
		if waived := len(lines) - want; waived != 1 {
			t.Errorf("%d lines, %d in the line form and one waived", len(lines), want)
		}
	}
}

// strict allows no key that a schema does not name, so that it names all.
func strict(text []byte) []byte {
	return bytes.ReplaceAll(text, []byte(`"properties": {`), []byte(`"additionalProperties": false, "properties": {`))
}

// TestSchemas keeps the published schemas as the types have them, and holds real outputs
// against them: no key is missing there, and none is too many.
func TestSchemas(t *testing.T) {
	dir := oddDesign(t)
	record := filepath.Join(t.TempDir(), "record.json")
	recordText := func() []byte {
		written(t, "check", "--record", record, "--today", "2027-03-01", dir, "../../examples/cold-store")
		text, err := os.ReadFile(record)
		if err != nil {
			t.Fatal(err)
		}
		return text
	}
	failure := func(args ...string) []byte {
		var out, errs bytes.Buffer
		if code := run(args, &out, &errs); code < 2 {
			t.Fatalf("%v: exit %d", args, code)
		}
		return out.Bytes()
	}
	both := []string{dir, "../../examples/cold-store", "../../examples/cold-store-late"}
	outputs := map[string][][]byte{
		"check":    {written(t, append([]string{"check", "--format", "json"}, both...)...), written(t, "check", "--format", "json", dir), failure("check", "--format", "json", t.TempDir()), failure("check", "--format", "json", "--level", "x")},
		"calc":     {written(t, "calc", "--format", "json", both[1]), failure("calc", "--format", "json", t.TempDir())},
		"amend":    {written(t, "amend", "--format", "json", dir)},
		"compare":  {written(t, "compare", "--format", "json", both[1], both[2]), written(t, "compare", "--format", "json", dir, both[2])},
		"choices":  {written(t, "choices", "--format", "json", both[1], "battery"), written(t, "choices", "--format", "json", both[1], "south")},
		"plan":     {written(t, "choices", "--all", "--format", "json", "../../examples/bakery")},
		"bill":     {written(t, "choices", "--bill", "--format", "json", both[1]), written(t, "choices", "--bill", "--format", "json", dir)},
		"schedule": {written(t, "schedule", "--format", "json", both[1]), failure("schedule", "--format", "json", t.TempDir())},
		"record":   {recordText()},
		"verify":   {written(t, "check", "--verify", record, "--format", "json")},
	}
	for _, name := range report.Documents() {
		text, err := report.Schema(name)
		if err != nil {
			t.Fatal(err)
		}
		recorded(t, filepath.Join("../../lint/report/schema", name+".json"), text)
		if len(outputs[name]) == 0 {
			t.Errorf("no output of %s is held against its schema", name)
		}
		plain, full := schema(t, text), schema(t, strict(text))
		for _, out := range outputs[name] {
			if err := valid(t, plain, out); err != nil {
				t.Errorf("%s: %v\n%.300s", name, err, out)
			}
			if err := valid(t, full, out); err != nil {
				t.Errorf("%s, with no other keys: %v", name, err)
			}
			if bad := bytes.Replace(out, []byte(`"version":1`), []byte(`"version":"1"`), 1); !bytes.Equal(bad, out) && valid(t, plain, bad) == nil {
				t.Errorf("%s: a version in quotes is valid", name)
			}
		}
	}
}

// TestRecord: a record is the same each time, holds, and stops holding with an input, a
// table's text, or its own text altered.
func TestRecord(t *testing.T) {
	t.Chdir(t.TempDir())
	for _, f := range txtar.Parse([]byte(millText)).Files {
		save(t, f.Name, f.Data)
	}
	ownTable(t, "sites/mill/tables/own")
	make := func() []byte {
		written(t, "check", "--today", "2027-03-01", "--record", "r.json", "sites/mill")
		text, err := os.ReadFile("r.json")
		if err != nil {
			t.Fatal(err)
		}
		return text
	}
	one := make()
	if two := make(); !bytes.Equal(one, two) {
		t.Error("two records of the same texts differ")
	}
	for _, file := range []string{"catalogue/cables.hcl", "sites/mill/runs.hcl", "own.csv"} {
		if !bytes.Contains(one, []byte(file)) {
			t.Errorf("%s is not in the record", file)
		}
	}
	verify := func(want int, words string) {
		t.Helper()
		var out, errs bytes.Buffer
		if code := run([]string{"check", "--verify", "r.json"}, &out, &errs); code != want || !strings.Contains(out.String()+errs.String(), words) {
			t.Errorf("exit %d, want %d with %q:\n%s%s", code, want, words, out.String(), errs.String())
		}
	}
	verify(0, "the record r.json of 2027-03-01 holds")
	for _, c := range []struct{ file, old, new, says string }{
		{"catalogue/cables.hcl", "xlpe-90", "pvc-70", "catalogue/cables.hcl: it is another text"},
		{"sites/mill/runs.hcl", "= 16", "= 25", "run.inv: capacity"},
		{"sites/mill/runs.hcl", "= 12", "= 12 ", "sites/mill/runs.hcl: it is another text"},
		{"sites/mill/tables/own/own.csv", ",77,", ",78,", "table own.csv: it holds something else"},
	} {
		was, err := os.ReadFile(c.file)
		if err != nil {
			t.Fatal(err)
		}
		save(t, c.file, bytes.Replace(was, []byte(c.old), []byte(c.new), 1))
		verify(1, c.says)
		save(t, c.file, was)
	}
	verify(0, "holds")
	save(t, "r.json", bytes.Replace(one, []byte(`"design_current_a": 40`), []byte(`"design_current_a": 39`), 1))
	verify(3, "altered after it was made")
	save(t, "r.json", []byte("{}"))
	verify(3, "no record")
	if err := os.Remove("r.json"); err != nil {
		t.Fatal(err)
	}
	verify(3, "read the record")
}
