package beside

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"backporch/analyse"
	"backporch/video/display"
)

// samples is a stack's luma at the middle of each pixel of the machine, the border about the picture with it.
type samples struct {
	width, height int // of the picture
	y             []float64
}

const edge = reach + 1 // pixels of border that are sampled too

// sample takes them by Catmull and Rom's cubic; what the capture does not hold is NaN.
func sample(s *analyse.Stack, reg analyse.Registration, p *display.Profile) *samples {
	out := &samples{width: p.Width, height: p.Height}
	w := p.Width + 2*edge
	out.y = make([]float64, w*(p.Height+2*edge))
	for y := -edge; y < p.Height+edge; y++ {
		line := int(math.Round(reg.OriginY + float64(y)*reg.PitchY))
		row := out.y[(y+edge)*w : (y+edge+1)*w]
		for x := range row {
			at := reg.OriginX + (float64(x-edge)+0.5)*reg.PitchX - 0.5
			i := int(math.Floor(at))
			if line < 0 || line >= s.Height || i < 1 || i+2 >= s.Width {
				row[x] = math.NaN()
				continue
			}
			v := s.Y[line*s.Width+i-1 : line*s.Width+i+3]
			row[x] = cubic(float64(v[0]), float64(v[1]), float64(v[2]), float64(v[3]), at-float64(i))
		}
	}
	return out
}

func cubic(a, b, c, d, t float64) float64 {
	return b + 0.5*t*(c-a+t*(2*a-5*b+4*c-d+t*(3*(b-c)+d-a)))
}

// at is the sample of a pixel, up to edge outside the picture.
func (s *samples) at(x, y int) float64 { return s.y[(y+edge)*(s.width+2*edge)+x+edge] }

// fit finds the coefficients that give a capture's samples by what row fills in for a pixel, and a constant after them: least squares, with what does not
// go with the rest left out. left is what it leaves of each pixel, explained the part of the variance that it gives, of those pixels that go with the rest.
// near is a first guess of the middle one of the first terms, the others are 0.
func fit(a *samples, p *display.Profile, n int, near float64, row func(x, y int, row []float64) bool) (taps, left []float64, explained float64, ok bool) {
	const rounds = 5
	terms := n + 1
	left = make([]float64, p.Width*p.Height)
	rows := make([]float64, len(left)*terms)
	used := make([]bool, len(left))
	for y := range p.Height {
		for x := range p.Width {
			at := y*p.Width + x
			r := rows[at*terms : (at+1)*terms]
			r[n] = 1
			used[at] = row(x, y, r[:n]) && !math.IsNaN(a.at(x, y)) && !slices.ContainsFunc(r, math.IsNaN)
			left[at] = math.NaN()
		}
	}
	scale := math.Inf(1)
	taps = make([]float64, terms)
	for range rounds {
		normal, right := make([]float64, terms*terms), make([]float64, terms)
		for at, in := range used {
			if !in || at/p.Width%2 == 1 { // every second line is enough to find them
				continue
			}
			w := 1.0
			if !math.IsInf(scale, 1) {
				z := left[at] / (outlier * scale)
				if z *= z; z >= 1 {
					continue
				}
				w = (1 - z) * (1 - z)
			}
			r := rows[at*terms : (at+1)*terms]
			v := a.at(at%p.Width, at/p.Width)
			for i, u := range r {
				right[i] += w * u * v
				for j := range i + 1 {
					normal[i*terms+j] += w * u * r[j]
				}
			}
		}
		// Stripes allow many filters: of these the one that is nearest to none.
		sym := mat.NewSymDense(terms, nil)
		for i := range terms {
			for j := range i + 1 {
				sym.SetSym(i, j, normal[i*terms+j])
			}
			held := 1e-6
			if i < n {
				held += nearest * (normal[i*terms+i] - normal[n*terms+i]*normal[n*terms+i]/math.Max(1, normal[n*terms+n]))
			}
			sym.SetSym(i, i, normal[i*terms+i]+held)
			if i == reach {
				right[i] += held * near
			}
		}
		var chol mat.Cholesky
		if !chol.Factorize(sym) {
			return nil, nil, 0, false
		}
		var out mat.VecDense
		if chol.SolveVecTo(&out, mat.NewVecDense(terms, right)) != nil {
			return nil, nil, 0, false
		}
		for i := range taps {
			taps[i] = out.AtVec(i)
		}
		var off []float32
		for at, in := range used {
			if !in {
				continue
			}
			v := a.at(at%p.Width, at/p.Width)
			for i, u := range rows[at*terms : (at+1)*terms] {
				v -= taps[i] * u
			}
			left[at] = v
			off = append(off, float32(math.Abs(v)))
		}
		if len(off) < len(left)/2 {
			return nil, nil, 0, false
		}
		scale = math.Max(leastScale, 1.4826*float64(analyse.Select(off, len(off)/2)))
	}
	var n1, sum, square, rest float64
	for at, in := range used {
		if in && math.Abs(left[at]) < outlier*scale {
			v := a.at(at%p.Width, at/p.Width)
			n1, sum, square, rest = n1+1, sum+v, square+v*v, rest+left[at]*left[at]
		}
	}
	variance := square - sum*sum/math.Max(n1, 1)
	if variance <= 0 {
		return taps, left, 0, true
	}
	return taps, left, 1 - rest/variance, true
}

// nearest is what part of a term's variance holds it to its first guess. Common practice, no source.
const nearest = 1e-3

// leastScale is the least deviation of what is left over, codes: a code's rounding in both.
const leastScale = 0.4
