package report

import (
	"fmt"
	"io"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"trefoil/lint/compare"
	"trefoil/lint/finding"
	"trefoil/lint/source"
)

// consequence is what hangs on one edit, or on several of them.
type consequence struct {
	cause    compare.Cause
	effects  []*compare.Effect
	verdicts []verdictGroup
}

// verdictGroup are the verdicts of one rule that are alike but for their subjects.
type verdictGroup []*compare.Verdict

func (g verdictGroup) subjects() []string {
	var list []string
	for _, v := range g {
		list = append(list, v.Finding().Subject)
	}
	return list
}

// became says what became of a finding, and that a waiver accepts it all the same.
func became(v *compare.Verdict) string {
	if v.Finding().Waived && v.Status != compare.Waived {
		return v.Status.String() + " (waived)"
	}
	return v.Status.String()
}

// join puts a verdict to its like.
func join(list []verdictGroup, v *compare.Verdict) []verdictGroup {
	at := slices.IndexFunc(list, func(g verdictGroup) bool {
		f := g[0].Finding()
		return became(g[0]) == became(v) && f.Rule == v.Finding().Rule && f.Severity == v.Finding().Severity
	})
	if at < 0 {
		return append(list, verdictGroup{v})
	}
	list[at] = append(list[at], v)
	return list
}

// consequences sorts effects and verdicts by what they hang on; what is not known comes last.
func consequences(c *compare.Comparison, show finding.Severity) []consequence {
	var list []consequence
	under := func(cause compare.Cause) *consequence {
		for i := range list {
			if list[i].cause.Any == cause.Any && slices.Equal(list[i].cause.Edits, cause.Edits) {
				return &list[i]
			}
		}
		list = append(list, consequence{cause: cause})
		return &list[len(list)-1]
	}
	for i := range c.Effects {
		x := under(c.Effects[i].Cause)
		x.effects = append(x.effects, &c.Effects[i])
	}
	for i := range c.Verdicts {
		v := &c.Verdicts[i]
		if v.Finding().Severity < show {
			continue
		}
		x := under(v.Cause)
		x.verdicts = join(x.verdicts, v)
	}
	slices.SortStableFunc(list, func(a, b consequence) int {
		if (len(a.cause.Edits) == 0) != (len(b.cause.Edits) == 0) {
			return len(b.cause.Edits) - len(a.cause.Edits)
		}
		return slices.Compare(a.cause.Edits, b.cause.Edits)
	})
	return list
}

// causeWords says on which edits something hangs: "1", "1 and 3", "1 or 2, any one being enough".
func causeWords(c compare.Cause) string {
	if len(c.Edits) == 0 {
		return "not traced to an edit"
	}
	list := make([]string, len(c.Edits))
	for i, e := range c.Edits {
		list[i] = strconv.Itoa(e + 1)
	}
	if len(list) > 8 {
		list = append(list[:7:7], fmt.Sprintf("%d more", len(list)-7))
	}
	if c.Any {
		return enumerate(list, "or") + ", any one being enough"
	}
	return enumerate(list, "and")
}

// enumerate joins words with commas and a last word between them.
func enumerate(list []string, word string) string {
	if len(list) < 2 {
		return strings.Join(list, "")
	}
	return strings.Join(list[:len(list)-1], ", ") + " " + word + " " + list[len(list)-1]
}

var (
	numbered = regexp.MustCompile(`^(.*?)(\d{1,9})(\D*)$`)
	plain    = regexp.MustCompile(`^[\pL\pN_.\-\[\]]+$`)
)

// names lists blocks shortly, in the order of their numbers: "north[1] to north[4], hall".
func names(subjects []string, markup func(string) string) string {
	type name struct {
		text, head, tail string
		n                int
	}
	list := make([]name, 0, len(subjects))
	for _, s := range subjects {
		_, text, has := strings.Cut(s, ".")
		if !has {
			text = wholeText
		}
		x := name{text: text, head: text}
		if m := numbered.FindStringSubmatch(text); m != nil {
			x.head, x.tail = m[1], m[3]
			x.n, _ = strconv.Atoi(m[2])
		}
		list = append(list, x)
	}
	first := map[string]int{} // heads keep the order in which they come
	for i, x := range list {
		if _, is := first[x.head+"\x00"+x.tail]; !is {
			first[x.head+"\x00"+x.tail] = i
		}
	}
	slices.SortStableFunc(list, func(a, b name) int {
		if d := first[a.head+"\x00"+a.tail] - first[b.head+"\x00"+b.tail]; d != 0 {
			return d
		}
		return a.n - b.n
	})
	var out []string
	for i := 0; i < len(list); {
		j := i
		for j+1 < len(list) && list[j+1].head == list[i].head && list[j+1].tail == list[i].tail && list[j+1].n == list[j].n+1 {
			j++
		}
		if j-i >= 2 {
			out = append(out, markup(quoted(list[i].text))+" to "+markup(quoted(list[j].text)))
		} else {
			for _, x := range list[i : j+1] {
				out = append(out, markup(quoted(x.text)))
			}
		}
		i = j + 1
	}
	if len(out) > 8 {
		out = append(out[:7:7], fmt.Sprintf("%d more", len(out)-7))
	}
	return strings.Join(out, ", ")
}

