package grid

import (
	"math"

	"backporch/analyse"
	"backporch/video/display"
)

// Where strokes are a pixel wide and a decoder blurs them to nearly two, their edges lie as often on the grid as half a pixel
// aside, and no longer say where pixels begin. The pixels do: eight neighbours on a line have two levels, mostly, and read
// half a pixel aside they have the mean of both as well.

const (
	// doubtfulEdges is the mean resultant length below which edges are held to what the pixels say.
	doubtfulEdges = 0.5
	// clearPhase is how much of the misfit half a pixel aside the better place has, at the most, to be believed; clearlyOff how
	// much more than that one's the edges' has to be to give way. Common practice, no source.
	clearPhase = 0.75
	clearlyOff = 1.3
)

// misfit is how badly two levels explain eight neighbouring pixels, summed over a picture read at reg: the sum of squares about the
// better level each, as a part of the square of their step. Steps below least, in codes, don't count. Blur that stays symmetric about
// pixels can be undone by weights of three of them; what lies half a pixel aside can't. So the best of a few such weights counts.
func misfit(s *analyse.Stack, p *display.Profile, reg analyse.Registration, least float64) float64 {
	luma := read(s.Y, s.Width, s.Height, NewSampler(reg.OriginX, reg.PitchX, 0, p.Width), reg, 0, p.Width, 0, p.Height)
	best := math.Inf(1)
	sharp := make([]float32, luma.Width)
	for _, c := range [...]float32{0, 0.25, 0.5, 0.9} {
		sum := 0.0
		for y := range p.Height {
			row := luma.Row(y)
			for x := 1; x+1 < len(row); x++ {
				sharp[x] = row[x] + c*(2*row[x]-row[x-1]-row[x+1])
			}
			for x := 1; x+9 <= len(row); x += 4 {
				if sse, step := twoLevels(sharp[x:x+8], float32(least)); step > 0 {
					sum += math.Max(0, sse) / (step * step)
				}
			}
		}
		best = math.Min(best, sum)
	}
	return best
}

// byPixels says where pixels begin, of edges that lie on the grid or half a pixel aside: the lattice of half the pitch tells all but which of the
// two, and the one is taken that two levels explain better. ok is false where neither stands out. Edges that say the same, nearly, are believed.
func (e *edges) byPixels(s *analyse.Stack, p *display.Profile, pitch, spread, line float64, l lattice, least float64) (lattice, bool) {
	at := func(l lattice, aside float64) float64 { return misfitAt(s, p, l.pitch, l.phase+aside*l.pitch, least) }
	var best lattice
	lowest, ok := math.Inf(1), false
	for _, half := range e.fits(pitch/2, spread, line/2) {
		full := lattice{pitch: 2 * half.pitch, phase: half.phase, length: half.length, score: half.score}
		here, aside := at(full, 0), at(full, 0.5)
		if aside < here {
			full.phase = math.Mod(full.phase+half.pitch, full.pitch)
			here, aside = aside, here
		}
		if here < lowest && here < clearPhase*aside {
			best, lowest, ok = full, here, true
		}
	}
	if ok && l.pitch > 0 && at(l, 0) < clearlyOff*lowest {
		return l, true
	}
	return best, ok
}

// misfitAt is the misfit of a picture about its usual place, with pixels that begin at phase.
func misfitAt(s *analyse.Stack, p *display.Profile, pitch, phase, least float64) float64 {
	x, y := p.Origin(s.Width, s.Height)
	origin := phase + math.Round((x-phase)/pitch)*pitch
	return misfit(s, p, analyse.Registration{OriginX: origin, OriginY: math.Round(y), PitchX: pitch, PitchY: p.PitchY(s.Height)}, least)
}

// phases is how many places in a pixel scan tries, and clearScan how much of their mean misfit the best has at the most. Common practice, no source.
const (
	phases    = 8
	clearScan = 0.88
)

// scan looks for the place where pixels begin by the pixels alone, for pictures whose edges say nothing; ok is false where none stands out.
func scan(s *analyse.Stack, p *display.Profile, pitches []float64, least float64) (best lattice, ok bool) {
	clearest := clearScan
	for _, pitch := range pitches {
		var list [phases]float64
		mean, here := 0.0, 0
		for k := range list {
			list[k] = misfitAt(s, p, pitch, float64(k)/phases*pitch, least)
			mean += list[k] / phases
			if list[k] < list[here] {
				here = k
			}
		}
		if mean == 0 || list[here]/mean > clearest {
			continue
		}
		clearest = list[here] / mean
		// The vertex of the parabola through the least and its neighbours.
		a, b, c := list[(here+phases-1)%phases], list[here], list[(here+1)%phases]
		off := 0.0
		if d := a - 2*b + c; d > 0 {
			off = 0.5 * (a - c) / d
		}
		best, ok = lattice{pitch: pitch, phase: math.Mod((float64(here)+off)/phases*pitch+pitch, pitch), length: doubtfulEdges}, true
	}
	return best, ok
}
