package judge

import (
	"math"
	"testing"

	"backporch/analyse"
	"backporch/analyse/analysetest"
)

// The divergence by hand: of a half where a quarter is due ln 2/2 + ln(2/3)/2 = 0.143841, a tenth of it a byte. Fewer than are due cost nothing here.
func TestUneven(t *testing.T) {
	for _, c := range []struct {
		once, moving int
		due, want    float64
	}{
		{50, 100, 0.25, 10 * 0.1438410362},
		{25, 100, 0.25, 0},
		{10, 100, 0.25, 0},
		{900, 4400, 1e-9, movedLimit / 3},
		{0, 0, 0.5, 0},
	} {
		if got := uneven(c.once, c.moving, c.due); math.Abs(got-c.want) > 1e-6 {
			t.Errorf("%d of %d, %.2g due: %.6f nats, want %.6f", c.once, c.moving, c.due, got, c.want)
		}
	}
}

// A screen on which nothing moves is weighed as any other.
func TestNothingMoves(t *testing.T) {
	e := &evidence{p: analysetest.Profile(t, "attr-256x192-50"), s: &analyse.Survey{Motion: &analyse.Motion{Fields: 24, Bytes: 6000}}}
	if odds, _ := e.snowing(); !(odds <= 0) {
		t.Errorf("snow by %.2f nats where nothing moves", odds)
	}
}
