package waveform

import (
	"math"
	"slices"

	"backporch/video"
	"backporch/video/composite"
)

// A line is one horizontal scan with sync of its usual width.
type line struct {
	n     int     // number within the stretch, counted by the clock
	group int     // lines of one field without a break
	zero  float64 // 0H, samples
	laid  float64 // where it is laid for a mean of lines: 0H less what noise is expected to have moved it
	end   float64 // trailing edge of sync, samples
	tip   float64 // mV as they stand
	blank float64
	burst complex128 // mV peak, phase against a reference that runs on from sample 0
	noise float64    // mV rms about the burst's fit
}

func (l *line) height() float64 { return l.blank - l.tip }

// A stretch is a piece of the waveform under measurement.
type stretch struct {
	x        []float32 // mV, sync down, NaN where samples are missing
	rate     float64
	us       float64 // samples a microsecond
	found    *composite.Found
	scan     video.Scan
	standard video.Standard
	lines    []line
	period   float64 // samples a line
	edge     *edge
	mean     *meanLine
	burst    *burst
	quantum  float64 // mV between neighbouring codes, 0: not quantised visibly
}

// pick takes the lines with whole line sync, and their levels.
func (s *stretch) pick() {
	var widths []float64
	for _, p := range s.found.Pulses {
		if w := p.Width() / s.us; w > 3.3 && w < 6.5 {
			widths = append(widths, w)
		}
	}
	if len(widths) == 0 {
		return
	}
	slices.Sort(widths)
	usual := widths[len(widths)/2]
	for _, p := range s.found.Pulses {
		if w := p.Width() / s.us; math.Abs(w-usual) > 0.25*usual {
			continue
		}
		l := line{zero: p.From, end: p.To}
		ok1, ok2 := false, false
		l.tip, ok1 = s.meanOf(p.From+1.0*s.us, p.To-0.8*s.us)
		// The window holds the whole burst, which adds up to nothing.
		l.blank, ok2 = s.meanOf(p.To+0.45*s.us, p.To+3.6*s.us)
		if !ok1 || !ok2 || l.height() <= 0 {
			continue
		}
		s.lines = append(s.lines, l)
	}
	s.dropOdd()
	s.number()
	if s.rate < 2.5*s.scan.SubcarrierHz {
		s.evenPorches()
	}
}

// evenPorches takes each line's porch from four lines. Below twice the subcarrier's rate the
// burst folds down and no longer adds up to nothing over a line's porch; over four lines it
// does, for it moves on by a quarter or a half of a cycle a line.
func (s *stretch) evenPorches() {
	blank := make([]float64, len(s.lines))
	for i := range s.lines {
		from, to := max(0, i-1), min(len(s.lines), i+3)
		for _, l := range s.lines[from:to] {
			blank[i] += l.blank / float64(to-from)
		}
	}
	for i, b := range blank {
		s.lines[i].blank = b
	}
}

// dropOdd leaves out pulses of another height: noise, and content that looks like sync.
func (s *stretch) dropOdd() {
	if len(s.lines) == 0 {
		return
	}
	h := make([]float64, len(s.lines))
	for i := range s.lines {
		h[i] = s.lines[i].height()
	}
	slices.Sort(h)
	middle := h[len(h)/2]
	s.lines = slices.DeleteFunc(s.lines, func(l line) bool { return math.Abs(l.height()-middle) > 0.5*middle })
}

// number counts lines by the clock; a gap of some lines, such as field sync, begins a group.
func (s *stretch) number() {
	s.period = s.found.Line
	if s.period == 0 {
		s.period = s.rate / s.scan.LineHz
	}
	kept := s.lines[:0]
	for _, l := range s.lines {
		if len(kept) > 0 {
			last := kept[len(kept)-1]
			d := (l.zero - last.zero) / s.period
			k := math.Round(d)
			if k < 1 {
				continue
			}
			if math.Abs(d-k) > 0.08 && k < 4 { // off the grid: no line sync
				continue
			}
			l.n, l.group = last.n+int(k), last.group
			if k > 3 {
				l.group++
			}
		}
		kept = append(kept, l)
	}
	s.lines = kept
}

// meanOf is the mean of samples a to b; false when some are missing.
func (s *stretch) meanOf(a, b float64) (float64, bool) {
	i, j := int(math.Ceil(a)), int(math.Floor(b))+1
	if j <= i {
		i = int(math.Round((a + b) / 2))
		j = i + 1
	}
	if i < 0 || j > len(s.x) {
		return 0, false
	}
	sum := 0.0
	for _, v := range s.x[i:j] {
		sum += float64(v)
	}
	m := sum / float64(j-i)
	return m, m == m
}

// An edge is the mean leading edge of line sync, 1 before and 0 behind, about 0H.
type edge struct {
	step  float64 // samples from one entry to the next
	from  float64 // samples from 0H to the first
	value []float64
	slope []float64 // a sample
}

func (e *edge) at(t float64) (value, slope float64) {
	p := (t - e.from) / e.step
	i := int(p)
	if p < 0 || i+1 >= len(e.value) {
		return 0, 0
	}
	f := p - float64(i)
	return e.value[i]*(1-f) + e.value[i+1]*f, e.slope[i]*(1-f) + e.slope[i+1]*f
}

// crossing places 0H where the line passes half-way from porch to tip, by an interpolated
// crossing near the coarse one.
func (s *stretch) crossing(l *line) bool {
	half := (l.tip + l.blank) / 2
	at, ok := s.cross(l.zero, half, 0.35*s.us, false)
	if !ok {
		return false
	}
	l.zero = at
	if at, ok = s.cross(l.end, half, 0.35*s.us, true); ok {
		l.end = at
	}
	return true
}

