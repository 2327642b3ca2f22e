package design

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"sync/atomic"
	"time"
	"unicode"

	"github.com/hashicorp/hcl/v2"
	"github.com/hashicorp/hcl/v2/hclsyntax"
	"github.com/zclconf/go-cty/cty"

	"trefoil/lint/finding"
	"trefoil/lint/source"
	"trefoil/lint/syntax"
	"trefoil/ratings/quantity"
)

// reader copies values out of the blocks of one piece of text.
type reader struct {
	file    *source.File
	subject string // of the block being read
	inside  int    // 0 in the block itself, 1 in a block inside it
	copy    map[string]cty.Value

	faults  []Fault
	untold  int                  // faults beyond maxFaults
	seen    map[spot]*reader     // of a copy: what it or an earlier one has told
	mute    bool                 // the last fault was told of an earlier copy
	second  bool                 // it reads a copy after the first
	later   []func(*environment) // values that hang on let
	last    []*dependent         // values that hang on other blocks
	env     *environment         // nil while let is not known yet
	spent   *atomic.Int64        // that of the design, nil where nobody counts
	used    map[string]bool      // constants that its expressions name
	kept    bool                 // figures are kept, to be worked out again
	figures []figure
	mixed   bool   // constants are named in other expressions too
	needs   []name // blocks on which its values hang
	lost    bool   // they name something that is not there
	circle  bool   // one of them hangs on itself
}

// figure is a number that is worked out from constants, and on which nothing else of its block
// hangs.
type figure struct {
	expr   syntax.Expr
	num    *Num
	refuse func(float64) string
}

// dependent is a value that hangs on attributes of other blocks.
type dependent struct {
	reader  *reader
	subject string
	attr    string
	expr    hclsyntax.Expression
	apply   func(cty.Value)
	state   uint8 // 0 waiting, 1 being worked out, 2 done
}

// spot is a rule at a place: of the copies of a block the first that breaks it there is told.
type spot struct {
	rule string
	at   source.Range
}

// maxFaults bounds the faults that are told of one piece of text.
const maxFaults = 1000

func (r *reader) fault(rule string, at source.Range, message, next string) {
	if r.seen != nil {
		first := r.seen[spot{rule, at}]
		if r.mute = first != nil && first != r; r.mute {
			return
		}
		r.seen[spot{rule, at}] = r
	}
	if len(r.faults) == maxFaults {
		r.faults = r.faults[:maxFaults-1]
		r.untold++
	}
	r.faults = append(r.faults, Fault{Rule: rule, Severity: finding.Error, At: at, Message: message, Next: next, Subject: r.subject})
}

// maxNear bounds the faults of one piece for which a near word is looked for, which is
// slow where there are many to choose from.
const maxNear = 50

// near gives the words that one may be misspelt from; none once enough were looked for, or
// where a copy before has the same word.
func (r *reader) near(words func() []string) []string {
	if len(r.faults) >= maxNear || r.second {
		return nil
	}
	return words()
}

// told gives the faults, and where there were too many how many are left out.
func (r *reader) told() []Fault {
	if r.untold > 0 {
		last := r.faults[maxFaults-1]
		r.faults = append(r.faults, Fault{
			Rule: last.Rule, Severity: finding.Error, At: last.At, Subject: last.Subject,
			Message: fmt.Sprintf("%d more faults around here are not told", r.untold), Next: "mend the others first",
		})
	}
	return r.faults
}

func (r *reader) rng(h hcl.Range) source.Range { return syntax.Range(r.file, h) }

// whole is a block from its first word to its closing brace.
func (r *reader) whole(b *syntax.Block) source.Range {
	return source.Range{File: r.file, Start: b.Start, End: b.End}
}

// first is the first word of a block.
func (r *reader) first(b *syntax.Block) source.Range {
	return source.Range{File: r.file, Start: b.Start, End: b.Start + uint32(len(b.Type))}
}

