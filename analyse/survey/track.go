package survey

import (
	"bytes"
	"math"

	"gonum.org/v1/gonum/floats"

	"backporch/analyse"
	"backporch/video"
	"backporch/video/display"
)

// A track follows pixels over time: it knows where they are, how much those of each sort move by themselves,
// and how fast the dots crawl.
type track struct {
	s        *analyse.Survey
	p        *display.Profile
	beside   quiet
	least    float64
	planes   [][]uint8 // the fields' luma
	parity   []int
	byParity [2][][]uint8  // the planes
	rows     []int         // where a line of the picture begins in a field; -1: it does not hold it
	columns  []int         // where a pixel of a line lies on it; -1 likewise
	sorts    []uint16      // [line*Width+pixel]: which sort it is of
	usual    []float64     // by sort: standard deviation over time, codes
	leaks    []float64     // by sort
	crawl    float64       // cycles a field; 0: none found
	wave     [][2]float64  // its cosine and sine, by field
	normal   [3][4]float64 // see crawling
	luma     []float64     // of the pixel at hand, field by field
	drawn    []uint8       // the picture as read, a palette index a pixel
}

func newTrack(s *analyse.Survey, p *display.Profile, fields, fewer []*video.Field) *track {
	left := map[*video.Field]bool{}
	for _, f := range fewer {
		left[f] = true
	}
	t := &track{s: s, p: p, luma: make([]float64, len(fields)), beside: quiet{
		cells: s.Cells, columns: p.Columns(), border: s.Border.Colour, apart: func(a, b int) bool {
			u, v := p.Colours[a], p.Colours[b]
			return math.Hypot(u.U-v.U, u.V-v.V) > 0.1
		}}}
	for _, f := range fields {
		odd := f.Parity & 1
		t.planes, t.parity = append(t.planes, f.Y), append(t.parity, odd)
		t.byParity[odd] = append(t.byParity[odd], f.Y)
	}
	t.locate()
	t.drawn = ideal(s.Cells, p)
	t.least = max(24, 6*math.Sqrt(calm(s, p)))
	kinds := t.sortOut()
	all := make([][]float32, len(kinds))
	var leaking []int
	for i := range s.Cells {
		c := &s.Cells[i]
		for y := range 8 {
			for x := range 8 {
				at, ok := t.at(c, x, y)
				if !ok {
					continue
				}
				k := t.sorts[t.pixel(c, x, y)]
				v := s.Stack.VarY[at]
				all[k] = append(all[k], v)
				if kinds[k].edge { // what leaks there leaks further
					all[k&^1] = append(all[k&^1], v)
				}
				if t.leaks[k] > 0 && float64(v) > t.least*t.least/16 {
					leaking = append(leaking, at)
				}
			}
		}
	}
	stand := standing(fields)
	for k, f := range fields {
		left[f] = left[f] || stand[k] != k
	}
	t.crawling(crawlRate(leaking, fields, left), stand)
	t.usual = make([]float64, len(kinds))
	out, of := 0, 0 // pixels that could not be followed, of all
	for k, v := range all {
		if len(v) == 0 {
			continue
		}
		most := t.leaks[k]
		if kinds[k].edge {
			most += unsteadyEdge * (s.Levels.White - s.Levels.Black)
		}
		t.usual[k] = min(math.Sqrt(float64(analyse.Select(v, len(v)*3/4))), most)
		if t.crawl > 0 {
			t.usual[k] /= 2 // what is left when the one frequency is taken away
		}
		if of += len(v); usuals*t.usual[k] > hidden*usualStep {
			out += len(v)
		}
	}
	if 2*out > of && t.crawl == 0 && keepsNoTime(leaking, t.planes) { // nothing could be followed, and it is what the memory does
		clear(t.usual)
	}
	return t
}

// A pixel is followed where what is usual there, so many times over, leaves as much of a step to be seen; a step is taken for so many codes at the least. Common
// practice, no source.
const (
	usuals    = 6
	hidden    = 0.7
	usualStep = 80
)

