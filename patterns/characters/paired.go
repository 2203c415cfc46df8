package characters

import (
	"fmt"
	"maps"
	"math/bits"
	"slices"
)

// paired tells which changes are those of a lane that comes and goes, where the codes are not known: it takes each character for one other
// and that one for it, wherever they stand. Nil where it is not most of them, or too few sorts to say so.
func (r *restless) paired(now *page) []bool {
	if r.words.fits || len(r.changes)*20 < r.n {
		return nil
	}
	partners := tally{}
	for i := range r.changes {
		was, then := r.words.shape[r.changes[i].At], now.shape[r.changes[i].At]
		partners.add(was, then)
		partners.add(then, was)
	}
	with := map[int]int{}
	for _, s := range slices.Sorted(maps.Keys(partners)) {
		most := 0
		for _, other := range slices.Sorted(maps.Keys(partners[s])) {
			if n := partners[s][other]; n > most {
				most, with[s] = n, other
			}
		}
	}
	out, n, sorts := make([]bool, len(r.changes)), 0, map[int]bool{}
	for i := range r.changes {
		c := &r.changes[i]
		was, then := r.words.shape[c.At], now.shape[c.At]
		turned := bits.OnesCount64(r.words.rows[c.At]^now.rows[c.At]) >= invertedPixels // so does a cursor, or a line that flashes
		if with[was] != then || with[then] != was || turned || partners[was][then] < 2 {
			continue
		}
		// A decoder shows each of the two in two ways, by the subcarrier's phase.
		if out[i] = c.Pictures <= 2*twoStates; out[i] {
			n++
			sorts[min(was, then)] = true
		}
	}
	if len(sorts) < leastSteadily || float64(n) < mostlyPaired*float64(len(r.changes)) {
		return nil
	}
	// A lane takes these characters wherever they stand; what is read from a wrong place by its column: odd or even, left or right.
	var change, stand [4]int
	count := func(to *[4]int, i int) {
		column := i % r.words.columns
		to[column&1]++
		to[2+column*2/r.words.columns]++
	}
	for i, s := range r.words.shape {
		if other, ok := with[s]; ok && with[other] == s && sorts[min(s, other)] {
			count(&stand, i)
		}
	}
	for i := range r.changes {
		if out[i] {
			count(&change, r.changes[i].At)
		}
	}
	for k, of := range stand {
		if float64(change[k]) < everywhere*float64(of) {
			return nil
		}
	}
	return out
}

// A cell is inverted by so many of its 64 pixels; and so many of the cells that change must be paired, for a lane leaves none out but those
// that were misread. Common practice, no source.
const (
	invertedPixels = 56
	mostlyPaired   = 0.7
	everywhere     = 0.3 // and of these characters so many change in each half of the columns
)

// whyPaired says so.
func whyPaired(n, of int) string {
	return fmt.Sprintf("in %d of the %d cells that change over time a character and one other take turns, the same two wherever they stand", n, of)
}

// swapping does so where cells are few: each goes many times to one other character and back, at no rhythm, and never a character to two others. sorts are the pairs.
func (r *restless) swapping(now *page) (out []bool, sorts int) {
	if r.words.fits || len(r.changes) < fewGlyphs {
		return nil, 0
	}
	out = make([]bool, len(r.changes))
	with, pairs, n := map[int]int{}, map[[2]int]bool{}, 0
	var list []*changed
	for i := range r.changes {
		c := &r.changes[i]
		list = append(list, c)
		was, then := r.words.shape[c.At], now.shape[c.At]
		if !c.often() || c.Pictures > twoStates || float64(c.Fields) < snowMost*float64(c.Of) || bits.OnesCount64(r.words.rows[c.At]^now.rows[c.At]) >= invertedPixels {
			continue
		}
		a, b := min(was, then), max(was, then)
		if other, known := with[was]; known && other != then {
			continue
		}
		if other, known := with[then]; known && other != was {
			continue
		}
		with[was], with[then] = then, was
		pairs[[2]int{a, b}] = true
		out[i] = true
		n++
	}
	if n < fewGlyphs || float64(n) < mostlyPaired*float64(len(r.changes)) || inStep(list) > crawling {
		return nil, 0
	}
	return out, len(pairs)
}
