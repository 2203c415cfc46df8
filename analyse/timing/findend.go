package timing

import (
	"math"
	"slices"

	"backporch/analyse"
	"backporch/video"
)

// medians are a field's median lines.
type medians struct {
	luma, cb, cr samples // cb and cr nil in monochrome
}

func newMedians(f *video.Field) medians {
	m := medians{luma: plane(f.Y, f.Width, f.Height)}
	if f.ChromaWidth >= 64 && len(f.Cb) >= f.ChromaWidth*f.Height && len(f.Cr) >= f.ChromaWidth*f.Height {
		m.cb, m.cr = plane(f.Cb, f.ChromaWidth, f.Height), plane(f.Cr, f.ChromaWidth, f.Height)
	}
	return m
}

// findEnd looks for the step in the lines' median.
func (m medians) findEnd(right bool, noise float64) (end, bool) {
	least := max(endStep, 8*noise)
	best, ok := m.luma.step(right)
	if m.cb != nil {
		cb, cr := m.cb, m.cr
		b, _ := cb.step(right)
		r, _ := cr.step(right)
		db, dr := b.level-b.outside, r.level-r.outside
		// What a decoder takes for luma or for colour of the other's step moves the place, so the greater step tells.
		// A colour's edge is twice as wide as one of luma, and noise moves it twice as far.
		if size := math.Hypot(db, dr); size >= max(endStep, 16*noise) && (!ok || size > 1.5*math.Abs(best.level-best.outside)) {
			strong := b
			if math.Abs(dr) > math.Abs(db) {
				strong = r
			}
			strong.chroma, strong.cb, strong.cr = true, db/size, dr/size
			strong.outside = strong.cb*b.outside + strong.cr*r.outside
			strong.level = strong.cb*b.level + strong.cr*r.level
			strong.coloured = true
			return strong, strong.at > 0
		} else {
			best.coloured = size > 0.25*math.Abs(best.level-best.outside)
		}
	}
	return best, ok && math.Abs(best.level-best.outside) >= least
}

// samples are a plane's median line.
type samples []float64

// plane is the median over lines, which a torn band or a dark picture in the middle doesn't move.
func plane(codes []uint8, width, height int) samples {
	out := make(samples, width)
	column := make([]uint8, 0, height/4+1)
	for x := range out {
		if x > width/5 && x < width*4/5 {
			continue
		}
		column = column[:0]
		for y := height / 8; y < height*7/8; y += 4 {
			column = append(column, codes[y*width+x])
		}
		out[x] = float64(analyse.Select(column, len(column)/2))
	}
	return out
}

// step finds the greatest step in the outer tenth, where no display has its picture, and the levels to
// either side of it.
func (s samples) step(right bool) (end, bool) {
	width := len(s)
	at := func(x int) float64 {
		if right {
			return s[width-1-x]
		}
		return s[x]
	}
	e := end{right: right}
	reach := max(1, width/240)
	steps := make([]float64, width/10+2*reach)
	for x := reach + 1; x < len(steps); x++ {
		steps[x] = math.Abs(at(x+reach) - at(x-reach))
	}
	for x := reach + 1; x < width/10; x++ {
		// The foot of an edge further in, as of the picture beside a black border, is no end.
		if steps[x] > steps[e.at] && steps[x] >= slices.Max(steps[x+1:x+2*reach]) {
			e.at = x
		}
	}
	if e.at == 0 {
		return e, false
	}
	mean := func(from, to int) float64 {
		sum := 0.0
		for x := from; x < to; x++ {
			sum += at(x)
		}
		return sum / float64(max(1, to-from))
	}
	e.outside = mean(0, max(1, e.at-2*reach))
	e.level = mean(e.at+3*reach, e.at+8*reach)
	if steps[e.at] < endShare*math.Abs(e.level-e.outside) { // the levels lie to either side of another edge, as of the picture beside a black border
		return end{right: right}, false
	}
	return e, true
}

// endShare is the least part of the way from one level to the other that lies at the place itself, over width/120 samples (450 ns): an edge of
// 0.5 MHz, by which a decoder's colour or a bad path may be bounded, makes more than half of its way there (rise from 10 to 90 % in
// 0.35/B = 700 ns).
const endShare = 0.25
