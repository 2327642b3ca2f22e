// Package xlsx writes workbooks of plain tables: typed cells, a frozen head, and what a
// printer needs. It knows nothing of the project; lint/report hands it its tables.
//
// The parts are those of ECMA-376-1, SpreadsheetML: a workbook, its styles, a sheet each.
// Texts stand in their cells, and nothing is a formula.
package xlsx

import (
	"archive/zip"
	"bytes"
	"encoding/xml"
	"fmt"
	"io"
	"strconv"
	"strings"
	"unicode/utf8"
)

// Sheet is one table.
type Sheet struct {
	Name    string // at most 31 characters are shown; no two alike
	Notes   []string
	Columns []Column
	Rows    [][]Cell
	Header  string // printed on every page
	Footer  string
}

// Column is one column; its numbers are shown with so many decimals.
type Column struct {
	Head     string
	Decimals int
}

// Cell is a text, a number where IsNumber, or empty.
type Cell struct {
	Text     string
	Number   float64
	IsNumber bool
}

// Limits of the format: rows of a sheet, characters of a cell (ECMA-376-1 leaves both to
// the applications; these are the least of common ones).
const (
	MaxRows = 1 << 20
	maxText = 32767
)

const (
	header = `<?xml version="1.0" encoding="UTF-8" standalone="yes"?>` + "\n"
	mainNS = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
	relNS  = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
	pkgNS  = "http://schemas.openxmlformats.org/package/2006/"
	types  = "application/vnd.openxmlformats-officedocument.spreadsheetml."

	mostDecimals = 6
	styleHead    = 1
	styleNote    = 2
	styleNumber  = 3 // and so many decimals on top
)

// Write writes a workbook. Equal sheets give equal bytes.
func Write(w io.Writer, sheets []Sheet) error {
	z := zip.NewWriter(w)
	part := func(name, text string) error {
		f, err := z.CreateHeader(&zip.FileHeader{Name: name, Method: zip.Deflate})
		if err == nil {
			_, err = io.WriteString(f, text)
		}
		return err
	}
	var kinds, rels, list, names strings.Builder
	for i, name := range sheetNames(sheets) {
		n, s := i+1, &sheets[i]
		fmt.Fprintf(&kinds, `<Override PartName="/xl/worksheets/sheet%d.xml" ContentType="%sworksheet+xml"/>`, n, types)
		fmt.Fprintf(&rels, `<Relationship Id="rId%d" Type="%s/worksheet" Target="worksheets/sheet%d.xml"/>`, n, relNS, n)
		fmt.Fprintf(&list, `<sheet name="%s" sheetId="%d" r:id="rId%d"/>`, text(name), n, n)
		quoted, head := text("'"+strings.ReplaceAll(name, "'", "''")+"'"), len(s.Notes)+1
		fmt.Fprintf(&names, `<definedName name="_xlnm._FilterDatabase" localSheetId="%d" hidden="1">%s!$A$%d:$%s$%d</definedName>`, i, quoted, head, column(len(s.Columns)-1), head+len(s.Rows))
		fmt.Fprintf(&names, `<definedName name="_xlnm.Print_Titles" localSheetId="%d">%s!$%d:$%d</definedName>`, i, quoted, head, head)
	}
	parts := []struct{ name, text string }{
		{"[Content_Types].xml", `<Types xmlns="` + pkgNS + `content-types"><Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>` +
			`<Override PartName="/xl/workbook.xml" ContentType="` + types + `sheet.main+xml"/><Override PartName="/xl/styles.xml" ContentType="` + types + `styles+xml"/>` + kinds.String() + `</Types>`},
		{"_rels/.rels", `<Relationships xmlns="` + pkgNS + `relationships"><Relationship Id="rId1" Type="` + relNS + `/officeDocument" Target="xl/workbook.xml"/></Relationships>`},
		{"xl/workbook.xml", `<workbook xmlns="` + mainNS + `" xmlns:r="` + relNS + `"><sheets>` + list.String() + `</sheets><definedNames>` + names.String() + `</definedNames></workbook>`},
		{"xl/_rels/workbook.xml.rels", `<Relationships xmlns="` + pkgNS + `relationships">` + rels.String() + fmt.Sprintf(`<Relationship Id="rId%d" Type="%s/styles" Target="styles.xml"/></Relationships>`, len(sheets)+1, relNS)},
		{"xl/styles.xml", styles()},
	}
	for _, p := range parts {
		if err := part(p.name, header+p.text); err != nil {
			return err
		}
	}
	for i := range sheets {
		text, err := sheet(&sheets[i], i == 0)
		if err != nil {
			return err
		}
		if err := part(fmt.Sprintf("xl/worksheets/sheet%d.xml", i+1), header+text); err != nil {
			return err
		}
	}
	return z.Close()
}

