package survey

import (
	"math/rand/v2"
	"slices"
	"testing"

	"backporch/analyse"
	"backporch/analyse/analysetest"
)

// A line of paper that goes to the luma of the paper's colour without one of its bits is that bit of the colour byte (its layout is the profile's: ink in bits 0 to 2,
// paper in 3 to 5, brightness in 6), rippled or not; what goes to the ink's, or anywhere else, is the pattern's.
func TestDash(t *testing.T) {
	p := analysetest.Profile(t, "attr-256x192-50")
	s := &analyse.Survey{}
	s.Levels.Black, s.Levels.White = 16, 235
	track := &track{s: s, p: p}
	const cyan, black, green, white = 5, 0, 4, 7
	for _, c := range []struct {
		name       string
		paper, ink int // ink -1: a cell of one colour
		pattern    uint8
		to         int // the colour that what moves goes to
		moved      uint8
		ripple     float64
		bit        int
		colourByte bool
	}{
		{"paper without blue", cyan, -1, 0, green, 0xff, 0, 3, true},
		{"paper without green, rippled", cyan, -1, 0, 1, 0xaa, 0.3, 5, true},
		{"the paper of half a cell", white, black, 0x0f, 3, 0xf0, 0, 5, true},
		{"the ink of half a cell", black, white, 0x0f, 3, 0x0f, 0, 2, true},
		{"brightness", white, -1, 0, 15, 0xff, 0, 6, true},
		{"two bits", white, -1, 0, 1, 0xff, 0, 0, false},
		{"paper to ink", white, 3, 0x0f, 3, 0xf0, 0, 0, false},
		{"one pixel", cyan, -1, 0, 1, 0x08, 0, 0, false},
	} {
		cell := &analyse.Cell{Paper: c.paper, Ink: c.ink, Single: c.ink < 0}
		from := c.paper
		if c.moved&c.pattern == c.moved && c.ink >= 0 {
			from = c.ink
		}
		step := (p.Colours[c.to].Y - p.Colours[from].Y) * (s.Levels.White - s.Levels.Black)
		set := c.moved
		if c.ripple > 0 {
			set = 0xff
		}
		var shift [8]float64
		for x := range shift {
			if set>>(7-x)&1 == 1 {
				shift[x] = step * (1 + c.ripple*float64(1-2*(x&1)))
			}
		}
		bit, ok := track.dash(cell, c.pattern, c.moved, &shift)
		if ok != c.colourByte || ok && bit != c.bit {
			t.Errorf("%s: bit %d, %v", c.name, bit, ok)
		}
	}
}

// What takes turns every field, every second or every fourth is the subcarrier's sequence; what comes and goes by chance, or for a while, is not.
func TestInSequence(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 1))
	for _, d := range []int{1, 2, 4} {
		if !inSequence(24, func(k int) bool { return k/d&1 == 1 }) {
			t.Errorf("turns every %d fields: no sequence", d)
		}
	}
	for range 200 {
		var by [24]bool
		for k := range by {
			by[k] = r.IntN(2) == 0
		}
		if inSequence(len(by), func(k int) bool { return by[k] }) {
			t.Errorf("by chance: %v is a sequence", by)
		}
	}
	if inSequence(24, func(k int) bool { return k >= 9 }) || inSequence(24, func(k int) bool { return k/8&1 == 1 }) || inSequence(3, func(k int) bool { return k&1 == 1 }) {
		t.Error("one turn, turns every eight fields, or too few fields, are no sequence")
	}
}

// The place of pixels is told by the number of edges and by how near they lie to the grid: any place gives a distance of 1/sqrt(12) rms, of which nothing is told.
func TestTold(t *testing.T) {
	at := func(edges int, residual float64) float64 {
		return told(analyse.Registration{Edges: edges, ResidualPx: residual})
	}
	if at(1000, 0.2887) > 1e-3 || at(1000, 0.4) != 0 || at(1000, 0) != 1000 || at(500, 0.1) <= at(500, 0.2) || at(500, 0.1) >= at(600, 0.1) {
		t.Errorf("%g %g %g", at(1000, 0.2887), at(1000, 0), at(500, 0.1))
	}
}

// Cells that turn at one field flash, those beside them that turn by themselves do not; where most go by themselves none does, and of a few nothing is said against it.
func TestTogether(t *testing.T) {
	for _, c := range []struct {
		turns []int
		want  []bool
	}{
		{[]int{9, 9, 0, 10, 9, 17}, []bool{true, true, false, true, true, false}},
		{[]int{3, 5, 8, 11, 14, 20}, []bool{false, false, false, false, false, false}},
		{[]int{4, 0, 12}, []bool{true, false, true}},
	} {
		if got := together(c.turns, 24); !slices.Equal(got, c.want) {
			t.Errorf("%v: %v, want %v", c.turns, got, c.want)
		}
	}
}
