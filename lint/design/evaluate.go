package design

import (
	"bytes"
	"cmp"
	"fmt"
	"math/big"
	"slices"
	"sort"
	"strings"
	"sync/atomic"

	"github.com/agext/levenshtein"
	"github.com/hashicorp/hcl/v2"
	"github.com/hashicorp/hcl/v2/hclsyntax"
	"github.com/zclconf/go-cty/cty"
	"github.com/zclconf/go-cty/cty/function"
	"github.com/zclconf/go-cty/cty/function/stdlib"

	"trefoil/lint/source"
	"trefoil/lint/syntax"
)

// environment is what expressions see: the constants of let and the functions.
// It is made once for the whole design.
type environment struct {
	ctx   *hcl.EvalContext
	lets  map[string]bool // the names that let gives
	spent *atomic.Int64   // steps that the expressions of the design took so far

	figures map[string]syntax.Decimal // of the constants that are numbers of few digits
}

// functions are the pure numeric, text and collection functions of the cty
// standard library. Those whose result may be far larger than their arguments
// are held to maxResult.
var functions = bounded(map[string]function.Function{
	"abs": stdlib.AbsoluteFunc, "ceil": stdlib.CeilFunc, "floor": stdlib.FloorFunc, "int": stdlib.IntFunc,
	"log": stdlib.LogFunc, "max": stdlib.MaxFunc, "min": stdlib.MinFunc, "pow": stdlib.PowFunc,
	"signum": stdlib.SignumFunc, "parseint": stdlib.ParseIntFunc,
	"upper": stdlib.UpperFunc, "lower": stdlib.LowerFunc, "title": stdlib.TitleFunc, "trim": stdlib.TrimFunc,
	"trimspace": stdlib.TrimSpaceFunc, "trimprefix": stdlib.TrimPrefixFunc, "trimsuffix": stdlib.TrimSuffixFunc,
	"chomp": stdlib.ChompFunc, "join": stdlib.JoinFunc, "split": stdlib.SplitFunc, "replace": stdlib.ReplaceFunc,
	"strlen": stdlib.StrlenFunc, "substr": stdlib.SubstrFunc, "strrev": stdlib.ReverseFunc, "format": stdlib.FormatFunc,
	"formatlist": stdlib.FormatListFunc, "regex": stdlib.RegexFunc, "regexall": stdlib.RegexAllFunc,
	"coalesce": stdlib.CoalesceFunc, "coalescelist": stdlib.CoalesceListFunc, "compact": stdlib.CompactFunc,
	"concat": stdlib.ConcatFunc, "contains": stdlib.ContainsFunc, "distinct": stdlib.DistinctFunc,
	"element": stdlib.ElementFunc, "flatten": stdlib.FlattenFunc, "index": stdlib.IndexFunc, "keys": stdlib.KeysFunc,
	"length": stdlib.LengthFunc, "lookup": stdlib.LookupFunc, "merge": stdlib.MergeFunc, "range": stdlib.RangeFunc,
	"reverse": stdlib.ReverseListFunc, "slice": stdlib.SliceFunc, "sort": stdlib.SortFunc, "values": stdlib.ValuesFunc,
	"zipmap": stdlib.ZipmapFunc, "setunion": stdlib.SetUnionFunc, "setintersection": stdlib.SetIntersectionFunc,
	"setsubtract": stdlib.SetSubtractFunc, "setproduct": stdlib.SetProductFunc, "indent": stdlib.IndentFunc, "chunklist": stdlib.ChunklistFunc,
})

// maxResult bounds a number that a function is asked to count or format to.
const maxResult = 10000

