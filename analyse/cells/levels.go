package cells

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"backporch/analyse"
	"backporch/video"
	"backporch/video/display"
)

// A spot is a colour as measured, in codes, with the number of pixels behind it.
type spot struct {
	y, cb, cr float64
	weight    float64
	chroma    float64 // weight of the colour differences, 0 where only luma is known
	stroke    bool    // seen in thin strokes alone, whose luma blur changes
	border    bool    // of the border, whose palette is half of an Attr display's
	fine      bool    // mostly of patterns as fine as a decoder's notch, which leaves their mean alone
	blur      float64 // standard uncertainty of its chroma beyond the usual scatter, parts of white
}

// cluster joins spots that lie within what blur and noise scatter.
func cluster(spots []spot) []spot {
	var out []spot
	slices.SortStableFunc(spots, func(a, b spot) int { return int(math.Copysign(1, b.weight-a.weight)) })
	for _, s := range spots {
		best, at := math.Inf(1), -1
		for i, c := range out {
			if c.border || s.border { // kept apart: it can have fewer colours
				continue
			}
			d := square((s.y - c.y) / 6)
			if s.chroma > 0 && c.chroma > 0 {
				d += square((s.cb-c.cb)/8) + square((s.cr-c.cr)/8)
			}
			if d < best {
				best, at = d, i
			}
		}
		if at < 0 || best > 1 {
			out = append(out, s)
			continue
		}
		c := &out[at]
		w := c.weight + s.weight
		c.stroke = c.stroke && s.stroke
		c.fine = c.fine && s.fine
		c.y += (s.y - c.y) * s.weight / w
		if q := c.chroma + s.chroma; q > 0 {
			c.cb += (s.cb - c.cb) * s.chroma / q
			c.cr += (s.cr - c.cr) * s.chroma / q
			c.chroma = q
		}
		c.weight = w
	}
	slices.SortStableFunc(out, func(a, b spot) int { return int(math.Copysign(1, b.weight-a.weight)) })
	if len(out) > 32 {
		out = out[:32]
	}
	return out
}

func square(x float64) float64 { return x * x }

// A transform takes the display's colours to this capture's codes.
type transform struct {
	black, gain     float64 // luma code = black + 219*gain*Y
	saturation, hue float64 // of chroma; degrees
}

// Where a capture's levels lie, as Gaussian priors (centre, standard deviation). Devices
// normalise gain on the sync height; some use the full range. Common practice, no source.
const (
	gainSpread       = 0.07
	blackSpread      = 5.0
	saturationSpread = 0.25
	hueSpread        = 8.0
	spotY, spotC     = 0.025, 0.05 // scatter of a colour about its target, parts of white
)

func (t transform) codes(c video.YUV) (y, cb, cr float64) {
	sin, cos := math.Sincos(t.hue * math.Pi / 180)
	return t.turned(c, sin, cos)
}

// turned is codes with the sine and cosine of the hue.
func (t transform) turned(c video.YUV, sin, cos float64) (y, cb, cr float64) {
	u, v := t.saturation*(cos*c.U-sin*c.V), t.saturation*(sin*c.U+cos*c.V)
	_, cb, cr = video.YUV{U: u, V: v}.Codes()
	return t.black + 219*t.gain*c.Y, cb, cr
}

// calibrate finds the transform under which the clusters fall on the palette best.
// blanking is the code of a blanked line part, NaN when none is seen.
func calibrate(clusters []spot, p *display.Profile, blanking float64) transform {
	prior := func(t transform) float64 { return t.unlikely(p, blanking) }
	// Chroma beyond the codes' ends is no measure but a solution: of strokes between other colours.
	clusters = slices.Clone(clusters)
	for i := range clusters {
		if c := &clusters[i]; c.cb < 0 || c.cb > 255 || c.cr < 0 || c.cr > 255 {
			c.chroma = 0
		}
	}
	total := 0.0
	for _, c := range clusters {
		total += c.weight
	}
	// Every colour counts by the root of its share, so that a border of 60 % does not outvote the rest; those of
	// less than a fiftieth are mostly parts of others, blurred.
	share := func(c spot) float64 {
		part := math.Min(c.weight/total, 0.5)
		return 10 * math.Min(math.Sqrt(part), part/math.Sqrt(0.02))
	}
	shares := make([]float64, len(clusters))
	for i, c := range clusters {
		shares[i] = share(c)
	}
	var seen shown
	best := transform{16, 1, 1, 0}
	bestCost := math.Inf(1)
	// cost is no longer added up where it is no better than the best.
	cost := func(t transform) float64 {
		sum := prior(t)
		seen = t.show(seen[:0], p)
		for i := range clusters {
			if sum >= bestCost {
				return sum
			}
			_, d := seen.nearest(&clusters[i], p)
			sum += shares[i] * math.Min(d, 25)
		}
		return sum
	}
	for _, black := range []float64{-4, 0, 4, 8, 12, 16, 20, 24} {
		for gain := 0.80; gain < 1.30; gain += 0.02 {
			for _, saturation := range []float64{1, 0.7, 1.3} {
				for _, hue := range []float64{0, -12, 12} {
					t := transform{black, gain, saturation, hue}
					if prior(t) > bestCost {
						continue
					}
					if c := cost(t); c < bestCost {
						best, bestCost = t, c
					}
				}
			}
		}
	}
	for range 6 {
		next := refine(clusters, best, p, share, blanking)
		c := cost(next)
		if c >= bestCost-1e-9 {
			break
		}
		best, bestCost = next, c
	}
	return best
}

