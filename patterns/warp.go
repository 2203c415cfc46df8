package patterns

import (
	"cmp"
	"fmt"
	"math"
	"math/bits"
	"slices"

	"backporch/analyse"
)

// A warp is a machine that fetches other bytes than it should: for a cell, the bytes that its eight
// lines and its colour come from. Memory faults warp by address, the video logic's by place on the raster.
type warp func(cell int) (lines [8]glimpse, colour glimpse)

// warped weighs a warp against what is seen: ln of the likelihood. What the warp takes from where nothing is known
// is written anew: that is spelt, of like; misread is what the rest costs, by cell.
func (c *comparison) warped(e *evidence, m *image, w warp, perPixel float64) (like, spelt float64, misread []float64) {
	misread = make([]float64, len(e.s.Cells))
	paid := make([]float64, len(e.s.Cells))
	anew := e.drawn()
	var open openBits
	for i := range e.s.Cells {
		lines, colour := w(i)
		t, hidden := m.tile(&lines, colour)
		seen := &e.s.Cells[i]
		open.count(&t, seen)
		if t.ink < 0 && t.paper < 0 { // any colours: the pattern must be there in those that are seen
			anything := math.Log(128) + math.Max(anew[i]/64, unwritten)*float64(hidden)
			usual, turned := tileOf(seen), tileOf(seen).inverted()
			usual.rows, usual.hidden, turned.rows, turned.hidden = t.rows, t.hidden, t.rows, t.hidden
			_, n := c.differ(usual, seen)
			_, m := c.differ(turned, seen)
			misread[i] = math.Min(min(n, m)*perPixel, anew[i])
			paid[i] = misread[i] + anything
			spelt -= anything
			continue
		}
		_, n := c.differ(t, seen)
		turned := t.turned(seen)
		if n > 0 && (colour.value&0x80 != 0 || seen.Flash) { // the captures may stand in different phases
			for _, other := range turned {
				_, m := c.differ(other, seen)
				n = min(n, m)
			}
		}
		misread[i] = c.paid(n, t, seen, perPixel)
		cost := turnedCell
		if t.ink < 0 {
			cost += anyColour
		}
		if misread[i] > cost && (t.ink >= 0 || t.rows != [8]uint8{}) { // pattern and colours come from cells that were read the other way round
			for _, other := range turned {
				_, m := c.differ(other, seen)
				misread[i] = math.Min(misread[i], cost+c.paid(m, other, seen, perPixel))
			}
		}
		beyond := math.Max(anew[i]/64, unwritten) * float64(hidden)
		paid[i] = misread[i] + beyond
		spelt -= beyond
	}
	unknown := open.cost()
	return -misreadCells(paid) - unknown, spelt - unknown, misread
}

// openBits counts what cells show of the bits of their colours that a warp takes from where nothing is known, by bit: of papers, and of inks.
type openBits struct{ paper, ink bitCounts }

type bitCounts struct{ set, of [4]int }

func (o *openBits) count(t *tile, seen *analyse.Cell) {
	// The one of the seen colours that the bits known of a colour allow; the other where only that does: it was read the other way round.
	shown := func(colour, open, usual, other int) int {
		if (usual^colour)&^open != 0 && (other^colour)&^open == 0 {
			return other
		}
		return usual
	}
	if t.openPaper != 0 && t.paper >= 0 {
		usual := seen.Paper
		if !seen.Single {
			usual = shown(t.paper, t.openPaper, seen.Paper, seen.Ink)
		}
		o.paper.add(t.openPaper, usual)
	}
	if t.openInk != 0 && t.ink >= 0 && !seen.Single {
		o.ink.add(t.openInk, shown(t.ink, t.openInk, seen.Ink, seen.Paper))
	}
}

func (s *bitCounts) add(open, shown int) {
	for b := range s.of {
		if shown >= 0 && open>>b&1 == 1 {
			s.of[b]++
			s.set[b] += shown >> b & 1
		}
	}
}

