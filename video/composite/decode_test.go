package composite

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"backporch/video"
)

// near compares the bars in a field with the codes of ITU-R BT.601 (equations of
// 3.5, which give 162/44/142 for 75 % yellow and so on).
func nearBars(t *testing.T, f *video.Field, part, codes, degrees float64) {
	t.Helper()
	for i, colour := range bars(part) {
		want := [3]float64{}
		want[0], want[1], want[2] = colour.Codes()
		var got [3]float64
		n := 0.0
		for y := 100; y < 180; y++ {
			for x := 360 - 4*barWidth + i*barWidth + 30; x < 360-4*barWidth+i*barWidth+56; x += 2 {
				got[0] += float64(f.Y[y*f.Width+x])
				got[1] += float64(f.Cb[y*f.ChromaWidth+x/2])
				got[2] += float64(f.Cr[y*f.ChromaWidth+x/2])
				n++
			}
		}
		for k := range got {
			got[k] /= n
			if math.Abs(got[k]-want[k]) > codes {
				t.Errorf("bar %d: %.1f, want %.1f (Y, Cb, Cr: number %d)", i, got[k], want[k], k)
			}
		}
		if colour.Saturation() > 0.01 {
			if d := turn(video.YUVOfCodes(got[0], got[1], got[2]).Hue() - colour.Hue()); math.Abs(d) > degrees {
				t.Errorf("bar %d: hue off by %.2f degrees", i, d)
			}
		}
	}
}

func TestDecodeBars(t *testing.T) {
	long(t)
	machine := func(s video.Standard, clock float64, pixels, lines int) Raster {
		return Raster{Standard: s, PixelHz: clock, LinePixels: pixels, Lines: lines}
	}
	rasters := map[string]Raster{
		"625":             broadcast(video.Std625),
		"525":             broadcast(video.Std525),
		"525 with setup":  setup(broadcast(video.Std525)),
		"312 lines":       machine(video.Std625, 7e6, 448, 312),
		"312, other line": machine(video.Std625, 7.881988e6, 504, 312),
		"262 lines":       machine(video.Std525, 7.056e6, 448, 262),
		"263 lines":       machine(video.Std525, 8.181817e6, 520, 263),
	}
	for name, r := range rasters {
		for _, o := range []Options{{}, {DelayLine: true}, {Comb: true}, {ChromaHz: 0.6e6, LumaHz: 4.5e6, Pull: 0.05}} {
			t.Run(fmt.Sprintf("%s comb=%v delay=%v", name, o.Comb, o.DelayLine), func(t *testing.T) {
				o.Standard, o.Setup = r.Standard, r.Setup
				e := newEncoder(t, r)
				drawBars(e, r, bars(0.75))
				fields, d := decodeFields(t, o, e, 8, nil)
				if s := d.Status(); !s.Locked || !s.Field || !s.Colour || math.Abs(s.Gain-1) > 0.01 {
					t.Errorf("status %+v", s)
				}
				if want := 7; len(fields) < want {
					t.Fatalf("%d fields", len(fields))
				}
				nearBars(t, fields[len(fields)-1], 0.75, 2, 1)
				nearBars(t, fields[len(fields)-2], 0.75, 2, 1)
			})
		}
	}
}

// What an analogue path may do to the signal is put right by gain, clamp, flywheel and
// burst lock; ranges: common practice, no source.
func TestDecodeBarsOfAnImperfectSource(t *testing.T) {
	long(t)
	for _, s := range []video.Standard{video.Std625, video.Std525} {
		r := Raster{Standard: s, PixelHz: 7e6 * 1.002, LinePixels: 448, Lines: 312, FieldSync: SerratedPulse,
			SubcarrierHz: s.Scan().SubcarrierHz * (1 + 100e-6)}
		if s == video.Std525 {
			r.PixelHz, r.Lines = 7.056e6, 262
		}
		e := newEncoder(t, r)
		drawBars(e, r, bars(0.75))
		fields, d := decodeFields(t, Options{Standard: s}, e, 10, func(x []float32) {
			for i := range x {
				x[i] = x[i]*0.6 + 120
			}
		})
		if math.Abs(d.Status().Gain-1/0.6) > 0.02 {
			t.Errorf("gain %.3f, want 1.667", d.Status().Gain)
		}
		if math.Abs(d.Status().LineHz-r.LineHz()) > 0.5 {
			t.Errorf("%.2f lines a second, want %.2f", d.Status().LineHz, r.LineHz())
		}
		nearBars(t, fields[len(fields)-1], 0.75, 2, 1)
	}
}

