package report

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/fatih/color"

	"trefoil/lint/choices"
	"trefoil/lint/finding"
	"trefoil/lint/schedule"
	"trefoil/ratings/quantity"
)

var green = color.New(color.FgGreen)

// ChoicesOptions say what of the choices is printed for people.
type ChoicesOptions struct {
	Top      int  // so many of those that pass
	Refused  bool // those that do not pass, too
	Currency string
}

// money is a unit of a currency, "" where there is no price list.
func money(currency string) quantity.Unit { return quantity.Unit{Symbol: currency, Decimals: 2} }

// judged says in a few words whether a choice passes.
func judged(c *choices.Choice) string {
	var parts []string
	for _, r := range c.Refused {
		text := r.Rule
		if r.Neighbour {
			text = "breaks " + r.Subject + ", " + text
		}
		if r.Over.Known && r.Over.Value > 1 {
			text += " " + quantity.Percent.Print(100*(r.Over.Value-1)) + " over"
		}
		parts = append(parts, text)
	}
	if len(parts) > 3 {
		parts = append(parts[:2], fmt.Sprintf("%d more", len(parts)-2))
	}
	text := "passes"
	if len(parts) > 0 {
		text = "refused: " + strings.Join(parts, ", ")
	}
	if len(c.Warned) > 0 {
		text += "; warned: " + strings.Join(c.Warned, ", ")
	}
	if c.Drawn {
		text = "drawn, " + text
	}
	return text
}

// choicesTable is a list of choices as a table.
func choicesTable(res *choices.Result, list []*choices.Choice, currency string) schedule.Table {
	t := schedule.Table{Kind: "choices", Columns: []schedule.Column{
		{Name: "rank", Head: "#", Type: schedule.Whole},
		{Name: "cable", Head: "cable"},
		{Name: "size", Head: "size"},
		{Name: "earth_mm2", Head: "earth", Type: schedule.Number, Unit: quantity.Unit{Symbol: "mm2", Decimals: 1}, Mixed: true},
		{Name: "laid", Head: "laid"},
		{Name: "capacity_a", Head: "capacity", Type: schedule.Number, Unit: quantity.Ampere},
		{Name: "utilisation_percent", Head: "used", Type: schedule.Number, Unit: quantity.Unit{Symbol: "%", Decimals: 1}},
		{Name: "path_rise_percent", Head: "rise", Type: schedule.Number, Unit: quantity.Percent},
		{Name: "metal_kg", Head: "metal", Type: schedule.Number, Unit: quantity.Kilogram},
		{Name: "material_cost", Head: "material", Type: schedule.Number, Unit: money(currency)},
		{Name: "labour_cost", Head: "labour", Type: schedule.Number, Unit: money(currency)},
		{Name: "loss_kwh_year", Head: "loss a year", Type: schedule.Number, Unit: quantity.KWh},
		{Name: "loss_cost", Head: "losses", Type: schedule.Number, Unit: money(currency)},
		{Name: "total_cost", Head: "total", Type: schedule.Number, Unit: money(currency)},
		{Name: "verdict", Head: ""},
	}}
	for _, c := range list {
		rank := schedule.Cell{}
		if c.Rank > 0 {
			rank = schedule.FigureCell(quantity.Of(float64(c.Rank)))
		}
		laid := c.Laid
		if laid == "" && slices.ContainsFunc(list, func(o *choices.Choice) bool { return o.Laid != "" }) {
			laid = "as drawn"
		}
		earth := schedule.Cell{}
		if c.EarthMM2.Known {
			earth = schedule.FigureCell(c.EarthMM2)
		}
		total := c.Cost.Total
		total.Value += c.Routes.Value
		t.Rows = append(t.Rows, []schedule.Cell{
			rank, schedule.TextCell(c.Kind.Cable.Name), schedule.TextCell(c.SizeText()), earth, schedule.TextCell(laid),
			schedule.FigureCell(c.CapacityA), schedule.FigureCell(c.UtilisationPct), schedule.FigureCell(c.RisePct), schedule.FigureCell(c.Cost.MetalKg),
			schedule.FigureCell(c.Cost.Material), schedule.FigureCell(c.Cost.Labour), schedule.FigureCell(c.Cost.LossKWh), schedule.FigureCell(c.Cost.Losses),
			schedule.FigureCell(total), schedule.TextCell(judged(c)),
		})
	}
	return t
}

