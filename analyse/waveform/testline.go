package waveform

import (
	"math"
	"slices"
)

// What a 2T pulse and a bar look like. ITU-T J.63 has a pulse of 200 ns (625) or 250 ns (525)
// at half its height and bars of 10 us and more; a fault widens and lowers the pulse.
const (
	leastBar   = 6.0  // us, flat
	leastPulse = 0.12 // us at half height
	mostPulse  = 0.42
	alone      = 1.1 // us of blanking level on both sides of a pulse
	mostLines  = 6   // test lines a field: more are a picture
)

// A shape is a bar and a pulse on one line, in mV above the porch and samples.
type shape struct {
	barFrom, barTo float64
	pulse          float64 // its middle
	bar            float64
}

// testLine looks for lines with a bar and a 2T pulse standing alone, on the same few lines of
// each field, and rates their mean.
func (s *stretch) testLine() *TestLine {
	if s.us < 8 {
		return nil
	}
	at := s.found.FieldSyncs(s.rate)
	if len(at) == 0 {
		return nil
	}
	byLine := map[int][]int{} // line of the field: lines
	shapes := map[int]shape{}
	field := 0
	for i := range s.lines {
		for field+1 < len(at) && s.lines[i].zero > at[field+1] {
			field++
		}
		d := s.lines[i].zero - at[field]
		if d < 0 {
			continue
		}
		if sh, ok := s.shapeOf(&s.lines[i]); ok {
			n := int(math.Round(d/s.period + 0.25)) // from a half line, as from a whole one
			byLine[n] = append(byLine[n], i)
			shapes[i] = sh
		}
	}
	if len(byLine) == 0 || len(byLine) > mostLines {
		return nil
	}
	best := -1
	for n, lines := range byLine {
		if best < 0 || len(lines) > len(byLine[best]) || len(lines) == len(byLine[best]) && n < best {
			best = n
		}
	}
	return s.rateTestLine(best, byLine[best], shapes)
}

// shapeOf finds a bar and one pulse on a line, and nothing that looks like a second of either.
func (s *stretch) shapeOf(l *line) (shape, bool) {
	from, to := int(l.zero+8.5*s.us), int(l.zero+s.period-1.2*s.us)
	if from < 1 || to+1 >= len(s.x) {
		return shape{}, false
	}
	h := l.height()
	// The bar: the longest stretch near one level of at least a third of white.
	var sh shape
	start := -1
	for i := from; i <= to; i++ {
		v := float64(s.x[i]) - l.blank
		if start >= 0 {
			ref := float64(s.x[start]) - l.blank
			if i < to && math.Abs(v-ref) < 0.25*h {
				continue
			}
			if float64(i-start) > leastBar*s.us {
				if sh.bar > 0 {
					return shape{}, false
				}
				m, _ := s.meanOf(float64(start)+1*s.us, float64(i)-1*s.us)
				sh = shape{barFrom: float64(start), barTo: float64(i - 1), bar: m - l.blank}
			}
			start = -1
		}
		if v > 0.75*h {
			start = i
		}
	}
	if !(sh.bar > 0.75*h) {
		return shape{}, false
	}
	// The pulse: a peak of more than a third of the bar, alone.
	for i := from; i < to; i++ {
		v := float64(s.x[i]) - l.blank
		if v < 0.35*sh.bar || v < float64(s.x[i-1])-l.blank || v < float64(s.x[i+1])-l.blank {
			continue
		}
		t := float64(i)
		if t > sh.barFrom-1.5*s.us && t < sh.barTo+1.5*s.us {
			continue
		}
		if !s.quiet(l, t-alone*s.us-0.4*s.us, t-0.6*s.us, 0.15*sh.bar) || !s.quiet(l, t+0.6*s.us, t+alone*s.us+0.4*s.us, 0.15*sh.bar) {
			continue
		}
		w, ok := s.halfWidth(l, t, v)
		if !ok || w < leastPulse || w > mostPulse {
			continue
		}
		if sh.pulse > 0 && t-sh.pulse > 0.5*s.us {
			return shape{}, false
		}
		sh.pulse = t
	}
	return sh, sh.pulse > 0
}

// quiet says whether a stretch of a line stays within so much of blanking.
func (s *stretch) quiet(l *line, a, b, within float64) bool {
	i, j := int(a), int(b)
	if i < 0 || j >= len(s.x) {
		return false
	}
	for _, v := range s.x[i : j+1] {
		if !(math.Abs(float64(v)-l.blank) < within) {
			return false
		}
	}
	return true
}

