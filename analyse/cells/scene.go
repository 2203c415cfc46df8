package cells

import (
	"math"
	"slices"

	"backporch/analyse"
	"backporch/video"
	"backporch/video/display"
)

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
	ends := [2]int{-1, -1}
	for j, c := range p.Colours {
		if c.Saturation() < 0.02 && (p.Kind == display.Text || j&7 == 0 || j&7 == 7) {
			greys = append(greys, c.YUV)
			if ends[0] < 0 || c.Y < p.Colours[ends[0]].Y {
				ends[0] = j
			}
			if ends[1] < 0 || c.Y > p.Colours[ends[1]].Y {
				ends[1] = j
			}
		}
	}
	colours := len(w.palette)
	for range colours {
		w.even = append(w.even, true)
	}
	for i, a := range greys {
		for _, b := range greys[:i] {
			if a.Y-b.Y > 0.3 { // without the colour that a decoder gives it, and with it
				w.palette = append(w.palette, video.YUV{Y: (a.Y + b.Y) / 2}, video.YUV{Y: (a.Y + b.Y) / 2})
				w.even = append(w.even, true, false)
			}
		}
	}
	for _, even := range w.even[colours:] {
		part := 1 - evenShare
		if even {
			part = evenShare
		}
		w.common = append(w.common, math.Log((1-anyPart)*2*part/float64(len(w.palette)-colours)))
	}
	w.fine, w.greys = len(w.palette)-colours, ends
	ground, ink, known := groundOf(clusters)
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
		s.none = s.sc // what is told from strokes may be too pale
		switch {
		case c.border:
			s.sc, s.size, s.turn, s.none = math.Hypot(borderC, c.blur), borderSize, partTurn, math.Hypot(noneEdge, c.blur)
			s.sy = wholeY
			if s.colours = colours; p.Kind == display.Attr { // no pattern is in a border
				s.colours = 8
			}
		case c.blur == 0:
			s.sy = wholeY
			if c.stroke {
				s.sy = 2 * spotY
			}
			s.sc, s.size, s.pale, s.turn, s.none, s.tails = areaC, areaSize, areaPale, partTurn, noneC, true
		default:
			s.strokes, s.tails = true, true
		}
		if known && c.narrow() { // how much of a stroke's contrast is left, or lies on the paper beside it, is known as well as the filter is
			contrast := math.Max(math.Abs(c.y-ground), math.Abs(c.y-ink)) * topUnits
			s.sy = math.Hypot(s.sy, strokeContrast*contrast)
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
	strokes := 0.0
	for _, s := range w.sights {
		if s.strokes && s.chroma {
			strokes++
		}
	}
	for i := range w.sights {
		if s := &w.sights[i]; s.strokes && s.chroma {
			s.shares = math.Min(1, apartStrokes/strokes)
		}
	}
	// Where bright codes are cut off, strokes beside are misread with them.
	if slices.ContainsFunc(w.sights, func(s sight) bool { return s.high }) {
		for i := range w.sights {
			if s := &w.sights[i]; s.sy > wholeY {
				s.sy = math.Hypot(s.sy, besideCut)
			}
		}
	}
	return w
}

// strokeContrast is what the contrast of strokes is read wrong by, of itself: 0.08 rms on good captures by simulators that others wrote.
const strokeContrast = 0.08

// narrow tells whether a colour is seen nowhere as lines of a cell's whole width, but for a few.
func (c *spot) narrow() bool { return !c.border && (c.blur > 0 || c.chroma < 0.2*c.weight) }

// groundOf is the luma, in codes, of what is seen most in the picture's cells, or else of the border, and of what is seen most of all that is not as bright; false
// where there is nothing.
func groundOf(clusters []spot) (ground, ink float64, ok bool) {
	most := 0.0
	for _, c := range clusters {
		if !c.narrow() && !c.border && c.weight > most {
			ground, most, ok = c.y, c.weight, true
		}
	}
	if i := slices.IndexFunc(clusters, func(c spot) bool { return c.border }); !ok && i >= 0 {
		ground, ok = clusters[i].y, true
	}
	ink, most = ground, 0
	for _, c := range clusters {
		if !c.border && math.Abs(c.y-ground) > otherLuma && c.weight > most {
			ink, most = c.y, c.weight
		}
	}
	return ground, ink, ok
}

// otherLuma, codes, is by how much more or less bright what is drawn on the ground is at the least.
const otherLuma = 20.0

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