// A vertical edge lies where the line-locked measure has it: (132+n)/13.5 us after 0H at
// the standard's line, 122 at 525/60 (ITU-R BT.601); in a line of another length in proportion.
func TestEdgeLiesOnTheGrid(t *testing.T) {
	long(t)
	rng := rand.New(rand.NewPCG(1, 2))
	for range 12 {
		s := []video.Standard{video.Std625, video.Std525}[rng.IntN(2)]
		r := Raster{Standard: s, PixelHz: 7e6 * (1 + 0.004*(rng.Float64()-0.5)), LinePixels: 448, Lines: 312,
			LumaHz: 4e6 + 3e6*rng.Float64(), FieldSync: FieldSync(rng.IntN(3))}
		if s == video.Std525 {
			r.PixelHz, r.Lines = 7.056e6, 262
		}
		o := Options{Standard: s, LumaHz: 4.5e6 + 1.5e6*rng.Float64(), ShiftX: 8 * (rng.Float64() - 0.5), ScaleX: 0.004 * (rng.Float64() - 0.5), Comb: rng.IntN(2) == 0}
		e := newEncoder(t, r)
		first := 75 + 10*rng.Float64() // pixel periods after 0H
		pixels := make([]uint8, 200)
		for n := 20; n < r.Lines-5; n++ {
			e.SetLine(n, first, pixels, []video.YUV{{Y: 0.8}})
		}
		fields, _ := decodeFields(t, o, e, 6, nil)
		f := fields[len(fields)-1]
		samples := float64(s.Scan().LineSamples) / 448
		for k, at := range []float64{first, first + 200} {
			want := o.Place(at * samples)
			row := make([]float32, f.Width)
			for y := 100; y < 160; y++ {
				for x, v := range f.Line(y) {
					row[x] += float32(v) / 60
				}
			}
			got := cross(t, row, 16+0.4*219, int(want)-12, k == 0)
			tol := 0.05 // of a sample: 4 ns
			if o.Comb {
				// Where a line is not a half number of cycles longer than the one before, a comb
				// adds part of the edge turned by a quarter cycle; 0.13 to 0.18 of a sample seen.
				tol = 0.25
			}
			if math.Abs(got-want) > tol {
				t.Errorf("%v, edge %d at %.3f, want %.3f (%+v)", s, k, got, want, o)
			}
		}
	}
}

// Lines too: the field's line n is line 23+n of the standard's count.
func TestLineLiesInTheFrame(t *testing.T) {
	long(t)
	for _, s := range []video.Standard{video.Std625, video.Std525} {
		for _, sync := range []FieldSync{LongPulse, SerratedPulse, Equalised} {
			r := Raster{Standard: s, PixelHz: 7e6, LinePixels: 448, Lines: 312, FieldSync: sync}
			if s == video.Std525 {
				r.PixelHz, r.Lines = 7.056e6, 262
			}
			e := newEncoder(t, r)
			pixels := make([]uint8, 300)
			e.SetLine(100, 90, pixels, []video.YUV{{Y: 1}})
			fields, _ := decodeFields(t, Options{Standard: s, ShiftY: 2}, e, 5, nil)
			f := fields[len(fields)-1]
			want := 100 - FirstLine(s) - 2
			for y := range f.Height {
				if lit := f.Y[y*f.Width+360] > 120; lit != (y == want) {
					t.Errorf("%v, sync %d: line %d lit %v", s, sync, y, lit)
				}
			}
		}
	}
}