// cost is what it takes to write them down, nats: each bit's sequence by a rate that is not known (Krichevsky and Trofimov, IEEE Transactions on
// Information Theory 27, 1981, from memory).
func (o *openBits) cost() float64 {
	sum := 0.0
	for _, s := range [2]bitCounts{o.paper, o.ink} {
		for b, n := range s.of {
			if n > 0 {
				sum -= betaSequence(s.set[b], n, 0.5, 0.5)
			}
		}
	}
	return sum
}

// anyColour is what it takes to write down which of a display's colours one is, nats: of fifteen.
var anyColour = math.Log(15)

// unwritten is what a bit costs that comes from memory beyond the screen, nats: programs and their data are one bit in ten
// at the least from being even.
const unwritten = 0.33

// addressWarp reads some lanes at the address with some of its lines held.
func (m *image) addressWarp(lines, level int, lanes uint8) warp {
	held := func(a int) int {
		if level == 1 {
			return a | lines
		}
		return a &^ lines
	}
	return func(i int) (out [8]glimpse, colour glimpse) {
		for y, a := range m.lines[i] {
			out[y] = m.read(a).mixed(m.read(held(a)), lanes)
		}
		return out, m.read(m.colour[i]).mixed(m.readColour(held(m.colour[i])), lanes)
	}
}

// deadWarp reads one lane as level where a chip's row, or its column, is the given one.
func (m *image) deadWarp(lane, level, number int, column bool) warp {
	mask := uint8(1 << lane)
	force := func(a int) glimpse {
		g := m.read(a)
		if row, col := m.p.ChipAddress(a); column && col == number || !column && row == number {
			g.value = g.value&^mask | uint8(level)<<lane
			g.known |= mask
		}
		return g
	}
	return func(i int) (out [8]glimpse, colour glimpse) {
		for y, a := range m.lines[i] {
			out[y] = force(a)
		}
		return out, force(m.colour[i])
	}
}

// counterWarp holds a bit of the line counter: bitmap and colours both come from another line.
func (m *image) counterWarp(bit, level int) warp {
	columns := m.p.Columns()
	return func(i int) (out [8]glimpse, colour glimpse) {
		row, column := i/columns, i%columns
		for y := range out {
			line := row*8 + y
			line = line&^(1<<bit) | level<<bit
			if line < m.p.Height {
				out[y] = m.read(m.p.BitmapAddress(line, column))
			} else {
				out[y] = m.read(m.p.BitmapAddress(m.p.Height-1, column))
			}
		}
		line := row * 8
		if bit >= 3 {
			line = min(line&^(1<<bit)|level<<bit, m.p.Height-1)
		}
		return out, m.read(m.p.CellAddress(line/8, column))
	}
}

// columnWarp takes a cell's bitmap and colours from other columns.
func (m *image) columnWarp(from func(column int) (bitmap, colour int)) warp {
	columns := m.p.Columns()
	return func(i int) (out [8]glimpse, colour glimpse) {
		row, column := i/columns, i%columns
		b, c := from(column)
		for y := range out {
			out[y] = m.read(m.p.BitmapAddress(row*8+y, min(max(b, 0), columns-1)))
		}
		return out, m.read(m.p.CellAddress(row, min(max(c, 0), columns-1)))
	}
}

// straight is a machine that fetches what it should.
func (m *image) straight(i int) (out [8]glimpse, colour glimpse) {
	for y, a := range m.lines[i] {
		out[y] = m.read(a)
	}
	return out, m.read(m.colour[i])
}

// changes tells whether a warp changes anything.
func (m *image) changes(w warp) bool {
	for i := range m.lines {
		a, b := m.straight(i)
		c, d := w(i)
		if a != c || b != d {
			return true
		}
	}
	return false
}

// explained counts the cells that a warp brings nearer to what is seen, and those that differ with it all the same.
func (c *comparison) explained(e *evidence, m *image, w warp) (better, left int) {
	for i := range e.s.Cells {
		lines, colour := w(i)
		plain, plainColour := m.straight(i)
		is, _ := m.tile(&lines, colour)
		_, after := c.differ(is, &e.s.Cells[i])
		if after > 0 {
			left++
		}
		if lines == plain && colour == plainColour {
			continue
		}
		was, _ := m.tile(&plain, plainColour)
		if _, before := c.differ(was, &e.s.Cells[i]); after < before {
			better++
		}
	}
	return better, left
}

