package analyse

import "math"

// Estimate is a figure with its standard uncertainty and what keeps it from being surer.
type Estimate struct {
	Value, Spread float64
	Limit         string // "noise", "codes", "codec", "edges", "lines", "chroma": what sets Spread
}

// Hum is the mains in the border's brightness from the top of the picture to its bottom.
type Hum struct {
	Pct   Estimate // peak to peak, of white less black
	Hz    Estimate // as it rolls through the fields; Value NaN in a single field
	Share float64  // of what the border's line means vary by, 0 to 1
}

// Tone is a single frequency on the picture.
type Tone struct {
	Pct      Estimate // peak to peak, of white less black
	Hz       Estimate // as the samples show it
	AliasHz  float64  // the other frequency that would show the same: sampling folds one onto the other
	Folded   bool     // it is AliasHz that belongs to the machine's clock, and Hz does not
	Fixed    bool     // it stands still on the lines, or is a whole part of the pixel clock: bars
	PeriodPx float64  // machine pixels
}

// Steps is what a codec's steps leave open of a wave on the border, % of white peak to peak, one standard deviation.
type Steps struct {
	Fixed, Moving float64 // of one that stands still; of one that moves from line to line
}

// Ringing is a damped oscillation after each edge.
type Ringing struct {
	Pct     Estimate // of the step, at its first swing
	Hz      Estimate
	DecayNs Estimate // to 1/e
	Late    float64  // % of the step that is left of it 600 ns after an edge, when decoders have settled
	// LateSpread is the standard uncertainty of Late, %.
	LateSpread float64
	Gain       float64 // ln of the likelihood of the tail with it over that without
}

// Ghost is a second copy of the picture.
type Ghost struct {
	Pct  Estimate // of the picture; negative: inverted
	Ns   Estimate
	Gain float64 // ln of the likelihood of the tail with it over that without
	// Alone says that the picture alone tells it, not the border's beginning: the colours of its strokes are fitted with it.
	Alone bool
}

// lobes is the size, % of the step, up to which what comes so late after an edge may be a decoder's own: a notch's
// ripple of some 20 % that dies away from 400 ns on. Common practice, no source.
func lobes(ns float64) float64 { return 3 + 22*math.Exp(-math.Max(0, ns-400)/150) }

// Stands tells whether it is a copy of the picture: not one of a decoder's own lobes, and not ringing.
func (g *Ghost) Stands(r *Ringing) bool {
	if g == nil || g.Gain < 3 || r != nil && r.Gain > g.Gain && r.Late > 1.5 {
		return false
	}
	return math.Abs(g.Pct.Value) > lobes(g.Ns.Value)
}

// ColourFit is how the colours and levels seen agree with one thing that can be wrong with them.
type ColourFit struct {
	Kind   string   // "hue-shift", "colour-lost", "level-high", "level-low", "clipping"
	Amount Estimate // degrees; picture against sync, 1 is right; the level of the cut, of white
	Chroma float64  // of a level: how many times its right size chroma is; 0: as luma is
	Gain   float64  // ln of the likelihood over that of a path where nothing is wrong
}

// Spot is a colour as the capture shows it, in codes.
type Spot struct {
	Y, Cb, Cr float64
	Weight    float64 // pixels
	Chroma    float64 // pixels whose colour differences count; 0: only luma is known
	Stroke    bool    // in thin strokes alone, whose luma blur changes
	Border    bool
	Index     int // nearest colour of the palette, -1 when none
}

// Point is a place on a curve.
type Point struct{ X, Y float64 }

// Curves are what the measures were read from.
type Curves struct {
	Edge     []Point // ns, part of the step
	Spectrum []Point // Hz, dB below white in 100 kHz
	Bars     []Point // machine pixels, % of white: one line of the border, averaged over lines and fields
	Hum      []Point // lines, % of white
}

// Blends tells whether so many bytes of a picture change over time that the colours of its cells are means of several; text says that it is a Text display's,
// on which what goes with the subcarrier's rhythm is its dots.
func (m *Motion) Blends(text bool) bool {
	const share = 0.2 // common practice, no source
	return m != nil && m.Fields >= 6 && m.Bytes >= 40 && float64(m.Moving) >= share*float64(m.Bytes) && !(text && m.Rhythm > 0.5)
}
