package compare

import (
	"fmt"
	"slices"

	"trefoil/lint/finding"
	"trefoil/ratings/quantity"
)

// budget bounds the work of tracing: trials times runs, so that it ends after some seconds.
const budget = 60_000

// key tells causes apart.
func (c Cause) key() string { return fmt.Sprint(c.Edits, c.Any) }

// tracer finds out on which edits figures and verdicts hang.
type tracer struct {
	c             *Comparison
	again         Again
	before, after measured
	was           []finding.Finding
	renamed       func(string) string

	tried  []int             // the edits that can be taken back
	fixed  []int             // and those that cannot
	trials map[string]*trial // the later version without some edits, by which; nil where no trial is needed
	most   int               // of edits that are taken back one by one
}

// trial is the later version with something taken back.
type trial struct {
	figures  measured
	findings []finding.Finding
	now      []int // for each finding of the later version its like in findings, or -1
	was      []int // for each finding of the earlier version, likewise
}

// trace fills in causes, and puts the moves together into effects.
func (t *tracer) trace(moves []move) {
	for i := range t.c.Edits {
		switch e := &t.c.Edits[i]; {
		case e.Change == Renamed || e.Change == Follows:
		case e.back == nil:
			t.fixed = append(t.fixed, i)
		default:
			t.tried = append(t.tried, i)
		}
	}
	if len(moves) > 0 || len(t.c.Verdicts) > 0 {
		t.c.Untraced = t.ready()
	}
	if t.c.Untraced == "" {
		for i := range moves {
			m := &moves[i]
			m.cause = t.cause(state{0, m.Was}, state{0, m.Now}, func(x *trial) state {
				if list := x.figures.by[m.Subject]; list != nil {
					return state{0, list[m.figure]}
				}
				return state{}
			})
		}
		t.verdicts()
	}
	t.c.Effects = effects(moves, t.after.currency)
}

// ready prepares the trials; it says why there are none to be.
func (t *tracer) ready() string {
	switch {
	case t.c.Was.Result == nil || t.c.Now.Result == nil:
		return "there is no design on one of the two sides"
	case t.c.Was.Broken() || t.c.Now.Broken():
		return "a text that cannot be read whole leaves open what hangs on what"
	case len(t.tried)+len(t.fixed) <= 1: // then all hangs on that
		return ""
	case t.again == nil:
		return "it was not asked for"
	}
	if t.most = budget / (t.c.Now.Result.Runs + 50); len(t.tried) > t.most {
		return fmt.Sprintf("%d edits are more than can be taken back one by one in a design of this size (%d)", len(t.tried), t.most)
	}
	t.trials = map[string]*trial{}
	return ""
}

func (t *tracer) trial(back []patch) (*trial, error) {
	r, err := t.again(apply(back))
	if err != nil {
		return nil, err
	}
	x := &trial{figures: measure(r, t.renamed), findings: r.Findings}
	now := t.c.Now.Result.Findings
	x.now = invert(finding.Match(now, x.findings, t.renamed), len(now))
	x.was = invert(finding.Match(t.was, x.findings, t.renamed), len(t.was))
	return x, nil
}

// invert turns "the like of each of these" into "the like of each of those".
func invert(like []int, n int) []int {
	list := make([]int, n)
	for i := range list {
		list[i] = -1
	}
	for i, j := range like {
		if j >= 0 {
			list[j] = i
		}
	}
	return list
}

// cause lists the edits without which a figure would be another.
func (t *tracer) cause(was, now state, of func(*trial) state) Cause {
	if t.trials == nil {
		return Cause{Edits: slices.Concat(t.tried, t.fixed)}
	}
	moves := func(taken []int) bool { x := t.without(taken); return x != nil && of(x).other(now) }
	var c Cause
	for _, i := range t.tried {
		if moves([]int{i}) {
			c.Edits = append(c.Edits, i)
		}
	}
	if len(c.Edits) == 0 && moves(t.tried) { // no one of them: the fewest that it takes
		c.Edits = slices.Clone(t.tried)
		for _, i := range t.tried {
			if fewer := slices.DeleteFunc(slices.Clone(c.Edits), func(e int) bool { return e == i }); moves(fewer) {
				c.Edits = fewer
			}
		}
		c.Any = true
	}
	if len(t.fixed) > 0 { // what is left when all others are taken back
		if x := t.without(t.tried); x != nil && of(x).other(was) {
			c.Edits = append(c.Edits, t.fixed...)
		}
	}
	return c
}

// without is the later version without some edits; nil where it cannot be had, or would
// take too long.
func (t *tracer) without(taken []int) *trial {
	key := fmt.Sprint(taken)
	x, is := t.trials[key]
	if is || len(t.trials) > 2*t.most {
		return x
	}
	var back []patch
	for _, i := range taken {
		back = append(back, t.c.Edits[i].back...)
	}
	x, err := t.trial(back)
	if err != nil {
		x = nil
	}
	t.trials[key] = x
	return x
}

// verdicts fills in the causes of verdicts.
func (t *tracer) verdicts() {
	now := map[*finding.Finding]int{}
	for i := range t.c.Now.Result.Findings {
		now[&t.c.Now.Result.Findings[i]] = i
	}
	was := map[*finding.Finding]int{}
	for i := range t.was {
		was[&t.was[i]] = i
	}
	for i := range t.c.Verdicts {
		v := &t.c.Verdicts[i]
		figure := v.Status == Worsened || v.Status == Bettered
		v.Cause = t.cause(stateOf(v.Was, figure), stateOf(v.Now, figure), func(x *trial) state {
			like := -1
			if v.Now != nil {
				like = x.now[now[v.Now]]
			} else {
				like = x.was[was[v.Was]]
			}
			if like < 0 {
				return state{}
			}
			return stateOf(&x.findings[like], figure)
		})
	}
}

// state is what is compared between the later version and a trial: a figure, and of a
// finding how it stands.
type state struct {
	standing int
	quantity.Maybe
}

func (a state) other(b state) bool { return a.standing != b.standing || other(a.Maybe, b.Maybe) }

// stateOf is how a finding stands, nil where there is none: its severity, whether it is
// waived, and its figure where it is about that.
func stateOf(f *finding.Finding, figure bool) state {
	if f == nil {
		return state{}
	}
	s := state{standing: 1 + int(f.Severity)}
	if figure {
		s.Maybe = known(f)
	}
	if f.Waived {
		s.standing += 10
	}
	return s
}

func known(f *finding.Finding) quantity.Maybe {
	return quantity.Maybe{Value: f.Percent, Known: f.HasPercent}
}
