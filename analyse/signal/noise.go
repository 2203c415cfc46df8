package signal

import (
	"bytes"
	"cmp"
	"math"
	"slices"

	"backporch/analyse"
	"backporch/video"
)

// edgeMargin, in samples, keeps flat areas off edges: some 370 ns, past the ringing of a decoder.
const edgeMargin = 5

// fewSamples is how many flat samples the noise needs: its relative error is
// 1/sqrt(2n), 2 % or 0.2 dB.
const fewSamples = 1000

// A patch is a piece of a line in which nothing but noise should change.
type patch struct {
	line, from, to int
	colour         uint8
	border         bool
}

// A calm says how far patches keep from any other colour, and how long they are. The first is past
// what a notch of half a MHz leaves of a colour's edge, and past a codec's block of 8
// lines of a woven frame; the others are for pictures without so much room.
type calm struct {
	aside, above int // samples, lines
	length       int // samples
}

var calms = []calm{{20, 4, 24}, {10, 1, 16}, {edgeMargin, 0, 12}}

// mostPatches and mostPairs bound the work; more tell nothing new.
const (
	mostPatches = 1200
	mostPairs   = 10
)

// fieldLags are the distances of the fields compared. Dot crawl and cross-colour repeat with the subcarrier's
// phase, which machines of whole lines a field bring round in 1, 2 or 4 fields. What isn't noise can
// only add to it, so the least counts, of the lags as of the colours. (A conversion to RGB on the way cuts noise off at the
// walls of the cube, up to half of it in a saturated colour: then the least is too little by that.)
var fieldLags = []int{1, 2, 4}

// noise is the unweighted signal-to-noise ratio in dB, 20 log10(white/sigma)
// (ITU-R BT.1439). Sigma squared is half the variance of the difference of two fields, about
// its mean in the patch, which takes off what is slower than a line; of all patches the median counts, so
// that those which flicker do not. A single field is compared with itself some
// lines down, and about straight lines.
// Quantised says that sigma is no larger than the steps of the codes or of a codec, which hide noise.
func (m *layout) noise(white float64) (db *float64, quantised bool) {
	fields := m.usable()
	if len(fields) == 0 {
		return nil, false
	}
	floor := 1 / math.Sqrt(12)
	wereCut := false
	for _, c := range calms {
		if c.above == 0 && (len(fields) == 1 || wereCut) {
			break // so near to edges what moves or stands still there counts as noise: worse than no figure
		}
		var cut []uint32
		var best *reading
		for _, group := range m.groups(m.patches(c), c) {
			codes := histogram(fields, group)
			if isCut(codes) {
				wereCut = true
				if cut == nil {
					cut = codes
				}
				continue
			}
			r := m.sigma(fields, group, c)
			if r.same == 1 && group[0].colour == unnamed {
				continue // it may be the device's own blanking
			}
			if best == nil || r.sigma < best.sigma {
				best = &r
			}
			if group[0].border && m.grey(group[0].colour) {
				break // nothing in there moves but noise
			}
		}
		if best == nil {
			if best = (&reading{sigma: whole(cut)}); best.sigma == 0 {
				continue
			}
		}
		v := 20 * math.Log10(white/max(best.sigma, floor))
		return &v, best.sigma < 2*floor || best.same > 0.15+1.5*equalShare(best.sigma)
	}
	return nil, false
}

// groups parts patches by colour, those first that tell most purely: the border's when it is grey, then grey parts
// of the picture, then colours. Groups too small to measure are left out.
func (m *layout) groups(patches []patch, c calm) [][]patch {
	type key struct {
		border bool
		colour uint8
	}
	by := map[key][]patch{}
	for _, p := range patches {
		k := key{p.border, p.colour}
		by[k] = append(by[k], p)
	}
	var keys []key
	for k, list := range by {
		if len(list)*c.length >= fewSamples {
			keys = append(keys, k)
		}
	}
	rank := func(k key) int {
		r := 0
		if !m.grey(k.colour) {
			r += 2
		}
		if !k.border {
			r++
		}
		return r
	}
	slices.SortFunc(keys, func(a, b key) int {
		return cmp.Or(cmp.Compare(rank(a), rank(b)), cmp.Compare(len(by[b]), len(by[a])), cmp.Compare(a.colour, b.colour))
	})
	out := make([][]patch, 0, len(keys))
	for _, k := range keys {
		out = append(out, thin(by[k], mostPatches))
	}
	return out
}

