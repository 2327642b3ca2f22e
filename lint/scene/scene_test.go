package scene

import (
	"bytes"
	"encoding/xml"
	"math"
	"strconv"
	"strings"
	"testing"
)

// TestMeasure: advances of DejaVu Sans and DejaVu Sans Bold in thousandths of an em, as
// their font metrics files have them (from memory).
func TestMeasure(t *testing.T) {
	for _, c := range []struct {
		text  string
		heavy bool
		want  float64
	}{
		{" ", false, 318},
		{"A", false, 684},
		{"M", false, 863},
		{"i", false, 278},
		{"0", false, 636},
		{"W", false, 989},
		{"A", true, 774},
		{"M", true, 995},
		{"i", true, 343},
		{"0", true, 696},
		{"AMi", false, 684 + 863 + 278},
		{"", false, 0},
		{"A\u0301\u2068", false, 684},
	} {
		if got := 1000 * Measure(c.text, 1, c.heavy); math.Abs(got-c.want) > 0.6*float64(len(c.text)+1) {
			t.Errorf("%q (bold %t) is %.1f wide, want %.0f", c.text, c.heavy, got, c.want)
		}
	}
	if Measure("mm", 2, false) != 2*Measure("mm", 1, false) {
		t.Error("twice the size is not twice as wide")
	}
}

func TestShorten(t *testing.T) {
	const size = 2.5
	for _, s := range []string{"", "short", "a rather long name of an inverter in hall 17", strings.Repeat("w", 400), strings.Repeat("e\u0301", 60), strings.Repeat("שלום ", 30), strings.Repeat("👷🏽‍♀️", 30)} {
		for _, wide := range []float64{3, 8, 20, 60, 1000} {
			fit := Fit(s, size, true, wide)
			if wide >= 8 && Measure(fit, size, true) > wide+1e-9 {
				t.Errorf("Fit(%q, %g) is %g wide", s, wide, Measure(fit, size, true))
			}
			if Measure(s, size, true) <= wide && fit != s {
				t.Errorf("Fit(%q, %g) is shortened without need", s, wide)
			}
			if strings.ContainsRune(fit, '\ufffd') {
				t.Errorf("Fit(%q) breaks a character", s)
			}
			for _, l := range Wrap(s, size, false, wide) {
				if wide >= 8 && Measure(l, size, false) > wide+1e-9 {
					t.Errorf("Wrap(%q, %g) has a line %g wide", s, wide, Measure(l, size, false))
				}
			}
			if cut := Cut(s, size, false, wide); wide >= 8 && Measure(cut, size, false) > wide+1e-9 {
				t.Errorf("Cut(%q, %g) is %g wide", s, wide, Measure(cut, size, false))
			}
		}
	}
	if got := Fit("inverter-hall-north-17", size, false, 25); !strings.HasPrefix(got, "inv") || !strings.HasSuffix(got, "17") {
		t.Errorf("beginning and end do not stay: %q", got)
	}
	if got := Cut("35 mm2 of copper, 250 A", size, false, 27); got != "35 mm2 of…" && got != "35 mm2 of copper…" {
		t.Errorf("not cut after a word: %q", got)
	}
	if got := strings.Join(Wrap("one two  three", size, false, 1000), "|"); got != "one two three" {
		t.Errorf("wrapped as %q", got)
	}
}

// luminance of a colour, by WCAG 2.1, relative luminance.
func luminance(t *testing.T, hex string) float64 {
	n, err := strconv.ParseUint(hex[1:], 16, 32)
	if err != nil {
		t.Fatal(err)
	}
	part := func(shift uint) float64 {
		c := float64(n>>shift&255) / 255
		if c <= 0.03928 {
			return c / 12.92
		}
		return math.Pow((c+0.055)/1.055, 2.4)
	}
	return 0.2126*part(16) + 0.7152*part(8) + 0.0722*part(0)
}

// TestContrast: text against its ground as WCAG 2.1, success criterion 1.4.3, asks: 4.5.
func TestContrast(t *testing.T) {
	for name, of := range map[string]map[Role]string{"light": Light, "dark": Dark} {
		if len(of) != len(roles) {
			t.Errorf("%s has %d colours, want %d", name, len(of), len(roles))
		}
		for _, r := range []Role{Ink, Dim, Error, Warn, Info} {
			a, b := luminance(t, of[r]), luminance(t, of[Paper])
			if ratio := (max(a, b) + 0.05) / (min(a, b) + 0.05); ratio < 4.5 {
				t.Errorf("%s, %s: contrast %.2f", name, r, ratio)
			}
		}
	}
	for _, c := range classes {
		if _, ok := Styles[c]; !ok {
			t.Errorf("class %s has no style", c)
		}
	}
	if len(classes) != len(Styles) {
		t.Errorf("%d classes, %d styles", len(classes), len(Styles))
	}
}

func TestSVG(t *testing.T) {
	s := &Scene{Name: "x-1", Title: "a < b & \"c\"", Desc: "\x00 ]]>", WidthMM: 40, HighMM: 20}
	s.Path(Wire, 0, 0, 1, 1)
	s.Path(Wire, 2, 2, 3, -0.001)
	s.Shape(Solid, 0, 0, 1, 0, 1, 1)
	s.Path(Thin, 5, 5, 6.125, 6)
	s.Add(Rect{Class: Cell, At: Box{1, 2, 3, 4}, Round: 0.5}, Circle{Class: Body, Centre: Point{1, 1}, R: 0.25})
	s.Write(Text{At: Point{1, 2}, Size: 3, Bold: true, Anchor: End, Text: strings.Repeat("<name>", 20)}, 30)
	if err := xml.Unmarshal(s.SVG(), new(struct{})); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{
		`<path class="d-wire" d="M0,0L1,1M2,2L3,0"/>`, `<polygon class="d-solid" points="0,0 1,0 1,1"/>`, `<path class="d-thin" d="M5,5L6.12,6"/>`,
		`<rect class="d-cell" x="1" y="2" width="3" height="4" rx="0.5"/>`, `<circle class="d-body" cx="1" cy="1" r="0.25"/>`,
		`<title id="x-1-title">a &lt; b &amp; &#34;c&#34;</title>`, `…`, `<title>&lt;name&gt;`, `prefers-color-scheme:dark`,
	} {
		if !bytes.Contains(s.SVG(), []byte(want)) {
			t.Errorf("%s is missing in\n%s", want, s.SVG())
		}
	}
	// within a page: the same drawing, the style being the page's
	_, whole, _ := bytes.Cut(s.SVG(), []byte("</style>\n"))
	part := s.Part()
	if bytes.Contains(part, []byte("<style")) || !bytes.HasSuffix(part, whole) || !strings.Contains(string(s.SVG()), CSS()) {
		t.Errorf("as a part it is\n%s", part)
	}
}
