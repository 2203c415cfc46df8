package beside

import (
	"math"

	"backporch/analyse"
	"backporch/video/display"
)

// A difference is what is left of a capture's luma when the good machine's, as this capture's device shows it, is taken off.
type difference struct {
	p          *display.Profile
	good       *analyse.Survey
	left, sd   []float64 // [line*width+pixel]; codes; NaN in left where nothing is known
	step       [2*reach + 1]float64
	chroma     [2][]float64 // by cell: what is left of Cb and Cr, codes
	chromaSD   [2]float64
	toChroma   [2][3]float64 // Cb and Cr of this device by the display's U, V and 1
	withChroma bool
}

// reach is how many pixels to either side a device spreads one. leastGain and mostAside are the sum of the filter's taps, and how far their centre lies
// aside in pixels, that two captures of one screen have; leastAlike is the part of the variance that it explains. Common practice, no source.
const (
	reach      = 3
	leastGain  = 0.4
	mostGain   = 2.5
	mostAside  = 0.4
	leastAlike = 0.6
	outlier    = 4.685 // Tukey's biweight, 95 % as good as least squares where errors are normal
	heavy      = 3.0   // degrees of freedom of what is left over
	perSample  = 0.5   // neighbouring samples are not independent
)

// compare gives the difference; ok is false where the captures don't show one screen at one place.
func compare(s, good *analyse.Survey, p *display.Profile) (*difference, bool) {
	a, b := sample(s.Stack, s.Registration, p), sample(good.Stack, good.Registration, p)
	d := &difference{p: p, good: good}
	// One device's samples by the other's, those of the lines above and below for its comb.
	taps, left, explained, ok := fit(a, p, 2*reach+3, 1, func(x, y int, row []float64) bool {
		for k := -reach; k <= reach; k++ {
			row[k+reach] = b.at(x+k, y)
		}
		row[2*reach+1], row[2*reach+2] = b.at(x, y-1), b.at(x, y+1)
		return true
	})
	if !ok || explained < leastAlike {
		return nil, false
	}
	gain, centre := 0.0, 0.0
	for k, v := range taps[:2*reach+3] {
		gain += v
		if k <= 2*reach {
			centre += v * float64(k-reach)
		}
	}
	if gain < leastGain || gain > mostGain || math.Abs(centre/gain) > mostAside {
		return nil, false
	}
	d.left = left
	d.sd = d.spread(b)
	// What one pixel of the display makes of this device's samples.
	ideal := func(x, y int) float64 { return p.Colours[max(0, d.goodColour(x, y))].Y }
	steps, _, _, ok := fit(a, p, 2*reach+1, s.Levels.White-s.Levels.Black, func(x, y int, row []float64) bool {
		for k := -reach; k <= reach; k++ {
			if d.goodColour(x+k, y) < 0 {
				return false
			}
			row[k+reach] = ideal(x+k, y)
		}
		return true
	})
	if !ok {
		return nil, false
	}
	copy(d.step[:], steps)
	d.compareChroma(s, good)
	return d, true
}

// goodColour is the palette index of the good machine's pixel, the border's beside the picture.
func (d *difference) goodColour(x, y int) int {
	if x < 0 || y < 0 || x >= d.p.Width || y >= d.p.Height {
		return d.good.Border.Colour
	}
	return colourAt(&d.good.Cells[y/8*d.p.Columns()+x/8], x%8, y%8)
}

// luma is the display's, of a palette index.
func (d *difference) luma(colour int) float64 { return d.p.Colours[max(colour, 0)].Y }

// rho is minus the ln of the density of what is left over, up to a constant: Student's t.
func rho(r, sd float64) float64 {
	z := r / sd
	return (heavy + 1) / 2 * math.Log1p(z*z/heavy)
}

// odds is ln of how much likelier the pictures make it that a cell's lines are as the good machine's than as they were read.
func (d *difference) odds(c, g *analyse.Cell, from, to int) float64 {
	sum := 0.0
	for y := from; y < to; y++ {
		line := c.Row*8 + y
		var change [8]float64
		for x := range change {
			change[x] = d.luma(colourAt(c, x, y)) - d.luma(colourAt(g, x, y))
		}
		for x := max(0, c.Column*8-reach); x < min(d.p.Width, c.Column*8+8+reach); x++ {
			left := d.left[line*d.p.Width+x]
			if math.IsNaN(left) {
				continue
			}
			would := 0.0
			for k := -reach; k <= reach; k++ {
				if j := x + k - c.Column*8; j >= 0 && j < 8 {
					would += d.step[k+reach] * change[j]
				}
			}
			sd := d.sd[line*d.p.Width+x]
			sum += perSample * (rho(left-would, sd) - rho(left, sd))
		}
	}
	if from == 0 && to == 8 {
		sum += d.chromaOdds(c, g)
	}
	return sum
}

// still tells whether no pixel of a cell's lines is so far from the good machine's as another colour of the cell would put it.
func (d *difference) still(c, g *analyse.Cell, from, to int) bool {
	contrast := math.Max(math.Abs(d.luma(c.Paper)-d.luma(inkOf(c))), math.Abs(d.luma(g.Paper)-d.luma(inkOf(g))))
	limit := 0.5 * math.Abs(d.step[reach]) * contrast
	for y := from; y < to; y++ {
		for x := range 8 {
			at := (c.Row*8+y)*d.p.Width + c.Column*8 + x
			if left := d.left[at]; math.IsNaN(left) || math.Abs(left) > math.Max(limit, 2*d.sd[at]) {
				return false
			}
		}
	}
	return d.chromaStill(c)
}

func inkOf(c *analyse.Cell) int {
	if c.Single {
		return c.Paper
	}
	return c.Ink
}
