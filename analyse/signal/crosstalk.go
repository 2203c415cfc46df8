package signal

import (
	"math"
	"slices"

	"backporch/analyse"
	"backporch/video"
)

// Dot crawl is luma that moves beside edges, cross-colour chroma that shows beside edges between greys. Both are mostly the doing of the device's filters, and
// of the picture: without its calibration no fault of a machine.

// How far to either side of an edge they are looked for, how far off edges nothing of them is left, and how far from colours chroma is no longer theirs: past
// the response of a chroma filter of half a megahertz, samples. And how many samples are followed at the most.
const (
	edgeZone   = 4
	offEdge    = 12
	offColour  = 24
	mostTraced = 1200
	leastTrace = 12 // fields over which movement is parted from noise
)

// The least that they are uncertain by, codes: rounding to whole ones; and what a codec's own errors move about an edge, as a part of the noise there.
const (
	roundedOff  = 0.1
	codecMoves  = 0.3
	codecColour = 1.0 // codes of chroma, that a codec makes of an edge of luma
)

// A sampled is a sample, of luma or of chroma.
type sampled struct{ line, x int }

// places gives the samples beside edges, each once, and those well off any; with greys only those about greys that no colour is near.
func (m *layout) places(greys bool) (near, flat []sampled) {
	width := m.in.Stack.Width
	to, ban := make([]float64, width), make([]bool, width)
	for i := 0; i < len(m.runs); {
		end := i + 1
		for end < len(m.runs) && m.runs[end].line == m.runs[i].line {
			end++
		}
		runs := m.runs[i:end]
		i = end
		for x := range to { // how far the next edge is; what is not known is none
			to[x], ban[x] = -1, false
		}
		mark := func(from, end float64, f func(x int)) {
			for x := max(0, int(math.Ceil(from))); x < min(width, int(math.Floor(end))+1); x++ {
				f(x)
			}
		}
		for k, r := range runs {
			mark(r.from, r.to, func(x int) {
				to[x] = math.Inf(1)
				if k > 0 && runs[k-1].to > r.from-1e-6 {
					to[x] = math.Min(to[x], float64(x)-r.from)
				}
				if k+1 < len(runs) && runs[k+1].from < r.to+1e-6 {
					to[x] = math.Min(to[x], r.to-float64(x))
				}
			})
			if greys && !m.grey(r.colour) {
				mark(r.from-offColour, r.to+offColour, func(x int) { ban[x] = true })
			}
			if k > 0 && runs[k-1].to < r.from-1e-6 { // what is left out may be anything
				mark(runs[k-1].to-offColour, r.from+offColour, func(x int) { ban[x] = true })
			}
		}
		line := runs[0].line
		// The border's ends fade.
		first, last := runs[0].from+offColour, runs[len(runs)-1].to-offColour
		for x, d := range to {
			switch {
			case d < 0 || ban[x] || float64(x) < first || float64(x) > last:
			case d <= edgeZone:
				near = append(near, sampled{line, x})
			case d > offEdge:
				flat = append(flat, sampled{line, x})
			}
		}
	}
	return near, flat
}

// A movement is the mean square over time of what samples do, codes squared: what stands still, what moves beyond noise, and the noise.
type movement struct {
	still, moves, noise float64
	turns               float64 // what goes to and fro from field to field, where that is parted from the rest
}

// follow parts what samples do over fields: noise is the same at all frequencies, what crawls is at one or two, so that the lower quartile of all is the
// noise's. A codec makes another error of every second field, whose lines lie elsewhere in its blocks: with parted, what they do alike does not count.
func follow(series [][]float64, parted bool) (out movement) {
	if len(series) == 0 {
		return out
	}
	n := len(series[0])
	window, squares := make([]float64, n), 0.0
	for i := range window { // Hann's, so that what crawls is not about everywhere
		window[i] = 1 - math.Cos(2*math.Pi*(float64(i)+0.5)/float64(n))
		squares += square(window[i])
	}
	power := make([]float64, n/2+1)
	steps := 1
	if parted {
		steps = 2
	}
	still, varies := 0.0, 0.0
	for _, s := range series {
		all, means := 0.0, [2]float64{}
		for first := range steps {
			mean, count := 0.0, 0.0
			for i := first; i < n; i += steps {
				mean += s[i]
				count++
			}
			mean /= count
			all += mean / float64(steps)
			means[first] = mean
			for i := first; i < n; i += steps {
				s[i] -= mean
				varies += square(s[i]) / float64(n-steps) / float64(len(series))
			}
		}
		still += square(all) / float64(len(series))
		out.turns += square(means[0]-all) / float64(len(series))
		for k := range power {
			sin, cos := math.Sincos(2 * math.Pi * float64(k) / float64(n))
			var re, im float64
			a, b := 1.0, 0.0
			for i, v := range s {
				re += a * v * window[i]
				im += b * v * window[i]
				a, b = a*cos-b*sin, a*sin+b*cos
			}
			power[k] += (re*re + im*im) / squares / float64(len(series))
		}
	}
	between := power[2 : len(power)-1] // without what the means and the halves took
	slices.Sort(between)
	out.noise = between[(len(between)-1)/4]
	out.still = math.Max(0, still-out.noise/float64(n))
	out.moves = math.Max(0, varies-out.noise) * float64(n-steps) / float64(n)
	return out
}

