package design

import (
	"fmt"
	"strconv"
	"strings"

	"github.com/hashicorp/hcl/v2/hclsyntax"
	"github.com/zclconf/go-cty/cty"

	"trefoil/lint/source"
	"trefoil/ratings/quantity"
)

// Sheet is a price or a time by size: a row for each, or one for every size.
type Sheet struct {
	Rows   []Row
	At     source.Range
	Origin Origin
}

// Known says that the sheet can be used.
func (s *Sheet) Known() bool { return s.Origin == Stated }

// Row is one line of a sheet. Which part of its key counts hangs on what the sheet is by.
type Row struct {
	Every bool          // for every size
	Size  quantity.Size // of a conductor
	From  float64       // mm or m
	Name  string        // as written
	Value Num
}

// text is the sheet as HCL writes it; "" where a row is not usable.
func (s *Sheet) text() string {
	list := make([]string, len(s.Rows))
	for i := range s.Rows {
		row := &s.Rows[i]
		switch {
		case !row.Value.Known():
			return ""
		case row.Every:
			return numberText(row.Value.Value)
		case row.plain():
			list[i] = row.Name + " = " + numberText(row.Value.Value)
		default:
			list[i] = strconv.Quote(row.Name) + " = " + numberText(row.Value.Value)
		}
	}
	return "{ " + strings.Join(list, ", ") + " }"
}

// plain says that a key needs no quotes.
func (r *Row) plain() bool {
	if hclsyntax.ValidIdentifier(r.Name) {
		return true
	}
	_, err := strconv.ParseFloat(r.Name, 64)
	return err == nil
}

// What the rows of a sheet go by.
type keyed uint8

const (
	bySize   keyed = iota // conductor sizes
	byLength              // widths and diameters in mm, heights in m
	byName
)

func (k keyed) form() string {
	return [...]string{`{ 16 = 4.2, 25 = 6.1, "4/0 AWG" = 30 }`, "{ 100 = 12, 300 = 31 }", "{ roof = 1.2, shaft = 1.5 }"}[k]
}

func sheet[T any](get func(*T) *Sheet, by keyed) *field[T] {
	return &field[T]{sheet: get, by: by, high: most}
}

// row reads the key of a row.
func (k keyed) row(key string) (Row, error) {
	row := Row{Name: key}
	var err error
	switch k {
	case bySize:
		row.Size, err = quantity.ParseSize(key)
	case byLength:
		if row.From, err = strconv.ParseFloat(key, 64); err != nil || !(row.From >= 0 && row.From <= most) {
			err = fmt.Errorf("%q is no number of mm or m", key)
		}
	case byName:
		if why := refuseName(key); why != "" {
			err = fmt.Errorf("the name %s", why)
		}
	}
	return row, err
}

// same says that two rows are for the same thing.
func (r *Row) same(o *Row, k keyed) bool {
	switch {
	case r.Every || o.Every:
		return r.Every == o.Every
	case k == bySize:
		return r.Size == o.Size
	case k == byLength:
		return r.From == o.From
	}
	return r.Name == o.Name
}

// sheet reads a sheet: rows in braces, each with its place, or any expression that gives
// them or one number.
func (r *reader) sheet(s *Sheet, by keyed, low func(float64) string, name string, expr hclsyntax.Expression, at source.Range) {
	*s = Sheet{At: at, Origin: Faulty} // until all of it is known
	if list, is := expr.(*hclsyntax.ObjectConsExpr); is && len(list.Items) > 0 && len(list.Items) <= maxPairs {
		s.Origin, s.Rows = Stated, make([]Row, 0, len(list.Items))
		for _, item := range list.Items {
			place := r.rng(item.KeyExpr.Range())
			if len(item.KeyExpr.Variables()) > 0 {
				r.fault("value-impossible", place, fmt.Sprintf("a key of %s hangs on other values", name), "write it out: "+name+" = "+by.form())
				continue
			}
			key, ok := r.finish(item.KeyExpr, bare.ctx)
			if !ok {
				continue
			}
			row := r.row(s, by, name, key, place)
			if row == nil {
				continue
			}
			whole := place
			whole.End = r.rng(item.ValueExpr.Range()).End
			row.Value = Num{At: whole, Origin: Faulty}
			n, what := &row.Value, name+" of "+row.Name
			r.value("", item.ValueExpr, func(v cty.Value) { r.cell(n, v, low, what, whole) })
		}
		return
	}
	r.value(name, expr, func(v cty.Value) {
		switch {
		case v == cty.NilVal:
		case v.IsNull():
			*s = Sheet{}
		case v.Type() == cty.Number && by != byName:
			s.Origin, s.Rows = Stated, []Row{{Every: true}}
			r.cell(&s.Rows[0].Value, v, low, name, at)
		case (v.Type().IsObjectType() || v.Type().IsMapType()) && v.LengthInt() > 0 && v.LengthInt() <= maxPairs:
			s.Origin, s.Rows = Stated, make([]Row, 0, v.LengthInt())
			for it := v.ElementIterator(); it.Next(); {
				key, value := it.Element()
				if row := r.row(s, by, name, key, at); row != nil {
					r.cell(&row.Value, value, low, name+" of "+row.Name, at)
				}
			}
		default:
			r.fault("value-impossible", at, fmt.Sprintf("%s is %s; it must be a row for each size, at most %d", name, show(v), maxPairs), "write "+name+" = "+by.form())
		}
	})
}

// row adds a row to a sheet; nil where its key cannot be, or stands there already.
func (r *reader) row(s *Sheet, by keyed, name string, key cty.Value, at source.Range) *Row {
	text := ""
	switch {
	case key.IsNull():
	case key.Type() == cty.Number:
		x, _ := key.AsBigFloat().Float64()
		text = strconv.FormatFloat(x, 'f', -1, 64)
	case key.Type() == cty.String:
		text = key.AsString()
	}
	row, err := by.row(text)
	if err != nil {
		r.fault("value-impossible", at, fmt.Sprintf("a row of %s: %v", name, err), "write "+name+" = "+by.form())
		return nil
	}
	for i := range s.Rows {
		if first := &s.Rows[i]; first.same(&row, by) {
			r.fault("name-taken", at, fmt.Sprintf("%s of %s is given twice", name, shorten(text)), "keep one of the two rows")
			r.relate(first.Value.At, "the first one")
			return nil
		}
	}
	s.Rows = append(s.Rows, row)
	return &s.Rows[len(s.Rows)-1]
}

// cell reads the figure of a row.
func (r *reader) cell(n *Num, v cty.Value, refuse func(float64) string, what string, at source.Range) {
	*n = Num{At: at, Origin: Faulty}
	if v == cty.NilVal { // told already
		return
	}
	why := "it must be a number"
	switch {
	case v.IsNull():
		r.fault("value-impossible", at, what+" is null; "+why, "leave the row out")
		return
	case v.Type() == cty.Number:
		n.Value, _ = v.AsBigFloat().Float64()
		if why = refuse(n.Value); why == "" {
			n.Origin = Stated
			return
		}
	}
	r.fault("value-impossible", at, fmt.Sprintf("%s is %s; %s", what, show(v), why), "")
}
