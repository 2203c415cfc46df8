package beside

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"

	"backporch/analyse"
	"backporch/video/display"
)

// A Difference is what is left of a capture's luma when the good machine's, as this capture's device shows it, is taken off.
type Difference struct {
	p          *display.Profile
	good       *analyse.Survey
	left, sd   []float64 // [line*width+pixel]; codes; NaN in left where nothing is known
	step       [2*reach + 1]float64
	chroma     [2][]float64 // by cell: what is left of Cb and Cr, codes
	chromaSD   [2][]float64
	toChroma   [2][]float64 // Cb and Cr of this device by the display's U, V and 1
	withChroma bool
	tinted     bool // chroma is compared with none: all of it is another
}

// reach is how many pixels to either side a device spreads one. leastGain and mostAside are the sum of the filter's taps, and how far their centre lies
// aside in pixels, that two captures of one screen have; leastAlike is the part of the variance that it explains, and leastPeak that of the filter which its greatest tap has:
// a picture that is blurred more shows lanes that are lost as if they were blurred too. Common practice, no source.
//
// Where the filter explains surelyAlike of it, it may lie lateAside: one low-pass makes the picture later too, but not by a pixel, as a shift register does. And it may be as
// wide as it likes where it explains stepsAlike of the steps from pixel to pixel as well: those that a lost lane takes away no blur brings back.
const (
	surelyAlike = 0.99
	stepsAlike  = 0.9
	lateAside   = 0.75

	reach      = 3
	leastGain  = 0.4
	mostGain   = 2.5
	mostAside  = 0.4
	leastAlike = 0.6
	leastPeak  = 0.5
	stepKnown  = 0.1 // of its height is not known of what a pixel makes of the samples where a screen is all one pattern, of which regression does not tell it
	heavy      = 3.0 // degrees of freedom of what is left over
	perSample  = 0.5 // neighbouring samples are not independent
)

// Compare gives the difference of two surveys, of which the good machine's has its cells read and the other need only be placed; nil where the captures
// don't show one screen at one place. It goes by the stack and the place alone, so that it holds however often the cells are read anew.
func Compare(s, good *analyse.Survey, p *display.Profile) *Difference {
	if len(good.Cells) != p.Rows()*p.Columns() || good.Stack == nil || s.Stack == nil || !good.Registration.OK {
		return nil
	}
	a, b := sample(s.Stack, s.Registration, p), sample(good.Stack, good.Registration, p)
	d := &Difference{p: p, good: good}
	// One device's samples by the other's, those of the lines above and below for its comb.
	first := make([]float64, 2*reach+3)
	first[reach] = 1
	f, ok := fitLuma(a, first, func(x, y int, row []float64) bool {
		for k := -reach; k <= reach; k++ {
			row[k+reach] = b.at(x+k, y)
		}
		row[2*reach+1], row[2*reach+2] = b.at(x, y-1), b.at(x, y+1)
		return true
	})
	if !ok || f.explained < leastAlike {
		return nil
	}
	gain, centre := floats.Sum(f.taps[:2*reach+3]), 0.0
	for k := -reach; k <= reach; k++ {
		centre += f.taps[k+reach] * float64(k)
	}
	aside := mostAside
	if f.explained >= surelyAlike {
		aside = lateAside
	}
	if slices.Max(f.taps[:2*reach+1]) < leastPeak*gain && !(f.explained >= surelyAlike && steps(a, f.left) >= stepsAlike) || gain < leastGain || gain > mostGain || math.Abs(centre/gain) > aside || math.Abs(f.taps[2*reach+2]-f.taps[2*reach+1]) > mostAside*gain {
		return nil
	}
	d.left = f.left
	d.sd = d.spread(b)
	// What one pixel of the display makes of this device's samples.
	first = make([]float64, 2*reach+1)
	first[reach] = s.Levels.White - s.Levels.Black
	f, ok = fitLuma(a, first, func(x, y int, row []float64) bool {
		for k := -reach; k <= reach; k++ {
			colour := d.goodColour(x+k, y)
			if colour < 0 {
				return false
			}
			row[k+reach] = d.luma(colour)
		}
		return true
	})
	if !ok {
		return nil
	}
	copy(d.step[:], f.taps)
	d.compareChroma(s, good)
	return d
}

// steps is the part of the squared steps from pixel to pixel that is not left over, all pixels counted.
func steps(a *samples, left []float64) float64 {
	all, over := 0.0, 0.0
	for i := 1; i < len(left); i++ {
		x, y := i%a.width, i/a.width
		if d := left[i] - left[i-1]; x > 0 && !math.IsNaN(d) {
			all += sq(a.at(x, y) - a.at(x-1, y))
			over += sq(d)
		}
	}
	return 1 - over/math.Max(all, 1)
}