func bounded(fs map[string]function.Function) map[string]function.Function {
	within := func(arg cty.Value, what string) error {
		if arg.IsKnown() && !arg.IsNull() && arg.Type() == cty.Number && arg.AsBigFloat().Cmp(big.NewFloat(maxResult)) > 0 {
			return fmt.Errorf("%s may be at most %d", what, maxResult)
		}
		return nil
	}
	fs["range"] = wrapped(fs["range"], func(args []cty.Value) error {
		if len(args) == 3 {
			return fmt.Errorf("range takes a start and an end here, without a step")
		}
		for _, a := range args {
			if err := within(a, "a range's end"); err != nil {
				return err
			}
			if a.IsKnown() && !a.IsNull() && a.Type() == cty.Number && a.AsBigFloat().Cmp(big.NewFloat(-maxResult)) < 0 {
				return fmt.Errorf("a range's start may be at least -%d", maxResult)
			}
		}
		return nil
	})
	fs["pow"] = wrapped(fs["pow"], func(args []cty.Value) error { return within(args[len(args)-1], "an exponent") })
	formats := func(args []cty.Value) error {
		if len(args) == 0 || !args[0].IsKnown() || args[0].IsNull() || args[0].Type() != cty.String {
			return nil
		}
		digits := 0
		for _, c := range args[0].AsString() {
			if c >= '0' && c <= '9' {
				digits++
			} else {
				digits = 0
			}
			if digits > 3 {
				return fmt.Errorf("a width in a format may have at most three digits")
			}
		}
		return nil
	}
	// What these three put in again and again would double with each call inside of another.
	text := func(v cty.Value) (string, bool) {
		if v == cty.NilVal || !v.IsKnown() || v.IsNull() || v.Type() != cty.String {
			return "", false
		}
		return v.AsString(), true
	}
	grows := func(size int) error {
		if size > maxText {
			return fmt.Errorf("the text would have %d bytes; at most %d are allowed", size, maxText)
		}
		return nil
	}
	fs["replace"] = wrapped(fs["replace"], func(args []cty.Value) error {
		if len(args) == 3 {
			s, a := text(args[0])
			from, b := text(args[1])
			to, c := text(args[2])
			if a && b && c {
				return grows(len(s) + strings.Count(s, from)*len(to))
			}
		}
		return nil
	})
	fs["join"] = wrapped(fs["join"], func(args []cty.Value) error {
		size := 0
		for _, list := range args[min(1, len(args)):] {
			elements, bytes := extent(list)
			sep, _ := text(args[0])
			size += bytes + elements*len(sep)
		}
		return grows(size)
	})
	fs["indent"] = wrapped(fs["indent"], func(args []cty.Value) error {
		if err := within(args[0], "the spaces to indent by"); err != nil || len(args) < 2 || !args[0].IsKnown() || args[0].IsNull() || args[0].Type() != cty.Number {
			return err
		}
		n, _ := args[0].AsBigFloat().Int64()
		s, _ := text(args[1])
		return grows(len(s) + strings.Count(s, "\n")*int(max(n, 0)))
	})
	fs["setproduct"] = wrapped(fs["setproduct"], func(args []cty.Value) error {
		made := 1
		for _, list := range args {
			if list.IsKnown() && !list.IsNull() && list.CanIterateElements() {
				if made *= max(list.LengthInt(), 1); made > maxElements {
					return fmt.Errorf("a product of sets may have at most %d elements", maxElements)
				}
			}
		}
		return nil
	})
	fs["format"] = wrapped(fs["format"], formats)
	fs["formatlist"] = wrapped(fs["formatlist"], formats)
	return fs
}

// wrapped is f with a look at its arguments first.
func wrapped(f function.Function, look func([]cty.Value) error) function.Function {
	return function.New(&function.Spec{
		Params:   f.Params(),
		VarParam: f.VarParam(),
		Type: func(args []cty.Value) (cty.Type, error) {
			if err := look(args); err != nil {
				return cty.NilType, err
			}
			return f.ReturnTypeForValues(args)
		},
		Impl: func(args []cty.Value, _ cty.Type) (cty.Value, error) { return f.Call(args) },
	})
}

var bare = &environment{ctx: &hcl.EvalContext{Functions: functions}}

