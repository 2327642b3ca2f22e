package syntax

import (
	"fmt"

	"github.com/hashicorp/hcl/v2/hclsyntax"

	"trefoil/lint/finding"
	"trefoil/lint/source"
)

// again parses a file of which some piece does not parse on its own, and gives a body for
// each piece. starts are the offsets at which the pieces begin, and that of the end. A short
// file is parsed as a whole. Of a long one each piece that does not parse is parsed with
// what follows it, for the cut may lie inside of a text or a comment; where that does not
// help, the faults are those of the piece alone.
func again(f *source.File, starts []int) (bodies []*hclsyntax.Body, faults []finding.Finding) {
	pieces := len(starts) - 1
	bodies = make([]*hclsyntax.Body, pieces)
	for i := range bodies {
		bodies[i] = &hclsyntax.Body{}
	}
	try := func(i, last int) (*hclsyntax.Body, []finding.Finding) {
		if fault, bad := guard(f, starts[i], starts[last]); bad {
			return nil, []finding.Finding{fault}
		}
		body, diags := parse(f, starts[i], starts[last])
		var list []finding.Finding
		for _, d := range diags {
			list = append(list, Diagnostic(f, d))
		}
		return body, list
	}
	for i := 0; i < pieces; {
		after := i + 1
		if len(f.Bytes) <= maxPiece {
			after = pieces
		}
		body, told := try(i, after)
		if len(told) > 0 { // longer stretches, each of twice as many pieces
			for more := 2; i+more/2 < pieces && after != pieces; more *= 2 {
				last := min(i+more, pieces)
				if starts[last]-starts[i] > maxPiece {
					break
				}
				if longer, none := try(i, last); len(none) == 0 {
					body, told, after = longer, nil, last
					break
				}
			}
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