func sq(x float64) float64 { return x * x }

// goodColour is the palette index of the good machine's pixel, the border's beside the picture.
func (d *Difference) goodColour(x, y int) int {
	if x < 0 || y < 0 || x >= d.p.Width || y >= d.p.Height {
		return d.good.Border.Colour
	}
	return colourAt(&d.good.Cells[y/8*d.p.Columns()+x/8], x%8, y%8)
}

// luma is the display's, of a palette index.
func (d *Difference) luma(colour int) float64 { return d.p.Colours[max(colour, 0)].Y }

// rho is minus the ln of the density of what is left over, up to a constant: Student's t.
func rho(r, sd float64) float64 {
	z := r / sd
	return (heavy + 1) / 2 * math.Log1p(z*z/heavy)
}

// odds is ln of how much likelier the pictures make it that a cell's lines are as the good machine's than as they were read.
func (d *Difference) odds(c, g *analyse.Cell, from, to int) float64 {
	sum := 0.0
	for y := from; y < to; y++ {
		var change [8]float64
		for x := range change {
			change[x] = d.luma(colourAt(c, x, y)) - d.luma(colourAt(g, x, y))
		}
		sum += d.against(c, y, change)
	}
	if from == 0 && to == 8 {
		sum += d.chromaOdds(c, g)
	}
	return sum
}

// against is ln of how much likelier what is left over is where a line of a cell is the good machine's than where its pixels' luma is changed so.
func (d *Difference) against(c *analyse.Cell, y int, change [8]float64) (sum float64) {
	first, last := 8, -1
	for x, v := range change {
		if v != 0 {
			first, last = min(first, x), x
		}
	}
	row := (c.Row*8 + y) * d.p.Width
	peak, most := 0.0, 0.0
	for _, v := range d.step {
		peak = math.Max(peak, math.Abs(v))
	}
	for _, v := range change {
		most = math.Max(most, math.Abs(v))
	}
	var good, well, roughly float64 // minus ln of the densities, the change's shape being known to what is left over elsewhere, or to a part of its height
	for x := max(0, c.Column*8+first-reach); x <= min(d.p.Width-1, c.Column*8+last+reach); x++ {
		left, sd := d.left[row+x], d.sd[row+x]
		if math.IsNaN(left) {
			continue
		}
		would := 0.0
		for k := -reach; k <= reach; k++ {
			if j := x + k - c.Column*8; j >= first && j <= last {
				would += d.step[k+reach] * change[j]
			}
		}
		loose := math.Hypot(sd, stepKnown*peak*most)
		good += rho(left, sd)
		well += rho(left-would, sd)
		roughly += rho(left-would, loose) + math.Log(loose/sd)
	}
	return -meanOf(perSample*(well-good), perSample*(roughly-good))
}

// meanOf is ln of the mean of two densities, given minus ln of each.
func meanOf(a, b float64) float64 {
	least := math.Min(a, b)
	return -least + math.Log1p(math.Exp(-math.Abs(a-b))) - math.Ln2
}

// surelyStill is the ln of odds against its being the other colour that each pixel of a cell must have for the cell to be still: where the one could not be told from the
// other, nothing is. Common practice, no source.
const surelyStill = 1.0

// still tells whether all pixels of a cell's lines are rather the good machine's than the cell's other colour.
func (d *Difference) still(c, g *analyse.Cell, from, to int) bool {
	pair := g
	if g.Single {
		pair = c
	}
	for y := from; y < to; y++ {
		for x := range 8 {
			is := colourAt(g, x, y)
			other := pair.Paper
			if other == is {
				other = inkOf(pair)
			}
			var change [8]float64
			if change[x] = d.luma(other) - d.luma(is); change[x] != 0 && d.against(c, y, change) < surelyStill {
				return false
			}
		}
	}
	return d.chromaStill(c)
}

// sameColours tells whether the good machine's colours of a cell fit the picture no worse than any others.
func (d *Difference) sameColours(g *analyse.Cell) bool {
	for k := range d.p.Colours {
		ink, paper := *g, *g
		ink.Ink, paper.Paper = k, k
		if !g.Single && k != g.Ink && d.odds(&ink, g, 0, 8) < -anyColour || k != g.Paper && d.odds(&paper, g, 0, 8) < -anyColour {
			return false
		}
	}
	return true
}

// anyColour is the ln of odds for other colours of a cell from which on they may be its own. Common practice, no source.
const anyColour = 1.0

func inkOf(c *analyse.Cell) int {
	if c.Single {
		return c.Paper
	}
	return c.Ink
}