// unlikely is what the levels cost by themselves, twice a negative log-likelihood.
func (t transform) unlikely(p *display.Profile, blanking float64) float64 {
	limited := square((t.black-16)/blackSpread) + square((t.gain-1)/gainSpread)
	full := square(t.black/blackSpread) + square((t.gain-255.0/219)/gainSpread) + 4
	cost := math.Min(limited, full) + square((t.saturation-1)/saturationSpread) + square(t.hue/hueSpread)
	if !math.IsNaN(blanking) && p.Standard == video.Std625 { // 525/60 may have a pedestal
		cost += square((t.black - blanking) / 3)
	}
	return cost
}

// held is the display with one colour signal of all its colours at nothing or at its greatest.
func held(p *display.Profile, component string, level int) *display.Profile {
	out := *p
	out.Colours = slices.Clone(p.Colours)
	for i := range out.Colours {
		out.Colours[i].YUV = holding(p, component, level, p.Colours[i].YUV)
	}
	return &out
}

// holding is a colour of the display so.
func holding(p *display.Profile, component string, level int, c video.YUV) video.YUV {
	chroma := 0.0
	for _, o := range p.Colours {
		chroma = math.Max(chroma, o.Saturation())
	}
	switch component {
	case "luma":
		c.Y = float64(level)
	case "cb":
		c.U = chroma * float64(level)
	case "cr":
		c.V = chroma * float64(level)
	}
	return c
}

// Apart sets what one colour signal held explains against what the path's doing explains: the colours of one screen speak for the one
// only as far as they do not for the other. Shares are those of the faults against good machines; common practice, no source.
func Apart(components []analyse.Component, fits []analyse.ColourFit) ([]analyse.Component, []analyse.ColourFit) {
	logic, path := 0.0, 0.0
	for _, c := range components {
		logic = addLog(logic, c.Gain+math.Log(heldShare))
	}
	for _, f := range fits {
		path = addLog(path, f.Gain+math.Log(pathShare))
	}
	components, fits = slices.Clone(components), slices.Clone(fits)
	for i := range components {
		components[i].Gain -= path
	}
	for i := range fits {
		fits[i].Gain -= logic
	}
	return components, fits
}

// signals are what such a display makes colour of.
var signals = [3]string{"luma", "cb", "cr"}

// primaries are what the others do, in the order of video.YUV's RGB.
var primaries = [3]string{"red", "green", "blue"}

// pathShare is how likely each of the path's doings is against a good one; common practice, no source.
const pathShare = 0.01

// gainLimit is as far as the colours of a screen speak against a held signal, nats.
const gainLimit = 30

// components weighs a colour signal that is held, where the display makes colour of luma and two colour differences, by the same
// colours as what the path may have done. It gives the display as it shows then, p itself if none is likelier by far.
func (w *scene) components(p *display.Profile, fits []analyse.ColourFit) ([]analyse.Component, *display.Profile) {
	if p.Kind != display.Text || len(w.sights) == 0 {
		return nil, p
	}
	good, _ := w.like(func(c video.YUV) video.YUV { return c })
	best, shown := surelyHeld, p
	for _, f := range fits { // a tenth as common as the path's doings
		best = math.Max(best, f.Gain+math.Log(pathShare/heldShare))
	}
	var out []analyse.Component
	for _, name := range signals {
		for level := range 2 {
			like, _ := w.like(func(c video.YUV) video.YUV { return holding(p, name, level, c) })
			gain := math.Max(-gainLimit, like-good)
			out = append(out, analyse.Component{Name: name, Level: level, Gain: gain})
			if gain > best {
				best, shown = gain, held(p, name, level)
			}
		}
	}
	return out, shown
}

// Held is the colour signal that is surely held, of those weighed; nil: none.
func Held(list []analyse.Component) *analyse.Component {
	var out *analyse.Component
	for i := range list {
		if c := &list[i]; c.Gain > surelyHeld && (out == nil || c.Gain > out.Gain) {
			out = c
		}
	}
	return out
}

// surelyHeld is the gain from which on the cells are read with the colours that are left, nats.
const surelyHeld = 6.0

