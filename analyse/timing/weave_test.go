package timing

import (
	"math"
	"testing"

	"backporch/analyse"
	"backporch/video"
)

// What capture devices do to the two pictures of a frame, done here to independent ones: shown twice,
// averaged, every second line made of its neighbours, mixed in part; and what must not be taken for it.
func TestWeave(t *testing.T) {
	mean := func(a, b uint8) uint8 { return uint8((int(a) + int(b) + 1) / 2) }
	each := func(f func(a, b *video.Field)) func([]*video.Field) {
		return func(fields []*video.Field) {
			for i := 0; i+1 < len(fields); i += 2 {
				f(fields[i], fields[i+1])
			}
		}
	}
	for _, c := range []struct {
		name  string
		noise float64
		do    func([]*video.Field)
		want  analyse.Weave
	}{
		{"woven", 2, func([]*video.Field) {}, analyse.WeaveTwo},
		{"woven, noisy", 8, func([]*video.Field) {}, analyse.WeaveTwo},
		{"woven, no noise to tell by", 0.2, func([]*video.Field) {}, analyse.WeaveUnknown},
		{"every second dropped, the other shown twice", 2, each(func(a, b *video.Field) { copy(b.Y, a.Y) }), analyse.WeaveOne},
		{"both averaged", 3, each(func(a, b *video.Field) {
			for i := range a.Y {
				a.Y[i] = mean(a.Y[i], b.Y[i])
			}
			copy(b.Y, a.Y)
		}), analyse.WeaveOne},
		{"every second line of its neighbours", 3, each(func(a, b *video.Field) {
			for y := range a.Height {
				below := a.Line(min(y+1, a.Height-1))
				for x := range a.Width {
					b.Y[y*a.Width+x] = mean(a.Y[y*a.Width+x], below[x])
				}
			}
		}), analyse.WeaveMixed},
		{"one blended into the other", 3, each(func(a, b *video.Field) {
			for i := range b.Y {
				b.Y[i] = mean(a.Y[i], b.Y[i])
			}
		}), analyse.WeaveMixed},
		{"woven, with hum of 12 codes that moves on from frame to frame", 2, func(fields []*video.Field) {
			for k, f := range fields {
				for y := range f.Height {
					add := 6 * math.Sin(2*math.Pi*(float64(y)/312+float64(k)*0.17))
					for x := range f.Width {
						f.Y[y*f.Width+x] = uint8(max(1, min(254, float64(f.Y[y*f.Width+x])+add)))
					}
				}
			}
		}, analyse.WeaveTwo},
		{"woven, each line the mean of two of its own field, as a comb filter gives", 4, func(fields []*video.Field) {
			for _, f := range fields {
				for y := f.Height - 1; y > 0; y-- {
					for x := range f.Width {
						f.Y[y*f.Width+x] = mean(f.Y[y*f.Width+x], f.Y[(y-1)*f.Width+x])
					}
				}
			}
		}, analyse.WeaveTwo},
	} {
		rng := source(31)
		fields := newPicture(rng).capture(16, c.noise, rng, nil, nil)
		c.do(fields)
		s := Measure(fields, options())
		if s.State != analyse.Locked || s.Weave != c.want {
			t.Errorf("%s: %s, %q, want %q", c.name, s.State, s.Weave, c.want)
		}
		o := options()
		if o.Blocks = true; Measure(fields, o).Weave != analyse.WeaveUnknown {
			t.Errorf("%s: told after a codec of blocks", c.name)
		}
	}
	// A picture that rolls, or tears, says nothing of the weave.
	rng := source(32)
	rolling := newPicture(rng).capture(16, 2, rng, nil, func(k int) int { return 3 * k })
	if s := Measure(rolling, options()); s.Weave != analyse.WeaveUnknown {
		t.Errorf("rolling: %q", s.Weave)
	}
}
