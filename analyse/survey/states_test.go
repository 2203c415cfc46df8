package survey

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"backporch/analyse"
	"backporch/video"
	"backporch/video/display"
)

// flash is the phase of flashing cells in field k of a machine that was caught so far into its period.
func flash(k, begun int) bool { return (k+begun)/display.FlashFields&1 == 1 }

// Flash is known whichever way round a frame's two fields come, and where the first field is apart; what changes at random,
// or faster than flash does, or once for good, is none.
func TestLasting(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 9))
	for begun := range 2 * display.FlashFields {
		for name, order := range map[string]func(k int) int{
			"in order": func(k int) int { return k },
			"swapped":  func(k int) int { return k ^ 1 },
		} {
			if !lasting(62, func(k int) bool { return flash(order(k), begun) }) {
				t.Errorf("%s, begun %d: no flash", name, begun)
			}
		}
	}
	if !lasting(62, func(k int) bool { return flash(k, 6) != (k == 0) }) {
		t.Error("with its first field apart: no flash")
	}
	noise := make([]bool, 62)
	for k := range noise {
		noise[k] = r.IntN(2) == 1
	}
	for name, now := range map[string]func(k int) bool{
		"noise":             func(k int) bool { return noise[k] },
		"every other field": func(k int) bool { return k&1 == 1 },
		"every third field": func(k int) bool { return k%3 == 0 },
		"a change for good": func(k int) bool { return k >= 40 },
	} {
		if lasting(62, now) {
			t.Errorf("%s is flash", name)
		}
	}
}

// Cells that flash are found beside others that crawl by more than twice as much power; without flash nothing is.
func TestFlashUnderCrawl(t *testing.T) {
	const width, height, fields = 80, 40, 40
	draw := func(flashing bool) ([]*video.Field, *analyse.Stack) {
		r := rand.New(rand.NewPCG(8, 1))
		var out []*video.Field
		for k := range fields {
			f := &video.Field{Y: make([]uint8, width*height), Width: width, Height: height, Parity: k & 1}
			for i := range f.Y {
				v := 100 + 2*r.NormFloat64()
				switch {
				case i/width < height/8 && flashing && flash(k, 5):
					v += 60
				case i/width >= height*3/4: // a quarter of a cycle on by line, a third by field
					v += 45 * math.Sin(2*math.Pi*(float64(i%width)/3.7+float64(i/width)/4+float64(k)/3.1))
				}
				f.Y[i] = uint8(max(0, min(255, math.Round(v))))
			}
			out = append(out, f)
		}
		return out, analyse.Add(out)
	}
	list, all := draw(true)
	most, fewer := splitFlash(list, all)
	if len(most)+len(fewer) != fields || len(fewer) == 0 {
		t.Fatalf("parted in %d and %d", len(most), len(fewer))
	}
	phase := flash(slices.Index(list, fewer[0]), 5)
	for k, f := range list {
		if slices.Contains(fewer, f) != (flash(k, 5) == phase) {
			t.Errorf("field %d is in the wrong phase", k)
		}
	}
	list, all = draw(false)
	if _, fewer := splitFlash(list, all); len(fewer) > 0 {
		t.Errorf("%d fields flash where nothing does", len(fewer))
	}
}

// The middle value is what sorting gives.
func TestMedian(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 7))
	for range 200 {
		v := make([]float64, 1+r.IntN(130))
		for i := range v {
			v[i] = math.Round(8 * r.NormFloat64()) // many are equal
		}
		sorted := slices.Sorted(slices.Values(v))
		if got := median(v, make([]float64, len(v))); got != sorted[len(v)/2] {
			t.Fatalf("median of %v is %v, sorting gives %v", v, got, sorted[len(v)/2])
		}
	}
}

