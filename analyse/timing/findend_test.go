package timing

import (
	"math"
	"testing"
)

// An edge of a Gaussian low-pass: its rise from 10 to 90 % is 0.34/B. One that lies where a border may end is found there, whatever bounds it; of one further
// in, as of the picture beside a black border, the foot is no end, neither where samples come in twos (4:2:2 by way of RGB).
func TestFootOfAPictureIsNoEnd(t *testing.T) {
	edge := func(at, mhz float64, twos bool) samples {
		s := make(samples, 720)
		sigma := 0.34 / mhz * 13.5 / 2.563 // samples; 10 to 90 % is 2.563 standard deviations of a normal distribution
		for x := range s {
			from := float64(x)
			if twos {
				from = float64(x / 2 * 2)
			}
			s[x] = math.Round(128 + 55*0.5*(1+math.Erf((from-at)/sigma/math.Sqrt2)))
		}
		return s
	}
	for _, mhz := range []float64{0.5, 1.1, 2.5, 5} {
		for _, twos := range []bool{false, true} {
			for _, at := range []float64{14, 30, 50} {
				if e, ok := edge(at, mhz, twos).step(false); !ok || math.Abs(float64(e.at)-at) > 2 || math.Abs(e.level-e.outside-55) > 8 {
					t.Errorf("edge of %v MHz at %v (twos %v): %+v, %v", mhz, at, twos, e, ok)
				}
			}
			for _, at := range []float64{80, 82.7, 90} {
				s := edge(at, mhz, twos)
				s[73]-- // what a filter's lobes, or rounding, leave before it
				if e, ok := s.step(false); ok && math.Abs(e.level-e.outside) >= endStep {
					t.Errorf("picture's edge of %v MHz at %v (twos %v) counts as the border's: %+v", mhz, at, twos, e)
				}
			}
		}
	}
}