// value hands the value of an expression to apply: at once where it hangs on
// nothing, when let is known, or when the block is known on which it hangs.
// cty.NilVal stands for a value that cannot be had and is told.
func (r *reader) value(attr string, expr hclsyntax.Expression, apply func(cty.Value)) {
	if v, ok := syntax.Written(expr); ok {
		apply(v)
		return
	}
	vars := expr.Variables()
	if len(vars) == 0 {
		v, _ := r.finish(expr, bare.ctx)
		apply(v)
		return
	}
	now := func(env *environment) {
		if !slices.ContainsFunc(vars, func(t hcl.Traversal) bool { return isKind(t.RootName()) }) {
			v, _ := r.evaluateWith(expr, vars, env)
			apply(v)
			return
		}
		for _, t := range vars {
			if t.RootName() == "let" && !r.constant(t, env) {
				apply(cty.NilVal)
				return
			}
		}
		name := ""
		if r.inside == 0 {
			name = attr
		}
		r.last = append(r.last, &dependent{reader: r, subject: r.subject, attr: name, expr: expr, apply: apply})
	}
	if r.env != nil {
		now(r.env)
		return
	}
	r.postpone(now)
}

func isKind(word string) bool {
	for _, k := range allKinds {
		if word == k && word != "let" {
			return true
		}
	}
	return false
}

// evaluate works out an expression that names only let, copy and functions.
func (r *reader) evaluate(expr hclsyntax.Expression, env *environment) (cty.Value, bool) {
	return r.evaluateWith(expr, expr.Variables(), env)
}

func (r *reader) evaluateWith(expr hclsyntax.Expression, vars []hcl.Traversal, env *environment) (cty.Value, bool) {
	if env == nil {
		env = bare
	}
	for _, t := range vars {
		at := r.rng(t.SourceRange())
		switch root := t.RootName(); root {
		case "let":
			if !r.constant(t, env) {
				return cty.NilVal, false
			}
		case "copy":
			if r.copy == nil {
				r.fault("unknown-reference", at, "copy stands only in a block that has copies", "add copies = 3 or copies = [\"east\", \"west\"] to the block")
				return cty.NilVal, false
			}
		default:
			if isKind(root) {
				r.fault("value-impossible", at, fmt.Sprintf("%s cannot stand in an expression here", shorten(at.Text())), "use let for a value that several blocks share")
			} else {
				r.fault("unknown-reference", at, fmt.Sprintf("%q is not known", root), suggest(root, append([]string{"let", "copy"}, allKinds...)))
				r.mend(at, root, append([]string{"let", "copy"}, allKinds...))
			}
			return cty.NilVal, false
		}
	}
	ctx := env.ctx
	if r.copy != nil {
		ctx = ctx.NewChild()
		ctx.Variables = map[string]cty.Value{"copy": cty.ObjectVal(r.copy)}
	}
	return r.finish(expr, ctx)
}

// constant remembers the constant that an expression names; false where it is not given, which
// is told.
func (r *reader) constant(t hcl.Traversal, env *environment) bool {
	if len(t) < 2 {
		return true
	}
	step, ok := t[1].(hcl.TraverseAttr)
	switch {
	case !ok:
	case env.lets[step.Name]:
		r.use(step.Name)
		r.mixed = true
	default:
		r.lost = true
		at := r.rng(t.SourceRange())
		names := r.near(func() []string { return keysOf(env.lets) })
		r.fault("unknown-reference", at, fmt.Sprintf("let.%s is not given", step.Name), cmp.Or(suggest(step.Name, names), fmt.Sprintf("add %s = ... to a let block", shorten(step.Name))))
		r.mend(at, step.Name, names)
		return false
	}
	return true
}

// figure works out arithmetic of numbers and constants; false where there is more to it, or
// something to tell.
func (r *reader) figure(expr *syntax.Expr, env *environment) (float64, bool) {
	x, ok := expr.Figure(func(reference []byte) (syntax.Decimal, bool) {
		word, d, known := env.figure(reference)
		if known && !r.used[string(word)] {
			r.use(string(word))
		}
		return d, known
	})
	return x, ok && r.afford(1)
}