// nearest is the palette colour next to a measured one, and the squared distance in
// units of the scatter.
func nearest(c spot, t transform, p *display.Profile) (index int, distance float64) {
	return t.show(nil, p).nearest(&c, p)
}

// A shown palette is the display's colours in a capture's codes.
type shown []side

// show appends them to dst.
func (t transform) show(dst shown, p *display.Profile) shown {
	sin, cos := math.Sincos(t.hue * math.Pi / 180)
	for i := range p.Colours {
		y, cb, cr := t.turned(p.Colours[i].YUV, sin, cos)
		dst = append(dst, side{y, cb, cr})
	}
	return dst
}

func (v shown) nearest(c *spot, p *display.Profile) (index int, distance float64) {
	distance = math.Inf(1)
	if c.border && p.Kind == display.Attr {
		v = v[:min(8, len(v))] // no bright ones
	}
	for i := range v {
		if d := c.apart(&v[i], distance); d < distance {
			index, distance = i, d
		}
	}
	return index, distance
}

func apart(c spot, t transform, target video.YUV) float64 {
	y, cb, cr := t.codes(target)
	return c.apart(&side{y, cb, cr}, math.Inf(1))
}

// apart is the squared distance of a measured colour from one in codes; limit or more where it is not less.
func (c *spot) apart(target *side, limit float64) float64 {
	scatter := 219 * spotY
	if c.stroke {
		scatter *= 2
	}
	d := square((c.y - target.y) / scatter)
	if c.chroma > 0 && d < limit {
		// A colour seen only in thin strokes has blurred chroma: count it less.
		trust := math.Min(1, c.chroma/8)
		d += trust * (square((c.cb-target.cb)/(224*spotC)) + square((c.cr-target.cr)/(224*spotC)))
	}
	return d
}

// refine solves for the transform with every cluster held to its nearest colour:
// luma and chroma are linear in (black, gain) and in (saturation cos, saturation sin).
func refine(clusters []spot, t transform, p *display.Profile, share func(spot) float64, blanking float64) transform {
	luma, chroma := mat.NewDense(2, 2, nil), mat.NewDense(2, 2, nil)
	lumaRight, chromaRight := mat.NewVecDense(2, nil), mat.NewVecDense(2, nil)
	add := func(m *mat.Dense, r *mat.VecDense, a, b, v, w float64) {
		m.Set(0, 0, m.At(0, 0)+w*a*a)
		m.Set(0, 1, m.At(0, 1)+w*a*b)
		m.Set(1, 0, m.At(1, 0)+w*a*b)
		m.Set(1, 1, m.At(1, 1)+w*b*b)
		r.SetVec(0, r.AtVec(0)+w*a*v)
		r.SetVec(1, r.AtVec(1)+w*b*v)
	}
	centreBlack, centreGain := 16.0, 1.0
	if t.black < 8 && t.gain > 1.08 {
		centreBlack, centreGain = 0, 255.0/219
	}
	add(luma, lumaRight, 1, 0, centreBlack, 1/square(blackSpread))
	if !math.IsNaN(blanking) && p.Standard == video.Std625 {
		add(luma, lumaRight, 1, 0, blanking, 1/square(3))
	}
	add(luma, lumaRight, 0, 1, centreGain, 1/square(gainSpread))
	add(chroma, chromaRight, 1, 0, 1, 1/square(saturationSpread))
	add(chroma, chromaRight, 0, 1, 0, 1/square(hueSpread*math.Pi/180))
	for _, c := range clusters {
		i, d := nearest(c, t, p)
		if d > 25 {
			continue
		}
		w, trust := share(c), 1.0
		if c.stroke {
			trust = 0.25
		}
		add(luma, lumaRight, 1, 219*p.Colours[i].Y, c.y, trust*w/square(219*spotY))
		if c.chroma > 0 {
			w *= math.Min(1, c.chroma/8) / square(spotC)
			seen := video.YUVOfCodes(0, c.cb, c.cr)
			u, v := p.Colours[i].U, p.Colours[i].V
			add(chroma, chromaRight, u, -v, seen.U, w)
			add(chroma, chromaRight, v, u, seen.V, w)
		}
	}
	var l, c mat.VecDense
	if l.SolveVec(luma, lumaRight) != nil || c.SolveVec(chroma, chromaRight) != nil {
		return t
	}
	return transform{
		black: l.AtVec(0), gain: l.AtVec(1),
		saturation: math.Hypot(c.AtVec(0), c.AtVec(1)), hue: math.Atan2(c.AtVec(1), c.AtVec(0)) * 180 / math.Pi,
	}
}

func (t transform) levels() analyse.Levels {
	return analyse.Levels{
		Black: t.black, White: t.black + 219*t.gain, Saturation: t.saturation, HueDeg: t.hue,
		Full: t.black < 8 && t.gain > 1.08,
	}
}
