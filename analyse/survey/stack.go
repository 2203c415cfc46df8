package survey

import (
	"backporch/analyse"
	"backporch/analyse/timing"
	"backporch/video"
)

// Which fields make one still picture.

// straightened gives the fields of a picture that does not hold as one that does, where that can be done.
func straightened(s *analyse.Survey, fields []*video.Field, when timing.Options) []*video.Field {
	if s.Sync.Picture != "" || s.Sync.State == analyse.Locked || s.Sync.State == analyse.NoSignal {
		return fields
	}
	laid, ok := timing.Straighten(fields, when)
	if !ok || timing.Measure(laid, when).State != analyse.Locked {
		return fields
	}
	s.Straightened = true
	return laid
}

// stack adds up what shows one still picture, and gives its fields by the phase of flashing cells;
// with even nothing flashes by itself. fewer are those of phase that show another picture as a whole.
func stack(s *analyse.Survey, fields []*video.Field, even bool) (phase, other, fewer []*video.Field) {
	if !s.Holds() {
		fields = fields[len(fields)/2 : len(fields)/2+1] // a moving picture does not add up
	}
	s.Stack = analyse.Add(fields)
	if s.Straightened { // what is left of the tears goes back and forth too
		steady(s.Stack, fields)
		s.Used = len(fields)
		return fields, nil, nil
	}
	phase, other = splitFlash(fields, s.Stack)
	flashes := len(other) > 0
	if even {
		phase, other = fields, nil
	}
	if len(other) > 0 {
		s.Stack = analyse.Add(phase)
	}
	if s.Holds() && !(even && flashes) {
		most := phase
		if !even {
			if most, fewer = splitStates(phase, s.Stack); len(fewer) > 0 {
				s.Stack = analyse.Add(most)
			}
		}
		steady(s.Stack, most)
	}
	s.Used = len(phase)
	return phase, other, fewer
}
