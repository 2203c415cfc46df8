// Package simulatortest captures simulated machines for tests that need a picture with a composite chain behind it.
package simulatortest

import (
	"errors"
	"io"
	"testing"

	"backporch/video"
	"backporch/video/simulator"
)

// Frames captures a scenario to its end, with faults in the words of simulator.ParseFault beside its own.
func Frames(t testing.TB, sc simulator.Scenario, faults ...string) []*video.Frame {
	t.Helper()
	frames, _ := Capture(t, sc, faults...)
	return frames
}

// Capture is Frames, with what was put in.
func Capture(t testing.TB, sc simulator.Scenario, faults ...string) ([]*video.Frame, simulator.Truth) {
	t.Helper()
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
			return out, b.Truth()
		}
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, f)
	}
}

// Fields is Frames, each frame parted into its fields.
func Fields(t testing.TB, sc simulator.Scenario, faults ...string) []*video.Field {
	t.Helper()
	var out []*video.Field
	for _, f := range Frames(t, sc, faults...) {
		out = append(out, f.Fields(sc.Order, sc.Display.FieldHz()/2)...)
	}
	return out
}
