package beside

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat"

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

// A regression gives values by terms, a constant last among them, with values left out that do not go with the rest.
type regression struct {
	v     []float64
	rows  []float64 // [value*terms+term]
	terms int
	used  []bool    // values that are known; nil: all
	width int       // values a line, of which every third one is enough to find the coefficients; 0: no lines
	first []float64 // a first guess of the coefficients, to which stripes, which allow many, hold them; nil: nothing
}

// A fitted is what came of it.
type fitted struct {
	taps, left []float64 // coefficients; what each value is more than they give, NaN where it is not known
	explained  float64   // part of the variance that they give, of the values that go with the rest
	sd         float64   // of what is left over: 1.4826 times the middle one of its sizes
}

// nearest is what part of a term's variance holds it to its first guess; leastScale is the least deviation of what is left over, codes: what rounding
// leaves in both captures. outlier is that of Tukey's biweight which is 95 % as good as least squares where errors are normal. Common practice, no
// source, but for the last.
const (
	nearest    = 1e-3
	leastScale = 0.4
	outlier    = 4.685
)

// fit solves it by reweighted least squares; ok is false where too little is known.
func (r *regression) fit() (f fitted, ok bool) {
	const middle, rounds = 3, 7 // those that go by the middle of what is left over come first: they don't mind what lies far off to one side
	f.left, f.sd = make([]float64, len(r.v)), math.Inf(1)
	known := func(i int) bool { return r.used == nil || r.used[i] }
	for round := range rounds {
		normal, right := make([]float64, r.terms*r.terms), make([]float64, r.terms)
		for i, v := range r.v {
			if !known(i) || r.width > 0 && i/r.width%3 != 1 {
				continue
			}
			w := 1.0
			switch {
			case round > middle:
				w = biweight(f.left[i] / (outlier * f.sd))
			case round > 0:
				w = leastScale / math.Max(leastScale, math.Abs(f.left[i]))
			}
			if row := r.row(i); w > 0 {
				for j, u := range row {
					right[j] += w * u * v
					to := normal[j*r.terms:]
					for k := j; k < r.terms; k++ {
						to[k] += w * u * row[k]
					}
				}
			}
		}
		n := r.terms - 1
		for j := range n {
			held := 1e-6
			if r.first != nil {
				held += nearest * (normal[j*r.terms+j] - normal[j*r.terms+n]*normal[j*r.terms+n]/math.Max(1, normal[n*r.terms+n]))
				right[j] += held * r.first[j]
			}
			normal[j*r.terms+j] += held
		}
		var chol mat.Cholesky
		var out mat.VecDense
		if !chol.Factorize(mat.NewSymDense(r.terms, normal)) || chol.SolveVecTo(&out, mat.NewVecDense(r.terms, right)) != nil {
			return f, false
		}
		f.taps = out.RawVector().Data
		var off []float32
		for i, v := range r.v {
			if !known(i) {
				f.left[i] = math.NaN()
				continue
			}
			f.left[i] = v - floats.Dot(f.taps, r.row(i))
			off = append(off, float32(math.Abs(f.left[i])))
		}
		if 2*len(off) < len(r.v) {
			return f, false
		}
		f.sd = deviation(off)
	}
	var in, of []float64
	for i, v := range r.v {
		if known(i) && math.Abs(f.left[i]) < outlier*f.sd {
			in, of = append(in, f.left[i]), append(of, v)
		}
	}
	if v := stat.Variance(of, nil); v > 0 {
		f.explained = 1 - stat.Variance(in, nil)/v
	}
	return f, true
}

func (r *regression) row(i int) []float64 { return r.rows[i*r.terms : (i+1)*r.terms] }

// biweight is Tukey's.
func biweight(z float64) float64 {
	if z *= z; z < 1 {
		return (1 - z) * (1 - z)
	}
	return 0
}

// deviation is that of values of these sizes, by the middle one; it changes their order.
func deviation(sizes []float32) float64 {
	if len(sizes) == 0 {
		return leastScale
	}
	return math.Max(leastScale, 1.4826*float64(analyse.Select(sizes, len(sizes)/2)))
}

// fitLuma gives a capture's samples by what row fills in for each pixel.
func fitLuma(a *samples, first []float64, row func(x, y int, row []float64) bool) (fitted, bool) {
	terms := len(first) + 1
	r := regression{v: make([]float64, a.width*a.height), terms: terms, width: a.width, first: first, used: make([]bool, a.width*a.height)}
	r.rows = make([]float64, len(r.v)*terms)
	for i := range r.v {
		x, y := i%a.width, i/a.width
		u := r.row(i)
		u[terms-1] = 1
		r.v[i] = a.at(x, y)
		r.used[i] = row(x, y, u[:terms-1]) && !math.IsNaN(r.v[i]) && !slices.ContainsFunc(u, math.IsNaN)
	}
	return r.fit()
}
