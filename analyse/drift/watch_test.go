package drift

import (
	"fmt"
	"math"
	"os"
	"testing"
	"time"

	"backporch/analyse/analysetest"
	"backporch/video"
	"backporch/video/display"
	"backporch/video/picture"
	"backporch/video/simulator"
	"backporch/video/simulator/simulatortest"
)

// simulated captures so many fields; the composite chain and the decoder give crawl, cross-colour
// and noise as a grabber has them.
func simulated(t testing.TB, n int, seed uint64, screen simulator.Screen, name string, faults ...string) []*video.Field {
	t.Helper()
	p := analysetest.Profile(t, name)
	sc := simulator.Scenario{Display: p, Seed: seed, Screen: screen, Fields: n}
	if p.Standard == video.Std525 {
		sc.Order = video.BottomFirst
	}
	return simulatortest.Fields(t, sc, faults...)
}

var (
	names   = []string{"attr-256x192-50", "text-40x25-60", "text-40x25-50", "attr-256x192-60"}
	screens = []simulator.Screen{simulator.ScreenBars, simulator.ScreenListing, simulator.ScreenBoot, simulator.ScreenBusy, simulator.ScreenText}
)

// taught is a watcher that has seen a clean capture, and the capture.
func taught(t testing.TB, n int, seed uint64, screen simulator.Screen, name string) (*Watcher, []*video.Field) {
	t.Helper()
	good := simulated(t, n, seed, screen, name)
	w := New(Options{Standard: analysetest.Profile(t, name).Standard})
	for i, f := range good {
		r := w.Look(f)
		if i < learnFields != (r.Kind == Learning) {
			t.Fatalf("field %d: %q", i, r.Kind)
		}
		if r.Kind != Learning && r.Kind != Good {
			t.Errorf("clean field %d: %s, %d of %d places, excess %d, %v", i, r.Kind, r.Blocks, r.Of, r.Excess, r.Where)
		}
	}
	return w, good
}

// Clean captures have no bad field, whatever they show; each field of a fault is one, and the field
// after it is good again.
func TestCleanAndFaulty(t *testing.T) {
	for k, name := range names {
		seed, screen := uint64(100+k), screens[k]
		t.Run(fmt.Sprintf("%s %s", name, screen), func(t *testing.T) {
			t.Parallel()
			w, good := taught(t, 200, seed, screen, name)
			p := analysetest.Profile(t, name)
			w.SetPicture(Rect{int(p.PitchX(720)*60) - 40, 40, int(p.PitchX(720) * float64(p.Width)), p.Height}) // near enough
			faults := []string{"data-bit-stuck:bit=3,level=1", "data-bit-stuck:bit=3,level=0", "cell-snow:share=0.002", "blank-picture"}
			if p.Kind == display.Attr {
				faults = append(faults, "colour-path:component=blue,level=0")
			}
			for _, fault := range faults {
				n := 0
				for _, f := range simulated(t, 2, seed, screen, name, fault) {
					if r := w.Look(f); r.Kind != Good {
						n++
					}
				}
				if n < 2 {
					t.Errorf("%s: %d of 2 fields found bad", fault, n)
				}
				for _, f := range good[len(good)-2:] {
					if r := w.Look(f); r.Kind != Good {
						t.Errorf("after %s a good field is %s", fault, r.Kind)
					}
				}
			}
		})
	}
}

// TestCleanForLong is for figures, not for every day: DRIFT_CLEAN="captures fields".
func TestCleanForLong(t *testing.T) {
	var captures, fields int
	if _, err := fmt.Sscan(os.Getenv("DRIFT_CLEAN"), &captures, &fields); err != nil {
		t.Skip("set DRIFT_CLEAN to how many captures of how many fields")
	}
	var total, bad int
	var tracker Tracker
	episodes := 0
	for k := range captures {
		seed, name, screen := uint64(5000+k), names[k%len(names)], screens[k/4%len(screens)]
		w := New(Options{Standard: analysetest.Profile(t, name).Standard})
		for i, f := range simulated(t, fields, seed, screen, name) {
			r := w.Look(f)
			if r.Kind != Learning {
				total++
			}
			if begins, _, _ := tracker.Add(r, i, f.Time); begins {
				episodes++
				t.Logf("%s %s seed %d, field %d: %s, %d places, excess %d, %v", name, screen, seed, i, r.Kind, r.Blocks, r.Excess, r.Where)
			}
			if r.Kind != Learning && r.Kind != Good {
				bad++
			}
		}
		tracker.End()
	}
	t.Logf("%d clean fields, %d bad, %d episodes", total, bad, episodes)
}

