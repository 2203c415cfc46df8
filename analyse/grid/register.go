package grid

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"backporch/analyse"
	"backporch/video/display"
)

// Options tune a registration; the zero value is the usual run.
type Options struct {
	// Last is the last good registration of the same source; it is kept when the
	// picture gives too little to find it anew. Nil: none.
	Last *analyse.Registration
}

// The spread of pitches about the line-locked one, relative: a clock's tolerance is a
// hundred parts in a million, a device's own scaling can be larger. Common practice, no source.
const pitchSpread = 0.004

// Register places a display's pixels in a stack of one still picture.
func Register(s *analyse.Stack, p *display.Profile, o Options) analyse.Registration {
	if s == nil || s.Width < 64 || s.Height < 64 {
		return analyse.Registration{Reason: "the picture is too small to hold the display"}
	}
	pitchX, pitchY := p.PitchX(s.Width), p.PitchY(s.Height)
	if float64(p.Width)*pitchX > float64(s.Width) || float64(p.Height)*pitchY > float64(s.Height)+0.5 {
		return analyse.Registration{Reason: fmt.Sprintf("a picture of %d x %d does not hold the display %s", s.Width, s.Height, p.Name)}
	}
	sigma := noise(s)
	range_ := contrast(s)
	// What the subcarrier leaks is no noise to stay clear of: where most of the picture moves, half of a strong step will do.
	threshold := math.Max(4, math.Max(0.06*range_, math.Min(6*sigma, 0.15*range_)))
	from, to := window(p, s.Width, s.Height, 24)
	e := horizontal(s.Y, s.Width, s.Height, from, to, threshold, pitchX, false)
	scale := 1.0
	if e.count < 100 && len(s.Cb) > 0 { // colours of equal luma: their chroma's edges, four times as blurred
		step := float64(s.Width) / float64(s.ChromaWidth)
		for _, plane := range [][]float32{s.Cb, s.Cr} {
			c := horizontal(plane, s.ChromaWidth, s.Height, int(float64(from)/step), int(float64(to)/step), math.Max(6*sigma, 6), pitchX/step, false)
			if c.count > e.count {
				e, scale = c, step
			}
		}
	}
	h := findBorder(s, p, sigma)
	if e.count < 40 {
		return unregistered(s, p, h, o, "border and paper give no edge to place the picture by")
	}
	// The ends of the border, where both are seen, say what the pitch is to a pixel in 350.
	spread := pitchSpread
	pitchX, seen := e.nominal(p.Pitches(s.Width), h.pitch(p), scale)
	line := pitchX
	if seen {
		pitchX, spread = h.pitch(p), pitchSpread/2
	}
	list := e.fits(pitchX/scale, spread, line/scale)
	if list[0].length < 0.5 && scale == 1 {
		// Strokes of strong colours have edges that follow the subcarrier; it cancels over four lines.
		if calm := horizontal(fourLines(s), s.Width, s.Height, from, to, threshold, pitchX, false); calm.count > 100 {
			if l := calm.fits(pitchX, spread, line); l[0].length > list[0].length {
				e, list = calm, l
			}
		}
	}
	lone := false
	if list[0].length < doubtfulEdges && scale == 1 {
		if l, ok := standingAlone(s, from, to, threshold, append(list, lattice{pitch: line})); ok && l.length > list[0].length {
			list, lone = []lattice{l}, true
		}
	}
	// Edges that lie anywhere have a mean resultant length near 1/sqrt(places).
	if l := list[0].length; !lone && (l < 0.15 || l*l*float64(e.places) < 3 && e.places > 8) {
		told, ok := e.byPixels(s, p, pitchX, spread, line, lattice{}, 2*threshold)
		if !ok {
			told, ok = scan(s, p, []float64{line, pitchX}, 2*threshold)
		}
		if !ok || scale != 1 {
			return unregistered(s, p, h, o, "the edges in the picture fit no pixel grid of this display")
		}
		list = []lattice{told}
	} else if !lone && l < doubtfulEdges && scale == 1 {
		if told, ok := e.byPixels(s, p, pitchX, spread, line, list[0], 2*threshold); ok && told != list[0] {
			list = []lattice{told}
		}
	}
	ly := lattice{pitch: pitchY, phase: 0.5, length: 1}
	if math.Abs(pitchY-1) > 1e-6 {
		if v := vertical(s, from, to, threshold); v.count > 8 {
			ly = v.fit(pitchY, pitchSpread)
		}
	}
	nominalX, nominalY := p.Origin(s.Width, s.Height)
	var reg analyse.Registration
	score := math.Inf(-1)
	for _, lx := range list {
		lx.pitch, lx.phase = lx.pitch*scale, lx.phase*scale
		r := analyse.Registration{
			OK: true, PitchX: lx.pitch, PitchY: ly.pitch,
			OriginX: lx.phase + math.Round((nominalX-lx.phase)/lx.pitch)*lx.pitch,
			// Edges between lines lie half a line above the lower one.
			OriginY:    ly.phase + 0.5*ly.pitch + math.Round((nominalY-ly.phase-0.5*ly.pitch)/ly.pitch)*ly.pitch,
			ResidualPx: e.residual(lattice{pitch: lx.pitch / scale, phase: lx.phase / scale}), Edges: e.count,
		}
		shifts, evidence := place(s, p, r, h, sigma)
		if lx.score+evidence > score {
			score, reg = lx.score+evidence, r
			reg.Shifts = probable(shifts)
		}
	}
	best := reg.Shifts[0]
	reg.OriginX += float64(best.Pixels) * reg.PitchX
	reg.OriginY += float64(best.Lines) * reg.PitchY
	for i := range reg.Shifts {
		reg.Shifts[i].Pixels -= best.Pixels
		reg.Shifts[i].Lines -= best.Lines
	}
	if best.Probability < 0.9 {
		reg.Reason = fmt.Sprintf("the picture's place is not certain: %.0f %% for this one", 100*best.Probability)
	}
	return reg
}

