package xlsx

import (
	"archive/zip"
	"bytes"
	"encoding/xml"
	"fmt"
	"io"
	"math"
	"path"
	"strings"
	"testing"
)

// open reads a workbook back: its parts by name, each well-formed.
func open(t *testing.T, text []byte) map[string]string {
	t.Helper()
	z, err := zip.NewReader(bytes.NewReader(text), int64(len(text)))
	if err != nil {
		t.Fatal(err)
	}
	parts := map[string]string{}
	for _, f := range z.File {
		r, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		b, err := io.ReadAll(r)
		if err != nil {
			t.Fatal(err)
		}
		parts[f.Name] = string(b)
		for d := xml.NewDecoder(bytes.NewReader(b)); ; {
			if _, err := d.Token(); err == io.EOF {
				break
			} else if err != nil {
				t.Fatalf("%s: %v", f.Name, err)
			}
		}
	}
	return parts
}

type worksheet struct {
	XMLName xml.Name `xml:"http://schemas.openxmlformats.org/spreadsheetml/2006/main worksheet"`
	Pane    struct {
		XSplit, YSplit int
		TopLeft        string `xml:"topLeftCell,attr"`
		State          string `xml:"state,attr"`
		Y              int    `xml:"ySplit,attr"`
	} `xml:"sheetViews>sheetView>pane"`
	Fit struct {
		ToPage string `xml:"fitToPage,attr"`
	} `xml:"sheetPr>pageSetUpPr"`
	Rows []struct {
		R     int `xml:"r,attr"`
		Cells []struct {
			R     string `xml:"r,attr"`
			T     string `xml:"t,attr"`
			S     int    `xml:"s,attr"`
			V     string `xml:"v"`
			F     string `xml:"f"`
			Words string `xml:"is>t"`
		} `xml:"c"`
	} `xml:"sheetData>row"`
	Filter struct {
		Ref string `xml:"ref,attr"`
	} `xml:"autoFilter"`
	Page struct {
		Orientation string `xml:"orientation,attr"`
		FitToWidth  string `xml:"fitToWidth,attr"`
	} `xml:"pageSetup"`
	Header string `xml:"headerFooter>oddHeader"`
}

