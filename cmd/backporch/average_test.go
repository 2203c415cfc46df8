package main

import (
	"math"
	"math/rand/v2"
	"testing"

	"backporch/video"
)

// drawn is a frame of vertical bars, 14 samples wide, shifted by x, with Gaussian noise.
func drawn(rng *rand.Rand, shift int, noise float64) *video.Frame {
	const w, h = 280, 120
	f := &video.Frame{Width: w, Height: h, Y: make([]uint8, w*h), ChromaWidth: w / 2, ChromaHeight: h}
	f.Cb, f.Cr = make([]uint8, w/2*h), make([]uint8, w/2*h)
	sample := func(v float64) uint8 { return uint8(min(max(v+rng.NormFloat64()*noise+0.5, 0), 255)) }
	for i := range f.Y {
		v := 60.0
		if (i%w+shift)/14%2 == 1 {
			v = 180
		}
		f.Y[i] = sample(v)
	}
	for i := range f.Cb {
		f.Cb[i], f.Cr[i] = sample(128), sample(128)
	}
	return f
}

// The mean of N frames has 1/sqrt(N) of the noise (of a mean of independent samples).
func TestCleanAveragesStill(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	frames := make([]*video.Frame, 25)
	for i := range frames {
		frames[i] = drawn(rng, 0, 8)
	}
	truth := drawn(rng, 0, 0)
	got, n := clean(frames)
	if n != len(frames) {
		t.Fatalf("%d frames averaged, want %d", n, len(frames))
	}
	square := 0.0
	for i := range got.Y {
		d := float64(got.Y[i]) - float64(truth.Y[i])
		square += d * d
	}
	rms := math.Sqrt(square / float64(len(got.Y)))
	// 8/sqrt(25) = 1.6, and rounding to whole codes adds sqrt(1/12).
	if want := math.Hypot(8.0/5, 1/math.Sqrt(12)); math.Abs(rms-want) > 0.1 {
		t.Errorf("noise after averaging %.2f codes, want %.2f", rms, want)
	}
}

func TestCleanLeavesOthersOut(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	var frames []*video.Frame
	for i := range 12 {
		shift := 0
		if i%4 == 3 {
			shift = 5 // another picture
		}
		frames = append(frames, drawn(rng, shift, 3))
	}
	if _, n := clean(frames); n != 9 {
		t.Errorf("%d frames averaged: want the 9 of one picture", n)
	}
}

func TestCleanTakesTheSharpest(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	var frames []*video.Frame
	for i := range 5 {
		frames = append(frames, drawn(rng, i*4, 2))
	}
	// Snow has steps everywhere, yet none that lines share.
	snow := drawn(rng, 0, 0)
	for i := range snow.Y {
		snow.Y[i] = uint8(rng.IntN(256))
	}
	frames = append(frames, snow)
	got, n := clean(frames)
	if n != 1 || got == snow {
		t.Errorf("%d frames averaged, snow chosen: %v; want one frame of the picture", n, got == snow)
	}
}
