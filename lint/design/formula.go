package design

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"github.com/hashicorp/hcl/v2"
	"github.com/hashicorp/hcl/v2/hclsyntax"
	"github.com/zclconf/go-cty/cty"
	"github.com/zclconf/go-cty/cty/function"
	"github.com/zclconf/go-cty/cty/function/stdlib"

	"trefoil/lint/source"
	"trefoil/lint/syntax"
)

// Formula is an expression that stays one: it is worked out for many blocks, after
// the design is assessed.
type Formula struct {
	At     source.Range // the whole attribute
	Origin Origin

	file    *source.File
	subject string
	expr    hclsyntax.Expression
	ctx     *hcl.EvalContext
}

// formula keeps an expression. The constants that it names must exist.
func (r *reader) formula(f *Formula, expr hclsyntax.Expression, at source.Range) {
	strict(expr)
	*f = Formula{At: at, Origin: Stated, file: r.file, subject: r.subject, expr: expr}
	r.postpone(func(env *environment) {
		f.ctx = env.ctx
		for _, t := range expr.Variables() {
			if t.RootName() == "let" && !r.constant(t, env) {
				f.Origin = Faulty
			}
		}
	})
}

// strict gives divisions that fail where the divisor is 0, in place of those of the
// language, which go on with infinity, and rounds the figures that stand in a text.
func strict(expr hclsyntax.Expression) {
	hclsyntax.Walk(expr, &walker{
		enter: func(n hclsyntax.Node) {
			switch e := n.(type) {
			case *hclsyntax.BinaryOpExpr:
				switch e.Op {
				case hclsyntax.OpDivide:
					e.Op = divide
				case hclsyntax.OpModulo:
					e.Op = modulo
				}
			case *hclsyntax.TemplateExpr:
				for i := range e.Parts {
					e.Parts[i] = rounded(e.Parts[i])
				}
			case *hclsyntax.TemplateWrapExpr:
				e.Wrapped = rounded(e.Wrapped)
			}
		},
		exit: func(hclsyntax.Node) {},
	})
}

var (
	divide = &hclsyntax.Operation{Impl: divisor(stdlib.DivideFunc, "a division by 0 has no value"), Type: cty.Number}
	modulo = &hclsyntax.Operation{Impl: divisor(stdlib.ModuloFunc, "the rest of a division by 0 has no value"), Type: cty.Number}
)

func divisor(f function.Function, why string) function.Function {
	return wrapped(f, func(args []cty.Value) error {
		if by := args[1]; by.IsKnown() && !by.IsNull() && by.Type() == cty.Number && by.AsBigFloat().Sign() == 0 {
			return errors.New(why)
		}
		return nil
	})
}

// short is the name of a function that rounds a number to six digits; it cannot be written.
const short = "figure in a text"

func rounded(part hclsyntax.Expression) hclsyntax.Expression {
	switch part.(type) {
	case *hclsyntax.LiteralValueExpr:
		return part
	}
	at := part.Range()
	return &hclsyntax.FunctionCallExpr{Name: short, Args: []hclsyntax.Expression{part}, NameRange: at, OpenParenRange: at, CloseParenRange: at}
}

var shortFunc = function.New(&function.Spec{
	Params: []function.Parameter{{Name: "value", Type: cty.DynamicPseudoType, AllowUnknown: true, AllowDynamicType: true, AllowNull: true}},
	Type:   func(args []cty.Value) (cty.Type, error) { return args[0].Type(), nil },
	Impl: func(args []cty.Value, t cty.Type) (cty.Value, error) {
		v := args[0]
		if t != cty.Number || !v.IsKnown() || v.IsNull() {
			return v, nil
		}
		x, _ := v.AsBigFloat().Float64()
		return cty.ParseNumberVal(strconv.FormatFloat(x, 'g', 6, 64))
	},
})

// Known says that the formula can be used.
func (f *Formula) Known() bool { return f.Origin == Stated }

// Text is the expression as written, in one line.
func (f *Formula) Text() string {
	if f.expr == nil {
		return ""
	}
	return strings.Join(strings.Fields(syntax.Range(f.file, f.expr.Range()).Text()), " ")
}

// Steps is about how many it takes to work the formula out for one block.
func (f *Formula) Steps() int {
	if f.expr == nil {
		return 0
	}
	return steps(f.expr, f.Text(), f.child(nil, false))
}