// wrongBits is, by address, the bits that differ from the expected ones, each cell with either of its colours
// as ink, whichever differs less.
func (c *comparison) wrongBits(e *evidence, m *image) []uint8 {
	out := make([]uint8, len(m.bytes))
	for i := range e.s.Cells {
		seen := &e.s.Cells[i]
		best := math.MaxInt
		var rows [8]uint8
		var colours uint8
		for _, t := range [2]tile{tileOf(&c.cells[i]), tileOf(&c.cells[i]).inverted()} {
			s := tileOf(seen)
			if seen.Single && !c.alikeIn(seen, t.paper, seen.Paper) && t.ink >= 0 && c.alikeIn(seen, t.ink, seen.Paper) {
				s = s.inverted() // all of it is ink
			}
			n := 0
			var d [8]uint8
			for y := range d {
				d[y] = t.rows[y] ^ s.rows[y]
				n += bits.OnesCount8(d[y])
			}
			var x uint8
			differ := func(a, b int, shift int) {
				if a >= 0 && b >= 0 && !c.alikeIn(seen, a, b) {
					x |= uint8((a^b)&7) << shift
					if (a^b)&8 != 0 {
						x |= 0x40
					}
				}
			}
			differ(t.ink, s.ink, 0)
			differ(t.paper, s.paper, 3)
			if n += bits.OnesCount8(x); n < best {
				best, rows, colours = n, d, x
			}
		}
		for y, a := range m.lines[i] {
			out[a] = rows[y]
		}
		out[m.colour[i]] = colours
	}
	return out
}

// behind is the memory behind the expected cells, and which of its bits are wrong.
func (c *comparison) behind(e *evidence) (m *image, wrong []uint8) {
	if c.memory == nil {
		c.memory = newImage(e.p, c.cells)
		c.wrong = c.wrongBits(e, c.memory)
	}
	return c.memory, c.wrong
}

// places lists the hypotheses of memory that is read at other addresses, or at some of them wrongly, and of
// a raster whose counters or fetches go wrong. plain is what the cells pay when nothing is wrong.
func (c *comparison) places(e *evidence, perPixel, plain float64, edge float64) []hypothesis {
	if plain < 8 {
		return nil // there is next to nothing to explain
	}
	m, wrong := c.behind(e)
	// Nothing wrong is weighed with the same allowances as these.
	straight, _, good := c.warped(e, m, m.straight, perPixel)
	out := []hypothesis{{prior: math.Log(cleanPrior), like: edge + straight}}
	var byLane [8]int
	for _, w := range wrong {
		for ; w != 0; w &= w - 1 {
			byLane[bits.TrailingZeros8(w)]++
		}
	}
	add := func(f Fault, k *Kind, share float64, w warp) {
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
			like -= scant(better)
		} else if better < soleCells || 2*better < left { // these show all over the screen
			like -= minorLane
		}
		out = append(out, hypothesis{
			fault: &f, prior: math.Log(k.Prior * share), like: edge + like, spelt: spelt, gain: gains(good, each),
			why: []string{fmt.Sprintf("every cell is as %s has it, read so: %s", c.what, f.Describe(e.p))},
		})
	}
	c.addressFaults(e, m, byLane, add)
	c.deadLines(m, wrong, byLane, add)
	if !c.striped() { // lines and columns that are alike can't be told apart but by what was misread in some
		counter := kindOf("line-counter")
		for bit := range 8 {
			for level := range 2 {
				add(Fault{CounterBit: ptr(bit), Level: ptr(level)}, counter, 1.0/16, m.counterWarp(bit, level))
			}
		}
		c.fetches(e, m, add)
		out = append(out, c.idleFetches(e, perPixel, plain, edge)...)
	}
	out = append(out, c.shifted(e, perPixel, plain, edge)...)
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
func (c *comparison) addressFaults(e *evidence, m *image, byLane [8]int, add func(Fault, *Kind, float64, warp)) {
	k := kindOf("address-line-stuck")
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
				add(Fault{Lines: set, Lanes: []int{0, 1, 2, 3, 4, 5, 6, 7}, Level: ptr(level)}, k, share, m.addressWarp(lines, level, 0xff))
			}
			for lane, n := range byLane {
				if n > 0 {
					add(Fault{Lines: set, Lanes: []int{lane}, Level: ptr(level)}, k, share/8, m.addressWarp(lines, level, 1<<lane))
				}
			}
		}
	}
}

