package signal

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// What a good decoder leaves after a pixel is modelled in two ways. Most decoders are digital, and their filters alike before and after (finite, symmetric
// impulse responses), so that what follows a pixel has gone before it as well; a trap of coils, or a recursive one, rings afterwards
// alone. What the path does comes after its cause in either case.
const (
	mirrorShare = 0.7  // of devices: their lobes are alike on both sides,
	mirrorLeft  = 0.35 // but for this part of their usual size
	alikeShare  = 0.8  // of devices: of the good machine's sort, where its capture is at hand: their lobes are those there
)

// lobes is one model of what a good decoder leaves in a tail.
type lobes struct {
	lower *mat.TriDense // the Cholesky factor of the covariance
	white []float64     // the tail less what is expected, through its inverse
	base  float64       // ln of the model's share and of the tail's likelihood on a good path
}

// newLobes makes a model of a tail of which mean and covariance are known; expected is what the lobes before the pixel, or those of a good machine's
// capture, say of it, with its variance, NaN where they do not reach. Nil: not to be inverted.
func (t *tail) newLobes(covariance *mat.SymDense, subcarrierHz, share float64, expected, variance []float64) *lobes {
	n := len(t.v)
	all := mat.NewSymDense(n, nil)
	part := func(i int) float64 {
		if expected != nil && !math.IsNaN(expected[i]) {
			return mirrorLeft
		}
		return 1
	}
	left := make([]float64, n)
	for i, a := range t.times {
		for k := i; k < n; k++ {
			b := t.times[k]
			since, size := a+b-2*lobesAt, part(i)*part(k)
			rings := square(notchLobe)*math.Exp(-since/notchNs) + square(narrowLobe)*math.Exp(-since/ringsNs)
			v := size*rings*math.Cos(2*math.Pi*subcarrierHz*(a-b)*1e-9)*math.Exp(-math.Abs(a-b)/lobesHold) + square(restLevel) +
				square(t.lasting)*math.Cos(2*math.Pi*subcarrierHz*(a-b)*1e-9)
			if i == k {
				v += size*square(filterLobe)*math.Exp(-since/innerNs) + square(restLobe)
				if part(i) < 1 {
					v += variance[i]
				}
			}
			all.SetSym(i, k, covariance.At(i, k)+v)
		}
		if left[i] = t.v[i]; part(i) < 1 {
			left[i] -= expected[i]
		}
	}
	var c mat.Cholesky
	if !c.Factorize(all) {
		return nil
	}
	out := &lobes{lower: mat.NewTriDense(n, mat.Lower, nil)}
	c.LTo(out.lower)
	out.white = out.whiten(make([]float64, n), left)
	out.base = math.Log(share) - dot(out.white, out.white)/2 - c.LogDet()/2
	return out
}

// whiten takes v through the inverse of the covariance's factor, into dst.
func (l *lobes) whiten(dst, v []float64) []float64 {
	raw := l.lower.RawTriangular()
	for i := range v {
		sum := v[i]
		row := raw.Data[i*raw.Stride : i*raw.Stride+i]
		for k, x := range row {
			sum -= x * dst[k]
		}
		dst[i] = sum / raw.Data[i*raw.Stride+i]
	}
	return dst
}

// mirrored is what the taps before a pixel's middle say of those of the tail, in units of its weight, with their variance.
func (r *response) mirrored(first, n int, main float64) (expected, variance []float64) {
	peak := 0
	for i, v := range r.taps[:first] {
		if v > r.taps[peak] {
			peak = i
		}
	}
	weight, middle := 0.0, 0.0
	for i, v := range r.taps[:first] {
		if i >= peak-4 && i <= peak+4 && v > r.taps[peak]/2 {
			weight += v
			middle += v * r.at(i)
		}
	}
	expected, variance = make([]float64, n), make([]float64, n)
	for i := range n {
		expected[i] = math.NaN()
		at := 2 * (2*middle/weight - r.at(first+i) + beforePx)
		k := int(math.Floor(at))
		if !(weight > 0) || k < 0 || k+1 >= first {
			continue
		}
		f := at - float64(k)
		expected[i] = ((1-f)*r.taps[k] + f*r.taps[k+1]) / main
		variance[i] = (square((1-f)*r.sigma[k]) + square(f*r.sigma[k+1])) / square(main)
	}
	return expected, variance
}
