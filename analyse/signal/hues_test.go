package signal

import (
	"math"
	"testing"

	"backporch/analyse"
	"backporch/analyse/analysetest"
	"backporch/video"
)

// spotOf is a colour as codes, turned and with another saturation.
func spotOf(c video.YUV, index int, degrees, gain float64) analyse.Spot {
	sin, cos := math.Sincos(degrees * math.Pi / 180)
	y, cb, cr := video.YUV{Y: c.Y, U: gain * (c.U*cos - c.V*sin), V: gain * (c.U*sin + c.V*cos)}.Codes()
	return analyse.Spot{Y: y, Cb: cb, Cr: cr, Weight: 100, Chroma: 80, Index: index}
}

// The hues of bars (angles of ITU-R BT.471's by ITU-R BT.1700's matrix) are counted, and what their colours say one by one is in
// the uncertainty.
func TestHues(t *testing.T) {
	p := analysetest.Profile(t, "attr-256x192-50")
	levels := analyse.Levels{Black: 16, White: 235}
	var all []analyse.Spot
	for i, c := range p.Colours {
		all = append(all, spotOf(c.YUV, i, 10, 0.9))
	}
	if n, s, h := hues(all, levels, p, 90, 10); n != 6 || math.Abs(s-leastSaturation) > 0.5 || math.Abs(h-leastHue) > 0.2 {
		t.Errorf("%d hues, %v %%, %v degrees", n, s, h)
	}
	if _, s, _ := hues(all, levels, p, 120, 10); s < 30 { // something else is said of all than of each
		t.Errorf("uncertain by %v %%", s)
	}
	red := []analyse.Spot{all[2], all[10], all[0], all[7]} // red, bright red, black, white
	if n, _, _ := hues(red, levels, p, 90, 10); n != 1 {
		t.Errorf("%d hues of red, bright red, black and white", n)
	}
	if n, s, _ := hues(nil, levels, p, 90, 10); n != 0 || s != leastSaturation {
		t.Errorf("%d hues of nothing, %v %%", n, s)
	}
}
