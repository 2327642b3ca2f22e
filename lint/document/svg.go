package document

import (
	"fmt"
	"html/template"
	"math"
	"strings"

	"trefoil/lint/report"
	"trefoil/lint/scene"
	"trefoil/ratings/quantity"
)

// canvas collects the parts of one picture.
type canvas struct {
	strings.Builder
	width, height float64
}

func (c *canvas) line(class string, points ...[2]float64) {
	var p []string
	for _, x := range points {
		p = append(p, fmt.Sprintf("%.1f,%.1f", x[0], x[1]))
	}
	fmt.Fprintf(c, `<polyline class="%s" points="%s"/>`, class, strings.Join(p, " "))
}

func (c *canvas) text(class, anchor string, x, y float64, s string) {
	attributes := ""
	for _, a := range [][2]string{{"class", class}, {"text-anchor", strings.TrimPrefix(anchor, "start")}} {
		if a[1] != "" {
			attributes += fmt.Sprintf(` %s="%s"`, a[0], a[1])
		}
	}
	fmt.Fprintf(c, `<text%s x="%.1f" y="%.1f">%s</text>`, attributes, x, y, template.HTMLEscapeString(report.Clean(s)))
}

// figure is the whole picture, with a name and a description for who cannot see it.
func (c *canvas) figure(title, desc string) template.HTML {
	return template.HTML(fmt.Sprintf(`<svg class="plot" viewBox="0 0 %.0f %.0f" font-size="%d" role="img" aria-label="%s"><title>%s</title><desc>%s</desc>%s</svg>`,
		c.width, c.height, plotSize, template.HTMLEscapeString(report.Clean(title+". "+desc)), template.HTMLEscapeString(report.Clean(title)), template.HTMLEscapeString(report.Clean(desc)), c.String()))
}

// ticks are round values that cover a range, at most so many.
func ticks(low, high float64, most int) (list []float64) {
	if !(high > low) {
		high = low + 1
	}
	step := math.Pow(10, math.Floor(math.Log10((high-low)/float64(most))))
	for _, k := range []float64{1, 2, 5, 10} {
		if (high-low)/(step*k) <= float64(most) {
			step *= k
			break
		}
	}
	from, to := math.Floor(low/step+1e-9), math.Ceil(high/step-1e-9)
	for i := from; i <= to; i++ {
		list = append(list, i*step)
	}
	return list
}

// The profile's picture: margins and sizes in user units of 1/16 em.
const (
	plotWidth, plotHeight                    = 760, 330
	plotLeft, plotRight, plotTop, plotBottom = 52, 30, 34, 44
	plotSize                                 = 12
	nodeApart                                = 20 // between the numbers of two nodes
)

