package cells

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// A decoder that parts luma and chroma by a comb takes for chroma what a line and the one before, or the lines above and below, share about the
// subcarrier, and takes that off: what a fine pattern of one line has there it halves, and leaves the other half on the lines beside it. The
// filter between pixels and samples then has a part on each of three lines, which is identified and undone like that of one line.

const (
	// combGain is the part of the sum of squares that the lines beside must explain to be believed; common practice, no source.
	combGain = 0.10
	// combLeast is the least that a comb leaves on a line beside; common practice, no source.
	combLeast = 0.05
	// combSome is how many lines there are to each that is looked at first: where these alone are not explained by half as much, none is.
	combSome = 3
	combN    = 3 * (reach + 1)
)

// row is line y's levels; nil above and below the picture.
func (m *model) row(y int) []float32 {
	if y < 0 || y >= m.height {
		return nil
	}
	return m.level[y*m.stride : (y+1)*m.stride]
}

// outside is a line above or below the picture, all around.
func (m *model) outside() []float32 {
	line := make([]float32, m.stride)
	for x := range line {
		line[x] = m.around
	}
	return line
}

// updateLines takes the lines beside off the residual.
func (m *model) updateLines() {
	outside := m.outside()
	for y := range m.height {
		residual := m.residual[y*m.stride : (y+1)*m.stride]
		for side := range m.lines {
			h, level := &m.lines[side], m.row(y-1+2*side)
			if level == nil {
				level = outside
			}
			for x := reach; x < m.stride-reach; x++ {
				around := level[x-reach : x+reach+1 : x+reach+1]
				v := h[0] * around[reach]
				for k := 1; k <= reach; k++ {
					v += h[k] * (around[reach-k] + around[reach+k])
				}
				residual[x] -= v
			}
		}
	}
}

// changeLines keeps the residuals of the lines below and above in step with a change at index i: the line below has this one above it.
func (m *model) changeLines(i int, d float32) {
	for side, h := range m.lines {
		at := i + m.stride*(1-2*side)
		if at < reach || at+reach >= len(m.residual) {
			continue
		}
		m.residual[at] -= d * h[0]
		for k := 1; k <= reach; k++ {
			m.residual[at-k] -= d * h[k]
			m.residual[at+k] -= d * h[k]
		}
	}
}

// linesCorrelation is the part of gain's correlation on the lines below and above index i.
func (m *model) linesCorrelation(i int) float32 {
	r := float32(0)
	for side, h := range m.lines {
		at := i + m.stride*(1-2*side)
		if at < reach || at+reach >= len(m.residual) {
			continue
		}
		r += h[0] * m.residual[at]
		for k := 1; k <= reach; k++ {
			r += h[k] * (m.residual[at-k] + m.residual[at+k])
		}
	}
	return r
}

// combSums are the products of what the filter meets on three lines, and of that with what is seen.
type combSums struct {
	squares float64
	gather  [combN]float64
	sums    [combN][combN]float64
	// Pixels are added by fours, so that the sums are fetched and put back once for all of them.
	met  [4][combN]float64
	seen [4]float64
	held int
}

// add takes one line, whose own levels and those above and below are rows; where all are even they say nothing.
func (c *combSums) add(rows [3][]float32, seen []float32) {
	const n = reach + 1
	even := [3]evenness{newEvenness(rows[0]), newEvenness(rows[1]), newEvenness(rows[2])}
	for x := reach; x < len(rows[0])-reach; x++ {
		own, above, below := even[0].at(x), even[1].at(x), even[2].at(x)
		if own && above && below {
			continue
		}
		for line, level := range rows {
			around := level[x-reach : x+reach+1 : x+reach+1]
			parts := c.met[c.held][line*n : line*n+n]
			parts[0] = float64(around[reach])
			for k := 1; k < n; k++ {
				parts[k] = float64(around[reach-k] + around[reach+k])
			}
		}
		c.seen[c.held] = float64(seen[x])
		if c.held++; c.held == len(c.seen) {
			c.flush()
		}
	}
}

