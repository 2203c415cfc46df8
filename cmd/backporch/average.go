package main

import (
	"cmp"
	"slices"

	"backporch/video"
)

// clean makes one still of a capture: the mean of all frames that show the same
// picture when those are most of them, else the sharpest frame. n is how many
// frames are in it.
func clean(frames []*video.Frame) (still *video.Frame, n int) {
	sharp := slices.Clone(frames)
	keys := make(map[*video.Frame]float64, len(frames))
	for _, f := range frames {
		keys[f] = sharpness(f)
	}
	slices.SortStableFunc(sharp, func(a, b *video.Frame) int { return cmp.Compare(keys[b], keys[a]) })
	// A group of most frames is found from any of its frames: a few tries are enough.
	for _, like := range sharp[:min(len(sharp), tries)] {
		if same := alike(frames, like); len(same) > 1 && 2*len(same) >= len(frames) {
			return mean(same, like), len(same)
		}
	}
	return sharp[0], 1
}

// tries is how many frames are tried as the picture that most frames show; the
// chance that all miss half of the frames is 1 in 2^tries.
const tries = 6

// sharpness is the energy of horizontal steps that two successive lines of a field
// share. Noise and snow share none, so they don't count as sharp; common practice, no
// source.
func sharpness(f *video.Frame) float64 {
	const next = 2 // lines down in the frame: the field's next line
	sum := 0.0
	for y := 0; y+next < f.Height; y++ {
		a, b := f.Y[y*f.Width:(y+1)*f.Width], f.Y[(y+next)*f.Width:(y+next+1)*f.Width]
		line := 0
		for x := 1; x < f.Width; x++ {
			line += (int(a[x]) - int(a[x-1])) * (int(b[x]) - int(b[x-1]))
		}
		sum += float64(line)
	}
	return sum
}

const (
	// moved is the share of samples that may differ before two frames are two
	// pictures: less than one cell of a 32 x 24 screen, which is 0.06 % of a frame.
	moved = 0.0005
	// standOut is how many sigmas of noise a sample must differ by to count; one
	// sample in 10^9 does so by chance.
	standOut = 6
	// leastStep is the difference, in codes, below which no change would be seen.
	leastStep = 10
)

// alike picks the frames that show the picture of like, noise aside. The noise is
// that of the pair that differs least: the others may be of another picture.
func alike(frames []*video.Frame, like *video.Frame) []*video.Frame {
	planes := []func(*video.Frame) []uint8{
		func(f *video.Frame) []uint8 { return f.Y },
		func(f *video.Frame) []uint8 { return f.Cb },
		func(f *video.Frame) []uint8 { return f.Cr },
	}
	same := make(map[*video.Frame]bool, len(frames))
	for _, f := range frames {
		same[f] = len(f.Y) == len(like.Y) && len(f.Cb) == len(like.Cb)
	}
	for _, plane := range planes {
		steps := map[*video.Frame]*[256]int{}
		noise := mostNoise + 1
		for _, f := range frames {
			if f != like && same[f] {
				steps[f] = differences(plane(f), plane(like))
				noise = min(noise, median(steps[f]))
			}
		}
		// A Gaussian's median difference is 0.6745 of its sigma.
		limit := max(standOut*float64(noise)/0.6745, leastStep)
		for f, histogram := range steps {
			above := 0
			for d, n := range histogram {
				if float64(d) > limit {
					above += n
				}
			}
			same[f] = noise <= mostNoise && float64(above) <= moved*float64(len(plane(like)))
		}
	}
	var out []*video.Frame
	for _, f := range frames {
		if same[f] {
			out = append(out, f)
		}
	}
	return out
}

// mostNoise is the median difference of two frames, in codes, above which they are
// no picture: two frames of snow differ by 75 in the median.
const mostNoise = 40

// differences counts the samples by how much they differ.
func differences(a, b []uint8) *[256]int {
	var histogram [256]int
	for i := range a {
		histogram[max(a[i], b[i])-min(a[i], b[i])]++
	}
	return &histogram
}

func median(histogram *[256]int) int {
	total := 0
	for _, n := range histogram {
		total += n
	}
	half := 0
	for d, n := range histogram {
		if half += n; 2*half >= total {
			return d
		}
	}
	return 0
}

// mean adds frames up; index and time are those of like.
func mean(frames []*video.Frame, like *video.Frame) *video.Frame {
	out := *like
	out.Y = meanPlane(frames, func(f *video.Frame) []uint8 { return f.Y })
	out.Cb = meanPlane(frames, func(f *video.Frame) []uint8 { return f.Cb })
	out.Cr = meanPlane(frames, func(f *video.Frame) []uint8 { return f.Cr })
	return &out
}

func meanPlane(frames []*video.Frame, plane func(*video.Frame) []uint8) []uint8 {
	out := slices.Clone(plane(frames[0]))
	sum := make([]uint32, len(out))
	for _, f := range frames {
		for i, v := range plane(f) {
			sum[i] += uint32(v)
		}
	}
	n := uint32(len(frames))
	for i, v := range sum {
		out[i] = uint8((v + n/2) / n)
	}
	return out
}