// locate finds where lines and pixels of the picture lie in a field.
func (t *track) locate() {
	reg, stack := t.s.Registration, t.s.Stack
	t.rows, t.columns = make([]int, t.p.Height), make([]int, t.p.Width)
	for y := range t.rows {
		t.rows[y] = -1
		if row := int(math.Round(reg.OriginY + float64(y)*reg.PitchY)); row >= 0 && row < stack.Height {
			t.rows[y] = row * stack.Width
		}
	}
	for x := range t.columns {
		t.columns[x] = -1
		if column := int(math.Round(reg.OriginX + (float64(x)+0.5)*reg.PitchX)); column >= 0 && column < stack.Width {
			t.columns[x] = column
		}
	}
}

// pixel is the index of a cell's pixel in the picture.
func (t *track) pixel(c *analyse.Cell, x, y int) int {
	return (c.Row*8+y)*t.p.Width + c.Column*8 + x
}

// calm is the variance over time that noise gives, codes squared: that of the middle sample, or of the border's,
// which no memory moves. A codec smooths even areas more than others, hence the factor.
func calm(s *analyse.Survey, p *display.Profile) float64 {
	reg, stack := s.Registration, s.Stack
	left, right := reg.OriginX-2*reg.PitchX, reg.OriginX+float64(p.Width+2)*reg.PitchX
	var border []float32
	for y := 8; y < stack.Height-8; y += 3 {
		for x := stack.Width / 10; x < stack.Width-stack.Width/10; x += 2 {
			inside := float64(x) > left && float64(x) < right
			if line := (float64(y) - reg.OriginY) / reg.PitchY; line > -2 && line < float64(p.Height+2) && inside {
				continue
			}
			border = append(border, stack.VarY[y*stack.Width+x])
		}
	}
	if len(border) < 500 {
		return stack.Variance()
	}
	return math.Min(stack.Variance(), 4*float64(analyse.Select(border, len(border)/2)))
}

// standing says for each field which one it shows: itself, or the one before that a device gave once more, in which the dots have not gone on.
func standing(fields []*video.Field) []int {
	out := make([]int, len(fields))
	for k, f := range fields {
		if out[k] = k; k < 2 {
			continue
		}
		if before := fields[k-2]; bytes.Equal(f.Y, before.Y) && bytes.Equal(f.Cb, before.Cb) && bytes.Equal(f.Cr, before.Cr) {
			out[k] = out[k-2]
		}
	}
	return out
}

// crawlRate finds the one frequency at which the dots beside changes of hue move, cycles a field: the peak of the
// summed periodograms of the pixels that move there; 0 when it does not hold a third of their power. Fields that show
// another picture are left out.
func crawlRate(at []int, fields []*video.Field, left map[*video.Field]bool) float64 {
	used := 0
	for _, f := range fields {
		if !left[f] {
			used++
		}
	}
	if used < 12 || len(at) < 50 {
		return 0
	}
	var all [][]float64
	for i := 0; i < len(at); i += max(1, len(at)/300) {
		all = append(all, deviations(at[i], fields, left))
	}
	total := 0.0
	for _, v := range all {
		total += floats.Dot(v, v)
	}
	// A first look at no more than 48 fields, then the peak on all of them, to a tenth of what they resolve.
	short := min(len(fields), 48)
	grid := 4 * short
	best, most := 0.0, 0.0
	for j := 1; j <= grid/2; j++ {
		if v := power(all, short, float64(j)/float64(grid)); v > most {
			best, most = float64(j)/float64(grid), v
		}
	}
	for step := 1.0 / float64(2*grid); step > 0.05/float64(len(fields)); step /= 2 {
		for _, f := range [2]float64{best - step, best + step} {
			if v := power(all, len(fields), f); v > most*float64(len(fields))/float64(short) || len(fields) == short && v > most {
				best, most = f, v
			}
		}
	}
	if power(all, len(fields), best) < total/3 {
		return 0
	}
	return best
}

// deviations is a sample over time, less its mean, and 0 where it is left out.
func deviations(at int, fields []*video.Field, left map[*video.Field]bool) []float64 {
	out := make([]float64, len(fields))
	mean, n := 0.0, 0.0
	for k, f := range fields {
		if !left[f] {
			out[k] = float64(f.Y[at])
			mean, n = mean+out[k], n+1
		}
	}
	for k, f := range fields {
		if !left[f] {
			out[k] -= mean / n
		}
	}
	return out
}

