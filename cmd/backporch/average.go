package main

import (
	"cmp"
	"math"
	"slices"

	"backporch/video"
)

// clean makes one still of a capture: the mean of the frames that show one and the
// same picture, the largest such group that is found; the sharpest frame where no
// two are alike. n is how many frames are in it.
func clean(frames []*video.Frame) (still *video.Frame, n int) {
	sharp := slices.Clone(frames)
	keys := make(map[*video.Frame]float64, len(frames))
	for _, f := range frames {
		keys[f] = sharpness(f)
	}
	slices.SortStableFunc(sharp, func(a, b *video.Frame) int { return cmp.Compare(keys[b], keys[a]) })
	var group []*video.Frame
	var like *video.Frame
	for _, f := range sharp[:min(len(sharp), tries)] {
		if same := alike(frames, f); len(same) > len(group) {
			group, like = same, f
		}
		if 2*len(group) > len(frames) {
			break // none can be larger
		}
	}
	if len(group) == 1 {
		return sharp[0], 1
	}
	return mean(group, like), len(group)
}

// tries is how many frames, the sharpest ones, are tried as the picture to average;
// a group of half the frames is missed by 1 chance in 2^tries.
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
	// block is the side, in samples and frame lines, over which luma is averaged before
	// two frames are compared: about a cell of the display. Dot crawl and the decoder's
	// cross-colour change from frame to frame on a still picture and average out in it.
	block = 16
	// standOut is how many sigmas of noise a block must differ by to count; one block in
	// 10^9 does so by chance.
	standOut = 6
	// leastStep is the difference of two blocks, in codes, that counts at least. One edge
	// across a block moves its mean by an eighth of a code for each hundredth of a sample
	// of jitter at a contrast of 200.
	leastStep = 5
	// mostNoise is the median difference of blocks, in codes, above which two frames are no
	// pictures of one thing: two frames of snow differ by about 4.
	mostNoise = 3
)

// alike picks the frames that show the picture of like, noise aside. The noise is
// that of the pair that differs least: the others may be of another picture.
func alike(frames []*video.Frame, like *video.Frame) []*video.Frame {
	reference := blocks(like)
	steps := make([][]float64, len(frames))
	noise := math.Inf(1)
	for i, f := range frames {
		if f == like || f.Width != like.Width || f.Height != like.Height || f.ChromaWidth != like.ChromaWidth || f.ChromaHeight != like.ChromaHeight {
			continue
		}
		steps[i] = blocks(f)
		for k, v := range steps[i] {
			steps[i][k] = math.Abs(v - reference[k])
		}
		slices.Sort(steps[i])
		noise = min(noise, steps[i][len(steps[i])/2])
	}
	// A Gaussian's median difference is 0.6745 of its sigma.
	limit := max(standOut*noise/0.6745, leastStep)
	var same []*video.Frame
	for i, f := range frames {
		if f == like || steps[i] != nil && noise <= mostNoise && steps[i][len(steps[i])-1] <= limit {
			same = append(same, f)
		}
	}
	return same
}

// blocks are the mean lumas of a frame's blocks; what is left over at the right and
// below goes into the last ones.
func blocks(f *video.Frame) []float64 {
	columns, rows := max(f.Width/block, 1), max(f.Height/block, 1)
	sum, n := make([]float64, columns*rows), make([]float64, columns*rows)
	for y := range f.Height {
		row := min(y/block, rows-1) * columns
		for x := range f.Width {
			k := row + min(x/block, columns-1)
			sum[k] += float64(f.Y[y*f.Width+x])
			n[k]++
		}
	}
	for k := range sum {
		sum[k] /= n[k]
	}
	return sum
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
