// Package syntax turns text into blocks, attributes and expressions. It is the only room
// that parses: source -> syntax -> design.
//
// A file is cut at the ends of its top-level blocks and read piece by piece, in parallel.
// Plain text, which nearly all is, is read here (plain.go); the HCL parser reads the
// expressions that are more than a value or a reference, and whatever is not plain. Both
// ways give the same, which a fuzz test holds. Every range of a piece equals that of a
// whole-file parse; if any piece does not parse on its own, the whole file is parsed again
// and that result counts.
package syntax

import (
	"bytes"
	"errors"
	"fmt"
	"runtime"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"unicode"
	"unicode/utf8"

	"github.com/hashicorp/hcl/v2"
	"github.com/hashicorp/hcl/v2/hclsyntax"

	"trefoil/lint/finding"
	"trefoil/lint/source"
)

// BrokenText is the rule that tells what cannot be parsed.
const BrokenText = "broken-text"

// pieceBytes is about the size of a piece. Small pieces keep the parser's token slice small,
// which is where most of its time goes.
const pieceBytes = 4 << 10

// Piece is a stretch of a file that holds whole top-level blocks.
type Piece struct {
	File *source.File
	Body Body

	room *room
}

// Done says that nothing of the body is looked at any more: the next piece may stand in its
// place.
func (p *Piece) Done() {
	if p.room != nil {
		p.room.empty()
		rooms.Put(p.room)
		p.room = nil
	}
}

// Read parses files and hands each piece's body to visit, which may run at the
// same time as other calls and must not keep the body longer than it needs.
// Pieces are numbered in text order: files in the order given, then by offset.
// count is told first how many pieces there are. A file that does not parse is
// handed over once, with what the parser could save of it; its faults come back.
func Read(files []*source.File, count func(pieces int), visit func(index int, p Piece)) []finding.Finding {
	texts, first, pieces := make([]*Text, len(files)), make([]int, len(files)), 0
	for i, f := range files {
		texts[i], first[i] = Cut(f), pieces
		pieces += len(texts[i].State)
	}
	count(pieces)
	Parse(texts, func(text, piece int, p Piece, _ bool) { visit(first[text]+piece, p) })
	var faults []finding.Finding
	for _, t := range texts {
		faults = append(faults, t.Faults...)
	}
	return faults
}

// Text is a file in pieces.
type Text struct {
	File   *source.File
	Starts []int // where the pieces begin, and where the last one ends
	State  []State
	Parts  []int             // of each piece that was read
	Faults []finding.Finding // what cannot be parsed
}

// State says what is known of a piece.
type State uint8

// A piece is not read yet, parses on its own, or does not.
const (
	Unread State = iota
	Whole
	Torn
)

// Cut cuts a file into pieces, none of which is read.
func Cut(f *source.File) *Text { return pieces(f, cut(f.Bytes, []int{0}, nil)) }

// Again cuts the file of a text anew, as Cut does, after its bytes were replaced: its first so
// many bytes are the same, and from end on it is what stood so many bytes before.
func (t *Text) Again(same, end, by int) *Text {
	first := 1 // the file begins with a piece, whatever it holds
	for first < len(t.State) && t.Starts[first]+ahead <= same {
		first++
	}
	rest := first
	met := func(at int) bool { // what was cut behind it is cut again
		for rest < len(t.State) && t.Starts[rest]+by < at {
			rest++
		}
		return at >= end && rest < len(t.State) && t.Starts[rest]+by == at
	}
	starts := cut(t.File.Bytes, append(make([]int, 0, len(t.Starts)), t.Starts[:first]...), met)
	if last := starts[len(starts)-1]; len(starts) > first && met(last) {
		for _, at := range t.Starts[rest+1 : len(t.State)] {
			starts = append(starts, at+by)
		}
	}
	return pieces(t.File, starts)
}

func pieces(f *source.File, starts []int) *Text {
	n := len(starts)
	return &Text{File: f, Starts: append(starts, len(f.Bytes)), State: make([]State, n), Parts: make([]int, n)}
}

