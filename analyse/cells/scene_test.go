package cells

import (
	"math"
	"testing"

	"backporch/analyse"
	"backporch/analyse/analysetest"
	"backporch/video"
)

// Black 7.5 IRE above blanking (ITU-R BT.1700, 525/60) is code 32.4 where no device takes it off, and -1.8 where one takes it off that is not there; white is
// 235 with either. In 625/50 there is none.
func TestSetups(t *testing.T) {
	usual := []believed{{centre: transform{16, 1, 1, 0}}}
	if got := setups(usual, analysetest.Profile(t, "attr-256x192-50")); len(got) != 1 {
		t.Errorf("625/50: %+v", got)
	}
	got := setups(usual, analysetest.Profile(t, "attr-256x192-60"))
	if len(got) != 3 {
		t.Fatalf("525/60: %+v", got)
	}
	for i, black := range []float64{16, 32.4, -1.8} {
		c := got[i].centre
		if math.Abs(c.black-black) > 0.05 || math.Abs(c.black+219*c.gain-235) > 0.05 || (i > 0) != (got[i].cost > 0) {
			t.Errorf("%d: %+v, want black %.1f and white 235", i, got[i], black)
		}
	}
}

// A capture with the setup left in is no picture of another level.
func TestSetupIsNoLevel(t *testing.T) {
	p := analysetest.Profile(t, "attr-256x192-60")
	var clusters []spot
	for i, c := range p.Colours {
		y, cb, cr := video.YUV{Y: 0.075 + 0.925*c.Y, U: 0.925 * c.U, V: 0.925 * c.V}.Codes()
		clusters = append(clusters, spot{y: y, cb: cb, cr: cr, weight: 40, chroma: 40, border: i == 5})
	}
	for _, f := range newScene(clusters, p, math.NaN()).fits(true) {
		if f.Gain > 0.5 {
			t.Errorf("setup left in: %+v", f)
		}
	}
}

// A picture too large is cut off with its chroma by a converter, or in its luma alone by what comes after; it is found by both.
func TestLevelHighCut(t *testing.T) {
	p := analysetest.Profile(t, "attr-256x192-50")
	for name, change := range map[string]func(video.YUV) video.YUV{
		"whole": func(c video.YUV) video.YUV { return cutAt(video.YUV{Y: 1.6 * c.Y, U: 1.6 * c.U, V: 1.6 * c.V}, 1.08) },
		"luma":  func(c video.YUV) video.YUV { return video.YUV{Y: math.Min(1.6*c.Y, 1.08), U: 1.6 * c.U, V: 1.6 * c.V} },
	} {
		var clusters []spot
		for i := range 8 {
			y, cb, cr := change(p.Colours[i].YUV).Codes()
			clusters = append(clusters, spot{y: y, cb: cb, cr: cr, weight: 90, chroma: 90})
		}
		best := analyse.ColourFit{}
		for _, f := range newScene(clusters, p, math.NaN()).fits(true) {
			if f.Gain > best.Gain {
				best = f
			}
		}
		if best.Kind != "level-high" || best.Gain < 5 || math.Abs(best.Amount.Value-1.6) > 0.1 {
			t.Errorf("%s: %+v", name, best)
		}
	}
}

// Colours told from strokes are parts of the same few textures and err together: four times as many say hardly more.
func TestStrokesErrTogether(t *testing.T) {
	p := analysetest.Profile(t, "text-40x25-60")
	gain := func(colours []int) float64 {
		clusters := []spot{{y: 16, cb: 128, cr: 128, weight: 500, chroma: 500}}
		for k, i := range colours {
			c := turned(p.Colours[i].YUV, 28)
			c.Y += 0.02 * float64(k/6)
			y, cb, cr := c.Codes()
			clusters = append(clusters, spot{y: y, cb: cb, cr: cr, weight: 40, chroma: 40, blur: 0.01})
		}
		for _, f := range newScene(clusters, p, 16).fits(true) {
			if f.Kind == "hue-shift" {
				return f.Gain
			}
		}
		return math.NaN()
	}
	few, many := gain([]int{4, 6, 14}), gain([]int{4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15})
	if !(few > 0 && many > 0 && many < 2.5*few) {
		t.Errorf("%.1f nats of three, %.1f of twelve", few, many)
	}
}
