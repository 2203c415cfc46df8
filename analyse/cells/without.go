package cells

import (
	"math"
	"slices"

	"backporch/analyse"
	"backporch/video"
	"backporch/video/display"
)

// Colours as bright as this, of white, are not told apart without chroma, nor those that are as near to each other when cut off; their
// log-odds then are worth this part.
const (
	sameLuma     = 0.12
	sameCut      = 0.06
	unseenColour = 0.1
)

// WithoutColour makes of cells that were read by brightness alone what can be said of them: their colours are hardly known, and are
// taken for a good machine's of the same screen where these are as bright; reference may be nil.
func WithoutColour(r *Result, reference *analyse.Survey, p *display.Profile) {
	for i := range r.ColourOdds {
		r.ColourOdds[i] *= unseenColour
	}
	for i := range r.Cells {
		r.Cells[i].Sure *= unseenColour
	}
	r.take(reference, func(a, b int) bool { return math.Abs(p.Colours[a].Y-p.Colours[b].Y) < sameLuma }, p)
}

// Cut is a display of whose colours all that is brighter than a level, of white, is cut off.
func Cut(p *display.Profile, level float64) *display.Profile {
	out := *p
	out.Colours = slices.Clone(p.Colours)
	for i, c := range p.Colours {
		out.Colours[i].YUV = cutAt(c.YUV, level)
	}
	return &out
}

// CutLuma is a display whose luma a device has cut off at a level, of white, after its chroma was taken out.
func CutLuma(p *display.Profile, level float64) *display.Profile {
	out := *p
	out.Colours = slices.Clone(p.Colours)
	for i := range out.Colours {
		out.Colours[i].YUV.Y = math.Min(out.Colours[i].YUV.Y, level)
	}
	return &out
}

// WithoutTop makes of cells whose bright colours were cut off what can be said of them: which of those that are alike then was meant is not
// known, and is taken for what a good machine shows; reference may be nil, q is the display as Cut or CutLuma gives it.
func WithoutTop(r *Result, reference *analyse.Survey, p, q *display.Profile) {
	touched := func(i int) bool { return i >= 0 && i < len(p.Colours) && p.Colours[i].YUV != q.Colours[i].YUV }
	bits := 8
	for i := range r.Cells {
		c := &r.Cells[i]
		if !touched(c.Paper) && !touched(c.Ink) {
			continue
		}
		c.Sure *= unseenColour
		for b := range bits {
			r.ColourOdds[i*bits+b] *= unseenColour
		}
	}
	r.take(reference, func(a, b int) bool {
		x, y := q.Colours[a].YUV, q.Colours[b].YUV
		return (touched(a) || touched(b)) && apart3(x, y) < sameCut
	}, p)
}

// apart3 is the distance of two colours in luma and chroma, of white.
func apart3(a, b video.YUV) float64 {
	return math.Sqrt(square(a.Y-b.Y) + square(a.U-b.U) + square(a.V-b.V))
}

// take gives cells the colours of a good machine's of the same screen where they are alike.
func (r *Result) take(reference *analyse.Survey, alike func(a, b int) bool, p *display.Profile) {
	if reference == nil || len(reference.Cells) != len(r.Cells) {
		return
	}
	known := func(i int) bool { return i >= 0 && i < len(p.Colours) }
	for i := range r.Cells {
		c, good := &r.Cells[i], &reference.Cells[i]
		candidates := [2]int{good.Paper, good.Ink}
		take := func(own int) int {
			for _, k := range candidates {
				if known(k) && known(own) && alike(k, own) {
					return k
				}
			}
			return own
		}
		c.Paper = take(c.Paper)
		if !c.Single {
			if ink := take(c.Ink); ink != c.Paper {
				c.Ink = ink
			}
		}
	}
}
