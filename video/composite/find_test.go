package composite

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"backporch/video"
)

// Sync is found whatever was done to the waveform, and both polarities give one answer. Line
// length: ITU-R BT.1700, SMPTE 170M; what is done: common practice, no source.
func TestFind(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 9))
	for name, c := range map[string]struct {
		change   func(x []float32, rate float64)
		inverted bool
		tip      float64 // mV; NaN: not looked at
	}{
		"clean":    {func([]float32, float64) {}, false, -1},
		"inverted": {func(x []float32, _ float64) { scale(x, -1, 0) }, true, -1},
		"offset":   {func(x []float32, _ float64) { scale(x, 1, 2500) }, false, -1},
		"small":    {func(x []float32, _ float64) { scale(x, 0.05, -40) }, false, -1},
		"noise": {func(x []float32, _ float64) {
			for i := range x {
				x[i] += float32(70 * rng.NormFloat64())
			}
		}, false, math.NaN()},
		"hum": {func(x []float32, rate float64) {
			for i := range x {
				x[i] += float32(600 * math.Sin(2*math.Pi*50/rate*float64(i)))
			}
		}, false, math.NaN()},
		"tips cut to a third": {func(x []float32, _ float64) {
			for i := range x {
				x[i] = max(x[i], -100)
			}
		}, false, math.NaN()},
		"gap": {func(x []float32, _ float64) {
			for i := range x[30000:31000] {
				x[30000+i] = float32(math.NaN())
			}
		}, false, -1},
	} {
		for _, s := range []video.Standard{video.Std625, video.Std525} {
			r := broadcast(s)
			e := newEncoder(t, r)
			drawBars(e, r, bars(1))
			x := e.Encode(nil)
			x = append(x, e.Encode(nil)[:len(x)/2]...)
			c.change(x, e.Rate())
			f, err := Find(x, e.Rate())
			if err != nil {
				t.Errorf("%s, %v: %v", name, s, err)
				continue
			}
			line := f.Line / e.Rate() * s.Scan().LineHz
			if f.Inverted != c.inverted || f.Standard != s || math.Abs(line-1) > 2e-4 {
				t.Errorf("%s, %v: inverted %v, %v, line %.5f of its own", name, s, f.Inverted, f.Standard, line)
			}
			if n := f.FieldLines(e.Rate()); math.Abs(n-float64(r.Lines)/2) > 0.05 {
				t.Errorf("%s, %v: %.2f lines a field, want %.1f", name, s, n, float64(r.Lines)/2)
			}
			if height := (f.Blanking - f.Tip) / s.Scan().SyncMV; c.tip == -1 && name != "small" && math.Abs(math.Abs(height)-1) > 0.02 {
				t.Errorf("%s, %v: sync %.3f of its height", name, s, height)
			}
		}
	}
}

func scale(x []float32, by, add float32) {
	for i := range x {
		x[i] = x[i]*by + add
	}
}

// Pieces of a line or a few are enough; what has no sync is refused.
func TestFindInLittle(t *testing.T) {
	r := broadcast(video.Std625)
	e := newEncoder(t, r)
	drawBars(e, r, bars(0.75))
	x := e.Encode(nil)
	at := int(e.ZeroH(100))
	for _, lines := range []float64{0.5, 1, 1.5, 3, 12} {
		for _, sign := range []float32{1, -1} {
			part := append([]float32(nil), x[at-200:at+int(lines*1135)]...)
			scale(part, sign, 50)
			f, err := Find(part, e.Rate())
			if err != nil || f.Inverted != (sign < 0) || len(f.Pulses) == 0 || math.Abs(f.Pulses[0].From-200) > 2 {
				t.Errorf("%v lines, sign %v: %+v, %v", lines, sign, f, err)
			}
		}
	}
	rng := rand.New(rand.NewPCG(4, 4))
	for name, fill := range map[string]func(i int) float64{
		"nothing": func(int) float64 { return 0 },
		"noise":   func(int) float64 { return 100 * rng.NormFloat64() },
		"sine":    func(i int) float64 { return 500 * math.Sin(float64(i)/100) },
		"NaN":     func(int) float64 { return math.NaN() },
	} {
		y := make([]float32, 500_000)
		for i := range y {
			y[i] = float32(fill(i))
		}
		if f, err := Find(y, e.Rate()); !errors.Is(err, ErrNoSync) {
			t.Errorf("%s: found %+v, %v", name, f, err)
		}
	}
	if _, err := Find(x, 1e5); !errors.Is(err, ErrSlow) {
		t.Error(err)
	}
}
