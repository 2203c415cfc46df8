package judge

import (
	"math"

	"backporch/video/display"
)

// Which of a cell's two colours is ink does not show, so that a bit that reads 0 may as well be one that reads 1. Cells of one pair of
// colours were mostly written alike: where bits of a lane go wrong, they tell which way round the pair is.

// oriented is the image with the cells of each pair of colours turned so that most of a lane's bits at some addresses are wrong where a chip holding the lane at
// level would change them, and right elsewhere; without addresses most of all that are wrong. It gives the wrong bits as they then are, and ln of the probability
// of so many pairs against their usual reading.
func (m *image) oriented(wrong []uint8, lane, level int, at func(a int) bool) (out *image, bad []uint8, odds float64) {
	type votes struct{ cells, agree [2]int } // by the colour that is paper: the lower index, or the higher
	pairs := map[[2]int]*votes{}
	pair := func(i int) (key [2]int, as int, ok bool) {
		a := m.colour[i]
		c := display.SplitColour(m.bytes[a])
		if m.known[a]&0x7f != 0x7f || c.Ink == c.Paper || m.blank[m.lines[i][0]] {
			return key, 0, false
		}
		if c.Paper > c.Ink {
			return [2]int{c.Ink, c.Paper}, 1, true
		}
		return [2]int{c.Paper, c.Ink}, 0, true
	}
	for i := range m.lines {
		key, as, ok := pair(i)
		if !ok {
			continue
		}
		v := pairs[key]
		if v == nil {
			v = &votes{}
			pairs[key] = v
		}
		v.cells[as]++
		for _, a := range m.lines[i] {
			is := wrong[a]>>lane&1 == 1
			if at == nil && !is || at != nil && !at(a) {
				continue
			}
			if is == (int(m.bytes[a]>>lane&1) != level) {
				v.agree[as]++
			} else {
				v.agree[1-as]++
			}
		}
	}
	copied := *m
	out, bad = &copied, append([]uint8(nil), wrong...)
	out.bytes = append([]uint8(nil), m.bytes...)
	for i := range m.lines {
		key, as, ok := pair(i)
		if !ok {
			continue
		}
		if v := pairs[key]; v.agree[as] < v.agree[1-as] {
			for _, a := range m.lines[i] {
				out.bytes[a] ^= 0xff
			}
			a := m.colour[i]
			out.bytes[a], bad[a] = colourTurned(m.bytes[a]), colourTurned(wrong[a])
		}
	}
	for _, v := range pairs {
		if usual := v.cells[1] > v.cells[0]; v.agree[0] != v.agree[1] && (v.agree[1] > v.agree[0]) != usual {
			odds -= math.Ln2
		}
	}
	return out, bad, odds
}

// colourTurned is a colour byte with ink and paper changed round.
func colourTurned(b uint8) uint8 { return b&0xc0 | b&0x07<<3 | b>>3&0x07 }
