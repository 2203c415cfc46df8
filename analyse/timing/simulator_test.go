package timing

import (
	"errors"
	"io"
	"slices"
	"testing"

	"backporch/analyse"
	"backporch/video"
	"backporch/video/display"
	"backporch/video/simulator"
)

// recorded are the fields of a random scenario of the kind.
func recorded(t testing.TB, p *display.Profile, seed uint64, fields int, kind string) ([]*video.Field, simulator.Scenario) {
	t.Helper()
	s := simulator.Random(p, seed, kind)
	s.Fields = fields
	bench, err := simulator.New(s)
	if err != nil {
		t.Fatal(err)
	}
	var out []*video.Field
	for {
		frame, err := bench.Next()
		if errors.Is(err, io.EOF) {
			return out, s
		}
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, frame.Fields(s.Order, p.FieldHz()/2)...)
	}
}

// The bench simulator proves consistency, not truth: whole captures through its composite
// chain and capture device.
func TestSimulatedCaptures(t *testing.T) {
	all, err := display.Load("")
	if err != nil {
		t.Fatal(err)
	}
	const seeds = 1 // of each display and kind; cmd/accuracy measures over hundreds
	for _, c := range []struct {
		kind  string
		state []analyse.SyncState
	}{
		{"clean", []analyse.SyncState{analyse.Locked}},
		{"noise", []analyse.SyncState{analyse.Locked, analyse.Unstable}}, // noise makes the device's sync separator jitter
		{"data-bit-weak", []analyse.SyncState{analyse.Locked}},
		{"no-signal", []analyse.SyncState{analyse.NoSignal}},
		{"sync-weak", []analyse.SyncState{analyse.Unstable, analyse.NoLock, analyse.NoSignal}},
	} {
		for i, p := range all {
			for seed := range uint64(seeds) {
				fields, s := recorded(t, p, 1000*uint64(i)+seed+7, 20, c.kind)
				got := Measure(fields, Options{Rate: p.FieldHz() / 2, Standard: p.Standard})
				// A machine that is black to the last sample looks like an open input.
				if ok := got.Picture == "blank" || slices.Contains(c.state, got.State); !ok {
					t.Errorf("%s, %s, seed %d: %s %q, jitter %s ns, tear %s, roll %s, snow %s (faults %v)", p.Name, c.kind, s.Seed, got.State, got.Picture,
						figure(got.JitterNs), figure(got.TearPx), figure(got.RollLinesPerS), figure(got.SnowShare), s.Faults)
				}
			}
		}
	}
}
