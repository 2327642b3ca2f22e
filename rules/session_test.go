package rules_test

import (
	"bytes"
	"flag"
	"fmt"
	"maps"
	"math/rand/v2"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"trefoil/lint/assess"
	"trefoil/lint/design"
	"trefoil/lint/engine"
	"trefoil/lint/finding"
	"trefoil/lint/generate"
	"trefoil/lint/house"
	"trefoil/lint/session"
	"trefoil/lint/source"
	"trefoil/ratings/sets"
	"trefoil/rules"
)

var (
	editSteps = flag.Int("edits", 2, "how many edits of each design TestSession makes")
	editSeed  = flag.Uint64("edits-seed", 31, "which ones")
)

var editDay = time.Date(2026, 7, 1, 0, 0, 0, 0, time.UTC)

// sources are texts as files, those of a library marked by their directory.
func sources(texts map[string][]byte) (own, library []*source.File) {
	for _, name := range slices.Sorted(maps.Keys(texts)) {
		f := &source.File{Name: name, Bytes: texts[name], Library: strings.HasPrefix(name, "library/")}
		if f.Library {
			library = append(library, f)
		} else {
			own = append(own, f)
		}
	}
	return own, library
}

// scratch checks texts from scratch.
func scratch(texts map[string][]byte) *engine.Result {
	own, library := sources(texts)
	v := assess.Assess(design.ReadWith("", own, design.Library{Files: library}), assess.Named(sets.Find))
	return engine.Check(v, house.Join(v, rules.All()), engine.Options{Today: editDay})
}

// plainly writes everything of findings, places as name and bytes.
func plainly(list []finding.Finding) []string {
	at := func(r source.Range) string {
		if r.File == nil {
			return "-"
		}
		return fmt.Sprintf("%s:%d-%d", r.File.Name, r.Start, r.End)
	}
	var out []string
	for _, f := range list {
		var b strings.Builder
		fmt.Fprintln(&b, at(f.At), f.Rule, f.Severity, f.Subject, f.Message, f.Next, f.Figures, f.Memory, f.Percent, f.HasPercent, f.Waived, f.Waiver, f.Fingerprint)
		for _, r := range f.Related {
			fmt.Fprintln(&b, "  ", at(r.At), r.Message)
		}
		for _, x := range f.Fixes {
			fmt.Fprintln(&b, "  ", x.Name, x.Kind, x.Message)
			for _, e := range x.Edits {
				fmt.Fprintln(&b, "    ", at(e.At), e.Text)
			}
		}
		out = append(out, b.String())
	}
	return out
}

// unlike names the first difference between two objects; ranges are held against each other
// by file name and bytes. Expressions, which nothing can be held against, are left out.
func unlike(path string, a, b reflect.Value) string {
	if a.Type() == reflect.TypeFor[source.Range]() {
		x, y := a.Interface().(source.Range), b.Interface().(source.Range)
		name := func(r source.Range) string {
			if r.File == nil {
				return "-"
			}
			return fmt.Sprintf("%s:%d-%d", r.File.Name, r.Start, r.End)
		}
		if name(x) != name(y) {
			return fmt.Sprintf("%s: %s, and %s from scratch", path, name(x), name(y))
		}
		return ""
	}
	switch a.Kind() {
	case reflect.Struct:
		for i := range a.NumField() {
			if f := a.Type().Field(i); f.IsExported() {
				if s := unlike(path+"."+f.Name, a.Field(i), b.Field(i)); s != "" {
					return s
				}
			}
		}
		return ""
	case reflect.Slice:
		if a.Len() != b.Len() {
			return fmt.Sprintf("%s: %d long, and %d from scratch", path, a.Len(), b.Len())
		}
		for i := range a.Len() {
			if s := unlike(fmt.Sprintf("%s[%d]", path, i), a.Index(i), b.Index(i)); s != "" {
				return s
			}
		}
		return ""
	case reflect.Array:
		for i := range a.Len() {
			if s := unlike(fmt.Sprintf("%s[%d]", path, i), a.Index(i), b.Index(i)); s != "" {
				return s
			}
		}
		return ""
	case reflect.Pointer:
		if a.IsNil() || b.IsNil() {
			if a.IsNil() != b.IsNil() {
				return path + ": one is nil"
			}
			return ""
		}
		return unlike(path, a.Elem(), b.Elem())
	}
	if !a.Equal(b) {
		return fmt.Sprintf("%s: %v, and %v from scratch", path, a, b)
	}
	return ""
}