// equalShare is the part of the differences of two samples that rounding makes 0.
func equalShare(sigma float64) float64 {
	return math.Erf(0.5 / (2 * max(sigma, 0.05)))
}

// usable are the fields of the stack's size, without those that repeat the one before.
func (m *layout) usable() []*video.Field {
	var out []*video.Field
	for _, f := range m.in.Fields {
		if !m.fits(f) {
			continue
		}
		repeats := false
		for k := 1; k <= 2 && k <= len(out); k++ { // a repeated frame repeats both its fields
			repeats = repeats || bytes.Equal(out[len(out)-k].Y, f.Y)
		}
		if !repeats {
			out = append(out, f)
		}
	}
	return out
}

func (m *layout) fits(f *video.Field) bool {
	return f != nil && f.Width == m.in.Stack.Width && f.Height == m.in.Stack.Height && len(f.Y) >= f.Width*f.Height
}

// patches cuts the flat parts of the picture: a sweep down the lines that knows for how many
// lines each sample has kept its colour.
func (m *layout) patches(c calm) []patch {
	width := m.in.Stack.Width
	colour, age := make([]uint8, width), make([]int, width)
	var out []patch
	first := map[int]int{} // by line: its first run
	for i := range m.runs {
		if _, ok := first[m.runs[i].line]; !ok {
			first[m.runs[i].line] = i
		}
	}
	for line := range m.in.Stack.Height {
		i, seen := first[line]
		if !seen {
			clear(age)
			continue
		}
		end := 0
		for ; i < len(m.runs) && m.runs[i].line == line; i++ {
			r := &m.runs[i]
			from, to := m.inside(r, 0)
			for x := end; x < from; x++ {
				age[x] = 0
			}
			for x := from; x < to; x++ {
				if age[x] == 0 || colour[x] != r.colour {
					colour[x], age[x] = r.colour, 0
				}
				age[x]++
			}
			end = to
		}
		for x := end; x < width; x++ {
			age[x] = 0
		}
		middle := line - c.above
		i, seen = first[middle]
		if !seen {
			continue
		}
		for ; i < len(m.runs) && m.runs[i].line == middle; i++ {
			r := &m.runs[i]
			from, to := m.inside(r, float64(c.aside))
			for x := from; x+c.length <= to; x += c.length {
				if slices.Min(age[x:x+c.length]) > 2*c.above && colour[x] == r.colour {
					out = append(out, patch{line: middle, from: x, to: x + c.length, colour: r.colour, border: r.border})
				}
			}
		}
	}
	return out
}

// thin keeps so many at most, evenly.
func thin[T any](list []T, most int) []T {
	if len(list) <= most {
		return list
	}
	out := make([]T, most)
	for i := range out {
		out[i] = list[i*len(list)/most]
	}
	return out
}

// A reading is the noise of one colour's patches.
type reading struct {
	sigma float64 // rms, codes
	same  float64 // part of the differences that are 0
}