// changed copies a field with its luma through f.
func changed(in *video.Field, f func(x, y int, v uint8) uint8) *video.Field {
	out := *in
	out.Y = make([]uint8, len(in.Y))
	for i, v := range in.Y {
		out.Y[i] = f(i%in.Width, i/in.Width, v)
	}
	return &out
}

// moved copies a field n lines down.
func moved(in *video.Field, n int) *video.Field {
	return changed(in, func(x, y int, _ uint8) uint8 {
		y = ((y-n)%in.Height + in.Height) % in.Height
		return in.Y[y*in.Width+x]
	})
}

func TestKinds(t *testing.T) {
	w, good := taught(t, 140, 7, simulator.ScreenListing, "attr-256x192-50")
	last := good[len(good)-1]
	if r := w.Look(moved(last, 17)); r.Kind != LostLock || r.Shift != 17 {
		t.Errorf("17 lines down: %s, %d", r.Kind, r.Shift)
	}
	if r := w.Look(changed(last, func(_, _ int, _ uint8) uint8 { return 41 })); r.Kind == Good {
		t.Error("an even picture is good")
	}
	// The border alone, by a colour of the same chroma.
	w.SetPicture(Rect{60, 30, 600, 230})
	inside := func(x, y int) bool { return x >= 60 && x < 660 && y >= 30 && y < 260 }
	r := w.Look(changed(last, func(x, y int, v uint8) uint8 {
		if inside(x, y) {
			return v
		}
		return v/2 + 60
	}))
	if r.Kind != Border {
		t.Errorf("another border: %s, %d places", r.Kind, r.Blocks)
	}
	// The device repeats a frame.
	var kinds []Kind
	for range 10 {
		kinds = append(kinds, w.Look(good[len(good)-2]).Kind, w.Look(last).Kind)
	}
	if kinds[len(kinds)-1] != Frozen {
		t.Errorf("ten equal frames: %v", kinds)
	}
	if r := w.Look(&video.Field{}); r.Kind != NoSignal {
		t.Errorf("an empty field: %s", r.Kind)
	}
}

// Whatever a device shows instead of a signal is told within a quarter of a second, and that the signal is back.
func TestSignalGoes(t *testing.T) {
	for seed := uint64(20); seed < 25; seed++ {
		w, good := taught(t, 120, seed, simulator.ScreenListing, "attr-256x192-50")
		var r Reading
		for _, f := range simulated(t, 12, seed, simulator.ScreenListing, "attr-256x192-50", "no-signal") {
			r = w.Look(f)
		}
		if r.Kind != NoSignal && r.Kind != Frozen {
			t.Errorf("seed %d: after 12 fields without signal %s, %d of %d places", seed, r.Kind, r.Blocks, r.Of)
		}
		for _, f := range good[100:] {
			r = w.Look(f)
		}
		if r.Kind != Good {
			t.Errorf("seed %d: the signal is back and it is %s", seed, r.Kind)
		}
	}
}

// A change that stays is one episode, then learned; back to the old picture is not bad, for a place
// remembers its other state.
func TestLastingChange(t *testing.T) {
	w, good := taught(t, 140, 8, simulator.ScreenBoot, "attr-256x192-50")
	other := func(f *video.Field) *video.Field {
		return changed(f, func(x, y int, v uint8) uint8 {
			if x > 300 && x < 340 && y > 100 && y < 108 {
				return 255 - v
			}
			return v
		})
	}
	var tracker Tracker
	var ended []*Episode
	for i := range 300 {
		f := good[100+i%40]
		_, _, e := tracker.Add(w.Look(other(f)), i, f.Time)
		if e != nil {
			ended = append(ended, e)
		}
	}
	if len(ended) != 1 || ended[0].Kind != Changed || ended[0].First != 0 || tracker.Now() != nil {
		t.Fatalf("a lasting change: %d episodes, first %+v", len(ended), ended)
	}
	for i := range 40 {
		if r := w.Look(good[100+i]); r.Kind != Good {
			t.Fatalf("back again: %s", r.Kind)
		}
	}
}

