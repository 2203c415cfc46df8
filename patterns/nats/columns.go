package nats

import (
	"fmt"
	"math"
)

// A Tally is how many of some bits or bytes change.
type Tally struct{ Changed, Of int }

// Add counts one more.
func (s *Tally) Add(changed bool) {
	s.Of++
	if changed {
		s.Changed++
	}
}

// Rare is the log-likelihood of a share where next to nothing changes, but what is misread.
func (s Tally) Rare() float64 { return BetaSequence(s.Changed, s.Of, 0.5, 200) }

// Any is the log-likelihood of a share of some rate.
func (s Tally) Any() float64 { return BetaSequence(s.Changed, s.Of, 0.5, 3) }

// Anyhow is the log-likelihood of shares that differ from place to place about one mean.
func Anyhow(list []Tally, all Tally) float64 {
	mean := (float64(all.Changed) + 0.5) / (float64(all.Of) + 1)
	var like [len(scatters)]float64
	for _, s := range list {
		for k, n := range scatters {
			like[k] += BetaSequence(s.Changed, s.Of, mean*n, (1-mean)*n)
		}
	}
	return LogSum(like[:]...) - math.Log(float64(len(like)))
}

// scatters are how firmly places' shares may keep to their mean: as if so many bits of each were known. Common practice, no source.
var scatters = [...]float64{6, 25, 100}

// LeastByPlace is how many bits or bytes must change for their places to be looked at.
const LeastByPlace = 12

// leastStill is how many bytes with something drawn must stand still beside those that change.
const leastStill = 40

// moreOften is how many times as often as the others such columns move at the least. Common practice, no source.
const moreOften = 3

// strayColumn is the part of the columns of good fetches in which something moves all the same. Common practice, no source.
const strayColumn = 0.03

// ColumnsOf finds the columns of cells in which something changes, and nothing in the others, by how many change in each column: odd,
// even, or after some column. odds are what speaks for them in nats, over the changes' lying anywhere; columns is empty where too few change.
func ColumnsOf(count []Tally) (columns string, odds float64) {
	var all Tally
	for _, s := range count {
		all.Changed += s.Changed
		all.Of += s.Of
	}
	if all.Changed < LeastByPlace {
		return "", 0
	}
	split := func(in func(c int) bool) float64 {
		var here, there Tally
		for c, s := range count {
			to := &there
			if in(c) {
				to = &here
			}
			to.Changed += s.Changed
			to.Of += s.Of
		}
		if there.Of < leastStill || here.Changed*there.Of < moreOften*there.Changed*here.Of { // the others change as well
			return math.Inf(-1)
		}
		var list []Tally
		still := 0.0
		for c, s := range count {
			if in(c) {
				list = append(list, s)
			} else { // all stand still, or something moves in one of them by itself
				still += LogSum(math.Log(1-strayColumn)+s.Rare(), math.Log(strayColumn)+s.Any())
			}
		}
		return Anyhow(list, here) + LogSum(there.Rare(), still) - math.Ln2
	}
	best := math.Inf(-1)
	try := func(name string, part float64) {
		if v := split(ColumnsNamed(name)) + math.Log(part); v > best {
			best, columns = v, name
		}
	}
	try("odd", 1.0/3)
	try("even", 1.0/3)
	for n := 1; n < len(count)-1; n++ {
		try(fmt.Sprintf("after %d", n), 1.0/3/float64(len(count)))
	}
	return columns, best - Anyhow(count, all)
}

// ColumnsNamed tells which columns of cells a fault of the fetches names.
func ColumnsNamed(columns string) func(c int) bool {
	after := 0
	switch {
	case columns == "odd":
		return func(c int) bool { return c&1 == 1 }
	case columns == "even":
		return func(c int) bool { return c&1 == 0 }
	}
	if _, err := fmt.Sscanf(columns, "after %d", &after); err != nil {
		return func(int) bool { return false }
	}
	return func(c int) bool { return c > after }
}

// SurelyPlaced is how much must speak for the columns, nats, before a fetch is thought of.
const SurelyPlaced = 5
