package judge

import (
	"fmt"
	"math"

	"backporch/analyse"
	"backporch/patterns"
	"backporch/patterns/nats"
)

// A fetch that gets nothing reads what an idle bus holds: every cell of the columns it is for shows the same, whatever is written there.

// An aspect is what a cell shows, for comparing cells.
type aspect struct {
	paper, ink int
	bits       [8]uint8
}

func lookOf(c *analyse.Cell) aspect {
	if c.Single {
		return aspect{paper: c.Paper, ink: -1}
	}
	return aspect{c.Paper, c.Ink, c.Bits}
}

const (
	idleShare = 0.97 // of the cells of idle columns show the same, at the least: some are misread
	idleRest  = 0.99 // and of all cells from a column on: a screen with little on it is nearly as even by itself
	busyShare = 0.5  // and no more of the other columns' do, or the screen is even
	// idleOdds is how odd that is of a good screen, nats: good ones have columns of cells all down the screen as a rule of a table or two, not
	// every second column. Common practice, no source.
	idleOdds = 12.0
)

// idle gives the look of the columns that in picks, where they show one, and the part of the other columns' cells that have it; ok is false where
// they don't.
func idle(cells []analyse.Cell, least float64, in func(column int) bool) (l aspect, elsewhere float64, ok bool) {
	counts, others := map[aspect]int{}, map[aspect]int{}
	n, rest := 0, 0
	for i := range cells {
		c := lookOf(&cells[i])
		if in(cells[i].Column) {
			counts[c]++
			n++
			if counts[c] > counts[l] {
				l = c
			}
		} else {
			others[c]++
			rest++
		}
	}
	return l, float64(others[l]) / float64(max(1, rest)), n > 0 && float64(counts[l]) >= least*float64(n)
}

// parities are the columns that a fetch for every second one serves.
var parities = [2]struct {
	name string
	in   func(column int) bool
}{
	{"even", func(c int) bool { return c&1 == 0 }},
	{"odd", func(c int) bool { return c&1 == 1 }},
}

// idleColumns lists fetches that get nothing in every second column, on a screen that nothing is known of.
func (e *evidence) idleColumns(add func(f patterns.Fault, k *patterns.Kind, share, odds float64, why string)) {
	for _, p := range parities {
		if _, elsewhere, ok := idle(e.s.Cells, idleShare, p.in); ok && elsewhere <= busyShare {
			if _, _, even := idle(e.s.Cells, idleShare, func(column int) bool { return !p.in(column) }); even {
				continue // a fill, whose stripes beat with the subcarrier so that every second column has another colour
			}
			add(patterns.Fault{Columns: p.name}, patterns.KindOf("cell-fetch"), 0.25, idleOdds, fmt.Sprintf("every cell of the %s columns shows the same, and the others do not", p.name))
		}
	}
}

// idleFetches lists them beside an expected screen, also from a column on: cells elsewhere pay what they do, those of idle columns nothing but the
// byte that the bus holds.
func (c *comparison) idleFetches(e *evidence, perPixel, plain, edge float64) []patterns.Hypothesis {
	k := patterns.KindOf("cell-fetch")
	var out []patterns.Hypothesis
	try := func(name string, share, least float64, in func(column int) bool) {
		l, _, ok := idle(e.s.Cells, least, in)
		if !ok {
			return
		}
		paid, differ := make([]float64, 0, len(e.s.Cells)), 0
		for i := range e.s.Cells {
			seen, want := &e.s.Cells[i], tileOf(&c.cells[i])
			_, n := c.differ(want, seen)
			switch {
			case !in(seen.Column):
				paid = append(paid, c.paid(n, want, seen, perPixel))
			case lookOf(seen) != l:
				paid = append(paid, wholeCell)
			case n > 0:
				differ++
			}
		}
		like := edge - misreadCells(paid) - nats.Scant(differ) - 8*math.Ln2
		if differ > 0 && like > -plain/2 {
			out = append(out, patterns.Hypothesis{
				Fault: &patterns.Fault{Class: k.Class, Kind: k.Name, Columns: name}, Prior: math.Log(k.Prior * share), Like: like,
				Why: []string{fmt.Sprintf("the cells of these columns all show the same, in %d places another than %s has, and the others are right", differ, c.what)},
			})
		}
	}
	for _, p := range parities {
		try(p.name, 0.25, idleShare, p.in)
	}
	last := e.p.Columns() - 1
	for n := 1; n < last; n++ {
		try(fmt.Sprintf("after %d", n), 0.25/float64(last), idleRest, func(column int) bool { return column > n })
	}
	return out
}
