package judge

import (
	"math"
	"testing"

	"backporch/analyse"
	"backporch/patterns"
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
		logic := []patterns.Hypothesis{{}, {Fault: &patterns.Fault{Kind: "colour-path", Component: "green", Level: &one}, Like: 5}}
		dazzled(logic, []patterns.Hypothesis{{Like: 1 - sure}, {Fault: &patterns.Fault{Kind: "low-bandwidth"}, Like: sure}}, (*analyse.Ghost)(nil))
		return logic[1].Like
	}
	if narrow, wide := weigh(0.99), weigh(0.2); narrow > 1 || math.Abs(wide-5) > 1e-9 {
		t.Errorf("%.1f nats left of 5 where the path is narrow, %.1f where it is not", narrow, wide)
	}
}

// Upright bars one every 4 pixels, that are surely there, stand on the same bits of every cell: what speaks for a weak bit there is theirs; bars one every 5 do not.
func TestBarsOnCells(t *testing.T) {
	weigh := func(period float64) float64 {
		logic := []patterns.Hypothesis{{Like: -20}, {Fault: &patterns.Fault{Kind: "data-bit-weak", Bit: ptr(7)}, Like: -10}}
		smeared(logic, []patterns.Hypothesis{{Like: 0.1}, {Fault: &patterns.Fault{Kind: "fixed-bars", PeriodPx: &period}, Like: 0.9}}, &evidence{s: &analyse.Survey{}})
		return logic[1].Like + 20
	}
	if on, off := weigh(4), weigh(5); on > 2 || math.Abs(off-10) > 1e-6 {
		t.Errorf("%.1f nats left of 10 by bars every 4 pixels, %.1f by every 5", on, off)
	}
	held := []patterns.Hypothesis{{Like: -20}, {Fault: &patterns.Fault{Kind: "address-line-stuck", Lines: []int{3}, Lanes: []int{7}}, Like: -10}} // told by the same bits
	four := 4.0
	smeared(held, []patterns.Hypothesis{{Like: 0.1}, {Fault: &patterns.Fault{Kind: "fixed-bars", PeriodPx: &four}, Like: 0.9}}, &evidence{s: &analyse.Survey{}})
	if held[1].Like > -18 {
		t.Errorf("%.1f nats left of 10 for an address line of one lane", held[1].Like+20)
	}
	for period, want := range map[float64]bool{8: true, 4.03: true, 2: true, 8.0 / 3: true, 16: false, 5: false, 3: false} {
		if onCells(period) != want {
			t.Errorf("%.2f pixels: %v", period, !want)
		}
	}
}

// What speaks for a weak lane by its bits and by dots of the colours is bounded, and what a path that dots as well takes is of that; what bits say stays.
func TestDotsTakeWhatTheyGave(t *testing.T) {
	e := &evidence{flips: [8]int{4: 26, 1: 3}}
	for _, dots := range []float64{0, 10, 35, 60} {
		with, without := e.scattered(4, dots), e.scattered(4, 0)
		if with > placesLimit || without <= 10 || with < without || with > without+dots {
			t.Errorf("%.0f nats of dots: %.1f, without %.1f", dots, with, without)
		}
	}
}

// A second copy of the picture that is surely there lies on the pixels of any lane: what stands there speaks for a weak one no more; one that may be there leaves it.
func TestCopyOnLanes(t *testing.T) {
	weigh := func(sure float64) float64 {
		logic := []patterns.Hypothesis{{Like: -20}, {Fault: &patterns.Fault{Kind: "data-bit-weak", Bit: ptr(7)}, Like: -14}}
		smeared(logic, []patterns.Hypothesis{{Like: 1 - sure}, {Fault: &patterns.Fault{Kind: "ghost"}, Like: sure}}, &evidence{s: &analyse.Survey{}})
		return logic[1].Like + 20
	}
	if there, not := weigh(0.98), weigh(0.3); there > 2 || math.Abs(not-6) > 1e-6 {
		t.Errorf("%.1f nats left of 6 by a copy, %.1f where there may be one", there, not)
	}
}
