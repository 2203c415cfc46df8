package signal

import (
	"math"
	"math/cmplx"
	"slices"

	"backporch/analyse"
	"backporch/video"
	"backporch/video/display"
)

// A Path is what the border alone says of the signal path, before the picture is placed.
type Path struct {
	frame    frame
	spectrum *spectrum
	hum      *analyse.Hum
	curve    []analyse.Point
	tones    []analyse.Tone
	beat     *beat      // a tone that shows in the colour differences; nil: none
	carrier  float64    // the subcarrier that a device without colour leaves in luma, % of white peak to peak
	dead     bool       // every colour difference of every field is neutral: the device has switched colour off
	contrast bool       // and luma has edges, which leave some chroma in a decoder that is on
	band     *noiseBand // of the border's noise; nil: not told
	codec    *rounding  // what a codec has done to it; nil: nothing
	ends     float64    // part of the border's samples that lie at the end of what a device can code
	given    []*video.Field
	average  []float32 // of their luma, once asked for
	seen     float64   // part of the time that waves on the border are not cut off at an end of the codes
}

// mean is the luma of the fields as the device gave them.
func (p *Path) mean() []float32 {
	if p.average != nil {
		return p.average
	}
	fields := some(p.given, 24)
	sum := make([]float32, p.frame.width*fields[0].Height)
	for _, f := range fields {
		for i, v := range f.Y[:len(sum)] {
			sum[i] += float32(v)
		}
	}
	for i := range sum {
		sum[i] /= float32(len(fields))
	}
	p.average = sum
	return sum
}

// nominal is white less black, codes (ITU-R BT.601), until a picture says what it is here.
const nominal = 219.0

// Look measures the border of fields that followed each other; nil where the display shows none.
func Look(fields []*video.Field, p *display.Profile) *Path {
	var usable []*video.Field
	for _, f := range fields {
		if f != nil && f.Width >= 64 && f.Height >= 64 && len(f.Y) >= f.Width*f.Height && (len(usable) == 0 || f.Width == usable[0].Width && f.Height == usable[0].Height) {
			usable = append(usable, f)
		}
	}
	if p == nil || len(usable) == 0 {
		return nil
	}
	out := &Path{frame: newFrame(p, usable[0].Width, usable[0].Height), given: usable}
	if out.frame.to-out.frame.from < 64 {
		return nil
	}
	out.hum, out.curve = out.frame.hum(usable, nominal)
	out.dead = neutral(some(usable, 4))
	out.contrast = contrasting(usable[0])
	out.seen, out.ends = out.frame.seenPart(usable), out.frame.endOf(usable)
	if out.spectrum = out.frame.spectrum(usable); out.spectrum != nil {
		out.tones = out.frame.tones(out.spectrum, nominal, out.coloured(usable[0]))
		out.band = out.frame.band(out.spectrum)
		out.codec = out.frame.rounded(usable)
	}
	if out.dead {
		var ofBorder float64
		ofBorder, out.tones = uncoloured(out.tones, p.Standard.Scan().SubcarrierHz)
		out.carrier = math.Max(ofBorder, out.frame.carrierOf(usable))
	} else if out.beat = out.frame.beats(usable, out.spectrum); out.beat != nil {
		out.tones = withBeat(out.tones, out.beat.tone(out.frame))
	}
	return out
}

// coloured tells whether the border above and below has a colour.
func (p *Path) coloured(f *video.Field) bool {
	if f.ChromaWidth == 0 {
		return false
	}
	sum, n := [2]int{}, 0
	for _, y := range p.frame.lines() {
		if y >= f.Height {
			break
		}
		for x := p.frame.from * f.ChromaWidth / f.Width; x < p.frame.to*f.ChromaWidth/f.Width; x += 4 {
			sum[0] += int(f.Cb[y*f.ChromaWidth+x])
			sum[1] += int(f.Cr[y*f.ChromaWidth+x])
			n++
		}
	}
	if n == 0 {
		return false
	}
	off := math.Hypot(float64(sum[0])/float64(n)-128, float64(sum[1])/float64(n)-128)
	return off > 6
}

// neutral tells whether no colour difference is anything but neutral: live chroma always has noise.
func neutral(fields []*video.Field) bool {
	for _, f := range fields {
		if len(f.Cb) == 0 {
			return false
		}
		for _, plane := range [][]uint8{f.Cb, f.Cr} {
			for _, v := range plane {
				if v < 127 || v > 129 {
					return false
				}
			}
		}
	}
	return len(fields) > 0
}

