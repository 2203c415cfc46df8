package report

import (
	"backporch/analyse"
	"backporch/patterns"
)

// memory lists the lanes, the highest bit first: as the verdict counted them, and
// what was only seen where it had nothing to compare with.
func memory(m *analyse.Memory, v *patterns.Verdict) Memory {
	out := Memory{Lanes: []Lane{}}
	if m == nil {
		return out
	}
	counted := map[int]patterns.Lane{}
	for _, lane := range v.Lanes {
		counted[lane.Bit] = lane
	}
	for bit := 7; bit >= 0; bit-- {
		lane := Lane{Bit: bit}
		if c, ok := counted[bit]; ok {
			lane.Wrong, lane.Of, lane.Stuck = c.Wrong, c.Of, c.Stuck
		} else {
			for _, seen := range m.Seen {
				lane.Of += int(seen >> bit & 1)
			}
		}
		out.Lanes = append(out.Lanes, lane)
	}
	return out
}
