package signal

import (
	"math"
	"slices"

	"backporch/video"
)

// chromaNoise is the signal-to-noise ratio, dB, of chroma on the border, Cb and Cr together, over their whole range of 224 codes to luma's 219 (ITU-R BT.601): noise that rises with
// frequency lies in chroma for the most part, and a trap or a comb takes it off luma. Nil: not measured.
func (m *layout) chromaNoise(white float64) *float64 {
	fields := m.usable()
	if len(fields) < 2 || fields[0].ChromaWidth == 0 {
		return nil
	}
	for _, c := range calms[:2] {
		for _, group := range m.groups(m.patches(c), c) {
			if !group[0].border {
				continue
			}
			least := math.Inf(1)
			for _, lag := range fieldLags {
				if sigma, ok := chromaSigma(fields, group, lag); ok {
					least = math.Min(least, sigma)
				}
			}
			if !math.IsInf(least, 1) {
				v := 20 * math.Log10(white*224/219/math.Max(least, 1/math.Sqrt(12)))
				return &v
			}
		}
	}
	return nil
}

// chromaSigma is the rms noise of both colour differences by fields so far apart, codes; false where chroma is at an end of its codes.
func chromaSigma(fields []*video.Field, patches []patch, lag int) (float64, bool) {
	var variances []float64
	n := len(fields) - lag
	for _, p := range patches {
		sum, free := 0.0, 0.0
		for k := range min(n, mostPairs) {
			i := k * n / min(n, mostPairs)
			a, b := fields[i], fields[i+lag]
			from, to := (p.from*a.ChromaWidth+a.Width-1)/a.Width, p.to*a.ChromaWidth/a.Width
			if to-from < 4 {
				continue
			}
			for _, planes := range [2][2][]uint8{{a.Cb, b.Cb}, {a.Cr, b.Cr}} {
				one, other := planes[0][p.line*a.ChromaWidth+from:p.line*a.ChromaWidth+to], planes[1][p.line*a.ChromaWidth+from:p.line*a.ChromaWidth+to]
				if clipped(one) || clipped(other) {
					continue
				}
				mean, squares := 0.0, 0.0
				for x := range one {
					d := float64(one[x]) - float64(other[x])
					mean += d / float64(len(one))
					squares += d * d
				}
				sum += squares - float64(len(one))*mean*mean
				free += 2 * float64(len(one)-1)
			}
		}
		if free > 0 {
			variances = append(variances, sum/free)
		}
	}
	if len(variances) < len(patches)/2+1 {
		return 0, false
	}
	slices.Sort(variances)
	return math.Sqrt(variances[len(variances)/2]), true
}
