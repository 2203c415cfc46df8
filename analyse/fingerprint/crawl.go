package fingerprint

import (
	"math"
	"math/cmplx"
	"sort"

	"gonum.org/v1/gonum/dsp/fourier"

	"backporch/video"
	"backporch/video/display"
)

// A Crawl is how the subcarrier's phase moves against the lines, from field to field.
type Crawl struct {
	Step   float64 // cycles a field, 0 to 1: the whole cycles do not show
	SD     float64 // of Step
	Fields int     // that it was taken from
	// Tone is the power at that step over what noise would give; it is only reported where that is
	// sure.
	Tone   float64
	colour bool   // taken from luma that was read as colour
	tiles  []tile // where it shows
	still  *still
}

// A tile is a piece of a line in which the subcarrier is looked for.
type tile struct {
	x, y int
	amp  complex64 // of the tone at the time of field 0, less what the subcarrier's turn over x accounts for
	snr  float32
}

// Tiles are tileWidth samples wide under a raised cosine, tileStep apart.
const (
	tileWidth = 16
	tileStep  = 8
)

// tones are the tiles that take part in the search, the strongest of them in the fit.
const (
	searchTiles = 3000
	fitTiles    = 1500
)

// fewestFields for a step: fewer give no line of their own among the others.
const fewestFields = 12

// surest is the power of a tone over noise below which it is none. Under noise alone the largest of
// all frequencies is of a chi-square sum of thousands of tiles, which stays within a few per cent of
// its mean; what decides is that tiles differ. Common practice, no source.
const surest = 1.5

// MeasureCrawl finds the step at which the subcarrier's phase turns from field to field.
//
// A device samples lock to the line: sample x of line n is at n + x/N lines, N being 864 or 858,
// whatever the machine's line frequency. Subcarrier that its filters leave in luma at coloured edges
// thus stands at the phase r(n + x/N + L k) in field k, r being subcarrier over line frequency and
// L the lines of a field: one complex tone in all such places, of r L cycles a field. Luma that it
// reads as colour, the rainbow on fine black and white text, turns the other way. Both show in
// files as well as live, and no clock of the device or the computer comes into it.
//
// Nil where there is none: on even pictures, behind a decoder that leaves nothing, in a codec that
// drops what is fine, and where one crystal makes both clocks so that the dots stand still.
func MeasureCrawl(fields []*video.Field, standard video.Standard) *Crawl {
	when := times(fields)
	if len(fields) < fewestFields || when == nil {
		return nil
	}
	d := newDemodulator(fields[0], standard)
	if d == nil {
		return nil
	}
	span := when[len(when)-1] + 1
	size := 1
	for size < 4*span {
		size *= 2
	}
	// What alternates with the fields is the device's doing, what flashes the machine's: each group of
	// fields is taken less its own mean.
	group := flashing(fields, when)
	for k := range group {
		group[k] = 2*group[k] + when[k]%2
	}
	var best *Crawl
	var tiles []series
	for _, colour := range []bool{false, true} {
		series := d.read(fields, group, colour)
		if len(series) == 0 {
			continue
		}
		step, tone := search(series, when, size)
		// Close to standing still, or to every other field, little of it is left.
		if tone < surest || min(step, 1-step, math.Abs(step-0.5)) < 1/float64(span) {
			continue
		}
		if best == nil || tone > best.Tone { // more tiles show it
			best, tiles = &Crawl{Step: step, Tone: tone, Fields: len(fields), colour: colour}, series
		}
	}
	if best != nil {
		best.still = mean(fields)
		best.fit(tiles, when, group)
	}
	return best
}

// times numbers the machine's fields: two a frame where frames are woven, so that dropped frames
// leave gaps. Nil when the numbers do not rise.
func times(fields []*video.Field) []int {
	woven := false
	for i := 1; i < len(fields); i++ {
		woven = woven || fields[i].Frame == fields[i-1].Frame
	}
	out := make([]int, len(fields))
	for i, f := range fields {
		out[i] = f.Frame - fields[0].Frame
		if woven {
			out[i] *= 2
			if i > 0 && fields[i-1].Frame == f.Frame {
				out[i]++
			}
		}
		if i > 0 && out[i] <= out[i-1] {
			return nil
		}
	}
	return out
}

// flashing gives the phase of flashing cells in each field, 0 or 1; all 0 where nothing flashes.
func flashing(fields []*video.Field, when []int) []int {
	phase := make([]int, len(fields))
	// By place in the period of 16 fields: samples that jump there, and how often it was looked at.
	var jumps, looks [display.FlashFields]float64
	for k := 1; k < len(fields); k++ {
		if when[k] != when[k-1]+1 || len(fields[k].Y) != len(fields[k-1].Y) {
			continue
		}
		n := 0
		for i := k % 4; i < len(fields[k].Y); i += 4 {
			if d := int(fields[k].Y[i]) - int(fields[k-1].Y[i]); d > 40 || d < -40 {
				n++
			}
		}
		jumps[when[k]%display.FlashFields] += float64(n)
		looks[when[k]%display.FlashFields]++
	}
	at, rest, of := 0, 0.0, 0.0
	for i := range jumps {
		if looks[i] > 0 && (looks[at] == 0 || jumps[i]/looks[i] > jumps[at]/looks[at]) {
			at = i
		}
	}
	for i := range jumps {
		if i != at {
			rest, of = rest+jumps[i], of+looks[i]
		}
	}
	if looks[at] == 0 || of == 0 || jumps[at]/looks[at] < 10+4*rest/of {
		return phase
	}
	for k := range phase {
		phase[k] = (when[k] - at + 4*display.FlashFields) / display.FlashFields % 2
	}
	return phase
}

