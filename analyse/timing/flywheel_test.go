package timing

import (
	"math"
	"math/rand/v2"
	"testing"
)

// What a loop of first or of second order makes of errors of sync tells how large they were, under noise in the places too; noise alone tells nothing.
func TestErrorsOf(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	fields := func(pull, follow, rms, noise float64) (out []pairs) {
		at, rate := 0.0, 0.0
		for range 48 {
			x := make([]float64, 288)
			for y := range x {
				e := rms*rng.NormFloat64() - at - rate
				at += rate + pull*e
				rate += follow * e
				x[y] = at + noise*rng.NormFloat64()
			}
			out = append(out, pairsIn(x, 1))
		}
		return out
	}
	for _, pull := range []float64{0.08, 0.15, 0.3} {
		for _, follow := range []float64{0, pull * pull / 6} {
			for _, noise := range []float64{0, 0.2} {
				rms, spread, ok := errorsOf(fields(pull, follow, 2, noise))
				if !ok || math.Abs(rms-2) > 2.5*spread || spread > 0.4 {
					t.Errorf("pull %v, follow %.4f, noise %v: %v +- %v, told %v; put in 2", pull, follow, noise, rms, spread, ok)
				}
			}
		}
	}
	if rms, spread, ok := errorsOf(fields(1, 0, 0, 0.5)); ok {
		t.Errorf("noise alone is told as %v +- %v", rms, spread)
	}
	if rms, spread, ok := errorsOf(fields(1, 0, 1, 0)); ok {
		t.Errorf("lines without a flywheel are told as %v +- %v", rms, spread)
	}
}
