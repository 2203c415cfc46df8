package judge

import (
	"math"

	"backporch/analyse"
	"backporch/patterns"
)

// Picture areas of one colour.

// blank is whether the whole picture area shows one colour, and which.
// Where the border blurs into most cells of a side, that side doesn't count, nor do the picture's first and last line, into which a comb
// takes the border's colour.
func (e *evidence) blank() (colour int, ok bool) {
	if e.main == nil || e.main.ink >= 0 {
		return 0, false
	}
	sides := [2]int{}
	for i := range e.s.Cells {
		c := &e.s.Cells[i]
		if c.Single && c.Paper == e.main.paper {
			continue
		}
		switch {
		case c.Paper == e.main.paper && e.outerLine(c):
		case c.Column == 0:
			sides[0]++
		case c.Column == e.p.Columns()-1:
			sides[1]++
		default:
			return 0, false
		}
	}
	for _, n := range sides {
		if n > 0 && n < e.p.Rows()/2 {
			return 0, false
		}
	}
	return e.main.paper, true
}

// outerLine tells whether a cell of the first or last row has no ink but in the picture's first or last line.
func (e *evidence) outerLine(c *analyse.Cell) bool {
	y := 0
	switch c.Row {
	case 0:
	case e.p.Rows() - 1:
		y = 7
	default:
		return false
	}
	for k, b := range c.Bits {
		if k != y && b != 0 {
			return false
		}
	}
	return true
}

// fewEdges are as many as a picture area in the border's very colour has: none but what noise makes.
const fewEdges = 40

// edgeless tells whether the picture area goes over into the border without an edge; where there is one they differ, if
// only by their brightness.
func (e *evidence) edgeless() bool { return e.s.Registration.Edges < fewEdges }

// blankOdds weighs a picture area of one colour: on a machine that draws (dead
// false) an empty screen, else a dead picture, black or in the border's colour.
func (e *evidence) blankOdds(dead bool) float64 {
	colour, ok := e.blank()
	if !dead {
		switch {
		case ok && e.edgeless(): // a test that writes all of memory leaves black, or white that is brighter than a border can be; one of the bitmap alone leaves its paper
			return math.Log(patterns.EmptyScreen + patterns.FillScreen/8)
		case ok: // two of the four bytes that tests write show one colour, mostly not the border's
			return math.Log(patterns.EmptyScreen + patterns.FillScreen/2)
		}
		return 0
	}
	if !ok {
		return -1e4
	}
	like := math.Log(patterns.OtherDead)
	if colour&7 == 0 || e.edgeless() && e.s.Border.Colour >= 0 && colour&7 == e.s.Border.Colour&7 {
		like = math.Log(patterns.DeadColour)
	}
	return like + e.anyBorder()
}

// nearlyBlank weighs a picture area that is dead in some fields, by the cells that show its colour: the others, few, are misread. ok is false where it is not dead.
func (e *evidence) nearlyBlank() (like float64, ok bool) {
	if e.main == nil || e.main.ink >= 0 {
		return 0, false
	}
	others := len(e.s.Cells) - len(e.main.cells)
	if others*misreadShare > len(e.s.Cells) {
		return 0, false
	}
	like = math.Log(patterns.OtherDead)
	if e.main.paper&7 == 0 || e.s.Border.Colour >= 0 && e.main.paper&7 == e.s.Border.Colour&7 {
		like = math.Log(patterns.DeadColour)
	}
	return like - wrongCell*float64(others), true
}

// misreadShare is of how many cells at most one is misread as a whole. Common practice, no source.
const misreadShare = 50

// anyBorder is ln of how often good screens have the border's colour.
func (e *evidence) anyBorder() float64 {
	if e.s.Border.Colour < 0 {
		return 0
	}
	c := e.s.Border.Colour & 7
	return math.Log(borderShare[c]*(1-patterns.BorderIsPaper) + patterns.BorderIsPaper*paperShare[c])
}
