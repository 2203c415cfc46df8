package signal

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// Long after a pixel hardly anything is left of it, so that what the taps there scatter by is their true uncertainty: what pixels
// are misread by is partly alike all over, and need not be in the taps at all.
const (
	farPx      = 8   // pixels: where ringing and a decoder's lobes are small
	farTaps    = 12  // independent ones of those beyond
	farBelieve = 1.0 // taps' worth of belief in the uncertainty as worked out
	leastFar   = 0.1 // of it, squared
)

// farScatter is the part, squared, of the uncertainty as worked out that the far taps bear out: 1 at the most. Scale makes standard deviations of the square roots
// of the normal equations' inverse.
func (r *response) farScatter(scale float64) float64 {
	n, _ := r.covariance.Dims()
	var squared mat.Dense
	squared.Mul(r.covariance, r.covariance)
	var ratios []float64
	for a := beforePx + farPx; a < responseLen && a < n; a++ {
		own := r.covariance.At(a, a)
		known := own - r.ridge*squared.At(a, a) // less what the prior alone holds still
		if known < own/2 {
			continue
		}
		for k := range 2 {
			ratios = append(ratios, math.Abs(r.taps[2*a+k])/(scale*math.Sqrt(known)))
		}
	}
	if len(ratios) < farTaps {
		return 1
	}
	slices.Sort(ratios)
	seen := square(ratios[len(ratios)/2] / middleOfNormal)
	return max(leastFar, min(1, (farBelieve+farTaps*seen)/(farBelieve+farTaps)))
}

// middleOfNormal is the median of a normal distribution's absolute value, in its deviations.
const middleOfNormal = 0.6745
