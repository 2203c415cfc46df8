package judge

import (
	"math"
	"math/rand/v2"
	"testing"

	"backporch/analyse"
	"backporch/patterns"
)

// Of lines that are as odd as each other none is dead; one that is odder keeps what it has over the next.
func TestAlone(t *testing.T) {
	list := []patterns.Hypothesis{{Like: 10}, {Like: 10}, {Like: 20}, {Like: 12}}
	alone(list, []oddLine{{96, 0, 10}, {100, 1, 10}})
	alone(list, []oddLine{{5, 2, 20}, {5, 3, 12}, {9, 3, 2}})
	for i, want := range []float64{0, 0, 18, 8} {
		if math.Abs(list[i].Like-want) > 1e-12 {
			t.Errorf("hypothesis %d: %g, want %g", i, list[i].Like, want)
		}
	}
}

// White noise speaks for what hits at random and a sine against it: the share of the power that the greatest bin has is (ln b + 0.577)/b on the mean of b exponential
// variates, which is tried here, and next to all of it for a sine.
func TestArrhythmic(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 9))
	for _, fields := range []int{12, 24, 64} {
		bins := fields/2 - 1
		sum, tries := 0.0, 4000
		for range tries {
			most, all := 0.0, 0.0
			for range bins {
				v := rng.ExpFloat64()
				most, all = math.Max(most, v), all+v
			}
			sum += most / all
		}
		mean := sum / float64(tries)
		if want := (math.Log(float64(bins)) + 0.577) / float64(bins); math.Abs(mean-want) > 0.12*want {
			t.Errorf("%d bins: %.3f, want about %.3f", bins, mean, want)
		}
		noise := arrhythmic(&analyse.Motion{Fields: fields, Rhythm: mean})
		if beat := arrhythmic(&analyse.Motion{Fields: fields, Rhythm: 0.8}); noise < 1 || beat > -2 {
			t.Errorf("%d fields: %.1f for noise, %.1f for a beat", fields, noise, beat)
		}
	}
	turns := func(flips int) float64 { return arrhythmic(&analyse.Motion{Flips: flips, Chance: 10000}) }
	if turns(10000) < 0 || turns(9800) != 0 || turns(11000) > -5 {
		t.Errorf("turns: %.1f %.1f %.1f", turns(10000), turns(9800), turns(11000))
	}
}
