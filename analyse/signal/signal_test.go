package signal

import (
	"math"
	"math/rand/v2"
	"reflect"
	"testing"
	"time"

	"gonum.org/v1/gonum/integrate/quad"
	"gonum.org/v1/gonum/stat"

	"backporch/analyse"
	"backporch/analyse/analysetest"
	"backporch/video"
	"backporch/video/display"
)

// bench draws captures of a screen of black bars on white with a white border.
type bench struct {
	p      *display.Profile
	pixels []uint8
	reg    analyse.Registration
	edge   func(samples float64) float64 // response to a unit step
	add    func(field, x, y int) float64 // codes on top
	white  uint8
	border float64 // luma
}

func newBench(t testing.TB, name string) *bench {
	p := analysetest.Profile(t, name)
	white := uint8(3)
	if p.Kind == display.Attr {
		white = 15
	}
	b := &bench{p: p, pixels: make([]uint8, p.Width*p.Height), white: white, border: 1}
	for i := range b.pixels {
		b.pixels[i] = white
		if x, y := i%p.Width, i/p.Width; y%24 < 12 && (x+y/24*3)%37 < 17 {
			b.pixels[i] = 0
		}
	}
	b.reg = analyse.Registration{OK: true, PitchX: p.PitchX(720), PitchY: 1}
	b.reg.OriginX, b.reg.OriginY = p.Origin(720, p.Standard.Scan().FieldLines)
	b.reg.OriginX += 0.37
	sample := 2 / 1.8 // half the width of an edge of the eye's kind
	b.edge = func(x float64) float64 { return 0.5 * math.Erfc(-x/sample) }
	return b
}

// capture makes n fields and the input made of them.
func (b *bench) capture(n int, noise float64, rng *rand.Rand) Input {
	p, height := b.p, b.p.Standard.Scan().FieldLines
	still := make([]float64, 720*height)
	left := b.reg.OriginX - float64(p.BorderLeft)*b.reg.PitchX
	for y := range height {
		row := y - int(b.reg.OriginY)
		if row < -p.BorderTop || row >= p.Height+p.BorderBottom {
			continue
		}
		last := 0.0
		for i := 0; i <= p.BorderLeft+p.Width+p.BorderRight; i++ {
			now := b.border
			if x := i - p.BorderLeft; row >= 0 && row < p.Height && x >= 0 && x < p.Width {
				now = p.Colours[b.pixels[row*p.Width+x]].Y
			}
			if i == p.BorderLeft+p.Width+p.BorderRight {
				now = 0
			}
			if now == last {
				continue
			}
			at := left + float64(i)*b.reg.PitchX
			for x := range 720 {
				still[y*720+x] += (now - last) * b.edge(float64(x)-at)
			}
			last = now
		}
	}
	fields := make([]*video.Field, n)
	for k := range fields {
		f := &video.Field{Width: 720, Height: height, Y: make([]uint8, 720*height), Frame: k / 2, Parity: k % 2}
		for i, v := range still {
			code := 30 + 190*v + noise*rng.NormFloat64()
			if b.add != nil {
				code += b.add(k, i%720, i/720)
			}
			f.Y[i] = uint8(max(0, min(255, math.Round(code))))
		}
		fields[k] = f
	}
	return Input{
		Display: p, Stack: analyse.Add(fields), Fields: fields, Registration: b.reg, Pixels: b.pixels, Border: int(b.white),
		Levels: analyse.Levels{Black: 30, White: 220, Saturation: math.NaN()},
	}
}

func rngOf(seed uint64) *rand.Rand { return rand.New(rand.NewPCG(seed, 9)) }

// 20 log10(190/sigma) with sigma of the noise put in, rounding's 1/12 added; rms by gonum's stat over
// draws of the same source. Tolerance 0.15 dB: 2 % of the rms.
func TestSNR(t *testing.T) {
	for _, sigma := range []float64{0.6, 1, 2, 4, 8} {
		for _, fields := range []int{1, 2, 6} {
			b := newBench(t, "attr-256x192-50")
			rng := rngOf(uint64(10 * sigma))
			var drawn []float64
			for range 20000 {
				drawn = append(drawn, sigma*rng.NormFloat64())
			}
			want := 20 * math.Log10(190/math.Hypot(stat.StdDev(drawn, nil), 1/math.Sqrt(12)))
			got := Measure(b.capture(fields, sigma, rng)).SNRdB
			if got == nil || math.Abs(*got-want) > 0.15 {
				t.Errorf("sigma %v, %d fields: %v, want %.2f dB", sigma, fields, show(got), want)
			}
		}
	}
}

