package paper

import (
	"bytes"
	"math"
	"strings"
	"testing"

	"trefoil/lint/document"
	"trefoil/lint/draw"
	"trefoil/lint/generate"
	"trefoil/lint/report"
	"trefoil/lint/schedule"
	"trefoil/lint/trial"
	"trefoil/rules"
)

// made is the report of a design with its drawings.
func made(text string) *document.Document {
	in := document.Input{
		Tool: report.Tool{Name: "trefoil", Version: "1"}, Result: trial.Check(text, rules.All()), Rules: rules.All(), Today: trial.Today,
		Schedule: schedule.Options{TailM: 2, Spare: 3, DrumsM: []float64{500}},
	}
	opt := draw.Options{Date: "2027-03-01", Tool: "trefoil 1"}
	for _, s := range append(draw.Diagram(in.Result.Review, in.Result.Findings, opt), draw.Sections(in.Result.Review, in.Result.Findings, opt)...) {
		in.Drawings = append(in.Drawings, document.Drawing{Name: s.Name, Scene: s.Scene})
	}
	return document.Of(in)
}

// designs are what reports are printed of; the names are a trial for the printer.
func designs() map[string]string {
	text := string(generate.Design(12, 2))
	odd := strings.Repeat("wwwwwwww", 23)
	return map[string]string{
		"a dozen":       text,
		"nothing":       "",
		"no run":        "site \"x\" {\n  ratings = \"iec-60364-5-52:2009\"\n  voltage_v = 400\n}\n",
		"long":          strings.NewReplacer(`"hall-00000"`, `"`+odd+`"`, "board.hall-00000", `board["`+odd+`"]`).Replace(text),
		"right to left": strings.NewReplacer(`"hall-00000"`, `"לוח מבוא 3 لوحة"`, "board.hall-00000", `board["לוח מבוא 3 لوحة"]`).Replace(text),
		"signs":         strings.NewReplacer(`"hall-00000"`, `"太陽光⚡👷🏽‍♀️\\"`, "board.hall-00000", `board["太陽光⚡👷🏽‍♀️\\"]`).Replace(text),
	}
}

// TestSameBytes: equal documents give equal bytes, and a PDF with an outline.
func TestSameBytes(t *testing.T) {
	for what, text := range designs() {
		t.Run(what, func(t *testing.T) {
			var a, b bytes.Buffer
			if err := Write(&a, made(text)); err != nil {
				t.Fatal(err)
			}
			if err := Write(&b, made(text)); err != nil {
				t.Fatal(err)
			}
			if !bytes.Equal(a.Bytes(), b.Bytes()) {
				t.Error("the same design gives other bytes")
			}
			if !bytes.HasPrefix(a.Bytes(), []byte("%PDF-")) || !bytes.Contains(a.Bytes(), []byte("/Outlines")) {
				t.Error("it is no PDF with an outline")
			}
			if !bytes.Contains(a.Bytes(), []byte("/CreationDate (D:20270301000000)")) {
				t.Error("it does not bear the day of the report")
			}
		})
	}
}

// TestVisual: names that run from right to left. The forms of Arabic letters are those of
// the Unicode Standard, chart FE70-FEFF; Hebrew has one form and is only turned (Unicode
// Standard Annex 9).
func TestVisual(t *testing.T) {
	for _, c := range []struct{ in, want string }{
		{"board 3", "board 3"},
		{"mm² ≤ Ω", "mm² ≤ Ω"},
		{"שלום", "םולש"},
		{"run שלום 4", "run 4 םולש"},
		{"run \u2068שלום 12.5\u2069 is 4 m", "run 12.5 םולש is 4 m"},
		{"run שלום is 4", "run םולש is 4"},
		{"(שלום)", "(םולש)"},
		{"\u2068שלום (a b)\u2069", "(a b) םולש"},
		{"سلام", "\ufee1\ufefc\ufeb3"}, // meem alone, lam with alef at the end, seen at the beginning
		{"بيت", "\ufe96\ufef4\ufe91"},  // teh at the end, yeh in the middle, beh at the beginning
		{"دار", "\ufead\ufe8d\ufea9"},  // letters that join nothing after them
		{"太 sun", "\ufffd sun"},        // no face has it
		{"a\u2068b\u2069c", "abc"},     // marks of direction take no room
		{"⚡\U0001F477\u200d", "⚡\ufffd"},
	} {
		if got := visual(c.in); got != c.want {
			t.Errorf("visual(%q) is %q, want %q", c.in, got, c.want)
		}
	}
}

// TestSpread: columns never take more than the room, none less than its longest word.
func TestSpread(t *testing.T) {
	least, most := []float64{10, 5, 20, 8}, []float64{12, 60, 25, 8}
	for room := 43.0; room < 150; room += 9 {
		w := spread([]int{0, 1, 2, 3}, least, most, room)
		total := 0.0
		for i := range w {
			total += w[i]
			if w[i] < least[i] || w[i] > most[i]+1e-9 {
				t.Errorf("room %g: column %d is %g wide", room, i, w[i])
			}
		}
		if total > room+1e-9 || total < math.Min(room, 105)-1e-9 {
			t.Errorf("room %g: the columns take %g", room, total)
		}
	}
}

func BenchmarkWrite(b *testing.B) {
	d := made(string(generate.Design(100, 1)))
	b.ReportAllocs()
	for b.Loop() {
		if err := Write(&bytes.Buffer{}, d); err != nil {
			b.Fatal(err)
		}
	}
}

// FuzzWrite prints reports of any text: none of it stops the printer.
func FuzzWrite(f *testing.F) {
	for _, text := range designs() {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		if len(text) > 1<<15 {
			t.Skip()
		}
		if err := Write(&bytes.Buffer{}, made(text)); err != nil {
			t.Fatal(err)
		}
	})
}