// deadLines tries the rows and columns of a chip in which a lane is wrong wherever it can be.
func (c *comparison) deadLines(m *image, wrong []uint8, byLane [8]int, add func(Fault, *Kind, float64, warp)) {
	row, column := kindOf("row-dead"), kindOf("column-dead")
	for lane, n := range byLane {
		if n < 2 {
			continue
		}
		for level := range 2 {
			rows, columns := m.deadliest(wrong, lane, level)
			for _, r := range rows {
				add(Fault{Bit: ptr(lane), Level: ptr(level), Row: ptr(r)}, row, 1/float64(int(16)<<m.p.RowBits), m.deadWarp(lane, level, r, false))
			}
			for _, r := range columns {
				add(Fault{Bit: ptr(lane), Level: ptr(level), Column: ptr(r)}, column, 1/float64(int(16)<<m.p.ColumnBits), m.deadWarp(lane, level, r, true))
			}
		}
	}
}

// deadliest gives the two rows and the two columns of a chip in which it is likeliest, by the bits that should be the other level, that a lane
// reads level: nearly all are wrong there, of the others as many as of all. A busy row has the most wrong bits, a dead one the greatest part.
func (m *image) deadliest(wrong []uint8, lane, level int) (rows, columns []int) {
	var all tallied
	byRow, byColumn := map[int]*tallied{}, map[int]*tallied{}
	for a, known := range m.known {
		if known>>lane&1 == 0 || int(m.bytes[a]>>lane&1) == level {
			continue
		}
		is := a < len(wrong) && wrong[a]>>lane&1 == 1
		all.add(is)
		r, col := m.p.ChipAddress(a)
		for _, n := range [2]struct {
			m map[int]*tallied
			k int
		}{{byRow, r}, {byColumn, col}} {
			if n.m[n.k] == nil {
				n.m[n.k] = &tallied{}
			}
			n.m[n.k].add(is)
		}
	}
	usual := math.Min(0.5, (float64(all.changed)+1)/(float64(all.of)+100))
	likeliest := func(of map[int]*tallied) []int {
		odds := map[int]float64{}
		for k, n := range of {
			odds[k] = float64(n.changed)*math.Log(deadBit/usual) + float64(n.of-n.changed)*math.Log((1-deadBit)/(1-usual))
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
func (c *comparison) fetches(e *evidence, m *image, add func(Fault, *Kind, float64, warp)) {
	k := kindOf("cell-fetch")
	same := func(f func(int) int) func(int) (int, int) {
		return func(c int) (int, int) { return f(c), f(c) }
	}
	last := e.p.Columns() - 1
	add(Fault{Columns: "odd"}, k, 0.25, m.columnWarp(same(func(c int) int { return c &^ 1 })))
	add(Fault{Columns: "even"}, k, 0.25, m.columnWarp(same(func(c int) int { return min(c|1, last) })))
	for n := 1; n < last; n++ {
		add(Fault{Columns: fmt.Sprintf("after %d", n)}, k, 0.25/float64(last), m.columnWarp(same(func(c int) int { return min(c, n) })))
	}
	for _, d := range [2]int{-1, 1} {
		add(Fault{Columns: "colour-shift"}, k, 0.125, m.columnWarp(func(c int) (int, int) { return c, min(max(c+d, 0), last) }))
	}
}
