package characters

import (
	"fmt"
	"maps"
	"math"
	"slices"

	"backporch/patterns/nats"
)

// fetches gives the columns of cells in which the screen changes over time, and in no others, as where fetches fail now and then, with
// the log-likelihood of what changes; columns is empty where there are no such.
func (r *restless) fetches() (columns string, like float64, why string) {
	p := r.words
	moves := make(map[int]bool, len(r.changes))
	for i := range r.changes {
		moves[r.changes[i].At] = true
	}
	count := make([]nats.Tally, p.columns)
	for i, s := range p.shape {
		// What is read in the place of a blank may be blank as well.
		if s >= 0 && (!p.blank[i] || moves[i]) {
			count[i%p.columns].Add(moves[i])
		}
	}
	columns, placed := nats.ColumnsOf(count)
	if placed < nats.SurelyPlaced {
		return "", 0, ""
	}
	in := nats.ColumnsNamed(columns)
	var symbols words // what the bus shows is often one thing
	cost, n := 0.0, 0
	for i := range r.changes {
		c := &r.changes[i]
		at := c.At % p.columns
		if !in(at) {
			cost += c.plainly() + 1
			continue
		}
		n++
		each := symbols.cost(c.shows, 1.0/256)
		for _, by := range [2]int{-1, 1} {
			if k := c.At + by; at+by >= 0 && at+by < p.columns && p.shape[k] == c.shows {
				each = math.Min(each, math.Log(3))
			}
		}
		if each += laneAlone; !p.fits { // as with a supply that fails
			each = math.Min(each, animated)
		}
		cost += each
	}
	// Fetches fail anew each time: what stays for a while has decayed.
	like = r.bounded(placed-cost) - math.Max(0, r.order)
	return columns, like, fmt.Sprintf("%d of the %d cells that change over time stand in the columns %s", n, len(r.changes), columns)
}

// constant has one character, the commonest there, in all cells of some columns, as where fetches fail and show what floats on the bus;
// n is how many cells that the reference has otherwise show it.
func (t textCells) constant(in func(c int) bool) (like float64, n int) {
	count := map[int]int{}
	for i, s := range t.seen.shape {
		if in(i%t.seen.columns) && s >= 0 {
			count[s]++
		}
	}
	shape, most := -1, 0
	for _, s := range slices.Sorted(maps.Keys(count)) {
		if count[s] > most {
			shape, most = s, count[s]
		}
	}
	for i, s := range t.seen.shape {
		if in(i%t.seen.columns) && s == shape && t.want.shape[i] >= 0 && t.want.shape[i] != shape {
			n++
		}
	}
	if shape < 0 || n < leastFloating {
		return 0, n
	}
	like = t.weigh(func(i int) (int, int) {
		if in(i % t.seen.columns) {
			return shape, -1
		}
		return t.plain(i)
	}, true)
	return like - math.Log(256), n
}

// leastFloating is how many cells must show it.
const leastFloating = 8