// TestWorkbook: what the format asks for (ECMA-376-1 clauses 12, 18.2, 18.3): every part
// has a content type and is reached by a relationship, order of elements, styles that
// exist, cells where they say they are.
func TestWorkbook(t *testing.T) {
	sheets := []Sheet{
		{
			Name: "a/b [c]", Notes: []string{"basis & <more>", "errors"}, Header: "R&D  \u202e", Footer: "foot",
			Columns: []Column{{Head: "name"}, {Head: "length, m", Decimals: 1}},
			Rows:    [][]Cell{{{Text: "=1+1"}, {Number: 1.0 / 3, IsNumber: true}}, {{Text: "b\x00\x1b'\"<"}, {Text: "unknown"}}, {{}, {Number: -1e-12, IsNumber: true}}},
		},
		{Name: "a/b [c]", Columns: []Column{{Head: "x"}}},
	}
	var one, two bytes.Buffer
	if err := Write(&one, sheets); err != nil {
		t.Fatal(err)
	}
	if err := Write(&two, sheets); err != nil || !bytes.Equal(one.Bytes(), two.Bytes()) {
		t.Errorf("equal sheets, other bytes: %v", err)
	}
	parts := open(t, one.Bytes())

	var types struct {
		Override []struct {
			Name string `xml:"PartName,attr"`
		}
	}
	if err := xml.Unmarshal([]byte(parts["[Content_Types].xml"]), &types); err != nil {
		t.Fatal(err)
	}
	typed := map[string]bool{}
	for _, o := range types.Override {
		typed[strings.TrimPrefix(o.Name, "/")] = true
	}
	var rels struct {
		Relationship []struct {
			ID     string `xml:"Id,attr"`
			Target string `xml:"Target,attr"`
		}
	}
	if err := xml.Unmarshal([]byte(parts["xl/_rels/workbook.xml.rels"]), &rels); err != nil {
		t.Fatal(err)
	}
	for _, r := range rels.Relationship {
		if _, is := parts[path.Join("xl", r.Target)]; !is || !typed[path.Join("xl", r.Target)] {
			t.Errorf("%s leads to %q, which is no typed part", r.ID, r.Target)
		}
	}
	for name := range parts {
		if strings.HasPrefix(name, "xl/") && !strings.Contains(name, "_rels") && !typed[name] {
			t.Errorf("%s has no type", name)
		}
	}
	var book struct {
		Sheets []struct {
			Name string `xml:"name,attr"`
		} `xml:"sheets>sheet"`
		Names []struct {
			Name string `xml:"name,attr"`
			Text string `xml:",chardata"`
		} `xml:"definedNames>definedName"`
	}
	if err := xml.Unmarshal([]byte(parts["xl/workbook.xml"]), &book); err != nil {
		t.Fatal(err)
	}
	if len(book.Sheets) != 2 || book.Sheets[0].Name != "a-b -c-" || book.Sheets[1].Name != "sheet 2" {
		t.Errorf("%+v", book.Sheets)
	}
	if got := fmt.Sprint(book.Names); !strings.Contains(got, "{_xlnm.Print_Titles 'a-b -c-'!$3:$3}") || !strings.Contains(got, "{_xlnm._FilterDatabase 'a-b -c-'!$A$3:$B$6}") {
		t.Error(got)
	}
	var styles struct {
		Cells []struct {
			Format int `xml:"numFmtId,attr"`
		} `xml:"cellXfs>xf"`
		Formats []struct {
			ID   int    `xml:"numFmtId,attr"`
			Code string `xml:"formatCode,attr"`
		} `xml:"numFmts>numFmt"`
	}
	if err := xml.Unmarshal([]byte(parts["xl/styles.xml"]), &styles); err != nil {
		t.Fatal(err)
	}
	code := map[int]string{}
	for _, f := range styles.Formats {
		code[f.ID] = f.Code
	}
	var s worksheet
	if err := xml.Unmarshal([]byte(parts["xl/worksheets/sheet1.xml"]), &s); err != nil {
		t.Fatal(err)
	}
	if s.Pane.State != "frozen" || s.Pane.Y != 3 || s.Pane.TopLeft != "B4" || s.Fit.ToPage != "1" || s.Page.Orientation != "landscape" || s.Page.FitToWidth != "1" || s.Filter.Ref != "A3:B6" || s.Header != "&LR&&D  \u202e" {
		t.Errorf("%+v", s)
	}
	at := map[string]string{}
	for i, r := range s.Rows {
		if r.R != i+1 {
			t.Errorf("row %d calls itself %d", i+1, r.R)
		}
		for k, c := range r.Cells {
			if want := fmt.Sprintf("%s%d", column(k), r.R); c.R != want {
				t.Errorf("cell %s calls itself %s", want, c.R)
			}
			if c.F != "" || c.S >= len(styles.Cells) {
				t.Errorf("%s: formula %q, style %d", c.R, c.F, c.S)
			}
			at[c.R] = c.T + ":" + c.V + c.Words
			if c.T == "" && c.V != "" {
				at[c.R] += " as " + code[styles.Cells[c.S].Format]
			}
		}
	}
	for cell, want := range map[string]string{
		"A1": "inlineStr:basis & <more>", "B3": "inlineStr:length, m", "A4": "inlineStr:=1+1", "B4": ":0.3333333333333333 as 0.0",
		"A5": "inlineStr:b\ufffd\ufffd'\"<", "B5": "inlineStr:unknown", "A6": ":", "B6": ":-1e-12 as 0.0",
	} {
		if at[cell] != want {
			t.Errorf("%s is %q, want %q", cell, at[cell], want)
		}
	}
	// the order in which clause 18.3.1.99 lists the parts of a worksheet
	last := 0
	for _, e := range []string{"<sheetPr>", "<sheetViews>", "<cols>", "<sheetData>", "<autoFilter", "<pageMargins", "<pageSetup", "<headerFooter>"} {
		i := strings.Index(parts["xl/worksheets/sheet1.xml"], e)
		if i < last {
			t.Errorf("%s stands at %d, before %d", e, i, last)
		}
		last = i
	}
}

func TestColumn(t *testing.T) {
	for i, want := range map[int]string{0: "A", 25: "Z", 26: "AA", 51: "AZ", 52: "BA", 701: "ZZ", 702: "AAA"} {
		if got := column(i); got != want {
			t.Errorf("%d is %s, want %s", i, got, want)
		}
	}
}

func TestTooManyRows(t *testing.T) {
	s := []Sheet{{Name: "x", Columns: []Column{{Head: "x"}}, Rows: make([][]Cell, MaxRows)}}
	if err := Write(io.Discard, s); err == nil {
		t.Error("a sheet of too many rows is written")
	}
	long := []Sheet{{Name: "x", Columns: []Column{{Head: "x"}}, Rows: [][]Cell{{{Text: strings.Repeat("w", maxText+5)}}, {{Number: math.MaxFloat64, IsNumber: true}}}}}
	var b bytes.Buffer
	if err := Write(&b, long); err != nil || strings.Contains(open(t, b.Bytes())["xl/worksheets/sheet1.xml"], strings.Repeat("w", maxText)) {
		t.Errorf("a text too long: %v", err)
	}
}
