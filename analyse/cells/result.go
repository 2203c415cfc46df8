package cells

import (
	"math"
	"slices"

	"backporch/analyse"
	"backporch/video/display"
)

// result turns the reader's state into cells with their odds.
func (r *reader) result(list []pair, s *analyse.Stack, reg analyse.Registration) *Result {
	r.fill()
	out := &Result{
		Cells: make([]analyse.Cell, r.rows*r.columns), Levels: r.transform.levels(), Sigma: r.sigma,
		PixelOdds: make([]float32, r.p.Width*r.p.Height), ColourOdds: make([]float32, r.rows*r.columns*8),
	}
	out.Levels.Components = r.components
	out.Fits, out.Spots, out.ChromaDelay = r.fits, r.colours, r.delay
	if !r.colour {
		out.Levels.Saturation = math.NaN()
	}
	scores := make([]float64, len(list))
	r.eachCell(func(cell int, luma, cb, cr stats) {
		r.choose(scores, list, cell, luma, cb, cr, mostOdds)
		r.finish(&out.Cells[cell], cell, list, scores, out.ColourOdds[cell*8:cell*8+8])
	})
	r.orient(out)
	r.thirds(out)
	r.pixelOdds(out)
	out.Border = r.readBorder(s, reg)
	return out
}

// mostOdds is as sure as anything is said to be, nats.
const mostOdds = 30

// finish fills one cell from the scores of its pairs.
func (r *reader) finish(c *analyse.Cell, cell int, list []pair, scores []float64, odds []float32) {
	best := lowest(scores)
	q := list[best]
	*c = analyse.Cell{Column: cell % r.columns, Row: cell / r.columns, Paper: q.paper, Ink: q.ink}
	for y := range 8 {
		c.Bits[y] = r.bits[(c.Row*8+y)*r.columns+c.Column]
	}
	if r.inks[cell] == 0 || q.ink == q.paper {
		c.Single, c.Ink, c.Bits = true, -1, [8]uint8{}
	} else if r.inks[cell] == 64 {
		c.Single, c.Paper, c.Ink, c.Bits = true, q.ink, -1, [8]uint8{}
	}
	next := math.Inf(1)
	for k, other := range list {
		differs := !r.p.Alike(other.paper, q.paper) || !c.Single && !r.p.Alike(other.ink, q.ink)
		if differs && scores[k] < next {
			next = scores[k]
		}
		d := float32(min(mostOdds, max(0, scores[k]-scores[best])))
		flips := byteOf(r.p, other) ^ byteOf(r.p, q)
		for b := range 8 {
			if flips>>b&1 == 1 && (odds[b] == 0 || d < odds[b]) {
				odds[b] = max(d, 1e-3)
			}
		}
	}
	c.Sure = float32(min(mostOdds, next-scores[best]))
	if c.Single && r.p.Kind == display.Attr {
		odds[0], odds[1], odds[2] = 0, 0, 0
	}
}

// byteOf is a pair as the colour byte or nibble holds it.
func byteOf(p *display.Profile, q pair) byte {
	if p.Kind == display.Text {
		return byte(q.ink)
	}
	return byte(q.paper&7)<<3 | byte(q.ink&7) | byte((q.paper|q.ink)&8)<<3
}

