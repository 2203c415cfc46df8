package judge

import (
	"fmt"
	"math"
	"math/bits"

	"backporch/analyse"
	"backporch/video/display"
)

// likelierFill is the memory that a stated fill most likely left: all of it that byte, or the bitmap alone, where the colours' byte
// must be written down as well.
func likelierFill(e *evidence, fill byte) *comparison {
	all, bitmap := compareFill(e, fill), compareBitmap(e, fill)
	if all == nil || bitmap == nil {
		return all
	}
	top := func(c *comparison) float64 {
		most := math.Inf(-1)
		for _, h := range c.hypotheses(e) {
			most = math.Max(most, h.Prior+h.Like)
		}
		return most
	}
	if top(bitmap)-7*math.Ln2 > top(all) {
		return bitmap
	}
	return all
}

// compareFill takes a memory that holds one byte throughout.
func compareFill(e *evidence, fill byte) *comparison {
	p := e.p
	if p.Kind != display.Attr {
		return nil
	}
	c := &comparison{border: -1, soft: 1, dim: e.dim, what: fmt.Sprintf("a memory of 0x%02X", fill)}
	colour := display.SplitColour(fill)
	for row := range p.Rows() {
		for column := range p.Columns() {
			cell := analyse.Cell{Row: row, Column: column, Ink: colour.Ink, Paper: colour.Paper, Flash: colour.Flash}
			for y := range cell.Bits {
				cell.Bits[y] = fill
			}
			c.cells = append(c.cells, cell)
		}
	}
	// The bytes are stated, so that ink and paper are no guess: no group can be read the other way round.
	return c
}

// compareBitmap takes a memory of which the bitmap holds one byte throughout and the colours another, the one that most cells
// show: many test programs fill the bitmap alone. Nil where no cell shows both colours.
func compareBitmap(e *evidence, fill byte) *comparison {
	if e.p.Kind != display.Attr {
		return nil
	}
	type pair struct{ ink, paper int }
	count := map[pair]int{}
	most, of := pair{-1, -1}, 0
	for i := range e.s.Cells {
		c := &e.s.Cells[i]
		now := pair{c.Ink, c.Paper}
		wrong := 0
		for _, b := range c.Bits {
			wrong += bits.OnesCount8(b ^ fill)
		}
		switch {
		case c.Single && fill == 0x00:
			now = pair{-1, c.Paper}
		case c.Single && fill == 0xFF:
			now = pair{c.Paper, -1}
		case c.Single:
			continue
		case wrong > 32:
			now = pair{c.Paper, c.Ink}
		}
		if count[now]++; count[now] > of {
			most, of = now, count[now]
		}
	}
	if of == 0 {
		return nil
	}
	c := &comparison{border: -1, soft: 1, dim: e.dim, what: fmt.Sprintf("a bitmap of 0x%02X", fill)}
	for row := range e.p.Rows() {
		for column := range e.p.Columns() {
			cell := analyse.Cell{Row: row, Column: column, Ink: most.ink, Paper: most.paper}
			for y := range cell.Bits {
				cell.Bits[y] = fill
			}
			c.cells = append(c.cells, cell)
		}
	}
	return c
}
