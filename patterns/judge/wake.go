package judge

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"

	"backporch/patterns/nats"
	"backporch/video/display"
)

// Memory that nothing has written against a screen that a program drew, by how short each
// can be written down: the length of a description, as minus the log of its probability (minimum description
// length; Rissanen, Automatica 14, 1978, from memory).
//
// A drawn screen is like its neighbours on the raster, and its colours come in runs. In woken
// memory each chip's bit follows rows and columns of its array, which are bits of the address: it is the parity of some of
// them but for cells that fall as they like. The Walsh-Hadamard transform of a lane finds the best parity of all at once
// (Harwit and Sloane, Hadamard Transform Optics, 1979, from memory). Bitmap and colour bytes are one memory and follow one parity.

// wakeOdds is the log-likelihood ratio of woken memory over a drawn screen, bounded; ok is
// false without memory.
func (e *evidence) wakeOdds() (odds float64, ok bool) {
	if e.p.Kind != display.Attr || e.s.Memory == nil || len(e.s.Cells) == 0 {
		return 0, false
	}
	if _, blank := e.blank(); blank {
		return 0, false
	}
	// Neither description is the shortest there is: a fourth of the difference counts.
	length, even, exact := e.woken()
	if exact { // chance leaves exceptions in every lane: a pattern that has none has been written
		return -laneLimit, true
	}
	colours := 0.0
	e.drawn()
	for i := range e.lines {
		colours += e.lines[i][8]
	}
	d := (e.patternLength() + math.Min(colours, even) - length) / 4
	return math.Max(-40, math.Min(30, d)), true
}

// woken is the length of the memory lane by lane: the parity of address bits that
// fits best, and the bits that break it.
//
// Which of a cell's colours is ink was a guess, and where it was wrong all of its bits are
// inverted. Lanes are therefore first set against lane 7 of the same byte, and lines against the cell's
// first: neither feels an inversion. What is left is one bit a cell, written out. even is the length of the colours alone as one colour all over the screen but
// for single bits, as a lane that is wrong here and there leaves them on a drawn one.
func (e *evidence) woken() (length, even float64, exact bool) {
	m, p := e.s.Memory, e.p
	size := 1
	for size < p.Size() {
		size *= 2
	}
	const reference = 7
	var apart [8]nats.Parity // of each lane from lane 7
	cost, cells := 0.0, 0
	var exceptions []float64 // by lane, as a part
	shown := make([]bool, p.ColourBase)
	for a := range shown {
		y, c := p.BitmapPlace(a)
		shown[a] = !e.s.Cells[y/8*p.Columns()+c].Single
	}
	for lane := range reference {
		apart[lane] = nats.FitParity(size, p.ColourBase, func(a int) (bit, ok bool) {
			b := m.Bytes[a]
			return (b>>lane^b>>reference)&1 == 1, shown[a]
		})
	}
	// Each line's value is what most of its lanes agree on.
	lines := make([]bool, p.ColourBase)
	for a := range lines {
		votes := 0
		for lane := range 8 {
			if (m.Bytes[a]>>lane&1 == 1) != apart[lane].At(a) {
				votes++
			}
		}
		lines[a] = votes > 4
	}
	top := func(a int) int {
		y, c := p.BitmapPlace(a)
		return p.BitmapAddress(y&^7, c)
	}
	down := nats.FitParity(size, p.ColourBase, func(a int) (bit, ok bool) { return lines[a] != lines[top(a)], shown[a] && top(a) != a })
	inverted := make([]bool, len(e.s.Cells))
	for i := range e.s.Cells {
		c := &e.s.Cells[i]
		if c.Single {
			continue
		}
		cells++
		votes := 0
		for y := range 8 {
			if a := p.BitmapAddress(c.Row*8+y, c.Column); lines[a] != down.At(a) {
				votes++
			}
		}
		inverted[i] = votes > 4
	}
	rows, all := make([]nats.Tally, p.Rows()), nats.Tally{}
	for lane := range 8 {
		n, broken := 0, 0
		for a := range shown {
			if !shown[a] {
				continue
			}
			y, c := p.BitmapPlace(a)
			n++
			want := apart[lane].At(a) != down.At(a) != inverted[y/8*p.Columns()+c]
			is := (m.Bytes[a]>>lane&1 == 1) != want
			if rows[y/8].Add(is); is {
				broken++
			}
		}
		all.Changed, all.Of = all.Changed+broken, all.Of+n
		cost += math.Log(2*float64(size)) - nats.BetaSequence(broken, n, 0.5, 0.5)
		if n > 8*fewAddresses {
			exceptions = append(exceptions, float64(broken)/float64(n))
		}
	}
	cost += float64(cells) * math.Ln2
	// Cells fall as they like all over a chip: exceptions that lie together, as in a line of text on a pattern, have been written.
	cost += math.Max(0, nats.Anyhow(rows, all)-nats.BetaSequence(all.Changed, all.Of, 0.5, 0.5))
	colours := e.wokenColours(size)
	if colours.addressed > laneLimit { // the bitmap, if no parity of the address, may be told from its neighbours, but no better than cells that fall as they like allow
		cost = math.Min(cost, math.Max(e.patternLength(), fallingCells*float64(all.Of)))
	}
	cost += colours.length
	fewShown, least := len(exceptions) == 0, 0.002
	if fewShown {
		least = 0.001
		for _, lane := range colours.lanes {
			if lane.Of > fewAddresses {
				exceptions = append(exceptions, float64(lane.Broken)/float64(lane.Of))
			}
		}
	}
	slices.Sort(exceptions)
	return cost, colours.even, len(exceptions) == 0 || exceptions[len(exceptions)/2] < least
}

