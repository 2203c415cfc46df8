package fingerprint

import (
	"math"
	"slices"
	"time"
)

// A Rate is a straight line through the times of fields.
type Rate struct {
	Hz float64 // fields a second
	SD float64 // ppm
	N  int     // time stamps it rests on
}

// huber is the residual, in standard deviations, beyond which a time stamp counts less: 95 % efficiency
// under a normal distribution (Huber, Robust Statistics, 1981, from memory).
const huber = 1.345

// FieldRate fits a rate to the times at which numbered fields came: Huber's estimate by reweighting,
// from a resistant start, so that the late frames of a busy computer do not bend it. The standard
// deviation allows for neighbours that err alike. Nil with fewer than eight or without any spread of
// numbers.
//
// It compares the machine's clock with that of the computer, some tens of ppm off itself, and only
// where the device's frames keep step with the machine: one that lost lock runs on a clock of its own.
func FieldRate(numbers []int, when []time.Duration) *Rate {
	if len(numbers) != len(when) || len(numbers) < 8 {
		return nil
	}
	x, y := make([]float64, len(numbers)), make([]float64, len(numbers))
	for i := range x {
		x[i], y[i] = float64(numbers[i]-numbers[0]), (when[i] - when[0]).Seconds()
	}
	f, ok := robust(x, y, huber)
	if !ok || f.slope <= 0 {
		return nil
	}
	return &Rate{Hz: 1 / f.slope, SD: f.sd / f.slope * 1e6, N: len(x)}
}

// A straight is y = intercept + slope x.
type straight struct {
	slope, intercept float64
	sd               float64 // of the slope
	sigma            float64 // of a residual
}

// robust lays a straight line by Huber's weights; k infinite is least squares.
func robust(x, y []float64, k float64) (straight, bool) {
	n := len(x)
	f, ok := resistant(x, y)
	if !ok {
		return f, false
	}
	w, r := make([]float64, n), make([]float64, n)
	for range 50 {
		for i := range r {
			r[i] = y[i] - f.intercept - f.slope*x[i]
		}
		scale := mad(r)
		var sw, mx, my float64
		for i := range w {
			w[i] = 1
			if a := math.Abs(r[i]); scale > 0 && a > k*scale {
				w[i] = k * scale / a
			}
			sw += w[i]
			mx += w[i] * x[i]
			my += w[i] * y[i]
		}
		mx, my = mx/sw, my/sw
		var sxx, sxy float64
		for i := range w {
			sxx += w[i] * (x[i] - mx) * (x[i] - mx)
			sxy += w[i] * (x[i] - mx) * (y[i] - my)
		}
		if sxx == 0 {
			return f, false
		}
		last := f.slope
		f.slope = sxy / sxx
		f.intercept = my - f.slope*mx
		if math.Abs(f.slope-last) <= 1e-15*math.Abs(f.slope) {
			break
		}
	}
	f.spread(x, y, k)
	return f, true
}

// spread works out the slope's standard deviation: of Huber's estimate, sum of psi squared over the
// square of the part of residuals inside the bound, and the autocorrelation of the residuals.
func (f *straight) spread(x, y []float64, k float64) {
	n := float64(len(x))
	r := make([]float64, len(x))
	var mx, sxx, psi2, inside float64
	for i := range x {
		r[i] = y[i] - f.intercept - f.slope*x[i]
		mx += x[i] / n
	}
	bound := k * mad(r)
	if !(bound > 0) || math.IsInf(k, 1) {
		bound = math.Inf(1)
	}
	var lag, energy float64
	for i := range x {
		sxx += (x[i] - mx) * (x[i] - mx)
		p := math.Max(-bound, math.Min(bound, r[i]))
		psi2 += p * p
		if math.Abs(r[i]) <= bound {
			inside += 1 / n
		}
		energy += p * p
		if i > 0 {
			lag += p * math.Max(-bound, math.Min(bound, r[i-1]))
		}
	}
	f.sigma = math.Sqrt(psi2/(n-2)) / math.Max(inside, 0.1)
	f.sd = f.sigma / math.Sqrt(sxx)
	if rho := lag / math.Max(energy, 1e-300); rho > 2/math.Sqrt(n) { // more than chance gives
		rho = math.Min(rho, 0.98)
		f.sd *= math.Sqrt((1 + rho) / (1 - rho))
	}
}

// resistant is a line through the medians of the first and the last third (Tukey, Exploratory Data
// Analysis, 1977, chapter 5, from memory).
func resistant(x, y []float64) (straight, bool) {
	order := make([]int, len(x))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int {
		switch {
		case x[a] < x[b]:
			return -1
		case x[a] > x[b]:
			return 1
		}
		return 0
	})
	third := len(x) / 3
	if third == 0 {
		return straight{}, false
	}
	middle := func(v []float64, of []int) float64 {
		part := make([]float64, len(of))
		for i, k := range of {
			part[i] = v[k]
		}
		return median(part)
	}
	lx, ly := middle(x, order[:third]), middle(y, order[:third])
	rx, ry := middle(x, order[len(order)-third:]), middle(y, order[len(order)-third:])
	if rx == lx {
		return straight{}, false
	}
	f := straight{slope: (ry - ly) / (rx - lx)}
	rest := make([]float64, len(x))
	for i := range x {
		rest[i] = y[i] - f.slope*x[i]
	}
	f.intercept = median(rest)
	return f, true
}

// median reorders v.
func median(v []float64) float64 {
	slices.Sort(v)
	if n := len(v); n%2 == 0 {
		return (v[n/2-1] + v[n/2]) / 2
	}
	return v[len(v)/2]
}

// mad is the median absolute deviation from 0, as a standard deviation of a normal distribution
// (factor 1.4826).
func mad(r []float64) float64 {
	a := make([]float64, len(r))
	for i, v := range r {
		a[i] = math.Abs(v)
	}
	return 1.4826 * median(a)
}