// header is the first line of a block.
func (r *reader) header(b *syntax.Block) source.Range { return r.whole(b).FirstLine() }

func (r *reader) label(b *syntax.Block, i int) source.Range {
	return source.Range{File: r.file, Start: b.Labels[i].Start, End: b.Labels[i].End}
}

// decodeBody copies the attributes and inner blocks of b into o. What it does
// not know is told at the word; the block stays usable.
func decodeBody[T any](r *reader, s *schema[T], o *T, b *syntax.Block) {
	if s.room != nil {
		s.room.lend(o)
		defer s.room.settle(o)
	}
	for i := range b.Attributes {
		a := &b.Attributes[i]
		name := a.Name
		f := s.fields[name]
		if f == nil {
			if name == "copies" && r.inside == 0 && mayCopy(s.kind) {
				continue
			}
			known := r.near(func() []string { return fieldNames(s) })
			next := suggest(name, known)
			if s.blocks[name] != nil {
				next = fmt.Sprintf("%s is a block: write %s { ... }", name, name)
			}
			r.fault("unknown-word", a.NameRange(), fmt.Sprintf("a %s has no attribute %q", s.kind, name), next)
			if known != nil {
				r.offer(RightWord(a.NameRange(), name, sureField(s, &b.Body, name)))
			}
			continue
		}
		readAttribute(r, f, o, name, &a.Expr, a.Range())
	}
	if len(b.Blocks) == 0 {
		return
	}
	for kind, n := range s.blocks {
		if n.grow == nil {
			continue
		}
		count := 0
		for _, inner := range b.Blocks {
			if inner.Type == kind {
				count++
			}
		}
		if count > 0 {
			n.grow(o, count)
		}
	}
	for i, inner := range b.Blocks {
		n := s.blocks[inner.Type]
		if n == nil {
			known := r.near(func() []string { return fieldNames(s) })
			next := suggest(inner.Type, known)
			if s.fields[inner.Type] != nil {
				next = fmt.Sprintf("%s is an attribute: write %s = ...", inner.Type, inner.Type)
			}
			r.fault("unknown-word", r.first(inner), fmt.Sprintf("a %s has no block %q", s.kind, inner.Type), next)
			if known != nil {
				r.offer(RightWord(r.first(inner), inner.Type, sureBlock(s, &b.Body, inner.Type)))
			}
			continue
		}
		if n.once && slices.ContainsFunc(b.Blocks[:i], func(o *syntax.Block) bool { return o.Type == inner.Type }) {
			r.fault("name-taken", r.header(inner), fmt.Sprintf("a second %s block in one %s", inner.Type, s.kind), "keep one of the two")
			continue
		}
		want := 0
		if n.label {
			want = 1
		}
		if len(inner.Labels) < want {
			r.fault("value-missing", r.header(inner), fmt.Sprintf("%s needs a label", inner.Type), fmt.Sprintf(`write %s "..." {`, inner.Type))
			continue
		}
		if len(inner.Labels) > want {
			r.fault("unknown-word", r.label(inner, want), fmt.Sprintf("%s takes %d label(s), here is one more", inner.Type, want), "remove the label")
		}
		r.inside++
		n.decode(r, o, inner)
		r.inside--
	}
}

func mayCopy(kind string) bool {
	switch kind {
	case "source", "board", "load", "route", "cable", "run":
		return true
	}
	return false
}