// without leaves out columns in which nothing is known.
func without(t schedule.Table, keep ...string) schedule.Table {
	for i := len(t.Columns) - 1; i >= 0; i-- {
		if slices.Contains(keep, t.Columns[i].Name) || slices.ContainsFunc(t.Rows, func(row []schedule.Cell) bool { return row[i].State == schedule.Known }) {
			continue
		}
		t.Columns = slices.Delete(slices.Clone(t.Columns), i, i+1)
		for n := range t.Rows {
			t.Rows[n] = slices.Delete(t.Rows[n], i, i+1)
		}
	}
	return t
}

// ranked says by what choices are ranked.
func ranked(by, asked string) string {
	switch {
	case by == "metal" && asked == "cost":
		return "by the metal in them, for want of prices"
	case by == "loss":
		return "by the loss of a year"
	case by == "size":
		return "by size"
	}
	return "by cost"
}

// span is what stands between the cheapest choice that passes and what is drawn, in a
// sentence.
func span(res *choices.Result, currency string) string {
	if res.Passing == 0 {
		return ""
	}
	best, drawn := &res.Choices[0], res.Drawn
	if drawn == nil {
		return ""
	}
	key, what, unit := func(c *choices.Choice) quantity.Maybe { return c.Cost.Total }, "costs", money(currency)
	switch res.By {
	case "metal":
		key, what, unit = func(c *choices.Choice) quantity.Maybe { return c.Cost.MetalKg }, "takes", quantity.Kilogram
	case "loss":
		key, what, unit = func(c *choices.Choice) quantity.Maybe { return c.Cost.LossKWh }, "loses", quantity.KWh
	case "size":
		key, what, unit = func(c *choices.Choice) quantity.Maybe { return quantity.Of(c.Size.MM2 * float64(c.Legs)) }, "is", quantity.Unit{Symbol: "mm2", Decimals: 1}
	}
	a, b := key(best), key(drawn)
	a.Value += best.Routes.Value
	switch {
	case best == drawn:
		return fmt.Sprintf("what is drawn, %s, comes first of those that pass; it %s %s", drawn, what, amount(b, unit))
	case !a.Known || !b.Known:
		return fmt.Sprintf("the first that passes, %s, %s %s; what is drawn, %s, %s %s", best, what, amount(a, unit), drawn, what, amount(b, unit))
	}
	text := fmt.Sprintf("the first that passes, %s, %s %s; what is drawn, %s, %s %s", best, what, amount(a, unit), drawn, what, amount(b, unit))
	if a.Value > 0 && b.Value >= a.Value {
		text += fmt.Sprintf(", %s more", quantity.Percent.Print(100*(b.Value/a.Value-1)))
	} else if b.Value > 0 {
		text += fmt.Sprintf(", %s less", quantity.Percent.Print(100*(1-b.Value/a.Value)))
	}
	if !drawn.Passes() {
		text += ", and does not pass"
	}
	return text
}

