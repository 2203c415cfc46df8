package signal

import (
	"math"

	"backporch/analyse"
	"backporch/video"
)

// sureFit is the gain from which on a path's doing is taken off before cells are read, nats, and surest how
// much more than any other's it must be.
const (
	sureFit   = 6.0
	surest    = 1.5
	surelyCut = 15.0 // a memory bit of brightness that is wrong looks a little like a cut
)

// Correctable is the fit whose doing can be taken off the colours, or allowed for as cells are read: hue, level or the level at which
// bright parts are cut, or chroma where there is none; nil where none is sure. A capture whose chroma is dead speaks for itself. Against says that the fits
// are by a good machine's capture, and set against what lanes of the memory do.
func Correctable(fits []analyse.ColourFit, dead, against bool) *analyse.ColourFit {
	var best *analyse.ColourFit
	next := 0.0
	for i := range fits {
		f := &fits[i]
		if dead && f.Kind == "colour-lost" {
			more := *f
			more.Gain += deadGain
			f = &more
		}
		switch {
		case best == nil || f.Gain > best.Gain:
			if best != nil {
				next = math.Max(next, best.Gain)
			}
			best = f
		default:
			next = math.Max(next, f.Gain)
		}
	}
	if best == nil || best.Gain < sureFit || best.Gain < next+surest {
		return nil
	}
	switch best.Kind {
	case "hue-shift", "level-high", "level-low", "colour-lost":
		return best
	case "clipping":
		if against || best.Gain >= surelyCut {
			return best
		}
	}
	return nil
}

// deadGain is what dead chroma adds to a fit without it, nats.
const deadGain = 4.0

// Correct gives the fields with the hue turned back, or the picture at its usual size about black, or without the chroma that is
// none, so that brightness alone tells the colours.
func Correct(fields []*video.Field, fit *analyse.ColourFit, black float64) []*video.Field {
	if fit.Kind == "clipping" { // what is cut off is gone: cells are read by the colours that are left
		return fields
	}
	if fit.Kind == "colour-lost" {
		out := make([]*video.Field, len(fields))
		for i, f := range fields {
			c := *f
			c.ChromaWidth, c.Cb, c.Cr = 0, nil, nil
			out[i] = &c
		}
		return out
	}
	var luma, cbs [256]uint8
	gain, size, turn := 1.0, 1.0, 0.0
	if fit.Kind == "hue-shift" {
		turn = -fit.Amount.Value * math.Pi / 180
	} else if fit.Amount.Value > 0.1 {
		gain = 1 / fit.Amount.Value
		size = gain
		if fit.Chroma > 0 {
			size = 1 / math.Max(fit.Chroma, 0.1)
		}
	}
	code := func(v float64) uint8 { return uint8(math.Max(0, math.Min(255, math.Round(v)))) }
	for i := range luma {
		luma[i] = code(black + (float64(i)-black)*gain)
		cbs[i] = code(128 + (float64(i)-128)*size)
	}
	// Cb and Cr stand to U and V by 0.8736 and 1.2296 (ITU-R BT.601, BT.1700).
	const u, v = 0.493 * 0.886 / 0.5, 0.877 * 0.701 / 0.5
	sin, cos := math.Sincos(turn)
	out := make([]*video.Field, len(fields))
	for i, f := range fields {
		c := *f
		c.Y, c.Cb, c.Cr = make([]uint8, len(f.Y)), make([]uint8, len(f.Cb)), make([]uint8, len(f.Cr))
		for k, y := range f.Y {
			c.Y[k] = luma[y]
		}
		for k := range f.Cb {
			if turn == 0 {
				c.Cb[k], c.Cr[k] = cbs[f.Cb[k]], cbs[f.Cr[k]]
				continue
			}
			a, b := u*(float64(f.Cb[k])-128), v*(float64(f.Cr[k])-128)
			c.Cb[k], c.Cr[k] = code(128+(a*cos-b*sin)/u), code(128+(a*sin+b*cos)/v)
		}
		out[i] = &c
	}
	return out
}
