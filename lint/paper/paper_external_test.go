//go:build external

package paper

import (
	"bytes"
	"context"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"trefoil/lint/browser"
)

// TestExternalPages reads the PDF with another program: every page is A4 or A3, says whose
// report it is, that it is an aid and how many errors stand open; no word overlaps another
// or leaves the page; every figure of the calculation sheets stands on it; and each page
// can be turned into a picture.
func TestExternalPages(t *testing.T) {
	for what, text := range designs() {
		t.Run(what, func(t *testing.T) {
			ctx, cancel := context.WithTimeout(t.Context(), 3*time.Minute)
			defer cancel()
			d := made(text)
			var b bytes.Buffer
			if err := Write(&b, d); err != nil {
				t.Fatal(err)
			}
			dir := t.TempDir()
			file := filepath.Join(dir, "report.pdf")
			if err := os.WriteFile(file, b.Bytes(), 0o600); err != nil {
				t.Fatal(err)
			}
			pages, err := browser.Pages(ctx, file)
			if err != nil || len(pages) == 0 {
				t.Fatal(err, len(pages))
			}
			all := ""
			for i, p := range pages {
				// ISO 216: 210 x 297 mm and 420 x 297 mm, in points of 1/72 inch
				if (p.Width < 594 || p.Width > 597) && (p.Width < 1189 || p.Width > 1192) || p.Height < 841 || p.Height > 843 {
					t.Errorf("page %d is %g x %g", i+1, p.Width, p.Height)
				}
				said := p.Text()
				for _, want := range []string{d.Standing, "licensed person responsible"} {
					if !strings.Contains(said, want) {
						t.Errorf("page %d does not say %q", i+1, want)
					}
				}
				for _, f := range p.Faults() {
					t.Errorf("page %d: %s", i+1, f)
				}
				all += " " + said
			}
			for _, part := range d.Parts {
				for _, block := range part.Blocks {
					for _, row := range block.Working {
						if row.Known && !strings.Contains(all, " "+row.Shown+" ") {
							t.Errorf("%s: %s, %s, is not on paper", block.Head, row.Name, row.Shown)
						}
					}
				}
			}
			if out, err := exec.CommandContext(ctx, "pdftoppm", "-r", "30", "-png", file, filepath.Join(dir, "page")).CombinedOutput(); err != nil || len(out) > 0 {
				t.Errorf("pdftoppm: %v: %s", err, out)
			}
			if list, _ := filepath.Glob(filepath.Join(dir, "page*.png")); len(list) != len(pages) {
				t.Errorf("%d pictures of %d pages", len(list), len(pages))
			}
		})
	}
}
