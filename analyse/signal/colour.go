package signal

import (
	"math"

	"backporch/analyse"
)

// clippedShare is the part of the picture's samples at the top of the codes, in %, with the uncertainty of a count.
func (m *layout) clippedShare() *analyse.Estimate {
	n, all := 0, 0
	for i := range m.runs {
		r := &m.runs[i]
		from, to := m.inside(r, 0)
		for _, v := range m.in.Stack.Y[r.line*m.in.Stack.Width+from : r.line*m.in.Stack.Width+to] {
			if v >= 252.5 {
				n++
			}
			all++
		}
	}
	if all == 0 {
		return nil
	}
	part := float64(n) / float64(all)
	e := &analyse.Estimate{Value: 100 * part, Spread: math.Max(100*math.Sqrt(part*(1-part)/float64(all)), leastShare), Limit: "codes"}
	if m.in.Levels.Full {
		e.Limit = "device" // it puts white itself at the codes' end
	}
	return e
}

// leastShare, %: a letter or two that peaking drives to the end are no clipping (common practice, no source).
const leastShare = 0.05

// edgeZone is how far to either side of an edge dot crawl and cross-colour are looked for, samples.
const edgeZone = 4

// Both of these are mostly the doing of the device's filters, and of the picture: without its calibration no fault of a machine.

// crawl is what moves at edges beyond the noise of flat areas: rms of luma over the fields, in % of white.
func (m *layout) crawl(white float64) *analyse.Estimate {
	if m.in.Stack.VarY == nil || m.in.Stack.N < 4 {
		return nil
	}
	var near, flat, nNear, nFlat float64
	m.eachEdge(false, func(line, from, to int, edge bool) {
		for _, v := range m.in.Stack.VarY[line*m.in.Stack.Width+from : line*m.in.Stack.Width+to] {
			if edge {
				near += float64(v)
				nNear++
			} else {
				flat += float64(v)
				nFlat++
			}
		}
	})
	if nNear < fewSamples || nFlat < fewSamples {
		return nil
	}
	more := near/nNear - flat/nFlat
	// A variance over n fields is uncertain by sqrt(2/(n-1)) of itself.
	spread := near / nNear * math.Sqrt(2/float64(m.in.Stack.N-1)/math.Sqrt(nNear))
	v := math.Sqrt(math.Max(0, more))
	return &analyse.Estimate{Value: 100 * v / white, Spread: 100 * math.Min(spread/math.Max(2*v, 0.5), 5) / white, Limit: "device"}
}

// crossColour is chroma at edges between greys, rms in % of white, less that of flat greys. One field counts: the
// mean of many has lost what moves.
func (m *layout) crossColour(white float64) *analyse.Estimate {
	if len(m.in.Fields) == 0 || m.in.Stack.ChromaWidth == 0 {
		return nil
	}
	f := m.in.Fields[0]
	if !m.fits(f) || len(f.Cb) < f.ChromaWidth*f.Height {
		return nil
	}
	var near, flat, nNear, nFlat float64
	m.eachEdge(true, func(line, from, to int, edge bool) {
		for x := from * f.ChromaWidth / f.Width; x < to*f.ChromaWidth/f.Width; x++ {
			i := line*f.ChromaWidth + x
			v := square(0.8736*(float64(f.Cb[i])-128)) + square(1.2296*(float64(f.Cr[i])-128))
			if edge {
				near += v
				nNear++
			} else {
				flat += v
				nFlat++
			}
		}
	})
	if nNear < fewSamples/2 || nFlat < fewSamples/2 {
		return nil
	}
	v := math.Sqrt(math.Max(0, near/nNear-flat/nFlat)) / 224 * 219 // chroma codes to luma codes
	return &analyse.Estimate{Value: 100 * v / white, Spread: 100 * math.Max(0.1, v/math.Sqrt(nNear/8)) / white, Limit: "device"}
}

// eachEdge calls f for the samples beside edges and for those well off any; with greys only edges between greys.
func (m *layout) eachEdge(greys bool, f func(line, from, to int, edge bool)) {
	for i := 1; i < len(m.runs); i++ {
		a, b := &m.runs[i-1], &m.runs[i]
		if a.line != b.line || math.Abs(a.to-b.from) > 1e-6 || greys && !(m.grey(a.colour) && m.grey(b.colour)) {
			continue
		}
		if from, to := int(a.to)-edgeZone, int(a.to)+edgeZone; from >= 0 && to <= m.in.Stack.Width {
			f(a.line, from, to, true)
		}
		if from, to := m.inside(a, 3*edgeZone); to > from {
			f(a.line, from, to, false)
		}
	}
}
