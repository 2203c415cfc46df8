package patterns

import (
	"math"
	"testing"
)

// A verdict states no more than it weighs and no more than such verdicts were worth; what it weighs stays beside it.
func TestStated(t *testing.T) {
	for kind, w := range worths {
		if kindOf(kind) == nil {
			t.Errorf("%s is no kind", kind)
		}
		for side := range 2 {
			if w.right[side] > w.of[side] {
				t.Errorf("%s: %d right of %d", kind, w.right[side], w.of[side])
			}
		}
	}
	for _, weighed := range []float64{0.6, 0.999} {
		for _, beside := range []bool{false, true} {
			v := &Verdict{Class: RAMBit, Confidence: ptr(weighed), Faults: []Fault{{Class: RAMBit, Kind: "data-bit-stuck", Probability: weighed}}}
			v.state(beside)
			want := math.Min(weighed, trust("data-bit-stuck", beside))
			if *v.Weighed != weighed || v.Faults[0].Weighed != weighed || *v.Confidence != want || v.Faults[0].Probability != want {
				t.Errorf("weighed %v beside %v: stated %v of %v", weighed, beside, *v.Confidence, *v.Weighed)
			}
		}
	}
	// Bayes by hand: 0.4 x 86/106 over that and 0.6 x 64/433; 0.4 x 57/70 over that and 0.6 x 23/291.
	for side, want := range []float64{0.7854, 0.8729} {
		if got := cleanWorth(side); math.Abs(got-want) > 5e-4 {
			t.Errorf("clean is worth %.4f on side %d, by hand %.4f", got, side, want)
		}
	}
}
