package soak

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"image/png"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"testing"
	"time"

	"backporch/analyse/drift"
	"backporch/cmd/backporch/internal/stimulus"
	"backporch/video"
	"backporch/video/display"
	"backporch/video/live"
	"backporch/video/simulator"
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
	all, err := display.Load("")
	if err != nil {
		t.Fatal(err)
	}
	p, err := display.Find(all, "attr-256x192-50")
	if err != nil {
		t.Fatal(err)
	}
	sc := simulator.Scenario{Display: p, Seed: seed, Screen: simulator.ScreenListing, Fields: 2 * frames}
	for _, word := range faults {
		f, err := simulator.ParseFault(word)
		if err != nil {
			t.Fatal(err)
		}
		sc.Faults = append(sc.Faults, f)
	}
	b, err := simulator.New(sc)
	if err != nil {
		t.Fatal(err)
	}
	var out []*video.Frame
	for {
		f, err := b.Next()
		if errors.Is(err, io.EOF) {
			return out
		}
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, f)
	}
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

// What a log holds after its process was killed: cut anywhere, all that was whole is read, and a resumed soak
// goes on.
func TestLogSurvives(t *testing.T) {
	good := good(t)
	p := newPlay(good)
	dir := t.TempDir()
	o := Options{Dir: dir, Tool: "test", Source: "loop", Standard: video.Std625, Now: p.now}
	s, err := New(o)
	if err != nil {
		t.Fatal(err)
	}
	p.run(t, s, 400)
	// Killed: nothing is closed.
	before := s.Beat()
	whole, err := os.ReadFile(filepath.Join(dir, logName))
	if err != nil {
		t.Fatal(err)
	}
	if err := s.Abandon(); err != nil {
		t.Fatal(err)
	}
	all, _, err := scan(bytes.NewReader(whole))
	if err != nil {
		t.Fatal(err)
	}
	if lost := before.Seconds - Summarise(all).Total.Seconds; lost < 0 || lost > 1 {
		t.Errorf("the log is %.2f s behind", lost)
	}
	for cut := range 300 {
		records, good, err := scan(bytes.NewReader(whole[:len(whole)-cut]))
		if err != nil || good > int64(len(whole)-cut) {
			t.Fatalf("cut by %d: %v", cut, err)
		}
		if missing := len(all) - len(records); missing > 2 {
			t.Fatalf("cut by %d bytes: %d records are lost", cut, missing)
		}
	}
	torn := append(bytes.Clone(whole[:len(whole)-7]), 0, 0, 0, 0)
	if err := os.WriteFile(filepath.Join(dir, logName), torn, 0o644); err != nil {
		t.Fatal(err)
	}
	p.at = p.at.Add(time.Hour)
	p.n = 0
	if s, err = Resume(o); err != nil {
		t.Fatal(err)
	}
	p.run(t, s, 200)
	sum, err := s.Close()
	if err != nil {
		t.Fatal(err)
	}
	if sum.Sessions != 2 || sum.Total.Seconds < before.Seconds-1.1+4 || len(sum.Events) != 0 {
		t.Errorf("%d sessions, %.1f s, %d events", sum.Sessions, sum.Total.Seconds, len(sum.Events))
	}
	if len(sum.Gaps) != 1 || math.Abs(sum.Gaps[0].Seconds-3600) > 3 {
		t.Errorf("gaps: %+v", sum.Gaps)
	}
	if _, err := New(o); err == nil {
		t.Error("a soak was begun over another")
	}
}

