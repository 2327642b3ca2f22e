package syntax

import (
	"bytes"
	"sync"
	"unicode/utf8"

	"github.com/hashicorp/hcl/v2"
	"github.com/hashicorp/hcl/v2/hclsyntax"
	"github.com/zclconf/go-cty/cty"

	"trefoil/lint/source"
)

// plain reads text that is written as nearly all of it is: blocks and attributes of ASCII
// words, numbers, texts without escapes, references, arithmetic of numbers and references. An
// expression that is more is handed to the parser alone. At anything else it gives up, and the
// parser reads the whole stretch, so that what it accepts and what it tells of faults is the
// parser's.
type plain struct {
	file  *source.File
	text  []byte // of the file up to the end of the stretch
	i     int
	words map[string]string // names of attributes and blocks, each held once
	rows  []Attribute       // of the bodies that are open
	inner []*Block          // of the same
	parts int
	room  *room // in which the tree stands
}

// room is where the trees of stretches stand: one after the other, as long as whoever is
// shown them gives the room back.
type room struct {
	attributes []Attribute
	blocks     []Block
	inner      []*Block
	labels     []Label
}

var rooms = sync.Pool{New: func() any { return new(room) }}

// empty has what stands in a room give way to what comes.
func (r *room) empty() {
	r.attributes, r.blocks, r.inner, r.labels = r.attributes[:0], r.blocks[:0], r.inner[:0], r.labels[:0]
}

// place puts a list into the room that there is for its kind, or into new one: what stands
// there stays where it is.
func place[T any](room *[]T, list ...T) []T {
	n := len(*room)
	if cap(*room)-n < len(list) {
		*room, n = make([]T, 0, max(len(list), 2*cap(*room), 16)), 0
	}
	*room = append(*room, list...)
	return (*room)[n:len(*room):len(*room)]
}

// What plain takes; the parser has limits of its own.
const (
	maxPlainDepth = 20      // of blocks in each other
	maxPlainRows  = 100     // attributes of one body: each is held against all before it
	maxOperands   = 20      // of a sum
	maxSteps      = 10      // of a reference
	maxExpr       = 1 << 10 // bytes of an expression that the parser reads alone
	maxWords      = 1000    // names that are kept from one stretch to the next
)

var plains = sync.Pool{New: func() any { return &plain{words: map[string]string{}} }}

// readPlain reads a stretch of a file and counts its parts, as guard does; false where it
// holds anything that is not plain.
func readPlain(f *source.File, from, to int, room *room) (body Body, parts int, ok bool) {
	stretch := f.Bytes[from:to]
	if len(stretch) > maxPiece || bytes.IndexByte(stretch, 0) >= 0 || !utf8.Valid(stretch) {
		return body, 0, false
	}
	p := plains.Get().(*plain)
	p.file, p.text, p.i, p.rows, p.inner, p.parts, p.room = f, f.Bytes[:to], from, p.rows[:0], p.inner[:0], 0, room
	if len(p.words) > maxWords {
		clear(p.words)
	}
	body, ok = p.body(0)
	p.file, p.text, p.room = nil, nil, nil
	clear(p.rows[:cap(p.rows)])
	clear(p.inner[:cap(p.inner)])
	parts = p.parts
	plains.Put(p)
	return body, parts, ok
}

// peek is the byte that is next, 0 at the end.
func (p *plain) peek() byte {
	if p.i < len(p.text) {
		return p.text[p.i]
	}
	return 0
}

// blanks skips spaces on a line.
func (p *plain) blanks() {
	for p.i < len(p.text) && (p.text[p.i] == ' ' || p.text[p.i] == '\t') {
		p.i++
	}
}

// comment says that a comment to the end of the line begins here.
func (p *plain) comment() bool {
	c := p.peek()
	return c == '#' || c == '/' && p.i+1 < len(p.text) && p.text[p.i+1] == '/'
}

// endOfLine says that nothing else stands on this line.
func (p *plain) endOfLine() bool {
	switch p.peek() {
	case '\n':
		return true
	case '\r':
		return p.i+1 < len(p.text) && p.text[p.i+1] == '\n'
	case 0:
		return p.i == len(p.text)
	}
	return p.comment()
}

