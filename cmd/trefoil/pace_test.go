package main

import "testing"

// TestGarbage: a small heap may grow fivefold, a larger one up to a fixed size, and one
// beyond that to twice of what is in use.
func TestGarbage(t *testing.T) {
	for _, c := range []struct {
		live uint64
		want int
	}{
		{0, mostGarbage},
		{1 << 20, mostGarbage},
		{quietBytes / 5, mostGarbage},
		{quietBytes / 4, 300},
		{quietBytes / 2, 100},
		{quietBytes, leastGarbage},
		{1 << 40, leastGarbage},
	} {
		if got := garbage(c.live); got != c.want {
			t.Errorf("%d bytes in use: %d %%, want %d", c.live, got, c.want)
		}
	}
}
