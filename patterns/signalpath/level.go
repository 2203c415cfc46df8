package signalpath

import (
	"math"

	"backporch/analyse"
)

// levelOf is the picture's size against sync, 100 % is right: a device sets its gain by sync. A good machine's capture tells it by a fit of the colours where
// that says that something is wrong.
func levelOf(s *analyse.Survey) *analyse.Estimate {
	if f := levelFit(s); f != nil && s.Signal.Good != nil {
		full, open := codeRange(s)
		v := 100 * f.Amount.Value * 219 / full
		spread := math.Hypot(100*f.Amount.Spread, levelRivals(s, f))
		return &analyse.Estimate{Value: v, Spread: math.Hypot(spread, (levelGain+open)*v), Limit: f.Amount.Limit}
	}
	return beyondDevice(s.Signal.LevelSeen, levelGain)
}

// beyondDevice is a percentage that should be 100 with what a device may be off by itself, as a part, in its uncertainty; within two of that the device sets it.
func beyondDevice(v *analyse.Estimate, part float64) *analyse.Estimate {
	if v == nil {
		return nil
	}
	e := *v
	e.Spread = math.Hypot(e.Spread, part*e.Value)
	if math.Abs(e.Value-100) < 2*e.Spread {
		e.Limit = "device"
	}
	return &e
}

// How far a device's gain may be off, of the level; what a capture that does not show black leaves open of the range of a device's codes, of which one in
// six has 0 to 255. Common practice, no source.
const (
	levelGain = 0.05
	rangeOpen = 0.07
	fullBlack = 8.0 // codes: black below it is that of 0 to 255
)

// levelFit is the fit of the colours that says that the level is wrong; nil: none does.
func levelFit(s *analyse.Survey) *analyse.ColourFit {
	for _, kind := range []string{"level-high", "level-low"} {
		if f := fitOf(s, kind); f != nil && f.Gain > 6 && bestFit(s) == kind {
			return f
		}
	}
	return nil
}

// cutOff tells whether the brightest areas or strokes reach the end of the codes, so that nobody knows how far they go.
func cutOff(s *analyse.Survey) bool {
	for _, q := range s.Signal.Spots {
		if q.Y > endOfCodes && q.Weight >= 2 {
			return true
		}
	}
	return false
}

// endOfCodes less a step for a codec.
const endOfCodes = 251.0

// codeRange is black to white of the device's codes, and what is open of it.
func codeRange(s *analyse.Survey) (full, open float64) {
	switch {
	case s.Levels.Full || s.Levels.Black < fullBlack:
		return 255, 0
	case !math.IsNaN(s.Levels.Black):
		for _, q := range s.Signal.Spots {
			if q.Index == 0 && !q.Stroke && q.Weight >= 2 {
				return 219, 0
			}
		}
	}
	return 219, rangeOpen
}

// levelRivals is how far the level is off a fit's, percent rms, by what else the colours may mean: each counts by its likelihood, and that nothing is wrong too.
func levelRivals(s *analyse.Survey, fit *analyse.ColourFit) float64 {
	weights, squares := 0.0, 0.0
	add := func(level, gain float64) {
		w := math.Exp(gain - fit.Gain)
		weights += w
		squares += w * (level - fit.Amount.Value) * (level - fit.Amount.Value)
	}
	add(1, 0)
	for _, kind := range []string{"level-high", "level-low"} {
		if f := fitOf(s, kind); f != nil {
			add(f.Amount.Value, f.Gain)
		}
	}
	return 100 * math.Sqrt(squares/weights)
}
