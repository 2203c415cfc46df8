package cells

import (
	"math/bits"

	"backporch/analyse"
	"backporch/video"
	"backporch/video/display"
)

// A lane of the memory that holds the colours changes all colours of a kind at once, as the path does, but border and the other of a cell's two
// colours not with them.

// colourLanes is how many bits of memory make the colours of a cell: two of eight and a brightness, or an ink.
func colourLanes(p *display.Profile) int {
	if p.Kind == display.Text {
		return 4
	}
	return 7
}

// withLane gives a cell's colours with one bit of its colour byte or nibble held.
func withLane(p *display.Profile, ink, paper, bit, level int) (int, int) {
	hold := func(v, bit int) int { return v&^(1<<bit) | level<<bit }
	switch {
	case p.Kind == display.Text:
		return hold(ink, bit), paper
	case bit < 3:
		return hold(ink, bit), paper
	case bit < 6:
		return ink, hold(paper, bit-3)
	}
	return hold(ink, 3), hold(paper, 3)
}

// laneShift is what a held bit adds to the mean of a cell but for its first line, as the display has its colours.
func laneShift(c *analyse.Cell, p *display.Profile, bit, level int) video.YUV {
	if c.Paper < 0 || !c.Single && c.Ink < 0 {
		return video.YUV{}
	}
	ink, paper := withLane(p, max(c.Ink, 0), c.Paper, bit, level)
	return shiftTo(c, p, ink, paper)
}

// shiftTo is what a cell's mean, but for its first line, changes by when ink and paper become others.
func shiftTo(c *analyse.Cell, p *display.Profile, ink, paper int) video.YUV {
	colour := func(i int) video.YUV {
		if i < 0 || i >= len(p.Colours) {
			return video.YUV{}
		}
		return p.Colours[i].YUV
	}
	cover := 0.0
	if !c.Single {
		n := 0
		for _, row := range c.Bits[1:] {
			n += bits.OnesCount8(row)
		}
		cover = float64(n) / 56
	}
	was, is := colour(c.Paper), colour(paper)
	out := video.YUV{Y: (1 - cover) * (is.Y - was.Y), U: (1 - cover) * (is.U - was.U), V: (1 - cover) * (is.V - was.V)}
	if cover > 0 {
		was, is = colour(c.Ink), colour(ink)
		out.Y, out.U, out.V = out.Y+cover*(is.Y-was.Y), out.U+cover*(is.U-was.U), out.V+cover*(is.V-was.V)
	}
	return out
}

// usualBrightness is the brightness that most cells have which show any.
func usualBrightness(s *analyse.Survey) int {
	n := 0
	for i := range s.Cells {
		c := &s.Cells[i]
		for k, v := range [2]int{c.Paper, c.Ink} {
			switch {
			case v < 0 || v&7 == 0 || k == 1 && c.Single:
			case v&display.BrightBit != 0:
				n++
			default:
				n--
			}
		}
	}
	if n > 0 {
		return display.BrightBit
	}
	return 0
}

// componentShift is what a held component of the colours adds to the mean of a cell but for its first line; of the border for no cell. What was black
// has the brightness of the cell's other colour, or the usual one.
func componentShift(c *analyse.Cell, border int, p *display.Profile, part, level, bright int) video.YUV {
	bit := [3]int{1, 2, 0}[part] // of red, green and blue in a palette index
	held := func(v, other int) int {
		out := v&^(1<<bit) | level<<bit
		if v&7 == 0 && out&7 != 0 {
			if other >= 0 && other&7 != 0 {
				return out&7 | other&display.BrightBit
			}
			return out&7 | bright
		}
		return out
	}
	if c == nil {
		if border < 0 {
			return video.YUV{}
		}
		return shiftTo(&analyse.Cell{Single: true, Paper: border}, p, 0, held(border, -1))
	}
	if c.Paper < 0 || !c.Single && c.Ink < 0 {
		return video.YUV{}
	}
	other := c.Ink
	if c.Single {
		other = -1
	}
	return shiftTo(c, p, held(max(c.Ink, 0), c.Paper), held(c.Paper, other))
}
