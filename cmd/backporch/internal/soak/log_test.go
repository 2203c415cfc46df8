package soak

import (
	"bytes"
	"math"
	"os"
	"path/filepath"
	"testing"
	"time"

	"backporch/video"
)

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
