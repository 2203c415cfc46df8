package judge

import (
	"math"
	"math/bits"

	"backporch/analyse"
	"backporch/video/display"
)

// A group is the cells that have one pair of colours. Which of them is ink is
// open; the orientation at hand is the one that covers less.
type group struct {
	paper, ink int // palette indices; ink is -1 where only one colour shows
	cells      []int
	patterns   map[[8]uint8]int // how many cells have each
	sure       float64          // mean log-odds of the cells' colours
	seen       float64          // cells whose colours are read surely
	cover      float64          // mean part of a cell that has the ink
}

// evidence is a survey as the hypotheses of the memory and the video logic need it.
type evidence struct {
	left   []Term // out of the sum
	s      *analyse.Survey
	good   *analyse.Motion // what moves on the good machine beside it; nil: nobody knows
	p      *display.Profile
	groups []*group
	main   *group // of the most cells
	// flips and sites, by lane: bits that break with the cells like theirs, and bits
	// that were compared. Without any reference, cells that agree in all other lanes are expected to agree in this one.
	flips, sites [8]int
	flicker      [8]int         // cells whose pixels change over time, by lane
	recolours    [8]int         // cells whose colour byte does, for a line at a time
	missing      bool           // no memory was recovered
	lines        [][9]float64   // lengths by the cell's lines, and of its colours
	ones         *[8]float64    // how often each lane is set, once asked for
	lengths      []float64      // of the screen's cells as drawn, once asked for
	spoilt       []bool         // see spoiltCells
	expected     *expectations  // of each bit, once asked for
	scatters     [6][2]*scatter // of each bit of the colours at each level, once asked for
	blocks       [][]int        // of colours side by side, once asked for
	placed       *placing       // of what changes over time, once asked for
	dim          bool           // all colours are of one brightness, so that which one is a guess
	// So few cells are of normal brightness, or bright, that they may be misread.
	rareDark, rareLit bool
}

func gather(s *analyse.Survey, p *display.Profile) *evidence {
	e := &evidence{s: s, p: p, missing: len(s.Cells) == 0}
	index := map[[2]int]*group{}
	for i := range s.Cells {
		c := &s.Cells[i]
		key := [2]int{c.Paper, c.Ink}
		if c.Single {
			key[1] = -1
		}
		if p.Kind == display.Attr && !c.Single && c.Paper > c.Ink {
			key = [2]int{c.Ink, c.Paper}
		}
		g := index[key]
		if g == nil {
			g = &group{paper: c.Paper, ink: key[1], patterns: map[[8]uint8]int{}}
			if !c.Single {
				g.ink = c.Ink
			}
			index[key] = g
			e.groups = append(e.groups, g)
		}
		g.cells = append(g.cells, i)
		g.patterns[c.Bits]++
		ink := 0
		for _, b := range c.Bits {
			ink += bits.OnesCount8(b)
		}
		g.cover += (float64(ink)/64 - g.cover) / float64(len(g.cells))
		g.seen += math.Min(1, float64(c.Sure)/6)
		g.sure += (float64(c.Sure) - g.sure) / float64(len(g.cells))
		if e.main == nil || len(g.cells) > len(e.main.cells) {
			e.main = g
		}
	}
	var dark, lit int // cells that show a colour of either brightness
	for _, g := range e.groups {
		for _, c := range [2]int{g.paper, g.ink} {
			switch {
			case c <= 0 || c&7 == 0:
			case c >= display.BrightBit:
				lit += len(g.cells)
			default:
				dark += len(g.cells)
			}
		}
	}
	e.rareDark, e.rareLit = dark <= (dark+lit)/100, lit <= (dark+lit)/100 // one in a hundred is misread
	e.dim = (e.rareDark || e.rareLit) && !e.borderTells()
	e.compareAlike()
	e.countFlicker()
	return e
}

