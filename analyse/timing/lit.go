package timing

import "backporch/video"

// lit leaves out fields that are even all over where others show a picture: a picture that is drawn now and then, within a border as black as it is, leaves
// nothing in them by which to tell where a line lies.
func lit(fields []*video.Field, noise float64) []*video.Field {
	varied := make([]float64, len(fields))
	most := 0.0
	for i, f := range fields {
		varied[i], _, _, _ = moments(f, f, 0)
		most = max(most, varied[i])
	}
	even := evenNoise * (noise*noise + 1)
	out := make([]*video.Field, 0, len(fields))
	for i, f := range fields {
		if varied[i] > even {
			out = append(out, f)
		}
	}
	if most < litAbove*even || len(out) < leastLit {
		return fields
	}
	return out
}

// An even field varies by less than so many times its noise and a code's step, one with a picture by so many times more; two fields at least tell of sync. Common
// practice, no source.
const (
	evenNoise = 3.0
	litAbove  = 10.0
	leastLit  = 2
)
