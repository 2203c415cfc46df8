package cells

import (
	"math"

	"backporch/analyse"
	"backporch/analyse/grid"
)

// chroma solves every cell's colour differences, neighbours in turn.
func (r *reader) chroma() {
	if !r.colour {
		return
	}
	r.shares()
	r.kernel = chromaKernel(2.5)
	for cell := range r.inks {
		at := margin + cell%r.columns*8
		for plane, c := range [2]*channel{&r.cbs, &r.crs} {
			mean := 0.0
			for _, v := range r.planes.row(plane, cell/r.columns)[at : at+8] {
				mean += v / 8
			}
			c.paper[cell], c.ink[cell] = mean, mean
		}
	}
	r.believe()
	for row := range r.rows {
		for range 3 {
			for column := range r.columns {
				cell := row*r.columns + column
				cb, cr := r.chromaStats(row, column)
				r.cbs.paper[cell], r.cbs.ink[cell] = cb.solve(r.cbs.paper[cell], r.cbs.ink[cell], 0.1)
				r.crs.paper[cell], r.crs.ink[cell] = cr.solve(r.crs.paper[cell], r.crs.ink[cell], 0.1)
				r.believeCell(cell)
			}
		}
	}
}

// delays are those of chroma against luma that are tried, pixels.
var delays = [...]float64{-1, -0.5, 0, 0.5, 1, 1.5}

// lineMeans are the stack's colour differences over the lines of every row of cells, as they are weighed: what newChromaPlanes takes
// the means of pixels from. Which delay fits is told by these, a seventh of the lines.
func (r *reader) lineMeans(s *analyse.Stack, reg analyse.Registration) (means [2][]float32) {
	for plane, codes := range [2][]float32{s.Cb, s.Cr} {
		means[plane] = make([]float32, r.rows*s.ChromaWidth)
		sums := make([]float64, s.ChromaWidth)
		for row := range r.rows {
			clear(sums)
			for y, w := range lineWeights {
				if w > 0 {
					line := grid.Row(s, reg, row*8+y)
					for x, v := range codes[line*s.ChromaWidth:][:s.ChromaWidth] {
						sums[x] += w * float64(v)
					}
				}
			}
			for x, v := range sums {
				means[plane][row*s.ChromaWidth+x] = float32(v)
			}
		}
	}
	return means
}

// delayed gives the means of pixels as they are at a delay.
func (r *reader) delayed(s *analyse.Stack, reg analyse.Registration, delay float64) *chromaPlanes {
	if r.lines[0] == nil {
		r.lines = r.lineMeans(s, reg)
	}
	reg.OriginX += delay * reg.PitchX
	sampler := grid.Chroma(s, reg, -margin, r.p.Width+margin)
	out := &chromaPlanes{width: r.p.Width + 2*margin}
	pixels := make([]float32, out.width)
	for plane, lines := range r.lines {
		out.means[plane] = make([]float64, 0, r.rows*out.width)
		for row := range r.rows {
			sampler.Line(pixels, lines[row*s.ChromaWidth:(row+1)*s.ChromaWidth])
			for _, v := range pixels {
				out.means[plane] = append(out.means[plane], float64(v))
			}
		}
	}
	return out
}

// fitKernel takes the chroma delay and kernel that explain the assigned colours best: encoders
// and decoders hand out chroma up to some 150 ns late or early.
func (r *reader) fitKernel(s *analyse.Stack, reg analyse.Registration) {
	if !r.colour {
		return
	}
	r.shares()
	r.believe()
	least := r.chromaMisfit(r.planes, &r.kernel, math.Inf(1))
	kernel := func() {
		for _, sd := range []float64{0.8, 1.1, 1.5, 2, 2.5, 3.1, 3.8} {
			k := chromaKernel(sd)
			if m := r.chromaMisfit(r.planes, &k, least); m < least {
				r.kernel, least = k, m
			}
		}
	}
	kernel()
	for _, d := range delays {
		if r.chromaMisfit(r.delayed(s, reg, d), &r.kernel, 0.98*least) < 0.98*least {
			late := reg
			late.OriginX += d * reg.PitchX
			cb, cr := grid.Differences(s, late, -margin, r.p.Width+margin, 0, r.p.Height)
			r.planes, r.delay = newChromaPlanes(cb, cr, r.rows), d
			least = r.chromaMisfit(r.planes, &r.kernel, math.Inf(1))
		}
	}
	kernel()
}

// eachCell hands over the statistics of every cell, row by row.
func (r *reader) eachCell(f func(cell int, luma, cb, cr stats)) {
	known := r.model.mixing()
	if r.colour {
		r.shares()
		r.believe()
	}
	for row := range r.rows {
		for column := range r.columns {
			cell := row*r.columns + column
			var cb, cr stats
			if r.colour {
				cb, cr = r.chromaStats(row, column)
			}
			f(cell, r.lumaStats(known, row, column), cb, cr)
			if r.colour { // what f made of it its neighbours see
				r.believeCell(cell)
			}
		}
	}
}
