package survey

import (
	"slices"

	"backporch/analyse"
	"backporch/video"
)

// median is that of a row of values, by parting a copy about its pivot until the middle is found (Hoare, Algorithm 65: Find,
// CACM 4, 1961, from memory); room is for as many.
func median(v, room []float64) float64 {
	copy(room, v)
	room = room[:len(v)]
	k := len(room) / 2
	for low, high := 0, len(room)-1; low < high; {
		pivot := room[(low+high)/2]
		i, j := low, high
		for i <= j {
			for room[i] < pivot {
				i++
			}
			for pivot < room[j] {
				j--
			}
			if i <= j {
				room[i], room[j] = room[j], room[i]
				i++
				j--
			}
		}
		switch {
		case k <= j:
			high = j
		case k >= i:
			low = i
		default:
			return room[k]
		}
	}
	return room[k]
}

// middle is the median of a sample over fields; values is room for as many.
func middle(fields []*video.Field, at int, values []uint8) uint8 {
	values = values[:len(fields)]
	for k, f := range fields {
		values[k] = f.Y[at]
	}
	slices.Sort(values)
	return values[len(values)/2]
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
