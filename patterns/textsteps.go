package patterns

import (
	"fmt"
	"math"
	"math/bits"

	"backporch/analyse"
)

// Cells of a Text display that change once and stay so.

// forGood tells of a cell that goes from one picture to the next and never back, but for fields about the change that were misread.
func (c *changed) forGood() bool {
	if c.Of < enoughTime || c.Pictures > fewPictures || c.Turns > c.Pictures+1 {
		return false
	}
	off := c.offStep()
	return c.Turns == c.Pictures-1 || off*misreadSteps <= c.Of && min(len(c.In), c.Of-len(c.In)) > 3*off
}

// offStep is how many fields go against the step at which they fit best.
func (c *changed) offStep() int {
	before := make([]int, c.Of+1) // fields of the other picture before each
	for _, k := range c.In {
		if k < c.Of {
			before[k+1]++
		}
	}
	for k := range c.Of {
		before[k+1] += before[k]
	}
	all, least := before[c.Of], c.Of
	for k, n := range before {
		late := n + (c.Of - k) - (all - n) // wrong where the other picture is the later one
		least = min(least, late, c.Of-late)
	}
	return least
}

// misreadSteps: of so many fields one may go against a step. Common practice, no source.
const misreadSteps = 16

// fewPictures are as many as the bits of a cell that decay one after the other make in a second or two.
const fewPictures = 5

// order gives the shapes of a cell that changes once, the earlier first; most is the commoner one.
func (c *changed) order(most int) (early, late int) {
	if c.In[0] == 0 {
		return c.shows, most
	}
	return most, c.shows
}

// strangeDecay makes what shows after a change, where the codes are not known, as dear as a program's writing unless it follows from
// what stood there. Common practice, no source.
const strangeDecay = 2.0

// refresh is the log-likelihood of bits that decay: each changes once, to its lane's level. lane is -1 for all.
func (r *restless) refresh(lane int) (like float64, why string) {
	var to [8][2]int // by lane: changes to 0 and to 1
	cost, once := 0.0, 0
	became := map[int]*words{} // where the codes are not known: a few bits make few characters of each
	for i := range r.changes {
		c := &r.changes[i]
		if lane < 0 && !r.words.fits && c.forGood() {
			early, late := c.order(r.words.shape[c.At])
			if became[early] == nil {
				became[early] = &words{}
			}
			cost += laneAlone + strangeDecay*became[early].cost(late, 1.0/256)
			once++
			continue
		}
		if c.lane < 0 || lane >= 0 && c.alone>>lane&1 == 0 {
			cost += c.plainly() + 1
			continue
		}
		if c.forGood() {
			once++
		} else {
			cost += manyTurns
		}
		late := c.now
		if c.In[len(c.In)-1] != c.Of-1 { // the commoner picture is the later one
			late = c.was
		}
		for b := range 8 {
			if lane < 0 && c.lane>>b&1 == 1 || b == lane {
				to[b][late>>b&1]++
			}
		}
		cost += laneAlone
		if lane < 0 {
			cost += math.Ln2 * float64(bits.OnesCount(uint(c.lane)))
		}
	}
	for _, n := range to {
		cost += 3 * float64(min(n[0], n[1]))
	}
	if once < 2 {
		return math.Inf(-1), ""
	}
	like = r.bounded(-cost) + r.order
	if !r.words.fits { // what a program writes once stays as well
		like -= math.Max(0, r.order)
	}
	return like, fmt.Sprintf("%d cells change once and for good while one looks: their bits decay", once)
}

// inUnison is how cells move that all do so in the same fields, as with a lane that fails as a whole: so many cells turn no surer by chance
// than one. Where they do not it is how all move, as given.
func inUnison(list []analyse.Change, all *analyse.Motion) *analyse.Motion {
	if len(list) < leastMovingCells || all == nil {
		return all
	}
	first, n := list[len(list)/2], 0
	in := make([]bool, first.Of+1)
	for _, k := range first.In {
		in[min(k, first.Of)] = true
	}
	for i := range list {
		apart := len(first.In)
		for _, k := range list[i].In {
			if in[min(k, first.Of)] {
				apart--
			} else {
				apart++
			}
		}
		if apart = min(apart, first.Of-apart); apart*misreadSteps <= first.Of {
			n++
		}
	}
	if float64(n) < mostlyPaired*float64(len(list)) {
		return all
	}
	k, of := float64(len(first.In)), float64(first.Of)
	return &analyse.Motion{Flips: first.Turns, Chance: 2 * k * (of - k) / of}
}
