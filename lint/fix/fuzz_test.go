package fix

import (
	"bytes"
	"slices"
	"testing"

	"trefoil/lint/finding"
	"trefoil/lint/source"
)

// FuzzApply makes any edits of any text, several fixes of two edits each: what is made is in
// the text as often as it was asked for, what is refused or waits leaves it alone, and bytes
// outside of the edits stay, in their order. The plain way beside it cuts and joins texts
// from the end.
func FuzzApply(f *testing.F) {
	f.Add([]byte("0123456789"), []byte{1, 3, 0, 6, 7, 1, 3, 4, 2, 4, 4, 3})
	f.Add([]byte("let {\n  a=1\n}\n"), []byte{0, 0, 1, 0, 0, 2, 12, 13, 0, 255, 3, 9})
	f.Add([]byte{}, []byte{0, 0, 1, 0, 0, 1})
	words := []string{"", "a", "let {\n}\n", "\"", "\xff"}
	f.Fuzz(func(t *testing.T, text, orders []byte) {
		if len(text) > 200 || len(orders) > 60 {
			t.Skip()
		}
		file := &source.File{Name: "a.txt", Bytes: slices.Clone(text)}
		var fixes []Proposal
		for i := 0; i+6 <= len(orders); i += 6 {
			p := Proposal{Fix: finding.Fix{Name: "x"}}
			for k := i; k < i+6; k += 3 {
				p.Edits = append(p.Edits, finding.Edit{At: source.Range{File: file, Start: uint32(orders[k]), End: uint32(orders[k+1])}, Text: words[int(orders[k+2])%len(words)]})
			}
			fixes = append(fixes, p)
		}
		out := Apply([]*source.File{file}, fixes)
		if len(out.Made)+len(out.Waiting)+len(out.Refused) != len(fixes) {
			t.Fatalf("%d fixes: %d made, %d waiting, %d refused", len(fixes), len(out.Made), len(out.Waiting), len(out.Refused))
		}
		if !bytes.Equal(file.Bytes, text) {
			t.Fatal("the text that was read is changed")
		}
		var edits []finding.Edit
		for _, p := range out.Made {
			before := slices.Clone(edits)
			for _, e := range p.Edits {
				if e.At.Start > e.At.End || int(e.At.End) > len(text) {
					t.Fatalf("%+v is made, of a text of %d bytes", e, len(text))
				}
				if !slices.Contains(before, e) {
					edits = append(edits, e)
				}
			}
		}
		for i, a := range edits {
			for _, b := range edits[:i] {
				if a.At.Start < b.At.End && b.At.Start < a.At.End {
					t.Fatalf("%+v and %+v are both made", a, b)
				}
			}
		}
		want := slices.Clone(text)
		for len(edits) > 0 { // the last place first; of several there the last that was asked for
			last := 0
			for i, e := range edits {
				if e.At.Start > edits[last].At.Start || e.At.Start == edits[last].At.Start && e.At.End >= edits[last].At.End {
					last = i
				}
			}
			e := edits[last]
			want = slices.Replace(want, int(e.At.Start), int(e.At.End), []byte(e.Text)...)
			edits = slices.Delete(edits, last, last+1)
		}
		if got := out.Files[0].Bytes; !bytes.Equal(got, want) && !bytes.Equal(squeezed(got), squeezed(want)) { // it may be aligned again
			t.Errorf("got %q, want %q", got, want)
		}
	})
}

// squeezed is a text without blanks.
func squeezed(text []byte) []byte { return bytes.Join(bytes.Fields(text), nil) }
