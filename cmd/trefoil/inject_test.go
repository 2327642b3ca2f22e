package main

import (
	"archive/zip"
	"bytes"
	"encoding/csv"
	"encoding/json"
	"encoding/xml"
	"errors"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"unicode"
	"unicode/utf8"
)

// What a name or a text of a design may try on whoever looks at an output: orders for a
// terminal, letters that turn the direction of writing or hide, formulas of spreadsheets,
// and markup. The first may stand in names; the second in texts alone.
const (
	markupWord = "=cmd|' /C calc'!A0 <script>alert(1)</script><img src=x onerror=alert(1)> ](http://x.example/) ![a](http://x.example/y) http://x.example/z www.x.example a@x.example @all `x` \u202e\u2066\u200f\u061c\u200b{{.}} </text> ]]>"
	orderWord  = "+1\u001b[31m\u001b]0;title\u0007\u009b2J\u0085\u2028\u007f\b " + markupWord
)

// everywhere is a design with NAME in the place of every name and TEXT of every text.
const everywhere = `site NAME {
  ratings            = "iec-60364-5-52:2009"
  voltage_v          = 400
  air_c              = 30
  rise_limit_percent = 0.01
  rise_limit_origin  = TEXT
  edition_reason     = TEXT
  economy {
    hours        = 1000
    years        = 20
    rate_percent = 4
  }
}
supply NAME {
  fault_ka = 10
  origin   = TEXT
  note     = TEXT
}
source NAME {
  kind      = "inverter"
  rated_kva = 30
  phases    = 3
  model     = TEXT
  note      = TEXT
}
board NAME {
  rated_a = 100
  note    = TEXT
}
route NAME {
  laid           = "ladder"
  other_circuits = 0
  access         = TEXT
  load_origin    = TEXT
}
cable NAME {
  conductor  = "copper"
  insulation = "xlpe-90"
  build      = "multicore"
  cores      = "4c+e"
  data "16" {
    outer_mm = 20
    origin   = TEXT
  }
}
run NAME {
  from     = source[NAME]
  to       = board[NAME]
  cable    = cable[NAME]
  size_mm2 = 16
  note     = TEXT
  device {
    kind          = "mccb"
    rated_a       = 63
    row_factor    = 0.9
    factor_origin = TEXT
  }
  section {
    route    = route[NAME]
    length_m = 100
  }
}
run "mains" {
  from     = board[NAME]
  to       = supply[NAME]
  cable    = cable[NAME]
  size_mm2 = 16
  section {
    route    = route[NAME]
    length_m = 20
  }
}
waiver "run-overloaded" {
  on          = run.mains
  reason      = TEXT
  approved_by = TEXT
}
approved NAME {
  note = TEXT
}
price NAME {
  note = TEXT
}
house_rule "odd" {
  each    = "run"
  must    = run.size_mm2 > 100
  message = TEXT
  next    = TEXT
  why     = TEXT
  origin  = TEXT
  note    = TEXT
}
`

// hostileDesign is a design that passes as far as documents are made of it; with orders its
// texts hold control characters as well.
func hostileDesign(t *testing.T, orders bool) string {
	t.Helper()
	name := hclText(markupWord)
	text := name
	if orders {
		text = hclText(orderWord)
	}
	dir := filepath.Join(t.TempDir(), "=1+1 <blink>\u202e\u009b1m", "\x1b[31m")
	site := strings.NewReplacer("NAME", name, "TEXT", text).Replace(everywhere)
	save(t, filepath.Join(dir, "site.hcl"), []byte(site))
	save(t, filepath.Join(dir, "../crooked", "\x1b[2J.hcl"), []byte("let {\n a="+text+"# \x1b[31m\u202e\u009b\n}\n"))
	save(t, filepath.Join(dir, "\x1b[2J=1+1<blink>\u202e.hcl"), []byte("route "+text+" {\n  lidd = true\n}\nrun \"x\" {\n  from = source["+text+"]\n}\n"))
	return dir
}

