package cells

import (
	"math"
	"testing"

	"backporch/video"
)

// The density of chroma about a colour is one: it adds up to 1 over all chroma, with its tails and without, and counts a colour that is paler by a tenth as
// likelier than one turned by as much.
func TestChromaDensity(t *testing.T) {
	red := video.YUV{Y: 0.3, U: -0.147, V: 0.615}
	for _, tails := range []bool{false, true} {
		s := sight{sc: 0.02, size: 0.12, pale: 0.3, turn: 0.05, none: 0.01, tails: tails}
		density := func(c video.YUV, off unsent) float64 {
			f := s.off(c, off)
			ln, _ := f.of(tails)
			return ln
		}
		const step = 0.004
		for name, off := range map[string]unsent{"sent": {}, "one is not": {u: true}, "neither is": {u: true, v: true}} {
			sum := 0.0
			for u := -4.0; u < 4; u += step {
				for v := -4.0; v < 4; v += step {
					s.seen = video.YUV{U: u, V: v}
					sum += math.Exp(density(red, off)) * step * step
				}
			}
			if math.Abs(sum-1) > 0.01 {
				t.Errorf("tails %v, %s: %.4f", tails, name, sum)
			}
		}
		s.seen = video.YUV{U: 0.9 * red.U, V: 0.9 * red.V}
		pale := density(red, unsent{})
		s.seen = turned(red, 0.1*180/math.Pi)
		if aside := density(red, unsent{}); pale < aside+0.5 {
			t.Errorf("tails %v: %.2f paler, %.2f turned", tails, pale, aside)
		}
	}
}
