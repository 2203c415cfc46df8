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

// A device that cuts its 720 samples to the 704 of a 4SIF picture (ISO/IEC 14496 and 11172 name the format; from memory) keeps their pitch; so it is with a border
// of the paper's colour too, where no end of it says how wide it is.
func TestCutLinesKeepTheirPitch(t *testing.T) {
	const cut = 8
	for _, name := range []string{"attr-256x192-50", "text-40x25-50", "text-40x25-60"} {
		p := analysetest.Profile(t, name)
		for seed := range uint64(4) {
			rng := rand.New(rand.NewPCG(seed, 9))
			s := analysetest.New(p)
			analysetest.Listing(p, s, 12, rng)
			if seed%2 == 1 {
				s.Border = rng.IntN(8)
			}
			ox, oy := p.Origin(720, p.Standard.Scan().FieldLines)
			c := analysetest.Capture{OriginX: ox + rng.Float64()*16 - 8, OriginY: oy, Noise: 1}
			whole := analysetest.Draw(p, s, c, rng)
			f := &video.Field{Width: 720 - 2*cut, ChromaWidth: 360 - cut, Height: whole.Height}
			for y := range whole.Height {
				f.Y = append(f.Y, whole.Y[y*720+cut:(y+1)*720-cut]...)
				f.Cb = append(f.Cb, whole.Cb[y*360+cut/2:(y+1)*360-cut/2]...)
				f.Cr = append(f.Cr, whole.Cr[y*360+cut/2:(y+1)*360-cut/2]...)
			}
			reg := Register(analyse.Add([]*video.Field{f}), p, Options{})
			far := math.Hypot((reg.OriginX-c.OriginX+cut)/reg.PitchX, reg.OriginY-c.OriginY)
			if !reg.OK || far > 0.25 || math.Abs(reg.PitchX/p.PitchX(720)-1) > 0.002 {
				t.Errorf("%s, seed %d: %.2f px off, pitch %.4f of %.4f; %s", name, seed, far, reg.PitchX, p.PitchX(720), reg.Reason)
			}
		}
	}
}