// Names lists the attributes of a root that the expression names, in order of
// mention, each once; all says that it names the root as a whole.
func (f *Formula) Names(root string) (attrs []string, all bool) {
	if f.expr == nil {
		return nil, false
	}
	for _, t := range f.expr.Variables() {
		if t.RootName() != root {
			continue
		}
		if len(t) > 1 {
			if step, is := t[1].(hcl.TraverseAttr); is {
				if !slices.Contains(attrs, step.Name) {
					attrs = append(attrs, step.Name)
				}
				continue
			}
		}
		all = true
	}
	return attrs, all
}

// functions of formulas, besides those of every expression. What a range or a product
// of sets makes has no place in an expression that is worked out for every block.
var (
	unbounded = []string{"range", "setproduct"}
	statedFor = map[bool]map[string]function.Function{false: {"stated": stated(false), short: shortFunc}, true: {"stated": stated(true), short: shortFunc}}
)

// stated says that a value is written in the design, or could be worked out. While
// types are checked nobody knows.
func stated(checking bool) function.Function {
	return function.New(&function.Spec{
		Params: []function.Parameter{{Name: "value", Type: cty.DynamicPseudoType, AllowUnknown: true, AllowDynamicType: true, AllowNull: true, AllowMarked: true}},
		Type:   function.StaticReturnType(cty.Bool),
		Impl: func(args []cty.Value, _ cty.Type) (cty.Value, error) {
			if checking {
				return cty.UnknownVal(cty.Bool), nil
			}
			return cty.BoolVal(args[0].IsKnown() && !args[0].IsNull()), nil
		},
	})
}

func (f *Formula) child(variables map[string]cty.Value, checking bool) *hcl.EvalContext {
	base := f.ctx
	if base == nil {
		base = bare.ctx
	}
	ctx := base.NewChild()
	ctx.Variables, ctx.Functions = variables, statedFor[checking]
	return ctx
}

// value is expr.Value, with a fault of the evaluation itself as a diagnostic.
func value(expr hclsyntax.Expression, ctx *hcl.EvalContext) (v cty.Value, diags hcl.Diagnostics) {
	defer func() {
		if recover() != nil {
			at := expr.Range()
			v, diags = cty.DynamicVal, hcl.Diagnostics{{Severity: hcl.DiagError, Summary: "No value", Detail: "The expression has no value for this block.", Subject: &at}}
		}
	}()
	return expr.Value(ctx)
}

// Work gives the value of the formula for one block, the only variable. The value may
// be unknown, wholly or in part, where it hangs on what is unknown of the block.
func (f *Formula) Work(root string, block cty.Value) (cty.Value, []Fault) {
	r := &reader{file: f.file, subject: f.subject}
	ctx := f.child(map[string]cty.Value{root: block}, false)
	v, diags := value(f.expr, ctx)
	r.tellDiagnostics(diags)
	if diags.HasErrors() || v == cty.NilVal {
		return cty.DynamicVal, r.faults
	}
	v, _ = v.UnmarkDeep()
	if !r.small(f.expr, v) {
		return cty.DynamicVal, r.faults
	}
	return v, nil
}

// Check looks whether the formula fits blocks of a type before it is worked out for any:
// names that the block does not have, operations on the wrong types, and what would take
// it out of bounds. It gives the type of the formula's value.
func (f *Formula) Check(root string, block cty.Type) (cty.Type, []Fault) {
	r := &reader{file: f.file, subject: f.subject}
	ctx := f.child(map[string]cty.Value{root: cty.UnknownVal(block)}, true)
	if !r.modest(f.expr, ctx) {
		return cty.DynamicPseudoType, r.faults
	}
	for _, t := range f.expr.Variables() {
		at := r.rng(t.SourceRange())
		switch word := t.RootName(); {
		case word == root || word == "let":
		case isKind(word):
			r.fault("unknown-reference", at, fmt.Sprintf("%s is not known here: the rule looks at one %s at a time", shorten(at.Text()), root), fmt.Sprintf("name attributes of %s, or use let for a value that several blocks share", root))
		default:
			r.fault("unknown-reference", at, fmt.Sprintf("%q is not known", word), suggest(word, []string{root, "let"}))
			r.mend(at, word, []string{root, "let"})
		}
	}
	w := &typist{r: r, ctx: ctx, root: root, block: block, items: map[*hclsyntax.AnonSymbolExpr]cty.Type{}, locals: map[string]cty.Type{}}
	hclsyntax.Walk(f.expr, &walker{enter: w.enter, exit: w.exit})
	if len(r.faults) > 0 {
		return cty.DynamicPseudoType, r.faults
	}
	v, diags := value(f.expr, ctx)
	if !diags.HasErrors() && len(w.fors) > 0 { // what stands inside of a for is not looked at while its list is unknown
		_, inner := value(f.expr, f.child(map[string]cty.Value{root: sample(block)}, true))
		for _, d := range inner {
			if d.Subject == nil || !slices.ContainsFunc(w.fors, func(at hcl.Range) bool { return at.ContainsPos(d.Subject.Start) }) || d.Summary == "Invalid index" {
				continue
			}
			diags = append(diags, d)
			break
		}
	}
	r.tellDiagnostics(diags)
	if diags.HasErrors() || v == cty.NilVal {
		return cty.DynamicPseudoType, r.faults
	}
	return v.Type(), r.faults
}

