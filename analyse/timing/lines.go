package timing

import (
	"math"
	"sort"

	"backporch/video"
)

// placement is how the lines lie side by side, in samples.
type placement struct {
	jitter *float64 // rms of a line's place about its mean over the fields
	tear   *float64 // greatest step between neighbouring bands of lines in one field
	lost   float64  // part of the lines with edges that have no place near the mean
	ends   bool     // the border's ends against blanking show
	after  []pairs  // how far the lines of each field go with those before them
}

const (
	bandLines = 8  // lines of a band, for tear
	nearby    = 4  // samples that a line is looked for to either side at first
	farthest  = 48 // samples, if it isn't there
	minLines  = 16 // fewer lines with a place tell nothing
	runFields = 8  // fields whose mean is taken
	farFields = 6  // fields spread over the capture
	lineStep  = 2  // every second line is looked at
	// endsDiffer, in samples: by more than this the border's ends and the picture's edges disagree.
	endsDiffer = 0.3
	lags       = 4 // samples over which the noise of neighbours goes together
)

// lines measures the place of every line of some fields against the mean of these
// fields, by least squares on the gradient g of the mean m:
//
//	d = -sum(g (f - m)) / sum(g g)
//
// Noise of variance s^2 and correlation r(k) over k samples gives d the variance
//
//	var d = s^2 sum_k r(k) sum_x(g(x) g(x+k)) / (sum g^2)^2
//
// which for white noise is the Cramér-Rao bound s^2/sum(g^2). It is taken off the
// variance seen. A line displaced further is first looked for by cross-correlation.
func lines(fields []*video.Field, v vertical, noise float64) placement {
	var out placement
	runs := steadyRuns(fields, v)
	for _, run := range runs {
		here := inRun(fields, run, v, noise)
		if here.jitter != nil {
			if out.jitter != nil {
				*here.jitter = math.Sqrt((*here.jitter**here.jitter + *out.jitter**out.jitter) / 2)
			}
			out.jitter = here.jitter
		}
		if here.tear != nil && (out.tear == nil || *here.tear > *out.tear) {
			out.tear = here.tear
		}
		out.lost += here.lost / float64(len(runs))
	}
	e := borderEnds(fields, noise)
	out.ends = e.seen
	if n := len(fields); n > runFields && !v.steady && e.tear == nil { // a tear that stands for a while shows between fields far apart
		far := make([]int, 0, farFields)
		for k := range farFields {
			far = append(far, k*(n-1)/(farFields-1))
		}
		if t := inRun(fields, far, v, noise).tear; t != nil && (out.tear == nil || *t > *out.tear) {
			out.tear = t
		}
	}
	// The ends see what stands still as well, and nothing of what flickers in the picture; the picture's
	// edges are many and tell finer.
	if e.tear != nil {
		out.tear = e.tear
	}
	if e.jitter != nil && (out.jitter == nil || math.Abs(*e.jitter-*out.jitter) > endsDiffer) {
		out.jitter = e.jitter
	}
	return out
}

// steadyRuns picks up to two runs of neighbouring fields, apart in time, in which the
// picture changes as little as it mostly does: at a flash or a new screen the mean would be of two
// pictures.
func steadyRuns(fields []*video.Field, v vertical) [][]int {
	n := len(fields)
	changes := make([]float64, n) // of field i from the one before
	sorted := make([]float64, 0, n)
	for i := 1; i < n; i++ {
		changes[i] = change(fields[i-1], fields[i], int(math.Round(v.at[i]-v.at[i-1])))
		sorted = append(sorted, changes[i])
	}
	sort.Float64s(sorted)
	bound := math.Inf(1)
	if len(sorted) > 2 {
		bound = 2*sorted[len(sorted)/2] + 1
	}
	longest := func(from, to int) []int {
		start, first, last := from, from, from
		for i := from + 1; i <= to; i++ {
			if i < to && changes[i] <= bound && i-start < runFields {
				continue
			}
			if i-start > last-first {
				first, last = start, i
			}
			start = i
		}
		run := make([]int, 0, last-first)
		for i := first; i < last; i++ {
			run = append(run, i)
		}
		return run
	}
	if n <= 3*runFields {
		return [][]int{longest(0, n)}
	}
	return [][]int{longest(0, n/2), longest(n/2, n)}
}

// change is the mean square difference on a lattice, b moved up by d lines.
func change(a, b *video.Field, d int) float64 {
	sum, n := 0, 0
	for y := max(0, d); y < min(b.Height, b.Height+d); y += 4 {
		la, lb := a.Line(y-d), b.Line(y)
		for x := y / 4 % 5; x < len(la); x += 5 {
			e := int(la[x]) - int(lb[x])
			sum += e * e
			n++
		}
	}
	return float64(sum) / float64(max(1, n))
}

