package signal

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"backporch/analyse"
)

// What follows a pixel's own response is weighed as a whole. A tail has a mean and a covariance: where a screen repeats itself, a
// copy cannot be told from its neighbours, and the covariance says so. What decoders leave there is
// part of it. Each of the path's doings is then weighed by its marginal likelihood: sizes integrated over a Gaussian prior,
// delays and frequencies averaged (Bishop, Pattern Recognition and Machine Learning, 3.4, from memory).
type tail struct {
	first int       // index of the first tap
	times []float64 // ns since the pixel's middle
	v     []float64 // in units of the pixel's own weight
	sigma []float64 // standard uncertainty of each
	own   []float64 // the response before, in the same units, by half pixels
	pixel float64   // ns
	alone bool      // by the picture, with no plain beginning of the border
	// lasting is the border's own subcarrier in it, rms.
	lasting float64
	// models are those of what good decoders leave.
	models []*lobes
}

// Sizes that copies and oscillations have, of the picture and of the step: the deviation of a Gaussian prior. Reflections and
// ringing that somebody looks for are some 10 to 40 %. Common practice, no source.
const (
	ghostPrior = 0.22
	ringPrior  = 0.25
	leastSwing = 0.45 // cycles to 1/e: what dies sooner is no oscillation
)

// A good decoder's lobes 350 ns after a pixel, parts of its weight: those of a notch at the subcarrier, which ring at its frequency and
// are gone after three quarters of a microsecond, or, of narrow ones, a whole one; others of filters and peaking; and what colours and edges are misread
// by, which stays. Common practice, no source.
const (
	lobesAt             = 350.0
	notchLobe, notchNs  = 0.13, 170.0
	narrowLobe, ringsNs = 0.06, 320.0
	lobesHold           = 600.0 // ns that they keep to that frequency
	filterLobe, innerNs = 0.05, 130.0
	restLobe            = 0.005
	restLevel           = 0.006
)

// newTail joins what the picture and the border's onset say; either may be nil. good is a good machine's signal, nil where none is at hand.
func newTail(picture, onset *response, subcarrierHz float64, good *analyse.Signal) (*tail, *response) {
	first := int(math.Ceil(2 * (tailPx + beforePx)))
	n := 2*responseLen - first
	precision, right := mat.NewSymDense(n, nil), mat.NewVecDense(n, nil)
	mains := [2]float64{}
	for k, one := range []**response{&picture, &onset} {
		if *one == nil {
			continue
		}
		for _, v := range (*one).taps[:first] {
			mains[k] += v / 2
		}
		if mains[k] < 0.2 { // it does not know its own pixel
			*one = nil
		}
	}
	if picture != nil && !picture.information(precision, right, first, mains[0]) {
		picture = nil
		precision.Zero()
		right.Zero()
	}
	r := picture
	switch {
	case picture == nil && onset == nil:
		return nil, nil
	case picture != nil && onset != nil:
		if !picture.trustBy(onset, first, mains, precision, right) {
			picture, r = nil, onset
			precision.Zero()
			right.Zero()
		}
	case picture == nil:
		r = onset
	}
	if picture == nil {
		for i := range n {
			precision.SetSym(i, i, 1/square(tapPrior))
		}
	}
	if picture != nil && onset != nil && onset.stepError() < math.Max(picture.stepError(), goodStep) {
		r = onset // nothing had to be read for it; the two may lie a part of a pixel apart: a pixel's own response is that of one of them
	}
	joined := *r
	if onset != nil {
		for i := range n {
			w := square(mains[1] / onset.sigma[first+i])
			precision.SetSym(i, i, precision.At(i, i)+w)
			right.SetVec(i, right.AtVec(i)+w*onset.taps[first+i]/mains[1])
		}
	}
	var c mat.Cholesky
	if !c.Factorize(precision) {
		return nil, nil
	}
	var mean mat.VecDense
	covariance := mat.NewSymDense(n, nil)
	if c.SolveVecTo(&mean, right) != nil || c.InverseTo(covariance) != nil {
		return nil, nil
	}
	t := &tail{first: first, pixel: r.pixel, alone: onset == nil || onset.size < plainOnset, v: mean.RawVector().Data}
	if onset != nil {
		t.lasting = onset.lasting / mains[1]
	}
	main := 0.0
	for _, v := range joined.taps[:first] {
		main += v / 2
	}
	for _, v := range joined.taps[:first] {
		t.own = append(t.own, v/main)
	}
	for i := range n {
		t.times = append(t.times, r.at(first+i)*r.pixel)
	}
	expected, variance := r.mirrored(first, n, main)
	alone := 1.0
	if good != nil && len(good.Tail) == n && len(good.TailSigma) == n {
		alone = 1 - alikeShare
		there := make([]float64, n)
		for i, v := range good.TailSigma {
			there[i] = v * v
		}
		t.models = append(t.models, t.newLobes(covariance, subcarrierHz, alikeShare, good.Tail, there))
	}
	t.models = append(t.models, t.newLobes(covariance, subcarrierHz, alone*mirrorShare, expected, variance), t.newLobes(covariance, subcarrierHz, alone*(1-mirrorShare), nil, nil))
	if slices.Contains(t.models, nil) {
		return nil, nil
	}
	for i := range n {
		t.sigma = append(t.sigma, math.Sqrt(covariance.At(i, i)))
	}
	for i := range joined.taps[first:] {
		joined.taps[first+i] = t.v[i] * main
	}
	return t, &joined
}

