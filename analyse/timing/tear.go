package timing

import (
	"math"
	"slices"
)

// tearOf is the greatest step that both ends show from one band of lines to the next; one
// end alone where the other doesn't show.
func tearOf(left, right []float64) *float64 {
	switch {
	case left == nil && right == nil:
		return nil
	case left == nil:
		left = right
	case right == nil:
		right = left
	}
	return tear(bands(left, bandLines), bands(right, bandLines))
}

// bands are the medians of so many lines each, their means for fewer than bandLines; NaN where fewer
// than three have a place, or a shorter band is not whole.
func bands(places []float64, lines int) []float64 {
	var out []float64
	for y := 0; y+lines <= len(places); y += lines {
		var band []float64
		for _, v := range places[y : y+lines] {
			if !math.IsNaN(v) {
				band = append(band, v)
			}
		}
		m := math.NaN()
		switch {
		case lines < bandLines && len(band) == lines:
			m = 0
			for _, v := range band {
				m += v / float64(lines)
			}
		case lines >= bandLines && len(band) >= 3:
			slices.Sort(band)
			m = (band[(len(band)-1)/2] + band[len(band)/2]) / 2
		}
		out = append(out, m)
	}
	return out
}

// tear is the greatest step that two lists of bands share: the smaller of both where they agree in direction, and
// that of one where the other has left the picture.
func tear(a, b []float64) *float64 {
	var out *float64
	last, gap := -1, 0
	for i := range a {
		gap++
		if math.IsNaN(a[i]) && math.IsNaN(b[i]) {
			continue
		}
		if last >= 0 && gap <= 4 {
			p, q := a[i]-a[last], b[i]-b[last]
			step := 0.0
			switch {
			case math.IsNaN(p):
				step = math.Abs(q) // NaN when neither end goes through
			case math.IsNaN(q):
				step = math.Abs(p)
			case p*q > 0:
				step = min(math.Abs(p), math.Abs(q))
			}
			if !math.IsNaN(step) && (out == nil || step > *out) {
				out = &step
			}
		}
		last, gap = i, 0
	}
	return out
}
