package survey

import (
	"math"

	"backporch/analyse"
)

// flat is the picture's middle colour, and whether there is any other, inside the
// blanking edges.
func flat(s *analyse.Stack) analyse.Flat {
	var out analyse.Flat
	left, right := s.Width/12, s.Width-s.Width/12
	var luma, cb, cr []float32
	for y := s.Height / 20; y < s.Height-s.Height/20; y += 2 {
		for x := left; x < right; x += 3 {
			luma = append(luma, s.Y[y*s.Width+x])
			if s.ChromaWidth > 0 {
				i := y*s.ChromaWidth + x*s.ChromaWidth/s.Width
				cb, cr = append(cb, s.Cb[i]), append(cr, s.Cr[i])
			}
		}
	}
	if len(luma) == 0 {
		return out
	}
	spread := func(v []float32) (middle, range_ float64) {
		if len(v) == 0 {
			return 128, 0
		}
		return float64(analyse.Select(v, len(v)/2)), float64(analyse.Select(v, len(v)*999/1000) - analyse.Select(v, len(v)/1000))
	}
	var dy, dcb, dcr float64
	out.Y, dy = spread(luma)
	out.Cb, dcb = spread(cb)
	out.Cr, dcr = spread(cr)
	// Twelve codes beyond what noise of this stack reaches: six standard deviations of it.
	noise := 12.0
	if s.VarY != nil {
		noise = 6.6 * math.Sqrt(s.Variance()/float64(s.N))
	}
	out.Uniform = dy < 12+noise && dcb < 14+noise && dcr < 14+noise
	return out
}
