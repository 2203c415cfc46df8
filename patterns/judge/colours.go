package judge

import (
	"math"
	"slices"

	"backporch/patterns/nats"
	"backporch/video/display"
)

// A change is what a fault does to colours: it tells what could have been
// written where something is seen, and whether that can be seen at all.
type change interface {
	// written calls f for each colour byte that shows as ink, paper (palette
	// indices) and ok false where the fault can't show that.
	written(ink, paper int, bright bool, f func(ink, paper int, bright bool)) (ok bool)
	border(seen int, f func(written int)) (ok bool)
}

type nothing struct{}

func (nothing) written(ink, paper int, bright bool, f func(int, int, bool)) bool {
	f(ink, paper, bright)
	return true
}

func (nothing) border(seen int, f func(int)) bool { f(seen); return true }

// lane is one data bit of the colour bytes held at level.
type lane struct{ bit, level int }

func (l lane) written(ink, paper int, bright bool, f func(int, int, bool)) bool {
	f(ink, paper, bright)
	switch {
	case l.bit < 3 && ink < 0: // the bit is not on the screen
	case l.bit < 3:
		f(ink^1<<l.bit, paper, bright)
		return ink>>l.bit&1 == l.level
	case l.bit < 6:
		f(ink, paper^1<<(l.bit-3), bright)
		return paper>>(l.bit-3)&1 == l.level
	case l.bit == 6:
		f(ink, paper, !bright)
		return bright == (l.level == 1) || ink&7 == 0 && paper&7 == 0
	}
	return true // flash is not among the colours
}

func (lane) border(seen int, f func(int)) bool { f(seen); return true }

// component is one colour component held at level behind cells and border.
type component struct{ bit, level int }

func (c component) written(ink, paper int, bright bool, f func(int, int, bool)) bool {
	m := 1 << c.bit
	f(ink, paper, bright)
	f(ink, paper^m, bright)
	if ink >= 0 {
		f(ink^m, paper, bright)
		f(ink^m, paper^m, bright)
	}
	return paper>>c.bit&1 == c.level && (ink < 0 || ink>>c.bit&1 == c.level)
}

func (c component) border(seen int, f func(int)) bool {
	f(seen)
	f(seen ^ 1<<c.bit)
	return seen>>c.bit&1 == c.level
}

// latchBit is one bit of the border latch held at level.
type latchBit struct{ bit, level int }

func (latchBit) written(ink, paper int, bright bool, f func(int, int, bool)) bool {
	f(ink, paper, bright)
	return true
}

func (l latchBit) border(seen int, f func(int)) bool {
	f(seen)
	f(seen ^ 1<<l.bit)
	return seen>>l.bit&1 == l.level
}

// colours is the log-likelihood of the colours on the screen under a change: the main
// pair beside its border, then every further paper and ink once, for cells copy each other's colours. turned
// says of which groups ink and paper change places; nil: of none.
func (e *evidence) colours(c change, turned []bool) float64 {
	if e.p.Kind != display.Attr {
		return 0
	}
	if turned == nil { // the main pair may be either way round
		way := make([]bool, len(e.groups))
		usual := e.colours(c, way)
		if e.main == nil || e.main.ink < 0 {
			return usual
		}
		way[slices.Index(e.groups, e.main)] = true
		return nats.LogSum(usual, e.colours(c, way)+e.main.orientation(true)-e.main.orientation(false))
	}
	like := e.edge(c) + e.barsTerm(c)
	papers, inks := map[int]float64{}, map[int]float64{}
	mainPaper, mainInk := -1, -1
	for i, g := range e.groups {
		inverse := turned[i]
		like += e.forbidden(g, c, inverse)
		ink, paper := g.turned(inverse)
		if g == e.main {
			mainPaper, mainInk = paper, ink
			like += math.Log(e.pairShare(c, ink, paper))
			continue
		}
		papers[paper] += g.seen
		if ink >= 0 {
			inks[ink] += g.seen
		}
	}
	extra := func(seen map[int]float64, main int, count func(colour int) int) {
		for colour, cells := range seen {
			if colour != main {
				like += math.Min(1, cells/4) * math.Log(extraColour*float64(count(colour)))
			}
		}
	}
	if _, is := c.(component); is {
		like += e.distinct()
	}
	extra(papers, mainPaper, func(paper int) (n int) {
		c.written(-1, paper, paper >= 8, func(int, int, bool) { n++ })
		return n
	})
	extra(inks, mainInk, func(ink int) (n int) {
		different := map[int]bool{}
		c.written(ink, 0, ink >= 8, func(ink, _ int, _ bool) { different[ink] = true })
		return len(different)
	})
	return like
}