// information adds the picture's precision of the tail's taps, their prior's included, and its product with them.
func (r *response) information(precision *mat.SymDense, right *mat.VecDense, first int, main float64) bool {
	for phase := range 2 {
		var taps []int // of this phase: half pixels are regressions of their own
		for i := first; i < len(r.taps); i++ {
			if i%2 == phase {
				taps = append(taps, i)
			}
		}
		part := mat.NewSymDense(len(taps), nil)
		for a, i := range taps {
			for b := a; b < len(taps); b++ {
				// Neighbouring half pixels are not independent of each other.
				part.SetSym(a, b, 2*r.covariance.At(i/2, taps[b]/2)/square(main))
			}
			part.SetSym(a, a, part.At(a, a)+1e-8)
		}
		var c mat.Cholesky
		if !c.Factorize(part) {
			return false
		}
		var inverse mat.SymDense
		if c.InverseTo(&inverse) != nil {
			return false
		}
		for a, i := range taps {
			sum := 0.0
			for b, k := range taps {
				precision.SetSym(i-first, k-first, inverse.At(a, b))
				sum += inverse.At(a, b) * r.taps[k] / main
			}
			right.SetVec(i-first, sum)
		}
	}
	return true
}

// trustBy takes the picture's precision down where its tail and the onset's differ by more than both allow (Birge's ratio): the
// pixels as read are then not quite those that were sent. Where they differ altogether it is no use: false.
func (r *response) trustBy(onset *response, first int, mains [2]float64, precision *mat.SymDense, right *mat.VecDense) bool {
	n := len(r.taps) - first
	var c mat.Cholesky
	if !c.Factorize(precision) {
		return false
	}
	covariance := mat.NewSymDense(n, nil)
	if c.InverseTo(covariance) != nil {
		return false
	}
	d := mat.NewVecDense(n, nil)
	for i := range n {
		covariance.SetSym(i, i, covariance.At(i, i)+square(onset.sigma[first+i]/mains[1])+square(trust))
		d.SetVec(i, r.taps[first+i]/mains[0]-onset.taps[first+i]/mains[1])
	}
	if !c.Factorize(covariance) {
		return false
	}
	var solved mat.VecDense
	if c.SolveVecTo(&solved, d) != nil {
		return false
	}
	ratio := mat.Dot(d, &solved) / float64(n)
	if ratio > 1 {
		precision.ScaleSym(1/ratio, precision)
		right.ScaleVec(1/ratio, right)
	}
	return ratio < mostApart
}

