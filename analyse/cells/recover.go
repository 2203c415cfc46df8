package cells

import (
	"math"
	"math/bits"

	"backporch/analyse"
	"backporch/analyse/grid"
	"backporch/video/display"
)

// A Result is every cell of a picture as read.
type Result struct {
	Cells  []analyse.Cell
	Levels analyse.Levels
	Border analyse.Border
	// PixelOdds, by [line*width+pixel]: ln of the probability of the pixel's side (ink or
	// paper) over that of the other, 0 to 30; 0 where the cell shows one colour.
	PixelOdds []float32
	// ColourOdds, by [cell*8+bit] of the colour byte (Attr: bits 0 to 6) or nibble
	// (Text: bits 0 to 3): the same for the colours.
	ColourOdds []float32
	Sigma      float64 // rms of luma about the model, codes
	// What the path did to all colours, the colours themselves, and how late chroma is, in pixels.
	Fits        []analyse.ColourFit
	Spots       []analyse.Spot
	ChromaDelay float64
}

// A reader holds the state of one recovery.
type reader struct {
	p             *display.Profile
	rows, columns int
	model         *model
	planes        *chromaPlanes // of the delay taken; nil in monochrome
	lines         [2][]float32  // see lineMeans
	colour        bool
	bits          []uint8 // [line*columns+column]
	inks          []int   // ink pixels, by cell
	luma          channel
	cbs, crs      channel
	inkShare      []float64    // [row*width+pixel]: share of the cell's lines, as they are weighed, that is ink
	believed      [2][]float64 // see believe
	kernel        [2*chromaReach + 1]float64
	delay         float64 // of chroma against luma, pixels
	border        spot
	transform     transform
	target        []spot // the palette in this capture's codes
	components    []analyse.Component
	told          []analyse.Component // the same by a good machine's colours; nil: none to compare with
	fits          []analyse.ColourFit
	colours       []analyse.Spot
	chosen        []int     // by cell: the pair taken last
	rarity        []float64 // by pair: cost of colours that are seldom on this screen
	sigma         float64
}

// Recover reads the cells of a registered stack.
func Recover(s *analyse.Stack, reg analyse.Registration, p *display.Profile) *Result {
	return newReader(s, reg, p).recover(s, reg, nil)
}

// recover reads the cells; levels are those of the capture where they are known, nil where not.
func (r *reader) recover(s *analyse.Stack, reg analyse.Registration, levels *transform) *Result {
	p := r.p
	r.start()
	for pass := range 3 {
		r.equalise(pass > 0)
	}
	r.chroma()
	r.calibrate(blankingCode(s), levels)
	ground := r.background()
	if p.Kind == display.Text {
		r.upright(ground)
	}
	list := pairs(p, ground)
	r.rarity, r.chosen = make([]float64, len(list)), make([]int, len(r.inks))
	for range 2 {
		r.assign(list)
		r.equalise(true)
		r.fitKernel(s, reg)
	}
	r.assign(list)
	return r.result(list, s, reg)
}

// start gives every cell two levels and a pattern by two means of its luma, or of
// its chroma where the luma is flat.
func (r *reader) start() {
	for row := range r.rows {
		for column := range r.columns {
			cell := row*r.columns + column
			r.luma.paper[cell], r.luma.ink[cell] = r.split(r.model.seen, row, column, 12)
			if r.inks[cell] == 0 && r.colour {
				for _, plane := range r.planes.raster {
					if r.split(plane, row, column, 40); r.inks[cell] > 0 {
						break
					}
				}
			}
		}
	}
	r.fill()
}

// split puts a cell's pixels into two groups if they lie least apart.
func (r *reader) split(plane *grid.Raster, row, column int, least float32) (paper, ink float64) {
	low, high := float32(math.MaxFloat32), float32(-math.MaxFloat32)
	for y := range 8 {
		for _, v := range plane.Row(row*8 + y)[margin+column*8 : margin+column*8+8] {
			low, high = min(low, v), max(high, v)
		}
	}
	cell := row*r.columns + column
	for range 4 {
		cut := (low + high) / 2
		var sum [2]float32
		var count [2]int
		for y := range 8 {
			var pattern uint8
			for x, v := range plane.Row(row*8 + y)[margin+column*8 : margin+column*8+8] {
				group := 0
				if v > cut {
					group = 1
					pattern |= 1 << (7 - x)
				}
				sum[group] += v
				count[group]++
			}
			r.bits[(row*8+y)*r.columns+column] = pattern
		}
		low, high = sum[0]/float32(max(count[0], 1)), sum[1]/float32(max(count[1], 1))
		r.inks[cell] = count[1]
		if count[0] == 0 || count[1] == 0 {
			break
		}
	}
	if high-low < least || r.inks[cell] == 0 || r.inks[cell] == 64 {
		mean := (low*float32(64-r.inks[cell]) + high*float32(r.inks[cell])) / 64
		r.setBits(cell, func(uint8) uint8 { return 0 })
		return float64(mean), float64(mean)
	}
	if r.inks[cell] > 32 { // the commoner level is the paper for now
		r.setBits(cell, func(b uint8) uint8 { return ^b })
		return float64(high), float64(low)
	}
	return float64(low), float64(high)
}

