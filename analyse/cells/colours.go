package cells

import (
	"math"

	"backporch/video/display"
)

// stats are what the sum of squares of one channel of one cell needs, for
// any two colours: seen = p*paper + i*ink + neighbours.
type stats struct{ pp, pi, ii, bp, bi, cc float64 }

func (s *stats) add(p, i, v float64) {
	s.pp += p * p
	s.pi += p * i
	s.ii += i * i
	s.bp += p * v
	s.bi += i * v
	s.cc += v * v
}

// squares is the sum of squares for a paper and an ink level.
func (s *stats) squares(paper, ink float64) float64 {
	return s.cc - 2*(s.bp*paper+s.bi*ink) + s.pp*paper*paper + 2*s.pi*paper*ink + s.ii*ink*ink
}

// solve is the least-squares paper and ink, held towards a start by a ridge.
func (s *stats) solve(paper, ink, ridge float64) (float64, float64) {
	a, b, d := s.pp+ridge, s.pi, s.ii+ridge
	u, v := s.bp+ridge*paper, s.bi+ridge*ink
	det := a*d - b*b
	if det <= 0 {
		return paper, ink
	}
	return (u*d - b*v) / det, (a*v - b*u) / det
}

// channel is one plane's paper and ink, by cell.
type channel struct{ paper, ink []float64 }

func newChannel(n int) channel { return channel{make([]float64, n), make([]float64, n)} }

// A pattern is how the pixels of a line of a cell mix, for each of them: what the filter takes of its paper and of its ink.
type pattern [8]struct{ paper, ink float64 }

// patterns are those of the lines met so far, by their bits.
type patterns struct {
	half  *[reach + 1]float32
	known [256]bool
	of    [256]pattern
}

// A mixing is the patterns of a line by itself and, behind a comb, of the lines above and below.
type mixing struct {
	own    patterns
	beside [2]patterns
}

func (m *model) mixing() *mixing {
	out := &mixing{own: patterns{half: &m.half}}
	for side := range out.beside {
		out.beside[side].half = &m.lines[side]
	}
	return out
}

// line gives the pattern of a line of a cell.
func (p *patterns) line(bits uint8) *pattern {
	out := &p.of[bits]
	if p.known[bits] {
		return out
	}
	p.known[bits] = true
	for x := range out {
		for at := max(0, x-reach); at <= min(7, x+reach); at++ {
			h := float64(p.half[max(at-x, x-at)])
			if bits>>(7-at)&1 == 1 {
				out[x].ink += h
			} else {
				out[x].paper += h
			}
		}
	}
	return out
}

// lumaStats gathers a cell's luma against its pattern, the neighbours' part
// taken off.
func (r *reader) lumaStats(known *mixing, row, column int) stats {
	var s stats
	m := r.model
	for y := range 8 {
		line := known.own.line(r.bits[(row*8+y)*r.columns+column])
		base := (row*8+y)*m.stride + margin + column*8
		seen := m.seen.Row(row*8 + y)[margin+column*8:]
		level := m.level[base-reach : base+8+reach]
		for x := range 8 {
			p, i, others := line[x].paper, line[x].ink, 0.0
			for at := x - reach; at < 0; at++ {
				others += float64(m.half[x-at]) * float64(level[at+reach])
			}
			for at := 8; at <= x+reach; at++ {
				others += float64(m.half[at-x]) * float64(level[at+reach])
			}
			if m.combed {
				p, i, others = r.besideStats(known, row, column, y, x, p, i, others)
			}
			s.add(p, i, float64(seen[x])-others)
		}
	}
	return s
}

// besideStats adds what the lines above and below do to a pixel.
func (r *reader) besideStats(known *mixing, row, column, y, x int, p, i, others float64) (float64, float64, float64) {
	m := r.model
	for side := range m.lines {
		taps, line := &m.lines[side], y-1+2*side
		level := m.row(row*8 + line)
		if level == nil {
			for k := -reach; k <= reach; k++ {
				others += float64(taps[max(k, -k)]) * float64(m.around)
			}
			continue
		}
		at, end := x-reach, x+reach // of the taps that lie in other cells
		level = level[margin+column*8-reach:]
		if line >= 0 && line < 8 {
			own := &known.beside[side].line(r.bits[(row*8+line)*r.columns+column])[x]
			p += own.paper
			i += own.ink
			for ; at < 0; at++ {
				others += float64(taps[x-at]) * float64(level[at+reach])
			}
			at = 8
		}
		for ; at <= end; at++ {
			others += float64(taps[max(at-x, x-at)]) * float64(level[at+reach])
		}
	}
	return p, i, others
}

// A pair of palette indices.
type pair struct{ paper, ink int }

