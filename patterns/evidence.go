package patterns

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
}

// evidence is a survey as the hypotheses of the memory and the video logic need it.
type evidence struct {
	s      *analyse.Survey
	p      *display.Profile
	groups []*group
	main   *group // of the most cells
	// flips and sites, by lane: bits that break with the cells like theirs, and bits
	// that were compared. Without any reference, cells that agree in all other lanes are expected to agree in this one.
	flips, sites [8]int
	flicker      [8]int // bits that change over time, by lane
	missing      bool   // no memory was recovered
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
		if e.main == nil || len(g.cells) > len(e.main.cells) {
			e.main = g
		}
	}
	e.compareAlike()
	e.countFlicker()
	return e
}

// sureBit is the log-odds from which on a pixel counts as read.
const sureBit = 4

// compareAlike fills flips and sites. A deviating column of pixels counts once however often
// it stands on the screen: a glyph repeats, a weak bit does not.
func (e *evidence) compareAlike() {
	if e.p.Kind != display.Attr || e.s.Memory == nil {
		return
	}
	type key struct {
		paper, ink int
		rows       [8]uint8
	}
	for lane := range 8 {
		mask := ^uint8(1 << lane)
		clusters := map[key]map[uint8]int{} // by the lane's column of eight bits: cells
		for i := range e.s.Cells {
			c := &e.s.Cells[i]
			k := key{c.Paper, c.Ink, c.Bits}
			empty := true
			var column uint8
			sure := true
			for y := range k.rows {
				column |= c.Bits[y] >> lane & 1 << y
				k.rows[y] &= mask
				empty = empty && k.rows[y] == 0
				if !c.Single && e.s.Memory.Odds[e.p.BitmapAddress(c.Row*8+y, c.Column)*8+lane] < sureBit {
					sure = false
				}
			}
			if !sure {
				continue
			}
			if empty { // a dot in an empty cell shows an ink that its like do not
				k.ink = -1
			}
			if clusters[k] == nil {
				clusters[k] = map[uint8]int{}
			}
			clusters[k][column]++
		}
		for _, columns := range clusters {
			total, most := 0, 0
			for _, n := range columns {
				total += n
				most = max(most, n)
			}
			if total < 3 || most*2 < total {
				continue // no majority to break with
			}
			e.flips[lane] += len(columns) - 1
			e.sites[lane] += total
		}
	}
	e.strayColours()
}

// strayColours adds colours that differ in one bit from those of both neighbours in the row.
func (e *evidence) strayColours() {
	if e.p.Kind != display.Attr {
		return
	}
	columns := e.p.Columns()
	for i := range e.s.Cells {
		c := &e.s.Cells[i]
		if c.Column == 0 || c.Column == columns-1 || c.Sure < 3 {
			continue
		}
		l, r := &e.s.Cells[i-1], &e.s.Cells[i+1]
		if l.Paper != r.Paper || l.Sure < 3 || r.Sure < 3 || c.Paper == l.Paper {
			continue
		}
		if d := uint8(c.Paper ^ l.Paper); bits.OnesCount8(d) == 1 {
			lane := 3 + bits.TrailingZeros8(d) // paper is bits 3 to 5, brightness bit 6
			if e.colourOdds(i-1, lane) > sureColour && e.colourOdds(i, lane) > sureColour && e.colourOdds(i+1, lane) > sureColour {
				e.flips[lane]++
			}
		}
	}
}

// sureColour is the log-odds from which on a bit of a colour byte counts as read.
const sureColour = 10

func (e *evidence) colourOdds(cell, bit int) float32 {
	if e.s.Memory == nil {
		return 0
	}
	return e.s.Memory.Odds[(e.p.ColourBase+cell)*8+bit]
}

func (e *evidence) countFlicker() {
	m := e.s.Memory
	if m == nil || m.Changed == nil || e.p.Kind != display.Attr {
		return
	}
	for a := range e.p.ColourBase {
		for b := range 8 {
			if m.Changed[a*8+b] > 0 {
				e.flicker[b]++
			}
		}
	}
}

