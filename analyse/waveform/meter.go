package waveform

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"backporch/video"
	"backporch/video/composite"
)

// Options say what the samples are.
type Options struct {
	Rate     float64 // samples a second
	Absolute bool    // samples are mV; else only ratios count
}

// A Meter measures a waveform that comes in pieces. It is used by one goroutine at a time.
type Meter struct {
	o       Options
	length  int // samples of a stretch
	buf     []float32
	samples int64
	missing int64
	parts   []*part
	failed  error // of the first stretch without sync
	empty   int   // stretches without sync
}

// stretchTime is how much is measured at once: a dozen fields.
const stretchTime = 0.25

// mostStretch bounds a stretch in samples, for fast samplers.
const mostStretch = 12 << 20

// NewMeter prepares a meter.
func NewMeter(o Options) (*Meter, error) {
	if !(o.Rate > 0) || math.IsInf(o.Rate, 0) {
		return nil, fmt.Errorf("measuring: %v samples a second", o.Rate)
	}
	if o.Rate < 0.7e6 {
		return nil, composite.ErrSlow
	}
	return &Meter{o: o, length: int(math.Min(stretchTime*o.Rate, mostStretch))}, nil
}

// Add takes more of the waveform; NaN stands for a missing sample.
func (m *Meter) Add(x []float32) {
	m.samples += int64(len(x))
	for len(x) > 0 {
		n := min(len(x), m.length-len(m.buf))
		m.buf = append(m.buf, x[:n]...)
		x = x[n:]
		if len(m.buf) == m.length {
			m.flush()
		}
	}
}

// flush measures what has come together.
func (m *Meter) flush() {
	for _, v := range m.buf {
		if v != v {
			m.missing++
		}
	}
	p, err := measure(m.buf, m.o)
	switch {
	case err == nil:
		m.parts = append(m.parts, p)
		if len(m.parts) > 1 { // one picture is enough
			m.parts[len(m.parts)-1].mean = nil
		}
	default:
		m.empty++
		if m.failed == nil {
			m.failed = err
		}
	}
	m.buf = m.buf[:0]
}

// A part is what one stretch gave.
type part struct {
	standard   video.Standard
	inverted   bool
	lines      int
	values     map[string]reading
	square     float64 // of 0H about the clock, samples squared
	degrees    int
	noise      float64
	census     Census
	interlaced *bool
	swings     *bool
	mean       *meanLine
	test       *TestLine
	hum        []ripple
	missing    []Missing
}

// A reading is a value with its uncertainty (one standard deviation) and how many lines
// or pulses are in it.
type reading struct {
	v, spread float64
	n         int
}

// Names of readings.
const (
	rLine, rLines, rSync, rBlank, rWhite, rPeak = "line_us", "lines", "sync_mv", "blanking_mv", "white_mv", "peak_to_peak_mv"
	rSyncUS, rFront, rFrom, rBurst, rBurstHz    = "sync_us", "front_porch_us", "active_us", "burst_mvpp", "burst_hz"
	rBurstAt, rBurstUS, rRise, rFall, rActive   = "burst_start_us", "burst_us", "sync_rise_ns", "sync_fall_ns", "blanking_rise_ns"
	rEqual, rBroad, rGap, rNoise                = "equalising_us", "broad_us", "serration_us", "noise_mv"
	rBlankLow, rBlankHigh                       = "blanking_low", "blanking_high"
)

// measure measures one stretch.
func measure(x []float32, o Options) (*part, error) {
	found, err := composite.Find(x, o.Rate)
	if err != nil {
		return nil, err
	}
	s := &stretch{x: x, rate: o.Rate, us: o.Rate * 1e-6, found: found, standard: found.Standard, scan: found.Standard.Scan()}
	if found.Inverted {
		s.x = make([]float32, len(x))
		for i, v := range x {
			s.x[i] = -v
		}
	}
	s.quantum = quantumOf(s.x)
	s.pick()
	if len(s.lines) == 0 {
		return nil, composite.ErrNoSync
	}
	s.align()
	if len(s.lines) == 0 {
		return nil, composite.ErrNoSync
	}
	p := &part{inverted: found.Inverted, values: map[string]reading{}}
	p.square, p.degrees = s.clock()
	p.noise = s.noiseOfZero()
	s.findBurst()
	if s.found.FieldLines(s.rate) == 0 && s.burst != nil && found.Line == 0 {
		s.standard = s.burst.standard // one line: the burst says more than nothing
		s.scan = s.standard.Scan()
	}
	p.standard = s.standard
	s.average()
	s.levels(p)
	s.times(p)
	s.burstReadings(p)
	p.test, p.hum = s.testLine(), s.hum()
	p.lines, p.mean = len(s.lines), s.mean
	return p, nil
}