// inRun measures the lines of one run of fields.
func inRun(fields []*video.Field, pick []int, v vertical, noise float64) placement {
	m := &mean2D{width: fields[0].Width, height: fields[0].Height}
	shifts := make([][]float64, len(pick)) // by picked field and line of the mean; NaN: no place
	for k := range shifts {
		shifts[k] = make([]float64, m.height)
	}
	var out placement
	for pass := range 3 {
		m.stack(fields, pick, v, shifts)
		if pass == 0 {
			m.markColour(fields, pick, v)
		}
		if len(pick) < 2 {
			break
		}
		out = m.place(fields, pick, v, noise, shifts)
		if out.jitter == nil || *out.jitter < 0.4 {
			break // the mean is sharp; otherwise lay the lines in place and measure again
		}
	}
	if out.jitter == nil { // too few lines have edges above the noise
		return out
	}
	for k := range shifts {
		// Every second line has a place, if any.
		list := bands(shifts[k], bandLines)
		if t := tear(list, list); t != nil && (out.tear == nil || *t > *out.tear) {
			out.tear = t
		}
	}
	return out
}

// placed is one line in the fields where it has a place.
type placed struct {
	y     int
	d2, n float64           // sum of squared displacements, fields
	g     [lags + 1]float64 // products of its gradient
}

// place fills shifts and gives the jitter that is left when the noise's part is taken off.
func (m *mean2D) place(fields []*video.Field, pick []int, v vertical, noise float64, shifts [][]float64) placement {
	g, f := make([]float32, m.width), make([]float32, m.width)
	var sumD, sumCrude, n float64 // of d^2; of sum_k r(k) G(k) / G(0)^2, per unit of noise variance
	var edgeSquare, edgeFree float64
	var flat [lags + 1]float64
	tried, lost := 0, 0
	var gathered []placed
	for y := range m.height {
		if m.count[y] < 2 || y%lineStep > 0 {
			for k := range shifts {
				shifts[k][y] = math.NaN()
			}
			continue
		}
		ref := m.line(y)
		laid := newReference(ref)
		corr, masked := gradient(g, ref, m.coloured[y*m.width:], max(2, 4*noise/math.Sqrt(2*float64(m.count[y]))))
		here := placed{y: y, g: corr}
		for k, i := range pick {
			from := y + int(math.Round(v.at[i]-v.at[pick[0]]))
			if corr[0] < max(minGradient, 16*noise*noise) || // noise alone would displace it by a quarter sample
				from < 0 || from >= m.height {
				shifts[k][y] = math.NaN()
				continue
			}
			tried++
			laid.level(f, fields[i].Line(from))
			d, left, ok := locate(f, ref, g, corr[0], noise)
			if !ok {
				shifts[k][y] = math.NaN()
				lost++
				continue
			}
			shifts[k][y] = d
			here.d2 += d * d
			here.n++
			if math.Abs(d) < 0.7 {
				edgeSquare += left
				edgeFree += float64(masked - 1)
				if y%8 == 0 {
					covariances(&flat, f, ref, g)
				}
			}
		}
		if here.n >= 2 {
			gathered = append(gathered, here)
		}
	}
	out := placement{}
	if 4*tried*lineStep >= m.height*len(pick) { // a few lines with edges are no picture
		out.lost = float64(lost) / float64(tried)
	}
	sigma2 := 0.0
	if edgeFree > 0 {
		sigma2 = edgeSquare / edgeFree
	}
	for _, l := range gathered {
		share := l.g[0]
		for k := 1; k <= lags && flat[0] > 0; k++ {
			share += 2 * flat[k] / flat[0] * l.g[k]
		}
		crude := max(0, share) / l.g[0] / l.g[0]
		if sigma2*crude > 0.25*0.25 { // a line whose noise alone displaces it by a quarter sample says little
			for k := range shifts {
				shifts[k][l.y] = math.NaN()
			}
			continue
		}
		sumD += l.d2
		sumCrude += crude * (l.n - 1) // both are about the mean of n: n-1 free
		n += l.n - 1
	}
	for _, l := range shifts {
		out.after = append(out.after, pairsIn(l, 1-1/float64(len(pick)))) // about the mean of as many
	}
	if n >= minLines {
		// sigma2 was measured about the mean as well, and is short by (n-1)/n alike.
		j := math.Sqrt(max(0, (sumD-sigma2*sumCrude)/n))
		out.jitter = &j
	}
	return out
}

// minGradient, codes squared a sample squared: two edges of a quarter of white (55 codes) over three samples.
// What a decoder leaves of the subcarrier moves lower ones about, as it differs from field to field.
const minGradient = 2 * 55 * 55 / 3

// gradient puts the slope of ref into g, zero where it could be noise or the colour changes, and
// returns its sums of products over 0 to lags samples and how many samples count.
func gradient(g, ref []float32, coloured []bool, threshold float64) (corr [lags + 1]float64, n int) {
	t := float32(threshold)
	g[0], g[len(g)-1] = 0, 0
	for x := 1; x < len(ref)-1; x++ {
		v := (ref[x+1] - ref[x-1]) / 2
		if v < t && v > -t || coloured[x] {
			g[x] = 0
			continue
		}
		g[x] = v
		n++
		for k := 0; k <= min(lags, x); k++ {
			corr[k] += float64(v * g[x-k])
		}
	}
	return corr, n
}

// covariances adds up the products of neighbouring differences where the mean is flat.
func covariances(sum *[lags + 1]float64, f, ref, g []float32) {
	out, run := *sum, 0
	for x, m := range ref {
		if g[x] != 0 {
			run = 0
			continue
		}
		if run++; run > lags {
			d := f[x] - m
			for k := range out {
				out[k] += float64(d) * float64(f[x-k]-ref[x-k])
			}
		}
	}
	*sum = out
}
