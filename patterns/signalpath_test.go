package patterns

import (
	"testing"

	"backporch/analyse"
	"backporch/video/display"
)

// What the figures of sync and noise say, by hand: steady lines and 45 dB are a good path's, whatever the least of the figures
// are; a roll is weak sync whatever else is read; 36 dB is good and 33 dB is noise (the bounds of reference measures
// are 36 dB fair, 30 dB poor); an even black is never settled. Common practice, no source.
func TestSignalPath(t *testing.T) {
	of := func(v float64) *float64 { return &v }
	for _, c := range []struct {
		name  string
		sync  analyse.Sync
		snr   *float64
		flat  analyse.Flat
		want  string // the path named at 0.6 or more; "": clean; "?": none
		least float64
	}{
		{"good", analyse.Sync{State: analyse.Locked, JitterNs: of(2), TearPx: of(0.1), RollLinesPerS: of(0)}, of(45), analyse.Flat{}, "", 0.85},
		{"good, no figure but the state", analyse.Sync{State: analyse.Locked}, nil, analyse.Flat{}, "", 0.6},
		{"good, the noise hidden by a codec", analyse.Sync{State: analyse.Locked, JitterNs: of(0), TearPx: of(0)}, of(57.6), analyse.Flat{}, "", 0.85},
		{"fair", analyse.Sync{State: analyse.Locked, JitterNs: of(12), TearPx: of(0.3)}, of(37), analyse.Flat{}, "", 0.6},
		{"noisy", analyse.Sync{State: analyse.Locked, JitterNs: of(8), TearPx: of(0.4)}, of(33), analyse.Flat{}, "noise", 0.6},
		{"very noisy", analyse.Sync{State: analyse.Locked, JitterNs: of(14), TearPx: of(0.5)}, of(20), analyse.Flat{}, "noise", 0.9},
		{"jitter", analyse.Sync{State: analyse.Unstable, JitterNs: of(90), TearPx: of(1.5)}, nil, analyse.Flat{}, "sync-weak", 0.9},
		{"a tear alone", analyse.Sync{State: analyse.Unstable, JitterNs: of(4), TearPx: of(4)}, nil, analyse.Flat{}, "sync-weak", 0.9},
		{"roll, good in all else", analyse.Sync{State: analyse.NoLock, JitterNs: of(1), TearPx: of(0.1), RollLinesPerS: of(-26)}, of(45), analyse.Flat{}, "sync-weak", 0.9},
		{"roll of a line in a second", analyse.Sync{State: analyse.Unstable, RollLinesPerS: of(2)}, nil, analyse.Flat{}, "sync-weak", 0.6},
		{"lines all over", analyse.Sync{State: analyse.NoLock, JitterNs: of(1500)}, nil, analyse.Flat{}, "sync-weak", 0.6},
		{"the device's fill", analyse.Sync{State: analyse.NoSignal, Picture: "fill"}, nil, analyse.Flat{}, "no-signal", 0.9},
		{"faint noise alone", analyse.Sync{State: analyse.NoSignal, Picture: "blank"}, nil, analyse.Flat{}, "?", 0},
		{"an even black, locked", analyse.Sync{State: analyse.Locked}, nil, analyse.Flat{Y: 17, Cb: 128, Cr: 128, Uniform: true}, "?", 0},
	} {
		s := &analyse.Survey{Sync: c.sync, Flat: c.flat}
		s.Signal.SNRdB = c.snr
		list := pathHypotheses(s)
		normalise(list)
		sure := map[string]float64{}
		for _, h := range list {
			name := ""
			if h.fault != nil {
				name = h.fault.Kind
			}
			sure[name] += h.like
		}
		if c.want == "?" {
			if sure["no-signal"] < listed || sure["blank-picture"] < listed || max(sure["no-signal"], sure["blank-picture"], sure[""]) >= named {
				t.Errorf("%s: %v", c.name, sure)
			}
		} else if sure[c.want] < c.least {
			t.Errorf("%s: %v, want %q at %v", c.name, sure, c.want, c.least)
		}
	}
}

// Edges that a good machine's capture shows as soft are the device's; sharper ones there speak for the machine's own.
func TestSoftEdgesOfTheDevice(t *testing.T) {
	with := func(gain float64) *analyse.Survey {
		s := &analyse.Survey{}
		s.Signal.SlowGain = &gain
		return s
	}
	for _, c := range []struct{ here, good, want float64 }{{12, 11, 1}, {12, -8, 12}, {-5, -9, -5}, {3, 10, -7}} {
		if got := lessDevice(with(c.here), with(c.good)); *got.Signal.SlowGain != c.want {
			t.Errorf("%+v: %v", c, *got.Signal.SlowGain)
		}
	}
	if s := with(4); lessDevice(s, nil) != s || *s.Signal.SlowGain != 4 {
		t.Error("without a reference it is as it was")
	}
}

// A faint copy of the picture cannot take a third off all levels: that is another fault, by chance beside it. A strong one may lift them so far.
func TestBlurredColours(t *testing.T) {
	with := func(ghost, level float64) *analyse.Survey {
		s := &analyse.Survey{Sync: analyse.Sync{State: analyse.Locked}}
		s.Signal.Ghost = &analyse.Ghost{Pct: analyse.Estimate{Value: ghost}}
		s.Signal.ColourFits = []analyse.ColourFit{{Kind: "level-low", Gain: 20, Amount: analyse.Estimate{Value: level}}}
		return s
	}
	near, far := blurredColours(with(30, 0.7), "ghost"), blurredColours(with(8, 0.6), "ghost")
	if near-far < 2 {
		t.Errorf("%.1f where the copy reaches, %.1f where it does not", near, far)
	}
}

