// Package protection answers what protective devices do in time, what heat of a short
// circuit a conductor withstands, and how large an earth conductor has to be.
//
// Nothing here knows of designs, files or findings. Bands of devices that no print at
// hand gives are from memory and say so; a maker's own points take their place.
package protection

import (
	"cmp"
	_ "embed"
	"fmt"
	"math"
	"slices"
	"sort"
	"sync"

	"trefoil/ratings"
	"trefoil/ratings/quantity"
	"trefoil/ratings/table"
)

// Point is one point of a maker's curve: the longest time to clear a current.
type Point struct{ CurrentA, Seconds float64 }

// Energy is one point of a maker's let-through: at a prospective current.
type Energy struct{ KA, A2s float64 }

// Device is a protective device as far as its behaviour in time is known.
type Device struct {
	Kind     string // mcb | mccb | fuse
	FuseType string // gg | bs3036; of a fuse
	Trip     string // b | c | d; of an mcb
	RatedA   float64

	InstantA, ShortA, ShortS quantity.Maybe // settings of an mccb: pick-up currents, and the total clearing time of the short-time trip

	Points     []Point  // rising current
	LetThrough []Energy // rising prospective current
}

// Clearing is an upper bound of the time in which a device clears a current.
type Clearing struct {
	S     float64
	Under bool // cleared in less than 0.1 s, where the heat is the maker's to give; S is then 0.1
	Ref   ratings.Ref
}

// instantS is the time below which breakers clear in their instantaneous range, s.
const instantS = 0.1

// pickUp is the greatest ratio of a magnetic trip to its setting: 20 % of tolerance,
// IEC 60947-2 clause 8.3.3.1.2, from memory.
const pickUp = 1.2

// step says that a device clears a current of at least A within S.
type step struct {
	currentA, s float64
	ref         string
}

// mostSteps is how many steps a device has at most.
const mostSteps = 3

// magnetic gives the upper bound of the instantaneous trip in times the rated current,
// IEC 60898-1 Table 2, from memory.
var magnetic = map[string]float64{"b": 5, "c": 10, "d": 20}

//go:embed gg-gates.csv
var gatesText []byte

var gates = sync.OnceValue(func() *table.Table { return table.Must("gg-gates.csv", gatesText) })

// Files lists the table files of this package.
func Files() []ratings.File { return []ratings.File{gates().File()} }

// Gaps that many devices share.
var (
	noTrip       = &ratings.Gap{Reason: "a miniature breaker does not state its trip", Next: `add trip = "b", "c" or "d"`}
	noSetting    = &ratings.Gap{Reason: "a breaker states neither its instantaneous setting nor a curve", Next: "add instant_a, or short_a and short_s, or curve"}
	noLetThrough = &ratings.Gap{Reason: "it is cleared within 0.1 s, and the device does not state its let_through", Next: "add let_through, from the maker's sheet"}
)

// steps adds to a list what is certain of a device without a maker's curve, at most mostSteps,
// current falling; all of it from memory. A Gap says what would have to be stated.
func (d Device) steps(list []step) ([]step, *ratings.Gap) {
	in := d.RatedA
	// The conventional time of the thermal trip: 1 h up to 63 A, 2 h above.
	hours := 3600.0
	if in > 63 {
		hours = 7200
	}
	switch d.Kind {
	case "mcb":
		times, ok := magnetic[d.Trip]
		if !ok {
			return nil, noTrip
		}
		slow := 60.0
		if in > 32 {
			slow = 120
		}
		ref := "IEC 60898-1:2015 Table 7"
		return append(list, step{times * in, instantS, ref}, step{2.55 * in, slow, ref}, step{1.45 * in, hours, ref}), nil
	case "mccb":
		if d.InstantA.Known {
			list = append(list, step{pickUp * d.InstantA.Value, instantS, "IEC 60947-2:2016 clause 8.3.3.1.2, setting plus 20 %"})
		}
		if d.ShortA.Known && d.ShortS.Known {
			list = append(list, step{pickUp * d.ShortA.Value, d.ShortS.Value, "IEC 60947-2:2016 clause 8.3.3.1.2, setting plus 20 %, and the time stated"})
		}
		if len(list) == 0 {
			return nil, noSetting
		}
		list = append(list, step{1.3 * in, hours, "IEC 60947-2:2016 Table 6"})
		slices.SortStableFunc(list, func(a, b step) int { return cmp.Compare(b.currentA, a.currentA) })
		return list, nil
	case "fuse":
		if d.FuseType != "gg" {
			return nil, &ratings.Gap{Reason: fmt.Sprintf("no curve is at hand for a fuse of type %s", d.FuseType), Next: "add curve, from the maker's sheet"}
		}
		t := gates()
		for i := range t.Rows {
			if t.At(i, "rated_a").Value == in {
				ref := t.Ref()
				// IEC 60269-1 Table 2, conventional time and current
				switch {
				case in > 400:
					hours = 4 * 3600
				case in > 160:
					hours = 3 * 3600
				}
				return append(list, step{t.At(i, "max_01s").Value, instantS, ref}, step{t.At(i, "max_5s").Value, 5, ref}, step{1.6 * in, hours, "IEC 60269-1:2006 Table 2"}), nil
			}
		}
		return nil, &ratings.Gap{Reason: fmt.Sprintf("%s has no fuse of %g A", t.Ref(), in), Next: "add curve, from the maker's sheet"}
	}
	return nil, &ratings.Gap{Reason: fmt.Sprintf("a device of kind %q has no curve", d.Kind), Next: "add curve"}
}

