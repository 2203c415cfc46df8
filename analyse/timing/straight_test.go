package timing

import (
	"math"
	"testing"

	"backporch/analyse"
)

// Lines and fields put aside by a known amount come back to where the picture has them: the picture itself is the measure.
func TestStraighten(t *testing.T) {
	const noise = 1.0
	for _, c := range []struct {
		name  string
		right func(field, y int) float64
		down  func(field int) int
		usual float64 // displacement of most lines of the first field
		rms   float64 // codes, over lines that a cubic through samples half a sample apart resolves; noise among them
	}{
		{"tear", func(field, y int) float64 { return 12 * step(y > 60+5*field) }, nil, 12, 2},
		{"tear to and fro", func(field, y int) float64 { return 15*step(y > 150) - 6*step(field%2 == 1 && y > 40) }, nil, 0, 2},
		{"jitter", func(field, y int) float64 { return 1.5 * math.Sin(float64(y*y*(field+3))) }, nil, 0, 6},
		{"roll", nil, func(field int) int { return 10 * field }, 0, 2},
		{"roll upwards", nil, func(field int) int { return -7*field - 100 }, 0, 2},
		{"slow roll", nil, func(field int) int { return -field * 3 / 4 }, 0, 2},
		{"roll and tear", func(field, y int) float64 { return 9 * step(y > 90) }, func(field int) int { return 5 * field }, 9, 2},
	} {
		rng := source(11)
		p := newPicture(rng)
		fields := p.capture(24, noise, rng, c.right, c.down)
		if s := Measure(fields, options()); s.State == analyse.Locked {
			t.Errorf("%s: holds before it is laid straight", c.name)
		}
		laid, ok := Straighten(fields, options())
		if !ok {
			t.Errorf("%s: not laid straight", c.name)
			continue
		}
		if s := Measure(laid, options()); s.State != analyse.Locked {
			t.Errorf("%s: %s after it was laid straight: jitter %s, tear %s, roll %s", c.name, s.State, figure(s.JitterNs), figure(s.TearPx), figure(s.RollLinesPerS))
		}
		// Sideways it lies as the first field's median line: the displacement that most of its lines have.
		sum, n := 0.0, 0.0
		for _, f := range laid[4:20] {
			for y := 60; y < 230; y++ {
				for x := 30; x < 690; x++ {
					d := float64(f.Y[y*f.Width+x]) - p.at(float64(x)-c.usual, y)
					sum, n = sum+d*d, n+1
				}
			}
		}
		if rms := math.Sqrt(sum / n); rms > c.rms {
			t.Errorf("%s: %.2f codes rms from the picture, want at most %.1f", c.name, rms, c.rms)
		}
	}
}

// A picture that nothing shows the place of stays as it is.
func TestStraightenNeedsEnds(t *testing.T) {
	rng := source(12)
	p := newPicture(rng)
	p.edge = 0 // a border as black as blanking
	if _, ok := Straighten(p.capture(12, 1, rng, func(_, y int) float64 { return 12 * step(y > 150) }, nil), options()); ok {
		t.Error("laid straight without ends")
	}
}

func step(is bool) float64 {
	if is {
		return 1
	}
	return 0
}