// readAttribute copies one attribute, now or as soon as what it hangs on is known.
func readAttribute[T any](r *reader, f *field[T], o *T, name string, expr *syntax.Expr, at source.Range) {
	switch {
	case f.sheet != nil:
		r.sheet(f.sheet(o), f.by, f.refuse, name, expr.Tree(), at)
		return
	case f.formula != nil:
		r.formula(f.formula(o), expr.Tree(), at)
		return
	case f.link != nil:
		if kind, word, ok := expr.Reference(); ok {
			*f.link(o) = Link{At: at, Origin: Faulty}
			r.accept(Link{Kind: kind, Name: word, At: at, Origin: Stated}, f.kinds, f.link(o))
			return
		}
		r.linkLater(expr.Tree(), at, f.kinds, f.link(o))
		return
	case f.links != nil:
		list, ok := expr.Tree().(*hclsyntax.TupleConsExpr)
		if !ok {
			r.fault("value-impossible", at, name+" is a list of references", fmt.Sprintf("write %s = [%s.NAME]", name, f.kinds[0]))
			return
		}
		*f.links(o) = make([]Link, len(list.Exprs))
		for i, e := range list.Exprs {
			r.linkLater(e, r.rng(e.Range()), f.kinds, &(*f.links(o))[i])
		}
		return
	}
	if literal(f, o, expr, at) {
		return
	}
	if expr.Named() {
		one := *expr // without the others of its block
		work := func(env *environment) {
			if f.num == nil || !workOut(r, f, f.num(o), &one, at, env) {
				readValue(r, f, o, name, one.Tree(), at)
			}
		}
		if r.env != nil {
			work(r.env)
			return
		}
		f.unknown(o, at)
		r.postpone(work)
		return
	}
	readValue(r, f, o, name, expr.Tree(), at)
}

// workOut puts a number that is arithmetic of numbers and constants in its place. It is false
// where there is more to it, or something to tell.
func workOut[T any](r *reader, f *field[T], num *Num, expr *syntax.Expr, at source.Range, env *environment) bool {
	x, ok := r.figure(expr, env)
	if !ok || f.refuse(x) != "" {
		return false
	}
	*num = Num{Value: x, At: at, Origin: Stated}
	if f.alone && r.kept {
		r.figures = append(r.figures, figure{*expr, num, f.refuse})
	} else {
		r.mixed = r.mixed || len(r.used) > 0
	}
	return true
}

// literal copies a value that is written out, as by far the most are. It is false where the
// value has to be worked out, or cannot be.
func literal[T any](f *field[T], o *T, expr *syntax.Expr, at source.Range) bool {
	switch {
	case f.num != nil:
		if x, ok := expr.Number(); ok && f.refuse(x) == "" {
			*f.num(o) = Num{Value: x, At: at, Origin: Stated}
			return true
		}
	case f.text != nil:
		if s, ok := expr.Text(f.words); ok && f.refuseText(s) == "" {
			*f.text(o) = Text{Value: s, At: at, Origin: Stated}
			return true
		}
	case f.flag != nil:
		if is, ok := expr.Flag(); ok {
			*f.flag(o) = Flag{Value: is, At: at, Origin: Stated}
			return true
		}
	}
	return false
}

// unknown marks a value as stated and not to be had, which it is until it is worked out.
func (f *field[T]) unknown(o *T, at source.Range) {
	switch {
	case f.num != nil:
		*f.num(o) = Num{At: at, Origin: Faulty}
	case f.text != nil:
		*f.text(o) = Text{At: at, Origin: Faulty}
	case f.flag != nil:
		*f.flag(o) = Flag{At: at, Origin: Faulty}
	case f.texts != nil:
		*f.texts(o) = Texts{At: at, Origin: Faulty}
	case f.pairs != nil:
		*f.pairs(o) = Pairs{At: at, Origin: Faulty}
	case f.nums != nil:
		*f.nums(o) = Nums{At: at, Origin: Faulty}
	}
}

