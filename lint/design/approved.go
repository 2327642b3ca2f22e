package design

import (
	"fmt"

	"trefoil/lint/source"
	"trefoil/lint/syntax"
)

// Threshold is a total of sources above which the network asks for more.
type Threshold struct {
	At           source.Range
	Name         string
	AboveKVA     Num
	Asks, Origin Text
	AsOf         Text // the day of its origin
	Provided     Flag
}

// Approved is what a network or an authority has approved.
type Approved struct {
	Object
	Note                     Text
	Origin                   Text
	Until                    Text // last day, included, YYYY-MM-DD
	TotalKVA, ExportLimitKVA Num
	Ratings                  Text // the rating set, with its edition, that was submitted
	Equipment                []*Equipment
}

// Equipment is one model that is approved.
type Equipment struct {
	At              source.Range
	Model           string
	Count, RatedKVA Num
	Until           Text // last day on which its listing holds
}

var thresholdSchema = &schema[Threshold]{kind: "threshold", fields: map[string]*field[Threshold]{
	"above_kva": num(func(o *Threshold) *Num { return &o.AboveKVA }, 0, most).must(),
	"asks":      text(func(o *Threshold) *Text { return &o.Asks }).must(),
	"origin":    text(func(o *Threshold) *Text { return &o.Origin }).must(),
	"as_of":     {text: func(o *Threshold) *Text { return &o.AsOf }, date: true, required: true},
	"provided":  flag(func(o *Threshold) *Flag { return &o.Provided }),
}}

// thresholds reads the threshold blocks of a site.
var thresholds = &nested[Site]{label: true, decode: func(r *reader, o *Site, b *syntax.Block) {
	t := &Threshold{At: r.header(b), Name: b.Labels[0].Name}
	for _, other := range o.Thresholds {
		if other.Name == t.Name {
			r.fault("name-taken", r.label(b, 0), fmt.Sprintf("threshold %q is given twice", t.Name), "give one of the two another name")
		}
	}
	o.Thresholds = append(o.Thresholds, t)
	decodeBody(r, thresholdSchema, t, b)
}}

var equipmentSchema = &schema[Equipment]{kind: "equipment", fields: map[string]*field[Equipment]{
	"count":     counted(func(o *Equipment) *Num { return &o.Count }, 1, 1e6),
	"rated_kva": positive(func(o *Equipment) *Num { return &o.RatedKVA }),
	"until":     {text: func(o *Equipment) *Text { return &o.Until }, date: true},
}}

var approvedSchema = &schema[Approved]{kind: "approved", fields: map[string]*field[Approved]{
	"note":             text(func(o *Approved) *Text { return &o.Note }),
	"origin":           text(func(o *Approved) *Text { return &o.Origin }).must(),
	"until":            {text: func(o *Approved) *Text { return &o.Until }, date: true},
	"total_kva":        positive(func(o *Approved) *Num { return &o.TotalKVA }),
	"export_limit_kva": num(func(o *Approved) *Num { return &o.ExportLimitKVA }, 0, most),
	"ratings":          text(func(o *Approved) *Text { return &o.Ratings }),
}, blocks: map[string]*nested[Approved]{"equipment": {label: true, decode: func(r *reader, o *Approved, b *syntax.Block) {
	e := &Equipment{At: r.header(b), Model: b.Labels[0].Name}
	for _, other := range o.Equipment {
		if other.Model == e.Model {
			r.fault("name-taken", r.label(b, 0), fmt.Sprintf("equipment %q is given twice", e.Model), "keep one of the two blocks")
		}
	}
	o.Equipment = append(o.Equipment, e)
	decodeBody(r, equipmentSchema, e, b)
}}}}

// completeApproved tells what approvals and thresholds lack.
func (d *Design) completeApproved() {
	for _, s := range d.Sites {
		for _, t := range s.Thresholds {
			if lack := missing(thresholdSchema, t); len(lack) > 0 {
				d.lacks(t.At, s.Subject(), fmt.Sprintf("threshold %q does not state %s", t.Name, and(lack)), "add "+and(lack))
			}
		}
	}
	for _, a := range d.Approvals {
		d.missing(&a.Object, missing(approvedSchema, a))
	}
}