// setBits rewrites a cell's pattern and counts its ink.
func (r *reader) setBits(cell int, f func(uint8) uint8) {
	row, column := cell/r.columns, cell%r.columns
	r.inks[cell] = 0
	for y := range 8 {
		b := &r.bits[(row*8+y)*r.columns+column]
		*b = f(*b)
		r.inks[cell] += bits.OnesCount8(*b)
	}
}

func (r *reader) recount() {
	for cell := range r.inks {
		r.setBits(cell, func(b uint8) uint8 { return b })
	}
}

// fill writes the levels of all pixels into the model.
func (r *reader) fill() {
	m := r.model
	border := float32(r.border.y)
	for y := range m.height {
		row := m.level[y*m.stride : (y+1)*m.stride]
		for x := range margin {
			row[x], row[margin+m.width+x] = border, border
		}
		for column := range r.columns {
			cell := y/8*r.columns + column
			two := [2]float32{float32(r.luma.paper[cell]), float32(r.luma.ink[cell])}
			pattern := r.bits[y*r.columns+column]
			for x := range row[margin+column*8:][:8] {
				row[margin+column*8+x] = two[pattern>>(7-x)&1]
			}
		}
	}
	m.update()
}

// equalise runs one round of filter, pixels and levels.
func (r *reader) equalise(identify bool) {
	r.fill()
	if identify {
		r.model.identify(r.sigma)
		r.model.around = float32(r.border.y)
		r.model.identifyComb()
		r.model.update()
	}
	two := make([][2]float32, r.columns)
	for y := range r.model.height {
		for c := range two {
			cell := y/8*r.columns + c
			two[c] = [2]float32{float32(r.luma.paper[cell]), float32(r.luma.ink[cell])}
			if d := two[c][1] - two[c][0]; d > -8 && d < 8 { // no luma to tell them apart by
				two[c][1] = two[c][0]
			}
		}
		r.model.decide(y, two, r.bits[y*r.columns:(y+1)*r.columns])
	}
	r.recount()
	if r.target != nil { // levels are those of the palette as seen
		r.sigma = r.rms()
		return
	}
	known := r.model.mixing()
	for row := range r.rows {
		for column := range r.columns {
			cell := row*r.columns + column
			s := r.lumaStats(known, row, column)
			paper, ink := s.solve(r.luma.paper[cell], r.luma.ink[cell], 0.5)
			if r.inks[cell] == 0 {
				ink = paper
			}
			r.luma.paper[cell], r.luma.ink[cell] = paper, ink
		}
	}
	r.sigma = r.rms()
}

// rms is the luma residual, by its median so that a few bad cells do not set it.
func (r *reader) rms() float64 {
	m := r.model
	sample := make([]float32, 0, m.height*(m.width/4+1))
	for y := range m.height {
		for x := margin + y%4; x < margin+m.width; x += 4 {
			e := m.residual[y*m.stride+x]
			sample = append(sample, max(e, -e))
		}
	}
	// Mostly flat screens have a median near 0: take the upper quartile of |N(0,1)|, 1.1503.
	return math.Max(1.5, float64(analyse.Select(sample, len(sample)*3/4))/1.1503)
}

// assign gives every cell its most probable pair and the levels of it.
func (r *reader) assign(list []pair) {
	scores := make([]float64, len(list))
	counts := make([]float64, len(list))
	r.eachCell(func(cell int, luma, cb, cr stats) {
		r.choose(scores, list, cell, luma, cb, cr, 0)
		best := r.chosen[cell]
		counts[best]++
		q := list[best]
		switch {
		case q.ink == q.paper && r.inks[cell] > 0:
			r.setBits(cell, func(uint8) uint8 { return 0 })
		case r.solid(cell, q):
			r.setBits(cell, func(uint8) uint8 { return 0xff })
		}
		paper, ink := r.target[q.paper], r.target[q.ink]
		r.luma.paper[cell], r.luma.ink[cell] = paper.y, ink.y
		// What spreads into the cells beside it is what the cell shows, as far as that may be off its colours, or cells of one colour would take turns at being taken
		// for too much and too little of it.
		lc := r.chromaPrecision()
		wb, wr := cb.weigh(lc, chromaOffset), cr.weigh(lc, chromaOffset)
		r.cbs.paper[cell], r.cbs.ink[cell] = wb.settled(paper.cb, ink.cb)
		r.crs.paper[cell], r.crs.ink[cell] = wr.settled(paper.cr, ink.cr)
	})
	// A screen uses few of the pairs there are: half the information of their frequency counts.
	total := float64(len(r.inks))
	for k := range list {
		r.rarity[k] = -0.5 * math.Log((counts[k]+0.5)/(total+0.5*float64(len(list))))
	}
}

func lowest(v []float64) int {
	best := 0
	for i := range v {
		if v[i] < v[best] {
			best = i
		}
	}
	return best
}
