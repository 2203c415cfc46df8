package cells

import (
	"math"

	"backporch/analyse"
	"backporch/video"
)

// A doing is one thing that a path may do to all colours, at one strength.
type doing struct {
	amount float64
	chroma float64 // how many times its size chroma is; 0: as luma is
	share  float64 // of the kind's doings, before anything was seen
	cuts   cut
	change func(video.YUV) video.YUV
}

// A cut says where a doing that is not linear acts, which a mean of several colours does not show.
type cut int

const (
	nowhere  cut = iota
	machine      // on the composite signal, pixel by pixel
	anyCodes     // on the device's codes, sample by sample
)

// A blend is what a colour is the mean of, by what is known of it: pixels as the machine sends them and luma as a device samples it.
type blend struct {
	pixels  []part
	chroma  float64 // size of chroma as the colour itself is measured, of the pixels'
	samples []part
}

// A part of a blend is a colour, and how much of it there is; all of them add up to 1.
type part struct {
	colour video.YUV
	weight float64
}

// changed gives the colours as a doing leaves them. What is a mean of several is changed in each.
func (w *scene) changed(d doing) []video.YUV {
	out := make([]video.YUV, len(w.palette))
	for j, c := range w.palette {
		out[j] = d.change(c)
		if w.blends == nil {
			continue
		}
		switch b := &w.blends[j]; {
		case d.cuts == machine && len(b.pixels) > 0:
			was, is := mean(b.pixels, unaltered), mean(b.pixels, d.change)
			out[j] = video.YUV{Y: c.Y + is.Y - was.Y, U: c.U + (is.U-was.U)*b.chroma, V: c.V + (is.V-was.V)*b.chroma}
		case d.cuts == anyCodes && len(b.samples) > 0:
			out[j].Y += mean(b.samples, d.change).Y - d.change(mean(b.samples, unaltered)).Y
		}
	}
	return out
}

// mean is that of a blend's parts when changed.
func mean(parts []part, change func(video.YUV) video.YUV) (out video.YUV) {
	for _, p := range parts {
		c := change(p.colour)
		out.Y, out.U, out.V = out.Y+p.weight*c.Y, out.U+p.weight*c.U, out.V+p.weight*c.V
	}
	return out
}

// A judged kind is how well it fits, and its likeliest doing.
type judged struct {
	fit  analyse.ColourFit
	best doing
}

// fits weighs every kind against a path where nothing is wrong.
func (w *scene) fits(colour bool) []analyse.ColourFit {
	var out []analyse.ColourFit
	for _, k := range w.weigh(colour) {
		out = append(out, k.fit)
	}
	return out
}

// weigh is fits with the likeliest doing of each.
func (w *scene) weigh(colour bool) []judged {
	if len(w.sights) == 0 {
		return nil
	}
	top := 1.0
	for _, s := range w.sights {
		top = math.Max(top, s.seen.Y)
	}
	good, _ := w.like(unaltered)
	var out []judged
	// A kind's likelihood is the mean over the doings that it may be; its amount the likeliest one's.
	weigh := func(kind string, doings []doing, read func(d doing, t transform) float64, limit string) {
		gains, values := make([]float64, len(doings)), make([]float64, len(doings))
		best, at, sat := math.Inf(-1), 0, 1.0
		for i, d := range doings {
			c, t := w.likeShowing(w.changed(d))
			gains[i], values[i] = c-good+math.Log(d.share), read(d, t)
			if gains[i] > best {
				best, at, sat = gains[i], i, t.saturation
			}
		}
		sum, squares, all := 0.0, 0.0, 0.0
		for i, g := range gains {
			e := math.Exp(g - best)
			all += doings[i].share
			sum += e
			apart := values[i] - values[at]
			if kind == "hue-shift" {
				apart = math.Remainder(apart, 360)
			}
			squares += e * square(apart)
		}
		spread := math.Sqrt(squares / sum)
		if step := stepOf(doings); step > 0 {
			spread = math.Hypot(spread, step/4)
		}
		fit := analyse.ColourFit{
			Kind: kind, Gain: best + math.Log(sum/all),
			Amount: analyse.Estimate{Value: values[at], Spread: spread, Limit: limit},
		}
		if c := doings[at].chroma; c != 0 {
			fit.Chroma = c * sat
		}
		out = append(out, judged{fit, doings[at]})
	}
	if colour {
		weigh("hue-shift", turns(), func(d doing, t transform) float64 { return math.Mod(d.amount+t.hue+540, 360) - 180 }, "chroma")
		weigh("colour-lost", []doing{{share: 1, change: func(c video.YUV) video.YUV { return video.YUV{Y: c.Y} }}},
			func(doing, transform) float64 { return 0 }, "chroma")
	}
	sized := func(d doing, t transform) float64 { return d.amount * t.gain }
	// Up to twice: that of a line without its 75 ohm. What is less than a fifth off is told by a good machine's capture alone.
	high, low := append(steps(1.25, 1.75, 0.125), 2), steps(0.3, 0.75, 0.05)
	if w.blends != nil {
		high, low = steps(1.15, 1.95, 0.1), steps(0.3, 0.85, 0.05)
	}
	weigh("level-high", levels(high, top, colour), sized, "codes")
	weigh("level-low", levels(low, top, colour), sized, "codes")
	var cuts []doing
	for _, v := range steps(0.4, 0.9, 0.05) {
		cuts = append(cuts, doing{amount: v, share: 1, cuts: machine, change: func(c video.YUV) video.YUV { return cutAt(c, v) }})
	}
	weigh("clipping", cuts, sized, "codes")
	return out
}

