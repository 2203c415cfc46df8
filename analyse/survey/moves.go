package survey

import (
	"math"
	"slices"

	"backporch/analyse"
	"backporch/video"
	"backporch/video/display"
)

// moves measures how each lane's mean moves against the middle of all lanes.
func moves(reg analyse.Registration, p *display.Profile, stack *analyse.Stack, phase []*video.Field) (out [8]float64) {
	at := make([]int, p.Width)
	for x := range at {
		at[x] = int(math.Round(reg.OriginX + (float64(x)+0.5)*reg.PitchX))
	}
	if at[0] < 0 || at[p.Width-1] >= stack.Width {
		return out
	}
	var rows []int
	for y := 0; y < p.Height; y += 2 { // half of the lines say it well enough
		if row := int(math.Round(reg.OriginY + float64(y)*reg.PitchY)); row >= 0 && row < stack.Height {
			rows = append(rows, row*stack.Width)
		}
	}
	lines := len(rows)
	var mean [8]float64
	for _, row := range rows {
		for x, i := range at {
			mean[7-x%8] += float64(stack.Y[row+i])
		}
	}
	for _, f := range phase {
		var codes [8]int
		for _, row := range rows {
			seen := f.Y[row : row+stack.Width]
			for x, i := range at {
				codes[7-x%8] += int(seen[i])
			}
		}
		var sum [8]float64
		for lane, v := range codes {
			sum[lane] = float64(v) - mean[lane]
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
