package report

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"math"
	"strconv"
	"strings"
	"testing"

	"trefoil/lint/cost"
)

const dairy = `site "dairy" {
  ratings   = "iec-60364-5-52:2009"
  voltage_v = 400
  air_c     = 30
}
supply "grid" {
  fault_ka = 10
}
source "a" {
  kind      = "inverter"
  rated_kva = 30
  phases    = 3
}
cable "=1+1" {
  conductor  = "copper"
  insulation = "xlpe-90"
  build      = "multicore"
  cores      = "4c+e"
}
route "wall" {
  laid = "clipped"
}
run "r" {
  from     = source.a
  to       = supply.grid
  cable    = cable["=1+1"]
  size_mm2 = 16
  section {
    route    = route.wall
    length_m = 10
  }
}
price "p" {
  currency     = "EUR"
  date         = "2026-10-01"
  origin       = "@SUM(A1) \u001b[2Jmade up"
  labour_per_h = 30
  cable "=1+1" {
    per_m = 1.05
  }
  termination "copper" {
    hours = 0.1
  }
}
`

// TestBillForms looks that the three forms say the same: each figure of the table's lines
// is that of the bill, in full in CSV and JSON, rounded in text, and what is not known is
// nowhere 0.
func TestBillForms(t *testing.T) {
	b := cost.Of(assessed(dairy))
	var text, lines, document bytes.Buffer
	for _, err := range []error{WriteBill(&text, b), WriteBillCSV(&lines, b), WriteJSON(&document, NewBillDocument(Tool{}, b))} {
		if err != nil {
			t.Fatal(err)
		}
	}
	rows, err := csv.NewReader(&lines).ReadAll()
	if err != nil || len(rows) != len(b.Items)+1 || strings.Join(rows[0], ",") != "item,size,quantity,unit,unit_price,cost,basis,currency" {
		t.Fatal(err, rows)
	}
	var d struct {
		Items []struct {
			Quantity, Cost *float64
			Lack           string
		}
		Sums map[string]struct {
			Known float64
			Lacks int
		}
		Runs []struct{ Run string }
	}
	if err := json.Unmarshal(document.Bytes(), &d); err != nil || len(d.Items) != len(b.Items) {
		t.Fatal(err)
	}
	for k, i := range b.Items {
		row, x := rows[k+1], d.Items[k]
		for _, f := range []struct {
			cell  string
			value *float64
			want  float64
			known bool
		}{{row[2], x.Quantity, i.Quantity.Value, i.Quantity.Known}, {row[5], x.Cost, i.Cost.Value, i.Cost.Known}} {
			if f.known != (f.value != nil) || f.known != (f.cell != "") {
				t.Fatalf("%s: known %v, CSV %q", row[0], f.known, f.cell)
			}
			if got, err := strconv.ParseFloat(f.cell, 64); f.known && (err != nil || got != f.want || *f.value != f.want) {
				t.Errorf("%s: %s and %v, want %v", row[0], f.cell, *f.value, f.want)
			}
		}
		if !i.Cost.Known && x.Lack == "" {
			t.Errorf("%s has no cost and no reason", row[0])
		}
	}
	// 10 m at 1.05; two ends of four cores of 16 mm2 and an earth of the same, 0.1 h each, at 30.
	if m := d.Sums["material"]; math.Abs(m.Known-10.5) > 1e-9 || m.Lacks != 3 {
		t.Errorf("material %+v", m)
	}
	if m := d.Sums["labour"]; math.Abs(m.Known-30) > 1e-9 || m.Lacks == 0 {
		t.Errorf("labour %+v", m)
	}
	for _, want := range []string{"cable =1+1 ", "10.50", "material                 10.50 EUR and 3 parts not known", "items have no price", "  no price for copper lug 16 mm2 in price.p", "route \"wall\" does not state span_m", "assumed: a half-sine", Caution} {
		if !strings.Contains(text.String(), want) {
			t.Errorf("%q is missing in\n%s", want, text.String())
		}
	}
}

// TestBillHarmless looks that no word of a design becomes a formula or steers a terminal.
func TestBillHarmless(t *testing.T) {
	b := cost.Of(assessed(strings.ReplaceAll(dairy, `route "wall"`, `route "wall\u202e"`)))
	var text, lines bytes.Buffer
	if err := WriteBill(&text, b); err != nil {
		t.Fatal(err)
	}
	if err := WriteBillCSV(&lines, b); err != nil {
		t.Fatal(err)
	}
	if s := text.String() + lines.String(); strings.ContainsAny(s, "\x1b\u202e") {
		t.Errorf("%q", s)
	}
	for s, want := range map[string]string{"=1+1": "'=1+1", "+2": "'+2", "-2": "'-2", "@x": "'@x", "\t=1": "' =1", "\uff1d1": "'\uff1d1", "a=1": "a=1", "": ""} {
		if got := harmless(s); got != want {
			t.Errorf("%q becomes %q", s, got)
		}
	}
	rows, _ := csv.NewReader(&lines).ReadAll()
	for _, row := range rows {
		for _, cell := range row {
			if cell != "" && strings.ContainsRune("=+-@", rune(cell[0])) {
				t.Errorf("%q", cell)
			}
		}
	}
}

// TestBillNothing writes a design without runs.
func TestBillNothing(t *testing.T) {
	b := cost.Of(assessed("site \"s\" {\n  ratings = \"iec-60364-5-52:2009\"\n  voltage_v = 400\n}\n"))
	var text, document bytes.Buffer
	if err := WriteBill(&text, b); err != nil || !strings.Contains(text.String(), "nothing to count") {
		t.Errorf("%v\n%s", err, text.String())
	}
	if err := WriteJSON(&document, NewBillDocument(Tool{}, b)); err != nil || !strings.Contains(document.String(), `"items":[]`) || !strings.Contains(document.String(), `"prices":[]`) {
		t.Errorf("%v\n%s", err, document.String())
	}
}