// crawl is what moves at edges: rms of luma over the fields, in % of white.
func (m *layout) crawl(white float64) *analyse.Estimate {
	fields := m.usable()
	near, _ := m.places(false)
	if len(fields) < leastTrace || len(near) < fewSamples {
		return nil
	}
	fields = fields[:min(len(fields), 32)]
	series := make([][]float64, 0, mostTraced)
	for _, at := range thin(near, mostTraced) {
		s := make([]float64, len(fields))
		for i, f := range fields {
			s[i] = float64(f.Line(at.line)[at.x])
		}
		series = append(series, s)
	}
	coded := m.in.Path != nil && m.in.Path.codec != nil
	q := follow(series, coded)
	open := q.noise * math.Sqrt(2/float64(len(fields)-1)/math.Sqrt(float64(len(series))))
	if coded {
		open = math.Hypot(open, codecMoves*q.noise)
	}
	e := crosstalkOf(q.moves, open, white)
	if e != nil && 100*math.Sqrt(q.turns)/white > e.Value+2*e.Spread {
		e.Limit = "codec" // or dots that turn from field to field
	}
	return e
}

// crosstalkOf is the root of a mean square, codes, in % of white.
func crosstalkOf(squares, open, white float64) *analyse.Estimate {
	v := math.Sqrt(math.Max(0, squares))
	spread := math.Min(open/math.Max(2*v, 1e-9), math.Sqrt(open))
	return &analyse.Estimate{Value: 100 * v / white, Spread: 100 * math.Hypot(math.Hypot(spread, roundedOff), 0.03*v) / white, Limit: "device"}
}

// crossColour is chroma at edges between greys, rms in % of white, less that of greys off edges and of noise.
func (m *layout) crossColour(white float64, steps *analyse.Steps) *analyse.Estimate {
	if m.in.Stack.ChromaWidth == 0 {
		return nil
	}
	var fields []*video.Field
	for _, f := range m.usable() {
		if len(f.Cb) >= f.ChromaWidth*f.Height && len(f.Cr) >= f.ChromaWidth*f.Height && f.ChromaWidth == m.in.Stack.ChromaWidth {
			fields = append(fields, f)
		}
	}
	near, flat := m.places(true)
	wide := m.in.Stack.Width / m.in.Stack.ChromaWidth
	between := func(at sampled) bool { return at.x%wide != 0 } // two samples of chroma
	near, flat = slices.DeleteFunc(near, between), slices.DeleteFunc(flat, between)
	if len(fields) < leastTrace || len(near) < fewSamples || len(flat) < fewSamples {
		return nil
	}
	fields = fields[:min(len(fields), 32)]
	of := func(list []sampled) (out movement) {
		var series [][]float64
		for _, at := range thin(list, mostTraced) {
			u, v := make([]float64, len(fields)), make([]float64, len(fields))
			for i, f := range fields {
				c := at.line*f.ChromaWidth + at.x/wide
				u[i], v[i] = 0.8736*(float64(f.Cb[c])-128), 1.2296*(float64(f.Cr[c])-128)
			}
			series = append(series, u, v)
		}
		q := follow(series, steps != nil)
		return movement{2 * (q.still + q.turns), 2 * q.moves, 2 * q.noise, 0}
	}
	edge, off := of(near), of(flat)
	squares := edge.still + edge.moves - off.still - off.moves
	open := (edge.noise + off.noise) * math.Sqrt(2/float64(len(fields)-1)/math.Sqrt(float64(len(near))))
	if steps != nil {
		open = math.Hypot(open, codecMoves*edge.noise)
	}
	by := 219.0 / 224 // codes of chroma to those of luma
	e := crosstalkOf(squares*by*by, open*by*by, white)
	if steps != nil {
		e.Spread = math.Hypot(e.Spread, 100*codecColour/2/white)
	}
	return e
}
