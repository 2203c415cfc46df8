package cells

import (
	"math"
	"slices"

	"backporch/analyse"
	"backporch/video/display"
)

// calibrate fits the capture's levels to the colours seen, where they are not known.
func (r *reader) calibrate(blanking float64, levels *transform) {
	var spots []spot
	if r.border.weight > 0 {
		spots = append(spots, r.border)
	}
	add := func(cell int, c [3]channel, pick func(channel) float64, pixels, ink int) {
		if pixels < 3 {
			return
		}
		s := spot{y: pick(c[0]), cb: pick(c[1]), cr: pick(c[2]), weight: float64(pixels) / 64, stroke: pixels < 24, fine: r.alternates(cell)}
		if r.colour && !s.stroke { // strokes: their chroma is mostly the neighbours'
			s.chroma = float64(pixels) / 64
			if !r.broad(cell, ink) || !r.calm(cell, s) {
				s.chroma /= 10
			}
		}
		spots = append(spots, s)
	}
	for cell, inks := range r.inks {
		all := [3]channel{r.luma, r.cbs, r.crs}
		add(cell, all, func(c channel) float64 { return c.paper[cell] }, 64-inks, 0)
		add(cell, all, func(c channel) float64 { return c.ink[cell] }, inks, 1)
	}
	clusters := cluster(spots)
	r.transform = calibrate(clusters, r.p, blanking)
	scene := newScene(r.strokes(clusters), r.p, blanking)
	r.fits = scene.fits(r.colour)
	r.colours = r.spots(clusters)
	if r.colour {
		var shown *display.Profile
		if r.components, shown = scene.components(r.p, r.fits); r.told != nil && r.p.Kind == display.Text {
			r.components, shown = r.told, r.p
			if c := Held(r.told); c != nil {
				shown = held(r.p, c.Name, c.Level)
			}
		}
		if shown != r.p {
			r.p = shown
			r.transform = calibrate(clusters, r.p, blanking)
		}
	}
	if levels != nil {
		r.transform = *levels
	}
	r.target = make([]spot, len(r.p.Colours))
	for i, c := range r.p.Colours {
		y, cb, cr := r.transform.codes(c.YUV)
		r.target[i] = spot{y: y, cb: cb, cr: cr}
	}
	// A palette entry that a cluster sits near, and near no other, takes part of its measured place.
	for _, c := range clusters {
		i, d := nearest(c, r.transform, r.p)
		alone := true
		for k := range r.p.Colours {
			if k != i && apart(c, r.transform, r.p.Colours[k].YUV) < d+12 {
				alone = false
			}
		}
		if d < 9 && alone && c.weight > 0.5 && r.target[i].weight < c.weight {
			y, cb, cr := r.transform.codes(r.p.Colours[i].YUV)
			r.target[i] = spot{y: (y + c.y) / 2, cb: cb, cr: cr, weight: c.weight}
			if c.chroma > 4 {
				r.target[i].cb, r.target[i].cr = (cb+c.cb)/2, (cr+c.cr)/2
			}
		}
	}
}

// alternates tells whether a cell's pixels change as fast as the subcarrier does.
func (r *reader) alternates(cell int) bool {
	var c analyse.Cell
	for y := range c.Bits {
		c.Bits[y] = r.bits[(cell/r.columns*8+y)*r.columns+cell%r.columns]
	}
	return fine(&c)
}

// background is the Text display's one paper: the colour that the most cells show, as either of
// their two, for inks change from cell to cell; where they don't, the one that covers more. But it stands in every cell of two colours: another that
// nearly all of them have, where few may have this one, is the paper, and what covers more are cells that are ink all over.
func (r *reader) background() int {
	votes, both := make([]float64, len(r.p.Colours)), make([]int, len(r.p.Colours))
	seen := r.transform.show(nil, r.p)
	vote := func(s spot, pixels int) int {
		if s.weight = 1; r.colour {
			s.chroma = float64(pixels) / 8
		}
		i, _ := seen.nearest(&s, r.p)
		votes[i] += 64 + float64(pixels)
		return i
	}
	type two struct {
		colours  [2]int // of the many pixels, of the few
		from, to float64
	}
	var list []two
	for cell, inks := range r.inks {
		paper := vote(spot{y: r.luma.paper[cell], cb: r.cbs.paper[cell], cr: r.crs.paper[cell]}, 64-inks)
		if inks == 0 {
			continue
		}
		ink := vote(spot{y: r.luma.ink[cell], cb: r.cbs.ink[cell], cr: r.crs.ink[cell]}, inks)
		both[paper]++
		both[ink]++
		if t := (two{[2]int{paper, ink}, r.luma.paper[cell], r.luma.ink[cell]}); 2*inks <= 64 {
			list = append(list, t)
		} else {
			list = append(list, two{[2]int{ink, paper}, t.to, t.from})
		}
	}
	best := 0
	for i, v := range votes {
		if v > votes[best] {
			best = i
		}
	}
	may := 0 // cells that may have it: strokes are blurred towards the other colour
	for _, t := range list {
		step, whole := t.to-t.from, seen[best].y-t.from
		if t.colours[0] == best || t.colours[1] == best || step*whole > 0 && math.Abs(step) <= math.Abs(whole) {
			may++
		}
	}
	most := slices.Index(both, slices.Max(both))
	if len(list) >= leastTwo && float64(both[most]) >= inAll*float64(len(list)) && float64(may) <= inFew*float64(len(list)) {
		return most
	}
	return best
}

// leastTwo cells of two colours say which of theirs is the paper, if it is in nearly all and the other in few. Common practice, no source.
const (
	leastTwo = 24
	inAll    = 0.9
	inFew    = 0.6
)

// upright turns round the cells of a Text display whose commoner level is ink: there the background is known.
func (r *reader) upright(ground int) {
	paperSeen := r.transform.show(nil, r.p)[ground]
	distance := func(y, cb, cr float64) float64 {
		s := spot{y: y, cb: cb, cr: cr}
		if r.colour {
			s.chroma = 8
		}
		return s.apart(&paperSeen, math.Inf(1))
	}
	for cell, inks := range r.inks {
		if inks == 0 || inks == 64 {
			continue
		}
		paper := distance(r.luma.paper[cell], r.cbs.paper[cell], r.crs.paper[cell])
		if ink := distance(r.luma.ink[cell], r.cbs.ink[cell], r.crs.ink[cell]); ink >= paper {
			continue
		}
		r.setBits(cell, func(b uint8) uint8 { return ^b })
		for _, c := range []channel{r.luma, r.cbs, r.crs} {
			c.paper[cell], c.ink[cell] = c.ink[cell], c.paper[cell]
		}
	}
}