// halfWidth is a pulse's length in us at half of its height.
func (s *stretch) halfWidth(l *line, t, height float64) (float64, bool) {
	a, ok1 := s.cross(t-0.1*s.us, l.blank+height/2, 0.4*s.us, true)
	b, ok2 := s.cross(t+0.1*s.us, l.blank+height/2, 0.4*s.us, false)
	return (b - a) / s.us, ok1 && ok2 && b > a
}

// rateTestLine averages the lines and rates pulse against bar, the pulse's lobes and the bar's top
// as ITU-R BT.1439 has it.
func (s *stretch) rateTestLine(number int, lines []int, shapes map[int]shape) *TestLine {
	const step = 0.01 // us
	var pulse []float64
	reach := 1.3
	n := int(2*reach/step) + 1
	pulse = make([]float64, n)
	first := shapes[lines[0]]
	place := (first.pulse - s.lines[lines[0]].zero) / s.us
	from := (first.barFrom - s.lines[lines[0]].zero) / s.us
	to := (first.barTo - s.lines[lines[0]].zero) / s.us
	barN := int((to - from - 2) / step)
	bar := make([]float64, max(barN, 1))
	count := 0.0
	for _, i := range lines {
		l := &s.lines[i]
		if math.Abs((shapes[i].pulse-l.zero)/s.us-place) > 0.2 {
			continue
		}
		ok := true
		at := func(us float64) float64 {
			v, good := interpolate(s.x, l.zero+us*s.us)
			ok = ok && good
			return v - l.blank
		}
		row := make([]float64, n)
		for k := range row {
			row[k] = at(place - reach + float64(k)*step)
		}
		top := make([]float64, len(bar))
		for k := range top {
			top[k] = at(from + 1 + float64(k)*step)
		}
		if !ok {
			continue
		}
		count++
		for k, v := range row {
			pulse[k] += v
		}
		for k, v := range top {
			bar[k] += v
		}
	}
	if count == 0 {
		return nil
	}
	for k := range pulse {
		pulse[k] /= count
	}
	for k := range bar {
		bar[k] /= count
	}
	mid := bar[len(bar)/2-min(len(bar)/2, 50) : len(bar)/2+min(len(bar)/2, 50)+1]
	b := mean(mid)
	p := slices.Max(pulse)
	peak := slices.Index(pulse, p)
	if !(b > 0) || !(p > 0) {
		return nil
	}
	t := &TestLine{Line: number, BarMV: b, PulseBar: p / b}
	cross := func(d int) float64 {
		for k := peak; k > 0 && k+1 < n; k += d {
			if x, y := pulse[k]-p/2, pulse[k+d]-p/2; y <= 0 {
				return (float64(k) + float64(d)*x/(x-y)) * step
			}
		}
		return math.NaN()
	}
	left, right := cross(-1), cross(1)
	t.HalfNS = (right - left) * 1000
	if t.HalfNS != t.HalfNS {
		return nil
	}
	t.KPulseBar = 25 * math.Abs(b/p-1)
	// The mask: lobes within 4K at 200 ns, 2K at 400, K from 800 on, of the pulse's height; 250,
	// 500 and 1000 for 525 lines.
	unit := 0.2
	if s.scan.SubcarrierHz < 4e6 {
		unit = 0.25
	}
	centre := (left + right) / 2
	for k, v := range pulse {
		d := math.Abs(float64(k)*step-centre) / unit
		var allowed float64
		switch {
		case d < 1:
			continue
		case d < 2:
			allowed = 4 - 2*(d-1)
		case d < 4:
			allowed = 2 - (d-2)/2
		default:
			allowed = 1
		}
		t.KPulse = math.Max(t.KPulse, 100*math.Abs(v)/p/allowed)
	}
	for _, v := range s.meanOver(bar, 0.5/step) {
		t.KBar = math.Max(t.KBar, 100*math.Abs(v/b-1))
	}
	t.K = max(t.KPulseBar, t.KPulse, t.KBar)
	return t
}

// meanOver smooths over so many entries, so that noise is no tilt.
func (s *stretch) meanOver(v []float64, width float64) []float64 {
	n := max(1, int(width))
	if len(v) < n {
		return nil
	}
	out := make([]float64, 0, len(v))
	sum := 0.0
	for i, x := range v {
		sum += x
		if i >= n {
			sum -= v[i-n]
		}
		if i >= n-1 {
			out = append(out, sum/float64(n))
		}
	}
	return out
}
