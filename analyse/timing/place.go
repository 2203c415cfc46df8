package timing

import "math"

// A reference is a line that others are laid on, with its sums.
type reference struct {
	line    []float32
	sm, smm float64 // of its values and their squares
}

func newReference(line []float32) reference {
	r := reference{line: line}
	for _, m := range line {
		w := float64(m)
		r.sm += w
		r.smm += w * w
	}
	return r
}

// level lays a line's codes on those of ref, by least squares on gain and offset: a device's
// gain control moves with a weak sync. dst is as long as the line.
func (r *reference) level(dst []float32, f []uint8) {
	sf, sfm := float64(total(f[:len(r.line)])), 0.0
	for x, m := range r.line {
		sfm += float64(f[x]) * float64(m)
	}
	n, gain := float64(len(r.line)), 1.0
	if spread := r.smm - r.sm*r.sm/n; spread > n { // a flat line tells no gain
		gain = max(0.5, min(2, (sfm-sf*r.sm/n)/spread))
	}
	offset := (sf - gain*r.sm) / n
	var levelled [256]float32 // by code
	for code := range levelled {
		levelled[code] = float32((float64(code) - offset) / gain)
	}
	for x := range dst {
		dst[x] = levelled[f[x]]
	}
}

// locate finds the place of line f against ref; left is the sum of squares that stays at
// the edges. A line that no displacement brings near the mean has no place.
func locate(f, ref, g []float32, gg, noise float64) (d, left float64, ok bool) {
	var gd, all, edges float64
	for x, m := range ref {
		diff := float64(f[x] - m)
		all += diff * diff
		if g[x] != 0 {
			gd += float64(g[x]) * diff
			edges += diff * diff
		}
	}
	d = -gd / gg
	left = edges - d*d*gg
	// What noise leaves: its variance in every sample, and a code's rounding and more.
	expected := float64(len(ref)) * (2*noise*noise + 2)
	if math.Abs(d) <= 0.7 && all-d*d*gg <= 2*expected {
		if math.Abs(d) > 0.2 { // the gradient is no longer the whole of it
			d = refine(f, ref, g, gg, refine(f, ref, g, gg, d))
		}
		return d, left, true
	}
	for _, reach := range []int{nearby, farthest} {
		if d, ok = search(f, ref, gg, expected/2/3, reach); ok {
			return refine(f, ref, g, gg, refine(f, ref, g, gg, d)), left, true
		}
	}
	return 0, 0, false
}

// search is the displacement, in whole samples and a part by a parabola, that makes every third
// sample differ least; noisy is the sum that noise would leave. It must explain most of what noise
// doesn't, and as much as edges like these make of half a sample. Where none does, the
// line has no place if its content is not that of the mean.
func search(f, ref []float32, gg, noisy float64, reach int) (float64, bool) {
	const together = 4 // displacements that are added up side by side, for no sum need wait for another
	var errors [2*farthest + 1 + together]float64
	padded := make([]float32, 0, len(f)+2*reach+together) // past its ends a line is blank
	for range reach {
		padded = append(padded, f[0])
	}
	padded = append(padded, f...)
	for range reach + together {
		padded = append(padded, f[len(f)-1])
	}
	for s := 0; s <= 2*reach; s += together {
		var a, b, c, d float64
		for x := 0; x < len(ref); x += 3 {
			v, four := ref[x], padded[x+s:x+s+together]
			p, q := float64(four[0]-v), float64(four[1]-v)
			r, t := float64(four[2]-v), float64(four[3]-v)
			a += p * p
			b += q * q
			c += r * r
			d += t * t
		}
		errors[s], errors[s+1], errors[s+2], errors[s+3] = a, b, c, d
	}
	best := -reach
	for s := -reach; s <= reach; s++ {
		if errors[s+reach] < errors[best+reach] {
			best = s
		}
	}
	least, still := errors[best+reach], errors[reach]
	switch {
	case best == -reach || best == reach:
		return 0, false
	case best != 0 && (least-noisy > (still-noisy)/4 || still-least < gg/4/3):
		return 0, false
	}
	if best == 0 && (reach < farthest || least > 4*noisy) {
		return 0, false
	}
	return float64(best) + vertex(errors[best+reach-1], least, errors[best+reach+1]), true
}

// refine is a Gauss-Newton step from a displacement d.
func refine(f, ref, g []float32, gg, d float64) float64 {
	whole, w := taps(d)
	gd := 0.0
	for x, v := range g {
		if at := x + whole; v != 0 && at >= 1 && at+2 < len(f) {
			moved := w[0]*f[at-1] + w[1]*f[at] + w[2]*f[at+1] + w[3]*f[at+2]
			gd += float64(v * (moved - ref[x]))
		}
	}
	return d - max(-0.5, min(0.5, gd/gg))
}

// taps are the weights of cubic convolution for a displacement: sample x is made of the four
// from x+whole-1 on (Keys, 1981, a = -1/2).
func taps(d float64) (whole int, w [4]float32) {
	floor := math.Floor(d)
	t := float32(d - floor)
	return int(floor), [4]float32{
		((-t+2)*t - 1) * t / 2, ((3*t-5)*t*t + 2) / 2, ((-3*t+4)*t + 1) * t / 2, (t - 1) * t * t / 2,
	}
}
