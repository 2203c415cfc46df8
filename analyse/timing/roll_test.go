package timing

import (
	"math"
	"math/rand/v2"
	"testing"
)

// What stands on a screen twice, as with a bit of the line counter stuck, and lies a line lower in the next field, went that line and not to where the
// other one stands.
func TestNearerOfTwoPlaces(t *testing.T) {
	const lines, apart = 240, 96
	rng := rand.New(rand.NewPCG(1, 2))
	draw := func(at int) []float64 {
		p := make([]float64, lines*profileBands)
		shape := rand.New(rand.NewPCG(3, 4))
		for i := range p {
			p[i] = 80 + 0.1*rng.NormFloat64()
		}
		for y := range 24 {
			for b := range profileBands {
				v := 60 * shape.Float64()
				p[(at+y)*profileBands+b] -= v
				p[(at+apart+y)*profileBands+b] -= v
			}
		}
		return p
	}
	for _, d := range []int{-3, -1, 1, 2, 40} {
		got, moved := displacement(draw(70), draw(70+d), 0.5)
		if !moved || math.Abs(got-float64(d)) > 0.5 {
			t.Errorf("moved by %d lines: %.2f, %v", d, got, moved)
		}
	}
}
