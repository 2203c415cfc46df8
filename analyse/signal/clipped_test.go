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

// A coloured border whose waves are cut off has twice the subcarrier in it, which BT.601's 13.5 MHz show at 13.5 - 2 x 3.5795 = 6.341 MHz. On a grey border that
// frequency is somebody else's, and so it is 0.3 MHz away from there.
func TestTwiceTheSubcarrierIsTheColours(t *testing.T) {
	p := analysetest.Profile(t, "text-40x25-60")
	f := newFrame(p, 720, p.Standard.Scan().FieldLines)
	const harmonic = 6.341e6
	for _, c := range []struct {
		hz       float64
		coloured bool
		want     int
	}{{harmonic, true, 0}, {harmonic, false, 1}, {harmonic - 0.3e6, true, 1}} {
		s := &spectrum{moving: make([]float64, transformLength/2), fixed: make([]float64, transformLength/2), turn: make([]complex128, transformLength/2), samples: 600, fields: 20, lines: 60}
		at := int(math.Round(c.hz / f.rate * transformLength))
		for k := range s.moving {
			s.moving[k], s.fixed[k] = 1+0.01*float64(k%3), 1
		}
		for d, part := range []float64{1, 0.25, 0.01} { // a Hann window's lobe
			s.moving[at+d], s.moving[at-d] = 1e6*part, 1e6*part
		}
		if got := f.tones(s, 219, c.coloured); len(got) != c.want {
			t.Errorf("%+v: %+v", c, got)
		}
	}
}