// search finds the frequency at which the tiles' power spectra, each taken as a part of its own
// power, add up highest. So no tile outshouts the others, whatever else moves there.
func search(all []series, when []int, size int) (step, tone float64) {
	fft := fourier.NewCmplxFFT(size)
	sum := make([]float64, size)
	in, out := make([]complex128, size), make([]complex128, size)
	for i := range all {
		clear(in)
		total := 0.0
		for k, z := range all[i].z {
			in[when[k]] = complex128(z)
			total += sq(complex128(z))
		}
		if total == 0 {
			continue
		}
		fft.Coefficients(out, in)
		for n, c := range out {
			sum[n] += sq(c) / total
		}
	}
	best, mean := 0, 0.0
	for n, v := range sum {
		mean += v / float64(size)
		if v > sum[best] {
			best = n
		}
	}
	if mean == 0 {
		return 0, 0
	}
	// A parabola through the peak.
	a, b, c := sum[(best+size-1)%size], sum[best], sum[(best+1)%size]
	shift := 0.0
	if q := a - 2*b + c; q < 0 {
		shift = (a - c) / (2 * q)
	}
	return wrap((float64(best) + shift) / float64(size)), sum[best] / mean
}

func sq(z complex128) float64 { return real(z)*real(z) + imag(z)*imag(z) }

func wrap(x float64) float64 { return x - math.Floor(x) }

// fit refines the step: the tiles that show the tone well are added up in phase, and a line is laid
// through the phase of that sum over the fields (Tretter, IEEE Trans. Information Theory 31, 1985,
// from memory). The spread is that of the residuals, or of the slopes of the quarters where those
// say more: a phase that wanders does.
//
// The means that were taken off the tiles held a part of the tone too; at the step found so far,
// tone and means are fitted together.
func (c *Crawl) fit(all []series, when, group []int) {
	n := len(when)
	var of [groups]complex128
	for _, g := range group {
		of[g]++
	}
	for range 4 {
		turn := make([]complex128, n) // against the tone
		bare := make([]complex128, n) // the tone less its means
		var means [groups]complex128
		for k := range turn {
			turn[k] = cmplx.Rect(1, -2*math.Pi*wrap(c.Step*float64(when[k])))
			means[group[k]] += cmplx.Conj(turn[k]) / of[group[k]]
		}
		energy := 0.0
		for k := range turn {
			bare[k] = cmplx.Conj(turn[k]) - means[group[k]]
			energy += sq(bare[k])
		}
		c.tiles = c.tiles[:0]
		for i := range all {
			var amp complex128
			total := 0.0
			for k, z := range all[i].z {
				amp += complex128(z) * cmplx.Conj(bare[k])
				total += sq(complex128(z))
			}
			amp /= complex(max(energy, 1e-9), 0)
			noise := max(total-sq(amp)*energy, 1e-9*float64(n)) / float64(n)
			c.tiles = append(c.tiles, tile{x: all[i].x, y: all[i].y, amp: complex64(amp), snr: float32(sq(amp) / noise)})
		}
		order := make([]int, len(c.tiles))
		for i := range order {
			order[i] = i
		}
		sort.Slice(order, func(i, k int) bool { return c.tiles[order[i]].snr > c.tiles[order[k]].snr })
		order = order[:min(len(order), fitTiles)]
		phases := make([]float64, n)
		for k := range phases {
			var sum complex128
			for _, i := range order {
				t := &c.tiles[i]
				a := complex128(t.amp)
				w := float64(t.snr) / max(sq(a), 1e-12)
				whole := complex128(all[i].z[k]) + a*means[group[k]]
				sum += whole * cmplx.Conj(a) * complex(w, 0) * turn[k]
			}
			phases[k] = cmplx.Phase(sum) / (2 * math.Pi)
		}
		slope, sd := line(when, phases)
		c.Step = wrap(c.Step + slope)
		c.SD = sd
		for q := 0; q < 4 && n >= 4*fewestFields; q++ {
			from, to := q*n/4, (q+1)*n/4
			part, _ := line(when[from:to], phases[from:to])
			// A quarter's slope is 8 times as uncertain as the whole's; four of them.
			c.SD = max(c.SD, math.Abs(part-slope)/8/2)
		}
	}
}

// line is the least-squares slope of y over x and its standard deviation.
func line(x []int, y []float64) (slope, sd float64) {
	n := float64(len(x))
	var mx, my float64
	for i := range x {
		mx += float64(x[i]) / n
		my += y[i] / n
	}
	var sxx, sxy float64
	for i := range x {
		sxx += (float64(x[i]) - mx) * (float64(x[i]) - mx)
		sxy += (float64(x[i]) - mx) * (y[i] - my)
	}
	if sxx == 0 || n < 3 {
		return 0, math.Inf(1)
	}
	slope = sxy / sxx
	rss := 0.0
	for i := range x {
		e := y[i] - my - slope*(float64(x[i])-mx)
		rss += e * e
	}
	return slope, math.Sqrt(rss / (n - 2) / sxx)
}
