package signalpath

import (
	"math"
	"testing"

	"backporch/analyse"
	"backporch/analyse/analysetest"
	"backporch/patterns"
	"backporch/patterns/nats"
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
		nats.Normalise(list)
		sure := map[string]float64{}
		for _, h := range list {
			name := ""
			if h.Fault != nil {
				name = h.Fault.Kind
			}
			sure[name] += h.Like
		}
		if c.want == "?" {
			if sure["no-signal"] < patterns.Listed || sure["blank-picture"] < patterns.Listed || max(sure["no-signal"], sure["blank-picture"], sure[""]) >= patterns.Named {
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

// A tone in an even border is no doing of lines that move.
func TestToneBesideJitter(t *testing.T) {
	of := func(v float64) *float64 { return &v }
	s := &analyse.Survey{Sync: analyse.Sync{State: analyse.Locked, JitterNs: of(20), TearPx: of(0.25)}}
	s.Signal.SNRdB = of(36)
	s.Signal.Tones = []analyse.Tone{{Pct: analyse.Estimate{Value: 6, Spread: 0.2}, Hz: analyse.Estimate{Value: 3.1e6}}}
	s.Signal.Curves.Spectrum = []analyse.Point{{X: 1}}
	list := pathHypotheses(s)
	nats.Normalise(list)
	sure := map[string]float64{}
	for _, h := range list {
		if h.Fault != nil {
			sure[h.Fault.Kind] += h.Like
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
		nats.Normalise(list)
		if b := patterns.Best(list); b.Fault == nil || b.Fault.Kind != c.want || b.Like < 0.8 {
			t.Errorf("%+v: %+v at %.2f", c, b.Fault, b.Like)
		}
	}
}

// A dead picture leaves the good machine's border: black to the edges speaks for it where that is black, against it where it is not, and as without
// a reference where the good border is not known. Other kinds are left alone.
func TestBesideGood(t *testing.T) {
	p := analysetest.Profile(t, "attr-256x192-50")
	border := func(colour int, sure float64, seen bool) *analyse.Survey {
		return &analyse.Survey{Border: analyse.Border{Colour: colour, Sure: sure, Seen: seen}}
	}
	for _, c := range []struct {
		name string
		good *analyse.Survey
		want float64
		why  int // reasons
	}{
		{"none", nil, 0, 1},
		{"not seen", border(0, 9, false), 0, 1},
		{"not sure", border(0, 1, true), 0, 1},
		{"not known", border(-1, 9, true), 0, 1},
		{"black", border(0, 9, true), math.Log(0.48 / 0.15), 2},
		{"bright black", border(8, 9, true), math.Log(0.48 / 0.15), 2},
		{"white", border(7, 9, true), math.Log(0.02 / 0.15), 1},
	} {
		paths := []patterns.Hypothesis{{}, {Fault: &patterns.Fault{Kind: "blank-picture"}, Why: []string{"no edges"}}, {Fault: &patterns.Fault{Kind: "level-low"}}}
		besideGood(paths, c.good, p)
		if d := &paths[1]; math.Abs(d.Like-c.want) > 1e-12 || len(d.Why) != c.why {
			t.Errorf("%s: %.3f nats, %q, want %.3f", c.name, d.Like, d.Why, c.want)
		}
		if paths[0].Like != 0 || paths[2].Like != 0 {
			t.Errorf("%s: others were weighed too: %.2f, %.2f", c.name, paths[0].Like, paths[2].Like)
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

// Edges that take much longer than a good machine's on the same bench speak for one more low-pass, those that take as long against it.
func TestSlowerThanGood(t *testing.T) {
	rise := func(ns float64) *analyse.Estimate { return &analyse.Estimate{Value: ns, Spread: 0.05 * ns} }
	for _, c := range []struct {
		rise, good  float64
		least, most float64
	}{{150, 150, -10, -1}, {80, 150, -10, -1}, {200, 150, -3, 1}, {450, 150, 2.5, 3.6}, {3000, 150, 2.5, 3.6}} {
		if got := slowerThan(rise(c.rise), rise(c.good), misreadRise); got < c.least || got > c.most {
			t.Errorf("%v ns beside %v: %.2f nats", c.rise, c.good, got)
		}
	}
	if slowerThan(nil, rise(150), misreadRise) != 0 || slowerThan(rise(150), nil, misreadRise) != 0 {
		t.Error("not measured, and told")
	}
}
