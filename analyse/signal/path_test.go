package signal

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"backporch/analyse"
	"backporch/analyse/analysetest"
	"backporch/video"
)

// borderFields draws fields of a white border and a picture of noise, with codes on top by time.
func borderFields(t testing.TB, name string, n int, sigma float64, add func(seconds float64) float64) []*video.Field {
	p := analysetest.Profile(t, name)
	rng := rand.New(rand.NewPCG(4, 4))
	height := p.Standard.Scan().FieldLines
	x0, y0 := p.Origin(720, height)
	x1, y1 := x0+float64(p.Width)*p.PitchX(720), y0+float64(p.Height)
	rate := p.LineHz() * float64(p.Standard.Scan().LineSamples)
	var out []*video.Field
	for k := range n {
		f := &video.Field{Width: 720, Height: height, Y: make([]uint8, 720*height), Frame: k / 2, Parity: k % 2}
		start := float64(k) / p.FieldHz()
		f.Time = time.Duration(start * float64(time.Second))
		for y := range height {
			for x := range 720 {
				v := 150.0
				if float64(x) >= x0 && float64(x) < x1 && float64(y) >= y0 && float64(y) < y1 {
					v = 60 + 120*float64((x/7+y/5)%2) // a picture
				}
				v += sigma*rng.NormFloat64() + add(start+float64(y)/p.LineHz()+float64(x)/rate)
				f.Y[y*720+x] = uint8(math.Max(1, math.Min(254, math.Round(v))))
			}
		}
		out = append(out, f)
	}
	return out
}

// A sine on the whole capture: amplitude within 5 %, frequency within 50 Hz though the lines alone resolve 20 kHz, and
// whether it stands still on the lines. The sine's own figures are the truth.
func TestTones(t *testing.T) {
	for _, name := range []string{"attr-256x192-50", "text-40x25-60"} {
		p := analysetest.Profile(t, name)
		for _, c := range []struct {
			hz    float64
			fixed bool
		}{{61.3e3, false}, {443.79e3, false}, {1.13e6, false}, {2.9064e6, false}, {5.0123e6, false}, {p.PixelClockHz / 4, true}, {p.PixelClockHz / 8, true}, {p.PixelClockHz / 16, true}} {
			fields := borderFields(t, name, 6, 2, func(at float64) float64 { return 5 * math.Sin(2*math.Pi*c.hz*at) })
			path := Look(fields, p)
			if path == nil || len(path.tones) == 0 {
				t.Errorf("%s, %.0f Hz: no tone", name, c.hz)
				continue
			}
			got := path.tones[0]
			if want := 1000.0 / 219; math.Abs(got.Pct.Value-want) > 0.05*want {
				t.Errorf("%s, %.0f Hz: %.2f %%, want %.2f", name, c.hz, got.Pct.Value, want)
			}
			if got.Fixed != c.fixed || math.Abs(got.Hz.Value-c.hz) > math.Max(50, 3*got.Hz.Spread) || got.Hz.Spread > 3e-4*c.hz+100 {
				t.Errorf("%s: %.0f ± %.0f Hz, fixed %v, want %.0f, %v", name, got.Hz.Value, got.Hz.Spread, got.Fixed, c.hz, c.fixed)
			}
			if c.fixed && math.Abs(got.PeriodPx-p.PixelClockHz/c.hz) > 0.01 {
				t.Errorf("%s: period %.3f pixels, want %.3f", name, got.PeriodPx, p.PixelClockHz/c.hz)
			}
		}
	}
}

// Noise alone has no tone.
func TestNoTone(t *testing.T) {
	for seed := range 4 {
		rng := rand.New(rand.NewPCG(uint64(seed), 1))
		fields := borderFields(t, "attr-256x192-50", 4, 3, func(float64) float64 { return rng.NormFloat64() })
		if path := Look(fields, analysetest.Profile(t, "attr-256x192-50")); len(path.tones) > 0 {
			t.Errorf("seed %d: %+v", seed, path.tones)
		}
	}
}

// Mains on top: peak to peak within 5 %, frequency within 0.5 Hz.
func TestHumOfBorder(t *testing.T) {
	for _, c := range []struct {
		name    string
		hz, pct float64
	}{{"attr-256x192-50", 50, 4}, {"attr-256x192-50", 100, 8}, {"text-40x25-60", 60, 3}, {"attr-256x192-60", 120, 6}} {
		fields := borderFields(t, c.name, 12, 2, func(at float64) float64 { return 219 * c.pct / 200 * math.Sin(2*math.Pi*c.hz*at) })
		path := Look(fields, analysetest.Profile(t, c.name))
		if path.hum == nil || math.Abs(path.hum.Pct.Value-c.pct) > 0.05*c.pct || math.Abs(path.hum.Hz.Value-c.hz) > 0.5 || path.hum.Share < 0.9 {
			t.Errorf("%s, %v Hz: %+v, want %v %%", c.name, c.hz, path.hum, c.pct)
		}
	}
}

