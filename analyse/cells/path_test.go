package cells

import (
	"math"
	"testing"

	"backporch/analyse"
	"backporch/analyse/analysetest"
	"backporch/video"
	"backporch/video/display"
)

// barCodes are the codes of 75 % bars, white to black (the ITU-R BT.601 coding of EBU bars, from memory): those of a path where nothing is wrong.
var barCodes = [8][3]float64{
	{180, 128, 128}, {162, 44, 142}, {131, 156, 44}, {112, 72, 58}, {84, 184, 198}, {65, 100, 212}, {35, 212, 114}, {16, 128, 128},
}

// Bars as published, and turned, without chroma, larger, smaller or cut: each is found for what it is, to a few parts in a hundred, and the
// published ones are nothing wrong.
func TestPathFitsOfBars(t *testing.T) {
	p := *analysetest.Profile(t, "attr-256x192-50")
	p.Colours = append(p.Colours[:0:0], p.Colours...)
	for i := range p.Colours {
		part := func(bit int) float64 { return 0.75 * float64(i>>bit&1) }
		p.Colours[i].YUV = video.YUVOfRGB(part(1), part(2), part(0))
	}
	for _, c := range []struct {
		kind   string // "": nothing
		amount float64
		change func(video.YUV) video.YUV
	}{
		{"", 0, func(c video.YUV) video.YUV { return c }},
		{"hue-shift", 40, func(c video.YUV) video.YUV { return turned(c, 40) }},
		{"hue-shift", -75, func(c video.YUV) video.YUV { return turned(c, -75) }},
		{"colour-lost", 0, func(c video.YUV) video.YUV { return video.YUV{Y: c.Y} }},
		{"level-high", 1.3, func(c video.YUV) video.YUV { return video.YUV{Y: 1.3 * c.Y, U: 1.3 * c.U, V: 1.3 * c.V} }},
		{"level-low", 0.5, func(c video.YUV) video.YUV { return video.YUV{Y: 0.5 * c.Y, U: 0.5 * c.U, V: 0.5 * c.V} }},
		{"clipping", 0.5, func(c video.YUV) video.YUV { return cutAt(c, 0.5) }},
	} {
		var clusters []spot
		for _, code := range barCodes {
			y, cb, cr := c.change(video.YUVOfCodes(code[0], code[1], code[2])).Codes()
			clusters = append(clusters, spot{y: y, cb: cb, cr: cr, weight: 90, chroma: 90})
		}
		best := analyse.ColourFit{}
		for _, f := range newScene(clusters, &p, math.NaN()).fits(true) {
			if f.Gain > best.Gain {
				best = f
			}
		}
		tolerance := 0.05
		if c.kind == "hue-shift" {
			tolerance = 3
		}
		if best.Kind != c.kind || c.kind != "" && (best.Gain < 6 || math.Abs(best.Amount.Value-c.amount) > tolerance) {
			t.Errorf("want %q %v: %+v", c.kind, c.amount, best)
		}
	}
}

func turned(c video.YUV, degrees float64) video.YUV {
	sin, cos := math.Sincos(degrees * math.Pi / 180)
	return video.YUV{Y: c.Y, U: c.U*cos - c.V*sin, V: c.U*sin + c.V*cos}
}

// One colour on a display of sixteen may be another of them: a turn by the 60 degrees or so between two says nothing, and
// neither do black and white of hue, nor of chroma.
func TestPathFitsOfFewColours(t *testing.T) {
	text := analysetest.Profile(t, "text-40x25-50")
	one := func(c video.YUV) []spot {
		y, cb, cr := c.Codes()
		return []spot{{y: y, cb: cb, cr: cr, weight: 900, chroma: 900}}
	}
	for name, clusters := range map[string][]spot{
		"a red turned to yellow": one(turned(text.Colours[4].YUV, 63.6)),
		"black and white":        {{y: 16, cb: 128, cr: 128, weight: 700, chroma: 700}, {y: 235, cb: 128, cr: 128, weight: 60, chroma: 60}},
	} {
		for _, f := range newScene(clusters, text, 16).fits(true) {
			if f.Gain > 1.5 {
				t.Errorf("%s: %+v", name, f)
			}
		}
	}
}

// A border's colour is no pattern too fine to be seen, so that a grey which the display has not speaks for a path that cuts; in the picture
// it may be one. And a border of one colour that is turned by more than devices turn it is, where no other colour has its brightness.
func TestPathFitsOfBorder(t *testing.T) {
	text, attr := analysetest.Profile(t, "text-40x25-60"), analysetest.Profile(t, "attr-256x192-60")
	of := func(c video.YUV, border bool) spot {
		y, cb, cr := c.Codes()
		return spot{y: y, cb: cb, cr: cr, weight: 200, chroma: 200, border: border}
	}
	gain := func(clusters []spot, p *display.Profile, kind string) float64 {
		for _, f := range newScene(clusters, p, 16).fits(true) {
			if f.Kind == kind {
				return f.Gain
			}
		}
		return math.Inf(-1)
	}
	greys := func(border bool) []spot {
		return []spot{of(text.Colours[0].YUV, false), of(text.Colours[1].YUV, false), of(video.YUV{Y: 0.5}, border)}
	}
	if in, out := gain(greys(false), text, "clipping"), gain(greys(true), text, "clipping"); in > 3 || out < in+5 {
		t.Errorf("a grey of half of white: %.1f in the picture, %.1f in the border", in, out)
	}
	yellow := []spot{of(attr.Colours[7].YUV, false), of(turned(attr.Colours[6].YUV, -25), true)}
	if g := gain(yellow, attr, "hue-shift"); g < 4 {
		t.Errorf("yellow turned by -25 degrees: %.1f", g)
	}
	yellow[1] = of(turned(attr.Colours[6].YUV, -6), true)
	if g := gain(yellow, attr, "hue-shift"); g > 0 {
		t.Errorf("yellow as devices turn it: %.1f", g)
	}
}

