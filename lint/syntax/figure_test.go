package syntax

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/hashicorp/hcl/v2"
	"github.com/hashicorp/hcl/v2/hclsyntax"
	"github.com/zclconf/go-cty/cty"

	"trefoil/lint/source"
)

// evaluated is what the parser's expressions make of a sum, with constants.
func evaluated(text string, constants map[string]cty.Value) (float64, bool) {
	expr, diags := hclsyntax.ParseExpression([]byte(text), "", hcl.InitialPos)
	if diags.HasErrors() {
		return 0, false
	}
	v, diags := expr.Value(&hcl.EvalContext{Variables: map[string]cty.Value{"let": cty.ObjectVal(constants)}})
	if diags.HasErrors() || v.Type() != cty.Number {
		return 0, false
	}
	x, _ := v.AsBigFloat().Float64()
	return x, true
}

// figured is what Figure makes of it.
func figured(text string, constants map[string]cty.Value) (float64, bool) {
	file := &source.File{Name: "a.hcl", Bytes: []byte("run \"r\" {\n  a = " + text + "\n}\n")}
	body, _, ok := readPlain(file, 0, len(file.Bytes), new(room))
	if !ok || len(body.Blocks) != 1 || len(body.Blocks[0].Attributes) != 1 {
		return 0, false
	}
	return body.Blocks[0].Attributes[0].Expr.Figure(func(reference []byte) (Decimal, bool) {
		name, constant := strings.CutPrefix(string(reference), "let.")
		if !constant {
			return Decimal{}, false
		}
		return DecimalOf(constants[name])
	})
}

func constantsOf(t testing.TB, texts ...string) map[string]cty.Value {
	t.Helper()
	list := map[string]cty.Value{}
	for i, text := range texts {
		expr, diags := hclsyntax.ParseExpression([]byte(text), "", hcl.InitialPos)
		if diags.HasErrors() {
			t.Fatal(diags)
		}
		v, diags := expr.Value(nil)
		if diags.HasErrors() {
			t.Fatal(diags)
		}
		list[fmt.Sprintf("c%d", i)] = v
	}
	return list
}

// TestFigure: arithmetic that is worked out here comes to what the library makes of it, to the
// last bit.
func TestFigure(t *testing.T) {
	constants := constantsOf(t, "2", "0.1", "-3.75", "1/3", "1e30", "123456789012345", "0.1 + 0.2", "7 / 8", "\"x\"", "true")
	for text, want := range map[string]bool{
		"1 + 1": true, "0.1 + 0.2": true, "let.c1 + 0.2": true, "12.5 + let.c0": true, "2 * let.c2 - 1.5 * 3": true, "let.c7 + 0.125": true, "let.c6": true, "0 - let.c0": true,
		"999999999999999 + 0": true, "999999999999999 + 1": false, "1234567890123456 + 1": false, "99999999 * 99999999": false, "1 / 3": false, "let.c3 + 1": false, "let.c4 + 1": false, "let.c8 + 1": false, "let.c9": false, "let.none + 1": false,
		"0.0000000001 * 0.0000000001": true, "0.000000000001 * 0.000000000001": false, "123456789.123456 + 0.0000001": false,
	} {
		got, ok := figured(text, constants)
		if ok != want {
			t.Errorf("%s: %v", text, ok)
		}
		if library, good := evaluated(text, constants); ok && (!good || got != library) {
			t.Errorf("%s: %v, by the library %v", text, got, library)
		}
	}
	rng := rand.New(rand.NewPCG(11, 0))
	operand := func() string {
		switch rng.IntN(4) {
		case 0:
			return fmt.Sprint("let.c", rng.IntN(8))
		case 1:
			return fmt.Sprintf("%.*f", rng.IntN(9), rng.Float64()*[]float64{1, 100, 1e6}[rng.IntN(3)])
		}
		return fmt.Sprint(rng.IntN(1000))
	}
	done := 0
	for range 20_000 {
		text := operand()
		for range rng.IntN(6) {
			text += []string{" + ", "-", " * ", "+", " - ", "*  ", " / "}[rng.IntN(7)] + operand()
		}
		got, ok := figured(text, constants)
		if !ok {
			continue
		}
		done++
		if library, good := evaluated(text, constants); !good || got != library {
			t.Fatalf("%s: %v, by the library %v", text, got, library)
		}
	}
	if done < 5000 {
		t.Errorf("only %d of the sums were worked out", done)
	}
}

func FuzzFigure(f *testing.F) {
	constants := constantsOf(f, "2", "0.1", "-3.75", "1/3", "1e30", "123456789012345", "0.1 + 0.2", "7 / 8")
	for _, text := range []string{"1 + 1", "let.c1 * 3.3 - let.c2", "0.1 + 0.2 - 0.3", "999999999999999 - 0.5", "12 + let.c0 # spare"} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		if strings.ContainsAny(text, "\r\n") {
			return
		}
		got, ok := figured(text, constants)
		if !ok {
			return
		}
		if library, good := evaluated(text, constants); !good || got != library {
			t.Errorf("%s: %v, by the library %v", text, got, library)
		}
	})
}
