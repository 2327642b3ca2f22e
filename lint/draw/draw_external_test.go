//go:build external

package draw

import (
	"context"
	"strings"
	"testing"
	"time"

	"trefoil/lint/browser"
	"trefoil/lint/trial"
)

// TestExternalBrowser looks at the sheets as Chromium sets them, light and dark: no text
// overlaps another or leaves the sheet, and contrast is as WCAG 2.1 AA asks.
func TestExternalBrowser(t *testing.T) {
	for what, text := range designs() {
		t.Run(strings.ReplaceAll(what, " ", "-"), func(t *testing.T) {
			ctx, cancel := context.WithTimeout(t.Context(), 3*time.Minute)
			defer cancel()
			v := trial.Review(text)
			page := "<!doctype html><html lang=en><head><meta charset=utf-8><title>sheets</title><style>body{background:#fff;color:#000;margin:0}@media screen and (prefers-color-scheme:dark){body{background:#11161c;color:#fff}}</style></head><body><main><h1>sheets</h1>"
			sheets := append(Diagram(v, told(v), Options{Notes: true}), Sections(v, told(v), Options{})...)
			for _, s := range sheets[:min(len(sheets), 8)] {
				page += string(s.SVG)
			}
			views, err := browser.Look(ctx, t.TempDir(), page+"</main></body></html>", 1700)
			if err != nil {
				t.Fatal(err)
			}
			for _, view := range views {
				if view.Texts < 20 {
					t.Errorf("%s: %d lines of text", view.Frame, view.Texts)
				}
				for _, f := range view.Faults {
					t.Errorf("%s: %s", view.Frame, f)
				}
			}
		})
	}
}
