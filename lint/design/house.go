package design

import (
	"fmt"
	"path"
	"regexp"
	"slices"
	"strings"

	"github.com/zclconf/go-cty/cty"

	"trefoil/lint/syntax"
)

// HouseKinds are the kinds of block that a house rule may be about.
var HouseKinds = []string{"run", "source", "board", "route", "cable", "supply", "site", "load"}

var houseSchema = &schema[HouseRule]{kind: "house_rule", fields: map[string]*field[HouseRule]{
	"note":     text(func(o *HouseRule) *Text { return &o.Note }),
	"each":     word(func(o *HouseRule) *Text { return &o.Each }, HouseKinds...).must(),
	"when":     {formula: func(o *HouseRule) *Formula { return &o.When }},
	"must":     {formula: func(o *HouseRule) *Formula { return &o.Must }, required: true},
	"message":  {formula: func(o *HouseRule) *Formula { return &o.Message }, required: true},
	"severity": word(func(o *HouseRule) *Text { return &o.Severity }, "error", "warning", "note"),
	"next":     text(func(o *HouseRule) *Text { return &o.Next }),
	"why":      text(func(o *HouseRule) *Text { return &o.Why }),
	"origin":   text(func(o *HouseRule) *Text { return &o.Source }),
}}

var ruleName = regexp.MustCompile(`^[a-z][a-z0-9]*(-[a-z0-9]+)*$`)

// libraryKinds are the kinds of block that a shared directory may bring.
var libraryKinds = []string{"cable", "house_rule", "price"}

// foreign tells a block that has no place in a library.
func (r *reader) foreign(b *syntax.Block) bool {
	if !r.file.Library || slices.Contains(libraryKinds, b.Type) {
		return false
	}
	if slices.Contains(allKinds, b.Type) {
		r.fault("unknown-word", r.first(b), fmt.Sprintf("a %s has no place in a library, which brings %s blocks only", b.Type, and(libraryKinds)), "move it to the design, or name another directory in library")
	} else {
		r.fault("unknown-word", r.first(b), fmt.Sprintf("%q is no kind of block", b.Type), suggest(b.Type, libraryKinds))
		r.mend(r.first(b), b.Type, libraryKinds)
	}
	return true
}

// completeHouse fills in the defaults of house rules and tells what is missing.
func (d *Design) completeHouse() {
	for _, h := range d.House {
		d.missing(&h.Object, missing(houseSchema, h))
		setText(&h.Severity, "warning")
		if h.Name != "" && refuseName(h.Name) == "" && !ruleName.MatchString(h.Name) {
			d.tell("value-impossible", h.At, h.Subject(), fmt.Sprintf("%q is no name of a rule: lower-case words, joined by hyphens", h.Name), `write house_rule "no-small-aluminium" {`)
		}
	}
	for _, s := range d.Sites {
		for _, dir := range s.Library.Values {
			if why := refuseLibrary(dir); why != "" {
				d.tell("value-impossible", s.Library.At, s.Subject(), fmt.Sprintf("library names %s, which %s", show(cty.StringVal(dir)), why), `write library = ["../catalogue"], as seen from the design's directory`)
				s.Library.Origin = Faulty
				d.Broken = true
			}
		}
	}
}

// refuseLibrary says why a text names no library directory, "" when it can.
func refuseLibrary(dir string) string {
	switch {
	case strings.TrimSpace(dir) == "":
		return "is empty"
	case strings.ContainsRune(dir, 0):
		return "holds a NUL character"
	case strings.Contains(dir, `\`):
		return "holds a backslash: directories are parted by /"
	case path.IsAbs(dir), strings.Contains(dir, ":"):
		return "is not relative"
	}
	return ""
}
