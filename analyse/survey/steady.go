package survey

import (
	"backporch/analyse"
	"backporch/video"
)

// median is that of a row of values; room is for as many.
func median(v, room []float64) float64 {
	copy(room, v)
	return analyse.Select(room[:len(v)], len(v)/2)
}

// middle is the median of a sample over fields; values is room for as many.
func middle(fields []*video.Field, at int, values []uint8) uint8 {
	values = values[:len(fields)]
	for k, f := range fields {
		values[k] = f.Y[at]
	}
	return analyse.Select(values, len(values)/2)
}

// steady puts in place of the mean what most fields show, wherever a sample moves by far more than noise: a bit that is
// wrong now and then then reads as it should.
func steady(s *analyse.Stack, fields []*video.Field) {
	if s.VarY == nil || len(fields) < 3 {
		return
	}
	limit := float32(max(150, 20*s.Variance())) // 12 codes rms
	values := make([]uint8, len(fields))
	for at, v := range s.VarY {
		if v > limit {
			s.Y[at] = float32(middle(fields, at, values))
		}
	}
}
