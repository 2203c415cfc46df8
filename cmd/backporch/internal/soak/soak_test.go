package soak

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"sync"
	"testing"
	"time"

	"backporch/analyse/analysetest"
	"backporch/analyse/drift"
	"backporch/video"
	"backporch/video/simulator"
	"backporch/video/simulator/simulatortest"
	"backporch/video/still"
)

// good is a capture of a good machine, made once.
func good(t testing.TB) []*video.Frame {
	t.Helper()
	made.Do(func() { kept = simulated(t, 60, 3) })
	return kept
}

var (
	made sync.Once
	kept []*video.Frame
)

// simulated captures woven frames of a machine.
func simulated(t testing.TB, frames int, seed uint64, faults ...string) []*video.Frame {
	t.Helper()
	p := analysetest.Profile(t, "attr-256x192-50")
	return simulatortest.Frames(t, simulator.Scenario{Display: p, Seed: seed, Screen: simulator.ScreenListing, Fields: 2 * frames}, faults...)
}

var info = video.Info{Kind: video.KindDevice, Width: 720, Height: 576, Rate: 25, Order: video.TopFirst, Standard: video.Std625}

// play gives a session n frames of a loop, with their numbers and times; bad ones stand at some of them. The
// clock goes with the frames.
type play struct {
	loop []*video.Frame
	bad  map[int]*video.Frame
	at   time.Time
	n    int
}

func newPlay(loop []*video.Frame) *play {
	return &play{loop: loop, bad: map[int]*video.Frame{}, at: time.Date(2026, 11, 25, 22, 0, 0, 0, time.UTC)}
}

func (p *play) now() time.Time { return p.at }

func (p *play) run(t testing.TB, s *Session, n int) {
	t.Helper()
	for range n {
		f := *p.loop[p.n%len(p.loop)]
		if b := p.bad[p.n]; b != nil {
			f = *b
		}
		f.Index, f.Time = p.n, time.Duration(p.n)*40*time.Millisecond
		p.n++
		p.at = p.at.Add(40 * time.Millisecond)
		if err := s.Frame(&f, info); err != nil {
			t.Fatal(err)
		}
	}
}

// half gives a frame one field of another frame.
func half(good, bad *video.Frame, parity int) *video.Frame {
	f := *good
	f.Y, f.Cb, f.Cr = bytes.Clone(good.Y), bytes.Clone(good.Cb), bytes.Clone(good.Cr)
	for y := parity; y < f.Height; y += 2 {
		copy(f.Y[y*f.Width:(y+1)*f.Width], bad.Y[y*f.Width:])
		copy(f.Cb[y*f.ChromaWidth:(y+1)*f.ChromaWidth], bad.Cb[y*f.ChromaWidth:])
		copy(f.Cr[y*f.ChromaWidth:(y+1)*f.ChromaWidth], bad.Cr[y*f.ChromaWidth:])
	}
	return &f
}

// Single bad fields are caught, each with the frame that shows it. SOAK_HOUR=1 puts a hundred into an hour.
func TestSingleFieldsAreKept(t *testing.T) {
	good, snow := good(t), simulated(t, 8, 3, "cell-snow:share=0.005")
	frames, wanted := 25*40, 6
	if os.Getenv("SOAK_HOUR") != "" {
		frames, wanted = 25*3600, 100
	}
	p := newPlay(good)
	rng := rand.New(rand.NewPCG(1, 2))
	var where []int
	for k := range wanted {
		at := 60 + (frames-80)*k/wanted + rng.IntN(12)
		where = append(where, at)
		p.bad[at] = half(good[at%len(good)], snow[rng.IntN(len(snow))], rng.IntN(2))
	}
	dir := t.TempDir()
	s, err := New(Options{Dir: dir, Tool: "test", Source: "loop", Standard: video.Std625, Now: p.now, PerMinute: 60})
	if err != nil {
		t.Fatal(err)
	}
	for p.n < frames {
		p.run(t, s, 25)
		if len(s.keeper.jobs) > keeperQueue/2 {
			time.Sleep(500 * time.Millisecond) // this clock runs ahead of the disk's
		}
	}
	sum, err := s.Close()
	if err != nil {
		t.Fatal(err)
	}
	if len(sum.Events) != wanted || sum.Total.Bad != wanted {
		t.Errorf("%d events, %d bad fields, want %d", len(sum.Events), sum.Total.Bad, wanted)
	}
	for i, e := range sum.Events[:min(len(sum.Events), wanted)] {
		if e.Kind != string(drift.BadField) || e.Fields != 1 {
			t.Errorf("event %d: %s, %d fields", e.Number, e.Kind, e.Fields)
		}
		kept := sum.StillsOf(e.Number)
		if len(kept) != 3 {
			t.Fatalf("event %d has %d stills", e.Number, len(kept))
		}
		for _, st := range kept {
			if st.Role != "at" {
				continue
			}
			f, err := os.Open(filepath.Join(dir, st.File))
			if err != nil {
				t.Fatal(err)
			}
			got, err := still.Read(f)
			f.Close()
			if err != nil {
				t.Fatal(err)
			}
			if got.Text.Frame != where[i] || !bytes.Equal(got.Frame.Y, p.bad[where[i]].Y) {
				t.Errorf("event %d: the still is frame %d, want %d as it was", e.Number, got.Text.Frame, where[i])
			}
		}
	}
	t.Logf("%d of %d single bad fields kept in %.0f s", len(sum.Events), wanted, sum.Total.Seconds)
}

