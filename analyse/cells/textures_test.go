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
