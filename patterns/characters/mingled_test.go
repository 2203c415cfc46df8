package characters_test

import (
	"math/rand/v2"
	"testing"

	"backporch/patterns"
	"backporch/patterns/characters/screentest"
	"backporch/patterns/judge"
)

// platforms is a drawn screen: floors, ladders and things, of characters below the space.
func platforms() []int {
	codes := boot("SCORE 33641  LIVES 4")
	for floor := range 7 {
		for c := range 9 + floor {
			codes[(4+3*floor)*40+(5*floor+c)%40] = 0x1f
			codes[(4+3*floor)*40+(5*floor+c+17)%40] = 0x1f
		}
		for k := range 3 {
			codes[(1+3*floor+k)*40+(11*floor+7)%40] = 0x12
		}
		codes[(3+3*floor)*40+(13*floor+2)%40] = 0x1c + floor%3
		codes[(3+3*floor)*40+(9*floor+21)%40] = 0x1e - floor%3
	}
	return codes
}

// A lane that fails here and there shows by characters that stand beside the ones that it makes of them all over the screen (common practice, no source); so do two
// forms of a floor that a game draws, but of one sort, and letters in both cases, but by words.
func TestCharactersMingled(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 8))
	weak, tiles := platforms(), platforms()
	for i := range weak {
		if rng.IntN(2) == 0 {
			weak[i] |= 0x20
		}
		if tiles[i] == 0x1f && rng.IntN(2) == 0 {
			tiles[i] = 0x1b
		}
	}
	s, p := screentest.Typed(t, weak, screentest.White)
	v := judge.Classify(s, p, judge.Options{})
	if len(v.Faults) == 0 || v.Faults[0].Kind != "data-bit-weak" || *v.Faults[0].Bit != 5 {
		t.Errorf("bit 5 at 1 in every second cell: said %s, %v, %v", v.Class, v.Why, v.Faults)
	}
	good := map[string][]int{"drawn": platforms(), "a floor of two forms": tiles, "a menu": screentest.Menu(), "a program": screentest.Program(18),
		"both cases": boot("Island BASIC 6.5", "REM the sum of all prices", "READY to GO", "Begin: Left or RIGHT", "Island of Pines")}
	for name, codes := range good {
		s, p := screentest.Typed(t, codes, screentest.White)
		if v := judge.Classify(s, p, judge.Options{}); v.Class != patterns.Clean {
			t.Errorf("%s: said %s, %v, %v", name, v.Class, v.Why, v.Faults)
		}
	}
}

// Where half of the screen is blank and the other one filled with a character, no lane has made that of the space, which stands there too; it is what floats on
// the bus (common practice, no source).
func TestBusBesideBlanks(t *testing.T) {
	codes := boot("PEBBLE TEST ROM 2.5", "ROM sum   pass", "Low RAM   pass")
	for i := range codes {
		if i%40 > 20 {
			codes[i] = 0xff
		}
	}
	s, p := screentest.Typed(t, codes, screentest.White)
	screentest.Strange(s, codes)
	v := judge.Classify(s, p, judge.Options{})
	if len(v.Faults) == 0 || v.Faults[0].Kind != "cell-fetch" {
		t.Errorf("said %s, %v, %v", v.Class, v.Why, v.Faults)
	}
}
