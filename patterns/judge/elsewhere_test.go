package judge

import (
	"math"
	"math/rand/v2"
	"testing"

	"backporch/analyse"
	"backporch/analyse/analysetest"
	"backporch/patterns"
)

// A chip's column that is dead goes by the address, and an address by where the picture lies: on black amid black it is told, with its number, wherever the picture was taken to lie.
func TestDeadColumnWhereverThePictureLies(t *testing.T) {
	p := analysetest.Profile(t, "attr-256x192-50")
	const lane, dead = 4, 20 // column 20: the third line of the third eighth but one of the picture, over all its width
	s := analysetest.New(p)
	analysetest.Listing(p, s, 9, rand.New(rand.NewPCG(3, 1)))
	memory := s.Memory[:p.Size()]
	for a := range p.ColourBase {
		if _, column := p.ChipAddress(a); column == dead {
			memory[a] |= 1 << lane
		}
	}
	for _, off := range []int{0, 8, -8} {
		e := inLetters(t, p, memory)
		if off < 0 {
			e.s.Memory.Changed = nil // as of a still
		}
		e = e.moved(analyse.Shift{Lines: -off})
		e.s.Registration.Shifts = []analyse.Shift{{Probability: 0.7}, {Lines: off, Probability: 0.2}, {Lines: -off, Probability: 0.1}}
		if off == 0 {
			e.s.Registration.Shifts = []analyse.Shift{{Probability: 1}}
		}
		best := patterns.Hypothesis{Like: math.Inf(-1)}
		for _, h := range e.byAddress(0, func(int) float64 { return 0 }) {
			if h.Like > best.Like {
				best = h
			}
		}
		f := best.Fault
		if f == nil || f.Kind != "column-dead" || *f.Column != dead || *f.Bit != lane || *f.Level != 1 || best.Like < 15 {
			t.Errorf("%d lines off: %.1f nats for %+v", off, best.Like, f)
		}
	}
}