// sample is a block of a type with one element in each list, and nothing else known.
func sample(t cty.Type) cty.Value {
	switch {
	case t.IsObjectType():
		attrs := map[string]cty.Value{}
		for n, a := range t.AttributeTypes() {
			attrs[n] = sample(a)
		}
		return cty.ObjectVal(attrs)
	case t.IsListType():
		return cty.ListVal([]cty.Value{sample(t.ElementType())})
	}
	return cty.UnknownVal(t)
}

// typist follows the types of a block through an expression.
type typist struct {
	r      *reader
	ctx    *hcl.EvalContext
	root   string
	block  cty.Type
	items  map[*hclsyntax.AnonSymbolExpr]cty.Type // of [*]
	locals map[string]cty.Type                    // of for
	fors   []hcl.Range
}

func (w *typist) enter(n hclsyntax.Node) {
	switch e := n.(type) {
	case *hclsyntax.ScopeTraversalExpr:
		switch word := e.Traversal.RootName(); {
		case w.locals[word] != cty.NilType:
			w.follow(w.locals[word], e.Traversal[1:], word)
		case word == w.root:
			w.follow(w.block, e.Traversal[1:], word)
		}
	case *hclsyntax.RelativeTraversalExpr:
		if item, is := e.Source.(*hclsyntax.AnonSymbolExpr); is && w.items[item] != cty.NilType {
			w.follow(w.items[item], e.Traversal, "[*]")
		}
	case *hclsyntax.SplatExpr:
		w.items[e.Item] = w.element(e.Source)
	case *hclsyntax.ForExpr:
		w.fors = append(w.fors, e.Range())
		w.locals[e.ValVar] = w.element(e.CollExpr)
		if e.KeyVar != "" {
			w.locals[e.KeyVar] = cty.Number
		}
	case *hclsyntax.FunctionCallExpr:
		if slices.Contains(unbounded, e.Name) {
			w.r.fault("value-impossible", w.r.rng(e.NameRange), fmt.Sprintf("%s cannot stand in a house rule", e.Name), "work it out in a constant of let")
		}
	case *hclsyntax.BinaryOpExpr:
		if e.Op != hclsyntax.OpEqual && e.Op != hclsyntax.OpNotEqual {
			break
		}
		for _, side := range []hclsyntax.Expression{e.LHS, e.RHS} {
			if lit, is := side.(*hclsyntax.LiteralValueExpr); is && lit.Val.IsNull() {
				w.r.fault("value-impossible", w.r.rng(e.Range()), "a value of a block is never null here", "write stated(...), which is true where the block states it or it could be worked out")
			}
		}
	}
}

func (w *typist) exit(n hclsyntax.Node) {
	switch e := n.(type) {
	case *hclsyntax.ForExpr:
		delete(w.locals, e.ValVar)
		delete(w.locals, e.KeyVar)
	case *hclsyntax.BinaryOpExpr:
		w.operands(e)
	}
}

// typeWord is how a message calls a plain type, "" for others.
func typeWord(t cty.Type) string {
	switch t {
	case cty.Number:
		return "a number"
	case cty.String:
		return "a text"
	case cty.Bool:
		return "true or false"
	}
	return ""
}

