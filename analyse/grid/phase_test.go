package grid

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"backporch/analyse"
	"backporch/analyse/analysetest"
	"backporch/video"
)

// A decoder that blurs strokes of a pixel until their edges stand one and a half apart leaves half of the edges between
// pixels; what the levels of the pixels say must place them all the same.
func TestPlaceOfBlurredStrokes(t *testing.T) {
	p := analysetest.Profile(t, "text-40x25-50")
	for _, blur := range []float64{60, 75, 85, 90} {
		t.Run(fmt.Sprintf("%.0f ns", blur), func(t *testing.T) {
			for seed := range uint64(6) {
				rng := rand.New(rand.NewPCG(seed, 11))
				s := analysetest.New(p)
				analysetest.Listing(p, s, 20, rng)
				ox, oy := p.Origin(720, p.Standard.Scan().FieldLines)
				c := analysetest.Capture{OriginX: ox + rng.Float64()*8 - 4, OriginY: oy, BlurNs: blur, Noise: 1}
				fields := make([]*video.Field, 4)
				for i := range fields {
					fields[i] = analysetest.Draw(p, s, c, rng)
				}
				reg := Register(analyse.Add(fields), p, Options{})
				if !reg.OK {
					t.Fatalf("seed %d: not registered: %s", seed, reg.Reason)
				}
				off := (reg.OriginX - c.OriginX) / reg.PitchX
				if off -= math.Round(off); math.Abs(off) > 0.15 {
					t.Errorf("seed %d: %.2f of a pixel off", seed, off)
				}
			}
		})
	}
}