// nextLine goes behind the end of the line.
func (p *plain) nextLine() {
	p.parts++
	if i := bytes.IndexByte(p.text[p.i:], '\n'); i >= 0 {
		p.i += i + 1
	} else {
		p.i = len(p.text)
	}
}

func letter(c byte) bool { return 'a' <= c && c <= 'z' || 'A' <= c && c <= 'Z' || c == '_' }
func digit(c byte) bool  { return '0' <= c && c <= '9' }
func inWord(c byte) bool { return letter(c) || digit(c) || c == '-' }

// word reads a word, as bytes of the text; nil where none stands here.
func (p *plain) word() []byte {
	from := p.i
	if !letter(p.peek()) {
		return nil
	}
	for p.i < len(p.text) && inWord(p.text[p.i]) {
		p.i++
	}
	if p.peek() >= utf8.RuneSelf {
		return nil // it goes on
	}
	return p.text[from:p.i]
}

// name is a word that is kept, one text for all that are alike.
func (p *plain) name(word []byte) string {
	if s, is := p.words[string(word)]; is {
		return s
	}
	s := string(word)
	p.words[s] = s
	return s
}

// body reads attributes and blocks up to the brace that closes them, or up to the end of
// the stretch where none is open.
func (p *plain) body(depth int) (Body, bool) {
	var b Body
	first, firstInner := len(p.rows), len(p.inner)
	for {
		for p.blanks(); p.i < len(p.text) && p.endOfLine(); p.blanks() {
			p.nextLine()
		}
		if p.i == len(p.text) || p.text[p.i] == '}' {
			break
		}
		from := p.i
		word := p.word()
		if word == nil {
			return b, false
		}
		p.blanks()
		if p.peek() == '=' {
			if !p.attribute(first, from, word, false) {
				return b, false
			}
			continue
		}
		inner, ok := p.block(from, word, depth+1)
		if !ok {
			return b, false
		}
		p.inner = append(p.inner, inner)
	}
	if (p.i == len(p.text)) != (depth == 0) {
		return b, false
	}
	if len(p.rows) > first {
		b.Attributes = place(&p.room.attributes, p.rows[first:]...)
		p.rows = p.rows[:first]
	}
	if len(p.inner) > firstInner {
		b.Blocks = place(&p.room.inner, p.inner[firstInner:]...)
		p.inner = p.inner[:firstInner]
	}
	return b, true
}

// attribute reads one from its equals sign on. In a block on one line it ends with the
// brace that closes the block.
func (p *plain) attribute(first, from int, word []byte, oneLine bool) bool {
	for i := range p.rows[first:] {
		if p.rows[first+i].Name == string(word) {
			return false // given twice
		}
	}
	if len(p.rows)-first == maxPlainRows {
		return false
	}
	p.i++
	p.blanks()
	expr, ok := p.expr(oneLine)
	if !ok {
		return false
	}
	p.rows = append(p.rows, Attribute{Name: p.name(word), Start: uint32(from), End: expr.end, Expr: expr})
	p.blanks()
	if oneLine {
		return p.peek() == '}'
	}
	if !p.endOfLine() {
		return false
	}
	p.nextLine()
	return true
}

// block reads one from behind its first word on.
func (p *plain) block(from int, word []byte, depth int) (*Block, bool) {
	b := &place(&p.room.blocks, Block{Type: p.name(word), Start: uint32(from)})[0]
	for p.peek() != '{' {
		at := p.i
		var name []byte
		if p.peek() == '"' {
			if !p.quoted(utf8.MaxRune) {
				return nil, false
			}
			name = p.text[at+1 : p.i-1]
		} else if name = p.word(); name == nil {
			return nil, false
		}
		label := Label{string(name), uint32(at), uint32(p.i)}
		if b.Labels == nil {
			b.Labels = place(&p.room.labels, label)
		} else {
			b.Labels = append(b.Labels, label) // few have several
		}
		p.blanks()
	}
	if depth > maxPlainDepth {
		return nil, false
	}
	p.parts += heavy
	p.i++
	p.blanks()
	var ok bool
	if p.endOfLine() || p.peek() == '}' {
		b.Body, ok = p.body(depth)
	} else {
		b.Body, ok = p.oneLine()
	}
	if !ok || p.peek() != '}' {
		return nil, false
	}
	p.i++
	b.End = uint32(p.i)
	p.blanks()
	if !p.endOfLine() {
		return nil, false
	}
	p.nextLine()
	return b, true
}