// same fails where a session shows anything else than a check from scratch.
func same(t *testing.T, what string, got, want *engine.Result) {
	t.Helper()
	a, b := *got.Review.Design, *want.Review.Design
	a.Files, b.Files = nil, nil
	if s := unlike("design", reflect.ValueOf(a), reflect.ValueOf(b)); s != "" {
		t.Fatalf("%s: %s", what, s)
	}
	if x, y := document(t, got.Review), document(t, want.Review); exact.ReplaceAllString(x, "") != exact.ReplaceAllString(y, "") {
		t.Fatalf("%s: figures differ\n%s", what, firstDifference(x, y))
	}
	x, y := plainly(got.Findings), plainly(want.Findings)
	for i := range max(len(x), len(y)) {
		if i >= len(x) || i >= len(y) || x[i] != y[i] {
			g, w := "", ""
			if i < len(x) {
				g = x[i]
			}
			if i < len(y) {
				w = y[i]
			}
			t.Fatalf("%s: finding %d\n%s\nfrom scratch\n%s", what, i, g, w)
		}
	}
	if got.Runs != want.Runs || got.Assessed != want.Assessed {
		t.Fatalf("%s: %d of %d assessed, and %d of %d from scratch", what, got.Assessed, got.Runs, want.Assessed, want.Runs)
	}
}

var (
	numbers = regexp.MustCompile(`= (\d+(\.\d+)?)\b`)
	quotes  = regexp.MustCompile(`"([^"\n]+)"`)
	names   = regexp.MustCompile(`(source|board|route|cable|run)\.([A-Za-z0-9-]+)`)
	lines   = regexp.MustCompile(`(?m)^  .*= .*\n`)
	blocks  = regexp.MustCompile(`(?ms)^[a-z_]+( "[^"\n]*")* \{\n.*?^\}\n`)
	starts  = regexp.MustCompile(`(?m)^`)
)

