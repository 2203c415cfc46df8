package patterns

import (
	"math/rand/v2"
	"testing"
)

// Cells that show what floats on the bus, or their neighbour, in some fields are fetches that fail, where they stand in some columns alone;
// where they stand anywhere they are another's doing.
func TestFetchesThatFailNowAndThen(t *testing.T) {
	for _, name := range []string{"odd", "even", "after 24", ""} {
		rng := rand.New(rand.NewPCG(6, 2))
		codes := page1(rng)
		good, p := typed(t, codes, white)
		s, _ := typed(t, codes, white)
		var at, code []int
		in := columnsNamed(name)
		for i, c := range codes {
			if c == ' ' || i%40 == 0 || name != "" && !in(i%40) || name == "" && rng.IntN(2) == 0 {
				continue
			}
			at = append(at, i)
			if rng.IntN(2) == 0 {
				code = append(code, 0xff)
			} else {
				code = append(code, codes[i-1])
			}
		}
		flickering(s, at, code, func(int) (out []int) {
			for k := range 24 {
				if rng.IntN(3) == 0 {
					out = append(out, k)
				}
			}
			return out
		}, 2)
		for _, o := range []Options{{}, {Reference: good}} {
			v := Classify(s, p, o)
			fetch := v.Class == VideoLogic && v.Faults[0].Kind == "cell-fetch"
			if fetch != (name != "") || fetch && v.Faults[0].Columns != name {
				t.Errorf("%q, reference %v: said %s, %v, %v", name, o.Reference != nil, v.Class, v.Why, v.Faults)
			}
		}
	}
}
