package timing

import (
	"math/rand/v2"
	"testing"
	"time"

	"backporch/analyse"
	"backporch/video"
)

// What a device's flags and the pictures come to together. That drivers differ in which flag they
// raise: sources of saa7115 ('no signal' for all that does not lock), bttv and cx231xx (a bit each).
func TestDeviceAndPicture(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	flatFields := func(code func(x, y int) uint8) []*video.Field {
		out := make([]*video.Field, 12)
		for k := range out {
			f := &video.Field{Width: 720, Height: 288, Frame: k / 2, Parity: k % 2, Time: time.Duration(k) * 20 * time.Millisecond, Y: make([]uint8, 720*288)}
			for i := range f.Y {
				f.Y[i] = code(i%720, i/720)
			}
			out[k] = f
		}
		return out
	}
	machine := newPicture(rng).capture(12, 1.5, rng, nil, nil)
	snow := flatFields(func(_, _ int) uint8 { return uint8(max(1, min(254, 90+45*rng.NormFloat64()))) })
	fill := flatFields(func(_, _ int) uint8 { return 41 })
	for _, c := range []struct {
		name    string
		fields  []*video.Field
		words   []string
		state   analyse.SyncState // while the picture may be a machine's
		nothing analyse.SyncState // when no display fits it
	}{
		{"snow, device silent", snow, nil, analyse.NoSignal, analyse.NoSignal},
		{"snow, no signal", snow, []string{"no signal"}, analyse.NoSignal, analyse.NoSignal},
		{"snow, no lock", snow, []string{"no horizontal lock"}, analyse.NoLock, analyse.NoLock},
		{"snow, both", snow, []string{"no signal", "no horizontal lock"}, analyse.NoSignal, analyse.NoSignal},
		{"fill, no lock", fill, []string{"no vertical lock"}, analyse.NoLock, analyse.NoLock},
		{"fill, no sync", fill, []string{"no sync"}, analyse.NoSignal, analyse.NoSignal},
		{"machine, device silent", machine, nil, analyse.Locked, analyse.Locked},
		{"machine, no colour", machine, []string{"no colour"}, analyse.Locked, analyse.Locked},
		{"machine, no lock", machine, []string{"no lock to the standard"}, analyse.Locked, analyse.NoLock},
		{"machine, no signal", machine, []string{"no signal"}, analyse.Locked, analyse.NoSignal},
	} {
		s := Measure(c.fields, Options{Rate: 25, Standard: video.Std625, Device: c.words})
		if s.State != c.state || len(s.Device) != len(c.words) {
			t.Errorf("%s: %s, want %s", c.name, s.State, c.state)
		}
		if Hear(&s, false); s.State != c.nothing {
			t.Errorf("%s, and no display fits: %s, want %s", c.name, s.State, c.nothing)
		}
	}
}
