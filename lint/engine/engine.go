// Package engine runs rules over an assessed design, applies waivers and sorts
// the findings. It is handed its rules; it knows none.
package engine

import (
	"fmt"
	"runtime"
	"slices"
	"strings"
	"sync"
	"time"

	"trefoil/lint/assess"
	"trefoil/lint/design"
	"trefoil/lint/finding"
	"trefoil/lint/fix"
	"trefoil/lint/source"
	"trefoil/ratings/quantity"
)

// Rule is one thing that a review looks at.
type Rule struct {
	Name     string // names the fault, not the cure
	Summary  string // one line
	Severity finding.Severity
	Clause   Clause
	Since    string
	Doc      Doc
	Check    func(*Review)
	// Text marks a rule about the text itself: its findings cannot be waived.
	Text bool
	// Wide marks a rule that sums up over a whole design, or looks at nothing that the choice of
	// a cable or its laying moves: it is not run over a part of a design.
	Wide bool
	// Idle marks a rule that cannot be run, which is told elsewhere: its waivers are left alone.
	Idle bool
}

// Clause is where a rule comes from. Own is set for our own judgement, and says why.
type Clause struct {
	Publication, Edition, Number string
	Own                          string
}

// String prints "IEC 60364-4-43:2008, clause 433.1" or "own judgement: ...".
func (c Clause) String() string {
	if c.Own != "" {
		return "own judgement: " + c.Own
	}
	s := c.Publication
	if c.Edition != "" {
		s += ":" + c.Edition
	}
	if c.Number != "" {
		s += ", " + c.Number
	}
	return s
}

// Doc is a rule's page. Bad and good examples are the rule's own test cases.
type Doc struct {
	Checks  string // what it compares
	Why     string // what goes wrong otherwise
	Accepts string // what a waiver's accepts is held against, "" when it takes none
	Blind   string // what it does not see
	Sources string
	Bad     string // name of the case that shows it
	Good    string
}

// Review is what a rule sees.
type Review struct {
	*assess.Review
	Today time.Time

	rule   *Rule
	found  []finding.Finding
	most   int // findings that are told
	untold int // those beyond
}

// maxFound bounds the findings of one rule; of more it is told how many there are. Where a
// design brings so many rules of its own that there are more than usualRules, all of them
// share maxShared.
const (
	maxFound   = 20_000
	usualRules = 100
	maxShared  = 500_000
)

// most is how many findings are told of each of so many rules.
func most(rules int) int {
	if rules <= usualRules {
		return maxFound
	}
	return max(maxShared/rules, 1)
}

// Day is today as a date, at midnight of UTC.
func (r *Review) Day() time.Time { return dateOf(r.Today) }

// Find reports a finding of the rule that runs; rule and severity are filled in
// where they are not set.
func (r *Review) Find(f finding.Finding) {
	if len(r.found) == r.most {
		r.untold++
		return
	}
	f.Rule = r.rule.Name
	if len(r.found) == cap(r.found) {
		r.found = slices.Grow(r.found, max(len(r.found), 16)) // twice as many: they are large
	}
	r.found = append(r.found, f)
}

// Full says that what a rule finds further is counted alone, so that no words have to be
// made for it.
func (r *Review) Full() bool { return len(r.found) == r.most }

// told gives the findings, and where there were too many how many are left out. No waiver
// covers that.
func (r *Review) told() []finding.Finding {
	if r.untold > 0 {
		r.found = append(r.found, finding.Finding{
			Rule: r.rule.Name, Severity: finding.Error, At: r.found[r.most-1].At,
			Message: fmt.Sprintf("%d more findings of %s are not told, for it finds more than %d", r.untold, r.rule.Name, r.most), Next: "mend what the others have in common first",
		})
	}
	return r.found
}

// At builds a finding of the rule's own severity.
func (r *Review) At(at source.Range, subject, message, next string) finding.Finding {
	return finding.Finding{Severity: r.rule.Severity, At: at, Subject: subject, Message: message, Next: next}
}

// Result is a design's findings and counts.
type Result struct {
	Review   *assess.Review
	Findings []finding.Finding
	Runs     int
	Assessed int
}

