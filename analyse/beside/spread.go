package beside

import (
	"math"
	"slices"

	"backporch/analyse"
)

// spread is the deviation of what is left over about each pixel, as far as luma goes up and down about it in the good machine's capture: edges and fine
// patterns are where two decoders differ. It is the middle one of many such places, so that what a fault changes in fewer does not count.
func (d *difference) spread(b *samples) []float64 {
	const sorts = 12
	w, h := d.p.Width, d.p.Height
	lively := make([]float64, w*h)
	for y := range h {
		for x := range w {
			lo, hi := math.Inf(1), math.Inf(-1)
			for dy := -1; dy <= 1; dy++ {
				for dx := -2; dx <= 2; dx++ {
					v := b.at(x+dx, y+dy)
					lo, hi = math.Min(lo, v), math.Max(hi, v)
				}
			}
			lively[y*w+x] = hi - lo
		}
	}
	var order []int
	for at, v := range d.left {
		if !math.IsNaN(v) {
			order = append(order, at)
		}
	}
	slices.SortFunc(order, func(i, j int) int {
		switch {
		case lively[i] < lively[j]:
			return -1
		case lively[i] > lively[j]:
			return 1
		}
		return i - j
	})
	out := make([]float64, w*h)
	for k := range sorts {
		part := order[k*len(order)/sorts : (k+1)*len(order)/sorts]
		off := make([]float32, len(part))
		for i, at := range part {
			off[i] = float32(math.Abs(d.left[at]))
		}
		sd := leastScale
		if len(off) > 0 {
			sd = math.Max(sd, 1.4826*float64(analyse.Select(off, len(off)/2)))
		}
		for _, at := range part {
			out[at] = sd
		}
	}
	return out
}

// compareChroma does for the cells' mean chroma what compare does for luma.
func (d *difference) compareChroma(s, good *analyse.Survey) {
	a, b := s.Stack, good.Stack
	if a.ChromaWidth == 0 || b.ChromaWidth == 0 || s.Signal.ChromaDead || good.Signal.ChromaDead {
		return
	}
	n := len(good.Cells)
	var here, there [2][]float64
	ideal := make([][3]float64, n)
	for i := range good.Cells {
		g := &good.Cells[i]
		u, v := chromaOf(a, s.Registration, g), chromaOf(b, good.Registration, g)
		for k := range 2 {
			here[k], there[k] = append(here[k], u[k]), append(there[k], v[k])
		}
		ideal[i] = d.mean(g)
	}
	for k := range 2 {
		rows := make([][3]float64, n)
		for i := range rows {
			rows[i] = [3]float64{there[0][i], there[1][i], 1}
		}
		_, left, sd, ok := robust(here[k], rows)
		if !ok {
			return
		}
		d.chroma[k], d.chromaSD[k] = left, math.Max(sd, 2*leastScale)
		if d.toChroma[k], _, _, ok = robust(here[k], ideal); !ok {
			return
		}
	}
	d.withChroma = true
}

// mean is the display's mean U and V of a cell as it is read, and 1.
func (d *difference) mean(c *analyse.Cell) [3]float64 {
	var out [3]float64
	for y := range 8 {
		for x := range 8 {
			k := d.p.Colours[max(0, colourAt(c, x, y))]
			out[0], out[1] = out[0]+k.U/64, out[1]+k.V/64
		}
	}
	out[2] = 1
	return out
}

// chromaOf is a cell's mean Cb and Cr.
func chromaOf(s *analyse.Stack, reg analyse.Registration, c *analyse.Cell) (out [2]float64) {
	scale := float64(s.ChromaWidth) / float64(s.Width)
	x0 := int(math.Round((reg.OriginX + float64(c.Column*8)*reg.PitchX) * scale))
	x1 := int(math.Round((reg.OriginX + float64(c.Column*8+8)*reg.PitchX) * scale))
	x0, x1 = max(0, min(x0, s.ChromaWidth-1)), max(1, min(x1, s.ChromaWidth))
	n := 0.0
	for y := range 8 {
		line := int(math.Round(reg.OriginY + float64(c.Row*8+y)*reg.PitchY))
		if line < 0 || line >= s.Height {
			continue
		}
		for x := x0; x < max(x1, x0+1); x++ {
			out[0] += float64(s.Cb[line*s.ChromaWidth+x])
			out[1] += float64(s.Cr[line*s.ChromaWidth+x])
			n++
		}
	}
	out[0], out[1] = out[0]/math.Max(n, 1), out[1]/math.Max(n, 1)
	return out
}

// robust fits v by three terms as fit does.
func robust(v []float64, rows [][3]float64) (c [3]float64, left []float64, sd float64, ok bool) {
	left = make([]float64, len(v))
	sd = math.Inf(1)
	for range 6 {
		var m [3][4]float64
		for i, r := range rows {
			w := 1.0
			if !math.IsInf(sd, 1) {
				z := left[i] / (outlier * sd)
				if z *= z; z >= 1 {
					continue
				}
				w = (1 - z) * (1 - z)
			}
			for j := range 3 {
				for k := range 3 {
					m[j][k] += w * r[j] * r[k]
				}
				m[j][3] += w * r[j] * v[i]
			}
		}
		for j := range 3 { // screens of one colour tell nothing of the other
			m[j][j] += 1e-6
		}
		if c, ok = solve(m); !ok {
			return c, nil, 0, false
		}
		off := make([]float32, len(v))
		for i, r := range rows {
			left[i] = v[i] - c[0]*r[0] - c[1]*r[1] - c[2]*r[2]
			off[i] = float32(math.Abs(left[i]))
		}
		sd = math.Max(leastScale, 1.4826*float64(analyse.Select(off, len(off)/2)))
	}
	return c, left, sd, true
}

// solve is Gauss's elimination of three.
func solve(m [3][4]float64) (c [3]float64, ok bool) {
	for j := range 3 {
		top := j
		for k := j + 1; k < 3; k++ {
			if math.Abs(m[k][j]) > math.Abs(m[top][j]) {
				top = k
			}
		}
		if m[j], m[top] = m[top], m[j]; m[j][j] == 0 {
			return c, false
		}
		for k := j + 1; k < 3; k++ {
			f := m[k][j] / m[j][j]
			for i := j; i < 4; i++ {
				m[k][i] -= f * m[j][i]
			}
		}
	}
	for j := 2; j >= 0; j-- {
		c[j] = m[j][3]
		for i := j + 1; i < 3; i++ {
			c[j] -= m[j][i] * c[i]
		}
		c[j] /= m[j][j]
	}
	return c, true
}

// chromaOdds is what a cell's chroma says of the same question as odds.
func (d *difference) chromaOdds(c, g *analyse.Cell) (sum float64) {
	if !d.withChroma {
		return 0
	}
	read, as := d.mean(c), d.mean(g)
	i := c.Row*d.p.Columns() + c.Column
	for k := range 2 {
		would := d.toChroma[k][0]*(read[0]-as[0]) + d.toChroma[k][1]*(read[1]-as[1])
		sum += rho(d.chroma[k][i]-would, d.chromaSD[k]) - rho(d.chroma[k][i], d.chromaSD[k])
	}
	return sum
}

// mostChroma is how many deviations a cell's chroma may be from the good machine's and still be the same. Common practice, no source.
const mostChroma = 4

func (d *difference) chromaStill(c *analyse.Cell) bool {
	if !d.withChroma {
		return true
	}
	i := c.Row*d.p.Columns() + c.Column
	for k := range 2 {
		if math.Abs(d.chroma[k][i]) > mostChroma*d.chromaSD[k] {
			return false
		}
	}
	return true
}
