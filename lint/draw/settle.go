package draw

import (
	"cmp"
	"math"
	"slices"
)

// container is what cables are heaped in.
type container interface {
	// holds says that a disc lies inside.
	holds(q disc) bool
	// rests gives the places where a disc touches the container alone, or it and another disc.
	rests(r float64, others []disc) []disc
}

// box is open at the top; its floor lies at 0, its walls at 0 and width.
type box struct{ width float64 }

func (b box) holds(q disc) bool {
	return q.x-q.r >= -tight && q.x+q.r <= b.width+tight && q.y-q.r >= -tight
}

func (b box) rests(r float64, others []disc) []disc {
	list := []disc{{x: r, y: r}, {x: b.width - r, y: r}}
	for _, o := range others {
		if h := (r+o.r)*(r+o.r) - (o.y-r)*(o.y-r); h > 0 { // on the floor, beside it
			dx := math.Sqrt(h)
			list = append(list, disc{x: o.x + dx, y: r}, disc{x: o.x - dx, y: r})
		}
		for _, wall := range []float64{r, b.width - r} {
			if h := (r+o.r)*(r+o.r) - (wall-o.x)*(wall-o.x); h >= 0 {
				list = append(list, disc{x: wall, y: o.y + math.Sqrt(h)})
			}
		}
	}
	return list
}

// round is a pipe about the origin.
type round struct{ radius float64 }

func (c round) holds(q disc) bool { return math.Hypot(q.x, q.y)+q.r <= c.radius+tight }

func (c round) rests(r float64, others []disc) []disc {
	list := []disc{{x: 0, y: r - c.radius}}
	for _, o := range others {
		list = append(list, meet(disc{r: c.radius - 2*r}, o, r)...)
	}
	return list
}

// tight is how far apart things may lie and still touch, mm.
const tight = 1e-6

// meet gives the places where a disc of radius r touches two others.
func meet(a, b disc, r float64) []disc {
	ra, rb := a.r+r, b.r+r
	dx, dy := b.x-a.x, b.y-a.y
	gap := math.Hypot(dx, dy)
	if gap == 0 || gap > ra+rb || gap < math.Abs(ra-rb) {
		return nil
	}
	along := (ra*ra - rb*rb + gap*gap) / (2 * gap)
	across := math.Sqrt(max(0, ra*ra-along*along))
	x, y := a.x+along*dx/gap, a.y+along*dy/gap
	return []disc{{x: x - across*dy/gap, y: y + across*dx/gap}, {x: x + across*dy/gap, y: y - across*dx/gap}}
}

// maxHeap is how many cables are heaped; more are too many to be looked through.
const maxHeap = 60

// settle heaps discs in a container, the largest first, each as low as it may lie beside
// those before it. It gives those that find room, and whether all do.
func settle(discs []disc, in container) (placed []disc, all bool) {
	if len(discs) > maxHeap {
		return nil, false
	}
	order := slices.Clone(discs)
	slices.SortStableFunc(order, func(a, b disc) int { return cmp.Compare(b.r, a.r) })
	all = true
	for _, q := range order {
		places := in.rests(q.r, placed)
		for i := range placed {
			for k := range i {
				places = append(places, meet(placed[i], placed[k], q.r)...)
			}
		}
		best, found := disc{}, false
		for _, at := range places {
			at.r = q.r
			if !in.holds(at) || slices.ContainsFunc(placed, func(o disc) bool {
				return math.Hypot(o.x-at.x, o.y-at.y) < o.r+at.r-tight
			}) {
				continue
			}
			if !found || at.y < best.y-tight || at.y < best.y+tight && at.x < best.x-tight {
				best, found = at, true
			}
		}
		if !found {
			all = false
			continue
		}
		q.x, q.y = best.x, best.y
		placed = append(placed, q)
	}
	return placed, all
}
