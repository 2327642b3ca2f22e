package house

import (
	"maps"
	"reflect"
	"slices"
	"strings"
	"sync"

	"github.com/zclconf/go-cty/cty"

	"trefoil/lint/assess"
	"trefoil/lint/design"
	"trefoil/lint/report"
	"trefoil/ratings/quantity"
)

// block is one block of the design that a rule looks at.
type block struct {
	*design.Object
	of   any
	run  int // of a run, -1 otherwise
	node int // of a source, board or supply, -1 otherwise
}

// blocks lists the blocks of a kind that are looked at, in text order.
func blocks(v *assess.Review, kind string) []block {
	if v.Only != nil {
		return part(v, kind)
	}
	d := v.Design
	var list []block
	add := func(o *design.Object, of any) { list = append(list, block{o, of, -1, -1}) }
	switch kind {
	case "run":
		for i, o := range d.Runs {
			list = append(list, block{&o.Object, o, i, -1})
		}
	case "route":
		for _, o := range d.Routes {
			add(&o.Object, o)
		}
	case "cable":
		for _, o := range d.Cables {
			add(&o.Object, o)
		}
	case "load":
		for _, o := range d.Loads {
			add(&o.Object, o)
		}
	case "site":
		for _, o := range d.Sites[:min(1, len(d.Sites))] {
			add(&o.Object, o)
		}
	case "source":
		for _, o := range d.Sources {
			add(&o.Object, o)
		}
	case "board":
		for _, o := range d.Boards {
			add(&o.Object, o)
		}
	case "supply":
		for _, o := range d.Supplies[:min(1, len(d.Supplies))] {
			add(&o.Object, o)
		}
	}
	if kind == "source" || kind == "board" || kind == "supply" {
		nodes := make(map[string]int, len(v.Tree.Nodes))
		for n := range v.Tree.Nodes {
			nodes[v.Tree.Nodes[n].Subject] = n
		}
		for i := range list {
			if n, has := nodes[list[i].Subject()]; has {
				list[i].node = n
			}
		}
	}
	return list
}

// part lists the blocks of a kind within the scope of a review. A cable counts by the runs
// that are of it, whether a block declares it or not.
func part(v *assess.Review, kind string) []block {
	var list []block
	switch kind {
	case "run":
		for a := range v.EachRun() {
			list = append(list, block{&a.Run.Object, a.Run, a.Index, -1})
		}
	case "route":
		for r := range v.EachRoute() {
			list = append(list, block{&r.Object, r, -1, -1})
		}
	case "cable":
		for a := range v.EachRun() {
			if c := a.Cable; c != nil && !slices.ContainsFunc(list, func(b block) bool { return b.of == any(c) }) {
				list = append(list, block{&c.Object, c, -1, -1})
			}
		}
	case "source", "board", "supply":
		for n := range v.EachNode() {
			switch node := &v.Tree.Nodes[n]; {
			case node.Source != nil && kind == "source":
				list = append(list, block{&node.Source.Object, node.Source, -1, n})
			case node.Board != nil && kind == "board":
				list = append(list, block{&node.Board.Object, node.Board, -1, n})
			case node.Supply != nil && kind == "supply":
				list = append(list, block{&node.Supply.Object, node.Supply, -1, n})
			}
		}
	}
	return list
}

// kindType is the type of the object that stands for a block of a kind.
func kindType(kind string) map[string]cty.Type { return kindTypes()[kind] }

