package composite

import "math"

// phases is the number of sub-sample places that filter tables are made for: at
// 17.7 MHz a step of 0.44 ns.
const phases = 128

// An edgeTable holds the differences of a step response, sample to sample, for
// each sub-sample place of the step: adding them up draws the step.
type edgeTable struct {
	before int // samples before the step's own sample
	taps   int
	diff   []float32 // [phase*taps+k]
}

// newEdgeTable tabulates step(t), t in samples, which is 0 before -reach and 1
// after reach.
func newEdgeTable(step func(t float64) float64, reach float64) *edgeTable {
	before := int(math.Ceil(reach))
	e := &edgeTable{before: before, taps: 2*before + 2}
	e.diff = make([]float32, phases*e.taps)
	for p := range phases {
		f := float64(p) / phases
		last := 0.0
		for k := range e.taps {
			t := float64(k-before) - f
			s := step(t)
			switch {
			case t <= -reach:
				s = 0
			case t >= reach:
				s = 1
			}
			e.diff[p*e.taps+k] = float32(s - last)
			last = s
		}
	}
	return e
}

// add draws a step of height at sample place t into differences d.
func (e *edgeTable) add(d []float32, t float64, height float32) {
	n := int(math.Floor(t))
	p := int((t-float64(n))*phases + 0.5)
	if p == phases {
		n, p = n+1, 0
	}
	h := e.diff[p*e.taps : (p+1)*e.taps]
	from := n - e.before
	for k, v := range h {
		if i := from + k; i >= 0 && i < len(d) {
			d[i] += height * v
		}
	}
}

// gaussEdge is the step response of a Gaussian low-pass, -3 dB at bandwidth (in
// parts of the sampling rate), kept below the Nyquist limit by a cosine roll-off
// from 0.42 to 0.5 of the rate: what an ideal sampler sees.
func gaussEdge(bandwidth float64) *edgeTable {
	const fine = 64 // points a sample
	sigma := math.Sqrt(math.Ln2) / (2 * math.Pi * bandwidth)
	reach := math.Ceil(math.Max(8, 4*sigma))
	n := int(reach) * fine
	const bins = 256
	impulse := make([]float64, n+1) // t = i/fine
	for i := range impulse {
		t := float64(i) / fine
		for b := range bins {
			f := 0.5 * (float64(b) + 0.5) / bins
			h := math.Exp2(-0.5 * f * f / (bandwidth * bandwidth)) // -3 dB at the bandwidth
			if f > 0.42 {
				h *= 0.5 + 0.5*math.Cos(math.Pi*(f-0.42)/0.08)
			}
			impulse[i] += h * math.Cos(2*math.Pi*f*t)
		}
		impulse[i] *= 0.5 + 0.5*math.Cos(math.Pi*t/reach)
	}
	half := make([]float64, n+1) // integral from 0 to t
	for i := 1; i <= n; i++ {
		half[i] = half[i-1] + (impulse[i-1]+impulse[i])/2
	}
	step := func(t float64) float64 {
		a := math.Min(math.Abs(t)*fine, float64(n))
		i := min(int(a), n-1)
		v := (half[i] + (half[i+1]-half[i])*(a-float64(i))) / half[n] / 2
		return 0.5 + math.Copysign(v, t)
	}
	return newEdgeTable(step, reach)
}

// sineSquaredEdge is a sin^2 step with the given 10 to 90 % time in samples.
func sineSquaredEdge(rise float64) *edgeTable {
	// sin^2(x) passes 0.1 at 0.32175 and 0.9 at 1.24905 rad.
	reach := rise * (math.Pi / 2) / (1.24905 - 0.32175) / 2
	return newEdgeTable(func(t float64) float64 {
		s := math.Sin(math.Pi / 4 * (1 + t/reach))
		return s * s
	}, reach)
}

// Kaiser is the Kaiser window, x from -1 to 1.
func Kaiser(x, beta float64) float64 {
	if x < -1 || x > 1 {
		return 0
	}
	return bessel0(beta*math.Sqrt(1-x*x)) / bessel0(beta)
}

// bessel0 is the modified Bessel function of order 0, by its series.
func bessel0(x float64) float64 {
	sum, term := 1.0, 1.0
	for k := 1.0; k < 40; k++ {
		term *= x / (2 * k) * (x / (2 * k))
		sum += term
	}
	return sum
}

// Sinc is sin(pi x)/(pi x).
func Sinc(x float64) float64 {
	if x == 0 {
		return 1
	}
	return math.Sin(math.Pi*x) / (math.Pi * x)
}

// lowPass is a symmetric low-pass of 2*half+1 taps, -6 dB at cutoff (parts of the
// rate), 1 at zero frequency; only the middle tap and those after it are given.
func lowPass(half int, cutoff, beta float64) []float64 {
	h := make([]float64, half+1)
	sum := 0.0
	for i := range h {
		h[i] = Sinc(2*cutoff*float64(i)) * Kaiser(float64(i)/float64(half+1), beta)
		if i > 0 {
			sum += h[i]
		}
		sum += h[i]
	}
	for i := range h {
		h[i] /= sum
	}
	return h
}

// response is the gain of a symmetric filter (middle tap first) at frequency f.
func response(h []float64, f float64) float64 {
	sum := h[0]
	for i, v := range h[1:] {
		sum += 2 * v * math.Cos(2*math.Pi*f*float64(i+1))
	}
	return sum
}

// notch takes frequency f (parts of the rate) out of the symmetric low-pass h, with
// half the gain of h left at about f +- width.
func notch(h []float64, f, width float64) []float64 {
	band := lowPass(len(h)-1, width, 3)
	for i := range band {
		band[i] *= 2 * math.Cos(2*math.Pi*f*float64(i))
	}
	scale := response(h, f) / response(band, f)
	out := make([]float64, len(h))
	for i := range out {
		out[i] = h[i] - scale*band[i]
	}
	scale = response(out, 0)
	for i := range out {
		out[i] /= scale
	}
	return out
}

// resampleTaps is the length of the resampling filter, in input samples.
const resampleTaps = 16

// resampler tabulates a low-pass, -6 dB at cutoff (parts of the input rate), for
// all sub-sample places: sample at n+p/phases is the sum of
// x[n-resampleTaps/2+1+k] * table[p*resampleTaps+k].
func resampler(cutoff float64) []float32 {
	table := make([]float32, phases*resampleTaps)
	for p := range phases {
		var row [resampleTaps]float64
		sum := 0.0
		for k := range row {
			t := float64(k-resampleTaps/2+1) - float64(p)/phases
			row[k] = Sinc(2*cutoff*t) * Kaiser(t/(resampleTaps/2), 4.5)
			sum += row[k]
		}
		for k := range row {
			table[p*resampleTaps+k] = float32(row[k] / sum)
		}
	}
	return table
}

// resamplerGain is the gain of a resampler's table at frequency f.
func resamplerGain(table []float32, f float64) float64 {
	sum := 0.0
	for k, v := range table[:resampleTaps] {
		sum += float64(v) * math.Cos(2*math.Pi*f*float64(k-resampleTaps/2+1))
	}
	return sum
}

// sines holds one cycle, sines[i] = sin(2 pi i/4096), with a quarter more so that
// cosines are found 1024 further on.
var sines = func() (t [4096 + 1024]float32) {
	for i := range t {
		t[i] = float32(math.Sin(2 * math.Pi * float64(i) / 4096))
	}
	return t
}()