// plotSVG draws a voltage profile. Nodes are numbered; the numbers are told below.
func plotSVG(p *Plot) template.HTML {
	c := &canvas{width: plotWidth, height: plotHeight}
	low, high, far := 0.0, p.Limit.Or(0), 0.0
	for _, list := range [][]Point{p.Trunk, ends(p.Branches)} {
		for _, x := range list {
			low, high, far = min(low, x.Percent), max(high, x.Percent), max(far, x.M)
		}
	}
	ys, xs := ticks(low, high*1.04, 6), ticks(0, far, 8)
	low, high = ys[0], ys[len(ys)-1]
	far = max(far, xs[len(xs)-2]) * 1.02
	px := func(m float64) float64 { return plotLeft + m/far*(plotWidth-plotLeft-plotRight) }
	py := func(percent float64) float64 {
		return plotTop + (high-percent)/(high-low)*(plotHeight-plotTop-plotBottom)
	}
	for _, y := range ys {
		c.line("grid", [2]float64{plotLeft, py(y)}, [2]float64{plotWidth - plotRight, py(y)})
		c.text("soft", "end", plotLeft-8, py(y)+4, quantity.Unit{Decimals: 3}.Print(y))
	}
	for _, x := range xs {
		if px(x) <= plotWidth-plotRight {
			c.line("axis", [2]float64{px(x), py(low)}, [2]float64{px(x), py(low) + 5})
			c.text("soft", "middle", px(x), py(low)+20, quantity.Unit{Decimals: 3}.Print(x))
		}
	}
	c.line("axis", [2]float64{plotLeft, py(max(low, 0))}, [2]float64{plotWidth - plotRight, py(max(low, 0))})
	c.text("soft", "end", plotLeft-8, plotTop-14, "%")
	c.text("soft", "end", plotWidth-plotRight, py(low)+38, "m from the point of supply")
	last := math.Inf(-1)
	for i, n := range p.Nodes {
		x := px(n.M)
		c.line("grid", [2]float64{x, plotTop}, [2]float64{x, py(low)})
		if x-last >= nodeApart {
			c.text("", "middle", x, plotTop-14, fmt.Sprint(i+1))
			last = x
		}
	}
	if p.Limit.Known {
		c.line("limit", [2]float64{plotLeft, py(p.Limit.Value)}, [2]float64{plotWidth - plotRight, py(p.Limit.Value)})
	}
	from := p.Trunk[len(p.Trunk)-1]
	for _, b := range p.Branches {
		class := "branch"
		if b.Over {
			class += " over"
		}
		c.line(class, [2]float64{px(from.M), py(from.Percent)}, [2]float64{px(b.To.M), py(b.To.Percent)})
	}
	var trunk [][2]float64
	for _, t := range p.Trunk {
		trunk = append(trunk, [2]float64{px(t.M), py(t.Percent)})
	}
	c.line("trunk", trunk...)
	worst := -1
	for i, b := range p.Branches {
		class, shape := "dot", `<circle class="%s" cx="%.1f" cy="%.1f" r="3.5"/>`
		if b.Over {
			class = "dot over"
		}
		fmt.Fprintf(c, shape, class, px(b.To.M), py(b.To.Percent))
		if worst < 0 || b.To.Percent > p.Branches[worst].To.Percent {
			worst = i
		}
	}
	if p.Limit.Known {
		c.text("over halo", "start", plotLeft+6, py(p.Limit.Value)-6, p.LimitText)
	}
	if worst >= 0 {
		b := p.Branches[worst]
		label := quantity.Percent.Print(b.To.Percent)
		if b.Over {
			label += ", over"
		}
		x, y := px(b.To.M)-10, py(b.To.Percent)-10
		if p.Limit.Known && math.Abs(y-(py(p.Limit.Value)-6)) < 16 { // keep clear of the limit's words
			x = max(x, plotLeft+200)
		}
		c.text("halo", "end", max(x, plotLeft+90), max(y, plotTop+10), label)
	}
	return c.figure(p.Title, p.Desc)
}

func ends(list []Branch) (points []Point) {
	for _, b := range list {
		points = append(points, b.To)
	}
	return points
}

// nodes tells the numbers of a profile.
func nodes(p *Plot) template.HTML {
	var b strings.Builder
	for i, n := range p.Nodes {
		fmt.Fprintf(&b, "<span>%d %s</span> ", i+1, words(n.Name))
	}
	if b.Len() == 0 {
		return ""
	}
	return template.HTML("<p class=key>" + strings.TrimSpace(b.String()) + "</p>")
}

// The picture of the loading.
const (
	barWidth, barRow, barNames, barRoom = 820, 20, 250, 210
	barHead                             = 24
)

// barsSVG draws how far runs are loaded.
func barsSVG(p *Bars) template.HTML {
	c := &canvas{width: barWidth, height: barHead + float64(len(p.Rows))*barRow + 8}
	px := func(percent float64) float64 {
		return barNames + percent/p.Most*(barWidth-barNames-barRoom)
	}
	for _, x := range []float64{0, 50, 100} {
		class := "grid"
		if x == 100 {
			class = "limit"
		}
		c.line(class, [2]float64{px(x), barHead - 4}, [2]float64{px(x), c.height - 6})
		c.text("soft", "middle", px(x), barHead-10, quantity.Percent.Print(x))
	}
	for i, r := range p.Rows {
		y := barHead + float64(i)*barRow
		class, words, label := "bar", "", quantity.Percent.Print(r.Percent)
		if r.Word != "" {
			class, words, label = "bar over", "over", label+", "+r.Word
		}
		fmt.Fprintf(c, `<rect class="%s" x="%.1f" y="%.1f" width="%.1f" height="%d"/>`, class, float64(barNames), y+4, max(px(r.Percent)-barNames, .5), barRow-8)
		c.text("", "end", barNames-10, y+15, scene.Fit(report.Clean(r.Name), plotSize, false, barNames-20))
		c.text(words, "start", barWidth-barRoom+14, y+15, label)
	}
	return c.figure(p.Title, p.Desc)
}