// Interlaced fields are told apart; lines of a frame go where they belong.
func TestInterlacedParity(t *testing.T) {
	r := broadcast(video.Std625)
	e := newEncoder(t, r)
	pixels := make([]uint8, 600)
	white := []video.YUV{{Y: 1}}
	e.SetLine(99, 150, pixels, white)  // line 100, first field
	e.SetLine(412, 150, pixels, white) // line 413 = 313 + 100, second
	fields, _ := decodeFields(t, Options{Standard: video.Std625}, e, 4, nil)
	for _, f := range fields[4:] {
		lit := -1
		for y := range f.Height {
			if f.Y[y*f.Width+360] > 120 {
				lit = y
			}
		}
		// Lines 23 and 336 are the fields' first (BT.1700 count): 100 is number 77, 413 too.
		if lit != 77 {
			t.Errorf("parity %d: lit line %d, want 77", f.Parity, lit)
		}
	}
	if n := len(fields); fields[n-1].Parity == fields[n-2].Parity {
		t.Error("both fields have one parity")
	}
}

// Cut into any pieces, a waveform gives the same fields.
func TestPiecesDoNotMatter(t *testing.T) {
	r := Raster{Standard: video.Std625, PixelHz: 7e6, LinePixels: 448, Lines: 312}
	e := newEncoder(t, r)
	drawBars(e, r, bars(1))
	var x []float32
	for range 4 {
		x = append(x, e.Encode(nil)...)
	}
	decode := func(pieces func() int) (out []*video.Field) {
		d, err := NewDecoder(Options{Standard: video.Std625, Rate: e.Rate()})
		if err != nil {
			t.Fatal(err)
		}
		// The start judges levels by what it has: give both the same.
		d.Decode(x[:60000], func(f *video.Field) { out = append(out, f) })
		for rest := x[60000:]; len(rest) > 0; {
			n := min(pieces(), len(rest))
			d.Decode(rest[:n], func(f *video.Field) { out = append(out, f) })
			rest = rest[n:]
		}
		return out
	}
	rng := rand.New(rand.NewPCG(3, 4))
	a, b := decode(func() int { return 1 << 30 }), decode(func() int { return 1 + rng.IntN(5000) })
	if len(a) != len(b) || len(a) < 3 {
		t.Fatalf("%d and %d fields", len(a), len(b))
	}
	for i := range a {
		if string(a[i].Y) != string(b[i].Y) || string(a[i].Cb) != string(b[i].Cb) {
			t.Errorf("field %d differs", i)
		}
	}
}

// Without a burst there is no colour; without field sync the picture rolls; without
// anything there is no lock; none of it stops the fields.
func TestWhatIsMissing(t *testing.T) {
	long(t)
	r := Raster{Standard: video.Std625, PixelHz: 7e6, LinePixels: 448, Lines: 312}
	rng := rand.New(rand.NewPCG(5, 6))
	t.Run("burst", func(t *testing.T) {
		e := newEncoder(t, r)
		clear(e.u)
		clear(e.v)
		fields, d := decodeFields(t, Options{Standard: video.Std625}, e, 5, nil)
		if d.Status().Colour || !d.Status().Locked {
			t.Errorf("%+v", d.Status())
		}
		for _, v := range fields[len(fields)-1].Cb {
			if v != 128 {
				t.Fatalf("Cb %d", v)
			}
		}
	})
	t.Run("field sync", func(t *testing.T) {
		e := newEncoder(t, r)
		pixels := make([]uint8, 300)
		e.SetLine(150, 90, pixels, []video.YUV{{Y: 1}})
		fields, d := decodeFields(t, Options{Standard: video.Std625}, e, 12, func(x []float32) { clear(x[:int(e.ZeroH(5))]) })
		if d.Status().Field || !d.Status().Locked {
			t.Errorf("%+v", d.Status())
		}
		places := map[int]bool{}
		for _, f := range fields[4:] {
			for y := range f.Height {
				if f.Y[y*f.Width+360] > 120 {
					places[y] = true
				}
			}
		}
		if len(places) < 3 { // 312 lines against 312.5: half a line a field
			t.Errorf("the line stood at %v: no roll", places)
		}
	})
	for _, mv := range []float64{0, 1, 60} {
		t.Run(fmt.Sprintf("signal, noise %v mV", mv), func(t *testing.T) {
			e := newEncoder(t, r)
			lost := 0
			fields, d := decodeFields(t, Options{Standard: video.Std625}, e, 12, func(x []float32) {
				for i := range x {
					x[i] = float32(mv * rng.NormFloat64())
				}
			})
			if len(fields) < 9 {
				t.Errorf("%d fields", len(fields))
			}
			if !d.Status().Locked {
				lost++
			}
			if mv < 10 && lost == 0 {
				t.Errorf("locked: %+v", d.Status())
			}
		})
	}
}

