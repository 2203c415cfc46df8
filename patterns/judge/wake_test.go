package judge

import (
	"math/rand/v2"
	"testing"

	"backporch/analyse/analysetest"
)

// Colour bytes that are 0x00 and 0xFF by one address bit, with one bit in twenty fallen as it likes, are memory that nothing has written, whatever the bitmap's own pattern;
// one colour all over a listing, but for a lane that is wrong here and there, is a drawn screen.
func TestWoken(t *testing.T) {
	p := analysetest.Profile(t, "attr-256x192-50")
	for seed := range uint64(3) {
		rng := rand.New(rand.NewPCG(seed, 11))
		fallen := func(every int) (b uint8) {
			for bit := range 8 {
				if rng.IntN(every) == 0 {
					b |= 1 << bit
				}
			}
			return b
		}
		screen := analysetest.New(p)
		m := screen.Memory[:p.Size()]
		for a := range m {
			m[a] = 0
			switch half := a&16 != 0; {
			case a >= p.ColourBase && half, a < p.ColourBase && half && a&256 != 0: // the bitmap's is no parity
				m[a] = 0xff
			}
			m[a] ^= fallen(20)
		}
		if odds, ok := coloured(inLetters(t, p, m)).wakeOdds(); !ok || odds < 10 {
			t.Errorf("seed %d: woken memory by %.1f nats", seed, odds)
		}
		drawn := analysetest.New(p)
		analysetest.Listing(p, drawn, 20, rng)
		m = drawn.Memory[:p.Size()]
		for a := range m {
			m[a] ^= fallen(15) & (1 << 4)
		}
		if odds, _ := coloured(inLetters(t, p, m)).wakeOdds(); odds > 0 {
			t.Errorf("seed %d: a listing with a weak lane woken by %.1f nats", seed, odds)
		}
	}
}

// coloured gives the cells the colours that memory has, as far as they show.
func coloured(e *evidence) *evidence {
	for i := range e.s.Cells {
		c := &e.s.Cells[i]
		b := e.s.Memory.Bytes[e.p.CellAddress(c.Row, c.Column)]
		c.Ink, c.Paper = int(b&7), int(b>>3&7)
		if c.Single = c.Bits == [8]uint8{} || c.Ink == c.Paper; c.Single {
			c.Bits, c.Ink = [8]uint8{}, -1
			e.s.Memory.Seen[e.p.CellAddress(c.Row, c.Column)] = 0b00111000
		}
	}
	return gather(e.s, e.p)
}
