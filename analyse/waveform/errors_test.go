package waveform

import (
	"encoding/json"
	"errors"
	"io"
	"math"
	"math/rand/v2"
	"path/filepath"
	"strings"
	"testing"

	"backporch/video"
	"backporch/video/composite"
	file "backporch/video/waveform"
)

func pal() maker { return maker{std: video.Std625, rate: fourPAL, halfLines: 625} }

// Known errors are measured as what they are. Tolerances: 1 % of 1 V, 2 ns, 1 ppm over a field,
// a tenth of the jitter.
func TestKnownErrors(t *testing.T) {
	for _, c := range []struct {
		name  string
		make  func(m *maker)
		check func(t *testing.T, r *Result)
	}{
		{"wide sync, late and small burst", func(m *maker) { m.sync, m.burstStart, m.burstMV = 5.1, 5.9, 210 }, func(t *testing.T, r *Result) {
			near(t, "sync_us", r.SyncUS, 5.1, 0.002)
			near(t, "burst_start_us", r.BurstAt, 5.9, 0.01)
			near(t, "burst_mvpp", r.BurstMVPP, 210, 5)
			fails(t, r, "sync width", "burst", "burst start")
		}},
		{"porches", func(m *maker) { m.front, m.end = 2.4, 11.9 }, func(t *testing.T, r *Result) {
			near(t, "front_porch_us", r.FrontPorch, 2.4, 0.002)
			near(t, "back_porch_us", r.BackPorch, 7.2, 0.002)
			fails(t, r, "front porch", "line blanking")
		}},
		{"slow blanking edges", func(m *maker) { m.blankRise = 0.5 }, func(t *testing.T, r *Result) {
			near(t, "front_porch_us", r.FrontPorch, 1.5, 0.002)
			near(t, "back_porch_us", r.BackPorch, 5.8, 0.002)
		}},
		{"late burst off its cycle", func(m *maker) {
			m.std, m.rate, m.halfLines, m.burstStart = video.Std525, fourNTSC, 525, 6.0
		}, func(t *testing.T, r *Result) { near(t, "burst_start_us", r.BurstAt, 6.0, 0.01) }},
		{"crystal", func(m *maker) { m.burstPPM, m.lineUS = 87, 63.9432 }, func(t *testing.T, r *Result) {
			near(t, "burst_ppm", r.BurstPPM, 87, 1)
			near(t, "line_us", r.LineUS, 63.9432, 0.0001)
			fails(t, r, "subcarrier", "line period", "field rate")
		}},
		{"crystal, noise", func(m *maker) { m.burstPPM, m.noiseMV = -140, 8 }, func(t *testing.T, r *Result) {
			near(t, "burst_ppm", r.BurstPPM, -140, 1)
			near(t, "noise_mv", r.NoiseMV, 8, 0.4)
		}},
		{"jitter 5 ns", func(m *maker) { m.jitterNS = 5 }, func(t *testing.T, r *Result) { near(t, "jitter_ns", r.JitterNS, 5, 0.5) }},
		{"jitter 40 ns", func(m *maker) { m.jitterNS = 40 }, func(t *testing.T, r *Result) {
			near(t, "jitter_ns", r.JitterNS, 40, 4)
			near(t, "sync_us", r.SyncUS, 4.7, 0.002)
		}},
		{"jitter 20 ns in noise", func(m *maker) { m.jitterNS, m.noiseMV = 20, 10 }, func(t *testing.T, r *Result) { near(t, "jitter_ns", r.JitterNS, 20, 2) }},
		{"jitter 12 ns in noise of 30 mV", func(m *maker) { m.jitterNS, m.noiseMV = 12, 30 }, func(t *testing.T, r *Result) { near(t, "jitter_ns", r.JitterNS, 12, 3*r.Spread["jitter_ns"]) }},
		{"jitter 10 ns in 8 bits", func(m *maker) { m.jitterNS, m.codes = 10, 10 }, func(t *testing.T, r *Result) { near(t, "jitter_ns", r.JitterNS, 10, 1) }},
		{"noise alone", func(m *maker) { m.noiseMV = 20 }, func(t *testing.T, r *Result) {
			near(t, "jitter_ns", r.JitterNS, 0, 3.5) // of 9 that noise makes: the root of what chance leaves
			near(t, "sync_mv", r.SyncMV, 300, 3)
			near(t, "white_mv", r.WhiteMV, 700, 7)
			near(t, "peak_to_peak_mv", r.PeakToPeak, 1000, 10)
		}},
		{"noise of 40 mV", func(m *maker) { m.noiseMV = 40 }, func(t *testing.T, r *Result) {
			near(t, "sync_us", r.SyncUS, 4.7, 0.002)
			near(t, "jitter_ns", r.JitterNS, 0, 3*r.Spread["jitter_ns"])
		}},
		{"heavy noise", func(m *maker) { m.noiseMV, m.bars = 60, true }, func(t *testing.T, r *Result) {
			near(t, "sync_mv", r.SyncMV, 300, 10)
			near(t, "white_mv", r.WhiteMV, 700, 10)
			near(t, "peak_to_peak_mv", r.PeakToPeak, 1233.9, 25)
			near(t, "lines", r.Lines, 312.5, 0)
			near(t, "burst_ppm", r.BurstPPM, 0, 1)
		}},
		{"inverted, offset", func(m *maker) { m.inverted, m.offset = true, 1800 }, func(t *testing.T, r *Result) {
			near(t, "sync_mv", r.SyncMV, 300, 3)
			near(t, "white_mv", r.WhiteMV, 700, 7)
			near(t, "blanking_mv", r.BlankingMV, -1800, 10)
			if r.Polarity != "inverted" {
				t.Error(r.Polarity)
			}
		}},
		{"hum", func(m *maker) { m.hum = 400 }, func(t *testing.T, r *Result) {
			near(t, "sync_mv", r.SyncMV, 300, 6)
			near(t, "white_mv", r.WhiteMV, 700, 10)
			near(t, "drift_mv", r.DriftMV, 800, 40)
			near(t, "hum_mv", r.HumMV, 800, 8)
			near(t, "hum_hz", r.HumHz, 50, 0)
			near(t, "lines", r.Lines, 312.5, 0)
		}},
		{"small coupling capacitor", func(m *maker) { m.tau = 3e-3 }, func(t *testing.T, r *Result) {
			near(t, "sync_mv", r.SyncMV, 300, 6)
			near(t, "white_mv", r.WhiteMV, 700, 20) // it sags along the line itself
			near(t, "lines", r.Lines, 312.5, 0)
			noted(t, r, "blanking wanders")
			if r.HumHz != nil {
				t.Errorf("hum of %v mV, where there is none", *r.HumMV)
			}
		}},
		{"tips cut", func(m *maker) { m.clip = 120 }, func(t *testing.T, r *Result) {
			near(t, "sync_mv", r.SyncMV, 120, 3)
			near(t, "white_mv", r.WhiteMV, 700, 7)
			for _, l := range r.Limits { // half of the height is higher now, so times move too
				if l.Name == "sync" && l.Pass {
					t.Errorf("%+v", l)
				}
			}
			noted(t, r, "tips are cut")
			if r.Termination == nil || *r.Termination != "one load" {
				t.Error(r.Termination)
			}
		}},
		{"no load", func(m *maker) { m.gain = 2 }, func(t *testing.T, r *Result) { loads(t, r, "none") }},
		{"two loads", func(m *maker) { m.gain = 2. / 3 }, func(t *testing.T, r *Result) { loads(t, r, "two loads") }},
		{"33 ohm", func(m *maker) { m.gain = 1.389 }, func(t *testing.T, r *Result) {
			if r.Termination != nil {
				t.Error(*r.Termination)
			}
			noted(t, r, "about 33 ohm")
		}},
		{"grey picture", func(m *maker) { m.white = 0.4 }, func(t *testing.T, r *Result) {
			near(t, "white_mv", r.WhiteMV, 280, 5)
			loads(t, r, "one load")
			for _, l := range r.Limits { // a dark screen is no fault
				if l.Name == "white" {
					t.Errorf("%+v", l)
				}
			}
		}},
		{"312 lines, long pulse", func(m *maker) { m.halfLines, m.long = 624, true }, func(t *testing.T, r *Result) {
			near(t, "lines", r.Lines, 312, 0)
			near(t, "field_hz", r.FieldHz, 15625./312, 1e-3)
			if r.Interlaced == nil || *r.Interlaced || !strings.Contains(r.Scanning, "non-interlaced variant, 312 lines") {
				t.Errorf("%+v", r.Scanning)
			}
		}},
		{"262 lines", func(m *maker) { m.std, m.halfLines, m.rate = video.Std525, 524, fourNTSC }, func(t *testing.T, r *Result) {
			near(t, "lines", r.Lines, 262, 0)
			if r.Standard == nil || *r.Standard != "525/60" || *r.Interlaced {
				t.Errorf("%+v", r.Scanning)
			}
		}},
		{"263 lines, 8 bits", func(m *maker) {
			m.std, m.halfLines, m.rate, m.codes, m.bars = video.Std525, 526, fourNTSC, 12, true
		}, func(t *testing.T, r *Result) {
			near(t, "lines", r.Lines, 263, 0)
			near(t, "sync_mv", r.SyncMV, 285.7, 10)
			near(t, "white_mv", r.WhiteMV, 714.3, 10)
			near(t, "sync_us", r.SyncUS, 4.7, 0.004)
			near(t, "burst_ppm", r.BurstPPM, 0, 1)
		}},
		{"100 MS/s", func(m *maker) { m.rate = 1e8 }, func(t *testing.T, r *Result) {
			near(t, "sync_us", r.SyncUS, 4.7, 0.001)
			near(t, "burst_mvpp", r.BurstMVPP, 300, 3)
		}},
		{"10 MS/s", func(m *maker) { m.rate, m.burstPPM = 10e6, 60 }, func(t *testing.T, r *Result) {
			near(t, "burst_ppm", r.BurstPPM, 60, 1)
			near(t, "sync_us", r.SyncUS, 4.7, 0.002)
		}},
		{"8 MS/s", func(m *maker) { m.rate = 8e6 }, func(t *testing.T, r *Result) {
			near(t, "sync_us", r.SyncUS, 4.7, 0.002)
			if r.BurstMVPP != nil || r.BurstHz != nil { // it folds down to 3.57 MHz, near the other standard's
				t.Error("a burst of 4.43 MHz at 8 MS/s")
			}
		}},
		{"5 MS/s", func(m *maker) { m.rate = 5e6 }, func(t *testing.T, r *Result) {
			near(t, "lines", r.Lines, 312.5, 0)
			near(t, "sync_mv", r.SyncMV, 300, 10)
			near(t, "white_mv", r.WhiteMV, 700, 15)
			near(t, "sync_us", r.SyncUS, 4.7, 0.05)
			if r.BurstMVPP != nil || r.SyncRise != nil {
				t.Error("a burst or an edge at 5 MS/s")
			}
			noted(t, r, "million samples a second")
		}},
		{"1.5 MS/s", func(m *maker) { m.rate = 1.5e6 }, func(t *testing.T, r *Result) {
			near(t, "lines", r.Lines, 312.5, 0)
			near(t, "line_us", r.LineUS, 64, 0.001)
			near(t, "sync_us", r.SyncUS, 4.7, 2*r.Spread["sync_us"])
			for _, l := range r.Limits { // too few samples condemn nothing
				if !l.Pass {
					t.Errorf("%+v", l)
				}
			}
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			m := pal()
			c.make(&m)
			c.check(t, measured(t, m, 2.3))
		})
	}
}

