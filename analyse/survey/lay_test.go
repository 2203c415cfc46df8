package survey

import (
	"math/rand/v2"
	"testing"

	"backporch/analyse"
	"backporch/analyse/analysetest"
	"backporch/analyse/grid"
	"backporch/video"
	"backporch/video/display"
)

// shown is a survey of a listing as far as its place, in a device's levels.
func shown(t *testing.T, p *display.Profile, seed uint64, c analysetest.Capture) *analyse.Survey {
	t.Helper()
	screen := analysetest.New(p)
	screen.Border = screen.Paper
	if p.Kind == display.Attr {
		screen.Border = 7
	}
	analysetest.Listing(p, screen, 18, rand.New(rand.NewPCG(seed, 8)))
	fields := make([]*video.Field, 6)
	for i := range fields {
		fields[i] = analysetest.Draw(p, screen, c, rand.New(rand.NewPCG(seed, uint64(i))))
	}
	s := &analyse.Survey{Stack: analyse.Add(fields)}
	if s.Registration = grid.Register(s.Stack, p, grid.Options{}); !s.Registration.OK {
		t.Fatal(s.Registration.Reason)
	}
	return s
}

// Two captures of a screen whose border is its paper, of which the one or the other was placed some lines and pixels aside, are laid over each other by moving that one;
// another screen's is not, and neither is one that lies where it should.
func TestLay(t *testing.T) {
	p := analysetest.Profile(t, "attr-256x192-50")
	one, other := analysetest.Capture{Noise: 2}, analysetest.Capture{Noise: 2, BlurNs: 70, Gain: 0.9, Offset: 5, OriginX: 121.4, OriginY: 46}
	aside := func(s *analyse.Survey, pixels, lines int) *analyse.Survey {
		s.Registration.OriginX += float64(pixels) * s.Registration.PitchX
		s.Registration.OriginY += float64(lines)
		return s
	}
	even := func() *analyse.Survey { // nothing on it but paper
		s := shown(t, p, 1, one)
		screen := analysetest.New(p)
		screen.Border = 7
		s.Stack = analyse.Add([]*video.Field{analysetest.Draw(p, screen, one, rand.New(rand.NewPCG(5, 5)))})
		return s
	}
	type shift = analyse.Shift
	for _, c := range []struct {
		name        string
		here, there *analyse.Survey
		want        shift // how far both move against each other
	}{
		{"as they are", shown(t, p, 1, one), shown(t, p, 1, other), shift{}},
		{"the capture a line low", aside(shown(t, p, 1, one), 0, 1), shown(t, p, 1, other), shift{Lines: -1}},
		{"the reference two lines high and three pixels right", shown(t, p, 1, one), aside(shown(t, p, 1, other), 3, -2), shift{Pixels: 3, Lines: -2}},
		{"even ones", aside(even(), 2, 2), even(), shift{}},
		{"another screen", aside(shown(t, p, 1, one), 0, 1), shown(t, p, 77, other), shift{}},
	} {
		here, there := lay(c.here, c.there, p)
		if got := (shift{Pixels: here.Pixels - there.Pixels, Lines: here.Lines - there.Lines}); got != c.want {
			t.Errorf("%s: %+v and %+v, want %+v between them", c.name, here, there, c.want)
		}
	}
}