// Values follow what is done to the fields, and a slow change is no event: a quarter less contrast over
// a minute.
func TestSlowDrift(t *testing.T) {
	w, good := taught(t, 140, 9, simulator.ScreenBars, "attr-256x192-50")
	var v Values
	for i := range 3000 {
		f := good[100+i%40]
		gain := 1 - 0.25*float64(i)/3000
		f = changed(f, func(_, _ int, v uint8) uint8 { return uint8(16 + gain*(float64(v)-16) + 0.5) })
		const turn = 12 * math.Pi / 180
		f.Cb, f.Cr = rotate(f.Cb, f.Cr, turn*float64(i)/3000)
		r := w.Look(f)
		if r.Kind != Good {
			t.Fatalf("field %d: %s, %d places", i, r.Kind, r.Blocks)
		}
		v = r.Values
	}
	if v.Gain == nil || math.Abs(*v.Gain-0.75) > 0.01 || math.Abs(*v.Black) > 1.5 {
		t.Errorf("gain %v, black %v, want 0.75 and 0", *v.Gain, *v.Black)
	}
	if v.HueDeg == nil || math.Abs(*v.HueDeg-12) > 0.5 || math.Abs(*v.Colour-1) > 0.02 {
		t.Errorf("hue %v, colour %v, want 12 and 1", v.HueDeg, v.Colour)
	}
}

func rotate(cb, cr []uint8, by float64) (b, r []uint8) {
	b, r = make([]uint8, len(cb)), make([]uint8, len(cr))
	sin, cos := math.Sincos(by)
	for i := range cb {
		x, y := float64(cb[i])-128, float64(cr[i])-128
		b[i] = uint8(math.Round(min(max(128+x*cos-y*sin, 0), 255)))
		r[i] = uint8(math.Round(min(max(128+x*sin+y*cos, 0), 255)))
	}
	return b, r
}

// What a field costs, beside decoding its half of a Motion JPEG frame.
func BenchmarkLook(b *testing.B) {
	fields := simulated(b, 200, 5, simulator.ScreenBars, "attr-256x192-50")
	frame := weave(fields[0], fields[1])
	data, err := picture.EncodeJPEG(nil, frame, picture.JPEGOptions{})
	if err != nil {
		b.Fatal(err)
	}
	const decodes = 20
	begin := time.Now()
	for range decodes {
		if _, _, err := picture.DecodeJPEG(data, frame.Height); err != nil {
			b.Fatal(err)
		}
	}
	decode := time.Since(begin).Seconds() / decodes / 2
	w := New(Options{Standard: video.Std625})
	for _, f := range fields[:learnFields] {
		w.Look(f)
	}
	n, good := 0, 0
	for b.Loop() {
		if w.Look(fields[n%len(fields)]).Kind == Good {
			good++
		}
		n++
	}
	if good < n*9/10 {
		b.Fatalf("only %d of %d fields good", good, n)
	}
	perField := b.Elapsed().Seconds() / float64(b.N)
	b.ReportMetric(perField*1e3, "ms/field")
	b.ReportMetric(perField/decode, "x-decode")
	b.ReportMetric((perField+decode)*50*100, "%core-at-50-fields/s")
}

func weave(top, bottom *video.Field) *video.Frame {
	f := &video.Frame{Width: top.Width, Height: 2 * top.Height, ChromaWidth: top.ChromaWidth, ChromaHeight: 2 * top.Height}
	for y := range top.Height {
		for _, field := range [2]*video.Field{top, bottom} {
			f.Y = append(f.Y, field.Line(y)...)
			f.Cb = append(f.Cb, field.Cb[y*field.ChromaWidth:(y+1)*field.ChromaWidth]...)
			f.Cr = append(f.Cr, field.Cr[y*field.ChromaWidth:(y+1)*field.ChromaWidth]...)
		}
	}
	return f
}
