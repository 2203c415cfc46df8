package waveform

import (
	"math"
	"math/cmplx"
)

// A meanLine is the average of many lines laid over each other by their 0H, with the lowest
// and the highest that any of them has; mV above the porch.
type meanLine struct {
	step       float64 // us from one entry to the next
	from       float64 // us from 0H to the first
	value      []float64
	low, high  []float32
	lines      int
	burst      []complex128 // envelope, mV peak: burst turned to one phase and averaged
	tip, blank float64      // of the mean line itself
	sync, rise *float64     // us, ns: width and 10 to 90 % of the leading edge
	fall       *float64     // ns, of the trailing edge
	burstAt    *float64     // us after 0H
	burstUS    *float64     // us long
	activeFrom *float64     // us after 0H where blanking ends
	activeTo   *float64     // us after 0H where blanking begins again
	activeRise *float64     // ns
}

const (
	meanStep = 0.01 // us
	meanFrom = -5.0
	meanMost = 400 // lines that go into it
)

// average lays the lines over each other.
func (s *stretch) average() {
	lineUS := s.period / s.us
	n := int((lineUS-meanFrom)/meanStep) + 100
	m := &meanLine{step: meanStep, from: meanFrom}
	m.value = make([]float64, n)
	m.low, m.high = make([]float32, n), make([]float32, n)
	m.burst = make([]complex128, int((13-meanFrom)/meanStep))
	counts := make([]int32, n)
	bursts := 0
	// An odd step: the subcarrier's phase, which moves on by a half or a quarter of a cycle a
	// line, then takes all its places.
	skip := max(1, (len(s.lines)+meanMost-1)/meanMost) | 1
	for i := 0; i < len(s.lines); i += skip {
		l := &s.lines[i]
		at := l.laid + meanFrom*s.us
		turn, step := complex(0, 0), complex(0, 0)
		if s.burst != nil && cmplx.Abs(l.burst) > s.burst.mean/2 {
			w := 2 * math.Pi * s.burst.reference / s.rate
			turn = cmplx.Rect(2, -w*math.Mod(at, s.rate/s.burst.reference)-cmplx.Phase(l.burst))
			step = cmplx.Rect(1, -w*meanStep*s.us)
			bursts++
		}
		for k := range n {
			v, ok := interpolate(s.x, at+float64(k)*meanStep*s.us)
			if ok {
				v -= l.blank
				m.value[k] += v
				f := float32(v)
				if counts[k] == 0 || f < m.low[k] {
					m.low[k] = f
				}
				if counts[k] == 0 || f > m.high[k] {
					m.high[k] = f
				}
				counts[k]++
			}
			if turn != 0 && k < len(m.burst) {
				if ok {
					m.burst[k] += complex(v, 0) * turn
				}
				turn *= step
			}
		}
		m.lines++
	}
	for k, c := range counts {
		if c > 0 {
			m.value[k] /= float64(c)
		} else {
			m.value[k] = math.NaN()
		}
	}
	for k := range m.burst {
		m.burst[k] /= complex(math.Max(float64(bursts), 1), 0)
	}
	s.mean = m
	m.measure(s)
}

func (m *meanLine) at(us float64) int { return int(math.Round((us - m.from) / m.step)) }

func (m *meanLine) us(k float64) float64 { return m.from + k*m.step }

// mean of v from a to b us.
func (m *meanLine) meanOf(v []float64, a, b float64) (float64, bool) {
	i, j := m.at(a), m.at(b)
	if i < 0 || j > len(v) || i >= j {
		return 0, false
	}
	sum := 0.0
	for _, x := range v[i:j] {
		sum += x
	}
	sum /= float64(j - i)
	return sum, sum == sum
}

// crossing finds where v passes a level between a and b us, the first from a on (or the last
// before b, when a > b).
func (m *meanLine) crossing(v []float64, a, b, level float64) (float64, bool) {
	i, j, d := m.at(a), m.at(b), 1
	if i > j {
		d = -1
	}
	for ; i != j; i += d {
		if i < 0 || i+d < 0 || i >= len(v) || i+d >= len(v) {
			return 0, false
		}
		p, q := v[i]-level, v[i+d]-level
		if p == 0 || p*q < 0 {
			return m.us(float64(i) + float64(d)*p/(p-q)), true
		}
	}
	return 0, false
}

// passing is where the mean line passes a level about a place. Noise may make it pass several
// times: the mean of the first from either side prefers neither. From outside it begins no further
// out than 0.4 us: the burst, which reaches that level, may begin 0.6 us behind sync (SMPTE 170M).
func (m *meanLine) passing(us, reach, level float64) (float64, bool) {
	a, ok1 := m.crossing(m.value, us+reach, us-reach, level)
	outer := math.Copysign(0.4, reach)
	b, ok2 := m.crossing(m.value, us-outer, us+reach, level)
	return (a + b) / 2, ok1 && ok2
}

// edgeTime is the 10 to 90 % time in ns of an edge at place, from level p to level q.
func (m *meanLine) edgeTime(v []float64, place, p, q, reach float64) *float64 {
	a, ok1 := m.crossing(v, place, place-reach, p+0.1*(q-p))
	b, ok2 := m.crossing(v, place, place+reach, p+0.9*(q-p))
	if !ok1 || !ok2 {
		return nil
	}
	t := (b - a) * 1000
	return &t
}

