package signalpath

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"backporch/analyse"
	"backporch/patterns"
	"backporch/patterns/nats"
	"backporch/video"
)

// Grades at published limits: BBC Research Report 1960/08 calls noise of 8 % peak to peak (38 dB at six standard deviations)
// "good" and of 20 % (30 dB) "fairly good"; EBU Tech. 3209 has sync separators work to 23 dB.
func TestGrades(t *testing.T) {
	scale := measures[0].scale
	for _, c := range []struct {
		db   float64
		want int
	}{{50, 5}, {44.1, 5}, {43.9, 4}, {38.1, 4}, {37.9, 3}, {30.1, 3}, {29.9, 2}, {23.1, 2}, {22.9, 1}, {0, 1}} {
		if got := scale.Grade(c.db); got != c.want {
			t.Errorf("%v dB: grade %d, want %d", c.db, got, c.want)
		}
	}
	for _, m := range measures {
		if m.scale == nil {
			continue
		}
		for i := 1; i < 4; i++ {
			if (m.scale.Limits[i] < m.scale.Limits[i-1]) != m.scale.Higher {
				t.Errorf("%s: limits %v are out of order", m.name, m.scale.Limits)
			}
		}
		if m.scale.Source == "" {
			t.Errorf("%s: no source", m.name)
		}
	}
}

func surveyWith(change func(*analyse.Signal)) *analyse.Survey {
	s := &analyse.Survey{Sync: analyse.Sync{State: analyse.Locked}}
	snr, jitter, tear := 48.0, 3.0, 0.1
	s.Sync.JitterNs, s.Sync.TearPx = &jitter, &tear
	s.Signal.SNRdB = &snr
	s.Signal.SNR = &analyse.Estimate{Value: snr, Spread: 0.3}
	s.Signal.Rise = &analyse.Estimate{Value: 120, Spread: 5}
	s.Signal.Ghost = &analyse.Ghost{Pct: analyse.Estimate{Value: 2, Spread: 1}, Ns: analyse.Estimate{Value: 900}}
	s.Signal.Ringing = &analyse.Ringing{Pct: analyse.Estimate{Value: 8, Spread: 3}, Late: 0.4}
	s.Signal.Hum = &analyse.Hum{Pct: analyse.Estimate{Value: 0.2, Spread: 0.02}, Hz: analyse.Estimate{Value: 50}, Share: 0.5}
	s.Signal.Curves.Spectrum = []analyse.Point{{}}
	change(&s.Signal)
	return s
}

// A figure far from good speaks for its own kind, and nothing speaks against a good capture; the particulars come along.
func TestPathKinds(t *testing.T) {
	tone := func(fixed bool, pct float64) func(*analyse.Signal) {
		return func(g *analyse.Signal) {
			g.Tones = []analyse.Tone{{Pct: analyse.Estimate{Value: pct, Spread: 0.1}, Hz: analyse.Estimate{Value: 875e3}, Fixed: fixed, PeriodPx: 8}}
		}
	}
	for _, c := range []struct {
		want   string
		change func(*analyse.Signal)
	}{
		{"", func(*analyse.Signal) {}},
		{"", tone(true, 0.4)},
		{"fixed-bars", tone(true, 6)},
		{"interference", tone(false, 6)},
		{"hum", func(g *analyse.Signal) { g.Hum.Pct.Value, g.Hum.Share = 6, 0.98 }},
		{"", func(g *analyse.Signal) { g.Hum.Pct.Value, g.Hum.Share = 3, 0.2 }}, // a step of the border is not the mains'
		{"low-bandwidth", func(g *analyse.Signal) { g.Rise.Value = 320 }},
		{"ghost", func(g *analyse.Signal) { g.Ghost.Pct.Value, g.Ghost.Gain = 22, 300 }},
		{"ringing", func(g *analyse.Signal) {
			g.Ringing.Pct.Value, g.Ringing.Late, g.Ringing.Gain = 35, 7, 300
			g.Ringing.Hz.Value = 3e6
		}},
		{"hue-shift", func(g *analyse.Signal) {
			g.ColourFits = []analyse.ColourFit{{Kind: "hue-shift", Gain: 12, Amount: analyse.Estimate{Value: 44}}, {Kind: "level-low", Gain: -3}}
		}},
		{"level-low", func(g *analyse.Signal) {
			g.ColourFits = []analyse.ColourFit{{Kind: "hue-shift", Gain: 2}, {Kind: "level-low", Gain: 13, Amount: analyse.Estimate{Value: 0.6}}}
		}},
		{"noise", func(g *analyse.Signal) { *g.SNRdB = 26 }},
		{"noise", func(g *analyse.Signal) { chroma := 29.0; g.ChromaSNRdB = &chroma }}, // a trap takes it off luma
		{"", func(g *analyse.Signal) { chroma := 44.0; g.ChromaSNRdB = &chroma }},
		{"fixed-bars", func(g *analyse.Signal) { // where a good one of the type has none
			tone(true, 1.9)(g)
			g.Good = &analyse.Signal{Curves: analyse.Curves{Spectrum: []analyse.Point{{}}}}
		}},
		{"", func(g *analyse.Signal) { // or as many
			tone(true, 1.9)(g)
			g.Good = &analyse.Signal{}
			tone(true, 1.7)(g.Good)
		}},
	} {
		list := pathHypotheses(surveyWith(c.change))
		nats.Normalise(list)
		top := patterns.Best(list)
		name := ""
		if top.Fault != nil {
			name = top.Fault.Kind
		}
		if name != c.want || top.Like < patterns.Named {
			t.Errorf("want %q: %q at %.3f, %s", c.want, name, top.Like, shares(list))
			continue
		}
		switch f := top.Fault; name {
		case "fixed-bars":
			if f.PeriodPx == nil || *f.PeriodPx != 8 {
				t.Error("no period")
			}
		case "interference", "hum", "ringing":
			if f.FrequencyHz == nil {
				t.Errorf("%s: no frequency", name)
			}
		case "hue-shift":
			if f.Degrees == nil || *f.Degrees != 44 {
				t.Error("no degrees")
			}
		}
		if name != "" && len(top.Why) == 0 {
			t.Errorf("%s: no reason", name)
		}
	}
	sum := cleanPath()
	for _, k := range append([]string{"no-signal", "sync-weak", "noise"}, pathKinds...) {
		sum += patterns.KindOf(k).Prior
		if patterns.KindOf(k).Signs == "" || len(patterns.KindOf(k).Tests) == 0 {
			t.Errorf("%s: nothing is said of it", k)
		}
	}
	if math.Abs(sum-1) > 1e-9 {
		t.Errorf("priors sum to %v", sum)
	}
}

