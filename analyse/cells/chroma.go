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

// delayed gives the planes as they are at one of the delays, and keeps them.
func (r *reader) delayed(s *analyse.Stack, reg analyse.Registration, i int) *chromaPlanes {
	if r.late[i] == nil {
		reg.OriginX += delays[i] * reg.PitchX
		cb, cr := grid.Differences(s, reg, -margin, r.p.Width+margin, 0, r.p.Height)
		r.late[i] = newChromaPlanes(cb, cr, r.rows)
	}
	return r.late[i]
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
	for i, d := range delays {
		planes := r.delayed(s, reg, i)
		if m := r.chromaMisfit(planes, &r.kernel, 0.98*least); m < 0.98*least {
			r.planes, r.delay, least = planes, d, m
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
