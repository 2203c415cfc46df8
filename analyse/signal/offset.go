package signal

import (
	"math"

	"backporch/analyse/grid"
	"backporch/video/display"
)

// The picture's right end is an edge of its own too, where its last pixels are even: nothing but border follows, which the lines above and below show
// without it. The difference of the two is the path's response alone, whatever else is misread in the picture.

// offset is the response as the picture's right end shows it; nil where it has no even pixels before, or they are as bright as the border.
func (m *layout) offset(pixel float64) *response {
	p, s, reg := m.in.Display, m.in.Stack, m.in.Registration
	f := newFrame(p, s.Width, s.Height)
	beside := m.besideRight()
	if beside < asidePx || reg.PitchY <= 0 {
		return nil
	}
	edge := reg.OriginX + (float64(p.Width)-0.5)*reg.PitchX // between the middles of the last pixel and the first beyond it
	from, to := int(edge-afterPx*reg.PitchX), int(edge+float64(beside)*reg.PitchX)
	flat := [2]int{int(edge - 30*reg.PitchX), int(edge - 4*reg.PitchX)}
	var outside []int
	for _, y := range f.lines() {
		if y >= 0 && y < s.Height {
			outside = append(outside, y)
		}
	}
	if from < 0 || to >= s.Width || len(outside) < 2*onsetParts {
		return nil
	}
	border := make([]float64, s.Width)
	for _, y := range outside {
		for x := from; x <= to; x++ {
			border[x] += float64(s.Y[y*s.Width+x]) / float64(len(outside))
		}
	}
	sums, squares := make([][]float32, onsetParts), make([]float64, onsetParts)
	for k := range sums {
		sums[k] = make([]float32, s.Width)
	}
	count, level := 0, 0.0
	for row := range p.Height {
		y := int(math.Round(reg.OriginY + float64(row)*reg.PitchY))
		if y < 0 || y >= s.Height || !m.evenEnd(row) {
			continue
		}
		line := s.Y[y*s.Width : (y+1)*s.Width]
		size, most := 0.0, 0.0
		for x := flat[0]; x < flat[1]; x++ {
			size += (border[x] - float64(line[x])) / float64(flat[1]-flat[0])
			most = math.Max(most, math.Max(border[x], float64(line[x])))
		}
		if math.Abs(size) < leastOnset || most > cutLevel {
			continue
		}
		k := count % onsetParts
		for x := from; x <= to; x++ {
			sums[k][x] += float32((float64(line[x]) - border[x]) * size)
		}
		squares[k] += size * size
		level += math.Abs(size)
		count++
	}
	if count < 2*onsetParts {
		return nil
	}
	level /= float64(count)
	out := &response{pixel: pixel, size: level}
	near, far := 0.0, 0.0
	if f.quiet(s, outside) {
		near, far = codecNear/level, codecFar/level
	}
	n := 2*responseLen + 2
	sampler := grid.NewSampler(edge-(beforePx+0.5)*reg.PitchX-reg.PitchX/4, reg.PitchX/2, 0, n)
	steps := make([]float32, n)
	var scatter [2 * responseLen]float64
	for k := range sums {
		for x := range sums[k] {
			sums[k][x] /= float32(squares[k])
		}
		sampler.Line(steps, sums[k])
		for i := range out.taps {
			v := float64(steps[i+2] - steps[i])
			out.taps[i] += v / onsetParts
			scatter[i] += v * v
		}
	}
	for i := range out.taps {
		at := out.at(i)
		if at > float64(beside)-2 {
			out.taps[i], out.sigma[i] = 0, tapPrior
			continue
		}
		variance := math.Max(0, scatter[i]-onsetParts*square(out.taps[i])) / (onsetParts - 1) / onsetParts
		codec := far
		if at := at * reg.PitchX; at > -8 && at < 10 {
			codec = near
		}
		out.sigma[i] = math.Sqrt(variance + square(codec) + square(onsetFloor*math.Max(1, 60/level)))
	}
	return out
}

// besideRight is how many pixels of border are seen at the right of the picture, up to those that a response reaches.
func (m *layout) besideRight() int {
	reg := m.in.Registration
	return min(m.in.Display.BorderRight-blankingPixels, afterPx, int((float64(m.in.Stack.Width-2)-reg.OriginX)/reg.PitchX)-m.in.Display.Width)
}

// evenEnd tells whether a line of the picture ends in pixels of one colour, none that flash.
func (m *layout) evenEnd(row int) bool {
	width := m.in.Display.Width
	line := m.in.Pixels[row*width : (row+1)*width]
	for x := width - afterPx; x < width; x++ {
		if line[x] != line[width-1] || m.in.Skip != nil && m.in.Skip(row/display.CellSize, x/display.CellSize) {
			return false
		}
	}
	return int(line[width-1]) < len(m.in.Display.Colours)
}
