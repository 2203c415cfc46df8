package composite

import (
	"math"

	"backporch/video"
)

// An Encoder makes a composite waveform from lines of pixels. It keeps the picture in
// baseband and draws only lines that change, so a still picture costs little a field.
// An Encoder is used by one goroutine at a time.
type Encoder struct {
	raster  Raster
	timing  lineTiming
	rate    float64 // samples a second, exactly
	line    float64 // samples a line
	lead    float64 // samples before 0H of line 0
	white   float64 // mV above black
	setup   float64 // mV of black above blanking
	luma    *edgeTable
	chroma  *edgeTable
	start   []int     // first sample of each line, and the end
	sync    []float32 // mV, sync alone
	y, u, v []float32 // mV; v before the V switch
	drawn   []drawnLine
	dy      []float32 // differences of one line
	du, dv  []float32
	step    uint64 // subcarrier cycles a sample, as a part of 2^64
	phase   uint64
	odd     bool // V switch at line 0
}

// drawnLine is what a line of the buffers shows.
type drawnLine struct {
	first  float64
	pixels []uint8
	colour []video.YUV
}

// leadTime stands before each 0H in a line's own part of the waveform: it begins
// in the front porch, where nothing moves.
const leadTime = 0.9e-6

// NewEncoder prepares an encoder. The rate is rounded, by parts in a million,
// so that a field (a frame when interlaced) has a whole number of samples; 0 means four times the
// standard's subcarrier.
func NewEncoder(r Raster, rate float64) (*Encoder, error) {
	scan := r.Standard.Scan()
	if rate == 0 {
		rate = 4 * scan.SubcarrierHz
	}
	if err := r.check(rate); err != nil {
		return nil, err
	}
	if r.LumaHz <= 0 {
		r.LumaHz = 6e6
	}
	if r.ChromaHz <= 0 {
		r.ChromaHz = 1.3e6
	}
	e := &Encoder{raster: r, timing: timingOf(r.Standard)}
	duration := float64(r.Lines) / r.LineHz()
	n := int(math.Round(duration * rate))
	e.rate = float64(n) / duration
	e.line = float64(n) / float64(r.Lines)
	e.lead = leadTime * e.rate
	e.white = scan.WhiteMV
	if r.Setup {
		e.setup = scan.WhiteMV * scan.SetupFraction
		e.white -= e.setup
	}
	e.luma = gaussEdge(r.LumaHz / e.rate)
	e.chroma = gaussEdge(r.ChromaHz / e.rate)
	e.step = uint64(math.Round(r.subcarrier()/e.rate*(1<<32)*(1<<31))) * 2
	e.start = make([]int, r.Lines+1)
	widest := 0
	for i := range e.start {
		e.start[i] = int(math.Ceil(float64(i)*e.line - 1e-9))
		if i > 0 {
			widest = max(widest, e.start[i]-e.start[i-1])
		}
	}
	e.start[r.Lines] = n
	e.sync, e.y, e.u, e.v = make([]float32, n), make([]float32, n), make([]float32, n), make([]float32, n)
	e.dy, e.du, e.dv = make([]float32, widest), make([]float32, widest), make([]float32, widest)
	e.drawn = make([]drawnLine, r.Lines)
	e.drawSync(scan.SyncMV)
	for i := range r.Lines {
		e.draw(i)
	}
	return e, nil
}

// Rate is the exact sampling rate.
func (e *Encoder) Rate() float64 { return e.rate }

// Samples is the length of one field (of one frame when interlaced).
func (e *Encoder) Samples() int { return len(e.y) }

// ZeroH is the sample place of 0H of line n.
func (e *Encoder) ZeroH(n int) float64 { return e.lead + float64(n)*e.line }

func (e *Encoder) drawSync(height float64) {
	d := e.sync
	edge := sineSquaredEdge(e.timing.rise * e.rate)
	for _, p := range e.raster.pulses() {
		edge.add(d, e.lead+p.from*e.rate, float32(-height))
		edge.add(d, e.lead+p.to*e.rate, float32(height))
	}
	sum := 0.0
	for i, v := range d {
		sum += float64(v)
		d[i] = float32(sum)
	}
}

