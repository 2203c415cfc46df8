package signal

import (
	"math"
	"math/cmplx"

	"backporch/analyse"
	"backporch/analyse/grid"
)

// The border's left end is an edge of its own: every line begins with it, nothing else is near, and no pixel need be
// read nor the picture be placed. What follows it is the path's response alone.
const (
	leastOnset  = 12.0  // codes from blanking to border: less drowns in rounding and in a codec's steps
	plainOnset  = 40.0  // codes by which it tells sizes as well as the picture does
	onsetParts  = 6     // groups of lines whose scatter is the uncertainty
	onsetFloor  = 0.006 // of a step of 60 codes: rounding, alike in all lines
	codecNear   = 2.0   // codes that a codec of blocks of 8 samples errs by where an edge is in them, and
	codecFar    = 0.4   // elsewhere
	codecQuiet  = 0.15  // codes squared: less noise than analogue signals have is a codec's doing
	cutLevel    = 251.0 // codes: what is above is cut off, and
	cutTap      = 0.02  // taps there are as uncertain
	onsetSettle = 48    // samples after the end of the device's window from which the border is level: 3.5 us
)

// onset is the response as the border's left end shows it on the lines above and below the picture; nil where the capture does not
// begin with blanking, or the border is as dark.
func (f frame) onset(s *analyse.Stack, pixel float64) *response {
	if s == nil || s.Width != f.width || f.from+onsetSettle+100 > f.to-40 {
		return nil
	}
	var lines []int
	for _, y := range f.lines() {
		if y >= 0 && y < s.Height {
			lines = append(lines, y)
		}
	}
	if len(lines) < 2*onsetParts {
		return nil
	}
	all := make([]float32, f.to)
	parts := make([][]float32, onsetParts)
	for k := range parts {
		parts[k] = make([]float32, f.to)
		n := float32(0)
		for i := k; i < len(lines); i += onsetParts {
			for x, v := range s.Y[lines[i]*s.Width : lines[i]*s.Width+f.to] {
				parts[k][x] += v
			}
			n++
		}
		for x := range parts[k] {
			parts[k][x] /= n
			all[x] += parts[k][x] / onsetParts
		}
	}
	base := float64(all[1]+all[2]+all[3]) / 3
	level, ripple := 0.0, 0.0
	flat := all[f.from+onsetSettle : f.to-40]
	for _, v := range flat {
		level += float64(v) / float64(len(flat))
	}
	for _, v := range flat {
		ripple += square(float64(v)-level) / float64(len(flat))
	}
	size := level - base
	if math.Abs(size) < leastOnset || level > cutLevel { // cut off, it says nothing of what comes after
		return nil
	}
	at := -1
	for x := 8; x <= f.from+12; x++ {
		if (float64(all[x])-base)/size >= 0.5 {
			if (float64(all[x-1])-base)/size < 0.5 { // otherwise the border begins too near to the capture's end for its level before to be known
				at = x
			}
			break
		}
	}
	if at < 0 {
		return nil
	}
	before, after := (float64(all[at-1])-base)/size, (float64(all[at])-base)/size
	half := float64(at-1) + (0.5-before)/math.Max(after-before, 1e-6)
	if math.Abs(float64(all[5])-base) > math.Max(2, 0.05*math.Abs(size)) && at > 12 {
		return nil // blanking is no level here
	}
	pitch := f.p.PitchX(f.width)
	n := 2*responseLen + 2
	sampler := grid.NewSampler(half-(beforePx+0.5)*pitch-pitch/4, pitch/2, 0, n)
	out := &response{pixel: pixel, size: math.Abs(size), lasting: f.carrierTaps(flat, level, pixel) / math.Abs(size)}
	steps := make([]float32, n)
	var squares [2 * responseLen]float64
	ripple = math.Sqrt(ripple) / math.Abs(size)
	near, far := 0.0, 0.0
	if f.quiet(s, lines) {
		near, far = codecNear/math.Abs(size), codecFar/math.Abs(size)
	}
	for _, part := range parts {
		sampler.Line(steps, part)
		for i := range out.taps {
			v := float64(steps[i+2]-steps[i]) / size
			out.taps[i] += v / onsetParts
			squares[i] += v * v
		}
	}
	for i := range out.taps {
		variance := math.Max(0, squares[i]-onsetParts*square(out.taps[i])) / (onsetParts - 1) / onsetParts
		// Where a subcarrier that the decoder leaves begins, it is greater than on the level.
		leak := ripple * (1 + 3*math.Exp(-math.Max(0, out.at(i)*pixel)/250))
		codec := far
		if at := out.at(i) * pitch; at > -8 && at < 10 {
			codec = near
		}
		out.sigma[i] = math.Sqrt(variance + square(leak) + square(codec) + square(onsetFloor*math.Max(1, 60/math.Abs(size))))
		for _, t := range [2]float64{out.at(i) - 0.5, out.at(i) + 0.5} {
			if x := int(math.Round(half + t*pitch)); x >= 0 && x < len(all) && all[x] > cutLevel {
				out.sigma[i] = math.Hypot(out.sigma[i], cutTap)
			}
		}
	}
	return out
}

// quiet tells whether the border hardly has noise: then a codec has taken it, and has left its own errors.
func (f frame) quiet(s *analyse.Stack, lines []int) bool {
	if s.VarY == nil {
		return false
	}
	sum, n := 0.0, 0.0
	for _, y := range lines {
		for _, v := range s.VarY[y*s.Width+f.from+onsetSettle : y*s.Width+f.to-40] {
			sum += float64(v)
			n++
		}
	}
	return n > 0 && sum/n < codecQuiet
}

// carrierTaps is what the subcarrier that a decoder leaves on a coloured border comes to in the difference of two samples a pixel apart, codes rms.
func (f frame) carrierTaps(flat []float32, level, pixel float64) float64 {
	hz := f.p.Standard.Scan().SubcarrierHz
	turn := cmplx.Exp(complex(0, -2*math.Pi*hz/f.rate))
	sum, at, weight := complex128(0), complex128(1), 0.0
	for k, v := range flat {
		w := 0.5 - 0.5*math.Cos(2*math.Pi*(float64(k)+0.5)/float64(len(flat)))
		sum += at * complex(w*(float64(v)-level), 0)
		weight += w
		at *= turn
	}
	return cmplx.Abs(sum) * 2 / weight / math.Sqrt2 * 2 * math.Abs(math.Sin(math.Pi*hz*pixel*1e-9))
}
