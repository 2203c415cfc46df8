package waveform

import (
	"math"
	"math/rand/v2"

	"backporch/video"
)

// A maker writes a waveform from the standards' tables, sample by sample from formulas of time: it
// shares nothing with the encoder that the simulator uses. Figures: ITU-R BT.1700 Tables 1
// and 2, SMPTE 170M Table 1.
type maker struct {
	std        video.Standard
	rate       float64
	halfLines  int     // a field: 625 or 525 interlaced, 624 for 312 lines
	lineUS     float64 // 0: the standard's
	sync       float64 // us; 0: 4.7
	front      float64 // us; 0: 1.5
	end        float64 // us after 0H that blanking ends; 0: the standard's
	blankRise  float64 // us, 10 to 90 % of blanking's edges; 0: the standard's
	burstMV    float64 // peak to peak; 0: the standard's
	burstStart float64 // us; 0: the standard's
	burstPPM   float64
	long       bool // field sync as one long pulse of 4 lines
	jitterNS   float64
	noiseMV    float64
	gain       float64 // 0: 1
	offset     float64 // mV
	clip       float64 // mV below blanking that sync tips are cut at; 0: not
	hum        float64 // mV peak, 50 Hz
	tau        float64 // s, time constant of a coupling capacitor; 0: none
	inverted   bool
	codes      float64 // mV a code; 0: not rounded
	white      float64 // of the picture, as a part; 0: 1
	bars       bool    // 100/0/100/0 colour bars in place of white
	seed       uint64
}

// ramp is a sin^2 edge from 0 to 1 with half amplitude at 0 and this 10 to 90 % time:
// sin^2 passes 0.1 at 0.32175 and 0.9 at 1.24905 rad.
func ramp(t, rise float64) float64 {
	p := t/rise*(1.24905-0.32175) + math.Pi/4
	if p <= 0 {
		return 0
	}
	if p >= math.Pi/2 {
		return 1
	}
	s := math.Sin(p)
	return s * s
}

func (m maker) samples(fields float64) []float32 {
	set := func(v *float64, to float64) {
		if *v == 0 {
			*v = to
		}
	}
	scan := m.std.Scan()
	rise, blankRise, equal, pulses, from := 0.2, 0.3, 2.35, 5, 10.5
	cycles, start := 10.0, 5.6
	if m.std == video.Std525 {
		rise, blankRise, equal, pulses, from = 0.14, 0.14, 2.3, 6, 9.2
		cycles, start = 9, 19e6/scan.SubcarrierHz
	}
	set(&m.blankRise, blankRise)
	set(&m.lineUS, 1e6/scan.LineHz)
	set(&m.sync, 4.7)
	set(&m.front, 1.5)
	set(&m.end, from)
	set(&m.burstMV, scan.BurstMVPP)
	set(&m.burstStart, start)
	set(&m.gain, 1)
	set(&m.white, 1)
	fsc := scan.SubcarrierHz * (1 + m.burstPPM*1e-6)
	rng := rand.New(rand.NewPCG(m.seed, 77))

	half := m.lineUS / 2
	n := int(fields * float64(m.halfLines) * half * 1e-6 * m.rate)
	x := make([]float32, n)
	colours := make([]video.YUV, 8)
	for i := range colours {
		colours[i] = video.YUVOfRGB(float64(1-i>>1&1), float64(1-i>>2&1), float64(1-i&1))
	}
	add := func(a, b float64, f func(us float64) float64) { // us, absolute
		for i := max(0, int(math.Ceil(a*1e-6*m.rate))); i < n && float64(i) <= b*1e-6*m.rate; i++ {
			x[i] += float32(f(float64(i) / m.rate * 1e6))
		}
	}
	pulse := func(at, width float64) {
		add(at-1, at+width+1, func(t float64) float64 {
			return -scan.SyncMV * (ramp(t-at, rise) - ramp(t-at-width, rise))
		})
	}
	for k := 0; float64(k)*half*1e-6*m.rate < float64(n)+100; k++ {
		at := float64(k) * half
		in := k % m.halfLines // half-lines since field sync
		before := m.halfLines - in
		jitter := m.jitterNS * 1e-3 * rng.NormFloat64()
		whole := k%2 == 0
		field := false
		switch {
		case m.long:
			if in == 0 {
				pulse(at, 8*half)
			}
			field = in < 8
			if whole && !field {
				pulse(at+jitter, m.sync)
			}
		case in < pulses:
			pulse(at, half-4.7)
			field = true
		case in < 2*pulses || before <= pulses:
			pulse(at, equal)
			field = true
		case whole:
			pulse(at+jitter, m.sync)
		}
		if !whole {
			continue
		}
		sign := 1.0
		u, v := -m.burstMV/2, 0.0
		if m.std == video.Std625 {
			u, v = -m.burstMV/2*math.Sqrt2/2, m.burstMV/2*math.Sqrt2/2
			if k/2%2 == 1 {
				sign = -1
			}
		}
		carrier := func(t, u, v float64) float64 {
			s, c := math.Sincos(2 * math.Pi * math.Mod(fsc*1e-6*t, 1))
			return u*s + sign*v*c
		}
		if !field || m.long && in >= 8 {
			a, w := at+m.burstStart, cycles/scan.SubcarrierHz*1e6
			add(a-1, a+w+1, func(t float64) float64 {
				return carrier(t, u, v) * (ramp(t-a, 0.3) - ramp(t-a-w, 0.3))
			})
		}
		if in < 34 || before < 8 {
			continue
		}
		a, b := at+m.end, at+m.lineUS-m.front
		add(a-1, b+1, func(t float64) float64 {
			open := ramp(t-a, m.blankRise) - ramp(t-b, m.blankRise)
			if !m.bars {
				return m.white * scan.WhiteMV * open
			}
			y := 0.0
			var cu, cv float64
			for i, c := range colours {
				p, q := ramp(t-a-float64(i)*6.4, 0.15), ramp(t-a-float64(i+1)*6.4, 0.15)
				y += c.Y * (p - q)
				p, q = ramp(t-a-float64(i)*6.4, 0.4), ramp(t-a-float64(i+1)*6.4, 0.4)
				cu += c.U * (p - q)
				cv += c.V * (p - q)
			}
			return scan.WhiteMV * open * (y + carrier(t, cu, cv))
		})
	}
	charge := 0.0
	for i := range x {
		v := float64(x[i])
		if m.clip > 0 {
			v = math.Max(v, -m.clip)
		}
		v += m.hum * math.Sin(2*math.Pi*50*float64(i)/m.rate)
		if m.tau > 0 {
			charge += (v - charge) / (m.tau * m.rate)
			v -= charge
		}
		v = v*m.gain + m.offset
		if m.inverted {
			v = -v
		}
		v += m.noiseMV * rng.NormFloat64()
		if m.codes > 0 {
			v = math.Round(v/m.codes) * m.codes
		}
		x[i] = float32(v)
	}
	return x
}