// Clear gives the longest time in which the device clears a current, A. A maker's
// points are joined by straight lines on logarithmic axes; behind the last of them its
// time counts. Standard bands are stepped to the safe side and never joined. A Gap says
// what is not known, or that the current is too small to be cleared for certain.
func (d Device) Clear(currentA float64) (Clearing, *ratings.Gap) {
	if len(d.Points) > 0 {
		ref := ratings.Ref{Text: "the maker's curve", Status: ratings.Given}
		i := sort.Search(len(d.Points), func(i int) bool { return !quantity.AtMost(d.Points[i].CurrentA, currentA) })
		if i == 0 {
			return Clearing{}, &ratings.Gap{Reason: fmt.Sprintf("the maker's curve begins at %s, and the current is %s", quantity.Ampere.Print(d.Points[0].CurrentA), quantity.Ampere.Print(currentA)), Next: "add a point for smaller currents"}
		}
		a := d.Points[i-1]
		s := a.Seconds
		if i < len(d.Points) {
			b := d.Points[i]
			share := math.Log(currentA/a.CurrentA) / math.Log(b.CurrentA/a.CurrentA)
			s = a.Seconds * math.Pow(b.Seconds/a.Seconds, share)
		}
		if s < instantS {
			return Clearing{instantS, true, ref}, nil
		}
		return Clearing{s, false, ref}, nil
	}
	var room [mostSteps]step
	list, gap := d.steps(room[:0])
	if gap != nil {
		return Clearing{}, gap
	}
	best := -1
	for i, x := range list {
		if quantity.AtMost(x.currentA, currentA) && (best < 0 || x.s < list[best].s) {
			best = i
		}
	}
	if best >= 0 {
		x := list[best]
		return Clearing{max(x.s, instantS), x.s <= instantS, ratings.Ref{Text: x.ref, Status: ratings.Memory}}, nil
	}
	last := list[0]
	for _, x := range list {
		if x.currentA < last.currentA {
			last = x
		}
	}
	return Clearing{}, &ratings.Gap{Reason: fmt.Sprintf("%s is not certain to trip a device of %s, which wants %s", quantity.Ampere.Print(currentA), quantity.Ampere.Print(d.RatedA), quantity.Ampere.Print(last.currentA)), Next: "choose a device that trips earlier"}
}

// NeedsA is the least current that the device is certain to clear within a time, s.
func (d Device) NeedsA(s float64) (float64, ratings.Ref, *ratings.Gap) {
	if n := len(d.Points); n > 0 {
		ref := ratings.Ref{Text: "the maker's curve", Status: ratings.Given}
		i := sort.Search(n, func(i int) bool { return d.Points[i].Seconds <= s })
		switch i {
		case n:
			return 0, ref, &ratings.Gap{Reason: fmt.Sprintf("the maker's curve ends at %s, above %s", quantity.Second.Print(d.Points[n-1].Seconds), quantity.Second.Print(s)), Next: "add points for larger currents"}
		case 0:
			return d.Points[0].CurrentA, ref, nil
		}
		a, b := d.Points[i-1], d.Points[i]
		share := math.Log(s/a.Seconds) / math.Log(b.Seconds/a.Seconds)
		return a.CurrentA * math.Pow(b.CurrentA/a.CurrentA, share), ref, nil
	}
	var room [mostSteps]step
	list, gap := d.steps(room[:0])
	if gap != nil {
		return 0, ratings.Ref{}, gap
	}
	found := -1
	for i, x := range list {
		if x.s <= s && (found < 0 || x.currentA < list[found].currentA) {
			found = i
		}
	}
	if found < 0 {
		return 0, ratings.Ref{}, &ratings.Gap{Reason: fmt.Sprintf("nothing is known of the device within %s", quantity.Second.Print(s)), Next: "add curve, from the maker's sheet"}
	}
	return list[found].currentA, ratings.Ref{Text: list[found].ref, Status: ratings.Memory}, nil
}

