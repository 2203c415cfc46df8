package judge

import (
	"cmp"
	"fmt"
	"math"
	"math/bits"
	"slices"

	"backporch/patterns"
	"backporch/patterns/nats"
)

// Where memory is read from that is not what it should be: chips' addresses and places on the raster, put to the reference.

// places lists the hypotheses of memory that is read at other addresses, or at some of them wrongly, and of
// a raster whose counters or fetches go wrong. plain is what the cells pay when nothing is wrong.
func (c *comparison) places(e *evidence, perPixel, plain float64, edge float64) []patterns.Hypothesis {
	if plain < 8 {
		return nil // there is next to nothing to explain
	}
	m, wrong := c.behind(e)
	// Nothing wrong is weighed with the same allowances as these.
	straight, _, good := c.warped(e, m, m.straight, perPixel)
	out := []patterns.Hypothesis{{Prior: math.Log(patterns.CleanPrior), Like: edge + straight}}
	var byLane [8]int
	for _, w := range wrong {
		for ; w != 0; w &= w - 1 {
			byLane[bits.TrailingZeros8(w)]++
		}
	}
	reads := func(f patterns.Fault, k *patterns.Kind, share float64, m *image, w warp) {
		if !m.changes(w) {
			return // that line, row or column is not in this picture
		}
		f.Class, f.Kind = k.Class, k.Name
		like, spelt, each := c.warped(e, m, w, perPixel)
		most := plain * 3 / 4
		if c.spoilt { // such a picture is misread in ways that a fold may happen to fit
			most = plain / 2
		}
		if like-spelt < -most && f.Row == nil && f.Column == nil {
			return // it leaves most of what is wrong unexplained
		}
		if better, left := c.explained(e, m, w); f.Row != nil || f.Column != nil {
			like -= nats.Scant(better)
		} else if better < soleCells || 2*better < left { // these show all over the screen
			like -= minorLane
		}
		out = append(out, patterns.Hypothesis{
			Fault: &f, Prior: math.Log(k.Prior * share), Like: edge + like, Spelt: spelt, Gain: gains(good, each),
			Why: []string{fmt.Sprintf("every cell is as %s has it, read so: %s", c.what, f.Describe(e.p))},
		})
	}
	add := func(f patterns.Fault, k *patterns.Kind, share float64, w warp) { reads(f, k, share, m, w) }
	c.addressFaults(e, m, byLane, add)
	c.deadLines(m, wrong, byLane, reads)
	if !c.striped() { // lines and columns that are alike can't be told apart but by what was misread in some
		counter := patterns.KindOf("line-counter")
		for bit := range 8 {
			for level := range 2 {
				add(patterns.Fault{CounterBit: ptr(bit), Level: ptr(level)}, counter, 1.0/16, m.counterWarp(bit, level))
			}
		}
		c.fetches(e, m, add)
		out = append(out, c.idleFetches(e, perPixel, plain, edge)...)
	}
	out = append(out, c.shifted(e, perPixel, edge)...)
	out = append(out, c.allLanes(e, m, wrong, perPixel, plain, edge)...)
	return out
}

// striped tells whether nine cells of ten should show one pattern of both colours, but for a line or two that were misread.
func (c *comparison) striped() bool {
	count := map[[8]uint8]int{}
	var usual [8]uint8
	for i := range c.cells {
		b := c.cells[i].Bits
		if count[b]++; !c.cells[i].Single && count[b] > count[usual] {
			usual = b
		}
	}
	near := 0
	for i := range c.cells {
		if nearly(c.cells[i].Bits, usual) {
			near++
		}
	}
	return usual != [8]uint8{} && near*10 >= len(c.cells)*9
}

// addressFaults tries each address line, and the two that share a pin of a chip whose address comes in halves.
func (c *comparison) addressFaults(e *evidence, m *image, byLane [8]int, add func(patterns.Fault, *patterns.Kind, float64, warp)) {
	k := patterns.KindOf("address-line-stuck")
	var sets [][]int
	for line := range e.p.RowBits + e.p.ColumnBits {
		sets = append(sets, []int{line})
	}
	for line := range min(e.p.RowBits, e.p.ColumnBits) {
		sets = append(sets, []int{line, line + e.p.RowBits})
	}
	striped := c.striped()
	for _, set := range sets {
		lines := 0
		for _, l := range set {
			lines |= 1 << l
		}
		for level := range 2 {
			share := 1 / float64(2*2*len(sets))
			if !striped {
				add(patterns.Fault{Lines: set, Lanes: []int{0, 1, 2, 3, 4, 5, 6, 7}, Level: ptr(level)}, k, share, m.addressWarp(lines, level, 0xff))
			}
			for lane, n := range byLane {
				if n > 0 {
					add(patterns.Fault{Lines: set, Lanes: []int{lane}, Level: ptr(level)}, k, share/8, m.addressWarp(lines, level, 1<<lane))
				}
			}
		}
	}
}

