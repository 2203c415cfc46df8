package grid

import (
	"math"

	"backporch/analyse"
)

// taps is the length of the interpolation kernel: a Lanczos window of four lobes,
// flat within 0.2 dB to 0.35 of the sampling rate, beyond the 3.5 to 4 MHz of the finest pixel
// pattern at 13.5 MHz.
const taps = 8

// A Sampler reads a line at the centres of machine pixels. It is made once for a
// registration and used for every line.
type Sampler struct {
	first   []int
	weights [][taps]float32
}

// NewSampler reads pixels from (inclusive) to to (exclusive) of a picture whose
// pixel k is centred at origin + (k+0.5)*pitch samples.
func NewSampler(origin, pitch float64, from, to int) *Sampler {
	s := &Sampler{first: make([]int, to-from), weights: make([][taps]float32, to-from)}
	for i := range s.first {
		x := origin + (float64(from+i)+0.5)*pitch
		base := int(math.Floor(x)) - taps/2 + 1
		s.first[i] = base
		sum := 0.0
		var w [taps]float64
		for t := range w {
			w[t] = lanczos(x - float64(base+t))
			sum += w[t]
		}
		for t := range w {
			s.weights[i][t] = float32(w[t] / sum)
		}
	}
	return s
}

func lanczos(x float64) float64 {
	if x == 0 {
		return 1
	}
	if math.Abs(x) >= taps/2 {
		return 0
	}
	a := math.Pi * x
	return math.Sin(a) / a * math.Sin(a/(taps/2)) / (a / (taps / 2))
}

// Line writes the pixels of one line into dst; samples beyond the line's ends repeat its last one.
func (s *Sampler) Line(dst, line []float32) {
	last := len(line) - 1
	for i, base := range s.first {
		w := &s.weights[i]
		if base >= 0 && base+taps <= len(line) {
			l := line[base : base+taps : base+taps]
			dst[i] = w[0]*l[0] + w[1]*l[1] + w[2]*l[2] + w[3]*l[3] + w[4]*l[4] + w[5]*l[5] + w[6]*l[6] + w[7]*l[7]
			continue
		}
		var sum float32
		for t := range w {
			sum += w[t] * line[min(max(base+t, 0), last)]
		}
		dst[i] = sum
	}
}

// A Raster is a plane read on the machine's pixel grid: Height lines of Width
// pixels, the first at pixel Left and line Top of the picture.
type Raster struct {
	V                        []float32
	Width, Height, Left, Top int
}

// At is the value at pixel x, line y of the picture.
func (r *Raster) At(x, y int) float32 { return r.V[(y-r.Top)*r.Width+x-r.Left] }

// Row is line y of the picture, from pixel Left on.
func (r *Raster) Row(y int) []float32 {
	i := (y - r.Top) * r.Width
	return r.V[i : i+r.Width]
}

// Rasters reads luma and the colour differences (nil in monochrome) on the
// grid, for pixels left to right and lines top to bottom of the picture (ends exclusive).
// Lines outside the field repeat its first or last one.
func Rasters(s *analyse.Stack, reg analyse.Registration, left, right, top, bottom int) (y, cb, cr *Raster) {
	luma := NewSampler(reg.OriginX, reg.PitchX, left, right)
	y = read(s.Y, s.Width, s.Height, luma, reg, left, right, top, bottom)
	cb, cr = Differences(s, reg, left, right, top, bottom)
	return y, cb, cr
}

// Differences reads the colour differences alone, as Rasters does.
func Differences(s *analyse.Stack, reg analyse.Registration, left, right, top, bottom int) (cb, cr *Raster) {
	if len(s.Cb) == 0 {
		return nil, nil
	}
	chroma := Chroma(s, reg, left, right)
	cb = read(s.Cb, s.ChromaWidth, s.Height, chroma, reg, left, right, top, bottom)
	cr = read(s.Cr, s.ChromaWidth, s.Height, chroma, reg, left, right, top, bottom)
	return cb, cr
}

// Chroma reads the colour differences of a stack's lines at the machine's pixels from left to right.
func Chroma(s *analyse.Stack, reg analyse.Registration, left, right int) *Sampler {
	step := float64(s.Width) / float64(s.ChromaWidth)
	return NewSampler(reg.OriginX/step, reg.PitchX/step, left, right)
}

// Row is the field line that shows line k of the picture; beyond the field its first or last one.
func Row(s *analyse.Stack, reg analyse.Registration, k int) int {
	return min(max(int(math.Round(reg.OriginY+float64(k)*reg.PitchY)), 0), s.Height-1)
}

func read(plane []float32, width, height int, s *Sampler, reg analyse.Registration, left, right, top, bottom int) *Raster {
	r := &Raster{V: make([]float32, (right-left)*(bottom-top)), Width: right - left, Height: bottom - top, Left: left, Top: top}
	for k := top; k < bottom; k++ {
		row := int(math.Round(reg.OriginY + float64(k)*reg.PitchY))
		row = min(max(row, 0), height-1)
		s.Line(r.Row(k), plane[row*width:(row+1)*width])
	}
	return r
}
