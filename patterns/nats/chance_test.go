package nats

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"

	"backporch/analyse"
)

// Turns by chance are binomial; a third more of them are fields that take turns, too few of them say nothing.
func TestByTurns(t *testing.T) {
	for _, c := range []struct {
		flips  int
		chance float64
		want   bool
	}{{348, 348, false}, {390, 348, false}, {461, 348, true}, {60, 40, true}, {50, 40, false}, {9, 5, false}, {30, 348, false}} {
		if got := ByTurns(&analyse.Motion{Flips: c.flips, Chance: c.chance}); got != c.want {
			t.Errorf("%d turns where chance makes %.0f: %v", c.flips, c.chance, got)
		}
	}
	if ByTurns(nil) {
		t.Error("nothing takes turns")
	}
}

// How long what changes stays so is a ratio of two log-normal densities, against gonum's: of 15 turns where chance makes 100, far out; of 60, between;
// of as many or more, by chance. Of too few it says nothing.
func TestLasting(t *testing.T) {
	want := func(flips, chance float64) float64 {
		z := math.Log((flips + 0.5) / chance)
		stays := distuv.Normal{Mu: math.Log(0.15), Sigma: 0.7}.LogProb(z)
		byChance := distuv.Normal{Sigma: math.Sqrt(0.1*0.1 + 1/chance)}.LogProb(math.Min(z, 0))
		return stays - byChance
	}
	for _, c := range []struct {
		flips  int
		chance float64
		want   float64
	}{{15, 100, LastingLimit}, {60, 100, want(60, 100)}, {100, 100, want(100, 100)}, {170, 100, want(170, 100)}, {90, 900, LastingLimit}, {2, 9.9, 0}} {
		if got := Lasting(&analyse.Motion{Flips: c.flips, Chance: c.chance}); math.Abs(got-c.want) > 1e-9 {
			t.Errorf("%d turns where chance makes %.1f: %.3f nats, want %.3f", c.flips, c.chance, got, c.want)
		}
	}
	if Lasting(nil) != 0 || want(60, 100) < 2 || want(100, 100) > -4 {
		t.Errorf("of nothing %.1f; %.2f and %.2f", Lasting(nil), want(60, 100), want(100, 100))
	}
}

// What is twice or half as often as usual is one spread and a hundredth off, whichever way.
func TestOften(t *testing.T) {
	for _, c := range []struct{ part, usual, want float64 }{{0.02, 0.02, 0}, {0.04, 0.02, -0.49024}, {0.1, 0.2, -0.49024}, {0.2, 0.02, -5.41019}} {
		if got := Often(c.part, c.usual); math.Abs(got-c.want) > 1e-4 {
			t.Errorf("%v where %v is usual: %.5f, want %.5f", c.part, c.usual, got, c.want)
		}
	}
	if got := OftenIn(&analyse.Motion{Events: 60, Moving: 10, Fields: 24}); math.Abs(got-60.5/10.5/24) > 1e-12 {
		t.Errorf("60 events in 10 bytes and 24 fields: %.4f", got)
	}
}
