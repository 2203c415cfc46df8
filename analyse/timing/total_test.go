package timing

import (
	"math/rand/v2"
	"testing"
)

// A row's sum is that of its codes one by one, at every length and where all are the greatest.
func TestTotal(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	for length := range 700 {
		codes := make([]uint8, length)
		want := 0
		for i := range codes {
			codes[i] = 255
			if length%2 == 0 {
				codes[i] = uint8(rng.IntN(256))
			}
			want += int(codes[i])
		}
		if got := total(codes); got != want {
			t.Fatalf("%d codes: %d, want %d", length, got, want)
		}
	}
}