// goodStep is the uncertainty of a step, parts of it, that is good enough.
const goodStep = 0.04

// mostApart is the ratio from which on the picture is left out.
const mostApart = 4.0

// trust is the least uncertainty of a tap: what the pixels as read are wrong by.
const trust = 0.004

// late, ns after an edge: what Ringing.Late stands for.
const late = 600.0

// ghost weighs a second copy of the pixel's own response in the tail.
func (t *tail) ghost() *analyse.Ghost {
	shape := func(at float64) float64 { // the pixel's own response, by half pixels
		i := int(math.Floor(at))
		if i < 0 || i+1 >= len(t.own) {
			return 0
		}
		f := at - float64(i)
		return t.own[i]*(1-f) + t.own[i+1]*f
	}
	model, white := make([]float64, len(t.v)), make([]float64, len(t.v))
	gained := make([]float64, len(t.models))
	var out *analyse.Ghost
	var gains []float64
	var sizes, delays spreading
	best := math.Inf(-1)
	for delay := 2 * leastDelay / t.pixel; delay < float64(2*afterPx-4); delay += 0.25 {
		for i := range model {
			model[i] = shape(float64(t.first+i) - delay)
		}
		size, spread, most := 0.0, 0.0, math.Inf(-1)
		for k, l := range t.models {
			l.whiten(white, model)
			mm, mv := dot(white, white), dot(white, l.white)
			precision := mm + 1/square(ghostPrior)
			gained[k] = mv*mv/precision/2 - math.Log1p(mm*square(ghostPrior))/2
			if v := l.base + gained[k]; v > most {
				most, size, spread = v, mv/precision, 1/math.Sqrt(precision)
			}
		}
		gain := t.over(gained)
		gains = append(gains, gain)
		sizes.add(gain, 100*size)
		delays.add(gain, delay/2*t.pixel)
		if gain > best {
			best = gain
			out = &analyse.Ghost{
				Pct: analyse.Estimate{Value: 100 * size, Spread: 100 * math.Max(spread, 0.004), Limit: "edges"},
				Ns:  analyse.Estimate{Value: delay / 2 * t.pixel, Spread: math.Max(0.25, spread/math.Max(math.Abs(size), 0.01)) * t.pixel, Limit: "edges"},
			}
		}
	}
	if out != nil {
		out.Gain = meanExp(gains)
		out.Alone = t.alone
		out.Pct.Spread = math.Hypot(out.Pct.Spread, sizes.about(out.Pct.Value))
		out.Ns.Spread = math.Hypot(out.Ns.Spread, delays.about(out.Ns.Value))
	}
	return out
}

// A spreading is how far a value may lie from the likeliest: the root of its mean square off it, over all that was tried by its weight.
type spreading struct{ gains, values []float64 }

func (s *spreading) add(gain, value float64) {
	s.gains, s.values = append(s.gains, gain), append(s.values, value)
}

func (s *spreading) about(likeliest float64) float64 {
	most := slices.Max(s.gains)
	sum, squares := 0.0, 0.0
	for i, g := range s.gains {
		w := math.Exp(g - most)
		sum += w
		squares += w * square(s.values[i]-likeliest)
	}
	return math.Sqrt(squares / sum)
}