// colourLanes are the colour bytes as woken memory, nats.
type colourLanes struct {
	lanes     [7]nats.Parity // flash is seldom seen
	length    float64        // of all lanes, each the parity of address bits and the bits that break it
	even      float64        // of all lanes, each one value and the few bits that break it; infinite where they are many
	addressed float64        // what the address tells of the hues; of their brightness bars of the path's do as well
}

func (e *evidence) wokenColours(size int) (c colourLanes) {
	m, p := e.s.Memory, e.p
	for lane := range c.lanes {
		ones := 0
		best := nats.FitParity(size, len(e.s.Cells), func(i int) (bit, ok bool) {
			a := p.ColourBase + i
			bit, ok = m.Bytes[a]>>lane&1 == 1, m.Seen[a]>>lane&1 == 1
			if bit && ok {
				ones++
			}
			return bit, ok
		})
		few := min(ones, best.Of-ones)
		even := math.Ln2 - nats.BetaSequence(few, best.Of, 0.5, 0.5)
		length := math.Log(2*float64(size)) - nats.BetaSequence(best.Broken, best.Of, 0.5, 0.5)
		c.lanes[lane], c.even, c.length = best, c.even+even, c.length+length
		if few*wrongSeldom > best.Of {
			c.even = math.Inf(1)
		}
		if lane < 6 {
			c.addressed += math.Max(0, even-length)
		}
	}
	return c
}

// wrongSeldom is of how many bits of a drawn screen of one colour at most one is wrong. Common practice, no source.
const wrongSeldom = 6

// fewAddresses is how many cells must show a lane for it to have exceptions. Common practice, no source.
const fewAddresses = 150

// fallingCells is the least that a bit of woken memory takes to write down, nats, whatever its neighbours tell: one in twenty-five falls as it likes. Common practice, no source.
const fallingCells = 0.17

// patternLength is what it takes to write the bitmap down as it would be drawn, nats.
func (e *evidence) patternLength() float64 {
	e.drawn()
	sum := 0.0
	for i := range e.lines {
		sum += floats.Sum(e.lines[i][:8])
	}
	return sum
}

// drawn is what it takes to write the screen down as one that a program drew, cell by cell, nats.
func (e *evidence) drawn() []float64 {
	if e.lengths == nil {
		e.lengths = make([]float64, len(e.s.Cells))
		e.lines = make([][9]float64, len(e.s.Cells))
		e.drawnPattern(e.lines)
		e.drawnColours(e.lines)
		for i := range e.lines {
			e.lengths[i] = floats.Sum(e.lines[i][:])
		}
	}
	return e.lengths
}

// drawnPattern writes the bitmap pixel by pixel in the context of seven neighbours and
// of the same place in the cells to the left and above, which textures repeat.
func (e *evidence) drawnPattern(cost [][9]float64) {
	width, height := e.p.Width, e.p.Height
	const edge = 8
	stride := width + 2*edge
	pixel := make([]uint8, stride*(height+edge))
	contexts := make([]nats.Adaptive, 512)
	for y := range height {
		for i := range e.p.Columns() {
			cell := y/8*e.p.Columns() + i
			c := &e.s.Cells[cell]
			for x := range 8 {
				at := (y+edge)*stride + edge + i*8 + x
				bit := c.Bits[y%8] >> (7 - x) & 1
				pixel[at] = bit
				if c.Single {
					continue
				}
				k := int(pixel[at-1]) | int(pixel[at-2])<<1 | int(pixel[at-stride])<<2 |
					int(pixel[at-stride-1])<<3 | int(pixel[at-stride+1])<<4 | int(pixel[at-2*stride])<<5 |
					int(pixel[at-8])<<6 | int(pixel[at-8*stride])<<7
				if x == 0 {
					k |= 256
				}
				cost[cell][y%8] += contexts[k].Cost(int(bit))
			}
		}
	}
}

// drawnColours writes the colours cell by cell: like the left one, like the one above,
// one that was used before, or a new one.
func (e *evidence) drawnColours(cost [][9]float64) {
	var left, above nats.Adaptive
	used := map[[2]int]float64{}
	total := 0.0
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
		cost[i][8] += left.Cost(same)
		if same == 0 {
			if i >= columns && fits(v, at(i-columns)) {
				same = 1
			}
			cost[i][8] += above.Cost(same)
		}
		if same == 0 {
			if n := used[v]; n > 0 {
				cost[i][8] -= math.Log(n / (total + 2))
			} else {
				cost[i][8] -= math.Log(2 / (total + 2))
				if v[1] < 0 {
					cost[i][8] += math.Log(15)
				} else {
					cost[i][8] += math.Log(128)
				}
			}
			used[v]++
			total++
		}
	}
}
