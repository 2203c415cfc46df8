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
	combN     = 3 * (reach + 1)
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

// identifyComb fits the filter on three lines, and keeps it where it explains clearly more than that on one, which stands.
func (m *model) identifyComb() {
	const n = reach + 1
	squares := 0.0
	var gather [combN]float64
	var sums [combN][combN]float64
	const together = 4 // pixels are gathered by fours, so that the sums are fetched and put back once for all of them
	var a [together][combN]float64
	var v [together]float64
	held := 0
	gatherAll := func() {
		for _, w := range v[:held] {
			squares += w * w
		}
		for i := range combN {
			w0, w1, w2, w3 := a[0][i], a[1][i], a[2][i], a[3][i]
			gather[i] = gather[i] + w0*v[0] + w1*v[1] + w2*v[2] + w3*v[3]
			row := &sums[i]
			for j := i; j < combN; j++ {
				row[j] = row[j] + w0*a[0][j] + w1*a[1][j] + w2*a[2][j] + w3*a[3][j]
			}
		}
		a, v, held = [together][combN]float64{}, [together]float64{}, 0
	}
	outside := m.outside()
	for y := range m.height {
		rows := [3][]float32{m.row(y), m.row(y - 1), m.row(y + 1)}
		var even [3]evenness
		for line := range rows {
			if rows[line] == nil {
				rows[line] = outside
			}
			even[line] = newEvenness(rows[line])
		}
		seen := m.seen.Row(y)
		for x := reach; x < m.stride-reach; x++ {
			own, above, below := even[0].at(x), even[1].at(x), even[2].at(x)
			if own && above && below {
				continue
			}
			for line, level := range rows {
				around := level[x-reach : x+reach+1 : x+reach+1]
				parts := a[held][line*n : line*n+n]
				parts[0] = float64(around[reach])
				for k := 1; k < n; k++ {
					parts[k] = float64(around[reach-k] + around[reach+k])
				}
			}
			v[held] = float64(seen[x])
			if held++; held == together {
				gatherAll()
			}
		}
	}
	gatherAll()
	// solve gives the filter of the first size parts, held as in identify, and towards nothing on the lines beside; and the sum of squares
	// that it leaves: seen less twice the filter by gather plus the filter by sums by the filter.
	solve := func(size int) (w []float64, left float64) {
		normal, right := mat.NewSymDense(size, nil), mat.NewVecDense(size, nil)
		for i := range size {
			for j := i; j < size; j++ {
				normal.SetSym(i, j, sums[i][j])
			}
			present := 0.0
			if i < n {
				present = float64(m.half[i])
			}
			normal.SetSym(i, i, sums[i][i]+filterRidge)
			right.SetVec(i, gather[i]+filterRidge*present)
		}
		var cholesky mat.Cholesky
		var solution mat.VecDense
		if !cholesky.Factorize(normal) || cholesky.SolveVecTo(&solution, right) != nil {
			return nil, 0
		}
		w, left = solution.RawVector().Data, squares
		for i := range w {
			left -= 2 * w[i] * gather[i]
			for j := range w {
				left += w[i] * w[j] * sums[min(i, j)][max(i, j)]
			}
		}
		return w, left
	}
	_, one := solve(n)
	w, three := solve(combN)
	if w == nil || three > (1-combGain)*one {
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
