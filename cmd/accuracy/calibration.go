package main

import "math"

// A claim is a probability that was stated, and whether it came true.
type claim struct {
	p     float64
	right bool
}

// A Bin is the claims of one tenth of the scale.
type Bin struct {
	From   float64  `json:"from"`
	To     float64  `json:"to"`
	Claims int      `json:"claims"`
	Stated *float64 `json:"stated"` // mean probability; null where there are none
	Right  *float64 `json:"right"`  // share that came true
}

// A Calibration says whether probabilities mean what they say.
type Calibration struct {
	Claims int      `json:"claims"`
	Brier  *float64 `json:"brier"`              // mean square of probability less outcome (Brier, Monthly Weather Review 78, 1950)
	Error  *float64 `json:"expected_error"`     // |right - stated| of the bins, weighted by their claims
	Beyond *float64 `json:"expected_by_chance"` // what that error would be of claims that mean what they say
	Bins   []Bin    `json:"bins"`
}

const bins = 10

// calibrate puts claims into ten bins of equal width.
func calibrate(claims []claim) Calibration {
	c := Calibration{Claims: len(claims), Bins: make([]Bin, bins)}
	var stated, right, variance [bins]float64
	brier := 0.0
	for i := range c.Bins {
		c.Bins[i].From, c.Bins[i].To = float64(i)/bins, float64(i+1)/bins
	}
	for _, k := range claims {
		i := min(bins-1, int(k.p*bins))
		outcome := 0.0
		if k.right {
			outcome = 1
		}
		c.Bins[i].Claims++
		stated[i] += k.p
		right[i] += outcome
		variance[i] += k.p * (1 - k.p)
		brier += (k.p - outcome) * (k.p - outcome)
	}
	if len(claims) == 0 {
		return c
	}
	n, off, chance := float64(len(claims)), 0.0, 0.0
	for i := range c.Bins {
		if m := float64(c.Bins[i].Claims); m > 0 {
			s, r := stated[i]/m, right[i]/m
			c.Bins[i].Stated, c.Bins[i].Right = &s, &r
			off += math.Abs(right[i]-stated[i]) / n
			chance += math.Sqrt(2*variance[i]/math.Pi) / n // mean of the absolute value of a normal deviation
		}
	}
	brier /= n
	c.Brier, c.Error, c.Beyond = &brier, &off, &chance
	return c
}
