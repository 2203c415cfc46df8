package timing

import (
	"math"
	"slices"

	"backporch/analyse"
	"backporch/video"
)

// A home computer's two fields are two pictures, each with noise of its own. A device that drops every
// second one shows the other twice, one that takes the comb out of frames mixes lines of both: then the
// noise of one field is found in the other. Change from frame to frame is taken for noise, as long as it
// is small; what goes along a line slowly (hum, gain) is left out, and the colour subcarrier nearly so, by
// differences over about one of its periods.

const (
	// independent and together bound the correlation of the two fields' noise: some thousandths come by
	// chance, a line that is the mean of two has 0.71 with each, a repeated one has 1.
	independent, together = 0.2, 0.9
	leastNoise            = 0.8 // codes rms of the change: less is lost in rounding
)

// weave tells how a device makes frames of fields; WeaveUnknown where the noise does not tell, as after a
// codec that works on blocks, which mixes lines itself.
func weave(fields []*video.Field, o Options) analyse.Weave {
	if o.Single || o.Blocks || o.InterFrame {
		return analyse.WeaveUnknown
	}
	step := 3 // samples; 13.5 MHz over 4.43 MHz
	if o.Standard == video.Std525 {
		step = 4 // over 3.58 MHz
	}
	pairs := framePairs(fields)
	var same, next []float64
	var a, b []int16
	for _, p := range pairs[:min(len(pairs), 6)] {
		var sa, sb float64
		a, sa = changes(a[:0], p[0], p[2], step)
		b, sb = changes(b[:0], p[1], p[3], step)
		if sa < leastNoise && sb < leastNoise {
			continue
		}
		w := p[0].Width - step
		upper, lower := newNoises(a, 6*sa), newNoises(b, 6*sb)
		same = append(same, upper.correlation(lower, 0))
		next = append(next, max(upper.correlation(lower, -w), upper.correlation(lower, w)))
	}
	if len(same) < 2 {
		return analyse.WeaveUnknown
	}
	slices.Sort(same)
	slices.Sort(next)
	s, n := same[len(same)/2], next[len(next)/2]
	switch {
	case s > together:
		return analyse.WeaveOne
	case s > independent || n > 2*independent:
		return analyse.WeaveMixed
	case s < independent/2:
		return analyse.WeaveTwo
	}
	return analyse.WeaveUnknown
}

// framePairs gives the fields of neighbouring frames: both of the one, both of the next, evenly over the
// capture.
func framePairs(fields []*video.Field) [][4]*video.Field {
	var all [][4]*video.Field
	for i := 0; i+3 < len(fields); i++ {
		a, b, c, d := fields[i], fields[i+1], fields[i+2], fields[i+3]
		if a.Frame == b.Frame && c.Frame == d.Frame && c.Frame == a.Frame+1 && a.Parity == c.Parity && b.Parity == d.Parity && a.Parity != b.Parity {
			if a.Parity == 1 {
				a, b, c, d = b, a, d, c // the upper lines first
			}
			all = append(all, [4]*video.Field{a, b, c, d})
		}
	}
	if len(all) <= 6 {
		return all
	}
	out := make([][4]*video.Field, 0, 6)
	for k := range 6 {
		out = append(out, all[k*(len(all)-1)/5])
	}
	return out
}

// changes appends to d what changed from a to b on every line, less the same step samples on, and gives its
// rms by the median.
func changes(d []int16, a, b *video.Field, step int) (out []int16, rms float64) {
	wide := a.Width - step
	d = slices.Grow(d, wide*a.Height)[:wide*a.Height]
	var sizes [2048]int // by change, from -1024 on
	line := make([]int16, a.Width)
	for y := range a.Height {
		la, lb := a.Line(y), b.Line(y)
		for x := range line {
			line[x] = int16(lb[x]) - int16(la[x])
		}
		here, on, out := line[:wide], line[step:][:wide], d[y*wide:][:wide]
		for x, now := range here {
			v := now - on[x]
			out[x] = v
			sizes[(v+1024)&2047]++
		}
	}
	var count [1024]int
	for v := range count {
		count[v] = sizes[1024+v]
		if v > 0 {
			count[v] += sizes[1024-v]
		}
	}
	below := 0
	for v, c := range count {
		if 2*(below+c) >= len(d) {
			part := (float64(len(d))/2 - float64(below)) / float64(c)
			if v == 0 {
				return d, 0.5 * part / 0.6745
			}
			return d, (float64(v) - 0.5 + part) / 0.6745
		}
		below += c
	}
	return d, 0
}

// noises are a row of numbers about zero, those that are no noise put to 0.
type noises struct {
	v    []int16
	loud []int // where these were
	sum  int   // of squares
}

// newNoises takes v, in which those beyond a limit are no noise.
func newNoises(v []int16, limit float64) *noises {
	n := &noises{v: v}
	most := int16(min(limit, 2000))
	for i, a := range v {
		if a > most || -a > most {
			n.loud = append(n.loud, i)
			v[i] = 0
			continue
		}
		n.sum += int(a) * int(a)
	}
	return n
}

// squares is the sum of those that have a partner as far on in the other row, without those whose partner is no noise.
func (n *noises) squares(other *noises, on int) int {
	sum := n.sum
	from, to := max(0, -on), min(len(n.v), len(n.v)-on)
	for _, part := range [2][]int16{n.v[:from], n.v[to:]} {
		for _, a := range part {
			sum -= int(a) * int(a)
		}
	}
	for _, i := range other.loud {
		if at := i - on; at >= from && at < to {
			sum -= int(n.v[at]) * int(n.v[at])
		}
	}
	return sum
}

// correlation is that with another row as long, of whose numbers those on further are laid beside.
func (n *noises) correlation(other *noises, on int) float64 {
	from, to := max(0, -on), min(len(n.v), len(n.v)-on)
	ab := 0
	b := other.v[from+on : to+on]
	for i, a := range n.v[from:to] {
		ab += int(a) * int(b[i])
	}
	aa, bb := n.squares(other, on), other.squares(n, -on)
	if aa == 0 || bb == 0 {
		return 0
	}
	return float64(ab) / math.Sqrt(float64(aa)*float64(bb))
}
