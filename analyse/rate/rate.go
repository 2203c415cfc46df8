package rate

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/mathext"
)

// A Count is so many events in so much exposure.
type Count struct {
	Events   int
	Exposure float64 // seconds, or any other unit, the same for all counts
}

// ErrNoExposure: nothing was watched, so no rate can be stated.
var ErrNoExposure = errors.New("rate: nothing was watched")

func (c Count) check() error {
	if !(c.Exposure > 0) || math.IsInf(c.Exposure, 0) {
		return ErrNoExposure
	}
	if c.Events < 0 {
		return fmt.Errorf("rate: %d events cannot be", c.Events)
	}
	return nil
}

// Rate is events for one unit of exposure.
func (c Count) Rate() float64 { return float64(c.Events) / c.Exposure }

// Upper is the rate that the true one is below with this confidence, such as 0.95: the one-sided
// Garwood limit, the mean m at which so few events or fewer have probability 1-confidence.
func Upper(c Count, confidence float64) (float64, error) {
	if err := c.check(); err != nil {
		return 0, err
	}
	if !(confidence > 0 && confidence < 1) {
		return 0, fmt.Errorf("rate: a confidence of %v is not between 0 and 1", confidence)
	}
	// P(K <= k; m) = Q(k+1, m), the regularised upper incomplete gamma function.
	return mathext.GammaIncRegInv(float64(c.Events)+1, confidence) / c.Exposure, nil
}

// Interval is the exact two-sided interval of a rate.
func Interval(c Count, confidence float64) (low, high float64, err error) {
	high, err = Upper(c, 1-(1-confidence)/2)
	if err != nil || c.Events == 0 {
		return 0, high, err
	}
	return mathext.GammaIncRegInv(float64(c.Events), (1-confidence)/2) / c.Exposure, high, nil
}

// A Comparison is what two counts say of the ratio of their rates.
type Comparison struct {
	Ratio     *float64 // second rate over the first; nil when the first has no event
	Low, High *float64 // its exact interval; High nil: no upper bound, both nil: nothing happened
	P         float64  // probability of counts as unlike as these, or more, if the rates are the same
}

// Compare tests whether the second rate differs from the first, and gives the interval
// of their ratio. P is two-sided: it sums the outcomes that are no more probable than the one seen.
func Compare(first, second Count, confidence float64) (Comparison, error) {
	for _, c := range []Count{first, second} {
		if err := c.check(); err != nil {
			return Comparison{}, err
		}
	}
	if !(confidence > 0 && confidence < 1) {
		return Comparison{}, fmt.Errorf("rate: a confidence of %v is not between 0 and 1", confidence)
	}
	n, k := first.Events+second.Events, second.Events
	if n == 0 {
		return Comparison{P: 1}, nil
	}
	// If the rates are the same an event falls in the second exposure with this probability.
	null := second.Exposure / (first.Exposure + second.Exposure)
	out := Comparison{P: binomialP(n, k, null)}
	scale := first.Exposure / second.Exposure
	if first.Events > 0 {
		r := float64(k) / float64(first.Events) * scale
		out.Ratio = &r
	}
	low, high := ClopperPearson(k, n, confidence)
	l := low / (1 - low) * scale
	out.Low = &l
	if high < 1 {
		h := high / (1 - high) * scale
		out.High = &h
	}
	return out, nil
}

// ClopperPearson is the exact interval of a proportion, k of n.
func ClopperPearson(k, n int, confidence float64) (low, high float64) {
	tail := (1 - confidence) / 2
	high = 1
	if k > 0 {
		low = mathext.InvRegIncBeta(float64(k), float64(n-k)+1, tail)
	}
	if k < n {
		high = mathext.InvRegIncBeta(float64(k)+1, float64(n-k), 1-tail)
	}
	return low, high
}

// binomialP is the two-sided exact test of k of n against the proportion p.
func binomialP(n, k int, p float64) float64 {
	seen := logBinomial(n, k, p)
	// Equal probabilities are computed along other ways: let them differ in the last digits.
	const same = 1e-7
	sum := 0.0
	for i := range n + 1 {
		if l := logBinomial(n, i, p); l <= seen+same {
			sum += math.Exp(l)
		}
	}
	return min(sum, 1)
}

func logBinomial(n, k int, p float64) float64 {
	gamma := func(v int) float64 { l, _ := math.Lgamma(float64(v) + 1); return l }
	l := gamma(n) - gamma(k) - gamma(n-k)
	if k > 0 {
		l += float64(k) * math.Log(p)
	}
	if k < n {
		l += float64(n-k) * math.Log1p(-p)
	}
	return l
}
