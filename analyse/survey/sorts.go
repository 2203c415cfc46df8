package survey

import (
	"math"

	"backporch/analyse"
	"backporch/video/display"
)

// A sort of pixel: the colours of its cell, whether the subcarrier leaks in from beside it, and whether it lies at an edge, which
// moves where lines do.
type sort struct {
	paper, ink  int
	leaks, edge bool
}

// sortOut says of every pixel which sort it is of, and lists the sorts: those at an edge follow those of the same kind that are not.
func (t *track) sortOut() []sort {
	var kinds []sort
	first := map[[2]int]int{} // by the two colours: the first of four sorts
	t.sorts = make([]uint16, t.p.Width*t.p.Height)
	for i := range t.s.Cells {
		c := &t.s.Cells[i]
		colours := t.colours(c)
		base, known := first[colours]
		if !known {
			base = len(kinds)
			first[colours] = base
			for n := range 4 {
				kinds = append(kinds, sort{colours[0], colours[1], n&2 != 0, n&1 != 0})
			}
		}
		// A quarter of a cell, its corner or its side, crawls alike.
		var crawls [2][4]int
		for half := range crawls {
			for part := range crawls[half] {
				if t.beside.crawls(c, half*4, part*2) {
					crawls[half][part] = 2
				}
			}
		}
		for y := range 8 {
			for x := range 8 {
				k := base + crawls[x/4][y/2]
				if t.edge(c.Column*8+x, c.Row*8+y) {
					k++
				}
				t.sorts[t.pixel(c, x, y)] = uint16(k)
			}
		}
	}
	for _, k := range kinds {
		t.leaks = append(t.leaks, t.leak(k))
	}
	return kinds
}

// colours are those of a cell, as sorts have them.
func (t *track) colours(c *analyse.Cell) [2]int {
	paper, ink := c.Paper, c.Ink
	if c.Single {
		ink = -1
	}
	if t.p.Kind == display.Attr && ink >= 0 && ink < paper {
		paper, ink = ink, paper
	}
	return [2]int{paper, ink}
}

// edge tells whether a pixel of the picture has another colour on its line beside it.
func (t *track) edge(x, y int) bool {
	row := t.drawn[y*t.p.Width : (y+1)*t.p.Width]
	return x > 0 && row[x-1] != row[x] || x+1 < len(row) && row[x+1] != row[x]
}

// outermost tells whether a pixel lies against a cell, or a border, of another hue: what crawls there is that of one column of the
// cells' pixels, and no lane.
func (t *track) outermost(c *analyse.Cell, x int) bool {
	column := c.Column
	switch x {
	case 0:
		column--
	case 7:
		column++
	default:
		return false
	}
	if column < 0 || column >= t.beside.columns {
		return t.s.Border.Colour < 0 || t.beside.apart(t.s.Border.Colour, c.Paper) || !c.Single && t.beside.apart(t.s.Border.Colour, c.Ink)
	}
	n := &t.s.Cells[c.Row*t.beside.columns+column]
	return t.beside.apart(n.Paper, c.Paper) || !n.Single && (c.Single || n.Ink != c.Ink) && t.beside.apart(n.Ink, c.Paper)
}

// leakage is the greatest part of a change of chroma that a decoder without a comb leaves in luma beside it,
// rms over time; common practice, no source.
const leakage = 0.12

// unsteadyEdge is how far a pixel at an edge moves at the most, as a part of white, rms over time, where lines do not lie quite
// still. Common practice, no source.
const unsteadyEdge = 0.1

// leak bounds how much pixels of a sort can move by the subcarrier, codes rms.
func (t *track) leak(k sort) float64 {
	apart := 0.0
	if k.paper >= 0 && k.ink >= 0 {
		u, v := t.p.Colours[k.paper], t.p.Colours[k.ink]
		apart = math.Hypot(u.U-v.U, u.V-v.V)
	}
	if k.leaks { // from colours beside it that are not looked up: the greatest there are
		apart = math.Max(apart, 0.6)
	}
	if apart < 0.1 {
		return 0
	}
	return leakage * apart * 219
}

// quiet knows where the subcarrier leaks into luma.
type quiet struct {
	cells   []analyse.Cell
	columns int
	border  int
	apart   func(a, b int) bool // whether two palette colours differ in chroma
}

// crawls tells whether a pixel of a cell lies beside a change of hue, at the cell's side or, for a
// decoder that combs lines, above or below it or at its corner: there the subcarrier leaks into luma, another way in every field.
func (q quiet) crawls(c *analyse.Cell, x, y int) bool {
	differs := func(row, column int) bool {
		if row < 0 || column < 0 || column >= q.columns || row*q.columns >= len(q.cells) {
			return q.border < 0 || q.apart(q.border, c.Paper)
		}
		n := &q.cells[row*q.columns+column]
		return q.apart(n.Paper, c.Paper) || !n.Single && q.apart(n.Ink, c.Paper)
	}
	column, row := c.Column-1, c.Row-1
	if x >= 4 {
		column = c.Column + 1
	}
	if y >= 4 {
		row = c.Row + 1
	}
	return differs(c.Row, column) || (y < 2 || y > 5) && (differs(row, c.Column) || differs(row, column))
}