// A stretch of samples that are no numbers is got over.
func TestRecovers(t *testing.T) {
	r := Raster{Standard: video.Std625, PixelHz: 7e6, LinePixels: 448, Lines: 312}
	e := newEncoder(t, r)
	drawBars(e, r, bars(0.75))
	unit := 0
	fields, _ := decodeFields(t, Options{Standard: video.Std625}, e, 14, func(x []float32) {
		if unit++; unit == 4 {
			for i := range x[100000:200000] {
				x[100000+i] = []float32{float32(math.NaN()), float32(math.Inf(1)), -1e30}[i%3]
			}
		}
	})
	nearBars(t, fields[len(fields)-1], 0.75, 2, 1)
}

// Late chroma is late by so much: a colour edge measured by Cr against luma.
func TestChromaDelay(t *testing.T) {
	long(t)
	place := func(delay float64) (luma, chroma float64) {
		r := Raster{Standard: video.Std625, PixelHz: 7e6, LinePixels: 448, Lines: 312, ChromaDelay: delay}
		e := newEncoder(t, r)
		pixels := make([]uint8, 200)
		for i := range pixels {
			pixels[i] = uint8(i / 100)
		}
		for n := 20; n < 300; n++ {
			e.SetLine(n, 120, pixels, []video.YUV{{Y: 0.3}, {Y: 0.6, V: 0.3}})
		}
		fields, _ := decodeFields(t, Options{Standard: video.Std625, DelayLine: true}, e, 6, nil)
		f := fields[len(fields)-1]
		y, cr := make([]float32, f.Width), make([]float32, f.ChromaWidth)
		for line := 100; line < 160; line++ {
			for x := range y {
				y[x] += float32(f.Y[line*f.Width+x]) / 60
				cr[x/2] += float32(f.Cr[line*f.ChromaWidth+x/2]) / 120
			}
		}
		_, _, top := video.YUV{V: 0.3}.Codes()
		at := 292 // 220 pixel periods after 0H are sample 292.3
		return cross(t, y, 16+0.45*219, at-8, true), 2 * cross(t, cr, (128+top)/2, at/2-8, true)
	}
	luma, chroma := place(0)
	if d := (chroma - luma) / 13.5e-3; math.Abs(d) > 15 {
		t.Errorf("chroma %.0f ns late, want 0", d)
	}
	luma, chroma = place(120e-9)
	if d := (chroma - luma) / 13.5e-3; math.Abs(d-120) > 15 {
		t.Errorf("chroma %.0f ns late, want 120", d)
	}
}

// FuzzDecode feeds anything at all.
func FuzzDecode(f *testing.F) {
	f.Add([]byte{0, 1, 2, 3}, uint16(100))
	f.Fuzz(func(t *testing.T, data []byte, repeat uint16) {
		d, err := NewDecoder(Options{Standard: video.Std525, Rate: 14318181.8})
		if err != nil {
			t.Fatal(err)
		}
		x := make([]float32, 0, 60000)
		for range int(repeat)%300 + 1 {
			for _, b := range data {
				if len(x) < cap(x) {
					x = append(x, float32(b)*4-300)
				}
			}
		}
		for range 12 {
			d.Decode(x, func(*video.Field) {})
		}
		nan := []float32{float32(math.NaN()), float32(math.Inf(1)), -1e30}
		for range 30000 {
			d.Decode(nan, func(*video.Field) {})
		}
	})
}
