package waveform

import (
	"math"
	"math/cmplx"
	"slices"

	"backporch/video"
)

// A burst is what the lines' bursts say together.
type burst struct {
	reference float64 // Hz, that phases are taken against
	standard  video.Standard
	mean      float64 // mV peak, of the lines that have one
	lines     int
	hz        *float64
	spread    float64 // Hz, uncertainty of hz
	swings    bool    // from line to line by a quarter of a cycle, to and fro: PAL
}

// Where the burst is looked for, us after the end of sync: its middle, in both standards.
const (
	burstFrom = 1.15
	burstTo   = 2.75
)

// findBurst tells which subcarrier there is and measures it.
func (s *stretch) findBurst() {
	var best *burst
	power := 0.0
	for _, std := range []video.Standard{video.Std625, video.Std525} {
		f := std.Scan().SubcarrierHz
		if s.rate < 2.2*f {
			continue
		}
		// Sampled too slowly, the other standard's subcarrier folds down to about this one's.
		other := video.Std625.Scan().SubcarrierHz
		if s.standard != std && s.rate < 2.2*other && math.Abs(s.rate-other-f) < 1e6/(burstTo-burstFrom) {
			continue
		}
		// Against the same length beside it without a burst there would be less: noise.
		total, noise, n := 0.0, 0.0, 0
		skip := max(1, len(s.lines)/200)
		for i := 0; i < len(s.lines); i += skip {
			b, rest, ok := s.fitBurst(&s.lines[i], f)
			if !ok {
				continue
			}
			total += real(b)*real(b) + imag(b)*imag(b)
			noise += rest * rest
			n++
		}
		if n == 0 {
			continue
		}
		total, noise = total/float64(n), noise/float64(n)
		h := s.medianHeight()
		if total > power && total > 4*noise/math.Max((burstTo-burstFrom)*s.us, 1) && math.Sqrt(total) > 0.04*h && total > noise {
			power = total
			best = &burst{reference: f, standard: std}
		}
	}
	if best == nil {
		return
	}
	s.burst = best
	var sizes []float64
	for i := range s.lines {
		l := &s.lines[i]
		if b, rest, ok := s.fitBurst(l, best.reference); ok {
			l.burst, l.noise = b, rest
			sizes = append(sizes, cmplx.Abs(b))
		}
	}
	slices.Sort(sizes)
	middle := sizes[len(sizes)*3/5] // some lines about field sync have none
	// The square of the size holds that of the noise twice.
	square, n := 0.0, 0
	for i := range s.lines {
		l := &s.lines[i]
		if a := cmplx.Abs(l.burst); a > 0.5*middle && a < 2*middle {
			square += a*a - 4*l.noise*l.noise/((burstTo-burstFrom)*s.us)
			n++
		} else {
			l.burst = 0
		}
	}
	if n == 0 || square <= 0 {
		s.burst = nil
		return
	}
	best.mean, best.lines = math.Sqrt(square/float64(n)), n
	s.burstFrequency()
}

// fitBurst fits the middle of a line's burst.
func (s *stretch) fitBurst(l *line, f float64) (b complex128, rest float64, ok bool) {
	return s.fitTone(l.end+burstFrom*s.us, l.end+burstTo*s.us, f)
}

// fitTone fits mean, sine and cosine to the samples from begin to end: amplitude in mV peak, phase against
// a reference of frequency f that runs from sample 0; and the rms of the rest.
func (s *stretch) fitTone(begin, end, f float64) (b complex128, rest float64, ok bool) {
	from, to := int(math.Ceil(begin)), int(math.Floor(end))
	if from < 0 || to > len(s.x) || to-from < 5 {
		return 0, 0, false
	}
	w := 2 * math.Pi * f / s.rate
	turn := cmplx.Rect(1, w*math.Mod(float64(from), s.rate/f))
	step := cmplx.Rect(1, w)
	// Normal equations of [1 cos sin].
	var a [3][4]float64
	first := turn
	for _, v := range s.x[from:to] {
		c := [3]float64{1, real(turn), imag(turn)}
		for i := range c {
			for j := range c {
				a[i][j] += c[i] * c[j]
			}
			a[i][3] += c[i] * float64(v)
		}
		turn *= step
	}
	p, ok := solve3(a)
	if !ok {
		return 0, 0, false
	}
	turn = first
	for _, v := range s.x[from:to] {
		d := float64(v) - p[0] - p[1]*real(turn) - p[2]*imag(turn)
		rest += d * d
		turn *= step
	}
	rest = math.Sqrt(rest / float64(to-from-3))
	// p1 cos + p2 sin is the real part of (p1 - j p2) exp(jwt).
	b = complex(p[1], -p[2])
	return b, rest, !cmplx.IsNaN(b) && !cmplx.IsInf(b)
}

// solve3 solves three equations by elimination with pivots.
func solve3(a [3][4]float64) (p [3]float64, ok bool) {
	for i := range 3 {
		big := i
		for j := i + 1; j < 3; j++ {
			if math.Abs(a[j][i]) > math.Abs(a[big][i]) {
				big = j
			}
		}
		a[i], a[big] = a[big], a[i]
		if !(math.Abs(a[i][i]) > 1e-12) {
			return p, false
		}
		for j := i + 1; j < 3; j++ {
			f := a[j][i] / a[i][i]
			for k := i; k < 4; k++ {
				a[j][k] -= f * a[i][k]
			}
		}
	}
	for i := 2; i >= 0; i-- {
		p[i] = a[i][3]
		for k := i + 1; k < 3; k++ {
			p[i] -= a[i][k] * p[k]
		}
		p[i] /= a[i][i]
	}
	return p, true
}

