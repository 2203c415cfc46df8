package judge

import (
	"math"
	"slices"

	"backporch/analyse"
)

// A laneFold says how a lane stands at two places of the screen whose bytes are otherwise not alike.
type laneFold struct {
	odds  float64 // ln of its likelihood over that of a screen where the places have nothing to do with each other
	pairs int     // different pairs of bytes in which the lane is the same
}

// unlikeFolds weighs for each address line and lane that the lane is read at the same address whatever the line says: where the bytes at
// addresses that differ in that line are otherwise unlike, a lane that is the same in all of them is so by chance only as often as the
// others are there, or as it is at addresses that differ in another line. Pairs of bytes that stand more than once count once, for letters repeat.
func (e *evidence) unlikeFolds(lines int) [][8]laneFold {
	out, counts := make([][8]laneFold, lines), make([][8]pairs, lines)
	for line := range out {
		if 1<<line < e.p.Size() {
			counts[line] = e.unlikePairs(e.addressFold(line))
		}
	}
	for lane := range 8 {
		// A pin folds two lines: what holds for three the screen's pattern makes, as upright rules do, or a lane that is stuck.
		var rates []float64
		for line := range out {
			rates = append(rates, counts[line][lane].rate())
		}
		slices.Sort(rates)
		usual := rates[len(rates)-3]
		for line := range out {
			c := &counts[line]
			n := int(c[lane].same)
			if out[line][lane] = (laneFold{odds: -foldLimit, pairs: n}); n < fewPlaces {
				continue
			}
			chance := usual
			for other := range c {
				if other != lane {
					chance = math.Max(chance, c[other].rate())
				}
			}
			// Strokes are more than a pixel wide, so that pairs of bytes are not all that different.
			out[line][lane].odds = math.Min(foldLimit, -math.Log(chance)*c[lane].same/2-c[lane].broken)
		}
	}
	return out
}

// pairs counts, for a lane, the different pairs of bytes that are otherwise unlike and have it set in either: those in which it is the same, and those in
// which it is not; broken is what it takes to misread those, nats.
type pairs struct{ same, apart, broken float64 }

// rate is how often it is the same, by Laplace's rule of succession.
func (p pairs) rate() float64 { return (p.same + 1) / (p.same + p.apart + 2) }

// bytesOf is what a line of a cell shows as ink, where both cells of a pair have the same paper; ok is false where that is not known.
func (e *evidence) bytesOf(c, d *analyse.Cell, y, z int) (a, b uint8, ok bool) {
	a, b = c.Bits[y], d.Bits[z]
	alike := e.p.Alike
	switch {
	case c.Single && d.Single:
		return 0, 0, false
	case c.Single:
		b, a, ok = e.bytesOf(d, c, z, y)
		return a, b, ok
	case d.Single:
		switch {
		case alike(d.Paper, c.Paper):
			return a, 0, true
		case alike(d.Paper, c.Ink):
			return a, 0xff, true
		}
		return 0, 0, false
	case alike(c.Paper, d.Ink) && alike(c.Ink, d.Paper):
		return a, ^b, true
	}
	return a, b, true
}

func (e *evidence) unlikePairs(f twin) (out [8]pairs) {
	seen := map[[2]uint8]bool{}
	spoilt := e.spoiltCells()
	for i := range e.s.Cells {
		var cell [8]int
		for y := range 8 {
			k, z, ok := f(i, y)
			if !ok || k > i || k == i && z >= y {
				continue // each pair once
			}
			if spoilt[i] || spoilt[k] {
				continue
			}
			a, b, ok := e.bytesOf(&e.s.Cells[i], &e.s.Cells[k], y, z)
			if !ok {
				continue
			}
			fresh := !seen[[2]uint8{a, b}] && !seen[[2]uint8{b, a}]
			seen[[2]uint8{a, b}] = true
			for lane := range 8 {
				bit := uint8(1) << lane
				switch {
				case (a^b)&bit != 0:
					cell[lane]++
					if fresh {
						out[lane].apart++
					}
				case fresh && a&bit != 0 && a != b:
					out[lane].same++
				}
			}
		}
		for lane, n := range cell {
			out[lane].broken += math.Min(float64(n)*foldBreaks, foldCell)
		}
	}
	return out
}