func fails(t *testing.T, r *Result, names ...string) {
	t.Helper()
	want := map[string]bool{}
	for _, n := range names {
		want[n] = true
	}
	for _, l := range r.Limits {
		if l.Pass == want[l.Name] {
			t.Errorf("pass is %v: %+v", l.Pass, l)
		}
		delete(want, l.Name)
	}
	if len(want) > 0 {
		t.Errorf("no row for %v", want)
	}
}

func noted(t *testing.T, r *Result, part string) {
	t.Helper()
	if !strings.Contains(strings.Join(r.Notes, "\n"), part) {
		t.Errorf("no note of %q in %q", part, r.Notes)
	}
}

func loads(t *testing.T, r *Result, want string) {
	t.Helper()
	if r.Termination == nil || *r.Termination != want {
		t.Errorf("termination %v, want %q; %v", r.Termination, want, r.Notes)
	}
}

// A long waveform in pieces gives what one stretch gives, with gaps left out.
func TestStretches(t *testing.T) {
	m := pal()
	m.noiseMV, m.jitterNS = 3, 15
	x := m.samples(4)
	meter, err := NewMeter(Options{Rate: m.rate, Absolute: true})
	if err != nil {
		t.Fatal(err)
	}
	for i := range 5 {
		if i == 2 {
			for k := range 3000 {
				x[400_000+k] = float32(math.NaN())
			}
		}
		for from := 0; from < len(x); from += 77_777 {
			meter.Add(x[from:min(from+77_777, len(x))])
		}
	}
	if len(meter.buf) > meter.length {
		t.Errorf("%d samples are held", len(meter.buf))
	}
	r, err := meter.Result()
	if err != nil {
		t.Fatal(err)
	}
	near(t, "line_us", r.LineUS, 64, 1e-4)
	near(t, "jitter_ns", r.JitterNS, 15, 1.5)
	near(t, "lines", r.Lines, 312.5, 0)
	near(t, "burst_mvpp", r.BurstMVPP, 300, 3)
	noted(t, r, "samples are missing")
}

