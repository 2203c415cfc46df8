package characters

import (
	"math"
	"testing"

	"backporch/patterns/characters/screentest"
)

// Where a capture has no chroma at all, inks tell their luma alone: three greys of three lumas, read as colours with a bit in common, say nothing of it that the
// other colours of those lumas don't say.
func TestInksWithoutChroma(t *testing.T) {
	codes := screentest.Program(20)
	inks := []int{2, 3, 4}
	s, p := screentest.Typed(t, codes, func(i int) int { return inks[i%3] })
	weigh := func() (held [2]float64) {
		o := newInkOdds(&Screen{Survey: s, Profile: p}, pageOf(s, p, &forms{}))
		return [2]float64{o.weigh(3, 0) - o.weigh(-1, 0), o.weigh(3, 1) - o.weigh(-1, 0)}
	}
	told := weigh()
	s.Signal.ChromaDead = true
	hidden := weigh()
	if math.Abs(told[0]) < 0.5 || math.Abs(hidden[0]) > math.Abs(told[0]) {
		t.Errorf("bit 3 at 0: %.2f nats with chroma, %.2f without", told[0], hidden[0])
	}
	if hidden[1] < told[1]+5 { // no longer against what was read
		t.Errorf("bit 3 at 1: %.2f nats with chroma, %.2f without", told[1], hidden[1])
	}
}

// A line of a cell that was even, as those about it, and now is not, was hit; an edge that moves, and what is new in all lines, was not.
func TestHitLines(t *testing.T) {
	for _, c := range []struct {
		usual, now uint64
		want       bool
	}{
		{0, 0x0000e70000000000, true},
		{^uint64(0), 0xffffff00ffffffff, true},
		{0x8811224488112244, 0x8811224410112244, false},
		{0x00003c4242423c00, 0x00003e4242423c00, false},
		{0, 0x3c42424242423c00, false},
		{0, 0xe700000000000000, false}, // the row above may do that
	} {
		if got := hitLines(c.usual, c.now); got != c.want {
			t.Errorf("%016x, then %016x: hit %v", c.usual, c.now, got)
		}
	}
}
