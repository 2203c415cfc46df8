package waveform

import (
	"math"
	"slices"
)

// clock fits the lines' 0H by one period and a phase for each group, and gives the period
// and the mean square about it (samples), less what fitting took. groups of fewer than 8
// lines say nothing of jitter.
func (s *stretch) clock() (square float64, degrees int) {
	var sxy, sxx float64
	each := func(f func(group []line)) {
		for from := 0; from < len(s.lines); {
			to := from
			for to < len(s.lines) && s.lines[to].group == s.lines[from].group {
				to++
			}
			f(s.lines[from:to])
			from = to
		}
	}
	centre := func(g []line) (n, z float64) {
		for _, l := range g {
			n += float64(l.n)
			z += l.zero
		}
		return n / float64(len(g)), z / float64(len(g))
	}
	each(func(g []line) {
		n0, z0 := centre(g)
		for _, l := range g {
			d := float64(l.n) - n0
			sxy += d * (l.zero - z0)
			sxx += d * d
		}
	})
	if sxx == 0 {
		return 0, 0
	}
	s.period = sxy / sxx
	each(func(g []line) {
		if len(g) < 8 {
			return
		}
		// Slow wander of the clock is none of the jitter: a slope of the group's own.
		n0, z0 := centre(g)
		var xy, xx float64
		for _, l := range g {
			d := float64(l.n) - n0
			xy += d * (l.zero - z0)
			xx += d * d
		}
		for _, l := range g {
			e := l.zero - z0 - xy/xx*(float64(l.n)-n0)
			square += e * e
		}
		degrees += len(g) - 2
	})
	return square, degrees
}

// noiseOfZero is the mean square of 0H that noise makes, in samples: the estimator's weights
// on flat parts of the lines, and the part of quantising, which flat parts do not show.
func (s *stretch) noiseOfZero() float64 {
	if s.edge == nil {
		return 0
	}
	reach := edgeReach * s.us
	half := int(reach)
	weights := make([]float64, 2*half+1)
	den, all := 0.0, 0.0
	for k := range weights {
		_, weights[k] = s.edge.at(float64(k - half))
		den += weights[k] * weights[k]
		all += weights[k]
	}
	if den == 0 {
		return 0
	}
	total, count, flat, flats := 0.0, 0, 0.0, 0
	for _, l := range s.lines {
		// The tip between the edges' ends; narrow, so the mean is its own.
		at := int(math.Round((l.zero + l.end) / 2))
		if at-half < 0 || at+half >= len(s.x) {
			continue
		}
		d := 0.0
		for k, w := range weights {
			v := float64(s.x[at-half+k]) - l.tip
			d += w * v
			flat += v * v
			flats++
		}
		if d == d {
			d /= den * l.height()
			total += d * d
			count++
		}
	}
	if count == 0 {
		return 0
	}
	mean := total / float64(count)
	rms := math.Sqrt(flat / float64(flats))
	// A line's tip and porch are noisy too. At the edge they enter by half of the weights each; on
	// the tip, whose own mean was taken off, they took some noise away.
	tip, porch := math.Max(2.9*s.us, 1), math.Max(3.15*s.us, 1) // samples in their means, see pick
	h := s.medianHeight()
	mean += rms * rms * all * all * (1.25/tip + 0.25/porch) / (den * den * h * h)
	if s.quantum > 0 && rms < 0.5*s.quantum {
		// Over the edge rounding is spread evenly: a twelfth of its square.
		mean = math.Max(mean-rms*rms/den/(h*h), 0) + s.quantum*s.quantum/12/den/(h*h)
	}
	return mean
}

func (s *stretch) medianHeight() float64 {
	h := make([]float64, len(s.lines))
	for i := range s.lines {
		h[i] = s.lines[i].height()
	}
	slices.Sort(h)
	return h[len(h)/2]
}

// quantumOf is the least distance between values of the waveform, 0 when there are so many
// that it is not quantised coarsely.
func quantumOf(x []float32) float64 {
	part := slices.Clone(x[:min(len(x), 40_000)])
	part = slices.DeleteFunc(part, func(v float32) bool { return v != v })
	slices.Sort(part)
	part = slices.Compact(part)
	if len(part) < 2 || len(part) > 4096 {
		return 0
	}
	least := math.Inf(1)
	for i, v := range part[1:] {
		least = math.Min(least, float64(v)-float64(part[i]))
	}
	return least
}
