package survey

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"

	"backporch/analyse"
	"backporch/video"
	"backporch/video/display"
)

// A track follows pixels over time: it knows where they are, how much those of each sort move by themselves,
// and how fast the dots crawl.
type track struct {
	s      *analyse.Survey
	p      *display.Profile
	beside quiet
	least  float64
	usual  map[sort]float64 // standard deviation over time, codes
	crawl  float64          // cycles a field; 0: none found
	luma   []float64        // of the pixel at hand, field by field
	drawn  []uint8          // the picture as read, a palette index a pixel
}

// A sort of pixel: the colours of its cell, whether the subcarrier leaks in from beside it, and whether it lies at an edge, which
// moves where lines do.
type sort struct {
	paper, ink  int
	leaks, edge bool
}

func newTrack(s *analyse.Survey, p *display.Profile, fields, fewer []*video.Field) *track {
	left := map[*video.Field]bool{}
	for _, f := range fewer {
		left[f] = true
	}
	t := &track{s: s, p: p, usual: map[sort]float64{}, luma: make([]float64, len(fields)), beside: quiet{
		cells: s.Cells, columns: p.Columns(), border: s.Border.Colour, apart: func(a, b int) bool {
			u, v := p.Colours[a], p.Colours[b]
			return math.Hypot(u.U-v.U, u.V-v.V) > 0.1
		}}}
	t.drawn = ideal(s.Cells, p)
	t.least = max(24, 6*math.Sqrt(calm(s, p)))
	all := map[sort][]float32{}
	var leaking []int
	for i := range s.Cells {
		c := &s.Cells[i]
		for y := range 8 {
			for x := range 8 {
				if at, ok := t.at(c, x, y); ok {
					k := t.sort(c, x, y)
					v := s.Stack.VarY[at]
					all[k] = append(all[k], v)
					if k.edge { // what leaks there leaks further
						k.edge = false
						all[k] = append(all[k], v)
					}
					if t.leak(k) > 0 && float64(v) > t.least*t.least/16 {
						leaking = append(leaking, at)
					}
				}
			}
		}
	}
	t.crawl = crawlRate(leaking, fields, left)
	for k, v := range all {
		slices.Sort(v)
		most := t.leak(k)
		if k.edge {
			most += unsteadyEdge * (s.Levels.White - s.Levels.Black)
		}
		t.usual[k] = min(math.Sqrt(float64(v[len(v)*3/4])), most)
		if t.crawl > 0 {
			t.usual[k] /= 2 // what is left when the one frequency is taken away
		}
	}
	return t
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
	slices.Sort(border)
	return math.Min(stack.Variance(), 4*float64(border[len(border)/2]))
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

// series fills luma with a pixel over time, without the crawl where that may leak in, and without what a codec makes of
// the two fields that share a frame's blocks: less than part of the step that a changed bit makes.
func (t *track) series(at int, fields []*video.Field, c *analyse.Cell, x, y int, part float64) {
	var sum, n [2]float64
	for k, f := range fields {
		t.luma[k] = float64(f.Y[at])
		sum[f.Parity&1] += t.luma[k]
		n[f.Parity&1]++
	}
	if n[0] > 2 && n[1] > 2 {
		if d := (sum[1]/n[1] - sum[0]/n[0]) / 2; math.Abs(d) < part {
			for k, f := range fields {
				t.luma[k] += d * float64(1-2*(f.Parity&1))
			}
		}
	}
	leak := t.leak(t.sort(c, x, y))
	if t.crawl == 0 || leak == 0 {
		return
	}
	// Least squares of a level and a sinusoid, from the normal equations of the three.
	var m [3][4]float64
	for k, v := range t.luma {
		sin, cos := math.Sincos(2 * math.Pi * t.crawl * float64(k))
		row := [3]float64{1, cos, sin}
		for i := range row {
			for j := range row {
				m[i][j] += row[i] * row[j]
			}
			m[i][3] += row[i] * v
		}
	}
	m[2][2] += 1e-6 // two fields a cycle have no sine
	for i := range m {
		for j := range m {
			if j != i {
				f := m[j][i] / m[i][i]
				for k := range m[j] {
					m[j][k] -= f * m[i][k]
				}
			}
		}
	}
	a, b := m[1][3]/m[1][1], m[2][3]/m[2][2]
	if math.Hypot(a, b) > 6*leak {
		return // no leak is as strong
	}
	for k := range t.luma {
		sin, cos := math.Sincos(2 * math.Pi * t.crawl * float64(k))
		t.luma[k] -= a*cos + b*sin
	}
}

// leakage is the greatest part of a change of chroma that a decoder without a comb leaves in luma beside it,
// rms over time; common practice, no source.
const leakage = 0.12

// unsteadyEdge is how far a pixel at an edge moves at the most, as a part of white, rms over time, where lines do not lie quite
// still. Common practice, no source.
const unsteadyEdge = 0.1

// leak bounds how much pixels of a sort can move by the subcarrier, codes rms.
func (t *track) leak(k sort) float64 {
	apart := 0.0
	if k.paper >= 0 && k.ink >= 0 {
		u, v := t.p.Colours[k.paper], t.p.Colours[k.ink]
		apart = math.Hypot(u.U-v.U, u.V-v.V)
	}
	if k.leaks { // from colours beside it that are not looked up: the greatest there are
		apart = math.Max(apart, 0.6)
	}
	if apart < 0.1 {
		return 0
	}
	return leakage * apart * 219
}

// flashes tells whether all of a cell's pixels that move do so together and stay for as long as flash does.
func (t *track) flashes(c *analyse.Cell, fields []*video.Field) bool {
	step := 2 * t.least
	if !c.Single {
		step = math.Abs(t.p.Colours[c.Ink].Y-t.p.Colours[c.Paper].Y) * (t.s.Levels.White - t.s.Levels.Black)
	}
	if step < 2*t.least {
		return false
	}
	// A flash of seven fields among a hundred and twenty-eight has a twentieth of the step squared as its variance; nothing of a
	// cell that stands still comes near.
	most := 0.0
	for y := range 8 {
		for x := range 8 {
			at, ok := t.at(c, x, y)
			if !ok {
				return false
			}
			most = math.Max(most, float64(t.s.Stack.VarY[at]))
		}
	}
	if most < 0.02*step*step {
		return false
	}
	// The sum over the cell of each pixel's movement, by which way ink and paper lie.
	sum := make([]float64, len(fields))
	for y := range 8 {
		for x := range 8 {
			at, ok := t.at(c, x, y)
			if !ok {
				return false
			}
			sign := 1.0
			if c.Bits[y]>>(7-x)&1 == 1 {
				sign = -1
			}
			if !c.Single && t.p.Colours[c.Ink].Y < t.p.Colours[c.Paper].Y {
				sign = -sign
			}
			for k, f := range fields {
				sum[k] += sign * (float64(f.Y[at]) - float64(fields[0].Y[at])) / 64
			}
		}
	}
	return lasting(len(fields), func(k int) bool { return math.Abs(sum[k]) > 0.6*step })
}

// at is a pixel's place in a field.
func (t *track) at(c *analyse.Cell, x, y int) (int, bool) {
	reg, stack := t.s.Registration, t.s.Stack
	row := int(math.Round(reg.OriginY + float64(c.Row*8+y)*reg.PitchY))
	column := int(math.Round(reg.OriginX + (float64(c.Column*8+x)+0.5)*reg.PitchX))
	if row < 0 || row >= stack.Height || column < 0 || column >= stack.Width {
		return 0, false
	}
	return row*stack.Width + column, true
}

// edge tells whether a pixel of the picture has another colour on its line beside it.
func (t *track) edge(x, y int) bool {
	row := t.drawn[y*t.p.Width : (y+1)*t.p.Width]
	return x > 0 && row[x-1] != row[x] || x+1 < len(row) && row[x+1] != row[x]
}

// outermost tells whether a pixel lies against a cell, or a border, of another hue: what crawls there is that of one column of the
// cells' pixels, and no lane.
func (t *track) outermost(c *analyse.Cell, x int) bool {
	column := c.Column
	switch x {
	case 0:
		column--
	case 7:
		column++
	default:
		return false
	}
	if column < 0 || column >= t.beside.columns {
		return t.s.Border.Colour < 0 || t.beside.apart(t.s.Border.Colour, c.Paper) || !c.Single && t.beside.apart(t.s.Border.Colour, c.Ink)
	}
	n := &t.s.Cells[c.Row*t.beside.columns+column]
	return t.beside.apart(n.Paper, c.Paper) || !n.Single && (c.Single || n.Ink != c.Ink) && t.beside.apart(n.Ink, c.Paper)
}

func (t *track) sort(c *analyse.Cell, x, y int) sort {
	k := sort{c.Paper, c.Ink, t.beside.crawls(c, x, y), t.edge(c.Column*8+x, c.Row*8+y)}
	if c.Single {
		k.ink = -1
	}
	if t.p.Kind == display.Attr && k.ink >= 0 && k.ink < k.paper {
		k.paper, k.ink = k.ink, k.paper
	}
	return k
}

// threshold is how far a pixel must move to have changed, codes: six standard deviations of those like it.
func (t *track) threshold(c *analyse.Cell, x, y int) float64 {
	return max(t.least, 6*t.usual[t.sort(c, x, y)])
}

// quiet knows where the subcarrier leaks into luma.
type quiet struct {
	cells   []analyse.Cell
	columns int
	border  int
	apart   func(a, b int) bool // whether two palette colours differ in chroma
}

// crawls tells whether a pixel of a cell lies beside a change of hue, at the cell's side or, for a
// decoder that combs lines, above or below it or at its corner: there the subcarrier leaks into luma, another way in every field.
func (q quiet) crawls(c *analyse.Cell, x, y int) bool {
	differs := func(row, column int) bool {
		if row < 0 || column < 0 || column >= q.columns || row*q.columns >= len(q.cells) {
			return q.border < 0 || q.apart(q.border, c.Paper)
		}
		n := &q.cells[row*q.columns+column]
		return q.apart(n.Paper, c.Paper) || !n.Single && q.apart(n.Ink, c.Paper)
	}
	column, row := c.Column-1, c.Row-1
	if x >= 4 {
		column = c.Column + 1
	}
	if y >= 4 {
		row = c.Row + 1
	}
	return differs(c.Row, column) || (y < 2 || y > 5) && (differs(row, c.Column) || differs(row, column))
}
