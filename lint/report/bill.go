package report

import (
	"encoding/csv"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"trefoil/lint/cost"
	"trefoil/lint/design"
	"trefoil/lint/schedule"
	"trefoil/ratings/quantity"
)

// billHead names the columns of a bill.
var billHead = []string{"item", "size", "quantity", "unit", "unit price", "cost", "basis"}

// billUnits prints a quantity by its unit.
var billUnits = map[string]quantity.Unit{"m": {Decimals: 1}, "each": {}, "h": {Decimals: 2}}

// basis is where a price stands, or why there is none.
func basis(i *cost.Item) string {
	if i.List == nil {
		return i.Lack
	}
	return i.List.Subject()
}

// listed says of which day a list is and where it is from.
func listed(p *design.Price) string {
	return fmt.Sprintf("%s of %s: %s", p.Subject(), p.Date.Value, p.Origin.Value)
}

func itemName(i *cost.Item) string { return strings.TrimSpace(i.Kind.What() + " " + i.Name) }

// WriteBill writes a bill for people: a line each, the sums, what is missing in them, and
// how it is counted.
func WriteBill(w io.Writer, b *cost.Bill) error {
	rows := [][]string{slices.Clone(billHead)}
	money := func(m quantity.Maybe) string {
		if !m.Known {
			return "-"
		}
		return quantity.Money(m.Value)
	}
	unpriced, uncounted := 0, 0
	for k := range b.Items {
		i := &b.Items[k]
		many := "-"
		if i.Quantity.Known {
			many = billUnits[i.Kind.Unit()].Print(i.Quantity.Value)
		}
		switch {
		case i.Lack == "":
		case i.Unpriced || i.Quantity.Known:
			unpriced++
		default:
			uncounted++
		}
		rows = append(rows, []string{itemName(i), i.SizeText(), many, i.Kind.Unit(), money(i.Price), money(i.Cost), basis(i)})
	}
	var s strings.Builder
	writeGrid(&s, rows, []bool{2: true, 4: true, 5: true, 6: false})
	if len(b.Items) == 0 {
		s.WriteString("nothing to count\n")
	}
	s.WriteString("\n")
	writeSums(&s, b)
	if unpriced > 0 {
		fmt.Fprintf(&s, "%s no price\n", have(unpriced, "item"))
	}
	if uncounted > 0 {
		fmt.Fprintf(&s, "%s no quantity\n", have(uncounted, "item"))
	}
	for _, l := range b.Lacks {
		fmt.Fprintf(&s, "  %s\n", Clean(l))
	}
	s.WriteString("\n")
	for _, p := range b.Book.Lists {
		fmt.Fprintln(&s, dim.Sprint(Clean(listed(p))))
	}
	for _, n := range b.Notes {
		fmt.Fprintln(&s, dim.Sprint(Clean(n)))
	}
	fmt.Fprintln(&s, dim.Sprint(Caution))
	_, err := io.WriteString(w, s.String())
	return err
}

func have(n int, what string) string {
	if n == 1 {
		return "1 " + what + " has"
	}
	return many(n, what) + " have"
}

// BillLine is one sum of a bill.
type BillLine struct {
	What string
	Sum  cost.Sum
	Unit quantity.Unit
}

// BillLines are what a bill comes to.
func BillLines(b *cost.Bill) []BillLine {
	currency := quantity.Unit{Symbol: b.Book.Currency, Decimals: 2}
	return []BillLine{
		{"material", b.Material, currency},
		{"labour", b.Labour, currency},
		{"hours", b.Hours, quantity.Hour},
		{"material and labour", b.First(), currency},
		{"copper", b.CopperKg, quantity.Kilogram},
		{"aluminium", b.AluminiumKg, quantity.Kilogram},
		{"cables", b.CableKg, quantity.Kilogram},
		{"loss of a year", b.LossKWh, quantity.KWh},
		{"its cost", b.LossCost, currency},
		{"present value of losses", b.LossWorth, currency},
		{"total", b.Total(), currency},
	}
}