// Parse reads the pieces of texts that are not read yet, as Read does. What visit is given of
// a file that does not parse, in place of what its pieces gave on their own, is marked so.
func Parse(texts []*Text, visit func(text, piece int, p Piece, instead bool)) {
	type job struct{ text, piece int }
	var jobs []job
	var parts atomic.Int64
	for i, t := range texts {
		for k, state := range t.State {
			if state == Unread {
				jobs = append(jobs, job{i, k})
			} else {
				parts.Add(int64(t.Parts[k]))
			}
		}
	}
	hard := make([]bool, len(jobs)) // for the parser
	Each(len(jobs), func(n int) {
		i, k := jobs[n].text, jobs[n].piece
		t := texts[i]
		if parts.Load() > MaxParts {
			return
		}
		p := Piece{File: t.File, room: rooms.Get().(*room)}
		var here int
		var ok bool
		if p.Body, here, ok = readPlain(t.File, t.Starts[k], t.Starts[k+1], p.room); ok {
			t.State[k] = Whole
			visit(i, k, p, false)
		} else {
			p.Done()
			var bad bool
			here, _, bad = guard(t.File, t.Starts[k], t.Starts[k+1])
			t.State[k], hard[n] = Torn, !bad
		}
		t.Parts[k] = here
		parts.Add(int64(here))
	})
	if parts.Load() > MaxParts {
		tooMuch(texts, visit)
		return
	}
	Each(len(jobs), func(n int) {
		i, k := jobs[n].text, jobs[n].piece
		if t := texts[i]; hard[n] {
			if body, ok := parsed(t.File, t.Starts[k], t.Starts[k+1]); ok {
				t.State[k] = Whole
				visit(i, k, Piece{File: t.File, Body: body}, false)
			}
		}
	})
	for i, t := range texts {
		t.Faults = nil
		if !slices.Contains(t.State, Torn) {
			continue
		}
		bodies, told := again(t)
		for k, body := range bodies { // in place of what a piece gave
			if body != nil {
				visit(i, k, Piece{File: t.File, Body: fromTree(t.File, body)}, true)
			}
		}
		t.Faults = told
	}
}

// tooMuch is told of texts that hold too many parts: which of them were read is chance, so
// that none counts.
func tooMuch(texts []*Text, visit func(text, piece int, p Piece, instead bool)) {
	for i, t := range texts {
		t.Faults = nil
		for k := range t.State {
			visit(i, k, Piece{File: t.File}, true)
		}
	}
	f := texts[0].File
	texts[0].Faults = []finding.Finding{{
		Rule: BrokenText, Severity: finding.Error, At: source.Range{File: f, End: uint32(min(1, len(f.Bytes)))},
		Message: fmt.Sprintf("the text holds more than %d parts - lines, blocks, elements of lists, operators -, which is the most that is read", MaxParts),
		Next:    "check it in parts, each a design of its own",
	}}
}

// stretch reads a stretch of a file; false where it does not parse on its own.
func stretch(f *source.File, from, to int) (Body, bool) {
	if body, _, ok := readPlain(f, from, to, new(room)); ok {
		return body, true
	}
	if _, _, bad := guard(f, from, to); bad {
		return Body{}, false
	}
	return parsed(f, from, to)
}

// parsed reads a stretch of a file by the parser; false where that tells anything of it.
func parsed(f *source.File, from, to int) (Body, bool) {
	tree, diags := parse(f, from, to)
	if tree == nil || len(diags) > 0 {
		return Body{}, false
	}
	return fromTree(f, tree), true
}

func parse(f *source.File, from, to int) (*hclsyntax.Body, hcl.Diagnostics) {
	file, diags := hclsyntax.ParseConfig(f.Bytes[from:to], f.Name, at(from))
	body, _ := file.Body.(*hclsyntax.Body)
	return body, diags
}

// One parses a stretch of a file that holds one block and nothing else, and gives its tree.
func One(at source.Range) (*hclsyntax.Block, error) {
	if at.File == nil || int(at.End) > len(at.File.Bytes) || at.Start > at.End {
		return nil, errors.New("the block lies outside of its file")
	}
	if _, fault, bad := guard(at.File, int(at.Start), int(at.End)); bad {
		return nil, errors.New(fault.Message)
	}
	body, diags := parse(at.File, int(at.Start), int(at.End))
	if len(diags) > 0 || body == nil || len(body.Blocks) != 1 || len(body.Attributes) != 0 {
		return nil, fmt.Errorf("%s holds no whole block there", at.File.Name)
	}
	return body.Blocks[0], nil
}

// Stretch parses a stretch of a file that holds whole top-level blocks and nothing else,
// outside of a comment; false where it does not.
func Stretch(f *source.File, from, to int) ([]*Block, bool) {
	body, ok := stretch(f, from, to)
	return body.Blocks, ok && len(body.Attributes) == 0
}

// Tokens gives the words of a stretch of a file, comments and line ends included. It has
// to begin outside of a text.
func Tokens(f *source.File, from, to int) hclsyntax.Tokens {
	tokens, _ := hclsyntax.LexConfig(f.Bytes[from:to], f.Name, at(from))
	return tokens
}

// Comments lists the comments in a stretch of a file, without the line ends behind them.
// It has to begin outside of a text.
func Comments(at source.Range) []string {
	var list []string
	for _, t := range Tokens(at.File, int(at.Start), int(at.End)) {
		if t.Type == hclsyntax.TokenComment {
			list = append(list, string(bytes.TrimRight(t.Bytes, "\r\n")))
		}
	}
	return list
}