// operands tells an operation on the wrong types. The language itself would turn one into
// the other as long as nothing is known of them.
func (w *typist) operands(e *hclsyntax.BinaryOpExpr) {
	if len(w.r.faults) > 0 {
		return
	}
	left, right := w.typeOf(e.LHS), w.typeOf(e.RHS)
	wants := cty.Number
	switch e.Op {
	case hclsyntax.OpEqual, hclsyntax.OpNotEqual:
		if typeWord(left) != "" && typeWord(right) != "" && left != right {
			w.r.fault("value-impossible", w.r.rng(e.Range()), fmt.Sprintf("%s is %s and %s is %s, so they are never the same", w.text(e.LHS), typeWord(left), w.text(e.RHS), typeWord(right)), "compare values of one type")
		}
		if l, r := left != cty.NilType && left.IsListType(), right != cty.NilType && right.IsListType(); l && right != cty.NilType && right.IsTupleType() || r && left != cty.NilType && left.IsTupleType() {
			w.r.fault("value-impossible", w.r.rng(e.Range()), "a list of the block and one written here are never the same", `compare their length, or use contains(...) or join(", ", ...)`)
		}
		return
	case hclsyntax.OpLogicalAnd, hclsyntax.OpLogicalOr:
		wants = cty.Bool
	}
	for _, side := range []hclsyntax.Expression{e.LHS, e.RHS} {
		if t := w.typeOf(side); t != cty.NilType && t != cty.DynamicPseudoType && t != wants {
			is := typeWord(t)
			if is == "" {
				is = "a " + t.FriendlyName()
			}
			w.r.fault("value-impossible", w.r.rng(side.Range()), fmt.Sprintf("%s is %s, and %s stands here", w.text(side), is, typeWord(wants)), "")
			return
		}
	}
}

func (w *typist) text(expr hclsyntax.Expression) string { return shorten(w.r.rng(expr.Range()).Text()) }

// typeOf is the type of an expression, NilType where it cannot be had.
func (w *typist) typeOf(expr hclsyntax.Expression) cty.Type {
	switch e := expr.(type) { // without working out what is below, which a long sum would pay for at each sign
	case *hclsyntax.BinaryOpExpr:
		return e.Op.Type
	case *hclsyntax.UnaryOpExpr:
		return e.Op.Type
	case *hclsyntax.ParenthesesExpr:
		return w.typeOf(e.Expression)
	}
	v, diags := value(expr, w.scope())
	if diags.HasErrors() || v == cty.NilVal || v.IsNull() {
		return cty.NilType
	}
	return v.Type()
}

// scope is the context with the variables of the for around.
func (w *typist) scope() *hcl.EvalContext {
	if len(w.locals) == 0 {
		return w.ctx
	}
	ctx := w.ctx.NewChild()
	ctx.Variables = map[string]cty.Value{}
	for n, t := range w.locals {
		if t == cty.NilType {
			t = cty.DynamicPseudoType
		}
		ctx.Variables[n] = cty.UnknownVal(t)
	}
	return ctx
}

// element is the type of the elements of an expression, NilType where it is not known.
func (w *typist) element(expr hclsyntax.Expression) cty.Type {
	v, diags := value(expr, w.ctx)
	if diags.HasErrors() || v == cty.NilVal || !v.Type().IsListType() {
		return cty.NilType
	}
	return v.Type().ElementType()
}

// follow tells the first step of a traversal that the type does not have.
func (w *typist) follow(t cty.Type, steps hcl.Traversal, before string) {
	for _, s := range steps {
		switch step := s.(type) {
		case hcl.TraverseAttr:
			if !t.IsObjectType() {
				return // the evaluation tells it
			}
			if !t.HasAttribute(step.Name) {
				known := keysOf(t.AttributeTypes())
				fixes := RightWord(w.r.rng(step.SrcRange), step.Name, Sure(step.Name, known))
				next := suggest(step.Name, known)
				if next == "" && step.Name != "" {
					known = slices.DeleteFunc(known, func(n string) bool { return n[0] != step.Name[0] })
					if next = suggest("", known); next == "" && len(known) > 0 {
						next = "known are " + strings.Join(known[:14], ", ") + " and others"
					}
				}
				w.r.fault("unknown-reference", w.r.rng(step.SrcRange), fmt.Sprintf("%s has no %q", before, step.Name), next)
				w.r.offer(fixes)
				return
			}
			t, before = t.AttributeType(step.Name), step.Name
		case hcl.TraverseIndex:
			if !t.IsListType() {
				return
			}
			t = t.ElementType()
		default:
			return
		}
	}
}