// distinct is what it adds that the colours on a screen are different ones: that all of k different colours have a component alike
// is chance less often, one in C(8, k) / C(4, k), than that k of any colours do, one in 2^k, as which they have been counted.
func (e *evidence) distinct() float64 {
	seen := map[int]bool{}
	add := func(colour int) {
		if colour >= 0 {
			seen[colour&7] = true
		}
	}
	for _, g := range e.groups {
		if len(g.cells) >= 4 && g.sure > readColours {
			add(g.paper)
			add(g.ink)
		}
	}
	if e.s.Border.Seen {
		add(e.s.Border.Colour)
	}
	odds := 0.0
	for k := range min(len(seen), 4) {
		odds += math.Log(float64(8-k) / float64(4-k) / 2)
	}
	return odds
}

// readColours is the mean log-odds of a pair of colours from which on they are counted as seen.
const readColours = 3.0

// orientation is the log-prior of which colour is ink: nearly always that which covers
// less, but textures cover about as much with either.
func (g *group) orientation(inverse bool) float64 {
	share := inverseShare + (0.5-inverseShare)*math.Max(0, math.Min(1, (g.cover-0.33)/0.12))
	if inverse {
		return math.Log(share)
	}
	return math.Log(1 - share)
}

// turned gives a group's colours, changed about if so told.
func (g *group) turned(inverse bool) (ink, paper int) {
	if inverse && g.ink >= 0 {
		return g.paper, g.ink
	}
	return g.ink, g.paper
}

// pairShare is how often the main pair and its border are seen under a change: all that may have been written.
func (e *evidence) pairShare(c change, ink, paper int) float64 {
	sum := 0.0
	c.written(ink, paper, paper >= 8 || ink >= 8, func(ink, paper int, bright bool) {
		prior := colourPrior(ink, paper, bright)
		if e.s.Border.Seen && e.s.Border.Colour >= 0 {
			edge := 0.0
			c.border(e.s.Border.Colour, func(border int) { edge += borderPrior(border, paper) })
			prior *= edge
		}
		sum += prior
	})
	return sum
}

// forbidden is what a group pays for colours that a change can't show: no more than
// they are sure.
func (e *evidence) forbidden(g *group, c change, inverse bool) float64 {
	if l, is := c.(lane); is && l.bit == 6 && (e.dim || dark(g.paper) <= 0 && dark(g.ink) <= 0) || e.p.Kind != display.Attr {
		return 0 // black shows no brightness
	}
	ink, paper := g.turned(inverse)
	if l, is := c.(lane); is && l.bit == 6 {
		if bright := paper >= display.BrightBit || ink >= display.BrightBit; bright && e.rareLit || !bright && e.rareDark {
			return 0
		}
	}
	if l, is := c.(lane); is && l.level == 1 && g.ink < 0 && l.bit < 6 {
		if l.bit >= 3 || paper>>l.bit&1 == 1 { // a lane that reads 1 would show in paper, so that such a cell is ink all over and shows none
			return 0
		}
	} else if c.written(ink, paper, paper >= 8 || ink >= 8, func(int, int, bool) {}) {
		return 0
	}
	return -math.Min(g.sure, violation(len(g.cells)))
}

// edge is what a border pays that a change can't show.
func (e *evidence) edge(c change) float64 {
	if e.p.Kind == display.Attr && e.s.Border.Seen && e.s.Border.Colour >= 0 && !c.border(e.s.Border.Colour, func(int) {}) {
		return -colourViolation - rareViolation
	}
	return 0
}

// violation is what a colour costs that a hypothesis forbids, by the cells that show it.
func violation(cells int) float64 {
	if cells < 3 {
		return rareViolation
	}
	return colourViolation
}
