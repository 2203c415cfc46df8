package signal

import (
	"math"
	"math/rand/v2"
	"testing"

	"backporch/analyse/analysetest"
	"backporch/video"
	"backporch/video/videotest"
)

// through takes two fields as a frame through a JPEG coder.
func through(t *testing.T, fields []*video.Field, quality int) []*video.Field {
	t.Helper()
	var out []*video.Field
	for i := 0; i+1 < len(fields); i += 2 {
		f := video.Weave([]*video.Field{fields[i], fields[i+1]}, video.TopFirst)
		f.Index = i / 2
		out = append(out, videotest.ThroughJPEG(t, f, quality).Fields(video.TopFirst, 25)...)
	}
	return out
}

// textured are fields of an even border and a picture of strokes, with noise of the given rms.
func textured(sigma float64, n int, rng *rand.Rand) []*video.Field {
	var out []*video.Field
	for k := range n {
		f := &video.Field{Width: 720, Height: 288, ChromaWidth: 360, Frame: k / 2, Parity: k % 2}
		f.Y, f.Cb, f.Cr = make([]uint8, 720*288), make([]uint8, 360*288), make([]uint8, 360*288)
		for i := range f.Y {
			level := 180.0
			if x, y := i%720, i/720; x > 140 && x < 580 && y > 60 && y < 220 && (x*7919/11+y/3*104729)%5 == 0 {
				level = 40
			}
			f.Y[i] = uint8(math.Round(min(max(level+sigma*rng.NormFloat64(), 0), 255)))
		}
		for i := range f.Cb {
			f.Cb[i], f.Cr[i] = 128, 128
		}
		out = append(out, f)
	}
	return out
}

// Noise is measured as it was before a coder (the standard library's decoder reads it back; steps by ITU-T T.81 Annex K at three qualities): within
// 1.5 dB where coefficients are left, and no noise greater than it says where none is. Without a coder there are no steps.
func TestNoiseBehindCodec(t *testing.T) {
	p := analysetest.Profile(t, "attr-256x192-50")
	for _, sigma := range []float64{0.7, 1.2, 2, 4, 8} {
		fields := textured(sigma, 8, rngOf(uint64(100*sigma)))
		f := newFrame(p, 720, 288)
		if r := f.rounded(fields); r != nil {
			t.Errorf("sigma %v: steps in samples that no coder has seen: %+v", sigma, r)
		}
		for _, quality := range []int{50, 75, 90} {
			r := f.rounded(through(t, fields, quality))
			if r == nil {
				t.Errorf("sigma %v, quality %d: no steps", sigma, quality)
				continue
			}
			off := 20 * math.Log10(r.sigma/math.Hypot(sigma, 1/math.Sqrt(12)))
			if !r.hidden && math.Abs(off) > 1.5 || r.hidden && off < -1 {
				t.Errorf("sigma %v, quality %d: %.1f dB off: %+v", sigma, quality, off, r)
			}
		}
	}
}

// Steps that all numbers are multiples of, and those of none.
func TestStepOf(t *testing.T) {
	rng := rngOf(3)
	for _, step := range []float64{0, 2, 3, 7, 16, 40} {
		var list []float64
		for range 400 {
			k := math.Round(3 * rng.NormFloat64())
			if k == 0 {
				continue
			}
			v := k * step
			if step == 0 {
				v = 9 * rng.NormFloat64()
			}
			list = append(list, v+rng.NormFloat64()/math.Sqrt(12))
		}
		if got := stepOf(list); got != step {
			t.Errorf("step %v: %v", step, got)
		}
	}
}

// trapTaps are those of 1 - 2^-((f-f0)/w)^2 at 13.5 MHz, from the middle (Bracewell, The Fourier Transform and Its Applications, from memory).
func trapTaps(f0, w float64) []float64 {
	out := make([]float64, 16)
	for d := range out {
		t := float64(d) / 13.5e6
		out[d] = -2 * w / 13.5e6 * math.Sqrt(math.Pi/math.Ln2) * math.Exp(-square(math.Pi*w*t)/math.Ln2) * math.Cos(2*math.Pi*f0*t)
	}
	out[0]++
	return out
}

// White noise behind a trap and behind sharpening is stated as what 5 MHz hold before them: 20 log10(219/(sigma sqrt(5/6.75))).
func TestNoiseBand(t *testing.T) {
	p := analysetest.Profile(t, "attr-256x192-60")
	const sigma = 3.0
	want := 20 * math.Log10(219/(sigma*math.Sqrt(5/6.75)))
	for _, c := range []struct {
		name string
		taps []float64 // symmetric, from the middle
	}{
		{"as it is", []float64{1}},
		{"a trap of 0.7 MHz to either side of 3.58", trapTaps(3.58e6, 0.7e6)},
		{"sharpened", []float64{1.2, -0.08, -0.1}},
	} {
		rng := rngOf(11)
		var fields []*video.Field
		for k := range 8 {
			f := &video.Field{Width: 720, Height: 240, Y: make([]uint8, 720*240), Frame: k / 2, Parity: k % 2}
			for y := range 240 {
				var x [760]float64
				for i := range x {
					x[i] = sigma * rng.NormFloat64()
				}
				for i := range 720 {
					v := 0.0
					for d, h := range c.taps {
						if v += h * x[20+i+d]; d > 0 {
							v += h * x[20+i-d]
						}
					}
					f.Y[y*720+i] = uint8(math.Round(150 + v))
				}
			}
			fields = append(fields, f)
		}
		path := Look(fields, p)
		if path.band == nil {
			t.Fatalf("%s: no band", c.name)
		}
		seen := path.spectrum.variance - 1.0/12
		if got := 20 * math.Log10(219/math.Sqrt(seen*path.band.part)); math.Abs(got-want) > 0.7 {
			t.Errorf("%s: %.2f dB, want %.2f", c.name, got, want)
		}
	}
}