// edit changes texts the way that people do, and says how.
func edit(rng *rand.Rand, texts map[string][]byte) (file, what string) {
	list := slices.Sorted(maps.Keys(texts))
	file = list[rng.IntN(len(list))]
	text := texts[file]
	pick := func(e *regexp.Regexp) (from, to int) {
		all := e.FindAllIndex(text, -1)
		if len(all) == 0 {
			return 0, 0
		}
		m := all[rng.IntN(len(all))]
		return m[0], m[1]
	}
	put := func(from, to int, with string) { texts[file] = slices.Concat(text[:from], []byte(with), text[to:]) }
	switch what = []string{
		"number", "number", "number", "number", "word", "name", "remove line", "add line", "double line", "comment", "comment inside", "blank",
		"remove block", "double block", "double block as another", "move block", "other file", "break", "let", "let value", "site", "byte", "rename", "trailing",
		"add file", "remove file", "break", "repair",
	}[rng.IntN(28)]; what {
	case "number":
		if from, to := pick(numbers); to > 0 {
			put(from, to, fmt.Sprint("= ", []string{"0", "1", "2", "3", "6", "10", "16", "25", "35", "50", "70", "95", "120", "185", "300", "1.5", "0.95", "1000"}[rng.IntN(18)]))
		}
	case "word":
		if from, to := pick(quotes); to > 0 {
			put(from, to, `"`+[]string{"ladder", "clipped", "conduit", "copper", "aluminium", "mcb", "fuse", "L1", "measured", "spaced", "buried", "trunking", "é 😀"}[rng.IntN(13)]+`"`)
		}
	case "name":
		if from, to := pick(names); to > 0 {
			other := list[rng.IntN(len(list))]
			if all := names.FindAll(texts[other], -1); len(all) > 0 {
				put(from, to, string(all[rng.IntN(len(all))]))
			}
		}
	case "remove line":
		if from, to := pick(lines); to > 0 {
			put(from, to, "")
		}
	case "add line":
		if from, to := pick(lines); to > 0 {
			put(from, from, []string{
				"  lid = true\n", "  earth_mm2 = 16\n", "  other_circuits = 3\n", "  parallel = 2\n", "  colour = \"red\"\n", "  note = \"\"\n", "  sun = true\n",
				"  size_mm2 = let.spare\n", "  cable = cable.none\n", "  never_with_reason = \"\"\n", "  copies = 2\n",
			}[rng.IntN(11)])
		}
	case "double line":
		if from, to := pick(lines); to > 0 {
			put(from, from, string(text[from:to]))
		}
	case "comment", "blank":
		if from, _ := pick(starts); what == "blank" {
			put(from, from, "\n")
		} else {
			put(from, from, []string{"# a remark\n", "/* two\nlines */\n", "// é 😀\n", "/* open\n", "*/\n"}[rng.IntN(5)])
		}
	case "comment inside":
		if _, to := pick(lines); to > 0 {
			put(to-1, to-1, " # why")
		}
	case "remove block":
		if from, to := pick(blocks); to > 0 {
			put(from, to, "")
		}
	case "double block":
		if from, to := pick(blocks); to > 0 {
			put(from, from, string(text[from:to]))
		}
	case "double block as another":
		if from, to := pick(blocks); to > 0 {
			name := regexp.MustCompile(`^[a-z_]+ "[^"\n]*`).FindIndex(text[from:to])
			if name != nil {
				put(to, to, string(text[from:from+name[1]])+"-2"+string(text[from+name[1]:to]))
			}
		}
	case "move block":
		if from, to := pick(blocks); to > 0 {
			put(from, to, "")
			texts[file] = append(texts[file], text[from:to]...)
		}
	case "other file":
		if from, to := pick(blocks); to > 0 {
			put(from, to, "")
			other := list[rng.IntN(len(list))]
			texts[other] = slices.Concat(text[from:to], texts[other])
		}
	case "add file":
		if from, to := pick(blocks); to > 0 {
			texts[fmt.Sprintf("new-%d.hcl", rng.IntN(3))] = bytes.Clone(text[from:to])
		}
	case "remove file":
		if strings.HasPrefix(file, "new-") || len(list) > 2 && rng.IntN(3) == 0 {
			delete(texts, file)
		}
	case "let value":
		for _, file = range list { // where they stand first
			if text = texts[file]; bytes.Contains(text, []byte("let {\n  ")) {
				break
			}
		}
		if _, to := pick(regexp.MustCompile(`let \{\n(  [a-z_0-9]+ += \d+\n)*?  [a-z_0-9]+ += \d+`)); to > 0 {
			put(to, to, []string{"1", "0", ".5", " * 2", "00000000"}[rng.IntN(5)])
		}
	case "repair": // play does
	case "break":
		if i := bytes.LastIndexAny(text[:rng.IntN(len(text)+1)], `{}"=[]`); i >= 0 {
			put(i, i+1, "")
		}
	case "let":
		put(len(text), len(text), "let {\n  spare = 25\n}\n")
	case "site":
		if at := bytes.Index(text, []byte("voltage_v")); at >= 0 {
			put(at, at, []string{"air_c = 45\n  ", "rise_limit_percent = 0.5\n  ", "light_neighbours_percent = 40\n  ", "rise_method = \"exact\"\n  ", "stage = \"construction\"\n  "}[rng.IntN(5)])
		}
	case "byte":
		if len(text) > 0 {
			at := rng.IntN(len(text))
			put(at, at+rng.IntN(2), string(`a1 "{}#/*.=`[rng.IntN(11)]))
		}
	case "rename":
		if _, to := pick(regexp.MustCompile(`(?m)^(run|source|route|board|cable) "[^"\n]*"`)); to > 0 {
			put(to-1, to-1, "x")
		}
	case "trailing":
		if from, to := pick(regexp.MustCompile(`(?m)^\}\n`)); to > 0 {
			put(from+1, from+1, []string{" # done", " ", " /* a */", " /* a\n b */", " x = 1", "\r"}[rng.IntN(6)])
		}
	}
	return file, what
}