// The device's own part is taken off: noise as power (two equal noises are 3.01 dB apart), edges as squares, and what
// the device alone explains is not the machine's.
func TestDevicePart(t *testing.T) {
	db := &analyse.Estimate{Value: 40, Spread: 0.3}
	if left, floor := less("decibel", db, 43.0103); floor || math.Abs(left-43.0103) > 0.01 {
		t.Errorf("noise: %v %v", left, floor)
	}
	if _, floor := less("decibel", db, 40.1); !floor {
		t.Error("the device's own noise passes for the machine's")
	}
	if left, floor := less("power", &analyse.Estimate{Value: 130, Spread: 4}, 120); floor || math.Abs(left-50) > 0.01 {
		t.Errorf("edge: %v %v", left, floor)
	}
	// Rise times of 0.35/B add as squares: 4 and 3 MHz behind each other are 2.4.
	if left, floor := less("reciprocal", &analyse.Estimate{Value: 2.4, Spread: 0.05, Limit: "device"}, 4); floor || math.Abs(left-3) > 1e-9 {
		t.Errorf("bandwidth: %v %v", left, floor)
	}
	if left, floor := less("reciprocal", &analyse.Estimate{Value: 2.67, Spread: 0.29, Limit: "device"}, 2.7); !floor || left < 2.67 {
		t.Errorf("bandwidth of the device: %v %v", left, floor)
	}
	// A low-pass that the edges' shape tells from the device's is the machine's.
	if left, floor := less("reciprocal", &analyse.Estimate{Value: 1.5, Spread: 0.2, Limit: "edges"}, 2.4); floor || left != 1.5 {
		t.Errorf("bandwidth by shape: %v %v", left, floor)
	}
	s := surveyWith(func(g *analyse.Signal) { g.Rise.Value = 230 })
	for _, r := range Readings(s, map[string]float64{"rise": 228}) {
		if r.Name == "rise" && !r.Floor {
			t.Error("the device's edges pass for the machine's")
		}
	}
	if a := Assess(s, Readings(s, map[string]float64{"rise": 228})); a.Word != CleanOutput {
		t.Errorf("a slow device makes the output %q: %s", a.Word, a.Reason)
	}
}

func TestAssess(t *testing.T) {
	for _, c := range []struct {
		want, cause string
		change      func(*analyse.Signal)
	}{
		{CleanOutput, "", func(*analyse.Signal) {}},
		{UsableOutput, "buffer", func(g *analyse.Signal) { g.Rise.Value = 230 }},
		{PoorOutput, "crosstalk", func(g *analyse.Signal) {
			g.Tones = []analyse.Tone{{Pct: analyse.Estimate{Value: 6, Spread: 0.1}, Fixed: true, PeriodPx: 8}}
		}},
		{PoorOutput, "smoothing", func(g *analyse.Signal) { g.Hum.Pct.Value = 10 }},
	} {
		s := surveyWith(c.change)
		a := Assess(s, Readings(s, nil))
		if a.Word != c.want || c.cause != "" && !strings.Contains(strings.Join(a.Causes, "; "), c.cause) {
			t.Errorf("want %s, %s: %+v", c.want, c.cause, a)
		}
	}
	empty := &analyse.Survey{Sync: analyse.Sync{State: analyse.Locked}}
	if a := Assess(empty, Readings(empty, nil)); a.Word != "undetermined" || len(a.Next) == 0 {
		t.Errorf("nothing measured: %+v", a)
	}
	lost := &analyse.Survey{Sync: analyse.Sync{State: analyse.NoSignal}}
	if a := Assess(lost, Readings(lost, nil)); a.Word != PoorOutput || len(a.Causes) == 0 {
		t.Errorf("no signal: %+v", a)
	}
}

