package signalpath

import (
	"strings"
	"testing"

	"backporch/analyse"
	"backporch/patterns/nats"
)

// What the device says decides where there is no picture, and hardly moves a verdict where
// one is there and holds still. The figures are the package's own; common practice, no source.
func TestReception(t *testing.T) {
	of := func(v float64) *float64 { return &v }
	steady := analyse.Sync{State: analyse.Locked, JitterNs: of(2), TearPx: of(0.1), RollLinesPerS: of(0)}
	with := func(s analyse.Sync, words ...string) analyse.Sync { s.Device = words; return s }
	for _, c := range []struct {
		name   string
		sync   analyse.Sync
		placed bool
		want   string
		least  float64
		says   string
	}{
		{"snow, no signal", analyse.Sync{State: analyse.NoSignal, Picture: "snow", Device: []string{"no signal"}}, false, "no-signal", 0.9, "the device itself says: no signal"},
		{"snow, no lock", analyse.Sync{State: analyse.NoLock, Picture: "snow", Device: []string{"no horizontal lock"}}, false, "sync-weak", 0.7, "the device itself says: no horizontal lock"},
		{"blank, no signal", analyse.Sync{State: analyse.NoSignal, Picture: "blank", Device: []string{"no signal"}}, false, "no-signal", 0.9, "faint noise"},
		{"blank, a standard detected", analyse.Sync{State: analyse.NoSignal, Picture: "blank", Detects: true}, false, "blank-picture", 0.6, "detects a standard"},
		{"fill, no lock", analyse.Sync{State: analyse.NoLock, Picture: "fill", Device: []string{"no vertical lock"}}, false, "sync-weak", 0.7, "one colour of its own"},
		{"a steady picture that no display fits, no signal", with(analyse.Sync{State: analyse.NoSignal}, "no signal"), false, "no-signal", 0.7, "no picture of a machine"},
		{"a steady picture of a machine, no signal", with(steady, "no signal"), true, "", 0.8, ""},
		{"a steady picture of a machine, no lock", with(steady, "no lock to the standard"), true, "", 0.8, ""},
		{"a picture that tears, no lock", with(analyse.Sync{State: analyse.Unstable, JitterNs: of(90), TearPx: of(1.5)}, "no horizontal lock"), true, "sync-weak", 0.95, "the device itself says: no horizontal lock"},
	} {
		s := &analyse.Survey{Sync: c.sync}
		s.Registration.OK = c.placed
		if c.placed {
			s.Signal.SNRdB = of(45)
		}
		list := pathHypotheses(s)
		nats.Normalise(list)
		sure, said := map[string]float64{}, ""
		for _, h := range list {
			name := ""
			if h.Fault != nil {
				name = h.Fault.Kind
			}
			sure[name] += h.Like
			if name == c.want {
				said += strings.Join(h.Why, "; ")
			}
		}
		if sure[c.want] < c.least || !strings.Contains(said, c.says) {
			t.Errorf("%s: %v, %q; want %q at %v saying %q", c.name, sure, said, c.want, c.least, c.says)
		}
	}
}
