package judge

import (
	"math"
	"math/bits"

	"backporch/analyse"
	"backporch/video/display"
)

// A tile is one cell as a hypothesis predicts it; ink -1 is an ink that was never seen, hidden
// has the pixels of which nothing is known.
type tile struct {
	rows       [8]uint8
	ink, paper int
	hidden     [8]uint8
	// The bits of ink and paper of which nothing is known, where others are.
	openInk, openPaper int
}

func tileOf(c *analyse.Cell) tile { return tile{rows: c.Bits, ink: c.Ink, paper: c.Paper} }

// inverted is the same picture with the other colour as ink.
func (t tile) inverted() tile {
	for y := range t.rows {
		t.rows[y] = ^t.rows[y]
	}
	return t.swapped()
}

// swapped has the colours change places.
func (t tile) swapped() tile {
	t.ink, t.paper, t.openInk, t.openPaper = t.paper, t.ink, t.openPaper, t.openInk
	return t
}

// turned has what the cell may be in flash's other phase: a colour that was never seen is one of those that the seen cell shows, all over the cell.
func (t tile) turned(seen *analyse.Cell) []tile {
	t = t.swapped()
	if t.ink >= 0 && t.paper >= 0 {
		return []tile{t}
	}
	out := []tile{t, t}
	for i, v := range [2]int{seen.Paper, seen.Ink} {
		if t.ink < 0 {
			out[i].ink = v
		}
		if t.paper < 0 {
			out[i].paper = v
		}
	}
	return out
}

// alike tells whether two palette indices look the same: -1 is unknown, and
// black is black at either brightness.
func (c *comparison) alike(a, b int) bool {
	if c.dim && a >= 0 && b >= 0 {
		a, b = a&7, b&7
	}
	return a == b || a < 0 || b < 0 || a&7 == b&7 && (a&7 == 0 || c.loose[a&7])
}

// alikeIn is alike for the colours of one cell.
func (c *comparison) alikeIn(cell *analyse.Cell, a, b int) bool {
	if i := cell.Row*c.columns + cell.Column; i < len(c.faint) && c.faint[i] && a >= 0 && b >= 0 {
		a, b = a&7, b&7
	}
	return c.alike(a, b)
}

// differ counts the pixels in which a seen cell departs from a predicted one, by lane, and what they weigh together: those at the predicted
// edges, which a decoder blurs, are c.soft of a pixel each.
func (c *comparison) differ(p tile, seen *analyse.Cell) (by [8]int, total float64) {
	if p.openInk|p.openPaper != 0 {
		return c.resolve(p, seen)
	}
	wrong, edges := c.departs(p, seen), p.edges()
	soft := 0
	for y, w := range wrong {
		if w == 0 {
			continue
		}
		at := bits.OnesCount8(w & edges[y])
		soft += at
		total += float64(bits.OnesCount8(w) - at)
		for ; w != 0; w &= w - 1 {
			by[bits.TrailingZeros8(w)]++
		}
	}
	total += float64(min(soft, softest))*c.soft + float64(max(0, soft-softest)) // blur spoils a few pixels of a cell, and no more
	return by, total
}

// softest is how many pixels of a cell blur may spoil. Common practice, no source.
const softest = 8

// resolve is differ for colours of which some bits are open: whatever these are, they are the same all over the cell.
func (c *comparison) resolve(p tile, seen *analyse.Cell) (by [8]int, total float64) {
	total = math.Inf(1)
	inks, papers := [2]int{seen.Ink, seen.Paper}, [2]int{seen.Paper, seen.Ink}
	for _, ink := range inks {
		for _, paper := range papers {
			q := p
			q.openInk, q.openPaper = 0, 0
			if p.openInk != 0 && p.ink >= 0 && ink >= 0 {
				q.ink = p.ink&^p.openInk | ink&p.openInk
			}
			if p.openPaper != 0 && p.paper >= 0 && paper >= 0 {
				q.paper = p.paper&^p.openPaper | paper&p.openPaper
			}
			if b, n := c.differ(q, seen); n < total {
				by, total = b, n
			}
		}
	}
	return by, total
}

// edges marks the pixels that have one of the other side beside them, within the cell.
func (t *tile) edges() (out [8]uint8) {
	for y, b := range t.rows {
		d := (b ^ b>>1) & 0x7f // bit i: pixel i is unlike the one to its left
		out[y] |= d | d<<1
		if y > 0 {
			v := b ^ t.rows[y-1]
			out[y] |= v
			out[y-1] |= v
		}
	}
	return out
}