// readValue works out the value of one attribute, now or as soon as what it hangs on is known.
func readValue[T any](r *reader, f *field[T], o *T, name string, expr hclsyntax.Expression, at source.Range) {
	if lit, ok := expr.(*hclsyntax.LiteralValueExpr); ok && f.num != nil && lit.Val.Type() == cty.Number && lit.Val.IsKnown() && !lit.Val.IsNull() {
		x, _ := lit.Val.AsBigFloat().Float64()
		r.fault("value-impossible", at, fmt.Sprintf("%s is %s; %s", name, r.rng(expr.Range()).Text(), f.refuse(x)), "")
		f.unknown(o, at)
		return
	}
	f.unknown(o, at)
	r.value(name, expr, func(v cty.Value) {
		why := ""
		switch {
		case v == cty.NilVal: // told already
			return
		case v.IsNull():
			at = source.Range{}
			f.unknown(o, at)
			switch {
			case f.num != nil:
				f.num(o).Origin = Absent
			case f.text != nil:
				f.text(o).Origin = Absent
			case f.flag != nil:
				f.flag(o).Origin = Absent
			case f.texts != nil:
				f.texts(o).Origin = Absent
			case f.pairs != nil:
				f.pairs(o).Origin = Absent
			case f.nums != nil:
				f.nums(o).Origin = Absent
			}
			return
		case f.num != nil:
			if v.Type() != cty.Number {
				why = "it must be a number" + unquote(v)
				break
			}
			x, _ := v.AsBigFloat().Float64()
			if why = f.refuse(x); why == "" {
				*f.num(o) = Num{Value: x, At: at, Origin: Stated}
			}
		case f.flag != nil:
			if v.Type() != cty.Bool {
				why = "it must be true or false"
				break
			}
			*f.flag(o) = Flag{Value: v.True(), At: at, Origin: Stated}
		case f.text != nil:
			if v.Type() != cty.String {
				why = "it must be a text in quotes"
				break
			}
			s := v.AsString()
			if why = f.refuseText(s); why == "" {
				*f.text(o) = Text{Value: s, At: at, Origin: Stated}
			}
		case f.texts != nil:
			list, ok := texts(v)
			if !ok {
				why = `it must be a list of texts: ["...", "..."]`
				break
			}
			for _, s := range list {
				if w := f.refuseText(s); w != "" {
					why = w
				}
			}
			if why == "" {
				*f.texts(o) = Texts{Values: list, At: at, Origin: Stated}
			}
		}
		if f.nums != nil {
			list, ok := numbers(v)
			if !ok {
				why = "it must be a list of numbers: [42, 43.5]"
			}
			for _, x := range list {
				if w := f.refuse(x); w != "" {
					why = w
				}
			}
			if why == "" {
				*f.nums(o) = Nums{Values: list, At: at, Origin: Stated}
			}
		}
		if f.pairs != nil {
			list, ok := pairs(v)
			if !ok {
				why = "it must be a list of pairs of positive numbers: [[100, 40], [1000, 0.1]]"
			} else {
				*f.pairs(o) = Pairs{Values: list, At: at, Origin: Stated}
			}
		}
		if why != "" {
			why, next, _ := strings.Cut(why, "\n")
			r.fault("value-impossible", at, fmt.Sprintf("%s is %s; %s", name, show(v), why), next)
			switch {
			case f.num != nil || f.flag != nil:
				r.unquoted(expr, v)
			case len(f.words) > 0:
				r.rightWords(expr, f.words)
			}
		}
	})
}

func unquote(v cty.Value) string {
	if v.Type() == cty.String {
		if _, err := strconv.ParseFloat(v.AsString(), 64); err == nil {
			return ", without quotes"
		}
	}
	return ""
}

// show prints a value of an expression shortly, for a message.
func show(v cty.Value) string {
	switch {
	case v.Type() == cty.String:
		s := v.AsString()
		if len(s) > 60 {
			s = s[:57] + "..."
		}
		return strconv.Quote(strings.ToValidUTF8(s, ""))
	case v.Type() == cty.Number:
		x, _ := v.AsBigFloat().Float64()
		return strconv.FormatFloat(x, 'g', 10, 64)
	case v.Type() == cty.Bool:
		return strconv.FormatBool(v.True())
	}
	return "a " + v.Type().FriendlyName()
}

