package drift

import "backporch/video"

// An envelope is the range of every sample in one state: lo to lo+span.
type envelope struct {
	width, height, chroma int
	y, cb, cr             bounds
	boxes                 []boxRange // by place
}

// A boxRange is the range of a place's four box means.
type boxRange struct{ low, high [blockWidth / 4]float32 }

// off is by how much the box means leave the range.
func (b *boxRange) off(m [blockWidth / 4]float32) float32 {
	most := float32(0)
	for i, v := range m {
		most = max(most, b.low[i]-v, v-b.high[i])
	}
	return most
}

// bounds are the ranges of a plane's samples, row-major.
type bounds struct{ lo, span []uint8 }

func newBounds(n int) bounds { return bounds{make([]uint8, n), make([]uint8, n)} }

func newEnvelope(f *video.Field) *envelope {
	return &envelope{
		width: f.Width, height: f.Height, chroma: f.ChromaWidth,
		boxes: make([]boxRange, ((f.Width+blockWidth-1)/blockWidth)*((f.Height+blockHeight-1)/blockHeight)),
		y:     newBounds(f.Width * f.Height), cb: newBounds(f.ChromaWidth * f.Height), cr: newBounds(f.ChromaWidth * f.Height),
	}
}

// chromaLines: chroma is looked at on every second line, since a cell is eight lines high.
const chromaLines = 2

// excess sums how far the samples of a place are out of their range.
func (e *envelope) excess(f *video.Field, column, row int) int {
	x0, x1 := column*blockWidth, min((column+1)*blockWidth, e.width)
	y0, y1 := row*blockHeight, min((row+1)*blockHeight, e.height)
	sum := 0
	for y := y0; y < y1; y++ {
		from, to := y*e.width+x0, y*e.width+x1
		sum += out(f.Y[from:to], e.y.lo[from:to], e.y.span[from:to])
	}
	if e.chroma == 0 || len(f.Cb) == 0 {
		return sum
	}
	c0, c1 := x0*e.chroma/e.width, x1*e.chroma/e.width
	for y := y0; y < y1; y += chromaLines {
		from, to := y*e.chroma+c0, y*e.chroma+c1
		sum += out(f.Cb[from:to], e.cb.lo[from:to], e.cb.span[from:to])
		sum += out(f.Cr[from:to], e.cr.lo[from:to], e.cr.span[from:to])
	}
	return sum
}

// out sums what lies outside. One comparison finds both sides: below lo the difference wraps.
func out(x, lo, span []uint8) int {
	if len(lo) < len(x) || len(span) < len(x) {
		return 0
	}
	lo, span = lo[:len(x)], span[:len(x)]
	sum := 0
	for i, v := range x {
		if d := v - lo[i]; d > span[i] {
			if v < lo[i] {
				sum += int(lo[i] - v)
			} else {
				sum += int(d - span[i])
			}
		}
	}
	return sum
}

const (
	// pad is how far beyond what was seen a range reaches, in codes, beside what noise adds.
	pad = 6
	// attack is how many codes a range widens at a visit when a sample comes near its end; a place
	// is visited every visits fields of its parity, eight times a second. It is odd, for the
	// subcarrier comes round in 2 or 4 of them (PAL: 8 fields) and every phase is to be followed.
	attack = 6
	visits = 3
	// release is the visits after which a range that is not used closes by one code: ten seconds.
	release = 84
)

// follow lets the ranges of the places that are good in f follow slow changes.
func (w *Watcher) follow(f *video.Field, p *parity) {
	turn := w.fields / 2 // fields of this parity
	shrink := turn/visits%release == 0
	reach := uint8(pad + w.sigma/2)
	for row := turn % visits; row < w.rows; row += visits {
		for c := range w.columns {
			i := row*w.columns + c
			if w.bad[i] || w.moving[i] {
				continue
			}
			e := p.state[p.prefer[i]]
			x0, x1 := c*blockWidth, min((c+1)*blockWidth, w.width)
			for y := row * blockHeight; y < min((row+1)*blockHeight, w.height); y++ {
				from, to := y*w.width+x0, y*w.width+x1
				creep(f.Y[from:to], e.y.lo[from:to], e.y.span[from:to], reach, shrink)
				if w.chroma > 0 && y%chromaLines == 0 {
					from, to = y*w.chroma+x0*w.chroma/w.width, y*w.chroma+x1*w.chroma/w.width
					creep(f.Cb[from:to], e.cb.lo[from:to], e.cb.span[from:to], reach, shrink)
					creep(f.Cr[from:to], e.cr.lo[from:to], e.cr.span[from:to], reach, shrink)
				}
			}
		}
	}
}

// creep moves the ends of ranges: away from samples that come within reach, back when all stay clear.
func creep(x, lo, span []uint8, reach uint8, shrink bool) {
	lo, span = lo[:len(x)], span[:len(x)]
	for i, v := range x {
		low, high := lo[i], lo[i]+span[i]
		below, above := int(v)-int(low), int(high)-int(v)
		switch {
		case below < int(reach):
			low -= min(low, attack)
		case shrink && below > 2*int(reach):
			low++
		}
		switch {
		case above < int(reach):
			high += min(255-high, attack)
		case shrink && above > 2*int(reach):
			high--
		}
		lo[i], span[i] = low, high-low
	}
}
