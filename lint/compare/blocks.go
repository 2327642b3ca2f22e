package compare

import (
	"bytes"
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"

	"trefoil/lint/design"
	"trefoil/lint/engine"
	"trefoil/lint/source"
	"trefoil/lint/syntax"
)

func (s *Side) design() *design.Design {
	if s.Result == nil {
		return &design.Design{}
	}
	return s.Result.Review.Design
}

// block is one block of a design with what it states.
type block struct {
	*design.Object
	subject string // its own name among all blocks
	parts   []design.Part
	like    *block // in the other version
}

// set is the subject of the block of the text that a copy comes of.
func (b *block) set() string {
	if b.CopyOf == "" {
		return b.subject
	}
	return b.Kind + "." + b.CopyOf
}

func blocksOf(d *design.Design) []*block {
	var list []*block
	seen := map[string]int{}
	d.Each(func(o *design.Object, of any) {
		b := &block{Object: o, subject: o.Subject(), parts: design.Parts(of)}
		if w, is := of.(*design.Waiver); is { // several may stand for one rule
			b.subject += " on " + w.On.Subject()
		}
		seen[b.subject]++
		if n := seen[b.subject]; n > 1 {
			b.subject = fmt.Sprintf("%s, number %d", b.subject, n)
		}
		list = append(list, b)
	})
	return list
}

// pairing is which block of one version is which of the other.
type pairing struct {
	was, now      []*block
	names         map[string]string // new name by old one, of what was renamed
	before, after *design.Design
}

// renamed gives the name that a subject of the earlier version has in the later one.
func (p *pairing) renamed(subject string) string { return cmp.Or(p.names[subject], subject) }

// match finds the blocks of one version in the other: by name, and those left over by
// what they say, where that is the same but for the name.
func match(was, now *design.Design) *pairing {
	p := &pairing{names: map[string]string{}, before: was, after: now}
	syntax.Together(func() { p.was = blocksOf(was) }, func() { p.now = blocksOf(now) })
	byName := make(map[string]*block, len(p.now))
	for _, b := range p.now {
		byName[b.subject] = b
	}
	for _, b := range p.was {
		if n := byName[b.subject]; n != nil {
			b.like, n.like = n, b
		}
	}
	for _, kind := range []string{"site", "supply"} { // a design has one
		a, b := p.lone(p.was, kind), p.lone(p.now, kind)
		if a != nil && b != nil {
			p.pair(a, b)
		}
	}
	for found := true; found; { // a new name of one lets those that refer to it be found
		found = false
		left := map[string][]*block{}
		for _, b := range p.was {
			if b.like == nil {
				k := p.says(b, p.renamed)
				left[k] = append(left[k], b)
			}
		}
		for _, b := range p.now {
			if b.like != nil || len(left) == 0 {
				continue
			}
			k := p.says(b, func(s string) string { return s })
			if list := left[k]; len(list) > 0 {
				left[k] = list[1:]
				p.pair(list[0], b)
				found = true
			}
		}
	}
	return p
}

// lone gives the first block of a kind where it has no like yet.
func (p *pairing) lone(list []*block, kind string) *block {
	i := slices.IndexFunc(list, func(b *block) bool { return b.Kind == kind })
	if i < 0 || list[i].like != nil {
		return nil
	}
	return list[i]
}

func (p *pairing) pair(was, now *block) {
	was.like, now.like = now, was
	p.names[was.subject] = now.subject
	if was.CopyOf != "" && now.CopyOf != "" {
		p.names[was.set()] = now.set()
	}
}

// says is all that a block says but its name, with the names of references as they are now.
func (p *pairing) says(b *block, renamed func(string) string) string {
	var s strings.Builder
	fmt.Fprintf(&s, "%s %t", b.Kind, b.CopyOf != "")
	for _, part := range b.parts {
		fmt.Fprintf(&s, "\n%s %q", part.Kind, renamed(part.Key))
		for i := range part.Facts {
			f := &part.Facts[i]
			fmt.Fprintf(&s, "\n%s %s", f.Name, text(f, renamed))
		}
	}
	return s.String()
}

// text is the value of a fact with its references renamed.
func text(f *design.Fact, renamed func(string) string) string {
	if len(f.Links) == 0 || f.Value == "" {
		return f.Value
	}
	if !f.List {
		return renamed(f.Links[0].Subject())
	}
	var list []string
	for _, l := range f.Links {
		list = append(list, renamed(l.Subject()))
	}
	return "[" + strings.Join(list, ", ") + "]"
}

