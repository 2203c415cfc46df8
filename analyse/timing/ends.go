package timing

import (
	"math"
	"slices"

	"backporch/video"
)

// A border ends against blanking on every line, and nothing of the memory shows there: the places of the
// ends tell how the lines lie whatever the screen does, and also where a displacement stands still. Both ends of
// a line move alike, noise moves each by itself.

// ends is how the lines lie by the ends of the border, in samples.
type ends struct {
	jitter *float64 // rms of a line's place about the mean of its field
	tear   *float64
	seen   bool // at least one end
}

const (
	// endStep is the least step in codes, of luma or of colour difference, that counts as an end.
	endStep = 36
	// endFields is how many fields are looked at.
	endFields = 12
	// endReach is how far from its usual place an end is looked for, in samples of a 720-sample line.
	endReach = 60
)

// An end is the step at one end of the lines, in one plane or a mixture of planes.
type end struct {
	right          bool
	chroma         bool
	coloured       bool    // the colour changes there as well as the luma
	cb, cr         float64 // direction of the colour's step
	at             int     // sample of its plane
	outside, level float64 // before and after the step, seen from the end of the line
}

// borderEnds measures some fields. noise is that of the luma, in codes.
func borderEnds(fields []*video.Field, noise float64) ends {
	var out ends
	var product, n float64 // of both ends' displacements
	var square, ones float64
	for _, i := range spread(fields, endFields) {
		f := fields[i]
		var places [2][]float64
		group, sharp := 1, true
		middle := newMedians(f)
		for side := range places {
			if e, ok := middle.findEnd(side == 1, noise); ok {
				places[side] = e.places(f)
				if withPlace(places[side]) < leastEnds*float64(f.Height) {
					places[side] = nil // the picture's doing: a border ends on every line
					continue
				}
				out.seen = true
				sharp = sharp && math.Abs(e.level-e.outside) >= 16*noise
				if e.coloured {
					group = crawlLines
				}
			}
		}
		left, right := places[0], places[1]
		if t := tearOf(left, right); t != nil && (out.tear == nil || *t > *out.tear) {
			out.tear = t
		}
		switch {
		case left != nil && right != nil:
			p, k := covariance(bands(left, group), bands(right, group))
			product += p * spreadOf(group)
			n += k
		case left != nil && sharp:
			p, k := covariance(bands(left, group), bands(left, group))
			square += p * spreadOf(group)
			ones += k
		case right != nil && sharp:
			p, k := covariance(bands(right, group), bands(right, group))
			square += p * spreadOf(group)
			ones += k
		}
	}
	switch {
	case n >= minLines:
		j := math.Sqrt(max(0, product/n))
		out.jitter = &j
	case ones >= minLines:
		// A single end: noise counts as well, at the step asked for and an edge of four samples 0.15 sample of it.
		j := math.Sqrt(square / ones)
		out.jitter = &j
	}
	return out
}

// leastEnds is the part of the lines that must have a place for their ends to be a border's. Common practice, no source.
const leastEnds = 0.4

// withPlace counts the lines that have a place.
func withPlace(places []float64) (n float64) {
	for _, v := range places {
		if !math.IsNaN(v) {
			n++
		}
	}
	return n
}

// places gives every line's displacement from the usual place, in luma samples, positive to the right; NaN
// where a line has no such end.
func (e *end) places(f *video.Field) []float64 {
	width, scale := f.Width, 1.0
	if e.chroma {
		width = f.ChromaWidth
		scale = float64(f.Width) / float64(width)
	}
	reach := endReach * width / 720
	n := min(width/2, e.at+reach)
	v := make([]float64, n)
	out := make([]float64, f.Height)
	for y := range out {
		for x := range v {
			i := y*width + x
			if e.right {
				i = y*width + width - 1 - x
			}
			code := 0.0
			if e.chroma {
				code = e.cb*float64(f.Cb[i]) + e.cr*float64(f.Cr[i])
			} else {
				code = float64(f.Y[i])
			}
			v[x] = (code - e.outside) / (e.level - e.outside)
		}
		out[y] = math.NaN()
		if at, ok := crossing(v, max(3, width/120)); ok {
			out[y] = (at - float64(e.at)) * scale
			if e.right {
				out[y] = -out[y]
			}
		}
	}
	return out
}

// crossing is where v, smoothed over three samples, passes half its step and then holds its level for
// some samples.
func crossing(v []float64, hold int) (float64, bool) {
	smooth := func(x int) float64 { return (v[x-1] + 2*v[x] + v[x+1]) / 4 }
	last := smooth(1)
	for x := 2; x+hold+1 < len(v); x++ {
		now := smooth(x)
		if last < 0.5 && now >= 0.5 {
			level := 0.0
			for i := x + 2; i < x+hold; i++ {
				level += v[i] / float64(hold-2)
			}
			if level > 0.6 && level < 1.6 {
				return float64(x) - (now-0.5)/(now-last), true
			}
			return 0, false
		}
		last = now
	}
	return 0, false
}

// covariance sums the products of two lists about their means, where both have a value. Lines far off are a
// tear's, or read wrong, and are left out: beyond a cell of 8 pixels there is no jitter to speak of.
func covariance(a, b []float64) (sum, n float64) {
	middle := func(v []float64) float64 {
		var list []float64
		for _, x := range v {
			if !math.IsNaN(x) {
				list = append(list, x)
			}
		}
		if len(list) == 0 {
			return math.NaN()
		}
		slices.Sort(list)
		return list[len(list)/2]
	}
	ma, mb := middle(a), middle(b)
	var sa, sb float64
	for y := range a {
		p, q := a[y]-ma, b[y]-mb
		if math.Abs(p) < unlockedLines && math.Abs(q) < unlockedLines { // false for NaN
			sum += p * q
			sa += p
			sb += q
			n++
		}
	}
	if n < 2 {
		return 0, 0
	}
	return sum - sa*sb/n, n - 1
}

// crawlLines is the number of lines in which the subcarrier comes round to the same phase, nearly: a quarter
// or half a cycle a line with all of the displays' line periods.
const crawlLines = 4

// spreadOf is by how much the mean of so many lines is taken to vary less than a line: as much as the number of lines
// when each moves by itself, not at all when a decoder's loop makes them follow each other; the
// middle of the two.
func spreadOf(lines int) float64 { return math.Sqrt(float64(lines)) }

// quietSides tells whether the sides of all fields are as even as noise while their middle is not: lines that lay anywhere would bring the picture there,
// one whose content changes from field to field doesn't. It is for black borders, which show no end.
func quietSides(fields []*video.Field, noise float64) bool {
	limit := 6 * math.Max(noise, 1)
	busy, loud, lines := 0, 0, 0
	for _, i := range spread(fields, endFields) {
		f := fields[i]
		from, to := f.Width/30, f.Width*75/720 // inside of blanking, and short of any display's picture
		for y := f.Height / 8; y < f.Height*7/8; y += 2 {
			line := f.Line(y)
			lines++
			if spanOf(line[from:to]) > limit || spanOf(line[f.Width-to:f.Width-from]) > limit {
				loud++
			}
			if spanOf(line[f.Width/4:f.Width*3/4]) > limit {
				busy++
			}
		}
	}
	return lines > 0 && loud*20 <= lines && busy*4 >= lines
}

// spanOf is the greatest less the least.
func spanOf(codes []uint8) float64 {
	return float64(slices.Max(codes)) - float64(slices.Min(codes))
}
