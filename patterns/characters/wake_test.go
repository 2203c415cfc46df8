package characters

import (
	"math"
	"testing"
)

// What may be any of several codes is as probable as all of them together: by bits of equal odds two codes that differ in one bit are twice as probable as one.
func TestLanesOfSeveralCodes(t *testing.T) {
	one := func(v int) []int { return []int{v} }
	two := func(v int) []int { return []int{v, v ^ 4} }
	single, _ := lanesOf(8, []int{0x31}, one)
	double, _ := lanesOf(8, []int{0x31}, two)
	if want := math.Log(256); math.Abs(single[0]-want) > 1e-9 || math.Abs(double[0]-(want-math.Ln2)) > 1e-9 {
		t.Errorf("%g and %g nats, want %g and %g", single[0], double[0], want, want-math.Ln2)
	}
}