// A log of anything is read without harm.
func FuzzScan(f *testing.F) {
	line, err := encode(Record{Type: typeBeat, Beat: &Beat{Fields: 3}})
	if err != nil {
		f.Fatal(err)
	}
	f.Add(line)
	f.Add(append(line[:len(line)-4:len(line)-4], line...))
	f.Add([]byte("00000000 {}\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		records, good, err := scan(bytes.NewReader(data))
		if err != nil || good > int64(len(data)) {
			t.Fatalf("%v, %d of %d", err, good, len(data))
		}
		Summarise(records).Certificate()
	})
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

// Unplugging, a level that falls, and the certificate of it all.
func TestCertificate(t *testing.T) {
	good := good(t)
	p := newPlay(good)
	dir := t.TempDir()
	s, err := New(Options{Dir: dir, Tool: "test", Source: "loop", Standard: video.Std625, Now: p.now, Settled: func(f []*video.Field) Finding {
		if len(f) < 50 {
			t.Errorf("settled with %d fields", len(f))
		}
		return Finding{Display: "attr-256x192-50", Verdict: "CLEAN"}
	}})
	if err != nil {
		t.Fatal(err)
	}
	p.run(t, s, 700)
	down := &live.Event{Kind: live.Gone, Text: "the device has gone"}
	if err := s.Event(down); err != nil {
		t.Fatal(err)
	}
	p.at = p.at.Add(90 * time.Second)
	if err := s.Event(&live.Event{Kind: live.Reopened, Text: "the device is back after 90.0 s", For: 90 * time.Second}); err != nil {
		t.Fatal(err)
	}
	s.Lost(4500)
	p.run(t, s, 250)
	dim := make([]*video.Frame, 10)
	for i, f := range good[:10] {
		d := *f
		d.Y = make([]uint8, len(f.Y))
		for k, v := range f.Y {
			d.Y[k] = uint8(16 + 0.8*(float64(v)-16) + 0.5)
		}
		dim[i] = &d
	}
	for step := range 40 { // down by a fifth within a minute
		a := float64(step) / 40
		p.loop = make([]*video.Frame, 10)
		for i := range p.loop {
			d := *good[i]
			d.Y = make([]uint8, len(d.Y))
			for k := range d.Y {
				d.Y[k] = uint8((1-a)*float64(good[i].Y[k]) + a*float64(dim[i].Y[k]) + 0.5)
			}
			p.loop[i] = &d
		}
		p.run(t, s, 30)
	}
	if err := s.Mark("warmed the video logic"); err != nil {
		t.Fatal(err)
	}
	sum, err := s.Close()
	if err != nil {
		t.Fatal(err)
	}
	c := sum.Certificate()
	if c.Kinds["drift"] == 0 || c.Events != c.Kinds["drift"] || c.Lost != 4500 || len(c.Gaps) != 1 || c.Gaps[0].Seconds != 90 || len(c.Stimuli) != 1 || c.Stimuli[0].Mark != "warmed the video logic" {
		t.Errorf("kinds %v, %d lost, gaps %v, stimuli %v", c.Kinds, c.Lost, c.Gaps, c.Stimuli)
	}
	if c.Rate == nil || math.Abs(*c.Rate-50) > 0.01 {
		t.Errorf("field rate %v", c.Rate)
	}
	var text, body, plot bytes.Buffer
	if err := errors.Join(c.Text(&text), c.JSON(&body), sum.Plot(&plot)); err != nil {
		t.Fatal(err)
	}
	var back map[string]any
	if err := json.Unmarshal(body.Bytes(), &back); err != nil {
		t.Fatal(err)
	}
	for _, key := range []string{"seconds", "fields", "lost", "events", "rate_upper_95_per_hour"} {
		if _, ok := back[key].(float64); !ok {
			t.Errorf("the JSON has %v for %s", back[key], key)
		}
	}
	if img, err := png.Decode(&plot); err != nil || img.Bounds().Dy() < 400 {
		t.Errorf("the plot: %v", err)
	}
	if dir := t.ArtifactDir(); dir != "" {
		var again bytes.Buffer
		if err := errors.Join(sum.Plot(&again), os.WriteFile(filepath.Join(dir, "drift.png"), again.Bytes(), 0o644), os.WriteFile(filepath.Join(dir, "certificate.txt"), text.Bytes(), 0o644)); err != nil {
			t.Error(err)
		}
	}
}

// The statement is the Poisson limit: -ln 0.05 over the hours without an event.
func TestStatement(t *testing.T) {
	s := &Summary{Total: Beat{Seconds: 8 * 3600}}
	if u := s.Upper(); u == nil || math.Abs(*u-2.9957/8) > 1e-4 {
		t.Errorf("upper limit %v", u)
	}
	want := "With no event in 8 h 00 min, the machine has fewer than 0.37 events an hour (one in 2 h 40 min or rarer), at 95 % confidence."
	if got := s.Statement(); got != want {
		t.Errorf("got %q", got)
	}
	if u := (&Summary{}).Upper(); u != nil {
		t.Errorf("nothing watched: %v", *u)
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

// A mark parts the time: what is counted before it and after it, over sessions too.
func TestStimuli(t *testing.T) {
	good, bad := good(t), simulated(t, 4, 3, "data-bit-stuck:bit=2,level=1")
	p := newPlay(good)
	for at := 80; at < 280; at += 10 { // 2.5 a second for eight seconds
		p.bad[at] = half(good[at%len(good)], bad[at%len(bad)], 0)
	}
	o := Options{Dir: t.TempDir(), Source: "loop", Standard: video.Std625, Now: p.now}
	s, err := New(o)
	if err != nil {
		t.Fatal(err)
	}
	p.run(t, s, 285)
	if err := s.Mark("cooled U14"); err != nil {
		t.Fatal(err)
	}
	p.run(t, s, 125)
	sum, err := s.Close()
	if err != nil {
		t.Fatal(err)
	}
	check := func(sum *Summary, least float64) {
		t.Helper()
		c := sum.Certificate()
		if len(c.Stimuli) != 1 {
			t.Fatalf("%+v", c.Stimuli)
		}
		r := c.Stimuli[0]
		if r.Before.Bad != 20 || r.Before.Errored < 8 || r.Before.Errored > 9 || r.After.Bad != 0 || r.After.Seconds < least || !r.Changed || r.Tone != stimulus.Fewer {
			t.Errorf("%+v", r)
		}
		var text bytes.Buffer
		if err := c.Text(&text); err != nil || !strings.Contains(text.String(), `Fewer: 0 bad fields in`) {
			t.Errorf("%v: %s", err, text.String())
		}
	}
	check(sum, 4.9)
	p.n, p.bad = 0, nil
	if s, err = Resume(o); err != nil {
		t.Fatal(err)
	}
	p.run(t, s, 150)
	if sum, err = s.Close(); err != nil {
		t.Fatal(err)
	}
	check(sum, 8)
}
