package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"

	"backporch/video/waveform"
)

// waveformFiles puts one simulated output into a folder as output.wav, output.csv and
// output.raw: a field and a half of it as CSV.
func waveformFiles(t *testing.T, folder string) {
	t.Helper()
	wav := filepath.Join(folder, "output.wav")
	var errs bytes.Buffer
	if status := run(context.Background(), []string{"simulate", "--screen", "bars", "--seed", "3", "--fields", "5", "--out", wav}, io.Discard, &errs); status != statusClean {
		t.Fatal(errs.String())
	}
	r, err := waveform.Open(wav, waveform.Options{FullScale: fullScale})
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	x := make([]float32, r.Info().Samples)
	if n, err := r.Read(x); n < len(x) {
		t.Fatal(err)
	}
	var csv strings.Builder
	csv.WriteString("Time (us),Channel 1 (mV)\n")
	for i, v := range x[:len(x)/3] {
		fmt.Fprintf(&csv, "%.5f,%.1f\n", float64(i)/r.Info().Rate*1e6, v)
	}
	raw := make([]byte, len(x))
	for i, v := range x {
		raw[i] = byte(min(max(64+math.Round(float64(v)/5.5), 0), 255))
	}
	if err := errors.Join(
		os.WriteFile(filepath.Join(folder, "output.csv"), []byte(csv.String()), 0o666),
		os.WriteFile(filepath.Join(folder, "output.raw"), raw, 0o666),
	); err != nil {
		t.Fatal(err)
	}
}

// The keys that others build on are there in all three forms, and the forms agree; nominal
// values: ITU-R BT.1700.
func TestWaveformJSON(t *testing.T) {
	dir := t.TempDir()
	waveformFiles(t, dir)
	for _, args := range [][]string{
		{"output.wav", "--full-scale", "4"}, {"output.csv"}, {"output.raw", "--rate", "17734475"},
	} {
		var out, errs bytes.Buffer
		words := append([]string{"waveform", filepath.Join(dir, args[0]), "--json"}, args[1:]...)
		if status := run(context.Background(), words, &out, &errs); status != statusClean {
			t.Fatalf("%v: status %d: %s", args, status, errs.String())
		}
		var got map[string]any
		if err := json.Unmarshal(out.Bytes(), &got); err != nil {
			t.Fatal(err)
		}
		for _, key := range []string{
			"standard", "lines", "interlaced", "line_us", "field_hz", "sync_mv", "blanking_mv", "white_mv", "peak_to_peak_mv", "sync_us",
			"front_porch_us", "back_porch_us", "burst_mvpp", "burst_hz", "burst_ppm", "jitter_ns", "polarity", "termination", "limits",
		} {
			if _, ok := got[key]; !ok {
				t.Errorf("%v: no %q", args, key)
			}
		}
		for key, want := range map[string]float64{"sync_mv": 300, "white_mv": 700, "line_us": 64, "sync_us": 4.7, "burst_mvpp": 300} {
			if v, ok := got[key].(float64); !ok || math.Abs(v/want-1) > 0.01 {
				t.Errorf("%v: %s is %v, want %v", args, key, got[key], want)
			}
		}
		absolute := args[0] != "output.raw"
		if (got["termination"] == "one load") != absolute || (got["blanking_mv"] != nil) != absolute {
			t.Errorf("%v: termination %v, blanking %v", args, got["termination"], got["blanking_mv"])
		}
		row := got["limits"].([]any)[0].(map[string]any)
		for _, key := range []string{"name", "value", "low", "high", "unit", "clause", "pass"} {
			if _, ok := row[key]; !ok {
				t.Errorf("a limit has no %q", key)
			}
		}
	}
}

// A long file takes no more memory than a short one: the heap that is in use while it is read
// stays below what its samples alone would take.
func TestLongWaveform(t *testing.T) {
	if testing.Short() {
		t.Skip("reads twenty seconds of waveform")
	}
	dir := t.TempDir()
	waveformFiles(t, dir)
	part, err := os.ReadFile(filepath.Join(dir, "output.raw"))
	if err != nil {
		t.Fatal(err)
	}
	part = part[:len(part)/5*4] // whole fields, so that the joints are good
	long := filepath.Join(dir, "long.raw")
	f, err := os.Create(long)
	if err != nil {
		t.Fatal(err)
	}
	size := 0
	for size < 64<<20 {
		n, err := f.Write(part)
		if err != nil {
			t.Fatal(err)
		}
		size += n
	}
	if err := f.Close(); err != nil {
		t.Fatal(err)
	}
	var most uint64
	stop, done := make(chan struct{}), make(chan struct{})
	go func() {
		defer close(done)
		for {
			select {
			case <-stop:
				return
			case <-time.After(20 * time.Millisecond):
			}
			var m runtime.MemStats
			runtime.ReadMemStats(&m)
			most = max(most, m.HeapInuse)
		}
	}()
	w, err := readWaveform(context.Background(), long, waveform.Options{Rate: 17734475, Format: "u8"}, 3, nil)
	close(stop)
	<-done
	if err != nil {
		t.Fatal(err)
	}
	if most > 200<<20 { // three seconds of samples alone would be 213 million bytes
		t.Errorf("%d MiB in use", most>>20)
	}
	if w.Seconds < 2.9 || w.Seconds > 3.1 || w.MeasuredLines < 40_000 {
		t.Errorf("%v s, %d lines", w.Seconds, w.MeasuredLines)
	}
}