// cross finds where the interpolated waveform passes a level nearest to a place.
func (s *stretch) cross(near, level, within float64, rising bool) (float64, bool) {
	best, found := 0.0, false
	within = math.Max(within, 1.5)
	for i := int(near - within); i <= int(near+within); i++ {
		if i < 1 || i+1 >= len(s.x) {
			continue
		}
		a, b := float64(s.x[i])-level, float64(s.x[i+1])-level
		if rising && !(a < 0 && b >= 0) || !rising && !(a >= 0 && b < 0) {
			continue
		}
		t := float64(i) + s.between(i, level)
		if !found || math.Abs(t-near) < math.Abs(best-near) {
			best, found = t, true
		}
	}
	return best, found
}

// between places a crossing between samples i and i+1 by halving on the
// interpolated waveform.
func (s *stretch) between(i int, level float64) float64 {
	low, high := 0.0, 1.0
	a := float64(s.x[i]) - level
	for range 12 {
		m := (low + high) / 2
		v, ok := interpolate(s.x, float64(i)+m)
		if !ok {
			return a / (a - (float64(s.x[i+1]) - level))
		}
		if (v-level)*a > 0 {
			low = m
		} else {
			high = m
		}
	}
	return (low + high) / 2
}

// edgeReach is how far about 0H the edge is looked at, us: sync edges of 140 to 300 ns fit.
const edgeReach = 0.45

// align finds each line's 0H by least squares against the mean edge, which the lines give: three
// times, each from a better mean.
func (s *stretch) align() {
	s.lines = slices.DeleteFunc(s.lines, func(l line) bool { return !s.crossing(&l) })
	for i := range s.lines {
		s.crossing(&s.lines[i])
		s.lines[i].laid = s.lines[i].zero
	}
	if len(s.lines) < 4 || edgeReach*s.us < 2.5 {
		return
	}
	for range 3 {
		s.lay()
		e := s.meanEdge()
		if e == nil {
			return
		}
		for i := range s.lines {
			l := &s.lines[i]
			at := l.laid
			for k := range 6 {
				d, ok := s.displacement(e, l, at)
				if !ok || math.Abs(at+d-l.laid) > 0.5*s.us {
					break
				}
				at += d
				l.zero = at
				if k > 0 && math.Abs(d) < 1e-3 {
					break
				}
			}
		}
		s.edge = e
	}
	s.lay()
}

// lay places the lines for a mean. Laid by 0H of its own, a noisy line's noise is laid with
// it: the mean edge turns out too steep, and the width of sync too small. Laid by the clock, a
// line's own jitter smears it. The best of both (Wiener's) goes from the clock towards its own
// 0H by the share that jitter has in the scatter.
func (s *stretch) lay() {
	square, degrees := s.scatter(func(l *line, off float64) {})
	share := 1.0
	if degrees > 0 {
		switch {
		case s.edge == nil:
			share = 0 // unknown yet; a smeared mean edge is not biased
		case square > 0:
			share = math.Max(0, 1-s.noiseOfZero()/square)
		}
	}
	for i := range s.lines {
		s.lines[i].laid = s.lines[i].zero
	}
	s.scatter(func(l *line, off float64) { l.laid = l.zero - (1-share)*off })
}

// meanEdge averages the leading edges of up to some hundred lines, and shifts the mean so that
// it passes a half at 0.
func (s *stretch) meanEdge() *edge {
	reach := edgeReach*s.us + 2
	e := &edge{step: 1.0 / 16, from: -reach}
	n := int(2*reach/e.step) + 1
	e.value, e.slope = make([]float64, n), make([]float64, n)
	skip := max(1, len(s.lines)/400)
	count := 0
	row := make([]float64, n)
	for i := 0; i < len(s.lines); i += skip {
		l := &s.lines[i]
		ok := true
		for k := range row {
			v, good := interpolate(s.x, l.laid+e.from+float64(k)*e.step)
			ok = ok && good
			row[k] = (v - l.tip) / l.height()
		}
		if !ok {
			continue
		}
		for k, v := range row {
			e.value[k] += v
		}
		count++
	}
	if count < 3 {
		return nil
	}
	for k := range e.value {
		e.value[k] /= float64(count)
	}
	middle := -1.0
	for k := 1; k < n; k++ {
		if a, b := e.value[k-1]-0.5, e.value[k]-0.5; a >= 0 && b < 0 {
			p := float64(k-1) + a/(a-b)
			if middle < 0 || math.Abs(p-float64(n)/2) < math.Abs(middle-float64(n)/2) {
				middle = p
			}
		}
	}
	if middle < 0 {
		return nil
	}
	e.from = -middle * e.step
	for k := 1; k+1 < n; k++ {
		e.slope[k] = (e.value[k+1] - e.value[k-1]) / 2 / e.step
	}
	return e
}

// displacement is how much later than at the edge lies, in samples.
func (s *stretch) displacement(e *edge, l *line, at float64) (float64, bool) {
	reach := edgeReach * s.us
	var num, den float64
	for i := int(math.Ceil(at - reach)); float64(i) <= at+reach; i++ {
		if i < 0 || i >= len(s.x) {
			return 0, false
		}
		v, slope := e.at(float64(i) - at)
		num -= ((float64(s.x[i])-l.tip)/l.height() - v) * slope
		den += slope * slope
	}
	d := num / den
	return d, d == d && den > 0
}
