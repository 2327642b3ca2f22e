package assess

import (
	"maps"
	"sync"
	"sync/atomic"

	"trefoil/ratings"
	"trefoil/ratings/protection"
)

// answers are what the rating set has answered so far. Most sections of a large design are
// of the same cable, laid alike in the like company: they share one answer, which is only read.
type answers struct {
	set ratings.Set

	circuits memo[ratings.Circuit, *ratings.Circuit]
	places   memo[ratings.Place, *ratings.Place]
	groups   memo[ratings.Group, *ratings.Group]

	ratings    memo[question, rating]
	impedances memo[question, impedance]

	ks memo[protection.KCase, kAnswer]
}

type kAnswer struct {
	is  float64
	ref ratings.Ref
	gap *ratings.Gap
}

// question is what a set is asked. Equal circuits, places and groups are one, so that it is
// known again by where they stand.
type question struct {
	circuit *ratings.Circuit
	place   *ratings.Place
	group   *ratings.Group // nil where it does not matter
}

type rating struct {
	is  *ratings.Rating
	gap *ratings.Gap
}

type impedance struct {
	is  *ratings.Impedance
	gap *ratings.Gap
}

func (s *answers) circuit(c ratings.Circuit) *ratings.Circuit { return one(&s.circuits, c) }
func (s *answers) place(p ratings.Place) *ratings.Place       { return one(&s.places, p) }
func (s *answers) group(g ratings.Group) *ratings.Group       { return one(&s.groups, g) }

// rate answers for one section of one leg, or says why it cannot.
func (s *answers) rate(c *ratings.Circuit, p *ratings.Place, g *ratings.Group) (*ratings.Rating, *ratings.Gap) {
	r := s.ratings.get(question{c, p, g}, func() rating {
		is, gap := s.set.Rate(*c, *p, *g)
		if gap != nil {
			return rating{gap: gap}
		}
		return rating{is: &is}
	})
	return r.is, r.gap
}

// impedance answers for one leg.
func (s *answers) impedance(c *ratings.Circuit, p *ratings.Place) (*ratings.Impedance, *ratings.Gap) {
	z := s.impedances.get(question{circuit: c, place: p}, func() impedance {
		is, gap := s.set.Impedance(*c, *p)
		if gap != nil {
			return impedance{gap: gap}
		}
		return impedance{is: &is}
	})
	return z.is, z.gap
}

// k is that of a conductor in a short circuit.
func (s *answers) k(family string, c protection.KCase) (float64, ratings.Ref, *ratings.Gap) {
	a := s.ks.get(c, func() (a kAnswer) {
		a.is, a.ref, a.gap = protection.K(family, c)
		return a
	})
	return a.is, a.ref, a.gap
}

// one gives the one copy of a value.
func one[T comparable](m *memo[T, *T], v T) *T {
	return m.get(v, func() *T { is := v; return &is })
}

// many says that far more is kept than a design of so many runs asks, as after many edits.
func (s *answers) many(runs int) bool {
	return s.ratings.kept() > 1000+4*runs || s.impedances.kept() > 1000+4*runs
}

// memo keeps values by what they hang on. Most questions come again and again, from several
// goroutines: they are answered from a map that is no longer written to. Beyond so many it
// begins anew, since a long search through what might be asks much that is never asked again.
type memo[K comparable, V any] struct {
	settled atomic.Pointer[map[K]V]

	mu     sync.Mutex
	fresh  map[K]V // what came since it settled
	missed int     // questions since then that are not among the settled ones
}

const mostKept = 1 << 16

func (m *memo[K, V]) kept() int {
	m.mu.Lock()
	defer m.mu.Unlock()
	return len(m.old()) + len(m.fresh)
}

// old are the values that are settled.
func (m *memo[K, V]) old() map[K]V {
	if is := m.settled.Load(); is != nil {
		return *is
	}
	return nil
}

func (m *memo[K, V]) get(k K, work func() V) V {
	v, ok := m.old()[k]
	if ok {
		return v
	}
	if v, ok = m.late(k); ok {
		return v
	}
	v = work()
	m.mu.Lock()
	defer m.mu.Unlock()
	if was, ok := m.among(k); ok { // another one was faster
		return was
	}
	switch {
	case len(m.old())+len(m.fresh) >= mostKept:
		m.settled.Store(nil)
		m.fresh, m.missed = map[K]V{}, 0
	case m.fresh == nil:
		m.fresh = map[K]V{}
	}
	m.fresh[k] = v
	return v
}

// late looks among the values that are not settled, and settles them once they were asked for
// so often that it is worth a copy of all.
func (m *memo[K, V]) late(k K) (V, bool) {
	m.mu.Lock()
	defer m.mu.Unlock()
	v, ok := m.among(k)
	if m.missed++; ok && m.missed > len(m.old())+len(m.fresh) {
		all := make(map[K]V, len(m.old())+len(m.fresh))
		maps.Copy(all, m.old())
		maps.Copy(all, m.fresh)
		m.settled.Store(&all)
		m.fresh, m.missed = nil, 0
	}
	return v, ok
}

// among looks for a value while the memo is locked.
func (m *memo[K, V]) among(k K) (V, bool) {
	if v, ok := m.fresh[k]; ok {
		return v, true
	}
	v, ok := m.old()[k]
	return v, ok
}
