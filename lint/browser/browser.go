// Package browser looks at pages of the project the way a reader does: laid out by
// headless Chromium, in windows of several widths, light and dark, and on paper. The
// checks that need programs from outside use it; the project's program does not.
package browser

import (
	"bytes"
	"context"
	_ "embed"
	"encoding/json"
	"encoding/xml"
	"fmt"
	"html"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
)

//go:embed measure.js
var measure string

// View is a page as it was laid out in one window.
type View struct {
	Frame  string // "390 dark"
	Width  int
	Texts  int // lines of text that were measured
	Faults []string
}

var dark = regexp.MustCompile(`screen and \(prefers-color-scheme: ?dark\)`)

// Look lays a page out in windows of some widths, light and dark, and tells what is wrong:
// text that overlaps or leaves its box, contrast, names, order. dir is for its files.
func Look(ctx context.Context, dir, page string, widths ...int) ([]View, error) {
	script := "<script>" + measure + "</script></body>"
	light := strings.Replace(page, "</body>", script, 1)
	frames := ""
	for name, text := range map[string]string{"light": light, "dark": dark.ReplaceAllString(light, "screen")} {
		if err := os.WriteFile(filepath.Join(dir, name+".html"), []byte(text), 0o600); err != nil {
			return nil, err
		}
		for _, w := range widths {
			frames += fmt.Sprintf(`<iframe name="%d %s" src="%s.html" width=%d height=900 style="border:0"></iframe>`, w, name, name, w)
		}
	}
	around := `<body><pre id="seen"></pre><script>const seen = []; addEventListener("message", (m) => { seen.push(m.data); document.getElementById("seen").textContent = JSON.stringify(seen); });</script>` + frames
	file := filepath.Join(dir, "around.html")
	if err := os.WriteFile(file, []byte(around), 0o600); err != nil {
		return nil, err
	}
	out, said, err := chromium(ctx, dir, "--virtual-time-budget=60000", "--window-size=1600,1000", "--enable-logging=stderr", "--dump-dom", "file://"+file)
	if err != nil {
		return nil, err
	}
	_, rest, _ := strings.Cut(out, `<pre id="seen">`)
	text, _, _ := strings.Cut(rest, "</pre>")
	var views []View
	if err := json.Unmarshal([]byte(html.UnescapeString(text)), &views); err != nil {
		return nil, fmt.Errorf("what was measured: %w: %.200q", err, text)
	}
	if len(views) != 2*len(widths) {
		return nil, fmt.Errorf("%d of %d windows answer", len(views), 2*len(widths))
	}
	for line := range strings.Lines(said) {
		if strings.Contains(line, ":CONSOLE") {
			views[0].Faults = append(views[0].Faults, "console: "+strings.TrimSpace(line))
		}
	}
	return views, nil
}

// Print prints a page to the file given, as its own style says.
func Print(ctx context.Context, dir, page, pdf string) error {
	file := filepath.Join(dir, "print.html")
	if err := os.WriteFile(file, []byte(page), 0o600); err != nil {
		return err
	}
	_, _, err := chromium(ctx, dir, "--no-pdf-header-footer", "--print-to-pdf="+pdf, "file://"+file)
	return err
}

func chromium(ctx context.Context, dir string, args ...string) (out, said string, err error) {
	c := exec.CommandContext(ctx, "chromium", append([]string{
		"--headless", "--no-sandbox", "--disable-gpu", "--hide-scrollbars", "--disable-dev-shm-usage", "--user-data-dir=" + filepath.Join(dir, "profile"),
	}, args...)...)
	var o, e bytes.Buffer
	c.Stdout, c.Stderr = &o, &e
	if err := c.Run(); err != nil {
		return "", "", fmt.Errorf("chromium: %w: %.500s", err, e.String())
	}
	return o.String(), e.String(), nil
}

// Paper is one printed page.
type Paper struct {
	Width  float64 `xml:"width,attr"` // in points
	Height float64 `xml:"height,attr"`
	Words  []Word  `xml:"word"`
}

// Word is a word where it stands on the paper.
type Word struct {
	Left   float64 `xml:"xMin,attr"`
	Top    float64 `xml:"yMin,attr"`
	Right  float64 `xml:"xMax,attr"`
	Bottom float64 `xml:"yMax,attr"`
	Text   string  `xml:",chardata"`
}

// Text is what stands on a page, word by word.
func (p *Paper) Text() string {
	var words []string
	for _, w := range p.Words {
		words = append(words, w.Text)
	}
	return strings.Join(words, " ")
}

// Faults tells words that overlap, or leave the paper.
func (p *Paper) Faults() (list []string) {
	for i, a := range p.Words {
		if a.Left < 0 || a.Top < 0 || a.Right > p.Width || a.Bottom > p.Height {
			list = append(list, fmt.Sprintf("%q leaves the paper", a.Text))
		}
		for _, b := range p.Words[i+1:] {
			inset := 0.22 * min(a.Bottom-a.Top, b.Bottom-b.Top)
			if min(a.Right, b.Right)-max(a.Left, b.Left) > 1 && min(a.Bottom, b.Bottom)-max(a.Top, b.Top) > 2*inset {
				list = append(list, fmt.Sprintf("%q and %q overlap", a.Text, b.Text))
			}
		}
	}
	return list
}

// Pages reads a PDF: its pages with their words, by pdftotext.
func Pages(ctx context.Context, pdf string) ([]Paper, error) {
	out, err := exec.CommandContext(ctx, "pdftotext", "-bbox", pdf, "-").Output()
	if err != nil {
		return nil, fmt.Errorf("pdftotext: %w", err)
	}
	var doc struct {
		Pages []Paper `xml:"body>doc>page"`
	}
	d := xml.NewDecoder(bytes.NewReader(out))
	d.Strict, d.Entity = false, xml.HTMLEntity
	if err := d.Decode(&doc); err != nil {
		return nil, fmt.Errorf("pdftotext: %w", err)
	}
	return doc.Pages, nil
}
