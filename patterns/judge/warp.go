package judge

import (
	"math"
	"math/bits"

	"backporch/analyse"
	"backporch/patterns/nats"
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
			if hidden == 64 { // the whole cell is written anew, colours and all
				anything = math.Max(anew[i], unwritten*64)
			}
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
		if misread[i] > perPixel {
			misread[i] = math.Min(misread[i], c.twice(e, m, w, i, content{lines, colour}, perPixel))
		}
		beyond := math.Max(anew[i]/64, unwritten) * float64(hidden)
		paid[i] = misread[i] + beyond
		spelt -= beyond
	}
	unknown := open.cost()
	return -misreadCells(paid) - unknown, spelt - unknown, misread
}

// A content is all that a cell shows.
type content struct {
	lines  [8]glimpse
	colour glimpse
}

// twice is what a cell pays that a warp gives what stands elsewhere too: the capture shows how that is read there. Infinite where it stands nowhere else, or not
// as it should.
func (c *comparison) twice(e *evidence, m *image, w warp, i int, shows content, perPixel float64) float64 {
	k, ok := m.first(shows)
	if !ok || k == i {
		return math.Inf(1)
	}
	if lines, colour := m.straight(i); (content{lines, colour}) == shows {
		return math.Inf(1)
	}
	if lines, colour := w(k); (content{lines, colour}) != shows {
		return math.Inf(1)
	}
	seen := &e.s.Cells[i]
	there := tileOf(&e.s.Cells[k])
	_, n := c.differ(there, seen)
	return c.paid(n, there, seen, perPixel)
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
				sum -= nats.BetaSequence(s.set[b], n, 0.5, 0.5)
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
	mask, dead := uint8(1<<lane), m.deadAt(number, column)
	force := func(a int) glimpse {
		g := m.read(a)
		if dead(a) {
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
			if line := (row*8+y)&^(1<<bit) | level<<bit; line < m.p.Height {
				out[y] = m.read(m.p.BitmapAddress(line, column))
			} // else it is fetched from wherever the machine's other memory lies
		}
		line := row * 8
		if bit >= 3 {
			line = line&^(1<<bit) | level<<bit
		}
		if line >= m.p.Height {
			return out, glimpse{}
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

// hardlyApart is what two pictures say of a cell, nats, below which nobody explains anything by having it otherwise than the good machine. Common practice, no source.
const hardlyApart = 1.0

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
		if apart := e.s.Cells[i].Apart; apart > 0 && apart < hardlyApart {
			continue // the two pictures may well be one
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
