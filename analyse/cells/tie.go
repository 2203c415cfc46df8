package cells

import (
	"math"

	"backporch/analyse"
	"backporch/analyse/grid"
	"backporch/video/display"
)

// A capture of the same screen on a good machine ties this one's levels: what most cells are there, they are here. The border, by which
// levels are mostly told, may then be of another colour.
const (
	tieBlack, tieGain = 6.0, 0.1 // codes; of 1: how far two devices lie apart
	tieSize           = 0.2      // of 1, of chroma
	tieSame           = 25.0     // cells that are alike err alike: so many count
	tieY, tieC        = 4.0, 6.0 // codes that a cell's mean errs by
	tieAlike          = 0.75     // of the cells must be as the tie has them
)

// Tie gives the levels under which this capture's cells show what a good machine's of the same screen do; nil where most of them do under
// none. Cells that are otherwise have no vote (Huber's weights: Robust Statistics, 1981, chapter 7, from memory).
func Tie(here, good *analyse.Survey, p *display.Profile) *analyse.Levels {
	if here == nil || good == nil || !here.Registration.OK || !good.Registration.OK || here.Stack == nil || good.Stack == nil ||
		here.Stack.ChromaWidth == 0 || good.Stack.ChromaWidth == 0 || len(good.Cells) != p.Rows()*p.Columns() || !(good.Levels.Saturation > 0) {
		return nil
	}
	type pair struct{ a, b side }
	var pairs []pair
	for i := range good.Cells {
		c := &good.Cells[i]
		a, okA := cellMean(here.Stack, here.Registration, c.Column, c.Row)
		b, okB := cellMean(good.Stack, good.Registration, c.Column, c.Row)
		if okA && okB && !c.Flash && !fine(c) {
			pairs = append(pairs, pair{a, b})
		}
	}
	if len(pairs) < 100 {
		return nil
	}
	black, gain, re, im := 0.0, 1.0, 1.0, 0.0
	off := func(q pair) (y, c float64) {
		u, v := q.b.cb-128, q.b.cr-128
		return q.a.y - black - gain*q.b.y, math.Hypot(q.a.cb-128-re*u+im*v, q.a.cr-128-im*u-re*v)
	}
	share := tieSame / float64(len(pairs))
	for range 12 {
		var luma, chroma normal2
		luma.add(1, 16, 16, 1/square(tieBlack)) // about black
		luma.add(0, 1, 1, 1/square(tieGain))
		chroma.add(1, 0, 1, 1/square(tieSize))
		chroma.add(0, 1, 0, 1/square(tieSize))
		for _, q := range pairs {
			y, c := off(q)
			w := math.Min(1, 1.5*tieY/math.Max(math.Abs(y), 1e-9)) * math.Min(1, 1.5*tieC/math.Max(c, 1e-9))
			luma.add(1, q.b.y, q.a.y, share*w/square(tieY))
			u, v := q.b.cb-128, q.b.cr-128
			chroma.add(u, -v, q.a.cb-128, share*w/square(tieC))
			chroma.add(v, u, q.a.cr-128, share*w/square(tieC))
		}
		var ok, fine bool
		if black, gain, ok = luma.solve(); !ok {
			return nil
		}
		if re, im, fine = chroma.solve(); !fine {
			return nil
		}
	}
	alike := 0
	for _, q := range pairs {
		if y, c := off(q); math.Abs(y) < 2.5*tieY && c < 3*tieC {
			alike++
		}
	}
	if float64(alike) < tieAlike*float64(len(pairs)) || gain < 0.5 || gain > 1.6 {
		return nil
	}
	out := good.Levels
	out.Components = nil
	out.Black, out.White = black+gain*good.Levels.Black, black+gain*good.Levels.White
	out.Saturation *= math.Hypot(re, im)
	out.HueDeg += math.Atan2(im, re) * 180 / math.Pi
	out.Full = out.Black < 8 && out.White-out.Black > 1.08*219
	return &out
}

// Known is what a good machine's capture says of one before its cells are read; nil: nothing.
type Known struct {
	Levels *analyse.Levels
	Held   []analyse.Component // how likely each colour signal is held
}

// RecoverAt reads the cells of a registered stack of which something is known.
func RecoverAt(s *analyse.Stack, reg analyse.Registration, p *display.Profile, known Known) *Result {
	r := newReader(s, reg, p)
	r.told = known.Held
	if known.Levels == nil {
		return r.recover(s, reg, nil)
	}
	l := known.Levels
	return r.recover(s, reg, &transform{black: l.Black, gain: (l.White - l.Black) / 219, saturation: l.Saturation, hue: l.HueDeg})
}

// newReader prepares a recovery.
func newReader(s *analyse.Stack, reg analyse.Registration, p *display.Profile) *reader {
	r := &reader{p: p, rows: p.Rows(), columns: p.Columns()}
	luma, cb, cr := grid.Rasters(s, reg, -margin, p.Width+margin, 0, p.Height)
	if r.colour = cb != nil; r.colour {
		r.planes = newChromaPlanes(cb, cr, r.rows)
	}
	r.model = newModel(luma, p.Width, p.Height)
	n := r.rows * r.columns
	r.bits, r.inks = make([]uint8, p.Height*r.columns), make([]int, n)
	r.luma, r.cbs, r.crs = newChannel(n), newChannel(n), newChannel(n)
	r.inkShare = make([]float64, r.rows*p.Width)
	r.border, _ = borderSpot(s, reg, p)
	r.sigma = 6
	return r
}
