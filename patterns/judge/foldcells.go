package judge

import "backporch/analyse"

// Which cells of a screen a fold is held against, and whether two of them may have the same colours.

// spoiltCells are those of which a decoder has left something else than two colours, as it does of patterns near the subcarrier: they say nothing.
func (e *evidence) spoiltCells() []bool {
	if e.spoilt == nil {
		off := make([]float32, len(e.s.Cells))
		for i := range off {
			off[i] = e.s.Cells[i].Misfit
		}
		most := max(leastSpoilt, 3*analyse.Select(off, len(off)*3/4))
		e.spoilt = make([]bool, len(e.s.Cells))
		for i := range e.s.Cells {
			e.spoilt[i] = e.s.Cells[i].Third && e.s.Cells[i].Misfit > most
		}
	}
	return e.spoilt
}

// leastSpoilt is the least misfit of such a cell, codes. Common practice, no source.
const leastSpoilt = 8

// sameColours tells whether two cells may have one pair of colours: which of them is paper does not show, and a cell of one colour may be all ink. Two of those that
// differ count as one pair where letters of it stand on the screen.
func (e *evidence) sameColours(c, d *analyse.Cell) bool {
	alike := e.p.Alike
	switch {
	case c.Single && d.Single:
		return alike(c.Paper, d.Paper) || e.lettersIn(c.Paper, d.Paper)
	case c.Single:
		return alike(c.Paper, d.Paper) || alike(c.Paper, d.Ink)
	case d.Single:
		return alike(d.Paper, c.Paper) || alike(d.Paper, c.Ink)
	}
	return alike(c.Paper, d.Paper) && alike(c.Ink, d.Ink) || alike(c.Paper, d.Ink) && alike(c.Ink, d.Paper)
}

// lettersIn tells whether the screen's cells of two colours are mostly of these.
func (e *evidence) lettersIn(a, b int) bool {
	of, drawn := 0, 0
	for _, g := range e.groups {
		if g.ink < 0 {
			continue
		}
		drawn += len(g.cells)
		if e.p.Alike(g.paper, a) && e.p.Alike(g.ink, b) || e.p.Alike(g.paper, b) && e.p.Alike(g.ink, a) {
			of += len(g.cells)
		}
	}
	return 2*of > drawn
}