// figure gives the constant of a reference that is a number of few digits.
func (env *environment) figure(reference []byte) (word []byte, d syntax.Decimal, known bool) {
	root, word, _ := bytes.Cut(reference, []byte("."))
	if string(root) == "let" {
		d, known = env.figures[string(word)]
	}
	return word, d, known
}

// use remembers that an expression names a constant.
func (r *reader) use(constant string) {
	if r.used == nil {
		r.used = map[string]bool{}
	}
	r.used[constant] = true
}

// finish evaluates in a context and tells what goes wrong.
func (r *reader) finish(expr hclsyntax.Expression, ctx *hcl.EvalContext) (cty.Value, bool) {
	text := r.rng(expr.Range()).Text()
	if !r.afford(0) || (strings.Contains(text, "for") || strings.Contains(text, "%")) && !r.modest(expr, ctx) || !r.afford(steps(expr, text, ctx)) {
		return cty.NilVal, false
	}
	v, diags := expr.Value(ctx)
	r.tellDiagnostics(diags)
	if diags.HasErrors() || v == cty.NilVal || !v.IsWhollyKnown() {
		return cty.NilVal, false
	}
	v, _ = v.UnmarkDeep()
	if !r.small(expr, v) {
		return cty.NilVal, false
	}
	return v, true
}

// small refuses a value that holds too much.
func (r *reader) small(expr hclsyntax.Expression, v cty.Value) bool {
	elements, bytes := extent(v)
	if elements <= maxElements && bytes <= maxText {
		return r.afford(elements + bytes/8)
	}
	r.fault("value-impossible", r.rng(expr.Range()), fmt.Sprintf("the value has %d elements and %d bytes of text; at most %d and %d are allowed", elements, bytes, maxElements, maxText), "shorten it")
	return false
}

// The most that the value of one expression may hold.
const (
	maxElements = 2000
	maxText     = 16 << 10
)

// maxSpent bounds the steps that all expressions of a design take together. A step goes once
// through a part of a for; of what else stands in an expression, each takes a plainStep of it.
const (
	maxSpent  = 2_000_000
	plainStep = 8
)

// afford adds to the steps of the design; false where they are too many, which is told of
// the design as a whole.
func (r *reader) afford(steps int) bool {
	return r.spent == nil || r.spent.Add(int64(steps)) <= maxSpent
}

// steps is about how many it takes to work out an expression: what it names times the calls
// it may pass through, and all that stands in a for each time.
func steps(expr hclsyntax.Expression, text string, ctx *hcl.EvalContext) int {
	if !strings.ContainsAny(text, "(?") && !strings.Contains(text, "for") && !strings.Contains(text, "*]") && !strings.Contains(text, ".*") {
		return 1
	}
	nodes, named, calls, fors, turns := 0, 0, 1, 0, 0
	hclsyntax.VisitAll(expr, func(n hclsyntax.Node) hcl.Diagnostics {
		nodes++
		switch e := n.(type) {
		case *hclsyntax.FunctionCallExpr:
			calls++
			if e.Name == "range" {
				named += maxRange
			}
		case *hclsyntax.ScopeTraversalExpr:
			if v, diags := e.Traversal.TraverseAbs(ctx); !diags.HasErrors() {
				v, _ = v.UnmarkDeep()
				elements, bytes := extent(v)
				named += elements + bytes/64
			}
		case *hclsyntax.ForExpr:
			fors++
			turns += work(e, ctx)
		}
		return nil
	})
	return 1 + (nodes+named*calls)/plainStep + (fors*named+turns)*nodes
}

// extent counts the elements and the bytes of text of a value.
func extent(v cty.Value) (elements, bytes int) {
	switch {
	case v.IsNull() || !v.IsKnown():
	case v.Type() == cty.String:
		return 0, len(v.AsString())
	case v.CanIterateElements():
		for it := v.ElementIterator(); it.Next(); {
			_, e := it.Element()
			n, b := extent(e)
			elements, bytes = elements+n+1, bytes+b
		}
	}
	return elements, bytes
}