// WriteChoices writes for people what may be chosen for runs.
func WriteChoices(w io.Writer, results []*choices.Result, opt ChoicesOptions) error {
	var b strings.Builder
	for n, res := range results {
		if n > 0 {
			b.WriteString("\n")
		}
		title := fmt.Sprintf("run %q", res.Run.Run.Name)
		if len(res.Copies) > 0 {
			title = fmt.Sprintf("the %d copies of run %q", len(res.Copies)+1, res.Run.Run.CopyOf)
		}
		fmt.Fprintf(&b, "%s: %d of %d choices pass, ranked %s\n", bold.Sprint(Clean(title)), res.Passing, len(res.Choices), ranked(res.By, res.Asked))
		if s := span(res, opt.Currency); s != "" {
			fmt.Fprintf(&b, "%s\n", Clean(s))
		}
		if e := res.EconomicMM2; e.Known {
			fmt.Fprintf(&b, "cable and losses of each leg together cost least at %s (IEC 60287-3-2, from memory; the cable alone, in a straight line of its prices)\n", quantity.Unit{Symbol: "mm2", Decimals: 1}.Print(e.Value))
		}
		var list []*choices.Choice
		for i := range res.Choices {
			c := &res.Choices[i]
			if c.Drawn || c.Passes() && c.Rank <= opt.Top || !c.Passes() && opt.Refused || c == res.Nearest {
				list = append(list, c)
			}
		}
		head, lines := aligned(without(choicesTable(res, list, opt.Currency), "rank", "verdict"))
		fmt.Fprintf(&b, "\n%s\n", bold.Sprint(head))
		for i, line := range lines {
			switch c := list[i]; {
			case c.Drawn:
				line = bold.Sprint(line)
			case !c.Passes():
				line = dim.Sprint(line)
			case c.Rank == 1:
				line = green.Sprint(line)
			}
			fmt.Fprintf(&b, "%s\n", line)
		}
		b.WriteString("\n")
		if res.Passing > opt.Top {
			fmt.Fprintf(&b, "%d more pass; --top %d shows them\n", res.Passing-opt.Top, res.Passing)
		}
		if c := res.Nearest; c != nil {
			fmt.Fprintf(&b, "no choice passes; the nearest, %s, is refused:\n", Clean(c.String()))
			refusals(&b, c.Refused)
		} else if d := res.Drawn; d != nil && !d.Passes() {
			b.WriteString("what is drawn is refused:\n")
			refusals(&b, d.Refused)
		}
		if len(res.Counts) > 0 {
			var parts []string
			for _, c := range res.Counts {
				parts = append(parts, fmt.Sprintf("%d by %s", c.N, c.Rule))
			}
			fmt.Fprintf(&b, "refused: %s\n", strings.Join(parts, ", "))
		}
		standing(&b, res.Standing)
		lacking(&b, res)
	}
	fmt.Fprintf(&b, "\n%s\n", dim.Sprint(Caution))
	_, err := io.WriteString(w, b.String())
	return err
}

func refusals(b *strings.Builder, list []choices.Refusal) {
	for i, r := range list {
		if i == 5 {
			fmt.Fprintf(b, "  and %d more\n", len(list)-5)
			return
		}
		fmt.Fprintf(b, "  %s [%s]\n", Clean(r.Message), r.Rule)
	}
}

// standing tells the errors that no choice moves.
func standing(b *strings.Builder, list []choices.Refusal) {
	if len(list) == 0 {
		return
	}
	fmt.Fprintf(b, "%s whatever is chosen here:\n", many(len(list), "error")+map[bool]string{true: " stands", false: " stand"}[len(list) == 1])
	refusals(b, list)
}

// lacking tells what has no price, of the choices that pass.
func lacking(b *strings.Builder, res *choices.Result) {
	var lacks []string
	for i := range res.Choices {
		if c := &res.Choices[i]; c.Passes() || c.Drawn {
			for _, l := range c.Cost.Lacks {
				if !slices.Contains(lacks, l) {
					lacks = append(lacks, l)
				}
			}
		}
	}
	tellLacks(b, lacks)
}

func tellLacks(b *strings.Builder, lacks []string) {
	for i, l := range lacks {
		if i == 6 {
			fmt.Fprintf(b, "and %d more without a price or not counted\n", len(lacks)-6)
			return
		}
		fmt.Fprintf(b, "not in the cost: %s\n", Clean(l))
	}
}

