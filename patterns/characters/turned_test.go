package characters

import (
	"math/rand/v2"
	"testing"

	"backporch/patterns/characters/screentest"
)

// Blocks of quarters, and bars, are what pictures are drawn with; letters are not, nor is a cell with a point in it.
func TestBarredQuarters(t *testing.T) {
	rng := rand.New(rand.NewPCG(2, 8))
	for k := range 16 {
		rows := uint64(0)
		for q, shift := range [...]int{0, 4, 32, 36} {
			if k>>q&1 == 1 {
				rows |= 0x0f0f0f0f << shift
			}
		}
		if rows ^= 1 << rng.IntN(64); barred(rows) == (k == 0) {
			t.Errorf("quarters %04b with one pixel misread: %016x, barred %v", k, rows, barred(rows))
		}
	}
	s, p := screentest.Typed(t, screentest.Page(rng), screentest.White)
	page := pageOf(s, p, &forms{})
	for i, rows := range page.rows {
		if code := s.Text.Codes[i]; (code >= 'A' && code <= 'Z' && code != 'I' || code >= '0' && code <= '9') && barred(rows) {
			t.Errorf("%c is barred", code)
		}
	}
}

// A pixel that a held bit of the generator would take away is no witness of that where the stroke is in the next pixel instead.
func TestStrokeIsNotLost(t *testing.T) {
	const last = 0x0101010101010101
	for _, c := range []struct {
		was, now, aside uint64
	}{
		{0x0000414141000000, 0x0000424240000000, 0x0000010100000000}, // in two lines of three
		{0x0000414141000000, 0x0000404040000000, 0},                  // gone
		{0x0000424242000000, 0x0000424242000000, 0},                  // never there
	} {
		if got := strokeAside(c.was, c.now, last); got != c.aside {
			t.Errorf("%016x, now %016x: %016x lies aside, not %016x", c.was, c.now, got, c.aside)
		}
	}
}
