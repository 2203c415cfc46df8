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

// A picture that goes black in some fields, but for a cell or two that were misread, is a video logic that draws nothing now and then.
func TestBlankComesAndGoes(t *testing.T) {
	p := analysetest.Profile(t, "attr-256x192-50")
	screen := analysetest.New(p)
	analysetest.Listing(p, screen, 6, rand.New(rand.NewPCG(5, 2)))
	e := inLetters(t, p, screen.Memory[:p.Size()])
	e.s.Used = 24
	other := &analyse.State{Memory: e.s.Memory, Fields: 11}
	for i := range e.s.Cells {
		c := e.s.Cells[i]
		c.Bits, c.Paper, c.Ink, c.Single = [8]uint8{}, 0, -1, true
		if i == 40 {
			c.Paper = 9
		}
		other.Cells = append(other.Cells, c)
	}
	e.s.Other = other
	var best patterns.Hypothesis
	for _, h := range e.comesAndGoes() {
		if best.Fault == nil || h.Like+h.Prior > best.Like+best.Prior {
			best = h
		}
	}
	if best.Fault == nil || best.Fault.Kind != "blank-picture" {
		t.Errorf("%+v by %.0f nats", best.Fault, best.Like)
	}
	for i := range other.Cells { // a fifth of the screen is still there: it is not dead
		if i%5 == 0 {
			other.Cells[i].Paper = 4
		}
	}
	for _, h := range e.comesAndGoes() {
		if h.Fault.Kind == "blank-picture" {
			t.Errorf("dead with a fifth of the cells alive, by %.0f nats", h.Like)
		}
	}
}
