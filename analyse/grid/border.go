package grid

import (
	"math"
	"slices"

	"backporch/analyse"
	"backporch/video/display"
)

// An end is where blanking goes over into border, or border into blanking.
type end struct {
	at     float64 // samples; 0 when not seen
	spread float64 // standard deviation, samples
}

// border is what can be said of the border before anything is registered.
type border struct {
	y, cb, cr           float64
	left, right         end     // where blanking ends and begins
	topEdge, bottomEdge float64 // likewise in lines: the first line of border, the first one below it; 0 and the height when cut off
	lit                 bool    // the border is brighter than blanking, so that its first and last lines show
	ok                  bool
}

// pitch is what the ends of the border say of the pixel pitch; 0 when they are not both seen.
func (b border) pitch(p *display.Profile) float64 {
	if b.left.at == 0 || b.right.at == 0 {
		return 0
	}
	return (b.right.at - b.left.at) / float64(p.BorderLeft+p.Width+p.BorderRight)
}

// findBorder reads the border from columns that are the same on every line, at
// both sides of the capture.
func findBorder(s *analyse.Stack, p *display.Profile, sigma float64) border {
	rows, top := s.Height*9/10, s.Height/20
	// Lines are taken by fours, over which the subcarrier that a decoder leaves comes round.
	column := func(plane []float32, width, x int) (mean, deviation float64) {
		var sum, square float64
		n := 0
		for y := top; y+4 <= top+rows; y += 4 {
			v := 0.0
			for k := range 4 {
				v += float64(plane[(y+k)*width+x]) / 4
			}
			sum += v
			square += v * v
			n++
		}
		mean = sum / float64(n)
		return mean, math.Sqrt(math.Max(0, square/float64(n)-mean*mean))
	}
	mean, spread, quiet := make([]float64, s.Width), make([]float64, s.Width), make([]bool, s.Width)
	limit := 3*sigma + 2.5
	for x := range mean {
		mean[x], spread[x] = column(s.Y, s.Width, x)
		quiet[x] = spread[x] < limit
	}
	from, to := window(p, s.Width, s.Height, 0)
	slack := int(float64(reach) * p.PitchX(s.Width))
	var means, spreads [3][]float64
	means[0], spreads[0] = mean, spread
	for k, plane := range [2][]float32{s.Cb, s.Cr} {
		means[k+1], spreads[k+1] = make([]float64, s.ChromaWidth), make([]float64, s.ChromaWidth)
		for c := range s.ChromaWidth {
			means[k+1][c], spreads[k+1][c] = column(plane, s.ChromaWidth, c)
		}
	}
	for c := range s.ChromaWidth { // border and paper may differ in chroma alone
		if spreads[1][c] > limit+2 || spreads[2][c] > limit+2 {
			for x := c * s.Width / s.ChromaWidth; x < (c+1)*s.Width/s.ChromaWidth; x++ {
				quiet[x] = false
			}
		}
	}
	b := border{left: findEnd(means, spreads, 1, limit), right: findEnd(means, spreads, -1, limit)}
	// A quiet run from there inwards, or from the side. The border proper is its outer part where its end shows, for a paper of nearly its colour
	// is as quiet, and else its inner part. near is a column of it.
	wide := s.Width / 40
	run := func(start, step, limit int, shows bool) (inner []float64, near int) {
		x := start
		for x >= 0 && x < s.Width && x != limit && quiet[x] {
			x += step
		}
		if shows && (x-start)*step > wide+3 {
			x = start + (wide+3)*step
		}
		for k := x - 3*step; (k-start)*step >= 0 && len(inner) < wide; k -= step {
			inner = append(inner, mean[k])
		}
		return inner, x - 10*step
	}
	begin := func(side int, e end, step int) int {
		if e.at == 0 {
			return side
		}
		x := int(e.at) + 8*step // past what the decoder makes of the edge
		for k := 0; k < 16 && !quiet[x]; k++ {
			x += step
		}
		return x
	}
	left, leftAt := run(begin(0, b.left, 1), 1, from+slack, b.left.at > 0)
	right, rightAt := run(begin(s.Width-1, b.right, -1), -1, to-slack, b.right.at > 0)
	all := append(slices.Clone(left), right...)
	if len(all) < 8 {
		return border{left: b.left, right: b.right}
	}
	b.y, b.ok = median(all), true
	b.rowEdges(s, from, to, sigma)
	if len(s.Cb) > 0 {
		step := s.Width / s.ChromaWidth
		var cb, cr []float64
		add := func(x int) {
			for y := top; y < top+rows; y += 3 {
				i := y*s.ChromaWidth + min(x/step, s.ChromaWidth-1)
				cb, cr = append(cb, float64(s.Cb[i])), append(cr, float64(s.Cr[i]))
			}
		}
		if len(left) >= 4 {
			add(leftAt)
		}
		if len(right) >= 4 {
			add(rightAt)
		}
		if len(cb) > 0 {
			b.cb, b.cr = median(cb), median(cr)
		}
	}
	return b
}