// What turns once, as a whole and in whole cells, is flash; thin strokes must turn twice. Memory that decays, sample by sample, is none, whether
// in whole rows of cells or in strokes.
func TestFlashOfASingleTurn(t *testing.T) {
	const width, height = 160, 60
	solid := func(i int) bool { return i/width >= 8 && i/width < 32 && i%width >= 16 && i%width < 96 }
	strokes := func(i int) bool { return solid(i) && i%width%12 == 0 }
	whole := func(k, begun, _ int) bool { return flash(k, begun) }
	r := rand.New(rand.NewPCG(4, 4))
	at := make([]int, width*height) // when a sample decays, lines of four together
	for i := range at {
		if at[i] = 2 + r.IntN(20); i/width%4 > 0 {
			at[i] = at[i-width]
		}
	}
	decay := func(k, _, i int) bool { return k >= at[i] }
	for _, c := range []struct {
		name   string
		fields int
		in     func(i int) bool
		now    func(k, begun, i int) bool
		solid  bool // nearly all about each
		parted bool
	}{
		{"cells that turn once", 24, solid, whole, true, true},
		{"strokes that turn once", 24, strokes, whole, false, false},
		{"strokes that turn twice", 40, strokes, whole, false, true},
		{"cells that decay", 24, solid, decay, true, false},
		{"strokes that decay", 40, strokes, decay, false, false},
	} {
		for _, begun := range []int{1, 4} { // short of a turn by more than half
			noise := rand.New(rand.NewPCG(8, 1))
			var list []*video.Field
			for k := range c.fields {
				f := &video.Field{Y: make([]uint8, width*height), Width: width, Height: height, Parity: k & 1}
				for i := range f.Y {
					v := 100 + 2*noise.NormFloat64()
					if c.in(i) && c.now(k, begun, i) {
						v += 60
					}
					f.Y[i] = uint8(math.Round(v))
				}
				list = append(list, f)
			}
			all := analyse.Add(list)
			if part := movements(list, all).solid(); (part > solidFlash) != c.solid {
				t.Errorf("%s: %.2f of the samples about each move", c.name, part)
			}
			most, fewer := flashPhases(list, all)
			if (len(fewer) > 0) != c.parted {
				t.Errorf("%s, begun %d: parted in %d and %d", c.name, begun, len(most), len(fewer))
			}
			if !c.parted || len(fewer) == 0 {
				continue
			}
			phase := flash(slices.Index(list, fewer[0]), begun)
			for k, f := range list {
				if slices.Contains(fewer, f) != (flash(k, begun) == phase) {
					t.Errorf("%s, begun %d: field %d is in the wrong phase", c.name, begun, k)
				}
			}
		}
	}
}

// The part of samples about each that move, over seven to either side, and how much of what goes with a wave lies in samples that go with it.
func TestSolidAndTogether(t *testing.T) {
	var run, apart []int
	for k := range 300 {
		run, apart = append(run, 1000+k), append(apart, 1000+20*k)
	}
	if part := (&movement{moving: run}).solid(); part < 0.97 || part > 1 {
		t.Errorf("a run: %.3f", part)
	}
	if part := (&movement{moving: apart}).solid(); part != 0 {
		t.Errorf("samples by themselves: %.3f", part)
	}
	if part := (&movement{moving: []int{1, 8, 15, 22, 40}}).solid(); math.Abs(part-6.0/(14*5)) > 1e-12 {
		t.Errorf("three pairs that are seven apart, of five samples: %.4f", part)
	}
	// Four fields; the wave has the last two up. The first sample goes with it wholly, by 20; the second by 10 on the mean, and by half of its movement.
	wave := []bool{false, false, true, true}
	var fields []*video.Field
	for _, y := range [][]uint8{{50, 50}, {50, 60}, {70, 70}, {70, 60}} {
		fields = append(fields, &video.Field{Y: y})
	}
	g := &movement{moving: []int{0, 1}, step: 1}
	// Along the wave: 20² and 10²; the second's spread is 200, of which 100 are half.
	if part := g.together(fields, wave); math.Abs(part-400.0/500) > 1e-12 {
		t.Errorf("%.4f of the movement goes with the wave, want 0.8", part)
	}
}
