package characters

import (
	"math"
	"math/bits"
	"slices"
)

// Fine patterns look like chroma to a decoder, and turn with the subcarrier's phase from field to field: cells change their
// colour then in step with it, each to another one. A lane of the colour memory makes the same change in all of them.
const (
	crawling     = 0.35 // of the power at one frequency, where chance gives 0.1 or so
	mostlyOne    = 0.8  // of the changes in one bit
	manyInStep   = 10   // fewer cells of one bit may be two hues of a pattern
	surelyInStep = 0.9  // of the power at one frequency, from which on it is no lane's doing however many cells take part
)

// oneLane is the part of the changes that are in the commonest single bit of the colour.
func oneLane(list []*changed) float64 {
	var of [4]int
	for _, c := range list {
		if c.colours > 0 && bits.OnesCount(uint(c.colours)) == 1 {
			of[bits.TrailingZeros(uint(c.colours))]++
		}
	}
	return float64(slices.Max(of[:])) / float64(len(list))
}

// inStep is the greatest part of the power that the cells' changes, as series over the fields, have at one frequency.
func inStep(list []*changed) float64 {
	n := list[0].Of
	if n < enoughTime {
		return 0
	}
	total := 0.0
	power := make([]float64, 4*n) // at frequencies from 0 to half a cycle a field
	series := make([]float64, n)
	for _, c := range list[:min(len(list), 64)] {
		mean := float64(len(c.In)) / float64(n)
		for k := range series {
			series[k] = -mean
		}
		for _, k := range c.In {
			if k < n {
				series[k]++
			}
		}
		own := 0.0
		for _, v := range series {
			own += v * v
		}
		total += own
		for j := range power {
			sin, cos := math.Sincos(math.Pi * float64(j+1) / float64(len(power)))
			re, im, wr, wi := 0.0, 0.0, 1.0, 0.0
			for _, v := range series {
				re, im = re+v*wr, im+v*wi
				wr, wi = wr*cos-wi*sin, wr*sin+wi*cos
			}
			// Near half a cycle a field the wave of the negative frequency is nearly the same one.
			power[j] += math.Min(2*(re*re+im*im)/float64(n), own)
		}
	}
	if total == 0 {
		return 0
	}
	return slices.Max(power) / total
}