// contrasting tells whether a field has edges of luma, two on most lines at the least.
func contrasting(f *video.Field) bool {
	edges := 0
	for y := range f.Height {
		line := f.Y[y*f.Width : (y+1)*f.Width]
		for x := 2; x < len(line); x++ {
			if d := int(line[x]) - int(line[x-2]); d > 24 || d < -24 {
				edges++
			}
		}
	}
	return edges > 2*f.Height
}

// What is taken off before the picture is read: more than this, % of white peak to peak. Less
// hides no edge: the least step between two greys of a display is a third of white.
const (
	undoHum  = 1.5
	undoTone = 1.2
)

// undoes tells whether Undo would change anything.
func (p *Path) undoes() (hum bool, tones []analyse.Tone) {
	if p == nil {
		return false, nil
	}
	hum = p.hum != nil && p.hum.Pct.Value > undoHum && p.hum.Share > 0.6
	for _, t := range p.tones {
		if t.Pct.Value > undoTone {
			tones = append(tones, t)
		}
	}
	return hum, tones
}

// Undo takes hum and single tones off the fields, so that a picture under them can be read. The
// fields given stay as they are; nothing to undo gives them back.
func (p *Path) Undo(fields []*video.Field) []*video.Field {
	hum, tones := p.undoes()
	trapped, beating := p != nil && p.carrier > undoCarrier, p != nil && p.beat != nil
	if !hum && len(tones) == 0 && !trapped && !beating {
		return fields
	}
	out, copies := make([]*video.Field, len(fields)), make([]*video.Field, len(fields))
	var moving []*mover
	for _, t := range tones {
		moving = append(moving, p.follow(fields, t))
	}
	for i, f := range fields {
		out[i] = f
		if f == nil || f.Width != p.frame.width || len(f.Y) < f.Width*f.Height {
			continue
		}
		off := make([]float32, f.Width*f.Height)
		if hum {
			p.takeHum(f, off)
		}
		for _, m := range moving {
			m.take(i, f, off)
		}
		copied := *f
		copied.Y, copied.Cb, copied.Cr = slices.Clone(f.Y), slices.Clone(f.Cb), slices.Clone(f.Cr)
		for k, v := range off {
			if f.Y[k] <= 1 || f.Y[k] >= 254 { // cut off: nobody knows by how much
				continue
			}
			copied.Y[k] = uint8(min(max(float32(f.Y[k])-v+0.5, 1), 254))
		}
		if trapped {
			p.trap(&copied)
		}
		out[i] = &copied
		copies[i] = &copied
	}
	if beating {
		p.takeBeat(copies)
	}
	return out
}

// takeHum adds the field's own wave to off.
func (p *Path) takeHum(f *video.Field, off []float32) {
	lines, means := p.frame.lineMeans(f)
	if len(lines) < f.Height/3 {
		return
	}
	mains := 50.0
	if p.frame.p.Standard.Scan().FieldHz > 55 {
		mains = 60
	}
	w, ok := fitWave(lines, means, 2*math.Pi*mains/p.frame.p.LineHz()/p.frame.p.PitchY(f.Height))
	if !ok {
		return
	}
	for y := range f.Height {
		turn := cmplx.Exp(complex(0, w.slope*float64(y)))
		v := float32(real(w.first*turn) + real(w.second*turn*turn))
		for x := range f.Width {
			off[y*f.Width+x] += v
		}
	}
}

// A mover is a tone with its phase in every field.
type mover struct {
	sample, line float64      // radians on from one to the next
	phase        []complex128 // of sample 0 of line 0, by field
}

