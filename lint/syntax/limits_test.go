package syntax

import (
	"fmt"
	"strings"
	"testing"
)

// TestLimits: each limit is named where it is passed, and met at equality.
func TestLimits(t *testing.T) {
	lines := func(n int) string { return "a \"b\" {\n  c = <<E\n" + strings.Repeat("x\n", n) + "E\n}\n" }
	list := func(bytes int) string {
		head, tail := "a \"b\" {\n  c = [", "1]\n}\n"
		n := bytes - len(head) - len(tail)
		return head + strings.Repeat("1,", n/2) + strings.Repeat(" ", n%2) + tail
	}
	for name, c := range map[string]struct{ good, bad, want string }{
		"stretch":    {list(maxPiece), list(maxPiece + 1), "262144 bytes without a line that is just }"},
		"lines":      {lines(maxOperators - 3), lines(maxOperators + 1), "1000 operators"},
		"parts":      {"a = \"" + strings.Repeat("${1}", 300) + "\"\n", "a = \"" + strings.Repeat("${1}", 1001) + "\"\n", "1000 operators"},
		"dollars":    {"a = \"é" + strings.Repeat("$a", 900) + "\"\n", "a = \"é" + strings.Repeat("$a", 100000) + "\"\n", "1000 operators"},
		"here parts": {"a = <<E\n" + strings.Repeat("${1}", 300) + "\nE\n", "a = <<E\n" + strings.Repeat("${1}\n", 1001) + "E\n", "1000 operators"},
	} {
		t.Run(name, func(t *testing.T) {
			if _, faults := read("a.hcl", c.good); len(faults) > 0 {
				t.Errorf("within the limit: %s", faults[0].Message)
			}
			_, faults := read("a.hcl", c.bad)
			if len(faults) != 1 || !strings.Contains(faults[0].Message, c.want) || faults[0].Next == "" || int(faults[0].At.End) > len(c.bad) {
				t.Errorf("past it: %+v", faults)
			}
		})
	}
}

// TestManyFaults: of one file a hundred are told, and that there are more.
func TestManyFaults(t *testing.T) {
	_, faults := read("a.hcl", strings.Repeat("run \"b\" {\n  a = @\n}\n", 500))
	if len(faults) != maxTold+1 || !strings.Contains(faults[maxTold].Message, "more than 100 faults") {
		t.Errorf("%d faults, the last %+v", len(faults), faults[len(faults)-1])
	}
}

// TestDeepOpeners nests whatever opens something, alone and in pairs. Without the guard
// the parser ends the whole process here, which nothing can recover.
func TestDeepOpeners(t *testing.T) {
	openers := []string{"(", "[", "{", "{a=", `"${`, `"%{if `, `"%{for a in `, `"$${`, `"$$${`, `"\$${`, `"\${`, `"%%{`, "<<E\n${", "<<-E\n%{if ", "<<É\n${", "<<E \n$${", "<<_a\n${", "!", "-", "a ? ", "a[", "f(", "a.b[", "[for a in ", "{for a,b in ", "1+", "1&&", "x {\n", "x \"y\" {\n", "x {\na=", "a=[\n", "/* */(", "# a\n(", "a=<<E\nE\n", "=>", ","}
	heads := []string{"", "a = ", "b {\n  a = "}
	for i, a := range openers {
		for k, b := range openers {
			text := heads[(i+k)%len(heads)] + strings.Repeat(a+b, 120_000/len(a+b))
			if _, faults := read("a.hcl", text); len(faults) > maxTold+1 {
				t.Errorf("%q, %q: %d faults", a, b, len(faults))
			}
		}
	}
}

// TestLongBroken: of a long file the pieces without a fault are read, and only they.
func TestLongBroken(t *testing.T) {
	filler := long(4000, "\n")
	if len(filler) < maxPiece {
		t.Fatal("the text is too short")
	}
	bad := "run \"x\" {\n  a = = 1\n}\n"
	items, faults := read("a.hcl", filler+bad+filler)
	if len(faults) == 0 || int(faults[0].At.Start) < len(filler) || int(faults[0].At.Start) > len(filler)+len(bad) {
		t.Fatalf("faults %+v", faults)
	}
	for _, f := range faults {
		if int(f.At.Start) < len(filler) || int(f.At.Start) > len(filler)+len(bad) {
			t.Errorf("a fault of %s at %d", f.Message, f.At.Start)
		}
	}
	want := 2 * 4000 * 5 // the attributes and blocks of each run
	if n := len(items); n < want-10 || n > want+10 {
		t.Errorf("%d attributes and blocks, want about %d", n, want)
	}
}

// TestLongCutInside has a long here-document and a long comment with lines that are just
// }, in the middle of a long file.
func TestLongCutInside(t *testing.T) {
	filler := long(3000, "\n")
	inside := strings.Repeat("}\n", 900)
	wide := strings.Repeat(strings.Repeat("x", 100)+"\n}\n", 400)
	for _, trap := range []string{"run \"x\" {\n  note = <<END\n" + inside + "END\n}\n", "run \"x\" {\n  note = <<END\n" + wide + "END\n}\n", "/*\n" + strings.Repeat(inside, 30) + "*/\nrun \"y\" {\n}\n"} {
		text := filler + trap + filler
		got, faults := read("a.hcl", text)
		if len(faults) > 0 {
			t.Fatalf("%.40q: %+v", trap, faults[0])
		}
		if want := whole(t, text); strings.Join(got, "\n") != strings.Join(want, "\n") {
			t.Errorf("pieces and whole differ after %s", fmt.Sprintf("%.40q", trap))
		}
	}
}