// hclText is a text as HCL writes it.
func hclText(s string) string {
	q := strconv.QuoteToASCII(s)
	q = regexp.MustCompile(`\\\\|\\x([0-9a-f]{2})|\\[abfv]`).ReplaceAllStringFunc(q, func(e string) string {
		switch e {
		case `\\`:
			return e
		case `\a`:
			return `\u0007`
		case `\b`:
			return `\u0008`
		case `\f`:
			return `\u000c`
		case `\v`:
			return `\u000b`
		}
		return `\u00` + e[2:]
	})
	return strings.NewReplacer("${", "$${", "%{", "%%{").Replace(q)
}

// steers says which character of an output may steer a terminal or turn writing around.
func steers(out []byte) (string, bool) {
	if !utf8.Valid(out) {
		return "a byte that is not UTF-8", true
	}
	for i, r := range string(out) {
		if r != '\n' && r != '\r' && unicode.IsControl(r) || r >= '\u202a' && r <= '\u202e' || r >= '\u2066' && r <= '\u2069' || strings.ContainsRune("\u200e\u200f\u061c\u2028\u2029", r) {
			return strconv.QuoteRune(r) + " in " + strconv.Quote(string(out[max(0, i-60):min(len(out), i+20)])), true
		}
	}
	return "", false
}

// tagged finds markup that a word of the design has become. The entities of what is
// escaped do not look like it.
var tagged = regexp.MustCompile(`(?i)<script|<img|<blink|<[a-z]+(\s+[a-z-]+="[^"]*")*\s+onerror=|<[a-z]+(\s+[a-z-]+="[^"]*")*\s+(href|src)="?http://x`)

var apart = regexp.MustCompile("\u2068([^\u2066-\u2069]*)\u2069")

// The looks at an output: each is by a reader that knows nothing of the writer.
func markup(t *testing.T, out []byte) {
	t.Helper()
	if m := tagged.Find(out); m != nil {
		t.Errorf("markup: %q", m)
	}
}

var linked = regexp.MustCompile(`[^\\]\]\(http|://x|www\.x|a@x`) // bare addresses become links too

func marked(t *testing.T, out []byte) {
	t.Helper()
	markup(t, out)
	if m := linked.Find(out); m != nil {
		t.Errorf("a link: %q", m)
	}
}

func wellFormed(t *testing.T, out []byte) {
	t.Helper()
	markup(t, out)
	for d := xml.NewDecoder(bytes.NewReader(out)); ; {
		if _, err := d.Token(); err != nil {
			if !errors.Is(err, io.EOF) {
				t.Errorf("no XML: %v", err)
			}
			return
		}
	}
}

