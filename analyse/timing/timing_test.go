package timing

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"gonum.org/v1/gonum/stat"

	"backporch/analyse"
	"backporch/video"
)

// picture is a machine-like picture of continuous coordinates, in codes: blanking edges at
// the ends of the line, a border, a paper with seeded marks 4 samples wide. Edges are
// smoothed over some 3 samples. Lines from 288 to 312 are blanking.
type picture struct {
	marks [][]uint8 // a row of 8 lines: marks of 4 samples
	paper float64
	edge  float64 // of the border, codes
}

func newPicture(rng *rand.Rand) *picture {
	p := &picture{marks: make([][]uint8, 24), paper: 180, edge: 100}
	for r := range p.marks {
		p.marks[r] = make([]uint8, 120)
		for i := range p.marks[r] {
			if rng.IntN(4) == 0 && r%3 > 0 {
				p.marks[r][i] = 1
			}
		}
	}
	return p
}

// at is the code at sample x of machine line y, 0 to 311.
func (p *picture) at(x float64, y int) float64 {
	const w = 1.3
	box := func(a, b, v float64) float64 {
		return v * (1/(1+math.Exp(-(x-a)/w*2)) - 1/(1+math.Exp(-(x-b)/w*2)))
	}
	if y >= 288 || y < 0 {
		return 16
	}
	v := 16 + box(14, 708, p.edge)
	if y < 48 || y >= 240 {
		return v
	}
	v += box(113, 607, p.paper-p.edge)
	row := p.marks[(y-48)/8]
	for i := max(0, int(x-113)/4-3); i < min(len(row), int(x-113)/4+4); i++ {
		if row[i] == 1 && (y-48)%8 < 6 {
			v += box(113+4*float64(i), 117+4*float64(i), 60-p.paper)
		}
	}
	return v
}

// capture makes n fields; right gives a line's displacement, down a field's first line.
func (p *picture) capture(n int, noise float64, rng *rand.Rand, right func(field, y int) float64, down func(field int) int) []*video.Field {
	fields := make([]*video.Field, n)
	for k := range fields {
		f := &video.Field{Width: 720, Height: 288, Frame: k / 2, Parity: k % 2, Time: time.Duration(k) * 20 * time.Millisecond}
		f.Y = make([]uint8, 720*288)
		d := 0
		if down != nil {
			d = down(k)
		}
		for y := range 288 {
			shift := 0.0
			if right != nil {
				shift = right(k, y)
			}
			line := ((y-d)%312 + 312) % 312
			for x := range 720 {
				v := p.at(float64(x)-shift, line)
				f.Y[y*720+x] = uint8(max(1, min(254, math.Round(v+noise*rng.NormFloat64()))))
			}
		}
		fields[k] = f
	}
	return fields
}

func source(seed uint64) *rand.Rand { return rand.New(rand.NewPCG(seed, 7)) }

func options() Options { return Options{Rate: 25, Standard: video.Std625} }

func TestStillPictureIsLocked(t *testing.T) {
	rng := source(1)
	for _, noise := range []float64{0, 0.4, 1, 3, 8, 15} {
		s := Measure(newPicture(rng).capture(10, noise, rng, nil, nil), options())
		if s.State != analyse.Locked || s.RollLinesPerS == nil || *s.RollLinesPerS != 0 {
			t.Errorf("noise %v: %+v", noise, s)
			continue
		}
		// What noise leaves of the jitter: below a tenth of the bound at which a picture counts as unstable.
		if s.JitterNs == nil || *s.JitterNs > 3.7 {
			t.Errorf("noise %v: jitter %v", noise, s.JitterNs)
		}
		if noise > 0 && s.SnowShare == nil {
			t.Errorf("noise %v: no snow share", noise)
		}
	}
}

// Jitter put in comes out in ns: sigma in samples x 74.07 ns (13.5 MHz, BT.601), the rms taken by gonum's
// stat over the displacements that were used. Tolerance: 6 %, and the error of noise; beyond a sample, where the
// picture counts as unstable anyhow, 20 %: lines that noise hides are left out.
func TestJitterIsRecovered(t *testing.T) {
	rng := source(2)
	for _, noise := range []float64{0.5, 2, 6} {
		for _, sigma := range []float64{0.03, 0.1, 0.3, 0.8, 2} {
			var used []float64
			fields := newPicture(rng).capture(12, noise, rng, func(_, _ int) float64 {
				d := sigma * rng.NormFloat64()
				used = append(used, d)
				return d
			}, nil)
			s := Measure(fields, options())
			want := stat.StdDev(used, nil) * 1000 / 13.5
			if s.JitterNs == nil {
				t.Errorf("noise %v, sigma %v: not measured", noise, sigma)
				continue
			}
			if math.Abs(*s.JitterNs-want) > map[bool]float64{true: 0.2, false: 0.06}[sigma > 1]*want+0.4*noise {
				t.Errorf("noise %v, sigma %v: %.2f ns, want %.2f", noise, sigma, *s.JitterNs, want)
			}
			if wantState := map[bool]analyse.SyncState{true: analyse.Unstable, false: analyse.Locked}[sigma > 0.5]; s.State != wantState {
				t.Errorf("noise %v, sigma %v: %s, tear %v", noise, sigma, s.State, *s.TearPx)
			}
		}
	}
}

