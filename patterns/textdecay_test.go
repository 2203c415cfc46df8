package patterns

import (
	"math/rand/v2"
	"testing"
)

// Bits of two lanes that decay while one looks, each once and to its lane's level, are a refresh that is lost, though a field about each
// change was misread; where they come and go they are not.
func TestTwoLanesThatDecay(t *testing.T) {
	for _, decays := range []bool{true, false} {
		rng := rand.New(rand.NewPCG(3, 6))
		codes := page1(rng)
		good, p := typed(t, codes, white)
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
		s, _ := typed(t, late, white) // as it mostly is
		flickering(s, at, code, func(int) (in []int) {
			first := 3 + rng.IntN(9) // of the fields in which it has decayed
			for k := range 24 {
				if decays && k < first && k != first-2 || !decays && rng.IntN(4) == 0 {
					in = append(in, k)
				}
			}
			return in
		}, 2)
		v := Classify(s, p, Options{Reference: good})
		lost := v.Class == RAMBit && v.Faults[0].Kind == "refresh-loss"
		if lost != decays {
			t.Errorf("decay %v: said %s, %v, %v", decays, v.Class, v.Why, v.Faults)
		}
	}
}
