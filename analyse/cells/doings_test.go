package cells

import (
	"math"
	"testing"

	"backporch/analyse"
	"backporch/analyse/analysetest"
	"backporch/video"
)

// Cells of strokes on another colour are brightest nowhere near their means, so that a cut and a device's top act on their pixels: both are told by them, beside
// a good capture, as are levels whose burst, and so chroma, has stayed in step or has not.
func TestAgainstStrokes(t *testing.T) {
	p := analysetest.Profile(t, "attr-256x192-50")
	bright := func(cell int) (int, int) { return 15 - cell%3, 1 } // on blue
	darker := func(cell int) (int, int) { return 4 + cell%3, 2 }  // on red
	best := func(colours func(int) (int, int), change func(video.YUV) video.YUV) analyse.ColourFit {
		fits, _, _ := Against(drawn(p, 1, colours, change), drawn(p, 1, colours, same), p)
		out := analyse.ColourFit{Gain: math.Inf(-1)}
		for _, f := range fits {
			if f.Gain > out.Gain {
				out = f
			}
		}
		return out
	}
	const top = (254 - 16) / 219.0
	if f := best(bright, same); f.Gain > 0.5 {
		t.Errorf("the same again: %+v", f)
	}
	if f := best(bright, func(c video.YUV) video.YUV { return cutAt(c, 0.6) }); f.Kind != "clipping" || f.Gain < 5 || math.Abs(f.Amount.Value-0.6) > 0.06 {
		t.Errorf("cut at 0.6: %+v", f)
	}
	f := best(bright, func(c video.YUV) video.YUV { return video.YUV{Y: math.Min(1.4*c.Y, top), U: 1.4 * c.U, V: 1.4 * c.V} })
	if f.Kind != "level-high" || f.Gain < 5 || f.Chroma != 0 || math.Abs(f.Amount.Value-1.4) > 0.08 {
		t.Errorf("1.4 of all: %+v", f)
	}
	f = best(darker, func(c video.YUV) video.YUV { return video.YUV{Y: math.Min(1.4*c.Y, top), U: c.U, V: c.V} })
	if f.Kind != "level-high" || f.Gain < 5 || math.Abs(f.Chroma-1) > 0.1 || math.Abs(f.Amount.Value-1.4) > 0.08 {
		t.Errorf("1.4 of luma: %+v", f)
	}
}

// A blend is changed in each of its parts: half black, half white, cut at 0.6, is 0.3 and not 0.5; a change that is linear may as well be made
// of the mean.
func TestBlends(t *testing.T) {
	black, white := video.YUV{}, video.YUV{Y: 1}
	parts := []part{{black, 0.5}, {white, 0.5}}
	w := &scene{palette: []video.YUV{{Y: 0.5}}, blends: []blend{{pixels: parts, chroma: 1, samples: parts}}}
	cutting := doing{cuts: machine, change: func(c video.YUV) video.YUV { return cutAt(c, 0.6) }}
	if c := w.changed(cutting)[0]; math.Abs(c.Y-0.3) > 1e-9 {
		t.Errorf("cut at 0.6: %.3f", c.Y)
	}
	for cuts, want := range map[cut]float64{nowhere: 0.7, anyCodes: 0.5} { // 1.4 times it; and white at a device's top
		d := doing{cuts: cuts, change: func(c video.YUV) video.YUV { return video.YUV{Y: math.Min(1.4*c.Y, 1)} }}
		if c := w.changed(d)[0]; math.Abs(c.Y-want) > 1e-9 {
			t.Errorf("1.4 times: %.3f, want %.3f", c.Y, want)
		}
	}
}

// Three colours without any of one colour difference, to a code, are a signal that is not there; three that have some of it, however little, are not.
func TestUnsentSignal(t *testing.T) {
	p := analysetest.Profile(t, "text-40x25-50")
	gain := func(left float64) float64 {
		var clusters []spot
		for _, i := range []int{4, 10, 13} {
			c := p.Colours[i].YUV
			c.U *= left
			y, cb, cr := c.Codes()
			clusters = append(clusters, spot{y: y, cb: cb, cr: cr, weight: 90, chroma: 90})
		}
		w := newScene(clusters, p, 16)
		list, _ := w.components(p, w.fits(true))
		for _, c := range list {
			if c.Name == "cb" && c.Level == 0 {
				return c.Gain
			}
		}
		return math.NaN()
	}
	if none, all := gain(0), gain(1); none < 4 || all > -3 {
		t.Errorf("cb at nothing: %.1f nats; as it should be: %.1f", none, all)
	}
}

// Colours larger than the codes hold are cut off at their ends; the hue of the device is read from them all the same.
func TestHueOfCutColours(t *testing.T) {
	p := analysetest.Profile(t, "attr-256x192-60")
	var clusters []spot
	for _, i := range []int{1, 2, 3, 4, 5, 6} {
		c := turned(p.Colours[i].YUV, -6)
		y, cb, cr := video.YUV{Y: c.Y, U: 1.4 * c.U, V: 1.4 * c.V}.Codes()
		code := func(v float64) float64 { return math.Max(1, math.Min(254, v)) }
		clusters = append(clusters, spot{y: y, cb: code(cb), cr: code(cr), weight: 90, chroma: 90})
	}
	w := newScene(clusters, p, math.NaN())
	_, at := w.like(unaltered)
	if math.Abs(at.hue+6) > 2 || math.Abs(at.saturation-1.4) > 0.12 {
		t.Errorf("%+v, want -6 degrees and 1.4", at)
	}
}
