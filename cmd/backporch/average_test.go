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
	made := clean(frames, video.TopFirst)
	if made.averaged != len(frames) {
		t.Fatalf("%d frames averaged, want %d", made.averaged, len(frames))
	}
	got := made.frame
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
	if made := clean(frames, video.TopFirst); made.averaged != 9 {
		t.Errorf("%d frames averaged: want the 9 of one picture", made.averaged)
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
	snow.Index = 99
	frames = append(frames, snow)
	made := clean(frames, video.TopFirst)
	if made.averaged != 1 || made.frame.Index == snow.Index || made.parity != -1 {
		t.Errorf("%d frames averaged, of frame %d, field %d; want one whole frame of the picture", made.averaged, made.frame.Index, made.parity)
	}
}

// A picture that moves from field to field makes a comb when woven: one field is kept.
func TestCleanTakesOneFieldOfAMovingPicture(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 8))
	var frames []*video.Frame
	for i := range 6 {
		a, b := drawn(rng, i*4, 2), drawn(rng, i*4+7, 2)
		for y := 1; y < a.Height; y += 2 {
			copy(a.Y[y*a.Width:(y+1)*a.Width], b.Y[y*a.Width:(y+1)*a.Width])
		}
		a.Index = i
		frames = append(frames, a)
	}
	made := clean(frames, video.TopFirst)
	if made.averaged != 1 || made.parity < 0 || made.frame.Height != 60 || made.frame.ChromaHeight != 60 {
		t.Fatalf("%d averaged, field %d, %d lines", made.averaged, made.parity, made.frame.Height)
	}
	whole := frames[made.frame.Index]
	for y := range made.frame.Height {
		if string(made.frame.Y[y*280:(y+1)*280]) != string(whole.Y[(2*y+made.parity)*280:(2*y+made.parity+1)*280]) {
			t.Fatalf("line %d is not that of field %d", y, made.parity)
		}
	}
}

// Flashing cells change the picture to and fro; a picture that becomes another does not.
func TestPhases(t *testing.T) {
	rng := rand.New(rand.NewPCG(9, 10))
	show := func(flash bool) *video.Frame {
		f := drawn(rng, 0, 3)
		if flash {
			for y := 32; y < 48; y++ {
				for x := 64; x < 128; x++ {
					f.Y[y*f.Width+x] = 240 - f.Y[y*f.Width+x]
				}
			}
		}
		return f
	}
	for _, c := range []struct {
		name  string
		flash func(i int) bool
		ok    bool
	}{
		{"flashing", func(i int) bool { return i/8%2 == 1 }, true},
		{"still", func(int) bool { return false }, false},
		{"changed once", func(i int) bool { return i > 20 }, false},
	} {
		var frames []*video.Frame
		for i := range 50 {
			frames = append(frames, show(c.flash(i)))
		}
		one, other, ok := phases(frames)
		if ok != c.ok {
			t.Errorf("%s: %v", c.name, ok)
		}
		if !ok {
			continue
		}
		n := 0
		for i := range frames {
			if c.flash(i) {
				n++
			}
		}
		if one.averaged+other.averaged != 50 || other.averaged != min(n, 50-n) {
			t.Errorf("%s: %d and %d frames, %d flash", c.name, one.averaged, other.averaged, n)
		}
		if at := 40*280 + 70; max(one.frame.Y[at], other.frame.Y[at])-min(one.frame.Y[at], other.frame.Y[at]) < 40 {
			t.Errorf("%s: the two stills show the same", c.name)
		}
	}
}

// Gain that creeps to its level over the first 20 of 60 frames; a steady picture, and one
// that flashes, have nothing to wait for.
func TestSettled(t *testing.T) {
	rng := rand.New(rand.NewPCG(11, 12))
	make60 := func(gain func(i int) float64, add func(i int) int) []*video.Frame {
		var out []*video.Frame
		for i := range 60 {
			f := drawn(rng, 0, 2)
			for k, v := range f.Y {
				f.Y[k] = uint8(min(255, float64(v)*gain(i)+float64(add(i))))
			}
			out = append(out, f)
		}
		return out
	}
	one, none := func(int) float64 { return 1 }, func(int) int { return 0 }
	creep := func(i int) float64 { return 1 - 0.3*math.Exp(-float64(i)/6) }
	if got := settled(make60(creep, none)); got < 12 || got > 30 {
		t.Errorf("gain that creeps: settled from frame %d", got) // 0.3 x 180 codes x exp(-i/6) is below 2 from 20 on
	}
	if got := settled(make60(one, none)); got != 0 {
		t.Errorf("a steady picture: settled from frame %d", got)
	}
	if got := settled(make60(one, func(i int) int { return i / 8 % 2 * 20 })); got != 0 {
		t.Errorf("a picture that flashes: settled from frame %d", got)
	}
}
