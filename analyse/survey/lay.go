package survey

import (
	"math"
	"slices"

	"backporch/analyse"
	"backporch/analyse/grid"
	"backporch/video/display"
)

// lay says by how many pixels and lines a capture and its reference should each be placed otherwise so that their pictures lie over each other, by luma alone
// and before either's cells are compared: where border and paper are alike, each is placed by what it shows, and a decoder may leave more of it to the one. It is the pair
// of places that both captures by themselves find likeliest; a Text display's reference has been placed by its font and stays. Both are zero where nothing lies better.
func lay(s, reference *analyse.Survey, p *display.Profile) (here, there analyse.Shift) {
	if reference.Stack == nil || !reference.Registration.OK || !s.Registration.OK {
		return here, there
	}
	a, b := newLumas(s, p), newLumas(reference, p)
	own := a.alike(b, 0, 0)
	if own > surelyLaid {
		return here, there
	}
	best, d := a.over(b, own)
	if best < leastLaid { // the border may be another
		a, b = a.within(), b.within()
		own = a.alike(b, 0, 0)
		best, d = a.over(b, own)
	}
	if best < leastLaid || 1-best*best > lessLeft*(1-own*own) {
		return here, there
	}
	one, other := placesOf(s, p), placesOf(reference, p)
	if p.Kind == display.Text {
		other = map[[2]int]float64{{}: 0}
	}
	most := math.Inf(-1)
	for at, v := range one {
		w, ok := other[[2]int{at[0] - d.Pixels, at[1] - d.Lines}]
		if ok && (v+w > most || v+w == most && at == [2]int{d.Pixels, d.Lines}) {
			most = v + w
			here = analyse.Shift{Pixels: at[0], Lines: at[1]}
		}
	}
	there = analyse.Shift{Pixels: here.Pixels - d.Pixels, Lines: here.Lines - d.Lines}
	if math.IsInf(most, -1) || d.Lines == 0 && (d.Pixels == 1 || d.Pixels == -1 || d.Pixels == 8 || d.Pixels == -8) && most < one[[2]int{}]+other[[2]int{}]+movedByFault {
		return analyse.Shift{}, analyse.Shift{}
	}
	return here, there
}

// placesOf is ln of the probability of each place of a capture.
func placesOf(s *analyse.Survey, p *display.Profile) map[[2]int]float64 {
	out := map[[2]int]float64{}
	for _, at := range grid.Places(s.Stack, p, s.Registration) {
		out[[2]int{at.Pixels, at.Lines}] = math.Log(math.Max(at.Probability, 1e-12))
	}
	return out
}

// movedByFault is ln of how often a fault moves the whole picture by a pixel or a cell against its border, the shift register or the fetch being late; none
// moves its lines. Common practice, no source.
const movedByFault = -6.0

// How far apart two captures are tried, pixels and lines; the correlation from which on nothing better is looked for, the least that shows the same screen,
// what part of the variance another place must leave of what this one leaves, and the deviation of luma on an even screen, codes. Common practice, no source.
const (
	layPixels, layLines   = 8, 16
	surelyLaid, leastLaid = 0.97, 0.5
	lessLeft              = 0.6
	evenLuma              = 3.0
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

// within has nothing about the picture.
func (a *lumas) within() *lumas {
	out := &lumas{width: a.width, height: a.height, v: slices.Clone(a.v)}
	for i := range out.v {
		if x, y := i%a.width, i/a.width; min(x, a.width-1-x, y, a.height-1-y) < layLines {
			out.v[i] = float32(math.NaN())
		}
	}
	return out
}

// over is by how many pixels and lines a must be moved to be most like b, and how much it then is; own is how much where it stands.
func (a *lumas) over(b *lumas, own float64) (best float64, d analyse.Shift) {
	best = own
	for y := -layLines; y <= layLines; y++ {
		for x := -layPixels; x <= layPixels; x++ {
			if v := a.alike(b, x, y); v > best {
				best, d = v, analyse.Shift{Pixels: x, Lines: y}
			}
		}
	}
	return best, d
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
	if n == 0 || va < n*evenLuma*evenLuma || vb < n*evenLuma*evenLuma { // nothing to hold to
		return 0
	}
	return (ab - sa*sb/n) / math.Sqrt(va*vb)
}

// fine takes where pixels begin from a reference of the same screen, for a capture whose edges hardly say it, as those of few strokes of strong colours: it is moved by
// the part of a pixel by which the two lie over each other best.
func fine(s, reference *analyse.Survey, p *display.Profile) {
	if reference.Stack == nil || !reference.Registration.OK || !s.Registration.OK || told(reference.Registration) < surelyTold*told(s.Registration) {
		return
	}
	b := newLumas(reference, p)
	best, most := 0, math.Inf(-1)
	for k := -phaseSteps; k <= phaseSteps; k++ {
		at := *s
		at.Registration.OriginX += float64(k) * phaseStep * s.Registration.PitchX
		if alike := newLumas(&at, p).alike(b, 0, 0); alike > most {
			best, most = k, alike
		}
	}
	if most >= surelySame && best > -phaseSteps && best < phaseSteps { // else they may lie a pixel aside
		s.Registration.OriginX += float64(best) * phaseStep * s.Registration.PitchX
	}
}

// told is how much edges say of where pixels begin: as many as there are, each by how much nearer to the pixels' ends they lie than any would on the mean, which is
// 1/sqrt(12) of a pixel off.
func told(r analyse.Registration) float64 {
	return float64(r.Edges) * square(math.Max(0, 1-12*square(r.ResidualPx)))
}

func square(x float64) float64 { return x * x }

// How much more a reference's edges must say than the capture's; the parts of a pixel that are tried, to either side; and how alike the two must be there. Common
// practice, no source.
const (
	surelyTold = 8.0
	phaseSteps = 4
	phaseStep  = 0.125
	surelySame = 0.93
)
