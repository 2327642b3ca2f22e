package assess

import (
	"iter"
	"slices"

	"trefoil/lint/design"
)

// Scope is a part of a design: what a change of some runs can have moved. Rules that
// look at single runs, nodes and routes look at these alone.
type Scope struct {
	Runs   []int // indices, ascending
	Nodes  []int // indices of the tree, ascending
	Routes map[*design.Route]bool
}

// Holds says whether a run is part of it; everything is part of no scope.
func (s *Scope) Holds(run int) bool {
	if s == nil {
		return true
	}
	_, found := slices.BinarySearch(s.Runs, run)
	return found
}

// Reaches says the same of a node.
func (s *Scope) Reaches(node int) bool {
	if s == nil {
		return true
	}
	_, found := slices.BinarySearch(s.Nodes, node)
	return found
}

// EachRun goes through the runs that are looked at.
func (v *Review) EachRun() iter.Seq[*Run] {
	return func(yield func(*Run) bool) {
		if v.Only != nil {
			for _, i := range v.Only.Runs {
				if !yield(&v.Runs[i]) {
					return
				}
			}
			return
		}
		for i := range v.Runs {
			if !yield(&v.Runs[i]) {
				return
			}
		}
	}
}

// EachNode goes through the nodes of the tree that are looked at.
func (v *Review) EachNode() iter.Seq[int] {
	return func(yield func(int) bool) {
		if v.Only != nil {
			for _, n := range v.Only.Nodes {
				if !yield(n) {
					return
				}
			}
			return
		}
		for n := range v.Tree.Nodes {
			if !yield(n) {
				return
			}
		}
	}
}

// EachSource goes through the sources that are looked at.
func (v *Review) EachSource() iter.Seq[*design.Source] {
	return func(yield func(*design.Source) bool) {
		for n := range v.EachNode() {
			if s := v.Tree.Nodes[n].Source; s != nil && !yield(s) {
				return
			}
		}
	}
}

// EachRoute goes through the routes that are looked at, in text order.
func (v *Review) EachRoute() iter.Seq[*design.Route] {
	return func(yield func(*design.Route) bool) {
		if v.Only != nil && len(v.Only.Routes) == 0 {
			return
		}
		for _, r := range v.Design.Routes {
			if (v.Only == nil || v.Only.Routes[r]) && !yield(r) {
				return
			}
		}
	}
}