func cells(t *testing.T, out []byte) {
	t.Helper()
	rows, err := csv.NewReader(bytes.NewReader(out)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	for _, row := range rows {
		for _, c := range row {
			if _, err := strconv.ParseFloat(c, 64); err != nil && strings.TrimSpace(c) != "" && strings.ContainsAny(strings.TrimSpace(c)[:1], "=+-@\t") {
				t.Errorf("a formula: %q", c)
			}
		}
	}
}

func jsonText(t *testing.T, out []byte) {
	t.Helper()
	if !json.Valid(out) {
		t.Errorf("no JSON: %.200s", out)
	}
}

func book(t *testing.T, out []byte) {
	t.Helper()
	z, err := zip.NewReader(bytes.NewReader(out), int64(len(out)))
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range z.File {
		part, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		text, err := io.ReadAll(part)
		if err != nil {
			t.Fatal(err)
		}
		wellFormed(t, text)
		if what, bad := steers(text); bad {
			t.Errorf("%s: %s", f.Name, what)
		}
		if bytes.Contains(text, []byte("<f>")) || bytes.Contains(text, []byte("hyperlink")) {
			t.Errorf("%s holds a formula or a link", f.Name)
		}
	}
}

func plain(*testing.T, []byte) {}

// TestInjection runs every command that writes, in each of its forms, on designs that try
// to be more than text, and looks at the bytes.
func TestInjection(t *testing.T) {
	for _, orders := range []bool{false, true} {
		dir := hostileDesign(t, orders)
		for _, c := range []struct {
			args []string
			look func(*testing.T, []byte)
		}{
			{[]string{"check", "DIR"}, plain},
			{[]string{"check", "--provenance", "DIR"}, plain},
			{[]string{"check", "--format", "json", "DIR"}, jsonText},
			{[]string{"check", "--format", "sarif", "DIR"}, jsonText},
			{[]string{"check", "--format", "junit", "DIR"}, wellFormed},
			{[]string{"check", "--format", "line", "DIR"}, plain},
			{[]string{"check", "--record", "FILE", "DIR"}, jsonText},
			{[]string{"check", "--house-cases", "DIR"}, plain},
			{[]string{"calc", "DIR"}, plain},
			{[]string{"calc", "--format", "json", "DIR"}, jsonText},
			{[]string{"calc", "DIR", "no such\x1b[1m\u202e"}, plain},
			{[]string{"choices", "DIR", "mains"}, plain},
			{[]string{"choices", "--format", "csv", "DIR", "mains"}, cells},
			{[]string{"choices", "--format", "json", "DIR", "mains"}, jsonText},
			{[]string{"choices", "--bill", "DIR"}, plain},
			{[]string{"choices", "--bill", "--format", "csv", "DIR"}, cells},
			{[]string{"choices", "--bill", "--format", "json", "DIR"}, jsonText},
			{[]string{"schedule", "--kind", "all", "DIR"}, plain},
			{[]string{"schedule", "--format", "csv", "DIR"}, cells},
			{[]string{"schedule", "--format", "csv", "--kind", "labels", "DIR"}, cells},
			{[]string{"schedule", "--format", "csv", "--kind", "boards", "DIR"}, cells},
			{[]string{"schedule", "--format", "markdown", "--kind", "all", "DIR"}, marked},
			{[]string{"schedule", "--format", "json", "--kind", "all", "DIR"}, jsonText},
			{[]string{"schedule", "--kind", "all", "--format", "xlsx", "--out", "FILE", "DIR"}, book},
			{[]string{"draw", "--sheet", "1", "DIR"}, wellFormed},
			{[]string{"draw", "--what", "sections", "--sheet", "1", "DIR"}, wellFormed},
			{[]string{"report", "--out", "FILE", "DIR"}, markup},
			{[]string{"explain", "--design", "DIR", "odd"}, plain},
			{[]string{"explain", "no-such\x1b[1m\u202e"}, plain},
			{[]string{"align", "DIR/../crooked"}, plain},
			{[]string{"amend", "DIR"}, plain},
			{[]string{"amend", "--format", "json", "DIR"}, jsonText},
			{[]string{"compare", "DIR", "OTHER"}, plain},
			{[]string{"compare", "--format", "json", "DIR", "OTHER"}, jsonText},
			{[]string{"compare", "--format", "markdown", "DIR", "OTHER"}, marked},
			{[]string{"compare", "DIR", "--upload-pack=\x1b[1m\u202e"}, plain},
			{[]string{"tables", "\x1b[1m\u202e"}, plain},
			{[]string{"tables", "--check", "DIR"}, plain},
			{[]string{"new", "DIR"}, plain},
			{[]string{"nothing\x1b[1m\u202e"}, plain},
			{[]string{"check", "--level", "\x1b[1m\u202e", "DIR"}, plain},
			{[]string{"check", "DIR/no\x9bthing\u202e"}, plain},
		} {
			t.Run(strings.Join(c.args, " ")+map[bool]string{true: " orders"}[orders], func(t *testing.T) {
				file := filepath.Join(t.TempDir(), "out")
				args := make([]string, len(c.args))
				for i, a := range c.args {
					args[i] = strings.NewReplacer("DIR", dir, "OTHER", "../../examples/bakery", "FILE", file).Replace(a)
				}
				var out, complaint bytes.Buffer
				run(args, &out, &complaint)
				text := out.Bytes()
				if saved, err := os.ReadFile(file); err == nil {
					if what, bad := steers(text); bad {
						t.Errorf("standard output: %s", what)
					}
					text = saved
				}
				if len(text)+complaint.Len() == 0 {
					t.Fatal("nothing is written")
				}
				if what, bad := steers(complaint.Bytes()); bad {
					t.Errorf("standard error: %s", what)
				}
				if c.args[0] == "draw" || c.args[0] == "report" { // a name from right to left is set apart, by a pair of marks
					text = apart.ReplaceAll(text, []byte("$1"))
				}
				if what, bad := steers(text); bad && !bytes.HasPrefix(text, []byte("PK")) {
					t.Errorf("output: %s", what)
				}
				if len(text) > 0 {
					c.look(t, text)
				}
			})
		}
	}
}