// TestSession: whatever is edited, a session shows what a check from scratch shows.
func TestSession(t *testing.T) {
	if testing.Short() {
		*editSteps = min(*editSteps, 1)
	}
	rng := rand.New(rand.NewPCG(*editSeed, 0))
	all := texts(t)
	steps := *editSteps
	ways := map[session.Way]int{}
	kinds := map[string]int{}
	for _, name := range slices.Sorted(maps.Keys(all)) {
		start := map[string][]byte{}
		for _, f := range all[name] {
			start[f.Name] = f.Bytes
		}
		play(t, rng, name, start, steps, ways, kinds)
	}
	for i, part := range generate.Files(160, 5, 40) {
		all["many"] = append(all["many"], &source.File{Name: fmt.Sprint(i, ".hcl"), Bytes: part})
	}
	for name, text := range map[string]string{"site.hcl": hangingSite, "rest.hcl": hangingRest, "library/catalogue.hcl": hangingLibrary} {
		all["hanging"] = append(all["hanging"], &source.File{Name: name, Bytes: []byte(text)})
	}
	start := map[string][]byte{}
	for _, f := range all["hanging"] {
		start[f.Name] = f.Bytes
	}
	play(t, rng, "hanging", start, 20*steps, ways, kinds)
	start = map[string][]byte{}
	for _, f := range all["many"] {
		start[f.Name] = f.Bytes
	}
	play(t, rng, "many", start, 40*steps, ways, kinds)
	t.Log(ways, kinds)
	edits := 0
	for _, n := range ways {
		edits += n
	}
	for _, w := range []session.Way{session.Moved, session.Followed, session.Assessed} {
		if ways[w] < edits/20 {
			t.Errorf("%d edits of %d went the way %q", ways[w], edits, w)
		}
	}
	if ways[session.Read] > edits/20 {
		t.Errorf("%d edits of %d were read from scratch", ways[session.Read], edits)
	}
}

func play(t *testing.T, rng *rand.Rand, name string, start map[string][]byte, steps int, ways map[session.Way]int, kinds map[string]int) {
	t.Helper()
	files := func(texts map[string][]byte) []*source.File {
		own, library := sources(texts)
		return append(own, library...)
	}
	s, err := session.Open(files(start), session.Setting{Sets: assess.Named(sets.Find), Rules: rules.All(), Today: editDay})
	if err != nil {
		t.Fatal(err)
	}
	texts := maps.Clone(start)
	same(t, name+", opened", s.Result(), scratch(texts))
	good := maps.Clone(texts) // the last texts that could be read
	for i := range steps {
		was := maps.Clone(texts)
		var whats []string
		for range 1 + rng.IntN(2)*rng.IntN(2)*rng.IntN(3) { // several at once, now and then
			_, what := edit(rng, texts)
			if what == "repair" {
				maps.DeleteFunc(texts, func(name string, _ []byte) bool { return true })
				maps.Copy(texts, good)
			}
			whats = append(whats, what)
		}
		res, err := s.Update(files(texts))
		if err != nil {
			t.Fatal(err)
		}
		what := strings.Join(whats, " and ")
		label := fmt.Sprintf("%s, edit %d, %s, %s", name, i, what, s.Way())
		want := scratch(texts)
		if !t.Run("", func(t *testing.T) { same(t, label, res, want) }) {
			for _, name := range slices.Sorted(maps.Keys(texts)) {
				if !bytes.Equal(was[name], texts[name]) {
					t.Logf("%s, %s", name, change(was[name], texts[name]))
				}
			}
			t.FailNow()
		}
		last := maps.Clone(texts)
		ways[s.Way()]++
		if len(whats) == 1 {
			kinds[what+" "+s.Way().String()]++
		}
		switch broken := want.Review.Design.Broken || want.Review.Design.Site() == nil; {
		case !broken:
			good = maps.Clone(texts)
			if rng.IntN(4) > 0 {
				continue
			}
			texts = maps.Clone(was)
		case rng.IntN(3) > 0:
			continue
		default:
			texts = maps.Clone(good)
		}
		if res, err = s.Update(files(texts)); err != nil {
			t.Fatal(err)
		}
		if !t.Run("", func(t *testing.T) { same(t, label+", undone", res, scratch(texts)) }) {
			for _, name := range slices.Sorted(maps.Keys(texts)) {
				if !bytes.Equal(last[name], texts[name]) {
					t.Logf("%s, %s", name, change(last[name], texts[name]))
				}
			}
			t.FailNow()
		}
	}
}