// stepOf is how far the amounts of doings lie apart.
func stepOf(doings []doing) float64 {
	for _, d := range doings[1:] {
		if d.amount != doings[0].amount {
			return math.Abs(d.amount - doings[0].amount)
		}
	}
	return 0
}

// turns are those of all hues. Errors of a burst or a trimmer are more often some tens of degrees than half a turn.
func turns() []doing {
	var out []doing
	for d := -170.0; d <= 180; d += 10 {
		if math.Abs(d) < fineTurns {
			for _, d := range [2]float64{d - 2.5, d + 2.5} {
				if math.Abs(d) >= leastTurn {
					out = append(out, turn(d, 5))
				}
			}
			continue
		}
		out = append(out, turn(d, 10))
	}
	return out
}

// levels are a picture's sizes against sync, up to a device's top. Chroma goes with luma where the burst is of its right size, as when it is added behind the
// fault; where the burst has grown or shrunk with them, devices take chroma back by it.
func levels(amounts []float64, top float64, colour bool) []doing {
	var out []doing
	for _, chroma := range [2]bool{true, false} {
		for _, g := range amounts {
			d := doing{amount: g, share: 1 - burstToo, cuts: anyCodes}
			if chroma {
				d.change = func(c video.YUV) video.YUV { return video.YUV{Y: math.Min(g*c.Y, top), U: g * c.U, V: g * c.V} }
			} else {
				d.chroma, d.share = 1, burstToo
				d.change = func(c video.YUV) video.YUV { return video.YUV{Y: math.Min(g*c.Y, top), U: c.U, V: c.V} }
			}
			if g > 1 { // what is too large is cut off, by a device's luma or by its converter, which takes chroma with it
				d.share /= 2
				whole := d
				whole.cuts = machine
				whole.change = func(c video.YUV) video.YUV {
					c = cutAt(video.YUV{Y: g * c.Y, U: g * c.U, V: g * c.V}, top)
					if !chroma {
						c.U, c.V = c.U/g, c.V/g
					}
					return c
				}
				out = append(out, whole)
			}
			out = append(out, d)
		}
		if !colour {
			break
		}
	}
	return out
}

// burstToo is how often the burst has grown or shrunk with the picture. Common practice, no source.
const burstToo = 1.0 / 3

// turn is one by so many degrees, standing for all of a width about it.
func turn(degrees, width float64) doing {
	sin, cos := math.Sincos(degrees * math.Pi / 180)
	return doing{amount: degrees, share: width * math.Exp(-math.Abs(degrees)/usualTurn), change: func(c video.YUV) video.YUV {
		return video.YUV{Y: c.Y, U: c.U*cos - c.V*sin, V: c.U*sin + c.V*cos}
	}}
}

// fineTurns is up to where turns are taken finely, as a device's hue is known, degrees.
const fineTurns = 55.0

// leastTurn is what no device turns colours by, degrees, so that somebody looks for the fault; common practice, no source.
const leastTurn = 10.0

func steps(from, to, by float64) []float64 {
	var out []float64
	for v := from; v < to+by/2; v += by {
		out = append(out, v)
	}
	return out
}
