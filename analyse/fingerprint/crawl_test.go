package fingerprint

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"backporch/analyse/analysetest"
	"backporch/video"
)

func crawlOf(t testing.TB, m machine, fields int) []Ratio {
	t.Helper()
	p := analysetest.Profile(t, m.display)
	c := MeasureCrawl(m.capture(t, fields), p.Standard)
	if c == nil {
		return nil
	}
	return c.Ratios(p)
}

// truth is the ratio's distance from nominal by the clocks that were put in.
func (m machine) truth() float64 { return ((1+m.subcarrierPPM*1e-6)/(1+m.pixelPPM*1e-6) - 1) * 1e6 }

// The ratio comes out as the two clocks that went in, on many devices, screens and displays. The
// bounds follow from the phase: a hundredth of a cycle over the capture.
func TestRatioIsThatOfTheClocks(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2026))
	for i, m := range []machine{
		{display: "attr-256x192-50", pixelPPM: 100, coloured: 0.3, filled: 0.5},
		{display: "attr-256x192-50", pixelPPM: -100, coloured: 1, filled: 1},
		{display: "attr-256x192-50", pixelPPM: 12, subcarrierPPM: -31, coloured: 0, filled: 0.5}, // black and white
		{display: "attr-256x192-50", pixelPPM: -40, subcarrierPPM: 37, coloured: 0.1, filled: 0.2},
		{display: "attr-256x192-60", pixelPPM: 90, coloured: 0.3, filled: 0.5},
		{display: "attr-256x192-60", pixelPPM: -100, subcarrierPPM: 20, coloured: 0, filled: 0.5},
		{display: "attr-256x192-60", pixelPPM: 3, subcarrierPPM: 14, coloured: 1, filled: 1},
	} {
		m.device, m.noiseMV, m.screen, m.static = device(rng), 2, uint64(i), uint64(i)
		got := crawlOf(t, m, 40)
		if len(got) == 0 {
			t.Errorf("%s at %.3f ppm: no crawl", m.display, m.truth())
			continue
		}
		if math.Abs(got[0].PPM-m.truth()) > 0.02 || got[0].Probability < 0.9 {
			t.Errorf("%s at %.3f ppm: got %+v", m.display, m.truth(), got[:min(3, len(got))])
		}
	}
}

// One crystal for both clocks: 525/60 dots change places at each field, exactly; 625/50 ones stand still.
func TestOneCrystalTellsNothing(t *testing.T) {
	m := machine{display: "text-40x25-60", pixelPPM: 50, subcarrierPPM: 50, coloured: 0.5, filled: 0.8, noiseMV: 2}
	if got := crawlOf(t, m, 30); len(got) > 0 && math.Abs(got[0].PPM) > locked {
		t.Errorf("got %+v", got)
	}
	m.display = "text-40x25-50"
	if got := crawlOf(t, m, 30); len(got) > 0 && math.Abs(got[0].PPM) > locked {
		t.Errorf("got %+v", got)
	}
	a := &Print{Ratio: []Ratio{{PPM: 0.001, Probability: 1}}}
	if c := Compare(a, a); c.Log10 != 0 || len(c.Limits) == 0 {
		t.Errorf("one crystal was taken for evidence: %+v", c)
	}
}

// Noise alone, and a still picture of one colour, have no crawl.
func TestNoCrawlWhereThereIsNone(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 3))
	for n := range 3 {
		if c := MeasureCrawl(machine{display: "attr-256x192-50", noiseMV: 4, static: uint64(n), device: device(rng)}.capture(t, 30), video.Std625); c != nil {
			t.Errorf("even picture: step %v, tone %v", c.Step, c.Tone)
		}
	}
	var fields []*video.Field
	for k := range 30 {
		f := &video.Field{Width: 720, ChromaWidth: 360, Height: 288, Frame: k / 2, Y: make([]uint8, 720*288), Cb: make([]uint8, 360*288), Cr: make([]uint8, 360*288)}
		for i := range f.Y {
			f.Y[i] = uint8(120 + 20*rng.NormFloat64())
		}
		fields = append(fields, f)
	}
	if c := MeasureCrawl(fields, video.Std625); c != nil {
		t.Errorf("noise: tone %v", c.Tone)
	}
}

