package judge

import (
	"testing"

	"backporch/analyse"
	"backporch/analyse/analysetest"
	"backporch/patterns"
)

// Which bit a weak lane is goes by where the picture lies, unless colour bytes that fail with it name the bit: those are read wherever its pixels are.
func TestColoursNameTheBit(t *testing.T) {
	p := analysetest.Profile(t, "attr-256x192-50")
	told := func(recolours [8]int) (bit int, like float64) {
		e := &evidence{p: p, s: &analyse.Survey{}, recolours: recolours}
		for i := range e.scatters {
			e.scatters[i] = [2]*scatter{{}, {}}
		}
		e.s.Registration.Shifts = []analyse.Shift{{Probability: 0.6}, {Pixels: 1, Probability: 0.3}, {Pixels: -1, Probability: 0.1}}
		c := &conclusion{s: e.s, p: p, e: e, logic: []patterns.Hypothesis{{Like: 0.9, Fault: &patterns.Fault{Kind: "data-bit-weak", Bit: ptr(4)}}}}
		for _, h := range c.shifted() {
			if h.Like > like {
				bit, like = *h.Fault.Bit, h.Like
			}
		}
		return bit, like
	}
	if bit, like := told([8]int{}); bit != 4 || like < 0.53 || like > 0.55 {
		t.Errorf("colours say nothing: bit %d, %.2f", bit, like)
	}
	if bit, like := told([8]int{1, 0, 0, 30, 1, 0, 0, 0}); bit != 3 || like < 0.85 {
		t.Errorf("colours say bit 3: bit %d, %.2f", bit, like)
	}
}
