package grid

import (
	"math"
	"math/bits"
	"slices"

	"backporch/video/display"
)

// How far the lengths of one screen's cuts scatter, as a part of them, and at the least, nats. Common practice, no source.
const (
	lengthScatter = 0.04
	lengthLeast   = 20.0
)

// splitCell is what it costs, in nats, that the space between letters stands inside of the cells and not at their edges.
const splitCell = 8.0

// gaps tells which lines and which columns of a raster, counted by eights from its first, hold next to nothing of what
// is written on the picture's commonest level: the spaces between lines of text, and between letters.
func gaps(luma *Raster, margin int) (rows, columns [8]bool) {
	var histogram [64]int
	inside := func(f func(x, y int, v float32)) {
		for y := 2 * margin; y < luma.Height-2*margin; y++ {
			for x, v := range luma.V[y*luma.Width+2*margin : (y+1)*luma.Width-2*margin] {
				f(x+2*margin, y, v)
			}
		}
	}
	low, high := float32(math.MaxFloat32), float32(-math.MaxFloat32)
	inside(func(_, _ int, v float32) {
		histogram[min(max(int(v)/4, 0), 63)]++
		low, high = min(low, v), max(high, v)
	})
	most := 0
	for level, n := range histogram {
		if n > histogram[most] {
			most = level
		}
	}
	paper := float32(most*4 + 2)
	step := max(high-paper, paper-low) * 0.4
	var byRow, byColumn [8]float64
	total := 0.0
	inside(func(x, y int, v float32) {
		if v > paper+step || v < paper-step {
			byRow[y%8]++
			byColumn[x%8]++
			total += 1.0 / 8
		}
	})
	if total < 40 {
		return rows, columns
	}
	for k := range 8 {
		rows[k], columns[k] = byRow[k] < 0.12*total, byColumn[k] < 0.12*total
	}
	return rows, columns
}

// within counts the gaps that a cut leaves inside of the cells: those that touch neither their first nor their last line or
// column, by themselves or through their neighbours.
func within(gap [8]bool, cut int) int {
	n := 0
	for k := range 8 {
		n += btoi(gap[(cut+k)%8])
	}
	if n == 8 {
		return 0
	}
	for k := 0; k < 8 && gap[(cut+k)%8]; k++ {
		n--
	}
	for k := 7; k >= 0 && gap[(cut+k)%8]; k-- {
		n--
	}
	return n
}

func btoi(b bool) int {
	if b {
		return 1
	}
	return 0
}

// alike are the cells of one pattern.
type alike struct {
	cells  int
	misfit float64 // of all of them
}

// cellTerms weighs the 64 ways to cut the raster into cells, by row and column of
// the cut: the misfit of two levels a cell, and the length of a dictionary of cells.
func cellTerms(luma *Raster, strong []bool, p *display.Profile, margin int, sigma float64) [64]float64 {
	var terms [64]float64
	spread := square(14 + 3*sigma) // blur at a change of colours leaves this much, codes
	rows := eights(strong, luma.Width)
	low, high := extremes(luma)
	index := map[uint64]int{} // of a pattern in sorts
	var sorts []alike
	for cut := range terms {
		oy, ox := cut/8, cut%8
		clear(index)
		sorts = sorts[:0]
		cells := 0
		for y := oy; y+8 <= luma.Height; y += 8 {
			for x := ox; x+8 <= luma.Width; x += 8 {
				at := y*luma.Width + x
				var key uint64
				for r := range 8 {
					key = key<<8 | uint64(rows[at+r*luma.Width])
				}
				if bits.OnesCount64(key) > 32 {
					key = ^key
				}
				k, ok := index[key]
				if !ok {
					k = len(sorts)
					index[key] = k
					sorts = append(sorts, alike{})
				}
				sorts[k].cells++
				if high[at]-low[at] >= leastCellStep {
					sorts[k].misfit += math.Min(cellMisfit(luma, x, y, low[at], high[at])/(2*spread*16), 8)
				}
				cells++
			}
		}
		// Writing a cell costs ln(cells/count) once its pattern is known, and the
		// pattern itself some 20 nats: strokes are not random bits.
		length, misfit := 0.0, 0.0
		for _, one := range sorts {
			n := float64(one.cells)
			length += 20 + n*math.Log(float64(cells)/n)
			misfit += one.misfit / n * (1 + math.Log(n)) // cells that are alike are misfits alike
		}
		terms[cut] = length + misfit
	}
	// The right cut is among the shortest, but misread pixels make sorts of their own at any: two lengths scatter about
	// each other by a part of themselves.
	least := slices.Min(terms[:])
	scatter := math.Max(lengthLeast, lengthScatter*least)
	blankRows, blankColumns := gaps(luma, margin)
	for cut, l := range terms {
		terms[cut] = -square((l-least)/scatter)/2 - splitCell*(float64(within(blankRows, cut/8))+float64(within(blankColumns, cut%8)))
	}
	return terms
}

// eights gives for every place the mark there and the seven to its right, the leftmost in bit 7.
func eights(marks []bool, width int) []uint8 {
	out := make([]uint8, len(marks))
	for at := width; at <= len(marks); at += width {
		var b uint8
		for x := at - 1; x >= at-width; x-- {
			b >>= 1
			if marks[x] {
				b |= 0x80
			}
			out[x] = b
		}
	}
	return out
}

// extremes gives for every place the least and the greatest of the 8 by 8 values that begin there; those that would begin too far right or
// too low are not worked out.
func extremes(r *Raster) (low, high []float32) {
	low, high = slices.Clone(r.V), slices.Clone(r.V)
	for _, step := range [6]int{1, 2, 4, r.Width, 2 * r.Width, 4 * r.Width} { // twice as many at each step
		for i := range len(low) - step {
			low[i], high[i] = min(low[i], low[i+step]), max(high[i], high[i+step])
		}
	}
	return low, high
}

// leastCellStep is the step, in codes, below which a cell has but one level.
const leastCellStep = 20

// cellMisfit is the sum of squares of a cell's 64 pixels, which lie between low and high, about the better of two levels each.
func cellMisfit(r *Raster, x0, y0 int, low, high float32) float64 {
	var cell [64]float32
	for y := range 8 {
		copy(cell[8*y:], r.V[(y0+y)*r.Width+x0:(y0+y)*r.Width+x0+8])
	}
	sse, _ := parted(cell[:], low, high)
	return sse
}

// twoLevels is the sum of squares of some values about the better of two levels each, by Lloyd's iteration from the extremes, and the step between
// the levels; 0 where the values lie less than least apart.
func twoLevels(v []float32, least float32) (sse, step float64) {
	low, high := v[0], v[0]
	for _, a := range v {
		low, high = min(low, a), max(high, a)
	}
	if high-low < least {
		return 0, 0
	}
	return parted(v, low, high)
}

// parted is twoLevels of values between low and high. It ends sooner where the next split would part them as this one did.
func parted(v []float32, low, high float32) (sse, step float64) {
	left := float32(0)
	for range 3 {
		split := (low + high) / 2
		below, above := low, high // those next to the split
		var sumLow, sumHigh, square, nLow, nHigh float32
		for _, a := range v {
			square += a * a
			if a < split {
				sumLow += a
				nLow++
				if a > below {
					below = a
				}
			} else {
				sumHigh += a
				nHigh++
				if a < above {
					above = a
				}
			}
		}
		low, high = sumLow/max(nLow, 1), sumHigh/max(nHigh, 1)
		left = square - low*low*nLow - high*high*nHigh
		if next := (low + high) / 2; below < next && next <= above {
			break
		}
	}
	return float64(left), float64(high - low)
}
