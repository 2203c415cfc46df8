package cells

import (
	"math"
	"slices"

	"backporch/video"
)

// What can be wrong with all colours at once is weighed by the colours seen: each is one of the display's, nobody knows which, or, with
// a capture of the same screen on a good machine, the one that stands there. Hue turned, colour gone, the picture too
// large or too small against sync, or cut at a level: each is a map of the display's colours, and its likelihood a mixture over
// all that a colour may be, with the device's levels fitted and amounts averaged over.

// A scene is all that is seen, and the display's colours with how common each is.
type scene struct {
	sights  []sight
	palette []video.YUV
	common  []float64 // ln, by colour
	believe []believed
	even    []bool     // chroma is that of the colour alone; nil: of none
	finer   []fineness // what the sights may scatter by; nil: as they are
	blends  []blend    // what each colour is a mean of; nil: of itself
	fine    int        // the last so many of the palette are what fine patterns show as
	greys   [2]int     // the display's darkest and lightest, between which the mean of any pattern of greys lies
	start   float64    // of its usual gain, from where levels are looked for too; 0: from the usual alone
}

// weights gives ln of how much each colour explains a sight, of all of it with what is odd, and how much more fine patterns explain.
func (w *scene) weights(dst []float64, s *sight, shown []video.YUV, off []unsent) (total, fine float64) {
	total, fine = s.odd(), math.Inf(-1)
	if s.target >= 0 { // the others are not looked at
		dst[s.target] = s.fits(shown[s.target], unsent{})
		return addLog(total, dst[s.target]), fine
	}
	for j := range dst {
		dst[j] = math.Inf(-1)
	}
	display := len(shown) - w.fine
	for j := range shown[:s.colours] {
		dst[j] = w.common[j] + s.fits(shown[j], off[j])
		if j < display {
			total = addLog(total, dst[j])
		} else {
			fine = addLog(fine, dst[j])
		}
	}
	if s.colours > display && w.fine > 0 {
		fine = addLog(fine, math.Log(anyPart)+s.between(shown[w.greys[0]].Y, shown[w.greys[1]].Y))
	}
	return total, fine
}

// between is the log-density of a sight that is a mean of two greys in any parts.
func (s *sight) between(dark, light float64) float64 {
	if s.seen.Y < dark-s.sy || s.seen.Y > light+s.sy || light-dark < s.sy {
		return math.Inf(-1)
	}
	v := -math.Log(light - dark)
	if s.chroma {
		f := s.off(video.YUV{}, unsent{true, true})
		ln, _ := f.of(s.tails)
		v += s.counts() * ln
	}
	return v
}

// A screen is mostly drawn without patterns, so that few of its colours are a mean of two; where it is drawn in them, many are. Common practice, no source.
var styles = [2]struct{ share, fine float64 }{{0.9, fineShare}, {0.1, 0.4}}

// addLog is ln of the sum of two exponentials; what is less than e^-50 of the other is lost in its last digit.
func addLog(a, b float64) float64 {
	if a < b {
		a, b = b, a
	}
	if b-a < -50 || math.IsInf(b, -1) {
		return a
	}
	return a + math.Log1p(math.Exp(b-a))
}

// like is the log-likelihood of all sights and of the levels, at the levels that fit best (expectation and maximisation: Bishop,
// Pattern Recognition and Machine Learning, 9.4, from memory).
func (w *scene) like(change func(video.YUV) video.YUV) (best float64, at transform) {
	changed := w.changed(doing{change: change})
	w.start = 0
	best, at = w.likeShowing(changed)
	if w.finer != nil {
		return best, at
	}
	// Each colour is taken for the one that it is nearest to at first, which at another gain is another: what the doings try by their amounts, a good path's
	// devices have as well.
	for _, gain := range [2]float64{1 - gainSpread, 1 + gainSpread} {
		if v, t := w.likeScattered(changed, w.from(gain)); v > best+1e-3 {
			best, at, w.start = v, t, gain
		}
	}
	return best, at
}

