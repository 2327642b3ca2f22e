package fix

import (
	"bytes"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"github.com/hashicorp/hcl/v2/hclsyntax"
	"github.com/hashicorp/hcl/v2/hclwrite"
	"github.com/zclconf/go-cty/cty"

	"trefoil/lint/finding"
	"trefoil/lint/source"
	"trefoil/lint/syntax"
)

// Block is a block of a design as it is written, and what is to be changed in it. The
// changes are noted first; Edits gives them all together:
//
//	b := fix.Open(run.Whole)
//	b.Set("size_mm2", fix.Number(70))
//	b.Set("cable", fix.Reference("cable", "cu-5c"))
//	edits, err := b.Edits()
//
// The text of a set of copies is that of each of them: ask design.Object.Alone first.
type Block struct {
	file   *source.File
	tree   *hclsyntax.Block
	oneRow bool // nothing but one attribute, on the row of the braces
	err    error

	edits  []finding.Edit
	added  [][2]string // attributes to add: name and text
	inside []string    // blocks to add
}

// Open reads a block anew. The range is the whole block, as design.Object keeps it in Whole.
func Open(whole source.Range) *Block {
	tree, err := syntax.One(whole)
	if err != nil {
		return &Block{err: err}
	}
	return open(whole.File, tree)
}

func open(f *source.File, tree *hclsyntax.Block) *Block {
	b := &Block{file: f, tree: tree, oneRow: true}
	for _, t := range b.tokens(tree.OpenBraceRange.End.Byte) {
		if t.Type == hclsyntax.TokenComment && !endsRow(t) {
			continue
		}
		b.oneRow = !endsRow(t)
		break
	}
	return b
}

// Inner opens a block inside of this one by where it begins, as design.Section keeps it
// in At. Its edits are its own.
func (b *Block) Inner(at source.Range) *Block {
	if b.err != nil {
		return b
	}
	for _, inner := range b.tree.Body.Blocks {
		if inner.TypeRange.Start.Byte == int(at.Start) {
			return open(b.file, inner)
		}
	}
	return &Block{err: fmt.Errorf("%s %s holds no block there", b.tree.Type, strings.Join(b.tree.Labels, " "))}
}

// Set gives an attribute another value, as HCL text; it is added where it is not stated,
// with the indent of its neighbours and its equals sign under theirs. What an expression
// gave before, such as let.size, is written out for this block alone.
func (b *Block) Set(attribute, text string) {
	if b.err != nil {
		return
	}
	a := b.tree.Body.Attributes[attribute]
	if a == nil {
		b.added = append(b.added, [2]string{attribute, text})
		return
	}
	at := source.Range{File: b.file, Start: uint32(a.Expr.Range().Start.Byte), End: uint32(a.SrcRange.End.Byte)}
	if len(syntax.Comments(at)) > 0 {
		b.fail(fmt.Errorf("the value of %s holds a comment, which a change would lose", attribute))
		return
	}
	b.edits = append(b.edits, finding.Edit{At: at, Text: b.rows(text)})
}

// Remove takes an attribute out. Comments in it and behind it stay.
func (b *Block) Remove(attribute string) {
	if b.err != nil {
		return
	}
	if a := b.tree.Body.Attributes[attribute]; a != nil {
		b.edits = append(b.edits, Cut(syntax.Range(b.file, a.SrcRange))...)
	}
}

// Add puts a block inside, behind all others. The text is written without indent, its rows
// parted by "\n".
func (b *Block) Add(text string) {
	if b.err == nil {
		b.inside = append(b.inside, text)
	}
}

func (b *Block) fail(err error) {
	if b.err == nil {
		b.err = err
	}
}

