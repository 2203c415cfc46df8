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
	means := make([]float64, r.columns*8+2*margin)
	for _, plane := range []struct {
		raster *grid.Raster
		c      channel
		border float64
	}{{r.cb, r.cbs, r.border.cb}, {r.cr, r.crs, r.border.cr}} {
		for row := range r.rows {
			columnMeans(plane.raster, row, means)
			for column := range r.columns {
				mean := 0.0
				for _, v := range means[margin+column*8 : margin+column*8+8] {
					mean += v / 8
				}
				cell := row*r.columns + column
				plane.c.paper[cell], plane.c.ink[cell] = mean, mean
			}
			for range 3 {
				for column := range r.columns {
					cell := row*r.columns + column
					s := r.chromaStats(means, plane.c, plane.border, row, column)
					plane.c.paper[cell], plane.c.ink[cell] = s.solve(plane.c.paper[cell], plane.c.ink[cell], 0.1)
				}
			}
		}
	}
}

// fitKernel takes the chroma delay and kernel that explain the assigned colours best: encoders
// and decoders hand out chroma up to some 150 ns late or early.
func (r *reader) fitKernel(s *analyse.Stack, reg analyse.Registration) {
	if !r.colour {
		return
	}
	misfit := func() float64 {
		sum := 0.0
		r.eachChroma(func(cell int, cb, cr stats) {
			// A cell of the wrong colour must not decide.
			sum += math.Min(cb.squares(r.cbs.paper[cell], r.cbs.ink[cell])+cr.squares(r.crs.paper[cell], r.crs.ink[cell]), 4000)
		})
		return sum
	}
	least := misfit()
	kernel := func() {
		best := r.kernel
		for _, sd := range []float64{0.8, 1.1, 1.5, 2, 2.5, 3.1, 3.8} {
			r.kernel = chromaKernel(sd)
			if m := misfit(); m < least {
				best, least = r.kernel, m
			}
		}
		r.kernel = best
	}
	kernel()
	cb, cr, delay := r.cb, r.cr, r.delay
	for _, d := range []float64{-1, -0.5, 0, 0.5, 1, 1.5} {
		late := reg
		late.OriginX += d * reg.PitchX
		_, r.cb, r.cr = grid.Rasters(s, late, -margin, r.p.Width+margin, 0, r.p.Height)
		if m := misfit(); m < 0.98*least {
			cb, cr, delay, least = r.cb, r.cr, d, m
		}
	}
	r.cb, r.cr, r.delay = cb, cr, delay
	kernel()
}

// eachCell hands over the statistics of every cell, row by row.
func (r *reader) eachCell(f func(cell int, luma, cb, cr stats)) {
	r.eachChroma(func(cell int, cb, cr stats) {
		f(cell, r.lumaStats(cell/r.columns, cell%r.columns), cb, cr)
	})
}

// eachChroma hands over the statistics of the colour differences alone.
func (r *reader) eachChroma(f func(cell int, cb, cr stats)) {
	r.shares()
	cbMeans, crMeans := make([]float64, r.columns*8+2*margin), make([]float64, r.columns*8+2*margin)
	for row := range r.rows {
		if r.colour {
			columnMeans(r.cb, row, cbMeans)
			columnMeans(r.cr, row, crMeans)
		}
		for column := range r.columns {
			var cb, cr stats
			if r.colour {
				cb = r.chromaStats(cbMeans, r.cbs, r.border.cb, row, column)
				cr = r.chromaStats(crMeans, r.crs, r.border.cr, row, column)
			}
			f(row*r.columns+column, cb, cr)
		}
	}
}
