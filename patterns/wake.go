package patterns

import (
	"math"

	"backporch/video/display"
)

// Memory as it wakes against a screen that a program drew, by how short each
// can be written down (minimum description length; Rissanen, Automatica 14, 1978, from
// memory). A drawn screen is like its neighbours on the raster, and its colours come in runs. Memory that nothing
// wrote is like its neighbours in the chip: rows and columns of the address, lane by lane,
// the colour bytes no other than the rest.

// adaptive is the Krichevsky-Trofimov estimator of a bit in a context.
type adaptive struct{ n [2]float64 }

func (a *adaptive) cost(bit int) float64 {
	p := (a.n[bit] + 0.5) / (a.n[0] + a.n[1] + 1)
	a.n[bit]++
	return -math.Log(p)
}

// wakeOdds is the log of how much shorter the screen is as woken memory than as
// a drawn one, bounded; ok is false without memory.
func (e *evidence) wakeOdds() (float64, bool) {
	if e.p.Kind != display.Attr || e.s.Memory == nil || len(e.s.Cells) == 0 {
		return 0, false
	}
	drawn := e.drawnPattern() + e.drawnColours()
	pattern, colours := e.wokenPattern(), e.wokenColours()
	// Descriptions that are close do not decide: neither is the shortest there is.
	d := (drawn - pattern - colours) / 4
	return math.Max(-30, math.Min(30, d)), true
}

// drawnPattern writes the bitmap pixel by pixel in the context of seven neighbours.
func (e *evidence) drawnPattern() float64 {
	width := e.p.Width
	line, above, above2 := make([]int, width+2), make([]int, width+2), make([]int, width+2)
	contexts := make([]adaptive, 128)
	cost := 0.0
	for y := range e.p.Height {
		above2, above, line = above, line, above2
		for i := range e.p.Columns() {
			c := &e.s.Cells[y/8*e.p.Columns()+i]
			for x := range 8 {
				at := i*8 + x
				bit := int(c.Bits[y%8] >> (7 - x) & 1)
				line[at+1] = bit
				if c.Single {
					continue
				}
				k := 0
				if at > 0 {
					k |= line[at] | above[at]<<2
				}
				if at > 1 {
					k |= line[at-1] << 1
				}
				k |= above[at+1]<<3 | above[min(at+2, width)]<<4 | above2[at+1]<<5
				if x == 0 {
					k |= 64
				}
				cost += contexts[k].cost(bit)
			}
		}
	}
	return cost
}

// drawnColours writes the colours cell by cell: like the left one, like the one above,
// one that was used before, or a new one.
func (e *evidence) drawnColours() float64 {
	var left, above adaptive
	used := map[[2]int]float64{}
	total, cost := 0.0, 0.0
	columns := e.p.Columns()
	at := func(i int) [2]int {
		c := &e.s.Cells[i]
		if c.Single {
			return [2]int{c.Paper, -1}
		}
		return [2]int{c.Paper, c.Ink}
	}
	fits := func(a, b [2]int) bool { return a[0] == b[0] && (a[1] == b[1] || a[1] < 0 || b[1] < 0) }
	for i := range e.s.Cells {
		v := at(i)
		same := 0
		if i%columns > 0 && fits(v, at(i-1)) {
			same = 1
		}
		cost += left.cost(same)
		if same == 0 {
			same = 0
			if i >= columns && fits(v, at(i-columns)) {
				same = 1
			}
			cost += above.cost(same)
		}
		if same == 0 {
			if n := used[v]; n > 0 {
				cost -= math.Log(n / (total + 2))
			} else {
				cost -= math.Log(2 / (total + 2))
				if v[1] < 0 {
					cost += math.Log(15)
				} else {
					cost += math.Log(128)
				}
			}
			used[v]++
			total++
		}
	}
	return cost
}

// wokenPattern writes the bitmap lane by lane in address order.
func (e *evidence) wokenPattern() float64 {
	cost := 0.0
	m := e.s.Memory
	for lane := range 8 {
		contexts := make([]adaptive, 64)
		bit := func(a int) int { return int(m.Bytes[max(a, 0)] >> lane & 1) }
		for a := range e.p.ColourBase {
			y, c := e.p.BitmapPlace(a)
			if e.s.Cells[y/8*e.p.Columns()+c].Single {
				continue
			}
			cost += contexts[neighbours(a, bit)].cost(bit(a))
		}
	}
	// Each cell may have been read with ink and paper the other way round.
	return cost + 0.69*float64(len(e.s.Cells))/4
}

// neighbours is the context of an address: bits one and two places before it, and
// those a row's and column's worth of the chip before.
func neighbours(a int, bit func(int) int) int {
	return bit(a-1) | bit(a-2)<<1 | bit(a-8)<<2 | bit(a-32)<<3 | bit(a-128)<<4 | bit(a-256)<<5
}

// wokenColours writes the colour bytes lane by lane in address order.
func (e *evidence) wokenColours() float64 {
	cost := 0.0
	m := e.s.Memory
	for lane := range 7 {
		contexts := make([]adaptive, 32)
		for i := range e.s.Cells {
			a := e.p.ColourBase + i
			if m.Seen[a]>>lane&1 == 0 {
				continue
			}
			bit := func(a int) int {
				if a < e.p.ColourBase {
					return 0
				}
				return int(m.Bytes[a] >> lane & 1)
			}
			k := bit(a-1) | bit(a-2)<<1 | bit(a-8)<<2 | bit(a-32)<<3 | bit(a-64)<<4
			cost += contexts[k].cost(bit(a))
		}
	}
	return cost
}
