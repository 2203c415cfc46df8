package waveform

import (
	"math"
	"testing"

	"backporch/video"
)

const (
	fourPAL  = 4 * 4433618.75
	fourNTSC = 4 * 5e6 * 63 / 88
)

func measured(t *testing.T, m maker, fields float64) *Result {
	t.Helper()
	return meter(t, m.samples(fields), Options{Rate: m.rate, Absolute: true})
}

func meter(t *testing.T, x []float32, o Options) *Result {
	t.Helper()
	m, err := NewMeter(o)
	if err != nil {
		t.Fatal(err)
	}
	m.Add(x)
	r, err := m.Result()
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func near(t *testing.T, name string, got *float64, want, tolerance float64) {
	t.Helper()
	if got == nil {
		t.Errorf("%s: not measured, want %v", name, want)
	} else if !(math.Abs(*got-want) <= tolerance) {
		t.Errorf("%s: %v, want %v +- %v", name, *got, want, tolerance)
	}
}

// The standards' own waveforms measure what their tables say: levels to 1 % of 1 V, times to 2 ns
// at four times subcarrier, burst to 1 ppm, and pass every limit. Ends of the burst: 10 ns,
// for its envelope has no sharp end.
func TestStandardsMeasureThemselves(t *testing.T) {
	for _, c := range []struct {
		name string
		m    maker
		top  float64 // mV above blanking, chroma included; reference: 100/0/100/0 bars reach 933.9 and -233.9
	}{
		{"625 white", maker{std: video.Std625, rate: fourPAL, halfLines: 625}, 700},
		{"625 bars", maker{std: video.Std625, rate: fourPAL, halfLines: 625, bars: true}, 933.9},
		{"525 white", maker{std: video.Std525, rate: fourNTSC, halfLines: 525}, 714.3},
		{"525 bars", maker{std: video.Std525, rate: fourNTSC, halfLines: 525, bars: true}, 953},
		{"625, 25 MS/s", maker{std: video.Std625, rate: 25e6, halfLines: 625, bars: true}, 933.9},
	} {
		t.Run(c.name, func(t *testing.T) {
			m := c.m
			r := measured(t, m, 4.2)
			scan := m.std.Scan()
			ns := 0.002
			near(t, "line_us", r.LineUS, 1e6/scan.LineHz, 1e-4)
			near(t, "field_hz", r.FieldHz, scan.FieldHz, 1e-4)
			near(t, "lines", r.Lines, float64(m.halfLines)/2, 0)
			near(t, "sync_mv", r.SyncMV, scan.SyncMV, 10)
			near(t, "blanking_mv", r.BlankingMV, 0, 10)
			near(t, "white_mv", r.WhiteMV, scan.WhiteMV, 10)
			near(t, "peak_to_peak_mv", r.PeakToPeak, c.top+scan.SyncMV, 10)
			near(t, "sync_us", r.SyncUS, 4.7, ns)
			end, rise, start, equal, cycles := 10.5, 200.0, 5.6, 2.35, 10.0
			if m.std == video.Std525 {
				end, rise, start, equal, cycles = 9.2, 140, 19e6/scan.SubcarrierHz, 2.3, 9
			}
			if !m.bars { // their last one is black, and the first's own edge stands on blanking's
				near(t, "front_porch_us", r.FrontPorch, 1.5, ns)
				near(t, "back_porch_us", r.BackPorch, end-4.7, ns)
			}
			near(t, "sync_rise_ns", r.SyncRise, rise, 6)
			near(t, "burst_mvpp", r.BurstMVPP, scan.BurstMVPP, 10)
			near(t, "burst_hz", r.BurstHz, scan.SubcarrierHz, scan.SubcarrierHz*1e-6)
			near(t, "burst_start_us", r.BurstAt, start, 0.01)
			near(t, "burst_cycles", r.BurstCycles, cycles, 0.1)
			near(t, "equalising_us", r.Equalising, equal, 0.002)
			near(t, "broad_us", r.Broad, 1e6/scan.LineHz/2-4.7, 0.002)
			near(t, "serration_us", r.Serration, 4.7, 0.002)
			near(t, "jitter_ns", r.JitterNS, 0, 1)
			if r.Interlaced == nil || !*r.Interlaced || r.Standard == nil || r.Polarity != "normal" || r.Termination == nil || *r.Termination != "one load" {
				t.Errorf("%+v", r)
			}
			if r.Swings == nil || *r.Swings != (m.std == video.Std625) {
				t.Errorf("swings %v", r.Swings)
			}
			for _, l := range r.Limits {
				if !l.Pass {
					t.Errorf("outside its limits: %+v", l)
				}
			}
			if len(r.Limits) < 12 {
				t.Errorf("only %d limits", len(r.Limits))
			}
		})
	}
}

// BenchmarkMeter measures one stretch at 17.7 million samples a second: how many times as fast as
// it was sampled.
func BenchmarkMeter(b *testing.B) {
	m := maker{std: video.Std625, rate: fourPAL, halfLines: 625, bars: true, noiseMV: 3}
	x := m.samples(12)
	for b.Loop() {
		if _, err := measure(x, Options{Rate: m.rate, Absolute: true}); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(len(x))/m.rate/(b.Elapsed().Seconds()/float64(b.N)), "x-realtime")
}