// oneLine reads the attribute of a block that stands on one line.
func (p *plain) oneLine() (b Body, ok bool) {
	from, first := p.i, len(p.rows)
	word := p.word()
	p.blanks()
	if word == nil || p.peek() != '=' || !p.attribute(first, from, word, true) {
		return b, false
	}
	b.Attributes = place(&p.room.attributes, p.rows[first])
	p.rows = p.rows[:first]
	return b, true
}

// quoted reads a text in quotes that holds nothing but itself, no escape and no part to be
// put in, and only bytes below most.
func (p *plain) quoted(most rune) bool {
	for p.i++; p.i < len(p.text); p.i++ {
		switch c := p.text[p.i]; {
		case c == '"':
			p.i++
			return true
		case c < ' ' || c == 0x7f || rune(c) >= most || c == '\\':
			return false
		case (c == '$' || c == '%') && p.i+1 < len(p.text) && p.text[p.i+1] == '{':
			return false
		}
	}
	return false
}

// ends says that an expression that is written out ends here.
func (p *plain) ends(oneLine bool) bool {
	end := p.i
	p.blanks()
	ok := p.endOfLine() || oneLine && p.peek() == '}'
	p.i = end
	return ok
}

// operand reads a number, a reference, true or false, and says which; other where none of them
// stands here.
func (p *plain) operand() (kind, float64) {
	from := p.i
	if digit(p.peek()) {
		for digit(p.peek()) {
			p.i++
		}
		if p.peek() == '.' && p.i+1 < len(p.text) && digit(p.text[p.i+1]) {
			for p.i++; digit(p.peek()); {
				p.i++
			}
		}
		if x, ok := plainNumber(p.text[from:p.i]); ok {
			return number, x
		}
		return other, 0
	}
	switch string(p.word()) {
	case "", "null":
		return other, 0
	case "true":
		return yes, 0
	case "false":
		return no, 0
	}
	for steps := 0; p.peek() == '.'; steps++ {
		if p.i++; p.word() == nil || steps == maxSteps {
			return other, 0
		}
	}
	return reference, 0
}

// sum reads on behind a number or a reference: operators of arithmetic, each with another one.
func (p *plain) sum(oneLine bool) bool {
	for range maxOperands {
		p.blanks()
		if operators[p.peek()] == nil || p.comment() {
			return false
		}
		p.i++
		p.parts += 2
		p.blanks()
		if k, _ := p.operand(); k != number && k != reference {
			return false
		}
		if p.ends(oneLine) {
			return true
		}
	}
	return false
}

// terms makes the tree of operands that are multiplied and divided.
func (p *plain) terms() hclsyntax.Expression {
	tree := p.term()
	for {
		p.blanks()
		if c := p.peek(); c != '*' && c != '/' {
			return tree
		}
		op := p.operator()
		tree = binary(tree, op, p.term())
	}
}

var operators = map[byte]*hclsyntax.Operation{'+': hclsyntax.OpAdd, '-': hclsyntax.OpSubtract, '*': hclsyntax.OpMultiply, '/': hclsyntax.OpDivide}

func (p *plain) operator() *hclsyntax.Operation {
	op := operators[p.peek()]
	p.i++
	p.blanks()
	return op
}

func binary(left hclsyntax.Expression, op *hclsyntax.Operation, right hclsyntax.Expression) hclsyntax.Expression {
	return &hclsyntax.BinaryOpExpr{LHS: left, Op: op, RHS: right, SrcRange: hcl.RangeBetween(left.Range(), right.Range())}
}