// Rounding alone: 20 log10(219 sqrt 12) = 57.60 dB at 219 codes of white less black.
func TestSNRCeiling(t *testing.T) {
	b := newBench(t, "attr-256x192-50")
	in := b.capture(2, 0.05, rngOf(1))
	in.Levels.Black, in.Levels.White = 16, 235
	if got := Measure(in).SNRdB; got == nil || math.Abs(*got-57.60) > 0.01 {
		t.Errorf("%v, want 57.60 dB", show(got))
	}
}

// One pole: 1 - exp(-2 pi B t), rise time ln 9/(2 pi B) = 0.3497/B. Brick wall: 1/2 + Si(2 pi B t)/pi, rise
// time 0.4458/B, overshoot 8.95 %. Both worked out for continuous time; the integral of the sine by gonum.
// Tolerance: 4 ns, a twentieth of a sample, or 3 %, and twice that for the one pole, whose corner lies
// past half the sampling frequency; 1 % of overshoot.
func TestRiseTime(t *testing.T) {
	const sample = 1e9 / 13.5e6
	sinc := func(x float64) float64 {
		if x == 0 {
			return 1
		}
		return math.Sin(x) / x
	}
	for _, c := range []struct {
		name       string
		mhz        float64
		rise, over float64
		tol        float64
	}{
		{"one pole", 3.5, 100, 0, 2}, {"one pole", 2.5, 140, 0, 2}, {"one pole", 1.75, 200, 0, 2},
		{"brick wall", 5.75, 77.5, 8.95, 1}, {"brick wall", 4, 111.4, 8.95, 1},
	} {
		for _, name := range []string{"attr-256x192-50", "text-40x25-60"} {
			b := newBench(t, name)
			w := 2 * math.Pi * c.mhz * 1e-3 // rad a ns
			if c.name == "one pole" {
				b.edge = func(x float64) float64 { return max(0, 1-math.Exp(-w*x*sample)) }
			} else {
				// Tabled, 1/64 sample apart.
				table := make([]float64, 800*64)
				for i := 1; i < len(table); i++ {
					lo, hi := w*sample*float64(i-1)/64, w*sample*float64(i)/64
					table[i] = table[i-1] + quad.Fixed(sinc, lo, hi, 3, nil, 0)/math.Pi
				}
				b.edge = func(x float64) float64 {
					at := min(math.Abs(x)*64, float64(len(table)-2))
					i := int(at)
					v := table[i] + (at-float64(i))*(table[i+1]-table[i])
					return 0.5 + math.Copysign(v, x)
				}
			}
			out := Measure(b.capture(6, 1, rngOf(2)))
			if out.RiseNs == nil || math.Abs(*out.RiseNs-c.rise) > c.tol*max(4, 0.03*c.rise) {
				t.Errorf("%s, %v MHz, %s: rise %v, want %v ns", c.name, c.mhz, name, show(out.RiseNs), c.rise)
			}
			if out.OvershootPct == nil || math.Abs(*out.OvershootPct-c.over) > 1 {
				t.Errorf("%s, %v MHz, %s: overshoot %v, want %v %%", c.name, c.mhz, name, show(out.OvershootPct), c.over)
			}
		}
	}
}

// A sine of the mains on every line, rolling: its peak to peak over white less black.
func TestHum(t *testing.T) {
	for _, c := range []struct{ percent, factor, tol float64 }{{0, 1, 0.15}, {0.5, 1, 0.15}, {2, 1, 0.2}, {5, 2, 0.4}} {
		b := newBench(t, "attr-256x192-50")
		b.add = func(field, _, y int) float64 {
			at := float64(y)/b.p.LineHz() + float64(field)/b.p.FieldHz()
			return 190 * c.percent / 200 * math.Sin(2*math.Pi*50*c.factor*at+1)
		}
		out := Measure(b.capture(4, 2, rngOf(3)))
		if out.HumPct == nil || math.Abs(*out.HumPct-c.percent) > c.tol {
			t.Errorf("%v %% of %v x 50 Hz: %v", c.percent, c.factor, show(out.HumPct))
		}
	}
}

