package syntax

import (
	"slices"
	"strconv"
	"strings"

	"github.com/hashicorp/hcl/v2"
	"github.com/hashicorp/hcl/v2/hclsyntax"
	"github.com/zclconf/go-cty/cty"

	"trefoil/lint/source"
)

// Body is what a file or a block holds, in text order.
type Body struct {
	Attributes []Attribute
	Blocks     []*Block
}

// Attribute gives the attribute of a name, nil where there is none.
func (b *Body) Attribute(name string) *Attribute {
	for i := range b.Attributes {
		if b.Attributes[i].Name == name {
			return &b.Attributes[i]
		}
	}
	return nil
}

// Block is a block: its first word, labels and body. Start and End are bytes of the file,
// from its first word to behind its closing brace.
type Block struct {
	Body
	Type       string
	Labels     []Label
	Start, End uint32
}

// Label is a label of a block, and where it stands.
type Label struct {
	Name       string
	Start, End uint32
}

// Attribute is a name and the expression that gives its value. Start and End are bytes of
// the file, from the name to the end of the value.
type Attribute struct {
	Name       string
	Start, End uint32
	Expr       Expr
}

// Range is the attribute from its name to the end of its value.
func (a *Attribute) Range() source.Range {
	return source.Range{File: a.Expr.file, Start: a.Start, End: a.End}
}

// NameRange is where its name stands.
func (a *Attribute) NameRange() source.Range {
	return source.Range{File: a.Expr.file, Start: a.Start, End: a.Start + uint32(len(a.Name))}
}

// Expr is an expression. One that is written out, as by far the most are, is read as it
// stands; anything else has a tree of the parser.
type Expr struct {
	file       *source.File
	tree       hclsyntax.Expression // nil where kind says what it is
	number     float64
	start, end uint32
	kind       kind
}

type kind uint8

const (
	other     kind = iota // see the tree
	number                // 12.5
	text                  // "tray"
	no                    // false
	yes                   // true
	reference             // route.roof
	sum                   // route.roof.length_m + 2 * let.spare_m
)

// Range is where the expression stands.
func (e *Expr) Range() source.Range {
	return source.Range{File: e.file, Start: e.start, End: e.end}
}

// Move takes the expression by so many bytes, modulo 2^32.
func (e *Expr) Move(by uint32) { e.start, e.end = e.start+by, e.end+by }

func (e *Expr) bytes() []byte { return e.file.Bytes[e.start:e.end] }

// literal is the value of a literal of a type that the parser has read.
func (e *Expr) literal(t cty.Type) (cty.Value, bool) {
	if e.kind != other {
		return cty.NilVal, false
	}
	v, ok := Written(e.tree)
	return v, ok && !v.IsNull() && v.Type() == t
}

// Number is the value of a number that is written out.
func (e *Expr) Number() (float64, bool) {
	if e.kind == number {
		return e.number, true
	}
	v, ok := e.literal(cty.Number)
	if !ok {
		return 0, false
	}
	x, _ := v.AsBigFloat().Float64()
	return x, true
}

// Text is the value of a text that is written out. words are texts that it may be, which
// are given themselves.
func (e *Expr) Text(words []string) (string, bool) {
	if e.kind == text {
		b := e.bytes()
		b = b[1 : len(b)-1]
		for _, w := range words {
			if w == string(b) {
				return w, true
			}
		}
		return string(b), true
	}
	v, ok := e.literal(cty.String)
	if !ok {
		return "", false
	}
	return v.AsString(), true
}

// Flag is the value of true and false.
func (e *Expr) Flag() (is, ok bool) {
	if e.kind == yes || e.kind == no {
		return e.kind == yes, true
	}
	v, ok := e.literal(cty.Bool)
	return ok && v.True(), ok
}

// Reference gives the two words of a reference that is written kind.name.
func (e *Expr) Reference() (kind, name string, ok bool) {
	if e.kind != reference {
		return "", "", false
	}
	if kind, name, ok = strings.Cut(string(e.bytes()), "."); strings.Contains(name, ".") {
		return "", "", false
	}
	return kind, name, ok
}

// Named says that the expression is a reference, or arithmetic of references and numbers. Its
// tree is made each time that it is asked for, so that it need not be kept.
func (e *Expr) Named() bool { return e.kind == reference || e.kind == sum }

// Tree is the expression as the parser has it.
func (e *Expr) Tree() hclsyntax.Expression {
	switch e.kind {
	case other:
		return e.tree
	case number, reference, sum:
		p := &plain{file: e.file, text: e.file.Bytes[:e.end], i: int(e.start)}
		tree := p.terms()
		for p.blanks(); p.i < len(p.text); p.blanks() {
			op := p.operator()
			tree = binary(tree, op, p.terms())
		}
		return tree
	}
	tree, _ := hclsyntax.ParseExpression(e.bytes(), e.file.Name, at(int(e.start)))
	return tree
}

// at is a place of which only the byte is told.
func at(offset int) hcl.Pos { return hcl.Pos{Line: 1, Column: 1, Byte: offset} }

// Written gives the value of an expression that is a literal.
func Written(expr hclsyntax.Expression) (cty.Value, bool) {
	switch e := expr.(type) {
	case *hclsyntax.TemplateExpr:
		if len(e.Parts) == 0 {
			return cty.StringVal(""), true
		}
		if lit, ok := e.Parts[0].(*hclsyntax.LiteralValueExpr); ok && len(e.Parts) == 1 && lit.Val.Type() == cty.String {
			return lit.Val, true
		}
	case *hclsyntax.LiteralValueExpr:
		return e.Val, e.Val.IsKnown() // the parser leaves one that is no number unknown
	}
	return cty.NilVal, false
}

// fromTree is a body as the parser has it.
func fromTree(f *source.File, tree *hclsyntax.Body) Body {
	var b Body
	for name, a := range tree.Attributes {
		whole, value := Range(f, a.SrcRange), Range(f, a.Expr.Range())
		b.Attributes = append(b.Attributes, Attribute{
			Name: name, Start: whole.Start, End: whole.End,
			Expr: Expr{file: f, tree: a.Expr, start: value.Start, end: value.End},
		})
	}
	slices.SortFunc(b.Attributes, func(x, y Attribute) int { return int(x.Start) - int(y.Start) })
	for _, k := range tree.Blocks {
		whole := Range(f, k.Range())
		one := &Block{
			Body: fromTree(f, k.Body), Type: k.Type, Start: whole.Start,
			End: uint32(max(int(whole.Start), min(k.CloseBraceRange.End.Byte, len(f.Bytes)))),
		}
		for i, name := range k.Labels {
			at := Range(f, k.LabelRanges[i])
			one.Labels = append(one.Labels, Label{name, at.Start, at.End})
		}
		b.Blocks = append(b.Blocks, one)
	}
	return b
}

// plainNumber reads digits with at most one point between them.
func plainNumber(b []byte) (float64, bool) {
	if len(b) > maxDigits {
		return 0, false
	}
	x, err := strconv.ParseFloat(string(b), 64)
	return x, err == nil
}

// maxDigits is how long a number may be that is read without the parser.
const maxDigits = 20
