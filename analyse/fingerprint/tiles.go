package fingerprint

import (
	"math"
	"math/cmplx"
	"sort"

	"backporch/video"
)

// A demodulator turns pieces of lines into the subcarrier's amplitude.
type demodulator struct {
	width, height int
	pal           bool
	carrier       []complex64 // conjugate of the subcarrier, by sample
	window        [tileWidth]float32
}

func newDemodulator(f *video.Field, standard video.Standard) *demodulator {
	scan := standard.Scan()
	period := float64(scan.LineSamples) * float64(f.Width) / 720 // samples a line
	cycles := scan.SubcarrierHz / scan.LineHz / period           // a sample
	if cycles > 0.47 || f.Width < 8*tileWidth || f.Height < 16 {
		return nil // the picture was made too narrow to hold a subcarrier
	}
	d := &demodulator{width: f.Width, height: f.Height, pal: standard == video.Std625, carrier: make([]complex64, f.Width)}
	for x := range d.carrier {
		d.carrier[x] = complex64(cmplx.Rect(1, -2*math.Pi*cycles*float64(x)))
	}
	for i := range d.window {
		d.window[i] = float32(1-math.Cos(2*math.Pi*(float64(i)+0.5)/tileWidth)) / tileWidth
	}
	return d
}

// at demodulates a tile of luma. What stands still about the subcarrier passes too.
func (d *demodulator) at(line []float32, x int) complex64 {
	var re, im float32
	for i, w := range d.window {
		v := line[x+i] * w
		re += v * real(d.carrier[x+i])
		im += v * imag(d.carrier[x+i])
	}
	return complex(re, im)
}

// groups of fields: by flash, by parity.
const groups = 4

// A series is a tile over time.
type series struct {
	x, y int // of its first luma sample
	z    []complex64
}

// read demodulates what moves in the fields, and keeps the tiles where most does. Each group of
// fields has a mean of its own.
func (d *demodulator) read(fields []*video.Field, group []int, colour bool) []series {
	width := d.width
	if colour {
		width = fields[0].ChromaWidth
		if width*2 != d.width {
			return nil // monochrome, or not 4:2:2
		}
	}
	var means [groups][2][]float32
	var count [groups]float32
	for k, f := range fields {
		if f.Width != d.width || f.Height != d.height || colour && f.ChromaWidth != width {
			return nil
		}
		count[group[k]]++
		for i, p := range planes(f, colour) {
			m := &means[group[k]][i]
			if *m == nil {
				*m = make([]float32, width*d.height)
			}
			for n, v := range p {
				(*m)[n] += float32(v)
			}
		}
	}
	for g := range means {
		for _, m := range means[g] {
			for n := range m {
				m[n] /= count[g]
			}
		}
	}
	r := &reader{d: d, colour: colour, width: width, means: &means}
	// The blanking edges at a line's ends jitter as nothing else does.
	first, last := d.width/40, d.width-d.width/40-tileWidth
	first -= first % 2
	columns := (last - first) / tileStep
	power := make([]float32, columns*d.height)
	look := max(1, len(fields)/24)
	for k := 0; k < len(fields); k += look {
		for y := range d.height {
			r.load(fields[k], group[k], y)
			for c := range columns {
				z := r.tile(first + c*tileStep)
				power[y*columns+c] += real(z)*real(z) + imag(z)*imag(z)
			}
		}
	}
	order := make([]int, len(power))
	for i := range order {
		order[i] = i
	}
	sort.Slice(order, func(i, k int) bool { return power[order[i]] > power[order[k]] })
	order = order[:min(len(order), searchTiles)]
	sort.Ints(order)
	out := make([]series, len(order))
	for n, i := range order {
		out[n] = series{x: first + i%columns*tileStep, y: i / columns, z: make([]complex64, len(fields))}
	}
	for k, f := range fields {
		drawn := -1
		for n := range out {
			s := &out[n]
			if s.y != drawn {
				r.load(f, group[k], s.y)
				drawn = s.y
			}
			s.z[k] = r.tile(s.x)
		}
	}
	return out
}

func planes(f *video.Field, colour bool) [][]uint8 {
	if colour {
		return [][]uint8{f.Cb, f.Cr}
	}
	return [][]uint8{f.Y}
}

// A reader gives the tiles of a line, less its mean.
type reader struct {
	d      *demodulator
	colour bool
	width  int
	means  *[groups][2][]float32
	line   [2][]float32
	mirror bool // the line has V the other way round
}

func (r *reader) load(f *video.Field, group, y int) {
	for i, p := range planes(f, r.colour) {
		if r.line[i] == nil {
			r.line[i] = make([]float32, r.width)
		}
		m := r.means[group][i][y*r.width : (y+1)*r.width]
		for x, v := range p[y*r.width : (y+1)*r.width] {
			r.line[i][x] = float32(v) - m[x]
		}
	}
	r.mirror = r.d.pal && y%2 == 1
}

// tile is the amplitude in the tile that begins at luma sample x. Colour differences come demodulated.
func (r *reader) tile(x int) complex64 {
	if !r.colour {
		return r.d.at(r.line[0], x)
	}
	var u, v float32
	for i := 0; i < tileWidth/2; i++ {
		w := r.d.window[2*i] + r.d.window[2*i+1]
		u += w * r.line[0][x/2+i] * uOfCb
		v += w * r.line[1][x/2+i] * vOfCr
	}
	if r.mirror {
		v = -v
	}
	return complex(u, v)
}

// U and V of a code of Cb and Cr, as parts of white; the ratio is what matters here.
var uOfCb, vOfCr = func() (float32, float32) {
	c := video.YUVOfCodes(16, 129, 129)
	return float32(c.U), float32(c.V)
}()
