package signal

import (
	"math"

	"backporch/video"
)

// edgeMargin, in samples, keeps flat areas off edges: some 370 ns, past the ringing of a decoder.
const edgeMargin = 5

// fewSamples is how many flat samples the noise needs: its relative error is
// 1/sqrt(2n), 2 % or 0.2 dB.
const fewSamples = 1000

// noise is the unweighted signal-to-noise ratio in dB, 20 log10(white/sigma)
// (ITU-R BT.1439). Sigma is the rms difference of neighbouring fields over sqrt 2, about the
// mean of each run, which takes off what is slower than a line; with a single field, the rms about
// a straight line through 16 flat samples, which counts fixed patterns as well.
// Rounding alone leaves sigma = 1/sqrt 12: values above that ceiling are given as the ceiling.
func (m *layout) noise(white float64) *float64 {
	var square, free float64
	fields := m.in.Fields
	for i := 1; i < len(fields); i++ {
		if m.fits(fields[i-1]) && m.fits(fields[i]) {
			s, n := m.differences(fields[i-1], fields[i])
			if s > 0 { // equal to the last bit: a repeated field, not a quiet one
				square += s / 2
				free += n
			}
		}
	}
	if free < fewSamples && len(fields) > 0 && m.fits(fields[0]) {
		square, free = m.about(fields[0])
	}
	if free < fewSamples {
		return nil
	}
	sigma := max(math.Sqrt(square/free), 1/math.Sqrt(12))
	db := 20 * math.Log10(white/sigma)
	return &db
}

func (m *layout) fits(f *video.Field) bool {
	return f != nil && f.Width == m.in.Stack.Width && f.Height == m.in.Stack.Height && len(f.Y) >= f.Width*f.Height
}

// differences sums the squared differences of two fields in flat runs, about their means.
func (m *layout) differences(a, b *video.Field) (square, free float64) {
	for i := range m.runs {
		r := &m.runs[i]
		from, to := m.inside(r, edgeMargin)
		if to-from < 8 || clipped(a.Line(r.line)[from:to]) || clipped(b.Line(r.line)[from:to]) {
			continue
		}
		la, lb := a.Line(r.line), b.Line(r.line)
		var s, ss float64
		for x := from; x < to; x++ {
			d := float64(la[x]) - float64(lb[x])
			s += d
			ss += d * d
		}
		n := float64(to - from)
		square += ss - s*s/n
		free += n - 1
	}
	return square, free
}

// about sums the squares about straight lines of 16 samples.
func (m *layout) about(f *video.Field) (square, free float64) {
	const n = 16
	for i := range m.runs {
		r := &m.runs[i]
		from, to := m.inside(r, edgeMargin)
		for ; from+n <= to; from += n {
			part := f.Line(r.line)[from : from+n]
			if clipped(part) {
				continue
			}
			var s, ss, sx float64
			for k, v := range part {
				d := float64(v)
				s += d
				ss += d * d
				sx += d * (float64(k) - (n-1)/2.0)
			}
			const sxx = n * (n*n - 1) / 12.0
			square += ss - s*s/n - sx*sx/sxx
			free += n - 2
		}
	}
	return square, free
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