// Text prints a sum, and how many of its parts are not known.
func (l BillLine) Text() string {
	text := l.Unit.Print(l.Sum.Value)
	if l.Unit != quantity.Hour && l.Unit != quantity.Kilogram && l.Unit != quantity.KWh {
		text = strings.TrimSpace(quantity.Money(l.Sum.Value) + " " + l.Unit.Symbol)
	}
	switch {
	case l.Sum.Lacks == 0:
		return text
	case l.Sum.Value == 0:
		return "unknown"
	}
	return fmt.Sprintf("%s and %s not known", text, many(l.Sum.Lacks, "part"))
}

// writeSums writes what a bill comes to.
func writeSums(s *strings.Builder, b *cost.Bill) {
	for _, l := range BillLines(b) {
		fmt.Fprintf(s, "%-24s %s\n", l.What, Clean(l.Text()))
	}
}

// BillTable is a bill as a table.
func BillTable(b *cost.Bill) schedule.Table {
	money := quantity.Unit{Symbol: b.Book.Currency, Decimals: 2}
	figure := func(m quantity.Maybe, why string) schedule.Cell {
		if !m.Known && why == "" {
			return schedule.Cell{}
		}
		return schedule.FigureCell(m)
	}
	word := schedule.TextCell
	t := schedule.Table{Kind: "bill", Columns: []schedule.Column{
		{Name: "item", Head: "item"},
		{Name: "size", Head: "size"},
		{Name: "quantity", Head: "quantity", Type: schedule.Number, Unit: quantity.Unit{Decimals: 1}, Mixed: true},
		{Name: "unit", Head: "unit"},
		{Name: "unit_price", Head: "unit price", Type: schedule.Number, Unit: money},
		{Name: "cost", Head: "cost", Type: schedule.Number, Unit: money},
		{Name: "basis", Head: "basis"},
	}}
	for k := range b.Items {
		i := &b.Items[k]
		t.Rows = append(t.Rows, []schedule.Cell{word(itemName(i)), word(i.SizeText()), figure(i.Quantity, i.Lack), word(i.Kind.Unit()), figure(i.Price, i.Lack), figure(i.Cost, i.Lack), word(basis(i))})
	}
	for _, p := range b.Book.Lists {
		t.Basis = append(t.Basis, listed(p))
	}
	t.Basis = append(append(t.Basis, b.Notes...), b.Lacks...)
	return t
}

// WriteBillCSV writes the lines of a bill for a spreadsheet, figures in full. What is not
// known is empty, and its reason stands under basis.
func WriteBillCSV(w io.Writer, b *cost.Bill) error {
	c := csv.NewWriter(w)
	head := slices.Clone(billHead)
	head[4], head[5] = "unit_price", "cost"
	if err := c.Write(append(head, "currency")); err != nil {
		return err
	}
	full := func(m quantity.Maybe) string {
		if !m.Known {
			return ""
		}
		return strconv.FormatFloat(m.Value, 'f', -1, 64)
	}
	for k := range b.Items {
		i := &b.Items[k]
		from := basis(i)
		if i.List != nil {
			from = listed(i.List)
		}
		row := []string{harmless(itemName(i)), i.SizeText(), full(i.Quantity), i.Kind.Unit(), full(i.Price), full(i.Cost), harmless(from), harmless(b.Book.Currency)}
		if err := c.Write(row); err != nil {
			return err
		}
	}
	c.Flush()
	return c.Error()
}

// harmless keeps a spreadsheet from taking a text for a formula, blanks in front of it left
// away as some do.
func harmless(s string) string {
	s = Clean(s)
	if first, _ := utf8.DecodeRuneInString(strings.TrimSpace(s)); strings.ContainsRune("=+-@\uff1d\uff0b\uff0d\uff20", first) {
		return "'" + s
	}
	return s
}

// BillDocument is a bill as one JSON document. A figure that is not known is absent.
type BillDocument struct {
	Version  int        `json:"version"`
	Tool     Tool       `json:"tool"`
	Currency string     `json:"currency,omitempty"`
	Items    []billItem `json:"items"`
	Sums     billSums   `json:"sums"`
	Runs     []billPart `json:"runs"`
	Routes   []billPart `json:"routes"`
	Prices   []billList `json:"prices"`
	Output   billOutput `json:"output"`
	Lacks    []string   `json:"lacks"`
	Notes    []string   `json:"notes"`
}

// billList is a price list that was used.
type billList struct {
	Name   string `json:"name"`
	Date   string `json:"date"`
	Origin string `json:"origin"`
}

