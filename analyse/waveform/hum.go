package waveform

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// humAt are the frequencies of hum, Hz: mains, and twice it behind a full-wave rectifier.
var humAt = [4]float64{50, 60, 100, 120}

// humLeast is the least stretch that hum is looked for in, s: a cycle and a half of the slowest.
const humLeast = 0.03

// A ripple is what one stretch's blanking has of one frequency.
type ripple struct {
	square float64 // of the amplitude, mV peak squared, less what scatter makes
	spread float64 // of the amplitude
	rest   float64 // mean square of what it leaves, mV squared
}

// hum fits each frequency of hum, a mean and a slope to the lines' blanking, which is taken before any clamp; nil when the
// stretch is too short.
func (s *stretch) hum() []ripple {
	n := len(s.lines)
	if n < 100 || (s.lines[n-1].zero-s.lines[0].zero)/s.rate < humLeast {
		return nil
	}
	out := make([]ripple, len(humAt))
	middle := (s.lines[0].zero + s.lines[n-1].zero) / 2
	span := (s.lines[n-1].zero - s.lines[0].zero) / 2
	for k, hz := range humAt {
		var normal mat.SymDense
		normal.ReuseAsSym(4)
		right := mat.NewVecDense(4, nil)
		row := func(l *line) [4]float64 {
			sin, cos := math.Sincos(2 * math.Pi * hz * l.zero / s.rate)
			return [4]float64{1, (l.zero - middle) / span, cos, sin}
		}
		for i := range s.lines {
			c := row(&s.lines[i])
			for a := range c {
				right.SetVec(a, right.AtVec(a)+c[a]*s.lines[i].blank)
				for b := a; b < len(c); b++ {
					normal.SetSym(a, b, normal.At(a, b)+c[a]*c[b])
				}
			}
		}
		var c mat.Cholesky
		var p mat.VecDense
		if !c.Factorize(&normal) || c.SolveVecTo(&p, right) != nil {
			return nil
		}
		rest := 0.0
		for i := range s.lines {
			f := row(&s.lines[i])
			d := s.lines[i].blank
			for a := range f {
				d -= f[a] * p.AtVec(a)
			}
			rest += d * d
		}
		// Each of sine and cosine has twice the scatter's variance over the lines.
		variance := 2 * rest / float64(n-4) / float64(n)
		out[k] = ripple{p.AtVec(2)*p.AtVec(2) + p.AtVec(3)*p.AtVec(3) - 2*variance, math.Sqrt(variance), rest / float64(n)}
	}
	return out
}

// humOf adds the stretches' up: the strongest frequency, peak to peak, and its uncertainty; hz is 0 where it does not stand
// out of what other wander leaves.
func humOf(parts []*part) (mv, spread, hz float64, ok bool) {
	var square, noise, rest [len(humAt)]float64
	n := 0.0
	for _, p := range parts {
		if p.hum == nil {
			continue
		}
		n++
		for k, r := range p.hum {
			square[k] += r.square
			noise[k] += r.spread * r.spread
			rest[k] += r.rest
		}
	}
	if n == 0 {
		return 0, 0, 0, false
	}
	best := 0
	for k := range humAt {
		if square[k] > square[best] {
			best = k
		}
	}
	amplitude := math.Sqrt(math.Max(square[best]/n, 0))
	spread = math.Sqrt(noise[best]/n) / math.Sqrt(n)
	// A coupling capacitor that charges and sags moves blanking too, by more than a sine explains.
	if amplitude > 4*spread && amplitude*amplitude/2 > rest[best]/n {
		hz = humAt[best]
	}
	return 2 * amplitude, 2 * spread, hz, true
}
