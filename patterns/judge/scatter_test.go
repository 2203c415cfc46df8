package judge

import (
	"math/rand/v2"
	"testing"

	"backporch/analyse/analysetest"
)

// blocks is a written screen's map of colours: a title, a bar and text.
func blocks() chart {
	c := chart{make([]int, 24*32), 32}
	for i := range c.value {
		switch row := i / 32; {
		case row < 2:
			c.value[i] = 1
		case row == 23:
			c.value[i] = 2
		default:
			c.value[i] = 7
		}
	}
	return c
}

// Cells that lost one bit at random places make a map shorter without them; blocks, a marked word and a chequer do not, nor
// dots of every other colour more in one bit than in another.
func TestScatter(t *testing.T) {
	r := rand.New(rand.NewPCG(4, 2))
	if s := blocks().scattered(1, 0); s.gain > 0 {
		t.Errorf("blocks gain %.1f", s.gain)
	}
	lost := blocks()
	put := 0
	for i := range lost.value {
		if lost.value[i]>>1&1 == 1 && r.Float64() < 0.2 {
			lost.value[i] &^= 2
			put++
		}
	}
	if s := lost.scattered(1, 0); s.gain < 30 || len(s.wrong) < put*9/10 {
		t.Errorf("%d cells lost bit 1: %d found, gain %.1f", put, len(s.wrong), s.gain)
	}
	for _, bit := range []int{0, 2} {
		for level := range 2 {
			if s := lost.scattered(bit, level); s.gain > 0 {
				t.Errorf("bit %d was never lost: at %d it gains %.1f", bit, level, s.gain)
			}
		}
	}
	word, chequer := blocks(), blocks()
	for i := 10*32 + 4; i < 10*32+16; i++ {
		word.value[i] = 5
	}
	for i := range chequer.value {
		if row := i / 32; row > 4 && row < 20 && (row+i)%2 == 0 {
			chequer.value[i] = 5
		}
	}
	for name, c := range map[string]chart{"a marked word": word, "a chequer": chequer} {
		if s := c.scattered(1, 0); s.gain > dotted {
			t.Errorf("%s gains %.1f", name, s.gain)
		}
	}
}

// What lies on one row of a chip alone speaks for that row without its cells being listed, and for no other.
func TestScatterOnARow(t *testing.T) {
	c := blocks()
	in := func(i int) bool { return i%128 == 70 }
	n := 0
	for i := range c.value {
		if in(i) && c.value[i] == 7 {
			c.value[i] = 5
			n++
		}
	}
	s := c.scattered(1, 0)
	if gain, wrong := s.at(in); wrong != n || gain <= s.gain {
		t.Errorf("%d of %d cells, gain %.1f, listed %.1f", wrong, n, gain, s.gain)
	}
	if gain, wrong := s.at(func(i int) bool { return i%128 == 71 }); gain != 0 || wrong != 0 {
		t.Errorf("another row: %d cells, gain %.1f", wrong, gain)
	}
}

// Shapes that fill most of their cells leave less of the paper about them than of their own colour, so that the two are read the other way round; no bit of that is odd.
func TestFilledShapesAreNoScatter(t *testing.T) {
	p := analysetest.Profile(t, "attr-256x192-50")
	rng := rand.New(rand.NewPCG(5, 8))
	screen := analysetest.New(p)
	for _, inverted := range []bool{false, true} {
		e := inLetters(t, p, screen.Memory[:p.Size()])
		for range 14 {
			c := &e.s.Cells[(2+rng.IntN(20))*p.Columns()+1+rng.IntN(30)]
			c.Paper = 3 // of the paper's 7 a bit less
			if inverted {
				c.Single, c.Ink, c.Bits = false, 7, [8]uint8{0xe7, 0x81, 0x81, 0, 0, 0x81, 0x81, 0xe7}
			}
		}
		odds, cells := e.scattering(5)
		if inverted && odds > 0 {
			t.Errorf("%.1f nats by %d cells with shapes", odds, cells)
		}
		if !inverted && odds < 10 {
			t.Errorf("%.1f nats where cells have another paper", odds)
		}
	}
}
