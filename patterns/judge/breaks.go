package judge

import (
	"math/bits"

	"backporch/analyse"
	"backporch/video/display"
)

// Bits of a lane that break with cells which are alike in all other lanes.

// sureBit is the log-odds from which on a pixel counts as read.
const sureBit = 4

// A likeness is what a cell shows but for one lane.
type likeness struct {
	paper, ink int // black of either brightness is one
	rows       [8]uint8
}

// likenessOf leaves a lane out. With nothing else in it a cell is empty, and has no ink: a dot there shows one that its like do not.
func likenessOf(c *analyse.Cell, lane int) (k likeness, empty bool) {
	k, empty = likeness{dark(c.Paper), dark(c.Ink), c.Bits}, true
	for y := range k.rows {
		k.rows[y] &^= 1 << lane
		empty = empty && k.rows[y] == 0
	}
	if empty {
		k.ink = -1
	}
	return k, empty
}

// compareAlike fills flips and sites. A deviating column of pixels counts once however often
// it stands on the screen: a glyph repeats, a weak bit does not.
func (e *evidence) compareAlike() {
	if e.p.Kind != display.Attr || e.s.Memory == nil {
		return
	}
	for lane := range 8 {
		clusters := map[likeness]map[uint8]int{} // by the lane's column of eight bits: cells
		for i := range e.s.Cells {
			c := &e.s.Cells[i]
			k, empty := likenessOf(c, lane)
			var column uint8
			sure := true
			for y := range 8 {
				column |= c.Bits[y] >> lane & 1 << y
				if !c.Single && e.s.Memory.Odds[e.p.BitmapAddress(c.Row*8+y, c.Column)*8+lane] < sureBit {
					sure = false
				}
			}
			if !sure || empty && (e.spills(i, lane, column) || e.amid(i, lane)) {
				continue
			}
			if clusters[k] == nil {
				clusters[k] = map[uint8]int{}
			}
			clusters[k][column]++
		}
		for k, columns := range clusters {
			total, usual := 0, uint8(0)
			for column, n := range columns {
				total += n
				if n > columns[usual] || n == columns[usual] && column < usual {
					usual = column
				}
			}
			// Cells with nothing else in them are drawn empty where some are, however few a lane leaves so that is wrong in many lines.
			drawnEmpty := k.ink < 0 && columns[0] > 0
			if drawnEmpty {
				usual = 0
			}
			if total < 3 {
				continue
			}
			if columns[usual]*2 < total && !drawnEmpty { // no majority to break with
				if k.ink < 0 {
					for column := range columns {
						if strewn(column) {
							e.flips[lane]++
						}
					}
					e.sites[lane] += total
				}
				continue
			}
			for column, n := range columns {
				if column != usual && (drawnEmpty || !otherLetter(column^usual, n, total)) {
					e.flips[lane]++
				}
			}
			e.sites[lane] += total
		}
	}
}

// strewn tells whether a column of a cell with nothing else in it is set in some lines here and there: what is drawn ends in one piece of a column, or in every second
// line of it where it is dithered.
func strewn(column uint8) bool {
	pieces := bits.OnesCount8(column &^ (column << 1))
	return pieces > 1 && column&0x55 != 0 && column&0xaa != 0
}

// spills tells whether pixels at a cell's end, column by lines, go on in the next cell: what is drawn there reaches over.
func (e *evidence) spills(cell, lane int, column uint8) bool {
	c := &e.s.Cells[cell]
	beside, end := 0, 0
	switch {
	case lane == 7 && c.Column > 0:
		beside, end = cell-1, 0
	case lane == 0 && c.Column < e.p.Columns()-1:
		beside, end = cell+1, 7
	default:
		return false
	}
	d := &e.s.Cells[beside]
	if d.Single {
		return d.Paper != c.Paper && column != 0
	}
	for y, b := range d.Bits {
		if column>>y&1 == 1 && b>>end&1 == 1 {
			return true
		}
	}
	return false
}

// amid tells whether the cells to both sides of one show more than a lane: strokes of that lane alone are a letter there, as an upright, a stop and a quote are, and nothing a
// space, so that the two are no odder than any letters.
func (e *evidence) amid(cell, lane int) bool {
	column := e.s.Cells[cell].Column
	if column == 0 || column == e.p.Columns()-1 {
		return false
	}
	for _, beside := range [2]int{cell - 1, cell + 1} {
		drawn := false
		for _, b := range e.s.Cells[beside].Bits {
			drawn = drawn || b&^(1<<lane) != 0
		}
		if !drawn {
			return false
		}
	}
	return true
}

// otherLetter tells whether cells that differ from most of their like in these lines of one lane rather show another letter, which differs there alone: a lane that is
// wrong here and there seldom is so twice in the same two lines, nor in the same line of every fourth. n cells of total do. Common practice, no source.
func otherLetter(lines uint8, n, total int) bool {
	if bits.OnesCount8(lines) > 1 {
		return n > 1
	}
	return n > 2 && 4*n >= total
}