// modest refuses what would take an expression out of bounds, in time or in numbers: a
// for inside of a for, and the rest of a division by nothing.
func (r *reader) modest(expr hclsyntax.Expression, ctx *hcl.EvalContext) bool {
	good, deep := true, 0
	walk := &walker{
		enter: func(n hclsyntax.Node) {
			switch e := n.(type) {
			case *hclsyntax.ForExpr:
				if deep++; deep == 2 && good {
					r.fault("value-impossible", r.rng(e.Range()), "a for stands inside of a for", "work it out in two constants")
					good = false
				}
				if n := work(e, ctx); deep == 1 && good && n > maxWork {
					r.fault("value-impossible", r.rng(e.Range()), fmt.Sprintf("a for goes through %d elements in all; at most %d are allowed", n, maxWork), "name shorter lists in it, or work out in a constant what is the same each time")
					good = false
				}
			case *hclsyntax.BinaryOpExpr:
				if e.Op != hclsyntax.OpModulo || deep > 0 || !good {
					break
				}
				if v, diags := e.RHS.Value(ctx); !diags.HasErrors() && v.IsKnown() && !v.IsNull() && v.Type() == cty.Number && v.AsBigFloat().Sign() == 0 {
					r.fault("value-impossible", r.rng(e.Range()), "the rest of a division by 0 has no value", "")
					good = false
				}
			}
		},
		exit: func(n hclsyntax.Node) {
			if _, is := n.(*hclsyntax.ForExpr); is {
				deep--
			}
		},
	}
	hclsyntax.Walk(expr, walk)
	return good
}

// maxWork bounds the elements that a for goes through, maxRange is what one range may add
// to them (the functions of the language make no longer one).
const (
	maxWork  = 100_000
	maxRange = 1024
)

// work is how many elements a for goes through: those of its list, times those of all that
// its parts name.
func work(e *hclsyntax.ForExpr, ctx *hcl.EvalContext) int {
	size := func(expr hclsyntax.Expression) int {
		v, diags := value(expr, ctx)
		if diags.HasErrors() || v == cty.NilVal {
			return 0
		}
		v, _ = v.UnmarkDeep()
		elements, bytes := extent(v)
		return elements + bytes/64
	}
	each, inner := 0, false // a for inside of it is told by itself
	for _, part := range []hclsyntax.Expression{e.KeyExpr, e.ValExpr, e.CondExpr} {
		if part == nil {
			continue
		}
		hclsyntax.Walk(part, &walker{
			enter: func(n hclsyntax.Node) {
				switch x := n.(type) {
				case *hclsyntax.ScopeTraversalExpr:
					if x.Traversal.RootName() != e.KeyVar && x.Traversal.RootName() != e.ValVar {
						each += size(x)
					}
				case *hclsyntax.ForExpr:
					inner = true
				case *hclsyntax.FunctionCallExpr:
					if x.Name == "range" {
						each += maxRange
					}
				}
			},
			exit: func(hclsyntax.Node) {},
		})
	}
	if inner {
		return 0
	}
	return max(size(e.CollExpr), 1) * each
}

type walker struct{ enter, exit func(hclsyntax.Node) }

func (w *walker) Enter(n hclsyntax.Node) hcl.Diagnostics { w.enter(n); return nil }
func (w *walker) Exit(n hclsyntax.Node) hcl.Diagnostics  { w.exit(n); return nil }

func keysOf[V any](m map[string]V) []string {
	list := make([]string, 0, len(m))
	for k := range m {
		list = append(list, k)
	}
	sort.Strings(list)
	return list
}

func fieldNames[T any](s *schema[T]) []string {
	list := keysOf(s.fields)
	return append(list, keysOf(s.blocks)...)
}

