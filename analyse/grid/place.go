package grid

import (
	"cmp"
	"math"
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

// Places gives the probability of every whole-pixel and whole-line displacement of a registration, up to reach, by what
// lies in the picture and in the border: for whoever knows more, as a font, and weighs them anew.
func Places(s *analyse.Stack, p *display.Profile, reg analyse.Registration) []analyse.Shift {
	sigma := noise(s)
	shifts, _ := place(s, p, reg, findBorder(s, p, sigma), sigma)
	return shifts
}

// place weighs every whole-pixel and whole-line displacement of reg, the best first. evidence is ln of what all of them weigh together.
func place(s *analyse.Stack, p *display.Profile, reg analyse.Registration, h border, sigma float64) (shifts []analyse.Shift, evidence float64) {
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
	shifts = make([]analyse.Shift, 0, (2*reach+1)*(2*reach+1))
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
			outside := float64(all - inside)
			score := -0.5*math.Min(outside, 1000+0.02*(outside-1000)) - 0.015*float64(allTint-insideTint)
			score += texture[((dy+margin)%8)*8+(dx+margin)%8]
			score -= square((x-nominalX)/(spreadX*reg.PitchX)) / 2
			score -= square((y-nominalY)/(spreadY*reg.PitchY)) / 2
			score -= hollow * float64(hollowSides(total, margin+dx, margin+dy, p))
			score += edgeTerm(x, h, reg, p) + rowTerm(y, s.Height, h, reg, p)
			shifts = append(shifts, analyse.Shift{Pixels: dx, Lines: dy})
			scores = append(scores, score)
		}
	}
	return posterior(shifts, scores)
}

// hollow is what it costs, in nats, that the outermost line or column of pixels has the border's colour while the next ten have
// none of it: an even picture ends where its paper does.
const hollow = 15.0

// hollowSides counts such sides of a picture that begins at x, y of the marks.
func hollowSides(content sums, x, y int, p *display.Profile) int {
	right, below := x+p.Width, y+p.Height
	n := 0
	for _, side := range [4][2][4]int{
		{{x, y, x + 1, below}, {x + 2, y, x + 12, below}},
		{{right - 1, y, right, below}, {right - 12, y, right - 2, below}},
		{{x, y, right, y + 1}, {x, y + 2, right, y + 12}},
		{{x, below - 1, right, below}, {x, below - 12, right, below - 2}},
	} {
		share := func(b [4]int) float64 {
			return float64(content.sum(b[0], b[1], b[2], b[3])) / float64((b[2]-b[0])*(b[3]-b[1]))
		}
		if share(side[0]) < 0.1 && share(side[1]) > 0.9 {
			n++
		}
	}
	return n
}

func square(x float64) float64 { return x * x }

// edgeTerm weighs the ends of the border as seen against where this place would put
// them; one in five machines may have its border cut elsewhere.
func edgeTerm(x float64, h border, reg analyse.Registration, p *display.Profile) float64 {
	term := 0.0
	for _, e := range [2]struct {
		seen end
		want float64
	}{
		{h.left, x - float64(p.BorderLeft)*reg.PitchX},
		{h.right, x + float64(p.Width+p.BorderRight)*reg.PitchX},
	} {
		if e.seen.at > 0 {
			z := (e.seen.at - e.want) / e.seen.spread
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

func posterior(shifts []analyse.Shift, scores []float64) ([]analyse.Shift, float64) {
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
	return shifts, best + math.Log(sum)
}

// probable are the places of at least 1 %, no more than a dozen; the best however many share the rest.
func probable(shifts []analyse.Shift) []analyse.Shift {
	n := 1
	for n < min(12, len(shifts)) && shifts[n].Probability >= 0.01 {
		n++
	}
	return slices.Clone(shifts[:n])
}

// leaks is the part of a step of chroma that a decoder leaves in luma beside it, at the most. Common practice, no source.
const leaks = 0.3

// contentMasks marks pixels that are not border: content, by luma beyond what blur and
// ringing of a neighbour leave; coloured, by chroma alone; strong, by more than half of the local step of luma.
func contentMasks(luma, cb, cr *Raster, h border, sigma float64) (content, coloured, strong []bool) {
	content, coloured, strong = make([]bool, len(luma.V)), make([]bool, len(luma.V)), make([]bool, len(luma.V))
	floor := math.Max(10, 5*sigma)
	width, height := luma.Width, luma.Height
	step, chroma, wide := make([]float64, len(luma.V)), make([]float64, width), make([]float64, width)
	near := make([]float64, len(step)) // the greatest step about a pixel of its line
	for i, v := range luma.V {
		step[i] = math.Abs(float64(v) - h.y)
	}
	around := newGreatest(width)
	for y := range height {
		around.of(near[y*width:(y+1)*width], step[y*width:(y+1)*width], 4)
	}
	lines := make([]float64, width) // the greatest of five lines: decoders that comb lines leave part of one on the next
	for y := range height {
		i := y * width
		if cb != nil {
			for x := range chroma {
				chroma[x] = math.Hypot(float64(cb.V[i+x])-h.cb, float64(cr.V[i+x])-h.cr)
			}
			around.of(wide, chroma, 10)
		}
		clear(lines)
		for k := max(0, y-2); k <= min(height-1, y+2); k++ {
			for x, v := range near[k*width : (k+1)*width] {
				if v > lines[x] {
					lines[x] = v
				}
			}
		}
		for x := range width {
			own := step[i+x]
			// A pixel's neighbours have up to half of its step by blur, those further off less by ringing.
			beside := max(step[i+max(x-1, 0)], step[i+min(x+1, width-1)])
			// Chroma is blurred over some five pixels: its edge is where half of the step is reached.
			content[i+x] = own > max(floor, 0.3*lines[x], 0.5*beside)
			if content[i+x] && cb != nil && own < leaks*wide[x] { // the subcarrier, of which the sign goes round in four lines
				sum, n := 0.0, 0
				for k := max(0, y-1); k <= min(height-1, y+2); k++ {
					sum += float64(luma.V[k*width+x])
					n++
				}
				content[i+x] = math.Abs(sum/float64(n)-h.y) > floor
			}
			coloured[i+x] = !content[i+x] && cb != nil && chroma[x] > max(floor+4, 0.5*wide[x])
			strong[i+x] = own > max(floor, 0.5*near[i+x])
		}
	}
	return content, coloured, strong
}

// A greatest finds the greatest values about each of a line.
type greatest struct{ room []float64 }

func newGreatest(width int) greatest { return greatest{make([]float64, 0, 2*width)} }

// of puts into dst the greatest value, 0 at the least, within reach of each of v.
func (g *greatest) of(dst, v []float64, reach int) {
	padded := append(g.room[:0], make([]float64, reach)...)
	padded = append(append(padded, v...), make([]float64, reach)...)
	g.room = padded[:0]
	span := 1 // values that each holds the greatest of
	for ; 2*span <= 2*reach+1; span *= 2 {
		for i := range len(padded) - span {
			padded[i] = max(padded[i], padded[i+span])
		}
	}
	for x := range dst {
		dst[x] = max(padded[x], padded[x+2*reach+1-span])
	}
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