// orient decides which of a pair's colours is paper, alike in all cells of the
// screen that have this pair: the one that covers more.
func (r *reader) orient(out *Result) {
	if r.p.Kind == display.Text {
		return // one background: paper is known
	}
	cover := map[pair]int{} // pixels of the first colour less those of the second, first < second
	count := map[pair]int{} // cells
	key := func(c *analyse.Cell) (pair, int) {
		if c.Paper < c.Ink {
			return pair{c.Paper, c.Ink}, 1
		}
		return pair{c.Ink, c.Paper}, -1
	}
	for i := range out.Cells {
		if c := &out.Cells[i]; !c.Single {
			k, sign := key(c)
			cover[k] += sign * (64 - 2*r.inks[i])
			count[k]++
		}
	}
	// Where the pair's own cells leave it open, cells of one colour say which is paper elsewhere.
	for k, c := range cover {
		if c > 6*count[k] || c < -6*count[k] {
			continue
		}
		for i := range out.Cells {
			if c := &out.Cells[i]; c.Single {
				switch c.Paper {
				case k.paper:
					cover[k] += 8
				case k.ink:
					cover[k] -= 8
				}
			}
		}
	}
	for i := range out.Cells {
		c := &out.Cells[i]
		if c.Single {
			continue
		}
		if k, sign := key(c); sign*cover[k] < 0 {
			c.Paper, c.Ink = c.Ink, c.Paper
			for y := range c.Bits {
				c.Bits[y] = ^c.Bits[y]
			}
			o := out.ColourOdds[i*8 : i*8+8]
			for b := range 3 {
				o[b], o[b+3] = o[b+3], o[b]
			}
		}
	}
}

// thirds marks cells whose luma two colours do not explain, by the spread of
// all cells' misfits.
func (r *reader) thirds(out *Result) {
	m := r.model
	misfits := make([]float64, len(out.Cells))
	for i := range out.Cells {
		c := &out.Cells[i]
		sum := float32(0)
		for y := range 8 {
			at := (c.Row*8+y)*m.stride + margin + c.Column*8
			for _, e := range m.residual[at : at+8] {
				sum += e * e
			}
		}
		misfits[i] = math.Sqrt(float64(sum / 64))
		c.Misfit = float32(misfits[i])
	}
	sorted := slices.Sorted(slices.Values(misfits))
	middle := sorted[len(sorted)/2]
	upper := sorted[len(sorted)*9/10]
	// A lane of eight in another colour a tenth of white away has an rms of 219*0.1/sqrt(8) = 7.7.
	limit := math.Max(14, upper+4*(upper-middle))
	for i := range out.Cells {
		out.Cells[i].Third = misfits[i] > limit
	}
}

// pixelOdds says how sure each pixel's side is: what a change would add to the sum of
// squares, alone or with the next one or two pixels, whichever is least: a notch takes away just what tells
// an alternating pattern from its reverse. Four neighbouring samples count as two.
func (r *reader) pixelOdds(out *Result) {
	m := r.model
	one, two := m.overlap(1), m.overlap(2)
	scale := float32(1 / (2 * square(math.Max(3, r.sigma)) * 2))
	step := make([]float32, m.width+2)
	gain := make([]float32, m.width+2)
	lost := make([]float32, m.width+2)
	for line := range m.height {
		for x := range m.width {
			c := &out.Cells[line/8*r.columns+x/8]
			step[x], gain[x], lost[x] = 0, 0, float32(math.Inf(1))
			if c.Single {
				continue
			}
			if d := float32(r.target[c.Ink].y - r.target[c.Paper].y); d <= -8 || d >= 8 {
				step[x] = d
				if c.Bits[line%8]>>(7-x%8)&1 == 1 {
					step[x] = -d
				}
			}
			gain[x] = m.gain(line*m.stride+margin+x, step[x])
			lost[x] = -gain[x]
		}
		for x := range m.width {
			a, b, c := step[x], step[x+1], step[x+2]
			if a == 0 || b == 0 {
				continue
			}
			pair := -(gain[x] + gain[x+1] - 2*a*b*one)
			lost[x], lost[x+1] = min(lost[x], pair), min(lost[x+1], pair)
			if c != 0 {
				three := -(gain[x] + gain[x+1] + gain[x+2] - 2*(a*b+b*c)*one - 2*a*c*two)
				for k := range 3 {
					lost[x+k] = min(lost[x+k], three)
				}
			}
		}
		for x := range m.width {
			if !out.Cells[line/8*r.columns+x/8].Single {
				out.PixelOdds[line*m.width+x] = min(max(lost[x]*scale, 0.05), 30)
			}
		}
	}
}
