package timing

import (
	"math"

	"backporch/video"
)

// mean2D is the mean of fields, each line where it belongs.
type mean2D struct {
	width, height int
	y             []float32
	count         []int  // fields in each line
	coloured      []bool // sample beside which the colour changes
}

func (m *mean2D) line(y int) []float32 { return m.y[y*m.width : (y+1)*m.width] }

func (m *mean2D) stack(fields []*video.Field, pick []int, v vertical, shifts [][]float64) {
	m.y = make([]float32, m.width*m.height)
	m.count = make([]int, m.height)
	for k, i := range pick {
		d := int(math.Round(v.at[i] - v.at[pick[0]]))
		for y := 0; y < m.height; y += lineStep {
			from := y + d
			if from < 0 || from >= m.height || math.IsNaN(shifts[k][y]) {
				continue
			}
			line, out := fields[i].Line(from), m.line(y)
			m.count[y]++
			if shifts[k][y] == 0 {
				for x, v := range line {
					out[x] += float32(v)
				}
				continue
			}
			whole, w := taps(shifts[k][y])
			at := func(x int) float32 { return float32(line[min(max(x+whole, 0), m.width-1)]) }
			for x := range out {
				out[x] += w[0]*at(x-1) + w[1]*at(x) + w[2]*at(x+1) + w[3]*at(x+2)
			}
		}
	}
	for y, n := range m.count {
		if n > 1 {
			scale := 1 / float32(n)
			for x := range m.line(y) {
				m.y[y*m.width+x] *= scale
			}
		}
	}
}

// colourStep is the least change of both colour differences together, in codes, that counts; noise
// makes less.
const colourStep = 24

// markColour finds where the colour changes more than the luma, over 6 samples to either side: the rise of some
// 350 ns that 1 MHz of chroma bandwidth allows. What a decoder leaves of the subcarrier there
// moves the edge from field to field, by as much as it is strong against the edge.
func (m *mean2D) markColour(fields []*video.Field, pick []int, v vertical) {
	m.coloured = make([]bool, m.width*m.height)
	width := fields[pick[0]].ChromaWidth
	if width < 8 {
		return
	}
	cb, cr := make([]int, width), make([]int, width)
	for y := 0; y < m.height; y += lineStep {
		clear(cb)
		clear(cr)
		n := 0
		for _, i := range pick {
			f, from := fields[i], y+int(math.Round(v.at[i]-v.at[pick[0]]))
			if from < 0 || from >= m.height || f.ChromaWidth != width || len(f.Cb) < width*m.height || len(f.Cr) < width*m.height {
				continue
			}
			n++
			for x, c := range f.Cb[from*width : (from+1)*width] {
				cb[x] += int(c)
			}
			for x, c := range f.Cr[from*width : (from+1)*width] {
				cr[x] += int(c)
			}
		}
		reach, line := max(1, 6*width/m.width), m.line(y)
		for x := range m.width {
			c := x * width / m.width
			lo, hi := max(0, c-reach), min(width-1, c+reach)
			change := max(cb[hi]-cb[lo], cb[lo]-cb[hi]) + max(cr[hi]-cr[lo], cr[lo]-cr[hi])
			if change <= colourStep*n {
				continue
			}
			least, most := line[x], line[x]
			for _, v := range line[max(0, x-6):min(m.width, x+7)] {
				least, most = min(least, v), max(most, v)
			}
			m.coloured[y*m.width+x] = float32(change) > (most-least)*float32(n)
		}
	}
}