// sheetNames makes the names fit: 31 characters, none of : \ / ? * [ ], no quote at an end.
func sheetNames(sheets []Sheet) []string {
	var names []string
	seen := map[string]bool{}
	for i := range sheets {
		name := strings.Trim(strings.Map(func(r rune) rune {
			if strings.ContainsRune(`:\/?*[]`, r) {
				return '-'
			}
			return r
		}, sheets[i].Name), "' ")
		name = string([]rune(name)[:min(31, utf8.RuneCountInString(name))])
		if name == "" || seen[strings.ToLower(name)] {
			name = fmt.Sprintf("sheet %d", i+1)
		}
		seen[strings.ToLower(name)] = true
		names = append(names, name)
	}
	return names
}

// styles are the fonts and number formats, in the order of the style constants.
func styles() string {
	var formats, cells strings.Builder
	for d := range mostDecimals + 1 {
		code := "0"
		if d > 0 {
			code = "0." + strings.Repeat("0", d)
		}
		fmt.Fprintf(&formats, `<numFmt numFmtId="%d" formatCode="%s"/>`, 164+d, code)
		fmt.Fprintf(&cells, `<xf numFmtId="%d" fontId="0" fillId="0" borderId="1" xfId="0" applyNumberFormat="1" applyBorder="1" applyAlignment="1"><alignment vertical="top"/></xf>`, 164+d)
	}
	line := `<left/><right/><top/><bottom style="hair"><color rgb="FF9AA5AB"/></bottom><diagonal/>`
	return `<styleSheet xmlns="` + mainNS + `"><numFmts count="` + strconv.Itoa(mostDecimals+1) + `">` + formats.String() + `</numFmts>` +
		`<fonts count="3"><font><sz val="9"/><name val="Calibri"/></font><font><b/><sz val="9"/><name val="Calibri"/></font><font><sz val="9"/><color rgb="FF4A565C"/><name val="Calibri"/></font></fonts>` +
		`<fills count="3"><fill><patternFill patternType="none"/></fill><fill><patternFill patternType="gray125"/></fill><fill><patternFill patternType="solid"><fgColor rgb="FFE8EDEF"/></patternFill></fill></fills>` +
		`<borders count="2"><border><left/><right/><top/><bottom/><diagonal/></border><border>` + line + `</border></borders>` +
		`<cellStyleXfs count="1"><xf numFmtId="0" fontId="0" fillId="0" borderId="0"/></cellStyleXfs>` +
		`<cellXfs count="` + strconv.Itoa(styleNumber+mostDecimals+1) + `"><xf numFmtId="49" fontId="0" fillId="0" borderId="1" xfId="0" applyNumberFormat="1" applyBorder="1" applyAlignment="1"><alignment vertical="top" wrapText="1"/></xf>` +
		`<xf numFmtId="49" fontId="1" fillId="2" borderId="1" xfId="0" applyFont="1" applyFill="1" applyBorder="1" applyAlignment="1"><alignment vertical="bottom" wrapText="1"/></xf>` +
		`<xf numFmtId="49" fontId="2" fillId="0" borderId="0" xfId="0" applyFont="1"/>` + cells.String() + `</cellXfs></styleSheet>`
}

