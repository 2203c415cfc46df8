package cells

import (
	"math"

	"backporch/analyse/grid"
	"backporch/video/display"
)

// chromaReach is how far a pixel's chroma spreads, pixels: a decoder's chroma
// bandwidth of 0.5 to 1.3 MHz is a Gaussian of some two to three pixels.
const chromaReach = 8

// chromaKernel is a Gaussian of the given standard deviation, pixels.
func chromaKernel(sd float64) (g [2*chromaReach + 1]float64) {
	sum := 0.0
	for i := range g {
		g[i] = math.Exp(-square(float64(i-chromaReach)/sd) / 2)
		sum += g[i]
	}
	for i := range g {
		g[i] /= sum
	}
	return g
}

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

// lumaStats gathers a cell's luma against its pattern, the neighbours' part
// taken off.
func (r *reader) lumaStats(row, column int) stats {
	var s stats
	m := r.model
	for y := range 8 {
		bits := r.bits[(row*8+y)*r.columns+column]
		base := (row*8+y)*m.stride + margin + column*8
		seen := m.seen.Row(row*8 + y)[margin+column*8:]
		for x := range 8 {
			var p, i, others float64
			for k := -reach; k <= reach; k++ {
				h := float64(m.half[max(k, -k)])
				at := x + k
				switch {
				case at < 0 || at > 7:
					others += h * float64(m.level[base+at])
				case bits>>(7-at)&1 == 1:
					i += h
				default:
					p += h
				}
			}
			if m.combed {
				p, i, others = r.besideStats(row, column, y, x, p, i, others)
			}
			s.add(p, i, float64(seen[x])-others)
		}
	}
	return s
}

// besideStats adds what the lines above and below do to a pixel.
func (r *reader) besideStats(row, column, y, x int, p, i, others float64) (float64, float64, float64) {
	m := r.model
	for side, taps := range m.lines {
		line := y - 1 + 2*side
		level := m.row(row*8 + line)
		for k := -reach; k <= reach; k++ {
			h, at := float64(taps[max(k, -k)]), x+k
			switch {
			case level == nil:
				others += h * float64(m.around)
			case line < 0 || line > 7 || at < 0 || at > 7:
				others += h * float64(level[margin+column*8+at])
			case r.bits[(row*8+line)*r.columns+column]>>(7-at)&1 == 1:
				i += h
			default:
				p += h
			}
		}
	}
	return p, i, others
}

// lineWeights are how much each line of a cell says of its colours. The first, which a decoder's delay line mixes with the
// row above, is left out. What fine patterns of luma leave in chroma turns by a quarter or half a cycle from line to line, with
// the line periods of all displays: the mean of four lines of the mean of four, a triangle, has nothing left of either.
var lineWeights = [8]float64{0, 1.0 / 16, 2.0 / 16, 3.0 / 16, 4.0 / 16, 3.0 / 16, 2.0 / 16, 1.0 / 16}

// columnMeans is a chroma plane averaged over the lines of a cell row.
func columnMeans(r *grid.Raster, row int, dst []float64) {
	clear(dst)
	for y, w := range lineWeights {
		if w > 0 {
			for x, v := range r.Row(row*8 + y) {
				dst[x] += w * float64(v)
			}
		}
	}
}

// chromaStats gathers a cell's column means of one colour difference.
func (r *reader) chromaStats(means []float64, c channel, border float64, row, column int) stats {
	var s stats
	ink := r.inkShare[row*r.columns*8 : (row+1)*r.columns*8]
	for x := range 8 {
		at := column*8 + x
		var p, i, others float64
		for k, g := range r.kernel {
			q := at + k - chromaReach
			switch {
			case q < 0 || q >= r.columns*8:
				others += g * border
			case q/8 == column:
				i += g * ink[q]
				p += g * (1 - ink[q])
			default:
				cell := row*r.columns + q/8
				others += g * (c.ink[cell]*ink[q] + c.paper[cell]*(1-ink[q]))
			}
		}
		s.add(p, i, means[margin+at]-others)
	}
	return s
}

// shares works out how much of each pixel column of each row of cells is ink.
func (r *reader) shares() {
	for row := range r.rows {
		for x := range r.columns * 8 {
			share := 0.0
			for y, w := range lineWeights {
				share += w * float64(r.bits[(row*8+y)*r.columns+x/8]>>(7-x%8)&1)
			}
			r.inkShare[row*r.columns*8+x] = share
		}
	}
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

// misfit is the negative log-likelihood, but for a constant, of a paper and an ink level: samples scatter
// with the given precision, and both levels may be off together with all of their samples. The offsets are
// integrated out (a Gaussian's marginal; Bishop, Pattern Recognition and Machine Learning, 2.3.3, from memory).
func (s *stats) misfit(paper, ink, precision, offset float64) float64 {
	gp := precision * (s.bp - s.pp*paper - s.pi*ink)
	gi := precision * (s.bi - s.pi*paper - s.ii*ink)
	own := 1 / (offset * offset)
	a, b, d := precision*s.pp+own, precision*s.pi, precision*s.ii+own
	return precision/2*s.squares(paper, ink) - (d*gp*gp-2*b*gp*gi+a*gi*gi)/(a*d-b*b)/2
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
// in nats, into dst by index of the pair.
func (r *reader) choose(dst []float64, list []pair, cell int, luma, cb, cr stats) {
	// Neighbouring samples err together: four luma samples, two chroma columns count as one.
	ly := 1 / (square(math.Max(lumaScatter, r.sigma)) * 4)
	lc := 4 / (square(math.Max(chromaScatter, r.sigma)) * 2)
	inks := r.inks[cell]
	even := r.p.Kind == display.Text && (inks == 0 || inks == 64)
	for k, q := range list {
		paper, ink := &r.target[q.paper], &r.target[q.ink]
		if even { // of one colour: the paper, or all of it ink
			paper = ink
		}
		score := luma.misfit(paper.y, ink.y, ly, lumaOffset)
		if r.colour {
			score += cb.misfit(paper.cb, ink.cb, lc, chromaOffset) + cr.misfit(paper.cr, ink.cr, lc, chromaOffset)
		}
		switch {
		case q.ink == q.paper || even:
		case inks == 0:
			score += 0.01 // an ink that does not show: the plainest reading first
		default:
			score += patternCost[inks]
		}
		dst[k] = score + r.rarity[k]
	}
}

// solid tells whether a cell of one colour shows an ink all over. The background of a Text display
// is the same everywhere, so that another colour is ink.
func (r *reader) solid(cell int, q pair) bool {
	return r.p.Kind == display.Text && r.inks[cell] == 0 && q.ink != q.paper
}
