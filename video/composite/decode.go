package composite

import (
	"fmt"
	"math"

	"backporch/video"
)

// Options are a decoder's traits. The zero value but for Standard and Rate is a plain
// decoder without errors of its own.
type Options struct {
	Standard video.Standard
	Rate     float64 // samples a second of the waveform

	Comb      bool    // part luma and chroma by a line comb; else by a notch
	DelayLine bool    // average chroma over two lines, as PAL decoders do
	LumaHz    float64 // luma low-pass, -6 dB; 0: 5.6 MHz
	ChromaHz  float64 // chroma low-pass, -6 dB; 0: 1.2 MHz
	NotchHz   float64 // half width of the notch; 0: 0.7 MHz
	Peak      float64 // luma above about 2.5 MHz raised by this part: "sharpness"
	Pull      float64 // share of a line's sync error put right at once; 0: 0.2
	Clamp     float64 // share of a line's own porch in the black level; 0: 0.1
	Setup     bool    // take 7.5 IRE as black (525/60)

	ShiftX float64 // samples that the capture window starts late
	ShiftY int     // lines that it starts late
	ScaleX float64 // sampling grid stretched by this part about its middle
	Gain   float64 // of luma and chroma; 0: 1
	Black  float64 // codes added to luma
	Colour float64 // gain of chroma alone; 0: 1
	HueDeg float64 // hue error, positive from +U towards +V
	Full   bool    // luma 0 to 255 instead of 16 to 235

	FreeLines float64 // lines a field while there is no field sync; 0: the standard's
}

// A Status is what a decoder knows of its input.
type Status struct {
	Locked   bool    // the line flywheel is in step
	Present  float64 // share of lines with a sync edge in its place, lately
	JitterNs float64 // rms of the sync edges about the flywheel
	Field    bool    // field sync was found in the last fields
	Colour   bool    // a burst is there
	LineHz   float64 // as the flywheel runs
	Gain     float64 // that brings sync to its height
}

// A Decoder reads a waveform as a capture device does. It is used by one goroutine
// at a time.
type Decoder struct {
	o      Options
	scan   video.Scan
	timing lineTiming
	cycles float64 // nominal subcarrier cycles a sample
	f      flywheel
	c      lineCounter
	b      burstLock
	r      *lineReader
	buf    []float32
	base   int64 // absolute place of buf[0]
	began  bool
	field  *video.Field
	filled int // lines of field
	count  int // fields begun
	turn   int // parity to give next when the signal does not say
	halves bool
	known  bool // fields are given only where field sync was seen
}

// Rewind begins again at sample 0 of the waveform that Find looked at, with what was learnt of its
// levels, burst and lines: for files, whose first field counts as the others do. From
// then on no field is given that field sync does not begin.
func (d *Decoder) Rewind(f *Found) {
	d.buf, d.base, d.began, d.known = d.buf[:0], 0, true, true
	d.field, d.filled, d.count, d.turn = nil, 0, 0, 0
	d.f.period, d.f.at = f.Line, f.Line
	d.f.locked, d.f.good, d.f.missed, d.f.errors, d.f.present = true, 20, 0, 0, 1
	d.b.restart()
	d.r.hasLast = false
	d.c = lineCounter{nominal: d.c.nominal, free: d.c.free}
	us := d.o.Rate * 1e-6
	for i, p := range f.Pulses {
		// The first line whose sync is followed by another's.
		if i+1 < len(f.Pulses) && math.Abs((f.Pulses[i+1].From-p.From)/f.Line-1) < 0.02 && p.Width() < mostSync*us {
			d.f.at = p.From
			break
		}
	}
	// Lines before the first field sync are counted back from it, where a field has whole lines.
	syncs, lines := f.FieldSyncs(d.o.Rate), f.FieldLines(d.o.Rate)
	if whole := math.Round(lines); len(syncs) > 0 && whole > 0 && math.Abs(lines-whole) < 0.2 {
		if k := math.Round((syncs[0] - d.f.at) / f.Line); k > 0 && k <= whole {
			d.c.line, d.c.found, d.c.length = int(whole-k)-1, 1, int(whole)
		}
	}
}

