package soak

import (
	"bytes"
	"encoding/json"
	"errors"
	"image/png"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"backporch/cmd/backporch/internal/stimulus"
	"backporch/video"
	"backporch/video/live"
)

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
	if err := errors.Join(c.Text(&text, 80), c.JSON(&body), sum.Plot(&plot)); err != nil {
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
		if err := c.Text(&text, 80); err != nil || !strings.Contains(text.String(), `Fewer: 0 bad fields in`) {
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

// A machine that slept was not watched meanwhile; a clock that was set back has no gap.
func TestClockStepped(t *testing.T) {
	p := newPlay(good(t))
	s, err := New(Options{Dir: t.TempDir(), Source: "loop", Standard: video.Std625, Now: p.now})
	if err != nil {
		t.Fatal(err)
	}
	p.run(t, s, 60)
	for _, off := range []time.Duration{8 * time.Hour, -time.Hour} {
		p.at = p.at.Add(off)
		if err := s.Event(&live.Event{Kind: live.ClockStepped, Text: "the clock was set, or the machine slept", For: off}); err != nil {
			t.Fatal(err)
		}
		p.run(t, s, 60)
	}
	sum, err := s.Close()
	if err != nil {
		t.Fatal(err)
	}
	if len(sum.Gaps) != 1 || sum.Gaps[0].Seconds != 8*3600 || len(sum.Notes) != 2 || len(sum.Events) != 0 {
		t.Errorf("gaps %+v, notes %+v, %d events", sum.Gaps, sum.Notes, len(sum.Events))
	}
}
