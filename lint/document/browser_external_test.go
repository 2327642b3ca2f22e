//go:build external

package document

import (
	"context"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"trefoil/lint/browser"
	"trefoil/lint/generate"
)

// looked are the designs whose reports are looked at.
func looked() map[string]string {
	long := strings.Repeat("wwwwwwww", 23)
	return map[string]string{
		"sawmill":   sawmill,
		"generated": string(generate.Design(60, 5)),
		"empty":     "site \"x\" {\n ratings = \"iec-60364-5-52:2009\"\n voltage_v = 400\n}\n",
		"odd names": strings.NewReplacer(`run "roof"`, `run "`+long+`"`, `board "hall"`, `board "`+long+`"`, "board.hall", `board["`+long+`"]`,
			`source "office"`, `source "\u05de\u05e9\u05e8\u05d3 5 & </svg>"`, "source.office", `source["\u05de\u05e9\u05e8\u05d3 5 & </svg>"]`, `cable "five"`, `cable "`+long+`"`, "cable.five", `cable["`+long+`"]`).Replace(sawmill),
	}
}

// TestExternalBrowser: in windows of a phone, a tablet and a desk, light and dark, no text
// overlaps or leaves its box, nothing is said on the console or fetched, contrast and names
// are as WCAG 2.1 AA asks.
func TestExternalBrowser(t *testing.T) {
	for name, text := range looked() {
		t.Run(name, func(t *testing.T) {
			ctx, cancel := context.WithTimeout(t.Context(), 3*time.Minute)
			defer cancel()
			views, err := browser.Look(ctx, t.TempDir(), written(t, drawn(text)), 390, 900, 1440)
			if err != nil {
				t.Fatal(err)
			}
			for _, v := range views {
				if v.Texts < 50 {
					t.Errorf("%s: %d lines of text", v.Frame, v.Texts)
				}
				for _, f := range v.Faults {
					t.Errorf("%s: %s", v.Frame, f)
				}
			}
		})
	}
}

// TestExternalPaper: on paper each page is A4, or A3 on its side; it says whose report it
// is, that errors stand open, and its number; no word overlaps another or leaves it.
func TestExternalPaper(t *testing.T) {
	for name, text := range looked() {
		t.Run(name, func(t *testing.T) {
			ctx, cancel := context.WithTimeout(t.Context(), 3*time.Minute)
			defer cancel()
			dir := t.TempDir()
			pdf := filepath.Join(dir, "report.pdf")
			in := drawn(text)
			if err := browser.Print(ctx, dir, written(t, in), pdf); err != nil {
				t.Fatal(err)
			}
			pages, err := browser.Pages(ctx, pdf)
			if err != nil || len(pages) == 0 {
				t.Fatal(err, len(pages))
			}
			wide := 0
			for i, p := range pages {
				// ISO 216: 210 x 297 mm and 420 x 297 mm, in points of 1/72 inch
				switch {
				case near(p.Width, 595.3) && near(p.Height, 841.9):
				case near(p.Width, 1190.6) && near(p.Height, 841.9):
					wide++
				default:
					t.Errorf("page %d is %g x %g", i+1, p.Width, p.Height)
				}
				said := p.Text()
				for _, want := range []string{Of(in).Standing, "licensed person responsible"} {
					if !strings.Contains(said, want) {
						t.Errorf("page %d does not say %q", i+1, want)
					}
				}
				for _, f := range p.Faults() {
					t.Errorf("page %d: %s", i+1, f)
				}
			}
			if wide == 0 {
				t.Error("no page is wide")
			}
		})
	}
}

func near(a, b float64) bool { return a > b-2 && a < b+2 }