// WriteChoicesCSV writes all choices of runs for a spreadsheet.
func WriteChoicesCSV(w io.Writer, results []*choices.Result, currency string) error {
	var whole schedule.Table
	for _, res := range results {
		var list []*choices.Choice
		for i := range res.Choices {
			list = append(list, &res.Choices[i])
		}
		t := choicesTable(res, list, currency)
		whole.Columns = append([]schedule.Column{{Name: "run"}, {Name: "currency"}}, t.Columns...)
		for _, row := range t.Rows {
			whole.Rows = append(whole.Rows, append([]schedule.Cell{schedule.TextCell(res.Run.Run.Name), schedule.TextCell(currency)}, row...))
		}
	}
	return WriteScheduleCSV(w, whole)
}

type jsonChoice struct {
	Rank           int           `json:"rank,omitempty"`
	Drawn          bool          `json:"drawn"`
	Passes         bool          `json:"passes"`
	Cable          string        `json:"cable"`
	Declared       bool          `json:"declared"`
	Conductor      string        `json:"conductor"`
	Strands        string        `json:"strands"`
	Insulation     string        `json:"insulation"`
	Build          string        `json:"build"`
	Cores          string        `json:"cores,omitempty"`
	Size           string        `json:"size"`
	SizeMM2        float64       `json:"size_mm2"`
	Legs           int           `json:"legs"`
	Laid           string        `json:"laid,omitempty"`
	EarthMM2       *float64      `json:"earth_mm2,omitempty"`
	CapacityA      *float64      `json:"capacity_a,omitempty"`
	LoadA          *float64      `json:"load_a,omitempty"`
	UtilisationPct *float64      `json:"utilisation_percent,omitempty"`
	RisePct        *float64      `json:"path_rise_percent,omitempty"`
	RiseAt         string        `json:"rise_at,omitempty"`
	MetalKg        *float64      `json:"metal_kg,omitempty"`
	MaterialCost   *float64      `json:"material_cost,omitempty"`
	LabourCost     *float64      `json:"labour_cost,omitempty"`
	RouteCost      *float64      `json:"route_cost,omitempty"`
	LossKWh        *float64      `json:"loss_kwh_year,omitempty"`
	LossCost       *float64      `json:"loss_cost,omitempty"`
	TotalCost      *float64      `json:"total_cost,omitempty"`
	Unpriced       []string      `json:"unpriced,omitempty"`
	Refused        []jsonRefusal `json:"refused,omitempty"`
	Warned         []string      `json:"warned,omitempty"`
}

type jsonRefusal struct {
	Rule    string   `json:"rule"`
	Subject string   `json:"subject"`
	Message string   `json:"message"`
	Over    *float64 `json:"over_limit,omitempty"` // the figure in times its limit
	Breaks  bool     `json:"breaks_neighbour,omitempty"`
}

func convertRefusals(list []choices.Refusal) (out []jsonRefusal) {
	for _, r := range list {
		out = append(out, jsonRefusal{r.Rule, r.Subject, r.Message, pointer(r.Over), r.Neighbour})
	}
	return out
}

func convertChoice(c *choices.Choice) jsonChoice {
	k := c.Kind.Cable
	total := c.Cost.Total
	total.Value += c.Routes.Value
	return jsonChoice{
		Rank: c.Rank, Drawn: c.Drawn, Passes: c.Passes(), Cable: k.Name, Declared: c.Kind.Declared,
		Conductor: k.Conductor.Value, Strands: k.Strands.Value, Insulation: k.Insulation.Value, Build: k.Build.Value, Cores: k.Cores.Value,
		Size: c.Size.String(), SizeMM2: c.Size.MM2, Legs: c.Legs, Laid: c.Laid, EarthMM2: pointer(c.EarthMM2),
		CapacityA: pointer(c.CapacityA), LoadA: pointer(c.LoadA), UtilisationPct: pointer(c.UtilisationPct), RisePct: pointer(c.RisePct), RiseAt: c.RiseAt,
		MetalKg: pointer(c.Cost.MetalKg), MaterialCost: pointer(c.Cost.Material), LabourCost: pointer(c.Cost.Labour), RouteCost: pointer(c.Routes),
		LossKWh: pointer(c.Cost.LossKWh), LossCost: pointer(c.Cost.Losses), TotalCost: pointer(total),
		Unpriced: c.Cost.Lacks, Refused: convertRefusals(c.Refused), Warned: c.Warned,
	}
}

