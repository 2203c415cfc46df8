package judge

import (
	"fmt"
	"math"
	"math/bits"

	"backporch/patterns"
	"backporch/patterns/nats"
	"backporch/video/display"
)

// Sources of a pixel that a shift register puts out: a pixel of this cell, of the one before or behind, or a level.
const (
	sourceLow  = 24
	sourceHigh = 25
	sources    = 26
)

// A register says for each of the eight pixels of a cell, leftmost first, where it comes from; of those that only the capture itself tells, which
// pixel before they are like: own, -1 for none.
type register struct{ from, own [8]int }

// sent is what the register makes of a cell's lines: near has those of the cell, of the one before and of the one behind, shown what the capture has.
func (g *register) sent(near [3][8]uint8, shown [8]uint8) (rows [8]uint8) {
	for y := range rows {
		for x, from := range g.from {
			bit := uint8(0)
			switch {
			case g.own[x] >= 0:
				bit = shown[y] >> (7 - g.own[x]) & 1
			case from < 24:
				bit = near[from/8][y] >> (7 - from%8) & 1
			case from == sourceHigh:
				bit = 1
			}
			rows[y] |= bit << (7 - x)
		}
	}
	return rows
}

// near gives the lines of a cell, of the one before and of the one behind; beyond the picture nothing is ink.
func (c *comparison) near(i, columns int) (near [3][8]uint8) {
	near[0] = c.cells[i].Bits
	if i%columns > 0 {
		near[1] = c.cells[i-1].Bits
	}
	if i%columns < columns-1 {
		near[2] = c.cells[i+1].Bits
	}
	return near
}