// edits lists what changed, by block of the text, in the order of the later version, what
// is gone last.
func (p *pairing) edits() []Edit {
	type place struct {
		file  string
		start uint32
	}
	of := func(b *block) place { return place{b.Whole.File.Name, b.Whole.Start} }
	index := map[place]int{}
	var list []Edit
	entry := func(b *block, was *block) *Edit {
		i, is := index[of(b)]
		if !is {
			i = len(list)
			index[of(b)] = i
			e := Edit{Subject: b.set(), At: b.At, Change: Changed}
			if was != nil {
				e.WasAt = was.At
				if was.set() != e.Subject {
					e.Was, e.Change = was.set(), Renamed
				}
				if b.Whole.Text() == was.Whole.Text() {
					e.Change = Follows
				} else {
					e.back = []patch{{b.Whole, was.Whole.Text()}}
				}
			}
			list = append(list, e)
		}
		return &list[i]
	}
	partner := map[place]*block{} // of a block of the text, by any copy of it
	wasPartner := map[place]*block{}
	for _, b := range p.now {
		if b.like != nil {
			if partner[of(b)] == nil {
				partner[of(b)] = b.like
			}
			if wasPartner[of(b.like)] == nil {
				wasPartner[of(b.like)] = b
			}
		}
	}
	for _, b := range p.now {
		if b.like == nil {
			e := entry(b, partner[of(b)])
			if partner[of(b)] == nil {
				e.Change, e.back = Added, []patch{{b.Whole, ""}}
				e.take(content(b, func(x *Property) *string { return &x.Now }, func(x *Property) *source.Range { return &x.At }), b.subject)
			}
			e.Added = append(e.Added, b.subject)
			continue
		}
		changes := p.properties(b.like, b)
		if b.like.set() == b.set() && b.like.Name != b.Name { // another key of a copy
			changes = append(changes, Property{Name: "copy", Was: b.like.Subject(), Now: b.Subject(), WasAt: b.like.At, At: b.At})
		}
		if len(changes) == 0 && (b.like.set() == b.set() || b.Kind == "waiver") {
			continue
		}
		e := entry(b, b.like)
		e.take(changes, b.subject)
		if len(e.Properties) > 0 && e.Change == Renamed {
			e.Change = Changed
		}
	}
	gone := map[place]int{}
	for _, b := range p.was {
		if b.like != nil {
			continue
		}
		if now := wasPartner[of(b)]; now != nil { // a set with fewer copies
			e := entry(now, b)
			e.Removed = append(e.Removed, b.subject)
			continue
		}
		i, is := gone[of(b)]
		if !is {
			i = len(list)
			gone[of(b)] = i
			list = append(list, Edit{Subject: b.set(), WasAt: b.At, Change: Removed, back: p.insert(b.Whole.Text())})
		}
		list[i].Removed = append(list[i].Removed, b.subject)
		list[i].take(content(b, func(x *Property) *string { return &x.Was }, func(x *Property) *source.Range { return &x.WasAt }), b.subject)
	}
	list = append(list, p.constants()...)
	list = alike(list)
	slices.SortStableFunc(list, func(a, b Edit) int {
		return cmp.Or(cmp.Compare(lack(a.At), lack(b.At)), order(a.At, b.At), order(a.WasAt, b.WasAt))
	})
	return list
}

// alike puts the same change of several blocks of a kind together.
func alike(list []Edit) []Edit {
	at := map[string]int{}
	kept := list[:0]
	for _, e := range list {
		if len(e.Properties) == 0 || len(e.Added)+len(e.Removed) > 0 || e.Was != "" {
			kept = append(kept, e)
			continue
		}
		kind, _, _ := strings.Cut(e.Subject, ".")
		var key strings.Builder
		fmt.Fprintf(&key, "%s %s", e.Change, kind)
		for _, p := range e.Properties {
			fmt.Fprintf(&key, "\n%q %q %q %q", p.Part, p.Name, p.Was, p.Now)
		}
		i, is := at[key.String()]
		if !is {
			at[key.String()] = len(kept)
			kept = append(kept, e)
			continue
		}
		first := &kept[i]
		if first.Subjects == nil {
			first.Subjects = []string{first.Subject}
		}
		first.Subjects = append(first.Subjects, e.Subject)
		first.back = append(first.back, e.back...)
		for k := range first.Properties {
			first.Properties[k].Subjects = append(first.Properties[k].Subjects, e.Properties[k].Subjects...)
		}
	}
	return kept
}

func lack(r source.Range) int {
	if r.Known() {
		return 0
	}
	return 1
}

