package signal

import (
	"cmp"
	"math"
	"math/cmplx"
	"slices"

	"backporch/analyse"
	"backporch/video"
)

// A frequency near the subcarrier is what a decoder's trap takes off luma; it comes out as colour that turns at the difference of
// the two. So the border's colour differences are looked at as its luma is, and what beats there is a tone of the signal.

// A beat is a tone that shows in the colour differences.
type beat struct {
	size, spread float64 // of the composite sine, peak to peak, % of white
	hz           float64 // of the beat
	spreadHz     float64
	higher       float64 // ln of how much rather the tone is above the subcarrier than below
}

const (
	leastBeat   = 30e3  // Hz: slower, there is less than a turn and a half on a line
	mostBeat    = 1.5e6 // Hz
	chromaEnd   = 1.3e6 // Hz, where chroma is down by 3 dB (ITU-R BT.470)
	leastBeatIs = 1.0   // % of white, peak to peak
)

// beatLength gives chroma, of half as many samples a line, the bins of luma's transforms.
const beatLength = transformLength / 2

// beats finds the strongest one, nil where there is none.
func (f frame) beats(fields []*video.Field, luma *spectrum) *beat {
	fields = some(fields, mostFields)
	step := fields[0].ChromaStep()
	if step == 0 {
		return nil
	}
	from, to := int(float64(f.from)/step)+1, int(float64(f.to)/step)-1
	length := to - from
	var lines []int
	for _, y := range f.lines() {
		if y < fields[0].Height {
			lines = append(lines, y)
		}
	}
	if length < 32 || length > beatLength || len(lines) < 4 {
		return nil
	}
	fft := newRadix4(beatLength)
	buffer := make([]complex128, beatLength)
	power, window := make([]float64, beatLength), make([]float64, length)
	for i := range window {
		window[i] = 0.5 - 0.5*math.Cos(2*math.Pi*(float64(i)+0.5)/float64(length))
	}
	var ofCb, ofCr, partCb, partCr [256]float64 // U and V by code, and their parts of the mean of a line
	for code := range ofCb {
		c := video.YUVOfCodes(0, float64(code), float64(code))
		ofCb[code], ofCr[code] = c.U, c.V
		partCb[code], partCr[code] = c.U/float64(length), c.V/float64(length)
	}
	mean := make([]complex128, length)
	z := make([]complex128, length)
	n := 0.0
	read := func(field *video.Field, y int) {
		begin := y*field.ChromaWidth + from
		cb, cr := field.Cb[begin:begin+length], field.Cr[begin:begin+length]
		var u, v float64
		for i := range z {
			z[i] = complex(ofCb[cb[i]], ofCr[cr[i]])
			u += partCb[cb[i]]
			v += partCr[cr[i]]
		}
		for i := range z {
			z[i] -= complex(u, v)
		}
	}
	each := func(do func()) {
		for _, field := range fields {
			if field.ChromaWidth != fields[0].ChromaWidth || len(field.Cb) < field.ChromaWidth*field.Height {
				continue
			}
			for _, y := range lines {
				read(field, y)
				do()
			}
		}
	}
	each(func() {
		for i, v := range z {
			mean[i] += v
		}
		n++
	})
	if n < 4 {
		return nil
	}
	for i, v := range mean {
		mean[i] = complex(real(v)/n, imag(v)/n)
	}
	each(func() {
		clear(buffer[length:])
		for i, v := range z {
			v -= mean[i]
			buffer[i] = complex(window[i]*real(v), window[i]*imag(v))
		}
		for k, v := range fft.transform(buffer) {
			power[k] += real(v)*real(v) + imag(v)*imag(v)
		}
	})
	for k := range power {
		power[k] /= math.Max(n-1, 1)
	}
	// Both senses of rotation: a decoder of 625/50 mixes them.
	half := make([]float64, beatLength/2+1)
	for k := 1; k < beatLength/2; k++ {
		half[k] = power[k] + power[beatLength-k]
	}
	bin := f.rate / step / beatLength
	segments := n / 2
	best, at := 0.0, -1
	for k := int(math.Ceil(leastBeat / bin)); k < len(half)-peakBins && float64(k)*bin < mostBeat; k++ {
		if half[k] < half[k-1] || half[k] < half[k+1] {
			continue
		}
		floor := math.Max(f.floor(half, k), shoulder(half, k))
		if half[k] > floor*(1+9/math.Sqrt(segments))*1.5 && half[k]-floor > best {
			best, at = half[k]-floor, k
		}
	}
	if at < 0 {
		return nil
	}
	// A sine that turns, of amplitude A, has a transform of A n/2 under a Hann window of n samples.
	amplitude := 2 / float64(length) * math.Sqrt(best)
	if f.p.Standard == video.Std625 {
		amplitude *= math.Sqrt(math.Sqrt2) // between a decoder that adds two lines, which halves the power, and one that does not
	}
	b := &beat{hz: (float64(at) + peakOff(half, at)) * bin, spreadHz: 0.1 * bin}
	b.size = 200 * amplitude * math.Exp(math.Ln2/2*square(b.hz/chromaEnd))
	if b.size < leastBeatIs {
		return nil
	}
	// What chroma's own low-pass leaves is known roughly, as is how lines are added.
	b.spread = b.size * math.Hypot(0.2, 0.25*b.hz/1e6)
	if f.p.Standard != video.Std625 {
		b.higher = math.Log(power[at] / power[beatLength-at])
	}
	if luma != nil {
		b.higher += f.residue(luma, b.hz)
	}
	return b
}