// The uncertainty of what is left to the machine is that of the value and of the device's, by the slopes of what takes the device off.
func TestOwnSpread(t *testing.T) {
	for _, c := range []struct {
		how         string
		value, own  float64
		squaresOpen float64
	}{{"reciprocal", 2, 3, squaresOpen}, {"power", 60, 40, 0}, {"decibel", 40, 44, 0}} {
		e := &analyse.Estimate{Value: c.value, Spread: 0.02 * c.value, Limit: "device"}
		left, floor := less(c.how, e, c.own)
		spread := ownSpread(c.how, e, c.own, left, floor)
		if floor || spread == nil {
			t.Errorf("%s: the device sets it", c.how)
			continue
		}
		const step = 1e-4
		slope := func(value, own float64) float64 {
			there, _ := less(c.how, &analyse.Estimate{Value: value, Spread: 1e-9, Limit: "device"}, own)
			return (there - left) / step
		}
		ofOwn := e.Spread // a decibel is one, a part of the rest
		if c.how != "decibel" {
			ofOwn *= c.own / c.value
		}
		want := math.Hypot(e.Spread*slope(c.value+step, c.own), ofOwn*slope(c.value, c.own+step))
		if want = math.Hypot(want, c.squaresOpen*left); math.Abs(*spread-want) > 0.01*want {
			t.Errorf("%s: %v +- %v, want %v", c.how, left, *spread, want)
		}
	}
	if ownSpread("reciprocal", &analyse.Estimate{Value: 2, Spread: 0.1, Limit: "device"}, 2.1, 2.1, true) != nil {
		t.Error("what the device sets has an uncertainty of its own")
	}
}

// What a device's own colour setting may do is not blamed on the machine, what is more is; one hue alone tells no turn; a clamp
// hides hum.
func TestWhatTheDeviceMayDo(t *testing.T) {
	of := func(name string, change func(*analyse.Signal)) Reading {
		s := surveyWith(func(g *analyse.Signal) {
			degrees := 0.0
			g.HueErrorDeg, g.HueSpread, g.HueTold, g.SaturationSeen = &degrees, 2, true, &analyse.Estimate{Value: 100, Spread: 8}
			change(g)
		})
		for _, r := range Readings(s, nil) {
			if r.Name == name {
				return r
			}
		}
		t.Fatalf("no %s", name)
		return Reading{}
	}
	if r := of("saturation", func(g *analyse.Signal) { g.SaturationSeen.Value = 121 }); !r.Floor {
		t.Errorf("121 +- 8 %% is blamed on the machine: %+v", r)
	}
	if r := of("saturation", func(g *analyse.Signal) { g.SaturationSeen.Value = 40 }); r.Floor || r.Grade > 2 {
		t.Errorf("40 %% is blamed on the device: %+v", r)
	}
	if r := of("hue", func(g *analyse.Signal) { *g.HueErrorDeg = 30 }); r.Estimate == nil || r.Grade != 2 {
		t.Errorf("30 degrees of four hues: %+v", r)
	}
	if r := of("hue", func(g *analyse.Signal) { *g.HueErrorDeg, g.HueTold, g.HueTurns = 7, false, []float64{62, 7} }); r.Estimate != nil || r.Note != "the colours seen fit as they are or turned by 62 degrees: show all colours" {
		t.Errorf("7 degrees of one hue: %+v", r)
	}
	if r := of("hue", func(g *analyse.Signal) { g.HueTold, g.HueLeast, g.HueTurns = false, 20, []float64{26, -40} }); !r.AtLeast || r.Grade != 3 || !strings.Contains(r.Note, "turned by 26 or -40 degrees") {
		t.Errorf("20 degrees at the least: %+v", r)
	}
	if r := of("hum", func(g *analyse.Signal) { g.Hum.Pct.Value = 4 }); !r.AtLeast || !strings.Contains(r.Value(), "at least") {
		t.Errorf("hum behind a clamp: %s", r.Value())
	}
}

// Colours of 75 % bars (ITU-R BT.601 codes of EBU bars) are no hue error against a palette that has them.
func TestSeenColour(t *testing.T) {
	c := seenColour(analyse.Spot{Y: 65, Cb: 100, Cr: 212}, 16, 219)
	want := video.YUVOfRGB(0.75, 0, 0)
	if math.Abs(c.Y-want.Y) > 0.005 || math.Abs(c.Hue()-want.Hue()) > 1 || math.Abs(c.Saturation()-want.Saturation()) > 0.01 {
		t.Errorf("%+v, want %+v", c, want)
	}
}

func shares(list []patterns.Hypothesis) string {
	var out []string
	for _, h := range list {
		name := "nothing"
		if h.Fault != nil {
			name = h.Fault.Kind
		}
		if h.Like > 0.01 {
			out = append(out, fmt.Sprintf("%s %.2f", name, h.Like))
		}
	}
	return strings.Join(out, ", ")
}
