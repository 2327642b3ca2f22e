// Package sets lists the rating sets that come with the program.
package sets

import (
	"fmt"
	"strings"

	"github.com/agext/levenshtein"

	"trefoil/ratings"
	"trefoil/ratings/asnzs3008"
	"trefoil/ratings/bs7671"
	"trefoil/ratings/iec60287"
	"trefoil/ratings/iec60364"
	"trefoil/ratings/nec"
)

// All lists the sets; each is made once and may be used by several goroutines.
func All() []ratings.Set {
	return []ratings.Set{iec60364.Set(), bs7671.Set(), asnzs3008.Australia(), asnzs3008.NewZealand(), nec.Set(), iec60287.Set()}
}

// Find gives the set of a name, or an error that names the nearest.
func Find(name string) (ratings.Set, error) {
	best, distance := "", 1<<30
	var names []string
	for _, s := range All() {
		n := s.Info().Name
		if n == name {
			return s, nil
		}
		names = append(names, n)
		d := levenshtein.Distance(name, n, nil)
		if name != "" && strings.HasPrefix(n, name) {
			d = 0
		}
		if d < distance {
			best, distance = n, d
		}
	}
	if distance <= len(best)/2 {
		return nil, fmt.Errorf("did you mean %q? known are %s", best, strings.Join(names, ", "))
	}
	return nil, fmt.Errorf("known are %s", strings.Join(names, ", "))
}