// LetThroughA2s is the heat that the device lets through at a prospective current, by
// the maker's points: that of the next point above. Without them there is no answer, for
// below 0.1 s a time and a current do not give it.
func (d Device) LetThroughA2s(currentA float64) (float64, ratings.Ref, *ratings.Gap) {
	ref := ratings.Ref{Text: "the maker's let-through", Status: ratings.Given}
	if len(d.LetThrough) == 0 {
		return 0, ref, noLetThrough
	}
	i := sort.Search(len(d.LetThrough), func(i int) bool { return quantity.AtMost(currentA/1000, d.LetThrough[i].KA) })
	if i == len(d.LetThrough) {
		return 0, ref, &ratings.Gap{Reason: fmt.Sprintf("let_through ends at %s, and %s flow", quantity.KiloAmp.Print(d.LetThrough[i-1].KA), quantity.KiloAmp.Print(currentA/1000)), Next: "add a point for larger currents"}
	}
	return d.LetThrough[i].A2s, ref, nil
}

// Worst lists the currents between two at which the device may let the most heat through:
// just below its instantaneous pick-up, where a short-time delay still counts, and at the
// points of a maker's curve. Standard bands of fuses and miniature breakers are left out:
// their steps say nothing of what lies between them.
func (d Device) Worst(lowA, highA float64) []float64 {
	var list []float64
	if len(d.Points) > 0 {
		for _, p := range d.Points {
			if p.CurrentA > lowA && p.CurrentA < highA && p.Seconds >= instantS {
				list = append(list, p.CurrentA)
			}
		}
		return list
	}
	if d.Kind == "mccb" && d.ShortA.Known && d.ShortS.Known && d.InstantA.Known {
		if a := min(highA, pickUp*d.InstantA.Value*(1-1e-6)); a > lowA && a >= pickUp*d.ShortA.Value {
			list = append(list, a)
		}
	}
	return list
}

// Fault is a setting that cannot be.
type Fault struct {
	Setting      string // the attribute of the design language
	Reason, Next string
}

// Check lists settings that cannot be.
func (d Device) Check() []Fault {
	var list []Fault
	add := func(setting, reason, next string) { list = append(list, Fault{setting, reason, next}) }
	for _, s := range []struct {
		name string
		a    quantity.Maybe
	}{{"instant_a", d.InstantA}, {"short_a", d.ShortA}} {
		switch {
		case !s.a.Known:
		case d.Kind != "mccb":
			add(s.name, fmt.Sprintf("%s is a setting of an mccb, and this is a device of kind %q", s.name, d.Kind), "remove it, or correct kind")
		case s.a.Value <= d.RatedA:
			add(s.name, fmt.Sprintf("%s is %s, which is not above the setting of %s", s.name, quantity.Ampere.Print(s.a.Value), quantity.Ampere.Print(d.RatedA)), "write the pick-up in amperes, not in times the setting")
		}
	}
	switch {
	case d.Kind != "mccb":
		if d.ShortS.Known && !d.ShortA.Known {
			add("short_s", fmt.Sprintf("short_s is a setting of an mccb, and this is a device of kind %q", d.Kind), "remove it, or correct kind")
		}
	case d.ShortA.Known && !d.ShortS.Known:
		add("short_a", "short_a is given without short_s", "add short_s, the total clearing time in s")
	case !d.ShortA.Known && d.ShortS.Known:
		add("short_s", "short_s is given without short_a", "add short_a, the pick-up in A")
	}
	if d.ShortA.Known && d.InstantA.Known && d.ShortA.Value >= d.InstantA.Value && d.Kind == "mccb" {
		add("short_a", fmt.Sprintf("short_a is %s, and the instantaneous trip at %s comes before it", quantity.Ampere.Print(d.ShortA.Value), quantity.Ampere.Print(d.InstantA.Value)), "set short_a below instant_a")
	}
	if d.Trip != "" && d.Kind != "mcb" {
		add("trip", fmt.Sprintf("trip is a letter of an mcb, and this is a device of kind %q", d.Kind), "remove it, or correct kind")
	}
	for i := 1; i < len(d.Points); i++ {
		if d.Points[i].CurrentA <= d.Points[i-1].CurrentA || d.Points[i].Seconds > d.Points[i-1].Seconds {
			add("curve", fmt.Sprintf("point %d of the curve does not lie right of and below point %d", i+1, i), "give points of rising current and falling time: [[current in A, longest time in s], ...]")
			break
		}
	}
	for i := 1; i < len(d.LetThrough); i++ {
		if d.LetThrough[i].KA <= d.LetThrough[i-1].KA || d.LetThrough[i].A2s < d.LetThrough[i-1].A2s {
			add("let_through", fmt.Sprintf("point %d of let_through does not lie right of and above point %d", i+1, i), "give points of rising current: [[prospective current in kA, let-through in A2s], ...]")
			break
		}
	}
	return list
}