type jsonChoices struct {
	Run       string         `json:"run"`
	Copies    []string       `json:"copies,omitempty"`
	RankedBy  string         `json:"ranked_by"`
	Passing   int            `json:"passing"`
	Choices   []jsonChoice   `json:"choices"`
	RefusedBy map[string]int `json:"refused_by,omitempty"`
	Nearest   *jsonChoice    `json:"nearest,omitempty"`
	Standing  []jsonRefusal  `json:"standing,omitempty"`
	Span      string         `json:"span,omitempty"`

	EconomicMM2 *float64 `json:"economic_mm2,omitempty"`
	EconomicWhy string   `json:"economic_unknown,omitempty"`
}

// ChoicesDocument is what choices writes for runs.
type ChoicesDocument struct {
	Version  int           `json:"version"`
	Tool     Tool          `json:"tool"`
	Currency string        `json:"currency,omitempty"`
	Runs     []jsonChoices `json:"runs"`
	Error    string        `json:"error,omitempty"`
}

// NewChoicesDocument turns choices into a document.
func NewChoicesDocument(tool Tool, results []*choices.Result, currency string) ChoicesDocument {
	d := ChoicesDocument{Version: Version, Tool: tool, Currency: currency, Runs: []jsonChoices{}}
	for _, res := range results {
		j := jsonChoices{Run: res.Run.Run.Name, RankedBy: res.By, Passing: res.Passing, Choices: []jsonChoice{}, Standing: convertRefusals(res.Standing), Span: span(res, currency), EconomicMM2: pointer(res.EconomicMM2), EconomicWhy: res.EconomicWhy}
		for _, c := range res.Copies {
			j.Copies = append(j.Copies, c.Run.Name)
		}
		for i := range res.Choices {
			j.Choices = append(j.Choices, convertChoice(&res.Choices[i]))
		}
		for _, c := range res.Counts {
			if j.RefusedBy == nil {
				j.RefusedBy = map[string]int{}
			}
			j.RefusedBy[c.Rule] = c.N
		}
		if res.Nearest != nil {
			n := convertChoice(res.Nearest)
			j.Nearest = &n
		}
		d.Runs = append(d.Runs, j)
	}
	return d
}

// sumUnit is the unit of what a plan makes small.
func sumUnit(p *choices.Plan, currency string) quantity.Unit {
	if p.By == "metal" {
		return quantity.Kilogram
	}
	return money(currency)
}

// gapText is how far a plan can be from the best.
func gapText(p *choices.Plan, currency string) string {
	unit := sumUnit(p, currency)
	switch {
	case p.Exact && p.Passes:
		return "it is the least that passes"
	case !p.Bound.Known:
		return "no bound could be worked out"
	case !p.Passes:
		return fmt.Sprintf("nothing that passes comes to less than %s", amount(p.Bound, unit))
	}
	return fmt.Sprintf("nothing that passes comes to less than %s, so it is at most %s above the least", amount(p.Bound, unit), quantity.Percent.Maybe(percentOf(p.Gap())))
}

// amount prints money with its two decimals, and anything else as its unit does.
func amount(m quantity.Maybe, unit quantity.Unit) string {
	if m.Known && unit.Decimals == 2 {
		return strings.TrimSpace(quantity.Money(m.Value) + " " + unit.Symbol)
	}
	return unit.Maybe(m)
}

func percentOf(m quantity.Maybe) quantity.Maybe { m.Value *= 100; return m }