// Edits gives all that is to be changed.
func (b *Block) Edits() ([]finding.Edit, error) {
	if b.err != nil {
		return nil, b.err
	}
	outer := b.indent(b.tree.TypeRange.Start.Byte)
	inner := outer + "  "
	behind := b.tree.OpenBraceRange.End.Byte
	width := 0 // of a name with the blanks in front of its equals sign
	if last := b.last(); last != nil {
		width = last.EqualsRange.Start.Byte - last.NameRange.Start.Byte
		if !b.oneRow {
			inner, behind = b.indent(last.NameRange.Start.Byte), last.SrcRange.End.Byte
		}
	}
	for _, a := range b.added {
		width = max(width, len(a[0])+1)
	}
	var attributes, blocks strings.Builder
	for _, a := range b.added {
		fmt.Fprintf(&attributes, "%s%-*s= %s\n", inner, width, a[0], a[1])
	}
	for _, text := range b.inside {
		blocks.WriteString(indented(text, outer+"  "))
	}
	edits := slices.Clone(b.edits)
	put := func(from, to int, text string) {
		if text != "" {
			edits = append(edits, edit(b.file, from, to, b.rows(text)))
		}
	}
	if !b.oneRow {
		here, end := b.rowAfter(behind), b.lastRow()
		put(here, here, attributes.String())
		put(end, end, blocks.String())
		return edits, nil
	}
	if len(b.added)+len(b.inside) == 0 {
		return edits, nil
	}
	// The row is opened up: only the blanks inside of the braces are touched.
	from, to := b.tree.OpenBraceRange.End.Byte, b.tree.CloseBraceRange.Start.Byte
	held := b.file.Bytes[from:to]
	new := attributes.String() + blocks.String() + outer
	if len(bytes.TrimSpace(held)) == 0 {
		put(from, to, "\n"+new)
		return edits, nil
	}
	put(from, to-len(bytes.TrimLeft(held, " \t")), "\n"+inner)
	put(from+len(bytes.TrimRight(held, " \t")), to, "\n"+new)
	return edits, nil
}

// last is the last attribute in front of the first inner block, nil where there is none.
func (b *Block) last() *hclsyntax.Attribute {
	var last *hclsyntax.Attribute
	for _, a := range b.tree.Body.Attributes {
		if len(b.tree.Body.Blocks) > 0 && a.NameRange.Start.Byte > b.tree.Body.Blocks[0].TypeRange.Start.Byte {
			continue
		}
		if last == nil || a.NameRange.Start.Byte > last.NameRange.Start.Byte {
			last = a
		}
	}
	return last
}

// tokens are the words from an offset on to the end of the block.
func (b *Block) tokens(from int) hclsyntax.Tokens {
	return syntax.Tokens(b.file, from, b.tree.CloseBraceRange.End.Byte)
}

// rowAfter is where the row begins that follows on the one of an offset.
func (b *Block) rowAfter(offset int) int {
	for _, t := range b.tokens(offset) {
		if endsRow(t) {
			return t.Range.End.Byte
		}
	}
	return b.tree.CloseBraceRange.Start.Byte
}

// lastRow is where the row of the closing brace begins, comments in front of it included.
func (b *Block) lastRow() int {
	at := b.tree.CloseBraceRange.Start.Byte
	for _, t := range b.tokens(b.tree.OpenBraceRange.End.Byte) {
		if endsRow(t) {
			at = t.Range.End.Byte
		}
	}
	return at
}

// indent is the white space in front of an offset on its row.
func (b *Block) indent(offset int) string { return indent(b.file, offset) }

// rows gives a text the line ends of the block, or else those of its file.
func (b *Block) rows(text string) string {
	return rows(b.file, b.tree.TypeRange.Start.Byte, text)
}

// endsRow says that a token ends a row: a line end, or a comment that holds its own.
func endsRow(t hclsyntax.Token) bool {
	return t.Type == hclsyntax.TokenNewline || t.Type == hclsyntax.TokenComment && bytes.HasSuffix(t.Bytes, []byte("\n"))
}

func edit(f *source.File, from, to int, text string) finding.Edit {
	return finding.Edit{At: source.Range{File: f, Start: uint32(from), End: uint32(to)}, Text: text}
}

// rowStart is where the row of an offset begins, behind a byte-order mark.
func rowStart(f *source.File, offset int) int {
	begin := bytes.LastIndexByte(f.Bytes[:offset], '\n') + 1
	if begin == 0 && bytes.HasPrefix(f.Bytes[:offset], mark) {
		begin = len(mark)
	}
	return begin
}

var mark = []byte("\xef\xbb\xbf")

func indent(f *source.File, offset int) string {
	row := f.Bytes[rowStart(f, offset):offset]
	return string(row[:len(row)-len(bytes.TrimLeft(row, " \t"))])
}