func TestRollIsRecovered(t *testing.T) {
	rng := source(3)
	for _, step := range []int{1, -2, 7, 40, -90} {
		s := Measure(newPicture(rng).capture(10, 2, rng, nil, func(k int) int { return step * k }), options())
		if want := float64(step) * 50; s.RollLinesPerS == nil || math.Abs(*s.RollLinesPerS-want) > 0.02*math.Abs(want) {
			t.Errorf("%d lines a field: %v", step, s.RollLinesPerS)
		}
		if s.State != analyse.NoLock {
			t.Errorf("%d lines a field: %s", step, s.State)
		}
	}
}

// A drift of a line in ten fields: 5 lines a second, seen as single steps.
func TestSlowDriftIsNotLocked(t *testing.T) {
	rng := source(4)
	s := Measure(newPicture(rng).capture(40, 2, rng, nil, func(k int) int { return k / 10 }), options())
	if s.State == analyse.Locked || s.RollLinesPerS == nil || *s.RollLinesPerS <= 0 {
		t.Errorf("%+v", s)
	}
}

func TestTearIsRecovered(t *testing.T) {
	rng := source(5)
	for _, noise := range []float64{1, 5} {
		for _, px := range []float64{2, 5.5, 20} {
			s := Measure(newPicture(rng).capture(8, noise, rng, func(k, y int) float64 {
				if at := 30 + 25*k; y >= at && y < at+24 {
					return px
				}
				return 0
			}, nil), options())
			if s.TearPx == nil || math.Abs(*s.TearPx-px) > 0.1*px+0.3 {
				t.Errorf("noise %v, %v samples: %v", noise, px, *s.TearPx)
			}
			if s.State != analyse.Unstable {
				t.Errorf("noise %v, %v samples: %s", noise, px, s.State)
			}
		}
	}
}

// The same in all fields, as when a weak sync pulls the top of the picture.
func TestStandingTear(t *testing.T) {
	rng := source(6)
	for _, px := range []float64{1.6, 4} {
		s := Measure(newPicture(rng).capture(6, 2, rng, func(_, y int) float64 {
			if y < 40 {
				return px
			}
			return 0
		}, nil), options())
		if s.TearPx == nil || math.Abs(*s.TearPx-px) > 0.3 || s.State != analyse.Unstable {
			t.Errorf("%v samples: %v, %s", px, s.TearPx, s.State)
		}
	}
}

func TestLinesWithoutPlaceAreNoLock(t *testing.T) {
	rng := source(7)
	s := Measure(newPicture(rng).capture(8, 3, rng, func(_, _ int) float64 { return 700 * rng.Float64() }, nil), options())
	if s.State != analyse.NoLock {
		t.Errorf("%+v", s)
	}
}

func plain(n int, code func(k, x, y int) uint8) []*video.Field {
	fields := make([]*video.Field, n)
	for k := range fields {
		f := &video.Field{Width: 720, Height: 288, Frame: k / 2, Parity: k % 2, Time: time.Duration(k) * 20 * time.Millisecond, Y: make([]uint8, 720*288)}
		for i := range f.Y {
			f.Y[i] = code(k, i%720, i/720)
		}
		fields[k] = f
	}
	return fields
}

