package characters_test

import (
	"math/rand/v2"
	"testing"

	"backporch/patterns"
	"backporch/patterns/characters/screentest"
	"backporch/patterns/judge"
)

// A character with the same few pixels wrong wherever it stands has lost them in the generator; where a path has spoilt the edges of all
// characters in that way, or pixels are wrong now here and now there, it has not.
func TestACharacterThatLostPixels(t *testing.T) {
	for _, how := range []string{"lost", "spoilt edges", "here and there"} {
		rng := rand.New(rand.NewPCG(2, 7))
		codes := screentest.Page(rng)
		good, p := screentest.Typed(t, codes, screentest.White)
		s, _ := screentest.Typed(t, codes, screentest.White)
		for i, code := range codes {
			c := &s.Cells[i]
			switch {
			case c.Single:
			case how == "lost" && code == 'R':
				c.Bits[1] ^= 0x01
				c.Bits[4] ^= 0x81
				c.Bits[7] ^= 0x10
			case how == "spoilt edges": // a line of each that ends early
				c.Bits[code%7] &= c.Bits[code%7] << 1
			case how == "here and there":
				for range 2 {
					c.Bits[rng.IntN(8)] ^= 1 << rng.IntN(8)
				}
			}
		}
		v := judge.Classify(s, p, judge.Options{Reference: good})
		lost := v.Class == patterns.VideoLogic && v.Faults[0].Kind == "character-generator" && len(v.Faults[0].Codes) == 1 && v.Faults[0].Codes[0] == 'R'
		if lost != (how == "lost") || !lost && v.Class != patterns.Clean && v.Class != patterns.Undetermined {
			t.Errorf("%s: said %s, %v, %v", how, v.Class, v.Why, v.Faults)
		}
	}
}
