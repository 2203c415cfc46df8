package cells

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"backporch/analyse/grid"
)

const (
	reach  = 4           // the filter spans reach pixels to both sides
	margin = 2*reach + 8 // border pixels kept on either side of the picture
)

// A model is the picture as now believed: a level for every pixel, and the filter
// between the levels and what is seen.
type model struct {
	seen          *grid.Raster
	width, height int       // of the picture
	stride        int       // of level and residual: width + 2*margin
	level         []float32 // codes
	residual      []float32 // seen less model
	half          [reach + 1]float32
	// lines are the filter's parts on the line above and the line below, where a comb mixes lines; combed tells whether it does.
	lines  [2][reach + 1]float32
	combed bool
	around float32 // code of what lies above and below the picture
	energy float32 // sum of squares of the filter
	steps  []float32
}

// newModel starts from levels, stride wide, and a filter for a bandwidth near 4 MHz.
func newModel(seen *grid.Raster, width, height int) *model {
	m := &model{seen: seen, width: width, height: height, stride: width + 2*margin}
	m.level = make([]float32, m.stride*height)
	m.residual = make([]float32, m.stride*height)
	m.steps = make([]float32, width)
	m.setFilter([reach + 1]float32{0.72, 0.16, -0.02, 0, 0})
	return m
}

func (m *model) setFilter(half [reach + 1]float32) {
	sum := half[0]
	for _, h := range half[1:] {
		sum += 2 * h
	}
	m.energy = 0
	for i := range half {
		half[i] /= sum
		if i == 0 {
			m.energy += half[0] * half[0]
		} else {
			m.energy += 2 * half[i] * half[i]
		}
	}
	m.half = half
	m.lines, m.combed = [2][reach + 1]float32{}, false
}

// update works out the residual anew from the levels.
func (m *model) update() {
	h := m.half
	for y := range m.height {
		level := m.level[y*m.stride : (y+1)*m.stride]
		residual := m.residual[y*m.stride : (y+1)*m.stride]
		seen := m.seen.Row(y)
		for x := reach; x < m.stride-reach; x++ {
			around := level[x-reach : x+reach+1 : x+reach+1]
			v := h[0] * around[reach]
			for k := 1; k <= reach; k++ {
				v += h[k] * (around[reach-k] + around[reach+k])
			}
			residual[x] = seen[x] - v
		}
	}
	if m.combed {
		m.updateLines()
	}
}

// change adds d to the level at index i and keeps the residual in step.
func (m *model) change(i int, d float32) {
	m.level[i] += d
	m.residual[i] -= d * m.half[0]
	for k := 1; k <= reach; k++ {
		m.residual[i-k] -= d * m.half[k]
		m.residual[i+k] -= d * m.half[k]
	}
	if m.combed {
		m.changeLines(i, d)
	}
}

// gain is how much the sum of squares falls when d is added at index i.
func (m *model) gain(i int, d float32) float32 {
	around := m.residual[i-reach : i+reach+1 : i+reach+1]
	r := m.half[0] * around[reach]
	for k := 1; k <= reach; k++ {
		r += m.half[k] * (around[reach-k] + around[reach+k])
	}
	if m.combed {
		r += m.linesCorrelation(i)
	}
	return 2*d*r - d*d*m.energy
}

// overlap is the filter's autocorrelation apart pixels apart.
func (m *model) overlap(apart int) float32 {
	sum := autocorrelation(&m.half, apart)
	if m.combed {
		sum += autocorrelation(&m.lines[0], apart) + autocorrelation(&m.lines[1], apart)
	}
	return sum
}

func autocorrelation(half *[reach + 1]float32, apart int) float32 {
	at := func(k int) float32 {
		if k < 0 {
			k = -k
		}
		if k > reach {
			return 0
		}
		return half[k]
	}
	var sum float32
	for k := -reach; k <= reach; k++ {
		sum += at(k) * at(k+apart)
	}
	return sum
}

