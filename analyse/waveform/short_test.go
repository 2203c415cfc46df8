package waveform

import (
	"encoding/json"
	"math"
	"math/rand/v2"
	"testing"

	"backporch/video"
)

// A record of a line or a few says what it can, and what it cannot.
func TestShortRecords(t *testing.T) {
	m := pal()
	x := m.samples(0.6)
	line := fourPAL * 64e-6
	for _, c := range []struct {
		lines      float64
		line, ppm  bool
		jitter     bool
		tolerancep float64
	}{{1, false, false, false, 0}, {2.5, true, false, false, 0}, {10, true, true, false, 30}, {60, true, true, true, 3}} {
		part := x[int(99.5*line):int((99.5+c.lines)*line)]
		r := meter(t, part, Options{Rate: m.rate, Absolute: true})
		near(t, "sync_mv", r.SyncMV, 300, 10)
		near(t, "white_mv", r.WhiteMV, 700, 10)
		near(t, "sync_us", r.SyncUS, 4.7, 0.003)
		near(t, "burst_mvpp", r.BurstMVPP, 300, 10)
		if (r.LineUS != nil) != c.line || (r.JitterNS != nil) != c.jitter || r.Lines != nil || r.Standard == nil || *r.Standard != "625/50" {
			t.Errorf("%v lines: line %v, jitter %v, lines %v, %v", c.lines, r.LineUS, r.JitterNS, r.Lines, r.Standard)
		}
		if c.ppm {
			near(t, "burst_ppm", r.BurstPPM, 0, c.tolerancep)
		}
		if len(r.Missing) == 0 {
			t.Error("nothing is said of what is missing")
		}
		if _, err := json.Marshal(r); err != nil {
			t.Error(err)
		}
	}
}

// Few noisy lines measure their sync without bias, and their uncertainty is what they scatter by.
func TestFewNoisyLines(t *testing.T) {
	for _, std := range []video.Standard{video.Std625, video.Std525} {
		m := pal()
		if std == video.Std525 {
			m.std, m.rate, m.halfLines = std, fourNTSC, 525
		}
		clean := m.samples(0.9)
		line := m.rate / std.Scan().LineHz
		for _, lines := range []float64{1.2, 2.2, 10} {
			const tries = 200
			rng := rand.New(rand.NewPCG(5, uint64(10*lines)))
			var off, square float64
			for k := range tries {
				at := int((60.55 + float64(k%40)) * line)
				x := append([]float32(nil), clean[at:at+int(lines*line)]...)
				for i := range x {
					x[i] += float32(10 * rng.NormFloat64())
				}
				r := meter(t, x, Options{Rate: m.rate, Absolute: true})
				if r.SyncUS == nil || r.Spread["sync_us"] == 0 {
					t.Fatalf("%v lines: sync %v, uncertainty %v", lines, r.SyncUS, r.Spread["sync_us"])
				}
				pull := (*r.SyncUS - 4.7) / r.Spread["sync_us"]
				off, square = off+pull/tries, square+pull*pull/tries
			}
			// On average within half of the uncertainty, which 200 tries tell to 0.2; the scatter within a third of it.
			if math.Abs(off) > 0.5 || square < 0.5 || square > 1.8 {
				t.Errorf("%v, %v lines: off by %.2f of the uncertainty on average, square %.2f", std, lines, off, square)
			}
		}
	}
}
