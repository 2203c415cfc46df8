package signal

import (
	"math"
	"slices"

	"backporch/video"
)

// histogram counts the codes of patches over some of the fields.
func histogram(fields []*video.Field, patches []patch) []uint32 {
	codes := make([]uint32, 256)
	for k := 0; k < len(fields); k += max(1, len(fields)/8) {
		for _, p := range patches {
			for _, v := range fields[k].Line(p.line)[p.from:p.to] {
				codes[v]++
			}
		}
	}
	return codes
}

// isCut: at the ends of the scale, and where a device cuts at its own black or white, noise is not all
// there. Such a cut shows as an end value with a sixth of the samples or more, which spread over
// five codes or more; no symmetric noise has that.
func isCut(codes []uint32) bool {
	var n, ends uint32
	least, most := -1, 0
	for v, c := range codes {
		if n += c; c > 0 {
			most = v
			if least < 0 {
				least = v
			}
		}
		if v <= 2 || v >= 253 {
			ends += c
		}
	}
	return 100*ends > n || most-least >= 4 && 6*max(codes[max(least, 0)], codes[most]) > n
}

// whole is the rms of noise of which one end is cut off, by what is left of a normal distribution on
// the other side of its middle: the distance of two codes over that of their quantiles. It is 0 when too little
// is left, or the codes are not one such distribution.
func whole(codes []uint32) float64 {
	n, middle := 0.0, 0.0
	for v, c := range codes {
		n += float64(c)
		middle += float64(v) * float64(c)
	}
	if n == 0 {
		return 0
	}
	if middle > 128*n { // white: turned about
		codes = slices.Clone(codes)
		slices.Reverse(codes)
	}
	// above[k] is the part of the samples at code k or higher: past k - 1/2 before rounding.
	above := make([]float64, len(codes)+1)
	for k := len(codes) - 1; k >= 0; k-- {
		above[k] = above[k+1] + float64(codes[k])/n
	}
	near := slices.IndexFunc(above, func(part float64) bool { return part < 0.4 })
	far := slices.IndexFunc(above, func(part float64) bool { return part < 0.01 })
	far = max(far-1, near+1)
	if above[near] < 0.05 || far >= len(above) {
		return 0
	}
	z := func(k int) float64 { return math.Sqrt2 * math.Erfinv(1-2*max(above[k], 1e-4)) }
	sigma := float64(far-near) / (z(far) - z(near))
	if far-near >= 3 {
		half := (near + far) / 2
		if part := float64(half-near) / (z(half) - z(near)); part > 1.4*sigma || sigma > 1.4*part {
			return 0
		}
	}
	return sigma
}
