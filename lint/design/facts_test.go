package design

import (
	"fmt"
	"slices"
	"strings"
	"testing"
)

// everything is a design with one of each block and inner block.
const everything = `
site "x" {
  voltage_v = let.volts
  limit "submain" {
    rise_percent = 1
  }
  threshold "study" {
    above_kva = 200
  }
  economy {
    years = 20
  }
}
let {
  volts = 400
}
supply "g" {
  transformer {
    rated_kva = 500
  }
}
source "s" {
  rated_kva = 10 * 3
  terminals {
    materials = ["copper"]
  }
  isolator {
    kind = "none"
  }
}
board "b" {
  terminals {
    max_mm2 = 95
  }
  main_switch {
    rated_a = 63
  }
  portion "left" {
    runs = [run.r]
  }
}
load "l" {
  at = board.b
}
route "t" {
  laid = "ladder"
}
cable "c" {
  data "50" {
    kg_m = 1.5
  }
}
run "r" {
  from = source.s
  to   = board.gone
  device {
    at          = board.b
    let_through = [[10, 6e5], [25, 1e6]]
    terminals {
      max_c = 75
    }
  }
  section {
    route    = route.t
    length_m = "long"
  }
  ends {
    at = source.s
  }
  built {
    length_m = 20
  }
}
price "p" {
  height_factors = { 3.5 = 1.1 }
  access_factors = { roof = 1.2 }
  cable "c" {
    per_m = { 50 = 12.5, "4/0 AWG" = 30 }
  }
  earth "copper" {
    per_m = 3
  }
  lug "copper" {
    each = { 50 = -1 }
  }
  tail "copper" {
    each = 4
  }
  termination "copper" {
    hours = 0.2
  }
  gland {
    each = 5
  }
  laying "ladder" {
    per_m = 30
  }
}
approved "a" {
  equipment "M" {
    count = 2
  }
}
house_rule "h" {
  must = run.size_mm2   > 4
}
waiver "w" {
  on = run.r
}
`

// TestParts: every kind of block and of inner block that the language has is among the
// parts, with its values worked out and its places.
func TestParts(t *testing.T) {
	d := read(t, everything)
	inner := map[string][]string{
		"site": keysOf(siteSchema.blocks), "supply": keysOf(supplySchema.blocks), "source": keysOf(sourceSchema.blocks), "board": keysOf(boardSchema.blocks),
		"load": keysOf(loadSchema.blocks), "route": keysOf(routeSchema.blocks), "cable": keysOf(cableSchema.blocks), "run": keysOf(runSchema.blocks),
		"approved": keysOf(approvedSchema.blocks), "house_rule": keysOf(houseSchema.blocks), "waiver": keysOf(waiverSchema.blocks), "price": keysOf(priceSchema.blocks),
	}
	inner["run"] = append(inner["run"], "device terminals")
	seen := map[string]bool{"let": true}
	said := map[string]string{}
	d.Each(func(o *Object, block any) {
		seen[o.Kind] = true
		var kinds []string
		for _, p := range Parts(block) {
			kinds = append(kinds, p.Kind)
			for _, f := range p.Facts {
				said[strings.Join([]string{o.Kind, p.Kind, p.Key, f.Name}, " ")] = f.Value
				list := f.Name == "runs" // whose place is that of its last reference
				if f.Origin == Stated && !strings.HasPrefix(f.At.Text(), f.Name) && !list {
					t.Errorf("%s of %s points at %q", f.Name, o.Subject(), f.At.Text())
				}
			}
		}
		slices.Sort(kinds)
		if want := append([]string{""}, inner[o.Kind]...); fmt.Sprint(kinds) != fmt.Sprint(slices.Sorted(slices.Values(want))) {
			t.Errorf("%s has the parts %q, and the language %q", o.Kind, kinds, want)
		}
	})
	for _, kind := range allKinds {
		if !seen[kind] {
			t.Errorf("%s is not among the blocks", kind)
		}
	}
	for name, want := range map[string]string{
		"site   voltage_v": "400", "source   rated_kva": "30", "source terminals  materials": `["copper"]`, "route   lid": "false", "route   laid": `"ladder"`,
		"run   from": "source.s", "run   to": "", "run section route.t length_m": "", "run device board.b let_through": "[[10, 600000], [25, 1000000]]",
		"board portion left runs": "[run.r]", "house_rule   must": "run.size_mm2 > 4", "waiver   on": "run.r", "price cable c per_m": `{ 50 = 12.5, "4/0 AWG" = 30 }`, "price   height_factors": "{ 3.5 = 1.1 }", "price   access_factors": "{ roof = 1.2 }",
		"price earth copper per_m": "3", "price lug copper each": "", "site economy  years": "20", "run   parallel": "1",
	} {
		if got, is := said[name]; !is || got != want {
			t.Errorf("%s is %q, want %q", name, got, want)
		}
	}
	if _, is := said["route   air_c"]; is {
		t.Error("what is not stated is there")
	}
}
