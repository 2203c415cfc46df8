package characters_test

import (
	"math/rand/v2"
	"testing"

	"backporch/analyse"
	"backporch/patterns"
	"backporch/patterns/characters/screentest"
	"backporch/patterns/judge"
)

// A character of a dot that one cell shows and the next doesn't, as the subcarrier's phase has it, is no fault of all
// characters.
func TestDotsThatAreLostByPhase(t *testing.T) {
	codes := make([]int, 1000)
	for i := range codes {
		codes[i] = 1
	}
	dot := [8]uint8{0, 0, 0, 0x10}
	screen := func(shows func(i int) bool) *analyse.Survey {
		s, _ := screentest.Typed(t, codes, screentest.White)
		s.Text.Glyphs[1] = dot
		for i := range s.Cells {
			if c := &s.Cells[i]; shows(i) {
				c.Bits = dot
			} else {
				c.Bits, c.Single, c.Ink = [8]uint8{}, true, -1
			}
		}
		return s
	}
	_, p := screentest.Typed(t, codes, screentest.White)
	good := screen(func(int) bool { return true })
	if v := judge.Classify(screen(func(i int) bool { return i%13 == 0 }), p, judge.Options{Reference: good}); v.Class != patterns.Clean && v.Class != patterns.Undetermined {
		t.Errorf("said %s, %v, %v", v.Class, v.Why, v.Faults)
	}
}

// Cells whose colours go forth and back with the field, as lines that a device lays aside leave them, are no lane, however many there are.
func TestColoursThatTurnWithTheField(t *testing.T) {
	codes := screentest.Page(rand.New(rand.NewPCG(4, 2)))
	for _, lane := range []bool{false, true} {
		rng := rand.New(rand.NewPCG(4, 9))
		s, p := screentest.Typed(t, codes, screentest.White)
		s.Text.Changes = []analyse.Change{}
		failing := make([]bool, 24) // the lane's bad fields
		for k := range failing {
			failing[k] = rng.IntN(2) == 0
		}
		for i := range s.Cells {
			if s.Cells[i].Single || i%5 > 0 {
				continue
			}
			c := analyse.Change{At: i, Other: s.Cells[i], Code: codes[i], Pictures: 2, Of: 24}
			c.Other.Ink = 3 ^ 8
			last := false
			for k := range 24 {
				now := k&1 == 1
				if lane {
					now = failing[k]
				}
				if now {
					c.In = append(c.In, k)
				}
				if k > 0 && now != last {
					c.Turns++
				}
				last = now
			}
			c.Fields = len(c.In)
			s.Text.Changes = append(s.Text.Changes, c)
		}
		v := judge.Classify(s, p, judge.Options{})
		if lane && (v.Class != patterns.RAMBit || v.Faults[0].Kind != "data-bit-weak" || v.Faults[0].Memory != "colour") {
			t.Errorf("a lane that fails in some fields: said %s, %v, %v", v.Class, v.Why, v.Faults)
		}
		if !lane && v.Class != patterns.Clean {
			t.Errorf("with the field: said %s, %v, %v", v.Class, v.Why, v.Faults)
		}
	}
}