// Each runs do for 0..n-1 on as many goroutines as there are processors.
func Each(n int, do func(int)) {
	workers := min(runtime.GOMAXPROCS(0), n)
	if workers <= 1 {
		for i := range n {
			do(i)
		}
		return
	}
	next := make(chan int, workers)
	var wg sync.WaitGroup
	for range workers {
		wg.Go(func() {
			for i := range next {
				do(i)
			}
		})
	}
	for i := range n {
		next <- i
	}
	close(next)
	wg.Wait()
}

// Together runs some work at the same time, as Each does, and waits for all of it.
func Together(work ...func()) { Each(len(work), func(i int) { work[i]() }) }

// cut adds to the offsets at which pieces begin those behind them: after lines that are
// exactly "}". The words that follow decide whether a place will do, so that an edit leaves the
// pieces behind it as they are; only a piece that grows large is cut anywhere. It ends at the
// end of the text, or behind an offset of which enough says so.
func cut(text []byte, cuts []int, enough func(at int) bool) []int {
	for at := max(cuts[len(cuts)-1]-1, 0); ; { // the line end in front of a piece may be that of a brace
		i := bytes.Index(text[at:], []byte("\n}"))
		if i < 0 {
			return cuts
		}
		at += i + 2
		end := at
		switch {
		case bytes.HasPrefix(text[at:], []byte("\n")):
			end++
		case bytes.HasPrefix(text[at:], []byte("\r\n")):
			end += 2
		default:
			continue
		}
		size := end - cuts[len(cuts)-1]
		if end < len(text) && size >= pieceBytes/2 && (size >= 4*pieceBytes || decides(text[end:])) {
			if cuts = append(cuts, end); enough != nil && enough(end) {
				return cuts
			}
		}
	}
}

// ahead is how many bytes behind a place decide on it.
const ahead = 40

// decides picks about an eighth of the places by what follows.
func decides(text []byte) bool {
	h := uint32(2166136261) // FNV-1a
	for _, c := range text[:min(len(text), ahead)] {
		h = (h ^ uint32(c)) * 16777619
	}
	return h>>13%8 == 0
}

// Range turns a range of the parser into one of ours; only bytes count.
func Range(f *source.File, r hcl.Range) source.Range {
	size := len(f.Bytes)
	start, end := min(max(r.Start.Byte, 0), size), min(max(r.End.Byte, 0), size)
	return source.Range{File: f, Start: uint32(start), End: uint32(max(start, end))}
}

// Diagnostic turns what the parser or an expression complains of into a finding.
func Diagnostic(f *source.File, d *hcl.Diagnostic) finding.Finding {
	at := source.Range{File: f}
	if d.Subject != nil {
		at = Range(f, *d.Subject)
	}
	detail := strings.TrimSpace(d.Detail)
	next := ""
	if i := strings.Index(detail, ". "); i >= 0 {
		detail, next = detail[:i], detail[i+2:]
	}
	return finding.Finding{
		Rule:     BrokenText,
		Severity: finding.Error,
		At:       at,
		Message:  lower(strings.TrimSuffix(d.Summary, ".")) + ": " + lower(strings.TrimSuffix(detail, ".")),
		Next:     lower(strings.TrimSuffix(oneLine(next), ".")),
	}
}

func oneLine(s string) string { return strings.Join(strings.Fields(s), " ") }

func lower(s string) string {
	if s = oneLine(s); s == "" {
		return ""
	}
	r, n := utf8.DecodeRuneInString(s)
	if next, _ := utf8.DecodeRuneInString(s[n:]); unicode.IsUpper(next) {
		return s // an abbreviation
	}
	return string(unicode.ToLower(r)) + s[n:]
}

// MaxParts bounds the lines, blocks, elements and operators of all files, by twice those of
// 100,000 runs.
const MaxParts = 15_000_000

// Limits that the text must keep, told by name when it does not.
const (
	maxNesting   = 200       // brackets, braces, parentheses and template parts inside each other
	maxOperators = 1000      // operators in one expression, parts and lines of one text
	maxPiece     = 256 << 10 // bytes without a line that is just "}", for the parser keeps a hundred bytes for each
	maxTold      = 100       // faults of one file
	heavy        = 3         // a block or an element of a list takes the parser as long as so many others
)

// guard looks for text on which a parser that recurses would exhaust the stack, and counts
// the parts of it that the parser makes something of. It scans bytes only and errs towards
// accepting.
func guard(f *source.File, from, to int) (parts int, told finding.Finding, bad bool) {
	parts, _, told, bad = scan(f, from, to)
	return parts, told, bad
}