// wholeText stands for the design as a whole.
const wholeText = "the whole design"

// quoted puts a name in quotes where it is not a plain word.
func quoted(name string) string {
	if plain.MatchString(name) || name == wholeText {
		return name
	}
	return strconv.Quote(name)
}

// label is a subject for people: run north[1], route "roof 1".
func label(subject string, markup func(string) string) string {
	kind, name, has := strings.Cut(subject, ".")
	if !has {
		return kind
	}
	if on, whom, is := strings.Cut(name, " on "); kind == "waiver" && is {
		return "waiver of " + on + " on " + label(whom, markup)
	}
	return strings.ReplaceAll(kind, "_", " ") + " " + markup(quoted(name))
}

// flags in the words of the trade, when they turn true and false.
var turns = map[string][2]string{
	"lid": {"got a lid", "lost its lid"}, "sun": {"lies in the sun now", "lies in the sun no longer"}, "vertical": {"is vertical now", "is vertical no longer"},
}

// editWords says what an edit does.
func editWords(e *compare.Edit, markup func(string) string) string {
	who := label(e.Subject, markup)
	kind, _, _ := strings.Cut(e.Subject, ".")
	if len(e.Subjects) > 0 {
		who = strings.ReplaceAll(kind, "_", " ") + " " + names(e.Subjects, markup)
	}
	several := func(list []string, one, many string) string {
		if len(list) == 1 {
			return label(list[0], markup) + " " + one
		}
		return fmt.Sprintf("%s %s %s", strings.ReplaceAll(kind, "_", " "), names(list, markup), many)
	}
	switch e.Change {
	case compare.Added:
		return several(e.Added, "is new", "are new") + contentWords(e, markup)
	case compare.Removed:
		return several(e.Removed, "is gone", "are gone") + contentWords(e, markup)
	case compare.Renamed:
		return label(e.Was, markup) + " is called " + who + " now"
	}
	if len(e.Properties) == 1 && e.Was == "" && len(e.Added)+len(e.Removed) == 0 {
		if p := &e.Properties[0]; p.Part == "" && len(e.Subjects) == 0 && turns[p.Name][0] != "" && e.Change == compare.Changed {
			switch {
			case p.Now == "true":
				return who + " " + turns[p.Name][0]
			case p.Was == "true":
				return who + " " + turns[p.Name][1]
			}
		}
	}
	var list []string
	if e.Was != "" {
		list = append(list, "it was called "+label(e.Was, markup))
	}
	if len(e.Added) > 0 {
		list = append(list, names(e.Added, markup)+" new")
	}
	if len(e.Removed) > 0 {
		list = append(list, names(e.Removed, markup)+" gone")
	}
	most := 0
	for i := range e.Properties {
		most = max(most, len(e.Properties[i].Subjects))
	}
	for i := range e.Properties {
		if i == 8 {
			list = append(list, fmt.Sprintf("%d more", len(e.Properties)-i))
			break
		}
		p := &e.Properties[i]
		s := propertyWords(p, markup)
		if len(p.Subjects) < most || len(p.Subjects) == 1 && len(e.Subjects) == 0 && p.Subjects[0] != e.Subject {
			s += " of " + names(p.Subjects, markup)
		}
		list = append(list, s)
	}
	s := who + ": " + strings.Join(list, "; ")
	if e.Change == compare.Follows {
		s += ", which follows from another edit"
	}
	return s
}

