package characters_test

import (
	"math/rand/v2"
	"testing"

	"backporch/patterns"
	"backporch/patterns/characters/screentest"
	"backporch/patterns/judge"
)

// Bits of two lanes that decay while one looks, each once and to its lane's level, are a refresh that is lost, though a field about each
// change was misread; where they come and go they are not.
func TestTwoLanesThatDecay(t *testing.T) {
	for _, decays := range []bool{true, false} {
		rng := rand.New(rand.NewPCG(3, 6))
		codes := screentest.Page(rng)
		good, p := screentest.Typed(t, codes, screentest.White)
		late := make([]int, len(codes))
		var at, code []int
		for i, c := range codes {
			late[i] = c
			r, _ := p.ChipAddress(i)
			if lane := 3 * (i & 1); r%3 > 0 && rng.IntN(3) > 0 && c>>lane&1 == 0 {
				if late[i] = c | 1<<lane; rng.IntN(2) == 0 {
					at, code = append(at, i), append(code, c)
				}
			}
		}
		s, _ := screentest.Typed(t, late, screentest.White) // as it mostly is
		flickering(s, at, code, func(int) (in []int) {
			first := 3 + rng.IntN(9) // of the fields in which it has decayed
			for k := range 24 {
				if decays && k < first && k != first-2 || !decays && rng.IntN(4) == 0 {
					in = append(in, k)
				}
			}
			return in
		}, 2)
		v := judge.Classify(s, p, judge.Options{Reference: good})
		lost := v.Class == patterns.RAMBit && v.Faults[0].Kind == "refresh-loss"
		if lost != decays {
			t.Errorf("decay %v: said %s, %v, %v", decays, v.Class, v.Why, v.Faults)
		}
	}
}

// In a font that is not known too bits that decay make few characters of each; what a program writes while one looks is anything.
func TestDecayInAStrangeFont(t *testing.T) {
	for _, decays := range []bool{true, false} {
		rng := rand.New(rand.NewPCG(7, 6))
		codes := screentest.Page(rng)
		late := make([]int, len(codes))
		var at, code []int
		for i, c := range codes {
			late[i] = c
			switch {
			case decays && c&2 == 0 && rng.IntN(3) > 0:
				late[i] = c | 2
			case !decays && i/40 > 20 && c != ' ': // lines that are written
				codes[i] = ' '
			default:
				continue
			}
			at, code = append(at, i), append(code, codes[i])
		}
		s, p := screentest.Typed(t, late, screentest.White)
		flickering(s, at, code, func(k int) (in []int) {
			first := 3 + rng.IntN(9)
			if !decays { // one after the other
				first = 3 + 9*k/len(at)
			}
			for k := range first {
				in = append(in, k)
			}
			return in
		}, 2)
		for i := range s.Text.Glyphs { // the font at hand is another
			s.Text.Glyphs[i] = [8]uint8{uint8(i), uint8(i * 7), uint8(i * 31), uint8(i * 57), 129}
		}
		v := judge.Classify(s, p, judge.Options{})
		if lost := v.Class == patterns.RAMBit && v.Faults[0].Kind == "refresh-loss"; lost != decays {
			t.Errorf("decay %v: said %s, %v, %v", decays, v.Class, v.Why, v.Faults)
		}
	}
}

// A written screen of which most has fallen to what memory wakes as, cell by cell while one looks, is one that lost its refresh: memory that woke and was never written
// stands still.
func TestDecayToWokenMemory(t *testing.T) {
	for _, decays := range []bool{true, false} {
		rng := rand.New(rand.NewPCG(4, 9))
		codes := screentest.Program(18)
		late, at, code := make([]int, len(codes)), []int(nil), []int(nil)
		for i, c := range codes {
			late[i] = 0x55 ^ 0x3f*(i>>3&1) ^ 0x0c*(i>>5&1)
			if rng.IntN(40) == 0 {
				late[i] = rng.IntN(256)
			}
			if decays && rng.IntN(4) == 0 {
				late[i] = c
			} else if decays && rng.IntN(3) == 0 {
				at, code = append(at, i), append(code, c)
			}
		}
		s, p := screentest.Typed(t, late, screentest.White)
		if decays {
			flickering(s, at, code, func(int) (in []int) {
				for k := range 3 + rng.IntN(9) {
					in = append(in, k)
				}
				return in
			}, 2)
		}
		v := judge.Classify(s, p, judge.Options{})
		if want := map[bool]string{true: "refresh-loss", false: "power-up-pattern"}[decays]; len(v.Faults) == 0 || v.Faults[0].Kind != want {
			t.Errorf("decay %v: said %s, %v, %v", decays, v.Class, v.Why, v.Faults)
		}
	}
}