// tellDiagnostics turns what an evaluation complains of into faults.
func (r *reader) tellDiagnostics(diags hcl.Diagnostics) {
	for _, d := range diags {
		f := syntax.Diagnostic(r.file, d)
		f.Rule, f.Subject = "value-impossible", r.subject
		if _, why, is := strings.Cut(f.Message, " failed: "); is {
			f.Message = strings.TrimPrefix(why, "error during operation: ")
		}
		if strings.Contains(f.Message, "panic in function") {
			f.Message, f.Next = "the function has no value for these arguments", ""
		}
		if strings.HasPrefix(d.Summary, "Call to unknown function") {
			f.Rule = "unknown-word"
			if call, ok := d.Expression.(*hclsyntax.FunctionCallExpr); ok {
				f.At = r.rng(call.NameRange)
				f.Message = fmt.Sprintf("no function is named %q", call.Name)
				names := append(keysOf(functions), "stated")
				f.Next, f.Fixes = suggest(call.Name, names), RightWord(f.At, call.Name, Sure(call.Name, names))
			}
		}
		r.faults = append(r.faults, f)
	}
}

// structs gives for each kind of block, inner ones included, its attributes.
var structs = map[string]func() map[string]cty.Type{
	"site": typesOf(siteSchema), "supply": typesOf(supplySchema), "source": typesOf(sourceSchema), "board": typesOf(boardSchema), "load": typesOf(loadSchema),
	"route": typesOf(routeSchema), "cable": typesOf(cableSchema), "run": typesOf(runSchema), "limit": typesOf(limitSchema), "transformer": typesOf(transformerSchema),
	"terminals": typesOf(terminalSchema), "data": typesOf(dataSchema), "device": typesOf(deviceSchema), "section": typesOf(sectionSchema), "ends": typesOf(endSchema),
	"built": typesOf(builtSchema), "switch": typesOf(switchSchema), "portion": typesOf(portionSchema), "threshold": typesOf(thresholdSchema),
}

// Block is the type of a reference: the kind and the name of what it names.
var Block = cty.Object(map[string]cty.Type{"kind": cty.String, "name": cty.String})

// Types gives the attributes of a kind of block, with the types that expressions see.
func Types(kind string) map[string]cty.Type {
	if types := structs[kind]; types != nil {
		return types()
	}
	return nil
}

func typesOf[T any](s *schema[T]) func() map[string]cty.Type {
	return func() map[string]cty.Type {
		types := map[string]cty.Type{}
		for n, f := range s.fields {
			switch {
			case f.num != nil:
				types[n] = cty.Number
			case f.text != nil:
				types[n] = cty.String
			case f.flag != nil:
				types[n] = cty.Bool
			case f.texts != nil:
				types[n] = cty.List(cty.String)
			case f.nums != nil:
				types[n] = cty.List(cty.Number)
			case f.pairs != nil:
				types[n] = cty.List(cty.List(cty.Number))
			case f.link != nil:
				types[n] = Block
			case f.links != nil:
				types[n] = cty.List(Block)
			}
		}
		return types
	}
}

// Value gives an attribute of a block as expressions see it, and where it is written.
// What is not stated, and has no default, is unknown.
func Value(o any, attr string) (v cty.Value, at source.Range, exists bool) {
	switch o := o.(type) {
	case *Site:
		return valueOf(siteSchema, o, attr)
	case *Supply:
		return valueOf(supplySchema, o, attr)
	case *Source:
		return valueOf(sourceSchema, o, attr)
	case *Board:
		return valueOf(boardSchema, o, attr)
	case *Load:
		return valueOf(loadSchema, o, attr)
	case *Route:
		return valueOf(routeSchema, o, attr)
	case *Cable:
		return valueOf(cableSchema, o, attr)
	case *Run:
		return valueOf(runSchema, o, attr)
	case *Limit:
		return valueOf(limitSchema, o, attr)
	case *Transformer:
		return valueOf(transformerSchema, o, attr)
	case *Terminals:
		return valueOf(terminalSchema, o, attr)
	case *CableData:
		return valueOf(dataSchema, o, attr)
	case *Device:
		return valueOf(deviceSchema, o, attr)
	case *Section:
		return valueOf(sectionSchema, o, attr)
	case *End:
		return valueOf(endSchema, o, attr)
	case *Built:
		return valueOf(builtSchema, o, attr)
	case *Switch:
		return valueOf(switchSchema, o, attr)
	case *Portion:
		return valueOf(portionSchema, o, attr)
	case *Threshold:
		return valueOf(thresholdSchema, o, attr)
	}
	return cty.NilVal, source.Range{}, false
}