// suggest names the nearest of the candidates, or lists them where they are few.
func suggest(word string, candidates []string) string {
	if len(word) > 200 {
		return "" // no slip of the pen
	}
	best, distance := "", 1<<30
	for i, c := range candidates {
		if i > 2000 {
			break
		}
		if d := levenshtein.Distance(strings.ToLower(word), strings.ToLower(c), nil); d < distance {
			best, distance = c, d
		}
	}
	switch {
	case best != "" && (distance <= max(1, (len(best)+1)/3) || swapped(word, best)):
		return fmt.Sprintf("did you mean %q?", best)
	case len(candidates) > 0 && len(candidates) <= 14:
		return "known are " + strings.Join(candidates, ", ")
	}
	return ""
}

// swapped says that two words have the same letters in another order.
func swapped(a, b string) bool {
	x, y := []rune(strings.ToLower(a)), []rune(strings.ToLower(b))
	slices.Sort(x)
	slices.Sort(y)
	return slices.Equal(x, y)
}

// constants works out the let blocks, whose names may build on each other.
func (r *reader) constants(attrs []letAttr) (*environment, []Constant) {
	env := &environment{lets: map[string]bool{}, spent: r.spent}
	byName := map[string]*letAttr{}
	var list []Constant
	if len(attrs) > maxLets {
		a := &attrs[maxLets]
		r.file, r.subject = a.file, "let."+a.name
		r.fault("value-impossible", a.at, fmt.Sprintf("the design gives %d constants, and those beyond %d do not count", len(attrs), maxLets), "write figures where they are used once")
		attrs = attrs[:maxLets]
	}
	for i := range attrs {
		a := &attrs[i]
		if first := byName[a.name]; first != nil {
			r.file, r.subject = a.file, "let."+a.name
			r.fault("name-taken", a.at, fmt.Sprintf("let.%s is given twice", a.name), "keep one of the two")
			r.relate(first.at, "first given here")
			continue
		}
		byName[a.name] = a
		env.lets[a.name] = true
		list = append(list, Constant{Name: a.name, At: a.at, Cut: a.cut})
	}
	values := map[string]cty.Value{}
	state := map[string]int{} // 1 being worked out, 2 done
	var work func(a *letAttr, depth int) bool
	work = func(a *letAttr, depth int) bool {
		if state[a.name] == 2 {
			return true
		}
		r.file, r.subject = a.file, "let."+a.name
		if state[a.name] == 1 {
			r.fault("value-impossible", a.at, fmt.Sprintf("let.%s hangs on itself in a circle", a.name), "give one of the constants in the circle a value of its own")
			return false
		}
		if depth > 1000 {
			r.fault("value-impossible", a.at, "constants build on each other more than 1000 deep", "shorten the chain")
			return false
		}
		state[a.name] = 1
		ok := true
		needs := map[string]cty.Value{}
		for _, t := range a.expr.Variables() {
			if t.RootName() != "let" || len(t) < 2 {
				continue
			}
			if step, is := t[1].(hcl.TraverseAttr); is && byName[step.Name] != nil && ok {
				r.use(step.Name)
				ok = work(byName[step.Name], depth+1)
				needs[step.Name] = values[step.Name]
			}
		}
		r.file, r.subject = a.file, "let."+a.name
		v := cty.DynamicVal
		if ok {
			env.ctx = &hcl.EvalContext{Functions: functions, Variables: map[string]cty.Value{"let": cty.ObjectVal(needs)}}
			if got, good := r.evaluate(a.expr, env); good {
				v = got
			}
		}
		state[a.name] = 2
		values[a.name] = v
		return ok
	}
	for i := range attrs {
		if a := &attrs[i]; byName[a.name] == a {
			work(a, 0)
		}
	}
	env.ctx = &hcl.EvalContext{Functions: functions, Variables: map[string]cty.Value{"let": cty.ObjectVal(values)}}
	for name, v := range values {
		if d, ok := syntax.DecimalOf(v); ok {
			if env.figures == nil {
				env.figures = map[string]syntax.Decimal{}
			}
			env.figures[name] = d
		}
	}
	return env, list
}

type letAttr struct {
	name string
	file *source.File
	at   source.Range
	cut  source.Range
	expr hclsyntax.Expression
}