// filterRidge holds a filter towards the present one, as if some 200 pixels at mid grey had confirmed it.
const filterRidge = 200 * 100 * 100.0

// identify fits the filter to the levels by least squares, held towards the
// present one where the picture has too few edges to say. weigh names the lines to use.
func (m *model) identify(sigma float64) {
	const n = reach + 1
	var a, gather [n]float64
	var sums [n][n]float64
	for y := 0; y < m.height; y++ {
		level := m.level[y*m.stride : (y+1)*m.stride]
		seen := m.seen.Row(y)
		even := newEvenness(level)
		for x := reach; x < m.stride-reach; x++ {
			if even.at(x) { // flat surroundings say nothing about the filter's shape
				continue
			}
			around := level[x-reach : x+reach+1 : x+reach+1]
			a[0] = float64(around[reach])
			for k := 1; k <= reach; k++ {
				a[k] = float64(around[reach-k] + around[reach+k])
			}
			v := float64(seen[x])
			for i, w := range a {
				for j := i; j < n; j++ {
					sums[i][j] += w * a[j]
				}
				gather[i] += w * v
			}
		}
	}
	normal, right := mat.NewSymDense(n, nil), mat.NewVecDense(n, nil)
	for i := range n {
		for j := i; j < n; j++ {
			normal.SetSym(i, j, sums[i][j])
		}
		normal.SetSym(i, i, sums[i][i]+filterRidge)
		right.SetVec(i, gather[i]+filterRidge*float64(m.half[i]))
	}
	var cholesky mat.Cholesky
	if !cholesky.Factorize(normal) {
		return
	}
	var solution mat.VecDense
	if cholesky.SolveVecTo(&solution, right) != nil {
		return
	}
	var half [n]float32
	sum := solution.AtVec(0)
	for i := range half {
		half[i] = float32(solution.AtVec(i))
		if i > 0 {
			sum += 2 * solution.AtVec(i)
		}
	}
	// A filter whose middle isn't its largest tap, or that does not pass a flat level, was fitted to wrong pixels.
	if half[0] > half[1] && half[0] > 0.2 && math.Abs(sum-1) < 0.3 {
		m.setFilter(half)
	}
}

// An evenness tells, for one place of a line after the other, whether all within the filter's reach are of one level.
type evenness struct {
	level []float32
	run   int // levels up to the last one looked at that are as it is
	last  int
}

func newEvenness(level []float32) evenness { return evenness{level: level, run: 1} }

// at is asked with places that never go back.
func (e *evenness) at(x int) bool {
	for ; e.last < x+reach; e.last++ {
		if e.level[e.last+1] == e.level[e.last] {
			e.run++
		} else {
			e.run = 1
		}
	}
	return e.run > 2*reach
}

// decide changes pixels of a line of one cell row while that lowers the sum of squares.
// two holds the cell's levels {paper, ink} by column of cells; bits the pattern, one byte a cell.
func (m *model) decide(y int, two [][2]float32, bits []uint8) {
	overlap := m.overlap(1)
	row := y*m.stride + margin
	steps := m.steps[:m.width] // what a change of each pixel would add to its level
	for c, t := range two {
		for x := range 8 {
			steps[c*8+x] = t[1] - t[0]
			if bits[c]>>(7-x)&1 == 1 {
				steps[c*8+x] = t[0] - t[1]
			}
		}
	}
	flip := func(x int, d float32) {
		bits[x/8] ^= 1 << (7 - x%8)
		steps[x] = -d
		m.change(row+x, d)
	}
	for range 8 {
		changed := false
		for x := range m.width {
			d := steps[x]
			if d == 0 {
				continue
			}
			alone := m.gain(row+x, d)
			if alone > 0 {
				flip(x, d)
				changed = true
				continue
			}
			if x+1 < m.width {
				if e := steps[x+1]; e != 0 {
					if alone+m.gain(row+x+1, e)-2*d*e*overlap > 0 {
						flip(x, d)
						flip(x+1, e)
						changed = true
					}
				}
			}
		}
		if !changed {
			return
		}
	}
}