// findEnd is the half-way crossing from blanking up to the border, from the side that step leads in from. Means and spreads are
// the columns' of luma and of both colour differences: the border may be hardly brighter than blanking, and coloured.
// A decoder takes part of so steep an edge for chroma, another one on every line, so that what lines differ by there is held to the step.
func findEnd(means, spreads [3][]float64, step int, limit float64) end {
	width := len(means[0])
	for plane, mean := range means {
		if len(mean) == 0 {
			continue
		}
		scale := width / len(mean)
		blank, flank, level := 3, max(2, 5/scale), max(4, 8/scale) // columns
		side := 0
		if step < 0 {
			side = len(mean) - 1
		}
		outer := 0.0
		for k := range blank {
			outer += mean[side+step*(k+1)] / float64(blank)
		}
		for k := blank + 1; k < len(mean)/8; k++ {
			x := side + step*k
			inner := 0.0
			for i := range level {
				inner += mean[x+step*(flank+i)] / float64(level)
			}
			size, sign := inner-outer, 1.0
			if plane > 0 && size < 0 {
				size, sign = -size, -1
			}
			half := (outer + inner) / 2
			here, before := sign*(mean[x]-half), sign*(mean[x-step]-half)
			if size < math.Max(8*float64(min(2, plane+1)), 3*limit) || here < 0 || before >= 0 || // a leak of the other's step is smaller
				spreads[plane][x] > math.Max(limit, size/2) || spreads[plane][x+step*(flank+level)] > math.Max(limit, size/4) {
				continue
			}
			at := float64(x-step) - float64(step)*before/(here-before)
			if plane == 0 {
				return end{at, endSpread}
			}
			return end{(at+0.5)*float64(scale) - 0.5, 3 * endSpread}
		}
	}
	return end{}
}

// endSpread is how far the ends of the border lie from where the display has them, samples of luma, where they are not cut elsewhere; chroma is
// slower, and late. Common practice, no source.
const endSpread = 0.5

// rowEdges finds the first and the last line that reach half of the border's luma.
func (b *border) rowEdges(s *analyse.Stack, from, to int, sigma float64) {
	const blanking = 16.0 // nearly so in most captures; half-way to the border is what counts
	if b.y-blanking < math.Max(12, 6*sigma) {
		return
	}
	lit := func(y int) bool {
		sum := 0.0
		for x := max(from, 0); x < min(to, s.Width); x++ {
			sum += float64(s.Y[y*s.Width+x])
		}
		return sum/float64(min(to, s.Width)-max(from, 0)) > (b.y+blanking)/2
	}
	top, bottom := 0, s.Height
	for top < s.Height/4 && !lit(top) {
		top++
	}
	for bottom > s.Height*3/4 && !lit(bottom-1) {
		bottom--
	}
	if top < s.Height/4 && bottom > s.Height*3/4 {
		b.topEdge, b.bottomEdge, b.lit = float64(top), float64(bottom), true
	}
}

func median(v []float64) float64 {
	v = slices.Clone(v)
	slices.Sort(v)
	return v[len(v)/2]
}
