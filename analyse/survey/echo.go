package survey

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"backporch/analyse"
	"backporch/video/display"
)

// An echo is a second copy of the picture, as a stack holds it.
type echo struct {
	samples float64 // it comes later by
	part    float64 // of the first copy
	black   float64 // code
	// What the colour differences of the second copy are of the first one's, Cb then Cr: turned by the subcarrier's phase where a device does not take the
	// mean of two lines; all 0 where they do not tell.
	chroma [2][2]float64
}

// A copy is taken off before cells are read from so many nats on that it stands there, and so large a part of the picture: what is less spoils no cell. Common
// practice, no source.
const (
	surelyEcho = 12.0
	leastEcho  = 5.0 // %
)

// echoOf is the copy that the signal's measures tell, nil where none is plain.
func echoOf(s *analyse.Survey, p *display.Profile) *echo {
	g := s.Signal.Ghost
	if !g.Stands(s.Signal.Ringing) || g.Gain < surelyEcho || !(math.Abs(g.Pct.Value) >= leastEcho) || !s.Holds() {
		return nil
	}
	part := math.Max(-mostEcho, math.Min(mostEcho, g.Pct.Value/100))
	e := &echo{samples: g.Ns.Value * 1e-9 * p.PixelClockHz * s.Registration.PitchX, part: part, black: s.Levels.Black}
	e.hear(s, p)
	return e
}

// mostEcho is the part of the first copy that the second has at the most; one as large as the first cannot be taken off.
const mostEcho = 0.8

// off gives a stack without the copy, its even parts at the level that they had: the first copy is what is left of each sample when that part
// of what it was so much earlier is taken off, from blanking on (a recursive comb filter; Oppenheim and Schafer, Discrete-Time Signal Processing, from memory).
func (e *echo) off(s *analyse.Stack) *analyse.Stack {
	if e == nil || s == nil {
		return s
	}
	out := *s
	out.Y = make([]float32, len(s.Y))
	before := earlier(e.samples)
	a, black := float32(e.part), float32(e.black)
	for y := range s.Height {
		from, to := s.Y[y*s.Width:(y+1)*s.Width], out.Y[y*s.Width:(y+1)*s.Width]
		for x, v := range from {
			to[x] = v + a*(v-black-before(to, x, black))
		}
	}
	e.offChroma(s, &out)
	return &out
}

// earlier gives what a line was so many samples before x, above rest, which it is before its beginning.
func earlier(samples float64) func(line []float32, x int, rest float32) float32 {
	whole := int(math.Floor(samples))
	late := float32(samples - float64(whole))
	return func(line []float32, x int, rest float32) float32 {
		v := float32(0)
		if i := x - whole; i >= 0 {
			v += (1 - late) * (line[i] - rest)
		}
		if i := x - whole - 1; i >= 0 {
			v += late * (line[i] - rest)
		}
		return v
	}
}

// neutral is the code of no colour (ITU-R BT.601).
const neutral = 128

func (e *echo) offChroma(s, out *analyse.Stack) {
	if e.chroma == [2][2]float64{} || s.ChromaWidth == 0 {
		return
	}
	out.Cb, out.Cr = make([]float32, len(s.Cb)), make([]float32, len(s.Cr))
	before := earlier(e.samples * float64(s.ChromaWidth) / float64(s.Width))
	var k [2][2]float32
	for i := range k {
		for j := range k[i] {
			k[i][j] = float32(e.chroma[i][j])
		}
	}
	for y := range s.Height {
		from, to := y*s.ChromaWidth, (y+1)*s.ChromaWidth
		cb, cr := out.Cb[from:to], out.Cr[from:to]
		for x := range cb {
			b := s.Cb[from+x] - neutral - before(cb, x, neutral)
			r := s.Cr[from+x] - neutral - before(cr, x, neutral)
			cb[x] = s.Cb[from+x] + k[0][0]*b + k[0][1]*r
			cr[x] = s.Cr[from+x] + k[1][0]*b + k[1][1]*r
		}
	}
}