// What Undo leaves of hum and tones is a tenth or less, and a clean capture comes back as it was.
func TestUndo(t *testing.T) {
	p := analysetest.Profile(t, "attr-256x192-50")
	add := func(at float64) float64 {
		return 8*math.Sin(2*math.Pi*50*at) + 6*math.Sin(2*math.Pi*0.77e6*at) + 6*math.Sin(2*math.Pi*0.875e6*at)
	}
	fields := borderFields(t, "attr-256x192-50", 8, 1, add)
	clean := Look(fields, p).Undo(fields)
	again := Look(clean, p)
	if again.hum.Pct.Value > 0.8 {
		t.Errorf("hum of %.2f %% is left of 7.3", again.hum.Pct.Value)
	}
	for _, tone := range again.tones {
		if tone.Pct.Value > 0.6 {
			t.Errorf("%.2f %% is left at %.0f Hz", tone.Pct.Value, tone.Hz.Value)
		}
	}
	good := borderFields(t, "attr-256x192-50", 4, 1, func(float64) float64 { return 0 })
	if Look(good, p).Undo(good)[0] != good[0] {
		t.Error("a clean capture was changed")
	}
}

// ITU-R BT.1439: loss of the unified network in dB by frequency, and its gain for flat noise from 10 kHz to 5 MHz, 7.4 dB.
func TestWeighting(t *testing.T) {
	for _, c := range []struct{ mhz, db float64 }{{0.1, 0.146}, {0.5, 2.628}, {1, 6.090}, {2, 10.139}, {3, 12.042}, {3.58, 12.683}, {4.434, 13.302}, {5, 13.579}, {6, 13.916}} {
		if got := 10 * math.Log10(weighting(c.mhz*1e6)); math.Abs(got-c.db) > 0.005 {
			t.Errorf("%v MHz: %.3f dB, want %.3f", c.mhz, got, c.db)
		}
	}
	fields := borderFields(t, "attr-256x192-50", 8, 4, func(float64) float64 { return 0 })
	path := Look(fields, analysetest.Profile(t, "attr-256x192-50"))
	if path.band == nil || math.Abs(path.band.weighted-7.4) > 0.15 || math.Abs(flatWeighting-7.4) > 0.05 {
		t.Errorf("flat noise gains %+v, %.2f dB, published 7.4", path.band, flatWeighting)
	}
}

// A copy of an edge, and a damped sine after it, come out as they were put in: sizes within a tenth, delay within a
// quarter of a pixel, frequency within 3 %.
func TestGhostAndRinging(t *testing.T) {
	const sample = 1e9 / 13.5e6
	smooth := func(x float64) float64 { return 0.5 * math.Erfc(-x*sample/55) } // some 100 ns
	for _, delay := range []float64{600, 1000, 2000} {
		b := newBench(t, "attr-256x192-50")
		b.edge = func(x float64) float64 { return smooth(x) + 0.2*smooth(x-delay/sample) }
		g := Measure(b.capture(4, 1, rngOf(2))).Ghost
		if g == nil || !g.Stands(nil) || math.Abs(g.Pct.Value-20) > 2 || math.Abs(g.Ns.Value-delay) > 36 {
			t.Errorf("20 %% after %v ns: %+v", delay, g)
		}
	}
	for _, mhz := range []float64{1.6, 2.5, 3.4} {
		b := newBench(t, "attr-256x192-50")
		b.edge = func(x float64) float64 {
			ns := x * sample
			return smooth(x) + 0.3*math.Exp(-math.Max(ns, 0)/400)*math.Sin(2*math.Pi*mhz*1e-3*ns)*smooth(x-1)
		}
		out := Measure(b.capture(4, 1, rngOf(2)))
		r := out.Ringing
		// 600 ns after the edge 0.3 exp(-1.5) of it is left.
		if r == nil || math.Abs(r.Hz.Value-mhz*1e6) > 0.03e6*mhz || math.Abs(r.Late-6.7) > 1 {
			t.Errorf("%v MHz: %+v", mhz, r)
		}
		if out.Ghost.Stands(r) {
			t.Errorf("%v MHz: also a ghost, %+v", mhz, out.Ghost)
		}
	}
	b := newBench(t, "attr-256x192-50")
	b.edge = smooth
	out := Measure(b.capture(4, 1, rngOf(3)))
	if out.Ghost.Stands(out.Ringing) || out.Ringing.Late > 1 {
		t.Errorf("a clean edge: %+v %+v", out.Ghost, out.Ringing)
	}
}

// Odd input is borne.
func TestLookAtNothing(t *testing.T) {
	p := analysetest.Profile(t, "attr-256x192-50")
	for _, fields := range [][]*video.Field{nil, {nil}, {{}}, {{Width: 720, Height: 288, Y: make([]uint8, 7)}}, {{Width: 70, Height: 70, Y: make([]uint8, 4900)}}} {
		path := Look(fields, p)
		path.Undo(fields)
		var out analyse.Signal
		path.Into(&out, 219)
	}
	if Look(borderFields(t, "attr-256x192-50", 1, 1, func(float64) float64 { return 0 }), nil) != nil {
		t.Error("measured without a display")
	}
}

// BenchmarkLook's ratio is to adding up the same fields.
func BenchmarkLook(b *testing.B) {
	p := analysetest.Profile(b, "attr-256x192-50")
	fields := borderFields(b, "attr-256x192-50", 16, 2, func(float64) float64 { return 0 })
	begin := time.Now()
	analyse.Add(fields)
	adding := time.Since(begin).Seconds()
	for b.Loop() {
		Look(fields, p)
	}
	b.ReportMetric(b.Elapsed().Seconds()/float64(b.N)/adding, "x-adding")
}
