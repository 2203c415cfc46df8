package characters_test

import (
	"math/rand/v2"
	"slices"
	"testing"

	"backporch/patterns"
	"backporch/patterns/characters/screentest"
	"backporch/patterns/judge"
)

// A screen that stands doubled by address is a fold of the memory, though a decoder spoils some pixels of a character in one place and not in
// another (common practice, no source), so that without the font the two are not quite alike.
func TestFoldOfSpoiltCharacters(t *testing.T) {
	rng := rand.New(rand.NewPCG(8, 3))
	for _, folded := range []bool{true, false} {
		codes := screentest.Program(18)
		if folded {
			was := slices.Clone(codes)
			for i := range codes {
				codes[i] = was[i&^16]
			}
		}
		s, p := screentest.Typed(t, codes, screentest.White)
		screentest.Strange(s, codes)
		for i := range s.Cells {
			if !s.Cells[i].Single && i%7 == 0 { // four dots, in one column as a subcarrier leaves them
				for y, column := 0, rng.IntN(8); y < 8; y += 2 {
					s.Cells[i].Bits[y] ^= 1 << column
				}
			}
		}
		v := judge.Classify(s, p, judge.Options{})
		if folded && (len(v.Faults) == 0 || v.Faults[0].Kind != "address-line-stuck" || v.Faults[0].Lines[0] != 4) || !folded && v.Class != patterns.Clean {
			t.Errorf("folded %v: said %s, %v, %v", folded, v.Class, v.Why, v.Faults)
		}
	}
}