// peakOff is how far from bin k the peak lies, by a parabola through the logarithms.
func peakOff(power []float64, k int) float64 {
	a, b, c := math.Log(power[k-1]+1e-12), math.Log(power[k]+1e-12), math.Log(power[k+1]+1e-12)
	if curve := a - 2*b + c; curve < 0 {
		return math.Max(-0.5, math.Min(0.5, 0.5*(a-c)/curve))
	}
	return 0
}

// residue says on which side of the subcarrier more of the tone is left in luma, nats.
func (f frame) residue(s *spectrum, hz float64) float64 {
	bin := f.rate / transformLength
	carrier := f.p.Standard.Scan().SubcarrierHz
	side := func(at float64) float64 {
		k := int(math.Round(at / bin))
		if k < 3 || k >= len(s.moving)-3 {
			return 0
		}
		most := 0.0
		for i := k - 2; i <= k+2; i++ {
			most = math.Max(most, s.moving[i])
		}
		return math.Log(math.Max(most/f.floor(s.moving, k), 1))
	}
	return side(carrier+hz) - side(carrier-hz)
}

// tone is the beat as a tone of the signal.
func (b *beat) tone(f frame) analyse.Tone {
	carrier := f.p.Standard.Scan().SubcarrierHz
	hz, other := carrier-b.hz, carrier+b.hz
	if b.higher > 0 {
		hz, other = other, hz
	}
	t := analyse.Tone{
		Pct: analyse.Estimate{Value: b.size, Spread: b.spread, Limit: "chroma"},
		Hz:  analyse.Estimate{Value: hz, Spread: b.spreadHz, Limit: "lines"}, AliasHz: other, PeriodPx: f.p.PixelClockHz / hz,
	}
	// A part of the pixel clock is the clock's bars, whatever colour does with it.
	for _, v := range []float64{hz, other} {
		if n := math.Round(f.p.PixelClockHz / v); n >= 1 && n <= 8 && math.Abs(f.p.PixelClockHz/n-v) < 3*b.spreadHz+500 {
			t.Fixed, t.Hz.Value, t.PeriodPx = true, f.p.PixelClockHz/n, n
		}
	}
	return t
}

// takeBeat takes the beat off the colour differences of copies of the fields, plane by plane: its phase goes on evenly from line to
// line in each, with the standard's switch of V or without.
func (p *Path) takeBeat(fields []*video.Field) {
	for plane := range 2 {
		of := func(f *video.Field) []uint8 {
			if plane == 0 {
				return f.Cb
			}
			return f.Cr
		}
		p.takeFrom(fields, of)
	}
}

