package signalpath

import (
	"math"
	"slices"
	"strings"

	"backporch/analyse"
	"backporch/analyse/timing"
	"backporch/patterns"
)

// heardLike is how often a device says that it has no signal, or no lock, by what the path
// has. A device that knows is rarely wrong, except that pictures of 312 or 262 lines are none to some.
// Common practice, no source.
var heardLike = map[string]struct{ lost, unlocked float64 }{
	"":          {0.02, 0.03}, // nothing wrong, or anything that does not touch sync
	"no-signal": {0.9, 0.03},
	"sync-weak": {0.3, 0.6},
	"noise":     {0.05, 0.1},
}

// saysIt is the device's word as a reason.
func saysIt(s *analyse.Sync) string {
	return "the device itself says: " + strings.Join(s.Device, ", ")
}

// instead says what is to be seen instead of a machine's picture.
func instead(s *analyse.Sync) string {
	return map[string]string{
		"fill":   "the device shows one colour of its own, without any analogue noise",
		"bars":   "the device shows bars of its own, without any analogue noise",
		"snow":   "the capture is noise all over: no two fields share anything",
		"frozen": "every frame is the same to the last bit: the device holds an old picture",
		"blank":  "the capture is an even colour with faint noise, without border or blanking",
		"":       "no picture of a machine is in the capture",
	}[s.Picture]
}

// byDevice are the hypotheses where there is no picture of a machine and the device says why;
// nil when it does not.
func byDevice(s *analyse.Survey, clean, lost, moving, grainy patterns.Hypothesis) []patterns.Hypothesis {
	sync := &s.Sync
	if s.Registration.OK || !timing.Lost(sync) && !timing.Unlocked(sync) {
		return nil
	}
	// How often a path in each state shows no picture of a machine at all.
	list := []patterns.Hypothesis{clean, lost, moving, grainy}
	shown := []float64{0.0001, 0.948, 0.3, 0.001}
	if sync.Picture == "" { // something, but nothing that fits a display
		shown = []float64{0.01, 0.05, 0.3, 0.02}
		if sync.State == analyse.NoSignal { // it holds still, as what a device draws does
			shown[2] = 0.02
		}
	}
	for i := range list {
		list[i].Like = math.Log(shown[i])
		hear(&list[i], sync)
	}
	list[1].Why = []string{saysIt(sync), instead(sync)}
	list[2].Why = []string{saysIt(sync), instead(sync)}
	if sync.State == analyse.NoLock && !timing.Lost(sync) {
		list[2].Why = append(list[2].Why, "so something reaches the device, and its sync is not good enough to lock to")
	}
	return list
}

// hear weighs what the device says of the signal.
func hear(h *patterns.Hypothesis, s *analyse.Sync) {
	name := ""
	if h.Fault != nil {
		name = h.Fault.Kind
	}
	like, ok := heardLike[name]
	if !ok {
		like = heardLike[""]
	}
	switch {
	case timing.Lost(s):
		h.Like += math.Log(like.lost)
	case timing.Unlocked(s):
		h.Like += math.Log(like.unlocked)
	}
	if slices.Contains(s.Device, "no colour") || slices.Contains(s.Device, "colour killer on") {
		if name == "colour-lost" {
			h.Like += math.Log(0.8)
		} else {
			h.Like += math.Log(0.05) // a picture in grey is no fault, and devices are sometimes slow to see colour
		}
	}
}

// heard weighs the device's word beside a picture that is there, and says so where they differ.
func heard(s *analyse.Sync, list []patterns.Hypothesis) []patterns.Hypothesis {
	if len(s.Device) == 0 {
		return list
	}
	for i := range list {
		hear(&list[i], s)
		if list[i].Fault != nil && (list[i].Fault.Kind == "sync-weak" || list[i].Fault.Kind == "no-signal" || list[i].Fault.Kind == "colour-lost") {
			list[i].Why = append(slices.Clip(list[i].Why), saysIt(s))
		}
	}
	return list
}