// departs marks the pixels in which a seen cell departs from a predicted one.
func (c *comparison) departs(p tile, seen *analyse.Cell) (out [8]uint8) {
	ii, ip := c.alikeIn(seen, p.ink, seen.Ink), c.alikeIn(seen, p.ink, seen.Paper)
	pi, pp := c.alikeIn(seen, p.paper, seen.Ink), c.alikeIn(seen, p.paper, seen.Paper)
	if c.unsure != nil && c.unsure[seen.Row*c.columns+seen.Column] { // a stroke's own colour is hardly seen: chroma has no pixels
		expected, shown := strokeOf(&p.rows), strokeOf(&seen.Bits)
		ii = ii || expected == inkStroke && shown == inkStroke
		ip = ip || expected == inkStroke && shown == paperStroke
		pi = pi || expected == paperStroke && shown == inkStroke
		pp = pp || expected == paperStroke && shown == paperStroke
	}
	for y, b := range p.rows {
		s := seen.Bits[y]
		var wrong uint8
		if !ii {
			wrong |= b & s
		}
		if !ip {
			wrong |= b &^ s
		}
		if !pi {
			wrong |= s &^ b
		}
		if !pp {
			wrong |= ^(b | s)
		}
		wrong &^= p.hidden[y]
		if c.vague != nil { // which of the two it is says nothing there, but a colour that is neither does
			var either uint8
			if ii || pi {
				either |= s
			}
			if ip || pp {
				either |= ^s
			}
			wrong &^= c.vague[seen.Row*c.columns+seen.Column][y] & either
		}
		out[y] = wrong
	}
	return out
}

// Which of a cell's two colours is drawn in strokes: the one that covers a third or less.
const (
	noStroke = iota
	inkStroke
	paperStroke
)

func strokeOf(rows *[8]uint8) int {
	n := 0
	for _, b := range rows {
		n += bits.OnesCount8(b)
	}
	switch {
	case n > 0 && n*3 <= 64:
		return inkStroke
	case n < 64 && n*3 >= 128:
		return paperStroke
	}
	return noStroke
}

// predict is a change of memory or colours put to a cell; known says that the ink of
// a cell that shows none is known all the same.
type predict func(p tile) tile

func (e *evidence) stuckAt(bit, level int) predict {
	return func(p tile) tile {
		mask := uint8(1 << bit)
		for y := range p.rows {
			if level == 1 {
				p.rows[y] |= mask
			} else {
				p.rows[y] &^= mask
			}
		}
		was := p
		p.ink, p.paper = forceColours(p.ink, p.paper, bit, level)
		return p.litAfter(was)
	}
}

// litAfter settles the brightness of what was black and is not any more: black does not tell whether the colour byte has the bit, the cell's other
// colour does; where both were black nothing tells.
func (t tile) litAfter(was tile) tile {
	black := func(v int) bool { return v == 0 || v == display.BrightBit }
	lit := func(before, after, other int) (v, open int) {
		switch {
		case !black(before) || after&^display.BrightBit == 0:
			return after, 0
		case other < 0 || black(other):
			return after, display.BrightBit
		}
		return after&^display.BrightBit | other&display.BrightBit, 0
	}
	ink, openInk := lit(was.ink, t.ink, was.paper)
	paper, openPaper := lit(was.paper, t.paper, was.ink)
	t.ink, t.paper = ink, paper
	t.openInk, t.openPaper = t.openInk|openInk, t.openPaper|openPaper
	return t
}

// flashBit is the lane of the colours' memory that makes a cell flash.
const flashBit = 7

// forceColours holds a bit of the colour byte behind two palette indices.
func forceColours(ink, paper, bit, level int) (int, int) {
	set := func(v, b int) int {
		if v < 0 {
			return v
		}
		return v&^(1<<b) | level<<b
	}
	switch {
	case bit < 3:
		ink = set(ink, bit)
	case bit < 6:
		paper = set(paper, bit-3)
	case bit == 6:
		ink, paper = set(ink, 3), set(paper, 3)
	}
	return ink, paper
}

func componentAt(bit, level int) predict {
	return func(p tile) tile {
		was := p
		p.ink, _ = forceColours(p.ink, p.paper, bit, level)
		_, p.paper = forceColours(p.ink, p.paper, bit+3, level)
		return p.litAfter(was)
	}
}
