package survey

import (
	"math"
	"slices"

	"backporch/analyse"
	"backporch/video"
	"backporch/video/display"
)

// changes counts, for every bit of the memory, the fields that show another value
// than the stack, and gives the index in all of the field that differs most.
//
// Only pixels whose variance over time stands out are followed: a bit that changes in
// one field of n adds step^2 (n-1)/n^2 to it.
func changes(s *analyse.Survey, p *display.Profile, phase, all []*video.Field) int {
	m, reg, stack := s.Memory, s.Registration, s.Stack
	if stack.VarY == nil {
		return 0
	}
	m.Moves = moves(reg, p, stack, phase)
	m.Changed = make([]uint16, len(m.Bytes)*8)
	median := stack.Variance()
	sigma := math.Sqrt(median)
	threshold := max(24, 6*sigma)
	limit := max(6*median, threshold*threshold/float64(stack.N)*0.7)
	odd := make([]int, len(phase))
	beside := quiet{cells: s.Cells, columns: p.Columns(), border: s.Border.Colour, apart: func(a, b int) bool {
		u, v := p.Colours[a], p.Colours[b]
		return math.Hypot(u.U-v.U, u.V-v.V) > 0.1
	}}
	for i := range s.Cells {
		c := &s.Cells[i]
		// A changed bit shows the cell's other colour; dot crawl and noise fall short of it.
		if !c.Single && beside.apart(c.Ink, c.Paper) {
			continue // the subcarrier leaks at every stroke
		}
		step := 48.0
		if !c.Single && p.Kind == display.Attr {
			step = math.Abs(p.Colours[c.Ink].Y-p.Colours[c.Paper].Y) * (s.Levels.White - s.Levels.Black)
		}
		for y := range 8 {
			line := c.Row*8 + y
			row := int(math.Round(reg.OriginY + float64(line)*reg.PitchY))
			if row < 0 || row >= stack.Height {
				continue
			}
			for x := range 8 {
				threshold := max(threshold, 0.35*step)
				at := row*stack.Width + int(math.Round(reg.OriginX+(float64(c.Column*8+x)+0.5)*reg.PitchX))
				if beside.crawls(c, x, y) {
					continue
				}
				if at < 0 || at >= len(stack.VarY) || float64(stack.VarY[at]) < limit {
					continue
				}
				n := 0
				for k, f := range phase {
					if d := float64(f.Y[at]) - float64(stack.Y[at]); d > threshold || d < -threshold {
						n++
						odd[k]++
					}
				}
				if n == 0 {
					continue
				}
				n = max(1, min(n, len(phase)-n))
				if p.Kind == display.Attr {
					a := p.BitmapAddress(line, c.Column)
					m.Changed[a*8+7-x] = uint16(n)
				} else {
					a := p.CellAddress(c.Row, c.Column)
					for b := range 8 { // which bits of the code changed is not known
						m.Changed[a*8+b] = max(m.Changed[a*8+b], uint16(n))
					}
				}
			}
		}
	}
	worst := 0
	for k := range odd {
		if odd[k] > odd[worst] {
			worst = k
		}
	}
	return max(0, slices.Index(all, phase[worst]))
}

// moves measures how each lane's mean moves against the middle of all lanes.
func moves(reg analyse.Registration, p *display.Profile, stack *analyse.Stack, phase []*video.Field) (out [8]float64) {
	at := make([]int, p.Width)
	for x := range at {
		at[x] = int(math.Round(reg.OriginX + (float64(x)+0.5)*reg.PitchX))
	}
	if at[0] < 0 || at[p.Width-1] >= stack.Width {
		return out
	}
	for _, f := range phase {
		var sum [8]float64
		lines := 0
		for y := 0; y < p.Height; y += 2 { // half of the lines say it well enough
			row := int(math.Round(reg.OriginY + float64(y)*reg.PitchY))
			if row < 0 || row >= stack.Height {
				continue
			}
			lines++
			seen, mean := f.Y[row*stack.Width:], stack.Y[row*stack.Width:]
			for x, i := range at {
				sum[7-x%8] += float64(seen[i]) - float64(mean[i])
			}
		}
		sorted := sum
		slices.Sort(sorted[:])
		middle := (sorted[3] + sorted[4]) / 2
		for lane := range sum {
			d := (sum[lane] - middle) / float64(max(lines, 1)*p.Columns())
			out[lane] += d * d / float64(len(phase))
		}
	}
	for lane := range out {
		out[lane] = math.Sqrt(out[lane])
	}
	return out
}

// quiet knows where the subcarrier leaks into luma.
type quiet struct {
	cells   []analyse.Cell
	columns int
	border  int
	apart   func(a, b int) bool // whether two palette colours differ in chroma
}

// crawls tells whether a pixel of a cell lies beside a change of hue, at the cell's side or, for a
// decoder that combs lines, above or below it: there the subcarrier leaks into luma, another way in every field.
func (q quiet) crawls(c *analyse.Cell, x, y int) bool {
	differs := func(row, column int) bool {
		if row < 0 || column < 0 || column >= q.columns || row*q.columns >= len(q.cells) {
			return q.border < 0 || q.apart(q.border, c.Paper)
		}
		n := &q.cells[row*q.columns+column]
		return q.apart(n.Paper, c.Paper) || !n.Single && q.apart(n.Ink, c.Paper)
	}
	column, row := c.Column-1, c.Row-1
	if x >= 4 {
		column = c.Column + 1
	}
	if y >= 4 {
		row = c.Row + 1
	}
	return differs(c.Row, column) || (y < 2 || y > 5) && differs(row, c.Column)
}