// follow finds the tone's phase in each field, from the lines above and below the picture.
func (p *Path) follow(fields []*video.Field, t analyse.Tone) *mover {
	f := p.frame
	m := &mover{sample: 2 * math.Pi * t.Hz.Value / f.rate, phase: make([]complex128, len(fields))}
	_, part := math.Modf(t.Hz.Value / f.p.LineHz())
	m.line = 2 * math.Pi * part
	lines := f.lines()
	z := make([][]complex128, len(fields))
	turn := cmplx.Exp(complex(0, -m.sample))
	for i, field := range fields {
		if field == nil || field.Width != f.width {
			continue
		}
		for _, y := range lines {
			if y >= field.Height {
				continue
			}
			codes := field.Line(y)[f.from:f.to]
			mean := 0.0
			for _, v := range codes {
				mean += float64(v) / float64(len(codes))
			}
			var sum complex128
			at := cmplx.Exp(complex(0, -m.sample*float64(f.from)))
			weight := 0.0
			for k, v := range codes {
				w := 0.5 - 0.5*math.Cos(2*math.Pi*(float64(k)+0.5)/float64(len(codes)))
				sum += at * complex(w*(float64(v)-mean), 0)
				weight += w
				at *= turn
			}
			z[i] = append(z[i], sum*complex(2/weight, 0))
		}
	}
	total := func(i int, line float64) complex128 {
		var sum complex128
		for k, v := range z[i] {
			sum += v * cmplx.Exp(complex(0, -line*float64(lines[k])))
		}
		return sum
	}
	if !t.Fixed {
		// The phase of the lowest lines against the highest says how it goes on from line to line to a
		// thousandth of a radian, if it is known to a hundredth before.
		best, at := 0.0, m.line
		pick := fields
		if len(pick) > 8 {
			pick = pick[:8]
		}
		for d := -0.03; d <= 0.03; d += 0.001 {
			power := 0.0
			for i := range pick {
				power += square(cmplx.Abs(total(i, m.line+d)))
			}
			if power > best {
				best, at = power, m.line+d
			}
		}
		m.line = at
	}
	for i := range fields {
		if n := len(z[i]); n > 0 {
			m.phase[i] = total(i, m.line) / complex(float64(n), 0)
		}
	}
	return m
}

// take adds the tone as it is in field i to off.
func (m *mover) take(i int, f *video.Field, off []float32) {
	turn := cmplx.Exp(complex(0, m.sample))
	for y := range f.Height {
		at := m.phase[i] * cmplx.Exp(complex(0, m.line*float64(y)))
		row := off[y*f.Width : (y+1)*f.Width]
		for x := range row {
			row[x] += float32(real(at))
			at *= turn
		}
	}
}

// Into writes what the border says into a capture's signal; white is white less black in its codes.
func (p *Path) Into(out *analyse.Signal, white float64) {
	if p == nil {
		return
	}
	scale := nominal / white
	out.ChromaDead, out.ChromaOff = p.dead, p.dead && p.contrast
	scaled := func(e analyse.Estimate) analyse.Estimate {
		e.Value *= scale
		e.Spread *= scale
		return e
	}
	if p.hum != nil {
		h := *p.hum
		h.Pct = scaled(h.Pct)
		out.Hum = &h
		out.HumPct = &h.Pct.Value
		for _, c := range p.curve {
			out.Curves.Hum = append(out.Curves.Hum, analyse.Point{X: c.X, Y: c.Y * scale})
		}
	}
	if c := p.codec; c != nil {
		out.Steps = &analyse.Steps{Fixed: 100 * c.fixed / white, Moving: 100 * c.moving / white}
	}
	out.Cut, out.Buried = p.ends > endShare, p.ends > buriedShare
	times, doubt := uncut(p.seen)
	for _, t := range p.tones {
		t.Pct = scaled(t.Pct)
		t.Pct.Value, t.Pct.Spread = t.Pct.Value*times, math.Hypot(t.Pct.Spread*times, t.Pct.Value*doubt)
		out.Tones = append(out.Tones, t)
	}
	if p.spectrum != nil {
		out.Curves.Spectrum = p.frame.density(p.spectrum, white)
		pitch := p.frame.p.PitchX(p.frame.width)
		for i, v := range p.spectrum.mean {
			out.Curves.Bars = append(out.Curves.Bars, analyse.Point{X: float64(i) / pitch, Y: 100 * v / white})
		}
	}
	out.Tones = slices.Clip(out.Tones)
}

// snr is the signal-to-noise ratio by the border's spectrum, for a border whose noise is cut off at an end of the codes: of a
// normal distribution cut at its middle 34 % of the variance is left, so that this is 'about'.
func (p *Path) snr(white float64) (*float64, bool) {
	if p.spectrum == nil || p.spectrum.variance <= 0 {
		return nil, false
	}
	const left = 0.34
	sigma := math.Max(p.spectrum.toneFree(p.frame)/math.Sqrt(left), 1/math.Sqrt(12))
	db := 20 * math.Log10(white/sigma)
	return &db, true
}
