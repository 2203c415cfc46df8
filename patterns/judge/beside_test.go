package judge

import (
	"math"
	"testing"

	"backporch/analyse"
	"backporch/patterns"
)

// An even lane that may be the gap between letters, bit 0 or 7 where the picture might lie, is as odd as that place is improbable.
func TestMayBeGap(t *testing.T) {
	for _, c := range []struct {
		name   string
		shifts []analyse.Shift
		bit    int
		want   float64
	}{
		{"place known", []analyse.Shift{{Probability: 1}}, 0, laneLimit},
		{"no place in doubt", nil, 7, laneLimit},
		{"gap where it most likely lies", []analyse.Shift{{Probability: 0.7}, {Pixels: 2, Probability: 0.3}}, 7, -math.Log(0.7)},
		{"gap at the other place", []analyse.Shift{{Probability: 0.7}, {Pixels: 2, Probability: 0.3}}, 5, -math.Log(0.3)},
		{"gap to the other side", []analyse.Shift{{Probability: 0.7}, {Pixels: -3, Probability: 0.3}}, 2, -math.Log(0.3)},
		{"gap at both", []analyse.Shift{{Probability: 0.5}, {Pixels: 1, Probability: 0.5}}, 7, 0},
		{"in the letters wherever it lies", []analyse.Shift{{Probability: 0.7}, {Pixels: 2, Probability: 0.3}}, 3, laneLimit},
	} {
		e := &evidence{s: &analyse.Survey{Registration: analyse.Registration{Shifts: c.shifts}}}
		if got := e.mayBeGap(c.bit); math.Abs(got-c.want) > 1e-12 {
			t.Errorf("%s: %.3f nats, want %.3f", c.name, got, c.want)
		}
	}
}

// One cell that flashes on the good machine and stands still here is enough for flash-dead to lead; none is not, nor is one that changes if not as
// clearly, or of which either capture is too short.
func TestOneFlashingCell(t *testing.T) {
	for _, c := range []struct {
		name         string
		good, here   int // cells that flash
		changes      int // pixels of the first cell that do
		short, ahead bool
	}{
		{"one stands still", 1, 0, 0, false, true},
		{"one, in a short capture", 1, 0, 0, true, false},
		{"one that changes in three pixels", 1, 0, 3, false, true},
		{"one that changes in many", 1, 0, 12, false, false},
		{"it flashes here", 1, 1, 0, false, false},
		{"one of two", 2, 1, 0, false, false},
		{"none", 0, 0, 0, false, false},
	} {
		e := drawnScreen(t, 5)
		e.s.Memory.Seen = make([]uint8, len(e.s.Memory.Bytes))
		e.s.Memory.Seen[e.p.ColourBase] = 0x80
		good := drawnScreen(t, 5).s
		good.Memory.Seen = make([]uint8, len(e.s.Memory.Bytes))
		if !c.short {
			good.Memory.Seen[e.p.ColourBase] = 0x80
		}
		for i := range c.good {
			good.Cells[i].Flash = true
		}
		for i := range c.here {
			e.s.Cells[i].Flash = true
		}
		for k := range c.changes {
			e.s.Memory.Changed[e.p.BitmapAddress(k%8, 0)*8+k/8] = 4
		}
		m := &comparison{cells: good.Cells, survey: good, what: "the reference"}
		out := m.flashing(e, []patterns.Hypothesis{{Like: -10}, {Like: -25, Fault: &patterns.Fault{Kind: "data-bit-stuck", Class: patterns.RAMBit, Bit: ptr(2), Level: ptr(0)}}})
		ahead := false
		for _, h := range out[1:] {
			ahead = ahead || h.Fault.Kind == "flash-dead" && h.Like > out[0].Like
		}
		if ahead != c.ahead {
			t.Errorf("%s: flash-dead ahead %v: %+v", c.name, ahead, out)
		}
	}
}