// NewDecoder prepares a decoder.
func NewDecoder(o Options) (*Decoder, error) {
	if o.Standard != video.Std525 && o.Standard != video.Std625 {
		return nil, fmt.Errorf("composite: no television standard given")
	}
	scan := o.Standard.Scan()
	if !(o.Rate > 2.5*scan.SubcarrierHz && o.Rate < 20*scan.SubcarrierHz) {
		return nil, fmt.Errorf("composite: %.0f samples a second: use 2.5 to 20 times the subcarrier (%.0f Hz)", o.Rate, scan.SubcarrierHz)
	}
	set := func(v *float64, to float64) {
		if *v == 0 {
			*v = to
		}
	}
	set(&o.LumaHz, 5.6e6)
	set(&o.ChromaHz, 1.2e6)
	set(&o.NotchHz, 0.7e6)
	set(&o.Pull, 0.2)
	set(&o.Clamp, 0.1)
	set(&o.Gain, 1)
	set(&o.Colour, 1)
	d := &Decoder{o: o, scan: scan, timing: timingOf(o.Standard), cycles: scan.SubcarrierHz / o.Rate}
	porch := math.Floor(3.65e-6*scan.SubcarrierHz) / scan.SubcarrierHz
	d.f = flywheel{rate: o.Rate, nominal: o.Rate / scan.LineHz, height: scan.SyncMV, pull: o.Pull, clamp: o.Clamp, porch: porch, cycle: 1 / d.cycles}
	set(&d.o.FreeLines, scan.LineHz/scan.FieldHz)
	d.c = lineCounter{nominal: scan.LineHz / scan.FieldHz, free: d.o.FreeLines}
	d.b = burstLock{pal: o.Standard == video.Std625, sync: scan.BurstMVPP / 2 / scan.SyncMV}
	d.r = newLineReader(&d.o)
	return d, nil
}

// Status tells how the decoder stands after what it has read.
func (d *Decoder) Status() Status {
	return Status{
		Locked: d.f.locked, Present: d.f.present, JitterNs: math.Sqrt(d.f.errors) / d.o.Rate * 1e9,
		Field: d.c.found > 0 && d.c.absent == 0, Colour: d.b.colour,
		LineHz: d.o.Rate / d.f.period, Gain: d.f.gain(),
	}
}

// Decode reads more of the waveform (mV, any length) and calls emit for each field that is
// complete; the field is emit's to keep. What is too short for a line waits for more.
func (d *Decoder) Decode(x []float32, emit func(*video.Field)) {
	d.buf = append(d.buf, x...)
	if !d.began {
		// Wait for something to judge levels by.
		if float64(len(d.buf)) < 40*d.f.nominal {
			return
		}
		d.f.guess(d.buf)
		d.f.period = d.f.nominal
		d.f.at = d.f.nominal
		d.began = true
	}
	// A line needs its own length, half a line more to look for an edge and
	// what stretched or shifted windows reach beyond.
	for int(d.f.at-float64(d.base)+1.9*d.f.period) < len(d.buf) {
		d.line(emit)
	}
	keep := int(d.f.at-float64(d.base)) - int(1.2*d.f.period)
	if keep > 0 {
		n := copy(d.buf, d.buf[keep:])
		d.buf = d.buf[:n]
		d.base += int64(keep)
	}
}

// line reads the line that comes next.
func (d *Decoder) line(emit func(*video.Field)) {
	zero := d.f.advance(d.buf, d.base)
	if d.f.missed > 0 && d.f.missed%400 == 0 {
		d.f.guess(d.buf)
	}
	burst := correlate(d.buf, d.base, zero, d.o.Rate, d.timing, d.o.Standard, d.cycles)
	d.b.advance(burst, d.f.black-d.f.tip)
	if d.c.advance(d.buf, d.base, &d.f, zero) {
		d.halves = d.c.half != d.c.previous
		d.c.previous = d.c.half
	}
	first := FirstLine(d.o.Standard) + d.o.ShiftY
	if d.c.half {
		first++ // the second field's lines are counted from a half line
	}
	if d.c.line == first && (!d.known || d.c.found > 0) && (d.field == nil || d.filled > d.scan.FieldLines-20) {
		d.finish(emit)
		d.start(zero)
	}
	if d.field != nil {
		d.read(zero)
		if d.filled == d.scan.FieldLines {
			d.finish(emit)
		}
	}
}

