package characters

import (
	"fmt"
	"math"

	"backporch/patterns"
)

// A row of a chip of the colour memory in which a lane is held, with nothing to compare it with: single cells amid others stand in another colour,
// all in that row of the chip, and all in the colour that the bit makes of their neighbours'.

// loneIn gives the colour of a cell's neighbours, two on each side, where they agree and the cell itself has another; -1 where not. Who colours a word colours more than one
// cell.
func (p *page) loneIn(i int) int {
	around, n := -1, 0
	for k := i - 2; k <= i+2; k++ {
		if k == i || k < 0 || k >= len(p.ink) || k/p.columns != i/p.columns || p.ink[k] < 0 {
			continue
		}
		if n++; n > 1 && p.ink[k] != around {
			return -1
		}
		around = p.ink[k]
	}
	if n < 2 || p.ink[i] < 0 || around == p.ink[i] {
		return -1
	}
	return around
}

// loneSurprise is the most that one such cell says, nats; and fewLone are as few as are a cursor, or misread. Common practice, no source.
const (
	loneSurprise = 7.0
	fewLone      = 1
)

// recolouredRows weighs them; clean is the log-likelihood of a good machine.
func (t *screenText) recolouredRows(clean float64, add func(f patterns.Fault, share, like float64, why ...string)) {
	p := t.page
	around := make([]int, len(p.ink))
	lone, of := 0, 0
	for i := range around {
		if around[i] = p.loneIn(i); around[i] >= 0 {
			lone++
		}
		if p.ink[i] >= 0 {
			of++
		}
	}
	if lone <= fewLone {
		return
	}
	for _, h := range deadRows(t.e.Profile, func(memory string, bit, level int, in func(i int) bool) bool { return memory == "colour" }) {
		if h.fault.Row == nil {
			continue
		}
		bit, level, n := *h.fault.Bit, *h.fault.Level, 0
		for i, ink := range p.ink {
			switch {
			case ink < 0 || !h.in(i):
			case ink>>bit&1 != level: // it would not show so
				n = -len(p.ink)
			case around[i] == ink^1<<bit:
				n++
			}
		}
		if n <= fewLone {
			continue
		}
		each := math.Min(loneSurprise, -math.Log((float64(lone-n)+0.5)/(float64(of)+1)))
		add(h.fault, h.share, clean+each*float64(n), fmt.Sprintf("%d single cells stand in another colour than those on both sides, all in one row of the chips and with bit %d of the colour at %d, and %d elsewhere", n, bit, level, lone-n))
	}
}
