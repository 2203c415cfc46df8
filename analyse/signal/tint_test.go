package signal

import (
	"math"
	"testing"

	"backporch/analyse"
	"backporch/analyse/analysetest"
	"backporch/video"
	"backporch/video/display"
)

// spotOf is a colour as codes, turned and with another saturation.
func spotOf(c video.YUV, index int, degrees, gain float64) analyse.Spot {
	sin, cos := math.Sincos(degrees * math.Pi / 180)
	y, cb, cr := video.YUV{Y: c.Y, U: gain * (c.U*cos - c.V*sin), V: gain * (c.U*sin + c.V*cos)}.Codes()
	return analyse.Spot{Y: y, Cb: cb, Cr: cr, Weight: 100, Chroma: 80, Index: index}
}

// Hue, saturation and level of all colours are found together, wherever they are: of bars (ITU-R BT.471 by ITU-R BT.1700's matrix) and of a palette of
// six hues.
func TestTint(t *testing.T) {
	for _, name := range []string{"attr-256x192-50", "text-40x25-50", "attr-256x192-60"} {
		p := analysetest.Profile(t, name)
		for _, by := range []float64{0, 12, -40, 75, -70} {
			for _, size := range []float64{0.6, 1, 1.4} {
				var all []analyse.Spot
				for i, c := range p.Colours {
					all = append(all, spotOf(c.YUV, i, by, size))
				}
				out := &analyse.Signal{Spots: all, HueErrorDeg: new(float64)}
				Tell(out, p)
				if got := out.Hue(); got == nil || math.Abs(apart(*got, by)) > 2 || out.HueSpread > 4 {
					t.Errorf("%s turned by %v: %v +- %v", name, by, got, out.HueSpread)
				}
				if e := out.SaturationSeen; e == nil || math.Abs(e.Value/100-size) > 0.08*size || e.Spread > 12 {
					t.Errorf("%s turned by %v of size %v: %+v", name, by, size, e)
				}
				if t1 := Tinted(all, p); math.Abs(t1.Level.At-1) > 0.03 {
					t.Errorf("%s level %+v", name, t1.Level)
				}
			}
		}
	}
}

// One hue of a palette whose hues lie 43 to 74 degrees apart tells that it is none of them, not which it is; a colour whose luma is its own is told by itself.
// Greys tell nothing.
func TestOneHue(t *testing.T) {
	p := analysetest.Profile(t, "text-40x25-50")
	tell := func(p *display.Profile, spots ...analyse.Spot) *analyse.Signal {
		out := &analyse.Signal{Spots: spots, HueErrorDeg: new(float64)}
		Tell(out, p)
		return out
	}
	black, white := spotOf(p.Colours[0].YUV, 0, 0, 1), spotOf(p.Colours[3].YUV, 3, 0, 1)
	s := tell(p, spotOf(p.Colours[8].YUV, 8, 28, 1), black, white) // or the next one by -46
	if s.HueTold || s.HueLeast < 15 || s.HueLeast > 28 || len(s.HueTurns) < 2 {
		t.Errorf("28 degrees of one hue: %+v", s)
	}
	if s := tell(p, spotOf(p.Colours[8].YUV, 8, 1, 1), black, white); s.HueTold || s.HueLeast > 4 {
		t.Errorf("1 degree of one hue: %+v", s)
	}
	if s := tell(p, black, white); s.HueTold || s.SaturationSeen != nil {
		t.Errorf("greys: %+v", s)
	}
	p = analysetest.Profile(t, "attr-256x192-50")
	black, white = spotOf(p.Colours[0].YUV, 0, 0, 1), spotOf(p.Colours[15].YUV, 15, 0, 1)
	s = tell(p, spotOf(p.Colours[2].YUV, 2, -35, 1), black, white)
	if got := s.Hue(); got == nil || math.Abs(*got+35) > 3 {
		t.Errorf("red turned by -35: %+v", s)
	}
}

// A picture of many colours has one size; a white alone may be any bright grey of the display's.
func TestLevel(t *testing.T) {
	p := analysetest.Profile(t, "text-40x25-50") // greys of 0.33, 0.66 and 1
	at := func(size float64, of ...int) (out []analyse.Spot) {
		for _, i := range of {
			c := p.Colours[i].YUV
			y, cb, cr := video.YUV{Y: c.Y * size, U: c.U * size, V: c.V * size}.Codes()
			out = append(out, analyse.Spot{Y: y, Cb: cb, Cr: cr, Weight: 100, Chroma: 80, Index: i})
		}
		return out
	}
	tell := func(spots []analyse.Spot) *analyse.Estimate {
		out := &analyse.Signal{Spots: spots, HueErrorDeg: new(float64)}
		Tell(out, p)
		return out.LevelSeen
	}
	for _, size := range []float64{0.45, 0.6, 1, 1.05} { // beyond, white is cut off
		if e := tell(at(size, 1, 2, 3, 4, 11, 14)); e == nil || math.Abs(e.Value-100*size) > 3*size || e.Spread > 5 {
			t.Errorf("many colours at %v: %+v", size, e)
		}
	}
	if e := tell(at(0.8, 0, 3)); e == nil || e.Spread < 10 { // or light grey, too high
		t.Errorf("white at 0.8: %+v", e)
	}
	if e := tell(nil); e != nil {
		t.Errorf("nothing: %+v", e)
	}
}