func (p *part) set(name string, v, spread float64, n int) {
	if v == v && !math.IsInf(v, 0) {
		p.values[name] = reading{v, spread, n}
	}
}

func (p *part) lack(name, why string, args ...any) {
	p.missing = append(p.missing, Missing{name, fmt.Sprintf(why, args...)})
}

// middleMean is the mean of the middle four fifths, and its uncertainty.
func middleMean(v []float64) (mean, spread float64) {
	v = slices.Clone(v)
	slices.Sort(v)
	v = v[len(v)/10 : len(v)-len(v)/10]
	for _, x := range v {
		mean += x
	}
	mean /= float64(len(v))
	for _, x := range v {
		spread += (x - mean) * (x - mean)
	}
	return mean, math.Sqrt(spread) / float64(len(v))
}

func (s *stretch) levels(p *part) {
	var height, blank []float64
	noise, n := 0.0, 0
	for i := range s.lines {
		l := &s.lines[i]
		height, blank = append(height, l.height()), append(blank, l.blank)
		for k := int(l.zero + 1.0*s.us); float64(k) < l.end-0.8*s.us && k < len(s.x); k++ {
			if d := float64(s.x[k]) - l.tip; d == d {
				noise += d * d
				n++
			}
		}
	}
	h, spread := middleMean(height)
	b, spreadB := middleMean(blank)
	sign := 1.0
	if p.inverted {
		sign = -1
	}
	p.set(rBlankLow, slices.Min(blank), 0, 1)
	p.set(rBlankHigh, slices.Max(blank), 0, 1)
	rms := 0.0
	if n > 0 {
		rms = math.Sqrt(noise / float64(n))
		p.set(rNoise, rms, rms/math.Sqrt(2*float64(n)), n)
	}
	p.set(rSync, h, math.Hypot(spread, math.Sqrt2*s.rounding(rms)), len(height))
	p.set(rBlank, b*sign, math.Hypot(spreadB, s.rounding(rms)), len(blank))
	st := s.steadyLevels(rms)
	width := math.Hypot(rms, s.quantum/3.5) / math.Sqrt(math.Max(windowCycles/s.scan.SubcarrierHz*s.rate, 1))
	width = math.Hypot(width, h/600) // lines differ by their own clamp
	if white, ok := highest(st.luma, width); ok {
		p.set(rWhite, white, math.Hypot(width/2, math.Sqrt2*s.rounding(rms)), len(st.luma))
		top, _ := highest(st.top, 1.5*width)
		bottom, _ := lowestOf(st.bottom, 1.5*width)
		p.set(rPeak, math.Max(top, white)+math.Max(h, -bottom), math.Hypot(width, math.Sqrt2*s.rounding(rms)), len(st.luma))
	} else {
		p.lack(rWhite, "no level of the picture holds for a microsecond")
		p.lack(rPeak, "no level of the picture holds for a microsecond")
	}
}

