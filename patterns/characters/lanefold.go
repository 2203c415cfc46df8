package characters

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"math/bits"
	"slices"

	"backporch/patterns"
	"backporch/patterns/nats"
)

// An address line of one lane that is stuck, where the codes are not known, beside a reference: a cell shows its own character if that has the lane as
// the character has that stands at the other address, else one definite other character. So every character has the lane at 0 or at 1.

// A laneFold is what the cells say of one.
type laneFold struct {
	like  float64         // log-likelihood of the codes
	sides [2]characterMap // of the characters that have the lane one way or the other: what they become
	cells int             // that show another character
	of    int             // that should
}

// foldedLane reads it; ok is false where too little differs.
func (t textCells) foldedLane(f fold) (out laneFold, ok bool) {
	type pair struct{ own, there int }
	type count struct{ changed, same int }
	pairs, became := map[pair]count{}, tally{}
	own, alike := t.ownLikeness(), map[pair]bool{}
	near := func(w, seen int) bool { // so does the path change characters
		k := pair{w, seen}
		is, known := alike[k]
		if !known {
			a, b := t.want.rowsOf(w), t.seen.rowsOf(seen)
			is = w == seen || bits.OnesCount64(a^b) <= mistakenFor || a == 0 && oneStroke(b) || own(w, seen) || takenForChroma(a, b)
			alike[k] = is
		}
		return is
	}
	outside, strays := 0, 0
	cells := map[int]int{}
	for i, seen := range t.seen.shape {
		w, from := t.want.shape[i], f.from(i)
		if seen < 0 || w < 0 || from < 0 {
			continue
		}
		there := t.want.shape[from]
		if from == i || there == w {
			if outside++; !near(w, seen) {
				strays++
			}
			continue
		}
		if there < 0 {
			continue
		}
		k := pair{w, there}
		n := pairs[k]
		if near(w, seen) {
			n.same++
		} else {
			n.changed++
			became.add(w, seen)
		}
		pairs[k] = n
		cells[w]++
		cells[there]++
	}
	if len(became) < leastSteadily {
		return out, false
	}
	// Which way each has the lane: from the commonest on, as those before it say, and then once more as all do.
	order := slices.SortedFunc(maps.Keys(cells), func(a, b int) int { return cmp.Or(cells[b]-cells[a], a-b) })
	side := map[int]int{}
	for range 4 {
		for _, s := range order {
			unlike := 0 // cells that say that it is not as those on side 0
			for k, n := range pairs {
				other := k.there
				if k.there == s {
					other = k.own
				} else if k.own != s {
					continue
				}
				if at, known := side[other]; known {
					unlike += (n.changed - n.same) * (1 - 2*at)
				}
			}
			if side[s] = 0; unlike > 0 {
				side[s] = 1
			}
		}
	}
	// Two characters that are nearly alike have one number: such a sort has the lane both ways, and says nothing.
	twin := map[int]bool{}
	for range max(1, int(twinned*float64(len(order))/2)) {
		worst, least := -1, math.Log(256/twinned)
		for _, s := range order {
			against, of := 0, 0
			for k, n := range pairs {
				if k.own != s && k.there != s || twin[k.own] || twin[k.there] {
					continue
				}
				of += n.changed + n.same
				if side[k.own] == side[k.there] {
					against += n.changed
				} else {
					against += n.same
				}
			}
			if gain := float64(against)*misread - float64(of)*math.Ln2; gain > least {
				worst, least = s, gain
			}
		}
		if worst < 0 {
			break
		}
		twin[worst] = true
	}
	images := map[int][]int{} // what each becomes, a twin two
	for w, list := range became {
		order := slices.SortedFunc(maps.Keys(list), func(a, b int) int { return cmp.Or(list[b]-list[a], a-b) })
		if images[w] = order[:1]; twin[w] {
			images[w] = order[:min(len(order), mostTwins)]
		}
	}
	all, wrong, either := outside, strays, 0
	turned := map[int]int{} // cells that show it, by character
	for k, n := range pairs {
		all += n.changed + n.same
		switch {
		case twin[k.own] || twin[k.there]:
			either += n.changed + n.same
			turned[k.own] += n.changed
			out.of += n.changed
			continue
		case side[k.own] == side[k.there]:
			wrong += n.changed
			continue
		}
		wrong += n.same
		out.of += n.changed + n.same
		turned[k.own] += n.changed
	}
	for _, w := range slices.Sorted(maps.Keys(became)) {
		for _, s := range slices.Sorted(maps.Keys(became[w])) {
			if !slices.ContainsFunc(images[w], func(image int) bool {
				return image == s || bits.OnesCount64(t.seen.rowsOf(image)^t.seen.rowsOf(s)) <= mistakenFor
			}) {
				wrong += became[w][s]
				turned[w] -= min(turned[w], became[w][s])
			}
		}
	}
	sorts := 0
	for _, w := range order {
		m := &out.sides[side[w]]
		if n := turned[w]; n == 1 { // what was seen once may be misread
			wrong++
		} else if n > 1 {
			sorts += len(images[w])
			out.cells += n
			if !twin[w] {
				m.became = append(m.became, [2]int{w, images[w][0]})
				m.cells += n
				m.sorts++
			}
		}
	}
	out.like = math.Log(twinned) * float64(len(twin))
	out.like += -math.Ln2*float64(len(order)+either) - math.Log(256)*float64(sorts) + nats.BetaSequence(wrong, all, 0.5, 50) - float64(wrong)*math.Log(glyphsMistaken)
	// A lane shows both ways: characters that have it take it from such as have not, and the other way round.
	both := min(out.sides[0].cells, out.sides[1].cells) >= leastFlips
	// What fits better by what else was misread is misread.
	return out, both && out.cells > wrong && sorts >= leastSteadily && out.cells >= max(leastMovingCells, 2*sorts) && 2*out.cells > out.of
}

// foldedLanes weighs them.
func (t *screenText) foldedLanes(b textCells, still float64, add func(f patterns.Fault, share, like float64, why ...string)) {
	colours := b.sameInks()
	for _, f := range foldsOf(t.e.Profile) {
		if f.lanes != 1 || !f.screen { // for all eight at once
			continue
		}
		k, ok := b.foldedLane(f)
		if !ok {
			continue
		}
		looks := [2][8][2]float64{b.looks(k.sides[0], true), b.looks(k.sides[1], true)}
		for bit := range 8 {
			fault := f.fault
			fault.Lanes = []int{bit}
			way := nats.LogSum(looks[0][bit][0]+looks[1][bit][1], looks[0][bit][1]+looks[1][bit][0]) - math.Ln2
			add(fault, f.share, k.like+colours+still+way,
				fmt.Sprintf("%d of the %d cells show one definite other character each that have another character at the address that differs in line %s, and hardly any others do",
					k.cells, k.of, patterns.List(f.fault.Lines)))
		}
	}
}