// Against a good capture even one colour is enough, and the same again is nothing wrong.
func TestAgainst(t *testing.T) {
	p := analysetest.Profile(t, "text-40x25-50")
	capture := func(change func(video.YUV) video.YUV) *analyse.Survey {
		s := &analyse.Survey{Levels: analyse.Levels{Black: 16, White: 235}}
		s.Registration = analyse.Registration{OK: true, PitchX: p.PitchX(720), PitchY: 1}
		s.Registration.OriginX, s.Registration.OriginY = p.Origin(720, 288)
		st := &analyse.Stack{Width: 720, ChromaWidth: 360, Height: 288, N: 1}
		st.Y, st.Cb, st.Cr = make([]float32, 720*288), make([]float32, 360*288), make([]float32, 360*288)
		y, cb, cr := change(p.Colours[12].YUV).Codes()
		for i := range st.Y {
			st.Y[i] = float32(y)
		}
		for i := range st.Cb {
			st.Cb[i], st.Cr[i] = float32(cb), float32(cr)
		}
		s.Stack = st
		for i := range p.Rows() * p.Columns() {
			s.Cells = append(s.Cells, analyse.Cell{Column: i % p.Columns(), Row: i / p.Columns(), Single: true, Paper: 12, Ink: -1})
		}
		return s
	}
	good := capture(func(c video.YUV) video.YUV { return c })
	for _, f := range fitsAgainst(good, good, p) {
		if f.Gain > 0.5 {
			t.Errorf("the same again: %+v", f)
		}
	}
	for _, f := range fitsAgainst(capture(func(c video.YUV) video.YUV { return turned(c, 50) }), good, p) {
		if f.Kind == "hue-shift" && (f.Gain < 5 || math.Abs(f.Amount.Value-50) > 5) {
			t.Errorf("turned by 50: %+v", f)
		}
	}
	for _, f := range fitsAgainst(capture(func(c video.YUV) video.YUV { return video.YUV{Y: c.Y} }), good, p) {
		if f.Kind == "colour-lost" && f.Gain < 3 {
			t.Errorf("chroma lost: %+v", f)
		}
	}
	if fitsAgainst(good, nil, p) != nil || fitsAgainst(&analyse.Survey{}, good, p) != nil {
		t.Error("compared with nothing")
	}
}

func fitsAgainst(here, good *analyse.Survey, p *display.Profile) []analyse.ColourFit {
	fits, _, _ := Against(here, good, p)
	return fits
}

// A picture of two fifths of its size whose burst has shrunk with it has colours of their usual size, for devices set chroma by the burst: too low all the same,
// and as it should be when it is not.
func TestLevelWithItsBurst(t *testing.T) {
	p := analysetest.Profile(t, "text-40x25-50")
	for _, size := range []float64{0.4, 1} {
		var clusters []spot
		for _, i := range []int{0, 3, 8, 10, 11, 12, 13, 15} {
			c := p.Colours[i].YUV
			y, cb, cr := video.YUV{Y: size * c.Y, U: 1.3 * c.U, V: 1.3 * c.V}.Codes() // the device has its colour up
			clusters = append(clusters, spot{y: y, cb: cb, cr: cr, weight: 90, chroma: 90})
		}
		for _, f := range newScene(clusters, p, 16).fits(true) {
			switch {
			case size < 1 && f.Kind == "level-low" && (f.Gain < 6 || math.Abs(f.Amount.Value-size) > 0.04):
				t.Errorf("%v of its size: %+v", size, f)
			case (size == 1 || f.Kind != "level-low") && f.Gain > 3:
				t.Errorf("%v of its size: %+v", size, f)
			}
		}
	}
}

// A device of the full range whose gain is a tenth up shows a normal white nearer to where a bright one lies: nothing is wrong, for all colours fit it, which one
// start from its usual gain does not find.
func TestGoodGainIsFound(t *testing.T) {
	p := analysetest.Profile(t, "attr-256x192-60")
	// Luma of cyan, white and blue is 0.6, 0.85 and 0.1 of white: 1.08, 1.12 and 1.11 times that, from a black of 1.3 on.
	clusters := []spot{
		{y: 166.8, cb: 169.4, cr: 1.2, weight: 200, chroma: 200, border: true},
		{y: 244.6, cb: 129.8, cr: 128, weight: 503, chroma: 406},
		{y: 1.3, cb: 129.7, cr: 127.8, weight: 33, chroma: 3.3},
		{y: 29.7, cb: 253.7, cr: 103.6, weight: 20, chroma: 9.2},
	}
	for _, f := range newScene(clusters, p, math.NaN()).fits(true) {
		if f.Gain > 3 {
			t.Errorf("%+v", f)
		}
	}
}
