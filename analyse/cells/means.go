package cells

import (
	"math"

	"gonum.org/v1/gonum/stat"

	"backporch/analyse"
)

// What two captures of one screen are compared by: means of cells, and which of them go together.

// cellMean is the mean of a cell but for its first line.
func cellMean(s *analyse.Stack, reg analyse.Registration, column, row int) (side, bool) {
	x0, x1, top, bottom, ok := cellArea(s, reg, column, row)
	if !ok {
		return side{}, false
	}
	out := side{cb: 128, cr: 128}
	mean := func(plane []float32, width, x0, x1 int, weight func(line int) float64) float64 {
		sum, all := 0.0, 0.0
		for y := top; y < bottom; y++ {
			w := weight(y - top)
			all += w * float64(x1-x0)
			for _, v := range plane[y*width+x0 : y*width+x1] {
				sum += w * float64(v)
			}
		}
		return sum / all
	}
	out.y = mean(s.Y, s.Width, x0, x1, func(int) float64 { return 1 })
	if s.ChromaWidth > 0 {
		c0, c1 := x0*s.ChromaWidth/s.Width, max(x1*s.ChromaWidth/s.Width, x0*s.ChromaWidth/s.Width+1)
		weight := func(line int) float64 { return lineWeights[1+min(line, 6)] } // without what fine patterns leave
		out.cb, out.cr = mean(s.Cb, s.ChromaWidth, c0, c1, weight), mean(s.Cr, s.ChromaWidth, c0, c1, weight)
	}
	return out, true
}

// alikeDrawn tells whether two captures show the same screen, whatever their hues and levels: where it is brighter in the one it is so in
// the other, or both are even.
func alikeDrawn(here, good []float64) bool {
	if len(here) == 0 {
		return false
	}
	a, b := stat.StdDev(here, nil), stat.StdDev(good, nil)
	if b < evenScreen {
		return a < 3*evenScreen
	}
	return a > 0 && stat.Correlation(here, good, nil) > sameScreen
}

// evenScreen is the deviation of the luma of cells on an even screen, codes; sameScreen the correlation of two of one, of which some
// memory may be wrong or which may lie some pixels apart.
const (
	evenScreen = 3.0
	sameScreen = 0.35
)

// calmBeside tells whether the cells to both sides have a cell's chroma too.
func calmBeside(means []side, i, columns int) bool {
	for _, d := range [2]int{-1, 1} {
		if at := i%columns + d; at < 0 || at >= columns {
			continue
		}
		if o := means[i+d]; math.Abs(o.cb-means[i].cb) > 8 || math.Abs(o.cr-means[i].cr) > 8 {
			return false
		}
	}
	return true
}

// A colourPair is an ink on a paper.
type colourPair struct{ ink, paper int }

// mainColours is the pair that more than half of the cells with strokes have; one that is none where no pair does.
func mainColours(s *analyse.Survey) colourPair {
	pairs, all, papers := map[colourPair]int{}, 0, map[int]int{}
	for i := range s.Cells {
		if c := &s.Cells[i]; !c.Single && !c.Flash {
			pairs[colourPair{c.Ink, c.Paper}]++
			papers[c.Paper]++
			all++
		}
	}
	for k, n := range pairs {
		if 2*n > all && 4*papers[k.paper] > 3*all {
			return k
		}
	}
	return colourPair{-2, -2}
}
