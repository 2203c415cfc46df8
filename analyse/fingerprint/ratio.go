package fingerprint

import (
	"math"
	"math/cmplx"
	"sort"

	"backporch/video"
	"backporch/video/display"
)

// A Ratio is one value that subcarrier over line frequency may have: whole cycles a field cannot be
// seen, so there are several.
type Ratio struct {
	PPM         float64 `json:"ppm"` // from the display's nominal ratio
	SD          float64 `json:"sd"`  // ppm
	Probability float64 `json:"probability"`
}

// widest is how far from the nominal ratio a machine's may be, ppm: two crystals of 100 ppm each.
const widest = 200

// usual is the spread of the ratio over machines, ppm: crystals of some 30 to 50 ppm each (common
// practice, no source).
const usual = 50

// overlap is how many tiles count as one observation: neighbours share samples, and edges run over
// several lines. Common practice, no source; a test holds it to how often the likeliest ratio is right.
const overlap = 8

// Ratios are the values that fit a crawl. Which of the possible ones it is shows in how the phase
// goes on from line to line. For that, what the subcarrier carried must be known at each place: it
// is in the decoded picture itself. At every candidate ratio the tones are fitted, by least squares,
// as the decoded colour there and around it through an unknown filter, times the phase that the line
// gives; the right one leaves least. A decoder that combs by modulating its own averaged colour anew
// makes luma edges turn at twice the step (625/50); those are fitted as such.
func (c *Crawl) Ratios(p *display.Profile) []Ratio {
	scan := p.Standard.Scan()
	nominal := scan.SubcarrierHz / p.LineHz()
	lines := float64(p.FieldLines)
	m := newModel(c, p.Standard)
	type candidate struct {
		ppm, log float64
		sd       float64
	}
	var all []candidate
	best := math.Inf(-1)
	for _, turns := range c.turns(p.Standard) {
		spacing := 1 / (lines * math.Abs(float64(turns)))
		step := c.Step / (lines * float64(turns))
		first := math.Ceil((nominal*(1-widest*1e-6) - step) / spacing)
		for ratio := step + first*spacing; ratio <= nominal*(1+widest*1e-6); ratio += spacing {
			ppm := (ratio/nominal - 1) * 1e6
			log := m.fit(ratio, turns) - ppm*ppm/2/usual/usual
			all = append(all, candidate{ppm, log, c.SD * spacing / nominal * 1e6})
			best = math.Max(best, log)
		}
	}
	total := 0.0
	for _, a := range all {
		total += math.Exp(a.log - best)
	}
	var out []Ratio
	for _, a := range all {
		if share := math.Exp(a.log-best) / total; share > 1e-4 {
			out = append(out, Ratio{PPM: a.ppm, SD: a.sd, Probability: share})
		}
	}
	sort.Slice(out, func(i, k int) bool { return out[i].Probability > out[k].Probability })
	return out
}

// turns are how often the tones may go round while the subcarrier does so once.
func (c *Crawl) turns(standard video.Standard) []int {
	switch {
	case c.colour && standard == video.Std625: // which lines have V the other way round is not known
		return []int{-1, 1}
	case c.colour:
		return []int{-1}
	case standard == video.Std625:
		return []int{1, 2}
	}
	return []int{1}
}

// A still is the mean of the fields.
type still struct {
	width, chromaWidth, height int
	y, cb, cr                  []float32
}

// mean adds fields up under a raised cosine. What turns from field to field, such as luma read as
// colour, then leaves no trace that would look like colour of its own, as it does in an even mean.
func mean(fields []*video.Field) *still {
	f := fields[0]
	s := &still{width: f.Width, chromaWidth: f.ChromaWidth, height: f.Height}
	add := func(dst *[]float32, src []uint8, w float32) {
		if *dst == nil {
			*dst = make([]float32, len(src))
		}
		for i, v := range src {
			(*dst)[i] += w * float32(v)
		}
	}
	n := float64(len(fields))
	for k, f := range fields {
		w := float32((1 - math.Cos(2*math.Pi*(float64(k)+0.5)/n)) / n)
		add(&s.y, f.Y, w)
		add(&s.cb, f.Cb, w)
		add(&s.cr, f.Cr, w)
	}
	return s
}

// taps of the filter: the tile's own place and its neighbours, on this line and those beside it.
const taps = 9

// A model holds what the fit needs of every tile.
type model struct {
	tiles  []tile
	weight []float64             // of each: so that a few strong ones don't outshout the rest
	colour [2][][taps]complex128 // by V switch: U + iV, or U - iV on every other line
	luma   [][taps]complex128    // luma about the subcarrier, conjugate
	mirror [][taps]complex128    // its conjugate
	read   bool                  // the tones are of luma read as colour
	energy float64
	count  float64 // tiles that hold the energy: its sum squared over the sum of its squares
	pal    bool
}