// nominal is which of the pitches that a device may sample by is the picture's: the one that the border has, if it is seen, else the one
// whose lattice the edges fit. Edges are of a plane with one sample for so many of luma.
func (e *edges) nominal(pitches []float64, border, scale float64) (pitch float64, seen bool) {
	off := func(pitch float64) float64 { return math.Abs(border/pitch - 1) }
	near := slices.MinFunc(pitches, func(a, b float64) int { return cmp.Compare(off(a), off(b)) })
	if off(near) < 3*pitchSpread {
		return near, true
	}
	if len(pitches) == 1 {
		return pitches[0], false
	}
	score := func(pitch float64) float64 { return e.fit(pitch/scale, pitchSpread).score }
	return slices.MaxFunc(pitches, func(a, b float64) int { return cmp.Compare(score(a), score(b)) }), false
}

// standingAlone is where the edges lie that stand by themselves, on the lines as they are or on means of four, and with one of the pitches of
// tried, whichever says more; ok is false where they are too few, or lie anywhere.
func standingAlone(s *analyse.Stack, from, to int, threshold float64, tried []lattice) (best lattice, ok bool) {
	told := 0.0
	for _, plane := range [...][]float32{s.Y, fourLines(s)} {
		e := horizontal(plane, s.Width, s.Height, from, to, threshold, tried[0].pitch, true)
		if e.places <= 8 {
			continue
		}
		for _, t := range tried {
			if l := e.at(t.pitch); l.length*l.length*float64(e.places) > told {
				best, told = l, l.length*l.length*float64(e.places)
			}
		}
	}
	return best, told >= 3
}

// unregistered falls back on both ends of the border, then on the last good
// registration, and says so. Lines are placed by what lies in the picture and in the border.
func unregistered(s *analyse.Stack, p *display.Profile, h border, o Options, reason string) analyse.Registration {
	if h.left.at > 0 && h.right.at > 0 {
		pitch := h.pitch(p)
		if slices.ContainsFunc(p.Pitches(s.Width), func(of float64) bool { return math.Abs(pitch/of-1) < 2*pitchSpread }) {
			_, y := p.Origin(s.Width, s.Height)
			reg := analyse.Registration{
				OK: true, PitchX: pitch, PitchY: p.PitchY(s.Height), OriginX: h.left.at + float64(p.BorderLeft)*pitch, OriginY: y,
				Reason: reason + "; placed by the ends of the border, lines as is likeliest",
				Shifts: []analyse.Shift{{Probability: 0.5}},
			}
			shifts, _ := place(s, p, reg, h, noise(s))
			for _, one := range shifts {
				if one.Pixels == 0 { // the best of them
					reg.OriginY += float64(one.Lines) * reg.PitchY
					break
				}
			}
			return reg
		}
	}
	if o.Last != nil && o.Last.OK {
		last := *o.Last
		last.Reason = reason + "; the last good place is kept"
		return last
	}
	return analyse.Registration{Reason: reason}
}
