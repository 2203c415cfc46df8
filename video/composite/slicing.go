package composite

import (
	"math"
	"slices"
)

// A slicing is one polarity's signal above the lowest level nearby.
type slicing struct {
	x         []float32 // turned so that sync points down
	floor     []float32 // lowest level within about a line
	sign      float32
	step      float64 // samples a us
	span      float64
	threshold float64 // above the floor
}

func newSlicing(coarse []float32, sign float32, step float64) slicing {
	s := slicing{x: make([]float32, len(coarse)), sign: sign, step: step}
	for i, v := range coarse {
		s.x[i] = sign * v
	}
	s.floor = lowest(s.x, int(75*step))
	rest := make([]float32, 0, len(s.x)/7+1)
	for i := 0; i < len(s.x); i += 7 {
		rest = append(rest, s.x[i]-s.floor[i])
	}
	slices.Sort(rest)
	s.span = float64(rest[len(rest)*99/100])
	return s
}

// lowest is the least of x within a window of n samples about each (a monotonic queue).
func lowest(x []float32, n int) []float32 {
	out := make([]float32, len(x))
	half := max(n/2, 1)
	queue := make([]int, 0, n+1)
	head := 0
	for i := range len(x) + half {
		if i < len(x) {
			for len(queue) > head && x[queue[len(queue)-1]] >= x[i] {
				queue = queue[:len(queue)-1]
			}
			queue = append(queue, i)
		}
		if j := i - half; j >= 0 {
			for queue[head] < j-half {
				head++
			}
			out[j] = x[queue[head]]
			if head > 4*n {
				queue = append(queue[:0], queue[head:]...)
				head = 0
			}
		}
	}
	return out
}

// pulses lists the stretches below a threshold above the floor, with hysteresis.
func (s *slicing) pulses(threshold float64) []Pulse {
	var out []Pulse
	t, h := float32(threshold), float32(threshold*0.12)
	low, from := false, 0.0
	cross := func(i int) float64 {
		a, b := s.x[i-1]-s.floor[i-1]-t, s.x[i]-s.floor[i]-t
		if a == b {
			return float64(i)
		}
		return float64(i-1) + min(max(float64(a/(a-b)), -2), 3)
	}
	var fell, rose int // last crossings of the threshold itself
	for i := 1; i < len(s.x); i++ {
		a, b := s.x[i-1]-s.floor[i-1], s.x[i]-s.floor[i]
		if a > t && b <= t {
			fell = i
		} else if a <= t && b > t {
			rose = i
		}
		switch {
		case !low && b < t-h:
			low = true
			if fell > 0 {
				from = cross(fell)
			} else {
				from = -1 // began before the record
			}
		case low && b > t+h:
			low = false
			if from >= 0 && rose > 0 {
				out = append(out, Pulse{from, cross(rose)})
			}
		}
	}
	return out
}

// score is the share of lines that begin with a pulse of line sync's width and distance.
func (s *slicing) score(ps []Pulse) float64 {
	lines := float64(len(s.x)) / (64 * s.step)
	if lines < 2.2 {
		return s.single(ps)
	}
	good, n := 0, 0
	for i, p := range ps {
		if !s.isSync(p) {
			continue
		}
		n++
		for _, q := range ps[i+1 : min(i+4, len(ps))] {
			d := (q.From - p.From) / s.step
			if d > mostLine {
				break
			}
			if d >= leastLine && s.isSync(q) {
				good++
				break
			}
		}
	}
	if good == 0 || len(ps) > 40 && n*3 < len(ps) {
		return 0
	}
	var like []float64
	for _, p := range ps {
		if s.isSync(p) {
			like = append(like, s.likeness(p))
		}
	}
	slices.Sort(like)
	return float64(good) / lines * like[len(like)/2]
}

func (s *slicing) isSync(p Pulse) bool {
	w := p.Width() / s.step
	return w >= leastSync && w <= mostSync
}

// single judges a record of a line or two by its best pulse.
func (s *slicing) single(ps []Pulse) float64 {
	best := 0.0
	for _, p := range ps {
		if s.isSync(p) {
			best = max(best, s.likeness(p))
		}
	}
	return best
}

// likeness, 0 to 1, says how far a pulse is line sync and no bar of the picture: the same level,
// that of the porches, stands before and after it, and its width is right.
func (s *slicing) likeness(p Pulse) float64 {
	before, ok1 := s.mean(p.From-1.0*s.step, p.From-0.4*s.step)
	after, ok2 := s.mean(p.To+0.3*s.step, p.To+0.9*s.step)
	tip, ok3 := s.mean(p.From+1*s.step, p.To-1*s.step)
	depth := (before+after)/2 - tip
	if !ok1 || !ok2 || !ok3 || !(depth > 0) || math.Abs(before-after) > 0.4*depth {
		return 0
	}
	return max(0, 1-math.Abs(before-after)/depth-math.Abs(p.Width()/s.step-4.7)/4.7)
}

func (s *slicing) mean(a, b float64) (float64, bool) {
	i, j := int(math.Round(a)), int(math.Round(b))
	if j <= i {
		j = i + 1
	}
	if i < 0 || j > len(s.x) {
		return 0, false
	}
	return float64(sum(s.x[i:j])) / float64(j-i), true
}

// choose takes the slicing level with most line sync; of a run of equals the middle one.
func (s *slicing) choose() float64 {
	const levels = 26
	var scores, at [levels]float64
	best := 0.0
	if !(s.span > 0) {
		return 0
	}
	for j := range levels {
		at[j] = s.span * 0.03 * math.Pow(0.85/0.03, float64(j)/(levels-1))
		scores[j] = s.score(s.pulses(at[j]))
		best = max(best, scores[j])
	}
	if best < 0.02 {
		return 0
	}
	from, to, run := -1, -1, -1
	for j := range levels + 1 {
		if j < levels && scores[j] >= 0.95*best {
			if run < 0 {
				run = j
			}
			continue
		}
		if run >= 0 && (from < 0 || j-run > to-from) {
			from, to = run, j
		}
		run = -1
	}
	s.threshold = at[(from+to-1)/2]
	return best
}

// level measures tip and back porch at the pulses and slices half-way between them.
func (s *slicing) level(f *Found) {
	for range 2 {
		var tips, blacks, rises []float64
		for _, p := range s.pulses(s.threshold) {
			if !s.isSync(p) {
				continue
			}
			tip, ok1 := s.mean(p.From+1.2*s.step, p.To-0.8*s.step)
			black, ok2 := s.mean(p.To+0.5*s.step, p.To+3.2*s.step) // with the burst, smoothed
			if !ok1 || !ok2 {
				continue
			}
			tips = append(tips, tip)
			blacks = append(blacks, black-tip)
			rises = append(rises, tip-float64(s.floor[min(max(int((p.From+p.To)/2), 0), len(s.floor)-1)]))
		}
		if len(tips) == 0 {
			break
		}
		slices.Sort(tips)
		slices.Sort(blacks)
		slices.Sort(rises)
		tip, height := tips[len(tips)/2], blacks[len(blacks)/2]
		if height > 0 {
			s.threshold = rises[len(rises)/2] + height/2
		}
		f.Tip, f.Blanking = tip*float64(s.sign), (tip+height)*float64(s.sign)
	}
}