// shifted fits, for each of the eight pixels of a cell, where it comes from, the colours as they should be.
func (c *comparison) shifted(e *evidence, perPixel, edge float64) []patterns.Hypothesis {
	if e.p.Kind != display.Attr {
		return nil
	}
	if _, blank := e.blank(); blank { // shows no pixels to say where they come from
		return nil
	}
	columns := e.p.Columns()
	var misses [8][sources]int // by pixel of the cell, leftmost first
	var apart [8][8]int        // two pixels of a cell that are not alike, as the capture shows them
	var cells [8][sources]int  // in how many cells they miss
	trusted := 0
	paid := make([]float64, len(e.s.Cells))
	shown := make([]tile, len(e.s.Cells)) // with the colours the way round that is expected; none where they are not as expected
	for i := range e.s.Cells {
		seen, t := &e.s.Cells[i], tileOf(&c.cells[i])
		s := tileOf(seen)
		switch {
		case seen.Single && c.alikeIn(seen, t.paper, seen.Paper):
		case seen.Single && t.ink >= 0 && c.alikeIn(seen, t.ink, seen.Paper):
			s = s.inverted()
		case !seen.Single && c.alikeIn(seen, t.paper, s.paper) && c.alikeIn(seen, t.ink, s.ink):
		case !seen.Single && c.alikeIn(seen, t.paper, s.ink) && c.alikeIn(seen, t.ink, s.paper):
			s = s.inverted()
		default:
			_, n := c.differ(t, seen)
			paid[i] = c.paid(n, t, seen, perPixel)
			shown[i].paper = otherColours
			continue
		}
		trusted++
		shown[i] = s
		near := c.near(i, columns)
		before := misses
		for y := range 8 {
			for x := range 8 {
				bit := s.rows[y] >> (7 - x) & 1
				for k := range x {
					apart[x][k] += int(bit ^ s.rows[y]>>(7-k)&1)
				}
				for from := range 24 {
					if near[from/8][y]>>(7-from%8)&1 != bit {
						misses[x][from]++
					}
				}
				misses[x][sourceLow] += int(bit)
				misses[x][sourceHigh] += int(1 - bit)
			}
		}
		for x := range cells {
			for from := range cells[x] {
				if misses[x][from] > before[x][from] {
					cells[x][from]++
				}
			}
		}
	}
	if trusted < len(e.s.Cells)/2 {
		return nil
	}
	moved, told := 0, 0.0
	var by register
	costs := [8]float64{}
	for x := range misses {
		best, cost := x, float64(misses[x][x])*perPixel+math.Log(2)
		for from, n := range misses[x] {
			if v := float64(n)*perPixel + math.Log(2*sources); from != x && v < cost && cells[x][from]+fewPlaces <= cells[x][x] { // few are misread alike
				best, cost = from, v
			}
		}
		if by.from[x], by.own[x], costs[x] = best, -1, cost; best != x {
			moved++
			told += math.Log(sources)
		}
		told += math.Log(2)
	}
	// What is misread is so by cells, as under every other hypothesis.
	like := func() float64 {
		for i := range e.s.Cells {
			if seen := &e.s.Cells[i]; shown[i].paper != otherColours {
				t := tileOf(&c.cells[i])
				t.rows = by.sent(c.near(i, columns), shown[i].rows)
				_, n := c.differ(t, seen)
				paid[i] = c.paid(n, t, seen, perPixel)
			}
		}
		return edge - told - misreadCells(paid)
	}
	k := patterns.KindOf("shift-register")
	if d, all := displaced(by.from); all && d != 0 {
		// The whole picture stands some pixels aside: one of the two was placed wrongly, or the register is loaded late.
		like := like()
		return []patterns.Hypothesis{
			{Prior: math.Log(misplaced), Like: like, Other: true, Why: []string{fmt.Sprintf("the picture stands %d pixels aside of where %s has it", d, c.what)}},
			{Fault: &patterns.Fault{Class: k.Class, Kind: k.Name}, Prior: math.Log(k.Prior / 4), Like: like,
				Why: []string{fmt.Sprintf("the pixels stand %d aside of where %s has them, the colours where they should", d, c.what)}},
		}
	}
	// What was misread of a source that shows in several pixels is so in all of them.
	for x := range by.from {
		for before, n := range apart[x][:x] {
			// The reference must say so too: empty cells have all pixels alike.
			if v := float64(n)*perPixel + math.Log(2*sources); v < costs[x] && cells[x][by.from[before]]+fewPlaces <= cells[x][x] {
				if by.from[x] == x && by.from[before] != x {
					moved++
					told += math.Log(sources)
				}
				by.from[x], by.own[x], costs[x] = by.from[before], before, v
			}
		}
	}
	if moved == 0 {
		return nil
	}
	return []patterns.Hypothesis{{
		Fault: &patterns.Fault{Class: k.Class, Kind: k.Name}, Prior: math.Log(k.Prior), Like: like(),
		Why: []string{fmt.Sprintf("%d of the 8 pixels of every cell come from another place, alike in all cells, and the colours are right", moved)},
	}}
}

// otherColours is the paper of a cell whose colours are not as expected.
const otherColours = -2

// misplaced is how often one of two captures is placed a few pixels aside.
const misplaced = 0.03

// displaced tells whether all pixels come from as far aside; those that fall off the cell at its end may be of one level.
func displaced(from [8]int) (by int, all bool) {
	agree := map[int]int{}
	for x, f := range from {
		switch {
		case f < 8:
			agree[x-f]++
		case f < 16: // the cell before
			agree[x-(f-8-8)]++
		case f < 24:
			agree[x-(f-16+8)]++
		}
	}
	for d, n := range agree {
		if n > agree[by] || n == agree[by] && d != 0 && by == 0 {
			by = d
		}
	}
	return by, agree[by] >= 5
}

// mostOfLane is the part of what is wrong that one lane takes of what all share, at the most. Common practice, no source.
const mostOfLane = 0.6

// mostInColours is the part of it that the colour bytes take at the most, a ninth of the memory. Common practice, no source.
const mostInColours = 0.9

