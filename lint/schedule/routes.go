package schedule

import (
	"fmt"
	"strings"

	"trefoil/lint/assess"
	"trefoil/lint/design"
	"trefoil/ratings/quantity"
)

// route is a route with what lies in it, nil where nothing does.
type route struct {
	*design.Route
	*assess.Shared
}

// lengthOf is the length of a route: stated, else that of the longest run in it.
func (l *list) lengthOf(r route) Cell {
	if r.Shared == nil {
		return stated(r.LengthM)
	}
	length, _ := l.RouteLengthM(r.Shared)
	return FigureCell(length)
}

// held is a figure of what a route holds, where the design gives something to hold it against.
func held(look func(*assess.Held) Cell) func(route) Cell {
	return func(r route) Cell {
		if r.Shared == nil || r.Held == nil {
			return Cell{}
		}
		return look(r.Held)
	}
}

func routes(l *list) Table {
	rows := make([]route, len(l.Design.Routes))
	for i, r := range l.Design.Routes {
		rows[i] = route{r, l.Shared[r]}
	}
	t := build(rows, []col[route]{
		words("route", "route", func(r route) Cell { return TextCell(r.Name) }).usual(),
		words("note", "description", func(r route) Cell { return word(r.Note) }),
		words("laid", "laid", func(r route) Cell { return word(r.Laid) }).usual(),
		words("lid", "lid", func(r route) Cell { return yes(r.Lid) }).usual(),
		words("spacing", "spacing", func(r route) Cell { return word(r.Spacing) }).usual(),
		number("spacing_mm", "clear distance", quantity.Milli, func(r route) Cell { return stated(r.SpacingMM) }),
		words("held_by", "held by", func(r route) Cell { return word(r.HeldBy) }),
		count("tiers", "tiers", func(r route) Cell { return stated(r.Tiers) }),
		words("vertical", "vertical", func(r route) Cell { return yes(r.Vertical) }),
		number("width_mm", "width", quantity.Milli, func(r route) Cell { return stated(r.WidthMM) }),
		number("height_mm", "height inside", quantity.Milli, func(r route) Cell { return stated(r.HeightMM) }),
		words("material", "material", func(r route) Cell { return word(r.Material) }),
		number("air_c", "air", quantity.Celsius, func(r route) Cell { return stated(r.AirC) }).usual(),
		words("sun", "sun", func(r route) Cell { return yes(r.Sun) }).usual(),
		number("soil_c", "soil", quantity.Celsius, func(r route) Cell { return stated(r.SoilC) }),
		number("soil_km_w", "soil resistivity", quantity.SoilKMW, func(r route) Cell { return stated(r.SoilKmW) }),
		number("depth_m", "depth", quantity.Metre, func(r route) Cell { return stated(r.DepthM) }).usual(),
		words("ducts", "ducts", func(r route) Cell {
			if r.Laid.Value != "buried-duct" {
				return Cell{}
			}
			return word(r.Ducts)
		}),
		number("duct_inside_mm", "bore", quantity.Milli, func(r route) Cell { return stated(r.DuctInsideMM) }),
		words("runs", "runs", func(r route) Cell {
			if r.Shared == nil {
				return Cell{}
			}
			var names []string
			for _, i := range r.Runs {
				name := l.Runs[i].Run.Name
				if n := l.Runs[i].Legs; n > 1 {
					name = fmt.Sprintf("%s (%d legs)", name, n)
				}
				names = append(names, name)
			}
			return TextCell(strings.Join(names, "; "))
		}).usual(),
		count("circuits", "circuits", func(r route) Cell {
			if r.Shared == nil {
				return Cell{}
			}
			return of(float64(r.Circuits))
		}).usual(),
		count("other_circuits", "of them others'", func(r route) Cell {
			if r.OtherCircuits.Origin == design.Absent {
				return Cell{State: Unknown}
			}
			return FigureCell(r.OtherCircuits.Maybe())
		}).usual(),
		number("length_m", "length", quantity.Metre, l.lengthOf).usual(),
		number("cables_mm", "cables side by side", quantity.Milli, held(func(h *assess.Held) Cell {
			if len(h.WidthGaps) > 0 {
				return Cell{State: Unknown}
			}
			return of(h.WidthMM)
		})),
		number("room_mm", "room for them", quantity.Milli, held(func(h *assess.Held) Cell {
			if !h.RoomMM.Known {
				return Cell{}
			}
			return FigureCell(h.RoomMM)
		})),
		number("kg_m", "mass", quantity.KilogramM, held(func(h *assess.Held) Cell {
			if len(h.MassGaps) > 0 {
				return Cell{State: Unknown}
			}
			return of(h.KgM)
		})),
		number("limit_kg_m", "mass allowed", quantity.KilogramM, held(func(h *assess.Held) Cell {
			if !h.MayKgM.Known {
				return Cell{}
			}
			return FigureCell(h.MayKgM)
		})),
		number("span_m", "span", quantity.Metre, func(r route) Cell { return stated(r.SpanM) }),
		count("fire_barriers", "fire barriers", func(r route) Cell { return stated(r.FireBarriers) }),
		count("fire_seals", "fire seals", func(r route) Cell { return stated(r.FireSeals) }),
		words("findings", "findings", func(r route) Cell { return joined(l.told[r.Subject()]) }),
		words("written_at", "written at", func(r route) Cell { return TextCell(r.At.String()) }),
	})
	if s := l.Design.Site(); s != nil {
		var parts []string
		for _, x := range []struct {
			what string
			unit quantity.Unit
			n    design.Num
		}{{"air", quantity.Celsius, s.AirC}, {"soil", quantity.Celsius, s.SoilC}, {"soil resistivity", quantity.SoilKMW, s.SoilKmW}, {"depth", quantity.Metre, s.DepthM}} {
			if x.n.Known() {
				parts = append(parts, x.what+" "+x.unit.Print(x.n.Value))
			}
		}
		if len(parts) > 0 {
			t.Basis = append(t.Basis, "where a route states none: "+strings.Join(parts, ", "))
		}
	}
	t.Basis = append(t.Basis, "circuits: every leg of every run, and those of other projects; length: that of the longest run in it, where the route states none")
	return t
}