// A strong copy of the picture colours its areas, so that a component that seems wrong counts for less; a faint one does not, nor one that is
// not there.
func TestGhostColours(t *testing.T) {
	weigh := func(size, sure float64) float64 {
		zero := 0
		logic := []hypothesis{{}, {fault: &Fault{Kind: "colour-path", Component: "green", Level: &zero}, like: 5}}
		paths := []hypothesis{{like: 1 - sure}, {fault: &Fault{Kind: "ghost"}, like: sure}}
		dazzled(logic, paths, &analyse.Ghost{Pct: analyse.Estimate{Value: size}})
		return logic[1].like
	}
	if strong := weigh(-25, 0.99); strong > 1 {
		t.Errorf("a strong copy: %.1f nats left of 5", strong)
	}
	if faint, none := weigh(5, 0.99), weigh(25, 0.2); faint != 5 || none != 5 {
		t.Errorf("a faint copy: %.1f, none: %.1f nats left of 5", faint, none)
	}
}

// A tone in an even border is no doing of lines that move.
func TestToneBesideJitter(t *testing.T) {
	of := func(v float64) *float64 { return &v }
	s := &analyse.Survey{Sync: analyse.Sync{State: analyse.Locked, JitterNs: of(20), TearPx: of(0.25)}}
	s.Signal.SNRdB = of(36)
	s.Signal.Tones = []analyse.Tone{{Pct: analyse.Estimate{Value: 6, Spread: 0.2}, Hz: analyse.Estimate{Value: 3.1e6}}}
	s.Signal.Curves.Spectrum = []analyse.Point{{X: 1}}
	list := pathHypotheses(s)
	normalise(list)
	sure := map[string]float64{}
	for _, h := range list {
		if h.fault != nil {
			sure[h.fault.Kind] += h.like
		}
	}
	if sure["interference"] < 0.6 || sure["sync-weak"] > sure["interference"]/2 {
		t.Errorf("%v", sure)
	}
}

// Edges as soft as those of a low-pass that ends below the subcarrier explain why no colour is there; sharp ones do not.
func TestSoftEdgesLoseColour(t *testing.T) {
	for _, c := range []struct {
		slow float64
		want string
	}{{24, "low-bandwidth"}, {-10, "colour-lost"}} {
		s := &analyse.Survey{Sync: analyse.Sync{State: analyse.Locked}}
		snr := 45.0
		rise := analyse.Estimate{Value: 360, Spread: 10}
		s.Signal.SNRdB, s.Signal.SlowGain, s.Signal.Rise = &snr, &c.slow, &rise
		s.Signal.ChromaDead, s.Signal.ChromaOff = true, true
		s.Signal.ColourFits = []analyse.ColourFit{{Kind: "colour-lost", Gain: 21}}
		list := pathHypotheses(s)
		normalise(list)
		if b := best(list); b.fault == nil || b.fault.Kind != c.want || b.like < 0.8 {
			t.Errorf("%+v: %+v at %.2f", c, b.fault, b.like)
		}
	}
}

// Colours of cells that change are means of several, on either kind of display; cells that seem to with the subcarrier's dots are not.
func TestColoursOfMovingCells(t *testing.T) {
	for _, c := range []struct {
		kind   display.Kind
		moving int
		rhythm float64
		kept   bool
	}{{display.Attr, 900, 0, false}, {display.Text, 900, 0.1, false}, {display.Text, 900, 0.9, true}, {display.Text, 20, 0.1, true}} {
		s := &analyse.Survey{Motion: &analyse.Motion{Fields: 20, Bytes: 1000, Moving: c.moving, Rhythm: c.rhythm}}
		s.Signal.ColourFits = []analyse.ColourFit{{Kind: "clipping", Gain: 10}}
		if kept := still(s, &display.Profile{Kind: c.kind}).Signal.ColourFits != nil; kept != c.kept {
			t.Errorf("%+v: %v", c, kept)
		}
	}
}

// What fits better with a signal held that all colours together say nothing for is misread; where they say so it stands, and as they say it.
func TestHeldBack(t *testing.T) {
	for gain, want := range map[float64]float64{-4: -100, 2: -98, 40: -20} {
		e := &evidence{s: &analyse.Survey{Levels: analyse.Levels{Components: []analyse.Component{{Name: "blue", Level: 1, Gain: gain, Beside: true}}}}}
		list := []hypothesis{{like: -100}, {like: -20, fault: &Fault{Kind: "colour-path", Component: "blue", Level: ptr(1)}}, {like: -30, fault: &Fault{Kind: "colour-path", Component: "red", Level: ptr(1)}}}
		e.heldBack(list)
		if list[1].like != want || list[2].like != -30 {
			t.Errorf("gain %v: %v and %v, want %v and -30", gain, list[1].like, list[2].like, want)
		}
	}
	// Strokes of which no cell is read surely say it together, as much as any look at a screen says at the most.
	e := &evidence{s: &analyse.Survey{Levels: analyse.Levels{Components: []analyse.Component{{Name: "blue", Level: 1, Gain: 40, Beside: true}}}}}
	list := []hypothesis{{like: -100}, {like: -100, fault: &Fault{Kind: "colour-path", Component: "blue", Level: ptr(1)}}}
	if e.heldBack(list); list[1].like != -70 {
		t.Errorf("%v, want -70", list[1].like)
	}
}
