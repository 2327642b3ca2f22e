package finding

import (
	"slices"
	"strings"
	"testing"

	"trefoil/lint/source"
)

// at points at some words of a text.
func at(t *testing.T, f *source.File, words string) source.Range {
	t.Helper()
	i := strings.Index(string(f.Bytes), words)
	if i < 0 {
		t.Fatalf("%q is not in the text", words)
	}
	return source.Range{File: f, Start: uint32(i), End: uint32(i + len(words))}
}

// TestFingerprint: a finding keeps its fingerprint when its lines move, its file is renamed
// and its figures change, and has another one at another subject, attribute or rule.
func TestFingerprint(t *testing.T) {
	one := &source.File{Name: "a.hcl", Bytes: []byte("run \"a\" {\n  size_mm2 = 16\n  from = board.x\n  section {\n  }\n  section {\n  }\n}\n")}
	two := &source.File{Name: "ü/b.hcl", Bytes: []byte("# moved\n\n\nrun \"a\" {\n  from = board.x\n  size_mm2   = 25 # larger\n  section {\n  }\n  section {\n  }\n}\n")}
	print := func(list ...Finding) []string {
		Identify(list)
		var all []string
		for _, f := range list {
			all = append(all, f.Fingerprint)
		}
		return all
	}
	was := print(
		Finding{Rule: "too-small", Subject: "run.a", At: at(t, one, "size_mm2 = 16"), Message: "is 16 A"},
		Finding{Rule: "too-small", Subject: "run.b", At: at(t, one, "size_mm2 = 16")},
		Finding{Rule: "too-long", Subject: "run.a", At: at(t, one, "size_mm2 = 16")},
		Finding{Rule: "too-small", Subject: "run.a", At: at(t, one, "board.x")},
		Finding{Rule: "too-small", Subject: "run.a", At: at(t, one, "section {")},
		Finding{Rule: "too-small", Subject: "run.a", At: at(t, one, "section {")},
		Finding{Rule: "too-small"},
	)
	now := print(
		Finding{Rule: "too-small", Subject: "run.a", At: at(t, two, "size_mm2   = 25"), Message: "is 25 A"},
		Finding{Rule: "too-small", Subject: "run.b", At: at(t, two, "size_mm2   = 25")},
		Finding{Rule: "too-long", Subject: "run.a", At: at(t, two, "size_mm2   = 25")},
		Finding{Rule: "too-small", Subject: "run.a", At: at(t, two, "board.x")},
		Finding{Rule: "too-small", Subject: "run.a", At: at(t, two, "section {")},
		Finding{Rule: "too-small", Subject: "run.a", At: at(t, two, "section {")},
		Finding{Rule: "too-small"},
	)
	if !slices.Equal(was, now) {
		t.Errorf("%v became %v", was, now)
	}
	slices.Sort(now)
	if len(slices.Compact(now)) != len(was) {
		t.Errorf("two findings share a fingerprint: %v", was)
	}
}

// TestMatch finds findings again: by what they say where several stand at one word, and
// under the new name of their subject.
func TestMatch(t *testing.T) {
	say := func(subject, message string) Finding {
		return Finding{Rule: "r", Subject: subject, Message: message}
	}
	was := []Finding{say("run.a", "on route x 10 A"), say("run.a", "on route y 10 A"), say("run.old", "once"), say("run.gone", "once")}
	now := []Finding{say("run.a", "on route y 12 A"), say("run.new", "once"), say("run.a", "on route z 9 A"), say("run.a", "on route q 9 A")}
	got := Match(was, now, func(s string) string { return strings.Replace(s, "old", "new", 1) })
	if want := []int{1, 2, 0, -1}; !slices.Equal(got, want) {
		t.Errorf("%v, want %v", got, want)
	}
}
