package main

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// TestBill writes the bill of an example in each form: the lines sum up to what the bill
// says, whichever form one reads.
func TestBill(t *testing.T) {
	t.Chdir("../..")
	t.Setenv("NO_COLOR", "1")
	v, err := load("examples/cold-store", 1<<20)
	if err != nil {
		t.Fatal(err)
	}
	written := map[string]*bytes.Buffer{}
	for _, form := range billForms {
		written[form] = &bytes.Buffer{}
		if err := writeBill(written[form], v, form); err != nil {
			t.Fatal(err)
		}
	}
	rows, err := csv.NewReader(written["csv"]).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	sum := 0.0
	for _, row := range rows[1:] {
		if x, err := strconv.ParseFloat(row[5], 64); err == nil {
			sum += x
		}
	}
	var d struct {
		Items []struct{ Cost float64 }
		Sums  map[string]struct{ Known float64 }
	}
	if err := json.Unmarshal(written["json"].Bytes(), &d); err != nil {
		t.Fatal(err)
	}
	first := 0.0
	for _, i := range d.Items {
		first += i.Cost
	}
	for _, got := range []float64{sum, first} {
		if want := d.Sums["material_and_labour"].Known; want <= 0 || math.Abs(got/want-1) > 1e-12 {
			t.Errorf("the lines sum up to %v, the bill says %v", got, want)
		}
	}
	// By hand: 256 m of al-4c 240 mm2 - two legs of 110 m, and 36 m - at 27 a metre.
	if text := written["text"].String(); !strings.Contains(text, "cable al-4c                       240 mm2       256  m          27.00   6912.00  price.made-up\n") {
		t.Error(text)
	}
}

// TestLoadProfile reads a profile beside its design, and nothing from elsewhere.
func TestLoadProfile(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "d")
	if err := os.Mkdir(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	write := func(name, text string) {
		t.Helper()
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	design := func(named string) string {
		return "site \"s\" {\n  ratings   = \"iec-60364-5-52:2009\"\n  voltage_v = 400\n  economy {\n    load_profile = \"" + named + "\"\n    currency = \"EUR\"\n    energy_per_kwh = 0.1\n    energy_origin = \"o\"\n    discount_percent = 5\n    years = 20\n  }\n}\n"
	}
	day := strings.Repeat("0.5\n", 24)
	write("p.csv", day)
	write("../out.csv", day)
	write("bad.csv", "hour,share\n1,0.5\n2,1.5\n")
	if err := os.Symlink("../out.csv", filepath.Join(dir, "link.csv")); err != nil {
		t.Skip(err)
	}
	for named, says := range map[string]string{
		"p.csv": "", "./p.csv": "", "gone.csv": "gone.csv", "link.csv": "read the load profile", "bad.csv": "rated output", ".csv": "read the load profile",
	} {
		write("site.hcl", design(named))
		d, err := read(dir, 1<<20)
		switch {
		case err != nil:
			t.Error(err)
		case says == "" && (d.Profile == nil || len(d.Profile.Shares) != 24 || len(d.Faults) > 0):
			t.Errorf("%s: %v", named, d.Faults)
		case says == "":
		case d.Profile != nil || len(d.Faults) != 1:
			t.Errorf("%s: %d faults", named, len(d.Faults))
		case named == "bad.csv":
			if f := d.Faults[0]; filepath.Base(f.At.File.Name) != "bad.csv" || f.At.File.Position(f.At.Start).Line != 3 {
				t.Errorf("%s: %v", f.At.File.Name, f.Message)
			}
		case !strings.Contains(d.Faults[0].Message, says):
			t.Errorf("%s: %s", named, d.Faults[0].Message)
		}
	}
}
