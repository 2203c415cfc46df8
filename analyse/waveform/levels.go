package waveform

import (
	"math"
	"sort"
)

// steady are levels that hold for about a microsecond: what a histogram of them shows is free of the
// bias that the highest sample has under noise.
type steady struct {
	luma, top, bottom []float64 // mV above the porch: luma, luma with and less chroma
}

// windowCycles is the length of a window in subcarrier cycles: chroma adds up to nothing
// over whole cycles, and 0.9 us are some pixels.
const windowCycles = 4

// steadyLevels takes windows all over the active part of the lines; rms is the noise of
// a sample, which would pass for chroma.
func (s *stretch) steadyLevels(rms float64) (st steady) {
	fsc := s.scan.SubcarrierHz
	if s.burst != nil {
		fsc = s.burst.reference
	}
	n := int(math.Round(windowCycles / fsc * s.rate))
	colour := s.rate > 2.2*fsc
	if n < 2 {
		return st
	}
	cos, sin := make([]float64, n), make([]float64, n)
	for i := range n {
		// A Hann window: a step of luma at its end does not pass for chroma.
		w := 1 - math.Cos(2*math.Pi*(float64(i)+0.5)/float64(n))
		sin[i], cos[i] = math.Sincos(2 * math.Pi * fsc / s.rate * float64(i))
		sin[i], cos[i] = 2*w*sin[i]/float64(n), 2*w*cos[i]/float64(n)
	}
	from, to := 9.5, s.period/s.us-1.6
	if s.mean != nil && s.mean.activeFrom != nil {
		from = *s.mean.activeFrom + 0.2
	}
	if s.mean != nil && s.mean.activeTo != nil {
		to = *s.mean.activeTo - 0.2
	}
	skip := max(1, len(s.lines)/1000)
	for i := 0; i < len(s.lines); i += skip {
		l := &s.lines[i]
		a, b := int(l.zero+from*s.us), int(l.zero+to*s.us)
		if a < 0 {
			continue
		}
		for ; a+n <= min(b, len(s.x)); a += max(1, n/2) {
			part := s.x[a : a+n]
			var first, second float64
			for _, v := range part[:n/2] {
				first += float64(v)
			}
			for _, v := range part[n/2:] {
				second += float64(v)
			}
			mean := (first + second) / float64(n)
			first, second = first/float64(n/2), second/float64(n-n/2)
			if mean != mean || math.Abs(first-second) > 0.07*l.height() {
				continue
			}
			c := 0.0
			if colour {
				var re, im float64
				for k, v := range part {
					d := float64(v) - mean
					re += d * cos[k]
					im += d * sin[k]
				}
				// White noise leaves 3 rms^2/n in each part of a Hann window's.
				c = math.Sqrt(math.Max(re*re+im*im-6*rms*rms/float64(n), 0))
			}
			y := mean - l.blank
			st.luma = append(st.luma, y)
			st.top = append(st.top, y+c)
			st.bottom = append(st.bottom, y-c)
		}
	}
	return st
}

// highest is the highest level that comes often: the highest mode of a distribution with at
// least a five-hundredth of its mass, placed by the mean about it. width is the noise of a value.
func highest(v []float64, width float64) (float64, bool) {
	if len(v) < 4 {
		return 0, false
	}
	v = append([]float64(nil), v...)
	sort.Float64s(v)
	within := math.Max(3*width, 0.5)
	need := max(3, len(v)/500)
	count := func(level float64) int {
		return sort.SearchFloat64s(v, level+within/2) - sort.SearchFloat64s(v, level-within/2)
	}
	level := v[len(v)-1]
	step := within / 8
	floor := v[0]
	for count(level) < need && level > floor {
		level -= step
	}
	// Up the hill.
	for best := count(level); level > floor; {
		next := 0
		for k := 1.0; k <= 4; k++ {
			if c := count(level - k*step); c > best {
				level, best, next = level-k*step, c, 1
				break
			}
		}
		if next == 0 {
			break
		}
	}
	for range 8 {
		i, j := sort.SearchFloat64s(v, level-within*0.7), sort.SearchFloat64s(v, level+within*0.7)
		if i >= j {
			break
		}
		sum := 0.0
		for _, x := range v[i:j] {
			sum += x
		}
		level = sum / float64(j-i)
	}
	return level, true
}

func lowestOf(v []float64, width float64) (float64, bool) {
	n := make([]float64, len(v))
	for i, x := range v {
		n[i] = -x
	}
	x, ok := highest(n, width)
	return -x, ok
}