// rows gives a text the line ends that a file has from an offset on, or else before it.
func rows(f *source.File, offset int, text string) string {
	i := bytes.IndexByte(f.Bytes[offset:], '\n') + offset
	if i < offset {
		i = bytes.IndexByte(f.Bytes, '\n')
	}
	if i > 0 && f.Bytes[i-1] == '\r' {
		return strings.ReplaceAll(text, "\n", "\r\n")
	}
	return text
}

// indented puts an indent before each row that holds something, and ends the last.
func indented(text, by string) string {
	var b strings.Builder
	for row := range strings.Lines(strings.TrimRight(text, "\n") + "\n") {
		if strings.TrimSpace(row) != "" {
			b.WriteString(by)
		}
		b.WriteString(row)
	}
	return b.String()
}

// Cut takes an attribute or a block out, with its rows where nothing else stands on them
// and with one of two blank rows that would meet. Comments in it and behind it stay, on rows
// of their own.
func Cut(at source.Range) []finding.Edit {
	f, from, to := at.File, int(at.Start), int(at.End)
	kept := syntax.Comments(at)
	begin := rowStart(f, from)
	alone := len(bytes.TrimSpace(f.Bytes[begin:from])) == 0
	for to < len(f.Bytes) && (f.Bytes[to] == ' ' || f.Bytes[to] == '\t') {
		to++
	}
	rest := f.Bytes[to:]
	ends := len(rest) == 0 || rest[0] == '\n' || bytes.HasPrefix(rest, []byte("\r\n"))
	switch {
	case !alone && len(kept) > 0: // in a block of one row: a comment to the end of its row may have been inside of brackets
		return []finding.Edit{edit(f, from, int(at.End), rows(f, from, strings.Join(kept, "\n")+"\n"))}
	case !alone:
		before := f.Bytes[begin:from]
		return []finding.Edit{edit(f, begin+len(bytes.TrimRight(before, " \t")), int(at.End), "")}
	case ends && len(kept) > 0:
		return []finding.Edit{edit(f, from, to, rows(f, from, strings.Join(kept, "\n"+indent(f, from))))}
	case !ends: // a comment stands behind it
		text := ""
		for _, c := range kept {
			text += c + "\n" + indent(f, from)
		}
		return []finding.Edit{edit(f, from, to, rows(f, from, text))}
	}
	to = rowEnd(f, to)
	before := begin == 0 || blank(f.Bytes[rowStart(f, max(begin-1, 0)):begin])
	switch {
	case before && to < len(f.Bytes) && blank(f.Bytes[to:rowEnd(f, to)]):
		to = rowEnd(f, to)
	case before && begin > 0 && to == len(f.Bytes):
		begin = rowStart(f, begin-1)
	}
	return []finding.Edit{edit(f, begin, to, "")}
}

// rowEnd is the offset behind the line end of the row of an offset.
func rowEnd(f *source.File, offset int) int {
	if i := bytes.IndexByte(f.Bytes[offset:], '\n'); i >= 0 {
		return offset + i + 1
	}
	return len(f.Bytes)
}

func blank(row []byte) bool { return len(bytes.TrimSpace(row)) == 0 }

// Append puts a block at the end of a file, behind a blank row. The text is written with
// "\n" between its rows.
func Append(f *source.File, text string) []finding.Edit {
	gap := "\n"
	if text := bytes.TrimPrefix(f.Bytes, mark); len(text) == 0 || bytes.HasSuffix(text, []byte("\n\n")) || bytes.HasSuffix(text, []byte("\n\r\n")) {
		gap = ""
	} else if !bytes.HasSuffix(text, []byte("\n")) {
		gap = "\n\n"
	}
	end := len(f.Bytes)
	return []finding.Edit{edit(f, end, end, rows(f, 0, gap+indented(text, "")))}
}

// Number is a number as HCL text.
func Number(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }

// Quote is a text as HCL text, in quotes.
func Quote(s string) string {
	return string(hclwrite.TokensForValue(cty.StringVal(s)).Bytes())
}

// Reference names a block of a kind as HCL text; the name of a copy is NAME[KEY].
func Reference(kind, name string) string {
	base, key, copied := strings.Cut(strings.TrimSuffix(name, "]"), "[")
	text := kind + "[" + Quote(base) + "]"
	if hclsyntax.ValidIdentifier(base) {
		text = kind + "." + base
	}
	if copied {
		text += "[" + Quote(key) + "]"
	}
	return text
}
