// Package beside holds a capture's picture against that of a good machine showing the same screen, sample by sample.
//
// Cells are read by what a decoder leaves of them, and where it leaves little the same picture may be read one way in the one
// capture and another in the other. Whether two pictures are the same can be said without reading either: one device's
// samples are those of the other through a short filter, which least squares finds with what a fault changes left out
// (iteratively reweighted, Beaton and Tukey, Technometrics 16, 1974, from memory). What is left over is held against what
// the two readings would make of it (a matched filter), in units of what is left over elsewhere where as much goes on.
package beside

import (
	"math"
	"math/bits"

	"backporch/analyse"
	"backporch/analyse/cells"
)

// settled is the ln of odds from which on a cell is taken for the good machine's: one in four hundred. Common practice, no source.
const settled = 6.0

// unsettled is the least that a cell which is read otherwise says against the good machine's, nats: more than the two readings may be wrong. Common practice, no
// source.
const unsettled = 0.05

// Settle takes cells that are read otherwise than the good machine's for the good machine's where the two pictures say so, as a whole or line by line, and
// gives how many it has changed. Cells that move are left, for the mean of what they show is none of it; but single pixels move by the subcarrier, which the mean is without.
func (d *Difference) Settle(r *cells.Result, moves func(cell int) bool) int {
	n := 0
	for i := range r.Cells {
		if (!moves(i) || fine(&d.good.Cells[i])) && d.settle(r, i) {
			n++
		}
	}
	return n
}

// fine tells of a cell drawn in single pixels: three in four are unlike the next one in their line. Common practice, no source.
func fine(c *analyse.Cell) bool {
	n := 0
	for _, b := range c.Bits {
		n += bits.OnesCount8((b ^ b>>1) & 0x7f)
	}
	return !c.Single && n*4 >= 8*7*3
}

// settle takes one cell, or some of its lines, for the good machine's; it tells whether it did.
func (d *Difference) settle(r *cells.Result, i int) bool {
	c, g := &r.Cells[i], &d.good.Cells[i]
	if c.Flash || g.Flash || same(c, g) {
		return false
	}
	odds := d.odds(c, g, 0, 8)
	if odds > settled && d.still(c, g, 0, 8) && (c.Paper == g.Paper && c.Single == g.Single && c.Ink == g.Ink || !d.tinted && d.sameColours(g)) {
		was := *c
		*c = *g
		c.Misfit, c.Third, c.Apart = was.Misfit, was.Third, float32(-odds)
		sure := float32(math.Min(30, odds))
		for y := range 8 {
			d.sure(r, c, y, sure)
		}
		n := len(r.ColourOdds) / len(r.Cells)
		for b := range n {
			r.ColourOdds[i*n+b] = max(r.ColourOdds[i*n+b], sure)
		}
		return true
	}
	turned := c.Ink == g.Paper && c.Paper == g.Ink
	changed := false
	defer func() {
		switch {
		case !same(c, g):
			c.Apart = float32(math.Max(unsettled, -d.odds(c, g, 0, 8)))
		case changed:
			c.Apart = float32(-odds)
		}
	}()
	if c.Single || g.Single || !turned && (c.Ink != g.Ink || c.Paper != g.Paper) {
		return false
	}
	for y := range 8 {
		row := g.Bits[y]
		if turned {
			row = ^row
		}
		if c.Bits[y] == row {
			continue
		}
		if odds := d.odds(c, g, y, y+1); odds > settled && d.still(c, g, y, y+1) {
			c.Bits[y] = row
			d.sure(r, c, y, float32(math.Min(30, odds)))
			changed = true
		}
	}
	return changed
}

// sure raises the odds of a line's pixels.
func (d *Difference) sure(r *cells.Result, c *analyse.Cell, y int, odds float32) {
	row := r.PixelOdds[(c.Row*8+y)*d.p.Width+c.Column*8:]
	for x := range 8 {
		if row[x] = max(row[x], odds); c.Single {
			row[x] = 0
		}
	}
}

// same tells whether two cells are read alike.
func same(a, b *analyse.Cell) bool {
	for y := range 8 {
		for x := range 8 {
			if colourAt(a, x, y) != colourAt(b, x, y) {
				return false
			}
		}
	}
	return true
}

// colourAt is the palette index of a pixel, -1 where it is not known.
func colourAt(c *analyse.Cell, x, y int) int {
	if !c.Single && c.Bits[y]>>(7-x)&1 == 1 {
		return c.Ink
	}
	return c.Paper
}