// billOutput says how the output goes over the year.
type billOutput struct {
	CapacityFactor *float64 `json:"capacity_factor,omitempty"`
	LossFactor     *float64 `json:"loss_factor,omitempty"`
	Basis          string   `json:"basis"`
	Assumed        bool     `json:"assumed"`
}

type billItem struct {
	Item      string   `json:"item"`
	Name      string   `json:"name,omitempty"`
	Size      string   `json:"size,omitempty"`
	Quantity  *float64 `json:"quantity,omitempty"`
	Unit      string   `json:"unit"`
	UnitPrice *float64 `json:"unit_price,omitempty"`
	Cost      *float64 `json:"cost,omitempty"`
	Price     string   `json:"price,omitempty"` // the list
	Lack      string   `json:"lack,omitempty"`
}

// billSum is a sum and how many of its parts are not known.
type billSum struct {
	Known float64 `json:"known"` // of the parts that are
	Lacks int     `json:"lacks"`
}

type billSums struct {
	Material    billSum `json:"material"`
	Labour      billSum `json:"labour"`
	Hours       billSum `json:"hours"`
	First       billSum `json:"material_and_labour"`
	CopperKg    billSum `json:"copper_kg"`
	AluminiumKg billSum `json:"aluminium_kg"`
	LossKWh     billSum `json:"loss_kwh"`
	LossCost    billSum `json:"loss_cost"`
	LossWorth   billSum `json:"loss_present_value"`
	Total       billSum `json:"total"`
}

type billPart struct {
	Run     string   `json:"run,omitempty"`
	Route   string   `json:"route,omitempty"`
	LengthM *float64 `json:"length_m,omitempty"`
	LossW   *float64 `json:"loss_at_rated_output_w,omitempty"`
	BestMM2 *float64 `json:"economic_mm2,omitempty"`
	Sums    billSums `json:"sums"`
	Lacks   []string `json:"lacks,omitempty"`
}

func sums(t *cost.Totals) billSums {
	of := func(s cost.Sum) billSum { return billSum{s.Value, s.Lacks} }
	return billSums{of(t.Material), of(t.Labour), of(t.Hours), of(t.First()), of(t.CopperKg), of(t.AluminiumKg), of(t.LossKWh), of(t.LossCost), of(t.LossWorth), of(t.Total())}
}

// pointer is a figure that is absent where it is not known.
func pointer(m quantity.Maybe) *float64 {
	if !m.Known {
		return nil
	}
	return &m.Value
}

// NewBillDocument turns a bill into a document.
func NewBillDocument(tool Tool, b *cost.Bill) BillDocument {
	d := BillDocument{Version: Version, Tool: tool, Currency: b.Book.Currency, Items: []billItem{}, Sums: sums(&b.Totals), Runs: []billPart{}, Routes: []billPart{}, Prices: []billList{}, Lacks: []string{}, Notes: b.Notes}
	d.Lacks = append(d.Lacks, b.Lacks...)
	d.Output = billOutput{LossFactor: pointer(b.Book.Factors), Basis: b.Book.OutputBy, Assumed: b.Book.Assumed}
	if b.Book.Factors.Known {
		d.Output.CapacityFactor = &b.Book.Output.Capacity
	}
	for _, p := range b.Book.Lists {
		d.Prices = append(d.Prices, billList{p.Subject(), p.Date.Value, p.Origin.Value})
	}
	for k := range b.Items {
		i := &b.Items[k]
		x := billItem{Item: i.Kind.What(), Name: i.Name, Size: i.SizeText(), Quantity: pointer(i.Quantity), Unit: i.Kind.Unit(), UnitPrice: pointer(i.Price), Cost: pointer(i.Cost), Lack: i.Lack}
		if i.List != nil {
			x.Price = i.List.Subject()
		}
		d.Items = append(d.Items, x)
	}
	for i := range b.Runs {
		r := &b.Runs[i]
		d.Runs = append(d.Runs, billPart{Run: r.Run.Name, LossW: pointer(r.LossW), BestMM2: pointer(r.BestMM2), Sums: sums(&r.Totals), Lacks: r.Lacks})
	}
	for i := range b.Routes {
		r := &b.Routes[i]
		d.Routes = append(d.Routes, billPart{Route: r.Route.Name, LengthM: pointer(r.LengthM), Sums: sums(&r.Totals), Lacks: r.Lacks})
	}
	return d
}