// dependents works out the values that hang on attributes of other blocks, each
// with a small context that holds just those attributes.
func (d *Design) dependents(list []*dependent, env *environment) {
	if len(list) == 0 {
		return
	}
	byAttr := map[[2]string]*dependent{}
	for _, p := range list {
		if p.attr != "" {
			byAttr[[2]string{p.subject, p.attr}] = p
		}
	}
	var work func(p *dependent, depth int) bool
	work = func(p *dependent, depth int) bool {
		r := p.reader
		switch {
		case p.state == 2:
			return true
		case p.state == 1 || depth > 1000:
			r.subject = p.subject
			r.fault("value-impossible", r.rng(p.expr.Range()), fmt.Sprintf("%s of %s hangs on itself in a circle", p.attr, p.subject), "give one of the attributes in the circle a value of its own")
			r.circle = true
			return false
		}
		p.state, r.subject = 1, p.subject
		blocks := map[string]map[string]map[string]cty.Value{} // kind, name, attribute
		ok := true
		need := func(l Link, attr string, at source.Range) {
			if !ok {
				return
			}
			r.needs = append(r.needs, name{l.Kind, l.Name})
			subject := l.Subject()
			if on := byAttr[[2]string{subject, attr}]; on != nil && !work(on, depth+1) {
				ok = false
				return
			}
			r.subject = p.subject
			o := d.index.of(name{l.Kind, l.Name})
			if l.Kind == "site" && l.Name == "" && len(d.Sites) > 0 {
				o = d.Sites[0]
			}
			if o == nil {
				r.lost = true
				d.unknownTarget(r, l, at)
				ok = false
				return
			}
			v, known, exists := attributeOf(o, attr)
			switch {
			case !exists:
				r.fault("unknown-reference", at, fmt.Sprintf("%s has no plain attribute %q", subject, attr), "")
				ok = false
			case !known:
				r.fault("value-impossible", at, fmt.Sprintf("%s does not state %s", subject, attr), "state it there, or use let")
				ok = false
			default:
				if blocks[l.Kind] == nil {
					blocks[l.Kind] = map[string]map[string]cty.Value{}
				}
				if blocks[l.Kind][l.Name] == nil {
					blocks[l.Kind][l.Name] = map[string]cty.Value{}
				}
				blocks[l.Kind][l.Name][attr] = v
			}
		}
		expr := p.expr
		ctx := env.ctx.NewChild()
		ctx.Variables = map[string]cty.Value{}
		if r.copy != nil {
			ctx.Variables["copy"] = cty.ObjectVal(r.copy)
		}
		plain := 0
		for _, t := range expr.Variables() {
			if !isKind(t.RootName()) {
				continue
			}
			at := r.rng(t.SourceRange())
			l, attr, good := attributeLink(t)
			if !good {
				plain++
				continue
			}
			need(l, attr, at)
		}
		computed := 0
		hclsyntax.VisitAll(expr, func(n hclsyntax.Node) hcl.Diagnostics {
			rel, is := n.(*hclsyntax.RelativeTraversalExpr)
			if !is || !ok {
				return nil
			}
			idx, is := rel.Source.(*hclsyntax.IndexExpr)
			if !is {
				return nil
			}
			base, is := idx.Collection.(*hclsyntax.ScopeTraversalExpr)
			if !is || !isKind(base.Traversal.RootName()) {
				return nil
			}
			l, good := link(base.Traversal)
			step, is := rel.Traversal[0].(hcl.TraverseAttr)
			if !good || !is {
				return nil
			}
			key, good := r.evaluate(idx.Key, env)
			if !good {
				ok = false
				return nil
			}
			word, good := keyText(key)
			if !good {
				return nil
			}
			computed++
			l.Name += "[" + word + "]"
			need(l, step.Name, r.rng(rel.Range()))
			return nil
		})
		v := cty.NilVal
		switch {
		case !ok:
		case plain > computed:
			r.subject = p.subject
			r.fault("value-impossible", r.rng(expr.Range()), fmt.Sprintf("%s cannot stand in an expression", shorten(r.rng(expr.Range()).Text())), "name one attribute of one block, as in source.NAME.rated_kva")
		default:
			for kind, names := range blocks {
				ctx.Variables[kind] = nest(names)
			}
			r.subject = p.subject
			v, _ = r.finish(expr, ctx)
		}
		p.apply(v)
		p.state = 2
		return ok
	}
	for _, p := range list {
		work(p, 0)
	}
	d.suggested = 0 // references that are no part of a value have as many of their own
}

