package syntax

import (
	"bytes"
	"fmt"

	"github.com/hashicorp/hcl/v2/hclsyntax"

	"trefoil/lint/finding"
	"trefoil/lint/source"
)

// maxWasted bounds what is parsed of a file in looking for the end of texts that were cut.
const maxWasted = 4 * maxPiece

// again parses a file of which some piece does not parse on its own, and gives new bodies
// of pieces, nil where the old one stays. A short file is parsed as a whole. Of a long one
// each piece that is broken and ends inside of something is parsed with what follows it, up to
// where that ends, for the cut may lie inside of a text or a comment; where that does not
// help, the faults are those of the piece alone.
func again(t *Text) (bodies []*hclsyntax.Body, faults []finding.Finding) {
	f, starts, pieces := t.File, t.Starts, len(t.State)
	bodies = make([]*hclsyntax.Body, pieces)
	try := func(i, last int) (*hclsyntax.Body, []finding.Finding) {
		if _, fault, bad := guard(f, starts[i], starts[last]); bad {
			return nil, []finding.Finding{fault}
		}
		body, diags := parse(f, starts[i], starts[last])
		var list []finding.Finding
		for _, d := range diags {
			list = append(list, Diagnostic(f, d))
		}
		return body, list
	}
	wasted := 0 // bytes of stretches that were parsed and did not help
	for i := 0; i < pieces; {
		after := i + 1
		switch {
		case len(f.Bytes) <= maxPiece:
			after = pieces
		case t.State[i] == Whole:
			i++
			continue
		}
		body, told := try(i, after)
		inside, sure := open(f, starts[i], starts[i+1])
		for more := 2; len(told) > 0 && after < pieces && (inside || !sure) && wasted < maxWasted; more *= 2 { // stretches of twice as many pieces
			last := min(i+more, pieces)
			if starts[last]-starts[i] > maxPiece {
				break
			}
			if inside, sure := open(f, starts[i], starts[last]); !inside || !sure {
				longer, none := try(i, last)
				if len(none) == 0 {
					body, told, after = longer, nil, last
					break
				}
				wasted += starts[last] - starts[i]
			}
			if last == pieces {
				break
			}
		}
		for k := i; k < after; k++ {
			bodies[k] = &hclsyntax.Body{} // forgets what a piece gave
		}
		if body != nil {
			bodies[i] = body
		}
		for _, x := range told {
			if len(faults) == maxTold {
				x.Message, x.Next = fmt.Sprintf("the file has more than %d faults, and the others are not told", maxTold), "mend those above first"
				return bodies, append(faults, x)
			}
			faults = append(faults, x)
		}
		i = after
	}
	return bodies, faults
}

// open says that a stretch ends inside of a bracket, a text or a comment, so that it does not
// parse. It is not sure where texts hold marks that stand for themselves.
func open(f *source.File, from, to int) (is, sure bool) {
	text := f.Bytes[from:to]
	_, is, _, _ = scan(f, from, to)
	return is, !bytes.Contains(text, []byte("$$")) && !bytes.Contains(text, []byte("%%"))
}
