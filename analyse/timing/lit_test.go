package timing

import (
	"testing"

	"backporch/analyse"
)

// A picture that is drawn in some fields only, within a black border, holds its sync: what is in the black ones has no place to be off by (common practice, no source).
func TestPictureThatIsDrawnNowAndThenIsLocked(t *testing.T) {
	for seed := uint64(1); seed <= 4; seed++ {
		rng := source(seed)
		p := newPicture(rng)
		p.edge = 0 // as black as blanking
		fields := p.capture(24, 1, rng, func(int, int) float64 { return 0 }, func(int) int { return 0 })
		for i, f := range fields {
			if i%5 == 1 || i%7 == 2 { // seldom both fields of a pair
				continue
			}
			for k := range f.Y {
				f.Y[k] = uint8(16 + rng.IntN(3) - 1)
			}
		}
		if got := Measure(fields, options()); got.State != analyse.Locked {
			t.Errorf("seed %d: %s (%s), want locked", seed, got.State, got.Picture)
		}
	}
}

// Noise alone stays what it is where a device mutes it in some fields.
func TestSnowWithMutedFieldsIsNoSignal(t *testing.T) {
	rng := source(9)
	fields := plain(16, func(k, _, _ int) uint8 {
		if k/2%2 == 0 {
			return 16
		}
		return uint8(rng.IntN(200) + 20)
	})
	if got := Measure(fields, options()); got.State != analyse.NoSignal {
		t.Errorf("%s, want no signal", got.State)
	}
}