// nest builds what an expression sees of a kind: name -> attribute, and for a
// copy set -> key -> attribute.
func nest(names map[string]map[string]cty.Value) cty.Value {
	top := map[string]cty.Value{}
	sets := map[string]map[string]cty.Value{}
	for n, attrs := range names {
		if n == "" { // site
			for a, v := range attrs {
				top[a] = v
			}
			continue
		}
		if set, key, is := strings.Cut(strings.TrimSuffix(n, "]"), "["); is {
			if sets[set] == nil {
				sets[set] = map[string]cty.Value{}
			}
			sets[set][key] = cty.ObjectVal(attrs)
			continue
		}
		top[n] = cty.ObjectVal(attrs)
	}
	for set, keys := range sets {
		top[set] = cty.MapVal(unify(keys))
	}
	return cty.ObjectVal(top)
}

// unify gives every copy the same attributes, so that they make a map.
func unify(keys map[string]cty.Value) map[string]cty.Value {
	all := map[string]cty.Type{}
	for _, v := range keys {
		for a, t := range v.Type().AttributeTypes() {
			all[a] = t
		}
	}
	for k, v := range keys {
		attrs := v.AsValueMap()
		for a, t := range all {
			if _, has := attrs[a]; !has {
				attrs[a] = cty.NullVal(t)
			}
		}
		keys[k] = cty.ObjectVal(attrs)
	}
	return keys
}

// attributeLink reads kind.name.attr and kind.name["key"].attr.
func attributeLink(t hcl.Traversal) (Link, string, bool) {
	last, ok := t[len(t)-1].(hcl.TraverseAttr)
	if !ok || len(t) < 2 {
		return Link{}, "", false
	}
	l, ok := link(t[:len(t)-1])
	return l, last.Name, ok
}

// attributeOf gives a plain attribute of a block for use in an expression.
func attributeOf(o any, attr string) (v cty.Value, known, exists bool) {
	switch o := o.(type) {
	case *Site:
		return plain(siteSchema, o, attr)
	case *Supply:
		return plain(supplySchema, o, attr)
	case *Source:
		return plain(sourceSchema, o, attr)
	case *Board:
		return plain(boardSchema, o, attr)
	case *Load:
		return plain(loadSchema, o, attr)
	case *Route:
		return plain(routeSchema, o, attr)
	case *Cable:
		return plain(cableSchema, o, attr)
	case *Run:
		return plain(runSchema, o, attr)
	case *Waiver:
		return plain(waiverSchema, o, attr)
	case *Approved:
		return plain(approvedSchema, o, attr)
	case *Price:
		return plain(priceSchema, o, attr)
	}
	return cty.NilVal, false, false
}

// plain gives an attribute that is stated. Defaults are filled in later, and count as not
// stated here.
func plain[T any](s *schema[T], o *T, attr string) (v cty.Value, known, exists bool) {
	f := s.fields[attr]
	switch {
	case f == nil:
		return cty.NilVal, false, false
	case f.num != nil:
		n := f.num(o)
		return cty.NumberFloatVal(n.Value), n.Origin == Stated, true
	case f.text != nil:
		t := f.text(o)
		return cty.StringVal(t.Value), t.Origin == Stated, true
	case f.flag != nil:
		b := f.flag(o)
		return cty.BoolVal(b.Value), b.Origin == Stated, true
	}
	return cty.NilVal, false, false
}