// deadLines tries the rows and columns of a chip in which a lane is wrong wherever it can be.
func (c *comparison) deadLines(m *image, wrong []uint8, byLane [8]int, add func(patterns.Fault, *patterns.Kind, float64, *image, warp)) {
	row, column := patterns.KindOf("row-dead"), patterns.KindOf("column-dead")
	for lane, n := range byLane {
		if n < 2 {
			continue
		}
		for level := range 2 {
			turned, bad, _ := m.oriented(wrong, lane, level, nil)
			rows, columns := turned.deadliest(bad, lane, level)
			for _, r := range rows {
				put, _, odds := m.oriented(wrong, lane, level, m.deadAt(r, false))
				share := math.Exp(odds) / float64(int(16)<<m.p.RowBits)
				add(patterns.Fault{Bit: ptr(lane), Level: ptr(level), Row: ptr(r)}, row, share, put, put.deadWarp(lane, level, r, false))
			}
			for _, r := range columns {
				put, _, odds := m.oriented(wrong, lane, level, m.deadAt(r, true))
				share := math.Exp(odds) / float64(int(16)<<m.p.ColumnBits)
				add(patterns.Fault{Bit: ptr(lane), Level: ptr(level), Column: ptr(r)}, column, share, put, put.deadWarp(lane, level, r, true))
			}
		}
	}
}

// deadAt tells the addresses of a chip's row, or of its column.
func (m *image) deadAt(number int, column bool) func(a int) bool {
	return func(a int) bool {
		row, col := m.p.ChipAddress(a)
		return column && col == number || !column && row == number
	}
}

// deadliest gives the two rows and the two columns of a chip in which it is likeliest, by the bits that should be the other level, that a lane
// reads level: nearly all are wrong there, of the others as many as of all. A busy row has the most wrong bits, a dead one the greatest part.
func (m *image) deadliest(wrong []uint8, lane, level int) (rows, columns []int) {
	var all nats.Tally
	byRow, byColumn := map[int]*nats.Tally{}, map[int]*nats.Tally{}
	for a, known := range m.known {
		if known>>lane&1 == 0 || int(m.bytes[a]>>lane&1) == level {
			continue
		}
		is := a < len(wrong) && wrong[a]>>lane&1 == 1
		all.Add(is)
		r, col := m.p.ChipAddress(a)
		for _, n := range [2]struct {
			m map[int]*nats.Tally
			k int
		}{{byRow, r}, {byColumn, col}} {
			if n.m[n.k] == nil {
				n.m[n.k] = &nats.Tally{}
			}
			n.m[n.k].Add(is)
		}
	}
	usual := math.Min(0.5, (float64(all.Changed)+1)/(float64(all.Of)+100))
	likeliest := func(of map[int]*nats.Tally) []int {
		odds := map[int]float64{}
		for k, n := range of {
			odds[k] = float64(n.Changed)*math.Log(deadBit/usual) + float64(n.Of-n.Changed)*math.Log((1-deadBit)/(1-usual))
		}
		var keys []int
		for k := range odds {
			if odds[k] > 0 {
				keys = append(keys, k)
			}
		}
		slices.SortFunc(keys, func(a, b int) int { return cmp.Or(cmp.Compare(odds[b], odds[a]), a-b) })
		return keys[:min(2, len(keys))]
	}
	return likeliest(byRow), likeliest(byColumn)
}

// deadBit is the part of the bits of a dead row or column that are read wrong: some are misread. Common practice, no source.
const deadBit = 0.9

// fetches tries cells that take their bytes from a neighbouring column, or all from one.
func (c *comparison) fetches(e *evidence, m *image, add func(patterns.Fault, *patterns.Kind, float64, warp)) {
	k := patterns.KindOf("cell-fetch")
	same := func(f func(int) int) func(int) (int, int) {
		return func(c int) (int, int) { return f(c), f(c) }
	}
	last := e.p.Columns() - 1
	add(patterns.Fault{Columns: "odd"}, k, 0.25, m.columnWarp(same(func(c int) int { return c &^ 1 })))
	add(patterns.Fault{Columns: "even"}, k, 0.25, m.columnWarp(same(func(c int) int { return min(c|1, last) })))
	for n := 1; n < last; n++ {
		add(patterns.Fault{Columns: fmt.Sprintf("after %d", n)}, k, 0.25/float64(last), m.columnWarp(same(func(c int) int { return min(c, n) })))
	}
	for _, d := range [2]int{-1, 1} {
		add(patterns.Fault{Columns: "colour-shift"}, k, 0.125, m.columnWarp(func(c int) (int, int) { return c, min(max(c+d, 0), last) }))
	}
}
