package judge

import (
	"backporch/video/display"
)

// Colour bars are what a test draws to show all colours side by side, in the order of their numbers, which is that of their brightness (ITU-R BT.471 has them from white down).
// A component that is missing leaves them in that order, but for it.

// barsTold is what bars in their order say of a screen, nats: one in twenty has them, up or down, and any other blocks come in such an order by chance once in
// hundreds of thousands. No more than so much is believed. Common practice, no source.
const barsTold = 6.0

// barWidths are the cells that a bar is wide, barRows how many rows show the same, and fewestBars how many there are where the first or last is left out.
var barWidths = [...]int{2, 3, 4}

const barRows, fewestBars = 2, 7

// showsBars tells whether some rows of cells have bars as a change leaves them.
func (e *evidence) showsBars(c change) bool {
	for _, seen := range e.barsSeen() {
		for first := range display.BrightBit {
			for _, step := range [2]int{1, -1} {
				if last := first + step*(len(seen)-1); last < 0 || last >= display.BrightBit {
					continue
				}
				fits := true
				for k, colour := range seen {
					fits = fits && shownAs(c, first+step*k) == colour
				}
				if fits {
					return true
				}
			}
		}
	}
	return false
}

// barsTerm is what bars add to the likelihood of colours under a change.
func (e *evidence) barsTerm(c change) float64 {
	if e.showsBars(c) {
		return barsTold
	}
	return 0
}

// shownAs is what a change makes of a cell of one colour, of eight.
func shownAs(c change, colour int) int {
	set := func(bit, level int) int { return colour&^(1<<bit) | level<<bit }
	switch c := c.(type) {
	case component:
		return set(c.bit, c.level)
	case lane:
		if c.bit >= 3 && c.bit < 6 {
			return set(c.bit-3, c.level)
		}
	}
	return colour
}

// barsSeen lists the colours, of eight, of blocks side by side that are equally wide and the same in some rows: as many as bars are, or one less.
func (e *evidence) barsSeen() (out [][]int) {
	if e.blocks != nil {
		return e.blocks
	}
	e.blocks = [][]int{}
	columns := e.p.Columns()
	for _, width := range barWidths {
		for _, n := range [2]int{display.BrightBit, fewestBars} {
			for column := 0; column+n*width <= columns; column++ {
				rows := map[[display.BrightBit]int]int{}
				for row := range e.p.Rows() {
					var colours [display.BrightBit]int
					ok := true
					for k := 0; k < n && ok; k++ {
						colours[k], ok = e.blockColour(row*columns+column+k*width, width)
					}
					if ok {
						rows[colours]++
					}
				}
				for colours, times := range rows {
					even := [display.BrightBit]int{} // of one colour all along
					for k := range n {
						even[k] = colours[0]
					}
					if times >= barRows && colours != even {
						e.blocks = append(e.blocks, append([]int(nil), colours[:n]...))
					}
				}
			}
		}
	}
	return e.blocks
}

// blockColour is the colour, of eight, of cells side by side; ok is false where they have two, or half of them are drawn in.
func (e *evidence) blockColour(first, width int) (colour int, ok bool) {
	colour = -1
	even := 0
	for i := first; i < first+width; i++ {
		c := &e.s.Cells[i]
		if !c.Single {
			continue
		}
		if colour >= 0 && c.Paper&7 != colour {
			return 0, false
		}
		colour = c.Paper & 7
		even++
	}
	return colour, 2*even > width
}