func (p *Path) takeFrom(fields []*video.Field, of func(*video.Field) []uint8) {
	f := p.frame
	var first *video.Field
	for _, field := range fields {
		if field != nil && field.ChromaWidth > 0 {
			first = field
			break
		}
	}
	if first == nil {
		return
	}
	step := first.ChromaStep()
	from, to := int(float64(f.from)/step)+1, int(float64(f.to)/step)-1
	turn := 2 * math.Pi * p.beat.hz / (f.rate / step)
	lines := f.lines()
	z := make([][]complex128, len(fields))
	var on complex128 // from line to line
	for i, field := range fields {
		if field == nil || field.ChromaWidth != first.ChromaWidth || len(of(field)) < field.ChromaWidth*field.Height {
			continue
		}
		for _, y := range lines {
			if y >= field.Height {
				break
			}
			codes := of(field)[y*field.ChromaWidth+from : y*field.ChromaWidth+to]
			mean := 0.0
			for _, v := range codes {
				mean += float64(v) / float64(len(codes))
			}
			var sum complex128
			weight := 0.0
			for k, v := range codes {
				w := 0.5 - 0.5*math.Cos(2*math.Pi*(float64(k)+0.5)/float64(len(codes)))
				sum += cmplx.Rect(w*(float64(v)-mean), -turn*float64(from+k))
				weight += w
			}
			z[i] = append(z[i], sum*complex(2/weight, 0))
			if n := len(z[i]); n > 1 && lines[n-1] == lines[n-2]+1 {
				on += z[i][n-1] * cmplx.Conj(z[i][n-2])
			}
		}
	}
	total := func(i int, line float64) complex128 {
		var sum complex128
		for k, v := range z[i] {
			sum += v * cmplx.Rect(1, -line*float64(lines[k]))
		}
		return sum
	}
	rough := cmplx.Phase(on)
	best, line := 0.0, rough
	for d := -0.05; d <= 0.05; d += 0.001 {
		power := 0.0
		for i := range min(len(fields), 8) {
			power += square(cmplx.Abs(total(i, rough+d)))
		}
		if power > best {
			best, line = power, rough+d
		}
	}
	for i, field := range fields {
		if len(z[i]) == 0 {
			continue
		}
		phase := total(i, line) / complex(float64(len(z[i])), 0)
		codes := of(field)
		for y := range field.Height {
			at := phase * cmplx.Rect(1, line*float64(y))
			for x := range field.ChromaWidth {
				k := y*field.ChromaWidth + x
				if codes[k] <= 1 || codes[k] >= 254 {
					continue
				}
				v := float64(codes[k]) - real(at*cmplx.Rect(1, turn*float64(x)))
				codes[k] = uint8(min(max(v+0.5, 1), 254))
			}
		}
	}
}

// withBeat adds a tone that shows as colour to those of luma, strongest first: what luma shows of it is what the trap has left. A comb
// leaves some on both sides of the subcarrier; the stronger is it.
func withBeat(tones []analyse.Tone, b analyse.Tone) []analyse.Tone {
	out := []analyse.Tone{b}
	known := false
	for _, t := range tones {
		near := 6*b.Hz.Spread + 6*t.Hz.Spread
		here, there := math.Abs(t.Hz.Value-b.Hz.Value) <= near, math.Abs(t.Hz.Value-b.AliasHz) <= near
		switch {
		case !here && !there:
			out = append(out, t)
		case !known: // its side is known better in luma
			known = true
			if there {
				out[0].AliasHz = b.Hz.Value
			}
			out[0].Hz, out[0].PeriodPx, out[0].Fixed = t.Hz, t.PeriodPx, b.Fixed || t.Fixed
			if t.Pct.Value > b.Pct.Value {
				out[0].Pct = t.Pct
			}
			out[0].Pct.Value = math.Hypot(t.Pct.Value, b.Pct.Value) // a decoder parts it between the two
			out[0].Pct.Spread = math.Hypot(out[0].Pct.Spread, out[0].Pct.Value-math.Max(t.Pct.Value, b.Pct.Value))
		}
	}
	slices.SortStableFunc(out, func(a, b analyse.Tone) int { return cmp.Compare(b.Pct.Value, a.Pct.Value) })
	return out[:min(len(out), mostTones)]
}
