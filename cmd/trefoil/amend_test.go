package main

import (
	"bytes"
	"slices"
	"strings"
	"testing"

	"trefoil/lint/align"
	"trefoil/lint/finding"
	"trefoil/lint/fix"
	"trefoil/lint/source"
	"trefoil/lint/syntax"
	"trefoil/rules"
)

// FuzzAmend makes every fix that is found in a text: edits lie inside of the file, the
// text that parsed still does, comments and rows without an edit stay, what was in
// canonical form is so again, and the fixes come to an end.
func FuzzAmend(f *testing.F) {
	seed(f)
	f.Add([]byte("let {\n  a = 1 # b\n}\nroute \"x\" { lidd = true }\nwaiver \"voltage-rice\" {\n  on = suply.x\n}\n"))
	f.Add([]byte("\xef\xbb\xbfsite \"x\" {\r\n  air_c = \"3\" /* c\r\n */\r\n}\r\nlet { b = [1, # d\r\n2] }\r\n"))
	f.Fuzz(func(t *testing.T, text []byte) {
		first := check([]*source.File{{Name: "site.hcl", Bytes: text}})
		if first.Review.Design.Broken {
			return
		}
		var every []string
		for _, r := range rules.All() {
			every = append(every, r.Name)
		}
		s, err := fix.Settle(func(texts map[string][]byte) (fix.Look, error) {
			now := text
			if laid, is := texts["site.hcl"]; is {
				now = laid
			}
			res := check([]*source.File{{Name: "site.hcl", Bytes: now}})
			if res.Review.Design.Broken {
				t.Fatalf("the text is broken:\n%s", now)
			}
			for _, x := range res.Findings {
				if x.Rule == "internal-fault" {
					t.Errorf("%+v", x)
				}
				for _, y := range x.Fixes {
					for _, e := range y.Edits {
						if e.At.File == nil || e.At.Start > e.At.End || int(e.At.End) > len(e.At.File.Bytes) {
							t.Errorf("%s lies outside of the file: %+v", x.Rule, e)
						}
					}
				}
			}
			l := fix.Look{Files: res.Review.Design.Files}
			l.Proposals, l.Refused, _ = proposals(res, every)
			return l, nil
		})
		if err != nil {
			t.Fatal(err)
		}
		for _, turn := range s.Turns {
			was, now := turn.Made[0].Edits[0].At.File, turn.Files[0]
			if a, b := remarks(was), remarks(now); !slices.Equal(a, b) {
				t.Errorf("comments were\n%q\nare\n%q", a, b)
			}
			plain, _ := align.Text(was)
			canonical := bytes.Equal(plain, was.Bytes)
			if again, _ := align.Text(now); canonical && !bytes.Equal(again, now.Bytes) {
				t.Errorf("no longer in canonical form:\n%s", now.Bytes)
			}
			rest := now.Bytes
			for _, row := range untouched(was, turn.Made) {
				i := bytes.Index(rest, row)
				if i < 0 && !canonical {
					t.Fatalf("%q is gone from\n%s", row, now.Bytes)
				}
				if i >= 0 {
					rest = rest[i+len(row):]
				}
			}
		}
	})
}

// untouched are the rows of a file that no edit of some fixes lies in, without the empty ones.
func untouched(f *source.File, made []fix.Proposal) (rows [][]byte) {
	at := 0
	for row := range bytes.Lines(f.Bytes) {
		from, to := uint32(at), uint32(at+len(row))
		at += len(row)
		if len(bytes.TrimSpace(row)) > 0 && !slices.ContainsFunc(made, func(p fix.Proposal) bool {
			return slices.ContainsFunc(p.Edits, func(e finding.Edit) bool { return e.At.Start <= to && from <= e.At.End })
		}) {
			rows = append(rows, row)
		}
	}
	return rows
}

// remarks are the comments of a file, without the blanks and line ends in them.
func remarks(f *source.File) []string {
	list := syntax.Comments(source.Range{File: f, End: uint32(len(f.Bytes))})
	for i := range list {
		list[i] = strings.Join(strings.Fields(list[i]), " ")
	}
	return list
}
