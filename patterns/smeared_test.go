package patterns

import (
	"math"
	"testing"

	"backporch/analyse"
)

// Dots of other colours are worth what they are on a good path, next to nothing on one that makes them itself, and, by hand, no more than 1 to
// the part of paths that do, a hundredth of a tenth: 6.9 nats.
func TestDottedBy(t *testing.T) {
	for _, c := range []struct{ odds, part, from, to float64 }{{15, 0, 14.9, 15}, {15, 0.8, 1, 1.5}, {15, 0.999, 0, 0.05}, {15, 0.01, 6.8, 7}, {2, 0.01, 1.9, 2}} {
		if got := dottedBy(c.odds, c.part); got < c.from || got > c.to {
			t.Errorf("%v nats at %v: %.2f, want %v to %v", c.odds, c.part, got, c.from, c.to)
		}
	}
}

// A path too narrow for the subcarrier leaves little of any colour, so that a component that seems held counts for less.
func TestNarrowPathColours(t *testing.T) {
	weigh := func(sure float64) float64 {
		one := 1
		logic := []hypothesis{{}, {fault: &Fault{Kind: "colour-path", Component: "green", Level: &one}, like: 5}}
		dazzled(logic, []hypothesis{{like: 1 - sure}, {fault: &Fault{Kind: "low-bandwidth"}, like: sure}}, (*analyse.Ghost)(nil))
		return logic[1].like
	}
	if narrow, wide := weigh(0.99), weigh(0.2); narrow > 1 || math.Abs(wide-5) > 1e-9 {
		t.Errorf("%.1f nats left of 5 where the path is narrow, %.1f where it is not", narrow, wide)
	}
}
