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
	if n, s := hues(all, levels, p, 90); n != 6 || math.Abs(s-leastSaturation) > 0.5 {
		t.Errorf("%d hues, %v %%", n, s)
	}
	if _, s := hues(all, levels, p, 120); s < 30 { // something else is said of all than of each
		t.Errorf("uncertain by %v %%", s)
	}
	red := []analyse.Spot{all[2], all[10], all[0], all[7]} // red, bright red, black, white
	if n, _ := hues(red, levels, p, 90); n != 1 {
		t.Errorf("%d hues of red, bright red, black and white", n)
	}
	if n, s := hues(nil, levels, p, 90); n != 0 || s != leastSaturation {
		t.Errorf("%d hues of nothing, %v %%", n, s)
	}
}

// The turn of all six hues is found wherever it is; few hues that others lie near tell none.
func TestTurn(t *testing.T) {
	p := analysetest.Profile(t, "text-40x25-50")
	levels := analyse.Levels{Black: 16, White: 235}
	for _, by := range []float64{0, 12, -40, 75, -70} {
		var all []analyse.Spot
		for i := 4; i < 16; i++ {
			all = append(all, spotOf(p.Colours[i].YUV, i, by, 0.9))
		}
		if got, spread, ok := turn(all, levels, p); !ok || math.Abs(apart(got, by)) > 1.5 || spread > 4 {
			t.Errorf("turned by %v: %v +- %v, told %v", by, got, spread, ok)
		}
		if got, _, ok := turn(all[:1], levels, p); ok {
			t.Errorf("one hue is told as %v", got)
		}
	}
}

// A picture of many colours has one size; a white alone may be any bright grey of the display's.
func TestSizes(t *testing.T) {
	p := analysetest.Profile(t, "text-40x25-50") // greys of 0.33, 0.66 and 1
	levels := analyse.Levels{Black: 16, White: 235}
	at := func(size float64, of ...int) (out []analyse.Spot) {
		for _, i := range of {
			c := p.Colours[i].YUV
			y, cb, cr := video.YUV{Y: c.Y * size, U: c.U * size, V: c.V * size}.Codes()
			out = append(out, analyse.Spot{Y: y, Cb: cb, Cr: cr, Weight: 100, Chroma: 80, Index: i})
		}
		return out
	}
	for _, size := range []float64{0.6, 1, 1.3} {
		if low, high := sizes(at(size, 1, 2, 3, 4, 11, 14), levels, p); low > size || high < size || high-low > 0.2 {
			t.Errorf("many colours at %v: %v to %v", size, low, high)
		}
	}
	if low, high := sizes(at(0.6, 0, 3), levels, p); low > 0.65 || high < 0.9 { // or light grey at 0.9
		t.Errorf("white at 0.6: %v to %v", low, high)
	}
	if low, high := sizes(nil, levels, p); low != 0 || high != 0 {
		t.Errorf("nothing: %v to %v", low, high)
	}
}