func order(a, b source.Range) int {
	switch {
	case !a.Known() || !b.Known():
		return 0
	case a.Before(b):
		return -1
	case b.Before(a):
		return 1
	}
	return 0
}

// said is what a property says, by which it is the same in several copies.
type said struct{ part, name, was, now string }

// take adds the properties of one block; what is the same in several copies stands once.
func (e *Edit) take(changes []Property, subject string) {
	if e.index == nil {
		e.index = map[said]int{}
	}
	for _, c := range changes {
		k := said{c.Part, c.Name, c.Was, c.Now}
		i, is := e.index[k]
		if !is {
			i = len(e.Properties)
			e.index[k] = i
			e.Properties = append(e.Properties, c)
		}
		e.Properties[i].Subjects = append(e.Properties[i].Subjects, subject)
	}
}

// content is what a block states that the other version lacks: a property for each part,
// on the side that value and at name.
func content(b *block, value func(*Property) *string, at func(*Property) *source.Range) []Property {
	var list []Property
	for i := range b.parts {
		p := &b.parts[i]
		x := Property{Part: p.Kind}
		*value(&x), *at(&x) = summary(p), p.At
		list = append(list, x)
	}
	return list
}

// properties lists what two versions of a block say differently.
func (p *pairing) properties(was, now *block) []Property {
	var list []Property
	left := slices.Clone(was.parts)
	take := func(is func(*design.Part) bool) *design.Part {
		i := slices.IndexFunc(left, func(x design.Part) bool { return is(&x) })
		if i < 0 {
			return nil
		}
		x := left[i]
		left = slices.Delete(left, i, i+1)
		return &x
	}
	likes := make([]*design.Part, len(now.parts))
	for i := range now.parts {
		n := &now.parts[i]
		likes[i] = take(func(x *design.Part) bool { return x.Kind == n.Kind && p.renamed(x.Key) == n.Key })
	}
	for i := range now.parts { // another route of the same section
		if n := &now.parts[i]; likes[i] == nil {
			likes[i] = take(func(x *design.Part) bool { return x.Kind == n.Kind })
		}
	}
	count := map[string]int{} // of parts of a kind, in the version that has more of them
	for _, parts := range [][]design.Part{was.parts, now.parts} {
		n := map[string]int{}
		for i := range parts {
			n[parts[i].Kind]++
			count[parts[i].Kind] = max(count[parts[i].Kind], n[parts[i].Kind])
		}
	}
	name := func(part *design.Part) string {
		if part.Key == "" || count[part.Kind] == 1 {
			return part.Kind
		}
		return part.Kind + " " + part.Key
	}
	for i := range now.parts {
		if n, w := &now.parts[i], likes[i]; w == nil {
			list = append(list, Property{Part: name(n), Now: summary(n), At: n.At})
		} else {
			list = append(list, p.facts(name(w), w, n)...)
		}
	}
	for i := range left {
		list = append(list, Property{Part: name(&left[i]), Was: summary(&left[i]), WasAt: left[i].At})
	}
	return list
}

func (p *pairing) facts(part string, was, now *design.Part) []Property {
	type two struct{ was, now *design.Fact }
	by := map[string]two{}
	for i := range was.Facts {
		by[was.Facts[i].Name] = two{was: &was.Facts[i]}
	}
	for i := range now.Facts {
		f := &now.Facts[i]
		by[f.Name] = two{by[f.Name].was, f}
	}
	var list []Property
	for _, name := range slices.Sorted(maps.Keys(by)) {
		x := Property{Part: part, Name: name}
		if f := by[name].was; f != nil {
			x.Was, x.WasAt = text(f, p.renamed), f.At
		}
		if f := by[name].now; f != nil {
			x.Now, x.At, x.Unusable = f.Value, f.At, f.Origin == design.Faulty
		}
		if x.Was != x.Now || x.Unusable && by[name].was == nil {
			list = append(list, x)
		}
	}
	return list
}

// summary is what a part states, in one line.
func summary(p *design.Part) string {
	var list []string
	for _, f := range p.Facts {
		if f.Origin == design.Stated {
			list = append(list, f.Name+" = "+f.Value)
		}
	}
	return strings.Join(list, ", ")
}

