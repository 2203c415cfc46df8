package composite

import (
	"errors"
	"math"
	"slices"

	"backporch/video"
)

// A Found is what Find makes out in an unknown waveform.
type Found struct {
	Inverted      bool    // sync points up
	Tip, Blanking float64 // sync tip and back porch as they stand in the waveform, its own unit
	Line          float64 // samples a line
	Pulses        []Pulse // every pulse at sync level, in order
	Share         float64 // of the lines there is time for, those with line sync in its place, the less the less it is like it
	Standard      video.Standard
}

// A Pulse is a stretch at sync level: half-amplitude places, in samples; about 50 ns right.
type Pulse struct{ From, To float64 }

// Width is the pulse's length in samples.
func (p Pulse) Width() float64 { return p.To - p.From }

var (
	// ErrNoSync: nothing in the waveform comes back line by line as sync does.
	ErrNoSync = errors.New("no line sync in it: is this a composite signal, and the sample rate right?")
	// ErrSlow: sync falls between the samples.
	ErrSlow = errors.New("too few samples a second to see line sync: at least 0.7 million are needed")
)

// Widths that are told apart, in us: ITU-R BT.1700 and SMPTE 170M have 4.7 for line sync,
// 2.3 for equalising and 27 for broad pulses; the bounds between are the middle ones.
const (
	leastSync = 3.3
	mostSync  = 6.5
	leastLine = 58.0
	mostLine  = 70.0
)

// Find looks for sync without knowing level, offset, polarity or noise: among both
// polarities and many slicing levels above the lowest level nearby it takes those at which most
// pulses are as wide and as far from each other as line sync is. The lowest level nearby follows
// drift and hum, and tips that are cut leave their length. Not-a-number samples are bridged.
func Find(x []float32, rate float64) (*Found, error) {
	if rate < 0.7e6 {
		return nil, ErrSlow
	}
	us := rate * 1e-6
	if float64(len(x)) < 12*us {
		return nil, ErrNoSync
	}
	smooth := boxcar(x, max(1, int(math.Round(0.5*us))))
	k := max(1, int(rate/4e6))
	coarse := make([]float32, 0, len(smooth)/k+1)
	for i := 0; i < len(smooth); i += k {
		coarse = append(coarse, smooth[i])
	}
	step := us / float64(k) // coarse samples a us
	best, bestScore := slicing{}, 0.0
	for _, sign := range []float32{1, -1} {
		s := newSlicing(coarse, sign, step)
		// Two fields are enough to choose by; all of it where they are empty.
		part := s
		if n, all := int(45_000*step), len(s.x); all > 2*n {
			part.x, part.floor = s.x[all/2-n/2:all/2+n/2], s.floor[all/2-n/2:all/2+n/2]
		}
		score := part.choose()
		if score == 0 {
			part = s
			score = part.choose()
		}
		if score > bestScore {
			s.threshold = part.threshold
			best, bestScore = s, score
		}
	}
	if bestScore == 0 {
		return nil, ErrNoSync
	}
	f := &Found{Inverted: best.sign < 0, Share: bestScore}
	best.level(f)
	gaps := gapsOf(x, int(0.2*us))
	for _, p := range best.pulses(best.threshold) {
		p = Pulse{p.From * float64(k), p.To * float64(k)}
		for len(gaps) > 0 && gaps[0].To < p.From {
			gaps = gaps[1:]
		}
		if len(gaps) == 0 || gaps[0].From > p.To {
			f.Pulses = append(f.Pulses, p)
		}
	}
	if !f.period(us) && len(f.Pulses) > 1 {
		return nil, ErrNoSync
	}
	f.standard(us)
	return f, nil
}

// gapsOf lists stretches of more than n samples that are no numbers.
func gapsOf(x []float32, n int) []Pulse {
	var out []Pulse
	from := -1
	for i, v := range x {
		switch missing := v != v; {
		case missing && from < 0:
			from = i
		case !missing && from >= 0:
			if i-from > n {
				out = append(out, Pulse{float64(from), float64(i)})
			}
			from = -1
		}
	}
	if from >= 0 {
		out = append(out, Pulse{float64(from), float64(len(x))})
	}
	return out
}

// boxcar is the running mean of n samples about each; samples that are no numbers take
// the value before them.
func boxcar(x []float32, n int) []float32 {
	out := make([]float32, len(x))
	held := make([]float32, len(x))
	var last float32
	for _, v := range x { // begin with the first number
		if v == v {
			last = v
			break
		}
	}
	for i, v := range x {
		if v == v {
			last = v
		}
		held[i] = last
	}
	// Sums of all before, exact enough in float64: levels are parts of a volt.
	total := make([]float64, len(held)+1)
	for i, v := range held {
		total[i+1] = total[i] + float64(v)
	}
	before, after := n/2, (n-1)/2
	for i := range out {
		a, b := max(i-before, 0), min(i+after+1, len(held))
		out[i] = float32((total[b] - total[a]) / float64(b-a))
	}
	return out
}

// period takes the line's length from neighbouring line sync.
func (f *Found) period(us float64) bool {
	var d []float64
	var last Pulse
	for _, p := range f.Pulses {
		w := p.Width() / us
		if w < leastSync || w > mostSync {
			continue
		}
		if step := (p.From - last.From) / us; last.To > 0 && step > leastLine && step < mostLine {
			d = append(d, p.From-last.From)
		}
		last = p
	}
	if len(d) == 0 {
		return false
	}
	slices.Sort(d)
	middle, n, total := d[len(d)/2], 0, 0.0
	for _, v := range d {
		if math.Abs(v-middle) < 0.005*middle {
			total += v
			n++
		}
	}
	f.Line = total / float64(n)
	return true
}

// FieldSyncs gives the places where field sync begins: the first of pulses longer
// than equalising and line sync are.
func (f *Found) FieldSyncs(rate float64) []float64 {
	us := rate * 1e-6
	var out []float64
	last := math.Inf(-1)
	for i, p := range f.Pulses {
		if p.Width() < 15*us {
			continue
		}
		// One that the record begins in has lost its beginning.
		if i > 0 && p.From-last > 20*64*us {
			out = append(out, p.From)
		}
		last = p.To
	}
	return out
}

// FieldLines is the distance of field syncs in lines, 0 when there are not two.
func (f *Found) FieldLines(rate float64) float64 {
	at := f.FieldSyncs(rate)
	if len(at) < 2 || f.Line == 0 {
		return 0
	}
	var d []float64
	for i, v := range at[1:] {
		d = append(d, (v-at[i])/f.Line)
	}
	slices.Sort(d)
	return d[len(d)/2]
}

// standard tells 625/50 from 525/60 by the lines of a field, or by the line's length
// where the record is shorter than that.
func (f *Found) standard(us float64) {
	switch n := f.FieldLines(us * 1e6); {
	case n > 200 && n <= 288:
		f.Standard = video.Std525
	case n > 288 && n < 400:
		f.Standard = video.Std625
	case f.Line > 0 && f.Line/us < 63.74: // 63.556 against 64
		f.Standard = video.Std525
	case f.Line > 0:
		f.Standard = video.Std625
	}
}
