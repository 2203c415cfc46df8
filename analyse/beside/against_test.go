package beside

import (
	"testing"

	"backporch/analyse"
	"backporch/analyse/analysetest"
)

// A dash on even paper is a difference though its shape is not known well: on a screen all of stripes a regression tells the response to stripes, and only guesses at that to
// one pixel, here that it is a pixel wide where linear interpolation between samples, a third of one aside, makes it two thirds and one. An empty line stays as the good machine's.
func TestAgainstKnowsItsStepRoughly(t *testing.T) {
	p := analysetest.Profile(t, "attr-256x192-50")
	n := p.Width * p.Height
	c := &analyse.Cell{Row: 3, Column: 5, Paper: 7, Ink: 0}
	var change [8]float64
	change[4] = -0.85
	for name, k := range map[string]struct {
		left []float64
		same bool
	}{
		"dash":  {[]float64{-140, -70}, false},
		"known": {[]float64{-180, -19, 24, -17}, false},
		"empty": {[]float64{0.5, -0.5}, true},
	} {
		d := &Difference{p: p, left: make([]float64, n), sd: make([]float64, n)}
		for i := range d.sd {
			d.sd[i] = 0.4
		}
		copy(d.step[:], []float64{20, -30, 20, 212, 22, -28, 20})
		at := 3*8*p.Width + 5*8 + 4
		copy(d.left[at:], k.left)
		if odds := d.against(c, 0, change); k.same != (odds > 1) || k.same == (odds < -1) {
			t.Errorf("%s: %.1f nats for the good machine's", name, odds)
		}
	}
}
