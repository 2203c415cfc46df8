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
