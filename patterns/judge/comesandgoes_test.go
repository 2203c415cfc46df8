package judge

import (
	"math/rand/v2"
	"slices"
	"testing"

	"backporch/analyse"
	"backporch/analyse/analysetest"
	"backporch/patterns"
)

// A line of a chip that is stuck in some fields gives two pictures, of which the one is the other read so; that one lane is wrong says less.
func TestLineComesAndGoes(t *testing.T) {
	p := analysetest.Profile(t, "attr-256x192-50")
	for seed := range uint64(3) {
		screen := analysetest.New(p)
		analysetest.Listing(p, screen, 18, rand.New(rand.NewPCG(seed, 2)))
		good := screen.Memory[:p.Size()]
		const lane, line = 3, 6
		wrong := append([]uint8(nil), good...)
		for a := range p.ColourBase {
			wrong[a] = wrong[a]&^(1<<lane) | good[a|1<<line]&(1<<lane)
		}
		e, other := inLetters(t, p, good), inLetters(t, p, wrong)
		e.s.Used = 24
		e.s.Other = &analyse.State{Cells: other.s.Cells, Memory: other.s.Memory, Fields: 9}
		var best patterns.Hypothesis
		for _, h := range e.comesAndGoes() {
			if best.Fault == nil || h.Like+h.Prior > best.Like+best.Prior {
				best = h
			}
		}
		f := best.Fault
		if f == nil || f.Kind != "address-line-stuck" || !slices.Equal(f.Lines, []int{line}) || !slices.Equal(f.Lanes, []int{lane}) {
			t.Errorf("seed %d: %+v", seed, f)
		}
		if best.Like > movedLimit {
			t.Errorf("seed %d: %.0f nats, at most %.0f", seed, best.Like, movedLimit)
		}
	}
}