// flush adds the pixels that are held.
func (c *combSums) flush() {
	for _, v := range c.seen[:c.held] {
		c.squares += v * v
	}
	p, q, r, s := &c.met[0], &c.met[1], &c.met[2], &c.met[3]
	for i := range combN {
		w0, w1, w2, w3 := p[i], q[i], r[i], s[i]
		c.gather[i] = c.gather[i] + w0*c.seen[0] + w1*c.seen[1] + w2*c.seen[2] + w3*c.seen[3]
		row := &c.sums[i]
		for j := i; j < combN; j++ {
			row[j] = row[j] + w0*p[j] + w1*q[j] + w2*r[j] + w3*s[j]
		}
	}
	c.met, c.seen, c.held = [4][combN]float64{}, [4]float64{}, 0
}

// solve gives the filter of the first size parts, held as in identify, and towards nothing on the lines beside; and the sum of squares
// that it leaves: seen less twice the filter by gather plus the filter by sums by the filter. w is nil where there is none.
func (c *combSums) solve(size int, half *[reach + 1]float32, ridge float64) (w []float64, left float64) {
	normal, right := mat.NewSymDense(size, nil), mat.NewVecDense(size, nil)
	for i := range size {
		for j := i; j < size; j++ {
			normal.SetSym(i, j, c.sums[i][j])
		}
		present := 0.0
		if i < len(half) {
			present = float64(half[i])
		}
		normal.SetSym(i, i, c.sums[i][i]+ridge)
		right.SetVec(i, c.gather[i]+ridge*present)
	}
	var cholesky mat.Cholesky
	var solution mat.VecDense
	if !cholesky.Factorize(normal) || cholesky.SolveVecTo(&solution, right) != nil {
		return nil, 0
	}
	w, left = solution.RawVector().Data, c.squares
	for i := range w {
		left -= 2 * w[i] * c.gather[i]
		for j := range w {
			left += w[i] * w[j] * c.sums[min(i, j)][max(i, j)]
		}
	}
	return w, left
}

// explains gives the filter on three lines, nil where that leaves more than a part of what one line's leaves.
func (c *combSums) explains(half *[reach + 1]float32, ridge, part float64) []float64 {
	_, one := c.solve(reach+1, half, ridge)
	w, three := c.solve(combN, half, ridge)
	if three > part*one {
		return nil
	}
	return w
}

// identifyComb fits the filter on three lines, and keeps it where it explains clearly more than that on one, which stands.
func (m *model) identifyComb() {
	const n = reach + 1
	var c combSums
	outside := m.outside()
	add := func(y int) {
		rows := [3][]float32{m.row(y), m.row(y - 1), m.row(y + 1)}
		for line := range rows {
			if rows[line] == nil {
				rows[line] = outside
			}
		}
		c.add(rows, m.seen.Row(y))
	}
	for y := 0; y < m.height; y += combSome {
		add(y)
	}
	c.flush()
	if c.explains(&m.half, filterRidge/combSome, 1-combGain/2) == nil {
		return
	}
	for y := range m.height {
		if y%combSome > 0 {
			add(y)
		}
	}
	c.flush()
	w := c.explains(&m.half, filterRidge, 1-combGain)
	if w == nil {
		return
	}
	var half [n]float32
	var lines [2][n]float32
	sum, energy := 0.0, 0.0
	for i := range combN {
		v, twice := w[i], 2.0
		if i%n == 0 {
			twice = 1
		}
		sum += twice * v
		energy += twice * v * v
		if i < n {
			half[i] = float32(v)
		} else {
			lines[i/n-1][i%n] = float32(v)
		}
	}
	beside := math.Max(math.Abs(float64(lines[0][0])), math.Abs(float64(lines[1][0])))
	if beside < combLeast || half[0] < 0.2 || float64(half[0]) < beside || math.Abs(sum-1) > 0.3 {
		return
	}
	for i := range half {
		half[i] /= float32(sum)
		lines[0][i] /= float32(sum)
		lines[1][i] /= float32(sum)
	}
	m.half, m.lines, m.combed, m.energy = half, lines, true, float32(energy/sum/sum)
}
