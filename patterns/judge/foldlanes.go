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
// others are. Pairs of bytes that stand more than once count once, for letters repeat.
func (e *evidence) unlikeFolds(lines int) [][8]laneFold {
	out := make([][8]laneFold, lines)
	for line := range out {
		if 1<<line < e.p.Size() {
			out[line] = e.unlikeFold(e.addressFold(line))
		}
	}
	// A pin folds two lines: what holds for three the screen's pattern makes, as upright rules do.
	for lane := range 8 {
		var odds []float64
		for line := range out {
			odds = append(odds, out[line][lane].odds)
		}
		slices.Sort(odds)
		usual := math.Max(0, odds[len(odds)-3])
		for line := range out {
			out[line][lane].odds = math.Min(foldLimit, out[line][lane].odds-usual)
		}
	}
	return out
}

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

func (e *evidence) unlikeFold(f twin) (out [8]laneFold) {
	var same, apart [8]float64
	var broken [8]float64
	seen := map[[2]uint8]bool{}
	for i := range e.s.Cells {
		var cell [8]int
		for y := range 8 {
			k, z, ok := f(i, y)
			if !ok || k > i || k == i && z >= y {
				continue // each pair once
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
						apart[lane]++
					}
				case fresh && a&bit != 0 && a != b:
					same[lane]++
					out[lane].pairs++
				}
			}
		}
		for lane, n := range cell {
			broken[lane] += math.Min(float64(n)*foldBreaks, foldCell)
		}
	}
	var rate [8]float64
	for lane := range rate {
		rate[lane] = (same[lane] + 1) / (same[lane] + apart[lane] + 2)
	}
	for lane := range out {
		if out[lane].pairs < fewPlaces {
			out[lane].odds = -foldLimit
			continue
		}
		others := slices.Clone(rate[:])
		others[lane] = 0
		// Strokes are more than a pixel wide, so that pairs of bytes are not all that different.
		out[lane].odds = -math.Log(slices.Max(others))*same[lane]/2 - broken[lane]
	}
	return out
}
