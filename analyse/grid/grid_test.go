package grid

import (
	"math"
	"math/rand/v2"
	"sort"
	"testing"

	"backporch/analyse"
	"backporch/analyse/analysetest"
	"backporch/video"
)

// A place that was drawn is the place that is found, for random offsets,
// scales, screens and noise. The pictures come from analysetest, which shares no code with the search.
func TestRegistrationRecoversPlace(t *testing.T) {
	for _, name := range []string{"attr-256x192-50", "attr-256x192-60", "text-40x25-50", "text-40x25-60"} {
		t.Run(name, func(t *testing.T) {
			p := analysetest.Profile(t, name)
			var errs []float64
			for seed := range uint64(16) {
				rng := rand.New(rand.NewPCG(seed, 7))
				s := analysetest.New(p)
				if seed%2 == 1 {
					s.Border = rng.IntN(8)
				}
				analysetest.Listing(p, s, 3+rng.IntN(12), rng)
				ox, oy := p.Origin(720, p.Standard.Scan().FieldLines)
				c := analysetest.Capture{
					OriginX: ox + rng.Float64()*16 - 8, OriginY: oy + float64(rng.IntN(11)-5),
					ScaleX: 1 + (rng.Float64()-0.5)*0.006, Noise: 0.5 + 6*rng.Float64()*float64(seed%3),
				}
				fields := make([]*video.Field, 4)
				for i := range fields {
					fields[i] = analysetest.Draw(p, s, c, rng)
				}
				reg := Register(analyse.Add(fields), p, Options{})
				if !reg.OK {
					t.Errorf("seed %d: not registered: %s", seed, reg.Reason)
					continue
				}
				far := math.Hypot((reg.OriginX-c.OriginX)/reg.PitchX, reg.OriginY-c.OriginY)
				right := ((reg.OriginX + reg.PitchX*float64(p.Width)) - (c.OriginX + c.ScaleX*p.PitchX(720)*float64(p.Width))) / reg.PitchX
				errs = append(errs, math.Max(far, math.Abs(right)))
				if far > 0.25 || math.Abs(right) > 0.25 {
					t.Errorf("seed %d border %d: %.2f px off at the origin, %.2f at the right; %+v", seed, s.Border, far, right, reg)
				}
			}
			sort.Float64s(errs)
			t.Logf("errors, pixels: %.3f", errs)
		})
	}
}
