package cells

import (
	"math"
	"math/bits"

	"backporch/analyse"
	"backporch/video"
	"backporch/video/display"
)

// blendOf is what a group of cells of a good machine, or its border where there are none, is the mean of; gain is that of its device. A group
// of which a colour is not known has no pixels, cells of one colour no samples.
func blendOf(cells []*analyse.Cell, good *analyse.Survey, p *display.Profile, gain float64) blend {
	out := blend{chroma: good.Levels.Saturation / gain}
	weights := make([]float64, len(p.Colours))
	known := true
	note := func(colour int, weight float64) {
		if colour >= 0 && colour < len(weights) {
			weights[colour] += weight
		} else if weight > 0 {
			known = false
		}
	}
	if len(cells) == 0 {
		note(good.Border.Colour, 1)
	}
	luma := make([]float64, 40)
	mixed := false
	for _, c := range cells {
		cover := 0.0
		if !c.Single {
			for _, row := range c.Bits[1:] {
				cover += float64(bits.OnesCount8(row)) / 56
			}
			mixed = true
			lumaOf(luma, good, c, gain)
		}
		note(c.Paper, 1-cover)
		note(c.Ink, cover)
	}
	if known {
		for i, v := range weights {
			if v > 0 {
				out.pixels = append(out.pixels, part{p.Colours[i].YUV, v / float64(max(len(cells), 1))})
			}
		}
	}
	if !mixed {
		return out
	}
	all := 0.0
	for _, v := range luma {
		all += v
	}
	for i, v := range luma {
		if v > 0 {
			out.samples = append(out.samples, part{video.YUV{Y: lumaBin(i)}, v / all})
		}
	}
	return out
}

// lumaBin is the middle of the bins of lumaOf, of white.
func lumaBin(i int) float64 { return -0.2 + 0.04*(float64(i)+0.5) }

// lumaOf counts the samples of a cell but for its first line by their luma.
func lumaOf(bins []float64, s *analyse.Survey, c *analyse.Cell, gain float64) {
	x0, x1, y0, y1, ok := cellArea(s.Stack, s.Registration, c.Column, c.Row)
	if !ok {
		return
	}
	for y := y0; y < y1; y++ {
		for _, v := range s.Stack.Y[y*s.Stack.Width+x0 : y*s.Stack.Width+x1] {
			of := (float64(v) - s.Levels.Black) / gain / 219
			bins[max(0, min(len(bins)-1, int((of+0.2)/0.04)))]++
		}
	}
}

// cellArea is the samples of a cell but for its first line, which a decoder's delay line mixes with the row above.
func cellArea(s *analyse.Stack, reg analyse.Registration, column, row int) (x0, x1, y0, y1 int, ok bool) {
	left, right := reg.OriginX+float64(column*8)*reg.PitchX, reg.OriginX+float64(column*8+8)*reg.PitchX
	y0 = int(math.Round(reg.OriginY + float64(row*8+1)*reg.PitchY))
	y1 = int(math.Round(reg.OriginY + float64(row*8+8)*reg.PitchY))
	x0, x1 = int(math.Ceil(left)), int(right)
	return x0, x1, y0, y1, x0 >= 0 && x1 <= s.Width && y0 >= 0 && y1 <= s.Height && x1 > x0 && y1 > y0
}

// drawings counts the different ones of cells: what strokes do to a mean is another in each, and the same in all of one.
func drawings(cells []*analyse.Cell) int {
	seen := map[[8]uint8]bool{}
	for _, c := range cells {
		seen[c.Bits] = true
	}
	return max(len(seen), 1)
}
