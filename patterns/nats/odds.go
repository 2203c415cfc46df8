package nats

import (
	"math"

	"backporch/patterns"
)

// LogSum is ln of the sum of what v are the ln of.
func LogSum(v ...float64) float64 {
	top := math.Inf(-1)
	for _, x := range v {
		top = math.Max(top, x)
	}
	if math.IsInf(top, -1) {
		return top
	}
	sum := 0.0
	for _, x := range v {
		sum += math.Exp(x - top)
	}
	return top + math.Log(sum)
}

// BetaSequence is the log-probability of one sequence of k events in n trials
// whose rate has a Beta(a, b) prior.
func BetaSequence(k, n int, a, b float64) float64 {
	lbeta := func(x, y float64) float64 {
		lx, _ := math.Lgamma(x)
		ly, _ := math.Lgamma(y)
		lxy, _ := math.Lgamma(x + y)
		return lx + ly - lxy
	}
	return lbeta(float64(k)+a, float64(n-k)+b) - lbeta(a, b)
}

// NegativeBinomial is ln of the probability of n events of the given mean and shape of the rate.
func NegativeBinomial(n int, mean, shape float64) float64 {
	a, _ := math.Lgamma(float64(n) + shape)
	b, _ := math.Lgamma(shape)
	c, _ := math.Lgamma(float64(n) + 1)
	return a - b - c + shape*math.Log(shape/(shape+mean)) + float64(n)*math.Log(mean/(shape+mean))
}

// Gauss is the log-density of a normal distribution at x.
func Gauss(x, mean, sd float64) float64 {
	z := (x - mean) / sd
	return -z*z/2 - math.Log(sd*math.Sqrt(2*math.Pi))
}

// Scant is what it costs, in nats, to accuse a lane of what so few cells show: a cell that is misread is so in a line or a
// stroke, and one of many is, however sure the others are.
func Scant(n int) float64 {
	if n == 0 || n > 3 {
		return 0
	}
	return 6 / float64(n*n)
}

// Normalise turns ln prior and likelihood into posterior probabilities that add up to one, kept in Like.
func Normalise(list []patterns.Hypothesis) {
	all := make([]float64, len(list))
	for i := range list {
		all[i] = list[i].Prior + list[i].Like
	}
	total := LogSum(all...)
	for i := range list {
		list[i].Like = math.Exp(all[i] - total)
	}
}