// pairs lists what a cell of the display can hold; those of one colour are there
// too. background is the screen's one paper (Text).
func pairs(p *display.Profile, background int) []pair {
	var out []pair
	if p.Kind == display.Text {
		for ink := range p.Colours {
			out = append(out, pair{background, ink})
		}
		return out
	}
	for bright := 0; bright <= 8; bright += 8 {
		for paper := range 8 {
			for ink := range 8 {
				out = append(out, pair{bright + paper, bright + ink})
			}
		}
	}
	return out
}

// Scatter of one cell's samples about its colours, and of its colours as a whole about the display's, codes:
// what is left of blur, dot crawl and the codec's blocks beside noise, and of a display whose colours are not
// quite those of its profile. Common practice, no source.
const (
	lumaScatter   = 5.0
	chromaScatter = 7.0
	lumaOffset    = 2.0
	chromaOffset  = 4.0
)

// A weighed is the statistics of a channel of a cell with what its misfits have in common: samples scatter with the
// given precision, and both levels may be off together with all of their samples.
type weighed struct {
	stats
	precision, half float64
	a, b, d, det    float64
}

func (s *stats) weigh(precision, offset float64) weighed {
	own := 1 / (offset * offset)
	w := weighed{stats: *s, precision: precision, half: precision / 2}
	w.a, w.b, w.d = precision*s.pp+own, precision*s.pi, precision*s.ii+own
	w.det = w.a*w.d - w.b*w.b
	return w
}

// misfit is the negative log-likelihood, but for a constant, of a paper and an ink level. The offsets are
// integrated out (a Gaussian's marginal; Bishop, Pattern Recognition and Machine Learning, 2.3.3, from memory); it is never below 0.
func (w *weighed) misfit(paper, ink float64) float64 {
	gp := w.precision * (w.bp - w.pp*paper - w.pi*ink)
	gi := w.precision * (w.bi - w.pi*paper - w.ii*ink)
	return w.half*w.squares(paper, ink) - (w.d*gp*gp-2*w.b*gp*gi+w.a*gi*gi)/w.det/2
}

// settled is what a paper and an ink level are with what they are off by.
func (w *weighed) settled(paper, ink float64) (float64, float64) {
	gp := w.precision * (w.bp - w.pp*paper - w.pi*ink)
	gi := w.precision * (w.bi - w.pi*paper - w.ii*ink)
	return paper + (w.d*gp-w.b*gi)/w.det, ink + (w.a*gi-w.b*gp)/w.det
}

// chromaPrecision is that of a column of chroma samples.
func (r *reader) chromaPrecision() float64 {
	return 4 / (square(math.Max(chromaScatter, r.sigma)) * 2)
}

// patternCost is what it takes to say which pixels of a cell are ink, nats, by their number: ln of the ways there are. Dots that the
// subcarrier or a codec leaves on a cell of one colour have chosen their places from all of these.
var patternCost = func() (out [65]float64) {
	for n := range out {
		a, _ := math.Lgamma(65)
		b, _ := math.Lgamma(float64(n) + 1)
		c, _ := math.Lgamma(float64(64-n) + 1)
		out[n] = a - b - c
	}
	return out
}()

// choose weighs every pair for a cell; scores are negative log-likelihoods
// in nats, into dst by index of the pair. Those that lie more than slack above the least are too small, for then chroma, which
// can only add to them, is not looked at; but not so small that they would not lie there.
func (r *reader) choose(dst []float64, list []pair, cell int, luma, cb, cr stats, slack float64) {
	// Neighbouring samples err together: four luma samples, two chroma columns count as one.
	ly := 1 / (square(math.Max(lumaScatter, r.sigma)) * 4)
	lc := r.chromaPrecision()
	wy, wb, wr := luma.weigh(ly, lumaOffset), cb.weigh(lc, chromaOffset), cr.weigh(lc, chromaOffset)
	inks := r.inks[cell]
	even := r.p.Kind == display.Text && (inks == 0 || inks == 64)
	limit := math.Inf(1)
	weigh := func(k int) {
		q := list[k]
		paper, ink := &r.target[q.paper], &r.target[q.ink]
		if even { // of one colour: the paper, or all of it ink
			paper = ink
		}
		score := wy.misfit(paper.y, ink.y)
		if r.colour && score < limit {
			score += wb.misfit(paper.cb, ink.cb) + wr.misfit(paper.cr, ink.cr)
		}
		switch {
		case q.ink == q.paper || even:
		case inks == 0:
			score += 0.01 // an ink that does not show: the plainest reading first
		default:
			score += patternCost[inks]
		}
		dst[k] = score + r.rarity[k]
		if l := dst[k] + slack + 1e-3; l < limit {
			limit = l
		}
	}
	weigh(r.chosen[cell]) // likely the best again, which spares the others' chroma
	for k := range list {
		weigh(k)
	}
	r.chosen[cell] = lowest(dst)
}

// solid tells whether a cell of one colour shows an ink all over. The background of a Text display
// is the same everywhere, so that another colour is ink.
func (r *reader) solid(cell int, q pair) bool {
	return r.p.Kind == display.Text && r.inks[cell] == 0 && q.ink != q.paper
}