func newModel(c *Crawl, standard video.Standard) *model {
	s := c.still
	m := &model{pal: standard == video.Std625, read: c.colour}
	order := append([]tile(nil), c.tiles...)
	sort.Slice(order, func(i, k int) bool { return order[i].snr > order[k].snr })
	m.tiles = order[:min(len(order), fitTiles)]
	powers := make([]float64, len(m.tiles))
	for i, t := range m.tiles {
		powers[i] = sq(complex128(t.amp))
	}
	middle := median(append([]float64(nil), powers...))
	m.weight = make([]float64, len(m.tiles))
	for i := range powers {
		m.weight[i] = 1 / (powers[i] + middle + 1e-12)
	}
	d := newDemodulator(&video.Field{Width: s.width, Height: s.height}, standard)
	for k := range m.colour {
		m.colour[k] = make([][taps]complex128, len(m.tiles))
	}
	m.luma, m.mirror = make([][taps]complex128, len(m.tiles)), make([][taps]complex128, len(m.tiles))
	for i, t := range m.tiles {
		e := m.weight[i] * powers[i]
		m.energy += e
		m.count += e * e
		n := 0
		for _, dy := range []int{-1, 0, 1} {
			for _, dx := range []int{-tileStep, 0, tileStep} {
				x, y := t.x+dx, min(max(t.y+dy, 0), s.height-1)
				x = min(max(x, 0), s.width-tileWidth)
				c := s.colour(x+tileWidth/2, y)
				for k := range m.colour {
					v := c
					if m.pal && (t.y+k)%2 == 1 {
						v = cmplx.Conj(c)
					}
					m.colour[k][i][n] = v
				}
				m.mirror[i][n] = complex128(d.at(s.y[y*s.width:(y+1)*s.width], x))
				m.luma[i][n] = cmplx.Conj(m.mirror[i][n])
				n++
			}
		}
	}
	if m.count > 0 {
		m.count = m.energy * m.energy / m.count
	}
	return m
}

// colour is U + iV about a place, over a tile's width.
func (s *still) colour(x, y int) complex128 {
	if s.chromaWidth == 0 {
		return 0
	}
	var cb, cr, n float64
	half := tileWidth / 4 * s.chromaWidth / s.width
	at := x * s.chromaWidth / s.width
	for i := max(at-half, 0); i <= min(at+half, s.chromaWidth-1); i++ {
		cb += float64(s.cb[y*s.chromaWidth+i])
		cr += float64(s.cr[y*s.chromaWidth+i])
		n++
	}
	c := video.YUVOfCodes(16, cb/n, cr/n)
	return complex(c.U, c.V) * 219
}

// fit is the log-likelihood of a ratio, the noise unknown, over that of no relation at all.
func (m *model) fit(ratio float64, turns int) float64 {
	if len(m.tiles) < 4*taps || m.energy == 0 {
		return 0
	}
	switch {
	case turns == 2, m.read && turns == 1:
		return m.explained(m.luma, ratio, turns)
	case m.read:
		return m.explained(m.mirror, ratio, turns)
	}
	best := m.explained(m.colour[0], ratio, turns)
	if m.pal {
		best = math.Max(best, m.explained(m.colour[1], ratio, turns))
	}
	return best
}

// explained fits the tiles' tones by features through an unknown filter.
func (m *model) explained(features [][taps]complex128, ratio float64, turns int) float64 {
	var a [taps][taps]complex128
	var b [taps]complex128
	for i, t := range m.tiles {
		phase := ratio * float64(turns) * float64(t.y) // over x the carrier was taken out already
		want := complex128(t.amp) * cmplx.Rect(1, -2*math.Pi*(phase-math.Floor(phase)))
		f := &features[i]
		w := complex(m.weight[i], 0)
		for j := range taps {
			c := w * cmplx.Conj(f[j])
			b[j] += c * want
			for k := range taps {
				a[j][k] += c * f[k]
			}
		}
	}
	trace := 0.0
	for j := range taps {
		trace += real(a[j][j])
	}
	if trace == 0 {
		return 0
	}
	for j := range taps {
		a[j][j] += complex(1e-3*trace/taps, 0) // neighbours are alike: keep the filter small
	}
	x := solve(a, b)
	explained := 0.0
	for j := range taps {
		explained += real(cmplx.Conj(x[j]) * b[j])
	}
	rest := max(1-explained/m.energy, 1e-6)
	return -m.count / overlap * math.Log(rest)
}

// solve is Gaussian elimination; the matrix is Hermitian and positive definite, so that no pivoting
// is needed.
func solve(a [taps][taps]complex128, b [taps]complex128) [taps]complex128 {
	for j := range taps {
		for k := j + 1; k < taps; k++ {
			f := a[k][j] / a[j][j]
			for n := j; n < taps; n++ {
				a[k][n] -= f * a[j][n]
			}
			b[k] -= f * b[j]
		}
	}
	for j := taps - 1; j >= 0; j-- {
		for n := j + 1; n < taps; n++ {
			b[j] -= a[j][n] * b[n]
		}
		b[j] /= a[j][j]
	}
	return b
}
