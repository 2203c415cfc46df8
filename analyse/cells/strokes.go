package cells

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// Colours that show in strokes alone have their chroma blurred into what is around them. All of the screen together tells it:
// every column of pixels is a known mixture of the colours about it, and what each of these is follows by least squares.
const (
	strokeRidge  = 0.02 // of a whole pixel: holds a colour that hardly shows to what it was
	unevenChroma = 12.0 // codes rms about the mixture, beyond which a colour is not one
	fewColumns   = 40   // columns that a colour needs
)

// strokes gives the clusters with the chroma of those that are only in strokes, where it can be told.
func (r *reader) strokes(clusters []spot) []spot {
	if !r.colour || len(clusters) == 0 {
		return clusters
	}
	wanted := false
	for _, c := range clusters {
		wanted = wanted || c.chroma < 0.2*c.weight && c.weight > fewCells
	}
	if !wanted {
		return clusters
	}
	find := func(s spot) int {
		best, at := math.Inf(1), 0
		for i, c := range clusters {
			if c.border {
				continue
			}
			d := square((s.y - c.y) / 6)
			if c.chroma >= 0.2*c.weight && s.chroma > 0 {
				d += square((s.cb-c.cb)/8) + square((s.cr-c.cr)/8)
			}
			if d < best {
				best, at = d, i
			}
		}
		return at
	}
	edge := -1
	for i, c := range clusters {
		if c.border {
			edge = i
		}
	}
	paper, ink := make([]int, len(r.inks)), make([]int, len(r.inks))
	for cell, inks := range r.inks {
		p := spot{y: r.luma.paper[cell], cb: r.cbs.paper[cell], cr: r.crs.paper[cell], chroma: 1}
		paper[cell] = find(p)
		ink[cell] = paper[cell]
		if inks > 0 {
			p = spot{y: r.luma.ink[cell], cb: r.cbs.ink[cell], cr: r.crs.ink[cell]}
			if inks >= 24 {
				p.chroma = 1
			}
			ink[cell] = find(p)
		}
	}
	n := len(clusters)
	normal := mat.NewSymDense(n, nil)
	rights := [2]*mat.VecDense{mat.NewVecDense(n, nil), mat.NewVecDense(n, nil)}
	r.shares()
	kernel := chromaKernel(2.5)
	var means [2][]float64
	width := r.columns * 8
	weights := make([]float64, n)
	// each calls f with the mixture of every column of a row of cells.
	each := func(f func(at int)) {
		for row := range r.rows {
			means = [2][]float64{r.planes.row(0, row), r.planes.row(1, row)}
			shares := r.inkShare[row*width : (row+1)*width]
			for at := range width {
				clear(weights)
				whole := true
				for k, g := range kernel {
					q := at + k - chromaReach
					if q < 0 || q >= width {
						if edge < 0 {
							whole = false
							break
						}
						weights[edge] += g
						continue
					}
					cell := row*r.columns + q/8
					weights[ink[cell]] += g * shares[q]
					weights[paper[cell]] += g * (1 - shares[q])
				}
				if whole {
					f(margin + at)
				}
			}
		}
	}
	columns := make([]float64, n)
	each(func(at int) {
		for a, va := range weights {
			if va == 0 {
				continue
			}
			columns[a] += va
			for b := a; b < n; b++ {
				if vb := weights[b]; vb != 0 {
					normal.SetSym(a, b, normal.At(a, b)+va*vb)
				}
			}
			for k := range rights {
				rights[k].SetVec(a, rights[k].AtVec(a)+va*(means[k][at]-128))
			}
		}
	})
	for a, c := range clusters {
		normal.SetSym(a, a, normal.At(a, a)+strokeRidge)
		if c.chroma >= 0.2*c.weight {
			rights[0].SetVec(a, rights[0].AtVec(a)+strokeRidge*(c.cb-128))
			rights[1].SetVec(a, rights[1].AtVec(a)+strokeRidge*(c.cr-128))
		}
	}
	var chol mat.Cholesky
	var inverse mat.SymDense
	var solved [2]mat.VecDense
	if !chol.Factorize(normal) || chol.InverseTo(&inverse) != nil || chol.SolveVecTo(&solved[0], rights[0]) != nil || chol.SolveVecTo(&solved[1], rights[1]) != nil {
		return clusters
	}
	squares, of := make([]float64, n), make([]float64, n)
	all, count := 0.0, 0.0
	each(func(at int) {
		sum := 0.0
		for k := range solved {
			d := means[k][at] - 128
			for a, v := range weights {
				d -= v * solved[k].AtVec(a)
			}
			sum += d * d / 2
		}
		all += sum
		count++
		for a, v := range weights {
			squares[a] += v * sum
			of[a] += v
		}
	})
	out := append([]spot(nil), clusters...)
	for a := range out {
		c := &out[a]
		if c.chroma >= 0.2*c.weight || columns[a] < fewColumns || math.Sqrt(squares[a]/of[a]) > unevenChroma {
			continue
		}
		c.cb, c.cr, c.chroma = 128+solved[0].AtVec(a), 128+solved[1].AtVec(a), c.weight
		// Neighbouring columns err together.
		c.blur = math.Sqrt(8*math.Max(all/count, 1)*inverse.At(a, a)) / 224
		// The kernel is known to some tenths: a stroke's chroma is right to as much.
		c.blur = math.Hypot(c.blur, 0.15*math.Hypot(c.cb-128, c.cr-128)/224)
	}
	return out
}

// broad tells whether a cell's ink, or its paper, is there for the most part as lines of the cell's whole width: chroma is blurred over as
// many pixels, so that of patterns is the mean of their colours.
func (r *reader) broad(cell, ink int) bool {
	whole, part := uint8(0), 64-r.inks[cell]
	if ink == 1 {
		whole, part = 0xff, r.inks[cell]
	}
	full := 0
	for y := range 8 {
		if r.bits[(cell/r.columns*8+y)*r.columns+cell%r.columns] == whole {
			full += 8
		}
	}
	return 4*full >= 3*part
}

// calm tells whether the cells to both sides have a colour's chroma too, so that blur leaves it as it is.
func (r *reader) calm(cell int, s spot) bool {
	alike := func(cb, cr float64) bool { return math.Abs(cb-s.cb) < 10 && math.Abs(cr-s.cr) < 10 }
	for side := -1; side <= 1; side += 2 {
		if at := cell%r.columns + side; at < 0 || at >= r.columns {
			if r.border.weight > 0 && !alike(r.border.cb, r.border.cr) {
				return false
			}
			continue
		}
		next := cell + side
		if !alike(r.cbs.paper[next], r.crs.paper[next]) && !alike(r.cbs.ink[next], r.crs.ink[next]) {
			return false
		}
	}
	return true
}