// from are the levels to start at, by device, at so much of its usual gain.
func (w *scene) from(gain float64) []transform {
	starts := make([]transform, len(w.believe))
	for i := range starts {
		starts[i] = w.believe[i].centre
		starts[i].gain *= gain
	}
	return starts
}

// likeShowing is like with the colours that a change has made.
func (w *scene) likeShowing(changed []video.YUV) (like float64, at transform) {
	starts := w.from(1)
	if w.finer == nil {
		like, at = w.likeScattered(changed, starts)
		if w.start > 0 {
			if v, t := w.likeScattered(changed, w.from(w.start)); v > like {
				like, at = v, t
			}
		}
		return like, at
	}
	like = math.Inf(-1)
	most := math.Inf(-1)
	usual := w.sights
	defer func() { w.sights = usual }()
	w.sights = slices.Clone(usual)
	for _, y := range w.finer {
		for _, c := range w.finer {
			for k, s := range usual {
				w.sights[k].sy, w.sights[k].sc = y.part*s.meanY, math.Max(c.part*s.meanC, math.Min(s.meanC, flatC))
				w.sights[k].size, w.sights[k].turn = c.part*s.size, c.part*s.turn
			}
			v, t := w.likeScattered(changed, starts) // from where those that scatter more lie
			// Two levels each are fitted to luma and to chroma, the more closely the less scatters.
			if v += math.Log(y.share*c.share) + 2*math.Log(y.part*c.part); v > most {
				most, at = v, t
			}
			like = addLog(like, v)
		}
	}
	return like, at
}

// A fineness is a part of the usual scatter, and how often it is no more.
type fineness struct{ part, share float64 }

// finenesses are those of two captures of one screen by devices of one sort: what strokes and edges do to a mean is mostly alike in both. Common
// practice, no source.
var finenesses = []fineness{{1, 0.5}, {0.6, 0.3}, {0.4, 0.2}}

// likeScattered is likeShowing with the sights' scatters as they are. It looks from starts on, by device, and leaves there where it came to.
func (w *scene) likeScattered(changed []video.YUV, starts []transform) (best float64, at transform) {
	best = math.Inf(-1)
	shown := make([]video.YUV, len(changed))
	part, off := make([]float64, len(w.palette)), make([]unsent, len(w.palette))
	for j, even := range w.even {
		if even {
			off[j] = unsentOf(changed[j])
		}
	}
	for k := range w.sights {
		w.sights[k].norm()
	}
	for i := range w.believe {
		b := &w.believe[i]
		t, last, own, drawn := starts[i], math.Inf(-1), math.Inf(-1), 0
		for round := range 12 {
			for j := range changed {
				shown[j] = t.shown(changed[j])
			}
			var sums [len(styles)]float64
			var luma, chroma normal2
			luma.add(1, 0, (b.centre.black-16)*topUnits, square(1/(b.black*topUnits)))
			luma.add(0, 1, b.centre.gain, 1/square(b.gain))
			sin, cos := math.Sincos(b.centre.hue * math.Pi / 180)
			chroma.add(cos, sin, b.centre.saturation, 1/square(b.size))
			chroma.add(-sin, cos, 0, 1/square(b.hue*math.Pi/180))
			for k := range w.sights {
				s := &w.sights[k]
				plain, fine := w.weights(part, s, shown, off)
				total := plain
				if math.IsInf(fine, -1) {
					for k := range sums {
						sums[k] += plain
					}
				} else {
					for k, d := range styles {
						all := addLog(plain, math.Log(d.fine)+fine)
						sums[k] += all
						if k == drawn {
							total = all
						}
					}
				}
				first, end := 0, len(part)
				if s.target >= 0 {
					first, end = s.target, s.target+1
				}
				for j := first; j < end; j++ {
					v := part[j]
					if j >= len(part)-w.fine {
						v += math.Log(styles[drawn].fine)
					}
					if v-total < leastPart {
						continue
					}
					r := math.Exp(v - total)
					if !(s.high && s.seen.Y < shown[j].Y || s.low && s.seen.Y > shown[j].Y) {
						luma.add(1, changed[j].Y, s.seen.Y, r/square(s.sy))
					}
					if s.chroma {
						s.pull(&chroma, changed[j], shown[j], off[j], r)
					}
				}
			}
			for k, d := range styles {
				sums[k] += math.Log(d.share)
			}
			if drawn = 0; sums[1] > sums[0] {
				drawn = 1
			}
			sum := addLog(sums[0], sums[1]) - b.unlikely(t)
			if sum > best {
				best, at = sum, t
			}
			if sum > own {
				own, starts[i] = sum, t
			}
			if sum < last+1e-3 || round == 3 && sum < best-hopeless {
				break
			}
			last = sum
			black, gain, ok := luma.solve()
			re, im, fine := chroma.solve()
			if !ok || !fine {
				break
			}
			t = transform{16 + black/topUnits, gain, math.Hypot(re, im), math.Atan2(im, re) * 180 / math.Pi}
		}
	}
	return best, at
}

