package cells

import (
	"math"
	"math/rand/v2"
	"testing"

	"backporch/analyse/analysetest"
	"backporch/video"
)

// A screen placed some pixels and lines aside of where its reference was is laid over it, in other colours and levels too; an
// even one is left where it was.
func TestLaid(t *testing.T) {
	p := analysetest.Profile(t, "text-40x25-50")
	random := rand.New(rand.NewPCG(3, 5))
	inks := make([]int, p.Rows()*p.Columns())
	for i := range inks {
		inks[i] = random.IntN(16)
	}
	of := func(list []int) func(int) (int, int) { return func(cell int) (int, int) { return list[cell], 0 } }
	good := drawn(p, 0, of(inks), same)
	louder := func(c video.YUV) video.YUV { c = turned(c, 40); c.Y *= 1.4; return c }
	for _, c := range []struct {
		name       string
		list       []int
		change     func(video.YUV) video.YUV
		dx, dy     int
		toDx, toDy int
	}{
		{"as it was", inks, same, 0, 0, 0, 0},
		{"aside", inks, same, 3, -13, 3, -13},
		{"turned and louder", inks, louder, -5, 8, -5, 8},
		{"an even one", make([]int, len(inks)), same, 2, 2, 0, 0},
	} {
		here := drawn(p, 0, of(c.list), c.change)
		want := here.Registration
		want.OriginX -= float64(c.dx-c.toDx) * want.PitchX
		want.OriginY -= float64(c.dy - c.toDy)
		here.Registration.OriginX -= float64(c.dx) * want.PitchX
		here.Registration.OriginY -= float64(c.dy)
		got := laid(here, good, p)
		if math.Abs(got.OriginX-want.OriginX) > 1e-6 || math.Abs(got.OriginY-want.OriginY) > 1e-6 {
			t.Errorf("%s: at %.2f, %.2f, want %.2f, %.2f", c.name, got.OriginX, got.OriginY, want.OriginX, want.OriginY)
		}
	}
}

// The density of chroma about a colour is one: it adds up to 1 over all chroma, with its tails and without, and counts a colour that is paler by a tenth as
// likelier than one turned by as much.
func TestChromaDensity(t *testing.T) {
	red := video.YUV{Y: 0.3, U: -0.147, V: 0.615}
	for _, tails := range []bool{false, true} {
		s := sight{sc: 0.02, size: 0.12, pale: 0.3, turn: 0.05, none: 0.01, tails: tails}
		density := func(c video.YUV, off unsent) float64 {
			f := s.off(c, off)
			ln, _ := f.of(tails)
			return ln
		}
		const step = 0.004
		for name, off := range map[string]unsent{"sent": {}, "one is not": {u: true}, "neither is": {u: true, v: true}} {
			sum := 0.0
			for u := -4.0; u < 4; u += step {
				for v := -4.0; v < 4; v += step {
					s.seen = video.YUV{U: u, V: v}
					sum += math.Exp(density(red, off)) * step * step
				}
			}
			if math.Abs(sum-1) > 0.01 {
				t.Errorf("tails %v, %s: %.4f", tails, name, sum)
			}
		}
		s.seen = video.YUV{U: 0.9 * red.U, V: 0.9 * red.V}
		pale := density(red, unsent{})
		s.seen = turned(red, 0.1*180/math.Pi)
		if aside := density(red, unsent{}); pale < aside+0.5 {
			t.Errorf("tails %v: %.2f paler, %.2f turned", tails, pale, aside)
		}
	}
}