// borderTells is whether the border, which has no bright colours, shows how bright a normal one is.
func (e *evidence) borderTells() bool {
	b := e.s.Border
	return e.p.Kind == display.Attr && b.Seen && b.Colour > 0 && b.Sure >= sureColours && e.p.Colours[b.Colour].Y > lightBorder
}

// lightBorder is the luma of a border from which on a step of brightness in it is beyond what a device makes of its levels. Common practice, no source.
const lightBorder = 0.25

// dark is a colour's index where black of either brightness is one.
func dark(colour int) int {
	if colour > 0 && colour&7 == 0 {
		return 0
	}
	return colour
}

// countFlicker counts the cells in which a lane changes over time; what leaks from the
// subcarrier changes a few cells in many lines.
func (e *evidence) countFlicker() {
	m := e.s.Memory
	if m == nil || m.Changed == nil || e.p.Kind != display.Attr {
		return
	}
	for i := range e.s.Cells {
		c := &e.s.Cells[i]
		for lane := range 8 {
			for y := range 8 {
				if m.Changed[e.p.BitmapAddress(c.Row*8+y, c.Column)*8+lane] > 0 {
					e.flicker[lane]++
					break
				}
			}
			if m.Changed[e.p.CellAddress(c.Row, c.Column)*8+lane] > 0 {
				e.recolours[lane]++
			}
		}
	}
}

// A run is how a lane stands in the patterns of some cells.
type run struct {
	cost        float64       // nats for the cells that don't keep to the level
	against, of int           // bits that are not at the level, bits that were read surely
	stripes     int           // different patterns whose lane is all of the colour that covers less
	drawn       int           // of these, the ones that are no byte repeated
	keep        int           // different patterns that keep to the level
	gaps        int           // different patterns with that colour on both sides of the lane and none in it
	cells       int           // cells that keep to the level
	bytes       map[uint8]int // of those, the ones that repeat one byte, by it or its complement
}

// What cells cost that go against a lane: a line or two of a fine pattern is misread in one cell of ten,
// a cell as a whole in one of two hundred.
const (
	wrongBits  = 2.3
	wrongCell  = 5.3
	turnedCell = 2.3 // and one of ten has ink and paper against the habit of its pair of colours
	heavyCell  = 40  // pixels of ink from which on a cell counts as mostly ink
	evenlyUsed = 24  // and from which on it may be paper
)

// cellCost is what a cell with so many wrong bits costs.
func cellCost(wrong int, perError float64) float64 {
	switch {
	case wrong == 0:
		return 0
	case wrong < 3:
		return math.Min(perError, wrongBits)
	}
	return math.Min(float64(wrong)*perError, wrongCell)
}

// laneRun looks at one group of cells, whose ink is the colour that covers less, or (inverse) the other.
func (e *evidence) laneRun(g *group, lane, level int, inverse bool, perError float64) run {
	r := run{bytes: map[uint8]int{}}
	if g.ink < 0 {
		return r // shows no pattern
	}
	mask, seen, costed := uint8(1<<lane), map[[8]uint8]bool{}, map[[8]uint8]bool{}
	for _, i := range g.cells {
		c := &e.s.Cells[i]
		ones, sure, covered := 0, 0, 0
		for y, b := range c.Bits {
			covered += bits.OnesCount8(b)
			if e.odds(c, y, lane) < sureBit {
				continue
			}
			sure++
			ones += int(b >> lane & 1)
		}
		if sure < 4 {
			continue
		}
		// Bits against the level with the pattern as the group has it, and inverted: a cell
		// that is mostly ink, or nearly so, may have its colours the other way round.
		wrong, turned := sure-ones, ones
		if (level == 0) != inverse {
			wrong, turned = turned, wrong
		}
		ink := covered
		if inverse {
			ink = 64 - covered
		}
		if ink > evenlyUsed {
			wrong = min(wrong, turned)
		}
		r.against += wrong
		r.of += sure
		if !costed[c.Bits] { // cells that are alike err alike
			costed[c.Bits] = true
			cost := math.Min(cellCost(wrong, perError), turnedCell+cellCost(turned, perError))
			if alternates(c.Bits) {
				cost = math.Min(cost, wrongBits)
			}
			r.cost += cost
		}
		if wrong > 0 {
			continue
		}
		r.cells++
		if repeats(c.Bits) {
			r.bytes[min(c.Bits[0], ^c.Bits[0])]++ // ink and paper may have changed places
		}
		if seen[c.Bits] {
			continue
		}
		seen[c.Bits] = true
		r.keep++
		rows := c.Bits
		if covered > heavyCell {
			for y := range rows {
				rows[y] = ^rows[y]
			}
		}
		var or uint8
		and := uint8(0xff)
		for _, b := range rows {
			or |= b
			and &= b
		}
		if left, right := or&^(mask|(mask-1)), or&(mask-1); and&mask != 0 {
			r.stripes++
			if !steadyRows(rows) {
				r.drawn++
			}
		} else if or&mask == 0 && left != 0 && right != 0 {
			r.gaps++
		}
	}
	return r
}

