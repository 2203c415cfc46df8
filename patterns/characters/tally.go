package characters

import (
	"maps"
	"math"
	"slices"

	"backporch/patterns/nats"
)

// A tally counts what shows in place of what, in cells.
type tally map[int]map[int]int

func (t tally) add(want, seen int) {
	if t[want] == nil {
		t[want] = map[int]int{}
	}
	t[want][seen]++
}

// weigh is the log-likelihood of a tally; with so many symbols; misread is what one cell costs that is taken for another, nats. Cells are misread one by one at a rate that is not
// known beforehand; or, here and there, one glyph or colour is taken for one other wherever it stands: two that are alike
// on this capture's path.
func (t tally) weigh(symbols float64, misread func(want, seen int) float64, apart func(want, seen int) (far float64, dots bool)) float64 {
	cells, wrong, like := 0, 0, 0.0
	for _, want := range slices.Sorted(maps.Keys(t)) { // in order: sums of floats depend on it
		all, odd, most, other := 0, 0, 0, -1
		for _, seen := range slices.Sorted(maps.Keys(t[want])) {
			n := t[want][seen]
			all += n
			if seen == want {
				continue
			}
			odd += n
			like -= float64(n) * misread(want, seen)
			if n > most {
				most, other = n, seen
			}
		}
		cells += all
		if most >= 2 {
			each := misread(want, other)
			far, dots := apart(want, other)
			alike := nats.BetaSequence(most, all, 1, 1)
			if dots && 4*most >= all { // the subcarrier's phase at each cell says which way it is read, and not chance
				alike = -math.Log(float64(all) + 1)
			}
			alike += math.Log(mistakenAlike) - math.Log(symbols) - far
			if alike > -float64(most)*(each+misreadCell) {
				like += alike + float64(most)*each
				odd -= most
			}
		}
		wrong += odd
	}
	return like + nats.BetaSequence(wrong, cells, 0.5, 50)
}

const (
	mistakenAlike = 0.02 // of the glyphs or colours of a screen are taken for one other
	misreadCell   = 4.0  // nats: a cell misread by itself
	leastSteady   = 10   // cells of a lane from which on it is known to be always so
	leastFlips    = 3    // cells that a weak lane must explain: fewer are misread as well
)

// weak is the log-likelihood of a lane that shows its forced value in some cells, and how many
// of those that could show it do. in says which cells share a rate: one number each; nil: all.
func (t textCells) weak(f shows, sort func(i int) int) (like float64, flipped, of int) {
	glyphs, colours := tally{}, tally{}
	rates := map[int][2]int{}
	for i, seen := range t.seen.shape {
		shape, ink := f(i)
		was, wasInk := t.plain(i)
		if seen < 0 || shape < 0 || was < 0 {
			continue
		}
		fits := func(shape, ink int) bool {
			return seen == shape && (ink < 0 || t.seen.ink[i] < 0 || ink == t.seen.ink[i])
		}
		// Where the colour alone would change, and was not read, nothing is seen of it.
		if shape != was || ink != wasInk && t.seen.ink[i] >= 0 {
			k := 0
			if sort != nil {
				k = sort(i)
			}
			r := rates[k]
			if fits(shape, ink) {
				rates[k] = [2]int{r[0] + 1, r[1] + 1}
				flipped++
				of++
				glyphs.add(was, was) // as it should be: nothing was misread
				if wasInk >= 0 && t.seen.ink[i] >= 0 {
					colours.add(wasInk, wasInk)
				}
				continue
			}
			if fits(was, wasInk) {
				of++
				rates[k] = [2]int{r[0], r[1] + 1}
			}
		}
		glyphs.add(was, seen)
		if wasInk >= 0 && t.seen.ink[i] >= 0 {
			colours.add(wasInk, t.seen.ink[i])
		}
	}
	like = glyphs.weigh(glyphsMistaken, anyGlyph, t.glyphsApart) + colours.weigh(inksMistaken, t.anotherInk, t.inksApart)
	for _, k := range slices.Sorted(maps.Keys(rates)) {
		r := rates[k]
		if sort == nil {
			like += nats.BetaSequence(r[0], r[1], 0.5, 3)
		} else {
			like += nats.BetaSequence(r[0], r[1], 0.3, 0.6)
		}
		like += halfExpected(r[0], r[1])
	}
	return like, flipped, of
}

// halfExpected is what a writer's screen is forgiven (surprise has it) in a row of flips of which so many came out: at most
// expected for each.
func halfExpected(flipped, of int) float64 {
	if flipped == 0 || flipped == of {
		return 0
	}
	p := float64(flipped) / float64(of)
	return float64(flipped)*math.Min(expected, -math.Log(p)) + float64(of-flipped)*math.Min(expected, -math.Log(1-p))
}
