package main

import (
	"fmt"
	"strings"
	"testing"

	"trefoil/lint/source"
)

// TestBombs: short texts that would take long, or much memory, if they were let. Each comes
// to its end, and where a limit is passed it is named at its place.
func TestBombs(t *testing.T) {
	double := "  s0 = \"aaaaaaaaaaaaaaaa\"\n"
	condition := "  a0 = 1\n"
	for i := range 60 {
		double += fmt.Sprintf("  s%d = \"${let.s%d}${let.s%d}\"\n", i+1, i, i)
		condition += fmt.Sprintf("  a%d = let.a%d > 0 ? let.a%d + let.a%d : let.a%d\n", i+1, i, i, i, i)
	}
	// a range has at most 1024 values, so that longer lists are put together
	let := func(body string) string {
		return "let {\n  r = range(1000)\n  l = concat(let.r, let.r)\n" + body + "\n}\n"
	}
	for name, c := range map[string]struct{ text, want string }{
		"for in for":        {let("  a = [for i in let.l : [for j in let.l : i * j]]"), "a for stands inside of a for"},
		"for in a template": {let(`  a = "%{for i in let.l}%{for j in let.l}x%{endfor}%{endfor}"`), "a for stands inside of a for"},
		"doubled texts":     {let(double), "at most 2000 and 16384 are allowed"},
		"doubled numbers":   {let(condition), ""},
		"range":             {let("  a = range(1e9)"), "a range's end may be at most 10000"},
		"steps":             {let("  a = range(0, 1, 1e-9)"), "range takes a start and an end here"},
		"powers":            {let("  a = pow(10, 10000)\n  b = pow(let.a, 10000)\n  c = \"${let.b}\""), ""},
		"numbers":           {let("  a = 1e999999999\n  b = let.a * let.a\n  c = \"${let.b}\"\n  d = floor(let.b)\n  e = format(\"%d\", let.a)"), ""},
		"rest":              {let("  a = 1e99999999 % 7\n  b = 7 % 1e-99999999"), ""},
		"product of sets":   {let("  a = length(setproduct(let.l, let.l, let.l))"), "a product of sets may have at most 2000 elements"},
		"lists":             {let("  a = length(concat(" + strings.Repeat("let.l,", 400) + "let.l))"), ""},
		"flattened":         {let("  a = length(flatten([for i in let.l : let.l]))"), "a for goes through"},
		"merged":            {let("  m = zipmap([for i in let.l : \"k${i}\"], let.l)\n  a = length([for i in let.l : merge(let.m, {x = i})])"), "a for goes through"},
		"sorted":            {let("  m = [for i in let.l : \"k${i}\"]\n  a = length([for i in let.m : sort(let.m)])"), "a for goes through"},
		"star in for":       {let("  m = [for i in let.l : {x = i}]\n  a = length([for i in let.m : let.m[*].x])"), ""},
		"pattern":           {let("  t = join(\"\", [for i in let.l : \"aaaaaaaa\"])\n  a = regexall(\"(a*)*(b*)*(c*)*\", let.t)\n  b = regex(\"((((a{1,100}){1,10}){1,10}){1,10})\", let.t)"), ""},
		"widths":            {let("  a = format(\"%999999999d\", 1)"), "a width in a format may have at most three digits"},
		"width by star":     {let("  a = format(\"%*d\", 1000000000, 5)"), ""},
		"joined":            {let("  t = join(\",\", [for i in let.l : \"aaaaaa\"])\n  a = join(let.t, [for i in let.l : \"a\"])"), "at most 16384 are allowed"},
		"put in":            {let("  t = join(\",\", [for i in let.l : \"aaaaaa\"])\n  a = replace(let.t, \"a\", let.t)"), "at most 16384 are allowed"},
		"indented":          {let("  t = join(\"\\n\", [for i in let.l : \"a\"])\n  a = indent(9999, let.t)"), "at most 16384 are allowed"},
		"copies":            {"board \"b\" {\n  copies = 1e9\n}\n", "it must be from 1 to 10000"},
		"copies by list":    {"let {\n  l = [for i in range(1000) : \"k${i}\"]\n}\n" + strings.Repeat("board \"b\" {\n  copies = concat(let.l, [\"x\"])\n}\n", 20), ""},
		"chain of boards":   {chain(3000), "is more than 1000 runs from the supply"},
		"dear copies":       {let("") + strings.Repeat("board \"b\" {\n  copies = 10000\n  rated_a = length([for i in let.l : i if i > copy.number])\n}\n", 5), "take more than 2000000 steps together"},
		"dear blocks":       {strings.Repeat("board \"b\" {\n  rated_a = length([for i in range(1000) : i])\n}\n", 3000), "take more than 2000000 steps together"},
		"long copies":       {let("  t = join(\"\", [for i in let.l : \"aaaaaaaa\"])") + strings.Repeat("board \"b\" {\n  copies = 10000\n  note = \"${let.t}${copy.key}\"\n}\n", 5), "take more than 2000000 steps together"},
		"full copies":       {"run \"b\" {\n  copies = 10000\n" + strings.Repeat("  section {\n    length_m = 1\n  }\n", 300) + "}\n", "makes more than 3000000 attributes and blocks"},
		"faulty copies":     {"board \"b\" {\n  copies = 10000\n" + strings.Repeat("  z {}\n", 250) + "}\n", `a board has no block "z"`},
		"dense":             {strings.Repeat("board \"b\" {\n"+strings.Repeat("  z {}\n", 30000)+"}\n", 130), "holds more than 15000000 parts"},
		"long lists":        {strings.Repeat("board \"b\" {\n  x = ["+strings.Repeat("1,", 120000)+"]\n}\n", 50), "holds more than 15000000 parts"},
		"broken blocks":     {strings.Repeat("run \"a\" {\n  a = = 1\n}\n", 100_000), "more than 100 faults"},
		"unknown names":     {names(2000), "more faults around here are not told"},
		"misspelt":          {strings.Repeat("run \"r\" {\n  from = source.nothing\n  zzz = 1\n}\n", 3000), ""},
	} {
		t.Run(name, func(t *testing.T) {
			if what := wrong([]byte(c.text)); what != "" {
				t.Fatalf("%.500s", what)
			}
			res := check([]*source.File{{Name: "site.hcl", Bytes: []byte(c.text)}})
			for _, f := range res.Findings {
				if strings.Contains(f.Message, c.want) && f.At.File != nil {
					return
				}
			}
			if c.want != "" {
				t.Errorf("nothing says %q", c.want)
			}
		})
	}
}

// names are runs of different names whose ends name nothing.
func names(n int) string {
	var b strings.Builder
	for i := range n {
		fmt.Fprintf(&b, "run \"n%d\" {\n  from = source.x%d\n  to = board.y%d\n}\n", i, i, i)
	}
	return b.String()
}

// chain is a row of boards without a device.
func chain(n int) string {
	var b strings.Builder
	b.Write(starter)
	to := "supply.grid"
	for i := range n {
		fmt.Fprintf(&b, "board \"c%d\" {\n}\nrun \"c%d\" {\n  from = board.c%d\n  to = %s\n  size_mm2 = 16\n}\n", i, i, i, to)
		to = fmt.Sprintf("board.c%d", i)
	}
	return b.String()
}