var kindTypes = sync.OnceValue(func() map[string]map[string]cty.Type {
	with := func(kind string, more map[string]cty.Type) map[string]cty.Type {
		types := design.Types(kind)
		for n, t := range more {
			types[n] = t
		}
		return types
	}
	name := map[string]cty.Type{"name": cty.String}
	terminals := cty.Object(with("terminals", nil))
	aSwitch := cty.Object(with("switch", nil))
	level := map[string]cty.Type{}
	for _, n := range levels {
		level[n] = cty.Number
	}
	cable := cty.Object(with("cable", name))
	route := cty.Object(with("route", name))
	node := func(kind string, more map[string]cty.Type) map[string]cty.Type {
		types := with(kind, level)
		types["name"] = cty.String
		for n, t := range more {
			types[n] = t
		}
		return types
	}
	run := figureTypes(calcRun)
	section := maps.Clone(run["sections"].ElementType().AttributeTypes())
	for n, t := range with("section", map[string]cty.Type{"route": route}) {
		section[n] = t
	}
	for n, t := range with("run", map[string]cty.Type{
		"name": cty.String, "cable": cable, "sections": cty.List(cty.Object(section)), "length_m": cty.Number,
		"devices": cty.List(cty.Object(with("device", map[string]cty.Type{"terminals": terminals}))),
		"ends":    cty.List(cty.Object(with("ends", nil))),
		"built":   cty.Object(with("built", nil)),
	}) {
		run[n] = t
	}
	names := cty.List(cty.String)
	return map[string]map[string]cty.Type{
		"run": run,
		"source": node("source", map[string]cty.Type{
			"terminals": terminals, "isolator": aSwitch, "run": cty.String, "path_rise_v": cty.Number, "path_rise_percent": cty.Number,
		}),
		"board": node("board", map[string]cty.Type{
			"terminals": terminals, "main_switch": aSwitch, "portions": cty.List(cty.Object(with("portion", name))), "run": cty.String, "design_current_a": cty.Number,
		}),
		"supply": node("supply", map[string]cty.Type{"transformer": cty.Object(with("transformer", nil))}),
		"route":  with("route", map[string]cty.Type{"name": cty.String, "runs": names, "circuits": cty.Number}),
		"cable":  with("cable", map[string]cty.Type{"name": cty.String, "runs": names, "data": cty.List(cty.Object(with("data", map[string]cty.Type{"size": cty.String})))}),
		"site": with("site", map[string]cty.Type{
			"name": cty.String, "limits": cty.List(cty.Object(with("limit", map[string]cty.Type{"class": cty.String}))), "thresholds": cty.List(cty.Object(with("threshold", name))),
		}),
		"load": with("load", name),
	}
})

func field(name string) int {
	f, _ := reflect.TypeFor[report.CalcDocument]().FieldByName(name)
	return f.Index[0]
}

// levels are the figures of a fault at a node.
var levels = []string{"fault_max_ka", "fault_min_ka", "earth_fault_min_ka", "loop_ohm"}

// figureTypes reads the types of a document's object from its struct, so that a
// figure has one name wherever it is met.
func figureTypes(t reflect.Type) map[string]cty.Type {
	types := map[string]cty.Type{}
	for i := range t.NumField() {
		if n, kind := key(t.Field(i)), figureType(t.Field(i).Type); n != "" && kind != cty.NilType {
			types[n] = kind
		}
	}
	return types
}

func key(f reflect.StructField) string {
	n, _, _ := strings.Cut(f.Tag.Get("json"), ",")
	return n
}

func figureType(t reflect.Type) cty.Type {
	switch t.Kind() {
	case reflect.Pointer:
		return figureType(t.Elem())
	case reflect.Float64, reflect.Int:
		return cty.Number
	case reflect.String:
		return cty.String
	case reflect.Bool:
		return cty.Bool
	case reflect.Slice:
		if e := figureType(t.Elem()); e != cty.NilType {
			return cty.List(e)
		}
	case reflect.Struct:
		return cty.Object(figureTypes(t))
	}
	return cty.NilType
}

// figure is a value of a document; what is not there is unknown.
func figure(v reflect.Value, t cty.Type) cty.Value {
	switch v.Kind() {
	case reflect.Pointer:
		if v.IsNil() {
			return cty.UnknownVal(t)
		}
		return figure(v.Elem(), t)
	case reflect.Float64:
		return design.Number(v.Float())
	case reflect.Int:
		return cty.NumberIntVal(v.Int())
	case reflect.String:
		if v.String() == "" {
			return cty.UnknownVal(cty.String)
		}
		return cty.StringVal(v.String())
	case reflect.Bool:
		return cty.BoolVal(v.Bool())
	case reflect.Slice:
		list := make([]reflect.Value, v.Len())
		for i := range list {
			list[i] = v.Index(i)
		}
		return design.List(t.ElementType(), list, func(e reflect.Value) cty.Value { return figure(e, t.ElementType()) })
	case reflect.Struct:
		attrs := map[string]cty.Value{}
		for i := range v.NumField() {
			if n := key(v.Type().Field(i)); n != "" && t.HasAttribute(n) {
				attrs[n] = figure(v.Field(i), t.AttributeType(n))
			}
		}
		return cty.ObjectVal(attrs)
	}
	return cty.UnknownVal(t)
}