// A sine of two or eight pixels' length on the whole picture.
func TestFixedBars(t *testing.T) {
	for _, c := range []struct{ percent, pixels float64 }{{0, 8}, {1, 8}, {2, 4}, {3, 8}} {
		b := newBench(t, "attr-256x192-50")
		b.add = func(_, x, _ int) float64 {
			return 190 * c.percent / 200 * math.Sin(2*math.Pi*(float64(x)-b.reg.OriginX)/b.reg.PitchX/c.pixels)
		}
		out := Measure(b.capture(4, 2, rngOf(4)))
		if out.FixedBarsPct == nil || math.Abs(*out.FixedBarsPct-c.percent) > 0.1+0.1*c.percent {
			t.Errorf("%v %% of %v pixels: %v", c.percent, c.pixels, show(out.FixedBarsPct))
		}
	}
}

func TestHueAndSaturation(t *testing.T) {
	b := newBench(t, "attr-256x192-50")
	in := b.capture(2, 1, rngOf(5))
	if out := Measure(in); out.HueErrorDeg != nil || out.SaturationPct != nil {
		t.Error("measured without a colour")
	}
	in.Levels.Saturation, in.Levels.HueDeg = 0.9, -4
	if out := Measure(in); out.HueErrorDeg == nil || *out.HueErrorDeg != -4 || *out.SaturationPct != 90 {
		t.Errorf("%v %v", show(out.HueErrorDeg), show(out.SaturationPct))
	}
}

// What the picture has no place for is nil, and odd input is borne.
func TestNotMeasured(t *testing.T) {
	b := newBench(t, "text-40x25-50")
	for i := range b.pixels {
		b.pixels[i] = b.white
	}
	in := b.capture(3, 1, rngOf(6))
	// The border's left end is an edge: erfc of 1.11 samples takes 149 ns (2 x 0.9062 of it), read at half pixels of 63 ns.
	if out := Measure(in); out.RiseNs == nil || math.Abs(*out.RiseNs-149) > 25 || out.SNRdB == nil {
		t.Errorf("a uniform screen: rise %v, SNR %v", show(out.RiseNs), show(out.SNRdB))
	}
	dark := in
	dark.Stack = &analyse.Stack{Width: 720, Height: in.Stack.Height, N: 3, Y: make([]float32, len(in.Stack.Y))}
	if out := Measure(dark); out.RiseNs != nil || out.OvershootPct != nil || out.Ghost != nil {
		t.Errorf("a uniform screen without an edge: rise %v", show(out.RiseNs))
	}
	for _, spoil := range []func(*Input){
		func(in *Input) { in.Display = nil }, func(in *Input) { in.Stack = nil }, func(in *Input) { in.Registration.OK = false },
		func(in *Input) { in.Pixels = in.Pixels[1:] }, func(in *Input) { in.Levels.White = math.NaN() }, func(in *Input) { in.Registration.PitchX = 0 },
	} {
		bad := in
		spoil(&bad)
		if out := Measure(bad); !reflect.DeepEqual(out, analyse.Signal{}) {
			t.Errorf("measured: %+v", out)
		}
	}
	bad := in
	bad.Fields, bad.Border = []*video.Field{nil, {}}, 99
	bad.Registration.OriginX, bad.Registration.OriginY = -500, 900
	Measure(bad)
	bad.Pixels = make([]uint8, len(in.Pixels))
	for i := range bad.Pixels {
		bad.Pixels[i] = 200
	}
	Measure(bad)
}

func show(v *float64) any {
	if v == nil {
		return "nothing"
	}
	return *v
}

