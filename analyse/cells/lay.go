package cells

import (
	"math"

	"backporch/analyse"
	"backporch/video/display"
)

// laid places the cells of a capture where it shows what a good machine's capture shows in them, which may lie some pixels aside of where either was placed
// by itself: black borders do not tell where a screen begins, and colours are to be compared at the same places.
func laid(here, good *analyse.Survey, p *display.Profile) analyse.Registration {
	reg := here.Registration
	a, b := newLumas(here, p), newLumas(good, p)
	own := a.alike(b, 0, 0)
	if own > surelyLaid {
		return reg
	}
	best, dx, dy := own, 0, 0
	for y := -layLines; y <= layLines; y++ {
		for x := -layPixels; x <= layPixels; x++ {
			if v := a.alike(b, x, y); v > best {
				best, dx, dy = v, x, y
			}
		}
	}
	if best < leastLaid || 1-best*best > lessLeft*(1-own*own) {
		return reg
	}
	reg.OriginX += float64(dx) * reg.PitchX
	reg.OriginY += float64(dy) * reg.PitchY
	return reg
}

// How far apart two captures are tried, pixels and lines; the correlation from which on nothing better is looked for, the least that shows the same screen, and
// what part of the variance another place must leave of what this one leaves. Common practice, no source.
const (
	layPixels, layLines   = 8, 16
	surelyLaid, leastLaid = 0.97, 0.5
	lessLeft              = 0.6
)

// lumas is a stack's luma by pixels of the machine, the border about the picture with it.
type lumas struct {
	width, height int
	v             []float32
}

// newLumas takes the means; what the capture does not hold is NaN.
func newLumas(s *analyse.Survey, p *display.Profile) *lumas {
	reg, st := s.Registration, s.Stack
	out := &lumas{width: p.Width + 2*layLines, height: p.Height + 2*layLines}
	out.v = make([]float32, out.width*out.height)
	for y := range out.height {
		line := int(math.Round(reg.OriginY + float64(y-layLines)*reg.PitchY))
		row := out.v[y*out.width : (y+1)*out.width]
		for x := range row {
			left := reg.OriginX + float64(x-layLines)*reg.PitchX
			x0 := int(math.Ceil(left))
			x1 := max(x0+1, int(left+reg.PitchX))
			if line < 0 || line >= st.Height || x0 < 0 || x1 > st.Width {
				row[x] = float32(math.NaN())
				continue
			}
			sum := float32(0)
			for _, v := range st.Y[line*st.Width+x0 : line*st.Width+x1] {
				sum += v
			}
			row[x] = sum / float32(x1-x0)
		}
	}
	return out
}

// alike is the correlation of a moved by so many pixels and lines with b, by every second line and pixel.
func (a *lumas) alike(b *lumas, dx, dy int) float64 {
	var n, sa, sb, aa, bb, ab float64
	for y := max(0, -dy); y < min(b.height, a.height-dy); y += 2 {
		from, to := max(0, -dx), min(b.width, a.width-dx)
		ra, rb := a.v[(y+dy)*a.width+from+dx:], b.v[y*b.width+from:y*b.width+to]
		for x := 0; x < len(rb); x += 2 {
			u, v := float64(ra[x]), float64(rb[x])
			if u != u || v != v {
				continue
			}
			n++
			sa, sb, aa, bb, ab = sa+u, sb+v, aa+u*u, bb+v*v, ab+u*v
		}
	}
	va, vb := aa-sa*sa/n, bb-sb*sb/n
	if n == 0 || va < n*square(evenScreen) || vb < n*square(evenScreen) { // nothing to hold to
		return 0
	}
	return (ab - sa*sb/n) / math.Sqrt(va*vb)
}
