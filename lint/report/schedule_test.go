package report

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"strconv"
	"strings"
	"testing"

	"trefoil/lint/cost"
	"trefoil/lint/generate"
	"trefoil/lint/schedule"
	"trefoil/ratings/quantity"
)

// TestScheduleFigures: every figure of the cable schedule that calc has too is the same
// figure, in JSON and in CSV, unrounded, and what calc leaves out is unknown.
func TestScheduleFigures(t *testing.T) {
	v := assessed(string(generate.Design(120, 3)))
	all := make([]int, len(v.Runs))
	for i := range all {
		all[i] = i
	}
	var text bytes.Buffer
	if err := WriteJSON(&text, NewCalcDocument(Tool{}, v, all, "")); err != nil {
		t.Fatal(err)
	}
	var calc struct{ Runs []map[string]any }
	if err := json.Unmarshal(text.Bytes(), &calc); err != nil {
		t.Fatal(err)
	}
	table := schedule.Kinds[0].Of(v, schedule.Options{DrumsM: []float64{100}})
	var b bytes.Buffer
	if err := WriteScheduleCSV(&b, table); err != nil {
		t.Fatal(err)
	}
	lines, err := csv.NewReader(&b).ReadAll()
	if err != nil || len(lines) != len(v.Runs)+1 {
		t.Fatal(err, len(lines))
	}
	document := NewScheduleDocument(Tool{}, []schedule.Table{table}, "").Schedules[0]
	compared := map[string]bool{}
	for i, run := range calc.Runs {
		if run["run"] != document.Rows[i]["cable"] {
			t.Fatalf("row %d is of %v, not of %v", i, document.Rows[i]["cable"], run["run"])
		}
		for k, c := range table.Columns {
			want, has := run[c.Name].(float64)
			if !has {
				continue
			}
			compared[c.Name] = true
			if got, is := document.Rows[i][c.Name].(float64); !is || got != want {
				t.Errorf("JSON, %v %s: %v, calc has %v", run["run"], c.Name, document.Rows[i][c.Name], want)
			}
			if got, err := strconv.ParseFloat(lines[i+1][k], 64); err != nil || got != want {
				t.Errorf("CSV, %v %s: %s, calc has %v", run["run"], c.Name, lines[i+1][k], want)
			}
		}
	}
	for _, name := range []string{"design_current_a", "device_a", "legs", "capacity_a", "governing_section", "utilisation_percent", "rise_v", "rise_percent", "path_rise_v", "path_rise_percent", "loss_w", "fault_max_ka"} {
		if !compared[name] {
			t.Errorf("%s is compared nowhere", name)
		}
	}
}

func odd() schedule.Table {
	return schedule.Table{
		Kind: "cables", Title: "Cable *schedule*", Basis: []string{"<b>1</b> | 2"},
		Columns: []schedule.Column{{Name: "name", Head: "name"}, {Name: "a_a", Head: "current", Type: schedule.Number, Unit: quantity.Ampere}},
		Rows: [][]schedule.Cell{
			{{State: schedule.Known, Text: "=HYPERLINK(\"x\")|<i>\x1b[2J\u202e"}, {State: schedule.Known, Value: 1.0 / 3}},
			{{State: schedule.Known, Text: "日本語 e\u0301"}, {State: schedule.Unknown}},
			{{State: schedule.Known, Text: "-2+3"}, {State: schedule.Known, Value: -0.04}},
			{{State: schedule.Known, Text: "\uff1d1"}, {}},
		},
	}
}

// TestScheduleCSV: texts are never formulas, figures are full, the unknown says so.
func TestScheduleCSV(t *testing.T) {
	var b bytes.Buffer
	if err := WriteScheduleCSV(&b, odd()); err != nil {
		t.Fatal(err)
	}
	want := "name,a_a\n\"'=HYPERLINK(\"\"x\"\")|<i>\ufffd[2J\ufffd\",0.3333333333333333\n日本語 e\u0301,unknown\n'-2+3,-0.04\n'\uff1d1,\n"
	if b.String() != want {
		t.Errorf("got\n%swant\n%s", b.String(), want)
	}
}

// TestScheduleMarkdown: no word of a design becomes markup or ends a cell.
func TestScheduleMarkdown(t *testing.T) {
	var b bytes.Buffer
	if err := WriteScheduleMarkdown(&b, []schedule.Table{odd()}); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"## Cable \\*schedule\\*\n\n- &lt;b&gt;1&lt;/b&gt; \\| 2\n\n| name | current, A |\n| --- | ---: |\n", "| =HYPERLINK(\"x\")\\|&lt;i&gt;\ufffd\\[2J\ufffd | 0.3 |\n", "| unknown |\n", "| -0.04 |\n"} {
		if !strings.Contains(b.String(), want) {
			t.Errorf("%q is missing in\n%s", want, b.String())
		}
	}
}

// TestScheduleText: columns stand below each other whatever the script, and no word
// steers the terminal.
func TestScheduleText(t *testing.T) {
	var b bytes.Buffer
	if err := WriteSchedule(&b, []schedule.Table{odd()}); err != nil {
		t.Fatal(err)
	}
	if strings.ContainsAny(b.String(), "\x1b\u202e") {
		t.Errorf("%q", b.String())
	}
	lines := strings.Split(b.String(), "\n")
	if len(lines) < 7 || displayWidth(lines[4]) != displayWidth(lines[5]) || displayWidth(lines[3]) != displayWidth(lines[4]) {
		t.Errorf("%q", lines)
	}
	if displayWidth("日本語") != 6 || displayWidth("e\u0301") != 1 || displayWidth("abc") != 3 {
		t.Error("widths")
	}
}

// TestScheduleXLSX: the same cells, typed.
func TestScheduleXLSX(t *testing.T) {
	var one, two bytes.Buffer
	if err := WriteScheduleXLSX(&one, []schedule.Table{odd()}, Stamp{Design: "d", Day: "2027-03-01"}, "1 error stands open"); err != nil {
		t.Fatal(err)
	}
	if err := WriteScheduleXLSX(&two, []schedule.Table{odd()}, Stamp{Design: "d", Day: "2027-03-01"}, "1 error stands open"); err != nil || !bytes.Equal(one.Bytes(), two.Bytes()) {
		t.Errorf("not the same twice: %v", err)
	}
}

// TestBillTable: the bill as a table has the figures of its JSON, and the lacks of it.
func TestBillTable(t *testing.T) {
	b := cost.Of(assessed(mill + "price \"p\" {\n  currency = \"EUR\"\n  date = \"2027-01-01\"\n  origin = \"made up\"\n}\n"))
	table, document := BillTable(b), NewBillDocument(Tool{}, b)
	if len(table.Rows) == 0 || len(table.Rows) != len(document.Items) {
		t.Fatalf("%d rows of %d items", len(table.Rows), len(document.Items))
	}
	for i, row := range table.Rows {
		for k, want := range map[int]*float64{2: document.Items[i].Quantity, 4: document.Items[i].UnitPrice, 5: document.Items[i].Cost} {
			if known := row[k].State == schedule.Known; known != (want != nil) || known && row[k].Value != *want {
				t.Errorf("%s: %+v, JSON has %v", row[0].Text, row[k], want)
			}
		}
	}
}
