package judge

import (
	"fmt"
	"math"
	"slices"

	"backporch/patterns/nats"
)

// A chip with an address line that is held answers rightly at the addresses that have the line so, and with what stands elsewhere at the others: bits of its lane break
// with cells like theirs on one side of the line alone. A weak chip's do so on either.

// broken says of each bit of the bitmap, by address, whether it could be compared with cells like its own, what these lead one to expect, and whether it breaks with them.
type broken struct{ known, expected, wrong []uint8 }

func (e *evidence) broken() broken {
	x := &e.expect().all
	out := broken{make([]uint8, len(x.known)), x.bits, make([]uint8, len(x.known))}
	for i := range e.s.Cells {
		c := &e.s.Cells[i]
		if c.Single && e.main != nil && !e.p.Alike(c.Paper, e.main.paper) {
			continue // it may be all ink
		}
		for y, b := range c.Bits {
			a := e.p.BitmapAddress(c.Row*8+y, c.Column)
			for lane := range 8 {
				if c.Single || e.s.Memory.Odds[a*8+lane] >= sureBit {
					out.known[a] |= x.known[a] & (1 << lane)
				}
			}
			out.wrong[a] = (x.bits[a] ^ b) & out.known[a]
		}
	}
	return out
}

// rightRate is how often a bit breaks with its like by itself: a Beta distribution's parameters. Common practice, no source.
var rightRate = [2]float64{1, 100}

// fewBreaks is how many cells must break before a side of a line is told. Common practice, no source.
const fewBreaks = 4

// oneSided weighs, lane by lane, that it breaks where off tells of an address and nowhere else, over doing so anywhere: the likelihood ratio of two rates, for cells, whose
// lines break together, of the bits that are expected to be 0 and of those to be 1, since a lane may go wrong to one level alone; and half of it, for letters that a screen
// repeats break alike, less where they show the same. What holds for another lane as well the screen makes.
func (e *evidence) oneSided(x broken, off func(address int) bool) (odds [8]float64, wrong [8]int) {
	for lane := range 8 {
		sorts, cells := map[[8]uint8]bool{}, 0 // that break, by what they show
		for level := range 2 {
			var broke, of [2]int // where it is right, where it is off
			for i := range e.s.Cells {
				c := &e.s.Cells[i]
				var breaks, seen [2]int
				for y := range 8 {
					a := e.p.BitmapAddress(c.Row*8+y, c.Column)
					if x.known[a]>>lane&1 == 0 || int(x.expected[a]>>lane&1) != level {
						continue
					}
					side := truth(off(a))
					seen[side] = 1
					breaks[side] |= int(x.wrong[a] >> lane & 1)
				}
				for side := range 2 {
					broke[side], of[side] = broke[side]+breaks[side], of[side]+seen[side]
				}
				if breaks[0]+breaks[1] > 0 {
					sorts[c.Bits] = true
					cells++
				}
			}
			wrong[lane] += broke[1]
			apart := nats.BetaSequence(broke[0], of[0], rightRate[0], rightRate[1]) + nats.BetaSequence(broke[1], of[1], 0.5, 3)
			if alike := nats.BetaSequence(broke[0]+broke[1], of[0]+of[1], 0.5, 3); broke[1]*of[0] > broke[0]*of[1] || apart < alike {
				odds[lane] += (apart - alike) / 2
			}
		}
		if cells > 0 { // cells that show the same, as those of a grid do, are one
			odds[lane] *= float64(len(sorts)) / float64(cells)
		}
	}
	best := odds
	for lane := range odds {
		others := 0.0
		for k, o := range best {
			if k != lane {
				others = math.Max(others, o)
			}
		}
		if odds[lane] -= others; wrong[lane] < fewBreaks {
			odds[lane] = 0
		}
	}
	return odds, wrong
}

// A chipFold is what speaks for an address line, or a pin of two, of one lane's chip.
type chipFold struct {
	bit   int
	level *int // nil: not known
	odds  float64
	why   string
}

// lineOfOneChip weighs each lane's address line, by the bits that are the same on both of its sides and by those that break with their like on one.
func (e *evidence) lineOfOneChip(line int, x broken, unlike [][8]laneFold) (out []chipFold) {
	var lanes [8]float64
	var same [8]int
	for bit := range lanes {
		lanes[bit], same[bit] = e.folded(e.addressFold(line), 1<<bit)
		if u := unlike[line][bit]; u.odds > lanes[bit] {
			lanes[bit], same[bit] = u.odds, u.pairs
		}
	}
	sided := e.sided(x, line, line)
	for bit, odds := range lanes {
		// It is one chip's line: what holds for another lane as well, the screen's pattern makes.
		others := lanes
		others[bit] = math.Inf(-1)
		odds -= math.Max(0, slices.Max(others[:]))
		switch s := sided[bit]; {
		case s.odds > math.Max(odds, 0):
			out = append(out, s)
		case odds > 0:
			out = append(out, chipFold{bit: bit, odds: odds,
				why: fmt.Sprintf("bit %d is the same at addresses that differ in line %d alone, in all %d places where that says something", bit, line, same[bit])})
		}
	}
	return out
}

// pinOfOneChip does so for a pin that two lines share.
func (e *evidence) pinOfOneChip(line, other int, x broken, unlike [][8]laneFold) (out []chipFold) {
	sided := e.sided(x, line, other)
	for bit, s := range sided {
		a, _ := e.folded(e.addressFold(line), 1<<bit)
		b, _ := e.folded(e.addressFold(other), 1<<bit)
		a, b = math.Max(a, unlike[line][bit].odds), math.Max(b, unlike[other][bit].odds)
		both := 0.0
		if a > 0 && b > 0 {
			both = a + b
		}
		switch {
		case s.odds > both:
			out = append(out, s)
		case both > 0:
			out = append(out, chipFold{bit: bit, odds: both,
				why: fmt.Sprintf("bit %d is the same at addresses that differ in lines %d and %d, which share a pin of its chip", bit, line, other)})
		}
	}
	return out
}

// sided weighs the likelier level at which one or two lines of each lane's chip are held.
func (e *evidence) sided(x broken, line, other int) (out [8]chipFold) {
	for level := range 2 {
		odds, wrong := e.oneSided(x, func(a int) bool { return a>>line&1 != level || a>>other&1 != level })
		for bit := range out {
			if level == 0 || odds[bit] > out[bit].odds {
				out[bit] = chipFold{bit, ptr(level), odds[bit],
					fmt.Sprintf("bit %d breaks with cells like its own in %d cells, and next to nowhere where addresses have %d there", bit, wrong[bit], level)}
			}
		}
	}
	return out
}
