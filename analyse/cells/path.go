package cells

import (
	"math"
	"slices"

	"backporch/analyse"
	"backporch/video"
	"backporch/video/display"
)

// pathFits weighs what can be wrong with all colours at once, by how well the colours seen fit the display's
// with hue turned, colour gone, the picture too large or too small against sync, or cut at a level.
func pathFits(clusters []spot, p *display.Profile, plain transform, blanking float64, colour bool) []analyse.ColourFit {
	top := 1.0
	var seen []spot
	for _, c := range clusters {
		c.y = math.Min(c.y, 254.5) // no code is more: what is read above it is sharpened
		if c.chroma < 0.2*c.weight {
			c.chroma = 0 // between other colours: theirs is mixed in
		}
		// Strokes are blurred: their luma is no measure of a level.
		if c.weight > fewCells && !c.stroke || c.weight > 10*fewCells {
			seen = append(seen, c)
			top = math.Max(top, (c.y-16)/219)
		}
	}
	if len(seen) == 0 {
		return nil
	}
	share := func(spot) float64 { return 4 }
	misfit := func(q *display.Profile, t transform) (float64, transform) {
		best := pathCost(seen, q, t, blanking)
		for range 4 {
			next := refine(seen, t, q, share, blanking)
			c := pathCost(seen, q, next, blanking)
			if c >= best-1e-6 {
				break
			}
			t, best = next, c
		}
		return best, t
	}
	usual := []transform{{16, 1, 1, 0}, {0, 255.0 / 219, 1, 0}, plain}
	least := func(q *display.Profile) (float64, transform) {
		best, at := math.Inf(1), transform{}
		for _, start := range usual {
			if c, t := misfit(q, start); c < best {
				best, at = c, t
			}
		}
		return best, at
	}
	good, _ := least(p)
	var out []analyse.ColourFit
	// A kind's likelihood is the mean over the amounts that it may have; its amount the best one.
	weigh := func(kind string, amounts []float64, change func(float64) *display.Profile, read func(amount float64, t transform) float64, limit string) {
		gains := make([]float64, len(amounts))
		best, spread := math.Inf(-1), 0.0
		var value float64
		for i, a := range amounts {
			c, t := least(change(a))
			gains[i] = (good - c) / 2
			if gains[i] > best {
				best, value = gains[i], read(a, t)
			}
		}
		sum, square_ := 0.0, 0.0
		for i, g := range gains {
			w := math.Exp(g - best)
			sum += w
			square_ += w * square(amounts[i]-value)
		}
		if len(amounts) > 1 {
			spread = math.Sqrt(square_/sum + square((amounts[1]-amounts[0])/4))
		}
		out = append(out, analyse.ColourFit{
			Kind: kind, Gain: best + math.Log(sum/float64(len(gains))),
			Amount: analyse.Estimate{Value: value, Spread: spread, Limit: limit},
		})
	}
	changed := func(f func(video.YUV) video.YUV) *display.Profile {
		q := *p
		q.Colours = slices.Clone(p.Colours)
		for i := range q.Colours {
			q.Colours[i].YUV = f(q.Colours[i].YUV)
		}
		return &q
	}
	scaled := func(g float64) *display.Profile {
		return changed(func(c video.YUV) video.YUV { return video.YUV{Y: math.Min(g*c.Y, top), U: g * c.U, V: g * c.V} })
	}
	if colour {
		var degrees []float64
		for d := -170.0; d <= 180; d += 10 {
			if math.Abs(d) > 15 {
				degrees = append(degrees, d)
			}
		}
		weigh("hue-shift", degrees, func(d float64) *display.Profile {
			sin, cos := math.Sincos(d * math.Pi / 180)
			return changed(func(c video.YUV) video.YUV { return video.YUV{Y: c.Y, U: c.U*cos - c.V*sin, V: c.U*sin + c.V*cos} })
		}, func(d float64, t transform) float64 { return d + t.hue }, "chroma")
		weigh("colour-lost", []float64{0}, func(float64) *display.Profile {
			return changed(func(c video.YUV) video.YUV { return video.YUV{Y: c.Y} })
		}, func(float64, transform) float64 { return 0 }, "chroma")
	}
	weigh("level-high", steps(1.2, 1.8, 0.1), scaled, func(g float64, t transform) float64 { return g * t.gain }, "codes")
	weigh("level-low", steps(0.3, 0.75, 0.05), scaled, func(g float64, t transform) float64 { return g * t.gain }, "codes")
	weigh("clipping", steps(0.4, 0.9, 0.05), func(cut float64) *display.Profile {
		return changed(func(c video.YUV) video.YUV { return cutAt(c, cut) })
	}, func(cut float64, t transform) float64 { return cut * t.gain }, "codes")
	return out
}

// pathLimit is as much as one colour says, twice nats: some are misread. fewCells is how many cells a
// colour needs to say anything.
const (
	pathLimit = 14
	fewCells  = 2.5
)

// pathCost is twice the negative log-likelihood of the colours under a transform.
func pathCost(seen []spot, p *display.Profile, t transform, blanking float64) float64 {
	sum := t.unlikely(p, blanking)
	targets := make([][3]float64, len(p.Colours))
	for i, c := range p.Colours {
		targets[i][0], targets[i][1], targets[i][2] = t.codes(c.YUV)
	}
	for _, c := range seen {
		colours, scatter := targets, 219*spotY
		if c.border && p.Kind == display.Attr {
			colours = targets[:8]
		}
		if c.stroke {
			scatter *= 2
		}
		trust := math.Min(1, c.chroma/8)
		least := float64(pathLimit)
		for _, k := range colours {
			d := square((c.y - k[0]) / scatter)
			if trust > 0 {
				d += trust * (square((c.cb-k[1])/(224*spotC)) + square((c.cr-k[2])/(224*spotC)))
			}
			least = math.Min(least, d)
		}
		sum += least
	}
	return sum
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
		if d > pathLimit {
			i = -1
		}
		out = append(out, analyse.Spot{
			Y: c.y, Cb: c.cb, Cr: c.cr, Weight: c.weight, Chroma: c.chroma, Stroke: c.stroke, Border: c.border, Index: i,
		})
	}
	return out
}