// Events stay within their bounds: so many a minute, so many bytes.
func TestBounds(t *testing.T) {
	good, bad := good(t), simulated(t, 4, 3, "data-bit-stuck:bit=2,level=1")
	p := newPlay(good)
	for at := 75; at < 500; at += 12 { // two a second
		p.bad[at] = bad[at%len(bad)]
	}
	dir := t.TempDir()
	s, err := New(Options{Dir: dir, Source: "loop", Standard: video.Std625, Now: p.now})
	if err != nil {
		t.Fatal(err)
	}
	for p.n < 500 {
		p.run(t, s, 25)
		for len(s.keeper.jobs) > keeperQueue/2 {
			time.Sleep(20 * time.Millisecond)
		}
	}
	sum, err := s.Close()
	if err != nil {
		t.Fatal(err)
	}
	if len(sum.Events) != 36 || len(sum.Stills) > 3*6 || len(sum.Stills) < 3*6 {
		t.Errorf("%d events, %d stills", len(sum.Events), len(sum.Stills))
	}
	files, err := filepath.Glob(filepath.Join(dir, "*.png"))
	if err != nil || len(files) != len(sum.Stills) {
		t.Errorf("%d files, %v", len(files), err)
	}
}

// Memory stays flat: SOAK_FRAMES frames of a loop; the slope over the second half is logged.
func TestMemoryIsFlat(t *testing.T) {
	frames := 600
	if _, err := fmt.Sscan(os.Getenv("SOAK_FRAMES"), &frames); err != nil && os.Getenv("SOAK_FRAMES") != "" {
		t.Fatal(err)
	}
	good := good(t)
	p := newPlay(good)
	s, err := New(Options{Dir: t.TempDir(), Source: "loop", Standard: video.Std625, Now: p.now})
	if err != nil {
		t.Fatal(err)
	}
	heap := func() float64 {
		runtime.GC()
		var m runtime.MemStats
		runtime.ReadMemStats(&m)
		return float64(m.HeapAlloc) / (1 << 20)
	}
	routines := runtime.NumGoroutine()
	p.run(t, s, 200)
	first, firstRSS := heap(), resident()
	p.run(t, s, frames/2)
	middle, middleRSS := heap(), resident()
	p.run(t, s, frames-frames/2)
	last, lastRSS := heap(), resident()
	if runtime.NumGoroutine() > routines {
		t.Errorf("%d goroutines, %d at first", runtime.NumGoroutine(), routines)
	}
	if last-first > 5 {
		t.Errorf("the heap grew from %.1f to %.1f MB over %d frames", first, last, frames)
	}
	sum, err := s.Close()
	if err != nil {
		t.Fatal(err)
	}
	t.Logf("%d frames: heap %.2f, %.2f, %.2f MB; resident %d, %d, %d MB; %d events", frames, first, middle, last, firstRSS>>20, middleRSS>>20, lastRSS>>20, len(sum.Events))
}
