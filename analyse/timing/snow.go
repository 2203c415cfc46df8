package timing

import (
	"math"

	"backporch/video"
)

// shared is what neighbouring fields have in common.
type shared struct {
	pairs     int
	unshared  float64 // part of the luma variance that the fields of a pair don't share
	inLine    float64 // the same about the means of the lines, which hum moves alike
	sigma     float64 // rms of that part, codes
	along     float64 // correlation of samples 12 and 16 apart in a line, the greater
	down      float64 // correlation of a line with the one below
	unaligned bool    // a single field: sigma is that of the whole picture
}

// snow: noise at which no sync separator works, shared by no two fields and by
// no two places. White noise of 5 MHz bandwidth is uncorrelated 3 samples on; a machine's
// picture has borders and cells, whose samples go together over 16 and over lines, however it tears.
// The quarter is far above the chance of noise, some 0.01 for ten thousand samples, and far
// below what borders give.
func (s shared) snow() bool {
	if s.along > 0.25 || s.down > 0.25 {
		return false
	}
	if s.unaligned {
		return s.sigma >= unlockedNoise
	}
	return s.sigma >= unlockedNoise && s.unshared > 0.75
}

// blank: fainter noise in which nothing is shared. An open input shows that, and so does a machine
// that is black to the last sample, border and all; any edge, border, or a dozen letters
// would be a part in twenty of the variance or more.
func (s shared) blank() bool {
	return s.along < 0.25 && s.down < 0.25 && (s.unaligned || s.pairs > 1 && s.inLine > nothingShared)
}

// nothingShared is the part of the variance not shared when there is no picture.
const nothingShared = 0.95

// compare measures neighbouring fields, b moved up by what it lies below a.
func compare(fields []*video.Field, v vertical) shared {
	var out shared
	pick := spread(fields, 8)
	var variance, covariance, lineVariance, lineCovariance float64
	for k := 1; k < len(pick); k += 2 {
		a, b := fields[pick[k-1]], fields[pick[k]]
		d := int(math.Round(v.at[pick[k]] - v.at[pick[k-1]]))
		v, c, lv, lc := moments(a, b, d)
		if v == 0 {
			continue
		}
		variance += v
		covariance += c
		lineVariance += lv
		lineCovariance += lc
		out.pairs++
	}
	// Of all fields together, so that those with the most in them say the most: a picture that is dead now and then has its borders in the others.
	total := 0.0
	for _, i := range pick {
		whole, along, down := texture(fields[i])
		total += whole
		out.along += along * whole
		out.down += down * whole
	}
	if total > 0 {
		out.along, out.down = out.along/total, out.down/total
	}
	if out.pairs == 0 || variance == 0 {
		out.pairs, out.unaligned = 0, true
		out.sigma = math.Sqrt(total / float64(len(pick)))
		return out
	}
	out.unshared = max(0, min(1, 1-covariance/variance))
	if lineVariance > 0 {
		out.inLine = 1 - lineCovariance/lineVariance
	}
	out.sigma = math.Sqrt(max(0, variance-covariance) / float64(out.pairs))
	return out
}

// moments gives the mean variance and the covariance on a lattice of samples, about
// the mean of all and about the means of the lines.
func moments(a, b *video.Field, d int) (v, c, lv, lc float64) {
	var sa, sb, saa, sbb, sab, n float64
	for y := max(0, d); y < min(b.Height, b.Height+d); y += 2 {
		la, lb := a.Line(y-d), b.Line(y)
		var p, q, pp, qq, pq int
		first := y / 2 % 3
		for x := first; x < len(la); x += 3 {
			i, j := int(la[x]), int(lb[x])
			p += i
			q += j
			pp += i * i
			qq += j * j
			pq += i * j
		}
		m := float64((len(la) - first + 2) / 3)
		fp, fq := float64(p), float64(q)
		lv += (float64(pp+qq) - (fp*fp+fq*fq)/m) / 2
		lc += float64(pq) - fp*fq/m
		sa += fp
		sb += fq
		saa += float64(pp)
		sbb += float64(qq)
		sab += float64(pq)
		n += m
	}
	if n < 100 {
		return 0, 0, 0, 0
	}
	return ((saa-sa*sa/n)/n + (sbb-sb*sb/n)/n) / 2, (sab - sa*sb/n) / n, lv / n, lc / n
}

// texture gives a field's variance about the means of its lines, and how samples go together
// along the line and down. Line means are taken off since a decoder without lock may
// clamp every line to another level.
func texture(f *video.Field) (variance, along, down float64) {
	var n, v, c12, c16, cd float64
	for y := 0; y+1 < f.Height; y += 6 {
		a, b := f.Line(y), f.Line(y+1)
		ma, mb := mean(a), mean(b)
		for x := 0; x+16 < len(a); x += 3 {
			p := float64(a[x]) - ma
			v += p * p
			c12 += p * (float64(a[x+12]) - ma)
			c16 += p * (float64(a[x+16]) - ma)
			cd += p * (float64(b[x]) - mb)
			n++
		}
	}
	if n == 0 || v == 0 {
		return 0, 0, 0
	}
	return v / n, max(c12, c16) / v, cd / v
}

func mean(line []uint8) float64 {
	return float64(total(line)) / float64(len(line))
}