// scan does so, and says whether the text ends inside of a bracket, a text or a comment.
func scan(f *source.File, from, to int) (parts int, open bool, told finding.Finding, bad bool) {
	text := f.Bytes[from:to]
	fault := func(at int, message, next string) (int, bool, finding.Finding, bool) {
		at += from
		return parts, open, finding.Finding{
			Rule: BrokenText, Severity: finding.Error, Message: message, Next: next,
			At: source.Range{File: f, Start: uint32(at), End: uint32(min(at+1, len(f.Bytes)))},
		}, true
	}
	if i := bytes.IndexByte(text, 0); i >= 0 {
		return fault(i, "a NUL byte: this is no text file", "save the file as UTF-8 text")
	}
	if !utf8.Valid(text) {
		i := 0
		for i < len(text) {
			r, n := utf8.DecodeRune(text[i:])
			if r == utf8.RuneError && n == 1 {
				break
			}
			i += n
		}
		return fault(i, "a byte that is not UTF-8", "save the file as UTF-8 text")
	}
	var stack []byte   // ( [ { and t for a template part, " for a quoted text, < for a here-document
	var words [][]byte // that close the here-documents
	operators := 0
scan:
	for i := 0; i < len(text); i++ {
		top := byte(0)
		if len(stack) > 0 {
			top = stack[len(stack)-1]
		}
		c := text[i]
		switch {
		case (top == '"' || top == '<') && (c == '$' || c == '%'):
			operators++                                                            // each may begin a part of its own
			if i+1 < len(text) && text[i+1] == '{' && (i == 0 || text[i-1] != c) { // $${ is a plain text
				stack = append(stack, 't')
				i++
			}
		case top == '"':
			switch c {
			case '\\':
				i++
			case '"', '\n':
				stack = stack[:len(stack)-1]
			}
		case top == '<':
			if c != '\n' {
				continue
			}
			operators++
			if end := i + 1 + lineEnd(text[i+1:]); bytes.Equal(bytes.TrimSpace(text[i+1:end]), words[len(words)-1]) {
				stack, words = stack[:len(stack)-1], words[:len(words)-1]
				i = end - 1
			}
		default:
			switch c {
			case '#':
				i += lineEnd(text[i:]) - 1
			case '/':
				switch {
				case bytes.HasPrefix(text[i:], []byte("//")):
					i += lineEnd(text[i:]) - 1
				case bytes.HasPrefix(text[i:], []byte("/*")):
					j := bytes.Index(text[i+2:], []byte("*/"))
					if j < 0 {
						open = true
						break scan
					}
					i += j + 3
				default:
					operators++
				}
			case '<':
				if word := heredoc(text[i:]); word != nil {
					stack, words = append(stack, c), append(words, word)
					i += lineEnd(text[i:]) - 1
				}
				operators++
			case '"', '(', '[', '{':
				stack = append(stack, c)
				operators++
				if c == '{' {
					parts += heavy
				}
			case ')', ']', '}':
				if len(stack) > 0 {
					stack = stack[:len(stack)-1]
				}
			case ',':
				parts += operators + heavy
				operators = 0
			case '\n':
				parts++
				if top == 0 || top == '{' {
					parts += operators
					operators = 0
				}
			case '+', '-', '*', '%', '!', '?', '&', '|', '>', '=', '.':
				operators++
			}
		}
		if len(stack) > maxNesting {
			return fault(i, fmt.Sprintf("brackets lie more than %d deep inside each other", maxNesting), "close the brackets or split the expression with let")
		}
		if operators > maxOperators {
			return fault(i, fmt.Sprintf("an expression has more than %d operators, or a text more parts or lines", maxOperators), "split the expression with let, or the text")
		}
	}
	if len(text) > maxPiece {
		return fault(maxPiece, fmt.Sprintf("the text goes on for more than %d bytes without a line that is just }", maxPiece), "close each block by a brace on a line of its own, and split what is longer")
	}
	return parts + operators, open || len(stack) > 0, finding.Finding{}, false
}

func lineEnd(text []byte) int {
	if i := bytes.IndexByte(text, '\n'); i >= 0 {
		return max(i, 1)
	}
	return len(text)
}

// heredoc gives the word that closes a here-document that opens here, nil where none does.
func heredoc(text []byte) []byte {
	rest, ok := bytes.CutPrefix(text, []byte("<<"))
	if !ok {
		return nil
	}
	word := bytes.TrimSpace(bytes.TrimPrefix(rest[:lineEnd(rest)], []byte("-")))
	if first, _ := utf8.DecodeRune(word); !unicode.IsLetter(first) && first != '_' {
		return nil
	}
	return word
}
