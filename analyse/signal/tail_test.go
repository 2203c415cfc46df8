package signal

import (
	"math"
	"testing"

	"backporch/analyse"
	"backporch/analyse/analysetest"
)

// Where a screen repeats itself every cell, and on one without an edge but the border's, what follows an edge is told by the
// border's left end: a copy and a damped sine come out as they were put in, sizes within a fifth, and a good edge has
// neither, though the picture alone could not tell them from its own period.
func TestTailOfPeriodicScreens(t *testing.T) {
	const sample = 1e9 / 13.5e6
	smooth := func(x float64) float64 { return 0.5 * math.Erfc(-x*sample/55) }
	copied := func(x float64) float64 { return smooth(x) + 0.15*smooth(x-8*1e9/7e6/sample) } // one cell of 7 MHz pixels late
	rings := func(x float64) float64 {
		ns := x * sample
		return smooth(x) + 0.3*math.Exp(-math.Max(ns, 0)/400)*math.Sin(2*math.Pi*2.5e-3*ns)*smooth(x-1)
	}
	for _, screen := range []struct {
		name string
		ink  func(x, y int) bool
	}{{"0x55", func(x, _ int) bool { return x%2 == 1 }}, {"0xF0", func(x, _ int) bool { return x%8 < 4 }}, {"blank", func(int, int) bool { return false }}} {
		measured := func(edge func(float64) float64) analyse.Signal {
			b := newBench(t, "attr-256x192-50")
			for i := range b.pixels {
				b.pixels[i] = 15
				if screen.ink(i%b.p.Width, i/b.p.Width) {
					b.pixels[i] = 0
				}
			}
			b.edge = edge
			return Measure(b.capture(4, 1, rngOf(7)))
		}
		good := measured(smooth)
		if good.Ghost == nil || good.Ringing == nil || good.Ghost.Gain > 0 || good.Ringing.Gain > 0 || *good.SlowGain > 0 {
			t.Errorf("%s, a good edge: %+v %+v", screen.name, good.Ghost, good.Ringing)
		}
		if got := measured(copied); got.Ghost.Gain < 20 || got.Ghost.Gain < got.Ringing.Gain+20 || math.Abs(got.Ghost.Pct.Value-15) > 3 || math.Abs(got.Ghost.Ns.Value-8e9/7e6) > 40 {
			t.Errorf("%s, a copy: %+v %+v", screen.name, got.Ghost, got.Ringing)
		}
		if got := measured(rings); got.Ringing.Gain < 20 || got.Ringing.Gain < got.Ghost.Gain+10 || math.Abs(got.Ringing.Hz.Value-2.5e6) > 0.1e6 || math.Abs(got.Ringing.Late-6.7) > 1.4 {
			t.Errorf("%s, ringing: %+v %+v", screen.name, got.Ghost, got.Ringing)
		}
	}
}

// A capture whose border cannot be told from blanking, and one cut narrower, say nothing by it.
func TestNoOnset(t *testing.T) {
	p := analysetest.Profile(t, "text-40x25-60")
	for _, s := range []*analyse.Stack{nil, {}, {Width: 720, Height: 240, Y: make([]float32, 720*240)}, {Width: 128, Height: 200, Y: make([]float32, 128*200)}} {
		var out analyse.Signal
		Edges(&out, s, p)
		if out.Ghost != nil || out.Rise != nil || out.SlowGain != nil {
			t.Errorf("measured: %+v", out)
		}
	}
}

// A filter that rings alike before and after an edge is the decoder's; what rings as much after it alone came by the path.
func TestRingingFollows(t *testing.T) {
	const sample = 1e9 / 13.5e6
	smooth := func(x float64) float64 { return 0.5 * math.Erfc(-x*sample/55) }
	ripple := func(x float64) float64 { return 0.2 * math.Exp(-x*sample/300) * math.Sin(2*math.Pi*3.2e-3*x*sample) }
	gain := func(edge func(float64) float64) float64 {
		b := newBench(t, "attr-256x192-50")
		b.edge = edge
		return Measure(b.capture(4, 1, rngOf(11))).Ringing.Gain
	}
	after := gain(func(x float64) float64 { return smooth(x) + ripple(math.Max(x, 0)) })
	both := gain(func(x float64) float64 { return smooth(x) + math.Copysign(ripple(math.Abs(x)), x) })
	if after < 6 || both > after-5 {
		t.Errorf("ringing after an edge: %.1f nats; before and after it: %.1f", after, both)
	}
}

// What rings as much behind the device of a good machine is the device's; what rings more is not.
func TestRingingBesideGood(t *testing.T) {
	const sample = 1e9 / 13.5e6
	rings := func(size float64) Input {
		b := newBench(t, "attr-256x192-50")
		b.edge = func(x float64) float64 {
			ns := math.Max(x*sample, 0)
			return 0.5*math.Erfc(-x*sample/55) + size*math.Exp(-ns/300)*math.Sin(2*math.Pi*3.2e-3*ns)
		}
		return b.capture(4, 1, rngOf(11))
	}
	good := Measure(rings(0.15))
	gain := func(size float64) float64 {
		in := rings(size)
		in.Good = &good
		return Measure(in).Ringing.Gain
	}
	alone := good.Ringing.Gain
	if same, more := gain(0.15), gain(0.4); alone < 2 || same > alone-3 || more < 6 {
		t.Errorf("ringing of 15 %%: %.1f nats by itself, %.1f beside the same; of 40 %%: %.1f", alone, same, more)
	}
}
