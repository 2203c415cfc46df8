package video

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// 100 % and 75 % colour bars: levels in mV of 700, hue in degrees and codes, computed
// from the equations of ITU-R BT.1700 and BT.601 3.5; tolerance half of the last figure,
// a code for rounding.
func TestColourBars(t *testing.T) {
	for _, c := range []struct {
		name             string
		r, g, b          float64
		y, u, v, hue     float64
		cy, cb, cr       float64
		cy75, cb75, cr75 float64
	}{
		{"yellow", 1, 1, 0, 620.2, -305.8, 70.0, 167.11, 210, 16, 146, 162, 44, 142},
		{"cyan", 0, 1, 1, 490.7, 103.2, -430.3, 283.48, 170, 166, 16, 131, 156, 44},
		{"green", 0, 1, 0, 410.9, -202.6, -360.4, 240.66, 145, 54, 34, 112, 72, 58},
		{"magenta", 1, 0, 1, 289.1, 202.6, 360.4, 60.66, 106, 202, 222, 84, 184, 198},
		{"red", 1, 0, 0, 209.3, -103.2, 430.3, 103.48, 81, 90, 240, 65, 100, 212},
		{"blue", 0, 0, 1, 79.8, 305.8, -70.0, 347.11, 41, 240, 110, 35, 212, 114},
	} {
		p := YUVOfRGB(c.r, c.g, c.b)
		for _, v := range []struct{ got, want, tol float64 }{
			{700 * p.Y, c.y, 0.051}, {700 * p.U, c.u, 0.051}, {700 * p.V, c.v, 0.051}, {p.Hue(), c.hue, 0.0051},
		} {
			if math.Abs(v.got-v.want) > v.tol {
				t.Errorf("%s: %v, want %v", c.name, v.got, v.want)
			}
		}
		y, cb, cr := p.Codes()
		y75, cb75, cr75 := YUVOfRGB(0.75*c.r, 0.75*c.g, 0.75*c.b).Codes()
		for i, v := range [6]float64{y, cb, cr, y75, cb75, cr75} {
			if want := [6]float64{c.cy, c.cb, c.cr, c.cy75, c.cb75, c.cr75}[i]; math.Abs(v-want) > 0.51 {
				t.Errorf("%s, code %d: %.2f, want %v", c.name, i, v, want)
			}
		}
	}
}

func TestColourRoundTrips(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		unit := rapid.Float64Range(0, 1)
		r, g, b := unit.Draw(t, "r"), unit.Draw(t, "g"), unit.Draw(t, "b")
		gr, gg, gb := YUVOfCodes(YUVOfRGB(r, g, b).Codes()).RGB()
		if math.Abs(gr-r)+math.Abs(gg-g)+math.Abs(gb-b) > 1e-9 {
			t.Fatalf("%v %v %v became %v %v %v", r, g, b, gr, gg, gb)
		}
	})
}