// ringing weighs a damped oscillation after an edge: the step is 1 + a e^(-t/d) sin(w t + phase) after its own rise, so
// that the tail of the pixel's response is the difference of two of these, a pixel apart.
func (t *tail) ringing() *analyse.Ringing {
	var out *analyse.Ringing
	var gains []float64
	var swings, lates, frequencies, decays spreading
	best := math.Inf(-1)
	n := len(t.v)
	gained := make([]float64, len(t.models))
	sin, cos, sinWhite, cosWhite := make([]float64, n), make([]float64, n), make([]float64, n), make([]float64, n)
	prior := 1 / square(ringPrior)
	for hz := 1.2e6; hz < 5.2e6; hz *= 1.025 {
		w := 2 * math.Pi * hz * 1e-9
		for _, decay := range []float64{170, 205, 245, 295, 350, 420, 510, 610, 730, 880} {
			if decay*1e-9*hz < leastSwing {
				continue
			}
			for i, at := range t.times {
				from, to := at-t.pixel/2, at+t.pixel/2 // since the pixel's end, and since its beginning
				a, b := math.Exp(-to/decay), math.Exp(-from/decay)
				s1, c1 := math.Sincos(w * to)
				s2, c2 := math.Sincos(w * from)
				sin[i], cos[i] = a*s1-b*s2, a*c1-b*c2
			}
			size, spread, most := 0.0, 0.0, math.Inf(-1)
			for k, l := range t.models {
				l.whiten(sinWhite, sin)
				l.whiten(cosWhite, cos)
				ss, sc, cc := dot(sinWhite, sinWhite)+prior, dot(sinWhite, cosWhite), dot(cosWhite, cosWhite)+prior
				sv, cv := dot(sinWhite, l.white), dot(cosWhite, l.white)
				det := ss*cc - sc*sc
				a, b := (sv*cc-cv*sc)/det, (cv*ss-sv*sc)/det
				gained[k] = (a*sv+b*cv)/2 - math.Log(det/(prior*prior))/2
				if v := l.base + gained[k]; v > most {
					most, size, spread = v, math.Hypot(a, b), math.Sqrt(math.Max(ss, cc)/det)
				}
			}
			gain := t.over(gained)
			gains = append(gains, gain)
			// The first swing: the greatest of the envelope times the sine from a quarter of a cycle on.
			swing := math.Exp(-1 / (4 * hz) / (decay * 1e-9))
			swings.add(gain, 100*size*swing)
			lates.add(gain, 100*size*math.Exp(-late/decay))
			frequencies.add(gain, hz)
			decays.add(gain, decay)
			if gain > best {
				best = gain
				out = &analyse.Ringing{
					Pct:     analyse.Estimate{Value: 100 * size * swing, Spread: 100 * math.Max(spread, 0.01), Limit: "edges"},
					Hz:      analyse.Estimate{Value: hz, Spread: hz * 0.02, Limit: "edges"},
					DecayNs: analyse.Estimate{Value: decay, Spread: 0.2 * decay, Limit: "edges"},
					Late:    100 * size * math.Exp(-late/decay),
				}
			}
		}
	}
	if out != nil {
		out.Gain = meanExp(gains)
		out.Pct.Spread = math.Hypot(out.Pct.Spread, swings.about(out.Pct.Value))
		out.LateSpread = math.Hypot(out.Late*math.Min(1, out.Pct.Spread/math.Max(out.Pct.Value, 1e-9)), lates.about(out.Late))
		out.Hz.Spread = math.Hypot(out.Hz.Spread, frequencies.about(out.Hz.Value))
		out.DecayNs.Spread = math.Hypot(out.DecayNs.Spread, decays.about(out.DecayNs.Value))
	}
	return out
}

// over is a gain over the models of what good decoders leave, given that in each.
func (t *tail) over(gains []float64) float64 {
	good, with := math.Inf(-1), math.Inf(-1)
	for k, l := range t.models {
		good, with = addLog(good, l.base), addLog(with, l.base+gains[k])
	}
	return with - good
}

func dot(a, b []float64) float64 {
	sum := 0.0
	for i, v := range a {
		sum += v * b[i]
	}
	return sum
}

// meanExp is ln of the mean of the exponentials.
func meanExp(v []float64) float64 {
	most := math.Inf(-1)
	for _, x := range v {
		most = math.Max(most, x)
	}
	sum := 0.0
	for _, x := range v {
		sum += math.Exp(x - most)
	}
	return most + math.Log(sum/float64(len(v)))
}
