package signal

import (
	"math"
	"math/rand/v2"
	"testing"

	"backporch/analyse"
	"backporch/analyse/analysetest"
	"backporch/video"
)

// What is put back of a sine that is cut is what numerical integration says is missing.
func TestUncut(t *testing.T) {
	for _, level := range []float64{-0.9, -0.5, 0, 0.3, 0.6, 0.8} { // cut below it, of the amplitude
		const n = 100000
		left, seen := 0.0, 0.0
		for i := range n {
			s := math.Sin(2 * math.Pi * (float64(i) + 0.5) / n)
			left += 2 * math.Max(s, level) * s / n
			if s > level {
				seen += 1.0 / n
			}
		}
		if times, _ := uncut(seen); math.Abs(times*left-1) > 0.01 {
			t.Errorf("cut at %.1f: %.3f of it is left by %.2f of the time; put back %.3f", level, left, seen, times*left)
		}
	}
	if times, doubt := uncut(1); times != 1 || doubt != 0 {
		t.Errorf("nothing cut: %.2f", times)
	}
}

// Bars of 5 % on a black border that RGB has cut off below are found at their size, not at what is left of them; those on a grey border as
// before; a black border with noise alone has none.
func TestBarsOnCutBorder(t *testing.T) {
	p := analysetest.Profile(t, "attr-256x192-50")
	border := func(level, amplitude, noise float64) *analyse.Signal {
		random := rand.New(rand.NewPCG(1, 2))
		var fields []*video.Field
		for range 8 {
			f := &video.Field{Width: 720, Height: 288, Y: make([]uint8, 720*288), ChromaWidth: 360}
			f.Cb, f.Cr = make([]uint8, 360*288), make([]uint8, 360*288)
			for i := range f.Cb {
				f.Cb[i], f.Cr[i] = 128, 128
			}
			for i := range f.Y {
				v := level + amplitude*math.Sin(2*math.Pi*float64(i%720)*p.PixelClockHz/4/13.5e6) + noise*random.NormFloat64()
				f.Y[i] = uint8(math.Round(math.Max(16, math.Min(235, v))))
			}
			fields = append(fields, f)
		}
		var out analyse.Signal
		Look(fields, p).Into(&out, 219)
		return &out
	}
	const amplitude = 0.025 * 219
	for name, level := range map[string]float64{"grey": 100, "black": 16, "below black": 14, "white": 235} {
		s := border(level, amplitude, 0.7)
		if len(s.Tones) == 0 || !s.Tones[0].Fixed || math.Abs(s.Tones[0].PeriodPx-4) > 0.02 || math.Abs(s.Tones[0].Pct.Value-5) > math.Max(0.25, 2*s.Tones[0].Pct.Spread) ||
			math.Abs(s.Tones[0].Pct.Value-5) > 1.7 {
			t.Errorf("%s: %+v", name, s.Tones)
		}
	}
	if s := border(16, 0, 1.5); len(s.Tones) > 0 {
		t.Errorf("noise alone: %+v", s.Tones)
	}
}