// How often the likeliest ratio is right is what its probability says, also on screens with few edges.
func TestRatioProbabilities(t *testing.T) {
	if testing.Short() {
		t.Skip("decodes some hundred fields")
	}
	rng := rand.New(rand.NewPCG(4, 2026))
	sum, right, sure, sureRight, seen := 0.0, 0, 0, 0, 0
	for i := range 16 {
		m := machine{
			display: []string{"attr-256x192-50", "attr-256x192-60"}[i%2], pixelPPM: 30 * rng.NormFloat64(), subcarrierPPM: 30 * rng.NormFloat64(),
			filled: math.Pow(10, -2+2*rng.Float64()), coloured: float64(rng.IntN(3)) / 4, device: device(rng), noiseMV: 1 + 4*rng.Float64(), screen: uint64(i), static: uint64(i),
		}
		got := crawlOf(t, m, 30)
		if len(got) == 0 {
			continue
		}
		seen++
		ok := math.Abs(got[0].PPM-m.truth()) < 0.2
		sum += got[0].Probability
		if ok {
			right++
		}
		if got[0].Probability > 0.95 {
			sure++
			if ok {
				sureRight++
			} else {
				t.Logf("sure and wrong: %.3f ppm put in, got %+v", m.truth(), got[:min(3, len(got))])
			}
		}
	}
	t.Logf("%d of 16 crawl; likeliest right %d, expected %.1f; of %d that were sure %d right", seen, right, sum, sure, sureRight)
	if seen < 10 || math.Abs(float64(right)-sum) > 3*math.Sqrt(float64(seen))/2 || sureRight < sure-1 {
		t.Errorf("the probabilities are not what they say")
	}
}

// Separation of machines with pixel clocks 100 ppm up and down, against the length of capture.
func TestSeparationAgainstLength(t *testing.T) {
	if testing.Short() {
		t.Skip("decodes some hundred fields")
	}
	rng := rand.New(rand.NewPCG(5, 2026))
	d := device(rng)
	up := machine{display: "attr-256x192-50", pixelPPM: 100, coloured: 0.2, filled: 0.3, device: d, noiseMV: 3}
	down := up
	down.pixelPPM, down.static = -100, 9
	a, b := up.capture(t, 100), down.capture(t, 100)
	p := analysetest.Profile(t, up.display)
	for _, n := range []int{12, 25, 50, 100} {
		x, y := MeasureCrawl(a[:n], p.Standard), MeasureCrawl(b[:n], p.Standard)
		if x == nil || y == nil {
			t.Errorf("%d fields: no crawl", n)
			continue
		}
		u, v := x.Ratios(p)[0], y.Ratios(p)[0]
		c := Compare(&Print{Ratio: x.Ratios(p)}, &Print{Ratio: y.Ratios(p)})
		t.Logf("%3d fields, %.2f s: %.4f ± %.4f and %.4f ± %.4f ppm (put in %.4f and %.4f), likelihood ratio 10^%.1f",
			n, float64(n)/50.08, u.PPM, u.SD, v.PPM, v.SD, up.truth(), down.truth(), c.Log10)
		if math.Abs(u.PPM-up.truth()) > 5*u.SD+0.01 || math.Abs(v.PPM-down.truth()) > 5*v.SD+0.01 || !c.Another() {
			t.Errorf("%d fields: not told apart", n)
		}
	}
	// The same machine an hour and a shirt sleeve later: 2 ppm off, another screen.
	later := up
	later.pixelPPM, later.screen, later.static = 102, 7, 8
	if c := Compare(&Print{Ratio: crawlOf(t, up, 50)}, &Print{Ratio: crawlOf(t, later, 50)}); c.Log10 < 0.8 {
		t.Errorf("the same machine later: %+v", c)
	}
}

func BenchmarkCrawl(b *testing.B) {
	m := machine{display: "attr-256x192-50", pixelPPM: 10, coloured: 0.2, filled: 0.3, noiseMV: 2}
	for _, n := range []int{50, 200} {
		fields := m.capture(b, n)
		p := analysetest.Profile(b, m.display)
		b.Run(fmt.Sprintf("fields=%d", n), func(b *testing.B) {
			for b.Loop() {
				MeasureCrawl(fields, p.Standard).Ratios(p)
			}
			perRun := b.Elapsed().Seconds() / float64(b.N)
			b.ReportMetric(perRun/(float64(n)/p.FieldHz()), "x-realtime")
			start := time.Now()
			mean(fields)
			b.ReportMetric(perRun/time.Since(start).Seconds(), "x-adding-up")
		})
	}
}
