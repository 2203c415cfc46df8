package composite

import (
	"math"
	"math/cmplx"

	"backporch/video"
)

// A burstLock follows the subcarrier by its burst, line by line. Phases are against a
// reference that runs steadily at the nominal frequency.
type burstLock struct {
	pal    bool
	sync   float64 // nominal burst peak over sync height
	phase  float64 // rad, of the +U axis
	drift  float64 // rad a line: subcarrier off its nominal frequency
	odd    bool    // V is inverted on this line
	last   complex128
	ident  float64    // how well the V switch agrees with the bursts, running mean
	mean   complex128 // burst turned to its place, running mean: its length is the amplitude
	colour bool
	bursts int // seen since the loop began anew, up to a limit: the first ones count for more
}

// restart lets the loop find phase and V switch anew and quickly; amplitude and frequency stay.
func (l *burstLock) restart() { l.bursts, l.ident, l.last = 0, 0, 0 }

// advance takes the burst of a line; b is (sin, cos) correlation as U + jV in mV,
// height the sync height in mV.
func (l *burstLock) advance(b complex128, height float64) {
	l.phase += l.drift
	l.odd = !l.odd && l.pal
	// Lines about field sync have no burst: they hardly count.
	k, pull := 0.003, 0.15
	if cmplx.Abs(b) >= l.sync*height/3 {
		l.bursts = min(l.bursts+1, 100)
		k = max(0.05, 1/float64(l.bursts))
		pull = max(pull, 1/float64(l.bursts))
	}
	expected := -math.Pi // 180 degrees
	if l.pal {
		expected = 3 * math.Pi / 4 // 135 degrees
		// From line to line the burst swings by 90 degrees, one way and the other:
		// that tells the switch whatever the phase.
		q := imag(b * cmplx.Conj(l.last*cmplx.Rect(1, l.drift)))
		size := cmplx.Abs(b)*cmplx.Abs(l.last) + 1e-9
		if !l.odd {
			q = -q
		}
		l.ident += (q/size - l.ident) * k
		if l.ident < -0.3 {
			l.odd = !l.odd
			l.ident = -l.ident
			if l.bursts < 10 { // what was averaged so far had the other axis
				l.bursts, pull = 1, 1
			}
		}
		if l.odd {
			expected = -expected
		}
	}
	l.last = b
	turned := b * cmplx.Rect(1, -l.phase-expected) // real and positive when in lock
	l.mean += (turned - l.mean) * complex(k, 0)
	if cmplx.Abs(b) > 0.05*height {
		e := cmplx.Phase(turned)
		l.phase += pull * e
		l.drift += 0.15 * 0.15 / 6 * e
		l.drift = min(max(l.drift, -0.6), 0.6)
		if l.phase > math.Pi {
			l.phase -= 2 * math.Pi
		} else if l.phase < -math.Pi {
			l.phase += 2 * math.Pi
		}
	}
	// The killer has some hysteresis: on below 1/10, off above 1/6 of the proper burst.
	proper := l.sync * height
	amplitude := real(l.mean)
	switch {
	case amplitude > proper/6 && (!l.pal || l.ident > 0.1):
		l.colour = true
	case amplitude < proper/10:
		l.colour = false
	}
}

// gain brings the burst to its proper height against sync; within limits.
func (l *burstLock) gain(height float64) float64 {
	return min(max(l.sync*height/math.Max(real(l.mean), 1e-6), 0.3), 4)
}

// correlate measures the burst of the line at zero against the reference: U + jV
// in mV. cycles is the reference's cycles a sample.
func correlate(x []float32, base int64, zero, rate float64, timing lineTiming, standard video.Standard, cycles float64) complex128 {
	fsc := standard.Scan().SubcarrierHz
	// The middle of the burst, a whole number of cycles.
	n := timing.burstCycles - 3
	from := int(math.Round(zero + (timing.burstStart+1.5/fsc)*rate))
	count := int(math.Round(n / fsc * rate))
	i := from - int(base)
	if i < 0 || i+count > len(x) {
		return 0
	}
	part := x[i : i+count]
	dc := float64(sum(part)) / float64(count)
	phase, step := phaseAt(float64(from), cycles), stepOf(cycles)
	var s, c float64
	for _, v := range part {
		p := phase >> 52
		d := float64(v) - dc
		s += d * float64(sines[p])
		c += d * float64(sines[p+1024])
		phase += step
	}
	b := complex(s, c) * complex(2/float64(count), 0)
	if cmplx.IsNaN(b) || cmplx.IsInf(b) {
		return 0
	}
	return b
}

// stepOf is cycles a sample as a part of 2^64 a cycle.
func stepOf(cycles float64) uint64 { return uint64(math.Round(cycles*(1<<62))) << 2 }

// phaseAt is the reference's phase at an absolute sample place.
func phaseAt(place, cycles float64) uint64 {
	whole := math.Floor(place)
	return uint64(int64(whole))*stepOf(cycles) + uint64((place-whole)*cycles*(1<<62))<<2
}
