package waveform

import (
	"math"
	"slices"
)

// clock fits the lines' 0H by one period and a phase for each group, and gives the period
// and the mean square about it (samples), less what fitting took.
func (s *stretch) clock() (square float64, degrees int) {
	var sxy, sxx float64
	s.groups(func(g []line) {
		xy, xx, _, _ := slope(g)
		sxy += xy
		sxx += xx
	})
	if sxx == 0 {
		return 0, 0
	}
	s.period = sxy / sxx
	square, degrees = s.scatter(func(*line, float64) {})
	return square * float64(degrees), degrees
}

// groups goes through the groups of lines.
func (s *stretch) groups(f func(group []line)) {
	for from := 0; from < len(s.lines); {
		to := from
		for to < len(s.lines) && s.lines[to].group == s.lines[from].group {
			to++
		}
		f(s.lines[from:to])
		from = to
	}
}

// slope gives what a line through a group's 0H needs: sums of products about its middle.
func slope(g []line) (xy, xx, n0, z0 float64) {
	for _, l := range g {
		n0 += float64(l.n) / float64(len(g))
		z0 += l.zero / float64(len(g))
	}
	for _, l := range g {
		d := float64(l.n) - n0
		xy += d * (l.zero - z0)
		xx += d * d
	}
	return xy, xx, n0, z0
}

// scatter tells how far each line's 0H is off its group's clock, and gives the mean square of
// that (samples), less what fitting took. Groups of fewer than 8 lines say nothing of it. Slow
// wander of the clock is no jitter: each group has a slope of its own.
func (s *stretch) scatter(each func(l *line, off float64)) (square float64, degrees int) {
	s.groups(func(g []line) {
		if len(g) < 8 {
			return
		}
		xy, xx, n0, z0 := slope(g)
		for i := range g {
			e := g[i].zero - z0 - xy/xx*(float64(g[i].n)-n0)
			square += e * e
			each(&g[i], e)
		}
		degrees += len(g) - 2
	})
	return square / math.Max(float64(degrees), 1), degrees
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
		for _, us := range []float64{-2 * edgeReach, 0, 2 * edgeReach} {
			at := int(math.Round((l.zero+l.end)/2 + us*s.us))
			inside := float64(at-half) > l.zero+0.9*s.us && float64(at+half) < l.end-0.7*s.us
			if at-half < 0 || at+half >= len(s.x) || us != 0 && !inside {
				continue
			}
			d := 0.0
			for k, w := range weights {
				v := float64(s.x[at-half+k]) - l.tip
				d += w * v
				if v == v {
					flat += v * v
					flats++
				}
			}
			if d == d {
				d /= den * l.height()
				total += d * d
				count++
			}
		}
	}
	if count == 0 || flats == 0 {
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
