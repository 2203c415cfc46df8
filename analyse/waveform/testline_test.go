package waveform

import (
	"math"
	"testing"

	"backporch/video"
)

// testSignal puts a bar of 18 us and a 2T pulse on lines 17 and 330 (in the count of the
// standard, as ITU-T J.63 has the national test signals) of a field without a picture; the pulse is
// sin^2 with a half-amplitude duration of 200 ns.
func testSignal(t *testing.T, m maker, pulse float64) []float32 {
	m.white = 1e-9
	x := m.samples(4.2)
	us := m.rate * 1e-6
	for k := 0; ; k++ {
		zero := (float64(k)*625 + 16) * 64 * us // line 17 is 16 lines after line 1
		for _, at := range []float64{zero, zero + 313*64*us} {
			if int(at+64*us) > len(x) {
				return x
			}
			for i := int(at); float64(i) < at+60*us; i++ {
				t := (float64(i) - at) / us
				v := ramp(t-12, 0.15) - ramp(t-30, 0.15)
				if d := t - 40; math.Abs(d) < 0.2 {
					c := math.Cos(math.Pi / 2 * d / 0.2)
					v += pulse * c * c
				}
				x[i] += float32(700 * v)
			}
		}
	}
}

// onePole is a low-pass as an output stage has one, -3 dB at hz. It runs eightfold
// oversampled by linear steps, so that it stays one pole up to the signal's own bandwidth.
func onePole(x []float32, rate, hz float64) {
	const over = 8
	a := 1 - math.Exp(-2*math.Pi*hz/rate/over)
	y, last := 0.0, 0.0
	for i, v := range x {
		w, _ := interpolate(x, float64(i))
		if w == 0 {
			w = float64(v)
		}
		for k := 1; k <= over; k++ {
			y += a * (last + (w-last)*float64(k)/over - y)
		}
		last = w
		x[i] = float32(y)
	}
}

// K of a perfect pulse and bar is nothing; a lowered pulse gives 0.25 |B/P - 1| (ITU-R BT.1439:
// 0.80 is 6.25 %, 0.90 2.78 %, 1.05 1.19 %); noise hides neither.
func TestPulseAndBar(t *testing.T) {
	for _, c := range []struct{ pulse, k float64 }{{1, 0}, {0.9, 2.78}, {0.8, 6.25}, {1.05, 1.19}} {
		m := maker{std: video.Std625, rate: fourPAL, halfLines: 625, noiseMV: 3}
		r := meter(t, testSignal(t, m, c.pulse), Options{Rate: m.rate, Absolute: true})
		if r.TestLine == nil {
			t.Fatalf("pulse %v: no test line", c.pulse)
		}
		near(t, "pulse to bar", &r.TestLine.PulseBar, c.pulse, 0.015)
		near(t, "K", &r.TestLine.KPulseBar, c.k, 0.4)
		near(t, "half-amplitude duration", &r.TestLine.HalfNS, 200, 6)
		near(t, "bar", &r.TestLine.BarMV, 700, 7)
		if r.TestLine.Line != 16 {
			t.Errorf("line %d, want 16 lines after field sync begins", r.TestLine.Line)
		}
	}
}

// One pole at 3 MHz leaves a pulse of 0.882 of the bar (computed by convolving a sin^2 pulse with the
// pole's response), at 4 MHz 0.924.
func TestPulseThroughOnePole(t *testing.T) {
	for _, c := range []struct{ hz, ratio float64 }{{3e6, 0.882}, {4e6, 0.924}} {
		m := maker{std: video.Std625, rate: 8 * 4433618.75, halfLines: 625}
		x := testSignal(t, m, 1)
		onePole(x, m.rate, c.hz)
		r := meter(t, x, Options{Rate: m.rate, Absolute: true})
		if r.TestLine == nil {
			t.Fatalf("%v: no test line", c.hz)
		}
		near(t, "pulse to bar", &r.TestLine.PulseBar, c.ratio, 0.01)
	}
}

// A picture has no test line.
func TestNoTestLine(t *testing.T) {
	for _, bars := range []bool{true, false} {
		m := maker{std: video.Std625, rate: fourPAL, halfLines: 625, bars: bars}
		if r := measured(t, m, 2.2); r.TestLine != nil {
			t.Errorf("%+v", r.TestLine)
		}
	}
}