// planTable lists what a plan gives each run; all of them, or those that change.
func planTable(p *choices.Plan, all bool, currency string) schedule.Table {
	t := schedule.Table{Kind: "plan", Columns: []schedule.Column{
		{Name: "run", Head: "run"},
		{Name: "was", Head: "drawn"},
		{Name: "is", Head: "chosen"},
		{Name: "earth_mm2", Head: "earth", Type: schedule.Number, Unit: quantity.Unit{Symbol: "mm2", Decimals: 1}, Mixed: true},
		{Name: "capacity_a", Head: "capacity", Type: schedule.Number, Unit: quantity.Ampere},
		{Name: "utilisation_percent", Head: "used", Type: schedule.Number, Unit: quantity.Unit{Symbol: "%", Decimals: 1}},
		{Name: "path_rise_percent", Head: "rise", Type: schedule.Number, Unit: quantity.Percent},
		{Name: "metal_kg_was", Head: "metal drawn", Type: schedule.Number, Unit: quantity.Kilogram},
		{Name: "metal_kg", Head: "chosen", Type: schedule.Number, Unit: quantity.Kilogram},
		{Name: "total_cost_was", Head: "cost drawn", Type: schedule.Number, Unit: money(currency)},
		{Name: "total_cost", Head: "chosen", Type: schedule.Number, Unit: money(currency)},
	}}
	name := func(c *choices.Choice) schedule.Cell {
		return schedule.TextCell(c.SizeText() + " " + c.Kind.Cable.Name)
	}
	for i := range p.Runs {
		x := &p.Runs[i]
		if !x.Changed && !all {
			continue
		}
		earth := schedule.Cell{}
		if x.Is.EarthMM2.Known {
			earth = schedule.FigureCell(x.Is.EarthMM2)
		}
		t.Rows = append(t.Rows, []schedule.Cell{
			schedule.TextCell(x.Run.Run.Name), name(&x.Was), name(&x.Is), earth,
			schedule.FigureCell(x.Is.CapacityA), schedule.FigureCell(x.Is.UtilisationPct), schedule.FigureCell(x.Is.RisePct),
			schedule.FigureCell(x.Was.Cost.MetalKg), schedule.FigureCell(x.Is.Cost.MetalKg), schedule.FigureCell(x.Was.Cost.Total), schedule.FigureCell(x.Is.Cost.Total),
		})
	}
	return t
}

// WritePlan writes for people the cheapest choices for many runs together.
func WritePlan(w io.Writer, p *choices.Plan, currency string) error {
	var b strings.Builder
	unit := sumUnit(p, currency)
	what := "cost"
	if p.By == "metal" {
		what = "metal, for want of prices"
	}
	changed := 0
	for i := range p.Runs {
		if p.Runs[i].Changed {
			changed++
		}
	}
	fmt.Fprintf(&b, "%s, least %s: %d to change\n", bold.Sprint(many(len(p.Runs), "run")), what, changed)
	fmt.Fprintf(&b, "drawn %s, chosen %s; %s\n", amount(p.From, unit), amount(p.To, unit), gapText(p, currency))
	if len(p.Partial) > 0 && len(p.Partial) < len(p.Runs) {
		var names []string
		for _, a := range p.Partial {
			names = append(names, a.Run.Name)
		}
		fmt.Fprintf(&b, "both without what is not known of %s\n", Clean(finding.Few(names)))
	}
	fmt.Fprintf(&b, "%s\n", dim.Sprintf("method: %s; %s; it ended because %s", p.Method, many(p.Tried, "trial"), p.Stopped))
	head, lines := aligned(without(planTable(p, false, currency), "run", "was", "is"))
	if len(lines) > 0 {
		fmt.Fprintf(&b, "\n%s\n", bold.Sprint(head))
	}
	for _, line := range lines {
		fmt.Fprintf(&b, "%s\n", line)
	}
	b.WriteString("\n")
	for _, r := range p.Routes {
		if r.Is != r.Was {
			fmt.Fprintf(&b, "route %s: laid %s instead of %s\n", Clean(r.Route.Name), r.Is, r.Was)
		}
	}
	if !p.Passes {
		fmt.Fprintf(&b, "%s\n", paint[2].Sprint("the plan does not pass everything"))
	}
	for _, a := range p.Stuck {
		fmt.Fprintf(&b, "no choice for run %s passes, even in the best company; it stays as drawn, and trefoil choices tells why\n", Clean(a.Run.Name))
	}
	if len(p.Refused) > 0 {
		b.WriteString("still refused:\n")
		refusals(&b, p.Refused)
	}
	standing(&b, p.Standing)
	var lacks []string
	for i := range p.Runs {
		for _, l := range p.Runs[i].Is.Cost.Lacks {
			if !slices.Contains(lacks, l) {
				lacks = append(lacks, l)
			}
		}
	}
	tellLacks(&b, lacks)
	fmt.Fprintf(&b, "%s\n", dim.Sprint(Caution))
	_, err := io.WriteString(w, b.String())
	return err
}