func (s *stretch) times(p *part) {
	var w spans
	p.census, w = s.census()
	if s.found.Line > 0 && len(s.lines) > 1 {
		spread := 0.0
		if p.degrees > 0 {
			spread = math.Sqrt(p.square/float64(p.degrees)) / s.us / float64(len(s.lines))
		}
		p.set(rLine, s.period/s.us, spread, len(s.lines))
	} else {
		p.lack(rLine, "the record is shorter than two lines")
	}
	lines, phases := s.fields()
	if len(lines) > 0 {
		p.set(rLines, snapHalf(mean(lines)), 0, len(lines))
		p.interlaced = interlaced(phases)
	} else {
		p.lack(rLines, "the record holds no whole field")
	}
	m := s.mean
	put := func(name string, v *float64, spread float64, why string) {
		if v == nil {
			p.lack(name, "%s", why)
			return
		}
		p.set(name, *v, spread, m.lines)
	}
	place := s.placing(p.values[rNoise].v)
	few := "too few samples a second to see it"
	put(rSyncUS, m.sync, math.Sqrt2*place, "the mean line has no clear edges")
	if s.edges() {
		put(rRise, m.rise, 2500*place, "the mean line has no clear edges")
		put(rFall, m.fall, 2500*place, "the mean line has no clear edges")
	} else {
		p.lack(rRise, "%s", few)
	}
	black := "the picture has no edge there: show a bright border or a white screen"
	if m.activeTo != nil {
		front := s.period/s.us - *m.activeTo
		put(rFront, &front, 2*place, "")
	} else {
		p.lack(rFront, "%s", black)
	}
	put(rFrom, m.activeFrom, 2*place, black)
	if m.activeRise != nil {
		put(rActive, m.activeRise, 3500*place, "")
	}
	for _, v := range []struct {
		name   string
		widths []float64
	}{{rEqual, w.equalising}, {rBroad, w.broad}, {rGap, w.gaps}} {
		if len(v.widths) == 0 {
			continue
		}
		// Glitches about field sync are left out.
		x, spread := middleMean(v.widths)
		p.set(v.name, x, math.Hypot(spread, s.resolution()), len(v.widths))
	}
}

// placing is how well one edge of the mean line is placed, in us: its noise over the slope of sync's
// edge, which in its middle is 1.02 of its height in a 10 to 90 % time (a Gaussian filter's).
func (s *stretch) placing(rms float64) float64 {
	rise := 0.2
	if s.mean.rise != nil {
		rise = *s.mean.rise / 1000
	}
	lines := math.Sqrt(math.Max(float64(s.mean.lines), 1))
	noise := math.Hypot(rms/lines, s.rounding(rms)) / (1.02 * s.medianHeight()) * rise
	return math.Hypot(noise, s.resolution())
}

// rounding is the uncertainty of a level for the sampler's steps, in mV: steady levels without noise
// are rounded alike on every line, and no mean of lines helps.
func (s *stretch) rounding(rms float64) float64 {
	if rms > 0.5*s.quantum {
		return 0
	}
	return s.quantum / math.Sqrt(12)
}

func (s *stretch) burstReadings(p *part) {
	b, m := s.burst, s.mean
	if b == nil {
		why := "there is no burst"
		if s.rate < 2.2*s.scan.SubcarrierHz {
			why = fmt.Sprintf("%.3g million samples a second are too few for a burst: at least 10", s.rate/1e6)
		}
		p.lack(rBurst, "%s", why)
		p.lack(rBurstHz, "%s", why)
		return
	}
	noise := 0.0
	for i := range s.lines {
		noise += s.lines[i].noise / float64(len(s.lines))
	}
	n := math.Max((burstTo-burstFrom)*s.us*float64(b.lines), 1)
	p.set(rBurst, 2*b.mean, 2*noise*math.Sqrt(2/n), b.lines)
	if b.hz != nil {
		p.set(rBurstHz, *b.hz, math.Max(b.spread, 1e-3), b.lines)
		p.swings = &b.swings
	} else {
		p.lack(rBurstHz, "its frequency takes three lines")
	}
	if m.burstAt != nil {
		p.set(rBurstAt, *m.burstAt, 0, m.lines)
	}
	if m.burstUS != nil {
		p.set(rBurstUS, *m.burstUS, 0, m.lines)
	}
}

func mean(v []float64) float64 {
	sum := 0.0
	for _, x := range v {
		sum += x
	}
	return sum / float64(len(v))
}

// snapHalf rounds to half a line where a value is that but for the place of field sync's edge.
func snapHalf(v float64) float64 {
	if r := math.Round(2*v) / 2; math.Abs(v-r) < 0.02 {
		return r
	}
	return v
}

// Result adds up what was measured. Without sync anywhere it is an error.
func (m *Meter) Result() (*Result, error) {
	if len(m.buf) > 0 && (float64(len(m.buf)) > 0.04*m.o.Rate || len(m.parts) == 0) {
		m.flush()
	}
	if len(m.parts) == 0 {
		if m.failed == nil {
			return nil, errors.New("there is no sample in it")
		}
		return nil, m.failed
	}
	return m.combine(), nil
}