func sheet(s *Sheet, first bool) (string, error) {
	head := len(s.Notes) + 1
	if head+len(s.Rows) > MaxRows {
		return "", fmt.Errorf("%s has %d rows, and a sheet holds %d", s.Name, len(s.Rows), MaxRows-head)
	}
	var b strings.Builder
	selected := ""
	if first {
		selected = ` tabSelected="1"`
	}
	fmt.Fprintf(&b, `<worksheet xmlns="%s"><sheetPr><pageSetUpPr fitToPage="1"/></sheetPr><sheetViews><sheetView workbookViewId="0"%s showGridLines="0"><pane xSplit="1" ySplit="%d" topLeftCell="B%d" activePane="bottomRight" state="frozen"/></sheetView></sheetViews><cols>`, mainNS, selected, head, head+1)
	for i := range s.Columns {
		fmt.Fprintf(&b, `<col min="%d" max="%d" width="%d" customWidth="1"/>`, i+1, i+1, width(s, i))
	}
	b.WriteString(`</cols><sheetData>`)
	for i, n := range s.Notes {
		fmt.Fprintf(&b, `<row r="%d">`, i+1)
		words(&b, 0, i+1, styleNote, n)
		b.WriteString(`</row>`)
	}
	fmt.Fprintf(&b, `<row r="%d">`, head)
	for i, c := range s.Columns {
		words(&b, i, head, styleHead, c.Head)
	}
	b.WriteString(`</row>`)
	for r, row := range s.Rows {
		n := head + 1 + r
		fmt.Fprintf(&b, `<row r="%d">`, n)
		for i, c := range row {
			if c.IsNumber {
				fmt.Fprintf(&b, `<c r="%s%d" s="%d"><v>%s</v></c>`, column(i), n, styleNumber+min(max(s.Columns[i].Decimals, 0), mostDecimals), strconv.FormatFloat(c.Number, 'g', -1, 64))
				continue
			}
			words(&b, i, n, 0, c.Text)
		}
		b.WriteString(`</row>`)
	}
	fmt.Fprintf(&b, `</sheetData><autoFilter ref="A%d:%s%d"/>`, head, column(len(s.Columns)-1), head+len(s.Rows))
	b.WriteString(`<pageMargins left="0.4" right="0.4" top="0.7" bottom="0.6" header="0.3" footer="0.3"/><pageSetup paperSize="8" orientation="landscape" fitToWidth="1" fitToHeight="0"/>`)
	fmt.Fprintf(&b, `<headerFooter><oddHeader>&amp;L%s</oddHeader><oddFooter>&amp;L%s&amp;R&amp;P / &amp;N</oddFooter></headerFooter></worksheet>`, line(s.Header), line(s.Footer))
	return b.String(), nil
}

// line is a text of a header or footer, where & begins a code, of at most 200 characters.
func line(s string) string {
	r := []rune(s)
	return text(strings.ReplaceAll(string(r[:min(len(r), 200)]), "&", "&&"))
}

// words writes a text cell; an empty one keeps its style.
func words(b *strings.Builder, col, row, style int, s string) {
	if s == "" {
		fmt.Fprintf(b, `<c r="%s%d" s="%d"/>`, column(col), row, style)
		return
	}
	if r := []rune(s); len(r) > maxText {
		s = string(r[:maxText-3]) + "..."
	}
	fmt.Fprintf(b, `<c r="%s%d" s="%d" t="inlineStr"><is><t xml:space="preserve">%s</t></is></c>`, column(col), row, style, text(s))
}

// text escapes for XML; what XML cannot hold becomes U+FFFD.
func text(s string) string {
	var b bytes.Buffer
	_ = xml.EscapeText(&b, []byte(s)) // a buffer takes everything
	return b.String()
}

// column is the letters of a column counted from 0.
func column(i int) string {
	if i < 0 {
		return "A"
	}
	name := ""
	for ; i >= 0; i = i/26 - 1 {
		name = string(rune('A'+i%26)) + name
	}
	return name
}

// width is that of a column in characters: enough for most of its cells.
func width(s *Sheet, col int) int {
	most := 0
	for _, word := range strings.Fields(s.Columns[col].Head) {
		most = max(most, utf8.RuneCountInString(word)+2)
	}
	for _, row := range s.Rows {
		if c := row[col]; !c.IsNumber {
			most = max(most, utf8.RuneCountInString(c.Text)+2)
		} else {
			most = max(most, len(strconv.FormatFloat(c.Number, 'f', s.Columns[col].Decimals, 64))+2)
		}
	}
	return min(max(most, 7), 40)
}
