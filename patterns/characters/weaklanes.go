package characters

import (
	"fmt"
	"maps"
	"math"
	"slices"

	"backporch/patterns/nats"
)

// Lanes of a Text display's memories that are wrong here and there, or decayed, without a reference.

// Rates of a weak lane that are tried.
var weakRates = []float64{0, 0.02, 0.05, 0.1, 0.2, 0.4, 0.7}

// weak is the log-likelihood ratio of a lane that is wrong at some addresses or times, that of what moves included.
func (t *screenText) weak(memory string, bit int) (like float64, why []string) {
	moving, said := t.time.weak(memory, bit)
	if said != "" {
		why = append(why, said)
	}
	if memory == "colour" || !t.page.fits || t.page.different() < 2 {
		return moving - math.Log(2), why
	}
	font, stands := t.page.font, t.page.counts()
	var each []float64
	for level := range 2 {
		for _, rate := range weakRates {
			sum := 0.0
			doubles := map[int]float64{} // by code that another one looks like
			for i, g := range t.gain {
				c := t.page.code[i]
				switch {
				case c < 0:
				case c>>bit&1 != level:
					sum += math.Log(1 - rate)
				case g[bit] > 0 && font.first[c^1<<bit] != c^1<<bit:
					full := math.Min(oneCell, math.Log1p(math.Expm1(g[bit])/font.part[c^1<<bit]))
					doubles[c^1<<bit] += math.Log(1 - rate + rate*math.Exp(full))
				default:
					sum += math.Log(1 - rate + rate*math.Exp(g[bit]))
				}
			}
			// Of codes with one picture a screen has the one or the other: then it has failed in some of all the cells that show it.
			for _, code := range slices.Sorted(maps.Keys(doubles)) {
				part := font.part[code]
				sum += nats.LogSum(math.Log1p(-part), math.Log(part)+doubles[code]+float64(stands[font.first[code]])*math.Log(1-rate))
			}
			each = append(each, sum)
		}
	}
	odd := 0
	for _, g := range t.gain {
		if g[bit] > oneCell/2 {
			odd++
		}
	}
	if odd > 0 {
		why = append(why, fmt.Sprintf("%d cells show a character that hardly stands there and is a likely one with bit %d of its code changed", odd, bit))
	}
	like = nats.LogSum(each...) - math.Log(float64(len(each)))
	if odds, n := t.strewn(bit); odds > like {
		if like = odds; n > 0 {
			why = append(why, fmt.Sprintf("%d cells all over the screen show what the space does with bit %d of its code changed, and others what the rest of the text does", n, bit))
		}
	}
	if odds, n, sorts := t.mingled(bit); odds > like {
		like, why = odds, append(why, fmt.Sprintf("%d cells show one of %d sorts of characters that differ in bit %d alone from what stands in their place elsewhere", n, sorts, bit))
	}
	return like + moving, why
}

// mingled is the same of a lane that leaves the space as it is: what is written stands in two kinds all over, each character beside the one that the lane makes of it,
// and in one without it. Letters in both cases, and pictures with two forms, are written so, but by a rule, or for one or two sorts of them.
func (t *screenText) mingled(bit int) (odds float64, n, sorts int) {
	p := t.page
	level := p.font.stands[' '] >> bit & 1
	figure := func(code int) bool { return p.font.means[code] >= '0' && p.font.means[code] <= '9' }
	failed := func(i int) bool { // of figures one may stand as well as another
		c := p.code[i]
		return c >= 0 && !p.blank[i] && c>>bit&1 == level && !(figure(c) && figure(c^1<<bit))
	}
	turned := map[int]bool{}
	if odds, n = t.undone(bit, level, failed, turned); len(turned) < fewGlyphs {
		return 0, 0, 0
	}
	// That a writer also has another character, be it but once, is no more than that one is new.
	return odds - anotherSort*float64(len(turned)), n, len(turned)
}

// anotherSort is what it takes to write a character, any of 256, that did not stand on the screen before, nats.
const anotherSort = 5.5

// strewn is the log-likelihood ratio of a lane that fails in so many cells that what it makes of the space stands all over the screen, between spaces:
// what is written is then what stands there without it. Blocks and bars are drawn so.
func (t *screenText) strewn(bit int) (odds float64, n int) {
	p := t.page
	space := p.font.stands[' ']
	level := 1 - space>>bit&1
	shows := p.font.first[space^1<<bit]
	stands := p.counts()
	if rows := p.font.rows[shows]; shows == p.space || barred(rows) || stands[shows] < len(p.shape)/20 || stands[p.space] == 0 || p.different() < fewGlyphs {
		return 0, 0
	}
	return t.undone(bit, level, func(i int) bool { return p.code[i] >= 0 && p.code[i]>>bit&1 == level }, nil)
}

// undone is the log-likelihood ratio of a lane that reads level in cells that failed tells of, of which those are turned back whose text is likelier so: n of them; sorts takes
// what they show.
func (t *screenText) undone(bit, level int, failed func(i int) bool, sorts map[int]bool) (odds float64, n int) {
	p := t.page
	like, full, n := p.rewritten(failed, func(shape int) int {
		if shape > 255 {
			return shape
		}
		return p.font.first[force(shape, bit, 1-level)]
	}, sorts)
	of := n
	for _, c := range p.code {
		if c >= 0 && c>>bit&1 != level {
			of++
		}
	}
	_, plain, _ := p.rewritten(func(int) bool { return false }, nil, nil)
	choices := nats.BetaSequence(n, of, 0.5, 3)
	// What follows what stands beside it is no chance: figures and marks in a table stand between spaces too.
	return math.Min(like+choices+halfExpected(n, of)-t.codes, full+choices-plain), n
}

// decayed is the log-likelihood ratio of a lane whose bits have fallen to one level in some rows of the chip more than in others.
func (t *screenText) decayed(bit int) float64 {
	if !t.page.fits || t.page.different() < 2 {
		return 0
	}
	best := math.Inf(-1)
	for level := range 2 {
		rows := map[int]*[6]float64{}
		for i, g := range t.gain {
			c := t.page.code[i]
			if c < 0 {
				continue
			}
			row, _ := t.e.Profile.ChipAddress(i)
			if rows[row] == nil {
				rows[row] = &[6]float64{}
			}
			for k, rate := range decayRates {
				if c>>bit&1 == level {
					rows[row][k] += math.Log(1 - rate + rate*math.Exp(g[bit]))
				} else {
					rows[row][k] += math.Log(1 - rate)
				}
			}
		}
		sum := 0.0
		for _, row := range slices.Sorted(maps.Keys(rows)) {
			sum += nats.LogSum(rows[row][:]...) - math.Log(float64(len(decayRates)))
		}
		best = math.Max(best, sum)
	}
	return best - math.Ln2
}

// decayRates are the parts of a chip's row that may have decayed.
var decayRates = [6]float64{0, 0.1, 0.3, 0.5, 0.7, 0.9}
