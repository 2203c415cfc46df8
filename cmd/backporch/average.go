package main

import (
	"cmp"
	"math"
	"slices"

	"backporch/video"
)

// A shot is one still made of a capture.
type shot struct {
	frame    *video.Frame
	averaged int // frames that are in it; 1: a single one
	parity   int // of the field that it is, -1 for a whole frame
}

// clean makes one still of a capture: the mean of the frames that show one and the
// same picture, the largest such group that is found; where no two are alike the sharpest
// field, or its frame if both of its fields show the same.
func clean(frames []*video.Frame, order video.FieldOrder) shot {
	group, like := largest(frames)
	if len(group) > 1 {
		return shot{mean(group, like), len(group), -1}
	}
	return sharpest(frames, order)
}

// phases makes two stills of a capture whose flashing cells change it between two pictures;
// ok is false when it doesn't go to and fro between two.
func phases(frames []*video.Frame) (one, other shot, ok bool) {
	first, like := largest(frames)
	var rest []*video.Frame
	for _, f := range frames {
		if !slices.Contains(first, f) {
			rest = append(rest, f)
		}
	}
	if len(first) < 2 || len(rest) < 2 {
		return shot{}, shot{}, false
	}
	second, unlike := largest(rest)
	if len(second) < 2 {
		return shot{}, shot{}, false
	}
	changes, last := 0, 0
	for _, f := range frames { // in the order of time
		now := 0
		switch {
		case slices.Contains(first, f):
			now = 1
		case slices.Contains(second, f):
			now = 2
		}
		if now != 0 && last != 0 && now != last {
			changes++
		}
		if now != 0 {
			last = now
		}
	}
	if changes < 2 { // another picture, and no way back
		return shot{}, shot{}, false
	}
	return shot{mean(first, like), len(first), -1}, shot{mean(second, unlike), len(second), -1}, true
}

// largest is the largest group of frames that show one picture, and the sharpest of them.
func largest(frames []*video.Frame) (group []*video.Frame, like *video.Frame) {
	keys := make(map[*video.Frame]float64, len(frames))
	for _, f := range frames {
		keys[f] = sharpness(f, 2)
	}
	sharp := slices.Clone(frames)
	slices.SortStableFunc(sharp, func(a, b *video.Frame) int { return cmp.Compare(keys[b], keys[a]) })
	for _, f := range sharp[:min(len(sharp), tries)] {
		if same := alike(frames, f); len(same) > len(group) {
			group, like = same, f
		}
		if 2*len(group) > len(frames) {
			break // none can be larger
		}
	}
	return group, like
}

// sharpest is the frame with the sharpest field, and only that field of it where the other
// shows another picture: woven they would make a comb.
func sharpest(frames []*video.Frame, order video.FieldOrder) shot {
	var best, twin, whole *video.Frame
	parity, most := -1, math.Inf(-1)
	for _, f := range frames {
		fields := f.Fields(order, 0)
		for i, field := range fields {
			g := alone(field)
			if v := sharpness(g, 1); v > most {
				best, whole, parity, most, twin = g, f, field.Parity, v, nil
				if len(fields) == 2 {
					twin = alone(fields[1-i])
				}
			}
		}
	}
	if twin == nil || len(alike([]*video.Frame{best, twin}, best)) == 2 {
		return shot{whole, 1, -1}
	}
	return shot{best, 1, parity}
}

// alone is a field as a frame of its own.
func alone(f *video.Field) *video.Frame {
	g := &video.Frame{Y: f.Y, Cb: f.Cb, Cr: f.Cr, Width: f.Width, Height: f.Height, ChromaWidth: f.ChromaWidth, ChromaHeight: f.Height, Index: f.Frame, Time: f.Time}
	if len(f.Cb) == 0 {
		g.ChromaWidth, g.ChromaHeight = 0, 0
	}
	return g
}

// settled is from which frame on a device's picture keeps its levels: an automatic gain takes
// up to a second over it when a picture comes. They are settled where those of all later frames
// lie within those of the last half; flashing cells change them to and fro.
func settled(frames []*video.Frame) int {
	if len(frames) < 8 {
		return 0
	}
	levels := make([][3]int, len(frames))
	for i, f := range frames {
		levels[i] = quantiles(f)
	}
	low, high := levels[len(levels)-1], levels[len(levels)-1]
	for _, l := range levels[len(levels)/2:] {
		for k, v := range l {
			low[k], high[k] = min(low[k], v), max(high[k], v)
		}
	}
	for i := len(levels)/2 - 1; i >= 0; i-- {
		for k, v := range levels[i] {
			if v < low[k]-1 || v > high[k]+1 { // a code of noise
				return i + 1
			}
		}
	}
	return 0
}

// quantiles are the luma codes below which a twentieth, half and nineteen twentieths lie.
func quantiles(f *video.Frame) [3]int {
	var count [256]int
	for _, v := range f.Y {
		count[v]++
	}
	var out [3]int
	sum := 0
	for v, c := range count {
		for k, part := range []int{5, 50, 95} {
			if 100*sum < part*len(f.Y) && 100*(sum+c) >= part*len(f.Y) {
				out[k] = v
			}
		}
		sum += c
	}
	return out
}

// tries is how many frames, the sharpest ones, are tried as the picture to average;
// a group of half the frames is missed by 1 chance in 2^tries.
const tries = 6

// sharpness is the energy of horizontal steps that two successive lines of a field
// share. Noise and snow share none, so they don't count as sharp; common practice, no
// source.
// next is how many lines down a field's next line is: 2 in a frame.
func sharpness(f *video.Frame, next int) float64 {
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
