package judge

import (
	"testing"

	"backporch/analyse"
	"backporch/patterns"
)

// A strong copy of the picture colours its areas, so that a component that seems wrong counts for less; a faint one does not, nor one that is
// not there.
func TestGhostColours(t *testing.T) {
	weigh := func(size, sure float64) float64 {
		zero := 0
		logic := []patterns.Hypothesis{{}, {Fault: &patterns.Fault{Kind: "colour-path", Component: "green", Level: &zero}, Like: 5}}
		paths := []patterns.Hypothesis{{Like: 1 - sure}, {Fault: &patterns.Fault{Kind: "ghost"}, Like: sure}}
		dazzled(logic, paths, &analyse.Ghost{Pct: analyse.Estimate{Value: size}})
		return logic[1].Like
	}
	if strong := weigh(-25, 0.99); strong > 1 {
		t.Errorf("a strong copy: %.1f nats left of 5", strong)
	}
	if faint, none := weigh(5, 0.99), weigh(25, 0.2); faint != 5 || none != 5 {
		t.Errorf("a faint copy: %.1f, none: %.1f nats left of 5", faint, none)
	}
}

// What fits better with a signal held that all colours together say nothing for is misread; where they say so it stands, and as they say it.
func TestHeldBack(t *testing.T) {
	for gain, want := range map[float64]float64{-4: -100, 2: -98, 40: -20} {
		e := &evidence{s: &analyse.Survey{Levels: analyse.Levels{Components: []analyse.Component{{Name: "blue", Level: 1, Gain: gain, Beside: true}}}}}
		list := []patterns.Hypothesis{{Like: -100}, {Like: -20, Fault: &patterns.Fault{Kind: "colour-path", Component: "blue", Level: ptr(1)}}, {Like: -30, Fault: &patterns.Fault{Kind: "colour-path", Component: "red", Level: ptr(1)}}}
		e.heldBack(list)
		if list[1].Like != want || list[2].Like != -30 {
			t.Errorf("gain %v: %v and %v, want %v and -30", gain, list[1].Like, list[2].Like, want)
		}
	}
	// Strokes of which no cell is read surely say it together, as much as any look at a screen says at the most.
	e := &evidence{s: &analyse.Survey{Levels: analyse.Levels{Components: []analyse.Component{{Name: "blue", Level: 1, Gain: 40, Beside: true}}}}}
	list := []patterns.Hypothesis{{Like: -100}, {Like: -100, Fault: &patterns.Fault{Kind: "colour-path", Component: "blue", Level: ptr(1)}}}
	if e.heldBack(list); list[1].Like != -70 {
		t.Errorf("%v, want -70", list[1].Like)
	}
}