// hear finds what the colour differences of the copy are, by least squares against the colours that the cells were read to have and those that stood so
// much earlier.
func (e *echo) hear(s *analyse.Survey, p *display.Profile) {
	st, reg := s.Stack, s.Registration
	if st.ChromaWidth == 0 {
		return
	}
	wide := float64(st.Width) / float64(st.ChromaWidth)
	pixels := ideal(s.Cells, p)
	const terms = 5
	normal, right := mat.NewSymDense(terms, nil), mat.NewDense(terms, 2, nil)
	var square [2]float64
	n := 0.0
	line := make([][2]float64, st.ChromaWidth)
	for y := 0; y < p.Height; y += 2 {
		row := int(math.Round(reg.OriginY + float64(y)*reg.PitchY))
		if row < 0 || row >= st.Height {
			continue
		}
		e.expected(line, pixels[y*p.Width:(y+1)*p.Width], s, p, wide)
		for x := range line {
			before := float64(x) - e.samples/wide
			i := int(math.Floor(before))
			if pixel := ((float64(x)+0.5)*wide - reg.OriginX) / reg.PitchX; i < 0 || pixel < -8 || pixel >= float64(p.Width+8) {
				continue
			}
			part := before - float64(i)
			term := [terms]float64{1, line[x][0], line[x][1], (1-part)*line[i][0] + part*line[i+1][0], (1-part)*line[i][1] + part*line[i+1][1]}
			seen := [2]float64{float64(st.Cb[row*st.ChromaWidth+x]) - neutral, float64(st.Cr[row*st.ChromaWidth+x]) - neutral}
			for a, u := range term {
				for b := a; b < terms; b++ {
					normal.SetSym(a, b, normal.At(a, b)+u*term[b])
				}
				for c, v := range seen {
					right.Set(a, c, right.At(a, c)+u*v)
				}
			}
			square[0], square[1] = square[0]+seen[0]*seen[0], square[1]+seen[1]*seen[1]
			n++
		}
	}
	left := func(terms int) (out *mat.Dense, sum float64) {
		var chol mat.Cholesky
		out = new(mat.Dense)
		of := mat.NewSymDense(terms, nil)
		for a := range terms {
			for b := a; b < terms; b++ {
				of.SetSym(a, b, normal.At(a, b))
			}
			of.SetSym(a, a, of.At(a, a)+1e-6*n)
		}
		if !chol.Factorize(of) || chol.SolveTo(out, right.Slice(0, terms, 0, 2)) != nil {
			return nil, 0
		}
		for c, v := range square {
			sum += v
			for a := range terms {
				sum -= out.At(a, c) * right.At(a, c)
			}
		}
		return out, sum
	}
	_, without := left(terms - 2)
	found, with := left(terms)
	if found == nil || with > toldByChroma*without {
		return
	}
	// Cb and Cr of the copy by those of the picture.
	var first, second, turn mat.Dense
	first.CloneFrom(found.Slice(1, 3, 0, 2))
	second.CloneFrom(found.Slice(3, 5, 0, 2))
	if turn.Solve(&first, &second) != nil || mat.Norm(&turn, 2) > mostEcho {
		return
	}
	for i := range e.chroma {
		for j := range e.chroma[i] {
			e.chroma[i][j] = turn.At(j, i)
		}
	}
}

// toldByChroma is the part of what the colours leave of chroma that the copy's leave at the most. Common practice, no source.
const toldByChroma = 0.9

// expected fills a line with the colours that stand at each chroma sample, over as many pixels as a decoder's chroma takes.
func (e *echo) expected(line [][2]float64, pixels []uint8, s *analyse.Survey, p *display.Profile, wide float64) {
	const reach = 3 // pixels to either side: 1.3 MHz of bandwidth (ITU-R BT.1700)
	reg := s.Registration
	for x := range line {
		middle := int(math.Floor(((float64(x)+0.5)*wide - reg.OriginX) / reg.PitchX))
		line[x] = [2]float64{}
		for at := middle - reach; at <= middle+reach; at++ {
			colour := s.Border.Colour
			if at >= 0 && at < len(pixels) {
				colour = int(pixels[at])
			}
			if colour >= 0 {
				line[x][0] += p.Colours[colour].U / (2*reach + 1)
				line[x][1] += p.Colours[colour].V / (2*reach + 1)
			}
		}
	}
}