// burstFrequency follows the phase from line to line. The product of neighbouring lines' bursts
// has twice the phase and no swing, so PAL and NTSC are followed alike.
func (s *stretch) burstFrequency() {
	type point struct {
		t, phase float64 // s, rad (of the product)
	}
	var pairs []complex128
	var at []float64
	var swing, steady float64
	for i := 0; i+1 < len(s.lines); i++ {
		a, b := &s.lines[i], &s.lines[i+1]
		if b.n != a.n+1 || a.burst == 0 || b.burst == 0 {
			continue
		}
		pairs = append(pairs, a.burst*b.burst)
		at = append(at, (a.end+b.end)/2/s.rate)
	}
	if len(pairs) < 2 {
		return
	}
	lineTime := s.period / s.rate
	// Within a burst the phase runs away by the frequency's error: a coarse value, so that
	// from line to line no turn is missed.
	coarse, doubt := s.coarseOffset()
	turn := func(z complex128, hz, t float64) complex128 { return z * cmplx.Rect(1, -4*math.Pi*hz*t) }
	var sum complex128
	for i := 1; i < len(pairs); i++ {
		if d := at[i] - at[i-1]; d < 1.5*lineTime {
			sum += turn(pairs[i]*cmplx.Conj(pairs[i-1]), coarse, d)
		}
	}
	offset := nearestAlias(coarse+cmplx.Phase(sum)/(4*math.Pi*lineTime), coarse, doubt, 1/(2*lineTime))
	points := make([]point, len(pairs))
	last := 0.0
	for i, z := range pairs {
		p := cmplx.Phase(turn(z, offset, at[i]-at[0]))
		if i > 0 {
			p = last + math.Remainder(p-last, 2*math.Pi)
		}
		points[i] = point{at[i], p}
		last = p
	}
	for i := 0; i+1 < len(s.lines); i++ {
		a, b := s.lines[i].burst, s.lines[i+1].burst
		if a != 0 && b != 0 && s.lines[i+1].n == s.lines[i].n+1 {
			d := b * cmplx.Conj(a) * cmplx.Rect(1, -2*math.Pi*offset*lineTime)
			swing += math.Abs(imag(d))
			steady += math.Abs(real(d))
		}
	}
	s.burst.swings = swing > 1.5*steady
	var n, st, sp float64
	for _, p := range points {
		n++
		st += p.t
		sp += p.phase
	}
	var tt, tp float64
	for _, p := range points {
		tt += (p.t - st/n) * (p.t - st/n)
		tp += (p.t - st/n) * (p.phase - sp/n)
	}
	if tt == 0 {
		return
	}
	slope := tp / tt
	hz := s.burst.reference + offset + slope/(4*math.Pi)
	s.burst.hz = &hz
	rest := 0.0
	for _, p := range points {
		d := p.phase - sp/n - slope*(p.t-st/n)
		rest += d * d
	}
	// Neighbouring products share a burst: twice the variance.
	s.burst.spread = math.Sqrt(2*rest/math.Max(n-2, 1)/tt) / (4 * math.Pi)
}

// crystalHz is how far a home computer's subcarrier may be off, one standard deviation (common practice, no source).
const crystalHz = 1500.0

// nearestAlias picks of the frequencies that lines leave open, half their frequency apart, the one that agrees best with what the bursts
// say by themselves and with what crystals are off.
func nearestAlias(offset, coarse, doubt, apart float64) float64 {
	best, least := offset, math.Inf(1)
	for k := -6.0; k <= 6; k++ {
		f := offset + k*apart
		cost := math.Pow((f-coarse)/doubt, 2) + math.Pow(f/crystalHz, 2)
		if cost < least {
			best, least = f, cost
		}
	}
	return best
}

// coarseOffset is the subcarrier's frequency less the reference, from the phase between the
// two halves of each burst, with its standard uncertainty.
func (s *stretch) coarseOffset() (hz, doubt float64) {
	var sum complex128
	var turns []complex128
	half := (burstTo - burstFrom) / 2
	toHz := 1 / (2 * math.Pi * half * 1e-6)
	for i := range s.lines {
		l := &s.lines[i]
		if l.burst == 0 {
			continue
		}
		a, _, ok1 := s.fitTone(l.end+burstFrom*s.us, l.end+(burstFrom+half)*s.us, s.burst.reference)
		b, _, ok2 := s.fitTone(l.end+(burstFrom+half)*s.us, l.end+burstTo*s.us, s.burst.reference)
		if ok1 && ok2 {
			sum += b * cmplx.Conj(a)
			turns = append(turns, b*cmplx.Conj(a))
		}
	}
	if sum == 0 {
		return 0, math.Inf(1)
	}
	across := 0.0
	for _, z := range turns {
		across += math.Pow(imag(z*cmplx.Conj(sum)), 2)
	}
	phase := math.Sqrt(across) / (real(sum)*real(sum) + imag(sum)*imag(sum))
	return cmplx.Phase(sum) * toHz, math.Max(phase*toHz, coarseBias)
}

// coarseBias, Hz, is what a burst's ends do to the frequency that it shows by itself (common practice, no source).
const coarseBias = 300.0