func (d *Decoder) start(zero float64) {
	w, c, h := width, width/2, d.scan.FieldLines
	d.field = &video.Field{
		Y: make([]uint8, w*h), Cb: make([]uint8, c*h), Cr: make([]uint8, c*h),
		Width: w, ChromaWidth: c, Height: h, Frame: d.count / 2,
	}
	d.field.Parity = d.turn
	if d.halves && d.c.half {
		d.field.Parity = 1
	} else if d.halves {
		d.field.Parity = 0
	}
	d.turn = 1 - d.field.Parity
	d.field.Time = seconds(zero / d.o.Rate)
	d.count++
	d.filled = 0
	d.r.hasLast = false
}

// finish hands over the field, lines that did not come black.
func (d *Decoder) finish(emit func(*video.Field)) {
	if d.field == nil {
		return
	}
	f := d.field
	for i := d.filled * f.Width; i < len(f.Y); i++ {
		f.Y[i] = 16
	}
	neutral(f.Cb[d.filled*f.ChromaWidth:])
	neutral(f.Cr[d.filled*f.ChromaWidth:])
	d.field = nil
	emit(f)
}

// read decodes the line at zero into the field's next line.
func (d *Decoder) read(zero float64) {
	o, f, n := &d.o, d.field, d.filled
	pitch := d.f.period / float64(d.scan.LineSamples)
	step := pitch * (1 + o.ScaleX)
	place := zero + pitch*(d.scan.FirstSample+o.ShiftX+width/2) - step*width/2
	d.r.resample(d.buf, place-float64(d.base), step, d.f.black)

	gain := d.f.gain() * o.Gain
	white, black := d.scan.WhiteMV, 0.0
	if o.Setup {
		black = white * d.scan.SetupFraction
		white -= black
	}
	span, floor, q := 219.0, 16.0, quantiser{1, 254}
	if o.Full {
		span, floor, q = 255, 0, quantiser{0, 255}
	}
	scale := gain / white * span
	offset := floor + o.Black - black*o.Gain/white*span
	y := f.Y[n*width : (n+1)*width]
	cb, cr := f.Cb[n*width/2:(n+1)*width/2], f.Cr[n*width/2:(n+1)*width/2]
	d.filled++
	if !d.b.colour {
		d.r.hasLast = false
		d.r.lumaCodes(y, &d.r.luma, float32(scale), float32(offset), q)
		neutral(cb)
		neutral(cr)
		return
	}
	// A hue error turns the decoder's axes the other way.
	turn := (d.b.phase - o.HueDeg*math.Pi/180*d.flip()) / (2 * math.Pi)
	turn -= math.Floor(turn)
	first := phaseAt(place, d.cycles) + uint64(turn*(1<<62))<<2
	cycles := d.cycles + d.b.drift/(2*math.Pi)/d.f.period
	d.r.demodulate(first, stepOf(cycles*step), d.b.odd)
	if o.DelayLine || o.Comb {
		d.r.average()
	}
	taps := &d.r.notch
	if o.Comb {
		d.r.comb()
		taps = &d.r.luma
	}
	d.r.lumaCodes(y, taps, float32(scale), float32(offset), q)
	c := gain / d.r.carrier * d.b.gain(d.f.black-d.f.tip) * o.Colour / white
	su, sv := chromaScale()
	if o.Full {
		su, sv = su*255/224, sv*255/224
	}
	d.r.chromaCodes(cb, cr, float32(c*su), float32(c*sv), q)
}

// flip is -1 on lines whose V is inverted.
func (d *Decoder) flip() float64 {
	if d.b.odd {
		return -1
	}
	return 1
}

// Place is where in the capture a point lies that is x samples of the BT.601 grid
// after 0H.
func (o *Options) Place(x float64) float64 {
	return width/2 + (x-o.Standard.Scan().FirstSample-o.ShiftX-width/2)/(1+o.ScaleX)
}