// constants compares the names of let blocks by their text.
func (p *pairing) constants() []Edit {
	was := map[string]source.Range{}
	for _, c := range p.before.Lets {
		was[c.Name] = c.At
	}
	written := func(r source.Range) string {
		_, v, _ := strings.Cut(r.Text(), "=")
		return strings.Join(strings.Fields(v), " ")
	}
	var list []Edit
	for _, c := range p.after.Lets {
		subject := "let." + c.Name
		w, is := was[c.Name]
		delete(was, c.Name)
		switch {
		case !is:
			list = append(list, Edit{Change: Added, Subject: subject, At: c.At, Added: []string{subject}, back: []patch{{c.At, ""}}})
		case written(w) != written(c.At):
			list = append(list, Edit{
				Change: Changed, Subject: subject, At: c.At, WasAt: w, back: []patch{{c.At, w.Text()}},
				Properties: []Property{{Name: c.Name, Was: written(w), Now: written(c.At), WasAt: w, At: c.At, Subjects: []string{subject}}},
			})
		}
	}
	for _, c := range p.before.Lets {
		if at, gone := was[c.Name]; gone {
			subject := "let." + c.Name
			list = append(list, Edit{Change: Removed, Subject: subject, WasAt: at, Removed: []string{subject}, back: p.insert("let {\n" + at.Text() + "\n}")})
		}
	}
	return list
}

// tables compares the table files that the user lays over a set, by their lines. They lie
// outside of the design's text, so none of this can be taken back.
func tables(was, now *engine.Result) []Edit {
	if was == nil || now == nil || was.Review.Set == nil || now.Review.Set == nil || was.Review.Info.Name != now.Review.Info.Name {
		return nil // another set is an edit of the site
	}
	place := func(r *engine.Result) source.Range {
		s := r.Review.Design.Site()
		if s.CapacityTables.Known() {
			return s.CapacityTables.At
		}
		return s.Ratings.At
	}
	left := map[string]string{}
	for _, f := range was.Review.Set.Files() {
		left[f.Name] = f.Text
	}
	var list []Edit
	for _, f := range now.Review.Set.Files() {
		subject := "table." + f.Name
		text, is := left[f.Name]
		delete(left, f.Name)
		switch {
		case !is:
			list = append(list, Edit{Change: Added, Subject: subject, Added: []string{subject}, At: place(now)})
		case text != f.Text:
			list = append(list, Edit{Change: Changed, Subject: subject, At: place(now), WasAt: place(was), Properties: lines(subject, text, f.Text)})
		}
	}
	for _, f := range was.Review.Set.Files() {
		if _, gone := left[f.Name]; gone {
			subject := "table." + f.Name
			list = append(list, Edit{Change: Removed, Subject: subject, Removed: []string{subject}, WasAt: place(was)})
		}
	}
	return list
}

// lines lists the lines of two texts that differ: by number where there are as many, else
// those that the other text lacks.
func lines(subject, was, now string) []Property {
	a, b := strings.Split(was, "\n"), strings.Split(now, "\n")
	var list []Property
	add := func(n int, was, now string) {
		list = append(list, Property{Name: fmt.Sprintf("line %d", n+1), Was: strings.TrimSpace(was), Now: strings.TrimSpace(now), Subjects: []string{subject}})
	}
	if len(a) == len(b) {
		for i := range a {
			if a[i] != b[i] {
				add(i, a[i], b[i])
			}
		}
		return list
	}
	for i, line := range a {
		if !slices.Contains(b, line) {
			add(i, line, "")
		}
	}
	for i, line := range b {
		if !slices.Contains(a, line) {
			add(i, "", line)
		}
	}
	return list
}

// patch puts a text in the place of a stretch of the later version.
type patch struct {
	at   source.Range
	text string
}

// insert appends a text to the later version.
func (p *pairing) insert(text string) []patch {
	if len(p.after.Files) == 0 {
		return nil
	}
	f := p.after.Files[0]
	end := uint32(len(f.Bytes))
	return []patch{{source.Range{File: f, Start: end, End: end}, "\n" + text + "\n"}}
}

// apply makes patches, which must not overlap, in the texts of their files.
func apply(patches []patch) map[*source.File][]byte {
	by := map[*source.File][]patch{}
	for _, p := range patches {
		by[p.at.File] = append(by[p.at.File], p)
	}
	texts := make(map[*source.File][]byte, len(by))
	for f, list := range by {
		slices.SortStableFunc(list, func(a, b patch) int { return cmp.Compare(a.at.Start, b.at.Start) })
		var b bytes.Buffer
		at := uint32(0)
		for _, p := range list {
			if p.at.Start < at {
				continue // blocks do not overlap in a text that was read whole
			}
			b.Write(f.Bytes[at:p.at.Start])
			b.WriteString(p.text)
			at = p.at.End
		}
		b.Write(f.Bytes[at:])
		texts[f] = b.Bytes()
	}
	return texts
}
