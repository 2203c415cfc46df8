package survey

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"backporch/analyse/analysetest"
	"backporch/video"
)

// The same capture in both ranges of codes, by the mapping of ITU-R BT.601 luma (16 to 235) and chroma (16
// to 240) to 0 to 255 that a device may use: the range is found, and what is read is the same.
func TestRangeOfCodes(t *testing.T) {
	p := analysetest.Profile(t, "attr-256x192-50")
	screen := analysetest.New(p)
	analysetest.Listing(p, screen, 14, rand.New(rand.NewPCG(9, 9)))
	info := video.Info{Standard: p.Standard, Rate: p.FieldHz() / 2}
	limited := drawn(p, screen, 6, analysetest.Capture{Noise: 2})
	full := make([]*video.Field, len(limited))
	wide := func(v uint8, from, to, scale float64) uint8 {
		return uint8(max(0, min(255, math.Round((float64(v)-from)*scale+to))))
	}
	for i, f := range limited {
		g := *f
		g.Y, g.Cb, g.Cr = slices.Clone(f.Y), slices.Clone(f.Cb), slices.Clone(f.Cr)
		for k, v := range g.Y {
			g.Y[k] = wide(v, 16, 0, 255.0/219)
		}
		for k := range g.Cb {
			g.Cb[k], g.Cr[k] = wide(g.Cb[k], 128, 128, 255.0/224), wide(g.Cr[k], 128, 128, 255.0/224)
		}
		full[i] = &g
	}
	a, _, err := Run(limited, info, Options{Display: p})
	if err != nil {
		t.Fatal(err)
	}
	b, _, err := Run(full, info, Options{Display: p})
	if err != nil {
		t.Fatal(err)
	}
	if a.Levels.Full || !b.Levels.Full {
		t.Errorf("full range: %v of 16 to 235 (black %.1f, white %.1f), %v of 0 to 255 (black %.1f, white %.1f)",
			a.Levels.Full, a.Levels.Black, a.Levels.White, b.Levels.Full, b.Levels.Black, b.Levels.White)
	}
	if !a.Registration.OK || !b.Registration.OK || !slices.Equal(a.Memory.Bytes, b.Memory.Bytes) || a.Border.Colour != b.Border.Colour {
		t.Errorf("what is read differs: border %d and %d", a.Border.Colour, b.Border.Colour)
	}
}