func texts(v cty.Value) ([]string, bool) {
	if !v.CanIterateElements() || v.Type().IsMapType() || v.Type().IsObjectType() {
		return nil, false
	}
	list := []string{}
	for _, e := range v.AsValueSlice() {
		if e.IsNull() || e.Type() != cty.String {
			return nil, false
		}
		list = append(list, e.AsString())
	}
	return list, true
}

// maxPairs bounds the points of one curve.
const maxPairs = 1000

// numbers reads a list of numbers, not empty.
func numbers(v cty.Value) ([]float64, bool) {
	if v.IsNull() || !v.CanIterateElements() || v.Type().IsMapType() || v.Type().IsObjectType() || v.LengthInt() > maxPairs {
		return nil, false
	}
	var list []float64
	for _, e := range v.AsValueSlice() {
		if e.IsNull() || e.Type() != cty.Number {
			return nil, false
		}
		x, _ := e.AsBigFloat().Float64()
		list = append(list, x)
	}
	return list, len(list) > 0
}

// pairs reads a list of pairs of positive numbers.
func pairs(v cty.Value) ([][2]float64, bool) {
	elements := func(v cty.Value) []cty.Value {
		if v.IsNull() || !v.CanIterateElements() || v.Type().IsMapType() || v.Type().IsObjectType() {
			return nil
		}
		return v.AsValueSlice()
	}
	var list [][2]float64
	for _, e := range elements(v) {
		both := elements(e)
		if len(both) != 2 || len(list) == maxPairs {
			return nil, false
		}
		var pair [2]float64
		for i, n := range both {
			if n.IsNull() || n.Type() != cty.Number {
				return nil, false
			}
			pair[i], _ = n.AsBigFloat().Float64()
			if !(pair[i] > 0) || pair[i] > most {
				return nil, false
			}
		}
		list = append(list, pair)
	}
	return list, len(list) > 0
}

// refuse says why a number cannot be, "" when it can.
func (f *field[T]) refuse(x float64) string {
	switch {
	case !quantity.Finite(x):
		return "it must be a finite number"
	case f.above && x <= f.low:
		return fmt.Sprintf("it must be above %g", f.low)
	case x < f.low:
		return fmt.Sprintf("it must be at least %g", f.low)
	case x > f.high:
		return fmt.Sprintf("it must be at most %g", f.high)
	case f.whole && x != float64(int64(x)):
		return "it must be a whole number"
	}
	return ""
}

// refuseText says why a text cannot be, with a next step after a line end.
func (f *field[T]) refuseText(s string) string {
	if f.date {
		if _, err := time.Parse(time.DateOnly, s); err != nil {
			return "it must be a day, YYYY-MM-DD"
		}
	}
	if len(f.words) == 0 {
		return ""
	}
	for _, w := range f.words {
		if s == w {
			return ""
		}
	}
	return "it must be one of " + strings.Join(f.words, ", ") + "\n" + suggest(s, f.words)
}

// linkLater reads a reference into its place, now or when let is known.
func (r *reader) linkLater(expr hclsyntax.Expression, at source.Range, kinds []string, into *Link) {
	*into = Link{At: at, Origin: Faulty}
	if r.readLink(expr, at, kinds, into) {
		return
	}
	r.postpone(func(*environment) { r.readLink(expr, at, kinds, into) })
}

// postpone keeps work until let is known, with the block it belongs to.
func (r *reader) postpone(do func(*environment)) {
	inside, subject := r.inside, r.subject
	r.later = append(r.later, func(env *environment) {
		r.inside, r.subject = inside, subject
		do(env)
	})
}

