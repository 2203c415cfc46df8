package composite

import (
	"math"

	"backporch/video"
)

const (
	width    = 720 // luma samples a line; ITU-R BT.601
	margin   = 12  // samples drawn beyond both ends for the filters
	firHalf  = 10
	firTaps  = 2*firHalf + 1
	lineSize = width + 2*margin
)

// A lineReader turns the waveform of a line into samples of the BT.601 grid.
type lineReader struct {
	table   []float32 // resampling
	carrier float64   // its gain at the subcarrier
	luma    [firTaps]float32
	notch   [firTaps]float32 // luma, with the subcarrier taken out
	chroma  [firTaps]float32

	x            [lineSize]float32 // line-locked samples, mV above black
	phase        [lineSize]uint16  // subcarrier, 4096 a cycle
	u, v         [lineSize]float32 // demodulated, not filtered
	cu, cv       [width / 2]float32
	lastU, lastV [width / 2]float32
	hasLast      bool
	sign         float32
}

func newLineReader(o *Options) *lineReader {
	scan := o.Standard.Scan()
	r := &lineReader{table: resampler(math.Min(6.4e6/o.Rate, 0.46))}
	r.carrier = resamplerGain(r.table, scan.SubcarrierHz/o.Rate)
	full := func(h []float64) (out [firTaps]float32) {
		for i := range out {
			d := i - firHalf
			out[i] = float32(h[max(d, -d)])
		}
		return out
	}
	const rate = 13.5e6
	luma := lowPass(firHalf, math.Min(o.LumaHz/rate, 0.48), 3)
	for i, v := range lowPass(firHalf, 2.5e6/rate, 3) { // raise what a lower low-pass leaves out
		luma[i] += o.Peak * (luma[i] - v)
	}
	r.luma = full(luma)
	r.notch = full(notch(luma, scan.SubcarrierHz/rate, o.NotchHz/rate))
	r.chroma = full(lowPass(firHalf, o.ChromaHz/rate, 4.5))
	return r
}

// resample reads the line: sample j of the picture is at place + j*step in x.
func (r *lineReader) resample(x []float32, place, step, black float64) {
	place -= margin * step
	at := int64(place * (1 << 32))
	inc := int64(step * (1 << 32))
	b := float32(black)
	for j := range r.x {
		n := int(at>>32) - resampleTaps/2 + 1
		p := int(at >> (32 - 7) & (phases - 1))
		if n < 0 || n+resampleTaps > len(x) {
			r.x[j] = 0
			at += inc
			continue
		}
		k := (*[resampleTaps]float32)(r.table[p*resampleTaps:])
		s := (*[resampleTaps]float32)(x[n:])
		a := k[0]*s[0] + k[1]*s[1] + k[2]*s[2] + k[3]*s[3]
		c := k[4]*s[4] + k[5]*s[5] + k[6]*s[6] + k[7]*s[7]
		d := k[8]*s[8] + k[9]*s[9] + k[10]*s[10] + k[11]*s[11]
		e := k[12]*s[12] + k[13]*s[13] + k[14]*s[14] + k[15]*s[15]
		r.x[j] = a + c + (d + e) - b
		at += inc
	}
}

// demodulate fills cu and cv (mV), first the phase of the subcarrier at sample 0
// and its step a sample, as parts of 2^64; inverted says that V is, on this line.
func (r *lineReader) demodulate(first, step uint64, inverted bool) {
	r.sign = 1
	if inverted {
		r.sign = -1
	}
	phase := first - margin*step
	two, twoV := float32(2), 2*r.sign
	for j := range r.x {
		p := uint16(phase >> 52)
		r.phase[j] = p
		r.u[j] = two * r.x[j] * sines[p]
		r.v[j] = twoV * r.x[j] * sines[p+1024]
		phase += step
	}
	for k := range r.cu {
		u := (*[firTaps]float32)(r.u[2*k+margin-firHalf:])
		v := (*[firTaps]float32)(r.v[2*k+margin-firHalf:])
		su, sv := r.chroma[firHalf]*u[firHalf], r.chroma[firHalf]*v[firHalf]
		for t := range firHalf {
			c := r.chroma[t]
			su += c * (u[t] + u[firTaps-1-t])
			sv += c * (v[t] + v[firTaps-1-t])
		}
		r.cu[k], r.cv[k] = su, sv
	}
}

// average puts the mean of this line's and the line before's chroma in this line's
// place: the delay line of a PAL decoder, and a line comb's chroma.
func (r *lineReader) average() {
	for k := range r.cu {
		u, v := r.cu[k], r.cv[k]
		if r.hasLast {
			r.cu[k], r.cv[k] = (u+r.lastU[k])/2, (v+r.lastV[k])/2
		}
		r.lastU[k], r.lastV[k] = u, v
	}
	r.hasLast = true
}

// comb takes the chroma that this line and the one before share out of x.
func (r *lineReader) comb() {
	for j := range width {
		k := j / 2
		u, v := r.cu[k], r.cv[k]
		if j&1 == 1 {
			n := min(k+1, len(r.cu)-1)
			u, v = (u+r.cu[n])/2, (v+r.cv[n])/2
		}
		p := r.phase[j+margin]
		r.x[j+margin] -= u*sines[p] + r.sign*v*sines[p+1024]
	}
}

// lumaCodes filters x and writes its codes.
func (r *lineReader) lumaCodes(dst []uint8, taps *[firTaps]float32, scale, offset float32, q quantiser) {
	for j := range dst {
		x := (*[firTaps]float32)(r.x[j+margin-firHalf:])
		s := taps[firHalf] * x[firHalf]
		for t := range firHalf {
			s += taps[t] * (x[t] + x[firTaps-1-t])
		}
		dst[j] = q.code(s*scale + offset)
	}
}

// chromaCodes writes the colour differences.
func (r *lineReader) chromaCodes(cb, cr []uint8, scaleU, scaleV float32, q quantiser) {
	for k := range cb {
		cb[k] = q.code(r.cu[k]*scaleU + 128)
		cr[k] = q.code(r.cv[k]*scaleV + 128)
	}
}

// A quantiser rounds to codes; 0 and 255 are reserved unless the range is full
// (ITU-R BT.601).
type quantiser struct{ low, high float32 }

func (q quantiser) code(v float32) uint8 {
	if v < q.low {
		v = q.low
	} else if v > q.high {
		v = q.high
	}
	return uint8(v + 0.5)
}

// neutral fills with the code of no colour.
func neutral(codes []uint8) {
	for i := range codes {
		codes[i] = 128
	}
}

// Code differences of U and V as parts of white: the scale of ITU-R BT.601.
func chromaScale() (u, v float64) {
	_, cb, cr := video.YUV{U: 1, V: 1}.Codes()
	return cb - 128, cr - 128
}