// contentWords say shortly what a block states that is new or gone.
func contentWords(e *compare.Edit, markup func(string) string) string {
	var list []string
	for i := range e.Properties {
		p := &e.Properties[i]
		s := p.Was + p.Now
		if s == "" {
			continue
		}
		if len(list) == 3 {
			list = append(list, "and more")
			break
		}
		if cut := []rune(s); len(cut) > 160 {
			s = string(cut[:157]) + "..."
		}
		if s = markup(s); p.Part != "" {
			s = p.Part + " " + s
		}
		list = append(list, s)
	}
	if len(list) == 0 {
		return ""
	}
	return ": " + strings.Join(list, "; ")
}

func propertyWords(p *compare.Property, markup func(string) string) string {
	part := ""
	if p.Part != "" {
		kind, key, has := strings.Cut(p.Part, " ")
		if part = kind; has {
			part += " " + markup(strings.TrimPrefix(key, "route."))
		}
	}
	value := func(s string, unusable bool) string {
		switch {
		case unusable:
			return "something that cannot be used"
		case s == "":
			return "not stated"
		}
		return markup(s)
	}
	switch {
	case p.Name == "" && p.Now != "":
		return fmt.Sprintf("%s new (%s)", part, markup(p.Now))
	case p.Name == "":
		return fmt.Sprintf("%s gone (%s)", part, markup(p.Was))
	}
	name := p.Name
	if part != "" {
		name = part + " " + name
	}
	return fmt.Sprintf("%s %s -> %s", name, value(p.Was, false), value(p.Now, p.Unusable))
}

// effectWords says how a figure moved: whose, from what to what.
func effectWords(e *compare.Effect, markup func(string) string) string {
	var who []string
	alike := true
	fromTo := func(m *compare.Move) string {
		a, b := e.Figure.Unit.Maybe(m.Was), e.Figure.Unit.Maybe(m.Now)
		if m.Was.Known && m.Now.Known {
			a, b = e.Figure.Unit.Apart(m.Was.Value, m.Now.Value)
		}
		return a + " -> " + b
	}
	for i := range e.Moves {
		who = append(who, e.Moves[i].Subject)
		alike = alike && fromTo(&e.Moves[i]) == fromTo(&e.Moves[0])
	}
	most, least := &e.Moves[0], &e.Moves[len(e.Moves)-1]
	share, known := most.Share()
	known = known && !slices.Contains([]string{"%", "", "degC"}, e.Figure.Unit.Symbol)
	s := names(who, markup) + ": "
	if !alike {
		s += "most " + names([]string{most.Subject}, markup) + ", "
	}
	s += fromTo(most)
	if known {
		all := percents(share)
		if other, is := least.Share(); is && percents(other) != all {
			all = percents(other) + " to " + all
		}
		s += " (" + all + " %)"
	}
	return s
}

func percents(x float64) string {
	s := strconv.FormatFloat(x, 'f', 1, 64)
	if s == "0.0" || s == "-0.0" {
		s = strconv.FormatFloat(x, 'g', 2, 64)
	}
	if x > 0 {
		s = "+" + s
	}
	return s
}

// groupWords says what became of the findings of one rule: "new error run-overloaded: north[1] to north[4]".
func groupWords(g verdictGroup, markup func(string) string) string {
	f := g[0].Finding()
	return fmt.Sprintf("%s %s %s: %s", became(g[0]), f.Severity, f.Rule, names(g.subjects(), markup))
}

// verdictTally counts verdicts in words: "2 new errors, 1 worsened warning, 1 cleared error".
func verdictTally(c *compare.Comparison, show finding.Severity) string {
	type key struct {
		status   compare.Status
		severity finding.Severity
	}
	count := map[key]int{}
	for i := range c.Verdicts {
		count[key{c.Verdicts[i].Status, c.Verdicts[i].Finding().Severity}]++
	}
	var list []string
	for s := compare.New; s <= compare.Cleared; s++ {
		for _, severity := range []finding.Severity{finding.Error, finding.Warning, finding.Note} {
			if n := count[key{s, severity}]; n > 0 && severity >= show {
				list = append(list, many(n, s.String()+" "+severity.String()))
			}
		}
	}
	if len(list) == 0 {
		return "no finding moved"
	}
	return strings.Join(list, ", ")
}

func asIs(s string) string { return s }

