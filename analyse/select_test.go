package analyse

import (
	"math/rand/v2"
	"slices"
	"testing"
)

// What stands at an index is what sorting puts there, with many equal values too.
func TestSelect(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	for range 300 {
		v := make([]int, 1+rng.IntN(60))
		for i := range v {
			v[i] = rng.IntN(1 + rng.IntN(40))
		}
		k := rng.IntN(len(v))
		want := slices.Sorted(slices.Values(v))[k]
		if got := Select(slices.Clone(v), k); got != want {
			t.Fatalf("index %d of %v: %d, want %d", k, v, got, want)
		}
	}
}