// Options of a run of the rules.
type Options struct {
	Today    time.Time // for waivers; the local date
	Parallel int       // rules at a time; 0 for as many as processors
}

// Check runs the rules over an assessed design.
func Check(v *assess.Review, rules []*Rule, opt Options) *Result {
	found := make([][]finding.Finding, len(rules))
	limit := opt.Parallel
	if limit <= 0 {
		limit = runtime.GOMAXPROCS(0)
	}
	slots := make(chan struct{}, limit)
	var wg sync.WaitGroup
	for i, rule := range rules {
		slots <- struct{}{}
		wg.Go(func() {
			defer func() { <-slots }()
			found[i] = runRule(v, rule, opt.Today, most(len(rules)))
		})
	}
	wg.Wait()
	res := &Result{Review: v, Findings: slices.Concat(found...), Runs: len(v.Runs)}
	for i := range v.Runs {
		if v.Runs[i].CapacityA.Known && v.Runs[i].LoadA.Known && v.Runs[i].Impedance.Known {
			res.Assessed++
		}
	}
	waive(res, rules, opt.Today)
	finding.Sort(res.Findings)
	finding.Identify(res.Findings)
	return res
}

// Part runs the rules over what the review is limited to, and gives the errors and
// warnings there, waivers applied. What is told of waivers themselves, and what rules say
// that look at the whole design, is not among them.
func Part(v *assess.Review, rules []*Rule, today time.Time) []finding.Finding {
	res := &Result{Review: v}
	for _, rule := range rules {
		if !rule.Wide {
			res.Findings = append(res.Findings, runRule(v, rule, today, maxFound)...)
		}
	}
	if len(v.Design.Waivers) > 0 {
		waive(res, rules, today)
	}
	return slices.DeleteFunc(swallow(res.Findings), func(f finding.Finding) bool {
		return f.Severity == finding.Note || f.Rule == waiverStale
	})
}

// runRule runs one rule; a rule that panics becomes a finding about itself.
func runRule(v *assess.Review, rule *Rule, today time.Time, most int) (found []finding.Finding) {
	r := &Review{Review: v, Today: today, rule: rule, most: most}
	defer func() {
		if p := recover(); p != nil {
			at := source.Range{}
			subject := ""
			if site := v.Design.Site(); site != nil {
				at, subject = site.At, site.Subject()
			}
			found = append(r.told(), finding.Finding{
				Rule: "internal-fault", Severity: finding.Error, At: at, Subject: subject,
				Message: fmt.Sprintf("rule %s could not be worked through: %v", rule.Name, p),
				Next:    "this is a fault of the program; what the rule checks is not checked here",
			})
		}
	}()
	if rule.Check != nil { // waiver-stale is found by the engine itself
		rule.Check(r)
	}
	return r.told()
}

// The rule that tells what is wrong with waivers.
const waiverStale = "waiver-stale"