// WriteComparison writes a comparison for people.
func WriteComparison(w io.Writer, c *compare.Comparison, show finding.Severity) error {
	var b strings.Builder
	line := func(format string, args ...any) { b.WriteString(Clean(fmt.Sprintf(format, args...)) + "\n") }
	line("%s against %s", c.Now.Name, c.Was.Name)
	for _, s := range caveats(c) {
		line("%s", s)
	}
	b.WriteString("\n")
	if len(c.Edits) == 0 {
		line("No block says anything else.")
	}
	for i := range c.Edits {
		e := &c.Edits[i]
		if e.At.Known() {
			line("%3d  %s: %s", i+1, place(editPlace(e)), editWords(e, asIs))
		} else {
			line("%3d  %s (was at %s)", i+1, editWords(e, asIs), place(e.WasAt))
		}
	}
	for _, x := range consequences(c, show) {
		b.WriteString("\n")
		line("%s", consequenceHead(c, &x, asIs))
		width := 0
		for _, e := range x.effects {
			width = max(width, len(e.Figure.Label))
		}
		for _, e := range x.effects {
			line("     %-*s  %s", width, e.Figure.Label, effectWords(e, asIs))
		}
		for _, g := range x.verdicts {
			v, f := g[0], g[0].Finding()
			head, text := paint[f.Severity].Sprint(became(v)+" "+f.Severity.String()+":"), Clean(fmt.Sprintf("%s [%s]", f.Message, f.Rule))
			if v.Now != nil {
				fmt.Fprintf(&b, "     %s: %s %s\n", place(f.At), head, text)
			} else { // whose place is in the earlier version
				fmt.Fprintf(&b, "     %s %s (was at %s)\n", head, text, place(f.At))
			}
			if f.Next != "" && v.Now != nil && !f.Waived {
				line("         next: %s", f.Next)
			}
			if len(g) > 1 {
				line("         the same of %s", names(g[1:].subjects(), asIs))
			}
		}
	}
	b.WriteString("\n")
	for i := range c.Totals {
		t := &c.Totals[i]
		line("%-24s %s", t.Label, totalWords(t, asIs))
	}
	line("%s; %s as before", verdictTally(c, show), many(c.Same, "finding"))
	fmt.Fprintf(&b, "%s\n", dim.Sprint(Caution))
	_, err := io.WriteString(w, b.String())
	return err
}

// editPlace is where an edit is seen: in the later version, else in the earlier one.
func editPlace(e *compare.Edit) source.Range {
	if len(e.Properties) == 1 && e.Properties[0].At.Known() {
		return e.Properties[0].At
	}
	if e.At.Known() {
		return e.At
	}
	return e.WasAt
}

func consequenceHead(c *compare.Comparison, x *consequence, markup func(string) string) string {
	if len(x.cause.Edits) == 1 {
		e := x.cause.Edits[0]
		short := c.Edits[e]
		if short.Change == compare.Added || short.Change == compare.Removed {
			short.Properties = nil // they stand with the edit
		}
		return fmt.Sprintf("by %d: %s", e+1, editWords(&short, markup))
	}
	if len(x.cause.Edits) == 0 {
		return "what follows"
	}
	return "by " + causeWords(x.cause)
}

func totalWords(t *compare.Total, markup func(string) string) string {
	a, b := t.Unit.Maybe(t.Was), t.Unit.Maybe(t.Now)
	if t.Was == t.Now || !t.Was.Known && !t.Now.Known {
		return b
	}
	if t.Was.Known && t.Now.Known {
		a, b = t.Unit.Apart(t.Was.Value, t.Now.Value)
	}
	s := a + " -> " + b
	if t.Whose != "" {
		s += ", " + label(t.Whose, markup)
	}
	return s
}

// caveats say what of the comparison does not hold.
func caveats(c *compare.Comparison) []string {
	var list []string
	for _, s := range []*compare.Side{&c.Was, &c.Now} {
		if s.Result == nil {
			list = append(list, fmt.Sprintf("%s holds no design here: %s", s.Name, s.Absent))
			continue
		}
		if !s.Broken() {
			continue
		}
		for i := range s.Result.Review.Design.Faults {
			f := &s.Result.Review.Design.Faults[i]
			if f.Rule == "broken-text" || i == len(s.Result.Review.Design.Faults)-1 {
				list = append(list, fmt.Sprintf("%s cannot be read whole (%s: %s): its blocks that could not be read count as not there, and what hangs on them is not compared", s.Name, place(f.At), f.Message))
				break
			}
		}
	}
	if c.Untraced != "" {
		list = append(list, "Causes are not traced: "+c.Untraced)
	}
	return list
}
