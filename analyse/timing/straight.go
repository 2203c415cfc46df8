package timing

import (
	"math"

	"backporch/analyse"
	"backporch/video"
)

// A time base corrector's work: a picture that tears, jitters or rolls is laid straight by what shows how it lies, the border's ends against
// blanking for the lines and the line means for the fields. What the memory shows can then be read as on a picture that holds. The sync
// stays what it was measured to be.

const (
	// endsApart is how far, in samples, the displacements of a line's two ends may differ; more is no displacement of the line. Common practice, no source.
	endsApart = 3.0
	// rollReach is how far, in lines, a field is looked for about the place where it is expected.
	rollReach = 2
)

// Straighten gives copies of fields in which all lines and fields lie alike, or false where nothing shows how they lie.
func Straighten(fields []*video.Field, o Options) ([]*video.Field, bool) {
	if len(alike(fields)) != len(fields) || len(fields) < 2 {
		return nil, false
	}
	noise := fieldNoise(fields)
	known := profiles{}
	out, ok := fields, false
	if v := track(fields, noise, o, known); v.seen && (v.jumps || v.steady) {
		if out, ok = unroll(fields, v, known, o.Standard); !ok {
			return nil, false
		}
	}
	if laid, seen := alignEnds(out, noise); seen {
		return laid, true
	}
	return out, ok
}

// alignEnds moves every line so that the border's ends lie where the first field has them, as its median line shows.
func alignEnds(fields []*video.Field, noise float64) ([]*video.Field, bool) {
	var first [2]end
	var has [2]bool
	var usual [2]float64 // place of most of its lines
	middle := newMedians(fields[0])
	for side := range first {
		if first[side], has[side] = middle.findEnd(side == 1, noise); has[side] {
			usual[side], has[side] = middlePlace(first[side].places(fields[0]))
		}
	}
	out := make([]*video.Field, len(fields))
	for i, f := range fields {
		var places [2][]float64
		middle := newMedians(f)
		for side := range places {
			e, ok := middle.findEnd(side == 1, noise)
			if !ok || !has[side] || e.chroma != first[side].chroma {
				continue
			}
			e.at = first[side].at // from the same sample in all fields
			if places[side] = e.places(f); withPlace(places[side]) < leastEnds*float64(f.Height) {
				places[side] = nil
			}
			for y := range places[side] {
				places[side][y] -= usual[side]
			}
		}
		d, ok := displacements(places[0], places[1])
		if !ok {
			return nil, false
		}
		out[i] = movedLines(f, d)
	}
	return out, true
}

// middlePlace is the median of the places there are.
func middlePlace(places []float64) (float64, bool) {
	list := make([]float64, 0, len(places))
	for _, v := range places {
		if !math.IsNaN(v) {
			list = append(list, v)
		}
	}
	if len(list) == 0 {
		return 0, false
	}
	return analyse.Select(list, len(list)/2), true
}

// displacements are those of the lines, in samples to the right, by both ends or the one there is; lines without a place lie as those
// beside them do.
func displacements(left, right []float64) ([]float64, bool) {
	switch {
	case left == nil && right == nil:
		return nil, false
	case left == nil:
		left = right
	case right == nil:
		right = left
	}
	out := make([]float64, len(left))
	last := -1
	fill := func(from, to int, value float64) {
		for y := from; y < to; y++ {
			out[y] = value
		}
	}
	for y := range out {
		d := (left[y] + right[y]) / 2
		switch {
		case math.IsNaN(left[y]):
			d = right[y]
		case math.IsNaN(right[y]):
			d = left[y]
		case math.Abs(left[y]-right[y]) > endsApart:
			d = math.NaN()
		}
		if math.IsNaN(d) {
			continue
		}
		if last < 0 {
			fill(0, y, d)
		} else {
			fill(last+1, y, out[last])
		}
		out[y], last = d, y
	}
	if last < 0 {
		return nil, false
	}
	fill(last+1, len(out), out[last])
	return out, true
}

