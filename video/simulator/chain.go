package simulator

import (
	"math"
	"math/rand/v2"

	"backporch/video/composite"
)

// A Chain is the composite output and its cable. The zero value is a clean one.
type Chain struct {
	Level       float64 // of the whole signal; 0: 1
	Gone        bool    // nothing of the signal arrives, only noise
	NoiseMV     float64 // rms in 5 MHz; 0: 1.5, about 53 dB
	BandwidthHz float64 // one more pole; 0: none
	RingHz      float64 // a resonance after edges; 0: none
	RingPart    float64 // its first swing as a part of the step
	RingDecay   float64 // s, to 1/e; 0: 150 ns
	HumHz       float64 // mains, or twice; 0: 50
	HumMV       float64 // peak to peak
	ToneHz      float64 // a steady tone in the signal; bars that stand still when it is locked to the line
	ToneMV      float64 // peak to peak
	ClipMV      float64 // white is cut at this level above blanking; 0: not
	GhostNs     float64 // delay of a second, weaker signal
	GhostPart   float64
	SyncPart    float64 // sync is cut to this part; 0: whole
	FieldPart   float64 // field sync is cut to this part; 0: whole; negative: gone
	JitterNs    float64 // rms displacement of line sync against the picture
	TearNs      float64 // displacement of sync in a band of lines
	TearLines   int     // height of that band
	Chroma      float64 // size of chroma beside luma and burst; 0: 1
	ChromaNs    float64 // that chroma is later against luma than the encoder makes it
}

// chainState is a chain at work.
type chainState struct {
	Chain
	e        *composite.Encoder
	rate     float64
	time     int64     // samples so far
	low      float32   // behind the extra pole
	last     float32   // before the resonator
	r1, r2   float32   // resonator
	tail     []float32 // end of the last field, for the ghost
	scratch  []float32
	tearFrom float64
	rng      *rand.Rand
	source   *rand.PCG
	lines    int
	sync     float64
}

func newChain(c Chain, e *composite.Encoder, lines int, syncMV float64, seed uint64) *chainState {
	source := rand.NewPCG(seed, 0x6e6f697365)
	s := &chainState{Chain: c, e: e, rate: e.Rate(), source: source, rng: rand.New(source), lines: lines, sync: syncMV}
	s.tearFrom = float64(s.rng.IntN(lines))
	return s
}

func (c Chain) withDefaults() Chain {
	set := func(v *float64, to float64) {
		if *v == 0 {
			*v = to
		}
	}
	set(&c.Level, 1)
	set(&c.NoiseMV, 1.5)
	set(&c.RingDecay, 150e-9)
	set(&c.HumHz, 50)
	set(&c.SyncPart, 1)
	set(&c.FieldPart, 1)
	return c
}

// apply changes one field's waveform in place.
func (s *chainState) apply(x []float32, ownNoiseMV float64) {
	if s.Gone {
		clear(x)
	} else {
		s.displace(x)
		s.weaken(x)
	}
	if s.BandwidthHz > 0 {
		a := float32(1 - math.Exp(-2*math.Pi*s.BandwidthHz/s.rate))
		for i, v := range x {
			s.low += a * (v - s.low)
			x[i] = s.low
		}
	}
	s.ring(x)
	s.ghost(x)
	s.tone(x)
	if s.HumMV != 0 {
		w := 2 * math.Pi * s.HumHz / s.rate
		const block = 64 // 4 us, a flat piece of the wave
		for i := 0; i < len(x); i += block {
			h := float32(s.HumMV / 2 * math.Sin(w*float64(s.time+int64(i))))
			part := x[i:min(i+block, len(x))]
			for k := range part {
				part[k] += h
			}
		}
	}
	if s.Level != 1 {
		g := float32(s.Level)
		for i := range x {
			x[i] *= g
		}
	}
	s.time += int64(len(x))
	// White noise: its power spreads evenly up to half the sampling rate.
	spread := math.Sqrt(s.rate / 2 / 5e6)
	addNoise(x, float32(math.Hypot(s.NoiseMV*s.Level, ownNoiseMV)*spread), s.source)
}

// weaken cuts sync tips, as an output stage that runs out of current does.
func (s *chainState) weaken(x []float32) {
	if s.SyncPart < 1 {
		limit := float32(-s.sync * s.SyncPart)
		for i, v := range x {
			if v < limit {
				x[i] = limit
			}
		}
	}
	if s.FieldPart != 1 {
		part := float32(math.Max(s.FieldPart, 0))
		to := min(int(s.e.ZeroH(10)), len(x))
		for i, v := range x[:to] {
			if v < 0 {
				x[i] = v * part
			}
		}
	}
}

