package grid

import (
	"cmp"
	"math"
	"math/bits"
	"slices"

	"backporch/analyse"
	"backporch/video/display"
)

// reach is how far from the middle of the capture the picture is looked for, pixels and lines.
const reach = 20

// Where pictures lie about the middle of a capture, pixels and lines: a decoder's
// horizontal delay is some half a microsecond either way. Common practice, no source.
const (
	spreadX = 7.0
	spreadY = 6.0
)

// border is what can be said of the border before anything is registered.
type border struct {
	y, cb, cr           float64
	leftEdge, rightEdge float64 // where blanking ends and begins, samples; 0 when not seen
	topEdge, bottomEdge float64 // likewise in lines: the first line of border, the first one below it; 0 and the height when cut off
	lit                 bool    // the border is brighter than blanking, so that its first and last lines show
	ok                  bool
}

// pitch is what the ends of the border say of the pixel pitch; 0 when they are not both seen.
func (b border) pitch(p *display.Profile) float64 {
	if b.leftEdge == 0 || b.rightEdge == 0 {
		return 0
	}
	return (b.rightEdge - b.leftEdge) / float64(p.BorderLeft+p.Width+p.BorderRight)
}

// findBorder reads the border from columns that are the same on every line, at
// both sides of the capture.
func findBorder(s *analyse.Stack, p *display.Profile, sigma float64) border {
	rows, top := s.Height*9/10, s.Height/20
	column := func(plane []float32, width, x int) (mean, deviation float64) {
		var sum, square float64
		for y := top; y < top+rows; y++ {
			v := float64(plane[y*width+x])
			sum += v
			square += v * v
		}
		mean = sum / float64(rows)
		return mean, math.Sqrt(math.Max(0, square/float64(rows)-mean*mean))
	}
	mean, quiet := make([]float64, s.Width), make([]bool, s.Width)
	limit := 3*sigma + 2.5
	for x := range mean {
		var deviation float64
		mean[x], deviation = column(s.Y, s.Width, x)
		quiet[x] = deviation < limit
	}
	for c := range s.ChromaWidth { // border and paper may differ in chroma alone
		_, d1 := column(s.Cb, s.ChromaWidth, c)
		_, d2 := column(s.Cr, s.ChromaWidth, c)
		if d1 > limit+2 || d2 > limit+2 {
			for x := c * s.Width / s.ChromaWidth; x < (c+1)*s.Width/s.ChromaWidth; x++ {
				quiet[x] = false
			}
		}
	}
	from, to := window(p, s.Width, s.Height, 0)
	slack := int(float64(reach) * p.PitchX(s.Width))
	// A quiet run from the side inwards; the border proper is its inner part.
	run := func(start, step, limit int) (inner []float64, end int) {
		x := start
		for x >= 0 && x < s.Width && x != limit && quiet[x] {
			x += step
		}
		for k := x - 3*step; (k-start)*step >= 0 && len(inner) < s.Width/40; k -= step {
			inner = append(inner, mean[k])
		}
		return inner, x
	}
	var b border
	left, leftEnd := run(0, 1, from+slack)
	right, rightEnd := run(s.Width-1, -1, to-slack)
	all := append(slices.Clone(left), right...)
	if len(all) < 8 {
		return b
	}
	b.y, b.ok = median(all), true
	edge := func(start, step, end int) float64 {
		for x := start + step; (end-x)*step > 0; x += step {
			if !quiet[x] {
				return 0
			}
			// The half-way crossing from blanking, darker, up to the border.
			outer := mean[start+step*min(2, max(0, (x-start)*step-1))]
			half := (outer + b.y) / 2
			if b.y-outer > math.Max(8, 4*sigma) && mean[x] >= half && mean[x-step] < half {
				return float64(x-step) + float64(step)*(half-mean[x-step])/(mean[x]-mean[x-step])
			}
		}
		return 0
	}
	b.leftEdge, b.rightEdge = edge(0, 1, leftEnd), edge(s.Width-1, -1, rightEnd)
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
			add(leftEnd - 10)
		}
		if len(right) >= 4 {
			add(rightEnd + 10)
		}
		if len(cb) > 0 {
			b.cb, b.cr = median(cb), median(cr)
		}
	}
	return b
}