// change shows the lines in which two texts differ.
func change(a, b []byte) string {
	x, y := strings.SplitAfter(string(a), "\n"), strings.SplitAfter(string(b), "\n")
	from := 0
	for from < min(len(x), len(y)) && x[from] == y[from] {
		from++
	}
	to := 0
	for to < min(len(x), len(y))-from && x[len(x)-1-to] == y[len(y)-1-to] {
		to++
	}
	return fmt.Sprintf("line %d:\n-%s\n+%s", from+1, strings.Join(x[from:len(x)-to], "-"), strings.Join(y[from:len(y)-to], "+"))
}

// A design in which values hang on other blocks, with copies, a rule of its own and prices.
const (
	hangingSite = `site "s" {
  ratings            = "iec-60364-5-52:2009"
  voltage_v          = 400
  rise_limit_percent = 2
  rise_limit_origin  = "made up"
  library            = ["library"]
}
let {
  spare  = 3
  margin = 1
}
house_rule "no-small" {
  each    = "run"
  must    = run.size_mm2 >= 10 + let.spare
  message = "run ${run.name} is of ${run.size_mm2} mm2"
}
supply "grid" {
  fault_ka       = 10
  fault_min_ka   = 5
  earth_loop_ohm = 0.05
  earthing       = "tn-s"
}
board "main" {
  rated_a = 400
}
# prices
price "list" {
  currency = "EUR"
  origin   = "made up"
  cable "cu" {
    per_m = { 16 = 4, 25 = 6 }
  }
}
route "tray" {
  laid           = "ladder"
  other_circuits = 0
}
`
	hangingRest = `source "inv" {
  copies        = 3
  kind          = "inverter"
  rated_kva     = 20 + copy.number
  max_current_a = 35
  phases        = 3
}
cable "cu" {
  conductor  = "copper"
  insulation = "xlpe-90"
  build      = "multicore"
  cores      = "4c+e"
}
run "inv" {
  copies    = 3
  from      = source.inv[copy.key]
  to        = board.main
  cable     = cable.cu
  size_mm2  = 16
  earth_mm2 = 16
  device {
    kind    = "mccb"
    rated_a = ceil(source.inv[copy.key].max_current_a * 1.1 * let.margin)
  }
  section {
    route    = route.tray
    length_m = 12 + let.spare
  }
}
run "mains" {
  from      = board.main
  to        = supply.grid
  cable     = cable.cu
  size_mm2  = 70
  earth_mm2 = 35
  device {
    kind    = "mccb"
    rated_a = 160
  }
  section {
    route    = route.tray
    length_m = 6
  }
}
waiver "run-overloaded" {
  on     = run.inv
  reason = "made up"
  until  = "2030-01-01"
}
`
	hangingLibrary = `cable "al" {
  conductor  = "aluminium"
  insulation = "xlpe-90"
  build      = "multicore"
  cores      = "4c"
}
house_rule "no-long" {
  each    = "run"
  must    = run.length_m <= 10
  message = "run ${run.name} is ${run.length_m} m long"
}
`
)
