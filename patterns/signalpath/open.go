package signalpath

import (
	"fmt"
	"math"
	"strings"

	"backporch/analyse"
)

// Two-sided limits, relative: of level and of saturation. Differential gain of 20 % is allowed to cable systems
// (47 CFR 76.605, from memory); the rest is common practice, no source.
var aside = Scale{Limits: [4]float64{12, 22, 35, 50}, Source: "20 %: 47 CFR 76.605 (from memory); else " + ownLimits}

// deviceColour is how far off a device's own colour setting may be without anybody minding, one standard deviation as a part (common practice, no
// source): less than twice that is not the machine's as long as the device is not calibrated.
const deviceColour = 0.08

// deviceHue, degrees, is how far a device turns hues by itself, one standard deviation (common practice, no source).
const deviceHue = 3.5

// surelyTurned, degrees, is what no device turns hues by (common practice, no source).
const surelyTurned = 10.0

// turnsOf lists the turns that fit the colours seen alike.
func turnsOf(s *analyse.Survey) string {
	var turned []string
	out := ""
	for _, v := range s.Signal.HueTurns {
		if math.Abs(v) < surelyTurned {
			out = "as they are"
		} else {
			turned = append(turned, fmt.Sprintf("%.0f", v))
		}
	}
	switch {
	case len(turned) == 0:
		return out
	case out != "":
		out += " or "
	}
	return out + "turned by " + strings.Join(turned, " or ") + " degrees"
}

// surelyCut is the gain, nats, from which on colours that are cut off are said to be (common practice, no source).
const surelyCut = 8.0

// goodRise, ns, is what good chains take at the most but for wide traps (common practice, no source).
const goodRise = 160.0

// trapped tells whether the edges have the shape that a good chain with a device's trap gives them.
func trapped(s *analyse.Survey) bool { return s.Signal.SlowGain != nil && *s.Signal.SlowGain < 0 }

// slowRise, ns, from which on the edge's shape is known worse (common practice, no source).
const slowRise = 200.0

// responseOpen is what a device's luma response leaves open at a frequency, as a part: its gain and black, and above 1.5 MHz its
// peaking and its trap for the subcarrier, which raise by up to two fifths or take as much away; within a megahertz of the
// subcarrier, more (common practice, no source).
func responseOpen(hz float64) float64 {
	above := func(from float64) float64 { return math.Max(0, math.Min((hz-from)/1e6, 1)) }
	return 0.05 + 0.25*above(1.5e6) + 0.3*above(2.5e6)
}

// noneCut, %, of the picture at the codes' end is not noticed (common practice, no source).
const noneCut = 0.5

// lateSure, %, is what decoders leave of an edge after 600 ns; trapOpen is the part that a response leaves open where traps for the subcarrier
// begin. Common practice, no source.
const lateSure, trapOpen = 1.5, 0.3

// strokesOpen is the part of a copy that is open where a dark border has no edge to show it by: the colours of strokes are fitted beside it (common
// practice, no source).
const strokesOpen = 0.15

// ringingOf is first swing, frequency and decay with what a device's response leaves open: a trap takes more of what rings longer.
func ringingOf(r *analyse.Ringing) (first, hz, decay analyse.Estimate) {
	first, hz, decay = r.Pct, r.Hz, r.DecayNs
	open := responseOpen(hz.Value)
	first.Spread = math.Hypot(first.Spread, open*first.Value)
	decay.Spread = math.Hypot(decay.Spread, open*decay.Value)
	return first, hz, decay
}

// whiteOpen is what is open of white's codes, of which percents of white are, as a part: how far all colours leave it open, and how far it lies from where it was
// taken to be.
func whiteOpen(s *analyse.Survey) float64 {
	_, open := codeRange(s)
	w, taken := s.Signal.WhiteSeen, (s.Levels.White-s.Levels.Black)/219
	if w == nil || w.Value <= 0 || !(taken > 0) {
		return open
	}
	if levelFit(s) != nil { // the picture was read at its right size
		return w.Spread / w.Value
	}
	return math.Hypot(w.Spread/w.Value, math.Log(w.Value/100/taken))
}

// ofWhiteCodes is a part of white with what is open of white's codes.
func ofWhiteCodes(s *analyse.Survey, e *analyse.Estimate) *analyse.Estimate {
	if e == nil {
		return nil
	}
	out := *e
	out.Spread = math.Hypot(out.Spread, whiteOpen(s)*out.Value)
	return &out
}

// openTone is a tone's size with what the device's response leaves open.
func openTone(s *analyse.Survey, fixed bool) *analyse.Estimate {
	e, t := toneOf(s, fixed), firstTone(s, fixed)
	if e == nil || t == nil && s.Signal.Buried {
		return nil
	}
	out := *ofWhiteCodes(s, e)
	if t != nil {
		out.Spread = math.Hypot(out.Spread, responseOpen(t.Hz.Value)*out.Value)
	}
	if c := s.Signal.Steps; c != nil {
		open := c.Moving
		if fixed {
			open = c.Fixed
		}
		if open > out.Spread {
			out.Limit = "codec"
		}
		out.Spread = math.Hypot(out.Spread, open)
	}
	return &out
}

// blends tells whether the device makes lines of more than one picture: what differs from picture to picture is averaged.
func blends(s *analyse.Survey) bool { return s.Sync.Weave == analyse.WeaveMixed }

// blendOpen, dB: two lines added halve the power of noise, and what neighbouring fields then share drops out where they are compared.
const blendOpen = 3.0

// unblended is a noise with what blending leaves open of it.
func unblended(s *analyse.Survey, e *analyse.Estimate) *analyse.Estimate {
	if e == nil || !blends(s) {
		return e
	}
	out := *e
	out.Spread, out.Limit = math.Hypot(out.Spread, blendOpen), "device"
	return &out
}

// buried says why no wave was looked for.
func buried(s *analyse.Survey) string {
	if s.Signal.Buried {
		return "the border lies at the end of the codes, where no wave shows; give it another colour"
	}
	return ""
}

func scaled(e *analyse.Estimate, by float64) *analyse.Estimate {
	if e == nil {
		return nil
	}
	out := *e
	out.Value *= by
	out.Spread *= by
	return &out
}

func bestFit(s *analyse.Survey) string {
	name, gain := "", 0.0
	for _, f := range s.Signal.ColourFits {
		if f.Gain > gain {
			name, gain = f.Kind, f.Gain
		}
	}
	return name
}