// WritePlanCSV writes all runs of a plan for a spreadsheet.
func WritePlanCSV(w io.Writer, p *choices.Plan, currency string) error {
	return WriteScheduleCSV(w, planTable(p, true, currency))
}

// PlanDocument is what choices --all writes.
type PlanDocument struct {
	Version  int           `json:"version"`
	Tool     Tool          `json:"tool"`
	Currency string        `json:"currency,omitempty"`
	LeastOf  string        `json:"least_of"` // cost or metal
	Passes   bool          `json:"passes"`
	Exact    bool          `json:"exact"`
	Drawn    *float64      `json:"drawn,omitempty"`
	Chosen   *float64      `json:"chosen,omitempty"`
	Bound    *float64      `json:"bound,omitempty"`
	Gap      *float64      `json:"gap,omitempty"`
	Method   string        `json:"method"`
	Ended    string        `json:"ended"`
	Trials   int           `json:"trials"`
	Runs     []jsonPick    `json:"runs"`
	Routes   []jsonLaying  `json:"routes,omitempty"`
	Partial  []string      `json:"not_fully_priced,omitempty"`
	Stuck    []string      `json:"without_choice,omitempty"`
	Refused  []jsonRefusal `json:"refused,omitempty"`
	Standing []jsonRefusal `json:"standing,omitempty"`
}

type jsonPick struct {
	Run     string     `json:"run"`
	Changed bool       `json:"changed"`
	Drawn   jsonChoice `json:"drawn"`
	Chosen  jsonChoice `json:"chosen"`
}

type jsonLaying struct {
	Route string `json:"route"`
	Drawn string `json:"drawn"`
	Laid  string `json:"laid"`
}

// NewPlanDocument turns a plan into a document.
func NewPlanDocument(tool Tool, p *choices.Plan, currency string) PlanDocument {
	d := PlanDocument{
		Version: Version, Tool: tool, Currency: currency, LeastOf: p.By, Passes: p.Passes, Exact: p.Exact,
		Drawn: pointer(p.From), Chosen: pointer(p.To), Bound: pointer(p.Bound), Gap: pointer(p.Gap()), Method: p.Method, Ended: p.Stopped, Trials: p.Tried,
		Runs: []jsonPick{}, Refused: convertRefusals(p.Refused), Standing: convertRefusals(p.Standing),
	}
	for i := range p.Runs {
		x := &p.Runs[i]
		d.Runs = append(d.Runs, jsonPick{x.Run.Run.Name, x.Changed, convertChoice(&x.Was), convertChoice(&x.Is)})
	}
	for _, r := range p.Routes {
		d.Routes = append(d.Routes, jsonLaying{r.Route.Name, r.Was, r.Is})
	}
	for _, a := range p.Partial {
		d.Partial = append(d.Partial, a.Run.Name)
	}
	for _, a := range p.Stuck {
		d.Stuck = append(d.Stuck, a.Run.Name)
	}
	return d
}
