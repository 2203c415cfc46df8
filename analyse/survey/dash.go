package survey

import (
	"math"
	"math/bits"

	"backporch/analyse"
)

// The colour byte is fetched anew for each line of a cell. One that is read wrongly for a line shows as a dash, the paper or the ink of that line in
// another colour, where a byte of the pattern that is read so shows the cell's own colours.

// How far a dash's luma may lie from what a bit of the colour makes of it, as a part of that and in codes; how many pixels of a line must move, of how many, and how far
// each of these at the least, as a part of what they do on the mean: the subcarrier ripples where colour begins. At either end blur leaves one out. Common
// practice, no source.
const (
	dashPart   = 0.25
	dashCodes  = 5.0
	dashMoved  = 2
	dashPixels = 4
	dashLeast  = 0.4
)

// dashes takes out of a cell's lines the fields in which one bit of its colour byte is another, and enters them as that byte's.
func (t *track) dashes(m *analyse.Memory, motion *analyse.Motion, c *analyse.Cell, rows *[8]line) {
	var colour line // what the colour byte shows, by bit and field
	any := false
	for y := range rows {
		l := &rows[y]
		if l.shift[0] == nil {
			continue
		}
		for k := range motion.Fields {
			moved := uint8(0)
			var shift [8]float64
			for x := range l.by {
				shift[x] = l.shift[x][k]
				if l.by[x].has(k) {
					moved |= 0x80 >> x
				}
			}
			if bits.OnesCount8(moved) < dashMoved {
				continue
			}
			bit, ok := t.dash(c, c.Bits[y], moved, &shift)
			if !ok {
				continue
			}
			any = true
			colour.by[7-bit].add(k)
			for x := range l.by {
				l.by[x][k/64] &^= 1 << (k % 64)
			}
		}
	}
	if any {
		t.byte(m, motion, t.p.CellAddress(c.Row, c.Column), &colour)
	}
}

// dash is the bit of the colour byte that makes all of a line's paper, or all of its ink, as much brighter as it is; ok is false where none does, or the cell's other
// colour does as well.
func (t *track) dash(c *analyse.Cell, pattern, moved uint8, shift *[8]float64) (bit int, ok bool) {
	if c.Single {
		pattern = 0
	}
	is, other, first, set := c.Paper, c.Ink, 3, ^pattern
	if bits.OnesCount8(moved&pattern) > bits.OnesCount8(moved&^pattern) {
		is, other, first, set = c.Ink, c.Paper, 0, pattern
	}
	if is < 0 || bits.OnesCount8(set) < dashPixels || bits.OnesCount8(moved&^set) > 1 {
		return 0, false
	}
	inner := set & (set >> 1) & (set << 1) // a run's own ends are blurred
	if set == 0xff {
		inner = 0x7e
	}
	by := 0.0
	for x := range shift {
		if inner>>(7-x)&1 == 1 {
			by += shift[x] / float64(bits.OnesCount8(inner))
		}
	}
	for x := range shift {
		if inner>>(7-x)&1 == 1 && shift[x]/by < dashLeast {
			return 0, false
		}
	}
	white := t.s.Levels.White - t.s.Levels.Black
	misses := func(colour int) (miss, step float64) {
		step = (t.p.Colours[colour].Y - t.p.Colours[is].Y) * white
		return math.Abs(by - step), math.Abs(step)
	}
	best := math.Inf(1)
	for b := range 4 { // blue, red, green, brightness
		miss, step := misses(is ^ 1<<b)
		if miss <= dashPart*step+dashCodes && miss < best {
			best, ok = miss, true
			if bit = first + b; b == 3 {
				bit = 6
			}
		}
	}
	if ok && !c.Single && other >= 0 {
		if miss, _ := misses(other); miss <= 2*best+dashCodes {
			return 0, false
		}
	}
	return bit, ok
}