// readLink reads a reference; false when it hangs on let, which is not known yet.
func (r *reader) readLink(expr hclsyntax.Expression, at source.Range, kinds []string, into *Link) bool {
	refuse := func(what string) bool {
		r.fault("value-impossible", at, what, "write "+kinds[0]+`.NAME, or `+kinds[0]+`["..."] where the name is no plain word`)
		return true
	}
	none := func() bool {
		return refuse(fmt.Sprintf("%s is no reference to a block", shorten(r.rng(expr.Range()).Text())))
	}
	switch e := expr.(type) {
	case *hclsyntax.ScopeTraversalExpr:
		l, ok := link(e.Traversal)
		if !ok {
			return none()
		}
		l.At, l.Origin = at, Stated
		r.accept(l, kinds, into)
		return true
	case *hclsyntax.ParenthesesExpr:
		return r.readLink(e.Expression, at, kinds, into)
	case *hclsyntax.ConditionalExpr:
		if r.env == nil && len(e.Condition.Variables()) > 0 {
			return false
		}
		v, ok := r.evaluate(e.Condition, r.env)
		if !ok {
			return true
		}
		if v.IsNull() || v.Type() != cty.Bool {
			return refuse("the condition is neither true nor false")
		}
		if v.True() {
			return r.readLink(e.TrueResult, at, kinds, into)
		}
		return r.readLink(e.FalseResult, at, kinds, into)
	case *hclsyntax.IndexExpr:
		base, ok := e.Collection.(*hclsyntax.ScopeTraversalExpr)
		if !ok {
			return none()
		}
		if r.env == nil && len(e.Key.Variables()) > 0 {
			return false
		}
		l, ok := link(base.Traversal)
		if !ok {
			if len(base.Traversal) == 1 { // source[let.name]
				l, ok = Link{Kind: base.Traversal.RootName()}, true
			} else {
				return none()
			}
		}
		v, good := r.evaluate(e.Key, r.env)
		if !good {
			return true
		}
		key, good := keyText(v)
		if !good {
			return refuse("the key in brackets is neither a text nor a whole number")
		}
		if l.Name == "" {
			l.Name = key
		} else {
			l.Name += "[" + key + "]"
		}
		l.At, l.Origin = at, Stated
		r.accept(l, kinds, into)
		return true
	}
	return none()
}

// accept takes a link whose kind may stand here.
func (r *reader) accept(l Link, kinds []string, into *Link) {
	for _, k := range kinds {
		if l.Kind == k {
			*into = l
			return
		}
	}
	for _, k := range append(kinds[:len(kinds):len(kinds)], allKinds...) {
		if l.Kind == k {
			r.fault("value-impossible", l.At, fmt.Sprintf("a %s stands where a %s belongs", l.Kind, strings.Join(kinds, " or ")), "write "+kinds[0]+".NAME")
			return
		}
	}
	r.fault("unknown-reference", l.At, fmt.Sprintf("%s names no kind of block", shorten(l.Subject())), suggest(l.Kind, kinds))
	r.mend(l.At, l.Kind, kinds)
}

func shorten(s string) string {
	s = strings.Join(strings.Fields(s), " ")
	if r := []rune(s); len(r) > 60 {
		return string(r[:57]) + "..."
	}
	return s
}

// link reads kind.name, kind["name"] and kind.name[key].
func link(t hcl.Traversal) (Link, bool) {
	if t.RootName() == "site" && len(t) == 1 {
		return Link{Kind: "site"}, true
	}
	if len(t) < 2 || len(t) > 3 {
		return Link{}, false
	}
	l := Link{Kind: t.RootName()}
	switch s := t[1].(type) {
	case hcl.TraverseAttr:
		l.Name = s.Name
	case hcl.TraverseIndex:
		key, ok := keyText(s.Key)
		if !ok {
			return Link{}, false
		}
		l.Name = key
	default:
		return Link{}, false
	}
	if len(t) == 3 {
		s, ok := t[2].(hcl.TraverseIndex)
		if !ok {
			return Link{}, false
		}
		key, ok := keyText(s.Key)
		if !ok {
			return Link{}, false
		}
		l.Name += "[" + key + "]"
	}
	return l, true
}