// waive marks the findings that a waiver of the design accepts, drops what a
// greater finding says already, and tells waivers that do not hold.
func waive(res *Result, rules []*Rule, today time.Time) {
	byName := map[string]*Rule{}
	names := make([]string, 0, len(rules))
	for _, r := range rules {
		byName[r.Name] = r
		names = append(names, r.Name)
	}
	stale := byName[waiverStale]
	about := &Review{Review: res.Review, rule: stale, most: maxFound}
	tell := func(w *design.Waiver, at source.Range, message, next string, fixes ...finding.Fix) {
		if stale == nil || res.Review.Design.Broken {
			return
		}
		about.Find(finding.Finding{Severity: stale.Severity, At: at, Subject: w.Subject(), Message: message, Next: next, Fixes: fixes})
	}
	type key struct{ rule, subject string }
	byKey := map[key][]int{}
	untold := map[string]bool{} // rules of which not all findings are told: a waiver may cover one of those
	sets := map[design.Link][]string{}
	if len(res.Review.Design.Waivers) > 0 {
		for i := range res.Findings {
			f := &res.Findings[i]
			byKey[key{f.Rule, f.Subject}] = append(byKey[key{f.Rule, f.Subject}], i)
			untold[f.Rule] = untold[f.Rule] || f.Subject == ""
		}
	}
	for _, w := range res.Review.Design.Waivers {
		rule := byName[w.Name]
		switch {
		case rule == nil:
			tell(w, w.At, fmt.Sprintf("waiver names %q, which is no rule", w.Name), design.Nearest(w.Name, names), design.RightWord(w.At, w.Name, design.Sure(w.Name, names))...)
			continue
		case rule.Idle:
			continue
		case rule.Text || rule.Name == waiverStale:
			tell(w, w.At, fmt.Sprintf("%s cannot be waived", w.Name), "mend what it finds, and remove the waiver")
			continue
		case strings.TrimSpace(w.Reason.Value) == "":
			if w.Reason.Origin != design.Faulty {
				tell(w, w.At, fmt.Sprintf("waiver of %s gives no reason, so it does not count", w.Name), "add reason = \"...\"")
			}
			continue
		case w.On.Origin != design.Stated || w.Until.Origin == design.Faulty || w.Accepts.Origin == design.Faulty:
			continue // told where it is written
		}
		if w.Until.Known() {
			if day, err := time.Parse(time.DateOnly, w.Until.Value); err == nil && dateOf(today).After(day) {
				tell(w, w.Until.At, fmt.Sprintf("waiver of %s ended on %s", w.Name, w.Until.Value), "mend what it covers, or have it approved anew")
				continue
			}
		}
		var hits []int
		for _, subject := range subjects(res.Review.Design, w.On, sets) {
			hits = append(hits, byKey[key{w.Name, subject}]...)
		}
		if len(hits) == 0 && untold[w.Name] {
			continue
		}
		if len(hits) == 0 {
			tell(w, w.At, fmt.Sprintf("nothing is found that this waiver of %s on %s covers", w.Name, w.On.Subject()), "remove the waiver", finding.Fix{Name: "remove", Message: "the waiver goes", Edits: fix.Cut(w.Whole)})
			continue
		}
		by := w.Reason.Value
		if w.ApprovedBy.Known() {
			by += " (" + w.ApprovedBy.Value + ")"
		}
		for _, i := range hits {
			f := &res.Findings[i]
			if w.Accepts.Known() {
				switch {
				case !f.HasPercent:
					tell(w, w.Accepts.At, fmt.Sprintf("waiver of %s on %s has accepts, and what is found has no figure that it could be held against: %s", w.Name, f.Subject, f.Message), "mend it, or waive it without accepts")
					continue
				case f.Percent > w.Accepts.Value*(1+1e-9):
					got, limit := percent(f.Percent, w.Accepts.Value)
					tell(w, w.Accepts.At, fmt.Sprintf("waiver of %s on %s accepts %s, and it is %s now", w.Name, f.Subject, limit, got), "mend it, or have the new figure approved")
					continue
				}
			}
			f.Waived, f.Waiver = true, by
		}
	}
	res.Findings = swallow(append(res.Findings, about.told()...))
}

// swallow drops device-above-capacity of a run that is told as overloaded already.
func swallow(list []finding.Finding) []finding.Finding {
	over := map[string]bool{}
	for i := range list {
		if list[i].Rule == "run-overloaded" && !list[i].Waived {
			over[list[i].Subject] = true
		}
	}
	return slices.DeleteFunc(list, func(f finding.Finding) bool {
		return f.Rule == "device-above-capacity" && over[f.Subject]
	})
}

func dateOf(t time.Time) time.Time {
	return time.Date(t.Year(), t.Month(), t.Day(), 0, 0, 0, 0, time.UTC)
}

// subjects are the names a waiver's on stands for: a block, or every copy of a set, which is
// looked for once.
func subjects(d *design.Design, on design.Link, sets map[design.Link][]string) []string {
	if on.Kind == "site" {
		if s := d.Site(); s != nil {
			return []string{s.Subject()}
		}
	}
	if !on.Set {
		return []string{on.Subject()}
	}
	set := design.Link{Kind: on.Kind, Name: on.Name}
	list, known := sets[set]
	if !known {
		list = d.Copies(set)
		sets[set] = list
	}
	return list
}

func percent(a, b float64) (string, string) { return quantity.Percent.Apart(a, b) }
