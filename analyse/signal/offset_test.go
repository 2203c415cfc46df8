package signal

import (
	"math"
	"testing"

	"backporch/analyse"
)

// Beside a black border the picture's right end tells what follows an edge, and does so where the pixels in it are misread: a copy and one low-pass come out
// as they were put in, a good edge has neither.
func TestOffset(t *testing.T) {
	const sample = 1e9 / 13.5e6
	smooth := func(x float64) float64 { return 0.5 * math.Erfc(-x*sample/55) }
	copied := func(x float64) float64 { return smooth(x) + 0.1*smooth(x-2000/sample) }
	slow := func(x float64) float64 { // a pole of 1 MHz
		if x <= 0 {
			return 0
		}
		return 1 - math.Exp(-2*math.Pi*1e6*x*sample*1e-9)
	}
	measured := func(edge func(float64) float64, misread bool) analyse.Signal {
		b := newBench(t, "attr-256x192-50")
		b.border = 0
		for i := range b.pixels {
			if b.pixels[i] = b.white; i%b.p.Width < 120 && (i/b.p.Width+i%b.p.Width*7)%5 < 2 {
				b.pixels[i] = 0
			}
		}
		b.edge = edge
		in := b.capture(4, 1, rngOf(7))
		in.Border = 0
		if misread {
			for i := range in.Pixels {
				if i%b.p.Width < 119 {
					in.Pixels[i] = in.Pixels[i+1]
				}
			}
		}
		return Measure(in)
	}
	for _, misread := range []bool{false, true} {
		if good := measured(smooth, misread); good.Ghost.Gain > 0 || good.Ringing.Gain > 0 || *good.SlowGain > 0 {
			t.Errorf("misread %v: a good edge: %+v %+v, soft %.1f", misread, good.Ghost, good.Ringing, *good.SlowGain)
		}
		if got := measured(copied, misread).Ghost; got.Gain < 20 || math.Abs(got.Pct.Value-10) > 2 || math.Abs(got.Ns.Value-2000) > 80 {
			t.Errorf("misread %v: a copy: %+v", misread, got)
		}
		if got := measured(slow, misread); *got.SlowGain < 6 {
			t.Errorf("misread %v: a low-pass: %.1f nats", misread, *got.SlowGain)
		}
	}
}

// A subcarrier that a decoder leaves on a coloured border begins with the border and goes on: it does not ring.
func TestBordersSubcarrierDoesNotRing(t *testing.T) {
	const sample = 1e9 / 13.5e6
	b := newBench(t, "text-40x25-50")
	hz := b.p.Standard.Scan().SubcarrierHz
	for _, lasts := range []bool{true, false} {
		b.edge = func(x float64) float64 {
			v := 0.5 * math.Erfc(-x*sample/55)
			if size := 0.05; x > 0 {
				if !lasts {
					size = 0.3 * math.Exp(-x*sample/400)
				}
				at := hz
				if !lasts {
					at = 2.4e6
				}
				v += size * math.Sin(2*math.Pi*at*x*sample*1e-9)
			}
			return v
		}
		if got := Measure(b.capture(4, 1, rngOf(5))).Ringing; (got.Gain > 0) == lasts {
			t.Errorf("lasting %v: %+v", lasts, got)
		}
	}
}