// movedLines is a field with each line moved to the left by so many samples.
func movedLines(f *video.Field, d []float64) *video.Field {
	out := *f
	plane := func(codes []uint8, width int) []uint8 {
		if len(codes) < width*f.Height || width == 0 {
			return codes
		}
		moved := make([]uint8, len(codes))
		for y := range f.Height {
			whole, w := taps(d[y] * float64(width) / float64(f.Width))
			line, to := codes[y*width:(y+1)*width], moved[y*width:(y+1)*width]
			at := func(x int) float32 { return float32(line[min(max(x, 0), width-1)]) }
			for x := range to {
				v := w[0]*at(x+whole-1) + w[1]*at(x+whole) + w[2]*at(x+whole+1) + w[3]*at(x+whole+2)
				to[x] = uint8(min(max(v+0.5, 0), 255))
			}
		}
		return moved
	}
	out.Y, out.Cb, out.Cr = plane(f.Y, f.Width), plane(f.Cb, f.ChromaWidth), plane(f.Cr, f.ChromaWidth)
	return &out
}

// unroll turns fields round so that the picture stands still, with the gap between two pictures at the seam. A device that does not follow the
// machine's fields takes a part of what comes; what falls between two of its fields is taken from others.
func unroll(fields []*video.Field, v vertical, known profiles, standard video.Standard) ([]*video.Field, bool) {
	at := make([]int, len(fields))
	for i := 1; i < len(fields); i++ {
		expected := int(math.Round(v.at[i])) - int(math.Round(v.at[i-1]))
		best, least := expected, math.Inf(1)
		for s := expected - rollReach; s <= expected+rollReach; s++ {
			if e := differ(known.of(fields[i-1]), known.of(fields[i]), s); e < least {
				best, least = s, e
			}
		}
		at[i] = at[i-1] + best
	}
	period := int(standard.Scan().LineHz / standard.Scan().FieldHz) // of a machine that does not interlace
	if period < fields[0].Height {
		return nil, false
	}
	seam, ok := seamOf(fields, at, known, period)
	if !ok {
		return nil, false
	}
	out := make([]*video.Field, len(fields))
	height := fields[0].Height
	missing := make([][]bool, len(fields))
	for i, f := range fields {
		g := *f
		g.Y, g.Cb, g.Cr = make([]uint8, len(f.Y)), make([]uint8, len(f.Cb)), make([]uint8, len(f.Cr))
		missing[i] = make([]bool, height)
		for y := range height {
			from := wrap(y+seam+at[i], period)
			if missing[i][y] = from >= height; !missing[i][y] {
				copyLine(&g, y, f, from)
			}
		}
		out[i] = &g
	}
	for i := range out {
		for y, gone := range missing[i] {
			for k := 1; gone && k < len(out); k++ {
				for _, j := range [2]int{i - k, i + k} {
					if gone && j >= 0 && j < len(out) && !missing[j][y] {
						copyLine(out[i], y, out[j], y)
						gone = false
					}
				}
			}
		}
	}
	return out, true
}

func wrap(y, period int) int { return ((y % period) + period) % period }

func copyLine(to *video.Field, y int, from *video.Field, at int) {
	copy(to.Y[y*to.Width:(y+1)*to.Width], from.Y[at*from.Width:(at+1)*from.Width])
	if w := to.ChromaWidth; w > 0 {
		copy(to.Cb[y*w:(y+1)*w], from.Cb[at*w:(at+1)*w])
		copy(to.Cr[y*w:(y+1)*w], from.Cr[at*w:(at+1)*w])
	}
}

// seamOf is the line of the first field's count at which the picture begins: behind the darkest run of lines as long as the gap between two
// fields of the device. False where the fields do not show all of it.
func seamOf(fields []*video.Field, at []int, known profiles, period int) (int, bool) {
	sum, n := make([]float64, period), make([]float64, period)
	for i, f := range fields {
		p := known.of(f)
		for y := range f.Height {
			k := wrap(y-at[i], period)
			for _, v := range p[y*profileBands : (y+1)*profileBands] {
				sum[k] += v / profileBands
			}
			n[k]++
		}
	}
	for k := range sum {
		if n[k] > 0 {
			sum[k] /= n[k]
		}
	}
	gap := period - fields[0].Height
	least, from, run := math.Inf(1), 0, 0
	for k := range period {
		dark := 0.0
		for j := range gap {
			dark += sum[wrap(k+j, period)]
		}
		switch {
		case dark < least-float64(gap)/2:
			least, from, run = dark, k, 0
		case dark <= least+float64(gap)/2 && wrap(k-from, period) == run+1:
			run++ // as dark: a black border beside the gap
		}
	}
	return wrap(from+run/2+gap, period), true
}
