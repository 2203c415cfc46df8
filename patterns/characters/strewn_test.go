package characters_test

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"backporch/patterns"
	"backporch/patterns/characters/screentest"
	"backporch/patterns/judge"
)

// A lane that fails at so many addresses that one character is strewn between all spaces is weak; the figures of a table of memory, and marks that
// rule off parts of a screen, stand between spaces as well, and in order.
func TestSpacesStrewn(t *testing.T) {
	rng := rand.New(rand.NewPCG(9, 4))
	for _, bit := range []int{0, 2, 4} {
		codes := boot("ISLAND BASIC 6.5", "32K RAM  73861 BYTES FREE", "Begin:")
		for i := range codes {
			if rng.IntN(5) < 2 {
				codes[i] ^= codes[i]&(1<<bit) ^ 1<<bit
			}
		}
		s, p := screentest.Typed(t, codes, screentest.White)
		v := judge.Classify(s, p, judge.Options{})
		if len(v.Faults) == 0 || v.Faults[0].Kind != "data-bit-weak" || *v.Faults[0].Bit != bit {
			t.Errorf("bit %d at 1 in two cells of five: said %s, %v, %v", bit, v.Class, v.Why, v.Faults)
		}
	}
	var dump, ruled []string
	for row := range 13 {
		line := fmt.Sprintf("%04X ", 0x4000+row*8)
		for range 8 {
			b := 0
			if rng.IntN(3) == 0 {
				b = rng.IntN(256)
			}
			line += fmt.Sprintf(" %02X", b)
		}
		dump = append(dump, line)
		ruled = append(ruled, []string{"! ITEM  ! PRICE ! ", "!!!!!!!!!!!!!!!!!!", "! 12    ! 48.50 ! "}[row%3])
	}
	for name, codes := range map[string][]int{"a table of memory": boot(dump...), "a ruled table": boot(ruled...)} {
		s, p := screentest.Typed(t, codes, screentest.White)
		if v := judge.Classify(s, p, judge.Options{}); v.Class != patterns.Clean {
			t.Errorf("%s: said %s, %v, %v", name, v.Class, v.Why, v.Faults)
		}
	}
}
