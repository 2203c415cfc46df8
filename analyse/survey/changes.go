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
	m.Changed = make([]uint16, len(m.Bytes)*8)
	variances := slices.Clone(stack.VarY)
	slices.Sort(variances)
	median := float64(variances[len(variances)/2])
	sigma := math.Sqrt(median)
	threshold := max(24, 6*sigma)
	limit := max(6*median, threshold*threshold/float64(stack.N)*0.7)
	odd := make([]int, len(phase))
	for i := range s.Cells {
		c := &s.Cells[i]
		for y := range 8 {
			line := c.Row*8 + y
			row := int(math.Round(reg.OriginY + float64(line)*reg.PitchY))
			if row < 0 || row >= stack.Height {
				continue
			}
			for x := range 8 {
				at := row*stack.Width + int(math.Round(reg.OriginX+(float64(c.Column*8+x)+0.5)*reg.PitchX))
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
				// A bit that shows both values half of the time is as far from the mean in every field.
				if n > len(phase)/2 {
					n = len(phase) - n
				}
				n = max(n, 1)
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
