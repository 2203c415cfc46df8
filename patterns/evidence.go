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

// compareAlike fills flips and sites.
func (e *evidence) compareAlike() {
	type key struct {
		paper, ink int
		rows       [8]uint8
	}
	type tally struct {
		n    int
		ones [8]int
	}
	for lane := range 8 {
		mask := ^uint8(1 << lane)
		clusters := map[key]*tally{}
		for i := range e.s.Cells {
			c := &e.s.Cells[i]
			k := key{c.Paper, c.Ink, c.Bits}
			empty := true
			for y := range k.rows {
				k.rows[y] &= mask
				empty = empty && k.rows[y] == 0
			}
			if empty { // a dot in an empty cell shows an ink that its like do not
				k.ink = -1
			}
			t := clusters[k]
			if t == nil {
				t = &tally{}
				clusters[k] = t
			}
			t.n++
			for y, b := range c.Bits {
				t.ones[y] += int(b >> lane & 1)
			}
		}
		for _, t := range clusters {
			if t.n < 3 {
				continue
			}
			for _, ones := range t.ones {
				e.flips[lane] += min(ones, t.n-ones)
				e.sites[lane] += t.n
			}
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
			e.flips[lane]++
		}
	}
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

// excess is the log-likelihood ratio of a lane's own rate of events against the rate of
// the other lanes: two Poisson counts, the background that of the second-worst lane so that an
// odd screen does not stand in for a lane. Halved, since neighbouring events are not independent.
func excess(counts [8]int, lane int) float64 {
	background := 0.3
	total := 0
	for b, n := range counts {
		if b != lane {
			background = math.Max(background, float64(n))
			total += n
		}
	}
	mean := math.Max(0.3, 0.5*(background+float64(total)/7))
	n := float64(counts[lane])
	if n <= mean {
		return 0
	}
	return 0.5 * (n*math.Log(n/mean) - (n - mean))
}

// laneRun says how a lane stands in all patterns: bits that are not at level, bits in all, and
// how odd it is, in nats, that a good screen should have it so.
func (e *evidence) laneRun(lane, level int) (against, of int, odd float64) {
	mask := uint8(1 << lane)
	different, gaps := 0, 0
	uniform := map[uint8]bool{} // bytes of cells that repeat one byte
	mixed := false
	for _, g := range e.groups {
		if g.ink < 0 {
			continue // shows no pattern
		}
		for rows, n := range g.patterns {
			var or uint8
			wrong := 0
			for _, b := range rows {
				or |= b
				if int(b>>lane&1) != level {
					wrong++
				}
			}
			against += wrong * n
			of += 8 * n
			if wrong > 0 {
				continue
			}
			different++
			if left, right := or&^(mask|mask-1), or&(mask-1); left != 0 && right != 0 {
				gaps++
			}
			if repeats(rows) {
				uniform[rows[0]] = true
			} else {
				mixed = true
			}
		}
	}
	if of == 0 {
		return 0, 0, 0
	}
	fill := !mixed && len(uniform) == 1
	for b := range uniform {
		fill = fill && knownFill(b)
	}
	switch {
	case fill:
		return against, of, 0 // a memory test's own pattern
	case level == 1:
		odd = stripedPicture + stripedCell*float64(different)
	default:
		odd = gappedCell * float64(gaps)
	}
	return against, of, math.Min(laneLimit, odd)
}

func repeats(rows [8]uint8) bool {
	for _, b := range rows[1:] {
		if b != rows[0] {
			return false
		}
	}
	return true
}
