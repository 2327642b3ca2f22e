package rules

import (
	"fmt"
	"time"

	"trefoil/lint/cost"
	"trefoil/lint/design"
	"trefoil/lint/engine"
	"trefoil/lint/finding"
)

// PriceMissing notes what a design with price lists needs and no list prices.
var PriceMissing = &engine.Rule{
	Name: "price-missing", Summary: "price lists leave out some of what the design needs", Severity: finding.Note,
	Clause: engine.Clause{Own: "a sum that leaves something out reads like a sum"}, Since: "0.1.0", Check: priceMissing,
	Doc: engine.Doc{
		Checks: "That the price blocks of a design and its library, where there are any, price every cable, earth conductor, lug, gland, support, lid, duct and fixing that is drawn, and state the hours of the work and what an hour costs. Told once. The sums of the bill say how many of their parts are missing.",
		Why:    "Two choices are compared by their sums, and the one whose cable has no price looks cheap.",
		Blind:  "Whether the prices are right; devices and boards, which are not counted; quantities that the design does not say enough for, which the bill tells.", Sources: "Common practice.", Bad: "no-lug", Good: "all-priced",
	},
}

func priceMissing(r *engine.Review) {
	site := r.Design.Site()
	if site == nil || len(r.Design.Prices) == 0 || r.Design.Broken {
		return
	}
	var lacks []string
	seen := map[string]bool{}
	for _, i := range cost.Of(r.Review).Items {
		if i.Unpriced && !seen[i.Lack] {
			seen[i.Lack] = true
			lacks = append(lacks, i.Lack)
		}
	}
	if len(lacks) == 0 {
		return
	}
	at := site.At
	if first := r.Design.Prices[0]; !first.At.File.Library {
		at = first.At
	}
	r.Find(r.At(at, site.Subject(), "the price lists leave out what the design needs: "+finding.Few(lacks), "add the prices; until then sums say that parts of them are missing"))
}

// PriceOutdated notes a price list that is old.
var PriceOutdated = &engine.Rule{
	Name: "price-outdated", Summary: "a price list is old, or dated after today", Severity: finding.Note,
	Clause: engine.Clause{Own: "metal and labour are dearer after a year, and a list does not say so"}, Since: "0.1.0", Check: priceOutdated,
	Doc: engine.Doc{
		Checks: "The date of each price block against today (or --today): at most price_days of the site old, 365 where it states none.",
		Why:    "The job is offered at last year's copper.",
		Blind:  "Whether prices moved meanwhile.", Sources: "Common practice.", Bad: "older", Good: "a-year-old",
	},
}

func priceOutdated(r *engine.Review) {
	site := r.Design.Site()
	if site == nil || !site.PriceDays.Known() || r.Today.IsZero() {
		return
	}
	for _, p := range r.Design.Prices {
		day, err := time.Parse(time.DateOnly, p.Date.Value)
		if !p.Date.Known() || err != nil {
			continue
		}
		old := int(r.Day().Sub(day).Hours() / 24)
		limit := int(site.PriceDays.Value)
		switch {
		case old < 0:
			r.Find(r.At(p.Date.At, p.Subject(), fmt.Sprintf("price %q is of %s, which is still to come", p.Name, p.Date.Value), "correct the date"))
		case old > limit:
			f := r.At(p.Date.At, p.Subject(), fmt.Sprintf("price %q is of %s, %d days old; a list stands for %d", p.Name, p.Date.Value, old, limit), "ask for new prices, or state price_days in site")
			if site.PriceDays.Origin == design.Stated {
				f.Related = []finding.Related{{At: site.PriceDays.At, Message: "how long a list stands"}}
			}
			r.Find(f)
		}
	}
}