// object builds what expressions see of a block: the attributes named, or all.
func object(v *assess.Review, b block, attrs []string, all bool) cty.Value {
	types := kindType(b.Kind)
	if all {
		attrs = attrs[:0:0]
		for n := range types {
			attrs = append(attrs, n)
		}
	}
	o := builder{v: v, block: b}
	values := make(map[string]cty.Value, len(attrs))
	for _, n := range attrs {
		if t, has := types[n]; has {
			values[n] = o.attribute(n, t)
		}
	}
	return cty.ObjectVal(values)
}

type builder struct {
	block
	v    *assess.Review
	calc reflect.Value // of a run, as soon as a figure is asked for
}

func (o *builder) attribute(attr string, t cty.Type) cty.Value {
	if attr == "name" {
		return cty.StringVal(o.Name)
	}
	switch of := o.of.(type) {
	case *design.Run:
		return o.ofRun(of, attr, t)
	case *design.Source:
		switch attr {
		case "terminals":
			return inner(of.Terminals, t)
		case "isolator":
			return inner(of.Isolator, t)
		case "path_rise_v", "path_rise_percent":
			if o.node < 0 {
				return cty.UnknownVal(t)
			}
			total, _, known := o.v.Verdict().Source(o.node)
			if attr == "path_rise_v" {
				return number(quantity.Maybe{Value: total.V, Known: known})
			}
			return number(quantity.Maybe{Value: total.Percent, Known: known})
		}
	case *design.Board:
		switch attr {
		case "terminals":
			return inner(of.Terminals, t)
		case "main_switch":
			return inner(of.MainSwitch, t)
		case "portions":
			return design.List(t.ElementType(), of.Portions, func(p *design.Portion) cty.Value {
				return with(p, t.ElementType(), map[string]cty.Value{"name": cty.StringVal(p.Name)})
			})
		}
	case *design.Supply:
		if attr == "transformer" {
			return inner(of.Transformer, t)
		}
	case *design.Site:
		switch attr {
		case "thresholds":
			return design.List(t.ElementType(), of.Thresholds, func(x *design.Threshold) cty.Value {
				return with(x, t.ElementType(), map[string]cty.Value{"name": cty.StringVal(x.Name)})
			})
		case "limits":
			list := make([]*design.Limit, len(of.Limits))
			for i := range list {
				list[i] = &of.Limits[i]
			}
			return design.List(t.ElementType(), list, func(l *design.Limit) cty.Value {
				return with(l, t.ElementType(), map[string]cty.Value{"class": cty.StringVal(l.Class)})
			})
		}
	case *design.Route:
		switch shared := o.v.Shared[of]; attr {
		case "circuits":
			if shared == nil {
				return number(of.OtherCircuits.Maybe())
			}
			return cty.NumberIntVal(int64(shared.Circuits))
		case "runs":
			var list []string
			if shared != nil {
				for _, i := range shared.Runs {
					list = append(list, o.v.Runs[i].Run.Name)
				}
			}
			return design.List(cty.String, list, cty.StringVal)
		}
	case *design.Cable:
		switch attr {
		case "runs":
			var list []string
			for i := range o.v.Runs {
				if o.v.Runs[i].Cable == of {
					list = append(list, o.v.Runs[i].Run.Name)
				}
			}
			return design.List(cty.String, list, cty.StringVal)
		case "data":
			list := make([]*design.CableData, len(of.Data))
			for i := range list {
				list[i] = &of.Data[i]
			}
			return design.List(t.ElementType(), list, func(x *design.CableData) cty.Value {
				return with(x, t.ElementType(), map[string]cty.Value{"size": cty.StringVal(x.Size.String())})
			})
		}
	}
	if val, _, exists := design.Value(o.of, attr); exists {
		return val
	}
	return o.ofNode(attr, t)
}

// ofNode is a figure of a source, board or supply.
func (o *builder) ofNode(attr string, t cty.Type) cty.Value {
	if o.node < 0 {
		return cty.UnknownVal(t)
	}
	up := o.v.Tree.Nodes[o.node].Up
	switch attr {
	case "run":
		if up >= 0 {
			return cty.StringVal(o.v.Runs[up].Run.Name)
		}
	case "design_current_a":
		if up >= 0 {
			return number(o.v.Tree.Segments[up].DesignCurrentA())
		}
	}
	kilo := func(m quantity.Maybe) cty.Value {
		return number(quantity.Maybe{Value: m.Value / 1000, Known: m.Known})
	}
	switch l := o.v.Level(o.node); attr {
	case "fault_max_ka":
		return kilo(l.MaxA)
	case "fault_min_ka":
		return kilo(l.MinA)
	case "earth_fault_min_ka":
		return kilo(l.EarthMinA)
	case "loop_ohm":
		return number(l.LoopOhm)
	}
	return cty.UnknownVal(t)
}