func keyText(v cty.Value) (string, bool) {
	switch {
	case v == cty.NilVal || v.IsNull() || !v.IsKnown():
		return "", false
	case v.Type() == cty.String:
		return v.AsString(), true
	case v.Type() == cty.Number:
		if i, acc := v.AsBigFloat().Int64(); acc == 0 {
			return strconv.FormatInt(i, 10), true
		}
	}
	return "", false
}

// object fills what every block has; false when the block is not usable.
func (r *reader) object(o *Object, b *syntax.Block, needsName bool) {
	o.Kind = b.Type
	o.At = r.header(b)
	o.Whole = r.whole(b)
	r.subject = b.Type
	switch {
	case len(b.Labels) == 0 && needsName:
		r.fault("value-missing", o.At, fmt.Sprintf("this %s has no name", b.Type), fmt.Sprintf(`write %s "NAME" {`, b.Type))
	case len(b.Labels) > 0:
		o.Name = b.Labels[0].Name
		if why := refuseName(o.Name); why != "" {
			r.fault("value-impossible", r.label(b, 0), fmt.Sprintf("the name of this %s %s", b.Type, why), "")
		}
		if len(b.Labels) > 1 {
			r.fault("unknown-word", r.label(b, 1), fmt.Sprintf("a %s has one name, here is one more", b.Type), "remove it")
		}
	}
	if r.copy != nil {
		key, _ := keyText(r.copy["key"])
		o.CopyOf = o.Name
		o.Name += "[" + key + "]"
	}
	r.subject = o.Subject()
}

func refuseName(s string) string {
	switch {
	case strings.TrimSpace(s) == "":
		return "is empty"
	case len(s) > 200:
		return "is longer than 200 bytes"
	case strings.ContainsFunc(s, unicode.IsControl):
		return "holds a control character"
	case strings.ContainsAny(s, "[]"):
		return "holds a bracket, which stands for copies"
	}
	return ""
}

// block reads one top-level block into a typed object; nil where its kind is not known.
func (r *reader) block(b *syntax.Block) any {
	switch b.Type {
	case "site":
		o := &Site{}
		r.object(&o.Object, b, true)
		decodeBody(r, siteSchema, o, b)
		return o
	case "supply":
		o := &Supply{}
		r.object(&o.Object, b, true)
		decodeBody(r, supplySchema, o, b)
		return o
	case "source":
		o := sourceRows.one()
		r.object(&o.Object, b, true)
		decodeBody(r, sourceSchema, o, b)
		return o
	case "load":
		o := &Load{}
		r.object(&o.Object, b, true)
		decodeBody(r, loadSchema, o, b)
		return o
	case "board":
		o := &Board{}
		r.object(&o.Object, b, true)
		decodeBody(r, boardSchema, o, b)
		return o
	case "route":
		o := routeRows.one()
		r.object(&o.Object, b, true)
		decodeBody(r, routeSchema, o, b)
		return o
	case "cable":
		o := &Cable{}
		r.object(&o.Object, b, true)
		decodeBody(r, cableSchema, o, b)
		return o
	case "run":
		o := runRows.one()
		r.object(&o.Object, b, true)
		decodeBody(r, runSchema, o, b)
		return o
	case "waiver":
		o := &Waiver{}
		r.object(&o.Object, b, true)
		decodeBody(r, waiverSchema, o, b)
		return o
	case "approved":
		o := &Approved{}
		r.object(&o.Object, b, true)
		decodeBody(r, approvedSchema, o, b)
		return o
	case "price":
		o := &Price{}
		r.object(&o.Object, b, true)
		decodeBody(r, priceSchema, o, b)
		return o
	case "house_rule":
		o := &HouseRule{}
		r.object(&o.Object, b, true)
		decodeBody(r, houseSchema, o, b)
		return o
	}
	r.subject = ""
	kinds := r.near(func() []string { return allKinds })
	r.fault("unknown-word", r.first(b), fmt.Sprintf("%q is no kind of block", b.Type), suggest(b.Type, kinds))
	r.mend(r.first(b), b.Type, kinds)
	return nil
}
