package cells

import (
	"math"

	"backporch/analyse"
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
}

// weights gives ln of how much each colour explains a sight, and of all of it with what is odd.
func (w *scene) weights(dst []float64, s *sight, shown []video.YUV) (total float64) {
	total = s.odd()
	for j := range dst {
		dst[j] = math.Inf(-1)
	}
	if s.target >= 0 {
		dst[s.target] = s.fits(shown[s.target])
		return addLog(total, dst[s.target])
	}
	for j := range shown[:s.colours] {
		dst[j] = w.common[j] + s.fits(shown[j])
		total = addLog(total, dst[j])
	}
	return total
}

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
	best = math.Inf(-1)
	changed, shown := make([]video.YUV, len(w.palette)), make([]video.YUV, len(w.palette))
	for j, c := range w.palette {
		changed[j] = change(c)
	}
	part := make([]float64, len(w.palette))
	for k := range w.sights {
		w.sights[k].norm()
	}
	for i := range w.believe {
		b := &w.believe[i]
		t, last := b.centre, math.Inf(-1)
		for range 12 {
			for j := range changed {
				shown[j] = t.shown(changed[j])
			}
			sum := -b.unlikely(t)
			var luma, chroma normal2
			luma.add(1, 0, (b.centre.black-16)*topUnits, square(1/(b.black*topUnits)))
			luma.add(0, 1, b.centre.gain, 1/square(b.gain))
			sin, cos := math.Sincos(b.centre.hue * math.Pi / 180)
			chroma.add(cos, sin, b.centre.saturation, 1/square(b.size))
			chroma.add(-sin, cos, 0, 1/square(b.hue*math.Pi/180))
			for k := range w.sights {
				s := &w.sights[k]
				total := w.weights(part, s, shown)
				sum += total
				for j, v := range part {
					if v-total < leastPart {
						continue
					}
					r := math.Exp(v - total)
					if !(s.high && s.seen.Y < shown[j].Y || s.low && s.seen.Y > shown[j].Y) {
						luma.add(1, changed[j].Y, s.seen.Y, r/square(s.sy))
					}
					if s.chroma && s.cutU == 0 && s.cutV == 0 {
						chroma.add(changed[j].U, -changed[j].V, s.seen.U, r/square(s.sc))
						chroma.add(changed[j].V, changed[j].U, s.seen.V, r/square(s.sc))
					}
				}
			}
			if sum > best {
				best, at = sum, t
			}
			if sum < last+1e-3 {
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

// fits weighs every kind against a path where nothing is wrong.
func (w *scene) fits(colour bool) []analyse.ColourFit {
	if len(w.sights) == 0 {
		return nil
	}
	top := 1.0
	for _, s := range w.sights {
		top = math.Max(top, s.seen.Y)
	}
	good, _ := w.like(func(c video.YUV) video.YUV { return c })
	var out []analyse.ColourFit
	// A kind's likelihood is the mean over the amounts that it may have; its amount the best one.
	weigh := func(kind string, amounts []float64, change func(amount float64) func(video.YUV) video.YUV, read func(amount float64, t transform) float64, limit string) {
		gains, values := make([]float64, len(amounts)), make([]float64, len(amounts))
		best, value := math.Inf(-1), 0.0
		for i, a := range amounts {
			c, t := w.like(change(a))
			gains[i], values[i] = c-good, read(a, t)
			if gains[i] > best {
				best, value = gains[i], values[i]
			}
		}
		sum, squares, all := 0.0, 0.0, 0.0
		for i, g := range gains {
			share := 1.0
			if kind == "hue-shift" {
				share = math.Exp(-math.Abs(amounts[i]) / usualTurn)
			}
			e := share * math.Exp(g-best)
			all += share
			sum += e
			squares += e * square(values[i]-value)
		}
		spread := math.Sqrt(squares / sum)
		if len(amounts) > 1 {
			spread = math.Hypot(spread, (amounts[1]-amounts[0])/4)
		}
		out = append(out, analyse.ColourFit{
			Kind: kind, Gain: best + math.Log(sum/all),
			Amount: analyse.Estimate{Value: value, Spread: spread, Limit: limit},
		})
	}
	scaled := func(g float64) func(video.YUV) video.YUV {
		return func(c video.YUV) video.YUV { return video.YUV{Y: math.Min(g*c.Y, top), U: g * c.U, V: g * c.V} }
	}
	if colour {
		// Errors of a burst or a trimmer are more often some tens of degrees than half a turn.
		var degrees []float64
		for d := -170.0; d <= 180; d += 10 {
			if math.Abs(d) > 15 {
				degrees = append(degrees, d)
			}
		}
		weigh("hue-shift", degrees, func(d float64) func(video.YUV) video.YUV {
			sin, cos := math.Sincos(d * math.Pi / 180)
			return func(c video.YUV) video.YUV { return video.YUV{Y: c.Y, U: c.U*cos - c.V*sin, V: c.U*sin + c.V*cos} }
		}, func(d float64, t transform) float64 { return math.Mod(d+t.hue+540, 360) - 180 }, "chroma")
		weigh("colour-lost", []float64{0}, func(float64) func(video.YUV) video.YUV {
			return func(c video.YUV) video.YUV { return video.YUV{Y: c.Y} }
		}, func(float64, transform) float64 { return 0 }, "chroma")
	}
	weigh("level-high", steps(1.25, 1.75, 0.125), scaled, func(g float64, t transform) float64 { return g * t.gain }, "codes")
	weigh("level-low", steps(0.3, 0.75, 0.05), scaled, func(g float64, t transform) float64 { return g * t.gain }, "codes")
	weigh("clipping", steps(0.4, 0.9, 0.05), func(cut float64) func(video.YUV) video.YUV {
		return func(c video.YUV) video.YUV { return cutAt(c, cut) }
	}, func(cut float64, t transform) float64 { return cut * t.gain }, "codes")
	return out
}

func steps(from, to, by float64) []float64 {
	var out []float64
	for v := from; v < to+by/2; v += by {
		out = append(out, v)
	}
	return out
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