// BenchmarkMeasure's ratio is to adding up the fields of the same capture.
func BenchmarkMeasure(b *testing.B) {
	in := newBench(b, "attr-256x192-50").capture(8, 2, rngOf(7))
	begin := time.Now()
	analyse.Add(in.Fields)
	adding := time.Since(begin).Seconds()
	for b.Loop() {
		Measure(in)
	}
	b.ReportMetric(b.Elapsed().Seconds()/float64(b.N)/adding, "x-adding")
}

// Half of the cells flicker by field, as a weak lane does, between black and white: the noise is the border's and
// the calm places', within 0.3 dB of 20 log10(190/sigma), rounding added.
func TestSNRBesideFlicker(t *testing.T) {
	for _, border := range []int{15, -1} { // known, and not
		b := newBench(t, "attr-256x192-50")
		b.add = func(field, x, y int) float64 {
			if col, row := (x-113)/16, (y-47)/8; col >= 0 && col < 30 && row >= 0 && row < 24 && (col+row)%2 == 0 && (field*7+col*3+row)%3 == 0 {
				return -190
			}
			return 0
		}
		in := b.capture(8, 2, rngOf(8))
		in.Border = border
		want := 20 * math.Log10(190/math.Hypot(2, 1/math.Sqrt(12)))
		if got := Measure(in).SNRdB; got == nil || math.Abs(*got-want) > 0.3 {
			t.Errorf("border %d: %v, want %.2f dB", border, show(got), want)
		}
	}
}

// A residual subcarrier that comes round in two or in four fields is no noise.
func TestSNRBesideCrawl(t *testing.T) {
	for _, fields := range []int{2, 4} {
		b := newBench(t, "attr-256x192-50")
		b.add = func(field, x, y int) float64 {
			return 12 * math.Cos(2*math.Pi*(0.3284*float64(x)+0.25*float64(y)+float64(field)/float64(fields)))
		}
		want := 20 * math.Log10(190/math.Hypot(2, 1/math.Sqrt(12)))
		if got := Measure(b.capture(10, 2, rngOf(9))).SNRdB; got == nil || math.Abs(*got-want) > 0.3 {
			t.Errorf("%d fields: %v, want %.2f dB", fields, show(got), want)
		}
	}
}

// Noise of which black keeps only the upper half: 10 codes about code 3, cut below 1. Within 0.7 dB: quantiles of
// rounded codes.
func TestSNRCutAtBlack(t *testing.T) {
	rng := rngOf(10)
	codes := make([]uint32, 256)
	for range 100000 {
		codes[int(max(1, math.Round(3+10*rng.NormFloat64())))]++
	}
	if !isCut(codes) {
		t.Error("the cut is not seen")
	}
	if got := 20 * math.Log10(whole(codes)/10); math.Abs(got) > 0.7 {
		t.Errorf("off by %.2f dB", got)
	}
	clear(codes)
	for range 100000 {
		codes[int(math.Round(120+10*rng.NormFloat64()))]++
	}
	if isCut(codes) {
		t.Error("whole noise counts as cut")
	}
}

// 20 log10(190 x 224/219 / sigma) with sigma of both colour differences, rounding's 1/12 added; none where a device gives no chroma.
func TestChromaSNR(t *testing.T) {
	for _, sigma := range []float64{1.5, 4, 9} {
		b, rng := newBench(t, "attr-256x192-50"), rngOf(3)
		in := b.capture(4, 1, rng)
		if got := Measure(in).ChromaSNRdB; got != nil {
			t.Errorf("no chroma: %.2f dB", *got)
		}
		for _, f := range in.Fields {
			f.ChromaWidth, f.Cb, f.Cr = 360, make([]uint8, 360*f.Height), make([]uint8, 360*f.Height)
			for i := range f.Cb {
				f.Cb[i], f.Cr[i] = uint8(math.Round(128+sigma*rng.NormFloat64())), uint8(math.Round(128+sigma*rng.NormFloat64()))
			}
		}
		want := 20 * math.Log10(190*224.0/219/math.Hypot(sigma, 1/math.Sqrt(12)))
		if got := Measure(in).ChromaSNRdB; got == nil || math.Abs(*got-want) > 0.25 {
			t.Errorf("sigma %v: %v, want %.2f dB", sigma, show(got), want)
		}
	}
}