// power is what a sinusoid takes of the first n values of each series, summed: twice the periodogram.
func power(all [][]float64, n int, frequency float64) float64 {
	sin, cos := math.Sincos(2 * math.Pi * frequency)
	sum := 0.0
	for _, series := range all {
		var re, im float64
		wr, wi := 1.0, 0.0
		for _, v := range series[:n] {
			re += v * wr
			im += v * wi
			wr, wi = wr*cos-wi*sin, wr*sin+wi*cos
		}
		sum += 2 * (re*re + im*im) / float64(n)
	}
	if math.Abs(frequency-0.5) < 1e-9 {
		sum /= 2
	}
	return sum
}

// flashing marks the cells that flash.
func (t *track) flashing(list []analyse.Cell) []bool {
	turns := make([]int, len(list))
	for i := range list {
		turns[i] = t.flashes(&list[i])
	}
	return together(turns, len(t.planes))
}

// together tells of cells, each by the field at which it turns as flash does, 0 for none, which flash: one counter turns them all, so that they do it at the same field,
// where cells that decay go by themselves.
func together(turns []int, fields int) []bool {
	count, of := make([]int, fields+1), 0
	for _, k := range turns {
		if k > 0 {
			count[k]++
			of++
		}
	}
	near := func(k int) (n int) {
		for d := max(k-flashTogether, 0); d <= min(k+flashTogether, fields); d++ {
			n += count[d]
		}
		return n
	}
	most := 0
	for k := range count {
		if near(k) > near(most) {
			most = k
		}
	}
	out := make([]bool, len(turns))
	for i, k := range turns {
		out[i] = k > 0 && (of < fewFlash || 2*near(most) > of && k >= most-flashTogether && k <= most+flashTogether)
	}
	return out
}

// So many fields apart cells that flash may seem to turn, for a frame's two fields may come in either order; and of fewer cells than these it is not asked. Common
// practice, no source.
const (
	flashTogether = 1
	fewFlash      = 4
)

// flashes is the field at which a cell turns, of which all pixels that move do so together and stay for as long as flash does; 0 where they do not.
func (t *track) flashes(c *analyse.Cell) (turn int) {
	step := 2 * t.least
	if !c.Single {
		step = math.Abs(t.p.Colours[c.Ink].Y-t.p.Colours[c.Paper].Y) * (t.s.Levels.White - t.s.Levels.Black)
	}
	if step < 2*t.least {
		return 0
	}
	// A flash of seven fields among a hundred and twenty-eight has a twentieth of the step squared as its variance; nothing of a
	// cell that stands still comes near.
	most := 0.0
	for y := range 8 {
		for x := range 8 {
			at, ok := t.at(c, x, y)
			if !ok {
				return 0
			}
			most = math.Max(most, float64(t.s.Stack.VarY[at]))
		}
	}
	if most < 0.02*step*step {
		return 0
	}
	// The sum over the cell of each pixel's movement, by which way ink and paper lie.
	sum := make([]float64, len(t.planes))
	for y := range 8 {
		for x := range 8 {
			at, ok := t.at(c, x, y)
			if !ok {
				return 0
			}
			sign := 1.0
			if c.Bits[y]>>(7-x)&1 == 1 {
				sign = -1
			}
			if !c.Single && t.p.Colours[c.Ink].Y < t.p.Colours[c.Paper].Y {
				sign = -sign
			}
			for k, plane := range t.planes {
				sum[k] += sign * (float64(plane[at]) - float64(t.planes[0][at])) / 64
			}
		}
	}
	other := func(k int) bool { return math.Abs(sum[k]) > 0.6*step }
	if !lasting(len(sum), other) {
		return 0
	}
	for k := range sum {
		if other(k) && (k+1 == len(sum) || other(k+1)) { // one field by itself may stand in the wrong place
			return max(k, 1)
		}
	}
	return 0
}

// at is a pixel's place in a field.
func (t *track) at(c *analyse.Cell, x, y int) (int, bool) {
	row, column := t.rows[c.Row*8+y], t.columns[c.Column*8+x]
	return row + column, row >= 0 && column >= 0
}
