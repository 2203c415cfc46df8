package timing

import (
	"math"

	"backporch/video"
)

// A device's flywheel puts only a part p of a line's sync error right at once (a loop of first order; Gardner, Phaselock Techniques, from memory), so that
// its lines go with those before them: errors e of sync, each by itself, displace line n by
//
//	x(n) = (1-p) x(n-1) + p e(n)
//
// of which the variance is var e p/(2-p), and the covariance over k lines (1-p)^k times that. The covariances tell p, whatever noise is in the places, and so how
// large the errors of sync are. Most loops also follow the line rate, which makes their lines go together longer: with the damping of good ones all comes out
// some 10 to 15 % larger.

// pairs are the sum of products of displacements so many steps of lines apart, at 1 to 3 times lineStep, and how many there are.
type pairs struct {
	sum, n [4]float64
}

func (a *pairs) add(b pairs, times float64) {
	for k := range a.sum {
		a.sum[k] += times * b.sum[k]
		a.n[k] += times * b.n[k]
	}
}

// pairsIn adds up the displacements of one field, by line, of each of which so much is free; NaN: no place.
func pairsIn(x []float64, free float64) (out pairs) {
	for k := 1; k < len(out.sum); k++ {
		for y := 0; y+k*lineStep < len(x); y += lineStep {
			if p, q := x[y], x[y+k*lineStep]; math.Abs(p) < unlockedLines && math.Abs(q) < unlockedLines { // false for NaN
				out.sum[k] += p * q
				out.n[k] += free
			}
		}
	}
	return out
}

// Where the loop is of such a kind: p in between. How much larger than by a loop of first order errors of sync come out, and what is open of that, as parts. Lines
// that tell how far they go together, and the deviations by which they must. Common practice, no source.
const (
	leastPull, mostPull = 0.03, 0.6
	loopMore, loopOpen  = 0.07, 0.1
	fewPairs            = 300
	sureTogether        = 5.0
)

// syncErrors is the rms error of sync, in samples, as its part in the pull says; not ok where lines do not follow each other so.
func (a *pairs) syncErrors() (rms float64, ok bool) {
	var c [4]float64
	for k := 1; k < len(c); k++ {
		if a.n[k] < 1 {
			return 0, false
		}
		if c[k] = a.sum[k] / a.n[k]; c[k] <= 0 {
			return 0, false
		}
	}
	on := (c[2] + c[3]) / (c[1] + c[2]) // what goes on from one step to the next
	pull := 1 - math.Pow(on, 1.0/lineStep)
	if !(pull > leastPull && pull < mostPull) {
		return 0, false
	}
	return math.Sqrt(c[1]/on*(2-pull)/pull) / (1 + loopMore), true
}

// errorsOf is the rms error of sync that fields show, in samples, with its deviation: the jackknife's over fields (Efron and Tibshirani, 11, from memory).
func errorsOf(fields []pairs) (rms, spread float64, ok bool) {
	var all pairs
	for _, f := range fields {
		all.add(f, 1)
	}
	if all.n[1] < fewPairs {
		return 0, 0, false
	}
	if rms, ok = all.syncErrors(); !ok {
		return 0, 0, false
	}
	var each []float64
	mean, squares := 0.0, 0.0
	for _, f := range fields {
		rest := all
		rest.add(f, -1)
		v, ok := rest.syncErrors()
		if !ok {
			return 0, 0, false
		}
		each = append(each, v)
		mean += v / float64(len(fields))
	}
	covariances := 0.0
	for i, v := range each {
		squares += square(v - mean)
		covariances += square(fields[i].sum[1] - all.sum[1]/float64(len(fields)))
	}
	if all.sum[1] < sureTogether*math.Sqrt(covariances) {
		return 0, 0, false
	}
	n := float64(len(fields))
	return rms, math.Hypot(math.Sqrt(squares*(n-1)/n), loopOpen*rms), true
}

// syncErrors measures the errors of sync over a capture whose lines jitter, in samples.
func syncErrors(fields []*video.Field, v vertical, noise float64) (rms, spread float64, ok bool) {
	const most = 16 // runs
	var all []pairs
	for from := 0; from+runFields <= len(fields) && from < most*runFields; from += runFields {
		run := make([]int, runFields)
		for k := range run {
			run[k] = from + k
		}
		all = append(all, inRun(fields, run, v, noise).after...)
	}
	return errorsOf(all)
}

func square(x float64) float64 { return x * x }