// rowEdges finds the first and the last line that reach half of the border's luma.
func (b *border) rowEdges(s *analyse.Stack, from, to int, sigma float64) {
	const blanking = 16.0 // nearly so in most captures; half-way to the border is what counts
	if b.y-blanking < math.Max(24, 6*sigma) {
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

// place weighs every whole-pixel and whole-line displacement of reg and returns
// those with a probability of at least 1 %, the best first.
func place(s *analyse.Stack, p *display.Profile, reg analyse.Registration, h border, sigma float64) []analyse.Shift {
	const margin = reach + 8
	luma, cb, cr := Rasters(s, reg, -margin, p.Width+margin, -margin, p.Height+margin)
	if !h.ok {
		h.y = float64(luma.At(-margin/2, p.Height/2))
	}
	content, coloured, strong := contentMasks(luma, cb, cr, h, sigma)
	first, last := -0.5, float64(s.Height)-0.5
	if h.lit { // lines of blanking above and below the border are no picture
		first, last = first+h.topEdge, h.bottomEdge-0.5
	}
	for y := -margin; y < p.Height+margin; y++ { // lines that the capture does not hold
		if row := reg.OriginY + float64(y)*reg.PitchY; row < first || row > last {
			for _, mask := range [][]bool{content, coloured, strong} {
				clear(mask[(y+margin)*luma.Width : (y+margin+1)*luma.Width])
			}
		}
	}
	total, tint := prefix(content, luma.Width, luma.Height), prefix(coloured, luma.Width, luma.Height)
	all, allTint := total.sum(0, 0, luma.Width, luma.Height), tint.sum(0, 0, luma.Width, luma.Height)
	texture := cellTerms(luma, strong, p, margin, sigma)

	nominalX, nominalY := p.Origin(s.Width, s.Height)
	shifts := make([]analyse.Shift, 0, (2*reach+1)*(2*reach+1))
	scores := make([]float64, 0, cap(shifts))
	for dy := -reach; dy <= reach; dy++ {
		for dx := -reach; dx <= reach; dx++ {
			x, y := reg.OriginX+float64(dx)*reg.PitchX, reg.OriginY+float64(dy)*reg.PitchY
			if y < -1 || y+float64(p.Height-1)*reg.PitchY > float64(s.Height) {
				continue
			}
			inside := total.sum(margin+dx, margin+dy, margin+dx+p.Width, margin+dy+p.Height)
			insideTint := tint.sum(margin+dx, margin+dy, margin+dx+p.Width, margin+dy+p.Height)
			// Chroma may be delayed against luma: its edges are a weaker witness.
			score := -0.5*math.Min(float64(all-inside), 1000) - 0.03*float64(allTint-insideTint)
			score += texture[((dy+margin)%8)*8+(dx+margin)%8]
			score -= square((x-nominalX)/(spreadX*reg.PitchX)) / 2
			score -= square((y-nominalY)/(spreadY*reg.PitchY)) / 2
			score += edgeTerm(x, h, reg, p) + rowTerm(y, s.Height, h, reg, p)
			shifts = append(shifts, analyse.Shift{Pixels: dx, Lines: dy})
			scores = append(scores, score)
		}
	}
	return posterior(shifts, scores)
}

func square(x float64) float64 { return x * x }

// edgeTerm weighs the ends of the border as seen against where this place would put
// them; one in five machines may have its border cut elsewhere.
func edgeTerm(x float64, h border, reg analyse.Registration, p *display.Profile) float64 {
	term := 0.0
	for _, e := range [2]struct{ seen, want float64 }{
		{h.leftEdge, x - float64(p.BorderLeft)*reg.PitchX},
		{h.rightEdge, x + float64(p.Width+p.BorderRight)*reg.PitchX},
	} {
		if e.seen > 0 {
			z := (e.seen - e.want) / (0.5 * reg.PitchX)
			term += math.Log(0.8*math.Exp(-z*z/2) + 0.2*0.025)
		}
	}
	return term
}

// rowTerm does the same with the border's first and last lines; where the capture begins or ends in
// the border, the border must reach there.
func rowTerm(y float64, height int, h border, reg analyse.Registration, p *display.Profile) float64 {
	if !h.lit {
		return 0
	}
	first := y - float64(p.BorderTop)*reg.PitchY
	below := y + float64(p.Height+p.BorderBottom)*reg.PitchY
	top, bottom := h.topEdge-first, below-h.bottomEdge
	if h.topEdge == 0 {
		top = math.Min(top, 0)
	}
	if h.bottomEdge == float64(height) {
		bottom = math.Min(bottom, 0)
	}
	term := 0.0
	for _, d := range [2]float64{top, bottom} {
		z := d / 0.6
		term += math.Log(0.8*math.Exp(-z*z/2) + 0.2*0.05)
	}
	return term
}

func posterior(shifts []analyse.Shift, scores []float64) []analyse.Shift {
	best := slices.Max(scores)
	sum := 0.0
	for i, score := range scores {
		shifts[i].Probability = math.Exp(score - best)
		sum += shifts[i].Probability
	}
	for i := range shifts {
		shifts[i].Probability /= sum
	}
	slices.SortFunc(shifts, func(a, b analyse.Shift) int { return cmp.Compare(b.Probability, a.Probability) })
	kept := shifts[:1] // the best is kept however many share the rest
	for len(kept) < len(shifts) && shifts[len(kept)].Probability >= 0.01 {
		kept = shifts[:len(kept)+1]
	}
	if len(kept) > 12 {
		kept = kept[:12]
	}
	return slices.Clone(kept)
}

// contentMasks marks pixels that are not border: content, by luma beyond what blur and
// ringing of a neighbour leave; coloured, by chroma alone; strong, by more than half of the local step of luma.
func contentMasks(luma, cb, cr *Raster, h border, sigma float64) (content, coloured, strong []bool) {
	content, coloured, strong = make([]bool, len(luma.V)), make([]bool, len(luma.V)), make([]bool, len(luma.V))
	floor := math.Max(10, 5*sigma)
	step, chroma := make([]float64, luma.Width), make([]float64, luma.Width)
	top := func(v []float64, x, reach int) float64 {
		m := 0.0
		for _, d := range v[max(0, x-reach):min(len(v), x+reach+1)] {
			m = math.Max(m, d)
		}
		return m
	}
	for y := range luma.Height {
		i := y * luma.Width
		for x, v := range luma.V[i : i+luma.Width] {
			step[x] = math.Abs(float64(v) - h.y)
			if cb != nil {
				chroma[x] = math.Hypot(float64(cb.V[i+x])-h.cb, float64(cr.V[i+x])-h.cr)
			}
		}
		for x := range luma.Width {
			near := top(step, x, 4)
			// Chroma is blurred over some five pixels: its edge is where half of the step is reached.
			content[i+x] = step[x] > math.Max(floor, 0.3*near)
			coloured[i+x] = !content[i+x] && cb != nil && chroma[x] > math.Max(floor+4, 0.5*top(chroma, x, 10))
			strong[i+x] = step[x] > math.Max(floor, 0.5*near)
		}
	}
	return content, coloured, strong
}

// A sums table answers how many marks lie in a rectangle.
type sums struct {
	v     []int32
	width int
}

func prefix(mask []bool, width, height int) sums {
	s := sums{make([]int32, (width+1)*(height+1)), width + 1}
	for y := range height {
		var row int32
		for x := range width {
			if mask[y*width+x] {
				row++
			}
			s.v[(y+1)*s.width+x+1] = s.v[y*s.width+x+1] + row
		}
	}
	return s
}

func (s sums) sum(x0, y0, x1, y1 int) int {
	return int(s.v[y1*s.width+x1] - s.v[y0*s.width+x1] - s.v[y1*s.width+x0] + s.v[y0*s.width+x0])
}

// cellTerms weighs the 64 ways to cut the raster into cells, by row and column of
// the cut: the misfit of two levels a cell, and the length of a dictionary of cells.
func cellTerms(luma *Raster, strong []bool, p *display.Profile, margin int, sigma float64) [64]float64 {
	var terms [64]float64
	spread := square(14 + 3*sigma) // blur at a change of colours leaves this much, codes
	for cut := range terms {
		oy, ox := cut/8, cut%8
		count := map[uint64]int{}
		cells, misfit := 0, 0.0
		for y := oy; y+8 <= luma.Height; y += 8 {
			for x := ox; x+8 <= luma.Width; x += 8 {
				var key uint64
				for r := range 8 {
					i := (y+r)*luma.Width + x
					for _, b := range strong[i : i+8] {
						key <<= 1
						if b {
							key |= 1
						}
					}
				}
				if bits.OnesCount64(key) > 32 {
					key = ^key
				}
				count[key]++
				cells++
				misfit += math.Min(twoLevels(luma, x, y)/(2*spread*16), 8)
			}
		}
		// Writing a cell costs ln(cells/count) once its pattern is known, and the
		// pattern itself some 20 nats: strokes are not random bits.
		length := 0.0
		for _, n := range count {
			length += 20 + float64(n)*math.Log(float64(cells)/float64(n))
		}
		// Neighbouring cells are not independent: half of the sum counts.
		terms[cut] = -0.5*length - 0.5*misfit
	}
	return terms
}

// twoLevels is the sum of squares of a cell's 64 pixels about the better of two
// levels each, by Lloyd's iteration from the extremes.
func twoLevels(r *Raster, x0, y0 int) float64 {
	low, high := float32(math.MaxFloat32), float32(-math.MaxFloat32)
	for y := range 8 {
		for _, v := range r.V[(y0+y)*r.Width+x0 : (y0+y)*r.Width+x0+8] {
			low, high = min(low, v), max(high, v)
		}
	}
	if high-low < 20 {
		return 0
	}
	sse := float32(0)
	for range 3 {
		split := (low + high) / 2
		var sumLow, sumHigh, square float32
		nLow, nHigh := float32(0), float32(0)
		for y := range 8 {
			for _, v := range r.V[(y0+y)*r.Width+x0 : (y0+y)*r.Width+x0+8] {
				square += v * v
				if v < split {
					sumLow += v
					nLow++
				} else {
					sumHigh += v
					nHigh++
				}
			}
		}
		low, high = sumLow/max(nLow, 1), sumHigh/max(nHigh, 1)
		sse = square - low*low*nLow - high*high*nHigh
	}
	return float64(sse)
}
