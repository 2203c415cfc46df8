package judge

import (
	"math"

	"backporch/analyse"
	"backporch/patterns/nats"
)

// A weak lane beside a reference: it may be as seen wherever it likes, and says which bits these are.

// byLevel counts bits by the level that the good machine has there.
type byLevel [2]int

func (n byLevel) sum() int { return n[0] + n[1] }

// A weakLane is what becomes of a screen when one lane may be as seen: its bits that are wrong, those that could be, the cells that have wrong ones, and what the cells pay
// for everything else, in all and each.
type weakLane struct {
	bits, of byLevel
	cells    int
	rest     float64
	each     []float64
}

// spelt is ln of the probability of these of its bits being wrong: at one rate, or, as most weak chips do it, at one of each level, for a cell that leaks and a buffer that
// is slow go wrong to one alone.
func (w *weakLane) spelt() float64 {
	rate := func(wrong, of int) float64 { return nats.BetaSequence(wrong, of, 0.5, 3) }
	return nats.LogSum(rate(w.bits.sum(), w.of.sum()), rate(w.bits[0], w.of[0])+rate(w.bits[1], w.of[1])) - math.Ln2
}

// laneOnly lets one lane be as seen.
func (c *comparison) laneOnly(e *evidence, bit int, perPixel float64) weakLane {
	mask := uint8(1 << bit)
	out := weakLane{each: make([]float64, 0, len(e.s.Cells))}
	for i := range e.s.Cells {
		seen := &e.s.Cells[i]
		// The cell with either of its colours as ink: the one that this lane alone explains better.
		best, bestWrong, way := math.Inf(1), byLevel{}, tile{}
		for k, t := range [2]tile{tileOf(&c.cells[i]), tileOf(&c.cells[i]).inverted()} {
			cost, n := c.laneFits(t, seen, bit, mask, perPixel)
			if k == 1 && n.sum() > 0 && c.cells[i].Single {
				cost += turnedCell // a cell of one colour is paper more often than ink all over
			}
			if cost < best {
				best, bestWrong, way = cost, n, t
			}
		}
		for _, row := range way.rows {
			out.of[row>>bit&1]++
		}
		out.of[way.lane(bit)]++
		out.bits[0], out.bits[1] = out.bits[0]+bestWrong[0], out.bits[1]+bestWrong[1]
		if bestWrong.sum() > 0 {
			out.cells++
		}
		out.each = append(out.each, best)
	}
	out.rest = misreadCells(out.each)
	return out
}

// lane is a bit of a tile's colour byte; 0 where it shows none.
func (t tile) lane(bit int) int {
	for level := range 2 {
		if ink, paper := forceColours(t.ink, t.paper, bit, level); ink == t.ink && paper == t.paper {
			return level
		}
	}
	return 0
}

// laneFits lets one lane of a cell be as seen, pattern and colours, and gives what the cell
// still pays and how many bits of the lane were wrong.
func (c *comparison) laneFits(t tile, seen *analyse.Cell, bit int, mask uint8, perPixel float64) (cost float64, wrong byLevel) {
	_, plain := c.differ(t, seen)
	best, bestWrong := c.paid(plain, t, seen, perPixel), byLevel{} // the lane may be right, and all of it misread
	for level := range 3 {                                         // the colours as expected, then with the bit at 0 and at 1
		p, n := t, byLevel{}
		if level < 2 {
			p.ink, p.paper = forceColours(t.ink, t.paper, bit, level)
			if p == t {
				continue
			}
			n[1-level]++
		}
		s := tileOf(seen)
		for _, view := range [2]tile{s, s.inverted()} {
			q, m := p, n
			for y := range q.rows {
				if d := (q.rows[y] ^ view.rows[y]) & mask; d != 0 && !seen.Single {
					m[q.rows[y]>>bit&1]++
					q.rows[y] ^= d
				}
			}
			_, left := c.differ(q, seen)
			if cost := c.paid(left, q, seen, perPixel); cost < best || cost == best && m.sum() < bestWrong.sum() {
				best, bestWrong = cost, m
			}
		}
	}
	return best, bestWrong
}
