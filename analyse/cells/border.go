package cells

import (
	"math"
	"slices"

	"backporch/analyse"
	"backporch/video/display"
)

// A side is the mean of one strip of border.
type side struct{ y, cb, cr float64 }

// borderSides reads the border close to the picture, two pixels or lines away from it
// and up to 14 wide: beyond that a device may have cut it off. Strips that the capture does not hold are left out.
func borderSides(s *analyse.Stack, reg analyse.Registration, p *display.Profile) []side {
	x0, x1 := reg.OriginX, reg.OriginX+float64(p.Width)*reg.PitchX
	y0, y1 := reg.OriginY, reg.OriginY+float64(p.Height)*reg.PitchY
	gap, deep := 3*reg.PitchX, 15*reg.PitchX
	var sides []side
	for _, b := range [][4]float64{
		{x0 - deep, x0 - gap, y0, y1}, {x1 + gap, x1 + deep, y0, y1},
		{x0, x1, y0 - 14, y0 - 2}, {x0, x1, y1 + 2, y1 + 14},
	} {
		left, right := max(0, int(b[0])), min(s.Width, int(b[1]))
		top, bottom := max(0, int(b[2])), min(s.Height, int(b[3]))
		if right-left < 8 || bottom-top < 4 {
			continue
		}
		sides = append(sides, meanOf(s, left, right, top, bottom))
	}
	return sides
}

// meanOf takes medians of line means, so that a bad line doesn't count.
func meanOf(s *analyse.Stack, left, right, top, bottom int) side {
	plane := func(v []float32, width, left, right int) float64 {
		if len(v) == 0 || right <= left {
			return 128
		}
		var rows []float64
		for y := top; y < bottom; y++ {
			sum := 0.0
			for _, c := range v[y*width+left : y*width+right] {
				sum += float64(c)
			}
			rows = append(rows, sum/float64(right-left))
		}
		slices.Sort(rows)
		return rows[len(rows)/2]
	}
	out := side{y: plane(s.Y, s.Width, left, right), cb: 128, cr: 128}
	if s.ChromaWidth > 0 {
		step := s.Width / s.ChromaWidth
		out.cb = plane(s.Cb, s.ChromaWidth, left/step, right/step)
		out.cr = plane(s.Cr, s.ChromaWidth, left/step, right/step)
	}
	return out
}

// borderSpot is the border's colour for calibration; uniform tells whether all sides agree.
func borderSpot(s *analyse.Stack, reg analyse.Registration, p *display.Profile) (b spot, uniform bool) {
	sides := borderSides(s, reg, p)
	if len(sides) == 0 {
		return spot{y: 16, cb: 128, cr: 128}, false
	}
	pick := func(f func(side) float64) (middle, spread float64) {
		v := make([]float64, len(sides))
		for i, e := range sides {
			v[i] = f(e)
		}
		slices.Sort(v)
		return (v[(len(v)-1)/2] + v[len(v)/2]) / 2, v[len(v)-1] - v[0]
	}
	var dy, dcb, dcr float64
	b.y, dy = pick(func(e side) float64 { return e.y })
	b.cb, dcb = pick(func(e side) float64 { return e.cb })
	b.cr, dcr = pick(func(e side) float64 { return e.cr })
	b.weight, b.border = 200, true
	if s.ChromaWidth > 0 {
		b.chroma = 200
	}
	return b, dy < 16 && dcb < 24 && dcr < 24
}

// blankingCode is the luma code of blanking, from the samples at the ends of the
// lines that lie outside the analogue active line; NaN when the capture shows none.
func blankingCode(s *analyse.Stack) float64 {
	if s.Width != 720 {
		return math.NaN()
	}
	rows := func(x int) float64 {
		v := make([]float64, s.Height)
		for y := range v {
			v[y] = float64(s.Y[y*s.Width+x])
		}
		slices.Sort(v)
		return v[len(v)/2]
	}
	left, inner := (rows(1)+rows(2))/2, rows(40)
	right, innerRight := (rows(717)+rows(718))/2, rows(680)
	switch {
	case left < inner-8 && math.Abs(left-rows(4)) < 3:
		return left
	case right < innerRight-8 && math.Abs(right-rows(715)) < 3:
		return right
	}
	return math.NaN()
}

// readBorder names the border's colour. An Attr display's border has no bright colours.
func (r *reader) readBorder(s *analyse.Stack, reg analyse.Registration) analyse.Border {
	seen, uniform := borderSpot(s, reg, r.p)
	out := analyse.Border{Colour: -1, Uniform: uniform, Y: seen.y, Cb: seen.cb, Cr: seen.cr, Seen: seen.weight > 0}
	if !out.Seen {
		return out
	}
	count := len(r.p.Colours)
	if r.p.Kind == display.Attr {
		count = 8
	}
	best, next := math.Inf(1), math.Inf(1)
	for i := range count {
		d := apart(seen, r.transform, r.p.Colours[i].YUV) / 2
		if d < best {
			best, next, out.Colour = d, best, i
		} else if d < next {
			next = d
		}
	}
	out.Sure = math.Min(30, next-best)
	return out
}
