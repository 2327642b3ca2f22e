package syntax

import (
	"math/big"
	"strconv"
	"strings"

	"github.com/zclconf/go-cty/cty"
)

// Decimal is a number of few digits as people write it: so many times 10^-places. Sums and
// products of decimals are exact, and so is what they come to as a float64: what the
// parser's expressions, which work with 512 bits, come to as well.
type Decimal struct {
	units  int64 // of less than mostUnits
	places int   // at most mostPlaces
}

// A decimal has at most 15 digits: fewer than a float64 keeps apart, so that it is never half
// way between two of those, and 10^places is a float64 itself.
const (
	mostUnits  = 1_000_000_000_000_000
	mostPlaces = 22
)

// Float is the float64 that is nearest.
func (d Decimal) Float() float64 { return float64(d.units) / tens[d.places] }

var tens = func() (list [mostPlaces + 1]float64) {
	for i := range list {
		list[i], _ = strconv.ParseFloat("1e"+strconv.Itoa(i), 64)
	}
	return list
}()

// decimal reads digits with at most one point between them.
func decimal(digits []byte) (d Decimal, ok bool) {
	point := false
	for _, c := range digits {
		switch {
		case c == '.':
			point = true
			continue
		case d.units >= mostUnits/10:
			return d, false
		}
		d.units = 10*d.units + int64(c-'0')
		if point {
			d.places++
		}
	}
	return d, d.places <= mostPlaces
}

// DecimalOf is a value of an expression as a decimal; false where it is none, or of more
// digits.
func DecimalOf(v cty.Value) (Decimal, bool) {
	if v == cty.NilVal || v.Type() != cty.Number || !v.IsKnown() || v.IsNull() || v.IsMarked() {
		return Decimal{}, false
	}
	exact := v.AsBigFloat()
	x, _ := exact.Float64()
	digits := strconv.FormatFloat(x, 'f', -1, 64)
	read, _, err := big.ParseFloat(digits, 10, 512, big.ToNearestEven)
	if err != nil || read.Cmp(exact) != 0 {
		return Decimal{}, false
	}
	digits, negative := strings.CutPrefix(digits, "-")
	d, ok := decimal([]byte(digits))
	if negative {
		d.units = -d.units
	}
	return d, ok
}

// Figure works out arithmetic of numbers and of what named knows by its reference, without
// divisions. It is false where there is more to it.
func (e *Expr) Figure(named func(reference []byte) (Decimal, bool)) (float64, bool) {
	if e.kind != sum && e.kind != reference {
		return 0, false
	}
	p := &plain{file: e.file, text: e.file.Bytes[:e.end], i: int(e.start)}
	total, ok := p.product(named)
	for p.blanks(); ok && p.i < len(p.text); p.blanks() {
		minus := p.peek() == '-'
		p.operator()
		var d Decimal
		if d, ok = p.product(named); minus {
			d.units = -d.units
		}
		if ok {
			total, ok = total.plus(d)
		}
	}
	if !ok {
		return 0, false
	}
	return total.Float(), true
}

// product works out operands that are multiplied.
func (p *plain) product(named func([]byte) (Decimal, bool)) (Decimal, bool) {
	d, ok := p.figure(named)
	for ok {
		if p.blanks(); p.peek() == '/' {
			return d, false
		} else if p.peek() != '*' {
			break
		}
		p.operator()
		var by Decimal
		if by, ok = p.figure(named); ok {
			d, ok = d.times(by)
		}
	}
	return d, ok
}

// figure is one operand.
func (p *plain) figure(named func([]byte) (Decimal, bool)) (Decimal, bool) {
	from := p.i
	if kind, _ := p.operand(); kind == number {
		return decimal(p.text[from:p.i])
	}
	return named(p.text[from:p.i])
}

func (d Decimal) plus(o Decimal) (Decimal, bool) {
	for ; d.places < o.places && small(d.units); d.places++ {
		d.units *= 10
	}
	for ; o.places < d.places && small(o.units); o.places++ {
		o.units *= 10
	}
	d.units += o.units
	return d, d.places == o.places && -mostUnits < d.units && d.units < mostUnits
}

// small says that ten times as many are still a decimal.
func small(units int64) bool { return -mostUnits/10 < units && units < mostUnits/10 }

func (d Decimal) times(o Decimal) (Decimal, bool) {
	product := float64(d.units) * float64(o.units)
	d.units, d.places = d.units*o.units, d.places+o.places
	return d, -mostUnits < product && product < mostUnits && d.places <= mostPlaces
}