func (m *meanLine) measure(s *stretch) {
	usual := s.lines[0].end - s.lines[0].zero
	end := usual / s.us
	var ok1, ok2 bool
	m.tip, ok1 = m.meanOf(m.value, 0.9, end-0.7)
	// Close about the pulse, so that a slope of the line does not tilt it.
	m.blank, ok2 = m.meanOf(m.value, end+0.45, end+3.6)
	if !ok1 || !ok2 {
		return
	}
	half := (m.tip + m.blank) / 2
	zero, ok1 := m.passing(0, 0.6, half)
	if stop, ok2 := m.passing(end, -0.8, half); ok1 && ok2 {
		w := stop - zero
		m.sync = &w
		if s.edges() {
			m.rise = m.edgeTime(m.value, zero, m.blank, m.tip, 1)
			m.fall = m.edgeTime(m.value, stop, m.tip, m.blank, 1)
		}
		m.burstPlace(s, stop)
		m.active(s, stop)
	}
}

// burstPlace finds the burst's ends: half of its amplitude.
func (m *meanLine) burstPlace(s *stretch, stop float64) {
	if s.burst == nil {
		return
	}
	// A mean over exactly one cycle leaves out the line itself and twice the subcarrier; taken
	// twice, on the slopes of the envelope too, where once leaves 20 ns of it.
	cycle := 1e6 / s.burst.reference / m.step
	envelope := make([]float64, len(m.burst))
	for k, z := range m.burst {
		envelope[k] = real(z)
	}
	envelope = overCycle(overCycle(envelope, cycle), cycle)
	top, ok := m.meanOf(envelope, stop+1.5, stop+2.5)
	if !ok || top < s.burst.mean/3 {
		return
	}
	a, ok1 := m.crossing(envelope, stop+2, stop-0.2, top/2)
	b, ok2 := m.crossing(envelope, stop+2, stop+7, top/2)
	if ok1 {
		m.burstAt = &a
	}
	if ok1 && ok2 {
		w := b - a
		m.burstUS = &w
	}
}

// overCycle is the running mean over a length that is no whole number of entries.
func overCycle(v []float64, cycle float64) []float64 {
	half := int((cycle - 1) / 2)
	rest := (cycle - float64(2*half+1)) / 2
	out := make([]float64, len(v))
	for k := half + 1; k+half+1 < len(v); k++ {
		sum := rest * (v[k-half-1] + v[k+half+1])
		for _, x := range v[k-half : k+half+1] {
			sum += x
		}
		out[k] = sum / cycle
	}
	return out
}

// active finds where blanking ends and begins: the first and the last edge of the picture. A
// black border leaves none there.
func (m *meanLine) active(s *stretch, stop float64) {
	// Colours that do not average out go with a mean over a subcarrier cycle.
	cycle := 1e6 / s.scan.SubcarrierHz
	v := m.smooth(m.value, cycle)
	least := 0.03 * (m.blank - m.tip) / 0.3 // 3 % of white
	edge := func(from, to, inward float64) *float64 {
		i, j := m.at(from), m.at(to)
		d := 1
		if j < i {
			d = -1
		}
		for ; i != j; i += d {
			if i < 0 || i >= len(v) || v[i] != v[i] {
				return nil
			}
			if math.Abs(v[i]-m.blank) <= least {
				continue
			}
			// The level behind the edge: first near where it begins, then where it has settled.
			at, near := m.us(float64(i)), 0.4
			for range 2 {
				plateau, ok := m.meanOf(v, at+min(near*inward, (near+0.4)*inward), at+max(near*inward, (near+0.4)*inward))
				if !ok || math.Abs(plateau-m.blank) < least {
					return nil
				}
				if at, ok = m.crossing(v, at+0.5*inward, at-0.5*inward, (plateau+m.blank)/2); !ok {
					return nil
				}
				near = 0.5
			}
			return &at
		}
		return nil
	}
	begin := stop + 1.0
	if m.burstAt != nil && m.burstUS != nil {
		begin = *m.burstAt + *m.burstUS + 0.3
	}
	m.activeFrom = edge(begin, 14, 1)
	lineUS := s.period / s.us
	m.activeTo = edge(lineUS-0.35, lineUS-6, -1)
	if m.activeFrom != nil && s.edges() {
		if plateau, ok := m.meanOf(m.value, *m.activeFrom+0.5, *m.activeFrom+1); ok {
			m.activeRise = m.edgeTime(m.value, *m.activeFrom, m.blank, plateau, 0.5)
		}
	}
}

// smooth is a running mean over so many us.
func (m *meanLine) smooth(v []float64, us float64) []float64 {
	n := int(us/m.step/2)*2 + 1 // odd: it sits on its middle
	out := make([]float64, len(v))
	sum := make([]float64, len(v)+1)
	for i, x := range v {
		if x != x { // beyond what was sampled
			x = 0
		}
		sum[i+1] = sum[i] + x
	}
	for i := range v {
		a, b := max(0, i-n/2), min(len(v), i-n/2+n)
		out[i] = (sum[b] - sum[a]) / float64(b-a)
		if v[i] != v[i] {
			out[i] = v[i]
		}
	}
	return out
}

// resolution is how far, in us, places of edges may lie off for want of samples: a third of one,
// as measured on edges of 140 to 300 ns at 1 to 4 million samples a second; none where samples
// show the whole edge.
func (s *stretch) resolution() float64 {
	if s.edges() {
		return 0
	}
	return 0.33 / s.us
}

// edges says that there are samples enough to see edges of 140 ns.
func (s *stretch) edges() bool { return s.us >= 8 }