// displace moves each line's sync pulse against its picture.
func (s *chainState) displace(x []float32) {
	if s.JitterNs == 0 && s.TearNs == 0 {
		return
	}
	us := s.rate * 1e-6
	s.tearFrom = math.Mod(s.tearFrom+s.rng.NormFloat64()*4+2, float64(s.lines))
	for n := 8; n < s.lines; n++ {
		d := s.JitterNs * 1e-3 * us * s.rng.NormFloat64()
		if off := math.Mod(float64(n)-s.tearFrom+float64(s.lines), float64(s.lines)); off < float64(s.TearLines) {
			d += s.TearNs * 1e-3 * us
		}
		d = min(max(d, -0.8*us), 0.4*us)
		// From the front porch to before the burst: both ends are flat.
		zero := s.e.ZeroH(n)
		from, to := int(zero-1.1*us), min(int(zero+5.2*us), len(x))
		if from < 0 {
			continue
		}
		s.scratch = append(s.scratch[:0], x[from:to]...)
		for i := from; i < to; i++ {
			t := min(max(float64(i-from)-d, 0), float64(to-from-2))
			k := int(t)
			f := float32(t - float64(k))
			x[i] = s.scratch[k]*(1-f) + s.scratch[k+1]*f
		}
	}
}

// ring adds a damped oscillation after every edge: x plus a resonator driven by
// the differences of x.
func (s *chainState) ring(x []float32) {
	if s.RingHz == 0 || s.RingPart == 0 {
		return
	}
	w := 2 * math.Pi * s.RingHz / s.rate
	r := math.Exp(-1 / (s.RingDecay * s.rate))
	b1, b2 := float32(2*r*math.Cos(w)), float32(-r*r)
	g := float32(s.RingPart * r * math.Sin(w))
	last := s.last
	for i, v := range x {
		y := b1*s.r1 + b2*s.r2 + g*(v-last)
		last = v
		x[i] = v + s.r1 // part * r^n * sin(wn), n samples after a step
		s.r2, s.r1 = s.r1, y
	}
	s.last = last
}

// tone adds a sine, and cuts white.
func (s *chainState) tone(x []float32) {
	if s.ToneMV != 0 {
		step := uint64(s.ToneHz/s.rate*(1<<62)) << 2
		phase := step * uint64(s.time)
		for i := range x {
			x[i] += float32(s.ToneMV/2) * sine[phase>>54]
			phase += step
		}
	}
	if s.ClipMV > 0 {
		limit := float32(s.ClipMV)
		for i, v := range x {
			if v > limit {
				x[i] = limit
			}
		}
	}
}

// sine is one cycle in 1024 steps.
var sine = func() (t [1024]float32) {
	for i := range t {
		t[i] = float32(math.Sin(2 * math.Pi * float64(i) / 1024))
	}
	return t
}()

// ghost adds the signal again, late and weaker.
func (s *chainState) ghost(x []float32) {
	if s.GhostNs == 0 || s.GhostPart == 0 {
		return
	}
	n := max(1, int(math.Round(s.GhostNs*1e-9*s.rate)))
	old := append(make([]float32, 0, n), s.tail...)
	for len(old) < n {
		old = append(old, 0)
	}
	s.tail = append(s.tail[:0], x[len(x)-n:]...)
	g := float32(s.GhostPart)
	for i := len(x) - 1; i >= n; i-- {
		x[i] += g * x[i-n]
	}
	for i := range n {
		x[i] += g * old[i]
	}
}

// quantiles of the normal distribution, as wide as 12 bits reach.
var quantiles = func() (t [4096]float32) {
	for i := range t {
		p := (float64(i) + 0.5) / float64(len(t))
		t[i] = float32(math.Sqrt2 * math.Erfinv(2*p-1))
	}
	return t
}()

// addNoise adds white noise of the given rms: each sample the sum of two values of
// 12 random bits, so that the tails reach to five times the rms.
func addNoise(x []float32, rms float32, source *rand.PCG) {
	g := rms / math.Sqrt2
	i := 0
	for ; i+1 < len(x); i += 2 {
		r := source.Uint64()
		x[i] += g * (quantiles[r&4095] + quantiles[r>>12&4095])
		x[i+1] += g * (quantiles[r>>24&4095] + quantiles[r>>36&4095])
	}
	if i < len(x) {
		r := source.Uint64()
		x[i] += g * (quantiles[r&4095] + quantiles[r>>12&4095])
	}
}
