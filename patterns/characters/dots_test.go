package characters_test

import (
	"math/rand/v2"
	"testing"

	"backporch/patterns"
	"backporch/patterns/characters/screentest"
	"backporch/patterns/judge"
)

// Letters that are dots amid words of a font that is not at hand are a generator's that has lost them; so drawn pictures beside the words, and fine textures, are not.
func TestLettersThatAreDots(t *testing.T) {
	rng := rand.New(rand.NewPCG(11, 16))
	dots := func() (rows [8]uint8) {
		for y, first := range rng.Perm(254)[:8] {
			rows[y] = uint8(first + 1)
		}
		return rows
	}
	for _, c := range []struct {
		name  string
		rows  func() [8]uint8
		apart bool // they stand by themselves
		want  bool
	}{
		{"dots", dots, false, true},
		{"pictures", dots, true, false},
		{"textures", func() [8]uint8 { return [8]uint8{0xaa, 0x55, 0xaa, 0x55, 0xaa, 0x55, 0xaa, 0x55} }, false, false},
	} {
		codes := screentest.Menu()
		font := screentest.OtherHand()
		for _, code := range []int{'e', 'r', 'S'} {
			if font[code] = c.rows(); c.apart {
				for i := range codes {
					if codes[i] == code {
						codes[i] = 'x'
					}
				}
				codes[code*8] = code
			}
		}
		s, p := screentest.Typed(t, codes, screentest.White)
		screentest.Handwritten(s, codes, font)
		v := judge.Classify(s, p, judge.Options{})
		if got := len(v.Faults) > 0 && v.Faults[0].Kind == "character-generator"; got != c.want || !got && v.Class != patterns.Clean && v.Class != patterns.Undetermined {
			t.Errorf("%s: said %s, %v, %v", c.name, v.Class, v.Faults, v.Why)
		}
	}
}