// alternates tells whether every second line of a cell is one and the lines between differ from it in few pixels, as where stripes meet the
// subcarrier: what is left of its switched or turned phase misreads the lines by turns.
func alternates(rows [8]uint8) bool {
	for y := 2; y < len(rows); y++ {
		if rows[y] != rows[y-2] {
			return false
		}
	}
	n := bits.OnesCount8(rows[0] ^ rows[1])
	return n > 0 && n <= fewPixels
}

// fewPixels are no dither, in which all pixels of a line differ from the next. Common practice, no source.
const fewPixels = 3

// odds is how sure the bit of a cell's line is.
func (e *evidence) odds(c *analyse.Cell, line, lane int) float32 {
	if e.s.Memory == nil || e.p.Kind != display.Attr {
		return sureBit
	}
	return e.s.Memory.Odds[e.p.BitmapAddress(c.Row*8+line, c.Column)*8+lane]
}

func (r *run) add(s run) {
	r.cost += s.cost
	r.against += s.against
	r.of += s.of
	r.stripes += s.stripes
	r.keep += s.keep
	r.gaps += s.gaps
	r.drawn += s.drawn
	r.cells += s.cells
	for b, n := range s.bytes {
		if r.bytes == nil {
			r.bytes = map[uint8]int{}
		}
		r.bytes[b] += n
	}
}

// odd is how strange it is, in nats, that a good screen should have the lane so.
func (r *run) odd(lane int) float64 {
	for b, n := range r.bytes {
		if n*10 >= r.cells*9 { // memory that holds one byte: six thousand copies are one observation; what is drawn over it has no stripe by itself
			drawn := (stripedPicture + stripedCell*float64(r.drawn)) * math.Min(1, math.Max(0, float64(r.drawn-1)/4))
			return math.Min(laneLimit, math.Log(1+fillShare(b^1<<lane)/fillShare(b))+drawn)
		}
	}
	// Where most cells end before the lane, it is the edge of the letters, and a wide one may well pass over it.
	odd := gappedCell * float64(r.gaps) * math.Min(1, float64(r.gaps)/(0.4*float64(max(r.keep, 1))))
	if part := float64(r.stripes) / float64(max(r.keep, 1)); part > 0 { // all cells have a stripe, not a letter here and there
		odd += (stripedPicture + stripedCell*float64(r.stripes)) * part * part
	}
	// A lane is tried by different patterns: one alone says nothing, five say it all.
	return math.Min(laneLimit, odd) * math.Min(1, float64(r.keep-1)/4)
}

// steadyRows tells whether more than half of a cell's lines are one: a byte that repeats, but for a few lines that were misread.
func steadyRows(rows [8]uint8) bool {
	count := map[uint8]int{}
	for _, b := range rows {
		if count[b]++; count[b] > 4 {
			return true
		}
	}
	return false
}

func repeats(rows [8]uint8) bool {
	for _, b := range rows[1:] {
		if b != rows[0] {
			return false
		}
	}
	return true
}