func number(m quantity.Maybe) cty.Value {
	if !m.Known || !quantity.Finite(m.Value) {
		return cty.UnknownVal(cty.Number)
	}
	return design.Number(m.Value)
}

// inner is a block inside of a block; unknown where there is none.
func inner[T any](o *T, t cty.Type) cty.Value {
	if o == nil {
		return cty.UnknownVal(t)
	}
	return with(o, t, nil)
}

// with is a block's attributes and what else is known of it.
func with(o any, t cty.Type, more map[string]cty.Value) cty.Value {
	attrs := map[string]cty.Value{}
	for n, kind := range t.AttributeTypes() {
		if v, has := more[n]; has {
			attrs[n] = v
			continue
		}
		if v, _, exists := design.Value(o, n); exists {
			attrs[n] = v
			continue
		}
		attrs[n] = cty.UnknownVal(kind)
	}
	return cty.ObjectVal(attrs)
}

func (o *builder) ofRun(r *design.Run, attr string, t cty.Type) cty.Value {
	a := &o.v.Runs[o.run]
	switch attr {
	case "cable":
		if a.Cable == nil {
			return cty.UnknownVal(t)
		}
		return with(a.Cable, t, map[string]cty.Value{"name": cty.StringVal(a.Cable.Name)})
	case "length_m":
		return number(a.LengthM)
	case "built":
		return inner(r.Built, t)
	case "devices":
		list := make([]*design.Device, len(r.Devices))
		for i := range list {
			list[i] = &r.Devices[i]
		}
		return design.List(t.ElementType(), list, func(d *design.Device) cty.Value {
			return with(d, t.ElementType(), map[string]cty.Value{"terminals": inner(d.Terminals, t.ElementType().AttributeType("terminals"))})
		})
	case "ends":
		list := make([]*design.End, len(r.Ends))
		for i := range list {
			list[i] = &r.Ends[i]
		}
		return design.List(t.ElementType(), list, func(e *design.End) cty.Value { return with(e, t.ElementType(), nil) })
	case "sections":
		e := t.ElementType()
		calc := o.figure("sections", calcSections())
		index := make([]int, len(r.Sections))
		for i := range index {
			index[i] = i
		}
		return design.List(e, index, func(i int) cty.Value {
			more := calc.Index(cty.NumberIntVal(int64(i))).AsValueMap()
			for _, n := range []string{"length_m", "length_from"} {
				more[n], _, _ = design.Value(&r.Sections[i], n)
			}
			route := e.AttributeType("route")
			more["route"] = cty.UnknownVal(route)
			if to := a.Sections[i].Route; to != nil {
				more["route"] = with(to, route, map[string]cty.Value{"name": cty.StringVal(to.Name)})
			}
			return with(&r.Sections[i], e, more)
		})
	}
	if v, _, exists := design.Value(r, attr); exists {
		return v
	}
	if v := o.figure(attr, t); v != cty.NilVal {
		return v
	}
	return cty.UnknownVal(t)
}

// figure is one of the run's working, as calc gives it; NilVal where it has none of the name.
func (o *builder) figure(attr string, t cty.Type) cty.Value {
	if !o.calc.IsValid() {
		o.calc = reflect.ValueOf(report.NewCalcDocument(report.Tool{}, o.v, []int{o.run}, "").Runs[0])
	}
	i, has := calcFields()[attr]
	if !has {
		return cty.NilVal
	}
	return figure(o.calc.Field(i), t)
}

// calcRun is what calc gives of a run, calcFields where in it each figure stands.
var (
	calcRun    = reflect.TypeFor[report.CalcDocument]().Field(field("Runs")).Type.Elem()
	calcFields = sync.OnceValue(func() map[string]int {
		fields := map[string]int{}
		for i := range calcRun.NumField() {
			if n := key(calcRun.Field(i)); n != "" {
				fields[n] = i
			}
		}
		return fields
	})
	calcSections = sync.OnceValue(func() cty.Type { return figureTypes(calcRun)["sections"] })
)