// What holds no sync is an error, whatever it is.
func TestNothing(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 1))
	for name, f := range map[string]func(i int) float64{
		"nothing": func(int) float64 { return 0 },
		"noise":   func(int) float64 { return 100 * rng.NormFloat64() },
		"NaN":     func(int) float64 { return math.NaN() },
		"huge":    func(i int) float64 { return 1e9 * math.Sin(float64(i)) },
	} {
		m, err := NewMeter(Options{Rate: 1e7, Absolute: true})
		if err != nil {
			t.Fatal(err)
		}
		x := make([]float32, 300_000)
		for i := range x {
			x[i] = float32(f(i))
		}
		m.Add(x)
		if r, err := m.Result(); !errors.Is(err, composite.ErrNoSync) {
			t.Errorf("%s: %v, %+v", name, err, r)
		}
	}
	m, _ := NewMeter(Options{Rate: 1e7})
	if _, err := m.Result(); err == nil {
		t.Error("no sample gave a result")
	}
	m.Add([]float32{1})
	if _, err := m.Result(); err == nil {
		t.Error("one sample gave a result")
	}
	if _, err := NewMeter(Options{Rate: 1e5}); !errors.Is(err, composite.ErrSlow) {
		t.Error(err)
	}
}

// A fast sampler's few lines go through the decimator and keep levels and times; so does 1.2 GS/s.
func TestFastSampler(t *testing.T) {
	for _, rate := range []float64{250e6, 1.2e9} {
		m := pal()
		m.rate, m.noiseMV = rate, 4
		m.halfLines = 1000
		x := m.samples(30 * 64e-6 / (1000 * 32e-6))[int(rate*24*64e-6):] // lines of the picture alone
		path := filepath.Join(t.TempDir(), "fast.wav")
		w, err := file.NewWriter(path, rate, 2)
		if err != nil {
			t.Fatal(err)
		}
		if err := errors.Join(w.Write(x), w.Close()); err != nil {
			t.Fatal(err)
		}
		r, err := file.Open(path, file.Options{FullScale: 2})
		if err != nil {
			t.Fatal(err)
		}
		d := file.NewDecimator(r, rate)
		y := make([]float32, len(x))
		n, err := d.Read(y)
		if !errors.Is(err, io.EOF) || d.Rate() > 80e6 || math.Abs(float64(n)*rate/d.Rate()/float64(len(x))-1) > 0.01 {
			t.Fatalf("%d samples at %v, %v", n, d.Rate(), err)
		}
		if err := r.Close(); err != nil {
			t.Fatal(err)
		}
		got := meter(t, y[:n], Options{Rate: d.Rate(), Absolute: true})
		near(t, "sync_mv", got.SyncMV, 300, 5)
		near(t, "white_mv", got.WhiteMV, 700, 7)
		near(t, "sync_us", got.SyncUS, 4.7, 0.003)
		near(t, "burst_mvpp", got.BurstMVPP, 300, 6)
		near(t, "sync_rise_ns", got.SyncRise, 200, 8)
		near(t, "line_us", got.LineUS, 64, 0.002)
	}
}

