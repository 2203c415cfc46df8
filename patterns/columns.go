package patterns

import (
	"fmt"
	"math"
)

// A tallied is how many of some bits or bytes change.
type tallied struct{ changed, of int }

func (s *tallied) add(changed bool) {
	s.of++
	if changed {
		s.changed++
	}
}

// rare is the log-likelihood of a share where next to nothing changes, but what is misread.
func (s tallied) rare() float64 { return betaSequence(s.changed, s.of, 0.5, 200) }

// any is the log-likelihood of a share of some rate.
func (s tallied) any() float64 { return betaSequence(s.changed, s.of, 0.5, 3) }

// anyhow is the log-likelihood of shares that differ from place to place about one mean.
func anyhow(list []tallied, all tallied) float64 {
	mean := (float64(all.changed) + 0.5) / (float64(all.of) + 1)
	var like [len(scatters)]float64
	for _, s := range list {
		for k, n := range scatters {
			like[k] += betaSequence(s.changed, s.of, mean*n, (1-mean)*n)
		}
	}
	return logSum(like[:]...) - math.Log(float64(len(like)))
}

// scatters are how firmly places' shares may keep to their mean: as if so many bits of each were known. Common practice, no source.
var scatters = [...]float64{6, 25, 100}

// leastByPlace is how many bits or bytes must change for their places to be looked at.
const leastByPlace = 12

// leastStill is how many bytes with something drawn must stand still beside those that change.
const leastStill = 40

// strayColumn is the part of the columns of good fetches in which something moves all the same. Common practice, no source.
const strayColumn = 0.03

// columnsOf finds them by how many change in each column.
func columnsOf(count []tallied) (columns string, odds float64) {
	var all tallied
	for _, s := range count {
		all.changed += s.changed
		all.of += s.of
	}
	if all.changed < leastByPlace {
		return "", 0
	}
	split := func(in func(c int) bool) float64 {
		var here, there tallied
		for c, s := range count {
			to := &there
			if in(c) {
				to = &here
			}
			to.changed += s.changed
			to.of += s.of
		}
		if there.of < leastStill || here.changed*there.of <= there.changed*here.of { // the others are those that change
			return math.Inf(-1)
		}
		var list []tallied
		still := 0.0
		for c, s := range count {
			if in(c) {
				list = append(list, s)
			} else { // all stand still, or something moves in one of them by itself
				still += logSum(math.Log(1-strayColumn)+s.rare(), math.Log(strayColumn)+s.any())
			}
		}
		return anyhow(list, here) + logSum(there.rare(), still) - math.Ln2
	}
	best := math.Inf(-1)
	try := func(name string, part float64) {
		if v := split(columnsNamed(name)) + math.Log(part); v > best {
			best, columns = v, name
		}
	}
	try("odd", 1.0/3)
	try("even", 1.0/3)
	for n := 1; n < len(count)-1; n++ {
		try(fmt.Sprintf("after %d", n), 1.0/3/float64(len(count)))
	}
	return columns, best - anyhow(count, all)
}

// columnsNamed tells which columns of cells a fault of the fetches names.
func columnsNamed(columns string) func(c int) bool {
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

// surelyPlaced is how much must speak for the columns, nats, before a fetch is thought of.
const surelyPlaced = 5
