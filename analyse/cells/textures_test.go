package cells

import (
	"math"
	"testing"

	"backporch/analyse"
	"backporch/analyse/analysetest"
	"backporch/video"
)

// bestFit is the kind that fits best, and how far.
func bestFit(fits []analyse.ColourFit) (best analyse.ColourFit) {
	for _, f := range fits {
		if f.Gain > best.Gain {
			best = f
		}
	}
	return best
}

func seenAs(c video.YUV, weight, chroma float64) spot {
	y, cb, cr := c.Codes()
	return spot{y: y, cb: cb, cr: cr, weight: weight, chroma: chroma}
}

// A picture drawn in patterns of black and white has greys of any brightness, none of which is a colour that has lost its chroma. Where what should be colours is as
// bright as each of them, it is.
func TestPatternsAreNoLostColour(t *testing.T) {
	p := analysetest.Profile(t, "attr-256x192-60")
	white := p.Colours[7].YUV
	drawn := []spot{seenAs(video.YUV{}, 300, 270), seenAs(white, 200, 200)}
	drawn[1].border = true
	lost := append([]spot(nil), drawn...)
	for i, part := range []float64{0.52, 0.56, 0.47, 0.40} {
		drawn = append(drawn, seenAs(video.YUV{Y: part * white.Y}, 140/float64(i+1), 60/float64(i+1)))
	}
	for _, i := range []int{1, 2, 3, 4, 5, 6} {
		lost = append(lost, seenAs(video.YUV{Y: p.Colours[i].Y}, 60, 40))
	}
	if f := bestFit(newScene(drawn, p, math.NaN()).fits(true)); f.Gain > 5 {
		t.Errorf("drawn in patterns: %+v", f)
	}
	if f := bestFit(newScene(lost, p, math.NaN()).fits(true)); f.Kind != "colour-lost" || f.Gain < 8 {
		t.Errorf("without chroma: %+v", f)
	}
}

// White letters on blue by a chain at 0.88 of its level, as machines and devices have it, of which a decoder's filter leaves 0.76 to 0.84 of their contrast: their three
// shades are no three colours of a picture at two thirds of its level.
func TestStrokesContrastIsNoLevel(t *testing.T) {
	p := analysetest.Profile(t, "text-40x25-50")
	blue, white := p.Colours[8].YUV, p.Colours[3].YUV
	blue.Y, white.Y = 0.88*blue.Y, 0.88*white.Y
	border := seenAs(blue, 200, 200)
	border.border = true
	clusters := []spot{seenAs(blue, 840, 800), border}
	for i, left := range []float64{0.84, 0.80, 0.76} {
		letters := seenAs(video.YUV{Y: blue.Y + left*(white.Y-blue.Y), U: 0.03, V: -0.01}, 9, 0.9)
		if i == 0 {
			letters.chroma, letters.blur = 9, 0.015
		}
		clusters = append(clusters, letters)
	}
	if f := bestFit(newScene(clusters, p, 16).fits(true)); f.Gain > 4.6 { // that, by a hundredth, is as likely as not
		t.Errorf("letters: %+v", f)
	}
}

// Black letters on white, by a device that shows a tenth more: the paper between their strokes is read up to a twelfth of the contrast too bright, which is no white that is cut off where it is paper alone.
func TestPaperBetweenStrokes(t *testing.T) {
	p := analysetest.Profile(t, "attr-256x192-50")
	magenta := p.Colours[3].YUV
	magenta.Y *= 1.1
	border := seenAs(magenta, 200, 200)
	border.border = true
	clusters := []spot{seenAs(video.YUV{Y: 0.922}, 400, 350), border}
	for i, y := range []float64{0.96, 0.98, 1.0, -0.07, -0.045, -0.02} {
		c := seenAs(video.YUV{Y: y}, 60/float64(i+1), 60/float64(i+1))
		c.stroke, c.blur = i > 2, 0.01
		clusters = append(clusters, c)
	}
	if f := bestFit(newScene(clusters, p, 16).fits(true)); f.Gain > 2.5 {
		t.Errorf("%+v", f)
	}
}