func valueOf[T any](s *schema[T], o *T, attr string) (v cty.Value, at source.Range, exists bool) {
	f := s.fields[attr]
	if f == nil {
		return cty.NilVal, source.Range{}, false
	}
	known := false
	written := func(origin Origin, place source.Range) {
		if known = origin == Stated || origin == Defaulted; origin == Stated {
			at = place
		}
	}
	switch {
	case f.num != nil:
		n := f.num(o)
		written(n.Origin, n.At)
		v = Number(n.Value)
	case f.text != nil:
		t := f.text(o)
		written(t.Origin, t.At)
		v = cty.StringVal(t.Value)
	case f.flag != nil:
		b := f.flag(o)
		written(b.Origin, b.At)
		v = cty.BoolVal(b.Value)
	case f.texts != nil:
		t := f.texts(o)
		written(t.Origin, t.At)
		v = List(cty.String, t.Values, func(s string) cty.Value { return cty.StringVal(s) })
	case f.nums != nil:
		n := f.nums(o)
		written(n.Origin, n.At)
		v = List(cty.Number, n.Values, Number)
	case f.pairs != nil:
		p := f.pairs(o)
		written(p.Origin, p.At)
		v = List(cty.List(cty.Number), p.Values, func(x [2]float64) cty.Value {
			return cty.ListVal([]cty.Value{Number(x[0]), Number(x[1])})
		})
	case f.link != nil:
		l := f.link(o)
		written(l.Origin, l.At)
		v = linked(*l)
	case f.links != nil:
		list := *f.links(o)
		known = true
		for _, l := range list {
			written(l.Origin, l.At)
			if !known {
				break
			}
		}
		v = List(Block, list, linked)
	default:
		return cty.NilVal, source.Range{}, false
	}
	if !known {
		v = cty.UnknownVal(v.Type())
	}
	return v, at, true
}

func linked(l Link) cty.Value {
	return cty.ObjectVal(map[string]cty.Value{"kind": cty.StringVal(l.Kind), "name": cty.StringVal(l.Name)})
}

// List builds a list of one type, empty ones included.
func List[T any](of cty.Type, list []T, turn func(T) cty.Value) cty.Value {
	if len(list) == 0 {
		return cty.ListValEmpty(of)
	}
	values := make([]cty.Value, len(list))
	for i, x := range list {
		values[i] = turn(x)
	}
	return cty.ListVal(values)
}

// Number is a figure as expressions see it: decimal, to ten digits, so that neither a
// comparison nor a text shows the last binary digit.
func Number(x float64) cty.Value {
	v, err := cty.ParseNumberVal(fmt.Sprintf("%.10g", x))
	if err != nil {
		return cty.UnknownVal(cty.Number)
	}
	return v
}

// Unknown lists what the formula names of a block and is not known of it, as written.
func (f *Formula) Unknown(root string, block cty.Value) []string {
	ctx := f.child(map[string]cty.Value{root: block}, false)
	var list []string
	inside := 0 // of [*] and for, which are looked at whole
	look := func(expr hclsyntax.Expression) {
		v, diags := value(expr, ctx)
		if diags.HasErrors() || v == cty.NilVal || v.IsWhollyKnown() {
			return
		}
		if text := shorten(syntax.Range(f.file, expr.Range()).Text()); !slices.Contains(list, text) {
			list = append(list, text)
		}
	}
	hclsyntax.Walk(f.expr, &walker{
		enter: func(n hclsyntax.Node) {
			switch e := n.(type) {
			case *hclsyntax.SplatExpr:
				if inside++; inside == 1 {
					look(e)
				}
			case *hclsyntax.ForExpr:
				if inside++; inside == 1 {
					look(e)
				}
			case *hclsyntax.ScopeTraversalExpr:
				if inside == 0 && e.Traversal.RootName() == root {
					look(e)
				}
			}
		},
		exit: func(n hclsyntax.Node) {
			switch n.(type) {
			case *hclsyntax.SplatExpr, *hclsyntax.ForExpr:
				inside--
			}
		},
	})
	return list
}