// excess is how much better a lane's count of events is explained by a fault of its
// own than by what befalls every lane: the log-likelihood ratio of two Poisson counts, halved
// for neighbouring events are not independent, and no more than the lanes' own scatter allows. What screens and
// misreading do to the lanes differs by a factor whose logarithm has a standard deviation of some 0.6.
func excess(counts [8]int, lane int) float64 {
	second, total := 0, 0
	for b, n := range counts {
		if b != lane {
			second = max(second, n)
			total += n
		}
	}
	n, mean := float64(counts[lane]), math.Max(0.3, float64(total)/7)
	if counts[lane] <= second {
		return 0
	}
	z := math.Log((n+0.5)/(float64(second)+0.5)) / 0.6
	return math.Min(0.5*(n*math.Log(n/mean)-(n-mean)), z*z/2)
}

// A run is how a lane stands in the patterns of some cells.
type run struct {
	against, of int // bits that are not at the level, bits that were read surely
	stripes     int // different patterns whose lane is all of the colour that covers less
	gaps        int // different patterns with that colour on both sides of the lane and none in it
	bytes       map[uint8]bool
	mixed       bool // some pattern does not repeat one byte
}

// laneRun looks at one group of cells. inverse says that the colour that covers more is the ink.
func (e *evidence) laneRun(g *group, lane, level int, inverse bool) run {
	r := run{bytes: map[uint8]bool{}}
	if g.ink < 0 {
		return r // shows no pattern
	}
	if inverse {
		level = 1 - level
	}
	mask, seen := uint8(1<<lane), map[[8]uint8]bool{}
	for _, i := range g.cells {
		c := &e.s.Cells[i]
		wrong, sure := 0, 0
		var or uint8
		for y, b := range c.Bits {
			or |= b
			if e.odds(c, y, lane) < sureBit {
				continue
			}
			sure++
			if int(b>>lane&1) != level {
				wrong++
			}
		}
		r.against += wrong
		r.of += sure
		if wrong > 0 || sure < 4 || seen[c.Bits] {
			continue
		}
		seen[c.Bits] = true
		if left, right := or&^(mask|mask-1), or&(mask-1); level == 1 {
			r.stripes++
		} else if left != 0 && right != 0 {
			r.gaps++
		}
		if repeats(c.Bits) {
			r.bytes[c.Bits[0]] = true
		} else {
			r.mixed = true
		}
	}
	return r
}

// odds is how sure the bit of a cell's line is.
func (e *evidence) odds(c *analyse.Cell, line, lane int) float32 {
	if e.s.Memory == nil || e.p.Kind != display.Attr {
		return sureBit
	}
	return e.s.Memory.Odds[e.p.BitmapAddress(c.Row*8+line, c.Column)*8+lane]
}

func (r *run) add(s run) {
	r.against += s.against
	r.of += s.of
	r.stripes += s.stripes
	r.gaps += s.gaps
	r.mixed = r.mixed || s.mixed
	for b := range s.bytes {
		if r.bytes == nil {
			r.bytes = map[uint8]bool{}
		}
		r.bytes[b] = true
	}
}

// odd is how strange it is, in nats, that a good screen should have the lane so.
func (r *run) odd() float64 {
	fill := !r.mixed && len(r.bytes) == 1
	for b := range r.bytes {
		fill = fill && (knownFill(b) || knownFill(^b))
	}
	if fill {
		return 0 // a memory test's own pattern
	}
	odd := gappedCell * float64(r.gaps)
	if r.stripes > 0 {
		odd += stripedPicture + stripedCell*float64(r.stripes)
	}
	return math.Min(laneLimit, odd)
}

func repeats(rows [8]uint8) bool {
	for _, b := range rows[1:] {
		if b != rows[0] {
			return false
		}
	}
	return true
}