// sigma measures the noise of patches of one colour.
func (m *layout) sigma(fields []*video.Field, patches []patch, c calm) reading {
	out := reading{sigma: math.Inf(1)}
	coloured := !m.grey(patches[0].colour)
	basis := m.slow(c.length, coloured)
	try := func(pairs [][2]*video.Field, down int) {
		variances := make([]float64, 0, len(patches))
		d := make([]float64, c.length)
		free := float64(c.length) - 1
		if coloured {
			free-- // a notch has already taken out one or two of what the carrier's fit takes
		}
		equal, all := 0, 0
		for _, p := range patches {
			sum := 0.0
			for _, pair := range pairs {
				a, b := pair[0].Line(p.line)[p.from:p.to], pair[1].Line(p.line + down)[p.from:p.to]
				for x := range d {
					d[x] = float64(a[x]) - float64(b[x])
					if a[x] == b[x] {
						equal++
					}
				}
				all += len(d)
				sum += residual(d, basis)
			}
			variances = append(variances, sum/free/float64(len(pairs))/2)
		}
		// The median of chi-squared of n degrees of freedom over n is (1 - 2/(9n))^3 (Wilson and Hilferty, 1931).
		shrink := 1 - 2/(9*free*float64(len(pairs)))
		v := math.Sqrt(analyse.Select(variances, len(variances)/2) / (shrink * shrink * shrink))
		if v < out.sigma {
			out = reading{sigma: v, same: float64(equal) / float64(all)}
		}
	}
	if len(fields) == 1 {
		// A comb makes neighbouring lines alike, so the third line down where there is room.
		try([][2]*video.Field{{fields[0], fields[0]}}, map[bool]int{true: 3, false: 1}[c.above > 3])
		out.sigma = min(out.sigma, math.Sqrt(about(fields[0], patches)))
		return out
	}
	for _, lag := range fieldLags {
		var pairs [][2]*video.Field
		n := len(fields) - lag
		for k := range min(n, mostPairs) {
			i := k * n / min(n, mostPairs)
			pairs = append(pairs, [2]*video.Field{fields[i], fields[i+lag]})
		}
		if len(pairs) > 0 {
			try(pairs, 0)
		}
	}
	return out
}

// slow is an orthonormal basis of what is not noise in a difference: its mean, and at a colour
// the subcarrier that a decoder left, of any phase.
func (m *layout) slow(n int, coloured bool) [][]float64 {
	raw := [][]float64{make([]float64, n)}
	for i := range n {
		raw[0][i] = 1
	}
	if coloured {
		scan := m.in.Display.Standard.Scan()
		samples := float64(scan.LineSamples) * float64(m.in.Stack.Width) / 720 * m.in.Display.LineHz()
		sin, cos := make([]float64, n), make([]float64, n)
		for i := range n {
			sin[i], cos[i] = math.Sincos(2 * math.Pi * scan.SubcarrierHz / samples * float64(i))
		}
		raw = append(raw, sin, cos)
	}
	var out [][]float64
	for _, v := range raw {
		residual(v, out)
		length := 0.0
		for _, x := range v {
			length += x * x
		}
		if length < 1e-6 {
			continue
		}
		for i := range v {
			v[i] /= math.Sqrt(length)
		}
		out = append(out, v)
	}
	return out
}

// residual takes the basis out of d, in place, and gives the squares that are left.
func residual(d []float64, basis [][]float64) float64 {
	for _, b := range basis {
		dot := 0.0
		for i, v := range b {
			dot += v * d[i]
		}
		for i, v := range b {
			d[i] -= dot * v
		}
	}
	sum := 0.0
	for _, v := range d {
		sum += v * v
	}
	return sum
}

// about is the median variance about a straight line in the patch, which counts what stands still as well.
func about(f *video.Field, patches []patch) float64 {
	var all []float64
	n := 0.0
	for _, p := range patches {
		part := f.Line(p.line)[p.from:p.to]
		n = float64(len(part))
		var s, ss, sx float64
		for k, v := range part {
			d := float64(v)
			s += d
			ss += d * d
			sx += d * (float64(k) - (n-1)/2)
		}
		all = append(all, (ss-s*s/n-sx*sx/(n*(n*n-1)/12))/(n-2))
	}
	slices.Sort(all)
	shrink := 1 - 2/(9*(n-2))
	return all[len(all)/2] / (shrink * shrink * shrink)
}

// clipped: at the ends of the scale noise is cut off and tells nothing.
func clipped(part []uint8) bool {
	for _, v := range part {
		if v <= 2 || v >= 253 {
			return true
		}
	}
	return false
}
