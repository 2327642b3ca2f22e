package main

import "testing"

// TestDue: a small heap may grow fivefold, a larger one up to a fixed size, and one beyond
// that to two and a half times of what is in use; all memory together to a fixed size, or to a
// third more than what is in use.
func TestDue(t *testing.T) {
	for _, c := range []struct {
		live    uint64
		percent int
		limit   int64
	}{
		{0, mostGarbage, mostBytes},
		{1 << 20, mostGarbage, mostBytes},
		{quietBytes / 5, mostGarbage, mostBytes},
		{quietBytes / 4, 300, mostBytes},
		{quietBytes / 2, usual, mostBytes},
		{quietBytes, usual, mostBytes},
		{3 << 30, usual, 4 << 30},
	} {
		if percent, limit := due(c.live); percent != c.percent || limit != c.limit {
			t.Errorf("%d bytes in use: %d %% and %d bytes, want %d %% and %d", c.live, percent, limit, c.percent, c.limit)
		}
	}
}
