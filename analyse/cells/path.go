package cells

import (
	"math"
	"slices"

	"backporch/analyse"
	"backporch/video"
	"backporch/video/display"
)

// What can be wrong with all colours at once is weighed by the colours seen: each is one of the display's, nobody knows which, or, with
// a capture of the same screen on a good machine, the one that stands there. Hue turned, colour gone, the picture too
// large or too small against sync, or cut at a level: each is a map of the display's colours, and its likelihood a mixture over
// all that a colour may be, with the device's levels fitted and amounts averaged over.

// A sight is one colour as seen, parts of white, chroma as U and V.
type sight struct {
	seen       video.YUV
	sy, sc     float64 // scatter of luma and of chroma
	chroma     bool    // false: only luma is known
	target     int     // the colour that stands there; -1: one of the first so many
	colours    int
	whole      bool    // of the border: too large to be misread
	low, high  bool    // luma is at an end of the codes: it may be less, or more
	cutU, cutV float64 // the sign of a colour difference that is at an end of the codes; 0: it is not
	normY      float64 // ln of the densities' norms, see norm
	normC      float64
}

// norm works out what the scatters alone say, for fits.
func (s *sight) norm() {
	s.normY, s.normC = math.Log(s.sy*math.Sqrt(2*math.Pi)), math.Log(2*math.Pi*square(s.sc))
}

const (
	oddSight  = 0.01  // how often a colour is none of the display's: misread, or another fault's
	oddBorder = 1e-3  // and how often a border's is
	fineShare = 0.03  // how often one is a pattern too fine to be seen
	borderC   = 0.03  // scatter of a border's chroma: no edge is near
	fewCells  = 2.5   // cells that a colour needs to say anything
	plainGrey = 2.0   // how much commoner each grey is on screens than each colour
	usualTurn = 60.0  // degrees
	endCode   = 253.5 // from here on luma is cut off
	topUnits  = 1 / 219.0
	besideCut = 0.04 // of white: how much worse luma is known beside what is cut off
)

// sightOf takes codes to parts of white.
func sightOf(y, cb, cr float64) sight {
	s := sight{seen: video.YUVOfCodes(y, cb, cr), target: -1, low: y < 1.5, high: y > endCode}
	cut := func(v float64) float64 {
		switch {
		case v < 2:
			return -1
		case v > 253:
			return 1
		}
		return 0
	}
	s.cutU, s.cutV = cut(cb), cut(cr)
	return s
}

// A believed is where a device's levels lie: Gaussian priors.
type believed struct {
	centre                 transform
	black, gain, size, hue float64 // deviations
	cost                   float64 // nats, for being this kind of device
}

// unlikely is minus the log-density of a transform, but for a constant.
func (b *believed) unlikely(t transform) float64 {
	return b.cost + (square((t.black-b.centre.black)/b.black)+square((t.gain-b.centre.gain)/b.gain)+
		square((t.saturation-b.centre.saturation)/b.size)+square((t.hue-b.centre.hue)/b.hue))/2
}

// fullCost is minus ln of how often a device gives codes of the full range: JPEG's are so by definition (ITU-T T.871), and drivers leave it at that
// or turn it back. Common practice, no source.
const fullCost = 1.5

// How far a good chain's hue is off, degrees. In 625/50 V changes sides from line to line, so that an error of phase pales colours
// and does not turn them (ITU-R BT.470), and devices have no setting of it. Sizes: common practice, no source.
const ownHue, ownHueSwitched = 4.5, 3.5

// devices are the priors of a capture that nothing is compared with.
func devices(p *display.Profile, blanking float64) []believed {
	hue := ownHue
	if p.Standard == video.Std625 {
		hue = ownHueSwitched
	}
	limited := believed{transform{16, 1, 1, 0}, blackSpread, gainSpread, saturationSpread, hue, 0}
	full := believed{transform{0, 255.0 / 219, 255.0 / 224, 0}, blackSpread, gainSpread * 255 / 219, saturationSpread, hue, fullCost}
	if !math.IsNaN(blanking) && p.Standard == video.Std625 { // 525/60 may have a pedestal
		for _, b := range []*believed{&limited, &full} {
			// The product of two Gaussians, and what they lie apart by.
			w, v := 1/square(b.black), 1/square(3.0)
			b.cost += square(b.centre.black-blanking) / (square(b.black) + 9) / 2
			b.centre.black = (w*b.centre.black + v*blanking) / (w + v)
			b.black = 1 / math.Sqrt(w+v)
		}
	}
	return []believed{limited, full}
}

// shown is a colour as a device with these levels gives it.
func (t transform) shown(c video.YUV) video.YUV {
	sin, cos := math.Sincos(t.hue * math.Pi / 180)
	return video.YUV{
		Y: (t.black-16)*topUnits + t.gain*c.Y,
		U: t.saturation * (cos*c.U - sin*c.V), V: t.saturation * (sin*c.U + cos*c.V),
	}
}