// pull adds to the equations of saturation and hue what a sight says of them where a colour is shown.
func (s *sight) pull(n *normal2, colour, shown video.YUV, off unsent, part float64) {
	f := s.off(shown, off)
	_, weight := f.of(s.tails)
	weight *= s.counts()
	u, v := shown.U+f.along*f.sizes*f.u-f.aside*f.turns*f.v, shown.V+f.along*f.sizes*f.v+f.aside*f.turns*f.u
	n.add(f.u*colour.U+f.v*colour.V, f.v*colour.U-f.u*colour.V, f.u*u+f.v*v, part*weight/square(f.sizes))
	n.add(f.u*colour.V-f.v*colour.U, f.u*colour.U+f.v*colour.V, f.u*v-f.v*u, part*weight/square(f.turns))
}

// beyond is what a colour difference is taken for that may be cut off at an end of the codes: as expected, where that lies beyond.
func beyond(seen, expected, cut float64) float64 {
	if cut*(seen-expected) < 0 {
		return expected
	}
	return seen
}

// hopeless is how much less likely than another a device's levels are that need not be fitted further, nats.
const hopeless = 12.0

// leastPart is ln of the part of a sight below which a colour has no say in the levels.
var leastPart = math.Log(1e-4)

// normal2 is the normal equations of two unknowns.
type normal2 struct{ aa, ab, bb, av, bv float64 }

func (n *normal2) add(a, b, v, w float64) {
	n.aa += w * a * a
	n.ab += w * a * b
	n.bb += w * b * b
	n.av += w * a * v
	n.bv += w * b * v
}

func (n *normal2) solve() (a, b float64, ok bool) {
	det := n.aa*n.bb - n.ab*n.ab
	if det <= 1e-12*n.aa*n.bb {
		return 0, 0, false
	}
	return (n.av*n.bb - n.bv*n.ab) / det, (n.bv*n.aa - n.av*n.ab) / det, true
}

// cutAt is a colour of which the composite signal, luma + chroma sine, was cut at a level: its mean and
// its fundamental are what a decoder sees.
func cutAt(c video.YUV, level float64) video.YUV {
	size := c.Saturation()
	if c.Y+size <= level {
		return c
	}
	const n = 24
	var mean, part float64
	for i := range n {
		s := math.Sin(2 * math.Pi * (float64(i) + 0.5) / n)
		v := math.Min(c.Y+size*s, level)
		mean += v / n
		part += 2 * v * s / n
	}
	out := video.YUV{Y: mean}
	if size > 0 {
		out.U, out.V = c.U*part/size, c.V*part/size
	}
	return out
}