// allLanes weighs bits that are wrong in most lanes at once, by any pattern, or row by row. plain is what the cells pay when nothing is wrong.
func (c *comparison) allLanes(e *evidence, m *image, wrong []uint8, perPixel, plain, edge float64) []patterns.Hypothesis {
	type count struct{ wrong, of int }
	var total [8][2]count // by lane and the level that should have been
	rows := make([][8][2]count, 1<<e.p.RowBits)
	// What is wrong at the edges of what is drawn is misread as well as it is wrong: every hypothesis pays the same for it.
	edges, misread := make([]uint8, len(m.known)), 0.0
	for i := range e.s.Cells {
		t := tileOf(&c.cells[i])
		for y, mask := range t.edges() {
			a := m.lines[i][y]
			edges[a] = mask
			misread += float64(bits.OnesCount8(wrong[a]&mask)) * c.soft * perPixel
		}
	}
	for a, known := range m.known {
		r, _ := e.p.ChipAddress(a)
		for lane := range 8 {
			if (known&^edges[a])>>lane&1 == 0 {
				continue
			}
			should := m.bytes[a] >> lane & 1
			bad := int(wrong[a] >> lane & 1)
			for _, n := range [2]*count{&total[lane][should], &rows[r][lane][should]} {
				n.wrong += bad
				n.of++
			}
		}
	}
	// Each lane's wrong bits go one way, or both.
	any, byRow := edge-misread, edge-misread
	for lane := range 8 {
		n := total[lane]
		both := nats.BetaSequence(n[0].wrong+n[1].wrong, n[0].of+n[1].of, 0.5, 3)
		oneWay := nats.LogSum(
			nats.BetaSequence(n[0].wrong, n[0].of, 0.5, 3)+nats.BetaSequence(n[1].wrong, n[1].of, 0.5, 200),
			nats.BetaSequence(n[1].wrong, n[1].of, 0.5, 3)+nats.BetaSequence(n[0].wrong, n[0].of, 0.5, 200)) - math.Ln2
		any += nats.LogSum(both, oneWay) - math.Ln2
		best := [2]float64{}
		for r := range rows {
			for level := range 2 { // decayed bits read as level
				q := rows[r][lane]
				best[level] += nats.BetaSequence(q[1-level].wrong, q[1-level].of, 0.3, 0.3) + nats.BetaSequence(q[level].wrong, q[level].of, 0.5, 200)
			}
		}
		byRow += nats.LogSum(best[0], best[1]) - math.Ln2
	}
	// What is left in the picture of most fields may also be written anew.
	anew, written := 0.0, e.drawn()
	for i := range e.s.Cells {
		t := tileOf(&c.cells[i])
		_, n := c.differ(t, &e.s.Cells[i])
		anew -= math.Min(c.paid(n, t, &e.s.Cells[i], perPixel), written[i]+3)
	}
	any = nats.LogSum(any, anew+edge)
	supply, refresh := patterns.KindOf("supply-or-all-lanes"), patterns.KindOf("refresh-loss")
	lanes, all, top := 0, 0, 0
	for _, n := range total {
		all, top = all+n[0].wrong+n[1].wrong, max(top, n[0].wrong+n[1].wrong)
	}
	coloured := 0
	for _, a := range m.colour {
		coloured += bits.OnesCount8(wrong[a] & m.known[a])
	}
	// A lane by itself is neither a supply's nor decay, however it is spelt, nor are colours by themselves: the same chips hold the bitmap.
	if float64(top) > mostOfLane*float64(all) || float64(coloured) > mostInColours*float64(all) {
		any, byRow = math.Min(any, edge-plain-8), math.Min(byRow, edge-plain-8)
	}
	var percent []string
	for lane := range 8 {
		n := total[lane]
		if share := float64(n[0].wrong+n[1].wrong) / float64(max(1, n[0].of+n[1].of)); share > 0.01 {
			lanes++
			percent = append(percent, fmt.Sprintf("bit %d %.0f %%", lane, 100*share))
		}
	}
	why := fmt.Sprintf("%d of 8 lanes differ from %s: %v", lanes, c.what, percent)
	return []patterns.Hypothesis{
		{Fault: &patterns.Fault{Class: supply.Class, Kind: supply.Name}, Prior: math.Log(supply.Prior), Like: any - math.Max(0, float64(5-lanes))*4, Why: []string{why}},
		{Fault: &patterns.Fault{Class: refresh.Class, Kind: refresh.Name, Lanes: []int{0, 1, 2, 3, 4, 5, 6, 7}}, Prior: math.Log(refresh.Prior / 2), Like: byRow, Why: []string{why, "they go by rows of the chips"}},
	}
}