// term makes the tree of a number or a reference.
func (p *plain) term() hclsyntax.Expression {
	from := p.i
	within := func(from, to int) hcl.Range {
		return hcl.Range{Filename: p.file.Name, Start: at(from), End: at(to)}
	}
	kind, _ := p.operand()
	words := p.text[from:p.i]
	whole := within(from, p.i)
	if kind == number {
		v, _ := cty.ParseNumberVal(string(words))
		return &hclsyntax.LiteralValueExpr{Val: v, SrcRange: whole}
	}
	steps := make(hcl.Traversal, 0, bytes.Count(words, []byte("."))+1)
	for len(words) > 0 {
		end := bytes.IndexByte(words[1:], '.') + 1 // the first step has no point before it
		if end == 0 {
			end = len(words)
		}
		place := within(from, from+end)
		if len(steps) == 0 {
			steps = append(steps, hcl.TraverseRoot{Name: string(words[:end]), SrcRange: place})
		} else {
			steps = append(steps, hcl.TraverseAttr{Name: string(words[1:end]), SrcRange: place})
		}
		from, words = from+end, words[end:]
	}
	return &hclsyntax.ScopeTraversalExpr{Traversal: steps, SrcRange: whole}
}

// expr reads an expression up to its end.
func (p *plain) expr(oneLine bool) (Expr, bool) {
	from := p.i
	e := Expr{file: p.file, start: uint32(from)}
	if p.peek() == '"' {
		if p.quoted(utf8.RuneSelf) { // the parser may write others in another way
			e.kind = text
		}
	} else {
		e.kind, e.number = p.operand()
	}
	switch {
	case e.kind != other && p.ends(oneLine):
	case (e.kind == number || e.kind == reference) && p.sum(oneLine):
		e.kind = sum
	default:
		p.i, e.kind = from, other
		if !p.extent(oneLine) {
			return e, false
		}
		var ok bool
		if e.tree, ok = p.parse(from); !ok {
			return e, false
		}
	}
	e.end = uint32(p.i)
	return e, true
}

// parse hands the expression from an offset up to here to the parser.
func (p *plain) parse(from int) (hclsyntax.Expression, bool) {
	if p.i == from || p.i-from > maxExpr {
		return nil, false
	}
	parts, _, bad := guard(p.file, from, p.i)
	if p.parts += parts; bad {
		return nil, false
	}
	tree, diags := hclsyntax.ParseExpression(p.text[from:p.i], p.file.Name, at(from))
	return tree, len(diags) == 0
}

// extent goes to the end of an expression: of its line, or of the line on which its brackets
// are closed. It gives up at here-documents and comments that may go over lines.
func (p *plain) extent(oneLine bool) bool {
	const maxOpen = 100
	var open [maxOpen]byte // brackets, braces, quotes, and $ for what is put into a text
	n, end := 0, p.i
	for p.i < len(p.text) {
		c := p.text[p.i]
		next := byte(0)
		if p.i+1 < len(p.text) {
			next = p.text[p.i+1]
		}
		if n > 0 && open[n-1] == '"' {
			switch {
			case c == '\n' || c == '\r':
				return false
			case c == '\\':
				p.i++
			case c == '"':
				n--
			case (c == '$' || c == '%') && next == c && p.i+2 < len(p.text) && p.text[p.i+2] == '{':
				p.i += 2
			case (c == '$' || c == '%') && next == '{':
				if n == maxOpen {
					return false
				}
				open[n] = '$'
				n++
				p.i++
			}
			p.i++
			end = p.i
			continue
		}
		switch c {
		case '(', '[', '{', '"':
			if n == maxOpen {
				return false
			}
			open[n] = c
			n++
		case ')', ']', '}':
			if n == 0 {
				p.i = end
				return oneLine && c == '}'
			}
			n--
			if o := open[n]; c == ')' && o != '(' || c == ']' && o != '[' || c == '}' && o != '{' && o != '$' {
				return false
			}
		case '\r':
			if next != '\n' {
				return false
			}
		case '\n':
			if n == 0 {
				p.i = end
				return true
			}
		case '<':
			if next == '<' {
				return false
			}
		case '/', '#':
			switch {
			case next == '*' && c == '/':
				return false
			case p.comment() && n == 0:
				p.i = end
				return true
			case p.comment():
				p.nextLine()
				continue
			}
		}
		p.i++
		if c != ' ' && c != '\t' && c != '\r' && c != '\n' {
			end = p.i
		}
	}
	p.i = end
	return n == 0
}