// SetLine puts pixels on line n (0 is the line on which field sync begins): palette
// indices from first on, the place of the left edge of the first pixel in pixel periods
// after 0H. Outside them the line is blanked. The pixels are copied; the palette is kept and must
// not be written to afterwards. A line is drawn anew only when it differs from what it was.
func (e *Encoder) SetLine(n int, first float64, pixels []uint8, palette []video.YUV) {
	d := &e.drawn[n]
	if d.first == first && string(d.pixels) == string(pixels) && samePalette(d.colour, palette) {
		return
	}
	d.first = first
	d.pixels = append(d.pixels[:0], pixels...)
	d.colour = palette
	e.draw(n)
}

func samePalette(a, b []video.YUV) bool {
	if len(a) != len(b) {
		return false
	}
	if len(a) == 0 || &a[0] == &b[0] {
		return true
	}
	for i := range a {
		if a[i] != b[i] {
			return false
		}
	}
	return true
}

// draw makes line n's part of the baseband buffers.
func (e *Encoder) draw(n int) {
	from, to := e.start[n], e.start[n+1]
	dy, du, dv := e.dy[:to-from], e.du[:to-from], e.dv[:to-from]
	clear(dy)
	clear(du)
	clear(dv)
	zero := e.ZeroH(n) - float64(from)
	if e.raster.hasBurst(n) {
		amplitude := e.raster.Standard.Scan().BurstMVPP / 2
		u, v := -amplitude, 0.0 // 180 degrees; SMPTE 170M
		if e.raster.Standard == video.Std625 {
			u, v = -amplitude*math.Sqrt2/2, amplitude*math.Sqrt2/2 // 135 degrees, V switched; ITU-R BT.1700
		}
		on := zero + e.timing.burstStart*e.rate
		off := on + e.timing.burstCycles/e.raster.Standard.Scan().SubcarrierHz*e.rate
		e.chroma.add(du, on, float32(u))
		e.chroma.add(du, off, float32(-u))
		e.chroma.add(dv, on, float32(v))
		e.chroma.add(dv, off, float32(-v))
	}
	line := &e.drawn[n]
	if len(line.pixels) > 0 {
		pitch := e.rate / e.raster.PixelHz
		at := zero + line.first*pitch
		late := e.raster.ChromaDelay * e.rate
		var y, u, v float64
		last := -1
		for i, index := range line.pixels {
			if int(index) == last {
				continue
			}
			last = int(index)
			c := line.colour[index]
			ny, nu, nv := e.setup+c.Y*e.white, c.U*e.white, c.V*e.white
			t := at + float64(i)*pitch
			e.luma.add(dy, t, float32(ny-y))
			if nu != u {
				e.chroma.add(du, t+late, float32(nu-u))
			}
			if nv != v {
				e.chroma.add(dv, t+late, float32(nv-v))
			}
			y, u, v = ny, nu, nv
		}
		t := at + float64(len(line.pixels))*pitch
		e.luma.add(dy, t, float32(-y))
		e.chroma.add(du, t+late, float32(-u))
		e.chroma.add(dv, t+late, float32(-v))
	}
	var y, u, v float32
	for i := range dy {
		y += dy[i]
		u += du[i]
		v += dv[i]
		e.y[from+i] = y + e.sync[from+i]
		e.u[from+i], e.v[from+i] = u, v
	}
}

// Encode gives the next field (frame when interlaced) in mV, 0.9 us of
// front porch before 0H of line 0 first; the subcarrier runs on from field to field. dst is used
// when it is large enough.
func (e *Encoder) Encode(dst []float32) []float32 {
	if cap(dst) < len(e.y) {
		dst = make([]float32, len(e.y))
	}
	dst = dst[:len(e.y)]
	pal := e.raster.Standard == video.Std625
	phase, step := e.phase, e.step
	for n := range e.raster.Lines {
		from, to := e.start[n], e.start[n+1]
		sign := float32(1)
		if pal && (n&1 == 1) != e.odd {
			sign = -1
		}
		y, u, v, out := e.y[from:to], e.u[from:to], e.v[from:to], dst[from:to]
		u, v, out = u[:len(y)], v[:len(y)], out[:len(y)]
		for i := range y {
			p := phase >> 52
			out[i] = y[i] + u[i]*sines[p] + sign*v[i]*sines[p+1024]
			phase += step
		}
	}
	e.phase = phase
	if e.raster.Lines&1 == 1 {
		e.odd = !e.odd
	}
	return dst
}
