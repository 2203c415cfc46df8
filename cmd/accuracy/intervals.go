package main

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// A tally counts successes.
type tally struct{ good, of int }

func (t *tally) add(good bool) {
	t.of++
	if good {
		t.good++
	}
}

func (t tally) String() string {
	if t.of == 0 {
		return "     -"
	}
	low, high := wilson(t.good, t.of)
	return fmt.Sprintf("%4d of %4d  %5.1f %% (%.1f to %.1f)", t.good, t.of, 100*float64(t.good)/float64(t.of), 100*low, 100*high)
}

// A Proportion is a tally in the JSON, with its 95 % interval; null where nothing was counted.
type Proportion struct {
	Good  int      `json:"good"`
	Of    int      `json:"of"`
	Share *float64 `json:"share"`
	Low   *float64 `json:"low"`
	High  *float64 `json:"high"`
}

func (t tally) proportion() Proportion {
	p := Proportion{Good: t.good, Of: t.of}
	if t.of > 0 {
		share := float64(t.good) / float64(t.of)
		low, high := wilson(t.good, t.of)
		p.Share, p.Low, p.High = &share, &low, &high
	}
	return p
}

// wilson is the 95 % score interval of a proportion (NIST/SEMATECH e-Handbook 7.2.4.1).
func wilson(k, n int) (low, high float64) {
	const z = 1.959964
	p, m := float64(k)/float64(n), float64(n)
	centre := (p + z*z/(2*m)) / (1 + z*z/m)
	half := z / (1 + z*z/m) * math.Sqrt(p*(1-p)/m+z*z/(4*m*m))
	return math.Max(0, centre-half), math.Min(1, centre+half)
}

// mcnemar is the probability that two ways to judge the same captures differ as much by chance: worse were right one way
// and wrong the other, better the reverse. The square of the difference over the sum is chi-square with one degree of
// freedom, with the correction for continuity (McNemar, Psychometrika 12, 1947; Edwards 1948; from memory).
func mcnemar(worse, better int) float64 {
	if worse+better == 0 {
		return 1
	}
	d := math.Max(0, math.Abs(float64(worse-better))-1)
	return distuv.ChiSquared{K: 1}.Survival(d * d / float64(worse+better))
}