// fits is the log-density of a sight where this colour is shown.
func (s *sight) fits(c video.YUV) float64 {
	d := s.seen.Y - c.Y
	if s.high && d < 0 || s.low && d > 0 {
		d = 0
	}
	sum := -square(d/s.sy)/2 - s.normY
	if s.chroma {
		u, v := s.seen.U-c.U, s.seen.V-c.V
		if s.cutU*u < 0 {
			u = 0
		}
		if s.cutV*v < 0 {
			v = 0
		}
		sum -= (square(u)+square(v))/(2*square(s.sc)) + s.normC
	}
	return sum
}

// odd is the log-density of a sight that is none of the colours: anything.
func (s *sight) odd() float64 {
	v := math.Log(oddSight)
	if s.whole {
		v = math.Log(oddBorder)
	}
	if s.chroma { // U and V reach to 0.44 and 0.62 of white (ITU-R BT.601 codes)
		v -= math.Log(4 * 0.44 * 0.62)
	}
	return v
}

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

// newScene is a capture's colours by themselves.
func newScene(clusters []spot, p *display.Profile, blanking float64) *scene {
	w := &scene{believe: devices(p, blanking)}
	total := 0.0
	for _, c := range p.Colours {
		w.palette = append(w.palette, c.YUV)
		v := 1.0
		if c.Saturation() < 0.02 {
			v = plainGrey
		}
		w.common = append(w.common, v)
		total += v
	}
	for j, v := range w.common {
		w.common[j] = math.Log(v / total)
	}
	// A pattern as fine as a decoder's notch shows as the mean of its colours, in most cases two greys.
	var greys []video.YUV
	for j, c := range p.Colours {
		if c.Saturation() < 0.02 && (p.Kind == display.Text || j&7 == 0 || j&7 == 7) {
			greys = append(greys, c.YUV)
		}
	}
	colours := len(w.palette)
	for i, a := range greys {
		for _, b := range greys[:i] {
			if a.Y-b.Y > 0.3 {
				w.palette = append(w.palette, video.YUV{Y: (a.Y + b.Y) / 2})
			}
		}
	}
	for range w.palette[colours:] {
		w.common = append(w.common, math.Log(fineShare/float64(len(w.palette)-colours)))
	}
	for _, c := range clusters {
		// Strokes are blurred: their luma is no good measure of a level.
		if c.fine || !(c.weight > fewCells && !c.stroke || c.weight > 10*fewCells) {
			continue
		}
		s := sightOf(math.Min(c.y, 254.5), c.cb, c.cr) // no code is more: what is read above it is sharpened
		s.whole = c.border
		s.sy, s.sc, s.colours = spotY, math.Hypot(spotC, c.blur), len(w.palette)
		if c.stroke {
			s.sy *= 2
		}
		// Between other colours: theirs is mixed in.
		s.chroma = c.chroma >= 0.2*c.weight && s.sc < 3*spotC
		if c.border {
			s.sc = math.Hypot(borderC, c.blur)
			if s.colours = colours; p.Kind == display.Attr { // no pattern is in a border
				s.colours = 8
			}
		}
		// What is the same colour again tells nothing new.
		again := slices.IndexFunc(w.sights, func(o sight) bool {
			return math.Abs(o.seen.Y-s.seen.Y) < spotY/1.5 && (!s.chroma || o.chroma && math.Hypot(o.seen.U-s.seen.U, o.seen.V-s.seen.V) < spotC)
		})
		if again >= 0 {
			w.sights[again].colours = min(w.sights[again].colours, s.colours)
			w.sights[again].whole = w.sights[again].whole || s.whole
			continue
		}
		w.sights = append(w.sights, s)
	}
	// Where codes are cut off, what lies beside is misread with them.
	if slices.ContainsFunc(w.sights, func(s sight) bool { return s.low || s.high }) {
		for i := range w.sights {
			w.sights[i].sy = math.Hypot(w.sights[i].sy, besideCut)
		}
	}
	return w
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

// spots are the colours of the capture, for measures of all of them.
func (r *reader) spots(clusters []spot) []analyse.Spot {
	out := make([]analyse.Spot, 0, len(clusters))
	for _, c := range clusters {
		i, d := nearest(c, r.transform, r.p)
		if d > farSpot {
			i = -1
		}
		out = append(out, analyse.Spot{
			Y: c.y, Cb: c.cb, Cr: c.cr, Weight: c.weight, Chroma: c.chroma, Stroke: c.stroke, Border: c.border, Index: i,
		})
	}
	return out
}

// farSpot is how far from every colour of the display one is none of them: the square of so many scatters.
const farSpot = 14
