package signalpath

import (
	"testing"

	"backporch/analyse"
	"backporch/patterns"
	"backporch/patterns/nats"
)

// What rings at half the subcarrier's frequency leaves a third of the burst (1/(2^2 - 1)), so that a device switches colour off; what rings at the subcarrier
// or above takes nothing from it, so that the two are two faults, of which lost colour tells by more here.
func TestRingingLosesColour(t *testing.T) {
	for _, c := range []struct {
		hz   float64
		want string
	}{{1.7e6, "ringing"}, {4.4e6, "colour-lost"}} {
		s := &analyse.Survey{Sync: analyse.Sync{State: analyse.Locked}}
		snr := 45.0
		s.Signal.SNRdB = &snr
		s.Signal.Ringing = &analyse.Ringing{Pct: analyse.Estimate{Value: 40, Spread: 2}, Hz: analyse.Estimate{Value: c.hz, Spread: 4e4}, Gain: 12}
		s.Signal.ChromaDead, s.Signal.ChromaOff = true, true
		s.Signal.ColourFits = []analyse.ColourFit{{Kind: "colour-lost", Gain: 21}}
		list := pathHypotheses(s)
		nats.Normalise(list)
		if b := patterns.Best(list); b.Fault == nil || b.Fault.Kind != c.want || b.Like < 0.6 {
			t.Errorf("%+v: %+v at %.2f", c, b.Fault, b.Like)
		}
	}
}

// A strong copy lies on sync as well and may move lines; where they move and no copy shows, sync is weak; where they could not be laid straight, edges tell nothing.
func TestCopyMovesLines(t *testing.T) {
	for _, c := range []struct {
		gain     float64
		straight bool
		want     string
	}{{60, true, "ghost"}, {-2, true, "sync-weak"}, {60, false, "sync-weak"}} {
		jitter, tear, snr := 78.0, 4.6, 45.0
		s := &analyse.Survey{Sync: analyse.Sync{State: analyse.Unstable, JitterNs: &jitter, TearPx: &tear}, Straightened: c.straight}
		s.Signal.SNRdB = &snr
		s.Signal.Ghost = &analyse.Ghost{Pct: analyse.Estimate{Value: 25, Spread: 1}, Ns: analyse.Estimate{Value: 3700, Spread: 30}, Gain: c.gain}
		list := pathHypotheses(s)
		nats.Normalise(list)
		if b := patterns.Best(list); b.Fault == nil || b.Fault.Kind != c.want || b.Like < 0.6 {
			t.Errorf("%+v: %+v at %.2f", c, b.Fault, b.Like)
		}
	}
}

// Colours that are cut off have multiples of the subcarrier in the border, which fold down to any frequency; one that moves there without a colour being off is interference.
func TestToneOfCutColours(t *testing.T) {
	for _, c := range []struct {
		gain float64
		want string
	}{{20, "clipping"}, {-3, "interference"}} {
		jitter, tear, snr := 3.0, 0.1, 42.0
		s := &analyse.Survey{Sync: analyse.Sync{State: analyse.Locked, JitterNs: &jitter, TearPx: &tear}}
		s.Signal.SNRdB = &snr
		s.Signal.Tones = []analyse.Tone{{Pct: analyse.Estimate{Value: 4.5, Spread: 0.2}, Hz: analyse.Estimate{Value: 5.47e6}}}
		s.Signal.Curves.Spectrum = []analyse.Point{{X: 1}}
		s.Signal.ColourFits = []analyse.ColourFit{{Kind: "clipping", Gain: c.gain, Amount: analyse.Estimate{Value: 0.6}}}
		list := pathHypotheses(s)
		nats.Normalise(list)
		if b := patterns.Best(list); b.Fault == nil || b.Fault.Kind != c.want || b.Like < 0.6 {
			t.Errorf("%+v: %+v at %.2f", c, b.Fault, b.Like)
		}
	}
}
