package palette_test

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"backporch/analyse"
	"backporch/analyse/analysetest"
	"backporch/analyse/palette"
	"backporch/analyse/survey"
	"backporch/video"
	"backporch/video/display"
)

// A machine whose colours are not quite its profile's is measured by blocks of them, through another gain and black.
func TestColoursOfAnotherMachine(t *testing.T) {
	p := analysetest.Profile(t, "text-40x25-50")
	own := *p
	own.Colours = append([]display.Colour(nil), p.Colours...)
	rng := rand.New(rand.NewPCG(6, 1))
	for i := 4; i < 16; i++ {
		c := &own.Colours[i]
		sin, cos := math.Sincos((rng.Float64()*8 - 4) * math.Pi / 180)
		grow := 0.9 + 0.2*rng.Float64()
		c.U, c.V, c.Y = grow*(c.U*cos-c.V*sin), grow*(c.U*sin+c.V*cos), c.Y+0.04*(rng.Float64()-0.5)
	}
	s := analysetest.New(p)
	s.Border, s.Paper = 3, 0
	inks := make([]int, 1000)
	solid := byte(0xff)
	s.Font.Glyphs[solid] = [8]byte{255, 255, 255, 255, 255, 255, 255, 255}
	for row := range 25 {
		for column := range 40 {
			i := row*40 + column
			if inks[i] = -1; row >= 4 && row < 20 && column >= 4 && column < 36 {
				inks[i] = (column - 4) / 2
				s.Memory[i], s.Colours[i] = solid, byte(inks[i])
			}
		}
	}
	analysetest.Text(p, s, 1, 2, "COLOUR TEST")
	var fields []*video.Field
	for i := range 6 {
		f := analysetest.Draw(&own, s, analysetest.Capture{Noise: 1.5, Gain: 0.94, Offset: 3}, rng)
		f.Time, f.Frame, f.Parity = time.Duration(i)*20*time.Millisecond, i/2, i%2
		fields = append(fields, f)
	}
	seen, _, err := survey.Run(fields, video.Info{Standard: p.Standard, Rate: p.FieldHz() / 2}, survey.Options{Display: p})
	if err != nil {
		t.Fatal(err)
	}
	areas, err := palette.Measure(seen, p, palette.Screen{Inks: inks, Paper: 0, Border: 3})
	if err != nil {
		t.Fatal(err)
	}
	if len(areas) < 15 {
		t.Errorf("%d colours were measured: %+v", len(areas), areas)
	}
	got := palette.Colours(areas, p, seen.Levels)
	for _, a := range areas {
		g, w := got[a.Index], own.Colours[a.Index]
		// A hundredth of white is two codes.
		if d := math.Hypot(g.Y-w.Y, math.Hypot(g.U-w.U, g.V-w.V)); d > 0.012 {
			t.Errorf("%s: %.4f from what was drawn: %+v, want %+v", w.Name, d, g.YUV, w.YUV)
		}
	}
}

func TestMeasureNeedsAPicture(t *testing.T) {
	p := analysetest.Profile(t, "text-40x25-50")
	if _, err := palette.Measure(&analyse.Survey{}, p, palette.Screen{}); err == nil {
		t.Error("nothing was enough")
	}
}
