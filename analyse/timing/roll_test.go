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

// Stripes that a pattern beats with the subcarrier in turn from field to field by a line; the picture's edges stay, so that nothing rolls. Where these move too, it does.
func TestBeatOfAPatternIsNoRoll(t *testing.T) {
	const lines, top, bottom = 240, 24, 216
	picture := func(beat, down int) []float64 {
		p := make([]float64, lines*profileBands)
		for y := range lines {
			line := ((y-down)%lines + lines) % lines
			for b := range profileBands {
				p[y*profileBands+b] = 4
				if line >= top && line < bottom {
					p[y*profileBands+b] = 70 + 30*math.Cos(2*math.Pi*(float64(line-beat)*0.2727+float64(b)/7))
				}
			}
		}
		return p
	}
	// What beats over most of a capture counts as noise, where fields are compared: then the floor is high.
	for _, floor := range []float64{0.5, 60} {
		for _, s := range []int{1, -1, 2, -2} {
			if d, moved := displacement(picture(0, 0), picture(s, 0), floor); moved {
				t.Errorf("beat by %d lines over %.1f: moved by %.1f", s, floor, d)
			}
		}
		for _, s := range []int{1, -1, 3, 20} {
			if d, moved := displacement(picture(0, 0), picture(0, s), floor); !moved || math.Abs(d-float64(s)) > 0.2 {
				t.Errorf("moved by %d lines over %.1f: %.1f, %v", s, floor, d, moved)
			}
		}
	}
}

// The same in noise, of whose effect the floor is six times: edges that stay by plainly more than the noise leaves of either tell.
func TestBeatInNoiseIsNoRoll(t *testing.T) {
	const lines, top, bottom, noise, floor = 240, 24, 216, 0.8, 14
	for seed := range uint64(8) {
		rng := rand.New(rand.NewPCG(seed, 6))
		picture := func(beat, down int) []float64 {
			p := make([]float64, lines*profileBands)
			for y := range lines {
				line := ((y-down)%lines + lines) % lines
				for b := range profileBands {
					p[y*profileBands+b] = 60 + noise*rng.NormFloat64()
					if line >= top && line < bottom {
						p[y*profileBands+b] += 45 + 30*math.Cos(2*math.Pi*(float64(line-beat)*0.2727+float64(b)/7))
					}
				}
			}
			return p
		}
		for _, s := range []int{1, -1} {
			if d, moved := displacement(picture(0, 0), picture(s, 0), floor); moved {
				t.Errorf("seed %d: beat by %d lines: moved by %.1f", seed, s, d)
			}
			if d, moved := displacement(picture(0, 0), picture(0, s), floor); !moved || math.Abs(d-float64(s)) > 0.2 {
				t.Errorf("seed %d: moved by %d lines: %.1f, %v", seed, s, d, moved)
			}
		}
	}
}
