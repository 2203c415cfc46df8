package cells

import (
	"math"

	"backporch/analyse/grid"
)

// chromaReach is how far a pixel's chroma spreads, pixels: a decoder's chroma
// bandwidth of 0.5 to 1.3 MHz is a Gaussian of some two to three pixels.
const chromaReach = 8

// chromaKernel is a Gaussian of the given standard deviation, pixels.
func chromaKernel(sd float64) (g [2*chromaReach + 1]float64) {
	sum := 0.0
	for i := range g {
		g[i] = math.Exp(-square(float64(i-chromaReach)/sd) / 2)
		sum += g[i]
	}
	for i := range g {
		g[i] /= sum
	}
	return g
}

// lineWeights are how much each line of a cell says of its colours. The first, which a decoder's delay line mixes with the
// row above, is left out. What fine patterns of luma leave in chroma turns by a quarter or half a cycle from line to line, with
// the line periods of all displays: the mean of four lines of the mean of four, a triangle, has nothing left of either.
var lineWeights = [8]float64{0, 1.0 / 16, 2.0 / 16, 3.0 / 16, 4.0 / 16, 3.0 / 16, 2.0 / 16, 1.0 / 16}

// A chromaPlanes is both colour differences on the machine's grid, for one delay against luma.
type chromaPlanes struct {
	raster [2]*grid.Raster // Cb, Cr
	width  int             // of a line of the raster
	means  [2][]float64    // [row*width+column]: over the lines of a row of cells, as they are weighed
}

func newChromaPlanes(cb, cr *grid.Raster, rows int) *chromaPlanes {
	c := &chromaPlanes{raster: [2]*grid.Raster{cb, cr}, width: cb.Width}
	for plane, r := range c.raster {
		c.means[plane] = make([]float64, rows*c.width)
		for row := range rows {
			dst := c.means[plane][row*c.width : (row+1)*c.width]
			for y, w := range lineWeights {
				if w > 0 {
					for x, v := range r.Row(row*8 + y) {
						dst[x] += w * float64(v)
					}
				}
			}
		}
	}
	return c
}

// row is the means of a row of cells.
func (c *chromaPlanes) row(plane, row int) []float64 {
	return c.means[plane][row*c.width : (row+1)*c.width]
}

// believe writes down what chroma every column of pixels of every row of cells is taken to have, by the cells' colours and shares of ink.
func (r *reader) believe() {
	for plane, border := range [2]float64{r.border.cb, r.border.cr} {
		if r.believed[plane] == nil {
			r.believed[plane] = make([]float64, r.rows*r.believedWidth())
		}
		for row := range r.rows {
			line := r.believedRow(plane, row)
			for x := range chromaReach {
				line[x], line[len(line)-1-x] = border, border
			}
		}
	}
	for cell := range r.inks {
		r.believeCell(cell)
	}
}

// believeCell does so for one cell.
func (r *reader) believeCell(cell int) {
	row, column := cell/r.columns, cell%r.columns
	ink := r.inkShare[row*r.columns*8+column*8:][:8]
	for plane, c := range [2]*channel{&r.cbs, &r.crs} {
		line := r.believedRow(plane, row)[chromaReach+column*8:][:8]
		for x := range line {
			line[x] = c.ink[cell]*ink[x] + c.paper[cell]*(1-ink[x])
		}
	}
}

// believedWidth is a line's: the picture's, and as much border to both sides as spreads into it.
func (r *reader) believedWidth() int { return r.columns*8 + 2*chromaReach }

func (r *reader) believedRow(plane, row int) []float64 {
	width := r.believedWidth()
	return r.believed[plane][row*width : (row+1)*width]
}

// chromaStats gathers a cell's column means of both colour differences.
func (r *reader) chromaStats(row, column int) (cb, cr stats) {
	ink := r.inkShare[row*r.columns*8+column*8:][:8]
	seenB, seenR := r.planes.row(0, row)[margin+column*8:][:8], r.planes.row(1, row)[margin+column*8:][:8]
	lineB, lineR := r.believedRow(0, row)[column*8:], r.believedRow(1, row)[column*8:]
	for x := range 8 {
		var p, i, othersB, othersR float64
		first, end := chromaReach-x, chromaReach+8-x // the taps that lie in the cell
		for k, g := range r.kernel[first:end] {
			i += g * ink[k]
			p += g * (1 - ink[k])
		}
		aroundB, aroundR := lineB[x:][:2*chromaReach+1], lineR[x:][:2*chromaReach+1]
		for k, g := range r.kernel[:first] {
			othersB += g * aroundB[k]
			othersR += g * aroundR[k]
		}
		for k := end; k < len(r.kernel); k++ {
			othersB += r.kernel[k] * aroundB[k]
			othersR += r.kernel[k] * aroundR[k]
		}
		cb.add(p, i, seenB[x]-othersB)
		cr.add(p, i, seenR[x]-othersR)
	}
	return cb, cr
}

// wrongCell is the sum of squares that a cell counts with at the most: one of the wrong colour must not decide.
const wrongCell = 4000

// chromaMisfit is the sum of squares that the cells' colours, as believed, leave of the planes under a kernel; limit or more as soon as it
// is known not to be less.
func (r *reader) chromaMisfit(planes *chromaPlanes, kernel *[2*chromaReach + 1]float64, limit float64) float64 {
	sum := 0.0
	for row := range r.rows {
		if sum >= limit {
			break
		}
		for column := range r.columns {
			cell := 0.0
			for plane := range planes.means {
				seen := planes.row(plane, row)[margin+column*8:][:8]
				line := r.believedRow(plane, row)[column*8:]
				for x, e := range seen {
					around := line[x:][: 2*chromaReach+1 : 2*chromaReach+1]
					e -= kernel[chromaReach] * around[chromaReach]
					for k := range chromaReach { // it is the same to both sides
						e -= kernel[k] * (around[k] + around[2*chromaReach-k])
					}
					cell += e * e
				}
			}
			sum += min(cell, wrongCell)
		}
	}
	return sum
}

// shares works out how much of each pixel column of each row of cells is ink.
func (r *reader) shares() {
	for row := range r.rows {
		for x := range r.columns * 8 {
			share := 0.0
			for y, w := range lineWeights {
				share += w * float64(r.bits[(row*8+y)*r.columns+x/8]>>(7-x%8)&1)
			}
			r.inkShare[row*r.columns*8+x] = share
		}
	}
}