func TestDevicePictures(t *testing.T) {
	rng := source(8)
	bars := []uint8{235, 210, 170, 145, 106, 81, 41, 16} // luma of BT.601 100 % bars
	clip := func(v float64) uint8 { return uint8(max(1, min(254, math.Round(v)))) }
	for _, c := range []struct {
		name    string
		fields  []*video.Field
		state   analyse.SyncState
		picture string
	}{
		{"black fill", plain(6, func(_, _, _ int) uint8 { return 16 }), analyse.NoSignal, "fill"},
		{"blue fill, one still", plain(1, func(_, _, _ int) uint8 { return 41 }), analyse.NoSignal, "fill"},
		{"bars", plain(6, func(_, x, _ int) uint8 { return bars[x/90] }), analyse.NoSignal, "bars"},
		{"snow", plain(8, func(_, _, _ int) uint8 { return clip(90 + 45*rng.NormFloat64()) }), analyse.NoSignal, "snow"},
		{"snow, one still", plain(1, func(_, _, _ int) uint8 { return clip(90 + 45*rng.NormFloat64()) }), analyse.NoSignal, "snow"},
		{"an open input, faint noise", plain(8, func(_, _, _ int) uint8 { return clip(21 + 2.3*rng.NormFloat64()) }), analyse.NoSignal, "blank"},
		{"a black screen with a dim border", plain(8, func(_, x, _ int) uint8 {
			if x < 12 || x >= 710 {
				return clip(16 + 2*rng.NormFloat64())
			}
			return clip(24 + 2*rng.NormFloat64())
		}), analyse.Locked, ""},
		{"a machine's uniform screen, no noise", plain(8, func(_, x, _ int) uint8 {
			if x < 12 || x >= 710 {
				return 16
			}
			return 200
		}), analyse.Locked, ""},
		{"a very noisy picture", newPicture(rng).capture(8, 30, rng, nil, nil), analyse.Locked, ""},
	} {
		s := Measure(c.fields, options())
		if s.Picture != c.picture || (s.State != c.state && c.name != "a very noisy picture") {
			t.Errorf("%s: %s %q, snow share %v", c.name, s.State, s.Picture, s.SnowShare)
		}
	}
	if s := Measure(nil, options()); s.State != analyse.NoSignal || s.JitterNs != nil {
		t.Errorf("no fields: %+v", s)
	}
}

func TestRepeatedDroppedFrozen(t *testing.T) {
	rng := source(9)
	fields := newPicture(rng).capture(24, 1, rng, nil, nil)
	copy(fields[6].Y, fields[4].Y)
	copy(fields[7].Y, fields[5].Y)
	for i := 10; i < 24; i++ {
		fields[i].Time += 80 * time.Millisecond // two frames of 25 a second
	}
	if s := Measure(fields, options()); s.Repeated != 1 || s.Dropped != 2 || s.State != analyse.Locked {
		t.Errorf("repeated %d, dropped %d, %s; want 1, 2, locked", s.Repeated, s.Dropped, s.State)
	}
	for i := 2; i < 24; i++ {
		copy(fields[i].Y, fields[i%2].Y)
	}
	if s := Measure(fields, options()); s.State != analyse.NoSignal || s.Picture != "frozen" || s.Repeated != 11 {
		t.Errorf("frozen: %s %q, repeated %d", s.State, s.Picture, s.Repeated)
	}
	o := options()
	o.InterFrame = true
	if s := Measure(fields, o); s.State != analyse.Locked || s.Repeated != 11 {
		t.Errorf("equal frames of a predicting codec: %s %q", s.State, s.Picture)
	}
}

func TestMeasureBearsAnything(t *testing.T) {
	for _, f := range []*video.Field{
		{}, {Width: 1, Height: 1, Y: []uint8{3}}, {Width: 16, Height: 16, Y: make([]uint8, 256)}, {Width: 17, Height: 300, Y: make([]uint8, 17*300)},
		{Width: 4000, Height: 16, Y: make([]uint8, 64000)}, {Width: 720, Height: 288, Y: nil},
	} {
		for i := range f.Y {
			f.Y[i] = uint8(i * 37)
		}
		Measure([]*video.Field{f, f, f, nil}, Options{})
		Measure([]*video.Field{f}, Options{Single: true})
	}
}

// BenchmarkMeasure's ratio is to reading every sample of the fields once.
func BenchmarkMeasure(b *testing.B) {
	rng := source(10)
	for _, c := range []struct {
		name   string
		jitter float64
	}{{"picture=still", 0}, {"picture=jittery", 1}} {
		fields := newPicture(rng).capture(100, 2, rng, func(_, _ int) float64 { return c.jitter * rng.NormFloat64() }, nil)
		b.Run(c.name, func(b *testing.B) {
			begin := time.Now()
			sum := 0
			for _, f := range fields {
				for _, v := range f.Y {
					sum += int(v)
				}
			}
			read := time.Since(begin).Seconds() / float64(len(fields))
			for b.Loop() {
				if s := Measure(fields, options()); s.JitterNs == nil {
					b.Fatal("no jitter")
				}
			}
			perField := b.Elapsed().Seconds() / float64(b.N) / float64(len(fields))
			b.ReportMetric(perField*1e3, "ms/field")
			b.ReportMetric(perField/read, "x-read")
			_ = sum
		})
	}
}

func figure(v *float64) string {
	if v == nil {
		return "not measured"
	}
	return fmt.Sprintf("%.3g", *v)
}