// FuzzMeter measures anything at all: a piece of a true signal with bytes of chance laid over it.
func FuzzMeter(f *testing.F) {
	m := pal()
	m.rate = 8e6
	base := m.samples(1.3)
	f.Add([]byte{1, 2, 3, 250}, uint32(17734475), uint32(0))
	f.Add([]byte{128}, uint32(1_000_000), uint32(100_000))
	f.Fuzz(func(t *testing.T, over []byte, rate, from uint32) {
		x := append([]float32(nil), base[int(from)%len(base):]...)
		for i := range x {
			if len(over) == 0 {
				break
			}
			switch b := over[i%len(over)]; {
			case b == 255:
				x[i] = float32(math.NaN())
			case b == 254:
				x[i] = 1e30
			case b > 200:
				x[i] = float32(b)
			default:
				x[i] += float32(int(b%16) - 8)
			}
		}
		meter, err := NewMeter(Options{Rate: float64(rate), Absolute: rate%2 == 0})
		if err != nil {
			return
		}
		meter.Add(x)
		r, err := meter.Result()
		if err != nil {
			return
		}
		if _, err := json.Marshal(r); err != nil { // no value is NaN or infinite
			t.Error(err)
		}
	})
}

// Lines leave open which of the frequencies half a line rate apart it is. A burst that is known to 500 Hz by itself says so, however far off it is;
// one in noise, known to 6 kHz, does not, and a crystal that is 7.8 kHz off is none.
func TestNearestAlias(t *testing.T) {
	const apart = 7812.5
	for _, c := range []struct{ offset, coarse, doubt, want float64 }{
		{-10, 200, 500, -10},
		{-10 - apart, -10 - apart + 900, 500, -10 - apart},
		{-10 - apart, -6000, 6000, -10},
		{40 + 3*apart, 3 * apart, 400, 40 + 3*apart},
	} {
		if got := nearestAlias(c.offset, c.coarse, c.doubt, apart); math.Abs(got-c.want) > 1e-6 {
			t.Errorf("%+v: %v", c, got)
		}
	}
}
